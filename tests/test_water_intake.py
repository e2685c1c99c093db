"""The return gravel: areas by geometry, leaves by arithmetic, and the facts of the trade."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, affinity, box

from geo_site.porous import StoneLayer, sinking_velocity
from geo_site.water import WaterParameters
from geo_site.water.intake import (
    LeafFall,
    fallen_leaves,
    judge_intake,
    return_area,
    return_needed,
)

PIT = box(0.0, -2.0, 4.0, 2.0)
STREAM = LineString([(-10.0, 0.0, 101.0), (-1.0, 0.0, 100.1), (0.5, 0.0, 100.0)])
COVER = 0.15


def water(**intake) -> WaterParameters:
    return WaterParameters(intake=intake)


def trees_of(*rows) -> gpd.GeoDataFrame:
    """Trees as (x, y, crown radius or NaN, sheds or None)."""
    return gpd.GeoDataFrame(
        {
            "id": [str(number) for number in range(len(rows))],
            "crown_radius_m": np.array([row[2] for row in rows], dtype=np.float64),
            "deciduous": np.array([row[3] for row in rows], dtype=object),
        },
        geometry=[Point(row[0], row[1]) for row in rows],
    )


NO_LEAVES = LeafFall(
    trees=0, unknown_kind=0, assumed_crowns=0, over_m2=0.0, low_kg=0.0, high_kg=0.0
)


class TestNeeded:
    def test_by_its_parts(self):
        """20 mm of silted gravel over 130 mm of clean gravel take 6 L/s on Q / v."""
        layers = [
            StoneLayer(thickness_m=0.02, stone_size_m=0.003, porosity=0.30),
            StoneLayer(thickness_m=0.13, stone_size_m=0.030, porosity=0.40),
        ]
        needed = return_needed(0.006, COVER, WaterParameters())
        assert needed == pytest.approx(0.006 / sinking_velocity(layers, 0.0))

    def test_more_flow_finer_silt_more_area(self):
        base = return_needed(0.006, COVER, WaterParameters())
        assert return_needed(0.012, COVER, WaterParameters()) == pytest.approx(2 * base)
        assert return_needed(0.006, COVER, water(fouled_size=0.001)) > base
        assert return_needed(0.006, COVER, water(fouled_depth=0.05)) > base
        assert return_needed(0.006, COVER, water(head=0.05)) < base

    def test_units_without_cover_still_have_an_answer(self):
        assert 0.0 < return_needed(0.006, 0.0, water(fouled_depth=0.0)) < math.inf


class TestArea:
    def test_half_a_circle_from_the_edge(self):
        """The water enters at the pit's edge and spreads a metre onward: half a circle, pi/2."""
        there = return_area(STREAM, PIT, WaterParameters())
        assert there.area == pytest.approx(math.pi / 2, rel=1e-3)

    def test_a_narrow_pit_cuts_it(self):
        """A strip 1 m wide of that half circle: sqrt(0.75) / 2 + asin(0.5) = 0.9566 m2."""
        strip = box(0.0, -0.5, 4.0, 0.5)
        exact = math.sqrt(0.75) / 2 + math.asin(0.5)
        assert return_area(STREAM, strip, WaterParameters()).area == pytest.approx(exact, rel=1e-3)

    def test_an_apron_shortens_it(self):
        """Half a metre from the far side: the half circle less what is beyond the edge."""
        whole = return_area(STREAM, PIT, WaterParameters()).area
        most = return_area(STREAM, PIT, water(apron_end=3.0)).area
        short = return_area(STREAM, PIT, water(apron_end=3.5)).area
        assert most == pytest.approx(whole, rel=1e-3)
        # half circle of 1 m cut at 0.5 m: half of it less the segment: 0.9566 m2
        assert short == pytest.approx(math.sqrt(0.75) / 2 + math.asin(0.5), rel=1e-3)
        assert return_area(STREAM, PIT, water(apron_end=4.0)).area == pytest.approx(0.0, abs=1e-9)
        assert return_area(STREAM, PIT, water(apron_end=5.0)).area == 0.0

    def test_a_stream_that_crosses_the_corner_first_counts_where_it_ends(self):
        """It cuts the south-west corner, leaves, and comes in again from the north."""
        winding = LineString([(-1, -1), (1, -3), (6, -3), (6, 4), (2, 4), (2, 1.5)])
        there = return_area(winding, PIT, WaterParameters())
        assert there.centroid.x == pytest.approx(2.0, abs=1e-6)
        assert there.area == pytest.approx(math.pi / 2, rel=1e-3)

    def test_a_stream_that_never_enters(self):
        assert return_area(LineString([(-5, 0), (-1, 0)]), PIT, WaterParameters()).is_empty

    def test_a_stream_that_ends_on_the_edge(self):
        assert return_area(LineString([(-5, 0), (0, 0)]), PIT, WaterParameters()).is_empty

    @settings(max_examples=40, deadline=None)
    @given(turn=st.floats(0, 360), east=st.floats(-1e3, 1e3), spread=st.floats(0.2, 3.0))
    def test_it_does_not_depend_on_the_axes(self, turn, east, spread):
        parameters = water(spread=spread, apron_end=0.4)
        straight = return_area(STREAM, PIT, parameters).area
        moved = [
            affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), east, -east)
            for shape in (STREAM, PIT)
        ]
        assert return_area(*moved, parameters).area == pytest.approx(straight, rel=1e-3)


