"""Liquid water: density, viscosity, vapour pressure, surface tension, latent heat, diffusivity scaling.

A dilute wash fluid is treated as water unless its own property is given; each function takes the property
it needs as an argument where a fluid may differ. The argument checks at the top serve the flow modules too.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from model.input_errors import UnphysicalInputError

FloatArray: TypeAlias = NDArray[np.float64]
Values: TypeAlias = float | FloatArray

CRITICAL_TEMPERATURE_K = 647.096
CRITICAL_PRESSURE_PA = 22.064e6
CRITICAL_DENSITY_KG_M3 = 322.0
"""Critical point of water, IAPWS-95 (kelvin, pascal, kg/m³)."""

# IAPWS SR6-08, liquid water at 0.1 MPa: coefficient and power of each term of the specific volume.
_VOLUME_CONSTANT = 1.93763157e-2
_VOLUME_HOT_TERMS = (
    (6.74458446e3, 4), (-2.22521604e5, 5), (1.00231247e8, 7), (-1.63552118e9, 8), (8.32299658e9, 9),
)  # fmt: skip
_VOLUME_COLD_TERMS = (
    (5.78545292e-3, 1), (-1.53195665e-2, 2), (3.11337859e-2, 3), (-4.23546241e-2, 4), (3.38713507e-2, 5),
    (-1.19946761e-2, 6),
)  # fmt: skip

# IAPWS SR1-86(1992), saturation line: coefficient and power of (1 − T/Tc).
_PRESSURE_TERMS = (
    (-7.85951783, 1.0), (1.84408259, 1.5), (-11.7866497, 3.0), (22.6807411, 3.5), (-15.9618719, 4.0),
    (1.80122502, 7.5),
)  # fmt: skip
_VAPOUR_DENSITY_TERMS = (
    (-2.03150240, 2 / 6), (-2.68302940, 4 / 6), (-5.38626492, 8 / 6), (-17.2991605, 18 / 6),
    (-44.7586581, 37 / 6), (-63.9201063, 71 / 6),
)  # fmt: skip

# IAPWS R12-08, coefficients H_i and H_ij. Row i is the power of (Tc/T − 1), column j the power of (ρ/ρc − 1).
_VISCOSITY_DILUTE = (1.67752, 2.20462, 0.6366564, -0.241605)
_VISCOSITY_DENSE = np.array(
    [
        [0.520094, 0.222531, -0.281378, 0.161913, -0.0325372, 0.0, 0.0],
        [0.0850895, 0.999115, -0.906851, 0.257399, 0.0, 0.0, 0.0],
        [-1.08374, 1.88797, -0.772479, 0.0, 0.0, 0.0, 0.0],
        [-0.289555, 1.26613, -0.489837, 0.0, 0.0698452, 0.0, -0.00435673],
        [0.0, 0.0, -0.257040, 0.0, 0.0, 0.00872102, 0.0],
        [0.0, 0.120573, 0.0, 0.0, 0.0, 0.0, -0.000593264],
    ]
)


def require_above_zero(name: str, values: Values, unit: str) -> FloatArray:
    """Return the values as an array, or raise ValueError when one is not a finite number above 0."""
    array = np.asarray(values, dtype=np.float64)
    # Least and greatest are quick to find; one that is not a number makes both comparisons fail.
    if array.size and not (np.minimum.reduce(array, axis=None) > 0.0 and np.maximum.reduce(array, axis=None) < np.inf):
        met = array[~(np.isfinite(array) & (array > 0.0))].flat[0]
        raise UnphysicalInputError(f"{name}: {_with_unit(met, unit)} is not allowed. Give a finite value above 0.")
    return array


def require_not_negative(name: str, values: Values, unit: str) -> FloatArray:
    """Return the values as an array, or raise ValueError when one is negative or not finite."""
    array = np.asarray(values, dtype=np.float64)
    if array.size and not (np.minimum.reduce(array, axis=None) >= 0.0 and np.maximum.reduce(array, axis=None) < np.inf):
        met = array[~(np.isfinite(array) & (array >= 0.0))].flat[0]
        raise UnphysicalInputError(f"{name}: {_with_unit(met, unit)} is not allowed. Give a finite value, 0 or above.")
    return array


def require_within(name: str, values: Values, low: float, high: float, unit: str) -> FloatArray:
    """Return the values as an array, or raise ValueError when one lies outside low..high (both included)."""
    array = np.asarray(values, dtype=np.float64)
    if array.size and not (np.minimum.reduce(array, axis=None) >= low and np.maximum.reduce(array, axis=None) <= high):
        met = array[~((array >= low) & (array <= high))].flat[0]
        allowed = f"{low:g} to {_with_unit(high, unit)}"
        raise UnphysicalInputError(f"{name}: {_with_unit(met, unit)} is not allowed. Give {allowed}.")
    return array


def _with_unit(value: float, unit: str) -> str:
    return f"{value:g} {unit}" if unit else f"{value:g}"


def plain(values: FloatArray) -> Values:
    """Return a float for a single value and the array otherwise, so that scalars in give scalars out."""
    return float(values) if np.ndim(values) == 0 else values


def water_density_kg_m3(temperature_K: Values) -> Values:
    """Density of liquid water at atmospheric pressure.

    Parameters: temperature_K: kelvin (ITS-90), float or array of any shape.
    Returns: Density in kg/m³, same shape.
    Errors: ValueError outside 253.15 to 383.15 K, the range of the equation.

    Notes: v = (R·Tr/p0)·[a5 + Σ a_i α^n_i + Σ b_i β^m_i], α = Tr/(593 − T), β = Tr/(T − 232), Tr = 10 K, p0
    = 0.1 MPa. The difference between 0.1 MPa and 1 atm (6e-7) is neglected, so are dissolved gas and
    detergent. Basis: published; within 1e-6 of IAPWS-95 at 1 atm from 0 to 100 °C.
    Reference: IAPWS SR6-08(2011), Liquid Water at 0.1 MPa, equation for the specific volume; coefficients
    checked against the `iapws` package.

    >>> print(f"{water_density_kg_m3(293.15):.3f}")
    998.207
    """
    temperature = require_within("water temperature", temperature_K, 253.15, 383.15, "K")
    hot = 10.0 / (593.0 - temperature)
    cold = 10.0 / (temperature - 232.0)
    hot_sum = sum(a * hot**n for a, n in _VOLUME_HOT_TERMS)
    cold_sum = sum(b * cold**m for b, m in _VOLUME_COLD_TERMS)
    gas_constant_J_kg_K, reference_temperature_K, reference_pressure_Pa = 461.51805, 10.0, 1e5
    scale_m3_kg = gas_constant_J_kg_K * reference_temperature_K / reference_pressure_Pa
    return plain(np.asarray(1.0 / (scale_m3_kg * (_VOLUME_CONSTANT + hot_sum + cold_sum))))


def water_viscosity_Pa_s(temperature_K: Values, density_kg_m3: Values | None = None) -> Values:
    """Dynamic viscosity of liquid water.

    Parameters: temperature_K: kelvin, float or array. density_kg_m3: kg/m³, float or array that broadcasts;
    left out: the density at atmospheric pressure.
    Returns: Viscosity in Pa·s, broadcast shape.
    Errors: ValueError outside 253.15 to 383.15 K or for a density that is not above 0.

    Notes: µ = µ0(T)·µ1(T, ρ)·1e-6. The critical enhancement µ2 is neglected: it is 1 far from the critical
    point. Basis: published; uncertainty of the formulation 1 % for the liquid.
    Reference: IAPWS R12-08, Equations 10 to 12; the doctest is a value of its verification table.

    >>> print(f"{water_viscosity_Pa_s(298.15, 998.0) * 1e6:.6f}")
    889.735100
    """
    temperature = require_within("water temperature", temperature_K, 253.15, 383.15, "K")
    if density_kg_m3 is None:
        density_kg_m3 = water_density_kg_m3(temperature)
    density = require_above_zero("water density", density_kg_m3, "kg/m³")
    temperature, density = np.broadcast_arrays(temperature, density)
    inverse = CRITICAL_TEMPERATURE_K / temperature
    reduced_density = density / CRITICAL_DENSITY_KG_M3
    dilute = 100.0 / np.sqrt(inverse) / np.polynomial.polynomial.polyval(inverse, _VISCOSITY_DILUTE)
    dense = np.polynomial.polynomial.polyval2d(inverse - 1.0, reduced_density - 1.0, _VISCOSITY_DENSE)
    return plain(dilute * np.exp(reduced_density * dense) * 1e-6)


def water_saturation_pressure_Pa(temperature_K: Values) -> Values:
    """Vapour pressure over a flat surface of liquid water.

    Parameters: temperature_K: kelvin, float or array.
    Returns: Pressure in Pa, absolute, same shape.
    Errors: ValueError outside 273.15 to 647.096 K.

    Notes: ln(p/pc) = (Tc/T)·Σ a_i τ^n_i, τ = 1 − T/Tc. Neglects solutes and the presence of air (the
    enhancement factor, about 0.4 %). Basis: published; within 1e-4 of IAPWS-95.
    Reference: IAPWS SR1-86(1992), Equation 1 (Wagner and Pruss).

    >>> print(f"{water_saturation_pressure_Pa(333.15):.0f}")
    19947
    """
    temperature = require_within("water temperature", temperature_K, 273.15, CRITICAL_TEMPERATURE_K, "K")
    inverse = CRITICAL_TEMPERATURE_K / temperature
    tau = 1.0 - 1.0 / inverse
    # Powers of 1, 1.5, 3, 3.5, 4 and 7.5 factored out of one another: many times faster than general powers.
    first, one_and_half, third, third_and_half, fourth, last = (a for a, _ in _PRESSURE_TERMS)
    root, square = np.sqrt(tau), tau * tau
    higher = third + fourth * tau + root * (third_and_half + last * square * square)
    return plain(CRITICAL_PRESSURE_PA * np.exp(inverse * tau * (first + one_and_half * root + square * higher)))


def water_surface_tension_N_m(temperature_K: Values) -> Values:
    """Surface tension of pure water against its vapour (or air).

    Parameters: temperature_K: kelvin, float or array.
    Returns: Surface tension in N/m, same shape.
    Errors: ValueError outside 248.15 to 647.096 K.

    Notes: σ = 0.2358·τ^1.256·(1 − 0.625·τ), τ = 1 − T/Tc. Clean water only: any surfactant lowers it
    strongly, use the fluid's own value then. Basis: published.
    Reference: IAPWS R1-76(2014), Equation 1.

    >>> print(f"{water_surface_tension_N_m(298.15) * 1e3:.2f}")
    71.97
    """
    temperature = require_within("water temperature", temperature_K, 248.15, CRITICAL_TEMPERATURE_K, "K")
    tau = 1.0 - temperature / CRITICAL_TEMPERATURE_K
    return plain(0.2358 * tau**1.256 * (1.0 - 0.625 * tau))


def latent_heat_J_kg(temperature_K: Values) -> Values:
    """Heat of evaporation of water.

    Parameters: temperature_K: kelvin, float or array.
    Returns: J/kg, same shape.
    Errors: ValueError outside 273.15 to 383.15 K, the range in which both densities are known here.

    Notes: Clapeyron: L = T·(dp/dT)·(1/ρ″ − 1/ρ′), with the slope of the vapour-pressure equation in closed
    form, ρ″ of the saturated vapour and ρ′ at atmospheric pressure (its effect on L is below 1e-6). Basis:
    published equations; within 2e-4 of IAPWS-95.
    Reference: IAPWS SR1-86(1992), Equations 1 and 3.

    >>> print(f"{latent_heat_J_kg(373.15) / 1e3:.0f}")
    2257
    """
    temperature = require_within("water temperature", temperature_K, 273.15, 383.15, "K")
    tau = 1.0 - temperature / CRITICAL_TEMPERATURE_K
    pressure = np.asarray(water_saturation_pressure_Pa(temperature))
    log_ratio = np.log(pressure / CRITICAL_PRESSURE_PA)
    slope_terms = sum(a * n * tau ** (n - 1.0) for a, n in _PRESSURE_TERMS)
    pressure_slope = -pressure / temperature * (log_ratio + slope_terms)
    vapour_density = CRITICAL_DENSITY_KG_M3 * np.exp(sum(c * tau**n for c, n in _VAPOUR_DENSITY_TERMS))
    liquid_density = np.asarray(water_density_kg_m3(temperature))
    return plain(temperature * pressure_slope * (1.0 / vapour_density - 1.0 / liquid_density))


def scale_diffusivity_m2_s(
    reference_diffusivity_m2_s: Values,
    reference_temperature_K: Values,
    temperature_K: Values,
    reference_viscosity_Pa_s: Values,
    viscosity_Pa_s: Values,
) -> Values:
    """Diffusivity of a solute in a liquid, carried from one temperature to another.

    Parameters: reference_diffusivity_m2_s: known diffusivity in m²/s. reference_temperature_K,
    reference_viscosity_Pa_s: kelvin and Pa·s at which it is known. temperature_K, viscosity_Pa_s: kelvin and
    Pa·s wanted. All floats or arrays that broadcast.
    Returns: Diffusivity in m²/s, broadcast shape.
    Errors: ValueError when any argument is not above 0.

    Notes: Stokes–Einstein: D ∝ T/µ. Holds for a dilute solute larger than the solvent molecules; for small
    ions it is good to about 10 % between 20 and 80 °C (from memory). Basis: derived.

    >>> scale_diffusivity_m2_s(1e-9, 300.0, 300.0, 1e-3, 5e-4)
    2e-09
    """
    known = require_above_zero("reference diffusivity", reference_diffusivity_m2_s, "m²/s")
    known_temperature = require_above_zero("reference temperature", reference_temperature_K, "K")
    temperature = require_above_zero("temperature", temperature_K, "K")
    known_viscosity = require_above_zero("reference viscosity", reference_viscosity_Pa_s, "Pa·s")
    viscosity = require_above_zero("viscosity", viscosity_Pa_s, "Pa·s")
    return plain(known * (temperature / known_temperature) * (known_viscosity / viscosity))
