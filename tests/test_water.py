from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_site
from shapely.geometry import LineString, Polygon, box

from geo_site import channels, pipes, weirs
from geo_site.errors import SettingRefused
from geo_site.layout import Fall, Layout, LayoutParameters, Pool, StreamReach
from geo_site.parameters import describe, read_table
from geo_site.siting import Arrangement, BasinDesign, Placement
from geo_site.tables.plain import numbers_of
from geo_site.water import WaterParameters, first_need, work_out
from geo_site.water.running import lip_head

FOOT = 0.3048
GALLON = 231 * 0.0254**3
PARAMETERS = WaterParameters()
BED_M = 0.9
SITE = make_site(lambda x, y: 100.0 + 0.0 * x, lot=box(-5, -20, 40, 20))
LIP_M = 0.6


def layout_of(parts, *, lip_m=LIP_M, widening=1.0, hollow_m=0.2, pipe_depth_m=0.5) -> Layout:
    """A straight stream from (0, 0) eastward, its end at level 100.

    Parts are ("pool", length), ("riffle", length, drop), ("fall", length, drop).
    """
    drops = [part[2] if len(part) > 2 else 0.0 for part in parts]
    x, z = 0.0, 100.0 + sum(drops)
    top = z
    reaches, falls, pools = [], [], []
    for number, (part, drop) in enumerate(zip(parts, drops, strict=True), 1):
        kind, length = part[:2]
        line = LineString([(x + length * t, 0.0, z - drop * t) for t in np.linspace(0.0, 1.0, 41)])
        reaches.append(
            StreamReach(
                sequence=number, kind=kind, line=line, from_m=x, to_m=x + length, sill_level_m=z
            )
        )
        if kind == "fall":
            falls.append(
                Fall(
                    sequence=len(falls) + 1, station_m=x, x=x, y=0.0, height_m=drop,
                    lip_level_m=z, lip_width_m=lip_m,
                )
            )  # fmt: skip
        if kind == "pool":
            half = BED_M * widening / 2
            pools.append(
                Pool(
                    sequence=len(pools) + 1, geometry=box(x, -half, x + length, half),
                    sill_level_m=z, depth_m=hollow_m, from_m=x, to_m=x + length,
                )
            )  # fmt: skip
        x, z = x + length, z - drop
    body = box(0.0, -BED_M / 2, x, BED_M / 2)
    bed = shapely.union_all([body, *(pool.geometry for pool in pools)])
    return Layout(
        alignment=LineString([(0.0, 0.0, top), (x, 0.0, 100.0)]),
        stations_m=np.array([0.0, x]),
        ground_m=np.array([top, 100.0]),
        bed_m=np.array([top, 100.0]),
        kinds=np.array(["pool", "pool"]),
        reaches=tuple(reaches),
        falls=tuple(falls),
        pools=tuple(pools),
        bed=bed,
        dig=bed,
        pipe=LineString([(x, 1.0, 100.0 - pipe_depth_m), (0.0, 1.0, 100.0 - pipe_depth_m)]),
        trench_width_m=0.30,
        pipe_under_bed=False,
        lip_level_m=top,
        fall_m=top - 100.0,
        length_m=x,
        sinuosity=1.0,
        ground_fall_m=top - 100.0,
        berm_height_m=0.0,
        berm_m3=0.0,
        stream_cut_m3=0.0,
        berm=None,
        hand_dig_m=0.0,
        step_ratio=math.nan,
    )


