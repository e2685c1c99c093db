from __future__ import annotations

import dataclasses
import math
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import LOT, make_site, make_terrain, plane
from shapely.affinity import rotate, translate
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from geo_site import volumes
from geo_site.access import MachineRoute
from geo_site.constraints import Ground
from geo_site.earthwork import (
    Earthwork,
    EarthworkParameters,
    Feature,
    excavate,
    move_earth,
)
from geo_site.earthwork.fence import FenceGround, find_fence
from geo_site.earthwork.pile import Yard, find_pile
from geo_site.earthwork.pit import pit_depths, stream_cut, trench_volume
from geo_site.layout import Layout
from geo_site.parameters import describe
from geo_site.siting import Arrangement, BasinDesign, Placement
from geo_site.volumes import rounded_pit_volume

FOOT = 0.3048
YARD3 = 27 * FOOT**3
PARAMETERS = EarthworkParameters()
LEVEL = plane(0.0, 0.0)
RISING = plane(0.0, 0.1)  # to the north
GENTLE = plane(0.0, 0.05)
TAN = math.tan(math.radians(PARAMETERS.repose_angle))
STRIP = PARAMETERS.sod_thickness + PARAMETERS.topsoil_thickness


def terrain_of(raster, flow_paths=()):
    return SimpleNamespace(ground=raster, flow_paths=tuple(flow_paths))


def design_of(batter: float = 1.5, depth_m: float = 0.7) -> BasinDesign:
    return BasinDesign(
        units=12,
        arrangements=(Arrangement(rows=3, columns=4, length_m=3.2, width_m=1.8),),
        layers=1,
        depth_m=depth_m,
        unit_height_m=0.45,
        cover_m=0.15,
        bedding_m=0.10,
        overdig_m=0.30,
        batter=batter,
        deepest_m=math.inf,
        stored_m3=2.4624,
        flags=(),
    )


def placement_of(
    floor_level_m: float,
    size=(3.8, 2.4),
    centre=(20.0, 15.0),
    turn: float = 0.0,
    outline_m: float = 3.0,
) -> Placement:
    """A pit floor in its place; the outline is only wide enough, as a searched one would be."""
    x, y = centre
    half_a, half_b = size[0] / 2, size[1] / 2
    floor = rotate(box(x - half_a, y - half_b, x + half_a, y + half_b), turn, origin=(x, y))
    return Placement(
        x=x,
        y=y,
        rotation_deg=turn,
        arrangement=Arrangement(rows=3, columns=4, length_m=3.2, width_m=1.8),
        footprint=floor.buffer(-0.3, join_style="mitre"),
        pit_floor=floor,
        excavation=floor.buffer(outline_m),
        rim_level_m=floor_level_m + 0.7,
        floor_level_m=floor_level_m,
        greatest_depth_m=0.0,
        score=1.0,
        marks={},
    )


def ground_of(work, area=LOT) -> Ground:
    area = MultiPolygon([area]) if isinstance(area, Polygon) else area
    return Ground(work=work, pieces=(), blocked=MultiPolygon(), hand_dig=(), open=area, free=area)


def layout_of(**changes) -> Layout:
    """A straight stream that comes down from the north into the basin."""
    alignment = LineString([(20.0, 24.0, 100.6), (20.0, 15.5, 100.1)])
    made = {
        "alignment": alignment,
        "stations_m": np.array([0.0, 8.5]),
        "ground_m": np.array([100.4, 100.0]),
        "bed_m": np.array([100.6, 100.1]),
        "kinds": np.array(["riffle", "riffle"]),
        "reaches": (),
        "falls": (),
        "pools": (),
        "bed": box(19.55, 15.5, 20.45, 24.0),
        "dig": box(19.5, 15.5, 20.5, 24.0),
        "pipe": LineString([(21.0, 15.0, 99.5), (21.0, 24.0, 99.9)]),
        "trench_width_m": 0.30,
        "pipe_under_bed": False,
        "lip_level_m": 100.6,
        "fall_m": 0.5,
        "length_m": 8.5,
        "sinuosity": 1.0,
        "ground_fall_m": 0.4,
        "berm_height_m": 0.2,
        "berm_m3": 1.2,
        "stream_cut_m3": 2.0,
        "berm": box(18.8, 21.0, 21.2, 24.5),
        "hand_dig_m": 0.0,
        "step_ratio": math.nan,
    }
    return Layout(**{**made, **changes})


