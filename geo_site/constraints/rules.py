"""How a constraint is written: one class per reason, rows for objects, areas for ground.

A class names its reason and the works it speaks to. For things in the user's files it yields
:class:`Requirement` rows; for ground found in the terrain or the parcel it yields areas. To add
a constraint, write one class and name it in ``CONSTRAINTS``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from typing import Any, ClassVar

from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from geo_site.constraints.results import Requirement, Work
from geo_site.constraints.settings import ConstraintParameters
from geo_site.site import Site
from geo_site.terrain import Terrain

__all__ = [
    "ALL_WORKS",
    "DIGGING",
    "Area",
    "Constraint",
    "Demand",
    "Question",
    "number",
    "word",
]

DIGGING: frozenset[Work] = frozenset({"basin", "stream", "pipe", "pile", "fence"})
"""Works that dig or lay soil down; pipe and fence are trenches."""

ALL_WORKS: frozenset[Work] = DIGGING | {"machine"}


@dataclass(frozen=True, kw_only=True)
class Question:
    """What a constraint is asked.

    Attributes
    ----------
    site : Site
        Where.
    parameters : ConstraintParameters
        By which settings.
    work : Work
        For which work.
    excavation_depth_m : float
        Greatest depth of the basin's excavation.
    """

    site: Site
    parameters: ConstraintParameters
    work: Work
    excavation_depth_m: float


@dataclass(frozen=True, kw_only=True)
class Demand:
    """What one object asks; see :class:`Requirement` for the words.

    Attributes
    ----------
    rule_m, uncertainty_m, half_width_m : float
        Distances.
    by_hand_m : float
        Nearest that digging by hand may come; infinite where that is no answer.
    hand_dig_within_m : float
        How far the law asks for digging by hand.
    rule_known, may_cross, advisory : bool
        As in the row.
    notes : tuple of str
        Sentences.
    """

    rule_m: float
    uncertainty_m: float = 0.0
    half_width_m: float = 0.0
    by_hand_m: float = float("inf")
    rule_known: bool = True
    may_cross: bool = False
    advisory: bool = False
    hand_dig_within_m: float = 0.0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Area:
    """Ground that a constraint takes away as a whole.

    Attributes
    ----------
    geometry : shapely geometry
        The ground.
    source_id : str
        Id in the user's file, if it has one.
    distance_m : float
        Distance kept, already part of the geometry.
    """

    geometry: BaseGeometry
    source_id: str = ""
    distance_m: float = 0.0


class Constraint:
    """One reason why ground is off limits.

    Attributes
    ----------
    reason : str
        Its name in every layer and row.
    works : frozenset of Work
        The works that it speaks to.
    """

    reason: ClassVar[str]
    works: ClassVar[frozenset[Work]]

    def rows(self, question: Question) -> Iterator[Requirement]:
        """Give a row for each object that asks for a distance."""
        del question
        yield from ()

    def areas(self, question: Question, terrain: Terrain, within: MultiPolygon) -> Iterator[Area]:
        """Give ground taken away as a whole, at least all of it inside ``within``."""
        del question, terrain, within
        yield from ()

    def row(self, feature: Any, demand: Demand, *, kind: str | None = None) -> Requirement:
        """Make the row of one object from what it asks."""
        required_m = demand.rule_m + demand.uncertainty_m
        return Requirement(
            reason=self.reason,
            against=str(feature.id),
            kind=self.reason if kind is None else kind,
            geometry=feature.geometry,
            half_width_m=demand.half_width_m,
            rule_m=demand.rule_m,
            uncertainty_m=demand.uncertainty_m,
            required_m=required_m,
            least_m=min(demand.by_hand_m, required_m),
            rule_known=demand.rule_known,
            note=" ".join(demand.notes),
            may_cross=demand.may_cross,
            advisory=demand.advisory,
            hand_dig_within_m=demand.hand_dig_within_m,
        )


def word(value: object) -> str:
    """Text of a cell; empty when missing."""
    return value if isinstance(value, str) else ""


def number(value: float | None) -> float | None:
    """Read a length that must not be negative; None when it is missing or is no length."""
    return float(value) if value is not None and isfinite(value) and value >= 0.0 else None
