"""A pit's edge on planes, windows on grids: closed forms and counting by hand."""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_terrain
from scipy import ndimage
from shapely import Point, contains_xy
from shapely.affinity import rotate
from shapely.geometry import Polygon, box

from geo_site import outlines
from geo_site.outlines import Pit, Surface
from geo_site.raster import Raster

SOME = settings(max_examples=30, deadline=None)  # the first call compiles


def as_surface(raster: Raster) -> Surface:
    west, _, _, north = raster.bounds
    return Surface(
        np.asarray(raster.values, dtype=np.float64),
        west,
        north,
        raster.cell_width_m,
        raster.cell_height_m,
    )


def make_pit(
    length_m: float, width_m: float, *, depth_m: float, batter: float, overdig_m: float = 0.0
) -> Pit:
    floor = length_m + 2 * overdig_m, width_m + 2 * overdig_m
    return Pit(
        outlines.outline_points(length_m, width_m, 0.2),
        outlines.floor_points(*floor, 0.2),
        outlines.edge_rays(*floor, 0.2, 5.0),
        depth_m,
        batter,
    )


def plane_surface(east: float, north: float, level_m: float = 100.0) -> Surface:
    return as_surface(make_terrain(lambda x, y: level_m + east * x + north * y))


class TestLevels:
    @SOME
    @given(
        seed=st.integers(0, 100),
        x=st.floats(-22.0, 22.0),
        y=st.floats(-22.0, 22.0),
        holes=st.booleans(),
    )
    def test_level_is_that_of_the_raster(self, seed, x, y, holes):
        values = np.random.default_rng(seed).normal(size=(8, 8))
        if holes:
            values[values > 1.0] = np.nan
        raster = make_terrain(values, cell_m=5.0, bounds=(-20.0, -20.0, 20.0, 20.0))
        expected = raster.sample(np.array([[x, y]]))[0]
        found = outlines.level_at(as_surface(raster), x, y)
        np.testing.assert_allclose(found, expected, rtol=0.0, atol=1e-12)

    def test_beside_a_hole_a_cell_centre_is_known_and_the_way_to_the_hole_is_not(self):
        surface = as_surface(make_terrain(np.array([[1.0, np.nan]]), bounds=(0.0, 0.0, 2.0, 1.0)))
        assert outlines.level_at(surface, 0.5, 0.5) == 1.0
        assert np.isnan(outlines.level_at(surface, 0.6, 0.5))
        assert np.isnan(outlines.level_at(surface, 0.5, 1.01))

    @SOME
    @given(seed=st.integers(0, 200))
    def test_highest_between_is_the_greatest_in_the_ring(self, seed):
        random = np.random.default_rng(seed)
        spots = random.uniform(0.0, 10.0, size=(40, 3))
        spots = spots[np.argsort(-spots[:, 2])]
        points = random.uniform(0.0, 10.0, size=(5, 2))
        found = outlines.highest_between(points, spots, 2.0, 4.0)
        for point, level in zip(points, found, strict=True):
            far = np.hypot(*(spots[:, :2] - point).T)
            ring = spots[(far >= 2.0) & (far <= 4.0), 2]
            if len(ring):
                assert level == ring.max()
            else:
                assert np.isnan(level)


