"""Chances of a strike: closed forms against sampling, and against what is known in the limit."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_layer, make_site
from shapely.affinity import rotate
from shapely.geometry import LineString, Polygon, box

from geo_site.clearance import Works, find_strikes
from geo_site.constraints import ConstraintParameters
from geo_site.parameters import read_table
from geo_site.probability import sigma_of_half_width, strike_chance

BARE = make_site()
EAST = LineString([(-100.0, 15.0), (140.0, 15.0)])
Z95 = 1.959963984540054


def rules(**strike) -> ConstraintParameters:
    return read_table(ConstraintParameters, {"strike": strike}, table="constraints")


def strikes(line, parameters=None, half_width_m=0.5, diameter_m=0.1, **works):
    row = {"id": "L", "geometry": line, "uncertainty_m": half_width_m, "diameter_m": diameter_m}
    site = dataclasses.replace(BARE, utilities=make_layer("utilities", [row]))
    return find_strikes(site, Works(**works), parameters or rules())


def drawn(work, line, sigma_m, half_m, n=20_000, seed=7):
    """Share of positions that meet, each line moved and measured: apart from the module."""
    rng = np.random.default_rng(seed)
    xy = shapely.get_coordinates(line)
    hits = sum(
        LineString(xy + shift).distance(work) <= half_m
        for shift in rng.normal(0.0, sigma_m, (n, 2))
    )
    return hits / n


def test_a_half_width_is_1_96_standard_deviations():
    assert sigma_of_half_width(Z95) == pytest.approx(1.0)


@pytest.mark.parametrize(("edge_sigmas", "chance"), [(0, 0.5), (1, 0.158655), (1.96, 0.024998)])
def test_beside_a_wide_pit_the_chance_is_the_normal_tail(edge_sigmas, chance):
    """Tails of the normal distribution, from its tables."""
    assert strike_chance(edge_sigmas, 1e6, 1.0) == pytest.approx(chance, abs=1e-6)
    sigma_m = 0.5 / Z95
    pit = box(10, 15.05 + edge_sigmas * sigma_m, 14, 40)
    (one,) = strikes(EAST, basin=pit)
    assert one.method == "closed form"
    assert one.probability == pytest.approx(chance, abs=1e-5)
    assert one.distance_m == pytest.approx(edge_sigmas * sigma_m, abs=1e-9)
    assert (one.standard_error, one.samples) == (0.0, 0)


@given(st.floats(-1.0, 1.0), st.floats(0.05, 2.0), st.floats(-80.0, 80.0), st.floats(0.1, 1.0))
@settings(max_examples=8, deadline=None)
def test_the_closed_form_agrees_with_drawing_positions(edge_m, width_m, turn_deg, half_width_m):
    sigma_m = half_width_m / Z95
    work = rotate(box(15, 15.05 + edge_m, 25, 15.05 + edge_m + width_m), turn_deg, (20, 15))
    line = rotate(EAST, turn_deg, (20, 15))
    found = strikes(line, rules(sigmas=6.0), half_width_m, pipe=work)
    share = drawn(work, line, sigma_m, 0.05)
    chance = found[0].probability if found else 0.0
    if found:
        assert found[0].method == "closed form"
    error = math.sqrt(max(share * (1 - share), 1e-4) / 20_000)
    assert chance == pytest.approx(share, abs=4.5 * error)


@pytest.mark.parametrize(
    "line",
    [
        LineString([(-100, 15), (12, 15), (12, 100)]),
        LineString([(-100, 15), (9.8, 15)]),
        LineString([(0, 10), (9, 15), (20, 12), (40, 30)]),
    ],
)
def test_bent_and_ending_lines_are_sampled_within_their_error(line):
    pit = Polygon([(10, 15.2), (16, 15.4), (15, 20), (10.5, 19)])
    (one,) = strikes(line, rules(sigmas=6.0), 1.0, basin_excavation=pit)
    assert one.method == "sampled"
    assert one.samples == 4000
    share = drawn(pit, line, 1.0 / Z95, 0.05)
    assert one.standard_error == pytest.approx(
        math.sqrt(one.probability * (1 - one.probability) / 4000)
    )
    assert one.probability == pytest.approx(share, abs=4.5 * max(one.standard_error, 2e-3))


def test_sampling_a_straight_line_gives_its_closed_form():
    """Two pieces of a work are sampled; one of them far away adds nothing."""
    pit, far = box(10, 15.25, 14, 20), box(10, 300, 14, 301)
    both = shapely.MultiPolygon([pit, far])
    closed, sampled = strikes(EAST, basin=pit)[0], strikes(EAST, basin=both)[0]
    assert (closed.method, sampled.method) == ("closed form", "sampled")
    assert sampled.probability == pytest.approx(
        closed.probability, abs=4.5 * sampled.standard_error
    )


def test_a_trench_across_a_line_surely_meets_it():
    across = box(12, 0, 12.3, 30)
    (one,) = strikes(EAST, pipe=across)
    assert one.probability == pytest.approx(1.0, abs=1e-9)
    assert one.distance_m == 0.0


def test_a_line_known_exactly_is_met_where_it_is_drawn_or_never():
    assert strike_chance(-0.1, 0.1, 0.0) == 1.0
    assert strike_chance(0.1, 0.2, 0.0) == 0.0
    for bad in ((1.0, 0.0, 1.0), (0.0, 1.0, -1.0), (0.0, 1.0, math.nan), (math.nan, 1.0, 1.0)):
        with pytest.raises(ValueError, match="not"):
            strike_chance(*bad)
    with pytest.raises(ValueError, match="half-width"):
        sigma_of_half_width(-1.0)


def test_only_near_pairs_that_dig_have_a_row_likeliest_first():
    sigma_m = 0.5 / Z95
    near, far = box(10, 15.3, 14, 20), box(10, 15.06 + 3 * sigma_m, 14, 20)
    assert [one.work for one in strikes(EAST, basin=near, stream=far)] == ["basin_excavation"]
    assert strikes(EAST, spoil_pile=near, machine_route=near) == ()
    told = strikes(EAST, stream=near, silt_fence=box(10, 15.1, 14, 16))
    assert [one.work for one in told] == ["silt_fence", "stream"]
    assert told == strikes(EAST, stream=near, silt_fence=box(10, 15.1, 14, 16))


@given(st.floats(-2.0, 2.0), st.floats(0.0, 3.0), st.floats(0.01, 1.0), st.floats(0.0, 1.0))
def test_nearer_and_wider_is_never_less_likely(near_m, width_m, sigma_m, more_m):
    chance = strike_chance(near_m, near_m + width_m, sigma_m)
    assert 0.0 <= chance <= 1.0
    assert strike_chance(near_m - more_m, near_m + width_m, sigma_m) >= chance - 1e-12
    assert strike_chance(near_m, near_m + width_m + more_m, sigma_m) >= chance - 1e-12
