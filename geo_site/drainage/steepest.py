"""Steepest of the eight directions, and ways over level ground.

Question
    Which way does water leave each cell of a surface without depressions?
In, out
    A filled surface and the cells where water can leave it; a direction for each cell.
Method
    Steps of one length are compared by level alone, so of the eight only the best to east or
    west, the best to north or south and the best to a corner are compared as slopes. Cells with
    nothing lower beside them are then reached ring by ring, from the cells on their level that do
    have a way down: a cell of one ring goes to a cell of the ring before it. Which cells make a
    ring depends on the surface alone, and so do the directions.
"""

from __future__ import annotations

from typing import Any

import numba
import numpy as np

from geo_site.compiling import LOOP, PART
from geo_site.drainage.grid import (
    NO_DATA,
    OUTLET,
    Bools,
    Codes,
    Floats,
    Ground,
    Integers,
    bands,
    copy_row,
    near_rows,
    neighbour_offsets,
    share_out,
    with_room,
)

LEVEL = 9
"""Code of a cell that has no lower neighbour and is no outlet, while directions are made."""
_E, _NE, _N, _NW, _W, _SW, _S, _SE, _OUT, _NONE = (np.int32(code) for code in range(10))
_FRESH = 16
"""Added to the code of a cell whose ring is being made."""
_SIDES_FIRST = (0, 2, 4, 6, 1, 3, 5, 7)
_BAND_CELLS = 2**20


def steepest_ways(
    levels: Ground, outlets: Bools, lengths: Floats, direction: Codes, threads: int
) -> None:
    """Write into `direction` the way of the steepest drop of each cell, `LEVEL` for none."""

    def work(first: int, last: int) -> None:
        near = near_rows(levels.shape[1], np.nan, levels.dtype)
        _steepest_in_band(levels, outlets, lengths, direction, (first, last), near)

    share_out(work, bands(levels.shape[0]), threads)


def level_ways(filled: Ground, direction: Codes, threads: int) -> None:
    """Replace every `LEVEL` by a way over level ground to a cell with a way down."""
    edges = direction[0], direction[-1], direction[:, 0], direction[:, -1]
    if any((edge == LEVEL).any() for edge in edges):
        # The loops look at all eight neighbours of every level cell: it must have eight.
        padded = np.pad(direction, 1, constant_values=NO_DATA)
        level_ways(np.pad(filled, 1), padded, threads)
        direction[:] = padded[1:-1, 1:-1]
        return
    step = neighbour_offsets(filled.shape[1])
    levels, codes = filled.reshape(-1), direction.reshape(-1)

    def work(first: int, last: int) -> Integers:
        ring = np.empty(last - first, np.int64)
        return ring[: _first_ring(levels, codes, step, (first, last), ring)].copy()

    rings = share_out(work, bands(codes.size, _BAND_CELLS), threads)
    _later_rings(codes, step, np.concatenate(rings))


@numba.njit(**PART)
def _lower(
    lowest: float, code: np.int32, level: float, new_code: np.int32
) -> tuple[float, np.int32]:
    """Return the lower of two with its code; a missing level is never lower."""
    is_lower = level < lowest
    return (level if is_lower else lowest), (new_code if is_lower else code)


@numba.njit(**PART)
def _steepest_in_row(near: Ground, outlets: Bools, lengths: Floats, out: Codes) -> None:
    """Write the ways of one row; `near` holds it between two others, a cell longer at each end.

    There are no branches here, so that several cells are worked at once.
    """
    above, here, below = near[0], near[1], near[2]
    width, diagonal, height = lengths[0], lengths[1], lengths[2]
    for at in range(out.size):
        level = here[at + 1]
        row_low, code = _lower(level, _NONE, here[at + 2], _E)
        row_low, code = _lower(row_low, code, here[at], _W)
        column_low, column_code = _lower(level, _NONE, above[at + 1], _N)
        column_low, column_code = _lower(column_low, column_code, below[at + 1], _S)
        corner_low, corner_code = _lower(level, _NONE, above[at + 2], _NE)
        corner_low, corner_code = _lower(corner_low, corner_code, above[at], _NW)
        corner_low, corner_code = _lower(corner_low, corner_code, below[at], _SW)
        corner_low, corner_code = _lower(corner_low, corner_code, below[at + 2], _SE)
        drop = np.float64(level) - np.float64(row_low)
        column_drop = np.float64(level) - np.float64(column_low)
        corner_drop = np.float64(level) - np.float64(corner_low)
        ours, theirs = drop * height, column_drop * width
        turn = (theirs > ours) | ((theirs == ours) & (column_code < code))
        code = column_code if turn else code
        drop = column_drop if turn else drop
        run = height if turn else width
        only = (code == _NONE) & (corner_drop > 0.0)  # products of the least drops can be 0
        code = corner_code if only | (corner_drop * run > drop * diagonal) else code
        code = _OUT if (code == _NONE) & outlets[at] else code
        out[at] = NO_DATA if np.isnan(level) else code


@numba.njit(**LOOP)
def _steepest_in_band(
    levels: Ground,
    outlets: Bools,
    lengths: Floats,
    direction: Codes,
    band: tuple[int, int],
    near: Ground,
) -> None:
    for row in range(band[0], band[1]):
        for turn in range(3):
            copy_row(levels, row - 1 + turn, np.nan, near[turn])
        _steepest_in_row(near, outlets[row], lengths, direction[row])


@numba.njit(**LOOP)
def _first_ring(
    filled: Ground, direction: Codes, step: Integers, band: tuple[int, int], ring: Integers
) -> int:
    """List the level cells beside a cell of their level with a way; other bands may be at work."""
    count = 0
    for cell in range(band[0], band[1]):
        if direction[cell] != LEVEL:
            continue
        for code in _SIDES_FIRST:
            other = cell + step[code]
            if direction[other] <= OUTLET and filled[other] == filled[cell]:
                direction[cell] = code + _FRESH
                ring[count] = cell
                count += 1
                break
    return count


@numba.njit(**LOOP)
def _later_rings(direction: Codes, step: Integers, ring: Integers) -> None:
    """Go on from ring to ring. Level cells side by side are on one level: none is the lower."""
    while ring.size > 0:
        following = np.empty(ring.size, np.int64)
        count: Any = np.int64(0)  # a bare 0 is a type of its own to `with_room`, compiled for it
        for cell in ring:
            direction[cell] -= _FRESH
        for code in _SIDES_FIRST:
            following = with_room(following, count, ring.size)
            for cell in ring:
                other = cell - step[code]
                if direction[other] == LEVEL:
                    direction[other] = code + _FRESH
                    following[count] = other
                    count += 1
        ring = following[:count]
