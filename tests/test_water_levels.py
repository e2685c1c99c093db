"""Flow over the spillway and levels along the stream, each against an answer worked out apart."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_terrain, plane
from scipy.integrate import quad
from scipy.optimize import brentq
from shapely.geometry import LineString
from test_layout import run as lay_out_on
from test_water import BED_M, LIP_M, layout_of

from geo_site import channels, weirs
from geo_site.errors import SettingRefused
from geo_site.layout import Layout, LayoutParameters
from geo_site.parameters import read_table
from geo_site.water import WaterParameters
from geo_site.water.liner import liner_along
from geo_site.water.running import run, spillway_level, wanted_flow
from geo_site.water.stream_settings import LevelParameters

FOOT = 0.3048
G = weirs.GRAVITY_MS2
LOSSLESS = {"contraction_loss": 0.0, "expansion_loss": 0.0}
CASCADE = [
    ("fall", 0.25, 0.30),
    ("pool", 1.5),
    ("riffle", 3.0, 0.15),
    ("fall", 0.25, 0.20),
    ("pool", 1.0),
    ("riffle", 1.0, 0.05),
]


def water(**given) -> WaterParameters:
    return read_table(WaterParameters, given, table="water")


def kinds(running):
    return {(flag.kind, flag.place) for flag in running.flags}


class TestWantedFlow:
    @pytest.mark.parametrize(("look", "head"), [("veil", 0.010), ("sheet", 0.020), ("roar", 0.045)])
    def test_a_look_is_a_head(self, look, head):
        flow = wanted_flow(layout_of(CASCADE), water(look=look))
        assert flow.head_m == head
        assert f"{head * 1000:.0f} mm over a sharp lip of 0.60 m" in flow.basis

    def test_a_head_that_is_stated_wins_over_the_look(self):
        assert water(look="roar", lip_head="1 in").lip_head == 0.0254
        assert water(look="roar", looks={"roar": "2 in"}).lip_head == 0.0508
        assert water(looks={"sheet": 0.03}).lip_head == 0.03
        assert water().lip_head == 0.020
        with pytest.raises(SettingRefused, match=r"water\.look"):
            water(look="gush")

    def test_each_form_by_its_own_formula(self):
        """Deep still water behind a lip of 0.6 m, head 0.10 m: velocity plays no part."""
        deep, head = {"spillway_depth": 2.0}, 0.10

        def flow_of(**given):
            given = {"lip_head": head, "levels": deep, **given}
            return wanted_flow(layout_of(CASCADE), water(**given)).flow_m3s

        # (2/3)^1.5 sqrt(g) = 1.70460; x 0.6 x 0.0316228 = 0.032343
        assert flow_of(lip_form="broad") == pytest.approx(0.032343, rel=1e-3)
        # 8/15 x 0.58 x sqrt(2 g) = 1.36992; x tan 45 x 0.10085^2.5 = 0.0032299: 0.0044247
        assert flow_of(lip_form="notch") == pytest.approx(0.0044247, rel=1e-3)
        # 2/3 sqrt(2 g) = 2.95247; x (0.602 + 0.075 x 0.05) x 0.599 x 0.101^1.5 = 0.0320980
        assert flow_of() == pytest.approx(2.95247 * 0.60575 * 0.599 * 0.0320980, rel=1e-3)
        # Francis 1.8385 x (0.6 - 0.02) x 0.0316228: one end is no standard plate
        one_end = 1.8385 * 0.59 * 0.0316228
        assert flow_of(contracted_ends=1) == pytest.approx(one_end, rel=1e-3)

    def test_how_sure_it_is(self):
        thin = wanted_flow(layout_of(CASCADE), water(lip_head=0.02))
        assert thin.low_m3s == pytest.approx(0.8 * thin.flow_m3s)
        assert thin.high_m3s == pytest.approx(1.2 * thin.flow_m3s)
        assert len(thin.notes) == 1
        assert "20 mm" in thin.notes[0]
        thick = wanted_flow(layout_of(CASCADE), water(lip_head=0.08))
        assert thick.notes == ()
        assert thick.low_m3s > 0.9 * thick.flow_m3s

    def test_a_pump_that_is_given(self):
        flow = wanted_flow(layout_of(CASCADE), water(pump_flow="100 gpm", look="roar"))
        assert flow.flow_m3s == flow.low_m3s == flow.high_m3s == pytest.approx(6.30901964e-3)
        assert "pump" in flow.basis
        # Francis by hand: (0.0063090 / (1.8385 x 0.6))^(2/3) = 0.03198; the plate: 2 % less
        assert flow.head_m == pytest.approx(0.03198, rel=0.03)

    @settings(max_examples=40, deadline=None)
    @given(
        head=st.floats(0.005, 0.15),
        form=st.sampled_from(["sharp", "broad", "notch"]),
        ends=st.sampled_from([0, 1, 2]),
    )
    def test_the_wanted_flow_makes_the_wanted_head(self, head, form, ends):
        """WEI-13: the flow of a head, run, stands at that head on the spillway."""
        parameters = water(lip_head=head, lip_form=form, contracted_ends=ends)
        layout = layout_of([("fall", 0.25, 0.45), *CASCADE[1:]])
        flow = wanted_flow(layout, parameters).flow_m3s
        tail_free = run(layout, flow, parameters)
        if tail_free.lips[0].tail_m > 0.0 or abs(head - weirs.LEAST_PLATE_HEAD_M) < 1e-3:
            return
        assert tail_free.head_m == pytest.approx(head, rel=1e-6)


def m2_depth(flow, slope, roughness, upstream_m):
    """Depth above a free overfall: dx/dy = (1 - Fr^2) / (S0 - Sf) summed from critical depth."""
    critical = ((flow / BED_M) ** 2 / G) ** (1 / 3)

    def stretch(y):
        area = BED_M * y
        friction = (flow * roughness / area) ** 2 * ((BED_M + 2 * y) / area) ** (4 / 3)
        return (1 - flow**2 * BED_M / (G * area**3)) / (friction - slope)

    normal = channels.normal_depth(channels.Trapezoid(BED_M, 0.0), flow, slope, roughness)
    return brentq(lambda y: quad(stretch, critical, y)[0] - upstream_m, critical, 0.99999 * normal)


class TestControls:
    def test_a_free_end_draws_the_riffle_down(self):
        """CHN-05: M2 curve of 1 m on a slope of 0.01, and the pool's energy above it."""
        flow, slope, roughness = 0.006, 0.01, 0.045
        layout = layout_of([("fall", 0.25, 0.3), ("pool", 2.0), ("riffle", 1.0, slope)])
        parameters = water(roughness=roughness, levels={**LOSSLESS, "step": 0.01})
        found = run(layout, flow, parameters)
        depth = m2_depth(flow, slope, roughness, 1.0)
        energy = depth + (flow / BED_M / depth) ** 2 / (2 * G)
        assert found.reaches[2].water_level_m == pytest.approx(100.01 + depth, abs=1e-4)
        assert found.pools[0].water_level_m == pytest.approx(100.01 + energy, abs=4e-4)

    def test_a_broad_lip_holds_its_pool(self):
        """WEI-09: a pool above a broad lip stands 3/2 of the critical depth over it."""
        layout = layout_of([("pool", 2.0), ("fall", 0.25, 0.3), ("pool", 1.0)], hollow_m=0.5)
        found = run(layout, 0.02, water(lip_form="broad", levels=LOSSLESS))
        held = 1.5 * weirs.critical_depth(0.02 / LIP_M)
        assert found.pools[0].water_level_m == pytest.approx(100.3 + held, abs=3e-4)

    def test_villemonte_on_a_fall_under_water(self):
        """WEI-12: the lower pool stands over the lip: the flow is what Villemonte leaves."""
        flow = 0.02
        layout = layout_of(
            [("pool", 2.0), ("fall", 0.25, 0.02), ("pool", 2.0), ("fall", 0.25, 0.3)]
        )
        found = run(layout, flow, water(levels=LOSSLESS))
        upper, lower = found.pools
        tail = lower.water_level_m - 100.32
        lip = found.lips[1]
        assert tail > 0.01
        assert found.drowned == (1,)
        assert ("drowned", "fall 1") in kinds(found)
        assert lip.tail_m == pytest.approx(tail, abs=1e-4)
        head = upper.water_level_m - 100.32
        assert lip.head_m == pytest.approx(head, abs=1e-3)
        left = (1 - (lip.tail_m / lip.head_m) ** 1.5) ** 0.385
        # the hollow of 0.2 m, at 0.785 of its depth, is the floor before the plate
        free = weirs.plate_flow(LIP_M, lip.head_m, 0.785 * 0.2)
        assert free * left == pytest.approx(flow, rel=1e-4)
        free_fall = run(layout_of([("pool", 2.0), ("fall", 0.25, 0.3)]), flow, water())
        assert head > free_fall.pools[0].water_level_m - 100.3

    def test_a_fall_onto_a_bare_riffle_shoots_and_jumps(self):
        """CHN-06, CHN-08: Rand's jet runs on along the bed until the depths are conjugate."""
        flow = 0.006
        layout = layout_of([("pool", 1.0), ("fall", 0.25, 0.4), ("riffle", 6.0, 0.03)])
        parameters = water(roughness=0.03, levels={"step": 0.02})
        found = run(layout, flow, parameters)
        profile = found.profile
        jet, _ = channels.drop_depths(flow / LIP_M, 0.4)
        foot = np.flatnonzero(profile.station_m >= 1.25)[0]
        assert profile.depth_m[foot] == pytest.approx(jet * LIP_M / BED_M)
        assert profile.regime[foot] == "rapid"
        assert len(profile.jumps_m) == 1
        at = profile.jumps_m[0]
        before = profile.depth_m[profile.station_m <= at][-1]
        after = profile.depth_m[profile.station_m > at][0]
        section = channels.Trapezoid(BED_M, 0.0)
        assert channels.conjugate_depth(section, before, flow) == pytest.approx(after, rel=0.05)
        assert {("jump", f"station {at:.1f} m"), ("shallow_plunge", "fall 1")} <= kinds(found)

    def test_a_pool_at_the_foot_takes_the_jet(self):
        found = run(layout_of(CASCADE), 0.006, water())
        assert found.profile.jumps_m == ()
        assert not any(kind == "shallow_plunge" for kind, _ in kinds(found))

    def test_a_spillway_that_is_no_fall_is_not_below_its_pool(self):
        layout = layout_of([("pool", 1.0), ("riffle", 3.0, 0.1)])
        for flow in (0.002, 0.02):
            found = run(layout, flow, water())
            assert found.spillway_level_m >= found.pools[0].water_level_m
            assert found.lips[0].sequence == 0


