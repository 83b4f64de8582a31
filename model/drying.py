"""Drying a load in hot air: time until film, gaps and laminate are dry, and what is left after a given time.

Order of events: drain and blow-off take liquid away as liquid; the film evaporates at the wet bulb; then
the board warms to the air and the liquid under components leaves by diffusion; moisture in the laminate
last. `passive_drying` and `vacuum_drying` treat dryers without hot air.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.air_transfer import heat_transfer_W_m2_K
from model.drying_fluid import DryingFluid, STANDARD_PRESSURE_Pa
from model.evaporation import (
    MOLAR_MASS_DRY_AIR_kg_mol,
    SurfaceEvaporation,
    for_distinct_air,
    surface_evaporation,
    wet_surface_K,
)
from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative, require_within
from model.gap_drying import gap_progress_needed_m2, gap_rate_m2_s, gap_wet_share
from model.input_errors import UnphysicalInputError
from model.moist_air import DRY_AIR_HEAT_CAPACITY_J_KG_K

# The board warms up as exp(−x); after x = 8 it is within 0.03 % of the way. Midpoints of equal steps in x.
_WARM_UP_SPAN = 8.0
_WARM_UP_STEPS = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class DryingLoad:
    """A wet load as it leaves the last rinse; body and open sides are those of the component slowest to dry."""

    wet_area_m2: Values
    """Wetted area of boards and rack, both faces [m²]."""
    film_before_drain_m: Values
    """Liquid per area right after the rinse [m]."""
    film_drained_m: Values
    """Liquid per area after draining, puddles spread over the area [m]."""
    blow_off_share_left: Values
    """Share of the drained film that a blow-off leaves; 1 without blow-off [1]."""
    gap_volume_m3: Values
    """Liquid under components; no blow-off counts on it [m³]."""
    body_length_m: Values
    """Body of the slowest component; for two open sides the way from one open end to the other [m]."""
    body_width_m: Values
    """Other side of that body [m]."""
    open_sides: Values
    """Sides of that body through which vapour can leave, 1 to 4 [1]."""
    heat_capacity_J_K: Values
    """Boards and rack together [J/K]."""
    temperature_K: Values
    """Of the load as it leaves the rinse [K]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HotAirDryer:
    """A chamber or tunnel with heated air."""

    air_temperature_K: Values
    """Held by the heater [K]."""
    transfer_m_s: Values
    """Mass-transfer coefficient at the board, from `air_transfer.stream_transfer_m_s` [m/s]."""
    inlet_humidity_ratio: Values
    """Vapour of the liquid ÷ dry air in the air drawn in [kg/kg]."""
    inlet_temperature_K: Values
    """Of the air drawn in [K]."""
    exhaust_dry_air_kg_s: Values
    """Dry air exchanged with the outside: circulating flow × exhaust share; inf for an open stream [kg/s]."""
    heater_power_W: Values = np.inf
    """Heat available; inf where it never limits [W]."""
    pressure_Pa: Values = STANDARD_PRESSURE_Pa
    """Total pressure [Pa]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DryingResult:
    """Time a load needs to dry in hot air, with what it is made of."""

    film_kg: Values
    """Liquid on open surfaces when the hot air begins [kg]."""
    evaporation_rate_kg_s: Values
    """Of the film, all limits counted [kg/s]."""
    evaporation: SurfaceEvaporation
    """The balance behind it, heater limit not counted."""
    surface_time_s: Values
    """Until the film is gone [s]."""
    warm_up_time_s: Values
    """Time constant with which the board then warms to the air [s]."""
    gap_hot_time_s: Values
    """Gap drying alone, with the board at the air temperature from the start [s]."""
    gap_dry_at_s: Values
    """From the start until the gap is dry too [s]."""
    laminate_dry_at_s: Values
    """From the start until the laminate is at its target; 0 where none is asked for [s]."""
    total_time_s: Values
    """Until everything asked for is dry; inf when it never is [s]."""
    board_temperature_K: Values
    """The board tends to this, the air temperature [K]."""
    board_limit_exceeded: Values
    """1 where that is above the board's limit, else 0 [1]."""
    limited_by: NDArray[np.str_]
    """What takes the largest part: film, humidity, heat, gap or laminate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DryingOutcome:
    """Where the liquid is after a given time; water in = drained + evaporated + on surfaces + in gaps."""

    water_in_kg: Values
    """On surfaces and in gaps right after the rinse [kg]."""
    drained_kg: Values
    """Gone as liquid: dripped or blown off [kg]."""
    evaporated_kg: Values
    """Gone as vapour [kg]."""
    surface_left_kg: Values
    """Still on open surfaces [kg]."""
    gap_left_kg: Values
    """Still under components [kg]."""
    gap_wet_share: Values
    """Share of the slowest gap still wet [1]."""
    load_temperature_K: Values
    """Of the load at the end [K]."""
    dry_at_s: Values
    """When everything was dry; inf if not within the time [s]."""


def water_to_remove_kg(load: DryingLoad, fluid: DryingFluid) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Split the liquid that a load brings into drained, film and gap.

    Parameters
    ----------
    load : the wet load
    fluid : the liquid

    Returns
    -------
    Drained, film left for drying, in gaps: kg each.

    Errors
    ------
    ValueError if the drained film is thicker than the film before draining, a length is negative, or a share is
    outside 0..1.

    Notes
    -----
    Film left = area × drained film × share that the blow-off leaves. The gap keeps all its liquid:
    capillary pressure holds it, 2σ/h = 2.9 kPa at 50 µm. A blow-off stronger than that may do better (air
    at 70 m/s has 2.9 kPa), which is not counted.
    """
    area = require_above_zero("wet area", load.wet_area_m2, "m²")
    before = require_not_negative("film before draining", load.film_before_drain_m, "m")
    drained = require_not_negative("drained film", load.film_drained_m, "m")
    if np.any(drained > before):
        raise UnphysicalInputError(
            "drained film: it is thicker than the film before draining. Give a drained film that is no thicker."
        )
    left = require_within("share left by the blow-off", load.blow_off_share_left, 0.0, 1.0, "(share)")
    gap = require_not_negative("gap volume", load.gap_volume_m3, "m³")
    density = fluid.liquid_density_kg_m3
    film = density * area * drained * left
    return np.asarray(density * area * before - film), np.asarray(film), np.asarray(density * gap)


