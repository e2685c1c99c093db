"""A stream that a person drew: its line is kept, and what is missing is worked out along it.

In: a drawn line with or without sill levels, the terrain and a basin. Out: a
:class:`Followed`: the layout, the rules that it breaks, and what had to be assumed. Method: sill
levels that run downhill are kept; where there are none the bed is fitted as for a stream that
was searched for, and where no bed keeps every limit, limits are lifted one after the other.
Reference: the modules beside this one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from geo_site.bed_levels import FALL, POOL, RIFFLE, even_hollow, step_steepness_ratio
from geo_site.constraints import Ground
from geo_site.drawn import Breach, Drawn, DrawnFall, DrawnPool
from geo_site.errors import InputRefused
from geo_site.layout.alignment import Alignment, measure
from geo_site.layout.building import Given, build
from geo_site.layout.limits import broken_limits, missed_points
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.place import Place, place_of
from geo_site.layout.profile import Profile, fit_bed
from geo_site.layout.results import Fall, Layout, Pool
from geo_site.layout.shapes import falls_of, pools_of
from geo_site.site import Site
from geo_site.siting import Placement
from geo_site.terrain import Terrain

__all__ = ["Followed", "follow"]

Floats = NDArray[np.float64]

_LEVEL_M = 1e-6
_NEAR_M = 0.05
_FAR_M = 100.0
_LIFTED: tuple[dict[str, float], ...] = (
    {"least_fall": 0.0},
    {"berm_limit": _FAR_M},
    {"cut_limit": _FAR_M},
    {"steepest_riffle": 0.5},
    {"least_pool_length": 0.0},
    {"greatest_fall_height": _FAR_M, "greatest_fall": 20.0},
)
"""Limits in the order in which they are lifted until a bed is found."""


@dataclass(frozen=True, kw_only=True)
class Followed:
    """A drawn stream, worked out.

    Attributes
    ----------
    layout : Layout
        Along the line as drawn.
    breaches : tuple of Breach
        Limits that it does not keep.
    notes : tuple of str
        What was assumed, a sentence each.
    """

    layout: Layout
    breaches: tuple[Breach, ...]
    notes: tuple[str, ...]


def follow(
    site: Site,
    terrain: Terrain,
    ground: Ground,
    placement: Placement,
    drawn: Drawn,
    parameters: LayoutParameters,
) -> Followed:
    """Work out the stream along a drawn line.

    Parameters
    ----------
    site : Site
        Only its ``parcel`` is read.
    terrain : Terrain
        Only its ``ground`` is read.
    ground : Ground
        Of the work "stream".
    placement : Placement
        The basin.
    drawn : Drawn
        With a stream; pools, falls and pipe are kept where they are drawn.
    parameters : LayoutParameters
        Limits.

    Returns
    -------
    Followed
        Whatever limits it breaks.

    Raises
    ------
    InputRefused
        The line is too short to be one, or lies where the terrain has no data.
    """
    if drawn.stream is None:
        raise ValueError("no stream is drawn")
    place = place_of((site.parcel, terrain.ground), ground, placement, parameters)
    xy, levels_m, told = _vertices(drawn, parameters)
    alignment = measure(xy, place)
    if np.isnan(alignment.ground_m).any():
        raise InputRefused(
            "the stream drawn crosses ground without terrain data",
            remedy="draw it elsewhere, or give terrain that covers it",
        )
    profile = None if levels_m is None else _kept(levels_m, alignment, drawn, parameters)
    if profile is None:
        profile, lifted = _fitted(alignment, place, parameters)
        told = (*told, *lifted)
    given, odd = _given(drawn, alignment, profile, place, parameters)
    layout = build(alignment, profile, place, parameters, given)
    missed = missed_points(alignment.line, drawn.must_pass.geoms)
    breaches = (*_uphill(drawn), *missed, *broken_limits(layout, place, parameters))
    return Followed(layout=layout, breaches=breaches, notes=(*told, *odd))


def _vertices(
    drawn: Drawn, parameters: LayoutParameters
) -> tuple[Floats, Floats | None, tuple[str, ...]]:
    """Vertices of the line; its levels where it has some that run downhill."""
    assert drawn.stream is not None
    coordinates = shapely.get_coordinates(drawn.stream, include_z=drawn.stream.has_z)
    apart = np.append(True, np.hypot(*np.diff(coordinates[:, :2], axis=0).T) > _LEVEL_M)
    coordinates = coordinates[apart]
    if len(coordinates) < 2:
        raise InputRefused("the stream drawn has no length", remedy="draw it as a line")
    if drawn.stream.has_z and _runs_down(coordinates[:, 2]):
        return coordinates[:, :2], coordinates[:, 2], ()
    xy = _with_stations(coordinates[:, :2], parameters.station_step)
    return xy, None, ("the stream drawn has no sill levels: they are worked out",)


def _runs_down(levels_m: Floats) -> bool:
    known = bool(np.isfinite(levels_m).all())
    return known and bool(np.all(np.diff(levels_m) <= _LEVEL_M)) and levels_m[0] > levels_m[-1]


def _uphill(drawn: Drawn) -> Iterator[Breach]:
    """Say where drawn levels rise: water does not."""
    assert drawn.stream is not None
    if not drawn.stream.has_z:
        return
    levels_m = shapely.get_coordinates(drawn.stream, include_z=True)[:, 2]
    rise_m = float(np.max(np.diff(levels_m), initial=0.0))
    if np.isfinite(levels_m).all() and rise_m > _LEVEL_M:
        yield Breach(
            work="stream",
            rule="uphill",
            against="",
            asked=0.0,
            found=rise_m,
            unit="m",
            sentence=f"the sill levels drawn rise downstream, by up to {rise_m:.2f} m: they are "
            "worked out anew; give levels that never rise, or none",
        )


def _with_stations(xy: Floats, step_m: float) -> Floats:
    """The drawn vertices, and even stations between them."""
    lengths_m = np.hypot(*np.diff(xy, axis=0).T)
    parts = [
        np.linspace(first, last, max(round(length_m / step_m), 1), endpoint=False)
        for first, last, length_m in zip(xy[:-1], xy[1:], lengths_m, strict=True)
    ]
    return np.vstack([*parts, xy[-1:]])


def _kept(
    levels_m: Floats, alignment: Alignment, drawn: Drawn, parameters: LayoutParameters
) -> Profile:
    """The bed as drawn."""
    kinds = _kinds_drawn(drawn, alignment)
    if kinds is None:
        kinds = _kinds_told(levels_m, alignment, parameters)
    falls = np.flatnonzero(kinds == FALL)
    heights_m = levels_m[falls] - levels_m[falls + 1]
    lands = np.array([i + 1 < len(kinds) and kinds[i + 1] == POOL for i in falls], bool)
    drop_m = float(levels_m[0] - levels_m[-1])
    bounds_m = (parameters.least_pool_depth, parameters.greatest_pool_depth)
    depths_m = [pool.depth_m for pool in drawn.pools if np.isfinite(pool.depth_m)]
    worked_m = even_hollow(heights_m, int(np.sum(lands)), drop_m, bounds_m)
    hollow_m = max(depths_m, default=worked_m)
    return Profile(
        bed_m=levels_m,
        kinds=kinds,
        cost=0.0,
        hollow_m=hollow_m,
        step_ratio=step_steepness_ratio(heights_m + hollow_m * lands, alignment.length_m, drop_m),
    )


def _kinds_drawn(drawn: Drawn, alignment: Alignment) -> NDArray[np.int64] | None:
    """Kinds by the reaches, where together they are the line vertex by vertex."""
    codes = {"pool": POOL, "riffle": RIFFLE, "fall": FALL}
    told = [
        (codes[reach.kind], len(reach.line.coords) - 1)
        for reach in drawn.reaches
        if reach.kind in codes
    ]
    steps = [code for code, count in told for _ in range(count)]
    if len(told) < len(drawn.reaches) or len(steps) != len(alignment.stations_m) - 1:
        return None
    return np.array(steps, dtype=np.int64)


def _kinds_told(
    levels_m: Floats, alignment: Alignment, parameters: LayoutParameters
) -> NDArray[np.int64]:
    """Kinds by the levels alone: steep steps fall, level runs long enough are pools."""
    steps_m, drops_m = np.diff(alignment.stations_m), -np.diff(levels_m)
    kinds = np.where(drops_m > parameters.steepest_riffle * steps_m + _LEVEL_M, FALL, RIFFLE)
    level = np.abs(drops_m) <= _LEVEL_M
    level[alignment.pool_end :] = False
    edges = np.flatnonzero(np.diff(np.concatenate([[False], level, [False]]).astype(np.int8)))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        length_m = alignment.stations_m[last] - alignment.stations_m[first]
        if length_m >= parameters.least_pool_length - _LEVEL_M:
            kinds[first:last] = POOL
    return kinds.astype(np.int64)


def _fitted(
    alignment: Alignment, place: Place, parameters: LayoutParameters
) -> tuple[Profile, tuple[str, ...]]:
    """The cheapest bed, if need be without some limits, if need be the ground's own."""
    used, lifted = parameters, dict[str, float]()
    profile = fit_bed(alignment, place, used)
    for more in _LIFTED:
        if profile is not None:
            break
        lifted |= more
        used = parameters.model_copy(update=lifted)
        profile = fit_bed(_roomy(alignment), place, used)
    if profile is None:
        lifted["all"] = 0.0
        profile = _on_ground(alignment, place, parameters)
    if not lifted:
        return profile, ()
    return profile, (
        "no bed on the line drawn keeps every limit: it is worked out without some, and what it "
        "breaks is listed",
    )


