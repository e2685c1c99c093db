"""What is read is what was written: units, words, CRSs, choices and margins.

Truth is the geometry and the numbers that each test writes; areas and conversions are closed
forms.
"""

from __future__ import annotations

import datetime
import hashlib
import zipfile
from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio
import pyproj
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import CRS
from shapely.geometry import LineString, MultiLineString, Point, Polygon, box
from site_files import GAS, LOT, ORIGIN, SiteFolder, at_origin, write_terrain, write_vector

from geo_site.errors import InputRefused, SettingRefused
from geo_site.readers import read_site, site_file
from geo_site.readers.attributes import made_columns
from geo_site.readers.inputs import ParcelInput, VectorInput
from geo_site.readers.parcels import read_parcel
from geo_site.readers.vectors import VectorFile
from geo_site.site import INPUT_LAYERS, Site

HILLSIDE = Path(__file__).parent.parent / "sample_data" / "hillside" / "site.toml"
US_FOOT_M = 1200.0 / 3937.0
ANY_FILE = VectorFile(
    told="x.gpkg",
    path=Path("x.gpkg"),
    opened_as="x.gpkg",
    layer="x",
    format="gpkg",
    crs=CRS.from_epsg(32617),
    fields=("D",),
)


CHECKED_TABLES = site_file._checked_tables


@pytest.fixture(autouse=True)
def _no_settings(monkeypatch):
    monkeypatch.setattr(site_file, "_checked_tables", lambda tables, file: tables)


@pytest.fixture
def site(tmp_path: Path) -> SiteFolder:
    return SiteFolder(tmp_path)


def _lines(site: SiteFolder, geometries, crs="EPSG:32617", **columns) -> None:
    path = site.folder / "utilities.gpkg"
    path.unlink()
    write_vector(path, geometries, columns, crs=crs)


def _beside(first: int, second: int):
    """Two lines that are not one: parallel, the given metres north of the main."""
    north = [
        shapely.transform(GAS, lambda xy, m=m: xy + np.array([0.0, m])) for m in (first, second)
    ]
    return [at_origin(line) for line in north]


def _notes(read: Site, name: str) -> str:
    return " | ".join(note for r in read.records if r.name == name for note in r.notes)


# ---------------------------------------------------------------- the whole


def test_a_plain_site_is_read_whole(site: SiteFolder):
    site.add_common()
    read = read_site(site.write())
    assert (read.name, read.report_units, read.parcel_id) == ("Test lot", "si", "14")
    assert read.crs.to_epsg() == read.output_crs.to_epsg() == 32617
    assert read.parcel.area == pytest.approx(1200.0)
    assert (read.parcel_accuracy_m, read.rmse_z_m) == (0.5, 0.1)
    assert read.terrain.bounds == (499_970.0, 3_999_970.0, 500_070.0, 4_000_060.0)
    line = read.utilities.iloc[0]
    assert (line.id, line.kind, line.diameter_m, line.quality_level) == ("G1", "gas", 0.1, "QL-B")
    assert line.geometry.equals(at_origin(GAS))
    assert [len(read.layer(n)) for n in ("structures", "trees", "access", "views", "power")] == (
        [1] * 5
    )
    assert read.private_locate is None
    assert read.ticket.number == ""


def test_every_table_has_its_columns_full_or_empty(site: SiteFolder):
    site.add_common()
    read = read_site(site.write())
    for name, layer in INPUT_LAYERS.items():
        table = read.layer(name)
        assert set(table.columns) == {f.name for f in layer.fields} | {"geometry"}
        assert table.crs == read.crs
        numbers = [f.name for f in layer.fields if f.type == "number"]
        assert all(table[column].dtype == np.float64 for column in numbers)


def test_files_of_several_layers_are_listed_once(
    monkeypatch: pytest.MonkeyPatch,
):
    asked: list[str] = []

    def listed(path: str) -> object:
        asked.append(Path(path).name)
        return list_layers(path)

    list_layers = pyogrio.list_layers
    monkeypatch.setattr(pyogrio, "list_layers", listed)
    read = read_site(HILLSIDE)
    layers = [record.path for record in read.records if record.path.endswith(".gpkg")]
    assert len(layers) > len(asked)
    assert sorted(asked) == sorted(set(layers))


