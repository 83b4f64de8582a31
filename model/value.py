"""Value functions: how much a measure is worth, on a scale from 0 (worst) to 1 (best)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class ValueFunction:
    """A piecewise-linear, monotone value function of one measure, held constant outside its end points.

    Parameters
    ----------
    points
        (measure, value) pairs; measures in the criterion's own unit and strictly increasing, values within
        0 to 1 and never turning back (all rising or all falling, level stretches allowed).

    Errors
    ------
    ValueError if there are fewer than two points, a number is not finite, the measures do not strictly
    increase, a value leaves 0 to 1, or the values both rise and fall.

    Notes
    -----
    Between two points v(x) = v_i + (v_{i+1} − v_i)(x − x_i)/(x_{i+1} − x_i); below the first point v = v_0,
    above the last v = v_n. A function level throughout is allowed: the criterion then tells no candidates
    apart. Neglected: curvature between the points; a measure with an optimum inside its range (too much is
    as bad as too little) is not monotone and cannot be described. Basis: common practice in additive
    multi-attribute value models, no single source.

    >>> ValueFunction(points=((1.0, 0.0), (2.0, 0.8), (4.0, 1.0))).value([0.0, 1.5, 3.0, 9.0]).tolist()
    [0.0, 0.4, 0.9, 1.0]

    """

    points: tuple[tuple[float, float], ...]
    """(measure in the criterion's unit, value 0-1) pairs, by increasing measure."""

    def __post_init__(self) -> None:
        """Refuse points that do not define a monotone function into 0 to 1."""
        if len(self.points) < 2:
            raise ValueError(f"A value function needs at least two points; {len(self.points)} given.")
        if any(len(point) != 2 for point in self.points):
            raise ValueError("Each point of a value function is a pair: a measure and its value.")
        table = np.asarray(self.points, dtype=np.float64)
        if not np.isfinite(table).all():
            raise ValueError("A value function's points must be finite numbers.")
        measures, values = table[:, 0], table[:, 1]
        # A span beyond the floating range, or a gap too small to divide by, would make a slope infinite.
        with np.errstate(over="ignore"):
            gaps = np.diff(measures)
            slopes_bounded = np.isfinite(gaps).all() and np.isfinite(1.0 / gaps[gaps > 0.0]).all()
        for position, gap in enumerate(gaps):
            if gap <= 0.0:
                raise ValueError(
                    f"The measures of a value function must strictly increase; point {position + 2} is at "
                    f"{measures[position + 1]:g} after {measures[position]:g}."
                )
        if not slopes_bounded:
            raise ValueError("The measures of a value function are too close together or too far apart.")
        for measure, value in self.points:
            if not 0.0 <= value <= 1.0:
                raise ValueError(
                    f"The value at {measure:g} is {value:g}. Values run from 0 (worst) to 1 (best)."
                )
        steps = np.diff(values)
        if (steps > 0.0).any() and (steps < 0.0).any():
            raise ValueError(
                "A value function must rise all the way or fall all the way; these points do both."
            )

    @property
    def direction(self) -> str:
        """Whether more of the measure is better: 'increasing', 'decreasing' or 'level'."""
        first, last = self.points[0][1], self.points[-1][1]
        if first == last:
            return "level"
        return "increasing" if last > first else "decreasing"

    @property
    def worst_measure(self) -> float:
        """The measure with the lowest value, in the criterion's unit; the one nearest the other end."""
        if self.direction == "decreasing":
            return next(measure for measure, value in self.points if value == self.points[-1][1])
        return next(measure for measure, value in reversed(self.points) if value == self.points[0][1])

    @property
    def best_measure(self) -> float:
        """The measure with the highest value, in the criterion's unit; the one nearest the other end."""
        if self.direction == "decreasing":
            return next(measure for measure, value in reversed(self.points) if value == self.points[0][1])
        return next(measure for measure, value in self.points if value == self.points[-1][1])

    def value(self, measure: ArrayLike) -> NDArray[np.float64]:
        """Value of each measure.

        Parameters
        ----------
        measure
            Measures in the criterion's own unit, any shape (a single number gives an array of no
            dimensions). Infinite measures take the value of that end.

        Returns
        -------
        Values within 0 to 1, same shape.

        Errors
        ------
        ValueError if a measure is not a number (NaN): a candidate whose measure cannot be computed must be
        shown as unknown, not given a value.

        """
        measures = np.asarray(measure, dtype=np.float64)
        if np.isnan(measures).any():
            raise ValueError(
                f"{int(np.isnan(measures).sum())} of {measures.size} measures are not a number. "
                "A value can only be given to a measure that has been computed."
            )
        table = np.asarray(self.points, dtype=np.float64)
        interpolated = np.interp(measures, table[:, 0], table[:, 1])
        # Interpolation may round past the end value by one part in 1e16.
        return np.asarray(np.clip(interpolated, table[:, 1].min(), table[:, 1].max()), dtype=np.float64)


def default_value_function(worst: float, best: float) -> ValueFunction:
    """Straight-line value function from 0 at the worst measure to 1 at the best.

    Parameters
    ----------
    worst, best
        Measures in the criterion's own unit; `worst` may be the larger number (cost, for example).

    Returns
    -------
    A two-point `ValueFunction`.

    Errors
    ------
    ValueError if the two are equal or not finite.

    Notes
    -----
    v = (x − worst)/(best − worst), held to 0 and 1 outside. A starting point for the user to edit: it
    supposes that every step of the measure is worth the same. Basis: common practice, no source.

    >>> default_value_function(worst=50_000.0, best=10_000.0).value([50_000.0, 20_000.0, 0.0]).tolist()
    [0.0, 0.75, 1.0]

    """
    if worst == best:
        raise ValueError(f"Worst and best are both {worst:g}; give two different measures.")
    if worst < best:
        return ValueFunction(points=((worst, 0.0), (best, 1.0)))
    return ValueFunction(points=((best, 1.0), (worst, 0.0)))
