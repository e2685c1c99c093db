"""Drawn works that cannot be used are refused in one line: file, layer, ids, fault, remedy.

:data:`BAD_PLANS` and :data:`BAD_PINS` are the lists, as data: how a good plan file or a good
``[fixed]`` is broken, and the words that the message must hold.
"""

from __future__ import annotations

import copy
import math
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import plan_edits
import pytest
import shapely
from plan_files import BASIN, STREAM, small_plan
from pyproj import CRS
from shapely import LineString, MultiPolygon, Point, Polygon, box
from shapely.affinity import translate
from site_files import ORIGIN, SiteFolder, at_origin, write_vector

from geo_site.errors import InputRefused
from geo_site.readers import check_rows, read_drawn, read_site
from geo_site.site import Site

Break = Callable[[SiteFolder], object]


@dataclass(frozen=True)
class BadPlan:
    """One way in which a drawn work cannot be used."""

    name: str
    break_it: Break
    words: tuple[str, ...]


def _plan(site: SiteFolder) -> Path:
    return site.folder / "plan.gpkg"


def _edit(layer: str, to: Callable[[shapely.Geometry], shapely.Geometry | None]) -> Break:
    return lambda site: plan_edits.change(_plan(site), layer, to)


def _again(layer: str) -> Break:
    return lambda site: plan_edits.copy_features(_plan(site), layer)


def _anew(**keys: int) -> Break:
    def break_it(site: SiteFolder) -> None:
        _plan(site).unlink()
        small_plan(site.folder, **keys)

    return break_it


def _bytes(content: bytes) -> Break:
    return lambda site: _plan(site).write_bytes(content)


def _only_roads(site: SiteFolder) -> None:
    _plan(site).unlink()
    write_vector(_plan(site), [at_origin(box(0, 0, 1, 1))], layer="roads")


def _bow(shape: shapely.Geometry) -> Polygon:
    west, south, east, north = shape.bounds
    return Polygon([(west, south), (east, north), (east, south), (west, north)])


def _holed(shape: shapely.Geometry) -> Polygon:
    return Polygon(shape.exterior, [shape.centroid.buffer(0.5).exterior])


def _parts(shape: shapely.Geometry) -> MultiPolygon:
    return MultiPolygon([shape, translate(shape, 8.0, 0.0)])


def _old_datum(site: SiteFolder) -> None:
    plan_edits.set_srs(_plan(site), "basin", 26717, CRS.from_epsg(26717))


BAD_PLANS = (
    BadPlan("no such plan", lambda s: _plan(s).unlink(), ("plan.gpkg", "no such file")),
    BadPlan("a plan that is no GeoPackage", _bytes(b'{"type": "FeatureCollection"}'),
            ("plan.gpkg", "GeoJSON", "get it again")),
    BadPlan("a GeoPackage cut short", _bytes(b"SQLite format 3\x00" + b"\x00" * 4000),
            ("plan.gpkg", "cannot be read")),
    BadPlan("a GeoPackage without a plan", _only_roads,
            ("plan.gpkg", "no layer of a plan", "stream_alignment")),
    BadPlan("a plan of another version", _anew(version=99),
            ("plan.gpkg", "version 99", "version 1", "propose again")),
    BadPlan("a plan of another site", _edit("parcel", lambda g: translate(g, 300.0, 0.0)),
            ("plan.gpkg", "layer parcel", "id 1", "another site", "site file that it was made")),
    BadPlan("a plan that another program still holds",
            lambda s: (s.folder / "plan.gpkg-wal").write_bytes(b"edits"),
            ("plan.gpkg", "another program has it open", "close the program")),
    BadPlan("two basins", _again("basin"),
            ("plan.gpkg", "layer basin", "id 1, 2", "2 features", "delete all but one")),
    BadPlan("a basin of two parts", _edit("basin", _parts),
            ("layer basin", "id 1", "2 parts", "delete all but one")),
    BadPlan("two streams", _again("stream_alignment"),
            ("layer stream_alignment", "id 1, 2", "one stream", "delete all but one")),
    BadPlan("a basin drawn as a line", _edit("basin", lambda g: g.exterior),
            ("layer basin", "id 1", "an area", "draw")),
    BadPlan("a basin drawn as a point", _edit("basin", lambda g: g.centroid),
            ("layer basin", "id 1", "an area", "draw")),
    BadPlan("a stream drawn as an area", _edit("stream_alignment", lambda g: g.buffer(1.0)),
            ("layer stream_alignment", "id 1", "a line", "draw")),
    BadPlan("a basin that crosses itself", _edit("basin", _bow),
            ("layer basin", "id 1", "crosses itself", "500020", "draw it again")),
    BadPlan("a basin with a hole", _edit("basin", _holed),
            ("layer basin", "id 1", "hole", "draw it without")),
    BadPlan("a basin without a shape", _edit("basin", lambda g: None),
            ("layer basin", "id 1", "without geometry", "draw it or delete it")),
    BadPlan("an empty basin", _edit("basin", lambda g: Polygon()),
            ("layer basin", "id 1", "without geometry", "draw it or delete it")),
    BadPlan("a stream of no length",
            _edit("stream_alignment", lambda g: LineString([g.coords[0]] * 2)),
            ("layer stream_alignment", "id 1", "draw it again")),
    BadPlan("coordinates that are not finite",
            _edit("stream_alignment", lambda g: LineString([(math.nan, 1.0), (1.0, 2.0)])),
            ("layer stream_alignment", "id 1", "not finite", "draw it again")),
    BadPlan("a basin off the terrain", _edit("basin", lambda g: translate(g, 500.0, 0.0)),
            ("layer basin", "id 1", "outside the terrain", "move it")),
    BadPlan("a layer without a CRS", lambda s: plan_edits.set_srs(_plan(s), "basin", 0),
            ("plan.gpkg", "layer basin", "which CRS", "the other layers")),
    BadPlan("metres that say they are degrees",
            lambda s: plan_edits.set_srs(_plan(s), "basin", 4326),
            ("plan.gpkg", "layer basin", "not degrees")),
    BadPlan("a datum whose shift is too poor", _old_datum, ("plan.gpkg", "NAD27")),
)  # fmt: skip