def test_records_hold_digest_extent_and_count(site: SiteFolder):
    read = read_site(site.write())
    by_name = {record.name: record for record in read.records}
    assert list(by_name) == ["parcel", "terrain", "utilities"]
    parcel = by_name["parcel"]
    digest = hashlib.sha256((site.folder / "parcel.gpkg").read_bytes()).hexdigest()
    assert (parcel.path, parcel.sha256, parcel.count) == ("parcel.gpkg", digest, 1)
    assert parcel.extent == (*ORIGIN, ORIGIN[0] + 40.0, ORIGIN[1] + 30.0)
    assert parcel.crs == "WGS 84 / UTM zone 17N (EPSG:32617)"
    assert by_name["utilities"].unit == "metre"


def test_progress_is_told_and_settings_are_handed_on(site: SiteFolder):
    site.document["siting"] = {"candidates": 2}
    said: list[str] = []
    read = read_site(str(site.write()), progress=said.append)
    assert said == ["reading the parcel", "reading the terrain", "reading utilities"]
    assert dict(read.tables) == {"siting": {"candidates": 2}}


def test_the_same_files_give_the_same_site(site: SiteFolder):
    site.add_common()
    path = site.write()
    one, two = read_site(path), read_site(path)
    assert one.records == two.records
    for name in INPUT_LAYERS:
        pd.testing.assert_frame_equal(
            pd.DataFrame(one.layer(name)), pd.DataFrame(two.layer(name)), check_exact=True
        )


# ---------------------------------------------------------------- CRS


def _feet_site(site: SiteFolder) -> tuple[Polygon, LineString]:
    lot = box(2_000_000.0, 700_000.0, 2_000_200.0, 700_100.0)
    main = LineString([(1_999_900.0, 700_050.5), (2_000_300.0, 700_050.5)])
    site.inputs["parcel"]["path"] = "feet.gpkg"
    write_vector(site.folder / "feet.gpkg", [lot], {"lot": ["9"]}, crs="EPSG:2264")
    _lines(site, [main], crs="EPSG:2264", kind=["gas"])
    write_terrain(
        site.folder / "terrain.tif",
        np.full((100, 150), 500.0),
        crs="EPSG:2264",
        west_north=(1_999_900.0, 700_200.0),
        cell=3.0,
        unit="US survey foot",
    )
    return lot, main


def test_feet_become_metres_exactly_and_go_out_as_feet(site: SiteFolder):
    lot, main = _feet_site(site)
    read = read_site(site.write())
    assert read.crs.axis_info[0].unit_name == "metre"
    assert read.output_crs.to_epsg() == 2264
    assert read.parcel.bounds == pytest.approx([v * US_FOOT_M for v in lot.bounds], abs=1e-8)
    assert read.parcel.area == pytest.approx(200.0 * 100.0 * US_FOOT_M**2, rel=1e-9)
    assert read.utilities.geometry[0].length == pytest.approx(400.0 * US_FOOT_M, abs=1e-8)
    assert read.utilities.shift_accuracy_m[0] == 0.0
    levels = read.terrain.values  # noqa: PD011 (a raster's)
    assert float(levels[0, 0]) == pytest.approx(500.0 * US_FOOT_M, abs=1e-4)
    y_m = read.utilities.geometry[0].coords[0][1]
    assert y_m == pytest.approx(main.coords[0][1] * US_FOOT_M, abs=1e-8)


def test_degrees_are_brought_to_the_terrains_grid(site: SiteFolder):
    to_degrees = pyproj.Transformer.from_crs(32617, 4326, always_xy=True)
    lot = shapely.transform(
        at_origin(LOT), lambda xy: np.column_stack(to_degrees.transform(xy[:, 0], xy[:, 1]))
    )
    site.inputs["parcel"] = {"path": "lot.geojson"}
    write_vector(
        site.folder / "lot.geojson",
        [lot],
        {"lot": ["14"]},
        crs="EPSG:4326",
        COORDINATE_PRECISION=12,
    )
    read = read_site(site.write())
    assert read.crs.to_epsg() == read.output_crs.to_epsg() == 32617
    assert read.parcel.hausdorff_distance(at_origin(LOT)) < 1e-4
    assert np.isnan(read.parcel_accuracy_m)


