"""How the board types of one machine rinse: many loads after many fluids, in rows over the draws.

Rinsing works on each draw for itself, so loads laid in rows give what each gives alone, at a fraction of the cost.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType, FluxKind
from catalog_schema.fluids import Fluid
from model.context import Context, Rinsed
from model.gap import gap_velocity_m_s
from model.ionic import salt_concentration_kg_m3
from model.machine_inputs import MissingInputError
from model.rinse import (
    CarryOver,
    RinseResult,
    batch_rinse,
    carry_over,
    gap_exchange_share,
    rinse_until_resistivity,
    rinses_needed,
)
from model.rinse_supply import counterflow_rinse, resin_volume_m3
from model.uncertainty import FloatArray, part_of
from model.wash import BathDrive, KindClearing, SprayDrive


@dataclass(frozen=True, slots=True, kw_only=True)
class RinseLoad:
    """Boards of one type that come out of the wash with one fluid."""

    board: BoardType
    """The board type."""
    flux: FluxKind
    """What was on it."""
    fluid: Fluid
    """What they are wet with."""
    drive: SprayDrive | BathDrive
    """Pushes rinse water through the gaps as it did the wash fluid."""
    hardest: KindClearing
    """The component kind whose gap exchanges most slowly."""
    boards: FloatArray
    """Boards rinsed together, shape (draws,)"""


def board_area_m2(context: Context, board: BoardType) -> FloatArray:
    """Both faces of a board, m²."""
    return context.once(
        f"area {board.id}",
        lambda: np.asarray(2.0 * context.of_board(board, "length") * context.of_board(board, "width")),
    )


def gap_volume_m3(context: Context, board: BoardType) -> FloatArray:
    """Liquid that the components of one board hold under them after draining, m³.

    Notes
    -----
    V = Σ n h L² f over the component kinds: number n, gap h, square body of length L, share f that holds liquid.
    """
    kinds = [context.kinds[component.kind] for component in board.components]

    def read() -> list[tuple[FloatArray, FloatArray, FloatArray | float]]:
        return [
            (
                context.of_kind(kind, "gap"), context.of_kind(kind, "body_length"),
                1.0 if kind.trapped_volume_share is None else context.of_kind(kind, "trapped_volume_share"),
            )
            for kind in kinds
        ]  # fmt: skip

    def compute(parts: list[tuple[FloatArray, FloatArray, FloatArray | float]]) -> FloatArray:
        total = np.zeros(context.draws)
        for component, (gap, length, held) in zip(board.components, parts, strict=True):
            # Bodies are taken as square: their length in the direction of the flow stands for both sides.
            total = total + component.count * gap * np.square(length) * held
        return total

    return context.once_from(f"gap volume {board.id}", read, compute)


def carried_concentration_kg_m3(context: Context, fluid: Fluid, flux: FluxKind) -> FloatArray:
    """NaCl equivalent in the wash fluid that boards carry out, when the bath is due for a change, kg/m³.

    Notes
    -----
    c = c_load φ + w ρ s: dissolved residue at the load limit c_load × its ionic share φ, plus concentrate share w ×
    density ρ × its conductive share s. The bath is taken at its worst, just before it is changed.
    """
    ionic = context.inputs.book.take(flux.ionic_share, f"flux_kinds[{flux.id}].ionic_share", "engineering estimate")
    from_residue = context.of_fluid(fluid, "bath_load_limit") * ionic
    if fluid.concentration is None:
        return np.asarray(from_residue)
    return np.asarray(
        from_residue
        + context.of_fluid(fluid, "concentration")
        * context.of_fluid(fluid, "density")
        * context.of_fluid(fluid, "conductive_share")
    )


def residue_limit_kg_m2(context: Context, board: BoardType) -> FloatArray | None:
    """Limit for the ionic residue: the board type's own, else the plant's, else none.

    Notes
    -----
    1.56 µg/cm² of NaCl equivalent is history, not a limit.
    """
    if board.ionic_limit is not None:
        return context.of_board(board, "ionic_limit")
    return context.of_plant("requirements.ionic_limit")


def rinse_kind(context: Context) -> str:
    """Name how the machine rinses, "none" where nothing is known."""
    return context.inputs.word("rinse.kind") or "none"


def rinse_follows(context: Context, fluid: Fluid) -> bool:
    """Tell whether the machine rinses after a fluid."""
    return rinse_kind(context) != "none" and fluid.rinse_with != "nothing"


def rinses_in_own_vapour(context: Context, fluid: Fluid) -> bool:
    """Tell whether condensate of the fluid itself rinses, not water."""
    return rinse_kind(context) == "own vapour" or fluid.rinse_with == "own vapour"


def rinse_boards(context: Context, loads: Sequence[RinseLoad]) -> dict[tuple[str, str], Rinsed]:
    """Rinse boards of several types after several fluids in one machine, each load for itself.

    Parameters
    ----------
    context : Context
    loads : sequence of RinseLoad

    Returns
    -------
    dict of Rinsed
        By board type and fluid; the same for each load whatever others are rinsed with it.

    Raises
    ------
    MissingInputError, ValueError
        When an input of the machine is missing, or one of any load contradicts itself.

    Notes
    -----
    Carry-over = film + gaps + rack (`carry_over`), at the concentration of a bath due for a change. Fill and drain and
    spray: `batch_rinse` with the fewest rinses that meet the plant's limits; counterflow: `counterflow_rinse` with all
    stages; own vapour: each rinse replaces a share of the film. Gap water trades places by diffusion and by the drive
    (`gap_exchange_share`).
    """
    alike: dict[tuple[bool, bool, bool], list[RinseLoad]] = {}
    for load in loads:
        limited = residue_limit_kg_m2(context, load.board) is not None
        way = rinse_follows(context, load.fluid), rinses_in_own_vapour(context, load.fluid), limited
        alike.setdefault(way, []).append(load)
    rinsed: dict[tuple[str, str], Rinsed] = {}
    for (follows, own_vapour, _), group in alike.items():
        found = _rinse_rows(context, group, own_vapour) if follows else _left_as_they_are(context, group)
        rinsed |= {(load.board.id, load.fluid.id): one for load, one in zip(group, found, strict=True)}
    return rinsed


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wet:
    """What loads bring into the rinse, in rows."""

    boards: FloatArray
    """Shape (loads, draws)"""
    area_m2: FloatArray
    """m², of one board, shape (loads, draws)"""
    carried: CarryOver
    """Liquid on a load, arrays of shape (loads, draws)."""
    start_kg_m3: FloatArray
    """kg/m³ of NaCl equivalent in it, shape (loads, draws)"""
    per_board_m3: FloatArray
    """m³, the same liquid per board without the rack's, shape (loads, draws)"""


