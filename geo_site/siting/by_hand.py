"""A basin that a person drew: the same placement and design as a place that was searched for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import atan2, degrees, floor, radians
from typing import Any

import numpy as np
import shapely
from contourpy import LineType, contour_generator
from shapely.affinity import rotate
from shapely.geometry import Polygon

from geo_site import outlines
from geo_site.errors import InputRefused
from geo_site.outlines import Surface
from geo_site.raster import Raster
from geo_site.siting.design import Arrangement, BasinDesign, SitingParameters, design_basin
from geo_site.siting.placement import (
    Placement,
    as_surface,
    highest_ground,
    make_pit,
    turned_rectangle,
)

__all__ = ["DrawnBasin", "place_drawn"]

_SIDE_M = 0.01  # a side within this of whole units is meant to be of whole units
_RECTANGLE = 1e-3  # share of the area by which a rectangle may miss its own
_POINT_STEP_M = 0.2
_CELL_M = 0.05  # of the grid on which an outline that is no rectangle is dug
_FOUR = 4
_STRAIGHT_M = 1e-4
_TURN_DIGITS = 6  # of a degree: 0.1 micrometre at 5 m
_DIGITS = 9  # a turn of the last digits would move the pit's edge and every number after it
_MOST_LAYERS = 4
_DOUBLINGS = 6  # of the distance within which the edge is looked for
_LEAST_RING = 3


@dataclass(frozen=True, kw_only=True)
class DrawnBasin:
    """A basin as drawn.

    Attributes
    ----------
    placement : Placement
        Its footprint is the outline drawn, to the last digit.
    design : BasinDesign
        With as many whole void units as the outline takes.
    rise_m : float
        Highest less lowest ground over the pit floor.
    notes : tuple of str
        What had to be assumed, a sentence each.
    """

    placement: Placement
    design: BasinDesign
    rise_m: float
    notes: tuple[str, ...]


def place_drawn(
    ground: Raster, outline: Polygon, depth_m: float, parameters: SitingParameters
) -> DrawnBasin:
    """Give a drawn outline its void units and its pit.

    Parameters
    ----------
    ground : Raster
        Levels, m.
    outline : shapely.Polygon
        Of the void units, as drawn.
    depth_m : float
        From the rim to the pit floor; NaN: by the settings.
    parameters : SitingParameters
        Units, cover, batter.

    Returns
    -------
    DrawnBasin
        Whatever rules it breaks.

    Raises
    ------
    InputRefused
        No void unit fits into it, or the terrain has no data under its pit.
    """
    layers, told = _layers(depth_m, parameters)
    turned = _rectangle_of(outline)
    length_m, width_m, rotation_deg = turned
    has_area = abs(length_m * width_m - outline.area) <= _RECTANGLE * outline.area
    is_rectangle = has_area and len(_corners(outline)) == _FOUR
    laid, fitted = (
        _in_rectangle(length_m, width_m, parameters)
        if is_rectangle
        else _in_outline(outline, turned, parameters)
    )
    used = parameters.model_copy(
        update={"layers": layers, "units": laid.rows * laid.columns * layers}
    )
    design = replace(design_basin(0.0, used), arrangements=(laid,))
    dig = _dug_rectangle if is_rectangle else _dug_outline
    placement, rise_m = dig(ground, outline, rotation_deg, design)
    return DrawnBasin(placement=placement, design=design, rise_m=rise_m, notes=(*told, *fitted))


def _layers(depth_m: float, parameters: SitingParameters) -> tuple[int, tuple[str, ...]]:
    """How many layers of units make the depth; those of the settings where none do."""
    if np.isnan(depth_m) or abs(depth_m - parameters.depth_m) <= _SIDE_M:
        return parameters.layers, ()
    layers = round((depth_m - parameters.cover - parameters.bedding) / parameters.unit_height)
    made_m = parameters.cover + layers * parameters.unit_height + parameters.bedding
    if 1 <= layers <= _MOST_LAYERS and abs(made_m - depth_m) <= _SIDE_M:
        return layers, (f"the depth of {depth_m:.2f} m is read as {layers} layers of units",)
    return parameters.layers, (
        f"no number of layers makes a basin {depth_m:.2f} m deep: it is worked out with the "
        f"{parameters.depth_m:.2f} m of the settings",
    )


def _rectangle_of(outline: Polygon) -> tuple[float, float, float]:
    """Long side, short side and rotation of the least rectangle round an outline.

    Of an outline with four corners they are its own: the least rectangle that the geometry
    library turns is off by a few millimetres.
    """
    corners = _corners(outline)
    if len(corners) != _FOUR:
        least = shapely.minimum_rotated_rectangle(outline)
        corners = np.asarray(shapely.get_coordinates(least))[:_FOUR]
    sides = np.roll(corners, -1, axis=0) - corners
    lengths_m = np.hypot(*sides.T)
    longest = int(np.argmax(lengths_m[:2].round(_DIGITS)))
    east, north = sides[longest]
    turn_deg = round(degrees(atan2(north, east)), _TURN_DIGITS) % 180.0
    return float(lengths_m[longest]), float(lengths_m[1 - longest]), turn_deg


def _corners(outline: Polygon) -> np.ndarray:
    """Corners of an outline, without those that lie on a straight side."""
    return shapely.get_coordinates(outline.exterior.simplify(_STRAIGHT_M))[:-1]


def _in_rectangle(
    length_m: float, width_m: float, parameters: SitingParameters
) -> tuple[Arrangement, tuple[str, ...]]:
    """Whole units that fit, laid the way round that takes more of them."""
    unit_m = parameters.unit_length, parameters.unit_width
    ways = []
    for along_m, across_m in ((length_m, width_m), (width_m, length_m)):
        columns, rows = _whole(along_m, unit_m[0]), _whole(across_m, unit_m[1])
        left_m = abs(along_m - columns * unit_m[0]) + abs(across_m - rows * unit_m[1])
        ways.append((rows * columns, -left_m, rows, columns))
    count, left_m, rows, columns = max(ways)
    if count == 0:
        raise _too_small(length_m, width_m, parameters)
    sides_m = sorted((columns * unit_m[0], rows * unit_m[1]), reverse=True)
    if max(abs(sides_m[0] - length_m), abs(sides_m[1] - width_m)) <= _SIDE_M:
        return Arrangement(rows=rows, columns=columns, length_m=sides_m[0], width_m=sides_m[1]), ()
    told = (
        f"the basin drawn, {length_m:.2f} by {width_m:.2f} m, takes {rows} by {columns} whole "
        "void units; the rest of it holds gravel and is not counted as storage"
    )
    return Arrangement(rows=rows, columns=columns, length_m=length_m, width_m=width_m), (told,)


def _whole(side_m: float, unit_m: float) -> int:
    return floor((side_m + _SIDE_M) / unit_m)


def _too_small(length_m: float, width_m: float, parameters: SitingParameters) -> InputRefused:
    return InputRefused(
        f"the basin drawn, {length_m:.2f} by {width_m:.2f} m, takes no void unit of "
        f"{parameters.unit_length:g} by {parameters.unit_width:g} m",
        remedy="draw it larger, or set siting.unit_length and siting.unit_width",
    )


def _in_outline(
    outline: Polygon, turned: tuple[float, float, float], parameters: SitingParameters
) -> tuple[Arrangement, tuple[str, ...]]:
    """Whole units on a grid from the first corner of the least rectangle, inside the outline."""
    length_m, width_m, rotation_deg = turned
    flat = rotate(outline, -rotation_deg, origin=(0.0, 0.0))
    west, south, _, _ = flat.bounds
    room = flat.buffer(_SIDE_M, join_style="mitre")
    unit_m = parameters.unit_length, parameters.unit_width
    count = max(
        _units_inside(room, (west, south), (length_m, width_m), sides)
        for sides in (unit_m, unit_m[::-1])
    )
    if count == 0:
        raise _too_small(length_m, width_m, parameters)
    told = (
        f"the basin drawn is no rectangle: {count} whole void units to a layer lie inside it on "
        "one grid; lay them out on site before you order"
    )
    return Arrangement(rows=1, columns=count, length_m=length_m, width_m=width_m), (told,)


def _units_inside(
    room: Polygon,
    corner: tuple[float, float],
    whole_m: tuple[float, float],
    unit_m: tuple[float, float],
) -> int:
    columns, rows = (_whole(whole_m[axis], unit_m[axis]) for axis in (0, 1))
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(columns), np.arange(rows)))
    x, y = corner[0] + i * unit_m[0], corner[1] + j * unit_m[1]
    units = shapely.box(x, y, x + unit_m[0], y + unit_m[1])
    return int(np.count_nonzero(shapely.covers(room, units)))


def _dug_rectangle(
    ground: Raster, outline: Polygon, rotation_deg: float, design: BasinDesign
) -> tuple[Placement, float]:
    """Dig as the search digs."""
    laid, more_m = design.arrangements[0], 2.0 * design.overdig_m
    x, y = (round(float(c), _DIGITS) for c in _corners(outline).mean(axis=0))
    surface = as_surface(ground)
    rim_m, rise_m, edge = outlines.pit_edge(
        surface, make_pit(laid, design), x, y, radians(rotation_deg)
    )
    if not (np.isfinite(rim_m) and np.isfinite(edge).all()):
        raise _no_ground()
    excavation = Polygon(edge)
    floor_m = rim_m - design.depth_m
    placement = Placement(
        x=x,
        y=y,
        rotation_deg=rotation_deg,
        arrangement=laid,
        footprint=outline,
        pit_floor=turned_rectangle(
            laid.length_m + more_m, laid.width_m + more_m, rotation_deg, x, y
        ),
        excavation=excavation,
        rim_level_m=rim_m,
        floor_level_m=floor_m,
        greatest_depth_m=highest_ground(ground, surface, excavation, edge) - floor_m,
        score=0.0,
        marks={},
    )
    return placement, rise_m


def _no_ground() -> InputRefused:
    return InputRefused(
        "the pit of the basin drawn reaches ground without terrain data",
        remedy="move the basin, or give terrain that covers it",
    )


def _dug_outline(
    ground: Raster, outline: Polygon, rotation_deg: float, design: BasinDesign
) -> tuple[Placement, float]:
    """Dig any outline: overdig all round, then sides up to the real ground, on a fine grid."""
    surface, laid = as_surface(ground), design.arrangements[0]
    pit_floor = outline.buffer(design.overdig_m, join_style="mitre")
    rim_m = float(np.min(_levels_along(surface, outline)))
    edge_m = _levels_along(surface, pit_floor)
    if not (np.isfinite(rim_m) and np.isfinite(edge_m).all()):
        raise _no_ground()
    under = np.concatenate([edge_m, _levels_in(ground, pit_floor)])
    if not np.isfinite(under).all():
        raise _no_ground()
    floor_m = rim_m - design.depth_m
    excavation = _day_light(surface, pit_floor, floor_m, design.batter)
    edge = np.asarray(excavation.exterior.coords)
    middle = outline.centroid
    placement = Placement(
        x=middle.x,
        y=middle.y,
        rotation_deg=rotation_deg,
        arrangement=laid,
        footprint=outline,
        pit_floor=pit_floor,
        excavation=excavation,
        rim_level_m=rim_m,
        floor_level_m=floor_m,
        greatest_depth_m=highest_ground(ground, surface, excavation, edge) - floor_m,
        score=0.0,
        marks={},
    )
    return placement, float(under.max() - under.min())


def _levels_along(surface: Surface, area: Polygon) -> np.ndarray:
    edge = np.asarray(shapely.segmentize(area.exterior, _POINT_STEP_M).coords)
    return np.asarray(outlines.levels_at(surface, np.ascontiguousarray(edge[:, :2])))


def _levels_in(ground: Raster, area: Polygon) -> np.ndarray:
    window = ground.window(area.bounds)
    x, y = (axis.ravel() for axis in np.meshgrid(*window.centres()))
    return np.asarray(window.values, dtype=float).ravel()[shapely.contains_xy(area, x, y)]


def _day_light(surface: Surface, pit_floor: Polygon, floor_m: float, batter: float) -> Polygon:
    """Where sides of a batter, rising from a floor's edge, meet the ground."""
    if batter == 0.0:
        return pit_floor
    reach_m = batter
    for _ in range(_DOUBLINGS):
        reach_m *= 2.0
        edge = _edge_within(surface, pit_floor, (floor_m, batter), reach_m)
        if edge is not None:
            return edge
    raise _no_ground()


