"""Lidar ground points (LAS, LAZ): what a file declares, and the points of its ground.

In: point files whose points are classified. Out: what the header says, and x, y, z of class 2
(ground), withheld points left out. References: ASPRS LAS 1.4 R15 for classes and flags, OGC
GeoTIFF 1.1 (19-008r4) for the keys in the header.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError

from geo_site.crs import horizontal, linear_unit_m
from geo_site.errors import InputRefused
from geo_site.readers.declared import METRES_PER_UNIT, Bounds, Declared, declare

__all__ = ["GROUND", "Points", "ground_points", "look"]

GROUND = 2
"""Class of ground points (ASPRS LAS)."""

_MOST_POINTS = 4_000_000  # triangulated in one go: minutes; a square kilometre and more
_CHUNK = 2_000_000
_UNIT_CODES = {9001: "m", 9002: "ft", 9003: "us-ft"}
_LINEAR_UNIT_KEY, _VERTICAL_CRS_KEY, _VERTICAL_UNIT_KEY = 3076, 4096, 4099
_BROKEN = (RuntimeError, OSError, EOFError, ValueError, OverflowError, MemoryError)

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
    unit = _UNIT_CODES.get(keys.get(_VERTICAL_UNIT_KEY, 0))
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
    except (LaspyException, *_BROKEN) as fault:
        raise InputRefused(
            f"the point file is broken or cut short ({fault})", remedy="get it again", file=told
        ) from None


def _geo_keys(header: Any) -> dict[int, int]:
    found: dict[int, int] = {}
    for record in header.vlrs.get("GeoKeyDirectoryVlr"):
        found |= {k.id: k.value_offset for k in record.geo_keys if k.tiff_tag_location == 0}
    return found


def _refuse_contradiction(crs: CRS, keys: dict[int, int], told: str) -> None:
    unit = _UNIT_CODES.get(keys.get(_LINEAR_UNIT_KEY, 0))
    flat = horizontal(crs)
    if unit is None or not flat.is_projected:
        return
    by_key = METRES_PER_UNIT[unit]
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


def ground_points(files: Sequence[Declared], around: Bounds | None = None) -> tuple[Points, int]:
    """Read the ground points of all files.

    Parameters
    ----------
    files : sequence of Declared
        One CRS.
    around : tuple of float, optional
        West, south, east, north in that CRS: only these points are kept.

    Returns
    -------
    points : ndarray, shape (n, 3)
        x, y, z in the files' own units, in the order of the files.
    withheld : int
        Ground points that are flagged as withheld and were left out.

    Raises
    ------
    InputRefused
        No ground points, too many, or a broken file.
    """
    kept: list[Points] = []
    count = withheld = 0
    for file in files:
        for chunk in _chunks(file):
            ground = np.asarray(chunk.classification) == GROUND
            away = ground & (np.asarray(chunk.withheld) != 0)
            xyz = np.column_stack([chunk.x, chunk.y, chunk.z])[ground & ~away]
            xyz = xyz if around is None else xyz[_inside(xyz, around)]
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
            f"{count} ground points (class {GROUND}) where the terrain is wanted",
            remedy="give points whose ground is classified, or a terrain raster",
            file=", ".join(file.told for file in files),
        )
    return np.concatenate(kept), withheld


def _inside(xyz: Points, bounds: Bounds) -> NDArray[np.bool_]:
    west, south, east, north = bounds
    x, y = xyz[:, 0], xyz[:, 1]
    return (x >= west) & (x <= east) & (y >= south) & (y <= north)


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
