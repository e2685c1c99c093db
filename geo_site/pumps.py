"""A pump on its curve: head and power at a flow, other speeds, and where it meets a system.

Question
    How much water does this pump give here, at which head, and with how much power?
In
    Points of a curve as the pump's sheet prints them (flow m3/s, head m, electric power W), and
    the head that the system asks at a flow.
Out
    :class:`OperatingPoint`, or :class:`NoPoint` with the reason.
Method
    Monotone interpolation between the points (Fritsch-Carlson), nothing beyond them; affinity
    laws for other speeds; a bracketed root (Brent) of pump head less system head.
Reference
    Fritsch and Carlson (1980), SIAM J. Numer. Anal. 17(2); EPANET 2 Users Manual (one-point
    curve, from memory); affinity laws as the Hydraulic Institute states them (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator

__all__ = [
    "WATER_DENSITY_KGM3",
    "NoPoint",
    "OperatingPoint",
    "PumpCurve",
    "annuity",
    "at_speed",
    "curve_fault",
    "energy_kwh",
    "one_point_curve",
    "operating_point",
    "water_power",
]

WATER_DENSITY_KGM3 = 998.2
"""Density of water at 20 degrees C, kg/m3 (from memory)."""
GRAVITY_MS2 = 9.80665
"""Standard acceleration of gravity, m/s2."""

_ONE_POINT_STEPS = 64  # of the parabola: interpolation is then off by less than 1e-4 of the head
_LEAST_POINTS = 2
_LOOKS = 64  # places at which the system is looked at before a root is trusted
_SAME_M = 1e-9  # heads nearer than this are one

Floats = NDArray[np.float64]
SystemHead = Callable[[float], float]
"""Head that a system asks at a flow: m3/s to m."""


@dataclass(frozen=True, kw_only=True)
class PumpCurve:
    """A pump's curve at one speed, by points.

    Attributes
    ----------
    name : str
        As the user calls the pump.
    flows_m3s : tuple of float
        Rising, at least two.
    heads_m : tuple of float
        Head at each flow.
    powers_w : tuple of float
        Electric power taken at each flow; empty where it is not told.
    speed_rpm : float
        Speed at which the points hold; NaN where it is not told.
    is_assumed : bool
        Whether the curve was drawn through one stated point.
    """

    name: str
    flows_m3s: tuple[float, ...]
    heads_m: tuple[float, ...]
    powers_w: tuple[float, ...] = ()
    speed_rpm: float = math.nan
    is_assumed: bool = False

    def __post_init__(self) -> None:
        counts = {len(self.flows_m3s), len(self.heads_m), len(self.powers_w or self.flows_m3s)}
        if len(counts) != 1 or min(counts) < _LEAST_POINTS:
            raise ValueError("a pump curve has two or more points, each with flow and head")
        numbers = np.array([*self.flows_m3s, *self.heads_m, *self.powers_w])
        if not (np.isfinite(numbers).all() and (numbers >= 0.0).all()):
            raise ValueError("flows, heads and powers of a pump curve are at least 0")

    def head_at(self, flow_m3s: float) -> float:
        """Head at a flow, m; NaN beyond the curve's points."""
        return float(self._head(flow_m3s))

    def power_at(self, flow_m3s: float) -> float:
        """Electric power at a flow, W; NaN beyond the points or where no power is told."""
        return math.nan if self._power is None else float(self._power(flow_m3s))

    @cached_property
    def _head(self) -> PchipInterpolator:
        return _between(self.flows_m3s, self.heads_m)

    @cached_property
    def _power(self) -> PchipInterpolator | None:
        return _between(self.flows_m3s, self.powers_w) if self.powers_w else None


def _between(flows_m3s: tuple[float, ...], values: tuple[float, ...]) -> PchipInterpolator:
    # An eighth of a second, for those who give pumps.
    from scipy.interpolate import PchipInterpolator  # noqa: PLC0415

    return PchipInterpolator(flows_m3s, values, extrapolate=False)


@dataclass(frozen=True, kw_only=True)
class OperatingPoint:
    """Where a pump and a system meet.

    Attributes
    ----------
    flow_m3s, head_m : float
        Flow, and head of pump and system at it.
    power_w : float
        Electric power taken; NaN where the curve tells none.
    water_power_w : float
        Power that the water gets.
    efficiency : float
        Of that over the electric power ("wire to water"); NaN where no power is told.
    """

    flow_m3s: float
    head_m: float
    power_w: float
    water_power_w: float
    efficiency: float


@dataclass(frozen=True, kw_only=True)
class NoPoint:
    """A pump and a system do not meet where the curve is known.

    Attributes
    ----------
    reason : str
        One sentence.
    """

    reason: str


