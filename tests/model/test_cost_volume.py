"""Cost over the volume by hand: machines bought as needed, what offered machines cope with, where costs cross."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from model.cost_totals import CostStage
from model.cost_volume import (
    VolumeCost,
    _volumes,
    break_even_between,
    planned_boards,
    volume_cost,
    volume_curves,
)
from tests.conftest import changed_record
from tests.model.cost_by_hand import FINANCE, capacity_by_hand, case_by_hand, stage_by_hand

ONE = np.array([1.0])


def curve(**changes: Any) -> VolumeCost:
    usual: dict[str, Any] = {"planned_boards": 4000.0, "fixed": 100.0 * ONE, "per_machine": 1000.0 * ONE,
                             "per_board": 0.5 * ONE, "machines": 2.0, "machines_per_plan": 1.6,
                             "offered": False}  # fmt: skip
    return VolumeCost(**(usual | changes))


def test_machines_are_bought_as_the_volume_needs_them_and_at_least_one() -> None:
    # 1.6 machines for 4000 boards: one for each 2500.
    assert [curve().machines_at(boards) for boards in (1.0, 2500.0, 2501.0, 5000.0, 5001.0)] == [1, 1, 2, 2, 3]


def test_machines_offered_and_services_do_not_grow() -> None:
    assert curve(offered=True).machines_at(1e6) == 2.0
    assert curve(machines=0.0, machines_per_plan=0.0).machines_at(1e6) == 0.0


def test_offered_machines_cope_with_the_volume_at_which_they_are_all_needed() -> None:
    # 2 ÷ 1.6 of 4000.
    assert curve(offered=True).copes_up_to == pytest.approx(5000.0)
    assert curve().copes_up_to == np.inf
    assert curve(offered=True, machines_per_plan=0.0).copes_up_to == np.inf


def test_cost_at_a_volume_is_fixed_plus_machines_plus_boards() -> None:
    assert curve().annual_cost(3000.0).tolist() == [100.0 + 2 * 1000.0 + 1500.0]


def stage(machines: float = 2.0, tests: float = 100.0, service: float = 2000.0, water: float = 2000.0,
          draws: int = 1) -> CostStage:  # fmt: skip
    """Give a stage of 100 fixed, 1000 a machine and 2000 ÷ 4000 boards."""
    spread = np.linspace(0.9, 1.1, draws) if draws > 1 else ONE
    amounts = {"tests": tests, "service": service, "rinse-water": water}
    return stage_by_hand({name: amount * spread for name, amount in amounts.items() if amount}, machines=machines,
                         draws=draws)  # fmt: skip


def outcome(name: str = "washer", cost: CostStage | None = None, *, count: int | None = None, machines: int = 2,
            utilisation: Any = (0.5, 0.6, 0.7), service: bool = False, **columns: Any) -> Any:  # fmt: skip
    capacity = None
    if not service:
        capacity = replace(capacity_by_hand(machines=machines), utilisation=np.array(utilisation))
    return SimpleNamespace(
        machine=SimpleNamespace(id=name, name=name.capitalize(), count=count), cost=cost, capacity=capacity,
        columns=columns.get("columns", {}),
    )  # fmt: skip


def evaluation(*outcomes: Any, **requirements: Any) -> Any:
    limits = {"max_utilisation": "80 %", "probability": "50 %"} | requirements
    case = case_by_hand(requirements=limits, finance=FINANCE)
    named = {one.machine.id: one for one in outcomes}
    return SimpleNamespace(case=case, machine=named.__getitem__)


def test_the_plan_is_the_sum_of_the_board_types() -> None:
    assert planned_boards(evaluation()) == pytest.approx(4000.0)
    unsure = evaluation()
    boards = tuple(changed_record(board, {"volume": "100..200..900 1/year"}) for board in unsure.case.board_types)
    unsure.case = unsure.case.model_copy(update={"board_types": boards})
    assert planned_boards(unsure) == pytest.approx(400.0)


def test_each_part_of_the_cost_is_split_by_what_it_grows_with() -> None:
    one = outcome(cost=stage())
    found = volume_cost(evaluation(one), one)
    assert found is not None
    assert found.planned_boards == pytest.approx(4000.0)
    for value, amount in ((found.fixed, 100.0), (found.per_machine, 1000.0), (found.per_board, 0.5)):
        assert value == pytest.approx([amount], rel=1e-12)
    assert (found.machines, found.offered) == (2.0, False)
    # Two machines busy 0.6 of the time in the middle draw, at most 0.8: 1.5 machines.
    assert found.machines_per_plan == pytest.approx(1.5)


def test_the_machines_that_the_plan_takes_hold_with_the_plants_probability() -> None:
    one = outcome(cost=stage())
    found = volume_cost(evaluation(one, probability="90 %"), one)
    assert found is not None
    assert found.machines_per_plan == pytest.approx(0.7 * 2 / 0.8)


def test_an_uncertain_limit_of_utilisation_counts_draw_by_draw() -> None:
    one = outcome(cost=stage(), columns={"plant.requirements.max_utilisation": np.array([0.5, 0.8, 1.4])})
    # 0.5·2/0.5 = 2, 0.6·2/0.8 = 1.5, 0.7·2/1.4 = 1: the largest, and the middle one.
    for probability, machines in (("90 %", 2.0), ("50 %", 1.5)):
        found = volume_cost(evaluation(one, probability=probability), one)
        assert found is not None
        assert found.machines_per_plan == pytest.approx(machines)


def test_a_service_takes_no_machine_and_its_parts_are_not_divided() -> None:
    one = outcome("service", stage(machines=0.0), service=True, count=None)
    found = volume_cost(evaluation(one), one)
    assert found is not None
    assert found.machines_per_plan == 0.0
    assert found.per_machine == pytest.approx([2000.0])


def test_all_draws_or_one_at_the_medians() -> None:
    one = outcome(cost=stage(draws=3))
    spread = volume_cost(evaluation(one), one, medians=False)
    middle = volume_cost(evaluation(one), one)
    assert spread is not None
    assert middle is not None
    assert spread.fixed == pytest.approx([90.0, 100.0, 110.0])
    assert middle.fixed == pytest.approx([100.0])


def test_a_machine_without_a_cost_has_no_curve() -> None:
    one = outcome(cost=None)
    assert volume_cost(evaluation(one), one) is None


def test_two_machines_cost_the_same_where_price_differences_meet() -> None:
    # 2100 + 0.5 n against 0.875 n at two machines: n = 5600.
    washer = outcome(cost=stage(), count=2)
    service = outcome("service", stage(machines=0.0, tests=0.0, service=0.0, water=3500.0), service=True)
    found = break_even_between(evaluation(washer, service), "washer", "service")
    assert found.volumes == pytest.approx((5600.0,), rel=1e-9)
    assert found.statement.startswith("Service costs less below 5 600 boards per year, Washer above.")
    # 2 ÷ 1.5 of 4000.
    assert found.statement.endswith("The 2 Washer offered cope with 5 333 boards per year at most.")
    # Ten machines would be needed: a fifth of 4000.
    busy = outcome(cost=stage(), count=2, utilisation=(4.0, 4.0, 4.0))
    few = break_even_between(evaluation(busy, service), "washer", "service")
    assert few.statement.endswith("The 2 Washer offered cope with 800 boards per year at most.")
    # 800 · 4 ÷ 4.451 is 718.9: they do not cope with the 719th.
    busier = outcome(cost=stage(), count=2, utilisation=(4.451, 4.451, 4.451))
    whole = break_even_between(evaluation(busier, service), "washer", "service")
    assert whole.statement.endswith("The 2 Washer offered cope with 718 boards per year at most.")


def test_the_search_goes_from_a_twentieth_to_five_times_the_plan() -> None:
    washer = outcome(cost=stage(), count=2)
    for share, crosses in ((0.04, False), (0.06, True), (4.9, True), (5.1, False)):
        boards = 4000.0 * share
        # The service costs as much as the washer at exactly this volume.
        per_board = (2100.0 + 0.5 * boards) / boards
        bought = stage(machines=0.0, tests=0.0, service=0.0, water=per_board * 4000.0)
        service = outcome("service", bought, service=True)
        found = break_even_between(evaluation(washer, service), "washer", "service")
        assert bool(found.volumes) == crosses, share


def test_a_machine_that_copes_with_all_volumes_searched_is_not_said_to_end() -> None:
    # 2 machines for 0.3: 26 667 boards, above five times the plan.
    washer = outcome(cost=stage(), count=2, utilisation=(0.12, 0.12, 0.12))
    found = break_even_between(evaluation(washer, washer), "washer", "washer")
    assert "cope with" not in found.statement


def test_an_unknown_cost_has_no_break_even_and_says_so() -> None:
    both = evaluation(outcome(cost=stage()), outcome("rival"))
    for pair in (("washer", "rival"), ("rival", "washer")):
        found = break_even_between(both, *pair)
        assert found.volumes == ()
        assert "a cost is not known" in found.statement


def test_the_curve_goes_from_a_twentieth_of_the_plan_and_shows_both_sides_of_each_step() -> None:
    one = outcome(cost=stage(draws=21))
    frame = volume_curves(evaluation(one), ["washer"], points=5, to_share=1.9)
    assert list(frame.columns) == ["machine", "name", "boards", "low", "middle", "high", "copes"]
    assert set(frame["machine"]) == {"washer"}
    assert set(frame["name"]) == {"Washer"}
    even = np.linspace(200.0, 7600.0, 5)
    # 1.5 machines for 4000 boards: a step at each 2666.7.
    steps = 4000.0 / 1.5 * np.arange(1, 3)
    expected = np.unique(np.concatenate([even, steps, steps * (1 + 1e-6)]))
    np.testing.assert_allclose(frame["boards"], expected, rtol=1e-9)
    at = frame[frame["boards"] == 200.0].iloc[0]
    assert at["middle"] == pytest.approx(100.0 + 1000.0 + 100.0)
    # All amounts of a draw rise together from 0.9 to 1.1: its 5 % and 95 % points are 0.91 and 1.09 of the middle.
    assert at["low"] == pytest.approx(0.91 * 1200.0)
    assert at["high"] == pytest.approx(1.09 * 1200.0)
    assert frame["copes"].all()


def test_the_curve_of_an_offer_says_up_to_where_it_copes() -> None:
    one = outcome(cost=stage(), count=2)
    frame = volume_curves(evaluation(one), ["washer"], points=40, to_share=2.0)
    # 5333 boards at most; 40 even points up to 8000.
    assert len(frame) == 40
    assert frame["copes"].tolist() == [bool(boards <= 5333.4) for boards in frame["boards"]]


def test_machines_without_a_cost_are_left_out_of_the_picture_and_the_others_stay() -> None:
    both = evaluation(outcome("rival"), outcome(cost=stage(), count=2))
    assert set(volume_curves(both, ["rival", "washer"])["machine"]) == {"washer"}
    assert len(volume_curves(both, ["rival", "washer"])) == 41


def test_a_machine_that_is_not_full_at_the_plan_has_its_first_step_beyond_it() -> None:
    # 0.6 machines for 4000 boards: a second one from 6666.7 on.
    one = outcome(cost=stage(), utilisation=(0.24, 0.24, 0.24))
    boards = volume_curves(evaluation(one), ["washer"], points=3, to_share=2.0)["boards"]
    np.testing.assert_allclose(boards, [200.0, 4100.0, 4000.0 / 0.6, 4000.0 / 0.6 * (1 + 1e-6), 8000.0], rtol=1e-9)


def test_the_likely_limit_of_utilisation_counts_where_it_does_not_vary() -> None:
    one = outcome(cost=stage())
    found = volume_cost(evaluation(one, max_utilisation="60..80..90 %"), one)
    assert found is not None
    assert found.machines_per_plan == pytest.approx(1.5)


def test_without_a_planned_board_there_is_no_curve() -> None:
    one = outcome(cost=stage())
    empty = evaluation(one)
    empty.case = empty.case.model_copy(update={"board_types": ()})
    assert volume_cost(empty, one) is None


def test_an_offer_that_is_just_full_at_the_plan_copes_with_it() -> None:
    # Busy 0.8 of the time, at most 0.8: up to the 4000 boards of the plan, the twentieth of 40 even points.
    one = outcome(cost=stage(), count=2, utilisation=(0.8, 0.8, 0.8))
    frame = volume_curves(evaluation(one), ["washer"], points=40, to_share=2.0)
    assert frame["boards"][19] == pytest.approx(4000.0)
    assert frame["copes"].tolist() == [True] * 20 + [False] * 20


def test_less_than_one_board_a_year_is_a_plan() -> None:
    one = outcome(cost=stage())
    whole = evaluation(one)
    boards = tuple(changed_record(board, {"volume": "0.25 1/year"}) for board in whole.case.board_types)
    whole.case = whole.case.model_copy(update={"board_types": boards})
    found = volume_cost(whole, one)
    assert found is not None
    assert found.planned_boards == pytest.approx(0.5)


def test_lines_that_grow_alike_add_up() -> None:
    amounts = {"tests": 100.0, "training": 50.0, "service": 2000.0, "spare-parts": 400.0, "rinse-water": 2000.0,
               "drain": 800.0}  # fmt: skip
    whole = stage_by_hand(amounts, machines=2.0)
    found = volume_cost(evaluation(), outcome(cost=whole), medians=False)
    assert found is not None
    assert found.per_machine == pytest.approx(np.full(3, 1200.0))
    assert found.per_board == pytest.approx(np.full(3, 0.7))
    all_of_it = found.fixed + 2.0 * found.per_machine + 4000.0 * found.per_board
    assert all_of_it == pytest.approx(whole.equivalent_annual_cost)


def test_the_machines_of_the_plan_hold_with_the_likely_probability_asked_for() -> None:
    one = outcome(cost=stage())
    found = volume_cost(evaluation(one, probability="40..50..95 %"), one)
    assert found is not None
    assert found.machines_per_plan == pytest.approx(1.5)


def test_the_curve_ends_at_twice_the_plan_unless_told_otherwise() -> None:
    one = outcome(cost=stage(), count=2)
    assert volume_curves(evaluation(one), ["washer"])["boards"].max() == pytest.approx(8000.0)


def test_steps_are_drawn_where_machines_are_bought_and_nowhere_else() -> None:
    # 0.8 of a machine for 4000 boards: the second from 5000 on.
    assert 5000.0 in _volumes(curve(machines=1.0, machines_per_plan=0.8), 2.0, 5)
    for without in (curve(machines_per_plan=0.0), curve(machines=0.0), curve(offered=True)):
        assert _volumes(without, 2.0, 5) == pytest.approx(np.linspace(0.05, 2.0, 5) * 4000.0)
