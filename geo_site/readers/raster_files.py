"""One terrain raster, opened by one named driver, and nothing beside it believed.

In: a GeoTIFF, an ESRI ASCII grid with its .prj, or an ERDAS IMAGINE file. Out: what it declares,
and its levels with NaN for no data. Side files that change a raster silently (``.aux.xml``) are
left unread and reported; what cannot be levels (images, several bands, sentinels that are not
declared) is refused.
"""

from __future__ import annotations

import contextlib
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.windows import Window

from geo_site.errors import InputRefused
from geo_site.readers.declared import HIGHEST_M, LOWEST_M, MOST_CELLS, Bounds, Declared, declare
from geo_site.readers.guards import RASTER_OPTIONS, sniff

__all__ = ["Tile", "load", "look"]

_DRIVERS = {"tiff": "GTiff", "asc": "AAIGrid", "img": "HFA"}
_OPTIONS = {
    **RASTER_OPTIONS,
    "GTIFF_REPORT_COMPD_CS": "YES",  # else GeoTIFF 1.0 files lose their vertical CRS
    "AAIGRID_DATATYPE": "Float32",  # else a grid that starts with whole numbers is cut to them
}
_WITH_SIDE_FILE = {
    **_OPTIONS,
    "GDAL_PAM_ENABLED": "YES",
    "GDAL_DISABLE_READDIR_ON_OPEN": "NO",
}
_HARMLESS = (".prj", ".ovr", ".rrd", ".aux")  # the CRS, and smaller copies that are not read
_SENTINELS = (-9999.0, -999.0)  # in feet, -999 is above the lowest
_CLEAR_OF_ZERO = 5.0  # exact zeros, while nothing else is this near zero, are no levels


@dataclass(frozen=True)
class Tile:
    """Levels of one file as they stand in it.

    Attributes
    ----------
    declared : Declared
        What the file says of itself.
    values : ndarray of float32 or float64, shape (rows, cols)
        In the file's own vertical unit; NaN no data.
    transform : affine.Affine
        From (col, row) to x, y of the file's CRS; north up unless rotated.
    """

    declared: Declared
    values: NDArray[np.floating[Any]]
    transform: Affine


def look(path: Path, told: str) -> Declared:
    """Read what a raster declares, none of its cells.

    Parameters
    ----------
    path : pathlib.Path
        A raster file.
    told : str
        Its path as the user wrote it.

    Returns
    -------
    Declared
        CRS, vertical unit and datum, bounds.

    Raises
    ------
    InputRefused
        It cannot be opened, is no grid of levels, or has no CRS or georeference.
    """
    with _opened(path, told) as source:
        return _declared(source, path, told)


def load(
    path: Path, told: str, metres_per_unit: float, around: Bounds | None = None
) -> Tile | None:
    """Read a raster's levels.

    Parameters
    ----------
    path : pathlib.Path
        A raster file.
    told : str
        Its path as the user wrote it.
    metres_per_unit : float
        Of the levels, to judge whether they can be levels.
    around : tuple of float, optional
        West, south, east, north in the file's CRS: only these cells are read.

    Returns
    -------
    Tile or None
        None when ``around`` lies beside the file.

    Raises
    ------
    InputRefused
        As :func:`look`; too many cells, broken data, values that cannot be levels.
    """
    with _opened(path, told) as source:
        declared = _declared(source, path, told)
        window = _window(source, around)
        if window is None:
            return None
        cells = int(window.width * window.height)
        block = max(rows * cols for rows, cols in source.block_shapes)
        if max(cells, block) > MOST_CELLS:
            raise InputRefused(
                f"the raster declares {cells:,} cells, more than {MOST_CELLS:,}",
                remedy="cut the terrain around the lot and its catchment out of it",
                file=told,
            )
        values = _levels(source, window)
        transform = source.transform @ Affine.translation(window.col_off, window.row_off)
    _refuse_absurd(values, metres_per_unit, told)
    return Tile(declared, *_north_up(values, transform))


@contextlib.contextmanager
def _opened(path: Path, told: str) -> Iterator[Any]:
    driver = _DRIVERS[sniff(path, told)]
    try:
        with rasterio.Env(**_OPTIONS), warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # refused below instead
            with rasterio.open(path, driver=driver) as source:
                yield source
    except (RasterioError, MemoryError, ValueError) as fault:
        why = str(fault.__cause__ or fault).replace(str(path), path.name)
        raise InputRefused(
            f"the raster is broken or cut short ({why})", remedy="get it again", file=told
        ) from None


def _declared(source: Any, path: Path, told: str) -> Declared:
    _refuse_other_files(source, path, told)
    fault = _not_levels(source)
    if fault:
        raise InputRefused(fault, remedy="give one band of ground levels", file=told)
    if source.transform.is_identity or source.transform.determinant == 0.0:
        raise InputRefused(
            "the raster has no georeference", remedy="write one into the file", file=told
        )
    try:
        crs = CRS.from_wkt(source.crs.to_wkt(version="WKT2_2019")) if source.crs else None
    except CRSError as fault_of_crs:
        raise InputRefused(
            f"the CRS is not understood ({fault_of_crs})",
            remedy="write it by its EPSG code",
            file=told,
        ) from None
    x, y = zip(*_corners(source), strict=True)
    bounds = (min(x), min(y), max(x), max(y))
    notes = _side_file(path, source)
    return declare(path, told, crs, bounds, band_unit=source.units[0], notes=notes)


