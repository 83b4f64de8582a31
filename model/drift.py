"""How far one number, such as the yearly volume, may drift before another candidate leads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

FloatArray = npt.NDArray[np.float64]
ScoreFunction = Callable[[FloatArray], FloatArray]

NOBODY = -1
"""Stands for the leader where no candidate has a score."""

LARGEST_DEPTH = 40
"""Most times a cell of the grid is divided: halving as often leaves 1e-12 of the cell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaderInterval:
    """A stretch of the knob with one leader."""

    low: float
    """Lower end, units of the knob."""
    high: float
    """Upper end, units of the knob."""
    leader: int
    """Position of the leader; -1 if no candidate has a score there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """Leaders along the knob and where they change, seen from the present setting."""

    intervals: tuple[LeaderInterval, ...]
    """Stretches in rising order that cover the whole range."""
    crossings: tuple[float, ...]
    """Settings at which the leader changes, units of the knob, rising; one fewer than `intervals`."""
    leader_now: int
    """Leader at the present setting; -1 if none."""
    drift_down: float
    """How far the knob may fall before the leader changes, units of the knob; infinite if not within the
    range."""
    drift_up: float
    """How far the knob may rise before the leader changes, units of the knob; infinite if not within the
    range."""
    takes_over_below: int
    """Leader just below the lower crossing; -1 if there is no such crossing or nobody leads there."""
    takes_over_above: int
    """Leader just above the upper crossing; -1 if there is no such crossing or nobody leads there."""


def leader_drift(
    scores_at: ScoreFunction, low: float, high: float, present: float, *, grid_points: int = 61
) -> Drift:
    """Find where along a knob the leader changes and who takes over.

    Parameters
    ----------
    scores_at : callable
        Takes settings of shape (m,), gives scores of shape (m, candidates), more is better; NaN where a
        candidate is ruled out at that setting.
    low, high : float
        Range of the knob, any unit.
    present : float
        Present setting, within the range.
    grid_points : int
        Settings looked at first, spread evenly, besides the present one.

    Returns
    -------
    Drift
        Intervals, crossings and the allowed drift either way.

    Raises
    ------
    ValueError
        low not below high, present outside the range, fewer than 2 grid points, or scores of the wrong shape.

    Notes
    -----
    Where neighbouring grid points have different leaders a and b, the root of s_a − s_b is found with Brent's
    method; if a third candidate leads there, both parts are searched again. Where a score starts or stops
    (NaN), the change is found by halving. Ties go to the candidate listed first. A lead that begins and ends
    between two neighbouring grid points is missed: use more points for scores that wiggle.

    Examples
    --------
    >>> lines = lambda t: np.stack([t, 0.5 + 0.0 * t], axis=1)
    >>> result = leader_drift(lines, 0.0, 1.0, 0.8)
    >>> [round(x, 9) for x in result.crossings], round(result.drift_down, 9), result.takes_over_below
    ([0.5], 0.3, 1)

    """
    if not (np.isfinite(low) and np.isfinite(high)) or not low < high:
        raise ValueError(f"The range {low:g} to {high:g} is empty. Give a lower end below the upper end.")
    if not low <= present <= high:
        raise ValueError(f"The present setting {present:g} is outside {low:g} to {high:g}. Widen the range.")
    if grid_points < 2:
        raise ValueError(f"{grid_points} grid points cannot span a range. Give at least 2.")
    grid = np.unique(np.append(np.linspace(low, high, grid_points), present))
    table: FloatArray = np.asarray(scores_at(grid), dtype=np.float64)
    if table.ndim != 2 or table.shape[0] != grid.size:
        raise ValueError(
            f"Scores have shape {table.shape} for {grid.size} settings. Give (settings, candidates)."
        )
    leaders = [_leader(row) for row in table]
    changes: list[tuple[float, int]] = []
    for i in range(grid.size - 1):
        if leaders[i] != leaders[i + 1]:
            changes += _changes(
                scores_at, float(grid[i]), float(grid[i + 1]), table[i], table[i + 1], LARGEST_DEPTH
            )
    intervals = _intervals(low, high, leaders[0], changes)
    now = leaders[int(np.searchsorted(grid, present))]
    return _seen_from(intervals, present, now)


def _leader(scores: FloatArray) -> int:
    if scores.size == 0 or np.all(np.isnan(scores)):
        return NOBODY
    return int(np.nanargmax(scores))


def _row(scores_at: ScoreFunction, setting: float) -> FloatArray:
    row: FloatArray = np.asarray(scores_at(np.array([setting])), dtype=np.float64)[0]
    return row


def _changes(
    scores_at: ScoreFunction,
    left: float,
    right: float,
    left_scores: FloatArray,
    right_scores: FloatArray,
    depth: int,
) -> list[tuple[float, int]]:
    """List the settings in (left, right] from which on another candidate leads, with that candidate."""
    before, after = _leader(left_scores), _leader(right_scores)
    if before == after:
        return []
    touching = np.nextafter(left, right) >= right
    if depth == 0 or touching:
        return [(right, after)]
    if _smooth(left_scores, right_scores, before, after):

        def lead(setting: float) -> float:
            row = _row(scores_at, setting)
            return float(row[before] - row[after])

        if lead(left) == 0.0:
            return [(left, after)]
        if lead(right) == 0.0:
            return [(right, after)]
        try:
            middle = float(brentq(lead, left, right, xtol=1e-12 * max(abs(left), abs(right)), rtol=1e-12))
        except ValueError:  # a score that stops inside the cell: brentq met NaN
            middle = 0.5 * (left + right)
            return _divide(scores_at, left, middle, right, left_scores, right_scores, depth)
        scores = _row(scores_at, middle)
        top = np.nanmax(scores)
        room = 1e-9 * max(1.0, abs(float(top)))
        if scores[before] >= top - room or scores[after] >= top - room:
            return [(middle, after)]
    else:
        middle = 0.5 * (left + right)
    return _divide(scores_at, left, middle, right, left_scores, right_scores, depth)


def _divide(
    scores_at: ScoreFunction,
    left: float,
    middle: float,
    right: float,
    left_scores: FloatArray,
    right_scores: FloatArray,
    depth: int,
) -> list[tuple[float, int]]:
    scores = _row(scores_at, middle)
    return [
        *_changes(scores_at, left, middle, left_scores, scores, depth - 1),
        *_changes(scores_at, middle, right, scores, right_scores, depth - 1),
    ]


def _smooth(left_scores: FloatArray, right_scores: FloatArray, before: int, after: int) -> bool:
    if NOBODY in (before, after):
        return False
    pair = [before, after]
    return bool(np.isfinite(left_scores[pair]).all() and np.isfinite(right_scores[pair]).all())


def _intervals(
    low: float, high: float, first: int, changes: list[tuple[float, int]]
) -> tuple[LeaderInterval, ...]:
    intervals: list[LeaderInterval] = []
    start, leader = low, first
    for setting, following in changes:
        if following == leader:
            continue
        if setting > start:
            intervals.append(LeaderInterval(low=start, high=setting, leader=leader))
        start, leader = setting, following
    if start < high or not intervals:
        intervals.append(LeaderInterval(low=start, high=high, leader=leader))
    merged: list[LeaderInterval] = []
    for part in intervals:
        if merged and merged[-1].leader == part.leader:
            part = LeaderInterval(low=merged.pop().low, high=part.high, leader=part.leader)
        merged.append(part)
    return tuple(merged)


def _seen_from(intervals: tuple[LeaderInterval, ...], present: float, now: int) -> Drift:
    holding = [i for i, part in enumerate(intervals) if part.low <= present <= part.high]
    # At a crossing two stretches hold the setting: take the one of the candidate that leads there.
    place = next((i for i in holding if intervals[i].leader == now), holding[0])
    here = intervals[place]
    has_below, has_above = place > 0, place < len(intervals) - 1
    return Drift(
        intervals=intervals,
        crossings=tuple(part.high for part in intervals[:-1]),
        leader_now=now,
        drift_down=present - here.low if has_below else float("inf"),
        drift_up=here.high - present if has_above else float("inf"),
        takes_over_below=intervals[place - 1].leader if has_below else NOBODY,
        takes_over_above=intervals[place + 1].leader if has_above else NOBODY,
    )
