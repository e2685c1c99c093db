"""Where the basin goes: places, their streams, their order, and a basin that is large enough.

In: a :class:`Job`. Out: a :class:`Choice`. Method: places are searched, streams laid out from the
best of them, and ranked; where the best would run dry, a larger basin is looked for. Reference:
the steps below.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from shapely import union_all
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from geo_site.access import Reach, find_reach, route_to
from geo_site.constraints import Ground, Requirement, Work, find_ground, requirements
from geo_site.earthwork import excavate
from geo_site.layout import Followed, Layout, NoStream, follow, lay_out, with_pipe
from geo_site.plan.keeping import Kept
from geo_site.plan.pinned import drawn_routes
from geo_site.plan.settings import Settings
from geo_site.ranking import Candidate, Ranked, rank
from geo_site.raster import as_multipolygon
from geo_site.site import Site
from geo_site.siting import (
    BasinDesign,
    DrawnBasin,
    Placement,
    Room,
    Wish,
    design_basin,
    search,
)
from geo_site.terrain import Terrain, catchment_of
from geo_site.water import Water, stored_for, units_needed, work_out

__all__ = ["Choice", "Job", "Places", "Progress", "choose", "has_place", "has_room"]

Progress = Callable[[str], None]
_TRIED_AT_END = 5000  # places looked at round the end of a drawn stream: all that there are
_APART_M = 0.25
_ROUND_PIT_M = 2.0  # room for the bed and its berm beside a drawn pit
_SEARCHED: tuple[Work, ...] = ("basin", "stream", "machine")
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
    pinned : DrawnBasin or None
        The basin where a person drew it; None: places are looked for.
    """

    site: Site
    used: Settings
    terrain: Terrain
    design: BasinDesign
    say: Progress
    kept: Kept = field(default_factory=Kept)
    pinned: DrawnBasin | None = None

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

    @cached_property
    def followed(self) -> Followed | None:
        """The drawn stream as it was followed to the best place; None where none is drawn."""
        fixed = self.job.site.fixed
        if fixed.stream is None or not self.ranked:
            return None
        placement, ground = self.ranked[0].candidate.placement, self.found.grounds["stream"]
        return _followed(self.job, ground, placement)


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


def has_place(job: Job) -> bool:
    """Whether some place has a stream, as the search finds it.

    Parameters
    ----------
    job : Job
        With the settings that are tried.

    Returns
    -------
    bool
        True where a proposal would be made.
    """
    mode = job.used.constraints.hand_dig
    if _gives_stream(job, open_hand_dig=mode == "allowed"):
        return True
    return mode == "if_needed" and _opens_more(job) and _gives_stream(job, open_hand_dig=True)


def _opens_more(job: Job) -> bool:
    """Whether hand-digging opens any ground to works."""
    return any(
        row.least_m < row.required_m
        for work in _SEARCHED
        for row in requirements(job.site, job.used.constraints, work, job.depth_m)
    )


def _gives_stream(job: Job, *, open_hand_dig: bool) -> bool:
    """Whether one of the places has a stream: as the search finds them, and no further."""
    grounds = {work: _ground(job, work, open_hand_dig=open_hand_dig) for work in _SEARCHED}
    reach = _reach(job, grounds, open_hand_dig=open_hand_dig)
    return any(isinstance(layout, Layout) for _, layout in _tries(job, grounds, reach))


def has_room(job: Job) -> bool:
    """Whether the basin fits anywhere, with or without a stream: cheaper, and needed.

    Parameters
    ----------
    job : Job
        With the settings that are tried.

    Returns
    -------
    bool
        Where this is False, :func:`has_place` is False too. It never turns False by taking less
        ground away.
    """
    mode = job.used.constraints.hand_dig
    basin, stream = (
        _ground(job, work, open_hand_dig=mode != "never") for work in ("basin", "stream")
    )
    wish, room = _wish(job), Room(basin=basin, stream=stream, reach=None)
    first = job.used.siting.model_copy(update={"shortlist": 1})
    return bool(search(job.site, job.terrain, room, job.design, wish, first))


