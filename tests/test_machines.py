"""Machines: pressure under the tracks, and the table of classes."""

import math
from itertools import pairwise

import pytest

from geo_site import machines


def test_ground_pressure():
    """ACC-01: 8,000 kg on two tracks of 0.45 x 2.28 m (arithmetic)."""
    assert machines.ground_pressure(8000, 2.28, 0.45) / 1000 == pytest.approx(38.2, abs=0.05)


def test_one_track_is_not_two():
    """ACC-01: with the area of one track it would be 76 kPa."""
    assert machines.ground_pressure(8000, 2.28, 0.45) < 40e3


def test_gap_leaves_room_on_both_sides():
    assert machines.clear_gap(1.0) == pytest.approx(1.6)


def test_larger_machines_need_more():
    for small, large in pairwise(machines.MACHINE_CLASSES.values()):
        assert small.width_m < large.width_m
        assert small.length_m < large.length_m
        assert small.dig_depth_m < large.dig_depth_m
        assert small.pressure_pa < large.pressure_pa


def test_ground_across_is_the_gentler_limit():
    for machine in machines.MACHINE_CLASSES.values():
        assert machine.slope_across == pytest.approx(math.tan(math.radians(10)))
        assert machine.slope_across < machine.slope_along


@pytest.mark.parametrize(("length_m", "width_m"), [(0.0, 0.4), (2.0, -0.4), (math.nan, 0.4)])
def test_a_track_has_a_size(length_m, width_m):
    with pytest.raises(ValueError, match="greater than 0"):
        machines.ground_pressure(8000, length_m, width_m)
