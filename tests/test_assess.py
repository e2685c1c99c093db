"""A person's own layout: kept as drawn, judged, and set beside the plan that it came from."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from drawn_plans import drawn_of, without_levels
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from made_plans import proposed, sample_plan
from shapely import LineString, MultiPolygon, Point, Polygon, affinity, force_2d, get_coordinates
from shapely.geometry import box

from geo_site.drawn import Drawn, Earlier
from geo_site.errors import InputRefused
from geo_site.plan import (
    Change,
    Kept,
    Plan,
    Settings,
    assess,
    figures_of,
    propose,
    told_changes,
)
from geo_site.tables import drawn_lines, plan_document, write_changes

KEPT = Kept()
QUICK = {"certainty": {"simulations": 0}}


def plan() -> Plan:
    return proposed()


def judged(drawn: Drawn, earlier: Earlier | None = None) -> Plan:
    """Assess on the made site, its terrain worked out once."""
    tables = {**plan().site.tables, **QUICK}
    return assess(plan().site, drawn, earlier, settings=Settings.from_tables(tables), kept=KEPT)


def works_of(result: Plan) -> dict[str, object]:
    assert result.proposal is not None
    moved = result.proposal.earthwork
    return {
        "basin": result.proposal.placement.footprint,
        "stream": force_2d(result.proposal.layout.alignment),
        "spoil_pile": moved.pile.geometry if moved.pile else None,
    }


# An untouched plan.


@pytest.mark.parametrize("name", ["hillside", "lidar"])
def test_an_untouched_plan_gives_the_same_figures(name: str) -> None:
    before = sample_plan(name)
    again = assess(before.site, drawn_of(before), Earlier(figures=figures_of(before)))
    assert again.status == "assessed"
    now = figures_of(again)
    assert set(now) == set(figures_of(before))
    for figure, value in figures_of(before).items():
        assert now[figure] == pytest.approx(value, rel=1e-6, abs=1e-9), figure
    assert again.breaches == ()
    assert all(change.difference == 0.0 for change in again.changes)
    assert [row.verdict for row in again.clearances] == [row.verdict for row in before.clearances]
    assert set(again.sources.values()) == {"drawn"}


def test_a_line_without_levels_gets_the_bed_that_was_proposed() -> None:
    """The same line and the same method: the same bed."""
    before = plan().proposal
    again = judged(without_levels(drawn_of(plan()))).proposal
    assert before is not None
    assert again is not None
    assert again.layout.bed_m == pytest.approx(before.layout.bed_m, abs=1e-9)
    assert [r.kind for r in again.layout.reaches] == [r.kind for r in before.layout.reaches]


# What is drawn is kept.


def test_a_moved_basin_stays_where_it_was_put() -> None:
    moved = affinity.rotate(affinity.translate(drawn_of(plan()).basin, 1.0, -0.7), 9.0)
    result = judged(Drawn(basin=moved))
    assert result.proposal is not None
    assert result.proposal.placement.footprint.equals_exact(moved, 0.0)
    assert result.sources["basin"] == "drawn"
    assert result.sources["stream"] == "worked out"
    for row in result.clearances:
        if row.work == "basin_excavation" and row.rule == "utility":
            line = result.site.utilities.set_index("id").loc[row.against]
            half_m = 0.0 if np.isnan(line.diameter_m) else line.diameter_m / 2
            pit = result.proposal.placement.excavation
            assert row.clearance_m == pytest.approx(max(pit.distance(line.geometry) - half_m, 0.0))


def test_a_basin_on_a_line_is_kept_and_not_met() -> None:
    line = plan().site.utilities.geometry.iloc[0]
    middle = line.interpolate(0.5, normalized=True)
    basin = box(middle.x - 1.6, middle.y - 2.2, middle.x + 1.6, middle.y - 1.0)
    basin = affinity.translate(basin, 0.0, 1.6)
    result = judged(Drawn(basin=basin))
    assert result.proposal is not None
    assert result.proposal.placement.footprint.equals_exact(basin, 0.0)
    assert result.breaks_rules
    row = next(r for r in result.conflicts if r.work == "basin_excavation" and r.rule == "utility")
    assert row.clearance_m == 0.0
    free = result.grounds["stream"].free.buffer(1e-6).covers(result.proposal.layout.dig)
    assert any("blocked ground" in told for told in result.warnings) != free
    assert not free


def test_a_basin_of_another_size_takes_the_whole_units_that_fit() -> None:
    """3.3 by 1.9 m takes four units of 0.8 m along and three of 0.6 m across."""
    place = plan().proposal.placement
    basin = box(place.x - 1.65, place.y - 0.95, place.x + 1.65, place.y + 0.95)
    result = judged(Drawn(basin=basin))
    assert result.design.units == 12
    assert result.design.stored_m3 == pytest.approx(12 * 0.8 * 0.6 * 0.45 * 0.95)
    assert any("whole void units" in told for told in result.warnings)


def test_a_basin_that_is_no_rectangle_is_dug_as_drawn() -> None:
    """On level ground an excavation is the outline, overdig and batter: a mitred, rounded ring."""
    place = plan().proposal.placement
    corner = Polygon([(0, 0), (4, 0), (4, 1.3), (1.3, 1.3), (1.3, 3), (0, 3)])
    basin = affinity.translate(corner, place.x - 2.0, place.y - 1.5)
    result = judged(Drawn(basin=basin))
    assert result.proposal is not None
    assert result.proposal.placement.footprint.equals_exact(basin, 0.0)
    assert result.proposal.placement.excavation.covers(basin.buffer(result.design.overdig_m * 0.99))
    units = [(5, 2), (1, 2)]  # along the long leg and on the short one, at least
    assert result.design.units >= sum(a * b for a, b in units) - 2


def test_a_basin_too_small_for_a_unit_is_refused() -> None:
    place = plan().proposal.placement
    with pytest.raises(InputRefused, match="takes no void unit"):
        judged(Drawn(basin=box(place.x, place.y, place.x + 0.5, place.y + 0.5)))


def test_nothing_drawn_is_refused() -> None:
    with pytest.raises(InputRefused, match="no work is drawn"):
        judged(Drawn())


def test_a_pile_stays_and_what_it_does_not_hold_is_hauled() -> None:
    """A small toe at the angle of repose holds little; the balance still closes."""
    drawn = drawn_of(plan())
    place = plan().proposal.placement
    toe = Point(place.x + 9.0, place.y + 4.0).buffer(1.0)
    result = judged(replace(drawn, spoil_pile=toe, silt_fence=None))
    moved = result.proposal.earthwork
    assert moved.pile.geometry.equals_exact(toe, 0.0)
    slope = np.tan(np.radians(result.settings.earthwork.repose_angle))
    assert moved.pile.volume_m3 < np.pi / 3.0 * slope * 1.1  # less than its cone on even ground
    assert moved.haul_m3 == pytest.approx(moved.loose_m3 - moved.pile.volume_m3)


def test_a_pile_at_the_edge_of_the_pit_is_told() -> None:
    drawn = drawn_of(plan())
    toe = affinity.translate(drawn.basin, 1.0, 1.0).buffer(1.0)
    result = judged(replace(drawn, spoil_pile=toe))
    rules = {breach.rule for breach in result.breaches}
    assert "pile_setback" in rules
    assert result.breaks_rules


def test_a_stream_uphill_is_told_and_its_levels_are_worked_out() -> None:
    drawn = drawn_of(plan())
    xyz = get_coordinates(drawn.stream, include_z=True)
    xyz[3, 2] += 0.5
    result = judged(replace(drawn, stream=LineString(xyz), reaches=()))
    assert "uphill" in {breach.rule for breach in result.breaches}
    assert np.all(np.diff(result.proposal.layout.bed_m) <= 1e-9)
    assert np.array_equal(get_coordinates(result.proposal.layout.alignment), xyz[:, :2])


def test_a_stream_that_ends_short_is_kept_and_told() -> None:
    drawn = without_levels(drawn_of(plan()))
    short = LineString(get_coordinates(drawn.stream)[:-8])
    result = judged(replace(drawn, stream=short, pipe=None))
    told = next(b for b in result.breaches if b.rule == "ends_in_basin")
    assert told.found == pytest.approx(drawn.basin.distance(Point(short.coords[-1])))
    drawn_on = get_coordinates(result.proposal.layout.alignment)
    assert (
        LineString(drawn_on).equals(short) or LineString(drawn_on).hausdorff_distance(short) < 1e-9
    )


def test_works_on_ground_to_be_kept_off_are_told_with_their_area() -> None:
    drawn = drawn_of(plan())
    strip = box(*drawn.basin.bounds)
    result = judged(replace(drawn, keep_off=MultiPolygon([strip])))
    told = next(b for b in result.breaches if (b.work, b.rule) == ("basin_excavation", "keep_off"))
    pit = result.proposal.placement.excavation
    assert told.found == pytest.approx(pit.intersection(strip).area, rel=1e-6)


def test_only_a_stream_brings_its_basin_to_its_end() -> None:
    drawn = drawn_of(plan())
    result = judged(Drawn(stream=force_2d(drawn.stream)))
    assert result.proposal is not None
    end = Point(drawn.stream.coords[-1])
    assert result.proposal.placement.footprint.covers(end)
    assert result.sources["basin"] == "worked out"


# Pins of the site file.


def test_propose_works_around_what_the_site_file_pins() -> None:
    drawn = drawn_of(plan())
    moved = affinity.translate(drawn.basin, 0.0, 1.0)
    site = replace(plan().site, fixed=Drawn(basin=moved))
    result = propose(site, Settings.from_tables({**site.tables, **QUICK}))
    assert result.status == "proposed"
    assert result.proposal.placement.footprint.equals_exact(moved, 0.0)


def test_ground_to_be_kept_off_moves_the_proposal() -> None:
    best = plan().proposal.placement.excavation
    site = replace(plan().site, fixed=Drawn(keep_off=MultiPolygon([best])))
    result = propose(site, Settings.from_tables({**site.tables, **QUICK}))
    assert result.proposal is not None
    assert result.proposal.placement.excavation.intersection(best).area < 1e-6
    assert result.breaches == ()


# What is told of it.


def test_changes_are_differences_of_the_figures(tmp_path: Path) -> None:
    earlier = Earlier(figures=figures_of(plan()))
    moved = affinity.translate(drawn_of(plan()).basin, 0.8, 0.4)
    result = judged(Drawn(basin=moved), earlier)
    now = figures_of(result)
    assert {c.name for c in result.changes} == set(now) | set(earlier.figures)
    for change in result.changes:
        if change.name in now and change.name in earlier.figures:
            apart = now[change.name] - earlier.figures[change.name]
            assert change.difference == pytest.approx(apart, abs=1e-5)
    with write_changes(result, tmp_path / "a.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["figure"] for row in rows] == [change.name for change in result.changes]
    told = json.loads(json.dumps(plan_document(result)))
    assert told["status"] == "assessed"
    assert told["sources"]["basin"] == "drawn"
    assert all(len(line) <= 60 for line in drawn_lines(result))


def test_what_was_proposed_has_no_breaches_and_no_changes() -> None:
    assert plan().breaches == ()
    assert plan().changes == ()
    assert list(drawn_lines(plan())) == []


# Any edit gives a plan or a refusal, and nothing drawn moves.

EDITS = st.lists(
    st.tuples(
        st.sampled_from(["move", "turn", "scale", "drop", "levels", "vertex", "double"]),
        st.sampled_from(["basin", "stream", "pipe", "spoil_pile", "machine_route"]),
        st.floats(-3.0, 3.0),
        st.floats(-3.0, 3.0),
    ),
    min_size=1,
    max_size=4,
)


def edited(drawn: Drawn, edits: list[tuple[str, str, float, float]]) -> Drawn:
    """Apply edits as a person would make them."""
    for how, name, a, b in edits:
        work = getattr(drawn, name)
        if work is None:
            continue
        if how == "move":
            work = affinity.translate(work, 3.0 * a, 3.0 * b)
        elif how == "turn":
            work = affinity.rotate(work, 60.0 * a)
        elif how == "scale":
            work = affinity.scale(work, 1.0 + 0.25 * a, 1.0 + 0.25 * b)
        elif how == "drop":
            work = None
        elif how == "levels" and name == "stream":
            work = force_2d(work)
        elif how == "vertex" and name == "stream":
            xyz = get_coordinates(work, include_z=work.has_z)
            xyz[len(xyz) // 2, :2] += a, b
            work = LineString(xyz)
        elif how == "double" and name == "stream":
            work = LineString(np.repeat(get_coordinates(work, include_z=work.has_z), 2, axis=0))
        drawn = replace(drawn, **{name: work})
    return drawn


def check_edits(edits: list[tuple[str, str, float, float]]) -> None:
    drawn = edited(drawn_of(plan()), edits)
    try:
        result = judged(drawn)
    except InputRefused:
        return
    if result.proposal is None:
        assert result.no_place
        return
    assert result.status == "assessed"
    found = works_of(result)
    for name in ("basin", "spoil_pile"):
        if getattr(drawn, name) is not None:
            assert found[name].equals_exact(getattr(drawn, name), 0.0), name
    if drawn.stream is not None:
        assert found["stream"].hausdorff_distance(force_2d(drawn.stream)) < 1e-6
    for row in result.clearances:
        assert row.verdict in ("met", "hand_dig", "not_met", "unknown")
    json.dumps(plan_document(result), allow_nan=False)


FOUND = (Phase.explicit, Phase.reuse, Phase.generate)  # a plan a second: no shrinking


@settings(
    max_examples=10,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
    phases=FOUND,
)
@given(edits=EDITS)
def test_an_edit_gives_a_plan_or_a_refusal(edits: list[tuple[str, str, float, float]]) -> None:
    check_edits(edits)


@pytest.mark.slow
@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck), phases=FOUND)
@given(edits=EDITS)
def test_two_hundred_edits(edits: list[tuple[str, str, float, float]]) -> None:
    check_edits(edits)


def test_changes_are_told_alike_everywhere_and_only_where_they_can_be_seen() -> None:
    """By hand: 1 ft is 0.3048 m, 1 gal 3.785 L; 0.9996 m to a line is never told as 1.00 m."""
    rows = [
        ("fall_m", "fall", "m", 0.9144, 0.6096),
        ("basin_to_lines_m", "basin to lines", "m", 2.0, 0.9996),
        ("water_stored_m3", "water stored", "m3", 1.0, 1.0 + 1e-5),
        ("falls_count", "falls", "-", 3.0, 4.0),
        ("haul_m3", "haul", "m3", math.nan, 1.0),
    ]
    changes = tuple(
        Change(name=name, words=words, unit=unit, before=a, after=b, difference=b - a)
        for name, words, unit, a, b in rows
    )
    edited = replace(plan(), changes=changes)
    told = [
        (one.words, one.before, one.after, one.difference) for one in told_changes(edited, "us")
    ]
    assert told[0] == ("fall", "3.00 ft", "2.00 ft", "-1.00 ft")
    assert told[1] == ("basin to lines", "6.56 ft", "3.27 ft", "-3.28 ft")
    assert [words for words, *_ in told] == ["fall", "basin to lines", "falls", "haul"]
    assert told[3][1] == "none"
    assert told_changes(edited, "si")[1].after == "0.99 m"


@pytest.mark.parametrize("name", ["hillside", "lidar"])
def test_round_the_end_of_a_kept_stream_a_basin_is_found_again(name: str) -> None:
    """Its own place lies there free; the best places near it do not cover the stream's end."""
    plan = sample_plan(name)
    drawn = replace(drawn_of(plan), basin=None, basin_depth_m=math.nan)
    again = assess(plan.site, drawn)
    assert again.status == "assessed"
    assert again.proposal.placement.footprint.covers(Point(drawn.stream.coords[-1]))
