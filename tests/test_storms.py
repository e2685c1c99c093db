"""Storms on made ground: areas, times, peaks and lines that can be worked out in the head."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_site, plane, valley
from shapely import union_all
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from geo_site.channels import Trapezoid, manning_flow, manning_velocity
from geo_site.errors import InputRefused
from geo_site.rainfall import DAY_S, RainfallTable
from geo_site.raster import burn
from geo_site.runoff import (
    COVERS,
    frequency_factor,
    graphical_peak,
    initial_abstraction,
    runoff_depth,
    sheet_time,
    unit_peak,
)
from geo_site.site import Site
from geo_site.terrain import (
    Catchment,
    FlowPath,
    Terrain,
    TerrainParameters,
    analyse,
    catchment_of,
    spill_path,
)
from geo_site.water import StormReport, StormWorks, judge_storms
from geo_site.water.overflow import follow_overflow, leaving_of
from geo_site.water.storm_settings import StormParameters
from geo_site.water.storms import TOGETHER

BASIN, STREAM = box(17, 20, 21, 24), box(18, 10, 20, 20)
"""On the plane that falls north, the stream above the basin."""

TABLE = RainfallTable(
    durations_s=(300.0, 900.0, 3600.0, DAY_S),
    return_years=(1.0, 2.0, 10.0, 25.0, 100.0),
    depths_m=(
        (0.008, 0.010, 0.015, 0.018, 0.024),
        (0.014, 0.018, 0.026, 0.032, 0.042),
        (0.025, 0.031, 0.045, 0.055, 0.075),
        (0.055, 0.066, 0.100, 0.120, 0.165),
    ),
    series="partial_duration",
    source="invented",
)


@cache
def plain() -> tuple[Site, Terrain]:
    """The plane that falls north, with nothing on it."""
    site = make_site("plane")
    return site, analyse(site, TerrainParameters())


def judged(
    surface="plane", *, rain=TABLE, free=None, keep_off=None, room_m3=2.0, used=None, **site_of
) -> StormReport:
    """Judge storms on basin and stream."""
    if surface == "plane" and not site_of:
        site, terrain = plain()
    else:
        site = make_site(surface, **site_of)
        terrain = analyse(site, TerrainParameters())
    site = replace(site, rainfall=rain)
    run_ons = tuple(
        (work, catchment_of(terrain, work, site.parcel, name))
        for name, work in (("basin", BASIN), ("stream", STREAM))
    )
    works = StormWorks(
        run_ons=run_ons,
        free=site.parcel if free is None else free,
        keep_off=Polygon() if keep_off is None else keep_off,
        overflow=spill_path(terrain, 19.5, 24.5),
        free_room_m3=room_m3,
    )
    return judge_storms(site, terrain, works, StormParameters(**(used or {})))


def storm(report: StormReport, work: str, years: float):
    return next(s for s in report.storms if (s.runs_onto, s.return_years) == (work, years))


def run_on(report: StormReport, work: str = TOGETHER):
    return next(r for r in report.run_ons if r.runs_onto == work)


class TestSurfaces:
    def test_a_plane_of_lawn(self):
        """Columns 17 to 20 from the southern edge of the data at y = -20 to the basin's end."""
        report = judged()
        basin = run_on(report, "basin")
        assert basin.area_m2 == 4.0 * 44.0
        (share,) = basin.shares
        assert (share.cover, share.soil_group, share.curve_number) == ("lawn", "unknown", 80.0)
        assert share.area_m2 == pytest.approx(basin.area_m2)
        assert any("group D, the wettest" in note for note in report.notes)
        assert any("taken as lawn" in note for note in report.notes)

    def test_small_surfaces_lie_on_large_ones(self):
        """A roof of 4 m2 on a meadow of 40 m2; the rest is lawn."""
        report = judged(
            surfaces=[{"geometry": box(10, -10, 30, 0), "kind": "meadow"}],
            structures=[{"geometry": box(18, -6, 20, -4), "kind": "patio"}],
        )
        areas = {share.cover: share.area_m2 for share in run_on(report, "basin").shares}
        assert areas == pytest.approx({"paving": 4.0, "meadow": 36.0, "lawn": 136.0})

    def test_numbers_of_a_surface_are_used(self):
        report = judged(
            surfaces=[
                {
                    "geometry": box(0, -20, 40, 30),
                    "kind": "lawn",
                    "curve_number": 65.0,
                    "runoff_coefficient": 0.2,
                }
            ]
        )
        (share,) = run_on(report).shares
        assert (share.curve_number, share.runoff_coefficient) == (65.0, 0.2)
        assert share.stated_by == "surface"

    def test_what_is_not_known_is_taken_as_paving_and_told(self):
        report = judged(surfaces=[{"geometry": box(0, -20, 40, 30), "kind": "zzz"}])
        (share,) = run_on(report).shares
        assert (share.cover, share.curve_number) == ("unknown", 98.0)
        assert any("kind that is not known" in note for note in report.notes)

    @pytest.mark.parametrize(
        ("soil", "group", "number"),
        [("sand", "A", 39.0), ("loam", "B", 61.0), ("clay", "D", 80.0), ("unknown", "unknown", 80)],
    )
    def test_soil(self, soil, group, number):
        report = judged(soils=[{"geometry": box(-50, -50, 90, 90), "kind": soil}])
        (share,) = run_on(report).shares
        assert (share.soil_group, share.curve_number) == (group, number)
        told = any("Soil is not known" in note for note in report.notes)
        assert told == (group == "unknown")

    @pytest.mark.parametrize("bad", [{"curve_number": 101.0}, {"runoff_coefficient": 1.2}])
    def test_a_number_that_cannot_be_is_refused_by_id(self, bad):
        with pytest.raises(InputRefused, match="s9"):
            judged(surfaces=[{"id": "s9", "geometry": box(0, 0, 5, 5), "kind": "lawn", **bad}])

    @settings(max_examples=15, deadline=None)
    @given(
        st.lists(
            st.tuples(st.floats(-19, 40), st.floats(-19, 20), st.floats(1, 20), st.floats(1, 20)),
            max_size=4,
        )
    )
    def test_shares_add_up_to_the_catchment(self, corners):
        report = judged(
            surfaces=[
                {"geometry": box(x, y, x + w, y + h), "kind": "gravel"} for x, y, w, h in corners
            ],
            rain=None,
        )
        for one in report.run_ons:
            assert sum(s.area_m2 for s in one.shares) == pytest.approx(one.area_m2)


