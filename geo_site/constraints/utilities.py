"""Buried lines: what each asks of a work, from its outer edge.

In: the utility lines and the settings. Out: a row per line. Method: the rule is the wider of our
design separation and the one-call law's tolerance zone; to it comes how far the line may lie
from where it is drawn. Reference: quality levels of ASCE 38-22 and PAS 128:2022.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from geo_site.constraints.position import position_of
from geo_site.constraints.results import Requirement
from geo_site.constraints.rules import (
    ALL_WORKS,
    Constraint,
    Demand,
    Question,
    number,
    word,
)
from geo_site.constraints.settings import ConstraintParameters
from geo_site.constraints.tolerance import ZoneInUse, zone_in_use
from geo_site.locate_quality import EXPECTED_COVERS
from geo_site.site import UTILITY_KINDS

__all__ = ["BuriedLine"]

_CROSSES = "A machine that crosses a buried line: check cover and load."


class BuriedLine(Constraint):
    """Marked and mapped buried lines."""

    reason = "utility"
    works = ALL_WORKS

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each line; a machine may cross it."""
        zone = zone_in_use(question.site.ticket.state, question.parameters.tolerance_zone)
        for line in question.site.objects["utilities"]:
            kind = word(line.kind) if word(line.kind) in UTILITY_KINDS else "unknown"
            if question.work == "machine":
                demand = Demand(
                    rule_m=0.0,
                    half_width_m=(number(line.diameter_m) or 0.0) / 2.0,
                    may_cross=True,
                    notes=(_CROSSES, *_expected(kind)),
                )
            else:
                demand = _digging(line, kind, question.parameters, zone)
            yield self.row(line, demand, kind=kind)


class _Part(NamedTuple):
    """A length, and what was assumed for it."""

    length_m: float
    notes: tuple[str, ...]


def _digging(line: Any, kind: str, parameters: ConstraintParameters, zone: ZoneInUse) -> Demand:
    position, missing = position_of(line, parameters), _missing_diameter(line, parameters)
    by_hand = parameters.hand_dig != "never"
    notes = [] if kind != "unknown" else ["Kind unknown: treated as the strictest."]
    notes += [zone.note] if zone.note else []
    uncertainty_m = position.uncertainty_m + missing.length_m
    return Demand(
        rule_m=max(parameters.utility_buffer.of(kind), zone.width_m),
        uncertainty_m=uncertainty_m,
        half_width_m=(number(line.diameter_m) or 0.0) / 2.0,
        by_hand_m=parameters.least_hand_dig_distance if by_hand else float("inf"),
        rule_known=zone.is_known and kind != "unknown",
        hand_dig_within_m=zone.width_m + uncertainty_m,
        notes=(*notes, *position.notes, *missing.notes, *_expected(kind)),
    )


def _missing_diameter(line: Any, parameters: ConstraintParameters) -> _Part:
    """Half a diameter that is not told is part of what is uncertain: nothing is drawn for it."""
    if number(line.diameter_m):
        return _Part(0.0, ())
    assumed_m = parameters.assumed_diameter
    note = f"No diameter: {assumed_m:.2f} m assumed, half of it added to the uncertainty."
    return _Part(assumed_m / 2.0, (note,))


def _expected(kind: str) -> tuple[str, ...]:
    cover = EXPECTED_COVERS.get(kind)
    if cover is None:
        return ()
    return (f"Cover as laid by rule ({cover.told}; {cover.source}): expected, never a clearance.",)
