"""Separations that another code asks: electricity and sewers near water, a boom near a wire.

In: outlets, switches, points of power, sewers and overhead lines. Out: a row per object. Method:
the rows are advisory: who knows the code decides whether it applies, so they take no ground and
what is nearer than asked is ``unknown``. Reference: the settings carry each source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from geo_site.constraints.objects import wire_distance
from geo_site.constraints.position import position_of
from geo_site.constraints.results import Requirement
from geo_site.constraints.rules import Constraint, Demand, Question, number, word

__all__ = ["BoomNearWire", "ElectricalNearWater", "SewerNearWater"]

_ELECTRICIAN = "A licensed electrician decides which part of the code applies."


class BoomNearWire(Constraint):
    """Overhead lines that the boom may reach from the machine's way."""

    reason = "boom"
    works = frozenset({"machine"})

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each overhead line."""
        reach_m = question.parameters.separation.boom_reach
        for line in question.site.objects["overhead"]:
            wire = wire_distance(line, question.parameters)
            height_m = number(line.height_m)
            notes = [f"Boom reaches {reach_m:.2f} m beyond the track.", *wire.notes]
            if height_m is not None:
                notes.append(f"Wire at {height_m:.2f} m as told: height is no clearance.")
            demand = Demand(
                rule_m=wire.rule_m + reach_m,
                rule_known=wire.rule_known,
                advisory=True,
                notes=(*notes, "Nearer, the boom is kept down and watched."),
            )
            yield self.row(line, demand)


class ElectricalNearWater(Constraint):
    """Outlets, switches and points of power beside basin and stream."""

    reason = "electrical"
    works = frozenset({"basin", "stream"})

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each; a point of power counts as an outlet."""
        asked = question.parameters.separation
        by_kind = {"outlet": asked.receptacle, "switch": asked.switch}
        for fixture in question.site.objects["fixtures"]:
            if word(fixture.kind) in by_kind:
                kind = word(fixture.kind)
                yield self.row(fixture, _from_water(by_kind[kind], f"Counts as: {kind}."))
        for point in question.site.objects["power"]:
            yield self.row(point, _from_water(asked.receptacle, "Taken as an outlet."))


def _from_water(rule_m: float, note: str) -> Demand:
    return Demand(rule_m=rule_m, advisory=True, notes=(note, _ELECTRICIAN))


class SewerNearWater(Constraint):
    """Sewers beside basin, stream and pipe."""

    reason = "sewer_separation"
    works = frozenset({"basin", "stream", "pipe"})

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each sewer."""
        for line in question.site.objects["utilities"]:
            if word(line.kind) == "sewer":
                yield self.row(line, _from_sewer(line, question))


def _from_sewer(line: Any, question: Question) -> Demand:
    asked = question.parameters.separation
    source = asked.sewer_source.strip()
    diameter_m = number(line.diameter_m) or 0.0
    missing_m = 0.0 if diameter_m else question.parameters.assumed_diameter / 2.0
    told = source or "from memory: an assumption; the local code decides"
    return Demand(
        rule_m=asked.sewer,
        uncertainty_m=position_of(line, question.parameters).uncertainty_m + missing_m,
        half_width_m=diameter_m / 2.0,
        rule_known=bool(source),
        advisory=True,
        notes=(f"Water from sewer, {told}.",),
    )