def test_terrain_on_a_grid_that_is_not_true_to_scale_is_not_worked_in(site: SiteFolder):
    to_web = pyproj.Transformer.from_crs(32617, 3857, always_xy=True)
    west, north = to_web.transform(ORIGIN[0] - 30.0, ORIGIN[1] + 60.0)
    write_terrain(
        site.folder / "terrain.tif",
        np.full((130, 150), 100.0),
        crs="EPSG:3857",
        west_north=(west, north),
    )
    read = read_site(site.write())
    assert read.crs.to_epsg() == 32617
    assert read.terrain.crs == read.crs
    inside = read.terrain.sample(np.array([[ORIGIN[0] + 20.0, ORIGIN[1] + 15.0]]))
    assert inside[0] == pytest.approx(100.0)


def test_degrees_everywhere_are_worked_in_the_utm_zone(site: SiteFolder):
    site.inputs["parcel"] = {"path": "lot.geojson"}
    site.inputs.pop("utilities")
    write_vector(
        site.folder / "lot.geojson", [box(-81.0, 36.0, -80.9995, 36.0003)], crs="EPSG:4326"
    )
    write_terrain(
        site.folder / "terrain.tif",
        np.full((60, 100), 10.0),
        crs="EPSG:4326",
        west_north=(-81.0002, 36.0004),
        cell=1e-5,
    )
    read = read_site(site.write())
    assert read.crs.to_epsg() == read.output_crs.to_epsg() == 32617
    degree_m = 111_320.0 * np.cos(np.radians(36.0)), 110_965.0
    assert read.parcel.area == pytest.approx(0.0005 * degree_m[0] * 0.0003 * degree_m[1], rel=0.005)


def test_a_stated_shift_accuracy_reaches_every_line(site: SiteFolder):
    _lines(site, [at_origin(GAS)], crs="EPSG:26917", kind=["gas"])
    with pytest.raises(InputRefused, match="datum shift"):
        read_site(site.write())
    site.inputs["utilities"]["shift_accuracy"] = "2 ft"
    read = read_site(site.write())
    assert read.utilities.shift_accuracy_m[0] == pytest.approx(0.6096)
    assert "0.6096 m" in _notes(read, "utilities")


def test_the_parcels_shift_adds_to_its_accuracy(site: SiteFolder):
    write_vector(site.folder / "nad83.gpkg", [at_origin(LOT)], {"lot": ["1"]}, crs="EPSG:26917")
    site.inputs["parcel"] = {"path": "nad83.gpkg", "accuracy": 0.3, "shift_accuracy": 0.2}
    assert read_site(site.write()).parcel_accuracy_m == pytest.approx(0.5)


def test_a_file_without_crs_takes_the_users_word_and_says_so(site: SiteFolder):
    write_vector(site.folder / "lot.shp", [at_origin(LOT)], {"lot": ["14"]})
    (site.folder / "lot.prj").unlink()
    site.inputs["parcel"] = {"path": "lot.shp", "crs": "EPSG:32617"}
    read = read_site(site.write())
    assert read.parcel.area == pytest.approx(1200.0)
    assert "EPSG:32617 is the site file's word" in _notes(read, "parcel")


# ---------------------------------------------------------------- formats