def basin_of(rows=3, columns=4, units=12, layers=1, **changes) -> tuple[BasinDesign, Placement]:
    """Units of 0.8 x 0.6 x 0.45 m, 95 % void; rim at 99.95."""
    arrangement = Arrangement(
        rows=rows, columns=columns, length_m=columns * 0.8, width_m=rows * 0.6
    )
    height = changes.pop("unit_height_m", 0.45 * layers)
    cover = changes.pop("cover_m", 0.15)
    design = BasinDesign(
        units=units,
        arrangements=(arrangement,),
        layers=layers,
        depth_m=cover + height + 0.10,
        unit_height_m=height,
        cover_m=cover,
        bedding_m=0.10,
        overdig_m=0.30,
        batter=1.5,
        deepest_m=math.inf,
        stored_m3=units / layers * 0.8 * 0.6 * height * 0.95,
        flags=(),
    )
    footprint = box(10.0, 2.0, 10.0 + arrangement.length_m, 2.0 + arrangement.width_m)
    floor = footprint.buffer(0.30, join_style="mitre")
    placement = Placement(
        x=11.6,
        y=2.9,
        rotation_deg=0.0,
        arrangement=arrangement,
        footprint=footprint,
        pit_floor=floor,
        excavation=floor.buffer(1.0),
        rim_level_m=99.95,
        floor_level_m=99.95 - design.depth_m,
        greatest_depth_m=design.depth_m,
        score=1.0,
        marks={},
    )
    return design, placement


def water_of(parts, parameters=PARAMETERS, basin=None, **more):
    return work_out(SITE, layout_of(parts, **more), *(basin or basin_of()), parameters)


STEPS = [
    ("pool", 2.0),
    ("fall", 0.25, 0.30),
    ("pool", 1.5),
    ("riffle", 3.0, 0.15),
    ("fall", 0.25, 0.20),
    ("pool", 1.0),
    ("riffle", 1.0, 0.05),
]


