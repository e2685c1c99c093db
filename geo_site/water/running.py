"""The water that runs: levels, depths and volumes of any flow along the stream."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from geo_site import channels, weirs
from geo_site.layout import Fall, Layout
from geo_site.water.flags import jump_flags, lip_flags, narrow_flags, riffle_flags
from geo_site.water.flow import lip_flow, lip_head, wanted_flow
from geo_site.water.levels import Crest, Solution, solve
from geo_site.water.profile import profile_of
from geo_site.water.reaches import moving_water, pools_of, reaches_of, rows_of
from geo_site.water.records import FallWater, WaterParameters
from geo_site.water.stations import Stream, fall_of, stream_of, with_roughness
from geo_site.water.stream_records import LipWater, RiffleWater, Running

__all__ = [
    "Running",
    "lip_flow",
    "lip_head",
    "run",
    "spillway_level",
    "spillway_levels",
    "wanted_flow",
]


def spillway_level(layout: Layout, flow_m3s: float, parameters: WaterParameters) -> float:
    """Level behind the spillway's lip, m: what a pump lifts to, and quicker than :func:`run`.

    Parameters
    ----------
    layout : Layout
        Reaches, falls and pools.
    flow_m3s : float
        Flow, greater than 0.
    parameters : WaterParameters
        Lips, roughness.

    Returns
    -------
    float
        The level.

    Raises
    ------
    ValueError
        If the flow is not positive.
    """
    return float(spillway_levels(layout, [flow_m3s], parameters)[0])


def spillway_levels(
    layout: Layout, flows_m3s: Sequence[float], parameters: WaterParameters
) -> NDArray[np.float64]:
    """Level behind the spillway's lip at each of some flows, m; see :func:`spillway_level`."""
    stream = stream_of(layout, parameters)
    crests = [solve(stream, flow_m3s, parameters).crests[0] for flow_m3s in flows_m3s]
    return np.array([crest.level_m + crest.head_m for crest in crests])


def run(layout: Layout, flow_m3s: float, parameters: WaterParameters) -> Running:
    """Let a flow run and find its levels.

    Parameters
    ----------
    layout : Layout
        Reaches, falls and pools.
    flow_m3s : float
        Flow, greater than 0.
    parameters : WaterParameters
        Lips, roughness, freeboard.

    Returns
    -------
    Running
        A flow that a lip cannot carry is a flag that is refused.

    Raises
    ------
    ValueError
        If the flow is not positive.
    """
    stream = stream_of(layout, parameters)
    solution = solve(stream, flow_m3s, parameters)
    low, high = (
        solve(with_roughness(stream, roughness), flow_m3s, parameters)
        for roughness in _roughnesses(parameters)
    )
    return _running(stream, solution, (low, high), parameters)


def _roughnesses(parameters: WaterParameters) -> tuple[float, float]:
    """Least and greatest Manning's n; the one in use lies between."""
    levels = parameters.levels
    return (
        min(levels.least_roughness, parameters.roughness),
        max(levels.greatest_roughness, parameters.roughness),
    )


def _running(
    stream: Stream,
    solution: Solution,
    others: tuple[Solution, Solution],
    parameters: WaterParameters,
) -> Running:
    low, high = others
    flow_m3s = solution.flow_m3s
    reaches = reaches_of(stream, solution, parameters)
    pools = pools_of(stream, high, reaches, parameters)
    profile = profile_of(stream, solution, others, parameters)
    lips = _lips(stream, solution, parameters)
    riffles = _riffles(stream, solution, others, parameters)
    first = solution.crests[0]
    return Running(
        flow_m3s=flow_m3s,
        head_m=first.head_m,
        spillway_level_m=first.level_m + first.head_m,
        reaches=reaches,
        falls=tuple(
            FallWater(sequence=lip.sequence, head_m=lip.head_m) for lip in lips if lip.sequence
        ),
        pools=pools,
        drowned=tuple(lip.sequence for lip in lips if lip.sequence and lip.tail_m > 0.0),
        lips=lips,
        riffles=riffles,
        narrows=solution.narrows,
        standing_m3=sum(pool.standing_m3 for pool in pools),
        moving_m3=moving_water(stream, solution, parameters),
        low_moving_m3=moving_water(stream, low, parameters),
        high_moving_m3=moving_water(stream, high, parameters),
        profile=profile,
        flags=(
            *lip_flags(lips, solution.crests, flow_m3s, stream.layout),
            *riffle_flags(riffles, reaches, parameters),
            *jump_flags(profile.jumps_m),
            *narrow_flags(solution.narrows, parameters),
        ),
    )


