"""Money mathematics against numpy-financial, interest tables, tax tables and engineering-economy lessons."""

from __future__ import annotations

import numpy as np
import numpy_financial
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.cash_flow import CashFlowTerms, CostLine, equivalent_annual_cost_of_one_life
from model.depreciation import MACRS_HALF_YEAR_PERCENT, macrs_shares, straight_line_shares
from model.finance import capital_recovery_factor, irr, irr_per_draw, mirr, npv, payback_years, real_rate

INVESTMENT = st.tuples(
    st.floats(100.0, 10_000.0), st.lists(st.floats(1.0, 5_000.0), min_size=1, max_size=15), st.floats(0.0, 2.0)
)


def test_npv_of_a_worked_example() -> None:
    # Computed with numpy-financial: 10 %, −100, 60, 60.
    assert float(npv(0.10, [-100, 60, 60])) == pytest.approx(4.132, abs=5e-4)


@settings(deadline=None, max_examples=50)
@given(investment=INVESTMENT)
def test_npv_irr_and_mirr_agree_with_numpy_financial(investment: tuple[float, list[float], float]) -> None:
    price, savings, rate = investment
    flows = np.array([-price, *savings])
    # Live comparison with numpy-financial, 1e-9 relative to the sum of the flows (NPV) or absolute (rates).
    assert float(npv(rate, flows)) == pytest.approx(numpy_financial.npv(rate, flows), abs=1e-9 * np.abs(flows).sum())
    theirs = numpy_financial.irr(flows)
    assert irr(flows).rates == pytest.approx((theirs,), rel=1e-9, abs=1e-9)
    assert float(irr_per_draw(flows[:, None])[0][0]) == pytest.approx(theirs, rel=1e-9, abs=1e-9)
    assert float(mirr(flows, rate, rate / 2)) == pytest.approx(
        numpy_financial.mirr(flows, rate, rate / 2), rel=1e-9, abs=1e-9
    )


def test_two_internal_rates_contain_the_one_that_numpy_financial_picks() -> None:
    flows = [-1000.0, 2350.0, -1375.0]  # 10 % and 25 %
    theirs = numpy_financial.irr(flows)
    assert min(abs(theirs - rate) for rate in irr(flows).rates) < 1e-9


@settings(deadline=None, max_examples=50)
@given(rate=st.floats(0.001, 10.0), years=st.integers(1, 40))
def test_capital_recovery_agrees_with_numpy_financial(rate: float, years: int) -> None:
    assert float(capital_recovery_factor(rate, years)) == pytest.approx(-numpy_financial.pmt(rate, years, 1), rel=1e-9)


# Engineering-economy interest tables (five printed decimals), derived independently from the formula.
@pytest.mark.parametrize(("rate", "years", "factor"), [(0.10, 5, 0.26380), (0.08, 10, 0.14903)])
def test_capital_recovery_factor_of_the_interest_tables(rate: float, years: int, factor: float) -> None:
    assert float(capital_recovery_factor(rate, years)) == pytest.approx(factor, abs=5e-6)


# IRS Publication 946, Table A-1, half-year convention; from memory.
@pytest.mark.parametrize(
    ("class_years", "percent"),
    [
        (3, [33.33, 44.45, 14.81, 7.41]),
        (5, [20, 32, 19.2, 11.52, 11.52, 5.76]),
        (7, [14.29, 24.49, 17.49, 12.49, 8.93, 8.92, 8.93, 4.46]),
        (10, [10, 18, 14.4, 11.52, 9.22, 7.37, 6.55, 6.55, 6.56, 6.55, 3.28]),
    ],
)
def test_macrs_table_from_memory(class_years: int, percent: list[float]) -> None:
    np.testing.assert_allclose(macrs_shares(class_years) * 100, percent, atol=1e-12)
    assert sum(percent) == pytest.approx(100.0, abs=1e-9)


@pytest.mark.parametrize("class_years", sorted(MACRS_HALF_YEAR_PERCENT))
def test_macrs_table_is_the_declining_balance_formula_within_its_rounding(class_years: int) -> None:
    # Derived independently: 200 % declining balance, half a year first, straight line once that is more. The printed
    # table rounds unevenly (7 years: 8.93, 8.92, 8.93), hence .011 of a percent.
    book, years_left, percent = 100.0, float(class_years), []
    for year in range(class_years + 1):
        part = 0.5 if year == 0 else min(1.0, years_left)
        written_off = min(book, max(book * 2 / class_years, book / max(years_left, part)) * part)
        percent.append(written_off)
        book -= written_off
        years_left -= part
    np.testing.assert_allclose(macrs_shares(class_years) * 100, percent, atol=0.011)


def test_seven_year_macrs_is_the_printed_table_not_the_formula() -> None:
    # IRS Publication 946, Table A-1: years 5 to 7 are 8.93, 8.92, 8.93, which no formula gives.
    assert (macrs_shares(7)[4:7] * 100).round(2).tolist() == [8.93, 8.92, 8.93]


def test_payback_and_discounted_payback_of_four_equal_savings() -> None:
    flows = [-10_000.0] + [4_000.0] * 4
    assert float(payback_years(flows)) == pytest.approx(2.5, rel=1e-12)
    # Derived independently: after three years 52.59 of 10 000 is missing, the fourth brings 2732.05.
    missing = -numpy_financial.npv(0.10, flows[:4])
    assert float(payback_years(flows, 0.10)) == pytest.approx(3 + missing / (4000 / 1.1**4), rel=1e-9)
    assert float(payback_years(flows, 0.10)) == pytest.approx(3.01925, rel=1e-5)


# Engineering-economy lesson on unequal lives, 10 %, no tax (its page misprints the first as 67.26).
@pytest.mark.parametrize(("price", "yearly", "life", "level"), [(100, 10, 2, 67.619), (140, 8, 3, 64.296)])
def test_equivalent_annual_cost_of_the_unequal_lives_lesson(
    price: float, yearly: float, life: int, level: float
) -> None:
    lines = (
        CostLine(
            id="price", name="Price", group="Purchase", timing="once at start", amount=price, depreciable=True,
            renewed_with_machine=True,
        ),
        CostLine(id="running", name="Running", group="Running", timing="every year", amount=yearly),
    )
    terms = CashFlowTerms(horizon_years=1, machine_life_years=life, depreciation_shares=straight_line_shares(life))
    assert float(equivalent_annual_cost_of_one_life(lines, terms, 0.10)[0]) == pytest.approx(level, abs=5e-4)


def test_fisher_real_rate_of_the_textbooks() -> None:
    # Textbooks: 10 % nominal, 4 % inflation.
    assert float(real_rate(0.10, 0.04)) == pytest.approx(0.0576923, rel=1e-6)
