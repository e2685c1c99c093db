"""The clearance record: what was marked, how near each work comes, what is not cleared, who signs.

In: a plan. Out: ``clearance.pdf``. Method: conflicts first, then what is unknown, then what is dug
by hand, then the rest; every row has a number that stands on the map too. Nothing is judged here:
verdicts and reasons are those of the clearance step. Reference: none.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from pathlib import Path
from types import MappingProxyType

from shapely import box, union_all

from geo_site.cautions import CAUTIONS
from geo_site.clearance import Clearance, Verdict, rounded_down, rounded_up
from geo_site.plan import Plan
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.labels import Label
from geo_site.sheets.lettering import line_height_mm, wrap_words
from geo_site.sheets.paper import INK, PAPERS, Frame, Lettering, Pen
from geo_site.sheets.plots import draw_key
from geo_site.sheets.record_facts import (
    add_asked_for,
    add_exposures,
    add_lines,
    add_strikes,
    add_ticket,
)
from geo_site.sheets.site_map import (
    SiteMap,
    context_key,
    draw_context,
    draw_layers,
    finish_site_map,
    open_site_map,
    spots_along,
)
from geo_site.sheets.title_facts import day_and_revision, subject_of
from geo_site.units import System, in_report

__all__ = ["NumberedRow", "numbered_rows", "record_book", "write_clearance_pdf"]

_ORDER: Mapping[Verdict, int] = MappingProxyType(
    {"not_met": 0, "unknown": 1, "hand_dig": 2, "met": 3}
)
_WORDS: Mapping[Verdict, str] = MappingProxyType(
    {
        "not_met": "NOT MET",
        "unknown": "UNKNOWN",
        "hand_dig": "by hand",
        "met": "met",
    }
)
_FILLS: Mapping[Verdict, str] = MappingProxyType(
    {"not_met": "#f3d3dd", "unknown": "#e3e4e6", "hand_dig": "#fbe7c6", "met": ""}
)
_DIGGING_WORKS = frozenset({"basin", "basin_excavation", "stream", "pipe", "silt_fence", "swale"})
_MOST_MET_ON_MAP, _NOTE_LINES = 12, 2
_MAP_LAYERS = (
    "basin_excavation",
    "basin",
    "stream_bed",
    "spoil_pile",
    "silt_fence",
    "pipe_run",
    "machine_route",
    "hand_dig_ground",
    "dig_area",
    "utility_lines",
    "parcel",
)
_MARGIN_M, _NEAR_M = 2.0, 15.0
_KEY_MM = 46.0
_ROWS = (
    Column(title="no.", share=0.5),
    Column(title="work", share=1.2),
    Column(title="against", share=1.2),
    Column(title="kind", share=1.2),
    Column(title="rule", share=0.8, align="right"),
    Column(title="position", share=0.8, align="right"),
    Column(title="asked", share=0.8, align="right"),
    Column(title="found", share=0.8, align="right"),
    Column(title="verdict", share=0.9),
    Column(title="digging", share=1.3),
    Column(title="why", share=3.6),
)
_SIGN = (
    Column(title="line or object", share=1.4),
    Column(title="kind", share=1.2),
    Column(title="nearest row", share=0.8),
    Column(title="exposed at (where, by tape)", share=2.6),
    Column(title="depth to top", share=1.1),
    Column(title="size found", share=1.0),
    Column(title="by, day", share=1.6),
)


class NumberedRow:
    """One clearance with its number in the record.

    Parameters
    ----------
    number : int
        As in ``clearance.csv``.
    row : Clearance
        What was found.
    """

    def __init__(self, number: int, row: Clearance) -> None:
        self.number, self.row = number, row


def numbered_rows(plan: Plan) -> tuple[NumberedRow, ...]:
    """Put the clearances of a plan in order, the gravest first, the nearest among equals.

    Parameters
    ----------
    plan : Plan
        With its clearances.

    Returns
    -------
    tuple of NumberedRow
        Every clearance once.
    """
    rows = sorted(
        plan.clearances,
        key=lambda r: (_ORDER[r.verdict], r.clearance_m - r.required_m, r.work, r.against),
    )
    return tuple(NumberedRow(row.number, row) for row in rows)


def write_clearance_pdf(plan: Plan, path: str | Path) -> Path:
    """Write the clearance record.

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
    record_book(plan).write(target)
    return target


def record_book(plan: Plan) -> Booklet:
    """Draw the record's sheets.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.

    Returns
    -------
    Booklet
        Not yet written.
    """
    book = Booklet(
        "clearance record",
        f"{plan.site.name}\n{day_and_revision(plan)}",
        PAPERS["letter" if plan.site.report_units == "us" else "a4"],
        subject=subject_of(plan, "clearance record"),
        day=plan.site.ticket.as_of,
    )
    numbered = numbered_rows(plan)
    _add_findings(book, plan, numbered)
    if plan.proposal is not None:
        _add_map(book, plan, numbered)
    _add_lines(book, plan)
    _add_rows(book, plan, numbered)
    _add_sign_off(book, plan, numbered)
    return book