class TestRectangles:
    @SOME
    @given(length=st.floats(0.3, 6.0), width=st.floats(0.3, 6.0), step=st.floats(0.1, 1.0))
    def test_outline_points_lie_on_the_outline_no_further_apart_than_the_step(
        self, length, width, step
    ):
        points = outlines.outline_points(length, width, step)
        ring = np.vstack([points, points[:1]])
        assert np.hypot(*np.diff(ring, axis=0).T).max() <= step + 1e-9
        assert Polygon(points).area == pytest.approx(length * width)
        assert Polygon(points).exterior.is_ccw
        edge = box(-length / 2, -width / 2, length / 2, width / 2).exterior
        assert max(edge.distance(Point(p)) for p in points) < 1e-9

    def test_floor_points_reach_every_corner(self):
        points = outlines.floor_points(2.3, 0.9, 0.2)
        for corner in [(-1.15, -0.45), (1.15, 0.45), (-1.15, 0.45), (1.15, -0.45)]:
            assert np.hypot(*(points - corner).T).min() < 1e-12
        x = np.unique(points[:, 0])
        assert np.diff(x).max() <= 0.2 + 1e-9

    def test_rays_are_unit_normals_and_turn_once_round(self):
        rays = outlines.edge_rays(3.0, 2.0, 0.2, 5.0)
        np.testing.assert_allclose(np.hypot(rays[:, 2], rays[:, 3]), 1.0)
        turn = np.unwrap(np.arctan2(rays[:, 3], rays[:, 2]))
        assert (np.diff(turn) >= -1e-12).all()
        assert np.diff(turn).max() <= radians(5.0) + 1e-9
        assert turn[-1] - turn[0] == pytest.approx(2 * pi - radians(5.0))

    @SOME
    @given(seed=st.integers(0, 300))
    def test_points_at_any_distances_along_the_rays_make_a_simple_polygon(self, seed):
        rays = outlines.edge_rays(2.0, 1.5, 0.2, 5.0)
        far = np.random.default_rng(seed).uniform(0.0, 4.0, size=(len(rays), 1))
        polygon = Polygon(rays[:, :2] + far * rays[:, 2:])
        assert polygon.is_valid
        assert polygon.buffer(1e-9).covers(box(-1.0, -0.75, 1.0, 0.75))


