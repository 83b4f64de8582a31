"""Several stakeholders: each keeps their own weights, and what a compromise costs each of them."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linprog, nnls

from model.ranking import TIE_TOLERANCE, Ranking, checked_weights, rank
from model.weights import direct_weights


@dataclass(frozen=True, slots=True, kw_only=True)
class Compromise:
    """Mean weights of several stakeholders."""

    arithmetic: tuple[float, ...]
    """Σ_s share_s w_s; shares that sum to 1, one per criterion."""
    geometric: tuple[float, ...] | None
    """Π_s w_s^share_s, normalised; None if every criterion has weight 0 with some stakeholder."""


def compromise(weights: ArrayLike, shares: ArrayLike) -> Compromise:
    """Arithmetic and geometric mean of the stakeholders' weights.

    Parameters
    ----------
    weights
        Each stakeholder's shares, every row sums to 1, shape (stakeholders, criteria).
    shares
        Say of each stakeholder, ≥ 0, any common scale, shape (stakeholders,).

    Returns
    -------
    `Compromise`.

    Errors
    ------
    ValueError if the shapes disagree, a row does not sum to 1, or all shares are zero.

    Notes
    -----
    The geometric mean lets one stakeholder with a say drop a criterion by giving it 0; the arithmetic mean
    does not. Basis: common practice, no source.

    >>> compromise([[0.8, 0.2], [0.2, 0.8]], [1, 1]).arithmetic
    (0.5, 0.5)

    """
    rows, say = _checked_stakeholders(weights, shares)
    arithmetic = direct_weights([math.fsum(column) for column in (rows * say[:, np.newaxis]).T])
    heard = rows[say > 0.0]
    possible = (heard > 0.0).all(axis=0)
    geometric: tuple[float, ...] | None = None
    if possible.any():
        logs = np.log(heard[:, possible]) * say[say > 0.0][:, np.newaxis]
        exponents = np.array([math.fsum(column) for column in logs.T])
        means = np.zeros(rows.shape[1])
        means[possible] = np.exp(exponents - exponents.max())
        geometric = tuple(direct_weights(means).tolist())
    return Compromise(arithmetic=tuple(arithmetic.tolist()), geometric=geometric)


@dataclass(frozen=True, slots=True, kw_only=True)
class MinimaxRegret:
    """The compromise that leaves the least satisfied stakeholder as little to regret as possible."""

    weights: tuple[float, ...]
    """Compromise shares that sum to 1, one per criterion."""
    regret_bound: float
    """No stakeholder loses more score (0-1) than this by taking the winner under these weights."""
    ranking: Ranking
    """Ranking under the compromise weights."""
    stakeholder_rankings: tuple[Ranking, ...]
    """Each stakeholder's own ranking, in the order given (also those without a say)."""
    candidates: tuple[int, ...]
    """Row numbers of the candidates that are not ruled out, in table order."""
    regrets: tuple[tuple[float, ...], ...]
    """Per stakeholder, per entry of `candidates`: score (0-1) lost against that stakeholder's own best."""
    least_regret_candidates: tuple[int, ...]
    """Row numbers of the candidates whose largest regret over the stakeholders with a say is smallest."""


