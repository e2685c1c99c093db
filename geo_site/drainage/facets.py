"""The steepest way down over the facets round each cell, as shares of two neighbours.

Question
    To which two neighbours does a cell's water go, and how much to the second?
In
    The filled surface and single directions, or angles that were found before.
Out
    `Pairs`: a code and a share for each cell.
Method
    A way along a facet's leg is a single direction, so only ways between the legs are looked
    for, and only where one is steeper than the single direction [1]_. Rows are read into a window
    of three with nothing before and after them, and each facet is tried on a whole row at once.

References
----------
.. [1] Tarboton (1997), A new method for the determination of flow directions and upslope areas
   in grid digital elevation models. Water Resources Research 33(2).
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import Any, Final, NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import LOOP, PART
from geo_site.drainage.grid import (
    COLUMN_STEP,
    NO_DATA,
    OUTLET,
    ROW_STEP,
    Codes,
    Floats,
    Ground,
    Integers,
    step_lengths,
)

_DIFFERS: Final = 1
_INFINITE: Final = 2
_UNKNOWN: Final = 4
_LEADS_OUT: Final = 8
_FAULTS: Final = {
    _DIFFERS: "directions and ground differ in where there is no data",
    _INFINITE: "ground has infinite levels; mark missing cells with NaN",
    _UNKNOWN: "unknown flow direction code",
    _LEADS_OUT: "a flow direction leads out of the data",
}


class Pairs(NamedTuple):
    """Where each cell's water goes.

    Attributes
    ----------
    first : uint8 array
        Code of the first of two neighbours, counter-clockwise; `OUTLET` or `NO_DATA` as given.
    share : float array
        What the second neighbour, one code on, gets of the cell's sum; the first gets the rest.
    slope : float array
        Rise over run along the way down; without rows where nobody asks for it.
    """

    first: Codes
    share: NDArray[Any]
    slope: NDArray[Any]


def neighbour_angles(cell_width: float, cell_height: float) -> Floats:
    """Angles of the neighbours in the order of the codes, east once more at 2 pi.

    Parameters
    ----------
    cell_width, cell_height : float
        Cell size, m.

    Returns
    -------
    float64 array of 9
        Radians counter-clockwise from east.
    """
    corner = np.arctan2(cell_height, cell_width)
    quarter = np.pi / 2.0
    angles = [0.0, corner, quarter, np.pi - corner, np.pi, np.pi + corner, 3.0 * quarter]
    return np.array([*angles, 2.0 * np.pi - corner, 2.0 * np.pi])


def find_pairs(
    levels: Ground, direction: Codes, cell: tuple[float, float], pairs: Pairs, threads: int
) -> None:
    """Find the steepest way down of every cell, a strip of rows for each thread.

    Parameters
    ----------
    levels : 2-D float32 or float64 array
        Filled surface, m.
    direction : uint8 array of the same shape
        Single directions, from the same flood.
    cell : tuple of float
        Cell width and height, m.
    pairs : Pairs
        What is found is written here.
    threads : int
        How many strips.

    Raises
    ------
    ValueError
        If a size or the number of threads is unusable, or ground and directions do not belong
        together.
    """
    lengths = step_lengths(*cell)
    if threads < 1:
        raise ValueError(f"at least one thread is needed, not {threads}")
    edges = np.linspace(0, levels.shape[0], threads + 1).astype(int).tolist()

    def find(span: tuple[int, int]) -> int:
        faults: int = _find_strip(levels, direction, lengths, span, pairs)
        return faults

    spans = list(pairwise(edges))
    if threads == 1:
        _refuse(find(spans[0]))
        return
    with ThreadPoolExecutor(threads) as pool:
        _refuse(int(np.bitwise_or.reduce(list(pool.map(find, spans)))))


def pairs_of_angles(
    levels: Ground, direction: Codes, angle: Floats, cell: tuple[float, float]
) -> Pairs:
    """Share between the neighbours on either side of an angle, those that are lower only.

    Parameters
    ----------
    levels : 2-D float32 or float64 array
        Filled surface, m.
    direction : uint8 array of the same shape
        Single directions; they stand where neither neighbour is lower.
    angle : float array of the same shape
        Radians counter-clockwise from east, 0 up to 2 pi wherever water flows on.
    cell : tuple of float
        Cell width and height, m.

    Returns
    -------
    Pairs
        Without slopes.

    Raises
    ------
    ValueError
        If ground and directions do not belong together.
    """
    pairs = Pairs(direction.copy(), np.zeros(levels.shape), np.empty((0, 0)))
    bearings = neighbour_angles(*cell)
    _refuse(_share_angles(levels, angle.astype(np.float64), bearings, pairs))
    return pairs


def _refuse(faults: int) -> None:
    for fault, words in _FAULTS.items():
        if faults & fault:
            raise ValueError(words)


class _Best(NamedTuple):
    """Of each cell of a row, the steepest way so far: slope squared, its parts, its facet."""

    square: Floats
    run: Floats  # slope towards the side neighbour
    rise: Floats  # slope from there towards the corner; 0 where the single direction stands
    code: Integers


@numba.njit(**LOOP)
def _find_strip(
    levels: Ground, direction: Codes, lengths: Floats, span: tuple[int, int], pairs: Pairs
) -> int:
    """Find the pairs of some rows; return the faults met."""
    columns = levels.shape[1]
    window = np.full((3, columns + 2), np.nan)
    part = np.empty((3, columns))
    best = _Best(part[0], part[1], part[2], np.empty(columns, np.int64))
    faults = 0
    _read(levels, span[0] - 1, window)
    _read(levels, span[0], window)
    for row in range(span[0], span[1]):
        _read(levels, row + 1, window)
        faults |= _start(window, direction[row], row, lengths, best)
        for facet in range(8):
            _try_facet(window, row, facet, lengths, best)
        _keep(best, row, np.arctan2(lengths[2], lengths[0]), pairs)
    return faults


@numba.njit(**PART)
def _read(levels: Ground, row: int, window: Floats) -> None:
    """Put a row in its place among three, with nothing before and after it."""
    if 0 <= row < levels.shape[0]:
        window[row % 3, 1:-1] = levels[row]
    else:
        window[row % 3] = np.nan


@numba.njit(**PART)
def _start(window: Floats, codes: Codes, row: int, lengths: Floats, best: _Best) -> int:
    """Begin with the single directions; return the faults met."""
    faults = 0
    best.code[:] = codes
    best.run[:] = 1.0
    best.rise[:] = 0.0
    for column in range(codes.size):
        code, level = codes[column], window[row % 3, column + 1]
        best.square[column] = np.inf
        if np.isnan(level) != (code == NO_DATA):
            faults |= _DIFFERS
        elif np.isinf(level):
            faults |= _INFINITE
        elif code < OUTLET:
            ahead = window[(row + ROW_STEP[code]) % 3, column + 1 + COLUMN_STEP[code]]
            if np.isnan(ahead):
                faults |= _LEADS_OUT
            best.square[column] = max((level - ahead) / lengths[code], 0.0) ** 2
        elif code not in (OUTLET, NO_DATA):
            faults |= _UNKNOWN
    return faults


@numba.njit(**PART)
def _try_facet(window: Floats, row: int, facet: int, lengths: Floats, best: _Best) -> None:
    """Take the way between a facet's legs wherever it is the steepest so far."""
    side, corner = (facet + facet % 2) % 8, facet + 1 - facet % 2
    east, more_east = 1 + COLUMN_STEP[side], 1 + COLUMN_STEP[corner]
    columns = best.square.size
    legs = (
        window[row % 3, 1:-1],
        window[(row + ROW_STEP[side]) % 3, east : east + columns],
        window[(row + ROW_STEP[corner]) % 3, more_east : more_east + columns],
    )
    _take_steeper(legs, (lengths[side], lengths[(side + 2) % 8]), facet, best)


