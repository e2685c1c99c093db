"""The whole water of a layout: what runs, what lifts it, what is kept, and if it is enough."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from shapely import get_coordinates

from geo_site.layout import Layout
from geo_site.site import Site
from geo_site.siting import BasinDesign, Placement
from geo_site.water.cycle import reservoirs_of
from geo_site.water.flow import Flow, wanted_flow
from geo_site.water.keeping import StreamWater, keep
from geo_site.water.lifting import choose_pipe, with_pumps
from geo_site.water.lifting_records import Lift
from geo_site.water.liner import Liner, liner_along
from geo_site.water.records import WaterParameters
from geo_site.water.results import Water
from geo_site.water.running import run, spillway_levels
from geo_site.water.store import store
from geo_site.water.stream_records import Running

__all__ = ["work_out"]

_LEVELS = 13


def work_out(
    site: Site,
    layout: Layout,
    design: BasinDesign,
    placement: Placement,
    parameters: WaterParameters,
) -> Water:
    """Work out flow, levels, volumes, pipe and pump of a stream and its basin.

    Parameters
    ----------
    site : Site
        The user's pumps and prices, the trees.
    layout : Layout
        The stream.
    design : BasinDesign
        The basin.
    placement : Placement
        Its place.
    parameters : WaterParameters
        Settings.

    Returns
    -------
    Water
        With a warning for each thing that does not work or is not known well.
    """
    lowest_m = store(design, placement, parameters).lowest_m
    wanted = wanted_flow(layout, parameters)
    running = run(layout, wanted.flow_m3s, parameters)
    risers_m = _risers(layout, lowest_m)
    lift = choose_pipe(layout.pipe, wanted.flow_m3s, parameters, site.prices, risers_m)
    if site.pumps:
        static_lift_m = _static_lift(site, layout, lowest_m, parameters)
        lift = with_pumps(lift, site.pumps, static_lift_m, parameters, site.prices)
    flow, lift = _settled(wanted, lift)
    if flow.flow_m3s != wanted.flow_m3s:
        running = run(layout, flow.flow_m3s, parameters)
    liner = liner_along(running.profile, layout, site.terrain)
    kept = keep(_stream(running, lift), layout, design, placement, site.trees, parameters)
    return Water(
        flow=replace(flow, head_m=running.head_m),
        running=running,
        liner=liner,
        lift=lift,
        kept=kept,
        static_lift_m=running.spillway_level_m - lowest_m,
        warnings=tuple(dict.fromkeys(_warnings(flow, running, liner, lift, kept.warnings))),
    )


def _risers(layout: Layout, lowest_m: float) -> float:
    """Pipe that stands upright: from the pump to the trench, and from it to the lip, m."""
    levels_m = get_coordinates(layout.pipe, include_z=True)[[0, -1], 2]
    up_m = (levels_m[0] - lowest_m, layout.lip_level_m - levels_m[1])
    return float(sum(max(rise_m, 0.0) for rise_m in up_m))


def _static_lift(
    site: Site, layout: Layout, lowest_m: float, parameters: WaterParameters
) -> Callable[[float], float]:
    """Lift at any flow that a pump can give: levels at some flows, smoothly between them.

    A pump's point is looked for with hundreds of flows, and levels along the stream take their
    time; between flows so near to each other they are off by less than a tenth of a millimetre.
    """
    # An eighth of a second, for those who give pumps.
    from scipy.interpolate import PchipInterpolator  # noqa: PLC0415

    most_m3s = max(max(curve.flows_m3s) for curve in site.pumps) * max(parameters.pump.speeds)
    flows_m3s = most_m3s * np.linspace(0.0, 1.0, _LEVELS) ** 3  # a head is a square of x then
    levels_m = [layout.lip_level_m, *spillway_levels(layout, flows_m3s[1:].tolist(), parameters)]
    level_m = PchipInterpolator(flows_m3s, levels_m)
    return lambda flow_m3s: float(level_m(flow_m3s)) - lowest_m


def _settled(wanted: Flow, lift: Lift) -> tuple[Flow, Lift]:
    """The flow that the pump chosen really gives; without one, the flow wanted."""
    study = lift.pumps
    if study is None or study.chosen is None or study.chosen.point is None:
        return wanted, lift
    flow_m3s = study.chosen.point.flow_m3s
    basis = f"{study.chosen.told} on this lift, wanted were {1000.0 * wanted.flow_m3s:.2f} L/s"
    given = replace(wanted, flow_m3s=flow_m3s, low_m3s=flow_m3s, high_m3s=flow_m3s, basis=basis)
    return given, replace(lift, pipe=lift.pipe.at_flow(flow_m3s))


def _stream(running: Running, lift: Lift) -> StreamWater:
    return StreamWater(
        flow_m3s=running.flow_m3s,
        reaches=reservoirs_of(running.reaches, [pool.standing_m3 for pool in running.pools]),
        pipe_content_m3=lift.pipe.content_m3,
        doubt_m3=max(running.high_moving_m3 - running.moving_m3, 0.0),
    )


def _warnings(
    flow: Flow, running: Running, liner: Liner, lift: Lift, of_the_basin: tuple[str, ...]
) -> Iterator[str]:
    yield from (flag.sentence for flag in running.flags if flag.is_refused)
    yield from of_the_basin
    yield from flow.notes
    yield from (flag.sentence for flag in running.flags if not flag.is_refused)
    yield from (flag.sentence for flag in liner.flags)
    yield from lift.warnings
    if lift.pumps is not None:
        yield from lift.pumps.warnings
