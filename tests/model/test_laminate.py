"""Moisture in the laminate: series, inverse, wash and bake."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.laminate import (
    Laminate,
    bake_suggestion,
    drying_time_s,
    effective_diffusivity_m2_s,
    moisture_after,
    sorbed_share,
    time_for_share,
)

BOARD = Laminate(
    thickness_m=1.6e-3,
    diffusivity_m2_s=5e-12,
    reference_temperature_K=358.15,
    activation_energy_J_mol=43.4e3,
    path_factor=1.0,
)
SOAKED_SHARE = 0.0116
"""Water over dry mass of FR-4 soaked to equilibrium; source with the checks in tests/published."""


@settings(deadline=None, max_examples=50)
@given(st.floats(0.0, 0.999999))
def test_time_for_share_is_the_inverse_of_sorbed_share(share: float) -> None:
    assert sorbed_share(time_for_share(share)) == pytest.approx(share, abs=1e-12)


def test_series_meet_where_they_change_over() -> None:
    below, above = sorbed_share(np.array([0.05 * (1 - 1e-12), 0.05]))
    assert below == pytest.approx(above, abs=1e-9)


def test_early_uptake_grows_with_the_root_of_time() -> None:
    assert sorbed_share(4e-4) == pytest.approx(2.0 * float(sorbed_share(1e-4)), rel=1e-9)


def test_complete_change_takes_for_ever_and_none_takes_no_time() -> None:
    assert list(time_for_share(np.array([0.0, 1.0]))) == [0.0, np.inf]


@settings(deadline=None, max_examples=50)
@given(st.floats(293.0, 400.0), st.floats(1.0, 30.0), st.floats(1.0, 4.0))
def test_hotter_is_faster_and_copper_is_slower(temperature: float, rise: float, factor: float) -> None:
    base = drying_time_s(BOARD, 0.01, 0.001, 0.0, temperature)
    assert drying_time_s(BOARD, 0.01, 0.001, 0.0, temperature + rise) < base
    slower = drying_time_s(replace(BOARD, path_factor=factor), 0.01, 0.001, 0.0, temperature)
    assert slower == pytest.approx(base * factor**2, rel=1e-9)


def test_twice_the_thickness_takes_four_times_as_long() -> None:
    thick = replace(BOARD, thickness_m=3.2e-3)
    assert drying_time_s(thick, 0.01, 0.001, 0.0, 393.15) == pytest.approx(
        4.0 * float(drying_time_s(BOARD, 0.01, 0.001, 0.0, 393.15)), rel=1e-9
    )


def test_diffusivity_is_the_given_one_at_its_own_temperature() -> None:
    assert effective_diffusivity_m2_s(BOARD, 358.15) == pytest.approx(5e-12, rel=1e-12)


def test_ten_minutes_of_wash_wet_the_laminate_little_and_a_day_much_more() -> None:
    after = moisture_after(BOARD, 0.001, SOAKED_SHARE, 333.15, np.array([0.0, 600.0, 86400.0]))
    assert after[0] == pytest.approx(0.001, rel=1e-12)
    assert 0.001 < after[1] < 0.002
    assert 0.003 < after[2] < SOAKED_SHARE


def test_drying_time_ends_at_the_target() -> None:
    time = drying_time_s(BOARD, 0.009, 0.002, 0.0005, 378.15)
    assert moisture_after(BOARD, 0.009, 0.0005, 378.15, time) == pytest.approx(0.002, rel=1e-9)


def test_dry_board_needs_no_time_and_wet_air_never_dries_it() -> None:
    times = drying_time_s(BOARD, np.array([0.001, 0.01]), 0.002, np.array([0.0, 0.003]), 378.15)
    assert list(times) == [0.0, np.inf]


def test_bake_is_capped_at_the_board_limit() -> None:
    free = bake_suggestion(BOARD, 0.01, 0.001, 398.15, 400.0)
    capped = bake_suggestion(BOARD, 0.01, 0.001, 398.15, 363.15)
    assert (free.temperature_K, free.lowered_to_limit) == (398.15, 0.0)
    assert (capped.temperature_K, capped.lowered_to_limit) == (363.15, 1.0)
    assert capped.time_s > 2.0 * free.time_s
    assert capped.moisture_after_share == pytest.approx(0.001, rel=1e-9)


def test_an_endless_bake_ends_at_the_ovens_equilibrium() -> None:
    bake = bake_suggestion(BOARD, 0.01, 0.001, 398.15, 400.0, equilibrium_share=0.002)
    assert bake.time_s == np.inf
    assert bake.moisture_after_share == 0.002


def test_draws_are_computed_all_at_once() -> None:
    many = replace(BOARD, path_factor=np.linspace(1.0, 3.0, 7))
    assert np.shape(bake_suggestion(many, 0.01, 0.001, 398.15, 400.0).time_s) == (7,)


def test_times_of_many_shares_are_those_of_each_alone() -> None:
    shares = np.linspace(0.0, 0.999, 200)
    many = np.asarray(time_for_share(shares))
    np.testing.assert_allclose(many, [time_for_share(float(share)) for share in shares], rtol=1e-12)
    np.testing.assert_allclose(sorbed_share(many), shares, atol=1e-12)


def test_a_board_just_at_its_target_needs_no_time_and_a_bake_just_at_the_limit_is_not_lowered() -> None:
    assert drying_time_s(BOARD, 0.01, 0.01, 0.0, 350.0) == 0.0
    assert drying_time_s(BOARD, 0.01, 0.01, 0.02, 350.0) == 0.0
    assert bake_suggestion(BOARD, 0.01, 0.001, 378.15, 378.15).lowered_to_limit == 0.0


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: sorbed_share(-1.0), "dimensionless time"),
        (lambda: time_for_share(1.1), "share: 1.1"),
        (lambda: effective_diffusivity_m2_s(replace(BOARD, path_factor=0.5), 300.0), "path factor"),
        (lambda: moisture_after(BOARD, -0.1, 0.0, 300.0, 1.0), "moisture"),
        (lambda: drying_time_s(replace(BOARD, thickness_m=0.0), 0.1, 0.01, 0.0, 300.0), "thickness"),
        (lambda: bake_suggestion(BOARD, 0.1, 0.01, 300.0, 0.0), "temperature limit"),
    ],
)
def test_wrong_input_is_refused_by_name(call, message) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=message):
        call()
