"""The seven measures of the job, per machine and board type and draw, before anyone says what they are worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.fluids import Fluid
from catalog_schema.priorities import CRITERIA
from catalog_schema.quantity import Quantity
from model.clearing import soak_depth_m
from model.dry_stage import DryStage
from model.drying_fluid import GAS_CONSTANT_J_mol_K
from model.evaluate import Evaluation
from model.gap import gap_exchange_m_s
from model.outcomes import BoardOutcome, MachineOutcome
from model.pump import npsh_available_m
from model.stages import WashStage
from model.uncertainty import FloatArray, Input, InputBook
from model.wash import KindClearing
from model.wetted_parts import MaterialOutcome

ALL_DRAWS = slice(None)

SECANT_STEPS = 7
"""Steps to the pressure that a gap needs: its exchange is smooth and concave in log-log, so seven leave below 0.1 %."""

SLOPE_RANGE = (0.15, 1.0)
"""Powers of pressure that the exchange of a gap can follow: 1/3 to 1, less where inertia chokes a tall gap."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """Raw measures of the machines asked for; nothing in it depends on anybody's priorities."""

    machine_ids: tuple[str, ...]
    """Machines, in the order of the evaluation."""
    board_ids: tuple[str, ...]
    """Board types."""
    board_share: FloatArray
    """Share of the yearly volume, shape (boards,)"""
    by_board: FloatArray
    """Measure in its own unit, shape (draws, machines, the seven criteria, boards); NaN where nobody knows."""
    inputs: tuple[tuple[Input, ...], ...]
    """Per machine, quantities read here besides those of the evaluation (suction side of the pump)."""
    columns: tuple[dict[str, FloatArray], ...]
    """Per machine, draws of those of them that vary, by path."""


def measures_of(evaluation: Evaluation, machines: tuple[MachineOutcome, ...]) -> Measures:
    """Reduce an evaluation to the seven measures of the wanted machines.

    Parameters
    ----------
    evaluation : Evaluation
    machines : tuple of MachineOutcome
        Machines of that evaluation.

    Returns
    -------
    Measures

    Notes
    -----
    | criterion | measure | unit |
    |---|---|---|
    | spray reach | cleared depth at the worst place in the longest wash ÷ depth needed, hardest component kind | 1 |
    | pump reserve | see `pressure_reserve` and `suction_reserve`; the smaller of the two | 1 |
    | wetted-material compatibility | share of wetted parts that stand the fluid, priced replacements counted | 1 |
    | drying | longest drying ÷ drying needed, gaps included; where the laminate still needs a bake, that is added | 1 |
    | ESD racking | decades inside the resistance limits | decades |
    | traceability | weighted share of the functions present | 1 |
    | cost of ownership | equivalent annual cost | plant currency per year |

    Each with the fluid chosen for the board type. A service that does not say how it washes has no known measure but
    traceability and cost. Leaving boards uncleaned reaches nothing and needs no pump, wets and dries nothing.
    """
    boards = evaluation.case.board_types
    volumes = np.array([board.volume.si()[1] for board in boards], dtype=np.float64)
    total = float(volumes.sum())
    share = volumes / total if total > 0 else np.full(volumes.size, 1.0 / max(volumes.size, 1))
    found = np.full((evaluation.draws, len(machines), len(CRITERIA), len(boards)), np.nan)
    inputs: list[tuple[Input, ...]] = []
    columns: list[dict[str, FloatArray]] = []
    for row, outcome in enumerate(machines):
        book = InputBook(evaluation.draws, evaluation.seed)
        for column, board in enumerate(boards):
            _fill(found[:, row, :, column], evaluation, outcome, outcome.board(board.id), book)
        inputs.append(book.inputs())
        columns.append(book.uncertain_columns())
    return Measures(
        machine_ids=tuple(outcome.machine.id for outcome in machines), board_ids=tuple(board.id for board in boards),
        board_share=share, by_board=found, inputs=tuple(inputs), columns=tuple(columns),
    )  # fmt: skip


