"""Depreciation schedules: the share of the purchase price written off in each year of use."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# IRS Publication 946, Table A-1 (200 % declining balance, half-year convention), percent of the price; from memory.
# The printed figures are law: their rounding is uneven, so they must not be replaced by the formula.
MACRS_HALF_YEAR_PERCENT: dict[int, tuple[float, ...]] = {
    3: (33.33, 44.45, 14.81, 7.41),
    5: (20.00, 32.00, 19.20, 11.52, 11.52, 5.76),
    7: (14.29, 24.49, 17.49, 12.49, 8.93, 8.92, 8.93, 4.46),
    10: (10.00, 18.00, 14.40, 11.52, 9.22, 7.37, 6.55, 6.55, 6.56, 6.55, 3.28),
}


def straight_line_shares(years: int, residual_share: float = 0.0) -> FloatArray:
    """Return equal yearly shares of the price, a full year in the first year of use.

    Parameters
    ----------
    years : int
        Depreciation life [years], at least 1.
    residual_share : float
        Share of the price that stays in the books after the last year, 0 to 1.

    Returns
    -------
    ndarray, shape (years,)
        Share of the price written off in year 1, 2, … of use.

    Raises
    ------
    ValueError
        If `years` is not a whole number of at least 1, or `residual_share` is outside 0 to 1.

    Notes
    -----
    share = (1 − residual_share) / years. Neglected: part-year purchase (pro rata by month). Basis: common practice.

    Examples
    --------
    >>> straight_line_shares(4).tolist()
    [0.25, 0.25, 0.25, 0.25]
    """
    if years < 1 or years != int(years):
        raise ValueError(f"The depreciation life is {years:g} years. Give a whole number of years, at least 1.")
    if not 0.0 <= residual_share <= 1.0:
        raise ValueError(
            f"The residual share of the books is {residual_share:g}. Give a share of the price between 0 and 1."
        )
    return np.full(int(years), (1.0 - residual_share) / years)


def macrs_shares(class_years: int) -> FloatArray:
    """Return the yearly shares of the price of a US MACRS property class, half-year convention.

    Parameters
    ----------
    class_years : int
        Recovery period [years]: 3, 5, 7 or 10.

    Returns
    -------
    ndarray, shape (class_years + 1,)
        Share of the price written off in year 1, 2, … of use; the sum is 1.

    Raises
    ------
    ValueError
        If the class has no table here.

    Notes
    -----
    Printed table, not formula. Neglected: the mid-quarter convention (Tables A-2 to A-5), bonus depreciation and
    first-year expensing. Basis: from memory; have the tax adviser confirm the class and the year's law.

    References
    ----------
    IRS Publication 946, How to Depreciate Property, Table A-1.

    Examples
    --------
    >>> macrs_shares(5).round(4).tolist()
    [0.2, 0.32, 0.192, 0.1152, 0.1152, 0.0576]
    """
    if class_years not in MACRS_HALF_YEAR_PERCENT:
        known = ", ".join(str(years) for years in MACRS_HALF_YEAR_PERCENT)
        raise ValueError(f"There is no MACRS table for a class of {class_years} years. Choose one of: {known}.")
    return np.array(MACRS_HALF_YEAR_PERCENT[class_years]) / 100.0


def book_value_shares(yearly_shares: FloatArray) -> FloatArray:
    """Return the share of the price still in the books at the end of each year of use, year 0 first.

    Parameters
    ----------
    yearly_shares : ndarray, shape (years,)
        Share of the price written off in each year of use, none below 0, sum at most 1.

    Returns
    -------
    ndarray, shape (years + 1,)
        Book value ÷ price after 0, 1, … years. Rounding below 0 is cut to 0.

    Raises
    ------
    ValueError
        If a share is below 0 or not a number, or the shares sum to more than 1.

    Examples
    --------
    >>> book_value_shares(straight_line_shares(2)).tolist()
    [1.0, 0.5, 0.0]
    """
    shares = np.asarray(yearly_shares, dtype=np.float64)
    if shares.ndim != 1 or not np.all(np.isfinite(shares)) or np.any(shares < 0.0):
        raise ValueError(f"The depreciation shares are {shares.tolist()}. Give one share per year, none below 0.")
    total = float(shares.sum())
    if total > 1.0 + 1e-9:
        raise ValueError(f"The depreciation shares sum to {total:.6g}. They may sum to at most 1 (the whole price).")
    return np.maximum(1.0 - np.concatenate([[0.0], np.cumsum(shares)]), 0.0)
