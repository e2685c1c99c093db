"""Layers that people draw works in: geometry with its levels, in the working CRS.

In: a vector file's layer and what sort of geometry it must be. Out: one :class:`Shape` for each
feature, its geometry in metres with Z where it has one, and its attributes as they stand.
Geometry that cannot be one work is refused with the ids.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import ProjError
from shapely import GeometryType, LineString, MultiLineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.readers.inputs import FileInput
from geo_site.readers.vectors import VectorFile, check_degrees, read_features, way_between

__all__ = ["Shape", "as_lines", "number_at", "read_shapes"]

Move = Callable[[NDArray[np.float64]], NDArray[np.float64]]

_SORTS = {
    "area": ("Polygon", "an area"),
    "line": ("LineString", "a line"),
    "point": ("Point", "a point"),
}


@dataclass(frozen=True)
class Shape:
    """One feature.

    Attributes
    ----------
    number : str
        Its number in the file.
    geometry : shapely geometry
        In the working CRS, m; Z in metres where it has one.
    attributes : mapping
        As they stand; what is cleared is None.
    """

    number: str
    geometry: BaseGeometry
    attributes: Mapping[str, Any]


def number_at(shape: Shape, name: str) -> float:
    """Give an attribute as a number; NaN where it is cleared or none."""
    value = shape.attributes.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float | np.integer | np.floating):
        return math.nan
    return float(value)


def read_shapes(file: VectorFile, table: FileInput, sort: str, crs: CRS) -> tuple[Shape, ...]:
    """Read the features of one layer.

    Parameters
    ----------
    file : VectorFile
        From ``open_vector``.
    table : FileInput
        What the user says of the file.
    sort : {"area", "line", "point"}
        What each feature must be; multi-geometry of one part is its part.
    crs : pyproj.CRS
        Working CRS.

    Returns
    -------
    tuple of Shape
        One for each part.

    Raises
    ------
    InputRefused
        A feature without geometry, of another sort, that crosses itself, or with coordinates
        that are not finite or outside the CRS.
    """
    frame = read_features(file, levels=True)
    shapes = np.asarray(frame.geometry)
    numbers = [str(number) for number in frame.index]
    _refuse(file, numbers, shapely.is_missing(shapes) | shapely.is_empty(shapes), _NO_GEOMETRY)
    parts, of = shapely.get_parts(shapes, return_index=True)
    names = [numbers[i] for i in of]
    wanted, spoken = _SORTS[sort]
    wrong = np.array([part.geom_type != wanted for part in parts], dtype=bool)
    _refuse(file, names, wrong, (f"{spoken} is wanted there", f"draw {spoken}"))
    _refuse(file, names, ~_is_finite(parts), ("coordinates that are not finite", "draw it again"))
    dots = (shapely.get_type_id(parts) == GeometryType.LINESTRING) & (shapely.length(parts) <= 0.0)
    _refuse(file, names, dots, ("a line of no length", "draw it again or delete it"))
    crossing = ~shapely.is_valid(parts)
    why = [shapely.is_valid_reason(part) for part in parts[crossing]]
    _refuse(file, names, crossing, (f"it crosses itself ({'; '.join(why[:3])})", "draw it again"))
    moved = _moved(parts, file, table, crs)
    plain = frame.drop(columns=frame.geometry.name)
    rows = [
        {str(k): None if _is_null(v) else v for k, v in row.items()}
        for row in plain.to_dict("records")
    ]
    return tuple(
        Shape(number=names[i], geometry=moved[i], attributes=rows[of[i]]) for i in range(len(parts))
    )


_NO_GEOMETRY = ("a feature without geometry", "draw it or delete it")


def _refuse(
    file: VectorFile, names: Sequence[str], bad: NDArray[np.bool_], told: tuple[str, str]
) -> None:
    if bad.any():
        ids = list(dict.fromkeys(name for name, is_bad in zip(names, bad, strict=True) if is_bad))
        raise file.refuse(told[0], told[1], ids)


def _is_finite(parts: NDArray[np.object_]) -> NDArray[np.bool_]:
    """Whether X and Y are finite; a level may be missing."""
    points, of = shapely.get_coordinates(parts, return_index=True)
    bad = np.unique(of[~np.isfinite(points).all(axis=1)])
    return ~np.isin(np.arange(len(parts)), bad)


def _is_null(value: object) -> bool:
    return value is None or (isinstance(value, float) and math.isnan(value))


def _moved(
    parts: NDArray[np.object_], file: VectorFile, table: FileInput, crs: CRS
) -> NDArray[np.object_]:
    check_degrees(parts, file)
    way = way_between(file.crs, crs, table)
    try:
        return np.array([_with_points(part, way.points) for part in parts], dtype=object)
    except ProjError:
        raise file.refuse(
            f"coordinates lie outside the area of {file.crs.name}", "correct the file's CRS"
        ) from None


def _with_points(part: BaseGeometry, to: Move) -> BaseGeometry:
    """Move a geometry in plan; its levels stay."""
    if isinstance(part, Polygon):
        holes = [_points(ring, to) for ring in part.interiors]
        return Polygon(_points(part.exterior, to), holes)
    if isinstance(part, Point):
        return Point(_points(part, to)[0])
    return LineString(_points(part, to))


def _points(part: BaseGeometry, to: Move) -> NDArray[np.float64]:
    xyz = shapely.get_coordinates(part, include_z=part.has_z)
    return np.column_stack([to(np.ascontiguousarray(xyz[:, :2])), xyz[:, 2:]])


def as_lines(shapes: Sequence[Shape]) -> MultiLineString | None:
    """Join lines in plan; None for none."""
    lines = [LineString(shapely.get_coordinates(shape.geometry)) for shape in shapes]
    return MultiLineString(lines) if lines else None
