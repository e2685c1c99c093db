"""Where the stream may come from: least-cost ways outward from the basin over a grid.

Method: Dijkstra's least cost over the eight neighbours of each cell of free ground, from all
cells of the basin's footprint at once. A metre costs more in hand-dig ground, across a slope,
close to blocked ground and where the ground is off the levels that the stream can have there.
Each cell reached is then scored as the spillway's place. Reference: Dijkstra, E. W. (1959), A
note on two problems in connexion with graphs, Numerische Mathematik 1, 269-271.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage, sparse
from scipy.sparse import csgraph

from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.place import Place
from geo_site.raster import Raster, burn, grid_over

__all__ = ["Net", "Ways", "best_ends", "centres_of", "find_net", "find_ways", "why_no_end"]

Floats = NDArray[np.float64]

_EDGE_COST = 0.5  # of a metre per metre beside blocked ground: leaves room for smoothing
_BEYOND = 10.0  # times dearer where the ground is off by more than berm or cut can mend
_ROUNDED = 0.98  # a smoothed way is shorter than its cells' by about this
_DIRECTIONS = ((0, 1), (1, 0), (1, 1), (1, -1))


@dataclass(frozen=True, kw_only=True)
class Ways:
    """Least-cost ways from the basin, or from a point on, to every cell that can be reached.

    Attributes
    ----------
    grid : Raster
        bool: where the centre line may go.
    rise_m : ndarray, shape (cells,)
        Ground above the end of the stream.
    cost, length_m : ndarray, shape (cells,)
        Of the way from the basin; inf where there is none.
    parent : ndarray of int, shape (cells,)
        Next cell towards where the ways begin; itself there.
    onward : ndarray, shape (n, 2)
        Points from there on to the last one outside the basin; none where the ways begin at the
        basin.
    """

    grid: Raster
    rise_m: Floats
    cost: Floats
    length_m: Floats
    parent: NDArray[np.int64]
    onward: Floats = field(default_factory=lambda: np.empty((0, 2)))

    def cells(self, end: int) -> list[int]:
        """Cells of the way to a cell, that cell first."""
        cells = [end]
        while self.parent[cells[-1]] != cells[-1]:
            cells.append(int(self.parent[cells[-1]]))
        return cells

    def path(self, end: int) -> Floats:
        """Points from an end to the last one outside the basin, shape (n, 2)."""
        return np.vstack([self.centres()[self.cells(end)[:-1]], self.onward])

    def centres(self) -> Floats:
        """Centres of all cells, shape (cells, 2)."""
        return centres_of(self.grid)


def centres_of(grid: Raster) -> Floats:
    """Centres of all cells of a grid, row by row, shape (cells, 2)."""
    x, y = grid.centres()
    return np.column_stack([np.tile(x, len(y)), np.repeat(y, len(x))])


@dataclass(frozen=True, kw_only=True)
class Net:
    """The cells that a stream of one basin may use, and what each step between them costs.

    Attributes
    ----------
    grid : Raster
        bool: where the centre line may go.
    rise_m : ndarray, shape (cells,)
        Ground above the end of the stream.
    graph : scipy.sparse matrix, shape (cells, cells)
        Costs of the steps.
    basin : ndarray of int
        Cells of the footprint.
    """

    grid: Raster
    rise_m: Floats
    graph: sparse.csr_matrix
    basin: NDArray[np.int64]


def find_net(place: Place, parameters: LayoutParameters) -> Net:
    """Lay a grid over the ground within reach of a basin."""
    north_west = (place.ground.transform.c, place.ground.transform.f)
    bounds = shapely.union(place.footprint, place.way).bounds
    grid = grid_over(bounds, parameters.route_cell, place.ground.crs, anchor=north_west)
    rise_m = place.ground.sample(centres_of(grid)) - place.end_level_m
    passable = burn(place.way, grid) & np.isfinite(rise_m).reshape(grid.shape)
    basin = burn(place.footprint, grid, touched=True) & passable
    extra = _extra_cost(place, grid.like(passable), rise_m.reshape(grid.shape), parameters)
    return Net(
        grid=grid.like(passable),
        rise_m=rise_m,
        graph=_graph(passable, extra, rise_m.reshape(grid.shape), parameters),
        basin=np.flatnonzero(basin),
    )


def find_ways(net: Net, starts: NDArray[np.int64], closed: NDArray[np.bool_] | None = None) -> Ways:
    """Find the way of least cost from any of some cells to each cell within reach.

    Parameters
    ----------
    net : Net
        Cells and costs.
    starts : ndarray of int
        Cells to start from.
    closed : ndarray of bool, shape (cells,), optional
        Cells that no way may use.

    Returns
    -------
    Ways
        Inf where there is no way.
    """
    own = np.arange(net.rise_m.size)
    if len(starts) == 0:
        nowhere = np.full(net.rise_m.size, np.inf)
        return Ways(grid=net.grid, rise_m=net.rise_m, cost=nowhere, length_m=nowhere, parent=own)
    graph = net.graph if closed is None else _without(net.graph, closed)
    cost, before, _ = csgraph.dijkstra(
        graph, directed=False, indices=starts, min_only=True, return_predecessors=True
    )
    parent = np.where(before < 0, own, before).astype(np.int64)
    length_m = np.where(np.isfinite(cost), _lengths(parent, net.grid), np.inf)
    return Ways(grid=net.grid, rise_m=net.rise_m, cost=cost, length_m=length_m, parent=parent)


def _without(graph: sparse.csr_matrix, closed: NDArray[np.bool_]) -> sparse.csr_matrix:
    steps = graph.tocoo()
    open_steps = ~(closed[steps.row] | closed[steps.col])
    parts = (steps.row[open_steps], steps.col[open_steps])
    return sparse.csr_matrix((steps.data[open_steps], parts), shape=graph.shape)


def _extra_cost(
    place: Place, passable: Raster, rise_m: Floats, parameters: LayoutParameters
) -> Floats:
    """Metres that a metre costs more, cell by cell."""
    outside = ~burn(place.footprint, passable, touched=True)
    away_m = ndimage.distance_transform_edt(outside) * parameters.route_cell
    low_m = parameters.wanted_fall * np.minimum(away_m / parameters.greatest_length, 1.0)
    high_m = parameters.wanted_fall * np.minimum(away_m / parameters.least_length, 1.0)
    below_m, above_m = np.maximum(low_m - rise_m, 0.0), np.maximum(rise_m - high_m, 0.0)
    beyond_m = np.maximum(below_m - parameters.berm_limit, 0.0)
    beyond_m += np.maximum(above_m - parameters.cut_limit, 0.0)
    off_m = np.where(burn(place.pit, passable), 0.0, below_m + above_m + _BEYOND * beyond_m)
    beside = passable.values & ~ndimage.binary_erosion(passable.values, np.ones((3, 3), bool))
    extra = parameters.off_level_cost * np.nan_to_num(off_m) + _EDGE_COST * beside
    by_hand = burn(shapely.buffer(place.hand_dig, place.dug_half_m), passable)
    return np.asarray(extra + parameters.hand_dig_cost * by_hand)


def _graph(
    passable: NDArray[np.bool_], extra: Floats, rise_m: Floats, parameters: LayoutParameters
) -> sparse.csr_matrix:
    cell_m = parameters.route_cell
    south, east = (np.nan_to_num(g) for g in np.gradient(rise_m, cell_m))
    number = np.arange(passable.size).reshape(passable.shape)
    parts: list[tuple[Floats, NDArray[np.int64], NDArray[np.int64]]] = []
    for down, right in _DIRECTIONS:
        here, there = _pair(down, right)
        both = passable[here] & passable[there]
        if down and right:  # no cutting of blocked corners
            corner = _pair(down, -right)
            shifted = passable[corner[0]] & passable[corner[1]]
            both = both & shifted
        run = float(np.hypot(down, right))
        across: Floats = np.asarray((east * down - south * right) / run)
        cross = np.abs(across[here] + across[there]) / 2.0
        each = 1.0 + (extra[here] + extra[there]) / 2.0 + parameters.cross_slope_cost * cross
        parts.append(((run * cell_m * each)[both], number[here][both], number[there][both]))
    weights, rows, columns = (np.concatenate(part) for part in zip(*parts, strict=True))
    return sparse.csr_matrix((weights, (rows, columns)), shape=(passable.size, passable.size))


def _pair(down: int, right: int) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Slices of all cells and of their neighbours down and to the right (left if negative)."""
    rows = (slice(None, -1), slice(1, None)) if down else (slice(None), slice(None))
    first, second = slice(None, -1), slice(1, None)
    if right == 0:
        columns = (slice(None), slice(None))
    else:
        columns = (first, second) if right > 0 else (second, first)
    return (rows[0], columns[0]), (rows[1], columns[1])


