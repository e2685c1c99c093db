"""Runoff: the published tables and worked examples, and what must hold for any rain."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo_site.channels import gutter_flow, gutter_spread
from geo_site.runoff import (
    COVERS,
    LONGEST_SHEET_M,
    PAVED_CURVE_NUMBER,
    composite_curve_number,
    frequency_factor,
    graphical_peak,
    initial_abstraction,
    kirpich_time,
    pond_factor,
    potential_retention,
    rational_peak,
    retention_at_5_percent,
    runoff_depth,
    shallow_velocity,
    sheet_time,
    unconnected_curve_number,
    unit_peak,
    weighted_coefficient,
    weighted_runoff,
)

INCH, FOOT = 0.0254, 0.3048
MILE2, CFS, ACRE = 1609.344**2, 0.3048**3, 4046.8564224
CSM_IN = CFS / MILE2 / INCH
RAINS = "1.0 1.2 1.4 1.6 1.8 2.0 2.5 3.0 3.5 4.0 4.5 5 6 7 8 9 10 11 12 13 14 15"
TABLE_2_1 = {
    55: "0 0 0 0 0 .02 .08 .19 .35 .53 .74 .98 1.52 2.12 2.78 3.49 4.23 5.00 5.79 6.61 7.44 8.29",
    70: "0 .03 .06 .11 .17 .24 .46 .71 1.01 1.33 1.67 2.04 2.81 3.62 4.46 5.33 6.22 7.13 8.05 8.98 "
    "9.91 10.85",
    80: ".08 .15 .24 .34 .44 .56 .89 1.25 1.64 2.04 2.46 2.89 3.78 4.69 5.63 6.57 7.52 8.48 9.45 "
    "10.42 11.39 12.37",
    90: ".32 .46 .61 .76 .93 1.09 1.53 1.98 2.45 2.92 3.40 3.88 4.85 5.82 6.81 7.79 8.78 9.77 "
    "10.76 11.76 12.75 13.74",
    95: ".56 .74 .92 1.11 1.29 1.48 1.96 2.45 2.94 3.43 3.92 4.42 5.41 6.41 7.40 8.40 9.40 10.39 "
    "11.39 12.39 13.39 14.39",
}
"""TR-55 table 2-1, five of its columns; inches."""

CASES = [
    (number, float(rain), float(runoff))
    for number, column in TABLE_2_1.items()
    for rain, runoff in zip(RAINS.split(), column.split(), strict=True)
]
LOTS = {
    0.65: (77, 85, 90, 92), 0.38: (61, 75, 83, 87), 0.25: (54, 70, 80, 85),
    0.20: (51, 68, 79, 84), 0.12: (46, 65, 77, 82), 0.85: (89, 92, 94, 95),
    0.72: (81, 88, 91, 93),
}  # fmt: skip
"""Composite curve numbers of TR-55 table 2-2a by impervious part, soil groups A to D."""

NUMBERS = st.floats(30.0, 100.0)
RAIN = st.floats(0.0, 0.5)


class TestCurveNumbers:
    def test_the_table_is_whole(self):
        assert len(CASES) == 110

    @pytest.mark.parametrize(("number", "rain_in", "runoff_in"), CASES)
    def test_table_2_1(self, number, rain_in, runoff_in):
        """RUN-01, RUN-02, RUN-03, RUN-04, RUN-05: 110 values, five columns of TR-55 table 2-1."""
        assert runoff_depth(rain_in * INCH, number) / INCH == pytest.approx(runoff_in, abs=0.0051)

    def test_one_in_full(self):
        """RUN-06: TR-55, CN 75 and 6 inches."""
        assert potential_retention(75.0) / INCH == pytest.approx(3.333, abs=5e-4)
        assert initial_abstraction(75.0) / INCH == pytest.approx(0.667, abs=5e-4)
        assert runoff_depth(6.0 * INCH, 75.0) / INCH == pytest.approx(3.28, abs=0.005)

    def test_pasture(self):
        """RUN-07: TR-55, CN 70 and 6 inches."""
        assert runoff_depth(6.0 * INCH, 70.0) / INCH == pytest.approx(2.8052, abs=1e-4)

    def test_a_little_rain_on_a_roof_stays_there(self):
        """RUN-08: the formula past its limit would give 6e-4 inches."""
        assert initial_abstraction(98.0) / INCH == pytest.approx(0.0408, abs=1e-4)
        assert runoff_depth(0.03 * INCH, 98.0) == 0.0

    @pytest.mark.parametrize(("impervious", "wanted"), LOTS.items())
    def test_lots(self, impervious, wanted):
        """RUN-10: districts of TR-55 table 2-2a from grass in good condition."""
        lawn = COVERS["lawn"].curve_numbers
        assert lawn == (39.0, 61.0, 74.0, 80.0)
        found = [composite_curve_number(pervious, impervious) for pervious in lawn]
        assert found == pytest.approx(wanted, abs=0.6)

    def test_roofs_that_shed_onto_the_lawn(self):
        """RUN-11: TR-55 p. 2-11."""
        assert unconnected_curve_number(61.0, 0.20, 0.75) == pytest.approx(65.6, abs=0.05)
        assert composite_curve_number(61.0, 0.20) == pytest.approx(68.4, abs=0.05)
        assert unconnected_curve_number(61.0, 0.20, 0.0) == composite_curve_number(61.0, 0.20)

    def test_the_other_abstraction(self):
        """RUN-13: Woodward et al. (2003), equation 8."""
        assert retention_at_5_percent(75.0) / INCH == pytest.approx(5.311, abs=0.005)
        assert initial_abstraction(75.0, 0.05) / INCH == pytest.approx(0.05 * 5.311, abs=5e-4)
        by_hand = (6.0 - 0.05 * 5.311) ** 2 / (6.0 + 0.95 * 5.311)
        assert runoff_depth(6.0 * INCH, 75.0, 0.05) / INCH == pytest.approx(by_hand, abs=1e-3)

    @given(RAIN, NUMBERS, st.sampled_from([0.2, 0.05]))
    def test_never_more_than_the_rain(self, rain_m, number, ratio):
        assert 0.0 <= runoff_depth(rain_m, number, ratio) <= rain_m * (1.0 + 1e-12)

    @given(RAIN, RAIN, NUMBERS, NUMBERS)
    def test_more_rain_and_a_higher_number_give_more(self, one_m, other_m, one, other):
        less_m, more_m = sorted((one_m, other_m))
        low, high = sorted((one, other))
        assert runoff_depth(less_m, low) <= runoff_depth(more_m, low) + 1e-15
        assert runoff_depth(more_m, low) <= runoff_depth(more_m, high) + 1e-15

    @given(RAIN, NUMBERS, st.lists(st.floats(0.1, 1e4), min_size=1, max_size=5))
    def test_equal_surfaces_are_as_one(self, rain_m, number, areas):
        mean_m = weighted_runoff(rain_m, areas, [number] * len(areas))
        assert mean_m == pytest.approx(runoff_depth(rain_m, number), rel=1e-9, abs=1e-15)

    @given(RAIN, st.lists(st.tuples(st.floats(0.1, 1e4), NUMBERS), min_size=1, max_size=5))
    def test_weighted_depth_times_area_is_the_sum(self, rain_m, surfaces):
        areas, numbers = zip(*surfaces, strict=True)
        whole_m3 = weighted_runoff(rain_m, areas, numbers) * sum(areas)
        apart_m3 = sum(a * runoff_depth(rain_m, n) for a, n in surfaces)
        assert whole_m3 == pytest.approx(apart_m3, rel=1e-9, abs=1e-12)

    def test_weighting_numbers_instead_hides_the_roof(self):
        """An inch on 20 % roof and 80 % lawn: the roof sheds 0.79 inch, a mean number nothing."""
        mean_m = weighted_runoff(INCH, [20.0, 80.0], [98.0, 61.0])
        assert mean_m == pytest.approx(0.2 * runoff_depth(INCH, 98.0))
        assert runoff_depth(INCH, 0.2 * 98.0 + 0.8 * 61.0) < 0.01 * mean_m

    def test_no_cover_sheds_more_than_paving_and_wetter_soil_sheds_more(self):
        for cover in COVERS.values():
            assert list(cover.curve_numbers) == sorted(cover.curve_numbers)
            assert cover.curve_numbers[-1] <= PAVED_CURVE_NUMBER
            assert cover.coefficient("A", 0.01) <= cover.coefficient("D", 0.10) <= 1.0

    @pytest.mark.parametrize(
        "call",
        [
            lambda: runoff_depth(-0.01, 75.0),
            lambda: runoff_depth(0.1, 0.0),
            lambda: runoff_depth(0.1, 101.0),
            lambda: runoff_depth(0.1, 75.0, 0.1),
            lambda: initial_abstraction(75.0, 0.1),
            lambda: composite_curve_number(61.0, 1.1),
            lambda: unconnected_curve_number(61.0, 0.4, 0.5),
            lambda: weighted_runoff(0.1, [0.0], [75.0]),
            lambda: weighted_runoff(0.1, [1.0, 1.0], [75.0]),
        ],
    )
    def test_what_cannot_be_is_refused(self, call):
        with pytest.raises(ValueError, match=r"\w"):
            call()


class TestPeaks:
    def test_graphical_peak(self):
        """RUN-20: TR-55 example 4-1, type II."""
        part = initial_abstraction(75.0) / (6.0 * INCH)
        assert part == pytest.approx(0.111, abs=5e-4)
        tc_s = 1.53 * 3600.0
        assert unit_peak(tc_s, 0.10) / CSM_IN == pytest.approx(271.7, abs=0.1)
        assert unit_peak(tc_s, 0.30) / CSM_IN == pytest.approx(222.0, abs=0.1)
        assert unit_peak(tc_s, 0.111) / CSM_IN == pytest.approx(268.9, abs=0.1)
        runoff_m = runoff_depth(6.0 * INCH, 75.0)
        peak = graphical_peak(0.39 * MILE2, runoff_m, unit_peak(tc_s, part))
        assert peak / CFS == pytest.approx(345.0, rel=0.01)

    def test_ponds(self):
        """TR-55 table 4-2."""
        parts = (0.0, 0.002, 0.01, 0.03, 0.05)
        assert [pond_factor(part) for part in parts] == [1.0, 0.97, 0.87, 0.75, 0.72]
        assert graphical_peak(1.0, 1.0, 1.0, 0.01) == 0.87

    def test_rational_in_si(self):
        """RUN-40: FHWA HEC-22, example 3-3, existing ground."""
        peak = rational_peak(0.235, 48e-3 / 3600.0, 17.55e4)
        assert peak == pytest.approx(0.55, rel=0.01)

    def test_a_lot_in_us_units(self):
        """RUN-42: roof and lawn of a lot; an acre-inch an hour is 1.00833 ft3/s."""
        areas = [2400.0 * FOOT**2, 9600.0 * FOOT**2]
        c = weighted_coefficient(areas, [0.90, 0.25])
        assert c == pytest.approx(0.380)
        peak = rational_peak(c, 4.8 * INCH / 3600.0, sum(areas))
        assert peak / CFS == pytest.approx(0.5065, rel=1e-3)
        assert peak / 6.30901964e-5 == pytest.approx(227.3, rel=1e-3)
        assert rational_peak(1.0, INCH / 3600.0, ACRE) / CFS == pytest.approx(1.008, abs=5e-4)

    def test_frequency(self):
        """HEC-22 table 3-2 (from memory)."""
        found = [frequency_factor(years) for years in (1, 2, 10, 25, 50, 100, 500)]
        assert found == [1.0, 1.0, 1.0, 1.1, 1.2, 1.25, 1.25]

    @given(st.floats(360.0, 36_000.0), st.floats(0.0, 1.0))
    def test_the_unit_peak_falls_with_what_is_held_back(self, tc_s, part):
        assert unit_peak(tc_s, part) <= unit_peak(tc_s, 0.0) * (1 + 1e-12)
        assert unit_peak(tc_s, part) >= unit_peak(tc_s, 1.0) * (1 - 1e-12)

    @pytest.mark.parametrize(
        "call",
        [
            lambda: unit_peak(300.0, 0.1),
            lambda: unit_peak(36_001.0, 0.1),
            lambda: unit_peak(3600.0, 0.1, "IA"),
            lambda: pond_factor(0.06),
            lambda: rational_peak(1.1, 0.1, 1.0),
            lambda: frequency_factor(0.0),
            lambda: graphical_peak(-1.0, 0.1, 1.0),
            lambda: weighted_coefficient([], []),
        ],
    )
    def test_what_the_methods_are_not_for_is_refused(self, call):
        with pytest.raises(ValueError, match=r"\w"):
            call()


class TestTravel:
    def test_leg_by_leg(self):
        """RUN-30: TR-55 example 3-1, sheet, shallow and channel flow."""
        sheet_h = sheet_time(100.0 * FOOT, 0.01, 0.24, 3.6 * INCH) / 3600.0
        shallow_ms = shallow_velocity(0.01, paved=False)
        radius_ft = 27.0 / 28.2
        channel_fts = 1.486 / 0.05 * radius_ft ** (2 / 3) * math.sqrt(0.005)
        shallow_h = 1400.0 * FOOT / shallow_ms / 3600.0
        channel_h = 7300.0 / channel_fts / 3600.0
        assert shallow_ms / FOOT == pytest.approx(1.6, abs=0.05)
        assert sheet_h == pytest.approx(0.30, abs=0.005)
        assert shallow_h == pytest.approx(0.24, abs=0.005)
        assert channel_h == pytest.approx(0.99, abs=0.005)
        assert sheet_h + shallow_h + channel_h == pytest.approx(1.53, abs=0.005)

    def test_sheet_in_si(self):
        """RUN-31: 0.0913 (n L)^0.8 / (P2^0.5 s^0.4) h in m and mm."""
        hours = sheet_time(30.48, 0.01, 0.24, 0.09144) / 3600.0
        assert hours == pytest.approx(0.2959, abs=0.001)
        by_hand = 0.091265 * (0.24 * 30.48) ** 0.8 / (91.44**0.5 * 0.01**0.4)
        assert hours == pytest.approx(by_hand, rel=1e-4)

    def test_kirpich(self):
        """RUN-32: 1,000 ft at 2 %."""
        assert kirpich_time(1000.0 * FOOT, 0.02) / 60.0 == pytest.approx(7.18, abs=0.02)
        by_si = 0.0195 * 304.8**0.77 * 0.02**-0.385
        assert kirpich_time(304.8, 0.02) / 60.0 == pytest.approx(by_si, abs=0.02)

    def test_paving_is_quicker(self):
        """TR-55 appendix F, ft/s."""
        assert shallow_velocity(1.0, paved=True) / FOOT == pytest.approx(20.3282)
        assert shallow_velocity(1.0, paved=False) / FOOT == pytest.approx(16.1345)

    def test_gutter(self):
        """RUN-60: FHWA HEC-22 example 5.1, by the channels' own formula."""
        assert gutter_spread(1.8 * CFS, 0.02, 0.01, 0.016) / FOOT == pytest.approx(9.0, abs=0.1)
        assert gutter_flow(8.2 * FOOT, 0.02, 0.01, 0.016) / CFS == pytest.approx(1.4, abs=0.05)

    @pytest.mark.parametrize(
        "call",
        [
            lambda: sheet_time(LONGEST_SHEET_M + 0.1, 0.01, 0.24, 0.09),
            lambda: sheet_time(10.0, 0.0, 0.24, 0.09),
            lambda: shallow_velocity(-0.1, paved=True),
            lambda: kirpich_time(10.0, 0.0),
        ],
    )
    def test_what_cannot_be_is_refused(self, call):
        with pytest.raises(ValueError, match=r"\w"):
            call()
