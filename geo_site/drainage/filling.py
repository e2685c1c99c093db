"""Fill depressions to their spill level and give every cell a flow direction.

Question
    To what level does each low place fill, which way does water leave each cell, and how many
    cells drain through it?
In, out
    Ground levels and the cells where water can leave; the filled surface and flow directions.
Method
    Directions on the ground as it is, a flood over the basins that they make (``basins``), and
    directions once more on the filled surface (``steepest``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geo_site.drainage.basins import TILE, fill
from geo_site.drainage.counting import count_cells
from geo_site.drainage.grid import Bools, Codes, Ground, raster_of, step_lengths
from geo_site.drainage.outlets import outlet_cells
from geo_site.drainage.steepest import level_ways, steepest_ways


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


@dataclass(frozen=True, eq=False)
class Drainage:
    """What `drain` found.

    Attributes
    ----------
    filled : array, the shape and dtype of the ground
        Level of the ground, raised in each depression to the level at which it spills.
    direction : uint8 array
        Flow direction of each cell, in the codes of the module.
    cells : unsigned integer array
        Number of cells that drain through each cell, itself included; 0 without data.
    """

    filled: Ground
    direction: Codes
    cells: NDArray[np.unsignedinteger]


def drain(
    ground: Ground,
    cell_width: float,
    cell_height: float,
    *,
    holes_drain: bool = False,
    threads: int = 2,
) -> Drainage:
    """Fill, direct and count a whole raster in little memory.

    Parameters
    ----------
    ground : 2-D float32 or float64 array
        Ground levels in metres, NaN where there is no data. float32 is not copied to float64.
    cell_width, cell_height : float
        Cell size in metres.
    holes_drain : bool
        Whether water can leave into holes of the data; see `outlet_cells`.
    threads : int
        How many parts of the raster are worked at a time. The result does not depend on it.

    Returns
    -------
    Drainage
        At most 10 bytes a cell besides float32 ground, while it is made too (plus what the
        passes between basins at tile edges take, some hundredths of a byte).

    Raises
    ------
    ValueError
        If the ground or a size is unusable.

    Examples
    --------
    >>> ground = np.array([[9, 9, 9], [9, 2, 7], [9, 9, 9]], dtype=np.float32)
    >>> found = drain(ground, 1.0, 1.0)
    >>> float(found.filled[1, 1]), int(found.direction[1, 1]), int(found.cells[1, 2])
    (7.0, 0, 9)
    """
    outlets = outlet_cells(~np.isnan(ground), holes_drain)
    flooded = flood(ground, outlets, cell_width, cell_height, threads)
    del outlets
    cells = count_cells(flooded.direction, threads)
    return Drainage(filled=flooded.filled, direction=flooded.direction, cells=cells)


def flood(
    ground: Ground, outlets: Bools, cell_width: float, cell_height: float, threads: int = 2
) -> Flood:
    """Fill the depressions and give every cell a flow direction.

    The filled level of a cell is the lowest level to which water must rise there to reach an
    outlet: the least, over all 8-connected paths to one, of the highest ground on the path.
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
    threads : int
        How many parts of the raster are worked at a time. The result does not depend on it.

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
    return _flood(ground, outlets, step_lengths(cell_width, cell_height), threads, TILE)


def _flood(
    ground: Ground,
    outlets: Bools,
    lengths: NDArray[np.float64],
    threads: int,
    tile: tuple[int, int],
) -> Flood:
    levels = raster_of(ground)
    if outlets.shape != ground.shape or outlets.dtype != np.bool_:
        raise ValueError("outlets must be a bool array of the ground's shape")
    leaves = np.ascontiguousarray(outlets)
    direction = np.empty(levels.shape, np.uint8)
    steepest_ways(levels, leaves, lengths, direction, threads)
    filled = fill(levels, direction, leaves, tile, threads)
    steepest_ways(filled, leaves, lengths, direction, threads)
    level_ways(filled, direction, threads)
    return Flood(filled=filled, direction=direction)
