"""Bed levels along a stream's profile: where it runs level, where it falls, at least cost.

Question: which levels should a bed have at given stations so that it never rises downstream,
each step is level, a riffle or a fall, each fall lands on a pool long enough, and the sum of the
costs is least? Method: dynamic programming over stations, levels and the rest of the pool that
is still owed; exact on the grid of levels. Reference: Bellman, R. (1957), Dynamic Programming;
for step steepness Abrahams, A. D., Li, G. and Atkinson, J. F. (1995), Step-pool streams:
adjustment to maximum flow resistance, Water Resources Research 31(10), 2593-2602.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

import numba
import numpy as np
from numpy.typing import NDArray

from geo_site.compiling import LOOP

__all__ = [
    "FALL",
    "POOL",
    "RIFFLE",
    "BedLimits",
    "BedPath",
    "BedRules",
    "best_bed",
    "even_hollow",
    "kinds_along",
    "rules_along",
    "step_steepness_ratio",
]

POOL, RIFFLE, FALL = 0, 1, 2

_ROUNDING = 1e-9  # in steps or metres: a limit met exactly is met whatever the last digit
_LEAST_STEP_SLOPE = 0.03  # below it natural streams form no steps (Abrahams et al. 1995)
_MIDDLE_RATIO = 1.5  # of the natural range, 1 to 2


@dataclass(frozen=True, kw_only=True)
class BedLimits:
    """What each step of a bed may be.

    Attributes
    ----------
    level_step_m : float
        Distance of levels.
    steepest_riffle : float
        Rise over run.
    least_fall_m, greatest_fall_m : float
        Height of a fall.
    least_pool_m : float
        Level run that a fall lands on, at least.
    """

    level_step_m: float
    steepest_riffle: float
    least_fall_m: float
    greatest_fall_m: float
    least_pool_m: float


@dataclass(frozen=True, kw_only=True)
class BedRules:
    """The limits in whole steps, for given stations.

    Attributes
    ----------
    riffle_levels : ndarray of int, shape (n - 1,)
        Most levels that the step from station i to i + 1 drops as a riffle.
    pool_steps : ndarray of int, shape (n,)
        Level steps owed after a fall that lands on a station; -1 where none may land.
    least_fall_levels, greatest_fall_levels : int
        Levels of a fall.
    """

    riffle_levels: NDArray[np.int64]
    pool_steps: NDArray[np.int64]
    least_fall_levels: int
    greatest_fall_levels: int


@dataclass(frozen=True, kw_only=True)
class BedPath:
    """The best bed.

    Attributes
    ----------
    levels : ndarray of int, shape (n,)
        Level of each station in steps above the end; never rises, ends at 0.
    cost : float
        Sum of its costs.
    """

    levels: NDArray[np.int64]
    cost: float


def rules_along(stations_m: NDArray[np.float64], pool_end: int, limits: BedLimits) -> BedRules:
    """Turn limits in metres into steps between given stations.

    Parameters
    ----------
    stations_m : ndarray, shape (n,)
        Distance along the stream, m, rising.
    pool_end : int
        Last station that a pool may reach; a fall may land beyond it on the last station only.
    limits : BedLimits
        In metres.

    Returns
    -------
    BedRules
        For :func:`best_bed`.

    Examples
    --------
    >>> limits = BedLimits(level_step_m=0.02, steepest_riffle=0.08, least_fall_m=0.1,
    ...                    greatest_fall_m=0.45, least_pool_m=0.5)
    >>> rules = rules_along(np.arange(5) * 0.25, 4, limits)
    >>> rules.riffle_levels.tolist(), rules.pool_steps.tolist()
    ([1, 1, 1, 1], [2, 2, 2, -1, 0])
    >>> rules.least_fall_levels, rules.greatest_fall_levels
    (5, 22)
    """
    step_m = limits.level_step_m
    riffle = np.floor(np.diff(stations_m) * limits.steepest_riffle / step_m + _ROUNDING)
    ends = np.searchsorted(stations_m, stations_m + limits.least_pool_m - _ROUNDING)
    owed = np.where(ends <= pool_end, ends - np.arange(len(stations_m)), -1)
    owed[-1] = 0
    return BedRules(
        riffle_levels=riffle.astype(np.int64),
        pool_steps=owed.astype(np.int64),
        least_fall_levels=max(ceil(limits.least_fall_m / step_m - _ROUNDING), 1),
        greatest_fall_levels=floor(limits.greatest_fall_m / step_m + _ROUNDING),
    )


def best_bed(
    station_cost: NDArray[np.float64],
    start_cost: NDArray[np.float64],
    rules: BedRules,
    *,
    riffle_cost: float,
    fall_cost: NDArray[np.float64],
) -> BedPath | None:
    """Find the levels of least total cost, exactly.

    Parameters
    ----------
    station_cost : ndarray, shape (n, k)
        Cost of having station i at level j steps above the end; inf where not allowed.
    start_cost : ndarray, shape (k,)
        Cost of starting at a level, added at the first station; inf where not allowed.
    rules : BedRules
        What each step may be. A drop that can be a riffle is one.
    riffle_cost : float
        Cost of each level that riffles drop.
    fall_cost : ndarray, shape (greatest_fall_levels + 1,)
        Cost of a fall by its levels.

    Returns
    -------
    BedPath or None
        None where no bed is allowed. Of beds of equal cost always the same is given.

    Examples
    --------
    Three level steps and one fall of two levels, which must land on the end:

    >>> rules = BedRules(riffle_levels=np.zeros(2, int), pool_steps=np.array([-1, -1, 0]),
    ...                  least_fall_levels=2, greatest_fall_levels=2)
    >>> found = best_bed(np.zeros((3, 3)), np.array([np.inf, np.inf, 1.0]), rules,
    ...                  riffle_cost=0.0, fall_cost=np.array([0.0, 0.0, 0.5]))
    >>> found.levels.tolist(), found.cost
    ([2, 2, 0], 1.5)
    """
    steps = max(int(rules.pool_steps.max()), 0) + 1
    shape = (*station_cost.shape, steps)
    best = np.full(shape, np.inf)
    came_from = (np.zeros(shape, dtype=np.int32), np.zeros(shape, dtype=np.int32))
    best[0, :, 0] = start_cost + station_cost[0]
    _sweep(
        np.ascontiguousarray(station_cost, dtype=np.float64),
        rules.riffle_levels,
        rules.pool_steps,
        (rules.least_fall_levels, rules.greatest_fall_levels),
        (float(riffle_cost), np.ascontiguousarray(fall_cost, dtype=np.float64)),
        (best, *came_from),
    )
    cost = float(best[-1, 0, 0])
    if not np.isfinite(cost):
        return None
    levels = _walk_back(*came_from)
    levels.flags.writeable = False
    return BedPath(levels=levels, cost=cost)


# Arrays come made and filled: what numpy makes in a compiled loop is most of the compiling.
@numba.njit(**LOOP)
def _sweep(station_cost, riffle_levels, pool_steps, fall_range, step_costs, table):  # type: ignore[no-untyped-def]
    best, from_level, from_owed = table
    stations, levels, owing = best.shape
    least_fall, greatest_fall = fall_range
    riffle_cost, fall_cost = step_costs
    for i in range(stations - 1):
        for level in range(levels):
            here = station_cost[i + 1, level]
            for owed in range(1, owing):
                cost = best[i, level, owed] + here
                if cost < best[i + 1, level, owed - 1]:
                    best[i + 1, level, owed - 1] = cost
                    from_level[i + 1, level, owed - 1] = level
                    from_owed[i + 1, level, owed - 1] = owed
            free = best[i, level, 0]
            if not free < np.inf:
                continue
            for drop in range(min(level, max(greatest_fall, riffle_levels[i])) + 1):
                owed = 0
                cost = free + station_cost[i + 1, level - drop]
                if drop <= riffle_levels[i]:
                    cost += drop * riffle_cost
                elif drop < least_fall or drop > greatest_fall or pool_steps[i + 1] < 0:
                    continue
                else:
                    cost += fall_cost[drop]
                    owed = pool_steps[i + 1]
                if cost < best[i + 1, level - drop, owed]:
                    best[i + 1, level - drop, owed] = cost
                    from_level[i + 1, level - drop, owed] = level
                    from_owed[i + 1, level - drop, owed] = 0


def _walk_back(from_level: NDArray[np.int32], from_owed: NDArray[np.int32]) -> NDArray[np.int64]:
    stations = from_level.shape[0]
    path = np.zeros(stations, dtype=np.int64)
    level, owed = 0, 0
    for i in range(stations - 1, 0, -1):
        level, owed = int(from_level[i, level, owed]), int(from_owed[i, level, owed])
        path[i - 1] = level
    return path


def kinds_along(
    levels: NDArray[np.int64],
    stations_m: NDArray[np.float64],
    rules: BedRules,
    *,
    pool_end: int,
    least_pool_m: float,
) -> NDArray[np.int64]:
    """Say of each step whether it belongs to a pool, a riffle or a fall.

    A level run at least as long as a pool is one, as far as ``pool_end``; shorter level steps
    belong to the riffle around them.

    Parameters
    ----------
    levels : ndarray of int, shape (n,)
        Bed levels in steps, not rising.
    stations_m : ndarray, shape (n,)
        Distance along the stream, m.
    rules : BedRules
        As the levels were found with.
    pool_end : int
        Last station that a pool may reach.
    least_pool_m : float
        Least length of a pool.

    Returns
    -------
    ndarray of int, shape (n - 1,)
        ``POOL``, ``RIFFLE`` or ``FALL``.

    Examples
    --------
    >>> rules = BedRules(riffle_levels=np.ones(4, int), pool_steps=np.array([2, 2, 2, -1, 0]),
    ...                  least_fall_levels=3, greatest_fall_levels=9)
    >>> kinds_along(np.array([6, 3, 3, 3, 2]), np.arange(5) * 0.5, rules,
    ...             pool_end=4, least_pool_m=1.0).tolist()
    [2, 0, 0, 1]
    """
    drops = -np.diff(levels)
    kinds = np.where(drops > rules.riffle_levels, FALL, RIFFLE).astype(np.int64)
    level = drops == 0
    level[pool_end:] = False
    edges = np.flatnonzero(np.diff(np.concatenate([[False], level, [False]]).astype(np.int8)))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if stations_m[last] - stations_m[first] >= least_pool_m - _ROUNDING:
            kinds[first:last] = POOL
    return kinds


def step_steepness_ratio(
    step_heights_m: NDArray[np.float64], length_m: float, drop_m: float
) -> float:
    """Step steepness over mean slope, `(H / L) / S`.

    ``H`` is the mean height of the steps from lip to the floor of the pool below, ``L`` their
    mean spacing (length over number: each step with the run below it), ``S`` the mean slope
    (drop over length). Natural step-pool streams settle between 1 and 2, where the resistance
    to flow is greatest.

    Parameters
    ----------
    step_heights_m : ndarray, shape (n,)
        Lip to pool floor of each step, m.
    length_m, drop_m : float
        Of the whole stream, m.

    Returns
    -------
    float
        NaN without steps or where the mean slope is 0.03 or less.

    References
    ----------
    Abrahams, Li and Atkinson (1995), Water Resources Research 31(10), 2593-2602.

    Examples
    --------
    Four steps of 0.2 m with hollows of 0.1 m in 10 m that drop 0.8 m:

    >>> round(step_steepness_ratio(np.full(4, 0.3), 10.0, 0.8), 6)
    1.5
    """
    if len(step_heights_m) == 0 or drop_m <= _LEAST_STEP_SLOPE * length_m:
        return float("nan")
    spacing_m = length_m / len(step_heights_m)
    return float(np.mean(step_heights_m) / spacing_m / (drop_m / length_m))


def even_hollow(
    drops_m: NDArray[np.float64], pools: int, drop_m: float, bounds_m: tuple[float, float]
) -> float:
    """Give the depth of the pools' hollows that brings the step steepness ratio nearest 1.5.

    Parameters
    ----------
    drops_m : ndarray, shape (n,)
        Falls, sill to sill, m.
    pools : int
        How many of them land on a pool.
    drop_m : float
        Of the whole stream, m.
    bounds_m : tuple of float
        Least and greatest depth, m.

    Returns
    -------
    float
        Depth, m, within the bounds; the least where no fall lands on a pool.

    Examples
    --------
    >>> round(even_hollow(np.full(4, 0.2), 4, 0.8, (0.05, 0.3)), 6)
    0.1
    """
    if pools == 0:
        return bounds_m[0]
    wanted_m = (_MIDDLE_RATIO * drop_m - float(np.sum(drops_m))) / pools
    return min(max(wanted_m, bounds_m[0]), bounds_m[1])
