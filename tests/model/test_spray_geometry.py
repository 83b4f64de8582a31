"""Where boards and nozzles are: sizes, positions, directions and what is refused."""

from __future__ import annotations

import re
from dataclasses import replace
from math import cos, inf, pi, radians, sin

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


# ---- Every nozzle where the drawing puts it --------------------------------------------------------------------------


def test_nozzles_of_an_arm_alternate_between_its_halves_and_lean_outward_or_along_the_turn() -> None:
    arms = replace(ARMS, arms_below=1, arms_above=2, nozzles_per_arm=4, arm_radius_m=0.2)
    bank = place_nozzles(arms, place_boards(RACK, arms))
    lean, upright, height = sin(radians(15)), cos(radians(15)), 0.075
    half = np.array([1.0, -1.0, 1.0, -1.0])
    for first, step, z, up in (
        (0, 0.5, -(height + 0.08), 1.0), (4, 0.25, height + 0.06, -1.0), (8, 0.75, height + 0.06, -1.0),
    ):  # fmt: skip
        chosen = slice(first, first + 4)
        radius = 0.2 * (np.arange(4) + step) / 4
        np.testing.assert_allclose(bank.position_m[chosen].T, [half * radius, np.zeros(4), np.full(4, z)], atol=1e-15)
        x = [lean, -lean, 0.0, 0.0]
        y = [0.0, 0.0, lean, -lean]
        np.testing.assert_allclose(bank.axis[chosen].T, [x, y, np.full(4, up * upright)], atol=1e-15)
        # Fans are wide along the arm: radially, at right angles to the lean.
        wide = [[upright, upright, 1, 1], [0, 0, 0, 0], [-up * lean, up * lean, 0, 0]]
        np.testing.assert_allclose(bank.wide[chosen].T, wide, atol=1e-15)
    assert (bank.motion, bank.swing_half_angle_rad, bank.time_share) == ("turning", 0.0, 1.0)


@pytest.mark.parametrize(
    ("face", "across", "depth", "sign"),
    [("below", 1, 2, 1.0), ("above", 1, 2, -1.0), ("left", 2, 1, 1.0), ("right", 2, 1, -1.0)],
)
def test_nozzles_of_a_manifold_sit_in_the_middle_of_equal_parts_of_their_face(
    face: str, across: int, depth: int, sign: float
) -> None:
    sides = replace(SIDES, rows=2, columns=3, faces=(face,), overhang_m=0.03, oscillation_half_angle_rad=0.2)
    planes = place_boards(RACK, sides)
    bank = place_nozzles(sides, planes)
    half = planes.half_extent_m
    pipes = (half[0] + 0.03) * np.array([-0.5, 0.5])
    places = (half[across] + 0.03) * np.array([-2 / 3, 0.0, 2 / 3])
    expected = {(round(x, 9), round(y, 9)) for x in pipes for y in places}
    found = {(round(float(place[0]), 9), round(float(place[across]), 9)) for place in bank.position_m}
    assert found == expected
    np.testing.assert_allclose(bank.position_m[:, depth], -sign * (half[depth] + 0.1))
    axis, wide = np.zeros((6, 3)), np.zeros((6, 3))
    axis[:, depth], wide[:, across] = sign, 1.0
    np.testing.assert_array_equal(bank.axis, axis)
    np.testing.assert_array_equal(bank.wide, wide)
    assert (bank.motion, bank.swing_half_angle_rad, bank.time_share) == ("swinging", 0.2, 1.0)


def test_rows_over_and_under_a_belt_share_zone_and_width_evenly() -> None:
    bank = place_nozzles(BELT, place_boards(FLAT, BELT))
    above, below = bank.position_m[bank.position_m[:, 2] > 0], bank.position_m[bank.position_m[:, 2] < 0]
    assert sorted({round(float(x), 9) for x in above[:, 0]}) == pytest.approx([-0.8 / 3, 0.0, 0.8 / 3])
    assert sorted({round(float(x), 9) for x in below[:, 0]}) == pytest.approx([-0.2, 0.2])
    for level, height in ((above, 0.1), (below, -0.05)):
        assert sorted({round(float(y), 9) for y in level[:, 1]}) == pytest.approx([-0.2, -0.1, 0.0, 0.1, 0.2])
        np.testing.assert_allclose(level[:, 2], height)
    assert bank.motion == "belt"
    single = replace(BELT, rows_below=0)
    assert np.all(place_nozzles(single, place_boards(FLAT, single)).axis[:, 2] == -1.0)


