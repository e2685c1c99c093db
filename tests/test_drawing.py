"""drawing.dxf read again by ezdxf and by GDAL: layers, coordinates, units, labels."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import numpy as np
import pyogrio
import pytest
from made_plans import FORMULA, proposed, sample_plan, without_place
from shapely import get_coordinates, get_parts

from geo_site.drawing import write_drawing
from geo_site.layers import LAYERS, to_frame


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_drawing(proposed(), tmp_path_factory.mktemp("dxf") / "drawing.dxf")


def test_audit_finds_no_fault(path: Path) -> None:
    drawing = ezdxf.readfile(path)
    audit = drawing.audit()
    assert not audit.errors
    assert not audit.fixes


def test_every_layer_is_there_by_its_name(path: Path) -> None:
    drawing = ezdxf.readfile(path)
    names = {layer.dxf.name for layer in drawing.layers}
    assert {layer.name for layer in LAYERS} <= names


def test_units_are_stated(path: Path) -> None:
    assert ezdxf.readfile(path).header["$INSUNITS"] == 6


def coordinates(layer_name: str) -> np.ndarray:
    layer = next(layer for layer in LAYERS if layer.name == layer_name)
    parts = get_parts(to_frame(layer, proposed()).geometry.to_numpy())
    return get_coordinates(parts, include_z=True)


@pytest.mark.parametrize("name", ["stream_alignment", "pipe_run", "stream_reaches"])
def test_lines_in_space_read_again_are_equal(path: Path, name: str) -> None:
    space = ezdxf.readfile(path).modelspace()
    lines = space.query(f'POLYLINE[layer=="{name}"]')
    read = np.array([tuple(p) for line in lines for p in line.points()])
    assert np.abs(read - coordinates(name)).max() < 1e-9


def test_outlines_read_again_are_equal(path: Path) -> None:
    space = ezdxf.readfile(path).modelspace()
    (outline,) = space.query('LWPOLYLINE[layer=="basin_excavation"]')
    assert outline.closed
    read = np.array(outline.get_points("xy"))
    assert np.abs(read - coordinates("basin_excavation")[:-1, :2]).max() < 1e-9


def test_stakes_are_points_in_space(path: Path) -> None:
    space = ezdxf.readfile(path).modelspace()
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
    space = ezdxf.readfile(path).modelspace()
    colours = {line.rgb for line in space.query('LWPOLYLINE[layer=="utility_lines"]')}
    assert (0xFF, 0xD1, 0x00) in colours  # gas: yellow
    assert (0xC8, 0x10, 0x2E) in colours  # electric: red


def test_labels_are_plain_text_of_plotted_height(path: Path) -> None:
    space = ezdxf.readfile(path).modelspace()
    words = {text.dxf.text: text.dxf.height for text in space.query("TEXT")}
    hostile = f"{FORMULA} gas"
    assert hostile in words  # a hostile name is written, and is no more than text
    assert words[hostile] == pytest.approx(0.0025 * 200.0)  # 2.5 mm at 1:200


def test_same_plan_same_bytes(path: Path, tmp_path: Path) -> None:
    other = write_drawing(proposed(), tmp_path / "other.dxf")
    assert other.read_bytes() == path.read_bytes()


def test_no_place_is_drawn_too(tmp_path: Path) -> None:
    drawing = ezdxf.readfile(write_drawing(without_place(), tmp_path / "a.dxf"))
    assert len(drawing.modelspace().query('LWPOLYLINE[layer=="parcel"]')) == 1
    assert not drawing.modelspace().query('*[layer=="basin"]')


def test_a_foot_file_gives_a_drawing_in_its_feet(tmp_path: Path) -> None:
    plan = sample_plan("hillside")
    drawing = ezdxf.readfile(write_drawing(plan, tmp_path / "a.dxf"))
    assert drawing.header["$INSUNITS"] == 21  # US survey feet
    (line,) = drawing.modelspace().query('POLYLINE[layer=="stream_alignment"]')
    assert plan.proposal is not None
    level = next(iter(line.points()))[2]
    assert level == pytest.approx(plan.proposal.layout.lip_level_m * 3937.0 / 1200.0)
