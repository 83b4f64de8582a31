"""Behaviour of the moist-air functions: order of temperatures, saturation, dry air, shapes, errors."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model import moist_air
from model.fluids import water_saturation_pressure_Pa

PRESSURE_PA = 101325.0
air_K = st.floats(283.15, 363.15)
share = st.floats(0.02, 0.98)


@given(temperature_K=air_K, humidity=share)
@settings(deadline=None, max_examples=50)
def test_dew_point_is_below_wet_bulb_is_below_dry_bulb(temperature_K: float, humidity: float) -> None:
    dew = moist_air.dew_point_K(temperature_K, humidity, PRESSURE_PA)
    wet = moist_air.wet_bulb_K(temperature_K, humidity, PRESSURE_PA)
    assert dew < wet < temperature_K


@given(temperature_K=air_K)
@settings(deadline=None, max_examples=50)
def test_saturated_air_has_all_three_temperatures_equal(temperature_K: float) -> None:
    dew = moist_air.dew_point_K(temperature_K, 1.0, PRESSURE_PA)
    wet = moist_air.wet_bulb_K(temperature_K, 1.0, PRESSURE_PA)
    assert dew == pytest.approx(temperature_K, abs=1e-6)
    assert wet == pytest.approx(temperature_K, abs=1e-6)


@given(temperature_K=air_K, first=share, second=share)
@settings(deadline=None, max_examples=50)
def test_more_humid_air_is_wetter_lighter_and_has_a_higher_wet_bulb(
    temperature_K: float, first: float, second: float
) -> None:
    drier, damper = min(first, second), max(first, second)
    if damper - drier < 1e-4:
        return
    for rising in (moist_air.humidity_ratio, moist_air.wet_bulb_K, moist_air.dew_point_K):
        assert rising(temperature_K, damper, PRESSURE_PA) > rising(temperature_K, drier, PRESSURE_PA)
    light = moist_air.moist_air_density_kg_m3(temperature_K, damper, PRESSURE_PA)
    assert light < moist_air.moist_air_density_kg_m3(temperature_K, drier, PRESSURE_PA)


@given(temperature_K=air_K, humidity=share)
@settings(deadline=None, max_examples=50)
def test_vapour_pressure_at_the_dew_point_is_that_of_the_air(temperature_K: float, humidity: float) -> None:
    dew = moist_air.dew_point_K(temperature_K, humidity, PRESSURE_PA)
    in_air = humidity * water_saturation_pressure_Pa(temperature_K)
    assert moist_air.saturation_vapour_pressure_Pa(dew) == pytest.approx(in_air, rel=1e-8)


@given(temperature_K=air_K, humidity=share)
@settings(deadline=None, max_examples=50)
def test_wet_bulb_closes_its_heat_balance(temperature_K: float, humidity: float) -> None:
    dry_C = temperature_K - 273.15
    wet_C = moist_air.wet_bulb_K(temperature_K, humidity, PRESSURE_PA) - 273.15
    if wet_C < 0.01:
        return
    ratio = moist_air.humidity_ratio(temperature_K, humidity, PRESSURE_PA)
    saturated = moist_air.humidity_ratio(wet_C + 273.15, 1.0, PRESSURE_PA)
    gained = (2501.0 - 2.326 * wet_C) * saturated - 1.006 * (dry_C - wet_C)
    assert gained == pytest.approx(ratio * (2501.0 + 1.86 * dry_C - 4.186 * wet_C), rel=1e-6)


def test_wet_bulb_stays_below_boiling_in_air_hotter_than_boiling() -> None:
    wet = np.asarray(moist_air.wet_bulb_K(np.array([373.15, 423.15, 473.15]), 0.01, PRESSURE_PA))
    assert np.all(np.isfinite(wet))
    assert np.all(np.diff(wet) > 0.0)
    assert np.all(wet < 373.15)


def test_dry_air_has_no_vapour_and_the_ideal_gas_density() -> None:
    assert moist_air.humidity_ratio(333.15, 0.0, PRESSURE_PA) == 0.0
    density = moist_air.moist_air_density_kg_m3(333.15, 0.0, PRESSURE_PA)
    assert density == pytest.approx(PRESSURE_PA / (287.042 * 333.15), rel=1e-12)


def test_saturation_pressure_joins_ice_and_water_at_the_triple_point() -> None:
    ice, water = (moist_air.saturation_vapour_pressure_Pa(273.16 + side) for side in (-1e-6, 1e-6))
    assert ice == pytest.approx(water, rel=1e-5)
    assert moist_air.saturation_vapour_pressure_Pa(253.15) < water_saturation_pressure_Pa(273.15)


@given(factor=st.floats(0.05, 5.0))
@settings(deadline=None, max_examples=50)
def test_diffusivity_is_inverse_to_pressure_and_lewis_number_does_not_depend_on_it(factor: float) -> None:
    ambient = moist_air.vapour_diffusivity_m2_s(333.15, PRESSURE_PA)
    assert moist_air.vapour_diffusivity_m2_s(333.15, factor * PRESSURE_PA) == pytest.approx(ambient / factor)
    lewis = moist_air.lewis_number(333.15, PRESSURE_PA)
    assert moist_air.lewis_number(333.15, factor * PRESSURE_PA) == pytest.approx(lewis)


def test_lewis_number_of_warm_air_lies_between_point_eight_and_one() -> None:
    lewis = np.asarray(moist_air.lewis_number(np.linspace(283.15, 393.15, 12), PRESSURE_PA))
    assert np.all((lewis > 0.8) & (lewis < 1.0))


def test_heat_capacity_runs_from_air_to_vapour() -> None:
    assert moist_air.moist_air_heat_capacity_J_kg_K(0.0) == 1006.0
    assert moist_air.moist_air_heat_capacity_J_kg_K(100.0) == pytest.approx(1860.0, rel=1e-2)
    assert moist_air.moist_air_heat_capacity_J_kg_K(1.0) == pytest.approx((1006.0 + 1860.0) / 2.0)


def test_arrays_broadcast_and_floats_stay_floats() -> None:
    temperatures, humidities = np.array([[293.15], [333.15]]), np.array([0.1, 0.5, 0.9])
    for state in (
        moist_air.humidity_ratio,
        moist_air.wet_bulb_K,
        moist_air.dew_point_K,
        moist_air.moist_air_density_kg_m3,
    ):
        grid = np.asarray(state(temperatures, humidities, PRESSURE_PA))
        assert grid.shape == (2, 3)
        alone = state(333.15, 0.5, PRESSURE_PA)
        assert isinstance(alone, float)
        assert alone == pytest.approx(grid[1, 1], rel=1e-12)


def test_a_pressure_with_draws_alone_sets_the_shape() -> None:
    pressures = np.linspace(9e4, 1.05e5, 512)
    assert np.shape(moist_air.wet_bulb_K(333.15, 0.1, pressures)) == (512,)
    assert np.shape(moist_air.dew_point_K(333.15, 0.1, pressures)) == (512,)


@pytest.mark.parametrize("humidity", [-0.1, 1.01, 50.0, np.nan])
def test_humidity_must_be_a_share(humidity: float) -> None:
    with pytest.raises(ValueError, match=r"relative humidity: .* is not allowed\. Give 0 to 1 \(share\)\."):
        moist_air.humidity_ratio(298.15, humidity, PRESSURE_PA)


def test_vapour_above_total_pressure_is_refused() -> None:
    with pytest.raises(ValueError, match="not below the total pressure"):
        moist_air.humidity_ratio(400.0, 1.0, PRESSURE_PA)


def test_dew_point_of_perfectly_dry_air_is_refused() -> None:
    sentence = "relative humidity: the air is too dry to have a frost point above 173.15 K. Give a humidity above 0."
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        moist_air.dew_point_K(298.15, 0.0, PRESSURE_PA)


@pytest.mark.parametrize("temperature_K", [25.0, 900.0, np.nan])
def test_temperature_outside_the_range_is_refused(temperature_K: float) -> None:
    calls = [
        lambda: moist_air.saturation_vapour_pressure_Pa(temperature_K),
        lambda: moist_air.vapour_diffusivity_m2_s(temperature_K, PRESSURE_PA),
        lambda: moist_air.wet_bulb_K(temperature_K, 0.5, PRESSURE_PA),
        lambda: moist_air.air_viscosity_Pa_s(temperature_K),
        lambda: moist_air.air_conductivity_W_m_K(temperature_K),
        lambda: moist_air.lewis_number(temperature_K, PRESSURE_PA),
    ]
    for call in calls:
        with pytest.raises(ValueError, match=r"air temperature: .* K is not allowed\."):
            call()


@pytest.mark.parametrize("pressure_Pa", [0.0, -1.0, np.nan])
def test_pressure_must_be_above_zero(pressure_Pa: float) -> None:
    with pytest.raises(ValueError, match=r"air pressure: .* Pa is not allowed\. Give a finite value above 0\."):
        moist_air.vapour_diffusivity_m2_s(298.15, pressure_Pa)
    with pytest.raises(ValueError, match="air pressure"):
        moist_air.wet_bulb_K(298.15, 0.5, pressure_Pa)


@settings(deadline=None, max_examples=50)
@given(temperature_K=st.floats(253.15, 285.0), humidity=st.floats(0.0, 0.99))
def test_wet_bulb_under_ice_closes_the_balance_for_ice(temperature_K: float, humidity: float) -> None:
    # ASHRAE Fundamentals, chapter Psychrometrics, equation 35, with the constants as coded in PsychroLib
    # (GetHumRatioFromTWetBulb).
    wet = float(moist_air.wet_bulb_K(temperature_K, humidity, 101325.0))
    dry_C, wet_C = temperature_K - 273.15, wet - 273.15
    saturated = float(moist_air.humidity_ratio(wet, 1.0, 101325.0))
    if wet_C < -1e-6:
        ratio = ((2830.0 - 0.24 * wet_C) * saturated - 1.006 * (dry_C - wet_C)) / (2830.0 + 1.86 * dry_C - 2.1 * wet_C)
        assert ratio == pytest.approx(float(moist_air.humidity_ratio(temperature_K, humidity, 101325.0)), abs=1e-11)


def test_vapour_at_exactly_the_total_pressure_is_refused() -> None:
    boiling = float(moist_air.saturation_vapour_pressure_Pa(350.0))
    sentence = (
        f"relative humidity: the vapour pressure reaches {boiling:g} Pa, not below the total pressure. "
        "Lower the humidity or the temperature."
    )
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        moist_air.humidity_ratio(350.0, 1.0, boiling)
