"""The search against trying every place, designs and excavations against closed forms."""

from __future__ import annotations

from importlib import import_module
from math import ceil, hypot, inf, log10, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_site, plane
from scipy import ndimage
from shapely.affinity import rotate, translate
from shapely.geometry import LineString, MultiPolygon, Point, box

from geo_site.access import AccessParameters, find_reach
from geo_site.constraints import ConstraintParameters, Ground, HandDigStrip, find_ground
from geo_site.errors import SettingRefused
from geo_site.parameters import read_table
from geo_site.raster import as_multipolygon
from geo_site.siting import (
    Arrangement,
    Placement,
    Room,
    SitingParameters,
    Wish,
    design_basin,
    search,
)
from geo_site.siting.fields import find_fields
from geo_site.siting.placement import Fit, make_pit
from geo_site.terrain import TerrainParameters, analyse

SOME = settings(max_examples=20, deadline=None)
WISH = Wish(wanted_fall_m=1.0, least_length_m=3.0, greatest_length_m=15.0)
SMALL = {
    "unit_length": 0.5,
    "unit_width": 0.4,
    "unit_height": 0.3,
    "cover": 0.1,
    "bedding": 0.1,
    "overdig": 0.1,
    "soil_class": "A",
    "units": 4,
    "rotation_step": 30.0,
    "shortlist": 4,
    "distinct_distance": 1.0,
}


def open_ground(free, work="basin", hand_dig=()) -> Ground:
    free = as_multipolygon(free)
    return Ground(
        work=work, pieces=(), blocked=MultiPolygon(), hand_dig=hand_dig, open=free, free=free
    )


def room_of(free, stream=None, reach=None, hand_dig=()) -> Room:
    return Room(
        basin=open_ground(free, hand_dig=hand_dig),
        stream=open_ground(free if stream is None else stream, "stream"),
        reach=reach,
    )


def searched(site, room, parameters, needed_m3=1.0, wish=WISH) -> tuple[Placement, ...]:
    terrain = analyse(site, TerrainParameters())
    return search(site, terrain, room, design_basin(needed_m3, parameters), wish, parameters)


def tried_everywhere(site, terrain, room, design, parameters):
    """Every place that passes the exact test, then greedily the best distinct ones."""
    fields = find_fields(site, terrain, room, design, WISH, parameters)
    fit = Fit(terrain.ground, room.basin.free, parameters.greatest_rise, design.deepest_m)
    x, y = fields.grid.centres()
    fitting = []
    for number, arrangement in enumerate(design.arrangements):
        pit = make_pit(arrangement, design)
        is_square = abs(arrangement.length_m - arrangement.width_m) < 1e-9
        for turn in np.arange(0.0, 90.0 if is_square else 180.0, parameters.rotation_step):
            for cell in range(fields.grid.values.size):
                row, column = divmod(cell, len(x))
                if fit.dig(pit, float(x[column]), float(y[row]), float(turn)) is None:
                    continue
                marks = fields.marks_at(cell, arrangement, turn)
                score = sum(fields.weights[name] * mark for name, mark in marks.items())
                key = (-round(score * 1e9), number, turn, row, column)
                fitting.append((key, (float(x[column]), float(y[row]), float(turn), arrangement)))
    kept = []
    for _, place in sorted(fitting, key=lambda item: item[0]):
        far = all(hypot(place[0] - k[0], place[1] - k[1]) >= 1.0 - 1e-9 for k in kept)
        if far and len(kept) < parameters.shortlist:
            kept.append(place)
    return kept, len(fitting)


def random_lot(seed: int):
    """Rough ground and a ragged piece of free ground in it."""
    random = np.random.default_rng(seed)
    rough = ndimage.gaussian_filter(random.normal(size=(46, 46)), 1.5)
    tilt = random.uniform(-0.12, 0.12, size=2)
    y, x = np.mgrid[46:0:-1, 0:46].astype(float)
    levels = 100.0 + random.uniform(0.0, 1.5) * rough + tilt[0] * x + tilt[1] * y
    free = box(0.0, 0.0, random.uniform(3.0, 4.5), random.uniform(3.0, 4.5))
    free = rotate(free, random.uniform(0.0, 90.0))
    for _ in range(random.integers(0, 4)):
        bite = Point(random.uniform(0.0, 5.0, size=2)).buffer(random.uniform(0.1, 0.6))
        free = free.difference(bite)
    trees = [{"geometry": Point(4.0, 6.0), "crown_radius_m": 2.5}] * int(random.integers(0, 2))
    views = [{"geometry": Point(random.uniform(0.0, 5.0, size=2))}] * int(random.integers(0, 2))
    site = make_site(levels, lot=box(0.0, 0.0, 6.0, 6.0), trees=trees, views=views)
    return site, free


