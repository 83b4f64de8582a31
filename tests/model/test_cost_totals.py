"""Totals by hand: present and yearly cost, cost of a board and of an area, what is left out, medians."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import numpy_financial
import pytest

from model.cost_drivers import CostDriver
from model.cost_finance import CostFinance
from model.cost_totals import BoardAmounts, CostStage, assemble, at_medians, cash_flow_of, yearly_cost
from model.depreciation import straight_line_shares


def finance(draws: int = 1, **changes: Any) -> CostFinance:
    usual: dict[str, Any] = {
        "horizon_years": 5, "life_years": np.full(draws, 5), "depreciation_shares": straight_line_shares(5),
        "depreciation": "straight line over 5 years", "capital_has_tax_effect": True, "tax_rate": np.zeros(draws),
        "discount_rate": np.full(draws, 0.1), "inflation": np.zeros(draws), "inflation_by_group": {},
        "residual_share": np.zeros(draws), "remarks": (),
    }  # fmt: skip
    return CostFinance(**(usual | changes))


def driver(line_id: str, amount: Any, board_id: str = "", quantity: Any = 1.0) -> CostDriver:
    price, count = np.atleast_1d(np.asarray(amount, dtype=np.float64)), np.atleast_1d(np.asarray(quantity, dtype=float))
    return CostDriver(line_id=line_id, board_id=board_id, quantity=np.broadcast_to(count, price.shape),
                      quantity_unit="times", price=price, price_unit="money", price_path="",
                      how="By hand.")  # fmt: skip


def amounts(boards: float, area_m2: float, share: float) -> BoardAmounts:
    return BoardAmounts(boards_per_year=np.array([boards]), area_m2=np.array([area_m2]),
                        shared_cost_share=np.array([share]))  # fmt: skip


def stage(*drivers: CostDriver, boards: dict[str, BoardAmounts] | None = None, missing: dict[str, str] | None = None,
          machines: float = 1.0, **changes: Any) -> CostStage:  # fmt: skip
    return assemble(drivers, finance(**changes), machines, boards or {}, missing or {})


def test_present_cost_is_that_of_the_spreadsheet_functions() -> None:
    # numpy-financial: 1000 now and 100 at the end of each of five years, 10 %.
    found = stage(driver("purchase", 1000.0), driver("service", 100.0))
    expected = 1000.0 - numpy_financial.pv(0.10, 5, 100.0)
    assert found.present_cost[0] == pytest.approx(expected, rel=1e-12)
    assert found.line_present_cost[:, 0] == pytest.approx([1000.0, expected - 1000.0], rel=1e-12)
    assert found.equivalent_annual_cost[0] == pytest.approx(-numpy_financial.pmt(0.10, 5, expected), rel=1e-12)
    assert found.recovery_factor[0] == pytest.approx(-numpy_financial.pmt(0.10, 5, 1.0), rel=1e-12)


def test_the_level_cost_is_in_money_of_year_zero_when_prices_rise() -> None:
    # What rises with inflation from year to year costs the same every year in money of year 0.
    found = stage(driver("service", 100.0), inflation=np.array([0.04]))
    assert found.equivalent_annual_cost[0] == pytest.approx(100.0, rel=1e-12)


def test_several_parts_of_a_line_add_up_and_lines_stand_in_the_order_of_the_breakdown() -> None:
    found = stage(driver("drain", 1.0, "a"), driver("handling", 5.0, "a"), driver("handling", 7.0, "b"),
                  driver("purchase", 3.0))  # fmt: skip
    assert [(line.id, float(np.asarray(line.amount)[0])) for line in found.lines] == [
        ("purchase", 3.0), ("handling", 12.0), ("drain", 1.0),
    ]  # fmt: skip
    assert [(line.name, line.group) for line in found.lines][1] == ("Loading and unloading", "labour")


def test_the_used_machine_is_sold_for_its_share_of_the_price_and_nothing_else_is() -> None:
    # 1000 less 200 of year 5; freight cannot be sold.
    found = stage(driver("purchase", 1000.0), driver("freight", 50.0), residual_share=np.array([0.2]))
    assert found.present_cost[0] == pytest.approx(1050.0 - 200.0 / 1.1**5, rel=1e-12)
    assert [line.residual_amount is None for line in found.lines] == [False, True]
    years = yearly_cost(found)[:, 0]
    assert years == pytest.approx([1050.0, 0.0, 0.0, 0.0, 0.0, -200.0], abs=1e-9)


def test_tax_is_saved_by_depreciation_and_by_running_costs() -> None:
    # 25 % of 1000/5 and of 100 a year.
    found = stage(driver("purchase", 1000.0), driver("service", 100.0), tax_rate=np.array([0.25]))
    assert yearly_cost(found)[:, 0] == pytest.approx([1000.0, 25.0, 25.0, 25.0, 25.0, 25.0])


def test_without_depreciation_only_what_is_spent_at_once_saves_tax() -> None:
    found = stage(driver("purchase", 1000.0), driver("training", 100.0), driver("service", 100.0),
                  tax_rate=np.array([0.25]), capital_has_tax_effect=False)  # fmt: skip
    assert yearly_cost(found)[:, 0] == pytest.approx([1075.0, 75.0, 75.0, 75.0, 75.0, 75.0])
    assert [line.depreciable for line in found.lines] == [False, False, False]


def test_a_group_rises_by_its_own_inflation() -> None:
    found = stage(driver("service", 100.0), driver("operators", 100.0), inflation=np.array([0.02]),
                  inflation_by_group={"labour": np.array([0.05])})  # fmt: skip
    assert yearly_cost(found)[2, 0] == pytest.approx(100.0 * 1.02**2 + 100.0 * 1.05**2)


def test_only_what_is_renewed_is_paid_again_with_the_next_machine() -> None:
    found = stage(driver("purchase", 1000.0), driver("qualification", 60.0), driver("training", 9.0),
                  life_years=np.array([3]))  # fmt: skip
    flow = cash_flow_of(found)
    assert flow.before_tax_cost[flow.row_ids.index("purchase"), :, 0].tolist() == [1000, 0, 0, 1000, 0, 0]
    assert flow.before_tax_cost[flow.row_ids.index("qualification"), :, 0].tolist() == [60, 0, 0, 60, 0, 0]
    assert flow.before_tax_cost[flow.row_ids.index("training"), :, 0].tolist() == [9, 0, 0, 0, 0, 0]


def test_what_is_paid_at_the_start_leaves_running_costs_and_tax_out() -> None:
    found = stage(driver("purchase", 1000.0), driver("training", 90.0), driver("service", 100.0),
                  tax_rate=np.array([0.25]))  # fmt: skip
    assert found.initial_cost.tolist() == [1090.0]


def test_cost_of_a_board_is_the_level_cost_over_the_boards_and_of_an_area_over_both_faces() -> None:
    # 600 a year over 1000 + 2000 boards of 0.02 and 0.05 m².
    found = stage(driver("service", 600.0), boards={"a": amounts(1000.0, 0.02, 0.5), "b": amounts(2000.0, 0.05, 0.5)})
    assert found.cost_per_board is not None
    assert found.cost_per_area is not None
    assert found.cost_per_board[0] == pytest.approx(0.2, rel=1e-12)
    assert found.cost_per_area[0] == pytest.approx(600.0 / (20.0 + 100.0), rel=1e-12)
    assert found.remarks == ()


def test_each_board_type_pays_what_it_causes_and_its_part_of_the_rest() -> None:
    # 600 shared three to one, 80 + 7 for loading and draining a, 20 for loading b, 1000 and 500 boards.
    found = stage(
        driver("service", 600.0), driver("handling", 80.0, "a"), driver("drain", 7.0, "a"),
        driver("handling", 20.0, "b"),
        boards={"a": amounts(1000.0, 0.02, 0.75), "b": amounts(500.0, 0.02, 0.25)},
    )  # fmt: skip
    assert found.cost_per_board_type["a"][0] == pytest.approx((450.0 + 87.0) / 1000.0, rel=1e-12)
    assert found.cost_per_board_type["b"][0] == pytest.approx((150.0 + 20.0) / 500.0, rel=1e-12)


def test_a_board_type_that_is_not_built_has_no_cost_of_a_board_but_its_cost_is_not_shared_out_either() -> None:
    found = stage(driver("service", 600.0), driver("handling", 80.0, "b"),
                  boards={"a": amounts(1000.0, 0.02, 1.0), "b": amounts(0.0, 0.02, 0.0)})  # fmt: skip
    assert set(found.cost_per_board_type) == {"a"}
    assert found.cost_per_board_type["a"][0] == pytest.approx(0.6, rel=1e-12)
    assert found.cost_per_board is not None
    assert found.cost_per_board[0] == pytest.approx(0.68, rel=1e-12)


def test_without_boards_there_is_no_cost_of_a_board_and_that_is_remarked_after_the_rest() -> None:
    found = stage(driver("service", 600.0), boards={"a": amounts(0.0, 0.02, 1.0)}, remarks=("First.",))
    assert found.cost_per_board is None
    assert found.cost_per_area is None
    assert found.remarks == ("First.", "No board that it washes is built, so there is no cost per board.")


def test_the_total_names_what_it_leaves_out() -> None:
    assert stage(driver("service", 1.0)).total_name == "Total"
    lacking = stage(driver("service", 1.0), missing={"Floor space": "why", "Drain": "why"})
    assert lacking.total_name == "Total without floor space, drain"
    assert lacking.missing == {"Floor space": "why", "Drain": "why"}


def test_nothing_to_pay_makes_an_empty_table_of_all_years() -> None:
    empty = stage()
    flow = cash_flow_of(empty)
    assert flow.years.tolist() == [0, 1, 2, 3, 4, 5]
    for table in (flow.before_tax_cost, flow.tax, flow.depreciation, flow.book_value_written_off, flow.after_tax_cost):
        assert table.shape == (0, 6, 1)
    assert flow.row_ids == flow.row_names == flow.row_groups == ()
    assert yearly_cost(empty).tolist() == [[0.0]] * 6
    assert empty.present_cost.tolist() == empty.initial_cost.tolist() == [0.0]


def test_at_medians_every_input_stands_at_its_own_median() -> None:
    def three(low: float, middle: float, high: float) -> np.ndarray[Any, Any]:
        return np.array([high, low, middle])

    boards = {"a": BoardAmounts(boards_per_year=three(1, 10, 100), area_m2=three(0.1, 0.2, 0.9),
                                shared_cost_share=three(0.2, 0.5, 0.6))}  # fmt: skip
    changes: dict[str, Any] = {
        "life_years": three(3, 4, 9).astype(np.int64), "tax_rate": three(0.1, 0.2, 0.4),
        "discount_rate": three(0.05, 0.08, 0.2), "inflation": three(0.01, 0.02, 0.05),
        "residual_share": three(0.0, 0.1, 0.3), "inflation_by_group": {"labour": three(0.02, 0.03, 0.09)},
    }  # fmt: skip
    found = at_medians(stage(
        driver("purchase", three(900, 1000, 2000)), driver("operators", three(1, 2, 9), "a", three(10, 20, 90)),
        boards=boards, missing={"Drain": "why"}, machines=2.0, **changes,
    ))  # fmt: skip
    by_hand = stage(
        driver("purchase", 1000.0), driver("operators", 2.0, "a", 20.0), missing={"Drain": "why"}, machines=2.0,
        boards={"a": amounts(10.0, 0.2, 0.5)}, life_years=np.array([4]), tax_rate=np.array([0.2]),
        discount_rate=np.array([0.08]), inflation=np.array([0.02]), residual_share=np.array([0.1]),
        inflation_by_group={"labour": np.array([0.03])},
    )  # fmt: skip
    for name in ("present_cost", "equivalent_annual_cost", "initial_cost", "cost_per_board", "cost_per_area"):
        assert getattr(found, name) == pytest.approx(getattr(by_hand, name), rel=1e-12), name
    assert found.cost_per_board_type["a"] == pytest.approx(by_hand.cost_per_board_type["a"], rel=1e-12)
    assert (found.machines, found.missing) == (2.0, {"Drain": "why"})
    assert found.finance.life_years.tolist() == [4]
    assert [(name, one.shared_cost_share.tolist()) for name, one in found.boards.items()] == [("a", [0.5])]
    assert replace(found.finance, life_years=found.finance.life_years).horizon_years == 5


def test_costs_of_boards_and_areas_are_those_of_each_draw() -> None:
    boards = {name: BoardAmounts(boards_per_year=np.array(count), area_m2=np.array([0.02, 0.05]),
                                 shared_cost_share=np.array([0.5, 0.5]))
              for name, count in (("a", [1000.0, 2000.0]), ("b", [0.5, 0.25]))}  # fmt: skip
    found = assemble((driver("service", np.array([600.0, 900.0])),), finance(2), 1.0, boards, {})
    assert found.cost_per_board == pytest.approx([600.0 / 1000.5, 900.0 / 2000.25])
    assert found.cost_per_area == pytest.approx([600.0 / 1000.5 / 0.02, 900.0 / 2000.25 / 0.05])
    # A board built every second year is built.
    assert found.cost_per_board_type["b"] == pytest.approx([300.0 / 0.5, 450.0 / 0.25])
