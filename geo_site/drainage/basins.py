"""Fill depressions to their spill levels, by a flood over basins instead of over cells.

Question
    To what level must water rise in each cell to find a way out?
In, out
    Ground, a way down for each cell that has one, and the outlets; the filled surface.
Method
    Each tile of the grid is cut into basins: cells whose water comes together in one lowest
    place, or leaves the tile at one cell. Where two basins meet, water passes at the level of the
    higher of the two cells. Below the lowest pass of a basin no water leaves it, so it is joined
    to the basin beyond at that level, and the joined ones have a lowest pass again (Boruvka's way
    to a least spanning tree). In a tile this is done for basins that do not reach its edge.
    What is left, the basins at the edges of tiles and the passes between them, is little, and is
    joined in the same way to the outside. A filled level is that of the highest pass on the
    best way out: a level of the ground itself, whatever the tiles and the order of the work. The
    memory and the time depend on the number of cells, not on how the ground winds. Basins and
    their passes for filling are in [1]_, tiles and what lies at their edges in [2]_.

References
----------
.. [1] Cordonnier, Bovy and Braun (2019), A versatile, linear complexity algorithm for flow
   routing in topographies with depressions. Earth Surface Dynamics 7.
.. [2] Barnes (2016), Parallel priority-flood depression filling for trillion cell digital
   elevation models on desktops or clusters. Computers & Geosciences 96.
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
    Bools,
    Codes,
    Ground,
    Integers,
    edges,
    neighbour_offsets,
    share_out,
)

TILE = (256, 512)
"""Rows and columns of a tile: what is known of it stays near the processor while it is worked.

A tile has at most 65535 basins that reach its edge or stand alone, for 16-bit labels.
"""
_OUTSIDE = 0  # the number of what lies beyond the outlets
_NOTHING = -1  # the basin of a cell without data

Numbers = NDArray[np.int32]
Labels = NDArray[np.uint16]


class Passes(NamedTuple):
    """Where basins meet: the numbers of two basins, and the level of the way between them."""

    one: Numbers
    two: Numbers
    level: Ground


class Turn(NamedTuple):
    """What a turn of joining works with: each basin's group, its lowest pass's level and place."""

    group: Numbers
    lowest: Ground
    choice: Integers


class Joins(NamedTuple):
    """To which basin each is joined (itself: to none), and at what level."""

    to: Numbers
    level: Ground


def fill(
    ground: Ground, ways: Codes, outlets: Bools, tile: tuple[int, int], threads: int
) -> Ground:
    """Return the ground, raised in each depression to the level at which it spills.

    Parameters
    ----------
    ground : 2-D float32 or float64 array
        Levels, NaN where there is no data.
    ways : uint8 array
        For each cell the code of a lower neighbour, or a code from ``OUTLET`` on for none.
    outlets : bool array
        Where water can leave.
    tile : tuple of int
        Rows and columns of a tile; the result does not depend on it.
    threads : int
        How many tiles are worked at a time.

    Raises
    ------
    ValueError
        If some ground cannot reach any outlet.
    """
    rows, columns = ground.shape
    filled = np.empty_like(ground)
    labels = np.empty(ground.shape, np.uint16)
    tiles = [
        (top, min(top + tile[0], rows), left, min(left + tile[1], columns))
        for top in range(0, rows, tile[0])
        for left in range(0, columns, tile[1])
    ]

    def fill_within(*corners: int) -> tuple[int, Passes]:
        return _fill_tile(ground, ways, outlets, filled, labels, corners)

    counts, passes = zip(*share_out(fill_within, tiles, threads), strict=True)
    first = np.concatenate([[1], 1 + np.cumsum(counts)])
    levels = _levels_of_all(passes, first, filled, labels, tile)
    below = zip(tiles, first[:-1].tolist(), strict=True)

    def raise_to_spill(*corners_and_first: int) -> int:
        corners, start = corners_and_first[:4], corners_and_first[4]
        return int(_raise_tile(filled, labels, levels[start - 1 :], corners))

    stranded = sum(share_out(raise_to_spill, [(*c, start) for c, start in below], threads))
    if stranded:
        raise ValueError(f"{stranded} cells cannot reach an outlet")
    return filled


def _levels_of_all(
    passes: tuple[Passes, ...],
    first: Integers,
    filled: Ground,
    labels: Labels,
    tile: tuple[int, int],
) -> Ground:
    """Return the spill level of each basin that tiles have left, those of one tile in a row."""
    own = [_renumbered(each, start) for each, start in zip(passes, first.tolist(), strict=False)]
    rows, columns = filled.shape
    start = first[:-1].reshape(-(-rows // tile[0]), -(-columns // tile[1]))
    by_column = np.repeat(start, tile[1], axis=1)[:, :columns]
    by_row = np.repeat(start, tile[0], axis=0)[:rows].T
    seams = _seam_passes(filled, labels, by_column, tile[0])
    seams += _seam_passes(filled.T, labels.T, by_row, tile[1])
    both = Passes(*(np.concatenate(each) for each in zip(*own, *seams, strict=True)))
    fixed = np.zeros(int(first[-1]), dtype=np.bool_)
    fixed[_OUTSIDE] = True
    joins, _ = _join(both, len(both.level), fixed)
    _settle(joins, np.empty_like(joins.to))
    joins.level[joins.to != _OUTSIDE] = np.inf
    return joins.level


def _seam_passes(filled: Ground, labels: Labels, first: Integers, height: int) -> list[Passes]:
    """Return the passes between cells above and below the seams of tiles of a height.

    `first` has a row for each row of tiles: to each column of cells, its first basin's number.
    """
    found = []
    columns = filled.shape[1]
    for seam, row in enumerate(range(height, filled.shape[0], height)):
        for shift in (-1, 0, 1):
            here = np.s_[max(-shift, 0) : columns - max(shift, 0)]
            there = np.s_[max(shift, 0) : columns - max(-shift, 0)]
            one, two = labels[row - 1, here], labels[row, there]
            both = (one != _OUTSIDE) & (two != _OUTSIDE)  # both have data
            level = np.maximum(filled[row - 1, here][both], filled[row, there][both])
            ours = first[seam, here][both] + one[both] - 1
            theirs = first[seam + 1, there][both] + two[both] - 1
            found.append(Passes(ours.astype(np.int32), theirs.astype(np.int32), level))
    return found


def _renumbered(passes: Passes, first: int) -> Passes:
    """Turn a tile's numbers, 1 for its first basin, into those of the whole."""
    one, two = (np.where(each > 0, each + (first - 1), 0) for each in passes[:2])
    return Passes(one.astype(np.int32), two.astype(np.int32), passes.level)


