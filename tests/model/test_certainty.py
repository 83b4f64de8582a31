"""How sure: what is taken as known of the weights, and sentences that match the numbers."""

from __future__ import annotations

import numpy as np
import pytest

from catalog_schema.priorities import Range
from model.certainty import certainty, nearest_rivals, percent, weight_set_of
from model.dominance import dominance_matrix, potential_optimality
from model.weight_sets import AllWeights, ExactWeights, OrderedWeights, RangedWeights
from model.weight_stability import smallest_change_to_be_first, smallest_change_to_overtake, weight_intervals

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
    assert sentence == (
        "The common weights are all alike, so no order is known: all weights are equally likely."
    )
    assert weight_set_of(decided(table_of(np.eye(3))))[1] == (
        "Nobody has given weights. Nothing is taken as known about the weights: all are equally likely."
    )


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
    assert (percent(0.9999), percent(1.0), percent(0.0004)) == ("over 99 %", "100 %", "under 1 %")


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


# ---- sentences by hand --------------------------------------------------------------------------------------------


def test_the_tightest_single_weight_is_named_with_both_ends(table_of, decided):
    # With weight t on the second criterion a leads by (1 − t)·6/7 − t, which ends at 6/13; the first ends at 3/7.
    found = decided(table_of([[1.0, 0.0, 0.5], [0.0, 1.0, 0.5]], names=("a", "b"), criteria=THREE), (0.6, 0.3, 0.1))
    assert certainty(found, draws=100).interval_sentence == (
        "Of all single weights this one is tightest: if pump_reserve rose from 30 % to 46 %, then b would lead."
    )
    other = decided(table_of([[1.0, 0.0, 0.5], [0.0, 1.0, 0.5]], names=("a", "b"), criteria=THREE), (0.5, 0.25, 0.25))
    # (1 − t)·2/3 − t ends at 2/5; the first at t − (1 − t)/2, at 1/3.
    assert certainty(other, draws=100).interval_sentence.endswith(
        "if pump_reserve rose from 25 % to 40 %, then b would lead."
    )
    low = decided(table_of([[1.0, 0.0, 0.5], [0.0, 1.0, 0.0]], names=("a", "b"), criteria=THREE), (0.1, 0.3, 0.6))
    # Lead 0.1; third: t/2 − (1 − t)/2, ends at 1/2; second: (1 − t)·4/7 − t, ends at 4/11.
    assert certainty(low, draws=100).interval_sentence.endswith(
        "if pump_reserve rose from 30 % to 36 %, then b would lead."
    )
    large = decided(table_of([[1.0, 0.0, 0.0], [0.0, 1.0, 1.0]], names=("a", "b"), criteria=THREE), (0.6, 0.3, 0.1))
    # A large weight that has little to fall: the first ends at 1/2, the second at 5/12, the third at 1/4.
    assert certainty(large, draws=100).interval_sentence.endswith(
        "if spray_reach fell from 60 % to 50 %, then b would lead."
    )


def test_a_leader_that_no_single_weight_moves_is_said_to_stay(table_of, decided):
    found = decided(table_of([[0.9, 0.9], [0.1, 0.2]], names=("a", "b")), (0.7, 0.3))
    assert certainty(found, draws=100).interval_sentence == "Any single weight may take any value: a stays first."


def test_nobody_left_is_said_by_every_sentence(table_of, decided):
    sure = certainty(decided(table_of(np.zeros((0, 2)), ruled_out=("a",)), (0.7, 0.3)), draws=100)
    assert sure.interval_sentence == "There is no leader whose weights could be tested."
    assert sure.change_sentence == "There is no machine."
    assert sure.rank_sentence == "There is no machine whose ranks could be counted."
    assert sure.dominance_sentence == "There are no two machines to compare."
    assert sure.headline.startswith("No machine is left to rank")


