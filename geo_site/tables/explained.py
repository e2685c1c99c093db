"""What every rule says of a spot, for a terminal and as plain data."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from geo_site.tables.plain import numbers_of
from geo_site.units import System, counted, format_area, format_length, in_report

if TYPE_CHECKING:
    from geo_site.plan import Explanation
    from geo_site.plan.explaining import RuleHere

__all__ = ["explanation_document", "explanation_lines"]

_RULES_SHOWN = 3


def explanation_document(explanation: Explanation) -> dict[str, Any]:
    """Give an explanation as plain data, SI; what is not known is None."""
    return numbers_of(explanation)


def explanation_lines(
    explanation: Explanation, system: System
) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Say it for a reader: a head and its lines.

    Parameters
    ----------
    explanation : Explanation
        Of a spot.
    system : {"us", "si"}
        How lengths are told.

    Yields
    ------
    tuple of (str, tuple of str)
        What it is about, and the facts.
    """
    yield "the ground", tuple(_facts(explanation, system))
    for work in explanation.works:
        shown = [rule for rule in work.rules if rule.blocks or _is_nearer(rule)]
        shown = shown or list(work.rules[:1])
        told = tuple(_rule(rule, work.work, system) for rule in shown[:_RULES_SHOWN])
        more = len(shown) - _RULES_SHOWN
        tail = (f"and {counted(more, 'more rule')}",) if more > 0 else ()
        yield f"{work.work}: {_GROUND[work.ground]}", (*told, *tail)
    yield "a basin with its middle here", tuple(_basin(explanation, system))


_GROUND = {"open": "may be here", "hand_dig": "may be dug here by hand only", "blocked": "no"}


def _facts(explanation: Explanation, system: System) -> Iterator[str]:
    if math.isnan(explanation.ground_level_m):
        yield "its level is not known"
        return
    yield f"level {format_length(explanation.ground_level_m, system)}"
    yield f"slope {100.0 * explanation.slope:.0f} %"
    yield f"{format_area(explanation.drains_m2, system)} of ground drain through it"
    if explanation.standing_m > 0.0:
        depth = format_length(explanation.standing_m, system)
        yield f"a low place: water stands {depth} deep before it spills"


def _is_nearer(rule: RuleHere) -> bool:
    """Whether the spot is nearer than asked, be it barred or not."""
    return not math.isnan(rule.asked_m) and rule.distance_m < rule.asked_m


def _rule(rule: RuleHere, work: str, system: System) -> str:
    name = rule.rule.replace("_", " ") + (f" {rule.against}" if rule.against else "")
    if rule.rule == "outside_parcel":
        return f"outside the lot {rule.against}".rstrip()
    if math.isnan(rule.asked_m) or (rule.blocks and rule.distance_m <= 0.0):
        return f"{name}: this spot lies in it"
    distance, asked = (format_length(m, system) for m in (rule.distance_m, rule.asked_m))
    if work == "machine" and rule.rule == "utility":
        return f"{name}: {distance} away; where a machine crosses it, cover and load are not known"
    if rule.blocks:
        return f"{name}: {distance} away, nearer than the {asked} asked"
    if _is_nearer(rule):
        return (
            f"{name}: {distance} away, nearer than the {asked} asked; not barred, but not cleared"
        )
    return f"{name}: {distance} away, keeps the {asked} asked"


def _basin(explanation: Explanation, system: System) -> Iterator[str]:
    if explanation.basin_fits:
        yield f"fits, its long side {explanation.basin_rotation_deg:.0f} degrees from east"
    else:
        yield "does not fit in any rotation"
    if explanation.nearest_rank:
        away = format_length(explanation.nearest_m, system)
        yield f"place {explanation.nearest_rank} is {away} to the {explanation.nearest_way}"
        yield f"of it: {in_report(explanation.nearest_reason, system)}"
    else:
        yield "no place was found on this lot"
