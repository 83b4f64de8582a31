"""Drying by the load's own heat in a standing chamber, as a dishwasher does: it starts well and stalls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.air_transfer import heat_transfer_W_m2_K
from model.drying import DryingLoad, DryingOutcome, water_to_remove_kg
from model.drying_fluid import DryingFluid, GAS_CONSTANT_J_mol_K, STANDARD_PRESSURE_Pa
from model.evaporation import rising_root
from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative, require_within
from model.gap_drying import (
    MOST_VAPOUR_SHARE,
    driven_gap_rate_m2_s,
    gap_progress_needed_m2,
    gap_wet_share,
    outside_dryness,
)

# Steps grow with time squared: the load cools fast at first. The tests hold film loss to 3 % of a general solver.
_STEPS = 240

# Vapour pressure and diffusivity are asked for at every fourth step. In between, while a load cools by a few kelvins,
# the first follows Clausius and Clapeyron and the second grows with temperature squared.
_ASKED_EVERY = 4

_REST_TOLERANCE_K = 1e-6


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
    them is Clausius and Clapeyron's, which need not be exact. No step passes the temperature at which a wet load rests,
    which a light one above boiling would: there the rate is cut and has no slope. The chamber's vapour pressure is
    held: walls condense all that comes. Neglected: radiation, condensation back onto a load colder than the wall's dew
    point, heat from a hot sump.
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
    dryness = outside_dryness(share * fluid.saturation_pressure_Pa(wall), pressure)
    needed = gap_progress_needed_m2(load.body_length_m, load.body_width_m, load.open_sides)
    needed = np.where(np.asarray(load.gap_volume_m3) > 0.0, needed, 0.0)
    vapour_K2 = _clausius_clapeyron_K(fluid) * pressure / heat_transfer_W_m2_K(fluid, 1.0, wall, pressure)
    rest = _rest_K(fluid, wall, pressure, dryness, vapour_K2)
    film_K, cooling = film * fluid.latent_heat_J_kg / capacity, heat * area * time / capacity
    given = np.broadcast_arrays(start, film_K, needed, cooling, time, wall, pressure, dryness, vapour_K2, rest)
    temperature, left_K, progress, dry_at = _followed(_Standing(fluid, *given))
    left = left_K * capacity / fluid.latent_heat_J_kg
    wet_share = np.asarray(gap_wet_share(progress, load.body_length_m, load.body_width_m, load.open_sides))
    wet_share = np.where(needed > 0.0, wet_share, 0.0)
    gap_left = in_gap * wet_share
    return DryingOutcome(
        water_in_kg=plain(np.asarray(drained + film + in_gap)),
        drained_kg=plain(drained),
        evaporated_kg=plain(np.asarray((film - left) + (in_gap - gap_left))),
        surface_left_kg=plain(np.asarray(left)),
        gap_left_kg=plain(np.asarray(gap_left)),
        gap_wet_share=plain(wet_share),
        load_temperature_K=plain(temperature),
        dry_at_s=plain(dry_at * time),
    )


@dataclass(frozen=True, slots=True)
class _Standing:
    """Loads and where they stand, in arrays of one shape; heat in the kelvins by which it cools its load."""

    fluid: DryingFluid
    start_K: FloatArray
    film_K: FloatArray
    """Heat that evaporates the film [K]."""
    needed_m2: FloatArray
    """Gap progress that dries the gap, 0 without one [m²]."""
    cooling: FloatArray
    """Heat into the air over the whole time, per kelvin above the wall [1]."""
    time_s: FloatArray
    wall_K: FloatArray
    pressure_Pa: FloatArray
    dryness: FloatArray
    """`outside_dryness` of the chamber [1]."""
    vapour_K2: FloatArray
    """Heat into vapour ÷ heat into the air per kelvin, per driving force and times temperature [K²]."""
    rest_K: FloatArray
    """Temperature at which the load rests while its film lasts [K]."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the fluid is like at a temperature for which it was asked."""

    per_K: FloatArray
    """1 ÷ that temperature [1/K]."""
    vapour_share: FloatArray
    """Vapour pressure ÷ total pressure [1]."""
    gap_m2_K: FloatArray
    """Gap progress over the whole time, per driving force and kelvin [m²/K]."""


