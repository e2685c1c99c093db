"""A raster: values on a grid, where the grid lies, and nothing else.

Row 0 is the northernmost, NaN is the only no-data, lengths are metres. Vectors are burnt in
and areas traced out here, so that no step handles a transform itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from rasterio import features
from shapely import box, get_coordinates, linearrings, make_valid, polygons, union_all
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

__all__ = ["Raster", "as_multipolygon", "burn", "grid_over", "trace"]

Array = NDArray[Any]


@dataclass(frozen=True)
class Raster:
    """Values on a north-up grid of a metric CRS.

    Attributes
    ----------
    values : ndarray, shape (rows, cols)
        Row 0 is the north edge. Made read-only.
    transform : affine.Affine
        From (col, row) of a cell's corner to x, y in metres; no rotation.
    crs : pyproj.CRS
        Projected, metric.
    """

    values: Array
    transform: Affine
    crs: CRS

    def __post_init__(self) -> None:
        if self.values.ndim != 2:
            raise ValueError(f"a raster has two dimensions, not {self.values.ndim}")
        if self.transform.b or self.transform.d or self.transform.a <= 0 or self.transform.e >= 0:
            raise ValueError("a raster is north up, without rotation")
        view = self.values.view()
        view.flags.writeable = False
        object.__setattr__(self, "values", view)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, cols = self.values.shape
        return int(rows), int(cols)

    @property
    def cell_width_m(self) -> float:
        """Size of a cell from west to east, m."""
        return float(self.transform.a)

    @property
    def cell_height_m(self) -> float:
        """Size of a cell from north to south, m."""
        return float(-self.transform.e)

    @property
    def cell_area_m2(self) -> float:
        """Area of a cell, m2."""
        return self.cell_width_m * self.cell_height_m

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north of the outer cell edges, m."""
        rows, cols = self.shape
        west, north = self.transform.c, self.transform.f
        east, south = west + cols * self.cell_width_m, north - rows * self.cell_height_m
        return float(west), float(south), float(east), float(north)

    @property
    def outline(self) -> Polygon:
        """The rectangle that the cells cover."""
        return box(*self.bounds)

    def like(self, values: Array) -> Raster:
        """Give another raster on the same grid.

        Raises
        ------
        ValueError
            ``values`` has another shape.
        """
        if values.shape != self.values.shape:
            raise ValueError(f"values of shape {values.shape} on a grid of {self.values.shape}")
        return Raster(values, self.transform, self.crs)

    def centres(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Give x of each column's centre and y of each row's centre, m."""
        rows, cols = self.shape
        x = self.transform.c + (np.arange(cols, dtype=np.float64) + 0.5) * self.cell_width_m
        y = self.transform.f - (np.arange(rows, dtype=np.float64) + 0.5) * self.cell_height_m
        return x, y

    def cell_of(self, x: float, y: float) -> tuple[int, int]:
        """Row and column of the cell that holds a point; may lie outside the grid."""
        col = int(np.floor((x - self.transform.c) / self.cell_width_m))
        row = int(np.floor((self.transform.f - y) / self.cell_height_m))
        return row, col

    def sample(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values at points, bilinear between cell centres.

        Parameters
        ----------
        xy : ndarray, shape (n, 2)
            Points, m.

        Returns
        -------
        ndarray, shape (n,)
            NaN outside the outer cell edges or where a neighbour with weight is no data. In
            the half cell at the grid's edge the nearest centres carry on.
        """
        xy = np.asarray(xy, dtype=np.float64).reshape(-1, 2)
        rows, cols = self.shape
        col = (xy[:, 0] - self.transform.c) / self.cell_width_m - 0.5
        row = (self.transform.f - xy[:, 1]) / self.cell_height_m - 0.5
        inside = (col >= -0.5) & (col <= cols - 0.5) & (row >= -0.5) & (row <= rows - 0.5)
        col, row = np.clip(col, 0, cols - 1), np.clip(row, 0, rows - 1)
        c0 = np.minimum(col.astype(np.intp), max(cols - 2, 0))
        r0 = np.minimum(row.astype(np.intp), max(rows - 2, 0))
        below, east = row - r0, col - c0  # shares of the neighbours, 0 where there is none
        total = np.zeros(len(xy))
        for down, high in ((0, 1.0 - below), (min(1, rows - 1), below)):
            for right, wide in ((0, 1.0 - east), (min(1, cols - 1), east)):
                weight = high * wide
                part = weight * self.values[r0 + down, c0 + right]
                total += np.where(weight > 0.0, part, 0.0)
        return np.where(inside, total, np.nan)

    def sample_at(self, x: float, y: float) -> float:
        """Value at one point, to the last digit that of :meth:`sample`, and much quicker."""
        rows, cols = self.shape
        col = (x - self.transform.c) / self.cell_width_m - 0.5
        row = (self.transform.f - y) / self.cell_height_m - 0.5
        if not (-0.5 <= col <= cols - 0.5 and -0.5 <= row <= rows - 0.5):
            return math.nan
        col, row = min(max(col, 0.0), cols - 1.0), min(max(row, 0.0), rows - 1.0)
        c0, r0 = min(int(col), max(cols - 2, 0)), min(int(row), max(rows - 2, 0))
        total = 0.0
        for dr, dc in ((0, 0), (0, 1), (1, 0), (1, 1)):
            weight = abs(1 - dr - (row - r0)) * abs(1 - dc - (col - c0))
            if weight > 0.0:
                total += weight * float(self.values[min(r0 + dr, rows - 1), min(c0 + dc, cols - 1)])
        return total

    def window(self, bounds: tuple[float, float, float, float]) -> Raster:
        """Give the cells that touch a rectangle.

        Parameters
        ----------
        bounds : tuple of float
            West, south, east, north, m.

        Raises
        ------
        ValueError
            No cell touches it.
        """
        rows, cols = self.shape
        top, left = (max(i, 0) for i in self.cell_of(bounds[0], bounds[3]))
        last_row, last_col = self.cell_of(bounds[2], bounds[1])
        bottom, right = min(last_row + 1, rows), min(last_col + 1, cols)
        if bottom <= top or right <= left:
            raise ValueError("the rectangle lies outside the raster")
        west, north = self.bounds[0], self.bounds[3]
        moved = Affine(
            self.cell_width_m,
            0.0,
            west + left * self.cell_width_m,
            0.0,
            -self.cell_height_m,
            north - top * self.cell_height_m,
        )
        return Raster(self.values[top:bottom, left:right], moved, self.crs)


def grid_over(
    bounds: tuple[float, float, float, float],
    cell_m: float,
    crs: CRS,
    *,
    margin_m: float = 0.0,
    anchor: tuple[float, float] = (0.0, 0.0),
) -> Raster:
    """Make an empty (False) raster of square cells over a rectangle.

    The grid's lines lie whole multiples of the cell size away from the anchor (steps pass the
    terrain's north-west corner), so that a site moved as a whole gets the same cells.

    Parameters
    ----------
    bounds : tuple of float
        West, south, east, north, m.
    cell_m : float
        Cell size, m.
    crs : pyproj.CRS
        CRS of the rectangle.
    margin_m : float
        Added on all sides, m.
    anchor : tuple of float
        A point x, y on a crossing of grid lines, m.

    Returns
    -------
    Raster
        bool, all False.
    """
    slack = 1e-6  # of a cell: a bound on a grid line stays on it whatever its last digit
    x0, y0 = anchor
    west = np.floor((bounds[0] - margin_m - x0) / cell_m + slack)
    south = np.floor((bounds[1] - margin_m - y0) / cell_m + slack)
    east = np.ceil((bounds[2] + margin_m - x0) / cell_m - slack)
    north = np.ceil((bounds[3] + margin_m - y0) / cell_m - slack)
    transform = Affine(cell_m, 0.0, x0 + west * cell_m, 0.0, -cell_m, y0 + north * cell_m)
    return Raster(np.zeros((int(north - south), int(east - west)), dtype=bool), transform, crs)


def burn(
    geometries: BaseGeometry | Iterable[BaseGeometry], like: Raster, *, touched: bool = False
) -> NDArray[np.bool_]:
    """Mark the cells that geometries cover.

    Parameters
    ----------
    geometries : geometry or iterable of geometry
        In the raster's CRS.
    like : Raster
        The grid.
    touched : bool
        Mark each cell touched; otherwise those whose centre is inside (lines: by Bresenham).

    Returns
    -------
    ndarray of bool, shape (rows, cols)
        True where covered.
    """
    if isinstance(geometries, BaseGeometry):
        geometries = [geometries]
    shapes = [geometry for geometry in geometries if geometry is not None and not geometry.is_empty]
    if not shapes:
        return np.zeros(like.shape, dtype=bool)
    marked = features.rasterize(
        map(_plainly, shapes),
        out_shape=like.shape,
        transform=like.transform,
        all_touched=touched,
        dtype="uint8",
    )
    return np.asarray(marked, dtype=bool)


def _plainly(geometry: BaseGeometry) -> BaseGeometry | dict[str, Any]:
    """Areas as a mapping, which takes long where each coordinate is asked for by itself."""
    if isinstance(geometry, Polygon):
        return {"type": "Polygon", "coordinates": _rings(geometry)}
    if isinstance(geometry, MultiPolygon):
        return {"type": "MultiPolygon", "coordinates": [_rings(part) for part in geometry.geoms]}
    return geometry


def _rings(polygon: Polygon) -> list[list[tuple[float, float]]]:
    edges = (polygon.exterior, *polygon.interiors)
    return [list(zip(*get_coordinates(edge).T.tolist(), strict=True)) for edge in edges]


def trace(mask: NDArray[np.bool_], like: Raster) -> MultiPolygon:
    """Give the area of marked cells, along cell edges.

    Parameters
    ----------
    mask : ndarray of bool, shape (rows, cols)
        Cells to outline.
    like : Raster
        The grid.

    Returns
    -------
    shapely.MultiPolygon
        Its area is the number of cells times the cell area, exactly; empty for none. Cells
        that meet at a corner only are separate parts.
    """
    found = features.shapes(
        mask.astype("uint8"), mask=mask, connectivity=4, transform=like.transform
    )
    areas = [geometry["coordinates"] for geometry, _ in found]
    rings = [ring for area in areas for ring in area]
    if not rings:
        return MultiPolygon()
    of_ring = np.repeat(np.arange(len(rings)), list(map(len, rings)))
    edges: Array = np.asarray(linearrings(np.concatenate(rings), indices=of_ring))
    of_area = np.repeat(np.arange(len(areas)), list(map(len, areas)))
    return as_multipolygon(union_all(polygons(edges, indices=of_area)))


def as_multipolygon(geometry: BaseGeometry | None) -> MultiPolygon:
    """Keep the areas of a geometry, as one MultiPolygon; lines and points fall away."""
    if geometry is None or geometry.is_empty:
        return MultiPolygon()
    if isinstance(geometry, Polygon):
        return MultiPolygon([geometry])
    if isinstance(geometry, MultiPolygon):
        return geometry
    parts = getattr(make_valid(geometry), "geoms", [])
    whole = [part for part in parts if isinstance(part, Polygon)]
    nested = [p for part in parts if isinstance(part, MultiPolygon) for p in part.geoms]
    return as_multipolygon(union_all(whole + nested))
