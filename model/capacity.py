"""Machines needed and waiting: loads, machine time, availability, utilisation, queueing, belt throughput.

Times in seconds. Arrays have board types on the first axis where they differ by type and draws on the last.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from model.input_errors import UnphysicalInputError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """Loads a day of each board type."""

    loads_per_day: FloatArray
    """mean loads per day, shape (types, draws); a type's part of shared loads counts as a fraction."""
    fill_share: FloatArray
    """boards in the mean load ÷ boards that fit, shape (types, draws)."""


def _refuse(values: ArrayLike, wrong: ArrayLike, what: str, allowed: str) -> None:
    """Raise a sentence that names the first wrong value."""
    array, bad = np.broadcast_arrays(np.asarray(values, dtype=np.float64), np.asarray(wrong))
    if np.any(bad):
        raise UnphysicalInputError(f"{what} is {array[bad].flat[0]:g}. {allowed}")


def _above_zero(values: ArrayLike, what: str) -> FloatArray:
    """Return the values as an array, refusing zero, negative and non-finite ones."""
    array = np.asarray(values, dtype=np.float64)
    _refuse(array, ~np.isfinite(array) | (array <= 0.0), what, "Give a value above 0.")
    return array


def _not_below_zero(values: ArrayLike, what: str) -> FloatArray:
    """Return the values as an array, refusing negative and non-finite ones."""
    array = np.asarray(values, dtype=np.float64)
    _refuse(array, ~np.isfinite(array) | (array < 0.0), what, "Give 0 or more.")
    return array


def _share(values: ArrayLike, what: str) -> FloatArray:
    """Return the values as an array, refusing what is not above 0 and at most 1."""
    array = np.asarray(values, dtype=np.float64)
    _refuse(array, ~((array > 0.0) & (array <= 1.0)), what, "Give a share above 0 and up to 1.")
    return array


def loads_per_day(
    boards_per_day: ArrayLike, lot_size: ArrayLike, boards_that_fit: ArrayLike, *, types_may_share: bool = False
) -> Loads:
    """Return the loads a day that the board counts make, lot by lot.

    Parameters
    ----------
    boards_per_day : array_like, shape (types, draws)
        Boards per day of each type, not below 0.
    lot_size : array_like
        Boards that come to the machine together, above 0; broadcasts.
    boards_that_fit : array_like
        Boards of the type that fill one machine, at least 1; broadcasts. Only whole boards count.
    types_may_share : bool
        False: a lot is washed by itself, its last load runs part-filled. True: lots and types fill loads together.

    Returns
    -------
    Loads

    Raises
    ------
    ValueError
        If a count is negative, a lot size is 0 or below, or not one board fits.

    Notes
    -----
    Apart: loads = boards / lot · ⌈lot / fit⌉. Shared: loads = boards / fit, each type's part of full loads; waiting
    until a load is full is neglected. Exact counting, no model.

    Examples
    --------
    >>> loads_per_day(100.0, 25.0, 10.0).loads_per_day.tolist()
    12.0
    >>> loads_per_day(100.0, 25.0, 10.0, types_may_share=True).loads_per_day.tolist()
    10.0
    """
    boards = _not_below_zero(boards_per_day, "The number of boards per day")
    lot = _above_zero(lot_size, "The lot size")
    fit = np.floor(np.asarray(boards_that_fit, dtype=np.float64) + 1e-9)  # 9.999… is a rounded 10
    _refuse(boards_that_fit, ~(np.isfinite(fit) & (fit >= 1)), "The number of boards that fit", "At least 1 must fit.")
    if types_may_share:
        loads = boards / fit
        fill = np.ones_like(loads)
    else:
        loads_per_lot = np.ceil(lot / fit - 1e-9)
        loads = boards / lot * loads_per_lot
        fill = np.broadcast_to(lot / (loads_per_lot * fit), loads.shape)
    return Loads(loads_per_day=np.asarray(loads), fill_share=np.asarray(fill))


