"""Yearly cash flow of cost lines: inflation, replacement, residual value, depreciation and tax.

Signs: a *cost* is positive, money received is negative, in every table here. Year 0 is the start; year t is the end of
the t-th year. Amounts are given at the prices of year 0; the tables hold nominal money (prices of their year).
Life-cycle terms follow IEC 60300-3-3; the tax treatment is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from model.depreciation import book_value_shares
from model.finance import discounted_flows, equivalent_annual_cost, inflate, npv, real_rate

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Timing = Literal["once at start", "every year", "every n years", "at end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    """One cost, as the controller would list it."""

    id: str
    """unique name of the row."""
    name: str
    """words for the reader."""
    group: str
    """heading under which the line is summed."""
    timing: Timing
    """when it is paid; "every n years" is at years n, 2n, … while the machine still has to work on."""
    amount: FloatArray | float
    """money at prices of year 0, scalar or (draws,), not below 0."""
    inflation_share: FloatArray | float = 0.0
    """price rise of this line [share per year], scalar or (draws,)."""
    every_years: int | None = None
    """n [years], for "every n years" only."""
    tax_deductible: bool = True
    """False: no tax effect at all."""
    depreciable: bool = False
    """True: deducted by depreciation over years instead of at once; for "once at start" only."""
    per_machine: bool = False
    """True: the amount is for one machine."""
    renewed_with_machine: bool = False
    """True: paid anew with every replacement of the machine (its price, freight); at each machine's end if "at end"."""
    residual_amount: FloatArray | float | None = None
    """what it sells for at the end of its life [money at prices of year 0]; None: nothing to sell at any age."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CashFlowTerms:
    """What holds for all lines."""

    horizon_years: int
    """whole years looked at, at least 1."""
    machine_life_years: IntArray | int
    """whole years until a machine is replaced, scalar or (draws,), at least 1."""
    depreciation_shares: FloatArray
    """share of the price written off in each year of use, shape (years of the schedule,); see model.depreciation."""
    machines: FloatArray | IntArray | float = 1
    """number of machines, scalar or (draws,), not below 0 (0: the work is bought in)."""
    tax_rate_share: FloatArray | float = 0.0
    """tax on profit, scalar or (draws,), 0 to below 1."""
    plant_profitable: bool = True
    """True: a cost lowers tax in its own year. False: no relief and no tax on sales (losses absorb both)."""
    value_unused_life: bool = True
    """True: a machine not worn out at the horizon sells for more, in proportion to its unused life."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CashFlow:
    """Rows × years × draws, nominal money, costs positive."""

    row_ids: tuple[str, ...]
    """one per row; sales carry the id of their line with ".residual" behind it."""
    row_names: tuple[str, ...]
    """words for the reader."""
    row_groups: tuple[str, ...]
    """heading of each row."""
    years: IntArray
    """0, 1, … horizon; shape (years,)."""
    before_tax_cost: FloatArray
    """money paid (negative: received), shape (rows, years, draws)."""
    depreciation: FloatArray
    """money written off by schedule, no cash, shape (rows, years, draws)."""
    book_value_written_off: FloatArray
    """money left in the books when the thing is sold or scrapped, no cash, shape (rows, years, draws)."""
    tax: FloatArray
    """tax paid because of the row (negative: tax saved), shape (rows, years, draws)."""
    after_tax_cost: FloatArray
    """before_tax_cost + tax, shape (rows, years, draws)."""


def _refuse(values: ArrayLike, wrong: ArrayLike, what: str, allowed: str) -> None:
    """Raise a sentence that names the first wrong value."""
    array, bad = np.broadcast_arrays(np.asarray(values), np.asarray(wrong))
    if np.any(bad):
        raise ValueError(f"{what} is {array[bad].flat[0]:g}. {allowed}")


