"""Levels along channels: published backwater, closed forms, an independent integrator."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from geo_site import channels
from geo_site.channels import Channel, Losses, Trapezoid

FOOT = 0.3048
G = channels.GRAVITY_MS2
NONE = Losses(contraction=0.0, expansion=0.0)


def prismatic(station, bed, bottom, roughness, side=0.0):
    same = np.zeros(len(station))
    return Channel(
        station_m=np.asarray(station, float),
        bed_m=np.asarray(bed, float) + same,
        bottom_m=same + bottom,
        side_run=same + side,
        roughness=same + roughness,
    )


def growth(section, flow, slope, roughness):
    """dy/dx of gradually varied flow, written apart: (S0 - Sf) / (1 - Fr^2)."""

    def rate(_, y):
        area = (section.bottom_m + section.side_run * y) * y
        wetted = section.bottom_m + 2 * y * math.sqrt(1 + section.side_run**2)
        friction = (flow * roughness / area) ** 2 * (wetted / area) ** (4 / 3)
        top = section.bottom_m + 2 * section.side_run * y
        return (slope - friction) / (1 - flow**2 * top / (G * area**3))

    return rate


class TestPublishedBackwater:
    """CHN-04: Chow (1959) example 10-1 (from memory): M1 curve behind a dam."""

    depths_ft = (5.0, 4.8, 4.6, 4.4, 4.2, 4.0, 3.8, 3.7, 3.6, 3.55, 3.50, 3.47, 3.44, 3.42, 3.40)

    def depth_at(self, distances_ft):
        """Depths, ft, at distances upstream of the dam: standard step over the stations."""
        station = -np.array(distances_ft)[::-1] * FOOT
        channel = prismatic(station, -0.0016 * station, 20 * FOOT, 0.025, side=2.0)
        alpha = Losses(energy_coefficient=1.10)
        return channels.tranquil(channel, 400 * FOOT**3, 5 * FOOT, alpha)[::-1] / FOOT

    def distance_of(self, depth_ft, before_ft, before_at_ft):
        """Next distance at which the depth stands, one step from the depth before it."""

        def missed(distance_ft):
            station = np.array([-distance_ft, -before_at_ft]) * FOOT
            channel = prismatic(station, -0.0016 * station, 20 * FOOT, 0.025, side=2.0)
            alpha = Losses(energy_coefficient=1.10)
            found = channels.tranquil(channel, 400 * FOOT**3, before_ft * FOOT, alpha)
            return found[0] / FOOT - depth_ft

        return brentq(missed, before_at_ft + 0.1, before_at_ft + 2000)

    def test_chn_04_lengths(self):
        at, before = {5.0: 0.0}, 5.0
        for depth in self.depths_ft[1:]:
            at[depth] = self.distance_of(depth, before, at[before])
            before = depth
        assert at[4.8] == pytest.approx(155, rel=0.01)
        assert at[4.0] == pytest.approx(890, rel=0.01)
        assert at[3.40] == pytest.approx(2325, rel=0.03)

    def test_chn_04_as_standard_steps(self):
        found = self.depth_at(np.linspace(0, 890, 20))
        assert found[0] == pytest.approx(5.0)
        assert found[-1] == pytest.approx(4.0, abs=0.01)
        far = self.depth_at(np.linspace(0, 20_000, 400))
        assert far[-1] == pytest.approx(3.36, abs=0.01)  # CHN-03: normal depth


class TestAgainstAnIndependentIntegrator:
    """CHN-05: dy/dx = (S0 - Sf) / (1 - Fr^2) by scipy's solve_ivp (arithmetic)."""

    @settings(max_examples=25, deadline=None)
    @given(
        bottom=st.floats(0.3, 3.0),
        side=st.sampled_from([0.0, 1.0, 2.0]),
        slope=st.floats(0.0, 0.02),
        roughness=st.floats(0.02, 0.06),
        flow=st.floats(0.002, 0.2),
        above=st.floats(1.3, 3.0),
    )
    def test_tranquil_water(self, bottom, side, slope, roughness, flow, above):
        section = Trapezoid(bottom, side)
        end = above * channels.critical_depth_of(section, flow)
        length = 10 * end
        rate = growth(section, flow, slope, roughness)
        ends = solve_ivp(rate, (0, -length), [end], rtol=1e-9, atol=1e-12).y[0]
        if min(ends) < 1.15 * channels.critical_depth_of(section, flow):
            return  # too near critical for steps of this length
        station = np.linspace(-length, 0, 401)
        channel = prismatic(station, -slope * station, bottom, roughness, side)
        found = channels.tranquil(channel, flow, end, NONE)
        assert found[0] == pytest.approx(ends[-1], rel=1e-4)

    @settings(max_examples=25, deadline=None)
    @given(
        bottom=st.floats(0.3, 3.0),
        slope=st.floats(0.03, 0.3),
        roughness=st.floats(0.015, 0.03),
        flow=st.floats(0.01, 0.2),
        below=st.floats(0.3, 0.9),
    )
    def test_rapid_water(self, bottom, slope, roughness, flow, below):
        section = Trapezoid(bottom, 0.0)
        critical = channels.critical_depth_of(section, flow)
        if channels.normal_depth(section, flow, slope, roughness) > 0.9 * critical:
            return
        start = below * critical
        length = 20 * critical
        rate = growth(section, flow, slope, roughness)
        ends = solve_ivp(rate, (0, length), [start], rtol=1e-9, atol=1e-12).y[0]
        station = np.linspace(0, length, 801)
        channel = prismatic(station, -slope * station, bottom, roughness)
        starts = np.full(801, np.nan)
        starts[0] = start
        found = channels.rapid(channel, flow, starts, NONE)
        assert found[-1] == pytest.approx(ends[-1], rel=1e-3)


