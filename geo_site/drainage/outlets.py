"""Where water can leave the data: its edge, and holes if they are let drain.

Question
    At which cells does the known ground end, so that water is gone from it?
In, out
    Which cells have ground; which of them are outlets.
Method
    Each row is a series of runs, of ground and of missing ground in turn. Runs of one kind that
    touch, corners included, are joined from row to row, so that a hole is told from the missing
    ground round the data, and ground that stands alone in a hole from the rest.
"""

from __future__ import annotations

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import LOOP, PART
from geo_site.drainage.grid import Bools, Integers

Runs = NDArray[np.int32]


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
    cells = np.ascontiguousarray(valid)
    outlets = np.zeros(valid.shape, dtype=np.bool_)
    if not valid.size:
        return outlets
    runs, first_run = _runs(cells)
    group = np.arange(len(runs))
    _join_runs(cells, runs, first_run, group)
    drains = np.ones(len(runs), dtype=np.bool_)
    if not holes_drain:
        drains = _groups_at_edge(runs, group, valid.shape)[group]
    _mark_beside(cells, runs[drains], outlets)
    for edge in (np.s_[0], np.s_[-1], np.s_[:, 0], np.s_[:, -1]):
        outlets[edge] = cells[edge]
    if not drains.all():
        _open_islands(cells, runs, group, outlets)
    return outlets


def _runs(valid: Bools) -> tuple[Runs, Integers]:
    """Return row, first column and column after the last of each run, and each row's first run."""
    rows, columns = valid.shape
    begins = np.ones(valid.shape, dtype=np.bool_)
    np.not_equal(valid[:, 1:], valid[:, :-1], out=begins[:, 1:])
    row, start = np.divmod(np.flatnonzero(begins), columns)
    end = np.append(start[1:], 0)
    end[end == 0] = columns
    first_run = np.searchsorted(row, np.arange(rows + 1))
    return np.column_stack([row, start, end]).astype(np.int32), first_run.astype(np.int64)


def _groups_at_edge(runs: Runs, group: Integers, shape: tuple[int, ...]) -> Bools:
    """Tell of each group whether it reaches the edge of the grid."""
    row, start, end = runs.T
    at_edge = np.zeros(len(runs), dtype=np.bool_)
    touches = (row == 0) | (row == shape[0] - 1) | (start == 0) | (end == shape[1])
    at_edge[group[touches]] = True
    return at_edge


@numba.njit(**LOOP)
def _join_runs(valid: Bools, runs: Runs, first_run: Integers, group: Integers) -> None:
    """Write for each run the first run of its group; each begins as its own."""
    for row in range(1, valid.shape[0]):
        other = first_run[row - 1]
        for run in range(first_run[row], first_run[row + 1]):
            start, end = runs[run, 1], runs[run, 2]
            while other < first_run[row] and runs[other, 2] < start:
                other += 1
            near = other
            while near < first_run[row] and runs[near, 1] <= end:
                if valid[row - 1, runs[near, 1]] == valid[row, start]:
                    one, two = _first_of(group, run), _first_of(group, near)
                    group[max(one, two)] = min(one, two)
                near += 1
    for run in range(len(runs)):
        group[run] = group[group[run]]


@numba.njit(**PART)
def _first_of(group: Integers, run: int) -> int:
    while group[run] != run:
        group[run] = group[group[run]]
        run = group[run]
    return run


@numba.njit(**LOOP)
def _mark_beside(valid: Bools, runs: Runs, marked: Bools) -> None:
    """Mark the ground beside those of the runs that are missing ground."""
    rows, columns = valid.shape
    for at in range(len(runs)):
        row, start, end = runs[at, 0], runs[at, 1], runs[at, 2]
        if valid[row, start]:
            continue
        for near in range(max(row - 1, 0), min(row + 2, rows)):
            for column in range(max(start - 1, 0), min(end + 1, columns)):
                marked[near, column] = valid[near, column]


@numba.njit(**LOOP)
def _open_islands(valid: Bools, runs: Runs, group: Integers, outlets: Bools) -> None:
    """Mark the ground at the shore of groups that have no outlet yet."""
    open_group = np.zeros(len(runs), np.bool_)
    for at in range(len(runs)):
        row, start, end = runs[at, 0], runs[at, 1], runs[at, 2]
        if valid[row, start] and not open_group[group[at]]:
            open_group[group[at]] = outlets[row, start:end].any()
    for at in range(len(runs)):
        row, start, end = runs[at, 0], runs[at, 1], runs[at, 2]
        if not valid[row, start] or open_group[group[at]]:
            continue
        for column in range(start, end):
            top, left = max(row - 1, 0), max(column - 1, 0)
            outlets[row, column] = not valid[top : row + 2, left : column + 2].all()
