"""What one place measures on a ground as it may truly be.

In: a spot, the ground as read and the error of its cells. Out: for each field of errors what fall,
rim, lowest pit edge and pit volume change. Method: the ground as read is the truth and an error,
so adding a second error to it would give ground that is rougher and steeper than any truth: the
lowest of many points and the volume above a plane are bent, and feel it. So the ground of a pit is
taken apart into level, tilt, curvature and the rest, in each part the share of the error is drawn
from what the size of the part tells of it, and that share is taken off again before an error is
added. Reference: normal means with a common unknown variance, Strawderman (1971), Annals of
Mathematical Statistics 42(1) (from memory).
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import sparse
from scipy.special import gammainc, gammaincinv

from geo_site import volumes
from geo_site.certainty.spots import Spot
from geo_site.error_fields import ErrorModel, covariance
from geo_site.raster import Raster

__all__ = ["PARTS", "Gauge", "error_shares"]

Floats = NDArray[np.float64]

PARTS = 3
"""Parts of a pit's ground whose share of error is drawn: tilt, curvature, the rest."""
_TILT, _CURVATURE = slice(1, 3), slice(3, 6)
_FINE_M = 0.25
_ROUND_PIT_M = 0.75
_LEAST = 1e-6  # half the square of a part in errors: below it the share is that of no signal
_TINY = 1e-18  # m2: a variance below it is rounding
_MANY = 300  # points that tell how large the rest of an error is


def error_shares(sizes: Floats, counts: Floats, drawn: Floats) -> Floats:
    """Draw how much of each part of a ground is error.

    A part of `k` numbers is its truth, normal of unknown variance `t^2`, and its error, of
    variance `s^2`. The share of the error is `w = s^2 / (s^2 + t^2)`. With the chance of w
    beforehand as `w^(-1/2)`, and the part found to be of size `S = |part|^2 / (2 s^2)`, w has the
    density `w^((k - 1) / 2) exp(-w S)` between 0 and 1: a gamma density, cut off at 1.

    Parameters
    ----------
    sizes : ndarray
        S of each part: half its square, in standard deviations of its error.
    counts : ndarray
        k of each part.
    drawn : ndarray
        Uniform numbers from 0 to 1.

    Returns
    -------
    ndarray
        Shares, 0 to 1.

    References
    ----------
    Strawderman (1971), Annals of Mathematical Statistics 42(1) (from memory). The density
    beforehand is our choice: of those tried its ranges hold the truth most evenly.

    Examples
    --------
    A tilt ten times its error is no error; one as large as nothing is all error, more or less:

    >>> import numpy as np
    >>> error_shares(np.array([100.0, 0.0]), np.array([2.0, 2.0]), np.array([0.5, 0.5])).round(3)
    array([0.012, 0.63 ])
    """
    power = 0.5 * (counts + 1.0)
    known = np.maximum(sizes, _LEAST)
    found = gammaincinv(power, drawn * gammainc(power, known)) / known
    return np.asarray(np.minimum(found, 1.0), dtype=np.float64)


