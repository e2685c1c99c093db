"""Fill depressions to their spill level and give every cell a flow direction.

Question
    To what level does each low place fill, and which way does water leave each cell?
In, out
    Ground levels and the cells where water can leave; the filled surface and flow directions.
Method
    Priority-flood [1]_ from the outlets, lowest first, with a plain queue inside depressions.
    The priority queue is a binary heap in two arrays, on (level, sequence number): equal levels
    leave it in the order in which they came, so results depend on nothing but the ground. Then
    each cell flows to its steepest lower neighbour on the filled surface [2]_.

References
----------
.. [1] Barnes, Lehman and Mulla (2014), Priority-flood: an optimal depression-filling and
   watershed-labeling algorithm for digital elevation models. Computers & Geosciences 62.
.. [2] O'Callaghan and Mark (1984), The extraction of drainage networks from digital elevation
   data. Computer Vision, Graphics, and Image Processing 28.
"""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np

from geo_site.drainage.grid import (
    COLUMN_STEP,
    NO_DATA,
    OUTLET,
    ROW_STEP,
    Bools,
    Codes,
    Floats,
    Ground,
    Integers,
    checked_ground,
    label_groups,
    neighbour_offsets,
    step_lengths,
)


@dataclass(frozen=True, eq=False)
class Flood:
    """What `flood` found.

    Attributes
    ----------
    filled : array, the shape and dtype of the ground
        Level of the ground, raised in each depression to the level at which it spills.
    direction : uint8 array
        Flow direction of each cell, in the codes of the module.
    """

    filled: Ground
    direction: Codes


def outlet_cells(valid: Bools, holes_drain: bool) -> Bools:
    """Find the cells where water can leave the data.

    These are the valid cells on the edge of the grid, and those next to (8 neighbours) missing
    ground that reaches the edge. A hole is missing ground that does not reach it.

    Parameters
    ----------
    valid : 2-D bool array
        True where there is ground.
    holes_drain : bool
        Whether water can also leave into holes. Ground that is wholly inside a hole drains into
        it in either case, having nowhere else to go.

    Returns
    -------
    bool array
        True in outlet cells; never True where `valid` is False.

    Notes
    -----
    With `holes_drain` this is also the set of cells that could receive water from ground that
    the data does not show: the sources for `contaminated`.

    Examples
    --------
    >>> valid = np.ones((5, 5), dtype=bool)
    >>> valid[2, 2] = False
    >>> int(outlet_cells(valid, False).sum()), int(outlet_cells(valid, True).sum())
    (16, 24)
    """
    if valid.ndim != 2 or valid.dtype != np.bool_:
        raise ValueError("valid must be a 2-D bool array")
    edge = np.ones(valid.shape, dtype=np.bool_)
    edge[1:-1, 1:-1] = False
    beside_any = valid & _beside(~valid)
    if holes_drain:
        return beside_any | (valid & edge)
    beyond = _connected(~valid, ~valid & edge)
    outlets = valid & (edge | _beside(beyond))
    island = valid & ~_connected(valid.copy(), outlets)
    return outlets | (island & beside_any)


def _beside(cells: Bools) -> Bools:
    """Return the cells that have one of `cells` among their eight neighbours."""
    padded = np.pad(cells, 1)
    rows, columns = cells.shape
    beside = np.zeros_like(cells)
    for row_step, column_step in zip(ROW_STEP, COLUMN_STEP, strict=True):
        row, column = 1 + row_step, 1 + column_step
        beside |= padded[row : row + rows, column : column + columns]
    return beside


def _connected(cells: Bools, seeds: Bools) -> Bools:
    """Return the part of `cells` that is 8-connected to a seed inside it."""
    labels = label_groups(cells)
    reached = np.zeros(int(labels.max(initial=0)) + 1, dtype=np.bool_)
    reached[labels[seeds]] = True
    reached[0] = False
    return reached[labels]


