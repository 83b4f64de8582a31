"""Evaporation of a wet load in a dryer: surface temperature, rate, and what the exhaust can carry away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.air_transfer import heat_transfer_W_m2_K
from model.drying_fluid import DryingFluid, GAS_CONSTANT_J_mol_K, STANDARD_PRESSURE_Pa
from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative, require_within

MOLAR_MASS_DRY_AIR_kg_mol = 0.0289652
"""Molar mass of dry air, from the gas constant that ASHRAE Fundamentals uses (kg/mol)."""

# Halving a bracket of at most 200 K fifty times leaves 2e-13 K, the same work for every draw.
_HALVINGS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceEvaporation:
    """Steady evaporation from a wet load in a dryer."""

    surface_temperature_K: Values
    """Of the wet surface; the wet bulb of the dryer's air when no heat but the air's reaches it [K]."""
    rate_kg_s: Values
    """Liquid evaporated from the whole load [kg/s]."""
    rate_in_fresh_air_kg_s: Values
    """The same if exhaust were unlimited: what the transfer alone allows [kg/s]."""
    chamber_humidity_ratio: Values
    """Vapour ÷ dry air in the dryer once balanced by the exhaust; saturation where nothing is exhausted [kg/kg]."""


def surface_evaporation(
    fluid: DryingFluid,
    *,
    wet_area_m2: Values,
    transfer_m_s: Values,
    air_temperature_K: Values,
    inlet_humidity_ratio: Values,
    exhaust_dry_air_kg_s: Values,
    pressure_Pa: Values = STANDARD_PRESSURE_Pa,
) -> SurfaceEvaporation:
    """Evaporation of a wet load when both the stream over it and the dryer's exhaust limit it.

    Parameters
    ----------
    fluid : the liquid
    wet_area_m2 : m² of wet surface
    transfer_m_s : m/s, mass-transfer coefficient
    air_temperature_K : K, held by the dryer's heater
    inlet_humidity_ratio : vapour of this liquid ÷ dry air in the air drawn in [kg/kg]
    exhaust_dry_air_kg_s : kg/s of dry air exchanged with the outside; recirculating flow × exhaust share;
        `inf` for open
    pressure_Pa : Pa. All broadcast.

    Returns
    -------
    `SurfaceEvaporation`; rate 0 where nothing is exhausted, where the air stands still or comes in saturated.

    Errors
    ------
    ValueError if area, temperature or pressure is not above 0, or a flow, coefficient or humidity is negative.

    Notes
    -----
    One unknown, the surface temperature T_s. Heat: h(T − T_s) = L·n. Exhaust: A·n = G(W − W_in). Transfer
    with Stefan flow: n = M·k·c·ln((1 − y)/(1 − y_s)), y = W/(W + M/M_air). The transfer demand rises and
    the heat supply falls with T_s: bisection. Neglected: radiation and heat from the board itself, the
    vapour's own heating, change of area as patches dry. Chamber air is ideally mixed. Checked against the
    ASHRAE wet bulb: within 1.2 K up to 100 °C, because latent heat is held at one value.
    """
    area = require_above_zero("wet area", wet_area_m2, "m²")
    transfer = require_not_negative("mass-transfer coefficient", transfer_m_s, "m/s")
    air = require_above_zero("air temperature", air_temperature_K, "K")
    inlet = require_not_negative("inlet humidity ratio", inlet_humidity_ratio, "kg/kg")
    exhaust = require_within("exhaust air", exhaust_dry_air_kg_s, 0.0, np.inf, "kg/s")
    pressure = require_above_zero("air pressure", pressure_Pa, "Pa")
    area, transfer, air, inlet, exhaust, pressure = np.broadcast_arrays(area, transfer, air, inlet, exhaust, pressure)
    heat = np.asarray(heat_transfer_W_m2_K(fluid, transfer, air, pressure))
    molar_density = pressure / (GAS_CONSTANT_J_mol_K * air)
    ratio = fluid.molar_mass_kg_mol / MOLAR_MASS_DRY_AIR_kg_mol

    def flux_paid_by_heat(surface: FloatArray) -> FloatArray:
        return np.asarray(heat * (air - surface) / fluid.latent_heat_J_kg)

    def humidity(flux: FloatArray, flow: FloatArray) -> FloatArray:
        # A closed chamber (flow 0) fills until nothing evaporates; a tiny flow stands for that limit without 0/0.
        return np.asarray(inlet + area * flux / np.maximum(flow, 1e-30))

    def flux_by_transfer(surface: FloatArray, chamber: FloatArray) -> FloatArray:
        share_air = np.minimum(chamber / (chamber + ratio), 1.0 - 1e-12)
        share_surface = np.minimum(fluid.saturation_pressure_Pa(surface) / pressure, 1.0 - 1e-12)
        driving = np.log1p(-share_air) - np.log1p(-share_surface)
        return np.asarray(fluid.molar_mass_kg_mol * transfer * molar_density * driving)

    def solve(flow: FloatArray) -> FloatArray:
        low, high = np.minimum(fluid.coldest_K, air), air.copy()
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            paid = flux_paid_by_heat(middle)
            too_cold = flux_by_transfer(middle, humidity(paid, flow)) < paid
            low, high = np.where(too_cold, middle, low), np.where(too_cold, high, middle)
        return np.asarray(0.5 * (low + high))

    surface, fresh = solve(exhaust), solve(np.full_like(exhaust, np.inf))
    can_carry = exhaust > 0.0
    # A chamber without exhaust fills up to saturation at the air temperature (without bound above boiling).
    pressure_share = fluid.saturation_pressure_Pa(air) / pressure
    full = np.where(pressure_share < 1.0, ratio * pressure_share / np.maximum(1.0 - pressure_share, 1e-12), np.inf)
    rate = np.where(can_carry, area * flux_paid_by_heat(surface), 0.0)
    # Saturated inlet air leaves the bisection at the air temperature; its last 1e-13 K is not evaporation.
    saturated = flux_by_transfer(air, inlet) <= 0.0
    rate = np.where(saturated, 0.0, rate)
    fresh_rate = np.where(saturated, 0.0, area * flux_paid_by_heat(fresh))
    return SurfaceEvaporation(
        surface_temperature_K=plain(surface),
        rate_kg_s=plain(rate),
        rate_in_fresh_air_kg_s=plain(fresh_rate),
        chamber_humidity_ratio=plain(np.where(can_carry, inlet + rate / np.where(can_carry, exhaust, 1.0), full)),
    )


def exhaust_limit_kg_s(
    exhaust_dry_air_kg_s: Values, humidity_ratio_out: Values, humidity_ratio_in: Values
) -> Values:
    """Vapour that exhaust air carries away: flow × (humidity out − humidity in).

    Parameters
    ----------
    exhaust_dry_air_kg_s : kg/s of dry air, float or array
    humidity_ratio_out, humidity_ratio_in : vapour ÷ dry air leaving and entering [kg/kg]. All broadcast.

    Returns
    -------
    kg/s; 0 where the air leaves no wetter than it came.

    Errors
    ------
    ValueError if a flow or humidity is negative.

    Notes
    -----
    Put the highest humidity that the dryer may run at for a first check of an offer; `surface_evaporation` finds the
    humidity that really sets in.

    >>> round(exhaust_limit_kg_s(0.05, 0.06, 0.01), 6)
    0.0025
    """
    flow = require_not_negative("exhaust air", exhaust_dry_air_kg_s, "kg/s")
    leaving = require_not_negative("humidity of the exhaust", humidity_ratio_out, "kg/kg")
    entering = require_not_negative("humidity of the inlet", humidity_ratio_in, "kg/kg")
    return plain(np.asarray(flow * np.maximum(leaving - entering, 0.0)))
