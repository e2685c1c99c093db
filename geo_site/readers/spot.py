"""A point that a person names, in the working CRS."""

from __future__ import annotations

import math

import numpy as np
from pyproj.exceptions import ProjError
from shapely.geometry import Point

from geo_site.errors import InputRefused
from geo_site.readers.inputs import FileInput
from geo_site.readers.vectors import way_between
from geo_site.site import Site

__all__ = ["point_of"]


def point_of(spot: tuple[float, float], site: Site) -> tuple[float, float]:
    """Move a point that a person names to the working CRS.

    Parameters
    ----------
    spot : tuple of float
        In the CRS of the layers that are written.
    site : Site
        With both CRSs.

    Returns
    -------
    tuple of float
        In the working CRS, m.

    Raises
    ------
    InputRefused
        It is not finite, or lies outside the CRS or the terrain.
    """
    if not all(math.isfinite(value) for value in spot):
        raise InputRefused("the point is not finite", remedy="give two numbers")
    way = way_between(site.output_crs, site.crs, FileInput(path="--at"))
    try:
        x, y = way.points(np.array([spot], dtype=np.float64))[0]
    except ProjError:
        raise InputRefused(
            f"the point lies outside the area of {site.output_crs.name}",
            remedy="give it in the CRS of the layers",
        ) from None
    if not site.terrain.outline.covers(Point(x, y)):
        raise _beside(spot, site)
    return float(x), float(y)


def _beside(spot: tuple[float, float], site: Site) -> InputRefused:
    """Say what would be right in the CRS in which points are named, not in our own."""
    west, south, east, north = site.terrain.bounds
    back = way_between(site.crs, site.output_crs, FileInput(path="--at"))
    corners = np.array([(west, south), (east, south), (east, north), (west, north)])
    found = back.points(corners)
    (west, south), (east, north) = found.min(axis=0), found.max(axis=0)
    crs = site.output_crs
    in_degrees = abs(spot[0]) <= 180.0 and abs(spot[1]) <= 180.0  # of longitude
    looks = "; these look like degrees" if in_degrees and not crs.is_geographic else ""
    return InputRefused(
        f"the point {spot[0]:g}, {spot[1]:g} lies outside the terrain{looks}",
        remedy=f"give one between {west:.0f}, {south:.0f} and {east:.0f}, {north:.0f} "
        f"({crs.name}, the CRS of the layers)",
    )
