"""Residue front, clearing depth and wash time: limits, monotonicity, order statistics, refusals."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model import clearing
from model.gap import GapState, gap_exchange_m_s
from model.immersion import make_drive

GAP = GapState(
    gap_m=50e-6,
    flow_length_m=5e-3,
    viscosity_Pa_s=4.66e-4,
    density_kg_m3=983.2,
    diffusivity_m2_s=5e-10,
    entry_pressure_Pa=0.0,
    end_loss_coefficient=1.5,
)
RESIDUE = clearing.ResidueState(capacity_kg_m3=80.0, residue_density_kg_m3=1100.0, residue_thickness_m=30e-6)
pressures = st.floats(min_value=1e-3, max_value=3e5)
heights = st.floats(min_value=5e-6, max_value=1e-3)
factors = st.floats(min_value=1.0, max_value=20.0)
small = st.floats(min_value=0.0, max_value=1e-4)
SLACK = 1.0 - 1e-9


@settings(deadline=None, max_examples=200)
@given(pressure=pressures, height=heights, factor=factors, thickness=heights)
def test_front_never_slows_with_more_pressure_or_higher_standoff(
    pressure: float, height: float, factor: float, thickness: float
) -> None:
    residue, low = replace(RESIDUE, residue_thickness_m=thickness), replace(GAP, gap_m=height)
    base = SLACK * clearing.front_speed_m_s(pressure, low, residue)
    assert clearing.front_speed_m_s(pressure * factor, low, residue) >= base
    assert clearing.front_speed_m_s(pressure, replace(GAP, gap_m=height * factor), residue) >= base


@settings(deadline=None, max_examples=50)
@given(pressure=pressures, height=heights, factor=factors)
def test_front_never_slows_with_shorter_body_thinner_residue_or_more_capacity(
    pressure: float, height: float, factor: float
) -> None:
    state = replace(GAP, gap_m=height)
    base = SLACK * clearing.front_speed_m_s(pressure, state, RESIDUE)
    shorter = replace(state, flow_length_m=5e-3 / factor)
    assert clearing.front_speed_m_s(pressure, shorter, RESIDUE) >= base
    thinner = replace(RESIDUE, residue_thickness_m=30e-6 / factor)
    assert clearing.front_speed_m_s(pressure, state, thinner) >= base
    assert clearing.front_speed_m_s(pressure, state, replace(RESIDUE, capacity_kg_m3=80.0 * factor)) >= base


def test_residue_that_fills_the_gap_gives_the_plain_front_law() -> None:
    filled = replace(RESIDUE, residue_thickness_m=1.0)
    expected = gap_exchange_m_s(1000.0, GAP) * 80.0 / 1100.0
    assert clearing.front_speed_m_s(1000.0, GAP, filled) == pytest.approx(expected, rel=1e-14)


def test_two_dissolving_walls_move_the_front_by_the_exchange_of_two() -> None:
    filled = replace(RESIDUE, residue_thickness_m=1.0)
    for walls in (1, 2):
        expected = gap_exchange_m_s(1000.0, GAP, walls) * 80.0 / 1100.0
        assert clearing.front_speed_m_s(1000.0, GAP, filled, walls) == pytest.approx(expected, rel=1e-14)


def test_mass_taken_from_the_front_equals_mass_left_in_the_gap() -> None:
    tall = replace(GAP, gap_m=200e-6)
    removed_kg_m_s = gap_exchange_m_s(1000.0, tall) * 80.0 * 200e-6
    front = clearing.front_speed_m_s(1000.0, tall, RESIDUE)
    assert front * 1100.0 * 30e-6 == pytest.approx(removed_kg_m_s, rel=1e-12)


def test_front_stands_still_up_to_the_entry_pressure() -> None:
    repelled = replace(GAP, entry_pressure_Pa=985.0)
    speeds = clearing.front_speed_m_s(np.array([0.0, 984.0, 985.0, 986.0]), repelled, RESIDUE)
    assert list(speeds > 0.0) == [False, False, False, True]
    assert speeds[3] == clearing.front_speed_m_s(986.0, GAP, RESIDUE)


def test_no_pressure_gives_no_front_speed_never_nan() -> None:
    assert clearing.front_speed_m_s(0.0, GAP, RESIDUE) == 0.0
    assert clearing.front_speed_m_s(0.0, replace(GAP, entry_pressure_Pa=10.0), RESIDUE) == 0.0


def test_a_fluid_that_does_not_dissolve_the_residue_never_clears() -> None:
    inert = replace(RESIDUE, capacity_kg_m3=0.0)
    speed = clearing.front_speed_m_s(1e4, GAP, inert)
    soak = clearing.soak_coefficient_m_s05(GAP, inert, 1e4)
    assert clearing.needed_time_s(2.5e-3, speed, soak) == np.inf


def test_soak_needs_the_fluid_in_the_gap() -> None:
    repelled = replace(GAP, entry_pressure_Pa=500.0)
    soak = clearing.soak_coefficient_m_s05(repelled, RESIDUE, np.array([0.0, 499.0, 501.0]))
    assert soak[0] == soak[1] == 0.0
    assert soak[2] == clearing.soak_coefficient_m_s05(GAP, RESIDUE, 0.0) > 0.0


def test_soak_depth_of_a_filled_gap_is_the_stefan_root() -> None:
    filled = replace(RESIDUE, residue_thickness_m=1.0)
    depth = clearing.soak_depth_m(600.0, clearing.soak_coefficient_m_s05(GAP, filled, 0.0))
    assert depth == pytest.approx((2 * 5e-10 * 80.0 * 600.0 / 1100.0) ** 0.5, rel=1e-12)


@settings(deadline=None, max_examples=200)
@given(depth=st.floats(min_value=1e-6, max_value=0.05), speed=small, soak=small)
def test_needed_time_clears_exactly_the_depth(depth: float, speed: float, soak: float) -> None:
    time_s = clearing.needed_time_s(depth, speed, soak)
    if np.isfinite(time_s):
        assert clearing.cleared_depth_m(time_s, speed, soak) == pytest.approx(depth, rel=1e-9)
    else:
        # Only speeds too small to square are taken for standing still.
        assert speed < 1e-150
        assert soak < 1e-150


@settings(deadline=None, max_examples=50)
@given(depth=st.floats(min_value=1e-6, max_value=0.05), speed=small, soak=small, factor=factors)
def test_longer_wash_clears_no_less_and_shorter_path_needs_no_more(
    depth: float, speed: float, soak: float, factor: float
) -> None:
    assert clearing.cleared_depth_m(60.0 * factor, speed, soak) >= clearing.cleared_depth_m(60.0, speed, soak)
    needed = clearing.needed_time_s(depth, speed, soak)
    assert clearing.needed_time_s(depth / factor, speed, soak) <= needed * (1 + 1e-12)
    assert clearing.needed_time_s(depth, speed * factor, soak) <= needed * (1 + 1e-12)


def test_needed_time_in_its_limits() -> None:
    times = clearing.needed_time_s(
        np.array([1e-3, 1e-3, 1e-3, 0.0]), np.array([1e-5, 0.0, 0.0, 0.0]), np.array([0.0, 1e-5, 0.0, 0.0])
    )
    np.testing.assert_allclose(times, [100.0, 1e4, np.inf, 0.0], rtol=1e-12)


def test_mean_front_speed_is_the_duty_weighted_sum() -> None:
    duty = np.array([[0.1, 0.2], [0.0, 0.0], [0.5, 0.5]])
    speed = np.array([[1.0, 2.0, 3.0], [10.0, 20.0, 30.0]])
    mean = clearing.mean_front_speed(duty, speed)
    np.testing.assert_allclose(mean, [[2.1, 4.2, 6.3], [0.0, 0.0, 0.0], [5.5, 11.0, 16.5]])


@settings(deadline=None, max_examples=50)
@given(
    seed=st.integers(0, 2**32 - 1), cells=st.integers(1, 60), share=st.floats(0.0, 0.9), ties=st.booleans()
)
def test_worst_place_is_the_order_statistic_of_every_draw(
    seed: int, cells: int, share: float, ties: bool
) -> None:
    random = np.random.default_rng(seed)
    speed = random.integers(0, 4, (cells, 9)).astype(float) if ties else random.random((cells, 9))
    index = clearing.worst_place_index(cells, share)
    np.testing.assert_array_equal(clearing.worst_place_speed(speed, index), np.sort(speed, axis=0)[index])


@pytest.mark.parametrize(
    ("cells", "share", "index"), [(50, 0.02, 1), (49, 0.02, 0), (100, 0.29, 29), (1, 0.5, 0)]
)
def test_worst_place_sets_aside_only_whole_cells(cells: int, share: float, index: int) -> None:
    assert clearing.worst_place_index(cells, share) == index


def test_the_worst_place_is_always_one_of_the_cells() -> None:
    assert clearing.worst_place_index(10, 1.0 - 1e-12) == 9


def test_a_drive_counts_only_where_it_reaches_the_worst_place() -> None:
    drive = make_drive(np.full(3, 1000.0), 0.4, np.array([1.0, 0.98, 0.97]))
    speeds = clearing.driven_front_speed_m_s(drive, GAP, RESIDUE, 0.02)
    full = 0.4 * clearing.front_speed_m_s(1000.0, GAP, RESIDUE)
    np.testing.assert_allclose(speeds, [full, full, 0.0])
    np.testing.assert_array_equal(
        clearing.driven_front_speed_m_s(make_drive(np.zeros(4), 0.0), GAP, RESIDUE, 0.02), np.zeros(4)
    )


def hardening(peak_K: float, wait_h: float) -> float:
    factor = clearing.hardening_factor(
        peak_reflow_K=peak_K,
        reference_peak_K=518.15,
        wait_h=wait_h,
        wait_scale_h=8.0,
        sensitivity_per_K=0.01,
        wait_exponent=0.15,
    )
    return float(factor)


@settings(deadline=None, max_examples=50)
@given(
    peak=st.floats(450.0, 560.0),
    hotter=st.floats(0.0, 50.0),
    wait=st.floats(0.0, 500.0),
    longer=st.floats(0.0, 500.0),
)
def test_hotter_reflow_and_longer_wait_never_raise_the_capacity(
    peak: float, hotter: float, wait: float, longer: float
) -> None:
    assert hardening(518.15, 0.0) == 1.0
    assert hardening(peak + hotter, wait) <= hardening(peak, wait)
    assert hardening(peak, wait + longer) <= hardening(peak, wait)


def test_capacity_scales_with_temperature_and_hardening() -> None:
    assert clearing.capacity_kg_m3(80.0, 0.02, 333.15, 333.15, 1.0) == pytest.approx(80.0)
    assert clearing.capacity_kg_m3(80.0, 0.02, 343.15, 333.15, 0.5) == pytest.approx(40.0 * np.exp(0.2))
    assert clearing.capacity_kg_m3(0.0, 0.02, 343.15, 333.15, 1.0) == 0.0


def test_refusals_name_what_is_wrong() -> None:
    with pytest.raises(ValueError, match="capacity: -1 kg/m³"):
        replace(RESIDUE, capacity_kg_m3=-1.0)
    with pytest.raises(ValueError, match="residue thickness: 0 m"):
        replace(RESIDUE, residue_thickness_m=0.0)
    with pytest.raises(ValueError, match="gap height: 0 m"):
        clearing.residue_loading_kg_m3(1100.0, 1e-5, 0.0)
    with pytest.raises(ValueError, match="time: -1 s"):
        clearing.soak_depth_m(-1.0, 1e-5)
    with pytest.raises(ValueError, match="mean front speed: -1e-06 m/s"):
        clearing.needed_time_s(1e-3, -1e-6, 0.0)
    with pytest.raises(ValueError, match=r"^peak pressure: -1 Pa is not allowed\."):
        clearing.soak_coefficient_m_s05(GAP, RESIDUE, -1.0)
    with pytest.raises(ValueError, match="wait: -1 h"):
        hardening(518.15, -1.0)
    with pytest.raises(ValueError, match=r"add up to 1\.2"):
        clearing.mean_front_speed(np.array([[0.6, 0.6]]), np.ones((2, 3)))
    with pytest.raises(ValueError, match=r"got \(1, 2\) and \(3, 4\)"):
        clearing.mean_front_speed(np.array([[0.6, 0.2]]), np.ones((3, 4)))
    with pytest.raises(ValueError, match="index one of its cells"):
        clearing.worst_place_speed(np.ones((3, 4)), 3)
    with pytest.raises(ValueError, match=r"excluded share must be at least 0 and below 1; got 1\.0"):
        clearing.worst_place_index(10, 1.0)
    with pytest.raises(ValueError, match="cell count must be at least 1; got 0"):
        clearing.worst_place_index(0, 0.02)


def test_a_pressure_below_one_pascal_may_still_be_below_the_entry_pressure() -> None:
    enters = clearing.fluid_enters(np.array([0.3, 0.5, 0.7, 0.0, 0.0]), np.array([0.5, 0.5, 0.5, 0.0, -1.0]))
    assert enters.tolist() == [False, False, True, True, True]


def test_duties_and_speeds_that_do_not_fit_are_refused_whole() -> None:
    row = np.ones((1, 2))
    for duty, speed in ((np.ones(2), np.ones((2, 3))), (row, np.ones(2)), (row, np.ones((3, 4)))):
        told = f"duty must be (cells, bins) and speed (bins, draws); got {duty.shape} and {speed.shape}."
        with pytest.raises(ValueError, match=f"^{re.escape(told)}$"):
            clearing.mean_front_speed(duty, speed)
    with pytest.raises(ValueError, match=r"^duty share: -0\.1 is not allowed\. Give a finite value, 0 or above\.$"):
        clearing.mean_front_speed(np.array([[0.5, -0.1]]), np.ones((2, 3)))
    with pytest.raises(ValueError, match=r"^duty shares of a cell add up to 1\.2; at most 1 is possible\.$"):
        clearing.mean_front_speed(np.array([[0.1, 0.1], [0.6, 0.6]]), np.ones((2, 3)))


def test_mean_speeds_of_many_draws_are_the_product_of_duties_and_speeds() -> None:
    random = np.random.default_rng(1)
    duty, speed = random.random((200, 20)) / 20.0, random.random((20, 3000))
    np.testing.assert_allclose(clearing.mean_front_speed(duty, speed), duty @ speed, rtol=1e-12)


def test_mean_speeds_keep_the_precision_they_are_given_in() -> None:
    for kind in (np.float32, np.float64):
        mean = clearing.mean_front_speed(np.array([[0.5, 0.25]], dtype=kind), np.ones((2, 3), dtype=kind))
        assert mean.dtype == kind
        assert clearing.worst_place_speed(mean, 0).dtype == np.float64