BED = box(-10.0, -0.5, 0.0, 0.5)


class TestLeaves:
    def test_right_over_it(self):
        """A crown of 4 m, reach 0, in the middle of a bed of 10 x 1 m.

        The bed under the crown: 2 x (0.5 sqrt(16 - 0.25) + 16 asin(0.125)) = 7.979 m2; that much
        of the crown's leaves: 0.25 to 0.36 kg/m2: 1.995 to 2.872 kg.
        """
        fall = fallen_leaves(trees_of((-5, 0, 4.0, True)), BED, water(leaf_reach=0.0))
        under = 2 * (0.5 * math.sqrt(15.75) + 16 * math.asin(0.125))
        assert fall.trees == 1
        assert fall.over_m2 == pytest.approx(under, rel=1e-3)
        assert fall.low_kg == pytest.approx(0.25 * under, rel=1e-3)
        assert fall.high_kg == pytest.approx(0.36 * under, rel=1e-3)

    def test_blown_from_beside(self):
        """Crown 4 m, 7 m off the bed's middle, reach 6 m: all leaves over 10 m round the stem.

        0.25 x pi 16 = 12.57 kg over pi 100 = 314.16 m2: 0.04 kg on each of the bed's square metres
        within 10 m: all 10 of them, for its far corners are sqrt(25 + 56.25) = 9.0 m off.
        """
        fall = fallen_leaves(trees_of((-5, 7, 4.0, True)), BED, WaterParameters())
        assert fall.over_m2 == 0.0
        assert fall.low_kg == pytest.approx(0.4, rel=1e-3)

    def test_the_wind_decides_where_they_are_blown(self):
        """A crown of 2 m, 5 m north of the bed's middle: its leaves go south, or they do not.

        From the north they come down between y = 5 and y = -1, 4 m wide with round ends: 24 + 4 pi
        = 36.57 m2, of which 4 m2 are bed: that share of 4 pi x 0.25 kg.
        """
        north = trees_of((-5, 5, 2.0, True))
        blown = fallen_leaves(north, BED, water(wind_from=0.0, leaf_reach=6.0))
        assert blown.low_kg == pytest.approx(0.25 * 4 * math.pi * 4 / (24 + 4 * math.pi), rel=1e-3)
        for elsewhere in (90.0, 180.0, 270.0):
            away = fallen_leaves(north, BED, water(wind_from=elsewhere, leaf_reach=6.0))
            assert away.high_kg == 0.0

    def test_too_far_or_evergreen_sheds_nothing(self):
        fall = fallen_leaves(
            trees_of((-5, 30, 4.0, True), (-5, 0, 4.0, False)), BED, WaterParameters()
        )
        assert (fall.trees, fall.low_kg, fall.high_kg, fall.over_m2) == (0, 0.0, 0.0, 0.0)

    @pytest.mark.parametrize("unknown", [None, np.nan, pd.NA])
    def test_unknown_counts_as_shedding_and_is_said(self, unknown):
        known = fallen_leaves(trees_of((-5, 0, 4.0, True)), BED, WaterParameters())
        not_known = fallen_leaves(trees_of((-5, 0, np.nan, unknown)), BED, WaterParameters())
        assert not_known.high_kg == pytest.approx(known.high_kg)
        assert (not_known.unknown_kind, not_known.assumed_crowns) == (1, 1)
        assert (known.unknown_kind, known.assumed_crowns) == (0, 0)
        told = judge_intake(1.0, not_known, 0.006, 1.0, COVER, WaterParameters()).warnings
        assert any("count as shedding" in one for one in told)
        assert any("4.0 m is assumed" in one for one in told)

    def test_no_trees(self):
        assert fallen_leaves(trees_of(), BED, WaterParameters()) == NO_LEAVES

    @settings(max_examples=30, deadline=None)
    @given(
        spots=st.lists(
            st.tuples(st.floats(-15, 5), st.floats(-10, 10), st.floats(0.5, 6), st.just(True)),
            min_size=1,
            max_size=5,
        ),
        reach=st.floats(0, 10),
    )
    def test_trees_add_up_and_never_shed_more_than_they_bear(self, spots, reach):
        parameters = water(leaf_reach=reach)
        together = fallen_leaves(trees_of(*spots), BED, parameters)
        apart = [fallen_leaves(trees_of(spot), BED, parameters) for spot in spots]
        assert together.low_kg == pytest.approx(sum(one.low_kg for one in apart))
        assert together.low_kg <= 0.25 * sum(math.pi * spot[2] ** 2 for spot in spots) * 1.001