def _wish(job: Job) -> Wish:
    used = job.used.layout
    return Wish(
        wanted_fall_m=used.wanted_fall,
        least_length_m=used.least_length,
        greatest_length_m=used.greatest_length,
    )


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
    is_given = job.pinned is not None or job.used.siting.units is not None
    if water is None or water.kept.check.is_enough or is_given:
        return None  # a basin that was drawn and a number of units that was given are kept
    units = units_needed(water.required_m3, water.kept.store)
    if units is None or units <= job.design.units:
        return None
    return design_basin(stored_for(units, job.design), job.used.siting)


def _find_places(job: Job) -> Places:
    """Look for places; open ground to hand-digging only where the settings say so."""
    mode = job.used.constraints.hand_dig
    found = _places(job, open_hand_dig=mode == "allowed")
    if mode != "if_needed" or (found.candidates and not _is_off_ground(job, found)):
        return found
    opened = _places(job, open_hand_dig=True)
    return opened if opened.candidates and not _is_off_ground(job, opened) else found


def _is_off_ground(job: Job, found: Places) -> bool:
    """Whether a drawn basin leaves the ground that is free for it."""
    if job.pinned is None:
        return False
    return not found.grounds["basin"].free.covers(job.pinned.placement.excavation)


def _places(job: Job, *, open_hand_dig: bool) -> Places:
    """Look for places, or give those that were found with all the same that the search reads."""
    used = job.used
    if job.site.fixed.has_works:
        return _searched(job, open_hand_dig=open_hand_dig)
    read = (used.terrain, used.constraints, used.access, used.siting, used.layout)
    told = tuple(settings.model_dump_json() for settings in read)
    fixed = (job.site.fixed.keep_off.wkb, job.site.fixed.must_pass.wkb)
    spoil = (used.earthwork.pile_setback, open_hand_dig, *fixed)
    return job.kept.get(
        "places", (told, spoil, job.design), lambda: _searched(job, open_hand_dig=open_hand_dig)
    )


def _searched(job: Job, *, open_hand_dig: bool) -> Places:
    grounds = {work: _ground(job, work, open_hand_dig=open_hand_dig) for work in _WORKS}
    reach = _reach(job, grounds, open_hand_dig=open_hand_dig)
    tried = tuple(_tries(job, grounds, reach))
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


def _tries(
    job: Job, grounds: Mapping[Work, Ground], reach: Reach | None
) -> Iterator[tuple[Placement, Layout | NoStream]]:
    """Give place after place with its stream, which is laid out when its turn comes."""
    room = Room(basin=grounds["basin"], stream=grounds["stream"], reach=reach)
    placements = _placements(job, room, _wish(job))
    job.say("streams")
    for placement in placements:
        if job.pinned or _clear_of_structures(job, placement):
            yield placement, _stream(job, grounds["stream"], placement)
        else:
            yield placement, NoStream(reason="the pit is too deep for its distance to a structure")


def _ground(job: Job, work: Work, *, open_hand_dig: bool) -> Ground:
    return job.kept.get(
        "ground",
        (work, *_read_by_ground(job, open_hand_dig=open_hand_dig)),
        lambda: find_ground(
            job.site,
            job.terrain,
            job.used.constraints,
            work=work,
            excavation_depth_m=job.depth_m,
            open_hand_dig=open_hand_dig,
        ),
    )


def _read_by_ground(job: Job, *, open_hand_dig: bool) -> tuple[Hashable, ...]:
    """All that free ground depends on, apart from the site as it was read."""
    told = (job.used.terrain.model_dump_json(), job.used.constraints.model_dump_json())
    return (*told, job.depth_m, open_hand_dig, job.site.fixed.keep_off.wkb)


def _reach(job: Job, grounds: Mapping[Work, Ground], *, open_hand_dig: bool) -> Reach | None:
    read = _read_by_ground(job, open_hand_dig=open_hand_dig)
    strips, machine = _strips(grounds["basin"]), job.used.access
    return job.kept.get(
        "reach",
        (*read, machine.model_dump_json()),
        lambda: find_reach(job.site, job.terrain, grounds["machine"], strips, machine),
    )