@pytest.mark.parametrize("suffix", ["gpkg", "shp", "geojson", "fgb", "zip"])
def test_every_format_gives_the_same_lot(site: SiteFolder, suffix: str):
    written = "shp" if suffix == "zip" else suffix
    path = site.folder / f"plot.{written}"
    options = {"RFC7946": "NO"} if suffix == "geojson" else {}
    write_vector(path, [at_origin(LOT)], {"lot": ["14"]}, **options)
    if suffix == "zip":
        with zipfile.ZipFile(site.folder / "plot.zip", "w") as archive:
            for part in sorted(site.folder.glob("plot.*")):
                if part.suffix != ".zip":
                    archive.write(part, f"inner/{part.name}")
    site.inputs["parcel"] = {"path": f"plot.{suffix}", "where": {"lot": 14}}
    read = read_site(site.write())
    assert read.parcel.equals(at_origin(LOT))
    assert read.parcel_id == "14"


def test_a_drawing_gives_the_lines_of_one_layer(site: SiteFolder):
    ring = at_origin(LineString(LOT.exterior.coords))
    write_vector(
        site.folder / "plan.dxf", [ring, at_origin(GAS)], {"Layer": ["LOTS", "MARKS"]}, crs=None
    )
    site.inputs["parcel"] = {"path": "plan.dxf", "crs": "EPSG:32617", "layer": "LOTS"}
    site.inputs["utilities"] = {
        "path": "plan.dxf",
        "crs": "EPSG:32617",
        "layer": "MARKS",
        "same": {"kind": "gas"},
    }
    read = read_site(site.write())
    assert read.parcel.area == pytest.approx(1200.0)
    assert list(read.utilities.kind) == ["gas"]
    site.inputs["parcel"].pop("layer")
    with pytest.raises(InputRefused, match="LOTS, MARKS"):
        read_site(site.write())


def test_styles_of_a_desktop_client_are_no_layer(site: SiteFolder):
    path = site.folder / "utilities.gpkg"
    write_vector(path, [None], {"styleQML": ["<qgis/>"]}, layer="layer_styles")
    assert len(read_site(site.write()).utilities) == 1


def test_heights_are_dropped(site: SiteFolder):
    _lines(site, [shapely.force_3d(at_origin(GAS), 99.0)], kind=["gas"])
    assert not read_site(site.write()).utilities.geometry[0].has_z


def test_several_files_of_lines(site: SiteFolder):
    write_vector(site.folder / "b.gpkg", [at_origin(GAS)], {"id": ["W1"], "kind": ["sewer"]})
    path = site.write()
    text = path.read_text().replace("[inputs.utilities]", "[[inputs.utilities]]")
    path.write_text(text + '[[inputs.utilities]]\npath = "b.gpkg"\n')
    read = read_site(path)
    assert list(read.utilities.id) == ["G1", "W1"]
    assert [r.path for r in read.records if r.name == "utilities"] == ["utilities.gpkg", "b.gpkg"]
    path.write_text(text + '[[inputs.utilities]]\npath = "utilities.gpkg"\n')
    with pytest.raises(InputRefused, match="id G1: the same ids in several files"):
        read_site(path)


def test_numbers_of_several_files_carry_the_layer(site: SiteFolder):
    """The same field twice, as layers of one file without ids."""
    path = site.folder / "net.gpkg"
    for layer, north in (("mains", 0), ("laterals", 2)):
        write_vector(path, _beside(north, north + 1), {"size": [1, 2]}, layer=layer)
    site.inputs.pop("utilities")
    file = site.write()
    table = '[[inputs.utilities]]\npath = "net.gpkg"\nlayer = "{}"\nsame = {{ kind = "sewer" }}\n'
    file.write_text(file.read_text() + table.format("mains") + table.format("laterals"))
    ids = list(read_site(file).utilities.id)
    assert ids == ["mains-1", "mains-2", "laterals-1", "laterals-2"]


def test_ids_that_several_layers_count_apart_carry_the_layer(site: SiteFolder):
    """A network whose layers each number from 1: the lines stay, and each can be named."""
    path = site.folder / "net.gpkg"
    counted = (("mains", [1, 7]), ("laterals", [1, 9]), ("drains", [3, 4]))
    for north, (layer, ids) in enumerate(counted):
        write_vector(path, _beside(2 * north, 2 * north + 1), {"arc": ids}, layer=layer)
    site.inputs.pop("utilities")
    file = site.write()
    table = (
        '[[inputs.utilities]]\npath = "net.gpkg"\nlayer = "{}"\nfields = {{ id = "arc" }}\n'
        'same = {{ kind = "sewer" }}\n'
    )
    layers = ("mains", "laterals", "drains")
    file.write_text(file.read_text() + "".join(table.format(name) for name in layers))
    read = read_site(file)
    ids = ["mains-1", "mains-7", "laterals-1", "laterals-9", "3", "4"]
    assert list(read.utilities.id) == ids
    noted = [r.notes for r in read.records if r.name == "utilities"]
    assert [any("put before them" in note for note in notes) for notes in noted] == [1, 1, 0]


