"""Speed of the ray trace: first board by one division a ray, against a test of every ray with every board."""

from __future__ import annotations

from math import radians
from time import perf_counter

import numpy as np
import pytest

from model import spray_field
from model.spray_field import batch_duty_maps, duty_map, trace_exposure
from model.spray_geometry import Nozzle, Rack, RotatingArms, place_boards

pytestmark = pytest.mark.benchmark

CONE = Nozzle(
    shape="full cone",
    half_angle_rad=radians(30),
    decay_length_m=1.5,
    orifice_diameter_m=2e-3,
    discharge_coefficient=0.8,
    velocity_coefficient=0.95,
)
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


def best_time_s(call, repeats: int = 5) -> float:
    times = []
    for _ in range(repeats):
        start = perf_counter()
        call()
        times.append(perf_counter() - start)
    return min(times)


def every_board(planes, ray) -> np.ndarray:
    """Distance to the first of 12 boards by testing each of them, in the same single precision."""
    n, u, v, dn, du, dv = ray
    best = np.full(n.shape, np.inf, dtype=np.float32)
    for k in range(int(planes.boards_in_block[0])):
        distance = (np.float32(planes.first_plane_m + k * planes.plane_pitch_m) - n) / dn
        inside = np.abs(u + distance * du) <= np.float32(planes.board_width_m / 2)
        inside &= np.abs(v + distance * dv) <= np.float32(planes.board_length_m / 2)
        best = np.where(inside & (distance > 0) & (distance < best), distance, best)
    return best


def test_finding_the_first_board_beats_testing_every_board() -> None:
    planes = place_boards(RACK, ARMS)
    random = np.random.default_rng(1)
    start = random.uniform([-0.2, -0.2, -0.2], [0.2, 0.2, -0.15], (50_000, 3))
    direction = random.uniform(-0.15, 0.15, (50_000, 3)) - start
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    columns = (start[:, 0], start[:, 2], start[:, 1], direction[:, 0], direction[:, 2], direction[:, 1])
    ray = tuple(np.ascontiguousarray(c, dtype=np.float32) for c in columns)
    dense, walk = every_board(planes, ray), np.full(50_000, np.inf, dtype=np.float32)
    hit, distance, _, _ = spray_field._nearest_board(planes, ray, None)
    walk[hit] = distance
    assert np.isclose(dense, walk, rtol=1e-3, atol=1e-5).mean() > 0.999
    ratio = best_time_s(lambda: every_board(planes, ray)) / best_time_s(
        lambda: spray_field._nearest_board(planes, ray, None)
    )
    print(f"\ntesting every board takes {ratio:.1f} times as long as the plane step (12 boards, 50 000 rays)")
    assert ratio > 1.0


def test_reusing_a_trace_beats_tracing_again_for_each_pressure_and_run_out() -> None:
    trace = trace_exposure(ARMS, CONE, RACK, 200_000, 1)
    traced_s = best_time_s(lambda: trace_exposure(ARMS, CONE, RACK, 200_000, 1), 3)
    draft_s = best_time_s(lambda: trace_exposure(ARMS, CONE, RACK, 30_000, 1), 3)
    mapped_s = best_time_s(lambda: duty_map(trace, 0.003, 0.3))
    batches_s = best_time_s(lambda: batch_duty_maps(trace, 0.003, 0.3))
    print(f"\n12 boards, 3 bounces: 200 000 rays {traced_s * 1e3:.0f} ms; 30 000 rays {draft_s * 1e3:.0f} ms")
    print(f"duty map {mapped_s * 1e3:.1f} ms, {traced_s / mapped_s:.0f} times faster than a trace")
    print(f"four batch maps for the sampling error {batches_s * 1e3:.1f} ms")
    assert traced_s / mapped_s > 3.0