def test_a_single_machine_is_said_to_depend_on_its_musts_only(table_of, decided):
    sure = certainty(decided(table_of([[0.4, 0.5]], names=("a",)), (0.7, 0.3)), draws=100)
    assert sure.headline == "a is the only machine left, so no weights change the answer; only the musts can."
    assert sure.change_sentence == "No change of weights puts another machine first."
    assert sure.rank_sentence == "a comes first in 100 % of the draws."
    assert sure.dominance_sentence == "There are no two machines to compare."


def test_a_rival_level_with_the_leader_is_said_so(table_of, decided):
    found = decided(table_of([[1.0, 0.0], [0.0, 1.0]], names=("a", "b")), (0.5, 0.5), weight_knowledge="exact")
    sure = certainty(found, draws=100)
    assert sure.change_sentence == "b is already level with the leader."
    assert sure.headline == "a leads with 50 % certainty, level with b."


def test_a_small_change_is_given_to_a_tenth_of_a_point(table_of, decided):
    found = decided(table_of([[1.0, 0.0], [0.0, 1.0]], names=("a", "b")), (0.53, 0.47), weight_knowledge="exact")
    assert certainty(found, draws=100).change_sentence == (
        "3.0 of 100 points of weight moved from spray_reach to pump_reserve; then b would draw level for first place."
    )
    ten = decided(table_of([[1.0, 0.0], [0.0, 1.0]], names=("a", "b")), (0.65, 0.35), weight_knowledge="exact")
    assert certainty(ten, draws=100).change_sentence.startswith("15 of 100 points")
    nine = decided(table_of([[1.0, 0.0], [0.0, 1.0]], names=("a", "b")), (0.59, 0.41), weight_knowledge="exact")
    assert certainty(nine, draws=100).change_sentence.startswith("9.0 of 100 points")
    # Level where the first weight is a quarter of the second: 0.2.
    most = decided(table_of([[1.0, 0.0], [0.0, 0.25]], names=("a", "b")), (0.95, 0.05), weight_knowledge="exact")
    assert certainty(most, draws=100).change_sentence.startswith("75 of 100 points")


def test_of_several_rivals_the_one_that_needs_least_is_named(table_of, decided):
    # b needs 0.2, c needs 0.25: it must gain 0.4·0.5 + … on the third criterion.
    found = decided(
        table_of([[1.0, 0.0, 0.0], [0.0, 0.9, 0.0], [0.0, 0.0, 1.0]], names=("a", "b", "c"), criteria=THREE),
        (0.5, 0.3, 0.2), weight_knowledge="exact",
    )  # fmt: skip
    sure = certainty(found, draws=100)
    assert nearest_rivals(found, sure.be_first) == sorted(
        (1, 2), key=lambda row: sure.be_first.moved_share[row]
    )
    # c draws level at 0.35 each: 15 points; b at x = 0.9 y with x + y = 0.8: 8/19 … 12.1 points.
    assert sure.be_first.moved_share[2] == pytest.approx(0.15, abs=1e-7)
    assert sure.be_first.moved_share[1] == pytest.approx(0.5 - 0.8 * 9 / 19, abs=1e-7)
    assert sure.change_sentence.endswith("then b would draw level for first place.")


def test_the_rival_that_needs_least_need_not_be_the_second(table_of, decided):
    # b is second and wins only where the third weight is twice the first; c is level where the first two are alike.
    found = decided(
        table_of([[1.0, 0.0, 0.0], [0.9, 0.0, 0.05], [0.0, 1.0, 0.0]], names=("a", "b", "c"), criteria=THREE),
        (0.6, 0.2, 0.2), weight_knowledge="exact",
    )  # fmt: skip
    sure = certainty(found, draws=100)
    assert found.ranking.order == (0, 1, 2)
    assert nearest_rivals(found, sure.be_first) == [2, 1]
    assert sure.change_sentence.startswith("20 of 100 points of weight moved from spray_reach to pump_reserve; then c")


