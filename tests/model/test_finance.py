"""Time value of money: limits, shapes, several internal rates, payback, error sentences."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import numpy_financial
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from model.finance import (
    annuity_present_value,
    capital_recovery_factor,
    discounted_flows,
    equivalent_annual_cost,
    inflate,
    irr,
    irr_per_draw,
    mirr,
    nominal_rate,
    npv,
    payback_years,
    real_rate,
)

MONEY = st.integers(-1000, 1000).map(float)


def test_npv_takes_draws_on_the_second_axis_and_a_rate_per_draw() -> None:
    flows = np.array([[-100.0, -50.0, 0.0], [60.0, 30.0, 10.0], [60.0, 30.0, 10.0]])
    rates = np.array([0.0, 0.1, 10.0])
    each = [float(npv(rate, flows[:, draw])) for draw, rate in enumerate(rates)]
    np.testing.assert_allclose(npv(rates, flows), each, rtol=1e-14)
    np.testing.assert_allclose(npv(rates, flows[:, 0]), [float(npv(rate, flows[:, 0])) for rate in rates])


def test_at_zero_rate_npv_is_the_plain_sum_and_at_a_huge_rate_only_year_zero_counts() -> None:
    flows = [-100.0, 40.0, 40.0, 40.0]
    assert float(npv(0.0, flows)) == 20.0
    assert float(npv(10.0, flows)) == pytest.approx(-100 + 40 / 11 + 40 / 121 + 40 / 1331)
    assert float(npv(1e200, flows)) == pytest.approx(-100.0)


@settings(deadline=None, max_examples=50)
@given(flows=st.lists(MONEY, min_size=2, max_size=12), scale=st.floats(0.01, 100.0), rate=st.floats(-0.5, 10.0))
def test_npv_scales_with_the_flows(flows: list[float], scale: float, rate: float) -> None:
    assert float(npv(rate, np.array(flows) * scale)) == pytest.approx(scale * float(npv(rate, flows)), abs=1e-6)


@settings(deadline=None, max_examples=50)
@given(rate=st.floats(-0.9, 20.0), years=st.integers(1, 12))
def test_the_one_internal_rate_is_recovered_from_an_annuity_priced_at_it(rate: float, years: int) -> None:
    price = float(annuity_present_value(1.0, rate, years))
    found = irr([-price] + [1.0] * years)
    assert len(found.rates) == 1
    assert found.rates[0] == pytest.approx(rate, rel=1e-9, abs=1e-9)
    assert found.statement.startswith("One internal rate")


def test_two_internal_rates_are_both_found_and_named() -> None:
    # (x − 1/1.1)(x − 1/1.25) built so that 10 % and 25 % are the rates.
    flows = [-100.0, 100 * (1.1 + 1.25), -100 * 1.1 * 1.25]
    found = irr(flows)
    assert found.rates == pytest.approx((0.10, 0.25), abs=1e-9)
    assert found.statement.startswith("2 internal rates (10.00 % and 25.00 % a year)")


def test_three_internal_rates_and_a_negative_one_are_found() -> None:
    wanted = (-0.2, 0.1, 0.5)
    assert irr(np.poly([1 + rate for rate in wanted])).rates == pytest.approx(wanted, abs=1e-8)


def test_two_high_rates_close_together_are_two() -> None:
    assert irr(np.poly([10.0, 10.0005])).rates == pytest.approx((9.0, 9.0005), abs=1e-7)


def test_a_touching_internal_rate_counts_once() -> None:
    assert irr(np.poly([1.1, 1.1])).rates == pytest.approx((0.1,), abs=1e-6)


@pytest.mark.parametrize(
    ("flows", "sentence"),
    [
        ([-100, -10, 0], "never changes sign"),
        ([100, 10], "never changes sign"),
        ([0, 0, 0], "is 0 in every year"),
        ([100, -200, 150], "sign changes 2 times but no rate makes the value 0"),
    ],
)
def test_no_internal_rate_is_said_with_its_reason(flows: list[float], sentence: str) -> None:
    found = irr(flows)
    assert found.rates == ()
    assert sentence in found.statement


def test_zero_years_at_either_end_do_not_change_the_internal_rate() -> None:
    assert irr([0, 0, -100, 60, 60, 0]).rates == pytest.approx(irr([-100, 60, 60]).rates, rel=1e-12)


@settings(deadline=None, max_examples=100)
@given(flows=st.lists(MONEY, min_size=2, max_size=9))
def test_every_internal_rate_gives_zero_value_and_there_are_no_more_than_sign_changes(flows: list[float]) -> None:
    found = irr(flows)
    signs = [np.sign(flow) for flow in flows if flow]
    changes = sum(a != b for a, b in pairwise(signs))
    assert len(found.rates) <= changes
    # An odd number of sign changes has at least one rate.
    assert changes % 2 == 0 or found.rates
    for rate in found.rates:
        assert rate > -1.0
        size = np.abs(discounted_flows(rate, flows)).sum()
        assert abs(float(npv(rate, flows))) <= 1e-8 * size


def test_internal_rates_of_draws_agree_with_one_by_one() -> None:
    draws = np.random.default_rng(7).normal(size=(6, 400)) * 50 + np.array([-150, 40, 40, 40, 40, 30])[:, None]
    rates, count = irr_per_draw(draws)
    assert count.dtype == np.int64
    assert set(count.tolist()) >= {0, 1}
    for draw in range(draws.shape[1]):
        found = irr(draws[:, draw]).rates
        assert count[draw] == len(found)
        if len(found) == 1:
            assert rates[draw] == found[0]
        else:
            assert np.isnan(rates[draw])


def test_mirr_is_not_a_number_where_nothing_is_paid_or_received() -> None:
    flows = np.array([[-100.0, 100.0, -1.0], [121.0, 5.0, -1.0]])
    np.testing.assert_allclose(mirr(flows, 0.1, 0.1), [0.21, np.nan, np.nan])


@settings(deadline=None, max_examples=50)
@given(rate=st.floats(0.0, 10.0), years=st.integers(1, 30))
def test_capital_recovery_repays_one(rate: float, years: int) -> None:
    payment = float(capital_recovery_factor(rate, years))
    assert float(npv(rate, [-1.0] + [payment] * years)) == pytest.approx(0.0, abs=1e-9)


def test_capital_recovery_is_smooth_through_zero_rate_and_tends_to_the_rate() -> None:
    assert float(capital_recovery_factor(0.0, 8)) == 0.125
    # First-order series around 0: 1/n + rate (n + 1) / (2 n).
    for rate in (1e-14, 1e-9, -1e-9):
        assert float(capital_recovery_factor(rate, 8)) == pytest.approx(0.125 + rate * 9 / 16, rel=1e-13)
    assert float(capital_recovery_factor(10.0, 20)) == pytest.approx(10.0, rel=1e-12)
    assert float(capital_recovery_factor(1e9, 300)) == pytest.approx(1e9)


@settings(deadline=None, max_examples=50)
@given(cost=st.floats(1.0, 1e7), rate=st.floats(0.0, 1.0), years=st.integers(1, 30))
def test_equivalent_annual_cost_and_annuity_value_undo_each_other(cost: float, rate: float, years: int) -> None:
    level = equivalent_annual_cost(cost, rate, years)
    assert float(annuity_present_value(level, rate, years)) == pytest.approx(cost, rel=1e-12)


@settings(deadline=None, max_examples=50)
@given(nominal=st.floats(-0.5, 10.0), inflation=st.floats(-0.5, 10.0))
def test_real_and_nominal_rates_undo_each_other(nominal: float, inflation: float) -> None:
    assert float(nominal_rate(real_rate(nominal, inflation), inflation)) == pytest.approx(nominal, abs=1e-12)


def test_present_value_is_the_same_in_nominal_and_in_real_money() -> None:
    real_flows = np.array([-100.0, 50.0, 30.0, 60.0])
    nominal_flows = inflate(real_flows, 0.03, np.arange(4))
    assert float(npv(0.09, nominal_flows)) == pytest.approx(float(npv(real_rate(0.09, 0.03), real_flows)), rel=1e-13)


def test_payback_is_never_for_a_loss_zero_for_a_gift_and_whole_when_exact() -> None:
    flows = np.array([[-100.0, 5.0, -100.0], [40.0, 1.0, 50.0], [40.0, 1.0, 50.0]])
    assert payback_years(flows).tolist() == [np.inf, 0.0, 2.0]


def test_an_overhaul_can_undo_the_first_payback_but_not_the_lasting_one() -> None:
    flows = [-100.0, 120.0, -60.0, 80.0]
    assert float(payback_years(flows)) == pytest.approx(100 / 120)
    assert float(payback_years(flows, lasting=True)) == pytest.approx(2.5)
    assert float(payback_years([-100.0, 120.0, -60.0], lasting=True)) == np.inf


@settings(deadline=None, max_examples=50)
@given(low=st.floats(0.0, 0.5), more=st.floats(0.0, 5.0), saving=st.floats(10.0, 90.0))
def test_payback_never_gets_shorter_when_the_rate_rises(low: float, more: float, saving: float) -> None:
    flows = [-100.0] + [saving] * 10
    assert float(payback_years(flows, low + more)) >= float(payback_years(flows, low)) - 1e-9


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: npv(-1.0, [1, 2]), r"discount rate is -1\. Give a share per year above -1"),
        (lambda: npv(np.nan, [1, 2]), "discount rate is nan"),
        (lambda: npv([0.1, -3.0], [1, 2]), "discount rate is -3"),
        (lambda: npv(0.1, []), "cash flow has no years"),
        (lambda: npv(0.1, [1.0, np.inf]), "cash flow holds inf"),
        (lambda: irr([[1, 2]]), "cash flow has 2 axes"),
        (lambda: irr_per_draw([1, 2]), "cash flows have 1 axes"),
        (lambda: mirr([1.0], 0.1, 0.1), "needs at least 2"),
        (lambda: mirr([-1.0, 2.0], -2.0, 0.1), "finance rate is -2"),
        (lambda: mirr([-1.0, 2.0], 0.1, -2.0), "reinvestment rate is -2"),
        (lambda: capital_recovery_factor(0.1, 0), "life is 0 years. Give a life above 0"),
        (lambda: equivalent_annual_cost(100.0, 0.1, -4), "life is -4 years"),
        (lambda: annuity_present_value(100.0, -1.5, 4), "discount rate is -1.5"),
        (lambda: real_rate(0.1, -1.0), "inflation is -1"),
        (lambda: inflate(1.0, -1.0, 2), "inflation is -1"),
    ],
)
def test_what_has_no_meaning_is_refused_with_the_value(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=sentence):
        call()


def test_a_forty_year_flow_and_extreme_rates_neither_overflow_nor_lose_the_rate() -> None:
    for rate in (-0.3, 0.0, 0.08, 1e6):
        price = float(annuity_present_value(1.0, rate, 40))
        assert irr([-price] + [1.0] * 40).rates[0] == pytest.approx(rate, rel=1e-9, abs=1e-12)


def test_each_draw_has_its_own_first_sign_and_first_year() -> None:
    # An investment, a loan of the same terms, and an investment that starts a year later at 21 %.
    flows = np.array([[-100.0, 100.0, 0.0], [60.0, -60.0, -100.0], [60.0, -60.0, 121.0]])
    rates, count = irr_per_draw(flows)
    usual = float(numpy_financial.irr([-100.0, 60.0, 60.0]))
    assert rates == pytest.approx([usual, usual, 0.21], abs=1e-9)
    assert count.tolist() == [1, 1, 1]


def test_a_large_draw_does_not_pay_a_small_one_back() -> None:
    assert payback_years(np.array([[-1e13, -1.0], [2e13, 0.5]])).tolist() == [0.5, np.inf]


def test_an_inflation_without_meaning_is_named_in_the_nominal_rate_too() -> None:
    with pytest.raises(ValueError, match=r"^The inflation is -1\. Give a share per year above -1, "):
        nominal_rate(0.1, -1.0)


def test_lasting_paybacks_of_draws_are_found_each_for_itself() -> None:
    flows = np.array([[-100.0, -100.0], [120.0, 50.0], [-60.0, 50.0], [80.0, 10.0]])
    assert payback_years(flows, lasting=True) == pytest.approx([2.5, 2.0])
    assert payback_years(flows) == pytest.approx([100 / 120, 2.0])


def test_a_modified_rate_does_not_depend_on_the_size_of_the_flow() -> None:
    assert float(mirr([-0.1, 0.121], 0.1, 0.1)) == pytest.approx(0.21)


@pytest.mark.parametrize("rate", [-0.9, -0.5])
def test_a_long_flow_that_shrinks_by_half_or_more_each_year_keeps_its_only_rate(rate: float) -> None:
    # The polynomial of degree 100 loses this root; the only rate is found by halving.
    price = float(annuity_present_value(1.0, rate, 100))
    assert irr([-price] + [1.0] * 100).rates == pytest.approx((rate,), abs=1e-9)


def test_a_late_start_does_not_change_several_rates() -> None:
    assert irr([0.0, 0.0, -100.0, 235.0, -137.5]).rates == pytest.approx((0.10, 0.25), abs=1e-9)


@pytest.mark.parametrize("growth", [1.0, 10.0])
def test_a_present_value_that_only_nearly_touches_zero_has_no_rate(growth: float) -> None:
    # (x − growth)² + a little: its least value is above 0 by 1e-10 of the last flow.
    flows = np.array([1.0, -2.0 * growth, growth**2 * (1.0 + 1e-10)])
    assert irr(flows).rates == ()


def test_a_touching_rate_of_nearly_a_total_loss_is_found() -> None:
    assert irr(np.poly([0.1, 0.1])).rates == pytest.approx((-0.9,), abs=1e-6)


@pytest.mark.parametrize("years", [3, 7, 10, 20])
def test_what_is_paid_back_to_the_last_cent_is_paid_back_in_the_last_year(years: int) -> None:
    # The price is the present value of the savings; summed anew it may miss 0 by rounding.
    price = float(annuity_present_value(1e6, 0.07, years))
    assert float(payback_years([-price] + [1e6] * years, 0.07)) == pytest.approx(years)


def test_a_life_of_half_a_year_is_a_life() -> None:
    assert float(capital_recovery_factor(0.21, 0.5)) == pytest.approx(0.21 / (1.0 - 1.0 / 1.1))


@pytest.mark.parametrize(("late", "last", "ends"), [
    (1e9, 60, [(0.9, 1.1)]), (-1e6, 40, [(0.4, 0.6), (0.9, 1.1)]), (-1e9, 60, [(0.4, 0.6), (0.9, 1.1)]),
])  # fmt: skip
def test_rates_beside_a_huge_late_amount_are_exact_to_the_last_digits(late: float, last: int, ends: Any) -> None:
    # Money put in, got back and put in again, and long after it something huge: there the roots of the polynomial are
    # good to nine digits before they are polished. L: scipy's brentq on the present value.
    flows = np.zeros(last + 1)
    flows[:3], flows[last] = (-1.0, 3.0, -2.0), late
    wanted = [brentq(lambda rate: float(npv(rate, flows)), *pair, xtol=1e-15, rtol=1e-14) for pair in ends]
    assert irr(flows).rates == pytest.approx(wanted, rel=1e-13)


def test_a_flow_of_nothing_has_nothing_to_pay_back() -> None:
    assert payback_years([0.0, 0.0, 0.0]) == 0.0
    assert payback_years([0.0, 0.0, 0.0], 0.1, lasting=True) == 0.0
