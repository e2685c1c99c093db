"""The first page: the site in a paragraph, the figures that decide, what is not certain.

In: a plan. Out: a page of a booklet. Method: words and figures of the plan, in the units of its
reports. Reference: none.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping

from geo_site.clearance import Verdict
from geo_site.plan import Plan, Proposal
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.changed import breach_lines
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.paper import Lettering
from geo_site.sheets.sureness import chance_told
from geo_site.sheets.title_facts import both, grid_and_ground, position_facts
from geo_site.units import (
    System,
    format_area,
    format_flow,
    format_length,
    format_liquid,
    format_volume,
    in_report,
)
from geo_site.water import Water

__all__ = ["add_cover"]

_FIGURES = (Column(title="", share=1.1), Column(title="", share=2.0), Column(title="", share=2.6))
_VERDICT_WORDS: Mapping[Verdict, str] = {
    "not_met": "not met",
    "hand_dig": "to be dug by hand",
    "unknown": "unknown",
    "met": "met",
}


def add_cover(book: Booklet, plan: Plan) -> None:
    """Add the cover.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        What it says.
    """
    flow = Flow(lambda: book.add("what is proposed, and how sure it is"))
    flow.skip(2.0)
    flow.paragraph(" ".join(_story(plan)), Lettering(size_pt=9.5))
    flow.skip(3.0)
    if plan.breaches:
        flow.heading("Rules that the drawn works break")
        for line in breach_lines(plan):
            flow.paragraph(line, Lettering(size_pt=9.0, bold=True))
        flow.skip(3.0)
    if plan.proposal is not None:
        flow.heading("The figures that decide")
        head = (
            Column(title="what", share=1.1),
            Column(title="figure", share=1.7),
            Column(title="how it is known", share=2.9),
        )
        flow.rows(head, list(_figures(plan, plan.proposal)), size_pt=8.0)
        flow.skip(4.0)
    flow.paragraph(
        f"Positions: {position_facts(plan)}. {grid_and_ground(plan)}", Lettering(size_pt=8.0)
    )
    flow.skip(4.0)
    flow.heading("What is uncertain or unknown, and what a reader must know")
    for number, warning in enumerate(plan.warnings, 1):
        flow.paragraph(
            f"{number}. {in_report(warning, plan.site.report_units)}", Lettering(size_pt=8.0)
        )
    if not plan.warnings:
        flow.paragraph("No step gave a warning.", Lettering(size_pt=8.0))


def _story(plan: Plan) -> Iterator[str]:
    system, site = plan.site.report_units, plan.site
    yield f"{site.name}: a lot of {format_area(site.parcel.area, system)} as mapped."
    if plan.proposal is None:
        yield "No place for the basin satisfies the rules; a page says what ground each takes."
        return
    layout, water = plan.proposal.layout, plan.proposal.water
    drawn = [work.replace("_", " ") for work, how in plan.sources.items() if how == "drawn"]
    if drawn:
        yield f"Kept as a person drew them: {', '.join(drawn)}; the rest is worked out round them."
    stored = both(format_liquid, water.stored_m3, system)
    length = both(format_length, layout.length_m, system)
    yield (
        f"Proposed is a buried basin that stores {stored}, and a stream of {length} with "
        f"{len(layout.falls)} falls and {len(layout.pools)} pools. A pump lifts "
        f"{both(format_flow, water.flow_m3s, system)} by "
        f"{both(format_length, water.total_head_m, system)} of head to the spillway."
    )
    moved = plan.proposal.earthwork
    yield (
        f"{both(format_volume, moved.bank_m3, system)} of ground are dug; "
        f"{both(format_volume, moved.haul_m3, system)} loose are hauled away."
    )


def _flow_told(water: Water, system: System) -> str:
    """How the flow is known: by a lip's formula, which is an estimate, or by a pump."""
    flow = water.flow
    if flow.low_m3s == flow.high_m3s:
        return in_report(flow.basis, system)
    low, high = (format_flow(end, system) for end in (flow.low_m3s, flow.high_m3s))
    return f"{low} to {high}, as the lip formula is known"


def _figures(plan: Plan, proposal: Proposal) -> Iterator[ListRow]:
    system = plan.site.report_units
    layout, water, moved = proposal.layout, proposal.water, proposal.earthwork
    yield _row("fall", both(format_length, layout.fall_m, system), _fall_told(plan, system))
    yield _row("flow", both(format_flow, water.flow_m3s, system), _flow_told(water, system))
    yield _row(
        "water kept",
        f"{both(format_liquid, water.usable_m3, system)} usable",
        f"{format_liquid(water.required_m3, system)} needed to run, to stop and to last",
    )
    yield _row(
        "digging",
        f"{both(format_volume, moved.bank_m3, system)} in the bank",
        f"{format_volume(moved.loose_m3, system)} loose; soil taken as {moved.soil}",
    )
    found = Counter(row.verdict for row in plan.clearances)
    told = ", ".join(f"{found[v]} {words}" for v, words in _VERDICT_WORDS.items() if found[v])
    yield _row("clearances", told or "nothing asks for a distance", "see the clearance record")


def _fall_told(plan: Plan, system: System) -> str:
    """Say where the fall lies, and how likely the fall is that is wanted."""
    low_m, high_m = plan.fall_range_m
    if math.isnan(low_m):
        return "the terrain's error is not stated, so the fall's is unknown: take a level on site"
    told = (
        f"95 %: {format_length(low_m, system)} to {format_length(high_m, system)}, "
        "for the terrain's own error"
    )
    if low_m <= 0.0:
        told += "; not certain that there is a fall: take a level on site"
    sure = plan.certainty
    if sure is None or not sure.places:
        return told
    chance = sure.places[0].chance_of_fall
    if math.isnan(chance):
        return f"{told}; the chance of the fall wanted is unknown"
    wanted = format_length(sure.needed_fall_m, system)
    return f"{told}; chance that the ground gives at least {wanted}: {chance_told(chance)}"


def _row(*cells: str) -> ListRow:
    return ListRow(cells=cells)
