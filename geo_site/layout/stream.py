"""The layout of one stream: spillway, route and bed levels found together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Point

from geo_site.constraints import Ground
from geo_site.drawn import Drawn
from geo_site.layout.alignment import Alignment, draw
from geo_site.layout.building import build
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.passing import cell_at, out_of_reach, ways_through
from geo_site.layout.place import Place, place_of
from geo_site.layout.profile import Profile, fit_bed, why_no_bed
from geo_site.layout.results import Layout, NoStream
from geo_site.layout.route import Ways, best_ends, why_no_end
from geo_site.site import Site
from geo_site.siting import Placement
from geo_site.terrain import Terrain

__all__ = ["lay_out"]

_PATIENCE = 4  # ends looked at for each one that is to be worked out


def lay_out(
    site: Site,
    terrain: Terrain,
    ground: Ground,
    placement: Placement,
    parameters: LayoutParameters,
) -> Layout | NoStream:
    """Find spillway, route and bed levels of the stream of one basin.

    The best few places for the spillway are worked out in full, and the cheapest stream is kept.

    Parameters
    ----------
    site : Site
        Only its ``parcel`` is read, which nothing leaves, and of what is ``fixed`` the spillway
        and the points to be passed.
    terrain : Terrain
        Only its ``ground`` is read.
    ground : Ground
        Of the work "stream".
    placement : Placement
        The basin.
    parameters : LayoutParameters
        Limits, costs.

    Returns
    -------
    Layout or NoStream
        The stream, or the limit that leaves none.
    """
    place = place_of((site.parcel, terrain.ground), ground, placement, parameters)
    found = ways_through(list(site.fixed.must_pass.geoms), place, parameters)
    if isinstance(found, NoStream):
        return found
    tried = [_try(ways, place, site.fixed, parameters) for ways in found]
    streams = [stream for one in tried for stream in one.streams]
    if streams:
        best = min(streams, key=lambda one: _cost(one, parameters))
        return build(best.alignment, best.profile, place, parameters)
    bare = [alignment for one in tried for alignment in one.bare]
    if bare:
        return NoStream(reason=why_no_bed(bare[0], place, parameters))
    return NoStream(reason=tried[0].reason)


@dataclass(frozen=True, kw_only=True)
class _Stream:
    alignment: Alignment
    profile: Profile


@dataclass(frozen=True, kw_only=True)
class _Tried:
    """What came of one set of ways: streams, lines without a bed, or why there is no line."""

    streams: list[_Stream]
    bare: list[Alignment]
    reason: str


def _try(ways: Ways, place: Place, fixed: Drawn, parameters: LayoutParameters) -> _Tried:
    """Work out the best few ends of some ways, or the one that is given."""
    streams: list[_Stream] = []
    bare: list[Alignment] = []
    reason = why_no_end(ways, parameters)
    passes = list(fixed.must_pass.geoms)
    for tried, path in enumerate(_paths(ways, place, fixed.spillway, parameters), 1):
        reason = _too_tight(parameters)
        alignment = draw(path, place, parameters, passes)
        profile = None if alignment is None else fit_bed(alignment, place, parameters)
        if alignment is not None and profile is not None:
            streams.append(_Stream(alignment=alignment, profile=profile))
        elif alignment is not None:
            bare.append(alignment)
        if len(streams) == parameters.ends_tried or tried == _PATIENCE * parameters.ends_tried:
            break
    if fixed.spillway is not None:
        reason = _no_way_from(fixed.spillway, ways, place, parameters)
    return _Tried(streams=streams, bare=bare, reason=reason)


def _paths(
    ways: Ways, place: Place, spillway: Point | None, parameters: LayoutParameters
) -> Iterator[NDArray[np.float64]]:
    """Ways to the best ends, best first; with a spillway given, only the way from there."""
    if spillway is None:
        for end in best_ends(ways, place, parameters):
            yield ways.path(end)
        return
    cell = cell_at(spillway, ways)
    if cell is not None:
        yield np.vstack([[spillway.x, spillway.y], ways.path(cell)[1:]])


def _no_way_from(spillway: Point, ways: Ways, place: Place, parameters: LayoutParameters) -> str:
    """Say why there is no stream from a spillway that is given."""
    cell = cell_at(spillway, ways)
    if cell is None or not place.way.covers(spillway):
        return out_of_reach("the spillway given", spillway, place, parameters)
    return (
        f"the way from the spillway given is about {ways.length_m[cell]:.1f} m long; it must be "
        f"{parameters.least_length:g} m to {parameters.greatest_length:g} m (least_length, "
        "greatest_length), free, and meet the basin once"
    )


def _cost(stream: _Stream, parameters: LayoutParameters) -> float:
    length_m = stream.alignment.length_m
    odd_m = abs(length_m - parameters.wanted_fall / parameters.usual_slope)
    hand_dig = parameters.hand_dig_cost * stream.alignment.hand_dig_m
    return stream.profile.cost + hand_dig + parameters.length_cost * odd_m


def _too_tight(parameters: LayoutParameters) -> str:
    return (
        f"the free ground is too tight for a line of {parameters.least_length:g} m to "
        f"{parameters.greatest_length:g} m (least_length, greatest_length) that meets the "
        "basin once"
    )