def _lips(stream: Stream, solution: Solution, parameters: WaterParameters) -> tuple[LipWater, ...]:
    return tuple(_lip(crest, stream, solution, parameters) for crest in solution.crests)


def _lip(crest: Crest, stream: Stream, solution: Solution, parameters: WaterParameters) -> LipWater:
    limit_m = min(parameters.levels.head_limit, weirs.greatest_head(crest.lip))
    sequence, foot_m, plunge_m = 0, np.nan, np.nan
    if crest.reach is not None:
        fall = fall_of(stream.layout.reaches[crest.reach], stream.layout)
        sequence = fall.sequence
        number = [piece.above for piece in stream.pieces].index(crest.reach)
        piece = stream.pieces[number]
        foot_m = crest.level_m + crest.tail_m - float(piece.deepest_m[0])
        plunge_m = _plunge(fall, solution.flow_m3s, parameters)
    return LipWater(
        sequence=sequence,
        formula=weirs.formula_of(crest.lip, crest.head_m),
        head_m=crest.head_m,
        energy_m=crest.energy_m,
        limit_m=limit_m,
        tail_m=crest.tail_m,
        foot_depth_m=foot_m,
        plunge_m=plunge_m,
    )


def _plunge(fall: Fall, flow_m3s: float, parameters: WaterParameters) -> float:
    """Water wanted at the foot of a fall, m."""
    if fall.height_m <= 0.0:
        return 0.0
    _, jump_m = channels.drop_depths(flow_m3s / fall.lip_width_m, fall.height_m)
    return max(parameters.levels.plunge_share * fall.height_m, jump_m)


def _riffles(
    stream: Stream,
    solution: Solution,
    others: tuple[Solution, Solution],
    parameters: WaterParameters,
) -> tuple[RiffleWater, ...]:
    return tuple(
        _riffle(index, stream, (solution, *others), parameters)
        for index, reach in enumerate(stream.layout.reaches)
        if reach.kind == "riffle"
    )


def _riffle(
    index: int, stream: Stream, solutions: tuple[Solution, ...], parameters: WaterParameters
) -> RiffleWater:
    reach, flow_m3s = stream.layout.reaches[index], solutions[0].flow_m3s
    levels = parameters.levels
    rows = [rows_of(stream, solution, index) for solution in solutions]
    depths_m = [float(np.trapezoid(d, s) / (s[-1] - s[0])) for s, _, d in rows]
    _, level_m, depth_m = rows[0]
    speeds_ms = flow_m3s / (stream.bed_m * depth_m)
    heads_m = speeds_ms**2 / (2.0 * weirs.GRAVITY_MS2)
    lost_m = float(level_m[0] + heads_m[0] - level_m[-1] - heads_m[-1])
    fastest = int(np.argmin(depth_m))
    wave_ms = float(np.sqrt(weirs.GRAVITY_MS2 * depth_m[fastest]))
    shear_pa = channels.bed_shear(depths_m[0], max(lost_m, 0.0) / (reach.to_m - reach.from_m))
    return RiffleWater(
        sequence=reach.sequence,
        depth_m=depths_m[0],
        low_depth_m=min(depths_m),
        high_depth_m=max(depths_m),
        velocity_ms=float(speeds_ms[fastest]),
        froude=float(speeds_ms[fastest]) / wave_ms,
        shear_pa=shear_pa,
        stone_m=channels.stable_stone(shear_pa, levels.shields_number, levels.specific_gravity),
    )