def test_ids_of_files_with_one_layer_name_carry_the_file(site: SiteFolder):
    for stem, line in zip(("gas", "water"), _beside(0, 1), strict=True):
        path = site.folder / f"{stem}.gpkg"
        write_vector(path, [line], {"id": ["1"], "kind": ["gas"]}, layer="marks")
    site.inputs.pop("utilities")
    file = site.write()
    tables = [f'[[inputs.utilities]]\npath = "{stem}.gpkg"\n' for stem in ("gas", "water")]
    file.write_text(file.read_text() + "".join(tables))
    assert list(read_site(file).utilities.id) == ["gas-1", "water-1"]


# ---------------------------------------------------------------- the parcel


def test_a_parcel_is_chosen_by_field_or_by_point(site: SiteFolder):
    lots = [LOT, box(40, 0, 80, 30), box(0, 30, 40, 60)]
    columns = {"lot": [14, 15, 14], "block": ["A", "A", "B"]}
    (site.folder / "parcel.gpkg").unlink()
    write_vector(site.folder / "parcel.gpkg", [at_origin(lot) for lot in lots], columns)
    for choice, wanted in (
        ({"where": {"lot": 15}}, lots[1]),
        ({"where": {"lot": "14", "block": "B"}}, lots[2]),
        ({"at": [ORIGIN[0] + 60.0, ORIGIN[1] + 10.0]}, lots[1]),
    ):
        site.inputs["parcel"] = {"path": "parcel.gpkg", **choice}
        assert read_site(site.write()).parcel.equals(at_origin(wanted))
    site.inputs["parcel"] = {"path": "parcel.gpkg", "where": {"lot": 14}}
    with pytest.raises(InputRefused, match="2 parcels"):
        read_site(site.write())


def test_a_lot_of_two_parts_and_a_hole_is_kept(site: SiteFolder):
    lot = (LOT - box(10, 10, 12, 12)).union(box(50, 0, 60, 10))
    (site.folder / "parcel.gpkg").unlink()
    write_vector(site.folder / "parcel.gpkg", [at_origin(lot)])
    read = read_site(site.write())
    assert read.parcel.area == pytest.approx(1200.0 - 4.0 + 100.0)
    assert len(read.parcel.geoms) == 2


def test_a_mended_parcel_tells_the_change_of_area(site: SiteFolder):
    bow_tie = Polygon([(0.0, 0.0), (40.0, 30.0), (40.0, 0.0), (0.0, 30.0)])
    (site.folder / "parcel.gpkg").unlink()
    write_vector(site.folder / "parcel.gpkg", [at_origin(bow_tie)])
    site.inputs["parcel"]["repair"] = True
    read = read_site(site.write())
    assert read.parcel.area == pytest.approx(600.0)  # two triangles, 40 by 15 each over 2, twice
    assert "crosses itself at 500020.000, 4000015.000; repaired" in _notes(read, "parcel")
    assert "became 600.000 square metre" in _notes(read, "parcel")


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_a_boundary_cut_into_lines_anyhow_closes_to_the_same_lot(tmp_path: Path, data):
    corners = [
        at_origin(Point(xy)).coords[0] for xy in [(0, 0), (40, 0), (45, 12), (40, 30), (0, 30)]
    ]
    cuts = data.draw(st.sets(st.integers(0, 4), min_size=1))
    order = sorted(cuts)
    pieces = []
    for start, end in zip(order, [*order[1:], order[0] + 5], strict=True):
        piece = [corners[i % 5] for i in range(start, end + 1)]
        pieces.append(LineString(piece[::-1] if data.draw(st.booleans()) else piece))
    pieces = data.draw(st.permutations(pieces))
    table = ParcelInput(path="parcel.gpkg")
    path = tmp_path / "parcel.gpkg"
    path.unlink(missing_ok=True)
    write_vector(path, pieces)
    found = read_parcel(table, tmp_path)
    assert found.geometry.area == pytest.approx(Polygon(corners).area, abs=1e-6)
    if len(pieces) > 1:  # one line less, and it is open
        path.unlink()
        write_vector(path, pieces[1:])
        with pytest.raises(InputRefused, match="do not close"):
            read_parcel(table, tmp_path)


