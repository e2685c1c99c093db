"""Figures on grounds as they may be: rims, falls, pits and catchments.

In: the terrain, its error, the places and the works. Out: :class:`~geo_site.certainty.Draws`.
Method: on each drawn ground (``geo_site.certainty.grounds``) the rims are looked for again, pits
are measured from their new rims and from a floor as it may be dug, and the catchments of the works
are followed up again. Where in a cell water runs is not known: at most, each cell that a work
touches lets its water onto the work; at least, one that it covers in part does so with the chance
of that part. The window grows until no more than one run in forty has a catchment that comes to its
side. Reference: Monte Carlo error propagation; Oksanen and Sarjakoski (2005).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from geo_site import drainage
from geo_site.certainty.closed import unknown_range
from geo_site.certainty.detail import hidden_detail
from geo_site.certainty.gauges import PARTS, Gauge
from geo_site.certainty.grounds import (
    LEAST_RUNS,
    Drawn,
    Grounds,
    GroundsRead,
    draw_grounds,
    window_bounds,
)
from geo_site.certainty.records import Draws, Range
from geo_site.certainty.settings import CertaintyParameters
from geo_site.certainty.spots import Spot, cell_shares
from geo_site.error_fields import ErrorModel
from geo_site.raster import Raster, burn
from geo_site.terrain import Terrain

__all__ = ["Scene", "area_range", "changed_range", "simulate"]

Floats = NDArray[np.float64]
Keep = Callable[[Hashable, Callable[[], Grounds | None]], Grounds | None]

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
    lot : geometry
        The window holds what of the lot lies near, so that it stays where works are moved.
    """

    terrain: Terrain
    spots: Sequence[Spot]
    areas: Sequence[BaseGeometry]
    works: Sequence[BaseGeometry]
    catchments: Sequence[BaseGeometry]
    holes_drain: bool
    lot: BaseGeometry = field(default_factory=Polygon)


def _anew(_: Hashable, make: Callable[[], Grounds | None]) -> Grounds | None:
    """Keep nothing."""
    return make()


def simulate(
    scene: Scene, model: ErrorModel, parameters: CertaintyParameters, keep: Keep = _anew
) -> Draws | None:
    """Draw grounds and measure on each.

    Parameters
    ----------
    scene : Scene
        What is asked.
    model : ErrorModel
        The terrain's error.
    parameters : CertaintyParameters
        How many runs, from what seed, on how many threads; the threads change no figure.
    keep : callable
        Gives the grounds that were made of the same reading, or makes them: it is called with
        what they are made of, apart from the terrain, and with what makes them.

    Returns
    -------
    Draws or None
        What errors change; None where there are fewer than ``LEAST_RUNS`` runs, be it that the
        settings ask for fewer or that the window is too large for more.
    """
    held = _held(scene)
    margin_m = _MARGIN_M
    while True:
        bounds = window_bounds(scene.terrain.routed, held, scene.lot, margin_m)
        read = GroundsRead(
            bounds=bounds,
            model=model,
            holes_drain=scene.holes_drain,
            seed=parameters.seed,
            runs=parameters.simulations,
            most_cells=int(parameters.most_cells),
        )
        grounds = keep(read, partial(draw_grounds, scene.terrain, read))
        if grounds is None:
            return None
        bench = _Bench(scene, grounds, parameters)
        first = _runs(bench, range(LEAST_RUNS), parameters)
        if not grounds.side.any() or _touching(first) <= _MAY_TOUCH:
            return _draws(first, _runs(bench, range(LEAST_RUNS, grounds.runs), parameters))
        margin_m *= 2.0


def _held(scene: Scene) -> tuple[float, float, float, float]:
    """Bounds of all that the window must hold."""
    shapes = [*scene.areas, *scene.works, *scene.catchments, *(spot.pit for spot in scene.spots)]
    corners = [shapely.get_coordinates(shape) for shape in shapes]
    held = np.vstack([*corners, *(spot.lip for spot in scene.spots)])
    (west, south), (east, north) = held.min(axis=0), held.max(axis=0)
    return float(west), float(south), float(east), float(north)


_Found = list[tuple[Floats, Floats, Floats, Floats]]
"""Of each run: changes by spot, catchments by work, the least of them, lifts by area."""


def _touching(found: _Found) -> float:
    """Share of the runs in which a catchment comes to the window's side."""
    return float(np.mean([bool(flow[:, 2].any()) for _, flow, _, _ in found]))


