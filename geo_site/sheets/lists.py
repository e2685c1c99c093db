"""The last pages: quantities, what to check on site, cautions.

In: a plan. Out: pages of a booklet. Method: rows as the plan has them. Reference: none.
"""

from __future__ import annotations

from geo_site.cautions import CAUTIONS
from geo_site.plan import Plan
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.paper import Lettering
from geo_site.sheets.title_facts import both
from geo_site.units import (
    System,
    format_area,
    format_length,
    format_liquid,
    format_mass,
    format_volume,
    in_report,
)

__all__ = ["add_lists"]

_QUANTITIES = (
    Column(title="group", share=0.8),
    Column(title="item", share=1.8),
    Column(title="amount", share=1.0, align="right"),
    Column(title="how it was found", share=3.4),
)
_VISIT = (
    Column(title="subject", share=1.0),
    Column(title="check on site", share=3.0),
    Column(title="why", share=3.0),
)


def add_lists(book: Booklet, plan: Plan) -> None:
    """Add the lists.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        Whose lists.
    """
    if plan.quantities:
        flow = Flow(lambda: book.add("what is moved, bought and placed"))
        flow.rows(_QUANTITIES, [_quantity(plan, number) for number in range(len(plan.quantities))])
    flow = Flow(lambda: book.add("to check on site before anything is dug; cautions"))
    system = plan.site.report_units
    if plan.visit:
        flow.heading("To check on site")
        rows = [
            ListRow(cells=(row.subject, in_report(row.check, system), in_report(row.why, system)))
            for row in plan.visit
        ]
        flow.rows(_VISIT, rows)
        flow.skip(4.0)
    flow.heading("Cautions")
    for subject, told in CAUTIONS:
        flow.paragraph(f"{subject}: {told}", Lettering(size_pt=7.5))


def _quantity(plan: Plan, number: int) -> ListRow:
    row, system = plan.quantities[number], plan.site.report_units
    if row.group == "water" and row.unit == "m3":
        amount = both(format_liquid, row.amount, system)
    else:
        amount = _amount(row.amount, row.unit, system)
    return ListRow(
        cells=(row.group, in_report(row.item, system), amount, in_report(row.note, system))
    )


def _amount(value: float, unit: str, system: System) -> str:
    formats = {"m": format_length, "m2": format_area, "m3": format_volume}
    if unit in formats:
        return both(formats[unit], value, system)
    if unit == "t":
        return both(format_mass, 1000.0 * value, system)
    return f"{value:g}" + ("" if unit == "count" else f" {unit}")
