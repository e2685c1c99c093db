"""The ground and its water, against planes, valleys and bowls whose answer is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import LOT, METRIC, ORIGIN, make_site, make_terrain, plane, valley
from shapely.geometry import LineString, MultiLineString, Point, box

from geo_site import drainage
from geo_site.errors import InputRefused
from geo_site.raster import Raster
from geo_site.terrain import (
    Terrain,
    TerrainParameters,
    analyse,
    catchment_of,
    contours,
    spill_path,
)
from geo_site.terrain.flow import flow_paths

DEFAULT = TerrainParameters()


def terrain_of(surface: object = "plane", **site: object) -> Terrain:
    return analyse(make_site(surface, **site), DEFAULT)


def value_at(raster: Raster, x: float, y: float) -> float:
    return float(raster.values[raster.cell_of(x, y)])


# --- slopes ---------------------------------------------------------------------------------


@pytest.mark.parametrize("cell_m", [1.0, (0.5, 2.0), (2.0, 1.0)])
def test_ter_03_a_plane_has_one_slope(cell_m):
    """TER-03: z = 0.03 x - 0.04 y slopes 0.05 everywhere."""
    terrain = terrain_of(plane(0.03, -0.04), cell_m=cell_m)
    assert np.allclose(terrain.slope.values, 0.05, atol=1e-9)
    assert np.allclose(terrain.east_gradient.values, 0.03, atol=1e-9)
    assert np.allclose(terrain.north_gradient.values, -0.04, atol=1e-9)


def test_slope_is_that_of_the_ground_not_of_raised_buildings():
    house = [{"geometry": box(10, 10, 16, 16), "kind": "house"}]
    assert np.allclose(terrain_of(plane(0.03, -0.04), structures=house).slope.values, 0.05)


def test_float32_ground_keeps_its_values():
    levels = make_terrain("bowl").values.astype(np.float32)
    terrain = terrain_of(levels)
    assert terrain.ground.values.dtype == np.float32
    assert np.array_equal(terrain.routed.values, levels.astype(np.float64))


# --- drainage -------------------------------------------------------------------------------


def test_on_a_plane_each_column_drains_by_itself():
    """The ground falls north: a cell drains its column down to the south edge."""
    terrain = terrain_of(plane(0.0, -0.1))
    rows = terrain.ground.shape[0]
    expected = (rows - np.arange(rows))[:, None] * np.ones(terrain.ground.shape)
    assert np.array_equal(terrain.accumulation_m2.values, expected)
    assert (terrain.direction.values[1:] == 2).all()
    assert terrain.depressions == ()


def test_cells_count_by_their_area():
    terrain = terrain_of(plane(0.0, -0.1), cell_m=(0.5, 2.0))
    rows = terrain.ground.shape[0]
    assert terrain.accumulation_m2.values[0, 0] == rows * 1.0
    assert np.nansum(terrain.accumulation_m2.values[0]) == 80.0 * 70.0


@pytest.mark.parametrize("surface", ["plane", "valley", "bowl"])
def test_what_leaves_is_what_there_is(surface):
    """All ground drains out exactly once."""
    terrain = terrain_of(surface)
    leaving = terrain.direction.values == drainage.OUTLET
    assert terrain.accumulation_m2.values[leaving].sum() == 80.0 * 70.0


def test_a_valley_gathers_its_sides():
    """All water of a V valley leaves at the lower end of its axis, but for the edge cells."""
    terrain = terrain_of(valley(axis_x=20.5, side=0.4, fall=0.02))
    assert value_at(terrain.accumulation_m2, 20.5, -19.5) > 0.9 * 80 * 70
    longest = max(terrain.flow_paths, key=lambda path: path.line.length)
    xs = {x for x, _ in longest.line.coords}
    assert xs == {20.5}


def test_a_building_turns_the_flow_aside():
    """Flow straight north over the lot runs round a house and gathers at its sides."""
    house = [{"geometry": box(15, 10, 25, 14), "kind": "house"}]
    bare, built = terrain_of(plane(0.001, -0.1)), terrain_of(plane(0.001, -0.1), structures=house)
    start = (20.5, -10.5)
    straight = spill_path(bare, *start).line
    assert straight.intersects(house[0]["geometry"])
    around = spill_path(built, *start).line
    assert not around.intersects(box(15.1, 10.1, 24.9, 13.9))  # a corner may be touched
    assert built.routed.values.max() > bare.routed.values.max()


@pytest.mark.parametrize("kind", ["patio", "Deck", "walk"])
def test_flat_structures_turn_nothing(kind):
    site = [{"geometry": box(15, 10, 25, 14), "kind": kind}]
    bare, built = terrain_of(plane(0.0, -0.1)), terrain_of(plane(0.0, -0.1), structures=site)
    assert np.array_equal(bare.direction.values, built.direction.values)


def test_a_building_without_ground_levels_swallows_no_water():
    levels = np.array(make_terrain(plane(0.001, -0.1)).values)
    levels[36:40, 35:45] = np.nan
    house = [{"geometry": box(15, 10, 25, 14), "kind": "house"}]
    with_house, without = terrain_of(levels, structures=house), terrain_of(levels)
    assert spill_path(with_house, 20.5, -10.5).line.bounds[3] == 49.5
    assert not with_house.beyond_edge.values[35, 34:46].all()
    assert without.beyond_edge.values[35, 34:46].all()
    assert np.isnan(with_house.ground.values[37, 40])


def dam(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A valley that falls north, with a bank 3 m high across it."""
    ground = 100.0 - 0.05 * y + 0.3 * np.abs(x - 20.5)
    return np.where((y > 20) & (y < 23), ground + 3.0, ground)