def _pin(name: str, **keys: object) -> Break:
    return lambda site: site.document["fixed"].update({name: keys})


def _pins(**keys: object) -> Break:
    return lambda site: site.document["fixed"].update(keys)


BAD_PINS = (
    BadPlan("[fixed] with an unknown work", _pin("well", path="plan.gpkg"),
            ("site.toml", "fixed.well", "keep_off")),
    BadPlan("[fixed] with an unknown key", _pin("basin", path="plan.gpkg", lajer="basin"),
            ("site.toml", "fixed.basin.lajer", "layer")),
    BadPlan("a pinned work without a file", _pin("basin", layer="basin"),
            ("site.toml", "[fixed.basin] has no path")),
    BadPlan("a pinned work whose file is not there", _pin("basin", path="none.gpkg"),
            ("none.gpkg", "fixed.basin", "no such file")),
    BadPlan("a pinned work twice", _pins(plan="plan.gpkg", layers=["basin"],
                                         basin={"path": "plan.gpkg", "layer": "basin"}),
            ("site.toml", "basin is pinned twice")),
    BadPlan("a plan without the works wanted of it", _pins(plan="plan.gpkg"),
            ("site.toml", "plan and layers together")),
    BadPlan("a work that the plan has not", _pins(plan="plan.gpkg", layers=["pipe"]),
            ("plan.gpkg", "pipe_run", "takes the pipe", "fixed.layers")),
    BadPlan("a work that no plan has", _pins(plan="plan.gpkg", layers=["dig_area"]),
            ("site.toml", "dig_area", "valid: basin")),
    BadPlan("where that fits nothing", _pin("basin", path="plan.gpkg", layer="basin",
                                            where={"depth_m": 3}),
            ("plan.gpkg", "layer basin", "no feature has depth_m = 3")),
    BadPlan("at where nothing lies", _pin("basin", path="plan.gpkg", layer="basin",
                                          at=[ORIGIN[0], ORIGIN[1]]),
            ("plan.gpkg", "layer basin", "no feature lies at the point")),
    BadPlan("a pinned stream that is an area", _pin("stream", path="plan.gpkg", layer="basin"),
            ("plan.gpkg", "layer basin", "id 1", "a line")),
)  # fmt: skip


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> SiteFolder:
    """A site that is read, and a plan file beside it that is read too."""
    site = SiteFolder(tmp_path_factory.mktemp("site"))
    small_plan(site.folder)
    site.write()
    return site


@pytest.fixture(scope="module")
def good_site(good: SiteFolder) -> Site:
    """The site, read once."""
    return read_site(good.folder / "site.toml")


@pytest.fixture
def broken(good: SiteFolder, tmp_path: Path) -> SiteFolder:
    """A copy of it."""
    return copied(good, tmp_path / "site")


def copied(good: SiteFolder, folder: Path) -> SiteFolder:
    """Copy a site folder; its own ``[fixed]`` is empty."""
    shutil.copytree(good.folder, folder)
    site = copy.copy(good)
    site.folder, site.document = folder, copy.deepcopy(good.document)
    site.document["fixed"] = {}
    return site


def check_told(refused: InputRefused, words: tuple[str, ...]) -> None:
    """One line that holds all the words."""
    message = str(refused)
    assert "\n" not in message
    assert [word for word in words if word not in message] == [], message


