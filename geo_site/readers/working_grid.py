"""Levels are brought into the working CRS, on their own cells wherever that is possible.

In: levels with their grid and CRS. Out: a north-up raster of the working CRS. Method: a grid in
the working CRS, or in feet of the same projection, keeps its cells and is scaled at most; a
geographic, rotated or untrue grid is resampled, once, bilinearly, by the same coordinate
operation that moves the lines, so that both stay together.
"""

from __future__ import annotations

from collections.abc import Callable
from math import ceil, floor
from typing import Any

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import ProjError
from scipy import ndimage

from geo_site.crs import Shift, linear_unit_m, metric_twin, shift_between
from geo_site.errors import InputRefused
from geo_site.raster import Raster

__all__ = ["moved", "onto_working_grid"]

Levels = NDArray[np.floating[Any]]
Points = NDArray[np.float64]


def onto_working_grid(
    values: Levels, transform: Affine, crs: CRS, working_crs: CRS, told: str
) -> tuple[Raster, tuple[str, ...]]:
    """Bring levels into the working CRS, on their own cells wherever that is possible.

    Parameters
    ----------
    values : ndarray, shape (rows, cols)
        Levels, m.
    transform : affine.Affine
        Their grid in ``crs``.
    crs, working_crs : pyproj.CRS
        Of the grid, and the projected metric one wanted.
    told : str
        The file or files, for the message.

    Returns
    -------
    raster : Raster
        The same values where the grid is north up and ``working_crs`` is ``crs`` or its metric
        twin; else resampled to square cells.
    notes : tuple of str
        Whether and how it was resampled.

    Raises
    ------
    InputRefused
        The way to ``working_crs`` is known no better than a clearance needs.
    """
    upright = not (transform.b or transform.d)
    if upright and crs.is_projected and metric_twin(crs).equals(working_crs):
        unit_m = linear_unit_m(crs)
        return Raster(values, Affine.scale(unit_m) @ transform, working_crs), ()
    shift = shift_between(working_crs, crs, file=told)
    grid = _square_grid(values.shape, transform, lambda xy: moved(xy, crs, working_crs, told))
    levels = _sampled(values, ~transform, grid, shift)
    why = "it is rotated" if crs.is_projected and not upright else f"its CRS is {crs.name}"
    note = f"resampled bilinearly to cells of {grid[0].a:.3f} m, because {why}"
    if shift.accuracy_m:
        note += f"; positions are known to {shift.accuracy_m:g} m after it"
    return Raster(levels, grid[0], working_crs), (note,)


def moved(xy: Points, crs: CRS, working_crs: CRS, told: str) -> Points:
    """Bring points into the working CRS.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        Points in ``crs``.
    crs, working_crs : pyproj.CRS
        Where from and where to.
    told : str
        The file or files, for the message.

    Returns
    -------
    ndarray, shape (n, 2)
        x, y, m.

    Raises
    ------
    InputRefused
        The way is known no better than a clearance needs, or does not reach there.
    """
    shift = shift_between(crs, working_crs, file=told)
    try:
        return shift(xy)
    except ProjError as fault:
        raise InputRefused(
            f"coordinates lie where {crs.name} or {working_crs.name} is not defined ({fault})",
            remedy="correct the CRS of the file, or its coordinates",
            file=told,
        ) from None


Grid = tuple[Affine, int, int]


def _square_grid(
    shape: tuple[int, ...], transform: Affine, forward: Callable[[Points], Points]
) -> Grid:
    """Cells of the mean size of the source's at its middle, over its outline."""
    rows, cols = shape
    middle = np.array([cols / 2, rows / 2]) + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    at, right, down = forward(_apply(transform, middle))
    cell_m = _rounded(float(np.sqrt(np.hypot(*(right - at)) * np.hypot(*(down - at)))))
    side_x, side_y = np.linspace(0.0, cols, 65), np.linspace(0.0, rows, 65)
    edge = np.vstack(
        [np.column_stack([side_x, np.full(65, y)]) for y in (0.0, rows)]
        + [np.column_stack([np.full(65, x), side_y]) for x in (0.0, cols)]
    )
    outline = forward(_apply(transform, edge))
    (west, south), (east, north) = outline.min(axis=0), outline.max(axis=0)
    left, top = floor(west / cell_m), ceil(north / cell_m)
    size = ceil(east / cell_m) - left, top - floor(south / cell_m)
    return Affine(cell_m, 0.0, left * cell_m, 0.0, -cell_m, top * cell_m), size[1], size[0]


def _rounded(cell_m: float) -> float:
    """Three significant digits: the cell is about the source's, and prints as it is."""
    return float(f"{cell_m:.3g}")


def _apply(transform: Affine, xy: Points) -> Points:
    x = transform.a * xy[:, 0] + transform.b * xy[:, 1] + transform.c
    y = transform.d * xy[:, 0] + transform.e * xy[:, 1] + transform.f
    return np.column_stack([x, y])


def _sampled(values: Levels, to_cells: Affine, grid: Grid, shift: Shift) -> Levels:
    """Bilinear between the four cell centres around; NaN where one of them is missing."""
    transform, rows, cols = grid
    levels = np.empty((rows, cols), dtype=values.dtype)
    across = np.arange(cols) + 0.5
    for row in range(rows):
        centres = _apply(transform, np.column_stack([across, np.full(cols, row + 0.5)]))
        there = _apply(to_cells, shift(centres)) - 0.5
        levels[row] = ndimage.map_coordinates(
            values, there.T[::-1], output=np.float64, order=1, mode="constant", cval=np.nan
        )
    return levels
