"""The places compared: a small map of each, and its marks as bars.

In: a plan. Out: a page of a booklet. Method: all maps to one scale; bars from 0 to 1, longer is
better, the criterion's own words beside them. Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator

from geo_site.plan import Plan
from geo_site.ranking import Ranked
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.lettering import clip_words
from geo_site.sheets.maps import choose_scale, open_map
from geo_site.sheets.paper import GREY, Frame, Lettering, Pen, Sheet
from geo_site.units import format_area, format_length, format_volume

__all__ = ["add_choices"]

_MOST = 3
_MAP_MM = 60.0
_BAR = "#3f7fc1"
_BAR_ROOM = "#e6e2da"
_BAR_MM = 22.0
_ROW_MM = 5.4
_GAP_MM = 6.0
_NO_PLACE = (
    Column(title="rule", share=3.0),
    Column(title="ground that it takes", share=1.0, align="right"),
    Column(title="of that, by it alone", share=1.0, align="right"),
)


def add_choices(book: Booklet, plan: Plan) -> None:
    """Add the comparison, or the rules that leave no place.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        Whose places.
    """
    if not plan.candidates:
        _add_no_place(book, plan)
        return
    shown = plan.candidates[:_MOST]
    sheet, room = book.add("the places compared; the first is the one worked out")
    wide_mm = (room.width_mm - _GAP_MM * (_MOST - 1)) / _MOST
    for number, ranked in enumerate(shown):
        left_mm = room.x_mm + number * (wide_mm + _GAP_MM)
        _draw_choice(sheet, Frame(left_mm, room.y_mm, wide_mm, room.height_mm), plan, ranked)


def _draw_choice(sheet: Sheet, frame: Frame, plan: Plan, ranked: Ranked) -> None:
    small = Frame(frame.x_mm, frame.top_mm - _MAP_MM - 6.0, frame.width_mm, _MAP_MM)
    sheet.words(
        frame.x_mm,
        frame.top_mm - 3.5,
        f"place {ranked.rank}: score {ranked.score:.2f}",
        Lettering(size_pt=9.0, bold=True),
    )
    scale = choose_scale(plan.site.parcel.bounds, small.inset(1.0), plan.site.report_units)
    plot, one = open_map(sheet, small, plan.site.parcel.bounds, scale), ranked.candidate
    for shape in plan.site.structures.geometry:
        plot.geometry(shape, Pen(stroke="", fill="#d8d4cc"))
    plot.geometry(plan.site.parcel, Pen(width_mm=0.3))
    plot.geometry(one.placement.excavation, Pen(stroke="#6b3f17", fill="#d9b27c"))
    plot.geometry(one.placement.footprint, Pen(stroke="#0b2f5b", fill="#3f7fc1"))
    plot.geometry(one.layout.alignment, Pen(stroke="#0b2f5b", width_mm=0.6))
    plot.outline()
    sheet.words(frame.x_mm, small.y_mm - 3.2, scale.told, Lettering(size_pt=6.5, colour=GREY))
    top_mm = small.y_mm - 6.0
    for told in _facts(plan, ranked):
        top_mm = sheet.block(frame.x_mm, top_mm, frame.width_mm, told, Lettering(size_pt=7.5))
    _draw_marks(sheet, Frame(frame.x_mm, frame.y_mm, frame.width_mm, top_mm - frame.y_mm), ranked)


def _facts(plan: Plan, ranked: Ranked) -> Iterator[str]:
    system, one = plan.site.report_units, ranked.candidate
    yield (
        f"fall {format_length(one.layout.fall_m, system)} over "
        f"{format_length(one.layout.length_m, system)}; digging "
        f"{format_volume(one.excavation.bank_m3, system)}; run-on "
        f"{format_area(one.catchment.area_m2, system)}"
    )


def _draw_marks(sheet: Sheet, frame: Frame, ranked: Ranked) -> None:
    y_mm = frame.top_mm - 5.0
    for mark in ranked.marks:
        told = mark.criterion.replace("_", " ")
        sheet.words(frame.x_mm, y_mm, clip_words(told, 24.0, 7.0), Lettering(size_pt=7.0))
        bar = Frame(frame.x_mm + 25.0, y_mm - 0.6, _BAR_MM, 2.8)
        sheet.box(bar, fill=_BAR_ROOM, stroke="")
        sheet.box(Frame(bar.x_mm, bar.y_mm, _BAR_MM * mark.score, 2.8), fill=_BAR, stroke="")
        left_mm = bar.right_mm + 2.0
        words = clip_words(mark.sentence, frame.right_mm - left_mm, 6.5)
        sheet.words(left_mm, y_mm, words, Lettering(size_pt=6.5, colour=GREY))
        y_mm -= _ROW_MM


def _add_no_place(book: Booklet, plan: Plan) -> None:
    flow = Flow(lambda: book.add("no place satisfies the rules: what takes the ground"))
    system = plan.site.report_units
    rows = [
        ListRow(
            cells=(
                row.rule.replace("_", " "),
                format_area(row.ground_m2, system),
                format_area(row.only_this_m2, system),
            )
        )
        for row in plan.no_place
    ]
    flow.rows(_NO_PLACE, rows, size_pt=8.0)
