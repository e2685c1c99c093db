"""Drainage against independent libraries, on random and real ground.

The real ground is `data/merewether_crop.tif` (see `data/README.md` for its source).
"""

from pathlib import Path

import numpy as np
import pyflwdir
import pytest
import rasterio
from affine import Affine
from pysheds.grid import Grid
from pysheds.view import Raster, ViewFinder
from skimage.morphology import reconstruction

from geo_site import drainage
from geo_site.drainage import OUTLET

CROP = Path(__file__).parent / "data" / "merewether_crop.tif"
STEPS = list(zip(drainage.ROW_STEP, drainage.COLUMN_STEP, strict=True))
POWER_CODES = np.array([1, 128, 64, 32, 16, 8, 4, 2, 0], dtype=np.uint8)
"""Our directions in the power-of-two codes (east 1, clockwise) that both libraries read."""
GROUNDS = ["rough", "tied", "holed", "lidar"]


def ground_named(name):
    if name == "lidar":
        with rasterio.open(CROP) as source:
            return source.read(1)
    ground = np.random.default_rng(11).integers(0, 2**16, (60, 70)).astype(np.float32) / 2**16
    if name == "tied":
        return np.round(ground * 6).astype(np.float32)
    if name == "holed":
        ground[20:24, 30:33] = np.nan
        ground[50, 10] = np.nan
    return ground


def flooded(ground, holes_drain=False, cell=(1.0, 1.0)):
    outlets = drainage.outlet_cells(~np.isnan(ground), holes_drain)
    return drainage.flood(ground, outlets, *cell)


def drops(filled, lengths):
    """Fall to each of the eight neighbours over a length, first axis; -inf where there is none."""
    rows, columns = filled.shape
    padded = np.pad(filled.astype(np.float64), 1, constant_values=np.nan)
    falls = [
        (padded[1:-1, 1:-1] - padded[1 + down :, 1 + right :][:rows, :columns]) / length
        for (down, right), length in zip(STEPS, lengths, strict=True)
    ]
    return np.nan_to_num(np.array(falls), nan=-np.inf)


def sheds(values, cell=(1.0, 1.0)):
    """Wrap an array for the peer that works on a grid object; always a copy, as it mutates."""
    view = ViewFinder(
        affine=Affine(cell[0], 0.0, 0.0, 0.0, -cell[1], 0.0),
        shape=values.shape,
        nodata=np.float64(np.nan),
    )
    return Grid(viewfinder=view), Raster(values.astype(np.float64), viewfinder=view)


class TestFill:
    @pytest.mark.parametrize("name", GROUNDS)
    def test_pyflwdir_fills_to_the_same_level(self, name):
        """Equal in every cell. Its outlets are all edges of valid ground, so holes drain.

        It finds levels by adding differences; on these grounds (multiples of 2**-16, and lidar
        levels within a factor of two of each other) that is exact in float32.
        """
        ground = ground_named(name)
        filled, _ = pyflwdir.dem.fill_depressions(ground.copy(), nodata=np.float32(np.nan))
        ours = flooded(ground, holes_drain=True).filled
        assert (ours > ground).sum() > 100
        np.testing.assert_array_equal(ours, filled)

    @pytest.mark.parametrize("name", GROUNDS)
    def test_pysheds_fills_to_the_same_level(self, name):
        """Equal in every cell. It starts from the outermost valid cells: holes do not drain."""
        ground = ground_named(name)
        grid, raster = sheds(ground)
        filled = np.asarray(grid.fill_depressions(raster))
        ours = flooded(ground).filled
        assert (ours > ground).sum() > 100
        np.testing.assert_array_equal(ours.astype(np.float64), filled)

    @pytest.mark.parametrize("name", ["rough", "tied", "lidar"])
    def test_skimage_reconstruction_by_erosion(self, name):
        """Equal in every cell: filling is the erosion of a lid that is open at the edge."""
        ground = ground_named(name)
        lid = np.full_like(ground, ground.max())
        edge = drainage.outlet_cells(np.ones(ground.shape, dtype=bool), False)
        lid[edge] = ground[edge]
        filled = reconstruction(lid, ground, method="erosion", footprint=np.ones((3, 3)))
        np.testing.assert_array_equal(flooded(ground).filled, filled)


class TestSingleDirections:
    @pytest.mark.parametrize("cell", [(1.0, 1.0), (16.0, 15.957)])
    @pytest.mark.parametrize("name", GROUNDS)
    def test_pysheds_on_our_filled_surface(self, name, cell):
        """Equal wherever one drop is the steepest.

        Of equal drops it takes the first clockwise from north, we the first counter-clockwise
        from east: there its drop is as steep as ours. Where nothing is lower it gives no
        direction (-1 flat, -2 pit): exactly where ours is a level step or an outlet.
        """
        flood = flooded(ground_named(name), cell=cell)
        slopes = drops(flood.filled, drainage.step_lengths(*cell))
        steepest = slopes.max(axis=0)
        valid = ~np.isnan(flood.filled)
        grid, raster = sheds(flood.filled, cell)
        theirs = np.asarray(grid.flowdir(raster, nodata_out=np.int64(0)))
        falls = valid & (steepest > 0.0)
        np.testing.assert_array_equal(theirs[valid] < 0, ~falls[valid])
        tied = (slopes == steepest).sum(axis=0) > 1
        ours = POWER_CODES[np.minimum(flood.direction, OUTLET)]
        np.testing.assert_array_equal(ours[falls & ~tied], theirs[falls & ~tied])
        assert (falls & ~tied).sum() > 1000
        codes = {int(power): code for code, power in enumerate(POWER_CODES[:8])}
        for row, column in zip(*np.nonzero(falls & tied), strict=True):
            chosen = codes[int(theirs[row, column])]
            assert slopes[chosen, row, column] == steepest[row, column]

    @pytest.mark.parametrize("name", GROUNDS)
    def test_pyflwdir_goes_to_the_lowest_neighbour(self, name):
        """Its direction is where its flood came from: the lowest neighbour, not the steepest.

        So it equals ours wherever our steepest way leads to the one lowest neighbour.
        """
        ground = ground_named(name)
        _, theirs = pyflwdir.dem.fill_depressions(ground.copy(), nodata=np.float32(np.nan))
        flood = flooded(ground, holes_drain=True)
        falls = drops(flood.filled, np.ones(8))
        deepest = falls.max(axis=0)
        only = (falls == deepest).sum(axis=0) == 1
        ours = np.minimum(flood.direction, OUTLET)
        ahead = np.take_along_axis(falls, np.minimum(ours, 7)[None], axis=0)[0]
        same = (deepest > 0.0) & only & (ahead == deepest) & ~np.isnan(ground)
        assert same.sum() > 500
        np.testing.assert_array_equal(POWER_CODES[ours][same], theirs[same])


