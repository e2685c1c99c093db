"""Flow that spreads between two cells (D-infinity), beside the single directions.

Question
    On a smooth slope, how is water shared between neighbours, when eight directions are too few?
In
    The filled surface and the single directions of `flood`.
Out
    How many cells drain through each cell, or the sum of any weight; one angle and slope per cell.
Method
    The ground round a cell is eight triangular facets, each between a side and a corner
    neighbour; water runs down the steepest [1]_ and is shared between that facet's two
    neighbours in proportion to the angle. On cells that are wider than high, the facets' legs
    are the true distances. On flats, at outlets, and where missing neighbours leave no falling
    facet, the single direction stands.
One walk
    Each cell waits for the cells that give it water. One that waits for none passes its sum on,
    and what then waits no more follows next. The walk needs no order of all cells, and beside
    the sums 6 bytes per cell: a pair of neighbours, the second one's share, how many to wait for.
No cycles
    A share goes only to a cell that is strictly lower, or else along the single direction: both
    ends of a way between two falling legs are lower. As single directions on one level follow
    the flood, no chain of shares can come back to its start.

References
----------
.. [1] Tarboton (1997), A new method for the determination of flow directions and upslope areas
   in grid digital elevation models. Water Resources Research 33(2).
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import LOOP
from geo_site.drainage.facets import Pairs, find_pairs, neighbour_angles, pairs_of_angles
from geo_site.drainage.grid import (
    NO_DATA,
    OUTLET,
    Codes,
    Floats,
    Ground,
    Integers,
    neighbour_offsets,
    step_lengths,
)

_DONE: Final = 255  # a cell that waits for nothing any more, and has passed its sum on


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
    """Find the steepest way down over the eight facets round each cell (Tarboton 1997).

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
    shape = levels.shape
    pairs = Pairs(np.empty(shape, np.uint8), np.empty(shape), np.empty(shape))
    find_pairs(levels, direction, (cell_width, cell_height), pairs, 1)
    bearings = np.append(neighbour_angles(cell_width, cell_height), [np.nan, np.nan])
    first = np.where(direction < OUTLET, pairs.first, np.uint8(9))
    angle = bearings[first]
    angle += pairs.share * (bearings[np.minimum(first + 1, 9)] - angle)
    angle[angle >= bearings[8]] = 0.0
    return SpreadDirections(angle, pairs.slope)


def spread_cells(
    filled: Ground, direction: Codes, cell_width: float, cell_height: float, threads: int = 2
) -> Floats:
    """Count the cells that drain through each cell, itself included, shared between two.

    The same as `spread_directions` and `spread_accumulate` with weights of 1, but the shares are
    kept to 6e-8 and no angle is; the ground is read as it is.

    Parameters
    ----------
    filled : 2-D float32 or float64 array
        Filled surface in metres, from `flood`.
    direction : uint8 array of the same shape
        Single directions, from the same flood.
    cell_width, cell_height : float
        Cell size in metres.
    threads : int
        How many rows are looked at together. It changes nothing in the result.

    Returns
    -------
    float64 array
        Cells, NaN without data. What leaves at the outlets is all there are, to rounding.

    Raises
    ------
    ValueError
        If an array or size is unusable, the two arrays do not belong together, or the single
        directions have a cycle.

    Examples
    --------
    A strip that falls to the east:

    >>> direction = np.array([[0, 0, 8]], dtype=np.uint8)
    >>> spread_cells(np.array([[2.0, 1.0, 0.0]]), direction, 1.0, 1.0).tolist()
    [[1.0, 2.0, 3.0]]
    """
    levels = _checked_pair(filled, direction)
    shape = levels.shape
    nothing = np.empty((0, 0), np.float32)
    pairs = Pairs(np.empty(shape, np.uint8), np.empty(shape, np.float32), nothing)
    find_pairs(levels, direction, (cell_width, cell_height), pairs, threads)
    total = np.where(direction == NO_DATA, np.nan, 1.0)
    _pass_on(pairs, total)
    return total


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
    total = np.where(direction == NO_DATA, np.nan, weights).astype(np.float64, copy=False)
    angle = spread.angle[direction < OUTLET]
    if not np.isfinite(total[direction != NO_DATA]).all():
        raise ValueError("weights must be finite wherever there is a flow direction")
    if not ((angle >= 0.0) & (angle < 2.0 * np.pi)).all():
        raise ValueError("angles must be from 0 up to 2 pi wherever water flows on")
    _pass_on(pairs_of_angles(levels, direction, spread.angle, (cell_width, cell_height)), total)
    return total


def _checked_pair(filled: Ground, direction: Codes) -> Ground:
    """Refuse what is no ground with its directions; what the cells hold is looked at later."""
    if filled.ndim != 2 or filled.size == 0:
        raise ValueError(f"ground must be a 2-D array with cells, not shape {filled.shape}")
    if filled.dtype not in (np.dtype(np.float32), np.dtype(np.float64)):
        raise ValueError(f"ground must be float32 or float64, not {filled.dtype}")
    if direction.shape != filled.shape or direction.dtype != np.uint8:
        raise ValueError("directions must be a uint8 array of the ground's shape")
    return np.ascontiguousarray(filled)


def _pass_on(pairs: Pairs, total: Floats) -> None:
    """Sum downstream in place."""
    first, share = pairs.first.reshape(-1), pairs.share.reshape(-1)
    offsets = neighbour_offsets(total.shape[1])
    waiting = _donors(first, share, offsets)
    if _walk(first, share, total.reshape(-1), waiting, offsets) < total.size:
        raise ValueError("the directions do not belong to this surface: flow runs in a cycle")


@numba.njit(**LOOP)
def _donors(first: Codes, share: NDArray[Any], offsets: Integers) -> Codes:
    """Count the cells that give something to each cell."""
    donors = np.zeros(first.size, np.uint8)
    for cell in range(first.size):
        if first[cell] < OUTLET:
            if share[cell] < 1.0:
                donors[cell + offsets[first[cell]]] += 1
            if share[cell] > 0.0:
                donors[cell + offsets[(first[cell] + 1) % 8]] += 1
    return donors


@numba.njit(**LOOP)
def _walk(
    first: Codes, share: NDArray[Any], total: Floats, waiting: Codes, offsets: Integers
) -> int:
    """Pass sums on; return how many cells were done (fewer than all on a cycle)."""
    ready = np.empty(1024, np.int64)
    done = size = 0
    for start in range(total.size):
        if waiting[start] == 0:
            ready[0] = start
            size = 1
        while size > 0:
            size -= 1
            cell = ready[size]
            waiting[cell] = _DONE
            done += 1
            if size + 2 > ready.size:
                ready = np.concatenate((ready, np.empty_like(ready)))
            for which in range(2 if first[cell] < OUTLET else 0):
                second = share[cell] * total[cell]
                if (share[cell] if which else 1.0 - share[cell]) > 0.0:
                    other = cell + offsets[(first[cell] + which) % 8]
                    total[other] += second if which else total[cell] - second
                    waiting[other] -= 1
                    if waiting[other] == 0:
                        ready[size] = other
                        size += 1
    return done
