"""Marks of every place on the position grid: what speaks for it before it is worked out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import log10
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely import get_coordinates, union_all
from shapely.geometry.base import BaseGeometry

from geo_site import outlines
from geo_site.access import Reach
from geo_site.constraints import Ground
from geo_site.outlines import Scoring, Turned
from geo_site.raster import Raster, burn, grid_over
from geo_site.site import Site
from geo_site.siting.design import Arrangement, BasinDesign, SitingParameters, Wish
from geo_site.terrain import Terrain

__all__ = ["Fields", "Room", "find_fields", "turned"]

Floats = NDArray[np.float64]

_QUIET_M2 = 10.0  # run-on of a spot that only its own surroundings drain to
_LOUD_M2 = 500.0  # run-on that counts as concentrated flow


@dataclass(frozen=True, kw_only=True)
class Room:
    """The ground that is left, as the search needs it.

    Attributes
    ----------
    basin, stream : Ground
        Ground as the basin's excavation and as the stream see it.
    reach : Reach or None
        Where the machine gets to; None where no access point is known.
    """

    basin: Ground
    stream: Ground
    reach: Reach | None


@dataclass(frozen=True, kw_only=True)
class Fields:
    """Marks on the position grid.

    Attributes
    ----------
    grid : Raster
        bool: True where a cell's centre lies in the basin's free ground.
    marks : mapping of str to ndarray
        0 to 1 for each cell, by name; what cannot be judged is left out.
    weights : mapping of str to float
        Shares of all marks, ``digging`` too; they add up to 1 (or are all 0).
    east_gradient, north_gradient : ndarray
        Rise over run at the cells' centres.
    greatest_rise_m : float
        Rise of the ground over the pit at which ``digging`` is 0.
    """

    grid: Raster
    marks: Mapping[str, Floats]
    weights: Mapping[str, float]
    east_gradient: Floats
    north_gradient: Floats
    greatest_rise_m: float

    @property
    def base(self) -> Floats:
        """Part of the score that hangs on the position alone."""
        total = np.zeros(self.grid.shape)
        for name, mark in self.marks.items():
            total += self.weights[name] * mark
        return total

    @cached_property
    def scoring(self) -> Scoring:
        """What the score of any place is made of."""
        return Scoring(
            self.base,
            np.ascontiguousarray(self.east_gradient, dtype=np.float64),
            np.ascontiguousarray(self.north_gradient, dtype=np.float64),
            self.weights["digging"],
            self.greatest_rise_m,
        )

    def marks_at(
        self, cell: int, arrangement: Arrangement, rotation_deg: float
    ) -> Mapping[str, float]:
        """Give all marks of one place, its cell by flat index."""
        marks = {name: float(mark.ravel()[cell]) for name, mark in self.marks.items()}
        east, north = self.east_gradient.ravel()[cell], self.north_gradient.ravel()[cell]
        units = turned(arrangement, rotation_deg)
        digging = outlines.level_mark(float(east), float(north), units, self.greatest_rise_m)
        return MappingProxyType({**marks, "digging": digging})


def turned(arrangement: Arrangement, rotation_deg: float) -> Turned:
    """Turn an arrangement."""
    turn_rad = np.radians(rotation_deg)
    length_m, width_m = arrangement.length_m, arrangement.width_m
    return Turned(length_m, width_m, float(np.cos(turn_rad)), float(np.sin(turn_rad)))


def find_fields(
    site: Site,
    terrain: Terrain,
    room: Room,
    design: BasinDesign,
    wish: Wish,
    parameters: SitingParameters,
) -> Fields:
    """Give every place its marks.

    Parameters
    ----------
    site : Site
        Views, power, trees.
    terrain : Terrain
        Levels, gradients, accumulation.
    room : Room
        Free ground that is not empty.
    design : BasinDesign
        The basin.
    wish : Wish
        Fall and length of the stream.
    parameters : SitingParameters
        Step, ranges and weights.

    Returns
    -------
    Fields
        On a grid of ``position_step`` anchored at the terrain's north-west corner.
    """
    west, _, _, north = terrain.ground.bounds
    free = room.basin.free
    grid = grid_over(free.bounds, parameters.position_step, site.crs, anchor=(west, north))
    grid = grid.like(burn(free, grid))
    here = _Here(grid, _points(grid), design, parameters)
    marks = dict(_every_mark(site, terrain, room, wish, here))
    return Fields(
        grid=grid,
        marks=marks,
        weights=_shares({*marks, "digging"}, parameters),
        east_gradient=terrain.east_gradient.sample(here.xy).reshape(grid.shape),
        north_gradient=terrain.north_gradient.sample(here.xy).reshape(grid.shape),
        greatest_rise_m=parameters.greatest_rise,
    )


@dataclass(frozen=True)
class _Here:
    grid: Raster
    xy: Floats
    design: BasinDesign
    parameters: SitingParameters

    def shaped(self, values: Floats) -> Floats:
        """Marks on the grid: within 0 and 1, 0 where not known."""
        return np.clip(np.nan_to_num(values, nan=0.0), 0.0, 1.0).reshape(self.grid.shape)


def _points(grid: Raster) -> Floats:
    x, y = np.meshgrid(*grid.centres())
    return np.column_stack([x.ravel(), y.ravel()])


def _every_mark(
    site: Site, terrain: Terrain, room: Room, wish: Wish, here: _Here
) -> Iterator[tuple[str, Floats]]:
    parameters = here.parameters
    yield "fall", _fall(terrain, room.stream, wish, here)
    if len(site.views):
        yield "view", _nearness(get_coordinates(site.views.geometry), parameters.view_range, here)
    yield "run_on", _run_on(terrain, here)
    if len(site.trees):
        yield "leaves", _leaves(site, here)
    if room.reach is not None:
        yield "route", _route(room.reach, here)
    if len(site.power):
        yield "power", _nearness(get_coordinates(site.power.geometry), parameters.power_range, here)
    if room.basin.hand_dig:
        yield "hand_dig", _hand_dig(room.basin, here)


def _shares(names: set[str], parameters: SitingParameters) -> dict[str, float]:
    weights = {name: float(getattr(parameters.search_weights, name)) for name in sorted(names)}
    total = sum(weights.values())
    return {name: weight / total if total > 0.0 else 0.0 for name, weight in weights.items()}


def _fall(terrain: Terrain, stream: Ground, wish: Wish, here: _Here) -> Floats:
    """Share of the fall wanted that the highest stream ground within reach gives."""
    levels = terrain.ground.values
    rows, columns = np.nonzero(burn(stream.free, terrain.ground) & np.isfinite(levels))
    x, y = terrain.ground.centres()
    spots = np.column_stack([x[columns], y[rows], levels[rows, columns]]).astype(np.float64)
    spots = spots[np.argsort(-spots[:, 2], kind="stable")]
    inside = here.grid.values.ravel()
    fall_m = np.full(len(here.xy), np.nan)
    fall_m[inside] = outlines.highest_between(
        np.ascontiguousarray(here.xy[inside]),
        spots,
        wish.least_length_m,
        wish.greatest_length_m,
    )
    fall_m -= terrain.ground.sample(here.xy)
    return here.shaped(fall_m / wish.wanted_fall_m)


def _nearness(points: Floats, range_m: float, here: _Here) -> Floats:
    nearest_m = np.full(len(here.xy), np.inf)
    for x, y in points:
        nearest_m = np.minimum(nearest_m, np.hypot(here.xy[:, 0] - x, here.xy[:, 1] - y))
    return here.shaped(1.0 - nearest_m / range_m)


def _run_on(terrain: Terrain, here: _Here) -> Floats:
    """1 where no more than 10 m2 drain past the spot, 0 from 500 m2 on, by the logarithm."""
    radius_m = here.parameters.run_on_radius
    area = terrain.accumulation_m2.window(_grown(here.grid.bounds, radius_m))
    known = np.nan_to_num(area.values.astype(np.float64), nan=0.0)
    disc = _disc(radius_m, area.cell_width_m, area.cell_height_m)
    most_m2 = ndimage.maximum_filter(known, footprint=disc, mode="nearest")
    here_m2 = np.maximum(_nearest(area.like(most_m2), here.xy), _QUIET_M2)
    return here.shaped(1.0 - np.log10(here_m2 / _QUIET_M2) / log10(_LOUD_M2 / _QUIET_M2))


def _leaves(site: Site, here: _Here) -> Floats:
    radius_m = here.parameters.leaf_radius
    spread = site.trees["crown_radius_m"].fillna(here.parameters.assumed_crown_radius)
    crowns = union_all(site.trees.geometry.buffer(spread).to_numpy())
    return here.shaped(1.0 - _share_of(crowns, radius_m, here))


def _hand_dig(ground: Ground, here: _Here) -> Floats:
    strips = union_all([strip.geometry for strip in ground.hand_dig])
    longest_m = max(arrangement.length_m for arrangement in here.design.arrangements)
    return here.shaped(1.0 - _share_of(strips, longest_m / 2.0 + here.design.overdig_m, here))


def _share_of(area: BaseGeometry, radius_m: float, here: _Here) -> Floats:
    """Share of a disc round each cell that an area covers."""
    cell_m = here.grid.cell_width_m
    border = int(np.ceil(radius_m / cell_m)) + 1
    west, _, _, north = here.grid.bounds
    wide = grid_over(
        here.grid.bounds,
        cell_m,
        here.grid.crs,
        margin_m=border * cell_m,
        anchor=(west, north),
    )
    disc = _disc(radius_m, cell_m, cell_m)
    middle = disc.shape[0] // 2
    runs = [
        (row - middle, np.flatnonzero(cells)[0] - middle, np.flatnonzero(cells)[-1] - middle)
        for row, cells in enumerate(disc)
    ]
    counts = outlines.window_counts(
        outlines.row_sums(burn(area, wide)), np.array(runs, dtype=np.int64)
    )
    inner = counts[border:-border, border:-border]
    return (inner / np.count_nonzero(disc)).ravel()


def _route(reach: Reach, here: _Here) -> Floats:
    narrowest_m = min(arrangement.width_m for arrangement in here.design.arrangements)
    radius_m = reach.parameters.working_reach + narrowest_m / 2.0
    cost = reach.cost
    disc = _disc(radius_m, cost.cell_width_m, cost.cell_height_m)
    least = ndimage.minimum_filter(
        cost.values.astype(np.float64), footprint=disc, mode="constant", cval=np.inf
    )
    cost_m = _nearest(cost.like(least), here.xy)
    return here.shaped(1.0 - np.minimum(cost_m / here.parameters.route_range, 1.0))


def _disc(radius_m: float, cell_width_m: float, cell_height_m: float) -> NDArray[np.bool_]:
    columns, rows = int(radius_m / cell_width_m), int(radius_m / cell_height_m)
    east = np.arange(-columns, columns + 1) * cell_width_m
    north = np.arange(-rows, rows + 1) * cell_height_m
    disc: NDArray[np.bool_] = np.hypot(east[None, :], north[:, None]) <= radius_m + 1e-9
    return disc


def _nearest(raster: Raster, xy: Floats) -> Floats:
    """Values of the cells that hold the points; those off the raster take the nearest cell's."""
    west, _, _, north = raster.bounds
    rows, columns = raster.shape
    column = np.clip(((xy[:, 0] - west) / raster.cell_width_m).astype(int), 0, columns - 1)
    row = np.clip(((north - xy[:, 1]) / raster.cell_height_m).astype(int), 0, rows - 1)
    values: Floats = raster.values[row, column]
    return values


def _grown(
    bounds: tuple[float, float, float, float], margin_m: float
) -> tuple[float, float, float, float]:
    west, south, east, north = bounds
    return west - margin_m, south - margin_m, east + margin_m, north + margin_m
