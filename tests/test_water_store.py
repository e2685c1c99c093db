"""The basin's volumes, levels and units against arithmetic by hand and against conservation."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_basins import RIM_M, basin_of

from geo_site.layout import LayoutParameters
from geo_site.siting import SitingParameters, design_basin
from geo_site.water import WaterParameters, first_need
from geo_site.water.curve import Band, BasinCurve, curve_of
from geo_site.water.store import Store, check_store, demand, store, stored_for, units_needed

FOOT = 0.3048
GALLON = 231 * 0.0254**3
PLAIN = WaterParameters()
NET_M2 = 12 * 0.8 * 0.6 * 0.95  # 5.472
BOTTOM_M = RIM_M - 0.15 - 0.45


def water(store=None, **top) -> WaterParameters:
    return WaterParameters(store=store or {}, **top)


def kept_of(units=12, rows=3, parameters=PLAIN, **siting) -> Store:
    return store(*basin_of(units, rows, **siting), parameters)


class TestByHand:
    """Twelve units, 3.2 x 1.8 m and 0.45 m high, 95 % void, 0.3 m of gravel beside them."""

    def test_units_alone(self):
        kept = kept_of()
        # 12 x 0.8 x 0.6 x 0.95 = 5.472 m2 of water; x 0.45 = 2.4624 m3; less 0.10 m: 1.9152 m3
        assert (kept.bottom_m, kept.full_m) == pytest.approx((BOTTOM_M, RIM_M - 0.15))
        assert kept.stored_m3 == pytest.approx(2.4624)
        assert kept.usable_m3 == pytest.approx(1.9152)
        assert kept.each_m3 == pytest.approx(1.9152 / 12)
        # 3.8 x 2.4 - 3.2 x 1.8 = 3.36 m2 x 0.40 x 0.35 = 0.4704 m3
        assert kept.gravel_m3 == pytest.approx(0.4704)
        assert kept.chamber_m3 == 0.0
        assert kept.flags == ()

    def test_the_first_fill_wets_all_gravel(self):
        """2.4624 in the units, 3.36 x 0.40 x 0.45 beside them, 9.12 x 0.40 x 0.10 under them."""
        filled = 2.4624 + 0.6048 + 0.3648
        assert kept_of().first_fill_m3 == pytest.approx(filled)
        counted = kept_of(parameters=water({"gravel_counts": True}))
        assert counted.first_fill_m3 == pytest.approx(filled)

    def test_gravel_that_counts_adds_water(self):
        """GEO-12: overdig filled with gravel adds stored water (common practice).

        By hand: 3.36 m2 x 0.40 = 1.344 m2 more; 0.45 m of it 0.6048 m3, above the pump 0.4704 m3.
        """
        kept = kept_of(parameters=water({"gravel_counts": True}))
        assert kept.stored_m3 == pytest.approx(2.4624 + 0.6048)
        assert kept.usable_m3 == pytest.approx(1.9152 + 0.4704)
        # and the cover's voids take what comes back: 9.12 m2 x 0.40 x 0.15 m = 0.5472 m3
        assert kept.curve.capacity_m3 == pytest.approx(2.4624 + 0.6048 + 0.5472)
        assert kept.overflow_m == pytest.approx(RIM_M)
        assert any("estimate" in told for told in kept.flags)

    def test_wider_overdig_more_gravel(self):
        wide = kept_of(parameters=water({"gravel_counts": True}), overdig=0.6)
        # 4.4 x 3.0 - 5.76 = 7.44 m2 x 0.40 x 0.35
        assert wide.gravel_m3 == pytest.approx(1.0416)
        none = kept_of(parameters=water({"gravel_counts": True}), overdig=0.0)
        assert none.gravel_m3 == 0.0
        assert none.usable_m3 == pytest.approx(1.9152)

    def test_a_pump_chamber(self):
        """0.5 m2 and 0.3 m below the units: the pump draws to 0.2 m below their floor.

        Chamber 0.5 x (0.45 + 0.30) = 0.375 m3, usable but for its lowest 0.10 m: 0.325 m3; the
        units are usable to their floor: 2.4624 m3.
        """
        kept = kept_of(parameters=water({"chamber_area": 0.5, "chamber_depth": 0.3}))
        assert kept.lowest_m == pytest.approx(BOTTOM_M - 0.30 + 0.10)
        assert kept.chamber_m3 == pytest.approx(0.375)
        assert kept.stored_m3 == pytest.approx(2.4624 + 0.375)
        assert kept.usable_m3 == pytest.approx(2.4624 + 0.325)
        assert any("0.20 m below the pit's floor" in told for told in kept.flags)
        # it takes the place of gravel: (3.36 - 0.5) x 0.40 x 0.45
        assert kept.gravel_m3 == pytest.approx(0.5148)

    def test_a_chamber_that_does_not_fit(self):
        kept = kept_of(parameters=water({"chamber_area": 4.0}))
        assert any("does not fit" in told for told in kept.flags)
        assert kept.gravel_m3 == 0.0

    def test_a_depth_without_an_area_is_no_chamber(self):
        assert kept_of(parameters=water({"chamber_depth": 0.5})) == kept_of()

    def test_geo_02_net_not_gross(self):
        """GEO-02: 12 x 6 ft, 2.5 ft of effective depth: 1,279.2 gal at 95 % void, 538.6 at 40 %."""
        for voids, gallons in ((0.95, 1279.2), (0.40, 538.6), (1.0, 1346.5)):
            kept = kept_of(
                units=12, rows=3, void_ratio=voids, unit_length=3 * FOOT, unit_width=2 * FOOT,
                unit_height=2.5 * FOOT + 0.1,
            )  # fmt: skip
            assert kept.usable_m3 / GALLON == pytest.approx(gallons, abs=0.1)

    def test_freeboard_under_the_units_top_leaves_room(self):
        kept = kept_of(parameters=water(freeboard=0.25))
        assert kept.full_m == pytest.approx(RIM_M - 0.25)
        assert kept.stored_m3 == pytest.approx(NET_M2 * 0.35)
        assert kept.curve.capacity_m3 - kept.stored_m3 == pytest.approx(NET_M2 * 0.10)

    def test_layers_and_rows(self):
        assert kept_of(24, 3, layers=2).stored_m3 == pytest.approx(2 * 2.4624)
        assert kept_of(24, 3, layers=2).layers == 2

    def test_a_pump_that_reaches_nothing(self):
        kept = kept_of(parameters=water(pump_reach=0.5))
        assert kept.usable_m3 == kept.each_m3 == 0.0


bands = st.lists(
    st.tuples(st.floats(0, 0.5), st.floats(0.05, 1.5), st.floats(0.05, 20)), min_size=1, max_size=4
).map(
    lambda parts: (
        [Band(bottom_m=99.5, top_m=100.0, net_m2=1.0)]
        + [
            Band(bottom_m=99.5 + low, top_m=99.5 + low + high, net_m2=net)
            for low, high, net in parts
        ]
    )
)


class TestCurve:
    @settings(max_examples=150, deadline=None)
    @given(parts=bands, share=st.floats(0, 1))
    def test_level_undoes_volume_and_both_rise(self, parts, share):
        curve = curve_of(parts)
        volume = share * curve.capacity_m3
        level = curve.level_of(volume)
        assert curve.volume_of(level) == pytest.approx(volume, abs=1e-9 * curve.capacity_m3)
        assert curve.levels_m[0] <= level <= curve.overflow_m
        again = curve.levels_m[0] + share * (curve.overflow_m - curve.levels_m[0])
        assert curve.level_of(curve.volume_of(again)) == pytest.approx(again, abs=1e-9)
        levels = np.linspace(curve.levels_m[0], curve.overflow_m, 50)
        assert np.all(np.diff([curve.volume_of(one) for one in levels]) > 0.0)

    @settings(max_examples=60, deadline=None)
    @given(parts=bands)
    def test_all_parts_together_hold_what_each_holds(self, parts):
        whole = sum(band.net_m2 * (band.top_m - band.bottom_m) for band in parts)
        assert curve_of(parts).capacity_m3 == pytest.approx(whole)

    def test_beyond_the_ends(self):
        curve = curve_of([Band(bottom_m=1.0, top_m=2.0, net_m2=3.0)])
        assert (curve.volume_of(0.0), curve.volume_of(9.0)) == (0.0, 3.0)
        assert (curve.level_of(-1.0), curve.level_of(9.0)) == (1.0, 2.0)

    @pytest.mark.parametrize(
        "parts",
        [
            [],
            [Band(bottom_m=1.0, top_m=1.0, net_m2=3.0)],
            [Band(bottom_m=1.0, top_m=2.0, net_m2=0.0)],
            [
                Band(bottom_m=1.0, top_m=2.0, net_m2=1.0),
                Band(bottom_m=3.0, top_m=4.0, net_m2=1.0),
            ],
        ],
    )
    def test_nothing_or_a_gap_is_refused(self, parts):
        with pytest.raises(ValueError, match="basin"):
            curve_of(parts)

    def test_a_curve_that_falls_is_refused(self):
        with pytest.raises(ValueError, match="rise"):
            BasinCurve(levels_m=(0.0, 1.0), volumes_m3=(0.0, 0.0))
        with pytest.raises(ValueError, match="first"):
            BasinCurve(levels_m=(0.0, 1.0), volumes_m3=(0.1, 1.0))


class TestDemand:
    def test_by_hand(self):
        """Moving 0.135, pipe 0.032, losses 0.255, reserve a fifth of the moving water."""
        asked = demand(0.135, 0.032, 0.255, WaterParameters(reserve=0.2))
        assert asked.required_m3 == pytest.approx(0.135 + 0.032 + 0.255 + 0.027)
        assert asked.returns_m3 == pytest.approx(0.167)

    def test_a_check_valve_keeps_the_pipe_full(self):
        asked = demand(0.135, 0.032, 0.255, water({"check_valve": True}, reserve=0.2))
        assert asked.required_m3 == pytest.approx(0.135 + 0.255 + 0.027)
        assert asked.returns_m3 == pytest.approx(0.135)


class TestCheck:
    def test_enough(self):
        kept = kept_of()
        check = check_store(kept, demand(0.5, 0.1, 0.3, PLAIN), PLAIN)
        assert check.is_enough
        assert check.fits_at_stop
        assert check.units_more == 0
        assert check.warnings == ()
        # 0.6 m3 are on their way: the level falls by 0.6 / 5.472
        assert check.running_level_m == pytest.approx(kept.full_m - 0.6 / NET_M2)
        assert check.free_room_m3 == pytest.approx(0.6)

    def test_too_little(self):
        check = check_store(kept_of(), demand(1.5, 0.1, 0.5, PLAIN), PLAIN)
        assert not check.is_enough
        # required 1.5 x 1.2 + 0.1 + 0.5 = 2.4; short of 0.4848; a unit gives 0.1596: 4 (3.04)
        assert check.units_more == 4
        assert "runs dry" in check.warnings[0]
        assert "4 more units" in check.warnings[0]

    def test_kept_full_while_running_it_overflows_at_the_stop(self):
        """What moves comes on top: 0.6 m3, and no room but what the freeboard leaves."""
        floated = water({"filled_while_running": True})
        check = check_store(kept_of(parameters=floated), demand(0.5, 0.1, 0.3, floated), floated)
        assert not check.fits_at_stop
        assert check.free_room_m3 == pytest.approx(0.0)
        assert any("overflows when the pump stops" in told for told in check.warnings)

    def test_room_above_the_float_takes_it(self):
        floated = water({"filled_while_running": True}, freeboard=0.30)
        kept = kept_of(parameters=floated)
        check = check_store(kept, demand(0.5, 0.1, 0.1, floated), floated)
        # full 0.15 m under the units' top: 0.8208 m3 free
        assert check.free_room_m3 == pytest.approx(NET_M2 * 0.15)
        assert check.fits_at_stop

    def test_nothing_reached(self):
        blind = water(pump_reach=0.5)
        check = check_store(kept_of(parameters=blind), demand(0.5, 0.1, 0.3, blind), blind)
        assert check.units_more is None
        assert "reaches none" in check.warnings[0]

    @settings(max_examples=40, deadline=None)
    @given(
        moving=st.floats(0.01, 1.0),
        pipe=st.floats(0, 0.3),
        gravel=st.booleans(),
        area=st.floats(0, 1),
        freeboard=st.floats(0, 0.3),
    )
    def test_stopped_and_running_hold_the_same_water(self, moving, pipe, gravel, area, freeboard):
        """Moving, pipe and stored are the same together before the start and while it runs."""
        parameters = water(
            {"gravel_counts": gravel, "chamber_area": area, "chamber_depth": 0.2},
            freeboard=freeboard,
        )
        kept = kept_of(parameters=parameters)
        asked = demand(moving, pipe, 0.0, parameters)
        check = check_store(kept, asked, parameters)
        assert check.fits_at_stop
        running = kept.curve.volume_of(check.running_level_m)
        assert running + asked.returns_m3 == pytest.approx(kept.stored_m3)
        assert check.free_room_m3 >= asked.returns_m3 - 1e-9


class TestUnitsNeeded:
    @settings(max_examples=50, deadline=None)
    @given(
        required=st.floats(0, 6),
        units=st.integers(1, 12),
        layers=st.sampled_from([1, 2, 3]),
        chamber=st.sampled_from([0.0, 0.3]),
    )
    def test_the_least_number_by_trying(self, required, units, layers, chamber):
        """Every number of units from one layer's worth on is built and asked."""
        parameters = water({"chamber_area": chamber, "chamber_depth": 0.1})
        found = units_needed(required, kept_of(units * layers, 1, parameters, layers=layers))
        tried = layers
        while kept_of(tried, 1, parameters, layers=layers).usable_m3 < required * (1 - 1e-9):
            tried += layers
        assert found == tried

    def test_the_siting_step_takes_the_number(self):
        """The volume handed to the basin's design makes it choose just that number."""
        siting = SitingParameters()
        design, _ = basin_of()
        for units in range(1, 60):
            assert design_basin(stored_for(units, design), siting).units == units
        doubled, _ = basin_of(24, 3, layers=2)
        for units in range(2, 60, 2):
            made = design_basin(stored_for(units, doubled), SitingParameters(layers=2))
            assert made.units == units

    def test_a_basin_grown_by_that_number_is_enough(self):
        """And one layer less is not: the loop of a plan ends."""
        asked = demand(2.0, 0.1, 1.0, PLAIN)
        small = kept_of(4, 1)
        needed = units_needed(asked.required_m3, small)
        assert not check_store(small, asked, PLAIN).is_enough
        assert check_store(kept_of(needed, 1), asked, PLAIN).is_enough
        assert not check_store(kept_of(needed - 1, 1), asked, PLAIN).is_enough

    def test_a_chamber_alone_may_do(self):
        deep = water({"chamber_area": 1.0, "chamber_depth": 1.0}, pump_reach=0.2)
        flat = dataclasses.replace(kept_of(parameters=deep), each_m3=0.0)
        assert units_needed(0.5, flat) == 1
        assert units_needed(99.0, flat) is None


