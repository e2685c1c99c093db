"""The best place worked out in full: earth, storms, ways of the machine.

In: a :class:`~geo_site.plan.choosing.Choice`. Out: a :class:`~geo_site.plan.results.Proposal`.
Method: the steps in their order. Reference: the steps below.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import Polygon, union_all
from shapely.geometry.base import BaseGeometry

from geo_site.access import MachineRoute, Reach, route_to
from geo_site.clearance import Works
from geo_site.earthwork import Earthwork, Feature, move_earth
from geo_site.layout import Layout
from geo_site.plan.choosing import Choice, Job
from geo_site.plan.pinned import drawn_routes
from geo_site.plan.results import Proposal
from geo_site.ranking import Candidate
from geo_site.raster import as_multipolygon
from geo_site.siting import Placement
from geo_site.terrain import Catchment, FlowPath, Terrain, catchment_of, spill_path
from geo_site.water import StormReport, StormWorks, Water, judge_storms

__all__ = ["finish"]

_FENCE_ROOM_M = 0.2  # a way goes round a fence where there is room to


def finish(choice: Choice) -> Proposal:
    """Work out earth, run-on, storms and overflow of the best place.

    Parameters
    ----------
    choice : Choice
        With at least one place.

    Returns
    -------
    Proposal
        The works in full.
    """
    job, found, best = choice.job, choice.found, choice.ranked[0]
    one, site, terrain = best.candidate, job.site, job.terrain
    feature = _feature(job, one)
    overflow = spill_path(terrain, *_lowest_edge(terrain, one.placement))
    off = overflow.line.buffer(job.used.earthwork.flow_path_setback)
    pile_ground = found.grounds["pile"]
    pile_ground = replace(pile_ground, open=as_multipolygon(pile_ground.open.difference(off)))
    moved = move_earth(
        site, terrain, pile_ground, found.grounds["fence"], feature, job.used.earthwork
    )
    run_on = tuple(
        (geometry, catchment_of(terrain, geometry, site.parcel, work))
        for work, geometry in (("basin", one.placement.excavation), ("stream", one.layout.dig))
    )
    storms = judge_storms(
        site,
        terrain,
        StormWorks(
            run_ons=run_on,
            free=found.grounds["stream"].open.difference(_taken(one.layout, moved)),
            keep_off=moved.pile.geometry if moved.pile else Polygon(),
            overflow=overflow,
            free_room_m3=_water_of(choice).kept.check.free_room_m3,
        ),
        job.used.water.storm,
    )
    return _proposal(choice, moved, run_on, storms, overflow)


def _feature(job: Job, one: Candidate) -> Feature:
    return Feature(
        placement=one.placement,
        design=job.design,
        layout=one.layout,
        route=one.route,
        toe=job.site.fixed.spoil_pile,
        fence=job.site.fixed.silt_fence,
    )


def _taken(layout: Layout, moved: Earthwork) -> BaseGeometry:
    """Ground that a swale must leave alone: the pipe's trench, the pile, the fence."""
    taken: list[BaseGeometry] = [layout.trench]
    if moved.pile is not None:
        taken.append(moved.pile.geometry)
    if moved.silt_fence is not None:
        taken.append(moved.silt_fence.buffer(_FENCE_ROOM_M))
    return union_all(taken)


def _proposal(
    choice: Choice,
    moved: Earthwork,
    run_on: tuple[tuple[BaseGeometry, Catchment], ...],
    storms: StormReport,
    overflow: FlowPath,
) -> Proposal:
    """Put the works together."""
    job, best = choice.job, choice.ranked[0]
    one = best.candidate
    routes = _drawn_routes(choice, one, moved)
    if not routes:
        routes = _routes(job, choice.found.reach, one, moved)
    return Proposal(
        best=best,
        feature=_feature(job, one),
        water=_water_of(choice),
        earthwork=moved,
        catchments=tuple(catchment for _, catchment in run_on),
        storms=storms,
        overflow=overflow,
        works=Works(
            basin=one.placement.footprint,
            basin_excavation=one.placement.excavation,
            stream=one.layout.dig,
            pipe=one.layout.trench,
            spoil_pile=moved.pile.geometry if moved.pile else None,
            machine_route=union_all([route.corridor for _, route in routes]) if routes else None,
            silt_fence=moved.silt_fence,
            swale=None if storms.swale_dig.is_empty else storms.swale_dig,
        ),
        routes=routes,
        working_reach_m=job.used.access.working_reach,
    )


def _water_of(choice: Choice) -> Water:
    """Give the water of the best place, which is there where a place is."""
    if choice.water is None:
        raise ValueError("there is no place, so no water was worked out")
    return choice.water


def _drawn_routes(
    choice: Choice, one: Candidate, moved: Earthwork
) -> tuple[tuple[str, MachineRoute], ...]:
    job, strips = choice.job, choice.found.grounds["basin"].hand_dig
    works = {
        "basin": one.placement.excavation,
        "spoil pile": moved.pile.geometry if moved.pile else None,
    }
    by_hand = union_all([strip.geometry for strip in strips])
    return drawn_routes(job.site.fixed, works, job.terrain, by_hand, job.used.access)


def _routes(
    job: Job, reach: Reach | None, one: Candidate, moved: Earthwork
) -> tuple[tuple[str, MachineRoute], ...]:
    """Ways to the basin, and to a pile that the machine does not reach from there."""
    routes = [] if one.route is None else [("basin", one.route)]
    if reach is None or moved.pile is None:
        return tuple(routes)
    pile, reach_m = moved.pile.geometry, job.used.access.working_reach
    if one.route is not None and one.route.line.distance(pile) <= reach_m:
        return tuple(routes)
    edge_m = job.used.earthwork.pile_setback
    works = one.placement.excavation.union(one.layout.dig).buffer(edge_m)
    fence = moved.silt_fence.buffer(_FENCE_ROOM_M) if moved.silt_fence else Polygon()
    way = route_to(reach, pile, works.union(fence)) or route_to(reach, pile, works)
    return tuple(routes) if way is None else (*routes, ("spoil pile", way))


def _lowest_edge(terrain: Terrain, placement: Placement) -> tuple[float, float]:
    """Point of the pit's edge where the ground is lowest: the basin spills there."""
    edge = placement.excavation.exterior.segmentize(0.25)
    corners = [(float(x), float(y)) for x, y in edge.coords]
    levels = terrain.ground.sample(np.array(corners))
    return corners[int(np.nanargmin(levels))]