@pytest.mark.parametrize("downstream", [True, False])
def test_a_culvert_lets_water_through_a_bank(downstream):
    """Drawn either way; without it water stands behind the bank."""
    ends = [(20.5, 18.5), (20.5, 24.5)]
    culvert = [{"geometry": LineString(ends if downstream else ends[::-1])}]
    held, through = terrain_of(dam), terrain_of(dam, culverts=culvert)
    assert max(pond.depth_m for pond in held.depressions) > 1.5
    assert not through.depressions
    path = spill_path(through, 20.5, -10.5).line
    assert {x for x, _ in path.coords} == {20.5}
    levels = [value_at(through.routed, x, y) for x, y in path.coords]
    assert (np.diff(levels) < 0).all()
    inlet, outlet = value_at(through.ground, 20.5, 18.5), value_at(through.ground, 20.5, 24.5)
    cut = [value_at(through.routed, 20.5, y) for y in np.arange(19.5, 24.0)]
    assert outlet < min(cut)
    assert max(cut) < inlet


def test_a_bent_culvert_in_two_parts_lets_water_through():
    parts = MultiLineString(
        [[(20.5, 18.5), (22.5, 20.5)], [(22.5, 20.5), (22.5, 22.5), (20.5, 24.5)]]
    )
    through = terrain_of(dam, culverts=[{"geometry": parts}])
    assert not through.depressions
    assert spill_path(through, 20.5, -10.5).line.bounds[3] == 49.5


def test_a_culvert_without_ground_at_an_end_is_left_out_and_said():
    off = [{"geometry": LineString([(20.5, 18.5), (20.5, 124.5)]), "id": "C7"}]
    terrain = terrain_of(dam, culverts=off)
    assert np.array_equal(terrain.routed.values, terrain_of(dam).routed.values)
    assert len(terrain.notes) == 1
    assert "C7" in terrain.notes[0]


def holed() -> np.ndarray:
    levels = np.array(make_terrain(plane(0.0, -0.1)).values)
    levels[40:44, 38:42] = np.nan
    return levels


