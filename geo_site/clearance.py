"""How near does each work come to everything that asks for a distance, and what does that mean.

In: the works of a plan and the requirements of the constraints. Out: one row for each pair with
the exact shortest distance, its connector and a verdict. Method: the distance counts from the
work's edge to the object's outer edge as drawn; the verdict compares it with rule plus position
uncertainty, and then asks what is not known. Missing facts only make an answer worse: ``met`` and
``hand_dig`` become ``unknown``, ``not_met`` stays. Nothing in this file leads from a missing fact
to ``met``. Reference: the practice of one-call law (positive response of every member, private
lines not covered by a public ticket).
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Any, Literal

from shapely import LineString, Point, shortest_line
from shapely.geometry.base import BaseGeometry

from geo_site.constraints import ConstraintParameters, Requirement, Work, requirements
from geo_site.site import UTILITY_KINDS, PrivateLocate, Site, Ticket

__all__ = ["WORK_RULES", "Clearance", "Verdict", "Works", "doubts_about", "judge"]

Verdict = Literal["met", "hand_dig", "not_met", "unknown"]

WORK_RULES: Mapping[str, Work] = MappingProxyType(
    {
        "basin": "basin",
        "basin_excavation": "basin",
        "stream": "stream",
        "pipe": "pipe",
        "spoil_pile": "pile",
        "machine_route": "machine",
        "silt_fence": "fence",
    }
)
"""Which constraints each work is judged by."""

_TOUCH_M = 1e-9  # rounding of coordinates, far below any survey
_PRINT_SLACK = 1e-6  # of a centimetre: 0.3 stays 0.30 whatever its last binary digit


@dataclass(frozen=True, kw_only=True)
class Works:
    """What a plan digs, builds, heaps up and drives over; None where there is none.

    Attributes
    ----------
    basin, basin_excavation, stream, spoil_pile : Polygon or MultiPolygon, optional
        Areas.
    pipe, machine_route, silt_fence : geometry, optional
        Areas of the trench or corridor, or their lines.
    """

    basin: BaseGeometry | None = None
    basin_excavation: BaseGeometry | None = None
    stream: BaseGeometry | None = None
    pipe: BaseGeometry | None = None
    spoil_pile: BaseGeometry | None = None
    machine_route: BaseGeometry | None = None
    silt_fence: BaseGeometry | None = None


@dataclass(frozen=True, kw_only=True)
class Clearance:
    """One work against one object.

    Attributes
    ----------
    work : str
        Name of the work.
    against : str
        The object's id in the user's file.
    kind : str
        Utility kind, else the constraint's name.
    required_m : float
        Rule plus position uncertainty.
    clearance_m : float
        Shortest distance from the work's edge to the object's outer edge, 0 when they touch.
    verdict : {"met", "hand_dig", "not_met", "unknown"}
        What it means.
    reason : str
        Why, in a sentence.
    connector : LineString
        From the work to the object's outer edge; of length ``clearance_m``.
    """

    work: str
    against: str
    kind: str
    required_m: float
    clearance_m: float
    verdict: Verdict
    reason: str
    connector: LineString


def judge(
    site: Site, works: Works, parameters: ConstraintParameters, excavation_depth_m: float
) -> tuple[Clearance, ...]:
    """Judge every work against everything that asks it for a distance.

    Parameters
    ----------
    site : Site
        With the ticket and the private locate.
    works : Works
        What is planned.
    parameters : ConstraintParameters
        The rules in use.
    excavation_depth_m : float
        Depth on which the distance to structures depends, m.

    Returns
    -------
    tuple of Clearance
        By work in the order of :class:`Works`, then in the order of the constraints.
    """
    doubts = {str(line.id): doubts_about(line, site) for line in site.utilities.itertuples()}
    rows: list[Clearance] = []
    for work, geometry in _planned(works):
        for asked in requirements(site, parameters, WORK_RULES[work], excavation_depth_m):
            row = _pair(site, work, geometry, asked, doubts)
            if row is not None:
                rows.append(row)
    return tuple(rows)


def _planned(works: Works) -> Iterator[tuple[str, BaseGeometry]]:
    for field in fields(works):
        geometry = getattr(works, field.name)
        if geometry is not None and not geometry.is_empty:
            yield field.name, geometry


def _pair(
    site: Site,
    work: str,
    geometry: BaseGeometry,
    asked: Requirement,
    doubts: Mapping[str, tuple[str, ...]],
) -> Clearance | None:
    connector = _connector(site, geometry, asked)
    clearance_m = float(connector.length)
    is_line = asked.kind in UTILITY_KINDS and asked.reason == "utility"
    if work == "machine_route" and is_line and clearance_m > 0.0:
        return None  # the machine may drive beside a buried line; only crossings are told
    verdict, reason = _measured(work, asked, clearance_m, is_line=is_line)
    missing = _missing_facts(asked, doubts) if is_line else ()
    if missing and verdict != "not_met":
        verdict, reason = "unknown", "; ".join(missing) + f" (measured: {reason})"
    return Clearance(
        work=work,
        against=asked.against,
        kind=asked.kind,
        required_m=asked.required_m,
        clearance_m=clearance_m,
        verdict=verdict,
        reason=reason,
        connector=connector,
    )


def _connector(site: Site, geometry: BaseGeometry, asked: Requirement) -> LineString:
    """Shortest line from the work to the object's outer edge; a point of a line when they meet."""
    inside = asked.reason != "boundary" or site.outside(geometry) <= _TOUCH_M
    whole = shortest_line(geometry, asked.geometry)
    start, end = Point(whole.coords[0]), Point(whole.coords[-1])
    left_m = whole.length - asked.half_width_m
    if left_m <= _TOUCH_M or not inside:
        return LineString([start, start])
    return (
        LineString([start, whole.interpolate(left_m)])
        if asked.half_width_m
        else LineString([start, end])
    )


