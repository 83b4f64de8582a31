"""Cash flow: timing, inflation, replacement, residual value, depreciation, tax, sums, error sentences."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import numpy_financial
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.cash_flow import (
    CashFlowTerms,
    CostLine,
    build_cash_flow,
    cost_per_row,
    cost_per_year,
    equivalent_annual_cost_of_one_life,
    present_cost,
    present_cost_per_row,
    saving_per_year,
)
from model.depreciation import macrs_shares, straight_line_shares
from model.finance import equivalent_annual_cost, irr, npv, real_rate

CENT = 0.005


def line(**given: Any) -> CostLine:
    usual: dict[str, Any] = {"id": "a", "name": "Line", "group": "Group", "timing": "every year", "amount": 100.0}
    return CostLine(**(usual | given))


def machine(**given: Any) -> CostLine:
    usual: dict[str, Any] = {
        "id": "price", "name": "Price", "group": "Purchase", "timing": "once at start", "amount": 1000.0,
        "depreciable": True, "per_machine": True, "renewed_with_machine": True, "residual_amount": 100.0,
    }
    return CostLine(**(usual | given))


def terms(**given: Any) -> CashFlowTerms:
    usual: dict[str, Any] = {
        "horizon_years": 6, "machine_life_years": 6, "depreciation_shares": straight_line_shares(4),
    }
    return CashFlowTerms(**(usual | given))


def paid(cost_line: CostLine, **given: Any) -> list[float]:
    return build_cash_flow((cost_line,), terms(**given)).before_tax_cost[0, :, 0].tolist()


def test_each_timing_pays_in_its_years() -> None:
    assert paid(line(timing="once at start")) == [100, 0, 0, 0, 0, 0, 0]
    assert paid(line(timing="every year")) == [0, 100, 100, 100, 100, 100, 100]
    assert paid(line(timing="every n years", every_years=2)) == [0, 0, 100, 0, 100, 0, 0]
    assert paid(line(timing="at end")) == [0, 0, 0, 0, 0, 0, 100]


def test_what_is_renewed_with_the_machine_starts_again_with_each_machine() -> None:
    four_years = {"machine_life_years": 4}
    assert paid(line(timing="once at start", renewed_with_machine=True), **four_years) == [100, 0, 0, 0, 100, 0, 0]
    assert paid(line(timing="every n years", every_years=3, renewed_with_machine=True), **four_years) == [
        0, 0, 0, 100, 0, 0, 0,
    ]
    assert paid(line(timing="at end", renewed_with_machine=True), **four_years) == [0, 0, 0, 0, 100, 0, 100]


def test_prices_rise_from_year_zero_and_the_next_machine_is_bought_at_the_price_of_its_year() -> None:
    np.testing.assert_allclose(paid(line(inflation_share=0.03))[1:], 100 * 1.03 ** np.arange(1, 7))
    bought = paid(machine(inflation_share=0.05), machine_life_years=3)
    assert bought[3] == pytest.approx(1000 * 1.05**3)
    assert bought[6] == 0.0  # nothing is bought at the horizon


def test_amounts_for_one_machine_are_multiplied_by_the_number_of_machines_and_others_are_not() -> None:
    assert paid(line(per_machine=True), machines=3)[1] == 300.0
    assert paid(line(), machines=3)[1] == 100.0
    assert paid(line(per_machine=True), machines=0)[1] == 0.0


def test_a_machine_cut_short_by_the_horizon_sells_for_its_unused_life() -> None:
    # 1000 falling to 100 over 10 years: after 6 years 460 on the straight line.
    flow = build_cash_flow((machine(),), terms(machine_life_years=10))
    assert flow.row_ids == ("price", "price.residual")
    assert flow.before_tax_cost[1, :, 0].tolist() == pytest.approx([0, 0, 0, 0, 0, 0, -460])
    cautious = build_cash_flow((machine(),), terms(machine_life_years=10, value_unused_life=False))
    assert cautious.before_tax_cost[1, -1, 0] == -100.0


def test_each_machine_of_a_chain_is_sold_when_replaced_at_the_price_of_the_year() -> None:
    flow = build_cash_flow((machine(inflation_share=0.04),), terms(machine_life_years=3))
    sales = flow.before_tax_cost[1, :, 0]
    assert sales[3] == pytest.approx(-100 * 1.04**3)
    assert sales[6] == pytest.approx(-100 * 1.04**6)
    assert np.count_nonzero(sales) == 2


def test_depreciation_by_hand_with_tax_on_the_gain() -> None:
    # 1000 over 4 years, sold after 3 for 400: book 250, gain 150; at 30 % tax 75 saved a year, 45 due on the gain.
    flow = build_cash_flow(
        (machine(residual_amount=400.0),), terms(horizon_years=3, machine_life_years=3, tax_rate_share=0.3)
    )
    assert flow.depreciation[0, :, 0].tolist() == [0, 250, 250, 250]
    assert flow.book_value_written_off[0, :, 0].tolist() == [0, 0, 0, 250]
    assert flow.tax.sum(axis=0)[:, 0].tolist() == pytest.approx([0, -75, -75, -75 + 45])
    assert cost_per_year(flow)[:, 0].tolist() == pytest.approx([1000, -75, -75, -30 - 400])


@settings(deadline=None, max_examples=50)
@given(
    life=st.integers(1, 9), horizon=st.integers(1, 14), inflation=st.floats(-0.1, 0.2), shares=st.sampled_from(
        [macrs_shares(3), macrs_shares(5), macrs_shares(7), straight_line_shares(1), straight_line_shares(8, 0.2)]
    )
)
def test_every_purchase_is_deducted_exactly_once_whatever_life_and_schedule(
    life: int, horizon: int, inflation: float, shares: np.ndarray
) -> None:
    flow = build_cash_flow(
        (machine(inflation_share=inflation),),
        terms(horizon_years=horizon, machine_life_years=life, depreciation_shares=shares, tax_rate_share=0.25),
    )
    deducted = (flow.depreciation + flow.book_value_written_off)[0].sum()
    assert deducted == pytest.approx(flow.before_tax_cost[0].sum(), rel=1e-12)
    # Over all years tax falls on the gain: a quarter of (sales − purchases).
    assert flow.tax.sum() == pytest.approx(-0.25 * flow.before_tax_cost.sum(), rel=1e-9)


def test_tax_lowers_a_deductible_cost_in_its_own_year_only_if_the_plant_earns_a_profit() -> None:
    def after_tax(deductible: bool, profitable: bool) -> float:
        flow = build_cash_flow(
            (line(tax_deductible=deductible),), terms(tax_rate_share=0.4, plant_profitable=profitable)
        )
        return float(flow.after_tax_cost[0, 1, 0])

    assert after_tax(True, True) == 60.0
    assert after_tax(False, True) == 100.0
    assert after_tax(True, False) == 100.0
    loss = build_cash_flow((machine(),), terms(tax_rate_share=0.4, plant_profitable=False))
    assert not loss.tax.any()


def _many_lines(draws: int) -> tuple[CostLine, ...]:
    random = np.random.default_rng(3)
    return (
        machine(amount=random.uniform(1e5, 4e5, draws), residual_amount=random.uniform(0, 2e4, draws)),
        line(id="freight", timing="once at start", amount=3210.55, depreciable=True, renewed_with_machine=True),
        line(id="training", timing="once at start", amount=4999.99),
        line(id="fluid", amount=random.uniform(5e3, 9e3, draws), inflation_share=random.normal(0.03, 0.02, draws)),
        line(id="nozzles", timing="every n years", every_years=3, amount=812.34, per_machine=True),
        line(id="removal", timing="at end", amount=1500.0, renewed_with_machine=True, per_machine=True),
    )


def _many_terms(draws: int) -> CashFlowTerms:
    random = np.random.default_rng(4)
    return terms(
        horizon_years=10, machine_life_years=random.integers(2, 15, draws), machines=random.integers(1, 4, draws),
        tax_rate_share=0.27, depreciation_shares=macrs_shares(7),
    )


def test_totals_are_the_sum_of_lines_and_the_sum_over_years_to_a_cent() -> None:
    flow = build_cash_flow(_many_lines(500), _many_terms(500))
    total = flow.after_tax_cost.sum(axis=(0, 1))
    assert np.abs(cost_per_row(flow).sum(axis=0) - total).max() < CENT
    assert np.abs(cost_per_year(flow).sum(axis=0) - total).max() < CENT
    assert np.abs(flow.before_tax_cost + flow.tax - flow.after_tax_cost).max() < CENT
    by_row = present_cost_per_row(flow, 0.08).sum(axis=0)
    assert np.abs(by_row - present_cost(flow, 0.08)).max() < CENT


def test_many_draws_together_equal_each_draw_alone() -> None:
    draws = 40
    lines, all_terms = _many_lines(draws), _many_terms(draws)
    together = build_cash_flow(lines, all_terms)
    for draw in range(draws):
        one_lines = tuple(
            replace(
                item,
                amount=float(np.broadcast_to(item.amount, draws)[draw]),
                inflation_share=float(np.broadcast_to(item.inflation_share, draws)[draw]),
                residual_amount=None
                if item.residual_amount is None
                else float(np.broadcast_to(item.residual_amount, draws)[draw]),
            )
            for item in lines
        )
        one_terms = replace(
            all_terms,
            machine_life_years=int(np.asarray(all_terms.machine_life_years)[draw]),
            machines=int(np.asarray(all_terms.machines)[draw]),
        )
        alone = build_cash_flow(one_lines, one_terms)
        np.testing.assert_allclose(together.after_tax_cost[..., draw], alone.after_tax_cost[..., 0], atol=1e-6)


@settings(deadline=None, max_examples=50)
@given(
    life=st.integers(1, 6), repeats=st.integers(2, 4), inflation=st.floats(-0.02, 0.1), rate=st.floats(0.0, 1.0),
    tax=st.floats(0.0, 0.5),
)
def test_one_life_and_the_replacement_chain_have_the_same_equivalent_annual_cost(
    life: int, repeats: int, inflation: float, rate: float, tax: float
) -> None:
    lines = (
        machine(inflation_share=inflation),
        line(id="run", inflation_share=inflation),
        line(
            id="parts", timing="every n years", every_years=2, inflation_share=inflation, renewed_with_machine=True
        ),
        line(id="scrap", timing="at end", inflation_share=inflation, renewed_with_machine=True),
    )
    chain = terms(
        horizon_years=life * repeats, machine_life_years=life, tax_rate_share=tax, depreciation_shares=macrs_shares(3)
    )
    over_chain = equivalent_annual_cost(
        present_cost(build_cash_flow(lines, chain), rate), real_rate(rate, inflation), life * repeats
    )
    one_life = equivalent_annual_cost_of_one_life(lines, chain, rate, inflation)
    np.testing.assert_allclose(one_life, over_chain, rtol=1e-9)


def test_lives_that_differ_by_draw_give_each_draw_its_own_annual_cost() -> None:
    lives = np.array([2, 5, 2, 9])
    together = equivalent_annual_cost_of_one_life((machine(),), terms(machine_life_years=lives), 0.1)
    alone = [
        float(equivalent_annual_cost_of_one_life((machine(),), terms(machine_life_years=int(life)), 0.1)[0])
        for life in lives
    ]
    np.testing.assert_allclose(together, alone, rtol=1e-13)


def test_annual_cost_refuses_draws_that_differ_in_number_from_the_lives() -> None:
    with pytest.raises(ValueError, match=r"draws differ in number: 3 and 2 \(machine lives\)"):
        equivalent_annual_cost_of_one_life(
            (machine(amount=np.ones(3)),), terms(machine_life_years=np.array([2, 5])), 0.1
        )


def test_the_saving_is_an_investment_with_its_own_rate_and_value() -> None:
    bought_in = build_cash_flow((line(id="service", amount=700.0),), terms(machines=0))
    own = build_cash_flow((machine(residual_amount=None), line(amount=300.0)), terms())
    saving = saving_per_year(own, bought_in)
    assert saving[:, 0].tolist() == [-1000, 400, 400, 400, 400, 400, 400]
    by_difference = present_cost(bought_in, 0.1) - present_cost(own, 0.1)
    np.testing.assert_allclose(npv(0.1, saving), by_difference, rtol=1e-12)
    assert irr(saving[:, 0]).rates[0] == pytest.approx(0.3265, abs=1e-3)


@settings(deadline=None, max_examples=50)
@given(scale=st.floats(0.1, 10.0), rate=st.sampled_from([0.0, 0.08, 10.0]))
def test_present_cost_scales_with_all_amounts_at_zero_usual_and_very_high_rates(scale: float, rate: float) -> None:
    both = present_cost(
        build_cash_flow((machine(), line()), terms(tax_rate_share=0.3)), rate
    ), present_cost(
        build_cash_flow(
            (machine(amount=1000.0 * scale, residual_amount=100.0 * scale), line(amount=100.0 * scale)),
            terms(tax_rate_share=0.3),
        ),
        rate,
    )
    np.testing.assert_allclose(both[1], scale * both[0], rtol=1e-10, atol=1e-9)


@pytest.mark.parametrize(
    ("lines", "wrong_terms", "sentence"),
    [
        ((machine(amount=-5.0),), {}, "Price: the amount is -5. Give an amount of money of 0 or more"),
        ((machine(amount=np.array([1.0, np.nan])),), {}, "Price: the amount is nan"),
        ((machine(residual_amount=-1.0),), {}, "Price: the residual value is -1"),
        ((line(),), {"machine_life_years": 0}, "machine life in years is 0. Give a whole number of years"),
        ((line(),), {"machine_life_years": np.array([3, -2])}, "machine life in years is -2"),
        ((line(),), {"horizon_years": 0}, "horizon in years is 0"),
        ((line(),), {"horizon_years": 2.5}, "horizon in years is 2.5"),
        ((line(),), {"machines": -1}, "number of machines is -1"),
        ((line(),), {"tax_rate_share": 30.0}, "tax rate is 30. Give a share from 0 to below 1"),
        ((line(timing="weekly"),), {}, 'Line: the timing is "weekly". Choose one of "once at start"'),
        ((line(timing="every n years"),), {}, "Line: paid every None years"),
        ((line(timing="every n years", every_years=0),), {}, "Line: paid every 0 years"),
        ((line(every_years=2),), {}, 'every_years is 2 but the timing is "every year"'),
        ((line(depreciable=True),), {}, 'Only what is bought "once at start" can be depreciated'),
        ((line(inflation_share=-1.0),), {}, "inflation is -1"),
        ((line(), line()), {}, 'the id "a" is used 2 times'),
        ((), {}, "no cost line"),
        ((line(amount=np.ones(3)), line(id="b", amount=np.ones(4))), {}, "draws of the cost lines and terms differ"),
        ((machine(),), {"depreciation_shares": np.array([0.7, 0.7])}, "depreciation shares sum to 1.4"),
    ],
)
def test_what_has_no_meaning_is_refused_with_line_and_value(
    lines: tuple[CostLine, ...], wrong_terms: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        build_cash_flow(lines, terms(**wrong_terms))


def test_savings_over_different_horizons_are_refused() -> None:
    flows = [build_cash_flow((line(),), terms(horizon_years=years)) for years in (4, 5)]
    with pytest.raises(ValueError, match="candidate's horizon is 4 years, the reference's 5"):
        saving_per_year(flows[0], flows[1])


def test_each_row_has_its_own_present_cost() -> None:
    # numpy-financial: 100 at the end of each of six years, and 1000 now, at 10 %.
    flow = build_cash_flow((line(), line(id="b", timing="once at start", amount=1000.0)), terms())
    rows = present_cost_per_row(flow, 0.10)
    assert rows.shape == (2, 1)
    assert rows[:, 0] == pytest.approx([-numpy_financial.pv(0.10, 6, 100.0), 1000.0], rel=1e-12)


def test_what_is_paid_every_single_year_falls_away_only_in_the_year_of_retirement() -> None:
    assert paid(line(timing="every n years", every_years=1)) == [0, 100, 100, 100, 100, 100, 0]


def test_a_horizon_of_one_year_ends_what_begins_in_it() -> None:
    assert paid(line(timing="at end"), horizon_years=1) == [0, 100]
    flow = build_cash_flow((machine(),), terms(horizon_years=1, machine_life_years=1))
    assert flow.before_tax_cost[:, :, 0].tolist() == [[1000, 0], [0, -100]]
    # The books hold three quarters after the first of four years.
    assert flow.book_value_written_off[0, :, 0].tolist() == [0, 750]


def test_every_machine_is_sold() -> None:
    flow = build_cash_flow((machine(),), terms(machines=3))
    assert flow.before_tax_cost[:, [0, 6], 0].tolist() == [[3000, 0], [0, -300]]


def test_rows_carry_the_names_and_headings_of_their_lines() -> None:
    flow = build_cash_flow((machine(), line()), terms())
    assert flow.row_ids == ("price", "price.residual", "a")
    assert flow.row_names == ("Price", "Residual value: Price", "Line")
    assert flow.row_groups == ("Purchase", "Residual value", "Group")
    assert flow.years.tolist() == [0, 1, 2, 3, 4, 5, 6]


def test_draws_of_the_residual_value_alone_are_kept_apart() -> None:
    flow = build_cash_flow((machine(residual_amount=np.array([100.0, 200.0, 300.0])),), terms())
    assert flow.before_tax_cost[1, -1].tolist() == [-100.0, -200.0, -300.0]


def test_every_input_that_differs_by_draw_counts_in_its_own_draw_over_one_life() -> None:
    # Two draws that differ in life, amounts, inflation, machines, tax and rates, together and one by one.
    def one_life(pick: Any) -> Any:
        lines = (
            machine(amount=pick(1000.0, 1500.0), residual_amount=pick(100.0, 300.0), inflation_share=pick(0.02, 0.05)),
            line(amount=pick(50.0, 80.0), inflation_share=pick(0.01, 0.03)),
        )
        given = terms(machine_life_years=pick(2, 5), machines=pick(1.0, 2.0), tax_rate_share=pick(0.2, 0.4))
        return equivalent_annual_cost_of_one_life(lines, given, pick(0.08, 0.12), pick(0.02, 0.04))

    together = one_life(lambda first, second: np.array([first, second]))
    alone = [float(one_life(lambda *both, place=place: both[place])[0]) for place in (0, 1)]
    np.testing.assert_allclose(together, alone, rtol=1e-12)


@pytest.mark.parametrize(
    ("wrong_terms", "sentence"),
    [
        ({"tax_rate_share": 1.0}, r"^The tax rate is 1\. Give a share from 0 to below 1, for example 0\.3\.$"),
        ({"tax_rate_share": -0.1}, r"^The tax rate is -0\.1\. "),
        ({"machines": np.inf}, r"^The number of machines is inf\. Give 0 or more\.$"),
        ({"machine_life_years": 1.5}, r"^The machine life in years is 1\.5\. Give a whole number of years, at least 1"),
    ],
)
def test_terms_without_meaning_are_refused_with_the_whole_sentence(wrong_terms: Any, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        build_cash_flow((line(),), terms(**wrong_terms))


def test_what_a_schedule_leaves_in_the_books_is_written_off_at_the_sale_however_late() -> None:
    # A fifth of 1000 stays after two years and is written off when the machine is sold after six.
    flow = build_cash_flow((machine(),), terms(depreciation_shares=straight_line_shares(2, 0.2)))
    assert flow.depreciation[0, :, 0].tolist() == [0, 400, 400, 0, 0, 0, 0]
    assert flow.book_value_written_off[0, :, 0].tolist() == pytest.approx([0, 0, 0, 0, 0, 0, 200])