def flood(ground: Ground, outlets: Bools, cell_width: float, cell_height: float) -> Flood:
    """Fill the depressions and give every cell a flow direction.

    The filled level of a cell is the lowest level to which water must rise there to reach an
    outlet: the least, over all 8-connected paths to one, of the highest ground on the path [1]_.
    Ground is only ever raised, and filled levels are levels of the ground itself (no tilt is
    added), so filling is exact in either dtype and filling twice changes nothing.

    Parameters
    ----------
    ground : 2-D float32 or float64 array
        Ground levels in metres, NaN where there is no data.
    outlets : 2-D bool array
        Where water can leave; see `outlet_cells`.
    cell_width, cell_height : float
        Cell size in metres.

    Returns
    -------
    Flood
        An outlet cell with a lower neighbour flows to the steepest one; any other outlet cell
        has the direction ``OUTLET``.

    Raises
    ------
    ValueError
        If an array or size is unusable, or some ground cannot reach any outlet.

    Examples
    --------
    >>> ground = np.array([[9.0, 9.0, 9.0], [9.0, 2.0, 7.0], [9.0, 9.0, 9.0]])
    >>> flooded = flood(ground, outlet_cells(~np.isnan(ground), False), 1.0, 1.0)
    >>> float(flooded.filled[1, 1]), int(flooded.direction[1, 1]), int(flooded.direction[1, 2])
    (7.0, 0, 8)
    """
    levels = checked_ground(ground)
    lengths = step_lengths(cell_width, cell_height)
    if outlets.shape != ground.shape or outlets.dtype != np.bool_:
        raise ValueError("outlets must be a bool array of the ground's shape")
    padded = np.pad(levels, 1, constant_values=np.nan)
    seeds = np.flatnonzero(np.pad(outlets, 1) & ~np.isnan(padded))
    filled, toward = _flood(padded.ravel(), seeds, padded.shape[1])
    stranded = int((~np.isnan(filled)).sum() - (toward != NO_DATA).sum())
    if stranded:
        raise ValueError(f"{stranded} cells cannot reach an outlet")
    direction = _steepest(filled, toward, padded.shape[1], lengths)
    inner = np.s_[1:-1, 1:-1]
    return Flood(
        filled=filled.reshape(padded.shape)[inner].astype(ground.dtype),
        direction=direction.reshape(padded.shape)[inner].copy(),
    )


@numba.njit(cache=True, nogil=True)
def _push(level: Floats, sequence: Integers, size: int, new_level: float, new: int) -> None:
    """Put an entry on the binary heap; equal levels come off in the order of `sequence`."""
    at = size
    while at > 0:
        above = (at - 1) // 2
        if level[above] <= new_level:
            break
        level[at] = level[above]
        sequence[at] = sequence[above]
        at = above
    level[at] = new_level
    sequence[at] = new


@numba.njit(cache=True, nogil=True)
def _pop(level: Floats, sequence: Integers, size: int) -> int:
    """Take the lowest entry off a heap of `size` entries and return its sequence number."""
    top: int = sequence[0]
    last_level, last = level[size - 1], sequence[size - 1]
    at = 0
    while True:
        below = 2 * at + 1
        if below >= size - 1:
            break
        right = below + 1
        if right < size - 1 and (level[right], sequence[right]) < (level[below], sequence[below]):
            below = right
        if (last_level, last) <= (level[below], sequence[below]):
            break
        level[at] = level[below]
        sequence[at] = sequence[below]
        at = below
    level[at] = last_level
    sequence[at] = last
    return top


@numba.njit(cache=True, nogil=True)
def _flood(ground: Floats, seeds: Integers, width: int) -> tuple[Floats, Codes]:
    """Fill, and note in `toward` the way back to the cell from which each was flooded."""
    offsets = neighbour_offsets(width)
    filled = ground.copy()
    toward = np.full(ground.size, NO_DATA, np.uint8)
    level = np.empty(ground.size)
    sequence = np.empty(ground.size, np.int64)
    pushed = np.empty(ground.size, np.int64)
    pit = np.empty(ground.size, np.int64)
    count = size = first = last = 0
    for cell in seeds:
        toward[cell] = OUTLET
        pushed[count] = cell
        _push(level, sequence, size, ground[cell], count)
        count += 1
        size += 1
    while size > 0 or first < last:
        if first < last:
            cell = pit[first]
            first += 1
        else:
            cell = pushed[_pop(level, sequence, size)]
            size -= 1
        for turn in range(8):
            code = 2 * (turn % 4) + turn // 4  # the four sides first: straight paths on flats
            other = cell + offsets[code]
            if toward[other] != NO_DATA or np.isnan(ground[other]):
                continue
            toward[other] = (code + 4) % 8
            if ground[other] < filled[cell]:
                filled[other] = filled[cell]
                pit[last] = other
                last += 1
            else:
                pushed[count] = other
                _push(level, sequence, size, ground[other], count)
                count += 1
                size += 1
    return filled, toward


@numba.njit(cache=True, nogil=True)
def _steepest(filled: Floats, toward: Codes, width: int, lengths: Floats) -> Codes:
    offsets = neighbour_offsets(width)
    direction = toward.copy()
    for cell in range(filled.size):
        if toward[cell] == NO_DATA:
            continue
        steepest = 0.0
        for code in range(8):
            slope = (filled[cell] - filled[cell + offsets[code]]) / lengths[code]
            if slope > steepest:
                steepest = slope
                direction[cell] = code
    return direction
