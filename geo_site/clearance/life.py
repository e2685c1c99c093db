"""How long a ticket lasts: as stated, else counted by the state's rule, else unknown.

In: a ticket. Out: its last day and how that was found. Method: the days count from the request
(from the marks made anew, if they were): laws count from the start of work or from the marks, which
is later, so this end is not too late. Reference: ``geo_site.one_call``.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from geo_site.clearance.days import day_of, word_of
from geo_site.one_call import TicketRule, ticket_rule_of
from geo_site.site import Ticket
from geo_site.working_days import add_calendar_days, add_working_days

__all__ = ["TicketEnd", "end_of_ticket"]


@dataclass(frozen=True, kw_only=True)
class TicketEnd:
    """The last day of a ticket.

    Attributes
    ----------
    on : datetime.date or None
        None where it is not known.
    told : str
        How it was found, or why not.
    """

    on: datetime.date | None
    told: str


def end_of_ticket(ticket: Ticket) -> TicketEnd:
    """Give the last day of a ticket.

    Parameters
    ----------
    ticket : Ticket
        As read.

    Returns
    -------
    TicketEnd
        Stated, counted or unknown.
    """
    stated_on = day_of(ticket.valid_until)
    if stated_on is not None:
        return TicketEnd(on=stated_on, told="as stated")
    rule, start = ticket_rule_of(ticket.state), day_of(ticket.requested_on)
    if rule is None or rule.life_days is None:
        where = word_of(ticket.state) or "a state that is not named"
        return TicketEnd(on=None, told=f"not stated, and the rule for {where} was not read")
    if start is None:
        return TicketEnd(on=None, told="neither the last day nor the day of the request is stated")
    first_end_on = _counted(start, rule, rule.life_days, ticket)
    renewed_on = day_of(ticket.refreshed_on)
    if renewed_on is not None and renewed_on > first_end_on:
        return TicketEnd(on=first_end_on, told="the marks were made anew after the ticket ended")
    begins = "request" if renewed_on is None else "marks made anew"
    return TicketEnd(
        on=_counted(renewed_on or start, rule, rule.life_days, ticket),
        told=f"{rule.life_days} {rule.life_counts} days from the {begins} ({rule.source})",
    )


def _counted(start: datetime.date, rule: TicketRule, days: int, ticket: Ticket) -> datetime.date:
    if rule.life_counts == "calendar":
        return add_calendar_days(start, days)
    # Holidays that are not given would only make the ticket last longer.
    return add_working_days(start, days, frozenset(ticket.holidays or ()))
