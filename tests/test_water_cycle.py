"""A start, a run and a stop: conservation, closed forms, an independent integrator."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_basins import basin_of
from scipy.integrate import solve_ivp

from geo_site.water import ReachWater, WaterParameters
from geo_site.water.curve import Band, curve_of
from geo_site.water.cycle import CycleSetup, Leak, Reservoir, follow, reservoirs_of, setup_of
from geo_site.water.store import store

FLOW = 0.006
BASIN = curve_of([Band(bottom_m=99.4, top_m=99.9, net_m2=4.0)])
REACHES = (
    Reservoir(standing_m3=0.18, moving_m3=0.05),
    Reservoir(standing_m3=0.0, moving_m3=0.001),
    Reservoir(standing_m3=0.12, moving_m3=0.03),
    Reservoir(standing_m3=0.0, moving_m3=0.05, power=5 / 3),
)
MOVING = 0.131
SETUP = CycleSetup(
    flow_m3s=FLOW,
    pipe_m3=0.03,
    reaches=REACHES,
    curve=BASIN,
    start_level_m=99.9,
    lowest_level_m=99.5,
    run_s=1800.0,
    rest_s=7200.0,
)


def whole(cycle):
    """All water there is, less what was filled in."""
    return (
        cycle.basin_m3
        + cycle.in_pipe_m3
        + cycle.in_stream_m3
        + cycle.in_hollows_m3
        + cycle.leaked_m3
        + cycle.overflowed_m3
        - cycle.filled_m3
    )


def at(cycle, when_s):
    """Number of the last moment not after a time."""
    return int(np.searchsorted(cycle.time_s, when_s, side="right")) - 1


class TestByHand:
    cycle = follow(SETUP)

    def test_running_it_holds_what_moves(self):
        """4 m2 of water: 0.131 m3 in the stream and 0.03 m3 in the pipe are 40.25 mm."""
        running = at(self.cycle, 1800.0)
        assert self.cycle.in_stream_m3[running] == pytest.approx(MOVING, rel=1e-6)
        assert self.cycle.in_pipe_m3[running] == pytest.approx(0.03)
        assert self.cycle.basin_level_m[running] == pytest.approx(99.9 - 0.161 / 4.0, abs=1e-6)
        assert self.cycle.lowest_level_m == pytest.approx(99.9 - 0.161 / 4.0, abs=1e-5)
        assert not self.cycle.draws_air
        assert self.cycle.warnings == ()

    def test_stopped_it_is_as_before(self):
        assert self.cycle.basin_level_m[-1] == pytest.approx(99.9, abs=1e-4)
        assert self.cycle.in_pipe_m3[-1] == 0.0
        assert self.cycle.in_hollows_m3[-1] == pytest.approx(0.30)
        assert not self.cycle.overflows

    def test_the_pipe_comes_first(self):
        """0.03 m3 at 6 L/s: for 5 s nothing reaches the stream."""
        filling = at(self.cycle, 5.0)
        assert self.cycle.in_stream_m3[filling] == pytest.approx(0.0, abs=2e-3)
        assert self.cycle.in_pipe_m3[at(self.cycle, 2.5)] == pytest.approx(0.015, abs=2e-3)

    def test_steady_in_a_minute_or_two(self):
        """No sooner than it takes to pump all that moves: (0.131 + 0.03) / 0.006 = 27 s."""
        assert 0.161 / FLOW < self.cycle.steady_s < 180.0


def test_the_filling_against_an_independent_integrator():
    """The stream's water over the first minute, by scipy's solver."""
    filled = replace(SETUP, pipe_m3=1e-9)

    def rates(_, held):
        reaches = zip(held, REACHES, strict=True)
        goes = [FLOW * (max(m, 0.0) / r.moving_m3) ** r.power for m, r in reaches]
        return [come - go for come, go in zip([FLOW, *goes], goes, strict=False)]

    cycle = follow(filled)
    times = cycle.time_s[(cycle.time_s > 1.0) & (cycle.time_s < 60.0)]
    solved = solve_ivp(
        rates, (0.0, 61.0), [0.0] * 4, t_eval=times, rtol=1e-8, atol=1e-11, method="LSODA"
    )
    found = np.interp(times, cycle.time_s, cycle.in_stream_m3)
    assert found == pytest.approx(solved.y.sum(axis=0), abs=0.02 * MOVING)


def test_the_stop_of_one_pool_in_closed_form():
    """m = M (1 + Q t / 2 M)^-2 after the stop: 0.2 m3 of a single pool over its lip."""
    pool = replace(SETUP, reaches=(Reservoir(standing_m3=0.0, moving_m3=0.2),), pipe_holds=True)
    cycle = follow(pool)
    for after in (10.0, 60.0, 600.0):
        number = at(cycle, 1800.0 + after)
        passed = cycle.time_s[number] - 1800.0
        exact = 0.2 * (1 + FLOW * passed / 0.4) ** -2
        assert cycle.in_stream_m3[number] == pytest.approx(exact, rel=0.03, abs=1e-4)


def test_a_dry_stream_takes_its_hollows_first():
    """The first fill: 0.30 m3 stay in the hollows and never come back."""
    cycle = follow(replace(SETUP, pools_full=False))
    assert cycle.in_hollows_m3[0] == 0.0
    assert cycle.in_hollows_m3[-1] == pytest.approx(0.30)
    assert cycle.basin_level_m[-1] == pytest.approx(99.9 - 0.30 / 4.0, abs=1e-4)
    # all that is pumped first fills pipe, hollows and stream; a thin start is swallowed below
    assert (0.30 + 0.161) / FLOW < cycle.steady_s < follow(SETUP).steady_s + 0.30 / FLOW + 1.0


def test_a_basin_too_small_draws_air():
    """0.08 m3 above the pump, 0.161 m3 on their way: dry after about 0.08 / 0.006 = 13 s."""
    small = replace(SETUP, lowest_level_m=99.88)
    cycle = follow(small)
    assert cycle.draws_air
    assert 10.0 < cycle.air_s < 20.0
    assert "draws air" in cycle.warnings[0]
    assert cycle.lowest_level_m == pytest.approx(99.88, abs=1e-3)


def test_just_enough_draws_no_air_and_a_little_less_does():
    """0.161 m3 move; the stream fills to within rounding of them."""
    enough = replace(SETUP, lowest_level_m=99.9 - 0.162 / 4.0)
    less = replace(SETUP, lowest_level_m=99.9 - 0.157 / 4.0)
    assert not follow(enough).draws_air
    assert follow(less).draws_air


def test_a_float_that_fills_while_it_runs_overflows_at_the_stop():
    """What moves comes on top of a full basin: 0.161 m3 over the rim."""
    cycle = follow(replace(SETUP, filled_while_running=True))
    assert cycle.filled_m3[-1] == pytest.approx(0.161, rel=1e-4)
    running = at(cycle, 1790.0)
    assert cycle.filled_m3[running] == 0.0  # all at once, just before the stop
    assert cycle.basin_level_m[running] == pytest.approx(99.9 - 0.161 / 4.0, abs=1e-4)
    assert cycle.overflowed_m3[-1] == pytest.approx(0.161, rel=1e-3)
    assert any("overflows" in told for told in cycle.warnings)
    roomy = replace(SETUP, filled_while_running=True, start_level_m=99.8, lowest_level_m=99.45)
    held = follow(roomy)
    assert held.overflowed_m3[-1] == 0.0
    assert held.highest_level_m == pytest.approx(99.8 + 0.161 / 4.0, abs=1e-4)


def test_a_check_valve_keeps_the_pipe_full():
    cycle = follow(replace(SETUP, pipe_holds=True))
    assert np.all(cycle.in_pipe_m3 == pytest.approx(0.03))
    assert cycle.lowest_level_m == pytest.approx(99.9 - MOVING / 4.0, abs=1e-5)


def test_a_clogged_return_overflows_while_the_pump_runs_dry():
    """EVA-05: half the flow sinks in: 3 L/s leave; 1.6 m3 over the pump last 533 s at most."""
    cycle = follow(replace(SETUP, return_m3s=FLOW / 2))
    assert cycle.draws_air
    # 1.6 m3 less what moves, lost at 3 L/s, after the filling: (1.6 - 0.161) / 0.003 = 480 s
    assert cycle.air_s == pytest.approx(480.0 + 27.0, rel=0.05)
    assert cycle.overflowed_m3[-1] > 1.4
    assert not follow(replace(SETUP, return_m3s=FLOW)).overflows


def test_a_leak_of_the_basin_from_one_hour_to_the_next():
    """0.0001 m3/s from 600 s to 1600 s are 0.1 m3, 25 mm of 4 m2."""
    leak = Leak(basin_m3s=1e-4, from_s=600.0, until_s=1600.0)
    cycle = follow(replace(SETUP, leak=leak))
    assert cycle.leaked_m3[at(cycle, 600.0)] == 0.0
    assert cycle.leaked_m3[-1] == pytest.approx(0.1)
    assert cycle.basin_level_m[-1] == pytest.approx(99.9 - 0.1 / 4.0, abs=1e-4)


def test_a_leak_of_the_stream_ends_with_the_pump():
    """1 L/s of the six, from when water arrives to when it no longer does."""
    cycle = follow(replace(SETUP, leak=Leak(stream_m3s=1e-3)))
    stopped = cycle.leaked_m3[at(cycle, 1800.0)]
    steady = 1e-3 * 1800.0
    # The pump is dry before: 1.6 m3 in all over it, so no more than those leak.
    assert stopped == pytest.approx(min(steady, 1.6), rel=0.1)
    assert cycle.leaked_m3[-1] - stopped < 2.0 * MOVING
    assert cycle.draws_air


def test_a_leak_from_the_floor_empties_the_basin_and_no_more():
    cycle = follow(replace(SETUP, leak=Leak(basin_m3s=0.01)))
    assert cycle.basin_m3.min() >= 0.0
    assert cycle.leaked_m3[-1] <= 2.0 + 0.30
    assert cycle.draws_air


reaches = st.lists(
    st.builds(
        Reservoir,
        standing_m3=st.floats(0.0, 0.4),
        moving_m3=st.sampled_from([0.0, 0.001, 0.02, 0.1, 0.4]),
        power=st.sampled_from([1.5, 5 / 3]),
    ),
    min_size=1,
    max_size=8,
).map(tuple)


@settings(max_examples=40, deadline=None)
@given(
    reaches=reaches,
    sizes=st.tuples(st.floats(0.001, 0.02), st.floats(0.0, 0.2), st.floats(0.0, 1.0)),
    leak=st.tuples(st.floats(0, 1e-3), st.floats(0, 1e-3), st.floats(0, 900), st.floats(0, 900)),
    takes=st.sampled_from([math.inf, 0.01, 0.001]),
    switches=st.tuples(st.booleans(), st.booleans(), st.booleans()),
)
def test_no_water_is_made_or_lost(reaches, sizes, leak, takes, switches):
    """Whatever happens, all water is somewhere, at every moment."""
    flow, pipe, share = sizes
    setup = CycleSetup(
        flow_m3s=flow,
        pipe_m3=pipe,
        reaches=reaches,
        curve=BASIN,
        start_level_m=99.5 + share * 0.4,
        lowest_level_m=99.5,
        run_s=600.0,
        rest_s=600.0,
        return_m3s=takes,
        leak=Leak(basin_m3s=leak[0], stream_m3s=leak[1], from_s=leak[2], until_s=leak[2] + leak[3]),
        pools_full=switches[0],
        pipe_holds=switches[1],
        filled_while_running=switches[2],
    )
    cycle = follow(setup)
    together = whole(cycle)
    assert np.abs(together - together[0]).max() < 1e-11
    for part in (
        cycle.basin_m3, cycle.in_pipe_m3, cycle.in_stream_m3, cycle.in_hollows_m3,
        cycle.leaked_m3, cycle.overflowed_m3, cycle.filled_m3,
    ):  # fmt: skip
        assert part.min() >= -1e-12
    for sum_of in (cycle.leaked_m3, cycle.overflowed_m3, cycle.filled_m3):
        assert np.all(np.diff(sum_of) >= 0.0)
    assert np.all(np.diff(cycle.time_s) > 0.0)
    assert cycle.basin_level_m.max() <= BASIN.overflow_m + 1e-9
    before = at(cycle, 600.0)
    assert np.all(np.diff(cycle.in_stream_m3[before:]) <= 1e-12)  # it only drains after the stop


@settings(max_examples=15, deadline=None)
@given(reaches=reaches, flow=st.floats(0.002, 0.02))
def test_what_moved_comes_back(reaches, flow):
    """Without a leak the basin ends as it began, but for what still trickles."""
    setup = replace(SETUP, reaches=reaches, flow_m3s=flow, rest_s=40_000.0)
    setup = replace(setup, curve=curve_of([Band(bottom_m=99.4, top_m=99.9, net_m2=20.0)]))
    cycle = follow(setup)
    trickling = cycle.in_stream_m3[-1]
    assert cycle.basin_m3[-1] + trickling == pytest.approx(cycle.basin_m3[0], abs=1e-9)
    moving = sum(reach.moving_m3 for reach in reaches)
    assert trickling < 0.02 * max(moving, 0.01)
    assert cycle.highest_level_m <= 99.9 + 1e-9


def test_more_water_under_way_pulls_the_basin_lower():
    lowest = [
        follow(replace(SETUP, reaches=(Reservoir(standing_m3=0.0, moving_m3=moving),)))
        for moving in (0.05, 0.1, 0.2)
    ]
    levels = [cycle.lowest_level_m for cycle in lowest]
    assert levels == sorted(levels, reverse=True)


def test_reaches_become_reservoirs():
    def reach(sequence, kind, volume):
        return ReachWater(
            sequence=sequence, kind=kind, water_level_m=100.0, depth_m=0.1, velocity_ms=0.3,
            froude=0.5, volume_m3=volume,
        )  # fmt: skip

    made = reservoirs_of(
        [
            reach(1, "pool", 0.3),
            reach(2, "fall", 0.001),
            reach(3, "pool", 0.2),
            reach(4, "riffle", 0.05),
        ],
        [0.2, 0.15],
    )
    assert [one.standing_m3 for one in made] == [0.2, 0.0, 0.15, 0.0]
    assert [one.moving_m3 for one in made] == pytest.approx([0.1, 0.001, 0.05, 0.05])
    assert made[3].power == pytest.approx(5 / 3)
    with pytest.raises(ValueError, match=r".+"):
        reservoirs_of([reach(1, "pool", 0.3)], [])


def test_settings_become_a_setup():
    parameters = WaterParameters(
        store={"check_valve": True},
        cycle={"run_time": 2.0, "basin_leak": 8.64, "leak_from": 0.5, "leak_until": 1.0},
    )
    kept = store(*basin_of(), parameters)
    setup = setup_of(kept, REACHES, FLOW, 0.03, parameters)
    assert (setup.run_s, setup.rest_s) == (7200.0, 3600.0)
    assert setup.leak == Leak(basin_m3s=1e-4, stream_m3s=0.0, from_s=1800.0, until_s=3600.0)
    assert setup.pipe_holds
    assert (setup.start_level_m, setup.lowest_level_m) == (kept.full_m, kept.lowest_m)
    cycle = follow(setup)
    assert cycle.leaked_m3[-1] == pytest.approx(0.18)
    assert cycle.lowest_level_m < kept.full_m


@pytest.mark.parametrize("wrong", [{"flow_m3s": 0.0}, {"run_s": 0.0}, {"rest_s": -1.0}])
def test_nonsense_is_refused(wrong):
    with pytest.raises(ValueError, match="above 0"):
        follow(replace(SETUP, **wrong))
