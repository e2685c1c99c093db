"""Rows of the works: candidates, basin, stream, pipe, pile, fence, route, clearances, digging."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from shapely import force_3d
from shapely.affinity import rotate
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

if TYPE_CHECKING:
    from geo_site.certainty import PlaceCertainty
    from geo_site.plan import Plan, Proposal

__all__ = [
    "DIG_PURPOSE",
    "basin",
    "basin_candidates",
    "basin_excavation",
    "clearances",
    "dig_area",
    "machine_route",
    "pipe_run",
    "silt_fence",
    "spoil_pile",
    "stream_alignment",
    "stream_bed",
    "stream_falls",
    "stream_pools",
    "stream_reaches",
    "swale",
]

Row = Mapping[str, Any]

DIG_PURPOSE = "outline of all digging, to be marked in white and named in the locate request"


def basin_candidates(plan: Plan) -> Iterator[Row]:
    """Give the footprint of each place, best first."""
    stated = plan.certainty if plan.certainty and not plan.certainty.is_assumed else None
    sure = {place.rank: place for place in stated.places} if stated else {}
    for ranked in plan.candidates:
        one = ranked.candidate
        yield {
            **_how_sure(sure.get(ranked.rank)),
            "geometry": one.placement.footprint,
            "rank": ranked.rank,
            "score": ranked.score,
            "available_fall_m": one.layout.ground_fall_m,
            "run_on_m2": one.catchment.area_m2,
            "excavation_m3": one.excavation.bank_m3,
            "hand_dig_m2": one.hand_dig_m2,
            "clearance_m": _finite(one.clearance_m),
            "reason": ranked.reason,
            "margin_m": _finite(one.margin_m),
            "stream_fall_m": one.layout.fall_m,
            "stream_length_m": one.layout.length_m,
            "route_state": one.route_state,
            "rotation_deg": one.placement.rotation_deg,
        }


def _how_sure(place: PlaceCertainty | None) -> dict[str, float | None]:
    """How sure the fall of a place is, and its rank; empty where that is not known."""
    if place is None:
        names = ("fall_low_m", "fall_high_m", "chance_of_fall", "chance_best")
        return dict.fromkeys(names)
    return {
        "fall_low_m": _finite(place.fall.low),
        "fall_high_m": _finite(place.fall.high),
        "chance_of_fall": _finite(place.chance_of_fall),
        "chance_best": _finite(place.chance_best),
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def basin(plan: Plan) -> Iterator[Row]:
    """Give the outline of the void units."""
    if plan.proposal is None:
        return
    placement = plan.proposal.placement
    yield {
        "geometry": placement.footprint,
        **_basin_numbers(plan.proposal),
        "length_m": placement.arrangement.length_m,
        "width_m": placement.arrangement.width_m,
        "depth_m": plan.design.depth_m,
    }


def basin_excavation(plan: Plan) -> Iterator[Row]:
    """Give the edge of the pit on the real ground."""
    if plan.proposal is None:
        return
    placement = plan.proposal.placement
    length_m, width_m = _sides(placement.excavation, placement.rotation_deg)
    yield {
        "geometry": placement.excavation,
        **_basin_numbers(plan.proposal),
        "length_m": length_m,
        "width_m": width_m,
        "depth_m": placement.greatest_depth_m,
        "excavation_m3": plan.proposal.best.candidate.excavation.bank_m3,
    }


def _basin_numbers(proposal: Proposal) -> dict[str, Any]:
    placement, water = proposal.placement, proposal.water
    return {
        "rotation_deg": placement.rotation_deg,
        "water_level_m": water.water_level_m,
        "stored_m3": water.stored_m3,
        "usable_m3": water.usable_m3,
        "rim_level_m": placement.rim_level_m,
        "floor_level_m": placement.floor_level_m,
    }


def _sides(outline: Polygon, rotation_deg: float) -> tuple[float, float]:
    """Extent along and across the basin's long side."""
    west, south, east, north = rotate(outline, -rotation_deg, origin="centroid").bounds
    return east - west, north - south


def stream_alignment(plan: Plan) -> Iterator[Row]:
    """Give the stream's middle, downstream."""
    if plan.proposal is None:
        return
    layout = plan.proposal.layout
    yield {
        "geometry": layout.alignment,
        "length_m": layout.length_m,
        "fall_m": layout.fall_m,
        "sinuosity": layout.sinuosity,
        "flow_m3s": plan.proposal.water.flow_m3s,
        "berm_height_m": layout.berm_height_m,
    }


def stream_reaches(plan: Plan) -> Iterator[Row]:
    """Give each stretch of the alignment with its running water."""
    if plan.proposal is None:
        return
    running = {reach.sequence: reach for reach in plan.proposal.water.reaches}
    for reach in plan.proposal.layout.reaches:
        water = running[reach.sequence]
        yield {
            "geometry": reach.line,
            "sequence": reach.sequence,
            "kind": reach.kind,
            "water_level_m": water.water_level_m,
            "depth_m": water.depth_m,
            "velocity_ms": water.velocity_ms,
            "from_m": reach.from_m,
            "to_m": reach.to_m,
            "sill_level_m": reach.sill_level_m,
        }


