"""Drainage against published examples, closed forms, conservation laws and brute force."""

import heapq

import hypothesis.extra.numpy as arrays
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geo_site import drainage
from geo_site.drainage import NO_DATA, OUTLET

E, NE, N, NW, W, SW, S, SE = range(8)
STEPS = list(zip(drainage.ROW_STEP, drainage.COLUMN_STEP, strict=True))

# O'Callaghan and Mark (1984) / Tarboton (1997): the worked 3 x 3 of TER-10 and TER-11.
NINE = np.array([[10.0, 9.0, 8.0], [9.0, 8.0, 6.5], [9.0, 7.0, 6.0]])


def flooded(ground, width=1.0, height=1.0, holes_drain=False):
    outlets = drainage.outlet_cells(~np.isnan(ground), holes_drain)
    return drainage.flood(ground, outlets, width, height)


def minimax_levels(ground, outlets):
    """Least over all paths to an outlet of the highest level on the path: plain Dijkstra."""
    level = np.full(ground.shape, np.nan)
    queue = [(float(ground[cell]), cell) for cell in zip(*np.nonzero(outlets), strict=True)]
    heapq.heapify(queue)
    while queue:
        height, (row, column) = heapq.heappop(queue)
        if not np.isnan(level[row, column]):
            continue
        level[row, column] = height
        for down, right in STEPS:
            to = row + down, column + right
            inside = 0 <= to[0] < ground.shape[0] and 0 <= to[1] < ground.shape[1]
            if inside and not np.isnan(ground[to]):
                heapq.heappush(queue, (max(height, float(ground[to])), to))
    return level


@st.composite
def rasters(draw, dtype=None):
    """Small rasters with many ties, holes and islands, in either dtype."""
    dtype = dtype or draw(st.sampled_from([np.float32, np.float64]))
    shape = draw(st.tuples(st.integers(1, 8), st.integers(1, 8)))
    whole = st.integers(-2, 3)
    rough = st.floats(-50, 50, width=32, allow_nan=False, allow_subnormal=False)
    ground = draw(arrays.arrays(dtype, shape, elements=draw(st.sampled_from([whole, rough]))))
    missing = draw(arrays.arrays(bool, shape, elements=st.integers(0, 4).map(lambda n: n == 0)))
    ground[missing] = np.nan
    return ground


def seeded(shape, seed, dtype=np.float64):
    return np.random.default_rng(seed).random(shape).astype(dtype)


class TestPublished:
    def test_ter_10_steepest_drop_is_not_the_lowest_neighbour(self):
        """TER-10: drops E 1.5, SE 1.41421: east, though the south-east cell is the lowest."""
        assert flooded(NINE).direction[1, 1] == E

    def test_ter_11_angle_slope_and_shares(self):
        """TER-11 (Tarboton 1997): 5.961435 rad, slope 1.581139, E 59.03 %, SE 40.97 %."""
        flood = flooded(NINE)
        spread = drainage.spread_directions(flood.filled, flood.direction, 1.0, 1.0)
        assert spread.angle[1, 1] == pytest.approx(5.961435, abs=1e-6)
        assert spread.slope[1, 1] == pytest.approx(1.581139, abs=1e-6)
        weights = np.zeros((3, 3))
        weights[1, 1] = 1.0
        total = drainage.spread_accumulate(spread, flood.filled, flood.direction, weights, 1.0, 1.0)
        part = 0.321751 / (np.pi / 4)
        assert total[1, 2] == pytest.approx(1.0 - part, abs=1e-6)
        assert round(100 * float(total[1, 2]), 2) == 59.03
        assert total[2, 2] == pytest.approx(1.0, abs=1e-12)

    def test_ter_20_box_with_a_low_rim_cell(self):
        """TER-20 (Barnes, Lehman and Mulla 2014): interior all 7, volume 21 cell units."""
        ground = np.full((5, 5), 9.0)
        ground[1:4, 1:4] = 5.0
        ground[2, 2] = 2.0
        ground[2, 4] = 7.0
        filled = flooded(ground).filled
        assert (filled[1:4, 1:4] == 7.0).all()
        assert (filled - ground).sum() == 21.0
        labels = drainage.depression_labels(ground, filled, 0.0)
        found = drainage.measure_depressions(ground, filled, labels, 1.0)
        assert found.volume_m3.tolist() == [21.0]
        assert found.depth_m.tolist() == [5.0]
        assert found.spill_level_m.tolist() == [7.0]
        assert found.area_m2.tolist() == [9.0]


