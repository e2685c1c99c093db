"""Follow flow directions: accumulation, catchments and paths.

Question
    What drains through a cell, from where, and along which way?
In, out
    Flow directions with the codes of `geo_site.drainage`, and cells or weights on the same grid.
Method
    The cells are ordered once, each before the cell that receives its water (by counting the
    donors still to come). Everything that follows the water is then one short loop, downstream
    along the order or upstream against it. Directions with a cycle are refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.drainage.grid import (
    COLUMN_STEP,
    NO_DATA,
    OUTLET,
    ROW_STEP,
    Bools,
    Codes,
    Floats,
    Integers,
    step_lengths,
)


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


def accumulate(direction: Codes, weights: NDArray[Any]) -> Floats:
    """Sum the weights of all cells that drain through each cell, itself included.

    Parameters
    ----------
    direction : 2-D uint8 array
        Flow directions.
    weights : array of the same shape
        What each cell contributes: 1 to count cells, the cell area for square metres.

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
    receiver, order = flow_network(direction)
    if weights.shape != direction.shape:
        raise ValueError("weights must have the shape of the directions")
    total = np.where(direction == NO_DATA, np.nan, weights).astype(np.float64)
    if not np.isfinite(total[direction != NO_DATA]).all():
        raise ValueError("weights must be finite wherever there is a flow direction")
    _sum_downstream(order, receiver, total.reshape(-1))
    return total


def contaminated(direction: Codes, sources: Bools) -> Bools:
    """Mark the sources and every cell downstream of one.

    With ``outlet_cells(valid, True)`` as sources, these are the cells that could receive water
    from ground beyond the data, so that their accumulation is only a lower bound.

    Raises
    ------
    ValueError
        If the directions have a cycle or leave the data, or the shapes differ.
    """
    receiver, order = flow_network(direction)
    marked = _cell_set(sources, direction)
    _mark_downstream(order, receiver, marked.reshape(-1))
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
        If the directions have a cycle or leave the data, or the shapes differ.
    """
    receiver, order = flow_network(direction)
    if labels.shape != direction.shape:
        raise ValueError("labels must have the shape of the directions")
    found = np.where(direction == NO_DATA, 0, labels).astype(np.int32)
    _label_upstream(order, receiver, found.reshape(-1))
    return found


def upstream(direction: Codes, seeds: Bools) -> Bools:
    """Mark every cell whose water passes a seed cell, the seeds included.

    Raises
    ------
    ValueError
        If the directions have a cycle or leave the data, or the shapes differ.
    """
    return catchments(direction, _cell_set(seeds, direction)) > 0


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
        If the mask has no cell with a direction, or an array or size is unusable.
    """
    lengths = step_lengths(cell_width, cell_height)
    receiver, order = flow_network(direction)
    inside = _cell_set(mask, direction).reshape(-1)
    if not inside.any():
        raise ValueError("the catchment has no cell with a flow direction")
    steps = np.append(lengths, 0.0)[np.minimum(direction, OUTLET)].reshape(-1)
    reach_m, head = _longest_downstream(order, receiver, steps, inside)
    end = int(np.argmax(np.where(inside, reach_m, -1.0)))
    first = np.unravel_index(int(head[end]), direction.shape)
    cells = downstream_path(direction, int(first[0]), int(first[1]))
    last = int(np.flatnonzero(cells @ np.array([direction.shape[1], 1]) == end)[0])
    return FlowPath(cells=cells[: last + 1], length_m=float(reach_m[end]))


def _cell_set(cells: Bools, direction: Codes) -> Bools:
    """Return a fresh copy of a set of cells, those without data taken out.

    Raises
    ------
    ValueError
        If it is not a bool array of the directions' shape.
    """
    if cells.shape != direction.shape or cells.dtype != np.bool_:
        raise ValueError("expected a bool array of the directions' shape")
    chosen: Bools = cells & (direction != NO_DATA)
    return chosen


