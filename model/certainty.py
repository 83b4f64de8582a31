"""How sure the ranking is: rank probabilities, weight intervals, smallest changes, dominance, potential optimality."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.acceptability import Acceptability, sample_acceptability
from model.acceptability_exact import MOST_CRITERIA, FirstRankShares, exact_first_rank
from model.decision import Decision, open_musts
from model.dominance import PotentialOptimality, dominance_matrix, potential_optimality
from model.uncertainty import BoolArray
from model.weight_sets import (
    AllWeights,
    ExactWeights,
    OrderedWeights,
    RangedWeights,
    WeightSet,
    check_weight_set,
)
from model.weight_stability import (
    NOBODY,
    SmallestChange,
    WeightIntervals,
    smallest_change_to_be_first,
    smallest_change_to_overtake,
    weight_intervals,
)

WEIGHT_DRAWS = 100_000

SAME_WEIGHT = 1e-9
"""Weights nearer than this share a place in the order: they differ by rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Certainty:
    """Analyses (a) to (d); rows follow the table's machines, columns its criteria."""

    weight_set: WeightSet
    """What was taken as known about the weights."""
    knowledge: str
    """The same in one sentence."""
    acceptability: Acceptability
    """Rank probabilities over uncertain values and weights."""
    exact: FirstRankShares | None
    """Exact first-rank shares at the middle values; None where the weights are exact or there are too many criteria."""
    intervals: WeightIntervals
    """Interval of each weight in which the leader stays, at the middle values."""
    overtake: SmallestChange
    """Smallest change of weights that brings each rival level with the leader."""
    be_first: SmallestChange
    """Smallest change of weights that makes each rival first of all."""
    dominates: BoolArray
    """True where the row is nowhere worse and somewhere better than the column."""
    potential: PotentialOptimality
    """Which machines some weights would put first, with a witness or a proof."""
    first_share: float | None
    """Probability that the leader is first, 0-1; None where none is left."""
    headline: str
    """How sure the answer is and what would change it."""
    rank_sentence: str
    """What the rank probabilities say."""
    interval_sentence: str
    """What the weight intervals say."""
    change_sentence: str
    """What the smallest change says."""
    dominance_sentence: str
    """What dominance and potential optimality say."""


def weight_set_of(decision: Decision) -> tuple[WeightSet, str]:
    """Say what is taken as known about the weights, after the case's own word for it.

    Returns
    -------
    WeightSet, str
        And one sentence. With nobody's weights stated nothing is taken as known.

    Notes
    -----
    Order: the order of the common weights; equal weights leave the order between them open, and a criterion without
    weight comes last with all others of that kind. Ranges: those of the case, 0 to 1 for the criteria not named; where
    they cannot be met together, the order is used instead.
    """
    knowledge = decision.priorities.weight_knowledge
    weights = decision.weights
    if len(weights) == 1 or knowledge == "exact":
        return ExactWeights(weights=weights), "The common weights are taken as exact; only quantities are uncertain."
    if knowledge == "none" or not decision.weights_stated:
        why = "" if decision.weights_stated else "Nobody has given weights. "
        return AllWeights(), f"{why}Nothing is taken as known about the weights: all are equally likely."
    if knowledge == "ranges":
        ranges = decision.priorities.weight_ranges
        named = [ranges.get(criterion) for criterion in decision.table.criteria]
        ranged = RangedWeights(
            low=tuple(0.0 if one is None else one.low for one in named),
            high=tuple(1.0 if one is None else one.high for one in named),
        )
        try:
            check_weight_set(ranged, len(weights))
        except ValueError as problem:
            ordered, _ = _ordered(weights)
            return ordered, f"The stated ranges cannot be used, so only the order of the weights is. {problem}"
        return ranged, "Each weight may be anywhere in its stated range."
    return _ordered(weights)


def _ordered(weights: tuple[float, ...]) -> tuple[WeightSet, str]:
    ranks = tuple(1 + sum(other > own + SAME_WEIGHT for other in weights) for own in weights)
    if len(set(ranks)) == 1:
        return AllWeights(), "The common weights are all alike, so no order is known: all weights are equally likely."
    return OrderedWeights(importance_rank=ranks), "Only the order of the common weights is taken as known."


def certainty(decision: Decision, *, draws: int = WEIGHT_DRAWS, seed: int = 1) -> Certainty:
    """Say how sure the ranking is.

    Parameters
    ----------
    decision : Decision
    draws : int
        Weight draws for the rank probabilities.
    seed : int

    Returns
    -------
    Certainty
        With one computed sentence for each analysis.

    Notes
    -----
    Rank probabilities use every draw of the values; intervals, changes, dominance and potential optimality hold exactly
    for the middle values.
    """
    middle, weights = decision.middle_values, np.asarray(decision.weights)
    weight_set, knowledge = weight_set_of(decision)
    accepted = sample_acceptability(decision.table.values, weight_set, draws=draws, seed=seed)
    exact: FirstRankShares | None = None
    if not isinstance(weight_set, ExactWeights) and len(weights) <= MOST_CRITERIA:
        try:
            exact = exact_first_rank(middle, weight_set)
        except ValueError:
            # Ranges without volume, such as a weight given exactly: the sampled answer stands alone.
            exact = None
    intervals = weight_intervals(middle, weights)
    overtake, be_first = smallest_change_to_overtake(middle, weights), smallest_change_to_be_first(middle, weights)
    dominates, potential = dominance_matrix(middle), potential_optimality(middle)
    leader = decision.leader
    first_share = None if leader is None else float(accepted.rank_share[leader, 0])
    change = _change_sentence(decision, be_first)
    return Certainty(
        weight_set=weight_set, knowledge=knowledge, acceptability=accepted, exact=exact, intervals=intervals,
        overtake=overtake, be_first=be_first, dominates=dominates, potential=potential, first_share=first_share,
        headline=_headline(decision, accepted, be_first, change),
        rank_sentence=_rank_sentence(decision, accepted), interval_sentence=_interval_sentence(decision, intervals),
        change_sentence=change, dominance_sentence=_dominance_sentence(decision, dominates, potential),
    )  # fmt: skip