class TestPitEdge:
    @SOME
    @given(
        turn=st.floats(0.0, 180.0),
        batter=st.sampled_from([0.5, 0.75, 1.0, 1.5]),
        depth=st.floats(0.3, 2.0),
    )
    def test_on_level_ground_the_edge_lies_batter_times_depth_out(self, turn, batter, depth):
        pit = make_pit(3.2, 1.8, depth_m=depth, batter=batter, overdig_m=0.3)
        rim, rise, edge = outlines.pit_edge(plane_surface(0.0, 0.0), pit, 10.3, 8.7, radians(turn))
        assert rim == pytest.approx(100.0, abs=1e-9)
        assert rise == pytest.approx(0.0, abs=1e-9)
        floor = rotate(box(8.4, 7.5, 12.2, 9.9), turn, origin=(10.3, 8.7))
        away = np.array([floor.distance(Point(p)) for p in edge])
        np.testing.assert_allclose(away, batter * depth, atol=2e-6)
        reach = batter * depth
        area = 3.8 * 2.4 + 2 * (3.8 + 2.4) * reach + pi * reach**2
        dug = Polygon(edge)
        assert dug.area == pytest.approx(area, rel=1.5e-3)
        assert dug.area <= area + 1e-6

    @SOME
    @given(
        east=st.floats(-0.3, 0.3),
        north=st.floats(-0.3, 0.3),
        turn=st.floats(0.0, 180.0),
        batter=st.sampled_from([0.75, 1.0, 1.5]),
    )
    def test_on_a_plane_each_point_lies_where_side_and_plane_meet(self, east, north, turn, batter):
        """d / batter + floor = ground there, so d = (ground - floor) / (1 / batter - g . n)."""
        x, y, depth = 15.0, 12.0, 0.7
        pit = make_pit(3.0, 2.0, depth_m=depth, batter=batter)
        rim, _, edge = outlines.pit_edge(plane_surface(east, north), pit, x, y, radians(turn))
        c, s = cos(radians(turn)), sin(radians(turn))
        along, across = east * c + north * s, north * c - east * s
        centre = 100.0 + east * x + north * y
        assert rim == pytest.approx(centre - abs(along) * 1.5 - abs(across) * 1.0, abs=1e-9)
        for (u, v, p, q), found in zip(pit.rays, edge, strict=True):
            height = centre + along * u + across * v - (rim - depth)
            d = height / (1.0 / batter - (along * p + across * q))
            start = x + u * c - v * s, y + u * s + v * c
            way = p * c - q * s, p * s + q * c
            expected = start[0] + d * way[0], start[1] + d * way[1]
            assert hypot(found[0] - expected[0], found[1] - expected[1]) < 5e-6

    def test_an_upright_side_goes_straight_up(self):
        pit = make_pit(3.0, 2.0, depth_m=1.0, batter=0.0, overdig_m=0.25)
        _, _, edge = outlines.pit_edge(plane_surface(0.1, 0.0), pit, 10.0, 10.0, 0.0)
        assert Polygon(edge).area == pytest.approx(3.5 * 2.5)

    def test_ground_below_the_floor_is_not_dug(self):
        def cliff(x, y):
            return np.where(x < 10.0, 100.0, 90.0)

        pit = make_pit(2.0, 2.0, depth_m=0.5, batter=1.0, overdig_m=1.5)
        surface = as_surface(make_terrain(cliff, cell_m=0.5))
        _, _, edge = outlines.pit_edge(surface, pit, 8.0, 10.0, 0.0)
        assert edge[:, 0].max() == pytest.approx(10.5)

    def test_unknown_ground_in_the_way_makes_the_edge_unknown(self):
        values = np.full((20, 20), 100.0)
        values[9, 15] = np.nan
        raster = make_terrain(values, bounds=(0.0, 0.0, 20.0, 20.0))
        pit = make_pit(3.0, 2.0, depth_m=1.0, batter=1.5)
        _, _, near = outlines.pit_edge(as_surface(raster), pit, 13.0, 10.5, 0.0)
        _, _, far = outlines.pit_edge(as_surface(raster), pit, 8.0, 10.5, 0.0)
        assert np.isnan(near).any()
        assert np.isfinite(far).all()

    def test_rise_is_the_plane_s_difference_over_the_floor(self):
        pit = make_pit(3.0, 2.0, depth_m=1.0, batter=1.0, overdig_m=0.5)
        _, rise, _ = outlines.pit_edge(plane_surface(0.1, -0.2), pit, 10.0, 10.0, 0.0)
        assert rise == pytest.approx(0.1 * 4.0 + 0.2 * 3.0)


class TestScreen:
    @SOME
    @given(seed=st.integers(0, 10_000))
    def test_never_rejects_what_fits(self, seed):
        """A pit whose edge lies on the room as polygons tell is never screened out."""
        random = np.random.default_rng(seed)
        rough = ndimage.gaussian_filter(random.normal(size=(30, 30)), 2.0)
        surface = as_surface(make_terrain(100.0 + rough, bounds=(0.0, 0.0, 30.0, 30.0)))
        free = Point(15.0, 15.0).buffer(random.uniform(2.5, 6.0))
        cells = make_terrain(np.zeros((600, 600)), cell_m=0.05, bounds=(0.0, 0.0, 30.0, 30.0))
        x, y = np.meshgrid(*cells.centres())
        touched = contains_xy(free.buffer(0.05 * sqrt(0.5)), x, y)
        room = Surface(touched, 0.0, 30.0, 0.05, 0.05)
        pit = make_pit(2.0, 1.5, depth_m=0.6, batter=1.0, overdig_m=0.2)
        places = np.column_stack([random.uniform(12.0, 18.0, (60, 2)), random.uniform(0.0, pi, 60)])
        kept = outlines.screen_pits(surface, room, pit, places, 0.4)
        for place, is_kept in zip(places, kept, strict=True):
            _, rise, edge = outlines.pit_edge(surface, pit, *place)
            fits = rise <= 0.4 and free.covers(Polygon(edge))
            assert is_kept or not fits
            if is_kept:
                assert rise <= 0.4
                assert free.buffer(0.15).covers(Polygon(edge))


