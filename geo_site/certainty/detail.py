"""What a terrain's cells hide: the size of ground that is finer than they are.

In: a terrain. Out: for each cell how far a point of the ground may lie off the ground interpolated
between cell centres. Method: cells twice as wide are made, and what they lose of the terrain is
taken as a measure of what its own cells have lost of the ground. Detail is not error that was
read: the ground has it and the terrain has not, so it is added to what may be and nothing is taken
off for it. Reference: self-likeness of ground from scale to scale; the factor is measured.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from geo_site.raster import Raster

__all__ = ["hidden_detail"]

Floats = NDArray[np.float64]

_AROUND = 7  # cells of the square over which squares are averaged: three and a half wide cells
_MARGIN = 8  # cells beyond a window, so that its figures are those of the whole terrain


def hidden_detail(
    ground: Raster, bounds: tuple[float, float, float, float], share: float
) -> Raster:
    """Standard deviation of what cells hide, near each cell of a window.

    `d^2 = share mean((g - b)^2)`, b the ground of cells twice as wide, interpolated back to the
    centres of the terrain's cells, the mean over 7 x 7 cells.

    Parameters
    ----------
    ground : Raster
        The terrain.
    bounds : tuple of float
        West, south, east, north of the window, m.
    share : float
        Hidden variance over that which cells twice as wide hide besides.

    Returns
    -------
    Raster
        Of the cells of the window, m; 0 where nothing near is known.
    """
    window = ground.window(bounds)
    first = ground.cell_of(
        window.bounds[0] + 0.5 * window.cell_width_m, window.bounds[3] - 0.5 * window.cell_height_m
    )
    # whole pairs of cells from the terrain's corner: windows differ, their figures do not
    start = [max(at - _MARGIN, 0) // 2 * 2 for at in first]
    ends = [at + size + _MARGIN for at, size in zip(first, window.shape, strict=True)]
    near = ground.values[start[0] : ends[0], start[1] : ends[1]].astype(np.float64)
    squares = _lost(near) ** 2
    known = ~np.isnan(squares)
    summed = ndimage.uniform_filter(np.where(known, squares, 0.0), _AROUND, mode="constant")
    counted = ndimage.uniform_filter(known.astype(np.float64), _AROUND, mode="constant")
    mean = np.where(counted > 0.5 / _AROUND**2, summed / np.maximum(counted, 1e-12), 0.0)
    row, column = first[0] - start[0], first[1] - start[1]
    inside = mean[row : row + window.shape[0], column : column + window.shape[1]]
    return window.like(math.sqrt(share) * np.sqrt(np.maximum(inside, 0.0)))


def _lost(levels: Floats) -> Floats:
    """What cells twice as wide lose; NaN where one of those that are asked is not known."""
    rows, columns = levels.shape
    even = np.pad(levels, ((0, rows % 2), (0, columns % 2)), constant_values=np.nan)
    shape = even.shape[0] // 2, 2, even.shape[1] // 2, 2
    wide = np.pad(even.reshape(shape).mean(axis=(1, 3)), 1, constant_values=np.nan)
    back = np.empty_like(even)
    for down in (0, 1):
        for right in (0, 1):
            near, beside = wide[1:-1], wide[2 * down :][: shape[0]]
            row = 0.75 * near + 0.25 * beside
            side = row[:, 2 * right :][:, : shape[2]]
            back[down::2, right::2] = 0.75 * row[:, 1:-1] + 0.25 * side
    return (even - back)[:rows, :columns]