def machine_time_s_per_day(
    mean_loads_per_day: ArrayLike, cycle_s: ArrayLike, *, types_may_share: bool = False
) -> FloatArray:
    """Return the machine time per day that each board type needs.

    Parameters
    ----------
    mean_loads_per_day : array_like, shape (types, draws)
        Loads per day, not below 0.
    cycle_s : array_like, shape (types, draws)
        Time from door to door, loading included [s], above 0.
    types_may_share : bool
        True: a shared load runs the longest cycle of all types that are built in that draw.

    Returns
    -------
    ndarray, shape (types, draws)
        Seconds of machine time per day.

    Raises
    ------
    ValueError
        If a load count is negative or a cycle is 0 or below.
    """
    loads = _not_below_zero(mean_loads_per_day, "The number of loads per day")
    cycle = _above_zero(cycle_s, "The cycle time in seconds")
    if types_may_share:
        cycle = np.max(np.where(loads > 0.0, cycle, 0.0), axis=0, keepdims=True)
    return np.asarray(loads * cycle, dtype=np.float64)


def availability_share(mean_time_between_failures_s: ArrayLike, mean_time_to_repair_s: ArrayLike) -> FloatArray:
    """Return the share of the time in which a machine works: MTBF / (MTBF + MTTR).

    Any unit of time will do if it is the same for both: working time between failures (above 0), and time until it
    works again (0 or more).

    Examples
    --------
    >>> round(float(availability_share(500.0, 10.0)), 6)
    0.980392
    """
    between = _above_zero(mean_time_between_failures_s, "The mean time between failures")
    repair = _not_below_zero(mean_time_to_repair_s, "The mean time to repair")
    return np.asarray(between / (between + repair), dtype=np.float64)


def machines_needed(
    machine_time_needed_s_per_day: ArrayLike,
    working_time_s_per_day: ArrayLike,
    availability: ArrayLike = 1.0,
    highest_utilisation_share: ArrayLike = 1.0,
) -> IntArray:
    """Return the fewest machines that keep utilisation at or below a limit; 0 where there is nothing to wash.

    Parameters
    ----------
    machine_time_needed_s_per_day : array_like
        Machine time of all types together [s per day], not below 0.
    working_time_s_per_day : array_like
        Shift time in which machines may run [s per day], above 0.
    availability, highest_utilisation_share : array_like
        Shares above 0, at most 1. All broadcast with (draws,).

    Raises
    ------
    ValueError
        If a time is out of its limits or a share is not above 0 and at most 1.

    Notes
    -----
    ⌈needed / (working · availability · highest utilisation)⌉.
    """
    needed = _not_below_zero(machine_time_needed_s_per_day, "The machine time needed per day")
    working = _above_zero(working_time_s_per_day, "The working time per day")
    usable = working * _share(availability, "The availability")
    usable = usable * _share(highest_utilisation_share, "The highest utilisation")
    return np.asarray(np.ceil(needed / usable - 1e-9), dtype=np.int64)


def utilisation_share(
    machine_time_needed_s_per_day: ArrayLike,
    machines: ArrayLike,
    working_time_s_per_day: ArrayLike,
    availability: ArrayLike = 1.0,
) -> FloatArray:
    """Return machine time needed ÷ machine time available; above 1 the work cannot be done.

    Parameters and errors as in `machines_needed`; `machines` must be at least 1.
    """
    needed = _not_below_zero(machine_time_needed_s_per_day, "The machine time needed per day")
    working = _above_zero(working_time_s_per_day, "The working time per day")
    count = _above_zero(machines, "The number of machines")
    return np.asarray(needed / (count * working * _share(availability, "The availability")), dtype=np.float64)


def belt_boards_per_s(belt_speed_m_s: ArrayLike, boards_per_m: ArrayLike) -> FloatArray:
    """Return the throughput of an inline machine [boards/s]: belt speed [m/s] × boards per metre of belt [1/m].

    Both above 0. Boards side by side count together: two lanes of boards every .25 m are 8 boards per metre.

    Examples
    --------
    >>> round(float(belt_boards_per_s(0.01, 4.0)), 6)
    0.04
    """
    speed = _above_zero(belt_speed_m_s, "The belt speed in m/s")
    return np.asarray(speed * _above_zero(boards_per_m, "The number of boards per metre of belt"))