def _check_terms(terms: CashFlowTerms) -> None:
    """Refuse terms that have no meaning."""
    for what, years in (("The horizon", terms.horizon_years), ("The machine life", terms.machine_life_years)):
        array = np.asarray(years, dtype=np.float64)
        wrong = ~np.isfinite(array) | (array < 1.0) | (array != np.floor(array))
        _refuse(array, wrong, f"{what} in years", "Give a whole number of years, at least 1.")
    machines = np.asarray(terms.machines, dtype=np.float64)
    _refuse(machines, ~np.isfinite(machines) | (machines < 0), "The number of machines", "Give 0 or more.")
    rate = np.asarray(terms.tax_rate_share, dtype=np.float64)
    _refuse(rate, ~((rate >= 0.0) & (rate < 1.0)), "The tax rate", "Give a share from 0 to below 1, for example 0.3.")


def _check_line(line: CostLine) -> None:
    """Refuse a line that has no meaning."""
    if line.timing not in get_args(Timing):
        allowed = ", ".join(f'"{timing}"' for timing in get_args(Timing))
        raise ValueError(f'{line.name}: the timing is "{line.timing}". Choose one of {allowed}.')
    residual = 0.0 if line.residual_amount is None else line.residual_amount
    for what, amount in (("the amount", line.amount), ("the residual value", residual)):
        array = np.asarray(amount, dtype=np.float64)
        wrong = ~np.isfinite(array) | (array < 0.0)
        _refuse(array, wrong, f"{line.name}: {what}", "Give an amount of money of 0 or more.")
    every = line.every_years
    if line.timing == "every n years" and (every is None or every < 1 or every != int(every)):
        raise ValueError(f"{line.name}: paid every {every} years. Give a whole number, at least 1.")
    if line.timing != "every n years" and line.every_years is not None:
        raise ValueError(f'{line.name}: every_years is {line.every_years} but the timing is "{line.timing}".')
    if line.timing != "once at start" and (line.depreciable or line.residual_amount is not None):
        raise ValueError(
            f'{line.name}: the timing is "{line.timing}". '
            'Only what is bought "once at start" can be depreciated or sold at the end.'
        )


def _residual(line: CostLine, terms: CashFlowTerms, used_share: FloatArray) -> FloatArray:
    """Return the sale price at prices of year 0 when a share of the life is used up: a straight line from the price."""
    at_end_of_life = np.asarray(line.residual_amount, dtype=np.float64)
    unused = 1.0 - used_share if terms.value_unused_life else np.zeros_like(used_share)
    return np.asarray(at_end_of_life + (np.asarray(line.amount) - at_end_of_life) * unused, dtype=np.float64)


def _line_rows(line: CostLine, terms: CashFlowTerms, draws: int) -> list[tuple[str, str, str, FloatArray]]:
    """Return the rows of one line: (id, name, group, four tables stacked: paid, depreciation, written off, tax)."""
    horizon = int(terms.horizon_years)
    year = np.arange(horizon + 1)[:, None]
    # What is not renewed with the machine stays until the horizon, as if its life were the horizon.
    life = np.atleast_1d(terms.machine_life_years if line.renewed_with_machine else horizon).astype(np.int64)
    before_horizon = year < horizon
    bought = (year % life == 0) & before_horizon
    retired = (year > 0) & ((year % life == 0) | ~before_horizon)
    age = np.where(year > 0, (year - 1) % life + 1, 0)  # at the end of the year, before any replacement

    paid_when: BoolArray
    if line.timing == "once at start":
        paid_when = bought
    elif line.timing == "every year":
        paid_when = year > 0
    elif line.timing == "every n years":
        paid_when = (age % (line.every_years or 1) == 0) & (year > 0) & ~retired
    else:
        paid_when = retired
    count = np.asarray(terms.machines, dtype=np.float64) if line.per_machine else np.float64(1.0)
    price = inflate(np.asarray(line.amount, dtype=np.float64) * count, line.inflation_share, year)
    price = np.broadcast_to(price, (horizon + 1, draws))
    paid = price * paid_when

    depreciation, written_off = np.zeros_like(paid), np.zeros_like(paid)
    if line.depreciable:
        shares = np.asarray(terms.depreciation_shares, dtype=np.float64)
        book_shares = book_value_shares(shares)
        beyond = max(horizon + 1 - shares.size, 0)  # after the schedule nothing more is written off
        shares, book_shares = np.pad(shares, (1, beyond)), np.pad(book_shares, (0, beyond), mode="edge")
        bought_in = np.broadcast_to(year - age, price.shape)
        price_when_bought = np.take_along_axis(price, bought_in, axis=0)
        depreciation = price_when_bought * shares[age]
        written_off = price_when_bought * book_shares[age] * retired
    rate = np.broadcast_to(np.asarray(terms.tax_rate_share, dtype=np.float64), (draws,))
    rate = rate * float(terms.plant_profitable and line.tax_deductible)
    deducted = depreciation + written_off if line.depreciable else paid
    rows = [(line.id, line.name, line.group, np.stack([paid, depreciation, written_off, -rate * deducted]))]
    if line.residual_amount is not None:
        sale = inflate(_residual(line, terms, age / life) * count, line.inflation_share, year) * retired
        nothing = np.zeros_like(paid)
        tables = np.stack([-sale, nothing, nothing, rate * sale])
        rows.append((f"{line.id}.residual", f"Residual value: {line.name}", "Residual value", tables))
    return rows


