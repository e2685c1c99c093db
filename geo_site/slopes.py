"""Slope and aspect of the ground on a grid of levels.

Question
    How steeply does the ground fall at each cell, and which way?
In
    Levels in metres, rows from north to south, NaN where not known; cell sizes in metres.
Out
    Gradients (rise over run, towards east and north), slope (rise/run), aspect (degrees
    clockwise from north, of the way down).
Method
    Horn's weighted differences over the eight neighbours, which are the weighted least-squares
    plane through the centre cell; where neighbours are missing, the same plane on those left.
Reference
    Horn, B. K. P. (1981), Hill shading and the reflectance map, Proc. IEEE 69(1), 14-47.
"""

import math

import numpy as np
import numpy.typing as npt
from scipy import ndimage

FloatArray = npt.NDArray[np.float64]

# Offsets to the neighbours (columns east, rows north) and Horn's weights.
_NEIGHBOURS = tuple(
    (east, north, 2.0 if east == 0 or north == 0 else 1.0)
    for north in (1, 0, -1)
    for east in (-1, 0, 1)
    if (east, north) != (0, 0)
)


def gradient(
    ground_m: FloatArray, cell_width_m: float, cell_height_m: float
) -> tuple[FloatArray, FloatArray]:
    """Rise of the ground towards east and towards north.

    With all eight neighbours known it is Horn's formula,
    `dz/dx = ((c + 2f + i) - (a + 2d + g)) / (8 width)` and the like towards north. At the edge
    of the grid and beside holes it is the least-squares plane through the centre with the same
    weights on the neighbours that are known, so a plane keeps its slope up to the edge.

    Parameters
    ----------
    ground_m
        Levels, m, shape (rows, columns), first row northmost; NaN where not known.
    cell_width_m, cell_height_m
        Size of a cell from west to east and from north to south, m, both positive.

    Returns
    -------
    tuple of ndarray
        Rise over run towards east and towards north. NaN where the cell itself is not known, or
        its known neighbours lie on one line and fix no plane.

    Raises
    ------
    ValueError
        If a cell size is not positive or the grid has not two dimensions.

    Examples
    --------
    >>> east, north = gradient(np.array([[2.0, 3.0], [0.0, 1.0]]), 1.0, 1.0)
    >>> float(east[0, 0]), float(north[0, 0])
    (1.0, 2.0)
    """
    if not (cell_width_m > 0.0 and cell_height_m > 0.0):
        raise ValueError("cell sizes must be greater than 0")
    if ground_m.ndim != 2:
        raise ValueError(f"a grid of levels has two dimensions, not {ground_m.ndim}")
    levels_m = np.asarray(ground_m, dtype=np.float64)
    east = ndimage.sobel(levels_m, axis=1, mode="constant", cval=np.nan) / 8.0
    north = ndimage.sobel(levels_m, axis=0, mode="constant", cval=np.nan) / -8.0
    lacking = ~(np.isfinite(east) & np.isfinite(north) & np.isfinite(levels_m))
    east[lacking], north[lacking] = _planes(levels_m, np.nonzero(lacking))
    return east / cell_width_m, north / cell_height_m


def slope_of(east: FloatArray, north: FloatArray) -> FloatArray:
    """Slope of a gradient, `sqrt(east^2 + north^2)`.

    Parameters
    ----------
    east, north
        Rise over run towards east and north.

    Returns
    -------
    ndarray
        Rise over run of the steepest way.

    Examples
    --------
    >>> float(slope_of(np.array([0.03]), np.array([-0.04]))[0])
    0.05
    """
    slope: FloatArray = np.hypot(east, north)
    return slope


def aspect_of(east: FloatArray, north: FloatArray) -> FloatArray:
    """Compass direction of the way down, of a gradient.

    Parameters
    ----------
    east, north
        Rise over run towards east and north.

    Returns
    -------
    ndarray
        Degrees clockwise from north, from 0 up to but not including 360; NaN on level ground.

    Examples
    --------
    >>> aspect_of(np.array([-1.0, 1.0, 0.0]), np.array([0.0, 0.0, 0.0])).tolist()
    [90.0, 270.0, nan]
    """
    direction = np.degrees(np.arctan2(-east, -north)) % 360.0
    # A tiny negative angle rounds to 360 itself under the remainder.
    direction = np.where(direction >= 360.0, 0.0, direction)
    return np.where((east == 0.0) & (north == 0.0), np.nan, direction)


def slope_from_degrees(angle_deg: float) -> float:
    """Slope of an angle from the level, `tan(angle)`.

    Parameters
    ----------
    angle_deg
        Degrees, more than -90 and less than 90.

    Returns
    -------
    float
        Rise over run.

    Raises
    ------
    ValueError
        If the angle is not between -90 and 90 degrees.

    Examples
    --------
    >>> round(slope_from_degrees(10.0), 4)
    0.1763
    """
    if not -90.0 < angle_deg < 90.0:
        raise ValueError(f"an angle of slope lies between -90 and 90 degrees, not {angle_deg!r}")
    return math.tan(math.radians(angle_deg))


def degrees_from_slope(slope: float) -> float:
    """Angle from the level of a slope, `atan(slope)`.

    Parameters
    ----------
    slope
        Rise over run.

    Returns
    -------
    float
        Degrees.

    Examples
    --------
    >>> round(degrees_from_slope(1.0), 9)
    45.0
    """
    return math.degrees(math.atan(slope))


def _planes(
    levels_m: FloatArray, cells: tuple[npt.NDArray[np.intp], ...]
) -> tuple[FloatArray, FloatArray]:
    """Rise per cell of the plane through each of some cells and its known neighbours."""
    rows, columns = cells
    padded = np.pad(levels_m, 1, constant_values=np.nan)
    centre_m = levels_m[rows, columns]
    xx, xy, yy, xz, yz = (np.zeros(len(rows)) for _ in range(5))
    for east, north, weight in _NEIGHBOURS:
        rise_m = weight * (padded[rows + 1 - north, columns + 1 + east] - centre_m)
        known = np.isfinite(rise_m)
        rise_m = np.where(known, rise_m, 0.0)
        xx += known * (weight * east * east)
        xy += known * (weight * east * north)
        yy += known * (weight * north * north)
        xz += east * rise_m
        yz += north * rise_m
    determinant = xx * yy - xy * xy
    determinant[determinant == 0.0] = np.nan
    return (yy * xz - xy * yz) / determinant, (xx * yz - xy * xz) / determinant
