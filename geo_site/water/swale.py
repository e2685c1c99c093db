"""The swale above the works that keeps run-on off them.

Question
    Where can a swale run so that what comes from above goes round, and how deep must it be?
In
    Works and their catchment, ground that is free for digging, the peak of the design storm.
Out
    Its arms, each a :class:`Swale`; what is in the way or not known, a sentence each.
Method
    From the highest ground at the works' edge, some way up the slope, the line follows the
    contour with the fall wanted, to both sides or to one, until what it lets go no longer reaches
    the works. Starts ever higher up the slope are tried; of all lines that let
    their water go clear the best needs little ground that is not free and catches much. Size by
    Manning's formula for uniform flow.
Reference
    Chow (1959), Open-channel hydraulics; FHWA HEC-15, Design of roadside channels.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from shapely import contains_xy, get_coordinates, intersects_xy, segmentize, union_all
from shapely.geometry import LineString, MultiLineString, Point
from shapely.geometry.base import BaseGeometry

from geo_site import drainage
from geo_site.channels import Trapezoid, bed_shear, manning_velocity, normal_depth, stable_stone
from geo_site.errors import InputRefused
from geo_site.raster import Raster, burn
from geo_site.site import Site
from geo_site.terrain import Terrain, spill_path
from geo_site.water.overflow import leaving_of
from geo_site.water.run_on import is_building
from geo_site.water.storm_records import Swale
from geo_site.water.storm_settings import SwaleParameters

__all__ = ["SwaleGround", "lay_swale"]

Floats = NDArray[np.float64]
Pair = tuple[float, float]
Bools = NDArray[np.bool_]

_STEP_M = 0.5
_REACH_M = 2.0  # the slope is taken over twice this: a swale does not follow every hump
_STARTS_M = (0.0, 1.5, 3.0, 5.0)  # beyond the offset, up the slope
_CLEAR_STEPS = 4  # this many points in a row: one clear point may be chance
_LEAST_CAUGHT = 0.02  # of the ground above: less is not worth a swale
_CAUGHT_M = 20.0  # of line that cannot be dug: what catching all ground above outweighs
_LEAST_STANDING = 0.5  # of a line: with more gaps than swale it is none
_NEAR_BUILDING_M = 1.0
_MARGIN_M = 0.5  # round the works: as far its water must stay off


@dataclass(frozen=True, kw_only=True)
class SwaleGround:
    """Where a swale is wanted and where it may be.

    Attributes
    ----------
    site : Site
        Its parcel and structures.
    terrain : Terrain
        The ground.
    works : shapely geometry
        What is to be kept dry.
    free : shapely geometry
        Ground in which digging is free.
    keep_off : shapely geometry
        What its water may not run onto besides.
    catchment : shapely geometry
        Of the works, traced along cells.
    """

    site: Site
    terrain: Terrain
    works: BaseGeometry
    free: BaseGeometry
    keep_off: BaseGeometry
    catchment: BaseGeometry

    @cached_property
    def onto_works(self) -> Bools:
        """Cells whose water runs onto the works, or out of the data unseen."""
        return self._reaching([self.works.buffer(_MARGIN_M)])

    @cached_property
    def barred(self) -> Bools:
        """The same, and those whose water runs onto the pile or against a building."""
        table = self.site.structures
        buildings = [
            geometry.buffer(_NEAR_BUILDING_M)
            for geometry, kind in zip(table.geometry, table["kind"], strict=True)
            if is_building(kind)
        ]
        return self.onto_works | self._reaching([self.keep_off, *buildings])

    def _reaching(self, targets: list[BaseGeometry]) -> Bools:
        grid = self.terrain.direction
        known = grid.values != drainage.NO_DATA
        met = drainage.upstream(grid.values, burn(targets, grid, touched=True) & known)
        return np.asarray(met | ~known, dtype=bool)

    @cached_property
    def above(self) -> Bools:
        """Cells of the catchment that lie above the works."""
        grid = self.terrain.direction
        return burn(self.catchment, grid) & ~burn(self.works, grid, touched=True)


@dataclass(frozen=True, kw_only=True)
class _Arm:
    """A line, high end first, and whether its outlet is clear."""

    line: LineString
    is_clear: bool


@dataclass(frozen=True, kw_only=True)
class _Field:
    """What every line looks at."""

    ground: SwaleGround
    parameters: SwaleParameters

    @cached_property
    def near_works(self) -> BaseGeometry:
        return self.ground.works.buffer(0.99 * self.parameters.offset)

    @cached_property
    def lot_line(self) -> BaseGeometry:
        return self.ground.site.parcel.boundary


def lay_swale(
    ground: SwaleGround, peak_m3s: float, parameters: SwaleParameters
) -> tuple[tuple[Swale, ...], tuple[str, ...]]:
    """Lay out the swale and size it.

    Parameters
    ----------
    ground : SwaleGround
        Where.
    peak_m3s : float
        Greatest flow of the design storm onto the works; NaN: unknown, then so is the size.
    parameters : SwaleParameters
        Settings.

    Returns
    -------
    tuple of Swale
        One arm or two; none where nothing comes from above, or no line can be laid.
    tuple of str
        What is not as it should be.
    """
    grid = ground.terrain.direction
    above_m2 = float(np.count_nonzero(ground.above)) * grid.cell_area_m2
    if above_m2 <= 2.0 * grid.cell_area_m2:
        return (), ()
    clear = [arms for arms in _choices(ground, parameters) if all(arm.is_clear for arm in arms)]
    choices = [(arms, _caught_m2(arms, ground)) for arms in clear]
    choices = [one for one in choices if sum(one[1]) >= _LEAST_CAUGHT * above_m2]
    if not choices:
        return (), (
            "No swale above the works was found that lets its water go clear of works, pile, "
            "buildings and the lot's line: run-on is not kept off.",
        )
    free = ground.free.buffer(-0.5 * parameters.assumed_width)
    arms, areas = min(choices, key=lambda one: _badness(one[0], sum(one[1]) / above_m2, free))
    whole_m2 = ground.catchment.area
    flows = [
        # Where the water divides is not certain: each of two arms takes at least half.
        peak_m3s * max(area, sum(areas) / 2.0 if len(arms) > 1 else 0.0) / whole_m2
        for area in areas
    ]
    swales = tuple(
        _swale(arm, area, flow, ground, parameters)
        for arm, area, flow in zip(arms, areas, flows, strict=True)
    )
    standing_m = sum(swale.length_m for swale in swales)
    if standing_m < _LEAST_STANDING * sum(arm.line.length for arm in arms):
        return (), (
            "No swale can be dug above the works: the best line lies mostly where digging is not "
            "free; run-on is not kept off.",
        )
    return swales, tuple(_warnings(swales, sum(areas) / above_m2))


def _choices(ground: SwaleGround, parameters: SwaleParameters) -> Iterator[tuple[_Arm, ...]]:
    """Lines to choose from: two arms that fall, or one line that falls right across."""
    field = _Field(ground=ground, parameters=parameters)
    for start in _starts(ground, parameters):
        falling = [_trace(start, side, 1.0, field) for side in (1.0, -1.0)]
        rising = [_trace(start, side, -1.0, field) for side in (1.0, -1.0)]
        if all(arm is not None for arm in falling):
            yield tuple(arm for arm in falling if arm is not None)
        for down, up in ((falling[0], rising[1]), (falling[1], rising[0])):
            if down is not None and up is not None:
                points = [*reversed(up.line.coords), *list(down.line.coords)[1:]]
                yield (_Arm(line=LineString(points), is_clear=down.is_clear),)


def _starts(ground: SwaleGround, parameters: SwaleParameters) -> Iterator[tuple[float, float]]:
    """Points above the highest ground at the works' edge."""
    edge = get_coordinates(segmentize(ground.works.buffer(0.01).boundary, _STEP_M))
    levels_m = ground.terrain.ground.sample(edge)
    if np.isnan(levels_m).all():
        return
    crest = edge[int(np.nanargmax(levels_m))]
    uphill = np.array(_gradient(ground.terrain, (float(crest[0]), float(crest[1]))))
    steepness = float(np.hypot(*uphill))
    if not steepness > 0.0:
        return
    for more_m in _STARTS_M:
        x, y = crest + uphill / steepness * (parameters.offset + more_m)
        if ground.site.parcel.contains(Point(x, y)):
            yield float(x), float(y)


