"""How sure: what is taken as known of the weights, and sentences that match the numbers."""

from __future__ import annotations

import numpy as np
import pytest

from catalog_schema.priorities import Range
from model.certainty import certainty, nearest_rivals, percent, weight_set_of
from model.weight_sets import AllWeights, ExactWeights, OrderedWeights, RangedWeights

THREE = ("spray_reach", "pump_reserve", "drying")


def test_knowledge_of_the_weights_becomes_the_weight_set(table_of, decided):
    table = table_of(np.eye(3), criteria=THREE)
    weights = (0.5, 0.2, 0.3)
    ordered, _ = weight_set_of(decided(table, weights, weight_knowledge="order"))
    assert ordered == OrderedWeights(importance_rank=(1, 3, 2))
    exact, _ = weight_set_of(decided(table, weights, weight_knowledge="exact"))
    assert isinstance(exact, ExactWeights)
    assert exact.weights == pytest.approx(weights)
    assert weight_set_of(decided(table, weights, weight_knowledge="none"))[0] == AllWeights()
    ranged = decided(table, weights, weight_knowledge="ranges", weight_ranges={"drying": Range(low=0.2, high=0.4)})
    assert weight_set_of(ranged)[0] == RangedWeights(low=(0.0, 0.0, 0.2), high=(1.0, 1.0, 0.4))


def test_ranges_that_cannot_be_met_fall_back_to_the_order_and_say_so(table_of, decided):
    table = table_of(np.eye(3), criteria=THREE)
    tight = {name: Range(low=0.5, high=0.6) for name in THREE}
    found, sentence = weight_set_of(decided(table, (0.5, 0.2, 0.3), weight_knowledge="ranges", weight_ranges=tight))
    assert found == OrderedWeights(importance_rank=(1, 3, 2))
    assert "cannot be used" in sentence


def test_weights_without_an_order_leave_all_weights_open(table_of, decided):
    found, sentence = weight_set_of(decided(table_of(np.eye(3)), (1, 1, 1), weight_knowledge="order"))
    assert found == AllWeights()
    assert "no order is known" in sentence
    assert "Nobody has given weights" in weight_set_of(decided(table_of(np.eye(3))))[1]


def test_sampled_first_ranks_agree_with_the_exact_shares(table_of, decided):
    found = decided(table_of([[0.9, 0.2, 0.5], [0.3, 0.8, 0.6], [0.5, 0.5, 0.7]]), (0.5, 0.2, 0.3))
    sure = certainty(found)
    assert sure.exact is not None
    error = 4.0 * sure.acceptability.standard_error[:, 0] + 1e-9
    assert (np.abs(sure.acceptability.rank_share[:, 0] - sure.exact.first_share) <= error).all()


def test_identity_table_under_unknown_weights_gives_each_an_equal_share(table_of, decided):
    # checks.md "acceptability" (exact, N): seven machines each best at one of seven criteria.
    sure = certainty(decided(table_of(np.eye(7))))
    assert sure.exact.first_share == pytest.approx(np.full(7, 1 / 7))
    assert np.diag(sure.exact.central_weights) == pytest.approx(np.full(7, 0.370408), abs=1e-6)


def test_headline_names_the_smallest_change_and_it_does_put_the_rival_level(table_of, decided):
    found = decided(table_of([[1.0, 0.0], [0.0, 1.0]], names=("a", "b")), (0.7, 0.3), weight_knowledge="exact")
    sure = certainty(found)
    assert sure.headline == (
        "a leads with 100 % certainty; as to weights, it would change only if 20 of 100 points of weight moved from "
        "spray_reach to pump_reserve; then b would draw level for first place."
    )
    level = sure.be_first.weights_least_moved[1] @ found.middle_values.T
    assert level[0] == pytest.approx(level[1])


def test_tightest_single_weight_is_the_nearest_end_of_any_interval(table_of, decided):
    found = decided(table_of([[1.0, 0.0], [0.0, 1.0]], names=("a", "b")), (0.7, 0.3))
    sentence = certainty(found).interval_sentence
    assert "if spray_reach fell from 70 % to 50 %, then b would lead" in sentence or "pump_reserve rose" in sentence


def test_a_machine_no_weights_put_first_is_named_with_the_proof(table_of, decided):
    found = decided(table_of([[1.0, 0.0], [0.0, 1.0], [0.4, 0.4]], names=("a", "b", "c")), (0.7, 0.3))
    sure = certainty(found)
    assert "First under no weights at all" in sure.dominance_sentence
    assert "c" in sure.dominance_sentence
    assert nearest_rivals(found, sure.be_first) == [1]
    mixture = sure.potential.blocking_mixture[2] @ found.middle_values
    assert (mixture > found.middle_values[2]).all()


def test_a_dominated_rival_leaves_no_weights_that_change_the_answer(table_of, decided):
    found = decided(table_of([[0.9, 0.9], [0.1, 0.2]], names=("a", "b")), (0.7, 0.3))
    sure = certainty(found)
    assert sure.headline.endswith("at the middle values no weights put another first.")
    assert sure.change_sentence == "No change of weights puts another machine first."
    assert "Worse than another machine" in sure.dominance_sentence


def test_more_than_seven_criteria_are_sampled_only(table_of, decided):
    eight = tuple(f"own-{k}" for k in range(8))
    found = decided(table_of(np.eye(8), criteria=eight), (8, 7, 6, 5, 4, 3, 2, 1))
    assert certainty(found, draws=2000).exact is None


def test_shares_never_claim_full_certainty_by_rounding():
    assert (percent(0.9999), percent(1.0), percent(0.0004)) == ("above 99 %", "100 %", "below 1 %")


def test_certainty_of_the_case_counts_every_draw(decision):
    sure = certainty(decision)
    assert sure.acceptability.draws >= 100_000
    assert sure.first_share == pytest.approx(sure.acceptability.rank_share[decision.leader, 0])
    assert decision.table.machine_names[decision.leader] in sure.headline


def test_a_leader_at_the_middle_that_seldom_comes_first_is_not_called_certain(table_of, decided):
    # Middles 0.6 against 0.5, yet b is ahead in two of three draws.
    three = np.array([[[0.3], [0.4]], [[0.6], [0.7]], [[0.9], [0.5]]])
    found = decided(table_of(np.tile(three, (200, 1, 1)), names=("a", "b")), (1,))
    sure = certainty(found)
    assert found.table.machine_names[found.leader] == "a"
    assert sure.first_share == pytest.approx(1 / 3)
    said = "a leads at the middle values, but b comes first more often: in 67 % of the draws, against 33 %"
    assert said in sure.headline
