"""Slopes: Horn's gradient on small grids, planes, edges and holes."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import ndimage

from geo_site import slopes

GRADIENTS = st.floats(-2.0, 2.0)


def plane(east, north, shape=(5, 6), width=0.5, height=0.8):
    rows, columns = np.indices(shape)
    return 10.0 + east * columns * width - north * rows * height


def test_slope_of_a_published_window():
    """TER-01: slope example of a published GIS help page, after Horn (1981)."""
    ground = np.array([[50.0, 45, 50], [30, 30, 30], [8, 10, 10]])
    east, north = (grid[1, 1] for grid in slopes.gradient(ground, 5.0, 5.0))
    assert east == pytest.approx(0.05, abs=1e-12)
    assert north == pytest.approx(3.8, abs=1e-12)
    slope = slopes.slope_of(np.array(east), np.array(north))
    assert float(slope) == pytest.approx(3.80033, abs=1e-5)
    assert slopes.degrees_from_slope(float(slope)) == pytest.approx(75.2577, abs=2e-4)


def test_aspect_of_a_published_window():
    """TER-02: aspect example of the same page: the ground falls towards 92.64 degrees."""
    ground = np.array([[101.0, 92, 85], [101, 92, 85], [101, 91, 84]])
    east, north = slopes.gradient(ground, 1.0, 1.0)
    assert east[1, 1] == pytest.approx(-8.125)
    assert north[1, 1] == pytest.approx(0.375)
    aspect = float(slopes.aspect_of(east, north)[1, 1])
    assert aspect == pytest.approx(92.64, abs=0.01)
    assert aspect != pytest.approx(272.64, abs=0.01), "the way up"
    assert aspect != pytest.approx(87.36, abs=0.01), "rows counted northwards"


def test_plane_has_one_slope():
    """TER-03: the plane z = 0.03 x - 0.04 y has a slope of 0.05, 2.8624 degrees (definition)."""
    east, north = slopes.gradient(plane(0.03, -0.04, (9, 7), 2.0, 2.0), 2.0, 2.0)
    slope = slopes.slope_of(east, north)
    assert np.allclose(slope, 0.05, rtol=0, atol=1e-9)
    assert slopes.degrees_from_slope(0.05) == pytest.approx(2.8624, abs=1e-4)


@pytest.mark.parametrize(
    ("east", "north", "aspect"),
    [(0, -1, 0), (-1, -1, 45), (-1, 0, 90), (0, 1, 180), (1, 0, 270), (1, -1, 315)],
)
def test_aspect_is_the_compass_direction_of_the_way_down(east, north, aspect):
    gradients = slopes.gradient(plane(float(east), float(north), (3, 3), 1.0, 1.0), 1.0, 1.0)
    assert np.allclose(slopes.aspect_of(*gradients), aspect)


def test_level_ground_has_no_aspect():
    east, north = slopes.gradient(np.zeros((4, 4)), 1.0, 1.0)
    assert np.all(slopes.slope_of(east, north) == 0.0)
    assert np.all(np.isnan(slopes.aspect_of(east, north)))


def test_angles_as_slopes():
    """ACC-02: 10, 15, 20 and 30 degrees are 17.63, 26.79, 36.40 and 57.74 % (definition)."""
    for angle, percent in ((10, 17.63), (15, 26.79), (20, 36.40), (30, 57.74)):
        assert 100 * slopes.slope_from_degrees(angle) == pytest.approx(percent, abs=0.005)
        assert slopes.degrees_from_slope(slopes.slope_from_degrees(angle)) == pytest.approx(angle)


def test_batters_as_angles():
    """EXC-01: 29 CFR 1926 Subpart P, table B-1: 1.5, 0.75 and 0.5 to 1 print as 34, 53, 63."""
    for batter, angle, printed in ((1.5, 33.69, 34), (0.75, 53.13, 53), (0.5, 63.43, 63)):
        found = slopes.degrees_from_slope(1 / batter)
        assert found == pytest.approx(angle, abs=0.005)
        assert round(found) == printed


@given(GRADIENTS, GRADIENTS)
def test_a_plane_keeps_its_gradient_up_to_the_edge(east, north):
    found = slopes.gradient(plane(east, north), 0.5, 0.8)
    assert np.allclose(found[0], east, atol=1e-9)
    assert np.allclose(found[1], north, atol=1e-9)


@given(GRADIENTS, GRADIENTS, arrays(bool, (5, 6)))
def test_a_plane_keeps_its_gradient_beside_holes(east, north, holes):
    ground = np.where(holes, np.nan, plane(east, north))
    found = slopes.gradient(ground, 0.5, 0.8)
    assert np.all(np.isnan(found[0][holes]))
    known = np.isfinite(found[0])
    assert np.array_equal(known, np.isfinite(found[1]))
    assert np.allclose(found[0][known], east, atol=1e-9)
    assert np.allclose(found[1][known], north, atol=1e-9)


@given(arrays(float, (6, 7), elements=st.floats(-50, 50)))
def test_inside_it_is_the_sobel_filter_of_an_independent_library(ground):
    east, north = slopes.gradient(ground, 2.0, 3.0)
    inside = (slice(1, -1), slice(1, -1))
    assert np.allclose(east[inside], (ndimage.sobel(ground, axis=1) / 16.0)[inside], atol=1e-9)
    assert np.allclose(north[inside], (-ndimage.sobel(ground, axis=0) / 24.0)[inside], atol=1e-9)


def test_a_row_alone_fixes_no_plane():
    east, north = slopes.gradient(np.array([[1.0, 2.0, 3.0]]), 1.0, 1.0)
    assert np.all(np.isnan(east))
    assert np.all(np.isnan(north))


def test_the_ground_is_not_changed():
    ground = plane(0.1, 0.2)
    ground[2, 2] = np.nan
    before = ground.copy()
    slopes.gradient(ground, 0.5, 0.8)
    assert np.array_equal(ground, before, equal_nan=True)


@pytest.mark.parametrize("size", [0.0, -1.0, math.nan])
def test_cells_have_a_size(size):
    with pytest.raises(ValueError, match="greater than 0"):
        slopes.gradient(np.zeros((3, 3)), size, 1.0)
    with pytest.raises(ValueError, match="greater than 0"):
        slopes.gradient(np.zeros((3, 3)), 1.0, size)


def test_a_grid_has_two_dimensions():
    with pytest.raises(ValueError, match="two dimensions"):
        slopes.gradient(np.zeros(3), 1.0, 1.0)


@pytest.mark.parametrize("angle", [90.0, -90.0, math.nan])
def test_a_wall_has_no_slope(angle):
    with pytest.raises(ValueError, match="between"):
        slopes.slope_from_degrees(angle)