class TestTime:
    def test_sheet_flow_to_the_stream(self):
        """From the first cell's centre at y = -19.5 to the last above the stream at y = 9.5."""
        stream = run_on(judged(), "stream")
        (leg,) = stream.legs
        assert (leg.kind, leg.length_m) == ("sheet", 29.0)
        assert leg.slope == pytest.approx(0.1)
        assert stream.concentration_s == pytest.approx(sheet_time(29.0, 0.1, 0.15, 0.066))

    def test_shallow_flow_after_100_feet(self):
        basin = run_on(judged(), "basin")
        assert [leg.kind for leg in basin.legs] == ["sheet", "shallow"]
        assert basin.legs[0].length_m == pytest.approx(30.48)
        assert sum(leg.length_m for leg in basin.legs) == pytest.approx(basin.path.length)
        shallow = basin.legs[1]
        assert shallow.time_s == pytest.approx(
            shallow.length_m / (4.9178 * math.sqrt(0.1)), rel=1e-4
        )

    def test_a_channel_where_much_ground_is_drained(self):
        legs = run_on(judged(valley(19.5), used={"channel_from": 1000.0}), "basin").legs
        assert [leg.kind for leg in legs] == ["sheet", "shallow", "channel"]
        channel = legs[-1]
        speed_ms = manning_velocity(Trapezoid(0.3, 2.0), 0.3, channel.slope, 0.05)
        assert channel.slope == pytest.approx(0.05)
        assert channel.time_s == pytest.approx(channel.length_m / speed_ms)

    def test_level_ground_is_given_the_least_slope(self):
        report = judged(lambda x, y: 100.0 - 1e-5 * y)
        assert {leg.slope for one in report.run_ons for leg in one.legs} == {0.005}

    def test_never_shorter_than_the_settings_say(self):
        report = judged(used={"least_concentration": 3000.0})
        assert {one.concentration_s for one in report.run_ons} == {3000.0}