def _roomy(alignment: Alignment) -> Alignment:
    return replace(alignment, room_m=np.full_like(alignment.room_m, _FAR_M))


def _on_ground(alignment: Alignment, place: Place, parameters: LayoutParameters) -> Profile:
    """A riffle on the ground, never rising, never below the basin."""
    ground_m = np.minimum.accumulate(alignment.ground_m)
    least_m = place.end_level_m + parameters.level_step * np.linspace(1.0, 0.0, len(ground_m))
    bed_m = np.maximum(ground_m, least_m)
    return Profile(
        bed_m=bed_m,
        kinds=np.full(len(bed_m) - 1, RIFFLE, dtype=np.int64),
        cost=0.0,
        hollow_m=parameters.least_pool_depth,
        step_ratio=np.nan,
    )


def _given(
    drawn: Drawn,
    alignment: Alignment,
    profile: Profile,
    place: Place,
    parameters: LayoutParameters,
) -> tuple[Given, tuple[str, ...]]:
    falls, odd_falls = _falls(drawn.falls, falls_of(alignment, profile, parameters))
    pools, odd_pools = _pools(
        drawn.pools, pools_of(alignment, profile, place, parameters), alignment.line
    )
    return Given(falls=falls, pools=pools, pipe=drawn.pipe), (*odd_falls, *odd_pools)


