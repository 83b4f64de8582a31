"""How the plant counts money, read from its record: whole years, rates, depreciation, what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from model.cost_finance import CostFinance, read_finance
from model.depreciation import macrs_shares, straight_line_shares
from model.input_errors import UnphysicalInputError
from tests.model.cost_by_hand import FINANCE, case_by_hand, context_by_hand, each
from tests.model.records import machine

UNKNOWN_LIFE = "The machine's life is not known: it is taken to last to the horizon. Ask the supplier."


def finance(prices: dict[str, Any] | None = None, principle: Any = "spray in air", **changes: Any) -> CostFinance:
    equipment = machine(principle, prices={"life": "5 year"} if prices is None else prices)
    return read_finance(context_by_hand(equipment, case_by_hand(finance=FINANCE | changes)))


def test_rates_and_years_are_those_of_the_plant() -> None:
    found = finance({"life": "5 year", "residual_share": "10 %"})
    assert found.horizon_years == 8
    assert found.life_years.tolist() == [5, 5, 5]
    assert found.life_years.dtype == np.int64
    for value, share in ((found.discount_rate, 0.10), (found.inflation, 0.02), (found.tax_rate, 0.25),
                         (found.residual_share, 0.10)):  # fmt: skip
        assert value == pytest.approx(each(share))
    assert found.capital_has_tax_effect
    assert found.remarks == ()


def test_years_are_rounded_to_whole_ones() -> None:
    assert finance(horizon="7.6 year").horizon_years == 8
    assert finance({"life": "4.4 year"}).life_years.tolist() == [4, 4, 4]
    assert finance({"life": "0.2 year"}).life_years.tolist() == [1, 1, 1]
    assert finance({"life": "5000 year"}).life_years.tolist() == [1000, 1000, 1000]


@pytest.mark.parametrize("horizon", ["1 year", "100 year"])
def test_the_shortest_and_the_longest_horizon_are_allowed(horizon: str) -> None:
    assert f"{finance(horizon=horizon).horizon_years} year" == horizon


@pytest.mark.parametrize(
    ("changes", "words"),
    [({"horizon": "0.4 year"}, r"horizon of the cost is 0 years. Give 1 to 100 years in plant.finance"),
     ({"horizon": "101 year"}, r"horizon of the cost is 101 years"),
     ({"tax_rate": "100 %"}, r"tax rate is 100%. Give less than 100 % in plant.finance"),
     ({"inflation": "1001 %"}, r"general inflation is 1001% a year. Give 1000% or less"),
     ({"inflation_per_line": {"labour": "1001 %"}}, r"labour inflation is 1001% a year"),
     ({"depreciation_life": "0.4 year"}, r"depreciation life is 0 years. Give at least 1 year in plant.finance"),
     ({"depreciation_life": "101 year"}, r"depreciation life is 101 years. Give 100 or less in plant.finance")],
)  # fmt: skip
def test_what_has_no_meaning_is_refused_with_its_value(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(UnphysicalInputError, match=words):
        finance(**changes)


def test_inflation_at_its_highest_is_still_taken() -> None:
    found = finance(inflation="1000 %", inflation_per_line={"energy": "1000 %"})
    assert found.inflation == pytest.approx(each(10.0))


def test_a_life_of_nothing_is_refused_and_names_the_machine() -> None:
    with pytest.raises(UnphysicalInputError, match=r"^Washer: its life is 0 years. Give a life above 0 under prices"):
        finance({"life": "0 year"})


def test_an_unknown_life_lasts_to_the_horizon_and_is_said_only_of_a_machine_that_is_bought() -> None:
    bought = finance({})
    assert bought.life_years.tolist() == [8, 8, 8]
    assert bought.remarks == (UNKNOWN_LIFE,)
    assert bought.residual_share.tolist() == [0.0, 0.0, 0.0]
    assert finance({}, "service").remarks == ()
    assert finance({}, "none").remarks == ()


def test_a_group_with_its_own_price_rise_has_it_and_the_others_have_the_general_one() -> None:
    found = finance(inflation_per_line={"labour": "4 %"})
    assert found.inflation_of("labour") == pytest.approx(each(0.04))
    assert found.inflation_of("energy") == pytest.approx(each(0.02))


def test_a_price_rise_for_no_group_is_named_and_not_used() -> None:
    found = finance(inflation_per_line={"labor": "4 %", "energie": "3 %"})
    assert found.inflation_by_group == {}
    assert [remark.split(" is not used")[0] for remark in found.remarks] == [
        'The inflation given for "energie"', 'The inflation given for "labor"',
    ]  # fmt: skip
    assert "it is none of purchase, upgrades, labour" in found.remarks[0]


@pytest.mark.parametrize(
    ("rate", "remark"),
    [("100 %", "At a discount rate of 100% a year hardly anything but the money of the start counts."),
     ("0 %", "At a discount rate of 0 % money of later years counts as much as money of today."),
     ("-5 %", "At a discount rate of -5.0% a year later money counts more than money of today.")],
)  # fmt: skip
def test_an_odd_discount_rate_is_remarked(rate: str, remark: str) -> None:
    assert finance(discount_rate=rate).remarks == (remark,)


@pytest.mark.parametrize("rate", ["99 %", "0.1 %"])
def test_a_discount_rate_between_nothing_and_everything_is_not_remarked(rate: str) -> None:
    assert finance(discount_rate=rate).remarks == ()


def test_straight_line_takes_its_own_life_or_else_the_machines() -> None:
    assert finance().depreciation == "straight line over 5 years"
    np.testing.assert_allclose(finance().depreciation_shares, straight_line_shares(5))
    own = finance(depreciation_life="3.4 year")
    assert own.depreciation == "straight line over 3 years"
    assert own.depreciation_shares == pytest.approx([1 / 3, 1 / 3, 1 / 3])
    for life in ("1 year", "100 year"):
        assert finance(depreciation_life=life).depreciation == f"straight line over {life.split()[0]} years"


@pytest.mark.parametrize("years", [3, 5, 7, 10])
def test_each_macrs_class_takes_its_own_table(years: int) -> None:
    found = finance(depreciation=f"MACRS {years}")
    np.testing.assert_array_equal(found.depreciation_shares, macrs_shares(years))
    assert found.depreciation == f"MACRS {years} (half-year convention)"
    assert found.capital_has_tax_effect


def test_no_depreciation_means_that_the_price_changes_no_tax() -> None:
    found = finance(depreciation="none")
    assert not found.capital_has_tax_effect
    assert found.depreciation == "none"
    assert found.depreciation_shares.tolist() == [1.0]


def test_a_life_of_a_second_is_a_life_and_rates_keep_their_basis() -> None:
    assert finance({"life": "1 s"}).life_years.tolist() == [1, 1, 1]
    context = context_by_hand(machine(prices={"life": "5 year"}), case_by_hand(finance=FINANCE | {
        "inflation_per_line": {"labour": "4 %"}}))  # fmt: skip
    read_finance(context)
    basis = {one.path: one.basis for one in context.inputs.book.inputs()}
    assert basis["plant.finance.inflation_per_line.labour"] == "measured"