def service_moments(mean_loads_per_day: ArrayLike, cycle_s: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return the mean cycle [s] and its squared variation over the mix of board types.

    Parameters
    ----------
    mean_loads_per_day, cycle_s : array_like, shape (types, draws)
        Loads per day, not below 0 and not all 0; fixed cycle of each type [s], above 0.

    Returns
    -------
    mean_s, squared_variation : ndarray, shape (draws,)

    Raises
    ------
    ValueError
        If a draw has no load at all, or a value is out of its limits.
    """
    loads = _not_below_zero(mean_loads_per_day, "The number of loads per day")
    cycle = _above_zero(cycle_s, "The cycle time in seconds")
    weight = loads / _above_zero(loads.sum(axis=0), "The number of loads per day of all board types")
    mean = (weight * cycle).sum(axis=0)
    variance = (weight * (cycle - mean) ** 2).sum(axis=0)
    return np.asarray(mean, dtype=np.float64), np.asarray(variance / mean**2, dtype=np.float64)


def erlang_c(machines: ArrayLike, offered_load: ArrayLike) -> FloatArray:
    """Return the probability that an arriving load has to wait (random arrivals, random cycle times).

    Parameters
    ----------
    machines : array_like of whole numbers
        Equal machines in the group, at least 1.
    offered_load : array_like
        Arrival rate × mean cycle time [-], not below 0: the mean number of busy machines.

    Returns
    -------
    ndarray
        Share of loads that wait, 0 to 1; 1 where the offered load reaches the number of machines.

    Raises
    ------
    ValueError
        If a number of machines is not a whole number of at least 1, or a load is negative.

    Notes
    -----
    Erlang B by its recursion B_k = a B_{k−1} / (k + a B_{k−1}), B_0 = 1, which neither overflows nor cancels; then
    C = B / (1 − ρ (1 − B)), ρ = a / c. Basis: queueing textbooks.

    Examples
    --------
    >>> [round(float(erlang_c(*pair)), 6) for pair in ((2, 1.0), (3, 2.0), (5, 4.0))]
    [0.333333, 0.444444, 0.554113]
    """
    count = _above_zero(machines, "The number of machines")
    _refuse(count, count != np.floor(count), "The number of machines", "Give a whole number, at least 1.")
    count, load = np.broadcast_arrays(count, _not_below_zero(offered_load, "The offered load"))
    blocked = np.ones(count.shape)
    for k in range(1, int(count.max(initial=1.0)) + 1):
        blocked = np.where(k <= count, load * blocked / (k + load * blocked), blocked)
    stable = load < count
    utilisation = np.where(stable, load / count, 0.0)
    return np.asarray(np.where(stable, blocked / (1.0 - utilisation * (1.0 - blocked)), 1.0), dtype=np.float64)


def mean_waiting_s(
    arrivals_per_s: ArrayLike,
    mean_cycle_s: ArrayLike,
    machines: ArrayLike,
    arrival_squared_variation: ArrayLike = 1.0,
    cycle_squared_variation: ArrayLike = 1.0,
    *,
    regular_arrivals_corrected: bool = True,
) -> FloatArray:
    """Return the mean time a load waits before its cycle starts (Allen–Cunneen).

    Parameters
    ----------
    arrivals_per_s : array_like
        Loads that arrive per second of working time, not below 0.
    mean_cycle_s : array_like
        Mean time a load keeps a machine busy [s], above 0 (see `cycle_with_failures`).
    machines : array_like of whole numbers
        Equal machines, at least 1, with one queue.
    arrival_squared_variation, cycle_squared_variation : array_like
        Variance ÷ mean² of the time between arrivals and of the cycle [-], not below 0.
    regular_arrivals_corrected : bool
        False: Allen–Cunneen as it stands. True: with the correction below.

    Returns
    -------
    ndarray
        Seconds in the queue, cycle not included; inf where utilisation is 1 or more: the queue grows without end.

    Raises
    ------
    ValueError
        If a value is out of its limits.

    Notes
    -----
    W = (c_a² + c_s²)/2 · C(c, a) / (c/s − λ), s the mean cycle, a = λ s. Exact for random arrivals and cycles
    (M/M/c) and for one machine with random arrivals (M/G/1); otherwise an approximation, best near full load.
    Arrivals more regular than random (c_a² < 1) wait less: then W · exp(−2 (1 − ρ)(1 − c_a²)² / (3 ρ (c_a² + c_s²))).
    Error against our own simulation (1, 2 and 4 machines, 60–85 % load, gamma times, 1 000 000 loads a case): random
    arrivals up to 9 % too short; regular arrivals (c_a² .25 to .5) −15 to +34 % corrected, +4 to +173 % uncorrected.
    The largest errors are at low load and many machines, where the waiting is a small part of a cycle.
    Neglected: shift ends (the queue is taken as steady), priorities, loads arriving in bunches.

    References
    ----------
    A. O. Allen, Probability, Statistics and Queueing Theory, 1990, with J. Cunneen (from memory).
    W. Kraemer and M. Langenbach-Belz, 1976: the correction for regular arrivals (from memory).

    Examples
    --------
    >>> round(float(mean_waiting_s(0.8, 1.0, 1)), 9)  # M/M/1 at 80 %: 4 mean cycles
    4.0
    """
    arrivals = _not_below_zero(arrivals_per_s, "The number of loads arriving per second")
    cycle = _above_zero(mean_cycle_s, "The mean cycle time in seconds")
    count = _above_zero(machines, "The number of machines")
    variation_arrivals = _not_below_zero(arrival_squared_variation, "The squared variation of arrivals")
    variation_cycle = _not_below_zero(cycle_squared_variation, "The squared variation of the cycle")
    waits = erlang_c(count, arrivals * cycle)
    spare_per_s = count / cycle - arrivals
    stable = arrivals * cycle < count
    random_waiting = waits / np.where(stable, spare_per_s, 1.0)
    spread = variation_arrivals + variation_cycle
    waiting = 0.5 * spread * random_waiting
    if regular_arrivals_corrected:
        busy_share = arrivals * cycle / count
        regularity = np.maximum(1.0 - variation_arrivals, 0.0) ** 2
        scale = 3.0 * busy_share * spread
        # Without arrivals or without any spread the waiting is 0 already; the floor keeps the exponent finite.
        usable_scale = np.where(stable & (scale > 0.0), np.maximum(scale, 1e-9), np.inf)
        waiting = waiting * np.exp(-2.0 * (1.0 - busy_share) * regularity / usable_scale)
    return np.asarray(np.where(stable, waiting, np.inf), dtype=np.float64)


def cycle_with_failures(
    mean_cycle_s: ArrayLike,
    cycle_squared_variation: ArrayLike,
    mean_time_between_failures_s: ArrayLike,
    mean_time_to_repair_s: ArrayLike,
    repair_squared_variation: ArrayLike = 1.0,
) -> tuple[FloatArray, FloatArray]:
    """Return the mean time a load keeps a machine [s] and its squared variation when the machine fails at times.

    Parameters
    ----------
    mean_cycle_s, cycle_squared_variation : array_like
        Cycle without failures: mean [s], above 0; variance ÷ mean² [-], not below 0.
    mean_time_between_failures_s, mean_time_to_repair_s : array_like
        Working time between failures [s], above 0; repair [s], 0 or more.
    repair_squared_variation : array_like
        Variance ÷ mean² of the repair [-]; 1 is random.

    Returns
    -------
    mean_s, squared_variation : ndarray

    Raises
    ------
    ValueError
        If a value is out of its limits.

    Notes
    -----
    s' = s/A and c² = c₀² + (1 + c_r²) A (1 − A) r/s, A the availability and r the mean repair. The load stays in the
    machine during the repair and its cycle goes on afterwards; a cycle that must start anew takes longer. Failures
    come at random while washing.

    References
    ----------
    W. J. Hopp and M. L. Spearman, Factory Physics, chapter on variability (from memory).
    """
    cycle = _above_zero(mean_cycle_s, "The mean cycle time in seconds")
    variation = _not_below_zero(cycle_squared_variation, "The squared variation of the cycle")
    repair_variation = _not_below_zero(repair_squared_variation, "The squared variation of the repair")
    available = availability_share(mean_time_between_failures_s, mean_time_to_repair_s)
    repair_per_cycle = np.asarray(mean_time_to_repair_s, dtype=np.float64) / cycle
    added = (1.0 + repair_variation) * available * (1.0 - available) * repair_per_cycle
    return np.asarray(cycle / available, dtype=np.float64), np.asarray(variation + added, dtype=np.float64)
