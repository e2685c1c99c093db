"""What keeps a line or a fixture from being vouched for on the day of the plan.

In: a row of the site, its ticket and its private locate. Out: a clause for each missing fact; none
when someone who may vouch for it has done so. Method: everything that is not stated is a doubt,
and so is what contradicts itself. Reference: the practice of one-call law.
"""

from __future__ import annotations

import datetime
from typing import Any

from geo_site.site import UTILITY_KINDS, PrivateLocate, Site, Ticket

__all__ = ["doubts_about", "doubts_about_fixture", "doubts_about_ticket", "member_key"]

_PRIVATE_FIXTURES = frozenset({"lamp_post", "outlet"})  # past the meter: common practice


def doubts_about(line: Any, site: Site) -> tuple[str, ...]:
    """Say what keeps a marked line from being vouched for on the day of the plan.

    Parameters
    ----------
    line : row of ``Site.utilities``
        With ``id, kind, side, member``. Its status plays no part: abandoned lines count as live.
    site : Site
        With the ticket and the private locate.

    Returns
    -------
    tuple of str
        A clause for each missing fact; empty when someone who may vouch for it has done so.
    """
    kind, side, member = _word(line.kind), _word(line.side).casefold(), _word(line.member)
    known = kind in UTILITY_KINDS and kind != "unknown"
    found = () if known else ("what the line carries is unknown",)
    if side == "private":
        return (*found, *_private_doubts(site.private_locate, site.ticket.as_of, "line"))
    if side not in {"", "public"}:
        return (*found, f"the line's side, {side}, is neither public nor private")
    if not side and not member:
        return (*found, "neither the line's side nor its one-call member is stated")
    return (*found, *_public_doubts(site.ticket, member))


def doubts_about_fixture(fixture: Any, site: Site) -> tuple[str, ...]:
    """Say what keeps a fixture, and what leads to it, from being vouched for.

    Parameters
    ----------
    fixture : row of ``Site.fixtures``
        With ``id, kind``. Nobody says whose it is: every member must have answered. Lamp posts
        and outlets count as private.
    site : Site
        With the ticket and the private locate.

    Returns
    -------
    tuple of str
        A clause for each missing fact.
    """
    kind = _word(fixture.kind)
    if not kind or kind == "unknown":
        return ("what stands there is unknown", *doubts_about_ticket(site.ticket))
    if kind in _PRIVATE_FIXTURES:
        what = kind.replace("_", " ")
        return _private_doubts(site.private_locate, site.ticket.as_of, what)
    return doubts_about_ticket(site.ticket)


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
    if not _word(ticket.number):
        return found
    if not ticket.responses:
        return (*found, "no member has answered the ticket")
    waiting = [
        f"{name} answered {answer}"
        for name, answer in ticket.responses.items()
        if answer not in {"marked", "clear"}
    ]
    return (*found, *waiting)


def member_key(name: object) -> str:
    """Give a member's name as names are compared: case and spaces at its ends aside.

    Parameters
    ----------
    name : object
        As written; anything but text is no name.

    Returns
    -------
    str
        Empty for no name.

    Examples
    --------
    >>> member_key(" Gas ") == member_key("gas"), member_key("Gas 2") == member_key("Gas")
    (True, False)
    """
    return _word(name).casefold()


def _private_doubts(
    locate: PrivateLocate | None, as_of: datetime.date | None, what: str
) -> tuple[str, ...]:
    if locate is None:
        told = f"a public ticket does not cover a private {what}, and no private locate is stated"
        return (told,)
    found = _date_doubts("private locate", as_of, locate.on, locate.valid_until)
    return found if _word(locate.by) else (*found, "who made the private locate is not stated")


def _public_doubts(ticket: Ticket, member: str) -> tuple[str, ...]:
    found = list(_paper_doubts(ticket))
    if not _word(ticket.number):
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


def _paper_doubts(ticket: Ticket) -> tuple[str, ...]:
    if not _word(ticket.number):
        return ("no one-call ticket is stated",)
    return _date_doubts("ticket", ticket.as_of, ticket.requested_on, ticket.valid_until)


def _date_doubts(
    paper: str,
    as_of: datetime.date | None,
    start: datetime.date | None,
    end: datetime.date | None,
) -> tuple[str, ...]:
    today, first, last = _day(as_of), _day(start), _day(end)
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


def _day(value: datetime.date | None) -> datetime.date | None:
    """Read a day; a missing date of a table is not equal to itself."""
    if not isinstance(value, datetime.date) or value != value:  # noqa: PLR0124
        return None
    return value.date() if isinstance(value, datetime.datetime) else value


def _word(value: object) -> str:
    return value.strip() if isinstance(value, str) else ""