class Gauge:
    """Measures one spot: built once, read for each field of errors.

    Parameters
    ----------
    spot : Spot
        The place.
    ground : Raster
        As read.
    cells : ErrorModel
        Error of its cells.
    """

    def __init__(self, spot: Spot, ground: Raster, cells: ErrorModel) -> None:
        self._spot = spot
        points, self._distance_m = _pit_points(spot)
        groups = (spot.lip, spot.outline, spot.edge, points)
        xy = np.vstack(groups)
        self._ends = np.cumsum([len(group) for group in groups])[:-1]
        weights = _bilinear(xy, ground)
        self.cells = np.unique(weights.indices)
        self._weights = weights[:, self.cells]
        self._levels = ground.sample(xy)
        self._as_read = self._measured(self._levels)
        inside = slice(self._ends[-1], None)
        self._terms = _terms(xy, points.mean(axis=0))
        pit = self._weights[inside]
        self._fit = np.asarray((pit.T @ np.linalg.pinv(self._terms[inside]).T).T)
        self._parts = self._fit @ np.nan_to_num(ground.values.ravel()[self.cells])
        self._rest = self._levels - self._terms @ self._parts
        self._sizes, self._counts = self._compared(ground, cells)

    def changes(
        self, errors: Floats, detail: Floats, drawn: Floats, deeper_m: float = 0.0
    ) -> Floats:
        """Tell what may be changed: fall, rim, lowest pit edge (m), pit volume drawn, dug (m3).

        Parameters
        ----------
        errors : ndarray
            Of all cells of the ground, m.
        detail : ndarray
            What they hide, m; no part of what was read, so nothing is taken off for it.
        drawn : ndarray, shape (PARTS,)
            Uniform numbers.
        deeper_m : float
            How much deeper than drawn the floor is dug, m.

        Returns
        -------
        ndarray, shape (5,)
            Figures on a ground as it may truly be, less those on the ground as read; the volume
            down to the floor as drawn, and as dug.
        """
        tilt, curvature, rest = error_shares(self._sizes, self._counts, drawn)
        own = errors[self.cells]
        error, at_points = self._fit @ own, self._weights @ own
        left = at_points - self._terms @ error
        shares = np.array([0.0, tilt, tilt, curvature, curvature, curvature])
        even = (1.0 - shares) * self._parts + np.sqrt(1.0 - shares) * error
        levels = self._terms @ even + (1.0 - rest) * self._rest + np.sqrt(1.0 - rest) * left
        lip = self._ends[0]
        levels[:lip] = self._levels[:lip] + at_points[:lip]
        levels += self._weights @ detail[self.cells]
        return self._measured(levels, deeper_m) - self._as_read

    def _measured(self, levels: Floats, deeper_m: float = 0.0) -> Floats:
        lip, outline, edge, pit = np.split(levels, self._ends)
        rim_m = float(outline.min())
        floors_m = rim_m - self._spot.depth_m, rim_m - self._spot.depth_m - deeper_m
        drawn_m, dug_m = (
            volumes.battered_depths(pit, self._distance_m, floor_m, self._spot.batter).sum()
            for floor_m in floors_m
        )
        cell_m2 = _FINE_M**2
        return np.array([lip[0] - rim_m, rim_m, edge.min(), drawn_m * cell_m2, dug_m * cell_m2])

    def _compared(self, ground: Raster, cells: ErrorModel) -> tuple[Floats, Floats]:
        """Size of each part of the ground in errors, and how many numbers it has."""
        rows, columns = np.divmod(self.cells, ground.shape[1])
        x, y = columns * ground.cell_width_m, rows * ground.cell_height_m
        matrix = covariance(np.hypot(x[:, None] - x, y[:, None] - y), cells)
        fit = self._fit
        of_parts = fit @ matrix @ fit.T
        tilt, curvature = (
            _half_square(self._parts[part], of_parts[part, part]) for part in (_TILT, _CURVATURE)
        )
        some = slice(self._ends[-1], None, max((len(self._rest) - self._ends[-1]) // _MANY, 1))
        left = self._weights[some].toarray() - self._terms[some] @ fit
        spread = matrix @ (left.T @ left)  # its trace: the rest's squares added up
        expected = max(float(np.trace(spread)), len(left) * _TINY)
        count = expected**2 / max(float(np.einsum("ij,ji", spread, spread)), expected**2 / 1e6)
        found = float((self._rest[some] ** 2).sum())
        return (
            np.array([tilt, curvature, 0.5 * count * found / expected]),
            np.array([2.0, 3.0, count]),
        )


def _half_square(part: Floats, matrix: Floats) -> float:
    """Half the square of some numbers, in standard deviations of their errors."""
    values, vectors = np.linalg.eigh(matrix)
    return float(0.5 * ((vectors.T @ part) ** 2 / np.maximum(values, _TINY)).sum())


def _terms(xy: Floats, middle: Floats) -> Floats:
    """Terms of a surface of the second degree."""
    x, y = (xy - middle).T
    return np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])


def _pit_points(spot: Spot) -> tuple[Floats, Floats]:
    """Points over a pit and a little beyond, and their distances from its floor."""
    area = spot.pit if spot.batter == 0.0 else spot.pit.buffer(_ROUND_PIT_M)
    west, south, east, north = area.bounds
    x = np.arange(west + _FINE_M / 2.0, east, _FINE_M)
    y = np.arange(south + _FINE_M / 2.0, north, _FINE_M)
    xy = np.column_stack([axis.ravel() for axis in np.meshgrid(x, y)])
    xy = xy[shapely.contains_xy(area, xy[:, 0], xy[:, 1])]
    return xy, np.asarray(shapely.distance(shapely.points(xy), spot.pit_floor))


def _bilinear(xy: Floats, grid: Raster) -> sparse.csr_matrix:
    """Weights of cells at points, as in ``Raster.sample``."""
    rows, cols = grid.shape
    col = np.clip((xy[:, 0] - grid.transform.c) / grid.cell_width_m - 0.5, 0, cols - 1)
    row = np.clip((grid.transform.f - xy[:, 1]) / grid.cell_height_m - 0.5, 0, rows - 1)
    c0 = np.minimum(np.floor(col).astype(int), max(cols - 2, 0))
    r0 = np.minimum(np.floor(row).astype(int), max(rows - 2, 0))
    found, cells = [], []
    for down, right in ((0, 0), (0, 1), (1, 0), (1, 1)):
        found.append(np.abs(1 - down - (row - r0)) * np.abs(1 - right - (col - c0)))
        r, c = np.minimum(r0 + down, rows - 1), np.minimum(c0 + right, cols - 1)
        cells.append(r * cols + c)
    points = np.tile(np.arange(len(xy)), 4)
    weights = np.concatenate(found), (points, np.concatenate(cells))
    return sparse.csr_matrix(weights, shape=(len(xy), rows * cols))