def one_point_curve(name: str, flow_m3s: float, head_m: float) -> PumpCurve:
    """Draw the curve that EPANET assumes through one point, `H = 4/3 Hd - 1/3 Hd (Q/Qd)^2`.

    Parameters
    ----------
    name
        The pump.
    flow_m3s, head_m
        The stated point, both greater than 0.

    Returns
    -------
    PumpCurve
        From shut-off to no head at twice the flow, marked as assumed.

    Raises
    ------
    ValueError
        If flow or head is not positive.

    References
    ----------
    EPANET 2 Users Manual, pump curves with one point (from memory).

    Examples
    --------
    >>> curve = one_point_curve("Pump A", 0.006, 6.0)
    >>> round(curve.head_at(0.0), 3), round(curve.head_at(0.006), 3), round(curve.head_at(0.012), 3)
    (8.0, 6.0, 0.0)
    """
    if not (flow_m3s > 0.0 and head_m > 0.0):
        raise ValueError("a pump's one point has a flow and a head above 0")
    shares = np.linspace(0.0, 2.0, _ONE_POINT_STEPS + 1)
    heads_m = np.maximum(head_m * (4.0 - shares**2) / 3.0, 0.0)
    return PumpCurve(
        name=name,
        flows_m3s=tuple(float(share) * flow_m3s for share in shares),
        heads_m=tuple(float(head) for head in heads_m),
        is_assumed=True,
    )


def at_speed(curve: PumpCurve, ratio: float) -> PumpCurve:
    """Curve of the same pump at another speed: `Q ~ N`, `H ~ N^2`, `P ~ N^3`.

    Parameters
    ----------
    curve
        At the speed at which it was measured.
    ratio
        New over old speed, greater than 0. Far from 1 the laws flatter the power.

    Returns
    -------
    PumpCurve
        Every point moved.

    Raises
    ------
    ValueError
        If the ratio is not positive.

    Examples
    --------
    >>> slow = at_speed(PumpCurve(name="A", flows_m3s=(0.0, 2.0), heads_m=(8.0, 4.0)), 0.5)
    >>> slow.flows_m3s, slow.heads_m
    ((0.0, 1.0), (2.0, 1.0))
    """
    if not (math.isfinite(ratio) and ratio > 0.0):
        raise ValueError(f"a speed over another is greater than 0, not {ratio!r}")
    return PumpCurve(
        name=curve.name,
        flows_m3s=tuple(ratio * flow for flow in curve.flows_m3s),
        heads_m=tuple(ratio**2 * head for head in curve.heads_m),
        powers_w=tuple(ratio**3 * power for power in curve.powers_w),
        speed_rpm=ratio * curve.speed_rpm,
        is_assumed=curve.is_assumed,
    )


def curve_fault(curve: PumpCurve) -> str:
    """Say why a curve gives no operating point; "" for a curve that does.

    Parameters
    ----------
    curve
        Any.

    Returns
    -------
    str
        A clause: it goes back in flow (and crosses itself), or its head rises.

    Examples
    --------
    >>> curve_fault(PumpCurve(name="A", flows_m3s=(0.0, 0.002), heads_m=(4.0, 5.0)))
    'its head rises between 0 and 2 L/s, so it may meet the system twice'
    """
    points = pairwise(zip(curve.flows_m3s, curve.heads_m, strict=True))
    for (flow, head), (next_flow, next_head) in points:
        span = f"between {1e3 * flow:.4g} and {1e3 * next_flow:.4g} L/s"
        if not next_flow > flow:
            return f"it goes back in flow {span} and crosses itself"
        if next_head > head:
            return f"its head rises {span}, so it may meet the system twice"
    return ""


def operating_point(curve: PumpCurve, system_head: SystemHead) -> OperatingPoint | NoPoint:
    """Find where a pump's head equals the head that the system asks.

    Parameters
    ----------
    curve
        The pump at its speed.
    system_head
        Head in m at a flow in m3/s: lift, friction and all else; called between the ends of the
        curve.

    Returns
    -------
    OperatingPoint or NoPoint
        No point where the curve rises or crosses itself, where its shut-off head does not reach
        the lift, where they meet beyond its last point or more than once: nothing is claimed
        beyond what the pump's sheet shows.

    Examples
    --------
    >>> curve = PumpCurve(name="A", flows_m3s=(0.0, 0.002, 0.004), heads_m=(8.0, 6.0, 4.0))
    >>> point = operating_point(curve, lambda flow_m3s: 3.0 + 1000.0 * flow_m3s)
    >>> round(point.flow_m3s, 9), round(point.head_m, 6)
    (0.0025, 5.5)
    >>> operating_point(curve, lambda flow_m3s: 9.0).reason
    'its shut-off head of 8.00 m does not reach the lift of 9.00 m: no water comes'
    """
    fault = curve_fault(curve)
    if fault:
        return NoPoint(reason=fault)
    flows = np.union1d(
        np.linspace(curve.flows_m3s[0], curve.flows_m3s[-1], _LOOKS), curve.flows_m3s
    )
    asked = np.array([system_head(float(flow)) for flow in flows])
    if not np.isfinite(asked).all():
        return NoPoint(reason="the head that the system asks is not known along its curve")
    excess = np.array([curve.head_at(float(flow)) for flow in flows]) - asked
    reason = _no_meeting(curve, flows, excess, asked)
    if reason:
        return NoPoint(reason=reason)
    return _meet(curve, system_head, flows, excess)