def dry_time_needed(
    load: DryingLoad,
    dryer: HotAirDryer,
    fluid: DryingFluid,
    laminate_time_s: Values = 0.0,
    board_limit_K: Values = np.inf,
) -> DryingResult:
    """Time a load needs in a hot-air dryer until film, gap and, if asked for, laminate are dry.

    Parameters
    ----------
    load, dryer, fluid : what is dried, in what, and the liquid
    laminate_time_s : s that the laminate needs at the air temperature (`laminate.drying_time_s`); 0 if not
        asked for
    board_limit_K : K that the board stands. All broadcast.

    Returns
    -------
    `DryingResult`; times are `inf` where the dryer cannot carry the vapour away.

    Errors
    ------
    ValueError for non-physical inputs, in words of the function concerned.

    Notes
    -----
    Film time = film ÷ evaporation rate. The gap dries all the while: at the wet bulb as long as the film is
    there, then along the warm-up from the wet bulb of dry air (time constant C/(hA)), then at the air
    temperature; ∫ rate dt = progress needed. The laminate starts when the film is gone. Neglected: sensible
    heat of the load before the film evaporates (a load from a hot rinse brings more than it needs), the
    last patches of the film that keep single edges closed, radiation. More exhaust with a limited heater
    may take longer; with enough heat it never does.
    """
    _, film, _ = water_to_remove_kg(load, fluid)
    laminate = require_within("laminate time", laminate_time_s, 0.0, np.inf, "s")
    limit = require_above_zero("board temperature limit", np.minimum(board_limit_K, 1e9), "K")
    balance, rate, heater_short = _film_rate(load, dryer, fluid)
    surface_time = np.where(film > 0.0, film / np.where(rate > 0.0, rate, 1.0), 0.0)
    surface_time = np.where((film > 0.0) & (rate <= 0.0), np.inf, surface_time)
    gap = _GapCourse(load, dryer, fluid, balance)
    gap_dry_at = gap.dry_at_s(surface_time)
    laminate_dry_at = np.where(laminate > 0.0, surface_time + laminate, 0.0)
    total = np.maximum(gap_dry_at, laminate_dry_at)
    air = np.asarray(dryer.air_temperature_K, dtype=np.float64)
    fresh = np.asarray(balance.rate_in_fresh_air_kg_s)
    # No rate even in fresh air though the air moves: the air drawn in is saturated.
    humid = (rate < 0.5 * fresh) | ((fresh <= 0.0) & (np.asarray(dryer.transfer_m_s) > 0.0))
    after_film = np.where(np.isinf(surface_time), 0.0, total - np.where(np.isinf(surface_time), 0.0, surface_time))
    limited_by = np.select(
        [(laminate_dry_at > gap_dry_at) & (laminate > surface_time), after_film > surface_time, heater_short, humid],
        ["laminate", "gap", "heat", "humidity"],
        default="film",
    )
    return DryingResult(
        film_kg=plain(film),
        evaporation_rate_kg_s=plain(rate),
        evaporation=balance,
        surface_time_s=plain(surface_time),
        warm_up_time_s=plain(gap.warm_up_s),
        gap_hot_time_s=plain(gap.hot_time_s()),
        gap_dry_at_s=plain(gap_dry_at),
        laminate_dry_at_s=plain(laminate_dry_at),
        total_time_s=plain(total),
        board_temperature_K=plain(air),
        board_limit_exceeded=plain(np.where(air > limit, 1.0, 0.0)),
        limited_by=limited_by,
    )


