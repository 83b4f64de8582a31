"""Film on a board side: the total is kept, it goes where a mirrored convolution puts it, edges turn it back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import convolve

from model.film_spread import _disc_kernel, reach_on_board_m, spread_film

CELL_M = (0.01, 0.008)


def _film(seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).random((2, 3, 2, 9, 12)).astype(np.float32)


@settings(deadline=None, max_examples=50)
@given(reach_m=st.floats(0.0, 0.2))
def test_total_is_kept_and_nothing_is_negative(reach_m: float) -> None:
    film = _film()
    spread = spread_film(film, reach_m, CELL_M)
    assert spread.shape == film.shape
    assert spread.min() >= 0.0
    np.testing.assert_allclose(spread.sum(axis=(3, 4)), film.sum(axis=(3, 4)), rtol=2e-5)


@pytest.mark.parametrize("reach_m", [0.0, 0.003, 0.012, 0.05, 0.13, 0.2])
@pytest.mark.parametrize("cells", [(9, 12), (1, 5), (20, 20), (21, 20), (7, 61)])
def test_film_is_spread_as_scipys_convolution_with_mirrored_edges_does(reach_m: float, cells: tuple[int, int]) -> None:
    film = np.random.default_rng(2).random((3, 2, *cells)).astype(np.float32)
    reach_m = reach_on_board_m(reach_m, (3, 2, *cells), CELL_M)
    kernel = _disc_kernel(reach_m / CELL_M[0], reach_m / CELL_M[1])
    reference = convolve(film.astype(np.float64), kernel[None, None], mode="reflect")
    spread = spread_film(film, reach_m, CELL_M)
    assert spread.dtype == np.float32
    np.testing.assert_allclose(spread, reference, rtol=1e-6)


def test_no_film_at_all_stays_none() -> None:
    for cells in ((8, 8), (30, 30)):
        assert spread_film(np.zeros((0, 2, *cells), dtype=np.float32), 0.01, CELL_M).shape == (0, 2, *cells)


def test_no_reach_leaves_the_film_where_it_is() -> None:
    film = _film(3)
    np.testing.assert_allclose(spread_film(film, 0.0, CELL_M), film, rtol=1e-6)


def test_farther_reach_evens_out() -> None:
    film = _film(4)
    spreads = [float(spread_film(film, reach_m, CELL_M).std(axis=(3, 4)).mean()) for reach_m in (0.0, 0.01, 0.05, 0.15)]
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
