"""Weight intervals and smallest changes: exact ends, witnesses, and two methods that check each other."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog, minimize

from model.dominance import dominance_matrix, potential_optimality
from model.weight_stability import (
    _change,
    nearest_weights,
    smallest_change_to_be_first,
    smallest_change_to_overtake,
    weight_intervals,
)


def problem(seed, candidates=6, criteria=4):
    generator = np.random.default_rng(seed)
    return generator.random((candidates, criteria)), generator.dirichlet(np.ones(criteria))


def with_weight(weights, k, t):
    others = weights.copy()
    others[k] = 0.0
    moved = others / others.sum() * (1.0 - t)
    moved[k] = t
    return moved


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000))
def test_the_leader_stays_inside_its_interval_and_loses_just_outside(seed):
    values, weights = problem(seed)
    result = weight_intervals(values, weights)
    assert result.leader == np.argmax(values @ weights)
    for k in range(4):
        assert result.low[k] <= weights[k] <= result.high[k]
        for t in np.linspace(result.low[k] + 1e-9, result.high[k] - 1e-9, 5):
            scores = values @ with_weight(weights, k, t)
            assert scores[result.leader] >= scores.max() - 1e-12
        if result.takes_over_below[k] >= 0:
            scores = values @ with_weight(weights, k, max(result.low[k] - 1e-6, 0.0))
            assert scores[result.takes_over_below[k]] > scores[result.leader]
        else:
            assert result.low[k] == 0.0
        if result.takes_over_above[k] >= 0:
            scores = values @ with_weight(weights, k, min(result.high[k] + 1e-6, 1.0))
            assert scores[result.takes_over_above[k]] > scores[result.leader]
        else:
            assert result.high[k] == 1.0


def test_weight_of_one_gives_the_others_equal_proportions():
    values = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 1.0]])
    result = weight_intervals(values, np.array([1.0, 0.0, 0.0]))
    assert result.low[0] == pytest.approx(0.5)
    assert result.takes_over_below[0] == 1
    np.testing.assert_allclose(result.high, [1.0, 0.5, 0.5])


def test_intervals_of_one_none_and_equal_candidates_are_whole():
    for values in (np.array([[0.2, 0.4]]), np.full((3, 2), 0.5)):
        result = weight_intervals(values, np.array([0.3, 0.7]))
        np.testing.assert_array_equal(result.low, 0.0)
        np.testing.assert_array_equal(result.high, 1.0)
        assert result.leader == 0
    nobody = weight_intervals(np.zeros((0, 2)), np.array([0.3, 0.7]))
    assert (nobody.leader, nobody.low.tolist(), nobody.high.tolist()) == (-1, [0.0, 0.0], [1.0, 1.0])
    assert (nobody.takes_over_below.tolist(), nobody.takes_over_above.tolist()) == ([-1, -1], [-1, -1])
    assert weight_intervals(np.array([[0.2], [0.1]]), np.array([1.0])).high.tolist() == [1.0]


def test_a_tie_today_ends_the_interval_at_todays_weight():
    result = weight_intervals(np.array([[1.0, 0.0], [0.0, 1.0]]), np.array([0.5, 0.5]))
    assert result.leader == 0
    np.testing.assert_allclose(result.low, [0.5, 0.0])
    np.testing.assert_allclose(result.high, [1.0, 0.5])


def test_reordering_changes_only_the_order_of_the_answer():
    values, weights = problem(11)
    order, criteria = np.array([3, 1, 5, 0, 2, 4]), np.array([2, 3, 0, 1])
    plain = weight_intervals(values, weights)
    moved = weight_intervals(values[order][:, criteria], weights[criteria])
    assert order[moved.leader] == plain.leader
    np.testing.assert_allclose(moved.low, plain.low[criteria], atol=1e-12)
    np.testing.assert_allclose(moved.high, plain.high[criteria], atol=1e-12)
    before, after = (
        smallest_change_to_be_first(values, weights),
        smallest_change_to_be_first(values[order][:, criteria], weights[criteria]),
    )
    np.testing.assert_allclose(after.moved_share, before.moved_share[order], atol=1e-7)
    np.testing.assert_allclose(after.distance, before.distance[order], atol=1e-7)


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.booleans())
@example(96, True)
def test_changed_weights_do_what_they_claim_and_both_methods_agree(seed, coarse):
    values, weights = problem(seed)
    if coarse:
        values = np.round(values * 3.0) / 3.0
    overtake = smallest_change_to_overtake(values, weights)
    first = smallest_change_to_be_first(values, weights)
    assert overtake.methods_agree
    assert first.methods_agree
    leader = int(np.argmax(values @ weights))
    for r in range(len(values)):
        for found in (overtake.weights_least_moved[r], overtake.weights_nearest[r]):
            if overtake.possible[r]:
                assert found.min() >= -1e-9
                assert found.sum() == pytest.approx(1.0, abs=1e-9)
                assert (values[r] - values[leader]) @ found >= -1e-7
        for found in (first.weights_least_moved[r], first.weights_nearest[r]):
            if first.possible[r]:
                assert found.sum() == pytest.approx(1.0, abs=1e-7)
                assert values[r] @ found >= (values @ found).max() - 1e-7
    assert overtake.moved_share[leader] == 0.0
    assert np.all(overtake.moved_share <= first.moved_share + 1e-7)
    np.testing.assert_array_equal(first.possible, potential_optimality(values).potentially_first)


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000))
def test_closed_form_of_the_least_moved_share_equals_the_linear_program(seed):
    values, weights = problem(seed, candidates=3, criteria=5)
    change = smallest_change_to_overtake(values, weights)
    leader = int(np.argmax(values @ weights))
    for r in range(3):
        gain = values[r] - values[leader]
        solution = linprog(
            np.full(10, 0.5),
            A_ub=np.vstack([np.append(-gain, gain)[None], np.hstack([-np.eye(5), np.eye(5)])]),
            b_ub=np.append(gain @ weights, weights),
            A_eq=np.append(np.ones(5), -np.ones(5))[None],
            b_eq=[0.0],
            bounds=(0.0, None),
        )
        assert change.possible[r] == (solution.status == 0)
        if change.possible[r]:
            assert change.moved_share[r] == pytest.approx(solution.fun, abs=1e-7)


@pytest.mark.parametrize("seed", range(8))
def test_nearest_weights_equal_those_of_a_general_optimiser(seed):
    values, weights = problem(seed, candidates=5)
    reachable = potential_optimality(values).potentially_first
    for r in np.flatnonzero(reachable):
        gain = values[r] - np.delete(values, r, axis=0)
        found = nearest_weights(gain, weights)
        general = minimize(
            lambda w: np.sum((w - weights) ** 2),
            potential_optimality(values).witness_weights[r],
            bounds=[(0.0, 1.0)] * 4,
            constraints=[
                {"type": "eq", "fun": lambda w: w.sum() - 1.0},
                {"type": "ineq", "fun": lambda w, gain=gain: gain @ w},
            ],
            method="SLSQP",
            options={"ftol": 1e-14, "maxiter": 500},
        )
        assert np.sum((found - weights) ** 2) == pytest.approx(general.fun, abs=1e-6)


def test_nearest_weights_with_one_condition_are_the_foot_of_the_perpendicular():
    weights = np.array([0.4, 0.3, 0.3])
    gain = np.array([-1.0, 0.5, 0.2])
    flat = gain - gain.mean()
    expected = weights - (gain @ weights) / (flat @ flat) * flat
    np.testing.assert_allclose(nearest_weights(gain[None], weights), expected, atol=1e-8)


def test_a_rival_the_leader_dominates_can_never_overtake():
    values = np.array([[0.9, 0.9], [0.5, 0.5], [0.2, 1.0]])
    change = smallest_change_to_overtake(values, np.array([0.5, 0.5]))
    assert dominance_matrix(values)[0, 1]
    assert change.possible.tolist() == [True, False, True]
    assert np.isinf(change.moved_share[1])
    assert np.isnan(change.weights_nearest[1]).all()


def test_a_rival_may_overtake_the_leader_and_still_never_be_first():
    values = np.array([[1.0, 0.0], [0.0, 1.0], [0.4, 0.4]])
    weights = np.array([0.8, 0.2])
    assert smallest_change_to_overtake(values, weights).possible[2]
    assert not smallest_change_to_be_first(values, weights).possible[2]


@pytest.mark.parametrize("function", [smallest_change_to_overtake, smallest_change_to_be_first])
def test_changes_for_one_none_and_identical_candidates(function):
    weights = np.array([0.3, 0.7])
    assert function(np.zeros((0, 2)), weights).moved_share.size == 0
    assert function(np.array([[0.2, 0.4]]), weights).moved_share.tolist() == [0.0]
    assert function(np.full((3, 2), 0.5), weights).moved_share.tolist() == [0.0, 0.0, 0.0]


@pytest.mark.parametrize(
    ("values", "weights", "text"),
    [
        (np.ones((2, 2)), np.ones(3), "Give one weight for each criterion"),
        (np.array([[np.inf, 1.0]]), np.array([0.5, 0.5]), "not a finite number"),
        (np.ones((2, 2)), np.array([0.5, 0.6]), "Give shares that add up to 1"),
        (np.ones((2, 2)), np.array([-0.5, 1.5]), "one is negative"),
    ],
)
def test_unfit_values_and_weights_are_refused_in_words(values, weights, text):
    with pytest.raises(ValueError, match=text):
        weight_intervals(values, weights)


def test_everything_together_is_quick_for_16_by_7(capsys):
    values, weights = problem(1, 16, 7)
    best = np.inf
    for _ in range(5):
        start = time.perf_counter()
        weight_intervals(values, weights)
        smallest_change_to_overtake(values, weights)
        smallest_change_to_be_first(values, weights)
        potential_optimality(values)
        dominance_matrix(values)
        best = min(best, time.perf_counter() - start)
    with capsys.disabled():
        print(f"\nweight stability and dominance, 16 × 7: {best * 1e3:.1f} ms")
    assert best < 0.5  # the aim is 0.05 s; loose, as the machine may be busy


SHARE = np.array([0.3, 0.7])
GAIN = [np.array([[1.0, -1.0]])]


@pytest.mark.parametrize(
    ("moved", "agree"),
    [
        # The nearest weights for the gain w1 − w2 ≥ 0 are (0.5, 0.5): what both methods give here.
        ([0.5, 0.5], True),
        # More moved than the nearest weights need.
        ([0.6, 0.4], False),
        # Less distance than the nearest weights have: these do not meet the condition.
        ([0.4, 0.6], False),
        ([np.nan, np.nan], False),
    ],
)
def test_the_two_methods_are_said_to_disagree_where_either_is_beaten_by_the_other(moved, agree):
    found = _change(SHARE, np.array([moved]), GAIN)
    assert found.methods_agree is agree
    assert found.distance == pytest.approx([np.sqrt(0.08)])
    assert found.weights_nearest[0] == pytest.approx([0.5, 0.5])


def test_moved_share_is_half_the_sum_of_absolute_changes():
    found = _change(SHARE, np.array([[0.5, 0.5]]), GAIN)
    assert found.moved_share == pytest.approx([0.2])
    assert found.possible.tolist() == [True]


def test_what_only_one_method_finds_possible_is_a_disagreement():
    # A gain that no weights make good.
    found = _change(SHARE, np.array([[0.5, 0.5]]), [np.array([[-1.0, -2.0]])])
    assert found.methods_agree is False
    assert found.distance.tolist() == [np.inf]


@pytest.mark.parametrize("scale", [1e-6, 1.0])
def test_the_change_does_not_depend_on_how_far_values_lie_apart(scale):
    # Three corners of a triangle: each rival draws level with the leader at equal weights of the two.
    change = smallest_change_to_be_first(scale * np.eye(3), np.array([0.5, 0.3, 0.2]))
    assert change.moved_share == pytest.approx([0.0, 0.1, 0.15], abs=1e-6)
    assert change.methods_agree


def test_weights_that_miss_the_whole_by_rounding_are_brought_to_it():
    values, weights = problem(3)
    exact = smallest_change_to_overtake(values, weights)
    rounded = smallest_change_to_overtake(values, weights * (1.0 + 9e-7))
    np.testing.assert_allclose(rounded.moved_share, exact.moved_share, atol=1e-12)
    with pytest.raises(ValueError, match="add up to 1"):
        smallest_change_to_overtake(values, weights * (1.0 + 2e-6))


def test_the_leader_is_the_first_of_those_that_tie():
    values = np.array([[0.5, 0.5], [1.0, 0.0], [0.0, 1.0]])
    assert weight_intervals(values, np.array([0.5, 0.5])).leader == 0
    assert smallest_change_to_overtake(values, np.array([0.5, 0.5])).moved_share.tolist() == [0.0, 0.0, 0.0]


def test_weight_is_taken_first_where_it_is_worth_least():
    # The leader is ahead by 0.3·0.5 + 0.3·1 − 0.4·1 = 0.05: from the third criterion, worth 2 a unit, 0.025 must move.
    values = np.array([[0.0, 0.5, 1.0], [1.0, 0.0, 0.0]])
    change = smallest_change_to_overtake(values, np.array([0.4, 0.3, 0.3]))
    assert change.weights_least_moved[1] == pytest.approx([0.425, 0.3, 0.275])
    # Ahead by 0.65: the third gives all of its 0.3 (0.6) and the second what is left (0.05 ÷ 1.5).
    more = smallest_change_to_overtake(values, np.array([0.0, 0.7, 0.3]))
    assert more.weights_least_moved[1] == pytest.approx([0.3 + 0.05 / 1.5, 0.7 - 0.05 / 1.5, 0.0])


def test_with_all_weight_on_one_of_two_criteria_the_other_gets_what_is_taken_away():
    result = weight_intervals(np.eye(2), np.array([1.0, 0.0]))
    np.testing.assert_allclose([result.low, result.high], [[0.5, 0.0], [1.0, 0.5]])


@pytest.mark.parametrize("values", [[[1.0, 0.5], [0.0, 0.5]], [[0.5, 1.0], [0.5, 0.0]]])
def test_a_rival_that_only_draws_level_at_no_weight_or_at_all_of_it_never_takes_over(values):
    result = weight_intervals(np.array(values), np.array([0.5, 0.5]))
    np.testing.assert_array_equal([result.low, result.high], [[0.0, 0.0], [1.0, 1.0]])
    assert result.takes_over_below.tolist() == result.takes_over_above.tolist() == [-1, -1]


@pytest.mark.parametrize("beaten", [[0.6, 0.4], [0.4, 0.6]])
def test_the_two_methods_must_agree_on_each_candidate_for_itself(beaten):
    assert _change(SHARE, np.array([[0.5, 0.5], beaten]), GAIN * 2).methods_agree is False
    assert _change(SHARE, np.array([[0.5, 0.5], [0.5, 0.5]]), GAIN * 2).methods_agree is True


def test_weight_moves_where_it_is_worth_little():
    # Behind by 0.3·0.7 − 0.2·0.3 = 0.15, and moved weight is worth 0.5 a unit.
    change = smallest_change_to_overtake(np.array([[0.3, 0.0], [0.0, 0.2]]), np.array([0.7, 0.3]))
    assert change.moved_share == pytest.approx([0.0, 0.3])


def test_a_rival_level_on_one_criterion_alone_draws_level_with_all_the_weight_there():
    # Behind on the others, so all of the weight must move; rounding leaves a little lacking when nothing is left.
    values = np.array([[0.7, 0.1, 0.0], [0.0, 0.0, 0.0]])
    change = smallest_change_to_overtake(values, np.array([0.45, 0.15, 0.4]))
    assert change.possible[1]
    assert change.weights_least_moved[1] == pytest.approx([0.0, 0.0, 1.0])
    assert change.moved_share[1] == pytest.approx(0.6)


def test_no_weight_is_taken_from_a_criterion_that_is_worth_as_much():
    # The third and fourth criterion are worth the same to it, and it lacks (2·0.25 + 0.53 − 0.19 − 0.03)/3 = 0.27: the
    # first gives all of its 0.25, worth 1 a unit, and the second 0.02 ÷ (2/3) = 0.03; the fourth keeps its 0.03. With
    # a little more in the first, the second gives as much less. Rounding differs from one to the next.
    values = np.array([[2.0, 2.0, 2.0, 1.0], [0.0, 1.0, 3.0, 2.0]]) / 3.0
    for more in np.arange(25) / 1000.0:
        change = smallest_change_to_overtake(values, np.array([0.25 + more, 0.53 - more, 0.19, 0.03]))
        assert change.weights_least_moved[1] == pytest.approx([0.0, 0.5, 0.47, 0.03])
        assert change.moved_share[1] == pytest.approx(0.28)
        assert change.methods_agree


def test_the_scale_of_the_values_plays_no_part_in_the_smallest_change():
    values, weights = problem(5)
    plain, small = smallest_change_to_overtake(values, weights), smallest_change_to_overtake(1e-8 * values, weights)
    np.testing.assert_allclose(small.moved_share, plain.moved_share, rtol=1e-6)
    assert small.moved_share.max() > 0.05
