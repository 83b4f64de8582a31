"""TOPSIS, PROMETHEE II and the words on why they differ from the ranking."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from model.ranking import rank
from model.second_opinions import (
    Preference,
    Promethee,
    Topsis,
    _promethee_words,
    _topsis_words,
    explain_difference,
    promethee,
    topsis,
)
from model.weights import direct_weights

Table = tuple[NDArray[np.float64], NDArray[np.float64]]
NAMES = ["A", "B", "C", "D", "E", "F", "G", "H"]
CRITERIA = ["reach", "reserve", "wetted", "drying", "racking", "records", "cost"]


@st.composite
def tables(draw: st.DrawFn) -> Table:
    """Values on a coarse grid, so that ties, clones and empty columns happen; weights may be zero."""
    candidates, criteria = draw(st.integers(1, 7)), draw(st.integers(1, 6))
    row = st.lists(st.integers(0, 8).map(lambda k: k / 8.0), min_size=criteria, max_size=criteria)
    values = draw(st.lists(row, min_size=candidates, max_size=candidates))
    ratings = draw(st.lists(st.integers(0, 10), min_size=criteria, max_size=criteria).filter(any))
    return np.array(values), direct_weights(np.array(ratings, dtype=float))


def mixed_preferences(count: int) -> list[Preference]:
    """Shapes that differ from criterion to criterion."""
    shapes = [Preference(), Preference(shape="linear", full_preference=0.5)]
    shapes.append(Preference(shape="linear", indifference=0.125, full_preference=0.75))
    return [shapes[criterion % 3] for criterion in range(count)]


def test_topsis_closeness_by_hand() -> None:
    # Column lengths 5 and 5: weighted rows (.3, .4) and (.4, .3); each is √.01 from the ideal and the worst.
    result = topsis([[3.0, 4.0], [4.0, 3.0]], [0.5, 0.5])
    assert result.weighted == (pytest.approx((0.3, 0.4)), pytest.approx((0.4, 0.3)))
    assert (result.ideal, result.worst) == (pytest.approx((0.4, 0.4)), pytest.approx((0.3, 0.3)))
    assert result.distance_to_ideal == pytest.approx((0.1, 0.1))
    assert result.closeness == pytest.approx((0.5, 0.5))
    assert result.ranks == (1, 1)


def test_topsis_without_normalisation_uses_the_values_as_they_are() -> None:
    result = topsis([[1.0, 0.0], [0.0, 1.0], [0.0, 0.0]], [0.6, 0.4], normalisation="none")
    assert result.closeness == pytest.approx((0.6, 0.4, 0.0))


def test_a_criterion_where_smaller_is_better_turns_the_order_round() -> None:
    measures = [[10.0], [30.0], [20.0]]
    assert topsis(measures, [1.0]).order == (1, 2, 0)
    assert topsis(measures, [1.0], larger_is_better=[False]).order == (0, 2, 1)
    assert promethee(measures, [1.0]).order == (1, 2, 0)
    assert promethee(measures, [1.0], larger_is_better=[False]).order == (0, 2, 1)


def test_topsis_does_not_depend_on_the_unit_even_at_the_edge_of_the_floating_range() -> None:
    table = np.array([[3.0, 1.0], [4.0, 0.5], [1.0, 2.0]])
    plain = topsis(table, [0.7, 0.3]).closeness
    assert topsis(table * [1e200, 1e-200], [0.7, 0.3]).closeness == pytest.approx(plain, abs=1e-12)


@pytest.mark.parametrize(
    ("lead", "degree"), [(-1.0, 0.0), (0.0, 0.0), (0.2, 0.0), (0.4, 0.5), (0.6, 1.0), (2.0, 1.0)]
)
def test_linear_preference_grows_from_indifference_to_full(lead: float, degree: float) -> None:
    preference = Preference(shape="linear", indifference=0.2, full_preference=0.6)
    assert preference.degree(np.array(lead)) == pytest.approx(degree)


def test_usual_preference_counts_any_lead_in_full() -> None:
    assert Preference().degree(np.array([-1.0, 0.0, 1e-9])).tolist() == [0.0, 0.0, 1.0]


@settings(deadline=None, max_examples=50)
@given(tables())
def test_net_flows_sum_to_zero_and_stay_between_minus_1_and_1(table: Table) -> None:
    values, weights = table
    result = promethee(values, weights, mixed_preferences(len(weights)))
    assert math.fsum(result.net_flow) == pytest.approx(0.0, abs=1e-12)
    assert all(-1.0 - 1e-12 <= flow <= 1.0 + 1e-12 for flow in result.net_flow)
    parts = np.array(result.preference_by_criterion)
    assert parts.sum(axis=2) == pytest.approx(np.array(result.preference), abs=1e-12)


@settings(deadline=None, max_examples=50)
@given(tables(), st.data())
def test_relabelling_candidates_and_criteria_permutes_both_results_exactly(
    table: Table, data: st.DataObject
) -> None:
    values, weights = table
    rows = data.draw(st.permutations(range(len(values))))
    order = data.draw(st.permutations(range(len(weights))))
    shapes = mixed_preferences(len(weights))
    permuted, moved = values[rows][:, order], weights[order]
    assert topsis(permuted, moved).closeness == tuple(topsis(values, weights).closeness[row] for row in rows)
    flows = promethee(values, weights, shapes).net_flow
    assert promethee(permuted, moved, [shapes[j] for j in order]).net_flow == tuple(
        flows[row] for row in rows
    )


@settings(deadline=None, max_examples=50)
@given(tables(), st.data())
def test_identical_candidates_tie_in_both(table: Table, data: st.DataObject) -> None:
    values, weights = table
    twin = data.draw(st.integers(0, len(values) - 1))
    doubled = np.vstack([values, values[twin]])
    closeness = topsis(doubled, weights).closeness
    flows = promethee(doubled, weights, mixed_preferences(len(weights))).net_flow
    assert closeness[twin] == closeness[-1]
    assert flows[twin] == flows[-1]


@settings(deadline=None, max_examples=50)
@given(tables(), st.data())
def test_a_candidate_that_dominates_is_never_behind_in_either(table: Table, data: st.DataObject) -> None:
    values, weights = table
    better = data.draw(st.integers(0, len(values) - 1))
    both = np.vstack([values, values[better] / 2.0])
    closeness = topsis(both, weights).closeness
    flows = promethee(both, weights, mixed_preferences(len(weights))).net_flow
    assert closeness[better] >= closeness[-1] - 1e-12
    assert flows[better] >= flows[-1] - 1e-12


@settings(deadline=None, max_examples=50)
@given(tables(), st.data())
def test_ruling_out_equals_removing_the_row(table: Table, data: st.DataObject) -> None:
    values, weights = table
    excluded = np.array(data.draw(st.lists(st.booleans(), min_size=len(values), max_size=len(values))))
    kept = np.flatnonzero(~excluded)
    holed = np.where(excluded[:, np.newaxis], np.nan, values)
    masked, removed = topsis(holed, weights, excluded), topsis(values[kept], weights)
    assert masked.closeness == removed.closeness
    assert masked.candidates == tuple(kept.tolist())
    assert masked.order == tuple(int(kept[row]) for row in removed.order)
    flows, plain = promethee(holed, weights, excluded=excluded), promethee(values[kept], weights)
    assert flows.net_flow == plain.net_flow
    assert flows.order == tuple(int(kept[row]) for row in plain.order)


@pytest.mark.parametrize("values", [[], np.zeros((0, 2)), np.zeros((0, 0))])
def test_no_candidates_give_empty_results(values: object) -> None:
    distances = topsis(values, [0.5, 0.5])  # type: ignore[arg-type]
    flows = promethee(values, [0.5, 0.5])  # type: ignore[arg-type]
    assert distances.closeness == distances.order == distances.ranks == ()
    assert flows.net_flow == flows.order == flows.ranks == ()
    plain = topsis(values, [0.5, 0.5], normalisation="none")  # type: ignore[arg-type]
    assert plain == Topsis(
        candidates=(), order=(), ranks=(), closeness=(), distance_to_ideal=(), distance_to_worst=(), weighted=(),
        normalisation="none", ideal=(), worst=(),
    )  # fmt: skip


def test_one_candidate_has_nothing_to_be_compared_with() -> None:
    assert topsis([[0.3, 0.9]], [0.5, 0.5]).closeness == (0.5,)
    flows = promethee([[0.3, 0.9]], [0.5, 0.5])
    assert (flows.net_flow, flows.leaving_flow, flows.ranks) == ((0.0,), (0.0,), (1,))


def test_all_equal_candidates_tie_and_a_column_of_zeros_is_harmless() -> None:
    assert topsis(np.zeros((3, 2)), [0.5, 0.5]).ranks == (1, 1, 1)
    assert promethee(np.full((3, 2), 0.4), [0.5, 0.5]).net_flow == (0.0, 0.0, 0.0)
    assert topsis([[0.0, 1.0], [0.0, 0.5]], [0.9, 0.1]).closeness == (1.0, 0.0)


def test_a_weight_of_1_orders_by_that_criterion_alone() -> None:
    values = [[0.1, 1.0], [0.2, 0.0]]
    assert topsis(values, [1.0, 0.0]).order == promethee(values, [1.0, 0.0]).order == (1, 0)
    assert topsis(values, [0.0, 1.0]).order == promethee(values, [0.0, 1.0]).order == (0, 1)


@pytest.mark.parametrize(
    ("values", "options", "message"),
    [
        ([[0.5, np.nan]], {}, "finite"),
        ([0.5, 0.5], {}, "candidates in rows"),
        ([[0.5]], {}, "2 weights for 1 criteria"),
        ([[], [], []], {}, "2 weights for 0 criteria"),
        ([[0.5, 0.5]], {"larger_is_better": [True]}, "whether larger is better"),
        ([[0.5, 0.5]], {"larger_is_better": [1, -1]}, "whether larger is better"),
        ([[0.5, 0.5]], {"excluded": [True, True]}, "ruled-out mask"),
    ],
)
def test_tables_that_cannot_be_compared_are_refused(
    values: list[float], options: dict[str, list[bool]], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        topsis(values, [0.5, 0.5], **options)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=message):
        promethee(values, [0.5, 0.5], **options)  # type: ignore[arg-type]


def test_unknown_methods_and_thresholds_are_refused() -> None:
    with pytest.raises(ValueError, match="normalisation 'sum' is unknown"):
        topsis([[0.5]], [1.0], normalisation="sum")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="shape 'gaussian' is unknown"):
        Preference(shape="gaussian")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=r"full preference \(0.1\).*indifference \(0.2\)"):
        Preference(shape="linear", indifference=0.2, full_preference=0.1)
    for lead in (0.2, math.inf):
        with pytest.raises(ValueError, match="must be finite and above the lead for indifference"):
            Preference(shape="linear", indifference=0.2, full_preference=lead)
    with pytest.raises(ValueError, match="must not be negative"):
        Preference(shape="linear", indifference=-0.2)
    with pytest.raises(ValueError, match="1 preference functions for 2 criteria"):
        promethee([[0.5, 0.5]], [0.5, 0.5], [Preference()])


def test_topsis_difference_is_explained_by_the_large_gap_that_compensation_hides() -> None:
    # A adds up to more, but has one large gap (cost); B has two small ones.
    values = np.array([[1.0, 1.0, 0.0], [0.65, 0.65, 0.65], [0.0, 0.0, 1.0]])
    weights = np.array([1 / 3, 1 / 3, 1 / 3])
    ranking, opinion = rank(values, weights), topsis(values, weights, normalisation="none")
    assert ranking.order[0] == 0
    assert opinion.order[0] == 1
    words = explain_difference(ranking, opinion, 0, 1, NAMES, ["reach", "drying", "cost"])
    assert words == explain_difference(ranking, opinion, 1, 0, NAMES, ["reach", "drying", "cost"])
    assert "it puts A ahead of B (0.667 against 0.650; largest lead reach +0.117" in words
    assert "largest deficit cost -0.217)" in words
    closeness = f"{opinion.closeness[1]:.3f} against {opinion.closeness[0]:.3f}"
    assert f"TOPSIS puts B ahead (closeness {closeness})" in words
    assert f"B is {opinion.distance_to_ideal[1]:.3f} from the best of the table and A 0.333" in words
    assert "cost drives this (gap to the best 0.117 against 0.333)" in words
    assert "column length" not in words


def test_vector_normalisation_is_named_where_it_was_used() -> None:
    values, weights = [[1.0, 1.0, 0.0], [0.65, 0.65, 0.65], [0.0, 0.0, 1.0]], [1 / 3, 1 / 3, 1 / 3]
    words = explain_difference(rank(values, weights), topsis(values, weights), 0, 1, NAMES, CRITERIA)
    assert "it divides each criterion by its column length" in words


def test_promethee_difference_is_explained_by_the_head_to_head_majority() -> None:
    values, weights = [[1.0, 0.4, 0.4], [0.2, 0.5, 0.5]], [0.4, 0.3, 0.3]
    ranking, opinion = rank(values, weights), promethee(values, weights)
    assert (ranking.order, opinion.order) == ((0, 1), (1, 0))
    words = explain_difference(ranking, opinion, 0, 1, NAMES, ["reach", "drying", "cost"])
    assert "it puts A ahead of B (0.640 against 0.380; largest lead reach +0.320" in words
    assert "PROMETHEE II puts B ahead (net flow 0.200 against -0.200)" in words
    assert words.endswith(
        "Head to head B is preferred with 0.600 of the weight and A with 0.400; "
        "drying counts most for B (0.300)."
    )


def test_promethee_difference_is_explained_by_third_candidates_where_they_decide() -> None:
    # Head to head A beats B on reach (0.6 of the weight), but B beats the crowd on drying as well.
    values = [[0.9, 0.1], [0.8, 0.2], [0.0, 0.15], [0.0, 0.15], [0.0, 0.15]]
    weights = [0.6, 0.4]
    ranking, opinion = rank(values, weights), promethee(values, weights)
    assert ranking.order[:2] == (0, 1)
    assert opinion.order[:2] == (1, 0)
    words = explain_difference(ranking, opinion, 1, 0, NAMES, ["reach", "drying"])
    assert (
        "Head to head B is preferred with 0.400 of the weight and A with 0.600, but the comparisons" in words
    )
    assert words.endswith("Most comes from C: balance +1.000 for B and +0.200 for A, mainly on drying.")


def test_agreement_and_ties_are_said_plainly() -> None:
    values, weights = [[0.9, 0.9], [0.1, 0.1], [0.9, 0.9]], [0.5, 0.5]
    ranking, opinion = rank(values, weights), promethee(values, weights)
    assert explain_difference(ranking, opinion, 1, 0, NAMES, CRITERIA) == (
        "PROMETHEE II agrees with the ranking: it also puts A ahead of B (net flow 0.500 against -1.000)."
    )
    tie = explain_difference(ranking, opinion, 0, 2, NAMES, CRITERIA)
    assert tie in {
        f"PROMETHEE II agrees with the ranking: it also ties {names} (net flow 0.500 against 0.500)."
        for names in ("A with C", "C with A")
    }


def test_a_tie_in_only_one_of_the_two_is_explained() -> None:
    values, weights = [[1.0, 0.5], [0.5, 0.75]], [0.5, 0.5]
    words = explain_difference(rank(values, weights), promethee(values, weights), 0, 1, NAMES, CRITERIA)
    assert words.endswith("PROMETHEE II sees no difference between them (net flow 0.000 against 0.000).")
    values = [[1.0, 0.25], [0.625, 0.625]]
    tied, opinion = rank(values, weights), topsis(values, weights)
    assert tied.ranks == (1, 1)
    winner = NAMES[opinion.order[0]]
    words = explain_difference(tied, opinion, 0, 1, NAMES, CRITERIA)
    assert f"it ties {winner} with" in words
    assert f"TOPSIS puts {winner} ahead" in words


@settings(deadline=None, max_examples=50)
@given(tables())
def test_every_pair_gets_an_explanation_naming_both_candidates(table: Table) -> None:
    values, weights = table
    ranking = rank(values, weights)
    opinions: list[Topsis | Promethee] = [topsis(values, weights), promethee(values, weights)]
    for opinion in opinions:
        for first in range(len(values)):
            for second in range(first):
                words = explain_difference(ranking, opinion, first, second, NAMES, CRITERIA)
                assert NAMES[first] in words
                assert NAMES[second] in words
                assert words.endswith(".")
                assert "nan" not in words
                assert "inf" not in words


def test_only_two_different_ranked_candidates_can_be_compared() -> None:
    values, weights, excluded = [[0.9], [0.1], [0.5]], [1.0], [False, False, True]
    ranking, opinion = rank(values, weights, excluded), topsis(values, weights, excluded)
    with pytest.raises(ValueError, match="two different candidates"):
        explain_difference(ranking, opinion, 1, 1, NAMES, CRITERIA)
    with pytest.raises(ValueError, match="C is ruled out"):
        explain_difference(ranking, opinion, 0, 2, NAMES, CRITERIA)
    with pytest.raises(ValueError, match="C is ruled out"):
        explain_difference(rank(values, weights), opinion, 2, 0, NAMES, CRITERIA)


def test_a_lead_by_distance_from_the_worst_names_the_criterion_that_makes_it() -> None:
    # Both are 0.5 from the best; 0.6 and 0.3 from the worst, all of it on the first criterion.
    opinion = Topsis(
        candidates=(4, 7), closeness=(6 / 11, 3 / 8), distance_to_ideal=(0.5, 0.5), distance_to_worst=(0.6, 0.3),
        weighted=((0.6, 0.1), (0.3, 0.1)), normalisation="none", ideal=(0.9, 0.5), worst=(0.0, 0.1), order=(4, 7),
        ranks=(1, 2),
    )  # fmt: skip
    names = tuple("abcdefgh")
    assert _topsis_words(opinion, 4, 7, names, ("reach", "cost")) == (
        "it measures straight-line distances, where one large gap weighs more than several small ones that add up to "
        "the same. e is 0.600 from the worst of the table and h 0.300; reach drives this (gap to the worst 0.600 "
        "against 0.300)."
    )
    near = replace(opinion, distance_to_ideal=(0.3, 0.5), weighted=((0.6, 0.5), (0.9, 0.0)), normalisation="vector",
                   distance_to_worst=(0.6, 0.6))  # fmt: skip
    assert _topsis_words(near, 4, 7, names, ("reach", "cost")) == (
        "it divides each criterion by its column length and measures straight-line distances, where one large gap "
        "weighs more than several small ones that add up to the same. e is 0.300 from the best of the table and h "
        "0.500; cost drives this (gap to the best 0.000 against 0.500)."
    )


def test_the_driver_is_where_the_two_differ_and_not_where_both_are_far_off() -> None:
    # The second criterion is 0.8 from the worst for both: it drives nothing.
    opinion = Topsis(
        candidates=(0, 1), closeness=(6 / 11, 3 / 8), distance_to_ideal=(0.5, 0.5), distance_to_worst=(0.6, 0.3),
        weighted=((0.6, 0.9), (0.3, 0.9)), normalisation="none", ideal=(0.9, 0.5), worst=(0.0, 0.1), order=(0, 1),
        ranks=(1, 2),
    )  # fmt: skip
    words = _topsis_words(opinion, 0, 1, NAMES, ("reach", "cost"))
    assert words.endswith("reach drives this (gap to the worst 0.600 against 0.300).")
    # The first is 0.8 from the best for both.
    near = replace(opinion, distance_to_ideal=(0.8, 0.9), weighted=((0.1, 0.5), (0.1, 0.1)))
    words = _topsis_words(replace(near, distance_to_worst=(0.3, 0.3)), 0, 1, NAMES, ("reach", "cost"))
    assert words.endswith("cost drives this (gap to the best 0.000 against 0.400).")


def test_the_third_candidate_named_is_the_one_with_the_largest_balance() -> None:
    # A against C .7 to .3, B against C .3 to .7: C adds .4 + .4 to A over B. D adds 0 + .6 only. Of C's part the second
    # criterion makes .25 + .3, the first .15 + .1.
    parts = np.zeros((4, 4, 2))
    parts[0, 1], parts[1, 0] = (0.4, 0.0), (0.0, 0.6)
    parts[0, 2], parts[2, 0] = (0.45, 0.25), (0.3, 0.0)
    parts[1, 2], parts[2, 1] = (0.2, 0.1), (0.3, 0.4)
    parts[0, 3], parts[3, 0] = (0.5, 0.0), (0.5, 0.0)
    parts[1, 3], parts[3, 1] = (0.2, 0.0), (0.8, 0.0)
    matrix = parts.sum(axis=2)
    opinion = Promethee(
        candidates=(0, 1, 2, 3), order=(0, 1, 2, 3), ranks=(1, 2, 3, 4), net_flow=(0.0,) * 4, leaving_flow=(0.0,) * 4,
        entering_flow=(0.0,) * 4, preference=tuple(map(tuple, matrix.tolist())),
        preference_by_criterion=tuple(tuple(map(tuple, row)) for row in parts.tolist()),
    )  # fmt: skip
    assert _promethee_words(opinion, 0, 1, NAMES, ("reach", "drying")) == (
        "it compares in pairs, and a lead counts for the criterion's weight at most, however large. Head to head A is "
        "preferred with 0.400 of the weight and B with 0.600, but the comparisons with the other candidates weigh "
        "more. Most comes from C: balance +0.400 for A and -0.400 for B, mainly on drying."
    )


def test_a_candidate_ahead_throughout_has_no_deficit_to_make_up_for() -> None:
    # Leads within the indifference count for nothing in pairs, but for the ranking.
    values, weights = [[0.55, 0.7, 0.5], [0.5, 0.5, 0.5]], [0.4, 0.4, 0.2]
    close = [Preference(shape="linear", indifference=0.3)] * 3
    words = explain_difference(rank(values, weights), promethee(values, weights, close), 0, 1, NAMES, CRITERIA)
    assert words == (
        "The ranking adds up values, so a lead on one criterion can make up for a deficit on another: it puts A ahead "
        "of B (0.600 against 0.500; largest lead reserve +0.080). PROMETHEE II sees no difference between them (net "
        "flow 0.000 against 0.000)."
    )
