"""Rinsing: carry-over, batch and counterflow rinses, resin loop; mass closes in all of them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.ionic import resistivity_ohm_m, salt_concentration_kg_m3
from model.rinse import CarryOver, batch_rinse, carry_over, gap_exchange_share, rinse_until_resistivity, rinses_needed
from model.rinse_supply import (
    closed_loop_time_s,
    counterflow_dilution,
    counterflow_flow_ratio,
    counterflow_rinse,
    resin_volume_m3,
)

LOAD = CarryOver(open_m3=1.2e-5, gap_m3=2e-8, area_m2=0.12)
VOLUMES = st.floats(1e-6, 1e-2)
SHARES = st.floats(0.0, 1.0)


def closes(result) -> bool:  # type: ignore[no-untyped-def]
    gap = np.abs(result.residue_in_kg - result.residue_out_kg - result.residue_left_kg)
    return bool(np.all(gap <= 1e-9 * np.maximum(result.residue_in_kg, 1e-30)))


@settings(deadline=None, max_examples=50)
@given(VOLUMES, st.floats(0.0, 1e-5), VOLUMES, SHARES, st.integers(0, 12), st.floats(0.0, 0.1))
def test_batch_rinse_mass_closes(
    open_m3: float, gap_m3: float, rinse: float, share: float, count: int, feed: float
) -> None:
    load = CarryOver(open_m3=open_m3, gap_m3=gap_m3, area_m2=0.1)
    assert closes(batch_rinse(load, 2.0, count, rinse, share, feed))


@settings(deadline=None, max_examples=50)
@given(VOLUMES, st.floats(0.0, 1e-5), st.floats(0.0, 1e-2), SHARES, st.integers(1, 6), st.floats(0.0, 0.1))
def test_counterflow_mass_closes(
    open_m3: float, gap_m3: float, rinse: float, share: float, stages: int, feed: float
) -> None:
    load = CarryOver(open_m3=open_m3, gap_m3=gap_m3, area_m2=0.1)
    assert closes(counterflow_rinse(load, 2.0, stages, rinse, share, feed))


def test_batch_without_gap_is_the_power_of_one_dilution() -> None:
    load = CarryOver(open_m3=1e-5, gap_m3=0.0, area_m2=0.1)
    result = batch_rinse(load, 3.0, np.array([0.0, 1.0, 2.0, 5.0]), 9e-5, 1.0)
    assert result.residue_left_kg == pytest.approx(3e-5 * 0.1 ** np.array([0.0, 1.0, 2.0, 5.0]), rel=1e-12)


def test_counterflow_without_gap_is_the_series() -> None:
    load = CarryOver(open_m3=1e-5, gap_m3=0.0, area_m2=0.1)
    for stages in (1, 2, 3, 4):
        result = counterflow_rinse(load, 1.0, stages, 5e-5, 0.3)
        assert result.residue_left_kg == pytest.approx(1e-5 / counterflow_dilution(5.0, stages), rel=1e-12)


def test_a_gap_that_does_not_exchange_keeps_all_its_residue() -> None:
    result = batch_rinse(LOAD, 5.0, 10, 1e-2, 0.0)
    assert result.gap_residue_left_kg == pytest.approx(5.0 * LOAD.gap_m3, rel=1e-12)
    assert counterflow_rinse(LOAD, 5.0, 4, 1e-2, 0.0).gap_residue_left_kg == pytest.approx(5.0 * LOAD.gap_m3, rel=1e-12)


def test_the_probe_is_content_while_the_gap_is_still_dirty() -> None:
    result = rinse_until_resistivity(LOAD, 5.0, 1e4, 5e-3, 0.01)
    assert result.last_rinse_resistivity_ohm_m >= 1e4
    assert result.gap_residue_left_kg > 0.9 * 5.0 * LOAD.gap_m3
    assert closes(result)


def test_rinse_until_resistivity_stops_each_draw_on_its_own() -> None:
    result = rinse_until_resistivity(LOAD, np.array([0.01, 50.0]), 1e4, 5e-3, 1.0)
    assert result.rinses[0] < result.rinses[1]
    assert np.all(result.last_rinse_resistivity_ohm_m >= 1e4)


def test_a_machine_that_cannot_reach_the_set_point_gives_up() -> None:
    result = rinse_until_resistivity(LOAD, 5.0, 1e4, 5e-3, 1.0, feed_concentration_kg_m3=1e-2, most_rinses=7)
    assert result.rinses == 7
    assert result.last_rinse_resistivity_ohm_m < 1e4


@settings(deadline=None, max_examples=50)
@given(st.floats(1e-8, 1e-3), st.floats(1e-4, 1e-2), st.floats(0.05, 1.0))
def test_rinses_needed_is_the_first_count_that_meets_the_limit(limit: float, rinse: float, share: float) -> None:
    needed = rinses_needed(LOAD, 5.0, limit, rinse, share)
    if np.isfinite(needed):
        assert batch_rinse(LOAD, 5.0, needed, rinse, share).residue_left_kg_m2 <= limit
        if needed > 0:
            assert batch_rinse(LOAD, 5.0, needed - 1, rinse, share).residue_left_kg_m2 > limit


@settings(deadline=None, max_examples=50)
@given(st.floats(1e-4, 5e-3), st.floats(1.1, 4.0), SHARES)
def test_more_water_per_rinse_never_leaves_more(rinse: float, factor: float, share: float) -> None:
    less = batch_rinse(LOAD, 5.0, 3, rinse, share).residue_left_kg
    assert batch_rinse(LOAD, 5.0, 3, rinse * factor, share).residue_left_kg <= less * (1 + 1e-12)


def test_feed_water_dirtier_than_the_limit_needs_infinitely_many_rinses() -> None:
    limit = 1e-6
    feed = 2.0 * limit * LOAD.area_m2 / (LOAD.open_m3 + LOAD.gap_m3)
    needed = rinses_needed(LOAD, 500.0, limit, 1e-2, 1.0, np.array([0.0, feed]))
    assert np.isfinite(needed[0])
    assert np.isinf(needed[1])


def test_gap_exchange_goes_from_nothing_to_everything() -> None:
    share = gap_exchange_share(np.array([0.0, 60.0, 1e6]), 50e-6, 3e-3, 1.5e-9, 0.0)
    assert share[0] == 0.0
    assert share[2] == pytest.approx(1.0, abs=1e-6)


def test_fast_flow_is_held_up_by_diffusion_across_the_gap() -> None:
    # Transit is then nothing and τ = h²/(π²D) = .169 s; diffusion along the path is negligible in a tenth of a second.
    share = gap_exchange_share(0.1, 50e-6, 3e-3, 1.5e-9, 1e4)
    assert share == pytest.approx(1.0 - np.exp(-0.1 * np.pi**2 * 1.5e-9 / (50e-6) ** 2), rel=0.02)


@settings(deadline=None, max_examples=50)
@given(st.floats(0.0, 0.2), st.floats(1.0, 100.0), st.floats(1.0, 5.0))
def test_faster_flow_and_longer_rinse_exchange_more(velocity: float, time: float, factor: float) -> None:
    base = gap_exchange_share(time, 50e-6, 3e-3, 1.5e-9, velocity)
    assert gap_exchange_share(time, 50e-6, 3e-3, 1.5e-9, velocity * factor) >= base - 1e-12
    assert gap_exchange_share(time * factor, 50e-6, 3e-3, 1.5e-9, velocity) >= base - 1e-12


@settings(deadline=None, max_examples=50)
@given(st.floats(1.0, 1e6), st.integers(1, 6))
def test_flow_ratio_is_the_inverse_of_the_series(dilution: float, stages: int) -> None:
    ratio = counterflow_flow_ratio(dilution, stages)
    assert counterflow_dilution(ratio, stages) == pytest.approx(dilution, rel=1e-9)


def test_infinite_dilution_needs_infinite_flow_and_no_dilution_none() -> None:
    assert counterflow_flow_ratio(np.array([1.0, np.inf]), 2) == pytest.approx([0.0, np.inf], abs=1e-12)


def test_closed_loop_time_follows_the_washout_of_a_mixed_tank() -> None:
    behind, wanted = float(salt_concentration_kg_m3(1.5e5)), float(salt_concentration_kg_m3(5e4))
    time = closed_loop_time_s(1e-2, 5e4, 0.02, 1e-4, 1.5e5)
    assert behind + (1e-2 - behind) * np.exp(-time * 1e-4 / 0.02) == pytest.approx(wanted, rel=1e-9)


def test_closed_loop_never_reaches_what_its_resin_does_not_give() -> None:
    times = closed_loop_time_s(np.array([1e-2, 1e-2, 0.0]), 1.5e5, 0.02, np.array([1e-4, 0.0, 0.0]), 1e5)
    assert list(times) == [np.inf, np.inf, 0.0]


def test_half_the_usable_resin_needs_twice_the_volume() -> None:
    assert resin_volume_m3(1e-4, 500.0, 0.5) == pytest.approx(2.0 * resin_volume_m3(1e-4, 500.0), rel=1e-12)


def test_carry_over_adds_film_rack_and_gap() -> None:
    load = carry_over(np.array([0.1, 0.2]), 80e-6, 1e-7, 2e-6)
    assert load.open_m3 == pytest.approx([10e-6, 18e-6])
    assert load.gap_m3 == 1e-7


def test_one_stage_of_counterflow_is_its_own_mass_balance() -> None:
    # V_c·C0 + V_r·C_f = (V_c + V_r)·C1 without gaps: 1e-5·2 + 9e-5·0.1 = 1e-4·C1, so C1 = 0.29.
    result = counterflow_rinse(CarryOver(open_m3=1e-5, gap_m3=0.0, area_m2=0.1), 2.0, 1, 9e-5, 0.5, 0.1)
    assert result.rinses == 1.0
    assert result.residue_left_kg == pytest.approx(2.9e-6, rel=1e-12)
    assert result.residue_left_kg_m2 == pytest.approx(2.9e-5, rel=1e-12)
    assert result.last_rinse_resistivity_ohm_m == pytest.approx(float(resistivity_ohm_m(0.29)), rel=1e-12)
    assert result.water_m3 == result.drain_m3 == 9e-5
    gaps = counterflow_rinse(CarryOver(open_m3=1e-5, gap_m3=1e-6, area_m2=0.1), 2.0, 1, 9e-5, 0.0, 0.1)
    assert gaps.residue_left_kg_m2 == pytest.approx(2.9e-5 + 2.0 * 1e-6 / 0.1, rel=1e-12)


def test_a_loop_without_flow_or_with_resin_at_the_set_point_never_gets_there_unless_it_is_there() -> None:
    assert closed_loop_time_s(1e-2, 1e4, 0.1, 0.0, 1e5) == np.inf
    assert closed_loop_time_s(1e-2, 1e4, 0.1, 1e-4, 1e4) == np.inf
    there = float(salt_concentration_kg_m3(1e4))
    assert closed_loop_time_s(there, 1e4, 0.1, 1e-4, 1e5) == 0.0
    assert closed_loop_time_s(there, 1e4, 0.1, 0.0, 1e4) == 0.0


def test_one_fill_mixes_all_three_waters_and_the_gap_goes_its_share_of_the_way() -> None:
    # 10 mL and 2 mL at 6 g/L into 88 mL at 1 g/L: mixed (0.012·6 + 0.088·1)/0.1 = 1.6 g/L. The gap goes half of the
    # way from 6 to 1.6 g/L, to 3.8; the bulk holds the rest, (160 − 7.6) mg in 98 mL.
    load = CarryOver(open_m3=1e-5, gap_m3=2e-6, area_m2=0.1)
    result = batch_rinse(load, 6.0, 1, 8.8e-5, 0.5, 1.0)
    bulk = (160e-6 - 7.6e-6) / 98e-6
    assert result.gap_residue_left_kg == pytest.approx(7.6e-6, rel=1e-12)
    assert result.residue_left_kg == pytest.approx(7.6e-6 + 1e-5 * bulk, rel=1e-12)
    assert result.residue_left_kg_m2 == pytest.approx((7.6e-6 + 1e-5 * bulk) / 0.1, rel=1e-12)
    assert result.residue_out_kg == pytest.approx(8.8e-5 * bulk, rel=1e-12)
    assert result.last_rinse_resistivity_ohm_m == pytest.approx(float(resistivity_ohm_m(bulk)), rel=1e-12)


def test_fifty_rinses_are_tried_and_no_more_and_the_limit_itself_is_met() -> None:
    # Each fill of 10 mL halves 10 mL: powers of two are exact.
    load = CarryOver(open_m3=1e-5, gap_m3=0.0, area_m2=1.0)
    for count in (1, 48, 49, 50):
        assert rinses_needed(load, 1.0, 1e-5 * 0.5**count, 1e-5, 1.0) == count
    assert rinses_needed(load, 1.0, 1e-5 * 0.5**51, 1e-5, 1.0) == np.inf
    assert rinse_until_resistivity(load, 1e15, 1.8e5, 1e-5, 1.0).rinses == 50.0


def test_residue_under_components_counts_against_the_limit() -> None:
    # After 3 fills 1/1000 of the open water's 10 mg/m² is left beside 5 mg/m² in a gap that does not exchange.
    load = CarryOver(open_m3=1e-5, gap_m3=5e-6, area_m2=1.0)
    assert rinses_needed(load, 1.0, 5.02e-6, 9e-5, 0.0) == 3.0
    assert rinses_needed(load, 1.0, 4.99e-6, 9e-5, 0.0) == np.inf


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: carry_over(0.0, 1e-5, 0.0, 0.0), "board area"),
        (lambda: carry_over(1.0, -1e-5, 0.0, 0.0), "drag-out"),
        (lambda: batch_rinse(LOAD, 1.0, 1.5, 1e-3, 1.0), "not a whole number"),
        (lambda: batch_rinse(LOAD, 1.0, 1, 0.0, 1.0), "rinse volume"),
        (lambda: batch_rinse(LOAD, 1.0, 1, 1e-3, 1.2), "exchange share"),
        (lambda: rinses_needed(LOAD, 1.0, 0.0, 1e-3, 1.0), "residue limit"),
        (lambda: rinse_until_resistivity(LOAD, 1.0, 1e4, 1e-3, 1.0, most_rinses=0), "most_rinses"),
        (lambda: rinse_until_resistivity(LOAD, 1.0, 0.0, 1e-3, 1.0), "set point"),
        (lambda: gap_exchange_share(1.0, 0.0, 1e-3, 1e-9, 0.0), "gap"),
        (lambda: counterflow_dilution(-1.0, 2), "flow ratio"),
        (lambda: counterflow_flow_ratio(0.5, 2), "dilution"),
        (lambda: counterflow_flow_ratio(10.0, 0), "at least one rinse stage"),
        (lambda: counterflow_rinse(CarryOver(open_m3=0.0, gap_m3=0.0, area_m2=1.0), 1.0, 2, 0.0, 1.0),
         r"^counterflow rinse: carry-over and rinse volume are both 0\. Give one of them above 0\.$"),
        (lambda: resin_volume_m3(1.0, 0.0), "resin capacity"),
        (lambda: resin_volume_m3(1.0, 1.0, 0.0), r"^usable share: 0 is not allowed\. Give a finite value above 0\.$"),
        (lambda: closed_loop_time_s(1.0, 1e4, 0.0, 1.0, 1e5), "loop volume"),
    ],
)
def test_wrong_input_is_refused_by_name(call, message) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=message):
        call()
