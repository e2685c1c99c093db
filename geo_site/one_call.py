"""What one-call laws ask, state by state, as data with its source.

Question
    How wide is the zone in which one digs by hand, how long before digging must one ask, and how
    long does a ticket last?
In
    A state, by its two letters or its name.
Out
    A :class:`ZoneRule` and a :class:`TicketRule`, or None where nothing is known.
Method
    Tables. A row says how sure it is: ``read`` in an official text, in a ``transcription``, from
    ``memory``, in ``conflict`` with another source, or ``none`` where the law gives no width.
    Only the first two may clear a line. Laws change: each row has the day on which it was read.
Reference
    In the rows.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

__all__ = [
    "LONGEST_NOTICE_DAYS",
    "TICKET_RULES",
    "WIDEST_ZONE_M",
    "ZONE_RULES",
    "Confidence",
    "TicketRule",
    "ZoneRule",
    "ticket_rule_of",
    "zone_rule_of",
]

Confidence = Literal["read", "transcription", "memory", "conflict", "none"]

_INCH_M = 0.0254
_READ_ON = datetime.date(2026, 11, 25)

WIDEST_ZONE_M = 48.0 * _INCH_M
"""Widest zone of the laws that were read, m (Michigan; a transcription)."""
LONGEST_NOTICE_DAYS = 3
"""Longest notice of the laws that were looked at, working days."""


@dataclass(frozen=True, kw_only=True)
class ZoneRule:
    """Tolerance zone of one state.

    Attributes
    ----------
    state : str
        Two letters.
    name : str
        The state or country.
    width_m : float or None
        On each side, from the line's outer edge, m; None where the law gives none.
    source : str
        Where it was found.
    read_on : datetime.date
        When.
    confidence : {"read", "transcription", "memory", "conflict", "none"}
        How sure it is.
    note : str
        What else there is to know; empty for nothing.
    """

    state: str
    name: str
    width_m: float | None
    source: str
    read_on: datetime.date
    confidence: Confidence
    note: str = ""

    @property
    def may_clear(self) -> bool:
        """Whether a line may be cleared by this row: it was read, and has a width."""
        return self.width_m is not None and self.confidence in {"read", "transcription"}


@dataclass(frozen=True, kw_only=True)
class TicketRule:
    """Notice and life of a ticket in one state; None where that was not read.

    Attributes
    ----------
    state : str
        Two letters.
    notice_days : int or None
        Working days from the request, its own day not counted.
    life_days : int or None
        Days that the ticket or its marks last.
    life_counts : {"working", "calendar"}
        Which days.
    source : str
        Where it was found.
    read_on : datetime.date
        When.
    note : str
        What else there is to know.
    """

    state: str
    notice_days: int | None
    life_days: int | None
    life_counts: Literal["working", "calendar"]
    source: str
    read_on: datetime.date
    note: str = ""


_SAFETY_PAGE = "a utility company's safety page, a transcription"
_CONTRACTOR = "a contractor's page, a transcription"
_COPY = "a secondary copy that names the law, a transcription"
_CENTRE = "the state's one-call centre, quoting the law"
_MEMORY = "from memory"

# state, name, inches, source, confidence, note
_ZONES: tuple[tuple[str, str, float | None, str, Confidence, str], ...] = (
    ("CO", "Colorado", 18, _CENTRE, "read", "from the exterior sides"),
    ("MS", "Mississippi", 18, _CENTRE, "read", ""),
    ("FL", "Florida", 24, _CENTRE, "read", ""),
    ("NM", "New Mexico", 18, _SAFETY_PAGE, "transcription", ""),
    ("SD", "South Dakota", 18, _SAFETY_PAGE, "transcription", ""),
    ("WI", "Wisconsin", 18, _SAFETY_PAGE, "transcription", ""),
    ("MA", "Massachusetts", 18, _SAFETY_PAGE, "transcription", ""),
    ("RI", "Rhode Island", 18, _SAFETY_PAGE, "transcription", ""),
    ("NH", "New Hampshire", 18, _SAFETY_PAGE, "transcription", ""),
    ("ME", "Maine", 18, _SAFETY_PAGE, "transcription", ""),
    ("PA", "Pennsylvania", 18, _COPY, "transcription", ""),
    ("MN", "Minnesota", 24, _COPY, "transcription", ""),
    ("ND", "North Dakota", 24, _COPY, "transcription", ""),
    ("NY", "New York", 24, _COPY, "transcription", ""),
    ("CA", "California", 24, "Government Code 4216, a transcription", "transcription", ""),
    ("VA", "Virginia", 24, _CONTRACTOR, "transcription", ""),
    ("MI", "Michigan", 48, _COPY, "transcription", "the widest found"),
    (
        "TX", "Texas", None, _COPY, "none",
        "the law gives no width; 18 in is recommended practice",
    ),
    (
        "NC", "North Carolina", 30, "a guide says 30 in; G.S. 87-117 from memory says 24 in",
        "conflict", "the wider of the two is drawn",
    ),
    ("AZ", "Arizona", 24, _MEMORY, "memory", ""),
    ("GA", "Georgia", 24, _MEMORY, "memory", ""),
    ("IL", "Illinois", 18, _MEMORY, "memory", ""),
    ("IN", "Indiana", 24, _MEMORY, "memory", ""),
    ("MD", "Maryland", 18, _MEMORY, "memory", ""),
    ("NJ", "New Jersey", 24, _MEMORY, "memory", ""),
    ("OH", "Ohio", 18, _MEMORY, "memory", ""),
    ("OR", "Oregon", 24, _MEMORY, "memory", ""),
    ("SC", "South Carolina", 24, _MEMORY, "memory", ""),
    ("TN", "Tennessee", 24, _MEMORY, "memory", ""),
    ("UT", "Utah", 24, _MEMORY, "memory", ""),
    ("WA", "Washington", 24, _MEMORY, "memory", ""),
)  # fmt: skip

ZONE_RULES: Mapping[str, ZoneRule] = MappingProxyType(
    {
        state: ZoneRule(
            state=state,
            name=name,
            width_m=None if inches is None else inches * _INCH_M,
            source=source,
            read_on=_READ_ON,
            confidence=confidence,
            note=note,
        )
        for state, name, inches, source, confidence, note in _ZONES
    }
)
"""Tolerance zones, by the state's two letters."""