def test_far_down_a_long_bed_the_water_is_uniform():
    """CHN-03 upside down: rapid water ends at normal depth, tranquil water begins at it."""
    flow, section = 0.02, Trapezoid(0.9, 0.0)
    station = np.linspace(0, 30, 601)
    steep = prismatic(station, -0.10 * station, 0.9, 0.03)
    found = channels.mixed(steep, flow, 0.0)
    assert found.depth_m[-1] == pytest.approx(
        channels.normal_depth(section, flow, 0.10, 0.03), rel=1e-4
    )
    assert found.depth_m[0] == pytest.approx(channels.critical_depth_of(section, flow))
    gentle = prismatic(station, -0.005 * station, 0.9, 0.03)
    found = channels.mixed(gentle, flow, 0.0)
    assert found.depth_m[0] == pytest.approx(
        channels.normal_depth(section, flow, 0.005, 0.03), rel=1e-3
    )
    assert found.depth_m[-1] == pytest.approx(channels.critical_depth_of(section, flow))


class TestJumps:
    @given(st.floats(0.3, 3.0), st.floats(0.01, 0.3), st.floats(1.05, 8.0))
    def test_chn_06_conjugate_depths(self, width, depth, froude):
        """CHN-06: rectangle, y2 = y1 / 2 (sqrt(1 + 8 Fr^2) - 1) (Chow, momentum)."""
        flow = width * depth * froude * math.sqrt(G * depth)
        section = Trapezoid(width, 0.0)
        exact = depth / 2 * (math.sqrt(1 + 8 * froude**2) - 1)
        assert channels.conjugate_depth(section, depth, flow) == pytest.approx(exact, rel=1e-9)
        assert channels.conjugate_depth(section, exact, flow) == pytest.approx(depth, rel=1e-6)

    @given(st.floats(0.2, 2.0), st.floats(0.0, 3.0), st.floats(0.01, 0.3), st.floats(0.2, 0.95))
    def test_conjugate_depths_keep_the_momentum_of_a_trapezoid(self, width, side, flow, share):
        section = Trapezoid(width, side)
        shallow = share * channels.critical_depth_of(section, flow)
        deep = channels.conjugate_depth(section, shallow, flow)
        force = [
            flow**2 / (G * section.area(y)) + width * y**2 / 2 + side * y**3 / 3
            for y in (shallow, deep)
        ]
        assert deep > channels.critical_depth_of(section, flow)
        assert force[0] == pytest.approx(force[1], rel=1e-9)

    def test_a_jump_on_a_level_bed_lies_where_the_depths_are_conjugate(self):
        """A jet of Froude 4 slows on a level bed; the curve of each side is integrated apart."""
        width, roughness, jet = 1.0, 0.02, 0.03
        flow = 4 * jet * math.sqrt(G * jet) * width
        section = Trapezoid(width, 0.0)
        station = np.linspace(0, 8, 1601)
        channel = prismatic(station, 0.0, width, roughness)
        end = 0.135
        found = channels.mixed(channel, flow, end, jet, NONE)
        rate = growth(section, flow, 0.0, roughness)
        quick = solve_ivp(rate, (0, 1.5), [jet], dense_output=True, rtol=1e-9).sol
        slow = solve_ivp(rate, (8, 0), [end], dense_output=True, rtol=1e-9).sol

        def unlike(x):
            froude = flow / quick(x)[0] / math.sqrt(G * quick(x)[0])
            return quick(x)[0] / 2 * (math.sqrt(1 + 8 * froude**2) - 1) - slow(x)[0]

        at = brentq(unlike, 0, 1.5)
        assert found.jumps_m == (pytest.approx(at, abs=0.01),)

    def test_deep_water_drowns_the_jet(self):
        channel = prismatic(np.linspace(0, 8, 161), 0.0, 1.0, 0.02)
        found = channels.mixed(channel, 0.06, 0.5, 0.03, NONE)
        assert found.jumps_m == ()
        assert np.all(found.depth_m > found.critical_m)


