"""Cost per unit of money in a line: the same as the yearly table, whatever varies over the draws and what does not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from model.cash_flow import CashFlowTerms, CostLine, build_cash_flow, cost_per_year, present_cost
from model.cost_factors import line_factors
from model.depreciation import macrs_shares

DRAWS = 24


def same(value: float) -> Any:
    return np.full(DRAWS, value)


def terms(**changes: Any) -> CashFlowTerms:
    usual: dict[str, Any] = {"horizon_years": 7, "machine_life_years": np.full(DRAWS, 4), "tax_rate_share": same(0.3),
                             "depreciation_shares": macrs_shares(3)}  # fmt: skip
    return CashFlowTerms(**(usual | changes))


def lines(inflation: Any = None, **changes: Any) -> tuple[CostLine, ...]:
    shared = same(0.03) if inflation is None else inflation

    def line(line_id: str, timing: Any, **more: Any) -> CostLine:
        return CostLine(**({"id": line_id, "name": line_id, "group": "g", "timing": timing, "amount": same(700.0),
                            "inflation_share": shared} | more | changes))  # fmt: skip

    return (
        line("price", "once at start", depreciable=True, renewed_with_machine=True, residual_amount=same(90.0)),
        line("freight", "once at start", depreciable=True, renewed_with_machine=True),
        line("proof", "once at start", renewed_with_machine=True),
        line("teaching", "once at start"),
        line("running", "every year"),
        line("untaxed", "every year", tax_deductible=False),
        line("overhaul", "every n years", every_years=2),
        line("nozzles", "every n years", every_years=3),
        line("removal", "at end"),
        line("other rise", "every year", inflation_share=same(0.1)),
    )  # fmt: skip


def agree(all_lines: tuple[CostLine, ...], given: CashFlowTerms, rate: Any) -> None:
    factors = line_factors(all_lines, given, rate)
    assert len(factors) == len(all_lines)
    for line, factor in zip(all_lines, factors, strict=True):
        flow = build_cash_flow((line,), given)
        sold = 0.0 if line.residual_amount is None else line.residual_amount
        assert (factor.present_residual is None) == (line.residual_amount is None)
        present = line.amount * factor.present
        yearly = line.amount * factor.yearly[:, factor.state]
        if factor.present_residual is not None and factor.yearly_residual is not None:
            present = present + sold * factor.present_residual
            yearly = yearly + sold * factor.yearly_residual[:, factor.state]
        np.testing.assert_allclose(present, np.broadcast_to(present_cost(flow, rate), DRAWS), rtol=1e-12)
        np.testing.assert_allclose(yearly, np.broadcast_to(cost_per_year(flow), (8, DRAWS)), rtol=1e-12, atol=1e-9)


def random() -> np.random.Generator:
    return np.random.default_rng(11)


@pytest.mark.parametrize(
    ("given", "rate", "inflation"),
    [
        (terms(), same(0.08), None),
        (terms(machine_life_years=random().integers(1, 12, DRAWS)), same(0.08), None),
        (terms(tax_rate_share=random().uniform(0.1, 0.5, DRAWS)), same(0.08), None),
        (terms(), random().uniform(0.02, 0.2, DRAWS), None),
        (terms(), same(0.08), random().uniform(0.0, 0.2, DRAWS)),
        (terms(machine_life_years=random().integers(1, 12, DRAWS)), random().uniform(0.02, 0.2, DRAWS), None),
        # Two columns in steps: few states, some of them met several times.
        (terms(machine_life_years=random().integers(3, 6, DRAWS)), random().integers(1, 4, DRAWS) * 0.05, None),
        (terms(machine_life_years=3, tax_rate_share=0.3), same(0.08), None),
        # What is one number for all draws beside what varies.
        (terms(machine_life_years=random().integers(1, 12, DRAWS), tax_rate_share=0.3), same(0.08), 0.03),
        (terms(machine_life_years=4, tax_rate_share=0.3), random().uniform(0.02, 0.2, DRAWS), 0.03),
        (terms(plant_profitable=False), same(0.08), None),
    ],
)
def test_factors_give_what_the_table_of_each_line_gives(given: CashFlowTerms, rate: Any, inflation: Any) -> None:
    agree(lines(inflation), given, rate)


def test_draws_that_agree_in_all_terms_share_one_column() -> None:
    lives = np.array([3, 5] * (DRAWS // 2))
    factor = line_factors(lines(), terms(machine_life_years=lives), same(0.08))[0]
    assert factor.yearly.shape == (8, 2)
    assert factor.state.tolist() == [0, 1] * (DRAWS // 2)
    alike = line_factors(lines(), terms(), same(0.08))[0]
    assert alike.yearly.shape == (8, 1)


def test_two_stepped_terms_share_a_column_for_each_pair_that_is_met() -> None:
    lives, rates = np.tile([3, 5], DRAWS // 2), np.tile([0.05, 0.05, 0.1, 0.1], DRAWS // 4)
    factor = line_factors(lines(), terms(machine_life_years=lives), rates)[0]
    assert factor.yearly.shape == (8, 4)


def test_lines_of_one_kind_are_computed_once() -> None:
    one, *_ = lines()
    first, second = line_factors((one, replace(one, id="again", amount=same(3.0))), terms(), same(0.08))
    assert first is second


def test_two_draws_are_enough_to_differ() -> None:
    given = terms(machine_life_years=np.array([3, 5]), tax_rate_share=0.3)
    line = CostLine(id="price", name="Price", group="g", timing="once at start", amount=700.0,
                    renewed_with_machine=True)  # fmt: skip
    (factor,) = line_factors((line,), given, np.array([0.08, 0.12]))
    assert factor.state.tolist() == [0, 1]
    np.testing.assert_allclose(700.0 * factor.present, present_cost(build_cash_flow((line,), given), [0.08, 0.12]))