def _gradient(terrain: Terrain, xy: Pair) -> Pair:
    """Rise per metre towards east and north, over a few metres."""
    (x, y), level_at = xy, terrain.ground.sample_at
    east_m = level_at(x + _REACH_M, y) - level_at(x - _REACH_M, y)
    north_m = level_at(x, y + _REACH_M) - level_at(x, y - _REACH_M)
    return east_m / (2.0 * _REACH_M), north_m / (2.0 * _REACH_M)


def _trace(start: Pair, side: float, sense: float, field: _Field) -> _Arm | None:
    """Follow the contour from a start with the fall wanted (sense -1: with that rise).

    None where the line would come too near to the works, or has no length.
    """
    points, clear = [start], 0
    direction, parameters = (0.0, 0.0), field.parameters
    for _ in range(int(parameters.longest / _STEP_M)):
        gradient = _gradient(field.ground.terrain, points[-1])
        if math.isnan(gradient[0]) or math.isnan(gradient[1]):
            break
        direction = _along(gradient, side, sense * parameters.fall, direction)
        x, y = (at + _STEP_M * part for at, part in zip(points[-1], direction, strict=True))
        if intersects_xy(field.near_works, x, y):
            return None
        if not contains_xy(field.ground.site.parcel, x, y):
            break
        points.append((x, y))
        clear = clear + 1 if _is_clear((x, y), sense, field) else 0
        if clear >= _CLEAR_STEPS:
            break
    if len(points) < 2:
        return None
    return _Arm(line=LineString(points), is_clear=clear > 0)


