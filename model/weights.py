"""Weights: four ways to elicit them, and one slider at a time."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from model.ranking import checked_weights

RANDOM_INDEX = {
    3: 0.58, 4: 0.90, 5: 1.12, 6: 1.24, 7: 1.32, 8: 1.41, 9: 1.45,
    10: 1.49, 11: 1.51, 12: 1.48, 13: 1.56, 14: 1.57, 15: 1.59,
}  # fmt: skip
"""Mean consistency index of random judgement matrices by number of criteria (see `RANDOM_INDEX_TABLE`)."""

RANDOM_INDEX_TABLE = "Saaty 1980 (500 random matrices per size), as commonly reprinted; original not seen"
"""Which random-index table the consistency ratio uses; later tables differ in the third figure."""

RECIPROCAL_TOLERANCE = 1e-6
"""Relative error allowed between a judgement and the reciprocal of its mirror image (rounding only)."""

CONSISTENT_FACTOR = 1.0 + 1e-9
"""A triad whose stated and implied ratios differ by less than this factor is consistent up to rounding."""


def direct_weights(ratings: ArrayLike) -> NDArray[np.float64]:
    """Weights proportional to the numbers given.

    Parameters
    ----------
    ratings
        One number ≥ 0 per criterion, any common scale, shape (criteria,). Zero leaves a criterion without
        say.

    Returns
    -------
    Shares that sum to 1, shape (criteria,).

    Errors
    ------
    ValueError if there are no ratings, one is missing (NaN), negative or infinite, or all are zero.

    >>> direct_weights([3.0, 1.0, 0.0]).tolist()
    [0.75, 0.25, 0.0]

    """
    numbers = np.asarray(ratings, dtype=np.float64)
    if numbers.ndim != 1 or numbers.size == 0:
        raise ValueError("Give one number for each criterion; none were given.")
    if np.isnan(numbers).any():
        missing = ", ".join(str(position + 1) for position in np.flatnonzero(np.isnan(numbers)))
        raise ValueError(f"Criterion {missing} has no rating yet. Rate it, or give 0 to leave it out.")
    if not np.isfinite(numbers).all() or (numbers < 0.0).any():
        raise ValueError("Ratings must be finite and not negative.")
    if not numbers.any():
        raise ValueError("All ratings are zero. At least one criterion must count.")
    # Dividing by the largest first keeps very large and very small ratings within the floating range.
    scaled = numbers / numbers.max()
    return np.asarray(scaled / math.fsum(scaled))


def swing_weights(swings: ArrayLike) -> NDArray[np.float64]:
    """Weights from swing ratings: how much it matters to go from worst to best on each criterion.

    Parameters
    ----------
    swings
        Rating ≥ 0 of each criterion's swing from worst to best, the most important usually 100, shape
        (criteria,).

    Returns
    -------
    Shares that sum to 1, shape (criteria,).

    Errors
    ------
    ValueError as in `direct_weights`.

    Notes
    -----
    w_j = s_j / Σ s. The arithmetic equals direct weighting; the question differs: swings are judged over the
    range between the end points of each value function, so moving those end points asks for a new rating.
    Reference: Goodwin & Wright, Decision Analysis for Management Judgment, office-location example (Figure
    3.5).

    >>> swing_weights([100, 80, 70, 30, 20, 10]).round(2).tolist()
    [0.32, 0.26, 0.23, 0.1, 0.06, 0.03]

    """
    return direct_weights(swings)


def rank_order_centroid(importance_ranks: ArrayLike) -> NDArray[np.float64]:
    """Weights from the order of importance alone: the centre of all weights that respect the order.

    Parameters
    ----------
    importance_ranks
        Rank of each criterion, 1 the most important, shape (criteria,). Equal ranks mean that the order
        between those criteria is not stated; 0 leaves a criterion out (weight 0). Only the order of the
        numbers counts.

    Returns
    -------
    Shares that sum to 1, shape (criteria,).

    Errors
    ------
    ValueError if there are no ranks, one is missing, negative or infinite, or all criteria are left out.

    Notes
    -----
    w_(k) = (1/n) Σ_{i=k..n} 1/i for the k-th of n ranked criteria. Criteria of equal rank share the mean of
    the places they occupy, which is the centroid when the order between them is open (not when they are
    declared exactly equal). Neglected: any strength of preference. Reference: Barron & Barrett 1996,
    formula as widely reprinted (original not seen).

    >>> rank_order_centroid([1, 2, 3]).round(4).tolist()
    [0.6111, 0.2778, 0.1111]

    """
    ranks = np.asarray(importance_ranks, dtype=np.float64)
    if ranks.ndim != 1 or ranks.size == 0:
        raise ValueError("Give one rank for each criterion; none were given.")
    if not np.isfinite(ranks).all() or (ranks < 0.0).any():
        raise ValueError("Every criterion needs a rank: 1 for the most important, or 0 to leave it out.")
    counted = np.flatnonzero(ranks > 0.0)
    if counted.size == 0:
        raise ValueError("All criteria are left out. At least one criterion must have a rank.")
    by_place = np.cumsum(1.0 / np.arange(counted.size, 0, -1))[::-1] / counted.size
    weights = np.zeros(ranks.size)
    for shared_rank in np.unique(ranks[counted]):
        first = int((ranks[counted] < shared_rank).sum())
        last = int((ranks[counted] <= shared_rank).sum())
        weights[ranks == shared_rank] = by_place[first:last].mean()
    return weights


@dataclass(frozen=True, slots=True, kw_only=True)
class InconsistentTriad:
    """The three pairwise judgements that contradict each other most."""

    criteria: tuple[int, int, int]
    """Positions i < j < k of the three criteria."""
    stated_ratio: float
    """How many times as important i is than k, as judged directly."""
    implied_ratio: float
    """The same ratio implied by the two judgements over j (i over j, times j over k)."""

    def sentence(self, criterion_names: Sequence[str]) -> str:
        """Say in words which judgements contradict each other."""
        i, j, k = (criterion_names[position] for position in self.criteria)
        return (
            f"The judgements on {i}, {j} and {k} contradict each other most: {i} was judged "
            f"{self.stated_ratio:.3g} times as important as {k}, but the judgements over {j} imply "
            f"{self.implied_ratio:.3g} times."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PairwiseWeights:
    """Weights from pairwise judgements, with how consistent the judgements are."""

    weights: tuple[float, ...]
    """Shares that sum to 1, one per criterion."""
    missing_pairs: int
    """Number of pairs that were not judged."""
    principal_eigenvalue: float | None
    """Largest eigenvalue of the judgement matrix, n if fully consistent; None if a pair is missing."""
    consistency_ratio: float | None
    """(λ_max − n)/(n − 1) over the random index, usual limit 0.10; None if a pair is missing or n > 15."""
    random_index_table: str
    """Which random-index table was used."""
    worst_triad: InconsistentTriad | None
    """The most contradictory three judgements; None if there is no contradiction or no complete triad."""


def pairwise_weights(judgements: ArrayLike) -> PairwiseWeights:
    """Weights from a matrix of pairwise judgements by geometric means, with the consistency ratio.

    Parameters
    ----------
    judgements
        a_ij = how many times as important criterion i is than j, shape (criteria, criteria), ones on the
        diagonal. NaN where a pair was not judged; one of a_ij and a_ji is enough.

    Returns
    -------
    `PairwiseWeights`.

    Errors
    ------
    ValueError if the matrix is empty or not square, an entry is not positive, a pair is not reciprocal, or
    the judged pairs do not connect all criteria.

    Notes
    -----
    Weights minimise Σ (ln a_ij − ln w_i + ln w_j)² over the judged pairs; with all pairs judged this is
    exactly the geometric mean of each row. λ_max is the largest eigenvalue of the full matrix. For a full
    matrix of n ≤ 2 the ratio is 0. The triad reported has the largest |ln(a_ij a_jk / a_ik)|. Basis:
    Saaty's consistency ratio and Koczkodaj's triad (both from memory); logarithmic least squares for
    missing pairs (from memory).

    >>> result = pairwise_weights([[1, 3, 5], [1 / 3, 1, 3], [1 / 5, 1 / 3, 1]])
    >>> [round(weight, 5) for weight in result.weights], round(result.consistency_ratio, 4)
    ([0.63699, 0.25828, 0.10473], 0.0332)

    """
    logs = _checked_log_judgements(judgements)
    count = logs.shape[0]
    judged = ~np.isnan(logs)
    off_diagonal = judged & ~np.eye(count, dtype=np.bool_)
    laplacian = np.diag(off_diagonal.sum(axis=1)) - off_diagonal.astype(np.float64)
    if count > 1 and np.linalg.matrix_rank(laplacian) < count - 1:
        raise ValueError("Too few pairs are judged: judged pairs must link every criterion to every other.")
    row_sums = np.array([math.fsum(row[known]) for row, known in zip(logs, judged, strict=True)])
    log_weights = np.linalg.lstsq(laplacian, row_sums, rcond=None)[0]
    weights = direct_weights(np.exp(log_weights - log_weights.max()))
    missing = int((~judged).sum()) // 2
    eigenvalue: float | None = None
    ratio: float | None = None
    if missing == 0:
        eigenvalue = float(np.linalg.eigvals(np.exp(logs)).real.max())
        if count <= 2:
            ratio = 0.0
        elif count in RANDOM_INDEX:
            # Rounding can put the eigenvalue of a consistent matrix just below n.
            ratio = max(eigenvalue - count, 0.0) / (count - 1) / RANDOM_INDEX[count]
    return PairwiseWeights(
        weights=tuple(weights.tolist()),
        missing_pairs=missing,
        principal_eigenvalue=eigenvalue,
        consistency_ratio=ratio,
        random_index_table=RANDOM_INDEX_TABLE,
        worst_triad=_worst_triad(logs),
    )


def pairwise_matrix(criteria_count: int, judgements: Mapping[tuple[int, int], float]) -> NDArray[np.float64]:
    """Judgement matrix from single judgements, NaN where a pair was not judged.

    Parameters
    ----------
    criteria_count
        Number of criteria.
    judgements
        (i, j) → how many times as important criterion i is than j.

    Returns
    -------
    Matrix for `pairwise_weights`, shape (criteria, criteria).

    >>> pairwise_matrix(2, {(0, 1): 4.0}).tolist()
    [[1.0, 4.0], [nan, 1.0]]

    """
    matrix = np.full((criteria_count, criteria_count), np.nan)
    np.fill_diagonal(matrix, 1.0)
    for (first, second), ratio in judgements.items():
        matrix[first, second] = ratio
    return matrix


def _checked_log_judgements(judgements: ArrayLike) -> NDArray[np.float64]:
    """Logarithms of a judgement matrix, antisymmetric, mirror images filled in, NaN where not judged."""
    matrix = np.asarray(judgements, dtype=np.float64)
    if matrix.ndim != 2 or matrix.shape[0] != matrix.shape[1] or matrix.size == 0:
        raise ValueError("Pairwise judgements must form a square matrix with one row for each criterion.")
    known = ~np.isnan(matrix)
    if not (np.isfinite(matrix[known]).all() and (matrix[known] > 0.0).all()):
        raise ValueError("Every judgement must be a positive, finite ratio, such as 3 or 1/3.")
    if not known.diagonal().all() or not (np.abs(matrix.diagonal() - 1.0) <= RECIPROCAL_TOLERANCE).all():
        raise ValueError("Every criterion is exactly 1 times as important as itself: put 1 on the diagonal.")
    logs = np.full(matrix.shape, np.nan)
    logs[known] = np.log(matrix[known])
    clash = np.argwhere(np.abs(logs + logs.T) > RECIPROCAL_TOLERANCE)
    if clash.size:
        i, j = clash[0]
        raise ValueError(
            f"Criteria {i + 1} and {j + 1} are judged {matrix[i, j]:.4g} one way and {matrix[j, i]:.4g} the "
            "other; one must be 1 over the other. Give only one of the two."
        )
    filled = np.where(np.isnan(logs), -logs.T, logs)
    return np.asarray((filled - filled.T) / 2.0)


def _worst_triad(logs: NDArray[np.float64]) -> InconsistentTriad | None:
    """Find the judged triad with the largest contradiction; None if all agree."""
    worst: InconsistentTriad | None = None
    largest = math.log(CONSISTENT_FACTOR)
    for i, j, k in itertools.combinations(range(logs.shape[0]), 3):
        implied = logs[i, j] + logs[j, k]
        # A missing judgement makes the gap NaN, which never exceeds the largest so far.
        if abs(implied - logs[i, k]) > largest:
            largest = abs(implied - logs[i, k])
            worst = InconsistentTriad(
                criteria=(i, j, k), stated_ratio=math.exp(logs[i, k]), implied_ratio=math.exp(implied)
            )
    return worst


def adjust_one(weights: ArrayLike, index: int, new: float) -> NDArray[np.float64]:
    """Weights after one slider moves while the others keep their proportions.

    Parameters
    ----------
    weights
        Shares that sum to 1, shape (criteria,).
    index
        Position of the criterion that moves.
    new
        Its new share, 0-1.

    Returns
    -------
    Shares that sum to 1, shape (criteria,). If all the others were 0 they share the remainder equally.

    Errors
    ------
    ValueError if the weights are not shares, the position does not exist, the new share is outside 0 to 1,
    or a single criterion is asked for anything but 1.

    Notes
    -----
    w_k' = w_k (1 − new)/(Σ_{l≠i} w_l). Moving a slider to 1 loses the others' proportions: start each move
    from the weights as elicited, not from the last position of the slider.

    >>> adjust_one([0.5, 0.3, 0.2], 0, 0.0).tolist()
    [0.0, 0.6, 0.4]

    """
    shares = checked_weights(weights, np.asarray(weights).size)
    if not 0 <= index < shares.size:
        raise ValueError(f"There is no criterion {index + 1}; there are {shares.size}.")
    if not 0.0 <= new <= 1.0:
        raise ValueError(f"A weight of {new:g} is outside 0 to 1.")
    if shares.size == 1:
        if new != 1.0:
            raise ValueError("A single criterion always has weight 1.")
        return np.ones(1)
    others = np.arange(shares.size) != index
    pattern = shares[others] if shares[others].any() else np.ones(shares.size - 1)
    adjusted = np.empty(shares.size)
    adjusted[index] = new
    adjusted[others] = direct_weights(pattern) * (1.0 - new)
    return adjusted
