"""GeoPackage, styles and rasters, read back by other means than they were written with."""

from __future__ import annotations

import importlib.util
import json
import shutil
import sqlite3
import struct
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pyogrio.errors
import pytest
import rasterio
import shapely
from affine import Affine
from made_plans import FAR_LETTERS, FORMULA, MARKUP, proposed, without_place
from made_sites import METRIC
from pyogrio import raw
from pyproj import CRS
from shapely.geometry import Point

from geo_site.crs import metric_twin
from geo_site.errors import OutputRefused
from geo_site.geopackage import write_geopackage, write_styles, write_terrain, writing
from geo_site.geopackage.qml import as_qml
from geo_site.geopackage.sld import as_sld
from geo_site.layers import LAYERS, to_frame
from geo_site.raster import Raster

SE = "{http://www.opengis.net/se}"
OGC = "{http://www.opengis.net/ogc}"


@pytest.fixture(scope="module")
def written() -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp())
    yield write_geopackage(proposed(), folder / "plan.gpkg")
    shutil.rmtree(folder)


@pytest.fixture(scope="module")
def without() -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp())
    yield write_geopackage(without_place(), folder / "plan.gpkg")
    shutil.rmtree(folder)


@pytest.fixture
def earlier(without, tmp_path) -> Path:
    """An earlier plan, in a folder of its own."""
    return Path(shutil.copy(without, tmp_path / "plan.gpkg"))


def rows(path: Path, statement: str, *values) -> list[tuple]:
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as database:
        return database.execute(statement, values).fetchall()


# --- features


@pytest.mark.parametrize("one", LAYERS, ids=lambda one: one.name)
def test_layers_come_back_as_they_went(one, written):
    went, back = to_frame(one, proposed()), pyogrio.read_dataframe(written, layer=one.name)
    info = pyogrio.read_info(written, layer=one.name)
    assert info["geometry_type"].replace(" ", "") == one.geometry
    assert back.crs.to_epsg() == 32617
    assert len(back) == len(went)
    for field in one.fields:
        for before, after in zip(went[field.name], back[field.name], strict=True):
            assert before == after or (pd.isna(before) and pd.isna(after)), field.name
    assert (
        shapely.get_coordinates(went.geometry, include_z=True).tobytes()
        == shapely.get_coordinates(back.geometry, include_z=True).tobytes()
    )


def test_nothing_but_our_layers_and_styles(written):
    found = {name for name, _ in pyogrio.list_layers(written)}
    assert found == {one.name for one in LAYERS} | {"layer_styles"}
    assert dict(rows(written, "SELECT table_name, data_type FROM gpkg_contents"))[
        "layer_styles"
    ] == "attributes"  # fmt: skip


def test_awkward_names_survive(written):
    names = [row[0] for row in rows(written, "SELECT utility_id FROM utility_lines")]
    assert names == [FORMULA, MARKUP, FAR_LETTERS]
    against = {row[0] for row in rows(written, "SELECT against FROM clearances")}
    assert {FORMULA, MARKUP, FAR_LETTERS} <= against


def test_unknown_numbers_are_null(written):
    found = rows(written, "SELECT diameter_m FROM utility_lines ORDER BY fid")
    assert found == [(0.05,), (None,), (None,)]


def test_columns_have_the_declared_types(written):
    types = {"text": "TEXT", "integer": "INTEGER", "real": "REAL", "truth": "BOOLEAN"}
    for one in LAYERS:
        found = {row[1]: row[2] for row in rows(written, f"PRAGMA table_info({one.name})")}
        assert found.pop("fid") == "INTEGER"
        assert found.pop("geom") == one.geometry.upper().removesuffix("Z")
        for field in one.fields:
            expected = types[field.type]
            assert found.pop(field.name) in {expected, "MEDIUMINT" if expected == "INTEGER" else ""}
        assert not found


def test_every_layer_is_there_when_there_is_no_place(without):
    for one in LAYERS:
        info = pyogrio.read_info(without, layer=one.name)
        assert info["geometry_type"].replace(" ", "") == one.geometry
        assert list(info["fields"]) == [field.name for field in one.fields]
    assert rows(without, "SELECT count(*) FROM basin") == [(0,)]
    assert_valid(without)


# --- what the file says about itself


def test_it_is_version_1_3(written):
    header = written.read_bytes()[:100]
    assert header[68:72] == b"GPKG"
    assert struct.unpack(">I", header[60:64]) == (10300,)


