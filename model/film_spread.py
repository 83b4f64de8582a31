"""Spreading the run-out film of streams over the cells of a board side, turned back at the board's edge."""

from __future__ import annotations

from functools import lru_cache
from math import ceil, hypot, prod

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_MATRIX_CELLS = 400
"""Sides of up to so many cells are spread by one matrix, from every cell to every cell; for more it grows too large."""


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
    film : ndarray (classes, ..., cells along, cells across)
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
    rows, columns = film.shape[-2:]
    from_row, from_column = _mirrored(rows, kernel.shape[0] // 2), _mirrored(columns, kernel.shape[1] // 2)
    if rows * columns <= _MATRIX_CELLS:
        matrix = from_row.reshape(-1, rows**2).T @ (kernel @ from_column.reshape(-1, columns**2))
        matrix = matrix.reshape(rows, rows, columns, columns).transpose(0, 2, 1, 3).reshape(rows * columns, -1)
        # One product a class: larger ones are shared out among threads, which takes longer than the product itself.
        by_class = film.reshape(len(film), prod(film.shape[1:-2]), rows * columns)
        return np.asarray(by_class @ matrix, dtype=np.float32).reshape(film.shape)
    spread = np.zeros(film.shape)
    for shift, shares in zip(from_row, kernel, strict=True):
        spread += shift.T @ (film @ np.tensordot(shares, from_column, axes=1))
    return spread.astype(np.float32)


def _mirrored(size: int, reach: int) -> FloatArray:
    """Where film of each cell of a row goes at shifts from −reach to reach, shape (shifts, from, to), 0 or 1."""
    to = (np.arange(size) + np.arange(-reach, reach + 1)[:, None]) % (2 * size)
    back = np.minimum(to, 2 * size - 1 - to)
    return np.asarray(back[:, :, None] == np.arange(size), dtype=np.float64)


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