def move(surface=GENTLE, *, layout=None, route=None, parameters=PARAMETERS, **more):
    ground = more.pop("ground", LOT)
    placement = more.pop("placement", None)
    flow_paths = more.pop("flow_paths", ())
    site = make_site(surface, **more)
    placement = placement or placement_of(
        float(site.terrain.sample(np.array([[20.0, 15.0]]))[0]) - 0.7
    )
    feature = Feature(placement=placement, design=design_of(), layout=layout, route=route)
    return move_earth(
        site,
        terrain_of(site.terrain, flow_paths),
        ground_of("pile", ground),
        ground_of("fence", ground),
        feature,
        parameters,
    )


def left_over(earth: Earthwork) -> float:
    """What the balance law leaves unexplained, bank m3."""
    piled = earth.pile.volume_m3 if earth.pile else 0.0
    out = (piled + earth.haul_m3) / earth.swell_factor + earth.berm_m3 / earth.shrink_factor
    return earth.bank_m3 + earth.brought_m3 / earth.swell_factor - out


class TestPit:
    def test_exc_02_top_of_a_class_c_pit(self):
        """EXC-02 (29 CFR 1926 Subpart P, app. B): floor 10 x 8 ft, 4 ft deep -> 22 x 20 ft."""
        terrain = terrain_of(make_terrain(LEVEL, cell_m=0.5))
        placement = placement_of(100.0 - 4 * FOOT, size=(10 * FOOT, 8 * FOOT))
        depths = pit_depths(terrain, placement, design_of(1.5))
        rows, cols = np.nonzero(depths.values > 0.0)
        wide = (cols.max() - cols.min() + 1) * depths.cell_width_m
        high = (rows.max() - rows.min() + 1) * depths.cell_height_m
        assert wide == pytest.approx(22 * FOOT, abs=2 * 0.1)
        assert high == pytest.approx(20 * FOOT, abs=2 * 0.1)
        assert depths.values.max() == pytest.approx(4 * FOOT)

    def test_exc_10_mitred_is_693_ft3_and_ours_is_rounded(self):
        """EXC-10 (prismoidal): 693.33 ft3 with mitred corners; quarter cones take 18.3 ft3 off."""
        terrain = terrain_of(make_terrain(LEVEL))
        placement = placement_of(100.0 - 4 * FOOT, size=(10 * FOOT, 8 * FOOT))
        dug = excavate(terrain, placement, design_of(1.0)).bank_m3 / FOOT**3
        mitred = volumes.battered_pit_volume(10, 8, 4, 1.0)
        assert mitred == pytest.approx(693.333, abs=1e-3)
        assert dug == pytest.approx(mitred - (4 - math.pi) / 3 * 4**3, rel=2e-3)
        assert dug == pytest.approx(rounded_pit_volume(10, 8, 4, 1.0), rel=2e-3)
        assert not math.isclose(dug, mitred, rel_tol=0.02)

    @pytest.mark.parametrize("turn", [0.0, 17.0, 45.0])
    @pytest.mark.parametrize("batter", [0.0, 0.5, 1.5])
    def test_level_ground_has_a_closed_form_at_any_turn(self, turn, batter):
        terrain = terrain_of(make_terrain(LEVEL))
        placement = placement_of(99.0, turn=turn)
        dug = excavate(terrain, placement, design_of(batter)).bank_m3
        assert dug == pytest.approx(rounded_pit_volume(3.8, 2.4, 1.0, batter), rel=3e-3)

    def test_tilted_ground_agrees_with_integration(self):
        """A plane of 1 in 5: against a far finer sum in the pit's own frame."""
        slope, batter = 0.2, 1.5
        surface = plane(slope, 0.0, level_m=100.0 - slope * 20.0)
        terrain = terrain_of(make_terrain(surface))
        placement = placement_of(99.0, outline_m=4.0)
        step = 0.02
        u = np.arange(-7.0 + step / 2, 7.0, step)
        x, y = np.meshgrid(u, u)
        beyond = np.hypot(np.maximum(abs(x) - 1.9, 0.0), np.maximum(abs(y) - 1.2, 0.0))
        depth = np.maximum(1.0 + slope * x - beyond / batter, 0.0)
        expected = depth.sum() * step**2
        dug = excavate(terrain, placement, design_of(batter))
        assert dug.bank_m3 == pytest.approx(expected, rel=2e-3)
        # Deepest where the uphill edge of the floor is: 1 m + 0.2 x 1.9 m.
        assert dug.greatest_depth_m == pytest.approx(1.38, abs=0.02)

    def test_ground_below_the_floor_is_not_filled(self):
        surface = plane(0.5, 0.0, level_m=100.0 - 0.5 * 20.0)
        dug = excavate(terrain_of(make_terrain(surface)), placement_of(100.0), design_of(0.0))
        # Half the floor: a wedge 1.9 m long that grows from 0 to 0.95 m, 2.4 m wide.
        assert dug.bank_m3 == pytest.approx(1.9 * 0.95 / 2 * 2.4, rel=0.01)

    def test_a_mound_beyond_a_dip_is_left_alone(self):
        def surface(x, y):
            return np.where(x < 26.0, 100.0, 104.0) + 0.0 * y

        level = excavate(
            terrain_of(make_terrain(LEVEL, cell_m=0.5)), placement_of(99.0), design_of(1.5)
        )
        mound = excavate(
            terrain_of(make_terrain(surface, cell_m=0.5)),
            placement_of(99.0, outline_m=6.0),
            design_of(1.5),
        )
        assert mound.bank_m3 == pytest.approx(level.bank_m3, rel=1e-9)

    def test_unknown_ground_makes_the_volume_unknown(self):
        values = np.full((70, 80), 100.0)
        values[34:36, 39:41] = np.nan
        dug = excavate(terrain_of(make_terrain(values)), placement_of(99.0), design_of())
        assert math.isnan(dug.bank_m3)
        assert math.isnan(dug.greatest_depth_m)

    def test_unknown_ground_elsewhere_does_not_matter(self):
        values = np.full((70, 80), 100.0)
        values[:, 47:] = np.nan
        dug = excavate(terrain_of(make_terrain(values)), placement_of(99.0), design_of())
        assert dug.bank_m3 == pytest.approx(rounded_pit_volume(3.8, 2.4, 1.0, 1.5), rel=3e-3)

    @settings(max_examples=12, deadline=None)
    @given(
        dx=st.floats(-3, 3),
        dy=st.floats(-3, 3),
        turn=st.floats(0, 180),
        depth=st.floats(0.4, 1.6),
    )
    def test_place_and_turn_do_not_change_the_volume_on_level_ground(self, dx, dy, turn, depth):
        terrain = terrain_of(make_terrain(LEVEL))
        placement = placement_of(100.0 - depth, centre=(20 + dx, 15 + dy), turn=turn)
        dug = excavate(terrain, placement, design_of(1.5)).bank_m3
        assert dug == pytest.approx(rounded_pit_volume(3.8, 2.4, depth, 1.5), rel=5e-3)