def test_titles_and_units_are_told(written):
    told = rows(
        written, "SELECT table_name, column_name, title, description FROM gpkg_data_columns"
    )
    assert {(layer, column) for layer, column, _, _ in told} == {
        (one.name, field.name) for one in LAYERS for field in one.fields
    }
    by_name = {(layer, column): (title, words) for layer, column, title, words in told}
    assert by_name["clearances", "required_m"] == (
        "required [m]",
        "rule plus position uncertainty [m]",
    )
    assert by_name["clearances", "verdict"][0] == "verdict"


def test_value_lists_are_those_of_the_catalogue(written):
    named = {
        (layer, column): name
        for layer, column, name in rows(
            written, "SELECT table_name, column_name, constraint_name FROM gpkg_data_columns"
        )
    }
    for one in LAYERS:
        for field in one.fields:
            found = rows(
                written,
                "SELECT value FROM gpkg_data_column_constraints WHERE constraint_name = ? "
                "AND constraint_type = 'enum' ORDER BY rowid",
                named[one.name, field.name],
            )
            assert tuple(row[0] for row in found) == field.choices
    verdicts = {"met", "hand_dig", "not_met", "unknown"}
    used = {row[0] for row in rows(written, "SELECT verdict FROM clearances")}
    assert used <= verdicts


def test_metadata_names_datum_units_and_cautions(written):
    ((told,),) = rows(written, "SELECT metadata FROM gpkg_metadata")
    told = json.loads(told)
    assert told["made_by"] == "geo_site plan"
    assert told["vertical_unit"] == "m"
    assert told["vertical_datum"].startswith("unknown")
    assert told["working_crs"] == told["written_crs"] == "WGS 84 / UTM zone 17N"
    assert any("Call before you dig" in caution for caution in told["cautions"])


def test_only_the_horizontal_crs_is_stored(tmp_path):
    plan = proposed()
    site = replace(
        plan.site, output_crs=CRS.from_string("EPSG:32617+5703"), vertical_datum="NAVD88"
    )
    path = write_geopackage(replace(plan, site=site), tmp_path / "plan.gpkg")
    assert {row[0] for row in rows(path, "SELECT srs_id FROM gpkg_geometry_columns")} == {32617}
    assert json.loads(rows(path, "SELECT metadata FROM gpkg_metadata")[0][0])["vertical_datum"] == (
        "NAVD88"
    )


def test_a_foot_crs_is_stored_under_its_own_code(tmp_path):
    plan, feet = proposed(), CRS.from_epsg(2264)
    site = replace(plan.site, crs=metric_twin(feet), output_crs=feet)
    path = write_geopackage(replace(plan, site=site), tmp_path / "plan.gpkg")
    assert pyogrio.read_info(path, layer="set_out")["crs"] == "EPSG:2264"
    back = pyogrio.read_dataframe(path, layer="stream_falls")
    assert [point.z for point in back.geometry] == list(back.lip_level_m)


