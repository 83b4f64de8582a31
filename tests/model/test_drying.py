"""Drying a load: hot air, blow-off, standing chamber, vacuum; mass closes and better air never takes longer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

import model.passive_drying
from model.air_transfer import nozzle_array_sherwood, plate_sherwood, round_nozzle_sherwood, stream_transfer_m_s
from model.drying import DryingLoad, HotAirDryer, dry_outcome, dry_time_needed, vapour_pressure_of_air_Pa
from model.drying_fluid import solvent_for_drying, water_for_drying
from model.evaporation import exhaust_limit_kg_s, surface_evaporation, wet_surface_K
from model.fluids import water_saturation_pressure_Pa
from model.gap_drying import gap_rate_m2_s, gap_wet_share
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
    assert dry_time_needed(LOAD, hot_air(velocity=0.0), WATER).total_time_s == np.inf


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


@pytest.mark.parametrize("capacity", [100.0, 2500.0])
@pytest.mark.parametrize("time", [30.0, 600.0])
def test_standing_chamber_follows_a_general_solver(capacity: float, time: float) -> None:
    # scipy's stiff solver on C dT/dt = −hA(T − T_w) − L·A·n(T), for a film that outlasts the time.
    chamber = StandingChamber(wall_temperature_K=303.15, saturation_share=1.0, heat_transfer_W_m2_K=6.0)
    load = replace(LOAD, heat_capacity_J_K=capacity)
    wall, pressure = 303.15, 101325.0
    air = pressure / (287.042 * wall) * 1006.0
    lewis = float(air_conductivity_W_m_K(wall)) / air / float(vapour_diffusivity_m2_s(wall, pressure))
    transfer = 6.0 / (air * lewis ** (2 / 3))
    outside = float(water_saturation_pressure_Pa(wall))

    def change(_: float, state: np.ndarray) -> list[float]:
        inner = float(water_saturation_pressure_Pa(state[0]))
        driving = np.log((pressure - outside) / (pressure - inner))
        flux = 0.01801528 * transfer * pressure / (8.314462618 * state[0]) * driving
        rate = float(gap_rate_m2_s(WATER, max(state[0], wall), outside))
        return [-(6.0 * (state[0] - wall) + WATER.latent_heat_J_kg * flux) / capacity, flux, rate]

    exact = solve_ivp(change, (0.0, time), [338.15, 0.0, 0.0], method="LSODA", rtol=1e-8, atol=1e-12).y[:, -1]
    outcome = passive_dry_outcome(load, chamber, WATER, time)
    film_gone = 0.05e-3 * WATER.liquid_density_kg_m3 - outcome.surface_left_kg
    assert outcome.load_temperature_K == pytest.approx(exact[0], abs=0.3)
    assert film_gone == pytest.approx(exact[1], rel=0.03)
    assert outcome.gap_wet_share == pytest.approx(float(gap_wet_share(exact[2], 7e-3, 7e-3, 4.0)), abs=0.01)


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
        (lambda: dry_time_needed(replace(LOAD, film_drained_m=1.0), hot_air(), WATER), "thicker than the film"),
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