def _add_findings(book: Booklet, plan: Plan, numbered: Sequence[NumberedRow]) -> None:
    flow = Flow(lambda: book.add("what is cleared, and what is not"))
    flow.skip(1.5)
    flow.paragraph(_verdict_story(plan), Lettering(size_pt=9.0, bold=True))
    flow.skip(2.0)
    for verdict, title in (
        ("not_met", "Conflicts: nearer than the rule allows"),
        ("unknown", "Not cleared: facts are missing"),
        ("hand_dig", "To be dug by hand"),
    ):
        told = list(_grouped(numbered, verdict, plan.site.report_units))
        if told:
            flow.heading(title)
            for line in told:
                flow.paragraph(line, Lettering(size_pt=8.0))
            flow.skip(2.0)
    add_ticket(flow, plan)
    add_asked_for(flow, plan)


def _verdict_story(plan: Plan) -> str:
    if not plan.clearances and plan.proposal is None:
        return "No place was found, so no work is judged here."
    found = Counter(row.verdict for row in plan.clearances)
    told = ", ".join(f"{found[v]} {_WORDS[v].lower()}" for v in _ORDER if found[v])
    story = f"{len(plan.clearances)} distances were judged: {told or 'none'}."
    if found["not_met"]:
        return f"{story} The works as drawn break a rule: do not dig them."
    if found["unknown"]:
        return f"{story} Nothing is cleared whose facts are missing."
    return f"{story} Marks are approximate: the tolerance zone is dug by hand."


def _grouped(numbered: Sequence[NumberedRow], verdict: str, system: System) -> Iterator[str]:
    """One sentence for each object, with the rows in which it stands."""
    of_object: dict[tuple[str, str], list[NumberedRow]] = {}
    for one in numbered:
        if one.row.verdict == verdict:
            of_object.setdefault((one.row.against, one.row.kind), []).append(one)
    for (against, kind), rows in of_object.items():
        numbers = ", ".join(str(one.number) for one in rows)
        works = ", ".join(dict.fromkeys(one.row.work.replace("_", " ") for one in rows))
        near = min((one.row for one in rows), key=lambda row: row.clearance_m - row.required_m)
        found = _distance(near.clearance_m, system, up=False)
        asked = _distance(near.required_m, system, up=True)
        yield (
            f"{against} ({kind.replace('_', ' ')}): {works}, row {numbers}. Nearest to its limit "
            f"{found} found, {asked} asked: {in_report(near.why, system)}"
        )


def _add_map(book: Booklet, plan: Plan, numbered: Sequence[NumberedRow]) -> None:
    sheet, room = book.add("map of the works: numbers are the rows of the list")
    note_mm = _NOTE_LINES * line_height_mm(6.5) + 1.0
    map_mm = room.width_mm - _KEY_MM - 3.0
    frame = Frame(room.x_mm, room.y_mm, map_mm, room.height_mm - note_mm)
    shown = [one for one in numbered if one.row.verdict != "met"]
    shown += [one for one in numbered if one.row.verdict == "met"][:_MOST_MET_ON_MAP]
    one_map = open_site_map(sheet, frame, plan, _map_bounds(plan, shown))
    names = list(draw_context(one_map, plan))
    entries = [*draw_layers(one_map, plan, _MAP_LAYERS), *context_key(plan)]
    labels = [_draw_connector(one_map, one) for one in shown]
    lines = plan.site.utilities
    for name, line in zip(lines["id"], lines.geometry, strict=True):
        for x_m, y_m in islice(spots_along(line, one_map), 1):
            names.append(Label(x=x_m, y=y_m, words=str(name)))
    left_out = finish_site_map(one_map, plan, [*labels, *names])
    told = _map_note([label.words for label in left_out if label in labels], room.width_mm)
    sheet.block(room.x_mm, room.top_mm, room.width_mm, told, Lettering(size_pt=6.5))
    key = Frame(frame.right_mm + 3.0, room.y_mm, _KEY_MM, frame.height_mm)
    draw_key(sheet, key, entries, size_pt=7.0)


def _map_bounds(plan: Plan, shown: Sequence[NumberedRow]) -> tuple[float, float, float, float]:
    """Give what the map shows: all digging, and what the near rows reach to."""
    around = box(*plan.dig_area.bounds).buffer(4.0, join_style="mitre")
    near = [one.row.connector for one in shown if one.row.clearance_m < _NEAR_M]
    west, south, east, north = union_all([around, *near]).bounds
    return west - _MARGIN_M, south - _MARGIN_M, east + _MARGIN_M, north + _MARGIN_M