class TestTrenchAndBed:
    def test_trench_by_hand(self):
        """10 m at 0.5 m under level ground; floor 0.10 m lower, strip 0.15 m off, 0.30 m wide."""
        ground = make_terrain(LEVEL)
        layout = layout_of(pipe=LineString([(5, 5, 99.5), (15, 5, 99.5)]))
        dug = trench_volume(ground, layout, box(30, 20, 31, 21), PARAMETERS)
        assert dug == pytest.approx(10 * (0.5 + 0.1 - 0.15) * 0.3, rel=1e-9)

    def test_trench_inside_the_pit_is_not_dug_twice(self):
        ground = make_terrain(LEVEL)
        layout = layout_of(pipe=LineString([(5, 5, 99.5), (15, 5, 99.5)]))
        dug = trench_volume(ground, layout, box(0, 0, 9, 9), PARAMETERS)
        assert dug == pytest.approx(6 * 0.45 * 0.3, rel=1e-6)

    def test_trench_follows_pipe_levels(self):
        """The pipe climbs from 1.0 m to 0 m below level ground: a triangle, less what is above."""
        ground = make_terrain(LEVEL)
        layout = layout_of(pipe=LineString([(5, 5, 99.0), (15, 5, 100.0)]))
        dug = trench_volume(ground, layout, box(30, 20, 31, 21), PARAMETERS)
        # depth = 1.1 - s/10 - 0.15 until it is 0 at s = 9.5 m
        assert dug == pytest.approx(0.95 * 9.5 / 2 * 0.3, rel=1e-3)

    def test_bed_cut_loses_the_strip_off_the_berm_and_outside_the_pit(self):
        layout = layout_of(berm=box(18, 21, 22, 25), stream_cut_m3=2.0)
        # dug 1 m wide: y 15.5 to 24, pit up to y 17, berm from 21: 4 m x 1 m of strip
        cut = stream_cut(layout, box(15, 10, 25, 17), 0.15)
        assert cut == pytest.approx(2.0 - 4 * 1.0 * 0.15)
        assert stream_cut(layout_of(stream_cut_m3=0.1), box(15, 10, 25, 17), 0.15) == 0.0


