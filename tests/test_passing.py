"""Streams whose spillway or points on the way are given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_plans import proposed
from made_sites import make_site
from shapely.geometry import LineString, MultiPoint, Point, box
from shapely.geometry.base import BaseGeometry
from test_layout import AT, LOT, SIZE, basin, check, ground

from geo_site.drawn import Drawn
from geo_site.layout import Layout, LayoutParameters, NoStream, lay_out
from geo_site.layout.alignment import PASSED_M
from geo_site.layout.limits import missed_points
from geo_site.plan import Plan, Settings, propose

P = LayoutParameters()
SITE = make_site(lambda x, y: 100.0 + 0.1 * y, lot=LOT)  # rises north, without end
TERRAIN = cast("Any", SimpleNamespace(ground=SITE.terrain))
NORTH = AT[1] + SIZE[1] / 2.0


def run(
    *,
    spillway: Point | None = None,
    through: Sequence[Point] = (),
    free: BaseGeometry = LOT,
    parameters: LayoutParameters = P,
) -> Layout | NoStream:
    site = replace(SITE, fixed=Drawn(spillway=spillway, must_pass=MultiPoint(list(through))))
    return lay_out(site, TERRAIN, ground(free), basin(SITE.terrain), parameters)


def stream(**given: Any) -> Layout:
    found = run(**given)
    assert isinstance(found, Layout), found
    return found


def stations(found: Layout, points: Sequence[Point]) -> list[float]:
    line = shapely.force_2d(found.alignment)
    return [float(line.project(point)) for point in points]


@pytest.mark.parametrize("at", [(30.13, 33.27), (24.4, 31.9), (38.0, 30.0)])
def test_a_stream_begins_at_the_spillway_given(at: tuple[float, float]) -> None:
    found = stream(spillway=Point(at))
    assert found.alignment.coords[0][:2] == at
    check(found)


def test_without_pins_nothing_changes() -> None:
    assert stream().alignment.equals_exact(stream(through=()).alignment, 0.0)


def test_a_spillway_on_ground_that_is_not_free_gets_no_stream() -> None:
    wall = box(20.0, 30.0, 40.0, 36.0)
    found = run(spillway=Point(30.0, 33.0), free=LOT.difference(wall))
    assert isinstance(found, NoStream)
    assert found.reason.startswith("the spillway given at 30.00, 33.00 cannot be reached")


@pytest.mark.parametrize(("away_m", "words"), [(3.0, "about "), (20.0, "about "), (24.0, "is ")])
def test_a_spillway_too_near_or_too_far_gets_no_stream(away_m: float, words: str) -> None:
    """The straight way is its distance from the basin's edge."""
    found = run(spillway=Point(30.0, NORTH + away_m))
    assert isinstance(found, NoStream)
    told_m = float(found.reason.split(words, 1)[1].split(" m")[0])
    assert told_m == pytest.approx(away_m, abs=1.0)


def test_a_point_beside_the_best_way_is_passed() -> None:
    point = Point(25.0, 28.0)
    assert shapely.force_2d(stream().alignment).distance(point) > PASSED_M
    found = stream(through=[point])
    assert shapely.force_2d(found.alignment).distance(point) <= PASSED_M
    check(found)


def test_points_are_passed_in_the_order_of_the_shortest_way() -> None:
    """On even ground, points in a line from the basin out are passed one after the other."""
    points = [Point(30.0, 25.5), Point(29.0, 28.0), Point(30.5, 31.0)]
    found = stream(through=[points[1], points[2], points[0]])
    away_m = [shapely.force_2d(found.alignment).distance(point) for point in points]
    assert max(away_m) <= PASSED_M
    near_to_far = stations(found, points)
    assert near_to_far == sorted(near_to_far, reverse=True)  # stations count from the lip
    check(found)


def test_spillway_and_point_together() -> None:
    spillway, point = Point(36.0, 31.0), Point(27.5, 27.5)
    found = stream(spillway=spillway, through=[point])
    assert Point(found.alignment.coords[0][:2]).equals(spillway)
    assert shapely.force_2d(found.alignment).distance(point) <= PASSED_M
    check(found)


def test_a_point_on_ground_that_is_not_free_gets_no_stream() -> None:
    wall = box(20.0, 30.0, 40.0, 36.0)
    found = run(through=[Point(30.0, 33.0)], free=LOT.difference(wall))
    assert isinstance(found, NoStream)
    assert "30.00, 33.00 cannot be reached" in found.reason


def test_more_points_than_can_be_ordered_are_told() -> None:
    found = run(through=[Point(30.0, 25.0 + i) for i in range(7)])
    assert isinstance(found, NoStream)
    assert found.reason.startswith("7 points are to be passed")


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    points=st.lists(st.tuples(st.floats(22.0, 38.0), st.floats(24.5, 36.0)), min_size=1, max_size=3)
)
def test_points_are_passed_or_no_stream_is_told(points: list[tuple[float, float]]) -> None:
    through = [Point(one) for one in points]
    found = run(through=through)
    if isinstance(found, Layout):
        line = shapely.force_2d(found.alignment)
        assert max(line.distance(point) for point in through) <= PASSED_M
        assert line.is_simple
        assert P.least_length <= found.length_m <= P.greatest_length
        assert np.all(np.diff(found.bed_m) <= 0.0)
    else:
        assert found.reason


def test_a_drawn_line_that_misses_a_point_is_told_by_how_much() -> None:
    line = LineString([(0.0, 0.0), (10.0, 0.0)])
    missed = list(missed_points(line, [Point(5.0, 0.4), Point(5.0, -1.5)]))
    assert [row.rule for row in missed] == ["must_pass"]
    assert missed[0].found == 1.5


# In the whole method.


def made(fixed: Drawn) -> Plan:
    site = replace(proposed().site, fixed=fixed)
    return propose(site, Settings.from_tables({**site.tables, "certainty": {"simulations": 0}}))


def test_a_pinned_spillway_brings_its_basin_within_reach() -> None:
    """The best place is elsewhere; the stream begins at the spillway, to the last digit."""
    lot = proposed().site.parcel.bounds
    pins = Drawn(
        spillway=Point(lot[0] + 8.0, lot[1] + 6.0),
        must_pass=MultiPoint([(lot[0] + 11.0, lot[1] + 9.0)]),
    )
    result = made(pins)
    assert result.status == "proposed"
    assert result.proposal is not None
    line = shapely.force_2d(result.proposal.layout.alignment)
    assert pins.spillway is not None
    assert line.coords[0] == pins.spillway.coords[0]
    assert line.distance(pins.must_pass) <= PASSED_M
    assert result.conflicts == ()


def test_a_spillway_off_the_free_ground_is_no_place_and_told() -> None:
    lot = proposed().site.parcel.bounds
    result = made(Drawn(spillway=Point(lot[0] + 20.0, lot[1] + 29.8)))
    assert result.status == "no_place"
    assert "the spillway given" in result.no_place[0].rule
