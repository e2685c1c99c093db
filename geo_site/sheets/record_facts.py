"""Ticket, rules and lines of the clearance record.

In: a plan. Out: blocks of the record's first pages. Method: facts as stated, what is missing as
missing. Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator

from geo_site.plan import Plan
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.paper import Lettering

__all__ = ["add_line_facts", "add_ticket"]

_RESPONSES = (Column(title="member", share=2.0), Column(title="response", share=2.0))


def add_ticket(flow: Flow, plan: Plan) -> None:
    """Add the ticket, its responses, and the private locate.

    Parameters
    ----------
    flow : Flow
        Where to.
    plan : Plan
        Whose ticket.
    """
    flow.heading("Ticket")
    for told in _ticket_words(plan):
        flow.paragraph(told, Lettering(size_pt=8.0))
    responses = plan.site.ticket.responses
    if responses:
        flow.skip(1.0)
        flow.rows(_RESPONSES, [ListRow(cells=(m, r)) for m, r in responses.items()], size_pt=7.5)
    flow.skip(2.0)


def _ticket_words(plan: Plan) -> Iterator[str]:
    ticket = plan.site.ticket
    yield f"Number: {ticket.number or 'none given'}. State: {ticket.state or 'not stated'}."


def add_line_facts(flow: Flow, plan: Plan) -> None:
    """Add what is known of each line.

    Parameters
    ----------
    flow : Flow
        Where to.
    plan : Plan
        Whose lines.
    """
