"""The search: every arrangement, rotation and position, and no good place missed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import MultiPolygon

from geo_site import outlines
from geo_site.outlines import Pit, Scoring, Surface, Turned, Words
from geo_site.raster import Raster, burn, grid_over
from geo_site.site import Site
from geo_site.siting.design import Arrangement, BasinDesign, SitingParameters, Wish
from geo_site.siting.fields import Fields, Room, find_fields, turned
from geo_site.siting.placement import (
    Fit,
    Placement,
    make_pit,
    turned_rectangle,
)
from geo_site.terrain import Terrain

__all__ = ["fits_at", "search"]

_FINE_M = 0.05  # cells on which the excavation's edge is screened
_MOST_FINE_CELLS = 2e7
_MARGIN_M = 2.0  # ground read beyond the free ground's bounds
_FIRST_BATCH = 4096
_GROWTH = 3  # of batches
_MOST_BATCH = 4_000_000  # places in the memory at a time, more only where one class has more
_FIRST_SCREENED = 256
_GOLDEN = (sqrt(5.0) - 1.0) / 2.0


def search(
    site: Site,
    terrain: Terrain,
    room: Room,
    design: BasinDesign,
    wish: Wish,
    parameters: SitingParameters,
) -> tuple[Placement, ...]:
    """Find the best distinct places for the basin.

    All arrangements are tried in all rotations at all cells of a grid. Of the places whose
    excavation lies in the free ground and whose ground rises no more than allowed over the pit
    floor, the one with the best score is kept, then the best that is far enough from it, and so
    on. The screens before the exact test reject only what it would reject too, so the answer is
    that of trying every place exactly.

    Parameters
    ----------
    site : Site
        Views, power, trees, CRS.
    terrain : Terrain
        Levels, gradients, accumulation.
    room : Room
        Ground free for basin and stream, the machine's reach.
    design : BasinDesign
        The basin and its arrangements.
    wish : Wish
        Fall and length of the stream.
    parameters : SitingParameters
        Steps, limits, weights.

    Returns
    -------
    tuple of Placement
        At most ``shortlist``, best first, centres at least ``distinct_distance`` apart; empty
        where nothing fits. Scores equal to 1e-9 stand in the order arrangement, rotation, row,
        column.
    """
    if room.basin.free.is_empty:
        return ()
    fields = find_fields(site, terrain, room, design, wish, parameters)
    hunt = _Hunt(terrain.ground, room.basin.free, design, parameters)
    clear = _clear(fields, hunt.poses, design)
    taken = np.zeros(fields.grid.shape, dtype=bool)
    kept: list[Placement] = []
    for pose, cell, score in _best_first(clear, hunt, fields, taken):
        placement = _place(hunt.poses[pose], cell, score * outlines.SCORE_UNIT, fields, hunt)
        if placement is None:
            continue
        kept.append(placement)
        if len(kept) == parameters.shortlist:
            break
        _take(taken, cell, fields.grid, parameters.distinct_distance)
    return tuple(kept)


def fits_at(
    ground: Raster,
    free: MultiPolygon,
    design: BasinDesign,
    middle: tuple[float, float],
    parameters: SitingParameters,
) -> float | None:
    """Say whether a basin fits with its middle at a point.

    Parameters
    ----------
    ground : Raster
        Levels, m.
    free : shapely.MultiPolygon
        Ground that the excavation may take.
    design : BasinDesign
        Its arrangements are tried in turn.
    middle : tuple of float
        The point, m.
    parameters : SitingParameters
        Rotations and limits.

    Returns
    -------
    float or None
        Rotation of the first that fits, degrees; None where none does.
    """
    fit = Fit(ground, free, parameters.greatest_rise, design.deepest_m)
    for arrangement in design.arrangements:
        pit = make_pit(arrangement, design)
        for turn in _rotations(arrangement, parameters):
            if fit.dig(pit, *middle, float(turn)) is not None:
                return float(turn)
    return None


@dataclass(frozen=True)
class _Pose:
    arrangement: Arrangement
    rotation_deg: float
    pit: Pit


class _Hunt:
    """What every place is tested against."""

    def __init__(
        self,
        ground: Raster,
        free: MultiPolygon,
        design: BasinDesign,
        parameters: SitingParameters,
    ) -> None:
        margin_m = _MARGIN_M + 2.0 * max(ground.cell_width_m, ground.cell_height_m)
        west, south, east, north = free.bounds
        bounds = (west - margin_m, south - margin_m, east + margin_m, north + margin_m)
        self.fit = Fit(ground.window(bounds), free, parameters.greatest_rise, design.deepest_m)
        self.room = _touched(free, ground)
        self.design = design
        self.greatest_rise_m = parameters.greatest_rise
        pits = [make_pit(arrangement, design) for arrangement in design.arrangements]
        self.quick = [_quick(pit) for pit in pits]
        self.poses = [
            _Pose(arrangement, float(rotation_deg), pit)
            for arrangement, pit in zip(design.arrangements, pits, strict=True)
            for rotation_deg in _rotations(arrangement, parameters)
        ]
        self.turn_rad = np.radians([pose.rotation_deg for pose in self.poses])
        self.pit_of = np.array([design.arrangements.index(pose.arrangement) for pose in self.poses])


def _rotations(arrangement: Arrangement, parameters: SitingParameters) -> NDArray[np.float64]:
    is_square = abs(arrangement.length_m - arrangement.width_m) < 1e-9
    whole_deg = 90.0 if is_square else 180.0
    return np.arange(0.0, whole_deg - 1e-9, parameters.rotation_step)


def _touched(free: MultiPolygon, ground: Raster) -> Surface:
    """Mark cells that free ground touches and their neighbours, so that none is missed."""
    west, south, east, north = free.bounds
    cell_m = max(_FINE_M, sqrt((east - west) * (north - south) / _MOST_FINE_CELLS))
    fine = grid_over(free.bounds, cell_m, ground.crs, margin_m=2.0 * cell_m)
    touched = ndimage.binary_dilation(burn(free, fine, touched=True), np.ones((3, 3), dtype=bool))
    x, _, _, y = fine.bounds
    return Surface(touched, x, y, cell_m, cell_m)


@dataclass(frozen=True)
class _Clear:
    """Places of one pose at which the pit floor may lie in free ground.

    As bits of the grid; how many have each class of score; the greatest class in each word.
    """

    bits: Words
    units: Turned
    counts: NDArray[np.int64]
    greatest: NDArray[np.int16]


@dataclass(frozen=True)
class _Places:
    """Some places: number of the pose, flat index of the cell, score in units of 1e-9."""

    pose: NDArray[np.int32]
    cell: NDArray[np.int32]
    score: NDArray[np.int32]

    def some(self, which: NDArray[Any]) -> _Places:
        """Pick some of the places."""
        return _Places(self.pose[which], self.cell[which], self.score[which])


def _clear(fields: Fields, poses: list[_Pose], design: BasinDesign) -> list[_Clear]:
    step_m, more_m = fields.grid.cell_width_m, 2.0 * design.overdig_m
    windows = []
    for pose in poses:
        length_m, width_m = pose.arrangement.length_m + more_m, pose.arrangement.width_m + more_m
        windows.append(outlines.row_runs(length_m, width_m, pose.rotation_deg, step_m))
    reach = max(int(np.abs(runs).max()) for runs in windows)
    runs_clear = outlines.clear_runs(~fields.grid.values, reach)
    clear = []
    for pose, runs in zip(poses, windows, strict=True):
        bits = outlines.clear_windows(runs_clear, runs)
        units = turned(pose.arrangement, pose.rotation_deg)
        clear.append(_Clear(bits, units, *outlines.count_classes(bits, fields.scoring, units)))
    return clear


def _best_first(
    clear: list[_Clear], hunt: _Hunt, fields: Fields, taken: NDArray[np.bool_]
) -> Iterator[tuple[int, int, int]]:
    """Walk through the places that may fit, best score first; ties in the order of the search.

    Cells marked in ``taken`` while it walks are passed over.
    """
    for batch in _batches(clear, fields.scoring, taken):
        start, size = 0, _FIRST_SCREENED
        while start < len(batch.cell):
            some = batch.some(np.arange(start, min(start + size, len(batch.cell))))
            some = some.some(~taken.ravel()[some.cell])
            some = some.some(_may_fit(some, hunt, fields.grid))
            for pose, cell, score in zip(some.pose, some.cell, some.score, strict=True):
                if not taken.ravel()[cell]:
                    yield int(pose), int(cell), int(score)
            start, size = start + size, min(2 * size, _FIRST_BATCH)


def _batches(clear: list[_Clear], scoring: Scoring, taken: NDArray[np.bool_]) -> Iterator[_Places]:
    """Places in falling order of score, a batch of score classes at a time."""
    counts = np.sum([one.counts for one in clear], axis=0)
    at_least = np.cumsum(counts[::-1])[::-1]
    above, size = len(at_least), _FIRST_BATCH
    while above > 0:
        done = at_least[above] if above < len(at_least) else 0
        least = max(int(np.searchsorted(-at_least, -(done + size), side="right")) - 1, 0)
        least = min(least, above - 1)
        chosen = _between(clear, scoring, (least, above), taken)
        yield chosen.some(_falling(chosen.score))
        above, size = least, min(_GROWTH * size, _MOST_BATCH)


def _between(
    clear: list[_Clear], scoring: Scoring, classes: tuple[int, int], taken: NDArray[np.bool_]
) -> _Places:
    """List the places of some classes, in the order of the search, but those taken."""
    parts = [
        outlines.scored_places(one.bits, scoring, one.units, one.greatest, classes, taken)
        for one in clear
    ]
    sizes = [len(cells) for cells, _ in parts]
    pose = np.repeat(np.arange(len(parts), dtype=np.int32), sizes)
    return _Places(pose, *(np.concatenate(column) for column in zip(*parts, strict=True)))


def _falling(score: NDArray[np.int32]) -> NDArray[np.int64]:
    """Order by falling score, equal ones as they stand."""
    # Score and index in one number: plain numbers sort several times faster than an argsort.
    keys = (-score.astype(np.int64) << 32) + np.arange(len(score))
    keys.sort()
    order: NDArray[np.int64] = keys & 0xFFFFFFFF
    return order


def _may_fit(some: _Places, hunt: _Hunt, grid: Raster) -> NDArray[np.bool_]:
    kept = np.zeros(len(some.cell), dtype=bool)
    places = np.column_stack([*_centres(grid, some.cell), hunt.turn_rad[some.pose]])
    for number in np.unique(hunt.pit_of[some.pose]):
        of_pit = np.flatnonzero(hunt.pit_of[some.pose] == number)
        kept[of_pit] = outlines.screen_pits(
            hunt.fit.surface, hunt.room, hunt.quick[number], places[of_pit], hunt.greatest_rise_m
        )
    return kept


def _quick(pit: Pit) -> Pit:
    """Give the points of the floor from the corners inward, and rays that meet all sides early."""
    order = np.argsort(np.arange(len(pit.rays)) * _GOLDEN % 1.0, kind="stable")
    inward = np.argsort(-np.hypot(pit.floor[:, 0], pit.floor[:, 1]), kind="stable")
    return pit._replace(floor=pit.floor[inward], rays=pit.rays[order])


def _centres(
    grid: Raster, cells: NDArray[np.int32]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    x, y = grid.centres()
    return x[cells % grid.shape[1]], y[cells // grid.shape[1]]


def _place(pose: _Pose, cell: int, score: float, fields: Fields, hunt: _Hunt) -> Placement | None:
    """Test a place exactly; None where the basin does not fit."""
    columns, rows = fields.grid.centres()
    x, y = float(columns[cell % len(columns)]), float(rows[cell // len(columns)])
    dug = hunt.fit.dig(pose.pit, x, y, pose.rotation_deg)
    if dug is None:
        return None
    length_m, width_m = pose.arrangement.length_m, pose.arrangement.width_m
    more_m = 2.0 * hunt.design.overdig_m
    turn = pose.rotation_deg
    return Placement(
        x=x,
        y=y,
        rotation_deg=turn,
        arrangement=pose.arrangement,
        footprint=turned_rectangle(length_m, width_m, turn, x, y),
        pit_floor=turned_rectangle(length_m + more_m, width_m + more_m, turn, x, y),
        excavation=dug.excavation,
        rim_level_m=dug.rim_level_m,
        floor_level_m=dug.rim_level_m - hunt.design.depth_m,
        greatest_depth_m=dug.greatest_depth_m,
        score=score,
        marks=fields.marks_at(cell, pose.arrangement, turn),
    )


def _take(taken: NDArray[np.bool_], cell: int, grid: Raster, distance_m: float) -> None:
    """Mark the cells nearer to a kept place than distinct places may be."""
    x, y = grid.centres()
    row, column = divmod(cell, len(x))
    near = np.hypot(x[None, :] - x[column], y[:, None] - y[row]) < distance_m - 1e-9
    taken |= near
    taken[row, column] = True
