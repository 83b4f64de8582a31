"""Time value of money on arrays: present value, internal rate, payback, annuities.

One shape for every function: **years on the first axis**, year 0 (the start) first, year t at the end of year t;
draws on the axes after it. A flow is money *in* when positive. Rates are shares per year (0.1 is 10 %).
Definitions are those of engineering-economy textbooks; IEC 60300-3-3 uses the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class InternalRate:
    """All internal rates of return of one cash flow."""

    rates: tuple[float, ...]
    """share per year, ascending, each above -1; empty when there is none."""
    statement: str
    """one sentence for the reader: none, one or several, and why."""


def _rate(rate_share: ArrayLike, what: str = "discount rate") -> FloatArray:
    """Return the rate as an array, refusing what has no meaning (−100 % or less, not a number)."""
    rate = np.asarray(rate_share, dtype=np.float64)
    wrong = ~np.isfinite(rate) | (rate <= -1.0)
    if np.any(wrong):
        raise ValueError(f"The {what} is {rate[wrong].flat[0]:g}. Give a share per year above -1, for example 0.08.")
    return rate


def _years(years: ArrayLike) -> FloatArray:
    """Return the number of years as an array, refusing zero and negative lives."""
    life = np.asarray(years, dtype=np.float64)
    wrong = ~np.isfinite(life) | (life <= 0.0)
    if np.any(wrong):
        raise ValueError(f"The life is {life[wrong].flat[0]:g} years. Give a life above 0 years.")
    return life


def _flows(flows: ArrayLike) -> FloatArray:
    """Return the flows as an array with years first, refusing an empty one and anything not a number."""
    cash = np.asarray(flows, dtype=np.float64)
    if cash.ndim == 0 or cash.shape[0] == 0:
        raise ValueError("The cash flow has no years. Give at least the amount of year 0.")
    if not np.all(np.isfinite(cash)):
        raise ValueError(f"The cash flow holds {cash[~np.isfinite(cash)].flat[0]}. Give finite amounts only.")
    return cash


def discounted_flows(rate_share: ArrayLike, flows: ArrayLike) -> FloatArray:
    """Return each year's flow at its value in year 0: flow_t · (1 + rate)^−t.

    Parameters
    ----------
    rate_share : array_like
        Discount rate [share per year] above −1, scalar or (draws,).
    flows : array_like, shape (years,) or (years, draws)
        Money per year, year 0 first.

    Returns
    -------
    ndarray, shape (years, *broadcast of the rate with the draws)

    Raises
    ------
    ValueError
        If a rate is −1 or below or any value is not finite.
    """
    cash, rate = _flows(flows), _rate(rate_share)
    draw_axes = max(cash.ndim - 1, rate.ndim)
    cash = cash.reshape(cash.shape[0], *(1,) * (draw_axes - cash.ndim + 1), *cash.shape[1:])
    year = np.arange(cash.shape[0], dtype=np.float64).reshape(-1, *(1,) * draw_axes)
    # A negative power underflows to 0 at huge rates, where 1 / (1 + rate)^t would overflow.
    return np.asarray(cash * (1.0 + rate) ** -year, dtype=np.float64)


def npv(rate_share: ArrayLike, flows: ArrayLike) -> FloatArray:
    """Return the net present value of yearly flows, the first one undiscounted.

    Parameters and errors as in `discounted_flows`.

    Returns
    -------
    ndarray, shape of the draws
        Money of year 0.

    Examples
    --------
    >>> round(float(npv(0.10, [-100, 60, 60])), 3)
    4.132
    """
    return np.asarray(discounted_flows(rate_share, flows).sum(axis=0), dtype=np.float64)


def _sign_changes(flows: FloatArray) -> IntArray:
    """Count the changes of sign down the years, zeros skipped; shape of the draws."""
    changes = np.zeros(flows.shape[1:], dtype=np.int64)
    last = np.zeros(flows.shape[1:])
    for year_flow in flows:
        sign = np.sign(year_flow)
        changes += (sign * last) < 0
        last = np.where(sign != 0, sign, last)
    return changes


def _only_rate(flows: FloatArray) -> FloatArray:
    """Return the one internal rate of each column with exactly one change of sign, by bisection in ln(1 + rate)."""
    last_year = flows.shape[0] - 1
    year = np.arange(last_year + 1, dtype=np.float64)[:, None]
    first_sign = np.sign(flows[np.argmax(flows != 0, axis=0), np.arange(flows.shape[1])])
    # Growth over a year from e^-40 to e^40 holds every rate that a double can tell from -1 or that has a meaning.
    low, high = np.full(flows.shape[1], -40.0), np.full(flows.shape[1], 40.0)
    for _ in range(62):  # 80 / 2^62 is below the spacing of doubles
        middle = 0.5 * (low + high)
        # Scaled by the largest factor, so nothing overflows; only the sign matters. Early flows rule at high rates.
        value = (flows * np.exp(-year * middle - last_year * np.maximum(-middle, 0.0))).sum(axis=0)
        rate_too_low = np.sign(value) * first_sign < 0
        low, high = np.where(rate_too_low, middle, low), np.where(rate_too_low, high, middle)
    return np.asarray(np.expm1(0.5 * (low + high)), dtype=np.float64)


def _all_rates(flows: FloatArray) -> tuple[float, ...]:
    """Return every real rate above −1 with zero present value, from the roots of the polynomial in 1/(1 + rate)."""
    coefficients = flows[::-1] / np.abs(flows).max()  # highest power of x = 1 / (1 + rate) first
    slope = np.polyder(coefficients)
    found: list[float] = []
    for root in np.roots(coefficients):
        # A double root comes back as a pair with a small imaginary part: keep it if the residual agrees.
        if root.real <= 0.0 or abs(root.imag) > 1e-4 * abs(root):
            continue
        x = float(root.real)
        for _ in range(8):
            steepness = float(np.polyval(slope, x))
            step = float(np.polyval(coefficients, x)) / steepness if steepness else 0.0
            if abs(step) > 1e-2 * x:  # Newton has left the neighbourhood: not a simple root here
                break
            x -= step
            if abs(step) < 1e-15 * x:
                break
        size = float(np.polyval(np.abs(coefficients), x))
        is_root = abs(float(np.polyval(coefficients, x))) <= 1e-11 * size
        if is_root and not any(abs(x - other) <= 1e-6 * other for other in found):
            found.append(x)
    return tuple(sorted(1.0 / x - 1.0 for x in found))


def irr(flows: ArrayLike) -> InternalRate:
    """Return every internal rate of return of one cash flow and a sentence saying how many there are.

    Parameters
    ----------
    flows : array_like, shape (years,)
        Money per year, year 0 first, money in positive.

    Returns
    -------
    InternalRate

    Raises
    ------
    ValueError
        If the flow is empty, not one-dimensional or not finite.

    Notes
    -----
    NPV(rate) = 0 for rate > −1. With one change of sign there is exactly one rate (Descartes): bisection. With
    more, the roots of the polynomial in 1/(1 + rate) are found and polished; two rates closer than 1e-6 count as one.

    Examples
    --------
    >>> irr([-100, 60, 60]).statement
    'One internal rate: 13.07 % a year.'
    >>> irr([100, 10]).statement
    'There is no internal rate: the cash flow never changes sign.'
    """
    cash = _flows(flows)
    if cash.ndim != 1:
        raise ValueError(f"The cash flow has {cash.ndim} axes. Give one flow; use irr_per_draw for many.")
    changes = int(_sign_changes(cash))
    if not np.any(cash):
        return InternalRate(rates=(), statement="There is no internal rate: the cash flow is 0 in every year.")
    if changes == 0:
        return InternalRate(
            rates=(), statement="There is no internal rate: the cash flow never changes sign."
        )
    rates = (float(_only_rate(cash[:, None])[0]),) if changes == 1 else _all_rates(cash)
    listed = " and ".join(f"{100 * rate:.2f} %" for rate in rates)
    if not rates:
        statement = f"There is no internal rate: the sign changes {changes} times but no rate makes the value 0."
    elif len(rates) == 1:
        statement = f"One internal rate: {listed} a year."
    else:
        statement = f"{len(rates)} internal rates ({listed} a year): none of them ranks; use the present value."
    return InternalRate(rates=rates, statement=statement)


def irr_per_draw(flows: ArrayLike) -> tuple[FloatArray, IntArray]:
    """Return the internal rate of each draw where it is the only one, and the number of rates of each draw.

    Parameters
    ----------
    flows : array_like, shape (years, draws)
        Money per year, money in positive.

    Returns
    -------
    rate_share : ndarray, shape (draws,)
        Share per year; nan where there is none or more than one.
    count : ndarray of int, shape (draws,)
        Number of internal rates.

    Raises
    ------
    ValueError
        If the flows are not two-dimensional or not finite.
    """
    cash = _flows(flows)
    if cash.ndim != 2:
        raise ValueError(f"The cash flows have {cash.ndim} axes. Give years on the first and draws on the second.")
    changes = _sign_changes(cash)
    rate_share = np.full(cash.shape[1], np.nan)
    count = (changes == 1).astype(np.int64)
    rate_share[changes == 1] = _only_rate(cash[:, changes == 1])
    for draw in np.flatnonzero(changes > 1):
        rates = _all_rates(cash[:, draw])
        count[draw] = len(rates)
        if len(rates) == 1:
            rate_share[draw] = rates[0]
    return rate_share, count


def mirr(flows: ArrayLike, finance_rate_share: ArrayLike, reinvestment_rate_share: ArrayLike) -> FloatArray:
    """Return the modified internal rate of return [share per year]; nan where no flow is paid or none received.

    Parameters
    ----------
    flows : array_like, shape (years,) or (years, draws)
        Money per year, money in positive; at least two years.
    finance_rate_share, reinvestment_rate_share : array_like
        Rate paid on money out and rate earned on money in [share per year].

    Raises
    ------
    ValueError
        If there are fewer than two years, or a rate is −1 or below.

    Notes
    -----
    ((1 + r)^n · NPV_r(money in) / −NPV_f(money out))^(1/n) − 1 with n = years − 1.
    """
    cash, reinvestment = _flows(flows), _rate(reinvestment_rate_share, "reinvestment rate")
    last_year = cash.shape[0] - 1
    if last_year < 1:
        raise ValueError("The cash flow has 1 year. A modified internal rate needs at least 2.")
    earned = npv(reinvestment, np.maximum(cash, 0.0))
    paid = -npv(_rate(finance_rate_share, "finance rate"), np.minimum(cash, 0.0))
    defined = (earned > 0.0) & (paid > 0.0)
    ratio = np.where(defined, earned, np.nan) / np.where(defined, paid, np.nan)
    return np.asarray((1.0 + reinvestment) * ratio ** (1.0 / last_year) - 1.0, dtype=np.float64)


def payback_years(flows: ArrayLike, rate_share: ArrayLike = 0.0, *, lasting: bool = False) -> FloatArray:
    """Return the years until the summed flow is no longer negative; inf means never within the flow.

    Parameters
    ----------
    flows : array_like, shape (years,) or (years, draws)
        Money per year, money in positive.
    rate_share : array_like
        Discount rate [share per year]; 0 gives the plain payback, above 0 the discounted one.
    lasting : bool
        False: the first time. True: the time after which the sum never falls below 0 again (a replacement or an
        overhaul can undo an early payback).

    Returns
    -------
    ndarray, shape of the draws
        Years, interpolated evenly within the year; 0 where nothing has to be paid back.

    Raises
    ------
    ValueError
        As in `discounted_flows`.

    Examples
    --------
    >>> [round(float(payback_years([-10_000] + [4_000] * 4, rate)), 5) for rate in (0.0, 0.10)]
    [2.5, 3.01925]
    """
    summed = np.cumsum(discounted_flows(rate_share, flows), axis=0)
    # Rounding of the last cent must not turn "exactly paid back" into "never".
    tolerance = 1e-12 * np.abs(summed).max(axis=0)
    paid_back = summed >= -tolerance
    if lasting:
        paid_back = np.flip(np.logical_and.accumulate(np.flip(paid_back, axis=0), axis=0), axis=0)
    year = np.argmax(paid_back, axis=0)
    after = np.take_along_axis(summed, year[None], axis=0)[0]
    before = np.take_along_axis(summed, np.maximum(year - 1, 0)[None], axis=0)[0]
    gained = np.where(after > before, after - before, 1.0)
    interpolated = np.maximum(year - 1 + np.minimum(-before / gained, 1.0), 0.0)
    return np.asarray(np.where(~paid_back.any(axis=0), np.inf, np.where(year == 0, 0.0, interpolated)))


def capital_recovery_factor(rate_share: ArrayLike, years: ArrayLike) -> FloatArray:
    """Return the yearly payment at each year's end that repays 1 over a life.

    Parameters
    ----------
    rate_share, years : array_like
        Discount rate [share per year] above −1; life [years] above 0. They broadcast.

    Raises
    ------
    ValueError
        If a rate is −1 or below, or a life is 0 or below.

    Notes
    -----
    rate / (1 − (1 + rate)^−years); its limit 1/years at 0 %; tends to the rate when that is very high.

    Examples
    --------
    >>> [round(float(capital_recovery_factor(*pair)), 5) for pair in ((0.10, 5), (0.08, 10), (0.0, 4))]
    [0.2638, 0.14903, 0.25]
    """
    rate, life = np.broadcast_arrays(_rate(rate_share), _years(years))
    # Below 1e-300 the quotient would be 0/0; the limit is exact there to the last digit.
    level = np.abs(rate) < 1e-300
    safe_rate = np.where(level, 1.0, rate)
    factor = np.where(level, 1.0 / life, safe_rate / -np.expm1(-life * np.log1p(safe_rate)))
    return np.asarray(factor, dtype=np.float64)


def equivalent_annual_cost(present_cost: ArrayLike, rate_share: ArrayLike, years: ArrayLike) -> FloatArray:
    """Return the level yearly cost with the same present value: present cost × capital recovery factor.

    Parameters as in `capital_recovery_factor`; `present_cost` in money of year 0, scalar or (draws,).

    Notes
    -----
    Puts machines of unequal life on one footing if each is replaced by its like. With a nominal rate the level is in
    nominal money; with the `real_rate` it is in money of year 0, which is the right footing when prices rise.
    """
    return np.asarray(np.asarray(present_cost) * capital_recovery_factor(rate_share, years), dtype=np.float64)


def annuity_present_value(payment: ArrayLike, rate_share: ArrayLike, years: ArrayLike) -> FloatArray:
    """Return the value in year 0 of a level payment at each year's end: payment ÷ capital recovery factor."""
    return np.asarray(np.asarray(payment) / capital_recovery_factor(rate_share, years), dtype=np.float64)