def test_flat_boards_in_rows_and_leaning_boards_stand_where_they_are_counted() -> None:
    rack = replace(FLAT, board_count=5, rack_depth_m=0.55, rack_width_m=0.61)
    planes = place_boards(rack, ARMS)
    # Three slots of 0.2 m: rows of three and two, at ±0.1 m along y.
    assert planes.block_u_m == pytest.approx([-0.2, 0.0, 0.2, -0.2, 0.0])
    assert planes.block_v_m == pytest.approx([-0.1, -0.1, -0.1, 0.1, 0.1])
    assert planes.boards_in_block.tolist() == [1] * 5
    assert (planes.first_plane_m, planes.plane_pitch_m, planes.belt_pitch_m) == (0.0, 0.2, None)
    assert planes.half_extent_m == pytest.approx((0.2 + 0.075, 0.2, 0.0))
    assert place_boards(FLAT, BELT).belt_pitch_m == 0.2
    lean = place_boards(replace(RACK, tilt_rad=radians(30)), ARMS)
    assert lean.first_plane_m == pytest.approx(-5.5 * 0.025 * cos(radians(30)))
    assert lean.shear == pytest.approx(sin(radians(30)) / cos(radians(30)))
    assert (lean.orientation, lean.board_length_m, lean.board_width_m) == ("standing", 0.2, 0.15)


def test_boards_abreast_on_a_belt_share_its_width() -> None:
    planes = place_boards(FLAT, BELT)
    assert planes.block_v_m == pytest.approx([-0.125, 0.125])
    assert planes.block_u_m == pytest.approx([0.0, 0.0])


def test_levels_share_the_height_of_a_chamber() -> None:
    # 150 mm a level: only the short edge stands up; slots 20, rows of 0.2 m in 0.45 m: two.
    assert boards_that_fit(0.5, 0.45, 0.3, 0.2, 0.15, 0.025, 2) == 20 * 2 * 2
    assert boards_that_fit(0.5, 0.45, 0.15 * 3, 0.2, 0.15, 0.025, 3) == 20 * 2 * 3


EXACT = [
    (lambda: replace(CONE, shape="mist"), "Nozzle shape is 'mist'. Use coherent jet, flat fan or full cone."),
    (lambda: replace(CONE, half_angle_rad=2.0), "Nozzle half angle is 2 rad. It must lie between 0 and π/2."),
    (lambda: replace(CONE, shape="flat fan", thin_half_angle_rad=1.0),
     "Thin half angle of the fan is 1 rad. It must be above 0, up to the wide one."),
    (lambda: replace(CONE, decay_length_m=0.0), "decay_length_m is 0. It must be above 0."),
    (lambda: replace(CONE, orifice_diameter_m=inf), "orifice_diameter_m is inf. It must be above 0 and finite."),
    (lambda: replace(CONE, discharge_coefficient=0.0), "The discharge coefficient is 0. It must be above 0, up to 1."),
    (lambda: replace(CONE, velocity_coefficient=1.1), "The velocity coefficient is 1.1. It must be above 0, up to 1."),
    (lambda: replace(ARMS, arm_radius_m=0.0), "arm_radius_m is 0. It must be above 0 and finite."),
    (lambda: replace(ARMS, clearance_below_m=0.0), "clearance_below_m is 0. It must be above 0 and finite."),
    (lambda: replace(ARMS, clearance_above_m=-1.0), "clearance_above_m is -1. It must be above 0 and finite."),
    (lambda: replace(ARMS, arms_below=-1), "Rotating arms need at least one arm with at least one nozzle."),
    (lambda: replace(ARMS, tilt_rad=-0.1), "Nozzle tilt is -0.1 rad. It must lie from 0 to below π/2."),
    (lambda: replace(SIDES, clearance_m=0.0), "clearance_m is 0. It must be above 0 and finite."),
    (lambda: replace(SIDES, rows=0), "Fixed manifolds need at least one row, one column and one face."),
    (lambda: replace(SIDES, columns=0), "Fixed manifolds need at least one row, one column and one face."),
    (lambda: replace(SIDES, faces=("front",)),
     "Manifold faces are ('front',). Use below, above, left, right, each at most once."),
    (lambda: replace(SIDES, oscillation_half_angle_rad=2.0), "Oscillation is ±2 rad. It must lie from 0 to below π/2."),
    (lambda: replace(SIDES, overhang_m=inf), "Overhang of the manifolds is inf m. It must be 0 or more."),
    (lambda: replace(BELT, distance_above_m=0.0), "distance_above_m is 0. It must be above 0 and finite."),
    (lambda: replace(BELT, distance_below_m=0.0), "distance_below_m is 0. It must be above 0 and finite."),
    (lambda: replace(BELT, zone_length_m=0.0), "zone_length_m is 0. It must be above 0 and finite."),
    (lambda: replace(BELT, belt_width_m=0.0), "belt_width_m is 0. It must be above 0 and finite."),
    (lambda: replace(BELT, nozzles_per_row=0), "Belt manifolds need at least one row with at least one nozzle."),
    (lambda: replace(BELT, rows_below=-1), "Belt manifolds need at least one row with at least one nozzle."),
    (lambda: replace(RACK, board_length_m=0.0), "board_length_m is 0. It must be above 0 and finite."),
    (lambda: replace(RACK, board_width_m=0.0), "board_width_m is 0. It must be above 0 and finite."),
    (lambda: replace(RACK, pitch_m=0.0), "pitch_m is 0. It must be above 0 and finite."),
    (lambda: replace(RACK, orientation="up"), "Rack orientation is 'up'. Use standing or flat."),
    (lambda: replace(RACK, board_count=0), "Board count is 0. A rack needs at least one board."),
    (lambda: replace(RACK, tilt_rad=-1.1),
     "Boards may lean up to 60° from the vertical when standing, and not at all when flat."),
    (lambda: replace(FLAT, pitch_m=0.14), "Flat boards 0.15 m wide overlap at pitch 0.14 m."),
    (lambda: replace(RACK, rack_width_m=0.1), "The rack is 0.1 m wide, smaller than the board of 0.2 m."),
    (lambda: replace(FLAT, rack_depth_m=0.1), "The rack is 0.1 m deep, smaller than the board's 0.15 m."),
    (lambda: place_boards(FLAT, replace(BELT, belt_width_m=0.39)),
     "The belt is 0.39 m wide, narrower than 2 board(s) of 0.2 m abreast."),
    (lambda: place_boards(RACK, BELT), "Boards on a belt lie flat. Set the orientation to flat."),
    (lambda: place_boards(replace(FLAT, pitch_m=1.0), BELT),
     "The spray zone of 0.8 m is shorter than the board pitch."),
    (lambda: place_boards(replace(RACK, rack_depth_m=0.1, rack_width_m=0.3), ARMS),
     "12 boards need 3 rows of 0.2 m; the rack is only 0.3 m wide."),
    *((lambda name=name: boards_that_fit(**(CHAMBER | {name: 0})), f"{name} is 0. It must be above 0 and finite.")
      for name in ("chamber_length_m", "chamber_width_m", "chamber_height_m", "board_length_m", "board_width_m",
                   "pitch_m", "levels")),
]  # fmt: skip
CHAMBER = {"chamber_length_m": 0.5, "chamber_width_m": 0.5, "chamber_height_m": 0.5, "board_length_m": 0.2,
           "board_width_m": 0.15, "pitch_m": 0.025, "levels": 1}  # fmt: skip