class TestOutletCells:
    def test_grid_edge(self):
        expected = np.ones((4, 5), dtype=bool)
        expected[1:-1, 1:-1] = False
        assert (drainage.outlet_cells(np.ones((4, 5), dtype=bool), False) == expected).all()

    def test_missing_ground_from_the_edge_inward_counts_as_edge(self):
        valid = np.ones((7, 7), dtype=bool)
        valid[0, 3] = valid[1, 2] = valid[2, 3] = False  # joined by corners
        outlets = drainage.outlet_cells(valid, False)
        assert outlets[3, 2:5].all()
        assert outlets[2, 2]
        assert not outlets[2, 5]
        assert not outlets[valid.shape[0] - 3, 3]

    def test_hole_drains_only_when_asked(self):
        valid = np.ones((7, 7), dtype=bool)
        valid[3, 3] = False
        assert not drainage.outlet_cells(valid, False)[2:5, 2:5].any()
        ring = drainage.outlet_cells(valid, True)[2:5, 2:5]
        assert ring.sum() == 8
        assert not ring[1, 1]

    def test_island_in_a_hole_drains_into_it(self):
        valid = np.ones((9, 9), dtype=bool)
        valid[2:7, 2:7] = False
        valid[4, 4] = True
        outlets = drainage.outlet_cells(valid, False)
        assert outlets[4, 4]
        assert not outlets[1, 1:8].any()

    @given(rasters())
    @settings(max_examples=60, deadline=None)
    def test_all_ground_reaches_an_outlet_and_settings_nest(self, ground):
        valid = ~np.isnan(ground)
        few, many = (drainage.outlet_cells(valid, drain) for drain in (False, True))
        assert not (few & ~many).any()
        assert not (many & ~valid).any()
        assert (np.isnan(minimax_levels(ground, few)) == ~valid).all()