def percent(share: float) -> str:
    """Write a share as a percentage without claiming certainty that the draws cannot give.

    >>> percent(0.714), percent(0.999), percent(0.0)
    ('71 %', 'over 99 %', '0 %')
    """
    if 0.0 < share < 0.01:
        return "under 1 %"
    return "over 99 %" if 0.99 < share < 1.0 else f"{100.0 * share:.0f} %"


def _headline(decision: Decision, accepted: Acceptability, be_first: SmallestChange, change: str) -> str:
    if decision.leader is None:
        return decision.headline
    shares = accepted.rank_share[:, 0]
    first_share, oftenest = float(shares[decision.leader]), int(np.argmax(shares))
    name = decision.table.machine_names[decision.leader]
    rivals = nearest_rivals(decision, be_first)
    if len(decision.ranking.order) == 1:
        return (f"{name} is the only machine left, so no weights change the answer; only the musts can."
                f"{open_musts(decision.table, decision.leader)}")  # fmt: skip
    sure = f"{name} leads with {percent(first_share)} certainty"
    if float(shares[oftenest]) > first_share + float(accepted.standard_error[:, 0].max()):
        # The middle of skewed ranges and the count over all draws can name different machines.
        often = percent(float(shares[oftenest]))
        sure = (f"{name} leads at the middle values, but {_name(decision, oftenest)} comes first more often: in "
                f"{often} of the draws, against {percent(first_share)}")  # fmt: skip
    if not rivals:
        return f"{sure}; at the middle values no weights put another first."
    if float(be_first.moved_share[rivals[0]]) <= SAME_WEIGHT:
        return f"{sure}, level with {_name(decision, rivals[0])}."
    return f"{sure}; as to weights, it would change only if {change}"


def _name(decision: Decision, row: int) -> str:
    return decision.table.machine_names[row]


def nearest_rivals(decision: Decision, change: SmallestChange) -> list[int]:
    """List the rivals that some weights put first, the one that needs the smallest change first."""
    rivals = [row for row in decision.ranking.order[1:] if change.possible[row]]
    return sorted(rivals, key=lambda row: float(change.moved_share[row]))


def _change_sentence(decision: Decision, be_first: SmallestChange) -> str:
    rivals = nearest_rivals(decision, be_first)
    if not rivals:
        return "No change of weights puts another machine first." if decision.ranking.order else "There is no machine."
    row = rivals[0]
    moved = float(be_first.moved_share[row])
    if moved <= SAME_WEIGHT:
        return f"{_name(decision, row)} is already level with the leader."
    difference = be_first.weights_least_moved[row] - np.asarray(decision.weights)
    names = decision.table.criterion_names
    to = ", ".join(names[k] for k in np.argsort(-difference) if difference[k] > 1e-6)
    off = ", ".join(names[k] for k in np.argsort(difference) if difference[k] < -1e-6)
    points = f"{100.0 * moved:.1f}" if moved < 0.1 else f"{100.0 * moved:.0f}"
    return (f"{points} of 100 points of weight moved from {off} to {to}; then {_name(decision, row)} would draw level "
            "for first place.")  # fmt: skip


def _rank_sentence(decision: Decision, accepted: Acceptability) -> str:
    if not decision.ranking.order:
        return "There is no machine whose ranks could be counted."
    shares = accepted.rank_share[:, 0]
    order = sorted(range(shares.size), key=lambda row: -float(shares[row]))
    text = f"{_name(decision, order[0])} comes first in {percent(float(shares[order[0]]))} of the draws"
    if len(order) > 1:
        text += f", {_name(decision, order[1])} in {percent(float(shares[order[1]]))}"
    never = [row for row in order if shares[row] == 0.0]
    if never:
        text += f"; {len(never)} of {len(order)} never do"
    return f"{text}."


def _interval_sentence(decision: Decision, intervals: WeightIntervals) -> str:
    if decision.leader is None:
        return "There is no leader whose weights could be tested."
    names, weights = decision.table.criterion_names, decision.weights
    found: list[tuple[float, str]] = []
    sides = (("fell", intervals.low, intervals.takes_over_below), ("rose", intervals.high, intervals.takes_over_above))
    for k, name in enumerate(names):
        for verb, end, takes_over in sides:
            if takes_over[k] != NOBODY:
                moved = f"{name} {verb} from {percent(weights[k])} to {percent(float(end[k]))}"
                found.append((abs(weights[k] - float(end[k])), f"{moved}, then {_name(decision, int(takes_over[k]))}"))
    if not found:
        return f"Any single weight may take any value: {_name(decision, decision.leader)} stays first."
    return f"Of all single weights this one is tightest: if {min(found)[1]} would lead."


def _dominance_sentence(decision: Decision, dominates: BoolArray, potential: PotentialOptimality) -> str:
    if len(decision.ranking.order) < 2:
        return "There are no two machines to compare."
    beaten = [_name(decision, row) for row in decision.ranking.order if dominates[:, row].any()]
    never = [_name(decision, row) for row in decision.ranking.order
             if not potential.potentially_first[row] and not dominates[:, row].any()]  # fmt: skip
    text = (f"Worse than another machine on some criterion and better on none: {', '.join(beaten)}." if beaten
            else "No machine is beaten on every criterion by a single other one.")  # fmt: skip
    if never:
        text += f" First under no weights at all, though no single machine beats them everywhere: {', '.join(never)}."
    return text
