"""The whole water of a layout: what runs, what is kept, and whether that is enough."""

from __future__ import annotations

import math

from shapely import union_all

from geo_site import weirs
from geo_site.layout import Layout
from geo_site.siting import BasinDesign, Placement
from geo_site.water.lifting import choose_pipe
from geo_site.water.losses import losses
from geo_site.water.records import Water, WaterParameters
from geo_site.water.running import Running, run, wanted_flow
from geo_site.water.store import Store, store

__all__ = ["work_out"]

_STONY_DEPTH_M = 0.10  # Manning's n is not known for water no deeper than its stones


def work_out(
    layout: Layout, design: BasinDesign, placement: Placement, parameters: WaterParameters
) -> Water:
    """Work out flow, levels, volumes and pipe of a stream and its basin.

    Parameters
    ----------
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
    running = run(layout, wanted_flow(layout, parameters).flow_m3s, parameters)
    kept = store(design, placement, parameters)
    lift = choose_pipe(layout.pipe, running.flow_m3s, parameters)
    pipe = lift.pipe
    standing_m3 = sum(pool.standing_m3 for pool in running.pools)
    moving_m3 = sum(reach.volume_m3 for reach in running.reaches) - standing_m3
    wet_m2 = union_all([layout.bed, *(pool.geometry for pool in layout.pools)]).area
    losses_m3, reserve_m3 = losses(wet_m2, parameters), parameters.reserve * moving_m3
    required_m3 = moving_m3 + pipe.content_m3 + losses_m3 + reserve_m3
    low_m3s, high_m3s = _flow_range(running, parameters)
    static_m = running.spillway_level_m - kept.lowest_m
    return Water(
        flow_m3s=running.flow_m3s,
        flow_low_m3s=low_m3s,
        flow_high_m3s=high_m3s,
        head_m=running.head_m,
        reaches=running.reaches,
        falls=running.falls,
        pools=running.pools,
        standing_m3=standing_m3,
        moving_m3=moving_m3,
        pipe_m3=pipe.content_m3,
        stored_m3=kept.stored_m3,
        usable_m3=kept.usable_m3,
        gravel_m3=kept.gravel_m3,
        losses_m3=losses_m3,
        reserve_m3=reserve_m3,
        required_m3=required_m3,
        water_level_m=kept.full_m,
        running_level_m=kept.full_m - (moving_m3 + pipe.content_m3) / kept.net_m2,
        lowest_level_m=kept.lowest_m,
        spillway_level_m=running.spillway_level_m,
        static_lift_m=static_m,
        pipe_nominal=pipe.nominal,
        pipe_inside_diameter_m=pipe.inside_diameter_m,
        pipe_velocity_ms=pipe.velocity_ms,
        pipe_length_m=pipe.length_m,
        friction_head_m=pipe.lost_m,
        total_head_m=static_m + pipe.lost_m,
        warnings=(
            *_basin_warnings(kept, required_m3, parameters),
            *_running_warnings(running),
            *lift.warnings,
        ),
    )


def _flow_range(running: Running, parameters: WaterParameters) -> tuple[float, float]:
    """A stone lip is nearer a broad one; at low heads no lip formula was tested."""
    if parameters.pump_flow is not None:
        return running.flow_m3s, running.flow_m3s
    low, high = weirs.BROAD_COEFFICIENT / weirs.FRANCIS_COEFFICIENT, 1.0
    if running.head_m < weirs.LEAST_TESTED_HEAD_M:
        low, high = 1.0 - weirs.LOW_HEAD_UNCERTAINTY, 1.0 + weirs.LOW_HEAD_UNCERTAINTY
    return low * running.flow_m3s, high * running.flow_m3s


def _basin_warnings(kept: Store, required_m3: float, parameters: WaterParameters) -> list[str]:
    told = []
    if kept.usable_m3 < required_m3:
        each_m3 = kept.usable_m3 / kept.units
        more = math.ceil((required_m3 - kept.usable_m3) / each_m3 - 1e-9) if each_m3 > 0.0 else 0
        advice = f"{more} more units would do" if more else "the pump reaches none of it"
        told.append(
            f"The basin runs dry: {kept.usable_m3:.2f} m3 can be pumped and {required_m3:.2f} m3 "
            f"are needed; {advice}."
        )
    if parameters.splash_loss == 0.0:
        told.append("Water lost by splashing is taken as none: measure it on the finished stream.")
    return told


def _running_warnings(running: Running) -> list[str]:
    told = []
    if running.head_m < weirs.LEAST_TESTED_HEAD_M:
        told.append(
            f"The head of {running.head_m * 1000:.0f} mm on the lip is below the "
            f"{weirs.LEAST_TESTED_HEAD_M * 1000:.0f} mm at which the formula was tested: flow and "
            f"head may be off by {weirs.LOW_HEAD_UNCERTAINTY:.0%} of the flow."
        )
    riffles = [reach for reach in running.reaches if reach.kind == "riffle"]
    if any(reach.depth_m < _STONY_DEPTH_M for reach in riffles):
        told.append(
            "Riffles run no deeper than their stones: their depths and velocities are estimates "
            "that may be off by a factor."
        )
    rapid = [str(reach.sequence) for reach in riffles if reach.froude > 1.0]
    if rapid:
        told.append(f"The water is rapid (Froude over 1) on reach {', '.join(rapid)}.")
    if running.drowned:
        numbers = ", ".join(str(number) for number in running.drowned)
        told.append(f"The water below stands over the lip of fall {numbers}: it is drowned.")
    return told
