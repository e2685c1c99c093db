"""Levels along a channel: the energy equation from station to station.

References
----------
Chow (1959), Open-Channel Hydraulics, sections 9-6, 10-2 and 11-5 (standard step). Choice between
tranquil and rapid water by specific force, as in one-dimensional river models.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geo_site.channels.sections import GRAVITY_MS2, Trapezoid, critical_depth_of

__all__ = ["Channel", "Flowing", "Losses", "mixed", "rapid", "tranquil"]

Floats = NDArray[np.float64]

_ROUNDS = 80
_ENOUGH_M = 1e-11


@dataclass(frozen=True, kw_only=True)
class Channel:
    """Sections of a channel at stations, downstream.

    Attributes
    ----------
    station_m : ndarray, shape (n,)
        Distance along the channel, m, rising.
    bed_m : ndarray, shape (n,)
        Level of the bottom, m.
    bottom_m, side_run : ndarray, shape (n,)
        Width of the bottom, m; run over rise of both sides.
    roughness : ndarray, shape (n,)
        Manning's n, s/m^(1/3).
    """

    station_m: Floats
    bed_m: Floats
    bottom_m: Floats
    side_run: Floats
    roughness: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses:
    """Energy lost where a section changes, and how uneven the velocity is.

    Attributes
    ----------
    contraction, expansion
        Shares of the difference of velocity heads lost where the water gets faster or slower,
        counted between stations whose sections differ or whose bed steps more than 1 in 1.
    energy_coefficient
        Alpha of the velocity head, 1 for an even velocity.
    """

    contraction: float = 0.1
    expansion: float = 0.3
    energy_coefficient: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Flowing:
    """Depths of one flow along a channel.

    Attributes
    ----------
    depth_m : ndarray, shape (n,)
        Depth at each station.
    critical_m : ndarray, shape (n,)
        Critical depth there.
    energy_m : ndarray, shape (n,)
        Level of the energy line.
    friction_slope : ndarray, shape (n,)
        Fall of the energy line by friction.
    jumps_m : tuple of float
        Stations of hydraulic jumps.
    """

    depth_m: Floats
    critical_m: Floats
    energy_m: Floats
    friction_slope: Floats
    jumps_m: tuple[float, ...]


class _Station:
    """One section with one flow; plain numbers, for speed."""

    __slots__ = (
        "bed",
        "bottom",
        "carry",
        "critical",
        "kinetic",
        "manning",
        "moving",
        "run",
        "slant",
    )

    def __init__(self, channel: Channel, index: int, flow_m3s: float, alpha: float) -> None:
        self.bed = float(channel.bed_m[index])
        self.bottom = float(channel.bottom_m[index])
        self.run = float(channel.side_run[index])
        self.slant = 2.0 * math.hypot(1.0, self.run)
        self.kinetic = alpha * flow_m3s**2 / (2.0 * GRAVITY_MS2)
        self.moving = flow_m3s**2 / GRAVITY_MS2
        self.manning = (flow_m3s * float(channel.roughness[index])) ** 2
        self.critical = critical_depth_of(Trapezoid(self.bottom, self.run), flow_m3s, alpha)

    def force(self, depth: float) -> float:
        """Specific force at a depth; NaN at NaN."""
        area = (self.bottom + self.run * depth) * depth
        still = self.bottom * depth**2 / 2.0 + self.run * depth**3 / 3.0
        return self.moving / area + still

    def at(self, depth: float) -> tuple[float, float, float, float]:
        """Velocity head and friction slope at a depth, and how both grow with it."""
        area = (self.bottom + self.run * depth) * depth
        top = self.bottom + 2.0 * self.run * depth
        wetted = self.bottom + self.slant * depth
        head = self.kinetic / (area * area)
        friction = self.manning * (wetted / area) ** (4.0 / 3.0) / (area * area)
        head_grows = -2.0 * head * top / area
        friction_grows = friction * (4.0 / 3.0 * self.slant / wetted - 10.0 / 3.0 * top / area)
        return head, friction, head_grows, friction_grows


def tranquil(
    channel: Channel, flow_m3s: float, end_depth_m: float, losses: Losses | None = None
) -> Floats:
    r"""Depths of tranquil water, marched upstream from the last station.

    `z1 + y1 + a V1^2 / 2g = z2 + y2 + a V2^2 / 2g + L (Sf1 + Sf2) / 2 + C |a V2^2 - a V1^2| / 2g`.

    Parameters
    ----------
    channel
        Sections.
    flow_m3s
        Flow, m3/s, greater than 0.
    end_depth_m
        Depth at the last station, m; critical depth where it is less.
    losses
        Where sections change.

    Returns
    -------
    ndarray, shape (n,)
        Depths, m. Critical depth stands where no tranquil depth has the energy: there the
        water is controlled from upstream, or is rapid.

    Raises
    ------
    ValueError
        If the flow is not positive.

    Examples
    --------
    >>> level = np.zeros(2)
    >>> channel = Channel(station_m=np.array([0.0, 1.0]), bed_m=level, bottom_m=level + 1.0,
    ...                   side_run=level, roughness=level + 0.03)
    >>> tranquil(channel, 0.01, 0.10).round(5).tolist()
    [0.10025, 0.1]
    """
    losses = losses or Losses()
    return np.array(_tranquil(channel, _sections(channel, flow_m3s, losses), end_depth_m, losses))


def _tranquil(
    channel: Channel, sections: list[_Station], end_depth_m: float, losses: Losses
) -> list[float]:
    steps_m = np.diff(channel.station_m).tolist()
    depths = [0.0] * len(sections)
    depths[-1] = max(end_depth_m, sections[-1].critical)
    for i in range(len(sections) - 2, -1, -1):
        depths[i] = _upstream(sections[i], sections[i + 1], depths[i + 1], steps_m[i], losses)
    return depths


def _sections(channel: Channel, flow_m3s: float, losses: Losses) -> list[_Station]:
    if not flow_m3s > 0.0:
        raise ValueError(f"levels along a channel need a flow greater than 0, not {flow_m3s!r}")
    alpha = losses.energy_coefficient
    return [_Station(channel, i, flow_m3s, alpha) for i in range(len(channel.station_m))]


def _change(one: _Station, two: _Station, step_m: float, losses: Losses) -> tuple[float, float]:
    """Shares lost on contraction and on expansion between two sections."""
    alike = one.bottom == two.bottom and one.run == two.run
    if alike and abs(one.bed - two.bed) <= step_m:
        return 0.0, 0.0
    return losses.contraction, losses.expansion


def _upstream(
    here: _Station, below: _Station, depth: float, step_m: float, losses: Losses
) -> float:
    head_below, friction_below, _, _ = below.at(depth)
    contraction, expansion = _change(here, below, step_m, losses)
    wanted = below.bed + depth + head_below + 0.5 * step_m * friction_below

    def excess(y: float) -> tuple[float, float]:
        head, friction, head_grows, friction_grows = here.at(y)
        faster = head_below - head
        share = contraction if faster > 0.0 else -expansion
        over = here.bed + y + head - 0.5 * step_m * friction - share * faster - wanted
        return over, 1.0 + head_grows * (1.0 + share) - 0.5 * step_m * friction_grows

    if excess(here.critical)[0] >= 0.0:
        return here.critical
    first = max(below.bed + depth - here.bed, here.critical * 1.1)
    high = first + head_below
    while excess(high)[0] < 0.0:
        high += here.critical
    return _root(excess, here.critical, high, first)


def rapid(
    channel: Channel, flow_m3s: float, start_m: Floats, losses: Losses | None = None
) -> Floats:
    """Depths of rapid water, marched downstream from where it starts.

    Parameters
    ----------
    channel
        Sections.
    flow_m3s
        Flow, m3/s, greater than 0.
    start_m
        Depth, m, shape (n,), at stations where rapid water may start (critical depth, or a
        jet); NaN elsewhere.
    losses
        Where sections change.

    Returns
    -------
    ndarray, shape (n,)
        Depths, m, at most critical; NaN where the water has not the energy to be rapid.

    Raises
    ------
    ValueError
        If the flow is not positive.

    Examples
    --------
    >>> zero = np.zeros(2)
    >>> channel = Channel(station_m=np.array([0.0, 1.0]), bed_m=np.array([0.2, 0.0]),
    ...                   bottom_m=zero + 1.0, side_run=zero, roughness=zero + 0.03)
    >>> rapid(channel, 0.01, np.array([0.0217, np.nan])).round(4).tolist()
    [0.0217, 0.0109]
    """
    losses = losses or Losses()
    return np.array(_rapid(channel, _sections(channel, flow_m3s, losses), start_m, losses))


def _rapid(
    channel: Channel,
    sections: list[_Station],
    start_m: Floats,
    losses: Losses,
    slow: list[float] | None = None,
) -> list[float]:
    """Rapid depths; where slow water has the greater force, rapid water ends there."""
    steps_m = np.diff(channel.station_m).tolist()
    starts = np.minimum(start_m, [section.critical for section in sections]).tolist()
    depths: list[float] = []
    before = math.nan
    for i, section in enumerate(sections):
        found = math.nan
        if not math.isnan(before):
            found = _downstream(sections[i - 1], section, before, steps_m[i - 1], losses)
        depths.append(starts[i] if math.isnan(found) else found)
        before = depths[-1]
        if slow is not None and section.force(before) < section.force(slow[i]):
            before = math.nan
    return depths


def _downstream(
    above: _Station, here: _Station, depth: float, step_m: float, losses: Losses
) -> float:
    head_above, friction_above, _, _ = above.at(depth)
    contraction, expansion = _change(above, here, step_m, losses)
    there = above.bed + depth + head_above - 0.5 * step_m * friction_above

    def lacking(y: float) -> tuple[float, float]:
        head, friction, head_grows, friction_grows = here.at(y)
        faster = head - head_above
        share = contraction if faster > 0.0 else -expansion
        under = there - (here.bed + y + head + 0.5 * step_m * friction + share * faster)
        return under, -(1.0 + head_grows * (1.0 + share) + 0.5 * step_m * friction_grows)

    if lacking(here.critical)[0] < 0.0:
        return math.nan
    low = min(depth, here.critical)
    while lacking(low)[0] > 0.0:
        low *= 0.5
    return _root(lacking, low, here.critical, low)


def _root(
    function: Callable[[float], tuple[float, float]], low: float, high: float, first: float
) -> float:
    """Root of a function that rises through 0 in a bracket: Newton's steps, halved if astray."""
    y = first
    for _ in range(_ROUNDS):
        value, slope = function(y)
        if value < 0.0:
            low = y
        else:
            high = y
        step = value / slope if slope > 0.0 else math.inf
        following = y - step
        if not low <= following <= high:
            following = 0.5 * (low + high)
        if abs(following - y) <= _ENOUGH_M:
            return following
        y = following
    return y


