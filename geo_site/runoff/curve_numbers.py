"""How much of a rain runs off: the SCS curve number.

In: depths in metres, curve numbers, areas. Out: depth of runoff. Reference: USDA SCS (1986),
TR-55, chapter 2; NEH part 630, chapter 10.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

__all__ = [
    "COVERS",
    "LEAST_CURVE_NUMBER",
    "LEAST_RUNOFF_M",
    "PAVED_CURVE_NUMBER",
    "Cover",
    "SoilGroup",
    "composite_curve_number",
    "initial_abstraction",
    "potential_retention",
    "retention_at_5_percent",
    "runoff_depth",
    "unconnected_curve_number",
    "weighted_runoff",
]

SoilGroup = Literal["A", "B", "C", "D"]

PAVED_CURVE_NUMBER = 98.0
"""Of roofs, paving and water."""
LEAST_CURVE_NUMBER = 40.0
"""The method is not for less (TR-55, chapter 2, from memory)."""
LEAST_RUNOFF_M = 0.5 * 0.0254
"""The method is less accurate for less runoff: half an inch (TR-55, chapter 2, from memory)."""

_INCH_M = 0.0254
_GROUPS: tuple[SoilGroup, ...] = ("A", "B", "C", "D")
_MOST_UNCONNECTED = 0.30


@dataclass(frozen=True, slots=True)
class Cover:
    """What lies on the ground, and how it sheds rain.

    Attributes
    ----------
    curve_numbers
        For soil groups A, B, C and D, average runoff condition.
    sandy_coefficients, heavy_coefficients
        Rational C on sandy (group A) and on heavier soil, on slopes under 2 %, to 7 %, steeper.
    """

    curve_numbers: tuple[float, float, float, float]
    sandy_coefficients: tuple[float, float, float]
    heavy_coefficients: tuple[float, float, float]

    def curve_number(self, group: SoilGroup) -> float:
        """Curve number on one soil group.

        Parameters
        ----------
        group
            Hydrologic soil group.

        Returns
        -------
        float
            Curve number.

        Examples
        --------
        >>> COVERS["lawn"].curve_number("B")
        61.0
        """
        return self.curve_numbers[_GROUPS.index(group)]

    def coefficient(self, group: SoilGroup, slope: float) -> float:
        """Rational C on one soil group and slope: the upper end of the published range.

        Parameters
        ----------
        group
            Hydrologic soil group.
        slope
            Slope of the ground, rise/run.

        Returns
        -------
        float
            C.

        Examples
        --------
        >>> COVERS["lawn"].coefficient("D", 0.05)
        0.22
        """
        row = self.sandy_coefficients if group == "A" else self.heavy_coefficients
        return row[0 if slope < 0.02 else 1 if slope <= 0.07 else 2]


def _even(c: float) -> tuple[float, float, float]:
    return c, c, c


def _cover(a: float, b: float, c: float, d: float, coefficient: float) -> Cover:
    return Cover((a, b, c, d), _even(coefficient), _even(coefficient))


_SANDY, _HEAVY = (0.10, 0.15, 0.20), (0.17, 0.22, 0.35)

COVERS: Mapping[str, Cover] = MappingProxyType(
    {
        "roof": _cover(98.0, 98.0, 98.0, 98.0, 0.95),
        "paving": _cover(98.0, 98.0, 98.0, 98.0, 0.95),
        "water": _cover(98.0, 98.0, 98.0, 98.0, 1.0),
        "gravel": _cover(76.0, 85.0, 89.0, 91.0, 0.60),
        "dirt": _cover(72.0, 82.0, 87.0, 89.0, 0.60),
        "bare": _cover(77.0, 86.0, 91.0, 94.0, 0.60),
        "lawn": Cover((39.0, 61.0, 74.0, 80.0), _SANDY, _HEAVY),
        "fair_lawn": Cover((49.0, 69.0, 79.0, 84.0), _SANDY, _HEAVY),
        "poor_lawn": Cover((68.0, 79.0, 86.0, 89.0), _SANDY, _HEAVY),
        "woods": _cover(30.0, 55.0, 70.0, 77.0, 0.30),
        "fair_woods": _cover(36.0, 60.0, 73.0, 79.0, 0.30),
        "brush": _cover(30.0, 48.0, 65.0, 73.0, 0.30),
        "meadow": _cover(30.0, 58.0, 71.0, 78.0, 0.30),
    }
)
"""By our word. Curve numbers of TR-55 table 2-2 from memory: a lawn is open space with grass on
more than 75 % of it (fair 50 to 75, poor less), woods, brush and meadow are in good condition,
bare is newly graded. C of lawns as in university course tables of the ASCE ranges, upper ends;
of roofs and paving the same; gravel, dirt and bare as packed bare ground; woods, brush and meadow
as unimproved ground."""


def potential_retention(curve_number: float) -> float:
    """Greatest depth that ground can hold back, `S = 25.4 (1000 / CN - 10)` mm.

    Parameters
    ----------
    curve_number
        Greater than 0, at most 100.

    Returns
    -------
    float
        Depth, m.

    Raises
    ------
    ValueError
        No curve number.

    References
    ----------
    TR-55, equation 2-4.

    Examples
    --------
    >>> round(potential_retention(75.0) / 0.0254, 3)
    3.333
    """
    if not 0.0 < curve_number <= 100.0:
        raise ValueError(f"a curve number is above 0 and at most 100, not {curve_number!r}")
    return _INCH_M * (1000.0 / curve_number - 10.0)


def initial_abstraction(curve_number: float, ratio: float = 0.2) -> float:
    """Rain that falls before any runs off, `Ia = 0.2 S` (or 0.05 of its own retention).

    Parameters
    ----------
    curve_number
        Greater than 0, at most 100.
    ratio
        Of the retention: 0.2, or 0.05 with the retention that belongs to it.

    Returns
    -------
    float
        Depth, m.

    Raises
    ------
    ValueError
        No curve number, or another ratio.

    References
    ----------
    TR-55, equation 2-2.

    Examples
    --------
    >>> round(initial_abstraction(75.0) / 0.0254, 3)
    0.667
    """
    return ratio * _retention(curve_number, ratio)


def _retention(curve_number: float, ratio: float) -> float:
    if ratio == 0.2:
        return potential_retention(curve_number)
    if ratio == 0.05:
        return retention_at_5_percent(curve_number)
    raise ValueError("curve numbers are known with initial abstractions of 0.2 and 0.05 only")


def retention_at_5_percent(curve_number: float) -> float:
    """Retention to be used with an initial abstraction of 0.05, `S05 = 1.33 S^1.15` inches.

    Parameters
    ----------
    curve_number
        As used with 0.2.

    Returns
    -------
    float
        Depth, m.

    Raises
    ------
    ValueError
        No curve number.

    References
    ----------
    Woodward et al. (2003), Runoff curve number method: examination of the initial abstraction
    ratio, equation 8.

    Examples
    --------
    >>> round(retention_at_5_percent(75.0) / 0.0254, 3)
    5.311
    """
    return _INCH_M * 1.33 * float((potential_retention(curve_number) / _INCH_M) ** 1.15)


def runoff_depth(rain_m: float, curve_number: float, ratio: float = 0.2) -> float:
    """Depth that runs off, `Q = (P - Ia)^2 / (P - Ia + S)`; 0 up to the initial abstraction.

    Parameters
    ----------
    rain_m
        Depth of rain, m, at least 0.
    curve_number
        Greater than 0, at most 100.
    ratio
        Initial abstraction over retention: 0.2, or 0.05 with the retention that belongs to it.

    Returns
    -------
    float
        Depth of runoff, m, never more than the rain.

    Raises
    ------
    ValueError
        Negative rain, no curve number, another ratio.

    References
    ----------
    TR-55, equations 2-1 to 2-4. Less accurate under half an inch of runoff; not for snowmelt.

    Examples
    --------
    >>> round(runoff_depth(6.0 * 0.0254, 75.0) / 0.0254, 2)
    3.28
    """
    if not rain_m >= 0.0:
        raise ValueError("rain is at least 0")
    retention_m = _retention(curve_number, ratio)
    excess_m = rain_m - ratio * retention_m
    return excess_m * excess_m / (excess_m + retention_m) if excess_m > 0.0 else 0.0


def weighted_runoff(
    rain_m: float, areas_m2: Sequence[float], curve_numbers: Sequence[float], ratio: float = 0.2
) -> float:
    """Mean depth that runs off several surfaces: their runoff is weighted, not their numbers.

    Parameters
    ----------
    rain_m
        Depth of rain, m.
    areas_m2
        Area of each surface, at least one greater than 0.
    curve_numbers
        Of each.
    ratio
        As of `runoff_depth`.

    Returns
    -------
    float
        Depth of runoff, m.

    Raises
    ------
    ValueError
        As `runoff_depth`; or no area, or lists of different length.

    References
    ----------
    NEH 630, chapter 10 (from memory).

    Examples
    --------
    >>> mean_m = weighted_runoff(0.0254, [20.0, 80.0], [98.0, 61.0])
    >>> round(mean_m / 0.0254, 3), round(runoff_depth(0.0254, 68.4) / 0.0254, 3)
    (0.158, 0.001)
    """
    total_m2 = sum(areas_m2)
    if not (total_m2 > 0.0 and min(areas_m2) >= 0.0):
        raise ValueError("surfaces have an area")
    shed_m3 = sum(
        area_m2 * runoff_depth(rain_m, curve_number, ratio)
        for area_m2, curve_number in zip(areas_m2, curve_numbers, strict=True)
    )
    return shed_m3 / total_m2


def composite_curve_number(pervious: float, impervious: float) -> float:
    """Curve number with impervious ground that drains to a pipe or gutter.

    Parameters
    ----------
    pervious
        Curve number of the rest.
    impervious
        Impervious part of the area, 0 to 1.

    Returns
    -------
    float
        `CNp + Pimp (98 - CNp)`.

    Raises
    ------
    ValueError
        No part.

    References
    ----------
    TR-55, figure 2-3.

    Examples
    --------
    >>> round(composite_curve_number(61.0, 0.38))
    75
    """
    if not 0.0 <= impervious <= 1.0:
        raise ValueError("an impervious part is 0 to 1")
    return pervious + impervious * (PAVED_CURVE_NUMBER - pervious)


def unconnected_curve_number(pervious: float, impervious: float, unconnected: float) -> float:
    """Curve number where part of the impervious ground sheds onto the rest.

    Parameters
    ----------
    pervious
        Curve number of the rest.
    impervious
        Impervious part of the area, 0 to 0.30.
    unconnected
        Part of that which drains over pervious ground, 0 to 1.

    Returns
    -------
    float
        `CNp + Pimp (98 - CNp) (1 - 0.5 R)`.

    Raises
    ------
    ValueError
        No part, or more impervious ground than the figure is for.

    References
    ----------
    TR-55, figure 2-4.

    Examples
    --------
    >>> round(unconnected_curve_number(61.0, 0.20, 0.75), 2)
    65.62
    """
    if not (0.0 <= impervious <= _MOST_UNCONNECTED and 0.0 <= unconnected <= 1.0):
        raise ValueError("the figure is for at most 30 % impervious ground; parts are 0 to 1")
    added = composite_curve_number(pervious, impervious) - pervious
    return pervious + added * (1.0 - 0.5 * unconnected)
