"""Behaviour of pump, system and suction: balance at the operating point, trends, two kinds of curve, errors."""

from __future__ import annotations

import dataclasses
import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from model import pump
from model.fluids import water_density_kg_m3, water_saturation_pressure_Pa

PARABOLA = pump.PumpCurve(shutoff_pressure_Pa=4e5, max_flow_m3_s=0.010)
TABLE = pump.PumpCurve(points=((0.0, 4.0e5), (0.002, 3.9e5), (0.004, 3.5e5), (0.006, 2.8e5), (0.008, 1.7e5)))
BANK: dict[str, Any] = {
    "nozzle_area_m2": 2e-4,
    "discharge_coefficient": 0.8,
    "density_kg_m3": 985.0,
    "efficiency_share": 0.55,
    "piping_loss_Pa_s2_m6": 1.5e9,
    "filter_loss_Pa_s2_m6": 8e8,
}
above_one = st.floats(1.01, 10.0)


def test_closed_form_agrees_with_a_root_search_on_the_same_parabola() -> None:
    point = pump.operating_point(PARABOLA, **BANK, static_pressure_Pa=5e3)
    loss = 985.0 / (2.0 * (0.8 * 2e-4) ** 2) + 1.5e9 + 8e8
    flow = brentq(lambda q: 4e5 * (1.0 - (q / 0.01) ** 2) - 5e3 - loss * q * q, 0.0, 0.01, xtol=1e-15)
    assert point.flow_m3_s == pytest.approx(flow, rel=1e-10)
    assert point.pump_pressure_Pa == pytest.approx(PARABOLA.pressure_Pa(flow), rel=1e-10)


@pytest.mark.parametrize("curve", [PARABOLA, TABLE])
@given(area_m2=st.floats(2e-5, 2.5e-4), piping=st.floats(0.0, 1e10), filtering=st.floats(0.0, 1e10))
@settings(deadline=None, max_examples=50)
def test_pump_rise_equals_nozzle_piping_filter_and_static_pressure(
    curve: pump.PumpCurve, area_m2: float, piping: float, filtering: float
) -> None:
    system = BANK | {
        "nozzle_area_m2": area_m2,
        "piping_loss_Pa_s2_m6": piping,
        "filter_loss_Pa_s2_m6": filtering,
    }
    point = pump.operating_point(curve, **system, static_pressure_Pa=4e3)
    assert not point.beyond_curve
    losses = (piping + filtering) * point.flow_m3_s**2
    assert point.nozzle_pressure_Pa + losses + 4e3 == pytest.approx(curve.pressure_Pa(point.flow_m3_s), rel=1e-8)
    assert point.pump_pressure_Pa == pytest.approx(curve.pressure_Pa(point.flow_m3_s), rel=1e-8)
    discharge = 0.8 * area_m2 * np.sqrt(2.0 * point.nozzle_pressure_Pa / 985.0)
    assert discharge == pytest.approx(point.flow_m3_s, rel=1e-9)
    assert point.shaft_power_W == pytest.approx(point.flow_m3_s * point.pump_pressure_Pa / 0.55, rel=1e-12)


@pytest.mark.parametrize("curve", [PARABOLA, TABLE])
@given(times=above_one)
@settings(deadline=None, max_examples=50)
def test_a_loaded_filter_lowers_flow_and_nozzle_pressure_and_raises_pump_pressure(
    curve: pump.PumpCurve, times: float
) -> None:
    clean = pump.operating_point(curve, **BANK)
    loaded = pump.operating_point(curve, **(BANK | {"filter_loss_Pa_s2_m6": 8e8 * times}))
    assert loaded.flow_m3_s < clean.flow_m3_s
    assert loaded.nozzle_pressure_Pa < clean.nozzle_pressure_Pa
    assert loaded.pump_pressure_Pa > clean.pump_pressure_Pa


@given(times=above_one)
@settings(deadline=None, max_examples=50)
def test_more_nozzle_area_gives_more_flow_at_less_nozzle_pressure(times: float) -> None:
    few = pump.operating_point(PARABOLA, **BANK)
    many = pump.operating_point(PARABOLA, **(BANK | {"nozzle_area_m2": 2e-4 * times}))
    assert many.flow_m3_s > few.flow_m3_s
    assert many.nozzle_pressure_Pa < few.nozzle_pressure_Pa