def _draw_connector(one_map: SiteMap, one: NumberedRow) -> Label:
    """Draw the shortest way of a row, and give its number."""
    pen = Pen(width_mm=0.5 if one.row.verdict == "not_met" else 0.25)
    one_map.plot.geometry(one.row.connector, pen)
    x, y = one.row.connector.coords[-1]
    one_map.plot.mark(x, y, "circle", 0.8, Pen(stroke="", fill=INK))
    spot = one.row.connector.interpolate(0.5, normalized=True)
    return Label(x=spot.x, y=spot.y, words=str(one.number), bold=True)


def _map_note(left_out: Sequence[str], room_mm: float) -> str:
    """Say what the map's lines are, and which rows have no number on it."""
    told = "Numbers are the rows of the list; a thick line breaks its rule."
    if not left_out:
        return told
    every = f"{told} Not on this map: rows {', '.join(left_out)}."
    if len(wrap_words(every, room_mm, 6.5)) <= _NOTE_LINES:
        return every
    return f"{told} {len(left_out)} more rows are not on this map: the list has all of them."


def _add_lines(book: Booklet, plan: Plan) -> None:
    """Add what is known of the lines, what was exposed, and the chances."""
    flow = Flow(lambda: book.add("what is known of each buried line"))
    if not plan.record.lines:
        flow.paragraph("No buried line was given.", Lettering(size_pt=8.0))
    add_lines(flow, plan)
    flow.skip(3.0)
    add_exposures(flow, plan)
    if plan.proposal is not None:
        add_strikes(flow, plan)


def _add_rows(book: Booklet, plan: Plan, numbered: Sequence[NumberedRow]) -> None:
    flow = Flow(lambda: book.add("every work against everything that asks for a distance"))
    system = plan.site.report_units
    flow.rows(_ROWS, [_row(one, system) for one in numbered], size_pt=6.5)


def _row(one: NumberedRow, system: System) -> ListRow:
    row = one.row
    others = f" ({row.stands_for} of its kind, this the nearest)" if row.stands_for > 1 else ""
    return ListRow(
        cells=(
            str(one.number),
            row.work.replace("_", " "),
            row.against + others,
            row.kind.replace("_", " "),
            _distance(row.rule_m, system, up=True),
            _distance(row.uncertainty_m, system, up=True),
            _distance(row.required_m, system, up=True),
            _distance(row.clearance_m, system, up=False),
            _WORDS[row.verdict],
            row.method_of_digging or ("" if row.work in _DIGGING_WORKS else "no digging"),
            "" if row.verdict == "met" else in_report(row.why, system),
        ),
        fill=_FILLS[row.verdict],
        bold=row.verdict == "not_met",
    )


def _distance(value_m: float, system: System, *, up: bool) -> str:
    """Print a distance so that a short one never looks long enough."""
    unit_m, unit = (0.3048, "ft") if system == "us" else (1.0, "m")
    rounded = rounded_up(value_m / unit_m) if up else rounded_down(value_m / unit_m)
    return f"{rounded:.2f} {unit}"


def _add_sign_off(book: Booklet, plan: Plan, numbered: Sequence[NumberedRow]) -> None:
    flow = Flow(lambda: book.add("to be filled in on site by the person who verifies"))
    flow.paragraph(
        "Each line is exposed by hand or vacuum before a machine works near it. What is found is "
        "written here; a line that is not where it was marked stops the work.",
        Lettering(size_pt=8.0),
    )
    flow.skip(1.5)
    nearest: dict[tuple[str, str], int] = {}
    buried = frozenset(str(name) for name in plan.site.utilities["id"])
    for one in sorted(numbered, key=lambda n: n.row.clearance_m):
        if one.row.against in buried and one.row.work in _DIGGING_WORKS:
            nearest.setdefault((one.row.against, one.row.kind), one.number)
    blank = [
        ListRow(cells=(against, kind.replace("_", " "), str(number), "\n\n", "", "", ""))
        for (against, kind), number in nearest.items()
    ]
    flow.rows(_SIGN, blank, size_pt=7.5)
    flow.skip(6.0)
    flow.need(34.0)
    flow.heading("Verified on site")
    for told in (
        "name and licence",
        "signature",
        "day and hour",
        "ticket checked, all responses in",
    ):
        flow.skip(7.0)
        sheet, x_mm = flow.sheet, flow.room.x_mm
        sheet.words(x_mm, flow.top_mm, told, Lettering(size_pt=8.0))
        sheet.line([x_mm + 52.0, x_mm + 150.0], [flow.top_mm - 0.8] * 2, 0.2)
    flow.skip(6.0)
    flow.heading("Cautions")
    for subject, caution in CAUTIONS:
        flow.paragraph(f"{subject}: {caution}", Lettering(size_pt=7.0))
