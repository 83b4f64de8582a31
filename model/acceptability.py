"""How often each candidate takes each rank, over uncertain values and everything the weights may be."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from model.weight_sets import (
    ExactWeights,
    Float32Array,
    FloatArray,
    OrderedWeights,
    RangedWeights,
    WeightSet,
    check_weight_set,
    draw_weights,
    reorder_weight_set,
)

IntArray = npt.NDArray[np.int64]

CHUNK_DRAWS = 65536
"""Weight draws a chunk: large enough that two threads seldom wait for one another. Part of the random stream,
so fixed."""

BLOCK_DRAWS = 4096
"""Draws scored at once, so that the running sum of every candidate stays in the nearest cache."""

TIE_DECIMALS = 12
"""With exact weights, scores that agree to this many decimals differ by rounding only and count as tied."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptability:
    """Rank probabilities and what they rest on."""

    rank_share: FloatArray
    """Share 0-1 of the draws, shape (candidates, ranks); column 0 is the first rank. Rows and columns sum to
    1."""
    central_weights: FloatArray
    """Mean weights, shares, where the candidate is first, shape (candidates, criteria); NaN if it never
    is."""
    confidence: FloatArray
    """Share 0-1 of the value draws in which it is first at its central weights; NaN if it never is first."""
    pairwise_win_share: FloatArray
    """Share 0-1 in which the row candidate beats the column candidate, a tie as half; diagonal 0.5."""
    draws: int
    """Number of joint draws of values and weights; 0 for an exact result."""
    standard_error: FloatArray
    """Standard error of `rank_share`, share, same shape. A share of 0 of n draws is below 3/n with 95 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Counts:
    """Tallies of one chunk, all in draws (ties share a draw)."""

    rank: FloatArray
    win: FloatArray
    first_weight_sum: FloatArray


def sample_acceptability(
    values: FloatArray,
    weight_set: WeightSet,
    *,
    draws: int = 100_000,
    seed: int = 1,
    threads: int = 2,
) -> Acceptability:
    """Estimate how often each candidate takes each rank in an additive model.

    Parameters
    ----------
    values : ndarray, shape (candidates, criteria) or (draws, candidates, criteria)
        Value 0-1 of each candidate on each criterion; with a leading axis, draws of uncertain values.
    weight_set : WeightSet
        What is known about the weights.
    draws : int
        Weight draws. With exact weights each value draw is used once and this is not used; otherwise it is
        raised to a multiple of the number of value draws, so that each value draw is used equally often.
    seed : int
        Seed; the same seed gives the same result on any number of threads.
    threads : int
        Threads to use.

    Returns
    -------
    Acceptability
        Rank shares, central weights, confidence factors and pairwise win shares.

    Raises
    ------
    ValueError
        Wrong shape, values that are not finite, no criteria, fewer than one draw, or an impossible weight
        set.

    Notes
    -----
    Score s_i = Σ_k w_k v_ik. Rank of i = number of j with s_j > s_i; t tied candidates share t ranks
    equally. Central weights = mean w given rank one; confidence factor = probability of rank one at the
    central weights (stochastic multicriteria acceptability analysis, Lahdelma & Salminen 2001, from memory).
    Scores are float32: differences below about 1e-7 are decided by rounding. Identical rows tie exactly,
    because every row is summed in the same order. Criteria are first put in an order that depends on their
    content alone, so listing them otherwise repeats the same draws. `standard_error` = sqrt(p(1−p)/n) with n
    the smaller of joint draws and value draws when values are uncertain: an upper bound.
    Neglected: dependence between weights and values.

    Examples
    --------
    >>> from model.weight_sets import AllWeights
    >>> result = sample_acceptability(np.eye(3), AllWeights(), draws=30_000)
    >>> bool(np.allclose(result.rank_share, 1 / 3, atol=0.01))
    True

    """
    cube = _checked_cube(values)
    value_draws, candidates, criteria = cube.shape
    check_weight_set(weight_set, criteria)
    if draws < 1 or threads < 1:
        raise ValueError(f"{draws} draws on {threads} threads is not possible. Give at least 1 of each.")
    if candidates == 0:
        return _empty(criteria)
    order = _content_order(cube, weight_set)
    cube = cube[:, :, order]
    ordered_set = reorder_weight_set(weight_set, order)
    if isinstance(ordered_set, ExactWeights):
        total_draws = value_draws
        counts = _count_exact(cube, np.asarray(ordered_set.weights, dtype=np.float64))
    else:
        total_draws = max(1, -(-draws // value_draws)) * value_draws
        # Draw axis last, so that one candidate's values for consecutive draws lie side by side.
        table = np.ascontiguousarray(cube.transpose(2, 1, 0), dtype=np.float32)
        starts = range(0, total_draws, CHUNK_DRAWS)
        seeds = np.random.SeedSequence(seed).spawn(len(starts))

        def count(job: tuple[int, np.random.SeedSequence]) -> _Counts:
            size = min(CHUNK_DRAWS, total_draws - job[0])
            generator = np.random.Generator(np.random.SFC64(job[1]))
            weights = draw_weights(ordered_set, criteria, size, generator)
            return _count_ranks(_scores(table, weights, job[0]), weights)

        jobs = list(zip(starts, seeds, strict=True))
        if threads == 1 or len(jobs) == 1:
            parts = [count(job) for job in jobs]
        else:
            with ThreadPoolExecutor(max_workers=threads) as pool:
                parts = list(pool.map(count, jobs))
        # Added in chunk order whatever thread came first: the sums round alike on any number of threads.
        counts = _Counts(
            rank=np.sum([part.rank for part in parts], axis=0),
            win=np.sum([part.win for part in parts], axis=0),
            first_weight_sum=np.sum([part.first_weight_sum for part in parts], axis=0),
        )
    independent = total_draws if value_draws == 1 else value_draws
    return _result(cube, counts, total_draws, independent, np.argsort(order))


def _result(
    cube: FloatArray, counts: _Counts, draws: int, independent: int, back: npt.NDArray[np.intp]
) -> Acceptability:
    rank_share = counts.rank / draws
    first = counts.rank[:, :1]
    central = np.full(counts.first_weight_sum.shape, np.nan)
    np.divide(counts.first_weight_sum, first, out=central, where=first > 0.0)
    # Float32 sums miss 1 by about 1e-8; central weights are shares of one whole.
    central /= central.sum(axis=1, keepdims=True)
    win = counts.win / draws
    np.fill_diagonal(win, 0.5)
    spread = np.clip(rank_share * (1.0 - rank_share), 0.0, None)
    return Acceptability(
        rank_share=rank_share,
        central_weights=central[:, back],
        confidence=confidence_factor(cube, central),
        pairwise_win_share=win,
        draws=draws,
        standard_error=np.sqrt(spread / independent),
    )


def confidence_factor(values: FloatArray, central_weights: FloatArray) -> FloatArray:
    """Give the probability that a candidate is first when the weights are its own central weights.

    Parameters
    ----------
    values : ndarray, shape (draws, candidates, criteria) or (candidates, criteria)
        Value 0-1.
    central_weights : ndarray, shape (candidates, criteria)
        Shares; a row of NaN for a candidate that is never first.

    Returns
    -------
    ndarray, shape (candidates,)
        Share 0-1 of the value draws, a tie for first divided equally; NaN where the central weights are NaN.

    """
    cube = _checked_cube(values)
    confidence = np.full(cube.shape[1], np.nan)
    for candidate in np.flatnonzero(~np.isnan(central_weights).any(axis=1)):
        scores = np.round(_weighted_sum(cube, central_weights[candidate]), TIE_DECIMALS)
        is_first = scores == scores.max(axis=1, keepdims=True)
        confidence[candidate] = float(np.mean(is_first[:, candidate] / is_first.sum(axis=1)))
    return confidence


def _checked_cube(values: FloatArray) -> FloatArray:
    cube = np.asarray(values, dtype=np.float64)
    if cube.ndim == 2:
        cube = cube[None]
    if cube.ndim != 3 or cube.shape[2] == 0 or cube.shape[0] == 0:
        raise ValueError(
            f"Values have shape {np.shape(values)}. Give (candidates, criteria) or (draws, candidates, "
            "criteria), "
            "with at least one draw and one criterion."
        )
    if not np.isfinite(cube).all():
        raise ValueError("A value is not a finite number. Leave out candidates without a value.")
    return cube


def _content_order(cube: FloatArray, weight_set: WeightSet) -> npt.NDArray[np.intp]:
    """Order of the criteria that depends on what they hold, not on how they or the candidates are listed."""
    keys = [np.sort(cube.mean(axis=0), axis=0), np.sort(cube.std(axis=0), axis=0)]
    if isinstance(weight_set, OrderedWeights):
        keys.append(np.asarray([weight_set.importance_rank], dtype=np.float64))
    elif isinstance(weight_set, RangedWeights):
        keys.append(np.asarray([weight_set.low, weight_set.high]))
    elif isinstance(weight_set, ExactWeights):
        keys.append(np.asarray([weight_set.weights]))
    return np.lexsort(np.concatenate(keys, axis=0))


def _weighted_sum(cube: FloatArray, weights: FloatArray) -> FloatArray:
    """Scores (draws, candidates), summed criterion by criterion: identical rows give identical sums."""
    scores = np.zeros(cube.shape[:2])
    for k, weight in enumerate(weights):
        scores += weight * cube[:, :, k]
    return scores


def _scores(table: Float32Array, weights: Float32Array, start: int) -> Float32Array:
    """Scores (candidates, draws). Not a matrix product: its kernels may round identical rows differently."""
    criteria, candidates, value_draws = table.shape
    size = weights.shape[1]
    scores = np.empty((candidates, size), dtype=np.float32)
    for left in range(0, size, BLOCK_DRAWS):
        right = min(left + BLOCK_DRAWS, size)
        chosen = np.arange(start + left, start + right) % value_draws
        block = scores[:, left:right]
        for k in range(criteria):
            column = table[k] if value_draws == 1 else table[k].take(chosen, axis=1)
            if k == 0:
                np.multiply(column, weights[k, left:right], out=block)
            else:
                block += column * weights[k, left:right]
    return scores


def _count_exact(cube: FloatArray, weights: FloatArray) -> _Counts:
    scores = np.round(_weighted_sum(cube, weights), TIE_DECIMALS).T
    counts = _count_ranks(np.ascontiguousarray(scores), np.repeat(weights[:, None], scores.shape[1], axis=1))
    return counts


def _count_ranks(scores: Float32Array | FloatArray, weights: Float32Array | FloatArray) -> _Counts:
    """Tally ranks, wins and weights at rank one by comparing every pair: no sorting, exact ties seen."""
    candidates, size = scores.shape
    small = np.int8 if candidates <= 127 else np.int16
    better = np.zeros((candidates, size), dtype=small)
    win = np.zeros((candidates, candidates))
    has_tie = np.zeros(size, dtype=np.bool_)
    for i in range(candidates - 1):
        others = scores[i + 1 :]
        beats = scores[i] > others
        loses = scores[i] < others
        better[i + 1 :] += beats.view(np.int8)
        better[i] += np.add.reduce(loses.view(np.int8), axis=0, dtype=small)
        for j in range(candidates - i - 1):
            won, lost = int(np.count_nonzero(beats[j])), int(np.count_nonzero(loses[j]))
            level = size - won - lost
            win[i, i + 1 + j] = won + 0.5 * level
            win[i + 1 + j, i] = lost + 0.5 * level
            if level:
                has_tie |= ~(beats[j] | loses[j])
    rank = _rank_counts(better)
    is_first = better == 0
    first_credit = None
    if has_tie.any():
        # Only draws with a tie are counted again: without clones a few in a million tie, by rounding.
        tied = np.flatnonzero(has_tie)
        rank += _tie_correction(scores[:, tied], better[:, tied])
        first_credit = np.ones(size, dtype=weights.dtype)
        first_credit[tied] = 1.0 / is_first[:, tied].sum(axis=0)
    first_weight_sum = np.zeros((candidates, weights.shape[0]))
    for i in range(candidates):
        where = np.flatnonzero(is_first[i])
        chosen = weights.take(where, axis=1)
        if first_credit is not None:
            chosen *= first_credit[where]
        first_weight_sum[i] = chosen.sum(axis=1, dtype=np.float64)
    return _Counts(rank=rank, win=win, first_weight_sum=first_weight_sum)


def _rank_counts(better: npt.NDArray[np.int8] | npt.NDArray[np.int16]) -> FloatArray:
    candidates = better.shape[0]
    rank = np.empty((candidates, candidates))
    for r in range(candidates):
        at_rank = better == r
        for i in range(candidates):
            rank[i, r] = np.count_nonzero(at_rank[i])
    return rank


def _tie_correction(
    scores: Float32Array | FloatArray, better: npt.NDArray[np.int8] | npt.NDArray[np.int16]
) -> FloatArray:
    """Spread each draw of a candidate with b better and t level, itself included, over ranks b … b+t−1."""
    candidates, size = scores.shape
    level = np.empty((candidates, size), dtype=np.intp)
    for i in range(candidates):
        level[i] = (scores == scores[i]).sum(axis=0)
    place = np.arange(candidates)[:, None] * candidates + better
    correction = np.zeros((candidates, candidates))
    for t in np.unique(level[level > 1]):
        tally = np.bincount(place[level == t], minlength=candidates**2).reshape(candidates, candidates)
        correction -= tally
        for shift in range(t):
            correction[:, shift:] += tally[:, : candidates - shift] / t
    return correction


def _empty(criteria: int) -> Acceptability:
    none = np.zeros((0, 0))
    return Acceptability(
        rank_share=none,
        central_weights=np.zeros((0, criteria)),
        confidence=np.zeros(0),
        pairwise_win_share=none,
        draws=0,
        standard_error=none,
    )