TICKET_RULES: Mapping[str, TicketRule] = MappingProxyType(
    {
        rule.state: rule
        for rule in (
            TicketRule(
                state="AL",
                notice_days=2,
                life_days=20,
                life_counts="working",
                source=_CENTRE,
                read_on=_READ_ON,
                note="renew 2 working days before the end; ask at most 10 before the start",
            ),
            TicketRule(
                state="CO",
                notice_days=None,
                life_days=30,
                life_counts="calendar",
                source=f"{_CENTRE} (an older text)",
                read_on=_READ_ON,
                note="marks must also still be visible",
            ),
        )
    }
)
"""Ticket times that were read, by the state's two letters."""

_NAMES: Mapping[str, str] = MappingProxyType(
    {rule.name.casefold(): state for state, rule in ZONE_RULES.items()} | {"alabama": "AL"}
)


def zone_rule_of(state: str) -> ZoneRule | None:
    """Give the tolerance zone of a state.

    Parameters
    ----------
    state : str
        Two letters or the name, in any case.

    Returns
    -------
    ZoneRule or None
        None where nothing is known of it.

    Examples
    --------
    >>> rule = zone_rule_of("pennsylvania")
    >>> rule.state, round(rule.width_m, 4), zone_rule_of("elsewhere")
    ('PA', 0.4572, None)
    """
    return ZONE_RULES.get(_letters(state))


def ticket_rule_of(state: str) -> TicketRule | None:
    """Give the ticket times of a state.

    Parameters
    ----------
    state : str
        Two letters or the name, in any case.

    Returns
    -------
    TicketRule or None
        None where none were read.

    Examples
    --------
    >>> ticket_rule_of("AL").life_days, ticket_rule_of("PA")
    (20, None)
    """
    return TICKET_RULES.get(_letters(state))


def _letters(state: str) -> str:
    plain = " ".join(state.split()).casefold()
    return _NAMES.get(plain, plain.upper())
