"""The pumps that the user gave, put to work on this lift.

Question
    Which of these pumps gives the flow wanted with the least power, and what does it cost to run?
In
    Pump curves, the head that the system asks at a flow, the flow wanted, settings.
Out
    :class:`PumpStudy`: every pump at every speed, and the choice.
Method
    Operating point of each; of those whose flow is near enough to the flow wanted, the one with
    the least electric power. Nothing is claimed beyond a curve, and nothing of suction (NPSH).
Reference
    As `geo_site.pumps`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from geo_site import pumps
from geo_site.pumps import NoPoint, OperatingPoint, PumpCurve
from geo_site.water.lifting_settings import PumpParameters

__all__ = ["PumpAnswer", "PumpStudy", "study_pumps"]

_ABSURD_EFFICIENCY = 0.85  # wire to water: no pump of this size comes near it
_NAMED = 3

Fit = Literal["enough", "too_little", "too_much", "no_point"]


@dataclass(frozen=True, kw_only=True)
class PumpAnswer:
    """One pump at one speed.

    Attributes
    ----------
    pump : str
        As the user calls it.
    speed_ratio : float
        Speed over that of its curve.
    speed_rpm : float
        NaN where it is not told.
    is_assumed : bool
        Whether its curve was drawn through one point.
    shutoff_head_m : float
        At no flow; NaN where the curve does not begin there.
    least_flow_m3s, greatest_flow_m3s : float
        Ends of its curve.
    point : OperatingPoint or None
        Where it meets the system.
    fit : {"enough", "too_little", "too_much", "no_point"}
        Against the flow wanted.
    reason : str
        Why that is so, a clause.
    energy_kwh : float
        Taken in a year; NaN where no power is told.
    yearly_cost : float
        Of that; NaN without a price of electricity.
    """

    pump: str
    speed_ratio: float
    speed_rpm: float
    is_assumed: bool
    shutoff_head_m: float
    least_flow_m3s: float
    greatest_flow_m3s: float
    point: OperatingPoint | None
    fit: Fit
    reason: str
    energy_kwh: float
    yearly_cost: float

    @property
    def told(self) -> str:
        """Name, with the speed where it is not that of the curve."""
        return self.pump if self.speed_ratio == 1.0 else f"{self.pump} at {self.speed_ratio:.0%}"


@dataclass(frozen=True, kw_only=True)
class PumpStudy:
    """Every pump on this lift.

    Attributes
    ----------
    wanted_flow_m3s : float
        Flow wanted.
    answers : tuple of PumpAnswer
        In the user's order, each at every speed.
    chosen : PumpAnswer or None
        None where none fits.
    warnings : tuple of str
        A sentence each.
    """

    wanted_flow_m3s: float
    answers: tuple[PumpAnswer, ...]
    chosen: PumpAnswer | None
    warnings: tuple[str, ...]


def study_pumps(
    curves: Sequence[PumpCurve],
    system_head: Callable[[float], float],
    wanted_flow_m3s: float,
    parameters: PumpParameters,
    energy_price: float = math.nan,
) -> PumpStudy:
    """Put every pump to work, and choose one.

    Parameters
    ----------
    curves : sequence of PumpCurve
        The user's.
    system_head : callable
        Head in m that the system asks at a flow in m3/s, the lift included.
    wanted_flow_m3s : float
        Flow wanted, greater than 0.
    parameters : PumpParameters
        Speeds, tolerance, hours.
    energy_price : float
        Money for a kilowatt hour; NaN: not known.

    Returns
    -------
    PumpStudy
        The choice takes the least electric power; one whose power is not told is chosen only
        where no other fits, the nearest to the flow wanted first.
    """
    answers = tuple(
        _answer(curve, ratio, system_head, wanted_flow_m3s, (parameters, energy_price))
        for curve in curves
        for ratio in parameters.speeds
    )
    fit = [answer for answer in answers if answer.fit == "enough"]
    chosen = min(fit, key=lambda answer: _preference(answer, wanted_flow_m3s), default=None)
    return PumpStudy(
        wanted_flow_m3s=wanted_flow_m3s,
        answers=answers,
        chosen=chosen,
        warnings=tuple(_warnings(answers, chosen, wanted_flow_m3s)),
    )


def _answer(
    curve: PumpCurve,
    ratio: float,
    system_head: Callable[[float], float],
    wanted_m3s: float,
    running: tuple[PumpParameters, float],
) -> PumpAnswer:
    parameters, energy_price = running
    moved = pumps.at_speed(curve, ratio)
    met = pumps.operating_point(moved, system_head)
    point = met if isinstance(met, OperatingPoint) else None
    fit, reason = _fit(met, wanted_m3s, parameters)
    power_w = math.nan if point is None else point.power_w
    energy_kwh = pumps.energy_kwh(power_w, parameters.hours_per_day)
    starts_at_rest = moved.flows_m3s[0] == 0.0
    return PumpAnswer(
        pump=curve.name,
        speed_ratio=ratio,
        speed_rpm=moved.speed_rpm,
        is_assumed=curve.is_assumed,
        shutoff_head_m=moved.heads_m[0] if starts_at_rest else math.nan,
        least_flow_m3s=min(moved.flows_m3s),
        greatest_flow_m3s=max(moved.flows_m3s),
        point=point,
        fit=fit,
        reason=reason,
        energy_kwh=energy_kwh,
        yearly_cost=energy_kwh * energy_price,
    )


def _fit(
    met: OperatingPoint | NoPoint, wanted_m3s: float, parameters: PumpParameters
) -> tuple[Fit, str]:
    if isinstance(met, NoPoint):
        return "no_point", met.reason
    told = f"it gives {1000 * met.flow_m3s:.2f} L/s at {met.head_m:.2f} m"
    part = met.flow_m3s / wanted_m3s - 1.0
    if part < -parameters.flow_tolerance:
        return "too_little", f"{told}, {-part:.0%} less than is wanted"
    if part > parameters.greatest_excess:
        return "too_much", f"{told}, {part:.0%} more than is wanted: throttle it or run it slower"
    return "enough", told


def _preference(answer: PumpAnswer, wanted_m3s: float) -> tuple[bool, float]:
    point = answer.point
    if point is None:
        return True, math.inf
    if math.isnan(point.power_w):
        return True, abs(point.flow_m3s - wanted_m3s)
    return False, point.power_w


def _warnings(
    answers: tuple[PumpAnswer, ...], chosen: PumpAnswer | None, wanted_m3s: float
) -> list[str]:
    if not answers:
        return []
    if chosen is None or chosen.point is None:
        listed = "; ".join(f"{answer.told}: {answer.reason}" for answer in answers[:_NAMED])
        more = f"; and {len(answers) - _NAMED} more" if len(answers) > _NAMED else ""
        return [
            f"None of the pumps given fits {1000 * wanted_m3s:.2f} L/s on this lift. "
            f"{listed}{more}."
        ]
    told = []
    if chosen.is_assumed:
        told.append(f"The curve of {chosen.pump} is assumed through one point: ask for its sheet.")
    if math.isnan(chosen.point.power_w):
        told.append(f"The power of {chosen.pump} is not told: what it costs to run is not known.")
    if chosen.point.efficiency > _ABSURD_EFFICIENCY:
        told.append(
            f"{chosen.pump} would turn {chosen.point.efficiency:.0%} of its power into lifted "
            f"water, more than pumps do: check the units of its curve."
        )
    return told