def real_rate(nominal_rate_share: ArrayLike, inflation_share: ArrayLike) -> FloatArray:
    """Return the rate above inflation (Fisher): (1 + nominal) / (1 + inflation) − 1 [share per year].

    Examples
    --------
    >>> round(float(real_rate(0.10, 0.04)), 7)
    0.0576923
    """
    nominal, inflation = _rate(nominal_rate_share), _rate(inflation_share, "inflation")
    return np.asarray((nominal - inflation) / (1.0 + inflation), dtype=np.float64)


def nominal_rate(real_rate_share: ArrayLike, inflation_share: ArrayLike) -> FloatArray:
    """Return the rate with inflation in it (Fisher): (1 + real)(1 + inflation) − 1 [share per year]."""
    real, inflation = _rate(real_rate_share), _rate(inflation_share, "inflation")
    return np.asarray(real + inflation + real * inflation, dtype=np.float64)


def inflate(amount: ArrayLike, inflation_share: ArrayLike, year: ArrayLike) -> FloatArray:
    """Return an amount of year-0 money at the prices of a later year: amount · (1 + inflation)^year."""
    growth = (1.0 + _rate(inflation_share, "inflation")) ** np.asarray(year, dtype=np.float64)
    return np.asarray(np.asarray(amount) * growth, dtype=np.float64)
