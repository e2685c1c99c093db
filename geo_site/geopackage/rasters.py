"""Terrain rasters of a plan as cloud-optimised GeoTIFFs, beside the GeoPackage.

Inside a GeoPackage no-data and overviews are lost; so they are files of their own, in the
working CRS, cropped to the parcel and its surroundings.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import rasterio
from rasterio import crs as raster_crs

from geo_site.crs import as_wkt
from geo_site.raster import Raster

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["write_terrain"]

_AROUND_M = 100.0


def write_terrain(plan: Plan, folder: str | Path) -> tuple[Path, ...]:
    """Write ground, slope, accumulation and depth of depressions around the parcel.

    Parameters
    ----------
    plan : Plan
        With its terrain.
    folder : str or Path
        Made if it is not there.

    Returns
    -------
    tuple of Path
        ``ground.tif`` (m), ``slope.tif`` (rise over run), ``accumulation.tif`` (m2),
        ``depressions.tif`` (depth, m; 0 outside); float32, NaN no data.
    """
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    terrain = plan.terrain
    depth = terrain.filled.like(terrain.filled.values - terrain.routed.values)
    rasters = {
        "ground": (terrain.ground, "ground level, m"),
        "slope": (terrain.slope, "slope, rise over run"),
        "accumulation": (terrain.accumulation_m2, "ground that drains through a cell, m2"),
        "depressions": (depth, "depth of water that a low place holds when full, m"),
    }
    around = plan.site.parcel.buffer(_AROUND_M).bounds
    paths = []
    for name, (raster, meaning) in rasters.items():
        path = target / f"{name}.tif"
        _write(raster.window(around), path, meaning)
        paths.append(path)
    return tuple(paths)


def _write(raster: Raster, path: Path, meaning: str) -> None:
    values = np.asarray(raster.values, dtype=np.float32)
    rows, cols = values.shape
    with rasterio.open(
        path,
        "w",
        driver="COG",
        width=cols,
        height=rows,
        count=1,
        dtype="float32",
        nodata=np.nan,
        crs=raster_crs.CRS.from_wkt(as_wkt(raster.crs)),
        transform=raster.transform,
        compress="DEFLATE",
        predictor="YES",
        resampling="AVERAGE",
    ) as written:
        written.write(values, 1)
        written.set_band_description(1, meaning)
