"""Which machine is best, for each stakeholder and for all together; how sure that is stands in `certainty`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from catalog_schema.priorities import Priorities, Stakeholder
from model.compromise import Compromise, MinimaxRegret, compromise, minimax_regret_compromise
from model.criteria import CriterionTable, criterion_table
from model.evaluate import Evaluation
from model.ranking import Ranking, rank, scores_over_draws
from model.second_opinions import Promethee, Topsis, explain_difference, promethee, topsis
from model.uncertainty import FloatArray
from model.weights import (
    adjust_one,
    direct_weights,
    pairwise_matrix,
    pairwise_weights,
    rank_order_centroid,
    swing_weights,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """One stakeholder: weights, how they came about, and the ranking they lead to."""

    id: str
    """Stakeholder."""
    name: str
    """Name shown to people."""
    share: float
    """Say in the compromise, relative to the others."""
    method: str
    """Swing, rank order, pairwise, direct, or equal where none was given."""
    weights: tuple[float, ...]
    """Shares that add up to 1, one per criterion."""
    note: str
    """What was found while weighing, such as judgements that contradict each other; empty when nothing."""
    ranking: Ranking
    """At the middle of the draws."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The ranking of the machines that are left; row numbers follow `table`."""

    table: CriterionTable
    """Measures and values it rests on."""
    priorities: Priorities
    """Priorities used."""
    voices: tuple[Voice, ...]
    """Stakeholders; a single one with equal weights where the case names none."""
    weights_stated: bool
    """False when nobody gave weights and all criteria count alike."""
    compromise: Compromise
    """Mean weights of all voices."""
    weights: tuple[float, ...]
    """Weights used for the common ranking: the arithmetic mean."""
    minimax: MinimaxRegret | None
    """The compromise that leaves the least satisfied voice as little to regret as possible; None where none is left."""
    middle_values: FloatArray
    """0-1 at the middle of the draws, shape (machines, criteria)"""
    ranking: Ranking
    """Common ranking at the middle of the draws."""
    geometric_ranking: Ranking | None
    """Ranking under the geometric mean of the weights, where there is one."""
    scores: FloatArray
    """Score 0-1 under the common weights, shape (draws, machines)"""
    score_range: FloatArray
    """5 % and 95 % point of the scores, shape (machines, 2)"""
    topsis: Topsis
    """Second opinion by distances to the best and worst."""
    promethee: Promethee
    """Second opinion by pairs."""
    second_opinions: tuple[str, ...]
    """In words: where the second opinions differ, and why."""
    headline: str
    """The answer in one sentence."""
    average_sentence: str
    """Who is best on average over the draws where that is not the leader at the middle values; else empty."""

    @property
    def leader(self) -> int | None:
        """Row number of the machine ranked first; None where none is left."""
        return self.ranking.order[0] if self.ranking.order else None

    @property
    def runner_up(self) -> int | None:
        """Row number of the machine ranked second; None where there is no second."""
        return self.ranking.order[1] if len(self.ranking.order) > 1 else None


def decide(
    evaluation: Evaluation, *, include_classes: bool = False, priorities: Priorities | None = None
) -> Decision:
    """Rank the machines that are left; parameters as in `model.criteria.criterion_table`."""
    wanted = priorities or evaluation.case.priorities
    return decide_table(criterion_table(evaluation, include_classes=include_classes, priorities=wanted), wanted)


def decide_table(table: CriterionTable, priorities: Priorities) -> Decision:
    """Rank the machines of a table that is there already; a change of weights needs no more than this.

    Parameters
    ----------
    table : CriterionTable
    priorities : Priorities

    Returns
    -------
    Decision

    Notes
    -----
    Additive model at the middle value of each criterion; the range comes from the score of every draw. TOPSIS and
    PROMETHEE II (usual preference) judge the same middle values with the same weights.
    """
    middle = table.middle_values()
    voices = _voices(table, priorities, middle)
    rows = [voice.weights for voice in voices]
    shares = [voice.share for voice in voices]
    if not any(shares):
        shares = [1.0] * len(shares)
    together = compromise(rows, shares)
    weights = together.arithmetic
    ranking = rank(middle, weights)
    left = bool(table.machine_ids)
    scores = scores_over_draws(table.values, weights) if left else np.zeros((table.values.shape[0], 0))
    by_distance, by_pairs = topsis(middle, weights, normalisation="none"), promethee(middle, weights)
    return Decision(
        table=table, priorities=priorities, voices=voices, weights_stated=bool(priorities.stakeholders),
        compromise=together, weights=weights,
        minimax=minimax_regret_compromise(rows, shares, middle) if left else None, middle_values=middle,
        ranking=ranking,
        geometric_ranking=None if together.geometric is None else rank(middle, together.geometric),
        scores=scores,
        score_range=np.quantile(scores, [0.05, 0.95], axis=0).T if left else np.zeros((0, 2)),
        topsis=by_distance, promethee=by_pairs,
        second_opinions=_second_opinions(table, ranking, by_distance, by_pairs),
        headline=_headline(table, ranking, voices), average_sentence=_average_sentence(table, ranking, scores),
    )  # fmt: skip


