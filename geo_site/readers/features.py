"""Vector inputs besides the parcel: from files to the tables of a site.

In: the tables of one input and where the site is. Out: one table in the working CRS with the
columns of ``site.INPUT_LAYERS``, and a record for each file. Features farther than the margin
from the parcel are left out and counted. Geometry that is missing, broken or of the wrong sort
is refused with the ids: a line that is not seen is a danger.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely import GeometryType
from shapely.geometry.base import BaseGeometry

from geo_site.errors import InputRefused
from geo_site.readers import guards
from geo_site.readers.attributes import made_columns
from geo_site.readers.inputs import VectorInput
from geo_site.readers.line_faults import once_each, with_colours
from geo_site.readers.parcels import sound_area
from geo_site.readers.surroundings import MARGIN_M, Surroundings
from geo_site.readers.vectors import (
    Lister,
    VectorFile,
    check_degrees,
    layers_in,
    move,
    open_vector,
    read_features,
    way_between,
)
from geo_site.site import INPUT_LAYERS, InputLayer, InputRecord, empty_layer

__all__ = ["crs_text", "read_layer", "record_of"]

_FARTHEST_M = 10_000.0  # when the nearest feature is farther, the CRS is wrong, not the town
_POINTS = [GeometryType.POINT]
_LINES = [GeometryType.LINESTRING, GeometryType.MULTILINESTRING]
_AREAS = [GeometryType.POLYGON, GeometryType.MULTIPOLYGON]
_ACCEPTED = {
    "point": _POINTS,
    "line": _LINES,
    "polygon": _AREAS,
    "any": _POINTS + _LINES + _AREAS,
}
_WANTED = {"point": "points", "line": "lines", "polygon": "areas", "any": "points, lines or areas"}


def read_layer(
    name: str,
    tables: Sequence[VectorInput],
    folder: Path,
    around: Surroundings,
    lister: Lister = layers_in,
) -> tuple[gpd.GeoDataFrame, tuple[InputRecord, ...]]:
    """Read one vector input.

    Parameters
    ----------
    name : str
        Key of ``site.INPUT_LAYERS``.
    tables : sequence of VectorInput
        One for each file; none: an empty table.
    folder : pathlib.Path
        Where the site file is.
    around : Surroundings
        Working CRS and parcel.
    lister : callable
        Who lists the layers of a file.

    Returns
    -------
    geopandas.GeoDataFrame
        In the working CRS.
    tuple of InputRecord
        One for each file.

    Raises
    ------
    InputRefused
        A file cannot be used, or an id is in two of them.
    """
    read = [
        _read_file(name, open_vector(table, folder, name, lister=lister), table, around)
        for table in tables
    ]
    if len(read) > 1:
        read = _told_apart(read)
    full = [one.frame for one in read if len(one.frame)]
    records = tuple(one.record for one in read)
    if not full:
        return empty_layer(name, around.crs), records
    joined = gpd.GeoDataFrame(pd.concat(full, ignore_index=True), crs=around.crs)
    double = joined["id"][joined["id"].duplicated()]
    if len(double):
        raise InputRefused(
            f"the same ids in several files of inputs.{name}",
            remedy="give each line its own id",
            ids=sorted(set(double)),
        )
    if name != "utilities":
        return joined, records
    single, notes = once_each(joined)
    first = replace(records[0], notes=(*records[0].notes, *notes))
    return single, (first, *records[1:])


@dataclass(frozen=True, kw_only=True)
class _Read:
    frame: gpd.GeoDataFrame
    record: InputRecord
    stem: str
    layer: str
    ids_are_numbers: bool


def _told_apart(read: Sequence[_Read]) -> list[_Read]:
    """Put the file's or layer's name before ids that other files have too.

    Not where one layer is read twice: its lines would count twice.
    """
    labels = _labels(read)
    if len(set(labels)) < len(labels):
        return list(read)
    found = pd.concat([one.frame["id"] for one in read])
    double = set(found[found.duplicated()])
    return [
        _labelled(one, label) if one.ids_are_numbers or double & set(one.frame["id"]) else one
        for one, label in zip(read, labels, strict=True)
    ]


def _labels(read: Sequence[_Read]) -> list[str]:
    """Give the shortest names that differ; those of one layer read twice do not."""
    stems, layers = [one.stem for one in read], [one.layer for one in read]
    for labels in (layers, stems):
        if len(set(labels)) == len(labels) and all(labels):
            return labels
    return [f"{stem}-{layer}" for stem, layer in zip(stems, layers, strict=True)]


def _labelled(one: _Read, label: str) -> _Read:
    frame = one.frame.assign(id=f"{label}-" + one.frame["id"])
    if one.ids_are_numbers:
        return replace(one, frame=frame)
    note = f"ids stand in other files too: {label}- is put before them"
    record = replace(one.record, notes=(*one.record.notes, note))
    return replace(one, frame=frame, record=record)


def _read_file(name: str, file: VectorFile, table: VectorInput, around: Surroundings) -> _Read:
    layer = INPUT_LAYERS[name]
    raw = read_features(file)
    raw = _whole(raw, layer, file)
    near, dropped = _near(raw, around, file)
    columns = made_columns(pd.DataFrame(near.drop(columns=near.geometry.name)), layer, table, file)
    shapes, mended = _sound(near, list(columns.frame["id"]), table, file)
    way = way_between(file.crs, around.crs, table)
    moved = move(shapes, way, file)
    frame = gpd.GeoDataFrame(columns.frame, geometry=moved, crs=around.crs)
    notes = [*file.notes, *columns.notes, *mended, *dropped]
    if way.accuracy_m > 0.0:
        notes.append(f"the datum shift is known to {way.accuracy_m:g} m")
    if name == "utilities":
        frame["shift_accuracy_m"] = way.accuracy_m
        frame, coloured = with_colours(frame, file.told)
        notes += coloured
    extent = tuple(float(v) for v in frame.total_bounds) if len(frame) else (np.nan,) * 4
    return _Read(
        frame=frame.reset_index(drop=True),
        record=record_of(name, file, len(frame), extent, notes),
        stem=file.path.stem,
        layer=file.layer or "",
        ids_are_numbers=columns.ids_are_numbers,
    )


def _whole(raw: gpd.GeoDataFrame, layer: InputLayer, file: VectorFile) -> gpd.GeoDataFrame:
    shapes = np.asarray(raw.geometry)
    bad = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    if bad.any():
        raise file.refuse(
            "features without geometry (missing, empty or not readable)",
            "draw them or delete them: a line that is not seen is a danger",
            _numbers_of(raw, bad),
        )
    singles = _singles(shapes)
    wrong = ~np.isin(shapely.get_type_id(singles), _ACCEPTED[layer.geometry])
    if wrong.any():
        found = sorted({singles[i].geom_type for i in np.flatnonzero(wrong)})
        raise file.refuse(
            f"inputs.{layer.name} wants {_WANTED[layer.geometry]}, the layer holds "
            f"{', '.join(found)}",
            "choose another layer, or leave these out",
            _numbers_of(raw, wrong),
        )
    points, of = shapely.get_coordinates(singles, return_index=True)
    infinite = np.isin(np.arange(len(singles)), of[~np.isfinite(points).all(axis=1)])
    if infinite.any():
        raise file.refuse(
            "coordinates that are not finite", "draw them again", _numbers_of(raw, infinite)
        )
    check_degrees(singles, file)
    return raw.set_geometry(gpd.GeoSeries(list(singles), index=raw.index, crs=raw.crs))


def _numbers_of(raw: gpd.GeoDataFrame, mask: NDArray[np.bool_]) -> list[str]:
    return [str(number) for number in raw.index[mask]]


def _singles(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Multi-points of one point become that point."""
    alone = (shapely.get_type_id(shapes) == GeometryType.MULTIPOINT) & (
        shapely.get_num_geometries(shapes) == 1
    )
    singles = shapes.copy()
    singles[alone] = shapely.get_geometry(shapes[alone], 0)
    return singles