def _fill(cell: FloatArray, evaluation: Evaluation, outcome: MachineOutcome, board: BoardOutcome,
          book: InputBook) -> None:  # fmt: skip
    """Write one machine's and board type's measures into cell, shape (draws, the seven criteria)."""
    chosen = board.chosen
    found: dict[str, FloatArray | float | None] = dict.fromkeys(CRITERIA)
    if outcome.machine.principle == "none":
        found |= {"spray_reach": 0.0, "pump_reserve": 0.0, "material_compatibility": 1.0, "drying": np.inf}
    wash = chosen.wash
    if wash is not None and wash.outcome is None:
        # A fluid that does not dissolve the residue clears nothing, whatever the pressure.
        found |= {"spray_reach": 0.0, "pump_reserve": 0.0}
    if wash is not None and wash.outcome is not None and wash.max_time_s is not None:
        found["spray_reach"] = wash.reach_ratio
        reserve = pressure_reserve(wash, wash.outcome.kinds[0], wash.max_time_s)
        suction = suction_reserve(evaluation, outcome, wash, book)
        found["pump_reserve"] = reserve if suction is None else np.minimum(reserve, suction)
    if chosen.materials is not None:
        found["material_compatibility"] = _compatible_share(chosen.materials)
    if chosen.dry is not None:
        found["drying"] = drying_ratio(chosen.dry)
    if board.esd is not None:
        found["esd_racking"] = board.esd.margin_decades
    if outcome.traceability is not None:
        found["traceability"] = outcome.traceability.share
    found["cost_of_ownership"] = annual_cost(outcome)
    for position, value in enumerate(found.values()):
        if value is not None:
            cell[:, position] = value


def annual_cost(outcome: MachineOutcome) -> FloatArray | None:
    """Equivalent annual cost in the plant's currency per year, shape (draws,); None where it is not known."""
    return None if outcome.cost is None else outcome.cost.equivalent_annual_cost


def drying_ratio(dry: DryStage) -> FloatArray | None:
    """Drying time allowed over drying and bake needed, shape (draws,); None where the longest is not known."""
    if dry.max_time_s is None:
        return None
    needed = dry.needed_time_s
    if dry.bake is not None:
        needed = needed + np.asarray(dry.bake.time_s, dtype=np.float64)
    return np.where(needed > 0.0, dry.max_time_s / np.where(needed > 0.0, needed, 1.0), np.inf)


def _compatible_share(materials: MaterialOutcome) -> FloatArray | None:
    measure = materials.measure_with_upgrade or materials.measure
    return None if measure is None else measure.share