class TestByHand:
    """One stream worked by hand: pool 2 m, fall 0.30 m, pool 1.5 m, riffle 3 m at 1 in 20, end.

    Bed 0.9 m wide, lip 0.6 m, hollows 0.2 m deep and half full of their box.
    """

    parts = (("pool", 2.0), ("fall", 0.25, 0.30), ("pool", 1.5), ("riffle", 3.0, 0.15))
    parameters = WaterParameters(
        lip_head=0.030,
        hollow_fullness=0.5,
        roughness=0.040,
        reserve=0.2,
        days_between_fills=7,
        # deep water behind the spillway, no losses where sections change: as worked below
        levels={"spillway_depth": 2.0, "contraction_loss": 0.0, "expansion_loss": 0.0},
    )

    @pytest.fixture
    def water(self):
        return water_of(self.parts, self.parameters)

    def test_flow(self, water):
        # 1.8385 x 0.6 x 0.030^1.5 = 1.8385 x 0.6 x 0.0051962 = 0.0057318 m3/s
        assert water.flow_m3s == pytest.approx(0.0057318, rel=1e-4)
        assert water.head_m == pytest.approx(0.030, abs=2e-4)
        # 30 mm is below 0.06 m: 20 % either way
        assert water.flow.low_m3s == pytest.approx(0.8 * water.flow_m3s)
        assert water.flow.high_m3s == pytest.approx(1.2 * water.flow_m3s)
        assert any("30 mm" in told for told in water.warnings)

    def test_riffle(self, water):
        # q = 0.0057318 / 0.9 = 0.0063687 m2/s; critical (q2/g)^(1/3) = (4.0560e-5/9.80665)^(1/3)
        #   = (4.1360e-6)^(1/3) = 0.016052 m
        # Manning at y = 0.0172: R = 0.9 y / (0.9 + 2y) = 0.01548 / 0.9344 = 0.016567;
        #   R^(2/3) = 0.064988; V = 0.064988 x sqrt(0.05) / 0.040 = 0.36329; Q = 0.005624
        #   at y = 0.0174: R = 0.016752; R^(2/3) = 0.065472; V = 0.36600; Q = 0.0057315
        riffle = water.reaches[3]
        assert riffle.depth_m == pytest.approx(0.0174, abs=2e-5)
        assert riffle.velocity_ms == pytest.approx(0.366, abs=1e-3)
        # Fr = 0.366 / sqrt(9.80665 x 0.0174) = 0.366 / 0.41308 = 0.886: tranquil
        assert riffle.froude == pytest.approx(0.886, abs=2e-3)
        assert riffle.water_level_m == pytest.approx(100.15 + 0.0174, abs=2e-5)

    def test_pools(self, water):
        # above the riffle: 0.0174 + 0.366^2 / 19.6133 = 0.0174 + 0.00683 = 0.02423 over the sill,
        # less 0.051^2 / 19.6133 = 0.00013 of its own, and 0.3 mm of friction on the way
        # above the fall: the head on its lip, 0.030, less 0.00012, and friction
        upper, lower = water.pools
        assert lower.water_level_m == pytest.approx(100.15 + 0.02423, abs=2.5e-4)
        assert upper.water_level_m == pytest.approx(100.45 + 0.030, abs=2e-4)
        # hollows 0.5 x 0.2 x 0.9 x (2 and 1.5) = 0.180 and 0.135 m3; rises 1.8 x 0.03 = 0.054 and
        # 1.35 x 0.02423 = 0.03271
        assert upper.standing_m3 == pytest.approx(0.180)
        assert upper.volume_m3 == pytest.approx(0.234, abs=3e-4)
        assert lower.volume_m3 == pytest.approx(0.135 + 0.03271, abs=3e-4)
        # rougher riffles would hold the water no more than 3 mm higher here
        assert 100.45 + 0.030 + 0.10 < upper.liner_level_m < 100.45 + 0.033 + 0.10

    def test_volumes(self, water):
        # riffle 0.9 x 3 x 0.0174 = 0.04698; fall 0.0057318 x sqrt(0.6/9.80665)
        #   = 0.0057318 x 0.24735 = 0.0014178;
        # moving = 0.054 + 0.03271 + 0.04698 + 0.00142 = 0.13511
        assert water.standing_m3 == pytest.approx(0.315)
        assert water.moving_m3 == pytest.approx(0.13511, abs=4e-4)
        # bed 0.9 x 6.75 = 6.075 m2; 6 mm x 7 days = 0.042 m: 0.25515 m3; reserve 0.02702
        assert water.kept.asked.losses_m3 == pytest.approx(0.25515)
        # a fifth of what moves is 0.02702; rougher stone may add more, and that is kept then
        rough = water.running.high_moving_m3 - water.moving_m3
        assert rough > 0.02702
        assert water.kept.asked.reserve_m3 == pytest.approx(rough)

    def test_basin(self, water):
        # 12 units: 12 x 0.8 x 0.6 x 0.95 = 5.472 m2 of water; 0.45 m deep: 2.4624 m3;
        # less 0.10 m: 1.9152 m3. Units stand from 99.35 to 99.80; freeboard would allow 99.90.
        assert water.stored_m3 == pytest.approx(2.4624)
        assert water.usable_m3 == pytest.approx(1.9152)
        assert water.water_level_m == pytest.approx(99.80)
        assert water.lowest_level_m == pytest.approx(99.45)
        # gravel: pit floor 3.8 x 2.4 - footprint 3.2 x 1.8 = 3.36 m2, x 0.35 x 0.40
        assert water.gravel_m3 == pytest.approx(3.36 * 0.35 * 0.40)

    def test_pipe(self, water):
        # 0.0057318 m3/s at 1.5 m/s asks for 3.8212e-3 m2: d = 69.75 mm, so 3 in (77.93 mm);
        # v = 0.0057318 / (pi/4 x 0.077927^2 = 4.7694e-3) = 1.2018 m/s
        assert water.pipe_nominal == "3"
        assert water.lift.pipe.inside_diameter_m == pytest.approx(0.0779272)
        assert water.lift.pipe.velocity_ms == pytest.approx(1.2018, abs=2e-4)
        # 6.75 m in the trench at 99.50; up from the pump at 99.45, and up to the lip at 100.45
        assert water.lift.pipe.length_m == pytest.approx(6.75 + 0.05 + 0.95)
        assert water.kept.asked.pipe_m3 == pytest.approx(4.7694e-3 * 7.75, rel=1e-4)
        # Re = 1.2018 x 0.077927 / 1.004e-6 = 93,280; smooth f about 0.0182:
        # 0.0182 x 7.75/0.077927 x 0.073641 = 0.13329; a straight route has the fittings of the
        # settings alone: 0.5 + 2.5 + 2 x 0.8 + 0.2 + 1.0 = 5.8, x 0.073641 = 0.42712
        assert water.lift.pipe.lost_m == pytest.approx(0.5604, abs=2e-3)
        # lift 100.48 - 99.45
        assert water.static_lift_m == pytest.approx(1.03, abs=2e-4)
        assert water.total_head_m == pytest.approx(1.03 + 0.5604, abs=2e-3)

    def test_need(self, water):
        rough = water.running.high_moving_m3 - water.moving_m3
        needed = 0.13511 + 0.03696 + 0.25515 + rough
        assert water.required_m3 == pytest.approx(needed, abs=3e-4)
        assert water.usable_m3 > water.required_m3
        assert not any(told.startswith("The basin runs dry") for told in water.warnings)
        assert water.running_level_m == pytest.approx(99.80 - (0.13511 + 0.03696) / 5.472, abs=1e-4)


