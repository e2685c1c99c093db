"""Where a silt fence can stand below the bare soil."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import linemerge

from geo_site import erosion
from geo_site.earthwork.records import EarthworkParameters
from geo_site.raster import Raster, as_multipolygon

__all__ = ["FenceGround", "find_fence"]

FloatArray = NDArray[np.float64]

_STEP_M = 0.25
_LEVEL_SLOPE = 0.005  # flatter ground has no downslope side: water may leave on all sides
_FEET_PER_M = 1.0 / 0.3048


@dataclass(frozen=True, kw_only=True)
class FenceGround:
    """Where a fence may stand.

    Attributes
    ----------
    ground : Raster
        Ground level, m.
    free : shapely geometry
        Ground open to the fence, works taken out.
    flow : shapely geometry
        Where storm water gathers: a fence stops short of it.
    """

    ground: Raster
    free: BaseGeometry
    flow: BaseGeometry


def find_fence(
    bare: BaseGeometry, fence_ground: FenceGround, parameters: EarthworkParameters
) -> tuple[LineString | None, tuple[str, ...]]:
    """Draw the silt fence below bare soil: its outline set off, on the downslope side.

    The arc goes round to half the height of the outline on both sides, so its ends turn
    upslope, and further where the rule of thumb asks for more length. Where the bare soil lies
    in parts, each has its arc; the longest piece that can stand is given. Water from above the
    bare soil is not counted.

    Parameters
    ----------
    bare : shapely geometry
        Pile and excavation.
    fence_ground : FenceGround
        Where it may stand.
    parameters : EarthworkParameters
        Its distance.

    Returns
    -------
    LineString or None
        None where none can stand.
    tuple of str
        What is not as it should be, a sentence each.

    References
    ----------
    EPA NPDES fact sheet Silt Fences (2012); limits by slope as in ``geo_site.erosion``.
    """
    flags: list[str] = []
    pieces: list[LineString] = []
    wanted_m = 0.0
    for part in as_multipolygon(bare.buffer(parameters.fence_offset)).geoms:
        soil = bare.intersection(part)
        gradient = _gradient(part, fence_ground.ground)
        least_m = erosion.least_fence_length(soil.area, soil.area, float(np.hypot(*gradient)))
        if least_m is None:
            flags.append("Ground below the bare soil is too steep for a silt fence.")
            continue
        flags.extend(_slope_flags(soil, gradient))
        wanted_m += least_m
        arc = _downslope_arc(part, gradient, least_m)
        stands, gaps = _standing(arc, fence_ground)
        flags.extend(gaps)
        pieces.extend(stands)
    if not pieces:
        return None, (*dict.fromkeys(flags), "No silt fence can stand below the bare soil.")
    longest = max(pieces, key=lambda piece: piece.length)
    if longest.length < wanted_m:
        flags.append(
            f"The silt fence drawn is {longest.length:.1f} m long; the rule of thumb of 100 ft "
            f"for 10,000 ft2 of bare soil asks for {wanted_m:.1f} m."
        )
    return longest, tuple(dict.fromkeys(flags))


def _gradient(part: Polygon, ground: Raster) -> FloatArray:
    """Rise per metre towards east and north: a plane through the levels along the outline."""
    xy = _ring(part)
    levels_m = ground.sample(xy)
    known = np.isfinite(levels_m)
    if np.count_nonzero(known) < 3:
        return np.zeros(2)
    offsets = xy[known] - xy[known].mean(axis=0)
    rises = levels_m[known] - levels_m[known].mean()
    fitted: FloatArray = np.linalg.lstsq(offsets, rises, rcond=None)[0]
    return fitted


def _ring(part: Polygon) -> FloatArray:
    ring = part.exterior
    count = max(int(ring.length / _STEP_M), 12)
    along_m = np.arange(count) * (ring.length / count)
    points: FloatArray = shapely.get_coordinates(shapely.line_interpolate_point(ring, along_m))
    return points


def _slope_flags(soil: BaseGeometry, gradient: FloatArray) -> list[str]:
    slope = float(np.hypot(*gradient))
    longest_m = erosion.longest_contributing_slope(slope)
    if slope <= 0.0 or longest_m is None:
        return []
    down = shapely.get_coordinates(soil) @ (gradient / slope)
    if float(np.ptp(down)) <= longest_m:
        return []
    return [
        f"The bare soil is {np.ptp(down):.0f} m long downslope, more than the {longest_m:.0f} m "
        "that may drain to one silt fence."
    ]


def _downslope_arc(part: Polygon, gradient: FloatArray, least_m: float) -> LineString:
    """The lower half of a ring, or more of it until it is long enough, lowest point midway."""
    xy = _ring(part)
    slope = float(np.hypot(*gradient))
    heights = xy @ gradient
    lowest = int(np.argmin(heights))
    xy, heights = np.roll(xy, -lowest, axis=0), np.roll(heights, -lowest)
    step_m = part.exterior.length / len(xy)
    if slope < _LEVEL_SLOPE:
        return LineString(np.vstack([xy, xy[:1]]))
    below = heights <= (heights.min() + heights.max()) / 2.0
    ahead = int(np.argmin(below)) - 1  # the last point of the first run that is below
    behind = int(np.argmin(below[::-1]))
    short = math.ceil(max(least_m - (ahead + behind) * step_m, 0.0) / (2.0 * step_m))
    ahead, behind = ahead + short, behind + short
    if ahead + behind >= len(xy):
        return LineString(np.vstack([xy, xy[:1]]))
    return LineString(np.vstack([xy[len(xy) - behind :], xy[: ahead + 1]]))


def _standing(arc: LineString, fence_ground: FenceGround) -> tuple[list[LineString], list[str]]:
    dry = arc.difference(fence_ground.flow)
    stands = dry.intersection(fence_ground.free)
    flags = []
    if dry.length < arc.length:
        flags.append(
            "The silt fence leaves a gap where storm water gathers: no fence stands in "
            "concentrated flow; lead that water round the bare soil."
        )
    if stands.length < dry.length * (1.0 - 1e-9):
        flags.append("The silt fence leaves a gap where it may not stand or a work crosses it.")
    return _lines(stands), flags


def _lines(geometry: BaseGeometry) -> list[LineString]:
    parts = [part for part in getattr(geometry, "geoms", [geometry]) if part.length > 0.0]
    merged = linemerge([part for part in parts if isinstance(part, LineString)])
    return [part for part in getattr(merged, "geoms", [merged]) if part.length > 0.0]
