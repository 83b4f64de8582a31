"""Drying of one board type in one machine: film, water under components, laminate, and what limits it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType, ComponentKind
from catalog_schema.fluids import Fluid
from model.air_transfer import stream_transfer_m_s
from model.context import Context, Dried, LaminateState
from model.drying import DryingLoad, HotAirDryer, dry_time_needed
from model.drying_fluid import DryingFluid, GAS_CONSTANT_J_mol_K, solvent_for_drying, water_for_drying
from model.laminate import BakeSuggestion, Laminate, bake_suggestion, drying_time_s, moisture_after
from model.machine_inputs import MissingInputError
from model.moist_air import humidity_ratio, moist_air_density_kg_m3
from model.passive_drying import StandingChamber, passive_dry_outcome
from model.phrase import phrase
from model.requirements import Judged, Subject, judge_fact, judge_number
from model.rinse_stage import RinseStage, board_area_m2
from model.uncertainty import FloatArray, low_middle_high, median
from model.vacuum_drying import vacuum_drying

SOLVENT_DIFFUSIVITY_EXPONENT = 1.75
"""Power of absolute temperature in gas diffusivities (Fuller and others, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DryStage:
    """Drying of a load, per draw."""

    judged: tuple[Judged, ...]
    """Musts of the drying."""
    needed_time_s: FloatArray
    """s, infinite where it never gets dry, shape (draws,)"""
    max_time_s: FloatArray | None
    """s, longest drying the machine allows, shape (draws,)"""
    limited_by: str
    """What takes longest in most draws: film, humidity, heat, gap, laminate, or standing."""
    air_temperature_K: FloatArray
    """K, at the boards, shape (draws,)"""
    slowest: ComponentKind
    """Component kind that dries last."""
    bake: BakeSuggestion | None
    """Bake that would bring the laminate to its limit afterwards, where the board asks for one."""


def slowest_to_dry(context: Context, board: BoardType) -> ComponentKind:
    """Pick the component kind with the longest way out for vapour, likely values."""
    kinds = {kind.id: kind for kind in context.library.component_kinds}
    present = [kinds[component.kind] for component in board.components]
    return max(present, key=lambda kind: (kind.body_length.si()[1] / open_sides(kind) ** 0.5, kind.id))


def open_sides(kind: ComponentKind) -> int:
    """Count of sides through which vapour can leave: the open share of the edge, rounded up to whole sides.

    Notes
    -----
    Joints bar part of every edge; fewer whole sides is the slow side (engineering estimate).
    """
    return int(min(4.0, max(1.0, np.ceil(4.0 * kind.open_edge_share.si()[1] - 1e-9))))


def leaves_water(fluid: Fluid) -> bool:
    """Tell whether boards are wet with water when drying begins, not with the fluid itself."""
    return fluid.rinse_with == "water" or fluid.water_based


def drying_liquid(context: Context, fluid: Fluid) -> DryingFluid:
    """Give the liquid on the boards when drying begins: water, or the solvent itself."""
    if leaves_water(fluid):
        return water_for_drying()
    middle = {
        name: median(context.of_fluid(fluid, name))
        for name in ("molar_mass", "density", "latent_heat", "vapour_pressure", "reference_temperature")
    }
    return solvent_for_drying(
        molar_mass_kg_mol=middle["molar_mass"], liquid_density_kg_m3=middle["density"],
        latent_heat_J_kg=middle["latent_heat"], vapour_pressure_Pa=middle["vapour_pressure"],
        vapour_pressure_temperature_K=middle["reference_temperature"],
        diffusivity_m2_s=median(context.constant("solvent_vapour_diffusivity")),
        diffusivity_temperature_K=298.15, diffusivity_exponent=SOLVENT_DIFFUSIVITY_EXPONENT, coldest_K=253.15,
    )  # fmt: skip


def _load(context: Context, board: BoardType, rinse: RinseStage, boards: FloatArray, kind: ComponentKind,
          blow_off: bool) -> DryingLoad:  # fmt: skip
    inputs = context.inputs
    area = board_area_m2(context, board)
    left, gap_left = np.ones(context.draws), np.ones(context.draws)
    if blow_off:
        stated = inputs.draws("dry.blow_off_left_share")
        left = context.constant("film_after_blow_off") if stated is None else stated
        gap_left = context.constant("gap_liquid_share")
    mass = area / 2.0 * context.of_board(board, "thickness") * context.constant("board_density")
    warm = inputs.draws("rinse.temperature")
    length = context.of_kind(kind, "body_length") * context.constant("gap_drying_path_share")
    return DryingLoad(
        wet_area_m2=area * boards, film_before_drain_m=rinse.film_m, film_drained_m=rinse.film_m,
        blow_off_share_left=left, gap_volume_m3=rinse.gap_volume_m3 * boards * gap_left, body_length_m=length,
        body_width_m=length, open_sides=float(open_sides(kind)),
        heat_capacity_J_K=mass * context.constant("board_heat_capacity") * boards,
        temperature_K=context.from_plant("air_temperature") if warm is None else warm,
    )  # fmt: skip


def _hot_air(context: Context, board: BoardType, liquid: DryingFluid, air_K: FloatArray) -> HotAirDryer:
    inputs = context.inputs
    room_K, humidity = context.from_plant("air_temperature"), context.from_plant("relative_humidity")
    pressure = context.from_plant("air_pressure")
    exhaust = inputs.draws("dry.exhaust_flow")
    exhaust = inputs.needed("dry.air_flow") if exhaust is None else exhaust
    speed = inputs.needed("dry.air_speed")
    transfer = np.asarray(
        stream_transfer_m_s(liquid, speed, context.of_board(board, "length"), air_K, pressure_Pa=pressure)
    )
    heater = inputs.draws("dry.heater_power")
    water = liquid.molar_mass_kg_mol < 0.02
    return HotAirDryer(
        air_temperature_K=air_K, transfer_m_s=transfer * context.constant("heat_transfer_share"),
        inlet_humidity_ratio=np.asarray(humidity_ratio(room_K, humidity, pressure)) if water else np.zeros_like(air_K),
        inlet_temperature_K=room_K,
        exhaust_dry_air_kg_s=exhaust * np.asarray(moist_air_density_kg_m3(room_K, humidity, pressure)),
        heater_power_W=np.inf if heater is None else heater, pressure_Pa=pressure,
    )  # fmt: skip


def longest_dry_s(context: Context) -> FloatArray | None:
    """Longest drying time the controls or the belt allow, s."""
    inputs = context.inputs
    zone, speed = inputs.draws("chamber.dry_zone_length"), inputs.draws("chamber.belt_min_speed")
    if context.machine.moving == "inline" and zone is not None and speed is not None:
        return np.asarray(zone / speed)
    return inputs.draws("dry.max_time")


def dry_stage(context: Context, board: BoardType, fluid: Fluid, rinse: RinseStage, boards: FloatArray) -> DryStage:
    """Judge the drying.

    Parameters
    ----------
    context : Context
    board, fluid : records
    rinse : RinseStage
        Says how much liquid the boards bring.
    boards : ndarray (draws,)
        Boards dried together.

    Returns
    -------
    DryStage

    Raises
    ------
    MissingInputError, ValueError
        When an input is missing or contradicts itself.
    """
    inputs = context.inputs
    subject = Subject(machine_id=context.machine.id, board_id=board.id, fluid_id=fluid.id)
    kind_word = inputs.word("dry.kind")
    if kind_word is None:
        raise MissingInputError(context.machine.name, "dry.kind")
    slowest = slowest_to_dry(context, board)
    liquid = drying_liquid(context, fluid)
    board_limit = context.of_board(board, "max_temperature")
    room_K = context.from_plant("air_temperature")
    stated_air = inputs.draws("dry.air_temperature")
    # A dryer hotter than the board stands is turned down to it.
    air_K = np.minimum(room_K if stated_air is None else stated_air, board_limit)
    max_time = longest_dry_s(context)
    # Film and gaps hold what machine and board type leave in them, whatever was dissolved in it; the liquid counts.
    key = f"{board.id} {'' if leaves_water(fluid) else fluid.id}"
    if key not in context.dried:
        context.dried[key] = _dried(context, board, liquid, rinse, boards, kind_word, slowest, air_K, max_time)
    dried = context.dried[key]
    judged = [_dry(context, subject, dried.needed_time_s, max_time, dried.limited_by, slowest)]
    if dried.laminate is not None:
        judged.append(_laminate(context, board, subject, dried.laminate, air_K))
    return DryStage(
        judged=tuple(judged), needed_time_s=dried.needed_time_s, max_time_s=max_time, limited_by=dried.limited_by,
        air_temperature_K=air_K, slowest=slowest, bake=None if dried.laminate is None else dried.laminate.bake,
    )  # fmt: skip


def _dried(context: Context, board: BoardType, liquid: DryingFluid, rinse: RinseStage, boards: FloatArray,
           kind_word: str, slowest: ComponentKind, air_K: FloatArray,
           max_time: FloatArray | None) -> Dried:  # fmt: skip
    """Compute the drying itself with the machine's kind of dryer."""
    inputs = context.inputs
    room_K = context.from_plant("air_temperature")
    load = _load(context, board, rinse, boards, slowest, "blow-off" in kind_word)
    if kind_word == "none":
        needed, limited = np.full(context.draws, np.inf), "no dryer"
    elif kind_word in ("passive", "vapour"):
        time = np.full(context.draws, 3600.0) if max_time is None else max_time
        vapour = kind_word == "vapour"
        chamber = StandingChamber(
            wall_temperature_K=room_K, saturation_share=np.zeros(context.draws) if vapour else np.ones(context.draws),
            heat_transfer_W_m2_K=context.constant("natural_convection"),
            pressure_Pa=context.from_plant("air_pressure"),
        )  # fmt: skip
        needed, limited = np.asarray(passive_dry_outcome(load, chamber, liquid, time).dry_at_s), "standing"
    elif kind_word == "vacuum":
        drying = vacuum_drying(
            load, liquid, pressure_Pa=inputs.needed("dry.vacuum_pressure"),
            heating_power_W=inputs.needed("dry.heater_power"), pump_speed_m3_s=inputs.needed("dry.vacuum_pump_speed"),
            pump_down_time_s=inputs.needed("dry.pump_down_time"),
        )  # fmt: skip
        needed, limited = np.asarray(drying.total_time_s), _most_common(drying.limited_by)
    else:
        result = dry_time_needed(load, _hot_air(context, board, liquid, air_K), liquid)
        needed, limited = np.asarray(result.total_time_s), _most_common(result.limited_by)
    needed = np.broadcast_to(np.asarray(needed, dtype=np.float64), (context.draws,))
    laminate = None if board.moisture_limit is None else _laminate_state(context, board, needed, max_time, air_K)
    return Dried(needed_time_s=needed, limited_by=limited, laminate=laminate)


def _most_common(words: np.ndarray[tuple[int, ...], np.dtype[np.str_]]) -> str:
    names, counts = np.unique(words, return_counts=True)
    return str(names[int(np.argmax(counts))])


def _dry(context: Context, subject: Subject, needed: FloatArray, max_time: FloatArray | None, limited: str,
         slowest: ComponentKind) -> Judged:  # fmt: skip
    low, middle, high = low_middle_high(needed)
    if max_time is None:
        return judge_fact(
            subject, "dry", "Dry in time, gaps included", "dry", holds=None, draws=context.draws,
            sentence=phrase("The longest drying this machine allows is not known. Ask the supplier."),
        )  # fmt: skip
    if np.isinf(middle):
        template = "Water stays under {kind} when the machine's {limit} of drying are over; limited by {limited}."
    else:
        template = (
            "Needs {middle} ({low} to {high}) until {kind} is dry underneath; the machine allows {limit}; limited by "
            "{limited}."
        )
    return judge_number(
        subject, "dry", "Dry in time, gaps included", "dry", measure=needed, limit=max_time, direction="at most",
        dimension="time", thresholds=context.thresholds,
        sentence=phrase(template, kind=slowest.name, middle=(middle, "time"), low=(low, "time"), high=(high, "time"),
                        limit=(median(max_time), "time"), limited=limited),
    )  # fmt: skip


def _laminate_state(context: Context, board: BoardType, needed: FloatArray, max_time: FloatArray | None,
                    air_K: FloatArray) -> LaminateState:  # fmt: skip
    """Follow laminate moisture through the machine's own drying and suggest a bake for what is left."""
    constant = context.constant
    laminate = Laminate(
        thickness_m=context.of_board(board, "thickness"), diffusivity_m2_s=constant("laminate_diffusivity"),
        reference_temperature_K=constant("laminate_reference_temperature"),
        activation_energy_J_mol=constant("laminate_activation_temperature") * GAS_CONSTANT_J_mol_K,
        path_factor=np.maximum(1.0, context.of_board(board, "laminate_path_factor")),
        saturation_share=constant("laminate_saturation"),
    )  # fmt: skip
    soaked = constant("laminate_start") * constant("laminate_saturation")
    time = needed if max_time is None else np.minimum(needed, max_time)
    time = np.where(np.isinf(time), 0.0, time)
    after = np.asarray(moisture_after(laminate, soaked, np.zeros(context.draws), air_K, time))
    limit = context.of_board(board, "moisture_limit")
    return LaminateState(
        after_share=after,
        bake=bake_suggestion(laminate, after, limit, air_K, context.of_board(board, "max_temperature")),
        extra_s=np.asarray(drying_time_s(laminate, after, limit, np.zeros(context.draws), air_K)),
    )  # fmt: skip


def _laminate(context: Context, board: BoardType, subject: Subject, state: LaminateState,
              air_K: FloatArray) -> Judged:  # fmt: skip
    """Judge laminate moisture after the machine's own drying."""
    after, limit = state.after_share, context.of_board(board, "moisture_limit")
    return judge_number(
        subject, "laminate", "Laminate moisture within the board's limit", "dry", measure=after, limit=limit,
        direction="at most", dimension="share", thresholds=context.thresholds,
        sentence=phrase(
            "The laminate keeps {after} of moisture by mass; the limit is {limit}; a bake at {bake} would take "
            "{extra} more.", after=(median(after), "share"), limit=(median(limit), "share"),
            bake=(median(air_K), "temperature"), extra=(median(state.extra_s), "long time"),
        ),
    )  # fmt: skip