def test_the_good_plan_is_read(good: SiteFolder, good_site: Site) -> None:
    drawn, earlier = read_drawn(_plan(good), good_site)
    assert drawn.basin is not None
    assert drawn.stream is not None
    assert drawn.basin.equals(at_origin(BASIN))
    assert [z for _, _, z in drawn.stream.coords] == [z for _, _, z in STREAM.coords]
    assert drawn.basin_depth_m == 0.7
    assert dict(earlier.figures) == {"fall_m": 1.0}
    assert drawn.notes == ()


@pytest.mark.parametrize("case", BAD_PLANS, ids=lambda case: case.name)
def test_a_plan_that_cannot_be_used_is_refused(
    case: BadPlan, good_site: Site, broken: SiteFolder
) -> None:
    case.break_it(broken)
    with pytest.raises(InputRefused) as refused:
        read_drawn(_plan(broken), good_site)
    check_told(refused.value, case.words)


@pytest.mark.parametrize("case", BAD_PINS, ids=lambda case: case.name)
def test_a_pin_that_cannot_be_used_is_refused(case: BadPlan, broken: SiteFolder) -> None:
    case.break_it(broken)
    with pytest.raises(InputRefused) as refused:
        read_site(write(broken))
    check_told(refused.value, case.words)


def write(site: SiteFolder) -> Path:
    """Write the site file with its ``[fixed]``, whose tables stand in it."""
    fixed = site.document.pop("fixed")
    path = site.write()
    lines = ["[fixed]"] + [_line(k, v) for k, v in fixed.items() if not isinstance(v, dict)]
    for name, table in fixed.items():
        if isinstance(table, dict):
            lines += [f"[fixed.{name}]", *(_line(key, value) for key, value in table.items())]
    path.write_text(path.read_text(encoding="utf-8") + "\n".join(lines) + "\n", encoding="utf-8")
    return path


def _line(key: str, value: object) -> str:
    if isinstance(value, dict):
        return f"{key} = {{ " + ", ".join(_line(k, v) for k, v in value.items()) + " }"
    return f"{key} = {list(value) if isinstance(value, list) else value!r}"


def test_works_and_ground_are_pinned_from_files(broken: SiteFolder) -> None:
    write_vector(broken.folder / "keep.geojson", [Polygon([(-81.0, 36.14), (-80.99, 36.14),
                 (-80.99, 36.15)])], crs="EPSG:4326")  # fmt: skip
    points = [at_origin(Point(20.0, 12.0)), at_origin(Point(21.0, 10.0))]
    write_vector(broken.folder / "pass.shp", points)
    broken.document["fixed"] = {
        "basin": {"path": "plan.gpkg", "layer": "basin", "where": {"depth_m": 0.7}},
        "keep_off": {"path": "keep.geojson"},
        "must_pass": {"path": "pass.shp"},
    }
    site = read_site(write(broken))
    assert site.fixed.basin is not None
    assert site.fixed.basin.equals(at_origin(BASIN))
    assert [(p.x, p.y) for p in site.fixed.must_pass.geoms] == [(p.x, p.y) for p in points]
    assert site.fixed.keep_off.area > 0.0
    assert site.fixed.notes == ()
    rows = {row.name: row for row in check_rows(site)}
    assert rows["fixed.must_pass"].count == 2
    assert rows["fixed.keep_off"].path == "keep.geojson"
    record = next(r for r in site.records if r.name == "fixed.basin")
    assert len(record.sha256) == 64
    assert "32617" in record.crs


def test_works_of_an_edited_plan_are_pinned(broken: SiteFolder) -> None:
    broken.document["fixed"] = {"plan": "plan.gpkg", "layers": ["stream"]}
    site = read_site(write(broken))
    assert site.fixed.basin is None
    assert site.fixed.stream is not None
    assert site.fixed.stream.has_z
    assert len(site.fixed.falls) == 1
    assert {r.name for r in site.records if r.name.startswith("fixed")} == {
        "fixed.stream_alignment", "fixed.stream_falls",
    }  # fmt: skip


def test_a_pinned_stream_has_its_own_spillway(broken: SiteFolder) -> None:
    write_vector(broken.folder / "lip.gpkg", [at_origin(Point(21.0, 20.0))])
    broken.document["fixed"] = {
        "spillway": {"path": "lip.gpkg"},
        "stream": {"path": "plan.gpkg", "layer": "stream_alignment"},
    }
    fixed = read_site(write(broken)).fixed
    assert fixed.spillway is not None
    assert fixed.spillway.coords[0] == (ORIGIN[0] + 21.0, ORIGIN[1] + 20.0)
    assert any("has its own" in note for note in fixed.notes)


def test_nothing_is_pinned_where_nothing_is_said(good_site: Site) -> None:
    assert not good_site.fixed.has_works
