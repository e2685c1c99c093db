"""Ways of a stream whose spillway or points on its way are given.

Method: the points are joined from the basin outward in the order of least cost, one search a
leg, each leg off the ground of those before; the way to the spillway goes on from the last point.
Every point may be the last one, so that there are as many answers as points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise, permutations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import Point

from geo_site.layout.alignment import PASSED_M
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.place import Place
from geo_site.layout.results import NoStream
from geo_site.layout.route import Net, Ways, centres_of, find_net, find_ways

__all__ = ["cell_at", "out_of_reach", "ways_through"]

_MOST_POINTS = 6  # orders are tried one by one


def ways_through(
    points: Sequence[Point], place: Place, parameters: LayoutParameters
) -> tuple[Ways, ...] | NoStream:
    """Find ways from the basin that pass every point.

    Parameters
    ----------
    points : sequence of shapely.Point
        In any order; none: ways straight from the basin.
    place : Place
        The surroundings.
    parameters : LayoutParameters
        Cells, costs.

    Returns
    -------
    tuple of Ways or NoStream
        One for each point that may be the last before the spillway; or which point stands
        against it.
    """
    net = find_net(place, parameters)
    from_basin = find_ways(net, net.basin)
    if not points:
        return (from_basin,)
    if len(points) > _MOST_POINTS:
        told = f"{len(points)} points are to be passed; at most {_MOST_POINTS} can be"
        return NoStream(reason=told)
    found = [cell_at(point, from_basin) for point in points]
    cells = [cell for cell in found if cell is not None]
    if len(cells) < len(points):
        missed = points[found.index(None)]
        return NoStream(reason=out_of_reach("the point to be passed", missed, place, parameters))
    legs = [find_ways(net, np.array([cell])).cost for cell in cells]
    ways = [_chained(_order(last, cells, from_basin.cost, legs), net, parameters)
            for last in range(len(cells))]  # fmt: skip
    kept = tuple(one for one in ways if one is not None)
    return kept or NoStream(reason="no way leads past all points to be passed without crossing")


def cell_at(point: Point, ways: Ways) -> int | None:
    """Give the nearest cell to a point that can be reached; None where none is near enough."""
    away_m = np.hypot(*(ways.centres() - (point.x, point.y)).T)
    away_m = np.where(np.isfinite(ways.cost), away_m, np.inf)
    nearest = int(np.argmin(away_m))
    return nearest if away_m[nearest] <= PASSED_M else None


def out_of_reach(what: str, point: Point, place: Place, parameters: LayoutParameters) -> str:
    """Say why a point that is given cannot be reached.

    Parameters
    ----------
    what : str
        What it is, for the sentence.
    point : shapely.Point
        Of which :func:`cell_at` found no cell.
    place : Place
        The surroundings.
    parameters : LayoutParameters
        Lengths, widths.

    Returns
    -------
    str
        The reason.
    """
    told = f"{what} at {point.x:.2f}, {point.y:.2f}"
    away_m = place.footprint.distance(point)
    if away_m > parameters.greatest_length:
        return (
            f"{told} is {away_m:.1f} m from the basin, farther than the "
            f"{parameters.greatest_length:g} m of greatest_length"
        )
    return (
        f"{told} cannot be reached from the basin over free ground that is wide enough for a bed "
        f"of {parameters.bed_width:g} m"
    )


def _order(
    last: int, cells: Sequence[int], start: NDArray[np.float64], legs: Sequence[NDArray[np.float64]]
) -> list[int]:
    """Cells in the order of least cost from the basin, one of them given as the last."""
    others = [i for i in range(len(cells)) if i != last]

    def cost(order: Sequence[int]) -> float:
        whole = [*order, last]
        along = (legs[a][cells[b]] for a, b in pairwise(whole))
        return float(start[cells[whole[0]]] + sum(along))

    best = min(permutations(others), key=cost)
    return [cells[i] for i in (*best, last)]


def _chained(order: Sequence[int], net: Net, parameters: LayoutParameters) -> Ways | None:
    """Ways on from the last of some cells, with what lies between it and the basin."""
    chain: list[int] = []  # from the basin outward
    cost, length_m = 0.0, 0.0
    ways = find_ways(net, net.basin)
    for cell in dict.fromkeys(order):
        if not np.isfinite(ways.cost[cell]):
            return None
        cost, length_m = cost + ways.cost[cell], length_m + ways.length_m[cell]
        leg = ways.cells(cell)[::-1]
        chain += leg[1:] if chain else leg
        closed = _beside(chain, net, parameters)
        closed[cell] = False
        ways = find_ways(net, np.array([cell]), closed)
    onward = centres_of(net.grid)[chain[:0:-1]]  # without the basin's own cell
    return replace(ways, cost=ways.cost + cost, length_m=ways.length_m + length_m, onward=onward)


def _beside(chain: Sequence[int], net: Net, parameters: LayoutParameters) -> NDArray[np.bool_]:
    """Cells that a bed along a chain takes, less those just before its end, and its basin."""
    wide = int(np.ceil(parameters.bed_width / parameters.route_cell))
    near = np.zeros(net.grid.shape, dtype=bool)
    far = near.copy()
    near.ravel()[chain[:-1]] = True
    far.ravel()[chain[: -(wide + 1)]] = True
    eight = np.ones((3, 3), dtype=bool)
    near = ndimage.binary_dilation(near, eight)
    if far.any():
        near |= ndimage.binary_dilation(far, eight, iterations=wide)
    closed: NDArray[np.bool_] = near.ravel()
    closed[net.basin] = True
    return closed
