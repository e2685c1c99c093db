"""What the choice of the pipe gives."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from geo_site import pipes
from geo_site.water.pumping import PumpStudy

__all__ = ["BOUGHT_FITTINGS", "Fitting", "Lift", "Pipe", "PipeSize"]

BOUGHT_FITTINGS: Mapping[str, str] = MappingProxyType(
    {
        "elbow_90_short": "elbow 90 short",
        "elbow_90": "elbow 90",
        "elbow_90_long": "elbow 90 long",
        "elbow_45": "elbow 45",
        "tee_run": "tee, run",
        "tee_branch": "tee, branch",
        "gate_valve_open": "gate valve",
        "check_valve": "check valve",
        "globe_valve_open": "globe valve",
        "angle_valve_open": "angle valve",
    }
)
"""Fittings that are bought, as lists and prices name them; entrance and exit are none."""


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """Fittings of one kind.

    Attributes
    ----------
    kind : str
        A key of :data:`geo_site.pipes.FITTING_LOSSES`.
    count : int
        How many.
    loss_coefficient : float
        K of one.
    """

    kind: str
    count: int
    loss_coefficient: float


@dataclass(frozen=True, kw_only=True)
class PipeSize:
    """One size at the flow wanted.

    Attributes
    ----------
    nominal : str
        Nominal size, inches, schedule 40.
    inside_diameter_m : float
        Inside.
    velocity_ms : float
        Of the water.
    friction_loss_m : float
        Lost along the pipe, Darcy-Weisbach.
    hazen_williams_loss_m : float
        The same by Hazen-Williams, as a check.
    minor_loss_m : float
        Lost in fittings.
    next_saves_m, next_saves_w : float
        Head, and power of the water, that the next size up would save; NaN for the largest.
    is_within_limit : bool
        Whether the water stays under the velocity limit.
    pipe_cost, energy_cost : float
        Of the pipe (and its fittings, where prices of fittings are given), and of the energy for
        the head lost over the years; NaN without a price.
    """

    nominal: str
    inside_diameter_m: float
    velocity_ms: float
    friction_loss_m: float
    hazen_williams_loss_m: float
    minor_loss_m: float
    next_saves_m: float
    next_saves_w: float
    is_within_limit: bool
    pipe_cost: float
    energy_cost: float

    @property
    def lost_m(self) -> float:
        """Head lost in pipe and fittings, m."""
        return self.friction_loss_m + self.minor_loss_m

    @property
    def whole_cost(self) -> float:
        """Pipe and energy together; NaN where one of them has no price."""
        return self.pipe_cost + self.energy_cost


@dataclass(frozen=True, kw_only=True)
class Pipe:
    """The pipe that is laid.

    Attributes
    ----------
    nominal : str
        Nominal size, inches, schedule 40.
    inside_diameter_m, length_m, roughness_m : float
        Its length is in space.
    viscosity_m2s : float
        Of the water.
    velocity_ms : float
        Of the water.
    friction_loss_m, minor_loss_m : float
        Head lost along it, and in its fittings.
    loss_coefficient : float
        Sum of K.
    content_m3 : float
        Water in it.
    """

    nominal: str
    inside_diameter_m: float
    length_m: float
    roughness_m: float
    viscosity_m2s: float
    velocity_ms: float
    friction_loss_m: float
    minor_loss_m: float
    loss_coefficient: float
    content_m3: float

    @property
    def lost_m(self) -> float:
        """Head lost in pipe and fittings, m."""
        return self.friction_loss_m + self.minor_loss_m

    def at_flow(self, flow_m3s: float) -> Pipe:
        """Give the same pipe at another flow."""
        along_m = pipes.friction_loss(
            flow_m3s, self.inside_diameter_m, self.length_m, self.roughness_m, self.viscosity_m2s
        )
        return replace(
            self,
            velocity_ms=pipes.velocity(flow_m3s, self.inside_diameter_m),
            friction_loss_m=along_m,
            minor_loss_m=pipes.minor_loss(flow_m3s, self.inside_diameter_m, self.loss_coefficient),
        )

    def head_lost(self, flow_m3s: float) -> float:
        """Head lost in pipe and fittings at another flow, m."""
        return self.at_flow(flow_m3s).lost_m


@dataclass(frozen=True, kw_only=True)
class Lift:
    """The pipe, every size that was looked at, and the pumps that were tried on it.

    Attributes
    ----------
    flow_m3s : float
        Flow that the pipe was chosen for.
    pipe : Pipe
        The choice.
    sizes : tuple of PipeSize
        All, the smallest first.
    fittings : tuple of Fitting
        Of the route's bends and of the settings.
    bend_angles_deg : tuple of float
        Bends of the route that take a fitting, pump first.
    is_cheapest : bool
        Whether it costs least of the sizes under the limit; False where prices are missing or
        the user named the size.
    basis : str
        How it was chosen, a sentence.
    warnings : tuple of str
        What does not work or is past what is usual, a sentence each.
    pumps : PumpStudy or None
        None where no pump was given.
    """

    flow_m3s: float
    pipe: Pipe
    sizes: tuple[PipeSize, ...]
    fittings: tuple[Fitting, ...]
    bend_angles_deg: tuple[float, ...]
    is_cheapest: bool
    basis: str
    warnings: tuple[str, ...]
    pumps: PumpStudy | None = None

    @property
    def size(self) -> PipeSize:
        """The size chosen."""
        return next(size for size in self.sizes if size.nominal == self.pipe.nominal)

    def system(self, static_lift_m: Callable[[float], float]) -> Callable[[float], float]:
        """Head that a pump must give at a flow: the lift at that flow, and what the pipe takes."""
        return lambda flow_m3s: static_lift_m(flow_m3s) + self.pipe.head_lost(flow_m3s)
