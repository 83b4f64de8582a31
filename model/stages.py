"""One machine with one board type and one fluid: every stage of the job judged, in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType, FluxKind
from catalog_schema.fluids import Fluid
from catalog_schema.machine import Machine
from model.bath_drive import bath_drive
from model.context import Context, Washed
from model.fluid_state import FluidState, dissolves, fluid_state
from model.input_errors import UnphysicalInputError
from model.machine_inputs import MachineInputs, MissingInputError
from model.phrase import phrase
from model.requirements import Judged, Subject, Thresholds, about, judge_fact, judge_number
from model.spray_drive import (
    TRACED_BOARDS,
    LoadFit,
    SprayPump,
    run_out_m,
    spray_geometry,
    spray_pump,
    traced_size_m,
)
from model.uncertainty import FloatArray, low_middle_high, lower_of, median
from model.wash import BathDrive, SprayDrive, WashOutcome, reach_ratios, run_out_nodes_m, spray_field
from model.wash_course import SoiledBoards, wash_outcomes


@dataclass(frozen=True, slots=True, kw_only=True)
class WashStage:
    """The wash of one board type in one machine with one fluid."""

    judged: tuple[Judged, ...]
    """Musts of the wash."""
    state: FluidState
    """The fluid at wash temperature."""
    outcome: WashOutcome | None
    """Clearing, or None when it cannot be computed."""
    max_time_s: FloatArray | None
    """s, longest wash the machine allows, shape (draws,)"""
    pump: SprayPump | None
    """Operating point of a spraying machine."""
    drive: SprayDrive | BathDrive | None
    """What pushes the fluid under the components."""
    reach_ratio: FloatArray | None = None
    """Depth cleared in the longest wash over the depth needed, the least over the component kinds, shape (draws,)"""


def longest_wash_s(inputs: MachineInputs) -> FloatArray | None:
    """Longest wash time the controls or the belt allow, s.

    Notes
    -----
    Batch: as stated. Belt: length of the wash zone ÷ slowest belt speed.
    """
    stated = inputs.draws("wash.max_time")
    zone, speed = inputs.draws("chamber.wash_zone_length"), inputs.draws("chamber.belt_min_speed")
    if inputs.machine.moving == "inline" and zone is not None and speed is not None:
        if np.any(speed <= 0):
            raise UnphysicalInputError(f"{inputs.machine.name}: the belt's lowest speed is 0. Give a speed above 0.")
        fastest = inputs.draws("chamber.belt_max_speed")
        if fastest is not None and median(fastest) < median(speed):
            raise UnphysicalInputError(
                f"{inputs.machine.name}: the belt's highest speed is below its lowest. Give the lower one as lowest."
            )
        on_belt: FloatArray = zone / speed
        return on_belt
    return stated


def wash_temperature_K(context: Context, board: BoardType, fluid: Fluid) -> FloatArray:
    """Temperature at which machine, fluid and board allow to wash, K.

    Notes
    -----
    T = min(highest of the machine, highest of the fluid, highest of the board).
    """
    name = f"wash of {board.id} with {fluid.id}"
    if name not in context.figures:
        allowed_K = lower_of(context.inputs.needed("wash.temperature"), context.of_fluid(fluid, "max_temperature"))
        context.figures[name] = lower_of(allowed_K, context.of_board(board, "max_temperature"))
    return context.figures[name]


def _state(context: Context, fluid: Fluid, temperature_K: FloatArray) -> FluidState:
    """Bring a fluid to a temperature, once for all board types that it meets at the same."""
    for known in context.states.get(fluid.id, ()):
        if known.temperature_K is temperature_K:
            return known
    state = fluid_state(fluid, temperature_K, context.inputs.book)
    context.states.setdefault(fluid.id, []).append(state)
    return state


def _spray(context: Context, board: BoardType, state: FluidState, fit: LoadFit) -> tuple[SprayDrive, SprayPump]:
    inputs = context.inputs
    constant = context.constant
    if state.fluid.id not in context.pumps:
        # Of the fluid only its density counts, which is the same under every board type.
        context.pumps[state.fluid.id] = spray_pump(inputs, state)
    pump = context.pumps[state.fluid.id]
    clear = context.of_board(board, "clear_distance")
    run_outs = run_out_m(inputs, pump, state, constant("useful_film_speed"), clear)
    restitution = constant("restitution")
    nominal = max(median(restitution), 1e-6)
    nodes = run_out_nodes_m(run_outs)
    # Board types are traced at preferred sizes, and few of a full rack: many have one geometry.
    traced = (
        traced_size_m(board.length.si()[1]), traced_size_m(board.width.si()[1]),
        min(TRACED_BOARDS, fit.boards_per_load),
    )  # fmt: skip
    if traced not in context.geometries:
        drag = median(constant("drop_drag_coefficient"))
        context.geometries[traced] = spray_geometry(inputs, board, fit, drag)
    geometry = context.geometries[traced]
    drop = median(constant("worst_cell_drop_share"))
    # Board types of the same traced size and populated sides share what is computed at a run-out, and all of it where
    # their run-outs lie between the same nodes.
    key = geometry, board.populated_sides, nominal, drop
    named = key, nodes.tobytes()
    if named not in context.fields:
        known = context.duties.setdefault(key, {})
        context.fields[named] = spray_field(context.trace_of(geometry), board, nodes, nominal, drop, known)
    drive = SprayDrive(
        field=context.fields[named], nozzle_pressure_Pa=np.asarray(pump.loaded.nozzle_pressure_Pa),
        conversion=constant("stream_pressure_conversion"), restitution=restitution, run_out_m=run_outs,
        boards_stand=inputs.machine.moving != "inline" and not inputs.flag("chamber.boards_lie_flat"),
    )  # fmt: skip
    return drive, pump


def _drive(context: Context, board: BoardType, state: FluidState,
           fit: LoadFit) -> tuple[SprayDrive | BathDrive, SprayPump | None]:  # fmt: skip
    if context.machine.principle == "spray in air":
        return _spray(context, board, state, fit)
    drop = median(context.constant("worst_cell_drop_share"))
    return BathDrive(drive=bath_drive(context.inputs, board, state, context.library), excluded_share=drop), None


@dataclass(frozen=True, slots=True, kw_only=True)
class WashLoad:
    """Boards of one type that are to be washed with one fluid."""

    board: BoardType
    """The board type."""
    flux: FluxKind
    """What is on it."""
    fluid: Fluid
    """The fluid."""
    fit: LoadFit
    """How many boards the machine holds."""


def wash_boards(context: Context, loads: Sequence[WashLoad]) -> dict[tuple[str, str], Washed]:
    """Wash boards of several types with several fluids in one machine, each load for itself.

    Parameters
    ----------
    context : Context
    loads : sequence of WashLoad

    Returns
    -------
    dict of Washed
        By board type and fluid; the same for each whatever others are washed with it. Fluids that do not dissolve the
        residue are left out.

    Raises
    ------
    MissingInputError, ValueError
        When an input of the machine is missing, or one of any load contradicts itself.
    """
    soiled: dict[tuple[str, str], SoiledBoards] = {}
    pumps: dict[tuple[str, str], SprayPump | None] = {}
    for load in loads:
        if dissolves(load.fluid, load.flux.family):
            key = load.board.id, load.fluid.id
            state = _state(context, load.fluid, wash_temperature_K(context, load.board, load.fluid))
            drive, pumps[key] = _drive(context, load.board, state, load.fit)
            soiled[key] = SoiledBoards(board=load.board, flux=load.flux, drive=drive, state=state)
    outcomes = wash_outcomes(list(soiled.values()), context.library, context.inputs.book, context.of_boards)
    max_time = longest_wash_s(context.inputs)
    reached: Sequence[FloatArray | None] = [None] * len(outcomes)
    if max_time is not None:
        reached = reach_ratios([outcome.kinds for outcome in outcomes], max_time)
    return {
        key: Washed(drive=one.drive, pump=pumps[key], outcome=outcome, reach_ratio=reach)
        for (key, one), outcome, reach in zip(soiled.items(), outcomes, reached, strict=True)
    }


def wash_stage(context: Context, load: WashLoad) -> WashStage:
    """Judge the wash: temperature, dissolving, entering the tightest gap, clearing in time.

    What `model.board_process` has washed together with other board types is taken from there.

    Raises
    ------
    MissingInputError, ValueError
        When an input is missing or contradicts itself; said by the caller as a finding.

    Notes
    -----
    Warm enough: wash temperature ≥ lowest of the fluid. Dissolves: the fluid has a capacity for the residue's family.
    Enters: greatest pressure at the worst place ≥ entry pressure of the tightest gap. Clears: needed time ≤ longest
    wash.
    """
    inputs, thresholds = context.inputs, context.thresholds
    board, flux, fluid = load.board, load.flux, load.fluid
    subject = Subject(machine_id=context.machine.id, board_id=board.id, fluid_id=fluid.id)
    temperature = wash_temperature_K(context, board, fluid)
    state = _state(context, fluid, temperature)
    warm = about(_warm(context, state), subject)
    max_time = longest_wash_s(inputs)
    if not dissolves(fluid, flux.family):
        never = judge_fact(
            subject, "dissolve", "Dissolves the residue", "wash", holds=False, draws=context.draws,
            sentence=phrase("{fluid} does not dissolve {family} residue ({flux}), so no wash is long enough.",
                            fluid=fluid.name, family=flux.family, flux=flux.name),
        )  # fmt: skip
        return WashStage(judged=(warm, never), state=state, outcome=None, max_time_s=max_time, pump=None, drive=None)
    dissolving = about(_dissolving(context, fluid, flux), subject)
    if (board.id, fluid.id) not in context.washed:
        context.washed.update(wash_boards(context, [load]))
    washed = context.washed[board.id, fluid.id]
    outcome = washed.outcome
    judged = [warm, dissolving, _enter(subject, outcome, fluid, thresholds)]
    if max_time is None:
        judged.append(
            judge_fact(
                subject, "clear", "Clears under the tightest component in time", "wash", holds=None,
                draws=context.draws,
                sentence=phrase("The longest wash this machine allows is not known. Ask the supplier."),
            )
        )  # fmt: skip
    else:
        judged.append(_clear(subject, context.machine, outcome, max_time, thresholds))
    return WashStage(
        judged=tuple(judged), state=state, outcome=outcome, max_time_s=max_time, pump=washed.pump, drive=washed.drive,
        reach_ratio=washed.reach_ratio,
    )  # fmt: skip


def _warm(context: Context, state: FluidState) -> Judged:
    """Judge the wash temperature against the fluid's lowest, once for all board types washed at the same."""
    fluid, name = state.fluid, f"warm enough for {state.fluid.id} {id(state)}"
    if name not in context.judged:
        lowest = context.of_fluid(fluid, "min_temperature")
        context.judged[name] = judge_number(
            Subject(machine_id=context.machine.id, fluid_id=fluid.id), "temperature", "Works at the wash temperature",
            "wash", measure=state.temperature_K, limit=lowest, direction="at least", dimension="temperature",
            thresholds=context.thresholds,
            sentence=phrase(
                "{fluid} washes at {reached} here; it needs at least {least}.", fluid=fluid.name,
                reached=(median(state.temperature_K), "temperature"), least=(median(lowest), "temperature"),
            ),
        )  # fmt: skip
    return context.judged[name]