def minimax_regret_compromise(
    weights: ArrayLike, shares: ArrayLike, values: ArrayLike, excluded: ArrayLike | None = None
) -> MinimaxRegret:
    """Compromise weights that bound every stakeholder's regret, and the regret of each candidate.

    Parameters
    ----------
    weights, shares
        As in `compromise`. A stakeholder with share 0 is ranked but not heard; among those heard the size
        of the share only chooses between equally good compromises.
    values
        Value of each candidate on each criterion, 0-1, shape (candidates, criteria).
    excluded
        True for each candidate that is ruled out, shape (candidates,).

    Returns
    -------
    `MinimaxRegret`; with no candidate left the weights are the arithmetic mean and the rest is empty.

    Errors
    ------
    ValueError as in `compromise` and `model.ranking.rank`.

    Notes
    -----
    LP (HiGHS): minimise t over weights w subject to |(w_s − w)·(v_a − v_b)| ≤ t for every stakeholder s and
    pair a, b. If a wins under w, then w_s·(v_b − v_a) ≤ (w_s − w)·(v_b − v_a) ≤ t: t bounds every regret.
    Among the optimal w the one nearest to the arithmetic mean is taken (least-distance problem by NNLS,
    Lawson & Hanson, from memory), which makes the answer unique. The bound may exceed the true regrets,
    which are listed.

    """
    rows, say = _checked_stakeholders(weights, shares)
    rankings = tuple(rank(values, row, excluded) for row in rows)
    mean = direct_weights([math.fsum(column) for column in (rows * say[:, np.newaxis]).T])
    candidates = tuple(sorted(rankings[0].order))
    table = np.asarray(values, dtype=np.float64)[list(candidates)] if candidates else np.zeros((0, mean.size))
    pairs = np.array([table[a] - table[b] for a, b in itertools.combinations(range(len(candidates)), 2)])
    bound, chosen = 0.0, mean
    if pairs.size:
        bound, chosen = _least_bound_weights(pairs, rows[say > 0.0], mean)
    regrets = np.array(
        [[own.scores[0] - own.scores[own.order.index(c)] for c in candidates] for own in rankings]
    )
    least: tuple[int, ...] = ()
    if candidates:
        worst = regrets[say > 0.0].max(axis=0)
        smallest = worst.min() + TIE_TOLERANCE
        least = tuple(c for c, value in zip(candidates, worst, strict=True) if value <= smallest)
    return MinimaxRegret(
        weights=tuple(chosen.tolist()),
        regret_bound=bound,
        ranking=rank(values, chosen, excluded),
        stakeholder_rankings=rankings,
        candidates=candidates,
        regrets=tuple(tuple(row) for row in regrets.tolist()),
        least_regret_candidates=least,
    )


def _checked_stakeholders(
    weights: ArrayLike, shares: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Weight rows and normalised shares of the stakeholders, after checking them."""
    rows = np.asarray(weights, dtype=np.float64)
    if rows.ndim != 2 or rows.size == 0:
        raise ValueError("Give one row of weights for each stakeholder; none were given.")
    for row in rows:
        checked_weights(row, rows.shape[1])
    say = np.asarray(shares, dtype=np.float64)
    if say.shape != (rows.shape[0],):
        raise ValueError(f"{say.size} shares for {rows.shape[0]} stakeholders; give one for each.")
    if not np.isfinite(say).all() or (say < 0.0).any():
        raise ValueError("The stakeholders' shares must be finite and not negative.")
    if not say.any():
        raise ValueError("All shares are zero. At least one stakeholder must have a say.")
    return rows, direct_weights(say)


def _least_bound_weights(
    pairs: NDArray[np.float64], rows: NDArray[np.float64], mean: NDArray[np.float64]
) -> tuple[float, NDArray[np.float64]]:
    """Smallest bound t on the score disagreement, and the weights nearest to `mean` that reach it."""
    count = mean.size
    differences = pairs @ rows.T
    lowest, highest = differences.min(axis=1), differences.max(axis=1)
    minus_one = np.full((pairs.shape[0], 1), -1.0)
    solution = linprog(
        c=np.append(np.zeros(count), 1.0),
        A_ub=np.vstack([np.hstack([pairs, minus_one]), np.hstack([-pairs, minus_one])]),
        b_ub=np.concatenate([lowest, -highest]),
        A_eq=np.append(np.ones(count), 0.0)[np.newaxis],
        b_eq=[1.0],
        bounds=[(0.0, None)] * (count + 1),
        method="highs",
    )
    if solution.x is None:
        raise ValueError(f"The compromise could not be computed: {solution.message}")
    bound = float(solution.x[-1])
    if count == 1:
        return bound, np.ones(1)
    # A hair of slack keeps the second problem feasible in floating point.
    slack = bound + 1e-9
    basis = np.linalg.svd(np.ones((1, count)))[2][1:].T
    constraints = np.vstack([-pairs @ basis, pairs @ basis, basis])
    limits = np.concatenate([pairs @ mean - slack - lowest, highest - slack - pairs @ mean, -mean])
    system = np.vstack([constraints.T, limits])
    target = np.append(np.zeros(count - 1), 1.0)
    residual = system @ nnls(system, target)[0] - target
    nearest = mean - basis @ (residual[:-1] / residual[-1])
    return bound, direct_weights(np.clip(nearest, 0.0, None))
