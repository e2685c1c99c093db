"""The pipe from the pump to the spillway, beside the stream."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from geo_site.layout.alignment import Alignment
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.place import Place
from geo_site.layout.profile import Profile
from geo_site.layout.results import Layout
from geo_site.raster import Raster
from geo_site.siting import Placement

__all__ = ["lay_pipe", "sink_pipe", "with_pipe"]

Floats = NDArray[np.float64]

_VERTEX_M = 1.0
_STRAIGHT_M = 0.01  # bends smaller than this are drawn straight


def lay_pipe(
    alignment: Alignment, profile: Profile, place: Place, parameters: LayoutParameters
) -> tuple[LineString, bool]:
    """Lay the pipe on the side of the stream that is free, else under the bed.

    Returns
    -------
    LineString
        Centre line with Z, pump chamber (the footprint's corner next to the stream) first. At
        its vertices it lies ``pipe_cover`` below the lower of ground and sill (of the bed's
        lowest part, hollow included, where it runs under the bed).
    bool
        Whether it lies under the bed.
    """
    ways = [_beside(alignment, side, place, parameters) for side in (1.0, -1.0)]
    free = [way for way in ways if way is not None and _is_free(way, place, parameters)]
    if free:
        crossing = [alignment.line.crosses(LineString(way.coords[:-1])) for way in free]
        choice = min(range(len(free)), key=lambda i: (crossing[i], free[i].length))
        bed = _bed(alignment, profile, 0.0)
        return _sunk(free[choice], bed, place.ground, parameters), False
    upstream = alignment.xy[: alignment.pool_end + 1][::-1]
    under = LineString(np.vstack([_pump(alignment, place), upstream]))
    body_m = parameters.bed_thickness + profile.hollow_m
    return _sunk(under, _bed(alignment, profile, body_m), place.ground, parameters), True


def sink_pipe(
    way: LineString,
    alignment: Alignment,
    profile: Profile,
    place: Place,
    parameters: LayoutParameters,
) -> tuple[LineString, bool]:
    """Give a drawn way, pump first, its levels, and say whether it lies under the bed."""
    outside = shapely.difference(way, place.footprint)
    under_bed = bool(shapely.covers(shapely.buffer(alignment.line, _STRAIGHT_M), outside))
    body_m = parameters.bed_thickness + profile.hollow_m if under_bed else 0.0
    return _sunk(way, _bed(alignment, profile, body_m), place.ground, parameters), under_bed


def _pump(alignment: Alignment, place: Place) -> Floats:
    """The footprint's corner nearest to where the stream comes in."""
    corners = shapely.get_coordinates(place.footprint.exterior)[:-1]
    inlet = alignment.xy[alignment.pool_end]
    return np.asarray(corners[np.argmin(np.hypot(*(corners - inlet).T))])


def _beside(
    alignment: Alignment, side: float, place: Place, parameters: LayoutParameters
) -> LineString | None:
    """Pump, along one side of the bed upstream, lip; None where the side makes no one line."""
    away_m = parameters.bed_width / 2.0 + parameters.pipe_offset
    beside = shapely.offset_curve(alignment.line, side * away_m, quad_segs=8)
    outside = shapely.difference(beside, place.footprint)
    lip = Point(alignment.xy[0])
    parts = [part for part in shapely.get_parts(outside) if isinstance(part, LineString)]
    if not isinstance(beside, LineString) or not parts:
        return None
    along = shapely.get_coordinates(min(parts, key=lip.distance))
    if lip.distance(Point(along[0])) < lip.distance(Point(along[-1])):
        along = along[::-1]
    whole = LineString(np.vstack([_pump(alignment, place), along, alignment.xy[0]]))
    simple = whole.simplify(_STRAIGHT_M)
    return simple if isinstance(simple, LineString) else None


def _is_free(way: LineString, place: Place, parameters: LayoutParameters) -> bool:
    trench = shapely.buffer(way, parameters.pipe_trench_width / 2.0, cap_style="flat")
    return bool(shapely.covers(place.free, trench))


def with_pipe(
    layout: Layout,
    way: LineString,
    ground: Raster,
    placement: Placement,
    parameters: LayoutParameters,
) -> Layout:
    """Give a layout with the pipe where a person drew it.

    Parameters
    ----------
    layout : Layout
        A stream that was laid out.
    way : shapely.LineString
        In plan, pump first.
    ground : Raster
        Levels, m.
    placement : Placement
        The basin.
    parameters : LayoutParameters
        Cover.

    Returns
    -------
    Layout
        Else the same.
    """
    line = LineString(shapely.get_coordinates(layout.alignment))
    outside = shapely.difference(way, placement.footprint)
    under_bed = bool(shapely.covers(shapely.buffer(line, _STRAIGHT_M), outside))
    hollow_m = max((pool.depth_m for pool in layout.pools), default=0.0)
    body_m = parameters.bed_thickness + hollow_m if under_bed else 0.0
    bed = _Bed(line=line, stations_m=layout.stations_m, bed_m=layout.bed_m - body_m)
    return replace(layout, pipe=_sunk(way, bed, ground, parameters), pipe_under_bed=under_bed)


@dataclass(frozen=True, kw_only=True)
class _Bed:
    """What a pipe stays below."""

    line: LineString
    stations_m: Floats
    bed_m: Floats


def _bed(alignment: Alignment, profile: Profile, body_m: float) -> _Bed:
    return _Bed(line=alignment.line, stations_m=alignment.stations_m, bed_m=profile.bed_m - body_m)


def _sunk(way: LineString, bed: _Bed, ground: Raster, parameters: LayoutParameters) -> LineString:
    """The line with vertices about each metre, at the pipe's depth."""
    xy = shapely.get_coordinates(shapely.segmentize(way, _VERTEX_M))
    along_m = shapely.line_locate_point(bed.line, shapely.points(xy))
    bed_m = np.interp(along_m, bed.stations_m, bed.bed_m)
    z = np.fmin(ground.sample(xy), bed_m) - parameters.pipe_cover
    return LineString(np.column_stack([xy, z]))
