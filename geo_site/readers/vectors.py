"""Vector files: which layer, in which CRS, and how its points get to the working CRS.

In: an input's table of the site file. Out: features as the file has them, geometry untouched,
and the way to the working CRS with its accuracy. A file that does not state its CRS, or states
another than the user, is refused. Files are opened for reading only.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import shapely
from numpy.typing import NDArray
from pyogrio.errors import GeometryError
from pyproj import CRS
from pyproj.exceptions import CRSError, ProjError
from shapely.errors import ShapelyError
from shapely.geometry.base import BaseGeometry

from geo_site import crs as crs_
from geo_site.errors import InputRefused
from geo_site.readers import guards
from geo_site.readers.curves import curved_features
from geo_site.readers.inputs import FileInput

__all__ = [
    "Lister",
    "VectorFile",
    "Way",
    "check_degrees",
    "crs_named",
    "layers_in",
    "move",
    "open_vector",
    "read_features",
    "unreadable",
    "way_between",
]

Lister = Callable[[str], tuple[tuple[str, str | None], ...]]
"""Gives the layers of a file and their geometry: :func:`layers_in`, or one that asks once."""

_DRIVERS = {
    "gpkg": "GPKG",
    "shp": "Shapefile",
    "zip": "Shapefile",
    "geojson": "GeoJSON",
    "dxf": "DXF",
    "fgb": "FlatGeobuf",
}
_FAULTS = (RuntimeError, ValueError, OSError, ShapelyError)
_STYLES = "layer_styles"  # where desktop clients keep looks: not a layer of features


@dataclass(frozen=True, kw_only=True)
class VectorFile:
    """One layer of a vector file, found and judged, not yet read.

    Attributes
    ----------
    told : str
        Path as written in the site file.
    path : pathlib.Path
        The file.
    opened_as : str
        What the format library is given.
    layer : str
        Layer; of a DXF its Layer attribute, "" for all.
    format : str
        Key of ``guards.VECTOR_SUFFIXES``.
    crs : pyproj.CRS
        Horizontal, as the file or the user states it.
    fields : tuple of str
        Attribute names.
    count : int
        Features that the file says it holds; -1 where it does not say.
    notes : tuple of str
        What was assumed.
    """

    told: str
    path: Path
    opened_as: str
    layer: str
    format: str
    crs: CRS
    fields: tuple[str, ...]
    count: int = -1
    notes: tuple[str, ...] = ()

    def refuse(self, fault: str, remedy: str, ids: Sequence[str] = ()) -> InputRefused:
        """Make a refusal that names this file and layer."""
        return InputRefused(fault, remedy=remedy, file=self.told, layer=self.layer, ids=ids)


def layers_in(opened_as: str) -> tuple[tuple[str, str | None], ...]:
    """List the layers of a file: names, and sort of geometry, None where there is none.

    Parameters
    ----------
    opened_as : str
        What the format library is given.

    Returns
    -------
    tuple of tuple
        In the order of the file. It takes longer than to open one of them: a reading asks once
        for each file (``functools.cache``).
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = pyogrio.list_layers(opened_as)
    return tuple((str(name), None if kind is None else str(kind)) for name, kind in found)


def open_vector(
    table: FileInput,
    folder: Path,
    name: str,
    *,
    group: str = "inputs.",
    lister: Lister = layers_in,
) -> VectorFile:
    """Find the layer that an input means, without reading its features.

    Parameters
    ----------
    table : FileInput
        The input's table.
    folder : pathlib.Path
        Where the site file is.
    name : str
        Which input.
    group : str
        What stands before the name in messages.
    lister : callable
        Who lists the layers of a file.

    Returns
    -------
    VectorFile
        Ready for :func:`read_features`.

    Raises
    ------
    InputRefused
        No such file, not what it says it is, several layers and none chosen, curved geometry,
        no CRS or one that contradicts the user.
    """
    path = guards.safe_path(table.path, folder, name=name, table=group)
    format_ = _vector_format(path, table.path, f"{group}{name}")
    opened_as, layer = str(path), table.layer
    if format_ == "zip":
        member = guards.zipped_shapefile(path, table.path, table.layer)
        opened_as, layer = f"/vsizip/{path}/{member}", None
    if format_ != "dxf":
        layer = _choose_layer(lister, opened_as, layer, table.path)
    info = _info(opened_as, None if format_ == "dxf" else layer, table.path)
    _check_driver(info, format_, table.path)
    if format_ == "gpkg":
        _refuse_curves(path, str(layer), table.path)
    crs, notes = _crs_of(info, table, format_)
    return VectorFile(
        told=table.path,
        path=path,
        opened_as=opened_as,
        layer=layer or "",
        format=format_,
        crs=crs,
        fields=tuple(str(name) for name in info["fields"]),
        count=int(info["features"]),
        notes=notes,
    )


