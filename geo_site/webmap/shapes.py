"""Geometries as plain numbers round a local origin.

In: a geometry in the working CRS. Out: lists of metres east and north of the origin, to the
millimetre. Method: subtract and round. Reference: OGC Simple Features (06-103r4).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from shapely import get_coordinates, get_parts
from shapely.geometry import Polygon

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

__all__ = ["Origin", "origin_of"]

_DECIMALS = 3


@dataclass(frozen=True)
class Origin:
    """From where the page counts.

    Attributes
    ----------
    east_m, north_m : float
        In the working CRS, whole metres.
    """

    east_m: float
    north_m: float

    def flat(self, xy: NDArray[np.float64]) -> list[float]:
        """Give points as east, north, east, north ... from the origin, m."""
        moved = xy[:, :2] - [self.east_m, self.north_m]
        return [float(value) for value in np.round(moved, _DECIMALS).ravel()]

    def bounds(self, geometry: BaseGeometry) -> list[float]:
        """Give west, south, east, north from the origin, m."""
        return self.flat(np.array(geometry.bounds).reshape(2, 2))

    def areas(self, geometry: BaseGeometry) -> list[list[list[float]]]:
        """Give the polygons of an area, each as its rings, the outer first."""
        return [
            [self.flat(get_coordinates(ring)) for ring in (part.exterior, *part.interiors)]
            for part in get_parts(geometry)
            if isinstance(part, Polygon)
        ]

    def lines(self, geometry: BaseGeometry) -> list[list[float]]:
        """Give the parts of a line."""
        return [self.flat(get_coordinates(part)) for part in get_parts(geometry)]

    def shape(self, geometry: BaseGeometry, kind: str) -> Any:
        """Give a geometry as ``area``, ``line`` or ``point``."""
        if kind == "area":
            return self.areas(geometry)
        return self.lines(geometry) if kind == "line" else self.flat(get_coordinates(geometry))


def origin_of(parcel: BaseGeometry) -> Origin:
    """Give the south-west corner of the lot's bounds, in whole metres."""
    west, south, _, _ = parcel.bounds
    return Origin(float(math.floor(west)), float(math.floor(south)))
