"""Drying by the load's own heat in a standing chamber, as a dishwasher does: it starts well and stalls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.drying import DryingLoad, DryingOutcome, water_to_remove_kg
from model.drying_fluid import DryingFluid, GAS_CONSTANT_J_mol_K, STANDARD_PRESSURE_Pa
from model.evaporation import rising_root
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

# Vapour pressure and diffusivity are asked for at every fourth step. In between, while a load cools by a few kelvins,
# the first follows Clausius and Clapeyron and the second grows with temperature squared.
_EXACT_EVERY = 4

# Loads whose end is known, because they are dry or as near to their rest as this, are looked for this often.
_LEAVE_EVERY = 16
_NEAR_REST_K = 0.1
_REST_TOLERANCE_K = 1e-3


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
    them is Clausius and Clapeyron's, which need not be exact. Above boiling, where the rate is cut and has no slope, no
    step passes the temperature at which a wet load rests. The chamber's vapour pressure is held: walls condense all
    that comes. Neglected: radiation, condensation back onto a load colder than the wall's dew point, heat from a hot
    sump.
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
    transfer = _transfer_from_heat_m_s(fluid, heat, wall, pressure)
    needed = gap_progress_needed_m2(load.body_length_m, load.body_width_m, load.open_sides)
    needed = np.where(np.asarray(load.gap_volume_m3) > 0.0, needed, 0.0)

    # Over the whole time and in K of the load: heat into vapour times K per driving force, into the air per K.
    molar_heat_J_mol = fluid.molar_mass_kg_mol * fluid.latent_heat_J_kg
    vapour_K2 = area * molar_heat_J_mol * transfer * (pressure / GAS_CONSTANT_J_mol_K) * (time / capacity)
    air = heat * area * (time / capacity)
    rest = _rest_K(fluid, start, wall, pressure, dryness, air, vapour_K2)
    given = np.broadcast_arrays(
        start, film * fluid.latent_heat_J_kg / capacity, time, wall, pressure, dryness, air, vapour_K2, needed, rest
    )
    course = _Course(fluid, np.stack([np.ravel(one) for one in given]))
    temperature, film_K, progress, dry_at = course.ended().reshape(4, *given[0].shape)
    left = film_K * capacity / fluid.latent_heat_J_kg
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
        load_temperature_K=plain(np.asarray(temperature)),
        dry_at_s=plain(np.asarray(dry_at * time)),
    )


class _Course:
    """Loads on their way, one a row: time in units of each row's own, heat in K by which it would cool its load."""

    _MOVING = (
        "temperature_K", "film_K", "time_s", "wall_K", "pressure_Pa", "dryness", "air", "vapour_K2", "needed_m2",
        "rest_K", "progress_m2", "wet_steps", "gap_rate_m2", "lost_K", "vapour_K", "vapour_slope", "known_share",
        "known_per_K", "rate_m2_K", "air_share", "driving", "place",
    )  # fmt: skip
    """What each row has of its own."""

    def __init__(self, fluid: DryingFluid, given: FloatArray) -> None:
        """Begin with the first ten that rows have of their own, shape (10, rows)."""
        rows = given.shape[1]
        (self.temperature_K, self.film_K, self.time_s, self.wall_K, self.pressure_Pa, self.dryness, self.air,
         self.vapour_K2, self.needed_m2, self.rest_K) = given  # fmt: skip
        self.progress_m2, self.wet_steps, self.gap_rate_m2, self.vapour_K, self.vapour_slope = np.zeros((5, rows))
        self.place = np.arange(rows)
        self.fluid = fluid
        self.slope_K = fluid.molar_mass_kg_mol * fluid.latent_heat_J_kg / GAS_CONSTANT_J_mol_K
        self.may_boil = bool(np.any(np.isfinite(self.rest_K)))
        self.any_film = bool(np.any(self.film_K > 0.0))
        self.part = 0.0
        self.end = np.empty((4, rows))

    def ended(self) -> FloatArray:
        """Follow all to the end: temperature, film left [K], gap progress and when all was dry, shape (4, rows)."""
        for step in range(_STEPS + 1):
            self._look(exact=step % _EXACT_EVERY == 0)
            if step == _STEPS or (step and step % _LEAVE_EVERY == 0):
                self._leave(step)
                if not self.place.size:
                    break
            self._cool(step)
        return self.end

    def _look(self, *, exact: bool) -> None:
        """Take vapour, gap rate and heat flows at the present temperature, and what the gap has dried since."""
        per_K = 1.0 / self.temperature_K
        if exact:
            self.known_share = self.fluid.saturation_pressure_Pa(self.temperature_K) / self.pressure_Pa
            self.known_per_K, share = per_K, self.known_share
            # The gap rate over driving force and temperature.
            rate_m2_s_K = driven_gap_rate_m2_s(self.fluid, self.temperature_K, per_K, self.pressure_Pa)
            self.rate_m2_K = rate_m2_s_K * self.time_s
        else:
            share = self.known_share * np.exp(self.slope_K * (self.known_per_K - per_K))
        self.air_share = 1.0 - np.minimum(share, MOST_VAPOUR_SHARE)
        self.driving = np.maximum(self.dryness - np.log(self.air_share), 0.0)
        before, self.gap_rate_m2 = self.gap_rate_m2, self.rate_m2_K * self.temperature_K * self.driving
        self.progress_m2 = self.progress_m2 + (before + self.gap_rate_m2) * (0.5 * self.part)
        wet = self.progress_m2 < self.needed_m2
        self.lost_K = self.air * (self.temperature_K - self.wall_K)
        if self.any_film:
            film = self.film_K > 0.0
            wet |= film
            per_driving = self.vapour_K2 * per_K * film
            self.vapour_K = per_driving * self.driving
            self.lost_K += self.vapour_K
            self.vapour_slope = (per_driving * self._steeper(per_K) - self.vapour_K) * per_K
        self.wet_steps += wet

    def _cool(self, step: int) -> None:
        """Take one step in temperature, and the film that its heat evaporates."""
        part = self.part = ((step + 1) / _STEPS) ** 2 - (step / _STEPS) ** 2
        holds = (self.vapour_slope + self.air) * part + 1.0
        drop = self.lost_K * part / holds
        if self.any_film:
            # Taken at the end of the step, as the implicit temperature step does: so the heat balance closes exactly.
            vapour_K = self.vapour_K - drop * self.vapour_slope
            if self.may_boil:
                # Where the vapour share is cut the slope is not that of a boiling load, which stops at its rest.
                way = self.temperature_K - self.rest_K
                beyond = (holds <= 0.0) | (drop > np.maximum(way, 0.0)) | (drop < np.minimum(way, 0.0))
                beyond &= self.film_K > 0.0
                drop = np.where(beyond, way, drop)
                into_air_K = self.air * (self.temperature_K - drop - self.wall_K)
                vapour_K = np.where(beyond, drop / part - into_air_K, vapour_K)
            self.film_K = np.maximum(self.film_K - np.maximum(vapour_K, 0.0) * part, 0.0)
        self.temperature_K = np.maximum(self.temperature_K - drop, self.fluid.coldest_K)

    def _leave(self, step: int) -> None:
        """Note the end of rows that are dry, near their rest or out of time, and go on without them."""
        remaining = 1.0 - (step / _STEPS) ** 2
        wet = self.wet_steps > step
        # A load near its rest goes there exponentially, and what is linear in its temperature goes with it.
        speed = self.vapour_slope + self.air
        near = np.abs(self.lost_K) <= _NEAR_REST_K * speed
        speed = np.where(near & (speed > 0.0), speed, 1.0)
        way_K = np.where(near, self.lost_K, 0.0) / speed
        part_of_way = -np.expm1(-speed * remaining)
        less_K = way_K * (remaining - part_of_way / speed)
        used_K = self.vapour_K * remaining - self.vapour_slope * less_K
        gap_slope = self.rate_m2_K * (self.driving + self._steeper(1.0 / self.temperature_K))
        gained_m2 = self.gap_rate_m2 * remaining - gap_slope * less_K
        # It stays what it is: the film is gone already or outlasts the time, and so for the gap.
        near &= (self.film_K <= 0.0) | (self.film_K > used_K)
        near &= (self.progress_m2 >= self.needed_m2) | (self.progress_m2 + 1.01 * gained_m2 < self.needed_m2)
        gone = near | ~wet | (step == _STEPS)
        if np.any(gone):
            cooled_K = self.wall_K + (self.temperature_K - self.wall_K) * np.exp(-self.air * remaining)
            end = (
                np.where(wet, self.temperature_K - way_K * part_of_way, cooled_K),
                np.maximum(self.film_K - used_K, 0.0), self.progress_m2 + gained_m2,
                np.where(wet, np.inf, (self.wet_steps / _STEPS) ** 2),
            )  # fmt: skip
            self.end[:, self.place[gone]] = np.stack(end)[:, gone]
            for name in self._MOVING:
                setattr(self, name, getattr(self, name)[~gone])
        if self.any_film and not np.any(self.film_K > 0.0):
            self.any_film = False
            self.vapour_K, self.vapour_slope = np.zeros((2, self.place.size))

    def _steeper(self, per_K: FloatArray) -> FloatArray:
        """Growth of the driving force with the logarithm of temperature, by Clausius and Clapeyron."""
        rises = (self.driving > 0.0) & (self.air_share > 1.0 - MOST_VAPOUR_SHARE)
        return np.asarray((1.0 / self.air_share - 1.0) * (self.slope_K * per_K) * rises)


