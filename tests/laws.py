"""What must hold of every plan, whatever the site: told as sentences when it does not."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from shapely import union_all

from geo_site.constraints import requirements
from geo_site.plan import Plan, Proposal

AREA_M2 = 1e-6
REACH_M = 0.005
SPOIL_SETBACK_M = 0.6096


def broken_laws(plan: Plan) -> list[str]:
    """Give a sentence for each law that a plan breaks."""
    told = [*_verdicts(plan), *_grounds(plan)]
    if plan.proposal is None:
        return [*told, *([] if plan.no_place else ["no place, and no reason"])]
    proposal = plan.proposal
    return [
        *told,
        *_inside(plan, proposal),
        *_buffers(plan, proposal),
        *_stream(proposal),
        *_earth(proposal),
        *_catchments(plan, proposal),
    ]


def _verdicts(plan: Plan) -> Iterator[str]:
    for row in plan.clearances:
        name = f"{row.work} against {row.against}"
        if row.verdict == "met" and row.clearance_m < row.required_m - 1e-6:
            yield f"{name} is met at {row.clearance_m} of {row.required_m} m"
        if not math.isclose(row.connector.length, row.clearance_m, abs_tol=1e-6):
            yield f"{name}: connector of {row.connector.length} m for {row.clearance_m} m"


def _grounds(plan: Plan) -> Iterator[str]:
    for work, ground in plan.grounds.items():
        if ground.open.intersection(ground.blocked).area > AREA_M2:
            yield f"open and blocked ground of the {work} overlap"
        if ground.open.difference(plan.site.parcel).area > AREA_M2:
            yield f"open ground of the {work} leaves the parcel"
        strips = union_all([strip.geometry for strip in ground.hand_dig])
        if strips.intersection(ground.open).area > AREA_M2:
            yield f"hand-dig and open ground of the {work} overlap"


def _inside(plan: Plan, proposal: Proposal) -> Iterator[str]:
    works = proposal.works
    for name in ("basin", "basin_excavation", "stream", "spoil_pile"):
        area = getattr(works, name)
        if area is not None and area.difference(plan.site.parcel).area > AREA_M2:
            yield f"{name} leaves the parcel"
    for name, area, work in (
        ("excavation", works.basin_excavation, "basin"),
        ("stream", works.stream, "stream"),
        ("pile", works.spoil_pile, "pile"),
    ):
        blocked = plan.grounds[work].blocked
        if area is not None and area.intersection(blocked).area > AREA_M2:
            yield f"{name} stands on blocked ground"


def _buffers(plan: Plan, proposal: Proposal) -> Iterator[str]:
    level_m = plan.design.depth_m + plan.settings.siting.greatest_rise
    depth_m = max(level_m, proposal.placement.greatest_depth_m)
    opened = bool(plan.grounds["basin"].hand_dig)
    for work, area in (
        ("basin", proposal.works.basin_excavation),
        ("stream", proposal.works.stream),
        ("pile", proposal.works.spoil_pile),
    ):
        if area is None:
            continue
        for asked in requirements(plan.site, plan.settings.constraints, work, depth_m):
            if asked.advisory:  # another code's: told, not kept
                continue
            least_m = asked.least_m if opened and work != "pile" else asked.required_m
            found_m = area.distance(asked.geometry) - asked.half_width_m
            if asked.reason != "boundary" and found_m < least_m - REACH_M:
                yield f"{work} is {found_m:.3f} m from {asked.against}, {least_m:.3f} m asked"


def _stream(proposal: Proposal) -> Iterator[str]:
    layout = proposal.layout
    if np.any(np.diff(layout.bed_m) > 1e-9):
        yield "the bed rises"
    levels = np.array(layout.alignment.coords)[:, 2]
    if np.any(np.diff(levels) > 1e-9):
        yield "the alignment rises"
    end = layout.alignment.interpolate(1.0, normalized=True)
    if end.distance(proposal.placement.footprint) > 1e-6:
        yield "the stream does not end in the basin"
    if not math.isclose(levels[0] - levels[-1], layout.fall_m, abs_tol=1e-9):
        yield "the fall is not first level less last"
    if any(not 0.0 < fall.height_m <= layout.fall_m + 1e-9 for fall in layout.falls):
        yield "a fall is higher than the stream, or none"
    if layout.bed.intersection(proposal.placement.footprint).is_empty:
        yield "the bed does not reach the basin"


def _earth(proposal: Proposal) -> Iterator[str]:
    moved = proposal.earthwork
    piled_m3 = moved.pile.volume_m3 if moved.pile else 0.0
    dug_m3 = moved.bank_m3 + moved.brought_m3 / moved.swell_factor
    used_m3 = (piled_m3 + moved.haul_m3) / moved.swell_factor + moved.berm_m3 / moved.shrink_factor
    if not math.isclose(dug_m3, used_m3, rel_tol=1e-6, abs_tol=1e-6):
        yield f"{dug_m3} m3 dug, {used_m3} m3 accounted for"
    if moved.pile is not None:
        pile = moved.pile
        if not math.isclose(pile.volume_m3, pile.bank_m3 * moved.swell_factor, rel_tol=1e-9):
            yield "the pile's loose and bank volumes disagree"
        if pile.geometry.distance(proposal.placement.excavation) < SPOIL_SETBACK_M - REACH_M:
            yield "the pile stands at the edge of the excavation"


def _catchments(plan: Plan, proposal: Proposal) -> Iterator[str]:
    cell_m2 = plan.terrain.ground.cell_area_m2
    for catchment in proposal.catchments:
        cells = catchment.area_m2 / cell_m2
        if not math.isclose(cells, round(cells), abs_tol=1e-6):
            yield f"the catchment of the {catchment.work} is {cells} cells"
        if not math.isclose(catchment.geometry.area, catchment.area_m2, rel_tol=1e-9):
            yield f"the catchment of the {catchment.work} is drawn with another area"