@numba.njit(**PART)
def _take_steeper(
    legs: tuple[Floats, Floats, Floats], steps: tuple[float, float], facet: int, best: _Best
) -> None:
    """Try a facet on a row: levels of its three corners, length of its two legs."""
    # Names of their own and choices without a jump: the compiler takes several cells at a time.
    e0, e1, e2 = legs
    d1, d2 = steps
    square, run, rise, code = best
    per_d1, per_d2 = 1.0 / d1, 1.0 / d2
    for column in range(square.size):
        s1 = (e0[column] - e1[column]) * per_d1
        s2 = (e1[column] - e2[column]) * per_d2
        steepness = s1 * s1 + s2 * s2
        between = (s1 > 0.0) & (s2 > 0.0) & (s2 * d1 < s1 * d2)
        taken = between & (steepness > square[column])
        square[column] = steepness if taken else square[column]
        run[column] = s1 if taken else run[column]
        rise[column] = s2 if taken else rise[column]
        code[column] = facet if taken else code[column]


@numba.njit(**PART)
def _keep(best: _Best, row: int, corner: float, pairs: Pairs) -> None:
    """Turn a row's steepest ways into shares; `corner` is the angle of the corner north-east."""
    pairs.first[row] = best.code
    for column in range(best.code.size):
        code, part = best.code[column], 0.0
        if best.rise[column] > 0.0:
            beside = code in (0, 3, 4, 7)  # the facet's side is to the east or west
            width = corner if beside else np.pi / 2.0 - corner
            part = np.arctan2(best.rise[column], best.run[column]) / width
            part = part if code % 2 == 0 else 1.0 - part
        pairs.share[row, column] = part
    for column in range(pairs.slope.shape[1]):
        code = best.code[column]
        slope = np.sqrt(best.square[column]) if code < OUTLET else 0.0
        pairs.slope[row, column] = slope if code != NO_DATA else np.nan


@numba.njit(**LOOP)
def _share_angles(levels: Ground, angle: Floats, bearings: Floats, pairs: Pairs) -> int:
    """Turn angles into shares, given single directions as first of each pair; return faults."""
    faults = 0
    for row in range(levels.shape[0]):
        for column in range(levels.shape[1]):
            code, level = pairs.first[row, column], levels[row, column]
            if np.isnan(level) != (code == NO_DATA):
                faults |= _DIFFERS
            elif code < OUTLET:
                if np.isnan(_ahead(levels, row, column, code)):
                    faults |= _LEADS_OUT
                first = np.searchsorted(bearings, angle[row, column], side="right") - 1
                part = (angle[row, column] - bearings[first]) / (
                    bearings[first + 1] - bearings[first]
                )
                to_first = part < 1.0 and _ahead(levels, row, column, first) < level
                to_second = part > 0.0 and _ahead(levels, row, column, (first + 1) % 8) < level
                if to_first or to_second:
                    pairs.first[row, column] = first
                    pairs.share[row, column] = (part if to_first else 1.0) if to_second else 0.0
            elif code not in (OUTLET, NO_DATA):
                faults |= _UNKNOWN
    return faults


@numba.njit(**PART)
def _ahead(levels: Ground, row: int, column: int, code: int) -> float:
    """Level of a neighbour, NaN off the grid."""
    row, column = row + ROW_STEP[code], column + COLUMN_STEP[code]
    if 0 <= row < levels.shape[0] and 0 <= column < levels.shape[1]:
        return float(levels[row, column])
    return np.nan