def random_bed(slopes, step=0.1):
    drops = np.repeat(slopes, 10) * step
    return np.concatenate([[0.0], -np.cumsum(drops)])


@settings(max_examples=60, deadline=None)
@given(
    slopes=st.lists(st.floats(-0.02, 0.25), min_size=1, max_size=8),
    widths=st.lists(st.floats(0.3, 2.0), min_size=1, max_size=8),
    side=st.sampled_from([0.0, 1.0]),
    roughness=st.floats(0.02, 0.1),
    flow=st.floats(0.001, 0.05),
    end=st.floats(0.0, 0.4),
)
def test_energy_never_rises_downstream(slopes, widths, side, roughness, flow, end):
    """CHN-07: and each depth is above 0, and Froude's number is on its side of the critical."""
    bed = random_bed(slopes)
    station = np.arange(len(bed)) * 0.1
    bottom = np.interp(station, np.linspace(0, station[-1], len(widths)), widths)
    channel = Channel(
        station_m=station,
        bed_m=bed,
        bottom_m=bottom,
        side_run=0 * bed + side,
        roughness=0 * bed + roughness,
    )
    found = channels.mixed(channel, flow, end)
    assert np.all(found.depth_m > 0)
    assert np.all(np.diff(found.energy_m) <= 1e-9)
    quick = found.depth_m < found.critical_m * (1 - 1e-9)
    for i, depth in enumerate(found.depth_m):
        section = Trapezoid(float(bottom[i]), side)
        froude = channels.froude_number(section, float(depth), flow)
        assert (froude > 1) == quick[i] or froude == pytest.approx(1, abs=1e-4)


def test_losses_where_a_section_changes():
    """From 1 m to 0.5 m over a short level step: 0.1 of the difference of the velocity heads."""
    station, level = np.array([0.0, 1e-6]), np.zeros(2)
    channel = Channel(
        station_m=station,
        bed_m=level,
        bottom_m=np.array([1.0, 0.5]),
        side_run=level,
        roughness=level + 0.03,
    )
    depth = channels.tranquil(channel, 0.02, 0.1)
    head = (0.02 / np.array([1.0, 0.5]) / depth) ** 2 / (2 * G)
    lost = (depth + head)[0] - (depth + head)[1]
    assert lost == pytest.approx(0.1 * (head[1] - head[0]), abs=1e-8)


