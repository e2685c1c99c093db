"""What a place looks like to the terrain's error: a few points and a few areas.

In: a placement, its stream and the basin's make-up. Out: a :class:`Spot`. Method: the rim is the
lowest of the points along the footprint, as in the search for places.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.layout import Layout
from geo_site.raster import Raster, burn, grid_over
from geo_site.siting import BasinDesign, Placement

__all__ = ["Spot", "cell_shares", "lowest", "points_along", "spot_of"]

Floats = NDArray[np.float64]

_STEP_M = 0.2
_FINE_M = 0.1


@dataclass(frozen=True, kw_only=True, eq=False)
class Spot:
    """A basin in its place with the lip of its stream.

    Attributes
    ----------
    lip : ndarray, shape (1, 2)
        The spillway, m.
    outline : ndarray, shape (n, 2)
        Points along the footprint: the lowest ground there is the rim.
    edge : ndarray, shape (n, 2)
        Points along the pit's edge.
    pit, pit_floor : shapely.Polygon
        Excavation and floor.
    depth_m : float
        From rim to floor.
    batter : float
        Sides of the pit, horizontal per vertical.
    """

    lip: Floats
    outline: Floats
    edge: Floats
    pit: Polygon
    pit_floor: Polygon
    depth_m: float
    batter: float


def spot_of(placement: Placement, layout: Layout, design: BasinDesign) -> Spot:
    """Take from a place what the terrain's error acts on.

    Parameters
    ----------
    placement : Placement
        The basin.
    layout : Layout
        Its stream; only the lip is read.
    design : BasinDesign
        Depth and batter.

    Returns
    -------
    Spot
        Points and areas.
    """
    return Spot(
        lip=shapely.get_coordinates(layout.alignment)[:1],
        outline=points_along(placement.footprint),
        edge=points_along(placement.excavation),
        pit=placement.excavation,
        pit_floor=placement.pit_floor,
        depth_m=design.depth_m,
        batter=design.batter,
    )


def points_along(area: Polygon) -> Floats:
    """Points on an outline, no more than 0.2 m apart, corners among them."""
    return np.asarray(shapely.get_coordinates(area.exterior.segmentize(_STEP_M))[:-1])


def lowest(points: Floats, ground: Raster) -> Floats:
    """Point of several at which the ground is lowest, shape (1, 2); NaN where none is known."""
    levels = ground.sample(points)
    if np.isnan(levels).all():
        return np.full((1, 2), np.nan)
    at = int(np.nanargmin(levels))
    return points[at : at + 1]


def cell_shares(area: BaseGeometry, ground: Raster) -> tuple[Floats, Floats]:
    """Cells of a terrain that an area takes part of: their centres, and how many m2 of each.

    Parameters
    ----------
    area : Polygon or MultiPolygon
        The area.
    ground : Raster
        The terrain.

    Returns
    -------
    tuple of ndarray, shapes (n, 2) and (n,)
        Centres, m, and shares, m2, which add up to the area; empty for an empty one.
    """
    if area.is_empty:
        return np.empty((0, 2)), np.empty(0)
    west, _, _, north = ground.bounds
    fine = grid_over(area.bounds, _FINE_M, ground.crs, anchor=(west, north))
    rows, columns = np.nonzero(burn(area, fine))
    if not rows.size:  # narrower than the fine cells: all of it at one point
        return shapely.get_coordinates(area.representative_point()), np.array([area.area])
    x, y = fine.centres()
    column = np.floor((x[columns] - west) / ground.cell_width_m)
    row = np.floor((north - y[rows]) / ground.cell_height_m)
    cells, counts = np.unique(np.column_stack([column, row]), axis=0, return_counts=True)
    centres = np.column_stack(
        [
            west + (cells[:, 0] + 0.5) * ground.cell_width_m,
            north - (cells[:, 1] + 0.5) * ground.cell_height_m,
        ]
    )
    return centres, counts * (area.area / counts.sum())
