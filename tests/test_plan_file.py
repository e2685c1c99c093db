"""An edited plan is read back as it was drawn: the edits are made by SQL, or by another program.

What is drawn must come back to the last digit, turned or left out only where a note says so.
"""

from __future__ import annotations

import math
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import plan_edits
import pyogrio
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_plans import proposed, sample_plan
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.affinity import translate

from geo_site.drawn import Drawn, Earlier
from geo_site.errors import InputRefused
from geo_site.geopackage import write_geopackage
from geo_site.plan import Plan, figures_of
from geo_site.readers import read_drawn

OGR2OGR = shutil.which("ogr2ogr")
LAYERS = (
    "basin", "stream_alignment", "stream_reaches", "stream_falls", "stream_pools", "pipe_run",
    "spoil_pile", "silt_fence", "machine_route", "parcel", "clearances",
)  # fmt: skip


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan file of a small invented lot."""
    return write_geopackage(proposed(), tmp_path_factory.mktemp("plan") / "plan.gpkg")


@pytest.fixture
def plan_file(untouched: Path, tmp_path: Path) -> Path:
    """A copy of it, to be edited."""
    return Path(shutil.copy(untouched, tmp_path / "plan.gpkg"))


def read(path: Path) -> tuple[Drawn, Earlier]:
    """Read a file with the site of the small plan."""
    return read_drawn(path, proposed().site)


def apart_m(one: shapely.Geometry, other: shapely.Geometry) -> float:
    """Greatest difference of any coordinate, vertex by vertex."""
    points = [shapely.get_coordinates(g, include_z=g.has_z) for g in (one, other)]
    assert points[0].shape == points[1].shape
    return float(np.abs(points[0] - points[1]).max())


def check_same(plan: Plan, drawn: Drawn) -> None:
    """What a plan holds must be what was read."""
    assert plan.proposal is not None
    layout, moved = plan.proposal.layout, plan.proposal.earthwork
    assert drawn.basin is not None
    assert drawn.stream is not None
    assert drawn.pipe is not None
    assert apart_m(drawn.basin, shapely.force_2d(plan.proposal.placement.footprint)) < 1e-9
    assert drawn.basin_depth_m == pytest.approx(plan.design.depth_m, abs=1e-12)
    assert apart_m(drawn.stream, layout.alignment) < 1e-9
    assert apart_m(drawn.pipe, shapely.force_2d(layout.pipe)) < 1e-9
    assert [one.kind for one in drawn.reaches] == [one.kind for one in layout.reaches]
    assert len(drawn.falls) == len(layout.falls)
    for fall, kept in zip(layout.falls, drawn.falls, strict=True):
        assert apart_m(kept.lip, Point(fall.x, fall.y, fall.lip_level_m)) < 1e-9
        assert kept.height_m == pytest.approx(fall.height_m, abs=1e-12)
        assert kept.lip_width_m == pytest.approx(fall.lip_width_m, abs=1e-12)
    assert [p.depth_m for p in drawn.pools] == pytest.approx([p.depth_m for p in layout.pools])
    assert (drawn.spoil_pile is None) == (moved.pile is None)
    if moved.pile is not None and drawn.spoil_pile is not None:
        assert apart_m(drawn.spoil_pile, shapely.force_2d(moved.pile.geometry)) < 1e-9
    ways = 0 if drawn.machine_route is None else len(drawn.machine_route.geoms)
    assert ways == len(plan.proposal.routes)
    assert drawn.notes == ()


def test_an_untouched_plan_comes_back_to_the_last_digit(untouched: Path) -> None:
    before = untouched.read_bytes()
    drawn, earlier = read(untouched)
    check_same(proposed(), drawn)
    assert dict(earlier.figures) == pytest.approx(dict(figures_of(proposed())), abs=0.0)
    assert untouched.read_bytes() == before
    assert [path.name for path in untouched.parent.iterdir()] == ["plan.gpkg"]


def test_the_layers_of_a_plan_are_listed_once_in_a_reading_and_anew_in_the_next(
    untouched: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def listed(path: str) -> object:
        asked.append(path)
        return list_layers(path)

    list_layers = pyogrio.list_layers
    monkeypatch.setattr(pyogrio, "list_layers", listed)
    read(untouched)
    assert asked == [str(untouched)]
    read(untouched)
    assert asked == [str(untouched)] * 2


def test_a_plan_in_survey_feet_comes_back_in_metres(tmp_path: Path) -> None:
    plan = sample_plan("hillside")
    assert plan.site.output_crs.axis_info[0].unit_name == "US survey foot"
    drawn, earlier = read_drawn(write_geopackage(plan, tmp_path / "plan.gpkg"), plan.site)
    check_same(plan, drawn)
    assert earlier.figures["fall_m"] == pytest.approx(plan.proposal.layout.fall_m)


def test_what_the_round_trip_looks_at_would_notice_a_millimetre(plan_file: Path) -> None:
    plan_edits.change(plan_file, "basin", lambda g: translate(g, 0.001, 0.0))
    drawn, _ = read(plan_file)
    with pytest.raises(AssertionError):
        check_same(proposed(), drawn)


def test_a_moved_basin_is_read_where_it_was_put(plan_file: Path) -> None:
    was = plan_edits.geometry_of(plan_file, "basin")[0]
    plan_edits.change(plan_file, "basin", lambda g: translate(g, 2.5, -1.25))
    drawn, _ = read(plan_file)
    assert drawn.basin is not None
    assert drawn.basin.centroid.x - was.centroid.x == pytest.approx(2.5, abs=1e-9)
    assert drawn.basin.centroid.y - was.centroid.y == pytest.approx(-1.25, abs=1e-9)


WORKS = {
    "basin": "basin",
    "stream_alignment": "stream",
    "pipe_run": "pipe",
    "spoil_pile": "spoil_pile",
    "machine_route": "machine_route",
}


@pytest.mark.parametrize("how", ["features deleted", "layers dropped"])
def test_a_work_that_is_not_there_is_left_to_be_worked_out(
    untouched: Path, plan_file: Path, how: str
) -> None:
    for layer in WORKS:
        if how == "features deleted":
            plan_edits.run_sql(plan_file, f"DELETE FROM {layer}")
        else:
            plan_edits.drop_layer(plan_file, layer)
    there, gone = read(untouched)[0], read(plan_file)[0]
    assert [work for work in WORKS.values() if getattr(there, work) is None] == []
    assert [work for work in WORKS.values() if getattr(gone, work) is not None] == []


def test_without_a_stream_its_parts_are_not_read(plan_file: Path) -> None:
    plan_edits.drop_layer(plan_file, "stream_alignment")
    drawn, _ = read(plan_file)
    assert (drawn.reaches, drawn.falls, drawn.pools) == ((), (), ())
    assert "reaches without their stream" in drawn.notes[0]


def test_a_basin_moved_far_off_turns_neither_stream_nor_pipe_round(plan_file: Path) -> None:
    """It comes to lie a few metres beyond the lip, which is then the nearer end of both."""
    before, _ = read(plan_file)
    lip, end = (np.array(before.stream.coords[i][:2]) for i in (0, -1))
    away = 1.0 + 4.0 / math.dist(lip, end)
    plan_edits.change(plan_file, "basin", lambda g: translate(g, *(away * (lip - end))))
    found, _ = read(plan_file)
    assert found.basin.distance(Point(lip)) < found.basin.distance(Point(end))
    assert apart_m(found.stream, before.stream) < 1e-6
    assert apart_m(found.pipe, before.pipe) < 1e-6
    assert not [note for note in found.notes if "turned round" in note]


def test_a_stream_drawn_upstream_is_turned_with_its_levels(plan_file: Path) -> None:
    was = plan_edits.geometry_of(plan_file, "stream_alignment")[0]
    plan_edits.change(plan_file, "stream_alignment", shapely.reverse)
    drawn, _ = read(plan_file)
    assert drawn.stream is not None
    assert apart_m(drawn.stream, was) < 1e-9
    assert any("drawn upstream" in note for note in drawn.notes)
    assert len(drawn.reaches) == len(proposed().proposal.layout.reaches)


def test_a_stream_without_a_basin_runs_downhill_by_its_levels_then_by_the_ground(
    plan_file: Path,
) -> None:
    was = plan_edits.geometry_of(plan_file, "stream_alignment")[0]
    plan_edits.drop_layer(plan_file, "basin")
    plan_edits.change(plan_file, "stream_alignment", shapely.reverse)
    assert read(plan_file)[0].stream.coords[0] == pytest.approx(was.coords[0], abs=1e-9)
    plan_edits.change(plan_file, "stream_alignment", shapely.force_2d)
    drawn, _ = read(plan_file)
    assert drawn.stream.coords[0] == pytest.approx(was.coords[0][:2], abs=1e-9)
    assert not drawn.stream.has_z


def test_a_pipe_drawn_from_the_spillway_is_turned(plan_file: Path) -> None:
    was = plan_edits.geometry_of(plan_file, "pipe_run")[0]
    plan_edits.change(plan_file, "pipe_run", shapely.reverse)
    drawn, _ = read(plan_file)
    assert apart_m(drawn.pipe, shapely.force_2d(was)) < 1e-9
    assert any("pipe was drawn from the spillway" in note for note in drawn.notes)


@pytest.mark.parametrize("level_m", [0.0, math.nan])
def test_levels_count_where_every_vertex_has_one(plan_file: Path, level_m: float) -> None:
    def one_new_vertex(line: LineString) -> LineString:
        return LineString([*line.coords[:-1], (*line.coords[-1][:2], level_m)])

    plan_edits.change(plan_file, "stream_alignment", one_new_vertex)
    drawn, _ = read(plan_file)
    assert drawn.stream is not None
    assert not drawn.stream.has_z
    assert any("1 of the stream's vertices have no level" in note for note in drawn.notes)


def test_a_redrawn_stream_drops_its_reaches_and_what_no_longer_lies_on_it(
    plan_file: Path,
) -> None:
    plan_edits.change(plan_file, "stream_alignment", lambda g: translate(g, 0.5, 0.0))
    drawn, _ = read(plan_file)
    assert drawn.reaches == ()
    assert any("reaches do not lie on the stream" in note for note in drawn.notes)
    assert drawn.falls == ()
    assert any("falls do not lie on the stream" in note for note in drawn.notes)


@pytest.mark.parametrize(("moved_m", "are_kept"), [(0.0009, True), (0.0011, False)])
def test_reaches_count_to_a_millimetre(plan_file: Path, moved_m: float, are_kept: bool) -> None:
    plan_edits.change(plan_file, "stream_reaches", lambda g: translate(g, moved_m, 0.0))
    assert bool(read(plan_file)[0].reaches) == are_kept


def test_the_order_of_reaches_is_their_sequence(plan_file: Path) -> None:
    kinds = [reach.kind for reach in read(plan_file)[0].reaches]
    plan_edits.run_sql(
        plan_file,
        "UPDATE stream_reaches SET fid = fid + 1000",
        "UPDATE stream_reaches SET fid = 2000 - fid",
    )
    assert [reach.kind for reach in read(plan_file)[0].reaches] == kinds


def test_cleared_attributes_are_nothing_known(plan_file: Path) -> None:
    for layer in ("basin", "stream_falls", "stream_pools"):
        plan_edits.clear_attributes(plan_file, layer)
    drawn, _ = read(plan_file)
    assert math.isnan(drawn.basin_depth_m)
    assert all(math.isnan(fall.height_m) for fall in drawn.falls)
    assert all(math.isnan(pool.depth_m) for pool in drawn.pools)
    assert drawn.falls
    assert drawn.pools


def test_without_the_plans_own_word_its_figures_are_not_trusted(plan_file: Path) -> None:
    plan_edits.lose_metadata(plan_file)
    drawn, earlier = read(plan_file)
    assert dict(earlier.figures) == {}
    assert math.isnan(drawn.basin_depth_m)
    assert all(math.isnan(fall.height_m) for fall in drawn.falls)
    assert len(drawn.reaches) == len(proposed().proposal.layout.reaches)
    assert any("lost what it said of itself" in note for note in drawn.notes)


def test_shapes_of_one_part_extra_columns_and_names_are_no_matter(plan_file: Path) -> None:
    plan_edits.change(plan_file, "basin", lambda g: MultiPolygon([g]))
    plan_edits.run_sql(plan_file, "ALTER TABLE basin ADD COLUMN remark TEXT")
    plan_edits.rename_geometry(plan_file, "pipe_run", "the_geom")
    drawn, _ = read(plan_file)
    check_same(proposed(), drawn)


def test_a_basin_in_three_dimensions_is_read_in_plan(plan_file: Path) -> None:
    plan_edits.change(plan_file, "basin", lambda g: shapely.force_3d(g, 7.0))
    drawn, _ = read(plan_file)
    assert drawn.basin is not None
    assert not drawn.basin.has_z


@pytest.mark.parametrize("code", [4326])
def test_another_crs_comes_back_to_a_micrometre(plan_file: Path, code: int) -> None:
    for layer in LAYERS:
        plan_edits.reproject(plan_file, layer, proposed().site.crs, code)
    drawn, _ = read(plan_file)
    layout = proposed().proposal.layout
    assert drawn.stream is not None
    assert drawn.basin is not None
    assert apart_m(drawn.stream, layout.alignment) < 1e-6
    assert apart_m(drawn.basin, proposed().proposal.placement.footprint) < 1e-6
    assert len(drawn.reaches) == len(layout.reaches)


@pytest.mark.skipif(OGR2OGR is None, reason="the command ogr2ogr is not installed")
@pytest.mark.parametrize("options", [("-t_srs", "EPSG:4326"), ("-dim", "XY")])
def test_a_plan_rewritten_by_another_program_is_read(
    untouched: Path, tmp_path: Path, options: tuple[str, ...]
) -> None:
    again = tmp_path / "again.gpkg"
    subprocess.run(
        [str(OGR2OGR), "-q", *options, str(again), str(untouched), *LAYERS],
        check=True, capture_output=True,
    )  # fmt: skip
    drawn, earlier = read(again)
    layout = proposed().proposal.layout
    assert drawn.stream is not None
    assert drawn.basin is not None
    is_flat = "XY" in options
    wanted = shapely.force_2d(layout.alignment) if is_flat else layout.alignment
    assert apart_m(drawn.stream, wanted) < 1e-6
    assert apart_m(drawn.basin, proposed().proposal.placement.footprint) < 1e-6
    assert dict(earlier.figures) == {}
    assert any("lost what it said" in note for note in drawn.notes)


def test_a_trigger_in_the_file_is_not_run(plan_file: Path) -> None:
    plan_edits.run_sql(
        plan_file,
        "CREATE TABLE seen (fid INTEGER PRIMARY KEY, word TEXT)",
        "CREATE TRIGGER planted AFTER UPDATE ON gpkg_contents BEGIN "
        "INSERT INTO seen (word) VALUES ('run'); END",
    )
    before = plan_file.read_bytes()
    read(plan_file)
    assert plan_file.read_bytes() == before


Edit = Callable[[Path, str], object]
EDITS: dict[str, Edit] = {
    "drop": plan_edits.drop_layer,
    "delete": lambda path, layer: plan_edits.run_sql(path, f'DELETE FROM "{layer}"'),
    "clear": plan_edits.clear_attributes,
    "2D": lambda path, layer: plan_edits.change(path, layer, shapely.force_2d),
    "3D": lambda path, layer: plan_edits.change(path, layer, shapely.force_3d),
    "twice": plan_edits.copy_features,
    "turn": lambda path, layer: plan_edits.change(path, layer, shapely.reverse),
    "move": lambda path, layer: plan_edits.change(path, layer, lambda g: translate(g, 3.0, 1.0)),
    "far": lambda path, layer: plan_edits.change(path, layer, lambda g: translate(g, 9e5, 0.0)),
    "no shape": lambda path, layer: plan_edits.change(path, layer, lambda g: None),
    "empty": lambda path, layer: plan_edits.change(path, layer, lambda g: Polygon()),
    "point": lambda path, layer: plan_edits.change(path, layer, lambda g: g.centroid),
    "hull": lambda path, layer: plan_edits.change(path, layer, lambda g: g.convex_hull),
    "nan": lambda path, layer: plan_edits.change(
        path, layer, lambda g: LineString([(math.nan, 0.0), (1.0, 1.0)])
    ),
    "degrees": lambda path, layer: plan_edits.reproject(path, layer, proposed().site.crs, 4326),
    "wrong crs": lambda path, layer: plan_edits.set_srs(path, layer, 4326),
    "no crs": lambda path, layer: plan_edits.set_srs(path, layer, 0),
    "lose": lambda path, layer: plan_edits.lose_metadata(path),
}


def read_or_refused(path: Path) -> tuple[Drawn, InputRefused | None]:
    """Read a file; whatever else is raised fails the test."""
    try:
        return read(path)[0], None
    except InputRefused as refused:
        return Drawn(), refused


def check_edited(untouched: Path, folder: Path, edits: list[tuple[str, str]]) -> None:
    """Any edits give works in metres on the site, or a refusal in one line."""
    path = Path(shutil.copy(untouched, folder / "edited.gpkg"))
    dropped: set[str] = set()
    for name, layer in edits:
        if layer in dropped:
            continue
        EDITS[name](path, layer)
        dropped |= {layer} if name == "drop" else set()
    drawn, refused = read_or_refused(path)
    if refused is not None:
        assert "\n" not in str(refused)
        assert refused.file == "edited.gpkg"
        assert refused.remedy
        return
    for work in (drawn.basin, drawn.stream, drawn.pipe, drawn.spoil_pile):
        if work is not None:
            assert work.is_valid
            assert not work.is_empty
            assert work.intersects(proposed().site.terrain.outline)
    assert not drawn.reaches or drawn.stream is not None


edit_lists = st.lists(
    st.tuples(st.sampled_from(sorted(EDITS)), st.sampled_from(LAYERS)), min_size=1, max_size=5
)
SOME = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]


@settings(max_examples=5, deadline=None, derandomize=True, suppress_health_check=SOME)
@given(edits=edit_lists)
def test_any_edit_gives_works_or_a_refusal(
    untouched: Path, tmp_path: Path, edits: list[tuple[str, str]]
) -> None:
    check_edited(untouched, tmp_path, edits)


@pytest.mark.slow
@settings(max_examples=400, deadline=None, suppress_health_check=SOME)
@given(edits=edit_lists)
def test_four_hundred_edits(untouched: Path, tmp_path: Path, edits: list[tuple[str, str]]) -> None:
    check_edited(untouched, tmp_path, edits)
