"""How well a buried line is known: what quality levels, colours and covers mean.

Question
    What does a quality level promise, what does a colour of paint say, how deep may one expect it?
In
    A word of the user's file.
Out
    Its meaning, or None. Accuracies in figures are settings, with their sources.
Method
    Tables. Paint alone is no quality level. A cover is an expectation from rules for laying, never
    a clearance: frost, erosion, regrading and owners' work make the true depth unknown.
Reference
    ASCE 38-22 and PAS 128:2022 (transcriptions); APWA uniform colour code (a transcription); NEC
    table 300.5 and the residential code's fuel gas part (transcriptions).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

__all__ = [
    "COLOUR_KINDS",
    "EXPECTED_COVERS",
    "QUALITY_LEVELS",
    "Basis",
    "ExpectedCover",
    "QualityLevel",
]

Basis = Literal["published", "from memory", "assumed", "stated"]
"""Where a position uncertainty comes from."""

_INCH_M = 0.0254
_ASCE = "ASCE 38-22, a transcription"
_PAS = "PAS 128:2022 table 1, a transcription"


@dataclass(frozen=True, kw_only=True)
class QualityLevel:
    """What a quality level says of a line.

    Attributes
    ----------
    level : str
        As ``QL-B1``.
    meaning : str
        How the position was found.
    source : str
        The standard.
    basis : {"published", "from memory", "assumed", "stated"}
        Whether a standard gives its horizontal accuracy in figures.
    """

    level: str
    meaning: str
    source: str
    basis: Basis


@dataclass(frozen=True, kw_only=True)
class ExpectedCover:
    """Least cover that rules for laying ask of a line of some kind.

    Attributes
    ----------
    least_m : float
        The least that any of them asks, m.
    told : str
        Which cover, for what.
    source : str
        Where it was found.
    """

    least_m: float
    told: str
    source: str


def _level(level: str, meaning: str, source: str, basis: Basis) -> tuple[str, QualityLevel]:
    return level, QualityLevel(level=level, meaning=meaning, source=source, basis=basis)


QUALITY_LEVELS: Mapping[str, QualityLevel] = MappingProxyType(
    dict(
        (
            _level("QL-A", "exposed and measured", _PAS, "published"),
            _level("QL-B", "found by geophysics from the surface", _ASCE, "from memory"),
            _level("QL-B1", "found by several techniques that agree", _PAS, "published"),
            _level("QL-B2", "found by one technique", _PAS, "published"),
            _level("QL-B3", "found, its depth not", _PAS, "published"),
            _level("QL-B4", "assumed route, nothing found", _PAS, "assumed"),
            _level("QL-C", "records and visible features", _ASCE, "assumed"),
            _level("QL-D", "records only", _ASCE, "assumed"),
        )
    )
)
"""The levels that are understood."""

COLOUR_KINDS: Mapping[str, str] = MappingProxyType(
    {
        "red": "electric",
        "yellow": "gas",
        "orange": "communication",
        "blue": "potable_water",
        "purple": "reclaimed_water",
        "green": "sewer",
    }
)
"""Colour of the paint to what the line carries (APWA uniform colour code, a transcription)."""

EXPECTED_COVERS: Mapping[str, ExpectedCover] = MappingProxyType(
    {
        "electric": ExpectedCover(
            least_m=6.0 * _INCH_M,
            told="24 in for direct-buried cable, 18 in in plastic conduit, 12 in for a protected "
            "120 V circuit, 6 in in metal conduit or under 30 V",
            source="NEC table 300.5, a transcription",
        ),
        "gas": ExpectedCover(
            least_m=8.0 * _INCH_M,
            told="18 in, 8 in to an outdoor appliance",
            source="residential code G2415.12, a transcription",
        ),
        "sewer": ExpectedCover(
            least_m=12.0 * _INCH_M,
            told="12 in for a building sewer",
            source="one state's code, a transcription",
        ),
    }
)
"""Expected cover by kind; for the others no figure was read."""
