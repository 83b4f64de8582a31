"""Ray trace and exposure maps against closed forms, against a brute-force tracer, and for what the trade observes."""

from __future__ import annotations

from dataclasses import replace
from math import cos, inf, pi, radians, sin, tan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model import film_spread, spray_field
from model.spray_field import (
    batch_duty_maps,
    board_picture,
    direct_coverage_share,
    duty_map,
    duty_maps,
    duty_standard_error,
    pressure_map,
    ricochet_only_share,
    sampling_error,
    trace_exposure,
    worst_cells,
)
from model.spray_geometry import BeltManifolds, FixedManifolds, Nozzle, Rack, RotatingArms, place_boards, place_nozzles

CONE = Nozzle(
    shape="full cone",
    half_angle_rad=radians(30),
    decay_length_m=inf,
    orifice_diameter_m=2e-3,
    discharge_coefficient=0.8,
    velocity_coefficient=0.95,
)
JET = replace(CONE, shape="coherent jet", half_angle_rad=radians(1.5))
FAN = replace(CONE, shape="flat fan", half_angle_rad=radians(40), thin_half_angle_rad=radians(5))
ARMS = RotatingArms(
    arms_below=1,
    arms_above=1,
    arm_radius_m=0.22,
    nozzles_per_arm=12,
    clearance_below_m=0.08,
    clearance_above_m=0.08,
    tilt_rad=radians(15),
)
RACK = Rack(orientation="standing", board_length_m=0.2, board_width_m=0.15, pitch_m=0.025, board_count=12)
PLATE = Rack(orientation="flat", board_length_m=0.3, board_width_m=0.3, pitch_m=0.3, board_count=1)
ONE_ABOVE = FixedManifolds(rows=1, columns=1, faces=("above",), clearance_m=0.15)
TRACE = trace_exposure(ARMS, CONE, RACK, 30_000, 3)


def dense_nearest(planes, start, direction):
    """First board each ray meets, testing every board in x, y, z and double precision: (distance, block, plane)."""
    tilt = planes.tilt_rad
    if planes.orientation == "flat":
        normal, up = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])
    else:
        normal, up = np.array([cos(tilt), 0.0, -sin(tilt)]), np.array([sin(tilt), 0.0, cos(tilt)])
    best = np.full(len(start), inf)
    block_hit, plane_hit = np.zeros(len(start), int), np.zeros(len(start), int)
    for block, members in enumerate(planes.boards_in_block):
        for k in range(members):
            if planes.orientation == "flat":
                centre = np.array([planes.block_u_m[block], planes.block_v_m[block], 0.0])
            else:
                x = (planes.first_plane_m + k * planes.plane_pitch_m) / cos(tilt)
                centre = np.array([x, planes.block_v_m[block], 0.0])
            distance = (centre - start) @ normal / (direction @ normal)
            offset = start + distance[:, None] * direction - centre
            inside = np.abs(offset @ up) <= planes.board_width_m / 2
            inside &= np.abs(offset[:, 1]) <= planes.board_length_m / 2
            met = inside & (distance > 1e-6) & (distance < best)
            best[met], block_hit[met], plane_hit[met] = distance[met], block, k
    return best, block_hit, plane_hit, normal, up


def nearest(planes, ray, start_plane):
    """What `_nearest_board` finds, for every ray: (distance, inf where no board is met; block; plane)."""
    hit, distance, block, plane = spray_field._nearest_board(planes, ray, start_plane)
    assert np.all(np.diff(hit) > 0)
    assert len(distance) == len(plane) == len(hit)
    of_all = np.full(len(ray[0]), inf), np.zeros(len(ray[0]), int), np.zeros(len(ray[0]))
    for whole, part in zip(of_all, (distance, block, plane), strict=True):
        whole[hit] = part
    return of_all


@pytest.mark.parametrize(
    "rack",
    [
        RACK,
        replace(RACK, tilt_rad=radians(40)),
        replace(RACK, tilt_rad=radians(-20), board_count=11, rack_depth_m=0.2),
        replace(RACK, board_count=1),
        replace(RACK, orientation="flat", pitch_m=0.16, board_count=5, rack_depth_m=0.4),
    ],
)
def test_first_board_met_agrees_with_testing_every_board(rack: Rack) -> None:
    planes = place_boards(rack, ARMS)
    random = np.random.default_rng(5)
    start, target = random.uniform(-0.5, 0.5, (20_000, 3)), random.uniform(-0.15, 0.15, (20_000, 3))
    direction = (target - start) / np.linalg.norm(target - start, axis=1)[:, None]
    wanted, block, plane, normal, up = dense_nearest(planes, start, direction)
    n, u, dn, du = start @ normal, start @ up, direction @ normal, direction @ up
    ray = (n, u - planes.shear * n, start[:, 1], dn, du, direction[:, 1])
    found = nearest(planes, tuple(a.astype(np.float32) for a in ray), None)
    same = np.isclose(found[0], wanted, rtol=1e-3, atol=1e-5) & (np.isinf(wanted) | (
        (found[1] == block) & (found[2] == plane)))  # fmt: skip
    assert np.isfinite(wanted).mean() > 0.2
    # and once more after a mirror bounce
    hit = np.isfinite(wanted) & same
    start = start[hit] + wanted[hit][:, None] * direction[hit]
    direction = direction[hit] - 2 * (direction[hit] @ normal)[:, None] * normal
    again, *_ = dense_nearest(planes, start, direction)
    left = found[2][hit]
    n, u, dn, du = planes.first_plane_m + planes.plane_pitch_m * left, start @ up, direction @ normal, direction @ up
    ray = (n, u - planes.shear * n, start[:, 1], dn, du, direction[:, 1])
    bounced = nearest(planes, tuple(a.astype(np.float32) for a in ray), left.astype(np.float32))
    assert np.isclose(bounced[0], again, rtol=1e-3, atol=1e-5).mean() > 0.998
    assert same.mean() > 0.9995  # single precision may decide a graze of an edge the other way


