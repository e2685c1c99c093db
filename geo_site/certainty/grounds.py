"""Grounds as they may be, and how water runs on each.

In: the terrain, its error, the bounds of a window. Out: :class:`Grounds`. Method: errors are drawn
by circulant embedding, in pairs, and added to the ground as read; on each ground water is followed
again. That takes most of a simulation's time and knows nothing of basins, so the grounds are drawn
when they are asked for and kept for the next layout on the same lot. Reference: Monte Carlo error
propagation; Oksanen and Sarjakoski (2005).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from geo_site import drainage
from geo_site.error_fields import Embedding, ErrorModel, cell_model, draw_pair, embed
from geo_site.raster import Raster
from geo_site.terrain import Terrain

__all__ = ["LEAST_RUNS", "Drawn", "Grounds", "GroundsRead", "draw_grounds", "window_bounds"]

Bounds = tuple[float, float, float, float]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Codes = NDArray[np.uint8]

LEAST_RUNS = 40
"""Fewer runs tell no 95 % range: each end would rest on less than one of them."""
_SNAP = 8  # cells: a window begins and ends at whole steps of so many
_MOST_KEPT = 5.0e6  # cells of all runs: 9 bytes each, so 45 MB


@dataclass(frozen=True, kw_only=True)
class GroundsRead:
    """All that drawn grounds are made of, apart from the terrain.

    Attributes
    ----------
    bounds : tuple of float
        West, south, east, north of the window, m.
    model : ErrorModel
        The terrain's error.
    holes_drain : bool
        Whether a hole in the terrain swallows water.
    seed : int
        Start of the generators.
    runs : int
        Grounds wanted.
    most_cells : int
        Cells times runs.
    """

    bounds: Bounds
    model: ErrorModel
    holes_drain: bool
    seed: int
    runs: int
    most_cells: int


@dataclass(frozen=True, eq=False)
class Drawn:
    """One ground.

    Attributes
    ----------
    errors_m : ndarray, shape (rows, cols)
        What is added to the ground as read.
    direction : ndarray of uint8, shape (rows, cols)
        Where water runs on it.
    """

    errors_m: Floats
    direction: Codes


def window_bounds(grid: Raster, held: Bounds, lot: BaseGeometry, margin_m: float) -> Bounds:
    """Bounds of a window: what it must hold, the lot near it, and a margin, in whole steps.

    Parameters
    ----------
    grid : Raster
        The terrain.
    held : tuple of float
        What it must hold: west, south, east, north, m.
    lot : geometry
        Of it the window holds what lies within the margin round what is held.
    margin_m : float
        Round both.

    Returns
    -------
    tuple of float
        The same for works that are moved a little. They lie half a cell inside the outermost
        cells, so that it is certain which cells they touch.
    """
    near = np.array(held) + margin_m * np.array([-1.0, -1.0, 1.0, 1.0])
    low, high = np.array(held[:2]), np.array(held[2:])
    if not lot.is_empty:
        low = np.maximum(np.minimum(low, lot.bounds[:2]), near[:2])
        high = np.minimum(np.maximum(high, lot.bounds[2:]), near[2:])
    cell_m = np.array([grid.cell_width_m, grid.cell_height_m])
    step_m = _SNAP * cell_m
    corner = np.array([grid.bounds[0], grid.bounds[3]])
    low = corner + np.floor((low - margin_m - corner) / step_m) * step_m + 0.5 * cell_m
    high = corner + np.ceil((high + margin_m - corner) / step_m) * step_m - 0.5 * cell_m
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def draw_grounds(terrain: Terrain, read: GroundsRead) -> Grounds | None:
    """Make grounds ready for being drawn.

    Parameters
    ----------
    terrain : Terrain
        Ground, and ground that water is followed on.
    read : GroundsRead
        Window, error, how many.

    Returns
    -------
    Grounds or None
        None where fewer than ``LEAST_RUNS`` of them fit.
    """
    window = terrain.routed.window(read.bounds)
    most = int(2.0 * read.most_cells / LEAST_RUNS)
    sizes = window.cell_width_m, window.cell_height_m
    grid = embed(window.shape, *sizes, cell_model(read.model, *sizes), most_cells=most)
    if grid is None:
        return None
    cells = window.values.size + grid.roots.size / 2
    runs = min(read.runs, int(read.most_cells / cells))
    return None if runs < LEAST_RUNS else Grounds(terrain, read, grid, runs)


class Grounds:
    """The part of the terrain that is drawn, what lies on its sides, and the drawn grounds.

    Parameters
    ----------
    terrain : Terrain
        Ground, and ground that water is followed on.
    read : GroundsRead
        Window, error, how many.
    grid : Embedding
        Draws the errors of the window's cells.
    runs : int
        How many there are.

    Attributes
    ----------
    bounds : tuple of float
        As read: what else is read of the terrain for the same cells is asked for with them.
    ground : Raster
        The window, as read.
    known, side, rim : ndarray of bool
        Cells with terrain; beside terrain that the window leaves out; at the edge of the data.
    """

    def __init__(self, terrain: Terrain, read: GroundsRead, grid: Embedding, runs: int) -> None:
        self.runs, self.bounds = runs, read.bounds
        self.ground = terrain.ground.window(read.bounds)
        self._routed = terrain.routed.window(read.bounds)
        self.known = ~np.isnan(self._routed.values)
        self.side = _side(self._routed, terrain.routed)
        self.rim = drainage.outlet_cells(self.known, True) & ~self.side
        drains = drainage.outlet_cells(self.known, read.holes_drain)
        self._outlets = drains | (self.side & self.known)
        self._seed, self._grid = read.seed, grid
        self._keeps = self.known.size * runs <= _MOST_KEPT
        self._drawn: dict[int, tuple[Drawn, Drawn]] = {}

    @property
    def cells(self) -> ErrorModel:
        """Error of the cells."""
        return self._grid.model

    def pair(self, number: int) -> tuple[Drawn, Drawn]:
        """Give two grounds: the same ones whenever they are asked for.

        Parameters
        ----------
        number : int
            Of the pair, from 0.

        Returns
        -------
        tuple of Drawn
            The two.
        """
        found = self._drawn.get(number)
        if found is None:
            one, two = draw_pair(self._grid, np.random.default_rng([self._seed, 0, number]))
            found = self._followed(one), self._followed(two)
            if self._keeps:
                self._drawn[number] = found
        return found

    def _followed(self, errors_m: Floats) -> Drawn:
        routed = self._routed
        sizes = routed.cell_width_m, routed.cell_height_m
        flood = drainage.flood(routed.values + errors_m, self._outlets, *sizes, 1)
        return Drawn(errors_m, flood.direction)


def _side(window: Raster, whole: Raster) -> Bools:
    """Cells of a window beside terrain that it leaves out."""
    cut = np.abs(np.array(window.bounds) - np.array(whole.bounds)) > 0.5 * window.cell_width_m
    side = np.zeros(window.shape, dtype=bool)
    side[:, 0] |= cut[0]  # west, south, east, north
    side[-1, :] |= cut[1]
    side[:, -1] |= cut[2]
    side[0, :] |= cut[3]
    return side