class TestExhaustive:
    """The best by search score is that of trying all positions, rotations and arrangements."""

    @pytest.mark.parametrize("seed", range(8))
    def test_the_search_gives_what_trying_every_place_gives(self, seed):
        site, free = random_lot(seed)
        parameters = SitingParameters(**SMALL)
        terrain, design = analyse(site, TerrainParameters()), design_basin(0.1, parameters)
        room = room_of(free)
        expected, count = tried_everywhere(site, terrain, room, design, parameters)
        found = search(site, terrain, room, design, WISH, parameters)
        assert [(p.x, p.y, p.rotation_deg, p.arrangement) for p in found] == expected
        assert bool(found) == (count > 0)

    @pytest.mark.parametrize("seed", [0, 3])
    def test_also_in_batches_of_a_few_places(self, seed, monkeypatch):
        """What is held at a time changes nothing: batches and screens of a handful."""
        site, free = random_lot(seed)
        parameters = SitingParameters(**SMALL)
        whole = searched(site, room_of(free), parameters)
        for name, value in [("_FIRST_BATCH", 3), ("_MOST_BATCH", 7), ("_FIRST_SCREENED", 2)]:
            monkeypatch.setattr(import_module("geo_site.siting.search"), name, value)
        few = searched(site, room_of(free), parameters)
        assert [(p.x, p.y, p.score) for p in few] == [(p.x, p.y, p.score) for p in whole]
        assert len(whole) > 1

    @pytest.mark.parametrize("seed", range(100, 102))
    def test_also_where_a_steep_batter_limits_the_depth(self, seed):
        site, free = random_lot(seed)
        parameters = SitingParameters(
            **{**SMALL, "unit_height": 1.05, "batter": 0.3, "competent_person": True}
        )
        terrain, design = analyse(site, TerrainParameters()), design_basin(0.1, parameters)
        expected, _ = tried_everywhere(site, terrain, room_of(free), design, parameters)
        found = search(site, terrain, room_of(free), design, WISH, parameters)
        assert [(p.x, p.y, p.rotation_deg, p.arrangement) for p in found] == expected
        assert all(p.greatest_depth_m < 1.524 for p in found)

    def test_the_random_lots_are_hard_enough(self):
        """Some lots have places, some have none, and scores are not all the same."""
        parameters = SitingParameters(**SMALL)
        found = [
            searched(site, room_of(free), parameters) for site, free in map(random_lot, range(8))
        ]
        assert any(found)
        assert not all(len(places) == 4 for places in found)
        scores = {round(p.score, 6) for places in found for p in places}
        assert len(scores) > 5


class TestNoPlace:
    def test_no_free_ground_gives_no_place(self):
        assert searched(make_site("plane"), room_of(MultiPolygon()), SitingParameters()) == ()

    def test_too_little_free_ground_gives_no_place(self):
        room = room_of(box(5.0, 5.0, 8.0, 8.0))
        assert searched(make_site("plane"), room, SitingParameters(units=12)) == ()

    def test_ground_that_rises_too_much_gives_no_place(self):
        site = make_site(plane(0.2, 0.0))
        room = room_of(box(2.0, 2.0, 38.0, 28.0))
        # the narrowest is 1.2 m wide, 1.8 m with its overdig: across the slope 0.36 m
        assert searched(site, room, SitingParameters(units=12, greatest_rise=0.355)) == ()
        assert searched(site, room, SitingParameters(units=12, greatest_rise=0.365)) != ()

    def test_unknown_ground_is_no_place(self):
        site = make_site(lambda x, y: np.where((x > 0.0) & (x < 40.0), np.nan, 100.0))
        assert searched(site, room_of(box(12.0, 12.0, 20.0, 20.0)), SitingParameters()) == ()


