"""Level and volume of a basin, both ways."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

__all__ = ["Band", "BasinCurve", "curve_of"]

_NO_AREA_M2 = 1e-6


@dataclass(frozen=True, kw_only=True)
class Band:
    """A part of the basin that holds the same water for each metre of depth.

    Attributes
    ----------
    bottom_m, top_m : float
        Levels between which it lies.
    net_m2 : float
        Water for each metre of depth: plan area times voids.
    """

    bottom_m: float
    top_m: float
    net_m2: float


@dataclass(frozen=True, kw_only=True)
class BasinCurve:
    """Volume by level: straight between the levels at which the net area changes.

    Attributes
    ----------
    levels_m : tuple of float
        Rising, from the lowest floor to where the basin overflows.
    volumes_m3 : tuple of float
        Water up to each of these levels, rising from 0.
    """

    levels_m: tuple[float, ...]
    volumes_m3: tuple[float, ...]

    def __post_init__(self) -> None:
        if not (len(self.levels_m) == len(self.volumes_m3) >= 2 and self.volumes_m3[0] == 0.0):
            raise ValueError("a basin has at least two levels, and none of its water at the first")
        if np.any(np.diff(self.levels_m) <= 0.0) or np.any(np.diff(self.volumes_m3) <= 0.0):
            raise ValueError("levels and volumes of a basin rise together")

    @property
    def capacity_m3(self) -> float:
        """Water when it is about to overflow, m3."""
        return self.volumes_m3[-1]

    @property
    def overflow_m(self) -> float:
        """Level at which it overflows, m."""
        return self.levels_m[-1]

    def volume_of(self, level_m: float) -> float:
        """Water up to a level.

        Parameters
        ----------
        level_m : float
            Level, m.

        Returns
        -------
        float
            Volume, m3: 0 below the floor, the capacity above the overflow.
        """
        return float(np.interp(level_m, self.levels_m, self.volumes_m3))

    def level_of(self, volume_m3: float) -> float:
        """Level of a volume.

        Parameters
        ----------
        volume_m3 : float
            Volume, m3.

        Returns
        -------
        float
            Level, m: the floor for nothing or less, the overflow for the capacity or more.
        """
        return float(np.interp(volume_m3, self.volumes_m3, self.levels_m))


def curve_of(bands: Sequence[Band]) -> BasinCurve:
    """Add up the parts of a basin.

    Parameters
    ----------
    bands : sequence of Band
        Parts, beside or above each other, without a gap in level; parts of less area than a
        pinhead are left out.

    Returns
    -------
    BasinCurve
        Of all together.

    Raises
    ------
    ValueError
        If nothing holds water, or there is a gap between the parts.

    Examples
    --------
    >>> units = Band(bottom_m=10.0, top_m=10.5, net_m2=4.0)
    >>> chamber = Band(bottom_m=9.5, top_m=10.5, net_m2=1.0)
    >>> curve_of([units, chamber]).volumes_m3
    (0.0, 0.5, 3.0)
    """
    held = [b for b in bands if b.top_m > b.bottom_m and b.net_m2 > _NO_AREA_M2]
    levels_m = sorted({level for band in held for level in (band.bottom_m, band.top_m)})
    volumes_m3 = [0.0]
    for low_m, high_m in pairwise(levels_m):
        net_m2 = sum(b.net_m2 for b in held if b.bottom_m <= low_m and high_m <= b.top_m)
        volumes_m3.append(volumes_m3[-1] + net_m2 * (high_m - low_m))
    return BasinCurve(levels_m=tuple(levels_m), volumes_m3=tuple(volumes_m3))
