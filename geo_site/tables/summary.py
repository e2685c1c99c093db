"""A plan in a dozen lines for a narrow terminal, in the units that the site asks for."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

from geo_site.units import (
    counted,
    format_area,
    format_flow,
    format_length,
    format_liquid,
    format_volume,
    in_report,
)

if TYPE_CHECKING:
    from geo_site.clearance import Clearance, Verdict
    from geo_site.plan import NoPlaceRow, Plan, Proposal

__all__ = ["summary_lines"]

_WIDTH = 60
_LINES = 15
_SOME_M3 = 0.05
_KINDS = {"boundary": "lot line"}
_GRAVEST_FIRST: tuple[Verdict, ...] = ("not_met", "hand_dig", "unknown", "met")
_CALL = "a desk study, not a locate: call before you dig"


def summary_lines(plan: Plan) -> list[str]:
    """Say what a plan found.

    Parameters
    ----------
    plan : Plan
        What was found out.

    Returns
    -------
    list of str
        At most 15 lines of at most 60 characters.
    """
    if plan.proposal is None:
        judged = list(_clearances(plan)) if plan.clearances else []
        head = "no stream gets out of the basin drawn" if judged else "no place for the basin"
        lines = [f"{head}: {plan.site.name}", *judged, *_no_place(plan, len(judged))]
    else:
        lines = [
            f"{plan.status}: {plan.site.name}",
            *_clearances(plan),
            *_basin(plan, plan.proposal),
            *_stream(plan, plan.proposal),
            *_water(plan, plan.proposal),
            *_earth(plan, plan.proposal),
        ]
    return [*(_short(line) for line in lines[: _LINES - 1]), _CALL]


def _short(line: str) -> str:
    """Cut a line to the width, without what would steer a terminal: names come from strangers."""
    told = "".join(mark for mark in line if mark.isprintable())
    return told if len(told) <= _WIDTH else f"{told[: _WIDTH - 4].rstrip()} ..."


def _no_place(plan: Plan, before: int) -> Iterator[str]:
    """Rules one by one, long ones over several lines, as many as there is room for."""
    told = [
        textwrap.wrap(_rule(plan, row), _WIDTH, subsequent_indent="  ") for row in plan.no_place
    ]
    room = _LINES - 3 - before  # less the head, the count of what is left, and the caution
    shown = 0
    for lines in told:
        if len(lines) > room:
            break
        yield from lines
        room -= len(lines)
        shown += 1
    if shown < len(told):
        yield f"and {len(told) - shown} more in plan.json"


def _rule(plan: Plan, row: NoPlaceRow) -> str:
    system = plan.site.report_units
    told = in_report(row.rule.replace("_", " "), system)
    if not math.isnan(row.ground_m2):
        told += f": {format_area(row.ground_m2, system)}"
    if not math.isnan(row.only_this_m2):
        told += f", {format_area(row.only_this_m2, system)} by it alone"
    return told


def _clearances(plan: Plan) -> Iterator[str]:
    found = Counter(row.verdict for row in plan.clearances)
    told = [f"{found[v]} {v.replace('_', ' ')}" for v in _GRAVEST_FIRST if found[v]]
    yield f"clearances: {', '.join(told) or 'nothing asks for a distance'}"
    for verdict in ("not_met", "hand_dig", "unknown"):
        rows = [row for row in plan.clearances if row.verdict == verdict]
        named = dict.fromkeys(_named(row) if verdict == "not_met" else row.against for row in rows)
        if named:
            yield f"{verdict.replace('_', ' ')}: {', '.join(named)}"


def _named(row: Clearance) -> str:
    """What a work is too near to, or on."""
    kind = _KINDS.get(row.kind, row.kind.replace("_", " "))
    return f"{'on ' if row.clearance_m <= 0.0 else ''}{kind} {row.against}"


def _basin(plan: Plan, proposal: Proposal) -> Iterator[str]:
    system, placement = plan.site.report_units, proposal.placement
    sides = placement.arrangement
    yield (
        f"basin {format_length(sides.length_m, system)} x {format_length(sides.width_m, system)}, "
        f"pit up to {format_length(placement.greatest_depth_m, system)} deep"
    )


def _stream(plan: Plan, proposal: Proposal) -> Iterator[str]:
    system, layout = plan.site.report_units, proposal.layout
    yield f"fall {format_length(layout.fall_m, system)}{_how_sure(plan)}"
    berm = f", berm {format_length(layout.berm_height_m, system)}" if layout.berm_m3 > 0 else ""
    yield (
        f"stream {format_length(layout.length_m, system)}, {counted(len(layout.falls), 'fall')}, "
        f"{counted(len(layout.pools), 'pool')}{berm}"
    )


def _how_sure(plan: Plan) -> str:
    """The fall's range and the chance that it is there; assumed ones assert nothing."""
    system, sure = plan.site.report_units, plan.certainty
    low_m, high_m = plan.fall_range_m
    if math.isnan(low_m):
        if sure is None or not sure.fall.is_known:
            return ", its error unknown"
        low, high = (format_length(end, system) for end in (sure.fall.low, sure.fall.high))
        return f", its error unknown ({low} to {high} assumed)"
    if low_m <= 0.0:
        return ": within the terrain's error, not certain"
    likely = f"95 %: {format_length(low_m, system)} to {format_length(high_m, system)}"
    if sure is None:
        return f" ({likely})"
    needed = format_length(sure.needed_fall_m, system)
    return f" ({likely}; {_percent(sure.places[0].chance_of_fall)} for {needed})"


def _percent(chance: float) -> str:
    """A chance without more than is known: never all nor nothing, rounded down."""
    if chance >= 0.99:
        return "over 99 %"
    return f"{math.floor(100.0 * chance)} %" if chance >= 0.01 else "under 1 %"


def _water(plan: Plan, proposal: Proposal) -> Iterator[str]:
    system, water = plan.site.report_units, proposal.water
    yield (
        f"pump {format_flow(water.flow_m3s, system)} at {format_length(water.total_head_m, system)}"
        f", of that {format_length(water.static_lift_m, system)} lift"
    )
    yield (
        f"water {format_liquid(water.usable_m3, system)} usable, "
        f"{format_liquid(water.required_m3, system)} needed"
    )


def _earth(plan: Plan, proposal: Proposal) -> Iterator[str]:
    system, moved = plan.site.report_units, proposal.earthwork
    pile_m3 = moved.pile.volume_m3 if moved.pile else 0.0
    yield (
        f"dig {format_volume(moved.bank_m3, system)}, pile {format_volume(pile_m3, system)}, "
        f"haul {format_volume(moved.haul_m3, system)} "
        f"({counted(moved.haul_loads, 'load')})"
    )
    if moved.brought_m3 > _SOME_M3:
        yield f"bring in {format_volume(moved.brought_m3, system)} of loose soil for the berm"
    route = proposal.best.candidate.route
    if route is not None:
        yield f"machine way in {format_length(route.length_m, system)}"
    elif proposal.best.candidate.route_state == "none":
        yield "no way in for the machine was found"
    else:
        yield "the machine's way is unknown: no access point given"
