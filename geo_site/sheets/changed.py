"""What a person's own drawing breaks, and what it changed: rules in words, figures side by side.

In: an assessed plan. Out: a page of a booklet. Method: breaches first, in plain words; then every
figure before, after and the difference, those that did not change named in one line.
Reference: none.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

from geo_site.plan import Change, Plan
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.paper import Lettering
from geo_site.units import (
    FOOT_M,
    System,
    format_area,
    format_flow,
    format_liquid,
    format_velocity,
    format_volume,
    in_report,
)

__all__ = ["add_changed", "breach_lines"]

_COLUMNS = (
    Column(title="figure", share=2.0),
    Column(title="before", share=1.0, align="right"),
    Column(title="after", share=1.0, align="right"),
    Column(title="difference", share=1.0, align="right"),
)
_WET = ("water", "free room")
_FORMATS: Mapping[str, Callable[[float, System], str]] = MappingProxyType(
    {"m2": format_area, "m3/s": format_flow, "m/s": format_velocity}
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
    flow.heading("Rules that the drawn works break")
    for line in breach_lines(plan) or ("None beside those of the clearance record.",):
        flow.paragraph(line, Lettering(size_pt=8.5, bold=bool(plan.breaches)))
    flow.skip(4.0)
    if plan.changes:
        _add_changes(flow, plan)


def breach_lines(plan: Plan) -> tuple[str, ...]:
    """Say each broken rule in a line, in the report's units."""
    system = plan.site.report_units
    return tuple(
        f"{number}. {one.work.replace('_', ' ')}: {in_report(one.sentence, system)}"
        for number, one in enumerate(plan.breaches, 1)
    )


def _add_changes(flow: Flow, plan: Plan) -> None:
    system = plan.site.report_units
    changed = [one for one in plan.changes if one.difference != 0.0]
    flow.heading("What changed")
    if changed:
        flow.rows(_COLUMNS, [_row(one, system) for one in changed], size_pt=8.0)
    same = [one.words for one in plan.changes if one.difference == 0.0]
    if same:
        flow.skip(2.0)
        flow.paragraph(f"Unchanged: {', '.join(same)}.", Lettering(size_pt=8.0))


def _row(one: Change, system: System) -> ListRow:
    def told(value: float, *, signed: bool = False) -> str:
        if math.isnan(value):
            return "none"
        words = _told(value, one, system)
        return f"+{words}" if signed and value > 0.0 else words

    difference = told(one.difference, signed=True) if not math.isnan(one.difference) else ""
    return ListRow(cells=(one.words, told(one.before), told(one.after), difference))


def _told(value: float, one: Change, system: System) -> str:
    """Write a figure; lengths always in one unit, so that a row can be subtracted."""
    if one.unit == "m":
        return f"{value / FOOT_M:.2f} ft" if system == "us" else f"{value:.2f} m"
    if one.unit == "m3":
        wet = any(word in one.words for word in _WET)
        return format_liquid(value, system) if wet else format_volume(value, system)
    if one.unit in _FORMATS:
        return _FORMATS[one.unit](value, system)
    return f"{value:g}" + ("" if one.unit in ("-", "") else f" {one.unit}")