class TestFlow:
    @pytest.mark.parametrize(("inches", "gpm"), [(0.5, 12.71), (0.75, 23.35), (1.0, 35.95)])
    def test_wei_01_and_02_for_each_foot_of_lip(self, inches, gpm):
        """WEI-01, WEI-02 (Francis; EPA SWMM Reference Manual, volume II, equation 6-18).

        Below 30 mm, with deep water behind the lip; higher heads are Kindsvater and Carter's.
        """
        parameters = WaterParameters(lip_head=inches * 0.0254, levels={"spillway_depth": 2.0})
        water = water_of(STEPS, parameters, lip_m=FOOT)
        assert water.flow_m3s * 60 / GALLON == pytest.approx(gpm, rel=1e-3)

    def test_wei_03_contracted(self):
        """WEI-03: lip 2 ft, head 0.5 ft, both ends contracted: 2.2369 cfs, little velocity."""
        deep = {"spillway_depth": 2.0}
        parameters = WaterParameters(lip_head=0.5 * FOOT, contracted_ends=2, levels=deep)
        water = water_of(STEPS, parameters, lip_m=2 * FOOT)
        assert water.flow_m3s / FOOT**3 == pytest.approx(2.2369, rel=1.5e-3)

    @settings(max_examples=60, deadline=None)
    @given(
        width=st.floats(0.2, 3.0), share=st.floats(0.001, 1 / 3), ends=st.sampled_from([0, 1, 2])
    )
    def test_head_undoes_flow(self, width, share, ends):
        head = share * width  # Francis with contracted ends: width at least three heads
        flow = weirs.francis_flow(width, head, ends)
        assert lip_head(width, flow, ends) == pytest.approx(head, rel=1e-9)

    def test_a_pump_that_is_given(self):
        flow = 100 * GALLON / 60
        water = water_of(STEPS, WaterParameters(pump_flow=flow, lip_head=0.25))
        assert water.flow_m3s == water.flow.low_m3s == water.flow.high_m3s == flow
        # Francis, and 2 % less by Kindsvater and Carter, whose plate this is
        francis_m = (flow / (weirs.FRANCIS_COEFFICIENT * 0.6)) ** (2 / 3)
        assert water.head_m == pytest.approx(francis_m, rel=0.03)

    def test_a_high_head_has_the_narrower_range(self):
        water = water_of(STEPS, WaterParameters(lip_head=0.07))
        assert water.flow.high_m3s == water.flow_m3s
        assert water.flow.low_m3s / water.flow_m3s == pytest.approx(0.927, abs=1e-3)
        assert not any("tested" in told for told in water.warnings)

    def test_without_falls_the_bed_is_the_lip(self):
        water = water_of([("pool", 2.0), ("riffle", 5.0, 0.3)])
        # and 0.2 % for the velocity of the water behind the lip
        assert water.flow_m3s == pytest.approx(weirs.francis_flow(BED_M, 0.020), rel=3e-3)
        assert water.falls == ()


