"""How the ground is read, and what is found: settings and results of the terrain step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from shapely.geometry import LineString, MultiPolygon

from geo_site.parameters import Metres, Parameters, SquareMetres, setting
from geo_site.raster import Raster

__all__ = [
    "Catchment",
    "Contour",
    "Depression",
    "FlowPath",
    "Terrain",
    "TerrainParameters",
]

_PRACTICE = "common practice, no source"


class TerrainParameters(Parameters):
    """How the ground is read."""

    holes: Literal["wall", "outlet"] = setting(
        "outlet",
        unit="-",
        meaning="what a hole in the terrain does to water: an outlet may swallow it, and what "
        "reaches it counts as leaving; a wall turns it away",
        source="our choice",
    )
    building_height: Metres = setting(
        5.0,
        unit="m",
        meaning="how far the ground under buildings is raised so that water runs round them",
        source="our choice: higher than any ponding on a lot",
        within="(0, inf)",
    )
    flat_structures: tuple[str, ...] = setting(
        ("patio", "deck", "drive", "walk", "paving"),
        unit="-",
        meaning="kinds of structure that water runs over or under",
        source=_PRACTICE,
    )
    least_depression_depth: Metres = setting(
        0.05,
        unit="m",
        meaning="shallowest low place that is reported",
        source="our choice: about half the usual vertical error of lidar",
        within="[0, inf)",
    )
    flow_path_threshold: SquareMetres = setting(
        200.0,
        unit="m2",
        meaning="upstream area from which on a flow path is drawn",
        source=_PRACTICE,
        within="(0, inf)",
    )
    surroundings: Metres = setting(
        50.0,
        unit="m",
        meaning="how far round the parcel flow paths and low places are reported",
        source="our choice",
        within="[0, inf)",
    )
    contour_interval: Metres = setting(
        0.5,
        unit="m",
        meaning="level between contours",
        source=_PRACTICE,
        within="(0, inf)",
    )
    contour_index_every: int = setting(
        5,
        unit="-",
        meaning="every how many contours one is an index contour",
        source="mapping practice, no source",
        within="[1, inf)",
    )


@dataclass(frozen=True, kw_only=True)
class Depression:
    """A low place that holds water before it spills.

    Attributes
    ----------
    geometry : shapely.MultiPolygon
        Its cells.
    depth_m : float
        Greatest depth of water when full.
    volume_m3 : float
        What it holds.
    spill_level_m : float
        Level at which it spills.
    """

    geometry: MultiPolygon
    depth_m: float
    volume_m3: float
    spill_level_m: float


@dataclass(frozen=True, kw_only=True)
class FlowPath:
    """A line that water follows, downstream.

    Attributes
    ----------
    line : shapely.LineString
        Through cell centres; empty where water leaves the data at once.
    accumulation_m2 : float
        Ground that drains through its lower end, before it joins another path.
    """

    line: LineString
    accumulation_m2: float


@dataclass(frozen=True, kw_only=True)
class Catchment:
    """The ground whose water runs onto a work.

    Attributes
    ----------
    work : str
        Which work.
    geometry : shapely.MultiPolygon
        Its cells, those under the work included.
    area_m2 : float
        Their area.
    outside_parcel_m2 : float
        Of that, outside the parcel.
    reaches_terrain_edge : bool
        True where water could come from ground that the data does not show: the area is then
        a lower bound.
    """

    work: str
    geometry: MultiPolygon
    area_m2: float
    outside_parcel_m2: float
    reaches_terrain_edge: bool


@dataclass(frozen=True, kw_only=True)
class Contour:
    """A line of one level.

    Attributes
    ----------
    line : shapely.LineString
        The line.
    level_m : float
        Its level.
    is_index : bool
        Whether it is drawn heavier.
    """

    line: LineString
    level_m: float
    is_index: bool


@dataclass(frozen=True, kw_only=True)
class Terrain:
    """The ground and its water, on the terrain's own grid.

    Attributes
    ----------
    ground : Raster
        Levels as given, m.
    slope, east_gradient, north_gradient : Raster
        Rise over run: the steepest way, towards east, towards north.
    routed : Raster
        Levels that water is followed on, m: buildings raised, culverts cut through.
    filled : Raster
        ``routed`` with its depressions filled to their spill level, m.
    direction : Raster
        uint8, codes of ``geo_site.drainage``.
    accumulation_m2 : Raster
        Ground that drains through each cell, itself included.
    beyond_edge : Raster
        bool: may receive water from outside the data.
    depressions : tuple of Depression
        Those that reach the parcel's surroundings.
    flow_paths : tuple of FlowPath
        Those in the parcel's surroundings.
    notes : tuple of str
        What could not be used, a sentence each.
    """

    ground: Raster
    slope: Raster
    east_gradient: Raster
    north_gradient: Raster
    routed: Raster
    filled: Raster
    direction: Raster
    accumulation_m2: Raster
    beyond_edge: Raster
    depressions: tuple[Depression, ...]
    flow_paths: tuple[FlowPath, ...]
    notes: tuple[str, ...] = ()
