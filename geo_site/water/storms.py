"""Storms on the stream and the basin.

Question
    How much water comes onto the works in a storm, does the basin take it, where does the rest
    go, and what keeps run-on off?
In
    A site with its rainfall table, its terrain, the works with their catchments, settings.
Out
    A :class:`StormReport`.
Method
    For each work and each return period: the rational formula for the rain of the time of
    concentration, and the graphical peak discharge of the 24-hour storm, each where it is valid;
    the greater one counts. Volume by curve numbers, share by share. Without a rainfall table
    areas and times' ways are told, and nothing is made up.
Reference
    TR-55; FHWA HEC-22; NOAA Atlas 14. See ``geo_site.runoff`` and ``geo_site.rainfall``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from shapely import union_all
from shapely.geometry.base import BaseGeometry

from geo_site.rainfall import DAY_S, RainfallTable
from geo_site.raster import as_multipolygon
from geo_site.runoff import (
    LEAST_CONCENTRATION_S,
    LEAST_CURVE_NUMBER,
    LEAST_RUNOFF_M,
    frequency_factor,
    graphical_peak,
    initial_abstraction,
    rational_peak,
    unit_peak,
    weighted_runoff,
)
from geo_site.site import Site
from geo_site.terrain import Catchment, Terrain
from geo_site.water.overflow import follow_overflow
from geo_site.water.run_on import find_run_on
from geo_site.water.storm_records import RunOn, Storm, StormReport, StormWorks, WayOfOverflow
from geo_site.water.storm_settings import StormParameters
from geo_site.water.swale import SwaleGround, dig_of, lay_swale

__all__ = ["TOGETHER", "judge_storms"]

TOGETHER = "basin and stream"
"""Name of all works together: what runs onto one of them ends in the basin."""

_LARGEST_RATIONAL_M2 = 800_000.0  # HEC-22: 80 ha
_LONGEST_GRAPHICAL_S = 36_000.0
_HARD = ("roof", "paving", "water")


def judge_storms(
    site: Site, terrain: Terrain, works: StormWorks, parameters: StormParameters
) -> StormReport:
    """Work out storms, overflow and the swale.

    Parameters
    ----------
    site : Site
        Its rain, surfaces, structures, soils and parcel.
    terrain : Terrain
        The ground.
    works : StormWorks
        Basin and stream, their catchments, the way of overflow, free ground.
    parameters : StormParameters
        Settings.

    Returns
    -------
    StormReport
        Without a rainfall table: areas, ways and lines only, and a warning.

    Raises
    ------
    InputRefused
        A surface whose curve number or coefficient cannot be.
    """
    together = _together(works, site)
    run_ons = tuple(
        find_run_on(site, terrain, work, catchment, parameters)
        for work, catchment in (*works.run_ons, together)
        if catchment.area_m2 > 0.0
    )
    storms = tuple(
        _storm(run_on, years, site.rainfall, works.free_room_m3, parameters)
        for run_on in run_ons
        if site.rainfall is not None
        for years in parameters.return_years
    )
    overflow = follow_overflow(works.overflow.line, site, terrain, parameters)
    ground = SwaleGround(
        site=site,
        terrain=terrain,
        works=together[0],
        free=works.free,
        keep_off=works.keep_off,
        catchment=together[1].geometry,
    )
    peak_m3s = _design_peak_m3s(run_ons, site.rainfall, parameters)
    swales, told = lay_swale(ground, peak_m3s, parameters.swale)
    table = site.rainfall
    return StormReport(
        rainfall=table.source if table else "",
        series=table.series if table else "",
        run_ons=run_ons,
        storms=storms,
        free_room_m3=works.free_room_m3,
        overflow=overflow,
        swales=swales,
        swale_dig=dig_of(swales, parameters.swale),
        notes=tuple(_notes(run_ons, table, parameters)),
        warnings=(
            *_rain_warnings(table, storms, parameters),
            *_bound_warnings(run_ons),
            *_spill_warnings(storms, works.free_room_m3),
            *_way_warnings(overflow, 0.5 * terrain.ground.cell_width_m),
            *told,
        ),
    )


def _together(works: StormWorks, site: Site) -> tuple[BaseGeometry, Catchment]:
    catchments = [catchment for _, catchment in works.run_ons]
    area = as_multipolygon(union_all([catchment.geometry for catchment in catchments]))
    whole = Catchment(
        work=TOGETHER,
        geometry=area,
        area_m2=area.area,
        outside_parcel_m2=site.outside(area),
        reaches_terrain_edge=any(catchment.reaches_terrain_edge for catchment in catchments),
    )
    return union_all([work for work, _ in works.run_ons]), whole


def _design_peak_m3s(
    run_ons: tuple[RunOn, ...], table: RainfallTable | None, parameters: StormParameters
) -> float:
    """Peak that the swale is made for, of all works together."""
    if not run_ons or table is None:
        return math.nan
    years = parameters.design_return_years
    return _storm(run_ons[-1], years, table, math.nan, parameters).peak_m3s


def _storm(
    run_on: RunOn,
    years: float,
    table: RainfallTable,
    free_room_m3: float,
    parameters: StormParameters,
) -> Storm:
    """One storm on one work."""
    # Nothing is read beyond the table: water that is quicker gets its shortest rain.
    duration_s = max(run_on.concentration_s, table.durations_s[0])
    depth_m, day_m = _depth_m(table, duration_s, years), _depth_m(table, DAY_S, years)
    rational_m3s = _rational_m3s(run_on, depth_m / duration_s, years)
    runoff_m = _runoff_m(run_on, day_m, parameters)
    graphical_m3s = _graphical_m3s(run_on, day_m, runoff_m, parameters)
    volume_m3 = runoff_m * run_on.area_m2
    method, peak_m3s, why = _chosen(rational_m3s, graphical_m3s)
    return Storm(
        runs_onto=run_on.runs_onto,
        return_years=years,
        duration_s=duration_s,
        depth_m=depth_m,
        intensity_ms=depth_m / duration_s,
        day_depth_m=day_m,
        runoff_m=runoff_m,
        volume_m3=volume_m3,
        rational_m3s=rational_m3s,
        curve_number_m3s=graphical_m3s,
        peak_m3s=peak_m3s,
        method=method,
        why=why,
        is_lower_bound=run_on.is_lower_bound,
        spilled_m3=_spilled_m3(volume_m3, free_room_m3)
        if run_on.runs_onto == TOGETHER
        else math.nan,
    )


def _spilled_m3(volume_m3: float, free_room_m3: float) -> float:
    """What is over; NaN stays NaN."""
    over_m3 = volume_m3 - free_room_m3
    return over_m3 if math.isnan(over_m3) else max(over_m3, 0.0)


def _depth_m(table: RainfallTable, duration_s: float, years: float) -> float:
    return table.depth(duration_s, years) if table.holds(duration_s, years) else math.nan


def _rational_m3s(run_on: RunOn, intensity_ms: float, years: float) -> float:
    if math.isnan(intensity_ms) or run_on.area_m2 > _LARGEST_RATIONAL_M2:
        return math.nan
    factor = frequency_factor(years)
    return sum(
        rational_peak(min(factor * share.runoff_coefficient, 1.0), intensity_ms, share.area_m2)
        for share in run_on.shares
    )


def _runoff_m(run_on: RunOn, day_m: float, parameters: StormParameters) -> float:
    if math.isnan(day_m):
        return math.nan
    areas_m2 = [share.area_m2 for share in run_on.shares]
    numbers = [share.curve_number for share in run_on.shares]
    return weighted_runoff(day_m, areas_m2, numbers, parameters.abstraction_ratio)


def _graphical_m3s(
    run_on: RunOn, day_m: float, runoff_m: float, parameters: StormParameters
) -> float:
    """Peak of the 24-hour storm; NaN where the method is not for it."""
    least = min(share.curve_number for share in run_on.shares)
    too_little = not runoff_m >= LEAST_RUNOFF_M or least < LEAST_CURVE_NUMBER
    if too_little or not run_on.concentration_s <= _LONGEST_GRAPHICAL_S:
        return math.nan
    duration_s = max(run_on.concentration_s, LEAST_CONCENTRATION_S)
    lost_m = initial_abstraction(run_on.curve_number, parameters.abstraction_ratio)
    unit = unit_peak(duration_s, lost_m / day_m, parameters.rainfall_type)
    return graphical_peak(run_on.area_m2, runoff_m, unit, parameters.pond_part)


def _chosen(rational_m3s: float, graphical_m3s: float) -> tuple[str, float, str]:
    """The method that counts, its peak, and why."""
    if math.isnan(rational_m3s) and math.isnan(graphical_m3s):
        return "unknown", math.nan, "the rainfall table does not hold this storm"
    if math.isnan(graphical_m3s):
        why = "the curve number method is not for so little runoff, or for this storm"
        return "rational", rational_m3s, why
    if math.isnan(rational_m3s):
        why = "the rational formula is not for so large an area, or for this storm"
        return "curve number", graphical_m3s, why
    if rational_m3s >= graphical_m3s:
        return "rational", rational_m3s, "both are valid, the greater counts"
    return "curve number", graphical_m3s, "both are valid, the greater counts"


def _notes(
    run_ons: tuple[RunOn, ...], table: RainfallTable | None, parameters: StormParameters
) -> Iterator[str]:
    if not run_ons:
        return
    shares = run_ons[-1].shares
    unknown_m2 = sum(
        s.area_m2 for s in shares if s.soil_group == "unknown" and s.cover not in _HARD
    )
    if unknown_m2 > 0.0:
        yield f"Soil is not known under {unknown_m2:.0f} m2: group D, the wettest, is taken."
    rest_m2 = sum(s.area_m2 for s in shares if s.stated_by == "setting")
    if rest_m2 > 0.0:
        yield f"{rest_m2:.0f} m2 of ground without a surface are taken as {parameters.cover}."
    odd_m2 = sum(s.area_m2 for s in shares if s.cover == "unknown")
    if odd_m2 > 0.0:
        yield (
            f"{odd_m2:.0f} m2 of surfaces are of a kind that is not known: taken as paving where "
            "no number is given."
        )
    if table is not None:
        yield f"A 24-hour storm of type {parameters.rainfall_type} is taken for the peak."
        quick = run_ons[-1].concentration_s
        if quick < table.durations_s[0]:
            yield "Water comes sooner than the table's shortest rain lasts: that rain is taken."


def _rain_warnings(
    table: RainfallTable | None, storms: tuple[Storm, ...], parameters: StormParameters
) -> Iterator[str]:
    if table is None:
        yield (
            "No rainfall table is given ([inputs.rainfall]): of storms only areas are told; flows, "
            "volumes and the size of the swale are unknown."
        )
        return
    missing = sorted({storm.return_years for storm in storms if storm.method == "unknown"})
    if missing:
        years = ", ".join(f"{value:g}" for value in missing)
        yield (
            f"The rainfall table does not hold the storm of {years} years, or the 24-hour rain of "
            "2 years that travel times need: it is not worked out."
        )
    if parameters.design_return_years in missing:
        yield "The swale has no size: its design storm is not in the rainfall table."


def _bound_warnings(run_ons: tuple[RunOn, ...]) -> Iterator[str]:
    names = [r.runs_onto for r in run_ons if r.is_lower_bound and r.runs_onto != TOGETHER]
    if names:
        yield (
            f"Ground beyond the terrain given may shed onto {' and '.join(names)}: storms there "
            "are lower bounds."
        )


def _spill_warnings(storms: tuple[Storm, ...], free_room_m3: float) -> Iterator[str]:
    over = [storm for storm in storms if storm.spilled_m3 > 0.0]
    if over:
        first = over[0]
        yield (
            f"The basin's free room of {free_room_m3:.1f} m3 does not take the storm of "
            f"{first.return_years:g} years: {first.volume_m3:.1f} m3 run onto basin and stream in "
            f"24 hours and {first.spilled_m3:.1f} m3 spill."
        )


def _way_warnings(way: WayOfOverflow, half_cell_m: float) -> Iterator[str]:
    for near in way.structures:
        if near.distance_m < half_cell_m:
            yield (
                f"What the basin spills runs onto or against structure {near.source_id}, "
                f"{near.along_m:.0f} m on."
            )
        elif near.slope > 0.0:
            yield (
                f"What the basin spills passes structure {near.source_id} at "
                f"{near.distance_m:.1f} m, and the ground falls towards it."
            )
    if way.leaving is not None:
        yield (
            f"What the basin spills leaves the lot on its {way.leaving.side} side after "
            f"{way.leaving.along_m:.0f} m: do not send water onto a neighbour."
        )
