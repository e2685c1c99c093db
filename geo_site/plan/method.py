"""The whole method: from a site to a plan.

In: a :class:`~geo_site.site.Site` and its settings. Out: a :class:`Plan` with every result of
every step, and what is wrong, unknown or to be checked as rows in it. Method: the steps in the
order of :func:`propose`; docs/method.md tells each with its references. Nothing is printed or
written; ``progress`` is called with a word as each step begins.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from shapely import Polygon, union_all
from shapely.geometry.base import BaseGeometry

from geo_site.access import MachineRoute, Reach, find_reach, route_to
from geo_site.clearance import Clearance, Works, judge
from geo_site.constraints import Ground, Requirement, Work, find_ground, requirements
from geo_site.earthwork import Earthwork, Feature, excavate, move_earth
from geo_site.layout import Layout, NoStream, lay_out
from geo_site.locate_request import describe_digging
from geo_site.plan.reasons import excavation_told, no_place_rows, warnings_of, weaker_rules
from geo_site.plan.results import Plan, Proposal
from geo_site.plan.settings import Settings
from geo_site.quantities import list_quantities
from geo_site.ranking import Candidate, Ranked, rank
from geo_site.raster import as_multipolygon
from geo_site.site import Site
from geo_site.siting import BasinDesign, Placement, Room, Wish, design_basin, search
from geo_site.terrain import Terrain, analyse, catchment_of, contours, spill_path
from geo_site.visit import list_visits
from geo_site.water import first_need, work_out

__all__ = ["Progress", "propose"]

Progress = Callable[[str], None]
_WORKS: tuple[Work, ...] = ("basin", "stream", "pipe", "pile", "machine", "fence")
_FENCE_ROOM_M = 0.2  # a way goes round a fence where there is room to
_CONTOUR_MARGIN_M = 10.0  # contours run on a little beyond the lot, so that a reader sees the lie


def propose(site: Site, settings: Settings | None = None, progress: Progress | None = None) -> Plan:
    """Propose a basin, a stream and all that goes with them.

    Parameters
    ----------
    site : Site
        What was read.
    settings : Settings, optional
        Default: those of the site file.
    progress : callable, optional
        Called with a word as each step begins.

    Returns
    -------
    Plan
        With ``status`` ``no_place`` and the reasons when nothing fits.
    """
    used = settings or Settings.from_tables(site.tables)
    say = progress or _quiet
    say("terrain")
    terrain = analyse(site, used.terrain)
    design = design_basin(first_need(used.water, used.layout), used.siting)
    job = _Job(site=site, used=used, terrain=terrain, design=design, say=say)
    say("places")
    found = _find_places(job)
    say("ranking")
    ranked = rank(site, found.candidates, used.ranking)[: used.siting.candidates]
    say("works")
    proposal = _finish(job, found, ranked[0]) if ranked else None
    say("clearances")
    return _plan(job, found, ranked, proposal)


def _quiet(word: str) -> None:
    """Say nothing: the default progress."""


@dataclass(frozen=True, kw_only=True)
class _Job:
    """What every step of one run looks at."""

    site: Site
    used: Settings
    terrain: Terrain
    design: BasinDesign
    say: Progress

    @property
    def depth_m(self) -> float:
        """Depth that the distance to structures depends on: the deepest pit that is accepted."""
        return self.design.depth_m + self.used.siting.greatest_rise

    @cached_property
    def lines(self) -> tuple[Requirement, ...]:
        """What each buried line asks of the basin."""
        asked = requirements(self.site, self.used.constraints, "basin", self.depth_m)
        return tuple(row for row in asked if row.reason == "utility")


@dataclass(frozen=True, kw_only=True)
class _Places:
    """What the search found on one reading of the ground."""

    grounds: dict[Work, Ground]
    reach: Reach | None
    candidates: tuple[Candidate, ...]
    without_stream: tuple[str, ...]


def _find_places(job: _Job) -> _Places:
    """Look for places; open ground to hand-digging only where the settings say so."""
    mode = job.used.constraints.hand_dig
    found = _places(job, open_hand_dig=mode == "allowed")
    if found.candidates or mode != "if_needed":
        return found
    opened = _places(job, open_hand_dig=True)
    return opened if opened.candidates else found


def _places(job: _Job, *, open_hand_dig: bool) -> _Places:
    site, terrain, used = job.site, job.terrain, job.used
    grounds = {
        work: find_ground(
            site,
            terrain,
            used.constraints,
            work=work,
            excavation_depth_m=job.depth_m,
            open_hand_dig=open_hand_dig,
        )
        for work in _WORKS
    }
    reach = find_reach(site, terrain, grounds["machine"], _strips(grounds["basin"]), used.access)
    wish = Wish(
        wanted_fall_m=used.layout.wanted_fall,
        least_length_m=used.layout.least_length,
        greatest_length_m=used.layout.greatest_length,
    )
    room = Room(basin=grounds["basin"], stream=grounds["stream"], reach=reach)
    placements = search(site, terrain, room, job.design, wish, used.siting)
    job.say("streams")
    tried = [
        (placement, lay_out(site, terrain, grounds["stream"], placement, used.layout))
        if _clear_of_structures(job, placement)
        else (placement, NoStream(reason="the pit is too deep for its distance to a structure"))
        for placement in placements
    ]
    return _Places(
        grounds=grounds,
        reach=reach,
        candidates=tuple(
            _candidate(job, grounds["basin"], reach, placement, layout)
            for placement, layout in tried
            if isinstance(layout, Layout)
        ),
        without_stream=tuple(layout.reason for _, layout in tried if isinstance(layout, NoStream)),
    )


def _clear_of_structures(job: _Job, placement: Placement) -> bool:
    """Whether the pit, as deep as it really gets, keeps off structures."""
    if placement.greatest_depth_m <= job.depth_m:
        return True  # the ground that was searched keeps off that far already
    asked = requirements(job.site, job.used.constraints, "basin", placement.greatest_depth_m)
    return all(
        placement.excavation.distance(row.geometry) >= row.required_m
        for row in asked
        if row.reason == "structure"
    )


def _strips(ground: Ground) -> BaseGeometry:
    return union_all([strip.geometry for strip in ground.hand_dig])


def _candidate(
    job: _Job, ground: Ground, reach: Reach | None, placement: Placement, layout: Layout
) -> Candidate:
    works = placement.excavation.union(layout.dig)
    keep_off = works.buffer(job.used.earthwork.pile_setback)  # neither spoil nor machine at an edge
    route = route_to(reach, placement.excavation, keep_off) if reach else None
    clearance_m, margin_m = _to_lines(job, placement)
    return Candidate(
        placement=placement,
        layout=layout,
        excavation=excavate(job.terrain, placement, job.design),
        catchment=catchment_of(job.terrain, works, job.site.parcel, "basin and stream"),
        route=route,
        route_state="unknown" if reach is None else "found" if route else "none",
        clearance_m=clearance_m,
        margin_m=margin_m,
        hand_dig_by=tuple(
            strip.utility_id
            for strip in ground.hand_dig
            if strip.geometry.intersection(placement.excavation).area > 0.0
        ),
        hand_dig_m2=float(placement.excavation.intersection(_strips(ground)).area),
    )


def _to_lines(job: _Job, placement: Placement) -> tuple[float, float]:
    """Least distance to a line's outer edge, and least of distance less what is asked."""
    found = [
        (max(placement.excavation.distance(line.geometry) - line.half_width_m, 0.0), line)
        for line in job.lines
    ]
    least_m = min((distance_m for distance_m, _ in found), default=math.inf)
    margin_m = min((distance_m - line.required_m for distance_m, line in found), default=math.inf)
    return least_m, margin_m