def test_lines_of_many_lots_need_a_point_and_an_open_one_is_found_out(site: SiteFolder):
    """Two lots share a side; a gap in that side would join them, and is refused."""
    outer = LineString(box(0, 0, 80, 30).exterior.coords)
    path = site.folder / "parcel.gpkg"
    for middle, fence, words in (
        ([(40, 0), (40, 30)], [(100, 0), (120, 0)], None),
        (
            [(40, 0), (40, 29.5)],
            [(100, 0), (120, 0)],
            "a free end at 500040.000, 4000029.500 and 500040.000, 4000030.000, a gap of 0.500",
        ),
    ):
        path.unlink()
        lines = [outer, LineString(middle), LineString(fence)]
        write_vector(path, [at_origin(line) for line in lines])
        site.inputs["parcel"] = {"path": path.name, "at": [ORIGIN[0] + 5, ORIGIN[1] + 5]}
        if words is None:
            read = read_site(site.write())
            assert read.parcel.area == pytest.approx(1200.0)
            assert "2 free line ends lie outside the parcel" in _notes(read, "parcel")
        else:
            with pytest.raises(InputRefused, match=words):
                read_site(site.write())


def test_terrain_short_of_the_lot_is_noted(site: SiteFolder):
    write_terrain(
        site.folder / "terrain.tif",
        np.full((90, 60), 5.0),
        west_north=(ORIGIN[0] - 30.0, ORIGIN[1] + 60.0),
    )
    assert "300.0 m2 of the parcel lie beyond" in _notes(read_site(site.write()), "terrain")


# ---------------------------------------------------------------- attributes


def test_fields_units_kinds_and_words_of_a_stranger(site: SiteFolder):
    _lines(
        site,
        [at_origin(GAS)] * 3,
        LOC_ID=["a", "b", "c"],
        TYPE=["E", "G", "Potable Water"],
        DIA_IN=[2.0, 0.0, None],
        QL=["B", "ql-d", "B1P"],
        DEPTH=["3", "2 ft 6 in", None],
        STAT=["In use", "Abandoned", None],
        DAY=["2026-05-01", "2026/05/02T10:00:00", None],
    )
    site.inputs["utilities"] |= {
        "fields": {
            "id": "LOC_ID",
            "kind": "TYPE",
            "diameter": "DIA_IN",
            "quality_level": "QL",
            "depth": "DEPTH",
            "status": "STAT",
            "marked_on": "DAY",
        },
        "units": {"diameter": "in", "depth": "ft"},
        "kinds": {"E": "electric", "G": "gas"},
        "words": {"status": {"In use": "live"}},
    }
    read = read_site(site.write())
    lines = read.utilities
    assert list(lines.id) == ["a", "b", "c"]
    assert list(lines.kind) == ["electric", "gas", "potable_water"]
    assert lines.diameter_m[0] == pytest.approx(0.0508)
    assert lines.diameter_m[1:].isna().all()
    assert list(lines.quality_level) == ["QL-B", "QL-D", "QL-B1"]
    assert list(lines.depth_m[:2]) == pytest.approx([0.9144, 0.762])
    assert list(lines.status) == ["live", "abandoned", None]
    assert list(lines.marked_on) == [datetime.date(2026, 5, 1), datetime.date(2026, 5, 2), None]
    assert "diameter 0 taken as unknown: b" in _notes(read, "utilities")


