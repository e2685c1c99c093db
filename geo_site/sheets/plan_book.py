"""The plan as a PDF: cover, site plan, sections, places compared, water, earth, lists, cautions.

In: a plan. Out: ``plan.pdf``. Method: one function a page, in the order in which they are read;
paper by the units of the reports (letter or tabloid, A4 or A3), the larger where the lot would be
drawn smaller than 1:300. Reference: none.
"""

from __future__ import annotations

from pathlib import Path

from geo_site.plan import Plan
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.changed import add_changed
from geo_site.sheets.choices import add_choices
from geo_site.sheets.compared import add_compared
from geo_site.sheets.cover import add_cover
from geo_site.sheets.cross_sections import add_cross_sections
from geo_site.sheets.lists import add_lists
from geo_site.sheets.long_section import add_long_section
from geo_site.sheets.maps import choose_scale
from geo_site.sheets.paper import PAPERS, Frame, Paper
from geo_site.sheets.sureness import add_sureness
from geo_site.sheets.themes import add_site_plan, add_themes
from geo_site.sheets.title_facts import day_and_revision, position_facts, subject_of

__all__ = ["plan_book", "write_plan_pdf"]

_SMALLEST_RATIO = 300.0
_FURNITURE_MM = (90.0, 60.0)  # strip, foot, margins and legend beside a map
_SIZES = {"us": ("letter", "tabloid"), "si": ("a4", "a3")}


def write_plan_pdf(plan: Plan, path: str | Path) -> Path:
    """Write the plan as a PDF.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.
    path : str or Path
        The file.

    Returns
    -------
    Path
        The file.
    """
    target = Path(path)
    plan_book(plan).write(target)
    return target


def plan_book(plan: Plan) -> Booklet:
    """Draw the plan's sheets.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.

    Returns
    -------
    Booklet
        Not yet written.
    """
    note = f"{day_and_revision(plan)}\n{position_facts(plan)}"
    book = Booklet(
        plan.site.name,
        note,
        _paper(plan),
        subject=subject_of(plan, "plan of a recirculating stream"),
        day=plan.site.ticket.as_of,
    )
    add_cover(book, plan)
    add_changed(book, plan)
    add_site_plan(book, plan)
    if plan.proposal is not None:
        add_long_section(book, plan, plan.proposal)
        add_cross_sections(book, plan, plan.proposal)
    add_sureness(book, plan)
    add_choices(book, plan)
    add_compared(book, plan)
    add_themes(book, plan)
    add_lists(book, plan)
    return book


def _paper(plan: Plan) -> Paper:
    small, large = (PAPERS[name] for name in _SIZES[plan.site.report_units])
    room = Frame(0.0, 0.0, small.width_mm - _FURNITURE_MM[0], small.height_mm - _FURNITURE_MM[1])
    scale = choose_scale(plan.site.parcel.bounds, room, plan.site.report_units)
    return small if scale.ratio <= _SMALLEST_RATIO else large