def _falls(
    drawn: tuple[DrawnFall, ...], found: tuple[Fall, ...]
) -> tuple[tuple[Fall, ...], tuple[str, ...]]:
    """Falls where the levels drop, with the lip widths of the points drawn on them."""
    made, used = [], set()
    for fall in found:
        here = Point(fall.x, fall.y)
        near = [i for i, one in enumerate(drawn) if one.lip.distance(here) <= _NEAR_M]
        used |= set(near)
        width_m = drawn[near[0]].lip_width_m if near else np.nan
        made.append(fall if np.isnan(width_m) else replace(fall, lip_width_m=width_m))
    odd = len(drawn) - len(used)
    told = f"{odd} of the falls drawn stand where the stream's levels do not drop: not counted"
    return tuple(made), (told,) if odd else ()


def _pools(
    drawn: tuple[DrawnPool, ...], found: tuple[Pool, ...], line: LineString
) -> tuple[tuple[Pool, ...], tuple[str, ...]]:
    """Pools where the bed is level, with outline and depth of those drawn there."""
    made, left = [], list(drawn)
    for pool in found:
        reach = shapely.ops.substring(line, pool.from_m, pool.to_m)
        shared_m = [one.outline.intersection(reach).length for one in left]
        if not shared_m or max(shared_m) <= 0.0:
            made.append(pool)
            continue
        one = left.pop(int(np.argmax(shared_m)))
        depth_m = pool.depth_m if np.isnan(one.depth_m) else one.depth_m
        made.append(replace(pool, geometry=one.outline, depth_m=depth_m))
    told = f"{len(left)} of the pools drawn lie where the stream's bed is not level: not counted"
    return tuple(made), (told,) if left else ()
