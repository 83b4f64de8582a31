"""Gap entry, flow and mass transfer: limits, scaling, monotonicity, refusals."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model import gap

STATE = gap.GapState(
    gap_m=50e-6,
    flow_length_m=5e-3,
    viscosity_Pa_s=4.66e-4,
    density_kg_m3=983.2,
    diffusivity_m2_s=5e-10,
    entry_pressure_Pa=0.0,
    end_loss_coefficient=1.5,
)
pressures = st.floats(min_value=1e-3, max_value=3e5)
heights = st.floats(min_value=5e-6, max_value=1e-3)
lengths = st.floats(min_value=2e-4, max_value=5e-2)
factors = st.floats(min_value=1.0, max_value=20.0)
walls = st.sampled_from([1, 2])
SLACK = 1.0 - 1e-9  # rounding only


def state(height: float, length: float) -> gap.GapState:
    return replace(STATE, gap_m=height, flow_length_m=length)


@settings(deadline=None, max_examples=50)
@given(pressure=pressures, height=heights, length=lengths, factor=factors, active=walls)
def test_exchange_never_falls_when_the_pressure_rises(
    pressure: float, height: float, length: float, factor: float, active: int
) -> None:
    here = state(height, length)
    assert gap.gap_exchange_m_s(pressure * factor, here, active) >= SLACK * gap.gap_exchange_m_s(
        pressure, here, active
    )


@settings(deadline=None, max_examples=200)
@given(pressure=pressures, height=heights, length=lengths, factor=factors, active=walls)
def test_exchange_never_falls_when_the_gap_gets_taller(
    pressure: float, height: float, length: float, factor: float, active: int
) -> None:
    low = gap.gap_exchange_m_s(pressure, state(height, length), active)
    assert gap.gap_exchange_m_s(pressure, state(height * factor, length), active) >= SLACK * low


def test_exchange_rises_with_gap_height_through_every_regime() -> None:
    heights_m = np.geomspace(2e-6, 2e-3, 3000)
    for pressure in (1e-2, 1.0, 1e2, 1e4, 1e5):
        for length in (4e-4, 5e-3, 4e-2):
            for active in (1, 2):
                here = replace(STATE, gap_m=heights_m, flow_length_m=length)
                exchange = np.asarray(gap.gap_exchange_m_s(pressure, here, active))
                assert np.all(np.diff(exchange) >= -1e-9 * exchange[1:])
                assert exchange[-1] > 1.5 * exchange[0]


@settings(deadline=None, max_examples=50)
@given(pressure=pressures, height=heights, length=lengths, factor=factors)
def test_exchange_never_falls_with_shorter_path_thinner_fluid_or_faster_diffusion(
    pressure: float, height: float, length: float, factor: float
) -> None:
    here = state(height, length)
    base = SLACK * gap.gap_exchange_m_s(pressure, here)
    assert gap.gap_exchange_m_s(pressure, replace(here, flow_length_m=length / factor)) >= base
    assert gap.gap_exchange_m_s(pressure, replace(here, viscosity_Pa_s=4.66e-4 / factor)) >= base
    assert gap.gap_exchange_m_s(pressure, replace(here, diffusivity_m2_s=5e-10 * factor)) >= base


@settings(deadline=None, max_examples=50)
@given(pressure=pressures, height=heights, length=lengths, active=walls)
def test_exchange_is_bounded_by_what_the_flow_carries_when_saturated(
    pressure: float, height: float, length: float, active: int
) -> None:
    here = state(height, length)
    velocity = gap.gap_velocity_m_s(pressure, height, length, 4.66e-4)
    ceiling = velocity * height / (active * length)
    assert 0.0 < gap.gap_exchange_m_s(pressure, here, active) <= ceiling * (1.0 + 1e-12)


def test_exchange_chain_equals_the_single_steps() -> None:
    velocity = gap.gap_velocity_end_losses_m_s(1000.0, 50e-6, 5e-3, 4.66e-4, 983.2, 1.5)
    sherwood = gap.sherwood_mean(5e-3 * 5e-10 / (velocity * 4 * 50e-6**2), 1)
    transfer = gap.mass_transfer_m_s(sherwood, 5e-10, 50e-6)
    steps = gap.effective_exchange_m_s(transfer, gap.gap_flow_per_width_m2_s(velocity, 50e-6), 5e-3, 1)
    assert gap.gap_exchange_m_s(1000.0, STATE) == pytest.approx(steps, rel=1e-12)


def test_exchange_grows_with_the_cube_root_of_pressure_near_the_inlet() -> None:
    here = replace(STATE, end_loss_coefficient=0.0)
    # 0.3 % below 2: the developed part of the blend and the carrying limit are small, not zero.
    ratio = gap.gap_exchange_m_s(8e5, here) / gap.gap_exchange_m_s(1e5, here)
    assert ratio == pytest.approx(2.0, rel=5e-3)


def test_exchange_is_the_saturated_flow_when_pressure_is_tiny() -> None:
    velocity = gap.gap_velocity_m_s(1e-3, 50e-6, 5e-3, 4.66e-4)
    assert gap.gap_exchange_m_s(1e-3, STATE) == pytest.approx(velocity * 50e-6 / 5e-3, rel=1e-9)


def test_no_pressure_gives_no_exchange_and_no_nan() -> None:
    exchange = gap.gap_exchange_m_s(np.array([0.0, 5e-324, 1e-300, 1.0]), STATE)
    assert exchange[0] == 0.0
    assert np.all(np.isfinite(exchange))


def test_arrays_broadcast_over_bins_and_draws() -> None:
    here = replace(STATE, gap_m=np.linspace(30e-6, 80e-6, 7), density_kg_m3=np.full(7, 983.2))
    grid = gap.gap_exchange_m_s(np.array([[10.0], [100.0], [1000.0]]), here)
    assert np.shape(grid) == (3, 7)
    single = gap.gap_exchange_m_s(100.0, replace(STATE, gap_m=float(np.linspace(30e-6, 80e-6, 7)[4])))
    assert grid[1, 4] == pytest.approx(single, rel=1e-14)


@settings(deadline=None, max_examples=50)
@given(pressure=pressures, height=heights, length=lengths, loss=st.floats(min_value=0.1, max_value=5.0))
def test_end_losses_satisfy_the_pressure_balance(
    pressure: float, height: float, length: float, loss: float
) -> None:
    velocity = float(gap.gap_velocity_end_losses_m_s(pressure, height, length, 4.66e-4, 983.2, loss))
    viscous = 12 * 4.66e-4 * length * velocity / height**2
    assert viscous + 0.5 * loss * 983.2 * velocity**2 == pytest.approx(pressure, rel=1e-9)


def test_without_end_losses_the_flow_is_plane_poiseuille() -> None:
    plain = gap.gap_velocity_m_s(1e4, 350e-6, 27e-3, 4.66e-4)
    assert gap.gap_velocity_end_losses_m_s(1e4, 350e-6, 27e-3, 4.66e-4, 983.2, 0.0) == plain


@settings(deadline=None, max_examples=50)
@given(pressure=st.floats(min_value=10.0, max_value=1e5), length=lengths)
def test_wall_shear_rate_is_greatest_at_the_inertial_gap(pressure: float, length: float) -> None:
    tallest = float(gap.inertial_gap_m(pressure, length, 4.66e-4, 983.2, 1.5))
    heights_m = tallest * np.array([0.8, 0.95, 1.0, 1.05, 1.25])
    rates = gap.gap_velocity_end_losses_m_s(pressure, heights_m, length, 4.66e-4, 983.2, 1.5) / heights_m
    assert int(np.argmax(rates)) == 2


def test_inertial_gap_is_out_of_reach_without_pressure_or_loss() -> None:
    assert gap.inertial_gap_m(0.0, 5e-3, 4.66e-4, 983.2, 1.5) > 1e100
    assert gap.inertial_gap_m(1e4, 5e-3, 4.66e-4, 983.2, 0.0) > 1e100


def test_through_flow_limit_keeps_exchange_below_transfer_and_below_flow() -> None:
    transfer, flow = np.array([1e-6, 1e-5, 1e-3]), np.array([1e-3, 1e-7, 1e-9])
    exchange = np.asarray(gap.effective_exchange_m_s(transfer, flow, 5e-3, 2))
    assert np.all(exchange <= np.minimum(transfer, flow / (2 * 5e-3)) * (1 + 1e-12))
    assert exchange[0] == pytest.approx(1e-6, rel=1e-4)
    assert exchange[2] == pytest.approx(1e-7, rel=1e-9)


def test_walls_that_repel_on_one_side_only_can_still_draw_the_fluid_in() -> None:
    assert gap.entry_pressure_Pa(0.05, 0.6 * pi, 0.2 * pi, 50e-6) == 0.0
    assert gap.entry_pressure_Pa(0.05, 0.6 * pi, 0.5 * pi, 50e-6) > 0.0


def test_half_the_gap_needs_twice_the_entry_pressure() -> None:
    wide, narrow = (gap.entry_pressure_Pa(0.05, 2.0, 1.9, height) for height in (60e-6, 30e-6))
    assert narrow == pytest.approx(2.0 * wide)


def test_a_repelled_fluid_never_creeps_in() -> None:
    assert gap.imbibition_time_s(1e-3, 0.072, 2.0, 2.0, 50e-6, 1e-3) == np.inf
    assert gap.imbibition_length_m(100.0, 0.072, 2.0, 2.0, 50e-6, 1e-3) == 0.0
    assert gap.imbibition_time_s(0.0, 0.072, 2.0, 2.0, 50e-6, 1e-3) == 0.0


def test_creeping_twice_as_far_takes_four_times_as_long() -> None:
    short, long = (gap.imbibition_time_s(x, 0.03, 0.5, 0.9, 50e-6, 1e-3) for x in (2e-3, 4e-3))
    assert long == pytest.approx(4.0 * short)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("gap_m", 0.0),
        ("gap_m", -50e-6),
        ("flow_length_m", 0.0),
        ("viscosity_Pa_s", 0.0),
        ("density_kg_m3", np.array([983.0, 0.0])),
        ("diffusivity_m2_s", float("nan")),
        ("entry_pressure_Pa", -1.0),
        ("end_loss_coefficient", -0.1),
    ],
)
def test_gap_state_refuses_values_without_physical_meaning(field: str, value: float) -> None:
    with pytest.raises(ValueError, match=rf"{field.split('_')[0]}.*is not allowed"):
        replace(STATE, **{field: value})


def test_functions_refuse_what_they_cannot_use_and_name_it() -> None:
    with pytest.raises(ValueError, match="gap height: 0 m"):
        gap.gap_velocity_m_s(1.0, 0.0, 5e-3, 1e-3)
    with pytest.raises(ValueError, match="viscosity: 0 Pa·s"):
        gap.gap_velocity_m_s(1.0, 50e-6, 5e-3, 0.0)
    with pytest.raises(ValueError, match="viscosity: 0 Pa·s"):
        gap.imbibition_length_m(1.0, 0.07, 0.0, 0.0, 50e-6, 0.0)
    with pytest.raises(ValueError, match="pressure: -1 Pa"):
        gap.gap_exchange_m_s(-1.0, STATE)
    with pytest.raises(ValueError, match=r"surface tension: -0\.07 N/m"):
        gap.capillary_pressure_Pa(-0.07, 0.0, 0.0, 50e-6)
    with pytest.raises(ValueError, match="x_star: 0"):
        gap.sherwood_mean(0.0, 1)
    with pytest.raises(ValueError, match="active_walls must be 1 or 2; got 3"):
        gap.sherwood_mean(0.1, 3)
    with pytest.raises(ValueError, match="active_walls must be 1 or 2; got 0"):
        gap.gap_exchange_m_s(1.0, STATE, 0)


def test_one_dissolving_wall_is_assumed_unless_two_are_named() -> None:
    # k_eff = Q'/(nL)·(1 − exp(−n·k·L/Q')): with k·L/Q' = 1 and one wall Q'/L·(1 − 1/e).
    exchange = gap.effective_exchange_m_s(2e-6, 1e-8, 5e-3)
    assert exchange == pytest.approx(2e-6 * (1.0 - np.exp(-1.0)), rel=1e-12)
    assert gap.effective_exchange_m_s(2e-6, 1e-8, 5e-3, 2) == pytest.approx(1e-6 * (1.0 - np.exp(-2.0)), rel=1e-12)