def _vector_format(path: Path, told: str, name: str) -> str:
    format_ = guards.sniff(path, told)
    if format_ not in guards.VECTOR_SUFFIXES:
        raise InputRefused(
            f"{name} wants points, lines or areas, not a raster or a point cloud",
            remedy=f"give one of {' '.join(s for k in guards.VECTOR_SUFFIXES.values() for s in k)}",
            file=told,
        )
    return format_


def _choose_layer(lister: Lister, opened_as: str, wanted: str | None, told: str) -> str:
    try:
        found = lister(opened_as)
    except GeometryError:  # one layer of a sort that is not read hides all names
        if wanted is not None:
            return wanted
        raise InputRefused(
            "a layer of the file is of a geometry that is not read, so layers cannot be listed",
            remedy='name the one wanted: layer = "..."',
            file=told,
        ) from None
    except _FAULTS as fault:
        raise unreadable(fault, told) from None
    names = [name for name, kind in found if kind is not None and name != _STYLES]
    return _the_layer(names, wanted, told)


def _the_layer(names: list[str], wanted: str | None, told: str) -> str:
    listed = ", ".join(names)
    if not names:
        raise InputRefused("the file holds no layer with geometry", remedy="add one", file=told)
    if wanted is not None and wanted not in names:
        raise InputRefused(f"there is no layer {wanted}", remedy=f"layers: {listed}", file=told)
    if wanted is None and len(names) > 1:
        raise InputRefused(
            "the file holds several layers", remedy=f"say layer = one of {listed}", file=told
        )
    return wanted or names[0]


def _info(opened_as: str, layer: str | None, told: str) -> dict[str, Any]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return dict(pyogrio.read_info(opened_as, layer=layer))
    except _FAULTS as fault:
        raise unreadable(fault, told, layer) from None


def unreadable(fault: Exception, told: str, layer: str | None = None) -> InputRefused:
    """Make a refusal of what a format library says, without paths of this machine."""
    said = " ".join(str(fault).split()).partition("; It might help")[0]  # advice on drivers
    said = re.sub(r"(?:/vsizip)?/\S*/", "", said)[:200] or type(fault).__name__
    return InputRefused(
        f"the file cannot be read ({said})",
        remedy="open it in a desktop GIS and save it again as a GeoPackage",
        file=told,
        layer=layer,
    )


def _refuse_curves(path: Path, layer: str, told: str) -> None:
    curved = curved_features(path, layer)
    if curved:
        raise InputRefused(
            "curved geometry is not read",
            remedy="turn the curves into lines, with vertices as close as the position needs",
            file=told,
            layer=layer,
            ids=curved,
        )


def _check_driver(info: dict[str, Any], format_: str, told: str) -> None:
    driver = str(info["driver"])
    if not driver.endswith(_DRIVERS[format_]):
        raise InputRefused(
            f"the content is read as {driver}, the name says {format_}",
            remedy="get the file again",
            file=told,
        )


def _crs_of(info: dict[str, Any], table: FileInput, format_: str) -> tuple[CRS, tuple[str, ...]]:
    stated = crs_named(table.crs, table.path) if table.crs else None
    own = _own_crs(info)
    if own is None and stated is None:
        raise InputRefused(
            "the file does not say which CRS its coordinates are in",
            remedy='ask who made it, then state it: crs = "EPSG:..." for this input',
            file=table.path,
            layer=table.layer,
        )
    if own is None and stated is not None:
        return stated, (f"the file has no CRS; {table.crs} is the site file's word",)
    assert own is not None
    if stated is not None and not own.equals(stated, ignore_axis_order=True):
        if format_ != "geojson":  # there it is what the format falls back on
            raise InputRefused(
                f"the file says {own.name}, the site file says {stated.name}",
                remedy="leave crs out, or correct the file",
                file=table.path,
                layer=table.layer,
            )
        return stated, (f"{table.crs} is the site file's word, against WGS 84 of the format",)
    return own, ()


def _own_crs(info: dict[str, Any]) -> CRS | None:
    if not info["crs"]:
        return None
    try:
        own = crs_.horizontal(CRS.from_user_input(info["crs"]))
    except CRSError:
        return None
    return own if own.is_projected or own.is_geographic else None


def crs_named(text: str, told: str) -> CRS:
    """Read a CRS that the user names.

    Raises
    ------
    InputRefused
        It is not known, or neither projected nor geographic.
    """
    try:
        found = crs_.horizontal(CRS.from_user_input(text))
    except CRSError:
        found = None
    if found is None or not (found.is_projected or found.is_geographic):
        raise InputRefused(f"the CRS {text!r} is not known", remedy='write "EPSG:2154"', file=told)
    return found


