"""Accumulation, catchments, paths and depressions: closed forms and conservation."""

import numpy as np
import pytest
from drainage_cases import (
    SW,
    E,
    N,
    S,
    W,
    flooded,
    rasters,
    seeded,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from geo_site import drainage
from geo_site.drainage import NO_DATA, OUTLET


class TestPlanesConesValleys:
    def test_plane_accumulates_the_distance_to_the_ridge(self):
        _, column = np.mgrid[0:6, 0:9]
        flood = flooded((-0.02 * column).astype(np.float64), 2.0, 3.0)
        area = drainage.accumulate(flood.direction, np.full((6, 9), 6.0))
        np.testing.assert_array_equal(area, 6.0 * (column + 1))

    def test_diagonal_plane(self):
        row, column = np.mgrid[0:8, 0:8]
        flood = flooded(-1.0 * (row + column))
        cells = drainage.accumulate(flood.direction, np.ones((8, 8)))
        inner = np.s_[:-1, :-1]
        np.testing.assert_array_equal(cells[inner], (np.minimum(row, column) + 1)[inner])
        assert cells[7, 7] == 64

    def test_valley_gathers_each_row_and_runs_down_the_axis(self):
        """Sides ten times steeper than the axis: each row runs in, the axis runs south."""
        row, column = np.mgrid[0:7, 0:11]
        direction = flooded(1.0 * abs(column - 5) - 0.1 * row, 2.0, 2.0).direction
        cells = drainage.accumulate(direction, np.ones((7, 11)))
        np.testing.assert_array_equal(cells[:, 5], 11.0 * np.arange(1, 8))
        np.testing.assert_array_equal(cells[:, 0], np.ones(7))

    def test_peak_sends_every_path_outward(self):
        row, column = np.mgrid[0:21, 0:21]
        radius = np.hypot(row - 10.0, column - 10.0)
        flood = flooded(-radius)
        for start in [(10, 10), (9, 12), (5, 4)]:
            path = drainage.downstream_path(flood.direction, *start)
            assert (np.diff(radius[tuple(path.T)]) > 0.0).all()
            assert path[-1].min() == 0 or path[-1].max() == 20

    def test_funnel_fills_to_its_lowest_rim(self):
        row, column = np.mgrid[0:21, 0:21]
        radius = np.hypot(row - 10.0, column - 10.0)
        np.testing.assert_array_equal(flooded(radius).filled, np.maximum(radius, 10.0))

    def test_bowl_holds_half_its_cylinder(self):
        """A paraboloid of radius R and depth h holds pi R^2 h / 2, here to 0.1 %."""
        radius_m, depth_m, width, height = 20.0, 3.0, 0.1, 0.16
        y, x = np.mgrid[-22:22:275j, -22:22:440j]
        distance = np.hypot(x, y)
        ground = np.where(distance < radius_m, depth_m * (distance / radius_m) ** 2, depth_m)
        width, height = 44 / 439, 44 / 274
        filled = flooded(ground, width, height).filled
        labels = drainage.depression_labels(ground, filled, 0.0)
        found = drainage.measure_depressions(ground, filled, labels, width * height)
        assert found.volume_m3.shape == (1,)
        assert found.volume_m3[0] == pytest.approx(np.pi * radius_m**2 * depth_m / 2, rel=1e-3)
        assert found.area_m2[0] == pytest.approx(np.pi * radius_m**2, rel=1e-2)
        assert found.depth_m[0] == pytest.approx(depth_m, rel=1e-3)
        assert found.spill_level_m[0] == depth_m


class TestNetwork:
    def test_accumulate_by_hand(self):
        direction = np.array([[S, SW, NO_DATA], [E, OUTLET, W]], dtype=np.uint8)
        direction[0, 1] = S
        weights = np.array([[1.0, 2.0, np.nan], [4.0, 8.0, 16.0]])
        total = drainage.accumulate(direction, weights)
        np.testing.assert_array_equal(total, [[1.0, 2.0, np.nan], [5.0, 31.0, 16.0]])

    def test_whole_weights_are_exact_to_two_to_the_53(self):
        direction = np.array([[E, E, OUTLET]], dtype=np.uint8)
        weights = np.array([[2**53 - 3, 1, 1]])
        assert drainage.accumulate(direction, weights)[0, 2] == float(2**53 - 1)

    @given(rasters())
    @settings(max_examples=60, deadline=None)
    def test_accumulation_counts_the_catchment(self, ground):
        """Each cell's count is the size of its upstream set, and sets nest down each path."""
        direction = flooded(ground).direction
        cells = drainage.accumulate(direction, np.ones(ground.shape))
        for row, column in list(zip(*np.nonzero(direction != NO_DATA), strict=True))[:6]:
            seed = np.zeros(ground.shape, dtype=bool)
            seed[row, column] = True
            above = drainage.upstream(direction, seed)
            assert above.sum() == cells[row, column]
            path = drainage.downstream_path(direction, row, column)
            assert cells[tuple(path.T)].tolist() == sorted(set(cells[tuple(path.T)]))
            seed[tuple(path[-1])] = True
            assert not (above & ~drainage.upstream(direction, seed)).any()

    @given(rasters())
    @settings(max_examples=30, deadline=None)
    def test_several_sets_at_once_are_each_by_itself(self, ground):
        direction = flooded(ground).direction
        seeds = np.zeros((3, *ground.shape), dtype=bool)
        seeds[0, 0], seeds[1, :, 0] = True, True
        together = drainage.upstream(direction, seeds)
        assert together.shape == seeds.shape
        for marked, one in zip(together, seeds, strict=True):
            np.testing.assert_array_equal(marked, drainage.upstream(direction, one))

    @given(rasters())
    @settings(max_examples=60, deadline=None)
    def test_catchments_of_the_outlets_partition_the_ground(self, ground):
        direction = flooded(ground).direction
        outlets = direction == OUTLET
        labels = np.where(outlets, np.cumsum(outlets).reshape(ground.shape), 0)
        found = drainage.catchments(direction, labels)
        np.testing.assert_array_equal(found > 0, ~np.isnan(ground))
        cells = drainage.accumulate(direction, np.ones(ground.shape))
        sizes = np.bincount(found[found > 0], minlength=outlets.sum() + 1)[1:]
        np.testing.assert_array_equal(sizes, cells[outlets])

    def test_catchment_goes_to_the_first_label_on_the_way(self):
        direction = np.array([[E, E, E, E, OUTLET]], dtype=np.uint8)
        labels = np.array([[0, 7, 0, 3, 0]])
        assert drainage.catchments(direction, labels).tolist() == [[7, 7, 3, 3, 0]]

    @given(rasters(), st.integers(0, 2**32))
    @settings(max_examples=60, deadline=None)
    def test_contaminated_is_what_lies_on_a_path_from_a_source(self, ground, seed):
        direction = flooded(ground).direction
        sources = seeded(ground.shape, seed) < 0.2
        expected = np.zeros(ground.shape, dtype=bool)
        for cell in zip(*np.nonzero(sources & ~np.isnan(ground)), strict=True):
            expected[tuple(drainage.downstream_path(direction, *cell).T)] = True
        np.testing.assert_array_equal(drainage.contaminated(direction, sources), expected)

    def test_slope_that_enters_the_data_is_contaminated_all_the_way(self):
        _, column = np.mgrid[0:5, 0:7]
        ground = -1.0 * column
        sources = drainage.outlet_cells(np.ones((5, 7), dtype=bool), True)
        assert drainage.contaminated(flooded(ground).direction, sources).all()
        inward = drainage.contaminated(flooded(-abs(column - 3.0)).direction, sources)
        assert not inward[1:-1, 1:-1].any()

    def test_longest_path_of_a_valley(self):
        """From a far corner along the row and down the axis: 5 widths and 6 heights."""
        row, column = np.mgrid[0:7, 0:11]
        direction = flooded(1.0 * abs(column - 5) - 0.1 * row, 2.0, 3.0).direction
        path = drainage.longest_path(direction, np.ones((7, 11), dtype=bool), 2.0, 3.0)
        assert path.length_m == 5 * 2.0 + 6 * 3.0
        assert path.cells[-1].tolist() == [6, 5]
        assert path.cells.shape == (12, 2)
        part = row < 4
        shorter = drainage.longest_path(direction, part, 2.0, 3.0)
        assert shorter.length_m == 5 * 2.0 + 3 * 3.0
        assert shorter.cells[-1].tolist() == [3, 5]

    @given(rasters())
    @settings(max_examples=60, deadline=None)
    def test_longest_path_against_walking_every_path(self, ground):
        direction = flooded(ground, 2.0, 3.0).direction
        valid = ~np.isnan(ground)
        if not valid.any():
            with pytest.raises(ValueError, match="no cell"):
                drainage.longest_path(direction, valid, 2.0, 3.0)
            return
        lengths = []
        for cell in zip(*np.nonzero(valid), strict=True):
            steps = np.diff(drainage.downstream_path(direction, *cell), axis=0)
            lengths.append(np.hypot(3.0 * steps[:, 0], 2.0 * steps[:, 1]).sum())
        found = drainage.longest_path(direction, valid, 2.0, 3.0)
        assert found.length_m == pytest.approx(max(lengths), abs=1e-9)
        steps = np.diff(found.cells, axis=0)
        walked = np.hypot(3.0 * steps[:, 0], 2.0 * steps[:, 1]).sum()
        assert walked == pytest.approx(found.length_m, abs=1e-9)

    @pytest.mark.parametrize(
        ("codes", "words"),
        [
            ([[E, W]], "cycle"),
            ([[E, S], [N, W]], "cycle"),
            ([[W, OUTLET]], "out of the data"),
            ([[E, NO_DATA]], "out of the data"),
            ([[9, OUTLET]], "unknown"),
        ],
    )
    def test_unusable_directions(self, codes, words):
        direction = np.array(codes, dtype=np.uint8)
        cells = np.ones(direction.shape, dtype=bool)
        calls = [
            lambda: drainage.accumulate(direction, cells),
            lambda: drainage.count_cells(direction),
            lambda: drainage.catchments(direction, np.zeros(direction.shape, dtype=np.int32)),
            lambda: drainage.longest_path(direction, cells, 1.0, 1.0),
        ]
        if words != "cycle":
            calls += [
                lambda: drainage.contaminated(direction, cells),
                lambda: drainage.upstream(direction, cells),
            ]
        for call in calls:
            with pytest.raises(ValueError, match=words):
                call()
        with pytest.raises(ValueError, match=r"cycle|direction"):
            drainage.downstream_path(direction, 0, 0)

    def test_a_cycle_ends_where_it_comes_back(self):
        """What lies up and down of a cell on a cycle is well defined: the cycle and its donors."""
        direction = np.array([[E, E, S], [OUTLET, N, W]], dtype=np.uint8)
        seed = np.zeros((2, 3), dtype=bool)
        seed[0, 1] = True
        assert drainage.upstream(direction, seed).tolist() == [[True] * 3, [False, True, True]]
        expected = [[False, True, True], [False, True, True]]
        assert drainage.contaminated(direction, seed).tolist() == expected

    def test_other_refusals(self):
        direction = np.array([[E, OUTLET]], dtype=np.uint8)
        with pytest.raises(ValueError, match="finite"):
            drainage.accumulate(direction, np.array([[np.nan, 1.0]]))
        with pytest.raises(ValueError, match="shape"):
            drainage.accumulate(direction, np.ones((2, 2)))
        with pytest.raises(ValueError, match="uint8"):
            drainage.accumulate(direction.astype(int), np.ones((1, 2)))
        with pytest.raises(ValueError, match="outside the grid"):
            drainage.downstream_path(direction, -1, 0)
        with pytest.raises(ValueError, match="bool"):
            drainage.upstream(direction, np.ones((1, 2)))
        with pytest.raises(ValueError, match="bool"):
            drainage.upstream(direction, np.ones((2, 1, 3), dtype=bool))


class TestDepressions:
    def test_nested_hollows_below_one_spill_level_are_one(self):
        ground = np.array([[9.0] * 7, [9.0, 1.0, 5.0, 2.0, 9.0, 9.0, 9.0], [9.0] * 7])
        ground[1, 4] = 7.0
        ground[1, 5] = 3.0
        ground[1, 6] = 4.0
        filled = flooded(ground).filled
        labels = drainage.depression_labels(ground, filled, 0.0)
        assert filled[1].tolist() == [9, 7, 7, 7, 7, 4, 4]
        assert labels[1].tolist() == [0, 1, 1, 1, 0, 2, 0]
        found = drainage.measure_depressions(ground, filled, labels, 2.0)
        assert found.spill_level_m.tolist() == [7.0, 4.0]
        assert found.depth_m.tolist() == [6.0, 1.0]
        assert found.area_m2.tolist() == [6.0, 2.0]
        assert found.volume_m3.tolist() == [(6 + 2 + 5) * 2.0, 2.0]
        deep = drainage.depression_labels(ground, filled, 1.5)
        assert deep[1].tolist() == [0, 1, 1, 1, 0, 0, 0]
        np.testing.assert_array_equal(drainage.depression_labels(ground, filled, 1.0), labels)
        late = drainage.depression_labels(ground[:, ::-1], filled[:, ::-1], 6.0)
        assert late[1].tolist() == [0, 0, 0, 1, 1, 1, 0]

    @given(rasters(), st.sampled_from([0.0, 1.0, 2.5]))
    @settings(max_examples=80, deadline=None)
    def test_each_has_one_level_and_volumes_add_up(self, ground, least):
        filled = flooded(ground).filled
        labels = drainage.depression_labels(ground, filled, least)
        found = drainage.measure_depressions(ground, filled, labels, 0.25)
        depth = np.nan_to_num(filled.astype(float) - ground.astype(float))
        assert found.volume_m3.sum() == pytest.approx(0.25 * depth[labels > 0].sum(), abs=1e-9)
        assert (labels > 0)[depth > 0].all() or least > 0.0
        for index, level in enumerate(found.spill_level_m):
            inside = labels == index + 1
            assert inside.any()
            assert (filled[inside] == level).all()
            assert depth[inside].max() == found.depth_m[index] >= least
            assert (ground[inside] < filled[inside]).all()

    def test_refusals(self):
        ground = np.zeros((3, 3))
        with pytest.raises(ValueError, match="not a filling"):
            drainage.depression_labels(ground, ground - 1.0, 0.0)
        with pytest.raises(ValueError, match="shape"):
            drainage.depression_labels(ground, ground[:2], 0.0)
        labels = np.zeros((3, 3), dtype=np.int32)
        with pytest.raises(ValueError, match="area"):
            drainage.measure_depressions(ground, ground, labels, 0.0)
