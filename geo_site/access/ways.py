"""Least-cost ways, pulled straight, and ways that a person drew."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, pi

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, sparse
from scipy.sparse import csgraph
from shapely import covers, get_coordinates, linestrings, prepare, union_all
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.access.parameters import AccessParameters
from geo_site.constraints import Ground
from geo_site.raster import Raster, as_multipolygon, burn, grid_over
from geo_site.site import Site
from geo_site.terrain import Terrain

__all__ = ["MachineRoute", "Reach", "drive", "find_reach", "route_to"]

_PARCEL_LINE = ("outside_parcel",)  # reason of the ground beyond the parcel's own line
_QUAD_SEGS = 16
_CHORD = cos(pi / (4 * _QUAD_SEGS))  # chords of a buffer's arcs come this much nearer
_HALF_STEP = 1.1181  # of a cell: no point of a step is farther from both its ends
_HALF_OF_STEPS = ((0, 1), (1, -2), (1, -1), (1, 0), (1, 1), (1, 2), (2, -1), (2, 1))
_SLOPE_SLACK = 1e-9
_NO_STEP_M = 1e-9  # a step of no length is no entry in a sparse matrix
_DOT_M = 1e-7  # a line of one point is not valid


@dataclass(frozen=True, kw_only=True)
class Reach:
    """Where the machine gets to from all access points.

    Attributes
    ----------
    cost : Raster
        Least cost of a way to each cell, m of way (more over hand-dig ground); inf: no way.
    middle : shapely.MultiPolygon
        Where the machine's middle may be.
    hand_dig : shapely geometry
        Ground beside buried lines that was opened to digging by hand.
    parameters : AccessParameters
        The machine.
    """

    cost: Raster
    middle: MultiPolygon
    hand_dig: BaseGeometry
    parameters: AccessParameters
    _steps: sparse.csr_matrix
    _came_from: NDArray[np.int32]
    _gradients: tuple[Raster, Raster]
    _starts: tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class MachineRoute:
    """A way for the machine.

    Attributes
    ----------
    line : shapely.LineString
        From the access point to where the machine works.
    length_m : float
        Horizontal length, m.
    corridor : shapely.Polygon
        The line with half the machine's width and the gap on both sides.
    steepest_along, steepest_across : float
        Steepest ground along and across the line, rise/run.
    hand_dig_m : float
        Length of the line in hand-dig ground, m.
    """

    line: LineString
    length_m: float
    corridor: Polygon
    steepest_along: float
    steepest_across: float
    hand_dig_m: float


def find_reach(
    site: Site,
    terrain: Terrain,
    ground: Ground,
    hand_dig: BaseGeometry,
    parameters: AccessParameters,
) -> Reach | None:
    """Search the least-cost ways of the machine to everywhere, from all access points at once.

    Parameters
    ----------
    site : Site
        Parcel and access points.
    terrain : Terrain
        Gradients of the ground.
    ground : Ground
        As the work ``machine`` sees it.
    hand_dig : shapely geometry
        Hand-dig ground, where a metre of way costs more; empty where none is opened.
    parameters : AccessParameters
        The machine.

    Returns
    -------
    Reach or None
        None where no access point is given: then nothing is known of a way.
    """
    if not len(site.access):
        return None
    points = [(float(x), float(y)) for x, y in get_coordinates(site.access.geometry)]
    middle = _middle_ground(site, ground, points, parameters)
    west, _, _, north = terrain.ground.bounds
    grid = grid_over(
        site.parcel.bounds,
        parameters.cell,
        site.crs,
        margin_m=parameters.entry,
        anchor=(west, north),
    )
    gradients = (terrain.east_gradient, terrain.north_gradient)
    steps = _steps(middle, hand_dig, grid, gradients, parameters)
    starts = [_start(point, middle, ground, grid, parameters) for point in points]
    steps = _with_source(steps, starts)
    cost, came_from = _least_cost(steps)
    return Reach(
        cost=grid.like(cost[:-1].reshape(grid.shape)),
        middle=middle,
        hand_dig=hand_dig,
        parameters=parameters,
        _steps=steps,
        _came_from=came_from,
        _gradients=gradients,
        _starts=tuple(points),
    )


def _middle_ground(
    site: Site, ground: Ground, points: list[tuple[float, float]], parameters: AccessParameters
) -> MultiPolygon:
    """Ground from which the whole machine stands clear of all that is blocked.

    The parcel's own line is no wall at an access point: the street lies beyond it.
    """
    half_m = parameters.half_m
    body = union_all([site.parcel, *(Point(p).buffer(parameters.entry) for p in points)])
    inside = body.buffer(-half_m / _CHORD, quad_segs=_QUAD_SEGS)
    pieces = [piece.geometry for piece in ground.pieces if piece.reason not in _PARCEL_LINE]
    near = union_all(pieces).buffer(half_m / _CHORD, quad_segs=_QUAD_SEGS)
    return as_multipolygon(inside.difference(near))


def _steps(
    middle: MultiPolygon,
    hand_dig: BaseGeometry,
    grid: Raster,
    gradients: tuple[Raster, Raster],
    parameters: AccessParameters,
) -> sparse.csr_matrix:
    """Give the cost of each step, both ways, that the machine may take."""
    allowed = burn(middle, grid)
    extra = parameters.hand_dig_cost * burn(hand_dig, grid)
    near_edge = ~np.asarray(ndimage.binary_erosion(allowed, np.ones((3, 3), dtype=bool)))
    x, y = grid.centres()
    tails, heads, costs = [], [], []
    for rows, columns in _HALF_OF_STEPS:
        tail_row, tail_column, head_row, head_column = _pairs(allowed, rows, columns)
        ends = np.stack(
            [
                np.column_stack([x[tail_column], y[tail_row]]),
                np.column_stack([x[head_column], y[head_row]]),
            ],
            axis=1,
        )
        passable = _is_gentle(ends, gradients, parameters)
        doubtful = passable & (near_edge[tail_row, tail_column] | near_edge[head_row, head_column])
        passable[doubtful] = _covered(middle, ends[doubtful])
        length_m = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
        dear = (extra[tail_row, tail_column] + extra[head_row, head_column]) / 2.0
        tails.append((tail_row * grid.shape[1] + tail_column)[passable])
        heads.append((head_row * grid.shape[1] + head_column)[passable])
        costs.append((length_m * (1.0 + dear))[passable])
    tail, head, cost = (np.concatenate(part) for part in (tails, heads, costs))
    size = allowed.size
    one_way = sparse.csr_matrix((cost, (tail, head)), shape=(size, size))
    both_ways: sparse.csr_matrix = (one_way + one_way.T).tocsr()
    return both_ways


def _pairs(allowed: NDArray[np.bool_], rows: int, columns: int) -> tuple[NDArray[np.intp], ...]:
    """Row and column of allowed cells, and of their allowed neighbours at an offset."""
    row, column = np.nonzero(allowed)
    head_row, head_column = row + rows, column + columns
    fits = (head_row >= 0) & (head_row < allowed.shape[0])
    fits &= (head_column >= 0) & (head_column < allowed.shape[1])
    row, column, head_row, head_column = (a[fits] for a in (row, column, head_row, head_column))
    both = allowed[head_row, head_column]
    return row[both], column[both], head_row[both], head_column[both]


def _covered(area: BaseGeometry, ends: NDArray[np.float64]) -> NDArray[np.bool_]:
    if not len(ends):
        return np.zeros(0, dtype=bool)
    prepare(area)
    covered: NDArray[np.bool_] = np.asarray(covers(area, linestrings(ends)))
    return covered


def _slopes_at(
    ends: NDArray[np.float64], cell_m: float, gradients: tuple[Raster, Raster]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Ground slope along and across segments at places along them, shape (segments, places)."""
    way = ends[:, 1] - ends[:, 0]
    length_m = np.hypot(way[:, 0], way[:, 1])
    unit = way / length_m[:, None]
    parts = np.linspace(0.0, 1.0, _pieces(float(length_m.max()), cell_m) + 1)
    spots = ends[:, 0, None] + parts[None, :, None] * way[:, None]
    east, north = (gradient.sample(spots).reshape(spots.shape[:2]) for gradient in gradients)
    along = np.abs(east * unit[:, :1] + north * unit[:, 1:])
    across = np.abs(north * unit[:, :1] - east * unit[:, 1:])
    return along, across


