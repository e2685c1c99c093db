"""Channels: Manning's formula, normal and critical depth."""

import math

import pytest
from fluids import V_Manning
from hypothesis import given
from hypothesis import strategies as st

from geo_site import channels

FOOT = 0.3048
SECTIONS = st.builds(channels.Trapezoid, st.floats(0.1, 3.0), st.floats(0.0, 4.0))
DEPTHS = st.floats(0.005, 2.0)


def test_a_stone_stream():
    """CHN-01: trapezoid 0.60 m wide, sides 1:1, 0.08 m deep, slope 0.05, n 0.040 (arithmetic)."""
    section = channels.Trapezoid(0.60, 1.0)
    flow_m3s = channels.manning_flow(section, 0.08, 0.05, 0.040)
    assert section.area(0.08) == pytest.approx(0.0544, rel=1e-3)
    assert section.wetted_perimeter(0.08) == pytest.approx(0.82627, rel=1e-3)
    assert channels.manning_velocity(section, 0.08, 0.05, 0.040) == pytest.approx(0.9115, rel=1e-3)
    assert flow_m3s * 1000 == pytest.approx(49.58, rel=1e-3)
    assert channels.froude_number(section, 0.08, flow_m3s) == pytest.approx(1.088, rel=1e-3)


def test_depths_of_a_textbook_channel():
    """CHN-03: Chow (1959) example 10-1 (printed values from memory): 3.36 and 2.22 ft."""
    section = channels.Trapezoid(20 * FOOT, 2.0)
    flow_m3s = 400 * FOOT**3
    normal_ft = channels.normal_depth(section, flow_m3s, 0.0016, 0.025) / FOOT
    critical_ft = channels.critical_depth_of(section, flow_m3s, 1.10) / FOOT
    assert normal_ft == pytest.approx(3.36, abs=0.01)
    assert critical_ft == pytest.approx(2.22, abs=0.01)


def test_velocity_of_a_textbook_channel():
    """RUN-62: R 0.2859 m, S 0.005236, n 0.03: 1.0468 m/s, the worked example of `fluids`."""
    section = channels.Trapezoid(2 * 0.2859 / (1 - 0.2859), 0.0)
    assert section.area(1.0) / section.wetted_perimeter(1.0) == pytest.approx(0.2859)
    found = channels.manning_velocity(section, 1.0, 0.005236, 0.03)
    assert found == pytest.approx(1.0468, abs=1e-4)


@given(SECTIONS, DEPTHS, st.floats(1e-4, 0.5), st.floats(0.01, 0.2))
def test_velocity_agrees_with_an_independent_library(section, depth, slope, n):
    radius = section.area(depth) / section.wetted_perimeter(depth)
    assert channels.manning_velocity(section, depth, slope, n) == pytest.approx(
        V_Manning(Rh=radius, S=slope, n=n)
    )


@given(SECTIONS, DEPTHS, st.floats(1e-4, 0.5), st.floats(0.01, 0.2))
def test_normal_depth_inverts_the_flow(section, depth, slope, n):
    flow = channels.manning_flow(section, depth, slope, n)
    assert channels.normal_depth(section, flow, slope, n) == pytest.approx(depth, rel=1e-9)


@given(SECTIONS, st.floats(1e-4, 10.0))
def test_at_critical_depth_the_froude_number_is_one(section, flow):
    critical = channels.critical_depth_of(section, flow)
    assert channels.froude_number(section, critical, flow) == pytest.approx(1.0, rel=1e-6)


@given(SECTIONS, DEPTHS)
def test_the_top_width_is_how_the_area_grows(section, depth):
    step = 1e-6
    growth = (section.area(depth + step) - section.area(depth - step)) / (2 * step)
    assert section.top_width(depth) == pytest.approx(growth, rel=1e-5)


def test_a_rectangle_has_the_critical_depth_of_its_width():
    """WEI-10: the same depth as (q^2/g)^(1/3)."""
    critical = channels.critical_depth_of(channels.Trapezoid(2.0, 0.0), 0.020)
    assert critical * 1000 == pytest.approx(21.69, abs=0.01)


def test_a_triangle_is_a_channel_too():
    """The critical depth of a triangle is (2 Q^2 / (g z^2))^(1/5) (geometry)."""
    critical = channels.critical_depth_of(channels.Trapezoid(0.0, 1.5), 0.02)
    exact = (2 * 0.02**2 / (channels.GRAVITY_MS2 * 1.5**2)) ** 0.2
    assert critical == pytest.approx(exact)


def test_without_flow_there_is_no_depth():
    section = channels.Trapezoid(0.6, 1.0)
    assert channels.normal_depth(section, 0.0, 0.05, 0.04) == 0.0
    assert channels.critical_depth_of(section, 0.0) == 0.0
    assert channels.manning_flow(section, 0.0, 0.05, 0.04) == 0.0


def test_what_is_no_channel_is_refused():
    section = channels.Trapezoid(0.6, 1.0)
    refused = [
        lambda: channels.Trapezoid(0.0, 0.0),
        lambda: channels.Trapezoid(-1.0, 2.0),
        lambda: channels.Trapezoid(math.nan, 1.0),
        lambda: channels.normal_depth(section, 0.01, 0.0, 0.04),
        lambda: channels.normal_depth(section, -0.01, 0.01, 0.04),
        lambda: channels.normal_depth(section, math.nan, 0.01, 0.04),
        lambda: channels.manning_velocity(section, 0.1, 0.01, 0.0),
        lambda: channels.manning_velocity(section, -0.1, 0.01, 0.04),
        lambda: channels.manning_velocity(section, 0.1, -0.01, 0.04),
        lambda: channels.critical_depth_of(section, 0.01, 0.9),
        lambda: channels.froude_number(section, 0.0, 0.01),
        lambda: channels.normal_depth(section, math.inf, 0.01, 0.04),
    ]
    for call in refused:
        with pytest.raises(ValueError, match=r"channel|slope|flow|depth|coefficient"):
            call()
