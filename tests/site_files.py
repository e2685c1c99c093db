"""A small site on disk, for tests: a lot on a slope, a gas main, and what else is asked for.

All of it lies in EPSG:32617 unless a CRS is named: the lot is 40 by 30 m with its south-west
corner at :data:`ORIGIN`, the terrain covers 100 by 90 m and falls 1 in 10 to the south.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import rasterio
import shapely
from rasterio.transform import from_origin
from shapely.geometry import LineString, Point, box
from shapely.geometry.base import BaseGeometry

ORIGIN = (500_000.0, 4_000_000.0)
CRS = "EPSG:32617"
LOT = box(0.0, 0.0, 40.0, 30.0)
GAS = LineString([(-50.0, 25.0), (90.0, 25.0)])


def at_origin(geometry: BaseGeometry) -> BaseGeometry:
    """Move a geometry that is drawn from (0, 0) to the site."""
    return shapely.transform(geometry, lambda xy: xy + np.array(ORIGIN))


def write_vector(
    path: Path,
    geometries: Sequence[BaseGeometry | None],
    columns: Mapping[str, Sequence[Any]] | None = None,
    *,
    crs: str | None = CRS,
    layer: str | None = None,
    **options: Any,
) -> Path:
    """Write features as they are given, no moving."""
    frame = gpd.GeoDataFrame(dict(columns or {}), geometry=list(geometries), crs=crs)
    frame.to_file(path, engine="pyogrio", **({"layer": layer} if layer else {}), **options)
    return path


def write_terrain(
    path: Path,
    values: np.ndarray | None = None,
    *,
    crs: str | None = CRS,
    west_north: tuple[float, float] = (ORIGIN[0] - 30.0, ORIGIN[1] + 60.0),
    cell: float = 1.0,
    unit: str | None = "metre",
) -> Path:
    """Write a GeoTIFF of levels; by default a plane that falls 1 in 10 to the south."""
    if values is None:
        rows = np.arange(90, dtype="float64")[:, None]
        values = 200.0 - 0.1 * (rows + 0.5) + np.zeros((90, 100))
    profile = {
        "driver": "GTiff",
        "height": values.shape[0],
        "width": values.shape[1],
        "count": 1,
        "dtype": "float32",
        "crs": crs,
        "transform": from_origin(*west_north, cell, cell),
        "nodata": -9999.0,
    }
    with rasterio.open(path, "w", **profile) as target:
        target.write(np.where(np.isnan(values), -9999.0, values).astype("float32"), 1)
        if unit:
            target.units = (unit,)
    return path


def toml_of(document: Mapping[str, Any]) -> str:
    """Write a mapping as TOML: tables, strings, numbers, truths, lists, dates."""
    plain = {k: v for k, v in document.items() if not isinstance(v, Mapping)}
    lines = [f"{key} = {_value(value)}" for key, value in plain.items()]
    for key, table in document.items():
        if isinstance(table, Mapping):
            lines += _table(key, table)
    return "\n".join(lines) + "\n"


def _table(name: str, table: Mapping[str, Any]) -> list[str]:
    deep = name == "inputs"
    own = {k: v for k, v in table.items() if not (deep and isinstance(v, Mapping))}
    lines = [f"[{name}]", *(f"{k} = {_value(v)}" for k, v in own.items())]
    for key, inner in table.items():
        if deep and isinstance(inner, Mapping):
            lines += [f"[{name}.{key}]", *(f"{k} = {_value(v)}" for k, v in inner.items())]
    return lines


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value)
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{json.dumps(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    return str(value)


class SiteFolder:
    """A folder with a site that can be read; change ``document`` or the files to break it.

    Attributes
    ----------
    folder : pathlib.Path
        Where all of it is.
    document : dict
        The site file, written anew by :meth:`write`.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.document: dict[str, Any] = {
            "name": "Test lot",
            "report_units": "si",
            "inputs": {
                "parcel": {"path": "parcel.gpkg", "accuracy": 0.5},
                "terrain": {"path": "terrain.tif", "rmse_z": 0.1},
                "utilities": {"path": "utilities.gpkg"},
            },
        }
        write_vector(folder / "parcel.gpkg", [at_origin(LOT)], {"lot": ["14"]})
        write_terrain(folder / "terrain.tif")
        self.utilities()

    @property
    def inputs(self) -> dict[str, dict[str, Any]]:
        """The ``[inputs]`` of the document."""
        return self.document["inputs"]

    def utilities(self, geometry: BaseGeometry | None = GAS, **columns: Any) -> None:
        """Write ``utilities.gpkg`` anew with one line; a column of its own replaces ours."""
        said = {"id": "G1", "kind": "gas", "diameter": 0.1, "quality_level": "QL-B"} | columns
        path = self.folder / "utilities.gpkg"
        path.unlink(missing_ok=True)
        shape = None if geometry is None else at_origin(geometry)
        write_vector(path, [shape], {key: [value] for key, value in said.items()})

    def add(self, name: str, geometries: Sequence[BaseGeometry], **columns: Any) -> None:
        """Add another input, drawn from (0, 0)."""
        path = f"{name}.gpkg"
        write_vector(self.folder / path, [at_origin(g) for g in geometries], columns)
        self.inputs[name] = {"path": path}

    def add_common(self) -> None:
        """Add a house, trees, an access point, a view and a power point."""
        self.add("structures", [box(2.0, 2.0, 12.0, 12.0)], kind=["house"])
        self.add("trees", [Point(35.0, 5.0)], trunk_diameter=[0.4], crown_radius=[4.0])
        for name, place in {
            "access": (20.0, 0.5),
            "views": (7.0, 13.0),
            "power": (12.0, 7.0),
        }.items():
            self.add(name, [Point(place)])

    def write(self) -> Path:
        """Write ``site.toml`` and give its path."""
        path = self.folder / "site.toml"
        path.write_text(toml_of(self.document), encoding="utf-8")
        return path
