"""Find and measure the places where water stands before it spills.

Question
    Where are the low places, how deep are they, how much do they hold, and at what level do
    they spill?
In, out
    The ground and its filled surface; a raster of labels and one row of measures per label.
Method
    A depression is a connected group of cells that filling has raised. It is information: it is
    measured, never breached or smoothed away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from geo_site.drainage.grid import Bools, Floats, Ground, raster_of


@dataclass(frozen=True, eq=False)
class Depressions:
    """Measures of the depressions of a label raster; entry ``i`` is label ``i + 1``.

    Attributes
    ----------
    spill_level_m : float64 array
        Level to which each fills before it spills.
    depth_m : float64 array
        Greatest depth of water at that level.
    area_m2 : float64 array
        Area of the ground below that level.
    volume_m3 : float64 array
        Volume that stands below that level.
    """

    spill_level_m: Floats
    depth_m: Floats
    area_m2: Floats
    volume_m3: Floats


def depression_labels(ground: Ground, filled: Ground, least_depth: float) -> NDArray[np.int32]:
    """Number the depressions: 8-connected groups of cells that filling has raised.

    Two raised cells side by side always have the same filled level (the water of the higher
    would run to the lower), so a group has one spill level, and depressions that spill at
    different levels are never joined. Hollows inside one that overflow into each other below
    its spill level are one depression.

    Parameters
    ----------
    ground, filled : 2-D float32 or float64 arrays
        The ground and what `flood` made of it.
    least_depth : float
        Depressions whose deepest cell is shallower than this, in metres, are left out whole.

    Returns
    -------
    int32 array
        0 outside depressions, else 1, 2, ... in the order of each one's first cell.

    Raises
    ------
    ValueError
        If the arrays are not a ground and its filling.
    """
    depth = _depths(ground, filled)
    groups = label_groups(depth > 0.0)
    deepest = np.zeros(int(groups.max()) + 1)
    np.maximum.at(deepest, groups, np.nan_to_num(depth))
    kept = deepest >= least_depth
    kept[0] = False
    renumbered = np.where(kept, np.cumsum(kept), 0).astype(np.int32)
    return renumbered[groups]


def measure_depressions(
    ground: Ground, filled: Ground, labels: NDArray[np.int32], cell_area: float
) -> Depressions:
    """Measure each labelled depression.

    Parameters
    ----------
    ground, filled : 2-D float32 or float64 arrays
        The ground and what `flood` made of it.
    labels : int32 array of the same shape
        From `depression_labels`.
    cell_area : float
        Area of a cell in square metres.

    Raises
    ------
    ValueError
        If the arrays are not a ground and its filling, or the area is not positive.

    Examples
    --------
    >>> ground = np.array([[9.0, 9.0, 9.0], [9.0, 2.0, 7.0], [9.0, 9.0, 9.0]])
    >>> filled = np.fmax(ground, 7.0)
    >>> found = measure_depressions(ground, filled, depression_labels(ground, filled, 0.0), 1.0)
    >>> found.spill_level_m.tolist(), found.depth_m.tolist(), found.volume_m3.tolist()
    ([7.0], [5.0], [5.0])
    """
    if not 0.0 < cell_area < np.inf:
        raise ValueError(f"the cell area must be positive, not {cell_area}")
    depth = _depths(ground, filled)
    if labels.shape != depth.shape:
        raise ValueError("labels must have the shape of the ground")
    wet = labels > 0
    place = labels[wet] - 1
    count = int(labels.max())
    deepest, level = np.zeros(count), np.full(count, -np.inf)
    np.maximum.at(deepest, place, depth[wet])
    np.maximum.at(level, place, filled[wet].astype(np.float64))
    cells = np.bincount(place, minlength=count).astype(np.float64)
    summed_depth_m = np.bincount(place, depth[wet], count).astype(np.float64)
    return Depressions(
        spill_level_m=level,
        depth_m=deepest,
        area_m2=cells * cell_area,
        volume_m3=summed_depth_m * cell_area,
    )


def _depths(ground: Ground, filled: Ground) -> Floats:
    if ground.shape != filled.shape:
        raise ValueError("the filled surface must have the shape of the ground")
    # numpy widens float32 a piece at a time here: no float64 copy of either is made.
    depth: Floats = np.subtract(raster_of(filled), raster_of(ground), dtype=np.float64)
    if (depth < 0.0).any() or (np.isnan(filled) != np.isnan(ground)).any():
        raise ValueError("the filled surface is not a filling of this ground")
    return depth


def label_groups(cells: Bools) -> NDArray[np.int32]:
    """Number the 8-connected groups of True cells from 1, in the order of their first cell."""
    labels, _ = ndimage.label(cells, np.ones((3, 3), dtype=bool))
    return np.asarray(labels, dtype=np.int32)
