"""Why ground is off limits, or may only be dug by hand."""

from __future__ import annotations

from geo_site.constraints.results import BlockedPiece, Ground, HandDigStrip, Requirement, Work
from geo_site.constraints.settings import (
    BoundarySetback,
    ConstraintParameters,
    PositionUncertainty,
    StructureSetback,
    ToleranceZone,
    UtilityBuffer,
)

__all__ = [
    "BlockedPiece",
    "BoundarySetback",
    "ConstraintParameters",
    "Ground",
    "HandDigStrip",
    "PositionUncertainty",
    "Requirement",
    "StructureSetback",
    "ToleranceZone",
    "UtilityBuffer",
    "Work",
]
