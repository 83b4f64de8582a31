"""Drying by the load's own heat in a standing chamber, as a dishwasher does: it starts well and stalls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.drying import DryingLoad, DryingOutcome, water_to_remove_kg
from model.drying_fluid import DryingFluid, GAS_CONSTANT_J_mol_K, STANDARD_PRESSURE_Pa
from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative, require_within
from model.gap_drying import (
    MOST_VAPOUR_SHARE,
    driven_gap_rate_m2_s,
    gap_progress_needed_m2,
    gap_wet_share,
    meniscus_vapour_share,
    outside_dryness,
)
from model.moist_air import DRY_AIR_GAS_CONSTANT_J_KG_K, DRY_AIR_HEAT_CAPACITY_J_KG_K, air_conductivity_W_m_K

# Steps grow with time squared: the load cools fast at first. The tests hold film loss to 3 % of a general solver.
_STEPS = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingChamber:
    """A closed or vented chamber without fan and heater; no maker's, any of its kind."""

    wall_temperature_K: Values
    """Coldest wall, on which vapour condenses; room air if vented [K]."""
    saturation_share: Values
    """Vapour pressure ÷ saturation at the wall: 1 with wet walls, the room's relative humidity when vented [1]."""
    heat_transfer_W_m2_K: Values
    """Natural convection between load and chamber air [W/(m²·K)]."""
    pressure_Pa: Values = STANDARD_PRESSURE_Pa
    """Total pressure [Pa]."""