@pytest.mark.parametrize(("holes", "north_m"), [("outlet", 5.5), ("wall", 49.5)])
def test_a_hole_swallows_water_or_turns_it_away(holes, north_m):
    terrain = analyse(make_site(holed()), TerrainParameters(holes=holes))
    assert spill_path(terrain, 20.5, -5.5).line.bounds[3] == north_m
    assert (terrain.direction.values == drainage.NO_DATA).sum() == 16


@pytest.mark.parametrize("holes", ["outlet", "wall"])
def test_below_a_hole_water_may_come_from_it(holes):
    terrain = analyse(make_site(holed()), TerrainParameters(holes=holes))
    below = catchment_of(terrain, box(19.2, 15.2, 20.8, 16.8), LOT, "basin")
    assert below.reaches_terrain_edge


# --- catchments -----------------------------------------------------------------------------


def test_a_catchment_on_a_plane_is_its_columns_up_to_the_edge():
    """Two cells wide, 15.5 to the south edge: an area of whole cells, and a lower bound."""
    site = make_site(plane(0.0, -0.1))
    found = catchment_of(analyse(site, DEFAULT), box(10.2, 10.2, 11.8, 14.8), site.parcel, "stream")
    assert found.area_m2 == found.geometry.area == 2 * 35.0
    assert found.geometry.equals(box(10, -20, 12, 15))
    assert found.outside_parcel_m2 == pytest.approx(2 * 20.0)
    assert found.reaches_terrain_edge
    assert found.work == "stream"


def test_a_catchment_inside_a_hilltop_does_not_reach_the_edge():
    def hill(x, y):
        return 100.0 - 0.002 * ((x - 20) ** 2 + (y - 15) ** 2)

    terrain = terrain_of(hill)
    inside = catchment_of(terrain, box(22.2, 12.2, 26.8, 17.8), LOT, "basin")
    assert not inside.reaches_terrain_edge
    assert not terrain.beyond_edge.values[20:50, 20:60].any()
    assert inside.area_m2 < 20 * 15


def test_a_catchment_off_the_data_is_empty():
    found = catchment_of(terrain_of(), box(500, 500, 510, 510), LOT, "basin")
    assert found.geometry.is_empty
    assert (found.area_m2, found.reaches_terrain_edge) == (0.0, False)


def test_a_line_work_has_no_gaps_for_water_to_slip_through():
    """Water that runs diagonally towards a slanting line is all caught."""
    terrain = terrain_of(plane(-0.1, -0.1))
    line = LineString([(0.5, 29.5), (29.5, 0.5)])
    found = catchment_of(terrain, line, LOT, "stream")
    for x, y in [(x, y) for x in np.arange(0.5, 12.0) for y in np.arange(0.5, 12.0)]:
        assert spill_path(terrain, x, y).line.crosses(line)
        assert found.geometry.covers(Point(x, y))


grounds = st.integers(0, 2**32 - 1).map(
    lambda seed: np.random.default_rng(seed).integers(0, 60, (24, 30)) / 8.0
)


@settings(max_examples=10, deadline=None)
@given(levels=grounds)
def test_catchments_conserve_cells_on_any_ground(levels):
    """The catchments of all outlets share out the ground; each area is its accumulation."""
    lot = box(0, 0, 30, 24)
    terrain = analyse(make_site(levels, lot=lot, margin_m=0.0), DEFAULT)
    total = 0.0
    x, y = terrain.ground.centres()
    for row, col in np.argwhere(terrain.direction.values == drainage.OUTLET)[:6]:
        found = catchment_of(terrain, Point(x[col], y[row]), lot, "outlet")
        assert found.area_m2 == terrain.accumulation_m2.values[row, col] == found.geometry.area
        assert found.reaches_terrain_edge
        total += found.area_m2
    assert total <= 24 * 30
    leaving = terrain.direction.values == drainage.OUTLET
    assert terrain.accumulation_m2.values[leaving].sum() == 24 * 30