def yard_of(surface, allowed=LOT, pit=None, **more) -> Yard:
    pit = pit or box(18.0, 13.0, 22.0, 17.0)
    allowed = MultiPolygon([allowed]) if isinstance(allowed, Polygon) else allowed
    return Yard(
        ground=make_terrain(surface),
        allowed=allowed,
        middle=more.get("middle", pit.buffer(9.0)),
        pit=pit,
        views=more.get("views", ()),
    )


def volume_under(pile, surface, core, step=0.05):
    """Volume of a heap on any surface, summed from its definition on other cells than its own."""
    west, south, east, north = pile.geometry.buffer(1.0).bounds
    x, y = np.meshgrid(np.arange(west, east, step), np.arange(south, north, step))
    beyond = shapely.distance(core, shapely.points(x, y))
    top = pile.crest_level_m - TAN * beyond
    return np.maximum(top - surface(x, y), 0.0).sum() * step**2


class TestPile:
    def test_exc_30_a_cone_on_level_ground(self):
        """EXC-30: a cone of 10 m3 at 35 degrees is 2.389 m in radius and 1.673 m high."""
        parameters = EarthworkParameters(repose_angle=35.0)
        pile = find_pile(yard_of(LEVEL), 10.0, 1.25, parameters)
        assert pile is not None
        assert pile.height_m == pytest.approx(1.6729, abs=0.05)
        radius = math.sqrt(pile.geometry.area / math.pi)
        assert radius == pytest.approx(2.3892, rel=0.02)
        assert pile.volume_m3 == 10.0
        assert pile.bank_m3 == 8.0

    def test_on_a_slope_the_volume_is_what_was_asked(self):
        surface = plane(0.0, 0.25)
        pile = find_pile(yard_of(surface), 8.0, 1.25, PARAMETERS)
        assert pile is not None
        # The cone's axis stands over its core, which is found again as the highest point: the
        # toe reaches h / (tan + s) uphill and h / (tan - s) downhill of it.
        west, south, east, north = pile.geometry.bounds
        share = (TAN - 0.25) / (2 * TAN)  # of its north-south length, uphill of the core
        core = Point((west + east) / 2, north - (north - south) * share)
        assert volume_under(pile, surface, core) == pytest.approx(8.0, rel=0.03)

    def test_no_cell_is_steeper_than_repose_and_no_higher_than_allowed(self):
        parameters = EarthworkParameters(pile_height_limit=1.2)
        pile = find_pile(yard_of(plane(0.05, 0.1)), 12.0, 1.25, parameters)
        assert pile is not None
        assert pile.volume_m3 == 12.0
        assert pile.height_m <= 1.2 + 1e-6
        # 12 m3 in a cone of 33 degrees would be 1.69 m high: it was made longer instead.
        assert pile.geometry.area > 20.0

    def test_toe_stays_on_allowed_ground(self):
        allowed = box(2, 2, 38, 28).difference(box(16, 11, 24, 19)).difference(box(0, 20, 17, 30))
        pile = find_pile(yard_of(plane(0.02, -0.1), allowed), 10.0, 1.25, PARAMETERS)
        assert pile is not None
        assert pile.geometry.difference(allowed).area == 0.0
        assert pile.volume_m3 == 10.0

    def test_the_largest_that_fits_is_never_more_than_the_ground_gives(self):
        """In a yard 3 m x 3 m a cone at repose has 1.5 m radius: 2.3 m3 and no more."""
        yard = yard_of(LEVEL, box(23.0, 13.0, 26.0, 16.0))
        pile = find_pile(yard, 20.0, 1.25, PARAMETERS)
        assert pile is not None
        cone = math.pi / 3 * 1.5**2 * (1.5 * TAN)
        assert 0.8 * cone < pile.volume_m3 < cone
        assert yard.allowed.covers(pile.geometry)

    def test_edges_between_cells_count_as_they_are(self):
        """A strip 2.07 m wide, not on the cells' lines: no ridge higher than 1.035 m x tan."""
        strip = box(23.03, 7.0, 25.10, 23.0)
        pile = find_pile(yard_of(LEVEL, strip), 20.0, 1.25, PARAMETERS)
        assert pile is not None
        assert 0.8 * 1.035 * TAN < pile.height_m <= 1.035 * TAN
        # Of 6 m and two half cones: 1.035 x 0.672 x 6 + pi/3 x 1.035^2 x 0.672
        ridge = 1.035**2 * TAN * (6.0 + math.pi / 3 * 1.035)
        assert 0.7 * ridge < pile.volume_m3 < ridge

    def test_nowhere(self):
        tiny = yard_of(LEVEL, box(23.0, 13.0, 24.0, 14.0))
        assert find_pile(tiny, 20.0, 1.25, PARAMETERS) is None
        assert find_pile(yard_of(LEVEL, MultiPolygon()), 20.0, 1.25, PARAMETERS) is None
        far = yard_of(LEVEL, box(35, 25, 40, 30))
        assert find_pile(far, 20.0, 1.25, PARAMETERS) is None
        assert find_pile(yard_of(LEVEL), 0.0, 1.25, PARAMETERS) is None
        assert find_pile(yard_of(LEVEL), math.nan, 1.25, PARAMETERS) is None

    def test_unknown_ground_is_not_built_on(self):
        values = np.full((70, 80), 100.0)
        values[:, 45:] = np.nan  # east of x = 25
        yard = dataclasses.replace(
            yard_of(LEVEL, box(22.0, 5.0, 38.0, 25.0)), ground=make_terrain(values)
        )
        pile = find_pile(yard, 20.0, 1.25, PARAMETERS)
        assert pile is not None
        assert pile.geometry.bounds[2] <= 25.5
        assert pile.height_m <= (25.0 - 22.0) / 2 * TAN  # it ends where knowledge ends

    def test_away_from_a_view(self):
        yard = dataclasses.replace(
            yard_of(LEVEL, LOT.difference(box(17, 0, 23, 30))),
        )
        seen = dataclasses.replace(yard, views=(Point(35.0, 15.0),))
        other = dataclasses.replace(yard, views=(Point(5.0, 15.0),))
        west, east = (find_pile(y, 6.0, 1.25, PARAMETERS) for y in (seen, other))
        assert west.geometry.centroid.x < 17.0
        assert east.geometry.centroid.x > 23.0

    def test_the_cheapest_of_all_places_that_take_it_all(self, monkeypatch):
        """Found alike whether places are measured a few at a time or all before the first."""
        yard = yard_of(lambda x, y: 100.0 + 0.1 * x + 0.2 * np.sin(y), views=(Point(5.0, 15.0),))
        for loose in (0.5, 4.0, 9.0, 1e4):
            found = find_pile(yard, loose, 1.25, PARAMETERS)
            monkeypatch.setattr("geo_site.earthwork.pile._AT_ONCE", 1_000_000)
            assert find_pile(yard, loose, 1.25, PARAMETERS) == found
            monkeypatch.undo()

    def test_a_pit_beyond_a_ridge_is_not_filled(self):
        def surface(x, y):
            hole = (abs(x - 30.0) < 2.0) & (abs(y - 15.0) < 2.0)
            wall = (abs(x - 27.0) < 0.8) & (abs(y - 15.0) < 6.0)
            return 100.0 - 3.0 * hole + 1.5 * wall

        yard = yard_of(surface, box(22.5, 10.0, 34.0, 20.0), middle=box(23.0, 13.0, 25.5, 17.0))
        pile = find_pile(yard, 4.0, 1.25, PARAMETERS)
        assert pile is not None
        assert pile.geometry.bounds[2] < 28.5

    def test_same_answer_wherever_the_site_lies(self):
        yard = yard_of(plane(0.1, 0.1))
        moved = make_site(plane(0.1, 0.1), origin=(500_000.0, 4_000_000.0))
        far = Yard(
            ground=moved.terrain,
            allowed=translate(yard.allowed, 500_000, 4_000_000),
            middle=translate(yard.middle, 500_000, 4_000_000),
            pit=translate(yard.pit, 500_000, 4_000_000),
            views=(),
        )
        here, there = (find_pile(y, 9.0, 1.25, PARAMETERS) for y in (yard, far))
        back = translate(there.geometry, -500_000, -4_000_000)
        assert back.symmetric_difference(here.geometry).area < 0.05 * here.geometry.area
        assert there.height_m == pytest.approx(here.height_m, abs=1e-6)

    @settings(max_examples=10, deadline=None)
    @given(east=st.floats(-0.25, 0.25), north=st.floats(-0.25, 0.25), loose=st.floats(1.0, 30.0))
    def test_random_planes(self, east, north, loose):
        """Never off the allowed ground, never too high, never more than asked."""
        allowed = LOT.difference(box(17.4, 12.4, 22.6, 17.6))
        yard = yard_of(plane(east, north), allowed)
        pile = find_pile(yard, loose, 1.25, PARAMETERS)
        assert pile is not None
        assert yard.allowed.covers(pile.geometry)
        assert pile.height_m <= PARAMETERS.pile_height_limit + 1e-6
        assert 0.0 < pile.volume_m3 <= loose
        assert pile.bank_m3 * 1.25 == pytest.approx(pile.volume_m3)
        # A solid at repose on a plane is at most its toe area times its height.
        assert pile.volume_m3 < pile.geometry.area * pile.height_m


