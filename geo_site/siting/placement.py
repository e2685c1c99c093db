"""A basin in its place: footprint, pit floor, and the excavation on the real ground."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shapely.geometry import Polygon

from geo_site.siting.design import Arrangement

__all__ = ["Placement"]


@dataclass(frozen=True, kw_only=True)
class Placement:
    """A place where the basin fits.

    Attributes
    ----------
    x, y : float
        Centre, m.
    rotation_deg : float
        Long side counter-clockwise from east, 0 to 180.
    arrangement : Arrangement
        Of the void units.
    footprint : shapely.Polygon
        Outline of the void units.
    pit_floor : shapely.Polygon
        Footprint and overdig.
    excavation : shapely.Polygon
        Where the battered sides meet the real ground.
    rim_level_m : float
        Lowest ground on the footprint's outline, m: water cannot stand above it.
    floor_level_m : float
        Rim less depth, m.
    greatest_depth_m : float
        Highest ground in the excavation less floor, m.
    score : float
        Weighted mean of the marks, 0 to 1.
    marks : mapping of str to float
        0 to 1 by name; what could not be judged is left out.
    """

    x: float
    y: float
    rotation_deg: float
    arrangement: Arrangement
    footprint: Polygon
    pit_floor: Polygon
    excavation: Polygon
    rim_level_m: float
    floor_level_m: float
    greatest_depth_m: float
    score: float
    marks: Mapping[str, float]
