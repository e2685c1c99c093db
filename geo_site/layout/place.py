"""What the stream has round it: free ground, the basin, levels."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.constraints import Ground
from geo_site.layout.parameters import LayoutParameters
from geo_site.raster import Raster, as_multipolygon
from geo_site.siting import Placement

__all__ = ["Place", "place_of"]

_SLACK_M = 0.002  # more than the sagitta of a buffer's arc: the bed stays inside for certain
_MARGIN_M = 3.0
_ARC = 16


@dataclass(frozen=True, kw_only=True)
class Place:
    """The surroundings of one basin, cut to the stream's reach.

    Attributes
    ----------
    ground : Raster
        Levels, m.
    free : shapely.MultiPolygon
        Where bed and berm may lie.
    way : shapely.MultiPolygon
        Where the bed's centre line may lie: bed, sides of its shallowest cut and some room
        beside them stay free.
    hand_dig : geometry
        Free ground that may be dug by hand only.
    dug_half_m : float
        Half the width dug for a bed level with the ground.
    footprint, pit : shapely.Polygon
        The basin and its excavation.
    rim_level_m, end_level_m : float
        The basin's rim and the end of the stream.
    """

    ground: Raster
    free: MultiPolygon
    way: MultiPolygon
    hand_dig: BaseGeometry
    dug_half_m: float
    footprint: Polygon
    pit: BaseGeometry
    rim_level_m: float
    end_level_m: float


def place_of(
    lot: tuple[MultiPolygon, Raster],
    stream_ground: Ground,
    placement: Placement,
    parameters: LayoutParameters,
) -> Place:
    """Gather what lies within the stream's reach of a basin, of the parcel and its levels."""
    parcel, levels = lot
    reach_m = parameters.greatest_length + _MARGIN_M
    west, south, east, north = placement.footprint.bounds
    near = shapely.box(west - reach_m, south - reach_m, east + reach_m, north + reach_m)
    free = as_multipolygon(stream_ground.free.intersection(near).intersection(parcel))
    dug_m = parameters.bed_width / 2.0 + parameters.cut_side * parameters.bed_thickness
    kept_m = dug_m + parameters.side_room + _SLACK_M
    way = as_multipolygon(shapely.buffer(free, -kept_m, quad_segs=_ARC))
    strips = shapely.union_all([strip.geometry for strip in stream_ground.hand_dig])
    pit = shapely.union(placement.footprint, placement.excavation)
    for area in (free, way, placement.footprint, pit):
        shapely.prepare(area)
    return Place(
        ground=levels,
        free=free,
        way=way,
        hand_dig=shapely.intersection(strips, near),
        dug_half_m=dug_m,
        footprint=placement.footprint,
        pit=pit,
        rim_level_m=placement.rim_level_m,
        end_level_m=placement.rim_level_m + parameters.entry_height,
    )
