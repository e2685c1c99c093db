"""A whole raster at once: exact in every tile, the same whatever the threads, in little room."""

import subprocess
import sys
import time

import numpy as np
import pytest
from drainage_cases import E, S, W, minimax_levels, rasters, seeded, spiral
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from geo_site import drainage
from geo_site.drainage import NO_DATA, OUTLET
from geo_site.drainage.filling import _flood

EIGHT = np.ones((3, 3))
ONE_METRE = drainage.step_lengths(1.0, 1.0)


def holed(shape, seed, decimals, dtype=np.float32):
    """Noise, rounded so that levels tie, with a no-data edge on one side and holes."""
    ground = np.round(seeded(shape, seed) * 10.0, decimals).astype(dtype)
    ground[:, : shape[1] // 9] = np.nan
    ground[seeded(shape, seed + 1) < 0.03] = np.nan
    return ground


def in_tiles(ground, tile, threads=1, holes_drain=False, lengths=ONE_METRE):
    outlets = drainage.outlet_cells(~np.isnan(ground), holes_drain)
    return _flood(ground, outlets, lengths, threads, tile)


def outlets_by_labels(valid, holes_drain):
    """The rule in words, with another library's labelling of groups."""
    edge = np.ones(valid.shape, dtype=bool)
    edge[1:-1, 1:-1] = False
    missing, _ = ndimage.label(~valid, EIGHT)
    beyond = np.isin(missing, missing[edge & ~valid]) & ~valid
    drains = ~valid if holes_drain else beyond
    outlets = valid & (edge | ndimage.binary_dilation(drains, EIGHT))
    groups, count = ndimage.label(valid, EIGHT)
    for group in range(1, count + 1):
        island = groups == group
        if not (island & outlets).any():
            outlets |= island & ndimage.binary_dilation(~valid, EIGHT)
    return outlets


class TestOutlets:
    @given(rasters(), st.booleans())
    @settings(max_examples=60, deadline=None)
    def test_against_another_labelling(self, ground, holes_drain):
        valid = ~np.isnan(ground)
        found = drainage.outlet_cells(valid, holes_drain)
        np.testing.assert_array_equal(found, outlets_by_labels(valid, holes_drain))

    @pytest.mark.parametrize("share", [0.02, 0.3, 0.5, 0.8])
    def test_against_another_labelling_on_larger_ground(self, share):
        valid = seeded((60, 70), 4) > share
        for holes_drain in (False, True):
            found = drainage.outlet_cells(valid, holes_drain)
            np.testing.assert_array_equal(found, outlets_by_labels(valid, holes_drain))


class TestTilesAndThreads:
    @pytest.mark.parametrize("dtype", [np.float32, np.float64])
    @pytest.mark.parametrize("decimals", [0, 1, 6])
    @pytest.mark.parametrize("tile", [(1, 1), (4, 7), (16, 5), (100, 100)])
    def test_fill_is_the_minimax_level_across_tiles(self, tile, decimals, dtype):
        ground = holed((41, 53), 3, decimals, dtype)
        for holes_drain in (False, True):
            outlets = drainage.outlet_cells(~np.isnan(ground), holes_drain)
            filled = in_tiles(ground, tile, 2, holes_drain).filled
            assert filled.dtype == dtype
            assert (filled > ground).sum() > 100
            np.testing.assert_array_equal(filled, minimax_levels(ground, outlets))

    @given(rasters(), st.tuples(st.integers(1, 5), st.integers(1, 5)), st.integers(1, 4))
    @settings(max_examples=50, deadline=None)
    def test_tiles_and_threads_change_no_byte(self, ground, tile, threads):
        here = drainage.drain(ground, 2.0, 3.0, threads=1)
        there = in_tiles(ground, tile, threads, lengths=drainage.step_lengths(2.0, 3.0))
        assert here.filled.tobytes() == there.filled.tobytes()
        assert here.direction.tobytes() == there.direction.tobytes()
        cells = drainage.count_cells(there.direction, threads)
        assert here.cells.tobytes() == cells.tobytes()
        weighed = drainage.accumulate(here.direction, np.ones(ground.shape))
        np.testing.assert_array_equal(np.nan_to_num(weighed), cells)

    @pytest.mark.parametrize("shape", [(1, 400), (400, 1), (300, 1100), (700, 40)])
    def test_larger_ground(self, shape):
        """Large enough for several bands and tiles of the size that is used."""
        ground = holed(shape, 7, 1)
        one, two, five = (drainage.drain(ground, 1.0, 1.0, threads=n) for n in (1, 2, 5))
        small = in_tiles(ground, (50, 64))
        for other in (two, five):
            assert one.filled.tobytes() == other.filled.tobytes()
            assert one.direction.tobytes() == other.direction.tobytes()
            assert one.cells.tobytes() == other.cells.tobytes()
        assert one.filled.tobytes() == small.filled.tobytes()
        assert one.direction.tobytes() == small.direction.tobytes()
        assert one.cells[one.direction == OUTLET].sum() == (~np.isnan(ground)).sum()

    def test_all_missing_but_one(self):
        ground = np.full((300, 600), np.nan, dtype=np.float32)
        ground[260, 520] = 7.0
        found = drainage.drain(ground, 1.0, 1.0)
        assert found.direction[260, 520] == OUTLET
        assert found.cells.sum() == 1
        assert (found.direction == NO_DATA).sum() == ground.size - 1

    def test_lake_over_many_tiles_drains_completely(self):
        """A flat of 40 x 60 behind a wall with one gap: every cell steps nearer to the gap."""
        ground = np.full((42, 62), 9.0, dtype=np.float32)
        ground[1:-1, 1:-1] = 2.0
        ground[20, 61] = 4.0
        found = in_tiles(ground, (8, 8), 2)
        assert (found.filled[1:-1, 1:-1] == 4.0).all()
        cells = drainage.count_cells(found.direction)
        assert cells[20, 61] >= 40 * 60
        row, column = np.mgrid[1:41, 1:61]
        steps = np.maximum(abs(row - 20), 61 - column)
        for start in [(1, 1), (40, 1), (5, 30), (20, 2)]:
            path = drainage.downstream_path(found.direction, *start)
            assert len(path) - 1 == steps[start[0] - 1, start[1] - 1]

    def test_least_drops_count(self):
        """A corner lower by the least number there is: down to it, not level."""
        ground = np.full((3, 3), 5e-324)
        ground[2, 2] = 0.0
        assert drainage.drain(ground, 0.1, 0.1).direction[1, 1] == 7

    def test_of_equal_slopes_a_side_comes_first(self):
        """Cells 3 by 4 m, diagonal 5 m: falls of 4 m to the north and 5 m to the corner are 1:1."""
        ground = np.full((3, 3), 9.0)
        ground[0, 1], ground[0, 2] = 5.0, 4.0
        assert drainage.drain(ground, 3.0, 4.0).direction[1, 1] == 2

    @pytest.mark.parametrize("dtype", [np.float32, np.float64])
    def test_nothing_is_changed_and_infinities_are_refused(self, dtype):
        ground = holed((20, 30), 2, 1, dtype)
        before = ground.copy()
        ground.flags.writeable = False
        found = drainage.drain(ground[::-1], 1.0, 1.0)
        assert found.filled.flags.writeable
        np.testing.assert_array_equal(ground, before)
        for level in (np.inf, -np.inf):
            bad = before.copy()
            bad[7, 7] = level
            with pytest.raises(ValueError, match="infinite"):
                drainage.drain(bad, 1.0, 1.0)
        with pytest.raises(ValueError, match="threads"):
            drainage.drain(before, 1.0, 1.0, threads=0)

    def test_ground_that_cannot_drain_is_counted(self):
        ground = holed((40, 40), 5, 1)
        nowhere = np.zeros(ground.shape, dtype=bool)
        with pytest.raises(ValueError, match=f"{(~np.isnan(ground)).sum()} cells cannot reach"):
            drainage.flood(ground, nowhere, 1.0, 1.0)


class TestMazes:
    @pytest.mark.parametrize("tile", [(256, 512), (13, 17)])
    @pytest.mark.parametrize("inward", [1.0, -1.0])
    def test_spiral_over_many_tiles(self, tile, inward):
        """Rising inward it stays as it is; falling inward it is level with its mouth."""
        ground, corridor = spiral(121)
        way = tuple(np.array(corridor).T)
        ground[way] *= inward
        found = in_tiles(ground, tile, 2)
        level = ground[way] if inward > 0 else np.zeros(len(corridor))
        np.testing.assert_array_equal(found.filled[way], level)
        cells = drainage.count_cells(found.direction)
        assert cells[corridor[0]] >= len(corridor)
        assert tuple(drainage.downstream_path(found.direction, *corridor[-1])[-1]) == corridor[0]

    @pytest.mark.slow
    def test_spiral_costs_no_more_than_some_planes(self):
        """No queue to outgrow: a maze of a million cells takes less than ten times rough ground."""
        maze, _ = spiral(1001)
        rough = seeded(maze.shape, 1)
        drainage.drain(rough[:50, :50].copy(), 1.0, 1.0)
        took = []
        for ground in (rough, maze, -maze):
            start = time.process_time()
            drainage.drain(ground, 1.0, 1.0)
            took.append(time.process_time() - start)
        assert max(took[1:]) < 10.0 * took[0]


class TestCounts:
    @pytest.mark.slow
    def test_exact_beyond_what_float32_can_count(self):
        """All rows run west, the west column south: 4,201 x 4,201 cells at the corner, odd."""
        direction = np.full((4201, 4201), W, dtype=np.uint8)
        direction[:, 0] = S
        direction[-1, 0] = OUTLET
        for threads in (1, 2):
            cells = drainage.count_cells(direction, threads)
            assert cells.dtype == np.uint32
            assert int(cells[-1, 0]) == 4201**2 > 2**24
            assert int(cells[-2, 0]) == 4200 * 4201

    def test_weights_beyond_what_float32_can_count(self):
        direction = np.array([[E, E, OUTLET]], dtype=np.uint8)
        sums = drainage.accumulate(direction, np.array([[2**24, 1, 0]], dtype=np.int64))
        assert sums.tolist() == [[2.0**24, 2.0**24 + 1.0, 2.0**24 + 1.0]]

    def test_a_river_that_winds_through_every_band(self):
        """Columns in turn south and north, one river through all of them, whatever the bands."""
        rows, columns = 40, 9
        direction = np.empty((rows, columns), dtype=np.uint8)
        direction[:, ::2], direction[:, 1::2] = S, 2
        direction[-1, 0:-1:2], direction[0, 1::2] = E, E
        direction[-1, -1] = OUTLET
        expected = np.arange(1, rows + 1)[:, None] + rows * np.arange(columns)
        expected[:, 1::2] = expected[::-1, 1::2]
        for threads in (1, 2, 3, 7, 40, 64):
            np.testing.assert_array_equal(drainage.count_cells(direction, threads), expected)


PEAK = """
import resource, sys, numpy as np
from geo_site import drainage
side = int(sys.argv[1])
row, column = np.ogrid[:side, :side]
ground = np.random.default_rng(1).random((side, side), dtype=np.float32)
ground += (0.01 * column).astype(np.float32)
ground[row < side // 20 + 0 * column] = np.nan
drainage.drain(ground, 1.0, 1.0)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="peak memory is in kB on Linux")
def test_peak_memory():
    """Ground of 4 bytes included, at most 16 bytes for each further cell, on white noise."""
    small, large = (
        int(
            subprocess.run(
                [sys.executable, "-c", PEAK, str(side)], capture_output=True, check=True
            ).stdout
        )
        for side in (1000, 5000)
    )
    assert (large - small) * 1024 / (5000**2 - 1000**2) < 16.0
