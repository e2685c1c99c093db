"""The water that is kept: what the basin holds, what is asked of it, and the pipe between."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geo_site import pipes
from geo_site.layout import Layout, LayoutParameters
from geo_site.siting import BasinDesign, Placement
from geo_site.water.records import WaterParameters
from geo_site.water.running import lip_flow, lip_head

__all__ = ["Pipe", "Store", "choose_pipe", "first_need", "losses", "store"]

_POOL_SHARE = 0.5  # of a stream's length, before there is one (common practice, no source)


def first_need(parameters: WaterParameters, layout_parameters: LayoutParameters) -> float:
    """Estimate what the basin must hold, before there is a stream.

    The moving water of a stream of the wanted fall at the usual slope, its bed filled to the
    running depth assumed and its pools (half of it) risen by the head on the lip, with a margin;
    the pipe's water; losses until the next refill; the reserve. What the pump cannot reach comes
    on top, for it is no use.

    Parameters
    ----------
    parameters : WaterParameters
        Settings of this step.
    layout_parameters : LayoutParameters
        Wanted fall, slope, widths.

    Returns
    -------
    float
        Volume, m3.
    """
    wanted = layout_parameters
    length_m = min(
        max(wanted.wanted_fall / wanted.usual_slope, wanted.least_length), wanted.greatest_length
    )
    flow_m3s = lip_flow(wanted.lip_width, parameters)
    head_m = lip_head(wanted.lip_width, flow_m3s, parameters.contracted_ends)
    bed_m2 = length_m * wanted.bed_width
    pools_m2 = _POOL_SHARE * bed_m2 * wanted.pool_widening
    moving_m3 = parameters.first_margin * (bed_m2 * parameters.first_depth + pools_m2 * head_m)
    _, diameter_m = _pipe_size(flow_m3s, parameters.pipe_velocity_limit)
    need_m3 = moving_m3 * (1.0 + parameters.reserve) + losses(bed_m2, parameters)
    need_m3 += _content(length_m, diameter_m)
    return need_m3 / (1.0 - parameters.first_unreachable)


def losses(wet_m2: float, parameters: WaterParameters) -> float:
    """Evaporation of a wet area and splash until the next refill, m3."""
    each_day_m3 = parameters.evaporation / 1000.0 * wet_m2 + parameters.splash_loss
    return each_day_m3 * parameters.days_between_fills


@dataclass(frozen=True, kw_only=True)
class Store:
    """What the basin holds in its place.

    Attributes
    ----------
    units : int
        Void units laid.
    net_m2 : float
        Water for each metre of depth in the units.
    full_m, lowest_m : float
        Level when full, and lowest that the pump can draw.
    stored_m3, usable_m3, gravel_m3 : float
        In the units; of that usable; in the gravel beside them, of use besides.
    """

    units: int
    net_m2: float
    full_m: float
    lowest_m: float
    stored_m3: float
    usable_m3: float
    gravel_m3: float


def store(design: BasinDesign, placement: Placement, parameters: WaterParameters) -> Store:
    """Fill the basin: to the units' top, or to the freeboard below the rim if that is lower."""
    arrangement = placement.arrangement
    units = arrangement.rows * arrangement.columns * design.layers
    net_m2 = design.stored_m3 / design.units * units / design.unit_height_m
    bottom_m = placement.floor_level_m + design.bedding_m
    top_m = bottom_m + design.unit_height_m
    full_m = min(placement.rim_level_m - parameters.freeboard, top_m)
    lowest_m = bottom_m + parameters.pump_reach
    beside_m2 = float(placement.pit_floor.area - placement.footprint.area)
    usable_m = max(full_m - lowest_m, 0.0)
    return Store(
        units=units,
        net_m2=net_m2,
        full_m=full_m,
        lowest_m=lowest_m,
        stored_m3=net_m2 * max(full_m - bottom_m, 0.0),
        usable_m3=net_m2 * usable_m,
        gravel_m3=parameters.gravel_void_ratio * beside_m2 * usable_m,
    )


@dataclass(frozen=True, kw_only=True)
class Pipe:
    """The pipe from the pump to the spillway.

    Attributes
    ----------
    nominal : str
        Nominal size, inches, schedule 40.
    diameter_m, length_m : float
        Inside diameter, and length in space.
    velocity_ms, friction_m : float
        Velocity, and head lost in pipe and fittings.
    content_m3 : float
        Water in it.
    """

    nominal: str
    diameter_m: float
    length_m: float
    velocity_ms: float
    friction_m: float
    content_m3: float


def choose_pipe(layout: Layout, flow_m3s: float, parameters: WaterParameters) -> Pipe:
    """Choose the smallest pipe under the velocity limit, or the largest there is."""
    nominal, diameter_m = _pipe_size(flow_m3s, parameters.pipe_velocity_limit)
    xyz = shapely.get_coordinates(layout.pipe, include_z=True)
    length_m = float(np.linalg.norm(np.diff(xyz, axis=0), axis=1).sum())
    return Pipe(
        nominal=nominal,
        diameter_m=diameter_m,
        length_m=length_m,
        velocity_ms=pipes.velocity(flow_m3s, diameter_m),
        friction_m=pipes.friction_loss(flow_m3s, diameter_m, length_m)
        + pipes.minor_loss(flow_m3s, diameter_m, parameters.minor_losses),
        content_m3=_content(length_m, diameter_m),
    )


def _pipe_size(flow_m3s: float, limit_ms: float) -> tuple[str, float]:
    sizes = sorted(pipes.SCHEDULE_40_INSIDE_M.items(), key=lambda size: size[1])
    wide = [size for size in sizes if pipes.velocity(flow_m3s, size[1]) <= limit_ms]
    return wide[0] if wide else sizes[-1]


def _content(length_m: float, diameter_m: float) -> float:
    return math.pi / 4.0 * diameter_m**2 * length_m
