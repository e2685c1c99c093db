"""A start, a run and a stop, followed in time.

Question
    How far does the basin fall when the pump starts, does the pump draw air, how long until the
    stream is steady, and does the basin overflow when the pump stops?
In
    Plain numbers: flow, standing and moving water of each reach, pipe, :class:`BasinCurve`.
Out
    :class:`Cycle`: levels and volumes over time.
Method
    The pump fills the pipe, then the pools' hollows where they are empty, then each reach rises
    until it lets go what it gets: a chain of reservoirs whose outflow is a power of what they hold
    above the sill (:mod:`geo_site.cascade`), solved implicitly from the top down in each step. What
    leaves one place arrives in another in the same step, so all water is in the basin, the pipe,
    the hollows, on its way, leaked, overflowed or filled in, to rounding.
Reference
    Level-pool routing, Chow, Maidment and Mays (1988), Applied Hydrology, 8.2.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geo_site.cascade import LIP_POWER, RIFFLE_POWER, held_after
from geo_site.water.curve import BasinCurve
from geo_site.water.records import ReachWater, WaterParameters
from geo_site.water.store import Store

__all__ = ["Cycle", "CycleSetup", "Leak", "Reservoir", "follow", "reservoirs_of", "setup_of"]

_HOUR_S = 3600.0
_DAY_S = 86_400.0
_STEADY = 0.99  # of the flow comes out at the end
_SHARE = 0.004  # of what can be pumped or is under way, the most that one step moves
_FIRST_STEP_S = 0.25
_GROWTH = 1.08
_LONGEST_STEP_S = 120.0
_CALM = 8.0  # times what it takes to pump all that moves: then little changes
_CALM_STEPS = 12.0  # times the longest step before
_NOTHING_M3 = 1e-9


@dataclass(frozen=True, kw_only=True)
class Reservoir:
    """One reach as a reservoir.

    Attributes
    ----------
    standing_m3 : float
        Below its sill: stays when the pump stops.
    moving_m3 : float
        Above its sill at the steady flow.
    power : float
        Power of the water above the sill in its outflow.
    """

    standing_m3: float
    moving_m3: float
    power: float = LIP_POWER


@dataclass(frozen=True, kw_only=True)
class Leak:
    """Water lost through the liner.

    Attributes
    ----------
    basin_m3s, stream_m3s : float
        From the basin, always; from the stream's end, of what runs.
    from_s, until_s : float
        When, from the pump's start.
    """

    basin_m3s: float = 0.0
    stream_m3s: float = 0.0
    from_s: float = 0.0
    until_s: float = math.inf


@dataclass(frozen=True, kw_only=True)
class CycleSetup:
    """What is followed.

    Attributes
    ----------
    flow_m3s : float
        Of the pump.
    pipe_m3 : float
        Water that the pipe holds.
    reaches : tuple of Reservoir
        Downstream.
    curve : BasinCurve
        Of the basin.
    start_level_m, lowest_level_m : float
        Of the basin at the start, and below which the pump draws air.
    run_s, rest_s : float
        How long the pump runs, and then stands.
    return_m3s : float
        Greatest flow that the return gravel takes; the rest runs off over the basin.
    leak : Leak
        To be tried.
    pools_full : bool
        Whether the hollows hold their standing water at the start.
    pipe_holds : bool
        Whether a check valve keeps the pipe full while the pump stands.
    filled_while_running : bool
        Whether the basin is filled up to its start level just before the stop.
    """

    flow_m3s: float
    pipe_m3: float
    reaches: tuple[Reservoir, ...]
    curve: BasinCurve
    start_level_m: float
    lowest_level_m: float
    run_s: float
    rest_s: float
    return_m3s: float = math.inf
    leak: Leak = field(default_factory=Leak)
    pools_full: bool = True
    pipe_holds: bool = False
    filled_while_running: bool = False

    @cached_property
    def start_m3(self) -> float:
        """Water of the basin at the start, m3."""
        return self.curve.volume_of(self.start_level_m)

    @cached_property
    def lowest_m3(self) -> float:
        """Water of the basin below which the pump draws air, m3."""
        return self.curve.volume_of(self.lowest_level_m)


@dataclass(frozen=True, kw_only=True)
class Cycle:
    """What happened; the arrays have one entry for each moment of ``time_s``.

    Attributes
    ----------
    time_s : NDArray
        From the pump's start, rising.
    basin_level_m, basin_m3 : NDArray
        Level and water of the basin.
    in_pipe_m3, in_stream_m3, in_hollows_m3 : NDArray
        In the pipe; above the sills; below them.
    leaked_m3, overflowed_m3, filled_m3 : NDArray
        Lost through the liner, lost over the rim, and filled in, up to then.
    lowest_level_m, highest_level_m : float
        Of the basin.
    steady_s : float
        When 99 % of the flow came out at the stream's end; infinite: never.
    air_s : float
        When the pump first drew air; infinite: never.
    warnings : tuple of str
        What went wrong, a sentence each.
    """

    time_s: NDArray[np.float64]
    basin_level_m: NDArray[np.float64]
    basin_m3: NDArray[np.float64]
    in_pipe_m3: NDArray[np.float64]
    in_stream_m3: NDArray[np.float64]
    in_hollows_m3: NDArray[np.float64]
    leaked_m3: NDArray[np.float64]
    overflowed_m3: NDArray[np.float64]
    filled_m3: NDArray[np.float64]
    lowest_level_m: float
    highest_level_m: float
    steady_s: float
    air_s: float
    warnings: tuple[str, ...]

    @property
    def draws_air(self) -> bool:
        """Whether the pump drew air."""
        return math.isfinite(self.air_s)

    @property
    def overflows(self) -> bool:
        """Whether water left over the basin's rim."""
        return bool(self.overflowed_m3[-1] > _NOTHING_M3)