@pytest.mark.parametrize(("nozzle", "lit"), [(CONE, pi * (0.15 * tan(radians(30))) ** 2), (FAN, None)])
def test_force_on_a_plate_that_catches_the_whole_spray_is_its_axial_momentum(nozzle: Nozzle, lit) -> None:
    trace = trace_exposure(ONE_ABOVE, nozzle, PLATE, 100_000, 1, cells=(40, 40))
    cell_area = trace.cell_size_m[0] * trace.cell_size_m[1]
    force_m2 = pressure_map(trace, 0.3)[0, 1].sum() * cell_area  # force over nozzle pressure
    thrust_m2 = 2 * 0.8 * 0.95 * nozzle.orifice_area_m2
    if nozzle is CONE:
        axial = (1 + cos(nozzle.half_angle_rad)) / 2
    else:  # mean of cos a cos b, even in a and in sin b
        a, b = nozzle.half_angle_rad, nozzle.thin_half_angle_rad
        axial = sin(a) / a * (b + sin(b) * cos(b)) / (2 * sin(b))
    assert force_m2 == pytest.approx(thrust_m2 * axial, rel=0.005)
    if lit is not None:
        duty = duty_map(trace, 0.0, 0.3).duty_share.sum(axis=1)
        assert duty.sum() * cell_area == pytest.approx(lit, rel=0.03)  # 3 %: cells cut by the rim
        assert pressure_map(trace, 0.3)[0, 0].sum() == 0.0  # nothing from below


def test_pressure_under_the_nozzle_is_the_momentum_over_the_footprint() -> None:
    trace = trace_exposure(ONE_ABOVE, CONE, PLATE, 200_000, 1, cells=(15, 15))
    expected = 2 * 0.8 * 0.95 * CONE.orifice_area_m2 / (0.15**2 * CONE.solid_angle_sr)
    assert pressure_map(trace, 0.3)[0, 1, 7, 7] == pytest.approx(expected, rel=0.02)


def test_air_drag_weakens_the_blow_exponentially_with_the_path() -> None:
    narrow = replace(CONE, half_angle_rad=radians(5))
    still, slowed = (pressure_map(trace_exposure(ONE_ABOVE, n, PLATE, 4000, 1), 0.3).sum()
                     for n in (narrow, replace(narrow, decay_length_m=0.3)))  # fmt: skip
    assert slowed / still == pytest.approx(np.exp(-0.15 / 0.3), rel=0.01)


def test_no_stream_presses_harder_than_stagnation() -> None:
    near = replace(ARMS, clearance_below_m=0.005, clearance_above_m=0.005, tilt_rad=0.0)
    trace = trace_exposure(near, JET, PLATE, 4000, 1)
    assert trace.class_ratio.max() == pytest.approx(0.95**2, rel=0.01)
    assert trace.class_ratio.max() <= 0.95**2 * (1 + 1e-6)


def test_a_lone_steady_jet_keeps_its_swept_zone_wet() -> None:
    trace = trace_exposure(ONE_ABOVE, JET, PLATE, 2000, 1, cells=(60, 60))
    cell_area = trace.cell_size_m[0] * trace.cell_size_m[1]
    radius_m, run_out_m = (0.15**2 * JET.solid_angle_sr / pi) ** 0.5, 0.05
    duty = duty_map(trace, run_out_m, 0.3).duty_share.sum(axis=1)
    assert duty.max() <= 1.0
    # film laid over the footprint itself counts once, so the total lies between the film disc and the widened zone
    assert 0.99 * pi * run_out_m**2 < duty.sum() * cell_area < 1.01 * pi * (radius_m + run_out_m) ** 2


def test_film_spread_over_neighbouring_cells_keeps_its_total() -> None:
    kernel = film_spread._disc_kernel(3.3, 1.7)
    assert kernel.shape == (9, 5)
    assert kernel.sum() == pytest.approx(1.0, rel=1e-12)
    assert kernel == pytest.approx(kernel[::-1, ::-1])
    assert film_spread._disc_kernel(0.0, 0.0) == pytest.approx(np.ones((1, 1)))


def test_boards_lying_under_a_neighbour_get_direct_spray_only_on_their_free_strip() -> None:
    lean, pitch_m = radians(60), 0.0325
    rack = replace(RACK, tilt_rad=lean, pitch_m=pitch_m, board_count=5)
    above = FixedManifolds(rows=40, columns=6, faces=("above",), clearance_m=0.05)
    trace = trace_exposure(above, replace(JET, half_angle_rad=1e-3), rack, 20_000, 1, cells=(40, 4))
    direct = trace.zones_per_m2[:, :, trace.class_order == 0].sum(axis=(0, 2)).reshape(5, 2, 40, 4)
    lit_rows = (direct[:, 0].sum(axis=-1) > 0).sum(axis=-1)  # side 0 looks up when leaning this way
    free_share = pitch_m / (0.15 * sin(lean))
    # rays come in 40 straight lines, so only a share of the rows of the outermost, all-free board is met
    open_board = lit_rows.argmax()
    assert open_board in (0, 4)
    shaded = np.delete(lit_rows, open_board)
    assert np.all(shaded > 0)
    assert shaded == pytest.approx(np.full(4, lit_rows[open_board] * free_share), abs=2)
    assert direct[:, 1].sum() == 0.0


def test_neighbours_take_direct_spray_from_a_board() -> None:
    alone = direct_coverage_share(duty_map(trace_exposure(ARMS, CONE, replace(RACK, board_count=1), 30_000, 1), 0, 0.3))
    tight = duty_map(trace_exposure(ARMS, CONE, replace(RACK, pitch_m=0.006), 30_000, 1, cells=(12, 4)), 0.0, 0.3)
    assert alone > 0.99
    assert direct_coverage_share(tight, 0.05) < 0.9 * alone
    assert ricochet_only_share(tight, 0.05) > 0.0


