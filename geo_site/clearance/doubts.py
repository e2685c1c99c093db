"""What keeps a line or a fixture from being vouched for on the day of the plan.

In: a row of the site, its ticket and its private locate. Out: a clause for each missing fact; none
when someone who may vouch for it has done so. Method: everything that is not stated is a doubt,
and so is what contradicts itself. Reference: the practice of one-call law.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Any

from geo_site.clearance.days import day_of, member_key, word_of
from geo_site.clearance.life import end_of_ticket
from geo_site.site import UTILITY_KINDS, Site, Ticket

__all__ = [
    "doubts_about",
    "doubts_about_fixture",
    "doubts_about_private_locate",
    "doubts_about_ticket",
]

_PRIVATE_FIXTURES = frozenset({"lamp_post", "outlet", "switch"})  # past the meter: common practice


def doubts_about(line: Any, site: Site) -> tuple[str, ...]:
    """Say what keeps a marked line from being vouched for on the day of the plan.

    Parameters
    ----------
    line : row of ``Site.utilities``
        With ``id, kind, side, member`` and, where there are such, ``marked_on`` and
        ``quality_level``. Its status plays no part: abandoned lines count as live.
    site : Site
        With the ticket and the private locate.

    Returns
    -------
    tuple of str
        A clause for each missing fact; empty when someone who may vouch for it has done so.
    """
    kind, side, member = word_of(line.kind), word_of(line.side).casefold(), word_of(line.member)
    known = kind in UTILITY_KINDS and kind != "unknown"
    found = () if known else ("what the line carries is unknown",)
    if side == "private":
        private = doubts_about_private_locate(site, "line")
        return (*found, *private, *_late_marks(line, site.ticket))
    if side not in {"", "public"}:
        return (*found, f"the line's side, {side}, is neither public nor private")
    if not side and not member:
        return (*found, "neither the line's side nor its one-call member is stated")
    marks = (*_late_marks(line, site.ticket), *_old_marks(line, site.ticket))
    return (*found, *_public_doubts(site.ticket, member), *marks)


def doubts_about_fixture(fixture: Any, site: Site) -> tuple[str, ...]:
    """Say what keeps a fixture, and what leads to it, from being vouched for.

    Parameters
    ----------
    fixture : row of ``Site.fixtures``
        With ``id, kind``. Nobody says whose it is: every member must have answered. Lamp posts,
        outlets and switches count as private.
    site : Site
        With the ticket and the private locate.

    Returns
    -------
    tuple of str
        A clause for each missing fact.
    """
    kind = word_of(fixture.kind)
    if not kind or kind == "unknown":
        return ("what stands there is unknown", *doubts_about_ticket(site.ticket))
    if kind in _PRIVATE_FIXTURES:
        return doubts_about_private_locate(site, kind.replace("_", " "))
    return doubts_about_ticket(site.ticket)


def doubts_about_private_locate(site: Site, what: str) -> tuple[str, ...]:
    """Say what keeps private lines from being vouched for.

    Parameters
    ----------
    site : Site
        With the private locate and the day of the plan.
    what : str
        What is asked about, as ``line``.

    Returns
    -------
    tuple of str
        A clause for each missing fact.
    """
    locate, as_of = site.private_locate, site.ticket.as_of
    if locate is None:
        told = f"a public ticket does not cover a private {what}, and no private locate is stated"
        return (told,)
    found = _date_doubts("private locate", as_of, locate.on, locate.valid_until)
    return found if word_of(locate.by) else (*found, "who made the private locate is not stated")


def doubts_about_ticket(ticket: Ticket) -> tuple[str, ...]:
    """Say what keeps the ticket as a whole from being complete on the day of the plan.

    Parameters
    ----------
    ticket : Ticket
        As read.

    Returns
    -------
    tuple of str
        A clause for each missing fact.
    """
    found = _paper_doubts(ticket)
    if not word_of(ticket.number):
        return found
    if not ticket.responses:
        return (*found, "no member has answered the ticket")
    waiting = [
        f"{name} answered {answer}"
        for name, answer in ticket.responses.items()
        if answer not in {"marked", "clear"}
    ]
    return (*found, *waiting, *_unheard(ticket))


def _unheard(ticket: Ticket) -> Iterator[str]:
    """Members that were told of the ticket and have not answered."""
    heard = {member_key(name) for name in ticket.responses}
    for name in ticket.members:
        if member_key(name) not in heard:
            yield f"{word_of(name)} has not answered the ticket"


def _public_doubts(ticket: Ticket, member: str) -> tuple[str, ...]:
    found = list(_paper_doubts(ticket))
    if not word_of(ticket.number):
        return tuple(found)
    if not member:
        return (*found, "the line's one-call member is not stated")
    answers = {
        answer
        for name, answer in ticket.responses.items()
        if member_key(name) == member_key(member)
    }
    if not answers:
        found.append(f"{member} has not answered the ticket")
    for answer in sorted(answers - {"marked"}, key=str):
        contrary = ", yet a line of theirs is drawn" if answer == "clear" else ""
        found.append(f"{member} answered {answer}{contrary}")
    return tuple(found)


def _late_marks(line: Any, ticket: Ticket) -> Iterator[str]:
    marked_on, as_of = day_of(getattr(line, "marked_on", None)), day_of(ticket.as_of)
    if marked_on is not None and as_of is not None and marked_on > as_of:
        yield f"its marks of {marked_on.isoformat()} are later than the plan"


def _old_marks(line: Any, ticket: Ticket) -> Iterator[str]:
    """What was drawn before the request may not be what was marked; an exposed line is seen."""
    marked_on, asked_on = day_of(getattr(line, "marked_on", None)), day_of(ticket.requested_on)
    seen = word_of(getattr(line, "quality_level", None)) == "QL-A"
    if marked_on is not None and asked_on is not None and marked_on < asked_on and not seen:
        yield f"it is drawn from marks of {marked_on.isoformat()}, older than the ticket"


def _paper_doubts(ticket: Ticket) -> tuple[str, ...]:
    if not word_of(ticket.number):
        return ("no one-call ticket is stated",)
    end = end_of_ticket(ticket)
    found = _date_doubts("ticket", ticket.as_of, ticket.requested_on, end.on)
    renewed_on, as_of = day_of(ticket.refreshed_on), day_of(ticket.as_of)
    if renewed_on is not None and as_of is not None and renewed_on > as_of:
        told = f"the marks made anew on {renewed_on.isoformat()} are later than the plan"
        return (*found, told)
    return found


def _date_doubts(
    paper: str,
    as_of: datetime.date | None,
    start: datetime.date | None,
    end: datetime.date | None,
) -> tuple[str, ...]:
    today, first, last = day_of(as_of), day_of(start), day_of(end)
    if today is None:
        return ("the day of the plan (ticket.as_of) is not stated",)
    found = []
    if first is None:
        found.append(f"the day of the {paper} is not stated")
    elif first > today:
        found.append(f"the {paper} of {first.isoformat()} is later than the plan")
    if last is None:
        found.append(f"the last day of the {paper} is not stated")
    elif last < today:
        found.append(f"the {paper} ended on {last.isoformat()}")
    return tuple(found)
