"""What is known about the weights (exact, nothing, an order, ranges), and uniform draws of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Float32Array = npt.NDArray[np.float32]

SUM_TOLERANCE = 1e-9
"""How far a sum of shares may miss 1 through rounding alone."""

LEAST_ACCEPTED_SHARE = 0.05
"""Below this accepted share rejection is slower than pair exchange: a matter of speed only, not of the
result."""

EXCHANGE_SWEEPS = 12
"""Sweeps over all pairs of criteria; the sampled moments agree with rejection within noise from about 6
on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExactWeights:
    """The weights are known."""

    weights: tuple[float, ...]
    """Share 0-1 of each criterion; they add up to 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AllWeights:
    """Nothing is known: every weight vector is equally likely, Dirichlet(1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderedWeights:
    """Only the order of importance is known."""

    importance_rank: tuple[int, ...]
    """Rank of each criterion, 1 = most important; equal ranks mean: no order declared between these."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RangedWeights:
    """Each weight is known to lie in a range."""

    low: tuple[float, ...]
    """Lowest share 0-1 of each criterion."""
    high: tuple[float, ...]
    """Highest share 0-1 of each criterion."""


WeightSet = ExactWeights | AllWeights | OrderedWeights | RangedWeights


def check_weight_set(weight_set: WeightSet, criteria: int) -> None:
    """Refuse a weight set that does not fit the criteria or that no weights can meet.

    Parameters
    ----------
    weight_set : WeightSet
        What is known about the weights.
    criteria : int
        Number of criteria.

    Raises
    ------
    ValueError
        Wrong length, a share outside 0-1, exact weights that do not add up to 1, low above high, or ranges
        that leave no weights that add up to 1.

    Examples
    --------
    >>> check_weight_set(RangedWeights(low=(0.6, 0.6), high=(1.0, 1.0)), 2)
    Traceback (most recent call last):
    ValueError: The lowest weights add up to 1.2, above 1: no weights meet all ranges. Lower some of them.

    """
    if isinstance(weight_set, AllWeights):
        return
    if isinstance(weight_set, OrderedWeights):
        _check_length(len(weight_set.importance_rank), criteria, "ranks of importance")
        return
    if isinstance(weight_set, ExactWeights):
        weights = np.asarray(weight_set.weights, dtype=np.float64)
        _check_length(weights.size, criteria, "weights")
        if not np.all((weights >= 0.0) & (weights <= 1.0 + SUM_TOLERANCE)):
            raise ValueError("A weight is outside 0 to 1. Give each weight as a share of the whole.")
        if abs(float(weights.sum()) - 1.0) > 1e-6:
            raise ValueError(
                f"The weights add up to {weights.sum():.6g}, not to 1. Divide them by their sum."
            )
        return
    low = np.asarray(weight_set.low, dtype=np.float64)
    high = np.asarray(weight_set.high, dtype=np.float64)
    _check_length(low.size, criteria, "lowest weights")
    _check_length(high.size, criteria, "highest weights")
    if not np.all((low >= 0.0) & (low <= high) & (high <= 1.0 + SUM_TOLERANCE)):
        raise ValueError(
            "A weight range is not 0 <= lowest <= highest <= 1. Correct the range of that criterion."
        )
    if float(low.sum()) > 1.0 + SUM_TOLERANCE:
        raise ValueError(
            f"The lowest weights add up to {low.sum():.4g}, above 1: no weights meet all ranges. Lower some "
            "of them."
        )
    if float(high.sum()) < 1.0 - SUM_TOLERANCE:
        raise ValueError(
            f"The highest weights add up to {high.sum():.4g}, below 1: no weights meet all ranges. Raise "
            "some of them."
        )


def reorder_weight_set(weight_set: WeightSet, order: npt.NDArray[np.intp]) -> WeightSet:
    """Give the same weight set for criteria listed in another order.

    Parameters
    ----------
    weight_set : WeightSet
        What is known about the weights.
    order : ndarray of int, shape (criteria,)
        Old position of each criterion in its new place.

    Returns
    -------
    WeightSet
        The reordered set.

    """
    if isinstance(weight_set, ExactWeights):
        return replace(weight_set, weights=tuple(weight_set.weights[k] for k in order))
    if isinstance(weight_set, OrderedWeights):
        return replace(weight_set, importance_rank=tuple(weight_set.importance_rank[k] for k in order))
    if isinstance(weight_set, RangedWeights):
        return replace(
            weight_set,
            low=tuple(weight_set.low[k] for k in order),
            high=tuple(weight_set.high[k] for k in order),
        )
    return weight_set


def draw_weights(
    weight_set: WeightSet, criteria: int, draws: int, generator: np.random.Generator
) -> Float32Array:
    """Draw weights uniformly from everything the weight set allows.

    Parameters
    ----------
    weight_set : WeightSet
        What is known about the weights; already checked with `check_weight_set`.
    criteria : int
        Number of criteria.
    draws : int
        Number of weight vectors.
    generator : numpy.random.Generator
        Source of chance.

    Returns
    -------
    ndarray of float32, shape (criteria, draws)
        Shares 0-1; each column adds up to 1 within float32 rounding.

    Notes
    -----
    All: w = e / Σe with e standard exponential (Dirichlet(1)). Order: the ordered part of the simplex is
    itself a simplex with corners (1, 0, …), (½, ½, 0, …), …, (1/n, …, 1/n), so w_(k) = Σ_{i≥k} x_i / i with x
    from Dirichlet(1) is uniform on it, the same law as sorting; criteria of equal rank are shuffled among
    their places. Ranges: w = low + (1 − Σlow) x with draws above `high` rejected; where fewer than 5 % are
    accepted, repeated exchange between pairs (hit-and-run along e_i − e_j, every pair in turn) from a central
    point. Pair exchange is uniform in the limit only; 12 sweeps are used.

    """
    if isinstance(weight_set, ExactWeights):
        exact = np.asarray(weight_set.weights, dtype=np.float32)
        return np.repeat(exact[:, None], draws, axis=1)
    if isinstance(weight_set, RangedWeights):
        return _draw_in_ranges(weight_set, draws, generator)
    shares = _draw_simplex(criteria, draws, generator)
    if isinstance(weight_set, AllWeights):
        return shares
    return _draw_in_order(weight_set, shares, generator)


def _check_length(found: int, expected: int, what: str) -> None:
    if found != expected:
        raise ValueError(f"There are {found} {what} for {expected} criteria. Give one for each criterion.")


def _draw_simplex(criteria: int, draws: int, generator: np.random.Generator) -> Float32Array:
    shares = generator.standard_exponential((criteria, draws), dtype=np.float32)
    shares /= shares.sum(axis=0)
    return shares


def _draw_in_order(
    weight_set: OrderedWeights, shares: Float32Array, generator: np.random.Generator
) -> Float32Array:
    criteria = shares.shape[0]
    ranks = np.asarray(weight_set.importance_rank)
    descending = np.asarray(shares / np.arange(1.0, criteria + 1.0)[:, None], dtype=np.float32)
    for k in range(criteria - 2, -1, -1):
        descending[k] += descending[k + 1]
    weights = np.empty_like(descending)
    filled = 0
    for rank in np.unique(ranks):
        members = np.flatnonzero(ranks == rank)
        block = descending[filled : filled + members.size]
        weights[members] = block if members.size == 1 else generator.permuted(block, axis=0)
        filled += members.size
    return weights


def _draw_in_ranges(weight_set: RangedWeights, draws: int, generator: np.random.Generator) -> Float32Array:
    low = np.asarray(weight_set.low, dtype=np.float64)
    high = np.asarray(weight_set.high, dtype=np.float64)
    spare = 1.0 - float(low.sum())
    room = high - low
    if spare <= SUM_TOLERANCE or float(room.sum()) - spare <= SUM_TOLERANCE:
        # The ranges leave exactly one weight vector.
        only = low if spare <= SUM_TOLERANCE else high
        return np.repeat((only / only.sum()).astype(np.float32)[:, None], draws, axis=1)
    accepted: list[Float32Array] = []
    found = 0
    while found < draws:
        proposal = _draw_simplex(low.size, draws, generator)
        kept = proposal[:, np.all(proposal * spare <= room[:, None], axis=0)]
        if kept.shape[1] < LEAST_ACCEPTED_SHARE * draws:
            return _exchange_in_ranges(low, high, draws, generator)
        accepted.append(kept)
        found += kept.shape[1]
    shares = np.concatenate(accepted, axis=1)[:, :draws]
    return np.asarray(low[:, None] + spare * shares, dtype=np.float32)


def _exchange_in_ranges(
    low: FloatArray, high: FloatArray, draws: int, generator: np.random.Generator
) -> Float32Array:
    centre = low + (high - low) * (1.0 - low.sum()) / (high - low).sum()
    weights = np.repeat(centre[:, None], draws, axis=1)
    for _ in range(EXCHANGE_SWEEPS):
        for first in range(low.size - 1):
            for second in range(first + 1, low.size):
                together = weights[first] + weights[second]
                least = np.maximum(low[first], together - high[second])
                most = np.minimum(high[first], together - low[second])
                weights[first] = least + (most - least) * generator.random(draws)
                weights[second] = together - weights[first]
    return np.asarray(weights, dtype=np.float32)
