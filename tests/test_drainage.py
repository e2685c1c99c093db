"""Filling and flow directions against published examples, closed forms and brute force."""

import numpy as np
import pytest
from drainage_cases import (
    NINE,
    E,
    S,
    drops,
    flooded,
    minimax_levels,
    rasters,
    seeded,
    spiral,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from geo_site import drainage
from geo_site.drainage import NO_DATA, OUTLET


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

    def test_water_crosses_a_lake_straight(self):
        """A lake 3 rows high with its mouth in the middle of the east side: due east."""
        ground = np.full((5, 8), 9.0)
        ground[1:4, 1:7] = 2.0
        ground[2, 7] = 4.0
        path = drainage.downstream_path(flooded(ground).direction, 2, 1)
        assert path.tolist() == [[2, column] for column in range(1, 8)]

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
