"""Second opinions on the ranking: TOPSIS and PROMETHEE II on the same table, and why they differ."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from model.ranking import Ranking, checked_weights, competition_ranks, included_rows

SMALLEST_DISTANCE = 1e-300
"""Stands in for a distance of zero where a ratio of distances is formed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondOpinion:
    """What every second opinion gives, whatever its method."""

    candidates: tuple[int, ...]
    """Row numbers of the candidates that are not ruled out, in table order."""
    order: tuple[int, ...]
    """Row numbers from best to worst; ties in table order."""
    ranks: tuple[int, ...]
    """Rank from 1 of each entry of `order`; ties share a rank."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Topsis(SecondOpinion):
    """TOPSIS result; tuples per candidate follow `candidates`, tuples per criterion the table."""

    closeness: tuple[float, ...]
    """Relative closeness to the ideal, 0-1, larger is better."""
    distance_to_ideal: tuple[float, ...]
    """Distance to the best level of every criterion in the table, dimensionless."""
    distance_to_worst: tuple[float, ...]
    """Distance to the worst level of every criterion in the table, dimensionless."""
    weighted: tuple[tuple[float, ...], ...]
    """Table after normalisation and weighting, per candidate and criterion."""
    normalisation: Literal["vector", "none"]
    """How the columns were normalised."""
    ideal: tuple[float, ...]
    """Best weighted entry of each criterion, dimensionless."""
    worst: tuple[float, ...]
    """Worst weighted entry of each criterion, dimensionless."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Promethee(SecondOpinion):
    """PROMETHEE II result; tuples per candidate follow `candidates`."""

    net_flow: tuple[float, ...]
    """Leaving minus entering flow, −1 to 1, larger is better."""
    leaving_flow: tuple[float, ...]
    """Mean preference over the others, 0-1."""
    entering_flow: tuple[float, ...]
    """Mean preference of the others over this one, 0-1."""
    preference: tuple[tuple[float, ...], ...]
    """Weighted preference of the row candidate over the column candidate, 0-1."""
    preference_by_criterion: tuple[tuple[tuple[float, ...], ...], ...]
    """The same split by criterion: row candidate, column candidate, criterion, 0-1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Preference:
    """How a lead on one criterion turns into preference."""

    shape: Literal["usual", "linear"] = "usual"
    """'usual': any lead counts in full; 'linear': grows from `indifference` to `full_preference`."""
    indifference: float = 0.0
    """Lead up to which there is no preference, in the table's unit; 0 gives the V-shape. Linear only."""
    full_preference: float = 1.0
    """Lead from which preference is full, in the table's unit. Linear only."""

    def __post_init__(self) -> None:
        """Refuse shapes and thresholds that define no preference function."""
        if self.shape not in ("usual", "linear"):
            raise ValueError(f"The preference shape {self.shape!r} is unknown; use 'usual' or 'linear'.")
        if not (0.0 <= self.indifference < self.full_preference < math.inf):
            raise ValueError(
                f"The lead for full preference ({self.full_preference:g}) must be finite and above the lead "
                f"for indifference ({self.indifference:g}), which must not be negative."
            )

    def degree(self, lead: NDArray[np.float64]) -> NDArray[np.float64]:
        """Preference 0-1 for each lead (in the table's unit); a deficit gives 0."""
        if self.shape == "usual":
            return np.asarray(lead > 0.0, dtype=np.float64)
        return np.clip((lead - self.indifference) / (self.full_preference - self.indifference), 0.0, 1.0)