def equal_weights(criteria: int) -> tuple[float, ...]:
    """Give every criterion the same weight."""
    return tuple(direct_weights(np.ones(criteria)).tolist())


def stakeholder_weights(
    voice: Stakeholder, criteria: tuple[str, ...], criterion_names: tuple[str, ...]
) -> tuple[tuple[float, ...], str]:
    """Turn what a stakeholder said into weights.

    Parameters
    ----------
    voice : Stakeholder
    criteria : tuple of str
        Ids in the order of the table.
    criterion_names : tuple of str
        Their names, for the note.

    Returns
    -------
    weights, note : tuple of float, str
        A criterion that the stakeholder does not mention gets weight 0, which the note says; with nothing usable all
        criteria count alike.
    """
    if voice.method == "rank order":
        places = {name: position + 1.0 for position, name in enumerate(voice.order)}
        mentioned = set(places)
        given = np.array([places.get(name, 0.0) for name in criteria])
    elif voice.method == "pairwise":
        mentioned = {name for one in voice.pairwise for name in (one.first, one.second)}
        given = np.ones(len(criteria))
    else:
        ratings = voice.swing if voice.method == "swing" else voice.direct
        mentioned = set(ratings)
        given = np.array([ratings.get(name, 0.0) for name in criteria])
    note = ""
    try:
        if voice.method == "rank order":
            weights = rank_order_centroid(given)
        elif voice.method == "swing":
            weights = swing_weights(given)
        elif voice.method == "direct":
            weights = direct_weights(given)
        else:
            weights, note = _pairwise(voice, criteria, criterion_names)
    except ValueError as problem:
        note = f"The weights of {voice.name} cannot be used, so all count alike. {problem}"
        return equal_weights(len(criteria)), note
    left_out = [name for one, name in zip(criteria, criterion_names, strict=True) if one not in mentioned]
    if left_out:
        note = f"{note} Not mentioned, so without say: {', '.join(left_out)}.".strip()
    return tuple(weights.tolist()), note


def _pairwise(
    voice: Stakeholder, criteria: tuple[str, ...], criterion_names: tuple[str, ...]
) -> tuple[FloatArray, str]:
    mentioned = {name for one in voice.pairwise for name in (one.first, one.second)}
    judged = [name for name in criteria if name in mentioned]
    ratios = {(judged.index(one.first), judged.index(one.second)): one.times for one in voice.pairwise}
    found = pairwise_weights(pairwise_matrix(len(judged), ratios))
    weights = np.zeros(len(criteria))
    weights[[criteria.index(name) for name in judged]] = found.weights
    note = ""
    if found.consistency_ratio is not None and found.consistency_ratio > 0.1:
        ratio = f"{found.consistency_ratio:.2f}"
        note = f"The judgements contradict each other: consistency ratio {ratio}, usual limit 0.10."
        if found.worst_triad is not None:
            note += " " + found.worst_triad.sentence([criterion_names[criteria.index(one)] for one in judged])
    return weights, note


def _voices(table: CriterionTable, priorities: Priorities, middle: FloatArray) -> tuple[Voice, ...]:
    if not priorities.stakeholders:
        weights = equal_weights(len(table.criteria))
        return (
            Voice(id="", name="Nobody yet", share=1.0, method="equal", weights=weights,
                  note="Nobody has given weights yet, so all criteria count alike.", ranking=rank(middle, weights)),
        )  # fmt: skip
    found = []
    for voice in priorities.stakeholders:
        weights, note = stakeholder_weights(voice, table.criteria, table.criterion_names)
        found.append(
            Voice(id=voice.id, name=voice.name, share=voice.voice, method=voice.method, weights=weights, note=note,
                  ranking=rank(middle, weights))
        )  # fmt: skip
    return tuple(found)


def _second_opinions(table: CriterionTable, ranking: Ranking, by_distance: Topsis,
                     by_pairs: Promethee) -> tuple[str, ...]:  # fmt: skip
    """Explain, for each method, its first place where that differs; else the first pair it orders otherwise."""
    if len(ranking.order) < 2:
        return ()
    found = []
    for opinion in (by_distance, by_pairs):
        name = "TOPSIS" if isinstance(opinion, Topsis) else "PROMETHEE II"
        pair = _differing_pair(ranking, opinion)
        if pair is None:
            found.append(f"{name} puts all {len(ranking.order)} machines in the same order.")
        else:
            found.append(explain_difference(ranking, opinion, *pair, table.machine_names, table.criterion_names))
    return tuple(found)


def _differing_pair(ranking: Ranking, opinion: Topsis | Promethee) -> tuple[int, int] | None:
    places = dict(zip(opinion.order, opinion.ranks, strict=True))
    for position, first in enumerate(ranking.order):
        for offset, second in enumerate(ranking.order[position + 1 :], start=position + 1):
            tied = ranking.ranks[position] == ranking.ranks[offset]
            if not tied and places[first] > places[second]:
                return first, second
    return None


