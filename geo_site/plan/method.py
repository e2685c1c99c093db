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
from geo_site.terrain import (
    Catchment,
    FlowPath,
    Terrain,
    analyse,
    catchment_of,
    contours,
    spill_path,
)
from geo_site.visit import list_visits
from geo_site.water import (
    StormReport,
    StormWorks,
    Water,
    first_need,
    judge_storms,
    stored_for,
    units_needed,
    work_out,
)

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
    chosen = _choose(job)
    say("works")
    proposal = _finish(chosen) if chosen.ranked else None
    say("clearances")
    return _plan(chosen, proposal)


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


@dataclass(frozen=True, kw_only=True)
class _Choice:
    """Places for one size of basin, and the water of the best.

    Attributes
    ----------
    job : _Job
        With the design that was looked for.
    found : _Places
        Where it fits.
    ranked : tuple of Ranked
        Best first; empty where there is no place.
    water : Water or None
        Of the best.
    told : tuple of str
        What growing the basin did, a sentence each.
    """

    job: _Job
    found: _Places
    ranked: tuple[Ranked, ...]
    water: Water | None
    told: tuple[str, ...] = ()


def _choose(job: _Job) -> _Choice:
    """Look for places, and for larger basins as long as the best runs dry."""
    choice = _choice(job)
    for _ in range(job.used.water.growth_rounds):
        larger = _larger(choice)
        if larger is None:
            return choice
        grown = _choice(replace(job, design=larger))
        units = (choice.job.design.units, larger.units)
        if not grown.ranked:
            told = f"A basin of {units[1]} units would be enough, and no place takes it."
            return replace(choice, told=(*choice.told, told))
        told = f"The basin grew from {units[0]} to {units[1]} void units to hold what is needed."
        choice = replace(grown, told=(*choice.told, told))
    return choice


def _choice(job: _Job) -> _Choice:
    job.say("places")
    found = _find_places(job)
    job.say("ranking")
    ranked = rank(job.site, found.candidates, job.used.ranking)[: job.used.siting.candidates]
    if not ranked:
        return _Choice(job=job, found=found, ranked=(), water=None)
    one = ranked[0].candidate
    water = work_out(job.site, one.layout, job.design, one.placement, job.used.water)
    return _Choice(job=job, found=found, ranked=ranked, water=water)


def _larger(choice: _Choice) -> BasinDesign | None:
    """Give the design with as many units as the best place's stream needs, if that is more."""
    job, water = choice.job, choice.water
    if water is None or water.kept.check.is_enough or job.used.siting.units is not None:
        return None  # a number of units that the user gave is kept
    units = units_needed(water.required_m3, water.kept.store)
    if units is None or units <= job.design.units:
        return None
    return design_basin(stored_for(units, job.design), job.used.siting)


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


def _finish(choice: _Choice) -> Proposal:
    """Work out earth, run-on, storms and overflow of the best place."""
    job, found, best = choice.job, choice.found, choice.ranked[0]
    one, site, terrain = best.candidate, job.site, job.terrain
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
    run_on = tuple(
        (geometry, catchment_of(terrain, geometry, site.parcel, work))
        for work, geometry in (("basin", one.placement.excavation), ("stream", one.layout.dig))
    )
    storms = judge_storms(
        site,
        terrain,
        StormWorks(
            run_ons=run_on,
            free=found.grounds["stream"].open,
            keep_off=moved.pile.geometry if moved.pile else Polygon(),
            overflow=overflow,
            free_room_m3=_water_of(choice).kept.check.free_room_m3,
        ),
        job.used.water.storm,
    )
    return _proposal(choice, moved, run_on, storms, overflow)


def _proposal(
    choice: _Choice,
    moved: Earthwork,
    run_on: tuple[tuple[BaseGeometry, Catchment], ...],
    storms: StormReport,
    overflow: FlowPath,
) -> Proposal:
    """Put the works together."""
    job, best = choice.job, choice.ranked[0]
    one = best.candidate
    routes = _routes(job, choice.found.reach, one, moved)
    return Proposal(
        best=best,
        feature=Feature(
            placement=one.placement, design=job.design, layout=one.layout, route=one.route
        ),
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


def _water_of(choice: _Choice) -> Water:
    """Give the water of the best place, which is there where a place is."""
    if choice.water is None:
        raise ValueError("there is no place, so no water was worked out")
    return choice.water


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


def _plan(choice: _Choice, proposal: Proposal | None) -> Plan:
    job, found, ranked = choice.job, choice.found, choice.ranked
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
            *choice.told,
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
