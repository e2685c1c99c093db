"""Grounds as they may be: rims, falls, pits and catchments on drawn errors.

In: the terrain, its error, the places and the works. Out: :class:`~geo_site.certainty.Draws`.
Method: errors are drawn by circulant embedding and added to the ground as read; on each ground the
rims are looked for again, pits are measured from their new rims, and water is followed again, on a
window of the terrain round works and catchments. The window grows until no more than one run in
forty has a catchment that comes to its side. Reference: Monte Carlo error propagation; Oksanen
and Sarjakoski (2005).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import sparse
from shapely.geometry.base import BaseGeometry

from geo_site import drainage, volumes
from geo_site.certainty.closed import unknown_range
from geo_site.certainty.records import Draws, Range
from geo_site.certainty.settings import CertaintyParameters
from geo_site.certainty.spots import Spot, cell_shares
from geo_site.error_fields import Embedding, ErrorModel, cell_model, draw_pair, embed
from geo_site.raster import Raster, burn
from geo_site.terrain import Terrain

__all__ = ["LEAST_RUNS", "Scene", "quantile_range", "reflected_range", "simulate"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAST_RUNS = 40
"""Fewer runs tell no 95 % range: each end would rest on less than one of them."""
_MARGIN_M = 30.0
_FINE_M = 0.25
_ROUND_PIT_M = 0.75
_MAY_TOUCH = 1.0 / 40.0
_TAILS = (0.025, 0.975)


@dataclass(frozen=True, kw_only=True, eq=False)
class Scene:
    """What is simulated.

    Attributes
    ----------
    terrain : Terrain
        Ground, and ground that water is followed on.
    spots : sequence of Spot
        Places.
    areas : sequence of geometry
        Ground over which errors are added up.
    works : sequence of geometry
        Works whose catchments are asked for.
    catchments : sequence of geometry
        Their catchments as the plan has them: the window holds them.
    holes_drain : bool
        Whether a hole in the terrain swallows water.
    """

    terrain: Terrain
    spots: Sequence[Spot]
    areas: Sequence[BaseGeometry]
    works: Sequence[BaseGeometry]
    catchments: Sequence[BaseGeometry]
    holes_drain: bool


def simulate(scene: Scene, model: ErrorModel, parameters: CertaintyParameters) -> Draws | None:
    """Draw grounds and measure on each.

    Parameters
    ----------
    scene : Scene
        What is asked.
    model : ErrorModel
        The terrain's error.
    parameters : CertaintyParameters
        How many runs, from what seed, on how many threads; the threads change no figure.

    Returns
    -------
    Draws or None
        What errors change; None where there are fewer than ``LEAST_RUNS`` runs, be it that the
        settings ask for fewer or that the window is too large for more.
    """
    margin_m = _MARGIN_M
    while True:
        window = _window(scene, margin_m)
        bench = _bench(scene, window, model, parameters)
        if bench is None:
            return None
        first = _runs(bench, range(LEAST_RUNS), parameters)
        if not window.side.any() or _touching(first) <= _MAY_TOUCH:
            return _draws(first, _runs(bench, range(LEAST_RUNS, bench.runs), parameters))
        margin_m *= 2.0


@dataclass(frozen=True, kw_only=True, eq=False)
class _Window:
    """The part of the terrain that is drawn, and what lies on its sides."""

    ground: Raster
    routed: Raster
    side: Bools  # cells beside terrain that the window leaves out
    rim: Bools  # cells at the edge of the data


def _window(scene: Scene, margin_m: float) -> _Window:
    terrain = scene.terrain
    shapes = [*scene.areas, *scene.works, *scene.catchments, *(spot.pit for spot in scene.spots)]
    corners = [shapely.get_coordinates(shape) for shape in shapes]
    held = np.vstack([*corners, *(spot.lip for spot in scene.spots)])
    bounds = np.concatenate([held.min(axis=0), held.max(axis=0)])
    wide = bounds + margin_m * np.array([-1.0, -1.0, 1.0, 1.0])
    routed = terrain.routed.window(tuple(wide))
    ends = np.array(routed.bounds) - np.array(terrain.routed.bounds)
    cut = np.abs(ends) > 0.5 * routed.cell_width_m  # west, south, east, north
    side = np.zeros(routed.shape, dtype=bool)
    side[:, 0] |= cut[0]
    side[-1, :] |= cut[1]
    side[:, -1] |= cut[2]
    side[0, :] |= cut[3]
    edge = drainage.outlet_cells(~np.isnan(routed.values), True)
    return _Window(
        ground=terrain.ground.window(tuple(wide)), routed=routed, side=side, rim=edge & ~side
    )


class _Gauge:
    """Measures one spot on a ground: built once, read for each field of errors."""

    def __init__(self, spot: Spot, ground: Raster) -> None:
        self.spot = spot
        points, distance_m = _pit_points(spot)
        groups = (spot.lip, spot.outline, spot.edge, points)
        xy = np.vstack(groups)
        self._levels = _smooth(xy, points, ground)
        self._weights = _bilinear(xy, ground)
        self._ends = np.cumsum([len(group) for group in groups])[:-1]
        self._distance_m = distance_m
        self._as_read = self._measured(self._levels)

    def changes(self, errors: Floats) -> Floats:
        """Tell what errors do to fall, rim, lowest pit edge (m) and pit volume (m3)."""
        return self._measured(self._levels + self._weights @ errors.ravel()) - self._as_read

    def _measured(self, levels: Floats) -> Floats:
        lip, outline, edge, pit = np.split(levels, self._ends)
        rim_m = outline.min()
        depths = volumes.battered_depths(
            pit, self._distance_m, float(rim_m) - self.spot.depth_m, self.spot.batter
        )
        return np.array([lip[0] - rim_m, rim_m, edge.min(), depths.sum() * _FINE_M**2])


def _smooth(xy: Floats, inside: Floats, ground: Raster) -> Floats:
    """Levels at points on the second-degree surface that fits the ground of a pit best.

    The ground as read carries one error already, which has lowered its lowest point; an even
    surface has not, so what a drawn error does to it is what the true one did to the plan.
    """
    middle = inside.mean(axis=0)

    def terms(points: Floats) -> Floats:
        x, y = (points - middle).T
        return np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])

    levels = ground.sample(inside)
    if np.isnan(levels).any():
        return np.full(len(xy), np.nan)
    return np.asarray(terms(xy) @ np.linalg.lstsq(terms(inside), levels, rcond=None)[0])


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


def _bench(
    scene: Scene, window: _Window, model: ErrorModel, parameters: CertaintyParameters
) -> _Bench | None:
    """Make ready for the runs; None where too few of them fit."""
    routed = window.routed
    most = int(2.0 * parameters.most_cells / LEAST_RUNS)
    sizes = routed.cell_width_m, routed.cell_height_m
    grid = embed(routed.shape, *sizes, cell_model(model, *sizes), most_cells=most)
    if grid is None:
        return None
    cells = routed.values.size + grid.roots.size / 2
    runs = min(parameters.simulations, int(parameters.most_cells / cells))
    return None if runs < LEAST_RUNS else _Bench(scene, window, grid, runs)


_Found = list[tuple[Floats, Floats, Floats]]
"""Of each run: changes by spot, catchments by work, lifts by area."""


def _touching(found: _Found) -> float:
    """Share of the runs in which a catchment comes to the window's side."""
    return float(np.mean([bool(flow[:, 2].any()) for _, flow, _ in found]))