class TestNarrows:
    level_run = (("riffle", 4.0, 0.04), ("fall", 0.25, 0.3))

    def test_gaps_that_choke_by_hand(self):
        """Q 5 L/s through 0.2 m: yc = (0.025^2 / g)^(1/3) = 0.03995; V^2/2g = 0.01998.

        Before it 0.03995 + 1.3 x 0.01998 = 0.06592 of energy, 0.06555 of depth in 0.9 m.
        """
        parameters = water(narrows=[{"station": 2.0, "gaps": [0.05, 0.15]}])
        found = run(layout_of(list(self.level_run)), 0.005, parameters)
        (narrow,) = found.narrows
        assert narrow.is_choked
        assert narrow.opening_m == pytest.approx(0.2)
        assert narrow.depth_m == pytest.approx(0.03995, abs=1e-5)
        assert ("choked", "station 2.0 m") in kinds(found)
        above = found.profile.station_m <= 2.0
        last = np.flatnonzero(above & (found.profile.sill_m >= 100.32 - 1e-9))[-2]
        assert found.profile.depth_m[last] == pytest.approx(0.06555, abs=1e-4)

    def test_wide_gaps_change_little(self):
        layout = layout_of([("pool", 3.0), ("fall", 0.25, 0.3)])
        free = run(layout, 0.005, water())
        found = run(layout, 0.005, water(narrows=[{"station": 1.5, "gaps": [0.3, 0.3]}]))
        (narrow,) = found.narrows
        assert not narrow.is_choked
        # V in the gaps: 0.005 / (0.6 x 0.184) = 0.045 m/s; 0.8 V^2 / 2g is less than 0.1 mm
        assert 0.0 <= narrow.rise_m < 1e-4
        assert found.pools[0].water_level_m == pytest.approx(free.pools[0].water_level_m, abs=1e-4)

    def test_stepping_stones_back_the_pool_up(self):
        """Narrower gaps never lower the water above them, and leave that below as it is."""
        layout = layout_of([("pool", 3.0), ("fall", 0.25, 0.3)], hollow_m=0.05)
        rises = []
        for gap in (0.8, 0.4, 0.2, 0.1, 0.05):
            found = run(layout, 0.01, water(narrows=[{"station": 1.5, "gaps": [gap]}]))
            rises.append(found.narrows[0].rise_m)
            assert found.profile.water_level_m[-8] == pytest.approx(
                run(layout, 0.01, water()).profile.water_level_m[-8], abs=1e-3
            )
        assert rises == sorted(rises)
        assert rises[-1] > 0.05

    def test_a_slab_that_the_water_reaches_by_hand(self):
        """Gap 0.2 x 0.02 m under a slab: V / 0.8 = 1.5625 m/s, V^2/2g 0.1245 m above the water."""
        given = {"station": 2.0, "gaps": [0.2], "soffit": 0.02}
        found = run(layout_of(list(self.level_run)), 0.005, water(narrows=[given]))
        (narrow,) = found.narrows
        assert narrow.is_full
        assert ("slab_reached", "station 2.0 m") in kinds(found)
        assert narrow.rise_m == pytest.approx(0.1245, abs=5e-4)
        high = run(
            layout_of(list(self.level_run)), 0.005, water(narrows=[{**given, "soffit": 0.5}])
        )
        assert not high.narrows[0].is_full

    def test_one_that_lies_nowhere_is_told(self):
        found = run(layout_of(CASCADE), 0.005, water(narrows=[{"station": 99.0, "gaps": [0.2]}]))
        assert ("narrow_left_out", "station 99.0 m") in kinds(found)
        assert found.narrows == ()