def test_a_foot_grid_does_not_make_its_attributes_feet(site: SiteFolder):
    """Attribute units are metres unless units says otherwise, also where the CRS is in feet."""
    _, main = _feet_site(site)
    _lines(site, [main], crs="EPSG:2264", kind=["gas"], diameter=[0.2])
    assert read_site(site.write()).utilities.diameter_m[0] == 0.2


@pytest.mark.parametrize(
    ("written", "level"),
    [
        ("A", "QL-A"),
        ("QLB", "QL-B"),
        ("QL-C", "QL-C"),
        ("ql d", "QL-D"),
        ("QL-B4P", "QL-B4"),
        (" b2 ", "QL-B2"),
        (None, None),
    ],
)
def test_quality_levels_as_people_write_them(site: SiteFolder, written, level):
    site.utilities(quality_level=written)
    assert read_site(site.write()).utilities.quality_level[0] == level


def test_one_word_for_a_whole_file(site: SiteFolder):
    _lines(site, _beside(0, 1))
    site.inputs["utilities"]["same"] = {"kind": "sewer", "diameter": "8 in", "marked_by": "Crew"}
    lines = read_site(site.write()).utilities
    assert list(lines.kind) == ["sewer", "sewer"]
    assert list(lines.diameter_m) == pytest.approx([0.2032, 0.2032])
    assert list(lines.marked_by) == ["Crew", "Crew"]


def test_a_line_of_no_kind_is_unknown_and_said(site: SiteFolder):
    _lines(site, [at_origin(GAS)], id=["L7"])
    read = read_site(site.write())
    assert list(read.utilities.kind) == ["unknown"]
    assert "kind unknown: L7" in _notes(read, "utilities")


def test_a_field_of_our_name_can_be_left_out(site: SiteFolder):
    site.utilities(status="whatever")
    site.inputs["utilities"]["fields"] = {"status": ""}
    assert read_site(site.write()).utilities.status[0] is None


def test_a_stated_sentinel_is_no_number(site: SiteFolder):
    site.utilities(diameter=-9999.0)
    site.inputs["utilities"]["no_data"] = -9999
    assert np.isnan(read_site(site.write()).utilities.diameter_m[0])


def test_ids_are_made_where_there_are_none(site: SiteFolder):
    _lines(site, _beside(0, 1), kind=["gas", "gas"])
    assert list(read_site(site.write()).utilities.id) == ["1", "2"]
    write_vector(site.folder / "u.shp", _beside(0, 1), {"id": [0, 0], "kind": ["gas"] * 2})
    site.inputs["utilities"] = {"path": "u.shp"}
    read = read_site(site.write())
    assert list(read.utilities.id) == ["1", "2"]
    assert "field id is empty or double" in _notes(read, "utilities")


def test_truths_and_volts(site: SiteFolder):
    site.add("trees", [Point(1, 1), Point(2, 2), Point(3, 3)], deciduous=["yes", "F", None])
    site.add("overhead", [GAS, GAS], voltage=["7.2 kV", "240"], height=[6.0, None])
    read = read_site(site.write())
    assert list(read.trees.deciduous) == [True, False, None]
    assert list(read.overhead.voltage_v) == [7200.0, 240.0]
    assert np.isnan(read.overhead.height_m[1])


@settings(max_examples=30, deadline=None)
@given(
    inches=st.floats(0.5, 60.0, allow_nan=False),
    unit=st.sampled_from([("in", 0.0254), ("ft", 0.3048), ("us-ft", US_FOOT_M), ("mm", 0.001)]),
)
def test_numbers_take_the_factor_of_their_unit(inches: float, unit: tuple[str, float]):
    name, factor = unit
    length = inches * 0.0254 / factor
    table = VectorInput(path="x.gpkg", fields={"diameter": "D"}, units={"diameter": name})
    for written in (length, f"{length!r}"):
        frame = pd.DataFrame({"D": [written]}, index=[1])
        made = made_columns(frame, INPUT_LAYERS["utilities"], table, ANY_FILE).frame
        assert made.diameter_m.iloc[0] == pytest.approx(inches * 0.0254, rel=1e-12)