class TestOnePlace:
    @pytest.mark.parametrize("turn", [0.0, 35.0, 90.0, 145.0])
    def test_a_slot_of_the_excavation_s_size_takes_one_rotation(self, turn):
        """Level ground: 2 rows of 4 units, overdig 0.3, sides out 1.5 x 0.7 m = 1.05 m."""
        parameters = SitingParameters(units=8, shortlist=100, distinct_distance=0.0)
        design = design_basin(0.0, parameters)
        length, width = (2 * (0.3 + 1.05) + side for side in (3.2, 1.2))
        # 1 cm to spare, and the middle on a cell's centre
        slot = box(-length / 2 - 0.005, -width / 2 - 0.005, length / 2 + 0.005, width / 2 + 0.005)
        slot = translate(rotate(slot, turn, origin=(0, 0)), 15.125, 15.125)
        found = searched(make_site(plane(0.0, 0.0)), room_of(slot), parameters)
        assert {(p.x, p.y, p.rotation_deg) for p in found} == {(15.125, 15.125, turn)}
        assert {(p.arrangement.length_m, p.arrangement.width_m) for p in found} == {(3.2, 1.2)}
        assert design.depth_m == pytest.approx(0.7)
        tight = slot.buffer(-0.006, join_style="mitre")
        assert searched(make_site(plane(0.0, 0.0)), room_of(tight), parameters) == ()

    def test_the_excavation_keeps_the_required_distance_from_a_line(self):
        """All of it, sides too, to 5 mm."""
        line = LineString([(-30.0, 12.0), (70.0, 19.0)])
        site = make_site(
            plane(0.03, -0.04),
            utilities=[{"geometry": line, "kind": "gas", "diameter_m": 0.06}],
        )
        terrain = analyse(site, TerrainParameters())
        ground = find_ground(
            site,
            terrain,
            ConstraintParameters(),
            work="basin",
            excavation_depth_m=0.7,
            open_hand_dig=False,
        )
        (distance,) = [p.distance_m for p in ground.pieces if p.reason.startswith("utility")] or [
            max(p.distance_m for p in ground.pieces if p.source_id == "utilities-1")
        ]
        parameters = SitingParameters(units=12, shortlist=20)
        room = Room(basin=ground, stream=ground, reach=None)
        found = search(site, terrain, room, design_basin(2.0, parameters), WISH, parameters)
        assert len(found) > 5
        for placement in found:
            clear = placement.excavation.distance(line) - 0.03
            assert clear >= distance - 0.005


class TestPlacement:
    def best(self, surface, **changes) -> Placement:
        parameters = SitingParameters(units=12, shortlist=1, **changes)
        return searched(make_site(surface), room_of(box(2.0, 2.0, 38.0, 28.0)), parameters)[0]

    def test_levels_and_outlines_on_a_plane(self):
        placement = self.best(plane(0.0, -0.05))
        turn = radians(placement.rotation_deg)
        length, width = placement.arrangement.length_m, placement.arrangement.width_m
        half = (abs(sin(turn)) * length + abs(sin(turn + pi / 2)) * width) / 2
        centre = 100.0 - 0.05 * placement.y
        assert placement.rim_level_m == pytest.approx(centre - 0.05 * half, abs=1e-9)
        assert placement.floor_level_m == pytest.approx(placement.rim_level_m - 0.7)
        assert placement.footprint.area == pytest.approx(length * width)
        assert placement.pit_floor.area == pytest.approx((length + 0.6) * (width + 0.6))
        assert placement.footprint.exterior.distance(placement.pit_floor.exterior) == (
            pytest.approx(0.3)
        )
        assert placement.excavation.buffer(1e-6).covers(placement.pit_floor)
        highest = 100.0 - 0.05 * placement.excavation.bounds[1]
        depth = highest - placement.floor_level_m
        assert placement.greatest_depth_m == pytest.approx(depth, abs=1e-6)

    def test_the_excavation_on_level_ground_is_the_floor_grown_by_batter_times_depth(self):
        placement = self.best(plane(0.0, 0.0), soil_class="B")
        grown = placement.pit_floor.buffer(0.7, quad_segs=64)
        assert placement.excavation.symmetric_difference(grown).area < 2e-3 * grown.area
        assert placement.excavation.hausdorff_distance(grown) < 2e-3

    def test_marks_and_score_lie_between_0_and_1_and_the_score_is_their_mean(self):
        placement = self.best(
            plane(0.02, -0.05), search_weights={"fall": 3.0, "digging": 1.0, "run_on": 0.0}
        )
        assert set(placement.marks) == {"fall", "run_on", "digging"}
        assert all(0.0 <= mark <= 1.0 for mark in placement.marks.values())
        mean = (3.0 * placement.marks["fall"] + placement.marks["digging"]) / 4.0
        assert placement.score == pytest.approx(mean, abs=1e-9)

    def test_places_are_distinct_and_in_falling_order(self):
        parameters = SitingParameters(units=12)
        found = searched(
            make_site(plane(0.02, -0.05)), room_of(box(2.0, 2.0, 38.0, 28.0)), parameters
        )
        assert len(found) == 12
        for i, one in enumerate(found):
            for other in found[:i]:
                assert hypot(one.x - other.x, one.y - other.y) >= 5.0 - 1e-9
                assert other.score >= one.score

    def test_results_are_the_same_twice(self):
        site, free = random_lot(3)
        first, second = (searched(site, room_of(free), SitingParameters(**SMALL)) for _ in "ab")
        assert [p.excavation.wkb for p in first] == [p.excavation.wkb for p in second]


