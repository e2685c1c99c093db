"""Lines as exposed: moved through what was seen, QL-A beside it, and asked again."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from made_sites import DAY, make_layer, make_site
from shapely.geometry import LineString, MultiLineString, Point, box

from geo_site.clearance import Works, as_exposed, compare, exposures_of, judge
from geo_site.constraints import ConstraintParameters
from geo_site.parameters import read_table

BARE = make_site()
EAST = LineString([(-30.0, 15.0), (70.0, 15.0)])
LINE = {
    "id": "L", "geometry": EAST, "kind": "gas", "member": "Member", "side": "public",
    "diameter_m": 0.1, "quality_level": "QL-B3",
}  # fmt: skip
RULES = read_table(
    ConstraintParameters,
    {
        "tolerance_zone": {"width": 0.5, "source": "for this test"},
        "utility_buffer": {"gas": 0.0, "electric": 0.0, "communication": 0.0},
    },
    table="constraints",
)


def site_with(points, *lines):
    rows = [{"id": f"P{n}", "utility_id": "L", **row} for n, row in enumerate(points)]
    return dataclasses.replace(
        BARE,
        utilities=make_layer("utilities", lines or (LINE,)),
        exposed=make_layer("exposed", rows),
    )


def lines_of(site):
    return {line.id: line for line in as_exposed(site, RULES).utilities.itertuples()}


def seen_at(x, y, **facts):
    return {"geometry": Point(x, y), **facts}


def test_without_points_nothing_moves():
    site = site_with([])
    assert as_exposed(site, RULES) is site


def test_a_point_moves_its_line_and_the_shift_tapers_off():
    """0.4 m aside at x = 10; half of that 5 m away, nothing 10 m away."""
    found = lines_of(site_with([seen_at(10.0, 15.4)]))
    assert set(found) == {"L", "L (exposed)"}
    whole = found["L"].geometry.union(found["L (exposed)"].geometry)
    for x, y in ((10.0, 15.4), (15.0, 15.2), (5.0, 15.2), (20.0, 15.0), (40.0, 15.0), (-30, 15)):
        assert whole.distance(Point(x, y)) < 1e-9, (x, y)
    assert whole.distance(Point(10.0, 15.0)) > 0.35


def test_between_two_points_the_shift_goes_over_evenly():
    found = lines_of(site_with([seen_at(10.0, 15.4), seen_at(30.0, 14.8)]))
    whole = found["L"].geometry.union(found["L (exposed)"].geometry)
    assert whole.distance(Point(20.0, 15.1)) < 1e-9
    assert whole.distance(Point(25.0, 14.95)) < 1e-9


def test_only_beside_the_point_is_the_line_of_quality_a():
    facts = {"depth_m": 0.8, "exposed_by": "Crew", "exposed_on": DAY}
    found = lines_of(site_with([seen_at(10.0, 15.0, **facts)]))
    sure, rest = found["L (exposed)"], found["L"]
    assert sure.geometry.length == pytest.approx(2.0)
    assert sure.geometry.bounds == pytest.approx((9.0, 15.0, 11.0, 15.0))
    assert (sure.quality_level, sure.uncertainty_m, sure.depth_m) == ("QL-A", 0.05, 0.8)
    assert (sure.marked_by, sure.marked_on) == ("Crew", DAY)
    assert (sure.kind, sure.member, sure.diameter_m) == ("gas", "Member", 0.1)
    assert (rest.quality_level, rest.geometry.length) == ("QL-B3", pytest.approx(98.0))
    assert np.isnan(rest.uncertainty_m)


def test_the_worst_point_speaks_for_the_exposed_stretches():
    points = [seen_at(10.0, 15.0, uncertainty_m=0.02), seen_at(30.0, 15.0, uncertainty_m=0.2)]
    sure = lines_of(site_with(points))["L (exposed)"]
    assert sure.uncertainty_m == 0.2
    assert isinstance(sure.geometry, MultiLineString)
    assert sure.geometry.length == pytest.approx(4.0)


def test_points_near_each_other_make_one_stretch_and_near_an_end_a_shorter_one():
    sure = lines_of(site_with([seen_at(10.0, 15.0), seen_at(11.5, 15.0)]))["L (exposed)"]
    assert sure.geometry.length == pytest.approx(3.5)
    short = {**LINE, "geometry": LineString([(0.0, 15.0), (10.0, 15.0)])}
    at_end = lines_of(site_with([seen_at(10.0, 15.0)], short))["L (exposed)"]
    assert at_end.geometry.length == pytest.approx(1.0)
    tiny = {**LINE, "geometry": LineString([(9.5, 15.0), (10.5, 15.0)])}
    assert set(lines_of(site_with([seen_at(10.0, 15.0)], tiny))) == {"L (exposed)"}


def test_of_many_parts_only_the_nearest_moves():
    parts = MultiLineString([[(0, 15), (40, 15)], [(0, 25), (40, 25)]])
    found = lines_of(site_with([seen_at(20.0, 15.3)], {**LINE, "geometry": parts}))
    assert found["L"].geometry.distance(Point(20.0, 25.0)) < 1e-9
    assert found["L (exposed)"].geometry.distance(Point(20.0, 15.3)) < 1e-9


def test_other_lines_stay_byte_by_byte():
    other = {**LINE, "id": "M", "geometry": LineString([(0, 5), (1, 7), (40, 5)])}
    site = site_with([seen_at(10.0, 15.4)], LINE, other)
    moved = as_exposed(site, RULES).utilities
    assert moved.geometry[list(moved.id).index("M")].equals_exact(other["geometry"], 0.0)
    assert list(moved.columns) == list(site.utilities.columns)
    assert (moved.dtypes == site.utilities.dtypes).all()
    assert as_exposed(site, RULES).utilities.to_wkb().to_csv() == moved.to_wkb().to_csv()


def test_exposures_tell_how_far_the_line_was_off():
    (one,) = exposures_of(site_with([seen_at(10.0, 15.4, exposed_by="Crew")]), RULES)
    assert one.off_m == pytest.approx(0.4)
    assert (one.line_id, one.exposed_by, one.uncertainty_m) == ("L", "Crew", 0.05)
    assert exposures_of(site_with([seen_at(1, 1, utility_id="none")]), RULES) == ()


@pytest.mark.parametrize(
    ("y", "pit_y", "before", "after"),
    [
        (15.0, 15.75, "hand_dig", "met"),
        (14.6, 15.75, "hand_dig", "met"),
        (15.4, 16.1, "met", "met"),
        (15.4, 16.0, "hand_dig", "met"),
        (15.4, 15.7, "hand_dig", "not_met"),
        (15.4, 15.3, "not_met", "not_met"),
    ],
)
def test_before_and_after_are_those_of_the_same_works(y, pit_y, before, after):
    """Before 0.5 m and 0.5 m of QL-B3 are asked; beside a seen line 0.5 m and 0.05 m."""
    points = [seen_at(x, y) for x in range(6, 20, 2)]
    site = site_with(points)
    works = Works(basin=box(12, pit_y, 13, 20))
    rows = [judge(one, works, RULES, 1.0) for one in (site, as_exposed(site, RULES))]
    (told,) = compare(*rows, exposures_of(site, RULES))
    assert told.clearance_before_m == pytest.approx(max(pit_y - 15.05, 0.0))
    assert told.clearance_after_m == pytest.approx(max(pit_y - y - 0.05, 0.0), abs=1e-9)
    assert told.verdict_before == ("met" if pit_y - 15.05 >= 1.0 else before)
    assert told.verdict_after == after
    assert told.required_after_m == pytest.approx(0.55)


def test_seeing_a_line_does_not_answer_the_ticket():
    silent = {**LINE, "member": "Other"}
    site = site_with([seen_at(12.0, 15.0)], silent)
    works = Works(basin=box(11.5, 16.5, 12.5, 20))
    rows = [judge(one, works, RULES, 1.0) for one in (site, as_exposed(site, RULES))]
    (told,) = compare(*rows, exposures_of(site, RULES))
    assert (told.verdict_before, told.verdict_after) == ("unknown", "unknown")
