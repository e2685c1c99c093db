"""Volumes on grids: cut and fill, battered pits, piles on real ground."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from geo_site import volumes

LEVELS = st.floats(-5.0, 5.0, width=32)
GRIDS = arrays(float, (4, 5), elements=LEVELS)


def centres(count, size):
    return (np.arange(count) + 0.5) * size


def distance_to_rectangle(x, y, length, width):
    """Distance from a rectangle of that size in the middle of the axes."""
    beyond_x = np.maximum(np.abs(x) - length / 2, 0.0)
    beyond_y = np.maximum(np.abs(y) - width / 2, 0.0)
    return np.hypot(beyond_x, beyond_y), np.maximum(beyond_x, beyond_y)


@given(GRIDS, GRIDS)
def test_cut_less_fill_is_the_sum_of_differences(ground, design):
    """EXC-13: the net of cut and fill is the difference of the surfaces (conservation)."""
    found = volumes.cut_and_fill(ground, design, 2.0)
    assert found.cut_m3 - found.fill_m3 == pytest.approx((ground - design).sum() * 2.0, abs=1e-9)
    assert found.cut_m3 >= -1e-9
    assert found.fill_m3 >= -1e-9


@given(GRIDS, GRIDS)
def test_turned_over_cut_becomes_fill(ground, design):
    """EXC-13: with both surfaces exchanged, cut and fill are exchanged."""
    one = volumes.cut_and_fill(ground, design, 1.0)
    other = volumes.cut_and_fill(design, ground, 1.0)
    assert one.cut_m3 == pytest.approx(other.fill_m3, abs=1e-9)
    assert one.fill_m3 == pytest.approx(other.cut_m3, abs=1e-9)


@given(GRIDS, arrays(float, (4, 5), elements=st.floats(0.0, 3.0)))
def test_digging_alone_makes_no_fill(ground, depth):
    """EXC-13: an excavation beside untouched ground lends nothing to it."""
    found = volumes.cut_and_fill(ground, ground - depth, 1.0)
    assert found.fill_m3 == pytest.approx(0.0, abs=1e-9)
    assert found.cut_m3 == pytest.approx(depth.sum(), abs=1e-9)


@pytest.mark.parametrize(("east", "north"), [(0.7, 0.0), (0.0, -0.4), (0.7, 0.4), (-0.3, 0.9)])
def test_cells_that_cross_zero_are_shared_out(east, north):
    """EXC-13: a plane through the middle of a 21 x 21 m square: cut equals fill, both exact."""
    x = centres(21, 1.0) - 10.5
    ground = east * x[None, :] + north * x[::-1, None]
    found = volumes.cut_and_fill(ground, np.zeros_like(ground), 1.0)
    fine = centres(2100, 0.01) - 10.5
    exact = np.maximum(east * fine[None, :] + north * fine[::-1, None], 0.0).sum() * 1e-4
    # Exact but for the few edge cells that cross zero, which have a neighbour on one side only.
    assert found.cut_m3 == pytest.approx(exact, rel=2e-3)
    assert found.cut_m3 == pytest.approx(found.fill_m3, rel=1e-9)


def test_a_cell_half_cut_and_half_filled_counts_in_both():
    """EXC-13: difference -1, 0, 1 m: the middle cell gives 1/8 m3 to each; the net hides it."""
    found = volumes.cut_and_fill(np.array([[-1.0, 0.0, 1.0]]), np.zeros((1, 3)), 1.0)
    assert found.cut_m3 == pytest.approx(1.125)
    assert found.fill_m3 == pytest.approx(1.125)


def test_ground_that_is_not_known_is_counted_and_not_guessed():
    ground = np.array([[1.0, np.nan], [1.0, 1.0]])
    design = np.array([[0.0, 0.0], [np.nan, 0.0]])
    found = volumes.cut_and_fill(ground, design, 1.0)
    assert (found.cut_m3, found.fill_m3, found.unknown_cells) == (2.0, 0.0, 1)


def test_surfaces_need_the_same_cells():
    with pytest.raises(ValueError, match="same cells"):
        volumes.cut_and_fill(np.zeros((2, 2)), np.zeros((2, 3)), 1.0)


@pytest.mark.parametrize("depths", [np.zeros((1, 3)), np.array([[1.0, -1.0], [0.0, 0.0]])])
def test_corner_grid_keeps_cut_and_fill_apart(depths):
    with pytest.raises(ValueError, match=r"rows|change sign"):
        volumes.corner_grid_volume(depths, 1.0)


def pit(cell):
    """A pit of 4 x 2 m floor, 1.2 m deep at 1.5:1 in level ground, with both distances."""
    x = centres(round(10 / cell), cell) - 5.0
    y = centres(round(8 / cell), cell) - 4.0
    ground = np.full((y.size, x.size), 100.0)
    rounded, square = distance_to_rectangle(x[None, :], y[:, None], 4.0, 2.0)
    return [
        volumes.battered_depths(ground, distance, 98.8, 1.5).sum() * cell**2
        for distance in (rounded, square)
    ]


def test_the_grid_converges_to_the_closed_form():
    """EXC-11: a battered pit on finer and finer cells, to the closed forms of its corners."""
    exact = (
        volumes.rounded_pit_volume(4.0, 2.0, 1.2, 1.5),
        volumes.battered_pit_volume(4.0, 2.0, 1.2, 1.5),
    )
    errors = [
        [abs(v - e) / e for v, e in zip(pit(c), exact, strict=True)] for c in (0.4, 0.1, 0.025)
    ]
    assert errors[0][0] > errors[1][0] > errors[2][0]
    assert errors[0][1] > errors[1][1] > errors[2][1]
    assert max(errors[2]) < 1e-4


def test_a_vertical_pit_on_a_slope():
    """EXC-11: with vertical sides it is the floor times the mean depth (geometry)."""
    x = centres(20, 0.5)
    ground = 100.0 + 0.1 * x[None, :] + np.zeros((10, 1))
    distance = np.where((x[None, :] > 2) & (x[None, :] < 6) & np.ones((10, 1), bool), 0.0, 1.0)
    depth = volumes.battered_depths(ground, distance, 99.0, 0.0)
    assert depth.sum() * 0.25 == pytest.approx(4.0 * 5.0 * 1.4)
    assert np.all(depth[distance > 0] == 0.0)


def test_a_battered_side_goes_further_uphill():
    """EXC-11: on ground rising 1 in 4 the side meets it at z h / (1 - z s) (geometry)."""
    x = centres(4000, 0.01)
    ground = 100.0 + 0.25 * x[None, :]
    depth = volumes.battered_depths(ground, x[None, :], 98.8, 1.5)
    assert (depth > 0).sum() * 0.01 == pytest.approx(1.5 * 1.2 / (1 - 1.5 * 0.25), abs=0.02)


def test_nothing_is_dug_below_the_floor_and_nothing_filled():
    ground = np.array([[100.0, 98.0, np.nan]])
    depth = volumes.battered_depths(ground, np.zeros((1, 3)), 99.0, 1.5)
    assert depth[0, 0] == pytest.approx(1.0)
    assert depth[0, 1] == 0.0
    assert np.isnan(depth[0, 2])


@pytest.mark.parametrize("batter", [-0.1, math.nan, math.inf])
def test_absurd_batters_are_refused(batter):
    with pytest.raises(ValueError, match="batter"):
        volumes.battered_depths(np.zeros((1, 1)), np.zeros((1, 1)), 0.0, batter)


@given(GRIDS, arrays(float, (4, 5), elements=st.floats(0, 8)), st.floats(0.1, 2), st.floats(0, 500))
def test_the_pile_holds_the_loose_volume(ground, distance, slope, loose_m3):
    """EXC-32: the pile on any ground holds what was dug, to one part in a million."""
    crest = volumes.pile_crest_level(ground, distance, slope, loose_m3, 2.5)
    thickness = volumes.repose_surface(ground, distance, crest, slope) - ground
    assert thickness.sum() * 2.5 == pytest.approx(loose_m3, rel=1e-6, abs=1e-9)


def test_on_level_ground_a_pile_is_a_cone():
    """EXC-30: 10 m3 at 35 degrees round a point: crest 1.6729 m above the ground (geometry)."""
    axis = centres(240, 0.025) - 3.0
    distance = np.hypot(axis[None, :], axis[:, None])
    slope = math.tan(math.radians(35))
    ground = np.full(distance.shape, 50.0)
    crest = volumes.pile_crest_level(ground, distance, slope, 10.0, 0.025**2)
    assert crest - 50.0 == pytest.approx(1.6729, rel=1e-3)
    thickness = volumes.repose_surface(ground, distance, crest, slope) - ground
    assert not volumes.reaches_edge(thickness, ground)


def test_on_a_slope_the_cone_is_wrong():
    """EXC-32: on ground falling 1 in 4 the toe runs downhill: more ground is covered."""
    axis = centres(200, 0.05) - 5.0
    distance = np.hypot(axis[None, :], axis[:, None])
    level, falling = np.zeros(distance.shape), 0.25 * axis[None, :] + np.zeros((200, 1))
    covered = []
    for ground in (level, falling):
        crest = volumes.pile_crest_level(ground, distance, 0.6, 10.0, 0.05**2)
        thickness = volumes.repose_surface(ground, distance, crest, 0.6) - ground
        covered.append(np.count_nonzero(thickness > 0))
    assert covered[1] > 1.05 * covered[0]


def test_nothing_is_piled_where_nothing_may_lie():
    ground = np.zeros((1, 5))
    distance = np.array([[np.nan, 1.0, 0.0, 1.0, np.nan]])
    crest = volumes.pile_crest_level(ground, distance, 0.5, 3.0, 1.0)
    surface = volumes.repose_surface(ground, distance, crest, 0.5)
    assert surface[0, 0] == surface[0, 4] == 0.0
    assert surface.sum() == pytest.approx(3.0)


def test_ground_that_is_not_known_stays_so():
    surface = volumes.repose_surface(np.array([[np.nan, 0.0]]), np.zeros((1, 2)), 1.0, 0.5)
    assert np.isnan(surface[0, 0])
    assert surface[0, 1] == 1.0


def test_a_pile_that_leaves_the_known_ground_says_so():
    ground = np.zeros((5, 5))
    middle = np.zeros((5, 5))
    middle[2, 2] = 1.0
    assert not volumes.reaches_edge(middle, ground)
    hole = ground.copy()
    hole[2, 3] = np.nan
    assert volumes.reaches_edge(middle, hole)
    edge = np.zeros((5, 5))
    edge[0, 2] = 1.0
    assert volumes.reaches_edge(edge, ground)


@pytest.mark.parametrize(("slope", "loose", "area"), [(0, 1, 1), (0.5, -1, 1), (0.5, 1, 0)])
def test_absurd_piles_are_refused(slope, loose, area):
    with pytest.raises(ValueError, match="pile needs"):
        volumes.pile_crest_level(np.zeros((2, 2)), np.zeros((2, 2)), slope, loose, area)


def test_a_pile_needs_ground():
    with pytest.raises(ValueError, match="pile needs ground"):
        volumes.pile_crest_level(np.full((2, 2), np.nan), np.zeros((2, 2)), 0.5, 1.0, 1.0)