def _measured(
    work: str, asked: Requirement, clearance_m: float, *, is_line: bool
) -> tuple[Verdict, str]:
    told = f"{_rounded_down(clearance_m):.2f} m found, {_rounded_up(asked.required_m):.2f} m asked"
    if asked.uncertainty_m > 0.0:
        told += f" (rule {asked.rule_m:.2f} m, position {asked.uncertainty_m:.2f} m)"
    told += f"; {asked.note}" if asked.note else ""
    if clearance_m >= asked.required_m - _TOUCH_M:
        return "met", told
    may_hand_dig = asked.least_m < asked.required_m
    if may_hand_dig and clearance_m >= asked.least_m - _TOUCH_M:
        return "hand_dig", f"dig by hand: {told}"
    if may_hand_dig and is_line and work == "pipe":
        return "hand_dig", f"the trench crosses the line, its depth is unknown: {told}"
    return "not_met", told


def _rounded_down(value_m: float) -> float:
    """Centimetres that never make a distance look longer than it is."""
    return math.floor(value_m * 100.0 + _PRINT_SLACK) / 100.0


def _rounded_up(value_m: float) -> float:
    """Centimetres that never make a demand look smaller than it is."""
    return math.ceil(value_m * 100.0 - _PRINT_SLACK) / 100.0


def _missing_facts(asked: Requirement, doubts: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    missing = list(doubts.get(asked.against, ("the line is not in the site's file",)))
    if not asked.rule_known:
        missing.append("the tolerance zone that applies here is not stated")
    if asked.kind == "unknown":
        missing.append("what the line carries is unknown")
    return tuple(missing)


def doubts_about(line: Any, site: Site) -> tuple[str, ...]:
    """Say what keeps a marked line from being vouched for on the day of the plan.

    Parameters
    ----------
    line : row of ``Site.utilities``
        With ``id, side, member``.
    site : Site
        With the ticket and the private locate.

    Returns
    -------
    tuple of str
        A clause for each missing fact; empty when someone who may vouch for it has done so.
    """
    side, member = _word(line.side), _word(line.member)
    if side == "private":
        return _private_doubts(site.private_locate, site.ticket.as_of)
    if not side and not member:
        return ("neither the line's side nor its one-call member is stated",)
    return _public_doubts(site.ticket, member)


def _private_doubts(locate: PrivateLocate | None, as_of: datetime.date | None) -> tuple[str, ...]:
    if locate is None:
        return ("a public ticket does not cover a private line, and no private locate is stated",)
    found = _date_doubts("private locate", as_of, locate.on, locate.valid_until)
    return found if locate.by else (*found, "who made the private locate is not stated")


def _public_doubts(ticket: Ticket, member: str) -> tuple[str, ...]:
    if not ticket.number:
        return ("no one-call ticket is stated",)
    found = list(_date_doubts("ticket", ticket.as_of, ticket.requested_on, ticket.valid_until))
    if not member:
        return (*found, "the line's one-call member is not stated")
    answer = ticket.responses.get(member)
    if answer is None:
        found.append(f"{member} has not answered the ticket")
    elif answer == "clear":
        found.append(f"{member} answered clear, yet a line of theirs is drawn")
    elif answer != "marked":
        found.append(f"{member} answered {answer}")
    return tuple(found)


def _date_doubts(
    paper: str,
    as_of: datetime.date | None,
    start: datetime.date | None,
    end: datetime.date | None,
) -> tuple[str, ...]:
    if as_of is None:
        return ("the day of the plan (ticket.as_of) is not stated",)
    found = []
    if start is None:
        found.append(f"the day of the {paper} is not stated")
    elif start > as_of:
        found.append(f"the {paper} of {start.isoformat()} is later than the plan")
    if end is None:
        found.append(f"the last day of the {paper} is not stated")
    elif end < as_of:
        found.append(f"the {paper} ended on {end.isoformat()}")
    return tuple(found)


def _word(value: object) -> str:
    return value.strip() if isinstance(value, str) else ""