PARTS = st.lists(
    st.one_of(
        st.tuples(st.just("pool"), st.floats(0.5, 3.0)),
        st.tuples(st.just("riffle"), st.floats(0.5, 4.0), st.floats(0.0, 0.3)),
        st.tuples(st.just("fall"), st.just(0.25), st.floats(0.02, 0.45)),
    ),
    min_size=1,
    max_size=7,
)


class TestLaws:
    @settings(max_examples=60, deadline=None)
    @given(
        parts=PARTS,
        flow=st.floats(5e-4, 0.05),
        hollow=st.floats(0.0, 0.4),
        roughness=st.floats(0.03, 0.15),
        form=st.sampled_from(["sharp", "broad", "notch"]),
        narrow=st.lists(st.tuples(st.floats(0.1, 8.0), st.floats(0.1, 1.2)), max_size=2),
    )
    def test_energy_and_mass(self, parts, flow, hollow, roughness, form, narrow):
        """CHN-07: energy never rises downstream; the same flow runs in every section."""
        parameters = water(
            roughness=roughness,
            lip_form=form,
            narrows=[{"station": at, "gaps": [gap]} for at, gap in narrow],
        )
        layout = layout_of(parts, hollow_m=hollow)
        found = run(layout, flow, parameters)
        profile = found.profile
        assert np.all(np.diff(profile.energy_m) <= 1e-9)
        assert np.all(np.diff(profile.station_m) >= 0.0)
        assert np.all(profile.depth_m > 0.0)
        assert np.all(profile.water_level_m > profile.bed_m)
        heads = profile.velocity_ms**2 / (2 * G)
        lips = [reach.sequence for reach in layout.reaches if reach.kind == "fall"]
        on_bed = ~np.isin(profile.reach, lips)
        assert profile.energy_m[on_bed] == pytest.approx(
            (profile.water_level_m + heads)[on_bed], abs=1e-9
        )
        mean_depth = np.where(
            profile.sill_m > profile.bed_m, profile.depth_m - 0.215 * hollow, profile.depth_m
        )
        carried = profile.velocity_ms * mean_depth * BED_M
        assert carried[on_bed] == pytest.approx(flow, rel=1e-6)
        assert found.spillway_level_m == spillway_level(layout, flow, parameters)
        assert found.spillway_level_m >= profile.water_level_m[0] - 1e-9
        assert np.all(profile.low_level_m <= profile.water_level_m)
        assert np.all(profile.water_level_m <= profile.high_level_m)

    @settings(max_examples=40, deadline=None)
    @given(parts=PARTS, flow=st.floats(5e-4, 0.02), hollow=st.floats(0.1, 0.4))
    def test_pools_are_level(self, parts, flow, hollow):
        """A pool's water is level to a millimetre for each metre, whatever is below it."""
        found = run(layout_of(parts, hollow_m=hollow), flow, water())
        for reach in found.reaches:
            if reach.kind == "pool":
                own = found.profile.reach == reach.sequence
                own &= found.profile.sill_m > found.profile.bed_m
                levels = found.profile.water_level_m[own]
                assert np.ptp(levels) < 3e-3

    @settings(max_examples=30, deadline=None)
    @given(parts=PARTS, flow=st.floats(1e-3, 0.01))
    def test_volumes_add_up(self, parts, flow):
        found = run(layout_of(parts), flow, water())
        whole = sum(reach.volume_m3 for reach in found.reaches)
        assert whole == pytest.approx(found.standing_m3 + found.moving_m3)
        most, least = found.high_moving_m3, found.low_moving_m3
        assert least <= found.moving_m3 + 1e-9
        assert found.moving_m3 <= most + 1e-9

    def test_more_flow_stands_higher(self):
        layout = layout_of(CASCADE)
        levels = [spillway_level(layout, flow, water()) for flow in (0.002, 0.005, 0.01, 0.02)]
        assert levels == sorted(levels)
        assert len(set(levels)) == 4

    def test_no_flow_is_refused(self):
        with pytest.raises(ValueError, match="flow greater than 0"):
            run(layout_of(CASCADE), 0.0, water())


