"""The cost of one machine put together: lines, present and equivalent annual cost, cost of a board, medians.

Money is the plant's currency, after tax where nothing else is said. Running costs are at prices of year 0 and rise with
their group's inflation; totals are discounted with the plant's nominal rate. Terms follow IEC 60300-3-3.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from model.cash_flow import CashFlow, CashFlowTerms, CostLine, build_cash_flow
from model.cost_drivers import LINE_KINDS, CostDriver, with_medians
from model.cost_factors import LineFactors, line_factors
from model.cost_finance import CostFinance
from model.finance import capital_recovery_factor, real_rate
from model.uncertainty import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardAmounts:
    """What one board type adds to the cost of a machine."""

    boards_per_year: FloatArray
    """Boards per year, shape (draws,)."""
    area_m2: FloatArray
    """Both faces of one board, m², shape (draws,)."""
    shared_cost_share: FloatArray
    """Its part of what no board type causes alone: its part of the running time, shape (draws,)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CostStage:
    """Cost of one machine with all its copies."""

    drivers: tuple[CostDriver, ...]
    """Quantity × price, each part of one line."""
    lines: tuple[CostLine, ...]
    """Sums of the drivers, as `build_cash_flow` takes them; the amounts are those of all machines together."""
    terms: CashFlowTerms
    """Horizon, life, tax and depreciation."""
    finance: CostFinance
    """Rates behind them."""
    machines: float
    """Machines bought; 0 for a service and for doing nothing."""
    boards: dict[str, BoardAmounts]
    """Board types whose washing is counted."""
    factors: tuple[LineFactors, ...] = field(repr=False)
    """Present and yearly cost per unit of money, one per line."""
    line_present_cost: FloatArray
    """Money of year 0 after tax per line, sale of used machines taken off, shape (lines, draws)."""
    present_cost: FloatArray
    """Money of year 0 after tax, all lines, shape (draws,)."""
    equivalent_annual_cost: FloatArray
    """Level yearly money of year 0 after tax with the same present cost over the horizon, shape (draws,)."""
    initial_cost: FloatArray
    """Money paid at the start, before tax, shape (draws,)."""
    cost_per_board: FloatArray | None
    """Equivalent annual cost ÷ boards, shape (draws,); None where no board is built."""
    cost_per_board_type: dict[str, FloatArray]
    """The same by board type, shared lines by running time; types that are not built are left out."""
    cost_per_area: FloatArray | None
    """Equivalent annual cost ÷ area cleaned, both faces, money/m², shape (draws,); None where no board is built."""
    missing: dict[str, str]
    """Lines left out: name and one sentence why."""
    remarks: tuple[str, ...]
    """Sentences that the reader of the totals must see."""

    @property
    def total_name(self) -> str:
        """What the total is called: it names what it leaves out."""
        without = ", ".join(name[:1].lower() + name[1:] for name in self.missing)
        return f"Total without {without}" if without else "Total"

    @property
    def recovery_factor(self) -> FloatArray:
        """Equivalent annual cost per unit of present cost, per year, shape (draws,)."""
        return _recovery(self.finance)


def _recovery(finance: CostFinance) -> FloatArray:
    return capital_recovery_factor(real_rate(finance.discount_rate, finance.inflation), finance.horizon_years)


def assemble(
    drivers: tuple[CostDriver, ...], finance: CostFinance, machines: float, boards: dict[str, BoardAmounts],
    missing: dict[str, str],
) -> CostStage:  # fmt: skip
    """Put drivers together to lines and totals.

    Parameters
    ----------
    drivers : tuple of CostDriver
    finance : CostFinance
    machines : float
    boards : dict of board id to BoardAmounts
    missing : dict of name to sentence

    Returns
    -------
    CostStage

    Notes
    -----
    Present cost = Σ amount × factor of its line (see `line_factors`), the same to rounding as summing the table of
    `cash_flow_of`. Equivalent annual cost = present cost × capital recovery factor at the real rate (Fisher) over the
    horizon: level in money of year 0. Within the horizon worn-out machines are bought anew and unused life is sold.
    """
    draws = finance.tax_rate.size
    lines = _lines(drivers, finance)
    terms = CashFlowTerms(
        horizon_years=finance.horizon_years, machine_life_years=finance.life_years,
        depreciation_shares=finance.depreciation_shares, tax_rate_share=finance.tax_rate,
    )  # fmt: skip
    factors = line_factors(lines, terms, finance.discount_rate) if lines else ()
    present = np.zeros((len(lines), draws))
    for row, (line, factor) in enumerate(zip(lines, factors, strict=True)):
        present[row] = line.amount * factor.present
        if line.residual_amount is not None and factor.present_residual is not None:
            present[row] += line.residual_amount * factor.present_residual
    total = present.sum(axis=0)
    recovery = _recovery(finance)
    annual = total * recovery
    built = {name: one for name, one in boards.items() if float(one.boards_per_year.min()) > 0.0}
    count = np.sum([one.boards_per_year for one in built.values()], axis=0) if built else None
    area = np.sum([one.boards_per_year * one.area_m2 for one in built.values()], axis=0) if built else None
    remarks = finance.remarks
    if count is None:
        remarks = (*remarks, "No board that it washes is built, so there is no cost per board.")
    return CostStage(
        drivers=drivers, lines=lines, terms=terms, finance=finance, machines=machines, boards=boards, factors=factors,
        line_present_cost=present, present_cost=total, equivalent_annual_cost=annual,
        initial_cost=sum((np.asarray(line.amount) for line in lines if line.timing == "once at start"),
                         np.zeros(draws)),
        cost_per_board=None if count is None else annual / count,
        cost_per_board_type=_per_board_type(drivers, lines, factors, total, recovery, built),
        cost_per_area=None if area is None else annual / area, missing=dict(missing), remarks=remarks,
    )  # fmt: skip