def _dissolving(context: Context, fluid: Fluid, flux: FluxKind) -> Judged:
    """Say that a fluid dissolves a residue, once for all board types that have it."""
    name = f"{fluid.id} dissolves {flux.id}"
    if name not in context.judged:
        context.judged[name] = judge_fact(
            Subject(machine_id=context.machine.id, fluid_id=fluid.id), "dissolve", "Dissolves the residue", "wash",
            holds=True, draws=context.draws,
            sentence=phrase("{fluid} dissolves {family} residue ({flux}).", fluid=fluid.name, family=flux.family,
                            flux=flux.name),
        )  # fmt: skip
    return context.judged[name]


def _enter(subject: Subject, outcome: WashOutcome, fluid: Fluid, thresholds: Thresholds) -> Judged:
    hardest = max(outcome.kinds, key=lambda kind: median(kind.entry_pressure_Pa - kind.peak_pressure_Pa))
    entry, peak = hardest.entry_pressure_Pa, hardest.peak_pressure_Pa
    if median(entry) <= 0.0:
        template = "{fluid} is drawn into the {gap} gap under {kind} by itself."
    else:
        template = "{fluid} needs {entry} to enter the {gap} gap under {kind}; the worst place gets {peak}."
    return judge_number(
        subject, "enter", "Gets in under the tightest component", "wash",
        # Equality counts as entering only where nothing holds the fluid back.
        measure=np.where(entry <= 0.0, np.maximum(peak, 1.0), peak), limit=np.where(entry <= 0.0, 0.0, entry),
        direction="at least", dimension="low pressure", thresholds=thresholds,
        sentence=phrase(
            template, fluid=fluid.name, kind=hardest.kind.name, gap=(median(hardest.gap_m), "gap"),
            entry=(median(entry), "low pressure"), peak=(median(peak), "low pressure"),
        ),
    )  # fmt: skip