class TestFlood:
    @given(rasters(), st.booleans())
    @settings(max_examples=150, deadline=None)
    def test_fill_is_the_minimax_level_and_only_raises(self, ground, holes_drain):
        outlets = drainage.outlet_cells(~np.isnan(ground), holes_drain)
        before = ground.copy()
        filled = drainage.flood(ground, outlets, 1.0, 1.0).filled
        assert filled.dtype == ground.dtype
        np.testing.assert_array_equal(ground, before)
        np.testing.assert_array_equal(filled, minimax_levels(ground, outlets))
        assert (filled >= ground)[~np.isnan(ground)].all()
        np.testing.assert_array_equal(drainage.flood(filled, outlets, 1.0, 1.0).filled, filled)

    @given(rasters(), st.booleans())
    @settings(max_examples=100, deadline=None)
    def test_every_cell_drains_and_nothing_is_lost(self, ground, holes_drain):
        direction = flooded(ground, holes_drain=holes_drain).direction
        cells = drainage.accumulate(direction, np.ones(ground.shape))
        assert cells[direction == OUTLET].sum() == (~np.isnan(ground)).sum()
        np.testing.assert_array_equal(direction == NO_DATA, np.isnan(ground))

    @given(rasters(), st.sampled_from([(1.0, 1.0), (2.0, 1.0), (0.5, 3.0)]))
    @settings(max_examples=100, deadline=None)
    def test_direction_is_the_steepest_drop_first_of_ties(self, ground, cell):
        """A level step is taken only where no neighbour is lower; it never leads up."""
        width, height = cell
        flood = flooded(ground, width, height)
        slopes = drops(flood.filled.astype(np.float64), width, height)
        valid = ~np.isnan(ground)
        falls = valid & (slopes.max(axis=0) > 0.0)
        np.testing.assert_array_equal(flood.direction[falls], slopes.argmax(axis=0)[falls])
        level = valid & ~falls & (flood.direction != OUTLET)
        chosen = np.take_along_axis(slopes, np.minimum(flood.direction, 7)[None], axis=0)[0]
        assert (chosen[level] == 0.0).all()

    def test_spiral_maze_fills_to_nothing_and_drains_along_the_corridor(self):
        """One corridor that winds to the centre, rising: the walls stand 100 above it."""
        ground, corridor = spiral(21)
        flood = flooded(ground)
        np.testing.assert_array_equal(flood.filled, ground)
        path = drainage.downstream_path(flood.direction, *corridor[-1])
        assert set(map(tuple, path)) <= set(corridor)
        assert tuple(path[-1]) == corridor[0]

    def test_spiral_maze_that_falls_inward_fills_to_its_mouth(self):
        ground, corridor = spiral(21)
        for depth, cell in enumerate(corridor):
            ground[cell] = -float(depth)
        flood = flooded(ground)
        assert {float(flood.filled[cell]) for cell in corridor} == {0.0}
        path = drainage.downstream_path(flood.direction, *corridor[-1])
        assert tuple(path[-1]) == corridor[0]

    def test_plateau_drains_to_the_nearest_rim(self):
        """Steps to the outside never exceed the king's-move distance to the plateau's rim."""
        ground = np.zeros((13, 13))
        ground[2:11, 2:11] = 5.0
        direction = flooded(ground).direction
        for row in range(2, 11):
            for column in range(2, 11):
                path = drainage.downstream_path(direction, row, column)
                on_plateau = int((ground[tuple(path.T)] == 5.0).sum())
                assert on_plateau == min(row - 1, column - 1, 11 - row, 11 - column)

    def test_level_ground_at_the_edge_is_all_outlet(self):
        direction = flooded(np.zeros((4, 6))).direction
        edge = drainage.outlet_cells(np.ones((4, 6), dtype=bool), False)
        assert (direction[edge] == OUTLET).all()
        assert (direction[~edge] < OUTLET).all()

    def test_outlet_cell_above_a_neighbour_flows_inward(self):
        ground = np.array([[5.0, 4.0, 3.0]])
        assert flooded(ground).direction.tolist() == [[E, E, OUTLET]]

    def test_single_cell_and_no_ground_at_all(self):
        assert flooded(np.array([[3.0]])).direction.tolist() == [[OUTLET]]
        nothing = flooded(np.full((2, 2), np.nan, dtype=np.float32))
        assert np.isnan(nothing.filled).all()
        assert (nothing.direction == NO_DATA).all()

    def test_hole_is_a_sink_only_when_asked(self):
        row, column = np.mgrid[0:9, 0:9]
        ground = np.hypot(row - 4.0, column - 4.0)
        ground[4, 4] = np.nan
        assert (
            flooded(ground, holes_drain=True).filled[~np.isnan(ground)] == ground[~np.isnan(ground)]
        ).all()
        assert np.nanmin(flooded(ground).filled) == 4.0

    def test_same_ground_same_bytes_in_any_memory_order(self):
        ground = np.round(seeded((40, 50), 3) * 5)
        first = flooded(ground)
        second = flooded(np.asfortranarray(ground))
        assert first.direction.tobytes() == second.direction.tobytes()
        assert first.filled.tobytes() == second.filled.tobytes()

    def test_read_only_input(self):
        ground = seeded((6, 6), 1)
        ground.flags.writeable = False
        assert flooded(ground).filled.flags.writeable

    @pytest.mark.parametrize("turns", [1, 2, 3])
    def test_rotation_turns_the_answer(self, turns):
        """Levels everywhere, directions wherever one drop is the steepest (no tie to break)."""
        ground = seeded((23, 17), 8)
        here, there = flooded(ground), flooded(np.rot90(ground, turns).copy())
        np.testing.assert_array_equal(there.filled, np.rot90(here.filled, turns))
        slopes = drops(here.filled)
        steepest = slopes.max(axis=0)
        falls = (steepest > 0.0) & ((slopes == steepest).sum(axis=0) == 1)
        turned = np.where(here.direction < OUTLET, (here.direction + 2 * turns) % 8, OUTLET)
        expected = np.rot90(np.where(falls, turned, NO_DATA), turns)
        actual = np.where(np.rot90(falls, turns), there.direction, NO_DATA)
        np.testing.assert_array_equal(actual, expected)
        assert falls.mean() > 0.5

    def test_a_shift_of_the_datum_changes_no_direction(self):
        ground = np.round(seeded((30, 30), 4) * 1024) / 1024
        here, there = flooded(ground), flooded(ground + 512.0)
        np.testing.assert_array_equal(there.filled - 512.0, here.filled)
        np.testing.assert_array_equal(there.direction, here.direction)

    def test_wide_cells_turn_the_flow(self):
        """Drops of 1.0 east and 0.9 south: east when square, south when cells are 2 wide."""
        ground = np.array([[9.0, 9.0, 9.0], [9.0, 5.0, 4.0], [9.0, 4.1, 9.0]])
        assert flooded(ground).direction[1, 1] == E
        assert flooded(ground, width=2.0).direction[1, 1] == S

    def test_refusals(self):
        good = np.zeros((3, 3))
        edge = drainage.outlet_cells(np.ones((3, 3), dtype=bool), False)
        with pytest.raises(ValueError, match="infinite"):
            drainage.flood(np.where(edge, good, np.inf), edge, 1.0, 1.0)
        with pytest.raises(ValueError, match="float32 or float64"):
            drainage.flood(good.astype(int), edge, 1.0, 1.0)
        with pytest.raises(ValueError, match="2-D"):
            drainage.flood(good[0], edge[0], 1.0, 1.0)
        with pytest.raises(ValueError, match="shape"):
            drainage.flood(good, edge[:2], 1.0, 1.0)
        with pytest.raises(ValueError, match="9 cells cannot reach"):
            drainage.flood(good, np.zeros((3, 3), dtype=bool), 1.0, 1.0)
        for size in (0.0, -1.0, np.nan, np.inf):
            with pytest.raises(ValueError, match="cell sizes"):
                drainage.flood(good, edge, 1.0, size)