def flow_network(direction: Codes) -> tuple[Integers, Integers]:
    """Return where each cell's water goes, and an order of the cells that follows the water.

    Parameters
    ----------
    direction : 2-D uint8 array
        Flow directions.

    Returns
    -------
    receiver : int64 array, one entry per cell in row order
        Flat index of the cell that receives the water, -1 for none.
    order : int64 array
        All flat indices, each before its receiver.

    Raises
    ------
    ValueError
        If a code is unknown, a direction leads out of the data, or there is a cycle.
    """
    if direction.ndim != 2 or direction.dtype != np.uint8:
        raise ValueError("directions must be a 2-D uint8 array")
    if ((direction > OUTLET) & (direction != NO_DATA)).any():
        raise ValueError("unknown flow direction code")
    receiver = _receivers(np.array(direction, order="C"))
    if (receiver < -1).any():
        raise ValueError("a flow direction leads out of the data")
    order = _downstream_order(receiver)
    if order.size < direction.size:
        raise ValueError(f"flow directions run in a cycle: {direction.size - order.size} cells")
    return receiver, order


@numba.njit(cache=True, nogil=True)
def _receivers(direction: Codes) -> Integers:
    """Return flat receiver indices: -1 for none, -2 where the direction leads out of the data."""
    rows, columns = direction.shape
    receiver = np.full(direction.size, -1, np.int64)
    for row in range(rows):
        for column in range(columns):
            code = direction[row, column]
            if code >= OUTLET:
                continue
            to_row, to_column = row + ROW_STEP[code], column + COLUMN_STEP[code]
            ahead = -2
            in_grid = 0 <= to_row < rows and 0 <= to_column < columns
            if in_grid and direction[to_row, to_column] != NO_DATA:
                ahead = to_row * columns + to_column
            receiver[row * columns + column] = ahead
    return receiver


@numba.njit(cache=True, nogil=True)
def _downstream_order(receiver: Integers) -> Integers:
    """Order the cells so that each comes before its receiver; cells on a cycle are left out."""
    waiting = np.zeros(receiver.size, np.int8)
    for cell in range(receiver.size):
        if receiver[cell] >= 0:
            waiting[receiver[cell]] += 1
    order = np.empty(receiver.size, np.int64)
    count = 0
    for start in range(receiver.size):
        cell = start
        while cell >= 0 and waiting[cell] == 0:
            waiting[cell] = -1
            order[count] = cell
            count += 1
            cell = receiver[cell]
            if cell >= 0:
                waiting[cell] -= 1
    return order[:count]


@numba.njit(cache=True, nogil=True)
def _sum_downstream(order: Integers, receiver: Integers, total: Floats) -> None:
    for cell in order:
        if receiver[cell] >= 0:
            total[receiver[cell]] += total[cell]


@numba.njit(cache=True, nogil=True)
def _mark_downstream(order: Integers, receiver: Integers, marked: Bools) -> None:
    for cell in order:
        if marked[cell] and receiver[cell] >= 0:
            marked[receiver[cell]] = True


@numba.njit(cache=True, nogil=True)
def _label_upstream(order: Integers, receiver: Integers, labels: NDArray[np.int32]) -> None:
    for cell in order[::-1]:
        if labels[cell] == 0 and receiver[cell] >= 0:
            labels[cell] = labels[receiver[cell]]


@numba.njit(cache=True, nogil=True)
def _longest_downstream(
    order: Integers, receiver: Integers, steps: Floats, inside: Bools
) -> tuple[Floats, Integers]:
    """Return per cell the length of the longest path inside that ends there, and its head."""
    length = np.zeros(order.size)
    head = np.arange(order.size)
    for cell in order:
        ahead = receiver[cell]
        if not inside[cell] or ahead < 0 or not inside[ahead]:
            continue
        reach = length[cell] + steps[cell]
        if reach > length[ahead]:
            length[ahead] = reach
            head[ahead] = head[cell]
    return length, head
