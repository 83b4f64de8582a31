"""Spreading the run-out film of streams over the cells of a board side, turned back at the board's edge."""

from __future__ import annotations

from functools import lru_cache
from math import ceil, hypot

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import convolve

FloatArray = NDArray[np.float64]

_DIRECT_CELLS = 400
"""Kernels up to so many cells are summed directly; larger ones are faster through the Fourier transform."""


def reach_on_board_m(
    run_out_m: float, cell_shape: tuple[int, int, int, int], cell_size_m: tuple[float, float]
) -> float:
    """Limit a film run-out to the diagonal of the board.

    Parameters
    ----------
    run_out_m : float
        Run-out beyond the footprint, m.
    cell_shape : tuple
        Boards, sides, cells along, cells across.
    cell_size_m : tuple
        Cell along and across, m.

    Returns
    -------
    float
        m

    Notes
    -----
    A disc of that radius around any place covers the whole board: film that would run farther adds nothing.

    >>> reach_on_board_m(1e30, (1, 1, 3, 4), (1.0, 1.0))
    5.0
    """
    return min(run_out_m, hypot(cell_shape[2] * cell_size_m[0], cell_shape[3] * cell_size_m[1]))


def spread_film(film: NDArray[np.float32], reach_m: float, cell_size_m: tuple[float, float]) -> NDArray[np.float32]:
    """Spread what each cell holds over the cells of the same board side within reach; the total is kept.

    Parameters
    ----------
    film : ndarray (boards, sides, cells along, cells across, classes)
        Zones per cell.
    reach_m : float
        Radius of the film disc, m, from `reach_on_board_m`.
    cell_size_m : tuple
        Cell along and across, m.

    Returns
    -------
    ndarray
        Same shape.

    Notes
    -----
    Film that comes to the board's edge is turned back, not shed: the field is mirrored at its edges.
    """
    kernel = _disc_kernel(reach_m / cell_size_m[0], reach_m / cell_size_m[1])
    if kernel.size <= _DIRECT_CELLS:
        return np.asarray(convolve(film, kernel[None, None, :, :, None], mode="reflect"), dtype=np.float32)
    # Seldom needed, and a third of a second to load.
    from scipy.signal import fftconvolve

    margin = (kernel.shape[0] // 2, kernel.shape[1] // 2)
    spread = np.empty_like(film)
    # One class at a time: all at once would take hundreds of megabytes.
    for number in range(film.shape[-1]):
        wide = np.pad(film[..., number], ((0, 0), (0, 0), (margin[0],) * 2, (margin[1],) * 2), mode="symmetric")
        spread[..., number] = np.maximum(
            fftconvolve(wide.astype(np.float64), kernel[None, None], mode="valid", axes=(2, 3)), 0.0
        )
    return spread


@lru_cache(maxsize=256)
def _disc_kernel(radius_rows: float, radius_columns: float) -> FloatArray:
    """Shares of a film disc, radii in cells, on the cells around the one its centre lies in."""
    grid = (np.arange(32) + 0.5) / 16.0 - 1.0
    across, along = (a[grid[:, None] ** 2 + grid**2 < 1.0] for a in np.meshgrid(grid, grid, indexing="ij"))
    weights = []
    for points, radius in ((across, radius_rows), (along, radius_columns)):
        reach = np.arange(-ceil(radius), ceil(radius) + 1)
        weights.append(np.maximum(0.0, 1.0 - np.abs(points * radius - reach[:, None])))
    kernel = np.asarray(weights[0] @ weights[1].T / across.size, dtype=np.float64)
    kernel.setflags(write=False)
    return kernel