class TestFlags:
    def test_a_flow_that_no_lip_as_wide_can_carry(self):
        """WEI-03: head over the limit: refused, and the width that would carry it is right."""
        layout = layout_of(CASCADE, lip_m=0.15)
        parameters = water(pump_flow=0.06, lip_form="broad", levels={"head_limit": 0.20})
        found = run(layout, 0.06, parameters)
        refused = [flag for flag in found.flags if flag.is_refused]
        assert [flag.place for flag in refused] == ["fall 1", "fall 2"]
        assert {flag.kind for flag in refused} == {"head_over_limit"}
        # 1.7046 x 0.20^1.5 = 0.15246 m3/s for a metre: 0.06 need 0.394 m
        assert "a lip of 0.39 m would carry it" in refused[0].sentence
        assert not any(
            f.is_refused for f in run(layout_of(CASCADE, lip_m=0.4), 0.06, parameters).flags
        )

    def test_contracted_ends_and_notches_have_limits_of_their_own(self):
        narrow = layout_of(CASCADE, lip_m=0.2)
        wide = water(contracted_ends=2)
        assert run(narrow, 0.02, wide).lips[0].limit_m == pytest.approx(0.2 / 3)
        notch = run(narrow, 0.02, water(lip_form="notch"))
        assert notch.lips[0].limit_m == pytest.approx(0.1)
        assert any(flag.is_refused and "level lip" in flag.sentence for flag in notch.flags)

    def test_a_riffle_lost_in_its_stones(self):
        layout = layout_of(CASCADE)
        found = run(layout, 0.004, water(levels={"riffle_stone": 0.05}))
        assert {("dry_riffle", "reach 3"), ("dry_riffle", "reach 6")} <= kinds(found)
        told = next(flag for flag in found.flags if flag.place == "reach 3")
        riffle = found.riffles[0]
        assert (
            f"({riffle.low_depth_m * 1000:.0f} to {riffle.high_depth_m * 1000:.0f} mm)"
            in told.sentence
        )
        deep = run(layout, 0.03, water(levels={"riffle_stone": 0.005}))
        assert not any(kind == "dry_riffle" for kind, _ in kinds(deep))

    def test_depths_with_the_range_of_roughness(self):
        """CHN-03: a long riffle runs at normal depth for each n of the range."""
        layout = layout_of([("pool", 1.0), ("riffle", 40.0, 2.0)])
        found = run(layout, 0.006, water(roughness=0.05))
        section = channels.Trapezoid(BED_M, 0.0)
        riffle = found.riffles[0]
        for depth, roughness in (
            (riffle.low_depth_m, 0.030),
            (riffle.depth_m, 0.05),
            (riffle.high_depth_m, 0.150),
        ):
            normal = channels.normal_depth(section, 0.006, 0.05, roughness)
            assert depth == pytest.approx(normal, rel=0.01)

    def test_stn_01_stones_of_a_long_riffle(self):
        """STN-01: tau = gamma d S; D50 = tau / (0.047 x 1.65 x 9810)."""
        layout = layout_of([("pool", 1.0), ("riffle", 40.0, 4.0)])
        found = run(layout, 0.09, water())
        riffle = found.riffles[0]
        assert riffle.shear_pa == pytest.approx(9810 * riffle.depth_m * 0.10, rel=0.02)
        assert riffle.stone_m == pytest.approx(riffle.shear_pa / (0.047 * 1.65 * 9810))
        assert ("loose_stone", "reach 2") in kinds(found)
        assert ("rapid", "reach 2") in kinds(found)
        still = run(layout, 0.09, water(levels={"riffle_stone": riffle.stone_m + 1e-6}))
        assert ("loose_stone", "reach 2") not in kinds(still)

    def test_lip_sections_of_the_profile(self):
        """WEI-10: critical depth on each lip."""
        found = run(layout_of(CASCADE), 0.006, water())
        first = found.profile
        assert first.station_m[0] == 0.0
        assert first.regime[0] == "critical"
        assert first.depth_m[0] == pytest.approx(weirs.critical_depth(0.006 / LIP_M))


