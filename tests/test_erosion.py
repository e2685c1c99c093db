"""Silt fence: limits by slope and least length."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo_site import erosion

FOOT = 0.3048
ACRE = 43_560 * FOOT**2


def test_area_limit_as_a_length_of_slope():
    """SET-02: 1/4 acre per 100 ft (county manual, ES 1.06) is 108.9 ft: 100 ft governs."""
    limit = erosion.silt_fence_limit(0.10)
    assert limit.area_per_metre_m2 / FOOT == pytest.approx(108.9, abs=1e-9)
    assert erosion.longest_contributing_slope(0.10) / FOOT == pytest.approx(100.0)


def test_fence_for_a_disturbed_area():
    """SET-03: EPA fact sheet Silt Fences (2012), 100 ft for 10,000 ft2; 3,500 ft2 disturbed."""
    area_m2 = 3_500 * FOOT**2
    length_m = erosion.least_fence_length(area_m2, area_m2, 0.10)
    assert length_m / FOOT == pytest.approx(35.0, abs=1e-9)


@pytest.mark.parametrize(
    ("slope", "acres"),
    [(0.0, 0.5), (0.019, 0.5), (0.02, 0.25), (0.19, 0.25), (0.20, 0.125), (0.5, 0.125)],
)
def test_limits_by_slope(slope, acres):
    """SET-04: state table by slope, acres per 100 ft; the last row is not 1.125 (a misprint)."""
    limit = erosion.silt_fence_limit(slope)
    assert limit.area_per_metre_m2 * 100 * FOOT / ACRE == pytest.approx(acres)


@pytest.mark.parametrize("slope", [0.51, 1.0, math.nan, -0.1])
def test_no_fence_where_it_is_no_answer(slope):
    """SET-04: no silt fence on ground steeper than 2 to 1, nor where the slope is not known."""
    assert erosion.silt_fence_limit(slope) is None
    assert erosion.longest_contributing_slope(slope) is None
    assert erosion.least_fence_length(100.0, 100.0, slope) is None


def test_draining_area_asks_for_more_than_the_rule_of_thumb():
    length_m = erosion.least_fence_length(10.0, ACRE, 0.10)
    assert length_m == pytest.approx(400 * FOOT)


@pytest.mark.parametrize("bad", [-1.0, math.nan])
def test_an_area_that_is_not_known_is_refused(bad):
    with pytest.raises(ValueError, match="at least 0"):
        erosion.least_fence_length(bad, 1.0, 0.1)
    with pytest.raises(ValueError, match="at least 0"):
        erosion.least_fence_length(1.0, bad, 0.1)


@given(st.floats(0, 0.5), st.floats(0, 0.5))
def test_steeper_ground_never_allows_more(one, other):
    gentle, steep = sorted((one, other))
    assert erosion.longest_contributing_slope(steep) <= erosion.longest_contributing_slope(gentle)
