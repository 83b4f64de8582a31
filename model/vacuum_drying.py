"""Vacuum drying: all liquid, in gaps too, boils at the reduced pressure; heat and pump set the time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from model.drying import DryingLoad, water_to_remove_kg
from model.drying_fluid import DryingFluid, GAS_CONSTANT_J_mol_K
from model.fluids import FloatArray, Values, plain, require_above_zero, require_not_negative
from model.input_errors import UnphysicalInputError

_HALVINGS = 60
_HOTTEST_K = 423.15


@dataclass(frozen=True, slots=True, kw_only=True)
class VacuumDrying:
    """A vacuum dry of one load; water in = drained + flashed + boiled by heat."""

    boiling_temperature_K: Values
    """At the chamber pressure; the wet load sits at it [K]."""
    water_in_kg: Values
    """On surfaces and in gaps right after the rinse [kg]."""
    drained_kg: Values
    """Gone as liquid before the vacuum [kg]."""
    flashed_kg: Values
    """Evaporated by heat that the load brings along [kg]."""
    boiled_kg: Values
    """Left for the heater to evaporate [kg]."""
    heat_limit_kg_s: Values
    """What the heating can evaporate [kg/s]."""
    pump_limit_kg_s: Values
    """What the pump can take away as vapour [kg/s]."""
    total_time_s: Values
    """Pump-down, flash and boiling; inf where neither heat nor pump gets it done [s]."""
    limited_by: NDArray[np.str_]
    """What takes the largest part: pump-down, pump or heat."""


def boiling_temperature_K(fluid: DryingFluid, pressure_Pa: Values) -> Values:
    """Temperature at which the liquid boils under a pressure.

    Parameters
    ----------
    fluid : the liquid
    pressure_Pa : Pa, float or array

    Returns
    -------
    K.

    Errors
    ------
    ValueError if the liquid would boil below its lowest usable temperature (water freezes) or above 150 °C.

    Notes
    -----
    Bisection on the fluid's own vapour-pressure curve.

    >>> from model.drying_fluid import water_for_drying
    >>> round(boiling_temperature_K(water_for_drying(), 7384.9) - 273.15, 2)
    40.0
    """
    pressure = require_above_zero("pressure", pressure_Pa, "Pa")
    low, high = np.full(pressure.shape, fluid.coldest_K), np.full(pressure.shape, _HOTTEST_K)
    if np.any(pressure < fluid.saturation_pressure_Pa(low)) or np.any(pressure > fluid.saturation_pressure_Pa(high)):
        raise UnphysicalInputError(
            f"vacuum pressure: {float(np.min(pressure)):g} Pa lies outside the vapour-pressure range of the liquid "
            f"({float(np.min(fluid.saturation_pressure_Pa(low))):g} Pa at its lowest temperature). "
            "Below that it freezes instead of boiling; give a higher pressure."
        )
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        too_cold = fluid.saturation_pressure_Pa(middle) < pressure
        low, high = np.where(too_cold, middle, low), np.where(too_cold, high, middle)
    return plain(np.asarray(0.5 * (low + high)))


def vacuum_drying(
    load: DryingLoad,
    fluid: DryingFluid,
    *,
    pressure_Pa: Values,
    heating_power_W: Values,
    pump_speed_m3_s: Values,
    pump_down_time_s: Values,
) -> VacuumDrying:
    """Time to dry a load, gaps included, by boiling at reduced pressure.

    Parameters
    ----------
    load, fluid : what is dried and the liquid
    pressure_Pa : Pa in the chamber while it boils
    heating_power_W : W that reach the load (radiation, warm shelves, air pulses)
    pump_speed_m3_s : m³/s of vapour at chamber pressure, condenser counted
    pump_down_time_s : s to reach the pressure. All broadcast.

    Returns
    -------
    `VacuumDrying`.

    Errors
    ------
    ValueError if the pressure is outside the liquid's range, the heat capacity is not above 0, or a flow is
    negative.

    Notes
    -----
    Flash: C(T_load − T_boil)/L, at most all liquid. The rest: power ÷ L. Both at most pump speed × vapour
    density. Vapour leaves gaps by pressure, so their length does not count; that is what sets vacuum apart
    from hot air. Without heat the load cools to boiling and the drying stops. Choking in very narrow gaps
    and bumping are neglected.
    """
    drained, film, gap = water_to_remove_kg(load, fluid)
    boiling = np.asarray(boiling_temperature_K(fluid, pressure_Pa))
    pressure = np.asarray(pressure_Pa, dtype=np.float64)
    capacity = require_above_zero("heat capacity of the load", load.heat_capacity_J_K, "J/K")
    start = require_above_zero("load temperature", load.temperature_K, "K")
    power = require_not_negative("heating power", heating_power_W, "W")
    speed = require_not_negative("pump speed", pump_speed_m3_s, "m³/s")
    pump_down = require_not_negative("pump-down time", pump_down_time_s, "s")
    inventory = film + gap
    flashed = np.minimum(capacity * np.maximum(start - boiling, 0.0) / fluid.latent_heat_J_kg, inventory)
    rest = inventory - flashed
    # A load colder than boiling must first be heated up to it.
    heat_up = _time(capacity * np.maximum(boiling - start, 0.0) * (rest > 0.0), power)
    by_heat = power / fluid.latent_heat_J_kg
    by_pump = speed * pressure * fluid.molar_mass_kg_mol / (GAS_CONSTANT_J_mol_K * boiling)
    pump_time = _time(flashed, by_pump)
    boil_time = heat_up + _time(rest, np.minimum(by_heat, by_pump))
    heat_time = np.where(by_heat <= by_pump, boil_time, 0.0)
    pump_time_all = pump_time + np.where(by_heat <= by_pump, 0.0, boil_time)
    limited_by = np.select(
        [(heat_time >= pump_time_all) & (heat_time > pump_down), pump_time_all > pump_down],
        ["heat", "pump"],
        default="pump-down",
    )
    return VacuumDrying(
        boiling_temperature_K=plain(boiling),
        water_in_kg=plain(np.asarray(drained + inventory)),
        drained_kg=plain(drained),
        flashed_kg=plain(np.asarray(flashed)),
        boiled_kg=plain(np.asarray(rest)),
        heat_limit_kg_s=plain(np.asarray(by_heat)),
        pump_limit_kg_s=plain(np.asarray(by_pump)),
        total_time_s=plain(np.asarray(pump_down + pump_time + boil_time)),
        limited_by=limited_by,
    )


def _time(amount: FloatArray, rate: FloatArray) -> FloatArray:
    """Amount ÷ rate: 0 for no amount, inf for an amount at no rate."""
    return np.asarray(
        np.where(amount <= 0.0, 0.0, np.where(rate > 0.0, amount / np.where(rate > 0.0, rate, 1.0), np.inf))
    )
