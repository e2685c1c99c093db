"""Small invented sites in memory, for tests: ground of known shape and a few objects on it.

Nothing here is a real place. The lot is 40 m x 30 m in the middle of 80 m x 70 m of ground
unless told otherwise, its lower left corner at (0, 0) of the local grid.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from typing import Any

import geopandas as gpd
import numpy as np
from affine import Affine
from pyproj import CRS
from shapely.affinity import translate
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from geo_site.raster import Raster
from geo_site.site import INPUT_LAYERS, PrivateLocate, Site, Ticket, empty_layer

METRIC = CRS.from_epsg(32617)
ORIGIN = (500_000.0, 4_000_000.0)
"""Where the local (0, 0) lies when ``make_site(..., origin=ORIGIN)`` is asked for."""

LOT = box(0.0, 0.0, 40.0, 30.0)
MARGIN_M = 20.0
DAY = datetime.date(2026, 6, 1)

Surface = Callable[[np.ndarray, np.ndarray], np.ndarray]


def plane(slope_east: float = 0.0, slope_north: float = -0.1, level_m: float = 100.0) -> Surface:
    """Ground that rises by the slopes towards east and north; by default it falls north."""
    return lambda x, y: level_m + slope_east * x + slope_north * y


def valley(axis_x: float = 20.0, side: float = 0.2, fall: float = 0.05) -> Surface:
    """A straight V valley along ``x = axis_x`` that falls towards the south."""
    return lambda x, y: 100.0 + side * np.abs(x - axis_x) + fall * y


def bowl(x0: float = 20.0, y0: float = 15.0, curve: float = 0.01, rim_m: float = 1.0) -> Surface:
    """A round bowl in level ground, ``rim_m`` deep at (x0, y0): level 100 round it."""
    return lambda x, y: np.minimum(100.0, 100.0 - rim_m + curve * ((x - x0) ** 2 + (y - y0) ** 2))


SURFACES: Mapping[str, Surface] = {"plane": plane(), "valley": valley(), "bowl": bowl()}


def make_terrain(
    terrain: str | np.ndarray | Surface,
    *,
    cell_m: float | tuple[float, float] = 1.0,
    bounds: tuple[float, float, float, float] = (-20.0, -20.0, 60.0, 50.0),
) -> Raster:
    """A raster of a surface over local bounds; an array is taken as it is, north-west corner there.

    ``cell_m`` may be (width, height).
    """
    width, height = cell_m if isinstance(cell_m, tuple) else (cell_m, cell_m)
    transform = Affine(width, 0.0, bounds[0], 0.0, -height, bounds[3])
    if isinstance(terrain, np.ndarray):
        return Raster(terrain, transform, METRIC)
    surface = SURFACES[terrain] if isinstance(terrain, str) else terrain
    shape = (round((bounds[3] - bounds[1]) / height), round((bounds[2] - bounds[0]) / width))
    x, y = Raster(np.zeros(shape), transform, METRIC).centres()
    grid = np.meshgrid(x, y)
    values = np.asarray(surface(*grid), dtype=np.float64) + np.zeros(shape)
    return Raster(values, transform, METRIC)


def make_layer(name: str, rows: Iterable[Mapping[str, Any]] = ()) -> gpd.GeoDataFrame:
    """A table of an input: each row a dict with ``geometry`` and any of the layer's columns.

    Ids default to ``<layer>-1``, ``<layer>-2`` ...
    """
    rows = list(rows)
    if not rows:
        return _empty(name).copy()
    columns: dict[str, list[Any]] = {}
    for field in INPUT_LAYERS[name].fields:
        missing = np.nan if field.type == "number" else None
        columns[field.name] = [row.get(field.name, missing) for row in rows]
    columns["id"] = [row.get("id", f"{name}-{i}") for i, row in enumerate(rows, 1)]
    unknown = {key for row in rows for key in row} - set(columns) - {"geometry"}
    if unknown:
        raise KeyError(f"{name} has no column {sorted(unknown)}")
    return gpd.GeoDataFrame(columns, geometry=[row["geometry"] for row in rows], crs=METRIC)


@cache
def _empty(name: str) -> gpd.GeoDataFrame:
    return empty_layer(name, METRIC)


def make_ticket(**changes: Any) -> Ticket:
    """A valid ticket that every member has answered, of a state that nobody names."""
    given = {
        "as_of": DAY,
        "number": "T-1",
        "requested_on": DAY - datetime.timedelta(days=5),
        "valid_until": DAY + datetime.timedelta(days=20),
        "state": "",
        "responses": {"Member": "marked"},
    }
    return Ticket(**{**given, **changes})


def make_site(
    terrain: str | np.ndarray | Surface | Raster = "plane",
    *,
    cell_m: float | tuple[float, float] = 1.0,
    lot: BaseGeometry = LOT,
    margin_m: float = MARGIN_M,
    parcel_accuracy_m: float = 0.0,
    rmse_z_m: float = 0.1,
    ticket: Ticket | None = None,
    private_locate: PrivateLocate | None = None,
    report_units: str = "si",
    tables: Mapping[str, Any] | None = None,
    origin: tuple[float, float] = (0.0, 0.0),
    **layers: Iterable[Mapping[str, Any]],
) -> Site:
    """Make a site.

    Parameters
    ----------
    terrain : str, array, callable or Raster
        ``"plane"``, ``"valley"``, ``"bowl"``, levels (row 0 north), a surface z(x, y) in local
        metres, or a raster.
    cell_m : float or (width, height)
        Cell size.
    lot : Polygon or MultiPolygon
        In local metres.
    margin_m : float
        Ground round the lot's bounds.
    ticket : Ticket, optional
        Valid by default; ``Ticket()`` for none.
    origin : (x, y)
        Everything is moved there in the end (rasters and vectors alike).
    **layers : lists of dicts
        ``utilities=[{"geometry": line, "kind": "gas", "diameter_m": 0.05}]`` and the like.
    """
    parcel = MultiPolygon([lot]) if isinstance(lot, Polygon) else lot
    west, south, east, north = parcel.bounds
    bounds = (west - margin_m, south - margin_m, east + margin_m, north + margin_m)
    ground = (
        terrain
        if isinstance(terrain, Raster)
        else make_terrain(terrain, cell_m=cell_m, bounds=bounds)
    )
    tables_of = {name: make_layer(name, layers.pop(name, ())) for name in INPUT_LAYERS}
    if layers:
        raise KeyError(f"no such input: {sorted(layers)}")
    dx, dy = origin
    old = ground.transform
    moved = Affine(old.a, 0.0, old.c + dx, 0.0, old.e, old.f + dy)
    return Site(
        name="made for a test",
        report_units=report_units,
        crs=METRIC,
        output_crs=METRIC,
        parcel=translate(parcel, dx, dy),
        parcel_id="lot",
        parcel_accuracy_m=parcel_accuracy_m,
        terrain=Raster(ground.values, moved, METRIC),
        rmse_z_m=rmse_z_m,
        vertical_datum="",
        ticket=make_ticket() if ticket is None else ticket,
        private_locate=private_locate,
        tables={} if tables is None else tables,
        records=(),
        **{name: _moved(table, dx, dy) for name, table in tables_of.items()},
    )


def _moved(table: gpd.GeoDataFrame, dx: float, dy: float) -> gpd.GeoDataFrame:
    if table.empty or (dx, dy) == (0.0, 0.0):
        return table
    return table.set_geometry(table.geometry.translate(dx, dy))
