"""How the board types of one machine dry: many loads at once, in rows over the draws.

Every step of drying works on each draw for itself, so loads of several board types laid in rows give what each gives
alone, at a fraction of the cost: arrays of a few hundred draws are mostly overhead, and what follows from the air alone
is worked out once for all rows that share it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from catalog_schema.boards import BoardType, ComponentKind
from catalog_schema.fluids import Fluid
from model.air_transfer import stream_transfer_m_s
from model.context import Context, Dried, LaminateState, Rinsed
from model.drying import DryingLoad, HotAirDryer, dry_time_needed
from model.drying_fluid import DryingFluid, GAS_CONSTANT_J_mol_K, solvent_for_drying, water_for_drying
from model.laminate import BakeSuggestion, Laminate, bake_suggestion, moisture_after
from model.machine_inputs import MissingInputError
from model.moist_air import humidity_ratio, moist_air_density_kg_m3
from model.passive_drying import StandingChamber, passive_dry_outcome
from model.rinse_course import board_area_m2
from model.uncertainty import FloatArray, lower_of, median, part_of
from model.vacuum_drying import vacuum_drying

SOLVENT_DIFFUSIVITY_EXPONENT = 1.75
"""Power of absolute temperature in gas diffusivities (Fuller and others, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WetBoards:
    """The boards of one type that are dried together, as they leave the rinse."""

    board: BoardType
    """The board type."""
    fluid: Fluid
    """The wash fluid, which is also what they are wet with unless that is water."""
    rinse: Rinsed
    """Says how much liquid they bring."""
    boards: FloatArray
    """Boards dried together, shape (draws,)"""

    @property
    def key(self) -> str:
        """Name what the drying depends on.

        Film and gaps hold what machine and board type leave in them, whatever was dissolved in it; the liquid counts.
        """
        return f"{self.board.id} {self.liquid_id}"

    @property
    def liquid_id(self) -> str:
        """Name the liquid: empty for water, else the fluid."""
        return "" if leaves_water(self.fluid) else self.fluid.id


def slowest_to_dry(context: Context, board: BoardType) -> ComponentKind:
    """Pick the component kind with the longest way out for vapour, likely values."""
    if board.id not in context.slowest:
        present = [context.kinds[component.kind] for component in board.components]
        context.slowest[board.id] = max(
            present, key=lambda kind: (kind.body_length.si()[1] / open_sides(kind) ** 0.5, kind.id)
        )
    return context.slowest[board.id]


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
    """Give the liquid on the boards when drying begins: water, or the solvent itself.

    Notes
    -----
    Water where a water rinse follows or the fluid is water-based; else the solvent by its own vapour pressure and
    latent heat.
    """
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


def drying_air_K(context: Context, board: BoardType) -> FloatArray:
    """Temperature of the dryer's air at a board type, K: a dryer hotter than the board stands is turned down to it."""
    name = f"drying air at {board.id}"
    if name not in context.figures:
        stated = context.inputs.draws("dry.air_temperature")
        air_K = context.from_plant("air_temperature") if stated is None else stated
        context.figures[name] = lower_of(air_K, context.of_board(board, "max_temperature"))
    return context.figures[name]


def longest_dry_s(context: Context) -> FloatArray | None:
    """Longest drying time the controls or the belt allow, s.

    Notes
    -----
    Batch: as stated. Belt: length of the drying zone ÷ slowest belt speed.
    """
    inputs = context.inputs
    zone, speed = inputs.draws("chamber.dry_zone_length"), inputs.draws("chamber.belt_min_speed")
    if context.machine.moving == "inline" and zone is not None and speed is not None:
        return np.asarray(zone / speed)
    return inputs.draws("dry.max_time")


def dryer_kind(context: Context) -> str:
    """Name the machine's kind of dryer, or raise MissingInputError."""
    kind = context.inputs.word("dry.kind")
    if kind is None:
        raise MissingInputError(context.machine.name, "dry.kind")
    return kind


def dry_boards(context: Context, wet: Mapping[str, WetBoards]) -> dict[str, Dried]:
    """Dry boards of several types in one machine, each type for itself.

    Parameters
    ----------
    context : Context
    wet : mapping
        Boards by `WetBoards.key`.

    Returns
    -------
    dict of Dried
        By the same keys; the same for each board type whatever others are dried with it.

    Raises
    ------
    MissingInputError, ValueError
        When an input of the machine is missing, or one of any board type contradicts itself.
    """
    dried: dict[str, Dried] = {}
    for liquid_id in dict.fromkeys(one.liquid_id for one in wet.values()):
        group = [one for one in wet.values() if one.liquid_id == liquid_id]
        times, limits = _needed_s(context, group)
        limited = [row for row, one in enumerate(group) if one.board.moisture_limit is not None]
        laminates: dict[int, LaminateState] = {}
        if limited:
            states = _laminate_states(context, [group[row].board for row in limited], times[limited])
            laminates = dict(zip(limited, states, strict=True))
        for row, one in enumerate(group):
            dried[one.key] = Dried(needed_time_s=times[row], limited_by=limits[row], laminate=laminates.get(row))
    return dried


def _needed_s(context: Context, wet: list[WetBoards]) -> tuple[FloatArray, list[str]]:
    """Drying time of boards wet with one liquid, shape (board types, draws), and what limits each type."""
    inputs, kind = context.inputs, dryer_kind(context)
    shape = len(wet), context.draws
    if kind == "none":
        return np.full(shape, np.inf), ["no dryer"] * len(wet)
    liquid = drying_liquid(context, wet[0].fluid)
    if kind not in ("passive", "vapour", "vacuum"):
        return _hot_air_s(context, wet, liquid, blow_off="blow-off" in kind)
    load = wet_load(context, wet, blow_off=False)
    if kind == "vacuum":
        vacuum = vacuum_drying(
            load, liquid, pressure_Pa=inputs.needed("dry.vacuum_pressure"),
            heating_power_W=inputs.needed("dry.heater_power"), pump_speed_m3_s=inputs.needed("dry.vacuum_pump_speed"),
            pump_down_time_s=inputs.needed("dry.pump_down_time"),
        )  # fmt: skip
        return np.asarray(vacuum.total_time_s), _most_common(vacuum.limited_by, shape)
    longest = longest_dry_s(context)
    chamber = StandingChamber(
        wall_temperature_K=context.from_plant("air_temperature"), saturation_share=0.0 if kind == "vapour" else 1.0,
        heat_transfer_W_m2_K=context.constant("natural_convection"), pressure_Pa=context.from_plant("air_pressure"),
    )  # fmt: skip
    standing = passive_dry_outcome(load, chamber, liquid, 3600.0 if longest is None else longest)
    return np.asarray(standing.dry_at_s), ["standing"] * len(wet)


def _hot_air_s(context: Context, wet: list[WetBoards], liquid: DryingFluid, *,
               blow_off: bool) -> tuple[FloatArray, list[str]]:  # fmt: skip
    """Give the same in hot air."""
    load = wet_load(context, wet, blow_off=blow_off)
    air_K = np.stack([drying_air_K(context, one.board) for one in wet])
    hot = dry_time_needed(load, hot_air(context, wet, liquid, air_K), liquid)
    return np.asarray(hot.total_time_s), _most_common(hot.limited_by, (len(wet), context.draws))


def wet_load(context: Context, wet: list[WetBoards], *, blow_off: bool) -> DryingLoad:
    """Describe boards as they enter the dryer: shape (board types, draws), or (draws,) where all are alike."""
    inputs, constant = context.inputs, context.constant

    def each(of: Callable[[WetBoards], FloatArray]) -> FloatArray:
        return np.stack([of(one) for one in wet])

    left, gap_left = np.ones(context.draws), np.ones(context.draws)
    if blow_off:
        stated = inputs.draws("dry.blow_off_left_share")
        left = constant("film_after_blow_off") if stated is None else stated
        gap_left = constant("gap_liquid_share")
    warm = inputs.draws("rinse.temperature")
    boards, film = each(lambda one: one.boards), each(lambda one: one.rinse.film_m)
    area = each(lambda one: board_area_m2(context, one.board))
    thickness = each(lambda one: context.of_board(one.board, "thickness"))
    mass = area / 2.0 * thickness * constant("board_density")
    slowest = [slowest_to_dry(context, one.board) for one in wet]
    length = np.stack([context.of_kind(kind, "body_length") for kind in slowest]) * constant("gap_drying_path_share")
    return DryingLoad(
        wet_area_m2=area * boards, film_before_drain_m=film, film_drained_m=film, blow_off_share_left=left,
        gap_volume_m3=each(lambda one: one.rinse.gap_volume_m3) * boards * gap_left,
        body_length_m=length, body_width_m=length, open_sides=np.array([[float(open_sides(kind))] for kind in slowest]),
        heat_capacity_J_K=mass * constant("board_heat_capacity") * boards,
        temperature_K=context.from_plant("air_temperature") if warm is None else warm,
    )  # fmt: skip


def hot_air(context: Context, wet: list[WetBoards], liquid: DryingFluid, air_K: FloatArray) -> HotAirDryer:
    """Lead air of some temperature, shape (board types, draws), along each board type, as in `wet_load`."""
    inputs = context.inputs
    room_K, humidity = context.from_plant("air_temperature"), context.from_plant("relative_humidity")
    pressure = context.from_plant("air_pressure")
    exhaust = inputs.draws("dry.exhaust_flow")
    exhaust = inputs.needed("dry.air_flow") if exhaust is None else exhaust
    speed, heater = inputs.needed("dry.air_speed"), inputs.draws("dry.heater_power")
    length = np.stack([context.of_board(one.board, "length") for one in wet])
    transfer = stream_transfer_m_s(liquid, speed, length, air_K, pressure_Pa=pressure)
    water = liquid.molar_mass_kg_mol < 0.02
    return HotAirDryer(
        air_temperature_K=air_K, transfer_m_s=transfer * context.constant("heat_transfer_share"),
        inlet_humidity_ratio=humidity_ratio(room_K, humidity, pressure) if water else 0.0, inlet_temperature_K=room_K,
        exhaust_dry_air_kg_s=exhaust * np.asarray(moist_air_density_kg_m3(room_K, humidity, pressure)),
        heater_power_W=np.inf if heater is None else heater, pressure_Pa=pressure,
    )  # fmt: skip


def _most_common(words: np.ndarray[tuple[int, ...], np.dtype[np.str_]], shape: tuple[int, int]) -> list[str]:
    """Commonest word per board type over the draws."""
    common = []
    for row in np.broadcast_to(words, shape):
        names, counts = np.unique(row, return_counts=True)
        common.append(str(names[int(np.argmax(counts))]))
    return common


def board_laminate(context: Context, board: BoardType) -> Laminate:
    """Describe the laminate of a board type as `model.laminate` wants it."""
    constant = context.constant
    return Laminate(
        thickness_m=context.of_board(board, "thickness"), diffusivity_m2_s=constant("laminate_diffusivity"),
        reference_temperature_K=constant("laminate_reference_temperature"),
        activation_energy_J_mol=constant("laminate_activation_temperature") * GAS_CONSTANT_J_mol_K,
        path_factor=np.maximum(1.0, context.of_board(board, "laminate_path_factor")),
    )  # fmt: skip


def laminate_start_share(context: Context) -> FloatArray:
    """Moisture in the laminate when drying begins, water over dry mass."""
    return np.asarray(context.constant("laminate_start") * context.constant("laminate_saturation"))


def _laminate_states(context: Context, boards: list[BoardType], needed: FloatArray) -> list[LaminateState]:
    """Follow laminate moisture through the machine's own drying and suggest a bake for what is left.

    `needed`: s of drying, shape (board types, draws).
    """

    def rows(of: Callable[[BoardType], FloatArray]) -> FloatArray:
        return np.stack([of(board) for board in boards])

    laminates = [board_laminate(context, board) for board in boards]
    laminate = replace(
        laminates[0], thickness_m=np.stack([np.asarray(one.thickness_m) for one in laminates]),
        path_factor=np.stack([np.asarray(one.path_factor) for one in laminates]),
    )  # fmt: skip
    air_K, max_time = rows(lambda board: drying_air_K(context, board)), longest_dry_s(context)
    time = needed if max_time is None else np.minimum(needed, max_time)
    time = np.where(np.isinf(time), 0.0, time)
    after = np.asarray(moisture_after(laminate, laminate_start_share(context), np.zeros(context.draws), air_K, time))
    limit = rows(lambda board: context.of_board(board, "moisture_limit"))
    bake = bake_suggestion(
        laminate, after, limit, air_K, rows(lambda board: context.of_board(board, "max_temperature"))
    )
    return [
        LaminateState(after_share=after[row].copy(), bake=part_of(BakeSuggestion, bake, row))
        for row in range(len(boards))
    ]
