"""Where two options cost the same: break-even purchase price, break-even volume, cost per unit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakEvenVolume:
    """The yearly volumes at which two options cost the same."""

    volumes: tuple[float, ...]
    """units per year, ascending; empty when the costs do not cross."""
    statement: str
    """one sentence for the reader: who costs less where."""


def cost_per_unit(annual_cost: ArrayLike, units_per_year: ArrayLike, unit: str = "boards") -> FloatArray:
    """Return the cost of one board (or one square metre cleaned): annual cost ÷ units per year.

    Parameters
    ----------
    annual_cost : array_like
        Money per year, scalar or (draws,).
    units_per_year : array_like
        Units per year, above 0.
    unit : str
        Name of the unit for the error sentence.

    Raises
    ------
    ValueError
        If a volume is 0 or below: the cost per unit has no meaning there.
    """
    volume = np.asarray(units_per_year, dtype=np.float64)
    wrong = ~np.isfinite(volume) | (volume <= 0.0)
    if np.any(wrong):
        raise ValueError(
            f"The volume is {volume[wrong].flat[0]:g} {unit} per year. A cost per unit needs a volume above 0."
        )
    return np.asarray(np.asarray(annual_cost) / volume, dtype=np.float64)


def break_even_price(
    annual_cost_without_price: ArrayLike, annual_cost_per_price: ArrayLike, rival_annual_cost: ArrayLike
) -> FloatArray:
    """Return the purchase price at which a candidate's equivalent annual cost equals a rival's.

    Parameters
    ----------
    annual_cost_without_price : array_like
        Candidate's equivalent annual cost if the machine were a gift [money per year].
    annual_cost_per_price : array_like
        Change of that cost for one more unit of money in the price [1/year], above 0. It holds the capital recovery
        factor, the tax relief by depreciation and the residual value as far as that moves with the price.
    rival_annual_cost : array_like
        Rival's equivalent annual cost [money per year]. All broadcast with (draws,).

    Returns
    -------
    ndarray
        Price [money of year 0]. Below 0: even as a gift the candidate costs more than the rival.

    Raises
    ------
    ValueError
        If the cost does not rise with the price.

    Notes
    -----
    The cost is linear in the price, so price = (rival − without price) / per price, exactly, draw by draw.

    Examples
    --------
    >>> float(break_even_price(400.0, 0.25, 900.0))
    2000.0
    """
    slope = np.asarray(annual_cost_per_price, dtype=np.float64)
    wrong = ~np.isfinite(slope) | (slope <= 0.0)
    if np.any(wrong):
        raise ValueError(
            f"One more unit of money in the price changes the annual cost by {slope[wrong].flat[0]:g}. "
            "A break-even price exists only if the cost rises with the price."
        )
    gap = np.asarray(rival_annual_cost, dtype=np.float64) - np.asarray(annual_cost_without_price, dtype=np.float64)
    return np.asarray(gap / slope, dtype=np.float64)


def break_even_volume(
    candidate_cost: Callable[[float], float],
    rival_cost: Callable[[float], float],
    lowest_volume: float,
    highest_volume: float,
    *,
    candidate_name: str = "the candidate",
    rival_name: str = "the rival",
    unit: str = "boards",
    scan_points: int = 201,
) -> BreakEvenVolume:
    """Return the yearly volumes between two limits at which two total-cost curves cross.

    Parameters
    ----------
    candidate_cost, rival_cost : callable
        Total cost [money per year] at a volume [units per year]; may hold steps (one machine more).
    lowest_volume, highest_volume : float
        Limits of the search [units per year], above 0.
    candidate_name, rival_name, unit : str
        Words for the statement.
    scan_points : int
        Volumes tried, evenly spaced on a logarithmic scale.

    Returns
    -------
    BreakEvenVolume

    Raises
    ------
    ValueError
        If a limit is 0 or below, the limits are in the wrong order, or a cost is not finite.

    Notes
    -----
    Each change of sign between neighbouring scan points is narrowed by Brent's method. Two crossings between the same
    neighbours are missed, and a volume where the curves touch without crossing is not reported. At a step the
    crossing is the volume of the step; the statement says so.

    Examples
    --------
    >>> break_even_volume(lambda n: 1000 + 2 * n, lambda n: 4 * n, 1, 10_000).statement
    'The rival costs less below 500 boards per year, the candidate above.'
    """
    if not 0.0 < lowest_volume < np.inf:
        raise ValueError(f"The lowest volume is {lowest_volume:g} {unit} per year. Give a volume above 0.")
    if not lowest_volume < highest_volume < np.inf:
        raise ValueError(
            f"The highest volume is {highest_volume:g} {unit} per year. "
            f"Give a volume above the lowest, {lowest_volume:g}."
        )

    def difference(volume: float) -> float:
        gap = float(candidate_cost(volume)) - float(rival_cost(volume))
        if not np.isfinite(gap):
            raise ValueError(f"A cost at {volume:g} {unit} per year is not a finite amount. Narrow the limits.")
        return gap

    scanned = np.geomspace(lowest_volume, highest_volume, max(scan_points, 2))
    scanned[0], scanned[-1] = lowest_volume, highest_volume  # the spacing must not step outside the limits
    gaps = np.array([difference(float(volume)) for volume in scanned])
    unequal = np.flatnonzero(gaps != 0.0)
    span = f"from {_count(lowest_volume)} to {_count(highest_volume)} {unit} per year"
    if unequal.size == 0:
        return BreakEvenVolume(volumes=(), statement=f"Both cost the same at every volume {span}.")

    volumes: list[float] = []
    steps = 0
    for left, right in pairwise(unequal):
        if gaps[left] * gaps[right] < 0.0:
            volume = float(brentq(difference, float(scanned[left]), float(scanned[right]), rtol=1e-12))
            volumes.append(volume)
            steps += abs(difference(volume)) > 1e-6 * abs(float(candidate_cost(volume)))
    names = (candidate_name, rival_name) if gaps[unequal[0]] < 0.0 else (rival_name, candidate_name)
    if not volumes:
        statement = f"No break-even: {names[0]} costs less at every volume {span}."
    elif len(volumes) == 1:
        statement = f"{names[0]} costs less below {_count(volumes[0])} {unit} per year, {names[1]} above."
    else:
        listed = " and ".join(_count(volume) for volume in volumes)
        statement = f"{len(volumes)} break-even volumes, at {listed} {unit} per year. "
        statement += f"Below the first, {names[0]} costs less; at each the cheaper one changes."
    if steps:
        statement += f" At {steps} of them the cost jumps (a step such as one more machine)."
    return BreakEvenVolume(volumes=tuple(volumes), statement=statement[0].upper() + statement[1:])


def _count(volume: float) -> str:
    return f"{volume:,.0f}".replace(",", " ")