class TestJudged:
    def test_days_by_hand(self):
        """1.2 m2 there, 0.2 m2 needed (of a clean figure): 1 m2 to be shut.

        0.07 kg on it at 3 x 0.45 / 45 = 0.03 kg a day: 2.33 days; 0.30 kg at 0.45 / 45 x 1/3...
        """
        parameters = water(leaf_days=45.0, leaf_peak=3.0)
        needed = return_needed(0.006, COVER, parameters)
        leaves = LeafFall(
            trees=2, unknown_kind=0, assumed_crowns=0, over_m2=3.0, low_kg=0.225, high_kg=0.45
        )
        found = judge_intake(needed + 1.0, leaves, 0.006, 1.2, COVER, parameters)
        assert found.low_days == pytest.approx(0.07 / 0.03)
        assert found.high_days == pytest.approx(0.30 / 0.005)
        # 1.2 m3 at 6 L/s
        assert found.dry_after_s == pytest.approx(200.0)
        assert found.area_needed_m2 == pytest.approx(needed)
        told = " ".join(found.warnings)
        assert "2 to 60 days" in told
        assert "an assumption" in told
        assert "overflows the basin while the pump runs dry" in told
        assert "3 minutes later" in told

    def test_eva_05_a_small_return_under_crowns_clogs(self):
        """EVA-05 (common practice, no source): by hand beside the program.

        A crown of 4 m over a stream of 10 x 1 m, leaves blown 6 m: 16 x 10 / 100 = 1.6 m2 of
        crown's worth on it; 0.36 x 1.6 = 0.576 kg in a season, 0.0384 kg on its worst days. Half a
        square metre less the 0.1 m2 or so that the flow needs is shut by 0.07 x 0.4 = 0.028 kg:
        within a day. Twenty square metres last the worst days of 1.393 / 0.0384 = 36.
        """
        parameters = water(apron_end=0.0)
        leaves = fallen_leaves(trees_of((-5, 0, 4.0, True)), BED, parameters)
        assert leaves.high_kg == pytest.approx(0.576, rel=2e-3)
        small = judge_intake(0.5, leaves, 0.006, 1.0, COVER, parameters)
        assert small.area_needed_m2 == pytest.approx(0.1, abs=0.05)
        assert small.low_days < 1.0
        assert small.low_days < small.high_days
        assert any("while the pump runs dry" in told for told in small.warnings)
        large = judge_intake(20.0, leaves, 0.006, 1.0, COVER, parameters)
        assert large.low_days == pytest.approx(36.0, abs=1.0)

    def test_too_small_without_any_leaf(self):
        found = judge_intake(0.01, NO_LEAVES, 0.006, 1.0, COVER, WaterParameters())
        assert found.area_m2 < found.area_needed_m2
        assert "too small" in found.warnings[0]
        assert "while the pump runs dry" in found.warnings[0]

    def test_large_enough_and_no_leaf(self):
        found = judge_intake(3.0, NO_LEAVES, 0.006, 1.0, COVER, water(apron_end=0.0))
        assert found.low_days == found.high_days == math.inf
        assert [told[:7] for told in found.warnings] == ["No tree"]

    def test_an_apron_that_is_not_given_is_said(self):
        found = judge_intake(3.0, NO_LEAVES, 0.006, 1.0, COVER, WaterParameters())
        assert any("apron" in told for told in found.warnings)

    @settings(max_examples=80, deadline=None)
    @given(
        area=st.floats(0, 20),
        low=st.just(0.0) | st.floats(1e-6, 5),
        more=st.floats(0, 5),
        flow=st.floats(0.001, 0.02),
    )
    def test_the_range_is_a_range_and_more_gravel_lasts_longer(self, area, low, more, flow):
        leaves = LeafFall(
            trees=1, unknown_kind=0, assumed_crowns=0, over_m2=1.0, low_kg=low, high_kg=low + more
        )
        one = judge_intake(area, leaves, flow, 1.0, COVER, WaterParameters())
        two = judge_intake(area + 1.0, leaves, flow, 1.0, COVER, WaterParameters())
        assert 0.0 <= one.low_days <= one.high_days
        assert two.low_days >= one.low_days
        if area < one.area_needed_m2 and low > 0.0:
            assert one.high_days == 0.0


def test_the_area_lies_in_the_pit():
    there = return_area(STREAM, PIT, WaterParameters())
    assert PIT.buffer(1e-9).contains(there)
    assert isinstance(there, Polygon)
    assert shapely.is_valid(there)