def _near(
    raw: gpd.GeoDataFrame, around: Surroundings, file: VectorFile
) -> tuple[gpd.GeoDataFrame, list[str]]:
    window = around.window_in(file.crs)
    near = raw[raw.intersects(window)]
    dropped = len(raw) - len(near)
    if near.empty and len(raw):
        _refuse_far(raw, around, file)
    if raw.empty:
        return near, ["the layer holds no features"]
    if not dropped:
        return near, []
    return near, [f"{dropped} of {len(raw)} features lie over {MARGIN_M:g} m away: left out"]


def _refuse_far(raw: gpd.GeoDataFrame, around: Surroundings, file: VectorFile) -> None:
    window = around.window_in(file.crs)
    away = float(shapely.distance(np.asarray(raw.geometry), window).min())
    degree_m = 111_000.0
    away_m = away * (
        degree_m if file.crs.is_geographic else file.crs.axis_info[0].unit_conversion_factor
    )
    if away_m > _FARTHEST_M:
        raise file.refuse(
            f"the nearest feature lies about {away_m / 1000.0:.0f} km from the parcel",
            "correct the file's CRS, or leave this input out",
        )


def _sound(
    near: gpd.GeoDataFrame, ids: list[str], table: VectorInput, file: VectorFile
) -> tuple[list[BaseGeometry], list[str]]:
    shapes: list[BaseGeometry] = []
    notes: list[str] = []
    for shape, ident in zip(near.geometry, ids, strict=True):
        if shape.geom_type in ("Polygon", "MultiPolygon"):
            sound, said = sound_area(shape, file, [ident], table.repair)
            shapes.append(sound)
            notes += said
        elif shape.geom_type != "Point" and not shape.length > 0.0:
            raise file.refuse("a line of no length", "draw it again", [ident])
        else:
            shapes.append(shape)
    return shapes, notes


def record_of(
    name: str, file: VectorFile, count: int, extent: Sequence[float], notes: Sequence[str]
) -> InputRecord:
    """Make the record of a vector file."""
    west, south, east, north = extent
    return InputRecord(
        name=name,
        path=file.told,
        sha256=guards.sha256_of(file.path),
        crs=crs_text(file),
        unit=file.crs.axis_info[0].unit_name,
        count=count,
        extent=(west, south, east, north),
        modified=guards.modified_on(file.path),
        notes=tuple(notes),
    )


def crs_text(file: VectorFile) -> str:
    """Name and authority code of a file's CRS."""
    code = file.crs.to_authority()
    return f"{file.crs.name} ({code[0]}:{code[1]})" if code else file.crs.name