def test_ranks_are_said_for_the_first_two_and_those_that_never_lead_are_counted(table_of, decided):
    found = decided(
        table_of([[0.9, 0.9], [0.5, 0.5], [0.1, 0.2]], names=("a", "b", "c")), (0.7, 0.3), weight_knowledge="exact"
    )
    assert certainty(found, draws=100).rank_sentence == (
        "a comes first in 100 % of the draws, b in 0 %; 2 of 3 never do."
    )
    even = decided(table_of([[1.0, 0.0], [0.0, 1.0]], names=("a", "b")), (0.5, 0.5), weight_knowledge="exact")
    assert certainty(even, draws=100).rank_sentence == "a comes first in 50 % of the draws, b in 50 %."
    turned = decided(table_of([[0.5, 0.5], [0.9, 0.9]], names=("a", "b")), (0.7, 0.3), weight_knowledge="exact")
    assert certainty(turned, draws=100).rank_sentence.startswith("b comes first in 100 % of the draws, a in 0 %")


def test_beaten_machines_are_named_and_so_are_those_no_weights_put_first(table_of, decided):
    values = [[1.0, 0.0], [0.0, 1.0], [0.4, 0.4], [0.0, 0.0]]
    found = decided(table_of(values, names=("a", "b", "c", "d")), (0.7, 0.3))
    assert certainty(found, draws=100).dominance_sentence == (
        "Worse than another machine on some criterion and better on none: d. First under no weights at all, though no "
        "single machine beats them everywhere: c."
    )
    more = decided(table_of([*values, [0.41, 0.41], [0.1, 0.0]], names=tuple("abcdef")), (0.7, 0.3))
    assert certainty(more, draws=100).dominance_sentence == (
        "Worse than another machine on some criterion and better on none: c, f, d. First under no weights at all, "
        "though no single machine beats them everywhere: e."
    )
    two = decided(table_of([*values[:3], [0.45, 0.3]], names=("a", "b", "c", "d")), (0.7, 0.3))
    assert certainty(two, draws=100).dominance_sentence.endswith("beats them everywhere: d, c.")
    open_ = decided(table_of(values[:2], names=("a", "b")), (0.7, 0.3))
    assert certainty(open_, draws=100).dominance_sentence == (
        "No machine is beaten on every criterion by a single other one."
    )


def test_a_leader_seldom_first_is_said_only_beyond_the_error_of_counting(table_of, decided):
    # Both first in every other draw: neither is more often first than the other.
    three = np.array([[[0.6], [0.4]], [[0.4], [0.6]], [[0.6], [0.4]], [[0.45], [0.6]]])
    found = decided(table_of(np.tile(three, (100, 1, 1)), names=("a", "b")), (1,))
    assert certainty(found).headline.startswith(f"{found.table.machine_names[found.leader]} leads with 50 %")


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0 %"), (0.0099, "under 1 %"), (0.01, "1 %"), (0.5, "50 %"), (0.99, "99 %"), (0.991, "over 99 %"),
     (1.0, "100 %")],
)  # fmt: skip
def test_a_share_is_written_without_more_certainty_than_it_has(share, text):
    assert percent(share) == text


@pytest.mark.parametrize(
    ("knowledge", "sentence"),
    [("exact", "The common weights are taken as exact; only quantities are uncertain."),
     ("none", "Nothing is taken as known about the weights: all are equally likely."),
     ("order", "Only the order of the common weights is taken as known."),
     ("ranges", "Each weight may be anywhere in its stated range.")],
)  # fmt: skip
def test_what_is_taken_as_known_is_said(table_of, decided, knowledge, sentence):
    found = decided(table_of(np.eye(3), criteria=THREE), (0.5, 0.2, 0.3), weight_knowledge=knowledge,
                    weight_ranges={"drying": Range(low=0.2, high=0.4)})  # fmt: skip
    assert weight_set_of(found)[1] == sentence
    assert certainty(found, draws=100).knowledge == sentence


def test_one_criterion_alone_has_an_exact_weight_whatever_is_known(table_of, decided):
    assert weight_set_of(decided(table_of([[0.2], [0.4]]), (1,)))[0] == ExactWeights(weights=(1.0,))


