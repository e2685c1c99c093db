"""Levels of the ground at points, and the highest spots within reach."""

from __future__ import annotations

from typing import Any, NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import LOOP

__all__ = ["Surface", "highest_between", "level_at", "levels_at"]

Floats = NDArray[np.float64]


class Surface(NamedTuple):
    """Levels on a grid, as the compiled loops take them.

    Attributes
    ----------
    levels_m : ndarray, shape (rows, columns)
        NaN where not known.
    west_m, north_m : float
        Outer corner of the grid.
    cell_width_m, cell_height_m : float
        Size of a cell.
    """

    levels_m: NDArray[Any]
    west_m: float
    north_m: float
    cell_width_m: float
    cell_height_m: float


@numba.njit(**LOOP)
def level_at(surface: Surface, x: float, y: float) -> float:
    """Level at a point, bilinear between cell centres, m.

    Parameters
    ----------
    surface : Surface
        The ground.
    x, y : float
        The point, m.

    Returns
    -------
    float
        NaN outside the outer cell edges or where a neighbour with weight is not known. In the
        half cell at the grid's edge the nearest centres carry on.

    Examples
    --------
    >>> level_at(Surface(np.array([[1.0, 3.0], [1.0, 3.0]]), 0.0, 2.0, 1.0, 1.0), 1.0, 1.0)
    2.0
    """
    rows, columns = surface.levels_m.shape
    column = (x - surface.west_m) / surface.cell_width_m - 0.5
    row = (surface.north_m - y) / surface.cell_height_m - 0.5
    if not (-0.5 <= column <= columns - 0.5 and -0.5 <= row <= rows - 0.5):
        return np.nan
    column = min(max(column, 0.0), columns - 1.0)
    row = min(max(row, 0.0), rows - 1.0)
    c0 = min(int(column), max(columns - 2, 0))
    r0 = min(int(row), max(rows - 2, 0))
    right, low = column - c0, row - r0
    total = 0.0
    if right < 1.0 and low < 1.0:
        total += (1.0 - right) * (1.0 - low) * surface.levels_m[r0, c0]
    if right > 0.0 and low < 1.0:
        total += right * (1.0 - low) * surface.levels_m[r0, c0 + 1]
    if right < 1.0 and low > 0.0:
        total += (1.0 - right) * low * surface.levels_m[r0 + 1, c0]
    if right > 0.0 and low > 0.0:
        total += right * low * surface.levels_m[r0 + 1, c0 + 1]
    return float(total)


@numba.njit(**LOOP)
def levels_at(surface: Surface, points: Floats) -> Floats:
    """Levels at points, shape (n, 2), each as of :func:`level_at`, m."""
    levels = np.empty(points.shape[0])
    for k in range(points.shape[0]):
        levels[k] = level_at(surface, points[k, 0], points[k, 1])
    return levels


@numba.njit(**LOOP)
def highest_between(
    points: Floats, high_first: Floats, least_m: float, greatest_m: float
) -> Floats:
    """Highest of some spots that lie neither too near to nor too far from each point.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Points x, y, m.
    high_first : ndarray, shape (m, 3)
        Spots x, y and level, m, sorted from the highest down.
    least_m, greatest_m : float
        Distances, m, both allowed.

    Returns
    -------
    ndarray, shape (n,)
        Levels, NaN where no spot is in between.

    Examples
    --------
    >>> spots = np.array([[9.0, 0.0, 5.0], [3.0, 0.0, 4.0], [1.0, 0.0, 2.0]])
    >>> highest_between(np.array([[0.0, 0.0]]), spots, 2.0, 6.0).tolist()
    [4.0]
    """
    found = np.full(points.shape[0], np.nan)
    for i in range(points.shape[0]):
        for k in range(high_first.shape[0]):
            east, north = high_first[k, 0] - points[i, 0], high_first[k, 1] - points[i, 1]
            square = east * east + north * north
            if least_m * least_m <= square <= greatest_m * greatest_m:
                found[i] = high_first[k, 2]
                break
    return found