def _clear(subject: Subject, machine: Machine, outcome: WashOutcome, max_time: FloatArray,
           thresholds: Thresholds) -> Judged:  # fmt: skip
    hardest = outcome.kinds[0]
    low, middle, high = low_middle_high(outcome.needed_time_s)
    if np.isinf(middle):
        template = (
            "The residue under {kind} is never cleared at the worst place of the board; {machine} allows {limit}."
        )
    else:
        template = (
            "Needs {middle} ({low} to {high}) of wash to clear {depth} under {kind} at the worst place; "
            "{machine} allows {limit}."
        )
    return judge_number(
        subject, "clear", "Clears under the tightest component in time", "wash", measure=outcome.needed_time_s,
        limit=max_time, direction="at most", dimension="time", thresholds=thresholds,
        sentence=phrase(
            template, kind=hardest.kind.name, machine=machine.name, middle=(middle, "time"), low=(low, "time"),
            high=(high, "time"), depth=(median(hardest.depth_needed_m), "length"),
            limit=(median(max_time), "time"),
        ),
    )  # fmt: skip


def fit_requirement(context: Context, board: BoardType, fit: LoadFit) -> Judged:
    """Judge whether the board fits the rack, chamber or belt."""
    return judge_fact(
        Subject(machine_id=context.machine.id, board_id=board.id), "fit", "Board fits", "fit",
        holds=fit.boards_per_load > 0, draws=context.draws, sentence=phrase(fit.sentence),
    )  # fmt: skip


def input_problem(context: Context, board_id: str, fluid_id: str, problem: MissingInputError | ValueError) -> Judged:
    """Say a missing or contradictory input as a finding that leaves the result unknown."""
    return judge_fact(
        Subject(machine_id=context.machine.id, board_id=board_id, fluid_id=fluid_id), "inputs", "Inputs suffice",
        "fit", holds=None, draws=context.draws, sentence=phrase("{problem}", problem=str(problem)),
    )  # fmt: skip