def topsis(
    values: ArrayLike,
    weights: ArrayLike,
    excluded: ArrayLike | None = None,
    *,
    larger_is_better: ArrayLike | None = None,
    normalisation: Literal["vector", "none"] = "vector",
) -> Topsis:
    """Rank candidates by their distances to the best and to the worst of the table (TOPSIS).

    Parameters
    ----------
    values
        Value (0-1) or measure (any unit) of each candidate on each criterion, shape (candidates, criteria).
    weights
        Shares that sum to 1, shape (criteria,).
    excluded
        True for each candidate that is ruled out, shape (candidates,); such rows have no influence.
    larger_is_better
        False for each criterion where a smaller entry is better, shape (criteria,); None means larger is
        better throughout, which holds for values.
    normalisation
        'vector' divides each column by its Euclidean length (the original method); 'none' leaves it.

    Returns
    -------
    `Topsis`; empty if no candidate is left.

    Errors
    ------
    ValueError if the shapes disagree, the weights do not sum to 1, or an entry is not finite.

    Notes
    -----
    r_ij = x_ij/√(Σ_i x_ij²), v_ij = w_j r_ij, d_i^± = √(Σ_j (v_ij − v_j^±)²), closeness = d⁻/(d⁺ + d⁻). A
    column of zeros stays zero. Where all candidates are equal both distances vanish and the closeness is
    set to 0.5, our own convention. The ideal and the lengths depend on the table: unlike the weighted sum,
    adding a candidate may reorder the others. Reference: Hwang & Yoon 1981, Multiple Attribute Decision
    Making (from memory).

    >>> [round(c, 4) for c in topsis([[1.0, 0.0], [0.0, 1.0]], [0.75, 0.25]).closeness]
    [0.75, 0.25]

    """
    table, shares, rows, sign = _checked_table(values, weights, excluded, larger_is_better)
    lengths = np.ones(shares.size)
    if normalisation == "vector":
        # Scaling by the largest entry first keeps the squares within the floating range.
        largest = np.abs(table).max(axis=0, initial=0.0)
        safe = np.where(largest > 0.0, largest, 1.0)
        lengths = np.array([math.sqrt(math.fsum(column)) for column in ((table / safe) ** 2).T]) * safe
        lengths = np.where(largest > 0.0, lengths, 1.0)
    elif normalisation != "none":
        raise ValueError(f"The normalisation {normalisation!r} is unknown; use 'vector' or 'none'.")
    weighted = table / lengths * shares
    if rows.size == 0:
        return Topsis(
            candidates=(), closeness=(), distance_to_ideal=(), distance_to_worst=(), weighted=(),
            normalisation=normalisation, ideal=(), worst=(), order=(), ranks=(),
        )  # fmt: skip
    ideal = (weighted * sign).max(axis=0) * sign
    worst = (weighted * sign).min(axis=0) * sign
    to_ideal = [math.sqrt(math.fsum(row)) for row in (weighted - ideal) ** 2]
    to_worst = [math.sqrt(math.fsum(row)) for row in (weighted - worst) ** 2]
    closeness = [
        low / (high + low) if high + low > 0.0 else 0.5 for high, low in zip(to_ideal, to_worst, strict=True)
    ]
    order, ranks = competition_ranks(closeness)
    return Topsis(
        candidates=tuple(rows.tolist()),
        closeness=tuple(closeness),
        distance_to_ideal=tuple(to_ideal),
        distance_to_worst=tuple(to_worst),
        weighted=tuple(tuple(row) for row in weighted.tolist()),
        normalisation=normalisation,
        ideal=tuple(ideal.tolist()),
        worst=tuple(worst.tolist()),
        order=tuple(int(rows[position]) for position in order),
        ranks=ranks,
    )