class TestStorms:
    def test_by_hand(self):
        """The 10-year storm on the basin: lawn on unknown soil, steep: CN 80, C 0.35."""
        report = judged()
        found, ground = storm(report, "basin", 10.0), run_on(report, "basin")
        tc_s = ground.concentration_s
        assert found.duration_s == tc_s
        assert found.depth_m == pytest.approx(TABLE.depth(tc_s, 10.0))
        assert found.rational_m3s == pytest.approx(0.35 * found.depth_m / tc_s * 176.0)
        assert found.runoff_m == pytest.approx(runoff_depth(0.100, 80.0))
        assert found.volume_m3 == pytest.approx(found.runoff_m * 176.0)
        unit = unit_peak(max(tc_s, 360.0), initial_abstraction(80.0) / 0.100)
        assert found.curve_number_m3s == pytest.approx(graphical_peak(176.0, found.runoff_m, unit))
        assert found.peak_m3s == max(found.rational_m3s, found.curve_number_m3s)
        assert found.is_lower_bound

    def test_a_rare_storm_has_the_frequency_factor(self):
        report = judged()
        found = storm(report, "basin", 100.0)
        c = frequency_factor(100.0) * 0.35
        assert found.rational_m3s == pytest.approx(c * found.intensity_ms * 176.0)

    def test_volume_is_the_sum_over_surfaces(self):
        report = judged(structures=[{"geometry": box(15, -6, 25, -4), "kind": "patio"}])
        ground, found = run_on(report), storm(report, TOGETHER, 25.0)
        by_share = sum(s.area_m2 * runoff_depth(0.120, s.curve_number) for s in ground.shares)
        assert found.volume_m3 == pytest.approx(by_share)

    def test_the_rarer_the_more(self):
        report = judged()
        for work in ("basin", "stream", TOGETHER):
            storms = [s for s in report.storms if s.runs_onto == work]
            for name in ("depth_m", "volume_m3", "rational_m3s", "curve_number_m3s", "peak_m3s"):
                values = [getattr(s, name) for s in storms]
                assert values == sorted(values), (work, name)

    def test_little_runoff_is_for_the_rational_formula_only(self):
        """Woods on sand: CN 30 is under what the curve number method is for."""
        report = judged(
            soils=[{"geometry": box(-50, -50, 90, 90), "kind": "sand"}], used={"cover": "woods"}
        )
        found = storm(report, "basin", 100.0)
        assert found.method == "rational"
        assert math.isnan(found.curve_number_m3s)
        assert found.peak_m3s == found.rational_m3s > 0.0
        assert COVERS["woods"].curve_number("A") < 40.0

    def test_a_storm_that_the_table_does_not_hold_is_unknown(self):
        report = judged(used={"return_years": (10.0, 500.0)})
        found = storm(report, "basin", 500.0)
        assert found.method == "unknown"
        assert math.isnan(found.peak_m3s)
        assert math.isnan(found.volume_m3)
        assert any("does not hold the storm of 500 years" in told for told in report.warnings)
        assert storm(report, "basin", 10.0).peak_m3s > 0.0

    def test_without_rain_only_areas_and_it_is_said(self):
        report = judged(rain=None)
        assert report.storms == ()
        assert run_on(report).area_m2 == 176.0
        assert math.isnan(run_on(report).concentration_s)
        assert report.warnings[0].startswith("No rainfall table is given")
        (arm,) = report.swales
        assert math.isnan(arm.depth_m)
        assert arm.lining == "unknown"
        assert arm.length_m > 0.0

    def test_room_in_the_basin(self):
        volume_m3 = storm(judged(), TOGETHER, 2.0).volume_m3
        enough, short = judged(room_m3=1e3), judged(room_m3=volume_m3 - 0.5)
        assert all(s.spilled_m3 == 0.0 for s in enough.storms if s.runs_onto == TOGETHER)
        assert not any("does not take" in told for told in enough.warnings)
        assert storm(short, TOGETHER, 2.0).spilled_m3 == pytest.approx(0.5)
        assert any("does not take the storm of 2 years" in told for told in short.warnings)
        assert math.isnan(storm(short, "basin", 2.0).spilled_m3)

    def test_room_that_is_not_known_is_never_enough(self):
        report = judged(room_m3=math.nan)
        assert math.isnan(storm(report, TOGETHER, 2.0).spilled_m3)

    def test_together_is_not_counted_twice(self):
        """All of the stream's catchment lies in the basin's."""
        report = judged()
        assert run_on(report).area_m2 == run_on(report, "basin").area_m2

    def test_ground_beyond_the_data_is_told(self):
        assert any("beyond the terrain" in told for told in judged().warnings)