def _wet(context: Context, loads: Sequence[RinseLoad]) -> _Wet:
    boards = np.stack([load.boards for load in loads])
    area = np.stack([board_area_m2(context, load.board) for load in loads])
    gaps = np.stack([gap_volume_m3(context, load.board) for load in loads])
    wetted = area * boards
    carried = carry_over(
        wetted, context.inputs.needed("wash.drag_out"), gaps * boards, wetted * context.constant("idle_hold_up")
    )
    return _Wet(
        boards=boards, area_m2=area, carried=carried,
        start_kg_m3=np.stack([carried_concentration_kg_m3(context, load.fluid, load.flux) for load in loads]),
        per_board_m3=(np.asarray(carried.open_m3) + np.asarray(carried.gap_m3)) / boards,
    )  # fmt: skip


def _rinsed(context: Context, load: RinseLoad, wet: _Wet, place: int, *, rinses: FloatArray, time_s: FloatArray,
            water_m3: FloatArray, resin_m3: FloatArray, left: FloatArray,
            result: RinseResult | None) -> Rinsed:  # fmt: skip
    return Rinsed(
        rinses=rinses, time_s=time_s, water_m3=water_m3, resin_m3=resin_m3,
        drag_out_m3=wet.per_board_m3[place].copy(), residue_left_kg_m2=left, result=result,
        film_m=context.inputs.needed("wash.drag_out"), gap_volume_m3=gap_volume_m3(context, load.board),
    )  # fmt: skip


def _left_as_they_are(context: Context, loads: Sequence[RinseLoad]) -> list[Rinsed]:
    """Leave on the boards what they carry."""
    wet, zeros = _wet(context, loads), np.zeros(context.draws)
    left = wet.start_kg_m3 * wet.per_board_m3 / wet.area_m2
    return [
        _rinsed(context, load, wet, place, rinses=zeros, time_s=zeros, water_m3=zeros, resin_m3=zeros,
                left=left[place].copy(), result=None)
        for place, load in enumerate(loads)
    ]  # fmt: skip