def _along(gradient: Pair, side: float, fall: float, before: Pair) -> Pair:
    """Unit vector along which level ground falls so much; straight on where it is flatter."""
    steepness = float(np.hypot(*gradient))
    if steepness <= 1.2 * abs(fall):
        if any(before):
            return before
        steepness = max(steepness, 1e-9)
    east, north = gradient[0] / steepness, gradient[1] / steepness
    down = min(max(fall / steepness, -1.0), 1.0)
    level = side * math.sqrt(1.0 - down * down)
    return -north * level - east * down, east * level - north * down


def _is_among(cells: Bools, xy: Pair, grid: Raster) -> bool:
    """Whether a point lies on one of these cells, or on none at all."""
    row, col = grid.cell_of(*xy)
    inside = 0 <= row < grid.shape[0] and 0 <= col < grid.shape[1]
    return bool(cells[row, col]) if inside else True


def _is_clear(xy: Pair, sense: float, field: _Field) -> bool:
    """Whether the line may end here.

    At its low end water is let go: it must keep off works, pile and buildings, and have room
    before the lot's line. At its high end it is enough that the works are passed.
    """
    ground = field.ground
    grid = ground.terrain.direction
    if sense < 0.0:
        return not _is_among(ground.onto_works, xy, grid)
    if field.lot_line.distance(Point(xy)) < field.parameters.end_setback:
        return False
    return not _is_among(ground.barred, xy, grid)


def _way_from(xy: Floats, terrain: Terrain) -> LineString | None:
    try:
        return spill_path(terrain, float(xy[0]), float(xy[1])).line
    except InputRefused:
        return None


def _caught_m2(arms: tuple[_Arm, ...], ground: SwaleGround) -> list[float]:
    """Ground above the works whose water each arm meets first."""
    grid = ground.terrain.direction
    on = np.stack([burn(arm.line.buffer(1e-3), grid, touched=True) for arm in arms])
    left, areas = ground.above, []
    for met in drainage.upstream(grid.values, on):
        areas.append(float(np.count_nonzero(met & left)) * grid.cell_area_m2)
        left = left & ~met
    return areas


def _badness(arms: tuple[_Arm, ...], caught_part: float, free: BaseGeometry) -> float:
    """What speaks against a line, in metres of it that cannot be dug."""
    outside_m = sum(arm.line.difference(free).length for arm in arms)
    return outside_m - _CAUGHT_M * caught_part


