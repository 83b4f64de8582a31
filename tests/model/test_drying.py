"""Drying a load: hot air, blow-off, standing chamber, vacuum; mass closes and better air never takes longer."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

import model.passive_drying
from model.air_transfer import (
    heat_transfer_W_m2_K,
    nozzle_array_sherwood,
    plate_sherwood,
    round_nozzle_sherwood,
    stream_transfer_m_s,
)
from model.drying import (
    DryingLoad,
    HotAirDryer,
    dry_outcome,
    dry_time_needed,
    vapour_pressure_of_air_Pa,
    water_to_remove_kg,
)
from model.drying_fluid import solvent_for_drying, water_for_drying
from model.evaporation import exhaust_limit_kg_s, for_distinct_air, rising_root, surface_evaporation, wet_surface_K
from model.fluids import water_saturation_pressure_Pa
from model.gap_drying import gap_progress_needed_m2, gap_rate_m2_s, gap_wet_share
from model.moist_air import air_conductivity_W_m_K, vapour_diffusivity_m2_s
from model.passive_drying import StandingChamber, passive_dry_outcome
from model.vacuum_drying import boiling_temperature_K, vacuum_drying

WATER = water_for_drying()
# 2-propanol, data-sheet values from memory: 5.9 kPa at 25 °C, 664 kJ/kg, diffusivity about 1e-5 m²/s.
PROPANOL = solvent_for_drying(
    molar_mass_kg_mol=0.0601,
    liquid_density_kg_m3=785.0,
    latent_heat_J_kg=6.64e5,
    vapour_pressure_Pa=5900.0,
    vapour_pressure_temperature_K=298.15,
    diffusivity_m2_s=1.0e-5,
    diffusivity_temperature_K=298.15,
    diffusivity_exponent=1.75,
    coldest_K=253.15,
)
# A rack of boards with a QFN of 7 mm, gap 50 µm: one square metre wet, 50 µm of film once drained.
LOAD = DryingLoad(
    wet_area_m2=1.0,
    film_before_drain_m=100e-6,
    film_drained_m=50e-6,
    blow_off_share_left=1.0,
    gap_volume_m3=10 * 7e-3 * 7e-3 * 50e-6,
    body_length_m=7e-3,
    body_width_m=7e-3,
    open_sides=4.0,
    heat_capacity_J_K=2500.0,
    temperature_K=338.15,
)


def hot_air(celsius=90.0, velocity=5.0, humidity=0.008, exhaust=0.05, **other):  # type: ignore[no-untyped-def]
    return HotAirDryer(
        air_temperature_K=celsius + 273.15,
        transfer_m_s=stream_transfer_m_s(WATER, velocity, 0.2, celsius + 273.15),
        inlet_humidity_ratio=humidity,
        inlet_temperature_K=293.15,
        exhaust_dry_air_kg_s=exhaust,
        **other,
    )


def assert_closes(outcome) -> None:  # type: ignore[no-untyped-def]
    gone = outcome.drained_kg + outcome.evaporated_kg + outcome.surface_left_kg + outcome.gap_left_kg
    assert gone == pytest.approx(outcome.water_in_kg, rel=1e-9)
    for part in (outcome.drained_kg, outcome.evaporated_kg, outcome.surface_left_kg, outcome.gap_left_kg):
        assert np.all(np.asarray(part) >= -1e-15)


# ---- what the machine kinds must show ----


@pytest.mark.parametrize("body_m", [5e-3, 7e-3])
@pytest.mark.parametrize("celsius", [80.0, 95.0, 110.0])
def test_forced_hot_air_dries_a_low_component_in_tens_of_minutes_at_most(body_m: float, celsius: float) -> None:
    load = replace(LOAD, body_length_m=body_m, body_width_m=body_m)
    need = dry_time_needed(load, hot_air(celsius), WATER)
    assert 60.0 < need.total_time_s < 30 * 60.0
    assert dry_outcome(load, hot_air(celsius), WATER, 30 * 60.0).gap_left_kg == 0.0


@pytest.mark.parametrize("body_m", [5e-3, 7e-3])
@pytest.mark.parametrize(("wall_celsius", "saturation"), [(30.0, 1.0), (22.0, 0.5)])
def test_standing_in_its_own_heat_leaves_water_under_a_low_component(
    body_m: float, wall_celsius: float, saturation: float
) -> None:
    load = replace(LOAD, body_length_m=body_m, body_width_m=body_m)
    chamber = StandingChamber(
        wall_temperature_K=wall_celsius + 273.15, saturation_share=saturation, heat_transfer_W_m2_K=6.0
    )
    outcome = passive_dry_outcome(load, chamber, WATER, 45 * 60.0)
    assert outcome.gap_wet_share > 0.1
    assert outcome.dry_at_s == np.inf
    assert_closes(outcome)


def test_half_a_minute_of_blow_off_dries_the_surface_and_not_the_gap() -> None:
    blown = replace(LOAD, blow_off_share_left=0.02)
    outcome = dry_outcome(blown, hot_air(70.0, velocity=30.0, exhaust=0.5), WATER, 30.0)
    assert outcome.surface_left_kg == 0.0
    assert outcome.gap_wet_share > 0.7
    assert_closes(outcome)


# ---- balances ----


@settings(deadline=None, max_examples=50)
@given(
    st.floats(0.0, 2000.0), st.floats(50.0, 110.0), st.floats(0.5, 40.0), st.floats(0.0, 0.2), st.floats(0.0, 1.0)
)
def test_hot_air_mass_closes(time: float, celsius: float, velocity: float, exhaust: float, left: float) -> None:
    load = replace(LOAD, blow_off_share_left=left)
    assert_closes(dry_outcome(load, hot_air(celsius, velocity, 0.008, exhaust), WATER, time))


@settings(deadline=None, max_examples=20)
@given(st.floats(1.0, 7200.0), st.floats(290.0, 330.0), st.floats(0.0, 1.0), st.floats(100.0, 2e4))
def test_standing_chamber_mass_closes(time: float, wall: float, saturation: float, capacity: float) -> None:
    chamber = StandingChamber(wall_temperature_K=wall, saturation_share=saturation, heat_transfer_W_m2_K=6.0)
    assert_closes(passive_dry_outcome(replace(LOAD, heat_capacity_J_K=capacity), chamber, WATER, time))


@settings(deadline=None, max_examples=50)
@given(st.floats(40.0, 110.0), st.floats(1.0, 30.0), st.floats(1e-3, 0.2))
def test_exhaust_carries_exactly_what_evaporates(celsius: float, velocity: float, exhaust: float) -> None:
    result = surface_evaporation(
        WATER,
        wet_area_m2=1.0,
        transfer_m_s=stream_transfer_m_s(WATER, velocity, 0.2, celsius + 273.15),
        air_temperature_K=celsius + 273.15,
        inlet_humidity_ratio=0.008,
        exhaust_dry_air_kg_s=exhaust,
    )
    carried = exhaust_limit_kg_s(exhaust, result.chamber_humidity_ratio, 0.008)
    assert result.rate_kg_s == pytest.approx(carried, rel=1e-6)
    assert result.rate_kg_s <= result.rate_in_fresh_air_kg_s * (1 + 1e-9)


@pytest.mark.parametrize("exhaust", [1e-4, 1e-3, 1e-2, 0.1])
def test_a_limited_exhaust_acts_like_fresh_air_of_the_chambers_humidity(exhaust: float) -> None:
    common = {"wet_area_m2": 1.0, "transfer_m_s": 0.03, "air_temperature_K": 363.15}
    limited = surface_evaporation(WATER, inlet_humidity_ratio=0.008, exhaust_dry_air_kg_s=exhaust, **common)
    humid = surface_evaporation(
        WATER, inlet_humidity_ratio=limited.chamber_humidity_ratio, exhaust_dry_air_kg_s=np.inf, **common
    )
    assert humid.rate_kg_s == pytest.approx(limited.rate_kg_s, rel=1e-6)
    assert humid.surface_temperature_K == pytest.approx(limited.surface_temperature_K, abs=1e-6)


def test_needed_time_and_outcome_follow_the_same_course_with_a_thick_film() -> None:
    thick = replace(LOAD, film_before_drain_m=400e-6, film_drained_m=400e-6)
    slow = hot_air(60.0, velocity=1.0)
    need = dry_time_needed(thick, slow, WATER)
    assert need.surface_time_s > 0.4 * need.total_time_s
    assert dry_outcome(thick, slow, WATER, need.total_time_s * (1 + 1e-9)).gap_wet_share == 0.0
    assert 0.0 < dry_outcome(thick, slow, WATER, need.total_time_s * (1 - 1e-3)).gap_wet_share < 0.01


def test_outcome_at_the_needed_time_is_dry_and_just_before_it_is_not() -> None:
    need = dry_time_needed(LOAD, hot_air(), WATER)
    assert dry_outcome(LOAD, hot_air(), WATER, need.total_time_s).gap_left_kg == pytest.approx(0.0, abs=1e-15)
    before = dry_outcome(LOAD, hot_air(), WATER, 0.98 * float(need.total_time_s))
    assert before.gap_left_kg > 0.0
    assert before.dry_at_s == np.inf


# ---- better air never takes longer ----


@settings(deadline=None, max_examples=50)
@given(st.floats(35.0, 110.0), st.floats(0.5, 30.0), st.floats(1e-3, 0.2), st.floats(0.0, 0.02), st.floats(1.05, 3.0))
def test_more_hotter_or_drier_air_never_takes_longer(
    celsius: float, velocity: float, exhaust: float, humidity: float, factor: float
) -> None:
    base = dry_time_needed(LOAD, hot_air(celsius, velocity, humidity, exhaust), WATER).total_time_s * (1 + 1e-7)
    hotter = min(celsius + 10.0 * (factor - 1.0), 115.0)
    assert dry_time_needed(LOAD, hot_air(celsius, velocity * factor, humidity, exhaust), WATER).total_time_s <= base
    assert dry_time_needed(LOAD, hot_air(celsius, velocity, humidity, exhaust * factor), WATER).total_time_s <= base
    assert dry_time_needed(LOAD, hot_air(celsius, velocity, humidity / factor, exhaust), WATER).total_time_s <= base
    assert dry_time_needed(LOAD, hot_air(hotter, velocity, humidity, exhaust), WATER).total_time_s <= base


@settings(deadline=None, max_examples=50)
@given(st.floats(0.0, 3000.0), st.floats(1.0, 2.0))
def test_more_time_never_leaves_more(time: float, factor: float) -> None:
    early, late = dry_outcome(LOAD, hot_air(), WATER, time), dry_outcome(LOAD, hot_air(), WATER, time * factor)
    assert late.gap_left_kg <= early.gap_left_kg + 1e-15
    assert late.surface_left_kg <= early.surface_left_kg + 1e-15


# ---- limits ----


def test_a_closed_dryer_never_dries_and_says_why() -> None:
    need = dry_time_needed(LOAD, hot_air(exhaust=0.0), WATER)
    assert need.total_time_s == np.inf
    assert str(need.limited_by) == "humidity"
    assert dry_outcome(LOAD, hot_air(exhaust=0.0), WATER, 3600.0).surface_left_kg == pytest.approx(float(need.film_kg))


def test_saturated_inlet_air_never_dries() -> None:
    need = dry_time_needed(LOAD, hot_air(celsius=30.0, humidity=0.05), WATER)
    assert need.total_time_s == np.inf
    assert str(need.limited_by) == "humidity"


def test_still_air_never_dries_a_film() -> None:
    need = dry_time_needed(LOAD, hot_air(velocity=0.0), WATER)
    assert need.total_time_s == np.inf
    assert str(need.limited_by) == "film"  # no humidity of the air is to blame


def test_a_gap_in_saturated_air_never_dries_even_without_a_film() -> None:
    need = dry_time_needed(replace(LOAD, film_drained_m=0.0), hot_air(celsius=30.0, humidity=0.05), WATER)
    assert need.surface_time_s == 0.0
    assert need.gap_hot_time_s == need.total_time_s == np.inf


def test_a_small_board_warms_by_its_own_area() -> None:
    dryer = hot_air()
    heat = float(heat_transfer_W_m2_K(WATER, dryer.transfer_m_s, 363.15))
    need = dry_time_needed(replace(LOAD, wet_area_m2=0.01, heat_capacity_J_K=25.0), dryer, WATER)
    assert heat * 0.01 < 1.0
    assert need.warm_up_time_s == pytest.approx(25.0 / (heat * 0.01), rel=1e-12)


def test_a_small_heater_limits_the_film() -> None:
    free = dry_time_needed(replace(LOAD, gap_volume_m3=0.0), hot_air(exhaust=0.005), WATER)
    short = dry_time_needed(replace(LOAD, gap_volume_m3=0.0), hot_air(exhaust=0.005, heater_power_W=600.0), WATER)
    none = dry_time_needed(LOAD, hot_air(exhaust=0.005, heater_power_W=100.0), WATER)
    assert free.total_time_s < short.total_time_s < np.inf
    assert str(short.limited_by) == "heat"
    assert none.total_time_s == np.inf


def test_a_load_without_gaps_is_dry_when_the_film_is_gone() -> None:
    need = dry_time_needed(replace(LOAD, gap_volume_m3=0.0), hot_air(), WATER)
    assert need.total_time_s == pytest.approx(float(need.surface_time_s), rel=1e-12)
    assert str(need.limited_by) == "film"


def test_laminate_counts_when_asked_for_and_board_limit_is_checked() -> None:
    need = dry_time_needed(LOAD, hot_air(), WATER, laminate_time_s=8 * 3600.0, board_limit_K=353.15)
    assert need.total_time_s == pytest.approx(float(need.surface_time_s) + 8 * 3600.0, rel=1e-12)
    assert str(need.limited_by) == "laminate"
    assert need.board_limit_exceeded == 1.0
    assert dry_time_needed(LOAD, hot_air(), WATER).board_limit_exceeded == 0.0


def test_solvent_with_low_latent_heat_dries_faster_than_water() -> None:
    dryer = replace(hot_air(60.0), inlet_humidity_ratio=0.0)
    water = dry_time_needed(LOAD, dryer, WATER)
    propanol = dry_time_needed(
        LOAD, replace(dryer, transfer_m_s=stream_transfer_m_s(PROPANOL, 5.0, 0.2, 333.15)), PROPANOL
    )
    assert propanol.surface_time_s < 0.5 * water.surface_time_s
    assert propanol.gap_hot_time_s < water.gap_hot_time_s
    assert PROPANOL.saturation_pressure_Pa(np.asarray(298.15)) == pytest.approx(5900.0, rel=1e-12)


def test_every_input_may_be_an_array_of_draws() -> None:
    draws = np.linspace(0.8, 1.2, 5)
    scalar = dry_time_needed(LOAD, hot_air(), WATER).total_time_s
    for name in ("wet_area_m2", "film_drained_m", "body_length_m", "heat_capacity_J_K", "gap_volume_m3"):
        load = replace(LOAD, **{name: getattr(LOAD, name) * draws})
        need = dry_time_needed(load, hot_air(), WATER)
        assert np.broadcast_to(need.total_time_s, (5,))[2] == pytest.approx(scalar, rel=1e-12)
        assert_closes(dry_outcome(load, hot_air(), WATER, 100.0))
    for name in ("exhaust_dry_air_kg_s", "transfer_m_s", "air_temperature_K"):
        dryer = replace(hot_air(), **{name: getattr(hot_air(), name) * (1 + 0.1 * (draws - 1))})
        need = dry_time_needed(LOAD, dryer, WATER)
        assert need.total_time_s[2] == pytest.approx(scalar, rel=1e-12)
        assert_closes(dry_outcome(LOAD, dryer, WATER, 100.0 * draws))


def test_warming_is_slower_for_a_heavy_load() -> None:
    heavy = dry_time_needed(replace(LOAD, heat_capacity_J_K=1e4), hot_air(), WATER)
    light = dry_time_needed(LOAD, hot_air(), WATER)
    assert heavy.warm_up_time_s == pytest.approx(4.0 * float(light.warm_up_time_s))
    assert heavy.gap_dry_at_s > light.gap_dry_at_s


# ---- standing chamber and vacuum ----


def test_standing_chamber_result_does_not_hang_on_its_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    chamber = StandingChamber(wall_temperature_K=298.15, saturation_share=0.6, heat_transfer_W_m2_K=6.0)
    coarse = passive_dry_outcome(LOAD, chamber, WATER, 2700.0)
    monkeypatch.setattr(model.passive_drying, "_STEPS", 960)
    fine = passive_dry_outcome(LOAD, chamber, WATER, 2700.0)
    assert coarse.gap_wet_share == pytest.approx(fine.gap_wet_share, rel=0.02)
    assert coarse.load_temperature_K == pytest.approx(fine.load_temperature_K, abs=0.5)


@pytest.mark.parametrize(
    ("capacity", "wall", "share", "start", "film", "time"),
    [
        *((capacity, 303.15, 1.0, 338.15, 50e-6, time) for capacity in (100.0, 2500.0) for time in (30.0, 600.0)),
        # A cold load warmed in a moist chamber for ten hours, a hotter one than water boils at, one of next to no heat.
        (2500.0, 353.15, 0.9, 293.15, 2e-3, 36000.0), (2500.0, 293.15, 0.4, 380.0, 0.5e-3, 2700.0),
        (1.0, 293.15, 0.4, 338.15, 0.5e-3, 2700.0),
        # Hotter than water boils at and light: the load falls to its rest at once, here or there below boiling.
        (1.0, 293.15, 0.4, 400.0, 2e-3, 36000.0), (30.0, 293.15, 0.4, 374.0, 2e-3, 36000.0),
        (100.0, 293.15, 0.4, 380.0, 2e-3, 36000.0), (10.0, 380.0, 0.4, 440.0, 2e-3, 7200.0),
        (1e-3, 380.0, 0.4, 293.15, 2e-3, 7200.0),
    ],
)  # fmt: skip
def test_standing_chamber_follows_a_general_solver(
    capacity: float, wall: float, share: float, start: float, film: float, time: float
) -> None:
    # scipy's stiff solver on C dT/dt = −hA(T − T_w) − L·A·n(T), for a film that outlasts the time.
    chamber = StandingChamber(wall_temperature_K=wall, saturation_share=share, heat_transfer_W_m2_K=6.0)
    load = replace(LOAD, heat_capacity_J_K=capacity, temperature_K=start, film_before_drain_m=film, film_drained_m=film)
    pressure = 101325.0
    air = pressure / (287.042 * wall) * 1006.0
    lewis = float(air_conductivity_W_m_K(wall)) / air / float(vapour_diffusivity_m2_s(wall, pressure))
    transfer = 6.0 / (air * lewis ** (2 / 3))
    outside = share * float(water_saturation_pressure_Pa(wall))

    def change(_: float, state: np.ndarray) -> list[float]:
        # Nothing condenses on the load, and above boiling the vapour share is cut at 0.999.
        inner = min(float(water_saturation_pressure_Pa(state[0])), 0.999 * pressure)
        driving = max(float(np.log((pressure - outside) / (pressure - inner))), 0.0)
        flux = 0.01801528 * transfer * pressure / (8.314462618 * state[0]) * driving
        rate = float(gap_rate_m2_s(WATER, state[0], outside)) if driving else 0.0
        return [-(6.0 * (state[0] - wall) + WATER.latent_heat_J_kg * flux) / capacity, flux, rate]

    exact = solve_ivp(change, (0.0, time), [start, 0.0, 0.0], method="LSODA", rtol=1e-8, atol=1e-12).y[:, -1]
    outcome = passive_dry_outcome(load, chamber, WATER, time)
    film_gone = film * WATER.liquid_density_kg_m3 - outcome.surface_left_kg
    assert outcome.load_temperature_K == pytest.approx(exact[0], abs=0.3)
    assert film_gone == pytest.approx(exact[1], rel=0.03)
    assert outcome.gap_wet_share == pytest.approx(float(gap_wet_share(exact[2], 7e-3, 7e-3, 4.0)), abs=0.01)


@pytest.mark.parametrize("start", [338.15, np.array([338.15, 300.0, 374.0, 338.15, 420.0])])
def test_each_standing_load_ends_the_same_whatever_others_stand_with_it(start: float | np.ndarray) -> None:
    load = replace(
        LOAD, heat_capacity_J_K=np.array([2500.0, 20.0, 600.0, 9000.0, 5.0]), temperature_K=start,
        film_drained_m=np.array([50e-6, 0.0, 2e-6, 90e-6, 50e-6]),
        gap_volume_m3=LOAD.gap_volume_m3 * np.array([[0.0], [1.0]]),
    )  # fmt: skip
    chamber = StandingChamber(wall_temperature_K=np.array([293.0, 303.0, 313.0, 345.0, 293.0]), saturation_share=0.5,
                              heat_transfer_W_m2_K=6.0)  # fmt: skip
    together = passive_dry_outcome(load, chamber, WATER, 1800.0)
    assert 0.0 < np.isfinite(together.dry_at_s).mean() < 1.0
    for row, column in np.ndindex(2, 5):
        one = {name: np.broadcast_to(getattr(load, name), (2, 5))[row, column]
               for name in ("heat_capacity_J_K", "temperature_K", "film_drained_m", "gap_volume_m3")}  # fmt: skip
        at_wall = replace(chamber, wall_temperature_K=chamber.wall_temperature_K[column])
        alone = passive_dry_outcome(replace(load, **one), at_wall, WATER, 1800.0)
        for name in ("load_temperature_K", "surface_left_kg", "gap_wet_share", "dry_at_s"):
            assert getattr(together, name)[row, column] == getattr(alone, name), name


@pytest.mark.parametrize("capacity", [3.0, 30.0])
def test_a_light_load_above_boiling_gives_its_own_heat_to_vapour_where_the_air_takes_no_more(capacity: float) -> None:
    chamber = StandingChamber(wall_temperature_K=293.15, saturation_share=1.0, heat_transfer_W_m2_K=6.0)
    load = replace(LOAD, heat_capacity_J_K=capacity, temperature_K=400.0)
    outcome = passive_dry_outcome(load, chamber, WATER, 36000.0)
    gone = 50e-6 * WATER.liquid_density_kg_m3 - float(outcome.surface_left_kg)
    assert gone * WATER.latent_heat_J_kg == pytest.approx(capacity * (400.0 - 293.15), rel=2e-3)


def test_a_film_that_outlasts_the_fall_of_a_light_load_to_its_rest_is_then_dried_by_the_airs_heat() -> None:
    # In the first step the load falls from 400 K to its rest; what is left of the film the air dries at h·(T_w − T).
    wall, outside, pressure = 293.15, 0.4 * float(water_saturation_pressure_Pa(293.15)), 101325.0
    air = pressure / (287.042 * wall) * 1006.0
    lewis = float(air_conductivity_W_m_K(wall)) / air / float(vapour_diffusivity_m2_s(wall, pressure))

    def lost_W_m2(at_K: float) -> float:
        driving = np.log((pressure - outside) / (pressure - float(water_saturation_pressure_Pa(at_K))))
        flux = 0.01801528 * 6.0 / (air * lewis ** (2 / 3)) * pressure / (8.314462618 * at_K) * driving
        return 6.0 * (at_K - wall) + WATER.latent_heat_J_kg * float(flux)

    rest = brentq(lost_W_m2, 275.0, wall)
    film = 10.0 * (400.0 - rest + 4.0) / WATER.latent_heat_J_kg / WATER.liquid_density_kg_m3
    load = replace(LOAD, heat_capacity_J_K=10.0, temperature_K=400.0, gap_volume_m3=0.0, film_drained_m=film)
    chamber = StandingChamber(wall_temperature_K=wall, saturation_share=0.4, heat_transfer_W_m2_K=6.0)
    outcome = passive_dry_outcome(load, chamber, WATER, 10800.0)
    # Steps end at 0.19, 0.75 and 1.69 s; it is dry at the end of that in which the film goes.
    assert 0.75 < 10.0 * 4.0 / (6.0 * (wall - rest)) < 1.69
    assert outcome.dry_at_s == pytest.approx(10800.0 * (3 / 240) ** 2, rel=1e-12)


def test_a_load_cools_by_no_more_than_the_last_of_its_film_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    # Films that end early, in the middle or late in a step: steps of a sixteenth show it.
    load = replace(LOAD, film_drained_m=np.linspace(1e-6, 6e-6, 9), gap_volume_m3=0.0)
    chamber = StandingChamber(wall_temperature_K=293.15, saturation_share=0.4, heat_transfer_W_m2_K=6.0)
    coarse = passive_dry_outcome(load, chamber, WATER, 100.0)
    monkeypatch.setattr(model.passive_drying, "_STEPS", 3840)
    fine = passive_dry_outcome(load, chamber, WATER, 100.0)
    assert np.all(np.isfinite(coarse.dry_at_s))
    assert coarse.load_temperature_K == pytest.approx(fine.load_temperature_K, abs=0.01)


def test_a_bare_load_warms_to_a_wall_hotter_than_water_boils_at() -> None:
    chamber = StandingChamber(wall_temperature_K=380.0, saturation_share=0.4, heat_transfer_W_m2_K=6.0)
    load = replace(LOAD, film_drained_m=np.array([0.0, 100e-6]), heat_capacity_J_K=600.0, temperature_K=300.0)
    bare_K, wet_K = passive_dry_outcome(load, chamber, WATER, 300.0).load_temperature_K
    assert bare_K == pytest.approx(380.0 - 80.0 * np.exp(-3.0), abs=0.3)
    assert wet_K < 356.0  # where a wet load rests


def test_a_load_with_nothing_to_dry_cools_exponentially() -> None:
    bare = replace(LOAD, film_drained_m=0.0, gap_volume_m3=0.0, heat_capacity_J_K=600.0)
    chamber = StandingChamber(wall_temperature_K=303.15, saturation_share=0.5, heat_transfer_W_m2_K=6.0)
    outcome = passive_dry_outcome(bare, chamber, WATER, 150.0)
    assert outcome.load_temperature_K == pytest.approx(303.15 + 35.0 * np.exp(-1.5), abs=0.05)  # followed in steps
    assert outcome.dry_at_s == 0.0


def test_a_load_that_gives_no_heat_to_the_air_keeps_temperature_and_film_while_its_gap_dries() -> None:
    still = StandingChamber(wall_temperature_K=303.15, saturation_share=0.5, heat_transfer_W_m2_K=0.0)
    outcome = passive_dry_outcome(LOAD, still, WATER, 100.0)
    assert outcome.load_temperature_K == 338.15
    assert outcome.surface_left_kg == pytest.approx(50e-6 * WATER.liquid_density_kg_m3, rel=1e-12)
    progress = 100.0 * float(gap_rate_m2_s(WATER, 338.15, 0.5 * float(water_saturation_pressure_Pa(303.15))))
    assert outcome.gap_wet_share == pytest.approx(gap_wet_share(progress, 7e-3, 7e-3, 4.0), rel=1e-9)


def test_the_vapour_pressure_of_standing_loads_is_asked_for_at_first_and_after_every_fourth_step() -> None:
    shapes = []

    def noted(at_K: np.ndarray) -> np.ndarray:
        shapes.append(np.shape(at_K))
        return WATER.saturation_pressure_Pa(at_K)

    chamber = StandingChamber(wall_temperature_K=303.15, saturation_share=1.0, heat_transfer_W_m2_K=6.0)
    loads = replace(LOAD, temperature_K=np.array([338.15, 328.15]))
    passive_dry_outcome(loads, chamber, replace(WATER, saturation_pressure_Pa=noted), 7200.0)
    assert shapes.count((2,)) == 1 + 240 / 4
    # What follows from the chamber alone is not worked out for each load.
    assert set(shapes) == {(), (2,)}


def test_own_heat_evaporates_no_more_than_it_can_pay() -> None:
    chamber = StandingChamber(wall_temperature_K=303.15, saturation_share=1.0, heat_transfer_W_m2_K=6.0)
    outcome = passive_dry_outcome(LOAD, chamber, WATER, 7200.0)
    film_evaporated = 0.05e-3 * WATER.liquid_density_kg_m3 - outcome.surface_left_kg
    stored = LOAD.heat_capacity_J_K * (338.15 - 303.15) / WATER.latent_heat_J_kg
    assert 0.3 * stored < film_evaporated < 1.02 * stored
    assert outcome.load_temperature_K == pytest.approx(303.15, abs=0.1)


def test_vacuum_boils_gaps_dry_with_heat_and_stalls_without() -> None:
    common = {"pressure_Pa": 5000.0, "pump_speed_m3_s": 0.02, "pump_down_time_s": 60.0}
    heated = vacuum_drying(LOAD, WATER, heating_power_W=np.array([0.0, 300.0, 600.0]), **common)
    assert heated.total_time_s[0] == np.inf
    assert heated.total_time_s[2] < heated.total_time_s[1] < 900.0
    assert heated.drained_kg + heated.flashed_kg + heated.boiled_kg == pytest.approx(heated.water_in_kg, rel=1e-9)
    assert list(heated.limited_by[:2]) == ["heat", "heat"]


def test_a_small_pump_sets_the_vacuum_time() -> None:
    result = vacuum_drying(
        LOAD, WATER, pressure_Pa=5000.0, heating_power_W=5000.0, pump_speed_m3_s=1e-3, pump_down_time_s=60.0
    )
    vapour = (result.flashed_kg + result.boiled_kg) / result.pump_limit_kg_s
    assert result.total_time_s == pytest.approx(60.0 + vapour, rel=1e-9)
    # Steam at 50 mbar and 33 °C: p M/(R T) = .0354 kg/m³.
    assert result.pump_limit_kg_s == pytest.approx(3.54e-5, rel=5e-3)
    assert str(result.limited_by) == "pump"


def test_vacuum_without_pump_never_dries() -> None:
    result = vacuum_drying(
        LOAD, WATER, pressure_Pa=5000.0, heating_power_W=500.0, pump_speed_m3_s=0.0, pump_down_time_s=60.0
    )
    assert result.total_time_s == np.inf
    assert str(result.limited_by) == "pump"


def test_a_small_body_does_not_change_the_vacuum_time() -> None:
    common = {"pressure_Pa": 5000.0, "heating_power_W": 300.0, "pump_speed_m3_s": 0.02, "pump_down_time_s": 60.0}
    small = replace(LOAD, body_length_m=1e-3)
    assert vacuum_drying(small, WATER, **common).total_time_s == vacuum_drying(LOAD, WATER, **common).total_time_s


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: dry_time_needed(replace(LOAD, film_drained_m=1.0), hot_air(), WATER),
         r"^drained film: it is thicker than the film before draining\. Give a drained film that is no thicker\.$"),
        (lambda: dry_time_needed(LOAD, replace(hot_air(), inlet_temperature_K=0.0), WATER),
         r"^inlet temperature: 0 K is not allowed\. Give a finite value above 0\.$"),
        (lambda: dry_time_needed(replace(LOAD, blow_off_share_left=2.0), hot_air(), WATER), "blow-off"),
        (lambda: dry_time_needed(replace(LOAD, heat_capacity_J_K=0.0), hot_air(), WATER), "heat capacity"),
        (lambda: dry_time_needed(LOAD, hot_air(exhaust=-1.0), WATER), "exhaust air"),
        (lambda: dry_outcome(LOAD, hot_air(), WATER, -1.0), "time available"),
        (lambda: boiling_temperature_K(WATER, 100.0), "freezes"),
        (lambda: vapour_pressure_of_air_Pa(WATER, -1.0, 1e5), "humidity ratio"),
        (lambda: exhaust_limit_kg_s(-1.0, 0.1, 0.0), "exhaust air"),
        (lambda: plate_sherwood(-1.0, 0.6), "Reynolds"),
        (lambda: round_nozzle_sherwood(1e4, 0.6, 1.0, 6.0), "radius per nozzle"),
        (lambda: nozzle_array_sherwood(1e4, 0.6, 0.5, 6.0), "open area share"),
        (lambda: stream_transfer_m_s(WATER, 1.0, 0.0, 300.0), "length"),
    ],
)
def test_wrong_input_is_refused_by_name(call, message) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=message):
        call()


@pytest.mark.parametrize("pressure", [70000.0, 101325.0])
def test_under_a_wet_film_the_gap_dries_at_the_wet_bulb_of_its_own_air_and_pressure(pressure: float) -> None:
    # Air without end: the chamber keeps the humidity of the inlet. The film is thick enough to stay for a minute.
    dryer = HotAirDryer(air_temperature_K=360.0, transfer_m_s=0.03, inlet_humidity_ratio=0.01,
                        inlet_temperature_K=293.15, exhaust_dry_air_kg_s=1e9, pressure_Pa=pressure)  # fmt: skip
    outcome = dry_outcome(replace(LOAD, film_before_drain_m=1e-3, film_drained_m=1e-3), dryer, WATER, 60.0)
    wet_bulb = wet_surface_K(WATER, transfer_m_s=0.03, air_temperature_K=360.0, inlet_humidity_ratio=0.01,
                             pressure_Pa=pressure)  # fmt: skip
    # p_v = p·W/(0.622 + W)
    outside = pressure * 0.01 / (WATER.molar_mass_kg_mol / 28.9652e-3 + 0.01)
    rate = gap_rate_m2_s(WATER, wet_bulb, outside, pressure)
    expected = gap_wet_share(60.0 * np.asarray(rate), 7e-3, 7e-3, 4.0)
    assert outcome.gap_wet_share == pytest.approx(expected, rel=1e-4)
    assert 0.2 < float(expected) < 0.98


WATER_IN_LOAD_KG = float(WATER.liquid_density_kg_m3) * (100e-6 + 10 * 7e-3 * 7e-3 * 50e-6)


def test_a_hot_load_flashes_what_its_heat_pays_and_the_heater_boils_the_rest() -> None:
    result = vacuum_drying(
        LOAD, WATER, pressure_Pa=5000.0, heating_power_W=300.0, pump_speed_m3_s=0.02, pump_down_time_s=60.0
    )
    boiling = float(boiling_temperature_K(WATER, 5000.0))
    flashed = 2500.0 * (338.15 - boiling) / WATER.latent_heat_J_kg
    assert result.boiling_temperature_K == boiling
    assert result.heat_limit_kg_s == pytest.approx(300.0 / WATER.latent_heat_J_kg, rel=1e-12)
    assert result.water_in_kg == pytest.approx(WATER_IN_LOAD_KG, rel=1e-12)
    assert result.flashed_kg == pytest.approx(flashed, rel=1e-12)
    boil = (WATER_IN_LOAD_KG / 2 - flashed) / result.heat_limit_kg_s
    gap_part = (10 * 7e-3 * 7e-3 * 50e-6 / 2) * WATER.liquid_density_kg_m3 / result.heat_limit_kg_s
    assert result.total_time_s == pytest.approx(60.0 + flashed / result.pump_limit_kg_s + boil + gap_part, rel=1e-9)


def test_a_load_colder_than_boiling_flashes_nothing_and_is_heated_up_first() -> None:
    common = {"pressure_Pa": 5000.0, "heating_power_W": 300.0, "pump_speed_m3_s": 0.02, "pump_down_time_s": 60.0}
    boiling = float(boiling_temperature_K(WATER, 5000.0))
    at_boiling = vacuum_drying(replace(LOAD, temperature_K=boiling), WATER, **common)
    cold = vacuum_drying(replace(LOAD, temperature_K=boiling - 10.0), WATER, **common)
    assert cold.flashed_kg == at_boiling.flashed_kg == 0.0
    assert cold.total_time_s - at_boiling.total_time_s == pytest.approx(2500.0 * 10.0 / 300.0, rel=1e-9)


def test_a_cold_load_without_water_takes_no_longer_than_pumping_down() -> None:
    dry = replace(LOAD, film_drained_m=0.0, gap_volume_m3=0.0, temperature_K=293.15)
    result = vacuum_drying(
        dry, WATER, pressure_Pa=5000.0, heating_power_W=10.0, pump_speed_m3_s=0.02, pump_down_time_s=60.0
    )
    assert result.total_time_s == 60.0


def test_a_load_that_flashes_dry_needs_no_heat() -> None:
    massive = replace(LOAD, heat_capacity_J_K=1e5)
    result = vacuum_drying(
        massive, WATER, pressure_Pa=5000.0, heating_power_W=0.0, pump_speed_m3_s=1e-3, pump_down_time_s=60.0
    )
    assert result.boiled_kg == 0.0
    assert result.total_time_s == pytest.approx(60.0 + result.flashed_kg / result.pump_limit_kg_s, rel=1e-12)
    assert str(result.limited_by) == "pump"


@pytest.mark.parametrize(
    ("power_W", "speed_m3_s", "pump_down_s", "limit"),
    [(3000.0, 10.0, 0.0, "heat"), (1e9, 1.0, 0.0, "pump"), (3000.0, 10.0, 3600.0, "pump-down")],
)
def test_what_takes_longest_is_named_even_when_all_is_over_in_a_second(
    power_W: float, speed_m3_s: float, pump_down_s: float, limit: str
) -> None:
    # 1 cm² of wet surface at its boiling point: 5 mg, of which nothing flashes.
    spot = replace(LOAD, wet_area_m2=1e-4, gap_volume_m3=0.0, temperature_K=float(boiling_temperature_K(WATER, 5000.0)))
    result = vacuum_drying(
        spot, WATER, pressure_Pa=5000.0, heating_power_W=power_W, pump_speed_m3_s=speed_m3_s,
        pump_down_time_s=pump_down_s,
    )  # fmt: skip
    assert result.total_time_s - pump_down_s < 0.9
    assert str(result.limited_by) == limit


@pytest.mark.parametrize("pressure", [600.0, 1e6])
def test_a_vacuum_beyond_the_liquids_range_is_refused(pressure: float) -> None:
    sentence = (
        f"vacuum pressure: {pressure:g} Pa lies outside the vapour-pressure range of the liquid "
        "(611.213 Pa at its lowest temperature). Below that it freezes instead of boiling; give a higher pressure."
    )
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        boiling_temperature_K(WATER, pressure)


def test_a_solvent_follows_clausius_and_clapeyron_and_its_vapour_the_power_law() -> None:
    values = {
        "molar_mass_kg_mol": 0.0601, "liquid_density_kg_m3": 785.0, "latent_heat_J_kg": 6.64e5,
        "vapour_pressure_Pa": 5900.0, "vapour_pressure_temperature_K": 298.15, "diffusivity_m2_s": 1.0e-5,
        "diffusivity_temperature_K": 293.15, "diffusivity_exponent": 1.75, "coldest_K": 253.15,
    }  # fmt: skip
    solvent = solvent_for_drying(**values)
    for name in ("molar_mass_kg_mol", "liquid_density_kg_m3", "latent_heat_J_kg", "coldest_K"):
        assert getattr(solvent, name) == values[name]
    pressures = solvent.saturation_pressure_Pa(np.array([298.15, 320.0]))
    assert pressures[0] == pytest.approx(5900.0, rel=1e-12)
    # d ln p/d(1/T) = −M·L/R
    slope = np.log(pressures[1] / pressures[0]) / (1.0 / 320.0 - 1.0 / 298.15)
    assert slope == pytest.approx(-0.0601 * 6.64e5 / 8.314462618, rel=1e-9)
    assert solvent.diffusivity_m2_s(np.array(293.15), np.array(101325.0)) == pytest.approx(1e-5, rel=1e-12)
    assert solvent.diffusivity_m2_s(np.array(2 * 293.15), np.array(50662.5)) == pytest.approx(2e-5 * 2**1.75, rel=1e-12)


def test_water_is_not_dried_below_its_freezing_point() -> None:
    assert water_for_drying().coldest_K == 273.15


def test_a_load_brings_area_times_film_and_leaves_what_drains_and_blows_off() -> None:
    drained, film, gap = water_to_remove_kg(replace(LOAD, wet_area_m2=2.0, blow_off_share_left=0.5), WATER)
    density = WATER.liquid_density_kg_m3
    assert drained == pytest.approx(density * 2.0 * (100e-6 - 25e-6), rel=1e-12)
    assert film == pytest.approx(density * 2.0 * 25e-6, rel=1e-12)
    assert gap == pytest.approx(density * LOAD.gap_volume_m3, rel=1e-12)


TWICE = replace(LOAD, wet_area_m2=2.0, gap_volume_m3=2.0 * 10 * 7e-3 * 7e-3 * 50e-6, heat_capacity_J_K=5000.0)


def test_twice_the_load_in_twice_the_air_and_heat_dries_in_the_same_time() -> None:
    one = hot_air(exhaust=0.005, heater_power_W=800.0)
    two = hot_air(exhaust=0.010, heater_power_W=1600.0)
    need, needed = dry_time_needed(LOAD, one, WATER), dry_time_needed(TWICE, two, WATER)
    for field in ("surface_time_s", "warm_up_time_s", "gap_hot_time_s", "gap_dry_at_s", "total_time_s"):
        assert getattr(needed, field) == pytest.approx(getattr(need, field), rel=1e-9)
    chamber = StandingChamber(wall_temperature_K=303.15, saturation_share=0.7, heat_transfer_W_m2_K=6.0)
    single, double = (passive_dry_outcome(load, chamber, WATER, 900.0) for load in (LOAD, TWICE))
    assert double.gap_wet_share == pytest.approx(single.gap_wet_share, rel=1e-9)
    assert double.evaporated_kg == pytest.approx(2.0 * single.evaporated_kg, rel=1e-9)
    assert double.load_temperature_K == pytest.approx(single.load_temperature_K, rel=1e-9)


@pytest.mark.parametrize("capacity", [1e-9, 2500.0, 2e4])
def test_a_gap_without_film_follows_the_integral_of_its_rate_over_the_warm_up(capacity: float) -> None:
    # T(t) = T_air − (T_air − T_wet)·exp(−t/τ), τ = C/(h·A), T_wet the wet bulb of dry air: integrated by scipy.
    dryer = replace(hot_air(velocity=2.0), pressure_Pa=7e4)
    load = replace(LOAD, wet_area_m2=0.5, film_drained_m=0.0, heat_capacity_J_K=capacity)
    heat = float(heat_transfer_W_m2_K(WATER, dryer.transfer_m_s, 363.15, 7e4))
    wet = float(wet_surface_K(WATER, transfer_m_s=dryer.transfer_m_s, air_temperature_K=363.15,
                              inlet_humidity_ratio=0.0, pressure_Pa=7e4))  # fmt: skip
    tau, outside = capacity / (heat * 0.5), float(vapour_pressure_of_air_Pa(WATER, 0.008, 7e4))

    def rate(time: float) -> float:
        return float(gap_rate_m2_s(WATER, 363.15 - (363.15 - wet) * np.exp(-time / tau), outside, 7e4))

    need = dry_time_needed(load, dryer, WATER)
    assert need.warm_up_time_s == pytest.approx(tau, rel=1e-12)
    progress = quad(rate, 0.0, float(need.gap_dry_at_s), limit=500, points=[min(tau, 1.0)])[0]
    # 3 %: the warm-up goes in a few steps.
    assert progress == pytest.approx(gap_progress_needed_m2(7e-3, 7e-3, 4.0), rel=0.03)
    half = dry_outcome(load, dryer, WATER, 0.5 * float(need.gap_dry_at_s))
    part = quad(rate, 0.0, 0.5 * float(need.gap_dry_at_s), limit=500, points=[min(tau, 1.0)])[0]
    assert half.gap_wet_share == pytest.approx(gap_wet_share(part, 7e-3, 7e-3, 4.0), rel=0.03)


def test_the_load_warms_from_the_wet_surface_to_the_air_once_the_film_is_gone() -> None:
    dryer = hot_air()
    need = dry_time_needed(LOAD, dryer, WATER)
    surface = float(need.evaporation.surface_temperature_K)
    for after in (0.0, 30.0, 200.0):
        outcome = dry_outcome(LOAD, dryer, WATER, float(need.surface_time_s) + after)
        expected = 363.15 - (363.15 - surface) * np.exp(-after / float(need.warm_up_time_s))
        assert outcome.load_temperature_K == pytest.approx(expected, abs=1e-6)
    assert dry_outcome(LOAD, dryer, WATER, 0.0).load_temperature_K == pytest.approx(surface, abs=1e-9)


def test_the_result_tells_rate_balance_and_the_air_it_tends_to() -> None:
    dryer = hot_air(exhaust=0.005, heater_power_W=600.0)
    need = dry_time_needed(LOAD, dryer, WATER, laminate_time_s=0.5, board_limit_K=363.15)
    balance = surface_evaporation(
        WATER, wet_area_m2=1.0, transfer_m_s=dryer.transfer_m_s, air_temperature_K=363.15, inlet_humidity_ratio=0.008,
        exhaust_dry_air_kg_s=0.005,
    )  # fmt: skip
    assert need.evaporation == balance
    # What the heater has left after warming 5 g/s of air by 70 K (1006 J/(kg·K)) goes into vapour.
    assert need.evaporation_rate_kg_s == pytest.approx((600.0 - 0.005 * 1006.0 * 70.0) / WATER.latent_heat_J_kg)
    assert need.surface_time_s == pytest.approx(float(need.film_kg) / float(need.evaporation_rate_kg_s), rel=1e-12)
    assert need.laminate_dry_at_s == float(need.surface_time_s) + 0.5
    assert need.board_temperature_K == 363.15
    assert need.board_limit_exceeded == 0.0
    assert dry_time_needed(LOAD, dryer, WATER).laminate_dry_at_s == 0.0


def test_air_drawn_in_warmer_than_the_dryer_costs_the_heater_nothing() -> None:
    dryer = replace(hot_air(celsius=40.0, exhaust=0.05, heater_power_W=200.0), inlet_temperature_K=330.0)
    rate = dry_time_needed(LOAD, dryer, WATER).evaporation_rate_kg_s
    assert rate == pytest.approx(200.0 / WATER.latent_heat_J_kg, rel=1e-12)


@pytest.mark.parametrize(
    ("changes", "laminate_s", "limit"),
    [({}, 0.0, "gap"), ({}, 8 * 3600.0, "laminate"), ({"gap_volume_m3": 0.0}, 1.0, "film"),
     ({"film_drained_m": 95e-6, "body_length_m": 1e-3, "body_width_m": 1e-3}, 20.0, "film")],
)  # fmt: skip
def test_what_takes_the_largest_part_of_the_drying_is_named(
    changes: dict[str, float], laminate_s: float, limit: str
) -> None:
    need = dry_time_needed(replace(LOAD, **changes), hot_air(), WATER, laminate_time_s=laminate_s)
    assert str(need.limited_by) == limit


def test_when_all_is_dry_is_told_once_it_is_and_a_film_that_stays_keeps_it_wet() -> None:
    need = dry_time_needed(LOAD, hot_air(), WATER)
    done = float(need.total_time_s)
    assert dry_outcome(LOAD, hot_air(), WATER, 2.0 * done).dry_at_s == pytest.approx(done, rel=1e-12)
    no_gap = replace(LOAD, gap_volume_m3=0.0)
    still = replace(hot_air(), transfer_m_s=0.0)
    assert dry_outcome(no_gap, still, WATER, 3600.0).dry_at_s == np.inf
    assert dry_outcome(replace(no_gap, film_drained_m=0.0), still, WATER, 3600.0).dry_at_s == 0.0
    assert dry_outcome(replace(no_gap, film_drained_m=1e-9), hot_air(), WATER, 3600.0).dry_at_s < 1.0


# ---- standing chamber, exactly ----

AT_REST = StandingChamber(wall_temperature_K=320.0, saturation_share=0.4, heat_transfer_W_m2_K=6.0)


def test_a_load_without_film_at_the_walls_temperature_keeps_it_and_its_gap_dries_at_one_rate() -> None:
    load = replace(LOAD, film_drained_m=0.0, temperature_K=320.0)
    outside = 0.4 * float(water_saturation_pressure_Pa(320.0))
    rate = float(gap_rate_m2_s(WATER, 320.0, outside))
    needed = float(gap_progress_needed_m2(7e-3, 7e-3, 4.0))
    outcome = passive_dry_outcome(load, AT_REST, WATER, 0.5 * needed / rate)
    assert outcome.load_temperature_K == pytest.approx(320.0, abs=1e-9)
    assert outcome.gap_wet_share == pytest.approx(gap_wet_share(0.5 * needed, 7e-3, 7e-3, 4.0), rel=1e-9)
    assert outcome.gap_left_kg == pytest.approx(
        WATER.liquid_density_kg_m3 * LOAD.gap_volume_m3 * float(outcome.gap_wet_share), rel=1e-12
    )
    assert outcome.dry_at_s == np.inf
    longer = passive_dry_outcome(load, AT_REST, WATER, 2.0 * needed / rate)
    assert longer.gap_wet_share == 0.0
    assert 1.0 <= longer.dry_at_s * rate / needed < 1.05
    last = passive_dry_outcome(load, AT_REST, WATER, needed / rate / 0.997)  # in the last step: (239/240)² is 0.992
    assert last.dry_at_s == pytest.approx(needed / rate / 0.997, rel=1e-12)


def test_a_standing_load_without_gaps_or_film_is_dry_from_the_start() -> None:
    bare = replace(LOAD, film_drained_m=0.0, gap_volume_m3=0.0)
    # The colder one stands in saturated air, where no gap would dry.
    for load, share in ((bare, 0.4), (replace(bare, temperature_K=310.0), 1.0)):
        outcome = passive_dry_outcome(load, replace(AT_REST, saturation_share=share), WATER, 600.0)
        assert outcome.gap_wet_share == outcome.gap_left_kg == 0.0
        assert outcome.dry_at_s == 0.0


@pytest.mark.parametrize("capacity", [2500.0, 1e9])
def test_a_standing_load_with_a_film_left_is_not_dry(capacity: float) -> None:
    load = replace(LOAD, gap_volume_m3=0.0, heat_capacity_J_K=capacity)
    outcome = passive_dry_outcome(load, AT_REST, WATER, 10.0)
    assert outcome.surface_left_kg > 0.0
    assert outcome.dry_at_s == np.inf


def test_a_load_hotter_than_boiling_cools_without_failing() -> None:
    thin = replace(AT_REST, pressure_Pa=2e4)
    outcome = passive_dry_outcome(replace(LOAD, temperature_K=370.0), thin, WATER, 60.0)
    assert 300.0 < outcome.load_temperature_K < 370.0


@pytest.mark.parametrize("name", ["wet_area_m2", "film_drained_m", "gap_volume_m3", "body_length_m",
                                  "heat_capacity_J_K", "temperature_K"])  # fmt: skip
def test_any_property_of_a_standing_load_may_be_an_array_of_draws(name: str) -> None:
    draws = np.linspace(0.99, 1.01, 3)
    many = passive_dry_outcome(replace(LOAD, **{name: getattr(LOAD, name) * draws}), AT_REST, WATER, 300.0)
    alone = passive_dry_outcome(LOAD, AT_REST, WATER, 300.0)
    assert many.load_temperature_K.shape == (3,)
    assert many.load_temperature_K[1] == pytest.approx(alone.load_temperature_K, rel=1e-12)
    assert many.gap_wet_share[1] == pytest.approx(alone.gap_wet_share, rel=1e-12)


@pytest.mark.parametrize("name", ["wall_temperature_K", "saturation_share", "heat_transfer_W_m2_K", "time_s"])
def test_any_property_of_a_standing_chamber_may_be_an_array_of_draws(name: str) -> None:
    draws, time = np.linspace(0.99, 1.01, 3), np.array(300.0)
    chamber = AT_REST if name == "time_s" else replace(AT_REST, **{name: getattr(AT_REST, name) * draws})
    many = passive_dry_outcome(LOAD, chamber, WATER, time * draws if name == "time_s" else time)
    alone = passive_dry_outcome(LOAD, AT_REST, WATER, 300.0)
    assert many.load_temperature_K.shape == (3,)
    assert many.load_temperature_K[1] == pytest.approx(alone.load_temperature_K, rel=1e-12)


# ---- evaporation, exactly ----


@pytest.mark.parametrize(("celsius", "pressure"), [(60.0, 101325.0), (90.0, 101325.0), (60.0, 7e4), (110.0, 101325.0)])
def test_a_chamber_without_exhaust_fills_to_saturation_and_above_boiling_without_bound(
    celsius: float, pressure: float
) -> None:
    result = surface_evaporation(
        WATER, wet_area_m2=1.0, transfer_m_s=0.03, air_temperature_K=celsius + 273.15, inlet_humidity_ratio=0.01,
        exhaust_dry_air_kg_s=0.0, pressure_Pa=pressure,
    )  # fmt: skip
    saturation = float(water_saturation_pressure_Pa(celsius + 273.15))
    # W = (M/M_air)·p_s/(p − p_s); CIPM air, 28.9652 g/mol.
    full = 18.01528 / 28.9652 * saturation / (pressure - saturation) if saturation < pressure else np.inf
    assert result.chamber_humidity_ratio == pytest.approx(full, rel=1e-4)
    assert result.rate_kg_s == 0.0


def test_heat_that_reaches_the_surface_pays_for_the_vapour_at_any_pressure() -> None:
    for pressure in (101325.0, 7e4):
        result = surface_evaporation(
            WATER, wet_area_m2=2.0, transfer_m_s=0.03, air_temperature_K=353.15, inlet_humidity_ratio=0.01,
            exhaust_dry_air_kg_s=0.05, pressure_Pa=pressure,
        )  # fmt: skip
        heat = float(heat_transfer_W_m2_K(WATER, 0.03, 353.15, pressure))
        paid = heat * 2.0 * (353.15 - float(result.surface_temperature_K)) / WATER.latent_heat_J_kg
        assert result.rate_kg_s == pytest.approx(paid, rel=1e-12)


def test_air_that_comes_in_saturated_takes_up_nothing_at_all() -> None:
    for humidity in (0.0273, 0.2):  # saturated at 30 °C: 0.0272 kg/kg
        result = surface_evaporation(
            WATER, wet_area_m2=1.0, transfer_m_s=0.03, air_temperature_K=303.15, inlet_humidity_ratio=humidity,
            exhaust_dry_air_kg_s=0.05,
        )  # fmt: skip
        assert result.rate_kg_s == result.rate_in_fresh_air_kg_s == 0.0


def test_a_root_search_finds_each_draws_own_root_or_the_end_nearest_to_it() -> None:
    # Roots of x³ = a, and of functions that do not change sign in the bracket or are 0 at its end.
    shift = np.array([0.001, 0.3, 1.0, 7.9, -0.5, -5.0, 0.0, 8.0, 8.5, 100.0])
    found = rising_root(lambda x: x**3 - shift, np.zeros(10), np.full(10, 2.0), 1e-13)
    expected = [*np.cbrt(shift[:4]), 0.0, 0.0, 0.0, 2.0, 2.0, 2.0]
    np.testing.assert_allclose(found, expected, rtol=1e-10, atol=1e-12)
    for each, root in zip(shift, found, strict=True):
        alone = rising_root(lambda x, each=each: x**3 - each, np.zeros(1), np.full(1, 2.0), 1e-13)
        assert alone[0] == root
    # An end is given as it is, however wide the tolerance.
    for rise, end in ((0.5, 0.0), (-5.0, 2.0)):
        assert rising_root(lambda x, rise=rise: x + rise, np.zeros(1), np.full(1, 2.0), 0.3)[0] == end


@pytest.mark.parametrize(
    "function",
    [lambda x: np.exp(x) - 3.0, lambda x: x**3 - 2.0, lambda x: 1.0 - 0.3 / (x + 0.1), lambda x: x - 0.7,
     lambda x: np.tanh(50 * (x - 1.3)), lambda x: np.log(x + 1e-3) + 0.5],
)  # fmt: skip
def test_a_root_search_takes_some_ten_steps_where_halving_takes_forty(function) -> None:  # type: ignore[no-untyped-def]
    calls = 0

    def counted(x: np.ndarray) -> np.ndarray:
        nonlocal calls
        calls += 1
        return np.asarray(function(x))

    root = rising_root(counted, np.zeros(1), np.full(1, 2.0), 1e-12)
    assert root[0] == pytest.approx(brentq(function, 0.0, 2.0, xtol=1e-14), abs=1e-12)
    assert calls <= 15


def test_a_root_search_on_a_hard_function_still_narrows_to_the_tolerance() -> None:
    # x⁹ is flat at its root: halving takes over.
    place = np.array([0.1, 0.5, 1.9])
    found = rising_root(lambda x: (x - place) ** 9, np.zeros(3), np.full(3, 2.0), 1e-6)
    np.testing.assert_allclose(found, place, atol=1e-6)


@pytest.mark.parametrize("pressure", [101325.0, 80e3])
def test_mass_transfer_of_a_standing_chamber_belongs_to_its_heat_transfer_by_chilton_colburn(pressure: float) -> None:
    # So heavy a load keeps its temperature: film gone = A·M·k·c·ln(p/(p − p_s))·t, k = h/(ρ·c_p·Le^(2/3)), in dry air.
    chamber = StandingChamber(wall_temperature_K=320.0, saturation_share=0.0, heat_transfer_W_m2_K=6.0,
                              pressure_Pa=pressure)  # fmt: skip
    outcome = passive_dry_outcome(replace(LOAD, heat_capacity_J_K=1e12, temperature_K=320.0), chamber, WATER, 60.0)
    capacity = pressure / (287.042 * 320.0) * 1006.0
    lewis = float(air_conductivity_W_m_K(320.0)) / capacity / float(vapour_diffusivity_m2_s(320.0, pressure))
    share = float(water_saturation_pressure_Pa(320.0)) / pressure
    flux = 0.01801528 * 6.0 / (capacity * lewis ** (2 / 3)) * pressure / (8.314462618 * 320.0) * -np.log1p(-share)
    gone = 50e-6 * WATER.liquid_density_kg_m3 - float(outcome.surface_left_kg)
    assert gone == pytest.approx(flux * 60.0, rel=1e-5)


def test_a_load_without_film_cools_exponentially_and_its_gap_dries_along_the_way() -> None:
    # C dT/dt = −hA(T − T_w); the gap's progress is the integral of its rate, by scipy.
    load = replace(LOAD, film_drained_m=0.0, temperature_K=345.0, heat_capacity_J_K=600.0)
    outcome = passive_dry_outcome(load, AT_REST, WATER, 500.0)
    tau, outside = 600.0 / 6.0, 0.4 * float(water_saturation_pressure_Pa(320.0))
    assert outcome.load_temperature_K == pytest.approx(320.0 + 25.0 * np.exp(-5.0), abs=0.02)
    progress = quad(lambda t: float(gap_rate_m2_s(WATER, 320.0 + 25.0 * np.exp(-t / tau), outside)), 0.0, 500.0)[0]
    # 0.35 %: the chamber is followed in steps.
    assert outcome.gap_wet_share == pytest.approx(gap_wet_share(progress, 7e-3, 7e-3, 4.0), rel=3.5e-3)


@pytest.mark.parametrize(
    "rows", [{"inlet_humidity_ratio": np.array([[0.004, 0.006], [0.02, 0.03]])},
             {"pressure_Pa": np.array([[101325.0, 101325.0], [80e3, 70e3]])}],
)  # fmt: skip
def test_rows_of_the_same_air_and_other_humidity_or_pressure_are_each_worked_out(rows: dict[str, np.ndarray]) -> None:
    common = {"wet_area_m2": 1.0, "transfer_m_s": 0.03, "exhaust_dry_air_kg_s": 0.05, "inlet_humidity_ratio": 0.01}
    air = np.array([353.15, 363.15])
    both = surface_evaporation(WATER, air_temperature_K=np.stack([air, air]), **(common | rows))
    for place in range(2):
        here = {name: value[place] for name, value in rows.items()}
        alone = surface_evaporation(WATER, air_temperature_K=air, **(common | here))
        np.testing.assert_array_equal(both.rate_in_fresh_air_kg_s[place], alone.rate_in_fresh_air_kg_s)
        np.testing.assert_array_equal(both.rate_kg_s[place], alone.rate_kg_s)
    assert np.all(both.rate_in_fresh_air_kg_s[0] != both.rate_in_fresh_air_kg_s[1])


@pytest.mark.parametrize(
    "rows", [{"inlet_humidity_ratio": np.array([[0.004, 0.006], [0.02, 0.03]])},
             {"pressure_Pa": np.array([[101325.0, 101325.0], [80e3, 70e3]])},
             {"transfer_m_s": np.array([[0.02, 0.03], [0.0, 0.04]])}],
)  # fmt: skip
def test_gaps_of_loads_in_the_same_air_warm_up_by_their_own_humidity_pressure_and_speed(
    rows: dict[str, np.ndarray],
) -> None:
    # Without a film the gap dries from the start, while the load warms up from the wet bulb; still air has none.
    load = replace(LOAD, film_before_drain_m=0.0, film_drained_m=0.0, heat_capacity_J_K=2e5)
    air = np.array([353.15, 363.15])
    one = replace(hot_air(), air_temperature_K=air)
    both = dry_time_needed(load, replace(one, air_temperature_K=np.stack([air, air]), **rows), WATER).total_time_s
    for place in range(2):
        here = {name: value[place] for name, value in rows.items()}
        alone = np.asarray(dry_time_needed(load, replace(one, **here), WATER).total_time_s)
        np.testing.assert_array_equal(both[place], alone)
    assert np.all(np.isfinite(both))
    assert np.all(both[0] != both[1])


def test_a_load_in_still_air_dries_its_gap_at_the_airs_own_temperature() -> None:
    load = replace(LOAD, film_before_drain_m=0.0, film_drained_m=0.0)
    air = np.array([353.15, 353.15])
    still = replace(hot_air(), air_temperature_K=air, transfer_m_s=np.array([0.0, 0.03]))
    found = dry_time_needed(load, still, WATER).total_time_s
    outside = float(vapour_pressure_of_air_Pa(WATER, 0.008, 101325.0))
    needed = float(gap_progress_needed_m2(7e-3, 7e-3, 4.0))
    assert found[0] == pytest.approx(needed / float(gap_rate_m2_s(WATER, 353.15, outside)), rel=1e-9)
    assert found[1] > found[0]


def test_still_air_neither_cools_nor_dries_in_the_draws_where_it_stands() -> None:
    common = {"air_temperature_K": 353.15, "inlet_humidity_ratio": 0.01}
    surface = np.asarray(wet_surface_K(WATER, transfer_m_s=np.array([0.0, 0.03]), **common))
    assert surface[0] == 353.15
    assert surface[1] == wet_surface_K(WATER, transfer_m_s=0.03, **common)
    assert wet_surface_K(WATER, transfer_m_s=0.0, **common) == 353.15
    result = surface_evaporation(WATER, wet_area_m2=1.0, transfer_m_s=0.0, exhaust_dry_air_kg_s=0.05, **common)
    assert (result.surface_temperature_K, result.rate_kg_s, result.rate_in_fresh_air_kg_s) == (353.15, 0.0, 0.0)


def test_air_that_several_rows_share_is_computed_once_and_rows_apart_where_anything_else_differs() -> None:
    seen = []

    def compute(air_K: np.ndarray) -> np.ndarray:
        seen.append(air_K.shape)
        return np.stack([air_K, 2.0 * air_K])

    air_K = np.array([[350.0, 360.0], [340.0, 340.0], [350.0, 360.0], [350.0, 361.0]])
    for others, rows in (((0.01, np.full(2, 1e5)), 3), ((0.01, np.full((4, 1), 1e5)), 4)):
        found = for_distinct_air(compute, air_K, *others)
        np.testing.assert_array_equal(found, np.stack([air_K, 2.0 * air_K]))
        assert seen.pop() == (rows, 2)
    for plain in (350.0, np.array([350.0, 350.0])):
        np.testing.assert_array_equal(for_distinct_air(compute, plain), np.stack([plain, np.multiply(plain, 2.0)]))
        assert seen.pop() == np.shape(plain)


@pytest.mark.parametrize("transfer", [0.03, np.array([[0.03, 0.0]]), np.array([0.0, 0.03])])
def test_loads_that_share_their_air_dry_together_as_each_alone(transfer: Any) -> None:
    air_K = np.array([[353.0, 343.0], [353.0, 343.0], [333.0, 333.0]])
    size = np.array([[5e-3], [7e-3], [6e-3]])
    load = replace(LOAD, body_length_m=size, body_width_m=size, heat_capacity_J_K=np.array([[300.0], [200.0], [500.0]]))
    dryer = HotAirDryer(air_temperature_K=air_K, transfer_m_s=transfer, inlet_humidity_ratio=np.array([0.01, 0.02]),
                        inlet_temperature_K=295.0, exhaust_dry_air_kg_s=0.02)  # fmt: skip
    together = dry_time_needed(load, dryer, WATER)
    for row in range(3):
        one = replace(load, body_length_m=size[row], body_width_m=size[row],
                      heat_capacity_J_K=np.asarray(load.heat_capacity_J_K)[row])  # fmt: skip
        its_air = replace(dryer, air_temperature_K=air_K[row], transfer_m_s=np.ravel(transfer))
        alone = dry_time_needed(one, its_air, WATER)
        np.testing.assert_array_equal(np.broadcast_to(together.total_time_s[row], 2), np.ravel(alone.total_time_s))
        np.testing.assert_array_equal(together.evaporation.rate_in_fresh_air_kg_s[row],
                                      np.ravel(alone.evaporation.rate_in_fresh_air_kg_s))  # fmt: skip