@dataclass
class _State:
    """Where the water is at one moment."""

    basin_m3: float
    pipe_m3: float
    hollows_m3: list[float]
    moving_m3: list[float]
    leaked_m3: float = 0.0
    overflowed_m3: float = 0.0
    filled_m3: float = 0.0
    out_m3s: float = 0.0
    is_air: bool = False


def reservoirs_of(
    reaches: Sequence[ReachWater], standing_m3: Sequence[float]
) -> tuple[Reservoir, ...]:
    """Make reservoirs of running reaches.

    Parameters
    ----------
    reaches : sequence of ReachWater
        Downstream.
    standing_m3 : sequence of float
        Of each pool, in the pools' order.

    Returns
    -------
    tuple of Reservoir
        One for each reach.

    Raises
    ------
    ValueError
        If there are not as many pools as standing volumes.
    """
    pools = [number for number, reach in enumerate(reaches) if reach.kind == "pool"]
    stands = dict(zip(pools, standing_m3, strict=True))
    return tuple(
        Reservoir(
            standing_m3=stands.get(number, 0.0),
            moving_m3=max(reach.volume_m3 - stands.get(number, 0.0), 0.0),
            power=RIFFLE_POWER if reach.kind == "riffle" else LIP_POWER,
        )
        for number, reach in enumerate(reaches)
    )


def setup_of(
    kept: Store,
    reaches: tuple[Reservoir, ...],
    flow_m3s: float,
    pipe_content_m3: float,
    parameters: WaterParameters,
) -> CycleSetup:
    """Put together what is followed: from the full basin, with the leak of the settings.

    Parameters
    ----------
    kept : Store
        The basin.
    reaches : tuple of Reservoir
        The stream.
    flow_m3s, pipe_content_m3 : float
        Flow of the pump, water that the pipe holds.
    parameters : WaterParameters
        Times, leak, check valve, whether the basin is topped up.

    Returns
    -------
    CycleSetup
        With a return that takes all; set ``return_m3s`` to try a clogged one.
    """
    asked = parameters.cycle
    return CycleSetup(
        flow_m3s=flow_m3s,
        pipe_m3=pipe_content_m3,
        reaches=reaches,
        curve=kept.curve,
        start_level_m=kept.full_m,
        lowest_level_m=kept.lowest_m,
        run_s=asked.run_time * _HOUR_S,
        rest_s=asked.rest_time * _HOUR_S,
        leak=Leak(
            basin_m3s=asked.basin_leak / _DAY_S,
            stream_m3s=asked.stream_leak / _DAY_S,
            from_s=asked.leak_from * _HOUR_S,
            until_s=asked.leak_until * _HOUR_S,
        ),
        pipe_holds=parameters.store.check_valve,
        filled_while_running=parameters.store.filled_while_running,
    )