def promethee(
    values: ArrayLike,
    weights: ArrayLike,
    preferences: Sequence[Preference] | None = None,
    excluded: ArrayLike | None = None,
    *,
    larger_is_better: ArrayLike | None = None,
) -> Promethee:
    """Rank candidates by how often, and by how much weight, each is preferred in pairs (PROMETHEE II).

    Parameters
    ----------
    values, weights, excluded, larger_is_better
        As in `topsis`.
    preferences
        One `Preference` per criterion, thresholds in the unit of its column; None uses 'usual' throughout.

    Returns
    -------
    `Promethee`; empty if no candidate is left, all flows zero if there is only one.

    Errors
    ------
    ValueError as in `topsis`, or if there is not one preference per criterion.

    Notes
    -----
    π(a,b) = Σ_j w_j P_j(x_aj − x_bj); φ⁺(a) = Σ_b π(a,b)/(n−1), φ⁻(a) = Σ_b π(b,a)/(n−1), φ = φ⁺ − φ⁻.
    'usual': P = 1 for any lead; 'linear': P = (d − q)/(p − q) held to 0 and 1, V-shape for q = 0. Adding a
    candidate may reorder the others. Reference: Brans & Vincke 1985, Management Science 31(6) (from
    memory).

    >>> flows = promethee([[4, 3, 2], [3, 2, 4], [5, 1, 3]], [0.5, 0.3, 0.2]).net_flow
    >>> [round(flow, 2) for flow in flows]
    [0.1, -0.3, 0.2]

    """
    table, shares, rows, sign = _checked_table(values, weights, excluded, larger_is_better)
    shapes = tuple(preferences) if preferences is not None else (Preference(),) * shares.size
    if len(shapes) != shares.size:
        raise ValueError(f"{len(shapes)} preference functions for {shares.size} criteria; give one for each.")
    count = rows.size
    parts = np.zeros((count, count, shares.size))
    for criterion, shape in enumerate(shapes):
        column = table[:, criterion] * sign[criterion]
        parts[:, :, criterion] = shares[criterion] * shape.degree(column[:, np.newaxis] - column[np.newaxis])
    matrix = np.array([[math.fsum(cell) for cell in row] for row in parts]).reshape(count, count)
    opponents = max(count - 1, 1)
    leaving = [math.fsum(row) / opponents for row in matrix]
    entering = [math.fsum(column) / opponents for column in matrix.T]
    net = [out - back for out, back in zip(leaving, entering, strict=True)]
    order, ranks = competition_ranks(net)
    return Promethee(
        candidates=tuple(rows.tolist()),
        net_flow=tuple(net),
        leaving_flow=tuple(leaving),
        entering_flow=tuple(entering),
        preference=tuple(tuple(row) for row in matrix.tolist()),
        preference_by_criterion=tuple(tuple(tuple(cell) for cell in row) for row in parts.tolist()),
        order=tuple(int(rows[position]) for position in order),
        ranks=ranks,
    )


def _checked_table(
    values: ArrayLike, weights: ArrayLike, excluded: ArrayLike | None, larger_is_better: ArrayLike | None
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.intp], NDArray[np.float64]]:
    """Rows that are not ruled out, weights, row numbers, and +1 or −1 per criterion, after checking them."""
    table = np.asarray(values, dtype=np.float64)
    if table.size == 0 and (table.ndim < 2 or table.shape[0] == 0):
        table = np.zeros((0, np.asarray(weights).size))
    if table.ndim != 2:
        raise ValueError("The table must have candidates in rows and criteria in columns.")
    shares = checked_weights(weights, table.shape[1])
    rows = included_rows(table.shape[0], excluded)
    if not np.isfinite(table[rows]).all():
        raise ValueError("Every entry of a ranked candidate must be a finite number.")
    sign = np.ones(shares.size)
    if larger_is_better is not None:
        flags = np.asarray(larger_is_better)
        if flags.shape != shares.shape or flags.dtype != np.bool_:
            raise ValueError("Say for each criterion whether larger is better: one true or false for each.")
        sign = np.where(flags, 1.0, -1.0)
    return table[rows], shares, rows, sign


