"""Piles of loose soil on real ground, at their angle of repose."""

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def repose_surface(
    ground_m: FloatArray, core_distance_m: FloatArray, crest_level_m: float, slope: float
) -> FloatArray:
    """Surface of a pile: level on its core, falling at the angle of repose outside it.

    `max(ground, crest - slope distance)`.

    Parameters
    ----------
    ground_m
        Levels of the ground, m; NaN where not known.
    core_distance_m
        Horizontal distance from the core (the line or area of the crest), m; 0 within it, and
        NaN where nothing may lie.
    crest_level_m
        Level of the crest, m.
    slope
        Rise over run of the sides.

    Returns
    -------
    ndarray
        Levels, m, nowhere below the ground; NaN where the ground is not known.

    Examples
    --------
    >>> repose_surface(np.zeros((1, 4)), np.array([[0.0, 1.0, 2.0, 3.0]]), 1.0, 0.5).tolist()
    [[1.0, 0.5, 0.0, 0.0]]
    """
    pile_m = crest_level_m - slope * core_distance_m
    return np.maximum(ground_m, np.where(np.isnan(pile_m), -np.inf, pile_m))


def pile_crest_level(
    ground_m: FloatArray,
    core_distance_m: FloatArray,
    slope: float,
    loose_m3: float,
    cell_area_m2: float,
) -> float:
    """Crest level at which a pile holds a given loose volume.

    The pile is that of `repose_surface`. Its volume `A sum(max(c - t, 0))`, with
    `t = ground + slope distance` of each cell, is piecewise linear in the crest level c, so
    the level is found exactly from the sorted t; no iteration.

    Parameters
    ----------
    ground_m
        Levels of the ground, m; NaN where not known (nothing is piled there).
    core_distance_m
        Distance from the core, m; NaN where nothing may lie.
    slope
        Rise over run of the sides, greater than 0.
    loose_m3
        Loose volume to be piled, m3.
    cell_area_m2
        Area of one cell, m2.

    Returns
    -------
    float
        Crest level, m: the lowest cell's t when the volume is 0. Check with `reaches_edge`
        that the pile ends within the grid; if not, its volume is squeezed into too few cells.

    Raises
    ------
    ValueError
        If the volume is negative, the slope or cell area not positive, or no cell is usable.

    Examples
    --------
    >>> pile_crest_level(np.zeros((1, 5)), np.array([[2.0, 1.0, 0.0, 1.0, 2.0]]), 0.5, 2.0, 1.0)
    1.0
    """
    if not (loose_m3 >= 0.0 and slope > 0.0 and cell_area_m2 > 0.0):
        raise ValueError("a pile needs a volume of at least 0, and a slope and cell area above 0")
    start_m = ground_m + slope * core_distance_m
    start_m = np.sort(start_m[np.isfinite(start_m)])
    if start_m.size == 0:
        raise ValueError("no cell has a ground level and a distance: a pile needs ground")
    lowest_m = float(start_m[0])
    above_m = start_m - lowest_m
    # Sum of depths when the crest stands at the start of each cell.
    count = np.arange(above_m.size)
    sums_m = np.cumsum(above_m)
    held_m = count * above_m - (sums_m - above_m)
    wanted_m = loose_m3 / cell_area_m2
    cells = int(np.searchsorted(held_m, wanted_m, side="right"))
    return lowest_m + (wanted_m + float(sums_m[cells - 1])) / cells


def reaches_edge(thickness_m: FloatArray, ground_m: FloatArray) -> bool:
    """Whether a pile or pit touches the edge of the grid or ground that is not known.

    Parameters
    ----------
    thickness_m
        Thickness or depth of each cell, m; 0 or NaN where there is none.
    ground_m
        Levels of the ground, m, same shape; NaN where not known.

    Returns
    -------
    bool
        True when a cell of it has fewer than four known neighbours: the shape may go on there.

    Examples
    --------
    >>> ground = np.zeros((3, 3))
    >>> reaches_edge(np.array([[0.0, 0, 0], [0, 1, 0], [0, 0, 0]]), ground)
    False
    >>> reaches_edge(np.array([[0.0, 0, 0], [0, 1, 1], [0, 0, 0]]), ground)
    True
    """
    known = np.pad(np.isfinite(ground_m), 1)
    enclosed = known[:-2, 1:-1] & known[2:, 1:-1] & known[1:-1, :-2] & known[1:-1, 2:]
    return bool(np.any((np.nan_to_num(thickness_m) > 0.0) & ~enclosed))
