"""Buried lines: what each asks of a work, from its outer edge.

In: the utility lines and the settings. Out: a row per line. Method: the rule is the wider of our
design separation and the one-call law's tolerance zone; to it comes how far the line may lie
from where it is drawn. Reference: quality levels of ASCE 38-22 and PAS 128:2022.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from geo_site.constraints.results import Requirement
from geo_site.constraints.rules import (
    ALL_WORKS,
    Constraint,
    Demand,
    Question,
    features,
    number,
    word,
)
from geo_site.constraints.settings import ConstraintParameters
from geo_site.site import UTILITY_KINDS

__all__ = ["BuriedLine"]

_CROSSES = "A machine that crosses a buried line: check cover and load."


class BuriedLine(Constraint):
    """Marked and mapped buried lines."""

    reason = "utility"
    works = ALL_WORKS

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each line; a machine may cross it."""
        for line in features(question.site.utilities):
            kind = word(line.kind) if word(line.kind) in UTILITY_KINDS else "unknown"
            if question.work == "machine":
                demand = Demand(
                    rule_m=0.0,
                    half_width_m=(number(line.diameter_m) or 0.0) / 2.0,
                    may_cross=True,
                    notes=(_CROSSES,),
                )
            else:
                demand = _digging(line, kind, question.parameters)
            yield self.row(line, demand, kind=kind)


class _Part(NamedTuple):
    """A length, and what was assumed for it."""

    length_m: float
    notes: tuple[str, ...]


def _digging(line: Any, kind: str, parameters: ConstraintParameters) -> Demand:
    zone = parameters.tolerance_zone
    position, missing = _position(line, parameters), _missing_diameter(line, parameters)
    by_hand = parameters.hand_dig != "never"
    notes = [] if kind != "unknown" else ["Kind unknown: treated as the strictest."]
    if not zone.is_known:
        notes.append(
            "The one-call rule that governs here is not known: "
            f"the widest known zone, {zone.width_in_use_m:.2f} m, shapes the proposal."
        )
    return Demand(
        rule_m=max(parameters.utility_buffer.of(kind), zone.width_in_use_m),
        uncertainty_m=position.length_m + missing.length_m,
        half_width_m=(number(line.diameter_m) or 0.0) / 2.0,
        by_hand_m=parameters.least_hand_dig_distance if by_hand else float("inf"),
        rule_known=zone.is_known and kind != "unknown",
        notes=(*notes, *position.notes, *missing.notes),
    )


def _position(line: Any, parameters: ConstraintParameters) -> _Part:
    shift_m = number(line.shift_accuracy_m) or 0.0
    notes = (f"Datum shift: {shift_m:.2f} m added.",) if shift_m > 0.0 else ()
    stated_m = number(line.uncertainty_m)
    if stated_m is not None:
        return _Part(stated_m + shift_m, (f"Position as stated: {stated_m:.2f} m.", *notes))
    level = word(line.quality_level)
    depth_m = number(line.depth_m)
    told = parameters.position_uncertainty.of(level, float("nan") if depth_m is None else depth_m)
    if told is None:
        assumed_m = parameters.assumed_uncertainty
        note = f"No quality level: position assumed within {assumed_m:.2f} m."
        return _Part(assumed_m + shift_m, (note, *notes))
    return _Part(told + shift_m, (f"{level}: position within {told:.2f} m.", *notes))


def _missing_diameter(line: Any, parameters: ConstraintParameters) -> _Part:
    """Half a diameter that is not told is part of what is uncertain: nothing is drawn for it."""
    if number(line.diameter_m):
        return _Part(0.0, ())
    assumed_m = parameters.assumed_diameter
    note = f"No diameter: {assumed_m:.2f} m assumed, half of it added to the uncertainty."
    return _Part(assumed_m / 2.0, (note,))
