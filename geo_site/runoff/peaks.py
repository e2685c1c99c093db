"""Greatest flow of a storm: the rational formula, and the graphical peak discharge.

In: areas, rain, runoff coefficients or depths, times of concentration. Out: flows, m3/s.
Reference: FHWA HEC-22, chapter 3; USDA SCS (1986), TR-55, chapter 4 and appendix F.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

__all__ = [
    "RAINFALL_TYPES",
    "frequency_factor",
    "graphical_peak",
    "pond_factor",
    "rational_peak",
    "unit_peak",
    "weighted_coefficient",
]

_INCH_M = 0.0254
_SQUARE_MILE_M2 = 1609.344**2
_CUBIC_FOOT_M3 = 0.3048**3
_HOUR_S = 3600.0

RAINFALL_TYPES: Mapping[str, tuple[tuple[float, float, float, float], ...]] = MappingProxyType(
    {
        "II": (
            (0.10, 2.55323, -0.61512, -0.16403),
            (0.30, 2.46532, -0.62257, -0.11657),
            (0.35, 2.41896, -0.61594, -0.08820),
            (0.40, 2.36409, -0.59857, -0.05621),
            (0.45, 2.29238, -0.57005, -0.02281),
            (0.50, 2.20282, -0.51599, -0.01259),
        )
    }
)
"""Ia/P, C0, C1, C2 of TR-55 table F-1, from memory; type II only: the others are not known here."""

_PONDS = ((0.0, 1.00), (0.002, 0.97), (0.010, 0.87), (0.030, 0.75), (0.050, 0.72))
_FREQUENCIES = ((10.0, 1.0), (25.0, 1.1), (50.0, 1.2), (100.0, 1.25))
_SHORTEST_H, _LONGEST_H = 0.1, 10.0


def rational_peak(coefficient: float, intensity_ms: float, area_m2: float) -> float:
    """Greatest flow of a small area, `Q = C i A` (in mm/h and ha: `C i A / 360`).

    Parameters
    ----------
    coefficient
        Runoff coefficient C, 0 to 1.
    intensity_ms
        Intensity of rain over the time of concentration, m/s.
    area_m2
        Area, m2.

    Returns
    -------
    float
        Flow, m3/s.

    Raises
    ------
    ValueError
        C outside 0 to 1, or a negative number.

    References
    ----------
    FHWA HEC-22, equation 3-1; for areas up to 80 ha.

    Examples
    --------
    >>> round(rational_peak(0.235, 48.0 / 3.6e6, 17.55e4), 2)
    0.55
    """
    if not (0.0 <= coefficient <= 1.0 and intensity_ms >= 0.0 and area_m2 >= 0.0):
        raise ValueError("C is 0 to 1; intensity and area are at least 0")
    return coefficient * intensity_ms * area_m2


def weighted_coefficient(areas_m2: Sequence[float], coefficients: Sequence[float]) -> float:
    """Mean runoff coefficient of several surfaces, by area.

    Parameters
    ----------
    areas_m2
        Area of each, at least one greater than 0.
    coefficients
        C of each.

    Returns
    -------
    float
        C.

    Raises
    ------
    ValueError
        No area, or lists of different length.

    Examples
    --------
    >>> round(weighted_coefficient([2400.0, 9600.0], [0.90, 0.25]), 3)
    0.38
    """
    total_m2 = sum(areas_m2)
    if not (total_m2 > 0.0 and min(areas_m2) >= 0.0):
        raise ValueError("surfaces have an area")
    shed = sum(a_m2 * c for a_m2, c in zip(areas_m2, coefficients, strict=True))
    return shed / total_m2


def frequency_factor(return_years: float) -> float:
    """Factor on C for rare storms; C times it is never more than 1.

    Parameters
    ----------
    return_years
        Return period, greater than 0.

    Returns
    -------
    float
        1.0 up to 10 years, 1.1 at 25, 1.2 at 50, 1.25 from 100 on; linear between.

    Raises
    ------
    ValueError
        Not greater than 0.

    References
    ----------
    FHWA HEC-22, table 3-2, from memory.

    Examples
    --------
    >>> frequency_factor(25.0)
    1.1
    """
    if not return_years > 0.0:
        raise ValueError("a return period is greater than 0")
    years, factors = zip(*_FREQUENCIES, strict=True)
    return float(np.interp(return_years, years, factors))


def unit_peak(concentration_s: float, abstraction_part: float, rainfall_type: str = "II") -> float:
    """Peak for a depth of runoff from an area, `log qu = C0 + C1 log Tc + C2 (log Tc)^2`.

    Parameters
    ----------
    concentration_s
        Time of concentration, s: 0.1 to 10 h.
    abstraction_part
        Initial abstraction over rain; kept within 0.10 to 0.50.
    rainfall_type
        Form of the 24-hour storm, a key of `RAINFALL_TYPES`.

    Returns
    -------
    float
        Peak flow for a depth of runoff and an area, 1/s: m3/s for each m on each m2.

    Raises
    ------
    ValueError
        A time outside the method's range, or a type whose coefficients are not known.

    References
    ----------
    TR-55, appendix F; csm/in is ft3/s for each square mile and inch.

    Examples
    --------
    >>> unit = 0.3048**3 / 1609.344**2 / 0.0254
    >>> round(unit_peak(1.53 * 3600.0, 0.111) / unit, 1)
    268.9
    """
    if rainfall_type not in RAINFALL_TYPES:
        known = ", ".join(RAINFALL_TYPES)
        raise ValueError(f"coefficients of rainfall type {rainfall_type} are not known: {known}")
    hours = concentration_s / _HOUR_S
    if not _SHORTEST_H - 1e-9 <= hours <= _LONGEST_H:
        raise ValueError("the graphical method is for times of concentration of 0.1 to 10 h")
    lag = math.log10(hours)
    table = np.array(RAINFALL_TYPES[rainfall_type])
    peaks = 10.0 ** (table[:, 1] + table[:, 2] * lag + table[:, 3] * lag * lag)
    part = min(max(abstraction_part, float(table[0, 0])), float(table[-1, 0]))
    csm_in = float(np.interp(part, table[:, 0], peaks))
    return csm_in * _CUBIC_FOOT_M3 / _SQUARE_MILE_M2 / _INCH_M


def pond_factor(pond_part: float) -> float:
    """Factor for ponds and swamps spread over the catchment.

    Parameters
    ----------
    pond_part
        Part of the area, 0 to 0.05.

    Returns
    -------
    float
        1 without ponds, 0.72 at 5 %; linear between the published values.

    Raises
    ------
    ValueError
        More than 5 %: the method is not for it.

    References
    ----------
    TR-55, table 4-2; 0.2 % from memory.

    Examples
    --------
    >>> pond_factor(0.01)
    0.87
    """
    if not 0.0 <= pond_part <= _PONDS[-1][0]:
        raise ValueError("the pond factor is for 0 to 5 % of the area")
    parts, factors = zip(*_PONDS, strict=True)
    return float(np.interp(pond_part, parts, factors))


def graphical_peak(
    area_m2: float, runoff_m: float, unit_peak_s: float, pond_part: float = 0.0
) -> float:
    """Greatest flow of a 24-hour storm, `qp = qu A Q Fp`.

    Parameters
    ----------
    area_m2
        Area, m2.
    runoff_m
        Depth of runoff of the 24-hour storm, m.
    unit_peak_s
        From `unit_peak`, 1/s.
    pond_part
        Part of the area under ponds and swamps.

    Returns
    -------
    float
        Flow, m3/s.

    Raises
    ------
    ValueError
        A negative number, or too many ponds.

    References
    ----------
    TR-55, equation 4-1. Not for curve numbers under 40.

    Examples
    --------
    >>> unit = unit_peak(1.53 * 3600.0, 0.111)
    >>> peak = graphical_peak(0.39 * 1609.344**2, 3.2821 * 0.0254, unit)
    >>> round(peak / 0.3048**3)
    344
    """
    if not (area_m2 >= 0.0 and runoff_m >= 0.0 and unit_peak_s >= 0.0):
        raise ValueError("area, runoff and unit peak are at least 0")
    return area_m2 * runoff_m * unit_peak_s * pond_factor(pond_part)
