"""A pit dug at a place: its rim, and where its sides meet the ground."""

from __future__ import annotations

from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import LOOP, PART
from geo_site.outlines.levels import Surface, level_at

__all__ = ["Pit", "pit_edge", "screen_pits"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ray = tuple[float, float, float, float]  # start x, y, direction x, y
Pose = tuple[float, float, float, float]  # centre x, y, cosine and sine of the rotation

_MARCH_M = 0.1  # step outward before halving: a tenth of a lidar cell
_HALVINGS = 17  # 0.1 m down to a micrometre
_FAR_M = 60.0  # a side that long meets no ground that matters


class Pit(NamedTuple):
    """A pit of one size, turned to no direction yet.

    Attributes
    ----------
    outline : ndarray, shape (n, 2)
        Points on the outline of what stands in it; the lowest ground there is its rim.
    floor : ndarray, shape (n, 2)
        Points all over its floor.
    rays : ndarray, shape (n, 4)
        Points x, y on the floor's edge and the directions outward, counter-clockwise.
    depth_m : float
        From rim to floor.
    batter : float
        Sides, horizontal per vertical.
    """

    outline: Floats
    floor: Floats
    rays: Floats
    depth_m: float
    batter: float


@numba.njit(**PART)
def _turned(ray: Floats, pose: Pose) -> Ray:
    """Start and direction of a pit's ray at a place."""
    x, y, c, s = pose
    u, v, p, q = ray
    return x + u * c - v * s, y + u * s + v * c, p * c - q * s, p * s + q * c


@numba.njit(**PART)
def _day_light(surface: Surface, ray: Ray, floor_m: float, batter: float) -> float:
    """Distance along a ray at which the side comes out of the ground, NaN where not known."""
    x, y, east, north = ray
    gap = floor_m - level_at(surface, x, y)
    if np.isnan(gap):
        return np.nan
    if gap >= 0.0 or batter <= 0.0:
        return 0.0
    inner, outer = 0.0, 0.0
    while gap < 0.0:
        inner, outer = outer, outer + _MARCH_M
        gap = floor_m + outer / batter - level_at(surface, x + outer * east, y + outer * north)
        if np.isnan(gap) or outer > _FAR_M:
            return np.nan
    for _ in range(_HALVINGS):
        middle = 0.5 * (inner + outer)
        if floor_m + middle / batter >= level_at(surface, x + middle * east, y + middle * north):
            outer = middle
        else:
            inner = middle
    return outer


@numba.njit(**PART)
def _range_at(surface: Surface, points: Floats, pose: Pose) -> tuple[float, float]:
    """Lowest and highest level at turned and moved points; NaN twice if one is not known."""
    x, y, c, s = pose
    low, high = np.inf, -np.inf
    for k in range(points.shape[0]):
        u, v = points[k, 0], points[k, 1]
        level = level_at(surface, x + u * c - v * s, y + u * s + v * c)
        if np.isnan(level):
            return np.nan, np.nan
        low, high = min(low, level), max(high, level)
    return low, high


@numba.njit(**LOOP)
def pit_edge(
    surface: Surface, pit: Pit, x: float, y: float, rotation_rad: float
) -> tuple[float, float, Floats]:
    """Dig a pit at a place: its rim, the rise of the ground over its floor, its edge.

    Parameters
    ----------
    surface : Surface
        The ground.
    pit : Pit
        The pit.
    x, y : float
        Its centre, m.
    rotation_rad : float
        Of its length, counter-clockwise from east.

    Returns
    -------
    rim_m : float
        Lowest ground on the outline, m.
    rise_m : float
        Highest less lowest ground over the pit floor, m.
    edge : ndarray, shape (n, 2)
        Where the sides meet the ground, one point for each ray.
        NaN stands where the ground is not known.
    """
    c, s = np.cos(rotation_rad), np.sin(rotation_rad)
    rim_m, _ = _range_at(surface, pit.outline, (x, y, c, s))
    low_m, high_m = _range_at(surface, pit.floor, (x, y, c, s))
    edge = np.empty((pit.rays.shape[0], 2))
    for k in range(pit.rays.shape[0]):
        ray = _turned(pit.rays[k], (x, y, c, s))
        d = _day_light(surface, ray, rim_m - pit.depth_m, pit.batter)
        edge[k, 0], edge[k, 1] = ray[0] + d * ray[2], ray[1] + d * ray[3]
    return rim_m, high_m - low_m, edge


@numba.njit(**LOOP)
def screen_pits(
    surface: Surface, room: Surface, pit: Pit, places: Floats, greatest_rise_m: float
) -> Bools:
    """Reject pits that cannot pass an exact test, quickly.

    Parameters
    ----------
    surface : Surface
        The ground.
    room : Surface
        1 in every cell that free ground so much as touches, and in the cells next to those; 0
        elsewhere. What falls on 0 lies outside the free ground for certain.
    pit : Pit
        The pit; the order of its points and rays is the order of the tests.
    places : ndarray, shape (n, 3)
        Centre x, y (m) and rotation (rad).
    greatest_rise_m : float
        Largest rise of the ground over the floor, m.

    Returns
    -------
    ndarray of bool, shape (n,)
        False only where a point of the edge lies off the room, the rise is too large, or the
        ground is not known.
    """
    kept = np.ones(places.shape[0], np.bool_)
    for i in range(places.shape[0]):
        x, y = places[i, 0], places[i, 1]
        c, s = np.cos(places[i, 2]), np.sin(places[i, 2])
        pose = (x, y, c, s)
        kept[i] = (
            _is_gentle(surface, pit.floor[:4], pose, greatest_rise_m)
            and _is_in_room(surface, room, pit, pose)
            and _is_gentle(surface, pit.floor, pose, greatest_rise_m)
        )
    return kept


@numba.njit(**PART)
def _is_gentle(surface: Surface, points: Floats, pose: Pose, most_m: float) -> bool:
    """Whether levels at turned and moved points are known and differ by no more than that."""
    x, y, c, s = pose
    low, high = np.inf, -np.inf
    for k in range(points.shape[0]):
        u, v = points[k, 0], points[k, 1]
        level = level_at(surface, x + u * c - v * s, y + u * s + v * c)
        low, high = min(low, level), max(high, level)
        if np.isnan(level) or high - low > most_m:
            return False
    return True


@numba.njit(**PART)
def _is_in_room(surface: Surface, room: Surface, pit: Pit, pose: Pose) -> bool:
    """Whether the edge of the pit is known and no point of it lies off the room."""
    rim_m, _ = _range_at(surface, pit.outline, pose)
    if np.isnan(rim_m):
        return False
    for k in range(pit.rays.shape[0]):
        ray = _turned(pit.rays[k], pose)
        d = _day_light(surface, ray, rim_m - pit.depth_m, pit.batter)
        if np.isnan(d) or not _is_on(room, ray[0] + d * ray[2], ray[1] + d * ray[3]):
            return False
    return True


@numba.njit(**PART)
def _is_on(room: Surface, x: float, y: float) -> bool:
    column = int(np.floor((x - room.west_m) / room.cell_width_m))
    row = int(np.floor((room.north_m - y) / room.cell_height_m))
    rows, columns = room.levels_m.shape
    if row < 0 or column < 0 or row >= rows or column >= columns:
        return False
    return bool(room.levels_m[row, column] > 0)
