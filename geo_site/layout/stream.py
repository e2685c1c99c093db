"""The layout of one stream: spillway, route and bed levels found together."""

from __future__ import annotations

from dataclasses import dataclass

from geo_site.constraints import Ground
from geo_site.layout.alignment import Alignment, draw
from geo_site.layout.building import build
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.place import place_of
from geo_site.layout.profile import Profile, fit_bed, why_no_bed
from geo_site.layout.results import Layout, NoStream
from geo_site.layout.route import best_ends, find_ways, why_no_end
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
        best = min(streams, key=lambda one: _cost(one, parameters))
        return build(best.alignment, best.profile, place, parameters)
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
