"""DXF-01 to 03: drawing.dxf read again by ezdxf and by GDAL: layers, coordinates, units, words."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pyogrio
import pytest
from ezdxf.document import Drawing
from made_plans import FORMULA, proposed, sample_plan, without_place
from pyproj import CRS
from shapely import get_coordinates, get_parts
from shapely.affinity import rotate
from shapely.geometry import Polygon, box

from geo_site.crs import metric_twin
from geo_site.drawing import write_drawing
from geo_site.layers import DRAWING_ORDER, LAYERS, LOOKS, to_frame


@cache
def opened(path: Path) -> Drawing:
    """A drawing that is read once for all tests that only look."""
    return ezdxf.readfile(path)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_drawing(proposed(), tmp_path_factory.mktemp("dxf") / "drawing.dxf")


@pytest.fixture(scope="module")
def feet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_drawing(sample_plan("hillside"), tmp_path_factory.mktemp("dxf") / "feet.dxf")


def test_audit_finds_no_fault(path: Path, feet: Path) -> None:
    """DXF-01: nothing wrong, and nothing that had to be put right."""
    for file in (path, feet):
        audit = ezdxf.readfile(file).audit()
        assert not audit.errors
        assert not audit.fixes


def test_every_layer_is_there_by_its_name(path: Path) -> None:
    drawing = opened(path)
    names = {layer.dxf.name for layer in drawing.layers}
    assert {layer.name for layer in LAYERS} <= names


def test_units_are_stated(path: Path, feet: Path) -> None:
    """DXF-02: 6 is metres and metric hatches, 21 US survey feet and imperial ones."""
    for file, unit, metric in ((path, 6, 1), (feet, 21, 0)):
        header = opened(file).header
        assert (header["$INSUNITS"], header["$MEASUREMENT"]) == (unit, metric)


def words_on(path: Path, layer: str) -> list[str]:
    return [text.dxf.text for text in opened(path).modelspace().query("TEXT")
            if text.dxf.layer == layer]  # fmt: skip


def test_it_says_what_it_stands_on(path: Path, feet: Path) -> None:
    for file, told in (
        (path, ("WGS 84 / UTM zone 17N (EPSG:32617)", "X, Y and Z: metre.", "unknown")),
        (feet, ("EPSG:2272", "X, Y and Z: US survey foot.", "As of: 2026-")),
    ):
        notes = "\n".join(words_on(file, "notes"))
        assert "Call before you dig" in notes
        assert all(words in notes for words in told), notes


def test_layers_look_as_the_looks_say(path: Path) -> None:
    table = {layer.dxf.name: layer for layer in opened(path).layers}
    for name, look in LOOKS.items():
        made = table[name]
        assert made.dxf.true_color == int(look.symbol.stroke[1:], 16)
        assert abs(made.dxf.lineweight - 100.0 * look.symbol.width_mm) <= 20.0
        assert made.is_on() == look.at_first
    assert not table["clearances_met"].is_on()
    assert table["clearances"].is_on(), "what is not met is never out of sight"
    on = {name for name, layer in table.items() if layer.is_on()}
    assert {"utility_lines", "hand_dig_ground", "dig_area", "notes"} <= on


def test_dashes_are_as_long_as_on_paper(path: Path) -> None:
    drawing = opened(path)
    told = drawing.linetypes.get(drawing.layers.get("dig_area").dxf.linetype)
    lengths = [tag.value for tag in told.pattern_tags.tags if tag.code == 49]
    paper_mm = [1000.0 * abs(length) / 200.0 for length in lengths]
    assert paper_mm == pytest.approx(LOOKS["dig_area"].symbol.dash_mm)


HATCHED = ("basin", "basin_excavation", "spoil_pile", "blocked_ground")


@pytest.mark.parametrize("name", HATCHED)
def test_grounds_and_works_are_hatched(path: Path, name: str) -> None:
    hatches = list(opened(path).modelspace().query(f'HATCH[layer=="{name}"]'))
    symbol = LOOKS[name].symbol
    solid = [hatch for hatch in hatches if hatch.dxf.solid_fill]
    lined = [hatch for hatch in hatches if not hatch.dxf.solid_fill]
    assert len(solid) == len(lined) > 0
    assert solid[0].transparency == pytest.approx(1.0 - symbol.opacity, abs=0.01)
    for line in lined[0].pattern.lines:
        assert np.hypot(*line.offset) == pytest.approx(symbol.hatch_mm / 1000.0 * 200.0)


def test_what_is_drawn_later_lies_on_top(path: Path) -> None:
    space = opened(path).modelspace()
    order = {name: number for number, name in enumerate(DRAWING_ORDER)}
    drawn = [
        order[entity.dxf.layer.removesuffix("_met")]
        for entity in space
        if entity.dxftype() in {"HATCH", "LWPOLYLINE", "POLYLINE", "POINT"}
    ]
    assert drawn == sorted(drawn)


def test_contours_lie_on_their_level(feet: Path) -> None:
    table = to_frame(next(one for one in LAYERS if one.name == "contours"), sample_plan("hillside"))
    lines = opened(feet).modelspace().query('LWPOLYLINE[layer=="contours"]')
    read = sorted(line.dxf.elevation for line in lines)
    asked = sorted(table["level_m"] * 3937.0 / 1200.0)
    assert read == pytest.approx(asked, abs=1e-6)


def boxes(path: Path) -> list[Polygon]:
    found = []
    for text in opened(path).modelspace().query("TEXT"):
        if text.dxf.layer == "notes":
            continue
        x, y, _ = text.dxf.insert
        height = text.dxf.height
        flat = box(x, y, x + 0.8 * height * len(text.dxf.text), y + height)
        found.append(rotate(flat, text.dxf.rotation, origin=(x, y)))
    return found


def test_words_do_not_lie_on_each_other(path: Path, feet: Path) -> None:
    for file in (path, feet):
        outlines = boxes(file)
        assert len(outlines) > 50
        on_another = [
            1
            for number, one in enumerate(outlines)
            for other in outlines[:number]
            if one.intersects(other)
        ]
        assert not on_another


@pytest.mark.parametrize(
    ("name", "kind"),
    [("stream_alignment", "LINESTRING"), ("basin_excavation", "LINESTRING"), ("set_out", "POINT")],
)
def test_gdal_reads_the_same_positions(feet: Path, name: str, kind: str) -> None:
    """DXF-03: X, Y and Z within 1e-6 of the layer, Z in the unit of X and Y."""
    table = pyogrio.read_dataframe(feet, where=f"Layer = '{name}'")
    lines = table[(table.geometry.geom_type.str.upper() == kind) & table["Text"].isna()]
    layer = next(one for one in LAYERS if one.name == name)
    went = to_frame(layer, sample_plan("hillside")).geometry
    asked = get_coordinates(went, include_z=True)
    asked[:, 2] *= 3937.0 / 1200.0
    read = get_coordinates(lines.geometry, include_z=True)
    order = [np.lexsort(np.nan_to_num(one).T.round(4)) for one in (read, asked)]
    difference = np.nan_to_num(read)[order[0]] - np.nan_to_num(asked)[order[1]]
    assert np.abs(difference).max() < 1e-6


def test_gdal_reads_the_same_look(path: Path) -> None:
    """Colour, width and dashes of each kind of line; lengths on paper of 1:200, in metres."""
    statement = "SELECT OGR_STYLE AS style FROM entities WHERE Layer = 'utility_lines'"
    table = pyogrio.read_dataframe(path, sql=statement, sql_dialect="OGRSQL")
    pens = [told for told in table["style"] if told.startswith("PEN")]
    kinds = dict(LOOKS["utility_lines"].classes)
    for kind, told in zip(("gas", "electric", "unknown"), pens, strict=True):
        symbol = kinds[kind]
        dashes = " ".join(f"{part * 0.2:g}g" for part in symbol.dash_mm)
        assert told == f'PEN(c:{symbol.stroke},w:{symbol.width_mm:g}g,p:"{dashes}")'


def test_plans_of_other_places_are_on_layers_of_their_own(tmp_path: Path) -> None:
    plan = proposed()
    several = replace(plan, alternatives=(plan,))
    drawing = opened(write_drawing(several, tmp_path / "a.dxf"))
    assert not drawing.layers.get("basin_2").is_on()
    for name in ("basin", "basin_2"):
        assert len(drawing.modelspace().query(f'LWPOLYLINE[layer=="{name}"]')) == 1
    met = LOOKS["clearances"].classes[-1][1]
    colours = {line.rgb for line in drawing.modelspace().query('LWPOLYLINE[layer=="clearances_2"]')}
    assert tuple(bytes.fromhex(met.stroke[1:])) in colours
    assert "parcel_2" not in {layer.dxf.name for layer in drawing.layers}


def coordinates(layer_name: str) -> np.ndarray:
    layer = next(layer for layer in LAYERS if layer.name == layer_name)
    parts = get_parts(to_frame(layer, proposed()).geometry.to_numpy())
    return get_coordinates(parts, include_z=True)


@pytest.mark.parametrize("name", ["stream_alignment", "pipe_run", "stream_reaches"])
def test_lines_in_space_read_again_are_equal(path: Path, name: str) -> None:
    space = opened(path).modelspace()
    lines = space.query(f'POLYLINE[layer=="{name}"]')
    read = np.array([tuple(p) for line in lines for p in line.points()])
    assert np.abs(read - coordinates(name)).max() < 1e-9


def test_outlines_read_again_are_equal(path: Path) -> None:
    space = opened(path).modelspace()
    (outline,) = space.query('LWPOLYLINE[layer=="basin_excavation"]')
    assert outline.closed
    read = np.array(outline.get_points("xy"))
    assert np.abs(read - coordinates("basin_excavation")[:-1, :2]).max() < 1e-9


def test_stakes_are_points_in_space(path: Path) -> None:
    space = opened(path).modelspace()
    read = np.array([tuple(p.dxf.location) for p in space.query('POINT[layer=="set_out"]')])
    assert np.abs(read - coordinates("set_out")).max() < 1e-9


def test_an_independent_reader_opens_it(path: Path) -> None:
    table = pyogrio.read_dataframe(path)
    assert {"parcel", "basin", "utility_lines", "stream_bed"} <= set(table["Layer"])
    west, south, east, north = table[table["Layer"] == "basin"].total_bounds
    bounds = coordinates("basin")
    assert (west, south) == pytest.approx(tuple(bounds[:, :2].min(axis=0)), abs=1e-6)
    assert (east, north) == pytest.approx(tuple(bounds[:, :2].max(axis=0)), abs=1e-6)


def test_buried_lines_have_the_uniform_colours(path: Path) -> None:
    space = opened(path).modelspace()
    colours = {line.rgb for line in space.query('LWPOLYLINE[layer=="utility_lines"]')}
    assert (0xFF, 0xD1, 0x00) in colours  # gas: yellow
    assert (0xC8, 0x10, 0x2E) in colours  # electric: red


def test_labels_are_plain_text_of_plotted_height(path: Path) -> None:
    space = opened(path).modelspace()
    words = {text.dxf.text: text.dxf.height for text in space.query("TEXT")}
    hostile = f"{FORMULA} gas"
    assert hostile in words  # a hostile name is written, and is no more than text
    assert words[hostile] == pytest.approx(0.0025 * 200.0)  # 2.5 mm at 1:200


def test_same_plan_same_bytes(path: Path, tmp_path: Path) -> None:
    other = write_drawing(proposed(), tmp_path / "other.dxf")
    assert other.read_bytes() == path.read_bytes()


def test_the_order_of_declared_kinds_does_not_hang_on_the_run(path: Path) -> None:
    drawing = opened(path)
    declared = [kind.dxf.name for kind in drawing.classes]
    used = sorted(set(declared) & drawing.entitydb.dxf_types_in_use())
    assert len(used) >= 2
    assert declared[: len(used)] == used


def test_no_place_is_drawn_too(tmp_path: Path) -> None:
    drawing = opened(write_drawing(without_place(), tmp_path / "a.dxf"))
    assert len(drawing.modelspace().query('LWPOLYLINE[layer=="parcel"]')) == 1
    assert not drawing.modelspace().query('*[layer=="basin"]')


def test_a_foot_file_gives_a_drawing_in_its_feet(feet: Path) -> None:
    plan, drawing = sample_plan("hillside"), opened(feet)
    assert drawing.header["$INSUNITS"] == 21  # US survey feet
    (line,) = drawing.modelspace().query('POLYLINE[layer=="stream_alignment"]')
    assert plan.proposal is not None
    level = next(iter(line.points()))[2]
    assert level == pytest.approx(plan.proposal.layout.lip_level_m * 3937.0 / 1200.0)


def test_a_unit_that_the_format_does_not_know_is_told_in_words(tmp_path: Path) -> None:
    """Clarke's foot of 0.3047972654 m (EPSG unit 9005) has no code: none is claimed."""
    plan, trinidad = proposed(), CRS.from_epsg(2314)
    site = replace(plan.site, crs=metric_twin(trinidad), output_crs=trinidad)
    path = write_drawing(replace(plan, site=site), tmp_path / "a.dxf")
    assert opened(path).header["$INSUNITS"] == 0
    assert any("unit of 0.3047972654 m" in words for words in words_on(path, "notes"))