def test_a_finely_tabulated_parabola_gives_the_point_of_the_parabola() -> None:
    flows = np.linspace(0.0, 0.01, 201)
    rises = np.asarray(PARABOLA.pressure_Pa(flows))
    table = pump.PumpCurve(points=tuple(zip(flows.tolist(), rises.tolist(), strict=True)))
    exact, tabulated = pump.operating_point(PARABOLA, **BANK), pump.operating_point(table, **BANK)
    assert tabulated.flow_m3_s == pytest.approx(exact.flow_m3_s, rel=1e-6)


def test_tiny_nozzles_see_the_shut_off_pressure_and_an_open_pipe_the_full_flow() -> None:
    free = BANK | {"piping_loss_Pa_s2_m6": 0.0, "filter_loss_Pa_s2_m6": 0.0}
    tiny = pump.operating_point(PARABOLA, **(free | {"nozzle_area_m2": 1e-8}))
    assert tiny.nozzle_pressure_Pa == pytest.approx(4e5, rel=1e-6)
    wide = pump.operating_point(PARABOLA, **(free | {"nozzle_area_m2": 1.0}))
    assert wide.flow_m3_s == pytest.approx(0.010, rel=1e-6)


def test_a_system_that_runs_off_the_table_is_held_at_its_last_point_and_flagged() -> None:
    system = BANK | {"nozzle_area_m2": np.array([2e-4, 2e-2])}
    point = pump.operating_point(TABLE, **system)
    np.testing.assert_array_equal(point.beyond_curve, [False, True])
    flow, rise = np.asarray(point.flow_m3_s), np.asarray(point.pump_pressure_Pa)
    assert flow[1] == 0.008
    assert rise[1] < 1.7e5


def test_a_system_left_of_the_first_point_sees_the_first_pressure() -> None:
    late = pump.PumpCurve(points=((0.002, 3e5), (0.004, 2e5), (0.006, 0.5e5)))
    point = pump.operating_point(late, **(BANK | {"nozzle_area_m2": 2e-5}))
    assert point.flow_m3_s < 0.002
    assert point.pump_pressure_Pa == pytest.approx(3e5, rel=1e-9)


@pytest.mark.parametrize("curve", [PARABOLA, TABLE])
def test_draws_give_the_same_points_as_one_at_a_time(curve: pump.PumpCurve) -> None:
    areas, losses = np.array([1e-4, 2e-4, 2.5e-4]), np.array([[0.0], [3e9]])
    grid = pump.operating_point(curve, **(BANK | {"nozzle_area_m2": areas, "filter_loss_Pa_s2_m6": losses}))
    for index in np.ndindex(2, 3):
        alone = pump.operating_point(
            curve,
            **(BANK | {"nozzle_area_m2": float(areas[index[1]]), "filter_loss_Pa_s2_m6": float(losses[index[0], 0])}),
        )
        for field in ("flow_m3_s", "nozzle_pressure_Pa", "pump_pressure_Pa", "shaft_power_W"):
            assert isinstance(getattr(alone, field), float)
            assert getattr(grid, field).shape == (2, 3)
            assert getattr(alone, field) == pytest.approx(getattr(grid, field)[index], rel=1e-10)


def test_draws_of_efficiency_alone_give_every_field_their_shape() -> None:
    point = pump.operating_point(PARABOLA, **(BANK | {"efficiency_share": np.linspace(0.4, 0.7, 5)}))
    for field in dataclasses.fields(point):
        assert np.shape(getattr(point, field.name)) == (5,)
    assert np.all(np.diff(point.shaft_power_W) < 0.0)


def test_draws_of_the_curve_itself_are_solved_per_draw() -> None:
    curve = pump.PumpCurve(shutoff_pressure_Pa=np.array([3e5, 4e5]), max_flow_m3_s=0.010)
    flows = np.asarray(pump.operating_point(curve, **BANK).flow_m3_s)
    assert flows[1] == pytest.approx(pump.operating_point(PARABOLA, **BANK).flow_m3_s)
    assert flows[0] < flows[1]


