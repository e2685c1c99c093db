"""Rain that a place must expect: depth by duration and return period.

Question
    How much rain falls in this time, once in so many years?
In
    A table of depths by duration and return period, as weather services publish; times in
    seconds, depths in metres, return periods in years.
Out
    Depths and intensities between the table's own figures, never beyond them; chances.
Method
    Between durations the logarithm of the depth is linear in the logarithm of the duration;
    between return periods the depth is linear in the logarithm of the return period. Tables of
    a partial duration series count every heavy storm, those of annual maxima only the heaviest
    of each year; the two differ for short return periods and are turned into each other by
    Langbein's relation.
Reference
    NOAA Atlas 14, Precipitation-Frequency Atlas of the United States; Frederick, Myers and
    Auciello (1977), NOAA Technical Memorandum NWS HYDRO-35; Langbein (1949), Annual floods and
    the partial-duration flood series, Transactions of the American Geophysical Union 30.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

__all__ = [
    "DAY_S",
    "RainfallTable",
    "Series",
    "annual_maximum_years",
    "chance_in_years",
    "depth_of_10_minutes",
    "depth_of_10_years",
    "depth_of_25_years",
    "depth_of_30_minutes",
    "partial_duration_years",
]

Series = Literal["partial_duration", "annual_maximum", "unknown"]
Rows = tuple[tuple[float, ...], ...]

DAY_S = 86_400.0
"""Seconds of a day."""


@dataclass(frozen=True, kw_only=True)
class RainfallTable:
    """Depths of rain by duration and return period.

    Attributes
    ----------
    durations_s : tuple of float
        Rising.
    return_years : tuple of float
        Rising, in the table's own series.
    depths_m : tuple of tuple of float
        A row for each duration, a depth for each return period; no depth falls with either.
    series : {"partial_duration", "annual_maximum", "unknown"}
        Which storms were counted.
    lower_m, upper_m : tuple of tuple of float
        Ends of the confidence interval in the same form; empty where not given.
    source : str
        What the table says of itself.
    notes : tuple of str
        What was left out or changed, a sentence each.
    """

    durations_s: tuple[float, ...]
    return_years: tuple[float, ...]
    depths_m: Rows
    series: Series = "unknown"
    lower_m: Rows = ()
    upper_m: Rows = ()
    source: str = ""
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a table that cannot be read between its figures."""
        depths_m = np.array(self.depths_m, dtype=float)
        if depths_m.shape != (len(self.durations_s), len(self.return_years)) or not depths_m.size:
            raise ValueError("a rainfall table has a depth for each duration and return period")
        for axis in (self.durations_s, self.return_years):
            if not (np.diff(axis) > 0.0).all() or not axis[0] > 0.0:
                raise ValueError("durations and return periods rise, and are greater than 0")
        if not (np.isfinite(depths_m).all() and (depths_m > 0.0).all()):
            raise ValueError("every depth is a number greater than 0")
        if (np.diff(depths_m, axis=0) < 0.0).any() or (np.diff(depths_m, axis=1) < 0.0).any():
            raise ValueError("depths do not fall with duration or return period")

    def holds(self, duration_s: float, return_years: float) -> bool:
        """Whether a duration and a return period lie within the table.

        Parameters
        ----------
        duration_s : float
            Duration, s.
        return_years : float
            Return period in the table's own series.

        Returns
        -------
        bool
            False outside: nothing is guessed there.
        """
        return (
            self.durations_s[0] <= duration_s <= self.durations_s[-1]
            and self.return_years[0] <= return_years <= self.return_years[-1]
        )

    def depth(self, duration_s: float, return_years: float) -> float:
        """Depth of rain in a time, once in so many years.

        Parameters
        ----------
        duration_s : float
            Duration, s.
        return_years : float
            Return period in the table's own series.

        Returns
        -------
        float
            Depth, m.

        Raises
        ------
        ValueError
            Outside the table.

        Examples
        --------
        >>> table = RainfallTable(
        ...     durations_s=(900.0, 1800.0), return_years=(10.0,), depths_m=((1.0,), (1.4,)))
        >>> round(table.depth(1200.0, 10.0), 4)
        1.1499
        """
        if not self.holds(duration_s, return_years):
            raise ValueError(
                f"{duration_s:g} s and {return_years:g} years lie outside the rainfall table"
            )
        at = math.log(duration_s)
        times = np.log(self.durations_s)
        columns = np.log(np.array(self.depths_m, dtype=float))
        depths_m = [math.exp(np.interp(at, times, column)) for column in columns.T]
        return float(np.interp(math.log(return_years), np.log(self.return_years), depths_m))

    def intensity(self, duration_s: float, return_years: float) -> float:
        """Mean intensity of rain over a time: depth over duration.

        Parameters
        ----------
        duration_s : float
            Duration, s.
        return_years : float
            Return period in the table's own series.

        Returns
        -------
        float
            Intensity, m/s.

        Raises
        ------
        ValueError
            Outside the table.
        """
        return self.depth(duration_s, return_years) / duration_s


