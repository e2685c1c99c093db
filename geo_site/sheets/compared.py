"""Whole plans side by side: what each place gives and takes, without weights.

In: a plan with alternatives. Out: a page of a booklet. Method: a row for each respect, a column
for each plan, the best of a row marked; then what each is best at. Reference: none.
"""

from __future__ import annotations

from geo_site.plan import RESPECTS, Alternative, Plan, Respect
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.paper import Lettering
from geo_site.units import System, format_area, format_length, format_volume

__all__ = ["add_compared"]

_FORMATS = {"m": format_length, "m2": format_area, "m3": format_volume}


def add_compared(book: Booklet, plan: Plan) -> None:
    """Add the comparison, where there are alternatives.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        With its alternatives.
    """
    if not plan.compared:
        return
    flow = Flow(lambda: book.add("whole plans side by side; * is best of its row"))
    head = Column(title="in this respect", share=2.0)
    plans = [
        Column(title=f"plan {one.number}: place {one.rank}", share=1.0, align="right")
        for one in plan.compared
    ]
    shown = [respect for respect in RESPECTS if _differ(respect, plan.compared)]
    rows = [_row(respect, plan.compared, plan.site.report_units) for respect in shown]
    flow.rows((head, *plans), rows, size_pt=8.0)
    flow.skip(4.0)
    for one in plan.compared:
        told = f"Plan {one.number}, place {one.rank}: {one.sentence}."
        flow.paragraph(told, Lettering(size_pt=9.0, bold=not one.dominated_by))
    flow.skip(2.0)
    note = (
        "Respects in which they are alike are left out. No weights are used here: a plan that is "
        "best at nothing can be left, which of the others is wanted is for people to say. The "
        "other pages show plan 1; plan.gpkg holds all of them (field alternative)."
    )
    flow.paragraph(note, Lettering(size_pt=8.0))


def _differ(respect: Respect, plans: tuple[Alternative, ...]) -> bool:
    values = {one.values.get(respect.name) for one in plans}
    return len(values) > 1


def _row(respect: Respect, plans: tuple[Alternative, ...], system: System) -> ListRow:
    cells = []
    for one in plans:
        value = one.values.get(respect.name)
        mark = " *" if respect.name in one.best_at else ""
        cells.append("unknown" if value is None else f"{_told(respect, value, system)}{mark}")
    return ListRow(cells=(respect.words, *cells))


def _told(respect: Respect, value: float, system: System) -> str:
    if respect.unit in _FORMATS:
        return _FORMATS[respect.unit](value, system)
    return f"{value:.0f}" if respect.name.endswith("_count") else f"{value:.2f}"
