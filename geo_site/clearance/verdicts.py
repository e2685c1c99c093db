"""What the distance of a work from an object means.

In: works and requirements. Out: :class:`Clearance` rows. Method: the distance alone first; then
what is not known makes the answer worse, never better. Reference: as in the package.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Literal

from shapely import LineString
from shapely.geometry.base import BaseGeometry

from geo_site.clearance.doubts import doubts_about, doubts_about_fixture
from geo_site.clearance.figures import TOUCH_M, rounded_up, told_distances
from geo_site.clearance.gaps import Gap, find_gap
from geo_site.constraints import ConstraintParameters, Requirement, Work, requirements
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
    }
)
"""Which constraints each work is judged by."""


_CROSSED: tuple[Verdict, str] = (
    "unknown",
    "the machine crosses the line, whose cover is unknown: ",
)
"""A machine over a buried line: told where it happens, and how deep the line lies nobody knows."""


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
        From the work to the object's outer edge, in plan; of length ``clearance_m``, or a dot of
        0.1 micrometre where they touch.
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
    doubts = _all_doubts(site)
    return tuple(
        _row(work, asked, gap, parameters, _missing_facts(work, asked, doubts, parameters))
        for work, geometry in _planned(works)
        for asked in requirements(site, parameters, WORK_RULES[work], excavation_depth_m)
        for gap in (find_gap(site, geometry, asked),)
        # The machine may drive beside a buried line: only crossings are told.
        if not (asked.may_cross and gap.clearance_m > 0.0)
    )


def _planned(works: Works) -> Iterator[tuple[str, BaseGeometry]]:
    for field in fields(works):
        geometry = getattr(works, field.name)
        if geometry is not None and not geometry.is_empty:
            yield field.name, geometry


def _row(
    work: str,
    asked: Requirement,
    gap: Gap,
    parameters: ConstraintParameters,
    missing: tuple[str, ...],
) -> Clearance:
    verdict, why = _measured(work, asked, gap, parameters) if not asked.may_cross else _CROSSED
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
        connector=gap.connector,
    )


def _measured(
    work: str, asked: Requirement, gap: Gap, parameters: ConstraintParameters
) -> tuple[Verdict, str]:
    """Verdict by distance alone, and what to say before the figures."""
    into = gap.enters
    if not into and gap.clearance_m >= asked.required_m - TOUCH_M:
        return "met", ""
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
    for line in site.utilities.itertuples():
        key = ("utility", str(line.id))
        found[key] = (*found.get(key, ()), *doubts_about(line, site))
    for fixture in site.fixtures.itertuples():
        key = ("fixture", str(fixture.id))
        found[key] = (*found.get(key, ()), *doubts_about_fixture(fixture, site))
    return {key: tuple(dict.fromkeys(told)) for key, told in found.items()}


def _missing_facts(
    work: str,
    asked: Requirement,
    doubts: Mapping[tuple[str, str], tuple[str, ...]],
    parameters: ConstraintParameters,
) -> tuple[str, ...]:
    # A machine goes round what stands there to be seen; no ticket tells it more.
    by_ticket = asked.reason == "utility" or (asked.reason == "fixture" and work != "machine_route")
    if not by_ticket:
        return () if asked.rule_known else ("the rule that applies here is not known",)
    missing = doubts.get((asked.reason, asked.against), ("it is not in the site's file",))
    if not parameters.tolerance_zone.is_known:
        return (*missing, "the tolerance zone that applies here is not stated")
    if not (asked.rule_known or missing):
        return ("the rule that applies here is not known",)
    return missing