def test_weights_that_differ_by_rounding_share_a_place_in_the_order(table_of, decided):
    found = decided(table_of(np.eye(3), criteria=THREE), (0.4, 0.3, 0.3 + 1e-12), weight_knowledge="order")
    assert weight_set_of(found)[0] == OrderedWeights(importance_rank=(1, 2, 2))


def test_draws_and_seed_of_the_weights_are_those_asked_for(table_of, decided):
    found = decided(table_of([[0.9, 0.2, 0.5], [0.3, 0.8, 0.6]]), (0.5, 0.2, 0.3), weight_knowledge="none")
    once, again, other = (certainty(found, draws=3000, seed=seed).acceptability for seed in (1, 1, 2))
    assert once.draws == 3000
    assert (once.rank_share == again.rank_share).all()
    assert (once.rank_share != other.rank_share).any()


def test_seven_criteria_are_still_computed_exactly(table_of, decided):
    assert certainty(decided(table_of(np.eye(7)), (7, 6, 5, 4, 3, 2, 1)), draws=100).exact is not None


def test_a_range_without_width_is_sampled_only(table_of, decided):
    found = decided(table_of(np.eye(3), criteria=THREE), (0.5, 0.2, 0.3), weight_knowledge="ranges",
                    weight_ranges={"drying": Range(low=0.3, high=0.3)})  # fmt: skip
    assert certainty(found, draws=100).exact is None


def test_weight_taken_from_two_criteria_names_the_one_that_gives_more_first(table_of, decided):
    # The leader is 0.2 + 0.6·0.8 − 0.2 = 0.48 ahead; the first criterion gives all of its 0.2, worth 2 a unit, and the
    # second what is left, 0.08 ÷ 1.8 = 0.044.
    found = decided(table_of([[1.0, 1.0, 0.0], [0.0, 0.2, 1.0]], names=("a", "b"), criteria=THREE), (0.2, 0.6, 0.2))
    assert certainty(found, draws=100).change_sentence == (
        "24 of 100 points of weight moved from spray_reach, pump_reserve to drying; then b would draw level for first "
        "place."
    )
    turned = decided(table_of([[1.0, 1.0, 0.0], [0.2, 0.0, 1.0]], names=("a", "b"), criteria=THREE), (0.6, 0.2, 0.2))
    assert "moved from pump_reserve, spray_reach to drying" in certainty(turned, draws=100).change_sentence


def test_every_analysis_is_kept_as_its_own_module_gives_it(table_of, decided):
    found = decided(table_of([[0.9, 0.2, 0.5], [0.3, 0.8, 0.6], [0.2, 0.2, 0.5]], criteria=THREE), (0.5, 0.2, 0.3))
    sure = certainty(found, draws=500)
    middle, weights = found.middle_values, np.asarray(found.weights)
    assert sure.weight_set == OrderedWeights(importance_rank=(1, 3, 2))
    assert sure.exact is not None
    np.testing.assert_array_equal(sure.intervals.low, weight_intervals(middle, weights).low)
    np.testing.assert_array_equal(
        sure.overtake.moved_share, smallest_change_to_overtake(middle, weights).moved_share
    )
    np.testing.assert_array_equal(sure.be_first.moved_share, smallest_change_to_be_first(middle, weights).moved_share)
    np.testing.assert_array_equal(sure.dominates, dominance_matrix(middle))
    np.testing.assert_array_equal(sure.potential.margin, potential_optimality(middle).margin)
    fixed = decided(table_of([[0.9, 0.2], [0.3, 0.8]]), (0.5, 0.5), weight_knowledge="exact")
    assert certainty(fixed, draws=500).exact is None


def test_the_error_of_counting_is_that_of_first_places(table_of, decided):
    # a is first in 49 of 100 draws and b in 51, within one error of 5; c is second in all, without any error.
    kinds = np.array([[[0.6], [0.4], [0.5]], [[0.9], [0.95], [0.92]], [[0.1], [0.2], [0.15]]])
    found = decided(table_of(np.repeat(kinds, [49, 25, 26], axis=0), names=("a", "b", "c")), (1,))
    assert certainty(found).headline.startswith("a leads with 49 % certainty")
