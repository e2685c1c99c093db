"""Spreading flow on planes in every direction, cones, and any ground: nothing is lost."""

import tracemalloc
from math import comb

import numpy as np
import pytest
from drainage_cases import (
    NINE,
    STEPS,
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


def facet_ways(nine, cell):
    """Slope and angle of the facets of a 3 x 3 that are known, and of its single directions."""
    ways = []
    for number in range(8):
        side, corner = (number + number % 2) % 8, number + 1 - number % 2
        d1, d2 = (cell[0], cell[1]) if side in (E, W) else (cell[1], cell[0])
        e0 = nine[1, 1]
        e1, e2 = (nine[1 + STEPS[code][0], 1 + STEPS[code][1]] for code in (side, corner))
        s1, s2 = (e0 - e1) / d1, (e1 - e2) / d2
        r, slope = np.arctan2(s2, s1), np.hypot(s1, s2)
        if r < 0.0:
            r, slope = 0.0, s1
        if r > np.arctan2(d2, d1):
            r, slope = np.arctan2(d2, d1), (e0 - e2) / np.hypot(d1, d2)
        if not np.isnan(slope):
            ways.append((slope, side * np.pi / 4 + (r if number % 2 == 0 else -r)))
    for down, right in STEPS:
        run, rise = right * cell[0], -down * cell[1]
        slope = (nine[1, 1] - nine[1 + down, 1 + right]) / np.hypot(run, rise)
        if not np.isnan(slope):
            ways.append((slope, np.arctan2(rise, run)))
    return ways


def plane(degrees, cell, shape=(12, 14), dtype=np.float64):
    """A plane that falls 0.3 towards a bearing counter-clockwise from east."""
    row, column = np.mgrid[0 : shape[0], 0 : shape[1]]
    east, north = column * cell[0], -row * cell[1]
    bearing = np.radians(degrees)
    return (-0.3 * (np.cos(bearing) * east + np.sin(bearing) * north)).astype(dtype)


def plane_share(degrees, cell):
    """Codes of the side and the corner neighbour that a plane's bearing lies between, the
    corner's share."""
    quarter, within = divmod(np.radians(degrees), np.pi / 2)
    quarter = int(quarter) % 4
    wide, high = cell if quarter % 2 == 0 else cell[::-1]
    corner = np.arctan2(high, wide)
    if within <= corner:
        return 2 * quarter, 2 * quarter + 1, within / corner
    part = (np.pi / 2 - within) / (np.pi / 2 - corner)
    return (2 * quarter + 2) % 8, 2 * quarter + 1, part


class TestPlanes:
    """A plane has one facet that holds its gradient: angle, slope and shares are exact."""

    @pytest.mark.parametrize(("cell", "every"), [((1.0, 1.0), 1), ((2.0, 1.0), 7), ((0.7, 1.9), 7)])
    def test_angles_in_360_directions(self, cell, every):
        for degrees in range(0, 360, every):
            flood = flooded(plane(degrees, cell, (4, 5)), *cell)
            angle, slope = drainage.spread_directions(flood.filled, flood.direction, *cell)
            turn = angle[1:-1, 1:-1] - np.radians(degrees)
            np.testing.assert_allclose(np.angle(np.exp(1j * turn)), 0.0, atol=1e-9)
            np.testing.assert_allclose(slope[1:-1, 1:-1], 0.3, atol=1e-12)

    @pytest.mark.parametrize(("cell", "every"), [((1.0, 1.0), 1), ((2.0, 1.0), 7)])
    def test_what_one_cell_sends_on_is_binomial_in_360_directions(self, cell, every):
        """After n steps k went to the corner with a chance of C(n, k) p**k (1 - p)**(n - k)."""
        steps = 4
        for degrees in range(0, 360, every):
            ground = plane(degrees, cell, (2 * steps + 3, 2 * steps + 3))
            flood = flooded(ground, *cell)
            spread = drainage.spread_directions(flood.filled, flood.direction, *cell)
            weights = np.zeros(ground.shape)
            weights[steps + 1, steps + 1] = 1.0
            total = drainage.spread_accumulate(
                spread, flood.filled, flood.direction, weights, *cell
            )
            side, corner, share = plane_share(degrees, cell)
            for k in range(steps + 1):
                to = (steps - k) * np.array(STEPS[side]) + k * np.array(STEPS[corner])
                expected = comb(steps, k) * share**k * (1.0 - share) ** (steps - k)
                found = total[steps + 1 + to[0], steps + 1 + to[1]]
                assert found == pytest.approx(expected, abs=1e-9)

    @pytest.mark.parametrize(
        ("cell", "dtype", "every"),
        [
            ((1.0, 1.0), np.float32, 1),
            ((1.0, 1.0), np.float64, 7),
            ((2.0, 1.0), np.float32, 7),
            ((2.0, 1.0), np.float64, 7),
        ],
    )
    def test_counts_in_360_directions(self, cell, dtype, every):
        """Away from the low edges a cell holds its own and its two donors' parts."""
        for degrees in range(0, 360, every):
            ground = plane(degrees, cell, dtype=dtype)
            flood = flooded(ground, *cell)
            found = drainage.spread_cells(flood.filled, flood.direction, *cell)
            side, corner, share = plane_share(degrees, cell)
            donors = np.pad(found, 1, constant_values=0.0)
            parts = {side: 1.0 - share, corner: share}
            expected = 1.0 + sum(
                part * np.roll(donors, STEPS[code], axis=(0, 1)) for code, part in parts.items()
            )
            kept = np.s_[2:-2, 2:-2]
            np.testing.assert_allclose(found[kept], expected[1:-1, 1:-1][kept], rtol=1e-5)


class TestCells:
    @given(rasters(), st.booleans(), st.sampled_from([(1.0, 1.0), (2.0, 0.5)]))
    @settings(max_examples=60, deadline=None)
    def test_the_same_as_weights_of_one_and_nothing_is_lost(self, ground, holes_drain, cell):
        flood = flooded(ground, *cell, holes_drain=holes_drain)
        found = drainage.spread_cells(flood.filled, flood.direction, *cell)
        spread = drainage.spread_directions(flood.filled, flood.direction, *cell)
        ones = np.ones(ground.shape)
        total = drainage.spread_accumulate(spread, flood.filled, flood.direction, ones, *cell)
        np.testing.assert_allclose(found, total, rtol=1e-5)
        left = found[flood.direction == OUTLET].sum()
        assert left == pytest.approx((~np.isnan(ground)).sum(), abs=1e-9)

    @given(rasters(), st.integers(1, 9))
    @settings(max_examples=50, deadline=None)
    def test_threads_change_no_byte(self, ground, threads):
        flood = flooded(ground)
        one, more = (
            drainage.spread_cells(flood.filled, flood.direction, 1.0, 1.0, count)
            for count in (1, threads)
        )
        assert one.tobytes() == more.tobytes()

    def test_a_long_way_is_walked(self):
        """A hundred thousand cells in a row: no recursion, and whole counts are exact."""
        ground = -np.arange(100_000, dtype=np.float32)[None, :]
        direction = np.zeros(ground.shape, dtype=np.uint8)
        direction[0, -1] = OUTLET
        found = drainage.spread_cells(ground, direction, 1.0, 1.0)
        np.testing.assert_array_equal(found[0], np.arange(1.0, 100_001.0))

    def test_a_comb_of_ready_cells_is_walked(self):
        """Every other cell of a long ridge is a source on two sides: many are ready at once."""
        row, column = np.mgrid[0:301, 0:301]
        ground = 1000.0 - np.hypot(row - 150.0, column - 150.3)
        flood = flooded(ground)
        found = drainage.spread_cells(flood.filled, flood.direction, 1.0, 1.0)
        assert found[flood.direction == OUTLET].sum() == pytest.approx(301 * 301, rel=1e-12)

    def test_memory_is_at_most_16_bytes_a_cell(self):
        """The 8 of the answer too; the ground is not copied, nor made float64."""
        ground = plane(33.0, (1.0, 1.0), (600, 500), np.float32) + seeded((600, 500), 7, np.float32)
        flood = flooded(ground)
        assert flood.filled.dtype == np.float32
        drainage.spread_cells(flood.filled, flood.direction, 1.0, 1.0)
        tracemalloc.start()
        drainage.spread_cells(flood.filled, flood.direction, 1.0, 1.0)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert 8.0 <= peak / ground.size <= 16.0

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"direction": np.array([[E, 9, OUTLET]], dtype=np.uint8)}, "unknown"),
            ({"direction": np.array([[E, E, E]], dtype=np.uint8)}, "leads out"),
            ({"direction": np.array([[E, W, OUTLET]], dtype=np.uint8)}, "cycle"),
            ({"direction": np.array([[E, 255, OUTLET]], dtype=np.uint8)}, "no data"),
            ({"direction": np.array([[E, E]], dtype=np.uint8)}, "shape"),
            ({"direction": np.array([[E, E, OUTLET]])}, "uint8"),
            ({"filled": np.array([[3.0, np.nan, 1.0]])}, "no data"),
            ({"filled": np.array([[np.inf, 2.0, 1.0]])}, "infinite"),
            ({"filled": np.array([[3, 2, 1]])}, "float32 or float64"),
            ({"cell_width": 0.0}, "sizes"),
            ({"threads": 0}, "thread"),
        ],
    )
    def test_what_does_not_belong_together_is_refused(self, change, words):
        given_ = {
            "filled": np.array([[3.0, 3.0, 1.0]]),
            "direction": np.array([[E, E, OUTLET]], dtype=np.uint8),
            "cell_width": 1.0,
            "cell_height": 1.0,
        }
        assert drainage.spread_cells(**given_).tolist() == [[1.0, 2.0, 3.0]]
        with pytest.raises(ValueError, match=words):
            drainage.spread_cells(**{**given_, **change})


