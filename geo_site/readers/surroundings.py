"""Where the site is: the working CRS and how far round the parcel features are kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import isfinite

import pyproj
from pyproj import CRS
from pyproj.exceptions import ProjError
from shapely import box
from shapely.geometry import MultiPolygon, Polygon

from geo_site import crs as crs_

__all__ = ["MARGIN_M", "Surroundings", "bounds_in", "working_crs"]

MARGIN_M = 300.0  # wider than any rule's distance from a lot, and than a machine's way in
_WINDOW_SLACK = 1.01  # a window moved into another CRS loses nothing at its corners


@dataclass(frozen=True, kw_only=True)
class Surroundings:
    """The parcel in the working CRS, and the window that features are read in.

    Attributes
    ----------
    crs : pyproj.CRS
        Working CRS: projected, metric.
    parcel : shapely.MultiPolygon
        The lot, m.
    """

    crs: CRS
    parcel: MultiPolygon

    @property
    def window(self) -> Polygon:
        """The parcel's rectangle and :data:`MARGIN_M` round it, in the working CRS."""
        west, south, east, north = self.parcel.bounds
        return box(west - MARGIN_M, south - MARGIN_M, east + MARGIN_M, north + MARGIN_M)

    def window_in(self, crs: CRS) -> Polygon:
        """The window's rectangle in another CRS, a little wider."""
        west, south, east, north = _way(self.crs, crs).transform_bounds(*self.window.bounds)
        dx = (east - west) * (_WINDOW_SLACK - 1.0)
        dy = (north - south) * (_WINDOW_SLACK - 1.0)
        return box(west - dx, south - dy, east + dx, north + dy)


@lru_cache(maxsize=16)
def _way(source: CRS, target: CRS) -> pyproj.Transformer:
    """Plain way between two CRSs; made once, for most files of a site share theirs."""
    return pyproj.Transformer.from_crs(source, target, always_xy=True)


def bounds_in(
    source: CRS, bounds: tuple[float, float, float, float], target: CRS
) -> tuple[float, float, float, float] | None:
    """Give a rectangle in another CRS; None where that is not defined there."""
    to_target = _way(source, target)
    try:
        west, south, east, north = to_target.transform_bounds(*bounds, errcheck=True)
    except ProjError:
        return None
    moved = (west, south, east, north)
    return moved if all(isfinite(value) for value in moved) else None


def working_crs(terrain: CRS, parcel: CRS, bounds: tuple[float, float, float, float]) -> CRS:
    """Decide what is worked in.

    Parameters
    ----------
    terrain, parcel : pyproj.CRS
        Of the two files.
    bounds : tuple of float
        The parcel, in its file's CRS.

    Returns
    -------
    pyproj.CRS
        The terrain's (its metric twin) where it is projected and true to scale at the parcel,
        else the parcel file's by the same test, else the UTM zone of the parcel's middle.
    """
    to_degrees = pyproj.Transformer.from_crs(parcel, parcel.geodetic_crs, always_xy=True)
    west, south, east, north = bounds
    lon, lat = to_degrees.transform((west + east) / 2.0, (south + north) / 2.0)
    for crs in (terrain, parcel):
        if crs.is_projected and _is_true_at(crs, lon, lat):
            return crs_.metric_twin(crs)
    return crs_.utm_for(lon, lat)


def _is_true_at(crs: CRS, lon: float, lat: float) -> bool:
    to_grid = pyproj.Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True)
    x, y = to_grid.transform(lon, lat)
    return crs_.is_true_to_scale(crs, x, y)