class TestLevels:
    def test_levels_never_rise_downstream(self):
        for head in (0.012, 0.02, 0.05, 0.15):
            water = water_of(STEPS, WaterParameters(lip_head=head))
            levels = [reach.water_level_m for reach in water.reaches]
            assert levels == sorted(levels, reverse=True)
            assert water.spillway_level_m >= levels[0]

    def test_every_level_is_above_its_sill(self):
        layout = layout_of(STEPS)
        water = work_out(SITE, layout, *basin_of(), PARAMETERS)
        for reach, running in zip(layout.reaches, water.reaches, strict=True):
            assert running.sequence == reach.sequence
            assert running.kind == reach.kind
            assert running.water_level_m > reach.sill_level_m

    def test_a_steep_riffle_is_entered_at_critical_depth(self):
        """A rapid riffle asks 3/2 of the critical depth of the pool above it."""
        water = water_of(
            [("fall", 0.25, 0.2), ("pool", 2.0), ("riffle", 3.0, 0.9)],
            WaterParameters(roughness=0.02),
        )
        critical = weirs.critical_depth(water.flow_m3s / BED_M)
        assert water.reaches[2].froude > 1.0
        assert water.reaches[2].depth_m < critical
        # and a tenth of the velocity head, yc / 2, lost where the bed gets shallow
        asked_m = 1.5 * critical + 0.1 * critical / 2
        assert water.pools[0].water_level_m == pytest.approx(100.9 + asked_m, abs=3e-4)
        assert any("rapid" in told and "reach 3" in told for told in water.warnings)

    def test_a_gentle_riffle_backs_the_pool_up_to_its_own_depth(self):
        water = water_of([("fall", 0.25, 0.2), ("pool", 2.0), ("riffle", 3.0, 0.03)])
        assert water.reaches[2].froude < 1.0
        flow, section = water.flow_m3s, channels.Trapezoid(BED_M, 0.0)
        normal = channels.normal_depth(section, flow, 0.01, PARAMETERS.roughness)
        head = (flow / section.area(normal)) ** 2 / (2 * weirs.GRAVITY_MS2)
        # 3 m up from the free end the water is within a millimetre of uniform
        assert water.pools[0].water_level_m == pytest.approx(100.03 + normal + 1.1 * head, abs=1e-3)
        assert water.pools[0].water_level_m > 100.03 + 1.5 * weirs.critical_depth(flow / BED_M)

    def test_a_narrow_lip_backs_water_over_the_riffle_above(self):
        """Lip 0.15 m: its head of 0.05 m stands above a riffle that drops only 0.01 m."""
        parts = [("pool", 1.0), ("riffle", 0.5, 0.01), ("fall", 0.25, 0.3), ("pool", 1.0)]
        flow = weirs.francis_flow(0.15, 0.05)
        water = water_of(parts, WaterParameters(pump_flow=flow), lip_m=0.15)
        lip = 100.3 + 0.05
        for level_m in (
            water.reaches[2].water_level_m,
            water.reaches[1].water_level_m,
            water.pools[0].water_level_m,
        ):  # V^2 / 2g of 0.068 m/s before the lip is 0.24 mm, friction on the riffle 0.36 mm
            assert level_m == pytest.approx(lip, abs=6e-4)
        # ponded riffle: mean depth 0.045 over 0.5 m x 0.9 m
        assert water.reaches[1].volume_m3 == pytest.approx(0.045 * 0.45, rel=0.01)

    def test_a_drowned_fall_is_told(self):
        parts = [("fall", 0.25, 0.02), ("pool", 1.0), ("fall", 0.25, 0.3)]
        deep = water_of(parts, WaterParameters(lip_head=0.05))
        assert any("fall 1" in told and "drowned" in told for told in deep.warnings)
        free = water_of(parts, WaterParameters(lip_head=0.012))
        assert not any("drowned" in told for told in free.warnings)

    def test_a_level_run_has_a_depth(self):
        water = water_of([("fall", 0.25, 0.2), ("riffle", 0.5, 0.0)])
        assert 0.0 < water.reaches[1].depth_m < 0.1

    def test_each_fall_has_its_head(self):
        layout = layout_of(STEPS)
        narrow = dataclasses.replace(layout.falls[1], lip_width_m=0.3)
        layout = dataclasses.replace(layout, falls=(layout.falls[0], narrow))
        water = work_out(SITE, layout, *basin_of(), PARAMETERS)
        # half the width: 2^(2/3) times the energy, of which the head is a little less
        assert [fall.sequence for fall in water.falls] == [1, 2]
        assert water.falls[1].head_m / water.falls[0].head_m == pytest.approx(
            2 ** (2 / 3), rel=0.03
        )

    def test_a_pool_without_ground_has_no_figures_but_no_error(self):
        layout = layout_of(STEPS)
        gone = dataclasses.replace(layout.pools[1], geometry=Polygon())
        layout = dataclasses.replace(layout, pools=(layout.pools[0], gone, layout.pools[2]))
        water = work_out(SITE, layout, *basin_of(), PARAMETERS)
        assert water.pools[1].volume_m3 == 0.0
        assert math.isnan(water.reaches[2].velocity_ms)
        assert math.isfinite(water.required_m3)


