"""Read the ground once: slopes, low places, drainage.

In: a site and the terrain settings. Out: a :class:`Terrain`. Method: gradients on the ground as
it is; drainage on the routed ground, over the whole terrain. Reference: ``geo_site.drainage``.
"""

from __future__ import annotations

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from geo_site import drainage, slopes
from geo_site.raster import Raster, burn, trace
from geo_site.site import Site
from geo_site.terrain.flow import flow_paths
from geo_site.terrain.results import Depression, Terrain, TerrainParameters
from geo_site.terrain.routing import routed_ground

__all__ = ["analyse"]

Floats = NDArray[np.float64]


def analyse(site: Site, parameters: TerrainParameters) -> Terrain:
    """Find slopes, low places and drainage of the whole terrain.

    Parameters
    ----------
    site : Site
        Its terrain, structures, culverts and parcel are read.
    parameters : TerrainParameters
        How.

    Returns
    -------
    Terrain
        On the terrain's own grid. Without data everywhere it holds NaN and no vectors.
    """
    ground = site.terrain
    size = ground.cell_width_m, ground.cell_height_m
    levels = np.asarray(ground.values, dtype=np.float64)
    east, north = slopes.gradient(levels, *size)
    routed, notes = routed_ground(site, parameters)
    sources = drainage.outlet_cells(~np.isnan(routed), True)
    outlets = (
        sources if parameters.holes == "outlet" else drainage.outlet_cells(~np.isnan(routed), False)
    )
    flooded = drainage.flood(routed, outlets, *size)
    filled, direction = flooded.filled, flooded.direction
    accumulation = ground.like(_accumulation_m2(direction, ground.cell_area_m2))
    near = burn(site.parcel.buffer(parameters.surroundings), ground)
    return Terrain(
        ground=ground,
        slope=ground.like(slopes.slope_of(east, north)),
        east_gradient=ground.like(east),
        north_gradient=ground.like(north),
        routed=ground.like(routed),
        filled=ground.like(filled),
        direction=ground.like(direction),
        accumulation_m2=accumulation,
        beyond_edge=ground.like(drainage.contaminated(direction, sources)),
        depressions=_depressions(ground.like(routed), filled, near, parameters),
        flow_paths=flow_paths(direction, accumulation, near, parameters.flow_path_threshold),
        notes=notes,
    )


def _accumulation_m2(direction: NDArray[np.uint8], cell_area_m2: float) -> Floats:
    # Cells are counted whole, which is exact, and only then turned into an area.
    cells = drainage.count_cells(direction)
    return np.where(direction == drainage.NO_DATA, np.nan, cells * cell_area_m2)


def _depressions(
    routed: Raster, filled: Floats, near: NDArray[np.bool_], parameters: TerrainParameters
) -> tuple[Depression, ...]:
    levels = routed.values
    labels = drainage.depression_labels(levels, filled, parameters.least_depression_depth)
    measures = drainage.measure_depressions(levels, filled, labels, routed.cell_area_m2)
    wanted = np.unique(labels[near & (labels > 0)])
    areas = _areas(np.where(np.isin(labels, wanted), labels, 0), routed)
    return tuple(
        Depression(
            geometry=areas[label],
            depth_m=float(measures.depth_m[label - 1]),
            volume_m3=float(measures.volume_m3[label - 1]),
            spill_level_m=float(measures.spill_level_m[label - 1]),
        )
        for label in wanted.tolist()
    )


def _areas(labels: NDArray[np.int32], grid: Raster) -> dict[int, MultiPolygon]:
    """Outline of each label but 0, each traced on its own few cells."""
    rows, cols = np.nonzero(labels)
    order = np.argsort(labels[rows, cols], kind="stable")
    rows, cols = rows[order], cols[order]
    numbers = labels[rows, cols]
    starts = np.flatnonzero(np.diff(numbers, prepend=0))
    ends = np.append(starts, len(numbers))[1:]
    areas = {}
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        row, col = rows[start:end], cols[start:end]
        mask = np.zeros((int(np.ptp(row)) + 1, int(np.ptp(col)) + 1), dtype=bool)
        mask[row - row.min(), col - col.min()] = True
        corner = _corner(grid, mask, int(row.min()), int(col.min()))
        areas[int(numbers[start])] = trace(mask, corner)
    return areas


def _corner(grid: Raster, mask: NDArray[np.bool_], row: int, col: int) -> Raster:
    """Grid of a mask whose north-west cell is that row and column of a larger grid."""
    wide, high = grid.cell_width_m, grid.cell_height_m
    west, north = grid.transform.c + col * wide, grid.transform.f - row * high
    return Raster(mask, Affine(wide, 0.0, west, 0.0, -high, north), grid.crs)