def read_features(file: VectorFile, *, levels: bool = False) -> gpd.GeoDataFrame:
    """Read features as they are in the file.

    Parameters
    ----------
    file : VectorFile
        From :func:`open_vector`.
    levels : bool
        Whether Z is kept.

    Returns
    -------
    geopandas.GeoDataFrame
        Indexed by feature number, dates as ISO text, geometry in the file's CRS;
        None where there is none that can be read.

    Raises
    ------
    InputRefused
        The file breaks off or cannot be decoded; a DXF of several layers and none chosen.
    """
    is_dxf = file.format == "dxf"
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # dropped M values; a bad geometry is judged later
            frame = pyogrio.read_dataframe(
                file.opened_as,
                layer=None if is_dxf else file.layer,
                fid_as_index=not is_dxf,
                on_invalid="ignore",
                datetime_as_string=True,
                force_2d=not levels,
            )
    except _FAULTS as fault:
        raise unreadable(fault, file.told, file.layer) from None
    if not isinstance(frame, gpd.GeoDataFrame):
        raise file.refuse("the layer holds no geometry", "choose another layer")
    if len(frame) < file.count:  # a file that breaks off may end without an error
        raise file.refuse(
            f"the file says {file.count} features and gives {len(frame)}", "get the file again"
        )
    frame = _dxf_layer(frame, file) if is_dxf else frame
    if file.format != "gpkg":  # elsewhere features are counted from 0
        frame.index = frame.index + 1
    return frame.set_crs(file.crs, allow_override=True)


def _dxf_layer(frame: gpd.GeoDataFrame, file: VectorFile) -> gpd.GeoDataFrame:
    names = sorted(set(frame["Layer"]))
    if file.layer and file.layer not in names:
        raise file.refuse(f"there is no layer {file.layer}", f"layers: {', '.join(names)}")
    if not file.layer and len(names) > 1:
        raise file.refuse(
            "the drawing has several layers", f"say layer = one of {', '.join(names)}"
        )
    return frame[frame["Layer"] == (file.layer or names[0])] if names else frame


@dataclass(frozen=True)
class Way:
    """How geometries of a file get to another CRS.

    Attributes
    ----------
    scale : float
        Factor on both coordinates; used where ``shift`` is None.
    shift : Shift or None
        The operation, where a factor is not enough.
    """

    scale: float = 1.0
    shift: crs_.Shift | None = None

    @property
    def accuracy_m(self) -> float:
        """Accuracy of the datum shift, 0 where there is none."""
        return self.shift.accuracy_m if self.shift else 0.0

    def __call__(self, geometries: NDArray[np.object_]) -> NDArray[np.object_]:
        """Move geometries, vertex by vertex."""
        if self.shift is None and self.scale == 1.0:
            return geometries
        return np.asarray(shapely.transform(geometries, self.points), dtype=object)

    def points(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Move points, shape (n, 2)."""
        return xy * self.scale if self.shift is None else self.shift(xy)


def way_between(source: CRS, target: CRS, table: FileInput) -> Way:
    """Find the way from a file's CRS to another one.

    Parameters
    ----------
    source, target : pyproj.CRS
        Horizontal CRSs.
    table : FileInput
        For the user's word on the accuracy, and the file's name.

    Returns
    -------
    Way
        A plain factor where only the unit differs, so that no digit is lost.

    Raises
    ------
    InputRefused
        As :func:`geo_site.crs.shift_between`.
    """
    if source.equals(target, ignore_axis_order=True):
        return Way()
    unit_m = crs_.unit_of_twin(target, source)
    if unit_m is not None:
        return Way(scale=unit_m)
    return Way(
        shift=crs_.shift_between(
            source,
            target,
            file=table.path,
            stated_accuracy_m=table.shift_accuracy,
        )
    )


def move(geometries: Sequence[BaseGeometry], way: Way, file: VectorFile) -> NDArray[np.object_]:
    """Move geometries of a file.

    Parameters
    ----------
    geometries : sequence of geometry
        In the file's CRS.
    way : Way
        From :func:`way_between`.
    file : VectorFile
        For the message.

    Returns
    -------
    ndarray of geometry
        In the other CRS.

    Raises
    ------
    InputRefused
        A coordinate is outside what the CRS is defined for.
    """
    given = np.empty(len(geometries), dtype=object)
    given[:] = list(geometries)
    check_degrees(given, file)
    try:
        return way(given)
    except ProjError:
        raise file.refuse(
            f"coordinates lie outside the area of {file.crs.name}", "correct the file's CRS"
        ) from None


def check_degrees(geometries: NDArray[np.object_], file: VectorFile) -> None:
    """Refuse metres or feet in a file that says degrees.

    Raises
    ------
    InputRefused
        A geographic CRS, and coordinates beyond 360 and 90.
    """
    if not file.crs.is_geographic or not len(geometries):
        return
    west, south, east, north = shapely.total_bounds(geometries)
    if max(abs(west), abs(east)) > 360.0 or max(abs(south), abs(north)) > 90.0:
        raise file.refuse(
            f"coordinates as {east:.0f}, {north:.0f} are not degrees, and the CRS is "
            f"{file.crs.name}",
            'state crs = "EPSG:..." for this input, or correct the file',
        )