def follow(setup: CycleSetup) -> Cycle:
    """Follow one start, run and stop.

    Parameters
    ----------
    setup : CycleSetup
        What is followed.

    Returns
    -------
    Cycle
        With warnings where the pump draws air or the basin overflows.

    Raises
    ------
    ValueError
        If the flow or a time is not above 0.

    Notes
    -----
    Of first order in time: while the stream fills or drains, the water under way is right within
    about 2 % of what moves at the steady flow. A pipe without check valve empties at once.
    """
    if not (setup.flow_m3s > 0.0 and setup.run_s > 0.0 and setup.rest_s > 0.0):
        raise ValueError("a cycle has a flow, a run and a rest above 0")
    state = _State(
        basin_m3=setup.start_m3,
        pipe_m3=setup.pipe_m3 if setup.pipe_holds else 0.0,
        hollows_m3=[r.standing_m3 if setup.pools_full else 0.0 for r in setup.reaches],
        moving_m3=[0.0 for _ in setup.reaches],
    )
    times_s = _moments(setup)
    rows, steady_s, air_s = [_row(state)], math.inf, math.inf
    for start_s, end_s in pairwise(times_s):
        _step(state, setup, start_s, end_s)
        rows.append(_row(state))
        running = end_s <= setup.run_s
        if running and state.is_air and math.isinf(air_s):
            air_s = end_s
        if running and state.out_m3s >= _STEADY * setup.flow_m3s and math.isinf(steady_s):
            steady_s = end_s
    return _told(setup, np.array(times_s), np.array(rows), steady_s, air_s)


def _moments(setup: CycleSetup) -> list[float]:
    """Ends of the steps: short after the start, the stop and when a leak begins or ends."""
    moving_m3 = sum(reach.moving_m3 for reach in setup.reaches) + setup.pipe_m3
    drawn_m3 = setup.start_m3 - setup.lowest_m3
    most_s = _SHARE * max(moving_m3, drawn_m3) / setup.flow_m3s
    most_s = min(max(most_s, 2.0 * _FIRST_STEP_S), _LONGEST_STEP_S)
    end_s = setup.run_s + setup.rest_s
    marks_s = {0.0, setup.run_s, end_s}
    marks_s |= {s for s in (setup.leak.from_s, setup.leak.until_s) if 0.0 < s < end_s}
    ordered_s, calm_s = sorted(marks_s), _CALM * moving_m3 / setup.flow_m3s
    times_s = [0.0]
    for begin_s, stop_s in pairwise(ordered_s):
        step_s, now_s = min(_FIRST_STEP_S, most_s), begin_s
        while now_s + 1.5 * step_s < stop_s:
            now_s += step_s
            times_s.append(now_s)
            cap_s = most_s if now_s < begin_s + calm_s else _CALM_STEPS * most_s
            step_s = min(step_s * _GROWTH, cap_s)
        times_s.append(stop_s)
    return times_s


def _step(state: _State, setup: CycleSetup, start_s: float, end_s: float) -> None:
    """Move the water of one step."""
    step_s, running = end_s - start_s, end_s <= setup.run_s
    leak_s = step_s if setup.leak.from_s <= start_s and end_s <= setup.leak.until_s else 0.0
    pumped_m3, out_m3 = _pump(state, setup, setup.flow_m3s * step_s if running else 0.0, step_s)
    state.out_m3s = out_m3 / step_s
    if not running and not setup.pipe_holds:
        state.basin_m3, state.pipe_m3 = state.basin_m3 + state.pipe_m3, 0.0
    _settle(state, setup, out_m3 - _leak(state, setup.leak.stream_m3s * leak_s, out_m3), step_s)
    state.basin_m3 -= pumped_m3
    state.basin_m3 -= _leak(state, setup.leak.basin_m3s * leak_s, max(state.basin_m3, 0.0))
    if end_s == setup.run_s and setup.filled_while_running:
        added_m3 = max(setup.start_m3 - state.basin_m3, 0.0)
        state.basin_m3, state.filled_m3 = state.basin_m3 + added_m3, state.filled_m3 + added_m3
    _spill(state, setup)