def _lengths(parent: NDArray[np.int64], grid: Raster) -> Floats:
    """Length of each cell's way, by doubling the jump towards the basin."""
    columns = grid.shape[1]
    down = parent // columns - np.arange(len(parent)) // columns
    right = parent % columns - np.arange(len(parent)) % columns
    total_m = np.hypot(down * grid.cell_height_m, right * grid.cell_width_m)
    jump = parent
    while np.any(jump[jump] != jump):
        total_m = total_m + total_m[jump]
        jump = jump[jump]
    return np.asarray(total_m + total_m[jump])


def best_ends(ways: Ways, place: Place, parameters: LayoutParameters) -> Iterator[int]:
    """Give cells for the spillway, best first, each apart from those before."""
    score = _scores(ways, place, parameters)
    centres = ways.centres()
    while np.isfinite(best := np.min(score)):
        end = int(np.flatnonzero(score == best)[0])
        yield end
        away_m = np.hypot(*(centres - centres[end]).T)
        score = np.where(away_m < max(parameters.ends_apart, 1e-9), np.inf, score)


def _scores(ways: Ways, place: Place, parameters: LayoutParameters) -> Floats:
    """What a stream from each cell would cost by rule of thumb; inf where it cannot be."""
    p = parameters
    length_m = ways.length_m * _ROUNDED
    raised_m, lowered_m, fall_m = _mended(ways.rise_m, p)
    within = (length_m >= p.least_length) & (length_m <= p.greatest_length)
    within &= (fall_m >= p.least_fall) & (fall_m <= p.greatest_fall)
    within &= ~burn(place.pit, ways.grid, touched=True).ravel()
    length_m = np.where(within, length_m, 0.0)
    detour = np.where(within, ways.cost, 0.0) - np.where(within, ways.length_m, 0.0)
    crown_m = p.bed_width + 2.0 * p.berm_shoulder
    fill_m3 = length_m / 2.0 * raised_m * (crown_m + p.berm_side * raised_m)
    cut_m3 = length_m / 2.0 * lowered_m * p.bed_width
    score = p.fill_cost * fill_m3 + cut_m3
    score += p.shortfall_cost * np.maximum(p.wanted_fall - fall_m, 0.0)
    score += p.excess_cost * np.maximum(fall_m - p.wanted_fall, 0.0)
    score += p.length_cost * np.abs(length_m - p.wanted_fall / p.usual_slope)
    score += p.length_cost * detour
    return np.where(within, score, np.inf)