def stream_falls(plan: Plan) -> Iterator[Row]:
    """Give the middle of each lip."""
    if plan.proposal is None:
        return
    heads = {fall.sequence: fall.head_m for fall in plan.proposal.water.falls}
    for fall in plan.proposal.layout.falls:
        yield {
            "geometry": Point(fall.x, fall.y, fall.lip_level_m),
            "sequence": fall.sequence,
            "station_m": fall.station_m,
            "height_m": fall.height_m,
            "lip_level_m": fall.lip_level_m,
            "lip_width_m": fall.lip_width_m,
            "head_m": heads[fall.sequence],
        }


def stream_pools(plan: Plan) -> Iterator[Row]:
    """Give each pool's outline at its water level."""
    if plan.proposal is None:
        return
    running = {pool.sequence: pool for pool in plan.proposal.water.pools}
    for pool in plan.proposal.layout.pools:
        water = running[pool.sequence]
        yield {
            "geometry": force_3d(pool.geometry, water.water_level_m),
            "sequence": pool.sequence,
            "water_level_m": water.water_level_m,
            "depth_m": pool.depth_m,
            "volume_m3": water.volume_m3,
            "liner_level_m": water.liner_level_m,
            "sill_level_m": pool.sill_level_m,
        }


def stream_bed(plan: Plan) -> Iterator[Row]:
    """Give stream and pools in plan; a row for each part."""
    if plan.proposal is None:
        return
    for part in _parts(plan.proposal.layout.bed):
        yield {"geometry": part, "area_m2": part.area}


def pipe_run(plan: Plan) -> Iterator[Row]:
    """Give the pipe's centre line, pump first."""
    if plan.proposal is None:
        return
    water, pipe = plan.proposal.water, plan.proposal.water.lift.pipe
    yield {
        "geometry": plan.proposal.layout.pipe,
        "length_m": pipe.length_m,
        "inside_diameter_m": pipe.inside_diameter_m,
        "velocity_ms": pipe.velocity_ms,
        "flow_m3s": water.flow_m3s,
        "total_head_m": water.total_head_m,
        "static_lift_m": water.static_lift_m,
    }


def spoil_pile(plan: Plan) -> Iterator[Row]:
    """Give the toe of the pile."""
    moved = plan.proposal.earthwork if plan.proposal else None
    if moved is None or moved.pile is None:
        return
    yield {
        "geometry": moved.pile.geometry,
        "volume_m3": moved.pile.volume_m3,
        "height_m": moved.pile.height_m,
        "bank_m3": moved.pile.bank_m3,
        "swell_factor": moved.swell_factor,
        "soil": moved.soil,
        "crest_level_m": moved.pile.crest_level_m,
    }


def silt_fence(plan: Plan) -> Iterator[Row]:
    """Give the fence's line."""
    fence = plan.proposal.earthwork.silt_fence if plan.proposal else None
    for part in _parts(fence):
        yield {"geometry": part, "length_m": part.length}


def swale(plan: Plan) -> Iterator[Row]:
    """Give each piece of the swale that may be dug."""
    storms = plan.proposal.storms if plan.proposal else None
    for arm in storms.swales if storms else ():
        for part in arm.stands.geoms:
            yield {
                "geometry": part,
                "length_m": part.length,
                "depth_m": _finite(arm.depth_m),
                "top_width_m": _finite(arm.top_width_m),
                "flow_m3s": _finite(arm.flow_m3s),
                "slope": arm.slope,
                "lining": arm.lining,
                "kept_off_m2": arm.kept_off_m2,
            }


def machine_route(plan: Plan) -> Iterator[Row]:
    """Give the machine's ways."""
    for leads_to, route in plan.proposal.routes if plan.proposal else ():
        yield {
            "geometry": route.line,
            "length_m": route.length_m,
            "leads_to": leads_to,
            "hand_dig_m": route.hand_dig_m,
            "steepest_along": route.steepest_along,
            "steepest_across": route.steepest_across,
        }


def clearances(plan: Plan) -> Iterator[Row]:
    """Give a connector for each pair of work and object."""
    for row in plan.clearances:
        yield {
            "geometry": row.connector,
            "work": row.work,
            "against": row.against,
            "kind": row.kind,
            "required_m": row.required_m,
            "clearance_m": row.clearance_m,
            "verdict": row.verdict,
            "reason": row.reason,
        }


def dig_area(plan: Plan) -> Iterator[Row]:
    """Give the white-line outline of all digging, as one row."""
    if plan.locate_request is None:
        return
    asked = plan.locate_request
    yield {
        "geometry": asked.outline,
        "area_m2": asked.area_m2,
        "purpose": DIG_PURPOSE,
        "margin_m": asked.margin_m,
    }


def _parts(geometry: BaseGeometry | None) -> Iterator[BaseGeometry]:
    if geometry is None or geometry.is_empty:
        return
    yield from getattr(geometry, "geoms", [geometry])
