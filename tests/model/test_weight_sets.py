"""Weight sets: draws stay inside, follow the right law, and impossible sets are refused."""

from __future__ import annotations

import numpy as np
import pytest

from model.weight_sets import (
    AllWeights,
    ExactWeights,
    OrderedWeights,
    RangedWeights,
    _exchange_in_ranges,
    check_weight_set,
    draw_weights,
)

DRAWS = 100_000


def generator():
    return np.random.default_rng(4)


@pytest.mark.parametrize(
    "weight_set",
    [
        AllWeights(),
        ExactWeights(weights=(0.2, 0.5, 0.3, 0.0)),
        OrderedWeights(importance_rank=(2, 1, 3, 3)),
        RangedWeights(low=(0.1, 0.0, 0.2, 0.0), high=(0.4, 0.3, 0.6, 1.0)),
        RangedWeights(low=(0.0, 0.1, 0.2, 0.3), high=(0.0, 0.3, 0.4, 0.5)),
    ],
)
def test_every_draw_is_a_weight_vector(weight_set):
    weights = draw_weights(weight_set, 4, 5000, generator())
    assert weights.shape == (4, 5000)
    assert weights.min() >= 0.0
    np.testing.assert_allclose(weights.sum(axis=0), 1.0, atol=3e-6)


def test_drawn_order_is_the_law_of_sorted_dirichlet_draws():
    ordered = draw_weights(OrderedWeights(importance_rank=(3, 1, 2)), 3, DRAWS, generator())
    assert np.all(ordered[1] >= ordered[2])
    assert np.all(ordered[2] >= ordered[0])
    dirichlet = np.sort(np.random.default_rng(9).dirichlet(np.ones(3), DRAWS), axis=1)
    for row, column in ((0, 0), (2, 1), (1, 2)):
        for quantile in (0.1, 0.5, 0.9):
            assert np.quantile(ordered[row], quantile) == pytest.approx(
                np.quantile(dirichlet[:, column], quantile), abs=0.005
            )


def test_mean_of_ordered_draws_is_the_rank_order_centroid():
    # Barron & Barrett 1996, n = 4: .5208 .2708 .1458 .0625
    weights = draw_weights(OrderedWeights(importance_rank=(1, 2, 3, 4)), 4, DRAWS, generator())
    np.testing.assert_allclose(weights.mean(axis=1), [0.5208, 0.2708, 0.1458, 0.0625], atol=0.002)


def test_equal_ranks_leave_the_order_between_them_open():
    weights = draw_weights(OrderedWeights(importance_rank=(1, 2, 2)), 3, DRAWS, generator())
    assert np.all(weights[0] >= weights[1:].max(axis=0))
    assert np.mean(weights[1] > weights[2]) == pytest.approx(0.5, abs=0.006)


def test_ranges_hold_for_every_draw():
    low, high = (0.1, 0.05, 0.2), (0.4, 0.6, 0.5)
    weights = draw_weights(RangedWeights(low=low, high=high), 3, DRAWS, generator())
    assert np.all(weights >= np.array(low)[:, None] - 1e-6)
    assert np.all(weights <= np.array(high)[:, None] + 1e-6)


def test_pair_exchange_follows_the_same_law_as_rejection():
    low, high = np.array([0.1, 0.0, 0.05, 0.0, 0.1]), np.array([0.4, 0.5, 0.3, 0.2, 0.9])
    rejected = draw_weights(RangedWeights(low=tuple(low), high=tuple(high)), 5, 40_000, generator())
    exchanged = _exchange_in_ranges(low, high, 40_000, np.random.default_rng(8))
    np.testing.assert_allclose(exchanged.mean(axis=1), rejected.mean(axis=1), atol=0.003)
    np.testing.assert_allclose(np.cov(exchanged), np.cov(rejected), atol=3e-4)


