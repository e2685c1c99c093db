"""The ground under the map: shading as a picture, levels as numbers.

In: terrain of a plan, the lot. Out: a PNG inside a data address, and a grid of levels. Method:
shading is the cosine between the ground's normal and a light from the north-west, 45 degrees up;
levels are the cells of the terrain, or means of blocks of them where there are too many for a
page. Reference: B. K. P. Horn (1981), Hill shading and the reflectance map, Proceedings of the
IEEE 69(1); W3C PNG Third Edition.
"""

from __future__ import annotations

import math
from base64 import b64encode
from collections.abc import Mapping
from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np
from affine import Affine
from PIL import Image

from geo_site.raster import Raster
from geo_site.webmap.shapes import Origin

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from geo_site.terrain import Terrain

__all__ = ["level_grid", "shade", "shading"]

_LIGHT = (-0.5, 0.5, math.sqrt(0.5))  # towards the light: north-west, 45 degrees up
_DARKEST, _LIGHTEST = 140.0, 255.0
_MOST_SHADED, _MOST_LEVELS = 200_000, 40_000
_HOLE = 65_535
_FINEST_M = 0.01

Bounds = tuple[float, float, float, float]


def shade(east_slope: NDArray[Any], north_slope: NDArray[Any]) -> NDArray[np.float64]:
    r"""Give how brightly ground is lit.

    .. math:: s = \max(0, \frac{-l_e g_e - l_n g_n + l_u}{\sqrt{1 + g_e^2 + g_n^2}})

    Parameters
    ----------
    east_slope, north_slope : ndarray
        Rise over run towards east and north, -.

    Returns
    -------
    ndarray
        0 (in shadow) to 1 (towards the light); NaN where the slope is.

    Examples
    --------
    >>> shade(np.array([0.0]), np.array([0.0])).round(4).tolist()
    [0.7071]
    """
    east, north, up = _LIGHT
    lit = (up - east * east_slope - north * north_slope) / np.sqrt(
        1.0 + np.square(east_slope) + np.square(north_slope)
    )
    floor: NDArray[np.float64] = np.maximum(lit, 0.0)
    return floor


def shading(terrain: Terrain, bounds: Bounds, origin: Origin) -> dict[str, Any] | None:
    """Give the shaded ground as a picture.

    Parameters
    ----------
    terrain : Terrain
        With its gradients.
    bounds : tuple of float
        West, south, east, north of what is wanted, m.
    origin : Origin
        From where coordinates count.

    Returns
    -------
    dict or None
        ``picture`` (a data address) and ``bounds`` from the origin, m; None without data there.
    """
    east = _window(terrain.east_gradient, bounds, _MOST_SHADED)
    north = _window(terrain.north_gradient, bounds, _MOST_SHADED)
    if east is None or north is None:
        return None
    lit = shade(east.values.astype(np.float64), north.values.astype(np.float64))
    known = np.isfinite(lit)
    grey = np.where(known, _DARKEST + (_LIGHTEST - _DARKEST) * lit, 0.0)
    layers = np.stack([np.round(grey), np.where(known, 255, 0)], axis=-1).astype(np.uint8)
    file = BytesIO()
    Image.fromarray(layers).save(file, format="PNG")
    told = b64encode(file.getvalue()).decode("ascii")
    return {"picture": f"data:image/png;base64,{told}", "bounds": origin.bounds(east.outline)}


def level_grid(ground: Raster, bounds: Bounds, origin: Origin) -> Mapping[str, Any] | None:
    """Give levels of the ground as numbers.

    Parameters
    ----------
    ground : Raster
        Levels, m.
    bounds : tuple of float
        West, south, east, north of what is wanted, m.
    origin : Origin
        From where coordinates count.

    Returns
    -------
    mapping or None
        ``west``, ``north`` (centre of the first cell), ``width``, ``height`` (of a cell), m;
        ``rows``, ``columns``; ``low`` and ``step``, m; ``cells``: steps above ``low`` as 16-bit
        numbers, the smaller byte first, 65535 a hole, in base 64; ``whole``: whether these are
        the terrain's own cells. None without data there.
    """
    part = _window(ground, bounds, _MOST_LEVELS)
    if part is None or not np.isfinite(part.values).any():
        return None
    low_m, high_m = float(np.nanmin(part.values)), float(np.nanmax(part.values))
    low_m = math.floor(low_m / _FINEST_M) * _FINEST_M
    step_m = max(_FINEST_M, (high_m - low_m) / (_HOLE - 1))
    steps = np.where(np.isfinite(part.values), np.round((part.values - low_m) / step_m), _HOLE)
    west, _, _, north = part.bounds
    rows, columns = part.shape
    return {
        "west": round(west + 0.5 * part.cell_width_m - origin.east_m, 6),
        "north": round(north - 0.5 * part.cell_height_m - origin.north_m, 6),
        "width": part.cell_width_m,
        "height": part.cell_height_m,
        "rows": rows,
        "columns": columns,
        "low": low_m,
        "step": step_m,
        "cells": b64encode(steps.astype("<u2").tobytes()).decode("ascii"),
        "whole": math.isclose(part.cell_width_m, ground.cell_width_m),
    }


def _window(raster: Raster, bounds: Bounds, most: int) -> Raster | None:
    """Cut a raster to bounds; where that is too many cells, give means of square blocks."""
    west, south, east, north = bounds
    rows, columns = raster.shape
    top, left = raster.cell_of(west, north)
    bottom, right = raster.cell_of(east, south)
    top, left = max(top, 0), max(left, 0)
    bottom, right = min(bottom + 1, rows), min(right + 1, columns)
    if top >= bottom or left >= right:
        return None
    side = math.ceil(math.sqrt((bottom - top) * (right - left) / most))
    side = min(max(side, 1), bottom - top, right - left)
    high, wide = (bottom - top) // side, (right - left) // side
    cells = raster.values[top : top + high * side, left : left + wide * side]
    blocks = cells.astype(np.float64).reshape(high, side, wide, side).mean(axis=(1, 3))
    corner = raster.transform @ Affine.translation(left, top) @ Affine.scale(side)
    return Raster(blocks, corner, raster.crs)