class TestVolumes:
    @settings(max_examples=40, deadline=None)
    @given(
        head=st.floats(0.01, 0.1),
        drops=st.lists(st.floats(0.0, 0.4), min_size=1, max_size=6),
        widening=st.floats(1.0, 1.5),
        hollow=st.floats(0.0, 0.4),
    )
    def test_no_water_is_lost_or_made(self, head, drops, widening, hollow):
        """What is in the reaches is what stands and what moves; pools agree with their reaches."""
        parts = [("pool", 1.2)]
        for drop in drops:
            kind = "fall" if drop > 0.1 else "riffle"
            parts += [(kind, 0.25 if kind == "fall" else 1.5, drop), ("pool", 1.0)]
        water = water_of(parts, WaterParameters(lip_head=head), widening=widening, hollow_m=hollow)
        whole = sum(reach.volume_m3 for reach in water.reaches)
        assert whole == pytest.approx(water.standing_m3 + water.moving_m3)
        in_pools = [reach.volume_m3 for reach in water.reaches if reach.kind == "pool"]
        assert in_pools == pytest.approx([pool.volume_m3 for pool in water.pools])
        assert sum(pool.standing_m3 for pool in water.pools) == pytest.approx(water.standing_m3)
        assert water.moving_m3 > 0.0
        parts_m3 = (
            water.moving_m3
            + water.kept.asked.pipe_m3
            + water.kept.asked.losses_m3
            + water.kept.asked.reserve_m3
        )
        assert water.required_m3 == pytest.approx(parts_m3)
        drawn = (water.water_level_m - water.running_level_m) * 5.472
        whole_m3 = 0.45 * 5.472  # no more than the store holds can leave it
        left = water.moving_m3 + water.kept.asked.pipe_m3
        assert drawn == pytest.approx(min(left, whole_m3))
        assert left <= whole_m3 or not water.kept.check.is_enough

    def test_more_head_moves_more_water(self):
        moving = [
            water_of(STEPS, WaterParameters(lip_head=head)).moving_m3
            for head in (0.012, 0.02, 0.03, 0.05)
        ]
        assert moving == sorted(moving)
        assert len(set(moving)) == 4

    def test_evaporation_of_a_wet_area(self):
        """150 ft2 of water and 0.25 in a day are 3.125 ft3, 23.38 gal, a day (definition)."""
        length = 150 * FOOT**2 / BED_M
        parameters = WaterParameters(evaporation=0.25 * 25.4, days_between_fills=1.0)
        water = water_of([("riffle", length, 0.5)], parameters)
        assert water.kept.asked.losses_m3 / GALLON == pytest.approx(23.38, abs=0.01)
        splashed = parameters.model_copy(update={"splash_loss": 0.1, "days_between_fills": 3.0})
        more = water_of([("riffle", length, 0.5)], splashed)
        assert more.kept.asked.losses_m3 == pytest.approx(3 * (water.kept.asked.losses_m3 + 0.1))
        assert not any("splash" in told for told in more.warnings)