def explain_difference(
    ranking: Ranking,
    opinion: Topsis | Promethee,
    first: int,
    second: int,
    candidate_names: Sequence[str],
    criterion_names: Sequence[str],
) -> str:
    """Say in words why a second opinion orders two candidates differently from the main ranking.

    Parameters
    ----------
    ranking
        Main ranking, from `model.ranking.rank`.
    opinion
        Second opinion on the same candidates and criteria, in the same order.
    first, second
        Row numbers of the two candidates, in either order.
    candidate_names, criterion_names
        Names by row and by column of the table.

    Returns
    -------
    One to four English sentences with the numbers that drive the difference; if the two agree, a sentence
    that says so.

    Errors
    ------
    ValueError if the two are the same candidate or one of them is ruled out.

    Notes
    -----
    The drivers are exact parts of the methods' own sums: contributions to the score (main ranking), squared
    gaps to the ideal or worst (TOPSIS, whichever distance shifts the closeness more), preferences in the
    direct comparison or, where that does not decide, in the comparison with a third candidate (PROMETHEE
    II).

    """
    if first == second:
        raise ValueError("Name two different candidates to compare.")
    for candidate in (first, second):
        if candidate not in ranking.order or candidate not in opinion.candidates:
            raise ValueError(f"{candidate_names[candidate]} is ruled out and has no place in the ranking.")
    method, label = ("TOPSIS", "closeness") if isinstance(opinion, Topsis) else ("PROMETHEE II", "net flow")
    marks = opinion.closeness if isinstance(opinion, Topsis) else opinion.net_flow
    mark = dict(zip(opinion.candidates, marks, strict=True))
    # Negative where `first` has the better (smaller) rank.
    rank_gap = _rank_gap(ranking, first, second)
    opinion_gap = _rank_gap(opinion, first, second)
    # From here on `ahead` is the main ranking's choice, or the second opinion's if the main ranking ties.
    ahead, behind = (first, second) if (rank_gap or opinion_gap) < 0 else (second, first)
    names = (candidate_names[ahead], candidate_names[behind])
    scores = (ranking.scores[ranking.order.index(ahead)], ranking.scores[ranking.order.index(behind)])
    marks_text = f"{label} {mark[ahead]:.3f} against {mark[behind]:.3f}"
    if np.sign(rank_gap) == np.sign(opinion_gap):
        verdict = "ties" if rank_gap == 0 else "puts"
        order = f"{names[0]} with {names[1]}" if rank_gap == 0 else f"{names[0]} ahead of {names[1]}"
        return f"{method} agrees with the ranking: it also {verdict} {order} ({marks_text})."
    opening = _main_ranking_words(ranking, ahead, behind, names, scores, criterion_names, tied=rank_gap == 0)
    if opinion_gap == 0:
        return f"{opening} {method} sees no difference between them ({marks_text})."
    # `winner` and `loser` are the second opinion's.
    winner, loser = (ahead, behind) if rank_gap == 0 else (behind, ahead)
    lead = f"{method} puts {candidate_names[winner]} ahead "
    lead += f"({label} {mark[winner]:.3f} against {mark[loser]:.3f})"
    if isinstance(opinion, Topsis):
        reason = _topsis_words(opinion, winner, loser, candidate_names, criterion_names)
    else:
        reason = _promethee_words(opinion, winner, loser, candidate_names, criterion_names)
    return f"{opening} {lead}: {reason}"


def _rank_gap(result: Ranking | Topsis | Promethee, first: int, second: int) -> int:
    """Rank of the first candidate minus rank of the second."""
    return result.ranks[result.order.index(first)] - result.ranks[result.order.index(second)]


def _main_ranking_words(
    ranking: Ranking,
    ahead: int,
    behind: int,
    names: tuple[str, str],
    scores: tuple[float, float],
    criterion_names: Sequence[str],
    *,
    tied: bool,
) -> str:
    """Say how the weighted sum sees the two: which lead makes up for which deficit."""
    parts = np.asarray(ranking.contributions[ranking.order.index(ahead)]) - np.asarray(
        ranking.contributions[ranking.order.index(behind)]
    )
    lead, deficit = int(parts.argmax()), int(parts.argmin())
    text = "The ranking adds up values, so a lead on one criterion can make up for a deficit on another: "
    text += f"it {'ties' if tied else 'puts'} {names[0]} {'with' if tied else 'ahead of'} {names[1]} "
    text += f"({scores[0]:.3f} against {scores[1]:.3f}"
    if parts[lead] > 0.0:
        text += f"; largest lead {criterion_names[lead]} {parts[lead]:+.3f}"
    if parts[deficit] < 0.0:
        text += f"; largest deficit {criterion_names[deficit]} {parts[deficit]:+.3f}"
    return text + ")."


