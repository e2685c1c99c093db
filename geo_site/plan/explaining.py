"""Why here, and why not: what every rule says of one spot, and what a basin there would be.

Question
    Somebody points at the ground: may a basin, a stream, a pile stand there, and if not, why?
In
    A site and a point.
Out
    An :class:`Explanation`: facts of the ground, each rule with its number for each kind of work,
    whether a basin fits with its middle there, and how the spot compares with the best place.
Method
    The rows and areas of the constraints, measured to the point itself; the exact test of the
    siting step for every arrangement and rotation.
Reference
    The steps below.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from geo_site.constraints import Ground, Work, requirements
from geo_site.errors import InputRefused
from geo_site.plan.choosing import Choice, Job, Progress, choose
from geo_site.plan.keeping import Kept
from geo_site.plan.settings import Settings
from geo_site.ranking import Ranked
from geo_site.site import Site
from geo_site.siting import design_basin, fits_at
from geo_site.terrain import Terrain, analyse
from geo_site.water import first_need

__all__ = ["Explanation", "RuleHere", "WorkHere", "explain"]

WORKS: tuple[Work, ...] = ("basin", "stream", "pipe", "pile", "machine", "fence")
_AREAS = frozenset({"keep_off", "steep", "concentrated_flow", "no_terrain"})
_COMPASS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)


@dataclass(frozen=True, kw_only=True)
class RuleHere:
    """What one rule says of the spot.

    Attributes
    ----------
    rule : str
        Name of the constraint.
    against : str
        Id of the object; empty where it is no object.
    asked_m : float
        Distance asked, rule plus uncertainty; NaN for an area.
    distance_m : float
        From the spot to the object's outer edge; 0 inside an area.
    blocks : bool
        Whether it takes this spot from the work.
    """

    rule: str
    against: str
    asked_m: float
    distance_m: float
    blocks: bool


@dataclass(frozen=True, kw_only=True)
class WorkHere:
    """What may stand on the spot.

    Attributes
    ----------
    work : str
        Kind of work.
    ground : {"open", "hand_dig", "blocked"}
        What the ground is to it.
    rules : tuple of RuleHere
        Those that block first, then the nearest.
    """

    work: str
    ground: Literal["open", "hand_dig", "blocked"]
    rules: tuple[RuleHere, ...]


@dataclass(frozen=True, kw_only=True)
class Explanation:
    """Everything about one spot.

    Attributes
    ----------
    x_m, y_m : float
        In the working CRS.
    ground_level_m, slope, drains_m2 : float
        Level, rise over run, and ground that drains through the spot; NaN where not known.
    standing_m : float
        Depth of water in a low place there before it spills; 0 outside of one.
    works : tuple of WorkHere
        One for each kind of work.
    basin_fits : bool
        Whether a basin fits with its middle there, in some rotation.
    basin_rotation_deg : float
        Of the first that fits; NaN where none does.
    nearest_rank : int
        The place found that is nearest; 0 where there is none.
    nearest_m : float
        How far it is; NaN where there is none.
    nearest_way : str
        In which direction, a word of the compass.
    nearest_reason : str
        What the ranking says of it.
    """

    x_m: float
    y_m: float
    ground_level_m: float
    slope: float
    drains_m2: float
    standing_m: float
    works: tuple[WorkHere, ...]
    basin_fits: bool
    basin_rotation_deg: float
    nearest_rank: int
    nearest_m: float
    nearest_way: str
    nearest_reason: str


def explain(
    site: Site,
    x_m: float,
    y_m: float,
    settings: Settings | None = None,
    progress: Progress | None = None,
    *,
    kept: Kept | None = None,
) -> Explanation:
    """Say what every rule says of a spot.

    Parameters
    ----------
    site : Site
        What was read.
    x_m, y_m : float
        The spot, in the site's working CRS.
    settings : Settings, optional
        Default: those of the site file.
    progress : callable, optional
        Called with a word as each step begins.
    kept : Kept, optional
        Results of earlier runs on the same site.

    Returns
    -------
    Explanation
        Of the spot.

    Raises
    ------
    InputRefused
        The spot lies outside the terrain.
    """
    spot = Point(x_m, y_m)
    if not site.terrain.outline.covers(spot):
        west, south, east, north = site.terrain.bounds
        raise InputRefused(
            f"the point {x_m:.2f}, {y_m:.2f} lies outside the terrain",
            remedy=f"give one between {west:.0f}, {south:.0f} and {east:.0f}, {north:.0f} "
            "(metres of the working CRS)",
        )
    used = settings or Settings.from_tables(site.tables)
    say, kept = progress or _quiet, kept or Kept()
    say("terrain")
    terrain = kept.get(
        "terrain", used.terrain.model_dump_json(), lambda: analyse(site, used.terrain)
    )
    design = design_basin(first_need(used.water, used.layout), used.siting)
    job = Job(site=site, used=used, terrain=terrain, design=design, say=say, kept=kept)
    chosen = kept.get("choice", used.model_dump_json(), lambda: choose(job))
    return _explained(spot, chosen)


def _quiet(word: str) -> None:
    """Say nothing: the default progress."""


def _explained(spot: Point, choice: Choice) -> Explanation:
    job, grounds = choice.job, choice.found.grounds
    level_m, slope, drains_m2 = _ground_facts(spot, job.terrain)
    turn_deg = fits_at(
        job.terrain.ground, grounds["basin"].free, job.design, (spot.x, spot.y), job.used.siting
    )
    nearest = min(choice.ranked, key=lambda one: _away_m(spot, one), default=None)
    return Explanation(
        x_m=spot.x,
        y_m=spot.y,
        ground_level_m=level_m,
        slope=slope,
        drains_m2=drains_m2,
        standing_m=_standing_m(spot, job.terrain),
        works=tuple(_work_here(spot, job, work, grounds[work]) for work in WORKS),
        basin_fits=turn_deg is not None,
        basin_rotation_deg=math.nan if turn_deg is None else turn_deg,
        nearest_rank=nearest.rank if nearest else 0,
        nearest_m=_away_m(spot, nearest) if nearest else math.nan,
        nearest_way=_way_to(spot, nearest) if nearest else "",
        nearest_reason=nearest.reason if nearest else "",
    )


def _ground_facts(spot: Point, terrain: Terrain) -> tuple[float, float, float]:
    xy = np.array([[spot.x, spot.y]])
    level_m, slope = (float(r.sample(xy)[0]) for r in (terrain.ground, terrain.slope))
    flow = terrain.accumulation_m2
    column, row = ~flow.transform * (spot.x, spot.y)
    return level_m, slope, float(flow.values[int(row), int(column)])


def _standing_m(spot: Point, terrain: Terrain) -> float:
    level_m = float(terrain.ground.sample(np.array([[spot.x, spot.y]]))[0])
    over = [d.spill_level_m - level_m for d in terrain.depressions if d.geometry.covers(spot)]
    return max([0.0, *over])


def _away_m(spot: Point, ranked: Ranked) -> float:
    place = ranked.candidate.placement
    return math.hypot(place.x - spot.x, place.y - spot.y)


def _way_to(spot: Point, ranked: Ranked) -> str:
    place = ranked.candidate.placement
    bearing = math.degrees(math.atan2(place.x - spot.x, place.y - spot.y)) % 360.0
    return _COMPASS[round(bearing / 45.0) % len(_COMPASS)]


def _work_here(spot: Point, job: Job, work: Work, ground: Ground) -> WorkHere:
    by_hand = any(strip.geometry.intersects(spot) for strip in ground.hand_dig)
    blocked = not ground.free.intersects(spot) and not by_hand
    rules = [*_objects(spot, job, work, ground), *_areas(spot, ground), *_outside(spot, job)]
    rules.sort(key=lambda rule: (not rule.blocks, rule.distance_m, rule.rule, rule.against))
    return WorkHere(
        work=work,
        ground="blocked" if blocked else "hand_dig" if by_hand else "open",
        rules=tuple(rules),
    )


def _objects(spot: Point, job: Job, work: Work, ground: Ground) -> Iterator[RuleHere]:
    """Distances to objects; which of them block is what the ground's own pieces say."""
    taking = _taking(spot, ground)
    for row in requirements(job.site, job.used.constraints, work, job.depth_m):
        distance_m = max(float(row.geometry.distance(spot)) - row.half_width_m, 0.0)
        yield RuleHere(
            rule=row.reason,
            against=row.against,
            asked_m=row.required_m,
            distance_m=distance_m,
            blocks=(row.reason, row.against) in taking,
        )


def _outside(spot: Point, job: Job) -> Iterator[RuleHere]:
    """The lot itself: what is drawn of the ground beyond it ends a little way off."""
    if not job.site.parcel.covers(spot):
        yield RuleHere(
            rule="outside_parcel",
            against=job.site.parcel_id,
            asked_m=math.nan,
            distance_m=0.0,
            blocks=True,
        )


def _taking(spot: Point, ground: Ground) -> Mapping[tuple[str, str], BaseGeometry]:
    return {
        (piece.reason, piece.source_id): piece.geometry
        for piece in ground.pieces
        if piece.geometry.intersects(spot)
    }


def _areas(spot: Point, ground: Ground) -> Iterator[RuleHere]:
    for reason, source_id in _taking(spot, ground):
        if reason in _AREAS:
            yield RuleHere(
                rule=reason, against=source_id, asked_m=math.nan, distance_m=0.0, blocks=True
            )