def _average_sentence(table: CriterionTable, ranking: Ranking, scores: FloatArray) -> str:
    """Say where skewed ranges make another machine the best on average than at the middle values."""
    if len(ranking.order) < 2:
        return ""
    means = scores.mean(axis=0)
    best, leader = int(means.argmax()), ranking.order[0]
    if means[best] - means[leader] <= 1e-12:
        return ""
    return (f"On average over all draws {table.machine_names[best]} scores higher ({means[best]:.2f} against "
            f"{means[leader]:.2f}): the range of {table.machine_names[leader]} reaches further down.")  # fmt: skip


def _headline(table: CriterionTable, ranking: Ranking, voices: tuple[Voice, ...]) -> str:
    names = table.machine_names
    if not ranking.order:
        if not table.ruled_out:
            return "There is no machine to rank: the case has no offers and no reference."
        return (f"No machine is left to rank: all {len(table.ruled_out)} fall short on a must. Relax a must, change "
                "the board mix, or ask for other offers.")  # fmt: skip
    if len(ranking.order) == 1:
        others = "; the others fall short on a must" if table.ruled_out else ""
        return f"{names[ranking.order[0]]} is the only machine left{others}.{open_musts(table, ranking.order[0])}"
    first = ranking.groups[0]
    if len(first) > 1:
        if len(first) == len(ranking.order):
            worth = f"{ranking.scores[0]:.2f}"
            return f"All {len(first)} machines left are worth the same ({worth}): nothing tells them apart."
        tied = ", ".join(names[row] for row in first)
        return f"{tied} share the first place with {ranking.scores[0]:.2f} of 1."
    agreeing = sum(1 for voice in voices if voice.ranking.rank_of(first[0]) == 1)
    second = ranking.order[1]
    text = (f"{names[first[0]]} comes first with {ranking.scores[0]:.2f} of 1, ahead of {names[second]} with "
            f"{ranking.scores[1]:.2f}")  # fmt: skip
    if len(voices) > 1:
        text += (f"; all {len(voices)} stakeholders agree" if agreeing == len(voices)
                 else f"; {agreeing} of {len(voices)} stakeholders put it first")  # fmt: skip
    return f"{text}.{open_musts(table, first[0])}"


def open_musts(table: CriterionTable, row: int) -> str:
    """Say that a machine's musts are still open, with a blank before it; empty where they are met."""
    if table.results[row] == "meets":
        return ""
    return (f" Whether it meets every must is still open; in {100.0 * table.probabilities[row]:.0f} % of the draws all "
            "that can be computed hold.")  # fmt: skip


def weights_with(weights: tuple[float, ...], held: dict[int, float], last: int | None = None) -> tuple[float, ...]:
    """Weights with some criteria held at given shares while the others keep their proportions.

    Parameters
    ----------
    weights : tuple of float
        As elicited, adding up to 1.
    held : dict
        Position of a criterion to its share, 0-1.
    last : int, optional
        Position of the held criterion that keeps its share come what may: the one that is being moved.

    Returns
    -------
    tuple of float
        Adding up to 1; held shares other than the last are scaled down where they do not fit in, or up where nothing
        else is left.

    Notes
    -----
    One criterion held is `model.weights.adjust_one`. Apart from the last one, the order in which criteria were moved
    plays no part.

    >>> weights_with((0.5, 0.3, 0.2), {0: 0.0})
    (0.0, 0.6, 0.4)
    >>> weights_with((0.5, 0.3, 0.2), {0: 0.75, 1: 0.5}, last=0)
    (0.75, 0.25, 0.0)
    """
    if not held or len(weights) == 1:
        return weights
    if last in held:
        return _around(weights, held, last)
    if len(held) == 1:
        [(place, share)] = held.items()
        return tuple(adjust_one(weights, place, min(share, 1.0)).tolist())
    total = sum(held.values())
    found = np.zeros(len(weights))
    for place, share in held.items():
        found[place] = share
    free = [place for place in range(len(weights)) if place not in held]
    if total < 1.0 and free:
        pattern = np.array([weights[place] for place in free])
        found[free] = direct_weights(pattern if pattern.any() else np.ones(len(free))) * (1.0 - total)
    return tuple(direct_weights(found if found.any() else np.ones(found.size)).tolist())


def _around(weights: tuple[float, ...], held: dict[int, float], last: int) -> tuple[float, ...]:
    """Share what the last moved criterion leaves among the others, by the same rule."""
    rest = 1.0 - held[last]
    others = [place for place in range(len(weights)) if place != last]
    if rest <= 0.0:
        return tuple(float(place == last) for place in range(len(weights)))
    pattern = np.array([weights[place] for place in others])
    start = direct_weights(pattern if pattern.any() else np.ones(len(others)))
    shares = weights_with(tuple(start.tolist()), {others.index(place): share / rest for place, share in held.items()
                                                  if place != last})  # fmt: skip
    found = dict(zip(others, (rest * share for share in shares), strict=True)) | {last: held[last]}
    return tuple(found[place] for place in range(len(weights)))
