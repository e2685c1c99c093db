"""A layer of one plan as a table, in the CRS of the output.

Documents that write a table row by row take it as it is; a frame of it costs six times as much.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pyproj import CRS
from shapely import force_2d, get_coordinates, make_valid, transform
from shapely.geometry import LineString, MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from geo_site.crs import horizontal, shift_between, unit_of_twin
from geo_site.layers.fields import ALTERNATIVE, GeometryType, Layer, LayerField, has_alternatives
from geo_site.raster import as_multipolygon
from geo_site.site import Site

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["Table", "output_crs", "to_frame", "to_table"]

_DTYPES = {"text": "object", "integer": "int64", "real": "float64", "truth": "bool"}
_AREA_SLACK = 1e-6  # of an area: what a repair of rounded corners may change
_Move = Callable[[NDArray[np.float64]], NDArray[np.float64]]


def output_crs(site: Site) -> CRS:
    """Give the horizontal CRS that layers are written in."""
    return horizontal(site.output_crs)


@dataclass(frozen=True, kw_only=True)
class Table:
    """What a layer holds of a plan.

    Attributes
    ----------
    geometries : ndarray of geometry, shape (rows,)
        Of the layer's type, valid, none empty; XY in the unit of the output CRS, Z in metres.
    columns : dict of str to ndarray, shape (rows,)
        Every field of the layer, by its name, in the order of the catalogue.
    """

    geometries: NDArray[Any]
    columns: Mapping[str, NDArray[Any]]

    def __len__(self) -> int:
        """Number of rows."""
        return len(self.geometries)

    def records(self) -> list[dict[str, Any]]:
        """Give each row by the names of its fields, and its ``geometry``."""
        names = [*self.columns, "geometry"]
        columns = [*(column.tolist() for column in self.columns.values()), self.geometries]
        return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


def to_table(layer: Layer, plan: Plan) -> Table:
    """Make a layer's table from a plan.

    Parameters
    ----------
    layer : Layer
        Which layer.
    plan : Plan
        What was found out.

    Returns
    -------
    Table
        In the order of the plan. Empty geometries are left out.

    Raises
    ------
    ValueError
        A geometry is not of the declared type or cannot be made valid: a fault of ours.
    """
    move = _mover(plan.site)
    rows = [row for row in _rows(layer, plan) if not row["geometry"].is_empty]
    shapes = np.empty(len(rows), dtype=object)
    shapes[:] = [_moved(_promoted(row["geometry"], layer), move) for row in rows]
    columns = {f.name: _column(f, [row.get(f.name) for row in rows]) for f in layer.fields}
    return Table(geometries=shapes, columns=columns)


def to_frame(layer: Layer, plan: Plan) -> gpd.GeoDataFrame:
    """Make a layer's table from a plan, as a frame.

    Parameters
    ----------
    layer : Layer
        Which layer.
    plan : Plan
        What was found out.

    Returns
    -------
    geopandas.GeoDataFrame
        The columns of :func:`to_table` and ``geometry``.
    """
    table = to_table(layer, plan)
    # As they are: left to guess, a frame makes text of objects, and NaN of what is not told.
    columns = {name: pd.Series(c, dtype=c.dtype) for name, c in table.columns.items()}
    return gpd.GeoDataFrame(columns, geometry=table.geometries, crs=output_crs(plan.site))


def _rows(layer: Layer, plan: Plan) -> Iterator[Mapping[str, Any]]:
    """Give the rows of a plan, and of its alternatives where the layer tells them apart."""
    if not has_alternatives(layer):
        yield from layer.rows(plan)
        return
    for number, one in enumerate((plan, *plan.alternatives), 1):
        for row in layer.rows(one):
            yield {**row, ALTERNATIVE: number}


def _column(field: LayerField, values: list[Any]) -> NDArray[Any]:
    return np.array(values, dtype=_DTYPES[field.type])


def _promoted(geometry: BaseGeometry, layer: Layer) -> BaseGeometry:
    """Give the geometry as the declared type, valid."""
    declared = layer.geometry
    if declared.endswith("Z"):
        if not geometry.has_z or not np.isfinite(get_coordinates(geometry, include_z=True)).all():
            raise ValueError(f"layer {layer.name}: a geometry without a level")
    else:
        geometry = force_2d(geometry)
    if declared.removesuffix("Z").endswith("Polygon") and not geometry.is_valid:
        geometry = _repaired(geometry, layer.name)
    geometry = _as_declared(geometry, declared)
    if geometry.geom_type != declared.removesuffix("Z"):
        raise ValueError(f"layer {layer.name}: {geometry.geom_type} is not a {declared}")
    return geometry


def _as_declared(geometry: BaseGeometry, declared: GeometryType) -> BaseGeometry:
    if declared == "MultiPolygon":
        return as_multipolygon(geometry)
    if declared == "MultiLineString" and isinstance(geometry, LineString):
        return MultiLineString([geometry])
    if isinstance(geometry, MultiPolygon | MultiLineString) and len(geometry.geoms) == 1:
        return geometry if declared.startswith("Multi") else geometry.geoms[0]
    return geometry


def _repaired(geometry: BaseGeometry, name: str) -> BaseGeometry:
    repaired = as_multipolygon(make_valid(geometry))
    if abs(repaired.area - geometry.area) > _AREA_SLACK * max(geometry.area, 1.0):
        raise ValueError(f"layer {name}: an area crosses itself")
    return repaired


def _mover(site: Site) -> _Move | None:
    """Find the way from the working CRS to that of the output; None: they are one.

    A foot CRS whose metric twin was worked in is reached by one exact division. The accuracy of
    another shift was judged when the parcel was read.
    """
    target = output_crs(site)
    if site.crs.equals(target, ignore_axis_order=True):
        return None
    unit_m = unit_of_twin(site.crs, target)
    if unit_m is not None:
        return partial(_divided, unit_m=unit_m)
    return shift_between(site.crs, target, stated_accuracy_m=0.0)


def _divided(xy: NDArray[np.float64], *, unit_m: float) -> NDArray[np.float64]:
    return xy / unit_m


def _moved(geometry: BaseGeometry, move: _Move | None) -> BaseGeometry:
    if move is None:
        return geometry
    if not geometry.has_z:
        return transform(geometry, move)

    def keep_z(xyz: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack([move(xyz[:, :2]), xyz[:, 2]])

    return transform(geometry, keep_z, include_z=True)
