"""The pipe from the pump to the spillway: every size, what each costs in head, and the choice.

Question
    Which pipe, what does it take of the pump's head, and what would the next size save?
In
    The route in space, the flow, settings, and the user's prices if there are any.
Out
    :class:`Lift`.
Method
    Darcy-Weisbach with Colebrook's factor, Hazen-Williams beside it; K of each fitting, bends
    counted from the route's angles. Of the sizes under the velocity limit the one that costs
    least with its energy, where pipe and energy have prices; else the smallest.
Reference
    As `geo_site.pipes`.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString

from geo_site import pipes, pumps
from geo_site.prices import PriceList
from geo_site.pumps import PumpCurve
from geo_site.water.lifting_records import (
    BOUGHT_FITTINGS,
    Fitting,
    Lift,
    Pipe,
    PipeSize,
)
from geo_site.water.lifting_settings import PipeParameters
from geo_site.water.pumping import PumpStudy, study_pumps
from geo_site.water.records import WaterParameters

__all__ = ["ENERGY_ITEM", "bends", "choose_pipe", "with_pumps"]

ENERGY_ITEM = "electricity"
"""Item of the price list that a kilowatt hour is looked up under."""

_EIGHTH_DEG = 45.0
_NO_MONEY = math.nan


def choose_pipe(
    route: LineString,
    flow_m3s: float,
    parameters: WaterParameters,
    prices: PriceList | None = None,
    risers_m: float = 0.0,
) -> Lift:
    """Look at every size of pipe on a route and choose one.

    Parameters
    ----------
    route : shapely.LineString
        With Z, pump first.
    flow_m3s : float
        Flow wanted, greater than 0.
    parameters : WaterParameters
        Velocity limit, pipe and running cost.
    prices : PriceList, optional
        The user's: ``pipe 2 in`` for each size in m, ``elbow 90 2 in`` and the like by count,
        ``electricity`` in kWh.
    risers_m : float
        Pipe that the route does not show: from the pump up to it, and from it up to the outlet.

    Returns
    -------
    Lift
        The size named by the user; else the cheapest of those under the limit, where prices
        are known; else the smallest of those; else the largest there is.
    """
    angles = bends(route, parameters.pipe)
    fittings = _fittings(angles, parameters.pipe)
    loss = parameters.minor_losses
    if loss is None:
        loss = math.fsum(fitting.count * fitting.loss_coefficient for fitting in fittings)
    xyz = shapely.get_coordinates(route, include_z=True)
    length_m = float(np.linalg.norm(np.diff(xyz, axis=0), axis=1).sum())
    length_m += risers_m + parameters.pipe.extra_length
    trial = _Trial(
        flow_m3s=flow_m3s,
        length_m=length_m,
        fittings=fittings,
        loss=loss,
        parameters=parameters,
        prices=prices,
    )
    sizes = _sizes(trial)
    chosen, is_cheapest, basis = _choice(sizes, trial)
    return Lift(
        flow_m3s=flow_m3s,
        pipe=_pipe(chosen, trial),
        sizes=sizes,
        fittings=fittings,
        bend_angles_deg=angles,
        is_cheapest=is_cheapest,
        basis=basis,
        warnings=_warnings(chosen, sizes, trial),
    )


def with_pumps(
    lift: Lift,
    curves: Sequence[PumpCurve],
    static_lift_m: Callable[[float], float],
    parameters: WaterParameters,
    prices: PriceList | None = None,
) -> Lift:
    """Put the user's pumps to work on a pipe that was chosen.

    Parameters
    ----------
    lift : Lift
        The pipe.
    curves : sequence of PumpCurve
        The user's; with none the lift stays as it is.
    static_lift_m : callable
        Lift in m at a flow in m3/s: the water level behind the lip less that in the basin.
    parameters : WaterParameters
        Speeds, tolerance, hours.
    prices : PriceList, optional
        The user's: ``electricity`` in kWh.

    Returns
    -------
    Lift
        With its pumps.
    """
    if not curves:
        return lift
    price = math.nan if prices is None else prices.price_of(ENERGY_ITEM, "kWh")
    study = study_pumps(curves, lift.system(static_lift_m), lift.flow_m3s, parameters.pump, price)
    return replace(
        lift, pumps=study, warnings=(*lift.warnings, *_too_fast(lift, study, parameters))
    )


def _too_fast(lift: Lift, study: PumpStudy, parameters: WaterParameters) -> list[str]:
    """The pump may give more than the pipe was chosen for."""
    point = study.chosen.point if study.chosen is not None else None
    if point is None or not lift.size.is_within_limit:
        return []
    speed_ms = pipes.velocity(point.flow_m3s, lift.pipe.inside_diameter_m)
    if speed_ms <= parameters.pipe_velocity_limit:
        return []
    return [
        f"At the {1000 * point.flow_m3s:.2f} L/s that the pump gives, the water runs at "
        f"{speed_ms:.1f} m/s in {lift.pipe.nominal} in pipe, past the usual limit of "
        f"{parameters.pipe_velocity_limit:.1f} m/s."
    ]


def bends(route: LineString, parameters: PipeParameters) -> tuple[float, ...]:
    """Angles in plan between the straight lengths that follow a route, degrees.

    Parameters
    ----------
    route : shapely.LineString
        Pump first.
    parameters : PipeParameters
        How far the lengths may lie off the route, and the bend that takes no fitting.

    Returns
    -------
    tuple of float
        Those of at least ``least_bend``, pump first.
    """
    xy = shapely.get_coordinates(shapely.simplify(route, parameters.bend_tolerance))
    steps = np.diff(xy, axis=0)
    headings = np.degrees(np.arctan2(steps[:, 1], steps[:, 0]))
    turns = np.abs((np.diff(headings) + 180.0) % 360.0 - 180.0)
    return tuple(float(turn) for turn in turns if turn >= parameters.least_bend)


def _fittings(angles: tuple[float, ...], parameters: PipeParameters) -> tuple[Fitting, ...]:
    """Each bend in eighths of a turn: one is a 45 degree elbow, two are a 90."""
    counts = Counter(parameters.fittings)
    for angle_deg in angles:
        quarters, eighths = divmod(max(round(angle_deg / _EIGHTH_DEG), 1), 2)
        counts["elbow_90"] += quarters
        counts["elbow_45"] += eighths
    return tuple(
        Fitting(kind=kind, count=counts[kind], loss_coefficient=loss)
        for kind, loss in pipes.FITTING_LOSSES.items()
        if counts[kind]
    )


@dataclass(frozen=True, kw_only=True)
class _Trial:
    """What all sizes have in common."""

    flow_m3s: float
    length_m: float
    fittings: tuple[Fitting, ...]
    loss: float
    parameters: WaterParameters
    prices: PriceList | None

    @property
    def viscosity_m2s(self) -> float:
        return pipes.water_viscosity(self.parameters.pipe.temperature)

    @property
    def counts_fittings(self) -> bool:
        """Whether the user prices the fittings of any size: then of all that are compared."""
        priced = [_fittings_cost(size, self) for size in pipes.SCHEDULE_40_INSIDE_M]
        return any(math.isfinite(cost) for cost in priced)

    def price_of(self, item: str, unit: str) -> float:
        """Money for one unit; NaN where there is no price."""
        return _NO_MONEY if self.prices is None else self.prices.price_of(item, unit)


def _sizes(trial: _Trial) -> tuple[PipeSize, ...]:
    """Every size, the smallest first, each with what the next would save."""
    known = sorted(pipes.SCHEDULE_40_INSIDE_M.items(), key=lambda size: size[1])
    sizes = [_size(nominal, diameter_m, trial) for nominal, diameter_m in known]
    saved_m = [size.lost_m - above.lost_m for size, above in pairwise(sizes)]
    told = [
        replace(size, next_saves_m=head_m, next_saves_w=pumps.water_power(trial.flow_m3s, head_m))
        for size, head_m in zip(sizes, saved_m, strict=False)
    ]
    return (*told, sizes[-1])


def _size(nominal: str, diameter_m: float, trial: _Trial) -> PipeSize:
    used, flow_m3s = trial.parameters, trial.flow_m3s
    speed_ms = pipes.velocity(flow_m3s, diameter_m)
    friction_m = pipes.friction_loss(
        flow_m3s, diameter_m, trial.length_m, used.pipe.roughness, trial.viscosity_m2s
    )
    minor_m = pipes.minor_loss(flow_m3s, diameter_m, trial.loss)
    return PipeSize(
        nominal=nominal,
        inside_diameter_m=diameter_m,
        velocity_ms=speed_ms,
        friction_loss_m=friction_m,
        hazen_williams_loss_m=pipes.hazen_williams_loss(
            flow_m3s, diameter_m, trial.length_m, used.pipe.hazen_williams
        ),
        minor_loss_m=minor_m,
        next_saves_m=math.nan,
        next_saves_w=math.nan,
        is_within_limit=speed_ms <= used.pipe_velocity_limit,
        pipe_cost=trial.price_of(f"pipe {nominal} in", "m") * trial.length_m
        + (_fittings_cost(nominal, trial) if trial.counts_fittings else 0.0),
        energy_cost=_energy_cost(friction_m + minor_m, trial),
    )


def _fittings_cost(nominal: str, trial: _Trial) -> float:
    """Money for the fittings of one size; NaN where one of them has no price."""
    return math.fsum(
        fitting.count * trial.price_of(f"{BOUGHT_FITTINGS[fitting.kind]} {nominal} in", "count")
        for fitting in trial.fittings
        if fitting.kind in BOUGHT_FITTINGS
    )


def _energy_cost(lost_m: float, trial: _Trial) -> float:
    """Money for the energy that the head lost takes over the years, as of now."""
    running = trial.parameters.pump
    power_w = pumps.water_power(trial.flow_m3s, lost_m) / running.assumed_efficiency
    yearly = pumps.energy_kwh(power_w, running.hours_per_day) * trial.price_of(ENERGY_ITEM, "kWh")
    return yearly * pumps.annuity(running.discount_rate, running.years)


def _choice(sizes: tuple[PipeSize, ...], trial: _Trial) -> tuple[PipeSize, bool, str]:
    """The size, whether it is the cheapest, and how it was chosen."""
    named = trial.parameters.pipe.nominal
    if named is not None:
        return next(size for size in sizes if size.nominal == named), False, "The size is given."
    fit = [size for size in sizes if size.is_within_limit]
    if not fit:
        return sizes[-1], False, "No size listed keeps the velocity limit: the largest is taken."
    priced = [size for size in fit if math.isfinite(size.whole_cost)]
    if not priced:
        return fit[0], False, (
            "The smallest size under the velocity limit is taken; without prices of pipe and "
            "electricity no cheapest is claimed."
        )  # fmt: skip
    running = trial.parameters.pump
    cheapest = min(priced, key=lambda size: size.whole_cost)
    left_out = [f"{size.nominal} in" for size in fit if size not in priced]
    besides = f" ({', '.join(left_out)}: no price)" if left_out else ""
    parts = "with its fittings and" if trial.counts_fittings else "without its fittings, with"
    return cheapest, True, (
        f"Of the sizes under the velocity limit that have a price{besides} it costs least, {parts} "
        f"{running.years:g} years of energy for the head lost, at an assumed efficiency of "
        f"{running.assumed_efficiency:.0%}."
    )  # fmt: skip


def _pipe(size: PipeSize, trial: _Trial) -> Pipe:
    return Pipe(
        nominal=size.nominal,
        inside_diameter_m=size.inside_diameter_m,
        length_m=trial.length_m,
        roughness_m=trial.parameters.pipe.roughness,
        viscosity_m2s=trial.viscosity_m2s,
        velocity_ms=size.velocity_ms,
        friction_loss_m=size.friction_loss_m,
        minor_loss_m=size.minor_loss_m,
        loss_coefficient=trial.loss,
        content_m3=pipes.content(size.inside_diameter_m, trial.length_m),
    )


def _warnings(size: PipeSize, sizes: tuple[PipeSize, ...], trial: _Trial) -> tuple[str, ...]:
    told = []
    limit_ms = trial.parameters.pipe_velocity_limit
    if not size.is_within_limit and size is sizes[-1]:
        told.append(
            f"The water runs at {size.velocity_ms:.1f} m/s in the largest pipe listed "
            f"({size.nominal} in): lay more than one."
        )
    elif not size.is_within_limit:
        above = sizes[sizes.index(size) + 1]
        told.append(
            f"The water runs at {size.velocity_ms:.1f} m/s in {size.nominal} in pipe, past the "
            f"usual limit of {limit_ms:.1f} m/s: common on short runs, but pipe and fittings "
            f"take {size.lost_m:.2f} m of head; {above.nominal} in would take "
            f"{above.lost_m:.2f} m and save {size.next_saves_m:.2f} m, "
            f"{size.next_saves_w:.0f} W of the water's power."
        )
    if not trial.parameters.pipe.fittings.get("check_valve"):
        back_m3 = pipes.content(size.inside_diameter_m, trial.length_m)
        told.append(
            f"No check valve: at each stop {1000 * back_m3:.0f} L run back through the pump, "
            f"and it starts against an empty pipe."
        )
    return tuple(told)
