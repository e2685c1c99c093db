"""What the one-call ticket says and does not say.

In: the ticket, the lines and the settings. Out: a :class:`TicketReport`. Method: the law's notice
and life are counted in working days where the state's rule was read; what is not known gives no
date, with the reason. The notice's days must have passed whole: digging may begin on the day after
the last of them. Reference: ``geo_site.one_call``.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass

from geo_site.clearance.days import day_of, member_key, word_of
from geo_site.clearance.doubts import doubts_about_private_locate, doubts_about_ticket
from geo_site.clearance.life import end_of_ticket
from geo_site.constraints import ConstraintParameters, ZoneInUse, zone_in_use
from geo_site.one_call import LONGEST_NOTICE_DAYS, TicketRule, ticket_rule_of
from geo_site.site import Site, Ticket
from geo_site.working_days import add_working_days

__all__ = ["MemberAnswer", "TicketReport", "report_ticket"]

_ONE_DAY = datetime.timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class MemberAnswer:
    """What one member of the one-call centre said.

    Attributes
    ----------
    member : str
        Its name as written.
    answer : str
        ``marked``, ``clear``, ``pending``, or ``none`` where it has not answered.
    lines : tuple of str
        Ids of its lines that are drawn.
    missing : str
        What is wrong with the answer; empty for nothing.
    """

    member: str
    answer: str
    lines: tuple[str, ...]
    missing: str


@dataclass(frozen=True, kw_only=True)
class TicketReport:
    """The ticket, its law, and what is missing.

    Attributes
    ----------
    number, state : str
        As written.
    as_of, requested_on, refreshed_on : datetime.date or None
        As written.
    zone : ZoneInUse
        The tolerance zone that is used, with the state's row, its source and day.
    rule : TicketRule or None
        Notice and life of tickets in the state; None where none was read.
    valid_until : datetime.date or None
        Last day, as stated or counted; None where neither can be said.
    valid_until_told : str
        How it was found, or why not.
    notice_ends_on : datetime.date or None
        Last day of the law's notice; None where the rule was not read or holidays are not given.
    earliest_dig_on : datetime.date or None
        First day on which digging may begin: after the notice, with every answer in.
    earliest_dig_told : str
        How it was found, or why not, with the longest notice known.
    answers : tuple of MemberAnswer
        Of every member told, answering or named by a line.
    missing : tuple of str
        What keeps the ticket from being complete, a clause each.
    private_missing : tuple of str
        What keeps private lines from being vouched for, a clause each.
    """

    number: str
    state: str
    as_of: datetime.date | None
    requested_on: datetime.date | None
    refreshed_on: datetime.date | None
    zone: ZoneInUse
    rule: TicketRule | None
    valid_until: datetime.date | None
    valid_until_told: str
    notice_ends_on: datetime.date | None
    earliest_dig_on: datetime.date | None
    earliest_dig_told: str
    answers: tuple[MemberAnswer, ...]
    missing: tuple[str, ...]
    private_missing: tuple[str, ...]


def report_ticket(site: Site, parameters: ConstraintParameters) -> TicketReport:
    """Report what the ticket says and does not say.

    Parameters
    ----------
    site : Site
        With ticket, private locate and lines.
    parameters : ConstraintParameters
        With the tolerance zone stated, if it is.

    Returns
    -------
    TicketReport
        No date that is not known.
    """
    ticket = site.ticket
    answers = tuple(_answers(site))
    missing = tuple(dict.fromkeys((*doubts_about_ticket(ticket), *_wrong(answers))))
    end = end_of_ticket(ticket)
    notice_ends_on, earliest_on, told = _earliest(ticket, missing)
    return TicketReport(
        number=word_of(ticket.number),
        state=word_of(ticket.state),
        as_of=day_of(ticket.as_of),
        requested_on=day_of(ticket.requested_on),
        refreshed_on=day_of(ticket.refreshed_on),
        zone=zone_in_use(ticket.state, parameters.tolerance_zone),
        rule=ticket_rule_of(ticket.state),
        valid_until=end.on,
        valid_until_told=end.told,
        notice_ends_on=notice_ends_on,
        earliest_dig_on=earliest_on,
        earliest_dig_told=told,
        answers=answers,
        missing=missing,
        private_missing=doubts_about_private_locate(site, "line"),
    )


def _answers(site: Site) -> Iterator[MemberAnswer]:
    ticket = site.ticket
    names = (*ticket.members, *ticket.responses, *site.utilities["member"])
    named = {member_key(name): word_of(name) for name in reversed(names) if member_key(name)}
    for key in dict.fromkeys(member_key(name) for name in names if member_key(name)):
        given = {answer for name, answer in ticket.responses.items() if member_key(name) == key}
        answer = " and ".join(sorted(str(one) for one in given)) or "none"
        lines = tuple(
            str(line.id) for line in site.rows["utilities"] if member_key(line.member) == key
        )
        yield MemberAnswer(
            member=named[key], answer=answer, lines=lines, missing=_fault(answer, lines)
        )


def _fault(answer: str, lines: tuple[str, ...]) -> str:
    if answer == "none":
        return "has not answered the ticket"
    if answer == "clear":
        return "answered clear, yet a line of theirs is drawn" if lines else ""
    if answer == "marked":
        return "" if lines else "answered marked, yet no line of theirs is drawn"
    return f"answered {answer}"


def _wrong(answers: tuple[MemberAnswer, ...]) -> Iterator[str]:
    for one in answers:
        if one.missing:
            yield f"{one.member} {one.missing}"


def _earliest(
    ticket: Ticket, missing: tuple[str, ...]
) -> tuple[datetime.date | None, datetime.date | None, str]:
    """Give the end of the notice, the first day to dig, and how they were found."""
    requested_on, rule = day_of(ticket.requested_on), ticket_rule_of(ticket.state)
    if requested_on is None:
        return None, None, "unknown: the day of the request is not stated"
    if rule is None or rule.notice_days is None:
        where = word_of(ticket.state) or "a state that is not named"
        return None, None, f"unknown: the notice for {where} was not read; {_longest(ticket)}"
    if ticket.holidays is None:
        why = "unknown: the holidays are not given, so working days cannot be counted"
        return None, None, f"{why}; {_longest(ticket)}"
    ends_on = add_working_days(requested_on, rule.notice_days, frozenset(ticket.holidays))
    first_on = ends_on + _ONE_DAY
    told = f"{rule.notice_days} whole working days after the request ({rule.source})"
    if missing:
        why = f"unknown: {'; '.join(missing)}"
        return ends_on, None, f"{why}; by the notice alone not before {first_on.isoformat()}"
    return ends_on, first_on, told


def _longest(ticket: Ticket) -> str:
    requested_on = day_of(ticket.requested_on)
    assert requested_on is not None
    holidays = frozenset(ticket.holidays or ())
    ends_on = add_working_days(requested_on, LONGEST_NOTICE_DAYS, holidays)
    besides = "" if ticket.holidays is not None else ", later with holidays"
    return (
        f"by the longest notice known, {LONGEST_NOTICE_DAYS} working days, not before "
        f"{(ends_on + _ONE_DAY).isoformat()}{besides}"
    )
