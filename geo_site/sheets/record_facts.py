"""Ticket, rules, lines and chances of the clearance record.

In: a plan. Out: blocks of the record's pages. Method: facts as stated, what is assumed as assumed,
what is missing as missing. Reference: none.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator

from geo_site.clearance import LineFacts, Strike
from geo_site.plan import Plan
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.paper import Lettering
from geo_site.units import System, format_length, in_report

__all__ = ["add_asked_for", "add_exposures", "add_lines", "add_strikes", "add_ticket"]

_SMALL = Lettering(size_pt=8.0)
_MISSING_FILL = "#e3e4e6"
_MEMBERS = (
    Column(title="member", share=1.4),
    Column(title="answer", share=0.8),
    Column(title="its lines here", share=1.6),
    Column(title="what is missing", share=3.2),
)
_LINES = (
    Column(title="line", share=1.0),
    Column(title="kind", share=1.2),
    Column(title="whose", share=1.3),
    Column(title="marked", share=1.2),
    Column(title="size", share=0.7, align="right"),
    Column(title="how well its place is known", share=2.6),
    Column(title="asked from its edge", share=0.9, align="right"),
    Column(title="by hand within", share=0.9, align="right"),
    Column(title="assumed, missing, expected", share=4.0),
)
_STRIKES = (
    Column(title="digging", share=1.2),
    Column(title="line", share=1.2),
    Column(title="distance as drawn", share=1.2, align="right"),
    Column(title="position, one sigma", share=1.2, align="right"),
    Column(title="chance that it is met", share=1.6, align="right"),
    Column(title="how found", share=1.8),
)
_EXPOSED = (
    Column(title="work", share=1.2),
    Column(title="line", share=1.2),
    Column(title="asked before", share=1.0, align="right"),
    Column(title="found before", share=1.0, align="right"),
    Column(title="verdict before", share=1.0),
    Column(title="asked as exposed", share=1.1, align="right"),
    Column(title="found as exposed", share=1.1, align="right"),
    Column(title="verdict as exposed", share=1.1),
)


def add_ticket(flow: Flow, plan: Plan) -> None:
    """Add the ticket, its members' answers, and the rules in use.

    Parameters
    ----------
    flow : Flow
        Where to.
    plan : Plan
        Whose ticket.
    """
    ticket = plan.record.ticket
    flow.heading("Ticket")
    for told in _ticket_words(plan):
        flow.paragraph(told, _SMALL)
    if ticket.answers:
        flow.skip(1.0)
        rows = [
            ListRow(
                cells=(one.member, one.answer, ", ".join(one.lines), one.missing),
                fill=_MISSING_FILL if one.missing else "",
            )
            for one in ticket.answers
        ]
        flow.rows(_MEMBERS, rows, size_pt=7.5)
    flow.skip(2.5)
    flow.heading("Rules used")
    for told in _rule_words(plan):
        flow.paragraph(told, _SMALL)
    flow.skip(2.5)


def _ticket_words(plan: Plan) -> Iterator[str]:
    ticket = plan.record.ticket
    yield (
        f"Number {ticket.number or 'not given'}; state {ticket.state or 'not stated'}; requested "
        f"{_day(ticket.requested_on)}; marks refreshed {_day(ticket.refreshed_on)}; this record "
        f"is as of {_day(ticket.as_of)}."
    )
    yield f"Last day: {_day(ticket.valid_until)}. {_sentence(ticket.valid_until_told)}"
    day = ticket.earliest_dig_on
    earliest = f"{day.isoformat()}. " if day else ""
    yield f"Earliest day of digging: {earliest}{_sentence(ticket.earliest_dig_told)}"
    if ticket.missing:
        yield f"Missing: {'; '.join(ticket.missing)}."
    if ticket.private_missing:
        yield f"For private lines, missing: {'; '.join(ticket.private_missing)}."


def _rule_words(plan: Plan) -> Iterator[str]:
    zone, system = plan.record.ticket.zone, plan.site.report_units
    state = "may clear a line" if zone.is_known else "is drawn only and clears nothing"
    yield (
        f"Tolerance zone {format_length(zone.width_m, system)} from a line's outer edge; it "
        f"{state}. {in_report(_sentence(zone.note), system)}"
    )
    yield (
        "Asked of a work is the wider of that zone and our design separation by kind, and the "
        "uncertainty of the line's position. Distances are in plan; depth is never a clearance."
    )


def add_lines(flow: Flow, plan: Plan) -> None:
    """Add what is known of each line.

    Parameters
    ----------
    flow : Flow
        Where to.
    plan : Plan
        Whose lines.
    """
    if not plan.record.lines:
        return
    system = plan.site.report_units
    rows = [_line_row(line, system) for line in plan.record.lines]
    flow.rows(_LINES, rows, size_pt=6.5)


def _line_row(line: LineFacts, system: System) -> ListRow:
    whose = ", ".join(word for word in (line.member, line.owner, line.side, line.status) if word)
    marked = ", ".join(word for word in (line.marked_by, _day(line.marked_on, none="")) if word)
    level = f"{line.quality_level}: {line.level_meaning}" if line.quality_level else "no level"
    size = line.assumed_diameter_m if math.isnan(line.diameter_m) else line.diameter_m
    assumed = "~" if math.isnan(line.diameter_m) else ""
    told = [one.removesuffix(".") for one in line.assumed]
    told += [f"missing: {clause}" for clause in line.missing]
    if line.expected_cover_told:
        told.append(f"expected, never a clearance: {line.expected_cover_told}")
    return ListRow(
        cells=(
            line.line_id,
            line.kind.replace("_", " "),
            whose or "not told",
            marked or "not told",
            assumed + format_length(size, system),
            f"{in_report(level.rstrip('.'), system)}; "
            f"within {format_length(line.position_m, system)} "
            f"({_whence(line.position_basis, line.position_source)})",
            format_length(line.required_m, system),
            format_length(line.hand_dig_half_width_m, system),
            in_report("; ".join(told), system),
        ),
        fill=_MISSING_FILL if line.missing else "",
    )


def _whence(basis: str, source: str) -> str:
    """Say how a figure is known, once: many a source says it itself."""
    says_it = basis in source or (basis == "assumed" and "assumption" in source)
    return source if says_it else f"{basis}, {source}"


def add_strikes(flow: Flow, plan: Plan) -> None:
    """Add the chances that digging meets a line.

    Parameters
    ----------
    flow : Flow
        Where to.
    plan : Plan
        Whose chances.
    """
    flow.heading("Chance that digging meets a line, for all nearer than three sigmas")
    strikes, system = plan.record.strikes, plan.site.report_units
    if not strikes:
        flow.paragraph("No digging comes that near to a line as drawn.", _SMALL)
    else:
        flow.rows(_STRIKES, [_strike_row(one, system) for one in strikes], size_pt=7.5)
    flow.paragraph(
        "The chance speaks of the drawn line's position only: a line that nobody drew is not in "
        "it. It is no leave to dig by machine.",
        _SMALL,
    )
    flow.skip(2.5)


def _strike_row(one: Strike, system: System) -> ListRow:
    chance = f"{100.0 * one.probability:.2g} %" if one.probability >= 1e-6 else "under 0.0001 %"
    if one.method == "sampled":
        chance += f" (+-{100.0 * one.standard_error:.1g} %)"
    how = one.method if one.method == "closed form" else f"{one.samples} samples"
    return ListRow(
        cells=(
            one.work.replace("_", " "),
            one.line_id,
            format_length(one.distance_m, system),
            format_length(one.sigma_m, system),
            chance,
            how,
        )
    )


def add_exposures(flow: Flow, plan: Plan) -> None:
    """Add what laying lines bare has changed.

    Parameters
    ----------
    flow : Flow
        Where to.
    plan : Plan
        Whose lines; nothing is added where none was exposed.
    """
    record, system = plan.record, plan.site.report_units
    if not record.exposures:
        return
    flow.heading("As exposed")
    for one in record.exposures:
        flow.paragraph(
            f"{one.point_id}: line {one.line_id} seen by {one.exposed_by or 'nobody named'} on "
            f"{_day(one.exposed_on)}, {format_length(one.off_m, system)} from where it was drawn, "
            f"cover {format_length(one.depth_m, system)}.",
            _SMALL,
        )
    rows = [
        ListRow(
            cells=(
                one.work.replace("_", " "),
                one.line_id,
                format_length(one.required_before_m, system),
                format_length(one.clearance_before_m, system),
                one.verdict_before.replace("_", " "),
                format_length(one.required_after_m, system),
                format_length(one.clearance_after_m, system),
                one.verdict_after.replace("_", " "),
            )
        )
        for one in record.before_after
    ]
    flow.rows(_EXPOSED, rows, size_pt=7.5)
    flow.skip(2.5)


def add_asked_for(flow: Flow, plan: Plan) -> None:
    """Add the private things to ask the owner for.

    Parameters
    ----------
    flow : Flow
        Where to.
    plan : Plan
        Whose lot.
    """
    if not plan.record.asked_for:
        return
    flow.heading("Ask the owner: private lines that a public ticket does not mark")
    for one in plan.record.asked_for:
        perhaps = f" (perhaps drawn as {', '.join(one.perhaps)})" if one.perhaps else ""
        flow.paragraph(f"[   ] {one.what}{perhaps}", _SMALL)
    flow.skip(2.5)


def _day(day: datetime.date | None, none: str = "not stated") -> str:
    return day.isoformat() if day else none


def _sentence(words: str) -> str:
    """Begin with a capital and end with a full stop."""
    if not words:
        return ""
    told = words[0].upper() + words[1:]
    return told if told.endswith(".") else f"{told}."