def _is_gentle(
    ends: NDArray[np.float64], gradients: tuple[Raster, Raster], parameters: AccessParameters
) -> NDArray[np.bool_]:
    """Whether segments keep to the machine's slopes; unknown ground is not gentle."""
    if not len(ends):
        return np.ones(0, dtype=bool)
    along, across = _slopes_at(ends, parameters.cell, gradients)
    gentle = along <= parameters.greatest_slope_along + _SLOPE_SLACK
    gentle &= across <= parameters.greatest_slope_across + _SLOPE_SLACK
    return np.asarray(gentle.all(axis=1))


def _pieces(length_m: float, cell_m: float) -> int:
    """Pieces between slope samples; the same for a step wherever it is asked."""
    return max(int(np.ceil(length_m / (0.75 * cell_m))), 1)


def _start(
    point: tuple[float, float],
    middle: MultiPolygon,
    ground: Ground,
    grid: Raster,
    parameters: AccessParameters,
) -> tuple[int, float] | None:
    """Nearest allowed cell that lies in plain way of an access point, with its distance."""
    x, y = np.meshgrid(*grid.centres())
    distance_m = np.hypot(x - point[0], y - point[1]).ravel()
    near = np.flatnonzero((distance_m <= parameters.entry) & burn(middle, grid).ravel())
    walls = union_all([p.geometry for p in ground.pieces if p.reason not in _PARCEL_LINE])
    for cell in near[np.argsort(distance_m[near], kind="stable")]:
        if not LineString([point, (x.flat[cell], y.flat[cell])]).crosses(walls):
            return int(cell), float(distance_m[cell])
    return None


