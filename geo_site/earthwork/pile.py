"""Where the spoil pile can stand, and how much fits there.

A pile is the ground covered by a surface that is level on its core (a point or a short line)
and falls at the angle of repose outside it. As its crest rises, each cell of ground joins the
pile at a level of its own, ``ground + slope x distance``; so the highest crest that stays on
allowed ground is the lowest of these levels over the cells that are not allowed, and what fits
at a place is known without trial.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site import volumes
from geo_site.earthwork.records import EarthworkParameters, Pile
from geo_site.raster import Raster, as_multipolygon, burn, grid_over, trace

__all__ = ["Yard", "find_pile", "pile_on"]

FloatArray = NDArray[np.float64]

_COARSE_M = 0.5
_FINE_M = 0.1
_MOST_PLACES = 1200
_TRIED_FINE = 12
_AT_ONCE = 64  # places: what is worked out for them stays in the processor's cache
_SHIFTS_M = (0.25, 0.1)
_MOST_SHIFTS = 4
_WORTH_A_SHIFT = 0.01
_WIDEST = 1.8  # of the toe's radius on level ground: room for the longer side downslope
_EDGE_STEP_M = 0.2
_HALVINGS = 60
# What a metre of carrying is traded against (common practice, no source): the ground's slope,
# and each metre that a pile stands nearer to a view than the last distance.
_METRES_PER_SLOPE = 20.0
_METRES_PER_VIEW_METRE = 0.2
_VIEW_M = 30.0


@dataclass(frozen=True, kw_only=True)
class Yard:
    """Where a pile may stand and where it is wanted.

    Attributes
    ----------
    ground : Raster
        Ground level, m.
    allowed : shapely.MultiPolygon
        The whole toe must lie in it.
    middle : shapely geometry
        The pile's middle must lie in it: within reach of the machine.
    pit : shapely.Polygon
        Excavation: near it is better.
    views : tuple of shapely.Point
        Away from them is better.
    """

    ground: Raster
    allowed: MultiPolygon
    middle: BaseGeometry
    pit: Polygon
    views: tuple[Point, ...]


@dataclass(frozen=True)
class _Core:
    """The line, or the point, on which a pile is highest."""

    half_m: float
    direction_deg: float

    def distance(self, east_m: FloatArray, north_m: FloatArray) -> FloatArray:
        """Distance from the core, its middle at the origin, m."""
        angle = math.radians(self.direction_deg)
        along = east_m * math.cos(angle) + north_m * math.sin(angle)
        across = north_m * math.cos(angle) - east_m * math.sin(angle)
        return np.hypot(np.maximum(np.abs(along) - self.half_m, 0.0), across)


_CORES = (
    _Core(0.0, 0.0),
    *(_Core(half, turn) for half in (0.75, 1.5, 3.0) for turn in (0.0, 45.0, 90.0, 135.0)),
)


@dataclass(frozen=True)
class _Surround:
    """Cells round a place as far as piles of some cores reach, and what those cores say there."""

    cores: slice  # of the list of all cores
    offsets: NDArray[np.intp]
    is_rim: NDArray[np.bool_]
    rises_m: tuple[FloatArray, ...]  # of each core's pile from a cell to its crest


@dataclass(frozen=True)
class _Places:
    """Places for any core: what they cost, and on demand how much fits."""

    x: FloatArray
    y: FloatArray
    cost_m: FloatArray
    cells: tuple[NDArray[np.intp], NDArray[np.intp]]  # rows and columns of the layers
    levels_m: FloatArray
    allowed: NDArray[np.bool_]
    surrounds: tuple[_Surround, ...]
    height_limit_m: float

    def in_order(self, loose_m3: float) -> Iterator[tuple[int, int]]:
        """Places and cores: where all fits, the cheapest first; then where most fits.

        What fits is worked out as far as it is asked for, a few places at a time.
        """
        by_cost = np.argsort(self.cost_m, kind="stable")
        capacity_m3 = np.empty((self.x.size, len(_CORES)))
        left = _TRIED_FINE
        for start in range(0, by_cost.size, _AT_ONCE):
            some = by_cost[start : start + _AT_ONCE]
            capacity_m3[some] = self._capacities(some)
            if left > 0:
                place, core = np.nonzero(capacity_m3[some] >= loose_m3)
                yield from zip(some[place[:left]].tolist(), core[:left].tolist(), strict=True)
                left -= place.size
        for flat in np.argsort(-capacity_m3, axis=None, kind="stable")[:_TRIED_FINE]:
            row, column = np.unravel_index(flat, capacity_m3.shape)
            yield int(row), int(column)

    def _capacities(self, some: NDArray[np.intp]) -> FloatArray:
        """What fits at some places, on coarse cells, m3, a column a core."""
        rows, cols = (axis[some, None, None] for axis in self.cells)
        sums_m = np.empty((some.size, len(_CORES)))
        for surround in self.surrounds:
            window = (rows + surround.offsets[:, None], cols + surround.offsets)
            levels_m, allowed = (
                layer[window].reshape(some.size, -1) for layer in (self.levels_m, self.allowed)
            )
            free, level_m = allowed & ~surround.is_rim, _at_worst(levels_m)
            barred_m, free_m = np.where(free, np.inf, level_m), np.where(free, level_m, np.inf)
            sums_m[:, surround.cores] = np.column_stack(
                [
                    _fits(barred_m + rise_m, free_m + rise_m, self.height_limit_m)[1]
                    for rise_m in surround.rises_m
                ]
            )
        return sums_m * _COARSE_M**2


def find_pile(
    yard: Yard, loose_m3: float, swell: float, parameters: EarthworkParameters
) -> Pile | None:
    """Find the best place for a pile, or for the largest part of it that fits.

    Places half a metre apart (further in a large yard) and thirteen cores (a point, and lines
    of three lengths in four directions) are tried on cells of 0.5 m, the best few again on
    cells of 0.1 m. Where the whole volume fits somewhere, the place that is near, flat and
    away from views wins; else the one that takes most.

    Parameters
    ----------
    yard : Yard
        Where it may stand.
    loose_m3 : float
        Loose volume to pile, m3.
    swell : float
        Loose over bank volume.
    parameters : EarthworkParameters
        Angle of repose, greatest height, least pile.

    Returns
    -------
    Pile or None
        None where not even the least pile fits, or there is nothing to pile.
    """
    places = _try_coarsely(yard, parameters) if loose_m3 > 0.0 else None
    if places is None:
        return None
    best = _best_heap(places, loose_m3, yard, parameters)
    least_m3 = min(parameters.least_pile, loose_m3)
    if best.capacity_m3 < least_m3 or best.capacity_m3 <= 0.0:
        return None
    return best.pile(min(loose_m3, best.capacity_m3), swell, yard.allowed)


def pile_on(
    toe: Polygon, ground: Raster, loose_m3: float, swell: float, parameters: EarthworkParameters
) -> Pile:
    """Shape a pile on a toe that is given: sides rise from its edge at the angle of repose.

    The top is level; it is as high as the volume asks, or as the sides and the height limit let
    it be.

    Parameters
    ----------
    toe : shapely.Polygon
        Outline of the pile on the ground.
    ground : Raster
        Levels, m.
    loose_m3 : float
        Loose volume to pile, m3.
    swell : float
        Loose over bank volume.
    parameters : EarthworkParameters
        Angle of repose, greatest height.

    Returns
    -------
    Pile
        With as much of the volume as fits; empty where nothing does, or the ground under it is
        not known.
    """
    empty = Pile(geometry=toe, volume_m3=0.0, height_m=0.0, bank_m3=0.0, crest_level_m=math.nan)
    grid = _grid(ground, toe.bounds, _FINE_M, _FINE_M)
    x, y = (axis.ravel() for axis in np.meshgrid(*grid.centres()))
    inside = shapely.contains_xy(toe, x, y)
    xy = np.column_stack([x, y])[inside]
    edge = shapely.get_coordinates(shapely.segmentize(toe.exterior, _EDGE_STEP_M))
    level_m, edge_m = ground.sample(xy), ground.sample(edge)
    if not (len(xy) and np.isfinite(level_m).all() and np.isfinite(edge_m).all()):
        return empty
    slope = _repose(parameters)
    roof_m = np.full(len(xy), np.inf)
    for (east, north), rim_m in zip(edge, edge_m, strict=True):
        roof_m = np.minimum(roof_m, rim_m + slope * np.hypot(xy[:, 0] - east, xy[:, 1] - north))
    roof_m = np.minimum(roof_m, level_m.min() + parameters.pile_height_limit)
    room_m3 = float(np.maximum(roof_m - level_m, 0.0).sum()) * grid.cell_area_m2
    held_m3 = min(loose_m3, room_m3)
    if not held_m3 > 0.0:
        return empty
    top_m = _level_top(level_m, roof_m, held_m3 / grid.cell_area_m2)
    surface_m = np.maximum(np.minimum(roof_m, top_m), level_m)
    return Pile(
        geometry=toe,
        volume_m3=held_m3,
        height_m=float((surface_m - level_m).max()),
        bank_m3=volumes.bank_from_loose(held_m3, swell),
        crest_level_m=float(surface_m.max()),
    )


def _level_top(ground_m: FloatArray, roof_m: FloatArray, wanted_m: float) -> float:
    """Level at which a pile under a roof is cut off so that its thicknesses sum up as wanted."""

    def held_m(top_m: float) -> float:
        return float(np.maximum(np.minimum(roof_m, top_m) - ground_m, 0.0).sum())

    low_m, high_m = float(ground_m.min()), float(roof_m.max())
    for _ in range(_HALVINGS):
        middle_m = 0.5 * (low_m + high_m)
        low_m, high_m = (low_m, middle_m) if held_m(middle_m) >= wanted_m else (middle_m, high_m)
    return high_m


def _best_heap(
    places: _Places, loose_m3: float, yard: Yard, parameters: EarthworkParameters
) -> _Heap:
    """The first place where all fits on fine cells, else that which takes most, moved about."""
    tried: list[_Heap] = []
    for place, core in places.in_order(loose_m3):
        at = (float(places.x[place]), float(places.y[place]))
        heap = _heap_at(at, _CORES[core], yard, parameters)
        if heap.capacity_m3 >= loose_m3:
            return heap
        tried.append(heap)
    best = max(tried, key=lambda heap: heap.capacity_m3)
    for step_m in _SHIFTS_M:
        for _ in range(_MOST_SHIFTS):
            shifted = [
                _heap_at((best.x + dx, best.y + dy), best.core, yard, parameters)
                for dx in (-step_m, 0.0, step_m)
                for dy in (-step_m, 0.0, step_m)
                if dx or dy
            ]
            better = max(shifted, key=lambda heap: heap.capacity_m3)
            if better.capacity_m3 <= best.capacity_m3 * (1.0 + _WORTH_A_SHIFT):
                break
            best = better
    return best


def _toe_m(parameters: EarthworkParameters) -> float:
    return _WIDEST * parameters.pile_height_limit / _repose(parameters)


def _repose(parameters: EarthworkParameters) -> float:
    return math.tan(math.radians(parameters.repose_angle))


def _try_coarsely(yard: Yard, parameters: EarthworkParameters) -> _Places | None:
    middle = as_multipolygon(yard.allowed.intersection(yard.middle))
    if middle.is_empty:
        return None
    radius_m = _toe_m(parameters) + max(core.half_m for core in _CORES)
    grid = _grid(yard.ground, middle.bounds, _COARSE_M, radius_m + _COARSE_M)
    levels_m, allowed = _levels_and_allowed(grid, yard)
    rows, cols = _places_on(grid, middle, allowed)
    if rows.size == 0:
        return None
    x, y = grid.centres()
    return _Places(
        x=x[cols],
        y=y[rows],
        cost_m=_cost(yard, x[cols], y[rows]),
        cells=(rows, cols),
        levels_m=levels_m,
        allowed=allowed,
        surrounds=tuple(_surrounds(parameters)),
        height_limit_m=parameters.pile_height_limit,
    )


def _surrounds(parameters: EarthworkParameters) -> Iterator[_Surround]:
    """Cells round a place, once for the cores of each length."""
    first = 0
    for half_m, same in groupby(_CORES, key=lambda core: core.half_m):
        cores = tuple(same)
        reach = int((_toe_m(parameters) + half_m) // _COARSE_M)
        offsets = np.arange(-reach, reach + 1)
        east_m, north_m = np.meshgrid(offsets * _COARSE_M, -offsets * _COARSE_M)
        rim = np.maximum(np.abs(east_m), np.abs(north_m)).ravel() >= reach * _COARSE_M
        slope = _repose(parameters)
        rises_m = tuple(slope * core.distance(east_m, north_m).ravel() for core in cores)
        yield _Surround(slice(first, first + len(cores)), offsets, rim, rises_m)
        first += len(cores)


def _grid(
    ground: Raster, bounds: tuple[float, float, float, float], cell_m: float, margin_m: float
) -> Raster:
    anchor = (ground.bounds[0], ground.bounds[3])
    return grid_over(bounds, cell_m, ground.crs, margin_m=margin_m, anchor=anchor)


def _levels_and_allowed(grid: Raster, yard: Yard) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Ground levels, and the cells that lie in allowed ground to their last corner."""
    x, y = (axis.ravel() for axis in np.meshgrid(*grid.centres()))
    levels_m = yard.ground.sample(np.column_stack([x, y])).reshape(grid.shape)
    forbidden = burn(grid.outline.difference(yard.allowed), grid, touched=True)
    return levels_m, ~forbidden & np.isfinite(levels_m)