def _lines(drivers: tuple[CostDriver, ...], finance: CostFinance) -> tuple[CostLine, ...]:
    amounts: dict[str, FloatArray] = {}
    for driver in drivers:
        amounts[driver.line_id] = amounts.get(driver.line_id, 0.0) + driver.amount
    return tuple(
        CostLine(
            id=line_id, name=kind.name, group=kind.group, timing=kind.timing, amount=amounts[line_id],
            inflation_share=finance.inflation_of(kind.group),
            depreciable=kind.depreciable and finance.capital_has_tax_effect,
            tax_deductible=finance.capital_has_tax_effect or not kind.depreciable, renewed_with_machine=kind.renewed,
            residual_amount=amounts[line_id] * finance.residual_share if line_id == "purchase" else None,
        )
        for line_id, kind in LINE_KINDS.items() if line_id in amounts
    )  # fmt: skip


def _per_board_type(
    drivers: tuple[CostDriver, ...], lines: tuple[CostLine, ...], factors: tuple[LineFactors, ...], total: FloatArray,
    recovery: FloatArray, built: dict[str, BoardAmounts],
) -> dict[str, FloatArray]:  # fmt: skip
    factor_of = {line.id: factor.present for line, factor in zip(lines, factors, strict=True)}
    direct = {name: np.zeros_like(total) for name in built}
    shared = total.copy()
    for driver in drivers:
        if driver.board_id:
            part = driver.amount * factor_of[driver.line_id]
            shared -= part
            if driver.board_id in direct:
                direct[driver.board_id] += part
    return {
        name: (direct[name] + shared * one.shared_cost_share) * recovery / one.boards_per_year
        for name, one in built.items()
    }


def cash_flow_of(stage: CostStage) -> CashFlow:
    """Give the yearly table of every line, for screens and the workbook; empty rows where nothing costs anything."""
    if stage.lines:
        return build_cash_flow(stage.lines, stage.terms)
    years = np.arange(stage.finance.horizon_years + 1, dtype=np.int64)
    nothing = np.zeros((0, years.size, stage.present_cost.size))
    return CashFlow(row_ids=(), row_names=(), row_groups=(), years=years, before_tax_cost=nothing, depreciation=nothing,
                    book_value_written_off=nothing, tax=nothing, after_tax_cost=nothing)  # fmt: skip


def yearly_cost(stage: CostStage) -> FloatArray:
    """Give the after-tax cost of each year [nominal money], shape (years, draws), without the table of every line."""
    draws = stage.present_cost.size
    total = np.zeros((stage.finance.horizon_years + 1, draws))
    for line, factor in zip(stage.lines, stage.factors, strict=True):
        total += line.amount * factor.yearly[:, factor.state]
        if line.residual_amount is not None and factor.yearly_residual is not None:
            total += line.residual_amount * factor.yearly_residual[:, factor.state]
    return total


def at_medians(stage: CostStage) -> CostStage:
    """Give the cost with one draw: the median of every quantity, price, life and rate.

    Notes
    -----
    This is the one column that the workbook holds and that cash-flow pictures show. It is a possible course of events,
    not the median of the totals: those two differ where costs are skewed.
    """

    def middle(values: FloatArray) -> FloatArray:
        return np.array([np.median(values)])

    finance = replace(
        stage.finance, life_years=np.array([int(np.median(stage.finance.life_years))], dtype=np.int64),
        tax_rate=middle(stage.finance.tax_rate), discount_rate=middle(stage.finance.discount_rate),
        inflation=middle(stage.finance.inflation), residual_share=middle(stage.finance.residual_share),
        inflation_by_group={name: middle(rate) for name, rate in stage.finance.inflation_by_group.items()},
    )  # fmt: skip
    boards = {
        name: BoardAmounts(boards_per_year=middle(one.boards_per_year), area_m2=middle(one.area_m2),
                           shared_cost_share=middle(one.shared_cost_share))
        for name, one in stage.boards.items()
    }  # fmt: skip
    return assemble(tuple(with_medians(driver) for driver in stage.drivers), finance, stage.machines, boards,
                    stage.missing)  # fmt: skip