class TestInvariance:
    def test_a_site_moved_by_whole_metres_gets_the_same_places_moved(self):
        free = box(2.0, 2.0, 38.0, 28.0).difference(Point(15.0, 15.0).buffer(4.0))
        surface = plane(0.03, -0.04)
        parameters = SitingParameters(units=12)
        here = searched(make_site(surface), room_of(free), parameters)
        moved = make_site(surface, origin=(4096.0, 8192.0))
        there = searched(moved, room_of(translate(free, 4096.0, 8192.0)), parameters)
        assert len(here) == len(there)
        for one, other in zip(here, there, strict=True):
            assert (other.x - 4096.0, other.y - 8192.0) == (one.x, one.y)
            assert other.rotation_deg == one.rotation_deg
            assert other.score == pytest.approx(one.score, abs=1e-6)

    def test_a_site_turned_by_a_right_angle_has_as_good_places(self):
        """Turned about the middle of the terrain, which maps the grid onto itself."""
        free = box(2.0, 2.0, 26.0, 28.0).difference(Point(12.0, 15.0).buffer(4.0))
        lot = box(0.0, 0.0, 30.0, 30.0)
        parameters = SitingParameters(units=12, rotation_step=15.0, shortlist=3)
        upright = make_site(plane(0.05, -0.02), lot=lot)
        turned = make_site(plane(0.02, 0.05), lot=lot)  # the gradient turned with it
        first = searched(upright, room_of(free), parameters)
        second = searched(turned, room_of(rotate(free, 90.0, origin=(15.0, 15.0))), parameters)
        assert first[0].score == pytest.approx(second[0].score, abs=1e-6)
        x, y = first[0].x - 15.0, first[0].y - 15.0
        assert (second[0].x, second[0].y) == (pytest.approx(15.0 - y), pytest.approx(15.0 + x))


