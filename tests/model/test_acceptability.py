"""Rank acceptability: ties, clones, invariance, threads and edge cases."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.acceptability import CHUNK_DRAWS, confidence_factor, sample_acceptability
from model.weight_sets import AllWeights, ExactWeights, OrderedWeights, RangedWeights

VALUES = np.random.default_rng(3).random((6, 4))
CUBE = np.clip(VALUES + 0.1 * np.random.default_rng(5).standard_normal((256, 6, 4)), 0.0, 1.0)
WEIGHT_SETS = [
    AllWeights(),
    ExactWeights(weights=(0.4, 0.3, 0.2, 0.1)),
    OrderedWeights(importance_rank=(2, 1, 2, 4)),
    RangedWeights(low=(0.1, 0.1, 0.0, 0.0), high=(0.5, 0.6, 0.4, 0.7)),
]


def reference(cube, weights):
    """Rank shares by full sorting, one weight vector for each value draw."""
    scores = np.einsum("dnk,dk->dn", cube, weights)
    order = np.argsort(-scores, axis=1, kind="stable")
    shares = np.zeros((cube.shape[1], cube.shape[1]))
    for rank in range(cube.shape[1]):
        shares[:, rank] = np.bincount(order[:, rank], minlength=cube.shape[1])
    return shares / len(cube)


@pytest.mark.parametrize("weight_set", WEIGHT_SETS)
@pytest.mark.parametrize("values", [VALUES, CUBE])
def test_ranks_and_candidates_are_shared_out_completely(values, weight_set):
    result = sample_acceptability(values, weight_set, draws=4000)
    np.testing.assert_allclose(result.rank_share.sum(axis=0), 1.0, atol=1e-12)
    np.testing.assert_allclose(result.rank_share.sum(axis=1), 1.0, atol=1e-12)
    np.testing.assert_allclose(result.pairwise_win_share + result.pairwise_win_share.T, 1.0, atol=1e-12)
    seen = result.rank_share[:, 0] > 0.0
    np.testing.assert_allclose(result.central_weights[seen].sum(axis=1), 1.0, atol=1e-9)
    assert np.isnan(result.central_weights[~seen]).all()
    assert np.isnan(result.confidence[~seen]).all()


def test_counting_agrees_with_full_sorting_over_uncertain_values_and_weights():
    draws = 200_000
    result = sample_acceptability(CUBE, AllWeights(), draws=draws)
    weights = np.random.default_rng(77).dirichlet(np.ones(4), draws)
    expected = reference(CUBE[np.arange(draws) % 256], weights)
    np.testing.assert_allclose(result.rank_share, expected, atol=0.006)


def test_mean_rank_follows_from_the_pairwise_win_shares():
    result = sample_acceptability(CUBE, AllWeights(), draws=20_000)
    mean_rank = result.rank_share @ np.arange(1, 7)
    losses = 1.0 + (1.0 - result.pairwise_win_share).sum(axis=1) - 0.5
    np.testing.assert_allclose(mean_rank, losses, atol=1e-9)


def test_exact_weights_on_certain_values_give_one_certain_ranking():
    weights = (0.4, 0.3, 0.2, 0.1)
    result = sample_acceptability(VALUES, ExactWeights(weights=weights))
    order = np.argsort(-(VALUES @ np.array(weights)))
    np.testing.assert_array_equal(result.rank_share[order], np.eye(6))
    np.testing.assert_allclose(result.central_weights[order[0]], weights)
    assert result.confidence[order[0]] == 1.0
    assert result.draws == 1


def test_exact_weights_use_each_value_draw_once():
    result = sample_acceptability(CUBE, ExactWeights(weights=(0.4, 0.3, 0.2, 0.1)))
    weights = np.tile([0.4, 0.3, 0.2, 0.1], (256, 1))
    np.testing.assert_allclose(result.rank_share, reference(CUBE, weights), atol=1e-12)


@pytest.mark.parametrize("weight_set", WEIGHT_SETS)
def test_one_and_two_threads_give_identical_results(weight_set):
    draws = 2 * CHUNK_DRAWS + 777
    one = sample_acceptability(VALUES, weight_set, draws=draws, threads=1)
    two = sample_acceptability(VALUES, weight_set, draws=draws, threads=2)
    np.testing.assert_array_equal(one.rank_share, two.rank_share)
    np.testing.assert_array_equal(one.central_weights, two.central_weights)
    np.testing.assert_array_equal(one.pairwise_win_share, two.pairwise_win_share)


def test_another_seed_gives_other_draws_within_the_standard_error():
    first = sample_acceptability(VALUES, AllWeights(), draws=50_000, seed=1)
    second = sample_acceptability(VALUES, AllWeights(), draws=50_000, seed=2)
    assert not np.array_equal(first.rank_share, second.rank_share)
    apart = np.abs(first.rank_share - second.rank_share)
    assert np.all(apart <= 5.0 * np.hypot(first.standard_error, second.standard_error) + 1e-4)


def test_standard_error_describes_the_scatter_between_seeds():
    runs = [sample_acceptability(VALUES, AllWeights(), draws=1000, seed=s) for s in range(60)]
    first_shares = np.array([run.rank_share[:, 0] for run in runs])
    common = first_shares.mean(axis=0) > 0.05
    ratio = first_shares.std(axis=0)[common] / runs[0].standard_error[common, 0]
    assert np.all((ratio > 0.65) & (ratio < 1.4))


@pytest.mark.parametrize("weight_set", WEIGHT_SETS)
@pytest.mark.parametrize("values", [VALUES, CUBE])
def test_reordering_candidates_reorders_the_result_and_nothing_else(values, weight_set):
    order = np.array([3, 0, 5, 1, 4, 2])
    plain = sample_acceptability(values, weight_set, draws=3000)
    moved = sample_acceptability(values[..., order, :], weight_set, draws=3000)
    np.testing.assert_array_equal(moved.rank_share, plain.rank_share[order])
    np.testing.assert_array_equal(moved.central_weights, plain.central_weights[order])
    np.testing.assert_array_equal(moved.pairwise_win_share, plain.pairwise_win_share[np.ix_(order, order)])


@pytest.mark.parametrize("values", [VALUES, CUBE])
def test_reordering_criteria_changes_nothing(values):
    order = np.array([2, 0, 3, 1])
    ranged = WEIGHT_SETS[3]
    pairs = [
        (AllWeights(), AllWeights()),
        (
            OrderedWeights(importance_rank=(2, 1, 2, 4)),
            OrderedWeights(importance_rank=tuple(np.array([2, 1, 2, 4])[order])),
        ),
        (
            ranged,
            RangedWeights(low=tuple(np.array(ranged.low)[order]), high=tuple(np.array(ranged.high)[order])),
        ),
        (
            ExactWeights(weights=(0.4, 0.3, 0.2, 0.1)),
            ExactWeights(weights=tuple(np.array([0.4, 0.3, 0.2, 0.1])[order])),
        ),
    ]
    for before, after in pairs:
        plain = sample_acceptability(values, before, draws=3000)
        moved = sample_acceptability(values[..., order], after, draws=3000)
        np.testing.assert_array_equal(moved.rank_share, plain.rank_share)
        np.testing.assert_array_equal(moved.central_weights, plain.central_weights[:, order])


def test_identical_candidates_divide_their_ranks_equally():
    values = np.array([[0.9, 0.8], [0.9, 0.8], [0.1, 0.2]])
    result = sample_acceptability(values, AllWeights(), draws=2000)
    np.testing.assert_allclose(result.rank_share, [[0.5, 0.5, 0.0], [0.5, 0.5, 0.0], [0.0, 0.0, 1.0]])
    assert result.pairwise_win_share[0, 1] == 0.5
    assert result.confidence[0] == 0.5
    np.testing.assert_allclose(result.central_weights[0], result.central_weights[1])


def test_a_clone_leaves_the_others_first_shares_alone():
    plain = sample_acceptability(VALUES, AllWeights(), draws=20_000)
    cloned = sample_acceptability(np.vstack([VALUES, VALUES[:1]]), AllWeights(), draws=20_000)
    assert cloned.rank_share[6, 0] == cloned.rank_share[0, 0]
    expected = np.append(plain.rank_share[:, 0], 0.0)
    got = cloned.rank_share[:, 0].copy()
    got[0] += got[6]
    got[6] = 0.0
    np.testing.assert_allclose(got, expected, atol=0.02)


def test_all_equal_candidates_share_every_rank():
    result = sample_acceptability(np.full((4, 3), 0.5), AllWeights(), draws=100)
    np.testing.assert_allclose(result.rank_share, 0.25)
    np.testing.assert_allclose(result.pairwise_win_share, 0.5)
    np.testing.assert_allclose(result.confidence, 0.25)


def test_ties_in_some_value_draws_only_are_shared_in_those_draws():
    cube = np.array([[[1.0], [1.0], [0.0]], [[1.0], [0.5], [0.5]]])
    result = sample_acceptability(cube, ExactWeights(weights=(1.0,)))
    np.testing.assert_allclose(
        result.rank_share, [[0.75, 0.25, 0.0], [0.25, 0.5, 0.25], [0.0, 0.25, 0.75]], atol=1e-12
    )


def test_a_shared_first_rank_counts_by_its_share_in_the_central_weights():
    # First value draw: level with the rival whatever the weights (half a draw, mean ½); second: first if
    # w₁ > ½ (half of the draws, mean ¾). Central weight (½·½ + ½·¾) / (½ + ½) = .625.
    cube = np.array([[[1.0, 1.0], [1.0, 1.0]], [[1.0, 0.0], [0.0, 1.0]]])
    result = sample_acceptability(cube, AllWeights(), draws=200_000)
    assert result.central_weights[0, 0] == pytest.approx(0.625, abs=0.003)


def test_weight_of_one_ranks_by_that_criterion_and_weight_of_zero_ignores_it():
    values = np.array([[0.2, 1.0], [0.9, 0.0]])
    result = sample_acceptability(values, ExactWeights(weights=(1.0, 0.0)))
    np.testing.assert_array_equal(result.rank_share, [[0.0, 1.0], [1.0, 0.0]])


def test_one_candidate_is_certainly_first():
    result = sample_acceptability(np.array([[0.3, 0.4]]), AllWeights(), draws=1000)
    np.testing.assert_array_equal(result.rank_share, [[1.0]])
    np.testing.assert_allclose(result.central_weights, 0.5, atol=0.03)
    assert result.confidence[0] == 1.0


def test_no_candidates_give_an_empty_result():
    result = sample_acceptability(np.zeros((0, 3)), AllWeights())
    assert result.rank_share.shape == (0, 0)
    assert result.central_weights.shape == (0, 3)
    assert result.pairwise_win_share.shape == result.standard_error.shape == (0, 0)
    assert result.confidence.shape == (0,)
    assert result.draws == 0


def test_more_than_127_candidates_are_ranked_without_overflow():
    values = np.linspace(0.0, 1.0, 300)[:, None]
    result = sample_acceptability(values, AllWeights(), draws=3)
    np.testing.assert_array_equal(result.rank_share, np.eye(300)[::-1])


def test_confidence_is_the_chance_to_be_first_at_the_central_weights():
    result = sample_acceptability(CUBE, AllWeights(), draws=5000)
    leader = int(np.argmax(result.rank_share[:, 0]))
    scores = CUBE @ result.central_weights[leader]
    assert result.confidence[leader] == pytest.approx(np.mean(scores.argmax(axis=1) == leader), abs=1e-12)
    np.testing.assert_allclose(confidence_factor(CUBE, result.central_weights), result.confidence)


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.integers(0, 5), st.floats(0.01, 0.5))
def test_raising_a_value_never_lowers_the_share_of_first_ranks(seed, candidate, rise):
    values = np.random.default_rng(seed).random((6, 3)) * 0.5
    better = values.copy()
    better[candidate] += rise
    weights = OrderedWeights(
        importance_rank=(1, 2, 3)
    )  # the rank fixes the criteria's order, so the same draws
    before = sample_acceptability(values, weights, draws=500)
    after = sample_acceptability(better, weights, draws=500)
    assert after.pairwise_win_share[candidate].sum() >= before.pairwise_win_share[candidate].sum() - 1e-12


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000))
def test_a_dominated_candidate_never_beats_its_dominator(seed):
    values = np.random.default_rng(seed).random((4, 3))
    values[3] = values[0] - 0.05
    result = sample_acceptability(values, AllWeights(), draws=300)
    assert result.pairwise_win_share[3, 0] == 0.0
    assert result.rank_share[3, 0] == 0.0


@pytest.mark.parametrize(
    ("values", "draws", "text"),
    [
        (np.zeros(3), 10, "^Values have shape \\(3,\\). Give \\(candidates, criteria\\)"),
        (np.zeros((2, 0)), 10, "at least one draw and one criterion"),
        (np.array([[np.nan, 1.0]]), 10, "not a finite number"),
        (np.ones((2, 2)), 0, "0 draws"),
    ],
)
def test_impossible_requests_are_refused_in_words(values, draws, text):
    with pytest.raises(ValueError, match=text):
        sample_acceptability(values, AllWeights(), draws=draws)


@pytest.mark.parametrize(("values", "independent"), [(VALUES, 4096), (CUBE, 256), (CUBE[:2], 2)])
def test_the_standard_error_is_that_of_a_share_of_independent_draws(values, independent):
    result = sample_acceptability(values, AllWeights(), draws=4096)
    assert result.draws == 4096
    share = result.rank_share
    np.testing.assert_allclose(result.standard_error, np.sqrt(share * (1.0 - share) / independent), atol=1e-12)


def test_one_draw_is_enough_to_put_candidates_into_an_order():
    result = sample_acceptability(VALUES, AllWeights(), draws=1, threads=1)
    assert result.draws == 1
    assert sorted(result.rank_share @ np.arange(6)) == [0, 1, 2, 3, 4, 5]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (OrderedWeights(importance_rank=(1, 3, 2)), OrderedWeights(importance_rank=(3, 1, 2))),
        (RangedWeights(low=(0.1, 0, 0), high=(0.9, 0.4, 1)), RangedWeights(low=(0, 0.1, 0), high=(0.4, 0.9, 1))),
    ],
)
def test_criteria_with_equal_values_are_told_apart_by_what_is_known_of_their_weights(before, after):
    values = VALUES[:, [0, 0, 1]]
    plain, moved = (sample_acceptability(values, one, draws=3000) for one in (before, after))
    np.testing.assert_array_equal(moved.rank_share, plain.rank_share)
    np.testing.assert_array_equal(moved.central_weights, plain.central_weights[:, [1, 0, 2]])


def test_each_value_draw_is_used_at_least_once():
    assert sample_acceptability(CUBE, AllWeights(), draws=1).draws == 256


def test_places_beyond_the_hundredth_are_counted_as_well():
    # 130 candidates in a row by the only criterion: each has its own place in every draw.
    values = np.linspace(1.0, 0.0, 130)[:, None]
    result = sample_acceptability(values, ExactWeights(weights=(1.0,)), draws=10)
    np.testing.assert_array_equal(result.rank_share, np.eye(130))