def _fill_tile(
    ground: Ground,
    ways: Codes,
    outlets: Bools,
    filled: Ground,
    labels: Labels,
    corners: tuple[int, ...],
) -> tuple[int, Passes]:
    """Fill what spills within a tile; return how many basins are left, and their passes.

    Each cell of `labels` gets the number of the basin to which it spills, `filled` its level so
    far: the higher of the ground and the pass to that basin.
    """
    top, bottom, left, right = corners
    tile = np.s_[top:bottom, left:right]
    levels = np.fmin(ground[tile], ground.dtype.type(np.inf)).reshape(-1)  # no NaN: out of reach
    within = ways[tile].copy()
    for edge, leads_out in edges(within):
        edge[leads_out] = OUTLET
    basin, count = _basins(levels, within, outlets[tile])
    fixed = np.zeros(count + 1, dtype=np.bool_)
    fixed[_edge_basins(basin.reshape(bottom - top, right - left), corners, ground.shape)] = True
    fixed[_OUTSIDE] = True
    passes, size = _passes_in(levels, basin, right - left)
    if outlets[tile].any():
        size = _add_outlets(levels, basin, outlets[tile], passes, size)
    joins, size = _join(passes, size, fixed)
    _settle(joins, np.empty_like(joins.to))
    left_over, _ = _join(passes, size, np.zeros(count + 1, dtype=np.bool_))
    own = np.arange(count + 1, dtype=np.int32)
    stays = joins.to == own
    stays[_OUTSIDE] = False
    number = np.where(stays, np.cumsum(stays), 0).astype(np.int32)
    _write_tile(levels, basin, joins.level, number[joins.to], (filled[tile], labels[tile]))
    joined = np.flatnonzero(left_over.to != own)
    ends = number[joined], number[left_over.to[joined]]
    return int(stays.sum()), Passes(*ends, left_over.level[joined])


def _edge_basins(basin: Numbers, corners: tuple[int, ...], shape: tuple[int, ...]) -> Numbers:
    """Return the basins with a cell beside another tile: their passes are not all known."""
    top, bottom, left, right = corners
    beside = [
        basin[0] if top > 0 else basin[:0, 0],
        basin[-1] if bottom < shape[0] else basin[:0, 0],
        basin[:, 0] if left > 0 else basin[:0, 0],
        basin[:, -1] if right < shape[1] else basin[:0, 0],
    ]
    cells: Numbers = np.concatenate(beside)
    chosen: Numbers = cells[cells != _NOTHING]
    return chosen


@numba.njit(**LOOP)
def _write_tile(
    levels: Ground,
    basin: Numbers,
    least: Ground,
    number: Numbers,
    into: tuple[Ground, Labels],
) -> None:
    """Write filled levels and labels of a tile."""
    filled, labels = into
    rows, columns = filled.shape
    for row in range(rows):
        for column in range(columns):
            cell = row * columns + column
            own = basin[cell]
            missing = own == _NOTHING
            filled[row, column] = np.nan if missing else max(levels[cell], least[own])
            labels[row, column] = _OUTSIDE if missing else number[own]


