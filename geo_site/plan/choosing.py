"""Where the basin goes: places, their streams, their order, and a basin that is large enough.

In: a :class:`Job`. Out: a :class:`Choice`. Method: places are searched, streams laid out from the
best of them, and ranked; where the best would run dry, a larger basin is looked for. Reference:
the steps below.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property

from shapely import union_all
from shapely.geometry.base import BaseGeometry

from geo_site.access import Reach, find_reach, route_to
from geo_site.constraints import Ground, Requirement, Work, find_ground, requirements
from geo_site.earthwork import excavate
from geo_site.layout import Layout, NoStream, lay_out
from geo_site.plan.keeping import Kept
from geo_site.plan.settings import Settings
from geo_site.ranking import Candidate, Ranked, rank
from geo_site.site import Site
from geo_site.siting import BasinDesign, Placement, Room, Wish, design_basin, search
from geo_site.terrain import Terrain, catchment_of
from geo_site.water import Water, stored_for, units_needed, work_out

__all__ = ["Choice", "Job", "Places", "Progress", "choose"]

Progress = Callable[[str], None]
_WORKS: tuple[Work, ...] = ("basin", "stream", "pipe", "pile", "machine", "fence")


@dataclass(frozen=True, kw_only=True)
class Job:
    """What every step of one run looks at.

    Attributes
    ----------
    site : Site
        With lines as exposed, where some were.
    used : Settings
        The settings.
    terrain : Terrain
        The ground.
    design : BasinDesign
        The basin that is looked for.
    say : callable
        Told a word as each step begins.
    kept : Kept
        Results of earlier runs on the same site.
    """

    site: Site
    used: Settings
    terrain: Terrain
    design: BasinDesign
    say: Progress
    kept: Kept = field(default_factory=Kept)

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
class Places:
    """What the search found on one reading of the ground.

    Attributes
    ----------
    grounds : dict
        Free and blocked ground by kind of work.
    reach : Reach or None
        Where the machine gets to.
    candidates : tuple of Candidate
        Places with a stream.
    without_stream : tuple of str
        Why the others have none.
    """

    grounds: dict[Work, Ground]
    reach: Reach | None
    candidates: tuple[Candidate, ...]
    without_stream: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """Places for one size of basin, and the water of the best.

    Attributes
    ----------
    job : Job
        With the design that was looked for.
    found : Places
        Where it fits.
    ranked : tuple of Ranked
        Best first; empty where there is no place.
    water : Water or None
        Of the best.
    told : tuple of str
        What growing the basin did, a sentence each.
    """

    job: Job
    found: Places
    ranked: tuple[Ranked, ...]
    water: Water | None
    told: tuple[str, ...] = ()


def choose(job: Job) -> Choice:
    """Look for places, and for larger basins as long as the best runs dry.

    Parameters
    ----------
    job : Job
        With the first guess of the basin.

    Returns
    -------
    Choice
        The last that was found.
    """
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


def _choice(job: Job) -> Choice:
    job.say("places")
    found = _find_places(job)
    job.say("ranking")
    ranked = rank(job.site, found.candidates, job.used.ranking)[: job.used.siting.candidates]
    if not ranked:
        return Choice(job=job, found=found, ranked=(), water=None)
    one = ranked[0].candidate
    water = work_out(job.site, one.layout, job.design, one.placement, job.used.water)
    return Choice(job=job, found=found, ranked=ranked, water=water)


def _larger(choice: Choice) -> BasinDesign | None:
    """Give the design with as many units as the best place's stream needs, if that is more."""
    job, water = choice.job, choice.water
    if water is None or water.kept.check.is_enough or job.used.siting.units is not None:
        return None  # a number of units that the user gave is kept
    units = units_needed(water.required_m3, water.kept.store)
    if units is None or units <= job.design.units:
        return None
    return design_basin(stored_for(units, job.design), job.used.siting)


def _find_places(job: Job) -> Places:
    """Look for places; open ground to hand-digging only where the settings say so."""
    mode = job.used.constraints.hand_dig
    found = _places(job, open_hand_dig=mode == "allowed")
    if found.candidates or mode != "if_needed":
        return found
    opened = _places(job, open_hand_dig=True)
    return opened if opened.candidates else found


def _places(job: Job, *, open_hand_dig: bool) -> Places:
    """Look for places, or give those that were found with all the same that the search reads."""
    used = job.used
    read = (used.terrain, used.constraints, used.access, used.siting, used.layout)
    told = tuple(settings.model_dump_json() for settings in read)
    spoil = (used.earthwork.pile_setback, open_hand_dig)
    return job.kept.get(
        "places", (told, spoil, job.design), lambda: _searched(job, open_hand_dig=open_hand_dig)
    )


def _searched(job: Job, *, open_hand_dig: bool) -> Places:
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
    return Places(
        grounds=grounds,
        reach=reach,
        candidates=tuple(
            _candidate(job, grounds["basin"], reach, placement, layout)
            for placement, layout in tried
            if isinstance(layout, Layout)
        ),
        without_stream=tuple(layout.reason for _, layout in tried if isinstance(layout, NoStream)),
    )


def _clear_of_structures(job: Job, placement: Placement) -> bool:
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
    job: Job, ground: Ground, reach: Reach | None, placement: Placement, layout: Layout
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


def _to_lines(job: Job, placement: Placement) -> tuple[float, float]:
    """Least distance to a line's outer edge, and least of distance less what is asked."""
    found = [
        (max(placement.excavation.distance(line.geometry) - line.half_width_m, 0.0), line)
        for line in job.lines
    ]
    least_m = min((distance_m for distance_m, _ in found), default=math.inf)
    margin_m = min((distance_m - line.required_m for distance_m, line in found), default=math.inf)
    return least_m, margin_m
