"""Cost of the front speed over 20 pressure bins × 512 draws, against bare numpy calls on the same grid."""

from __future__ import annotations

import timeit

import numpy as np
import pytest

from model.clearing import ResidueState, front_speed_m_s
from model.gap import GapState


@pytest.mark.benchmark
def test_front_speed_costs_a_small_multiple_of_cbrt_and_expm1() -> None:
    random = np.random.default_rng(1)
    gap = GapState(
        gap_m=random.uniform(25e-6, 80e-6, 512),
        flow_length_m=5e-3,
        viscosity_Pa_s=random.uniform(4e-4, 6e-4, 512),
        density_kg_m3=983.2,
        diffusivity_m2_s=random.uniform(3e-10, 8e-10, 512),
        entry_pressure_Pa=random.uniform(0.0, 300.0, 512),
        end_loss_coefficient=1.5,
    )
    residue = ResidueState(
        capacity_kg_m3=random.uniform(40.0, 120.0, 512),
        residue_density_kg_m3=1100.0,
        residue_thickness_m=30e-6,
    )
    pressure = np.geomspace(1.0, 5e4, 20)[:, None] * random.uniform(0.8, 1.2, 512)

    def peer() -> np.ndarray:
        return np.expm1(-np.cbrt(pressure))

    own_s = min(timeit.repeat(lambda: front_speed_m_s(pressure, gap, residue), number=10, repeat=5)) / 10
    peer_s = min(timeit.repeat(peer, number=10, repeat=5)) / 10
    print(
        f"front speed {own_s * 1e3:.2f} ms, cbrt + expm1 alone {peer_s * 1e3:.2f} ms, ratio {own_s / peer_s:.1f}"
    )
    assert own_s < 25.0 * peer_s