def test_ranges_that_leave_one_point_give_that_point():
    weights = draw_weights(RangedWeights(low=(0.6, 0.4), high=(0.9, 0.9)), 2, 10, generator())
    np.testing.assert_allclose(weights, [[0.6] * 10, [0.4] * 10], atol=1e-6)
    weights = draw_weights(RangedWeights(low=(0.0, 0.0), high=(0.7, 0.3)), 2, 10, generator())
    np.testing.assert_allclose(weights, [[0.7] * 10, [0.3] * 10], atol=1e-6)


@pytest.mark.parametrize(
    ("weight_set", "text"),
    [
        (ExactWeights(weights=(0.5, 0.4, 0.2)), "^The weights add up to 1.1, not to 1. Divide them by their sum.$"),
        (ExactWeights(weights=(1.5, -0.5, 0.0)), "^A weight is outside 0 to 1. Give each .* of the whole.$"),
        (ExactWeights(weights=(1.5, 0.0, 0.0)), "^A weight is outside 0 to 1"),
        (ExactWeights(weights=(1.0,)), "^There are 1 weights for 3 criteria"),
        (OrderedWeights(importance_rank=(1, 2)), "2 ranks of importance for 3 criteria"),
        (RangedWeights(low=(0.5, 0.5, 0.5), high=(1.0, 1.0, 1.0)), "^The lowest .* 1.5, above 1: .* some of them.$"),
        (RangedWeights(low=(0.0, 0.0, 0.0), high=(0.2, 0.2, 0.2)), "^The highest .* 0.6, below 1: .* some of them.$"),
        (RangedWeights(low=(0.3, 0.0, 0.0), high=(0.2, 1.0, 1.0)), "^A weight range is not 0 <= lowest <= highest"),
        (RangedWeights(low=(0.0, 0.0), high=(1.0, 1.0, 1.0)), "2 lowest weights for 3 criteria"),
        (RangedWeights(low=(0.0, 0.0, 0.0), high=(1.0, 1.0)), "2 highest weights for 3 criteria"),
        (RangedWeights(low=(-0.1, 0.0, 0.0), high=(1.0, 1.0, 1.0)), "^A weight range is not 0"),
        (RangedWeights(low=(0.0, 0.0, 0.0), high=(1.1, 1.0, 1.0)), "^A weight range is not 0"),
    ],
)
def test_impossible_weight_sets_are_refused_in_words(weight_set, text):
    with pytest.raises(ValueError, match=text):
        check_weight_set(weight_set, 3)


def test_pair_exchange_moves_every_one_of_three_weights():
    # The ranges allow a small hexagon around (0.3, 0.3, 0.4); its centre is the mean by symmetry.
    low, high = np.array([0.2, 0.2, 0.3]), np.array([0.4, 0.4, 0.5])
    exchanged = _exchange_in_ranges(low, high, 20_000, np.random.default_rng(8))
    np.testing.assert_allclose(exchanged.mean(axis=1), [0.3, 0.3, 0.4], atol=0.002)
    rejected = draw_weights(RangedWeights(low=tuple(low), high=tuple(high)), 3, 20_000, generator())
    np.testing.assert_allclose(exchanged.std(axis=1), rejected.std(axis=1), rtol=0.03)


@pytest.mark.parametrize("weight_set", [AllWeights(), RangedWeights(low=(0.1, 0.0), high=(0.9, 0.8))])
def test_a_single_draw_can_be_had(weight_set):
    assert draw_weights(weight_set, 2, 1, generator()).shape == (2, 1)


def test_a_narrow_range_of_two_weights_is_drawn_evenly():
    # Uniform from 0.48 to 0.50; so few proposals lie in it that pairs are exchanged instead.
    weights = draw_weights(RangedWeights(low=(0.48, 0.0), high=(0.5, 1.0)), 2, DRAWS, generator())
    assert weights[0].mean() == pytest.approx(0.49, abs=1e-4)
    assert weights[0].std() == pytest.approx(0.02 / np.sqrt(12.0), rel=0.01)