def _with_source(
    steps: sparse.csr_matrix, starts: list[tuple[int, float] | None]
) -> sparse.csr_matrix:
    """Add a source as the last node, one step from each access point's first cell."""
    size = steps.shape[0]
    nearest: dict[int, float] = {}
    for start in starts:
        if start is not None:
            cell, distance_m = start
            nearest[cell] = min(distance_m, nearest.get(cell, np.inf))
    cost = np.maximum(np.array(list(nearest.values()), dtype=np.float64), _NO_STEP_M)
    row = sparse.csr_matrix(
        (cost, (np.zeros(len(nearest), dtype=int), list(nearest))), shape=(1, size + 1)
    )
    wider = sparse.hstack([steps, sparse.csr_matrix((size, 1))])
    whole: sparse.csr_matrix = sparse.vstack([wider, row]).tocsr()
    return whole


def _least_cost(steps: sparse.csr_matrix) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    cost, came_from = csgraph.dijkstra(
        steps, directed=True, indices=[steps.shape[0] - 1], return_predecessors=True
    )
    return cost[0], came_from[0]


def route_to(
    reach: Reach, target: BaseGeometry, keep_off: BaseGeometry | None = None
) -> MachineRoute | None:
    """Give the cheapest way to where the machine can work on something.

    Parameters
    ----------
    reach : Reach
        Where the machine gets to.
    target : shapely geometry
        The work: the way ends within the working reach of it and outside it.
    keep_off : shapely geometry, optional
        Ground that the corridor must not enter besides, such as an excavation with its edge.

    Returns
    -------
    MachineRoute or None
        None where there is no way.
    """
    off = _off_limits(reach, target, keep_off)
    barred = burn(off.buffer(reach.cost.cell_width_m * _HALF_STEP), reach.cost).ravel()
    within = burn(target.buffer(reach.parameters.working_reach), reach.cost).ravel()
    cells = np.flatnonzero(within & ~barred)
    path = _path(reach._came_from, reach.cost.values.ravel(), cells)
    if path and barred[path].any():
        cost, came_from = _least_cost(_without(reach._steps, barred))
        path = _path(came_from, cost[:-1], cells)
    if not path:
        return None
    room = reach.middle.difference(off)
    xy = _straightened(_corners(path, room, reach), room, reach)
    return _as_route(xy, reach._gradients, reach.hand_dig, reach.parameters)


def drive(
    line: LineString, terrain: Terrain, hand_dig: BaseGeometry, parameters: AccessParameters
) -> MachineRoute:
    """Measure a way that a person drew.

    Parameters
    ----------
    line : shapely.LineString
        In plan, from where the machine comes.
    terrain : Terrain
        Gradients of the ground.
    hand_dig : shapely geometry
        Hand-dig ground.
    parameters : AccessParameters
        The machine.

    Returns
    -------
    MachineRoute
        Slopes are NaN where the ground is not known.
    """
    gradients = (terrain.east_gradient, terrain.north_gradient)
    return _as_route(np.asarray(get_coordinates(line)), gradients, hand_dig, parameters)