def _swale(
    arm: _Arm, caught_m2: float, flow_m3s: float, ground: SwaleGround, parameters: SwaleParameters
) -> Swale:
    water_m, dug_m, width_m, velocity_ms, shear_pa = _size(flow_m3s, parameters)
    room_m = 0.5 * (parameters.assumed_width if math.isnan(width_m) else width_m)
    inside = arm.line.intersection(ground.free.buffer(-room_m))
    stands = MultiLineString([p for p in getattr(inside, "geoms", [inside]) if p.length > 0.0])
    way = _way_from(np.array(arm.line.coords[-1]), ground.terrain)
    return Swale(
        line=arm.line,
        stands=stands,
        length_m=stands.length,
        gap_m=max(arm.line.length - stands.length, 0.0),
        slope=parameters.fall,
        kept_off_m2=caught_m2,
        flow_m3s=flow_m3s,
        depth_m=dug_m,
        water_depth_m=water_m,
        top_width_m=width_m,
        velocity_ms=velocity_ms,
        shear_pa=shear_pa,
        lining=_lining(velocity_ms, shear_pa, parameters),
        leaving=leaving_of(way, ground.site.parcel) if way is not None else None,
    )


def _size(flow_m3s: float, parameters: SwaleParameters) -> tuple[float, float, float, float, float]:
    """Depth of water, depth dug, width at the top, velocity and shear; NaN for a flow unknown."""
    if math.isnan(flow_m3s):
        return math.nan, math.nan, math.nan, math.nan, math.nan
    section = Trapezoid(parameters.bottom_width, parameters.side_run)
    water_m = normal_depth(section, flow_m3s, parameters.fall, parameters.roughness)
    dug_m = max(water_m + parameters.freeboard, parameters.least_depth)
    velocity_ms = manning_velocity(section, water_m, parameters.fall, parameters.roughness)
    return (
        water_m,
        dug_m,
        section.top_width(dug_m),
        velocity_ms,
        bed_shear(water_m, parameters.fall),
    )


def _lining(velocity_ms: float, shear_pa: float, parameters: SwaleParameters) -> str:
    if math.isnan(velocity_ms):
        return "unknown"
    if velocity_ms <= parameters.greatest_velocity and shear_pa <= parameters.greatest_shear:
        return "grass"
    return f"stone, D50 {1000.0 * stable_stone(shear_pa):.0f} mm or more"


def _warnings(swales: tuple[Swale, ...], caught_part: float) -> Iterator[str]:
    gap_m = sum(swale.gap_m for swale in swales)
    if gap_m > 0.01:
        yield (
            f"The swale above the works has a gap of {gap_m:.1f} m where digging is not free: what "
            "it carries there must be led past by other means."
        )
    for swale in swales:
        if swale.leaving is not None:
            yield (
                f"What the swale lets go leaves the lot on its {swale.leaving.side} side, "
                f"{swale.leaving.along_m:.0f} m from the swale's end: spread it out, and do not "
                "send more onto a neighbour than came there before."
            )
        if swale.lining.startswith("stone"):
            yield (
                f"The swale's water runs at {swale.velocity_ms:.1f} m/s and pulls with "
                f"{swale.shear_pa:.0f} Pa: more than grass stands; line it with {swale.lining}."
            )
    if caught_part < 0.9:
        yield (
            f"The swale keeps {caught_part:.0%} of the ground above off the works; the rest runs "
            "on below it."
        )


def dig_of(swales: tuple[Swale, ...], parameters: SwaleParameters) -> BaseGeometry:
    """Ground that the swale breaks.

    Parameters
    ----------
    swales : tuple of Swale
        Its arms.
    parameters : SwaleParameters
        The width assumed where its size is not known.

    Returns
    -------
    shapely geometry
        Empty without a swale.
    """
    return union_all(
        list(
            itertools.chain.from_iterable(
                [_strip(line, swale.top_width_m, parameters) for line in swale.stands.geoms]
                for swale in swales
            )
        )
    )


def _strip(line: LineString, width_m: float, parameters: SwaleParameters) -> BaseGeometry:
    wide_m = parameters.assumed_width if math.isnan(width_m) else width_m
    return line.buffer(0.5 * wide_m, cap_style="flat", join_style="mitre")