def pressure_reserve(wash: WashStage, kind: KindClearing, max_time_s: FloatArray) -> FloatArray:
    """How many times the pressure across a gap exceeds the one at which the wash just ends in time.

    Parameters
    ----------
    wash : WashStage
        With its drive.
    kind : KindClearing
        The component kind that needs longest.
    max_time_s : ndarray (draws,)
        s, longest wash.

    Returns
    -------
    ndarray (draws,)
        Above 1 is reserve; infinite where standing fluid alone is enough.

    Notes
    -----
    Needed front speed v_n = (x − a√t)/t against the speed reached v. The exchange of the gap at its time-mean
    pressure p is E(p) (`gap_exchange_m_s`); the pressure needed solves E(p_n) = E(p)·v_n/v, and the reserve is p/p_n.
    Exact for a drive of one pressure; under spray, where every place sees many pressures, the time mean stands for
    them, the head of the fluid in the gap counts as pressure, and the film run-out is held: a monotone stand-in, not
    an operating limit of the pump. Where surface tension bars the gap the greatest pressure over the entry pressure
    is the limit instead, if it is smaller.
    """
    drive = wash.drive
    assert drive is not None  # an outcome always has a drive
    pressure = np.asarray(drive.mean_pressure_Pa(kind.gap, ALL_DRAWS), dtype=np.float64)
    lacking = np.maximum(kind.depth_needed_m - np.asarray(soak_depth_m(max_time_s, kind.soak_m_s05)), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.where(max_time_s > 0.0, lacking / max_time_s, np.inf)
        share = np.where(needed <= 0.0, 0.0, np.where(kind.speed_m_s > 0.0, needed / kind.speed_m_s, np.inf))
    solvable = (share > 0.0) & np.isfinite(share) & (pressure > 0.0)
    aim = np.log(np.where(solvable, share, 1.0))
    base = np.where(pressure > 0.0, pressure, 1.0)
    start = np.log(np.asarray(gap_exchange_m_s(base, kind.gap)))
    place, slope = np.zeros_like(aim), np.full_like(aim, 0.5)
    reached = np.zeros_like(aim)
    for _ in range(SECANT_STEPS):
        # Held within 1e±6 of the present pressure: beyond it the reserve says "far more" or "far less" anyway.
        following = np.clip(place + (aim - reached) / slope, -13.8, 13.8)
        exchange = np.log(np.asarray(gap_exchange_m_s(base * np.exp(following), kind.gap))) - start
        step = following - place
        slope = np.where(np.abs(step) > 1e-9, (exchange - reached) / np.where(step == 0.0, 1.0, step), slope)
        slope = np.clip(slope, *SLOPE_RANGE)
        place, reached = following, exchange
    reserve = np.where(solvable, np.exp(-place), np.where(share <= 0.0, np.inf, 0.0))
    barred = kind.entry_pressure_Pa > 0.0
    entry = np.where(barred, kind.peak_pressure_Pa / np.where(barred, kind.entry_pressure_Pa, 1.0), np.inf)
    return np.asarray(np.minimum(reserve, entry))


def suction_reserve(evaluation: Evaluation, outcome: MachineOutcome, wash: WashStage,
                    book: InputBook) -> FloatArray | None:  # fmt: skip
    """Suction head available over the head the pump requires (NPSH), hot; None where the machine has no spray pump.

    Notes
    -----
    NPSH available from `model.pump.npsh_available_m` with vapour pressure and density at wash temperature: water's own
    for water-based fluids, else ln p = ln p_ref + (L M/R)(1/T_ref − 1/T) from the fluid's latent heat (Clausius and
    Clapeyron). Friction in the suction line is neglected: no offer states it. Below 0 counts as 0.
    """
    machine = outcome.machine
    spray = machine.equipment.spray
    if wash.pump is None or spray.suction_head is None or spray.npsh_required is None:
        return None
    group = "candidates" if machine.is_candidate else "machine_classes"

    def take(name: str, quantity: Quantity) -> FloatArray:
        stated = machine.is_stated(f"spray.{name}") or not machine.is_candidate
        path = f"{group}[{machine.id}].spray.{name}"
        return book.take(quantity, path, "stated" if stated else "engineering estimate", stated=stated)

    suction, required = take("suction_head", spray.suction_head), take("npsh_required", spray.npsh_required)
    pressure = book.take(evaluation.case.plant.air_pressure, "plant.air_pressure", "measured")
    state = wash.state
    vapour = None if state.fluid.water_based else solvent_vapour_pressure_Pa(state.fluid, state.temperature_K)
    available = npsh_available_m(
        pressure, state.temperature_K, suction, 0.0, density_kg_m3=state.density_kg_m3, vapour_pressure_Pa=vapour
    )
    ample = required > 0.0
    return np.where(ample, np.maximum(available, 0.0) / np.where(ample, required, 1.0), np.inf)


def solvent_vapour_pressure_Pa(fluid: Fluid, temperature_K: FloatArray) -> FloatArray:
    """Vapour pressure of a fluid at a temperature from its reference point and latent heat, likely values, Pa."""
    reference = {name: getattr(fluid, name).si()[1]
                 for name in ("vapour_pressure", "latent_heat", "molar_mass", "reference_temperature")}  # fmt: skip
    slope_K = reference["latent_heat"] * reference["molar_mass"] / GAS_CONSTANT_J_mol_K
    exponent = slope_K * (1.0 / reference["reference_temperature"] - 1.0 / temperature_K)
    return np.asarray(reference["vapour_pressure"] * np.exp(exponent))
