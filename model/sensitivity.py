"""Which inputs drive an output: Sobol indices, indices from draws already made, and the tornado."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.stats import qmc

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]

JACKKNIFE_GROUPS = 20
"""Groups left out in turn for the standard error: a usual number, enough for an error known to about 15 %."""

ROUNDING_SHARE = 1e-12
"""A variance below this share of the mean square is rounding: the numbers are all the same."""

CORRELATION_STATEMENT = (
    "The inputs are taken as independent. "
    "Where two inputs move together, their shares overlap and do not add up."
)
"""For screens and documents: what every result of this module leaves out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SobolResult:
    """Sobol indices of one output."""

    first_order: FloatArray
    """Share of the output variance that each input explains alone, shape (inputs,)."""
    total: FloatArray
    """Share of the output variance that each input takes part in, shape (inputs,)."""
    first_order_low: FloatArray
    """Lower end of the bootstrap interval of `first_order`, share, shape (inputs,)."""
    first_order_high: FloatArray
    """Upper end of the bootstrap interval of `first_order`, share, shape (inputs,)."""
    total_low: FloatArray
    """Lower end of the bootstrap interval of `total`, share, shape (inputs,)."""
    total_high: FloatArray
    """Upper end of the bootstrap interval of `total`, share, shape (inputs,)."""
    evaluations: int
    """Number of evaluations of the function."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstOrderFromDraws:
    """First-order indices estimated from existing draws."""

    first_order: FloatArray
    """Share of the output variance that each input explains alone, shape (inputs,); can fall a little below
    0."""
    standard_error: FloatArray
    """Standard error of `first_order`, share, shape (inputs,)."""
    bins: int
    """Largest number of classes that an input was divided into."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tornado:
    """Mean output at the low and at the high end of each input."""

    output_at_low: FloatArray
    """Mean output, output units, over the draws with the lowest values of each input, shape (inputs,)."""
    output_at_high: FloatArray
    """Mean output, output units, over the draws with the highest values of each input, shape (inputs,)."""
    swing: FloatArray
    """`output_at_high` less `output_at_low`, output units, shape (inputs,)."""
    standard_error: FloatArray
    """Standard error of `swing`, output units, shape (inputs,)."""
    order: IntArray
    """Positions of the inputs from the largest absolute swing to the smallest, shape (inputs,)."""


def sobol_sensitivity(
    function: Callable[[FloatArray], FloatArray],
    distributions: Sequence[Any],
    *,
    samples: int = 4096,
    seed: int = 1,
    confidence: float = 0.95,
    resamples: int = 200,
) -> SobolResult:
    """Give first-order and total Sobol indices of a function of independent inputs.

    Parameters
    ----------
    function : callable
        Takes inputs of shape (inputs, n), gives outputs of shape (n,) for any n.
    distributions : sequence of frozen scipy distributions
        One for each input, each with a ``ppf`` method.
    samples : int
        Base samples, a power of 2; the function is evaluated samples × (inputs + 2) times.
    seed : int
        Seed of the scrambled Sobol sequence and of the bootstrap.
    confidence : float
        Level 0-1 of the bootstrap intervals.
    resamples : int
        Bootstrap resamples.

    Returns
    -------
    SobolResult
        Indices with bootstrap intervals; all 0 for a constant output.

    Raises
    ------
    ValueError
        Samples not a power of 2, no inputs, or an output that is not finite.

    Notes
    -----
    S_i = Var(E[Y|X_i]) / Var(Y); ST_i = E[Var(Y|X_~i)] / Var(Y). Estimators of Saltelli et al. 2010, equal to
    ``scipy.stats.sobol_indices``; intervals by resampling the rows (percentiles). Correlated inputs are not
    handled: see `CORRELATION_STATEMENT`.

    """
    count = len(distributions)
    if count == 0 or samples < 2 or samples & (samples - 1):
        raise ValueError(f"{samples} samples of {count} inputs: give a power of 2 and at least one input.")
    uniform = qmc.Sobol(2 * count, rng=np.random.default_rng(seed)).random(samples).T
    first = np.stack([np.asarray(d.ppf(uniform[i])) for i, d in enumerate(distributions)])
    second = np.stack([np.asarray(d.ppf(uniform[count + i])) for i, d in enumerate(distributions)])
    output_first, output_second = _outputs(function, first), _outputs(function, second)
    output_mixed = np.empty((count, samples))
    for i in range(count):
        mixed = first.copy()
        mixed[i] = second[i]
        output_mixed[i] = _outputs(function, mixed)
    evaluations = samples * (count + 2)
    if max(np.ptp(output_first), np.ptp(output_second)) == 0.0:
        # A constant output has no variance to divide.
        zero = np.zeros(count)
        return SobolResult(
            first_order=zero,
            total=zero,
            first_order_low=zero,
            first_order_high=zero,
            total_low=zero,
            total_high=zero,
            evaluations=evaluations,
        )
    # Centred, because the estimator loses digits when the mean is large against the spread.
    centre = 0.5 * (output_first.mean() + output_second.mean())
    output_first, output_second, output_mixed = (
        output_first - centre,
        output_second - centre,
        output_mixed - centre,
    )
    # scipy's own function gives the same numbers but cannot take a single input.
    even = np.full((1, samples), 1.0 / samples)
    first_order, total = _indices(even, output_first, output_second, output_mixed)
    counts = np.random.default_rng(seed).multinomial(samples, np.full(samples, 1.0 / samples), size=resamples)
    first_again, total_again = _indices(counts / samples, output_first, output_second, output_mixed)
    ends = [0.5 * (1.0 - confidence), 0.5 * (1.0 + confidence)]
    first_ends, total_ends = np.quantile(first_again, ends, axis=0), np.quantile(total_again, ends, axis=0)
    return SobolResult(
        first_order=first_order[0],
        total=total[0],
        first_order_low=first_ends[0],
        first_order_high=first_ends[1],
        total_low=total_ends[0],
        total_high=total_ends[1],
        evaluations=evaluations,
    )


