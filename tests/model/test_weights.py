"""Weights: elicitation, missing and zero answers, and moving one slider."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.weights import (
    adjust_one,
    direct_weights,
    pairwise_matrix,
    pairwise_weights,
    rank_order_centroid,
    swing_weights,
)

RATINGS = st.lists(st.floats(0.0, 1000.0), min_size=1, max_size=8).filter(lambda numbers: max(numbers) > 1e-6)
RATIOS = st.sampled_from([1 / 9, 1 / 5, 1 / 3, 1 / 2, 1.0, 2.0, 3.0, 5.0, 9.0])


@st.composite
def judgement_matrices(draw: st.DrawFn, min_size: int = 1) -> np.ndarray:
    count = draw(st.integers(min_size, 6))
    pairs = [(i, j) for i in range(count) for j in range(i + 1, count)]
    matrix = np.ones((count, count))
    for i, j in pairs:
        matrix[i, j] = draw(RATIOS)
        matrix[j, i] = 1.0 / matrix[i, j]
    return matrix


@settings(deadline=None, max_examples=50)
@given(RATINGS, st.floats(0.001, 1000.0))
def test_swing_weights_sum_to_1_keep_the_ratios_and_ignore_the_scale(
    ratings: list[float], factor: float
) -> None:
    weights = swing_weights(ratings)
    assert weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert weights == pytest.approx(np.array(ratings) / sum(ratings), abs=1e-12)
    assert swing_weights(np.array(ratings) * factor) == pytest.approx(weights, abs=1e-12)


@settings(deadline=None, max_examples=50)
@given(RATINGS, st.data())
def test_reordering_the_ratings_reorders_the_weights_exactly(
    ratings: list[float], data: st.DataObject
) -> None:
    numbers = np.array(ratings)
    order = data.draw(st.permutations(range(len(ratings))))
    assert (direct_weights(numbers[order]) == direct_weights(numbers)[order]).all()


def test_a_single_criterion_gets_all_the_weight_by_every_way() -> None:
    assert swing_weights([40.0]).tolist() == direct_weights([0.2]).tolist() == [1.0]
    assert rank_order_centroid([1]).tolist() == [1.0]
    result = pairwise_weights([[1.0]])
    assert (result.weights, result.principal_eigenvalue, result.consistency_ratio) == ((1.0,), 1.0, 0.0)


def test_weights_of_0_and_1_come_through_exactly() -> None:
    assert direct_weights([0.0, 5.0, 0.0]).tolist() == [0.0, 1.0, 0.0]


def test_extreme_ratings_do_not_overflow_or_vanish() -> None:
    assert direct_weights([1e308, 1e308]).tolist() == [0.5, 0.5]
    assert direct_weights([5e-324, 5e-324]).tolist() == [0.5, 0.5]


@pytest.mark.parametrize(
    ("ratings", "message"),
    [
        ([0.0, 0.0], "All ratings are zero. At least one criterion must count."),
        ([], "none were given"),
        ([100.0, math.nan, 50.0, math.nan], "Criterion 2, 4 has no rating yet"),
        ([1.0, -1.0], "not negative"),
        ([1.0, math.inf], "finite"),
    ],
)
def test_ratings_that_give_no_weights_are_refused(ratings: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        swing_weights(ratings)
    with pytest.raises(ValueError, match=message):
        direct_weights(ratings)


@settings(deadline=None, max_examples=50)
@given(st.integers(1, 12), st.data())
def test_rank_order_centroid_falls_with_rank_and_sums_to_1(count: int, data: st.DataObject) -> None:
    ranks = np.array(data.draw(st.permutations(range(1, count + 1))))
    weights = rank_order_centroid(ranks)
    assert weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert (np.diff(weights[np.argsort(ranks)]) < 0.0).all()


def test_rank_order_centroid_is_the_mean_of_all_weights_in_that_order() -> None:
    draws = -np.sort(-np.random.default_rng(3).dirichlet(np.ones(4), size=100_000), axis=1)
    # Standard error of each mean is below 5e-4.
    assert rank_order_centroid([1, 2, 3, 4]) == pytest.approx(draws.mean(axis=0), abs=2e-3)


def test_equal_ranks_share_the_mean_of_their_places() -> None:
    plain = rank_order_centroid([1, 2, 3])
    assert rank_order_centroid([1, 2, 2]).tolist() == pytest.approx(
        [plain[0], (plain[1] + plain[2]) / 2, (plain[1] + plain[2]) / 2]
    )
    assert rank_order_centroid([1, 1, 1]) == pytest.approx(np.full(3, 1 / 3))


def test_only_the_order_of_the_ranks_counts() -> None:
    assert (rank_order_centroid([2, 7, 7]) == rank_order_centroid([1, 2, 2])).all()


def test_rank_0_leaves_a_criterion_out() -> None:
    assert rank_order_centroid([2, 0, 1]).tolist() == [0.25, 0.0, 0.75]


@pytest.mark.parametrize(
    ("ranks", "message"),
    [
        ([], "none were given"),
        ([1.0, math.nan], "Every criterion needs a rank"),
        ([1.0, -2.0], "Every criterion needs a rank"),
        ([0.0, 0.0], "All criteria are left out"),
    ],
)
def test_ranks_that_give_no_weights_are_refused(ranks: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        rank_order_centroid(ranks)


@settings(deadline=None, max_examples=50)
@given(judgement_matrices())
def test_pairwise_weights_are_the_geometric_means_of_the_rows(matrix: np.ndarray) -> None:
    means = np.exp(np.log(matrix).mean(axis=1))
    assert pairwise_weights(matrix).weights == pytest.approx(means / means.sum(), abs=1e-12)


@settings(deadline=None, max_examples=50)
@given(st.lists(st.floats(0.01, 10.0), min_size=2, max_size=7))
def test_consistent_judgements_give_back_their_weights_without_any_contradiction(truth: list[float]) -> None:
    weights = direct_weights(truth)
    result = pairwise_weights(np.divide.outer(weights, weights))
    assert result.weights == pytest.approx(weights, abs=1e-10)
    assert result.principal_eigenvalue == pytest.approx(len(truth), abs=1e-8)
    assert result.consistency_ratio == pytest.approx(0.0, abs=1e-8)
    assert result.worst_triad is None


@settings(deadline=None, max_examples=50)
@given(judgement_matrices(min_size=3), st.data())
def test_relabelling_criteria_relabels_weights_and_keeps_the_consistency(
    matrix: np.ndarray, data: st.DataObject
) -> None:
    order = data.draw(st.permutations(range(len(matrix))))
    before, after = pairwise_weights(matrix), pairwise_weights(matrix[np.ix_(order, order)])
    assert after.weights == pytest.approx(np.array(before.weights)[order], abs=1e-12)
    assert after.consistency_ratio == pytest.approx(before.consistency_ratio, abs=1e-9)


@settings(deadline=None, max_examples=50)
@given(judgement_matrices(min_size=3))
def test_the_principal_eigenvalue_is_never_below_the_number_of_criteria(matrix: np.ndarray) -> None:
    eigenvalue = pairwise_weights(matrix).principal_eigenvalue
    assert eigenvalue is not None
    assert eigenvalue >= len(matrix) - 1e-9


def test_the_most_inconsistent_triad_is_named_with_its_numbers() -> None:
    # Consistent weights 8:4:2:1, but the judgement of the first over the last is turned round.
    weights = np.array([8.0, 4.0, 2.0, 1.0])
    matrix = np.divide.outer(weights, weights)
    matrix[1, 3], matrix[3, 1] = 0.25, 4.0
    triad = pairwise_weights(matrix).worst_triad
    assert triad is not None
    assert triad.criteria == (0, 1, 3)
    assert triad.stated_ratio == pytest.approx(8.0)
    assert triad.implied_ratio == pytest.approx(0.5)
    assert triad.sentence(["reach", "reserve", "wetted", "drying"]) == (
        "The judgements on reach, reserve and drying contradict each other most: reach was judged 8 times as "
        "important as drying, but the judgements over reserve imply 0.5 times."
    )


def test_two_criteria_are_always_consistent() -> None:
    result = pairwise_weights([[1.0, 4.0], [0.25, 1.0]])
    assert result.weights == pytest.approx((0.8, 0.2))
    assert (result.consistency_ratio, result.worst_triad) == (0.0, None)


def test_one_judgement_of_each_pair_is_enough() -> None:
    upper = pairwise_matrix(3, {(0, 1): 3.0, (2, 0): 0.2, (1, 2): 3.0})
    full = pairwise_weights([[1, 3, 5], [1 / 3, 1, 3], [1 / 5, 1 / 3, 1]])
    assert pairwise_weights(upper).weights == pytest.approx(full.weights, abs=1e-12)
    assert pairwise_weights(upper).consistency_ratio == pytest.approx(full.consistency_ratio, abs=1e-12)


def test_a_chain_of_judgements_determines_the_weights_but_no_consistency() -> None:
    result = pairwise_weights(pairwise_matrix(3, {(0, 1): 2.0, (1, 2): 3.0}))
    assert result.weights == pytest.approx((0.6, 0.3, 0.1))
    assert (result.missing_pairs, result.principal_eigenvalue, result.consistency_ratio) == (1, None, None)
    assert isinstance(result.missing_pairs, int)
    assert result.worst_triad is None


def test_more_than_15_criteria_have_no_published_random_index() -> None:
    result = pairwise_weights(np.ones((16, 16)))
    assert result.consistency_ratio is None
    assert result.principal_eigenvalue == pytest.approx(16.0)


@pytest.mark.parametrize(
    ("matrix", "message"),
    [
        (np.zeros((0, 0)), "square matrix"),
        ([[1.0, 2.0]], "square matrix"),
        ([[1.0, -2.0], [-0.5, 1.0]], "positive, finite ratio"),
        ([[1.0, 0.0], [math.inf, 1.0]], "positive, finite ratio"),
        ([[2.0, 1.0], [1.0, 1.0]], "1 on the diagonal"),
        ([[math.nan, 1.0], [1.0, 1.0]], "1 on the diagonal"),
        ([[1.0, 3.0], [0.5, 1.0]], "Criteria 1 and 2 are judged 3 one way and 0.5 the other"),
        ([[1.0, 0.0], [math.nan, 1.0]], "positive, finite ratio"),
        (pairwise_matrix(2, {}), "Too few pairs are judged"),
        (pairwise_matrix(3, {(0, 1): 2.0}), "Too few pairs are judged"),
        (pairwise_matrix(4, {(0, 1): 2.0, (2, 3): 2.0}), "Too few pairs are judged"),
    ],
)
def test_judgements_that_give_no_weights_are_refused(matrix: object, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        pairwise_weights(matrix)  # type: ignore[arg-type]


@settings(deadline=None, max_examples=50)
@given(RATINGS, st.floats(0.0, 1.0), st.data())
def test_moving_one_slider_keeps_the_sum_and_the_proportions_of_the_rest(
    ratings: list[float], new: float, data: st.DataObject
) -> None:
    weights = direct_weights([*ratings, 1.0])
    index = data.draw(st.integers(0, len(weights) - 1))
    adjusted = adjust_one(weights, index, new)
    others = np.arange(len(weights)) != index
    assert adjusted[index] == new
    assert adjusted.sum() == pytest.approx(1.0, abs=1e-12)
    assert adjusted.min() >= 0.0
    if weights[others].any():
        # w'_k Σw = w_k Σw' over the rest says "same proportions" without dividing by zero.
        left, right = adjusted[others] * weights[others].sum(), weights[others] * adjusted[others].sum()
        assert left == pytest.approx(right, abs=1e-12)


def test_moving_a_slider_to_its_own_place_changes_nothing() -> None:
    assert adjust_one([0.5, 0.3, 0.2], 1, 0.3) == pytest.approx([0.5, 0.3, 0.2], abs=1e-15)


def test_moving_a_slider_off_1_spreads_the_rest_equally() -> None:
    assert adjust_one([0.0, 1.0, 0.0], 1, 0.5).tolist() == [0.25, 0.5, 0.25]


def test_moving_a_slider_to_1_leaves_nothing_for_the_rest() -> None:
    assert adjust_one([0.5, 0.3, 0.2], 2, 1.0).tolist() == [0.0, 0.0, 1.0]


def test_a_single_criterion_stays_at_1() -> None:
    assert adjust_one([1.0], 0, 1.0).tolist() == [1.0]
    with pytest.raises(ValueError, match="A single criterion always has weight 1"):
        adjust_one([1.0], 0, 0.4)


@pytest.mark.parametrize(
    ("weights", "index", "new", "message"),
    [
        ([0.5, 0.5], 2, 0.5, "There is no criterion 3; there are 2"),
        ([0.5, 0.5], -1, 0.5, "There is no criterion 0"),
        ([0.5, 0.5], 0, 1.2, "1.2 is outside 0 to 1"),
        ([0.5, 0.5], 0, math.nan, "nan is outside 0 to 1"),
        ([0.5, 0.9], 0, 0.5, "must sum to 1"),
    ],
)
def test_slider_moves_that_make_no_sense_are_refused(
    weights: list[float], index: int, new: float, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        adjust_one(weights, index, new)