def _mended(rise_m: Floats, parameters: LayoutParameters) -> tuple[Floats, Floats, Floats]:
    """How much a lip on each cell is raised or lowered towards the fall wanted, and the fall."""
    wanted_m = parameters.wanted_fall
    raised_m = np.clip(wanted_m - rise_m, 0.0, parameters.berm_limit)
    lowered_m = np.clip(rise_m - wanted_m, 0.0, parameters.cut_limit)
    return raised_m, lowered_m, rise_m + raised_m - lowered_m


def why_no_end(ways: Ways, parameters: LayoutParameters) -> str:
    """Say which limit leaves no place for the spillway."""
    p = parameters
    length_m = ways.length_m * _ROUNDED
    far = np.isfinite(length_m) & (length_m >= p.least_length) & (length_m <= p.greatest_length)
    if not np.any(np.isfinite(length_m)):
        return f"no free ground at the basin is wide enough for a bed of {p.bed_width:g} m"
    if not np.any(far):
        longest_m = np.max(length_m[np.isfinite(length_m)])
        return (
            f"the longest way over free ground is {longest_m:.1f} m; "
            f"the stream needs at least {p.least_length:g} m (least_length)"
        )
    fall_m = _mended(ways.rise_m, p)[2][far]
    if np.max(fall_m) < p.least_fall:
        return (
            f"the ground and a berm of {p.berm_limit:g} m (berm_limit) give a fall of "
            f"{max(np.max(fall_m), 0.0):.2f} m; least_fall is {p.least_fall:g} m"
        )
    return (
        f"all ground within reach is too high: with a cut of {p.cut_limit:g} m (cut_limit) "
        f"the fall exceeds greatest_fall, {p.greatest_fall:g} m, or the basin is in the way"
    )