def test_same_seed_gives_the_same_maps_bit_for_bit() -> None:
    again, other = trace_exposure(ARMS, CONE, RACK, 30_000, 3), trace_exposure(ARMS, CONE, RACK, 30_000, 4)
    for name in (
        "zone_area",
        "zone_radius_per_m",
        "zones_per_m2",
        "class_ratio",
        "force_ratio",
        "stream_count",
    ):
        assert getattr(again, name).tobytes() == getattr(TRACE, name).tobytes()
    assert not np.array_equal(other.force_ratio, TRACE.force_ratio)


def worst_drive(duty) -> float:
    drive = duty.duty_share @ np.cbrt(duty.pressure_ratio)
    return float(np.sort(drive)[int(0.02 * drive.size)])


@pytest.mark.parametrize("measure", [lambda d: d.duty_share.sum(axis=1).mean(), worst_drive])
def test_doubling_the_rays_changes_results_within_the_stated_error(measure) -> None:
    corrected, errors = [], []
    for rays in (200_000, 400_000):
        trace = trace_exposure(ARMS, CONE, RACK, rays, 1, cells=(5, 5))
        parts = np.array([measure(part) for part in batch_duty_maps(trace, 0.003, 0.3)])
        bias, error = sampling_error(measure(duty_map(trace, 0.003, 0.3)), parts)
        corrected.append(measure(duty_map(trace, 0.003, 0.3)) - bias)
        errors.append(np.hypot(error, bias / 2))
    assert 0.0 < errors[1] < 0.05 * corrected[1]
    assert abs(corrected[1] - corrected[0]) < 3 * np.hypot(*errors)


def test_error_of_each_cell_covers_the_change_on_doubling_the_rays() -> None:
    few, many = (trace_exposure(ARMS, CONE, RACK, rays, 1) for rays in (200_000, 400_000))
    change = np.abs(*(np.subtract(*(duty_map(t, 0.003, 0.3).duty_share.sum(axis=1) for t in (few, many))),))
    error = np.hypot(*(duty_standard_error(t, 0.003, 0.3) for t in (few, many)))
    assert (change < 3 * error + 1e-6).mean() > 0.9  # four batches: Student's t with 3 degrees of freedom
    assert duty_standard_error(many, 0.003, 0.3).mean() < duty_standard_error(few, 0.003, 0.3).mean()


@given(run_out_m=st.floats(0.0, 0.1), more=st.floats(1.0, 3.0), restitution=st.floats(0.0, 1.0))
@settings(deadline=None, max_examples=50)
def test_duty_is_a_share_that_grows_with_run_out_whatever_the_restitution(run_out_m, more, restitution) -> None:
    near = duty_map(TRACE, run_out_m, restitution).duty_share
    far = duty_map(TRACE, run_out_m * more, restitution).duty_share
    assert near.min() >= 0.0
    assert near.sum(axis=1).max() <= 1.0 + 1e-9
    assert far.sum() >= near.sum() - 1e-3
    assert near.sum(axis=1) == pytest.approx(duty_map(TRACE, run_out_m, 0.5).duty_share.sum(axis=1), abs=1e-6)


@given(restitution=st.floats(0.0, 0.9), more=st.floats(0.0, 0.1))
@settings(deadline=None, max_examples=50)
def test_livelier_bounces_press_harder_and_never_touch_direct_hits(restitution: float, more: float) -> None:
    low, high = (duty_map(TRACE, 0.003, e) for e in (restitution, restitution + more))
    assert np.all(np.diff(low.pressure_ratio) <= 0.0)
    for order in range(4):
        direct = order == 0
        strong, weak = (np.sort(m.pressure_ratio[m.bounce_order == order]) for m in (high, low))
        assert np.array_equal(strong, weak) if direct else np.all(strong >= weak)


def test_coherent_jets_lose_on_populated_boards_and_win_on_a_smooth_plate() -> None:
    """Same orifices, number of nozzles, pressure and so flow: only the spread of the stream differs."""
    dragged_jet, dragged_cone = replace(JET, decay_length_m=5.0), replace(CONE, decay_length_m=1.5)
    for rack in (RACK, PLATE):
        jet, cone = (
            duty_map(trace_exposure(ARMS, n, rack, 200_000, 1), 0.003, 0.3) for n in (dragged_jet, dragged_cone)
        )
        assert worst_drive(jet) < 0.1 * worst_drive(cone)
        assert (jet.duty_share @ np.cbrt(jet.pressure_ratio)).mean() < 0.5 * (
            cone.duty_share @ np.cbrt(cone.pressure_ratio)
        ).mean()
    jet, cone = (duty_map(trace_exposure(ARMS, n, PLATE, 200_000, 1), 0.05, 0.3) for n in (dragged_jet, dragged_cone))
    # the upper side, which both reach
    upper_jet, upper_cone = (m.duty_share @ np.cbrt(m.pressure_ratio) for m in (jet, cone))
    assert upper_jet.mean() > upper_cone.mean()
    assert worst_drive(jet) > worst_drive(cone)


def test_boards_on_a_belt_see_each_nozzle_for_its_share_of_the_zone() -> None:
    belt = BeltManifolds(
        rows_above=4,
        rows_below=0,
        nozzles_per_row=6,
        distance_above_m=0.12,
        distance_below_m=0.1,
        zone_length_m=0.9,
        belt_width_m=0.6,
    )
    rack = Rack(orientation="flat", board_length_m=0.2, board_width_m=0.15, pitch_m=0.25, board_count=3)
    narrow = replace(JET, half_angle_rad=radians(4))
    trace = trace_exposure(belt, narrow, rack, 100_000, 1)
    upper = trace.zone_area.mean(axis=0).sum(axis=-1).reshape(trace.cell_shape)[:, 1]
    footprint_m2 = 0.12**2 * narrow.solid_angle_sr
    assert upper.mean() == pytest.approx(4 * 6 * footprint_m2 / (0.9 * 0.6), rel=0.01)
    # any place along the board sees the same
    assert upper.mean(axis=(0, 2)) == pytest.approx(np.full(8, upper.mean()), rel=0.05)
    assert trace.class_order.max() == 0