def spiral(size):
    """Walls round a corridor that winds from the edge to the centre, rising by 1 a cell."""
    ground = np.full((size, size), 1000.0)
    legs = [size - 2, *(leg for leg in range(size - 3, 0, -2) for _ in (0, 1))]
    corridor = [(1, 0)]
    for number, leg in enumerate(legs):
        down, right = [(0, 1), (1, 0), (0, -1), (-1, 0)][number % 4]
        for _ in range(leg):
            row, column = corridor[-1]
            corridor.append((row + down, column + right))
    for height, cell in enumerate(corridor):
        ground[cell] = float(height)
    return ground, corridor


def drops(filled, width=1.0, height=1.0):
    """Slope to each of the eight neighbours, first axis; -inf where there is none."""
    rows, columns = filled.shape
    padded = np.pad(filled.astype(np.float64), 1, constant_values=np.nan)
    lengths = [width, np.hypot(width, height), height, np.hypot(width, height)] * 2
    slopes = [
        (filled - padded[1 + down : 1 + down + rows, 1 + right : 1 + right + columns]) / length
        for (down, right), length in zip(STEPS, lengths, strict=True)
    ]
    return np.nan_to_num(np.array(slopes), nan=-np.inf)


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
            lambda: drainage.contaminated(direction, cells),
            lambda: drainage.upstream(direction, cells),
            lambda: drainage.longest_path(direction, cells, 1.0, 1.0),
        ]
        for call in calls:
            with pytest.raises(ValueError, match=words):
                call()
        with pytest.raises(ValueError, match=r"cycle|direction"):
            drainage.downstream_path(direction, 0, 0)

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