def passive_dry_outcome(
    load: DryingLoad, chamber: StandingChamber, fluid: DryingFluid, time_s: Values
) -> DryingOutcome:
    """Where the liquid is after the load has stood and cooled for a time.

    Parameters
    ----------
    load : the wet load; its temperature and heat capacity are the only heat there is
    chamber : where it stands
    fluid : the liquid
    time_s : s available, above 0, float or array

    Returns
    -------
    `DryingOutcome`.

    Errors
    ------
    ValueError if the time, the heat capacity or a temperature is not above 0, or a share is outside 0..1.

    Notes
    -----
    One temperature for the whole load: C dT/dt = −hA(T − T_w) − L·A·n(T), n by Stefan flow with k from h
    (Lewis), zero film no loss; gap progress by `gap_rate_m2_s` at T against the chamber's vapour, the mean of both
    ends of a step. Linearly implicit steps, so short time constants do no harm; the slope of the vapour pressure in
    them is Clausius and Clapeyron's, which need not be exact. The chamber's vapour pressure is held: walls condense
    all that comes. Neglected: radiation, condensation back onto a load colder than the wall's dew point, heat from a
    hot sump.
    """
    time = require_above_zero("time available", time_s, "s")
    drained, film, in_gap = water_to_remove_kg(load, fluid)
    area = np.asarray(load.wet_area_m2, dtype=np.float64)
    capacity = require_above_zero("heat capacity of the load", load.heat_capacity_J_K, "J/K")
    wall = require_above_zero("wall temperature", chamber.wall_temperature_K, "K")
    share = require_within("saturation share", chamber.saturation_share, 0.0, 1.0, "(share)")
    heat = require_not_negative("heat transfer", chamber.heat_transfer_W_m2_K, "W/(m²·K)")
    pressure = require_above_zero("pressure", chamber.pressure_Pa, "Pa")
    start = require_above_zero("load temperature", load.temperature_K, "K")
    outside = share * fluid.saturation_pressure_Pa(wall)
    transfer = _transfer_from_heat_m_s(fluid, heat, wall, pressure)
    needed = gap_progress_needed_m2(load.body_length_m, load.body_width_m, load.open_sides)
    needed = np.where(np.asarray(load.gap_volume_m3) > 0.0, needed, 0.0)

    dryness = outside_dryness(outside, pressure)
    # What does not change from step to step: heat into vapour times K, and into the chamber's air per K.
    vapour_W_K = (
        area * fluid.molar_mass_kg_mol * fluid.latent_heat_J_kg * transfer * (pressure / GAS_CONSTANT_J_mol_K)
    )
    air_W_K = heat * area

    slope_K = fluid.molar_mass_kg_mol * fluid.latent_heat_J_kg / GAS_CONSTANT_J_mol_K

    shape = np.broadcast_shapes(
        film.shape, in_gap.shape, time.shape, outside.shape, transfer.shape, capacity.shape, start.shape, needed.shape
    )
    temperature = np.broadcast_to(start, shape).astype(np.float64)
    left = np.broadcast_to(film, shape).astype(np.float64)
    progress, dry_at, now = np.zeros(shape), np.full(shape, np.inf), np.zeros(shape)
    inner = meniscus_vapour_share(fluid, temperature, pressure)
    driving = np.maximum(dryness - np.log1p(-inner), 0.0)
    gap_rate = driven_gap_rate_m2_s(fluid, temperature, driving, pressure)
    for step in range(_STEPS):
        until = time * ((step + 1.0) / _STEPS) ** 2
        duration = until - now
        per_driving = np.where(left > 0.0, vapour_W_K / temperature, 0.0)
        vapour = per_driving * driving
        rises = (driving > 0.0) & (inner < MOST_VAPOUR_SHARE)
        steeper = np.where(rises, inner / (1.0 - inner) * slope_K / np.square(temperature), 0.0)
        vapour_W_per_K = per_driving * steeper - vapour / temperature
        total = vapour + air_W_K * (temperature - wall)
        drop = total * duration / (capacity + (vapour_W_per_K + air_W_K) * duration)
        # Taken at the end of the step, as the implicit temperature step does: so the heat balance closes exactly.
        evaporated = np.minimum(
            np.maximum(vapour - drop * vapour_W_per_K, 0.0) * duration / fluid.latent_heat_J_kg, left
        )
        left, temperature, now = left - evaporated, np.maximum(temperature - drop, fluid.coldest_K), until
        inner = meniscus_vapour_share(fluid, temperature, pressure)
        driving = np.maximum(dryness - np.log1p(-inner), 0.0)
        before, gap_rate = gap_rate, driven_gap_rate_m2_s(fluid, temperature, driving, pressure)
        progress = progress + 0.5 * duration * (before + gap_rate)
        dry = (left <= 0.0) & (progress >= needed)
        dry_at = np.where(dry & np.isinf(dry_at), now, dry_at)
    wet_share = np.asarray(gap_wet_share(progress, load.body_length_m, load.body_width_m, load.open_sides))
    wet_share = np.where(needed > 0.0, wet_share, 0.0)
    gap_left = in_gap * wet_share
    return DryingOutcome(
        water_in_kg=plain(np.asarray(drained + film + in_gap)),
        drained_kg=plain(drained),
        evaporated_kg=plain(np.asarray((film - left) + (in_gap - gap_left))),
        surface_left_kg=plain(left),
        gap_left_kg=plain(np.asarray(gap_left)),
        gap_wet_share=plain(wet_share),
        load_temperature_K=plain(temperature),
        dry_at_s=plain(dry_at),
    )


def _transfer_from_heat_m_s(
    fluid: DryingFluid, heat_W_m2_K: FloatArray, temperature_K: FloatArray, pressure_Pa: FloatArray
) -> FloatArray:
    """Mass-transfer coefficient that belongs to a heat-transfer coefficient (Chilton–Colburn, dry-air properties)."""
    capacity = pressure_Pa / (DRY_AIR_GAS_CONSTANT_J_KG_K * temperature_K) * DRY_AIR_HEAT_CAPACITY_J_KG_K
    lewis = air_conductivity_W_m_K(temperature_K) / capacity / fluid.diffusivity_m2_s(temperature_K, pressure_Pa)
    return np.asarray(heat_W_m2_K / (capacity * lewis ** (2.0 / 3.0)))
