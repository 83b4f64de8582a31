"""The criterion table: mixes, unknowns, cost on fixed ends, and who is left out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema.priorities import Priorities, ValuePoint
from model.criteria import COST, DEFAULT_VALUE_FUNCTIONS, cost_value_function, criterion_table, over_mix
from model.value import ValueFunction

LINE = ValueFunction(points=((0.0, 0.0), (2.0, 1.0)))


def test_ruled_out_offers_are_listed_with_a_reason_and_have_no_row(decision_evaluation):
    table = criterion_table(decision_evaluation)
    out = {one.machine_id: one.reason.text() for one in table.ruled_out}
    assert decision_evaluation.machine("offer-e-labware").result == "falls short"
    assert "offer-e-labware" not in table.machine_ids
    assert out["offer-e-labware"]


def test_classes_stand_only_when_asked_but_the_reference_always(decision_evaluation):
    without, within = (criterion_table(decision_evaluation, include_classes=flag) for flag in (False, True))
    assert "contract-service" in without.machine_ids
    assert "batch-diffused-spray" not in without.machine_ids
    assert "batch-diffused-spray" in within.machine_ids


def test_surplus_on_one_board_type_does_not_make_up_for_lack_on_another():
    known = np.array([[0.0, 50.0]])
    assert over_mix(known, np.array([0.5, 0.5]), LINE, "drying", np.array([0.5])).tolist() == [1.0]


def test_pump_reserve_is_that_of_the_hardest_board_type_and_ignores_types_not_built():
    known = np.array([[0.4, 1.5, 0.1]])
    assert over_mix(known, np.array([0.2, 0.8, 0.0]), LINE, "pump_reserve", np.array([0.5])).tolist() == [0.4]


@settings(deadline=None, max_examples=50)
@given(share=st.floats(0.0, 1.0), low=st.floats(0.0, 2.0), more=st.floats(0.0, 2.0))
def test_a_better_measure_on_any_board_never_lowers_the_mix(share, low, more):
    weights = np.array([share, 1.0 - share])
    before = over_mix(np.array([[low, 1.0]]), weights, LINE, "drying", np.array([0.5]))
    after = over_mix(np.array([[low + more, 1.0]]), weights, LINE, "drying", np.array([0.5]))
    assert after[0] >= before[0] - 1e-12


def test_what_nobody_knows_takes_every_value_alike(decision_evaluation):
    table = criterion_table(decision_evaluation)
    row = table.machine_ids.index("contract-service")
    place = table.criteria.index("spray_reach")
    assert table.unknown[row, place]
    values = np.sort(table.values[:, row, place])
    assert values == pytest.approx((np.arange(512) + 0.5) / 512, abs=1e-9)


def test_an_own_rating_counts_and_a_missing_one_is_unknown(decision_evaluation):
    table = criterion_table(decision_evaluation)
    place = table.criteria.index("service-nearby")
    rated, missing = (table.machine_ids.index(one) for one in ("offer-a-batch-spray", "offer-c-ultrasonic"))
    assert table.values[:, rated, place] == pytest.approx(np.full(512, 0.9))
    assert not table.unknown[rated, place]
    assert table.unknown[missing, place]
    assert "Service nearby" in " ".join(table.notes)


def test_the_worst_board_type_is_named_where_board_types_differ(decision_evaluation):
    table = criterion_table(decision_evaluation)
    row = table.machine_ids.index("offer-a-batch-spray")
    assert table.worst_board[row][table.criteria.index("spray_reach")] in ("control-board", "power-supply")
    assert table.worst_board[row][table.criteria.index(COST)] == ""


def test_cost_is_valued_on_ends_that_do_not_depend_on_the_offers(decision_evaluation):
    function, note = cost_value_function(decision_evaluation)
    reference = float(np.median(decision_evaluation.machine("contract-service").cost.equivalent_annual_cost))
    assert function.points[0] == (0.0, 1.0)
    assert function.points[1][0] == pytest.approx(2.0 * reference, rel=0.06)
    assert "Contract cleaning" in note


def test_stated_value_functions_are_used_and_impossible_ones_said(decision_evaluation):
    steep = (ValuePoint(measure=2.0, value=1.0), ValuePoint(measure=1.0, value=0.0))
    bent = (ValuePoint(measure=1.0, value=0.0), ValuePoint(measure=2.0, value=1.0), ValuePoint(measure=3.0, value=0.5))
    wanted = Priorities(value_functions={"drying": steep, "spray_reach": bent})
    table = criterion_table(decision_evaluation, priorities=wanted)
    assert table.value_functions[table.criteria.index("drying")].points == ((1.0, 0.0), (2.0, 1.0))
    assert table.value_functions[0] == DEFAULT_VALUE_FUNCTIONS["spray_reach"]
    assert any("spray reach is not used" in note for note in table.notes)


def test_all_values_lie_from_nought_to_one_and_measures_within_their_ends(decision_evaluation):
    table = criterion_table(decision_evaluation, include_classes=True)
    assert ((table.values >= 0.0) & (table.values <= 1.0)).all()
    for place, function in enumerate(table.value_functions):
        assert table.measures[:, :, place].min() >= function.points[0][0]
        assert table.measures[:, :, place].max() <= function.points[-1][0]