def test_swinging_pipes_sweep_what_they_leave_dry_at_rest() -> None:
    still = replace(ONE_ABOVE, clearance_m=0.2)
    swept = replace(still, oscillation_half_angle_rad=radians(30))
    narrow = replace(CONE, half_angle_rad=radians(6))
    rest, swing = (trace_exposure(m, narrow, PLATE, 50_000, 1, cells=(30, 30)) for m in (still, swept))
    reach = [t.zones_per_m2.sum(axis=(0, 2)).reshape(2, 30, 30)[1] > 0 for t in (rest, swing)]
    along_x_m, along_y_m = (reach[1].any(axis=a).sum() * 0.01 for a in (1, 0))
    assert along_x_m == pytest.approx(2 * 0.2 * tan(radians(36)), abs=0.021)
    # at the end of the swing the stream is as wide as its longer path makes it
    assert along_y_m == pytest.approx(2 * 0.2 / cos(radians(30)) * tan(radians(6)), abs=0.021)
    assert reach[0].sum() < 0.3 * reach[1].sum()


def test_a_spray_that_passes_by_leaves_every_cell_dry() -> None:
    aside = FixedManifolds(rows=2, columns=1, faces=("left",), clearance_m=0.1, overhang_m=0.2)
    trace = trace_exposure(aside, replace(JET, half_angle_rad=1e-3), replace(RACK, board_count=1), 1000, 1)
    duty = duty_map(trace, 0.05, 0.3)
    assert duty.duty_share.shape == (128, 0)
    assert pressure_map(trace, 0.3).max() == 0.0
    assert direct_coverage_share(duty) == ricochet_only_share(duty) == 0.0
    assert board_picture(duty, 0, 1).duty_share.max() == 0.0
    assert duty_standard_error(trace, 0.05, 0.3).max() == 0.0


def test_without_bounces_nothing_arrives_by_ricochet() -> None:
    trace = trace_exposure(ARMS, CONE, RACK, 30_000, 1, bounces=0)
    assert trace.class_order.max() == 0
    assert ricochet_only_share(duty_map(trace, 0.003, 0.3)) == 0.0
    assert TRACE.class_order.max() == 3


def test_two_boards_send_water_to_each_other_and_one_has_nothing_to_send_it_to() -> None:
    met = [trace_exposure(ARMS, CONE, replace(RACK, board_count=count), 4000, 1).class_order for count in (1, 2)]
    assert set(met[0].tolist()) == {0}
    assert set(met[1].tolist()) == {0, 1, 2, 3}


def test_pictures_of_all_boards_add_up_to_the_map() -> None:
    duty = duty_map(TRACE, 0.003, 0.3)
    pictures = [board_picture(duty, board, side) for board in range(12) for side in range(2)]
    assert pictures[0].duty_share.shape == (8, 8)
    assert sum(p.duty_share.sum() for p in pictures) == pytest.approx(duty.duty_share.sum())
    drive = sum((p.duty_share * p.pressure_ratio).sum() for p in pictures)
    assert drive == pytest.approx((duty.duty_share @ duty.pressure_ratio).sum())
    assert all(np.all(p.direct_duty_share <= p.duty_share + 1e-12) for p in pictures)


