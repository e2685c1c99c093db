"""What an edit changed, as CSV and for a narrow terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from geo_site.plan import told_changes
from geo_site.tables.lists import write_rows
from geo_site.units import counted, in_report

if TYPE_CHECKING:
    from geo_site.plan import Plan, ToldChange

__all__ = ["drawn_lines", "relaxed_lines", "write_changes"]

_WIDTH = 60
_COLUMNS = ("figure", "unit", "before", "after", "difference")
_MOST_BREACHES, _MOST_CHANGES = 6, 8


def write_changes(plan: Plan, path: str | Path) -> Path:
    """Write one row per figure before and after an edit, SI.

    Parameters
    ----------
    plan : Plan
        An assessed plan with changes.
    path : str or Path
        Target.

    Returns
    -------
    Path
        The target. A figure that one of both does not have is an empty cell.
    """
    rows = (
        (c.name, "" if c.unit == "-" else c.unit, c.before, c.after, c.difference)
        for c in plan.changes
    )
    return write_rows(Path(path), _COLUMNS, rows)


def drawn_lines(plan: Plan) -> Iterator[str]:
    """Say what drawn works break and change.

    Parameters
    ----------
    plan : Plan
        Where nothing is drawn, nothing is said.

    Yields
    ------
    str
        At most 60 characters.
    """
    system = plan.site.report_units
    drawn = [work.replace("_", " ") for work, source in plan.sources.items() if source == "drawn"]
    if drawn:
        yield from _wrapped(f"kept as drawn: {', '.join(drawn)}")
    for breach in plan.breaches[:_MOST_BREACHES]:
        yield from _wrapped(f"breaks a rule: {in_report(breach.sentence, system)}")
    if len(plan.breaches) > _MOST_BREACHES:
        yield f"and {len(plan.breaches) - _MOST_BREACHES} more in plan.json"
    changed = sorted(told_changes(plan, system), key=_of_clearances, reverse=True)
    if plan.changes and not changed:
        yield "nothing has changed that these figures show"
    for one in changed[:_MOST_CHANGES]:
        yield from _wrapped(f"{one.words}: {one.before} to {one.after}")
    left = len(changed) - _MOST_CHANGES
    if left > 0:
        yield f"and {counted(left, 'more change')} in changes.csv"


def relaxed_lines(plan: Plan) -> Iterator[str]:
    """Say which smaller rules would open a place, where there is none.

    Parameters
    ----------
    plan : Plan
        Where there is a place, nothing is said.

    Yields
    ------
    str
        At most 60 characters.
    """
    for row in plan.relaxations[:_MOST_BREACHES]:
        yield from _wrapped(in_report(row.sentence, plan.site.report_units))
    if len(plan.relaxations) > _MOST_BREACHES:
        yield f"and {len(plan.relaxations) - _MOST_BREACHES} more in plan.json"


def _wrapped(words: str) -> Iterator[str]:
    plain = "".join(mark for mark in words if mark.isprintable())
    yield from textwrap.wrap(plain, _WIDTH, subsequent_indent="  ")


def _of_clearances(change: ToldChange) -> bool:
    """Whether a change says how near a work comes: what a reader must see first."""
    return change.words.startswith("clearances") or change.words.endswith("to lines")
