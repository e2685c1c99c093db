"""Points and rays on a rectangle round the origin."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

__all__ = ["edge_rays", "floor_points", "outline_points"]

Floats = NDArray[np.float64]


def outline_points(length_m: float, width_m: float, step_m: float) -> Floats:
    """Points on the outline of a rectangle round the origin, counter-clockwise.

    Parameters
    ----------
    length_m, width_m : float
        Sides along x and y, m.
    step_m : float
        Greatest distance between neighbours, m. Corners are always points.

    Returns
    -------
    ndarray, shape (n, 2)
        Each point once.

    Examples
    --------
    >>> outline_points(2.0, 1.0, 5.0).tolist()
    [[-1.0, -0.5], [1.0, -0.5], [1.0, 0.5], [-1.0, 0.5]]
    """
    a, b = length_m / 2.0, width_m / 2.0
    corners = np.array([[-a, -b], [a, -b], [a, b], [-a, b], [-a, -b]])
    sides = []
    for start, end, long_m in zip(
        corners[:-1], corners[1:], (length_m, width_m, length_m, width_m), strict=True
    ):
        pieces = max(int(np.ceil(long_m / step_m - 1e-9)), 1)
        sides.append(start + np.arange(pieces)[:, None] / pieces * (end - start))
    return np.vstack(sides)


def floor_points(length_m: float, width_m: float, step_m: float) -> Floats:
    """Points all over a rectangle round the origin, its edges and corners included.

    Parameters
    ----------
    length_m, width_m : float
        Sides along x and y, m.
    step_m : float
        Greatest distance between neighbours along a side, m.

    Returns
    -------
    ndarray, shape (n, 2)
        Row by row.

    Examples
    --------
    >>> floor_points(2.0, 1.0, 1.0).tolist()[:3]
    [[-1.0, -0.5], [0.0, -0.5], [1.0, -0.5]]
    """
    along = np.linspace(-0.5, 0.5, int(np.ceil(length_m / step_m - 1e-9)) + 1) * length_m
    across = np.linspace(-0.5, 0.5, int(np.ceil(width_m / step_m - 1e-9)) + 1) * width_m
    x, y = np.meshgrid(along, across)
    return np.column_stack([x.ravel(), y.ravel()])


def edge_rays(length_m: float, width_m: float, step_m: float, fan_deg: float) -> Floats:
    """Normals on the edge of a rectangle round the origin, with a fan at each corner.

    Parameters
    ----------
    length_m, width_m : float
        Sides along x and y, m.
    step_m : float
        Greatest distance between normals on a side, m.
    fan_deg : float
        Greatest angle between the rays of a fan, degrees.

    Returns
    -------
    ndarray, shape (n, 4)
        Start x, y and unit direction x, y, counter-clockwise. No two rays cross, so the points
        at any distances along them make a simple polygon.

    Examples
    --------
    >>> edge_rays(2.0, 1.0, 5.0, 90.0).round(6)[:2].tolist()
    [[-1.0, -0.5, 0.0, -1.0], [1.0, -0.5, 0.0, -1.0]]
    """
    a, b = length_m / 2.0, width_m / 2.0
    corners = [(-a, -b), (a, -b), (a, b), (-a, b)]
    fans = int(np.ceil(90.0 / fan_deg - 1e-9))
    rays = []
    for side in range(4):
        (x0, y0), (x1, y1) = corners[side], corners[(side + 1) % 4]
        pieces = max(int(np.ceil(np.hypot(x1 - x0, y1 - y0) / step_m - 1e-9)), 1)
        turn = radians(90.0 * side - 90.0)
        for k in range(pieces):
            part = k / pieces
            rays.append((x0 + part * (x1 - x0), y0 + part * (y1 - y0), cos(turn), sin(turn)))
        for k in range(fans):
            fan = turn + radians(90.0 * k / fans)
            rays.append((x1, y1, cos(fan), sin(fan)))
    return np.array(rays)
