"""A point that a person names, in the working CRS."""

from __future__ import annotations

import math

import numpy as np
from pyproj.exceptions import ProjError

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
        It is not finite, or lies outside the CRS.
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
    return float(x), float(y)