def _runs(bench: _Bench, numbers: range, parameters: CertaintyParameters) -> _Found:
    """Some of the runs; the first number is even, for fields are drawn in pairs."""
    pairs = range(numbers.start // 2, (numbers.stop + 1) // 2)
    with ThreadPoolExecutor(parameters.threads) as pool:
        found = [one for pair in pool.map(bench.run_pair, pairs) for one in pair]
    return found[: len(numbers)]


def _draws(first: _Found, rest: _Found) -> Draws:
    runs = (*first, *rest)
    levels, flow, least_m2, lifts = (np.array([one[part] for one in runs]) for part in range(4))
    return Draws(
        fall_m=levels[:, :, 0],
        rim_m=levels[:, :, 1],
        overflow_m=levels[:, :, 2],
        drawn_m3=levels[:, :, 3],
        dug_m3=levels[:, :, 4],
        lift_m3=lifts,
        area_m2=flow[:, :, 0],
        least_m2=least_m2,
        reaches_edge=flow[:, :, 1] > 0.0,
    )


class _Bench:
    """Everything that all runs share; a run changes nothing on it."""

    def __init__(self, scene: Scene, grounds: Grounds, parameters: CertaintyParameters) -> None:
        ground = grounds.ground
        self._grounds, self._parameters = grounds, parameters
        self._gauges = [Gauge(spot, ground, grounds.cells) for spot in scene.spots]
        self._lifts = [_on_grid(cell_shares(area, ground), ground) for area in scene.areas]
        used = [gauge.cells for gauge in self._gauges]
        self._used = np.unique(np.concatenate([*used, *(cells for cells, _ in self._lifts), []]))
        self._used = self._used.astype(np.int64)
        detail = hidden_detail(scene.terrain.ground, grounds.bounds, parameters.detail_share)
        self._hidden_m = _CENTRES_TO_POINTS * detail.values.ravel()[self._used]
        works, known = scene.works, grounds.known
        self._covered = np.array([_covered(work, grounds) for work in works])
        self._touched = np.array([burn(work, ground, touched=True) & known for work in works])

    def run_pair(self, number: int) -> _Found:
        """Measure on two grounds."""
        generator = np.random.default_rng([self._parameters.seed, 2, number])
        return [self._run(drawn, generator) for drawn in self._grounds.pair(number)]

    def _run(
        self, drawn: Drawn, generator: np.random.Generator
    ) -> tuple[Floats, Floats, Floats, Floats]:
        flat, detail = drawn.errors_m.ravel(), np.zeros(drawn.errors_m.size)
        detail[self._used] = self._hidden_m * generator.standard_normal(self._used.size)
        shares = generator.uniform(size=(len(self._gauges), PARTS))
        deeper = self._parameters.dug_error * generator.standard_normal(len(self._gauges))
        levels = [
            gauge.changes(flat, detail, share, deeper_m)
            for gauge, share, deeper_m in zip(self._gauges, shares, deeper.tolist(), strict=True)
        ]
        lifts = [(flat[cells] + detail[cells]) @ sizes for cells, sizes in self._lifts]
        flow, least_m2 = self._flow(drawn, generator.uniform())
        return np.array(levels).reshape(-1, 5), flow, least_m2, np.array(lifts)

    def _flow(self, drawn: Drawn, share: float) -> tuple[Floats, Floats]:
        """Catchments, m2, whether they come to the data's edge and to a side; the least ones, m2.

        For the least a cell lets its water onto a work only if more than ``share`` of it is
        covered; what lies under the work runs onto it in any case.
        """
        grounds, count = self._grounds, len(self._covered)
        if not count:
            return np.empty((0, 3)), np.empty(0)
        seeds = np.concatenate([self._touched, self._covered > share])
        cells = drainage.upstream(drawn.direction, seeds)
        sizes = np.count_nonzero(cells, axis=(1, 2)) * 1.0
        most, (edge, side) = cells[:count], (grounds.rim, grounds.side)
        flow = np.column_stack(
            [sizes[:count], (most & edge).any(axis=(1, 2)), (most & side).any(axis=(1, 2))]
        )
        flow[:, 0] *= grounds.ground.cell_area_m2
        least = np.maximum(sizes[count:], self._covered.sum(axis=(1, 2)))
        return flow, least * grounds.ground.cell_area_m2


def _covered(work: BaseGeometry, grounds: Grounds) -> Floats:
    """How much of each cell a work covers, 0 to 1; 0 where there is no terrain."""
    ground = grounds.ground
    cells, sizes_m2 = _on_grid(cell_shares(work, ground), ground)
    shares = np.zeros(ground.values.size)
    np.add.at(shares, cells, sizes_m2 / ground.cell_area_m2)
    return np.where(grounds.known, np.minimum(shares, 1.0).reshape(ground.shape), 0.0)


def _on_grid(shares: tuple[Floats, Floats], ground: Raster) -> tuple[NDArray[np.int64], Floats]:
    """Flat numbers of the cells that hold points, with their shares; none for points beside it."""
    xy, weights = shares
    cells = [ground.cell_of(float(x), float(y)) for x, y in xy]
    at = np.array(cells, dtype=np.int64).reshape(-1, 2)
    on_it = ((at >= 0) & (at < ground.shape)).all(axis=1)
    return (at[:, 0] * ground.shape[1] + at[:, 1])[on_it], weights[on_it]


def area_range(value: float, draws: Draws, number: int) -> Range:
    """Range of a catchment: the middle 95 % of what was drawn, and the plan's own figure.

    They are what the water may really do, however lopsided: the low end is that of the least
    catchments, the high end that of all that the work touches.

    Parameters
    ----------
    value : float
        As the plan has it, m2.
    draws : Draws
        Of the simulations.
    number : int
        Of the work.

    Returns
    -------
    Range
        Simulated.
    """
    least = changed_range(value, draws.least_m2[:, number] - value, "m2")
    return replace(changed_range(value, draws.area_m2[:, number] - value, "m2"), low=least.low)


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