# --- low places -----------------------------------------------------------------------------


def test_ter_20_a_box_with_a_notch_as_a_terrain():
    """TER-20: border 9 but for a notch at 7; interior 5, centre 2: 21 m3 to 7 m."""
    levels = np.full((5, 5), 9.0)
    levels[1:4, 1:4] = 5.0
    levels[2, 2], levels[2, 4] = 2.0, 7.0
    terrain = terrain_of(levels, lot=box(0, 0, 5, 5), margin_m=0.0)
    (pond,) = terrain.depressions
    assert (pond.spill_level_m, pond.depth_m, pond.volume_m3) == (7.0, 5.0, 21.0)
    assert pond.geometry.equals(box(1, 1, 4, 4))
    assert value_at(terrain.filled, 2.5, 2.5) == 7.0


def test_a_bowl_holds_what_its_paraboloid_holds():
    """Volume pi h^2 / (2 c) of z = c r^2 to depth h; cells sample it at their centres."""
    terrain = terrain_of("bowl", cell_m=0.5)
    (pond,) = terrain.depressions
    assert pond.volume_m3 == pytest.approx(math.pi * 1.0**2 / (2 * 0.01), rel=0.01)
    assert pond.depth_m == pytest.approx(1.0, abs=0.005)
    assert pond.spill_level_m == 100.0
    assert pond.geometry.area == pytest.approx(math.pi * 100.0, rel=0.03)


def test_shallow_and_far_low_places_are_left_out():
    def two_bowls(x, y):
        near = np.minimum(0.0, -0.04 + 0.01 * ((x - 20) ** 2 + (y - 15) ** 2))
        far = np.minimum(0.0, -1.0 + 0.01 * ((x - 200) ** 2 + (y - 15) ** 2))
        return 100.0 + near + far

    terrain = terrain_of(two_bowls, margin_m=200.0)
    assert terrain.depressions == ()
    shallow = TerrainParameters(least_depression_depth=0.01, surroundings=200.0)
    assert len(analyse(make_site(two_bowls, margin_m=200.0), shallow).depressions) == 2


# --- flow paths -----------------------------------------------------------------------------


def test_flow_paths_gather_downstream_within_the_surroundings():
    """On a valley's axis, from the threshold down to the edge of what is drawn."""
    parameters = TerrainParameters(flow_path_threshold=600.0, surroundings=0.0)
    site = make_site(valley(axis_x=20.5, side=0.2, fall=0.05))
    terrain = analyse(site, parameters)
    flow = terrain.accumulation_m2
    assert terrain.flow_paths
    ends = [path.line.coords[-1] for path in terrain.flow_paths]
    assert ends == [path.line.coords[-1] for path in analyse(site, parameters).flow_paths]
    for path in terrain.flow_paths:
        areas = [value_at(flow, x, y) for x, y in path.line.coords]
        assert (np.diff(areas) > 0).all()
        assert min(areas) >= 600.0
        assert path.accumulation_m2 in areas[-2:]
        assert site.parcel.buffer(0.01).covers(path.line)


def test_flow_paths_split_where_they_join_and_carry_their_own_area():
    """A Y: two arms of two cells, a stem that begins where they meet."""
    direction = np.full((5, 5), drainage.NO_DATA, dtype=np.uint8)
    direction[0, 0] = direction[1, 1] = 7
    direction[0, 4] = direction[1, 3] = 5
    direction[2, 2] = direction[3, 2] = 6
    direction[4, 2] = drainage.OUTLET
    cells = drainage.accumulate(direction, np.ones((5, 5)))
    grid = make_terrain(cells, bounds=(0, 0, 5, 5))
    found = flow_paths(direction, grid, np.ones((5, 5), dtype=bool), 1.0)
    assert [(path.accumulation_m2, list(path.line.coords)) for path in found] == [
        (2.0, [(0.5, 4.5), (1.5, 3.5), (2.5, 2.5)]),
        (2.0, [(4.5, 4.5), (3.5, 3.5), (2.5, 2.5)]),
        (7.0, [(2.5, 2.5), (2.5, 1.5), (2.5, 0.5)]),
    ]
    (stem,) = flow_paths(direction, grid, np.ones((5, 5), dtype=bool), 3.0)
    assert stem == found[2]