class TestAlongOurDirections:
    @pytest.mark.parametrize("name", GROUNDS)
    def test_pyflwdir_accumulates_and_delineates_the_same(self, name):
        """Given our directions: counts and the catchments of all outlets are equal."""
        flood = flooded(ground_named(name))
        valid = ~np.isnan(flood.filled)
        codes = np.where(valid, POWER_CODES[np.minimum(flood.direction, OUTLET)], 247)
        peer = pyflwdir.from_array(codes.astype(np.uint8), ftype="d8")
        cells = drainage.accumulate(flood.direction, np.ones(codes.shape))
        np.testing.assert_array_equal(cells[valid], peer.upstream_area(unit="cell")[valid])
        outlets = np.flatnonzero(flood.direction == OUTLET)
        labels = np.zeros(codes.size, dtype=np.int32)
        labels[outlets] = np.arange(1, outlets.size + 1)
        ours = drainage.catchments(flood.direction, labels.reshape(codes.shape))
        theirs = peer.basins(idxs=outlets, ids=np.arange(1, outlets.size + 1, dtype=np.uint32))
        np.testing.assert_array_equal(ours, theirs)

    @pytest.mark.parametrize("name", GROUNDS)
    def test_pysheds_accumulates_the_same(self, name, monkeypatch):
        """Given our directions: equal. (It calls a numpy function that numpy 2.4 took away.)"""
        monkeypatch.setattr(np, "in1d", np.isin, raising=False)
        flood = flooded(ground_named(name))
        valid = ~np.isnan(flood.filled)
        weights = np.random.default_rng(2).integers(0, 50, valid.shape)
        grid, codes = sheds(POWER_CODES[np.minimum(flood.direction, OUTLET)])
        codes = codes.astype(np.int64)
        codes.nodata = np.int64(-99)
        _, given = sheds(np.where(valid, weights, 0.0))
        theirs = np.asarray(grid.accumulation(codes, weights=given))
        ours = drainage.accumulate(flood.direction, weights)
        np.testing.assert_array_equal(ours[valid], theirs[valid])


class TestSpread:
    @pytest.mark.parametrize("cell", [(1.0, 1.0), (2.0, 3.0)])
    @pytest.mark.parametrize("name", ["rough", "lidar"])
    def test_pysheds_angles(self, name, cell):
        """Equal inside the grid (it leaves its edge out), where all nine levels differ.

        Beside flats two facets can be equally steep, and the two choose differently.
        """
        flood = flooded(ground_named(name), cell=cell)
        ours = drainage.spread_directions(flood.filled, flood.direction, *cell)
        grid, raster = sheds(flood.filled, cell)
        theirs = np.asarray(grid.flowdir(raster, routing="dinf", nodata_out=np.float64(np.nan)))
        windows = np.lib.stride_tricks.sliding_window_view(flood.filled, (3, 3))
        ordered = np.sort(windows.reshape(*windows.shape[:2], 9), axis=2)
        distinct = np.zeros(flood.filled.shape, dtype=bool)
        distinct[1:-1, 1:-1] = (np.diff(ordered, axis=2) > 0.0).all(axis=2)
        assert distinct.sum() > 500
        turn = (ours.angle - theirs)[distinct]
        np.testing.assert_allclose(np.cos(turn), 1.0, atol=1e-12)
        np.testing.assert_allclose(np.sin(turn), 0.0, atol=1e-9)

    def test_pysheds_accumulates_the_same_shares(self):
        """On a rough slope without flats, the edge taken as outlet as the peer takes it."""
        row, column = np.mgrid[0:40, 0:50]
        ground = 3.0 * column + 2.0 * row + np.random.default_rng(5).random((40, 50))
        edge = drainage.outlet_cells(np.ones(ground.shape, dtype=bool), False)
        direction = np.where(edge, OUTLET, flooded(ground).direction).astype(np.uint8)
        spread = drainage.spread_directions(ground, direction, 1.0, 1.0)
        ours = drainage.spread_accumulate(
            spread, ground, direction, np.ones(ground.shape), 1.0, 1.0
        )
        grid, angles = sheds(spread.angle)
        _, ones = sheds(np.ones(ground.shape))
        theirs = np.asarray(grid.accumulation(angles, weights=ones, routing="dinf"))
        np.testing.assert_allclose(ours, theirs, rtol=1e-9)
        assert ours.max() > 20.0
