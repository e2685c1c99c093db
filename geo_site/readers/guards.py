"""Before a stranger's file is opened: is it where it says, and is it what it says.

In: a path as written in the site file. Out: a path that is a plain local file whose first bytes
agree with its name, and its digest. The format libraries open far more than is wanted here
(virtual files, addresses on the net, text that points to other files), so what may be opened is
listed, by content. Reference: each format's published signature.
"""

from __future__ import annotations

import datetime
import hashlib
import os
import re
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from types import MappingProxyType

from pyproj.network import set_network_enabled  # type: ignore[attr-defined]

from geo_site.errors import InputRefused

__all__ = [
    "RASTER_OPTIONS",
    "RASTER_SUFFIXES",
    "VECTOR_SUFFIXES",
    "environment",
    "modified_on",
    "safe_path",
    "sha256_of",
    "sniff",
    "zipped_shapefile",
]

VECTOR_SUFFIXES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "gpkg": (".gpkg",),
        "shp": (".shp",),
        "zip": (".zip", ".shz"),
        "geojson": (".geojson", ".json"),
        "dxf": (".dxf",),
        "fgb": (".fgb",),
    }
)
"""Vector formats that are read, and the names their files may have."""

RASTER_SUFFIXES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "tiff": (".tif", ".tiff"),
        "asc": (".asc", ".txt"),
        "img": (".img",),
        "las": (".las", ".laz"),
    }
)
"""Terrain formats that are read, and the names their files may have."""

RASTER_OPTIONS: Mapping[str, str] = MappingProxyType(
    {"GDAL_PAM_ENABLED": "NO", "PROJ_NETWORK": "OFF"}
)
"""Options for ``rasterio.Env``: no side file changes what a raster says."""

_HEAD = 4096
_ZIP_MEMBERS = 200
_ZIP_BYTES = 2 * 1024**3  # unpacked: a county's parcels are below it, a zip bomb is not

_SIGNATURES: tuple[tuple[bytes, str], ...] = (
    (b"SQLite format 3\x00", "gpkg"),
    (b"\x00\x00\x27\x0a", "shp"),
    (b"PK\x03\x04", "zip"),
    (b"fgb\x03fgb", "fgb"),
    (b"II*\x00", "tiff"),
    (b"MM\x00*", "tiff"),
    (b"II+\x00", "tiff"),
    (b"MM\x00+", "tiff"),
    (b"EHFA_HEADER_TAG", "img"),
    (b"LASF", "las"),
)
_SPOKEN = {
    "gpkg": "a GeoPackage",
    "shp": "a shapefile",
    "zip": "a zip archive",
    "geojson": "GeoJSON",
    "dxf": "a DXF drawing",
    "fgb": "FlatGeobuf",
    "tiff": "a TIFF",
    "asc": "an ASCII grid",
    "img": "an IMG raster",
    "las": "a LAS point cloud",
}
_TEXT_STARTS: tuple[tuple[re.Pattern[bytes], str], ...] = (
    (re.compile(rb"\{"), "geojson"),
    (re.compile(rb"(?:999\r?\n[^\n]*\n\s*)*0\r?\n\s*SECTION\s"), "dxf"),
    (re.compile(rb"(?:ncols|nrows|xll|yll)", re.IGNORECASE), "asc"),
    (re.compile(rb".{0,12}Binary DXF"), "the content is a binary DXF, which is not read"),
    (
        re.compile(rb"version https://git-lfs"),
        "the content is a pointer to a file in large-file storage, not the file",
    ),
    (re.compile(rb"<(?:OGR)?VRT"), "the content is a VRT, text that points to other files"),
    (re.compile(rb"<"), "the content is XML or HTML, not data that is read"),
)
_DRIVER_PREFIX = re.compile(r"[A-Za-z][A-Za-z0-9_]+:")  # one letter is a drive


def environment() -> None:
    """Make the format libraries of this process keep to local, plain files.

    PROJ fetches no grids, and the drivers of virtual files are not registered where GDAL has
    not been loaded yet. Called when ``geo_site.readers`` is imported; what the process has set
    itself stays. The check of each file's content does not rest on it.
    """
    os.environ.setdefault("GDAL_SKIP", "VRT,OGR_VRT")
    os.environ["PROJ_NETWORK"] = "OFF"
    set_network_enabled(active=False)


def safe_path(written: str, folder: Path, *, name: str, table: str = "inputs.") -> Path:
    """Turn a path of the site file into one that may be opened.

    Parameters
    ----------
    written : str
        As the user wrote it.
    folder : pathlib.Path
        Where the site file is: relative paths start there.
    name : str
        Which input, for the message.
    table : str
        What stands before the name in the message.

    Returns
    -------
    pathlib.Path
        An existing, readable, non-empty plain file.

    Raises
    ------
    InputRefused
        Not a plain path (an address, a virtual path, a driver's prefix), missing, a folder,
        empty or unreadable.
    """
    fault, remedy = _path_fault(written)
    if not fault:
        path = Path(os.path.abspath(folder / written))  # noqa: PTH100 (links stay as they are)
        fault, remedy = _file_fault(path, folder)
    if fault:
        raise InputRefused(f"{table}{name}: {fault}", remedy=remedy, file=_printable(written))
    return path


def _path_fault(written: str) -> tuple[str, str]:
    plain = written.replace("\\", "/").lower()
    faults = {
        "the path is empty or holds a NUL": not written.strip() or "\x00" in written,
        "the path carries a layer name, which is given apart": "|layername=" in plain,
        "an address is not read": "://" in plain,
        "a virtual path is not read": plain.lstrip().startswith("/vsi"),
        "a path with a driver's prefix is not read": bool(_DRIVER_PREFIX.match(written.strip())),
        "text that describes a file is not read": "<" in written,
    }
    found = next((fault for fault, is_so in faults.items() if is_so), "")
    return found, "give the path of a file on this machine"


