"""What is wrong with a plan in a few words, and what a person's drawing broke and changed.

In: a plan. Out: sentences and rows of words. Method: as the plan has them; figures that an edit
left alone are left out. Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from geo_site.plan import told_changes
from geo_site.units import in_report
from geo_site.webmap.plain_words import phrase

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["alerts", "breaches", "changes"]


def alerts(plan: Plan) -> Iterator[str]:
    """Say what must not be overlooked.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.

    Yields
    ------
    str
        Sentences, the gravest first; none where nothing is wrong and nothing unknown.
    """
    conflicts = len(plan.conflicts)
    unknown = sum(row.verdict == "unknown" for row in plan.clearances)
    if conflicts:
        yield f"Clearances not met: {conflicts}. Do not dig the works as they are here."
    if plan.breaches:
        yield f"Rules that the drawn works break: {len(plan.breaches)}."
    if plan.proposal is not None and plan.proposal.water.is_refused:
        yield "The stream cannot carry its flow as laid out."
    if unknown:
        yield f"Clearances unknown: {unknown}. Nothing is cleared by them."


def breaches(plan: Plan) -> list[list[str]]:
    """Give the rules that drawn works break: work, against, what would be right."""
    system = plan.site.report_units
    return [
        [phrase(row.work), row.against, in_report(row.sentence, system)] for row in plan.breaches
    ]


def changes(plan: Plan) -> list[list[str]]:
    """Give the figures that an edit changed: words, before, after."""
    seen = told_changes(plan, plan.site.report_units)
    return [[one.words, one.before, one.after] for one in seen]