def _off_limits(reach: Reach, target: BaseGeometry, keep_off: BaseGeometry | None) -> BaseGeometry:
    """Ground that the machine's middle must not enter: the work, and near what to keep off."""
    if keep_off is None:
        return target
    near = keep_off.buffer(reach.parameters.half_m / _CHORD, quad_segs=_QUAD_SEGS)
    return union_all([target, near])


def _without(steps: sparse.csr_matrix, barred: NDArray[np.bool_]) -> sparse.csr_matrix:
    keep = sparse.diags(np.append(~barred, True).astype(np.float64))
    left: sparse.csr_matrix = (keep @ steps @ keep).tocsr()
    left.eliminate_zeros()
    return left


def _path(
    came_from: NDArray[np.int32], cost: NDArray[np.float64], cells: NDArray[np.intp]
) -> list[int]:
    """Cells from the start to the cheapest of some cells; empty where there is no way."""
    if not len(cells) or not np.isfinite(cost[cells]).any():
        return []
    cell = int(cells[np.argmin(cost[cells])])
    path = []
    source = len(came_from) - 1
    while cell != source:
        path.append(cell)
        cell = int(came_from[cell])
    return path[::-1]


def _corners(path: list[int], room: BaseGeometry, reach: Reach) -> NDArray[np.float64]:
    """Centres of the path's cells, from the access point itself where the machine can stand."""
    columns, rows = reach.cost.centres()
    cells = np.array(path)
    xy = np.column_stack([columns[cells % len(columns)], rows[cells // len(columns)]])
    access = min(reach._starts, key=lambda point: hypot(point[0] - xy[0, 0], point[1] - xy[0, 1]))
    first = np.vstack([access, xy[:1]])
    if np.ptp(first, axis=0).any() and _is_way(first, room, reach):
        return np.vstack([access, xy])
    return xy


def _is_way(ends: NDArray[np.float64], room: BaseGeometry, reach: Reach) -> bool:
    """Whether the machine may go straight from one point to another."""
    segment = ends[None]
    gentle = bool(_is_gentle(segment, reach._gradients, reach.parameters)[0])
    return gentle and bool(_covered(room, segment)[0])


def _straightened(xy: NDArray[np.float64], room: BaseGeometry, reach: Reach) -> NDArray[np.float64]:
    """Leave out corners where the straight way is allowed, halving at the farthest corner."""
    kept = {0, len(xy) - 1}
    spans = [(0, len(xy) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2 or _is_way(xy[[first, last]], room, reach):
            continue
        middle = _farthest(xy, first, last)
        kept.add(middle)
        spans += [(first, middle), (middle, last)]
    return xy[sorted(kept)]


def _farthest(xy: NDArray[np.float64], first: int, last: int) -> int:
    """Index of the corner farthest from the straight way; the middle one of a straight way."""
    way = xy[last] - xy[first]
    inner = xy[first + 1 : last] - xy[first]
    off_m = np.abs(inner[:, 0] * way[1] - inner[:, 1] * way[0])
    if not off_m.max() > 1e-9:
        return (first + last) // 2
    return first + 1 + int(np.argmax(off_m))


def _as_route(
    xy: NDArray[np.float64],
    gradients: tuple[Raster, Raster],
    hand_dig: BaseGeometry,
    parameters: AccessParameters,
) -> MachineRoute:
    """Make the route; a machine that works from where it enters has a dot of a way."""
    line = LineString(xy if len(xy) > 1 else np.vstack([xy, xy + np.array([_DOT_M, 0.0])]))
    is_way = line.length > 2.0 * _DOT_M
    along, across = _steepest(xy, gradients, parameters.cell) if is_way else (0.0, 0.0)
    return MachineRoute(
        line=line,
        length_m=line.length,
        corridor=line.buffer(parameters.half_m, quad_segs=_QUAD_SEGS),
        steepest_along=along,
        steepest_across=across,
        hand_dig_m=line.intersection(hand_dig).length,
    )


def _steepest(
    xy: NDArray[np.float64], gradients: tuple[Raster, Raster], cell_m: float
) -> tuple[float, float]:
    segments = np.stack([xy[:-1], xy[1:]], axis=1)[:, None]
    slopes = [_slopes_at(one, cell_m, gradients) for one in segments]
    along, across = (
        max(float(part.max()) for part in parts) for parts in zip(*slopes, strict=True)
    )
    return along, across
