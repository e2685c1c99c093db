"""How soil swells and shrinks, how steeply it may be cut, and at which depth a rule begins."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

SoilName = Literal["sand", "common_earth", "clay", "rock"]
SoilClass = Literal["stable_rock", "a", "b", "c"]


@dataclass(frozen=True, slots=True)
class SoilVolumes:
    """Volume of one soil dug loose and compacted, for each bank volume.

    Attributes
    ----------
    swell_factor
        Loose over bank volume.
    shrink_factor
        Compacted over bank volume.
    source
        Where the numbers come from.
    """

    swell_factor: float
    shrink_factor: float
    source: str


@dataclass(frozen=True, slots=True)
class DepthRule:
    """A duty that begins at some depth of excavation.

    Attributes
    ----------
    code
        Short name: ``egress``, ``protection`` or ``engineer``.
    depth_m
        Depth from which it holds, m.
    duty
        What is asked for.
    source
        Paragraph of the regulation.
    """

    code: str
    depth_m: float
    duty: str
    source: str


@dataclass(frozen=True, slots=True)
class ReposeAngle:
    """Range of the angle at which a loose material stands.

    Attributes
    ----------
    least_deg, most_deg
        Ends of the range, degrees.
    source
        Where the numbers come from.
    """

    least_deg: float
    most_deg: float
    source: str


_FIELD_MANUAL = "US Army FM 5-434, table 1-1"
SOIL_VOLUMES: Mapping[SoilName, SoilVolumes] = MappingProxyType(
    {
        "sand": SoilVolumes(1.11, 0.95, _FIELD_MANUAL),
        "common_earth": SoilVolumes(1.25, 0.90, f"{_FIELD_MANUAL} (swell from memory)"),
        "clay": SoilVolumes(1.43, 0.90, f"{_FIELD_MANUAL} (from memory)"),
        "rock": SoilVolumes(1.50, 1.30, f"{_FIELD_MANUAL}, blasted (from memory)"),
    }
)
"""Swell and shrink by soil."""

EXCAVATION_BATTERS: Mapping[SoilClass, float] = MappingProxyType(
    {"stable_rock": 0.0, "a": 0.75, "b": 1.0, "c": 1.5}
)
"""Steepest side (run over rise) of an excavation up to 20 ft deep, by soil class.

29 CFR 1926 Subpart P, appendix B, table B-1. The class is found on site by a competent person;
soil that nobody has classed is class C.
"""

BATTER_OF_UNKNOWN_SOIL = EXCAVATION_BATTERS["c"]
"""Batter to assume where nobody has classed the soil (29 CFR 1926.652(b)(1), from memory)."""

SPOIL_SETBACK_M = 0.61
"""Least distance of spoil and equipment from the edge, m: 2 ft, 29 CFR 1926.651(j)(2)."""

DEPTH_RULES: tuple[DepthRule, ...] = (
    DepthRule(
        "egress",
        4 * 0.3048,
        "a ladder, ramp or steps within 7.62 m of everyone in a trench",
        "29 CFR 1926.651(c)(2)",
    ),
    DepthRule(
        "protection",
        5 * 0.3048,
        "sides sloped, shored or shielded unless in stable rock",
        "29 CFR 1926.652(a)(1)",
    ),
    DepthRule(
        "engineer",
        20 * 0.3048,
        "slopes or support designed by a registered professional engineer",
        "29 CFR 1926 Subpart P, appendix B, table B-1, note",
    ),
)
"""Duties by depth, shallow first. Shallower than all of them is not safe by itself."""

REPOSE_ANGLES: Mapping[str, ReposeAngle] = MappingProxyType(
    {
        "dry_sand": ReposeAngle(34.0, 34.0, "USBR Hyd-299 (1950), mean; published data scatter"),
        "dry_gravel": ReposeAngle(30.0, 45.0, "common practice, no source"),
        "mixed_spoil": ReposeAngle(30.0, 37.0, "common practice, no source"),
    }
)
"""Angles of repose of loose, damp or dry material; a soaked pile stands at less."""

_DEPTH_TOLERANCE_M = 1e-9


def loose_from_bank(bank_m3: float, swell_factor: float) -> float:
    """Loose volume of soil dug from the bank, `loose = bank swell_factor`.

    Parameters
    ----------
    bank_m3
        Volume in place, m3.
    swell_factor
        Loose over bank volume: 1.25 for a swell of 25 %.

    Returns
    -------
    float
        Loose volume, m3.

    Raises
    ------
    ValueError
        If the factor is less than 1: a swell of 25 % is written 1.25.

    Examples
    --------
    >>> loose_from_bank(8.0, 1.25)
    10.0
    """
    return bank_m3 * _swell(swell_factor)


def bank_from_loose(loose_m3: float, swell_factor: float) -> float:
    """Bank volume of loose soil, `bank = loose / swell_factor`.

    Parameters
    ----------
    loose_m3
        Loose volume, m3.
    swell_factor
        Loose over bank volume.

    Returns
    -------
    float
        Volume in place, m3.

    Raises
    ------
    ValueError
        If the factor is less than 1.

    Examples
    --------
    >>> bank_from_loose(10.0, 1.25)
    8.0
    """
    return loose_m3 / _swell(swell_factor)


def compacted_from_bank(bank_m3: float, shrink_factor: float) -> float:
    """Compacted volume that soil from the bank makes, `compacted = bank shrink_factor`.

    Parameters
    ----------
    bank_m3
        Volume in place, m3.
    shrink_factor
        Compacted over bank volume: 0.90 for common earth.

    Returns
    -------
    float
        Volume in a compacted fill, m3.

    Raises
    ------
    ValueError
        If the factor is not positive.

    Examples
    --------
    >>> compacted_from_bank(10.0, 0.9)
    9.0
    """
    return bank_m3 * _shrink(shrink_factor)


def bank_from_compacted(compacted_m3: float, shrink_factor: float) -> float:
    """Bank volume that a compacted fill takes, `bank = compacted / shrink_factor`.

    Parameters
    ----------
    compacted_m3
        Volume of the fill, m3.
    shrink_factor
        Compacted over bank volume.

    Returns
    -------
    float
        Volume in place, m3.

    Raises
    ------
    ValueError
        If the factor is not positive.

    Examples
    --------
    >>> bank_from_compacted(9.0, 0.9)
    10.0
    """
    return compacted_m3 / _shrink(shrink_factor)


def depth_rules(depth_m: float) -> tuple[DepthRule, ...]:
    """Rules that hold for an excavation of a given depth.

    Parameters
    ----------
    depth_m
        Greatest depth, m. NaN, a depth that is not known, makes all of them hold.

    Returns
    -------
    tuple of DepthRule
        Those whose depth is reached, shallow first.

    Examples
    --------
    >>> [rule.code for rule in depth_rules(1.524)]
    ['egress', 'protection']
    """
    return tuple(rule for rule in DEPTH_RULES if not depth_m < rule.depth_m - _DEPTH_TOLERANCE_M)


def _swell(factor: float) -> float:
    if not (math.isfinite(factor) and factor >= 1.0):
        raise ValueError(f"a swell factor is at least 1 (1.25 for a swell of 25 %), not {factor!r}")
    return factor


def _shrink(factor: float) -> float:
    if not (math.isfinite(factor) and factor > 0.0):
        raise ValueError(f"a shrink factor is greater than 0, not {factor!r}")
    return factor
