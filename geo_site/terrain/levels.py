"""Contours of the ground over an area.

In: a :class:`Terrain` and an area. Out: lines of one level. Method: marching squares between
cell centres; a square with a corner that has no data carries no line.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
from contourpy import LineType, contour_generator
from numpy.typing import NDArray
from shapely import get_parts, line_merge
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from geo_site.raster import Raster
from geo_site.terrain.results import Contour, Terrain

__all__ = ["contours"]

_DIGITS = 9  # levels are rounded so: 3 x 0.1 is 0.3
_PLACES = 6  # coordinates, in metres: a line along the area's edge is not shredded by rounding


def contours(
    terrain: Terrain, area: BaseGeometry, interval_m: float, index_every: int = 5
) -> tuple[Contour, ...]:
    """Draw contours of the ground as given.

    Parameters
    ----------
    terrain : Terrain
        The ground.
    area : shapely geometry
        Polygon that the lines are clipped to.
    interval_m : float
        Levels are whole multiples of it.
    index_every : int
        Every how many intervals, counted from level 0, an index contour comes.

    Returns
    -------
    tuple of Contour
        From low to high; none across cells without data.

    Raises
    ------
    ValueError
        The interval is not positive.
    """
    if not interval_m > 0.0:
        raise ValueError(f"the interval between contours must be positive, not {interval_m}")
    window = _window(terrain.ground, area)
    if window is None:
        return ()
    levels = np.asarray(window.values, dtype=np.float64)
    x, y = window.centres()
    generator = contour_generator(
        x, y, np.ma.masked_invalid(levels), corner_mask=False, line_type=LineType.Separate
    )
    first = math.ceil(round(float(np.nanmin(levels)) / interval_m, _DIGITS))
    last = math.floor(round(float(np.nanmax(levels)) / interval_m, _DIGITS))
    return tuple(
        Contour(
            line=line,
            level_m=round(number * interval_m, _DIGITS),
            is_index=number % index_every == 0,
        )
        for number in range(first, last + 1)
        for points in generator.lines(round(number * interval_m, _DIGITS))
        for line in _clipped(LineString(_rounded(points)), area)
    )


def _window(ground: Raster, area: BaseGeometry) -> Raster | None:
    """Cells round an area; None where no square of cell centres with data is left."""
    if area.is_empty or not area.intersects(ground.outline):
        return None
    west, south, east, north = area.bounds
    wide, high = ground.cell_width_m, ground.cell_height_m
    window = ground.window((west - wide, south - high, east + wide, north + high))
    if min(window.shape) < 2 or np.isnan(window.values).all():
        return None
    return window


def _rounded(points: Any) -> NDArray[np.float64]:
    rounded: NDArray[np.float64] = np.asarray(points, dtype=np.float64).round(_PLACES)
    return rounded


def _clipped(line: LineString, area: BaseGeometry) -> Iterator[LineString]:
    for part in get_parts(line_merge(line.intersection(area))):
        if isinstance(part, LineString) and part.length > 0.0:
            yield part
