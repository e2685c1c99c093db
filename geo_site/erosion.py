"""How much silt fence a disturbed slope needs, and where a fence may not stand.

Question
    How long must the silt fence be, and does the ground above it allow one at all?
In
    Areas in m2, slopes as rise/run.
Out
    Lengths in metres, or None where a silt fence is no answer.
Method
    A fence of 100 ft (30.48 m) may take the runoff of a given area, less on steeper ground, and
    the slope above it may be only so long. It never stands in concentrated flow; its ends turn
    uphill.
Reference
    A county best-management-practice manual (practice ES 1.06) and a state table by slope, both
    built on 1/4 acre for 100 ft of fence; EPA NPDES fact sheet Silt Fences (2012): a rule of
    thumb of 100 ft of fence for 10,000 ft2 disturbed.
"""

from dataclasses import dataclass

_FOOT_M = 0.3048
_ACRE_M2 = 43_560 * _FOOT_M**2
_FENCE_M = 100 * _FOOT_M

LONGEST_SLOPE_M = 100 * _FOOT_M
"""Longest slope that may drain to a silt fence, m (100 ft)."""
LARGEST_AREA_TO_SWALE_M2 = 2 * _ACRE_M2
"""Largest area that may drain to a silt fence across a swale, m2 (2 acres, under 1 cfs)."""
DISTURBED_AREA_PER_FENCE_M = 10_000 * _FOOT_M**2 / _FENCE_M
"""Disturbed area for each metre of fence, m2/m (10,000 ft2 for 100 ft)."""


@dataclass(frozen=True, slots=True)
class SiltFenceLimit:
    """What a silt fence may take on ground from some slope up to the next row's.

    Attributes
    ----------
    from_slope
        Slope, rise/run, from which it holds.
    area_per_metre_m2
        Area that may drain to each metre of fence, m2/m.
    source
        Where the number comes from.
    """

    from_slope: float
    area_per_metre_m2: float
    source: str


SILT_FENCE_LIMITS: tuple[SiltFenceLimit, ...] = (
    SiltFenceLimit(0.0, 0.5 * _ACRE_M2 / _FENCE_M, "state table by slope: 0.5 acre per 100 ft"),
    SiltFenceLimit(0.02, 0.25 * _ACRE_M2 / _FENCE_M, "state table by slope: 0.25 acre per 100 ft"),
    # One printed copy of this row says 1.125 acre, more than on flat ground: a misprint.
    SiltFenceLimit(
        0.20, 0.125 * _ACRE_M2 / _FENCE_M, "state table by slope: 0.125 acre per 100 ft"
    ),
)
"""Limits by slope, gentle first; a slope that stands in two rows takes the stricter."""
STEEPEST_SLOPE = 0.5
"""Slope beyond which a silt fence is no answer (2 to 1)."""


def silt_fence_limit(slope: float) -> SiltFenceLimit | None:
    """Limit that holds for a slope.

    Parameters
    ----------
    slope
        Rise over run of the ground above the fence, at least 0.

    Returns
    -------
    SiltFenceLimit or None
        None where the ground is steeper than a silt fence may serve, or its slope not known.

    Examples
    --------
    >>> silt_fence_limit(0.10).from_slope
    0.02
    >>> silt_fence_limit(0.6) is None
    True
    """
    if not 0.0 <= slope <= STEEPEST_SLOPE:
        return None
    return [row for row in SILT_FENCE_LIMITS if row.from_slope <= slope][-1]


def longest_contributing_slope(slope: float) -> float | None:
    """Longest slope that may drain to a straight fence: the area limit, and 100 ft at most.

    Parameters
    ----------
    slope
        Rise over run of the ground above the fence.

    Returns
    -------
    float or None
        Length along the fall of the ground, m; None where a silt fence is no answer.

    Examples
    --------
    >>> longest_contributing_slope(0.10)
    30.48
    """
    limit = silt_fence_limit(slope)
    return None if limit is None else min(limit.area_per_metre_m2, LONGEST_SLOPE_M)


def least_fence_length(disturbed_m2: float, draining_m2: float, slope: float) -> float | None:
    """Least length of silt fence for a disturbed area and the ground that drains through it.

    The longer of the EPA rule of thumb on the disturbed area and the limit by slope on the
    draining area.

    Parameters
    ----------
    disturbed_m2
        Bare area, m2.
    draining_m2
        Area whose runoff reaches the fence, the bare area with it, m2.
    slope
        Rise over run of the ground above the fence.

    Returns
    -------
    float or None
        Length, m; None where a silt fence is no answer.

    Raises
    ------
    ValueError
        If an area is negative or not known.

    Examples
    --------
    >>> round(least_fence_length(325.16, 325.16, 0.10) / 0.3048, 1)
    35.0
    """
    if not (disturbed_m2 >= 0.0 and draining_m2 >= 0.0):
        raise ValueError("areas are at least 0")
    limit = silt_fence_limit(slope)
    if limit is None:
        return None
    return max(disturbed_m2 / DISTURBED_AREA_PER_FENCE_M, draining_m2 / limit.area_per_metre_m2)
