"""A plan as one GeoPackage 1.3 (OGC 12-128r18): written aside, checked, then moved in whole."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pyogrio
import pyogrio.errors
from pyogrio import raw
from shapely import to_wkb

from geo_site.errors import OutputRefused
from geo_site.geopackage.records import write_records
from geo_site.layers import LAYERS, MADE_BY, Layer, output_crs, to_table

if TYPE_CHECKING:
    from pyproj import CRS

    from geo_site.plan import Plan

__all__ = ["write_geopackage"]

_GEOMETRY = "geom"
_FOREIGN_KEYS = "PRAGMA foreign_key_check"
_NO_DAY = "2000-01-01"  # stands where a date must, when the plan has none of its own
_WRITER_FAULTS = (
    sqlite3.Error,
    pyogrio.errors.DataSourceError,
    pyogrio.errors.DataLayerError,
    pyogrio.errors.FeatureError,
)
_OPEN_ELSEWHERE = ("-wal", "-shm", "-journal")


def write_geopackage(plan: Plan, path: str | Path) -> Path:
    """Write every layer of a plan, with titles, value lists, styles and metadata.

    The file is written beside the target and takes its name at the very end; whatever fails
    before leaves the target as it was. The same plan gives the same bytes.

    Parameters
    ----------
    plan : Plan
        What to write.
    path : str or Path
        Target; an earlier plan there is replaced.

    Returns
    -------
    Path
        The target.

    Raises
    ------
    OutputRefused
        The target is there and is no plan of ours, is damaged or open in another program; or
        it cannot be written.
    """
    target = Path(path)
    _refuse_strange(target)
    try:
        with _aside(target) as made:
            stamp = f"{plan.site.ticket.as_of or _NO_DAY}T00:00:00.000Z"
            with _writer_settings(stamp):
                told = _told(output_crs(plan.site))
                counts = {layer.name: _write_layer(layer, plan, made, told) for layer in LAYERS}
            _add_records(made, plan, stamp)
            _check(made, counts)
            _take_name(made, target)
    except OSError as fault:
        raise OutputRefused(f"{target}: cannot be written: {fault.strerror or fault}") from fault
    except _WRITER_FAULTS as fault:
        raise OutputRefused(f"{target}: cannot be written: {fault}") from fault
    return target


def _refuse_strange(target: Path) -> None:
    """Refuse a target that is not an earlier plan, or that another program has open."""
    for ending in _OPEN_ELSEWHERE:
        if Path(f"{target}{ending}").exists():
            raise OutputRefused(f"{target}: is open in another program; close it there first")
    if not target.exists() or (target.is_file() and target.stat().st_size == 0):
        return
    if not target.is_file():
        raise OutputRefused(f"{target}: is not a file; name a .gpkg file")
    try:
        address = f"{target.resolve().as_uri()}?mode=rw"
        with closing(sqlite3.connect(address, uri=True, timeout=0.0)) as database:
            database.execute("BEGIN IMMEDIATE")
            ours = database.execute(
                "SELECT count(*) FROM gpkg_metadata WHERE instr(metadata, ?)", (MADE_BY,)
            ).fetchone()[0]
            database.rollback()
    except sqlite3.DatabaseError as fault:
        raise OutputRefused(
            f"{target}: is there already and cannot be read as a plan ({fault}); name another file"
        ) from None
    if not ours:
        raise OutputRefused(f"{target}: is there already and is no plan; name another file")


@contextmanager
def _aside(target: Path) -> Iterator[Path]:
    """Give a path in a new folder beside the target; the folder is gone afterwards."""
    folder = Path(tempfile.mkdtemp(prefix=f".{target.stem}-", dir=target.parent))
    try:
        yield folder / "plan.gpkg"
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _writer_settings(stamp: str) -> Iterator[None]:
    """Hold the writer's clock, so that the same plan gives the same bytes, and let it not wait.

    Waiting for the disk after each table is of no use on a file that is flushed as a whole; nor
    are locks, and a journal beside it, on one that nobody else knows of.
    """
    wanted = {
        "OGR_CURRENT_DATE": stamp,
        "OGR_SQLITE_SYNCHRONOUS": "OFF",
        "OGR_SQLITE_PRAGMA": "locking_mode=EXCLUSIVE,journal_mode=MEMORY",
    }
    before = {name: pyogrio.get_gdal_config_option(name) for name in wanted}
    pyogrio.set_gdal_config_options(wanted)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)


def _told(crs: CRS) -> str:
    """Give a CRS as the writer knows it: by its code where it has one."""
    code = crs.to_epsg()
    return f"EPSG:{code}" if code else crs.to_wkt("WKT1_GDAL")


def _write_layer(layer: Layer, plan: Plan, path: Path, crs: str) -> int:
    """Write one layer; give the number of its rows."""
    table = to_table(layer, plan)
    raw.write(
        path,
        geometry=to_wkb(table.geometries),
        field_data=list(table.columns.values()),
        fields=list(table.columns),
        layer=layer.name,
        driver="GPKG",
        geometry_type=layer.geometry.replace("Z", " Z"),
        promote_to_multi=False,
        crs=crs,
        dataset_options={"VERSION": "1.3"},
        layer_options={"GEOMETRY_NAME": _GEOMETRY},
    )
    return len(table)


def _add_records(path: Path, plan: Plan, stamp: str) -> None:
    """Add what the layers say about themselves, in one transaction."""
    with closing(sqlite3.connect(path, isolation_level=None)) as database:
        database.execute("PRAGMA journal_mode = DELETE")
        database.execute("BEGIN IMMEDIATE")
        write_records(database, plan, _GEOMETRY, stamp)
        database.execute("COMMIT")


def _check(path: Path, counts: Mapping[str, int]) -> None:
    """Read the file back and refuse it when it is not whole or a row is missing."""
    with closing(sqlite3.connect(path)) as database:
        faults = [told for (told,) in database.execute("PRAGMA integrity_check") if told != "ok"]
        faults += [f"foreign key in {row[0]}" for row in database.execute(_FOREIGN_KEYS)]
        for name, count in counts.items():
            found = database.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608
            if found != count:
                faults.append(f"{name} holds {found} rows instead of {count}")
    if faults:
        raise OutputRefused(f"{path.name}: was not written whole: {faults[0]}")


def _take_name(made: Path, target: Path) -> None:
    with made.open("r+b") as written:
        os.fsync(written.fileno())
    made.replace(target)
    if os.name == "posix":  # elsewhere a folder cannot be flushed
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)  # the new name too, not only the bytes
        finally:
            os.close(folder)
