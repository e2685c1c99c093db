"""Reaches, falls, pools, bed and berm of a stream, as geometry."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.bed_levels import FALL, POOL, RIFFLE
from geo_site.layout.alignment import Alignment
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.place import Place
from geo_site.layout.profile import Profile
from geo_site.layout.results import Fall, Kind, Pool, StreamReach
from geo_site.layout.sections import crown_width

__all__ = [
    "KIND_NAMES",
    "berm_outline",
    "dig_outline",
    "falls_of",
    "pools_of",
    "reaches_of",
    "stream_bed",
    "with_levels",
]

Floats = NDArray[np.float64]

KIND_NAMES: dict[int, Kind] = {POOL: "pool", RIFFLE: "riffle", FALL: "fall"}

_ARC = 16


def with_levels(alignment: Alignment, profile: Profile) -> LineString:
    """Give the alignment with its sill levels."""
    return LineString(np.column_stack([alignment.xy, profile.bed_m]))


def _runs(profile: Profile) -> list[tuple[int, int]]:
    """First and last station of each reach; every fall is one of its own."""
    kinds = profile.kinds
    breaks = [i for i in range(1, len(kinds)) if kinds[i] != kinds[i - 1] or kinds[i] == FALL]
    return list(zip([0, *breaks], [*breaks, len(kinds)], strict=True))


def reaches_of(alignment: Alignment, profile: Profile) -> tuple[StreamReach, ...]:
    """Give the reaches in order downstream; together they are the whole stream."""
    xyz = np.column_stack([alignment.xy, profile.bed_m])
    return tuple(
        StreamReach(
            sequence=number,
            kind=KIND_NAMES[int(profile.kinds[first])],
            line=LineString(xyz[first : last + 1]),
            from_m=float(alignment.stations_m[first]),
            to_m=float(alignment.stations_m[last]),
            sill_level_m=float(profile.bed_m[first]),
        )
        for number, (first, last) in enumerate(_runs(profile), 1)
    )


def falls_of(
    alignment: Alignment, profile: Profile, parameters: LayoutParameters
) -> tuple[Fall, ...]:
    """Give the falls in order downstream."""
    return tuple(
        Fall(
            sequence=number,
            station_m=float(alignment.stations_m[i]),
            x=float(alignment.xy[i, 0]),
            y=float(alignment.xy[i, 1]),
            height_m=float(profile.bed_m[i] - profile.bed_m[i + 1]),
            lip_level_m=float(profile.bed_m[i]),
            lip_width_m=parameters.lip_width,
        )
        for number, i in enumerate(np.flatnonzero(profile.kinds == FALL), 1)
    )


def pools_of(
    alignment: Alignment, profile: Profile, place: Place, parameters: LayoutParameters
) -> tuple[Pool, ...]:
    """Give the pools in order downstream, none over another, all on free ground."""
    runs = [run for run in _runs(profile) if profile.kinds[run[0]] == POOL]
    pools: list[Pool] = []
    for number, (first, last) in enumerate(runs, 1):
        outline = _pool_outline(alignment, (first, last), place, parameters)
        for above in pools:
            outline = _largest(shapely.difference(outline, above.geometry))
        pool = Pool(
            sequence=number,
            geometry=outline,
            sill_level_m=float(profile.bed_m[first]),
            depth_m=profile.hollow_m,
            from_m=float(alignment.stations_m[first]),
            to_m=float(alignment.stations_m[last]),
        )
        pools.append(pool)
    return tuple(pools)


def _pool_outline(
    alignment: Alignment, run: tuple[int, int], place: Place, parameters: LayoutParameters
) -> Polygon:
    """Widest in the middle, as wide as the bed at its ends; no wider than the bed where tight."""
    first, last = run
    stations_m = alignment.stations_m
    share = np.clip((stations_m - stations_m[first]) / (stations_m[last] - stations_m[first]), 0, 1)
    for widening in (parameters.pool_widening, 1.0):
        half_m = parameters.bed_width / 2.0 * (1.0 + (widening - 1.0) * np.sin(np.pi * share))
        outline = _band(alignment.xy, half_m, first, last)
        if shapely.covers(place.free, outline):
            return outline
    body = _bed_line(alignment.line, parameters)
    return _largest(shapely.intersection(outline, body))


def _band(xy: Floats, half_widths_m: Floats, first: int, last: int) -> Polygon:
    """Area on both sides of a line from one vertex to another, of given half widths."""
    part = slice(first, last + 1)
    out = half_widths_m[part, np.newaxis] * _normals(xy)[part]
    left, right = xy[part] + out, xy[part] - out
    corners = np.stack([left[:-1], left[1:], right[:-1], right[1:]], axis=1)
    quads = [shapely.convex_hull(shapely.multipoints(four)) for four in corners]
    return _largest(shapely.union_all(quads))


def _normals(xy: Floats) -> Floats:
    """Unit vectors to the left of a line at its vertices."""
    ahead = np.gradient(xy, axis=0)
    ahead = ahead / np.hypot(*ahead.T)[:, np.newaxis]
    return np.column_stack([-ahead[:, 1], ahead[:, 0]])


def _largest(area: BaseGeometry) -> Polygon:
    parts = [part for part in shapely.get_parts(area) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: part.area, default=Polygon())


def _bed_line(line: LineString, parameters: LayoutParameters) -> Polygon:
    return _largest(
        shapely.buffer(line, parameters.bed_width / 2.0, cap_style="flat", quad_segs=_ARC)
    )


def stream_bed(
    alignment: Alignment, pools: tuple[Pool, ...], parameters: LayoutParameters
) -> Polygon:
    """Give the ground that bed and pools cover."""
    body = _bed_line(alignment.line, parameters)
    return _largest(shapely.union_all([body, *(pool.geometry for pool in pools)]))


def dig_outline(
    alignment: Alignment, profile: Profile, bed: Polygon, parameters: LayoutParameters
) -> Polygon:
    """Give the ground that is broken: the bed and the sides of its cut."""
    deep_m = np.maximum(alignment.ground_m + parameters.bed_thickness - profile.bed_m, 0.0)
    deep_m = np.where(alignment.in_pit, 0.0, deep_m)
    half_m = parameters.bed_width / 2.0 + parameters.cut_side * deep_m
    return _largest(shapely.union(bed, _band(alignment.xy, half_m, 0, len(half_m) - 1)))


def berm_outline(
    alignment: Alignment, profile: Profile, parameters: LayoutParameters
) -> Polygon | MultiPolygon | None:
    """Give the ground that the berm covers, outside the basin's excavation; None for no berm."""
    above_m = np.where(alignment.in_pit, 0.0, np.maximum(profile.bed_m - alignment.ground_m, 0.0))
    raised = above_m > 0.0
    half_m = crown_width(parameters) / 2.0 + parameters.berm_side * above_m
    half_m = np.where(raised, half_m, parameters.bed_width / 2.0)
    under = np.concatenate([[False], raised[:-1] | raised[1:], [False]]).astype(np.int8)
    edges = np.flatnonzero(np.diff(under))
    parts: list[BaseGeometry] = [
        _band(alignment.xy, half_m, int(first), int(last))
        for first, last in zip(edges[::2], edges[1::2], strict=True)
    ]
    if raised[0]:
        parts.append(_berm_end(alignment, float(above_m[0]), parameters))
    covered = shapely.union_all(parts)
    return covered if isinstance(covered, Polygon | MultiPolygon) and covered.area > 0 else None


def _berm_end(alignment: Alignment, above_m: float, parameters: LayoutParameters) -> BaseGeometry:
    """Foot of the slope behind the lip: the crown's end, widened all round by the slope's run."""
    out = _normals(alignment.xy)[0] * crown_width(parameters) / 2.0
    crown_end = LineString([alignment.xy[0] - out, alignment.xy[0] + out])
    return shapely.buffer(crown_end, parameters.berm_side * above_m, quad_segs=_ARC)
