"""Gap drying: geometry against a finite-difference solution, scaling, limits."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import diags_array, eye_array, kron
from scipy.sparse.linalg import spsolve

from model.drying_fluid import water_for_drying
from model.gap_drying import (
    gap_drying_time_s,
    gap_progress_needed_m2,
    gap_rate_m2_s,
    gap_wet_share,
    stefan_flux_mol_m2_s,
)

WATER = water_for_drying()


def grid_peak(length: float, width: float, closed_side: bool = False, cells: int = 81) -> float:
    """Largest ψ of ∇²ψ = −1 on a rectangle by finite differences; the side y = 0 may be closed."""
    step_x, step_y = length / (cells + 1), width / (cells + 1)
    second = diags_array([np.ones(cells - 1), -2 * np.ones(cells), np.ones(cells - 1)], offsets=[-1, 0, 1]).tolil()
    along_y = second.copy()
    if closed_side:
        along_y[0, 0] = -1.0
    operator = kron(second / step_x**2, eye_array(cells)) + kron(eye_array(cells), along_y / step_y**2)
    return float(np.max(spsolve(operator.tocsr(), -np.ones(cells**2))))


def grid_wet_share(length: float, width: float, progress: float, cells: int = 61) -> float:
    """Wet share from the obstacle problem ∇²u = 1, u ≥ 0, u = progress on the edges, by projected relaxation."""
    step_x, step_y = length / (cells + 1), width / (cells + 1)
    weight_x, weight_y = 1 / step_x**2, 1 / step_y**2
    field = np.zeros((cells + 2, cells + 2))
    field[[0, -1], :] = progress
    field[:, [0, -1]] = progress
    inner = np.add.outer(np.arange(cells), np.arange(cells)) % 2
    for _ in range(1500):
        for colour in (0, 1):
            target = (
                weight_x * (field[2:, 1:-1] + field[:-2, 1:-1]) + weight_y * (field[1:-1, 2:] + field[1:-1, :-2]) - 1.0
            ) / (2 * (weight_x + weight_y))
            relaxed = np.maximum(field[1:-1, 1:-1] + 1.9 * (target - field[1:-1, 1:-1]), 0.0)
            field[1:-1, 1:-1] = np.where(inner == colour, relaxed, field[1:-1, 1:-1])
    return float(np.mean(field[1:-1, 1:-1] <= 0.0)) * cells**2 / (cells + 1) ** 2


@pytest.mark.parametrize(("length", "width"), [(1.0, 1.0), (1.0, 2.0), (3.0, 1.0)])
def test_four_open_sides_match_a_finite_difference_solution(length: float, width: float) -> None:
    # 1e-3: second-order grid of 81 cells.
    assert gap_progress_needed_m2(length, width, 4.0) == pytest.approx(grid_peak(length, width), rel=1e-3)


@pytest.mark.parametrize(("length", "width"), [(1.0, 1.0), (2.0, 1.0)])
def test_three_open_sides_match_a_finite_difference_solution(length: float, width: float) -> None:
    # 2 %: the closed side of the grid lies half a cell off.
    assert gap_progress_needed_m2(length, width, 3.0) == pytest.approx(grid_peak(length, width, True), rel=0.02)


@pytest.mark.parametrize("ratio", [1.0, 2.0, 4.0])
@pytest.mark.parametrize("done", [0.1, 0.4, 0.8])
def test_wet_share_of_a_rectangle_is_near_the_obstacle_problem(ratio: float, done: float) -> None:
    progress = done * float(gap_progress_needed_m2(1.0, ratio, 4.0))
    assert gap_wet_share(progress, 1.0, ratio, 4.0) == pytest.approx(grid_wet_share(1.0, ratio, progress), abs=0.06)


def test_fewer_open_sides_take_longer() -> None:
    needed = gap_progress_needed_m2(1.0, 1.0, np.array([4.0, 3.0, 2.0, 1.0]))
    assert np.all(np.diff(needed) > 0.0)
    assert needed[3] == pytest.approx(4.0 * needed[2], rel=1e-12)


def test_a_very_long_body_dries_like_a_slot() -> None:
    assert gap_progress_needed_m2(1.0, 1000.0, 4.0) == pytest.approx(1 / 8, rel=1e-9)


@settings(deadline=None, max_examples=50)
@given(st.floats(1e-3, 2e-2), st.floats(1e-3, 2e-2), st.sampled_from([1.0, 2.0, 3.0, 4.0]), st.floats(1.1, 4.0))
def test_gap_time_grows_with_the_square_of_size(length: float, width: float, sides: float, factor: float) -> None:
    base = gap_progress_needed_m2(length, width, sides)
    scaled = gap_progress_needed_m2(length * factor, width * factor, sides)
    assert scaled == pytest.approx(base * factor**2, rel=1e-9)


@settings(deadline=None, max_examples=50)
@given(st.floats(280.0, 385.0), st.floats(0.5, 20.0))
def test_hotter_gap_never_takes_longer(temperature: float, rise: float) -> None:
    assert gap_rate_m2_s(WATER, temperature + rise, 800.0) >= gap_rate_m2_s(WATER, temperature, 800.0)


def test_wet_share_runs_from_wet_to_dry_without_rising() -> None:
    progress = np.linspace(0.0, 0.2, 401)
    for sides in (1.0, 2.0, 3.0, 4.0):
        share = np.asarray(gap_wet_share(progress, 1.0, 1.0, sides))
        assert share[0] == pytest.approx(1.0, abs=1e-7)
        assert np.all(np.diff(share) <= 1e-12)
    assert gap_wet_share(0.2, 1.0, 1.0, 4.0) == 0.0


@pytest.mark.parametrize(("width", "sides", "open_edge"), [(4.0, 4.0, 10.0), (8.0, 3.0, 10.0), (6.0, 4.0, 14.0)])
def test_at_first_every_open_edge_gives_back_the_depth_that_a_flat_meniscus_would(
    width: float, sides: float, open_edge: float
) -> None:
    # A flat meniscus has retreated √(2·progress); a long body gives that back along all of its open edge.
    progress = 1e-7
    lost = 1.0 - float(gap_wet_share(progress, 1.0, width, sides))
    assert lost == pytest.approx(open_edge / width * (2.0 * progress) ** 0.5, rel=0.01)


def test_saturated_air_never_dries_a_gap() -> None:
    time = gap_drying_time_s(
        WATER,
        body_length_m=5e-3,
        body_width_m=5e-3,
        open_sides=4.0,
        temperature_K=300.0,
        outside_vapour_pressure_Pa=4e3,
    )
    assert time == np.inf


def test_stefan_flux_counts_the_vapour_outside() -> None:
    # N = D·p/(R·T·z)·ln((p − p_out)/(p − p_meniscus)), as in Geankoplis, Example 6.2-2, with vapour outside.
    expected = 2.5e-5 * 1e5 / (8.314462618 * 300.0 * 0.1) * np.log((1e5 - 1500.0) / (1e5 - 3500.0))
    assert stefan_flux_mol_m2_s(2.5e-5, 0.1, 300.0, 3500.0, 1500.0, 1e5) == pytest.approx(expected, rel=1e-9)
    assert stefan_flux_mol_m2_s(2.5e-5, 0.1, 300.0, 1500.0, 3500.0, 1e5) == pytest.approx(-expected, rel=1e-9)


@pytest.mark.parametrize(("inner", "outer"), [(1e5, 0.0), (0.0, 1e5), (1.1e5, 0.0), (0.0, 1.1e5)])
def test_vapour_at_the_total_pressure_is_boiling_not_diffusion(inner: float, outer: float) -> None:
    sentence = (
        "vapour pressure: it reaches the total pressure, so the liquid boils and diffusion does not describe it. "
        "Give a temperature below boiling."
    )
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        stefan_flux_mol_m2_s(2.5e-5, 0.1, 300.0, inner, outer, 1e5)


def test_vapour_outside_above_the_total_pressure_dries_nothing() -> None:
    assert gap_rate_m2_s(WATER, 370.0, 1.5e5, 1e5) == 0.0


def test_a_body_of_millimetres_open_on_three_sides_or_one_is_its_mirror_image_of_double_size() -> None:
    # A closed long side mirrors the short dimension; a slot closed at one end is half of one open at both.
    three = gap_progress_needed_m2(4e-3, 7e-3, 3.0)
    assert three == pytest.approx(gap_progress_needed_m2(8e-3, 7e-3, 4.0), rel=1e-12)
    assert gap_progress_needed_m2(4e-3, 7e-3, 1.0) == pytest.approx((8e-3) ** 2 / 8.0, rel=1e-12)


def test_gap_time_is_the_progress_needed_over_the_rate_at_the_pressure_given() -> None:
    gap = {"body_length_m": 4e-3, "body_width_m": 7e-3, "open_sides": 4.0}
    air = {"temperature_K": 330.0, "outside_vapour_pressure_Pa": 900.0, "pressure_Pa": 7e4}
    time = gap_drying_time_s(WATER, **gap, **air)
    assert time == pytest.approx(gap_progress_needed_m2(4e-3, 7e-3, 4.0) / gap_rate_m2_s(WATER, 330.0, 900.0, 7e4))
    # Diffusivity grows as 1/p, so thinner air dries faster.
    assert time < gap_drying_time_s(WATER, **gap, **(air | {"pressure_Pa": 1e5}))


@pytest.mark.parametrize("sides", [1, 2, 3, 4])
def test_a_gap_that_has_not_begun_to_dry_is_wholly_wet(sides: int) -> None:
    assert gap_wet_share(0.0, 4e-3, 7e-3, sides) == 1.0


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: stefan_flux_mol_m2_s(1e-5, 0.1, 400.0, 2e5, 0.0), "the liquid boils"),
        (lambda: stefan_flux_mol_m2_s(1e-5, 0.0, 300.0, 1e3, 0.0), "length"),
        (lambda: gap_progress_needed_m2(1.0, 1.0, 2.5), r"^open sides: must be 1, 2, 3 or 4\.$"),
        (lambda: gap_progress_needed_m2(0.0, 1.0, 2.0), "body length"),
        (lambda: gap_wet_share(-1.0, 1.0, 1.0, 2.0), "progress"),
    ],
)
def test_wrong_input_is_refused_by_name(call, message) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=message):
        call()