def _runs(bench: _Bench, numbers: range, parameters: CertaintyParameters) -> _Found:
    """Some of the runs; the first number is even, for fields are drawn in pairs."""
    generators = np.random.default_rng([parameters.seed, 0]).spawn((numbers.stop + 1) // 2)
    with ThreadPoolExecutor(parameters.threads) as pool:
        pairs = pool.map(bench.run_pair, generators[numbers.start // 2 :])
        return [one for pair in pairs for one in pair][: len(numbers)]


def _draws(first: _Found, rest: _Found) -> Draws:
    levels, flow = (np.array([one[part] for one in (*first, *rest)]) for part in (0, 1))
    return Draws(
        fall_m=levels[:, :, 0],
        rim_m=levels[:, :, 1],
        overflow_m=levels[:, :, 2],
        dug_m3=levels[:, :, 3],
        lift_m3=np.array([one[2] for one in (*first, *rest)]),
        area_m2=flow[:, :, 0],
        reaches_edge=flow[:, :, 1] > 0.0,
    )


class _Bench:
    """Everything that all runs share; a run changes nothing on it."""

    def __init__(self, scene: Scene, window: _Window, grid: Embedding, runs: int) -> None:
        self.runs = runs
        self._window, self._grid = window, grid
        self._gauges = [_Gauge(spot, window.ground) for spot in scene.spots]
        self._lifts = [_on_grid(cell_shares(area, window.ground), window) for area in scene.areas]
        known = ~np.isnan(window.routed.values)
        self._seeds = [burn(work, window.routed, touched=True) & known for work in scene.works]
        self._outlets = drainage.outlet_cells(known, scene.holes_drain) | (window.side & known)

    def run_pair(self, generator: np.random.Generator) -> _Found:
        """Draw two grounds and measure on both."""
        return [self._run(errors) for errors in draw_pair(self._grid, generator)]

    def _run(self, errors: Floats) -> tuple[Floats, Floats, Floats]:
        levels = np.array([gauge.changes(errors) for gauge in self._gauges]).reshape(-1, 4)
        lifts = np.array([errors.ravel()[cells] @ shares for cells, shares in self._lifts])
        if not self._seeds:
            return levels, np.empty((0, 3)), lifts
        routed, window = self._window.routed, self._window
        sizes = routed.cell_width_m, routed.cell_height_m
        direction = drainage.flood(routed.values + errors, self._outlets, *sizes, 1).direction
        flow = []
        for seeds in self._seeds:
            cells = drainage.upstream(direction, seeds)
            area_m2 = int(cells.sum()) * routed.cell_area_m2
            flow.append((area_m2, (cells & window.rim).any(), (cells & window.side).any()))
        return levels, np.array(flow, dtype=np.float64), lifts


def _on_grid(shares: tuple[Floats, Floats], window: _Window) -> tuple[NDArray[np.int64], Floats]:
    """Flat numbers of the cells that hold points, with their shares."""
    xy, weights = shares
    cells = [window.ground.cell_of(float(x), float(y)) for x, y in xy]
    at = np.array(cells, dtype=np.int64).reshape(-1, 2)
    return at[:, 0] * window.ground.shape[1] + at[:, 1], weights


def quantile_range(value: float, drawn: Floats, unit: str) -> Range:
    """Range that holds the middle 95 % of what was drawn, and the plan's own figure.

    For areas of catchments: they are what the water may really do, however lopsided.

    Parameters
    ----------
    value : float
        As the plan has it.
    drawn : ndarray
        Of the simulations.
    unit : str
        The unit.

    Returns
    -------
    Range
        Simulated, or unknown where something drawn is.
    """
    low, high = (float(end) for end in np.quantile(drawn, _TAILS))
    return _simulated(value, low, high, unit)


def reflected_range(value: float, changes: Floats, unit: str, *, least: float = -math.inf) -> Range:
    """Range of a level or volume from what errors change, taken the other way.

    `low = v - q(97.5 %)`, `high = v - q(2.5 %)` of the changes: the plan's figure stands to the
    truth as the drawn figures stand to those of the even surface that they were drawn on. So what
    makes the lowest of many points too low on ground with errors is taken off again.

    Parameters
    ----------
    value : float
        As the plan has it.
    changes : ndarray
        Figures on an even surface with errors less its figure without.
    unit : str
        The unit.
    least : float
        What the figure cannot be below.

    Returns
    -------
    Range
        Simulated, or unknown where something drawn is.

    References
    ----------
    Davison and Hinkley (1997), Bootstrap Methods and their Application: basic limits of the
    parametric bootstrap (from memory).
    """
    low, high = (float(end) for end in np.quantile(changes, _TAILS))
    return _simulated(value, max(value - high, least), max(value - low, least), unit)


def _simulated(value: float, low: float, high: float, unit: str) -> Range:
    if math.isnan(value + low + high):
        return unknown_range(value, unit)
    low, high = min(low, value), max(high, value)
    return Range(value=value, low=low, high=high, unit=unit, how="simulated")