def _placements(job: Job, room: Room, wish: Wish) -> tuple[Placement, ...]:
    """The basin as drawn, or places within reach of what else is fixed, or the best anywhere."""
    if job.pinned is not None:
        return (job.pinned.placement,)
    fixed, used = job.site.fixed, job.used.siting
    pit_m = _reach_of_pit_m(job.design, used.greatest_rise)
    if fixed.stream is None:
        points = [*fixed.must_pass.geoms, *([fixed.spillway] if fixed.spillway else [])]
        for point in points:
            room = _within(room, point.buffer(wish.greatest_length_m + pit_m))
        return search(job.site, job.terrain, room, job.design, wish, used)
    end = Point(fixed.stream.coords[-1])
    close = used.model_copy(update={"shortlist": _TRIED_AT_END, "distinct_distance": _APART_M})
    room = _within(room, end.buffer(pit_m))
    found = search(job.site, job.terrain, room, job.design, wish, close)
    return tuple(one for one in found if one.footprint.covers(end))[: used.shortlist]


def _within(room: Room, near: BaseGeometry) -> Room:
    """Leave the basin only some ground."""
    basin = replace(
        room.basin,
        open=as_multipolygon(room.basin.open.intersection(near)),
        free=as_multipolygon(room.basin.free.intersection(near)),
    )
    return replace(room, basin=basin)


def _reach_of_pit_m(design: BasinDesign, rise_m: float) -> float:
    """How far from a point in the basin its pit may reach."""
    longest_m = max(math.hypot(one.length_m, one.width_m) for one in design.arrangements)
    return longest_m + design.overdig_m + design.batter * (design.depth_m + 2.0 * rise_m) + 1.0


def _stream(job: Job, ground: Ground, placement: Placement) -> Layout | NoStream:
    """The stream as drawn, or one that is laid out; with the pipe as drawn."""
    site, used, fixed = job.site, job.used.layout, job.site.fixed
    if fixed.stream is not None:
        return _followed(job, ground, placement).layout
    layout = lay_out(site, job.terrain, ground, placement, used)
    if job.pinned is not None and isinstance(layout, NoStream):
        opened = _open_round(site, ground, placement)
        layout = lay_out(site, job.terrain, opened, placement, used)
    if fixed.pipe is None or isinstance(layout, NoStream):
        return layout
    return with_pipe(layout, fixed.pipe, job.terrain.ground, placement, used)


def _followed(job: Job, ground: Ground, placement: Placement) -> Followed:
    return follow(job.site, job.terrain, ground, placement, job.site.fixed, job.used.layout)


def _open_round(site: Site, ground: Ground, placement: Placement) -> Ground:
    """Open the ground that a drawn basin breaks anyway, so that its stream gets out of it."""
    round_it = placement.excavation.buffer(_ROUND_PIT_M).intersection(site.parcel)
    bodies = union_all([*site.structures.geometry, *site.fixed.keep_off.geoms])
    free = as_multipolygon(union_all([ground.free, round_it.difference(bodies)]))
    return replace(ground, free=free)


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
    by_hand = _strips(ground)
    for leads_to, drawn in drawn_routes(
        job.site.fixed,
        {"basin": placement.excavation, "spoil pile": job.site.fixed.spoil_pile},
        job.terrain,
        by_hand,
        job.used.access,
    ):
        route = drawn if leads_to == "basin" else route
    clearance_m, margin_m = _to_lines(job, placement)
    return Candidate(
        placement=placement,
        layout=layout,
        excavation=excavate(job.terrain, placement, job.design),
        catchment=catchment_of(job.terrain, works, job.site.parcel, "basin and stream"),
        route=route,
        route_state="found" if route else "unknown" if reach is None else "none",
        clearance_m=clearance_m,
        margin_m=margin_m,
        hand_dig_by=tuple(
            strip.utility_id
            for strip in ground.hand_dig
            if strip.geometry.intersection(placement.excavation).area > 0.0
        ),
        hand_dig_m2=float(placement.excavation.intersection(by_hand).area),
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