def _edge_within(
    surface: Surface, pit_floor: Polygon, side: tuple[float, float], reach_m: float
) -> Polygon | None:
    """The pit's edge, the nearest ring round the floor; None where it lies farther out."""
    floor_m, batter = side
    west, south, east, north = pit_floor.buffer(reach_m).bounds
    x, y = np.arange(west, east + _CELL_M, _CELL_M), np.arange(south, north + _CELL_M, _CELL_M)
    grid_x, grid_y = np.meshgrid(x, y)
    points = np.column_stack([grid_x.ravel(), grid_y.ravel()])
    levels_m = outlines.levels_at(surface, points).reshape(grid_x.shape)
    away_m = shapely.distance(pit_floor, shapely.points(points)).reshape(grid_x.shape)
    over_m = np.ma.masked_invalid(levels_m - floor_m - away_m / batter)
    made = contour_generator(x, y, over_m, corner_mask=False, line_type=LineType.Separate)
    rings = [Polygon(line) for line in _closed_lines(made.lines(0.0))]
    core = pit_floor.buffer(-_CELL_M)
    holding = [ring for ring in rings if ring.is_valid and ring.covers(core)]
    if not holding:
        return None
    whole = shapely.union(min(holding, key=lambda ring: ring.area), pit_floor)
    parts = [part for part in shapely.get_parts(whole) if isinstance(part, Polygon)]
    return Polygon(max(parts, key=lambda part: part.area).exterior)


def _closed_lines(lines: Any) -> list[np.ndarray]:
    found = [np.asarray(line, dtype=np.float64) for line in lines]
    return [line for line in found if len(line) > _LEAST_RING and np.all(line[0] == line[-1])]
