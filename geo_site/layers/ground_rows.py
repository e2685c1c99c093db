"""Rows of what was given and of the ground: parcel, blocked and open ground, lines, water."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from geo_site.constraints import Requirement, requirements

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = [
    "blocked_ground",
    "catchment",
    "contour_lines",
    "depressions",
    "flow_paths",
    "hand_dig_ground",
    "open_ground",
    "overflow_path",
    "parcel",
    "utility_lines",
]

Row = Mapping[str, Any]


def parcel(plan: Plan) -> Iterator[Row]:
    """Give the lot."""
    site = plan.site
    yield {
        "geometry": site.parcel,
        "area_m2": site.parcel.area,
        "parcel_id": site.parcel_id,
        "accuracy_m": site.parcel_accuracy_m,
    }


def blocked_ground(plan: Plan) -> Iterator[Row]:
    """Give a row for each object and each kind of area that blocks the basin's excavation."""
    for piece in plan.grounds["basin"].pieces:
        yield {
            "geometry": piece.geometry,
            "reason": piece.reason,
            "source_id": piece.source_id or None,
            "distance_m": piece.distance_m,
        }


def hand_dig_ground(plan: Plan) -> Iterator[Row]:
    """Give a row for each strip opened to digging by hand."""
    for strip in plan.grounds["basin"].hand_dig:
        yield {
            "geometry": strip.geometry,
            "utility_id": strip.utility_id,
            "kind": strip.kind,
            "half_width_m": strip.half_width_m,
        }


def open_ground(plan: Plan) -> Iterator[Row]:
    """Give the ground that the basin's excavation may take, as one row."""
    ground = plan.grounds["basin"].open
    yield {"geometry": ground, "area_m2": ground.area}


def utility_lines(plan: Plan) -> Iterator[Row]:
    """Give every line as read, with the uncertainty that was counted on."""
    asked = _asked_by_lines(plan)
    for line in plan.site.utilities.itertuples():
        asks = asked.get(str(line.id))
        yield {
            "geometry": line.geometry,
            "utility_id": line.id,
            "kind": asks.kind if asks else "unknown",
            "quality_level": _word(line.quality_level),
            "diameter_m": line.diameter_m,
            "uncertainty_m": asks.uncertainty_m if asks else None,
            "required_m": asks.required_m if asks else None,
            "side": _word(line.side),
            "member": _word(line.member),
            "marked_on": _day(line.marked_on),
            "status": _word(line.status),
            "note": asks.note if asks else None,
        }


def _asked_by_lines(plan: Plan) -> dict[str, Requirement]:
    rows = requirements(plan.site, plan.settings.constraints, "basin", plan.design.depth_m)
    return {row.against: row for row in rows if row.reason == "utility"}


def _word(value: object) -> str | None:
    return value if isinstance(value, str) and value else None


def _day(value: object) -> str | None:
    if value is pd.NaT or not isinstance(value, datetime.date):
        return None
    return value.isoformat()[:10]


def catchment(plan: Plan) -> Iterator[Row]:
    """Give the ground that drains onto each work."""
    for area in plan.proposal.catchments if plan.proposal else ():
        yield {
            "geometry": area.geometry,
            "work": area.work,
            "area_m2": area.area_m2,
            "outside_parcel_m2": area.outside_parcel_m2,
            "reaches_terrain_edge": area.reaches_terrain_edge,
        }


def flow_paths(plan: Plan) -> Iterator[Row]:
    """Give the lines along which storm water gathers."""
    for path in plan.terrain.flow_paths:
        yield {"geometry": path.line, "accumulation_m2": path.accumulation_m2}


def overflow_path(plan: Plan) -> Iterator[Row]:
    """Give the way of water that leaves the basin."""
    if plan.proposal is not None:
        path = plan.proposal.overflow
        yield {"geometry": path.line, "accumulation_m2": path.accumulation_m2}


def depressions(plan: Plan) -> Iterator[Row]:
    """Give the low places that hold water."""
    for low in plan.terrain.depressions:
        yield {
            "geometry": low.geometry,
            "depth_m": low.depth_m,
            "volume_m3": low.volume_m3,
            "spill_level_m": low.spill_level_m,
        }


def contour_lines(plan: Plan) -> Iterator[Row]:
    """Give the contours of the lot and a little beyond."""
    for contour in plan.contours:
        yield {
            "geometry": contour.line,
            "level_m": contour.level_m,
            "is_index": contour.is_index,
        }
