"""Everything else in the user's files that asks for a distance.

In: parcel, fixtures, structures, trees, easements, waters, septic parts, overhead lines. Out: a
row per object. Method: a distance by kind of work; what is assumed is said in the row's note.
Reference: the settings carry the source of each distance; root zones are those of
``geo_site.root_zones``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

from geo_site import root_zones
from geo_site.constraints.results import Requirement
from geo_site.constraints.rules import (
    ALL_WORKS,
    DIGGING,
    Constraint,
    Demand,
    Question,
    number,
    word,
)
from geo_site.constraints.settings import ConstraintParameters
from geo_site.constraints.tolerance import zone_in_use

__all__ = [
    "Boundary",
    "Easement",
    "Fixture",
    "Overhead",
    "Roots",
    "Septic",
    "Structure",
    "WaterBody",
    "wire_distance",
]

_HEALTH_CODE = "The local health code governs; this distance is an assumption."
_KILOVOLT = 1000.0
_VOLTAGE_LIMIT_KV = 50.0  # OSHA 1926.600(a)(6), from memory


class Boundary(Constraint):
    """Setback from the parcel's own lines. A machine must only stay inside."""

    reason = "boundary"
    works = DIGGING

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give one row, against the parcel's id."""
        site, settings = question.site, question.parameters.boundary
        accuracy_m = number(site.parcel_accuracy_m)
        notes = ["Local zoning governs."]
        if accuracy_m is None:
            accuracy_m = settings.assumed_accuracy
            notes.append(f"Accuracy of the parcel lines unknown: {accuracy_m:.2f} m assumed.")
        demand = Demand(
            rule_m=float(getattr(settings, question.work)),
            uncertainty_m=accuracy_m,
            notes=tuple(notes),
        )
        parcel = SimpleNamespace(id=site.parcel_id, geometry=site.parcel.boundary)
        yield self.row(parcel, demand)


class Fixture(Constraint):
    """A zone all round each fixture, no less than the tolerance zone stated here.

    A machine goes round its body.
    """

    reason = "fixture"
    works = ALL_WORKS

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each fixture."""
        parameters = question.parameters
        driving = question.work == "machine"
        zone = zone_in_use(question.site.ticket.state, parameters.tolerance_zone)
        zone_m = max(parameters.fixture_zone, zone.width_m if zone.is_known else 0.0)
        rule_m = parameters.fixture_body if driving else zone_m
        for fixture in question.site.objects["fixtures"]:
            note = f"Zone all round: {word(fixture.kind) or 'unknown'}."
            yield self.row(fixture, Demand(rule_m=rule_m, notes=(note,)))


class Structure(Constraint):
    """Structures; beside them the basin keeps off further the deeper it is."""

    reason = "structure"
    works = ALL_WORKS

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each structure that the work must keep off."""
        settings = question.parameters.structure
        driving = question.work == "machine"
        drivable = {kind.lower() for kind in settings.drivable}
        demand = _beside_structure(question)
        for structure in question.site.objects["structures"]:
            if not (driving and word(structure.kind).lower() in drivable):
                yield self.row(structure, demand)


def _beside_structure(question: Question) -> Demand:
    settings, work = question.parameters.structure, question.work
    if work == "machine":
        return Demand(rule_m=0.0)
    setback_m = float(getattr(settings, work))
    influence_m = settings.basin_per_depth * question.excavation_depth_m
    if work != "basin" or influence_m <= setback_m:
        return Demand(rule_m=setback_m)
    note = f"Grows with the excavation, {question.excavation_depth_m:.2f} m deep."
    return Demand(rule_m=influence_m, notes=(note,))


class Roots(Constraint):
    """Root zones of trees, round the stem."""

    reason = "roots"
    works = ALL_WORKS

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each tree: from its trunk, else its crown, else assumed."""
        for tree in question.site.objects["trees"]:
            yield self.row(tree, _root_zone(tree, question.parameters))


def _root_zone(tree: Any, parameters: ConstraintParameters) -> Demand:
    trunk_m, crown_m = number(tree.trunk_diameter_m), number(tree.crown_radius_m)
    if trunk_m:
        return Demand(
            rule_m=root_zones.root_protection_radius(trunk_m), notes=("12 trunk diameters.",)
        )
    if crown_m:
        return Demand(rule_m=crown_m, notes=("No trunk diameter: the crown radius stands for it.",))
    assumed_m = parameters.assumed_root_radius
    return Demand(
        rule_m=assumed_m, notes=(f"Size of the tree unknown: {assumed_m:.2f} m assumed.",)
    )


class Easement(Constraint):
    """Easements take no works; a machine may pass."""

    reason = "easement"
    works = DIGGING

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each easement."""
        for easement in question.site.objects["easements"]:
            yield self.row(easement, Demand(rule_m=0.0))


class Septic(Constraint):
    """Septic parts and wells."""

    reason = "septic"
    works = ALL_WORKS

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each part; a machine keeps the distance of a tank from all of them."""
        parameters = question.parameters
        for part in question.site.objects["septic"]:
            kind = word(part.kind) or "unknown"
            known = kind in {"tank", "field", "reserve_field", "well"}
            is_tank = known and kind != "well"
            strict_m = parameters.septic if is_tank else max(parameters.septic, parameters.well)
            rule_m = parameters.septic if question.work == "machine" else strict_m
            notes = [_HEALTH_CODE] if known else ["Part unknown: taken as a well.", _HEALTH_CODE]
            yield self.row(part, Demand(rule_m=rule_m, rule_known=known, notes=tuple(notes)))


class WaterBody(Constraint):
    """Streams, ponds and ditches."""

    reason = "water_body"
    works = ALL_WORKS

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each water."""
        for water in question.site.objects["water_bodies"]:
            yield self.row(water, Demand(rule_m=question.parameters.water))


class Overhead(Constraint):
    """Overhead lines, over what a machine digs, piles or drives on: its boom goes with it."""

    reason = "overhead"
    works = ALL_WORKS

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each line; without its voltage the rule is not known."""
        over_water = _over_water(question) if question.work in {"basin", "stream"} else ()
        for line in question.site.objects["overhead"]:
            demand = wire_distance(line, question.parameters)
            yield self.row(line, replace(demand, notes=(*demand.notes, *over_water)))


def _over_water(question: Question) -> tuple[str, ...]:
    height_m = question.parameters.separation.wire_over_water
    told = f"Over water {height_m:.2f} m of height are asked (NEC 680.9(A), a transcription)"
    return (f"{told}; heights are not judged.",)


def wire_distance(line: Any, parameters: ConstraintParameters) -> Demand:
    """Give the horizontal distance that an overhead line asks.

    Parameters
    ----------
    line : row of ``Site.overhead``
        With ``voltage_v``.
    parameters : ConstraintParameters
        The distances.

    Returns
    -------
    Demand
        Not known without the voltage.
    """
    voltage_v = number(line.voltage_v)
    over_kv = max((voltage_v or 0.0) / _KILOVOLT - _VOLTAGE_LIMIT_KV, 0.0)
    known = voltage_v is not None
    return Demand(
        rule_m=parameters.overhead + parameters.overhead_per_kv * over_kv,
        rule_known=known,
        notes=() if known else ("Voltage unknown: taken as 50 kV or less.",),
    )
