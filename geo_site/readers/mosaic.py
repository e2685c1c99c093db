"""Several rasters become one grid, if they fit together.

In: tiles of one CRS, levels in metres. Out: one array with its transform, and sentences about
what was found: overlaps that differ, steps between neighbours, gaps, holes. Method: aligned
tiles are laid side by side, no cell is moved; a step along a seam is what is left of the rise
across it when the slope on both its sides is taken off.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from scipy import ndimage

from geo_site.errors import InputRefused
from geo_site.raster import Raster
from geo_site.readers.declared import MOST_CELLS
from geo_site.readers.raster_files import Tile

__all__ = ["describe_holes", "join"]

_ALIGNED = 0.01  # of a cell
_TILES_DISAGREE_M = 0.5  # median difference where tiles overlap: another unit or datum
_NEIGHBOURS_DISAGREE_M = 2.0  # median step along a seam: the same, seen without an overlap
_LEAST_SEAM = 8  # cells along a seam before its median step says anything

Levels = NDArray[np.floating[Any]]


def join(tiles: Sequence[Tile], rmse_z_m: float) -> tuple[Levels, Affine, tuple[str, ...]]:
    """Lay tiles on one grid; where they overlap the first one counts.

    Parameters
    ----------
    tiles : sequence of Tile
        One CRS, levels in metres.
    rmse_z_m : float
        Vertical error of the levels, m; steps of more than half of it are noted. NaN: 0.10.

    Returns
    -------
    values : ndarray, shape (rows, cols)
        Levels, m; NaN in gaps.
    transform : affine.Affine
        Of the first tile, moved to the common corner.
    notes : tuple of str
        Overlaps, seams, gaps.

    Raises
    ------
    InputRefused
        Cell sizes differ, grids are not aligned, tiles lie too far apart, or levels disagree.
    """
    if len(tiles) == 1:
        return tiles[0].values, tiles[0].transform, ()
    base = tiles[0].transform
    places = [_place(tile, tiles[0]) for tile in tiles]
    top, left = min(row for row, _ in places), min(col for _, col in places)
    rows = max(r + t.values.shape[0] for (r, _), t in zip(places, tiles, strict=True)) - top
    cols = max(c + t.values.shape[1] for (_, c), t in zip(places, tiles, strict=True)) - left
    if rows * cols > MOST_CELLS:
        raise InputRefused(
            f"the tiles together span {rows * cols:,} cells, more than {MOST_CELLS:,}",
            remedy="give the tiles around one lot only",
            file=_all_told(tiles),
        )
    windows = [
        (slice(r - top, r - top + t.values.shape[0]), slice(c - left, c - left + t.values.shape[1]))
        for (r, c), t in zip(places, tiles, strict=True)
    ]
    values, notes = _fill((rows, cols), tiles, windows)
    step_m = 0.5 * (rmse_z_m if np.isfinite(rmse_z_m) else 0.10)
    notes += _seams(values, tiles, windows, step_m)
    notes += _gaps(values.shape, windows)
    return values, base @ Affine.translation(left, top), tuple(notes)


def _place(tile: Tile, first: Tile) -> tuple[int, int]:
    there, base = tile.transform, first.transform
    told = f"{first.declared.told}, {tile.declared.told}"
    size = np.array([there.a, there.b, there.d, there.e])
    wanted = np.array([base.a, base.b, base.d, base.e])
    reach = max(*tile.values.shape, *first.values.shape)
    if np.abs(size - wanted).max() * reach > _ALIGNED * np.abs(wanted).max():
        raise InputRefused(
            f"the cells of {first.declared.told} are {abs(base.a):.9g} by {abs(base.e):.9g}, of "
            f"{tile.declared.told} {abs(there.a):.9g} by {abs(there.e):.9g}",
            remedy="give tiles of one cell size",
            file=told,
        )
    col, row = ~base @ (there.c, there.f)
    off = max(abs(col - round(col)), abs(row - round(row)))
    if off > _ALIGNED:
        raise InputRefused(
            f"the grid of {tile.declared.told} lies {off:.2g} of a cell beside that of "
            f"{first.declared.told}",
            remedy="give tiles on one grid",
            file=told,
        )
    return round(row), round(col)


def _fill(
    shape: tuple[int, int], tiles: Sequence[Tile], windows: Sequence[tuple[slice, slice]]
) -> tuple[Levels, list[str]]:
    values = np.full(shape, np.nan, dtype=np.result_type(*(tile.values for tile in tiles)))
    notes = []
    for tile, window in zip(tiles, windows, strict=True):
        target = values[window]
        both = ~np.isnan(target) & ~np.isnan(tile.values)
        if both.any():
            notes += _compare(target[both], tile.values[both], tile)
        np.copyto(target, tile.values, where=np.isnan(target))
    return values, notes


def _compare(before: Levels, now: Levels, tile: Tile) -> list[str]:
    apart = np.abs(before.astype(np.float64) - now)
    if np.median(apart) > _TILES_DISAGREE_M:
        raise InputRefused(
            f"where it overlaps the tiles before it, the levels differ by {np.median(apart):.2f} m "
            "(median)",
            remedy="give tiles of one vertical unit and datum",
            file=tile.declared.told,
        )
    if apart.max() == 0.0:
        return []
    return [
        f"{tile.declared.told} overlaps the tiles before it in {apart.size:,} cells and differs "
        f"by up to {apart.max():.3f} m there: the first one given counts"
    ]


def _seams(
    values: Levels, tiles: Sequence[Tile], windows: Sequence[tuple[slice, slice]], step_m: float
) -> list[str]:
    found: dict[tuple[bool, int], tuple[float, str]] = {}
    for tile, (rows, cols) in zip(tiles, windows, strict=True):
        edges = ((False, rows.start, cols), (False, rows.stop, cols))
        for upright, at, along in (*edges, (True, cols.start, rows), (True, cols.stop, rows)):
            step = _step(values.T if upright else values, at, along)
            if abs(step) > abs(found.get((upright, at), (step_m, ""))[0]):
                found[upright, at] = (step, tile.declared.told)
    for step, told in found.values():
        if abs(step) > _NEIGHBOURS_DISAGREE_M:
            raise InputRefused(
                f"the levels step by {abs(step):.2f} m along its edge to the next tile",
                remedy="give tiles of one vertical unit and datum",
                file=told,
            )
    return [
        f"the levels step by {abs(step):.3f} m (median) along an edge of {told} to the next tile"
        for step, told in found.values()
    ]


def _step(values: Levels, at: int, along: slice) -> float:
    if not 2 <= at <= values.shape[0] - 2:
        return 0.0
    line = values[at - 2 : at + 2, along].astype(np.float64)
    beyond_slope = (line[2] - line[1]) - 0.5 * ((line[1] - line[0]) + (line[3] - line[2]))
    known = beyond_slope[np.isfinite(beyond_slope)]
    return float(np.median(known)) if known.size >= _LEAST_SEAM else 0.0


def _gaps(shape: tuple[int, ...], windows: Sequence[tuple[slice, slice]]) -> list[str]:
    covered = np.zeros(shape, dtype=bool)
    for window in windows:
        covered[window] = True
    gap = int(np.count_nonzero(~covered))
    return [f"the tiles leave {gap:,} cells between and beside them without data"] if gap else []


def _all_told(tiles: Sequence[Tile]) -> str:
    return ", ".join(tile.declared.told for tile in tiles)


def describe_holes(raster: Raster) -> tuple[str, ...]:
    """Say how much of a raster has no data, inside and at its edge.

    Parameters
    ----------
    raster : Raster
        Levels.

    Returns
    -------
    tuple of str
        A sentence each; empty where every cell has a level.
    """
    missing = np.isnan(raster.values)
    if not missing.any():
        return ()
    labels, count = ndimage.label(missing)
    rim = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    outer = np.zeros(count + 1, dtype=bool)
    outer[rim] = True
    outer[0] = False
    cells = np.bincount(labels.ravel(), minlength=count + 1)
    inside = int(cells[1:][~outer[1:]].sum())
    notes = []
    if inside:
        holes = int(np.count_nonzero(~outer[1:]))
        notes.append(
            f"{holes} {'hole' if holes == 1 else 'holes'} without data inside the terrain, "
            f"{inside * raster.cell_area_m2:,.0f} m2"
        )
    if outer.any():
        area_m2 = int(cells[outer].sum()) * raster.cell_area_m2
        notes.append(f"{area_m2:,.0f} m2 at the edge of the terrain are without data")
    return tuple(notes)