@pytest.mark.parametrize("power", [0.2, 1 / 3, 0.45])
@pytest.mark.parametrize("threshold", [0.0, 2e-5])
def test_worst_cells_give_the_order_statistic_of_all_cells(power: float, threshold: float) -> None:
    duty = duty_map(TRACE, 0.003, 0.3)
    chosen = worst_cells(duty, 0.02, entry_ratios=(0.0, threshold))
    drive = duty.duty_share @ np.maximum(duty.pressure_ratio - threshold, 0.0) ** power
    assert chosen.order_index == 30
    assert chosen.cell_index.size < 0.35 * drive.size
    assert np.sort(drive[chosen.cell_index])[chosen.order_index] == np.sort(drive)[chosen.order_index]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: trace_exposure(ARMS, CONE, RACK, 0, 1), "at least 1 ray"),
        (lambda: trace_exposure(ARMS, CONE, RACK, 100, 1, batches=1), "2 batches"),
        (lambda: duty_map(TRACE, -0.001, 0.3), "run-out is -0.001 m"),
        (lambda: duty_map(TRACE, inf, 0.3), "run-out is inf m"),
        (lambda: duty_map(TRACE, 0.001, 1.1), "Restitution is 1.1"),
        (lambda: pressure_map(TRACE, -0.1), "Restitution is -0.1"),
        (lambda: board_picture(duty_map(TRACE, 0.0, 0.3), 12, 0), "No side 0 of board 12"),
        (lambda: worst_cells(duty_map(TRACE, 0.0, 0.3), 1.0), "dropped share"),
    ],
)
def test_values_out_of_range_are_refused(call, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        call()


def test_a_fan_keeps_within_its_thin_angle_on_either_side_and_is_the_same_on_both() -> None:
    # Pipes run along y, so the fan is wide along y and thin along x.
    trace = trace_exposure(ONE_ABOVE, FAN, PLATE, 50_000, 1, cells=(61, 1))
    wetted = duty_map(trace, 0.0, 0.3).duty_share.sum(axis=1).reshape(1, 2, 61)[0, 1]
    away = np.abs(np.arange(61) - 30) * (0.3 / 61)
    thin = 0.15 * tan(radians(5)) / cos(radians(40))  # where the fan's arc is longest
    assert np.all(wetted[away > thin + 0.3 / 61] == 0.0)
    assert np.all(wetted[away < 0.15 * tan(radians(5)) - 0.3 / 61] > 0.0)
    np.testing.assert_allclose(wetted, wetted[::-1], rtol=0.05, atol=2e-3)


def test_shares_reached_directly_and_by_ricochet_only_count_cells() -> None:
    # Cells: both, direct only, bounced only, bounced for a shorter time, none.
    shares = np.array([[0.3, 0.2], [0.3, 0.0], [0.0, 0.2], [0.0, 0.01], [0.0, 0.0]])
    duty = spray_field.DutyMap(duty_share=shares, pressure_ratio=np.array([0.5, 0.1]), bounce_order=np.array([0, 1]),
                               cell_shape=(1, 1, 5, 1))  # fmt: skip
    assert direct_coverage_share(duty) == pytest.approx(2 / 5)
    assert ricochet_only_share(duty) == pytest.approx(2 / 5)
    assert ricochet_only_share(duty, 0.1) == pytest.approx(1 / 5)
    assert direct_coverage_share(duty, 0.3) == 0.0


def test_the_smallest_counts_that_make_sense_are_traced_and_smaller_ones_refused() -> None:
    least = {"bounces": 0, "cells": (1, 1), "pressure_bins": 1, "batches": 2}
    assert trace_exposure(ONE_ABOVE, CONE, PLATE, 1, 1, **least).cell_shape == (1, 2, 1, 1)
    sentence = "Give at least 1 ray, 0 bounces, 1 cell each way, 1 pressure bin and 2 batches."
    for change in ({"bounces": -1}, {"cells": (0, 1)}, {"cells": (1, 0)}, {"pressure_bins": 0}, {"batches": 1}):
        with pytest.raises(ValueError, match=f"^{sentence}$"):
            trace_exposure(ONE_ABOVE, CONE, PLATE, 1, 1, **(least | change))
    with pytest.raises(ValueError, match=f"^{sentence}$"):
        trace_exposure(ONE_ABOVE, CONE, PLATE, 0, 1, **least)


def test_what_no_map_can_be_made_of_is_refused_with_the_value() -> None:
    for run_out, shown in ((-1e-3, "-0.001"), (inf, "inf")):
        with pytest.raises(ValueError, match=rf"^Film run-out is {shown} m\. It must be 0 or more and finite\.$"):
            duty_map(TRACE, run_out, 0.3)
    for restitution in (-0.1, 1.1):
        with pytest.raises(ValueError, match=rf"^Restitution is {restitution}\. It must lie from 0 to 1\.$"):
            duty_map(TRACE, 0.0, restitution)
    made = duty_map(TRACE, 0.0, 0.3)
    for board, side in ((12, 0), (-1, 0), (0, 2), (0, -1)):
        with pytest.raises(ValueError, match=rf"^No side {side} of board {board}: 12 boards, 2 sides\.$"):
            board_picture(made, board, side)
    told = "The dropped share must lie from 0 to below 1 and the margin be 1 or more."
    for drop, margin in ((-0.1, 4), (1.0, 4), (0.1, 0)):
        with pytest.raises(ValueError, match=f"^{told}$"):
            worst_cells(made, drop, margin=margin)


def test_a_board_with_parts_on_one_side_is_mapped_on_its_upper_face_for_every_run_out() -> None:
    run_outs = (0.0, 2e-3, 5e-3)
    both, upper = duty_maps(TRACE, run_outs, 0.3), duty_maps(TRACE, run_outs, 0.3, 1)
    boards, sides, nu, nv = TRACE.cell_shape
    for run_out_m, whole, face in zip(run_outs, both, upper, strict=True):
        alone = duty_map(TRACE, run_out_m, 0.3)
        np.testing.assert_array_equal(whole.duty_share, alone.duty_share)
        assert whole.cell_shape == TRACE.cell_shape
        assert face.cell_shape == (boards, 1, nu, nv)
        by_side = whole.duty_share.reshape(boards, sides, nu * nv, -1)
        np.testing.assert_array_equal(face.duty_share.reshape(boards, nu * nv, -1), by_side[:, 1])
        np.testing.assert_array_equal(face.pressure_ratio, alone.pressure_ratio)


# ---- Every ray where the drawing puts it -----------------------------------------------------------------------------

SWUNG = FixedManifolds(rows=3, columns=2, faces=("below", "above", "left", "right"), clearance_m=0.1,
                       oscillation_half_angle_rad=0.6)  # fmt: skip
OVER_BELT = BeltManifolds(rows_above=3, rows_below=2, nozzles_per_row=4, distance_above_m=0.1, distance_below_m=0.05,
                          zone_length_m=0.8, belt_width_m=0.5)  # fmt: skip
ON_BELT = Rack(orientation="flat", board_length_m=0.2, board_width_m=0.15, pitch_m=0.2, board_count=2)
LEANING = replace(RACK, tilt_rad=radians(35))


@pytest.mark.parametrize("nozzle", [CONE, FAN])
@pytest.mark.parametrize(("arrangement", "rack"), [(replace(ARMS, arms_above=3), RACK), (ARMS, LEANING),
                                                   (SWUNG, RACK), (SWUNG, LEANING),
                                                   (replace(SWUNG, oscillation_half_angle_rad=0.0), RACK),
                                                   (OVER_BELT, ON_BELT)])  # fmt: skip
def test_a_ray_leaves_within_its_stream_turned_and_swung_as_the_machine_is(nozzle, arrangement, rack) -> None:
    planes = place_boards(rack, arrangement)
    bank = place_nozzles(arrangement, planes)
    points = np.random.default_rng(7).random((len(bank.position_m), 50, 3))
    start = np.repeat(bank.position_m, 50, axis=0)
    axis, wide = np.repeat(bank.axis, 50, axis=0), np.repeat(bank.wide, 50, axis=0)
    when, first, second = (points[..., i].reshape(-1, 1) for i in range(3))
    if nozzle is FAN:  # even in the wide angle and in the sine of the thin one
        across, thin = radians(40) * (2 * first - 1), sin(radians(5)) * (2 * second - 1)
        rest = np.sqrt(1 - thin**2)
        sideways, forward = np.sin(across) * rest * wide + thin * np.cross(axis, wide), np.cos(across) * rest
    else:  # even over the spherical cap
        forward = 1 - first * (1 - cos(radians(30)))
        round_it = np.cos(2 * pi * second) * wide + np.sin(2 * pi * second) * np.cross(axis, wide)
        sideways = np.sqrt(1 - forward**2) * round_it
    direction = sideways + forward * axis
    np.testing.assert_allclose(np.linalg.norm(direction, axis=1), 1.0, rtol=1e-9)
    if bank.motion == "turning":  # about the vertical
        c, s = np.cos(2 * pi * when[:, 0]), np.sin(2 * pi * when[:, 0])
        both = start, direction
        start, direction = (
            np.stack([c * a[:, 0] - s * a[:, 1], s * a[:, 0] + c * a[:, 1], a[:, 2]], axis=1) for a in both
        )
    elif bank.motion == "swinging":  # from the axis towards +x
        angle, along_x = bank.swing_half_angle_rad * (2 * when - 1), np.array([[1.0, 0.0, 0.0]])
        ahead, aside = (direction * axis).sum(axis=1, keepdims=True), direction[:, :1]
        direction = direction - ahead * axis - aside * along_x
        direction = direction + (np.cos(angle) * ahead - np.sin(angle) * aside) * axis
        direction = direction + (np.cos(angle) * aside + np.sin(angle) * ahead) * along_x
    else:  # it lands at an even phase of the pitch
        landing = 0.2 * (when - 0.5)
        start[:, :1] = landing + direction[:, :1] / direction[:, 2:] * start[:, 2:]
    lean = planes.tilt_rad
    if rack.orientation == "flat":
        normal, up = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])
    else:
        normal, up = np.array([cos(lean), 0.0, -sin(lean)]), np.array([sin(lean), 0.0, cos(lean)])
    expected = (start @ normal, start @ up - tan(lean) * (start @ normal), start[:, 1], direction @ normal,
                direction @ up, direction[:, 1])  # fmt: skip
    points = np.moveaxis(points.astype(np.float32), -1, 0)
    found = spray_field._emit(bank, planes, points[0], *spray_field._aim(bank, nozzle, points))
    for one, wanted in zip(found, expected, strict=True):
        np.testing.assert_allclose(one, wanted, atol=3e-6)


