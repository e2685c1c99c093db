"""Ground within a distance of an object, never drawn short.

In: a geometry and a distance. Out: a polygon that holds every point within the distance and
reaches at most 2 mm beyond it. Method: corners of a many-sided figure lie on a slightly larger
circle, so that its sides touch the true one; lines are taken segment by segment, because a
buffer of a whole line first straightens its shallow bends.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from shapely import buffer, get_coordinates, get_parts, linestrings, union_all
from shapely.geometry import LinearRing, LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

__all__ = ["keep_off"]

_EXCESS_M = 0.002  # how far the figure may reach beyond the distance
_ROUNDING_M = 1e-6  # so that unions and differences, which round, do not draw it short
_LEAST_SEGMENTS = 8  # to a quarter circle


@lru_cache(maxsize=256)
def keep_off(geometry: BaseGeometry, distance_m: float) -> BaseGeometry:
    """Give the ground within a distance of a geometry.

    The last ones are kept: several works keep the same distance from the same thing.

    Parameters
    ----------
    geometry : shapely geometry
        Points, lines or valid polygons, m.
    distance_m : float
        Distance, m, not negative. At 0 lines and points hold no ground and areas are
        themselves.

    Returns
    -------
    shapely geometry
        Polygon, MultiPolygon or an empty geometry.

    Raises
    ------
    ValueError
        The distance is negative or not a number.

    Examples
    --------
    >>> 3.1415 < keep_off(Point(0.0, 0.0), 1.0).area < 3.155
    True
    """
    if not distance_m >= 0.0:
        raise ValueError(f"a distance is 0 or more, not {distance_m}")
    areas = [part for part in _parts(geometry) if isinstance(part, Polygon)]
    if distance_m == 0.0:
        return union_all(areas) if areas else Polygon()
    outlines = [ring for area in areas for ring in (area.exterior, *area.interiors)]
    lines = [part for part in _parts(geometry) if isinstance(part, LineString)]
    points = [part for part in _parts(geometry) if isinstance(part, Point)]
    marks = [*points, *(segment for line in (*lines, *outlines) for segment in _segments(line))]
    radius_m, quarter_segments = _figure(distance_m)
    around = buffer(np.array(marks, dtype=object), radius_m, quad_segs=quarter_segments)
    return union_all([*areas, *around])


def _parts(geometry: BaseGeometry) -> list[BaseGeometry]:
    if geometry.is_empty:
        return []
    if hasattr(geometry, "geoms"):
        return [part for each in get_parts(geometry) for part in _parts(each)]
    return [geometry]


def _segments(line: LineString | LinearRing) -> NDArray[np.object_]:
    corners = get_coordinates(line)
    return np.asarray(linestrings(np.stack([corners[:-1], corners[1:]], axis=1)), dtype=object)


def _figure(distance_m: float) -> tuple[float, int]:
    """Radius of the corners, and sides to a quarter circle: inside, it touches the distance."""
    true_m = distance_m + _ROUNDING_M
    half_side = math.acos(true_m / (true_m + _EXCESS_M))
    quarter_segments = max(_LEAST_SEGMENTS, math.ceil(math.pi / 4.0 / half_side))
    return true_m / math.cos(math.pi / 4.0 / quarter_segments), quarter_segments