def build_cash_flow(lines: tuple[CostLine, ...], terms: CashFlowTerms) -> CashFlow:
    """Return the yearly cash flow of all lines over the horizon, before and after tax.

    Parameters
    ----------
    lines : tuple of CostLine
        At least one; ids differ.
    terms : CashFlowTerms
        Horizon, machine life, number of machines, tax and depreciation.

    Returns
    -------
    CashFlow
        One row per line and one per sale; rows add up to the totals exactly, there is no hidden row.

    Raises
    ------
    ValueError
        If a horizon, life, amount, rate, timing or schedule has no meaning; the sentence names line and value.

    Notes
    -----
    *Price*: amount · machines · (1 + inflation)^year; running costs of year t are paid at its end at the prices of t.
    *Replacement*: a machine is bought again at years L, 2L, … before the horizon, at the price of that year; the old
    one is sold in the same year. At the horizon all is sold. A machine aged a < L then sells for
    price − (price − residual) · a/L, at the prices of that year (or for the residual alone, see `value_unused_life`).
    "every n years" starts again with each machine if renewed with it, and falls away in the year of retirement.
    *Depreciation* starts the year after purchase, on the price paid. What the books still hold at the sale is written
    off then, so that tax on the sale falls on the gain, sale − book value. With US tables the law gives half a year's
    share in the year of sale; the rest goes into the gain, so the tax of that year is the same.
    *Tax*: costs lower the tax of a profitable plant in the same year (year 0 included) at one flat rate, and a sale
    is taxed. Neglected: investment credits, loss carry-over, value-added tax, tax on amounts before year 0.
    """
    _check_terms(terms)
    if not lines:
        raise ValueError("There is no cost line. Give at least one.")
    ids = [line.id for line in lines]
    for line in lines:
        _check_line(line)
        if ids.count(line.id) > 1:
            raise ValueError(f'{line.name}: the id "{line.id}" is used {ids.count(line.id)} times. Ids must differ.')
    per_draw: list[ArrayLike] = [terms.machine_life_years, terms.machines, terms.tax_rate_share]
    for line in lines:
        per_draw += [line.amount, line.inflation_share]
        per_draw += [] if line.residual_amount is None else [line.residual_amount]
    try:
        shape = np.broadcast_shapes((1,), *(np.shape(value) for value in per_draw))
    except ValueError as error:
        raise ValueError(f"The draws of the cost lines and terms differ in number: {error}.") from error
    rows = [row for line in lines for row in _line_rows(line, terms, shape[-1])]
    paid, depreciation, written_off, tax = np.stack([tables for *_, tables in rows], axis=1)
    return CashFlow(
        row_ids=tuple(row[0] for row in rows),
        row_names=tuple(row[1] for row in rows),
        row_groups=tuple(row[2] for row in rows),
        years=np.arange(int(terms.horizon_years) + 1, dtype=np.int64),
        before_tax_cost=paid,
        depreciation=depreciation,
        book_value_written_off=written_off,
        tax=tax,
        after_tax_cost=paid + tax,
    )


def cost_per_year(flow: CashFlow) -> FloatArray:
    """Return the after-tax cost of all rows in each year [nominal money], shape (years, draws)."""
    return np.asarray(flow.after_tax_cost.sum(axis=0), dtype=np.float64)


