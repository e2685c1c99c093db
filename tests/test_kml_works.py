"""KML-01 to 03: works.kml read by GDAL and held to the schema of OGC KML 2.2 (07-147r2)."""

from __future__ import annotations

from dataclasses import replace
from importlib import resources
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely
from lxml import etree
from made_plans import FORMULA, MARKUP, proposed, sample_plan, without_place
from pyproj import CRS

from geo_site.cautions import CAUTIONS
from geo_site.kml import write_locate_request, write_works
from geo_site.layers import LAYERS, LOOKS, to_frame

KML = "{http://www.opengis.net/kml/2.2}"


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_works(proposed(), tmp_path_factory.mktemp("kml") / "works.kml")


@pytest.fixture(scope="module")
def feet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_works(sample_plan("hillside"), tmp_path_factory.mktemp("kml") / "works.kml")


@pytest.fixture(scope="module")
def schema() -> etree.XMLSchema:
    """The schema as the package fastkml ships it, with what it includes."""
    file = resources.files("fastkml") / "schema" / "ogckml22.xsd"
    return etree.XMLSchema(etree.parse(str(file)))


def titled(name: str) -> str:
    return next(layer.title for layer in LAYERS if layer.name == name)


def test_documents_are_as_the_schema_asks(
    path: Path, feet: Path, schema: etree.XMLSchema, tmp_path: Path
) -> None:
    """KML-01."""
    nothing = write_works(without_place(), tmp_path / "none.kml")
    request = write_locate_request(proposed(), tmp_path / "request.kml")
    for file in (path, feet, nothing, request):
        schema.assertValid(etree.parse(str(file)))


def test_the_schema_would_notice(path: Path, schema: etree.XMLSchema) -> None:
    document = etree.parse(str(path))
    mark = document.find(f".//{KML}Placemark")
    mark.insert(0, mark.find(f"{KML}styleUrl"))  # before the name
    assert not schema.validate(document)


SHOWN = [
    "parcel",
    "basin",
    "basin_excavation",
    "stream_bed",
    "stream_alignment",
    "stream_falls",
    "pipe_run",
    "spoil_pile",
    "silt_fence",
    "machine_route",
    "dig_area",
    "utility_lines",
    "overflow_path",
]


@pytest.mark.parametrize("name", SHOWN)
def test_positions_are_those_of_the_layer(name: str, path: Path, feet: Path) -> None:
    """KML-02: GDAL reads the folder; brought back, no part is 0.1 m off its layer."""
    layer = next(layer for layer in LAYERS if layer.name == name)
    for file, plan in ((path, proposed()), (feet, sample_plan("hillside"))):
        went = to_frame(layer, plan).to_crs(plan.site.crs)
        if went.empty:
            assert layer.title not in {one for one, _ in pyogrio.list_layers(file)}
            continue
        read = pyogrio.read_dataframe(file, layer=layer.title)
        assert read.crs == CRS.from_epsg(4326)
        back = gpd.GeoSeries(read.geometry, crs=4326).to_crs(plan.site.crs)
        assert len(back) == len(went)
        for there, here in zip(
            shapely.force_2d(back), shapely.force_2d(went.geometry), strict=True
        ):
            assert there.hausdorff_distance(here) < 0.1


def test_lines_keep_the_uniform_colours(path: Path) -> None:
    root = etree.parse(str(path)).getroot()
    styles = {
        style.get("id"): style.findtext(f"{KML}LineStyle/{KML}color")
        for style in root.iter(f"{KML}Style")
    }
    assert styles["utility_lines-gas"] == "ff00d1ff"  # alpha, blue, green, red: yellow
    assert styles["utility_lines-electric"] == "ff2e10c8"
    used = {url.text for url in root.iter(f"{KML}styleUrl")}
    assert used <= {f"#{name}" for name in styles}
    assert {f"utility_lines-{kind}" for kind, _ in LOOKS["utility_lines"].classes} <= set(styles)


def descriptions(path: Path, name: str) -> list[str]:
    return list(pyogrio.read_dataframe(path, layer=titled(name))["description"])


def test_a_work_tells_its_facts_in_the_units_of_the_reports(path: Path, feet: Path) -> None:
    """KML-03: the sample speaks feet, the made plan metres."""
    (basin,) = to_frame(next(one for one in LAYERS if one.name == "basin"), proposed()).to_dict(
        "records"
    )
    (told,) = descriptions(path, "basin")
    assert f"length: {basin['length_m']:.2f} m" in told
    (told,) = descriptions(feet, "basin")
    assert " ft (long side of the outline)" in told
    assert " m (" not in told


def test_names_and_facts_are_those_of_the_field(path: Path) -> None:
    names = list(pyogrio.read_dataframe(path, layer=titled("utility_lines"))["Name"])
    assert names[0] == f"{FORMULA} gas"
    falls = pyogrio.read_dataframe(path, layer=titled("stream_falls"))["Name"]
    assert all(name.startswith("fall ") and name.endswith(" m") for name in falls)
    told = path.read_text(encoding="utf-8")
    assert "alternative" not in told, "one plan is shown, without a number"
    assert "nan" not in told.split()


def test_cautions_date_and_datum_stand_at_the_top(path: Path, feet: Path) -> None:
    for file, accuracy in ((path, "are on WGS 84."), (feet, "WGS 84")):
        root = etree.parse(str(file)).getroot()
        told = root.findtext(f"{KML}Document/{KML}description")
        assert accuracy in told
        assert "never dig by this map" in told
        assert "As of: " in told
        for subject, _ in CAUTIONS:
            assert f"{subject}: " in told


def test_the_accuracy_of_the_shift_is_told(tmp_path: Path) -> None:
    """NAD83 to WGS 84 without a grid is registered with 4 m (EPSG:1188)."""
    plan = proposed()
    moved = replace(plan, site=replace(plan.site, crs=CRS.from_epsg(26917)))
    root = etree.parse(str(write_works(moved, tmp_path / "a.kml"))).getroot()
    told = root.findtext(f"{KML}Document/{KML}description")
    assert "may be off by 4.00 m from the shift of datum." in told


def test_a_hostile_name_is_no_more_than_text(path: Path) -> None:
    root = etree.parse(str(path)).getroot()
    told = [mark.findtext(f"{KML}description") for mark in root.iter(f"{KML}Placemark")]
    assert any(FORMULA in words for words in told)
    assert not any("<b>" in words for words in told), "a viewer would take it for markup"
    assert any(MARKUP.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;") in words
               for words in told)  # fmt: skip


def test_no_place_is_a_lot_with_its_lines(tmp_path: Path) -> None:
    path = write_works(without_place(), tmp_path / "a.kml")
    assert [name for name, _ in pyogrio.list_layers(path)] == [titled("parcel")]
    assert "no place" in path.read_text(encoding="utf-8")


def test_same_plan_same_bytes(path: Path, tmp_path: Path) -> None:
    assert write_works(proposed(), tmp_path / "a.kml").read_bytes() == path.read_bytes()


def test_what_is_not_known_says_so(path: Path) -> None:
    assert any("diameter: unknown" in told for told in descriptions(path, "utility_lines"))


def test_levels_are_left_to_the_plan(path: Path) -> None:
    read = pyogrio.read_dataframe(path, layer=titled("stream_alignment"))
    assert np.isfinite(read.geometry.iloc[0].length)
    root = etree.parse(str(path)).getroot()
    assert all(
        position.count(",") == 1
        for told in root.iter(f"{KML}coordinates")
        for position in told.text.split()
    )
