"""Follow flow directions: catchments and paths.

Question
    What drains through a cell, from where, and along which way?
In, out
    Flow directions with the codes of `geo_site.drainage`, and cells or labels on the same grid.
Method
    Downstream and upstream the water is simply followed, and no further than to a cell that has
    been reached already, so only what is marked costs time. Nothing larger than the answer is
    kept beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import LOOP
from geo_site.drainage.counting import checked_directions
from geo_site.drainage.grid import (
    COLUMN_STEP,
    NO_DATA,
    OUTLET,
    ROW_STEP,
    Bools,
    Codes,
    Floats,
    Integers,
    neighbour_offsets,
    step_lengths,
    with_room,
)

_UNKNOWN, _ON_THE_WAY = -1, -2


@dataclass(frozen=True, eq=False)
class FlowPath:
    """A chain of cells along the flow.

    Attributes
    ----------
    cells : (n, 2) int64 array
        Row and column of each cell, downstream.
    length_m : float
        Length from the first cell's centre to the last one's.
    """

    cells: Integers
    length_m: float


def contaminated(direction: Codes, sources: Bools) -> Bools:
    """Mark the sources and every cell downstream of one.

    With ``outlet_cells(valid, True)`` as sources, these are the cells that could receive water
    from ground beyond the data, so that their accumulation is only a lower bound.

    Raises
    ------
    ValueError
        If a code is unknown or a direction leads out of the data, or the shapes differ.
    """
    codes = checked_directions(direction)
    chosen = _cell_set(sources, direction)
    marked = np.zeros(direction.shape, dtype=np.bool_)
    step = neighbour_offsets(codes.shape[1])
    _mark_downstream(codes.reshape(-1), step, chosen.reshape(-1), marked.reshape(-1))
    return marked


def catchments(direction: Codes, labels: NDArray[Any]) -> NDArray[np.int32]:
    """Give each cell the label of the first labelled cell that its water passes.

    Parameters
    ----------
    direction : 2-D uint8 array
        Flow directions.
    labels : integer array of the same shape
        Positive in the labelled cells, 0 elsewhere.

    Returns
    -------
    int32 array
        A labelled cell keeps its own label; 0 where the water passes no labelled cell.

    Raises
    ------
    ValueError
        If the directions leave the data or have a cycle without a label, or the shapes differ.
    """
    codes = checked_directions(direction)
    if labels.shape != direction.shape:
        raise ValueError("labels must have the shape of the directions")
    found = np.array(labels, dtype=np.int32, order="C")
    found[found <= 0] = _UNKNOWN
    found[codes == NO_DATA] = 0
    if not _label_upstream(codes.reshape(-1), neighbour_offsets(codes.shape[1]), found.reshape(-1)):
        raise ValueError("flow directions run in a cycle")
    return found


def upstream(direction: Codes, seeds: Bools) -> Bools:
    """Mark every cell whose water passes a seed cell, the seeds included.

    Parameters
    ----------
    direction : 2-D uint8 array
        Flow directions.
    seeds : bool array
        Of the same shape; or several of them, along a first axis, each followed by itself: the
        directions are then checked once.

    Returns
    -------
    bool array
        Of the shape of `seeds`.

    Raises
    ------
    ValueError
        If a code is unknown or a direction leads out of the data, or the shapes differ.
    """
    codes = checked_directions(direction)
    flat, step = codes.reshape(-1), neighbour_offsets(codes.shape[1])
    several = [_cell_set(one, direction) for one in (seeds if seeds.ndim == 3 else [seeds])]
    for marked in several:
        _mark_upstream(flat, step, np.flatnonzero(marked), marked.reshape(-1))
    return np.array(several, dtype=np.bool_) if seeds.ndim == 3 else several[0]


def downstream_path(direction: Codes, row: int, column: int) -> Integers:
    """Follow the water from a cell to where it leaves the grid.

    Returns
    -------
    (n, 2) int64 array
        Row and column of each cell, the given one first and the outlet last.

    Raises
    ------
    ValueError
        If the cell is outside the grid or without data, or the path runs in a cycle.
    """
    if not (0 <= row < direction.shape[0] and 0 <= column < direction.shape[1]):
        raise ValueError(f"cell ({row}, {column}) is outside the grid")
    path: dict[tuple[int, int], None] = {}
    while (row, column) not in path:
        path[row, column] = None
        code = int(direction[row, column])
        if code == OUTLET:
            return np.array(list(path), dtype=np.int64)
        if code > OUTLET:
            raise ValueError(f"cell ({row}, {column}) has no flow direction")
        row, column = row + ROW_STEP[code], column + COLUMN_STEP[code]
        if not (0 <= row < direction.shape[0] and 0 <= column < direction.shape[1]):
            raise ValueError("a flow direction leads out of the grid")
    raise ValueError(f"the flow runs in a cycle through cell ({row}, {column})")


def longest_path(direction: Codes, mask: Bools, cell_width: float, cell_height: float) -> FlowPath:
    """Find the longest flow path inside a catchment, down to the cell where the water leaves it.

    Parameters
    ----------
    direction : 2-D uint8 array
        Flow directions.
    mask : bool array of the same shape
        The catchment. If its water leaves at several cells, the longest path of all is given.
    cell_width, cell_height : float
        Cell size in metres.

    Returns
    -------
    FlowPath
        Of equally long paths, one chosen by the order of the cells.

    Raises
    ------
    ValueError
        If the mask has no cell with a direction or a cycle, or an array or size is unusable.
    """
    lengths = step_lengths(cell_width, cell_height)
    inside = _cell_set(mask, checked_directions(direction))
    if not inside.any():
        raise ValueError("the catchment has no cell with a flow direction")
    top, left = (int(np.argmax(inside.any(axis=axis))) for axis in (1, 0))
    bottom, right = (int(np.flatnonzero(inside.any(axis=axis))[-1]) + 1 for axis in (1, 0))
    window = np.s_[top:bottom, left:right]
    codes = np.pad(np.where(inside[window], direction[window], NO_DATA), 1, constant_values=NO_DATA)
    step = neighbour_offsets(codes.shape[1])
    reach_m = np.zeros(codes.size)
    waiting, done = np.zeros(codes.size, np.uint8), np.zeros(codes.size, np.bool_)
    _reach(codes.reshape(-1), step, lengths, reach_m, waiting, done)
    reach_m[~done] = np.nan
    if np.isnan(reach_m[codes.reshape(-1) != NO_DATA]).any():
        raise ValueError("flow directions run in a cycle")
    end = int(np.nanargmax(reach_m))
    cells = _way_to(end, codes.reshape(-1), step, lengths, reach_m)
    rows, columns = np.divmod(cells, codes.shape[1])
    return FlowPath(
        cells=np.column_stack([rows + top - 1, columns + left - 1]), length_m=float(reach_m[end])
    )


def _way_to(end: int, codes: Codes, step: Integers, lengths: Floats, reach_m: Floats) -> Integers:
    """Return the cells of the longest way to a cell, going back from it."""
    way = [end]
    while reach_m[way[-1]] > 0.0:
        for code in range(8):
            donor = way[-1] - int(step[code])
            if codes[donor] == code and reach_m[donor] + lengths[code] == reach_m[way[-1]]:
                way.append(donor)
                break
    return np.array(way[::-1], dtype=np.int64)


def _cell_set(cells: Bools, direction: Codes) -> Bools:
    """Return a fresh copy of a set of cells, those without data taken out.

    Raises
    ------
    ValueError
        If it is not a bool array of the directions' shape.
    """
    if cells.shape != direction.shape or cells.dtype != np.bool_:
        raise ValueError("expected a bool array of the directions' shape")
    return np.ascontiguousarray(cells & (direction != NO_DATA))


@numba.njit(**LOOP)
def _mark_downstream(direction: Codes, step: Integers, sources: Bools, marked: Bools) -> None:
    for start in range(direction.size):
        cell = start
        while sources[start] and not marked[cell]:
            marked[cell] = True
            if direction[cell] < OUTLET:
                cell += step[direction[cell]]


@numba.njit(**LOOP)
def _mark_upstream(direction: Codes, step: Integers, starts: Integers, marked: Bools) -> None:
    """Mark on from the seeds, which are marked already.

    A neighbour that is not one, beyond the edge of a row, has no direction that leads here.
    """
    stack = starts.copy()
    size = starts.size
    while size > 0:
        size -= 1
        cell = stack[size]
        stack = with_room(stack, size, step.size)
        for code in range(8):
            donor = cell - step[code]
            if 0 <= donor < direction.size and direction[donor] == code and not marked[donor]:
                marked[donor] = True
                stack[size] = donor
                size += 1


@numba.njit(**LOOP)
def _label_upstream(direction: Codes, step: Integers, found: NDArray[np.int32]) -> bool:
    """Replace each `_UNKNOWN` by the label found downstream; return whether there is no cycle."""
    for start in range(direction.size):
        if found[start] != _UNKNOWN:
            continue
        cell, label = start, _UNKNOWN
        while label == _UNKNOWN:
            found[cell] = _ON_THE_WAY
            if direction[cell] == OUTLET:
                label = 0
            else:
                cell += step[direction[cell]]
                label = found[cell]
        if label == _ON_THE_WAY:
            return False
        cell = start
        while found[cell] == _ON_THE_WAY:
            found[cell] = label
            if direction[cell] != OUTLET:
                cell += step[direction[cell]]
    return True


@numba.njit(**LOOP)
def _reach(
    direction: Codes, step: Integers, lengths: Floats, reach: Floats, waiting: Codes, done: Bools
) -> None:
    """Write the length of the longest way to each cell; those on a cycle are never done."""
    for cell in range(direction.size):
        if direction[cell] < OUTLET:
            waiting[cell + step[direction[cell]]] += 1
    for start in range(direction.size):
        cell = start
        while direction[cell] != NO_DATA and waiting[cell] == 0 and not done[cell]:
            done[cell] = True
            if direction[cell] < OUTLET:
                ahead = cell + step[direction[cell]]
                reach[ahead] = max(reach[ahead], reach[cell] + lengths[direction[cell]])
                waiting[ahead] -= 1
                cell = ahead
