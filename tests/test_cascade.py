"""One step of a reservoir against closed forms and against an independent integrator."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from geo_site.cascade import LIP_POWER, RIFFLE_POWER, held_after


@settings(max_examples=300, deadline=None)
@given(
    offered=st.floats(0, 100),
    steady=st.floats(1e-6, 100),
    passed=st.floats(1e-6, 100),
    power=st.floats(1.0, 3.0),
)
def test_the_root_is_one(offered, steady, passed, power):
    held = held_after(offered, steady, passed, power)
    assert 0.0 <= held <= offered
    gone = passed * (held / steady) ** power
    assert held + gone == pytest.approx(offered, rel=1e-9, abs=1e-12)


@settings(max_examples=300, deadline=None)
@given(
    before=st.floats(0, 100),
    came=st.floats(0, 10),
    steady=st.floats(1e-6, 100),
    passed=st.floats(1e-6, 100),
    power=st.floats(1.0, 3.0),
)
def test_it_is_the_same_root_from_what_was_held_before(before, came, steady, passed, power):
    anywhere = held_after(before + came, steady, passed, power)
    found = held_after(before + came, steady, passed, power, before)
    assert found == pytest.approx(anywhere, rel=1e-12, abs=1e-15)


@pytest.mark.parametrize("power", [LIP_POWER, RIFFLE_POWER])
def test_steady_flow_is_steady(power):
    """What holds its steady water and gets a step's flow lets a step's flow go."""
    assert held_after(0.2 + 0.006 * 5, 0.2, 0.006 * 5, power) == pytest.approx(0.2)


def drained(power: float, steps: int) -> float:
    """Water left of 0.3 m3 at 0.006 m3/s after 100 s without inflow."""
    held = 0.3
    for _ in range(steps):
        held = held_after(held, 0.3, 0.006 * 100 / steps, power)
    return held


def test_a_linear_reservoir_empties_as_an_exponential():
    exact = 0.3 * math.exp(-0.006 * 100 / 0.3)
    assert drained(1.0, 20_000) == pytest.approx(exact, rel=2e-4)


@pytest.mark.parametrize("power", [LIP_POWER, RIFFLE_POWER])
def test_a_pool_empties_over_its_lip(power):
    """dm/dt = -Q (m/M)^p: m = M (1 + (p-1) Q t / M)^(-1/(p-1))."""
    exact = 0.3 * (1 + (power - 1) * 0.006 * 100 / 0.3) ** (-1 / (power - 1))
    assert drained(power, 20_000) == pytest.approx(exact, rel=2e-4)


def test_half_the_step_is_half_the_error():
    exact = 0.3 * (1 + 0.5 * 0.006 * 100 / 0.3) ** -2
    coarse, fine = drained(LIP_POWER, 200) - exact, drained(LIP_POWER, 400) - exact
    assert coarse / fine == pytest.approx(2.0, rel=0.05)


def test_a_chain_against_an_independent_integrator():
    """Three reaches filled from empty, by scipy's solver of ordinary differential equations."""
    held, powers, flow = (0.05, 0.02, 0.03), (1.5, 5 / 3, 1.5), 0.006

    def rates(_, water):
        goes = [flow * (max(m, 0) / h) ** p for m, h, p in zip(water, held, powers, strict=True)]
        return [come - go for come, go in zip([flow, *goes], goes, strict=False)]

    solved = solve_ivp(rates, (0, 20), [0, 0, 0], rtol=1e-9, atol=1e-12).y[:, -1]
    water, steps = [0.0, 0.0, 0.0], 20_000
    step = 20 / steps
    for _ in range(steps):
        come = flow * step
        for i in range(3):
            offered = water[i] + come
            water[i] = held_after(offered, held[i], flow * step, powers[i])
            come = offered - water[i]
    assert water == pytest.approx(list(solved), rel=1e-3)


def test_a_reach_without_water_hands_everything_on():
    assert held_after(0.1, 0.0, 0.1, 1.5) == 0.0