def dry_outcome(load: DryingLoad, dryer: HotAirDryer, fluid: DryingFluid, time_s: Values) -> DryingOutcome:
    """Where the liquid is after a given time in a hot-air dryer.

    Parameters
    ----------
    load, dryer, fluid : as in `dry_time_needed`
    time_s : s available, float or array

    Returns
    -------
    `DryingOutcome`.

    Errors
    ------
    ValueError if the time is negative, or as in `dry_time_needed`.

    Notes
    -----
    Same course as `dry_time_needed`, read at the given time. All gap liquid is taken to dry as under the
    slowest component, which overstates what is left. The laminate is not part of this balance.
    """
    time = require_not_negative("time available", time_s, "s")
    drained, film, in_gap = water_to_remove_kg(load, fluid)
    balance, rate, _ = _film_rate(load, dryer, fluid)
    surface_left = np.maximum(film - rate * time, 0.0)
    surface_time = np.where(film > 0.0, film / np.maximum(rate, 1e-300), 0.0)
    gap = _GapCourse(load, dryer, fluid, balance)
    after = np.maximum(time - surface_time, 0.0)
    wet = np.asarray(
        gap_wet_share(gap.progress_m2(surface_time, time), load.body_length_m, load.body_width_m, load.open_sides)
    )
    warm = np.asarray(balance.surface_temperature_K) - np.asarray(dryer.air_temperature_K)
    dry_at = gap.dry_at_s(np.where((film > 0.0) & (rate <= 0.0), np.inf, surface_time))
    gap_left = in_gap * wet
    return DryingOutcome(
        water_in_kg=plain(drained + film + in_gap),
        drained_kg=plain(drained),
        evaporated_kg=plain((film - surface_left) + (in_gap - gap_left)),
        surface_left_kg=plain(np.asarray(surface_left)),
        gap_left_kg=plain(np.asarray(gap_left)),
        gap_wet_share=plain(wet),
        load_temperature_K=plain(np.asarray(dryer.air_temperature_K + warm * np.exp(-after / gap.warm_up_s))),
        dry_at_s=plain(np.where(dry_at <= time, dry_at, np.inf)),
    )


def vapour_pressure_of_air_Pa(fluid: DryingFluid, humidity_ratio: Values, pressure_Pa: Values) -> Values:
    """Partial pressure of the liquid's vapour in air of a given humidity ratio (kg vapour ÷ kg dry air), in Pa.

    Parameters
    ----------
    fluid : the liquid
    humidity_ratio : kg/kg, 0 or more, `inf` for pure vapour
    pressure_Pa : total pressure, Pa

    Returns
    -------
    Pa.

    Errors
    ------
    ValueError if the humidity ratio is negative or the pressure is not above 0.
    """
    ratio = require_within("humidity ratio", humidity_ratio, 0.0, np.inf, "kg/kg")
    pressure = require_above_zero("pressure", pressure_Pa, "Pa")
    dry_share = 1.0 / (1.0 + ratio * MOLAR_MASS_DRY_AIR_kg_mol / fluid.molar_mass_kg_mol)
    return plain(np.asarray(pressure * (1.0 - dry_share)))


def _film_rate(
    load: DryingLoad, dryer: HotAirDryer, fluid: DryingFluid
) -> tuple[SurfaceEvaporation, FloatArray, NDArray[np.bool_]]:
    """Evaporation rate with transfer, exhaust and heater counted, and where the heater is what limits."""
    balance = surface_evaporation(
        fluid,
        wet_area_m2=load.wet_area_m2,
        transfer_m_s=dryer.transfer_m_s,
        air_temperature_K=dryer.air_temperature_K,
        inlet_humidity_ratio=dryer.inlet_humidity_ratio,
        exhaust_dry_air_kg_s=dryer.exhaust_dry_air_kg_s,
        pressure_Pa=dryer.pressure_Pa,
    )
    power = require_within("heater power", dryer.heater_power_W, 0.0, np.inf, "W")
    rise = np.asarray(dryer.air_temperature_K) - require_above_zero("inlet temperature", dryer.inlet_temperature_K, "K")
    # An unlimited heater is left out of the sum: inf − inf has no value.
    finite = np.where(np.isinf(power), 0.0, power)
    for_air = np.minimum(dryer.exhaust_dry_air_kg_s, 1e30) * DRY_AIR_HEAT_CAPACITY_J_KG_K * np.maximum(rise, 0.0)
    heated = np.where(np.isinf(power), np.inf, np.maximum(finite - for_air, 0.0) / fluid.latent_heat_J_kg)
    return balance, np.minimum(np.asarray(balance.rate_kg_s), heated), np.asarray(heated < balance.rate_kg_s)


