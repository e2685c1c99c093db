"""The liner's edge along both banks against the ground there.

The edge must stand over the highest water that the range of roughness allows, by the freeboard.
A bank is the ground beside the bed, or the crown of the berm where the bed stands on one; where
the bank is lower than the edge must be, it has to be raised.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from geo_site.layout import Layout
from geo_site.raster import Raster
from geo_site.water.profile import Profile
from geo_site.water.stations import bed_width
from geo_site.water.stream_records import Flag

__all__ = ["Liner", "liner_along"]

Floats = NDArray[np.float64]

_FAR_M = 10.0
_AHEAD_M = 0.05
_ROUNDING_M = 0.005


@dataclass(frozen=True, kw_only=True)
class Liner:
    """The liner's edge and the banks.

    Attributes
    ----------
    station_m : ndarray, shape (n,)
        As in the profile.
    level_m : ndarray, shape (n,)
        Level that the edge must reach on both banks.
    left_bank_m, right_bank_m : ndarray, shape (n,)
        Level of the bank, looking downstream; NaN where the terrain has no data.
    left_raise_m, right_raise_m : ndarray, shape (n,)
        How much the bank is to be raised; 0 for none, NaN where that is not known.
    low_length_m : float
        Length of bank, left and right together, that is to be raised.
    unknown_length_m : float
        Length of bank without terrain data.
    greatest_raise_m : float
        Most that it is raised.
    flags : tuple of Flag
        Empty where the banks are high enough.
    """

    station_m: Floats
    level_m: Floats
    left_bank_m: Floats
    right_bank_m: Floats
    left_raise_m: Floats
    right_raise_m: Floats
    low_length_m: float
    unknown_length_m: float
    greatest_raise_m: float
    flags: tuple[Flag, ...]


def liner_along(profile: Profile, layout: Layout, ground: Raster) -> Liner:
    """Compare the liner's edge with the banks.

    Parameters
    ----------
    profile : Profile
        Of the running water.
    layout : Layout
        Its alignment and bed.
    ground : Raster
        Levels of the terrain.

    Returns
    -------
    Liner
        Nothing of the layout is changed by it.
    """
    centre, aside = _across(profile, layout)
    crown_m = np.where(profile.sill_m > profile.ground_m, profile.sill_m, -np.inf)
    banks_m = []
    for side in (aside, -aside):
        edge = centre + side * _half_width(centre, side, layout)[:, np.newaxis]
        banks_m.append(np.maximum(ground.sample(edge), crown_m))
    left_m, right_m = banks_m
    raises_m = [np.maximum(profile.liner_left_m - bank_m, 0.0) for bank_m in banks_m]
    shares_m = _shares(profile.station_m)
    low_m = sum(float(shares_m[high_m > _ROUNDING_M].sum()) for high_m in raises_m)
    unknown_m = sum(float(shares_m[np.isnan(bank_m)].sum()) for bank_m in banks_m)
    most_m = float(np.nanmax(np.append(np.concatenate(raises_m), 0.0)))
    return Liner(
        station_m=profile.station_m,
        level_m=profile.liner_left_m,
        left_bank_m=left_m,
        right_bank_m=right_m,
        left_raise_m=raises_m[0],
        right_raise_m=raises_m[1],
        low_length_m=low_m,
        unknown_length_m=unknown_m,
        greatest_raise_m=most_m,
        flags=_flags(low_m, unknown_m, most_m),
    )


def _across(profile: Profile, layout: Layout) -> tuple[Floats, Floats]:
    """Points on the alignment, and unit vectors to its left."""
    line, length_m = layout.alignment, float(layout.alignment.length)
    back_m = np.clip(profile.station_m - _AHEAD_M, 0.0, length_m)
    ahead_m = np.clip(profile.station_m + _AHEAD_M, 0.0, length_m)
    centre, back, ahead = (
        shapely.get_coordinates(shapely.line_interpolate_point(line, at_m))
        for at_m in (profile.station_m, back_m, ahead_m)
    )
    along = (ahead - back) / np.hypot(*(ahead - back).T)[:, np.newaxis]
    return centre, np.column_stack([-along[:, 1], along[:, 0]])


def _half_width(centre: Floats, side: Floats, layout: Layout) -> Floats:
    """Distance from the alignment to the bed's edge, at least half of the bed's mean width."""
    rays = shapely.linestrings(np.stack([centre, centre + _FAR_M * side], axis=1))
    edges = shapely.intersection(rays, layout.bed.boundary)
    out_m = shapely.distance(shapely.points(centre), edges)
    return np.fmax(out_m, bed_width(layout) / 2.0)


def _shares(station_m: Floats) -> Floats:
    """Length that each station stands for (trapezoidal rule)."""
    half_m = np.diff(station_m) / 2.0
    return np.asarray(np.pad(half_m, (0, 1)) + np.pad(half_m, (1, 0)))


def _flags(low_m: float, unknown_m: float, most_m: float) -> tuple[Flag, ...]:
    told = []
    if low_m > 0.0:
        told.append(
            Flag(
                kind="low_bank",
                place="banks",
                sentence=f"{low_m:.1f} m of bank (left and right together) lie lower than the "
                f"liner's edge must be, by up to {most_m:.2f} m: raise them.",
            )
        )
    if unknown_m > 0.0:
        told.append(
            Flag(
                kind="unknown_bank",
                place="banks",
                sentence=f"{unknown_m:.1f} m of bank have no terrain data: their height is "
                "unknown.",
            )
        )
    return tuple(told)
