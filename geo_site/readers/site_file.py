"""From one site file to a checked site in one metric CRS.

In: the path of a TOML file. Out: a :class:`~geo_site.site.Site`, or a refusal in one line.
Method: the parcel says where the site is, the terrain's grid says what is worked in, and all
else is brought there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
from pyproj import CRS
from shapely import box

from geo_site.errors import InputRefused
from geo_site.plan import Settings
from geo_site.raster import Raster, as_multipolygon, burn
from geo_site.readers import terrain_files
from geo_site.readers.document import Document, read_document
from geo_site.readers.features import read_layer, record_of
from geo_site.readers.fixed_works import read_fixed
from geo_site.readers.guards import safe_path
from geo_site.readers.inputs import TerrainInput
from geo_site.readers.line_faults import check_exposed
from geo_site.readers.parcels import ParcelFound, read_parcel
from geo_site.readers.surroundings import Surroundings, bounds_in, working_crs
from geo_site.readers.user_lists import read_user_lists
from geo_site.readers.vectors import Lister, layers_in, move, way_between
from geo_site.site import INPUT_LAYERS, InputRecord, Site

__all__ = ["read_settings", "read_site"]

Progress = Callable[[str], None]


def read_site(path: str | Path, progress: Progress | None = None) -> Site:
    """Read a site file and all that it names.

    Parameters
    ----------
    path : str or pathlib.Path
        The site file, TOML.
    progress : callable, optional
        Told in a few words what is being read.

    Returns
    -------
    Site
        Everything read, in one projected metric CRS. No file is written or changed.

    Raises
    ------
    InputRefused
        The first thing that cannot be used: file, layer, ids, what is wrong, what would be
        right.
    """
    say = progress or _silent
    document = read_document(Path(path))
    tables = _checked_tables(document.tables, document.file)
    lists = read_user_lists(document)
    say("reading the parcel")
    lister = cache(layers_in)  # most inputs are layers of the same few files
    found = read_parcel(document.parcel, document.folder, lister)
    say("reading the terrain")
    probe = _probe(document.terrain, document.folder)
    _check_overlap(found, probe, document)
    lot = _lot(found, document, working_crs(probe.crs, found.file.crs, found.geometry.bounds))
    terrain, terrain_record = _terrain(document, lot)
    layers, records = _layers(document, lot.around, say, lister)
    if document.vectors.get("exposed"):
        path = document.vectors["exposed"][0].path
        check_exposed(layers["exposed"], layers["utilities"], path, document.ticket.as_of)
    records = _note_lines_off_terrain(layers["utilities"], terrain, lot.around, records)
    site = Site(
        name=document.name,
        report_units=document.report_units,
        revision=document.revision,
        crs=lot.around.crs,
        output_crs=found.file.crs if found.file.crs.is_projected else lot.around.crs,
        parcel=lot.around.parcel,
        parcel_id=found.parcel_id,
        parcel_accuracy_m=lot.accuracy_m,
        terrain=terrain,
        rmse_z_m=_or_nan(document.terrain.rmse_z),
        vertical_datum=probe.vertical_datum,
        ticket=document.ticket,
        private_locate=document.private_locate,
        tables=tables,
        records=(lot.record, terrain_record, *records, *lists.records),
        pumps=lists.pumps,
        prices=lists.prices,
        rainfall=lists.rainfall,
        **layers,
    )
    fixed, fixed_records = read_fixed(document.fixed, document.folder, site)
    return replace(site, fixed=fixed, records=(*site.records, *fixed_records))


def read_settings(path: str | Path) -> Settings:
    """Read the settings of a site file, and none of its inputs.

    Parameters
    ----------
    path : str or pathlib.Path
        The site file, TOML.

    Returns
    -------
    Settings
        Defaults where the file says nothing.

    Raises
    ------
    InputRefused
        The file or one of its settings cannot be used.
    """
    document = read_document(Path(path))
    return Settings.from_tables(document.tables, file=document.file)


def _silent(words: str) -> None:
    del words


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value


def _checked_tables(tables: Mapping[str, Any], file: str) -> Mapping[str, Any]:
    Settings.from_tables(tables, file=file)
    return tables


@dataclass(frozen=True, kw_only=True)
class _Lot:
    around: Surroundings
    accuracy_m: float
    record: InputRecord


def _lot(found: ParcelFound, document: Document, crs: CRS) -> _Lot:
    file, table = found.file, document.parcel
    way = way_between(file.crs, crs, table)
    parcel = as_multipolygon(move([found.geometry], way, file)[0])
    notes = list(found.notes)
    if way.accuracy_m > 0.0:
        notes.append(f"the datum shift is known to {way.accuracy_m:g} m")
    return _Lot(
        around=Surroundings(crs=crs, parcel=parcel),
        accuracy_m=_or_nan(table.accuracy) + way.accuracy_m,
        record=record_of("parcel", file, found.count, parcel.bounds, notes),
    )


def _probe(table: TerrainInput, folder: Path) -> terrain_files.TerrainProbe:
    paths = [safe_path(told, folder, name="terrain") for told in table.path]
    return terrain_files.probe(paths, table.path)


def _check_overlap(
    found: ParcelFound, probe: terrain_files.TerrainProbe, document: Document
) -> None:
    lot = bounds_in(found.file.crs, found.geometry.bounds, probe.crs)
    if lot is not None and box(*lot).intersects(box(*probe.bounds)):
        return
    shown = "outside its CRS" if lot is None else _rectangle(lot)
    raise InputRefused(
        f"parcel and terrain do not overlap: in {probe.crs.name} the parcel is {shown}, the "
        f"terrain {_rectangle(probe.bounds)}",
        remedy="check the CRS of both files, or give the terrain around the parcel",
        file=f"{document.parcel.path} and {', '.join(document.terrain.path)}",
    )


def _rectangle(bounds: tuple[float, float, float, float]) -> str:
    west, south, east, north = (
        f"{value:.6g}" if abs(value) < 400 else f"{value:.1f}" for value in bounds
    )
    return f"{west} to {east} east, {south} to {north} north"


def _terrain(document: Document, lot: _Lot) -> tuple[Raster, InputRecord]:
    table, parcel = document.terrain, lot.around.parcel
    raster, record = terrain_files.read(
        [safe_path(told, document.folder, name="terrain") for told in table.path],
        table.path,
        working_crs=lot.around.crs,
        vertical_unit=table.vertical_unit,
        rmse_z_m=_or_nan(table.rmse_z),
    )
    on_lot = burn(parcel, raster, touched=True)
    if not np.isfinite(raster.values[on_lot]).any():
        raise InputRefused(
            "the terrain has no level anywhere on the parcel",
            remedy="give terrain that covers the parcel",
            file=", ".join(table.path),
        )
    bare = float(parcel.difference(raster.outline).area)
    if bare > 0.0:
        note = f"{bare:.1f} m2 of the parcel lie beyond the terrain"
        record = replace(record, notes=(*record.notes, note))
    return raster, record


def _layers(
    document: Document, around: Surroundings, say: Progress, lister: Lister
) -> tuple[dict[str, Any], list[InputRecord]]:
    layers: dict[str, Any] = {}
    records: list[InputRecord] = []
    for name in INPUT_LAYERS:
        tables = document.vectors.get(name, ())
        if tables:
            say(f"reading {name.replace('_', ' ')}")
        layers[name], found = read_layer(name, tables, document.folder, around, lister)
        records += found
    return layers, records


def _note_lines_off_terrain(
    lines: gpd.GeoDataFrame, terrain: Raster, around: Surroundings, records: list[InputRecord]
) -> list[InputRecord]:
    known = terrain.outline.union(around.parcel)
    off = lines["id"][~lines.intersects(known)]
    if off.empty:
        return records
    note = f"{len(off)} lines lie wholly outside terrain and parcel: {', '.join(off[:8])}"
    first = next(i for i, record in enumerate(records) if record.name == "utilities")
    noted = replace(records[first], notes=(*records[first].notes, note))
    return [*records[:first], noted, *records[first + 1 :]]
