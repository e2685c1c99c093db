"""What the distance of a work from an object means.

In: works and requirements. Out: :class:`Clearance` rows. Method: the distance alone first; then
what is not known makes the answer worse, never better. Reference: as in the package.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import Literal

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from geo_site.clearance.doubts import doubts_about, doubts_about_fixture
from geo_site.clearance.figures import TOUCH_M, rounded_up, told_distances
from geo_site.clearance.gaps import Gap, find_gap
from geo_site.clearance.stubs import LooseEnd, find_loose_ends, told_ahead
from geo_site.constraints import (
    ConstraintParameters,
    Requirement,
    Work,
    requirements,
    zone_in_use,
)
from geo_site.site import Site

__all__ = ["WORK_RULES", "Clearance", "Verdict", "Works", "judge"]

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
        "swale": "stream",
    }
)
"""Which constraints each work is judged by."""


_CROSSED: tuple[Verdict, str] = (
    "unknown",
    "the machine crosses the line, whose cover is unknown: ",
)
"""A machine over a buried line: told where it happens, and how deep the line lies nobody knows."""

_UNSETTLED: tuple[Verdict, str] = (
    "unknown",
    "nearer than asked, and whether the rule applies is not settled: ",
)
"""What another code asks, and who knows that code has not said."""

_BY_LINE = frozenset({"utility", "sewer_separation"})
_FAR_LISTED = frozenset({"utility", "sewer_separation", "overhead", "boom", "fixture"})
_NOT_DIGGING = frozenset({"spoil_pile", "machine_route"})
_NAMED = 8
_HAND, _MACHINE, _NONE = "by hand or vacuum", "by machine", "none"


@dataclass(frozen=True, kw_only=True)
class Works:
    """What a plan digs, builds, heaps up and drives over; None where there is none.

    Attributes
    ----------
    basin, basin_excavation, stream, spoil_pile : Polygon or MultiPolygon, optional
        Areas.
    pipe, machine_route, silt_fence : geometry, optional
        Areas of the trench or corridor, or their lines.
    swale : Polygon or MultiPolygon, optional
        Ground that the swale breaks; judged as the stream is.
    """

    basin: BaseGeometry | None = None
    basin_excavation: BaseGeometry | None = None
    stream: BaseGeometry | None = None
    pipe: BaseGeometry | None = None
    spoil_pile: BaseGeometry | None = None
    machine_route: BaseGeometry | None = None
    silt_fence: BaseGeometry | None = None
    swale: BaseGeometry | None = None


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
    why : str
        The same without its figures, for a table that gives them in columns of their own.
    connector : LineString
        From the work to the object's outer edge, in plan; of length ``clearance_m``, or a dot of
        0.1 micrometre where they touch.
    number : int
        Of the row, from 1.
    rule : str
        Name of the constraint.
    rule_m, uncertainty_m : float
        The two parts of what is required.
    half_width_m : float
        From the object as drawn to its outer edge, taken off the distance.
    hand_dig_within_m : float
        From the outer edge, how far the law asks for digging by hand: tolerance zone plus
        uncertainty; 0 where no such law speaks.
    method_of_digging : str
        Beside a buried line: ``by hand or vacuum`` within that distance, ``by machine`` beyond,
        ``none`` where it is not met or unknown; empty for all else.
    stands_for : int
        How many objects the row speaks of: more than 1 where the nearest of its kind stands for
        all that are far.
    """

    work: str
    against: str
    kind: str
    required_m: float
    clearance_m: float
    verdict: Verdict
    reason: str
    connector: LineString
    why: str = ""
    number: int = 0
    rule: str = ""
    rule_m: float = 0.0
    uncertainty_m: float = 0.0
    half_width_m: float = 0.0
    hand_dig_within_m: float = 0.0
    method_of_digging: str = ""
    stands_for: int = 1


