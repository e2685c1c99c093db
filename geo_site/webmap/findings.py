"""What the page lists: key figures, places compared, clearances, rules that leave no place.

In: a plan. Out: rows of words and the few numbers that are drawn. Method: figures of the plan in
the units of its reports; nothing is computed. Reference: none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from shapely import union_all

from geo_site.certainty import fall_told
from geo_site.layers import VERDICT_SYMBOLS
from geo_site.units import (
    format_area,
    format_flow,
    format_length,
    format_liquid,
    format_volume,
    in_report,
)
from geo_site.webmap.looks import symbol_data
from geo_site.webmap.numbers import asked, found
from geo_site.webmap.plain_words import phrase
from geo_site.webmap.shapes import Origin

if TYPE_CHECKING:
    from geo_site.clearance import Clearance, Verdict
    from geo_site.plan import Plan, Proposal
    from geo_site.ranking import Ranked

__all__ = ["VERDICT_WORDS", "clearances", "figures", "places", "rules_in_the_way", "verdicts"]

VERDICT_WORDS: Mapping[Verdict, str] = MappingProxyType(
    {"not_met": "not met", "unknown": "unknown", "hand_dig": "dig by hand", "met": "met"}
)
"""Every verdict, conflicts first, in the order of the table."""

Figure = dict[str, str]


def _figure(label: str, value: str, how: str) -> Figure:
    return {"label": label, "value": value, "how": how}


def figures(plan: Plan) -> list[Figure]:
    """Give the figures that decide.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.

    Returns
    -------
    list of dict
        ``label``, ``value``, ``how`` (how it is known).
    """
    site, system = plan.site, plan.site.report_units
    accuracy_m = site.parcel_accuracy_m
    off = "an amount that is not known" if math.isnan(accuracy_m) else asked(accuracy_m, system)
    told = f"as mapped; its lines may be off by {off}"
    lot = _figure("lot", format_area(site.parcel.area, system), told)
    return [lot, *(_of_works(plan, plan.proposal) if plan.proposal else ())]


def _of_works(plan: Plan, proposal: Proposal) -> Iterator[Figure]:
    system = plan.site.report_units
    layout, water, moved = proposal.layout, proposal.water, proposal.earthwork
    sides = proposal.placement.arrangement
    yield _figure("fall of the stream", format_length(layout.fall_m, system), _fall_known(plan))
    yield _figure(
        "stream",
        format_length(layout.length_m, system),
        f"{len(layout.falls)} falls, {len(layout.pools)} pools",
    )
    yield _figure(
        "basin",
        f"{format_length(sides.length_m, system)} by {format_length(sides.width_m, system)}",
        f"pit up to {format_length(proposal.placement.greatest_depth_m, system)} deep",
    )
    yield _figure(
        "water that the pump can take",
        format_liquid(water.usable_m3, system),
        f"{format_liquid(water.required_m3, system)} needed to run, to stop and to last",
    )
    low, high = (format_flow(q, system) for q in (water.flow.low_m3s, water.flow.high_m3s))
    between = "" if low == high else f"{low} to {high}, "
    yield _figure(
        "pump",
        f"{format_flow(water.flow_m3s, system)} at {format_length(water.total_head_m, system)}",
        f"{between}from {in_report(water.flow.basis, system)}",
    )
    yield _figure(
        "digging",
        f"{format_volume(moved.bank_m3, system)} in the bank",
        f"{format_volume(moved.loose_m3, system)} loose; soil taken as {moved.soil}",
    )
    yield _figure(
        "hauled away",
        f"{format_volume(moved.haul_m3, system)} loose",
        f"{moved.haul_loads} loads",
    )


def _fall_known(plan: Plan) -> str:
    system = plan.site.report_units
    if plan.certainty is not None:
        return fall_told(plan.certainty, system).partition(", ")[2]
    low_m, high_m = plan.fall_range_m
    if math.isnan(low_m):
        return "the terrain's error is not stated, so the fall's is unknown"
    if low_m <= 0.0:
        return "within the terrain's error: not certain; take a level on site"
    return (
        f"95 %: {format_length(low_m, system)} to {format_length(high_m, system)}, for the "
        "terrain's own error"
    )


def places(plan: Plan, origin: Origin) -> list[dict[str, Any]]:
    """Give the places compared, best first.

    Parameters
    ----------
    plan : Plan
        Whose places.
    origin : Origin
        From where coordinates count.

    Returns
    -------
    list of dict
        ``rank``, ``score``, ``facts``, ``marks``, ``bounds``, ``pit`` and ``stream``.
    """
    return [_place(plan, ranked, origin) for ranked in plan.candidates]


def _place(plan: Plan, ranked: Ranked, origin: Origin) -> dict[str, Any]:
    one = ranked.candidate
    system = plan.site.report_units
    works = union_all([one.placement.excavation, one.layout.alignment])
    return {
        "rank": ranked.rank,
        "score": f"{ranked.score:.2f}",
        "facts": [
            ["fall", format_length(one.layout.fall_m, system)],
            ["stream", format_length(one.layout.length_m, system)],
            ["pit", format_volume(one.excavation.bank_m3, system)],
            ["run-on", format_area(one.catchment.area_m2, system)],
            ["by hand", format_area(one.hand_dig_m2, system)],
            ["nearest line", _nearest(plan, one.clearance_m)],
            ["machine's way", one.route_state],
        ],
        "marks": [
            {
                "criterion": phrase(mark.criterion),
                "score": round(mark.score, 3),
                "told": in_report(mark.sentence, system),
            }
            for mark in ranked.marks
        ],
        "bounds": origin.bounds(works),
        "pit": origin.areas(one.placement.excavation),
        "stream": origin.lines(one.layout.alignment),
    }


def _nearest(plan: Plan, clearance_m: float) -> str:
    return found(clearance_m, plan.site.report_units) if math.isfinite(clearance_m) else "no line"


def verdicts(plan: Plan) -> list[dict[str, Any]]:
    """Give every verdict, conflicts first, with its look and how often it stands."""
    return [
        {
            "name": name,
            "title": words,
            "count": sum(row.verdict == name for row in plan.clearances),
            "symbol": symbol_data(VERDICT_SYMBOLS[name]),
        }
        for name, words in VERDICT_WORDS.items()
    ]


def clearances(plan: Plan) -> list[dict[str, Any]]:
    """Give every clearance, conflicts first, the least to spare first among equals.

    Parameters
    ----------
    plan : Plan
        Whose clearances.

    Returns
    -------
    list of dict
        Words of each row; ``feature`` is its place in the layer of connectors.
    """
    order = list(VERDICT_WORDS)
    numbered = sorted(
        enumerate(plan.clearances),
        key=lambda one: (
            order.index(one[1].verdict),
            one[1].clearance_m - one[1].required_m,
            one[0],
        ),
    )
    return [_clearance(plan, place, row) for place, row in numbered]


def _clearance(plan: Plan, place: int, row: Clearance) -> dict[str, Any]:
    system = plan.site.report_units
    others = f" ({row.stands_for} of its kind, this the nearest)" if row.stands_for > 1 else ""
    return {
        "number": row.number,
        "verdict": row.verdict,
        "work": phrase(row.work),
        "against": f"{row.against}{others}",
        "kind": phrase(row.kind),
        "asked": asked(row.required_m, system),
        "found": found(row.clearance_m, system),
        "reason": in_report(row.why, system),
        "feature": place,
    }


def rules_in_the_way(plan: Plan) -> list[dict[str, str]]:
    """Give what takes the ground where there is no place: ``rule``, ``ground``, ``alone``."""
    system = plan.site.report_units
    return [
        {
            "rule": in_report(phrase(row.rule), system),
            "ground": _area(row.ground_m2, system),
            "alone": _area(row.only_this_m2, system),
        }
        for row in plan.no_place
    ]


def _area(area_m2: float, system: Any) -> str:
    return "takes none of its own" if math.isnan(area_m2) else format_area(area_m2, system)
