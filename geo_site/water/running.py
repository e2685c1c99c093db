"""The water that runs: flow over the spillway lip, levels and volumes of each reach."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geo_site import channels, weirs
from geo_site.layout import Fall, Layout, Pool, StreamReach
from geo_site.water.records import FallWater, PoolWater, ReachWater, WaterParameters

__all__ = ["Running", "lip_flow", "lip_head", "run"]

# A level run shorter than a pool: the water makes a slope of its own (chosen for this method).
_LEAST_SLOPE = 0.005
_HEAD_STEPS = 60


@dataclass(frozen=True, kw_only=True)
class Running:
    """Running water along the whole stream, downstream.

    Attributes
    ----------
    flow_m3s, head_m : float
        Flow, and head on the spillway lip.
    spillway_level_m : float
        Level behind the spillway lip.
    reaches, falls, pools : tuple
        Results, each in the layout's order.
    drowned : tuple of int
        Falls whose lip lies under the water below.
    """

    flow_m3s: float
    head_m: float
    spillway_level_m: float
    reaches: tuple[ReachWater, ...]
    falls: tuple[FallWater, ...]
    pools: tuple[PoolWater, ...]
    drowned: tuple[int, ...]


def lip_flow(width_m: float, parameters: WaterParameters) -> float:
    """Flow of the pump given, or that gives the head wanted over a lip (Francis), m3/s."""
    if parameters.pump_flow is not None:
        return parameters.pump_flow
    return weirs.francis_flow(width_m, parameters.lip_head, parameters.contracted_ends)


def lip_head(width_m: float, flow_m3s: float, contracted_ends: int) -> float:
    """Head on a lip, contracted or not: the root of Francis' formula, m.

    Each round takes the width that the head of the round before leaves.

    Raises
    ------
    ValueError
        The flow is too large for so narrow a lip.

    Examples
    --------
    >>> round(lip_head(0.6096, weirs.francis_flow(0.6096, 0.1524, 2), 2), 6)
    0.1524
    """
    head_m = weirs.francis_head(width_m, flow_m3s)
    for _ in range(_HEAD_STEPS if contracted_ends else 0):
        head_m = weirs.francis_head(width_m - 0.1 * contracted_ends * head_m, flow_m3s)
    return head_m


@dataclass(frozen=True, kw_only=True)
class _Control:
    """What one reach makes of the flow by itself.

    Attributes
    ----------
    head_m
        Level that it asks of still water above it, over its own upstream end.
    depth_m, normal_m
        Depth at its upstream end, and along it.
    width_m
        Width of its water.
    """

    head_m: float
    depth_m: float
    normal_m: float
    width_m: float


def run(layout: Layout, parameters: WaterParameters) -> Running:
    """Let the water run and find its levels, from the stream's end upwards.

    Parameters
    ----------
    layout : Layout
        Reaches, falls and pools.
    parameters : WaterParameters
        Head wanted or pump given, roughness, freeboard.

    Returns
    -------
    Running
        A level is never below that of the reach downstream.
    """
    bed_m = _bed_width(layout)
    spillway_m = layout.falls[0].lip_width_m if layout.falls else bed_m
    flow_m3s = lip_flow(spillway_m, parameters)
    head_m = lip_head(spillway_m, flow_m3s, parameters.contracted_ends)
    controls = [_control(reach, layout, bed_m, flow_m3s, parameters) for reach in layout.reaches]
    levels_m = _levels(layout, controls)
    waters = tuple(
        _reach_water(layout, index, controls, levels_m, flow_m3s, parameters)
        for index in range(len(layout.reaches))
    )
    falls = [index for index, reach in enumerate(layout.reaches) if reach.kind == "fall"]
    return Running(
        flow_m3s=flow_m3s,
        head_m=head_m,
        spillway_level_m=max(layout.lip_level_m + head_m, *levels_m[:1]),
        reaches=waters,
        falls=tuple(
            FallWater(sequence=number, head_m=controls[index].head_m)
            for number, index in enumerate(falls, 1)
        ),
        pools=_pool_waters(layout, levels_m, parameters),
        drowned=tuple(
            number
            for number, index in enumerate(falls, 1)
            if levels_m[index + 1] > layout.reaches[index].sill_level_m
        ),
    )


def _bed_width(layout: Layout) -> float:
    """Mean width of the bed between its pools, m."""
    between_m = sum(r.to_m - r.from_m for r in layout.reaches if r.kind != "pool")
    pools = shapely.union_all([pool.geometry for pool in layout.pools])
    between_m2 = float(layout.bed.difference(pools).area)
    if between_m > 0.0 and between_m2 > 0.0:
        return between_m2 / between_m
    return float(layout.bed.area) / layout.length_m


def _control(
    reach: StreamReach,
    layout: Layout,
    bed_m: float,
    flow_m3s: float,
    parameters: WaterParameters,
) -> _Control:
    if reach.kind == "fall":
        width_m = _fall_of(reach, layout).lip_width_m
        head_m = lip_head(width_m, flow_m3s, parameters.contracted_ends)
        depth_m = weirs.critical_depth(flow_m3s / width_m)
        return _Control(head_m=head_m, depth_m=head_m, normal_m=depth_m, width_m=width_m)
    section = channels.Trapezoid(bed_m, 0.0)
    slope = max(_drop(reach) / (reach.to_m - reach.from_m), _LEAST_SLOPE)
    normal_m = channels.normal_depth(section, flow_m3s, slope, parameters.roughness)
    # A riffle steeper than critical lets the water go over its head at critical depth; a
    # gentler one holds it up to its own depth.
    depth_m = max(normal_m, weirs.critical_depth(flow_m3s / bed_m))
    speed_ms = flow_m3s / (bed_m * depth_m)
    head_m = depth_m + speed_ms**2 / (2.0 * weirs.GRAVITY_MS2)
    return _Control(head_m=head_m, depth_m=depth_m, normal_m=normal_m, width_m=bed_m)


def _drop(reach: StreamReach) -> float:
    z = shapely.get_coordinates(reach.line, include_z=True)[:, 2]
    return float(z[0] - z[-1])


def _fall_of(reach: StreamReach, layout: Layout) -> Fall:
    return min(layout.falls, key=lambda fall: abs(fall.station_m - reach.from_m))


def _pool_of(reach: StreamReach, layout: Layout) -> Pool:
    return min(layout.pools, key=lambda pool: abs(pool.from_m - reach.from_m))


def _levels(layout: Layout, controls: list[_Control]) -> list[float]:
    """Level at the upstream end of each reach, and -inf for what is beyond the last."""
    levels_m = [-math.inf] * (len(controls) + 1)
    for index in reversed(range(len(controls))):
        reach = layout.reaches[index]
        own_m = reach.sill_level_m + controls[index].depth_m
        if reach.kind == "pool":
            own_m = _pool_level(layout, index, controls)
        levels_m[index] = max(own_m, levels_m[index + 1])
    return levels_m


def _pool_level(layout: Layout, index: int, controls: list[_Control]) -> float:
    """Sill and the head asked by what follows; at the stream's end, by its own level run."""
    sill_m = layout.reaches[index].sill_level_m
    if index + 1 < len(controls):
        return sill_m + controls[index + 1].head_m
    return sill_m + controls[index].head_m


