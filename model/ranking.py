"""The ranking: weighted sum of values, with ties, and without the candidates that are ruled out."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

TIE_TOLERANCE = 1e-12
"""Scores closer than this share a rank: below it the difference is rounding, not preference."""

WEIGHT_SUM_TOLERANCE = 1e-9
"""How far the weights may be from summing to 1 (rounding of normalised weights)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """Candidates from best to worst; every tuple but `order` itself follows `order`."""

    order: tuple[int, ...]
    """Row number of each ranked candidate, best first; candidates that tie keep their table order."""
    ranks: tuple[int, ...]
    """Rank from 1; tied candidates share the best rank of their group and the next group skips (1, 1, 3)."""
    scores: tuple[float, ...]
    """Score, 0-1."""
    contributions: tuple[tuple[float, ...], ...]
    """Part of the score that each criterion brings (weight × value), 0-1."""
    ruled_out: tuple[int, ...]
    """Row number of each candidate left out of the ranking, in table order."""

    def rank_of(self, candidate: int) -> int | None:
        """Rank of a candidate by row number, from 1; None if it is ruled out."""
        return self.ranks[self.order.index(candidate)] if candidate in self.order else None

    def score_of(self, candidate: int) -> float | None:
        """Score of a candidate by row number, 0-1; None if it is ruled out."""
        return self.scores[self.order.index(candidate)] if candidate in self.order else None

    @property
    def groups(self) -> tuple[tuple[int, ...], ...]:
        """Row numbers grouped by shared rank, best group first."""
        return tuple(
            tuple(candidate for candidate, rank in zip(self.order, self.ranks, strict=True) if rank == shared)
            for shared in sorted(set(self.ranks))
        )


def checked_weights(weights: ArrayLike, criteria_count: int) -> NDArray[np.float64]:
    """Weights as an array, after checking that they are one per criterion, not negative and sum to 1.

    Parameters
    ----------
    weights
        One share per criterion.
    criteria_count
        Number of criteria in the table.

    Returns
    -------
    Shares, shape (criteria,).

    Errors
    ------
    ValueError naming what is wrong.

    """
    shares = np.asarray(weights, dtype=np.float64)
    if shares.shape != (criteria_count,):
        raise ValueError(f"{shares.size} weights for {criteria_count} criteria; give one for each.")
    if not np.isfinite(shares).all() or (shares < 0.0).any():
        raise ValueError("Weights must be finite and not negative.")
    if abs(math.fsum(shares) - 1.0) > WEIGHT_SUM_TOLERANCE:
        raise ValueError(f"The weights sum to {math.fsum(shares):g}; they must sum to 1.")
    return shares


def included_rows(candidate_count: int, excluded: ArrayLike | None) -> NDArray[np.intp]:
    """Row numbers of the candidates that are not ruled out.

    Parameters
    ----------
    candidate_count
        Number of rows in the table.
    excluded
        True for each candidate that is ruled out, shape (candidates,); None rules out nobody.

    Returns
    -------
    Row numbers in table order.

    Errors
    ------
    ValueError if the mask is not one true/false per candidate.

    """
    if excluded is None:
        return np.arange(candidate_count)
    mask = np.asarray(excluded)
    if mask.shape != (candidate_count,) or (mask.size and mask.dtype != np.bool_):
        raise ValueError(f"The ruled-out mask needs true or false for each of {candidate_count} candidates.")
    return np.asarray(np.flatnonzero(~mask.astype(np.bool_)))