class TestOverflow:
    LOT = MultiPolygon([box(0, 0, 40, 30)])

    @pytest.mark.parametrize(
        ("end", "side", "azimuth"),
        [((20, 40), "north", 0), ((50, 15), "east", 90), ((20, -9), "south", 180),
         ((-9, 15), "west", 270)],
    )  # fmt: skip
    def test_side_where_it_leaves(self, end, side, azimuth):
        line = LineString([(20, 15), end])
        leaving = leaving_of(line, self.LOT)
        assert (leaving.side, leaving.azimuth_deg) == (side, azimuth)
        assert leaving.along_m == pytest.approx(line.intersection(self.LOT).length)

    def test_a_slanting_side(self):
        lot = Polygon([(0, 0), (10, 0), (0, 10)])
        assert leaving_of(LineString([(1, 1), (9, 9)]), lot).side == "north-east"

    def test_a_way_that_stays_or_never_was_inside(self):
        assert leaving_of(LineString([(1, 1), (5, 5)]), self.LOT) is None
        assert leaving_of(LineString([(50, 1), (55, 5)]), self.LOT) is None
        assert leaving_of(LineString(), self.LOT) is None

    def test_a_way_that_comes_back_leaves_first_where_it_leaves_first(self):
        line = LineString([(20, 15), (20, 35), (50, 35), (50, 15), (20, 15)])
        assert leaving_of(line, self.LOT).along_m == pytest.approx(15.0)

    def test_structures_near_and_the_slope_towards_them(self):
        """On the plane that falls north a house 2 m north of the way lies lower by 0.2 m."""
        site = make_site(
            plane(),
            structures=[
                {"id": "low", "geometry": box(10, 17, 30, 20)},
                {"id": "high", "geometry": box(10, 9, 30, 12)},
                {"id": "far", "geometry": box(0, 28, 40, 30)},
            ],
        )
        terrain = analyse(site, TerrainParameters())
        way = follow_overflow(
            LineString([(10, 15), (30, 15)]), site, terrain, StormParameters(near_structure=5.0)
        )
        assert [near.source_id for near in way.structures] == ["high", "low"]
        high, low = way.structures[0], way.structures[1]
        assert (low.distance_m, high.distance_m) == (2.0, 3.0)
        assert (low.slope, high.slope) == pytest.approx((0.1, -0.1))

    def test_warnings_of_the_way(self):
        report = judged(structures=[{"id": "shed", "geometry": box(22, 25, 24, 27)}])
        assert any("passes structure shed at" in told for told in report.warnings) == (
            report.overflow.structures[0].slope > 0.0
        )
        assert any("leaves the lot on its north side" in told for told in report.warnings)


