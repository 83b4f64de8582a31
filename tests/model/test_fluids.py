"""Behaviour of the liquid-water functions: shapes, trends, limits, errors."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model import fluids

liquid_K = st.floats(278.15, 373.15)
Property = Callable[[fluids.Values], fluids.Values]

FALLING: list[Property] = [
    fluids.water_density_kg_m3,
    fluids.water_viscosity_Pa_s,
    fluids.water_surface_tension_N_m,
    fluids.latent_heat_J_kg,
]
ALL: list[Property] = [*FALLING, fluids.water_saturation_pressure_Pa]


@pytest.mark.parametrize("water_property", ALL)
def test_a_float_gives_a_float_and_an_array_gives_the_same_values(water_property: Property) -> None:
    temperatures = np.array([[283.15, 313.15, 343.15], [293.15, 323.15, 353.15]])
    together = np.asarray(water_property(temperatures))
    assert together.shape == (2, 3)
    for index in np.ndindex(2, 3):
        alone = water_property(float(temperatures[index]))
        assert isinstance(alone, float)
        assert alone == pytest.approx(together[index], rel=1e-14)


@pytest.mark.parametrize("water_property", FALLING)
@given(first_K=liquid_K, second_K=liquid_K)
@settings(deadline=None, max_examples=50)
def test_density_viscosity_tension_and_latent_heat_fall_with_temperature(
    water_property: Property, first_K: float, second_K: float
) -> None:
    colder, hotter = min(first_K, second_K), max(first_K, second_K)
    if hotter - colder > 1e-3:
        assert water_property(hotter) < water_property(colder)


@given(first_K=liquid_K, second_K=liquid_K)
@settings(deadline=None, max_examples=50)
def test_saturation_pressure_rises_with_temperature(first_K: float, second_K: float) -> None:
    colder, hotter = min(first_K, second_K), max(first_K, second_K)
    if hotter - colder > 1e-6:
        assert fluids.water_saturation_pressure_Pa(hotter) > fluids.water_saturation_pressure_Pa(colder)


def test_density_has_its_maximum_near_four_celsius() -> None:
    celsius = np.linspace(0.0, 10.0, 1001)
    densities = np.asarray(fluids.water_density_kg_m3(celsius + 273.15))
    assert celsius[np.argmax(densities)] == pytest.approx(3.98, abs=0.02)


def test_surface_tension_vanishes_and_pressure_is_critical_at_the_critical_point() -> None:
    critical_K = fluids.CRITICAL_TEMPERATURE_K
    assert fluids.water_surface_tension_N_m(critical_K) == 0.0
    assert fluids.water_saturation_pressure_Pa(critical_K) == pytest.approx(fluids.CRITICAL_PRESSURE_PA)


def test_latent_heat_uses_the_true_slope_of_the_vapour_pressure() -> None:
    # Clapeyron with a numerical slope and ideal vapour: 2 % low or high at most below 60 °C, never a factor.
    temperature, step = 313.15, 1e-3
    high, low = (fluids.water_saturation_pressure_Pa(temperature + side) for side in (step, -step))
    pressure = fluids.water_saturation_pressure_Pa(temperature)
    ideal = 461.52 * temperature**2 * (high - low) / (2.0 * step) / pressure
    assert fluids.latent_heat_J_kg(temperature) == pytest.approx(ideal, rel=5e-3)


def test_viscosity_takes_the_given_density_and_broadcasts_it() -> None:
    own = fluids.water_viscosity_Pa_s(313.15, fluids.water_density_kg_m3(313.15))
    assert own == pytest.approx(fluids.water_viscosity_Pa_s(313.15), rel=1e-14)
    grid = fluids.water_viscosity_Pa_s(np.array([[293.15], [333.15]]), np.array([980.0, 990.0, 1000.0]))
    assert np.shape(grid) == (2, 3)
    # Water's anomaly: squeezing makes it thinner when cold and thicker when hot.
    cold, hot = np.diff(grid, axis=1)
    assert np.all(cold < 0.0)
    assert np.all(hot > 0.0)


@given(factor=st.floats(0.1, 10.0))
@settings(deadline=None, max_examples=50)
def test_diffusivity_doubles_when_viscosity_halves_and_grows_with_temperature(factor: float) -> None:
    slower = fluids.scale_diffusivity_m2_s(1e-9, 298.15, 298.15, 9e-4, 9e-4 * factor)
    assert slower == pytest.approx(1e-9 / factor, rel=1e-12)
    warmer = fluids.scale_diffusivity_m2_s(1e-9, 298.15, 298.15 * factor, 9e-4, 9e-4)
    assert warmer == pytest.approx(1e-9 * factor, rel=1e-12)


def test_diffusivity_carried_forth_and_back_is_unchanged() -> None:
    hot = fluids.scale_diffusivity_m2_s(7e-10, 298.15, 333.15, 8.9e-4, 4.66e-4)
    back = fluids.scale_diffusivity_m2_s(hot, 333.15, 298.15, 4.66e-4, 8.9e-4)
    assert back == pytest.approx(7e-10, rel=1e-12)


@pytest.mark.parametrize("water_property", ALL)
@pytest.mark.parametrize("temperature_K", [200.0, 700.0, -5.0, np.nan, np.inf])
def test_temperature_outside_the_range_is_refused_with_value_and_range(
    water_property: Property, temperature_K: float
) -> None:
    with pytest.raises(ValueError, match=r"water temperature: .* K is not allowed\. Give [\d.]+ to [\d.]+ K\."):
        water_property(np.array([300.0, temperature_K]))


def test_a_celsius_value_given_as_kelvin_is_refused() -> None:
    with pytest.raises(ValueError, match=r"water temperature: 60 K is not allowed\. Give 253\.15 to 383\.15 K\."):
        fluids.water_density_kg_m3(60.0)


@pytest.mark.parametrize("bad", [0.0, -1.0, np.nan, np.inf])
def test_density_and_diffusivity_arguments_must_be_above_zero(bad: float) -> None:
    with pytest.raises(ValueError, match=r"water density: .* kg/m³ is not allowed\. Give a finite value above 0\."):
        fluids.water_viscosity_Pa_s(300.0, bad)
    names = ["reference diffusivity", "reference temperature", "temperature", "reference viscosity", "viscosity"]
    for position, name in enumerate(names):
        arguments = [1e-9, 298.15, 333.15, 8.9e-4, 4.66e-4]
        arguments[position] = bad
        with pytest.raises(ValueError, match=rf"^{name}: .* is not allowed\. Give a finite value above 0\."):
            fluids.scale_diffusivity_m2_s(*arguments)


def test_argument_checks_name_the_first_offending_value() -> None:
    with pytest.raises(ValueError, match=r"^flow: -2 m³/s is not allowed\. Give a finite value, 0 or above\.$"):
        fluids.require_not_negative("flow", np.array([0.0, -2.0, -3.0]), "m³/s")
    with pytest.raises(ValueError, match=r"^share: 1\.5 x is not allowed\. Give 0 to 1 x\.$"):
        fluids.require_within("share", 1.5, 0.0, 1.0, "x")
    assert fluids.require_not_negative("flow", 0.0, "m³/s") == 0.0


def share_within(name: str, values: np.ndarray, unit: str) -> np.ndarray:
    return fluids.require_within(name, values, 0.0, 1.0, unit)


@pytest.mark.parametrize(
    ("check", "values", "met"),
    [
        (fluids.require_above_zero, [0.5, 1.0, -1.0], "-1"), (fluids.require_above_zero, [1.0, np.inf], "inf"),
        (fluids.require_above_zero, [[1.0, 2.0], [3.0, 0.0]], "0"), (fluids.require_above_zero, [2.0, np.nan], "nan"),
        (fluids.require_not_negative, [0.0, 0.5, -1.0], "-1"), (fluids.require_not_negative, [0.0, np.inf], "inf"),
        (fluids.require_not_negative, [[1.0, 2.0], [3.0, -4.0]], "-4"),
        (share_within, [0.0, 1.0, 1.5], "1.5"),
        (share_within, [[1.0, 0.0], [0.5, -2.0]], "-2"),
    ],
)  # fmt: skip
def test_the_value_named_is_the_one_that_offends_in_arrays_of_any_shape(
    check: Callable[[str, np.ndarray, str], np.ndarray], values: list[float], met: str
) -> None:
    with pytest.raises(ValueError, match=rf"^length: {met} m is not allowed\. Give "):
        check("length", np.array(values), "m")


def test_arrays_of_any_shape_that_are_in_order_come_back_as_they_are() -> None:
    square, empty = np.array([[1.0, 0.5], [0.25, 1.0]]), np.zeros((2, 0))
    for values in (square, empty):
        np.testing.assert_array_equal(fluids.require_above_zero("length", values, "m"), values)
        np.testing.assert_array_equal(fluids.require_not_negative("length", values, "m"), values)
        np.testing.assert_array_equal(fluids.require_within("share", values, 0.0, 1.0, ""), values)