@pytest.mark.parametrize("arrangement", [ARMS, SWUNG, OVER_BELT])
def test_nozzles_point_and_move_the_same_way_whatever_the_boards(arrangement) -> None:
    racks = (ON_BELT, replace(ON_BELT, board_width_m=0.1, board_count=1), spray_field._SPECK)
    if arrangement is not OVER_BELT:
        racks += (RACK, LEANING)
    first, *others = (place_nozzles(arrangement, place_boards(rack, arrangement)) for rack in racks)
    for bank in others:
        np.testing.assert_array_equal(bank.axis, first.axis)
        np.testing.assert_array_equal(bank.wide, first.wide)
        assert (bank.motion, bank.swing_half_angle_rad) == (first.motion, first.swing_half_angle_rad)


def test_a_machine_traced_with_one_board_after_another_gives_what_each_gives_alone() -> None:
    racks = (RACK, replace(RACK, board_length_m=0.1), LEANING)
    in_turn = [trace_exposure(ARMS, CONE, rack, 2000, 1) for rack in racks]
    other = trace_exposure(ARMS, JET, RACK, 2000, 1), trace_exposure(ARMS, CONE, RACK, 2000, 2)
    for rack, found in zip(racks, in_turn, strict=True):
        spray_field._aims.cache_clear()
        alone = trace_exposure(ARMS, CONE, rack, 2000, 1)
        assert alone.zone_area.tobytes() == found.zone_area.tobytes()
        assert alone.class_ratio.tobytes() == found.class_ratio.tobytes()
    assert all(one.zone_area.tobytes() != in_turn[0].zone_area.tobytes() for one in other)
    assert not any(part.flags.writeable for aimed in spray_field._aims(ARMS, CONE, 1, 4, 20) for part in aimed)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("rack", [RACK, LEANING, replace(RACK, board_count=11, rack_depth_m=0.2), PLATE, ON_BELT])
def test_rays_along_the_boards_on_their_edges_and_without_direction_give_no_nonsense(rack: Rack) -> None:
    planes = place_boards(rack, ARMS)
    half_u, half_v = rack.board_width_m / 2, rack.board_length_m / 2
    places = [planes.first_plane_m, planes.first_plane_m - 0.1, 0.0], [-half_u, 0.0, half_u], [-half_v, 0.0, half_v]
    grid = np.meshgrid(*places, *[[-1.0, 0.0, 1.0, 1e-12]] * 3, indexing="ij")
    ray = tuple(part.ravel().astype(np.float32) for part in grid)
    far, _, plane = nearest(planes, ray, None)
    assert not np.isnan(far).any()
    assert far.min() >= 0.0
    assert np.isin(plane, range(int(planes.boards_in_block.max()))).all()
    # What stands before the middle of the first board and heads for it straight meets it.
    ahead = (ray[0] == np.float32(planes.first_plane_m - 0.1)) & (np.hypot(ray[1], ray[2]) == 0.0)
    ahead &= (ray[3] == 1.0) & (np.hypot(ray[4], ray[5]) < 1e-11)
    if rack is not ON_BELT and not planes.shear and len(planes.block_v_m) == 1:
        np.testing.assert_allclose(far[ahead], 0.1, rtol=1e-5)
        assert ahead.sum() == 4
    cell, _, emitter, *amounts = spray_field._follow(planes, CONE, ray, np.arange(len(ray[0])), 3, (8, 8))
    assert 0 <= cell.min() <= cell.max() < planes.board_count * 2 * 64
    assert len(emitter) > 100
    for amount in amounts:
        assert np.isfinite(amount).all()
        assert amount.min() >= 0.0


IN_ROWS = replace(RACK, orientation="flat", pitch_m=0.16, board_count=5, rack_depth_m=0.4)