class TestLiner:
    def straight(self, flow=0.006, bank=0.0):
        layout = layout_of([("pool", 2.0), ("riffle", 4.0, 0.0)])
        layout = dataclasses.replace(
            layout,
            alignment=LineString([(0.0, 0.0, 100.0), (6.0, 0.0, 100.0)]),
            ground_m=np.array([100.2, 100.2]),
        )
        found = run(layout, flow, water())
        levels = make_terrain(lambda x, y: 100.2 + bank * y + 0 * x, bounds=(-5, -5, 12, 5))
        return found.profile, layout, levels

    def test_high_banks_need_nothing(self):
        profile, layout, levels = self.straight()
        found = liner_along(profile, layout, levels)
        assert found.left_bank_m == pytest.approx(100.2)
        assert found.low_length_m == 0.0
        assert found.flags == ()
        assert np.all(found.level_m == profile.liner_left_m)

    def test_the_liner_stands_over_the_highest_water_by_the_freeboard(self):
        profile, _, _ = self.straight()
        assert profile.liner_left_m == pytest.approx(profile.high_level_m + 0.10)
        assert np.all(profile.liner_right_m >= profile.water_level_m + 0.10)

    def test_a_bank_that_is_too_low_by_hand(self):
        """Ground falls 1 in 5 to the right: at 0.45 m it stands 0.09 m lower than the middle."""
        profile, layout, levels = self.straight(flow=0.012, bank=0.2)
        found = liner_along(profile, layout, levels)
        assert found.left_bank_m == pytest.approx(100.29)
        assert found.right_bank_m == pytest.approx(100.11)
        raised = profile.liner_left_m - 100.11
        assert found.right_raise_m == pytest.approx(np.maximum(raised, 0.0))
        assert found.greatest_raise_m == pytest.approx(raised.max())
        (flag,) = found.flags
        assert flag.kind == "low_bank"
        assert found.low_length_m <= 6.0
        assert f"{found.low_length_m:.1f} m" in flag.sentence

    def test_a_berm_is_its_own_bank(self):
        """Bed above the ground: the crown is at the sill, and the edge above it is to be raised."""
        profile, layout, _ = self.straight()
        low = dataclasses.replace(profile, ground_m=np.full(len(profile.station_m), 99.5))
        sunk = make_terrain(lambda x, y: 99.5 + 0 * x * y, bounds=(-5, -5, 12, 5))
        found = liner_along(low, layout, sunk)
        assert found.left_bank_m == pytest.approx(low.sill_m)
        assert found.low_length_m == pytest.approx(
            2 * (profile.station_m[-1] - profile.station_m[0])
        )

    def test_no_data_is_unknown(self):
        profile, layout, _ = self.straight()
        hole = make_terrain(
            lambda x, y: np.where(x > 3, np.nan, 100.5 + 0 * y), bounds=(-5, -5, 12, 5)
        )
        found = liner_along(profile, layout, hole)
        assert found.unknown_length_m > 4.0
        assert {flag.kind for flag in found.flags} == {"unknown_bank"}


