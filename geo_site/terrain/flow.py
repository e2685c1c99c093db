"""Where water runs and where it comes from, as lines and areas.

In: a :class:`Terrain` or its directions. Out: flow paths, the catchment of a work, the way on
from a point. Method: single flow directions are followed from cell to cell; areas are traced
along cell edges, so an area is a number of cells times the cell area. Reference:
``geo_site.drainage``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from geo_site import drainage
from geo_site.errors import InputRefused
from geo_site.raster import Raster, burn, trace
from geo_site.terrain.results import Catchment, FlowPath, Terrain

__all__ = ["catchment_of", "flow_paths", "spill_path"]

_HAIR = 1e-3  # of a cell: half the thickness that a line is given

Bools = NDArray[np.bool_]
Codes = NDArray[np.uint8]
Integers = NDArray[np.int64]


def catchment_of(
    terrain: Terrain, geometry: BaseGeometry, parcel: MultiPolygon, work: str
) -> Catchment:
    """Find the ground whose water runs onto a work.

    Parameters
    ----------
    terrain : Terrain
        The ground.
    geometry : shapely geometry
        The work; each cell that it touches counts as under it.
    parcel : MultiPolygon
        The lot.
    work : str
        The work's name.

    Returns
    -------
    Catchment
        Empty where the work lies outside the data.
    """
    direction = terrain.direction.values
    seeds = _under(geometry, terrain.direction) & (direction != drainage.NO_DATA)
    cells = drainage.upstream(direction, seeds)
    area = trace(cells, terrain.direction)
    return Catchment(
        work=work,
        geometry=area,
        area_m2=int(cells.sum()) * terrain.direction.cell_area_m2,
        outside_parcel_m2=float(area.difference(parcel).area),
        reaches_terrain_edge=bool((cells & terrain.beyond_edge.values).any()),
    )


def _under(geometry: BaseGeometry, grid: Raster) -> Bools:
    """Cells that a work touches."""
    if not geometry.area:
        # A bare line through the corners of cells would leave gaps for water to slip through.
        geometry = geometry.buffer(_HAIR * min(grid.cell_width_m, grid.cell_height_m))
    return burn(geometry, grid, touched=True)


def spill_path(terrain: Terrain, x: float, y: float) -> FlowPath:
    """Follow the water that overflows at a point, to the terrain's edge or into a hole.

    Parameters
    ----------
    terrain : Terrain
        The ground.
    x, y : float
        The point, m.

    Returns
    -------
    FlowPath
        From the point through the centres of the cells that follow its own; the line is empty
        where the point's cell is the last.

    Raises
    ------
    InputRefused
        No terrain data at the point.
    """
    grid = terrain.direction
    row, col = grid.cell_of(x, y)
    inside = 0 <= row < grid.shape[0] and 0 <= col < grid.shape[1]
    if not inside or grid.values[row, col] == drainage.NO_DATA:
        raise InputRefused(
            f"no terrain data at {x:.2f}, {y:.2f}, so the way of overflow is not known",
            remedy="give terrain that covers this place",
        )
    cells = drainage.downstream_path(grid.values, row, col)
    last = cells[-1]
    following = _centres(grid, cells[1:])
    line = LineString([(x, y), *following]) if len(following) else LineString()
    return FlowPath(
        line=line, accumulation_m2=float(terrain.accumulation_m2.values[last[0], last[1]])
    )


def flow_paths(
    direction: Codes, accumulation: Raster, near: Bools, threshold_m2: float
) -> tuple[FlowPath, ...]:
    """Draw the paths of cells that drain at least a threshold, split where they join.

    Parameters
    ----------
    direction : ndarray of uint8
        Flow directions.
    accumulation : Raster
        Upstream area, m2.
    near : ndarray of bool
        Cells in which paths are drawn.
    threshold_m2 : float
        Least upstream area.

    Returns
    -------
    tuple of FlowPath
        In the order of their upper ends, from north to south and west to east. A path that
        joins another ends on the cell where they meet, with the area of the cell before it.
    """
    wet = near & (direction != drainage.NO_DATA) & (accumulation.values >= threshold_m2)
    cells = np.flatnonzero(wet)
    ahead = dict(zip(cells.tolist(), _receivers(direction, cells).tolist(), strict=True))
    donors: dict[int, int] = {}
    for cell in ahead.values():
        donors[cell] = donors.get(cell, 0) + 1
    flat = accumulation.values.ravel()
    paths = []
    for start in cells.tolist():
        if donors.get(start, 0) == 1:
            continue
        chain = _chain(start, ahead, donors)
        if len(chain) > 1:
            own = chain[-2] if donors[chain[-1]] > 1 else chain[-1]
            line = LineString(_centres(accumulation, _row_col(accumulation, chain)))
            paths.append(FlowPath(line=line, accumulation_m2=float(flat[own])))
    return tuple(paths)


def _chain(start: int, ahead: dict[int, int], donors: dict[int, int]) -> list[int]:
    """Cells from a start down to the next junction, or to the last cell that is drawn."""
    chain = [start]
    following = ahead[start]
    while following in ahead:
        chain.append(following)
        if donors[following] > 1:
            break
        following = ahead[following]
    return chain


def _receivers(direction: Codes, cells: Integers) -> Integers:
    """Flat index of the cell that each cell drains to; -1 where water leaves."""
    codes = direction.ravel()[cells]
    steps = np.array(drainage.ROW_STEP) * direction.shape[1] + np.array(drainage.COLUMN_STEP)
    leaves = codes >= drainage.OUTLET
    return np.where(leaves, -1, cells + steps[np.where(leaves, 0, codes)]).astype(np.int64)


def _row_col(grid: Raster, cells: list[int]) -> Integers:
    rows, cols = np.divmod(np.array(cells, dtype=np.int64), grid.shape[1])
    return np.column_stack([rows, cols])


def _centres(grid: Raster, cells: Integers) -> NDArray[np.float64]:
    x, y = grid.centres()
    return np.column_stack([x[cells[:, 1]], y[cells[:, 0]]])
