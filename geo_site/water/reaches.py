"""Reaches and pools of a solution: levels, depths, volumes."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from geo_site import channels, weirs
from geo_site.layout import Pool, StreamReach
from geo_site.water.levels import Crest, Solution
from geo_site.water.profile import lip_section
from geo_site.water.records import PoolWater, ReachWater, WaterParameters
from geo_site.water.stations import Stream, fall_of, pool_of

__all__ = ["moving_water", "pools_of", "reaches_of", "rows_of"]

Floats = NDArray[np.float64]

_ROUNDING_M = 1e-9


def rows_of(stream: Stream, solution: Solution, index: int) -> tuple[Floats, Floats, Floats]:
    """Stations, levels and depths of the mean section of one reach, in order.

    Parameters
    ----------
    stream : Stream
        Pieces.
    solution : Solution
        Levels.
    index : int
        Of the reach in the layout.

    Returns
    -------
    tuple of ndarray
        A pool's rim at the stream's end is left out. Of pools and riffles only.
    """
    end_m = math.inf
    if stream.layout.reaches[index].kind == "pool":
        end_m = stream.layout.reaches[index].to_m - _ROUNDING_M
    found: list[tuple[Floats, Floats, Floats]] = []
    for piece, flowing in zip(stream.pieces, solution.pieces, strict=True):
        first, last = np.searchsorted(piece.reach, [index, index + 1])
        if first == last:
            continue
        last = first + np.searchsorted(piece.channel.station_m[first:last], end_m)
        own, depth_m = slice(first, last), flowing.depth_m[first:last]
        found.append((piece.channel.station_m[own], piece.channel.bed_m[own] + depth_m, depth_m))
    station_m, level_m, depth_m = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return station_m, level_m, depth_m


def reaches_of(
    stream: Stream, solution: Solution, parameters: WaterParameters
) -> tuple[ReachWater, ...]:
    """Running water of each reach, downstream."""
    crests = {crest.reach: crest for crest in solution.crests}
    return tuple(
        _fall_reach(reach, crests[index], stream, solution.flow_m3s)
        if reach.kind == "fall"
        else _pool_reach(index, stream, solution, parameters)
        if reach.kind == "pool"
        else _riffle_reach(index, stream, solution)
        for index, reach in enumerate(stream.layout.reaches)
    )


def _fall_reach(reach: StreamReach, crest: Crest, stream: Stream, flow_m3s: float) -> ReachWater:
    section = lip_section(crest.lip)
    depth_m = channels.critical_depth_of(section, flow_m3s)
    height_m = fall_of(reach, stream.layout).height_m
    return ReachWater(
        sequence=reach.sequence,
        kind=reach.kind,
        water_level_m=crest.level_m + crest.head_m,
        depth_m=depth_m,
        velocity_ms=flow_m3s / section.area(depth_m),
        froude=channels.froude_number(section, depth_m, flow_m3s),
        volume_m3=flow_m3s * math.sqrt(2.0 * height_m / weirs.GRAVITY_MS2),  # what is in the air
    )


def _riffle_reach(index: int, stream: Stream, solution: Solution) -> ReachWater:
    reach, flow_m3s = stream.layout.reaches[index], solution.flow_m3s
    station_m, level_m, depths_m = rows_of(stream, solution, index)
    depth_m = _mean(station_m, depths_m)
    speed_ms = flow_m3s / (stream.bed_m * depth_m)
    return ReachWater(
        sequence=reach.sequence,
        kind=reach.kind,
        water_level_m=float(level_m[0]),
        depth_m=depth_m,
        velocity_ms=speed_ms,
        froude=speed_ms / math.sqrt(weirs.GRAVITY_MS2 * depth_m),
        volume_m3=stream.bed_m * depth_m * (reach.to_m - reach.from_m),
    )


def _mean(station_m: Floats, values: Floats) -> float:
    """Mean along the stations (trapezoidal rule)."""
    length_m = float(station_m[-1] - station_m[0])
    if length_m <= 0.0:
        return float(np.mean(values))
    return float(np.trapezoid(values, station_m)) / length_m


def _pool_reach(
    index: int, stream: Stream, solution: Solution, parameters: WaterParameters
) -> ReachWater:
    reach = stream.layout.reaches[index]
    pool, length_m = pool_of(reach, stream.layout), reach.to_m - reach.from_m
    area_m2 = float(pool.geometry.area)
    level_m, mean_m = _pool_levels(index, stream, solution)
    volume_m3 = _hollow(pool, parameters) + area_m2 * (mean_m - pool.sill_level_m)
    speed_ms = solution.flow_m3s * length_m / volume_m3 if volume_m3 > 0.0 else math.nan
    wave_ms = math.sqrt(weirs.GRAVITY_MS2 * volume_m3 / area_m2) if area_m2 > 0.0 else math.nan
    return ReachWater(
        sequence=reach.sequence,
        kind=reach.kind,
        water_level_m=level_m,
        depth_m=pool.depth_m + level_m - pool.sill_level_m,
        velocity_ms=speed_ms,
        froude=speed_ms / wave_ms,
        volume_m3=volume_m3,
    )


def _pool_levels(index: int, stream: Stream, solution: Solution) -> tuple[float, float]:
    """Level at a pool's upstream end, and its mean."""
    station_m, level_m, _ = rows_of(stream, solution, index)
    return float(level_m[0]), _mean(station_m, level_m)


def _hollow(pool: Pool, parameters: WaterParameters) -> float:
    return parameters.hollow_fullness * pool.depth_m * float(pool.geometry.area)


def pools_of(
    stream: Stream,
    highest: Solution,
    reaches: tuple[ReachWater, ...],
    parameters: WaterParameters,
) -> tuple[PoolWater, ...]:
    """Running water of each pool; its liner stands over the highest level that may be."""
    found = {}
    for index, reach in enumerate(stream.layout.reaches):
        if reach.kind != "pool":
            continue
        pool, water = pool_of(reach, stream.layout), reaches[index]
        most_m = max(water.water_level_m, _pool_levels(index, stream, highest)[0])
        found[pool.sequence] = PoolWater(
            sequence=pool.sequence,
            water_level_m=water.water_level_m,
            volume_m3=water.volume_m3,
            standing_m3=_hollow(pool, parameters),
            liner_level_m=most_m + parameters.freeboard_pool,
        )
    return tuple(found[pool.sequence] for pool in stream.layout.pools)


def moving_water(stream: Stream, solution: Solution, parameters: WaterParameters) -> float:
    """Water above the sills, on riffles and in the air: what runs back when the pump stops, m3."""
    whole_m3 = sum(reach.volume_m3 for reach in reaches_of(stream, solution, parameters))
    return whole_m3 - sum(_hollow(pool, parameters) for pool in stream.layout.pools)
