"""The grid under `drainage`: direction codes, steps to the neighbours, checks, bands of rows."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from itertools import starmap
from typing import Any, Final, TypeVar

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import PART

OUTLET: Final = 8
NO_DATA: Final = 255
ROW_STEP: Final = (0, -1, -1, -1, 0, 1, 1, 1)
COLUMN_STEP: Final = (1, 1, 0, -1, -1, -1, 0, 1)

Bools = NDArray[np.bool_]
Codes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Ground = NDArray[Any]
"""Ground levels: a 2-D array of float32 or float64."""

T = TypeVar("T")
_BAND = 128  # rows: enough work for a turn of a thread, and little enough to share out evenly


def raster_of(ground: Ground) -> Ground:
    """Return the ground in row order, not copied if it is so already.

    Raises
    ------
    ValueError
        If it is not a 2-D array of float32 or float64 with a cell in it, or holds an infinity.
    """
    if ground.ndim != 2 or ground.size == 0:
        raise ValueError(f"ground must be a 2-D array with cells, not shape {ground.shape}")
    if ground.dtype not in (np.dtype(np.float32), np.dtype(np.float64)):
        raise ValueError(f"ground must be float32 or float64, not {ground.dtype}")
    # Infinities, if there are any, are the least or the greatest: no array of flags is made.
    ends = np.fmin.reduce(ground, axis=None), np.fmax.reduce(ground, axis=None)
    if np.isinf(ends).any():
        raise ValueError("ground has infinite levels; mark missing cells with NaN")
    return np.ascontiguousarray(ground)


def codes_to_read(direction: Codes) -> Codes:
    """Return the codes in row order, not copied if they are so already, and not to be written.

    A loop is compiled anew for arrays that may be written: with this it is compiled once.
    """
    codes = np.ascontiguousarray(direction).view()
    codes.flags.writeable = False
    return codes


def step_lengths(cell_width: float, cell_height: float) -> Floats:
    """Return the length in metres of a step in each of the eight directions.

    Parameters
    ----------
    cell_width, cell_height : float
        East-west and north-south size of a cell in metres.

    Raises
    ------
    ValueError
        If a size is not a positive finite number.

    Examples
    --------
    >>> step_lengths(3.0, 4.0).tolist()
    [3.0, 5.0, 4.0, 5.0, 3.0, 5.0, 4.0, 5.0]
    """
    if not (0.0 < cell_width < np.inf and 0.0 < cell_height < np.inf):
        raise ValueError(f"cell sizes must be positive, not {cell_width} x {cell_height}")
    diagonal = float(np.hypot(cell_width, cell_height))
    return np.array([cell_width, diagonal, cell_height, diagonal] * 2)


def edges(codes: Codes) -> list[tuple[Codes, Bools]]:
    """Return the four edges of a grid of codes, and where in each a direction leads out."""
    leads_out = np.zeros((4, NO_DATA + 1), np.bool_)  # by edge and code
    for edge, outward in enumerate(((1, 2, 3), (5, 6, 7), (3, 4, 5), (7, 0, 1))):
        leads_out[edge, outward] = True
    sides = codes[0], codes[-1], codes[:, 0], codes[:, -1]
    return [(side, out[side]) for side, out in zip(sides, leads_out, strict=True)]


def bands(rows: int, height: int = _BAND) -> list[tuple[int, int]]:
    """Cut rows into bands of a height: first row and the row after the last of each."""
    return [(first, min(first + height, rows)) for first in range(0, rows, height)]


def share_out(work: Callable[..., T], parts: Iterable[tuple[Any, ...]], threads: int) -> list[T]:
    """Do the work on each part, on some threads at a time; results in the order of the parts."""
    if threads < 1:
        raise ValueError(f"threads must be at least 1, not {threads}")
    if threads == 1:
        return list(starmap(work, parts))
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(lambda part: work(*part), parts))


def neighbour_offsets(width: int) -> Integers:
    """Return the flat steps to the eight neighbours on a grid `width` cells wide."""
    return np.array(ROW_STEP, np.int64) * width + np.array(COLUMN_STEP, np.int64)


def near_rows(columns: int, nothing: float, dtype: Any) -> Ground:
    """Return room for a row between two others, a cell longer at each end; see `copy_row`."""
    return np.full((3, columns + 2), nothing, dtype)


@numba.njit(**PART)
def with_room(cells: Integers, count: int, more: int) -> Integers:
    """Return a list that holds `count` cells and has room for more, a longer copy if need be."""
    if count + more <= cells.size:
        return cells
    longer = np.empty(2 * (count + more), np.int64)
    for at in range(count):  # to assign a slice costs four times as much compiling
        longer[at] = cells[at]
    return longer


@numba.njit(**PART)
def copy_row(grid: Ground, row: int, nothing: float, out: Ground) -> None:
    """Copy a row into one that is a cell longer at each end; beyond the grid there is nothing."""
    inside = 0 <= row < grid.shape[0]
    for column in range(grid.shape[1]):
        out[column + 1] = grid[row, column] if inside else nothing
