"""The compromise of several stakeholders: means, regrets, and the bound the linear programme promises."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from model.compromise import compromise, minimax_regret_compromise
from model.ranking import rank
from model.weights import direct_weights

Case = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


@st.composite
def cases(draw: st.DrawFn, max_stakeholders: int = 4) -> Case:
    """Weights per stakeholder, shares, values."""
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    stakeholders = draw(st.integers(1, max_stakeholders))
    candidates, criteria = draw(st.integers(1, 7)), draw(st.integers(1, 6))
    weights = np.array(
        [direct_weights(row) for row in random.dirichlet(np.ones(criteria), size=stakeholders)]
    )
    return weights, direct_weights(random.random(stakeholders) + 0.1), random.random((candidates, criteria))


def disagreement(
    weights: NDArray[np.float64], rows: NDArray[np.float64], values: NDArray[np.float64]
) -> float:
    """Largest |(w_s − w)·(v_a − v_b)|, by brute force."""
    differences = values[:, np.newaxis] - values[np.newaxis]
    return float(np.abs(differences @ (rows - weights).T).max())


def test_means_of_two_voices_with_unequal_shares() -> None:
    result = compromise([[0.8, 0.2], [0.2, 0.8]], [3.0, 1.0])
    assert result.arithmetic == pytest.approx((0.65, 0.35))
    # (0.8^0.75 0.2^0.25) : (0.2^0.75 0.8^0.25) = 2 : 1.
    assert result.geometric == pytest.approx((2 / 3, 1 / 3))


@settings(deadline=None, max_examples=50)
@given(cases())
def test_both_means_are_weights_and_one_voice_or_one_opinion_is_kept(case: Case) -> None:
    weights, shares, _ = case
    result = compromise(weights, shares)
    assert result.geometric is not None
    assert sum(result.arithmetic) == pytest.approx(1.0, abs=1e-12)
    assert sum(result.geometric) == pytest.approx(1.0, abs=1e-12)
    agreed = compromise(np.tile(weights[0], (len(shares), 1)), shares)
    assert agreed.arithmetic == pytest.approx(weights[0], abs=1e-12)
    assert agreed.geometric == pytest.approx(weights[0], abs=1e-12)


@settings(deadline=None, max_examples=50)
@given(cases(), st.data())
def test_reordering_stakeholders_and_criteria_reorders_the_means_exactly(
    case: Case, data: st.DataObject
) -> None:
    weights, shares, _ = case
    people = data.draw(st.permutations(range(weights.shape[0])))
    order = data.draw(st.permutations(range(weights.shape[1])))
    before, after = compromise(weights, shares), compromise(weights[people][:, order], shares[people])
    assert before.geometric is not None
    assert after.geometric is not None
    assert after.arithmetic == pytest.approx([before.arithmetic[j] for j in order], abs=1e-15)
    assert after.geometric == pytest.approx([before.geometric[j] for j in order], abs=1e-15)


def test_a_zero_from_one_voice_drops_the_criterion_only_in_the_geometric_mean() -> None:
    result = compromise([[0.5, 0.5, 0.0], [0.25, 0.25, 0.5]], [1.0, 1.0])
    assert result.arithmetic[2] == pytest.approx(0.25)
    assert result.geometric == pytest.approx((0.5, 0.5, 0.0))


def test_voices_with_no_criterion_in_common_have_no_geometric_mean() -> None:
    result = compromise([[1.0, 0.0], [0.0, 1.0]], [1.0, 1.0])
    assert result.geometric is None
    assert result.arithmetic == (0.5, 0.5)


def test_a_voice_without_say_changes_neither_mean_nor_the_minimax_weights() -> None:
    weights, alone = [[0.6, 0.4], [0.0, 1.0]], [[0.6, 0.4]]
    assert compromise(weights, [1.0, 0.0]) == compromise(alone, [1.0])
    values = [[1.0, 0.0], [0.0, 1.0]]
    result = minimax_regret_compromise(weights, [1.0, 0.0], values)
    assert result.weights == pytest.approx((0.6, 0.4), abs=1e-8)
    assert result.stakeholder_rankings[1].order == (1, 0)


def test_minimax_meets_two_opposed_voices_half_way_whatever_their_shares() -> None:
    result = minimax_regret_compromise([[0.9, 0.1], [0.3, 0.7]], [9.0, 1.0], [[1.0, 0.0], [0.0, 1.0]])
    assert result.weights == pytest.approx((0.6, 0.4), abs=1e-7)
    # Score difference of the two candidates is 2w₁ − 1: ±0.6 around the middle.
    assert result.regret_bound == pytest.approx(0.6, abs=1e-7)
    assert result.regrets == (pytest.approx((0.0, 0.8)), pytest.approx((0.4, 0.0)))
    assert result.least_regret_candidates == (0,)
    assert [ranking.order for ranking in result.stakeholder_rankings] == [(0, 1), (1, 0)]


@settings(deadline=None, max_examples=50)
@given(cases())
def test_the_bound_is_reached_and_holds_for_every_voice(case: Case) -> None:
    weights, shares, values = case
    result = minimax_regret_compromise(weights, shares, values)
    assert sum(result.weights) == pytest.approx(1.0, abs=1e-12)
    assert min(result.weights) >= 0.0
    assert disagreement(np.array(result.weights), weights, values) <= result.regret_bound + 1e-7
    winner = result.candidates.index(result.ranking.order[0])
    assert max(row[winner] for row in result.regrets) <= result.regret_bound + 1e-7


@settings(deadline=None, max_examples=50)
@given(cases(), st.integers(0, 2**32 - 1))
def test_no_other_weights_have_a_smaller_bound(case: Case, seed: int) -> None:
    weights, shares, values = case
    result = minimax_regret_compromise(weights, shares, values)
    random = np.random.default_rng(seed)
    rivals = [np.array(compromise(weights, shares).arithmetic), *weights]
    rivals += list(random.dirichlet(np.ones(weights.shape[1]), size=100))
    assert min(disagreement(rival, weights, values) for rival in rivals) >= result.regret_bound - 1e-9


@settings(deadline=None, max_examples=50)
@given(cases(max_stakeholders=2), st.data())
def test_two_voices_never_need_more_than_half_their_disagreement(case: Case, data: st.DataObject) -> None:
    weights, shares, values = case
    bound = minimax_regret_compromise(weights, shares, values).regret_bound
    assert bound == pytest.approx(disagreement(weights[0], weights[-1:], values) / 2.0, abs=1e-8)


@settings(deadline=None, max_examples=50)
@given(cases(), st.data())
def test_relabelling_moves_the_minimax_weights_with_the_labels(case: Case, data: st.DataObject) -> None:
    weights, shares, values = case
    people = data.draw(st.permutations(range(weights.shape[0])))
    order = data.draw(st.permutations(range(weights.shape[1])))
    rows = data.draw(st.permutations(range(values.shape[0])))
    before = minimax_regret_compromise(weights, shares, values)
    after = minimax_regret_compromise(weights[people][:, order], shares[people], values[rows][:, order])
    assert after.regret_bound == pytest.approx(before.regret_bound, abs=1e-8)
    assert after.weights == pytest.approx([before.weights[j] for j in order], abs=1e-5)
    assert {rows[c] for c in after.least_regret_candidates} == set(before.least_regret_candidates)


@settings(deadline=None, max_examples=50)
@given(cases())
def test_each_voice_keeps_its_own_ranking_and_regrets_nothing_about_its_own_best(case: Case) -> None:
    weights, shares, values = case
    result = minimax_regret_compromise(weights, shares, values)
    for own, row, regrets in zip(result.stakeholder_rankings, weights, result.regrets, strict=True):
        assert own == rank(values, row)
        assert regrets[own.order[0]] == 0.0
        assert min(regrets) == 0.0


def test_ruled_out_candidates_have_no_part_in_the_compromise() -> None:
    weights, shares = [[0.9, 0.1], [0.3, 0.7]], [1.0, 1.0]
    values = np.array([[1.0, 0.0], [np.nan, np.nan], [0.0, 1.0]])
    result = minimax_regret_compromise(weights, shares, values, excluded=[False, True, False])
    plain = minimax_regret_compromise(weights, shares, values[[0, 2]])
    assert result.candidates == (0, 2)
    assert (result.weights, result.regrets) == (plain.weights, plain.regrets)
    assert result.ranking.ruled_out == (1,)


@pytest.mark.parametrize("values", [np.zeros((0, 2)), np.array([[0.4, 0.7]]), np.full((3, 2), 0.5)])
def test_with_nothing_to_choose_between_the_minimax_weights_are_the_arithmetic_mean(
    values: NDArray[np.float64],
) -> None:
    result = minimax_regret_compromise([[0.9, 0.1], [0.3, 0.7]], [1.0, 3.0], values)
    assert result.weights == pytest.approx((0.45, 0.55), abs=1e-12)
    assert result.regret_bound == pytest.approx(0.0, abs=1e-12)
    assert result.least_regret_candidates == tuple(range(len(values)))


def test_a_single_criterion_leaves_nothing_to_compromise() -> None:
    result = minimax_regret_compromise([[1.0], [1.0]], [1.0, 1.0], [[0.2], [0.8]])
    assert (result.weights, result.regret_bound) == ((1.0,), pytest.approx(0.0, abs=1e-12))


@pytest.mark.parametrize(
    ("weights", "shares", "message"),
    [
        ([], [], "one row of weights for each stakeholder"),
        ([0.5, 0.5], [1.0], "one row of weights for each stakeholder"),
        ([[0.5, 0.6]], [1.0], "must sum to 1"),
        ([[0.5, 0.5]], [0.0], "^All shares are zero. At least one stakeholder must have a say.$"),
        ([[0.5, 0.5], [0.5, 0.5]], [1.0, np.nan], "^The stakeholders' shares must be finite and not negative.$"),
        ([[0.5, 0.5], [0.5, 0.5]], [1.0, -1.0], "not negative"),
        ([[0.5, 0.5]], [1.0, 1.0], "2 shares for 1 stakeholders"),
    ],
)
def test_voices_that_give_no_compromise_are_refused(
    weights: object, shares: list[float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        compromise(weights, shares)  # type: ignore[arg-type]


def test_one_silent_voice_among_three_leaves_means_and_least_regret_to_the_other_two() -> None:
    weights, shares = [[0.9, 0.1], [0.7, 0.3], [0.0, 1.0]], [1.0, 3.0, 0.0]
    assert compromise(weights, shares) == compromise(weights[:2], shares[:2])
    # Both who are heard prefer the first; the silent one would lose all by it.
    result = minimax_regret_compromise(weights, shares, [[1.0, 0.0], [0.0, 1.0]])
    assert result.least_regret_candidates == (0,)
    assert result.regrets[2] == pytest.approx((1.0, 0.0))


def test_three_voices_on_two_criteria_meet_half_way_between_the_outermost() -> None:
    # Every lead moves by at most half of what the first weight moves, so 0.8 and 0.4 meet at 0.6, 0.2 off, bound 0.1.
    values = [[0.0, 0.25], [0.75, 0.5], [0.5, 0.75]]
    result = minimax_regret_compromise([[0.8, 0.2], [0.7, 0.3], [0.4, 0.6]], [1.0, 1.0, 1.0], values)
    assert result.regret_bound == pytest.approx(0.1, abs=1e-7)
    assert result.weights == pytest.approx((0.6, 0.4), abs=1e-7)


def test_a_criterion_left_without_weight_is_no_trouble_to_rounding() -> None:
    # The nearest weights lie on the border, a hair beyond it by rounding.
    values = [[0.5, 0.25, 0.0, 0.25], [0.0, 0.75, 0.75, 0.0], [0.25, 0.0, 0.5, 0.75], [0.0, 0.75, 0.0, 0.0]]
    voices = [[3 / 7, 1 / 7, 3 / 7, 0.0], [0.5, 0.5, 0.0, 0.0], [0.75, 0.25, 0.0, 0.0]]
    weights = minimax_regret_compromise(voices, [1.0, 1.0, 1.0], values).weights
    assert min(weights) >= 0.0
    assert sum(weights) == pytest.approx(1.0)
