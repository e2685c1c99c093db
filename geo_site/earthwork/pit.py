"""What is dug: the basin's pit on the real ground, the stream bed, the pipe trench."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import Polygon

from geo_site import volumes
from geo_site.earthwork.records import EarthworkParameters, Excavation
from geo_site.layout import Layout
from geo_site.raster import Raster, burn, grid_over
from geo_site.siting import BasinDesign, Placement
from geo_site.terrain import Terrain

__all__ = ["excavate", "pit_depths", "pit_volume", "stream_cut", "trench_volume"]

FloatArray = NDArray[np.float64]

_CELL_M = 0.1  # fine beside a batter: the volume is then known to a few tenths of a percent
_STEP_M = 0.1  # along the pipe
_MARGIN_M = 1.0


def excavate(terrain: Terrain, placement: Placement, design: BasinDesign) -> Excavation:
    """Measure the basin's pit on the real ground.

    Each cell of 0.1 m is dug to ``max(0, ground - (floor + distance / batter))``, its distance
    taken from the pit's floor, so corners are quarter cones; ground between the terrain's cell
    centres is bilinear. Ground lower than the floor is neither dug nor filled.

    Parameters
    ----------
    terrain : Terrain
        Its ground.
    placement : Placement
        Floor, levels and outline of the pit.
    design : BasinDesign
        Its batter.

    Returns
    -------
    Excavation
        Bank volume up to the grass, m3; NaN where the ground inside the outline is not known.
    """
    depths = pit_depths(terrain, placement, design)
    greatest_m = float(depths.values.max()) if depths.values.size else 0.0
    return Excavation(
        bank_m3=pit_volume(depths, placement, design, strip_m=0.0),
        greatest_depth_m=greatest_m,
        outline=placement.excavation,
    )


def pit_depths(terrain: Terrain, placement: Placement, design: BasinDesign) -> Raster:
    """Depths of the pit below the ground, m, on cells of 0.1 m."""
    ground = terrain.ground
    grid = grid_over(
        placement.excavation.bounds,
        _CELL_M,
        ground.crs,
        margin_m=_MARGIN_M,
        anchor=(ground.bounds[0], ground.bounds[3]),
    )
    x, y = (axis.ravel() for axis in np.meshgrid(*grid.centres()))
    levels_m = ground.sample(np.column_stack([x, y])).reshape(grid.shape)
    points = shapely.points(x, y)
    distance_m = np.asarray(shapely.distance(points, placement.pit_floor)).reshape(grid.shape)
    depths_m = volumes.battered_depths(levels_m, distance_m, placement.floor_level_m, design.batter)
    unknown = np.isnan(depths_m)
    depths_m[unknown & ~burn(placement.excavation, grid)] = 0.0
    return grid.like(_joined_to_floor(depths_m, distance_m == 0.0))


def _joined_to_floor(depths_m: FloatArray, floor: NDArray[np.bool_]) -> FloatArray:
    """Leave out ground that rises through the batter's plane further away, beyond a dip."""
    dug = (depths_m > 0.0) | np.isnan(depths_m)
    parts, _ = ndimage.label(dug)
    joined = np.isin(parts, np.unique(parts[floor & dug])) & dug
    return np.where(joined, depths_m, 0.0)


def pit_volume(depths: Raster, placement: Placement, design: BasinDesign, strip_m: float) -> float:
    """Bank volume of the pit beneath a strip of a given thickness, m3."""
    below_m = np.maximum(depths.values - strip_m, 0.0)  # NaN stays NaN
    if design.batter > 0.0:
        return float(below_m.sum()) * depths.cell_area_m2
    # A vertical side falls between cell centres: the floor's own area is exact there.
    inside = burn(placement.pit_floor, depths)
    return float(below_m[inside].mean()) * float(placement.pit_floor.area)


def stream_cut(layout: Layout, pit: Polygon, strip_m: float) -> float:
    """Bank volume dug for the stream bed beneath the strip of sod and topsoil, m3.

    The layout's cut reaches up to the grass. The strip's part of it is taken from the
    ground broken outside the pit and off the berm, where stone and liner alone go as deep as
    the strip.
    """
    dug = layout.dig.difference(pit)
    if layout.berm is not None:
        dug = dug.difference(layout.berm)
    return max(layout.stream_cut_m3 - strip_m * float(dug.area), 0.0)


def trench_volume(
    ground: Raster, layout: Layout, pit: Polygon, parameters: EarthworkParameters
) -> float:
    """Bank volume of the pipe trench outside the pit, beneath the strip, m3; NaN if unknown."""
    pipe = shapely.get_coordinates(layout.pipe, include_z=True)
    if len(pipe) < 2:
        return 0.0
    along_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(pipe[:, :2], axis=0).T))])
    count = max(int(np.ceil(along_m[-1] / _STEP_M)), 1)
    step_m = along_m[-1] / count
    stations_m = (np.arange(count) + 0.5) * step_m
    x, y, z = (np.interp(stations_m, along_m, pipe[:, axis]) for axis in range(3))
    outside = ~shapely.contains_xy(pit, x, y)
    strip_m = parameters.sod_thickness + parameters.topsoil_thickness
    floor_m = z - parameters.trench_below_pipe
    depth_m = np.maximum(ground.sample(np.column_stack([x, y])) - floor_m - strip_m, 0.0)
    return float(depth_m[outside].sum() * step_m * layout.trench_width_m)
