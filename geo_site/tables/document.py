"""The whole plan as one JSON document."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geo_site import __version__
from geo_site.cautions import CAUTIONS
from geo_site.crs import code_of, scale_factor
from geo_site.tables.plain import numbers_of, plain
from geo_site.tables.water_document import water_document
from geo_site.versions import library_versions

if TYPE_CHECKING:
    from geo_site.plan import Plan, Proposal
    from geo_site.ranking import Ranked

__all__ = ["plan_document", "write_plan_json"]


def write_plan_json(plan: Plan, path: str | Path) -> Path:
    """Write a plan as JSON.

    Parameters
    ----------
    plan : Plan
        What to write.
    path : str or Path
        Target.

    Returns
    -------
    Path
        The target.
    """
    target = Path(path)
    told = json.dumps(plan_document(plan), indent=1, ensure_ascii=False, allow_nan=False)
    target.write_text(f"{told}\n", encoding="utf-8", newline="\n")
    return target


def plan_document(plan: Plan) -> dict[str, Any]:
    """Give everything that a plan says in plain data.

    Parameters
    ----------
    plan : Plan
        What was found out.

    Returns
    -------
    dict
        SI, units in the names, unknown numbers None; ``basin``, ``stream``, ``water`` and
        ``earthwork`` are None when there is no place. Coordinates are in the working CRS.
    """
    return {
        "status": plan.status,
        "site": _site(plan),
        "inputs": _inputs(plan),
        "basin": _of_proposal(plan, _basin),
        "candidates": [_candidate(ranked) for ranked in plan.candidates],
        "stream": _of_proposal(plan, _stream),
        "water": _of_proposal(plan, water_document),
        "drainage": _drainage(plan),
        "earthwork": _of_proposal(plan, _earthwork),
        "clearances": [numbers_of(row) for row in plan.clearances],
        "clearance_record": numbers_of(plan.record),
        "quantities": [numbers_of(row) for row in plan.quantities],
        "certainty": None if plan.certainty is None else numbers_of(plan.certainty),
        "costs": None if plan.costs is None else numbers_of(plan.costs),
        "warnings": list(plan.warnings),
        "visit": [numbers_of(row) for row in plan.visit],
        "sources": dict(plan.sources),
        "breaches": [numbers_of(row) for row in plan.breaches],
        "changes": [numbers_of(row) for row in plan.changes],
        "alternatives": [numbers_of(row) for row in plan.compared],
        "no_place": [numbers_of(row) for row in plan.no_place],
        "relaxations": [numbers_of(row) for row in plan.relaxations],
        "settings": _settings(plan),
        "versions": {"geo_site": __version__, **library_versions()},
        "cautions": [{"subject": subject, "caution": told} for subject, told in CAUTIONS],
    }


def _of_proposal(plan: Plan, tell: Callable[[Plan, Proposal], dict[str, Any]]) -> Any:
    return None if plan.proposal is None else tell(plan, plan.proposal)


def _site(plan: Plan) -> dict[str, Any]:
    site = plan.site
    return {
        "name": site.name,
        "report_units": site.report_units,
        "revision": site.revision,
        "crs": site.crs.name,
        "crs_code": code_of(site.crs) or None,
        "grid_scale": scale_factor(site.crs, *site.parcel.centroid.coords[0]),
        "output_crs": site.output_crs.name,
        "parcel_id": site.parcel_id,
        "parcel_area_m2": site.parcel.area,
        "parcel_accuracy_m": plain(site.parcel_accuracy_m),
        "extent_m": list(site.parcel.bounds),
        "rmse_z_m": plain(site.rmse_z_m),
        "vertical_datum": site.vertical_datum or None,
        "ticket": numbers_of(site.ticket),
        "private_locate": plain(site.private_locate),
    }


def _inputs(plan: Plan) -> list[dict[str, Any]]:
    return [
        {
            "name": record.name,
            "path": record.path,
            "sha256": record.sha256,
            "crs": record.crs,
            "unit": record.unit,
            "count": record.count,
            "extent_m": plain(record.extent),
            "notes": list(record.notes),
        }
        for record in plan.site.records
    ]


def _basin(plan: Plan, proposal: Proposal) -> dict[str, Any]:
    placement, water, design = proposal.placement, proposal.water, plan.design
    return {
        "x_m": placement.x,
        "y_m": placement.y,
        "rotation_deg": placement.rotation_deg,
        "corners_m": [list(corner[:2]) for corner in placement.footprint.exterior.coords[:-1]],
        **numbers_of(placement.arrangement),
        "layers": design.layers,
        "depth_m": design.depth_m,
        "greatest_depth_m": placement.greatest_depth_m,
        "batter": design.batter,
        "overdig_m": design.overdig_m,
        "cover_m": design.cover_m,
        "bedding_m": design.bedding_m,
        "rim_level_m": placement.rim_level_m,
        "floor_level_m": placement.floor_level_m,
        "water_level_m": plain(water.water_level_m),
        "stored_m3": plain(water.stored_m3),
        "usable_m3": plain(water.usable_m3),
        "required_m3": plain(water.required_m3),
        "flags": list(design.flags),
    }


def _candidate(ranked: Ranked) -> dict[str, Any]:
    one = ranked.candidate
    return {
        "rank": ranked.rank,
        "score": plain(ranked.score),
        "x_m": one.placement.x,
        "y_m": one.placement.y,
        "rotation_deg": one.placement.rotation_deg,
        "available_fall_m": plain(one.layout.ground_fall_m),
        "stream_fall_m": plain(one.layout.fall_m),
        "stream_length_m": plain(one.layout.length_m),
        "run_on_m2": plain(one.catchment.area_m2),
        "excavation_m3": plain(one.excavation.bank_m3),
        "hand_dig_m2": plain(one.hand_dig_m2),
        "clearance_m": plain(one.clearance_m),
        "margin_m": plain(one.margin_m),
        "route_state": one.route_state,
        "route_length_m": plain(one.route.length_m if one.route else None),
        "reason": ranked.reason,
        "marks": [numbers_of(mark) for mark in ranked.marks],
    }


def _stream(plan: Plan, proposal: Proposal) -> dict[str, Any]:
    low_m, high_m = plan.fall_range_m
    return {
        **numbers_of(proposal.layout),
        "fall_low_m": plain(low_m),
        "fall_high_m": plain(high_m),
        "bed_area_m2": proposal.layout.bed.area,
    }


def _drainage(plan: Plan) -> dict[str, Any]:
    overflow = None
    if plan.proposal is not None:
        path = plan.proposal.overflow
        overflow = {"length_m": path.line.length, "accumulation_m2": plain(path.accumulation_m2)}
    return {
        "catchments": [numbers_of(area) for area in plan.proposal.catchments]
        if plan.proposal
        else [],
        "overflow": overflow,
        "depressions": [numbers_of(low) for low in plan.terrain.depressions],
        "flow_paths": len(plan.terrain.flow_paths),
        "notes": list(plan.terrain.notes),
    }


def _earthwork(plan: Plan, proposal: Proposal) -> dict[str, Any]:
    moved = proposal.earthwork
    fence = moved.silt_fence
    return {
        **numbers_of(moved, "silt_fence"),
        "silt_fence_m": fence.length if fence is not None else 0.0,
        "dig_area_m2": plan.dig_area.area,
        "route_state": proposal.best.candidate.route_state,
        "routes": {leads_to: numbers_of(route) for leads_to, route in proposal.routes},
    }


def _settings(plan: Plan) -> dict[str, Any]:
    return {
        row.key: {
            "value": plain(row.value),
            "unit": row.unit,
            "source": row.source,
            "is_default": row.is_default,
        }
        for row in plan.settings.rows()
    }
