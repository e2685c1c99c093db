"""A raster's geometry: cells, samples, windows, burning in and tracing out."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from pyproj import CRS
from shapely import LineString, MultiPolygon, Point, Polygon, box

from geo_site.raster import Raster, as_multipolygon, burn, grid_over, trace

METRES = CRS.from_epsg(32617)


def raster(values: np.ndarray, width: float = 2.0, height: float = 1.0) -> Raster:
    return Raster(values, Affine(width, 0, 100.0, 0, -height, 50.0), METRES)


def plane(rows: int = 8, cols: int = 9) -> Raster:
    """z = 3 + 0.1 x - 0.2 y on cells of 2 m by 1 m."""
    x, y = raster(np.zeros((rows, cols))).centres()
    return raster(3.0 + 0.1 * x[None, :] - 0.2 * y[:, None])


def test_cells_and_bounds() -> None:
    grid = raster(np.zeros((3, 4)))
    assert grid.bounds == (100.0, 47.0, 108.0, 50.0)
    assert grid.cell_area_m2 == 2.0
    assert grid.cell_of(100.1, 49.9) == (0, 0)
    assert grid.cell_of(107.9, 47.1) == (2, 3)
    assert grid.outline.area == pytest.approx(24.0)


def test_values_cannot_be_written() -> None:
    own = np.zeros((2, 2))
    grid = raster(own)
    with pytest.raises(ValueError, match="read-only"):
        grid.values[0, 0] = 1.0
    own[0, 0] = 5.0  # the caller's array stays the caller's
    assert own.flags.writeable


@pytest.mark.parametrize(
    "transform", [Affine(1, 0.1, 0, 0, -1, 0), Affine(1, 0, 0, 0, 1, 0), Affine(-1, 0, 0, 0, -1, 0)]
)
def test_rotated_and_upside_down_grids_are_refused(transform: Affine) -> None:
    with pytest.raises(ValueError, match="north up"):
        Raster(np.zeros((2, 2)), transform, METRES)


def test_another_shape_is_refused() -> None:
    with pytest.raises(ValueError, match="shape"):
        raster(np.zeros((2, 2))).like(np.zeros((3, 2)))


@given(st.floats(101.0, 117.0), st.floats(42.5, 49.5))
def test_bilinear_sample_is_exact_on_a_plane(x: float, y: float) -> None:
    assert plane().sample(np.array([[x, y]]))[0] == pytest.approx(3.0 + 0.1 * x - 0.2 * y)


def test_sample_outside_and_beside_a_hole() -> None:
    values = np.ones((3, 3))
    values[1, 1] = np.nan
    grid = raster(values)
    beyond, corner, hole, beside = grid.sample(
        np.array([[99.9, 49.0], [100.0, 50.0], [103.0, 48.5], [101.0, 49.5]])
    )
    assert np.isnan(beyond)
    assert corner == 1.0
    assert np.isnan(hole)
    assert beside == 1.0  # a centre: no weight on its neighbours


@pytest.mark.parametrize("shape", [(3, 4), (1, 4), (3, 1), (1, 1)])
@given(x=st.floats(98.0, 110.0), y=st.floats(45.0, 51.0))
def test_one_point_is_sampled_to_the_digit_as_many_are(shape, x: float, y: float) -> None:
    values = np.random.default_rng(1).random(shape)
    values[0, -1] = np.nan
    grid = raster(values)
    np.testing.assert_array_equal(grid.sample_at(x, y), grid.sample(np.array([[x, y]]))[0])


def test_a_ring_is_traced_and_burnt_with_its_hole() -> None:
    mask = np.ones((5, 5), dtype=bool)
    mask[1:4, 1:4] = False
    mask[2, 2] = True  # an island in it
    grid = raster(np.zeros((5, 5)))
    area = trace(mask, grid)
    assert sorted(len(part.interiors) for part in area.geoms) == [0, 1]
    assert np.array_equal(burn(area, grid), mask)
    assert np.array_equal(burn(list(area.geoms), grid), mask)


def test_window_keeps_cells_in_place() -> None:
    grid = plane()
    part = grid.window((103.0, 45.5, 107.0, 47.2))
    x, y = part.centres()
    here = np.array([[x[0], y[0]], [x[-1], y[-1]]])
    assert part.sample(here) == pytest.approx(grid.sample(here))
    assert part.bounds[0] <= 103.0
    assert part.bounds[3] >= 47.2
    with pytest.raises(ValueError, match="outside"):
        grid.window((0.0, 0.0, 1.0, 1.0))


def test_grid_moves_with_its_anchor() -> None:
    a = grid_over((0.3, 0.3, 5.1, 4.2), 0.5, METRES)
    b = grid_over((7.43, 11.53, 12.23, 15.43), 0.5, METRES, anchor=(7.13, 11.23))
    assert a.shape == b.shape
    assert b.bounds == pytest.approx(tuple(np.add(a.bounds, [7.13, 11.23, 7.13, 11.23])))


def test_grid_covers_with_its_margin() -> None:
    west, south, east, north = grid_over((0.0, 0.0, 1.0, 1.0), 0.3, METRES, margin_m=0.2).bounds
    assert west <= -0.2
    assert south <= -0.2
    assert east >= 1.2
    assert north >= 1.2


@given(arrays(bool, (6, 5)))
def test_traced_area_is_the_cells(mask: np.ndarray) -> None:
    grid = raster(mask)
    traced = trace(mask, grid)
    assert traced.area == pytest.approx(mask.sum() * grid.cell_area_m2)
    assert np.array_equal(burn(traced, grid), mask)


def test_burn_by_centre_and_by_touch() -> None:
    grid = raster(np.zeros((4, 4)))
    small = box(100.1, 49.1, 101.5, 49.9)
    assert burn(small, grid).sum() == 1
    assert burn(small.buffer(0.3), grid, touched=True).sum() > 1
    assert burn([], grid).sum() == 0
    assert burn(Polygon(), grid).sum() == 0
    assert burn(LineString([(100.5, 49.5), (107.5, 49.5)]), grid).sum() == 4


def test_only_areas_are_kept() -> None:
    assert as_multipolygon(None).is_empty
    assert as_multipolygon(LineString([(0, 0), (1, 1)])).is_empty
    mixed = box(0, 0, 1, 1).union(LineString([(3, 3), (4, 4)])).union(Point(9, 9))
    assert as_multipolygon(mixed).area == 1.0
    assert isinstance(as_multipolygon(box(0, 0, 1, 1)), MultiPolygon)
