"""Terrain files become one raster of levels in metres.

In: rasters (GeoTIFF, ESRI ASCII grid, ERDAS IMAGINE) or lidar points (LAS, LAZ), one or several.
Out: what they declare (:func:`probe`), then one raster in the working CRS and the record of what
was read (:func:`read`). The raster's own cells are kept wherever that is possible; a unit that
nobody states is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from pyproj import CRS

from geo_site.errors import InputRefused
from geo_site.raster import Raster
from geo_site.readers import point_files, points, raster_files
from geo_site.readers.declared import (
    METRES_PER_UNIT,
    Bounds,
    Declared,
    TerrainProbe,
    agreed,
    level_unit,
    spoken_crs,
)
from geo_site.readers.guards import RASTER_SUFFIXES, modified_on, sha256_of, sniff
from geo_site.readers.mosaic import describe_holes, join
from geo_site.readers.raster_files import Tile
from geo_site.readers.working_grid import onto_working_grid
from geo_site.site import InputRecord

__all__ = ["TerrainProbe", "probe", "read"]


def probe(paths: Sequence[Path], told: Sequence[str]) -> TerrainProbe:
    """Read what terrain files say of themselves, none of their levels.

    Parameters
    ----------
    paths : sequence of pathlib.Path
        From ``guards.safe_path``; all rasters, or all point files.
    told : sequence of str
        The same paths as the user wrote them.

    Returns
    -------
    TerrainProbe
        CRS, vertical unit and datum, bounds around all files.

    Raises
    ------
    InputRefused
        A file is not what it should be, has no CRS, or says another thing than the others.
    """
    return agreed(_look(paths, told))


def read(
    paths: Sequence[Path],
    told: Sequence[str],
    *,
    working_crs: CRS,
    vertical_unit: str | None,
    rmse_z_m: float,
    around: Bounds | None = None,
) -> tuple[Raster, InputRecord]:
    """Read terrain files into one raster.

    Parameters
    ----------
    paths : sequence of pathlib.Path
        From ``guards.safe_path``; all rasters, or all point files.
    told : sequence of str
        The same paths as the user wrote them.
    working_crs : pyproj.CRS
        Projected, metric.
    vertical_unit : {"m", "ft", "us-ft"} or None
        What the user says; counts where the files are silent, must not contradict them.
    rmse_z_m : float
        Vertical error of the levels, m; NaN when unknown. Steps between tiles are judged by it.
    around : tuple of float, optional
        West, south, east, north in the files' CRS: only this part is read.

    Returns
    -------
    raster : Raster
        Levels, m, NaN no data: the files' own cells where ``working_crs`` is their CRS or its
        metric twin, else resampled once, bilinearly; points are triangulated.
    record : InputRecord
        With what was found on the way.

    Raises
    ------
    InputRefused
        As :func:`probe`; broken data, values that cannot be levels, tiles that do not fit
        together, no vertical unit or a contradicted one, nothing but no data.
    """
    files = _look(paths, told)
    found = agreed(files)
    unit = level_unit(files, vertical_unit)
    if _are_points(files):
        raster, notes = points.grid(files, working_crs, METRES_PER_UNIT[unit], around)
    else:
        tiles = _tiles(files, METRES_PER_UNIT[unit], around)
        values, transform, joined = join(tiles, rmse_z_m)
        raster, moved = onto_working_grid(
            values, transform, found.crs, working_crs, ", ".join(told)
        )
        notes = (*joined, *moved)
    if np.isnan(raster.values).all():
        raise InputRefused(
            "no cell of the terrain has a level",
            remedy="give the terrain around the lot",
            file=", ".join(told),
        )
    notes = (*(note for file in files for note in file.notes), *notes, *describe_holes(raster))
    return raster, _record(files, unit, raster, notes)


def _look(paths: Sequence[Path], told: Sequence[str]) -> tuple[Declared, ...]:
    kinds = [sniff(path, name) for path, name in zip(paths, told, strict=True)]
    for kind, name in zip(kinds, told, strict=True):
        if kind not in RASTER_SUFFIXES:
            raise InputRefused(
                "this is no terrain", remedy="give a raster or points of the ground", file=name
            )
    if "las" in kinds and set(kinds) != {"las"}:
        raise InputRefused(
            "rasters and points are given together",
            remedy="give one or the other",
            file=", ".join(told),
        )
    look = point_files.look if "las" in kinds else raster_files.look
    return tuple(look(path, name) for path, name in zip(paths, told, strict=True))


def _are_points(files: Sequence[Declared]) -> bool:
    return files[0].path.suffix.lower() in (".las", ".laz")


def _tiles(
    files: Sequence[Declared], metres_per_unit: float, around: Bounds | None
) -> tuple[Tile, ...]:
    loaded = [raster_files.load(file.path, file.told, metres_per_unit, around) for file in files]
    tiles = [tile for tile in loaded if tile is not None]
    if not tiles:
        raise InputRefused(
            "the terrain does not reach the lot",
            remedy="give the terrain around it",
            file=", ".join(file.told for file in files),
        )
    return tuple(_in_metres(tile, metres_per_unit) for tile in tiles)


def _in_metres(tile: Tile, metres_per_unit: float) -> Tile:
    if metres_per_unit == 1.0:
        return tile
    values = np.empty_like(tile.values)  # multiplied as float64 and rounded once
    np.multiply(tile.values, metres_per_unit, out=values, dtype=np.float64, casting="same_kind")
    return replace(tile, values=values)


def _record(
    files: Sequence[Declared], unit: str, raster: Raster, notes: tuple[str, ...]
) -> InputRecord:
    return InputRecord(
        name="terrain",
        path=", ".join(file.told for file in files),
        sha256=" ".join(sha256_of(file.path) for file in files),
        crs=spoken_crs(files[0].crs),
        unit=unit,
        count=raster.values.size,
        extent=raster.bounds,
        modified=max(modified_on(file.path) for file in files),
        notes=notes,
    )