def _pump(
    state: _State, setup: CycleSetup, offered_m3: float, step_s: float
) -> tuple[float, float]:
    """Pump, as far as the basin lets; give what was pumped and what comes out at the end, m3."""
    kept = list(state.hollows_m3), list(state.moving_m3), state.pipe_m3
    pumped_m3 = min(offered_m3, max(state.basin_m3, 0.0))
    out_m3 = _run_down(state, setup, pumped_m3, step_s)
    back_m3 = min(out_m3, setup.return_m3s * step_s)
    short_m3 = setup.lowest_m3 - (state.basin_m3 - pumped_m3 + back_m3)
    state.is_air = pumped_m3 < offered_m3 or (offered_m3 > 0.0 and short_m3 > _NOTHING_M3)
    if offered_m3 > 0.0 and short_m3 > 0.0:  # it takes no more than comes back
        state.hollows_m3, state.moving_m3, state.pipe_m3 = kept
        pumped_m3 = max(pumped_m3 - short_m3, 0.0)
        out_m3 = _run_down(state, setup, pumped_m3, step_s)
    return pumped_m3, out_m3


def _run_down(state: _State, setup: CycleSetup, pumped_m3: float, step_s: float) -> float:
    """Pass the pumped water through pipe and reaches; give what comes out at the end, m3."""
    into_pipe_m3 = min(pumped_m3, max(setup.pipe_m3 - state.pipe_m3, 0.0))
    state.pipe_m3 += into_pipe_m3
    water_m3 = pumped_m3 - into_pipe_m3
    passed_m3, hollows_m3, moving_m3 = setup.flow_m3s * step_s, state.hollows_m3, state.moving_m3
    for number, reach in enumerate(setup.reaches):
        empty_m3, before_m3 = reach.standing_m3 - hollows_m3[number], moving_m3[number]
        if empty_m3 > 0.0:
            filling_m3 = min(water_m3, empty_m3)
            hollows_m3[number] += filling_m3
            water_m3 -= filling_m3
        offered_m3 = before_m3 + water_m3
        held_m3 = held_after(offered_m3, reach.moving_m3, passed_m3, reach.power, before_m3)
        moving_m3[number] = held_m3
        water_m3 = offered_m3 - held_m3
    return water_m3


def _leak(state: _State, asked_m3: float, there_m3: float) -> float:
    """Lose through the liner what is asked, as far as it is there; give it, m3."""
    gone_m3 = min(asked_m3, there_m3)
    state.leaked_m3 += gone_m3
    return gone_m3


def _settle(state: _State, setup: CycleSetup, arriving_m3: float, step_s: float) -> None:
    """Let the return gravel take what it can; the rest runs off."""
    taken_m3 = min(arriving_m3, setup.return_m3s * step_s)
    state.basin_m3 += taken_m3
    state.overflowed_m3 += arriving_m3 - taken_m3


def _spill(state: _State, setup: CycleSetup) -> None:
    over_m3 = state.basin_m3 - setup.curve.capacity_m3
    if over_m3 > 1e-12 * setup.curve.capacity_m3:
        state.basin_m3 -= over_m3
        state.overflowed_m3 += over_m3


def _row(state: _State) -> tuple[float, ...]:
    return (
        state.basin_m3,
        state.pipe_m3,
        sum(state.moving_m3),
        sum(state.hollows_m3),
        state.leaked_m3,
        state.overflowed_m3,
        state.filled_m3,
    )


def _told(
    setup: CycleSetup,
    times_s: NDArray[np.float64],
    rows: NDArray[np.float64],
    steady_s: float,
    air_s: float,
) -> Cycle:
    levels_m = np.interp(rows[:, 0], setup.curve.volumes_m3, setup.curve.levels_m)
    return Cycle(
        time_s=times_s,
        basin_level_m=levels_m,
        basin_m3=rows[:, 0],
        in_pipe_m3=rows[:, 1],
        in_stream_m3=rows[:, 2],
        in_hollows_m3=rows[:, 3],
        leaked_m3=rows[:, 4],
        overflowed_m3=rows[:, 5],
        filled_m3=rows[:, 6],
        lowest_level_m=float(levels_m.min()),
        highest_level_m=float(levels_m.max()),
        steady_s=steady_s,
        air_s=air_s,
        warnings=_warnings(rows, steady_s, air_s),
    )


def _warnings(rows: NDArray[np.float64], steady_s: float, air_s: float) -> tuple[str, ...]:
    told = []
    if math.isfinite(air_s):
        told.append(
            f"The pump draws air {air_s / 60.0:.0f} minutes after its start: the basin has not "
            "enough water for the stream to fill."
        )
    elif math.isinf(steady_s):
        told.append("The stream was not steady yet when the pump stopped: let it run longer.")
    if rows[-1, 5] > _NOTHING_M3:
        told.append(f"The basin overflows: {rows[-1, 5]:.2f} m3 are lost over its rim.")
    return tuple(told)