class TestDrops:
    def test_chn_08_rand_by_hand(self):
        """CHN-08: q 0.010 m2/s, h 0.30 m (Rand 1955, formulas from memory; arithmetic).

        D = 1e-4 / (9.80665 x 0.027) = 3.7767e-4; D^0.425 = 0.035104; D^0.27 = 0.11910.
        """
        jet, jump = channels.drop_depths(0.010, 0.30)
        assert jet == pytest.approx(0.54 * 0.30 * 0.035104, rel=1e-3)
        assert jump == pytest.approx(1.66 * 0.30 * 0.11910, rel=1e-3)

    @given(st.floats(1e-3, 0.2), st.floats(0.05, 2.0))
    def test_the_two_depths_are_nearly_conjugate(self, flow, height):
        """CHN-08: Rand measured both; momentum links them within his scatter, D 1e-4 to 0.1."""
        if not 1e-4 < flow**2 / (G * height**3) < 0.1:
            return
        jet, jump = channels.drop_depths(flow, height)
        conjugate = channels.conjugate_depth(Trapezoid(1.0, 0.0), jet, flow)
        assert jump == pytest.approx(conjugate, rel=0.12)

    def test_a_low_drop_keeps_to_critical_depth(self):
        jet, jump = channels.drop_depths(0.1, 0.02)
        assert jet <= (0.1**2 / G) ** (1 / 3) <= jump


def test_stn_01_a_stone_that_stays():
    """STN-01: depth 0.10 m, slope 0.10: 98.1 Pa; F* 0.047, 2.65: D50 0.129 m (HEC-15)."""
    assert channels.bed_shear(0.10, 0.10) == pytest.approx(98.1)
    assert channels.stable_stone(98.1, 0.047, 2.65) == pytest.approx(0.129, abs=5e-4)
    assert channels.stable_stone(98.1, 0.15) < channels.stable_stone(98.1)


def test_run_60_gutter():
    """RUN-60: n 0.016, 2 % across, 1 % along (HEC-22 example 5.1): 1.8 cfs 9.0 ft, 8.2 ft 1.4."""
    spread = channels.gutter_spread(1.8 * FOOT**3, 0.020, 0.010, 0.016)
    assert spread / FOOT == pytest.approx(9.0, abs=0.1)
    flow = channels.gutter_flow(8.2 * FOOT, 0.020, 0.010, 0.016)
    assert flow / FOOT**3 == pytest.approx(1.4, abs=0.05)


@given(st.floats(0.5, 5.0), st.floats(0.01, 0.08), st.floats(0.001, 0.1), st.floats(0.01, 0.05))
def test_a_gutter_is_manning_in_strips(spread, across, slope, roughness):
    """RUN-60: strips of the triangle, each with its own depth as radius (arithmetic)."""
    depth = (np.arange(4000) + 0.5) / 4000 * spread * across
    each = depth ** (5 / 3) * math.sqrt(slope) / roughness * spread / 4000
    found = channels.gutter_flow(spread, across, slope, roughness)
    assert found == pytest.approx(float(each.sum()), rel=3e-3)
    assert channels.gutter_spread(found, across, slope, roughness) == pytest.approx(spread)


def test_what_is_no_flow_is_refused():
    channel = prismatic(np.linspace(0, 1, 3), 0.0, 1.0, 0.03)
    still = np.full(3, np.nan)
    refused = [
        lambda: channels.tranquil(channel, 0.0, 0.1),
        lambda: channels.rapid(channel, math.nan, still),
        lambda: channels.mixed(channel, -0.1, 0.1),
        lambda: channels.specific_force(Trapezoid(1.0, 0.0), 0.0, 0.1),
        lambda: channels.conjugate_depth(Trapezoid(1.0, 0.0), 0.1, 0.0),
        lambda: channels.drop_depths(0.0, 0.1),
        lambda: channels.bed_shear(-0.1, 0.1),
        lambda: channels.stable_stone(10.0, 0.047, 1.0),
        lambda: channels.gutter_flow(1.0, 0.02, 0.01, 0.0),
        lambda: channels.gutter_spread(0.01, 0.0, 0.01, 0.016),
    ]
    for call in refused:
        with pytest.raises(ValueError, match=r"flow|depth|shear|slope"):
            call()