def _no_meeting(
    curve: PumpCurve,
    flows: Floats,
    excess: Floats,
    asked: Floats,
) -> str:
    """Why pump and system do not meet just once between the curve's ends; "" where they do."""
    least_ls, greatest_ls = 1e3 * flows[0], 1e3 * flows[-1]
    if excess[0] <= _SAME_M and flows[0] == 0.0:
        return (
            f"its shut-off head of {curve.heads_m[0]:.2f} m does not reach the lift of "
            f"{asked[0]:.2f} m: no water comes"
        )
    if excess[0] < 0.0:
        return (
            f"its head of {curve.heads_m[0]:.2f} m at {least_ls:.4g} L/s, the least flow of its "
            f"curve, is less than the {asked[0]:.2f} m asked there"
        )
    if excess[-1] > 0.0:
        return (
            f"it still gives {excess[-1]:.2f} m more than is asked at {greatest_ls:.4g} L/s, "
            f"where its curve ends: the flow lies beyond it and is not claimed"
        )
    signs = np.sign(excess[excess != 0.0])
    if np.count_nonzero(np.diff(signs)) > 1:
        return "it meets the system more than once"
    return ""


def _meet(
    curve: PumpCurve,
    system_head: SystemHead,
    flows: Floats,
    excess: Floats,
) -> OperatingPoint:
    """Close in on the one crossing."""
    from scipy.optimize import brentq  # noqa: PLC0415  # as above

    after = int(np.argmax(excess <= 0.0))
    if excess[after] == 0.0:
        flow_m3s = float(flows[after])
    else:
        bracket = float(flows[after - 1]), float(flows[after])
        found = brentq(lambda flow: curve.head_at(flow) - system_head(flow), *bracket, xtol=1e-14)
        flow_m3s = float(found)
    head_m = curve.head_at(flow_m3s)
    power_w, water_w = curve.power_at(flow_m3s), water_power(flow_m3s, head_m)
    return OperatingPoint(
        flow_m3s=flow_m3s,
        head_m=head_m,
        power_w=power_w,
        water_power_w=water_w,
        efficiency=water_w / power_w if power_w > 0.0 else math.nan,
    )


def water_power(flow_m3s: float, head_m: float) -> float:
    """Power that lifted water gets, `P = rho g Q H`.

    Parameters
    ----------
    flow_m3s
        Flow, m3/s.
    head_m
        Head, m.

    Returns
    -------
    float
        Power, W.

    Examples
    --------
    >>> round(water_power(0.0063090196, 6.096), 1)
    376.5
    """
    return WATER_DENSITY_KGM3 * GRAVITY_MS2 * flow_m3s * head_m


def energy_kwh(power_w: float, hours_each_day: float, days: float = 365.0) -> float:
    """Energy of a load that runs some hours each day.

    Parameters
    ----------
    power_w
        Electric power, W.
    hours_each_day
        Hours a day, 0 to 24.
    days
        Days counted.

    Returns
    -------
    float
        Energy, kWh.

    Examples
    --------
    >>> energy_kwh(753.0, 24.0, 1.0)
    18.072
    """
    return power_w / 1000.0 * hours_each_day * days


def annuity(rate: float, years: float) -> float:
    """Present value of 1 paid at the end of each year, `(1 - (1 + r)^-n) / r`.

    Parameters
    ----------
    rate
        Discount rate a year, at least 0; at 0 the years are simply counted.
    years
        Number of years, at least 0.

    Returns
    -------
    float
        Factor on a yearly cost.

    Raises
    ------
    ValueError
        If rate or years are negative.

    Examples
    --------
    >>> annuity(0.0, 10.0), round(annuity(0.05, 10.0), 4)
    (10.0, 7.7217)
    """
    if not (rate >= 0.0 and years >= 0.0):
        raise ValueError("a discount rate and a number of years are at least 0")
    return years if rate == 0.0 else -math.expm1(-years * math.log1p(rate)) / rate
