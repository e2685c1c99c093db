"""The layout of one stream: spillway, route and bed levels found together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geo_site.constraints import Ground
from geo_site.layout.alignment import Alignment, draw, length_within
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.pipe import lay_pipe
from geo_site.layout.place import Place, place_of
from geo_site.layout.profile import Profile, fit_bed, why_no_bed
from geo_site.layout.results import Layout, NoStream, Pool
from geo_site.layout.route import best_ends, find_ways, why_no_end
from geo_site.layout.sections import berm_volume_m3, cut_areas, hollow_share
from geo_site.layout.shapes import (
    KIND_NAMES,
    berm_outline,
    dig_outline,
    falls_of,
    pools_of,
    reaches_of,
    stream_bed,
    with_levels,
)
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
        Only its ``parcel`` is read: nothing leaves it.
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
    ways = find_ways(place, parameters)
    streams: list[_Stream] = []
    bare: list[Alignment] = []
    tried = 0
    for end in best_ends(ways, place, parameters):
        tried += 1
        alignment = draw(ways.path(end), place, parameters)
        profile = None if alignment is None else fit_bed(alignment, place, parameters)
        if alignment is not None and profile is not None:
            streams.append(_Stream(alignment=alignment, profile=profile))
        elif alignment is not None:
            bare.append(alignment)
        if len(streams) == parameters.ends_tried or tried == _PATIENCE * parameters.ends_tried:
            break
    if streams:
        return _layout(min(streams, key=lambda one: _cost(one, parameters)), place, parameters)
    if bare:
        return NoStream(reason=why_no_bed(bare[0], place, parameters))
    return NoStream(reason=why_no_end(ways, parameters) if tried == 0 else _too_tight(parameters))


@dataclass(frozen=True, kw_only=True)
class _Stream:
    alignment: Alignment
    profile: Profile


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


def _layout(stream: _Stream, place: Place, parameters: LayoutParameters) -> Layout:
    alignment, profile = stream.alignment, stream.profile
    pools = pools_of(alignment, profile, place, parameters)
    bed = stream_bed(alignment, pools, parameters)
    dig = dig_outline(alignment, profile, bed, parameters)
    pipe, under_bed = lay_pipe(alignment, profile, place, parameters)
    above_m = _berm_heights(alignment, profile)
    names = np.array([KIND_NAMES[int(kind)] for kind in profile.kinds])
    straight_m = float(np.hypot(*(alignment.xy[-1] - alignment.xy[0])))
    return Layout(
        alignment=with_levels(alignment, profile),
        stations_m=alignment.stations_m,
        ground_m=alignment.ground_m,
        bed_m=profile.bed_m,
        kinds=np.append(names, names[-1]),
        reaches=reaches_of(alignment, profile),
        falls=falls_of(alignment, profile, parameters),
        pools=pools,
        bed=bed,
        dig=dig,
        pipe=pipe,
        trench_width_m=parameters.pipe_trench_width,
        pipe_under_bed=under_bed,
        lip_level_m=float(profile.bed_m[0]),
        fall_m=profile.fall_m,
        length_m=alignment.length_m,
        sinuosity=alignment.length_m / straight_m,
        ground_fall_m=float(alignment.ground_m[0]) - place.rim_level_m,
        berm_height_m=float(np.max(above_m)),
        berm_m3=berm_volume_m3(above_m, alignment.stations_m, parameters),
        stream_cut_m3=_cut_m3(alignment, profile, pools, parameters),
        berm=berm_outline(alignment, profile, parameters),
        hand_dig_m=length_within(alignment.line, dig, place.hand_dig),
        step_ratio=profile.step_ratio,
    )


def _berm_heights(alignment: Alignment, profile: Profile) -> NDArray[np.float64]:
    above_m = np.maximum(profile.bed_m - alignment.ground_m, 0.0)
    return np.where(alignment.in_pit, 0.0, above_m)


def _cut_m3(
    alignment: Alignment, profile: Profile, pools: tuple[Pool, ...], parameters: LayoutParameters
) -> float:
    """Cut for bed and hollows where the basin's excavation has not dug already."""
    above_m = profile.bed_m - alignment.ground_m
    areas = np.where(alignment.in_pit, 0.0, cut_areas(above_m, parameters))
    cut_m3 = float(np.trapezoid(areas, alignment.stations_m))
    share = hollow_share(above_m, profile.hollow_m, parameters) * ~alignment.in_pit
    for pool in pools:
        inside = (alignment.stations_m >= pool.from_m) & (alignment.stations_m <= pool.to_m)
        hollow_m3 = np.pi / 4.0 * pool.depth_m * pool.geometry.area
        cut_m3 += hollow_m3 * float(np.mean(share[inside]))
    return cut_m3
