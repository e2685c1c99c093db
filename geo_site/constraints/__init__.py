"""Why ground is off limits, or may only be dug by hand.

Question
    How far must each work keep from every object, and what ground of the parcel is left for it?
In
    A site, its terrain, and the distances of the settings.
Out
    :class:`Requirement` rows, the single truth from which blocked ground is drawn and clearances
    are judged; and a :class:`Ground` for each kind of work.
Method
    One class per reason in the tuple ``CONSTRAINTS``. What is required is a rule plus how far
    the object may lie from where it is drawn, counted from its outer edge.
Reference
    Each setting carries its source; what has none says so.
"""

from __future__ import annotations

from geo_site.constraints.ground import find_ground
from geo_site.constraints.line_settings import (
    ExposedStretch,
    RowReach,
    Separation,
    StrikeSampling,
    StubRule,
)
from geo_site.constraints.position import Position, position_of
from geo_site.constraints.results import BlockedPiece, Ground, HandDigStrip, Requirement, Work
from geo_site.constraints.settings import (
    BoundarySetback,
    ConstraintParameters,
    PositionUncertainty,
    StructureSetback,
    ToleranceZone,
    UtilityBuffer,
)
from geo_site.constraints.table import CONSTRAINTS, requirements
from geo_site.constraints.tolerance import ZoneInUse, zone_in_use

__all__ = [
    "CONSTRAINTS",
    "BlockedPiece",
    "BoundarySetback",
    "ConstraintParameters",
    "ExposedStretch",
    "Ground",
    "HandDigStrip",
    "Position",
    "PositionUncertainty",
    "Requirement",
    "RowReach",
    "Separation",
    "StrikeSampling",
    "StructureSetback",
    "StubRule",
    "ToleranceZone",
    "UtilityBuffer",
    "Work",
    "ZoneInUse",
    "find_ground",
    "position_of",
    "requirements",
    "zone_in_use",
]
