"""How far the weights may move, one by one or together, before the leader changes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg import block_diag
from scipy.optimize import linprog, nnls

from model.dominance import SOLVER_TOLERANCE, largest_difference, potential_optimality

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]
BoolArray = npt.NDArray[np.bool_]

NOBODY = -1
"""Stands for a candidate where there is none."""

ROUNDING_SHARE = 1e-12
"""A value below this share of the largest gain is rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightIntervals:
    """Interval of each weight in which the leader stays; the other weights keep their proportions."""

    leader: int
    """Position of the leader; -1 if there are no candidates."""
    low: FloatArray
    """Lowest weight, share 0-1, shape (criteria,); 0 if nothing takes over below."""
    high: FloatArray
    """Highest weight, share 0-1, shape (criteria,); 1 if nothing takes over above."""
    takes_over_below: IntArray
    """Candidate that overtakes below `low`, shape (criteria,); -1 if none."""
    takes_over_above: IntArray
    """Candidate that overtakes above `high`, shape (criteria,); -1 if none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallestChange:
    """Smallest joint change of weights that brings each candidate level with its opponents."""

    possible: BoolArray
    """Whether any weights do it, shape (candidates,)."""
    moved_share: FloatArray
    """Share of the total weight that must move from some criteria to others (half the sum of absolute
    changes), shape (candidates,); infinite if impossible, 0 for the leader."""
    weights_least_moved: FloatArray
    """Weights with the least moved share, shape (candidates, criteria); NaN if impossible."""
    distance: FloatArray
    """Least Euclidean distance between weights, shape (candidates,); infinite if impossible."""
    weights_nearest: FloatArray
    """Weights at that distance, shape (candidates, criteria); NaN if impossible."""
    methods_agree: bool
    """Whether both methods agree on what is possible and on d ≤ moved·2, moved·2 ≤ Σ|change of the
    nearest|."""


def weight_intervals(values: FloatArray, weights: FloatArray) -> WeightIntervals:
    """Give the exact interval of each weight in which the leader stays.

    Parameters
    ----------
    values : ndarray, shape (candidates, criteria)
        Value 0-1.
    weights : ndarray, shape (criteria,)
        Shares that add up to 1.

    Returns
    -------
    WeightIntervals
        Both ends for each criterion and who takes over there.

    Raises
    ------
    ValueError
        Shapes do not fit, values not finite, or weights negative or not adding up to 1.

    Notes
    -----
    With weight t on criterion k, lead over j is t a + (1 − t) b, a = v_Lk − v_jk, b = lead on the other
    criteria in their present proportions; it vanishes at t = b / (b − a). Exact because it is linear in t. If
    one weight is 1, the others have no proportions and are taken as equal. Level with the leader counts as
    staying. The change δ = t − w_k is that of Triantaphyllou & Sánchez 1997 (from memory) when the others are
    rescaled.

    Examples
    --------
    >>> result = weight_intervals(np.array([[1.0, 0.0], [0.0, 1.0]]), np.array([0.7, 0.3]))
    >>> result.low.tolist(), result.high.tolist()
    ([0.5, 0.0], [1.0, 0.5])

    """
    table, share = _checked(values, weights)
    candidates, criteria = table.shape
    low, high = np.zeros(criteria), np.ones(criteria)
    below = np.full(criteria, NOBODY, dtype=np.intp)
    above = np.full(criteria, NOBODY, dtype=np.intp)
    if candidates == 0:
        return WeightIntervals(
            leader=NOBODY, low=low, high=high, takes_over_below=below, takes_over_above=above
        )
    leader = int(np.argmax(table @ share))
    lead = table[leader] - table
    for k in range(criteria):
        others = share.copy()
        others[k] = 0.0
        if others.sum() == 0.0 and criteria > 1:
            others = np.ones(criteria)
            others[k] = 0.0
        if criteria == 1:
            continue
        rest = lead @ (others / others.sum())
        own = lead[:, k]
        slope = own - rest
        crossing = np.divide(-rest, slope, out=np.full(candidates, np.nan), where=slope != 0.0)
        rising = np.flatnonzero((slope > 0.0) & (crossing > 0.0))
        falling = np.flatnonzero((slope < 0.0) & (crossing < 1.0))
        # min and max with the present weight: a tie today must not push the interval off today's weight.
        if rising.size:
            below[k] = rising[np.argmax(crossing[rising])]
            low[k] = min(float(crossing[below[k]]), float(share[k]))
        if falling.size:
            above[k] = falling[np.argmin(crossing[falling])]
            high[k] = max(float(crossing[above[k]]), float(share[k]))
    return WeightIntervals(leader=leader, low=low, high=high, takes_over_below=below, takes_over_above=above)


def smallest_change_to_overtake(values: FloatArray, weights: FloatArray) -> SmallestChange:
    """Give the smallest change of weights that makes each candidate at least as good as the present leader.

    Parameters
    ----------
    values : ndarray, shape (candidates, criteria)
        Value 0-1.
    weights : ndarray, shape (criteria,)
        Shares that add up to 1.

    Returns
    -------
    SmallestChange
        By moved share and by distance; a third candidate may still be better than both.

    Raises
    ------
    ValueError
        As `weight_intervals`.

    Notes
    -----
    Moved share: with d = v_r − v_L the cheapest way to raise d·w by moving weight is to give to the criterion
    of largest d and to take first from the smallest d: the exact solution of the LP min ½Σ|w′−w|, a
    continuous knapsack. Distance: `nearest_weights`. Impossible exactly when max d < 0: the leader is then
    better on every criterion.

    Examples
    --------
    >>> change = smallest_change_to_overtake(np.array([[1.0, 0.0], [0.0, 1.0]]), np.array([0.7, 0.3]))
    >>> change.moved_share.round(9).tolist()
    [0.0, 0.2]

    """
    table, share = _checked(values, weights)
    leader = np.argsort(-(table @ share), kind="stable")[:1]  # none in an empty table
    gain = table - table[leader]
    moved = np.array([_least_moved(row, share) for row in gain])
    return _change(share, moved, list(gain[:, None]))


def smallest_change_to_be_first(values: FloatArray, weights: FloatArray) -> SmallestChange:
    """Give the smallest change of weights that makes each candidate at least as good as all others.

    Parameters as in `smallest_change_to_overtake`; where it is impossible, `potential_optimality` gives the proof.

    Raises
    ------
    ValueError
        As `weight_intervals`; RuntimeError if the LP solver fails.

    Notes
    -----
    Moved share: LP min Σ u_k subject to w + u − d ≥ 0, Σu = Σd, (v_r − v_j)·(w + u − d) ≥ 0, u, d ≥ 0, all
    candidates in one block-diagonal problem (HiGHS). Distance: `nearest_weights`.

    """
    table, share = _checked(values, weights)
    gains = [row - np.delete(table, place, axis=0) for place, row in enumerate(table)]
    return _change(share, _least_moved_to_be_first(table, gains, share), gains)


def _least_moved_to_be_first(table: FloatArray, gains: list[FloatArray], share: FloatArray) -> FloatArray:
    """Give the weights with the least moved share for each candidate, NaN if impossible, by one LP for all."""
    criteria = share.size
    moved = np.full(table.shape, np.nan)
    if len(table) == 0:
        return moved
    scale = largest_difference(table)
    feasible = np.flatnonzero(potential_optimality(table).potentially_first)
    blocks, bounds = [], []
    for r in feasible:
        gain = gains[r] / scale
        # Unknown: weight given to, weight taken from each criterion.
        blocks.append(np.block([[-gain, gain], [-np.eye(criteria), np.eye(criteria)]]))
        bounds.append(np.concatenate([gain @ share + 2.0 * SOLVER_TOLERANCE, share]))
    one = np.concatenate([np.ones(criteria), -np.ones(criteria)])[None]
    solution = linprog(
        np.ones(2 * criteria * feasible.size),
        A_ub=block_diag(*blocks),
        b_ub=np.concatenate(bounds),
        A_eq=block_diag(*([one] * feasible.size)),
        b_eq=np.zeros(feasible.size),
        bounds=(0.0, 1.0),
        method="highs",
        options={
            "primal_feasibility_tolerance": SOLVER_TOLERANCE,
            "dual_feasibility_tolerance": SOLVER_TOLERANCE,
        },
    )
    if solution.x is None:
        raise RuntimeError(f"The LP for the smallest change of weights was not solved: {solution.message}")
    parts = solution.x.reshape(feasible.size, 2, criteria)
    moved[feasible] = share + parts[:, 0] - parts[:, 1]
    return moved


def nearest_weights(gain: FloatArray, weights: FloatArray) -> FloatArray:
    """Give the weights nearest to the present ones for which no gain is negative.

    Parameters
    ----------
    gain : ndarray, shape (opponents, criteria)
        Value of the candidate less value of each opponent.
    weights : ndarray, shape (criteria,)
        Present shares.

    Returns
    -------
    ndarray, shape (criteria,)
        Nearest weights (Euclidean); NaN if no weights do it.

    Notes
    -----
    min |z| subject to G z ≥ h, with z the change in an orthonormal basis of {Σ change = 0}: least-distance
    programming through one non-negative least-squares problem; a zero residual of that problem is the proof
    that the conditions contradict each other (Lawson & Hanson 1974, chapter 23, from memory).

    """
    criteria = weights.size
    # Columns 1… of a Householder basis of the vector of ones span the changes that keep the sum at 1.
    basis = np.linalg.qr(np.column_stack([np.ones(criteria), np.eye(criteria)[:, 1:]]))[0][:, 1:]
    largest = float(np.abs(gain).max(initial=0.0))
    conditions = np.concatenate([gain / largest if largest > 0.0 else gain, np.eye(criteria)])
    needed = -conditions @ weights
    if needed.max() <= 0.0:
        return weights.copy()
    needed[: len(gain)] -= 2.0 * SOLVER_TOLERANCE
    system = np.concatenate([(conditions @ basis).T, needed[None]])
    target = np.zeros(criteria)
    target[-1] = 1.0
    multipliers, residual_norm = nnls(system, target)
    # The squared residual is 1 / (1 + distance²), and no two weight vectors are more than √2 apart.
    if residual_norm**2 < 0.1:
        return np.full(criteria, np.nan)
    residual = system @ multipliers - target
    nearest: FloatArray = np.clip(weights + basis @ (-residual[:-1] / residual[-1]), 0.0, 1.0)
    return nearest


def _checked(values: FloatArray, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    table = np.asarray(values, dtype=np.float64)
    share = np.asarray(weights, dtype=np.float64)
    if table.ndim != 2 or share.shape != (table.shape[1],) or share.size == 0:
        raise ValueError(
            f"Values have shape {table.shape}, weights {share.shape}. Give one weight for each criterion."
        )
    if not np.isfinite(table).all():
        raise ValueError("A value is not a finite number. Leave out candidates without a value.")
    if not np.all(share >= 0.0) or abs(float(share.sum()) - 1.0) > 1e-6:
        raise ValueError(
            f"The weights add up to {share.sum():.6g} or one is negative. Give shares that add up to 1."
        )
    return table, share / share.sum()


def _least_moved(gain: FloatArray, weights: FloatArray) -> FloatArray:
    lacking = -float(gain @ weights)
    result = weights.copy()
    if lacking <= 0.0:
        return result
    receiver = int(np.argmax(gain))
    if gain[receiver] < 0.0:
        return np.full(weights.size, np.nan)
    # What rounding leaves lacking must not be fetched from a criterion that is worth as much but for rounding.
    room = ROUNDING_SHARE * float(np.abs(gain).max())
    for giver in np.argsort(gain, kind="stable"):
        worth = float(gain[receiver] - gain[giver])
        if lacking <= room or worth <= room:
            break
        amount = min(float(weights[giver]), lacking / worth)
        result[giver] -= amount
        result[receiver] += amount
        lacking -= amount * worth
    return result


def _change(share: FloatArray, moved: FloatArray, gains: list[FloatArray]) -> SmallestChange:
    """Put the weights with the least moved share beside the nearest ones; `gains` holds the leads by opponent."""
    moved = moved.reshape(-1, share.size)  # also where there is no candidate
    nearest = np.array([nearest_weights(gain, share) for gain in gains]).reshape(moved.shape)
    possible: BoolArray = np.isfinite(moved[:, 0])
    sum_moved = np.where(possible, np.abs(moved - share).sum(axis=1), np.inf)
    nearest_possible: BoolArray = np.isfinite(nearest[:, 0])
    distance = np.where(nearest_possible, np.sqrt(((nearest - share) ** 2).sum(axis=1)), np.inf)
    sum_nearest = np.where(nearest_possible, np.abs(nearest - share).sum(axis=1), np.inf)
    least_distance_of_moved = np.where(possible, np.sqrt(((moved - share) ** 2).sum(axis=1)), np.inf)
    room = 1e-6
    agree = np.array_equal(possible, nearest_possible) and bool(
        np.all(sum_moved[possible] <= sum_nearest[possible] + room)
        and np.all(distance[possible] <= least_distance_of_moved[possible] + room)
    )
    return SmallestChange(
        possible=possible,
        moved_share=0.5 * sum_moved,
        weights_least_moved=moved,
        distance=distance,
        weights_nearest=nearest,
        methods_agree=agree,
    )
