"""Exact first-rank shares and central weights by half-space intersection, and exact pairwise win shares."""

from __future__ import annotations

from dataclasses import dataclass
from math import factorial

import numpy as np
from scipy.optimize import linprog
from scipy.spatial import ConvexHull, HalfspaceIntersection, QhullError

from model.weight_sets import (
    AllWeights,
    ExactWeights,
    FloatArray,
    OrderedWeights,
    RangedWeights,
    WeightSet,
    check_weight_set,
)

MOST_CRITERIA = 7
"""Above this many criteria the number of corners makes sampling the faster way to the same accuracy."""

LEAST_RADIUS = 1e-9
"""A region whose inscribed ball is smaller than this, in weight, has no share that a decision could rest
on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstRankShares:
    """Exact share of the allowed weights for which each candidate is first."""

    first_share: FloatArray
    """Share 0-1 of the allowed weights, shape (candidates,); clones divide their share."""
    central_weights: FloatArray
    """Centroid of the weights where it is first, shares, shape (candidates, criteria); NaN where share is
    0."""
    allowed_share: float
    """Share 0-1 of all weights that the weight set allows."""


def exact_first_rank(values: FloatArray, weight_set: WeightSet) -> FirstRankShares:
    """Give exact first-rank shares and central weights for certain values.

    Parameters
    ----------
    values : ndarray, shape (candidates, criteria)
        Value 0-1 of each candidate on each criterion.
    weight_set : WeightSet
        All, ordered or ranged weights.

    Returns
    -------
    FirstRankShares
        Shares and centroids.

    Raises
    ------
    ValueError
        Wrong shape, values not finite, more than 7 criteria, exact weights, or ranges so narrow that
        the allowed weights have no volume (a criterion with lowest = highest).

    Notes
    -----
    Candidate i is first on {w ≥ 0, Σw = 1, (v_j − v_i)·w ≤ 0 for all j} and the limits of the weight set: a
    polytope in criteria − 1 dimensions. Its corners come from half-space intersection around the centre of
    the largest inscribed ball (an LP); a fan of simplices from that centre to the facets of their hull gives
    volume and centroid. The regions tile the allowed weights, so each share is its volume over their sum.
    Identical rows are treated as one and divide the share. Uncertain values need sampling. Regions thinner
    than 1e-9 count as empty. Method: Barber, Dobkin & Huhdanpaa 1996 (Quickhull), from memory.

    Examples
    --------
    >>> exact_first_rank(np.eye(3), AllWeights()).first_share.round(6).tolist()
    [0.333333, 0.333333, 0.333333]

    """
    table = np.asarray(values, dtype=np.float64)
    if table.ndim != 2 or table.shape[1] == 0 or not np.isfinite(table).all():
        raise ValueError(
            f"Values have shape {table.shape}. Give finite values, (candidates, criteria), with at least "
            "one criterion."
        )
    candidates, criteria = table.shape
    check_weight_set(weight_set, criteria)
    if criteria > MOST_CRITERIA:
        raise ValueError(f"{criteria} criteria are above {MOST_CRITERIA}: use sample_acceptability instead.")
    if isinstance(weight_set, ExactWeights):
        raise ValueError("Exact weights are one point without volume: use sample_acceptability instead.")
    if candidates == 0:
        return FirstRankShares(
            first_share=np.zeros(0), central_weights=np.zeros((0, criteria)), allowed_share=0.0
        )
    rows, group = np.unique(table, axis=0, return_inverse=True)
    group = group.reshape(-1)
    limits, bounds = _limits(weight_set, criteria)
    volume = np.zeros(rows.shape[0])
    centroid = np.full(rows.shape, np.nan)
    for i in range(rows.shape[0]):
        rivals = np.delete(rows, i, axis=0) - rows[i]
        if rivals.size and np.any(np.all(rivals >= 0.0, axis=1)):
            continue  # dominated: first on a set without volume at most
        volume[i], centroid[i] = _region(
            np.concatenate([limits, rivals]), np.concatenate([bounds, np.zeros(len(rivals))])
        )
    total = float(volume.sum())
    if total <= 0.0:
        raise ValueError(
            "The weight ranges are so narrow that the allowed weights have no volume: use "
            "sample_acceptability instead."
        )
    share = volume / total
    return FirstRankShares(
        first_share=share[group] / np.bincount(group)[group],
        central_weights=centroid[group],
        allowed_share=total * factorial(criteria - 1),
    )


def exact_pairwise_win_share(values: FloatArray, weight_set: WeightSet | None = None) -> FloatArray:
    """Give the exact share of the weights for which each candidate beats each other.

    Parameters
    ----------
    values : ndarray, shape (candidates, criteria)
        Value 0-1.
    weight_set : WeightSet, optional
        All weights (the default) or a complete order without equal ranks.

    Returns
    -------
    ndarray, shape (candidates, candidates)
        Share 0-1 of the weights for which the row beats the column; identical rows and the diagonal 0.5.

    Raises
    ------
    ValueError
        Any other weight set, or values that are not finite.

    Notes
    -----
    With d = v_i − v_j the share of the simplex with d·w > 0 is the divided difference of max(t, 0)^(n−1) at
    d_1 … d_n, which for distinct entries reads Σ_{d_k>0} d_k^(n−1) / Π_{m≠k} (d_k − d_m). That sum loses all
    digits when entries are nearly equal. Cutting the simplex where its edge from a positive corner x to a
    negative corner −y has d = 0 gives the same share by averages alone:
    G(S) = (x·G(S without −y) + y·G(S without x)) / (x + y), G = 1 with no negative corner, 0 with no positive
    one; equal and zero entries need no special care. An order is mapped first: its corners are (1, 0, …), (½,
    ½, 0, …), … Derived here; the recursion is of the kind given by Varsi 1973 (from memory).

    Examples
    --------
    >>> float(exact_pairwise_win_share(np.array([[1.0, 0.5, 0.0], [0.0, 0.0, 1.0]]))[0, 1].round(9))
    0.666666667

    """
    table = np.asarray(values, dtype=np.float64)
    if table.ndim != 2 or table.shape[1] == 0 or not np.isfinite(table).all():
        raise ValueError(
            f"Values have shape {table.shape}. Give finite values, (candidates, criteria), with at least "
            "one criterion."
        )
    candidates, criteria = table.shape
    if isinstance(weight_set, OrderedWeights):
        check_weight_set(weight_set, criteria)
        ranks = np.asarray(weight_set.importance_rank)
        if np.unique(ranks).size < criteria:
            raise ValueError("The order has equal ranks: use sample_acceptability instead.")
        sorted_values = table[:, np.argsort(ranks)]
        table = np.cumsum(sorted_values, axis=1) / np.arange(1, criteria + 1)
    elif weight_set is not None and not isinstance(weight_set, AllWeights):
        raise ValueError(
            "The closed form holds for all weights or a complete order: use sample_acceptability instead."
        )
    difference = np.moveaxis(table[:, None, :] - table[None, :, :], 2, 0)
    gain = np.maximum(difference, 0.0)
    loss = np.maximum(-difference, 0.0)
    # share[j]: with the gains met so far and the first j losses; zero entries are met but change nothing.
    share = [np.zeros((candidates, candidates)) for _ in range(criteria + 1)]
    for x in gain:
        share[0] = np.where(x > 0.0, 1.0, share[0])
        for j, y in enumerate(loss):
            both = x + y
            mixed = (x * share[j] + y * share[j + 1]) / np.where(both > 0.0, both, 1.0)
            share[j + 1] = np.where(both > 0.0, mixed, share[j + 1])
    result = share[criteria]
    result[np.all(difference == 0.0, axis=0)] = 0.5
    return result


def _limits(weight_set: WeightSet, criteria: int) -> tuple[FloatArray, FloatArray]:
    """Rows A and b of A w ≤ b for everything but Σw = 1."""
    identity = np.eye(criteria)
    rows = [-identity]
    bounds = [np.zeros(criteria)]
    if isinstance(weight_set, OrderedWeights):
        ranks = np.asarray(weight_set.importance_rank)
        before, after = np.nonzero(ranks[:, None] < ranks[None, :])
        rows.append(identity[after] - identity[before])
        bounds.append(np.zeros(before.size))
    elif isinstance(weight_set, RangedWeights):
        rows = [-identity, identity]
        bounds = [-np.asarray(weight_set.low), np.asarray(weight_set.high)]
    return np.concatenate(rows), np.concatenate(bounds)


def _region(rows: FloatArray, bounds: FloatArray) -> tuple[float, FloatArray]:
    """Volume in the first criteria − 1 weights, and centroid, of {w: rows·w ≤ bounds, Σw = 1}."""
    criteria = rows.shape[1]
    nowhere = np.full(criteria, np.nan)
    # The last weight is 1 less the others, which leaves inequalities in criteria − 1 unknowns.
    normals = rows[:, :-1] - rows[:, -1:]
    offsets = bounds - rows[:, -1]
    length = np.linalg.norm(normals, axis=1)
    if np.any(offsets[length == 0.0] < 0.0):
        return 0.0, nowhere
    if criteria == 1:
        return 1.0, np.ones(1)
    normals, offsets, length = normals[length > 0.0], offsets[length > 0.0], length[length > 0.0]
    normals = normals / length[:, None]
    offsets = offsets / length
    if criteria == 2:
        slope = normals[:, 0]
        most = float(np.min(offsets[slope > 0.0] / slope[slope > 0.0]))
        least = float(np.max(offsets[slope < 0.0] / slope[slope < 0.0]))
        if most - least <= LEAST_RADIUS:
            return 0.0, nowhere
        middle = 0.5 * (most + least)
        return most - least, np.array([middle, 1.0 - middle])
    ball = linprog(
        np.append(np.zeros(criteria - 1), -1.0),
        A_ub=np.column_stack([normals, np.ones(len(normals))]),
        b_ub=offsets,
        bounds=[(0.0, 1.0)] * criteria,
        method="highs",
    )
    if ball.x is None or ball.x[-1] <= LEAST_RADIUS:
        return 0.0, nowhere
    centre = ball.x[:-1]
    radius = float(ball.x[-1])
    # Shift and scale to a unit ball at the origin: thin regions then are no harder than fat ones.
    scaled = np.column_stack([normals, -(offsets - normals @ centre) / radius])
    try:
        corners = HalfspaceIntersection(scaled, np.zeros(criteria - 1)).intersections
        hull = ConvexHull(corners)
    except QhullError as error:
        raise ValueError(
            "The weights that put one candidate first form too thin a region: use sample_acceptability "
            "instead."
        ) from error
    simplices = hull.points[hull.simplices]
    volumes = np.abs(np.linalg.det(simplices)) / factorial(criteria - 1)
    volume = float(volumes.sum())
    # Each simplex has the origin as its remaining corner.
    middle_scaled = (volumes @ simplices.sum(axis=1)) / criteria / volume
    middle_weights = centre + radius * middle_scaled
    return volume * radius ** (criteria - 1), np.append(middle_weights, 1.0 - middle_weights.sum())