@pytest.mark.parametrize(
    ("rack", "nozzle"),
    [(RACK, CONE), (LEANING, CONE), (replace(RACK, board_count=11, rack_depth_m=0.2), CONE), (IN_ROWS, CONE),
     (RACK, JET)],
)  # fmt: skip
def test_a_hit_is_noted_on_its_cell_with_the_footprint_and_the_pressure_of_its_path(rack: Rack, nozzle: Nozzle) -> None:
    nozzle, cells = replace(nozzle, decay_length_m=0.7), (5, 7)
    planes = place_boards(rack, ARMS)
    random = np.random.default_rng(9)
    start, target = random.uniform(-0.5, 0.5, (5000, 3)), random.uniform(-0.15, 0.15, (5000, 3))
    direction = (target - start) / np.linalg.norm(target - start, axis=1)[:, None]
    first_board = np.concatenate([[0], np.cumsum(planes.boards_in_block)[:-1]])

    def noted(start, direction, path):  # type: ignore[no-untyped-def]
        far, block, plane, normal, up = dense_nearest(planes, start, direction)
        hit = np.isfinite(far)
        place = start[hit] + far[hit][:, None] * direction[hit]
        x = (planes.first_plane_m + plane[hit] * planes.plane_pitch_m) / cos(planes.tilt_rad)
        x = planes.block_u_m[block[hit]] if planes.orientation == "flat" else x
        place_u = (place - np.stack([x, planes.block_v_m[block[hit]], np.zeros(hit.sum())], axis=1)) @ up
        row = np.clip((place_u / planes.board_width_m + 0.5) * 5, 0, 4).astype(int)
        column = np.clip(((place[:, 1] - planes.block_v_m[block[hit]]) / planes.board_length_m + 0.5) * 7, 0, 6)
        side = (first_board[block[hit]] + plane[hit]) * 2 + ((direction[hit] @ normal) < 0)
        cosine, path = np.abs(direction[hit] @ normal), path[hit] + far[hit]
        across = np.maximum(path**2 * nozzle.solid_angle_sr, nozzle.stream_area_m2)
        slowed = np.exp(-path / 0.7)
        stagnation, spread = (0.95 * slowed) ** 2, 2 * 0.8 * 0.95 * nozzle.orifice_area_m2 * slowed / across
        values = (side * 35 + row * 7 + column.astype(int), across / cosine, np.minimum(stagnation, spread * cosine),
                  cosine**2 * np.minimum(stagnation, spread))  # fmt: skip
        mirrored = direction[hit] - 2 * (direction[hit] @ normal)[:, None] * normal
        return np.flatnonzero(hit), values, place, mirrored, path

    n, u, dn, du = (a @ b for a in (start, direction) for b in dense_nearest(planes, start, direction)[3:])
    ray = tuple(a.astype(np.float32) for a in (n, u - planes.shear * n, start[:, 1], dn, du, direction[:, 1]))
    found = spray_field._follow(planes, nozzle, ray, np.arange(5000), 1, cells)
    numbers, direct, place, mirrored, path = noted(start, direction, np.zeros(5000))
    again, bounced, *_ = noted(place + 1e-7 * mirrored, mirrored, path)
    for order, rays, expected in ((0, numbers, direct), (1, numbers[again], bounced)):
        if rack is IN_ROWS and order:  # boards in one plane send nothing to each other
            assert not np.any(found[1] == order)
            continue
        _, ours, theirs = np.intersect1d(found[2][found[1] == order], rays, return_indices=True)
        assert len(ours) > 0.995 * len(rays) > 100
        cell, _, _, area, ratio, normal = (a[found[1] == order][ours] for a in found)
        assert (cell == expected[0][theirs]).mean() > 0.99  # single precision at the edge of a cell
        for one, wanted in ((area, expected[1]), (ratio, expected[2]), (normal, expected[3])):
            assert np.isclose(one, wanted[theirs], rtol=2e-3).mean() > 0.99


def test_a_single_ray_is_followed_and_counted() -> None:
    planes = place_boards(PLATE, ONE_ABOVE)
    ray = tuple(np.array([a], dtype=np.float32) for a in (0.15, 0.0, 0.0, -1.0, 0.0, 0.0))
    found = spray_field._follow(planes, CONE, ray, np.zeros(1, dtype=np.int64), 2, (3, 3))
    assert [one.tolist() for one in found[:3]] == [[9 + 4], [0], [0]]  # the middle cell of the upper side


def test_cells_rays_and_lively_bounces_are_what_was_asked_for() -> None:
    trace = trace_exposure(ONE_ABOVE, CONE, replace(PLATE, board_length_m=0.6), 20, 1, cells=(3, 4))
    assert trace.cell_size_m == pytest.approx((0.1, 0.15))
    assert trace.ray_count == 4 * 1 * 5
    assert isinstance(trace.ray_count, int)
    np.testing.assert_array_equal(duty_map(TRACE, 0.0, 1.0).pressure_ratio.max(), TRACE.class_ratio.max())


def test_an_even_landing_is_widened_by_steiners_formula_and_shared_by_its_streams() -> None:
    # N = M0 + 2πℓ·M1 + πℓ²·M2 on every cell, and S(N) = (1 − N/K)^K of K = 4 streams.
    shape = (2, 12, 1)
    even = spray_field.ExposureTrace(
        cell_shape=(1, 2, 2, 3), cell_size_m=(0.02, 0.02), zone_area=np.full(shape, 0.1, np.float32),
        zone_radius_per_m=np.full(shape, 3.0, np.float32), zones_per_m2=np.full(shape, 500.0, np.float32),
        class_ratio=np.array([0.2]), class_order=np.array([0]), force_ratio=np.zeros((2, 12, 1), np.float32),
        stream_count=np.full(12, 4.0), ray_count=1,
    )  # fmt: skip
    zones = 0.1 + 2 * pi * 0.01 * 3.0 + pi * 0.01**2 * 500.0
    np.testing.assert_allclose(duty_map(even, 0.01, 0.3).duty_share, 1.0 - (1.0 - zones / 4.0) ** 4, rtol=1e-5)


def test_bias_and_error_of_three_batches_by_hand() -> None:
    # Mean 3 against 2.5: bias 0.5/(3 − 1). Squared deviations 4 + 1 + 9 = 14: error √(14/2)/√3.
    bias, error = sampling_error(np.array(2.5), np.array([1.0, 2.0, 6.0]))
    assert float(bias) == pytest.approx(0.25)
    assert float(error) == pytest.approx((7.0 / 3.0) ** 0.5)
    # Cell by cell where there are several.
    bias, error = sampling_error(np.array([2.5, 10.0]), np.array([[1.0, 10.0], [2.0, 10.0], [6.0, 10.0]]))
    assert bias.tolist() == [0.25, 0.0]
    np.testing.assert_allclose(error, [(7.0 / 3.0) ** 0.5, 0.0])


