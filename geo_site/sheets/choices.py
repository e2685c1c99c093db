"""The places compared: a small map of each, and its marks as bars.

In: a plan. Out: a page of a booklet. Method: all maps to one scale; bars from 0 to 1, longer is
better, the criterion's own words beside them. Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator

from shapely import union_all

from geo_site.plan import Plan
from geo_site.ranking import Ranked
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.lettering import clip_words, wrap_words
from geo_site.sheets.maps import choose_scale, open_map
from geo_site.sheets.paper import GREY, Frame, Lettering, Pen, Sheet
from geo_site.units import System, format_area, format_length, format_volume, in_report

__all__ = ["add_choices"]

_MOST, _ACROSS = 6, 3
_MAP_SHARE = 0.42  # of a place's height on the page
_BAR = "#3f7fc1"
_BAR_ROOM = "#e6e2da"
_NAME_MM, _BAR_MM = 17.0, 16.0
_ROW_MM, _GAP_MM = 6.2, 6.0
_WORDS_PT = 6.0
_ROUND_M = 4.0
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
    note = (
        "Thin dashes: marked lines. Score: the weighted mean of the marks; a full bar is the best "
        f"mark there is. {_left_out(plan)}"
    )
    small = Lettering(size_pt=7.0, colour=GREY)
    sheet.words(room.x_mm, room.y_mm + 0.6, clip_words(note, room.width_mm, 7.0), small)
    room = Frame(room.x_mm, room.y_mm + 5.0, room.width_mm, room.height_mm - 5.0)
    rows = -(-len(shown) // _ACROSS)
    wide_mm = (room.width_mm - _GAP_MM * (_ACROSS - 1)) / _ACROSS
    high_mm = (room.height_mm - 4.0 * (rows - 1)) / rows
    for number, ranked in enumerate(shown):
        down, across = divmod(number, _ACROSS)
        left_mm = room.x_mm + across * (wide_mm + _GAP_MM)
        low_mm = room.top_mm - high_mm - down * (high_mm + 4.0)
        _draw_choice(sheet, Frame(left_mm, low_mm, wide_mm, high_mm), plan, ranked)


def _left_out(plan: Plan) -> str:
    more = len(plan.candidates) - _MOST
    return f"{more} more are in plan.gpkg." if more > 0 else ""


def _draw_choice(sheet: Sheet, frame: Frame, plan: Plan, ranked: Ranked) -> None:
    most_mm = frame.height_mm - 12.0 - _ROW_MM * len(ranked.marks)
    map_mm = max(min(_MAP_SHARE * frame.height_mm, most_mm), 18.0)
    small = Frame(frame.x_mm, frame.top_mm - map_mm - 5.5, frame.width_mm, map_mm)
    sheet.words(
        frame.x_mm,
        frame.top_mm - 3.5,
        f"place {ranked.rank}: score {ranked.score:.2f}",
        Lettering(size_pt=9.0, bold=True),
    )
    bounds = _around(plan)
    scale = choose_scale(bounds, small.inset(1.0), plan.site.report_units)
    plot, one = open_map(sheet, small, bounds, scale), ranked.candidate
    for shape in plan.site.structures.geometry:
        plot.geometry(shape, Pen(stroke="", fill="#d8d4cc"))
    plot.geometry(plan.site.parcel, Pen(width_mm=0.3))
    for shape in plan.site.utilities.geometry:
        plot.geometry(shape, Pen(stroke=GREY, width_mm=0.25, dash_mm=(1.5, 0.8)))
    plot.geometry(one.placement.excavation, Pen(stroke="#6b3f17", fill="#d9b27c"))
    plot.geometry(one.placement.footprint, Pen(stroke="#0b2f5b", fill="#3f7fc1"))
    plot.geometry(one.layout.alignment, Pen(stroke="#0b2f5b", width_mm=0.6))
    plot.outline()
    right = Lettering(size_pt=6.5, colour=GREY, align="right")
    sheet.words(frame.right_mm, frame.top_mm - 3.5, scale.told, right)
    top_mm = small.y_mm - 0.8
    for told in _facts(plan, ranked):
        top_mm = sheet.block(frame.x_mm, top_mm, frame.width_mm, told, Lettering(size_pt=7.5))
    below = Frame(frame.x_mm, frame.y_mm, frame.width_mm, top_mm - frame.y_mm)
    _draw_marks(sheet, below, ranked, plan.site.report_units)


def _around(plan: Plan) -> tuple[float, float, float, float]:
    """Give what every small map shows: all places and a little of the lot round them."""
    shown = [ranked.candidate for ranked in plan.candidates[:_MOST]]
    shapes = [one.placement.excavation for one in shown] + [one.layout.alignment for one in shown]
    west, south, east, north = union_all(shapes).bounds
    return west - _ROUND_M, south - _ROUND_M, east + _ROUND_M, north + _ROUND_M


def _facts(plan: Plan, ranked: Ranked) -> Iterator[str]:
    system, one = plan.site.report_units, ranked.candidate
    yield (
        f"fall {format_length(one.layout.fall_m, system)} over "
        f"{format_length(one.layout.length_m, system)}; digging "
        f"{format_volume(one.excavation.bank_m3, system)}; run-on "
        f"{format_area(one.catchment.area_m2, system)}"
    )


def _draw_marks(sheet: Sheet, frame: Frame, ranked: Ranked, system: System) -> None:
    """Draw each mark as a bar with its words, over two lines where one is too short."""
    row_mm = min(_ROW_MM, (frame.height_mm - 1.0) / max(len(ranked.marks), 1))
    y_mm = frame.top_mm - 4.2
    for mark in ranked.marks:
        told = clip_words(mark.criterion.replace("_", " "), _NAME_MM - 1.0, 7.0)
        sheet.words(frame.x_mm, y_mm, told, Lettering(size_pt=7.0))
        bar = Frame(frame.x_mm + _NAME_MM, y_mm - 0.6, _BAR_MM, 2.8)
        sheet.box(bar, fill=_BAR_ROOM, stroke="")
        sheet.box(Frame(bar.x_mm, bar.y_mm, _BAR_MM * mark.score, 2.8), fill=_BAR, stroke="")
        left_mm = bar.right_mm + 2.0
        _draw_words(
            sheet, left_mm, y_mm, frame.right_mm - left_mm, in_report(mark.sentence, system)
        )
        y_mm -= row_mm


def _draw_words(sheet: Sheet, x_mm: float, y_mm: float, room_mm: float, words: str) -> None:
    small = Lettering(size_pt=_WORDS_PT, colour=GREY)
    first, *more = wrap_words(words, room_mm, _WORDS_PT)
    if not more:
        sheet.words(x_mm, y_mm, first, small)
        return
    sheet.words(x_mm, y_mm + 1.3, first, small)
    sheet.words(x_mm, y_mm - 1.1, clip_words(" ".join(more), room_mm, _WORDS_PT), small)


def _add_no_place(book: Booklet, plan: Plan) -> None:
    flow = Flow(lambda: book.add("no place satisfies the rules: what takes the ground"))
    system = plan.site.report_units
    rows = [
        ListRow(
            cells=(
                in_report(row.rule.replace("_", " "), system),
                format_area(row.ground_m2, system),
                format_area(row.only_this_m2, system),
            )
        )
        for row in plan.no_place
    ]
    flow.rows(_NO_PLACE, rows, size_pt=8.0)
    if plan.relaxations:
        flow.heading("What would open a place, and what is not to be weakened")
    for row in plan.relaxations:
        flow.paragraph(in_report(row.sentence, system), Lettering(size_pt=8.5))