def _followed(standing: _Standing) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Follow loads to the end: temperature [K], film left [K], gap progress [m²], part of the time when all was dry."""
    wall, rest, needed = standing.wall_K, standing.rest_K, standing.needed_m2
    temperature, film = standing.start_K, standing.film_K
    progress, wet_steps = np.zeros(needed.shape), np.zeros(needed.shape, dtype=np.int64)
    asked = _ask(standing, temperature)
    colder_K, colder_per_K, gap_m2 = _vapour(standing, asked, temperature)
    for step in range(1, _STEPS + 1):
        part = (step / _STEPS) ** 2 - ((step - 1) / _STEPS) ** 2
        bears_film = film > 0.0
        wet_steps = wet_steps + (bears_film | (progress < needed))
        into_air = part * standing.cooling
        into_vapour = bears_film * into_air
        lost_K = into_air * (temperature - wall) + into_vapour * colder_K
        drop_K = lost_K / (1.0 + into_air + into_vapour * colder_per_K)
        passes_rest = bears_film & ((temperature >= rest) != (temperature - drop_K >= rest))
        drop_K = np.where(passes_rest, temperature - rest, drop_K)
        # Heat that does not go into the air evaporates film, while there is some: so the heat balance closes.
        into_air_K = into_air * (temperature - drop_K - wall)
        evaporated_K = np.minimum(np.maximum(drop_K - into_air_K, 0.0), film)
        film = film - evaporated_K
        temperature = np.maximum(temperature - into_air_K - evaporated_K, standing.fluid.coldest_K)
        if step % _ASKED_EVERY == 0:
            asked = _ask(standing, temperature)
        gap_before_m2 = gap_m2
        colder_K, colder_per_K, gap_m2 = _vapour(standing, asked, temperature)
        progress = progress + 0.5 * part * (gap_before_m2 + gap_m2)
    wet = (film > 0.0) | (progress < needed)
    return temperature, film, progress, np.where(wet, np.inf, (wet_steps / _STEPS) ** 2)


def _ask(standing: _Standing, temperature_K: FloatArray) -> _Asked:
    """Ask what the fluid is like at a temperature."""
    fluid, pressure, per_K = standing.fluid, standing.pressure_Pa, 1.0 / temperature_K
    share = fluid.saturation_pressure_Pa(temperature_K) / pressure
    return _Asked(per_K, share, driven_gap_rate_m2_s(fluid, temperature_K, per_K, pressure) * standing.time_s)


def _vapour(standing: _Standing, asked: _Asked, temperature_K: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give what vapour does near the temperature asked for.

    Returns: by how much colder air would cool a wet load as vapour does [K], the growth of that with temperature [1],
    gap progress over the whole time [m²].
    """
    slope_K, per_K = _clausius_clapeyron_K(standing.fluid), 1.0 / temperature_K
    share = asked.vapour_share * np.exp(slope_K * (asked.per_K - per_K))
    driving, air_share = _driving(standing.dryness, share)
    rises = (driving > 0.0) & (share < MOST_VAPOUR_SHARE)
    per_driving_K = standing.vapour_K2 * per_K
    steeper = share / air_share * (slope_K * per_K) - driving
    return per_driving_K * driving, rises * (per_driving_K * per_K * steeper), asked.gap_m2_K * temperature_K * driving


def _driving(dryness: FloatArray, vapour_share: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Driving force ln((1 − y_out)/(1 − y)), 0 or more, and the share of air 1 − y at the load."""
    air_share = 1.0 - np.minimum(vapour_share, MOST_VAPOUR_SHARE)
    return np.maximum(dryness - np.log(air_share), 0.0), air_share


def _rest_K(
    fluid: DryingFluid, wall_K: FloatArray, pressure_Pa: FloatArray, dryness: FloatArray, vapour_K2: FloatArray
) -> FloatArray:
    """Where the air's heat pays for the vapour, so that a load rests while wet; no colder than the fluid's data go."""
    wall_K, pressure_Pa, dryness, vapour_K2 = np.broadcast_arrays(wall_K, pressure_Pa, dryness, vapour_K2)

    def lost_K(at_K: FloatArray) -> FloatArray:
        driving, _ = _driving(dryness, fluid.saturation_pressure_Pa(at_K) / pressure_Pa)
        return np.asarray(at_K - wall_K + vapour_K2 / at_K * driving)

    coldest = np.full(wall_K.shape, fluid.coldest_K)
    return rising_root(lost_K, coldest, np.maximum(wall_K, coldest), _REST_TOLERANCE_K)


def _clausius_clapeyron_K(fluid: DryingFluid) -> float:
    """Growth of the logarithm of vapour pressure with −1/T."""
    return fluid.molar_mass_kg_mol * fluid.latent_heat_J_kg / GAS_CONSTANT_J_mol_K