def _refuse_other_files(source: Any, path: Path, told: str) -> None:
    """A raster whose cells, or whose mask, lie in a file that it names is not one file."""
    others = [Path(name) for name in source.files if Path(name) != path]
    others = [other for other in others if other.suffix.lower() not in _HARMLESS]
    mask = path.with_name(f"{path.name}.msk")
    if mask.exists():
        others.append(mask)
    if others:
        raise InputRefused(
            f"part of the raster lies in another file, {others[0].name}",
            remedy="write it into one GeoTIFF",
            file=told,
        )


def _not_levels(source: Any) -> str:
    kind = np.dtype(source.dtypes[0])
    if source.count != 1:
        return f"the raster has {source.count} bands"
    if kind.kind not in "iuf" or kind.itemsize == 1 or kind == np.float16:
        return f"the raster's values are {kind}, an image rather than levels"
    return ""


def _corners(source: Any) -> list[tuple[float, float]]:
    cols, rows = source.width, source.height
    return [source.transform @ corner for corner in ((0, 0), (cols, 0), (0, rows), (cols, rows))]


def _side_file(path: Path, source: Any) -> tuple[str, ...]:
    side = path.with_name(f"{path.name}.aux.xml")
    if not side.is_file():
        return ()
    try:
        with (
            rasterio.Env(**_WITH_SIDE_FILE),
            rasterio.open(path, driver=source.driver, sharing=False) as other,
        ):
            changed = [what for what in _SAID if _SAID[what](source) != _SAID[what](other)]
    except RasterioError:
        changed = ["something unreadable"]
    if not changed:
        return ()
    return (f"{side.name} gives another {', '.join(changed)}: it was not used",)


_SAID: dict[str, Callable[[Any], Any]] = {
    "CRS": lambda source: source.crs,
    "georeference": lambda source: source.transform,
    "no-data value": lambda source: repr(source.nodata),
    "scale": lambda source: source.scales,
    "offset": lambda source: source.offsets,
    "unit": lambda source: source.units,
}


def _window(source: Any, around: Bounds | None) -> Window | None:
    if around is None:
        return Window(0, 0, source.width, source.height)
    west, south, east, north = around
    corners = ((west, south), (west, north), (east, south), (east, north))
    cols, rows = zip(*(~source.transform @ corner for corner in corners), strict=True)
    left, right = max(0, int(np.floor(min(cols)))), min(source.width, int(np.ceil(max(cols))))
    top, bottom = max(0, int(np.floor(min(rows)))), min(source.height, int(np.ceil(max(rows))))
    if left >= right or top >= bottom:
        return None
    return Window(left, top, right - left, bottom - top)


def _levels(source: Any, window: Window) -> NDArray[np.floating[Any]]:
    raw = source.read(1, window=window)
    given = source.read_masks(1, window=window) != 0
    kept = np.float64 if raw.dtype == np.float64 else np.float32
    scale, offset = source.scales[0], source.offsets[0]
    if (scale, offset) == (1.0, 0.0):
        values = raw.astype(kept, copy=False)
    else:
        values = (raw.astype(np.float64) * scale + offset).astype(kept)
    values[~given] = np.nan
    return np.asarray(values)


def _refuse_absurd(values: NDArray[np.floating[Any]], metres_per_unit: float, told: str) -> None:
    absurd = (values > HIGHEST_M / metres_per_unit) | (values < LOWEST_M / metres_per_unit)
    absurd |= np.isin(values, _SENTINELS)
    if not absurd.any() and _lone_zeros(values):
        absurd = values == 0.0
    if not absurd.any():
        return
    found, counts = np.unique(values[absurd], return_counts=True)
    most = int(np.argmax(counts))
    raise InputRefused(
        f"{int(counts.sum()):,} cells cannot be ground levels, {counts[most]:,} of them are "
        f"{found[most]:.9g}, and that is not declared as no data",
        remedy="declare the no-data value in the file, or correct the levels",
        file=told,
    )


def _lone_zeros(values: NDArray[np.floating[Any]]) -> bool:
    others = values[values != 0.0]
    others = others[~np.isnan(others)]
    return bool(others.size and np.any(values == 0.0) and np.abs(others).min() > _CLEAR_OF_ZERO)


def _north_up(
    values: NDArray[np.floating[Any]], transform: Affine
) -> tuple[NDArray[np.floating[Any]], Affine]:
    if transform.b or transform.d:
        return values, transform
    rows, cols = values.shape
    if transform.e > 0.0:
        values, transform = values[::-1], transform @ Affine(1, 0, 0, 0, -1, rows)
    if transform.a < 0.0:
        values, transform = values[:, ::-1], transform @ Affine(-1, 0, cols, 0, 1, 0)
    return np.ascontiguousarray(values), transform