def _rinse_rows(context: Context, loads: Sequence[RinseLoad], own_vapour: bool) -> list[Rinsed]:
    """Rinse loads that are rinsed alike."""
    inputs = context.inputs
    wet, zeros = _wet(context, loads), np.zeros(context.draws)
    each_s = inputs.needed("rinse.time_per_rinse")
    exchange = _exchange_share(context, loads, each_s)
    most = inputs.whole("rinse.max_rinses")
    if most is None:
        raise MissingInputError(context.machine.name, "rinse.max_rinses")
    feed_resistivity = inputs.draws("rinse.feed_resistivity")
    feed = zeros if feed_resistivity is None or own_vapour else np.asarray(salt_concentration_kg_m3(feed_resistivity))
    rinses, result = _result(context, loads, wet, exchange, feed, most, each_s, own_vapour)
    time_s = np.where(np.isinf(rinses), float(most), rinses) * each_s
    water = np.zeros(rinses.shape) if own_vapour else np.asarray(result.water_m3) / wet.boards
    resin = np.zeros(rinses.shape)
    if inputs.flag("rinse.closed_loop") and not own_vapour:
        removed = np.maximum(np.asarray(result.residue_out_kg), 0.0) / wet.boards
        resin = np.asarray(resin_volume_m3(removed, context.constant("resin_capacity")))
        # In a closed loop only what the boards carry away is replaced.
        water = np.minimum(water, wet.per_board_m3)
    rows = [part_of(RinseResult, result, place) for place in range(len(loads))]
    return [
        _rinsed(context, load, wet, place, rinses=rinses[place].copy(), time_s=time_s[place].copy(),
                water_m3=water[place].copy(), resin_m3=zeros if not resin.any() else resin[place].copy(),
                left=np.asarray(row.residue_left_kg_m2), result=row)
        for place, (load, row) in enumerate(zip(loads, rows, strict=True))
    ]  # fmt: skip


def _exchange_share(context: Context, loads: Sequence[RinseLoad], each_s: FloatArray) -> FloatArray:
    """Share of the gap water that one rinse replaces, under the component that needs longest to clear."""

    def of_kinds(name: str) -> FloatArray:
        return np.stack([context.of_kind(load.hardest.kind, name) for load in loads])

    pressure = np.stack([load.drive.mean_pressure_Pa(load.hardest.gap, slice(None)) for load in loads])
    gap_m = np.stack([load.hardest.gap_m for load in loads])
    velocity = gap_velocity_m_s(
        pressure * of_kinds("open_edge_share"), gap_m, of_kinds("body_length"), context.rinse_viscosity_Pa_s()
    )
    ions = context.constant("ion_diffusivity")
    return np.asarray(gap_exchange_share(each_s, gap_m, of_kinds("flux_path"), ions, velocity))


def _result(context: Context, loads: Sequence[RinseLoad], wet: _Wet, exchange: FloatArray, feed: FloatArray, most: int,
            each_s: FloatArray, own_vapour: bool) -> tuple[FloatArray, RinseResult]:  # fmt: skip
    """Give rinses done, infinite where no number is enough, and what they leave."""
    carried, start = wet.carried, wet.start_kg_m3
    if own_vapour:
        # Condensate replaces a share of the film each time, as clean liquid of that volume would.
        share = context.constant("rinse_film_share")
        volume = np.asarray(carried.open_m3) * share / np.maximum(1.0 - share, 1e-6)
        rinses = np.full(start.shape, float(most))
        return rinses, batch_rinse(carried, start, rinses, volume, exchange, feed)
    if rinse_kind(context) == "counterflow":
        volume = context.inputs.needed("rinse.flow") * each_s * most
        result = counterflow_rinse(carried, start, max(1, most), volume, exchange, feed)
        return np.full(start.shape, float(max(1, most))), result
    stated = context.inputs.draws("rinse.volume_per_rinse")
    volume = context.inputs.needed("rinse.flow") * each_s if stated is None else stated
    rinses = _rinses_for_both(context, loads, wet, volume, exchange, feed, most)
    done = np.where(np.isinf(rinses), float(most), rinses)
    return rinses, batch_rinse(carried, start, done, volume, exchange, feed)


def _rinses_for_both(context: Context, loads: Sequence[RinseLoad], wet: _Wet, volume: FloatArray,
                     exchange: FloatArray, feed: FloatArray, most: int) -> FloatArray:  # fmt: skip
    """Fewest rinses that meet the residue limit and the wanted resistivity of the last rinse; inf where none do.

    Notes
    -----
    A machine with an end-point probe stops there by itself; one without is set to as many rinses once and for all.
    """
    wanted = context.of_plant("requirements.rinse_resistivity")
    # Loads that are rinsed alike all have a limit, or none has.
    limits = [limit for load in loads if (limit := residue_limit_kg_m2(context, load.board)) is not None]
    carried, start = wet.carried, wet.start_kg_m3
    if not limits and wanted is None:
        return np.full(start.shape, float(most))
    needed = np.full(start.shape, min(1.0, float(most)))
    if limits:
        least = rinses_needed(carried, start, np.stack(limits), volume, exchange, feed, most_rinses=most)
        needed = np.maximum(needed, np.asarray(least))
    if wanted is not None and most >= 1:
        probed = rinse_until_resistivity(carried, start, wanted, volume, exchange, feed, most_rinses=most)
        reached = np.asarray(probed.last_rinse_resistivity_ohm_m) >= wanted
        needed = np.maximum(needed, np.where(reached, np.asarray(probed.rinses), np.inf))
    return needed
