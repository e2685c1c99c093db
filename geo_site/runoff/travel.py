"""How long water takes: sheet flow, shallow concentrated flow, Kirpich.

In: lengths, slopes, roughness, rain. Out: times in seconds, velocities in m/s. Channels are in
`geo_site.channels` (Manning). Reference: USDA SCS (1986), TR-55, chapter 3; NEH part 630, chapter
15 (2010).
"""

from __future__ import annotations

import math

__all__ = [
    "LEAST_CONCENTRATION_S",
    "LONGEST_SHEET_M",
    "kirpich_time",
    "shallow_velocity",
    "sheet_time",
]

LONGEST_SHEET_M = 100.0 * 0.3048
"""Water runs as a sheet for no more than 100 ft (NEH 630, chapter 15)."""
LEAST_CONCENTRATION_S = 360.0
"""Least time of concentration of the graphical method, 0.1 h (TR-55, chapter 3)."""

_FOOT_M, _INCH_M, _HOUR_S = 0.3048, 0.0254, 3600.0
_UNPAVED_MS, _PAVED_MS = 16.1345 * _FOOT_M, 20.3282 * _FOOT_M
_SHEET_S: float = 0.007 * _HOUR_S * math.sqrt(_INCH_M) / math.pow(_FOOT_M, 0.8)
_KIRPICH_S = 0.0078 * 60.0 / math.pow(_FOOT_M, 0.77)


def sheet_time(length_m: float, slope: float, roughness: float, rain_2_years_m: float) -> float:
    """Time of sheet flow, `T = 0.007 (n L)^0.8 / (P2^0.5 s^0.4)` h, in ft and inches.

    Parameters
    ----------
    length_m
        Length, m, at most `LONGEST_SHEET_M`.
    slope
        Rise/run, greater than 0.
    roughness
        Manning's n of sheet flow: smooth 0.011, fallow 0.05, short grass 0.15, dense grass 0.24,
        light woods 0.40, dense woods 0.80.
    rain_2_years_m
        Rain of 24 hours and 2 years, m, greater than 0.

    Returns
    -------
    float
        Time, s.

    Raises
    ------
    ValueError
        A length beyond what the formula is for, or a number that is not positive.

    References
    ----------
    TR-55, equation 3-3.

    Examples
    --------
    >>> round(sheet_time(30.48, 0.01, 0.24, 0.09144) / 3600.0, 4)
    0.2959
    """
    if not 0.0 <= length_m <= LONGEST_SHEET_M * (1.0 + 1e-9):
        raise ValueError("sheet flow is at most 100 ft long")
    if not (slope > 0.0 and roughness > 0.0 and rain_2_years_m > 0.0):
        raise ValueError("slope, roughness and rain are greater than 0")
    return (
        _SHEET_S
        * math.pow(roughness * length_m, 0.8)
        / math.sqrt(rain_2_years_m)
        / math.pow(slope, 0.4)
    )


def shallow_velocity(slope: float, *, paved: bool) -> float:
    """Velocity of shallow concentrated flow, `V = 16.1345 sqrt(s)` ft/s, 20.3282 on paving.

    Parameters
    ----------
    slope
        Rise/run, at least 0.
    paved
        Whether on paving.

    Returns
    -------
    float
        Velocity, m/s.

    Raises
    ------
    ValueError
        A negative slope.

    References
    ----------
    TR-55, figure 3-1 and appendix F.

    Examples
    --------
    >>> round(shallow_velocity(0.01, paved=False), 4)
    0.4918
    """
    if not slope >= 0.0:
        raise ValueError("a slope is at least 0")
    return (_PAVED_MS if paved else _UNPAVED_MS) * math.sqrt(slope)


def kirpich_time(length_m: float, slope: float) -> float:
    """Time of concentration by Kirpich, `T = 0.0078 L^0.77 S^-0.385` min, in ft.

    Parameters
    ----------
    length_m
        Length of the way, m, at least 0.
    slope
        Mean slope, rise/run, greater than 0.

    Returns
    -------
    float
        Time, s.

    Raises
    ------
    ValueError
        A negative length or a slope that is not positive.

    References
    ----------
    Kirpich (1940), Time of concentration of small agricultural watersheds, from memory.

    Examples
    --------
    >>> round(kirpich_time(304.8, 0.02) / 60.0, 2)
    7.18
    """
    if not (length_m >= 0.0 and slope > 0.0):
        raise ValueError("a length is at least 0, and the slope greater than 0")
    return _KIRPICH_S * math.pow(length_m, 0.77) * math.pow(slope, -0.385)
