"""The parcel: one area out of a file of areas, or of lines that close.

In: ``[inputs.parcel]``. Out: the lot in the file's own CRS. Lines are cut where they meet and
the faces that they close are the parcels (polygonization of a planar graph); a line end that
hangs free inside or on the parcel is refused with its coordinates, since a boundary that is not
closed may join two lots. Nothing is mended silently.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.errors import InputRefused
from geo_site.raster import as_multipolygon
from geo_site.readers.inputs import ParcelInput
from geo_site.readers.vectors import (
    Lister,
    VectorFile,
    check_degrees,
    layers_in,
    open_vector,
    read_features,
)

__all__ = ["ParcelFound", "as_text", "faces_of", "free_ends", "read_parcel", "sound_area"]

_NAMED = 8  # choices named in a refusal
_AREAS = {"Polygon", "MultiPolygon"}
_LINES = {"LineString", "MultiLineString", "LinearRing"}


@dataclass(frozen=True, kw_only=True)
class ParcelFound:
    """The parcel as its file has it.

    Attributes
    ----------
    file : VectorFile
        Where it was found.
    geometry : shapely.MultiPolygon
        In the file's CRS, valid.
    parcel_id : str
        Its id.
    count : int
        Parcels in the file.
    notes : tuple of str
        What was assumed or mended.
    """

    file: VectorFile
    geometry: MultiPolygon
    parcel_id: str
    count: int
    notes: tuple[str, ...]


def read_parcel(table: ParcelInput, folder: Path, lister: Lister = layers_in) -> ParcelFound:
    """Read the one parcel that the site file means.

    Parameters
    ----------
    table : ParcelInput
        ``[inputs.parcel]``.
    folder : pathlib.Path
        Where the site file is.
    lister : callable
        Who lists the layers of a file.

    Returns
    -------
    ParcelFound
        In the file's CRS.

    Raises
    ------
    InputRefused
        The file cannot be used; several parcels and no choice; a choice that fits none or
        several; lines that do not close; an area that crosses itself.
    """
    file = open_vector(table, folder, "parcel", lister=lister)
    frame = read_features(file)
    if table.where:
        frame = _matching(frame, table, file)
    _check_whole(frame, table, file)
    kinds = set(frame.geom_type.dropna())
    if kinds <= _AREAS:
        notes: tuple[str, ...] = ()
    elif kinds <= _LINES:
        frame, notes = _closed(frame, table, file)
    else:
        raise file.refuse(
            f"the parcel wants areas or lines that close, not {', '.join(sorted(kinds))}",
            "choose another layer or leave the others out",
        )
    row = _choose(frame, table, file)
    area, mended = sound_area(frame.geometry.iloc[row], file, [str(frame.index[row])], table.repair)
    return ParcelFound(
        file=file,
        geometry=as_multipolygon(area),
        parcel_id=_id_of(frame, row, table),
        count=len(frame),
        notes=(*file.notes, *notes, *mended),
    )


def as_text(value: object) -> str:
    """Write a value of a file as a person would: 14.0 is 14, nothing is empty.

    Examples
    --------
    >>> as_text(14.0), as_text(" 7a "), as_text(None)
    ('14', '7a', '')
    """
    if value is None or value is pd.NA or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, float | np.floating) and float(value).is_integer():
        return str(int(value))
    return str(value).strip()


def _matching(frame: gpd.GeoDataFrame, table: ParcelInput, file: VectorFile) -> gpd.GeoDataFrame:
    for name, wanted in table.where.items():
        if name not in file.fields:
            raise file.refuse(
                f"there is no field {name} for where", f"fields: {', '.join(file.fields) or 'none'}"
            )
        values = frame[name].map(as_text)
        found = frame[values == as_text(wanted)]
        if found.empty:
            known = sorted({value for value in values if value})
            raise file.refuse(
                f"no parcel has {name} = {as_text(wanted)}",
                f"values there are: {', '.join(known[:_NAMED])}"
                + (f" and {len(known) - _NAMED} more" if len(known) > _NAMED else ""),
            )
        frame = found
    return frame


def _check_whole(frame: gpd.GeoDataFrame, table: ParcelInput, file: VectorFile) -> None:
    if frame.empty:
        raise file.refuse("the layer holds no features", "choose another layer or file")
    shapes = np.asarray(frame.geometry)
    bad = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    if bad.any() and table.at is None:
        ids = [str(index) for index in frame.index[bad]]
        raise file.refuse("features without geometry", "draw them or delete them", ids)
    coordinates = shapely.get_coordinates(shapes)
    if not np.isfinite(coordinates).all():
        raise file.refuse("coordinates that are not finite", "draw the features again")
    check_degrees(shapes[~bad], file)


def _closed(
    frame: gpd.GeoDataFrame, table: ParcelInput, file: VectorFile
) -> tuple[gpd.GeoDataFrame, tuple[str, ...]]:
    lines = np.asarray(frame.geometry)
    lines = lines[~(shapely.is_missing(lines) | shapely.is_empty(lines))]
    _refuse_crossing_ring(lines, file)
    faces = faces_of(lines)
    ends = free_ends(lines)
    wanted = [face for face in faces if table.at is None or face.intersects(Point(table.at))]
    hanging = [end for end in ends if not wanted or any(f.intersects(end) for f in wanted)]
    if not wanted or hanging:
        raise _refuse_open(hanging, lines, file)
    closed = gpd.GeoDataFrame(index=range(1, len(faces) + 1), geometry=list(faces), crs=frame.crs)
    notes = [f"{len(lines)} lines close to {len(faces)} areas"]
    if ends:
        notes.append(f"{len(ends)} free line ends lie outside the parcel")
    return closed, tuple(notes)


def _refuse_crossing_ring(lines: NDArray[np.object_], file: VectorFile) -> None:
    for line in lines:
        if line.geom_type == "LineString" and line.is_ring is False and line.is_closed:
            fault = _validity(Polygon(line.coords))
            raise file.refuse(f"the boundary {fault}", "draw the boundary again")


def faces_of(lines: Sequence[BaseGeometry] | NDArray[np.object_]) -> list[Polygon]:
    """Give the areas that lines close, from west to east.

    Examples
    --------
    >>> from shapely.geometry import LineString
    >>> u, lid = LineString([(0, 2), (0, 0), (3, 0), (3, 2)]), LineString([(0, 2), (3, 2)])
    >>> [face.area for face in faces_of([u, lid])]
    [6.0]
    """
    noded = shapely.union_all(np.asarray(lines, dtype=object))
    found = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
    return sorted((Polygon(face) for face in found), key=lambda face: face.bounds)


def free_ends(lines: Sequence[BaseGeometry] | NDArray[np.object_]) -> list[Point]:
    """Give the line ends that meet no other line, from west to east.

    Examples
    --------
    >>> from shapely.geometry import LineString
    >>> corner = [LineString([(0, 0), (1, 0)]), LineString([(1, 0), (1, 1)])]
    >>> [str(end) for end in free_ends(corner)]
    ['POINT (0 0)', 'POINT (1 1)']
    """
    parts = shapely.get_parts(shapely.union_all(np.asarray(lines, dtype=object)))
    ends = shapely.get_coordinates([shapely.get_point(parts, 0), shapely.get_point(parts, -1)])
    if not len(ends):
        return []
    places, counts = np.unique(ends, axis=0, return_counts=True)
    return [Point(place) for place in places[counts == 1]]


def _refuse_open(ends: list[Point], lines: NDArray[np.object_], file: VectorFile) -> InputRefused:
    gaps = [gap for end in ends for gap in _gaps_at(end, ends, lines)]
    if not gaps:
        return file.refuse(
            "the lines close round no area at the place wanted", "move at, or draw the boundary"
        )
    gap = min(gaps, key=lambda line: line.length)
    (ax, ay), (bx, by) = gap.coords
    what = "free ends at" if Point(bx, by) in ends else "a free end at"
    return file.refuse(
        f"the lines do not close: {what} {ax:.3f}, {ay:.3f} and {bx:.3f}, {by:.3f}, "
        f"a gap of {gap.length:.3f} {file.crs.axis_info[0].unit_name}",
        "draw the boundary to a close",
    )


def _gaps_at(end: Point, ends: list[Point], lines: NDArray[np.object_]) -> list[LineString]:
    """Lines from a free end to the other free ends, then to lines that do not end there."""
    others = [LineString([end, other]) for other in ends if other != end]
    parts = shapely.get_parts(shapely.union_all(lines))
    parts = parts[shapely.distance(parts, end) > 0.0]
    return others + list(shapely.shortest_line(end, parts))


def _choose(frame: gpd.GeoDataFrame, table: ParcelInput, file: VectorFile) -> int:
    if table.at is None:
        rows = list(range(len(frame)))
    else:
        rows = list(np.flatnonzero(frame.geometry.intersects(Point(table.at))))
    if len(rows) == 1:
        return int(rows[0])
    if not rows:
        west, south, east, north = frame.total_bounds
        raise file.refuse(
            f"no parcel holds the point {table.at}",
            f"parcels lie within {west:.2f}, {south:.2f}, {east:.2f}, {north:.2f}, in the "
            "file's CRS",
        )
    digits = 6 if file.crs.is_geographic else 1
    listed = "; ".join(_choice(frame, row, digits) for row in rows[:_NAMED])
    more = f" and {len(rows) - _NAMED} more" if len(rows) > _NAMED else ""
    raise file.refuse(
        f"{len(rows)} parcels, and one is wanted", f"choose by where or at: {listed}{more}"
    )


def _choice(frame: gpd.GeoDataFrame, row: int, digits: int) -> str:
    inside = frame.geometry.iloc[row].representative_point()
    place = f"at = [{inside.x:.{digits}f}, {inside.y:.{digits}f}]"
    name = _naming_field(frame)
    return f"{name} = {as_text(frame[name].iloc[row])} ({place})" if name else place


def _naming_field(frame: gpd.GeoDataFrame) -> str | None:
    for name in (name for name in frame.columns if name != frame.geometry.name):
        values = frame[name].map(as_text)
        measured = values.str.contains(".", regex=False).all()  # an area names no lot
        if values.is_unique and (values != "").all() and not measured:
            return str(name)
    return None


def _id_of(frame: gpd.GeoDataFrame, row: int, table: ParcelInput) -> str:
    if table.where:
        return as_text(next(iter(table.where.values())))
    name = _naming_field(frame)
    return as_text(frame[name].iloc[row]) if name else str(frame.index[row])


def sound_area(
    area: BaseGeometry, file: VectorFile, ids: Sequence[str], repair: bool
) -> tuple[BaseGeometry, tuple[str, ...]]:
    """Refuse an invalid area, or mend it where the user allows that.

    Parameters
    ----------
    area : geometry
        Areas.
    file : VectorFile
        For the message.
    ids : sequence of str
        The feature.
    repair : bool
        Whether ``shapely.make_valid`` may be used.

    Returns
    -------
    geometry
        Valid.
    tuple of str
        What the repair changed.

    Raises
    ------
    InputRefused
        Invalid and not to be mended, or nothing left of it.
    """
    if area.is_valid and area.area > 0.0:
        return area, ()
    fault = _validity(area) if not area.is_valid else "has no area"
    mended = as_multipolygon(shapely.make_valid(area)) if repair else MultiPolygon()
    if mended.is_empty:
        raise file.refuse(
            f"the area {fault}", "draw it again, or allow repair = true and check the result", ids
        )
    unit = file.crs.axis_info[0].unit_name
    note = (
        f"feature {', '.join(ids)} {fault}; repaired, area {area.area:.3f} became "
        f"{mended.area:.3f} square {unit}"
    )
    return mended, (note,)


def _validity(area: BaseGeometry) -> str:
    told = shapely.is_valid_reason(area)
    match = re.fullmatch(r"(.*)\[(\S+) (\S+)\]", told)
    if match is None:
        return f"is not valid ({told})"
    what, x, y = match.groups()
    place = f"{float(x):.3f}, {float(y):.3f}"
    if "elf-intersection" in what:
        return f"crosses itself at {place}"
    return f"is not valid at {place} ({what.lower()})"
