"""Versions of the libraries underneath, with the GDAL, PROJ and GEOS that each brings.

Several GDALs and PROJs share one process; most reports about coordinates come down to which.
"""

from __future__ import annotations

import platform
from importlib.metadata import version

import pyogrio
import pyproj
import rasterio
import shapely

__all__ = ["library_versions"]


def library_versions() -> dict[str, str]:
    """Give the version of each library that results depend on.

    Returns
    -------
    dict of str to str
        Library, or library and what it brings, to its version; in a fixed order.

    Examples
    --------
    >>> sorted(library_versions())[:3]
    ['geopandas', 'numba', 'numpy']
    """
    return {
        "python": platform.python_version(),
        "geopandas": version("geopandas"),
        "pyogrio": version("pyogrio"),
        "pyogrio GDAL": _dotted(pyogrio.__gdal_version__),
        "pyogrio GEOS": _dotted(pyogrio.__gdal_geos_version__),
        "rasterio": version("rasterio"),
        "rasterio GDAL": rasterio.__gdal_version__,
        "rasterio PROJ": rasterio.__proj_version__,
        "pyproj": version("pyproj"),
        "pyproj PROJ": pyproj.proj_version_str,
        "shapely": version("shapely"),
        "shapely GEOS": shapely.geos_version_string,
        "numpy": version("numpy"),
        "numba": version("numba"),
    }


def _dotted(parts: tuple[int, ...] | None) -> str:
    return "unknown" if parts is None else ".".join(str(part) for part in parts)