def _rest_K(
    fluid: DryingFluid, start_K: FloatArray, wall_K: FloatArray, pressure_Pa: FloatArray, dryness: FloatArray,
    air: FloatArray, vapour_K2: FloatArray,
) -> FloatArray:  # fmt: skip
    """Temperature at which a wet load that boils or may come to do so rests; not a number where none can."""
    hottest_K, wall_K, pressure_Pa, dryness, air, vapour_K2 = np.broadcast_arrays(
        np.maximum(start_K, wall_K), wall_K, pressure_Pa, dryness, air, vapour_K2
    )
    boils = fluid.saturation_pressure_Pa(hottest_K) >= MOST_VAPOUR_SHARE * pressure_Pa
    if not np.any(boils):
        return np.asarray(np.nan)

    def lost_K(at_K: FloatArray) -> FloatArray:
        driving = np.maximum(dryness - np.log1p(-meniscus_vapour_share(fluid, at_K, pressure_Pa)), 0.0)
        return np.asarray(vapour_K2 / at_K * driving + air * (at_K - wall_K))

    rest = rising_root(lost_K, np.full(hottest_K.shape, fluid.coldest_K), hottest_K, _REST_TOLERANCE_K)
    return np.where(boils, rest, np.nan)


def _transfer_from_heat_m_s(
    fluid: DryingFluid, heat_W_m2_K: FloatArray, temperature_K: FloatArray, pressure_Pa: FloatArray
) -> FloatArray:
    """Mass-transfer coefficient that belongs to a heat-transfer coefficient (Chilton–Colburn, dry-air properties)."""
    capacity = pressure_Pa / (DRY_AIR_GAS_CONSTANT_J_KG_K * temperature_K) * DRY_AIR_HEAT_CAPACITY_J_KG_K
    lewis = air_conductivity_W_m_K(temperature_K) / capacity / fluid.diffusivity_m2_s(temperature_K, pressure_Pa)
    return np.asarray(heat_W_m2_K / (capacity * lewis ** (2.0 / 3.0)))