class TestWindows:
    @SOME
    @given(
        length=st.floats(0.3, 3.0),
        width=st.floats(0.3, 3.0),
        turn=st.floats(0.0, 180.0),
        cell=st.sampled_from([0.1, 0.2, 0.25]),
    )
    def test_runs_are_the_centres_strictly_inside(self, length, width, turn, cell):
        shape = rotate(box(-length / 2, -width / 2, length / 2, width / 2), turn, origin=(0, 0))
        runs = outlines.row_runs(length, width, turn, cell)
        found = {(r, c) for r, first, last in runs for c in range(first, last + 1)}
        reach = int(4 / cell)
        offsets = np.arange(-reach, reach + 1)
        column, row = (grid.ravel() for grid in np.meshgrid(offsets, offsets))
        inner, outer = shape.buffer(-2e-6), shape.buffer(1e-9)
        surely = contains_xy(inner, column * cell, -row * cell)
        maybe = contains_xy(outer, column * cell, -row * cell)
        cells = list(zip(row.tolist(), column.tolist(), strict=True))
        assert {cells[i] for i in np.flatnonzero(surely)} <= found
        assert found <= {cells[i] for i in np.flatnonzero(maybe)}

    @settings(max_examples=150, deadline=None)
    @given(
        seed=st.integers(0, 10_000),
        shape=st.tuples(st.integers(1, 40), st.integers(1, 200)),
        share=st.sampled_from([0.0, 0.002, 0.01, 0.05, 0.3, 1.0]),
        sides=st.tuples(st.floats(0.1, 12.0), st.floats(0.1, 30.0)),
        turn=st.floats(0.0, 180.0),
    )
    def test_clear_windows_are_an_erosion(self, seed, shape, share, sides, turn):
        """Against an image library, off the grid marked; rows shorter and longer than a word."""
        marked = np.random.default_rng(seed).random(shape) < share
        runs = outlines.row_runs(*sides, turn, 0.25)
        reach = int(np.abs(runs).max())
        found = outlines.clear_windows(outlines.clear_runs(marked, reach), runs)
        window = np.zeros((2 * reach + 1, 2 * reach + 1), dtype=bool)
        for row, first, last in runs:
            window[row + reach, first + reach : last + reach + 1] = True
        expected = ndimage.binary_erosion(~marked, window, border_value=0)
        np.testing.assert_array_equal(outlines.from_words(found, shape[1]), expected)

    @SOME
    @given(seed=st.integers(0, 10_000), reach=st.sampled_from([1, 5, 63, 64, 130]))
    def test_any_runs_in_any_order_and_a_grid_prepared_for_more(self, seed, reach):
        """Runs that are no rectangle's, aside of the middle, two in one row, at word borders."""
        random = np.random.default_rng(seed)
        marked = random.random((9, 150)) < random.choice([0.0, 0.02])
        columns = np.sort(random.integers(-reach, reach + 1, size=(4, 2)), axis=1)
        runs = np.column_stack([random.integers(-1, 2, size=4), columns])
        found = outlines.clear_windows(outlines.clear_runs(marked, 130), runs)
        padded = np.pad(marked, 131, constant_values=True)
        expected = np.ones(marked.shape, dtype=bool)
        for r, first, last in runs:
            for column in range(first, last + 1):
                expected &= ~padded[131 + r : 140 + r, 131 + column : 281 + column]
        np.testing.assert_array_equal(outlines.from_words(found, 150), expected)

    def test_a_window_beyond_what_the_grid_was_prepared_for_is_refused(self):
        clear = outlines.clear_runs(np.zeros((5, 5), dtype=bool), 2)
        with pytest.raises(ValueError, match="2 from its middle"):
            outlines.clear_windows(clear, np.array([[0, -3, 3]]))
        with pytest.raises(ValueError, match="has cells"):
            outlines.clear_windows(clear, np.zeros((0, 3), dtype=np.int64))

    @SOME
    @given(seed=st.integers(0, 1000))
    def test_window_counts_are_a_correlation(self, seed):
        random = np.random.default_rng(seed)
        marked = random.random((9, 12)) < 0.4
        runs = np.array([[-1, 0, 0], [0, -2, 1], [2, -1, 3]])
        window = np.zeros((5, 7))
        for row, first, last in runs:
            window[row + 2, first + 3 : last + 4] = 1
        expected = ndimage.correlate(marked.astype(float), window, mode="constant")
        found = outlines.window_counts(outlines.row_sums(marked), runs)
        np.testing.assert_array_equal(found, expected)


