"""Curved geometry in a GeoPackage, found before it is read as chords.

The format library draws an arc as chords of 4 degrees: 0.06 % of the radius off the line
(0.58 m measured on a radius of 1 km). That is too much for a clearance, and nothing tells of
it; so the type code of each geometry is looked at first. Reference: OGC GeoPackage 1.3, 2.1.3
(binary header) and ISO 13249-3 (well-known binary codes 8 to 12).
"""

from __future__ import annotations

import sqlite3
import struct
from contextlib import closing
from pathlib import Path

__all__ = ["curved_features", "wkb_type"]

_CURVED = range(8, 13)  # circular string, compound curve, curve polygon, multi curve, multi surface
_ENVELOPE_BYTES = (0, 32, 48, 48, 64)
_HEADER_BYTES = 8
_LONGEST = _HEADER_BYTES + max(_ENVELOPE_BYTES) + 5


def curved_features(path: Path, layer: str) -> list[str]:
    """Numbers of the features of a layer that are curves.

    Parameters
    ----------
    path : pathlib.Path
        A GeoPackage; opened for reading only, and closed again.
    layer : str
        A layer of it.

    Returns
    -------
    list of str
        Row numbers; empty also where the tables cannot be read, which the reading of the
        features then tells.
    """
    address = f"{path.absolute().as_uri()}?mode=ro"
    try:
        with closing(sqlite3.connect(address, uri=True)) as file:
            named = "SELECT column_name FROM gpkg_geometry_columns WHERE table_name = ?"
            (column,) = file.execute(named, (layer,)).fetchone() or ("",)
            rows = file.execute(
                f"SELECT rowid, substr({_quoted(column)}, 1, {_LONGEST}) FROM {_quoted(layer)}"  # noqa: S608
            )
            return [str(row) for row, blob in rows if wkb_type(blob) in _CURVED]
    except sqlite3.Error:
        return []


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def wkb_type(blob: object) -> int:
    """Type code of a GeoPackage geometry without its Z and M; 0 where there is none.

    Examples
    --------
    >>> header = b"GP" + bytes([0, 1]) + struct.pack("<i", 32617)
    >>> wkb_type(header + struct.pack("<BI", 1, 1008))
    8
    """
    if not isinstance(blob, bytes) or len(blob) < _HEADER_BYTES or blob[:2] != b"GP":
        return 0
    envelope = (blob[3] >> 1) & 0b111
    if envelope >= len(_ENVELOPE_BYTES):
        return 0
    wkb = blob[_HEADER_BYTES + _ENVELOPE_BYTES[envelope] :][:5]
    if len(wkb) < 5:
        return 0
    (code,) = struct.unpack("<I" if wkb[0] else ">I", wkb[1:])
    return int(code & 0x0FFFFFFF) % 1000