def _file_fault(path: Path, folder: Path) -> tuple[str, str]:
    try:
        if not path.exists():
            return "there is no such file", f"paths start at {folder.as_posix()}"
        if path.is_dir():
            return "this is a folder, not a file", "export the data to a GeoPackage or a TIFF"
        if not path.is_file():
            return "this is not a plain file", "give the path of a file on this machine"
        with path.open("rb") as stream:
            empty = not stream.read(1)
    except OSError as fault:
        return f"the file cannot be read ({fault.strerror})", "allow reading, or copy it"
    return ("the file is empty", "get it again") if empty else ("", "")


def sniff(path: Path, told: str | None = None) -> str:
    """Tell a file's format by its first bytes, which must agree with its name.

    Parameters
    ----------
    path : pathlib.Path
        From :func:`safe_path`.
    told : str, optional
        The path as the user wrote it, for the message.

    Returns
    -------
    str
        A key of :data:`VECTOR_SUFFIXES` or :data:`RASTER_SUFFIXES`.

    Raises
    ------
    InputRefused
        The content is none of them, or is not what the name says.
    """
    told = path.name if told is None else _printable(told)
    try:
        with path.open("rb") as stream:
            head = stream.read(_HEAD)
    except OSError as fault:
        raise InputRefused(
            f"the file cannot be read ({fault.strerror})", remedy="allow reading", file=told
        ) from None
    found = _format_of(head)
    suffixes = VECTOR_SUFFIXES.get(found) or RASTER_SUFFIXES.get(found)
    if suffixes is None:
        raise InputRefused(found, remedy=_known_formats(), file=told)
    if path.suffix.lower() not in suffixes:
        raise InputRefused(
            f"the content is {_SPOKEN[found]}, the name says {path.suffix or 'nothing'}",
            remedy=f"name it {' or '.join(suffixes)} if that is what it is, else get it again",
            file=told,
        )
    return found


def _format_of(head: bytes) -> str:
    for signature, found in _SIGNATURES:
        if head.startswith(signature):
            return found
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    for start, found in _TEXT_STARTS:
        if start.match(text):
            return found
    return "the content is of no format that is read"


def _known_formats() -> str:
    suffixes = [s for kind in (VECTOR_SUFFIXES, RASTER_SUFFIXES) for k in kind.values() for s in k]
    return f"give one of {' '.join(suffixes)}"


def _printable(written: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in written)


def zipped_shapefile(path: Path, told: str, layer: str | None = None) -> PurePosixPath:
    """Find the shapefile inside a zip archive.

    Parameters
    ----------
    path : pathlib.Path
        The archive.
    told : str
        Its path as the user wrote it.
    layer : str, optional
        Which one, where the archive holds several.

    Returns
    -------
    pathlib.PurePosixPath
        The member, inside the archive.

    Raises
    ------
    InputRefused
        Not a sound archive, too large unpacked, members that climb out of it, no shapefile,
        or several and none chosen.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
    except (zipfile.BadZipFile, OSError) as fault:
        raise InputRefused(
            f"the archive is broken ({fault})", remedy="get it again", file=told
        ) from (None)
    if len(members) > _ZIP_MEMBERS or sum(member.file_size for member in members) > _ZIP_BYTES:
        raise InputRefused(
            f"the archive holds more than {_ZIP_MEMBERS} files or {_ZIP_BYTES >> 30} GiB unpacked",
            remedy="give the shapefile alone",
            file=told,
        )
    names = [PurePosixPath(member.filename) for member in members]
    if any(name.is_absolute() or ".." in name.parts for name in names):
        raise InputRefused(
            "a member of the archive lies outside it", remedy="pack it again", file=told
        )
    chosen = _choose_member([name for name in names if name.suffix.lower() == ".shp"], told, layer)
    _check_member(path, chosen, told)
    return chosen


def _check_member(path: Path, member: PurePosixPath, told: str) -> None:
    try:
        with zipfile.ZipFile(path) as archive, archive.open(str(member)) as stream:
            head = stream.read(4)
    except (zipfile.BadZipFile, zlib.error, KeyError, RuntimeError, OSError) as fault:
        raise InputRefused(
            f"{member} cannot be unpacked ({fault})", remedy="pack it again", file=told
        ) from None
    if _format_of(head) != "shp":
        raise InputRefused(
            f"the content of {member} is no shapefile", remedy="get it again", file=told
        )


def _choose_member(found: list[PurePosixPath], told: str, layer: str | None) -> PurePosixPath:
    chosen = [name for name in found if layer is None or name.stem == layer]
    if len(chosen) == 1:
        return chosen[0]
    names = ", ".join(sorted(name.stem for name in found))
    if not found:
        raise InputRefused("the archive holds no shapefile", remedy="pack one", file=told)
    fault = f"the archive holds no single shapefile {layer}" if layer else "several shapefiles"
    raise InputRefused(fault, remedy=f"say layer = one of {names}", file=told)


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes, as 64 hexadecimal digits."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while chunk := stream.read(1 << 20):
            digest.update(chunk)
    return digest.hexdigest()


def modified_on(path: Path) -> str:
    """Day on which a file was last written, ISO, in UTC."""
    seconds = path.stat().st_mtime
    return datetime.datetime.fromtimestamp(seconds, datetime.UTC).date().isoformat()
