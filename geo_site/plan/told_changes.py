"""What an edit changed, in words: a figure before, after, and the difference.

In: an assessed plan. Out: words in the units of the report, for every document alike. Method: a
change that nobody could see in these words is none. Reference: none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geo_site.plan.results import Change, Plan
from geo_site.plan.told_figures import told_figure
from geo_site.units import System

__all__ = ["ToldChange", "told_changes"]


@dataclass(frozen=True, kw_only=True)
class ToldChange:
    """A change in words.

    Attributes
    ----------
    words : str
        Name of the figure.
    before, after : str
        With their unit; ``none`` where one of both does not have it.
    difference : str
        With its sign; empty where one is missing.
    """

    words: str
    before: str
    after: str
    difference: str


def told_changes(plan: Plan, system: System) -> tuple[ToldChange, ...]:
    """Say the changes that can be seen.

    Parameters
    ----------
    plan : Plan
        Assessed.
    system : {"si", "us"}
        Units of the report.

    Returns
    -------
    tuple of ToldChange
        In the plan's order; those whose figures read alike before and after are left out.
    """
    told = (_told(change, system) for change in plan.changes if change.difference != 0.0)
    return tuple(one for one in told if one.before != one.after)


def _told(change: Change, system: System) -> ToldChange:
    difference = ""
    if not math.isnan(change.difference):
        sign = "+" if change.difference > 0.0 else "-"
        difference = sign + _figure(change, abs(change.difference), system)
    return ToldChange(
        words=change.words,
        before=_figure(change, change.before, system),
        after=_figure(change, change.after, system),
        difference=difference,
    )


def _figure(change: Change, value: float, system: System) -> str:
    return told_figure(change.name, change.unit, value, system)
