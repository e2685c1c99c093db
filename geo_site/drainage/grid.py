"""The grid under `drainage`: direction codes, steps to the neighbours, checks, groups of cells.

The compiled loops of this folder work on flat arrays. Where they look at neighbours the grid is
padded by one cell of nothing, so that every neighbour of a real cell is an index into the array.
"""

from __future__ import annotations

from typing import Any, Final

import numba
import numpy as np
from numpy.typing import NDArray

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


def checked_ground(ground: Ground) -> Floats:
    """Return the ground as float64, or refuse what cannot be a terrain raster.

    Raises
    ------
    ValueError
        If it is not a 2-D array of float32 or float64 with a cell in it, or holds an infinity.
    """
    if ground.ndim != 2 or ground.size == 0:
        raise ValueError(f"ground must be a 2-D array with cells, not shape {ground.shape}")
    if ground.dtype not in (np.dtype(np.float32), np.dtype(np.float64)):
        raise ValueError(f"ground must be float32 or float64, not {ground.dtype}")
    if np.isinf(ground).any():
        raise ValueError("ground has infinite levels; mark missing cells with NaN")
    return np.array(ground, dtype=np.float64, order="C")


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


def label_groups(cells: Bools) -> NDArray[np.int32]:
    """Number the 8-connected groups of True cells from 1, in the order of their first cell."""
    padded = np.pad(cells, 1)
    labels = _label_groups(padded.ravel(), padded.shape[1])
    return labels.reshape(padded.shape)[1:-1, 1:-1].copy()


@numba.njit(cache=True, nogil=True)
def neighbour_offsets(width: int) -> Integers:
    """Return the flat steps to the eight neighbours on a grid `width` cells wide."""
    offsets = np.empty(8, np.int64)
    for code in range(8):
        offsets[code] = ROW_STEP[code] * width + COLUMN_STEP[code]
    return offsets


@numba.njit(cache=True, nogil=True)
def _label_groups(cells: Bools, width: int) -> NDArray[np.int32]:
    offsets = neighbour_offsets(width)
    labels = np.zeros(cells.size, np.int32)
    stack = np.empty(cells.size, np.int64)
    count = 0
    for start in range(cells.size):
        if not cells[start] or labels[start] > 0:
            continue
        count += 1
        labels[start] = count
        stack[0] = start
        size = 1
        while size > 0:
            size -= 1
            cell = stack[size]
            for offset in offsets:
                other = cell + offset
                if cells[other] and labels[other] == 0:
                    labels[other] = count
                    stack[size] = other
                    size += 1
    return labels
