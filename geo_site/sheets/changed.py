"""What a person's own drawing breaks, and what it changed: rules in words, figures side by side.

In: an assessed plan. Out: a page of a booklet. Method: breaches first, in plain words; then every
figure before, after and the difference, those that did not change named in one line.
Reference: none.
"""

from __future__ import annotations

from geo_site.plan import Plan, told_changes
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.paper import Lettering
from geo_site.units import in_report

__all__ = ["add_changed", "breach_lines"]

_COLUMNS = (
    Column(title="figure", share=2.0),
    Column(title="before", share=1.0, align="right"),
    Column(title="after", share=1.0, align="right"),
    Column(title="difference", share=1.0, align="right"),
)


def add_changed(book: Booklet, plan: Plan) -> None:
    """Add the page, where works were drawn by a person.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        Judged as drawn, or with nothing drawn: then there is no page.
    """
    if not plan.breaches and not plan.changes:
        return
    flow = Flow(lambda: book.add("as drawn: rules that are broken, and what changed"))
    if plan.conflicts:
        flow.heading("Distances that are not kept")
        flow.paragraph(conflicts_told(plan), Lettering(size_pt=8.5, bold=True))
        flow.skip(2.0)
    flow.heading("Rules that the drawn works break")
    for line in breach_lines(plan) or ("None beside those of the clearance record.",):
        flow.paragraph(line, Lettering(size_pt=8.5, bold=bool(plan.breaches)))
    flow.skip(4.0)
    if plan.changes:
        _add_changes(flow, plan)


def conflicts_told(plan: Plan) -> str:
    """Say which work comes too near to what; the figures stand in the clearance record."""
    named = dict.fromkeys(
        f"{row.work.replace('_', ' ')} to {row.kind.replace('_', ' ')} {row.against}"
        for row in plan.conflicts
    )
    return f"{'; '.join(named)}. Do not dig these works: see the clearance record."


def breach_lines(plan: Plan) -> tuple[str, ...]:
    """Say each broken rule in a line, in the report's units."""
    system = plan.site.report_units
    return tuple(
        f"{number}. {one.work.replace('_', ' ')}: {in_report(one.sentence, system)}"
        for number, one in enumerate(plan.breaches, 1)
    )


def _add_changes(flow: Flow, plan: Plan) -> None:
    seen = told_changes(plan, plan.site.report_units)
    flow.heading("What changed")
    rows = [ListRow(cells=(one.words, one.before, one.after, one.difference)) for one in seen]
    if rows:
        flow.rows(_COLUMNS, rows, size_pt=8.0)
    changed = {one.words for one in seen}
    same = [one.words for one in plan.changes if one.words not in changed]
    if same:
        flow.skip(2.0)
        flow.paragraph(f"Unchanged as far as shown: {', '.join(same)}.", Lettering(size_pt=8.0))
