"""Add up what drains through each cell.

Question
    How much ground, or of what else lies on it, drains through each cell?
In, out
    Flow directions, and a weight per cell or none; the sums.
Method
    Each cell knows how many neighbours send it water. From each cell that waits for none the water
    is followed as long as the next cell has then got all of its own; the last sender goes on
    from there. So each cell is visited once, with no list of cells. Numbers of cells are whole,
    so that bands of rows can be followed at the same time: what leaves a band is handed over
    when the band has come to rest.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import LOOP, PART
from geo_site.drainage.grid import (
    NO_DATA,
    OUTLET,
    Codes,
    Floats,
    Integers,
    bands,
    codes_to_read,
    copy_row,
    edges,
    near_rows,
    neighbour_offsets,
    share_out,
)

Counts = NDArray[Any]
_DONE = 255
_BAD_CODE, _INTO_NOTHING = 1, 2


class Network(NamedTuple):
    """Flow directions, how many donors each cell still waits for, steps of the directions."""

    direction: Codes
    waiting: Codes
    step: Integers


def count_cells(direction: Codes, threads: int = 2) -> Counts:
    """Count the cells that drain through each cell, itself included.

    Parameters
    ----------
    direction : 2-D uint8 array
        Flow directions.
    threads : int
        How many bands of rows are worked at a time. The counts do not depend on it.

    Returns
    -------
    uint32 array, uint64 where there are 2**32 cells or more
        Exact numbers of cells; 0 where there is no data.

    Raises
    ------
    ValueError
        If a code is unknown, a direction leads out of the data, or there is a cycle.

    Examples
    --------
    >>> count_cells(np.array([[0, 0, 8]], dtype=np.uint8)).tolist()
    [[1, 2, 3]]
    """
    waiting = donors(direction, threads)
    kind = np.uint32 if direction.size < 2**32 else np.uint64
    cells: Counts = np.empty(direction.shape, kind)
    np.not_equal(direction, NO_DATA, out=cells)
    _add_up(np.ascontiguousarray(direction), waiting, cells, threads)
    return cells


def accumulate(direction: Codes, weights: NDArray[Any]) -> Floats:
    """Sum the weights of all cells that drain through each cell, itself included.

    Parameters
    ----------
    direction : 2-D uint8 array
        Flow directions.
    weights : array of the same shape
        What each cell contributes, such as metres of rain times square metres. For numbers of
        cells alone `count_cells` needs less memory.

    Returns
    -------
    float64 array
        The sums, NaN where there is no data. Whole weights are summed exactly up to 2**53.

    Raises
    ------
    ValueError
        If the directions have a cycle or leave the data, or a weight of a valid cell is not
        finite.

    Examples
    --------
    >>> accumulate(np.array([[0, 0, 8]], dtype=np.uint8), np.ones((1, 3))).tolist()
    [[1.0, 2.0, 3.0]]
    """
    waiting = donors(direction, 1)
    if weights.shape != direction.shape:
        raise ValueError("weights must have the shape of the directions")
    total = np.array(weights, dtype=np.float64, order="C")
    total[direction == NO_DATA] = np.nan
    if not np.isfinite(total).all(where=direction != NO_DATA):
        raise ValueError("weights must be finite wherever there is a flow direction")
    # One band: in what order fractions are added must not depend on the number of threads.
    _add_up(np.ascontiguousarray(direction), waiting, total, 1)
    return total


def donors(direction: Codes, threads: int) -> Codes:
    """Return how many neighbours send each cell water, 255 without data.

    Raises
    ------
    ValueError
        If a code is unknown or a direction leads out of the data.
    """
    waiting = np.empty(direction.shape, np.uint8)
    _write_donors(direction, waiting, threads)
    return waiting


def checked_directions(direction: Codes) -> Codes:
    """Return the directions in row order, not to be written.

    Raises
    ------
    ValueError
        If a code is unknown or a direction leads out of the data.
    """
    _write_donors(direction, np.empty((1, direction.shape[-1]), np.uint8), 1)
    return codes_to_read(direction)


def _write_donors(direction: Codes, waiting: Codes, threads: int) -> None:
    """Write how many neighbours send each cell water; if there is only one row for it, over it.

    Raises
    ------
    ValueError
        If a code is unknown or a direction leads out of the data.
    """
    if direction.ndim != 2 or direction.dtype != np.uint8 or not direction.size:
        raise ValueError("directions must be a 2-D uint8 array with cells")
    codes = codes_to_read(direction)

    def work(first: int, last: int) -> int:
        near = near_rows(codes.shape[1], NO_DATA, np.uint8)
        return int(_donors(codes, waiting, first, last, near))

    faults = share_out(work, bands(codes.shape[0]), threads)
    if any(fault & _BAD_CODE for fault in faults):
        raise ValueError("unknown flow direction code")
    leads_out = any(out.any() for _, out in edges(codes))
    if leads_out or any(fault & _INTO_NOTHING for fault in faults):
        raise ValueError("a flow direction leads out of the data")


@numba.njit(**PART)
def _donors_in_row(near: Codes, out: Codes) -> int:
    """Write the number of donors of each cell of a row; return what is wrong with the codes."""
    above, here, below = near[0], near[1], near[2]
    fault = np.uint8(0)
    for at in range(out.size):
        code = here[at + 1]
        count = np.uint8(here[at + 2] == 4) + np.uint8(above[at + 2] == 5)
        count += np.uint8(above[at + 1] == 6) + np.uint8(above[at] == 7)
        count += np.uint8(here[at] == 0) + np.uint8(below[at] == 1)
        count += np.uint8(below[at + 1] == 2) + np.uint8(below[at + 2] == 3)
        missing = code == NO_DATA
        fault |= np.uint8((code > OUTLET) & (not missing)) * np.uint8(_BAD_CODE)
        fault |= np.uint8((count > 0) & missing) * np.uint8(_INTO_NOTHING)
        out[at] = NO_DATA if missing else count
    return int(fault)


@numba.njit(**LOOP)
def _donors(direction: Codes, waiting: Codes, first: int, last: int, near: Codes) -> int:
    fault = 0
    for row in range(first, last):
        for turn in range(3):
            copy_row(direction, row - 1 + turn, NO_DATA, near[turn])
        fault |= _donors_in_row(near, waiting[row % len(waiting)])
    return fault


def _add_up(direction: Codes, waiting: Codes, total: Counts, threads: int) -> None:
    """Turn the weights in `total` into sums.

    Raises
    ------
    ValueError
        If there is a cycle.
    """
    rows, columns = direction.shape
    parts = bands(rows, -(-rows // threads))
    step = neighbour_offsets(columns)
    codes, sums = direction.reshape(-1), total.reshape(-1)
    network = Network(codes, waiting.reshape(-1), step)

    def follow(first: int, last: int, senders: Integers | None = None) -> Integers:
        limits = first * columns, last * columns
        left = np.empty(2 * columns, np.int64)  # a cell of the first or last row leaves once
        if senders is None:
            count = _follow_all(network, sums, limits, left)
        else:
            count = _follow_on(senders, network, sums, limits, left)
        return left[:count]

    left = np.concatenate(share_out(follow, parts, threads))
    while left.size:
        receivers = left + step[codes[left]]
        inboxes = [
            (first, last, left[(receivers >= first * columns) & (receivers < last * columns)])
            for first, last in parts
        ]
        left = np.concatenate(share_out(follow, inboxes, threads))
    if waiting.min() < _DONE:
        stuck = int((waiting < _DONE).sum())
        raise ValueError(f"flow directions run in a cycle: {stuck} cells")


@numba.njit(**PART)
def _follow(cell: int, network: Network, total: Counts, limits: tuple[int, int]) -> int:
    """Follow the water from a cell that waits for none; return where it leaves the band, or -1."""
    direction, waiting, step = network
    while True:
        waiting[cell] = _DONE
        code = direction[cell]
        if code >= OUTLET:
            return -1
        ahead = cell + step[code]
        if ahead < limits[0] or ahead >= limits[1]:
            return cell
        total[ahead] += total[cell]
        waiting[ahead] -= 1
        if waiting[ahead] > 0:
            return -1
        cell = ahead


@numba.njit(**LOOP)
def _follow_all(network: Network, total: Counts, limits: tuple[int, int], left: Integers) -> int:
    """Follow the water from every cell of a band that waits for none.

    The cells where it leaves the band are written into `left`; their number is returned.
    """
    count = 0
    for cell in range(limits[0], limits[1]):
        if network.waiting[cell] == 0:
            last = _follow(cell, network, total, limits)
            if last >= 0:
                left[count] = last
                count += 1
    return count


@numba.njit(**LOOP)
def _follow_on(
    senders: Integers, network: Network, total: Counts, limits: tuple[int, int], left: Integers
) -> int:
    """Take in the sums of senders in other bands and follow them, as `_follow_all` does."""
    count = 0
    for sender in senders:
        cell = sender + network.step[network.direction[sender]]
        total[cell] += total[sender]
        network.waiting[cell] -= 1
        if network.waiting[cell] == 0:
            last = _follow(cell, network, total, limits)
            if last >= 0:
                left[count] = last
                count += 1
    return count
