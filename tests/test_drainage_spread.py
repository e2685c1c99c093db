"""Spreading flow on planes in every direction, cones, and any ground: nothing is lost."""

import numpy as np
import pytest
from drainage_cases import (
    NINE,
    E,
    W,
    drops,
    flooded,
    rasters,
    seeded,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from geo_site import drainage
from geo_site.drainage import OUTLET


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

    @pytest.mark.parametrize("angle", [0.1, 3.0, 5.9])
    def test_shares_never_go_uphill(self, angle):
        """Only the cell to the east is lower: it gets all, wherever the angle points."""
        ground = np.full((3, 3), 9.0)
        ground[1, 1], ground[1, 2] = 5.0, 4.0
        flood = flooded(ground)
        spread = drainage.spread_directions(ground, flood.direction, 1.0, 1.0)
        spread.angle[1, 1] = angle
        weights = np.zeros((3, 3))
        weights[1, 1] = 1.0
        total = drainage.spread_accumulate(spread, ground, flood.direction, weights, 1.0, 1.0)
        assert total[1, 2] == 1.0
        assert total.sum() == 2.0

    def test_east_is_zero_not_a_full_turn(self):
        """Levels so small that squares lose digits: the facet below east wins with angle 0."""
        ground = np.full((3, 3), 1.0)
        ground[1, 1], ground[1, 2], ground[2, 2] = 3e-162, 0.0, 0.0
        flood = flooded(ground)
        spread = drainage.spread_directions(flood.filled, flood.direction, 1.0, 1.0)
        assert spread.angle[1, 1] == 0.0

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