class TestMarks:
    def fields(self, site, room, **changes):
        parameters = SitingParameters(units=12, **changes)
        terrain = analyse(site, TerrainParameters())
        design = design_basin(2.0, parameters)
        return find_fields(site, terrain, room, design, WISH, parameters)

    def at(self, fields, name, x, y) -> tuple[float, float, float]:
        """Mark of the cell at x, y, and the cell's centre."""
        row, column = fields.grid.cell_of(x, y)
        columns, rows = fields.grid.centres()
        return float(fields.marks[name][row, column]), columns[column], rows[row]

    def test_marks_without_input_are_left_out_and_weights_make_one(self):
        fields = self.fields(make_site("plane"), room_of(box(2.0, 2.0, 38.0, 28.0)))
        assert set(fields.marks) == {"fall", "run_on"}
        assert set(fields.weights) == {"fall", "run_on", "digging"}
        assert sum(fields.weights.values()) == pytest.approx(1.0)
        assert fields.weights["fall"] == pytest.approx(3.0 / 6.0)

    def test_fall_is_that_of_the_highest_free_cell_within_reach(self):
        """A plane that falls north at 0.04: 15 m south of a place lies 0.6 m higher ground."""
        site = make_site(plane(0.0, -0.04))
        fields = self.fields(site, room_of(box(2.0, 2.0, 38.0, 28.0)))
        mark, _, y = self.at(fields, "fall", 20.1, 25.1)
        assert mark == pytest.approx(0.04 * 15.0 / 1.0, abs=0.04)
        near_top, _, y = self.at(fields, "fall", 20.1, 6.1)
        assert near_top == pytest.approx(0.04 * (y - 2.5), abs=1e-6)
        at_top, _, _ = self.at(fields, "fall", 20.1, 2.1)
        assert at_top == pytest.approx(0.0, abs=0.02)

    def test_fall_above_the_wish_counts_no_more(self):
        site = make_site(plane(0.0, -0.2))
        fields = self.fields(site, room_of(box(2.0, 2.0, 38.0, 28.0)))
        assert self.at(fields, "fall", 20.1, 25.1)[0] == 1.0

    def test_fall_needs_ground_free_for_the_stream(self):
        site = make_site(plane(0.0, -0.04))
        fields = self.fields(site, room_of(box(2.0, 2.0, 38.0, 28.0), stream=MultiPolygon()))
        assert fields.marks["fall"].max() == 0.0

    def test_view_and_power_fall_off_with_distance(self):
        site = make_site(
            "plane",
            views=[{"geometry": Point(5.0, 5.0)}, {"geometry": Point(35.0, 25.0)}],
            power=[{"geometry": Point(5.0, 5.0)}],
        )
        fields = self.fields(site, room_of(box(2.0, 2.0, 38.0, 28.0)), power_range=20.0)
        for x, y in [(6.0, 6.0), (30.0, 20.0), (20.0, 15.0)]:
            view, cx, cy = self.at(fields, "view", x, y)
            nearest = min(hypot(cx - 5.0, cy - 5.0), hypot(cx - 35.0, cy - 25.0))
            assert view == pytest.approx(1.0 - nearest / 30.0)
            power, cx, cy = self.at(fields, "power", x, y)
            assert power == pytest.approx(max(1.0 - hypot(cx - 5.0, cy - 5.0) / 20.0, 0.0))

    def test_leaves_are_the_share_of_crowns_within_6_m(self):
        site = make_site("plane", trees=[{"geometry": Point(20.0, 15.0), "crown_radius_m": 3.0}])
        fields = self.fields(site, room_of(box(2.0, 2.0, 38.0, 28.0)))
        assert self.at(fields, "leaves", 20.1, 15.1)[0] == pytest.approx(1.0 - 9.0 / 36.0, abs=0.01)
        assert self.at(fields, "leaves", 30.0, 15.0)[0] == 1.0

    def test_a_tree_without_a_crown_counts_as_assumed(self):
        site = make_site("plane", trees=[{"geometry": Point(20.0, 15.0)}])
        fields = self.fields(site, room_of(box(2.0, 2.0, 38.0, 28.0)), assumed_crown_radius=4.0)
        expected = 1.0 - 16.0 / 36.0
        assert self.at(fields, "leaves", 20.1, 15.1)[0] == pytest.approx(expected, abs=0.01)

    def test_run_on_is_worst_in_the_valley(self):
        site = make_site("valley")
        terrain = analyse(site, TerrainParameters())
        fields = self.fields(site, room_of(box(2.0, 2.0, 38.0, 28.0)))
        axis, _, _ = self.at(fields, "run_on", 20.1, 5.0)
        side, _, _ = self.at(fields, "run_on", 33.0, 15.0)
        assert axis < 0.3 < side
        row, column = terrain.ground.cell_of(33.0, 15.0)
        most = terrain.accumulation_m2.values[row - 3 : row + 4, column - 3 : column + 4]
        rows, columns = np.mgrid[-3:4, -3:4]
        most = most[np.hypot(rows, columns) <= 3.0].max()
        assert side == pytest.approx(1.0 - log10(max(most, 10.0) / 10.0) / log10(50.0))

    def test_route_is_near_1_at_the_access_and_0_where_no_way_leads(self):
        site = make_site(plane(0.0, 0.0), access=[{"geometry": Point(20.0, 0.0)}])
        free = box(0.0, 0.0, 40.0, 30.0)
        reach = find_reach(
            site,
            analyse(site, TerrainParameters()),
            open_ground(free, "machine"),
            MultiPolygon(),
            AccessParameters(),
        )
        fields = self.fields(site, room_of(free, reach=reach))
        near, far = self.at(fields, "route", 20.0, 3.0)[0], self.at(fields, "route", 20.0, 25.0)[0]
        assert near == pytest.approx(1.0, abs=0.02)
        # 25 m less working reach (4 m) and half the narrowest pit (0.6 m)
        assert far == pytest.approx(1.0 - (25.0 - 4.6) / 60.0, abs=0.02)

    def test_hand_dig_ground_is_avoided_where_it_is_opened(self):
        strip = HandDigStrip(
            utility_id="a",
            kind="gas",
            half_width_m=2.0,
            geometry=MultiPolygon([box(0.0, 12.0, 40.0, 16.0)]),
        )
        room = room_of(box(2.0, 2.0, 38.0, 28.0), hand_dig=(strip,))
        fields = self.fields(make_site(plane(0.0, 0.0)), room)
        assert self.at(fields, "hand_dig", 20.1, 14.1)[0] < 0.3
        assert self.at(fields, "hand_dig", 20.1, 25.0)[0] == 1.0
        parameters = SitingParameters(units=12, shortlist=3)
        for placement in searched(make_site(plane(0.0, 0.0)), room, parameters):
            assert placement.pit_floor.intersection(strip.geometry).area == 0.0

    @SOME
    @given(east=st.floats(-0.2, 0.2), north=st.floats(-0.2, 0.2), turn=st.floats(0.0, 180.0))
    def test_digging_is_the_rise_over_the_units_on_a_plane(self, east, north, turn):
        arrangement = Arrangement(rows=2, columns=4, length_m=3.2, width_m=1.2)
        fields = self.fields(make_site(plane(east, north)), room_of(box(18.0, 12.0, 22.0, 16.0)))
        mark = fields.marks_at(40, arrangement, turn)["digging"]
        corners = np.array(rotate(box(-1.6, -0.6, 1.6, 0.6), turn, origin=(0, 0)).exterior.coords)
        rise = np.ptp(corners @ [east, north])
        assert mark == pytest.approx(max(1.0 - rise / 0.6, 0.0), abs=1e-9)