def _reach_water(
    layout: Layout,
    index: int,
    controls: list[_Control],
    levels_m: list[float],
    flow_m3s: float,
    parameters: WaterParameters,
) -> ReachWater:
    reach, level_m = layout.reaches[index], levels_m[index]
    if reach.kind == "pool":
        return _pool_reach(reach, _pool_of(reach, layout), level_m, flow_m3s, parameters)
    width_m, depth_m = controls[index].width_m, controls[index].normal_m
    speed_ms = flow_m3s / (width_m * depth_m)
    if reach.kind == "fall":  # what is in the air
        volume_m3 = flow_m3s * math.sqrt(2.0 * _drop(reach) / weirs.GRAVITY_MS2)
    else:
        volume_m3 = width_m * _riffle_section(reach, depth_m, levels_m[index + 1])
    return ReachWater(
        sequence=reach.sequence,
        kind=reach.kind,
        water_level_m=level_m,
        depth_m=depth_m,
        velocity_ms=speed_ms,
        froude=speed_ms / math.sqrt(weirs.GRAVITY_MS2 * depth_m),
        volume_m3=volume_m3,
    )


def _pool_reach(
    reach: StreamReach, pool: Pool, level_m: float, flow_m3s: float, parameters: WaterParameters
) -> ReachWater:
    area_m2, length_m = float(pool.geometry.area), reach.to_m - reach.from_m
    rise_m = level_m - pool.sill_level_m
    volume_m3 = _hollow(pool, parameters) + area_m2 * rise_m
    speed_ms = flow_m3s * length_m / volume_m3 if volume_m3 > 0.0 else math.nan
    wave_ms = math.sqrt(weirs.GRAVITY_MS2 * volume_m3 / area_m2) if area_m2 > 0.0 else math.nan
    return ReachWater(
        sequence=reach.sequence,
        kind=reach.kind,
        water_level_m=level_m,
        depth_m=pool.depth_m + rise_m,
        velocity_ms=speed_ms,
        froude=speed_ms / wave_ms,
        volume_m3=volume_m3,
    )


def _riffle_section(reach: StreamReach, normal_m: float, level_below_m: float) -> float:
    """Area of a riffle's water seen from the side, backed up from below where that is higher."""
    xyz = shapely.get_coordinates(reach.line, include_z=True)
    steps_m = np.hypot(*np.diff(xyz[:, :2], axis=0).T)
    depths_m = np.maximum(level_below_m - xyz[:, 2], normal_m)
    return float(np.sum(steps_m * (depths_m[:-1] + depths_m[1:]) / 2.0))


def _hollow(pool: Pool, parameters: WaterParameters) -> float:
    return parameters.hollow_fullness * pool.depth_m * float(pool.geometry.area)


def _pool_waters(
    layout: Layout, levels_m: list[float], parameters: WaterParameters
) -> tuple[PoolWater, ...]:
    level_of = {
        _pool_of(reach, layout).sequence: level_m
        for reach, level_m in zip(layout.reaches, levels_m, strict=False)
        if reach.kind == "pool"
    }
    return tuple(
        PoolWater(
            sequence=pool.sequence,
            water_level_m=level_of[pool.sequence],
            volume_m3=_hollow(pool, parameters)
            + float(pool.geometry.area) * (level_of[pool.sequence] - pool.sill_level_m),
            standing_m3=_hollow(pool, parameters),
            liner_level_m=level_of[pool.sequence] + parameters.freeboard_pool,
        )
        for pool in layout.pools
    )
