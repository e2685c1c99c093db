"""Levels at cell centres from a triangulated surface.

In: points and the triangles between them, in cells. Out: levels on the grid. Method: each
triangle is cut into the grid's rows and each row into cells (scan conversion), so that only
cells inside a triangle are touched; inside, the level is that of the plane through the three
corners.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["levels_on_grid"]

_FLAT = 1e-9  # area over longest side squared: no plane can be told from such a triangle
_SLACK = 1e-9  # of a cell: a centre on an edge belongs to the triangles on both its sides
_ROWS_AT_ONCE = 200_000

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def levels_on_grid(
    points: Floats, triangles: NDArray[np.integer], shape: tuple[int, int]
) -> Floats:
    """Interpolate linearly inside triangles, at the crossings of a unit grid.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        Column, row and level; centres of cells have whole columns and rows.
    triangles : ndarray of int, shape (m, 3)
        Indices of corners; they do not overlap.
    shape : tuple of int
        Rows and columns.

    Returns
    -------
    ndarray, shape (rows, cols)
        NaN outside all triangles.

    Examples
    --------
    >>> corners = np.array([[0.0, 0.0, 10.0], [2.0, 0.0, 12.0], [0.0, 2.0, 14.0]])
    >>> levels_on_grid(corners, np.array([[0, 1, 2]]), (3, 3))
    array([[10., 11., 12.],
           [12., 13., nan],
           [14., nan, nan]])
    """
    levels = np.full(shape, np.nan)
    corners = points[triangles]
    gradient, usable = _planes(corners)
    corners, gradient = corners[usable], gradient[usable]
    first = np.maximum(np.ceil(corners[:, :, 1].min(axis=1) - _SLACK), 0.0).astype(np.int64)
    last = np.floor(corners[:, :, 1].max(axis=1) + _SLACK).astype(np.int64)
    count = np.maximum(np.minimum(last, shape[0] - 1) - first + 1, 0)
    batch = np.cumsum(count) // _ROWS_AT_ONCE
    for number in np.unique(batch):
        of = np.flatnonzero(batch == number)
        which, step = _expand(count[of])
        which = of[which]
        _fill_rows(levels, corners[which], gradient[which], first[which] + step)
    return levels


def _planes(corners: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Rise per column and per row, and whether the triangle has an area."""
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    sides = [one, two, two - one]
    longest = np.max([side[:, 0] ** 2 + side[:, 1] ** 2 for side in sides], axis=0)
    usable = np.abs(area) > _FLAT * longest
    safe = np.where(usable, area, 1.0)
    across = (one[:, 2] * two[:, 1] - two[:, 2] * one[:, 1]) / safe
    along = (two[:, 2] * one[:, 0] - one[:, 2] * two[:, 0]) / safe
    return np.column_stack([across, along]), usable


def _expand(count: Ints) -> tuple[Ints, Ints]:
    """Index of each group, repeated ``count`` times, and the place within the group."""
    which = np.repeat(np.arange(count.size), count)
    start = np.cumsum(count) - count
    return which, np.arange(which.size) - start[which]


def _fill_rows(levels: Floats, corners: Floats, gradient: Floats, row: Ints) -> None:
    left, right = _span(corners, row)
    first = np.maximum(np.ceil(left - _SLACK), 0.0).astype(np.int64)
    last = np.minimum(np.floor(right + _SLACK).astype(np.int64), levels.shape[1] - 1)
    which, step = _expand(np.maximum(last - first + 1, 0))
    col, row = first[which] + step, row[which]
    x, y, level = corners[which, 0].T
    levels[row, col] = level + gradient[which, 0] * (col - x) + gradient[which, 1] * (row - y)


def _span(corners: Floats, row: Ints) -> tuple[Floats, Floats]:
    """Where a row enters and leaves each triangle; level sides are met at their ends."""
    left, right = np.full(row.size, np.inf), np.full(row.size, -np.inf)
    for a, b in ((0, 1), (1, 2), (2, 0)):
        rise = corners[:, b, 1] - corners[:, a, 1]
        level = rise == 0.0
        part = (row - corners[:, a, 1]) / np.where(level, 1.0, rise)
        met = ~level & (part >= -_SLACK) & (part <= 1.0 + _SLACK)
        x = corners[:, a, 0] + part * (corners[:, b, 0] - corners[:, a, 0])
        left = np.where(met, np.minimum(left, x), left)
        right = np.where(met, np.maximum(right, x), right)
    empty = left > right
    return np.where(empty, 0.0, left), np.where(empty, -1.0, right)