def depth_of_10_minutes(depth_5_m: float, depth_15_m: float) -> float:
    """Rain of 10 minutes from that of 5 and of 15, `P10 = 0.41 P5 + 0.59 P15`.

    Parameters
    ----------
    depth_5_m, depth_15_m : float
        Depths of 5 and of 15 minutes, m; any unit will do, the same for both.

    Returns
    -------
    float
        Depth of 10 minutes, in the same unit.

    References
    ----------
    NWS HYDRO-35 (1977).

    Examples
    --------
    >>> round(depth_of_10_minutes(0.50, 1.00), 3)
    0.795
    """
    return 0.41 * depth_5_m + 0.59 * depth_15_m


def depth_of_30_minutes(depth_15_m: float, depth_60_m: float) -> float:
    """Rain of 30 minutes from that of 15 and of 60, `P30 = 0.51 P15 + 0.49 P60`.

    Parameters
    ----------
    depth_15_m, depth_60_m : float
        Depths of 15 and of 60 minutes, m; any unit will do, the same for both.

    Returns
    -------
    float
        Depth of 30 minutes, in the same unit.

    References
    ----------
    NWS HYDRO-35 (1977).

    Examples
    --------
    >>> round(depth_of_30_minutes(1.00, 2.00), 3)
    1.49
    """
    return 0.51 * depth_15_m + 0.49 * depth_60_m


def depth_of_10_years(depth_2_m: float, depth_100_m: float) -> float:
    """Rain of 10 years from that of 2 and of 100, `P10 = 0.496 P2 + 0.449 P100`.

    Parameters
    ----------
    depth_2_m, depth_100_m : float
        Depths of one duration, m; any unit will do, the same for both.

    Returns
    -------
    float
        Depth of 10 years, in the same unit.

    References
    ----------
    NWS HYDRO-35 (1977), from memory.

    Examples
    --------
    >>> round(depth_of_10_years(1.0, 2.0), 3)
    1.394
    """
    return 0.496 * depth_2_m + 0.449 * depth_100_m


def depth_of_25_years(depth_2_m: float, depth_100_m: float) -> float:
    """Rain of 25 years from that of 2 and of 100, `P25 = 0.293 P2 + 0.669 P100`.

    Parameters
    ----------
    depth_2_m, depth_100_m : float
        Depths of one duration, m; any unit will do, the same for both.

    Returns
    -------
    float
        Depth of 25 years, in the same unit.

    References
    ----------
    NWS HYDRO-35 (1977), from memory.

    Examples
    --------
    >>> round(depth_of_25_years(1.0, 2.0), 3)
    1.631
    """
    return 0.293 * depth_2_m + 0.669 * depth_100_m


def partial_duration_years(annual_years: float) -> float:
    """Return period among all storms of one among annual maxima, `1 / ln(T / (T - 1))`.

    Parameters
    ----------
    annual_years : float
        Return period of an annual maximum, greater than 1.

    Returns
    -------
    float
        Return period in the partial duration series, years.

    Raises
    ------
    ValueError
        Not greater than 1.

    References
    ----------
    Langbein (1949).

    Examples
    --------
    >>> round(partial_duration_years(2.0), 3)
    1.443
    """
    if not annual_years > 1.0:
        raise ValueError("an annual maximum returns in more than one year")
    return -1.0 / math.log1p(-1.0 / annual_years)


def annual_maximum_years(partial_years: float) -> float:
    """Return period among annual maxima of one among all storms, `1 / (1 - exp(-1 / T))`.

    Parameters
    ----------
    partial_years : float
        Return period in the partial duration series, greater than 0.

    Returns
    -------
    float
        Return period among annual maxima, years.

    Raises
    ------
    ValueError
        Not greater than 0.

    References
    ----------
    Langbein (1949).

    Examples
    --------
    >>> round(annual_maximum_years(1.0), 3)
    1.582
    """
    if not partial_years > 0.0:
        raise ValueError("a return period is greater than 0")
    return -1.0 / math.expm1(-1.0 / partial_years)


def chance_in_years(annual_years: float, years: int) -> float:
    """Chance that an event comes at least once, `1 - (1 - 1/T)^n`.

    Parameters
    ----------
    annual_years : float
        Return period of an annual maximum, at least 1.
    years : int
        Years waited, at least 0.

    Returns
    -------
    float
        0 to 1.

    Raises
    ------
    ValueError
        A return period under 1 or years under 0.

    Examples
    --------
    >>> round(chance_in_years(100.0, 30), 4)
    0.2603
    """
    if not (annual_years >= 1.0 and years >= 0):
        raise ValueError("a return period is at least 1 year, and years are at least 0")
    return 1.0 - float((1.0 - 1.0 / annual_years) ** years)