def _finish(job: _Job, found: _Places, best: Ranked) -> Proposal:
    """Work out water, earth, run-on and overflow of the best place."""
    one, site, terrain = best.candidate, job.site, job.terrain
    water = work_out(one.layout, job.design, one.placement, job.used.water)
    feature = Feature(
        placement=one.placement, design=job.design, layout=one.layout, route=one.route
    )
    overflow = spill_path(terrain, *_lowest_edge(terrain, one.placement))
    off = overflow.line.buffer(job.used.earthwork.flow_path_setback)
    pile_ground = found.grounds["pile"]
    pile_ground = replace(pile_ground, open=as_multipolygon(pile_ground.open.difference(off)))
    moved = move_earth(
        site, terrain, pile_ground, found.grounds["fence"], feature, job.used.earthwork
    )
    routes = _routes(job, found.reach, one, moved)
    works = Works(
        basin=one.placement.footprint,
        basin_excavation=one.placement.excavation,
        stream=one.layout.dig,
        pipe=one.layout.trench,
        spoil_pile=moved.pile.geometry if moved.pile else None,
        machine_route=union_all([route.corridor for _, route in routes]) if routes else None,
        silt_fence=moved.silt_fence,
    )
    run_on = (("basin", one.placement.excavation), ("stream", one.layout.dig))
    return Proposal(
        best=best,
        feature=feature,
        water=water,
        earthwork=moved,
        catchments=tuple(
            catchment_of(terrain, geometry, site.parcel, work) for work, geometry in run_on
        ),
        overflow=overflow,
        works=works,
        routes=routes,
        working_reach_m=job.used.access.working_reach,
    )


def _routes(
    job: _Job, reach: Reach | None, one: Candidate, moved: Earthwork
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


def _judged(job: _Job, proposal: Proposal) -> tuple[Clearance, ...]:
    depth_m = max(job.depth_m, proposal.placement.greatest_depth_m)
    return judge(job.site, proposal.works, job.used.constraints, depth_m)


def _plan(job: _Job, found: _Places, ranked: tuple[Ranked, ...], proposal: Proposal | None) -> Plan:
    site, used = job.site, job.used
    clearances = _judged(job, proposal) if proposal else ()
    quantities = (
        list_quantities(
            proposal.feature,
            proposal.earthwork,
            proposal.water,
            proposal.works.machine_route,
            used.quantities,
        )
        if proposal
        else ()
    )
    fall_m = proposal.layout.fall_m if proposal else None
    around = site.parcel.buffer(_CONTOUR_MARGIN_M)
    return Plan(
        site=site,
        settings=used,
        status="proposed" if proposal else "no_place",
        terrain=job.terrain,
        contours=contours(
            job.terrain, around, used.terrain.contour_interval, used.terrain.contour_index_every
        ),
        grounds=found.grounds,
        design=job.design,
        candidates=ranked,
        proposal=proposal,
        clearances=clearances,
        quantities=quantities,
        no_place=()
        if proposal
        else no_place_rows(
            site,
            found.grounds["basin"],
            found.without_stream,
            excavation_told(job.design, used.siting.greatest_rise),
        ),
        warnings=(
            *weaker_rules(used.constraints),
            *warnings_of(job.terrain, job.design, proposal, clearances),
        ),
        visit=list_visits(site, clearances, used.constraints, fall_m),
        locate_request=describe_digging(
            site,
            proposal.digging(used.earthwork.fence_trench_width),
            proposal.placement.greatest_depth_m,
            used.locate_request,
        )
        if proposal
        else None,
    )
