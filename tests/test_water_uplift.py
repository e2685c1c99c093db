"""Groundwater and loads against Archimedes and arithmetic."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_basins import basin_of

from geo_site.water import WaterParameters
from geo_site.water.uplift import judge_load, judge_uplift, spread_pressure

G = 9.80665


def ground(**groundwater) -> WaterParameters:
    return WaterParameters(groundwater=groundwater)


def loads(**load) -> WaterParameters:
    return WaterParameters(load=load)


class TestUplift:
    """Pit floor 3.8 x 2.4 m = 9.12 m2, 0.70 m below the rim; units 3.2 x 1.8 x 0.45 m."""

    def test_unknown_is_said(self):
        found = judge_uplift(*basin_of(), WaterParameters())
        assert found.state == "unknown"
        assert math.isnan(found.above_floor_m)
        assert "not known" in found.warnings[0]

    def test_below_the_floor(self):
        found = judge_uplift(*basin_of(), ground(water_table_depth=0.8))
        assert (found.state, found.uplift_n, found.cover_needed_m) == ("below", 0.0, 0.0)
        assert found.above_floor_m == pytest.approx(-0.1)
        assert found.warnings == ()

    def test_geo_03_archimedes(self):
        """GEO-03: 9.81 kN/m3 on each square metre: 6 m2 and 0.6 m are 35.32 kN."""
        design, placement = basin_of(12, 3, overdig=0.0, unit_length=0.75, unit_width=2.0 / 3.0)
        assert placement.pit_floor.area == pytest.approx(6.0)
        depth = design.depth_m - 0.6
        found = judge_uplift(design, placement, ground(water_table_depth=depth))
        assert found.above_floor_m == pytest.approx(0.6)
        assert found.uplift_n == pytest.approx(35_320, rel=1e-3)

    def test_geo_04_cover_that_is_missing(self):
        """GEO-04: without gravel 0.392 m of soil of 18 kN/m3 hold 0.6 m of groundwater at 1.2."""
        bare = {"overdig": 0.0, "cover": 0.0, "bedding": 0.0, "unit_height": 0.7}
        design, placement = basin_of(12, 3, **bare)
        found = judge_uplift(design, placement, ground(water_table_depth=0.1, hold_down_factor=1.2))
        assert found.weight_n == pytest.approx(0.0, abs=1e-6)
        assert found.cover_needed_m == pytest.approx(0.392, abs=1e-3)

    def test_geo_01_weight_of_gravel(self):
        """GEO-01: 1,590 kg/m3. Gravel: 9.12 x 0.70 - 5.76 x 0.45 = 3.792 m3: 59.13 kN."""
        found = judge_uplift(*basin_of(), ground(water_table_depth=0.3))
        assert found.weight_n == pytest.approx(3.792 * 1590.0 * G)
        # 0.4 m over 9.12 m2: 35.79 kN; x 1.2 = 42.94: held down
        assert found.uplift_n == pytest.approx(9.12 * 0.4 * 9810.0)
        assert (found.short_n, found.cover_needed_m) == (0.0, 0.0)

    def test_a_liner_is_lifted_whatever_the_factor(self):
        found = judge_uplift(*basin_of(), ground(water_table_depth=0.69))
        assert found.short_n == 0.0
        assert "lifts it whatever the factor" in found.warnings[0]

    def test_what_is_missing_is_said(self):
        found = judge_uplift(*basin_of(), ground(water_table_depth=-0.2, hold_down_factor=1.5))
        # 0.9 m over 9.12 m2: 80.52 kN; x 1.5 = 120.78; less 59.13: 61.65 kN over 9.12 m2 at 18
        assert found.short_n == pytest.approx(61_650, rel=1e-3)
        assert found.cover_needed_m == pytest.approx(61.65 / (18 * 9.12), rel=1e-3)
        assert "too little at the factor asked for: 0.38 m" in found.warnings[0]

    @settings(max_examples=60, deadline=None)
    @given(depth=st.floats(-1, 2), factor=st.floats(1, 3))
    def test_the_cover_said_to_be_missing_is_what_balances(self, depth, factor):
        parameters = ground(water_table_depth=depth, hold_down_factor=factor)
        found = judge_uplift(*basin_of(), parameters)
        held = found.weight_n + found.cover_needed_m * 18_000.0 * 9.12
        assert held >= factor * found.uplift_n * (1 - 1e-9)
        if found.cover_needed_m > 0.0:
            assert held == pytest.approx(factor * found.uplift_n)


class TestLoad:
    def test_by_hand(self):
        """Cover 0.15 m x 18 = 2.7 kPa. A stone of 500 kg on 0.1 m2 (0.3162 m square): 4,903 N on
        0.4662^2 = 0.21737 m2: 22.56 kPa. A track of 32 kPa doubled, 1.2 x 0.23 m: 17,664 N on
        1.35 x 0.38 m: 34.43 kPa.
        """
        found = judge_load(0.15, WaterParameters())
        assert found.cover_pa == pytest.approx(2700.0)
        assert found.stone_pa == pytest.approx(22_557, rel=1e-3)
        assert found.machine_pa == pytest.approx(34_433, rel=1e-3)
        assert found.greatest_pa == pytest.approx(2700.0 + 34_433, rel=1e-3)

    def test_geo_13_spread(self):
        """GEO-13: 4,903 N on 0.5 x 0.5 m spread over 1 x 1 m at 0.5 m: 4,903 Pa."""
        assert spread_pressure(4903.0, 0.5, 0.5, 0.5) == pytest.approx(4903.0)
        assert spread_pressure(4903.0, 0.5, 0.5, 0.0) == pytest.approx(4 * 4903.0)

    def test_an_unknown_rating_is_unknown(self):
        found = judge_load(0.15, WaterParameters())
        assert found.state == "unknown"
        assert math.isnan(found.rated_pa)
        assert "not known" in found.warnings[0]
        assert "25 kPa" in found.warnings[0]

    def test_carried_and_overloaded(self):
        assert judge_load(0.15, loads(rated_load=50.0)).state == "carried"
        assert judge_load(0.15, loads(rated_load=50.0)).warnings == ()
        both = judge_load(0.15, loads(rated_load=20.0))
        assert both.state == "overloaded"
        assert ["stone" in told for told in both.warnings] == [True, False]
        one = judge_load(0.15, loads(rated_load=30.0))
        assert len(one.warnings) == 1
        assert "machine" in one.warnings[0]

    def test_no_machine_no_word_of_it(self):
        found = judge_load(0.15, loads(rated_load=30.0, machine_pressure=0.0))
        assert (found.state, found.warnings) == ("carried", ())

    def test_deep_cover_lets_two_tracks_meet(self):
        """0.6 m deep the spreads of tracks 0.53 m apart overlap: they add up."""
        # 17,664 / (1.8 x 0.83) = 11.82 kPa, twice
        assert judge_load(0.6, WaterParameters()).machine_pa == pytest.approx(23_647, rel=1e-3)

    @settings(max_examples=60, deadline=None)
    @given(mass=st.floats(1, 5000), side=st.floats(0.05, 2), cover=st.floats(0, 2))
    def test_the_spread_carries_the_whole_load(self, mass, side, cover):
        pressure = spread_pressure(mass * G, side, side, cover)
        assert pressure * (side + cover) ** 2 == pytest.approx(mass * G)
        assert pressure <= mass * G / side**2 * (1 + 1e-12)

    @pytest.mark.parametrize("size", [(0.0, 1.0, 0.1), (1.0, 0.0, 0.1), (1.0, 1.0, -0.1)])
    def test_nonsense_is_refused(self, size):
        with pytest.raises(ValueError, match="footing"):
            spread_pressure(1.0, *size)