class TestSpread:
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
        """South-east is lower than east by a hair, and the angle rounds to a full turn."""
        ground = np.full((3, 3), 9.0)
        ground[1, 1], ground[1, 2], ground[2, 2] = 1.0, 0.0, -1e-20
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
    @settings(max_examples=60, deadline=None)
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
    @settings(max_examples=50, deadline=None)
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

    @given(rasters(), st.sampled_from([(1.0, 1.0), (2.0, 0.5)]))
    @settings(max_examples=50, deadline=None)
    def test_the_steepest_of_all_facets(self, ground, cell):
        """Against the eight facets of Tarboton (1997), tried one by one with held angles."""
        flood = flooded(ground, *cell)
        found = drainage.spread_directions(flood.filled, flood.direction, *cell)
        padded = np.pad(flood.filled.astype(np.float64), 1, constant_values=np.nan)
        for row, column in zip(*np.nonzero(flood.direction < OUTLET), strict=True):
            ways = facet_ways(padded[row : row + 3, column : column + 3], cell)
            steepest = max([slope for slope, _ in ways], default=0.0)
            if steepest <= 0.0:
                assert found.slope[row, column] == 0.0
                continue
            assert found.slope[row, column] == pytest.approx(steepest, rel=1e-12)
            best = [angle for slope, angle in ways if slope > steepest * (1.0 - 1e-12)]
            turns = np.array(best) - found.angle[row, column]
            assert np.cos(turns).max() == pytest.approx(1.0, abs=1e-12)

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
