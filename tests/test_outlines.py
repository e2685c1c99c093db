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

    @SOME
    @given(seed=st.integers(0, 10_000), turn=st.floats(0.0, 180.0))
    def test_clear_windows_are_those_with_no_marked_cell(self, seed, turn):
        random = np.random.default_rng(seed)
        marked = random.random((18, 23)) < 0.06
        length, width = random.uniform(0.6, 2.0, size=2)
        runs = outlines.row_runs(length, width, turn, 0.25)
        distance = ndimage.distance_transform_edt(np.pad(~marked, 1))[1:-1, 1:-1] * 0.25
        clear = outlines.clear_windows(
            outlines.row_sums(marked),
            distance,
            runs,
            min(length, width) / 2,
            hypot(length, width) / 2,
        )
        padded = np.pad(marked, 12, constant_values=True)
        for row in range(18):
            for column in range(23):
                covered = any(
                    padded[row + 12 + r, column + 12 + first : column + 13 + last].any()
                    for r, first, last in runs
                )
                assert clear[row, column] == (not covered)

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