class TestFence:
    def fence(self, bare, surface=RISING, free=LOT, flow=None, parameters=PARAMETERS):
        return find_fence(
            bare,
            FenceGround(
                ground=make_terrain(surface), free=free.difference(bare), flow=flow or Polygon()
            ),
            parameters,
        )

    def test_stands_below_and_turns_its_ends_upslope(self):
        bare = box(18, 12, 22, 18)
        line, flags = self.fence(bare)  # the ground rises to the north
        assert flags == ()
        assert line.distance(bare) == pytest.approx(1.5, abs=0.02)
        y = shapely.get_coordinates(line)[:, 1]
        assert y.min() == pytest.approx(10.5, abs=0.02)
        assert y[0] > 14.5
        assert y[-1] > 14.5
        assert y.max() <= 15.3
        # Water that runs straight down from any bare point meets it.
        for x in np.linspace(18.0, 22.0, 9):
            assert line.intersects(LineString([(x, 12.0), (x, 0.0)]))

    def test_set_03_length_of_the_rule_of_thumb(self):
        """SET-03 (EPA NPDES fact sheet 2012): 3,500 ft2 of bare soil ask for 35 ft of fence."""
        side = math.sqrt(3500.0) * FOOT
        bare = box(10, 6, 10 + side, 6 + side)
        line, flags = self.fence(bare)
        assert line.length >= 35.0 * FOOT
        assert flags == ()
        short, flags = self.fence(bare, free=box(10, 0, 15, 30))
        assert short.length < 35.0 * FOOT
        assert any("10.7 m" in flag for flag in flags)

    def test_goes_all_round_on_level_ground(self):
        line, _ = self.fence(box(18, 12, 22, 18), LEVEL)
        assert line.is_ring

    def test_gap_in_concentrated_flow(self):
        flow = LineString([(20, 0), (20, 30)]).buffer(1.0)
        line, flags = self.fence(box(18, 12, 22, 18), flow=flow)
        assert line.distance(LineString([(20, 0), (20, 30)])) >= 1.0 - 1e-3
        assert any("concentrated flow" in flag for flag in flags)

    def test_never_outside_its_ground(self):
        free = box(0, 11, 40, 30)
        line, flags = self.fence(box(18, 12, 22, 18), free=free)
        assert free.buffer(1e-9).covers(line)
        assert any("gap" in flag for flag in flags)

    def test_none_where_it_cannot_stand(self):
        line, flags = self.fence(box(18, 12, 22, 18), free=box(0, 25, 40, 30))
        assert line is None
        assert any(flag.startswith("No silt fence") for flag in flags)
        steep, flags = self.fence(box(18, 12, 22, 18), plane(0.0, 0.6))
        assert steep is None
        assert any("too steep" in flag for flag in flags)

    def test_too_long_a_slope_is_told(self):
        bare = box(2, -18, 6, 28)
        _, flags = self.fence(bare, free=box(-20, -20, 60, 50))
        assert any("more than the 30 m" in flag for flag in flags)


