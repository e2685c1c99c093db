"""Flow that spreads between two cells (D-infinity), beside the single directions.

Question
    On a smooth slope, how is water shared between neighbours, when eight directions are too few?
In
    The filled surface and the single directions of `flood`.
Out
    One angle and slope per cell, and the accumulation of any weight along them.
Method
    The ground round a cell is eight triangular facets, each between a side and a corner
    neighbour; water runs down the steepest [1]_ and is shared between that facet's two
    neighbours in proportion to the angle. On cells that are wider than high, the facets' legs
    are the true distances. On flats, at outlets, and where missing neighbours leave no falling
    facet, the single direction stands.
No cycles
    A share goes only to a cell that is strictly lower, or else along the single direction. On a
    falling facet both neighbours that get a share are lower, so this takes nothing away; it
    only drops the traces that rounding of the angle would send elsewhere. As single directions
    on one level follow the flood, no chain of shares can come back to its start.

References
----------
.. [1] Tarboton (1997), A new method for the determination of flow directions and upslope areas
   in grid digital elevation models. Water Resources Research 33(2).
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.drainage.grid import (
    COLUMN_STEP,
    NO_DATA,
    OUTLET,
    ROW_STEP,
    Codes,
    Floats,
    Ground,
    Integers,
    checked_ground,
    neighbour_offsets,
    step_lengths,
)
from geo_site.drainage.network import flow_network


class SpreadDirections(NamedTuple):
    """Where water runs when it may go between two cells.

    Attributes
    ----------
    angle : float64 array
        Radians counter-clockwise from east, 0 <= angle < 2 pi; NaN at outlets and without data.
    slope : float64 array
        Rise over run along the angle; 0 on flats and at outlets, NaN without data.
    """

    angle: Floats
    slope: Floats


def spread_directions(
    filled: Ground, direction: Codes, cell_width: float, cell_height: float
) -> SpreadDirections:
    """Find the steepest way down over the eight facets round each cell [1]_.

    On a facet with levels e0 (the cell), e1 (side neighbour, at d1) and e2 (corner neighbour,
    d2 further)::

        s1 = (e0 - e1) / d1,  s2 = (e1 - e2) / d2,  r = atan2(s2, s1),  slope = hypot(s1, s2)

    with r held between the side (r = 0, slope s1) and the corner (r = atan2(d2, d1), slope
    (e0 - e2) / hypot(d1, d2)). Of equally steep facets the first from east counter-clockwise
    counts.

    Parameters
    ----------
    filled : 2-D float32 or float64 array
        Filled surface in metres, from `flood`.
    direction : uint8 array of the same shape
        Single directions, from the same flood.
    cell_width, cell_height : float
        Cell size in metres.

    Returns
    -------
    SpreadDirections
        Angle and slope of each cell.

    Raises
    ------
    ValueError
        If an array or size is unusable, or the two arrays do not belong together.

    Examples
    --------
    The plane that falls 3 m per metre to the east and 4 m per metre to the south:

    >>> row, column = np.mgrid[0:3, 0:3]
    >>> plane = -3.0 * column - 4.0 * row
    >>> single = np.full((3, 3), 8, dtype=np.uint8)
    >>> single[1, 1] = 7
    >>> found = spread_directions(plane, single, 1.0, 1.0)
    >>> round(float(np.degrees(found.angle[1, 1])), 4), float(found.slope[1, 1])
    (306.8699, 5.0)
    """
    levels = _checked_pair(filled, direction)
    lengths = step_lengths(cell_width, cell_height)
    padded = np.pad(levels, 1, constant_values=np.nan)
    codes = np.pad(direction, 1, constant_values=NO_DATA)
    bearings = _neighbour_angles(cell_width, cell_height)
    found = _steepest_facets(padded.ravel(), codes.ravel(), padded.shape[1], lengths, bearings)
    angle, slope = (each.reshape(padded.shape)[1:-1, 1:-1].copy() for each in found)
    return SpreadDirections(angle, slope)


def spread_accumulate(
    spread: SpreadDirections,
    filled: Ground,
    direction: Codes,
    weights: NDArray[Any],
    cell_width: float,
    cell_height: float,
) -> Floats:
    """Sum the weights of the ground that drains through each cell, shared along the angles.

    A cell's sum goes on to the two neighbours on either side of its angle, each in proportion
    to the nearness of the angle to it. A share that would go to a cell that is not lower goes to
    the other; if neither is lower all goes along the single direction.

    Parameters
    ----------
    spread : SpreadDirections
        From `spread_directions`.
    filled : 2-D float32 or float64 array
        Filled surface in metres.
    direction : uint8 array of the same shape
        Single directions, from the same flood.
    weights : array of the same shape
        What each cell contributes.
    cell_width, cell_height : float
        Cell size in metres.

    Returns
    -------
    float64 array
        The sums, NaN without data. What leaves at the outlets is what was put in, to rounding.

    Raises
    ------
    ValueError
        If arrays do not belong together, a weight or an angle is missing, or the single
        directions have a cycle.
    """
    levels = _checked_pair(filled, direction)
    step_lengths(cell_width, cell_height)
    if weights.shape != filled.shape or spread.angle.shape != filled.shape:
        raise ValueError("weights and angles must have the shape of the ground")
    total = np.where(direction == NO_DATA, np.nan, weights).astype(np.float64)
    angle = spread.angle[direction < OUTLET]
    if not np.isfinite(total[direction != NO_DATA]).all():
        raise ValueError("weights must be finite wherever there is a flow direction")
    if not ((angle >= 0.0) & (angle < 2.0 * np.pi)).all():
        raise ValueError("angles must be from 0 up to 2 pi wherever water flows on")
    receiver, _ = flow_network(direction)
    bearings = _neighbour_angles(cell_width, cell_height)
    ahead, share = _shares(levels, spread.angle.astype(np.float64), receiver, bearings)
    if _sum_shares(ahead, share, total.reshape(-1)) < total.size:
        raise ValueError("the directions do not belong to this surface: flow runs in a cycle")
    return total


def _checked_pair(filled: Ground, direction: Codes) -> Floats:
    levels = checked_ground(filled)
    if direction.shape != levels.shape or direction.dtype != np.uint8:
        raise ValueError("directions must be a uint8 array of the ground's shape")
    if ((direction == NO_DATA) != np.isnan(levels)).any():
        raise ValueError("directions and ground differ in where there is no data")
    return levels


def _neighbour_angles(cell_width: float, cell_height: float) -> Floats:
    """Angles of the neighbours in the order of the codes, east once more at 2 pi."""
    corner = np.arctan2(cell_height, cell_width)
    quarter = np.pi / 2.0
    angles = [0.0, corner, quarter, np.pi - corner, np.pi, np.pi + corner, 3.0 * quarter]
    return np.array([*angles, 2.0 * np.pi - corner, 2.0 * np.pi])


@numba.njit(cache=True, nogil=True)
def _facet(e0: float, e1: float, e2: float, d1: float, d2: float) -> tuple[float, float, float]:
    """Return the slope on a facet, and its direction as a run to the side and one across."""
    s1 = (e0 - e1) / d1
    s2 = (e1 - e2) / d2
    if s2 < 0.0:
        return s1, 1.0, 0.0
    if s2 * d1 > s1 * d2:
        return (e0 - e2) / np.sqrt(d1 * d1 + d2 * d2), d1, d2
    return np.sqrt(s1 * s1 + s2 * s2), s1, s2


@numba.njit(cache=True, nogil=True)
def _steepest_facets(
    filled: Floats, direction: Codes, width: int, lengths: Floats, bearings: Floats
) -> tuple[Floats, Floats]:
    offsets = neighbour_offsets(width)
    angle = np.full(filled.size, np.nan)
    slope = np.full(filled.size, np.nan)
    for cell in range(filled.size):
        single = direction[cell]
        if single == OUTLET:
            slope[cell] = 0.0
        if single >= OUTLET:
            continue
        e0 = filled[cell]
        angle[cell] = bearings[single]
        slope[cell] = (e0 - filled[cell + offsets[single]]) / lengths[single]
        for facet in range(8):
            side = (facet + facet % 2) % 8
            corner = facet + 1 - facet % 2
            e1, e2 = filled[cell + offsets[side]], filled[cell + offsets[corner]]
            steepness, along, across = _facet(e0, e1, e2, lengths[side], lengths[(side + 2) % 8])
            if steepness > slope[cell]:
                slope[cell] = steepness
                r = np.arctan2(across, along)
                turn = bearings[facet] + r if facet % 2 == 0 else bearings[facet + 1] - r
                angle[cell] = turn if turn < bearings[8] else 0.0
    return angle, slope


@numba.njit(cache=True, nogil=True)
def _shares(
    filled: Floats, angle: Floats, receiver: Integers, bearings: Floats
) -> tuple[Integers, Floats]:
    """Return per cell two receivers (-1 for none) and what goes to each."""
    rows, columns = filled.shape
    ahead = np.full((filled.size, 2), -1, np.int64)
    share = np.zeros((filled.size, 2))
    for cell in range(filled.size):
        if receiver[cell] < 0:
            continue
        row, column = cell // columns, cell % columns
        first = 0
        while first < 7 and bearings[first + 1] <= angle[row, column]:
            first += 1
        turn = angle[row, column] - bearings[first]
        part = turn / (bearings[first + 1] - bearings[first])
        for which in range(2):
            code = (first + which) % 8
            to_row, to_column = row + ROW_STEP[code], column + COLUMN_STEP[code]
            in_grid = 0 <= to_row < rows and 0 <= to_column < columns
            wanted = part if which == 1 else 1.0 - part
            if in_grid and wanted > 0.0 and filled[to_row, to_column] < filled[row, column]:
                ahead[cell, which] = to_row * columns + to_column
                share[cell, which] = wanted
        given = share[cell, 0] + share[cell, 1]
        if given > 0.0:
            share[cell, 0] /= given
            share[cell, 1] /= given
        else:
            ahead[cell, 0] = receiver[cell]
            share[cell, 0] = 1.0
    return ahead, share


@numba.njit(cache=True, nogil=True)
def _sum_shares(ahead: Integers, share: Floats, total: Floats) -> int:
    """Sum downstream in place; return how many cells were done (fewer than all on a cycle)."""
    waiting = np.zeros(total.size, np.int8)
    for cell in range(total.size):
        for which in range(2):
            if ahead[cell, which] >= 0:
                waiting[ahead[cell, which]] += 1
    ready = np.empty(total.size, np.int64)
    last = 0
    for cell in range(total.size):
        if waiting[cell] == 0:
            ready[last] = cell
            last += 1
    first = 0
    while first < last:
        cell = ready[first]
        first += 1
        for which in range(2):
            other = ahead[cell, which]
            if other >= 0:
                total[other] += share[cell, which] * total[cell]
                waiting[other] -= 1
                if waiting[other] == 0:
                    ready[last] = other
                    last += 1
    return last