def _basins(levels: Ground, ways: Codes, outlets: Bools) -> tuple[Numbers, int]:
    """Number the basins of a tile from 1; return each cell's, and the last number."""
    width = ways.shape[1]
    step = neighbour_offsets(width)
    stays_too = np.zeros(256, np.int32)
    stays_too[:8] = step
    ahead, basin = np.empty(levels.size, np.int32), np.empty(levels.size, np.int32)
    _next_cells(levels, ways, stays_too, ahead)
    _fill_single_cells(levels, outlets, ahead, width, step)
    return basin, _number(levels, ahead, basin)


@numba.njit(**LOOP)
def _number(levels: Ground, end: Numbers, basin: Numbers) -> int:
    """Write the number of each cell's basin, and return the last.

    Each cell points at the next on its way. To take over where that one points, once from first
    to last and once back, brings most to the end of their way without a branch; the rest walk.
    """
    for cell in range(end.size):
        end[cell] = end[end[cell]]
    for back in range(1, end.size + 1):
        end[end.size - back] = end[end[end.size - back]]
    count = 0
    for cell in range(end.size):
        if end[cell] == cell:
            missing = levels[cell] == np.inf
            count += not missing
            basin[cell] = _NOTHING if missing else count
    for cell in range(end.size):
        last = end[cell]
        while end[last] != last:
            end[last] = end[end[last]]
            last = end[last]
        basin[cell] = basin[last]
    return count


@numba.njit(**LOOP)
def _next_cells(levels: Ground, ways: Codes, step: Numbers, ahead: Numbers) -> None:
    """Write the cell of the tile to which each cell's water goes; itself at the end of a way.

    `step` has the step of each of the 256 codes that there can be, 0 for those of no direction.
    """
    rows, width = ways.shape
    for row in range(rows):
        first = row * width
        here = ways[row]
        for column in range(width):
            ahead[first + column] = first + column + step[here[column]]
        for column in range(width):
            if here[column] >= OUTLET and here[column] != NO_DATA:
                ahead[first + column] = _first_on_level(levels, first + column, width)


@numba.njit(**PART)
def _first_on_level(levels: Ground, cell: int, width: int) -> int:
    """Return a neighbour on the same level that comes before in the tile, or the cell itself."""
    level, column = levels[cell], cell % width
    if column > 0 and levels[cell - 1] == level:
        return cell - 1
    if cell >= width:
        if levels[cell - width] == level:
            return cell - width
        if column > 0 and levels[cell - width - 1] == level:
            return cell - width - 1
        if column + 1 < width and levels[cell - width + 1] == level:
            return cell - width + 1
    return cell