# ---------------------------------------------------------------- where features are kept


def test_far_features_are_left_out_and_counted(site: SiteFolder):
    near, far = GAS, LineString([(0.0, 400.0), (40.0, 400.0)])
    crossing = LineString([(20.0, -5000.0), (20.0, 5000.0)])
    site.utilities()
    _lines(site, [at_origin(g) for g in (far, near, crossing)], kind=["gas"] * 3)
    read = read_site(site.write())
    assert list(read.utilities.id) == ["2", "3"]
    assert read.utilities.geometry[1].length == pytest.approx(10_000.0)
    assert "1 of 3 features lie over 300 m away" in _notes(read, "utilities")


def test_a_line_at_the_margin_is_kept(site: SiteFolder):
    lines = [LineString([(0.0, y), (40.0, y)]) for y in (329.0, 340.0)]
    _lines(site, [at_origin(line) for line in lines], kind=["gas", "gas"])
    assert list(read_site(site.write()).utilities.id) == ["1"]


def test_lines_off_the_terrain_are_told(site: SiteFolder):
    lines = [GAS, LineString([(0.0, 200.0), (40.0, 200.0)])]
    _lines(site, [at_origin(line) for line in lines], kind=["gas", "sewer"])
    read = read_site(site.write())
    assert list(read.utilities.id) == ["1", "2"]
    assert "1 lines lie wholly outside terrain and parcel: 2" in _notes(read, "utilities")


def test_a_layer_of_no_features_is_told(site: SiteFolder):
    _lines(site, [at_origin(GAS)][:0], kind=[])
    read = read_site(site.write())
    assert read.utilities.empty
    assert "the layer holds no features" in _notes(read, "utilities")


def test_multi_part_lines_stay_one(site: SiteFolder):
    parts = MultiLineString([[(0, 5), (10, 5)], [(20, 5), (30, 5)]])
    site.utilities(parts)
    read = read_site(site.write())
    assert read.utilities.geometry[0].geom_type == "MultiLineString"
    assert read.utilities.geometry[0].length == pytest.approx(20.0)


def test_unknown_words_far_away_do_not_matter(site: SiteFolder):
    lines = [GAS, LineString([(0.0, 900.0), (40.0, 900.0)])]
    _lines(site, [at_origin(line) for line in lines], kind=["gas", "STEAM"])
    assert len(read_site(site.write()).utilities) == 1


# ---------------------------------------------------------------- settings and ticket


def test_tables_of_settings_are_checked_by_the_plan():
    assert dict(CHECKED_TABLES({"siting": {}}, "site.toml")) == {"siting": {}}
    with pytest.raises(
        SettingRefused, match=r"site.toml: unknown table \[sitting\]; valid: .*siting"
    ):
        CHECKED_TABLES({"sitting": {}}, "site.toml")


def test_the_ticket_is_read(site: SiteFolder):
    site.document["ticket"] = {
        "as_of": "2026-05-03",
        "number": 261234,
        "requested_on": "2026-05-01",
        "valid_until": "2026-05-20",
        "state": "NC",
        "responses": {"Gas Co": "marked"},
    }
    site.document["private_locate"] = {"by": "Locator", "on": "2026-05-02"}
    read = read_site(site.write())
    assert read.ticket.as_of == datetime.date(2026, 5, 3)
    assert read.ticket.number == "261234"
    assert dict(read.ticket.responses) == {"Gas Co": "marked"}
    assert read.private_locate is not None
    assert read.private_locate.on == datetime.date(2026, 5, 2)


def test_toml_days_are_read_as_days(site: SiteFolder):
    path = site.write()
    path.write_text(path.read_text() + "[ticket]\nas_of = 2026-05-03\n")
    assert read_site(path).ticket.as_of == datetime.date(2026, 5, 3)
    path.write_text(path.read_text().replace("2026-05-03", "2026-05-03T10:00:00"))
    with pytest.raises(InputRefused, match="not a day"):
        read_site(path)
