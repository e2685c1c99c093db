"""What lies in a catchment, and how long its water takes.

In: a site, its terrain, a work and its catchment. Out: a :class:`RunOn`. Method: surfaces and
structures are cut out of the catchment exactly, small ones lying on large ones; the rest has the
cover of the settings. The time of concentration is that of the longest way on the terrain down to
the work, leg by leg. Reference: ``geo_site.runoff``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import union_all
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from geo_site import drainage
from geo_site.channels import Trapezoid, manning_velocity
from geo_site.errors import InputRefused
from geo_site.raster import as_multipolygon, burn
from geo_site.runoff import (
    COVERS,
    LONGEST_SHEET_M,
    SoilGroup,
    kirpich_time,
    shallow_velocity,
    sheet_time,
)
from geo_site.site import Site
from geo_site.terrain import Catchment, Terrain
from geo_site.water.storm_records import RunOn, SurfaceShare, TravelLeg
from geo_site.water.storm_settings import StormParameters

__all__ = ["find_run_on", "is_building"]

Floats = NDArray[np.float64]

_WORDS = {
    "roof": "roof house building garage shed barn",
    "paving": "paving pavement asphalt concrete drive driveway walk patio deck terrace road street "
    "parking brick",
    "water": "water pond pool",
    "gravel": "gravel",
    "dirt": "dirt earth track",
    "bare": "bare graded soil",
    "lawn": "lawn grass turf garden",
    "woods": "woods wood forest trees",
    "brush": "brush shrubs planting bed hedge",
    "meadow": "meadow field pasture",
}
_COVER_OF = {word: cover for cover, words in _WORDS.items() for word in words.split()}
_FLAT = ("paving", "gravel", "water")
_GROUPS: dict[str, SoilGroup] = {"sand": "A", "loam": "B", "clay": "D", "rock": "D"}
_LEAST_M2 = 1e-9


@dataclass(frozen=True, kw_only=True)
class _Piece:
    geometry: BaseGeometry
    cover: str
    curve_number: float
    runoff_coefficient: float
    stated_by: str


def find_run_on(
    site: Site,
    terrain: Terrain,
    work: BaseGeometry,
    catchment: Catchment,
    parameters: StormParameters,
) -> RunOn:
    """Find what a catchment is made of and how long its water takes to the work.

    Parameters
    ----------
    site : Site
        Its surfaces, structures, soils and rain.
    terrain : Terrain
        The ground.
    work : shapely geometry
        The work.
    catchment : Catchment
        Its catchment, traced along cells.
    parameters : StormParameters
        Settings.

    Returns
    -------
    RunOn
        Shares that add up to the catchment.

    Raises
    ------
    InputRefused
        A surface whose curve number or coefficient cannot be.
    """
    cells = burn(catchment.geometry, terrain.direction)
    slopes = terrain.slope.values[cells]
    slope = float(np.nanmean(slopes)) if np.isfinite(slopes).any() else 0.0
    pieces = list(_pieces(site, catchment.geometry, parameters))
    shares = _shares(site, pieces, slope, parameters)
    above = cells & ~burn(work, terrain.direction, touched=True)
    path, levels_m, drained_m2 = _longest_way(terrain, above)
    hard = union_all([p.geometry for p in pieces if p.cover in ("roof", "paving")])
    rain_m = _rain_2_years_m(site)
    legs = tuple(_legs(path, levels_m, drained_m2, hard, rain_m, parameters))
    time_s = sum(leg.time_s for leg in legs)
    total_m2 = sum(share.area_m2 for share in shares) or math.nan
    return RunOn(
        runs_onto=catchment.work,
        area_m2=catchment.area_m2,
        is_lower_bound=catchment.reaches_terrain_edge,
        shares=shares,
        curve_number=sum(s.area_m2 * s.curve_number for s in shares) / total_m2,
        runoff_coefficient=sum(s.area_m2 * s.runoff_coefficient for s in shares) / total_m2,
        legs=legs,
        concentration_s=max(time_s, parameters.least_concentration)
        if site.rainfall is not None and math.isfinite(time_s)
        else math.nan,
        kirpich_s=kirpich_time(
            path.length,
            max((levels_m[0] - levels_m[-1]) / path.length, parameters.least_slope),
        )
        if legs
        else math.nan,
        path=path,
    )


def _rain_2_years_m(site: Site) -> float:
    table = site.rainfall
    day_s = 86_400.0
    return table.depth(day_s, 2.0) if table and table.holds(day_s, 2.0) else math.nan


def _pieces(site: Site, area: BaseGeometry, parameters: StormParameters) -> Iterator[_Piece]:
    """Cut the catchment up, the smallest surface first: it lies on the larger ones."""
    stated = sorted((*_surfaces(site), *_structures(site)), key=lambda p: p.geometry.area)
    rest = area
    for piece in stated:
        here = as_multipolygon(piece.geometry.intersection(rest))
        if here.area > _LEAST_M2:
            yield _Piece(
                geometry=here,
                cover=piece.cover,
                curve_number=piece.curve_number,
                runoff_coefficient=piece.runoff_coefficient,
                stated_by=piece.stated_by,
            )
            rest = as_multipolygon(rest.difference(here))
    if rest.area > _LEAST_M2:
        yield _Piece(
            geometry=rest,
            cover=parameters.cover,
            curve_number=math.nan,
            runoff_coefficient=math.nan,
            stated_by="setting",
        )


def _surfaces(site: Site) -> Iterator[_Piece]:
    table = site.surfaces
    columns = ("geometry", "id", "kind", "curve_number", "runoff_coefficient")
    for geometry, source_id, kind, number, coefficient in zip(
        *(table[name] for name in columns), strict=True
    ):
        _refuse_impossible(str(source_id), float(number), float(coefficient))
        cover = _cover_of(kind)
        yield _Piece(
            geometry=geometry,
            cover=cover or "unknown",
            curve_number=float(number),
            runoff_coefficient=float(coefficient),
            stated_by="surface",
        )


def _refuse_impossible(source_id: str, number: float, coefficient: float) -> None:
    if not math.isnan(number) and not 0.0 < number <= 100.0:
        fault = f"curve_number is {number:g}"
        raise InputRefused(fault, remedy="above 0, at most 100", ids=[source_id])
    if not math.isnan(coefficient) and not 0.0 <= coefficient <= 1.0:
        fault = f"runoff_coefficient is {coefficient:g}"
        raise InputRefused(fault, remedy="0 to 1", ids=[source_id])


def _structures(site: Site) -> Iterator[_Piece]:
    for geometry, kind in zip(site.structures.geometry, site.structures["kind"], strict=True):
        cover = _cover_of(kind)
        yield _Piece(
            geometry=geometry,
            cover=cover if cover in _FLAT else "roof",
            curve_number=math.nan,
            runoff_coefficient=math.nan,
            stated_by="structure",
        )


def is_building(kind: object) -> bool:
    """Whether a structure of this kind stands up; drives, walks, patios and pools do not.

    Parameters
    ----------
    kind : object
        Word of the user's file; what is not known stands up.

    Returns
    -------
    bool
        True for buildings, and for walls.
    """
    return _cover_of(kind) not in _FLAT


def _cover_of(kind: object) -> str:
    word = str(kind).strip().casefold()
    return word if word in COVERS else _COVER_OF.get(word, "")


def _shares(
    site: Site, pieces: Iterable[_Piece], slope: float, parameters: StormParameters
) -> tuple[SurfaceShare, ...]:
    """Add up what is alike, in the order of pieces."""
    found: dict[tuple[str, str, float, float, str], float] = {}
    for piece in pieces:
        # What is on the ground is not known: paving sheds most.
        cover = COVERS["paving" if piece.cover == "unknown" else piece.cover]
        for group, told, area_m2 in _by_soil(site, piece, parameters):
            number, coefficient = piece.curve_number, piece.runoff_coefficient
            key = (
                piece.cover,
                told,
                cover.curve_number(group) if math.isnan(number) else number,
                cover.coefficient(group, slope) if math.isnan(coefficient) else coefficient,
                piece.stated_by,
            )
            found[key] = found.get(key, 0.0) + area_m2
    return tuple(
        SurfaceShare(
            cover=cover,
            soil_group=group,
            area_m2=area_m2,
            curve_number=number,
            runoff_coefficient=coefficient,
            stated_by=stated_by,
        )
        for (cover, group, number, coefficient, stated_by), area_m2 in found.items()
    )


def _by_soil(
    site: Site, piece: _Piece, parameters: StormParameters
) -> Iterator[tuple[SoilGroup, str, float]]:
    """Soil group used, what is told of it, and area, of each soil under a piece."""
    rest = piece.geometry
    soils = zip(site.soils.geometry, site.soils["kind"], strict=True)
    for geometry, kind in sorted(soils, key=lambda soil: soil[0].area):
        here = as_multipolygon(geometry.intersection(rest))
        if here.area > _LEAST_M2:
            known = _GROUPS.get(str(kind))
            yield known or "D", known or "unknown", here.area
            rest = as_multipolygon(rest.difference(here))
    if rest.area > _LEAST_M2:
        group = parameters.soil_group
        yield "D" if group == "unknown" else group, group, rest.area


def _longest_way(terrain: Terrain, above: NDArray[np.bool_]) -> tuple[LineString, Floats, Floats]:
    """The longest way of water above the work: line, levels that never rise, ground drained."""
    grid = terrain.direction
    if not (above & (grid.values != drainage.NO_DATA)).any():
        return LineString(), np.empty(0), np.empty(0)
    found = drainage.longest_path(grid.values, above, grid.cell_width_m, grid.cell_height_m)
    rows, cols = found.cells.T
    if len(rows) < 2:
        return LineString(), np.empty(0), np.empty(0)
    x, y = grid.centres()
    ground = terrain.ground.values[rows, cols].astype(np.float64)
    levels_m = np.where(np.isnan(ground), terrain.filled.values[rows, cols], ground)
    return (
        LineString(np.column_stack([x[cols], y[rows]])),
        np.minimum.accumulate(levels_m),
        terrain.accumulation_m2.values[rows, cols].astype(np.float64),
    )


def _legs(
    path: LineString,
    levels_m: Floats,
    drained_m2: Floats,
    hard: BaseGeometry,
    rain_m: float,
    parameters: StormParameters,
) -> Iterator[TravelLeg]:
    if path.is_empty:
        return
    xy = np.array(path.coords)
    at_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    channel = np.flatnonzero(drained_m2 >= parameters.channel_from)
    channel_m = float(at_m[channel[0]]) if channel.size else float(at_m[-1])
    sheet_m = min(LONGEST_SHEET_M, channel_m)
    for kind, begin_m, end_m in (
        ("sheet", 0.0, sheet_m),
        ("shallow", sheet_m, channel_m),
        ("channel", channel_m, float(at_m[-1])),
    ):
        if end_m > begin_m:
            ends = np.interp([begin_m, end_m], at_m, levels_m)
            slope = max(float(ends[0] - ends[1]) / (end_m - begin_m), parameters.least_slope)
            paved = _on_hard(at_m, xy, begin_m, end_m, hard)
            time_s = _time_s(kind, end_m - begin_m, slope, paved, rain_m, parameters)
            yield TravelLeg(kind=kind, length_m=end_m - begin_m, slope=slope, time_s=time_s)


def _on_hard(at_m: Floats, xy: Floats, begin_m: float, end_m: float, hard: BaseGeometry) -> bool:
    inside = (at_m >= begin_m) & (at_m <= end_m)
    if np.count_nonzero(inside) < 2:
        return False
    leg = LineString(xy[inside])
    return bool(leg.intersection(hard).length > 0.5 * leg.length)


def _time_s(
    kind: str,
    length_m: float,
    slope: float,
    paved: bool,
    rain_m: float,
    parameters: StormParameters,
) -> float:
    if kind == "sheet":
        if math.isnan(rain_m):
            return math.nan
        return sheet_time(length_m, slope, parameters.sheet_roughness, rain_m)
    if kind == "shallow":
        return length_m / shallow_velocity(slope, paved=paved)
    depth_m = parameters.channel_depth
    section = Trapezoid(depth_m, 2.0)
    return length_m / manning_velocity(section, depth_m, slope, parameters.channel_roughness)