@numba.njit(**LOOP)
def _fill_single_cells(
    levels: Ground, outlets: Bools, ahead: Numbers, width: int, step: Integers
) -> None:
    """Fill depressions of one cell that spill through its lowest neighbour.

    They do if that neighbour has another one lower than itself. Its way then never comes back, for
    all round the filled cell is as high as it is filled or higher. Most depressions of a rough
    surface are such, and need no basin of their own.
    """
    for row in range(1, levels.size // width - 1):
        for cell in range(row * width + 1, row * width + width - 1):
            if ahead[cell] != cell or levels[cell] == np.inf or outlets[row, cell - row * width]:
                continue
            rim = cell + step[0]
            for code in range(1, 8):
                if levels[cell + step[code]] < levels[rim]:
                    rim = cell + step[code]
            column = rim % width
            inside = 0 < column < width - 1 and width <= rim < levels.size - width
            for code in range(8):
                if inside and levels[rim + step[code]] < levels[rim] and rim + step[code] != cell:
                    levels[cell] = levels[rim]
                    ahead[cell] = rim
                    ahead[rim] = rim + step[code]
                    break


@numba.njit(**PART)
def _note(passes: Passes, size: int, one: int, two: int, level: float, is_pass: bool) -> int:
    """Write a pass behind `size` others, and return how many there are: written, then kept or not.

    Without a branch, for whether two cells are of one basin cannot be foreseen.
    """
    passes.one[size] = one
    passes.two[size] = two
    passes.level[size] = level
    return size + ((one != two) & (one > 0) & (two > 0) & is_pass)


def _passes_in(levels: Ground, basin: Numbers, width: int) -> tuple[Passes, int]:
    """Return the passes between neighbouring cells of a tile, and their number."""
    room = 4 * levels.size + 4
    passes = Passes(
        np.empty(room, np.int32), np.empty(room, np.int32), np.empty(room, levels.dtype)
    )
    return passes, _write_passes(levels, basin, width, passes)


@numba.njit(**LOOP)
def _write_passes(levels: Ground, basin: Numbers, width: int, passes: Passes) -> int:
    """Write the passes between neighbouring cells of a tile, and return their number.

    Of four cells in a square, a diagonal is needed only where it is lower than both others.
    """
    size: Any = np.int64(0)  # a bare 0 is a type of its own to `_note`, compiled for it
    rows = levels.size // width
    for row in range(rows):
        for column in range(width):
            cell = row * width + column
            right, below = column + 1 < width, row + 1 < rows
            beside = cell + 1 if right else cell
            under = cell + width if below else cell
            corner = under + 1 if right else under
            a, b, c, d = basin[cell], basin[beside], basin[under], basin[corner]
            if (a == b) & (a == c) & (a == d):
                continue
            at_a, at_b, at_c, at_d = levels[cell], levels[beside], levels[under], levels[corner]
            size = _note(passes, size, a, b, max(at_a, at_b), a != b)  # as is a bare True
            size = _note(passes, size, a, c, max(at_a, at_c), a != c)
            falling, rising = max(at_a, at_d), max(at_b, at_c)
            if falling < rising:
                size = _note(passes, size, a, d, falling, min(at_b, at_c) > falling)
            else:
                size = _note(passes, size, b, c, rising, min(at_a, at_d) > rising)
    return int(size)


@numba.njit(**LOOP)
def _add_outlets(levels: Ground, basin: Numbers, outlets: Bools, passes: Passes, size: int) -> int:
    """Write the passes from outlets to the outside behind `size` others; return their number."""
    rows, columns = outlets.shape
    for row in range(rows):
        for column in range(columns):
            cell = row * columns + column
            if outlets[row, column] and basin[cell] != _NOTHING:
                passes.one[size] = basin[cell]
                passes.two[size] = _OUTSIDE
                passes.level[size] = levels[cell]
                size += 1
    return size


def _join(passes: Passes, size: int, fixed: Bools) -> tuple[Joins, int]:
    """Join basins until only fixed ones stand alone; the passes left come first, counted."""
    count, kind = fixed.size, passes.level.dtype
    joins = Joins(np.arange(count, dtype=np.int32), np.full(count, -np.inf, kind))
    turn = Turn(joins.to.copy(), np.empty(count, kind), np.empty(count, np.int64))
    return joins, _join_all(passes, size, fixed, joins, turn)


@numba.njit(**LOOP)
def _join_all(passes: Passes, size: int, fixed: Bools, joins: Joins, turn: Turn) -> int:
    """Join basins turn by turn, and return how many passes are left.

    Each turn joins every basin that stands alone to that beyond its lowest pass, of equal ones
    the first; of two that choose each other, one stays.
    """
    one, two, level = passes
    group, lowest, choice = turn
    while True:
        for basin in range(fixed.size):
            choice[basin] = -1
            lowest[basin] = np.inf
        kept = 0
        for at in range(size):
            a, b, height = group[one[at]], group[two[at]], level[at]
            one[kept], two[kept], level[kept] = a, b, height
            apart = a != b
            for side in (a, b):
                own = side if apart else _OUTSIDE
                lower = height < lowest[own]
                lowest[own] = height if lower else lowest[own]
                choice[own] = kept if lower else choice[own]
            kept += apart
        size = kept
        joined = 0
        for basin in range(1, fixed.size):
            if fixed[basin] or choice[basin] < 0:
                continue
            beyond = one[choice[basin]] + two[choice[basin]] - basin
            if fixed[beyond] or choice[beyond] != choice[basin] or basin > beyond:
                joins.to[basin] = group[basin] = beyond
                joins.level[basin] = level[choice[basin]]
                joined += 1
        if joined == 0:
            return size
        for basin in range(fixed.size):
            last = basin
            while group[last] != last:
                group[last] = group[group[last]]
                last = group[last]
            group[basin] = last


@numba.njit(**LOOP)
def _settle(joins: Joins, way: Numbers) -> None:
    """Follow the joins of each basin to the last one, and take the highest level on the way."""
    to, level = joins
    for start in range(to.size):
        basin, size = start, 0
        while to[basin] != basin:
            way[size] = basin
            size += 1
            basin = to[basin]
        highest = level[basin]
        for at in range(size - 1, -1, -1):
            highest = max(highest, level[way[at]])
            level[way[at]] = highest
            to[way[at]] = basin


@numba.njit(**LOOP)
def _raise_tile(filled: Ground, labels: Labels, level: Ground, corners: tuple[int, ...]) -> int:
    """Raise each cell to the level of its basin; return how many have none to be raised to."""
    top, bottom, left, right = corners
    stranded = 0
    for row in range(top, bottom):
        for column in range(left, right):
            label = labels[row, column]
            if label != _OUTSIDE:
                filled[row, column] = max(filled[row, column], level[label])
                stranded += filled[row, column] == np.inf
    return stranded
