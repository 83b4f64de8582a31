"""The rinse of one board type in one machine after one fluid: residue left, rinses, water, resistivity."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType, FluxKind
from catalog_schema.fluids import Fluid
from model.context import Context
from model.gap import gap_velocity_m_s
from model.ionic import salt_concentration_kg_m3
from model.machine_inputs import MissingInputError
from model.phrase import phrase
from model.requirements import Judged, Subject, judge_fact, judge_number
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
from model.uncertainty import FloatArray, low_middle_high, median
from model.wash import BathDrive, KindClearing, SprayDrive

HISTORICAL_NOTE = "1.56 µg/cm² is history (IPC-WP-019B), not a limit; the limit here is the plant's own."


@dataclass(frozen=True, slots=True, kw_only=True)
class RinseStage:
    """The rinse of a load, per draw; the load is one belt pitch of boards on a belt."""

    judged: tuple[Judged, ...]
    """Musts of the rinse."""
    rinses: FloatArray
    """Rinses or stages done, infinite where no number reaches the limit, shape (draws,)"""
    time_s: FloatArray
    """s, shape (draws,)"""
    water_m3: FloatArray
    """m³ of rinse water per board, shape (draws,)"""
    resin_m3: FloatArray
    """m³ of ion-exchange resin used up per board, shape (draws,)"""
    drag_out_m3: FloatArray
    """m³ of wash fluid carried out per board, shape (draws,)"""
    residue_left_kg_m2: FloatArray
    """kg/m² NaCl equivalent, shape (draws,)"""
    result: RinseResult | None
    """The mass balance of the load; None without a rinse, or in a large case, where it is not kept."""
    film_m: FloatArray
    """m, liquid per area left after draining, shape (draws,)"""
    gap_volume_m3: FloatArray
    """m³ of liquid under the components of one board, shape (draws,)"""


def board_area_m2(context: Context, board: BoardType) -> FloatArray:
    """Both faces of a board, m²."""
    area = np.asarray(2.0 * context.of_board(board, "length") * context.of_board(board, "width"))
    return context.once(f"area {board.id}", area)


def gap_volume_m3(context: Context, board: BoardType) -> FloatArray:
    """Liquid that the components of one board hold under them after draining, m³.

    Notes
    -----
    V = Σ n h L² f over the component kinds: number n, gap h, square body of length L, share f that holds liquid.
    """
    kinds = {kind.id: kind for kind in context.library.component_kinds}
    total = np.zeros(context.draws)
    for component in board.components:
        kind = kinds[component.kind]
        gap, length = context.of_kind(kind, "gap"), context.of_kind(kind, "body_length")
        held = 1.0 if kind.trapped_volume_share is None else context.of_kind(kind, "trapped_volume_share")
        # Bodies are taken as square: their length in the direction of the flow stands for both sides.
        total = total + component.count * gap * np.square(length) * held
    return context.once(f"gap volume {board.id}", total)


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


def rinse_stage(context: Context, board: BoardType, flux: FluxKind, fluid: Fluid,
                drive: SprayDrive | BathDrive | None, hardest: KindClearing | None,
                boards: FloatArray) -> RinseStage:  # fmt: skip
    """Judge the rinse.

    Parameters
    ----------
    context : Context
    board, flux, fluid : records
    drive : SprayDrive, BathDrive or None
        Pushes rinse water through the gaps as it did the wash fluid; None leaves diffusion alone.
    hardest : KindClearing or None
        The component kind whose gap exchanges most slowly.
    boards : ndarray (draws,)
        Boards rinsed together.

    Returns
    -------
    RinseStage

    Raises
    ------
    MissingInputError, ValueError
        When an input is missing or contradicts itself.

    Notes
    -----
    Carry-over = film + gaps + rack (`carry_over`), at the concentration of a bath due for a change. Fill and drain and
    spray: `batch_rinse` with the fewest rinses that meet the plant's limits; counterflow: `counterflow_rinse` with all
    stages; own vapour: each rinse replaces a share of the film. Gap water trades places by diffusion and by the drive
    (`gap_exchange_share`).
    """
    inputs = context.inputs
    subject = Subject(machine_id=context.machine.id, board_id=board.id, fluid_id=fluid.id)
    area = board_area_m2(context, board)
    drag_out = inputs.needed("wash.drag_out")
    gaps = gap_volume_m3(context, board)
    load = carry_over(area * boards, drag_out, gaps * boards, area * boards * context.constant("idle_hold_up"))
    start = carried_concentration_kg_m3(context, fluid, flux)
    limit = residue_limit_kg_m2(context, board)
    carried_per_board = (np.asarray(load.open_m3) + np.asarray(load.gap_m3)) / boards
    common = {"drag_out_m3": carried_per_board, "film_m": drag_out, "gap_volume_m3": gaps}
    zeros = np.zeros(context.draws)
    kind = inputs.word("rinse.kind") or "none"
    if kind == "none" or fluid.rinse_with == "nothing":
        left = start * carried_per_board / area
        judged = _residue(context, subject, limit, left, "No rinse follows {fluid}; it dries on the board with "
                          "{left} of ionic residue; the limit is {limit}.", fluid, zeros)  # fmt: skip
        if kind == "none" and fluid.rinse_with == "water":
            judged = (
                judge_fact(
                    subject, "rinse", "Rinses", "rinse", holds=False, draws=context.draws,
                    sentence=phrase("{fluid} must be rinsed off with water and this machine does not rinse.",
                                    fluid=fluid.name),
                ),
            )  # fmt: skip
        return RinseStage(judged=judged, rinses=zeros, time_s=zeros, water_m3=zeros, resin_m3=zeros,
                          residue_left_kg_m2=left, result=None, **common)  # fmt: skip
    each_s = inputs.needed("rinse.time_per_rinse")
    exchange = _exchange_share(context, drive, hardest, each_s)
    feed_resistivity = inputs.draws("rinse.feed_resistivity")
    own_vapour = kind == "own vapour" or fluid.rinse_with == "own vapour"
    feed = zeros if feed_resistivity is None or own_vapour else np.asarray(salt_concentration_kg_m3(feed_resistivity))
    most = inputs.whole("rinse.max_rinses")
    if most is None:
        raise MissingInputError(context.machine.name, "rinse.max_rinses")
    rinses, volume, result = _rinse(context, kind, load, start, limit, exchange, feed, most, each_s, own_vapour)
    left = np.asarray(result.residue_left_kg_m2)
    water = np.zeros(context.draws) if own_vapour else np.asarray(result.water_m3) / boards
    resin, fed = zeros, water
    if inputs.flag("rinse.closed_loop") and not own_vapour:
        removed = np.maximum(np.asarray(result.residue_out_kg), 0.0) / boards
        resin = np.asarray(resin_volume_m3(removed, context.constant("resin_capacity")))
        # In a closed loop only what the boards carry away is replaced.
        fed = np.minimum(water, carried_per_board)
    judged = _residue(
        context, subject, limit, left,
        "{rinses} leave {left} of ionic residue after {fluid}; the plant's own limit is {limit}.",
        fluid, rinses,
    ) + _resistivity(context, subject, result, own_vapour)  # fmt: skip
    del volume
    return RinseStage(judged=judged, rinses=rinses, time_s=np.where(np.isinf(rinses), float(most), rinses) * each_s,
                      water_m3=fed, resin_m3=resin, residue_left_kg_m2=left, result=result, **common)  # fmt: skip


def _exchange_share(context: Context, drive: SprayDrive | BathDrive | None, hardest: KindClearing | None,
                    each_s: FloatArray) -> FloatArray:  # fmt: skip
    """Share of the gap water that one rinse replaces, under the component that needs longest to clear."""
    if hardest is None:
        return np.ones(context.draws)
    kind = hardest.kind
    path, length = context.of_kind(kind, "flux_path"), context.of_kind(kind, "body_length")
    velocity = np.zeros(context.draws)
    if drive is not None:
        viscosity = context.rinse_viscosity_Pa_s()
        pressure = drive.mean_pressure_Pa(hardest.gap, slice(None)) * context.of_kind(kind, "open_edge_share")
        velocity = np.asarray(gap_velocity_m_s(pressure, hardest.gap_m, length, viscosity))
    ions = context.constant("ion_diffusivity")
    return np.asarray(gap_exchange_share(each_s, hardest.gap_m, path, ions, velocity))


def _rinse(context: Context, kind: str, load: CarryOver, start: FloatArray, limit: FloatArray | None,
           exchange: FloatArray, feed: FloatArray, most: int, each_s: FloatArray,
           own_vapour: bool) -> tuple[FloatArray, FloatArray, RinseResult]:  # fmt: skip
    if own_vapour:
        # Condensate replaces a share of the film each time, as clean liquid of that volume would.
        share = context.constant("rinse_film_share")
        volume = np.asarray(load.open_m3) * share / np.maximum(1.0 - share, 1e-6)
        rinses = np.full(context.draws, float(most))
        return rinses, volume, batch_rinse(load, start, rinses, volume, exchange, feed)
    if kind == "counterflow":
        flow = context.inputs.needed("rinse.flow")
        volume = flow * each_s * most
        result = counterflow_rinse(load, start, max(1, most), volume, exchange, feed)
        return np.full(context.draws, float(max(1, most))), volume, result
    stated = context.inputs.draws("rinse.volume_per_rinse")
    volume = context.inputs.needed("rinse.flow") * each_s if stated is None else stated
    rinses = _rinses_for_both(context, load, start, limit, volume, exchange, feed, most)
    done = np.where(np.isinf(rinses), float(most), rinses)
    return rinses, volume, batch_rinse(load, start, done, volume, exchange, feed)


def _rinses_for_both(context: Context, load: CarryOver, start: FloatArray, limit: FloatArray | None,
                     volume: FloatArray, exchange: FloatArray, feed: FloatArray, most: int) -> FloatArray:  # fmt: skip
    """Fewest rinses that meet the residue limit and the wanted resistivity of the last rinse; inf where none do.

    Notes
    -----
    A machine with an end-point probe stops there by itself; one without is set to as many rinses once and for all.
    """
    wanted = context.of_plant("requirements.rinse_resistivity")
    if limit is None and wanted is None:
        return np.full(context.draws, float(most))
    needed = np.full(context.draws, min(1.0, float(most)))
    if limit is not None:
        needed = np.maximum(
            needed, np.asarray(rinses_needed(load, start, limit, volume, exchange, feed, most_rinses=most))
        )
    if wanted is not None and most >= 1:
        probed = rinse_until_resistivity(load, start, wanted, volume, exchange, feed, most_rinses=most)
        reached = np.asarray(probed.last_rinse_resistivity_ohm_m) >= wanted
        needed = np.maximum(needed, np.where(reached, np.asarray(probed.rinses), np.inf))
    return needed


def _residue(context: Context, subject: Subject, limit: FloatArray | None, left: FloatArray, template: str,
             fluid: Fluid, rinses: FloatArray) -> tuple[Judged, ...]:  # fmt: skip
    if limit is None:
        return ()
    finite = np.where(np.isinf(rinses), -1.0, rinses)
    middle = median(finite)
    sentence = phrase(
        template, fluid=fluid.name, left=(low_middle_high(left)[1], "mass per area"),
        limit=(median(limit), "mass per area"),
        rinses="All rinses" if middle < 0 else "1 rinse" if middle == 1 else f"{middle:.0f} rinses",
    )  # fmt: skip
    return (
        judge_number(
            subject, "residue", "Ionic residue within the plant's limit", "rinse", measure=left, limit=limit,
            direction="at most", dimension="mass per area", thresholds=context.thresholds, sentence=sentence,
        ),
    )  # fmt: skip


def _resistivity(context: Context, subject: Subject, result: RinseResult, own_vapour: bool) -> tuple[Judged, ...]:
    wanted = context.of_plant("requirements.rinse_resistivity")
    if wanted is None or own_vapour:
        return ()
    reached = np.asarray(result.last_rinse_resistivity_ohm_m)
    return (
        judge_number(
            subject, "resistivity", "Last rinse clean enough", "rinse", measure=reached, limit=wanted,
            direction="at least", dimension="resistivity", thresholds=context.thresholds,
            sentence=phrase("The last rinse has {reached}; the plant wants {wanted}.",
                            reached=(median(reached), "resistivity"),
                            wanted=(median(wanted), "resistivity")),
        ),
    )  # fmt: skip
