"""Where water runs that is let go: past which structures, and where it leaves the lot.

In: a way of water, a site and its terrain. Out: a :class:`WayOfOverflow`. Method: exact distances
in vectors; the slope towards a structure is that between the nearest points on the ground.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np
from shapely import get_coordinates
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points, substring

from geo_site.site import Site
from geo_site.terrain import Terrain
from geo_site.water.storm_records import Leaving, NearStructure, WayOfOverflow
from geo_site.water.storm_settings import StormParameters

__all__ = ["follow_overflow", "leaving_of"]

_SIDES = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def follow_overflow(
    line: LineString, site: Site, terrain: Terrain, parameters: StormParameters
) -> WayOfOverflow:
    """Tell what a way of water comes near, and where it leaves the lot.

    Parameters
    ----------
    line : shapely.LineString
        Downstream.
    site : Site
        Its structures and parcel.
    terrain : Terrain
        The ground.
    parameters : StormParameters
        How far along its way and how near a structure is told.

    Returns
    -------
    WayOfOverflow
        Nothing near where the line is empty.
    """
    return WayOfOverflow(
        line=line,
        structures=_structures_near(line, site, terrain, parameters),
        leaving=leaving_of(line, site.parcel),
    )


def _structures_near(
    line: LineString, site: Site, terrain: Terrain, parameters: StormParameters
) -> tuple[NearStructure, ...]:
    """Structures near the first stretch of a way, as it meets them.

    Farther down so much other water joins that the spill no longer matters.
    """
    if line.is_empty:
        return ()
    first = LineString(substring(line, 0.0, parameters.overflow_reach).coords)
    found = []
    for source_id, geometry in zip(site.structures["id"], site.structures.geometry, strict=True):
        distance_m = float(first.distance(geometry))
        if distance_m <= parameters.near_structure:
            along_m = float(first.project(nearest_points(first, geometry)[0]))
            slope = _slope_towards(first, geometry, distance_m, terrain)
            found.append(
                NearStructure(
                    source_id=str(source_id), along_m=along_m, distance_m=distance_m, slope=slope
                )
            )
    return tuple(sorted(found, key=lambda one: (one.along_m, one.source_id)))


def _slope_towards(
    line: LineString, structure: BaseGeometry, distance_m: float, terrain: Terrain
) -> float:
    if distance_m < 0.5 * terrain.ground.cell_width_m:
        return math.nan
    ends = nearest_points(line, structure)
    levels_m = terrain.ground.sample(np.array([(end.x, end.y) for end in ends]))
    return float(levels_m[0] - levels_m[1]) / distance_m


def leaving_of(line: LineString, parcel: BaseGeometry) -> Leaving | None:
    """Find where a way of water leaves the lot first.

    Parameters
    ----------
    line : shapely.LineString
        Downstream.
    parcel : shapely geometry
        The lot.

    Returns
    -------
    Leaving or None
        None where it does not, or never was inside.
    """
    if line.is_empty:
        return None
    crossings = sorted(
        (float(line.project(Point(xy))), (float(xy[0]), float(xy[1])))
        for xy in get_coordinates(line.intersection(parcel.boundary))
    )
    for along_m, (x, y) in crossings:
        before = line.interpolate(max(along_m - 0.01, 0.0))
        after = line.interpolate(min(along_m + 0.01, line.length))
        if parcel.intersects(before) and not parcel.intersects(after):
            azimuth_deg = _azimuth_at(parcel, x, y)
            side = _SIDES[round(azimuth_deg / 45.0) % 8]
            return Leaving(x=x, y=y, along_m=along_m, side=side, azimuth_deg=azimuth_deg)
    return None


def _azimuth_at(parcel: BaseGeometry, x: float, y: float) -> float:
    """Towards which the lot's line looks outwards, clockwise from north."""
    begin, end = min(_edges(parcel), key=lambda edge: LineString(edge).distance(Point(x, y)))
    east, north = end[0] - begin[0], end[1] - begin[1]
    length_m = math.hypot(east, north)
    out_x, out_y = north / length_m, -east / length_m
    middle_x, middle_y = (begin[0] + end[0]) / 2.0, (begin[1] + end[1]) / 2.0
    if parcel.contains(Point(middle_x + 1e-3 * out_x, middle_y + 1e-3 * out_y)):
        out_x, out_y = -out_x, -out_y
    return math.degrees(math.atan2(out_x, out_y)) % 360.0


def _edges(parcel: BaseGeometry) -> Iterator[tuple[tuple[float, ...], tuple[float, ...]]]:
    for part in getattr(parcel, "geoms", [parcel]):
        for ring in (part.exterior, *part.interiors):
            yield from itertools.pairwise(ring.coords)