@settings(max_examples=12, deadline=None)
@given(levels=grounds)
def test_flow_paths_cover_each_step_between_wet_cells_once(levels):
    lot = box(0, 0, 30, 24)
    parameters = TerrainParameters(flow_path_threshold=12.0)
    terrain = analyse(make_site(levels, lot=lot, margin_m=0.0), parameters)
    wet = terrain.accumulation_m2.values >= 12.0
    steps = wet & (terrain.direction.values < drainage.OUTLET)  # area only grows downstream
    drawn = [
        step
        for path in terrain.flow_paths
        for step in zip(path.line.coords, path.line.coords[1:], strict=False)
    ]
    assert len(drawn) == len(set(drawn)) == int(steps.sum())
    for path in terrain.flow_paths:
        cells = [terrain.ground.cell_of(x, y) for x, y in path.line.coords]
        own = {float(terrain.accumulation_m2.values[cell]) for cell in cells[-2:]}
        assert path.accumulation_m2 in own


def test_a_spill_path_runs_from_the_point_to_the_edge():
    path = spill_path(terrain_of(plane(0.0, -0.1)), 20.3, 15.2)
    assert path.line.coords[0] == (20.3, 15.2)
    assert path.line.coords[-1] == (20.5, 49.5)
    assert path.accumulation_m2 == 70.0


def test_a_spill_path_leaves_a_bowl_over_its_rim():
    line = spill_path(terrain_of("bowl"), 20.5, 15.5).line
    assert not box(-18, -18, 58, 48).covers(Point(line.coords[-1]))


def test_a_spill_path_needs_ground_to_start_on():
    with pytest.raises(InputRefused, match="no terrain data"):
        spill_path(terrain_of(holed()), 20.0, 8.0)
    with pytest.raises(InputRefused, match="no terrain data"):
        spill_path(terrain_of(), 1000.0, 8.0)


def test_water_on_the_last_cell_leaves_at_once():
    path = spill_path(terrain_of(plane(0.0, -0.1)), 20.3, 49.7)
    assert path.line.is_empty
    assert path.accumulation_m2 == 70.0


# --- contours -------------------------------------------------------------------------------


def test_contours_of_a_plane_are_straight_and_where_they_should_be():
    """z = 100 - 0.1 y: level 99 at y = 10, from side to side of the lot."""
    found = contours(terrain_of(plane(0.0, -0.1)), LOT, 0.5)
    assert [line.level_m for line in found] == [97.0, 97.5, 98.0, 98.5, 99.0, 99.5, 100.0]
    for line in found:
        y = np.array(line.line.coords)[:, 1]
        assert np.allclose(y, (100.0 - line.level_m) / 0.1, atol=1e-6)
        assert line.line.length == pytest.approx(40.0)
    assert [line.level_m for line in found if line.is_index] == [97.5, 100.0]


def test_contours_of_a_bowl_are_rings():
    found = contours(terrain_of("bowl", cell_m=0.25), LOT, 0.25, index_every=2)
    assert [line.level_m for line in found] == [99.25, 99.5, 99.75]
    assert [line.is_index for line in found] == [False, True, False]
    for line in found:
        radius_m = math.sqrt((line.level_m - 99.0) / 0.01)
        assert line.line.is_ring
        assert line.line.length == pytest.approx(2 * math.pi * radius_m, rel=2e-3)


def test_no_contour_crosses_a_hole():
    found = contours(terrain_of(holed()), LOT, 0.25)
    hole = box(18, 6, 22, 10).buffer(0.49)  # up to the centres of the cells round it
    assert found
    assert not any(line.line.intersects(hole) for line in found)


