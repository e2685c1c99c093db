"""Machine ways: gaps of a given width, slopes on planes, cost against straight distance."""

from __future__ import annotations

from math import cos, hypot, radians, sin, sqrt, tan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_site, plane
from shapely.geometry import LineString, MultiPolygon, Point, box
from shapely.ops import unary_union

from geo_site.access import AccessParameters, MachineRoute, Reach, find_reach, route_to
from geo_site.constraints import BlockedPiece, Ground
from geo_site.raster import as_multipolygon
from geo_site.terrain import TerrainParameters, analyse

LOT = box(0.0, 0.0, 30.0, 20.0)
NOTHING = MultiPolygon()
DOOR = Point(15.0, 0.0)
SOME = settings(max_examples=25, deadline=None)


def machine_ground(*blocked, lot=LOT) -> Ground:
    pieces = [
        BlockedPiece(
            reason="structure", source_id=str(i), distance_m=0.0, geometry=as_multipolygon(piece)
        )
        for i, piece in enumerate(blocked)
    ]
    outside = as_multipolygon(lot.buffer(10.0).difference(lot))
    pieces.append(
        BlockedPiece(reason="outside_parcel", source_id="", distance_m=0.0, geometry=outside)
    )
    taken = as_multipolygon(unary_union([piece.geometry for piece in pieces]))
    free = as_multipolygon(lot.difference(taken))
    return Ground(
        work="machine", pieces=tuple(pieces), blocked=taken, hand_dig=(), open=free, free=free
    )


def reach_on(surface=None, *, blocked=(), doors=(DOOR,), hand_dig=NOTHING, **changes) -> Reach:
    site = make_site(
        plane(0.0, 0.0) if surface is None else surface,
        lot=LOT,
        access=[{"geometry": door} for door in doors],
    )
    found = find_reach(
        site,
        analyse(site, TerrainParameters()),
        machine_ground(*blocked),
        hand_dig,
        AccessParameters(**changes),
    )
    assert found is not None
    return found


def cost_at(reach: Reach, x: float, y: float) -> float:
    return float(reach.cost.values[reach.cost.cell_of(x, y)])


def gate(width: float, at: float = 15.0, y: float = 10.0) -> tuple:
    """A wall across the lot with a gap of a given width."""
    return (
        box(-1.0, y - 0.1, at - width / 2.0, y + 0.1),
        box(at + width / 2.0, y - 0.1, 31.0, y + 0.1),
    )


