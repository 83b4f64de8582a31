"""Film on a board side: the total is kept, large reaches are spread as the direct sum would, edges turn it back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import convolve

from model.film_spread import _disc_kernel, reach_on_board_m, spread_film

CELL_M = (0.01, 0.008)


def _film(seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).random((2, 2, 9, 12, 3)).astype(np.float32)


@settings(deadline=None, max_examples=50)
@given(reach_m=st.floats(0.0, 0.2))
def test_total_is_kept_and_nothing_is_negative(reach_m: float) -> None:
    film = _film()
    spread = spread_film(film, reach_m, CELL_M)
    assert spread.shape == film.shape
    assert spread.min() >= 0.0
    np.testing.assert_allclose(spread.sum(axis=(2, 3)), film.sum(axis=(2, 3)), rtol=2e-5)


@pytest.mark.parametrize("reach_m", [0.1, 0.13, 0.2])
def test_far_reach_gives_what_the_direct_sum_gives(reach_m: float) -> None:
    film = _film(2)
    kernel = _disc_kernel(reach_m / CELL_M[0], reach_m / CELL_M[1])
    assert kernel.size > 400
    direct = convolve(film, kernel[None, None, :, :, None], mode="reflect")
    np.testing.assert_allclose(spread_film(film, reach_m, CELL_M), direct, rtol=1e-4)


def test_no_reach_leaves_the_film_where_it_is() -> None:
    film = _film(3)
    np.testing.assert_allclose(spread_film(film, 0.0, CELL_M), film, rtol=1e-6)


def test_farther_reach_evens_out() -> None:
    film = _film(4)
    spreads = [float(spread_film(film, reach_m, CELL_M).std(axis=(2, 3)).mean()) for reach_m in (0.0, 0.01, 0.05, 0.15)]
    assert spreads == sorted(spreads, reverse=True)


def test_reach_ends_at_the_diagonal_of_the_board() -> None:
    shape = (2, 2, 9, 12)
    assert reach_on_board_m(0.01, shape, CELL_M) == 0.01
    assert reach_on_board_m(1e30, shape, CELL_M) == pytest.approx(np.hypot(0.09, 0.096))


def test_a_film_disc_lies_evenly_on_the_cells_within_its_radius_and_on_no_other() -> None:
    # A disc of radii a, b in cells has area π·a·b: so much of it lies on each cell well within. 5 %: 32 × 32 points.
    kernel = _disc_kernel(6.0, 9.0)
    assert kernel.shape == (13, 19)
    assert kernel.sum() == pytest.approx(1.0, rel=1e-12)
    rows, columns = np.meshgrid(np.arange(-6, 7), np.arange(-9, 10), indexing="ij")
    from_centre = np.hypot(rows / 6.0, columns / 9.0)
    assert kernel[from_centre < 0.7] == pytest.approx(1.0 / (np.pi * 54.0), rel=0.05)
    assert np.all(kernel[from_centre > 1.25] == 0.0)
