"""Drying of one board type in one machine: film, water under components, laminate, and what limits it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.boards import BoardType, ComponentKind
from model.context import Context, LaminateState
from model.dry_course import WetBoards, dry_boards, dryer_kind, drying_air_K, longest_dry_s, slowest_to_dry
from model.laminate import BakeSuggestion
from model.phrase import phrase
from model.requirements import Judged, Subject, judge_fact, judge_number
from model.uncertainty import FloatArray, low_middle_high, median


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


def dry_stage(context: Context, wet: WetBoards) -> DryStage:
    """Judge the drying; what `model.board_process` has dried together with other board types is taken from there.

    Parameters
    ----------
    context : Context
    wet : WetBoards

    Returns
    -------
    DryStage

    Raises
    ------
    MissingInputError, ValueError
        When an input is missing or contradicts itself.

    Notes
    -----
    Air is turned down to what the board stands. Hot air and blow-off: `dry_time_needed`; vacuum: `vacuum_drying`;
    standing or vapour: `passive_dry_outcome`; none: never dry. Gaps are judged under the component kind that dries
    last, the laminate only where the board has a limit.
    """
    board = wet.board
    subject = Subject(machine_id=context.machine.id, board_id=board.id, fluid_id=wet.fluid.id)
    dryer_kind(context)  # said before anything else when it is not known
    if wet.key not in context.dried:
        context.dried.update(dry_boards(context, {wet.key: wet}))
    dried, slowest = context.dried[wet.key], slowest_to_dry(context, board)
    max_time, air_K = longest_dry_s(context), drying_air_K(context, board)
    judged = [_dry(context, subject, dried.needed_time_s, max_time, dried.limited_by, slowest)]
    if dried.laminate is not None:
        judged.append(_laminate(context, board, subject, dried.laminate, air_K))
    return DryStage(
        judged=tuple(judged), needed_time_s=dried.needed_time_s, max_time_s=max_time, limited_by=dried.limited_by,
        air_temperature_K=air_K, slowest=slowest, bake=None if dried.laminate is None else dried.laminate.bake,
    )  # fmt: skip


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
            bake=(median(air_K), "temperature"), extra=(median(np.asarray(state.bake.time_s)), "long time"),
        ),
    )  # fmt: skip
