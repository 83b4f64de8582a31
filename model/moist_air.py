"""Moist air: humidity, wet bulb, dew point, density, and the transport properties that drying needs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from model.fluids import (
    FloatArray,
    Values,
    plain,
    require_above_zero,
    require_within,
    water_saturation_pressure_Pa,
)
from model.input_errors import UnphysicalInputError

MASS_RATIO_WATER_AIR = 0.621945
"""Molar mass of water over that of dry air, ASHRAE Fundamentals."""
DRY_AIR_GAS_CONSTANT_J_KG_K = 287.042
"""Gas constant of dry air, ASHRAE Fundamentals."""
DRY_AIR_HEAT_CAPACITY_J_KG_K = 1006.0
VAPOUR_HEAT_CAPACITY_J_KG_K = 1860.0
"""Heat capacities at constant pressure used by the ASHRAE Fundamentals enthalpy of moist air."""

_TRIPLE_POINT_K = 273.16
_TRIPLE_PRESSURE_PA = 611.657
_STANDARD_ATMOSPHERE_PA = 101325.0
_LOWEST_K = 173.15
_HIGHEST_K = 473.15
# Halving a 300 K bracket 40 times leaves 3e-10 K: far below any use, and the same work for every draw.
_HALVINGS = 40
# IAPWS R14-08(2011): coefficient and power of each term of the sublimation pressure of ice Ih.
_ICE_TERMS = ((-21.2144006, 0.00333333333), (27.3203819, 1.20666667), (-6.10598130, 1.70333333))


def saturation_vapour_pressure_Pa(temperature_K: Values) -> Values:
    """Pressure of water vapour in equilibrium with liquid water, or with ice below the triple point.

    Parameters: temperature_K: kelvin, float or array.
    Returns: Pressure in Pa, same shape.
    Errors: ValueError outside 173.15 to 473.15 K.

    Notes: Above 273.16 K as `water_saturation_pressure_Pa`; below it ln(p/pt) = (1/θ)·Σ a_i θ^b_i, θ =
    T/273.16 K. Neglects the enhancement by air (about 0.4 %). Basis: published.
    Reference: IAPWS SR1-86(1992), Equation 1; IAPWS R14-08(2011), sublimation pressure of ice Ih (230 K:
    8.94735 Pa).

    >>> print(f"{saturation_vapour_pressure_Pa(230.0):.5f}")
    8.94735
    """
    temperature = require_within("air temperature", temperature_K, _LOWEST_K, _HIGHEST_K, "K")
    over_water = water_saturation_pressure_Pa(np.maximum(temperature, _TRIPLE_POINT_K))
    theta = np.minimum(temperature / _TRIPLE_POINT_K, 1.0)
    over_ice = _TRIPLE_PRESSURE_PA * np.exp(sum(a * theta**b for a, b in _ICE_TERMS) / theta)
    return plain(np.where(temperature < _TRIPLE_POINT_K, over_ice, over_water))


def vapour_diffusivity_m2_s(temperature_K: Values, pressure_Pa: Values) -> Values:
    """Diffusivity of water vapour in air.

    Parameters: temperature_K: kelvin, float or array. pressure_Pa: total pressure in Pa, float or array that
    broadcasts.
    Returns: m²/s, broadcast shape.
    Errors: ValueError outside 273.15 to 473.15 K or for a pressure that is not above 0.

    Notes: D = 1.87e-10·T^2.072/p, p in atm. The fit is stated for 282 to 450 K (range from memory); other
    fits differ by up to 4 %. Neglects the dependence on composition. Basis: published.
    Reference: Marrero and Mason (1972), J. Phys. Chem. Ref. Data 1:3.

    >>> print(f"{vapour_diffusivity_m2_s(293.15, 101325.0):.3e}")
    2.419e-05
    """
    temperature = require_within("air temperature", temperature_K, 273.15, _HIGHEST_K, "K")
    pressure = require_above_zero("air pressure", pressure_Pa, "Pa")
    return plain(1.87e-10 * temperature**2.072 * _STANDARD_ATMOSPHERE_PA / pressure)


def _vapour_pressure(temperature: FloatArray, humidity_share: Values, pressure: FloatArray) -> FloatArray:
    humidity = require_within("relative humidity", humidity_share, 0.0, 1.0, "(share)")
    vapour = np.asarray(humidity * saturation_vapour_pressure_Pa(temperature))
    if np.any(vapour >= pressure):
        raise UnphysicalInputError(
            f"relative humidity: the vapour pressure reaches {np.max(vapour):g} Pa, not below the total "
            "pressure. Lower the humidity or the temperature."
        )
    return vapour


def humidity_ratio(temperature_K: Values, relative_humidity_share: Values, pressure_Pa: Values) -> Values:
    """Mass of water vapour per mass of dry air.

    Parameters: temperature_K: dry-bulb temperature in kelvin. relative_humidity_share: relative humidity, 0
    to 1. pressure_Pa: total pressure in Pa. All floats or arrays that broadcast.
    Returns: kg of vapour per kg of dry air, broadcast shape.
    Errors: ValueError outside 173.15 to 473.15 K, for a humidity outside 0 to 1, or when the vapour pressure
    would reach the total pressure.

    Notes: W = 0.621945·p_w/(p − p_w), p_w = φ·p_sat(T); ideal gases. Basis: published.
    Reference: ASHRAE Fundamentals, chapter Psychrometrics (as coded in PsychroLib).

    >>> print(f"{humidity_ratio(298.15, 0.5, 101325.0):.5f}")
    0.00988
    """
    temperature = require_within("air temperature", temperature_K, _LOWEST_K, _HIGHEST_K, "K")
    pressure = require_above_zero("air pressure", pressure_Pa, "Pa")
    vapour = _vapour_pressure(temperature, relative_humidity_share, pressure)
    return plain(MASS_RATIO_WATER_AIR * vapour / (pressure - vapour))


def _bisect(rising: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray) -> FloatArray:
    """Zero of a rising function, element by element, by a fixed number of halvings."""
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        below = rising(middle) < 0.0
        low = np.where(below, middle, low)
        high = np.where(below, high, middle)
    return 0.5 * (low + high)


def wet_bulb_K(temperature_K: Values, relative_humidity_share: Values, pressure_Pa: Values) -> Values:
    """Wet-bulb temperature: what a drained wet surface settles at in an air stream.

    Parameters: temperature_K: dry-bulb temperature in kelvin. relative_humidity_share: relative humidity, 0
    to 1. pressure_Pa: total pressure in Pa. All floats or arrays that broadcast.
    Returns: Kelvin, broadcast shape.
    Errors: As `humidity_ratio`, and ValueError outside 253.15 to 473.15 K.

    Notes: Solves (2501 − 2.326 t*)·W_s(t*) − 1.006 (t − t*) = W·(2501 + 1.86 t − 4.186 t*), t in °C, with
    the ice form of the same balance below 0 °C. Written in vapour pressure so that it has no pole where the
    air boils; 40 halvings for every element at once. Thermodynamic wet bulb: radiation to the board and
    conduction along it are neglected. Basis: published.
    Reference: ASHRAE Fundamentals, chapter Psychrometrics, wet-bulb relations above and below freezing (as
    coded in PsychroLib).

    >>> print(f"{wet_bulb_K(298.15, 0.5, 101325.0) - 273.15:.2f}")
    17.89
    """
    dry = require_within("air temperature", temperature_K, 253.15, _HIGHEST_K, "K")
    pressure = require_above_zero("air pressure", pressure_Pa, "Pa")
    vapour = _vapour_pressure(dry, relative_humidity_share, pressure)
    dry, vapour, pressure = np.broadcast_arrays(dry, vapour, pressure)
    ratio = MASS_RATIO_WATER_AIR * vapour / (pressure - vapour)
    dry_C = dry - 273.15

    def surplus(wet: FloatArray) -> FloatArray:
        wet_C = wet - 273.15
        frozen = wet_C < 0.0
        evaporation = np.where(frozen, 2830.0 - 0.24 * wet_C, 2501.0 - 2.326 * wet_C)
        uptake = np.where(frozen, 2830.0 + 1.86 * dry_C - 2.1 * wet_C, 2501.0 + 1.86 * dry_C - 4.186 * wet_C)
        saturated = np.asarray(saturation_vapour_pressure_Pa(wet))
        drawn = ratio * uptake + 1.006 * (dry_C - wet_C)
        return np.asarray(evaporation * MASS_RATIO_WATER_AIR * saturated - (pressure - saturated) * drawn)

    return plain(_bisect(surplus, np.full_like(dry, _LOWEST_K), dry))


def dew_point_K(temperature_K: Values, relative_humidity_share: Values, pressure_Pa: Values) -> Values:
    """Temperature at which the vapour of the air begins to condense (or to frost, below 0.01 °C).

    Parameters: temperature_K: dry-bulb temperature in kelvin. relative_humidity_share: relative humidity,
    above 0, up to 1. pressure_Pa: total pressure in Pa. All floats or arrays that broadcast.
    Returns: Kelvin, broadcast shape.
    Errors: As `humidity_ratio`, and ValueError when the air is so dry that its frost point lies below 173.15
    K.

    Notes: p_sat(T_dew) = φ·p_sat(T), solved by 40 halvings for every element at once. Basis: published.
    Reference: ASHRAE Fundamentals, chapter Psychrometrics.

    >>> print(f"{dew_point_K(298.15, 0.5, 101325.0) - 273.15:.2f}")
    13.86
    """
    dry = require_within("air temperature", temperature_K, _LOWEST_K, _HIGHEST_K, "K")
    pressure = require_above_zero("air pressure", pressure_Pa, "Pa")
    vapour = _vapour_pressure(dry, relative_humidity_share, pressure)
    dry, vapour, pressure = np.broadcast_arrays(dry, vapour, pressure)
    if np.any(vapour < saturation_vapour_pressure_Pa(_LOWEST_K)):
        raise UnphysicalInputError(
            "relative humidity: the air is too dry to have a frost point above 173.15 K. "
            "Give a humidity above 0."
        )

    def surplus(dew: FloatArray) -> FloatArray:
        return np.asarray(saturation_vapour_pressure_Pa(dew) - vapour)

    return plain(_bisect(surplus, np.full_like(dry, _LOWEST_K), dry))


def moist_air_density_kg_m3(
    temperature_K: Values, relative_humidity_share: Values, pressure_Pa: Values
) -> Values:
    """Density of moist air, vapour included.

    Parameters: temperature_K: dry-bulb temperature in kelvin. relative_humidity_share: relative humidity, 0
    to 1. pressure_Pa: total pressure in Pa. All floats or arrays that broadcast.
    Returns: kg of moist air per m³, broadcast shape.
    Errors: As `humidity_ratio`.

    Notes: ρ = (p − (1 − 0.621945)·p_w)/(R_air·T): ideal mixture of dry air and vapour. Basis: published.
    Reference: ASHRAE Fundamentals, chapter Psychrometrics.

    >>> print(f"{moist_air_density_kg_m3(298.15, 0.5, 101325.0):.3f}")
    1.177
    """
    temperature = require_within("air temperature", temperature_K, _LOWEST_K, _HIGHEST_K, "K")
    pressure = require_above_zero("air pressure", pressure_Pa, "Pa")
    vapour = _vapour_pressure(temperature, relative_humidity_share, pressure)
    lighter = pressure - (1.0 - MASS_RATIO_WATER_AIR) * vapour
    return plain(lighter / (DRY_AIR_GAS_CONSTANT_J_KG_K * temperature))


def moist_air_heat_capacity_J_kg_K(humidity_ratio_kg_kg: Values) -> Values:
    """Heat capacity of moist air at constant pressure, per kg of the mixture.

    Parameters: humidity_ratio_kg_kg: kg of vapour per kg of dry air, float or array.
    Returns: J/(kg·K), same shape.
    Errors: ValueError for a ratio outside 0 to 100.

    Notes: c = (1006 + 1860·W)/(1 + W); taken constant with temperature (dry air rises by 0.5 % to 100 °C).
    Basis: published.
    Reference: ASHRAE Fundamentals, chapter Psychrometrics, enthalpy of moist air.

    >>> moist_air_heat_capacity_J_kg_K(0.0)
    1006.0
    """
    ratio = require_within("humidity ratio", humidity_ratio_kg_kg, 0.0, 100.0, "kg/kg")
    return plain((DRY_AIR_HEAT_CAPACITY_J_KG_K + VAPOUR_HEAT_CAPACITY_J_KG_K * ratio) / (1.0 + ratio))


def air_viscosity_Pa_s(temperature_K: Values) -> Values:
    """Dynamic viscosity of dry air.

    Parameters: temperature_K: kelvin, float or array.
    Returns: Pa·s, same shape.
    Errors: ValueError outside 173.15 to 473.15 K.

    Notes: Sutherland: µ = 1.458e-6·T^1.5/(T + 110.4). Vapour lowers it (8 % in
    saturated air at 60 °C, against CoolProp) and is neglected. Basis: published; within 1 % of CoolProp.
    Reference: US Standard Atmosphere 1976, viscosity equation (as coded in `fluids`).

    >>> print(f"{air_viscosity_Pa_s(300.0):.3e}")
    1.846e-05
    """
    temperature = require_within("air temperature", temperature_K, _LOWEST_K, _HIGHEST_K, "K")
    return plain(1.458e-6 * temperature**1.5 / (temperature + 110.4))


def air_conductivity_W_m_K(temperature_K: Values) -> Values:
    """Thermal conductivity of dry air.

    Parameters: temperature_K: kelvin, float or array.
    Returns: W/(m·K), same shape.
    Errors: ValueError outside 173.15 to 473.15 K.

    Notes: k = 2.64638e-3·T^1.5/(T + 245.4·10^(−12/T)). Vapour is neglected (3 % in
    saturated air at 60 °C). Basis: published; within 1 % of CoolProp.
    Reference: US Standard Atmosphere 1976, thermal-conductivity equation (as coded in `fluids`).

    >>> print(f"{air_conductivity_W_m_K(300.0):.4f}")
    0.0263
    """
    temperature = require_within("air temperature", temperature_K, _LOWEST_K, _HIGHEST_K, "K")
    return plain(2.64638e-3 * temperature**1.5 / (temperature + 245.4 * 10.0 ** (-12.0 / temperature)))


def lewis_number(temperature_K: Values, pressure_Pa: Values) -> Values:
    """Ratio of heat to vapour diffusivity in air; turns a heat-transfer coefficient into a drying rate.

    Parameters: temperature_K: kelvin. pressure_Pa: total pressure in Pa. Floats or arrays that broadcast.
    Returns: Lewis number (no unit), broadcast shape.
    Errors: ValueError outside 273.15 to 473.15 K or for a pressure that is not above 0.

    Notes: Le = k/(ρ·c·D), properties of dry air. Independent of pressure, since ρ and 1/D both grow with it.
    Basis: published equations.

    >>> print(f"{lewis_number(298.15, 101325.0):.2f}")
    0.87
    """
    temperature = require_within("air temperature", temperature_K, 273.15, _HIGHEST_K, "K")
    pressure = require_above_zero("air pressure", pressure_Pa, "Pa")
    density = pressure / (DRY_AIR_GAS_CONSTANT_J_KG_K * temperature)
    heat = air_conductivity_W_m_K(temperature) / (density * DRY_AIR_HEAT_CAPACITY_J_KG_K)
    return plain(np.asarray(heat / vapour_diffusivity_m2_s(temperature, pressure)))
