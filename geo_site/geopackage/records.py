"""What a GeoPackage says about its layers besides the features: titles, value lists, styles.

Table definitions are those of OGC 12-128r18 (GeoPackage 1.3.1), annexes F.8 (metadata) and F.9
(schema); ``layer_styles`` is the table that clients look for styles in.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from geo_site.cautions import CAUTIONS
from geo_site.geopackage.qml import as_qml
from geo_site.geopackage.sld import as_sld
from geo_site.layers import LAYERS, LAYERS_VERSION, MADE_BY, Layer, LayerField, output_crs
from geo_site.plan import figures_of

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["metadata_of", "write_records"]

_SCHEMA = "http://www.geopackage.org/spec121/#extension_schema"
_METADATA = "http://www.geopackage.org/spec121/#extension_metadata"
_JSON = "https://www.rfc-editor.org/rfc/rfc8259"
_TABLES = """
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT,
  mime_type TEXT, constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC,
  min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));
CREATE TABLE gpkg_metadata (
  id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL, md_scope TEXT NOT NULL DEFAULT 'dataset',
  md_standard_uri TEXT NOT NULL, mime_type TEXT NOT NULL DEFAULT 'text/xml',
  metadata TEXT NOT NULL DEFAULT '');
CREATE TABLE gpkg_metadata_reference (
  reference_scope TEXT NOT NULL, table_name TEXT, column_name TEXT, row_id_value INTEGER,
  timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  md_file_id INTEGER NOT NULL, md_parent_id INTEGER,
  CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
  CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id));
CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256),
  f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
  styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT,
  owner TEXT(30), ui TEXT(30), update_time DATETIME);
"""


def write_records(database: sqlite3.Connection, plan: Plan, geometry: str, stamp: str) -> None:
    """Write titles, value lists, styles and metadata of all layers.

    Parameters
    ----------
    database : sqlite3.Connection
        Of a GeoPackage that has all layers; its transaction is the caller's.
    plan : Plan
        What was written.
    geometry : str
        Name of the geometry column.
    stamp : str
        Date and time that is written wherever one must be.
    """
    for statement in filter(str.strip, _TABLES.split(";\n")):
        database.execute(statement)
    database.execute(
        "CREATE TABLE IF NOT EXISTS gpkg_extensions (table_name TEXT, column_name TEXT, "
        "extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL, "
        "CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name))"
    )
    for row in _extensions():
        database.execute("INSERT INTO gpkg_extensions VALUES (?, NULL, ?, ?, 'read-write')", row)
    for layer in LAYERS:
        # Not by the writer of features: for each name it reads all tables that are there already.
        database.execute(
            "UPDATE gpkg_contents SET identifier = ?, description = ? WHERE table_name = ?",
            (layer.title, layer.meaning, layer.name),
        )
        for field in layer.fields:
            _write_field(database, layer, field)
    _write_styles(database, geometry, stamp)
    _write_metadata(database, plan, stamp)


def _extensions() -> Iterator[tuple[str, str, str]]:
    for table in ("gpkg_data_columns", "gpkg_data_column_constraints"):
        yield table, "gpkg_schema", _SCHEMA
    for table in ("gpkg_metadata", "gpkg_metadata_reference"):
        yield table, "gpkg_metadata", _METADATA


def _write_field(database: sqlite3.Connection, layer: Layer, field: LayerField) -> None:
    words = field.name.replace("_", " ")
    title = words if field.unit == "-" else f"{words.rsplit(' ', 1)[0]} [{field.unit}]"
    described = field.meaning if field.unit == "-" else f"{field.meaning} [{field.unit}]"
    listed = f"{layer.name}_{field.name}" if field.choices else None
    database.execute(
        "INSERT INTO gpkg_data_columns VALUES (?, ?, ?, ?, ?, NULL, ?)",
        (layer.name, field.name, field.name, title, described, listed),
    )
    for word in field.choices:
        database.execute(
            "INSERT INTO gpkg_data_column_constraints VALUES "
            "(?, 'enum', ?, NULL, NULL, NULL, NULL, ?)",
            (listed, word, word.replace("_", " ")),
        )


def _write_styles(database: sqlite3.Connection, geometry: str, stamp: str) -> None:
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change, "
        "srs_id) VALUES ('layer_styles', 'attributes', 'layer_styles', 'styles', ?, 0)",
        (stamp,),
    )
    for layer in LAYERS:
        database.execute(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, "
            "f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner, "
            "ui, update_time) VALUES ('', '', ?, ?, ?, ?, ?, 1, ?, '', NULL, ?)",
            (layer.name, geometry, layer.name, as_qml(layer), as_sld(layer), layer.meaning, stamp),
        )


def _write_metadata(database: sqlite3.Connection, plan: Plan, stamp: str) -> None:
    told = json.dumps(metadata_of(plan), indent=1, ensure_ascii=False, allow_nan=False)
    database.execute(
        "INSERT INTO gpkg_metadata VALUES (1, 'dataset', ?, 'application/json', ?)", (_JSON, told)
    )
    database.execute(
        "INSERT INTO gpkg_metadata_reference VALUES ('geopackage', NULL, NULL, NULL, ?, 1, NULL)",
        (stamp,),
    )


def metadata_of(plan: Plan) -> dict[str, Any]:
    """Tell what a reader of the layers must know and the layers cannot say.

    Parameters
    ----------
    plan : Plan
        What was written.

    Returns
    -------
    dict
        Plain data: status, units, vertical datum, CRS, sources, cautions.
    """
    site = plan.site
    return {
        "made_by": MADE_BY,
        "layers_version": LAYERS_VERSION,
        "name": site.name,
        "status": plan.status,
        "figures": dict(figures_of(plan)),
        "figures_of_alternatives": [dict(figures_of(other)) for other in plan.alternatives],
        "units": "all fields SI; Z metres, also where XY is in feet",
        "vertical_unit": "m",
        "vertical_datum": site.vertical_datum or "unknown: that of the terrain data",
        "written_crs": output_crs(site).name,
        "working_crs": site.crs.name,
        "sources": [
            {"input": record.name, "path": record.path, "sha256": record.sha256, "crs": record.crs}
            for record in site.records
        ],
        "warnings": list(plan.warnings),
        "cautions": [f"{subject}: {sentence}" for subject, sentence in CAUTIONS],
    }