def _outputs(function: Callable[[FloatArray], FloatArray], inputs: FloatArray) -> FloatArray:
    output = np.asarray(function(inputs), dtype=np.float64)
    if output.shape != inputs.shape[1:] or not np.isfinite(output).all():
        raise ValueError(
            "The output is not finite for some inputs, or not one number for each. Narrow the distributions."
        )
    return output


def _indices(
    share: FloatArray, first: FloatArray, second: FloatArray, mixed: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Both indices (resamples, inputs) with each sample counted by its share (resamples, samples)."""
    mean = 0.5 * share @ (first + second)
    variance = (0.5 * share @ (first**2 + second**2) - mean**2)[:, None]
    return share @ (second * (mixed - first)).T / variance, 0.5 * share @ ((first - mixed) ** 2).T / variance


def first_order_from_draws(
    inputs: FloatArray, output: FloatArray, *, bins: int | None = None
) -> FirstOrderFromDraws:
    """Estimate first-order indices from draws that were made anyway, without evaluating the model again.

    Parameters
    ----------
    inputs : ndarray, shape (draws, inputs)
        Drawn inputs in any units.
    output : ndarray, shape (draws,)
        Output of each draw in any unit.
    bins : int, optional
        Classes of equal count; the default is √draws, between 4 and 64.

    Returns
    -------
    FirstOrderFromDraws
        Indices and standard errors; 0 for a constant input or a constant output.

    Raises
    ------
    ValueError
        Shapes do not fit, fewer than 40 draws, or numbers that are not finite.

    Notes
    -----
    Correlation ratio between classes of equal count, η² = SS_between / SS_total, less what chance alone
    gives: ε² = 1 − (1 − η²)(N − 1)/(N − M), with N draws in M classes (Kelley 1935, from memory). Standard
    error by leaving out 20 groups of draws in turn. Variation inside a class is not seen, which takes about
    1/M² off a linear effect. Correlated inputs are not handled: see `CORRELATION_STATEMENT`. Total indices
    cannot be had this way.

    """
    table, result = _checked(inputs, output, 2 * JACKKNIFE_GROUPS)
    draws, count = table.shape
    wanted = bins if bins is not None else int(np.clip(round(draws**0.5), 4, 64))
    if wanted < 2 or wanted > draws // 2:
        raise ValueError(f"{wanted} classes for {draws} draws: give between 2 and {draws // 2}.")
    centred = result - result.mean()
    group = np.arange(draws) % JACKKNIFE_GROUPS
    index = np.zeros(count)
    error = np.zeros(count)
    most = 1
    for i in range(count if np.ptp(result) > 0.0 else 0):
        classes, number = _classes(table[:, i], wanted)
        if number == 1:
            continue
        most = max(most, number)
        cell = group * number + classes
        cells = JACKKNIFE_GROUPS * number
        shape = (JACKKNIFE_GROUPS, number)
        members = np.bincount(cell, minlength=cells).reshape(shape).astype(np.float64)
        sums = np.bincount(cell, weights=centred, minlength=cells).reshape(shape)
        squares = np.bincount(group, weights=centred**2, minlength=JACKKNIFE_GROUPS)
        index[i] = _correlation_ratio(members.sum(axis=0), sums.sum(axis=0), float(squares.sum()))
        left_out = np.empty(JACKKNIFE_GROUPS)
        for g in range(JACKKNIFE_GROUPS):
            # Summed anew: taking one group off the whole sum would leave its rounding where the others hardly vary.
            rest = np.arange(JACKKNIFE_GROUPS) != g
            left_out[g] = _correlation_ratio(
                members[rest].sum(axis=0), sums[rest].sum(axis=0), float(squares[rest].sum())
            )
        scatter = float(np.sum((left_out - left_out.mean()) ** 2))
        error[i] = np.sqrt((JACKKNIFE_GROUPS - 1) / JACKKNIFE_GROUPS * scatter)
    return FirstOrderFromDraws(first_order=index, standard_error=error, bins=most)


def tornado_from_draws(inputs: FloatArray, output: FloatArray, *, tail_share: float = 0.1) -> Tornado:
    """Give the swing of the output between the low and the high end of each input, from existing draws.

    Parameters
    ----------
    inputs : ndarray, shape (draws, inputs)
        Drawn inputs in any units.
    output : ndarray, shape (draws,)
        Output of each draw in any unit.
    tail_share : float
        Share of the draws at each end, above 0 and at most 0.5; 0.1 compares the lowest with the highest
        tenth.

    Returns
    -------
    Tornado
        Mean outputs, swings, standard errors and the order of the bars.

    Raises
    ------
    ValueError
        Shapes do not fit, fewer than 4 draws in a tail, or numbers that are not finite.

    Notes
    -----
    Ends: inputs at or below their `tail_share` quantile, and at or above its mirror image; so draws with
    equal inputs stay together. The other inputs vary as drawn, so the swing is that of a mean, not of
    one-at-a-time runs. A constant input swings by 0. Correlated inputs are not handled: see
    `CORRELATION_STATEMENT`.

    """
    if not 0.0 < tail_share <= 0.5:
        raise ValueError(f"A tail share of {tail_share:g} is outside 0 to 0.5. Give for example 0.1.")
    table, result = _checked(inputs, output, int(np.ceil(4.0 / tail_share)))
    count = table.shape[1]
    low, high, error = np.zeros(count), np.zeros(count), np.zeros(count)
    edges = np.quantile(table, [tail_share, 1.0 - tail_share], axis=0)
    for i in range(count):
        bottom = result[table[:, i] <= edges[0, i]]
        top = result[table[:, i] >= edges[1, i]]
        if np.ptp(table[:, i]) == 0.0:
            bottom = top = result
        low[i], high[i] = bottom.mean(), top.mean()
        error[i] = np.sqrt(_variance_of_mean(bottom) + _variance_of_mean(top))
    swing = high - low
    return Tornado(
        output_at_low=low,
        output_at_high=high,
        swing=swing,
        standard_error=error,
        order=np.argsort(-np.abs(swing), kind="stable"),
    )


def _variance_of_mean(sample: FloatArray) -> float:
    return float(sample.var(ddof=1) / sample.size) if sample.size > 1 else 0.0


def _checked(inputs: FloatArray, output: FloatArray, least: int) -> tuple[FloatArray, FloatArray]:
    table = np.asarray(inputs, dtype=np.float64)
    result = np.asarray(output, dtype=np.float64)
    if table.ndim != 2 or result.shape != (table.shape[0],):
        raise ValueError(f"Inputs have shape {table.shape}, output {result.shape}. Give one output a draw.")
    if table.shape[0] < least:
        raise ValueError(f"{table.shape[0]} draws are too few. Give at least {least}.")
    if not (np.isfinite(table).all() and np.isfinite(result).all()):
        raise ValueError("An input or output is not finite. Leave out such draws.")
    return table, result


def _classes(values: FloatArray, wanted: int) -> tuple[IntArray, int]:
    """Class of each value, equal values always together, and the number of classes."""
    distinct, member = np.unique(values, return_inverse=True)
    if distinct.size > wanted:
        edges = np.unique(np.quantile(values, np.arange(1, wanted) / wanted))
        member = np.searchsorted(edges, values, side="right")
        _, member = np.unique(member, return_inverse=True)
    member = member.reshape(-1)
    return member, int(member.max()) + 1


def _correlation_ratio(members: FloatArray, sums: FloatArray, squares: float) -> float:
    filled = members > 0.0
    number = float(members.sum())
    classes = int(filled.sum())
    mean_part = float(sums.sum()) ** 2 / number
    between = float(np.sum(sums[filled] ** 2 / members[filled])) - mean_part
    total = squares - mean_part
    if total <= ROUNDING_SHARE * squares or number <= classes:
        return 0.0
    return 1.0 - (1.0 - between / total) * (number - 1.0) / (number - classes)