def assert_valid(path: Path) -> None:
    if importlib.util.find_spec("osgeo_utils") is None:
        pytest.skip("the GeoPackage validator (gdal-utils) is not installed")
    done = subprocess.run(
        [sys.executable, "-m", "osgeo_utils.samples.validate_gpkg", "--extra", str(path)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout.strip()) == (0, ""), done.stdout + done.stderr


def test_the_validator_finds_no_fault(written):
    assert_valid(written)


def test_the_validator_would_find_one(written, tmp_path):
    spoilt = Path(shutil.copy(written, tmp_path / "spoilt.gpkg"))
    with closing(sqlite3.connect(spoilt)) as database:
        database.execute(
            "INSERT INTO gpkg_data_columns (table_name, column_name) VALUES ('x', 'y')"
        )
        database.commit()
    with pytest.raises(AssertionError):
        assert_valid(spoilt)


# --- styles


def test_each_layer_has_both_styles_as_its_default(written):
    found = rows(
        written,
        "SELECT f_table_name, f_geometry_column, styleQML, styleSLD, useAsDefault "
        "FROM layer_styles ORDER BY id",
    )
    assert [row[0] for row in found] == [one.name for one in LAYERS]
    for _, geometry, qml, sld, default in found:
        assert (geometry, default) == ("geom", 1)
        assert ElementTree.fromstring(qml).tag == "qgis"
        assert ElementTree.fromstring(sld.encode()).tag.endswith("StyledLayerDescriptor")


@pytest.mark.parametrize("one", LAYERS, ids=lambda one: one.name)
def test_a_qml_has_a_symbol_for_each_class(one):
    root = ElementTree.fromstring(as_qml(one))
    renderer = root.find("renderer-v2")
    symbols = renderer.findall("symbols/symbol")
    kind = {"Poi": "marker", "Lin": "line", "Pol": "fill"}[one.geometry.removeprefix("Multi")[:3]]
    assert {symbol.get("type") for symbol in symbols} == {kind}
    categories = renderer.findall("categories/category")
    assert [c.get("value") for c in categories] == [value for value, _ in one.look.classes]
    assert [c.get("symbol") for c in categories] == [s.get("name") for s in symbols][
        : len(categories)
    ]
    assert len(symbols) == max(len(categories), 1)
    assert (root.find("labeling") is not None) == bool(one.look.label)


def test_a_qml_carries_colour_width_and_dash():
    lines = next(one for one in LAYERS if one.name == "utility_lines")
    gas = ElementTree.fromstring(as_qml(lines)).findall("renderer-v2/symbols/symbol")[1]
    told = {
        option.get("name"): option.get("value") for option in gas.findall("layer/Option/Option")
    }
    older = {prop.get("k"): prop.get("v") for prop in gas.findall("layer/prop")}
    assert older == told
    symbol = dict(lines.look.classes)["gas"]
    casing, told = (
        {option.get("name"): option.get("value") for option in part.findall("Option/Option")}
        for part in gas.findall("layer")
    )
    assert casing["line_color"] == "48,48,48,255"
    assert float(casing["line_width"]) > float(told["line_width"])
    assert told["line_color"] == "255,209,0,255"
    assert symbol.stroke == "#ffd100"
    assert told["customdash"] == ";".join(f"{part:g}" for part in symbol.dash_mm)
    assert told["use_custom_dash"] == "1"


@pytest.mark.parametrize("one", LAYERS, ids=lambda one: one.name)
def test_an_sld_has_a_rule_for_each_class(one):
    root = ElementTree.fromstring(as_sld(one).encode())
    assert root.get("version") == "1.1.0"
    rules = root.findall(f".//{SE}Rule")
    drawn = [rule for rule in rules if rule.find(f"{SE}TextSymbolizer") is None]
    assert len(drawn) == max(len(one.look.classes), 1)
    for rule, (value, _) in zip(drawn, one.look.classes, strict=False):
        if value == "false":
            assert rule.find(f"{SE}ElseFilter") is not None
            continue
        assert rule.find(f".//{OGC}PropertyName").text == one.look.by
        assert rule.find(f".//{OGC}Literal").text == value
    kind = {"Poi": "Point", "Lin": "Line", "Pol": "Polygon"}[one.geometry.removeprefix("Multi")[:3]]
    assert all(rule.find(f"{SE}{kind}Symbolizer") is not None for rule in drawn)


def test_an_sld_pixel_is_028_mm():
    fence = next(one for one in LAYERS if one.name == "parcel")
    root = ElementTree.fromstring(as_sld(fence).encode())
    told = {p.get("name"): p.text for p in root.findall(f".//{SE}SvgParameter")}
    assert float(told["stroke-width"]) * 0.28 == pytest.approx(fence.look.symbol.width_mm, rel=0.01)


def test_style_files_are_those_in_the_geopackage(written, tmp_path):
    paths = write_styles(tmp_path / "styles")
    stored = dict(rows(written, "SELECT f_table_name, styleSLD FROM layer_styles"))
    assert {path.stem: path.read_text(encoding="utf-8") for path in paths} == stored


# --- the same bytes, and nothing left over


def test_the_same_plan_gives_the_same_bytes(written, tmp_path):
    again = write_geopackage(proposed(), tmp_path / "again.gpkg")
    assert again.read_bytes() == written.read_bytes()


def test_it_leaves_nothing_beside_it_and_no_setting_behind(tmp_path):
    names = ("OGR_CURRENT_DATE", "OGR_SQLITE_SYNCHRONOUS", "OGR_SQLITE_PRAGMA")
    before = [pyogrio.get_gdal_config_option(name) for name in names]
    write_geopackage(proposed(), tmp_path / "plan.gpkg")
    assert [path.name for path in tmp_path.iterdir()] == ["plan.gpkg"]
    after = [pyogrio.get_gdal_config_option(name) for name in names]
    assert before == after == [None, None, None]
    assert rows(tmp_path / "plan.gpkg", "PRAGMA journal_mode") == [("delete",)]


def test_the_plan_is_not_changed(tmp_path):
    plan = proposed()
    before = plan.site.utilities.copy(deep=True)
    write_geopackage(plan, tmp_path / "plan.gpkg")
    assert plan.site.utilities.equals(before)


# --- other people's files


def test_an_earlier_plan_is_replaced(earlier):
    target = earlier
    write_geopackage(proposed(), target)
    assert rows(target, "SELECT count(*) FROM basin") == [(1,)]


def strange_file(tmp_path: Path, kind: str, plan: Path) -> Path:
    target = tmp_path / "plan.gpkg"
    if kind == "text":
        target.write_text("somebody's notes, long enough to be no empty file at all" * 20)
    elif kind == "cut off":
        target.write_bytes(plan.read_bytes()[:5000])
    elif kind == "another GeoPackage":
        pyogrio.write_dataframe(
            gpd.GeoDataFrame({"a": [1]}, geometry=[Point(0, 0)], crs=METRIC), target, driver="GPKG"
        )
    return target


@pytest.mark.parametrize("kind", ["text", "cut off", "another GeoPackage"])
def test_what_is_no_plan_is_never_touched(kind, without, tmp_path):
    target = strange_file(tmp_path, kind, without)
    before = target.read_bytes()
    with pytest.raises(OutputRefused, match=r"plan\.gpkg: is there already"):
        write_geopackage(proposed(), target)
    assert target.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["plan.gpkg"]


def test_a_plan_that_is_locked_is_refused(earlier):
    target = earlier
    before = target.read_bytes()
    with closing(sqlite3.connect(target, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(OutputRefused):
            write_geopackage(proposed(), target)
        other.execute("ROLLBACK")
    assert target.read_bytes() == before


def test_a_plan_that_is_open_elsewhere_is_refused(earlier):
    target = earlier
    with closing(sqlite3.connect(target, isolation_level=None)) as other:
        other.execute("PRAGMA journal_mode = WAL")
        other.execute("UPDATE gpkg_contents SET description = 'mine'")
        assert Path(f"{target}-wal").exists()
        with pytest.raises(OutputRefused, match="open in another program"):
            write_geopackage(proposed(), target)
    assert rows(target, "SELECT DISTINCT description FROM gpkg_contents") == [("mine",)]


def test_a_fault_half_way_leaves_the_target_whole(earlier, tmp_path, monkeypatch):
    target = earlier
    before = target.read_bytes()

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(writing, "write_records", fail)
    with pytest.raises(OutputRefused, match="No space left"):
        write_geopackage(proposed(), target)
    assert target.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["plan.gpkg"]


@pytest.mark.parametrize(
    "fault",
    [
        sqlite3.OperationalError("database or disk is full"),
        pyogrio.errors.DataLayerError("database or disk is full"),
    ],
    ids=["records", "layers"],
)
def test_a_full_disk_is_told_in_one_line(fault, earlier, monkeypatch):
    before = earlier.read_bytes()

    def fail(*_, **__):
        raise fault

    monkeypatch.setattr(raw, "write", fail)
    with pytest.raises(OutputRefused, match=r"plan\.gpkg: cannot be written: .*full$"):
        write_geopackage(proposed(), earlier)
    assert earlier.read_bytes() == before


def test_a_row_that_is_lost_on_the_way_is_noticed(earlier, monkeypatch):
    before, write = earlier.read_bytes(), raw.write

    def lose(*a, geometry, field_data, **k):
        write(*a, geometry=geometry[:1], field_data=[column[:1] for column in field_data], **k)

    monkeypatch.setattr(raw, "write", lose)
    with pytest.raises(OutputRefused, match="holds 1 rows instead of"):
        write_geopackage(proposed(), earlier)
    assert earlier.read_bytes() == before


def test_a_folder_is_no_target(tmp_path):
    with pytest.raises(OutputRefused, match="not a file"):
        write_geopackage(proposed(), tmp_path)
    with pytest.raises(OutputRefused, match="cannot be written"):
        write_geopackage(proposed(), tmp_path / "nowhere" / "plan.gpkg")


# --- rasters


def test_rasters_hold_the_terrain_around_the_lot(tmp_path):
    plan = proposed()
    paths = write_terrain(plan, tmp_path / "terrain")
    assert [path.name for path in paths] == [
        "ground.tif",
        "slope.tif",
        "accumulation.tif",
        "depressions.tif",
    ]
    assert {path.name for path in (tmp_path / "terrain").iterdir()} == {p.name for p in paths}
    ground = plan.terrain.ground
    with rasterio.open(paths[0]) as back:
        assert back.crs.to_epsg() == 32617
        assert np.isnan(back.nodata)
        assert back.transform == ground.transform
        np.testing.assert_array_equal(back.read(1), np.float32(ground.values))
        assert back.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert back.compression.name == "deflate"
        assert back.tags(ns="IMAGE_STRUCTURE")["PREDICTOR"] == "3"
    with rasterio.open(paths[3]) as back:
        assert (back.read(1) >= 0.0).all()


def large(crs: CRS = METRIC) -> Raster:
    """Ground of 600 m x 500 m with a bowl of 2 m in the middle of the lot and a hole."""
    _, y = np.meshgrid(np.arange(600.0), np.arange(500.0))
    values = 100.0 + 0.01 * y
    values[250:260, 300:310] -= 2.0
    values[300, 300] = np.nan
    return Raster(values, Affine(1, 0, 0, 0, -1, 500), crs)


def large_plan():
    plan = proposed()
    ground = large()
    filled = np.array(ground.values)
    filled[250:260, 300:310] += 2.0
    terrain = replace(
        plan.terrain,
        ground=ground,
        slope=ground,
        accumulation_m2=ground,
        routed=ground,
        filled=ground.like(filled),
    )
    site = replace(plan.site, parcel=shapely.MultiPolygon([shapely.box(290, 230, 320, 260)]))
    return replace(plan, site=site, terrain=terrain)


def test_rasters_are_cropped_to_100_m_around_and_keep_holes(tmp_path):
    paths = write_terrain(large_plan(), tmp_path)
    with rasterio.open(paths[0]) as back:
        assert back.bounds.left <= 190.0 < back.bounds.left + 2.0
        assert back.bounds.bottom <= 130.0 < back.bounds.bottom + 2.0
        assert back.bounds.right - 2.0 < 420.0 <= back.bounds.right
        assert back.bounds.top - 2.0 < 360.0 <= back.bounds.top
        assert np.isnan(back.read(1)).sum() == 1
    with rasterio.open(paths[3]) as back:
        depth = back.read(1)
        assert np.nansum(depth > 1.0) == 100
        assert np.nanmax(depth) == pytest.approx(2.0, abs=1e-5)


def test_rasters_have_the_same_bytes_twice(tmp_path):
    first, second = (write_terrain(large_plan(), tmp_path / name) for name in "ab")
    for one, other in zip(first, second, strict=True):
        assert one.read_bytes() == other.read_bytes()


def test_rasters_of_a_foot_site_lie_in_its_metric_twin(tmp_path):
    plan, twin = large_plan(), metric_twin(CRS.from_epsg(2264))
    ground = large(twin)
    terrain = replace(plan.terrain, ground=ground)
    paths = write_terrain(replace(plan, terrain=terrain), tmp_path)
    with rasterio.open(paths[0]) as back:
        assert back.crs.linear_units_factor[1] == 1.0
        assert CRS.from_wkt(back.crs.to_wkt()).coordinate_operation.method_name == (
            twin.coordinate_operation.method_name
        )


def test_labels_carry_their_unit(tmp_path):
    write_styles(tmp_path)
    contours = (tmp_path / "contours.sld").read_text(encoding="utf-8")
    assert "<se:Pattern>0.00</se:Pattern></se:FormatNumber> m</se:Label>" in contours
    pile = next(layer for layer in LAYERS if layer.name == "spoil_pile")
    assert "' m3'" in as_qml(pile)


@pytest.mark.parametrize("one", LAYERS, ids=lambda one: one.name)
def test_a_qml_names_every_field_with_its_unit(one):
    aliases = ElementTree.fromstring(as_qml(one)).findall("aliases/alias")
    assert [alias.get("field") for alias in aliases] == [field.name for field in one.fields]
    assert not any(alias.get("name").endswith(" m (m)") for alias in aliases)
    for alias, field in zip(aliases, one.fields, strict=True):
        assert field.unit in {"", "-"} or alias.get("name").endswith(f"({field.unit})")