class TestSpread:
    @pytest.mark.parametrize("cell", [(1.0, 1.0), (2.0, 1.0), (0.7, 1.9)])
    @pytest.mark.parametrize("degrees", [*range(0, 360, 15), 1, 44.9, 63.4, 271.3])
    def test_plane_in_any_direction(self, degrees, cell):
        """A plane has one facet that holds its gradient: angle and slope are exact."""
        bearing = np.radians(degrees)
        row, column = np.mgrid[0:5, 0:6]
        east, north = column * cell[0], -row * cell[1]
        ground = -0.3 * (np.cos(bearing) * east + np.sin(bearing) * north)
        flood = flooded(ground, *cell)
        angle, slope = drainage.spread_directions(flood.filled, flood.direction, *cell)
        turn = (angle[1:-1, 1:-1] - bearing + np.pi) % (2 * np.pi) - np.pi
        np.testing.assert_allclose(turn, 0.0, atol=1e-9)
        np.testing.assert_allclose(slope[1:-1, 1:-1], 0.3, atol=1e-12)

    def test_cone_runs_outward_within_the_facet_error(self):
        """Radial flow, off by half a cell over the radius at most.

        The two differences of a facet stand for the gradient half a cell away from the cell. With
        the outward bearing t from the facet's side, the first-order error of the angle is
        (cos(t)**3 / 2 - sin(t)**3 / 2 - sin(t) * cos(t)**2) / radius, which is greatest at t = 0.
        """
        row, column = np.mgrid[0:41, 0:41]
        east, north = column - 20.0, 20.0 - row
        radius = np.hypot(east, north)
        flood = flooded(-radius)
        angle, slope = drainage.spread_directions(flood.filled, flood.direction, 1.0, 1.0)
        far = (radius > 10.0) & (abs(east) < 20.0) & (abs(north) < 20.0)
        error = np.angle(np.exp(1j * (angle - np.arctan2(north, east))))
        assert abs(error * radius)[far].max() < 0.5
        np.testing.assert_allclose(slope[far], 1.0, atol=0.01)

    @pytest.mark.parametrize("cell", [(1.0, 1.0), (3.0, 1.0)])
    def test_shares_on_wide_cells_follow_the_angle(self, cell):
        """Half way between east and the corner's bearing, half goes to each."""
        bearing = 0.5 * np.arctan2(cell[1], cell[0])
        row, column = np.mgrid[0:3, 0:3]
        ground = -(np.cos(bearing) * column * cell[0] - np.sin(bearing) * row * cell[1])
        flood = flooded(ground, *cell)
        spread = drainage.spread_directions(flood.filled, flood.direction, *cell)
        weights = np.zeros((3, 3))
        weights[1, 1] = 1.0
        total = drainage.spread_accumulate(spread, ground, flood.direction, weights, *cell)
        assert total[1, 2] == pytest.approx(0.5, abs=1e-12)
        assert total[0, 2] == pytest.approx(1.0, abs=1e-12)

    def test_east_plane_equals_single_directions(self):
        _, column = np.mgrid[0:6, 0:9]
        flood = flooded(-0.25 * column)
        spread = drainage.spread_directions(flood.filled, flood.direction, 1.0, 1.0)
        total = drainage.spread_accumulate(
            spread, flood.filled, flood.direction, np.ones((6, 9)), 1.0, 1.0
        )
        np.testing.assert_array_equal(total, column + 1.0)

    @given(rasters(), st.booleans(), st.sampled_from([(1.0, 1.0), (2.0, 0.5)]))
    @settings(max_examples=150, deadline=None)
    def test_nothing_is_lost_on_any_ground(self, ground, holes_drain, cell):
        flood = flooded(ground, *cell, holes_drain=holes_drain)
        spread = drainage.spread_directions(flood.filled, flood.direction, *cell)
        weights = seeded(ground.shape, 5)
        total = drainage.spread_accumulate(spread, flood.filled, flood.direction, weights, *cell)
        kept = ~np.isnan(ground)
        left = total[flood.direction == OUTLET].sum()
        assert left == pytest.approx(weights[kept].sum(), abs=1e-9)
        assert (total[kept] >= weights[kept]).all()
        assert np.isnan(total[~kept]).all()

    @given(rasters())
    @settings(max_examples=100, deadline=None)
    def test_at_least_as_steep_as_single_directions_and_flats_follow_them(self, ground):
        flood = flooded(ground)
        spread = drainage.spread_directions(flood.filled, flood.direction, 1.0, 1.0)
        flows = flood.direction < OUTLET
        assert ((spread.angle[flows] >= 0.0) & (spread.angle[flows] < 2 * np.pi)).all()
        assert np.isnan(spread.angle[~flows]).all()
        assert (spread.slope[flood.direction == OUTLET] == 0.0).all()
        level = flows & (spread.slope == 0.0)
        expected = flood.direction[level] * np.pi / 4
        np.testing.assert_allclose(spread.angle[level], expected, atol=1e-15)
        assert (drops(flood.filled).max(axis=0)[level] <= 0.0).all()

    def test_float32_ground_and_rotation(self):
        """On a rough slope without flats or ties the angles turn with the ground."""
        row, column = np.mgrid[0:15, 0:12]
        ground = (3.0 * column + 2.0 * row + seeded((15, 12), 6)).astype(np.float32)
        here, there = flooded(ground), flooded(np.rot90(ground).copy())
        np.testing.assert_array_equal(here.filled, ground)
        first = drainage.spread_directions(here.filled, here.direction, 1.0, 1.0)
        second = drainage.spread_directions(there.filled, there.direction, 1.0, 1.0)
        np.testing.assert_allclose(second.slope, np.rot90(first.slope), atol=1e-12)
        flows = np.rot90(here.direction != OUTLET)
        assert (~flows).sum() == 1
        turn = (second.angle - np.rot90(first.angle))[flows] - np.pi / 2
        np.testing.assert_allclose(np.cos(turn), 1.0, atol=1e-12)

    def test_refusals(self):
        flood = flooded(NINE)
        spread = drainage.spread_directions(NINE, flood.direction, 1.0, 1.0)
        ones = np.ones((3, 3))
        holed = NINE.copy()
        holed[0, 0] = np.nan
        with pytest.raises(ValueError, match="no data"):
            drainage.spread_directions(holed, flood.direction, 1.0, 1.0)
        with pytest.raises(ValueError, match="finite"):
            drainage.spread_accumulate(spread, NINE, flood.direction, ones * np.nan, 1.0, 1.0)
        wrong = spread._replace(angle=spread.angle + 7.0)
        with pytest.raises(ValueError, match="angles"):
            drainage.spread_accumulate(wrong, NINE, flood.direction, ones, 1.0, 1.0)
        loop = np.array([[E, W]], dtype=np.uint8)
        level = drainage.SpreadDirections(np.array([[0.0, np.pi]]), np.zeros((1, 2)))
        with pytest.raises(ValueError, match="cycle"):
            drainage.spread_accumulate(level, np.zeros((1, 2)), loop, ones[:1, :2], 1.0, 1.0)
