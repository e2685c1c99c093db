"""A basin in its place: footprint, pit floor, and the excavation on the real ground."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, isfinite, radians

import numpy as np
from numpy.typing import NDArray
from shapely import contains_xy, prepare
from shapely.affinity import rotate, translate
from shapely.geometry import MultiPolygon, Polygon, box

from geo_site import outlines
from geo_site.outlines import Pit, Surface
from geo_site.raster import Raster
from geo_site.siting.design import Arrangement, BasinDesign

__all__ = [
    "Dug",
    "Fit",
    "Placement",
    "as_surface",
    "highest_ground",
    "make_pit",
    "turned_rectangle",
]

_POINT_STEP_M = 0.2  # along edges and over the floor
_FAN_DEG = 5.0  # chord of a 1 m corner within 1 mm of its arc


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


@dataclass(frozen=True, kw_only=True)
class Dug:
    """An excavation that passed the exact test.

    Attributes
    ----------
    excavation : shapely.Polygon
        Where the sides meet the ground.
    rim_level_m : float
        Lowest ground on the footprint's outline, m.
    greatest_depth_m : float
        Highest ground in the excavation less floor, m.
    """

    excavation: Polygon
    rim_level_m: float
    greatest_depth_m: float


class Fit:
    """The exact test: a pit fits where its excavation lies in the free ground.

    Parameters
    ----------
    ground : Raster
        Levels, m.
    free : shapely.MultiPolygon
        Ground that the excavation may take.
    greatest_rise_m : float
        Largest difference of ground level over the pit floor.
    deepest_m : float
        The excavation must stay shallower.
    """

    def __init__(
        self, ground: Raster, free: MultiPolygon, greatest_rise_m: float, deepest_m: float = inf
    ) -> None:
        self.surface = as_surface(ground)
        self._ground = ground
        self._free = MultiPolygon(free)
        prepare(self._free)
        self._greatest_rise_m = greatest_rise_m
        self._deepest_m = deepest_m

    def dig(self, pit: Pit, x: float, y: float, rotation_deg: float) -> Dug | None:
        """Dig a pit centred at x, y; None where it does not fit."""
        rim_m, rise_m, edge = outlines.pit_edge(self.surface, pit, x, y, radians(rotation_deg))
        if not (isfinite(rim_m) and rise_m <= self._greatest_rise_m and np.isfinite(edge).all()):
            return None
        excavation = Polygon(edge)
        if not self._free.covers(excavation):
            return None
        highest_m = highest_ground(self._ground, self.surface, excavation, edge)
        depth_m = highest_m - (rim_m - pit.depth_m)
        if not depth_m < self._deepest_m:
            return None
        return Dug(excavation=excavation, rim_level_m=rim_m, greatest_depth_m=depth_m)


def highest_ground(
    ground: Raster, surface: Surface, area: Polygon, edge: NDArray[np.float64]
) -> float:
    """Highest ground in an area: bilinear ground is highest at centres or on the edge."""
    x, y = ground.centres()
    west, south, east, north = area.bounds
    columns = np.flatnonzero((x >= west) & (x <= east))
    rows = np.flatnonzero((y >= south) & (y <= north))
    c, r = (grid.ravel() for grid in np.meshgrid(columns, rows))
    inside = contains_xy(area, x[c], y[r])
    on_edge = outlines.levels_at(surface, edge)
    return float(np.max(np.concatenate([on_edge, surface.levels_m[r, c][inside]])))


def as_surface(raster: Raster) -> Surface:
    """Hand a raster to the compiled loops."""
    west, _, _, north = raster.bounds
    levels = np.ascontiguousarray(raster.values, dtype=np.float64)
    return Surface(levels, west, north, raster.cell_width_m, raster.cell_height_m)


def make_pit(arrangement: Arrangement, design: BasinDesign) -> Pit:
    """Make the pit of an arrangement, turned to no direction yet."""
    sides = arrangement.length_m, arrangement.width_m
    floor = tuple(side + 2.0 * design.overdig_m for side in sides)
    return Pit(
        outlines.outline_points(*sides, _POINT_STEP_M),
        outlines.floor_points(floor[0], floor[1], _POINT_STEP_M),
        outlines.edge_rays(floor[0], floor[1], _POINT_STEP_M, _FAN_DEG),
        design.depth_m,
        design.batter,
    )


def turned_rectangle(
    length_m: float, width_m: float, rotation_deg: float, x: float, y: float
) -> Polygon:
    """Make a rectangle round a centre, its length turned counter-clockwise from east."""
    flat = box(-length_m / 2.0, -width_m / 2.0, length_m / 2.0, width_m / 2.0)
    return translate(rotate(flat, rotation_deg, origin=(0.0, 0.0)), x, y)
