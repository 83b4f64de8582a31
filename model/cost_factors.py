"""Present and yearly cost of one unit of money in each cost line, so that totals need no table of every line."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from model.cash_flow import CashFlowTerms, CostLine, build_cash_flow
from model.finance import npv
from model.uncertainty import FloatArray

IntArray = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFactors:
    """After-tax cost of one unit of money in a line and of one unit of its residual value."""

    present: FloatArray
    """Money of year 0 per unit of the line's amount, shape (draws,)."""
    present_residual: FloatArray | None
    """The same per unit of residual value at the end of life (not above 0), or None when nothing is sold."""
    yearly: FloatArray
    """Nominal money of each year per unit of amount, shape (years, states)."""
    yearly_residual: FloatArray | None
    """The same per unit of residual value, or None."""
    state: IntArray
    """Column of the yearly tables that belongs to each draw, shape (draws,)."""


def line_factors(
    lines: tuple[CostLine, ...], terms: CashFlowTerms, discount_rate_share: FloatArray
) -> tuple[LineFactors, ...]:
    """Give the factors of every line.

    Parameters
    ----------
    lines : tuple of CostLine
        Their amounts are not read; life, rates and inflation have shape (draws,).
    terms : CashFlowTerms
    discount_rate_share : ndarray (draws,)
        Nominal, share per year.

    Returns
    -------
    tuple of LineFactors
        In the order of the lines.

    Raises
    ------
    ValueError
        As in `build_cash_flow`.

    Notes
    -----
    The yearly cash flow is linear in amount and in residual value, so one line of amount 1 per kind of line holds all
    of it: present cost = amount · present + residual · present_residual. Draws that agree in life, tax, discount and
    inflation share one column, because machine lives are whole years. Lines of the same kind share one computation.
    """
    inflations = {id(line.inflation_share): np.asarray(line.inflation_share, dtype=np.float64) for line in lines}
    columns = [np.asarray(terms.machine_life_years, dtype=np.float64), np.asarray(terms.tax_rate_share),
               discount_rate_share, *inflations.values()]  # fmt: skip
    first, state = _states(columns)
    few = replace(
        terms, machine_life_years=_few(terms.machine_life_years, first).astype(np.int64),
        tax_rate_share=_few(terms.tax_rate_share, first),
    )  # fmt: skip
    rate = _few(discount_rate_share, first)
    known: dict[tuple[object, ...], LineFactors] = {}
    found = []
    for line in lines:
        sold = line.residual_amount is not None
        key = (line.timing, line.every_years, line.depreciable, line.tax_deductible, line.renewed_with_machine,
               id(line.inflation_share), sold)  # fmt: skip
        if key not in known:
            unit = replace(line, amount=1.0, inflation_share=_few(line.inflation_share, first),
                           residual_amount=0.0 if sold else None)  # fmt: skip
            yearly = _yearly(unit, few, first.size)
            residual = _yearly(replace(unit, amount=0.0, residual_amount=1.0), few, first.size) if sold else None
            known[key] = LineFactors(
                present=npv(rate, yearly)[state], yearly=yearly, state=state, yearly_residual=residual,
                present_residual=None if residual is None else npv(rate, residual)[state],
            )  # fmt: skip
        found.append(known[key])
    return tuple(found)


def _few(values: object, first: IntArray) -> FloatArray:
    array = np.atleast_1d(np.asarray(values, dtype=np.float64))
    return array[first] if array.size > 1 else np.full(first.size, array[0])


def _states(columns: list[FloatArray]) -> tuple[IntArray, IntArray]:
    """Find the distinct states over the draws: the first draw of each, and the state of each draw."""
    draws = max(column.size for column in columns)
    varying = [column for column in columns if column.size > 1 and column.min() != column.max()]
    if not varying:
        return np.zeros(1, dtype=np.intp), np.zeros(draws, dtype=np.intp)
    if len(varying) == 1:
        _, first, state = np.unique(varying[0], return_index=True, return_inverse=True)
    else:
        # Two or more columns that vary without steps leave hardly any draws alike: sorting them would gain nothing.
        distinct = [np.unique(column).size for column in varying]
        if max(distinct) > draws // 2:
            return np.arange(draws, dtype=np.intp), np.arange(draws, dtype=np.intp)
        _, first, state = np.unique(np.stack(varying), axis=1, return_index=True, return_inverse=True)
    return np.asarray(first, dtype=np.intp), np.asarray(state, dtype=np.intp).reshape(-1)


def _yearly(line: CostLine, terms: CashFlowTerms, states: int) -> FloatArray:
    if line.timing == "every year":
        # The most frequent kind, written out because the general table costs ten times as much.
        year = np.arange(int(terms.horizon_years) + 1, dtype=np.float64)[:, None]
        relief = np.asarray(terms.tax_rate_share) * float(terms.plant_profitable and line.tax_deductible)
        growth = (1.0 + np.asarray(line.inflation_share)) ** year
        return np.broadcast_to(growth * (1.0 - relief) * (year > 0), (year.size, states))
    return np.broadcast_to(
        build_cash_flow((line,), terms).after_tax_cost.sum(axis=0), (int(terms.horizon_years) + 1, states)
    )
