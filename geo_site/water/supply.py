"""The pipe between the pump and the spillway."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from geo_site import pipes
from geo_site.layout import Layout
from geo_site.water.records import WaterParameters

__all__ = ["Pipe", "choose_pipe"]


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
