"""Drive pressures of machines without spray: hand calculations, limits, monotonicity, refusals."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model import immersion

JET: dict[str, Any] = {
    "exit_speed_m_s": 10.0,
    "nozzle_diameter_m": 2e-3,
    "distance_m": 0.1,
    "decay_constant": 6.1,
    "half_width_growth": 0.1,
    "nozzle_count": 20,
    "nozzle_pitch_m": 0.06,
    "board_stroke_m": 0.05,
    "board_area_m2": 0.06,
    "density_kg_m3": 1000.0,
    "coupling_share": 0.5,
}
SPIN: dict[str, Any] = {
    "rotation_rad_s": 50.0,
    "radius_m": 0.2,
    "radial_extent_m": 5e-3,
    "density_kg_m3": 1000.0,
    "unbalanced_share": 0.2,
    "spinning_share": 0.8,
}
SOUND: dict[str, Any] = {
    "power_density_W_m3": 1e4,
    "depth_m": 0.4,
    "sound_speed_m_s": 1500.0,
    "enhancement": 50.0,
    "active_share": 0.5,
}


def test_submerged_jet_keeps_its_speed_in_the_core_and_decays_as_one_over_distance() -> None:
    speeds = immersion.submerged_jet_speed_m_s(10.0, 2e-3, np.array([0.0, 12.2e-3, 24.4e-3, 122e-3]), 6.1)
    np.testing.assert_allclose(speeds, [10.0, 10.0, 5.0, 1.0])


def test_jet_drive_matches_a_hand_calculation() -> None:
    drive = immersion.submerged_jet_drive(**JET)
    assert drive.pressure_Pa == pytest.approx([500.0 * (0.5 * 1.22) ** 2])
    radius = 1e-3 + 0.01
    covered = (2 * radius + 0.05) / 0.06
    assert covered > 1.0
    assert drive.covered_share == pytest.approx([1.0])
    assert drive.duty_share == pytest.approx([20 * pi * radius**2 / 0.06])


def test_boards_at_rest_are_reached_in_part_but_there_longer() -> None:
    moving = immersion.submerged_jet_drive(**JET)
    resting = immersion.submerged_jet_drive(**JET | {"board_stroke_m": 0.0})
    assert resting.covered_share == pytest.approx([0.022 / 0.06])
    assert resting.duty_share[0] * resting.covered_share[0] == pytest.approx(moving.duty_share[0])


@settings(deadline=None, max_examples=50)
@given(
    count=st.floats(0.0, 2000.0),
    distance=st.floats(0.0, 1.0),
    stroke=st.floats(0.0, 1.0),
    pitch=st.floats(1e-3, 1.0),
)
def test_jet_shares_stay_shares_and_are_consistent(
    count: float, distance: float, stroke: float, pitch: float
) -> None:
    changed = {
        "nozzle_count": count,
        "distance_m": distance,
        "board_stroke_m": stroke,
        "nozzle_pitch_m": pitch,
    }
    drive = immersion.submerged_jet_drive(**JET | changed)
    mean = min(1.0, count * pi * (1e-3 + 0.1 * distance) ** 2 / 0.06)
    assert 0.0 <= drive.duty_share[0] <= 1.0
    assert 0.0 <= drive.covered_share[0] <= 1.0
    assert drive.duty_share[0] * drive.covered_share[0] == pytest.approx(mean, rel=1e-9)


def test_no_nozzles_reach_nothing() -> None:
    drive = immersion.submerged_jet_drive(**JET | {"nozzle_count": 0})
    assert drive.duty_share == drive.covered_share == 0.0


def test_centrifugal_drive_is_rho_omega_squared_r_dr() -> None:
    drive = immersion.centrifugal_drive(**SPIN)
    assert drive.pressure_Pa == pytest.approx([0.2 * 1000.0 * 2500.0 * 0.2 * 5e-3])
    faster = immersion.centrifugal_drive(**SPIN | {"rotation_rad_s": 100.0})
    assert faster.pressure_Pa == pytest.approx(4.0 * drive.pressure_Pa)


def test_ultrasonic_floor_is_the_radiation_pressure() -> None:
    floor = immersion.ultrasonic_drive(**SOUND | {"enhancement": 1.0})
    assert floor.pressure_Pa == pytest.approx([1e4 * 0.4 / 1500.0])
    assert immersion.ultrasonic_drive(**SOUND).pressure_Pa == pytest.approx(50.0 * floor.pressure_Pa)
    with pytest.raises(ValueError, match=r"^enhancement must be at least 1; got 0\.5\.$"):
        immersion.ultrasonic_drive(**SOUND | {"enhancement": 0.5})


MAKERS = [
    (immersion.submerged_jet_drive, JET),
    (immersion.centrifugal_drive, SPIN),
    (immersion.ultrasonic_drive, SOUND),
]


@pytest.mark.parametrize(("maker", "inputs"), MAKERS)
def test_every_drive_runs_over_draws_and_equals_its_single_draws(maker: Any, inputs: dict[str, Any]) -> None:
    spread = np.array([0.7, 0.85, 1.0])
    drives = maker(
        **{name: value * spread for name, value in inputs.items()}
        | ({"enhancement": 9.0} if "enhancement" in inputs else {})
    )
    for field in ("pressure_Pa", "duty_share", "covered_share"):
        assert getattr(drives, field).shape == (3,)
    last = maker(**inputs | ({"enhancement": 9.0} if "enhancement" in inputs else {}))
    assert drives.pressure_Pa[2] == pytest.approx(last.pressure_Pa[0])
    assert drives.duty_share[2] == pytest.approx(last.duty_share[0])


@pytest.mark.parametrize(("maker", "inputs"), MAKERS)
def test_every_drive_refuses_each_negative_input(maker: Any, inputs: dict[str, Any]) -> None:
    for name in inputs:
        if name != "capillary_pressure_Pa":  # suction may be negative: the walls repel
            with pytest.raises(ValueError, match=r"is not allowed|must"):
                maker(**inputs | {name: -0.5})


def test_a_drive_refuses_shares_outside_0_to_1() -> None:
    with pytest.raises(ValueError, match=r"duty share: 1\.1"):
        immersion.make_drive(100.0, 1.1)
    with pytest.raises(ValueError, match=r"covered share: -0\.1"):
        immersion.make_drive(100.0, 1.0, -0.1)


def test_a_drive_given_in_whole_numbers_holds_floats() -> None:
    drive = immersion.make_drive(100, 1)
    for field in (drive.pressure_Pa, drive.duty_share, drive.covered_share):
        assert field.dtype == np.float64