def _topsis_words(
    opinion: Topsis,
    winner: int,
    loser: int,
    candidate_names: Sequence[str],
    criterion_names: Sequence[str],
) -> str:
    """Say which distance, and which criterion in it, puts the winner ahead in TOPSIS."""
    win, lose = opinion.candidates.index(winner), opinion.candidates.index(loser)
    weighted = np.asarray(opinion.weighted)
    # Closeness d⁻/(d⁺ + d⁻) rises with ln d⁻ − ln d⁺; the larger of the two shifts is the reason.
    near = _log_ratio(opinion.distance_to_ideal[lose], opinion.distance_to_ideal[win])
    far = _log_ratio(opinion.distance_to_worst[win], opinion.distance_to_worst[lose])
    if near >= far:
        reference, distances, place = opinion.ideal, opinion.distance_to_ideal, "best"
    else:
        reference, distances, place = opinion.worst, opinion.distance_to_worst, "worst"
    squares = (weighted - np.asarray(reference)) ** 2
    shift = squares[lose] - squares[win] if place == "best" else squares[win] - squares[lose]
    driver = int(shift.argmax())
    gaps = np.sqrt(squares[:, driver])
    scaling = "divides each criterion by its column length and " if opinion.normalisation == "vector" else ""
    return (
        f"it {scaling}measures straight-line distances, where one large gap weighs more than several "
        f"small ones that add up to the same. {candidate_names[winner]} is {distances[win]:.3f} from the "
        f"{place} of the table and {candidate_names[loser]} {distances[lose]:.3f}; {criterion_names[driver]} "
        f"drives this (gap to the {place} {gaps[win]:.3f} against {gaps[lose]:.3f})."
    )


def _log_ratio(numerator: float, denominator: float) -> float:
    """Natural logarithm of a ratio of distances, large but finite where one of them is zero."""
    return math.log(max(numerator, SMALLEST_DISTANCE)) - math.log(max(denominator, SMALLEST_DISTANCE))


def _promethee_words(
    opinion: Promethee,
    winner: int,
    loser: int,
    candidate_names: Sequence[str],
    criterion_names: Sequence[str],
) -> str:
    """Say which comparison, and which criterion in it, puts the winner ahead in PROMETHEE II."""
    win, lose = opinion.candidates.index(winner), opinion.candidates.index(loser)
    matrix = np.asarray(opinion.preference)
    parts = np.asarray(opinion.preference_by_criterion)
    text = "it compares in pairs, and a lead counts for the criterion's weight at most, however large. "
    forward, backward = matrix[win, lose], matrix[lose, win]
    balance = (matrix - matrix.T)[win] - (matrix - matrix.T)[lose]
    # The direct comparison enters both net flows, so `balance` holds it once under each of the two.
    direct = float(balance[[win, lose]].sum())
    text += (
        f"Head to head {candidate_names[winner]} is preferred with {forward:.3f} of the weight "
        f"and {candidate_names[loser]} with {backward:.3f}"
    )
    if direct >= balance.sum() - direct:
        driver = int((parts[win, lose] - parts[lose, win]).argmax())
        text += f"; {criterion_names[driver]} counts most for {candidate_names[winner]}"
        return f"{text} ({parts[win, lose, driver]:.3f})."
    balance[[win, lose]] = -np.inf
    third = int(balance.argmax())
    own = parts[win, third] - parts[third, win] - (parts[lose, third] - parts[third, lose])
    return (
        f"{text}, but the comparisons with the other candidates weigh more. "
        f"Most comes from {candidate_names[opinion.candidates[third]]}: balance "
        f"{matrix[win, third] - matrix[third, win]:+.3f} for {candidate_names[winner]} and "
        f"{matrix[lose, third] - matrix[third, lose]:+.3f} for {candidate_names[loser]}, "
        f"mainly on {criterion_names[int(own.argmax())]}."
    )