class TestFactsOfTheTrade:
    def test_wat_01_three_and_a_half_feet_are_several_falls(self):
        """WAT-01: common practice, no source. 3.5 ft of grade is enough for several falls.

        By hand: 3.5 ft are 1.067 m; no fall is higher than 0.45 m, so at least 3 are needed, and
        none lower than 0.10 m, so there are at most 10. All fall free.
        """
        by_hand = math.ceil(3.5 * FOOT / 0.45)
        assert by_hand == 3
        wanted = LayoutParameters(wanted_fall=3.5 * FOOT)
        layout = lay_out_on(plane(0.0, 0.15), parameters=wanted)
        assert isinstance(layout, Layout)
        assert layout.fall_m == pytest.approx(3.5 * FOOT, abs=0.02)
        assert by_hand <= len(layout.falls) <= 10
        found = run(layout, wanted_flow(layout, water()).flow_m3s, water())
        assert found.drowned == ()
        assert not any(flag.is_refused for flag in found.flags)

    def test_wat_02_eight_to_nine_inches_are_a_deep_plunge_pool(self):
        """WAT-02: common practice, no source. 8 to 9 in of water under a fall is deep.

        By hand: half of the highest fall, 0.45 m, is 0.225 m = 8.86 in: what is wanted under it.
        """
        highest = LayoutParameters().greatest_fall_height
        by_hand_in = LevelParameters().plunge_share * highest / 0.0254
        assert 8.0 <= by_hand_in <= 9.0
        parts = [("fall", 0.25, highest), ("pool", 1.5), ("fall", 0.25, 0.2)]
        # a sheet of 20 mm over the sill of the pool below
        shallow = run(layout_of(parts, hollow_m=6.5 * 0.0254), 0.0033, water())
        assert shallow.lips[0].plunge_m / 0.0254 == pytest.approx(by_hand_in)
        assert ("shallow_plunge", "fall 1") in kinds(shallow)
        deep = run(layout_of(parts, hollow_m=8.2 * 0.0254), 0.0033, water())
        assert deep.lips[0].foot_depth_m / 0.0254 == pytest.approx(9.0, abs=0.1)
        assert ("shallow_plunge", "fall 1") not in kinds(deep)


def test_same_answer_twice():
    one, two = (run(layout_of(CASCADE), 0.006, water()) for _ in range(2))
    assert np.array_equal(one.profile.water_level_m, two.profile.water_level_m)
    assert (one.flags, one.lips, one.riffles) == (two.flags, two.lips, two.riffles)
