"""Decay, relaxation and margins in decades: scaling, limits, error sentences."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.esd import decades_below, decay_time_s, relaxation_time_s, resistance_class


@settings(deadline=None, max_examples=50)
@given(resistance=st.floats(1, 1e13), capacitance=st.floats(1e-12, 1e-9), factor=st.floats(1, 100))
def test_decay_scales_with_resistance_and_capacitance(resistance: float, capacitance: float, factor: float) -> None:
    base = decay_time_s(resistance, capacitance, 1000.0, 100.0)
    assert decay_time_s(resistance * factor, capacitance, 1000.0, 100.0) == pytest.approx(base * factor)
    assert decay_time_s(resistance, capacitance * factor, 1000.0, 100.0) == pytest.approx(base * factor)


def test_a_body_that_starts_below_the_end_voltage_needs_no_time() -> None:
    times = decay_time_s(1e9, 1e-11, np.array([50.0, 100.0, 1000.0]), 100.0)
    np.testing.assert_allclose(times, [0.0, 0.0, 1e-2 * np.log(10.0)])


@settings(deadline=None, max_examples=50)
@given(conductivity=st.floats(1e-13, 1e-3), permittivity=st.floats(1, 80))
def test_relaxation_slows_with_permittivity_and_quickens_with_conductivity(
    conductivity: float, permittivity: float
) -> None:
    base = relaxation_time_s(permittivity, conductivity)
    assert relaxation_time_s(2 * permittivity, 2 * conductivity) == pytest.approx(base)
    assert relaxation_time_s(permittivity, 2 * conductivity) < base


def test_decades_below_a_limit_are_signed_and_capped() -> None:
    values = np.array([1e5, 1e8, 1e9, 1e10, 1e20, 0.0])
    np.testing.assert_allclose(decades_below(values, 1e9, 3.0), [3.0, 1.0, 0.0, -1.0, -3.0, 3.0])


def test_errors_name_the_value_and_what_is_allowed() -> None:
    with pytest.raises(ValueError, match="end voltage: 0 V is not allowed"):
        decay_time_s(1.0, 1.0, 10.0, 0.0)
    with pytest.raises(ValueError, match="conductivity: 0 S/m is not allowed"):
        relaxation_time_s(2.0, 0.0)
    with pytest.raises(ValueError, match="resistance: -1 Ω is not allowed"):
        resistance_class(-1.0)
    with pytest.raises(ValueError, match="cap: 0 decades is not allowed"):
        decades_below(np.ones(2), 1.0, 0.0)
