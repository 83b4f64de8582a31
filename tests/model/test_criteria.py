"""The criterion table: mixes, unknowns, cost on fixed ends, and who is left out."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog_schema.library import load_library
from catalog_schema.priorities import Priorities, ValuePoint
from model.criteria import (
    COST,
    DEFAULT_VALUE_FUNCTIONS,
    boards_per_year,
    cost_value_function,
    criterion_table,
    over_mix,
)
from model.value import ValueFunction
from tests.conftest import changed_record
from tests.model.cost_by_hand import case_by_hand

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


# ---- by hand ------------------------------------------------------------------------------------------------------


def costing(machine_id, *amounts):
    cost = SimpleNamespace(equivalent_annual_cost=np.array(amounts)) if amounts else None
    return SimpleNamespace(machine=SimpleNamespace(id=machine_id, name=machine_id.capitalize()), cost=cost)


def evaluated(*machines, reference=None, service_price="2 USD"):
    case = case_by_hand(finance={"reference": reference})
    classes = load_library().machine_classes
    if service_price is not None:
        service = next(one for one in classes if one.id == "contract-service")
        classes = (changed_record(service, {"prices.price_per_board": service_price}),)
    else:
        classes = ()
    return SimpleNamespace(case=case, machines=machines, library=SimpleNamespace(machine_classes=classes))


def test_cost_is_worth_a_half_at_the_middle_cost_of_the_reference():
    machines = (costing("manual-brush", 90.0, 100.0, 500.0), costing("offer", 400.0))
    function, note = cost_value_function(evaluated(*machines, reference="manual-brush"))
    assert function.value([0.0, 100.0, 150.0, 200.0, 900.0]) == pytest.approx([1.0, 0.5, 0.25, 0.0, 0.0])
    assert note == (
        "Cost is worth 1 at nothing, 0.5 at 100 and 0 at 200 EUR per year, after the reference Manual-brush; give an "
        "own value function to change that."
    )


def test_the_ends_of_cost_are_rounded_to_two_figures():
    function, note = cost_value_function(evaluated(costing("manual-brush", 12_345.0), reference="manual-brush"))
    assert function.points[1][0] == 24_000.0
    assert "0.5 at 12 000 and 0 at 24 000 EUR" in note


@pytest.mark.parametrize("machines", [(), (costing("manual-brush"),), (costing("manual-brush", 0.0),)])
def test_without_a_cost_of_the_reference_contract_cleaning_of_the_volume_sets_the_ends(machines):
    # 4000 boards at 2 USD, half a euro each.
    function, note = cost_value_function(evaluated(*machines, costing("offer", 400.0), reference="manual-brush"))
    assert function.points[1][0] == pytest.approx(8000.0)
    assert "after contract cleaning of the whole volume" in note
    assert cost_value_function(evaluated(costing("offer", 400.0)))[0] == function


def test_a_price_in_the_plants_currency_needs_no_rate():
    assert cost_value_function(evaluated(service_price="3 EUR"))[0].points[1][0] == pytest.approx(24_000.0)


def test_without_reference_and_service_the_dearest_machine_sets_the_ends_and_that_is_said():
    machines = (costing("cheap", 100.0), costing("silent"), costing("dear", 300.0, 400.0, 900.0))
    function, note = cost_value_function(evaluated(*machines, service_price=None))
    assert function.points[1][0] == pytest.approx(800.0)
    assert "after the dearest machine, so another offer can move the scale" in note


def test_without_any_cost_it_tells_nothing_apart():
    function, note = cost_value_function(evaluated(costing("silent"), service_price=None))
    assert function.points == ((0.0, 1.0), (1.0, 0.0))
    assert note == "No machine has a cost yet, so cost tells nothing apart."


def test_boards_per_year_are_those_of_all_board_types():
    boards = case_by_hand().board_types
    assert boards_per_year(boards) == pytest.approx(4000.0)
    assert boards_per_year((changed_record(boards[0], {"volume": "100..200..900 1/year"}),)) == pytest.approx(200.0)


HUMP_FREE = ValueFunction(points=((0.0, 0.0), (1.0, 0.5), (3.0, 1.0)))
FALLING = ValueFunction(points=((0.0, 1.0), (10.0, 0.0)))
NARROW = ValueFunction(points=((0.0, 0.2), (10.0, 0.6)))
LEVEL = ValueFunction(points=((2.0, 0.5), (6.0, 0.5)))


@pytest.mark.parametrize(
    ("function", "share", "measure"),
    [(HUMP_FREE, 0.25, 0.5), (HUMP_FREE, 0.75, 2.0), (FALLING, 0.25, 7.5), (NARROW, 0.25, 2.5), (LEVEL, 0.25, 3.0)],
)
def test_an_unknown_measure_stands_where_its_value_is_that_share_of_the_way_up(function, share, measure):
    unknown = over_mix(np.full((1, 2), np.nan), np.array([0.5, 0.5]), function, "drying", np.array([share]))
    assert unknown == pytest.approx([measure])
    assert over_mix(np.zeros((1, 0)), np.zeros(0), function, "drying", np.array([share])) == pytest.approx([measure])


def test_the_mix_is_the_mean_by_volume_and_an_unknown_board_type_stands_in_with_its_share():
    known = np.array([[1.0, 2.0], [np.nan, 2.0]])
    mixed = over_mix(known, np.array([0.25, 0.75]), HUMP_FREE, "drying", np.array([0.9, 0.25]))
    assert mixed == pytest.approx([0.25 * 1.0 + 0.75 * 2.0, 0.25 * 0.5 + 0.75 * 2.0])


def test_the_hardest_board_type_counts_even_when_none_is_built():
    known = np.array([[0.4, 1.5]])
    assert over_mix(known, np.zeros(2), LINE, "pump_reserve", np.array([0.5])).tolist() == [0.4]


def test_lack_on_a_board_type_is_held_at_the_lower_end_and_measures_below_nought_stay():
    assert over_mix(np.array([[-5.0, 1.0]]), np.array([0.5, 0.5]), LINE, "drying", np.array([0.5])) == [0.5]
    decades = DEFAULT_VALUE_FUNCTIONS["esd_racking"]
    assert over_mix(np.array([[-0.5]]), np.ones(1), decades, "esd_racking", np.array([0.5])) == [-0.5]


@pytest.mark.parametrize(
    ("points", "measure"),
    [(((2.0, 0.5), (4.0, 0.5), (6.0, 0.5)), 3.0), (((0.0, 0.0), (1.0, 0.0), (3.0, 1.0)), 1.5)],
)
def test_an_unknown_measure_of_a_function_that_starts_level_stands_that_share_of_the_way_up(points, measure):
    unknown = over_mix(np.full((1, 1), np.nan), np.ones(1), ValueFunction(points=points), "drying", np.array([0.25]))
    assert unknown == pytest.approx([measure])


def test_costs_below_one_a_year_are_costs():
    # In a currency of large units.
    machines = (costing("manual-brush", 0.5),)
    assert cost_value_function(evaluated(*machines, reference="manual-brush"))[0].points[1][0] == pytest.approx(1.0)
    assert cost_value_function(evaluated(*machines, service_price=None))[0].points[1][0] == pytest.approx(1.0)
    # 4000 boards at 0.0001 EUR.
    whole = evaluated(costing("offer", 400.0), service_price="0.0001 EUR")
    assert cost_value_function(whole)[0].points[1][0] == pytest.approx(0.8)


def test_contract_cleaning_is_taken_at_its_likely_price():
    assert cost_value_function(evaluated(service_price="1..3..9 EUR"))[0].points[1][0] == pytest.approx(24_000.0)
    whole = evaluated(service_price="2 USD")
    whole.case = case_by_hand(exchange_rates={"USD": "0.4..0.5..0.9"})
    assert cost_value_function(whole)[0].points[1][0] == pytest.approx(8000.0)


@pytest.mark.parametrize(("parts", "end"), [((9.0, 1.0, 2.0), 2.6), ((7.0, 2.0), 1.3)])
def test_rounding_puts_no_mean_of_equal_measures_outside_the_ends(parts, end):
    # The shares add up to 1, yet the mean of equal numbers is off by the last digit, upwards and downwards.
    shares = np.array(parts) / sum(parts)
    equal = np.full((1, shares.size), end)
    for points in (((0.0, 0.0), (end, 1.0)), ((end, 0.0), (9.0, 1.0))):
        mixed = over_mix(equal, shares, ValueFunction(points=points), "drying", np.array([0.5]))
        assert points[0][0] <= float(mixed[0]) <= points[1][0]