class TestBalance:
    def test_by_hand_without_a_stream(self):
        """Level ground, pit 3.8 x 2.4 m, 0.7 m deep, 1.5:1, strip 0.15 m."""
        earth = move(LEVEL)
        pit = rounded_pit_volume(3.8, 2.4, 0.7, 1.5)
        # Below the strip the pit is one of 0.55 m depth with the same floor.
        bank = rounded_pit_volume(3.8, 2.4, 0.55, 1.5)
        assert earth.pit_m3 == pytest.approx(pit, rel=5e-3)
        assert earth.bank_m3 == pytest.approx(bank, rel=5e-3)
        assert earth.excavation_m3 == earth.bank_m3
        assert earth.stream_cut_m3 == earth.trench_m3 == earth.berm_m3 == 0.0
        assert earth.soil == "unknown"
        assert earth.swell_factor == 1.25
        assert earth.loose_m3 == pytest.approx(bank * 1.25, rel=5e-3)
        assert earth.pile.volume_m3 == earth.loose_m3
        assert earth.haul_m3 == 0.0
        assert earth.haul_loads == 0
        assert any("not known" in flag for flag in earth.flags)

    def test_the_strip_is_kept_apart(self):
        """Its volume is what the whole pit has beyond the bank, over the real outline."""
        earth = move(LEVEL, placement=placement_of(99.3, outline_m=1.05))
        outline = 3.8 * 2.4 + 2 * (3.8 + 2.4) * 1.05 + math.pi * 1.05**2
        assert earth.sod_m2 == pytest.approx(outline, rel=5e-3)
        assert earth.topsoil_m3 == pytest.approx(outline * 0.10, rel=5e-3)
        assert earth.pit_m3 - earth.bank_m3 < outline * STRIP
        assert earth.pit_m3 - earth.bank_m3 > (outline - 12 * 0.225) * STRIP

    def test_the_law_holds_with_a_stream(self):
        earth = move(layout=layout_of())
        assert earth.bank_m3 == earth.excavation_m3 + earth.stream_cut_m3 + earth.trench_m3
        assert earth.trench_m3 > 0.0
        # Beyond the excavation (y 19.2) bed and trench go on to y 24, 1.0 m and 0.3 m wide.
        alone = placement_of(0.0).excavation.area
        assert earth.sod_m2 == pytest.approx(alone + 4.8 * 1.0 + 4.8 * 0.3)
        assert earth.berm_m3 == 1.2
        assert earth.brought_m3 == 0.0
        assert abs(left_over(earth)) < 1e-9

    def test_a_berm_larger_than_the_dig_is_brought_in(self):
        earth = move(layout=layout_of(berm_m3=60.0))
        assert earth.pile is None
        assert earth.haul_m3 == earth.loose_m3 == 0.0
        needed = 60.0 / 0.90 - earth.bank_m3
        assert earth.brought_m3 == pytest.approx(needed * 1.25)
        assert abs(left_over(earth)) < 1e-9
        assert any("brought in" in flag for flag in earth.flags)

    def test_what_does_not_fit_is_hauled(self):
        earth = move(ground=box(23.6, 13.0, 28.5, 17.0))
        assert earth.pile is not None
        assert earth.haul_m3 > 0.0
        assert earth.haul_loads == math.ceil(earth.haul_m3 / 8.0)
        assert abs(left_over(earth)) < 1e-9
        nothing = move(ground=MultiPolygon())
        assert nothing.pile is None
        assert nothing.haul_m3 == nothing.loose_m3
        assert nothing.silt_fence is None

    @pytest.mark.parametrize(
        ("kind", "swell", "shrink"),
        [("sand", 1.11, 0.95), ("loam", 1.25, 0.90), ("clay", 1.43, 0.90), ("rock", 1.5, 1.3)],
    )
    def test_soil_from_the_map_or_the_settings(self, kind, swell, shrink):
        """US Army FM 5-434, table 1-1."""
        mapped = move(soils=[{"geometry": LOT, "kind": kind}])
        chosen = move(parameters=EarthworkParameters(soil=kind))
        assert mapped == dataclasses.replace(chosen)
        assert (mapped.soil, mapped.swell_factor, mapped.shrink_factor) == (kind, swell, shrink)
        assert abs(left_over(mapped)) < 1e-9

    def test_soil_of_the_larger_part_and_factors_of_the_user(self):
        soils = [
            {"geometry": box(0, 0, 20.3, 30), "kind": "clay"},
            {"geometry": box(20.3, 0, 40, 30), "kind": "sand"},
        ]
        earth = move(soils=soils, parameters=EarthworkParameters(swell_factor=1.3))
        assert earth.soil == "clay"
        assert earth.swell_factor == 1.3
        assert earth.shrink_factor == 0.90

    def test_the_pile_keeps_off_everything(self):
        layout = layout_of()
        path = SimpleNamespace(line=LineString([(26.0, 0.0), (26.0, 30.0)]), accumulation_m2=300.0)
        way = LineString([(0.0, 15.0), (16.0, 15.0)])
        route = MachineRoute(
            line=way,
            length_m=16.0,
            corridor=way.buffer(1.0),
            steepest_along=0.0,
            steepest_across=0.0,
            hand_dig_m=0.0,
        )
        earth = move(layout=layout, route=route, flow_paths=[path])
        placement = placement_of(0.0)
        pile = earth.pile.geometry
        assert pile.distance(placement.excavation) >= 0.6096
        for work in (layout.dig, layout.berm):
            assert pile.distance(work) >= 0.6096
        assert pile.distance(layout.pipe) >= 0.15 + 0.6096
        assert pile.distance(path.line) >= 1.0 - 1e-3
        assert not pile.intersects(route.corridor)
        reach = shapely.union_all([placement.excavation, route.corridor])
        assert pile.centroid.distance(reach) <= 6.5
        assert LOT.covers(pile)

    def test_the_fence_keeps_off_pile_and_pit(self):
        earth = move(layout=layout_of())
        bare = shapely.union_all([earth.pile.geometry, placement_of(0.0).excavation])
        assert earth.silt_fence is not None
        assert not earth.silt_fence.intersects(bare.buffer(-1e-6))
        assert LOT.covers(earth.silt_fence)

    @pytest.mark.parametrize(
        ("depth_ft", "words"),
        [
            (3.9, []),
            (4.0, ["ladder"]),
            (5.0, ["ladder", "shored"]),
            (20.5, ["ladder", "shored", "engineer"]),
        ],
    )
    def test_depth_duties(self, depth_ft, words):
        """29 CFR 1926.651(c)(2), .652(a)(1) and Subpart P app. B: 4 ft, 5 ft, 20 ft."""
        placement = placement_of(100.0 - depth_ft * FOOT, outline_m=1.0)
        earth = move(LEVEL, placement=placement)
        told = [flag for flag in earth.flags if "1926" in flag]
        assert len(told) == len(words)
        assert all(word in flag for word, flag in zip(words, told, strict=True))

    def test_unknown_ground_gives_no_figures(self):
        values = np.full((70, 80), 100.0)
        values[34:36, 39:41] = np.nan
        earth = move(values, placement=placement_of(99.3))
        assert math.isnan(earth.bank_m3)
        assert math.isnan(earth.haul_m3)
        assert earth.pile is None
        assert earth.haul_loads == 0
        assert any("no earthwork" in flag for flag in earth.flags)
        assert sum("1926" in flag for flag in earth.flags) == 3

    @settings(max_examples=8, deadline=None)
    @given(
        east=st.floats(-0.2, 0.2),
        north=st.floats(-0.2, 0.2),
        berm=st.floats(0.0, 12.0),
        cut=st.floats(0.0, 6.0),
        soil=st.sampled_from(["sand", "loam", "clay", "rock", "unknown"]),
    )
    def test_balance_on_random_planes(self, east, north, berm, cut, soil):
        earth = move(
            plane(east, north),
            layout=layout_of(berm_m3=berm, stream_cut_m3=cut),
            parameters=EarthworkParameters(soil=soil),
        )
        assert abs(left_over(earth)) < 1e-9
        assert min(earth.haul_m3, earth.loose_m3, earth.brought_m3) >= 0.0
        assert earth.loose_m3 == 0.0 or earth.brought_m3 == 0.0
        assert earth.excavation_m3 <= earth.pit_m3

    def test_same_bytes_twice(self):
        first, second = move(layout=layout_of()), move(layout=layout_of())
        assert shapely.to_wkb(first.pile.geometry) == shapely.to_wkb(second.pile.geometry)
        assert shapely.to_wkb(first.silt_fence) == shapely.to_wkb(second.silt_fence)
        assert first == second


def test_every_setting_tells_unit_meaning_and_source():
    for row in describe(PARAMETERS):
        assert row.unit
        assert row.meaning
        assert row.source
