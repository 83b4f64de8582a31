"""Where boards and nozzles are: sizes, positions, directions and what is refused."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.spray_geometry import (
    BeltManifolds,
    FixedManifolds,
    Nozzle,
    Rack,
    RotatingArms,
    boards_that_fit,
    place_boards,
    place_nozzles,
)

CONE = Nozzle(
    shape="full cone",
    half_angle_rad=radians(30),
    decay_length_m=2.0,
    orifice_diameter_m=2e-3,
    discharge_coefficient=0.8,
    velocity_coefficient=0.95,
)
RACK = Rack(orientation="standing", board_length_m=0.2, board_width_m=0.15, pitch_m=0.025, board_count=12)
ARMS = RotatingArms(
    arms_below=1,
    arms_above=1,
    arm_radius_m=0.22,
    nozzles_per_arm=12,
    clearance_below_m=0.08,
    clearance_above_m=0.06,
    tilt_rad=radians(15),
)
SIDES = FixedManifolds(rows=4, columns=3, faces=("below", "above", "left", "right"), clearance_m=0.1)
BELT = BeltManifolds(
    rows_above=3,
    rows_below=2,
    nozzles_per_row=5,
    distance_above_m=0.1,
    distance_below_m=0.05,
    zone_length_m=0.8,
    belt_width_m=0.5,
)
FLAT = Rack(orientation="flat", board_length_m=0.2, board_width_m=0.15, pitch_m=0.2, board_count=2)


def test_solid_angle_of_a_cone_is_that_of_the_spherical_cap() -> None:
    assert CONE.solid_angle_sr == pytest.approx(2 * pi * (1 - cos(radians(30))), rel=1e-12)


def test_solid_angle_of_a_fan_is_the_integral_over_its_angles() -> None:
    fan = replace(CONE, shape="flat fan", half_angle_rad=radians(45), thin_half_angle_rad=radians(6))
    thin = np.linspace(-radians(6), radians(6), 20001)
    assert fan.solid_angle_sr == pytest.approx(2 * radians(45) * np.trapezoid(np.cos(thin), thin), rel=1e-6)


def test_a_square_fan_has_the_perimeter_factor_of_a_square() -> None:
    square = replace(CONE, shape="flat fan", half_angle_rad=0.01, thin_half_angle_rad=0.01)
    assert square.perimeter_factor == pytest.approx(4 / (2 * pi**0.5), rel=1e-4)
    assert CONE.perimeter_factor == 1.0


def test_flow_through_the_stream_area_is_the_discharge() -> None:
    # q/v0 with q = C_d A √(2Δp/ρ) and v0 = C_v √(2Δp/ρ)
    assert CONE.stream_area_m2 == pytest.approx(0.8 * pi * 1e-6 / 0.95, rel=1e-12)


def test_standing_boards_stand_side_by_side_about_the_centre() -> None:
    planes = place_boards(RACK, ARMS)
    assert planes.board_count == 12
    assert planes.first_plane_m == pytest.approx(-5.5 * 0.025)
    assert planes.half_extent_m == pytest.approx((5.5 * 0.025, 0.1, 0.075))


def test_leaning_boards_come_closer_by_the_cosine_and_lower_the_outline() -> None:
    planes = place_boards(replace(RACK, tilt_rad=radians(30)), ARMS)
    assert planes.plane_pitch_m == pytest.approx(0.025 * cos(radians(30)))
    assert planes.half_extent_m[2] == pytest.approx(0.075 * cos(radians(30)))
    assert planes.half_extent_m[0] == pytest.approx(5.5 * 0.025 + 0.075 * sin(radians(30)))


def test_boards_beyond_the_depth_of_the_rack_start_a_second_row() -> None:
    planes = place_boards(replace(RACK, board_count=11, rack_depth_m=0.15, rack_width_m=0.41), ARMS)
    assert planes.boards_in_block.tolist() == [6, 5]
    assert planes.block_v_m == pytest.approx([-0.1, 0.1])


@given(count=st.integers(1, 60), depth_m=st.floats(0.02, 1.0), standing=st.booleans())
@settings(deadline=None, max_examples=50)
def test_every_board_is_placed_once_and_inside_the_rack(count: int, depth_m: float, standing: bool) -> None:
    room = depth_m if standing else depth_m + 0.15
    rack = replace(RACK if standing else FLAT, board_count=count, rack_depth_m=room)
    planes = place_boards(rack, ARMS)
    assert planes.board_count == count
    assert planes.half_extent_m[0] <= room / 2 + 1e-9
    centres = {(u, v, k) for u, v, m in zip(planes.block_u_m, planes.block_v_m, planes.boards_in_block, strict=True)
               for k in range(m)}  # fmt: skip
    assert len(centres) == count


@pytest.mark.parametrize(
    ("arrangement", "rack", "count"),
    [(ARMS, RACK, 24), (SIDES, RACK, 48), (BELT, FLAT, 25), (ARMS, FLAT, 24)],
)
def test_axes_are_unit_vectors_square_to_the_fan_and_look_at_the_boards(arrangement, rack, count) -> None:
    bank = place_nozzles(arrangement, place_boards(rack, arrangement))
    assert bank.position_m.shape == (count, 3)
    assert np.linalg.norm(bank.axis, axis=1) == pytest.approx(np.ones(count))
    assert np.linalg.norm(bank.wide, axis=1) == pytest.approx(np.ones(count))
    assert np.sum(bank.axis * bank.wide, axis=1) == pytest.approx(np.zeros(count), abs=1e-12)
    depth = np.abs(bank.axis[:, 1:]).argmax(axis=1) + 1 if arrangement is SIDES else np.full(count, 2)
    rows = np.arange(count)
    assert np.all(bank.axis[rows, depth] * bank.position_m[rows, depth] < 0.0)


def test_nozzles_of_two_arms_of_a_level_run_on_circles_of_their_own() -> None:
    bank = place_nozzles(replace(ARMS, arms_above=2), place_boards(RACK, ARMS))
    above = bank.position_m[bank.position_m[:, 2] > 0]
    radii = np.sort(np.hypot(above[:, 0], above[:, 1]))
    assert np.diff(radii) == pytest.approx(np.full(23, 0.22 / 24))
    assert above[:, 2] == pytest.approx(np.full(24, 0.075 + 0.06))


def test_overhang_moves_only_the_outer_nozzles_outward() -> None:
    near, far = (place_nozzles(m, place_boards(RACK, m)) for m in (SIDES, replace(SIDES, overhang_m=0.05)))
    assert np.abs(far.position_m[:, 0]).max() == pytest.approx(np.abs(near.position_m[:, 0]).max() + 0.05 * 0.75)


def test_a_board_on_a_belt_spends_its_pitch_of_the_zone() -> None:
    bank = place_nozzles(BELT, place_boards(FLAT, BELT))
    assert bank.time_share == pytest.approx(0.2 / 0.8)


def test_boards_that_fit_takes_the_better_way_to_stand_them() -> None:
    assert boards_that_fit(0.5, 0.4, 0.16, 0.2, 0.15, 0.025, 1) == 40
    assert boards_that_fit(0.5, 0.4, 0.25, 0.2, 0.15, 0.025, 1) == 40
    assert boards_that_fit(0.5, 0.45, 0.25, 0.2, 0.15, 0.025, 1) == 60  # three rows on the short edge
    assert boards_that_fit(0.5, 0.4, 0.1, 0.2, 0.15, 0.025, 1) == 0


@given(length_m=st.floats(0.1, 2.0), more=st.floats(1.0, 2.0), levels=st.integers(1, 3))
@settings(deadline=None, max_examples=50)
def test_a_longer_chamber_never_holds_fewer_boards(length_m: float, more: float, levels: int) -> None:
    small = boards_that_fit(length_m, 0.5, 0.6, 0.2, 0.15, 0.03, levels)
    assert boards_that_fit(length_m * more, 0.5, 0.6, 0.2, 0.15, 0.03, levels) >= small


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"shape": "mist"}, "shape is 'mist'"),
        ({"half_angle_rad": 0.0}, "half angle is 0 rad"),
        ({"shape": "flat fan"}, "Thin half angle"),
        ({"decay_length_m": -1.0}, "decay_length_m is -1"),
        ({"orifice_diameter_m": float("nan")}, "orifice_diameter_m is nan"),
        ({"discharge_coefficient": 1.2}, "discharge coefficient is 1.2"),
        ({"velocity_coefficient": 0.0}, "velocity coefficient is 0"),
    ],
)
def test_a_nozzle_outside_its_range_is_refused(change: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        replace(CONE, **change)


@pytest.mark.parametrize(
    ("base", "change", "sentence"),
    [
        (ARMS, {"nozzles_per_arm": 0}, "at least one nozzle"),
        (ARMS, {"arms_below": 0, "arms_above": 0}, "at least one arm"),
        (ARMS, {"clearance_above_m": 0.0}, "clearance_above_m is 0"),
        (ARMS, {"tilt_rad": 2.0}, "Nozzle tilt is 2 rad"),
        (SIDES, {"faces": ()}, "one face"),
        (SIDES, {"faces": ("below", "below")}, "at most once"),
        (SIDES, {"oscillation_half_angle_rad": -0.1}, "Oscillation is"),
        (SIDES, {"overhang_m": -0.1}, "Overhang"),
        (BELT, {"rows_above": 0, "rows_below": 0}, "at least one row"),
        (BELT, {"zone_length_m": -1.0}, "zone_length_m is -1"),
        (RACK, {"orientation": "upside down"}, "orientation is"),
        (RACK, {"board_count": 0}, "at least one board"),
        (RACK, {"tilt_rad": 1.2}, "lean up to 60"),
        (FLAT, {"tilt_rad": 0.1}, "not at all when flat"),
        (FLAT, {"pitch_m": 0.1}, "overlap at pitch 0.1 m"),
        (RACK, {"rack_width_m": 0.19}, "0.19 m wide, smaller than the board of 0.2 m"),
        (FLAT, {"rack_depth_m": 0.1}, "0.1 m deep, smaller than the board"),
    ],
)
def test_an_impossible_arrangement_is_refused(base, change: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        replace(base, **change)


@pytest.mark.parametrize(
    ("rack", "arrangement", "sentence"),
    [
        (FLAT, replace(BELT, belt_width_m=0.39), "narrower than 2 board"),
        (RACK, BELT, "Boards on a belt lie flat"),
        (replace(FLAT, pitch_m=1.0), BELT, "shorter than the board pitch"),
        (replace(RACK, rack_depth_m=0.1, rack_width_m=0.3), ARMS, "12 boards need 3 rows"),
    ],
)
def test_boards_that_do_not_fit_are_refused(rack, arrangement, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        place_boards(rack, arrangement)


def test_sizes_of_a_chamber_must_be_positive() -> None:
    with pytest.raises(ValueError, match="pitch_m is 0"):
        boards_that_fit(0.5, 0.5, 0.5, 0.2, 0.15, 0.0, 1)
