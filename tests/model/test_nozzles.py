"""Behaviour of nozzle, spray and jet-film functions: scaling, continuity, conservation, errors."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad

from model import nozzles
from model.fluids import Values

factor = st.floats(1.05, 20.0)
jet_flow = st.floats(1e-6, 1e-3)
jet_speed = st.floats(1.0, 60.0)


@given(times=factor)
@settings(deadline=None, max_examples=50)
def test_flow_grows_with_diameter_squared_and_root_of_pressure(times: float) -> None:
    flow = nozzles.orifice_flow_m3_s(0.002, 2e5, 0.7, 985.0)
    assert nozzles.orifice_flow_m3_s(0.002 * times, 2e5, 0.7, 985.0) == pytest.approx(flow * times**2)
    assert nozzles.orifice_flow_m3_s(0.002, 2e5 * times, 0.7, 985.0) == pytest.approx(flow * times**0.5)
    assert nozzles.orifice_flow_m3_s(0.002, 2e5, 0.7, 985.0 * times) == pytest.approx(flow / times**0.5)


def test_no_pressure_gives_no_flow_and_no_speed() -> None:
    assert nozzles.orifice_flow_m3_s(0.002, 0.0, 0.62, 1000.0) == 0.0
    assert nozzles.jet_speed_m_s(0.0, 0.97, 1000.0) == 0.0


@given(pressure_Pa=st.floats(1e3, 1e7), diameter_m=st.floats(1e-4, 0.05))
@settings(deadline=None, max_examples=50)
def test_ideal_thrust_is_twice_area_times_pressure(pressure_Pa: float, diameter_m: float) -> None:
    speed = nozzles.jet_speed_m_s(pressure_Pa, 1.0, 998.2)
    force = nozzles.thrust_N(nozzles.orifice_flow_m3_s(diameter_m, pressure_Pa, 1.0, 998.2), speed, 998.2)
    assert force == pytest.approx(2.0 * nozzles.nozzle_area_m2(diameter_m) * pressure_Pa, rel=1e-9)


def test_spray_width_is_zero_for_a_coherent_jet_and_grows_with_angle() -> None:
    assert nozzles.spray_width_m(0.3, 0.0) == 0.0
    widths = np.asarray(nozzles.spray_width_m(0.3, np.radians([10.0, 60.0, 90.0, 150.0])))
    assert np.all(np.diff(widths) > 0.0)
    assert widths[2] == pytest.approx(0.6)


def test_cone_solid_angle_runs_from_disc_to_sphere() -> None:
    narrow = 1e-6
    assert nozzles.cone_solid_angle_sr(narrow) == pytest.approx(np.pi * narrow**2, rel=1e-9)
    assert nozzles.cone_solid_angle_sr(np.pi) == pytest.approx(4.0 * np.pi)
    assert nozzles.cone_solid_angle_sr(np.radians(30.0)) == pytest.approx(2 * np.pi * (1 - np.cos(np.radians(30.0))))


@pytest.mark.parametrize(("wide_deg", "thin_deg"), [(40.0, 4.0), (60.0, 10.0), (25.0, 25.0)])
def test_fan_solid_angle_equals_the_integral_over_its_rectangle(wide_deg: float, thin_deg: float) -> None:
    half_width, half_depth = np.tan(np.radians([wide_deg, thin_deg]))
    # A rectangle at unit distance seen from its axis: dΩ = dx·dy/(1 + x² + y²)^1.5.
    integral, _ = dblquad(
        lambda y, x: (1.0 + x * x + y * y) ** -1.5, -half_width, half_width, -half_depth, half_depth
    )
    ours = nozzles.fan_solid_angle_sr(np.radians(wide_deg), np.radians(thin_deg))
    assert ours == pytest.approx(integral, rel=1e-7)


def test_fan_opened_to_a_right_angle_both_ways_is_half_space() -> None:
    assert nozzles.fan_solid_angle_sr(np.pi / 2, np.pi / 2) == pytest.approx(2.0 * np.pi)


@given(times=factor)
@settings(deadline=None, max_examples=50)
def test_decay_length_scales_with_drop_size_and_density_ratio(times: float) -> None:
    length = nozzles.drag_decay_length_m(5e-4, 990.0, 1.1, 0.45)
    assert nozzles.drag_decay_length_m(5e-4 * times, 990.0, 1.1, 0.45) == pytest.approx(length * times)
    assert nozzles.drag_decay_length_m(5e-4, 990.0 * times, 1.1, 0.45) == pytest.approx(length * times)
    assert nozzles.drag_decay_length_m(5e-4, 990.0, 1.1 * times, 0.45) == pytest.approx(length / times)
    assert nozzles.drag_decay_length_m(5e-4, 990.0, 1.1, 0.45 * times) == pytest.approx(length / times)


def test_decay_length_solves_the_equation_of_motion_of_a_drop() -> None:
    # m·v·dv/dx = −½·ρa·Cd·A·v², one small step against the exponential.
    diameter, liquid, air, drag, speed, step = 8e-4, 990.0, 1.15, 0.45, 20.0, 1e-5
    mass = liquid * np.pi * diameter**3 / 6.0
    slope = -0.5 * air * drag * (np.pi * diameter**2 / 4.0) * speed / mass
    decay = nozzles.drag_decay_length_m(diameter, liquid, air, drag)
    after = nozzles.speed_after_drag_m_s(speed, step, decay)
    assert (after - speed) / step == pytest.approx(slope, rel=1e-4)
    assert nozzles.speed_after_drag_m_s(speed, 0.0, decay) == speed


@given(flow=jet_flow, speed=jet_speed)
@settings(deadline=None, max_examples=50)
def test_film_speed_and_thickness_are_continuous_at_the_transition(flow: float, speed: float) -> None:
    radius = nozzles.watson_transition_radius_m(flow, speed, 5e-7)
    sides = np.array([radius * (1.0 - 1e-9), radius * (1.0 + 1e-9)])
    np.testing.assert_allclose(nozzles.watson_surface_speed_m_s(sides, flow, speed, 5e-7), speed, rtol=1e-8)
    inside, outside = np.asarray(nozzles.watson_film_thickness_m(sides, flow, speed, 5e-7))
    if radius > np.sqrt(flow / (np.pi * speed)):
        assert inside == pytest.approx(outside, rel=1e-7)


@given(flow=jet_flow, speed=jet_speed, stretch=st.floats(1.1, 20.0))
@settings(deadline=None, max_examples=50)
def test_developed_film_carries_the_whole_flow(flow: float, speed: float, stretch: float) -> None:
    # Watson's profile: mean speed over surface speed is 2π/(3√3c²) = .6150 beyond r0.
    radius = stretch * nozzles.watson_transition_radius_m(flow, speed, 5e-7)
    surface = nozzles.watson_surface_speed_m_s(radius, flow, speed, 5e-7)
    thickness = nozzles.watson_film_thickness_m(radius, flow, speed, 5e-7)
    mean_share = 2.0 * np.pi / (3.0 * np.sqrt(3.0) * 1.40218**2)
    assert 2.0 * np.pi * radius * thickness * surface * mean_share == pytest.approx(flow, rel=1e-4)


@given(flow=jet_flow, speed=jet_speed, share=st.floats(0.02, 0.98))
@settings(deadline=None, max_examples=50)
def test_surface_speed_at_the_run_out_radius_is_the_useful_speed(
    flow: float, speed: float, share: float
) -> None:
    radius = nozzles.film_run_out_radius_m(flow, speed, 5e-7, share * speed)
    assert nozzles.watson_surface_speed_m_s(radius, flow, speed, 5e-7) == pytest.approx(share * speed, rel=1e-9)


@given(flow=jet_flow, speed=jet_speed, share=st.floats(0.02, 0.9), times=factor)
@settings(deadline=None, max_examples=50)
def test_run_out_grows_with_flow_and_speed_and_shrinks_with_viscosity_and_useful_speed(
    flow: float, speed: float, share: float, times: float
) -> None:
    useful = share * speed
    base = nozzles.film_run_out_radius_m(flow, speed, 5e-7, useful)
    assert nozzles.film_run_out_radius_m(flow * times, speed, 5e-7, useful) > base
    assert nozzles.film_run_out_radius_m(flow, speed * times, 5e-7, useful) > base
    assert nozzles.film_run_out_radius_m(flow, speed, 5e-7 * times, useful) < base
    assert nozzles.film_run_out_radius_m(flow, speed, 5e-7, useful * times) < base


def test_run_out_is_r0_at_the_jet_speed_and_zero_above_it() -> None:
    flow, speed = 3e-5, 10.0
    transition = nozzles.watson_transition_radius_m(flow, speed, 1e-6)
    assert nozzles.film_run_out_radius_m(flow, speed, 1e-6, speed) == pytest.approx(transition, rel=1e-12)
    assert nozzles.film_run_out_radius_m(flow, speed, 1e-6, 1.01 * speed) == 0.0


def test_film_inside_the_jet_keeps_its_value_at_the_jet_radius() -> None:
    flow, speed = np.pi * 1e-5, 10.0
    rim = nozzles.watson_film_thickness_m(0.001, flow, speed, 1e-6)
    assert nozzles.watson_film_thickness_m(0.0, flow, speed, 1e-6) == pytest.approx(rim, rel=1e-12)
    assert nozzles.watson_surface_speed_m_s(0.0, flow, speed, 1e-6) == speed


def test_film_of_an_inviscid_liquid_only_thins_by_spreading() -> None:
    # Without wall friction the whole film keeps the jet's speed, so h = a²/(2r).
    flow, speed, radii = np.pi * 1e-5, 10.0, np.array([0.003, 0.01, 0.05])
    thickness = nozzles.watson_film_thickness_m(radii, flow, speed, 1e-14)
    np.testing.assert_allclose(thickness, 0.001**2 / (2.0 * radii), rtol=1e-3)


def test_draws_broadcast_and_floats_stay_floats() -> None:
    speeds, useful = np.linspace(5.0, 20.0, 512), np.array([[1.0], [3.0]])
    grid = np.asarray(nozzles.film_run_out_radius_m(1e-5, speeds, 5e-7, useful))
    assert grid.shape == (2, 512)
    alone = nozzles.film_run_out_radius_m(1e-5, 5.0, 5e-7, 3.0)
    assert isinstance(alone, float)
    assert alone == pytest.approx(grid[1, 0])
    assert isinstance(nozzles.orifice_flow_m3_s(0.002, 3e5, 0.6, 998.0), float)


def _spoil(function: Callable[..., Values], good: tuple[float, ...], position: int) -> Callable[[float], Values]:
    return lambda bad: function(*good[:position], bad, *good[position + 1 :])


@pytest.mark.parametrize(
    ("function", "good"),
    [
        (nozzles.nozzle_area_m2, (0.002,)),
        (nozzles.drag_decay_length_m, (1e-3, 1000.0, 1.2, 0.45)),
        (nozzles.watson_transition_radius_m, (1e-5, 10.0, 1e-6)),
        (nozzles.film_run_out_radius_m, (1e-5, 10.0, 1e-6, 2.0)),
        (partial(nozzles.watson_surface_speed_m_s, 0.01), (1e-5, 10.0, 1e-6)),
        (partial(nozzles.watson_film_thickness_m, 0.01), (1e-5, 10.0, 1e-6)),
    ],
)
@pytest.mark.parametrize("bad", [0.0, -1.0, np.nan])
def test_zero_negative_and_missing_values_are_refused(
    function: Callable[..., Values], good: tuple[float, ...], bad: float
) -> None:
    for position in range(len(good)):
        with pytest.raises(ValueError, match=r"is not allowed\. Give a finite value above 0\."):
            _spoil(function, good, position)(bad)


@pytest.mark.parametrize(
    ("function", "good"),
    [
        (nozzles.thrust_N, (1e-4, 20.0, 998.0)),
        (nozzles.jet_speed_m_s, (3e5, 0.95, 998.0)),
        (nozzles.orifice_flow_m3_s, (0.002, 3e5, 0.62, 998.0)),
        (nozzles.spray_width_m, (0.3, 1.0)),
        (nozzles.speed_after_drag_m_s, (10.0, 0.2, 2.0)),
        (nozzles.cone_solid_angle_sr, (0.5,)),
        (nozzles.fan_solid_angle_sr, (0.5, 0.1)),
        (nozzles.watson_surface_speed_m_s, (0.01, 1e-5, 10.0, 1e-6)),
        (nozzles.watson_film_thickness_m, (0.01, 1e-5, 10.0, 1e-6)),
    ],
)
@pytest.mark.parametrize("bad", [-1.0, np.nan])
def test_negative_and_missing_values_are_refused_where_zero_is_allowed(
    function: Callable[..., Values], good: tuple[float, ...], bad: float
) -> None:
    for position in range(len(good)):
        with pytest.raises(ValueError, match=r": (-1|nan) .* is not allowed\. Give "):
            _spoil(function, good, position)(bad)


def test_coefficients_above_one_and_angles_beyond_their_range_are_refused() -> None:
    with pytest.raises(ValueError, match=r"discharge coefficient: 1\.2 .* Give 0 to 1"):
        nozzles.orifice_flow_m3_s(0.002, 3e5, 1.2, 998.0)
    with pytest.raises(ValueError, match=r"velocity coefficient: 0 .* Give a finite value above 0"):
        nozzles.jet_speed_m_s(3e5, 0.0, 998.0)
    with pytest.raises(ValueError, match="full spray angle"):
        nozzles.spray_width_m(0.3, np.pi)
    with pytest.raises(ValueError, match="cone half angle"):
        nozzles.cone_solid_angle_sr(4.0)
    with pytest.raises(ValueError, match="fan half angle"):
        nozzles.fan_solid_angle_sr(0.1, 2.0)