class TestSwale:
    def test_it_falls_round_the_works_on_the_plane(self):
        """Above the stream's upper end, at the fall wanted, and nothing it lets go comes back."""
        (arm,) = judged().swales
        x, y = np.array(arm.line.coords).T
        levels = 100.0 - 0.1 * y
        steps_m = np.hypot(np.diff(x), np.diff(y))
        assert np.diff(levels) / steps_m == pytest.approx(-0.015)
        assert (y < 10.0).all()
        assert min(x) < 18.0
        assert max(x) > 20.0
        assert arm.line.distance(STREAM) >= 1.5 * 0.98
        assert arm.gap_m == 0.0
        assert arm.leaving.side == "north"

    def test_water_let_go_runs_past_the_works(self):
        _, terrain = plain()
        for arm in judged().swales:
            way = spill_path(terrain, *arm.line.coords[-1]).line
            assert way.disjoint(union_all([BASIN, STREAM]))

    def test_it_catches_what_it_says(self):
        """The cells above the line in the works' columns drain straight north onto it."""
        (arm,) = judged().swales
        lowest = {}
        site, _ = plain()
        cells = burn(arm.line.buffer(1e-3), site.terrain, touched=True)
        for row, col in np.argwhere(cells):
            lowest[col] = max(lowest.get(col, 0), 70 - row)
        caught = sum(lowest[col] for col in range(37, 41))
        assert arm.kept_off_m2 == pytest.approx(caught)

    def test_size_by_manning(self):
        (arm,) = judged().swales
        section = Trapezoid(0.0, 3.0)
        flow_m3s = manning_flow(section, arm.water_depth_m, 0.015, 0.035)
        assert flow_m3s == pytest.approx(arm.flow_m3s)
        assert arm.depth_m == pytest.approx(max(arm.water_depth_m + 0.10, 0.20))
        assert arm.top_width_m == pytest.approx(6.0 * arm.depth_m)
        assert arm.velocity_ms == pytest.approx(arm.flow_m3s / section.area(arm.water_depth_m))
        assert arm.shear_pa == pytest.approx(9810.0 * arm.water_depth_m * 0.015)
        assert arm.lining == "grass"

    def test_its_flow_is_its_share_of_the_peak(self):
        report = judged()
        (arm,) = report.swales
        peak = storm(report, TOGETHER, 10.0).peak_m3s
        assert arm.flow_m3s == pytest.approx(peak * arm.kept_off_m2 / run_on(report).area_m2)

    def test_what_grass_does_not_stand_is_lined_with_stone(self):
        report = judged(used={"swale": {"greatest_velocity": 0.1}})
        (arm,) = report.swales
        assert arm.lining.startswith("stone, D50")
        assert any("more than grass stands" in told for told in report.warnings)

    def test_a_gap_where_digging_is_not_free_is_told_and_not_dug(self):
        barred = box(17, -5, 18.5, 30)
        report = judged(free=box(0, 0, 40, 30).difference(barred))
        gap_m = sum(arm.gap_m for arm in report.swales)
        assert gap_m > 1.0
        assert any(f"gap of {gap_m:.1f} m" in told for told in report.warnings)
        assert report.swale_dig.intersection(barred).area < 1e-9
        for arm in report.swales:
            assert arm.length_m + arm.gap_m == pytest.approx(arm.line.length)

    def test_a_pile_below_its_end_is_avoided(self):
        x, _ = judged().swales[-1].line.coords[-1]
        pile = box(x - 0.9, 12, x + 0.9, 20)
        report = judged(keep_off=pile)
        _, terrain = plain()
        for arm in report.swales:
            assert spill_path(terrain, *arm.line.coords[-1]).line.disjoint(pile)

    def test_an_end_that_cannot_be_clear_is_told(self):
        """A pile right across below the works: wherever the water is let go it meets it."""
        report = judged(keep_off=box(-20, 26, 60, 28))
        assert report.swales == ()
        assert any("lets its water go clear" in told for told in report.warnings)

    def test_one_that_would_lie_mostly_under_gaps_is_none(self):
        report = judged(free=box(0, 12, 40, 30))
        assert report.swales == ()
        assert report.swale_dig.is_empty
        assert any("No swale can be dug" in told for told in report.warnings)

    def test_it_keeps_off_a_building_and_runs_over_a_drive(self):
        """Something that stands or lies right across below the works' ends on both sides."""
        across = {"geometry": box(-20, 26, 60, 28)}
        assert judged(structures=[{**across, "kind": "drive"}]).swales
        assert judged(structures=[{**across, "kind": "house"}]).swales == ()

    def test_it_stays_on_the_lot(self):
        lot = MultiPolygon([box(0, 0, 40, 30)])
        for arm in judged().swales:
            assert lot.contains(arm.line)

    def test_none_where_nothing_comes_from_above(self):
        """On the top of a long hill all water runs away from the works."""
        report = judged(lambda x, y: 100.0 - 0.2 * np.hypot(x - 19.0, (y - 17.0) / 6.0))
        assert report.swales == ()
        assert report.swale_dig.is_empty
        assert not any("swale" in told for told in report.warnings)

    def test_the_ground_it_breaks_is_as_wide_as_it_is(self):
        report = judged()
        (arm,) = report.swales
        assert report.swale_dig.area == pytest.approx(arm.length_m * arm.top_width_m, rel=0.02)
        assert all(report.swale_dig.covers(Point(xy)) for xy in list(arm.line.coords)[1:-1])


def test_nothing_runs_onto_works_beyond_the_terrain():
    site, terrain = replace(plain()[0], rainfall=TABLE), plain()[1]
    away = box(500, 500, 510, 510)
    nothing = Catchment(
        work="basin",
        geometry=MultiPolygon(),
        area_m2=0.0,
        outside_parcel_m2=0.0,
        reaches_terrain_edge=False,
    )
    works = StormWorks(
        run_ons=((away, nothing),),
        free=site.parcel,
        keep_off=Polygon(),
        overflow=FlowPath(line=LineString(), accumulation_m2=0.0),
        free_room_m3=1.0,
    )
    report = judge_storms(site, terrain, works, StormParameters())
    assert report.run_ons == report.storms == report.swales == ()