def cost_per_row(flow: CashFlow) -> FloatArray:
    """Return the after-tax cost of each row over all years [nominal money], shape (rows, draws)."""
    return np.asarray(flow.after_tax_cost.sum(axis=1), dtype=np.float64)


def present_cost_per_row(flow: CashFlow, discount_rate_share: ArrayLike) -> FloatArray:
    """Return the present value of each row's after-tax cost [money of year 0], shape (rows, draws).

    Divided by the amount of its line, a row gives the present cost per unit of price that
    `model.break_even.break_even_price` needs: rows are linear in their amount.
    """
    years_first = np.moveaxis(flow.after_tax_cost, 1, 0)
    return np.asarray(discounted_flows(discount_rate_share, years_first).sum(axis=0), dtype=np.float64)


def present_cost(flow: CashFlow, discount_rate_share: ArrayLike) -> FloatArray:
    """Return the present value of all after-tax cost at a nominal rate [money of year 0], shape (draws,)."""
    return npv(discount_rate_share, cost_per_year(flow))


def saving_per_year(candidate: CashFlow, reference: CashFlow) -> FloatArray:
    """Return the after-tax money a candidate saves against a reference in each year, shape (years, draws).

    Positive is money gained, as `model.finance` counts: its NPV, internal rate and payback are the investment's.

    Raises
    ------
    ValueError
        If the horizons differ.
    """
    if candidate.years.size != reference.years.size:
        raise ValueError(
            f"The candidate's horizon is {candidate.years[-1]} years, the reference's {reference.years[-1]}. "
            "Compare over the same horizon, or by equivalent annual cost."
        )
    return np.asarray(cost_per_year(reference) - cost_per_year(candidate), dtype=np.float64)


def equivalent_annual_cost_of_one_life(
    lines: tuple[CostLine, ...],
    terms: CashFlowTerms,
    discount_rate_share: ArrayLike,
    general_inflation_share: ArrayLike = 0.0,
) -> FloatArray:
    """Return the level yearly cost of one machine life, for comparing machines of unequal life.

    Parameters
    ----------
    lines, terms
        As in `build_cash_flow`; the horizon of the terms is not used, each draw runs for its own machine life.
    discount_rate_share : array_like
        Nominal discount rate [share per year], scalar or (draws,).
    general_inflation_share : array_like
        Rise of prices in general [share per year]; the result is level in money of year 0.

    Returns
    -------
    ndarray, shape (draws,)
        Money of year 0 per year.

    Raises
    ------
    ValueError
        As in `build_cash_flow`.

    Notes
    -----
    Present cost of one life × capital recovery factor at the real rate. Equal to the endless replacement chain if
    every line rises with general inflation and is renewed with the machine; lines that are not renewed (site work)
    are charged wholly to the one life.
    """
    _check_terms(terms)
    rate = real_rate(discount_rate_share, general_inflation_share)
    lives = np.atleast_1d(np.asarray(terms.machine_life_years, dtype=np.int64))
    if lives.size == 1:
        life = int(lives[0])
        one_life = replace(terms, horizon_years=life, machine_life_years=life)
        return equivalent_annual_cost(
            present_cost(build_cash_flow(lines, one_life), discount_rate_share), rate, life
        )
    result = np.empty(lives.size)
    for life in np.unique(lives):
        chosen = lives == life

        def of_chosen(value: ArrayLike, chosen: BoolArray = chosen) -> FloatArray:
            array = np.asarray(value, dtype=np.float64)
            if array.size not in (1, chosen.size):
                raise ValueError(f"The draws differ in number: {array.size} and {chosen.size} (machine lives).")
            return array[chosen] if array.size > 1 else array

        result[chosen] = equivalent_annual_cost_of_one_life(
            tuple(
                replace(
                    line,
                    amount=of_chosen(line.amount),
                    inflation_share=of_chosen(line.inflation_share),
                    residual_amount=None if line.residual_amount is None else of_chosen(line.residual_amount),
                )
                for line in lines
            ),
            replace(
                terms,
                machine_life_years=int(life),
                machines=of_chosen(terms.machines),
                tax_rate_share=of_chosen(terms.tax_rate_share),
            ),
            of_chosen(discount_rate_share),
            of_chosen(general_inflation_share),
        )
    return result