def _places_on(
    grid: Raster, middle: MultiPolygon, allowed: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    rows, cols = np.nonzero(burn(middle, grid) & allowed)
    stride = math.ceil(math.sqrt(rows.size / _MOST_PLACES))
    if stride > 1:
        kept = (rows % stride == 0) & (cols % stride == 0)
        rows, cols = rows[kept], cols[kept]
    return rows, cols


def _at_worst(ground_m: FloatArray) -> FloatArray:
    """Ground with unknown cells as low as the lowest that is known round a place."""
    unknown = np.isnan(ground_m)
    if not unknown.any():
        return ground_m
    return np.where(unknown, np.nanmin(ground_m, axis=-1, keepdims=True), ground_m)


def _fits(
    barred_m: FloatArray, joins_m: FloatArray, height_limit_m: float
) -> tuple[FloatArray, FloatArray]:
    """Highest crest at each place (first axis), and the sum of thicknesses under it, m.

    Cells bar crests above their first level, or join the pile at their second; else inf.
    """
    crest_m = np.minimum(barred_m.min(axis=-1), joins_m.min(axis=-1) + height_limit_m)
    thickness_m = np.subtract(crest_m[:, None], joins_m, out=joins_m)
    return crest_m, np.maximum(thickness_m, 0.0, out=thickness_m).sum(axis=-1)


def _cost(yard: Yard, x: FloatArray, y: FloatArray) -> FloatArray:
    points = shapely.points(x, y)
    east, north = (
        yard.ground.sample(np.column_stack([x + dx, y + dy]))
        - yard.ground.sample(np.column_stack([x - dx, y - dy]))
        for dx, dy in ((_COARSE_M, 0.0), (0.0, _COARSE_M))
    )
    slope = np.nan_to_num(np.hypot(east, north) / (2.0 * _COARSE_M), nan=1.0)
    cost_m = shapely.distance(points, yard.pit) + _METRES_PER_SLOPE * slope
    for view in yard.views:
        nearer_m = np.maximum(_VIEW_M - shapely.distance(points, view), 0.0)
        cost_m = cost_m + _METRES_PER_VIEW_METRE * nearer_m
    return np.asarray(np.round(cost_m, 6), dtype=np.float64)


@dataclass(frozen=True)
class _Heap:
    """One place and core on fine cells."""

    x: float
    y: float
    core: _Core
    grid: Raster
    levels_m: FloatArray
    distance_m: FloatArray  # NaN where nothing may lie
    slope: float
    capacity_m3: float

    def pile(self, loose_m3: float, swell: float, allowed: MultiPolygon) -> Pile | None:
        """Heap up a volume that fits."""
        crest_m = volumes.pile_crest_level(
            self.levels_m, self.distance_m, self.slope, loose_m3, self.grid.cell_area_m2
        )
        surface_m = volumes.repose_surface(self.levels_m, self.distance_m, crest_m, self.slope)
        thickness_m = np.nan_to_num(surface_m - self.levels_m)
        covered = thickness_m > 0.0
        toe = _toe(trace(covered, self.grid), allowed)
        if toe is None:
            return None
        return Pile(
            geometry=toe,
            volume_m3=loose_m3,
            height_m=float(thickness_m.max()),
            bank_m3=volumes.bank_from_loose(loose_m3, swell),
            crest_level_m=float(surface_m[covered].max()),
        )


def _heap_at(
    place: tuple[float, float], core: _Core, yard: Yard, parameters: EarthworkParameters
) -> _Heap:
    x, y = place
    grid = _grid(yard.ground, (x, y, x, y), _FINE_M, _toe_m(parameters) + core.half_m)
    levels_m, free = _levels_and_allowed(grid, yard)
    free[[0, -1], :] = free[:, [0, -1]] = False
    columns_x, rows_y = grid.centres()
    distance_m = core.distance(*np.meshgrid(columns_x - x, rows_y - y))
    corner_m = np.maximum(distance_m - _FINE_M * math.sqrt(0.5), 0.0)
    slope, flat_m = _repose(parameters), _at_worst(levels_m.reshape(1, -1)).reshape(grid.shape)
    barred_m = np.where(free, np.inf, flat_m + slope * corner_m).reshape(1, -1)
    joins_m = np.where(free, flat_m + slope * distance_m, np.inf).reshape(1, -1)
    crest_m, _ = _fits(barred_m, joins_m, parameters.pile_height_limit)
    rise_m = np.where(free, crest_m[0] - levels_m - slope * distance_m, 0.0)
    parts, _ = ndimage.label(rise_m > 0.0)
    # A low place beyond a ridge is not filled by a pile on this side of it.
    on_core = parts[distance_m < grid.cell_width_m]
    joined = (parts > 0) & (parts == on_core[int(rise_m[distance_m < grid.cell_width_m].argmax())])
    capacity_m3 = float(rise_m[joined].sum()) * grid.cell_area_m2
    own_m = np.where(joined, distance_m, np.nan)
    return _Heap(x, y, core, grid, levels_m, own_m, slope, capacity_m3)


def _toe(covered: MultiPolygon, allowed: MultiPolygon) -> Polygon | None:
    """One smooth outline round all covered cells that stays on allowed ground."""
    hull = covered.convex_hull
    if isinstance(hull, Polygon) and allowed.covers(hull):
        return hull
    closed = covered.buffer(3 * _FINE_M).buffer(-3 * _FINE_M).union(covered)
    for area in (closed.intersection(allowed), covered, hull.intersection(allowed)):
        parts = as_multipolygon(area).geoms
        if len(parts) == 1:
            return Polygon(parts[0].exterior) if not parts[0].interiors else parts[0]
    return None
