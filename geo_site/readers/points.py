"""Lidar ground points (LAS, LAZ) become a grid of levels.

In: one or several point files of one CRS, classified. Out: levels on square cells of the working
CRS. Method: Delaunay triangulation of the points of class 2 (ground), linear inside each
triangle (Delaunay 1934; Shewchuk 2002 on interpolation in triangles); cells no finer than the
mean spacing of the points; nothing far from a point. References: ASPRS LAS 1.4 R15 for classes
and flags, OGC GeoTIFF 1.1 (19-008r4) for the keys in the header.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay, QhullError, cKDTree

from geo_site.crs import linear_unit_m, metric_twin, shift_between
from geo_site.errors import InputRefused
from geo_site.raster import Raster
from geo_site.readers.declared import Bounds, Declared, declare
from geo_site.readers.raster_files import MOST_CELLS

__all__ = ["grid", "look"]

_GROUND = 2  # ASPRS LAS: ground
_CELLS_M = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0)
_FAR_M = 10.0  # a house is bridged, as in any terrain model; a lake or a field without points not
_FAR_CELLS = 3.0
_NEAR_M = 5.0  # beyond it a level is told to be bridged
_MOST_POINTS = 12_000_000  # ground points triangulated in one go: some 6 GB
_CHUNK = 2_000_000
_VERTICAL_UNITS = {9001: "metre", 9002: "foot", 9003: "us survey foot"}
_UNIT_METRES = {9001: 1.0, 9002: 0.3048, 9003: 1200.0 / 3937.0}
_LINEAR_UNIT_KEY, _VERTICAL_CRS_KEY, _VERTICAL_UNIT_KEY = 3076, 4096, 4099

Points = NDArray[np.float64]


def look(path: Path, told: str) -> Declared:
    """Read what a point file's header declares.

    Parameters
    ----------
    path : pathlib.Path
        A LAS or LAZ file.
    told : str
        Its path as the user wrote it.

    Returns
    -------
    Declared
        CRS, vertical unit and datum (from the WKT, else from the GeoTIFF keys), bounds.

    Raises
    ------
    InputRefused
        The lidar extra is not installed, the file is broken, or it has no CRS.
    """
    with _opened(path, told) as reader:
        header = reader.header
        crs = header.parse_crs()
        keys = _geo_keys(header)
    if crs is None:
        return declare(path, told, None, (0.0, 0.0, 0.0, 0.0))
    _refuse_contradiction(crs, keys, told)
    if not crs.is_compound and 0 < keys.get(_VERTICAL_CRS_KEY, 0) < 32767:
        crs = _with_vertical(crs, keys[_VERTICAL_CRS_KEY], told)
    (west, south, _), (east, north, _) = header.mins, header.maxs
    bounds = (float(west), float(south), float(east), float(north))
    unit = _VERTICAL_UNITS.get(keys.get(_VERTICAL_UNIT_KEY, 0))
    return declare(path, told, crs, bounds, band_unit=unit)


@contextlib.contextmanager
def _opened(path: Path, told: str) -> Iterator[Any]:
    try:
        import laspy  # noqa: PLC0415 (an extra: only who has points needs it)
        from laspy.errors import LaspyException  # noqa: PLC0415

        backend = laspy.LazBackend.Lazrs
        if not backend.is_available():
            raise ImportError("lazrs")
    except ImportError:
        raise InputRefused(
            "reading points needs the lidar extra, which is not installed",
            remedy='install it with: pip install "geo-site[lidar]"',
            file=told,
        ) from None
    try:
        with laspy.open(path, laz_backend=backend) as reader:
            yield reader
    except (LaspyException, RuntimeError, OSError, EOFError, ValueError) as fault:
        raise InputRefused(
            f"the point file is broken or cut short ({fault})", remedy="get it again", file=told
        ) from None


def _geo_keys(header: Any) -> dict[int, int]:
    found: dict[int, int] = {}
    for record in header.vlrs.get("GeoKeyDirectoryVlr"):
        found |= {k.id: k.value_offset for k in record.geo_keys if k.tiff_tag_location == 0}
    return found


def _refuse_contradiction(crs: CRS, keys: dict[int, int], told: str) -> None:
    by_key = _UNIT_METRES.get(keys.get(_LINEAR_UNIT_KEY, 0))
    flat = crs.sub_crs_list[0] if crs.is_compound else crs
    if by_key is None or not flat.is_projected:
        return
    if not np.isclose(by_key, linear_unit_m(flat), rtol=1e-7, atol=0.0):
        raise InputRefused(
            f"the header says {flat.name}, in units of {linear_unit_m(flat):.9g} m, and "
            f"coordinates in units of {by_key:.9g} m",
            remedy="correct the header of the file",
            file=told,
        )


def _with_vertical(crs: CRS, code: int, told: str) -> CRS:
    try:
        vertical = CRS.from_epsg(code)
    except CRSError:
        return crs  # a code of no vertical CRS: the unit key, or the user, has to say
    if not vertical.is_vertical:
        return crs
    return CRS(f"{_coded(crs)}+{code}") if _coded(crs) else _compound(crs, vertical, told)


def _coded(crs: CRS) -> str:
    return ":".join(crs.to_authority() or ())


def _compound(crs: CRS, vertical: CRS, told: str) -> CRS:
    wkt = f'COMPOUNDCRS["{crs.name} + {vertical.name}",{crs.to_wkt()},{vertical.to_wkt()}]'
    try:
        return CRS.from_wkt(wkt)
    except CRSError as fault:
        raise InputRefused(
            f"the CRS is not understood ({fault})", remedy="write it by its EPSG code", file=told
        ) from None


def grid(
    files: Sequence[Declared],
    working_crs: CRS,
    metres_per_unit: float,
    around: Bounds | None = None,
) -> tuple[Raster, tuple[str, ...]]:
    """Triangulate the ground points of all files and read the levels at cell centres.

    Parameters
    ----------
    files : sequence of Declared
        One CRS.
    working_crs : pyproj.CRS
        Projected, metric.
    metres_per_unit : float
        Of the heights.
    around : tuple of float, optional
        West, south, east, north in the files' CRS: only these points are read.

    Returns
    -------
    raster : Raster
        float64 levels, m; cells farther than 10 m (or three cells, if more) from every ground
        point, or outside their hull, are NaN.
    notes : tuple of str
        Points, density, cell size, what is bridged.

    Raises
    ------
    InputRefused
        No ground points, too few or too many, levels that cannot be, a broken file.
    """
    told = ", ".join(file.told for file in files)
    points, withheld = _ground_points(files, around)
    points = _moved(points, files[0].crs, working_crs, metres_per_unit, told)
    _refuse_absurd(points[:, 2], told)
    points = _one_per_place(points)
    density = _density(points)
    cell_m = next((c for c in _CELLS_M if c >= density**-0.5), _CELLS_M[-1])
    raster, bridged_m2 = _triangulated(points, cell_m, working_crs, told)
    notes = [
        f"{len(points):,} ground points (class {_GROUND}), {density:.2f} per m2: triangulated, "
        f"cells of {cell_m:g} m"
    ]
    if withheld:
        notes.append(f"{withheld:,} ground points are flagged as withheld and were left out")
    if bridged_m2:
        notes.append(
            f"{bridged_m2:,.0f} m2 are bridged: more than {_NEAR_M:g} m from every ground point"
        )
    return raster, tuple(notes)


def _ground_points(files: Sequence[Declared], around: Bounds | None) -> tuple[Points, int]:
    kept: list[Points] = []
    count = withheld = 0
    for file in files:
        for chunk in _chunks(file):
            ground = np.asarray(chunk.classification) == _GROUND
            away = ground & (np.asarray(chunk.withheld) != 0)
            xyz = np.column_stack([chunk.x, chunk.y, chunk.z])[ground & ~away]
            if around is not None:
                west, south, east, north = around
                inside = (xyz[:, 0] >= west) & (xyz[:, 0] <= east)
                xyz = xyz[inside & (xyz[:, 1] >= south) & (xyz[:, 1] <= north)]
            withheld += int(np.count_nonzero(away))
            count += len(xyz)
            kept.append(xyz)
            if count > _MOST_POINTS:
                raise InputRefused(
                    f"more than {_MOST_POINTS:,} ground points",
                    remedy="cut the points around the lot and its catchment out of them",
                    file=file.told,
                )
    if count < 3:
        raise InputRefused(
            f"{count} ground points (class {_GROUND}) where the terrain is wanted",
            remedy="give points whose ground is classified, or a terrain raster",
            file=", ".join(file.told for file in files),
        )
    return np.concatenate(kept), withheld


def _chunks(file: Declared) -> Iterator[Any]:
    with _opened(file.path, file.told) as reader:
        promised, seen = reader.header.point_count, 0
        for chunk in reader.chunk_iterator(_CHUNK):
            seen += len(chunk)
            yield chunk
        if seen != promised:
            raise InputRefused(
                f"the header promises {promised:,} points, the file holds {seen:,}",
                remedy="get it again",
                file=file.told,
            )


def _moved(points: Points, crs: CRS, working_crs: CRS, metres_per_unit: float, told: str) -> Points:
    if crs.is_projected and metric_twin(crs).equals(working_crs):
        xy = points[:, :2] * linear_unit_m(crs)
    else:
        xy = shift_between(crs, working_crs, file=told)(points[:, :2])
    return np.column_stack([xy, points[:, 2] * metres_per_unit])


def _refuse_absurd(levels_m: NDArray[np.float64], told: str) -> None:
    low, high = levels_m.min(), levels_m.max()
    if low < -500.0 or high > 9_000.0:
        raise InputRefused(
            f"ground points at {low:,.1f} m to {high:,.1f} m cannot be ground",
            remedy="correct the classes, or vertical_unit",
            file=told,
        )


def _one_per_place(points: Points) -> Points:
    """Points within a millimetre become one, at their mean level: tiles overlap by a strip."""
    places = np.round(points[:, :2] * 1000.0)
    _, first, which, counts = np.unique(
        places, axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    levels = np.bincount(which.ravel(), weights=points[:, 2]) / counts
    return np.column_stack([points[first, :2], levels])


def _density(points: Points) -> float:
    """Points per m2 of the ground that they lie on: of 16-point squares that hold any."""
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    span = np.maximum(high - low, 1e-3)
    side = float(np.sqrt(16.0 * np.prod(span) / len(points)))
    squares = np.unique(np.floor((points[:, :2] - low) / side), axis=0)
    return len(points) / (len(squares) * side * side)


def _triangulated(points: Points, cell_m: float, crs: CRS, told: str) -> tuple[Raster, float]:
    low = np.floor(points[:, :2].min(axis=0) / cell_m)
    high = np.ceil(points[:, :2].max(axis=0) / cell_m)
    cols, rows = (int(size) for size in np.maximum(high - low, 1.0))
    if rows * cols > MOST_CELLS:
        raise InputRefused(
            f"the points span {rows * cols:,} cells, more than {MOST_CELLS:,}",
            remedy="give the tiles around one lot only",
            file=told,
        )
    origin = low * cell_m  # Qhull loses digits on full coordinates
    try:
        surface = LinearNDInterpolator(Delaunay(points[:, :2] - origin), points[:, 2])
    except QhullError:
        raise InputRefused(
            "the ground points lie on one line", remedy="give the points of an area", file=told
        ) from None
    tree = cKDTree(points[:, :2] - origin)
    levels = np.empty((rows, cols))
    x = (np.arange(cols) + 0.5) * cell_m
    bridged = 0
    for row in range(rows):
        centres = np.column_stack([x, np.full(cols, (rows - row - 0.5) * cell_m)])
        away, _ = tree.query(centres, distance_upper_bound=max(_FAR_M, _FAR_CELLS * cell_m))
        levels[row] = np.where(np.isfinite(away), surface(centres), np.nan)
        bridged += int(np.count_nonzero((away > _NEAR_M) & np.isfinite(levels[row])))
    transform = Affine(cell_m, 0.0, origin[0], 0.0, -cell_m, origin[1] + rows * cell_m)
    return Raster(levels, transform, crs), bridged * cell_m * cell_m