def mixed(
    channel: Channel,
    flow_m3s: float,
    end_depth_m: float,
    start_depth_m: float = math.nan,
    losses: Losses | None = None,
) -> Flowing:
    """Depths where water may be tranquil, rapid, and jump from one to the other.

    Both kinds are worked out; at each station the one with the greater specific force stands.
    Rapid water that has jumped stays tranquil until the next control. A jump lies where the
    forces are alike (linear between stations).

    Parameters
    ----------
    channel
        Sections.
    flow_m3s
        Flow, m3/s, greater than 0.
    end_depth_m
        Depth at the last station of water held up from below, m; 0 for a free end.
    start_depth_m
        Depth of water that shoots in at the first station, m; NaN for none.
    losses
        Where sections change.

    Returns
    -------
    Flowing
        Depths and energy.

    Raises
    ------
    ValueError
        If the flow is not positive.

    Examples
    --------
    Down a steep bed onto a level one with still water at its end:

    >>> station = np.linspace(0.0, 4.0, 81)
    >>> bed = np.maximum(0.2 - 0.1 * station, 0.0)
    >>> flowing = mixed(Channel(station_m=station, bed_m=bed, bottom_m=0 * bed + 1.0,
    ...                 side_run=0 * bed, roughness=0 * bed + 0.03), 0.01, 0.1)
    >>> [round(jump, 1) for jump in flowing.jumps_m]
    [1.3]
    """
    losses = losses or Losses()
    sections = _sections(channel, flow_m3s, losses)
    critical = np.array([section.critical for section in sections])
    slowly = _tranquil(channel, sections, end_depth_m, losses)
    slow = np.array(slowly)
    starts = np.where(slow <= critical, critical, np.nan)
    if not math.isnan(start_depth_m):
        starts[0] = min(start_depth_m, critical[0])
    quick = np.array(_rapid(channel, sections, starts, losses, slowly))
    gain = _forces(channel, quick, flow_m3s) - _forces(channel, slow, flow_m3s)
    is_rapid = np.where(np.isnan(quick), False, gain >= 0.0) & (quick < critical)
    depth = np.where(is_rapid, quick, slow)
    energy, friction = _energy(channel, depth, flow_m3s, losses)
    return Flowing(
        depth_m=depth,
        critical_m=critical,
        energy_m=energy,
        friction_slope=friction,
        jumps_m=_jumps(channel.station_m, is_rapid, gain, slow > critical),
    )