def test_more_of_anything_never_holds_less():
    usable = [kept_of(units, 1).usable_m3 for units in range(1, 20)]
    assert usable == sorted(usable)
    heights = [kept_of(unit_height=height).usable_m3 for height in (0.3, 0.45, 0.6)]
    assert heights == sorted(heights)
    reaches = [kept_of(parameters=water(pump_reach=reach)).usable_m3 for reach in (0.3, 0.1, 0.0)]
    assert reaches == sorted(reaches)
    assert kept_of(parameters=water({"gravel_counts": True})).usable_m3 > kept_of().usable_m3


def test_a_number_of_units_is_kept_where_it_is_enough():
    assert units_needed(0.0, kept_of(12, 3)) == 1
    assert check_store(kept_of(12, 3), demand(0.01, 0.0, 0.0, PLAIN), PLAIN).units_more == 0


def test_the_first_estimate_leaves_a_held_pipe_out():
    """9 m of 2-1/2 in pipe or so: some 20 to 40 litres less, over what the pump reaches."""
    wanted = LayoutParameters()
    less = first_need(PLAIN, wanted) - first_need(water({"check_valve": True}), wanted)
    length = max(wanted.wanted_fall / wanted.usual_slope, wanted.least_length)
    inside = less * (1.0 - PLAIN.first_unreachable) / length  # m2 of pipe
    assert 0.04 < (inside * 4.0 / np.pi) ** 0.5 < 0.09