def test_curve_values_at_its_points_and_beyond_its_ends() -> None:
    assert TABLE.pressure_Pa(0.004) == pytest.approx(3.5e5)
    late = pump.PumpCurve(points=((0.002, 3e5), (0.004, 2e5)))
    assert late.pressure_Pa(0.0) == pytest.approx(3e5)
    assert PARABOLA.pressure_Pa(0.02) == 0.0
    assert np.all(np.diff(TABLE.pressure_Pa(np.linspace(0.0, 0.008, 200))) < 0.0)
    with pytest.raises(ValueError, match=r"pump flow: 0\.009 m³/s is not allowed\. Give 0 to 0\.008 m³/s\."):
        TABLE.pressure_Pa(0.009)


@given(times=above_one)
@settings(deadline=None, max_examples=50)
def test_turbulent_loss_scales_with_flow_squared_through_the_loss_coefficient(times: float) -> None:
    loss = pump.quadratic_loss_coefficient_Pa_s2_m6(3e4, 0.004)
    assert loss * (0.004 * times) ** 2 == pytest.approx(3e4 * times**2)


@given(reynolds=st.floats(2400.0, 1e8), roughness=st.floats(0.0, 0.04), times=above_one)
@settings(deadline=None, max_examples=50)
def test_friction_falls_with_reynolds_number_and_rises_with_roughness(
    reynolds: float, roughness: float, times: float
) -> None:
    friction = pump.friction_factor(reynolds, roughness)
    assert pump.friction_factor(reynolds * times, roughness) <= friction
    assert pump.friction_factor(reynolds, roughness + 0.01) > friction


@given(reynolds=st.floats(2400.0, 1e9), roughness=st.floats(0.0, 0.05))
@settings(deadline=None, max_examples=50)
def test_friction_factor_satisfies_colebrook(reynolds: float, roughness: float) -> None:
    friction = pump.friction_factor(reynolds, roughness)
    right = -2.0 * np.log10(roughness / 3.7 + 2.51 / (reynolds * np.sqrt(friction)))
    assert friction**-0.5 == pytest.approx(right, rel=1e-11)


def test_laminar_pipe_loss_is_that_of_poiseuille() -> None:
    # Δp = 128·µ·L·Q/(π·d⁴)
    loss = pump.pipe_loss_Pa(
        1e-6, diameter_m=0.01, length_m=2.0, roughness_m=1e-6, density_kg_m3=990.0, viscosity_Pa_s=1e-3
    )
    assert loss == pytest.approx(128.0 * 1e-3 * 2.0 * 1e-6 / (np.pi * 0.01**4), rel=1e-12)


def test_fittings_alone_cost_their_velocity_heads() -> None:
    loss = pump.pipe_loss_Pa(
        0.002,
        diameter_m=0.03,
        length_m=0.0,
        roughness_m=1e-6,
        density_kg_m3=990.0,
        viscosity_Pa_s=5e-4,
        minor_loss_coefficient=2.5,
    )
    assert loss == pytest.approx(2.5 * 0.5 * 990.0 * (0.002 / (np.pi * 0.03**2 / 4.0)) ** 2, rel=1e-12)


@given(first_K=st.floats(288.15, 371.15), second_K=st.floats(288.15, 371.15))
@settings(deadline=None, max_examples=50)
def test_suction_head_falls_as_the_wash_gets_hotter(first_K: float, second_K: float) -> None:
    colder, hotter = min(first_K, second_K), max(first_K, second_K)
    if hotter - colder > 1e-3:
        hot = pump.npsh_available_m(101325.0, hotter, 0.5, 0.2)
        assert hot < pump.npsh_available_m(101325.0, colder, 0.5, 0.2)


def test_suction_head_counts_level_and_friction_metre_for_metre_and_may_be_negative() -> None:
    base = pump.npsh_available_m(101325.0, 333.15, 0.0, 0.0)
    expected = (101325.0 - water_saturation_pressure_Pa(333.15)) / (water_density_kg_m3(333.15) * 9.80665)
    assert base == pytest.approx(expected, rel=1e-12)
    assert pump.npsh_available_m(101325.0, 333.15, 1.5, 0.4) == pytest.approx(base + 1.1, rel=1e-12)
    assert pump.npsh_available_m(101325.0, 371.15, -2.0, 0.5) < 0.0


def test_suction_head_of_a_solvent_takes_its_own_vapour_pressure_at_any_temperature() -> None:
    head = pump.npsh_available_m(101325.0, 400.0, 0.0, 0.0, density_kg_m3=800.0, vapour_pressure_Pa=50000.0)
    assert head == pytest.approx((101325.0 - 50000.0) / (800.0 * 9.80665), rel=1e-12)


