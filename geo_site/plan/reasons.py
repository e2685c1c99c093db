"""Why there is no place, and what a reader of a plan must know."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence

from shapely import union_all

from geo_site.clearance import Clearance
from geo_site.constraints import ConstraintParameters, Ground
from geo_site.parameters import describe
from geo_site.plan.results import NoPlaceRow, Proposal
from geo_site.site import Site
from geo_site.siting import BasinDesign
from geo_site.terrain import Terrain

__all__ = ["excavation_told", "no_place_rows", "warnings_of", "weaker_rules"]

_LOOSER_WHEN_LARGER = frozenset({"constraints.steepest", "constraints.concentrated_flow"})
_TOLD_M = 0.01  # less would be told as 0.00 m
_ASSUMED = ("is taken", "not known", "not given", "not counted", "nobody has")


def excavation_told(design: BasinDesign, greatest_rise_m: float) -> str:
    """Say what room the basin's excavation needs, by its narrowest arrangement.

    Parameters
    ----------
    design : BasinDesign
        Arrangements, depth, sides.
    greatest_rise_m : float
        Rise of the ground over the pit floor that is accepted, m.

    Returns
    -------
    str
        Its sides at the top on level ground, and how level the ground must be.
    """
    least = min(design.arrangements, key=lambda one: (one.width_m, one.length_m))
    wider_m = 2.0 * (design.overdig_m + design.batter * design.depth_m)
    long_m, wide_m = least.length_m + wider_m, least.width_m + wider_m
    return (
        f"the basin's excavation (on level ground {long_m:.1f} x {wide_m:.1f} m, and no more "
        f"than {greatest_rise_m:g} m of rise over its floor)"
    )


def no_place_rows(
    site: Site,
    ground: Ground,
    without_stream: Sequence[str],
    excavation: str = "the basin's excavation",
) -> tuple[NoPlaceRow, ...]:
    """Tell what takes the parcel's ground, rule by rule, and what else failed.

    Parameters
    ----------
    site : Site
        With the parcel.
    ground : Ground
        Of the basin.
    without_stream : sequence of str
        Why each place that the basin fits got no stream.
    excavation : str
        What found no room, as a reader needs it told.

    Returns
    -------
    tuple of NoPlaceRow
        The greediest rule first.
    """
    taken = {
        reason: union_all([p.geometry for p in ground.pieces if p.reason == reason]).intersection(
            site.parcel
        )
        for reason in sorted({piece.reason for piece in ground.pieces})
    }
    rows = [
        NoPlaceRow(
            rule=reason,
            ground_m2=float(area.area),
            only_this_m2=float(
                area.difference(union_all([a for r, a in taken.items() if r != reason])).area
            ),
        )
        for reason, area in taken.items()
        if area.area > 0.0
    ]
    rows.sort(key=lambda row: (-row.ground_m2, row.rule))
    counted = Counter(without_stream)
    streams = [
        NoPlaceRow(rule=f"no stream: {reason}", ground_m2=math.nan, only_this_m2=math.nan)
        for reason in sorted(counted)
    ]
    if not streams:
        room = NoPlaceRow(
            rule=f"{excavation} does not fit on the ground that is left",
            ground_m2=float(ground.free.area),
            only_this_m2=math.nan,
        )
        return (room, *rows)
    return (*streams, *rows)


def weaker_rules(used: ConstraintParameters) -> tuple[str, ...]:
    """Say which distances and limits the user set weaker than the defaults.

    Parameters
    ----------
    used : ConstraintParameters
        The rules in use.

    Returns
    -------
    tuple of str
        One sentence, or nothing: a user may weaken our own rules, but not unseen.
    """
    ours = {row.key: row.value for row in describe(ConstraintParameters(), "constraints")}
    told = []
    for row in describe(used, "constraints"):
        default = ours[row.key]
        if not isinstance(default, float):
            continue
        looser = row.value - default if row.key in _LOOSER_WHEN_LARGER else default - row.value
        if looser > 0.0:
            unit = "" if row.unit == "-" else f" {row.unit}"
            told.append(f"{row.key} {row.value:g}{unit} (default {default:g}{unit})")
    return (f"rules weaker than the defaults: {', '.join(told)}",) if told else ()


def warnings_of(
    terrain: Terrain,
    design: BasinDesign,
    proposal: Proposal | None,
    clearances: Sequence[Clearance],
) -> tuple[str, ...]:
    """Say what a reader of the plan must know, once each: findings, then what is assumed.

    Parameters
    ----------
    terrain : Terrain
        With its cells, low places and notes.
    design : BasinDesign
        With its arrangements and flags.
    proposal : Proposal or None
        With place, water, earthwork and catchments.
    clearances : sequence of Clearance
        All rows.

    Returns
    -------
    tuple of str
        A sentence each.
    """
    told = [*_verdicts(clearances), *_design_flags(design, proposal)]
    if proposal is not None:
        told += [*proposal.water.warnings, *proposal.earthwork.flags]
        told += proposal.storms.warnings if proposal.storms else ()
        told += [*_ponding(terrain, proposal), *_run_on(proposal)]
    told += [*terrain.notes, *_coarse(terrain, design)]
    return tuple(sorted(dict.fromkeys(told), key=_is_assumption))


def _is_assumption(sentence: str) -> bool:
    """Whether a sentence tells what nobody knows rather than what was found: it comes later."""
    return any(words in sentence for words in _ASSUMED)


def _design_flags(design: BasinDesign, proposal: Proposal | None) -> Iterator[str]:
    """Flags of the basin; its storage was a first guess that the stream has made good."""
    for flag in design.flags:
        if proposal is None or not flag.startswith("storage:"):
            yield flag


def _verdicts(clearances: Sequence[Clearance]) -> Iterator[str]:
    found = Counter(row.verdict for row in clearances)
    if found["not_met"]:
        yield f"clearances not met: {found['not_met']}"
    if found["unknown"]:
        yield f"clearances unknown: {found['unknown']}; nothing is cleared by them"
    if found["hand_dig"]:
        yield f"clearances to be dug by hand: {found['hand_dig']}"


def _ponding(terrain: Terrain, proposal: Proposal) -> Iterator[str]:
    """Say how high water can stand over the basin in a low place that has no outlet."""
    pit, rim_m = proposal.works.basin_excavation, proposal.placement.rim_level_m
    spills_m = [low.spill_level_m for low in terrain.depressions if low.geometry.intersects(pit)]
    over_m = max(spills_m, default=-math.inf) - rim_m
    if over_m >= _TOLD_M:
        yield (
            "the basin lies in a low place without an outlet: storm water can stand "
            f"{over_m:.2f} m over its rim before it spills"
        )


def _coarse(terrain: Terrain, design: BasinDesign) -> Iterator[str]:
    cell_m = max(terrain.ground.cell_width_m, terrain.ground.cell_height_m)
    if cell_m > min(one.width_m for one in design.arrangements):
        yield (
            f"the terrain's cells, {cell_m:.1f} m wide, are wider than the basin: walls, banks and "
            "ditches between them are not seen, and levels and paths of storm water are rough"
        )


def _run_on(proposal: Proposal) -> Iterator[str]:
    if any(catchment.reaches_terrain_edge for catchment in proposal.catchments):
        yield "storm water may come from beyond the terrain data: the catchment is a lower bound"
    if proposal.best.candidate.route_state == "none":
        yield "no way in was found for the machine"
    if proposal.best.candidate.route_state == "found" and not proposal.reaches_pile:
        yield "no way was found for the machine to the soil pile"
    if proposal.best.candidate.route_state == "unknown":
        yield "no access point is given: the machine's way is unknown"