class TestBasin:
    def test_geo_02_net_not_gross(self):
        """GEO-02: 12 x 6 ft, 2.5 ft of effective depth, 95 % void: 1,279.2 gal."""
        design, placement = basin_of()
        reach = 0.10
        height = 2.5 * FOOT + reach
        area = 72 * FOOT**2
        design = dataclasses.replace(
            design, unit_height_m=height, stored_m3=area * height * 0.95, units=12
        )
        placement = dataclasses.replace(
            placement, rim_level_m=100.0, floor_level_m=100.0 - height - 0.10 - 0.15
        )
        water = work_out(
            SITE, layout_of(STEPS), design, placement, WaterParameters(pump_reach=reach)
        )
        assert water.usable_m3 / GALLON == pytest.approx(1279.2, abs=0.1)

    def test_what_is_laid_counts_not_what_was_least(self):
        """An arrangement may hold more units than the least number of the design."""
        least = water_of(STEPS, basin=basin_of(rows=3, columns=4, units=12))
        more = water_of(STEPS, basin=basin_of(rows=2, columns=7, units=12))
        assert more.stored_m3 / least.stored_m3 == pytest.approx(14 / 12)

    def test_two_layers(self):
        water = water_of(STEPS, basin=basin_of(rows=3, columns=4, units=24, layers=2))
        assert water.stored_m3 == pytest.approx(2 * 2.4624)
        assert water.usable_m3 == pytest.approx(5.472 * 0.80)

    def test_freeboard_lowers_the_full_level(self):
        water = water_of(STEPS, WaterParameters(freeboard=0.25))
        assert water.water_level_m == pytest.approx(99.70)
        assert water.stored_m3 == pytest.approx(5.472 * 0.35)

    def test_running_dry_tells_how_many_units_more(self):
        """And that number, laid, is enough while one fewer is not."""
        parameters = WaterParameters(days_between_fills=20.0)
        short = water_of(STEPS, parameters, basin=basin_of(rows=1, columns=4, units=4))
        told = next(text for text in short.warnings if "runs dry" in text)
        more = int(told.split(";")[1].split()[0])
        assert more > 0

        def enough(units: int) -> bool:
            water = water_of(STEPS, parameters, basin=basin_of(rows=1, columns=units, units=4))
            return water.usable_m3 >= water.required_m3

        assert enough(4 + more)
        assert not enough(4 + more - 1)

    def test_a_pump_that_reaches_nothing(self):
        water = water_of(STEPS, WaterParameters(pump_reach=0.5))
        assert water.usable_m3 == 0.0
        assert any("reaches none" in told for told in water.warnings)