class TestReach:
    def test_without_an_access_point_nothing_is_known(self):
        site = make_site("plane", lot=LOT)
        terrain = analyse(site, TerrainParameters())
        assert find_reach(site, terrain, machine_ground(), NOTHING, AccessParameters()) is None

    @SOME
    @given(x=st.floats(3.0, 27.0), y=st.floats(3.0, 17.0))
    def test_on_flat_free_ground_cost_is_straight_distance_within_the_grid_s_error(self, x, y):
        """Sixteen directions: at most 1 / cos(13.28 deg) = 2.75 % more than straight."""
        columns, rows = FLAT.cost.centres()
        row, column = FLAT.cost.cell_of(x, y)
        straight = hypot(columns[column] - 15.0, rows[row])
        first_step = sqrt(0.5) * FLAT.parameters.cell  # from the door to the first cell's centre
        cost = float(FLAT.cost.values[row, column])
        assert straight - 1e-9 <= cost <= (straight + first_step) * 1.0276 + first_step

    @pytest.mark.parametrize("width", [1.0, 1.6])
    def test_a_gap_as_wide_as_machine_and_gaps_is_passable_to_a_cell(self, width):
        needed = width + 2 * 0.3
        wide = reach_on(blocked=gate(needed + 0.5), machine_width=width)
        narrow = reach_on(blocked=gate(needed - 0.01), machine_width=width)
        assert np.isfinite(cost_at(wide, 15.0, 15.0))
        assert cost_at(narrow, 15.0, 15.0) == np.inf
        assert np.isfinite(cost_at(narrow, 15.0, 5.0))

    def test_a_gap_on_a_line_of_cells_is_passable_at_exactly_its_width(self):
        needed = 1.0 + 2 * 0.3
        at = 15.25  # the middle of a column of cells
        exact = reach_on(blocked=gate(needed + 0.01, at=at), machine_width=1.0)
        assert np.isfinite(cost_at(exact, 15.0, 15.0))

    def test_more_access_points_only_make_ways_cheaper(self):
        one, other = Point(5.0, 0.0), Point(25.0, 20.0)
        first, second = reach_on(doors=(one,)), reach_on(doors=(other,))
        both = reach_on(doors=(one, other))
        np.testing.assert_allclose(
            both.cost.values, np.minimum(first.cost.values, second.cost.values)
        )

    def test_the_machine_leaves_the_parcel_only_round_the_access_point(self):
        body = LOT.union(DOOR.buffer(4.0))
        assert FLAT.middle.buffer(0.975, quad_segs=16).difference(body).area < 1e-6
        assert FLAT.middle.covers(DOOR)
        assert not FLAT.middle.intersects(box(0.0, 0.0, 10.0, 0.97))

    def test_an_access_point_shut_in_by_walls_gives_no_way(self):
        cage = DOOR.buffer(2.0).difference(DOOR.buffer(1.8))
        reach = reach_on(blocked=(cage,))
        assert cost_at(reach, 15.0, 5.0) == np.inf
        assert route_to(reach, box(10.0, 10.0, 12.0, 12.0)) is None

    def test_an_access_point_beside_a_wall_starts_on_its_own_side(self):
        wall = box(-1.0, 0.4, 31.0, 0.6)
        reach = reach_on(blocked=(wall,))
        assert cost_at(reach, 15.0, 10.0) == np.inf

    def test_hand_dig_ground_costs_extra_for_each_metre(self):
        strip = MultiPolygon([box(-5.0, 8.0, 35.0, 12.0)])
        plain, dear = FLAT, reach_on(hand_dig=strip, hand_dig_cost=2.0)
        assert cost_at(dear, 15.1, 7.1) == pytest.approx(cost_at(plain, 15.1, 7.1))
        extra = cost_at(dear, 15.1, 15.1) - cost_at(plain, 15.1, 15.1)
        assert extra == pytest.approx(2.0 * 4.0, abs=2.0 * 0.5)  # to a cell


FLAT = reach_on()


class TestSlopes:
    @pytest.mark.parametrize("direction", range(0, 360, 45))
    @pytest.mark.parametrize(("angle", "passes"), [(14.9, True), (15.1, False)])
    def test_straight_up_a_plane_the_slope_along_decides(self, direction, angle, passes):
        c, s = cos(radians(direction)), sin(radians(direction))
        rise = tan(radians(angle))
        assert self.gets_through(direction, plane(rise * c, rise * s)) == passes

    @pytest.mark.parametrize("direction", range(0, 360, 45))
    @pytest.mark.parametrize(("angle", "passes"), [(9.9, True), (10.1, False)])
    def test_along_a_contour_the_slope_across_decides(self, direction, angle, passes):
        c, s = cos(radians(direction)), sin(radians(direction))
        rise = tan(radians(angle))
        assert self.gets_through(direction, plane(-rise * s, rise * c)) == passes

    def gets_through(self, direction: float, surface) -> bool:
        """Whether the machine gets through a lane one cell wide, so that it cannot tack."""
        c, s = cos(radians(direction)), sin(radians(direction))
        way = LineString([(15.25 - 5 * c, 10.25 - 5 * s), (15.25 + 5 * c, 10.25 + 5 * s)])
        walls = LOT.buffer(20.0).difference(way.buffer(0.975 + 0.15, cap_style="square"))
        door = Point(15.25 - 4 * c, 10.25 - 4 * s)
        reach = reach_on(surface, blocked=(walls,), doors=(door,))
        return bool(np.isfinite(cost_at(reach, 15.25 + 4 * c, 10.25 + 4 * s)))

    def test_between_the_limits_only_up_and_down_is_a_way(self):
        """12 deg: across is too steep, along is not."""
        rise = tan(radians(12.0))
        reach = reach_on(plane(0.0, rise))
        route = route_to(reach, box(24.0, 15.0, 26.0, 17.0))
        assert route is not None
        assert route.steepest_across <= tan(radians(10.0)) + 1e-6
        assert route.steepest_along <= tan(radians(15.0)) + 1e-6
        assert hypot(route.steepest_along, route.steepest_across) >= rise - 1e-6

    def test_unknown_ground_is_no_way(self):
        def holed(x, y):
            return np.where((y > 8.0) & (y < 12.0), np.nan, 100.0)

        reach = reach_on(holed)
        assert np.isfinite(cost_at(reach, 15.0, 5.0))
        assert cost_at(reach, 15.0, 15.0) == np.inf