def test_contours_far_from_the_data_are_none():
    terrain = terrain_of()
    assert contours(terrain, box(500, 500, 510, 510), 0.5) == ()
    assert contours(terrain_of(np.full((70, 80), np.nan)), LOT, 0.5) == ()
    with pytest.raises(ValueError, match="interval"):
        contours(terrain, LOT, 0.0)


def test_levels_are_clean_multiples():
    found = contours(terrain_of(plane(0.0, -0.1)), LOT, 0.1)
    assert 99.3 in [line.level_m for line in found]


# --- the same ground elsewhere --------------------------------------------------------------


def test_a_site_moved_as_a_whole_has_the_same_water():
    house = [{"geometry": box(15, 10, 25, 14), "kind": "house"}]
    here = terrain_of("valley", structures=house)
    there = terrain_of("valley", structures=house, origin=ORIGIN)
    assert np.array_equal(here.direction.values, there.direction.values)
    assert np.array_equal(here.accumulation_m2.values, there.accumulation_m2.values)
    moved = [shapely.affinity.translate(path.line, *ORIGIN) for path in here.flow_paths]
    assert [line.wkb for line in moved] == [path.line.wkb for path in there.flow_paths]


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_a_quarter_turn_turns_water_with_it(seed):
    """On ground without equal levels nothing depends on which way north is."""
    levels = np.random.default_rng(seed).permutation(24 * 24).reshape(24, 24) / 16.0
    # Slopes are equal only when drops are: exact ties on whole numbers go by compass order.
    levels = levels + np.random.default_rng(seed + 1).uniform(0.0, 0.01, levels.shape)
    lot = box(0, 0, 24, 24)
    here = analyse(make_site(levels, lot=lot, margin_m=0.0), DEFAULT)
    turned = analyse(make_site(np.rot90(levels).copy(), lot=lot, margin_m=0.0), DEFAULT)
    assert np.array_equal(np.rot90(here.filled.values), turned.filled.values)
    assert np.allclose(np.rot90(here.slope.values), turned.slope.values)
    volumes = sorted(pond.volume_m3 for pond in here.depressions)
    assert np.allclose(volumes, sorted(pond.volume_m3 for pond in turned.depressions))
    ridge = ~(here.filled.values > here.routed.values)
    dry = here.direction.values[ridge] == drainage.OUTLET
    also = turned.direction.values[np.rot90(ridge)] == drainage.OUTLET
    assert dry.sum() == also.sum()


def test_a_quarter_turn_of_a_valley():
    levels = np.array(make_terrain(valley(20.5, 0.31, 0.05), bounds=(-20, -20, 61, 61)).values)
    square = box(-20, -20, 61, 61)
    here = terrain_of(levels, lot=square, margin_m=0.0)
    there = terrain_of(np.rot90(levels).copy(), lot=square, margin_m=0.0)
    assert np.allclose(np.rot90(here.accumulation_m2.values), there.accumulation_m2.values)


def test_ground_without_any_data_gives_no_water_and_raises_nothing():
    terrain = terrain_of(np.full((70, 80), np.nan))
    assert (terrain.depressions, terrain.flow_paths) == ((), ())
    assert np.isnan(terrain.accumulation_m2.values).all()


def test_the_same_ground_gives_the_same_bytes_and_is_not_changed():
    site = make_site("bowl", structures=[{"geometry": box(2, 2, 8, 8), "kind": "shed"}])
    before = site.terrain.values.copy()
    first, again = analyse(site, DEFAULT), analyse(site, DEFAULT)
    assert np.array_equal(site.terrain.values, before)
    for name in ("filled", "accumulation_m2", "direction"):
        assert getattr(first, name).values.tobytes() == getattr(again, name).values.tobytes()
    assert first.ground.crs == METRIC