class _GapCourse:
    """Gap drying through wet bulb, warm-up and hot time of one dryer; arrays over draws."""

    def __init__(
        self, load: DryingLoad, dryer: HotAirDryer, fluid: DryingFluid, balance: SurfaceEvaporation
    ) -> None:
        """Work out the rates of the three phases."""
        area = np.asarray(load.wet_area_m2, dtype=np.float64)
        capacity = require_above_zero("heat capacity of the load", load.heat_capacity_J_K, "J/K")
        air = np.asarray(dryer.air_temperature_K, dtype=np.float64)
        heat = np.asarray(heat_transfer_W_m2_K(fluid, dryer.transfer_m_s, air, dryer.pressure_Pa))
        needed = gap_progress_needed_m2(load.body_length_m, load.body_width_m, load.open_sides)
        # A load without gaps needs no gap drying.
        self._needed = np.where(np.asarray(load.gap_volume_m3) > 0.0, needed, 0.0)
        self.warm_up_s: FloatArray = np.asarray(capacity / np.maximum(heat * area, 1e-12))
        surface = np.asarray(balance.surface_temperature_K)
        chamber = vapour_pressure_of_air_Pa(fluid, balance.chamber_humidity_ratio, dryer.pressure_Pa)
        inlet = vapour_pressure_of_air_Pa(fluid, dryer.inlet_humidity_ratio, dryer.pressure_Pa)
        self._wet_rate = np.asarray(gap_rate_m2_s(fluid, surface, chamber, dryer.pressure_Pa))
        self._hot_rate = np.asarray(gap_rate_m2_s(fluid, air, inlet, dryer.pressure_Pa))
        step = _WARM_UP_SPAN / _WARM_UP_STEPS
        fractions = np.exp(-step * (np.arange(_WARM_UP_STEPS) + 0.5))
        # How fast the air moves does not change its wet bulb; where it stands still there is none.
        transfer = np.asarray(dryer.transfer_m_s)
        moving = 1.0 if np.all(transfer > 0.0) else transfer

        def warming_rates(air_K: FloatArray) -> FloatArray:
            # Humid air keeps a wet board warmer, so that worse air could look better by seconds. Warming from the wet
            # bulb of dry air is on the safe side and rules that out.
            coldest = np.asarray(
                wet_surface_K(
                    fluid, transfer_m_s=moving, air_temperature_K=air_K, inlet_humidity_ratio=0.0,
                    pressure_Pa=dryer.pressure_Pa,
                )
            )  # fmt: skip
            at = air_K - (air_K - coldest) * fractions.reshape(-1, *[1] * coldest.ndim)
            return np.asarray(gap_rate_m2_s(fluid, at, inlet, dryer.pressure_Pa))

        self._warming_rates = for_distinct_air(warming_rates, air, inlet, dryer.pressure_Pa, moving)
        self._step_s = step * self.warm_up_s

    def hot_time_s(self) -> FloatArray:
        """Time at the air temperature alone."""
        return _quotient(self._needed, self._hot_rate)

    def dry_at_s(self, surface_time_s: FloatArray) -> FloatArray:
        """When the gap and the film are dry, counted from the start."""
        endless = np.isinf(surface_time_s)
        start = np.where(endless, 0.0, surface_time_s)
        missing = np.maximum(self._needed - self._wet_rate * start, 0.0)
        time = start
        for rate in self._warming_rates:
            used = np.minimum(self._step_s, _quotient(missing, rate))
            time, missing = time + used, np.maximum(missing - rate * self._step_s, 0.0)
        return np.asarray(np.where(endless, np.inf, time + _quotient(missing, self._hot_rate)))

    def progress_m2(self, surface_time_s: FloatArray, time_s: FloatArray) -> FloatArray:
        """Rate × time summed up to a time."""
        total = self._wet_rate * np.minimum(time_s, surface_time_s)
        rest = np.maximum(time_s - surface_time_s, 0.0)
        for rate in self._warming_rates:
            total = total + rate * np.minimum(rest, self._step_s)
            rest = np.maximum(rest - self._step_s, 0.0)
        return np.asarray(total + self._hot_rate * rest)


def _quotient(amount: FloatArray, rate: FloatArray) -> FloatArray:
    """Amount ÷ rate: 0 for no amount, inf for an amount at no rate."""
    time = amount / np.where(rate > 0.0, rate, 1.0)
    return np.asarray(np.where(amount <= 0.0, 0.0, np.where(rate > 0.0, time, np.inf)))