class TestDesign:
    @SOME
    @given(needed=st.floats(0.0, 20.0), void=st.floats(0.5, 1.0))
    def test_the_units_hold_the_water_and_one_less_does_not(self, needed, void):
        design = design_basin(needed, SitingParameters(void_ratio=void))
        net = 0.8 * 0.6 * 0.45 * void
        assert design.units == max(ceil(needed / net - 1e-9), 1)
        assert design.stored_m3 == pytest.approx(design.units * net)
        assert design.stored_m3 >= needed - 1e-9

    @SOME
    @given(units=st.integers(1, 60))
    def test_every_arrangement_of_exactly_the_units_given(self, units):
        design = design_basin(0.0, SitingParameters(units=units, most_elongated=1e6))
        found = {(round(a.length_m, 9), round(a.width_m, 9)) for a in design.arrangements}
        expected = set()
        for rows in range(1, units + 1):
            if units % rows == 0:
                sides = rows * 0.6, units // rows * 0.8
                expected.add((round(max(sides), 9), round(min(sides), 9)))
        assert found == expected
        assert all(a.rows * a.columns == units for a in design.arrangements)

    def test_with_water_given_up_to_two_more_units_are_arranged(self):
        design = design_basin(13 * 0.8 * 0.6 * 0.45 * 0.95, SitingParameters())
        counts = {a.rows * a.columns for a in design.arrangements}
        assert design.units == 13
        assert counts == {14, 15}  # 13 in a row are too long
        assert all(a.length_m / a.width_m <= 4.0 + 1e-9 for a in design.arrangements)

    def test_a_prime_number_given_keeps_its_least_long_row_and_says_so(self):
        design = design_basin(0.0, SitingParameters(units=11))
        (only,) = design.arrangements
        assert (only.length_m, only.width_m) == (pytest.approx(6.6), pytest.approx(0.8))
        assert any("11 units" in flag for flag in design.flags)

    def test_layers_stack(self):
        design = design_basin(4.0, SitingParameters(layers=2))
        assert design.units % 2 == 0
        assert design.depth_m == pytest.approx(0.15 + 0.9 + 0.10)
        assert design.unit_height_m == pytest.approx(0.9)
        assert min(a.rows * a.columns for a in design.arrangements) >= design.units // 2

    def test_units_that_hold_too_little_are_kept_and_flagged(self):
        design = design_basin(5.0, SitingParameters(units=6))
        assert design.units == 6
        assert any(flag.startswith("storage") for flag in design.flags)

    def test_more_than_the_most_units_is_refused(self):
        with pytest.raises(SettingRefused, match="most_units"):
            design_basin(100.0, SitingParameters())

    @pytest.mark.parametrize("needed", [-1.0, inf, float("nan")])
    def test_water_is_a_volume(self, needed):
        with pytest.raises(ValueError, match="volume"):
            design_basin(needed, SitingParameters())


