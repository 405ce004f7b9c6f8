"""A quantity on a full grid of two others, read between its points along straight lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from converter_match.curves import FloatArray


def bilinear(
    x: FloatArray, y: FloatArray, values: FloatArray, at_x: ArrayLike, at_y: ArrayLike
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return the values at points, and whether each lies inside the grid; the points broadcast.

    Beyond the edge the edge's value stands.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Rising, n >= 2.
    y : ndarray, shape (m,)
        Rising, m >= 2.
    values : ndarray, shape (n, m)
    at_x, at_y : array_like
        Where it is asked for, in the units of `x` and `y`.

    Examples
    --------
    >>> grid = np.array([0.0, 1.0])
    >>> value, inside = bilinear(grid, grid, np.array([[0.0, 1.0], [2.0, 3.0]]), 0.5, [0.5, 2.0])
    >>> value.tolist(), inside.tolist()
    ([1.5, 2.0], [True, False])
    """
    a, b = np.broadcast_arrays(np.asarray(at_x, float), np.asarray(at_y, float))
    inside = (a >= x[0]) & (a <= x[-1]) & (b >= y[0]) & (b <= y[-1])
    i, s = _cell(x, a)
    j, t = _cell(y, b)
    low = values[i, j] + t * (values[i, j + 1] - values[i, j])
    high = values[i + 1, j] + t * (values[i + 1, j + 1] - values[i + 1, j])
    return low + s * (high - low), inside


def _cell(grid: FloatArray, value: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
    row = np.clip(grid.searchsorted(value, side="right") - 1, 0, grid.size - 2)
    return row, np.clip((value - grid[row]) / (grid[row + 1] - grid[row]), 0.0, 1.0)
