"""A plan that a person edited in a desktop GIS: the works in it, and what it said before.

In: a GeoPackage with the layers that ``propose`` writes, edited in any way, and its site. Out:
the :class:`~geo_site.drawn.Drawn` works in the working CRS, and the figures that the plan said of
itself. Method: a layer or feature that is not there is a work to be worked out; layers that
follow from others (excavation, clearances, digging and the like) are not read. The file is
opened for reading only.
"""

from __future__ import annotations

import json
import math
import sqlite3
import warnings
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pyogrio
import shapely
from shapely import LineString, Polygon

from geo_site.drawn import Drawn, Earlier
from geo_site.errors import InputRefused
from geo_site.layers import ALTERNATIVE, LAYERS_VERSION, MADE_BY
from geo_site.readers import guards
from geo_site.readers.drawn_layers import Shape, number_at, read_shapes
from geo_site.readers.drawn_works import Parts, drawn_from
from geo_site.readers.inputs import FileInput
from geo_site.readers.vectors import open_vector, unreadable
from geo_site.site import Site

__all__ = ["read_drawn"]

SORTS: Mapping[str, str] = MappingProxyType(
    {
        "basin": "area",
        "stream_alignment": "line",
        "stream_reaches": "line",
        "stream_falls": "point",
        "stream_pools": "area",
        "pipe_run": "line",
        "spoil_pile": "area",
        "silt_fence": "line",
        "machine_route": "line",
    }
)
"""Layers that are read, and what their features must be."""
_ONE = ("basin", "stream_alignment", "pipe_run", "spoil_pile")
_LEAST_SHARE = 0.5  # of the smaller of two lots: less in common is another site


def read_drawn(path: str | Path, site: Site, *, alternative: int = 1) -> tuple[Drawn, Earlier]:
    """Read the works of an edited plan.

    Parameters
    ----------
    path : str or Path
        The GeoPackage.
    site : Site
        Its site.
    alternative : int
        Which plan, where the file holds several.

    Returns
    -------
    Drawn
        In the site's CRS, m. What is not there is None or empty.
    Earlier
        Figures of the plan before it was edited; empty where the file has lost them.

    Raises
    ------
    InputRefused
        Not a plan, one of another site or of another version of the layers, two basins, a basin
        that is no area, shapes that cross themselves, works outside the terrain.
    """
    written = str(path)
    file = guards.safe_path(written, Path(), name="plan", table="")
    told = file.name
    if guards.sniff(file, told) != "gpkg":
        raise InputRefused(
            "this is not a GeoPackage", remedy="hand back plan.gpkg as it was edited", file=told
        )
    layers = _layers(file, told)
    known = [name for name in SORTS if name in layers]
    if not known and "parcel" not in layers:
        raise InputRefused(
            "no layer of a plan is in it",
            remedy=f"hand back a plan with its layers: {', '.join(SORTS)}",
            file=told,
        )
    said = _metadata(file, told)
    _check_site(file, layers, site)
    shapes = {name: _chosen(_read(file, name, site), alternative) for name in known}
    _check_shapes(shapes, site, told)
    drawn = drawn_from(Parts(shapes), site)
    return drawn, _earlier(said, alternative)


def _layers(file: Path, told: str) -> list[str]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            found = pyogrio.list_layers(file)
    except (RuntimeError, ValueError, OSError) as fault:
        raise unreadable(fault, told) from None
    return [str(name) for name, kind in found if kind is not None]


def _metadata(file: Path, told: str) -> Mapping[str, Any]:
    """What the plan's own metadata say; empty where another program has lost them."""
    try:
        with sqlite3.connect(f"{file.as_uri()}?mode=ro&immutable=1", uri=True) as database:
            rows = database.execute(
                "SELECT metadata FROM gpkg_metadata WHERE instr(metadata, ?)", (MADE_BY,)
            ).fetchall()
    except sqlite3.Error:
        return {}
    finally:
        if "database" in locals():
            database.close()
    said = _parsed(rows[0][0]) if rows else {}
    version = said.get("layers_version", LAYERS_VERSION)
    if version != LAYERS_VERSION:
        raise InputRefused(
            f"its layers are of version {version}, this program reads version {LAYERS_VERSION}",
            remedy="propose again with this version, and draw in that plan",
            file=told,
        )
    return said


def _parsed(text: object) -> dict[str, Any]:
    try:
        said = json.loads(str(text))
    except json.JSONDecodeError:
        return {}
    return said if isinstance(said, dict) else {}


def _read(file: Path, name: str, site: Site) -> tuple[Shape, ...]:
    table = FileInput(path=file.name, layer=name)
    opened = open_vector(table, file.parent, name)
    return read_shapes(opened, table, SORTS.get(name, "area"), site.crs)


def _check_site(file: Path, layers: Sequence[str], site: Site) -> None:
    """Refuse a plan whose lot is another."""
    if "parcel" not in layers:
        return
    lots = _read(file, "parcel", site)
    lot = shapely.union_all([shape.geometry for shape in lots])
    if lot.is_empty:
        return
    shared_m2 = lot.intersection(site.parcel).area
    if shared_m2 < _LEAST_SHARE * min(lot.area, site.parcel.area):
        raise InputRefused(
            "this is a plan of another site: its lot is not the site file's",
            remedy="give the site file that it was made from",
            file=file.name,
            layer="parcel",
        )


def _chosen(shapes: tuple[Shape, ...], alternative: int) -> tuple[Shape, ...]:
    """Features of one plan, where the file holds several; what is drawn anew belongs to it."""
    numbers = [number_at(shape, ALTERNATIVE) for shape in shapes]
    return tuple(
        shape
        for shape, number in zip(shapes, numbers, strict=True)
        if math.isnan(number) or number == alternative
    )


def _check_shapes(shapes: Mapping[str, tuple[Shape, ...]], site: Site, told: str) -> None:
    for name in _ONE:
        found = shapes.get(name, ())
        if len(found) > 1:
            raise InputRefused(
                f"{len(found)} of what may be there once",
                remedy="delete all but one",
                file=told,
                layer=name,
                ids=[shape.number for shape in found],
            )
    for shape in shapes.get("basin", ()):
        if isinstance(shape.geometry, Polygon) and len(shape.geometry.interiors):
            raise InputRefused(
                "the basin has a hole",
                remedy="draw it without",
                file=told,
                layer="basin",
                ids=[shape.number],
            )
    data = site.terrain.outline
    for name, found in shapes.items():
        outside = [shape.number for shape in found if not shape.geometry.intersects(data)]
        if outside:
            raise InputRefused(
                "it lies outside the terrain",
                remedy="move it onto the lot",
                file=told,
                layer=name,
                ids=outside,
            )
        empty = [s.number for s in found if _has_no_size(s)]
        if empty:
            raise InputRefused(
                "it has no size", remedy="draw it again", file=told, layer=name, ids=empty
            )


def _has_no_size(shape: Shape) -> bool:
    one = shape.geometry
    if isinstance(one, Polygon):
        return bool(one.area <= 0.0)
    return isinstance(one, LineString) and bool(one.length <= 0.0)


def _earlier(said: Mapping[str, Any], alternative: int) -> Earlier:
    figures = said.get("figures")
    if alternative != 1 or not isinstance(figures, dict):
        return Earlier()
    known = {
        str(name): float(value)
        for name, value in figures.items()
        if isinstance(value, int | float) and math.isfinite(value)
    }
    return Earlier(figures=MappingProxyType(known))
