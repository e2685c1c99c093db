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
from shapely.geometry.base import BaseGeometry

from geo_site import drainage
from geo_site.certainty.closed import unknown_range
from geo_site.certainty.detail import hidden_detail
from geo_site.certainty.gauges import PARTS, Gauge
from geo_site.certainty.records import Draws, Range
from geo_site.certainty.settings import CertaintyParameters
from geo_site.certainty.spots import Spot, cell_shares
from geo_site.error_fields import Embedding, ErrorModel, cell_model, draw_pair, embed
from geo_site.raster import Raster, burn
from geo_site.terrain import Terrain

__all__ = ["LEAST_RUNS", "Scene", "changed_range", "quantile_range", "simulate"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAST_RUNS = 40
"""Fewer runs tell no 95 % range: each end would rest on less than one of them."""
_MARGIN_M = 30.0
_MAY_TOUCH = 1.0 / 40.0
_TAILS = (0.025, 0.975)
_CENTRES_TO_POINTS = 1.5  # own errors of cells: two thirds are left between the centres


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
        window = _window(scene, margin_m, parameters.detail_share)
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
    detail: Floats  # what each cell hides, m
    side: Bools  # cells beside terrain that the window leaves out
    rim: Bools  # cells at the edge of the data


def _window(scene: Scene, margin_m: float, detail_share: float) -> _Window:
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
        ground=terrain.ground.window(tuple(wide)),
        routed=routed,
        detail=hidden_detail(terrain.ground, tuple(wide), detail_share).values,
        side=side,
        rim=edge & ~side,
    )


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
        self._gauges = [Gauge(spot, window.ground, grid.model) for spot in scene.spots]
        self._lifts = [_on_grid(cell_shares(area, window.ground), window) for area in scene.areas]
        used = [gauge.cells for gauge in self._gauges]
        self._used = np.unique(np.concatenate([*used, *(cells for cells, _ in self._lifts), []]))
        self._used = self._used.astype(np.int64)
        self._hidden_m = _CENTRES_TO_POINTS * window.detail.ravel()[self._used]
        known = ~np.isnan(window.routed.values)
        self._seeds = [burn(work, window.routed, touched=True) & known for work in scene.works]
        self._outlets = drainage.outlet_cells(known, scene.holes_drain) | (window.side & known)

    def run_pair(self, generator: np.random.Generator) -> _Found:
        """Draw two grounds and measure on both."""
        return [self._run(errors, generator) for errors in draw_pair(self._grid, generator)]

    def _run(self, errors: Floats, generator: np.random.Generator) -> tuple[Floats, Floats, Floats]:
        flat, detail = errors.ravel(), np.zeros(errors.size)
        detail[self._used] = self._hidden_m * generator.standard_normal(self._used.size)
        shares = generator.uniform(size=(len(self._gauges), PARTS))
        levels = [
            gauge.changes(flat, detail, drawn)
            for gauge, drawn in zip(self._gauges, shares, strict=True)
        ]
        lifts = [(flat[cells] + detail[cells]) @ sizes for cells, sizes in self._lifts]
        return np.array(levels).reshape(-1, 4), self._flow(errors), np.array(lifts)

    def _flow(self, errors: Floats) -> Floats:
        """Catchment of each work, m2, and whether it comes to the data's edge, and to a side."""
        if not self._seeds:
            return np.empty((0, 3))
        routed, window = self._window.routed, self._window
        sizes = routed.cell_width_m, routed.cell_height_m
        direction = drainage.flood(routed.values + errors, self._outlets, *sizes, 1).direction
        flow = []
        for seeds in self._seeds:
            cells = drainage.upstream(direction, seeds)
            area_m2 = int(cells.sum()) * routed.cell_area_m2
            flow.append((area_m2, (cells & window.rim).any(), (cells & window.side).any()))
        return np.array(flow, dtype=np.float64)


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
    return changed_range(value, drawn - value, unit)


def changed_range(value: float, changes: Floats, unit: str, *, least: float = -math.inf) -> Range:
    """Range of a figure from what may be changed.

    `low = v + q(2.5 %)`, `high = v + q(97.5 %)` of the changes, q(p) that of rank
    p (n + 1) of n: a further draw lies beyond it with a chance of 1 - p, however few were drawn.

    Parameters
    ----------
    value : float
        As the plan has it.
    changes : ndarray
        Figures on grounds as they may truly be, less that on the ground as read.
    unit : str
        The unit.
    least : float
        What the figure cannot be below.

    Returns
    -------
    Range
        Simulated, or unknown where something drawn is. It holds the plan's own figure.

    References
    ----------
    Wilks (1941), Annals of Mathematical Statistics 12(1): ranks as limits (from memory).
    """
    low, high = (value + float(end) for end in np.quantile(changes, _TAILS, method="weibull"))
    if math.isnan(value + low + high):
        return unknown_range(value, unit)
    low, high = max(min(low, value), least), max(high, value, least)
    return Range(value=value, low=low, high=high, unit=unit, how="simulated")
