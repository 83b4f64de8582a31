"""The liquid to be dried: vapour pressure, latent heat, diffusivity of its vapour; water and any other solvent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from model.fluids import (
    FloatArray,
    latent_heat_J_kg,
    require_above_zero,
    water_density_kg_m3,
    water_saturation_pressure_Pa,
)
from model.moist_air import vapour_diffusivity_m2_s

GAS_CONSTANT_J_mol_K = 8.314462618
"""Molar gas constant, CODATA 2018 (J/(mol·K))."""
MOLAR_MASS_WATER_kg_mol = 0.01801528
"""Molar mass of water (kg/mol)."""
STANDARD_PRESSURE_Pa = 101325.0
"""Standard atmosphere (Pa)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DryingFluid:
    """What drying needs to know of a liquid."""

    molar_mass_kg_mol: float
    """Molar mass of the vapour [kg/mol]."""
    liquid_density_kg_m3: float
    """Density of the liquid, one value for the drying range [kg/m³]."""
    latent_heat_J_kg: float
    """Heat of evaporation, one value for the drying range [J/kg]."""
    saturation_pressure_Pa: Callable[[FloatArray], FloatArray]
    """Vapour pressure over the liquid from its temperature in K [Pa]."""
    diffusivity_m2_s: Callable[[FloatArray, FloatArray], FloatArray]
    """Diffusivity of the vapour in air from temperature in K and pressure in Pa [m²/s]."""
    coldest_K: float
    """Lowest temperature at which the properties hold [K]."""


def water_for_drying(temperature_K: float = 313.15) -> DryingFluid:
    """Water as a drying fluid, latent heat and density taken at one temperature.

    Parameters
    ----------
    temperature_K : K at which latent heat and density are taken (both move by 3 % from 30 to 60 °C)

    Returns
    -------
    `DryingFluid`.

    Errors
    ------
    ValueError outside 273.15 to 383.15 K.

    >>> round(water_for_drying().latent_heat_J_kg / 1e3)
    2406
    """
    return DryingFluid(
        molar_mass_kg_mol=MOLAR_MASS_WATER_kg_mol,
        liquid_density_kg_m3=float(water_density_kg_m3(temperature_K)),
        latent_heat_J_kg=float(latent_heat_J_kg(temperature_K)),
        saturation_pressure_Pa=lambda at_K: np.asarray(water_saturation_pressure_Pa(at_K)),
        diffusivity_m2_s=lambda at_K, at_Pa: np.asarray(vapour_diffusivity_m2_s(at_K, at_Pa)),
        coldest_K=273.15,
    )


def solvent_for_drying(
    *,
    molar_mass_kg_mol: float,
    liquid_density_kg_m3: float,
    latent_heat_J_kg: float,
    vapour_pressure_Pa: float,
    vapour_pressure_temperature_K: float,
    diffusivity_m2_s: float,
    diffusivity_temperature_K: float,
    diffusivity_exponent: float,
    coldest_K: float,
) -> DryingFluid:
    """Any other liquid from single data-sheet values.

    Parameters
    ----------
    molar_mass_kg_mol, liquid_density_kg_m3, latent_heat_J_kg : kg/mol, kg/m³, J/kg
    vapour_pressure_Pa, vapour_pressure_temperature_K : one point of the vapour-pressure curve, Pa and K
    diffusivity_m2_s, diffusivity_temperature_K : of the vapour in air at one atmosphere, m²/s and K
    diffusivity_exponent : power of the absolute temperature, about 1.75 for gases (from memory)
    coldest_K : K below which the data should not be used

    Returns
    -------
    `DryingFluid`.

    Errors
    ------
    ValueError if a value is not above 0.

    Notes
    -----
    Clausius–Clapeyron with constant latent heat: p = p_ref·exp(−M·L/R·(1/T − 1/T_ref)); good within about
    30 K of the point. Flammability is not looked at here.
    """
    named = {
        "molar mass": (molar_mass_kg_mol, "kg/mol"),
        "liquid density": (liquid_density_kg_m3, "kg/m³"),
        "latent heat": (latent_heat_J_kg, "J/kg"),
        "vapour pressure": (vapour_pressure_Pa, "Pa"),
        "vapour pressure temperature": (vapour_pressure_temperature_K, "K"),
        "diffusivity": (diffusivity_m2_s, "m²/s"),
        "diffusivity temperature": (diffusivity_temperature_K, "K"),
        "diffusivity exponent": (diffusivity_exponent, ""),
        "lowest temperature": (coldest_K, "K"),
    }
    for name, (value, unit) in named.items():
        require_above_zero(name, value, unit)
    slope_K = molar_mass_kg_mol * latent_heat_J_kg / GAS_CONSTANT_J_mol_K
    return DryingFluid(
        molar_mass_kg_mol=molar_mass_kg_mol,
        liquid_density_kg_m3=liquid_density_kg_m3,
        latent_heat_J_kg=latent_heat_J_kg,
        saturation_pressure_Pa=lambda at_K: np.asarray(
            vapour_pressure_Pa * np.exp(-slope_K * (1.0 / at_K - 1.0 / vapour_pressure_temperature_K))
        ),
        diffusivity_m2_s=lambda at_K, at_Pa: np.asarray(
            diffusivity_m2_s * (at_K / diffusivity_temperature_K) ** diffusivity_exponent * STANDARD_PRESSURE_Pa / at_Pa
        ),
        coldest_K=coldest_K,
    )