class TestPipe:
    @pytest.mark.parametrize("gpm", [5, 12, 30, 80, 150, 300])
    def test_the_smallest_that_is_slow_enough(self, gpm):
        water = water_of(STEPS, WaterParameters(pump_flow=gpm * GALLON / 60))
        assert water.lift.pipe.velocity_ms <= 1.5
        sizes = sorted(pipes.SCHEDULE_40_INSIDE_M.values())
        smaller = [size for size in sizes if size < water.lift.pipe.inside_diameter_m]
        assert not smaller or pipes.velocity(water.flow_m3s, smaller[-1]) > 1.5

    def test_friction_against_the_published_table(self):
        """PIP-01 (Illinois Administrative Code 77, part 906): 3 in, 80 gpm: 1.38 ft."""
        parameters = WaterParameters(pump_flow=80 * GALLON / 60, minor_losses=0.0)
        water = water_of([("riffle", 100 * FOOT, 0.5)], parameters)
        assert water.pipe_nominal == "3"
        assert water.lift.pipe.lost_m / FOOT == pytest.approx(1.38, rel=0.04)

    def test_pip_08_fittings(self):
        """PIP-08: K 4.0 in 3 in pipe at 100 gpm costs 1.171 ft."""
        flow = WaterParameters(pump_flow=100 * GALLON / 60, minor_losses=4.0)
        bare = flow.model_copy(update={"minor_losses": 0.0})
        cost = water_of(STEPS, flow).lift.pipe.lost_m - water_of(STEPS, bare).lift.pipe.lost_m
        assert cost / FOOT == pytest.approx(1.171, rel=1e-3)

    def test_too_much_for_one_pipe(self):
        water = water_of(STEPS, WaterParameters(pump_flow=0.05))
        assert water.pipe_nominal == "6"
        assert any("more than one" in told for told in water.warnings)

    def test_length_is_in_space(self):
        layout = dataclasses.replace(layout_of(STEPS), pipe=LineString([(0, 0, 99), (3, 0, 103)]))
        assert work_out(SITE, layout, *basin_of(), PARAMETERS).lift.pipe.length_m == pytest.approx(
            5.0
        )


class TestFirstNeed:
    wanted = LayoutParameters()

    def test_geo_10_water_in_transit(self):
        """GEO-10: a stream of 30 x 2 ft with 2 in of water has 74.8 gal in transit."""
        wanted = LayoutParameters(
            wanted_fall=0.9, usual_slope=0.9 / (30 * FOOT), bed_width=2 * FOOT, lip_width=0.3
        )
        plain = {"first_margin": 1.0, "reserve": 0.0, "first_unreachable": 0.0}
        none = WaterParameters(first_depth=1e-9, **plain)
        two_inches = WaterParameters(first_depth=2 * 0.0254, **plain)
        transit = first_need(two_inches, wanted) - first_need(none, wanted)
        assert transit / GALLON == pytest.approx(74.8, abs=0.05)

    def test_grows_with_everything_that_takes_water(self):
        base = first_need(PARAMETERS, self.wanted)
        for name, value in (
            ("lip_head", 0.04),
            ("evaporation", 9.0),
            ("days_between_fills", 14.0),
            ("reserve", 0.5),
            ("first_margin", 1.5),
            ("splash_loss", 0.05),
            ("first_unreachable", 0.4),
        ):
            assert first_need(PARAMETERS.model_copy(update={name: value}), self.wanted) > base
        assert first_need(PARAMETERS, LayoutParameters(usual_slope=0.06)) > base

    def test_a_basin_of_that_size_is_enough_for_a_usual_stream(self):
        """9 m with 0.9 m of fall: what was asked for at first holds what is found later."""
        parts = [("pool", 1.0), *[("fall", 0.25, 0.225), ("pool", 1.0), ("riffle", 0.75, 0.0)] * 4]
        layout = layout_of(parts, widening=1.3)
        assert layout.length_m == pytest.approx(9.0)
        need = first_need(PARAMETERS, self.wanted)
        units = math.ceil(need / (0.8 * 0.6 * 0.45 * 0.95))
        water = work_out(SITE, layout, *basin_of(rows=1, columns=units, units=units), PARAMETERS)
        assert water.usable_m3 >= water.required_m3


def test_same_answer_twice():
    one, other = water_of(STEPS), water_of(STEPS)
    assert numbers_of(one) == numbers_of(other)
    for field in dataclasses.fields(one.running.profile):
        first, second = (getattr(w.running.profile, field.name) for w in (one, other))
        assert np.array_equal(first, second, equal_nan=field.name not in ("regime", "jumps_m"))


def test_settings_are_told_and_refused():
    for row in describe(PARAMETERS):
        assert row.unit
        assert row.meaning
        assert row.source
    assert read_table(WaterParameters, {"lip_head": "1 in"}, table="water").lip_head == 0.0254
    with pytest.raises(SettingRefused, match=r"water\.lip_head"):
        read_table(WaterParameters, {"lip_head": 0.0}, table="water")