class TestRoute:
    def checked(self, reach: Reach, target, keep_off=None) -> MachineRoute:
        route = route_to(reach, target, keep_off)
        assert route is not None
        assert route.length_m == pytest.approx(route.line.length)
        assert reach.middle.buffer(1e-6).covers(route.line)
        end = Point(route.line.coords[-1])
        assert 0.0 < end.distance(target) <= reach.parameters.working_reach + 1e-6
        assert not route.line.intersects(target)
        if keep_off is not None:
            assert route.line.distance(keep_off) >= reach.parameters.half_m - 1e-6
        return route

    def test_over_free_ground_it_goes_straight(self):
        route = self.checked(FLAT, box(14.0, 15.0, 16.0, 17.0))
        assert len(route.line.coords) == 2
        assert route.line.coords[0] == (15.0, 0.0)
        assert route.length_m == pytest.approx(11.0, abs=0.6)
        assert route.steepest_along == pytest.approx(0.0, abs=1e-12)
        half = FLAT.parameters.half_m
        area = 2 * half * route.length_m + np.pi * half**2
        assert route.corridor.area == pytest.approx(area, rel=2e-3)

    def test_it_bends_round_a_wall_and_keeps_its_gap(self):
        wall = box(8.0, 9.0, 22.0, 9.2)
        reach = reach_on(blocked=(wall,))
        route = self.checked(reach, box(14.0, 14.0, 16.0, 16.0))
        assert route.line.distance(wall) >= 0.975 - 2e-3
        end = Point(route.line.coords[-1])
        corner = min(
            hypot(15.0 - x, 9.1) + end.distance(Point(x, 9.1)) for x in (8.0 - 0.975, 22.0 + 0.975)
        )
        assert route.length_m == pytest.approx(corner, rel=0.09)

    def test_the_corridor_keeps_off(self):
        target = box(13.0, 9.0, 17.0, 12.0)
        keep_off = unary_union([target.buffer(0.61), box(8.0, 4.0, 22.0, 5.0)])
        route = self.checked(FLAT, target, keep_off)
        assert route.corridor.intersection(keep_off).area < 1e-3

    def test_a_work_beside_the_entry_has_a_valid_way(self):
        """A wall keeps the machine off the access point; from its first stand it can work."""
        reach = reach_on(blocked=(box(15.2, -1.0, 15.4, 21.0),))
        route = self.checked(reach, box(12.0, 1.5, 13.0, 3.0))
        assert route.line.is_valid
        assert route.length_m < 0.5
        assert route.corridor.area == pytest.approx(np.pi * reach.parameters.half_m**2, rel=0.5)

    def test_a_target_out_of_reach_has_no_way(self):
        reach = reach_on(blocked=gate(0.5))
        assert route_to(reach, box(14.0, 16.0, 16.0, 18.0)) is None
        assert route_to(reach, box(14.0, 10.3, 16.0, 12.0)) is not None

    def test_length_in_hand_dig_ground_is_measured(self):
        strip = MultiPolygon([box(-5.0, 4.0, 35.0, 6.0)])
        reach = reach_on(hand_dig=strip)
        route = self.checked(reach, box(14.0, 15.0, 16.0, 17.0))
        assert route.hand_dig_m == pytest.approx(2.0, abs=0.05)

    def test_slopes_are_measured_along_the_line(self):
        reach = reach_on(plane(0.05, 0.1))
        route = self.checked(reach, box(14.0, 15.0, 16.0, 17.0))
        (x0, y0), (x1, y1) = route.line.coords[0], route.line.coords[-1]
        east, north = (x1 - x0) / route.length_m, (y1 - y0) / route.length_m
        assert route.steepest_along == pytest.approx(abs(0.05 * east + 0.1 * north), abs=1e-6)
        assert route.steepest_across == pytest.approx(abs(0.1 * east - 0.05 * north), abs=1e-6)

    def test_the_same_twice(self):
        target = box(3.0, 12.0, 6.0, 15.0)
        first = self.checked(reach_on(), target)
        assert first.line.wkb == self.checked(reach_on(), target).line.wkb
