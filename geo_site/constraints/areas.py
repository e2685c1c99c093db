"""Ground that is taken away as a whole: outside the parcel, steep, wet or unknown.

In: the parcel and the terrain. Out: areas near the parcel. Method: cells of the terrain that
fail a limit, traced along their edges.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.constraints.rules import ALL_WORKS, Area, Constraint, Question
from geo_site.constraints.zones import keep_off
from geo_site.raster import Raster, trace
from geo_site.terrain import Terrain

__all__ = ["ConcentratedFlow", "KeepOff", "NoTerrain", "OutsideParcel", "Steep"]


class OutsideParcel(Constraint):
    """Ground that is not the lot's."""

    reason = "outside_parcel"
    works = ALL_WORKS

    def areas(self, question: Question, terrain: Terrain, within: MultiPolygon) -> Iterator[Area]:
        """Give the surroundings of the parcel."""
        del terrain
        site = question.site
        yield Area(geometry=within.difference(site.parcel), source_id=site.parcel_id)


class KeepOff(Constraint):
    """Ground that the user keeps all works off."""

    reason = "keep_off"
    works = ALL_WORKS

    def areas(self, question: Question, terrain: Terrain, within: MultiPolygon) -> Iterator[Area]:
        """Give the areas of the site file, one by one."""
        del terrain
        for area in question.site.fixed.keep_off.geoms:
            yield Area(geometry=within.intersection(area))


class Steep(Constraint):
    """Ground too steep for a basin or a pile."""

    reason = "steep"
    works = frozenset({"basin", "pile"})

    def areas(self, question: Question, terrain: Terrain, within: MultiPolygon) -> Iterator[Area]:
        """Give the cells whose slope is above the limit."""
        slope = _near(terrain.slope, within, 0.0)
        if slope is not None:
            yield Area(geometry=trace(slope.values > question.parameters.steepest, slope))


class ConcentratedFlow(Constraint):
    """Ground where storm water runs concentrated."""

    reason = "concentrated_flow"
    works = frozenset({"basin", "stream", "pile"})

    def areas(self, question: Question, terrain: Terrain, within: MultiPolygon) -> Iterator[Area]:
        """Give the cells that drain much ground, and a strip beside them."""
        parameters = question.parameters
        beside_m = parameters.concentrated_flow_buffer
        flow = _near(terrain.accumulation_m2, within, beside_m)
        if flow is not None:
            wet = trace(flow.values >= parameters.concentrated_flow, flow)
            yield Area(geometry=keep_off(wet, beside_m), distance_m=beside_m)


class NoTerrain(Constraint):
    """Ground whose level nobody knows: holes in the terrain, and all beyond it."""

    reason = "no_terrain"
    works = ALL_WORKS

    def areas(self, question: Question, terrain: Terrain, within: MultiPolygon) -> Iterator[Area]:
        """Give the cells without data and what lies beyond the grid."""
        del question
        yield Area(geometry=within.difference(terrain.ground.outline))
        ground = _near(terrain.ground, within, 0.0)
        if ground is not None:
            yield Area(geometry=trace(np.isnan(ground.values), ground))


def _near(raster: Raster, within: BaseGeometry, margin_m: float) -> Raster | None:
    """Cells that could matter within an area; None where the grid does not reach it."""
    west, south, east, north = within.bounds
    margin_m += max(raster.cell_width_m, raster.cell_height_m)
    bounds = (west - margin_m, south - margin_m, east + margin_m, north + margin_m)
    reaches = Polygon.from_bounds(*bounds).intersection(raster.outline).area > 0.0
    return raster.window(bounds) if reaches else None
