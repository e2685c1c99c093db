"""Cut, fill and excavation depths on grids of levels."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# A cell's tilt along one axis is left out where it is this small beside the other: the closed
# form divides by both, and what is lost is of the order of the square of this.
_NEGLIGIBLE = 1e-4


@dataclass(frozen=True, slots=True)
class CutAndFill:
    """Earthwork between two surfaces, cut and fill apart.

    Attributes
    ----------
    cut_m3
        Volume to dig, m3, in the bank.
    fill_m3
        Volume to place, m3, as compacted.
    unknown_cells
        Cells with a design level but no ground level: they are in neither volume.
    """

    cut_m3: float
    fill_m3: float
    unknown_cells: int


def cut_and_fill(ground_m: FloatArray, design_m: FloatArray, cell_area_m2: float) -> CutAndFill:
    """Volumes to dig and to place between a ground and a design surface.

    Levels belong to cell centres and are the mean of their cell. Within a cell the difference
    is a plane through that mean, tilted along each axis by the smaller of the differences to
    the two neighbours (level where these disagree in sign or one is missing). So a cell that
    crosses zero gives its part to cut and its part to fill, an edge of the works lends nothing
    to the untouched ground beside it, and cut minus fill is the sum of the differences.

    Parameters
    ----------
    ground_m
        Levels of the ground, m; NaN where not known.
    design_m
        Levels wanted, m, same shape; NaN where there is no work.
    cell_area_m2
        Area of one cell, m2.

    Returns
    -------
    CutAndFill
        Both volumes, m3, and how many cells could not be counted.

    Raises
    ------
    ValueError
        If the shapes differ.

    References
    ----------
    Grid method of earthwork; tilt limited as in Roe (1986), Annual Review of Fluid Mechanics 18.

    Examples
    --------
    >>> cut_and_fill(np.array([[2.0, 1.0, 0.0]]), np.array([[1.0, 1.0, 1.0]]), 4.0)
    CutAndFill(cut_m3=4.5, fill_m3=4.5, unknown_cells=0)
    """
    if ground_m.shape != design_m.shape:
        raise ValueError(
            f"ground is {ground_m.shape} and design {design_m.shape}: same cells needed"
        )
    difference_m = ground_m - design_m
    known = np.isfinite(difference_m)
    cut_m = _mean_positive_part(
        difference_m, _limited_tilt(difference_m, 0), _limited_tilt(difference_m, 1)
    )[known]
    fill_m = cut_m - difference_m[known]
    unknown = np.isfinite(design_m) & ~np.isfinite(ground_m)
    return CutAndFill(
        cut_m3=float(cut_m.sum()) * cell_area_m2,
        fill_m3=float(fill_m.sum()) * cell_area_m2,
        unknown_cells=int(np.count_nonzero(unknown)),
    )


def corner_grid_volume(corner_depths_m: FloatArray, cell_area_m2: float) -> float:
    """Volume of a borrow pit from depths at the corners of a rectangular grid.

    `V = A/4 (h1 + 2 h2 + 4 h4)`, h1, h2 and h4 being the sums of the depths at corners that
    belong to one, two and four cells.

    Parameters
    ----------
    corner_depths_m
        Depths at the grid corners, m, shape (rows + 1, columns + 1); all of one sign.
    cell_area_m2
        Area of one cell, m2.

    Returns
    -------
    float
        Volume, m3; NaN if a depth is NaN.

    Raises
    ------
    ValueError
        If there is no cell, or if some depths are cut and some fill: these must be kept apart.

    Examples
    --------
    >>> corner_grid_volume(np.array([[1.0, 1.5], [1.5, 2.0]]), 100.0)
    150.0
    """
    if min(corner_depths_m.shape) < 2:
        raise ValueError("a grid needs at least two rows and two columns of corners")
    if np.any(corner_depths_m > 0.0) and np.any(corner_depths_m < 0.0):
        raise ValueError("the depths change sign: use cut_and_fill, which keeps both apart")
    weights = np.full(corner_depths_m.shape, 4.0)
    weights[[0, -1], :] /= 2.0
    weights[:, [0, -1]] /= 2.0
    return float((weights * corner_depths_m).sum()) * cell_area_m2 / 4.0


def battered_depths(
    ground_m: FloatArray, distance_to_floor_m: FloatArray, floor_level_m: float, batter: float
) -> FloatArray:
    """Depth of an excavation below the real ground, sides battered until they meet it.

    `depth = max(ground - (floor + distance / batter), 0)`. Where the ground is already lower
    than the floor nothing is dug, and nothing is filled.

    Parameters
    ----------
    ground_m
        Levels of the ground, m; NaN where not known.
    distance_to_floor_m
        Horizontal distance from the floor of the excavation, m; 0 within it.
    floor_level_m
        Level of the floor, m.
    batter
        Run over rise of the sides; 0 is vertical.

    Returns
    -------
    ndarray
        Depths, m, of the same shape; NaN where the ground is not known.

    Raises
    ------
    ValueError
        If the batter is negative or not finite.

    Examples
    --------
    >>> ground = np.full((1, 4), 10.0)
    >>> battered_depths(ground, np.array([[0.0, 1.0, 2.0, 3.0]]), 8.0, 1.5).round(3).tolist()
    [[2.0, 1.333, 0.667, 0.0]]
    """
    if not (np.isfinite(batter) and batter >= 0.0):
        raise ValueError(f"a batter is a number of at least 0, not {batter!r}")
    if batter == 0.0:
        rise_m = np.where(distance_to_floor_m > 0.0, np.inf, 0.0)
    else:
        rise_m = distance_to_floor_m / batter
    return np.maximum(
        ground_m - (floor_level_m + rise_m), np.where(np.isnan(ground_m), np.nan, 0.0)
    )


def _limited_tilt(values: FloatArray, axis: int) -> FloatArray:
    step = np.diff(values, axis=axis)
    pad = [(1, 1) if number == axis else (0, 0) for number in range(values.ndim)]
    padded = np.pad(np.nan_to_num(step, nan=0.0), pad)
    before = np.take(padded, np.arange(values.shape[axis]), axis=axis)
    after = np.take(padded, np.arange(1, values.shape[axis] + 1), axis=axis)
    smaller = np.minimum(np.abs(before), np.abs(after))
    tilt: FloatArray = np.where(before * after > 0.0, np.sign(after) * smaller, 0.0)
    return tilt


def _mean_positive_part(mean: FloatArray, tilt_a: FloatArray, tilt_b: FloatArray) -> FloatArray:
    """Mean over a unit cell of `max(mean + a u + b v, 0)`, u and v from -1/2 to 1/2."""
    large = np.maximum(np.abs(tilt_a), np.abs(tilt_b))
    small = np.minimum(np.abs(tilt_a), np.abs(tilt_b))
    small = np.where(small < _NEGLIGIBLE * large, 0.0, small)
    result = np.maximum(mean, 0.0)
    crossing = 2.0 * np.abs(mean) < large + small
    one = crossing & (small == 0.0)
    result[one] = _mean_of_ramp(mean[one], large[one])
    two = crossing & (small > 0.0)
    result[two] = _mean_of_plane(mean[two], large[two], small[two])
    return result


def _mean_of_ramp(mean: FloatArray, tilt: FloatArray) -> FloatArray:
    upper = np.maximum(mean + tilt / 2.0, 0.0)
    lower = np.maximum(mean - tilt / 2.0, 0.0)
    mean_m: FloatArray = (upper**2 - lower**2) / (2.0 * tilt)
    return mean_m


def _mean_of_plane(mean: FloatArray, large: FloatArray, small: FloatArray) -> FloatArray:
    corners = (
        np.maximum(mean + (large + small) / 2.0, 0.0) ** 3
        - np.maximum(mean + (large - small) / 2.0, 0.0) ** 3
        - np.maximum(mean - (large - small) / 2.0, 0.0) ** 3
        + np.maximum(mean - (large + small) / 2.0, 0.0) ** 3
    )
    mean_m: FloatArray = corners / (6.0 * large * small)
    return mean_m
