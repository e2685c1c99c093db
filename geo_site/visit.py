"""What to check on site before anything is dug: what was assumed, unknown, or nearest.

In: the site as read, the clearances found, and what measuring would help. Out: rows of subject,
what to check and why. Method: everything that the plan took for granted is asked for by name. What
safety or law asks for comes first, the gravest before all; the rest in the order of what it
settles. Lines that a lot like this usually has and nobody marked are asked for too: common
practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import pandas as pd

from geo_site.clearance import (
    Clearance,
    doubts_about,
    doubts_about_fixture,
    doubts_about_ticket,
    find_loose_ends,
    list_asked_for,
    member_key,
    rounded_down,
    rounded_up,
)
from geo_site.constraints import ConstraintParameters, zone_in_use
from geo_site.crs import horizontal, unit_of_twin
from geo_site.probability import drop_sigma, interval_95
from geo_site.site import UTILITY_KINDS, Site

__all__ = ["Gain", "Visit", "list_visits"]

_NEAREST = 3
_WORTH_A_ROW = 0.01  # of a plan that works


@dataclass(frozen=True, kw_only=True)
class Visit:
    """One thing to check on site.

    Attributes
    ----------
    subject : str
        A line's id, ``terrain``, ``boundary`` ...
    check : str
        What to do there.
    why : str
        What rests on it.
    settles : float
        Expected gain of the measurement, in plans that work; NaN where that is not worked out.
    is_required : bool
        Whether safety or law asks for it, whatever it settles.
    """

    subject: str
    check: str
    why: str
    settles: float = math.nan
    is_required: bool = False


@dataclass(frozen=True, kw_only=True)
class Gain:
    """What measuring would help, and how sure the fall is.

    Attributes
    ----------
    fall : str
        The fall with its range, in words.
    lines : mapping of str to float
        Expected gain of laying a line bare, by its id.
    drop : float
        Expected gain of the levels of spillway and basin at the place proposed.
    other_drops : mapping of int to float
        The same at the other places, by their rank.
    """

    fall: str
    lines: Mapping[str, float] = field(default_factory=dict)
    drop: float = math.nan
    other_drops: Mapping[int, float] = field(default_factory=dict)


def list_visits(
    site: Site,
    clearances: Sequence[Clearance],
    rules: ConstraintParameters,
    fall_m: float | None,
    gain: Gain | None = None,
) -> tuple[Visit, ...]:
    """List what to check on site.

    Parameters
    ----------
    site : Site
        What was read.
    clearances : sequence of Clearance
        Of the works proposed; may be empty.
    rules : ConstraintParameters
        The rules in use.
    fall_m : float or None
        The fall that the stream counts on, m.
    gain : Gain, optional
        What measuring would help; without it the second half keeps the order of this module.

    Returns
    -------
    tuple of Visit
        What safety or law asks for, conflicts first; then the rest, what settles most first.
    """
    required = [
        *_conflicts(clearances),
        *_ticket(site),
        *_doubtful(site),
        *_unknown(clearances),
        *_rules(site, rules),
        *_stubs(site, rules),
        *_crossed(clearances),
        *_undrawn(site),
        *_never_marked(site),
    ]
    others = [*_nearest_lines(clearances), *_assumed(site), *_ground(site, fall_m, gain)]
    settled = [_with_gain(row, gain) for row in (*others, *_far_gains(others, gain))]
    settled.sort(key=lambda row: -row.settles if row.settles >= 0.0 else 1.0)
    told = (replace(row, is_required=True) for row in required)
    return tuple(dict.fromkeys([*told, *settled]))


def _with_gain(row: Visit, gain: Gain | None) -> Visit:
    """Tell what it would help to measure from the pit to a line."""
    is_line = gain is not None and row.subject in gain.lines and row.check.startswith("measure")
    return replace(row, settles=gain.lines[row.subject]) if gain and is_line else row


def _far_gains(rows: Sequence[Visit], gain: Gain | None) -> Iterator[Visit]:
    """Lines that are not among the nearest, and whose place would change the choice."""
    told = {row.subject for row in rows if row.check.startswith("measure")}
    for name, settles in gain.lines.items() if gain else ():
        if settles >= _WORTH_A_ROW and name not in told:
            yield Visit(
                subject=name,
                check=f"measure where {name} runs, laid bare",
                why="which place is the best may hang on it",
            )


def _conflicts(clearances: Sequence[Clearance]) -> Iterator[Visit]:
    for verdict in ("not_met", "hand_dig"):
        for row in clearances:
            if row.verdict == verdict:
                yield Visit(
                    subject=row.against,
                    check=f"expose or measure {row.against} beside the {_plain(row.work)}",
                    why=f"{_plain(verdict)}: {row.reason}",
                )
    for row in clearances:
        if row.verdict == "unknown" and row.clearance_m < row.required_m:
            yield Visit(
                subject=row.against,
                check=f"do not dig beside {row.against} for the {_plain(row.work)}",
                why=f"nearer than asked, and not known: {row.reason}",
            )


def _ticket(site: Site) -> Iterator[Visit]:
    found = doubts_about_ticket(site.ticket)
    if found:
        yield Visit(
            subject="ticket",
            check="call before digging and wait for the answer of every member",
            why="; ".join(found),
        )
    drawn = {member_key(name) for name in site.utilities["member"]}
    for name, answer in site.ticket.responses.items():
        if answer == "marked" and member_key(name) not in drawn:
            yield Visit(
                subject=name,
                check=f"find the marks of {name}",
                why="answered marked, yet no line of theirs is drawn",
            )
    if site.utilities.empty:
        yield Visit(
            subject="buried lines", check="look for marks and signs", why="no line at all is drawn"
        )


def _doubtful(site: Site) -> Iterator[Visit]:
    for line in site.rows["utilities"]:
        found = doubts_about(line, site)
        if found:
            yield Visit(
                subject=str(line.id),
                check="have the line located and answered for before digging",
                why="; ".join(found),
            )
    for fixture in site.rows["fixtures"]:
        found = doubts_about_fixture(fixture, site)
        if found:
            yield Visit(
                subject=str(fixture.id),
                check="find out whose it is and what leads to it",
                why="; ".join(found),
            )


def _unknown(clearances: Sequence[Clearance]) -> Iterator[Visit]:
    """Unknown rows of what is neither a buried line nor a fixture: those are told above."""
    told: set[tuple[str, str]] = set()
    for row in clearances:
        key = (row.kind, row.against)
        elsewhere = row.kind in UTILITY_KINDS or row.kind == "fixture"
        if row.verdict == "unknown" and not elsewhere and key not in told:
            told.add(key)
            yield Visit(
                subject=row.against,
                check=f"find out what {row.against} asks ({_plain(row.kind)})",
                why=row.reason,
            )


def _rules(site: Site, rules: ConstraintParameters) -> Iterator[Visit]:
    zone = zone_in_use(site.ticket.state, rules.tolerance_zone)
    if not zone.is_known:
        yield Visit(
            subject="tolerance zone",
            check="read the width that the one-call law here asks, and state it with its source",
            why=f"{zone.width_m:.2f} m was drawn; nothing is cleared by it",
        )
    elif rules.tolerance_zone.width is None:
        yield Visit(
            subject="tolerance zone",
            check="check the width against the law in force",
            why=zone.note,
        )


def _stubs(site: Site, rules: ConstraintParameters) -> Iterator[Visit]:
    for end in find_loose_ends(site, rules.stub):
        yield Visit(
            subject=end.line_id,
            check=f"find where {end.line_id} goes on from {_place_told(site, end.x, end.y)}",
            why=f"it ends on the lot; nothing within {rules.stub.reach:.2f} m ahead is cleared",
        )


def _place_told(site: Site, x_m: float, y_m: float) -> str:
    """Say a point as the layers have it, where that is the working CRS in another unit."""
    target = horizontal(site.output_crs)
    unit_m = unit_of_twin(site.crs, target)
    if unit_m is not None:
        name = target.axis_info[0].unit_name
        return f"east {x_m / unit_m:.2f}, north {y_m / unit_m:.2f} ({name})"
    return f"east {x_m:.2f}, north {y_m:.2f} ({site.crs.name}, metres)"


def _crossed(clearances: Sequence[Clearance]) -> Iterator[Visit]:
    for row in clearances:
        if row.work == "machine_route" and row.kind in UTILITY_KINDS:
            yield Visit(
                subject=row.against,
                check=f"ask what load {row.against} takes where the machine crosses it",
                why="its cover is unknown",
            )


def _nearest_lines(clearances: Sequence[Clearance]) -> Iterator[Visit]:
    beside = [row for row in clearances if row.work == "basin_excavation"]
    lines = sorted(
        (row for row in beside if row.verdict in {"met", "unknown"} and row.required_m > 0.0),
        key=lambda row: (row.clearance_m - row.required_m, row.against),
    )
    for row in lines[:_NEAREST]:
        found_m, asked_m = rounded_down(row.clearance_m), rounded_up(row.required_m)
        yield Visit(
            subject=row.against,
            check=f"measure from the staked pit edge to {row.against}",
            why=f"{found_m:.2f} m on the map, {asked_m:.2f} m asked",
        )


def _assumed(site: Site) -> Iterator[Visit]:
    """What is missing in the tables and was assumed in its place."""
    lines, trees, septic = site.utilities, site.trees, site.septic
    unlevelled = lines["quality_level"].isna() & lines["uncertainty_m"].isna()
    unmeasured = trees["trunk_diameter_m"].isna() & trees["crown_radius_m"].isna()
    by_crown = trees["trunk_diameter_m"].isna() & ~unmeasured
    unknown_part = septic["kind"].isna() | (septic["kind"] == "unknown")
    told = (
        (lines, lines["diameter_m"].isna(), "ask for the diameter of", "it was assumed"),
        (lines, unlevelled, "ask how well it is located:", "its uncertainty was assumed"),
        (trees, unmeasured, "measure the trunk of", "its root zone was assumed"),
        (trees, by_crown, "measure the trunk of", "its crown stands for its root zone"),
        (septic, unknown_part, "find out what part it is:", "it was taken as a well"),
        (site.overhead, site.overhead["voltage_v"].isna(), "ask the voltage of", "it was assumed"),
    )
    yield from _missing(told)
    if site.access.empty:
        yield Visit(subject="access", check="find the machine's way in", why="none is given")
    if site.soils.empty:
        yield Visit(subject="soil", check="dig a test hole", why="no soil map is given")


def _undrawn(site: Site) -> Iterator[Visit]:
    lines = site.utilities
    undrawn = lines.geometry.isna() | lines.geometry.is_empty
    told = (
        (lines, undrawn, "find on site", "it is not drawn, so nothing keeps off it"),
        (lines, lines["status"] == "abandoned", "treat as live", "it is said to be abandoned"),
    )
    yield from _missing(told)


def _missing(told: Sequence[tuple[pd.DataFrame, pd.Series, str, str]]) -> Iterator[Visit]:
    for table, missing, check, why in told:
        for name in table.loc[_truth(missing), "id"]:
            yield Visit(subject=str(name), check=f"{check} {name}", why=why)


def _truth(flags: pd.Series) -> list[bool]:
    return [bool(flag) for flag in flags]


def _plain(word: str) -> str:
    return word.replace("_", " ")


def _ground(site: Site, fall_m: float | None, gain: Gain | None) -> Iterator[Visit]:
    first = gain.drop if gain else math.nan
    if math.isnan(site.rmse_z_m):
        yield Visit(
            subject="terrain",
            check="take levels of spillway, basin and one point between",
            why="how well the terrain is known is not stated",
            settles=first,
        )
    elif fall_m is not None:
        yield Visit(
            subject="terrain",
            check="take levels of spillway and basin",
            why=f"fall of {gain.fall}" if gain else _fall_alone(fall_m, site.rmse_z_m),
            settles=first,
        )
    for rank, settles in gain.other_drops.items() if gain else ():
        if settles >= _WORTH_A_ROW:
            yield Visit(
                subject="terrain",
                check=f"take levels of spillway and basin at place {rank}",
                why="it may be the better place",
                settles=settles,
            )
    if math.isnan(site.parcel_accuracy_m):
        yield Visit(
            subject="boundary",
            check="find the parcel's corners",
            why="how well the parcel lines are known is not stated",
        )


def _fall_alone(fall_m: float, rmse_z_m: float) -> str:
    """The fall with the errors of its two ends taken as independent."""
    likely = interval_95(fall_m, drop_sigma(rmse_z_m))
    return (
        f"fall of {fall_m:.2f} m, 95 %: {max(likely.low, 0.0):.2f} to {likely.high:.2f} m "
        "from the terrain's error alone"
    )


def _never_marked(site: Site) -> Iterator[Visit]:
    asked = list_asked_for(site)
    if not asked:
        return
    perhaps = dict.fromkeys(name for one in asked for name in one.perhaps)
    drawn = f"; drawn as private and not all there may be: {', '.join(perhaps)}" if perhaps else ""
    yield Visit(
        subject="private lines",
        check=f"ask the owner for {'; '.join(one.what for one in asked)}",
        why=f"a public ticket marks none of these{drawn}",
    )
