"""Windows laid over a grid: where they cover no marked cell, how many they cover."""

from __future__ import annotations

from math import cos, radians, sin

import numba
import numpy as np
from numpy.typing import NDArray

__all__ = ["clear_windows", "row_runs", "row_sums", "window_counts"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Integers = NDArray[np.int64]

_STRICTLY_M = 1e-6  # a sample this near the rim of a window is not strictly inside


def row_runs(
    length_m: float, width_m: float, rotation_deg: float, cell_m: float
) -> NDArray[np.int64]:
    """Cells whose centres lie strictly inside a turned rectangle about a cell's centre.

    Parameters
    ----------
    length_m, width_m : float
        Sides, m.
    rotation_deg : float
        Of the length, counter-clockwise from east.
    cell_m : float
        Size of the square cells, m.

    Returns
    -------
    ndarray of int64, shape (n, 3)
        Row offset (southward), first and last column offset of each run.

    Examples
    --------
    >>> row_runs(1.2, 0.4, 0.0, 0.25).tolist()
    [[0, -2, 2]]
    """
    reach = int(np.ceil(np.hypot(length_m, width_m) / 2.0 / cell_m)) + 1
    offsets = np.arange(-reach, reach + 1)
    east, south = np.meshgrid(offsets * cell_m, offsets * cell_m)
    c, s = cos(radians(rotation_deg)), sin(radians(rotation_deg))
    along, across = np.abs(east * c - south * s), np.abs(-east * s - south * c)
    inside = (along < length_m / 2.0 - _STRICTLY_M) & (across < width_m / 2.0 - _STRICTLY_M)
    runs = [
        (int(offsets[i]), int(offsets[row][0]), int(offsets[row][-1]))
        for i, row in enumerate(inside)
        if row.any()
    ]
    return np.array(runs, dtype=np.int64).reshape(-1, 3)


def row_sums(marked: Bools) -> Integers:
    """Prefix sums of marked cells along each row, shape (rows, columns + 1)."""
    sums = np.zeros((marked.shape[0], marked.shape[1] + 1), dtype=np.int64)
    np.cumsum(marked, axis=1, out=sums[:, 1:])
    return sums


@numba.njit(cache=True, nogil=True)
def clear_windows(
    sums: Integers, distance_m: Floats, runs: Integers, inner_m: float, outer_m: float
) -> Bools:
    """Cells about which a window covers no marked cell.

    Parameters
    ----------
    sums : ndarray of int64, shape (rows, columns + 1)
        `row_sums` of the marked cells. What lies off the grid counts as marked.
    distance_m : ndarray, shape (rows, columns)
        From each cell's centre to the nearest marked centre, off the grid included, m.
    runs : ndarray of int64, shape (n, 3)
        `row_runs` of the window.
    inner_m, outer_m : float
        Radii of a circle inside the window and of one round it, m: they answer most cells.

    Returns
    -------
    ndarray of bool, shape (rows, columns)
        True where all cells of the window are on the grid and unmarked.
    """
    rows, columns = distance_m.shape
    clear = np.zeros((rows, columns), np.bool_)
    for row in range(rows):
        for column in range(columns):
            if distance_m[row, column] < inner_m - _STRICTLY_M:
                continue
            clear[row, column] = distance_m[row, column] > outer_m or _is_clear(
                sums, runs, row, column
            )
    return clear


@numba.njit(cache=True, nogil=True)
def _is_clear(sums: Integers, runs: Integers, row: int, column: int) -> bool:
    rows, columns = sums.shape[0], sums.shape[1] - 1
    for k in range(runs.shape[0]):
        r = row + runs[k, 0]
        first, last = column + runs[k, 1], column + runs[k, 2]
        if r < 0 or r >= rows or first < 0 or last >= columns:
            return False
        if sums[r, last + 1] != sums[r, first]:
            return False
    return True


@numba.njit(cache=True, nogil=True)
def window_counts(sums: Integers, runs: Integers) -> Integers:
    """Marked cells that a window covers about each cell; none lie off the grid.

    Parameters
    ----------
    sums : ndarray of int64, shape (rows, columns + 1)
        `row_sums` of the marked cells.
    runs : ndarray of int64, shape (n, 3)
        Row offset, first and last column offset of each run of the window.

    Returns
    -------
    ndarray of int64, shape (rows, columns)
        Counts.
    """
    rows, columns = sums.shape[0], sums.shape[1] - 1
    counts = np.zeros((rows, columns), np.int64)
    for row in range(rows):
        for k in range(runs.shape[0]):
            r = row + runs[k, 0]
            if r < 0 or r >= rows:
                continue
            for column in range(columns):
                first = min(max(column + runs[k, 1], 0), columns)
                end = min(max(column + runs[k, 2] + 1, 0), columns)
                counts[row, column] += sums[r, end] - sums[r, first]
    return counts