def _forces(channel: Channel, depth: Floats, flow_m3s: float) -> Floats:
    area = (channel.bottom_m + channel.side_run * depth) * depth
    still = channel.bottom_m * depth**2 / 2.0 + channel.side_run * depth**3 / 3.0
    return np.asarray(flow_m3s**2 / (GRAVITY_MS2 * area) + still)


def _energy(
    channel: Channel, depth: Floats, flow_m3s: float, losses: Losses
) -> tuple[Floats, Floats]:
    area = (channel.bottom_m + channel.side_run * depth) * depth
    wetted = channel.bottom_m + 2.0 * depth * np.hypot(1.0, channel.side_run)
    speed = flow_m3s / area
    head = losses.energy_coefficient * speed**2 / (2.0 * GRAVITY_MS2)
    friction = (channel.roughness * speed) ** 2 * (wetted / area) ** (4.0 / 3.0)
    return np.asarray(channel.bed_m + depth + head), np.asarray(friction)


def _jumps(
    station: Floats, is_rapid: NDArray[np.bool_], gain: Floats, is_slow: NDArray[np.bool_]
) -> tuple[float, ...]:
    """Where rapid water meets tranquil water, by the forces on both sides."""
    found = []
    for i in np.flatnonzero(is_rapid[:-1] & ~is_rapid[1:] & is_slow[1:]):
        ahead = gain[i + 1] if np.isfinite(gain[i + 1]) else -gain[i]
        share = gain[i] / (gain[i] - ahead) if gain[i] > ahead else 0.0
        found.append(float(station[i] + share * (station[i + 1] - station[i])))
    return tuple(found)
