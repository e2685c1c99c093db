"""What an edit changed, in words: a figure before, after, and the difference.

In: an assessed plan. Out: words in the units of the report, for every document alike. Method:
lengths keep one unit and two decimals, so that a row can be subtracted; a distance to a line is
rounded down as everywhere; a change that nobody could see in these words is none. Reference: none.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from geo_site.clearance import rounded_down
from geo_site.plan.results import Change, Plan
from geo_site.units import (
    FOOT_M,
    System,
    format_area,
    format_flow,
    format_liquid,
    format_velocity,
    format_volume,
)

__all__ = ["ToldChange", "told_changes"]

_WET = ("water_", "free_room_")
_FORMATS: Mapping[str, Callable[[float, System], str]] = MappingProxyType(
    {"m2": format_area, "m3/s": format_flow, "m/s": format_velocity}
)


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
    if math.isnan(value):
        return "none"
    if change.unit == "m":
        size = value / FOOT_M if system == "us" else value
        size = rounded_down(size) if change.name.endswith("_to_lines_m") else size
        return f"{size:.2f} {'ft' if system == 'us' else 'm'}"
    if change.unit == "m3":
        return (format_liquid if change.name.startswith(_WET) else format_volume)(value, system)
    if change.unit in _FORMATS:
        return _FORMATS[change.unit](value, system)
    return f"{value:g}" + ("" if change.unit in {"-", ""} else f" {change.unit}")
