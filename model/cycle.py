"""The cycle one board type needs in one machine with one fluid: wash, rinse, dry, and how boards move through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType
from model.context import Context
from model.dry_stage import DryStage
from model.rinse_stage import RinseStage
from model.spray_drive import LoadFit
from model.stages import WashStage
from model.uncertainty import BoolArray, FloatArray, lower_of, median, share_true

FREE_SHARE_ON_BELT = 1.05
"""Belt length that a board takes over its own length, as in the traced geometry."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardCycle:
    """Times and amounts of one load, per draw; where a stage needs more than the machine allows, its limit is run."""

    wash_s: FloatArray
    """s"""
    rinse_s: FloatArray
    """s"""
    dry_s: FloatArray
    """s"""
    fill_s: FloatArray
    """s, filling and heating before the wash"""
    handling_s: FloatArray
    """s, loading and unloading"""
    total_s: FloatArray
    """s, from door to door, or from end to end of the belt"""
    occupied_s: FloatArray
    """s that a load keeps the machine busy: the whole cycle (batch) or one belt pitch (inline)"""
    boards_per_load: FloatArray
    """Boards in that load"""
    boards_that_fit: int
    """Boards in a full load, or abreast on the belt."""
    belt_speed_m_s: FloatArray | None
    """m/s, inline only"""
    exists: BoolArray
    """Whether wash, rinse and drying all fit the machine's limits, shape (draws,)"""
    limiting: str
    """Stage that takes the largest part of the cycle, or that does not fit in most draws."""


def boards_together(context: Context, board: BoardType, fit: LoadFit, zone: str) -> FloatArray:
    """Count the boards washed, rinsed or dried together: a load, or those in one zone of the belt.

    Notes
    -----
    Batch: min(boards that fit, lot size). Belt: boards abreast × zone length ÷ pitch, at least one.
    """
    if context.machine.moving != "inline":
        full = context.full(float(fit.boards_per_load))
        return lower_of(full, context.of_board(board, "lot_size"))
    length = context.inputs.draws(f"chamber.{zone}_zone_length")
    pitch = belt_pitch_m(context, board)
    if length is None:
        return context.full(float(fit.boards_per_load))
    return np.asarray(np.maximum(1.0, fit.boards_per_load * length / pitch))


def belt_pitch_m(context: Context, board: BoardType) -> FloatArray:
    """Belt length per row of boards: the longer edge, the slow side of what the belt allows, m."""
    return np.asarray(
        FREE_SHARE_ON_BELT * np.maximum(context.of_board(board, "length"), context.of_board(board, "width"))
    )


def _within(needed: FloatArray, limit: FloatArray | None) -> tuple[FloatArray, BoolArray]:
    if limit is None:
        return np.where(np.isinf(needed), 0.0, needed), np.isfinite(needed)
    return lower_of(needed, limit), needed <= limit


def board_cycle(context: Context, board: BoardType, fit: LoadFit, wash: WashStage, rinse: RinseStage,
                dry: DryStage) -> BoardCycle:  # fmt: skip
    """Put the stages together.

    Parameters
    ----------
    context : Context
    board : BoardType
    fit : LoadFit
    wash, rinse, dry : stages
        Their needed times and limits, per draw.

    Returns
    -------
    BoardCycle

    Notes
    -----
    Batch: stages one after the other. Inline: one belt speed serves all zones, so the stage that asks for the slowest
    belt sets it, between the belt's own limits.
    """
    inputs = context.inputs
    zeros = np.zeros(context.draws)
    assert wash.outcome is not None  # stages after the wash are computed only where the wash is
    wash_s, wash_fits = _within(wash.outcome.needed_time_s, wash.max_time_s)
    dry_s, dry_fits = _within(dry.needed_time_s, dry.max_time_s)
    rinse_fits = np.isfinite(rinse.rinses)
    handling = inputs.draws("running.load_unload_time")
    handling = zeros if handling is None else handling
    fill = inputs.draws("wash.fill_and_heat_time")
    fill = zeros if fill is None else fill
    exists = wash_fits & dry_fits & rinse_fits
    limiting = _limiting(
        {"wash": wash_s, "rinse": rinse.time_s, "dry": dry_s},
        {"wash": wash_fits, "rinse": rinse_fits, "dry": dry_fits},
    )
    if context.machine.moving == "inline":
        return _belt_cycle(context, board, fit, wash_s, rinse.time_s, dry_s, handling, exists, limiting)
    total = fill + wash_s + rinse.time_s + dry_s + handling
    return BoardCycle(
        wash_s=wash_s, rinse_s=rinse.time_s, dry_s=dry_s, fill_s=fill, handling_s=handling, total_s=total,
        occupied_s=total if total.min() >= 1.0 else np.maximum(total, 1.0),
        boards_per_load=boards_together(context, board, fit, "wash"),
        boards_that_fit=fit.boards_per_load, belt_speed_m_s=None, exists=exists, limiting=limiting,
    )  # fmt: skip


def _belt_cycle(context: Context, board: BoardType, fit: LoadFit, wash_s: FloatArray, rinse_s: FloatArray,
                dry_s: FloatArray, handling: FloatArray,
                exists: BoolArray, limiting: str) -> BoardCycle:  # fmt: skip
    inputs = context.inputs
    wash_zone = inputs.needed("chamber.wash_zone_length")
    rinse_zone, dry_zone = inputs.draws("chamber.rinse_zone_length"), inputs.draws("chamber.dry_zone_length")
    slowest, fastest = inputs.needed("chamber.belt_min_speed"), inputs.draws("chamber.belt_max_speed")
    speed = wash_zone / np.maximum(wash_s, 1e-3)
    for zone, time in ((rinse_zone, rinse_s), (dry_zone, dry_s)):
        if zone is not None:
            speed = np.minimum(speed, zone / np.maximum(time, 1e-3))
    if fastest is not None:
        speed = np.minimum(speed, fastest)
    speed = np.maximum(speed, slowest)
    zeros = np.zeros(context.draws)
    times = [zeros if zone is None else zone / speed for zone in (wash_zone, rinse_zone, dry_zone)]
    pitch = belt_pitch_m(context, board)
    return BoardCycle(
        wash_s=times[0], rinse_s=times[1], dry_s=times[2], fill_s=zeros, handling_s=handling,
        total_s=times[0] + times[1] + times[2] + handling, occupied_s=pitch / speed,
        boards_per_load=context.full(float(fit.boards_per_load)), boards_that_fit=fit.boards_per_load,
        belt_speed_m_s=speed, exists=exists, limiting=limiting,
    )  # fmt: skip


def _limiting(times: dict[str, FloatArray], fits: dict[str, BoolArray]) -> str:
    worst = min(fits, key=lambda stage: share_true(fits[stage]))
    if share_true(fits[worst]) < 0.5:
        return worst
    return max(times, key=lambda stage: median(times[stage]))