def competition_ranks(scores: ArrayLike) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Order and ranks of a list of scores, the largest first, with near-equal scores sharing a rank.

    Parameters
    ----------
    scores
        Any finite scores, shape (candidates,).

    Returns
    -------
    Positions from best to worst (ties in the order given), and the rank of each of those positions.

    Notes
    -----
    A score joins the group above it when it is within `TIE_TOLERANCE` of that group's best score, so a long
    chain of near-equal scores cannot drift into one group.

    >>> competition_ranks([0.2, 0.9, 0.2, 0.1])
    ((1, 0, 2, 3), (1, 2, 2, 4))

    """
    values = np.asarray(scores, dtype=np.float64)
    by_score = np.argsort(-values, kind="stable")
    order: list[int] = []
    ranks: list[int] = []
    start = 0
    while start < by_score.size:
        best_of_group = values[by_score[start]]
        stop = start
        while stop < by_score.size and best_of_group - values[by_score[stop]] <= TIE_TOLERANCE:
            stop += 1
        # Inside a group the order given is kept, so that rounding never decides who is listed first.
        order.extend(sorted(int(position) for position in by_score[start:stop]))
        ranks.extend([start + 1] * (stop - start))
        start = stop
    return tuple(order), tuple(ranks)


def rank(values: ArrayLike, weights: ArrayLike, excluded: ArrayLike | None = None) -> Ranking:
    """Rank candidates by the weighted sum of their values.

    Parameters
    ----------
    values
        Value of each candidate on each criterion, 0-1, shape (candidates, criteria). Rows of candidates that
        are ruled out may hold anything, NaN included.
    weights
        Shares that sum to 1, shape (criteria,).
    excluded
        True for each candidate that is ruled out, shape (candidates,).

    Returns
    -------
    `Ranking`; empty if there are no candidates or all are ruled out.

    Errors
    ------
    ValueError if the shapes disagree, the weights do not sum to 1, or a ranked value is outside 0 to 1.

    Notes
    -----
    S(a) = Σ_j w_j v_j(a). Each score depends on that candidate alone, so adding or removing a candidate
    (a dominated one included) never changes the order of the others. Sums are rounded once (`math.fsum`), so
    reordering criteria or candidates reorders the result exactly. Valid where the criteria are preferentially
    independent (what one is worth does not depend on the level of another); interactions are neglected.
    Reference: the additive model of Goodwin & Wright, Decision Analysis for Management Judgment, chapter on
    decisions involving multiple objectives.

    >>> ranking = rank([[1.0, 0.0], [0.0, 1.0], [0.5, 0.5]], [0.75, 0.25])
    >>> ranking.order, ranking.ranks, ranking.scores
    ((0, 2, 1), (1, 2, 3), (0.75, 0.5, 0.25))

    """
    table = np.asarray(values, dtype=np.float64)
    if table.size == 0 and (table.ndim < 2 or table.shape[0] == 0):
        included_rows(0, excluded)
        return Ranking(order=(), ranks=(), scores=(), contributions=(), ruled_out=())
    if table.ndim != 2:
        raise ValueError("The value table must have candidates in rows and criteria in columns.")
    shares = checked_weights(weights, table.shape[1])
    rows = included_rows(table.shape[0], excluded)
    ranked = table[rows]
    # Written as "not inside" so that NaN is refused too.
    if not ((ranked >= 0.0) & (ranked <= 1.0)).all():
        raise ValueError("Every value must lie within 0 to 1; apply the value functions first.")
    contributions = ranked * shares
    scores = [math.fsum(row) for row in contributions]
    order, ranks = competition_ranks(scores)
    return Ranking(
        order=tuple(int(rows[position]) for position in order),
        ranks=ranks,
        scores=tuple(scores[position] for position in order),
        contributions=tuple(tuple(contributions[position].tolist()) for position in order),
        ruled_out=tuple(sorted(set(range(table.shape[0])) - set(rows.tolist()))),
    )


def scores_over_draws(values: ArrayLike, weights: ArrayLike) -> NDArray[np.float64]:
    """Score of every candidate in every draw.

    Parameters
    ----------
    values
        Values 0-1, shape (draws, candidates, criteria); or (candidates, criteria) for one fixed table under
        many weight draws.
    weights
        Shares, shape (criteria,) or (draws, criteria); each row sums to 1.

    Returns
    -------
    Scores, shape (draws, candidates). A candidate that is ruled out must be left out by the caller.

    Errors
    ------
    ValueError if the shapes disagree, or weights are negative or do not sum to 1.

    Notes
    -----
    S = Σ_j w_j v_j, added criterion by criterion: identical candidates get bit-identical scores, and
    reordering draws or candidates reorders the result exactly; reordering criteria changes at most the last
    digits.

    >>> scores_over_draws([[[1.0, 0.0], [0.0, 1.0]]], [[0.75, 0.25]]).tolist()
    [[0.75, 0.25]]

    """
    table = np.asarray(values, dtype=np.float64)
    shares = np.atleast_2d(np.asarray(weights, dtype=np.float64))
    if table.ndim == 2:
        table = table[np.newaxis]
    if table.ndim != 3 or shares.ndim != 2:
        raise ValueError("Give values as (draws, candidates, criteria) and weights as (draws, criteria).")
    if table.shape[2] != shares.shape[1]:
        raise ValueError(f"{shares.shape[1]} weights for {table.shape[2]} criteria; give one for each.")
    draws = {table.shape[0], shares.shape[0]} - {1}
    if len(draws) > 1:
        raise ValueError(f"{table.shape[0]} draws of values but {shares.shape[0]} draws of weights.")
    if (shares < 0.0).any() or not (np.abs(shares.sum(axis=1) - 1.0) <= WEIGHT_SUM_TOLERANCE).all():
        raise ValueError("Weights must not be negative and each draw of weights must sum to 1.")
    draw_count = draws.pop() if draws else 1
    scores = np.zeros((draw_count, table.shape[1]))
    for criterion in range(table.shape[2]):
        scores += table[:, :, criterion] * shares[:, criterion, np.newaxis]
    return scores
