"""Break-even price and volume, cost per unit: exactness, steps, none or several, error sentences."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.break_even import break_even_price, break_even_volume, cost_per_unit
from model.cash_flow import CashFlowTerms, CostLine, equivalent_annual_cost_of_one_life
from model.depreciation import straight_line_shares


def _annual_cost(price: float) -> float:
    lines = (
        CostLine(
            id="price", name="Price", group="Purchase", timing="once at start", amount=price, inflation_share=0.02,
            depreciable=True, per_machine=True, renewed_with_machine=True, residual_amount=0.1 * price,
        ),
        CostLine(id="water", name="Water", group="Running", timing="every year", amount=700.0, inflation_share=0.02),
    )
    terms = CashFlowTerms(
        horizon_years=1, machine_life_years=7, depreciation_shares=straight_line_shares(5), machines=2,
        tax_rate_share=0.3,
    )
    return float(equivalent_annual_cost_of_one_life(lines, terms, 0.09, 0.02)[0])


def test_at_the_break_even_price_the_candidate_costs_what_the_rival_costs_taxes_included() -> None:
    without_price, rival = _annual_cost(0.0), 30_000.0
    per_price = (_annual_cost(1000.0) - without_price) / 1000.0
    price = float(break_even_price(without_price, per_price, rival))
    assert _annual_cost(price) == pytest.approx(rival, rel=1e-10)


def test_a_negative_break_even_price_means_too_dear_even_as_a_gift() -> None:
    assert break_even_price(np.array([500.0, 100.0]), 0.2, 400.0).tolist() == [-500.0, 1500.0]


@settings(deadline=None, max_examples=50)
@given(fixed=st.floats(10.0, 1e5), per_board=st.floats(0.1, 10.0), dearer=st.floats(0.1, 10.0))
def test_break_even_volume_of_straight_lines_is_fixed_cost_over_saving(
    fixed: float, per_board: float, dearer: float
) -> None:
    found = break_even_volume(lambda n: fixed + per_board * n, lambda n: (per_board + dearer) * n, 0.5, 1e7)
    assert found.volumes == pytest.approx((fixed / dearer,), rel=1e-9)
    assert found.statement.startswith("The rival costs less below")


def test_no_crossing_names_the_cheaper_one() -> None:
    found = break_even_volume(lambda n: 10 + n, lambda n: 20 + n, 1, 100, candidate_name="belt", rival_name="bench")
    assert found.volumes == ()
    assert found.statement == "No break-even: belt costs less at every volume from 1 to 100 boards per year."


def test_equal_curves_are_said_to_be_equal() -> None:
    found = break_even_volume(lambda n: 5 * n, lambda n: 5 * n, 1, 100)
    assert found.volumes == ()
    assert found.statement.startswith("Both cost the same at every volume")


def test_several_crossings_are_all_found() -> None:
    found = break_even_volume(lambda n: 0.0, lambda n: (n - 100) * (n - 900) * (n - 4000), 1, 10_000)
    assert found.volumes == pytest.approx((100, 900, 4000), rel=1e-9)
    assert found.statement.startswith("3 break-even volumes, at 100 and 900 and 4 000 boards per year.")
    assert "the rival costs less" in found.statement


def test_a_crossing_at_a_step_is_found_at_the_step_and_said() -> None:
    # A second machine is needed above 1000 boards.
    found = break_even_volume(lambda n: 1000 * math.ceil(n / 1000), lambda n: 1500.0, 1, 1900)
    assert found.volumes == pytest.approx((1000,), rel=1e-9)
    assert "the cost jumps" in found.statement


def test_cost_per_unit_is_cost_over_volume() -> None:
    assert cost_per_unit([100.0, 300.0], 50.0).tolist() == [2.0, 6.0]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: cost_per_unit(10.0, 0.0), "volume is 0 boards per year. A cost per unit needs a volume above 0"),
        (lambda: cost_per_unit(10.0, [5.0, -2.0], "m²"), "volume is -2 m² per year"),
        (lambda: break_even_price(1.0, 0.0, 2.0), "changes the annual cost by 0"),
        (lambda: break_even_volume(lambda n: n, lambda n: 1.0, 0, 10), "lowest volume is 0 boards per year"),
        (lambda: break_even_volume(lambda n: n, lambda n: 1.0, 10, 10), "highest volume is 10 boards per year"),
        (lambda: break_even_volume(lambda n: math.inf, lambda n: 1.0, 1, 10), "cost at 1 boards per year is not"),
    ],
)
def test_what_has_no_meaning_is_refused_with_the_value(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=sentence):
        call()


def test_two_crossings_an_eighth_apart_are_both_found_and_with_few_points_missed() -> None:
    # 201 volumes from 1 to 10 000 are 4.7 % apart, 50 are 21 % apart and none of them lies between 880 and 1000.
    def parabola(n: float) -> float:
        return (n - 880.0) * (n - 1000.0)

    assert break_even_volume(parabola, lambda n: 0.0, 1, 10_000).volumes == pytest.approx((880, 1000), rel=1e-9)
    few = break_even_volume(parabola, lambda n: 0.0, 1, 10_000, scan_points=50)
    assert few.statement == "No break-even: the rival costs less at every volume from 1 to 10 000 boards per year."


@pytest.mark.parametrize("points", [0, 2])
def test_the_two_ends_alone_are_enough_for_one_crossing(points: int) -> None:
    found = break_even_volume(lambda n: 1000.0, lambda n: n, 10, 10_000, scan_points=points, unit="m²")
    assert found.volumes == pytest.approx((1000.0,), rel=1e-9)
    assert found.statement == "The rival costs less below 1 000 m² per year, the candidate above."


def test_the_limits_themselves_are_looked_at_and_nothing_beyond_them() -> None:
    seen: list[float] = []

    def cost(n: float) -> float:
        seen.append(n)
        return n

    break_even_volume(cost, lambda n: 0.0, 0.07, 12_345.678)
    assert (min(seen), max(seen)) == (0.07, 12_345.678)
    assert len(seen) == 201
    seen.clear()
    break_even_volume(cost, lambda n: 0.0, 0.07, 12_345.678, scan_points=2)
    assert seen == [0.07, 12_345.678]


def test_the_statement_of_several_crossings_and_of_a_step() -> None:
    found = break_even_volume(
        lambda n: (n - 20) * (n - 300), lambda n: 0.0, 1, 1000, candidate_name="A", rival_name="B"
    )
    assert found.statement == (
        "2 break-even volumes, at 20 and 300 boards per year. Below the first, B costs less; at each the cheaper one "
        "changes."
    )
    stepped = break_even_volume(
        lambda n: 1000 * math.ceil(n / 1000), lambda n: 1500.0, 1, 1900, candidate_name="belt", rival_name="bench"
    )
    assert stepped.statement == (
        "Belt costs less below 1 000 boards per year, bench above. At 1 of them the cost jumps (a step such as one "
        "more machine)."
    )


def test_curves_that_meet_without_crossing_have_no_break_even() -> None:
    # Equal from 100 to 1000, apart on both sides, always the same one dearer.
    found = break_even_volume(lambda n: max(0.0, 100.0 - n) + max(0.0, n - 1000.0), lambda n: 0.0, 1, 10_000)
    assert found.volumes == ()
    assert found.statement.startswith("No break-even: the rival costs less")


def test_curves_equal_over_a_stretch_cross_once() -> None:
    found = break_even_volume(lambda n: min(0.0, n - 100.0) + max(0.0, n - 1000.0), lambda n: 0.0, 1, 10_000)
    assert len(found.volumes) == 1
    assert 100.0 <= found.volumes[0] <= 1000.0


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: cost_per_unit(10.0, math.inf), "^The volume is inf boards per year"),
        (lambda: break_even_price(1.0, -0.2, 2.0), "^One more unit of money in the price .* by -0.2"),
        (lambda: break_even_price(1.0, [0.1, math.inf], 2.0), "changes the annual cost by inf"),
        (lambda: break_even_volume(lambda n: n, lambda n: 1.0, -1, 10), "^The lowest volume is -1 boards per year"),
        (lambda: break_even_volume(lambda n: n, lambda n: 1.0, math.inf, 10), "^The lowest volume is inf"),
        (lambda: break_even_volume(lambda n: n, lambda n: 1.0, 10, 9), "^The highest volume is 9 .* the lowest, 10.$"),
        (lambda: break_even_volume(lambda n: n, lambda n: 1.0, 1, math.inf), "^The highest volume is inf"),
        (lambda: break_even_volume(lambda n: 1.0, lambda n: math.nan, 2, 10), "^A cost at 2 .* Narrow the limits.$"),
    ],
)
def test_what_has_no_end_or_no_order_is_refused_with_the_value(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=sentence):
        call()


def test_a_gap_of_less_than_one_unit_of_money_is_a_gap() -> None:
    found = break_even_volume(lambda n: 0.5, lambda n: 0.001 * n, 1, 10_000)
    assert found.statement == "The rival costs less below 500 boards per year, the candidate above."


def test_a_cost_per_unit_exists_below_one_unit_a_year() -> None:
    assert float(cost_per_unit(10.0, 0.5)) == 20.0
