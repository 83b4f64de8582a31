"""Value functions: shape, limits, and the sentences that refuse bad input."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.value import ValueFunction, default_value_function

FINITE = st.floats(-1e6, 1e6)


@st.composite
def value_functions(draw: st.DrawFn) -> ValueFunction:
    measures = sorted(draw(st.sets(st.integers(-1000, 1000), min_size=2, max_size=6)))
    count = len(measures)
    values = sorted(draw(st.lists(st.floats(0.0, 1.0), min_size=count, max_size=count)))
    if draw(st.booleans()):
        values.reverse()
    return ValueFunction(points=tuple((float(x), v) for x, v in zip(measures, values, strict=True)))


def test_value_at_each_point_is_the_value_given() -> None:
    function = ValueFunction(points=((1.0, 0.0), (2.0, 0.8), (4.0, 1.0)))
    assert function.value([1.0, 2.0, 4.0]).tolist() == [0.0, 0.8, 1.0]


def test_value_between_points_is_on_the_straight_line() -> None:
    function = ValueFunction(points=((0.0, 1.0), (10.0, 0.5), (30.0, 0.0)))
    assert function.value([5.0, 20.0]) == pytest.approx([0.75, 0.25])


def test_value_outside_the_points_stays_at_the_end_value_even_at_infinity() -> None:
    function = ValueFunction(points=((0.0, 0.2), (1.0, 0.9)))
    assert function.value([-math.inf, -5.0, 7.0, math.inf]).tolist() == [0.2, 0.2, 0.9, 0.9]


def test_value_keeps_the_shape_of_the_measures() -> None:
    function = default_value_function(0.0, 1.0)
    assert function.value(np.zeros((4, 3))).shape == (4, 3)
    assert function.value(0.25).shape == ()
    assert function.value([]).shape == (0,)


@settings(deadline=None, max_examples=50)
@given(value_functions(), st.lists(FINITE, min_size=1, max_size=20))
def test_value_stays_between_0_and_1_and_is_monotone(function: ValueFunction, measures: list[float]) -> None:
    values = function.value(sorted(measures))
    assert (values >= 0.0).all()
    assert (values <= 1.0).all()
    steps = np.diff(values)
    if function.direction == "decreasing":
        steps = -steps
    # Interpolating on both sides of a point may disagree in the last digit.
    assert (steps >= -1e-12).all()


@settings(deadline=None, max_examples=50)
@given(value_functions(), st.floats(0.01, 100.0), FINITE)
def test_value_does_not_depend_on_the_unit_of_the_measure(
    function: ValueFunction, factor: float, measure: float
) -> None:
    rescaled = ValueFunction(points=tuple((x * factor, v) for x, v in function.points))
    assert rescaled.value(measure * factor) == pytest.approx(function.value(measure), abs=1e-9)


@pytest.mark.parametrize(
    ("points", "direction", "worst", "best"),
    [
        (((0.0, 0.0), (1.0, 0.0), (2.0, 1.0), (3.0, 1.0)), "increasing", 1.0, 2.0),
        (((0.0, 1.0), (1.0, 1.0), (2.0, 0.0), (3.0, 0.0)), "decreasing", 2.0, 1.0),
        (((0.0, 0.5), (3.0, 0.5)), "level", 3.0, 0.0),
    ],
)
def test_swing_runs_between_the_nearest_worst_and_best_measure(
    points: tuple[tuple[float, float], ...], direction: str, worst: float, best: float
) -> None:
    function = ValueFunction(points=points)
    assert (function.direction, function.worst_measure, function.best_measure) == (direction, worst, best)


@pytest.mark.parametrize(
    ("points", "message"),
    [
        (((0.0, 0.0),), "at least two points; 1 given"),
        (((0.0, 0.0, 1.0), (1.0, 1.0, 1.0)), "^Each point of a value function is a pair: a measure and its value.$"),
        (((0.0, 0.0), (math.nan, 1.0)), "^A value function's points must be finite numbers.$"),
        (((0.0, 0.0), (math.inf, 1.0)), "finite"),
        (((0.0, 0.0), (2.0, 0.5), (2.0, 1.0)), "point 3 is at 2 after 2"),
        (((1.0, 0.0), (0.0, 1.0)), "point 2 is at 0 after 1"),
        (((0.0, 0.0), (1.0, 1.5)), "The value at 1 is 1.5"),
        (((0.0, -0.1), (1.0, 1.0)), "The value at 0 is -0.1"),
        (((0.0, 0.0), (1.0, 1.0), (2.0, 0.5)), "^A value function must rise all the way or fall all the way; these"),
        (((0.0, 0.0), (5e-324, 1.0)), "^The measures of a value function are too close .* too far apart.$"),
        (((-1.7e308, 0.0), (1.7e308, 1.0)), "too close together or too far apart"),
    ],
)
def test_points_that_define_no_value_function_are_refused(
    points: tuple[tuple[float, float], ...], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        ValueFunction(points=points)


def test_a_measure_that_is_not_a_number_is_refused_with_the_count() -> None:
    sentence = r"^2 of 3 measures are not a number\. A value can only be given to a measure that has been computed\.$"
    with pytest.raises(ValueError, match=sentence):
        default_value_function(0.0, 1.0).value([math.nan, 0.5, math.nan])


def test_default_value_function_rises_or_falls_with_the_order_of_its_ends() -> None:
    assert default_value_function(worst=0.0, best=4.0).value([0.0, 1.0, 4.0]).tolist() == [0.0, 0.25, 1.0]
    assert default_value_function(worst=4.0, best=0.0).value([0.0, 1.0, 4.0]).tolist() == [1.0, 0.75, 0.0]


def test_default_value_function_refuses_equal_ends() -> None:
    with pytest.raises(ValueError, match="both 3"):
        default_value_function(3.0, 3.0)


@pytest.mark.parametrize(
    ("points", "near"),
    [(((2.15, 0.0), (2.53, 0.23), (6.95, 1.0)), 6.95), (((1.35, 1.0), (1.81, 0.38), (6.51, 0.0)), 6.51)],
)
def test_rounding_puts_no_value_outside_0_to_1(points: tuple[tuple[float, float], ...], near: float) -> None:
    # Interpolated plainly, the last number before the end is worth 1 + 2e-16, or −6e-17.
    assert 0.0 <= float(ValueFunction(points=points).value(np.nextafter(near, 0.0))) <= 1.0