@dataclass(frozen=True, kw_only=True)
class _Facts:
    """What is known of the objects, gathered once."""

    doubts: Mapping[tuple[str, str], tuple[str, ...]]
    ends: Mapping[str, tuple[LooseEnd, ...]]
    zone_known: bool


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
        By work in the order of :class:`Works`, then in the order of the constraints; of what is
        farther than ``parameters.rows`` the nearest of each kind stands for the others.
    """
    facts = _facts(site, parameters)
    rows = [
        row
        for work, geometry in _planned(works)
        for row in _rows_of(
            work,
            geometry,
            _asked(site, parameters, work, excavation_depth_m),
            _Desk(site=site, parameters=parameters, facts=facts),
        )
    ]
    return tuple(replace(row, number=number) for number, row in enumerate(rows, 1))


@dataclass(frozen=True, kw_only=True)
class _Desk:
    """What every row looks at."""

    site: Site
    parameters: ConstraintParameters
    facts: _Facts


def _facts(site: Site, parameters: ConstraintParameters) -> _Facts:
    ends: dict[str, tuple[LooseEnd, ...]] = {}
    for end in find_loose_ends(site, parameters.stub):
        ends[end.line_id] = (*ends.get(end.line_id, ()), end)
    return _Facts(
        doubts=_all_doubts(site),
        ends=ends,
        zone_known=zone_in_use(site.ticket.state, parameters.tolerance_zone).is_known,
    )


def _planned(works: Works) -> Iterator[tuple[str, BaseGeometry]]:
    for field in fields(works):
        geometry = getattr(works, field.name)
        if geometry is not None and not geometry.is_empty:
            yield field.name, geometry


def _asked(
    site: Site, parameters: ConstraintParameters, work: str, excavation_depth_m: float
) -> list[Requirement]:
    """What is asked of a work; separations from water are asked of the basin, not of its pit."""
    rows = requirements(site, parameters, WORK_RULES[work], excavation_depth_m)
    return [row for row in rows if not (row.advisory and work == "basin_excavation")]


def _rows_of(
    work: str, geometry: BaseGeometry, asked: Sequence[Requirement], desk: _Desk
) -> Iterator[Clearance]:
    if not asked:
        return
    flat = shapely.force_2d(geometry)
    targets = np.array([shapely.force_2d(row.geometry) for row in asked], dtype=object)
    away_m = shapely.distance(targets, flat) - np.array([row.half_width_m for row in asked])
    far: dict[tuple[str, str], list[tuple[float, Requirement]]] = {}
    for row, distance_m in zip(asked, away_m, strict=True):
        # The machine may drive beside a buried line: only crossings are told.
        if row.may_cross and distance_m > TOUCH_M:
            continue
        if _is_far(row, float(distance_m), desk.parameters):
            far.setdefault((row.reason, row.kind), []).append((float(distance_m), row))
        else:
            yield _row(work, geometry, row, desk)
    for group in far.values():
        yield _nearest_of(work, geometry, group, desk)


def _is_far(asked: Requirement, distance_m: float, parameters: ConstraintParameters) -> bool:
    if asked.reason == "boundary":
        return False
    reach = parameters.rows
    listed_m = reach.lines_within if asked.reason in _FAR_LISTED else reach.others_within
    return distance_m > max(asked.required_m, listed_m)


def _nearest_of(
    work: str, geometry: BaseGeometry, group: Sequence[tuple[float, Requirement]], desk: _Desk
) -> Clearance:
    """The nearest of a far group, as doubtful as the most doubtful of them."""
    nearest = _row(work, geometry, min(group, key=lambda one: one[0])[1], desk)
    if len(group) == 1:
        return nearest
    told = f"the nearest of {len(group)} far ones of its kind"
    doubtful = [row for _, row in group if _missing_facts(work, geometry, row, desk)]
    if doubtful and nearest.verdict != "unknown":
        names = ", ".join(row.against for row in doubtful[:_NAMED])
        reason = f"{len(doubtful)} of them are not vouched for ({names})"
        nearest = replace(
            nearest,
            verdict="unknown",
            reason=f"{reason} (measured: {nearest.reason})",
            why="; ".join(told for told in (reason, nearest.why) if told),
            method_of_digging=_NONE if nearest.method_of_digging else "",
        )
    return replace(nearest, stands_for=len(group), reason=f"{told}: {nearest.reason}")


def _row(work: str, geometry: BaseGeometry, asked: Requirement, desk: _Desk) -> Clearance:
    gap = find_gap(desk.site, geometry, asked)
    verdict, why = _measured(work, asked, gap, desk.parameters)
    missing = _missing_facts(work, geometry, asked, desk)
    reason = why + _told(asked, gap.clearance_m)
    if missing and verdict != "not_met":
        verdict, reason = "unknown", "; ".join(missing) + f" (measured: {reason})"
    return Clearance(
        work=work,
        against=asked.against,
        kind=asked.kind,
        required_m=asked.required_m,
        clearance_m=gap.clearance_m,
        verdict=verdict,
        reason=reason,
        why=_without_figures(verdict, why, missing, asked.note),
        connector=gap.connector,
        rule=asked.reason,
        rule_m=asked.rule_m,
        uncertainty_m=asked.uncertainty_m,
        half_width_m=asked.half_width_m,
        hand_dig_within_m=asked.hand_dig_within_m,
        method_of_digging=_method(work, asked, gap, verdict),
    )


def _without_figures(verdict: Verdict, said: str, missing: Sequence[str], note: str) -> str:
    """What a reason says besides its figures."""
    said = said.removesuffix(": ") or ("nearer than asked" if verdict == "not_met" else "")
    doubts = missing if verdict == "unknown" else ()
    return "; ".join(told for told in (*doubts, said, note) if told)


def _method(work: str, asked: Requirement, gap: Gap, verdict: Verdict) -> str:
    if asked.reason != "utility" or work in _NOT_DIGGING:
        return ""
    if verdict not in {"met", "hand_dig"}:
        return _NONE
    by_hand = verdict == "hand_dig" or gap.clearance_m < asked.hand_dig_within_m - TOUCH_M
    return _HAND if by_hand else _MACHINE


def _measured(
    work: str, asked: Requirement, gap: Gap, parameters: ConstraintParameters
) -> tuple[Verdict, str]:
    """Verdict by distance alone, and what to say before the figures."""
    if asked.may_cross:
        return _CROSSED
    if not gap.enters and gap.clearance_m >= asked.required_m - TOUCH_M:
        return "met", ""
    if asked.advisory:
        return _UNSETTLED
    return _too_near(work, asked, gap, parameters)


def _too_near(
    work: str, asked: Requirement, gap: Gap, parameters: ConstraintParameters
) -> tuple[Verdict, str]:
    """Verdict where the work is nearer than asked."""
    into = gap.enters
    may_hand_dig = asked.least_m < asked.required_m
    if not into and may_hand_dig and gap.clearance_m >= asked.least_m - TOUCH_M:
        return "hand_dig", "dig by hand: "
    if work == "pipe" and asked.reason == "utility" and gap.crosses:
        if parameters.hand_dig != "never":
            return "hand_dig", "dig by hand: the trench crosses the line, its depth is unknown: "
        return "not_met", "the trench crosses the line: "
    if not into:
        return "not_met", ""
    goes = "reaches outside the parcel" if asked.reason == "boundary" else "reaches into it"
    return "not_met", f"{goes}: "


def _told(asked: Requirement, clearance_m: float) -> str:
    told = told_distances(clearance_m, asked.required_m)
    if asked.uncertainty_m > 0.0:
        rule_m, position_m = rounded_up(asked.rule_m), rounded_up(asked.uncertainty_m)
        told += f" (rule {rule_m:.2f} m, position {position_m:.2f} m)"
    return told + (f"; {asked.note}" if asked.note else "")


def _all_doubts(site: Site) -> Mapping[tuple[str, str], tuple[str, ...]]:
    """Doubts by reason and id; where an id stands twice, the doubts of both."""
    found: dict[tuple[str, str], tuple[str, ...]] = {}
    for line in site.rows["utilities"]:
        key = ("utility", str(line.id))
        found[key] = (*found.get(key, ()), *doubts_about(line, site))
    for fixture in site.rows["fixtures"]:
        key = ("fixture", str(fixture.id))
        found[key] = (*found.get(key, ()), *doubts_about_fixture(fixture, site))
    return {key: tuple(dict.fromkeys(told)) for key, told in found.items()}


def _missing_facts(
    work: str, geometry: BaseGeometry, asked: Requirement, desk: _Desk
) -> tuple[str, ...]:
    by_line = asked.reason in _BY_LINE
    # A machine goes round what stands there to be seen; no ticket tells it more.
    by_ticket = by_line or (asked.reason == "fixture" and work != "machine_route")
    if not by_ticket:
        return () if asked.rule_known else ("the rule that applies here is not known",)
    key = ("utility" if by_line else asked.reason, asked.against)
    missing = desk.facts.doubts.get(key, ("it is not in the site's file",))
    if by_line and work != "machine_route":
        missing = (*missing, *told_ahead(geometry, asked.against, desk.facts.ends))
    if asked.reason != "sewer_separation" and not desk.facts.zone_known:
        return (*missing, "the tolerance zone that applies here is not stated")
    if not (asked.rule_known or missing):
        return ("the rule that applies here is not known",)
    return missing
