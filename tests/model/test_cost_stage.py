"""The cost of one machine by hand: which lines it has, whose money they are, and the budget it must keep."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from catalog_schema.case import Case
from model.cost_lines import budget_requirement, cost_problem, cost_stage
from model.cost_totals import CostStage
from tests.conftest import changed_record
from tests.model.cost_by_hand import (
    AREA_M2,
    DRAWS,
    capacity_by_hand,
    case_by_hand,
    context_by_hand,
    cycle_by_hand,
    each,
    outcome_by_hand,
)
from tests.model.records import machine

PRICES = {
    "purchase": "50000 EUR", "freight": "800 EUR", "installation": "2000 EUR", "qualification": "3000 EUR",
    "training": "900 EUR", "service_per_year": "1200 EUR/year", "spare_parts_per_year": "300 EUR/year",
    "filters_per_year": "250 EUR/year", "seals_per_year": "150 EUR/year", "life": "8 year",
}  # fmt: skip
EQUIPMENT: dict[str, Any] = {
    "prices": PRICES, "site": {"floor_area": "4 m^2", "heat_power": "5 kW", "compressed_air": "0 m^3/h",
                               "exhaust_flow": "0 m^3/h"},
    "running": {"operator_share": "20 %", "time_between_failures": "200 h", "repair_time": "8 h"},
    "wash": {"tank_volume": "100 L", "evaporation_share": "5 %"},
}  # fmt: skip
BOTH = (outcome_by_hand(), outcome_by_hand("power", cycle=cycle_by_hand(occupied_s=1200.0)))


def washer(principle: Any = "spray in air", *, count: int | None = None, **equipment: Any) -> Any:
    return replace(machine(principle, **(EQUIPMENT | equipment)), count=count)


def stage(one: Any, *, case: Case | None = None, boards: tuple[Any, ...] = BOTH, capacity: Any = "usual") -> CostStage:
    volume = capacity_by_hand(control=100.0, power=50.0) if capacity == "usual" else capacity
    return cost_stage(context_by_hand(one, case), boards, volume)


def by_board(found: CostStage, field: str) -> dict[str, float]:
    return {name: float(getattr(one, field)[0]) for name, one in found.boards.items()}


def test_a_machine_that_washes_everything_has_every_line_and_nothing_missing() -> None:
    found = stage(washer())
    assert found.missing == {}
    assert {line.id for line in found.lines} == {
        "purchase", "freight", "installation", "qualification", "training", "operators", "handling", "electricity",
        "wash-fluid", "evaporation", "bath-changes", "fluid-disposal", "rinse-water", "drain", "filters", "seals",
        "spare-parts", "service", "floor", "tests", "downtime",
    }  # fmt: skip
    assert found.machines == 2.0
    assert found.initial_cost == pytest.approx(each(2 * (50_000 + 800 + 2000 + 3000) + 900))


def test_boards_share_what_none_causes_alone_by_their_machine_time() -> None:
    found = stage(washer())
    assert by_board(found, "shared_cost_share") == pytest.approx({"control": 0.8, "power": 0.2})
    assert by_board(found, "boards_per_year") == pytest.approx({"control": 1000.0, "power": 3000.0})
    assert by_board(found, "area_m2") == pytest.approx({"control": AREA_M2, "power": AREA_M2})


def test_a_board_type_without_a_cycle_is_named_and_the_others_counted() -> None:
    found = stage(washer(), boards=(outcome_by_hand(), outcome_by_hand("power", cycle=None)))
    assert found.missing == {
        "Washing Power board": "Washing Power board is left out: the board type has no cycle in this machine."
    }
    assert set(found.boards) == {"control"}


def test_without_a_volume_the_machines_offered_are_bought_or_one() -> None:
    nothing = (outcome_by_hand(cycle=None), outcome_by_hand("power", cycle=None))
    offered = stage(washer(count=3), boards=nothing, capacity=None)
    assert offered.machines == 3.0
    assert stage(washer(), boards=nothing, capacity=None).machines == 1.0
    assert {"Washing Control board", "Washing Power board"} <= set(offered.missing)
    assert not {"operators", "downtime", "rinse-water"} & {line.id for line in offered.lines}


SERVICE: dict[str, Any] = {"prices": {"price_per_board": "1.5 EUR", "qualification": "400 EUR"},
                           "running": {"load_unload_time": "12 min"}}  # fmt: skip


def test_a_service_is_paid_per_board_and_shared_by_volume() -> None:
    found = cost_stage(context_by_hand(machine("service", **SERVICE)), (), None)
    assert found.machines == 0.0
    assert {line.id for line in found.lines} == {"qualification", "handling", "tests", "bought-service"}
    assert found.missing == {}
    assert by_board(found, "shared_cost_share") == pytest.approx({"control": 0.25, "power": 0.75})
    assert by_board(found, "boards_per_year") == pytest.approx({"control": 1000.0, "power": 3000.0})
    assert by_board(found, "area_m2") == pytest.approx({"control": AREA_M2, "power": AREA_M2})


def test_without_any_volume_a_service_shares_its_cost_evenly() -> None:
    case = case_by_hand()
    still = tuple(one.model_copy(update={"volume": board_volume(one)}) for one in case.board_types)
    found = cost_stage(
        context_by_hand(machine("service", **SERVICE), case.model_copy(update={"board_types": still})), (), None
    )
    assert by_board(found, "shared_cost_share") == {"control": 0.5, "power": 0.5}


def test_a_single_board_type_bears_the_cost_of_a_service_alone_built_or_not() -> None:
    boards = case_by_hand().board_types[:1]
    for one in (boards[0], boards[0].model_copy(update={"volume": board_volume(boards[0])})):
        case = case_by_hand().model_copy(update={"board_types": (one,)})
        found = cost_stage(context_by_hand(machine("service", **SERVICE), case), (), None)
        assert by_board(found, "shared_cost_share") == {"control": 1.0}


def test_less_than_one_board_a_year_is_a_volume() -> None:
    case = case_by_hand()
    boards = tuple(changed_record(one, {"volume": volume})
                   for one, volume in zip(case.board_types, ("0.1 1/year", "0.3 1/year"), strict=True))  # fmt: skip
    context = context_by_hand(machine("service", **SERVICE), case.model_copy(update={"board_types": boards}))
    shares = by_board(cost_stage(context, (), None), "shared_cost_share")
    assert shares == pytest.approx({"control": 0.25, "power": 0.75})


def test_options_that_requirements_force_seals_by_life_and_field_failures_have_their_lines() -> None:
    seals = SimpleNamespace(upgrade=None, measure=SimpleNamespace(first_replacement_s=each(500.0 * 3600.0)),
                            measure_with_upgrade=None)  # fmt: skip
    failed = SimpleNamespace(requirement=SimpleNamespace(stage="wash", result="unknown"),
                             met=np.array([True, True, False]))  # fmt: skip
    case = case_by_hand(field_failures={"failures_per_board_if_not_clean": "3 %", "cost_per_failure": "150 EUR"})
    one = washer(prices={name: value for name, value in PRICES.items() if name != "seals_per_year"},
                 wetted_parts=[{"part": "hose", "material": "EPDM", "replacement_price": "40 EUR"}])  # fmt: skip
    found = cost_stage(
        context_by_hand(one, case), (outcome_by_hand(materials=seals, judged=(failed,)),),
        capacity_by_hand(control=100.0),
        SimpleNamespace(option_needed=True, option_price=each(7000.0)),  # type: ignore[arg-type]
    )  # fmt: skip
    paid = {driver.line_id: float(driver.amount[0]) for driver in found.drivers}
    assert paid["traceability-option"] == pytest.approx(2 * 7000.0)
    # 1000 h ÷ 500 h × 40 EUR; 1000 boards × 3 % × 1/3 × 150 EUR.
    assert paid["seals-by-life"] == pytest.approx(80.0)
    assert paid["field-failures"] == pytest.approx(1500.0)


def board_volume(one: Any) -> Any:
    return one.volume.model_copy(update={"low": 0.0, "likely": 0.0, "high": 0.0})


def test_doing_nothing_has_no_line_at_all() -> None:
    found = cost_stage(context_by_hand(machine("none")), (), None)
    assert found.lines == ()
    assert found.machines == 0.0
    assert set(found.boards) == {"control", "power"}


# ---- the budget ---------------------------------------------------------------------------------------------------


def budget(one: Any, limit: Any, **changes: Any) -> Any:
    case = case_by_hand(requirements={"max_budget": limit})
    context = context_by_hand(one, case)
    judged = budget_requirement(context, stage(one, case=case, **changes))
    assert len(judged) == 1
    return judged[0]


def test_without_a_budget_there_is_nothing_to_judge() -> None:
    case = case_by_hand(requirements={"max_budget": None})
    assert budget_requirement(context_by_hand(washer(), case), stage(washer(), case=case)) == ()


@pytest.mark.parametrize(("limit", "result"), [("112500 EUR", "meets"), ("112499 EUR", "falls short")])
def test_the_budget_holds_to_the_unit_of_money(limit: str, result: str) -> None:
    # 2 × (50 000 + 800 + 2000 + 3000) + 900.
    found = budget(washer(), limit)
    assert found.requirement.result == result
    assert (found.requirement.key, found.requirement.stage) == ("budget", "cost")
    assert found.requirement.title == "Within the budget"
    assert (found.requirement.direction, found.requirement.dimension) == ("at most", "money")
    assert found.requirement.machine_id == "washer"
    assert found.requirement.measure == pytest.approx((112_500.0, 112_500.0, 112_500.0))


def test_the_sentence_of_the_budget_names_machines_cost_and_budget() -> None:
    text = budget(washer(), "120000 EUR").requirement.sentence.text()
    assert text.startswith("2 × Washer with all that is paid at the start cost")
    assert "112" in text
    assert "the budget is" in text
    assert "120" in text
    free = budget(machine("service", **SERVICE), "120000 EUR", boards=(), capacity=None)
    assert free.requirement.sentence.text().startswith("Washer costs")
    assert "at the start; the budget is" in free.requirement.sentence.text()


def test_an_unknown_price_leaves_the_budget_open_and_asks_for_it() -> None:
    without = washer(prices={name: value for name, value in PRICES.items() if name != "purchase"})
    found = budget(without, "120000 EUR")
    assert found.requirement.result == "unknown"
    assert found.met is None
    assert found.requirement.sentence.text() == "The price of Washer is not known. Ask the supplier."
    assert (found.requirement.key, found.requirement.stage) == ("budget", "cost")
    assert (found.requirement.title, found.requirement.machine_id) == ("Within the budget", "washer")


def test_a_budget_and_a_cost_that_are_uncertain_are_compared_draw_by_draw() -> None:
    found = budget(washer(prices=PRICES | {"purchase": "40000..50000..60000 EUR"}), "112500 EUR")
    assert found.met is not None
    assert found.met.size == DRAWS
    assert 0 < np.count_nonzero(found.met) < DRAWS
    # The cost said is the middle one of the measure shown.
    said = dict((name, value) for name, value, _ in found.requirement.sentence.figures)
    assert found.requirement.measure is not None
    assert said["cost"] == found.requirement.measure[1] < found.requirement.measure[2]


def test_an_input_without_meaning_is_a_finding_about_the_cost() -> None:
    found = cost_problem(context_by_hand(washer()), ValueError("The horizon is odd."))
    assert (found.requirement.key, found.requirement.title) == ("cost inputs", "Cost can be counted")
    assert (found.requirement.stage, found.requirement.result) == ("cost", "unknown")
    assert found.requirement.machine_id == "washer"
    assert found.requirement.sentence.text() == "The horizon is odd."