class TestBatter:
    @pytest.mark.parametrize(
        ("soil", "batter"),
        [("stable_rock", 0.0), ("A", 0.75), ("B", 1.0), ("C", 1.5), ("unknown", 1.5)],
    )
    def test_by_soil_class(self, soil, batter):
        """29 CFR 1926 Subpart P, appendix B, table B-1; unknown soil as class C."""
        design = design_basin(1.0, SitingParameters(soil_class=soil))
        assert design.batter == batter
        assert design.deepest_m == inf
        assert any("classed" in flag for flag in design.flags) == (soil == "unknown")

    def test_unknown_soil_stays_at_1_5_however_shallow(self):
        assert design_basin(0.1, SitingParameters(unit_height=0.1)).batter == 1.5

    def test_a_steeper_one_needs_a_competent_person(self):
        with pytest.raises(SettingRefused, match="competent_person"):
            read_table(SitingParameters, {"batter": "0.5:1"}, table="siting")
        chosen = read_table(
            SitingParameters, {"batter": "0.5:1", "competent_person": True}, table="siting"
        )
        design = design_basin(1.0, chosen)
        assert design.batter == 0.5
        assert design.deepest_m == pytest.approx(1.524)
        assert any(flag.startswith("competent person") for flag in design.flags)

    def test_a_steeper_one_is_refused_from_five_feet_on(self):
        deep = {"batter": 0.5, "competent_person": True, "unit_height": 1.524 - 0.25}
        with pytest.raises(SettingRefused, match="5 ft"):
            read_table(SitingParameters, deep, table="siting")
        read_table(SitingParameters, {**deep, "unit_height": 1.27}, table="siting")

    def test_a_gentler_one_is_anyone_s_choice(self):
        assert design_basin(1.0, SitingParameters(batter=2.0)).batter == 2.0

    @pytest.mark.parametrize(
        ("height", "duties"),
        [(0.45, []), (0.97, ["egress"]), (1.28, ["egress", "protection"])],
    )
    def test_depth_brings_duties(self, height, duties):
        """29 CFR 1926.651(c)(2) from 4 ft, .652(a)(1) from 5 ft."""
        design = design_basin(0.1, SitingParameters(unit_height=height))
        named = [flag.split(":")[0] for flag in design.flags]
        assert [name for name in named if name in ("egress", "protection", "engineer")] == duties
        if "engineer" in named:
            raise AssertionError("no basin here is 20 ft deep")


class TestWish:
    @pytest.mark.parametrize("wrong", [(0.0, 1.0, 2.0), (1.0, 3.0, 2.0), (1.0, -1.0, 2.0)])
    def test_it_makes_sense(self, wrong):
        fall, least, greatest = wrong
        with pytest.raises(ValueError, match="wish"):
            Wish(wanted_fall_m=fall, least_length_m=least, greatest_length_m=greatest)


class TestFit:
    def test_covers_is_exact_to_a_tenth_of_a_millimetre(self):
        """A square pit on level ground between two walls."""
        site = make_site(plane(0.0, 0.0))
        parameters = SitingParameters(units=12)
        design = design_basin(0.0, parameters)
        square = design.arrangements[0]
        reach = 1.2 + 0.3 + 1.05
        pit = make_pit(square, design)
        for spare, fits in ((1e-4, True), (-1e-4, False)):
            slot = MultiPolygon([box(20.0 - reach - spare, 5.0, 20.0 + reach + spare, 25.0)])
            dug = Fit(site.terrain, slot, 0.6).dig(pit, 20.0, 15.0, 0.0)
            assert (dug is not None) == fits

    def test_greatest_depth_is_that_of_the_highest_ground_inside(self):
        """A knoll of one cell inside the pit."""
        values = np.full((40, 40), 100.0)
        values[20, 20] = 100.3
        site = make_site(values, lot=box(0.0, 0.0, 10.0, 10.0), margin_m=15.0)
        design = design_basin(0.0, SitingParameters(units=12))
        pit = make_pit(design.arrangements[0], design)
        dug = Fit(site.terrain, MultiPolygon([box(-10.0, -10.0, 20.0, 20.0)]), 0.6).dig(
            pit, 5.5, 4.5, 0.0
        )
        assert dug is not None
        assert dug.rim_level_m == pytest.approx(100.0)
        assert dug.greatest_depth_m == pytest.approx(1.0)
