"""Solving backwards: the least pressure or time that is enough in a wanted share of the draws."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from catalog_schema.boards import BoardType, ComponentKind, FluxKind
from model.clearing import ResidueFigures, front_speed_m_s, needed_time_s, soak_coefficient_m_s05
from model.context import Context
from model.demand_records import rank_of
from model.fluid_state import FluidState, residue_state
from model.gap import GapFigures, GapState, entry_pressure_Pa
from model.uncertainty import FloatArray, part_of

LEAST_PRESSURE_Pa = 1.0
"""Where this is enough the answer is 0: standing fluid does it alone."""
GREATEST_PRESSURE_Pa = 1e7
"""Where this is not enough the answer is infinite: 100 bar across a gap is beyond any washer for boards."""

_GREATEST_LOG = 60.0
_TOLERANCE = 1e-7


def least_that_serves(margin: Callable[[float], FloatArray], share: float, least: float, greatest: float) -> float:
    """Find the least value at which something is enough in a share of the draws.

    Parameters
    ----------
    margin : callable
        Gives for a value above 0 the margin of every draw, shape (draws,): 0 or more where the value is enough;
        rising with the value, jumps allowed.
    share : float
        Share of the draws, 0 to 1.
    least, greatest : float
        Values to search between, above 0.

    Returns
    -------
    float
        0 where `least` is enough, infinite where `greatest` is not.

    Raises
    ------
    ValueError
        When the share or the bounds are out of range.

    Notes
    -----
    Brent's method on the logarithm of the value, for the order statistic of the margins that the share picks. As each
    margin rises, this is the same order statistic of the values that each draw needs by itself.

    >>> round(least_that_serves(lambda x: x - np.array([1.0, 2.0, 4.0]), 0.5, 1e-3, 1e3), 5)
    2.0
    """
    if not 0.0 <= share <= 1.0:
        raise ValueError(f"share is {share:g}. Give a share from 0 to 1.")
    if not 0.0 < least < greatest:
        raise ValueError(f"the search runs from {least:g} to {greatest:g}. Give bounds above 0 and in order.")

    def served(logarithm: float) -> float:
        margins = np.sort(np.clip(margin(float(np.exp(logarithm))), -_GREATEST_LOG, _GREATEST_LOG))
        middle = float(margins[margins.size - 1 - rank_of(margins.size, share)])
        # Just enough is enough: where a margin stays at 0 for a while, a root might lie anywhere on that stretch.
        return middle if middle != 0.0 else _TOLERANCE

    low, high = float(np.log(least)), float(np.log(greatest))
    if served(low) >= 0.0:
        return 0.0
    if served(high) < 0.0:
        return float("inf")
    # The root may lie a tolerance below a jump; one tolerance above it the value is surely enough.
    return float(np.exp(brentq(served, low, high, xtol=_TOLERANCE) + 2.0 * _TOLERANCE))


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearingTask:
    """Residue under one component kind in one fluid, over draws."""

    kind: ComponentKind
    """The component kind."""
    gap: GapFigures
    """Gap and fluid."""
    residue: ResidueFigures
    """What is to be cleared."""
    open_share: FloatArray
    """Share of the edge left open, shape (draws,)"""
    depth_m: FloatArray
    """m, depth to clear, shape (draws,)"""

    def first(self, draws: int) -> ClearingTask:
        """Keep the first draws only, as a random sample of them."""
        few = slice(draws)
        return ClearingTask(
            kind=self.kind, gap=part_of(GapFigures, self.gap, few), residue=part_of(ResidueFigures, self.residue, few),
            open_share=self.open_share[few], depth_m=self.depth_m[few],
        )  # fmt: skip

    def time_s(self, pressure_Pa: FloatArray | float, duty_share: float) -> FloatArray:
        """Wash time needed under a pressure that acts for a share of the time, s, shape (draws,)."""
        pressure = np.broadcast_to(np.asarray(pressure_Pa, dtype=np.float64), self.depth_m.shape)
        speed = duty_share * front_speed_m_s(pressure * self.open_share, self.gap, self.residue)
        soak = soak_coefficient_m_s05(self.gap, self.residue, pressure)
        return needed_time_s(self.depth_m, speed, soak)


def clearing_tasks(context: Context, board: BoardType, flux: FluxKind, state: FluidState) -> tuple[ClearingTask, ...]:
    """Set up the clearing under every component kind of a board type in one fluid."""
    residue = residue_state(state, flux, board, context.constant("hardening_time_scale"), context.inputs.book)
    return tuple(
        ClearingTask(
            kind=kind, gap=_gap_state(context, kind, state), residue=residue,
            open_share=context.of_kind(kind, "open_edge_share"),
            depth_m=context.of_kind(kind, "flux_path") * context.of_board(board, "cleared_share_needed"),
        )
        for kind in (context.kinds[component.kind] for component in board.components)
    )  # fmt: skip


def _gap_state(context: Context, kind: ComponentKind, state: FluidState) -> GapState:
    gap_m = context.of_kind(kind, "gap")
    entry = entry_pressure_Pa(
        state.surface_tension_N_m, state.contact_angle_component_rad, state.contact_angle_board_rad, gap_m
    )
    return GapState(
        gap_m=gap_m, flow_length_m=context.of_kind(kind, "body_length"), viscosity_Pa_s=state.viscosity_Pa_s,
        density_kg_m3=state.density_kg_m3, diffusivity_m2_s=state.diffusivity_m2_s, entry_pressure_Pa=entry,
        end_loss_coefficient=context.constant("gap_end_loss"),
    )  # fmt: skip


SCREENING_DRAWS = 64
"""Draws used to rank component kinds; a random sample, since columns are permuted independently."""


def hardest_first(tasks: tuple[ClearingTask, ...], wash_time_s: float, duty_share: float,
                  share: float) -> tuple[ClearingTask, ...]:  # fmt: skip
    """Sort clearing tasks by the pressure that each needs in a share of some draws, the greatest first."""

    def need(task: ClearingTask) -> tuple[float, float]:
        # Where both need nothing, or too much, the one that takes longer under little pressure counts as harder.
        few = task.first(SCREENING_DRAWS)
        slow = float(np.median(few.time_s(LEAST_PRESSURE_Pa, duty_share)))
        return pressure_needed_Pa((few,), wash_time_s, duty_share, share), slow

    return tuple(sorted(tasks, key=need, reverse=True))


def pressure_needed_Pa(tasks: tuple[ClearingTask, ...], wash_time_s: float, duty_share: float, share: float,
                       multiplier: FloatArray | float = 1.0) -> float:  # fmt: skip
    """Find the pressure that clears under all component kinds in a wash time, in a share of the draws.

    Parameters
    ----------
    tasks : tuple of ClearingTask
    wash_time_s : float
        s, above 0.
    duty_share : float
        Share of that time in which the pressure acts, above 0 and at most 1.
    share : float
        Share of the draws.
    multiplier : ndarray (draws,) or float
        Pressure across the gap over the pressure sought: κ² turns a stream's dynamic pressure into it.

    Returns
    -------
    float
        Pa; 0 where standing fluid clears alone, infinite above `GREATEST_PRESSURE_Pa`.

    Raises
    ------
    ValueError
        When a time or share is out of range.

    Notes
    -----
    Same clearing law as in a machine (`model.clearing`): depth = duty·v_f(p)·t + a√t, with the open share of the edge;
    v_f never falls with p, so the least pressure is unique. A machine's own spread of pressures over place and time is
    left to its supplier: this is one steady pressure for one share of the time.
    """
    if not (np.isfinite(wash_time_s) and wash_time_s > 0.0):
        raise ValueError(f"wash time is {wash_time_s:g} s. Give a time above 0.")
    if not 0.0 < duty_share <= 1.0:
        raise ValueError(f"duty is {duty_share:g}. Give a share above 0 and up to 1.")

    def margin(pressure_Pa: float) -> FloatArray:
        longest = np.max([task.time_s(pressure_Pa * multiplier, duty_share) for task in tasks], axis=0)
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(wash_time_s) - np.log(longest))

    return least_that_serves(margin, share, LEAST_PRESSURE_Pa, GREATEST_PRESSURE_Pa)
