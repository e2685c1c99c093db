"""The ground that water is followed on: buildings stand up, culverts let it through.

In: a site and the terrain settings. Out: levels, and a note for each culvert left out. Method:
cells of buildings are raised; a culvert's cells are lowered to the straight line between the
ground at its two ends, so that the way through falls steadily.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from shapely import get_parts, line_interpolate_point, line_merge
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from geo_site.raster import Raster, burn
from geo_site.site import Site
from geo_site.terrain.results import TerrainParameters

__all__ = ["routed_ground"]

Floats = NDArray[np.float64]

_STEPS_PER_CELL = 4  # points along a culvert, close enough that no cell on its way is missed


def routed_ground(site: Site, parameters: TerrainParameters) -> tuple[Floats, tuple[str, ...]]:
    """Raise buildings and cut culverts through.

    Parameters
    ----------
    site : Site
        Its terrain, structures and culverts are read.
    parameters : TerrainParameters
        Which structures stand up, and how far.

    Returns
    -------
    ndarray of float64, shape of the terrain
        Levels, m. A building's cell without data stands above all ground: what is known to be
        a building is not a hole that could swallow water.
    tuple of str
        A sentence for each culvert that could not be used.
    """
    routed = np.array(site.terrain.values, dtype=np.float64)
    _raise_buildings(routed, site, parameters)
    notes = []
    for source_id, line in _culverts(site):
        ends = _end_levels(line, site.terrain)
        if np.isnan(ends).any():
            notes.append(f"culvert {source_id} was left out: no terrain data at one of its ends")
        else:
            _cut(routed, line, ends, site.terrain)
    return routed, tuple(notes)


def _raise_buildings(routed: Floats, site: Site, parameters: TerrainParameters) -> None:
    flat = {kind.lower() for kind in parameters.flat_structures}
    table = site.structures
    standing = [
        geometry
        for geometry, kind in zip(table.geometry, table["kind"], strict=True)
        if str(kind).lower() not in flat
    ]
    buildings = burn(standing, site.terrain)
    if not buildings.any() or np.isnan(routed).all():
        return
    unknown = buildings & np.isnan(routed)
    routed[unknown] = np.nanmax(routed)
    routed[buildings] += parameters.building_height


def _culverts(site: Site) -> Iterator[tuple[str, LineString]]:
    table = site.culverts
    for source_id, geometry in zip(table["id"], table.geometry, strict=True):
        for part in _lines(geometry):
            yield str(source_id), part


def _lines(geometry: BaseGeometry | None) -> list[LineString]:
    if geometry is None or geometry.is_empty:
        return []
    merged = geometry if isinstance(geometry, LineString) else line_merge(geometry)
    return [part for part in get_parts(merged) if isinstance(part, LineString) and part.length]


def _end_levels(line: LineString, ground: Raster) -> Floats:
    levels = []
    for x, y, *_ in (line.coords[0], line.coords[-1]):
        row, col = ground.cell_of(x, y)
        inside = 0 <= row < ground.shape[0] and 0 <= col < ground.shape[1]
        levels.append(float(ground.values[row, col]) if inside else np.nan)
    return np.array(levels)


def _cut(routed: Floats, line: LineString, ends: Floats, ground: Raster) -> None:
    step_m = min(ground.cell_width_m, ground.cell_height_m) / _STEPS_PER_CELL
    share = np.linspace(0.0, 1.0, int(np.ceil(line.length / step_m)) + 1)
    points = line_interpolate_point(line, share, normalized=True)
    cells = np.array([ground.cell_of(point.x, point.y) for point in points])
    inside = ((cells >= 0) & (cells < ground.shape)).all(axis=1)
    levels = ends[0] + share * (ends[1] - ends[0])
    rows, cols = cells[inside].T
    # A hole on the way is ground that nobody knows: the pipe goes through it all the same.
    np.fmin.at(routed, (rows, cols), levels[inside])
