"""Lidar ground points become a grid of levels.

In: ground points of one or several files. Out: levels on square cells of the working CRS.
Method: Delaunay triangulation, linear inside each triangle (Delaunay 1934; Shewchuk 2002 on
interpolation in triangles); cells no finer than the mean spacing of the points; no level far
from a point.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS

from geo_site.crs import linear_unit_m, metric_twin
from geo_site.errors import InputRefused
from geo_site.raster import Raster
from geo_site.readers.declared import HIGHEST_M, LOWEST_M, Bounds, Declared
from geo_site.readers.point_files import GROUND, Points, ground_points
from geo_site.readers.triangles import levels_on_grid
from geo_site.readers.working_grid import moved

__all__ = ["grid"]

_CELLS_M = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
_FAR_M = 10.0  # a house is bridged, as in any terrain model; a lake or a field without points not
_FAR_CELLS = 3.0
_NEAR_M = 5.0  # beyond it a level is told to be bridged
_NEAR_CELLS = 1.5
_MOST_CELLS = 40_000_000


def grid(
    files: Sequence[Declared],
    working_crs: CRS,
    metres_per_unit: float,
    around: Bounds | None = None,
) -> tuple[Raster, tuple[str, ...]]:
    """Triangulate the ground points of all files and read the levels at cell centres.

    Parameters
    ----------
    files : sequence of Declared
        One CRS.
    working_crs : pyproj.CRS
        Projected, metric.
    metres_per_unit : float
        Of the heights.
    around : tuple of float, optional
        West, south, east, north in the files' CRS: only these points are read.

    Returns
    -------
    raster : Raster
        float64 levels, m; cells farther than 10 m (or three cells, if more) from every ground
        point, or outside their hull, are NaN.
    notes : tuple of str
        Points, density, cell size, what is bridged.

    Raises
    ------
    InputRefused
        No ground points, too few or too many, levels that cannot be, a broken file.
    """
    told = ", ".join(file.told for file in files)
    points, withheld = ground_points(files, around)
    points = _moved(points, files[0].crs, working_crs, metres_per_unit, told)
    _refuse_absurd(points[:, 2], told)
    points = _one_per_place(points)
    density = _density(points)
    cell_m = _cell(density**-0.5)
    raster, bridged = _triangulated(points, cell_m, working_crs, told)
    notes = [
        f"{len(points):,} ground points (class {GROUND}), {density:.2f} per m2: triangulated, "
        f"cells of {cell_m:g} m"
    ]
    if withheld:
        notes.append(f"{withheld:,} ground points are flagged as withheld and were left out")
    return raster, (*notes, *bridged)


def _moved(points: Points, crs: CRS, working_crs: CRS, metres_per_unit: float, told: str) -> Points:
    if crs.is_projected and metric_twin(crs).equals(working_crs):
        xy = points[:, :2] * linear_unit_m(crs)
    else:
        xy = moved(points[:, :2], crs, working_crs, told)
    return np.column_stack([xy, points[:, 2] * metres_per_unit])


def _refuse_absurd(levels_m: NDArray[np.float64], told: str) -> None:
    low, high = levels_m.min(), levels_m.max()
    if low < LOWEST_M or high > HIGHEST_M:
        raise InputRefused(
            f"ground points at {low:,.1f} m to {high:,.1f} m cannot be ground",
            remedy="correct the classes, or vertical_unit",
            file=told,
        )


def _one_per_place(points: Points) -> Points:
    """Points within a millimetre become one, at their mean level: tiles overlap by a strip."""
    x, y = np.round(points[:, :2] * 1000.0).T
    order = np.lexsort((y, x))
    points, x, y = points[order], x[order], y[order]
    new = np.concatenate([[True], (np.diff(x) != 0.0) | (np.diff(y) != 0.0)])
    which = np.cumsum(new) - 1
    levels = np.bincount(which, weights=points[:, 2]) / np.bincount(which)
    return np.column_stack([points[new, :2], levels])


def _density(points: Points) -> float:
    """Points per m2 of the ground that they lie on: of 16-point squares that hold any."""
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    span = np.maximum(high - low, 1e-3)
    side = float(np.sqrt(16.0 * np.prod(span) / len(points)))
    squares = np.unique(np.floor((points[:, :2] - low) / side), axis=0)
    return len(points) / (len(squares) * side * side)


def _cell(spacing_m: float) -> float:
    """The next larger one of the usual cell sizes."""
    return next((size for size in _CELLS_M if size >= spacing_m), float(ceil(spacing_m)))


def _triangulated(
    points: Points, cell_m: float, crs: CRS, told: str
) -> tuple[Raster, tuple[str, ...]]:
    from scipy.spatial import Delaunay, QhullError  # noqa: PLC0415  # only for who has points

    low = np.floor(points[:, :2].min(axis=0) / cell_m)
    high = np.ceil(points[:, :2].max(axis=0) / cell_m)
    cols, rows = (int(size) for size in np.maximum(high - low, 1.0))
    if rows * cols > _MOST_CELLS:
        raise InputRefused(
            f"the points span {rows * cols:,} cells, more than {_MOST_CELLS:,}",
            remedy="give the tiles around one lot only",
            file=told,
        )
    west, north = low[0] * cell_m, (low[1] + rows) * cell_m
    col = (points[:, 0] - west) / cell_m - 0.5  # near zero: Qhull loses digits on coordinates
    row = (north - points[:, 1]) / cell_m - 0.5
    try:
        triangles = Delaunay(np.column_stack([col, row])).simplices
    except QhullError:
        raise InputRefused(
            "the ground points lie on one line", remedy="give the points of an area", file=told
        ) from None
    levels = levels_on_grid(np.column_stack([col, row, points[:, 2]]), triangles, (rows, cols))
    bridged = _drop_far(levels, np.column_stack([col, row]), cell_m)
    raster = Raster(levels, Affine(cell_m, 0.0, west, 0.0, -cell_m, north), crs)
    return raster, bridged


def _drop_far(levels: NDArray[np.float64], places: Points, cell_m: float) -> tuple[str, ...]:
    """Empty, in place, the cells far from every point; tell what is bridged nearer by."""
    from scipy.spatial import cKDTree  # noqa: PLC0415  # only for who has points

    far, near = max(_FAR_M, _FAR_CELLS * cell_m), max(_NEAR_M, _NEAR_CELLS * cell_m)
    tree = cKDTree(places)
    bridged = 0
    for row in range(levels.shape[0]):
        cols = np.flatnonzero(np.isfinite(levels[row]))
        centres = np.column_stack([cols, np.full(cols.size, row)])
        away_m = tree.query(centres)[0] * cell_m
        levels[row, cols[away_m > far]] = np.nan
        bridged += int(np.count_nonzero((away_m > near) & (away_m <= far)))
    if not bridged:
        return ()
    area_m2 = bridged * cell_m * cell_m
    return (f"{area_m2:,.0f} m2 are bridged: more than {near:g} m from every ground point",)