@pytest.mark.parametrize(("make", "sentence"), EXACT, ids=[sentence for _, sentence in EXACT])
def test_what_is_refused_is_said_whole(make, sentence: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        make()


def test_what_lies_on_or_just_inside_a_limit_is_accepted() -> None:
    replace(CONE, half_angle_rad=1.5, discharge_coefficient=1.0, velocity_coefficient=1.0)
    replace(ARMS, arms_below=1, arms_above=0, nozzles_per_arm=1, tilt_rad=1.5)
    replace(SIDES, oscillation_half_angle_rad=1.5)
    replace(BELT, rows_above=1, rows_below=0, nozzles_per_row=1)
    replace(FLAT, pitch_m=0.15, rack_width_m=0.2, rack_depth_m=0.15)
    place_boards(replace(FLAT, pitch_m=0.8), replace(BELT, belt_width_m=0.4))


@pytest.mark.parametrize("base", [
    lambda: replace(CONE, half_angle_rad=pi / 2), lambda: replace(ARMS, tilt_rad=pi / 2),
    lambda: replace(SIDES, oscillation_half_angle_rad=pi / 2),
])  # fmt: skip
def test_a_right_angle_is_refused(base) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match="π/2"):
        base()


def test_leaning_boards_take_their_lean_of_the_depth_and_rows_may_fill_the_width_exactly() -> None:
    # Lean 30°: a board of 150 mm takes 75 mm; 300 mm of depth hold (300 − 75)/25 + 1 = 10 of them.
    leaning = replace(RACK, tilt_rad=radians(30), rack_depth_m=0.3, rack_width_m=0.6, board_count=11)
    assert place_boards(leaning, ARMS).boards_in_block.tolist() == [6, 5]
    assert place_boards(replace(leaning, board_count=10), ARMS).boards_in_block.tolist() == [10]
    # 3 × 0.1 m in 0.3 m: as doubles the product is larger.
    tight = replace(RACK, board_length_m=0.1, rack_depth_m=0.1, rack_width_m=0.3)
    assert place_boards(tight, ARMS).boards_in_block.tolist() == [4, 4, 4]
