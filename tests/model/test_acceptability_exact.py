"""Exact first-rank shares and pairwise win shares against sampling, geometry and each other."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.acceptability import sample_acceptability
from model.acceptability_exact import exact_first_rank, exact_pairwise_win_share
from model.weight_sets import AllWeights, ExactWeights, OrderedWeights, RangedWeights

SETS = [
    AllWeights(),
    OrderedWeights(importance_rank=(2, 1, 3, 3, 5)),
    RangedWeights(low=(0.1, 0.0, 0.1, 0.05, 0.0), high=(0.5, 0.4, 0.6, 0.5, 0.3)),
]


@pytest.mark.parametrize("weight_set", SETS)
@pytest.mark.parametrize("seed", range(3))
def test_exact_shares_and_central_weights_agree_with_sampling(weight_set, seed):
    values = np.random.default_rng(seed).random((8, 5))
    exact = exact_first_rank(values, weight_set)
    sampled = sample_acceptability(values, weight_set, draws=200_000)
    tolerance = 4.5 * sampled.standard_error[:, 0] + 2e-5
    assert np.all(np.abs(exact.first_share - sampled.rank_share[:, 0]) <= tolerance)
    common = exact.first_share > 0.02
    np.testing.assert_allclose(exact.central_weights[common], sampled.central_weights[common], atol=0.015)
    assert exact.first_share.sum() == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("criteria", range(1, 8))
def test_regions_tile_the_whole_simplex(criteria):
    values = np.random.default_rng(criteria).random((6, criteria))
    result = exact_first_rank(values, AllWeights())
    assert result.allowed_share == pytest.approx(1.0, rel=1e-9)


def test_complete_order_allows_one_in_n_factorial():
    values = np.random.default_rng(1).random((4, 5))
    result = exact_first_rank(values, OrderedWeights(importance_rank=(5, 1, 4, 2, 3)))
    assert result.allowed_share == pytest.approx(1 / 120, rel=1e-9)


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.integers(2, 5), st.integers(2, 5))
def test_coarse_values_with_many_coincident_corners_still_tile(seed, candidates, criteria):
    values = np.random.default_rng(seed).integers(0, 3, (candidates, criteria)) / 2.0
    result = exact_first_rank(values, AllWeights())
    assert result.allowed_share == pytest.approx(1.0, rel=1e-7)
    # Equal rows, and no others here of positive share, may be level.
    order = np.random.default_rng(seed + 1).permutation(candidates)
    moved = exact_first_rank(values[order], AllWeights())
    np.testing.assert_allclose(moved.first_share, result.first_share[order], atol=1e-9)


def test_two_candidates_agree_with_the_pairwise_closed_form():
    for criteria in range(1, 8):
        values = np.random.default_rng(criteria).random((2, criteria))
        first = exact_first_rank(values, AllWeights()).first_share[0]
        assert first == pytest.approx(exact_pairwise_win_share(values)[0, 1], abs=1e-9)


def test_clones_divide_their_share():
    values = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    np.testing.assert_allclose(exact_first_rank(values, AllWeights()).first_share, [0.25, 0.25, 0.5])


def test_one_none_and_all_equal_candidates():
    assert exact_first_rank(np.array([[0.2, 0.3, 0.4]]), AllWeights()).first_share.tolist() == [1.0]
    assert exact_first_rank(np.zeros((0, 3)), AllWeights()).first_share.size == 0
    np.testing.assert_allclose(exact_first_rank(np.full((4, 3), 0.5), AllWeights()).first_share, 0.25)
    np.testing.assert_allclose(exact_pairwise_win_share(np.full((4, 3), 0.5)), 0.5)
    assert exact_pairwise_win_share(np.zeros((0, 3))).shape == (0, 0)


def test_reordering_criteria_changes_nothing():
    values = np.random.default_rng(2).random((5, 6))
    order = np.array([4, 2, 0, 5, 1, 3])
    plain, moved = exact_first_rank(values, AllWeights()), exact_first_rank(values[:, order], AllWeights())
    np.testing.assert_allclose(moved.first_share, plain.first_share, atol=1e-9)
    np.testing.assert_allclose(moved.central_weights, plain.central_weights[:, order], atol=1e-7)
    np.testing.assert_allclose(
        exact_pairwise_win_share(values[:, order]), exact_pairwise_win_share(values), atol=1e-12
    )


@settings(deadline=None, max_examples=50)
@given(st.lists(st.integers(-6, 6), min_size=2, max_size=7, unique=True))
def test_pairwise_share_equals_the_divided_difference_in_exact_fractions(differences):
    values = np.array([differences, [0] * len(differences)], dtype=float)
    total = Fraction(0)
    for d in differences:
        if d > 0:
            product = Fraction(1)
            for other in differences:
                if other != d:
                    product *= Fraction(d, d - other)
            total += product
    assert exact_pairwise_win_share(values)[0, 1] == pytest.approx(float(total), abs=1e-12)


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.sampled_from([0.0, 1e-15, 1e-9, 1e-4]))
def test_nearly_equal_entries_do_not_spoil_the_pairwise_share(seed, nudge):
    generator = np.random.default_rng(seed)
    difference = generator.integers(-1, 2, 7).astype(float)
    if not difference.any():
        difference[0] = 1.0
    shift = nudge * generator.random(7) * (difference != 0.0)
    exact = exact_pairwise_win_share(np.array([difference, np.zeros(7)]))
    nudged = exact_pairwise_win_share(np.array([difference + shift, np.zeros(7)]))
    assert nudged[0, 1] == pytest.approx(exact[0, 1], abs=7 * nudge + 1e-12)
    assert exact[0, 1] + exact[1, 0] == pytest.approx(1.0, abs=1e-12)


def test_pairwise_share_under_a_declared_order_agrees_with_sampling():
    values = np.random.default_rng(6).random((5, 4))
    order = OrderedWeights(importance_rank=(3, 1, 4, 2))
    sampled = sample_acceptability(values, order, draws=200_000).pairwise_win_share
    np.testing.assert_allclose(exact_pairwise_win_share(values, order), sampled, atol=0.005)


def test_a_criterion_on_which_both_are_level_still_counts_as_a_dimension():
    # Cutting off a corner where d = 0 leaves the ratio of the other two weights uniform.
    values = np.array([[1.0, 0.0, 0.3], [0.0, 1.0, 0.3]])
    assert exact_pairwise_win_share(values)[0, 1] == pytest.approx(0.5, abs=1e-15)


@pytest.mark.parametrize(
    ("values", "weight_set", "text"),
    [
        (np.ones((2, 8)), AllWeights(), "8 criteria are above 7"),
        (np.ones((2, 2)), ExactWeights(weights=(0.5, 0.5)), "one point without volume"),
        (np.ones((2, 2)), RangedWeights(low=(0.5, 0.5), high=(0.5, 0.5)), "have no volume"),
        (np.ones(3), AllWeights(), "Give finite values"),
    ],
)
def test_what_has_no_exact_answer_is_refused_in_words(values, weight_set, text):
    with pytest.raises(ValueError, match=text):
        exact_first_rank(values, weight_set)


def test_pairwise_closed_form_refuses_ranges_and_equal_ranks():
    with pytest.raises(ValueError, match="all weights or a complete order"):
        exact_pairwise_win_share(np.ones((2, 2)), RangedWeights(low=(0.0, 0.0), high=(1.0, 1.0)))
    with pytest.raises(ValueError, match="equal ranks"):
        exact_pairwise_win_share(np.ones((2, 2)), OrderedWeights(importance_rank=(1, 1)))


def test_two_criteria_by_hand_with_and_without_a_range():
    # a leads above 0.6 of the first weight, b below 0.4, c between.
    values = np.array([[1.0, 0.0], [0.0, 1.0], [0.6, 0.6]])
    free = exact_first_rank(values, AllWeights())
    np.testing.assert_allclose(free.first_share, [0.4, 0.4, 0.2], atol=1e-12)
    np.testing.assert_allclose(free.central_weights, [[0.8, 0.2], [0.2, 0.8], [0.5, 0.5]], atol=1e-12)
    assert free.allowed_share == pytest.approx(1.0)
    ranged = exact_first_rank(values[:2], RangedWeights(low=(0.3, 0.0), high=(0.8, 1.0)))
    np.testing.assert_allclose(ranged.first_share, [0.6, 0.4], atol=1e-12)
    np.testing.assert_allclose(ranged.central_weights, [[0.65, 0.35], [0.4, 0.6]], atol=1e-12)
    assert ranged.allowed_share == pytest.approx(0.5)


def test_a_rival_worse_by_the_same_on_every_criterion_changes_nothing():
    # Eighths, so that the difference is the same to the last digit.
    values = np.array([[0.875, 0.25, 0.5], [0.25, 0.875, 0.625]])
    alone = exact_first_rank(values, AllWeights())
    beside = exact_first_rank(np.vstack([values, values[0] - 0.125]), AllWeights())
    np.testing.assert_allclose(beside.first_share, [*alone.first_share, 0.0], atol=1e-12)
    np.testing.assert_allclose(beside.central_weights[:2], alone.central_weights, atol=1e-9)


def test_no_candidate_has_no_share_and_no_weights():
    nobody = exact_first_rank(np.zeros((0, 3)), AllWeights())
    assert nobody.first_share.shape == (0,)
    assert nobody.central_weights.shape == (0, 3)
    assert nobody.allowed_share == 0.0


@pytest.mark.parametrize("function", [lambda values: exact_first_rank(values, AllWeights()), exact_pairwise_win_share])
@pytest.mark.parametrize("values", [np.zeros(3), np.zeros((2, 0)), np.array([[np.nan, 1.0]])])
def test_values_of_the_wrong_shape_are_refused_with_it(function, values):
    with pytest.raises(ValueError, match=r"^Values have shape .* Give finite values, .* at least one criterion.$"):
        function(values)


def test_a_candidate_between_two_that_beat_it_in_turn_is_never_first():
    # Dominated by neither; ahead of the first below 0.4 and of the second above 0.6 of the first weight.
    found = exact_first_rank(np.array([[1.0, 0.0], [0.0, 1.0], [0.4, 0.4]]), AllWeights())
    np.testing.assert_allclose(found.first_share, [0.5, 0.5, 0.0], atol=1e-12)
    assert np.isnan(found.central_weights[2]).all()
    assert found.allowed_share == pytest.approx(1.0)


def test_a_single_criterion_with_all_of_the_weight_gives_the_best_the_first_place():
    found = exact_first_rank([[0.5], [1.0], [0.5]], RangedWeights(low=(0.05,), high=(1.0,)))
    assert found.first_share.tolist() == [0.0, 1.0, 0.0]
