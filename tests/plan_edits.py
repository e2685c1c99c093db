"""Editing a GeoPackage as a GIS does, by SQL and well-known binary alone.

Nothing of what writes or reads plans is used here, so that both can be held to it. Geometry blobs
are those of OGC 12-128r18, clause 2.1.3.
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from shapely.geometry.base import BaseGeometry

_ENVELOPES = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}
_PLAIN_COLUMNS = ("fid",)


def decoded(blob: bytes) -> BaseGeometry:
    """Give the geometry of a blob."""
    return shapely.from_wkb(blob[8 + _ENVELOPES[(blob[3] >> 1) & 7] :])


def encoded(geometry: BaseGeometry, srs: int) -> bytes:
    """Give a blob without an envelope."""
    empty = 0b10000 if geometry.is_empty else 0
    head = b"GP" + bytes([0, 1 | empty]) + struct.pack("<i", srs)
    return head + shapely.to_wkb(geometry, byte_order=1, flavor="iso", output_dimension=3)


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a file for editing; indexes are dropped, as they need functions of a GIS."""
    database = sqlite3.connect(path)
    triggers = database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for (name,) in triggers:
        if name.startswith("rtree_"):
            database.execute(f'DROP TRIGGER "{name}"')
    with database:
        yield database
    database.close()


def geometry_of(path: Path, layer: str) -> list[BaseGeometry]:
    """Give all geometries of a layer in the order of their numbers."""
    with opened(path) as database:
        column = column_of(database, layer)
        rows = database.execute(f'SELECT "{column}" FROM "{layer}" ORDER BY fid').fetchall()
    return [decoded(blob) for (blob,) in rows]


def column_of(database: sqlite3.Connection, layer: str) -> str:
    """Give the name of a layer's geometry column."""
    query = "SELECT column_name FROM gpkg_geometry_columns WHERE table_name = ?"
    return str(database.execute(query, (layer,)).fetchone()[0])


def srs_of(database: sqlite3.Connection, layer: str) -> int:
    """Give the number of a layer's CRS."""
    query = "SELECT srs_id FROM gpkg_geometry_columns WHERE table_name = ?"
    return int(database.execute(query, (layer,)).fetchone()[0])


def change(path: Path, layer: str, to: Callable[[BaseGeometry], BaseGeometry | None]) -> None:
    """Change every geometry of a layer that has one; None clears it."""
    with opened(path) as database:
        column, srs = column_of(database, layer), srs_of(database, layer)
        rows = database.execute(f'SELECT fid, "{column}" FROM "{layer}"').fetchall()
        for fid, blob in (row for row in rows if row[1] is not None):
            shape = to(decoded(blob))
            new = None if shape is None else encoded(shape, srs)
            database.execute(f'UPDATE "{layer}" SET "{column}" = ? WHERE fid = ?', (new, fid))


def run_sql(path: Path, *statements: str) -> None:
    """Run statements."""
    with opened(path) as database:
        for statement in statements:
            database.execute(statement)


def drop_layer(path: Path, layer: str) -> None:
    """Take a layer out, with all that the file says of it."""
    with opened(path) as database:
        database.execute(f'DROP TABLE "{layer}"')
        for table in ("gpkg_geometry_columns", "gpkg_contents"):
            database.execute(f"DELETE FROM {table} WHERE table_name = ?", (layer,))


def lose_metadata(path: Path) -> None:
    """Take out what the plan says of itself."""
    run_sql(path, "DELETE FROM gpkg_metadata_reference", "DELETE FROM gpkg_metadata")


def add_feature(path: Path, layer: str, geometry: BaseGeometry) -> None:
    """Draw a new feature with empty attributes."""
    with opened(path) as database:
        column, srs = column_of(database, layer), srs_of(database, layer)
        database.execute(
            f'INSERT INTO "{layer}" ("{column}") VALUES (?)', (encoded(geometry, srs),)
        )


def copy_features(path: Path, layer: str) -> None:
    """Copy every feature of a layer onto itself."""
    with opened(path) as database:
        names = _columns(database, layer)
        listed = ", ".join(f'"{name}"' for name in names)
        database.execute(f'INSERT INTO "{layer}" ({listed}) SELECT {listed} FROM "{layer}"')


def clear_attributes(path: Path, layer: str) -> None:
    """Clear every attribute of a layer."""
    with opened(path) as database:
        shape = column_of(database, layer)
        for name in _columns(database, layer):
            if name != shape:
                database.execute(f'UPDATE "{layer}" SET "{name}" = NULL')


def rename_geometry(path: Path, layer: str, name: str) -> None:
    """Give a layer's geometry column another name."""
    with opened(path) as database:
        old = column_of(database, layer)
        for (index,) in database.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name LIKE ?",
            (f"rtree_{layer}_%",),
        ).fetchall():
            if index == f"rtree_{layer}_{old}":
                database.execute(f'DROP TABLE "{index}"')
        database.execute(
            "DELETE FROM gpkg_extensions WHERE table_name = ? AND column_name = ?", (layer, old)
        )
        database.execute(f'ALTER TABLE "{layer}" RENAME COLUMN "{old}" TO "{name}"')
        database.execute(
            "UPDATE gpkg_geometry_columns SET column_name = ? WHERE table_name = ?", (name, layer)
        )


def set_srs(path: Path, layer: str, srs: int, crs: CRS | None = None) -> None:
    """Say that a layer is in another CRS, coordinates untouched."""
    with opened(path) as database:
        if crs is not None:
            database.execute(
                "INSERT OR IGNORE INTO gpkg_spatial_ref_sys (srs_name, srs_id, organization, "
                "organization_coordsys_id, definition) VALUES (?, ?, 'EPSG', ?, ?)",
                (crs.name, srs, srs, crs.to_wkt("WKT1_GDAL")),
            )
        for table in ("gpkg_geometry_columns", "gpkg_contents"):
            database.execute(f"UPDATE {table} SET srs_id = ? WHERE table_name = ?", (srs, layer))


def reproject(path: Path, layer: str, source: CRS, code: int) -> None:
    """Bring a layer into another CRS, Z untouched."""
    target = CRS.from_epsg(code)
    to = Transformer.from_crs(source, target, always_xy=True)

    def moved(geometry: BaseGeometry) -> BaseGeometry:
        def points(xyz: NDArray[np.float64]) -> NDArray[np.float64]:
            return np.column_stack([*to.transform(xyz[:, 0], xyz[:, 1]), xyz[:, 2:]])

        return shapely.transform(geometry, points, include_z=geometry.has_z)

    change(path, layer, moved)
    set_srs(path, layer, code, target)


def _columns(database: sqlite3.Connection, layer: str) -> list[str]:
    rows = database.execute(f'PRAGMA table_info("{layer}")').fetchall()
    return [str(row[1]) for row in rows if row[1] not in _PLAIN_COLUMNS]