NOTHING_TO_DRAW = "pump curve: nothing to draw it from. Give shut-off pressure and maximum flow, or points."
ABOVE, NOT_BELOW = (f" is not allowed. Give a finite value{limit}." for limit in (" above 0", ", 0 or above"))


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ({}, NOTHING_TO_DRAW),
        ({"shutoff_pressure_Pa": 1e5}, NOTHING_TO_DRAW),
        ({"shutoff_pressure_Pa": 0.0, "max_flow_m3_s": 0.01}, f"pump shut-off pressure: 0 Pa{ABOVE}"),
        ({"shutoff_pressure_Pa": 1e5, "max_flow_m3_s": -0.01}, f"pump maximum flow: -0.01 m³/s{ABOVE}"),
        ({"points": ((0.0, 1e5),)}, "pump curve: one point is not a curve. Give two points or more."),
        (
            {"points": ((0.0, 1e5), (0.0, 9e4))},
            "pump curve: flow must rise from point to point. Sort the points, drop doubles.",
        ),
        (
            {"points": ((0.0, 1e5), (0.01, 1e5 + 0.5))},
            "pump curve: pressure must not rise with flow. Check the points.",
        ),
        ({"points": ((0.0, 1e5), (0.01, -1.0))}, f"pump curve pressure: -1 Pa{NOT_BELOW}"),
        ({"points": ((-0.1, 1e5), (0.01, 1.0))}, f"pump curve flow: -0.1 m³/s{NOT_BELOW}"),
        (
            {"points": ((0.0, 1e5), (0.01, 0.0)), "shutoff_pressure_Pa": 1e5},
            "pump curve: points and a parabola are both given. Give one of the two.",
        ),
    ],
)
def test_a_curve_no_pump_has_is_refused(arguments: dict[str, Any], sentence: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        pump.PumpCurve(**arguments)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"nozzle_area_m2": 0.0}, "total nozzle area: 0 m² is not allowed"),
        ({"nozzle_area_m2": -1e-4}, "total nozzle area: -0.0001 m² is not allowed"),
        ({"nozzle_area_m2": np.array([1e-4, np.nan])}, "total nozzle area: nan m² is not allowed"),
        ({"discharge_coefficient": 0.0}, "discharge coefficient: 0"),
        ({"discharge_coefficient": 1.5}, "discharge coefficient: 1.5"),
        ({"density_kg_m3": 0.0}, "liquid density: 0 kg/m³ is not allowed"),
        ({"efficiency_share": 0.0}, "pump efficiency: 0"),
        ({"efficiency_share": 55.0}, "pump efficiency: 55"),
        ({"piping_loss_Pa_s2_m6": -1.0}, "piping loss coefficient: -1"),
        ({"filter_loss_Pa_s2_m6": -1.0}, "filter loss coefficient: -1"),
        ({"static_pressure_Pa": -1.0}, "static pressure: -1 Pa is not allowed"),
        (
            {"static_pressure_Pa": 4e5},
            r"static pressure: 400000 Pa is not below .* nothing flows\. Give a stronger pump or less height\.$",
        ),
    ],
)
@pytest.mark.parametrize("curve", [PARABOLA, TABLE])
def test_a_system_without_a_sensible_point_is_refused(
    curve: pump.PumpCurve, change: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        pump.operating_point(curve, **(BANK | change))


def test_zero_flow_and_negative_values_are_refused_everywhere() -> None:
    pipe: dict[str, Any] = {
        "diameter_m": 0.03,
        "length_m": 5.0,
        "roughness_m": 1e-6,
        "density_kg_m3": 990.0,
        "viscosity_Pa_s": 5e-4,
    }
    with pytest.raises(ValueError, match="flow: 0 m³/s is not allowed"):
        pump.hydraulic_power_W(0.0, 3e5)
    with pytest.raises(ValueError, match="pump pressure: -1 Pa is not allowed"):
        pump.shaft_power_W(0.01, -1.0, 0.6)
    with pytest.raises(ValueError, match="flow: 0 m³/s is not allowed"):
        pump.quadratic_loss_coefficient_Pa_s2_m6(1e4, 0.0)
    with pytest.raises(ValueError, match="flow: 0 m³/s is not allowed"):
        pump.pipe_loss_Pa(0.0, **pipe)
    for name in pipe:
        with pytest.raises(ValueError, match=r"-1 .* is not allowed"):
            pump.pipe_loss_Pa(0.002, **(pipe | {name: -1.0}))
    with pytest.raises(ValueError, match="Reynolds number: 0"):
        pump.friction_factor(0.0, 1e-4)
    with pytest.raises(ValueError, match=r"relative roughness: 0\.2"):
        pump.friction_factor(1e5, 0.2)
    with pytest.raises(ValueError, match="absolute pressure: 0 Pa is not allowed"):
        pump.npsh_available_m(0.0, 313.15, 1.0, 0.1)
    with pytest.raises(ValueError, match=r"friction head: -0.1 m is not allowed"):
        pump.npsh_available_m(1e5, 313.15, 1.0, -0.1)
    with pytest.raises(ValueError, match="water temperature: 40 K is not allowed"):
        pump.npsh_available_m(1e5, 40.0, 1.0, 0.1)


def test_a_curve_may_be_flat_from_point_to_point() -> None:
    flat = pump.PumpCurve(points=((0.0, 3e5), (0.002, 3e5), (0.006, 1e5)))
    assert flat.pressure_Pa(0.001) == pytest.approx(3e5)


def test_no_loss_in_pipes_and_filter_is_assumed_unless_given() -> None:
    nozzles = {name: BANK[name] for name in ("nozzle_area_m2", "discharge_coefficient", "density_kg_m3")}
    bare = pump.operating_point(PARABOLA, **nozzles, efficiency_share=0.5)
    none = pump.operating_point(
        PARABOLA, **nozzles, efficiency_share=0.5, piping_loss_Pa_s2_m6=0.0, filter_loss_Pa_s2_m6=0.0,
        static_pressure_Pa=0.0,
    )  # fmt: skip
    assert bare == none


@pytest.mark.parametrize("share", [0.5, 0.9, 0.999, 1.001, 1.1, 2.0])
def test_a_system_is_flagged_exactly_when_it_takes_less_than_the_last_pressure_at_the_last_flow(share: float) -> None:
    # 1.7e5 Pa at 0.008 m³/s: the last point of the table.
    system = {"nozzle_area_m2": 1.0, "discharge_coefficient": 1.0, "density_kg_m3": 985.0, "efficiency_share": 0.5}
    point = pump.operating_point(TABLE, **system, piping_loss_Pa_s2_m6=share * 1.7e5 / 0.008**2)
    assert point.beyond_curve is (share < 1.0)


def test_the_flag_is_a_truth_value_for_one_system_and_one_per_draw_for_many() -> None:
    assert pump.operating_point(PARABOLA, **BANK).beyond_curve is False
    many = pump.operating_point(PARABOLA, **(BANK | {"efficiency_share": np.linspace(0.4, 0.7, 5)})).beyond_curve
    assert isinstance(many, np.ndarray)
    assert many.dtype == np.bool_


def test_points_in_whole_numbers_are_a_curve_like_any_other() -> None:
    whole = pump.PumpCurve(points=((0, 400000), (1, 390000), (2, 200000)))
    parts = pump.PumpCurve(points=((0.0, 4e5), (1.0, 3.9e5), (2.0, 2e5)))
    system = {"nozzle_area_m2": 0.1, "discharge_coefficient": 0.8, "density_kg_m3": 985.0, "efficiency_share": 0.5}
    assert pump.operating_point(whole, **system) == pump.operating_point(parts, **system)


def test_a_rough_pipe_loses_what_colebrook_says_at_its_roughness_over_diameter() -> None:
    # Darcy and Weisbach, f·L/d·ρv²/2, with f at ε/d = 1e-4 m / 0.02 m.
    flow, diameter = 2e-3, 0.02
    speed = flow / (np.pi * diameter**2 / 4.0)
    friction = pump.friction_factor(990.0 * speed * diameter / 5e-4, 1e-4 / diameter)
    loss = pump.pipe_loss_Pa(
        flow, diameter_m=diameter, length_m=3.0, roughness_m=1e-4, density_kg_m3=990.0, viscosity_Pa_s=5e-4
    )
    assert loss == pytest.approx(friction * 3.0 / diameter * 990.0 * speed**2 / 2.0, rel=1e-12)
