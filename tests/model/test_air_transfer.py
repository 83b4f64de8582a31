"""Heat and mass transfer of an air stream: correlations worked out by hand, and the analogy between both."""

from __future__ import annotations

import numpy as np
import pytest

from model.air_transfer import (
    heat_transfer_W_m2_K,
    nozzle_array_sherwood,
    plate_sherwood,
    round_nozzle_sherwood,
    stream_transfer_m_s,
)
from model.drying_fluid import water_for_drying
from model.moist_air import air_conductivity_W_m_K, air_viscosity_Pa_s, vapour_diffusivity_m2_s

WATER = water_for_drying()
SCHMIDT_FACTOR = 0.7**0.42


@pytest.mark.parametrize(("distance", "geometry"), [(2.0, 0.156 / 0.92), (6.0, 0.156), (12.0, 0.156 / 1.12)])
def test_one_nozzle_follows_martin_by_hand(distance: float, geometry: float) -> None:
    # Martin (1977), equation repeated in textbooks: D/r = 0.2; 10 000^0.55 = 158.489.
    expected = SCHMIDT_FACTOR * geometry * 2.0 * (1e4 * (1.0 + 0.005 * 158.489)) ** 0.5
    assert round_nozzle_sherwood(1e4, 0.7, 5.0, distance) == pytest.approx(expected, rel=1e-5)
    wider = round_nozzle_sherwood(1e4, 0.7, 2.5, 6.0)
    # Half the radius: D/r = 0.4, geometry 0.4 · (1 − 0.44).
    assert wider == pytest.approx(float(round_nozzle_sherwood(1e4, 0.7, 5.0, 6.0)) * 0.224 / 0.156, rel=1e-12)


@pytest.mark.parametrize(("distance", "geometry"), [(4.0, 0.156 / 0.96), (6.0, 0.156), (12.0, 0.156 / 1.12)])
def test_a_field_of_nozzles_follows_martin_by_hand(distance: float, geometry: float) -> None:
    # Open area share 1 %, its root 0.1; 10 000^⅔ = 464.159.
    crowding = (1.0 + (distance * 0.1 / 0.6) ** 6) ** -0.05
    expected = SCHMIDT_FACTOR * crowding * geometry * 0.5 * 464.159
    assert nozzle_array_sherwood(1e4, 0.7, 0.01, distance) == pytest.approx(expected, rel=1e-5)


def test_a_plate_is_laminar_up_to_half_a_million_and_mixed_above() -> None:
    assert plate_sherwood(2.5e5, 8.0) == pytest.approx(0.664 * 500.0 * 2.0, rel=1e-12)
    # 0.037 · 63 095.7 − 871
    assert plate_sherwood(1e6, 1.0) == pytest.approx(1463.54, rel=1e-5)
    assert plate_sherwood(5e5, 1.0) == pytest.approx(0.664 * 5e5**0.5, rel=1e-12)
    assert plate_sherwood(0.0, 1.0) == 0.0


def test_a_stream_gives_its_plate_number_times_diffusivity_over_length_at_its_own_pressure() -> None:
    for pressure in (101325.0, 80000.0):
        kinematic = air_viscosity_Pa_s(333.15) * 287.042 * 333.15 / pressure
        diffusivity = vapour_diffusivity_m2_s(333.15, pressure)
        number = 0.664 * (4.0 * 0.16 / kinematic) ** 0.5 * (kinematic / diffusivity) ** (1.0 / 3.0)
        found = stream_transfer_m_s(WATER, 4.0, 0.16, 333.15, pressure_Pa=pressure)
        assert found == pytest.approx(number * diffusivity / 0.16, rel=1e-9)
    nozzle = stream_transfer_m_s(WATER, 40.0, 5e-3, 333.15, lambda re, sc: round_nozzle_sherwood(re, sc, 5.0, 6.0))
    kinematic = air_viscosity_Pa_s(333.15) * 287.042 * 333.15 / 101325.0
    diffusivity = vapour_diffusivity_m2_s(333.15, 101325.0)
    number = round_nozzle_sherwood(40.0 * 5e-3 / kinematic, kinematic / diffusivity, 5.0, 6.0)
    assert nozzle == pytest.approx(float(number) * diffusivity / 5e-3, rel=1e-9)


def test_heat_goes_with_the_vapour_by_the_lewis_number_to_two_thirds() -> None:
    for pressure in (101325.0, 80000.0):
        capacity = pressure / (287.042 * 333.15) * 1006.0
        lewis = air_conductivity_W_m_K(333.15) / capacity / vapour_diffusivity_m2_s(333.15, pressure)
        found = heat_transfer_W_m2_K(WATER, 0.02, 333.15, pressure)
        assert found == pytest.approx(0.02 * capacity * lewis ** (2.0 / 3.0), rel=1e-9)
    assert heat_transfer_W_m2_K(WATER, 0.02, 333.15) == heat_transfer_W_m2_K(WATER, 0.02, 333.15, 101325.0)
    assert np.shape(heat_transfer_W_m2_K(WATER, np.array([0.01, 0.02]), 333.15)) == (2,)
