"""Ground to measure on, of any side: a seeded fractal one, and real lidar laid out in mirrors.

Both are float32 in metres with a ragged collar of no data (NaN) that reaches the edge of the
grid, as terrain cut to a watershed or a county has. There are no holes inside: libraries differ
in whether water leaves into a hole, and that would be measured as a difference in the answer.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio
from numpy.typing import NDArray
from scipy import fft

__all__ = ["GROUNDS", "make_ground"]

Levels = NDArray[np.float32]

LIDAR = Path(__file__).parents[2] / "sample_data" / "lidar" / "terrain.tif"
STEP_M = 0.1  # root mean square difference of neighbours on the fractal, at every side
HURST = 0.7  # roughness: amplitude grows with (wavelength) ** 0.7
FALL = 0.004  # the mirrored lidar is laid on this slope, so that water crosses its seams


def fractal(side: int, seed: int) -> Levels:
    """Return a random surface with the spectrum f ** -(HURST + 1), synthesised in float32.

    The spectrum is fixed in cycles per cell, so cells are as rough on a large side as on a small
    one, and only longer waves are added.
    """
    rng = np.random.default_rng(seed)
    waves = np.empty((side, side // 2 + 1), np.complex64)
    across = np.fft.rfftfreq(side).astype(np.float32)
    for row, along in enumerate(np.fft.fftfreq(side).astype(np.float32)):
        parts = rng.standard_normal((2, across.size), dtype=np.float32)
        squared = across * across + along * along
        squared[squared == 0.0] = np.inf
        waves[row] = (parts[0] + 1j * parts[1]) * squared ** np.float32(-(HURST + 1.0) / 2.0)
    levels = fft.irfft2(waves, s=(side, side), overwrite_x=True, workers=2)
    apart = np.diff(levels[: min(side, 1000)], axis=1)
    levels *= np.float32(STEP_M) / np.sqrt(np.mean(apart * apart))
    return np.asarray(levels + np.float32(100.0), np.float32)


def lidar(side: int, seed: int) -> Levels:
    """Return the sample's real terrain mirrored over the side, on a slight slope to the south."""
    del seed
    with rasterio.open(LIDAR) as source:
        tile = source.read(1).astype(np.float32)
    mirrored = np.block([[tile, tile[:, ::-1]], [tile[::-1], tile[::-1, ::-1]]])
    rows, columns = mirrored.shape
    levels = np.empty((side, side), np.float32)
    for first in range(0, side, rows):
        band = mirrored[: min(rows, side - first)]
        for left in range(0, side, columns):
            levels[first : first + rows, left : left + columns] = band[:, : side - left]
    levels += (np.arange(side, 0, -1, dtype=np.float32) * np.float32(FALL))[:, None]
    return levels


GROUNDS: dict[str, Callable[[int, int], Levels]] = {"fractal": fractal, "lidar": lidar}


def make_ground(name: str, side: int, seed: int = 1) -> Levels:
    """Return the named ground with its collar of no data."""
    levels = GROUNDS[name](side, seed)
    place = np.arange(side)
    turn = 2.0 * np.pi * place / side
    width = side * (0.02 + 0.008 * np.sin(5.0 * turn) + 0.004 * np.sin(31.0 * turn))
    collar = np.maximum(width.astype(np.int64), 1)
    levels[place[:, None] < collar] = np.nan
    levels[place[::-1, None] < collar[::-1]] = np.nan
    levels.T[place[:, None] < collar[::-1]] = np.nan
    levels.T[place[::-1, None] < collar] = np.nan
    return levels