def some_scoring(seed: int, shape: tuple[int, int]):
    """A base from 0 to 0.7, gradients with holes, level ground worth 0.3."""
    random = np.random.default_rng(seed)
    east, north = random.normal(0.0, 0.1, size=(2, *shape))
    east[random.random(shape) < 0.1] = np.nan
    base = np.round(random.random(shape) * 0.7, random.integers(1, 5))
    return outlines.Scoring(base, east, north, 0.3, 0.6)


class TestScores:
    """Places by score, against working out all of them at once with arrays."""

    def scores(self, scoring, turned):
        along = np.abs(scoring.east * turned.cosine + scoring.north * turned.sine)
        across = np.abs(scoring.north * turned.cosine - scoring.east * turned.sine)
        rise = along * turned.length_m + across * turned.width_m
        mark = 1.0 - np.minimum(np.nan_to_num(rise / 0.6, nan=1.0), 1.0)
        return np.rint((scoring.base + scoring.share * mark) * 1e9).astype(np.int64)

    @SOME
    @given(seed=st.integers(0, 10_000), columns=st.integers(1, 150), turn=st.floats(0.0, 180.0))
    def test_classes_are_counted_and_listed(self, seed, columns, turn):
        random = np.random.default_rng(seed)
        scoring = some_scoring(seed, (7, columns))
        turned = outlines.Turned(3.2, 1.8, cos(radians(turn)), sin(radians(turn)))
        marked, taken = random.random((2, 7, columns)) < 0.3
        clear = outlines.clear_windows(outlines.clear_runs(marked, 1), np.array([[0, 0, 0]]))
        counts, greatest = outlines.count_classes(clear, scoring, turned)
        expected = self.scores(scoring, turned)
        classes = expected[~marked] >> 17
        np.testing.assert_array_equal(counts, np.bincount(classes, minlength=len(counts)))
        assert greatest.max() == classes.max(initial=-1)
        between = tuple(sorted(random.integers(0, len(counts) + 1, size=2).tolist()))
        for least, above in (between, (0, len(counts)), (between[0], between[0] + 1)):
            cells, scores = outlines.scored_places(
                clear, scoring, turned, greatest, (least, above), taken
            )
            wanted = ~marked & ~taken & (expected >> 17 >= least) & (expected >> 17 < above)
            np.testing.assert_array_equal(cells, np.flatnonzero(wanted))
            assert np.abs(scores - expected[wanted]).max(initial=0) <= 1

    def test_level_mark_by_hand(self):
        """0.1 to the east under 3 m by 1 m: 0.3 m of 0.6; turned across, 0.1 m."""
        straight, across = outlines.Turned(3.0, 1.0, 1.0, 0.0), outlines.Turned(3.0, 1.0, 0.0, 1.0)
        assert outlines.level_mark(0.1, 0.0, straight, 0.6) == pytest.approx(0.5)
        assert outlines.level_mark(0.1, 0.0, across, 0.6) == pytest.approx(5.0 / 6.0)
        assert outlines.level_mark(0.0, 0.0, straight, 0.6) == 1.0
        assert outlines.level_mark(0.3, 0.0, straight, 0.6) == 0.0
        assert outlines.level_mark(float("nan"), 0.0, straight, 0.6) == 0.0