def test_a_picture_tells_direct_from_bounced_and_the_pressure_while_something_acts() -> None:
    shares = np.array([[0.3, 0.1], [0.0, 0.2], [0.0, 0.0], [0.4, 0.0]])
    duty = spray_field.DutyMap(duty_share=shares, pressure_ratio=np.array([0.5, 0.1]), bounce_order=np.array([0, 1]),
                               cell_shape=(1, 1, 2, 2))  # fmt: skip
    picture = board_picture(duty, 0, 0)
    np.testing.assert_allclose(picture.direct_duty_share, [[0.3, 0.0], [0.0, 0.4]])
    np.testing.assert_allclose(picture.duty_share, [[0.4, 0.2], [0.0, 0.4]])
    np.testing.assert_allclose(picture.pressure_ratio, [[0.16 / 0.4, 0.1], [0.0, 0.5]])


def test_of_dry_cells_every_measure_keeps_the_same_first_ones() -> None:
    shares = np.zeros((50, 2))
    shares[10:13] = [[0.1, 0.0], [0.0, 0.1], [0.2, 0.1]]
    duty = spray_field.DutyMap(duty_share=shares, pressure_ratio=np.array([0.5, 1e-4]), bounce_order=np.array([0, 1]),
                               cell_shape=(1, 1, 5, 10))  # fmt: skip
    chosen = worst_cells(duty, 0.1, entry_ratios=(0.0, 1e-3), margin=2)
    # Twelve cells of each measure: what is dry from cell 0 on; below the entry pressure cell 11 counts as dry.
    assert chosen.cell_index.tolist() == [*range(10), 11, 13, 14]


@given(st.lists(st.integers(0, 4), min_size=1, max_size=30), st.data())
def test_the_lowest_are_those_that_a_stable_sort_puts_first(values: list[int], data: st.DataObject) -> None:
    count = data.draw(st.integers(1, len(values)))
    lowest = spray_field._lowest(np.array(values, dtype=np.float64), count)
    assert np.flatnonzero(lowest).tolist() == sorted(sorted(range(len(values)), key=lambda i: values[i])[:count])


def test_so_many_of_a_thousand_different_values_are_the_lowest() -> None:
    values = np.random.default_rng(3).random(1000)
    for count in (1, 2, 3, 17, 46, 500, 999, 1000):
        lowest = np.flatnonzero(spray_field._lowest(values, count))
        np.testing.assert_array_equal(lowest, np.sort(np.argsort(values)[:count]))


@pytest.mark.parametrize(("margin", "kept"), [(1, 3), (2, 6), (3, 9), (None, 6)])
def test_so_many_of_the_worst_cells_are_kept_as_the_margin_says(margin: int | None, kept: int) -> None:
    shares = np.linspace(1.0, 0.0, 100)[:, None]
    duty = spray_field.DutyMap(duty_share=shares, pressure_ratio=np.array([0.5]), bounce_order=np.array([0]),
                               cell_shape=(1, 1, 10, 10))  # fmt: skip
    chosen = worst_cells(duty, 0.02) if margin is None else worst_cells(duty, 0.02, margin=margin)
    assert chosen.cell_index.tolist() == list(range(100 - kept, 100))
    assert chosen.order_index == 2
    assert worst_cells(duty).cell_index.tolist() == worst_cells(duty, 0.02, margin=2).cell_index.tolist()
    assert worst_cells(duty, 0.0, margin=1).cell_index.tolist() == [99]
    for seed in range(20):
        order = np.random.default_rng(seed).permutation(100)
        mixed = worst_cells(replace(duty, duty_share=shares[order]), 0.02, margin=margin or 2)
        assert sorted(order[mixed.cell_index].tolist()) == list(range(100 - kept, 100))
        alone = worst_cells(replace(duty, duty_share=shares[order]), 0.0, margin=1)
        assert order[alone.cell_index].tolist() == [99]


def test_every_bounce_takes_the_square_of_the_restitution_and_the_strongest_class_comes_first() -> None:
    shape = (2, 2, 3)
    made = spray_field.ExposureTrace(
        cell_shape=(1, 2, 1, 1), cell_size_m=(0.02, 0.02), zone_area=np.full(shape, 0.1, np.float32),
        zone_radius_per_m=np.zeros(shape, np.float32), zones_per_m2=np.zeros(shape, np.float32),
        class_ratio=np.array([0.2, 0.4, 0.9]), class_order=np.array([0, 1, 2]),
        force_ratio=np.zeros((2, 2, 3), np.float32), stream_count=np.ones(2), ray_count=1,
    )  # fmt: skip
    duty = duty_map(made, 0.0, 0.5)
    np.testing.assert_allclose(duty.pressure_ratio, [0.2, 0.4 * 0.25, 0.9 * 0.0625])
    assert duty.bounce_order.tolist() == [0, 1, 2]


@pytest.mark.parametrize("decay_m", [5e-3, 1e-3])
def test_a_spray_too_weak_for_the_bins_stays_a_direct_one(decay_m: float) -> None:
    weak = trace_exposure(ONE_ABOVE, replace(CONE, decay_length_m=decay_m), PLATE, 500, 1, bounces=0)
    assert set(weak.class_order.tolist()) == {0}
    assert np.all(weak.class_ratio < 1e-7)


def test_pressures_on_either_side_of_a_bins_border_are_kept_apart() -> None:
    # Two bins over seven decades: the border lies at 10^−3.5. At 130 mm 2·C_d·C_v·A/(s²Ω) = 10^−3.47, less off axis.
    near = trace_exposure(replace(ONE_ABOVE, clearance_m=0.13), CONE, PLATE, 4000, 1, bounces=0, pressure_bins=2)
    stronger, weaker = sorted(near.class_ratio, reverse=True)
    assert stronger > 10**-3.5 > weaker > 1e-4
