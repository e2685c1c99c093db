"""Layout: one stream per basin, on ground of known shape."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import pi
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import Surface, make_site, plane
from shapely.affinity import rotate, translate
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from geo_site.bed_levels import FALL, POOL
from geo_site.constraints import Ground, HandDigStrip
from geo_site.errors import SettingRefused
from geo_site.layout import Layout, LayoutParameters, NoStream, lay_out
from geo_site.layout.alignment import Alignment
from geo_site.layout.place import place_of
from geo_site.layout.profile import Profile
from geo_site.layout.sections import berm_end_m3, berm_volume_m3, cut_areas, fill_areas
from geo_site.layout.shapes import pools_of
from geo_site.parameters import read_table
from geo_site.raster import Raster, as_multipolygon
from geo_site.siting import Arrangement, Placement

P = LayoutParameters()
LOT = box(0.0, 0.0, 60.0, 60.0)
AT = (30.0, 22.0)
SIZE = (3.2, 1.8)
DUG_M = 1.5  # how far the made-up excavation reaches beyond the footprint


def basin(levels: Raster, at: tuple[float, float] = AT, rotation_deg: float = 0.0) -> Placement:
    x, y = at
    half_x, half_y = SIZE[0] / 2.0, SIZE[1] / 2.0
    footprint = rotate(box(x - half_x, y - half_y, x + half_x, y + half_y), rotation_deg)
    outline = shapely.get_coordinates(footprint.segmentize(0.093).exterior)  # no side's divisor
    rim_m = float(np.min(levels.sample(outline)))
    return Placement(
        x=x,
        y=y,
        rotation_deg=rotation_deg,
        arrangement=Arrangement(rows=3, columns=4, length_m=SIZE[0], width_m=SIZE[1]),
        footprint=footprint,
        pit_floor=footprint.buffer(0.3, join_style="mitre"),
        excavation=footprint.buffer(DUG_M, join_style="mitre"),
        rim_level_m=rim_m,
        floor_level_m=rim_m - 0.7,
        greatest_depth_m=0.9,
        score=0.0,
        marks={},
    )


def ground(free: BaseGeometry, hand_dig: Sequence[Polygon] = ()) -> Ground:
    strips = tuple(
        HandDigStrip(utility_id=f"u{i}", kind="gas", half_width_m=0.5, geometry=MultiPolygon([g]))
        for i, g in enumerate(hand_dig)
    )
    area = as_multipolygon(free)
    closed = shapely.union_all(hand_dig)
    return Ground(
        work="stream",
        pieces=(),
        blocked=as_multipolygon(LOT.difference(free)),
        hand_dig=strips,
        open=as_multipolygon(area.difference(closed)),
        free=area,
    )


def run(
    surface: Surface,
    *,
    free: BaseGeometry = LOT,
    hand_dig: Sequence[Polygon] = (),
    parameters: LayoutParameters = P,
) -> Layout | NoStream:
    site = make_site(surface, lot=LOT)
    terrain = cast("Any", SimpleNamespace(ground=site.terrain))
    return lay_out(site, terrain, ground(free, hand_dig), basin(site.terrain), parameters)


def stream(surface: Surface, **given: Any) -> Layout:
    found = run(surface, **given)
    assert isinstance(found, Layout), found
    return found


def wavy(seed: int, slope: float) -> Surface:
    """A plane that rises north with smooth bumps: nothing on it ties."""
    rng = np.random.default_rng(seed)
    waves = rng.uniform(0.1, 0.6, (4, 2)), rng.uniform(0.0, 6.0, 4), rng.uniform(0.02, 0.08, 4)

    def levels(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        bumps = sum(
            a * np.sin(k[0] * x + k[1] * y + phase) for k, phase, a in zip(*waves, strict=True)
        )
        return 100.0 + slope * y + np.asarray(bumps)

    return levels


def check(found: Layout, free: BaseGeometry = LOT, parameters: LayoutParameters = P) -> None:
    """What holds for each stream, whatever the ground."""
    p = parameters
    xyz = shapely.get_coordinates(found.alignment, include_z=True)
    assert np.array_equal(xyz[:, 2], found.bed_m)
    assert np.all(np.diff(found.bed_m) <= 0.0)
    assert found.fall_m == found.bed_m[0] - found.bed_m[-1]
    assert found.lip_level_m == found.bed_m[0]
    assert p.least_fall - 1e-9 <= found.fall_m <= p.greatest_fall + 1e-9
    assert p.least_length <= found.length_m <= p.greatest_length
    assert found.length_m == pytest.approx(found.alignment.length, abs=1e-9)
    assert found.sinuosity >= 1.0
    assert found.alignment.is_simple
    check_reaches(found, p)
    check_falls(found, p)
    check_areas(found, free)


def check_reaches(found: Layout, p: LayoutParameters) -> None:
    reaches = found.reaches
    assert [r.sequence for r in reaches] == list(range(1, len(reaches) + 1))
    assert reaches[0].from_m == 0.0
    assert reaches[-1].to_m == found.stations_m[-1]
    for above, below in pairwise(reaches):
        assert above.to_m == below.from_m
        assert above.line.coords[-1] == below.line.coords[0]
    for r in reaches:
        z = shapely.get_coordinates(r.line, include_z=True)[:, 2]
        assert r.sill_level_m == z[0]
        steepest = np.max(-np.diff(z) / np.diff(found.stations_m)[: len(z) - 1].min())
        if r.kind == "pool":
            assert np.ptp(z) == 0.0
            assert r.to_m - r.from_m >= p.least_pool_length - 1e-9
        if r.kind == "riffle":
            assert steepest <= p.steepest_riffle + 1e-9
    steps = [r.kind for r in reaches for _ in range(len(r.line.coords) - 1)]
    assert found.kinds.tolist() == [*steps, steps[-1]]


def check_falls(found: Layout, p: LayoutParameters) -> None:
    reaches = found.reaches
    for r, below in zip(reaches, [*reaches[1:], None], strict=True):
        if r.kind == "fall":
            assert below is None or below.kind == "pool"
    for fall in found.falls:
        assert p.least_fall_height - 1e-9 <= fall.height_m <= p.greatest_fall_height + 1e-9
        assert found.alignment.distance(Point(fall.x, fall.y)) < 1e-9
    riffles_m = sum(
        r.line.coords[0][2] - r.line.coords[-1][2] for r in reaches if r.kind == "riffle"
    )
    assert sum(f.height_m for f in found.falls) + riffles_m == pytest.approx(found.fall_m, abs=1e-9)
    assert len(found.falls) == sum(r.kind == "fall" for r in reaches)
    assert len(found.pools) == sum(r.kind == "pool" for r in reaches)


def check_areas(found: Layout, free: BaseGeometry) -> None:
    for area in (found.bed, found.dig, found.berm or Polygon()):
        assert area.is_valid
        assert area.difference(free).area < 1e-9
    assert found.dig.buffer(1e-6).covers(found.bed)
    for i, pool in enumerate(found.pools):
        assert pool.geometry.is_valid
        assert not pool.geometry.is_empty
        assert found.bed.buffer(1e-6).covers(pool.geometry)
        assert P.least_pool_depth <= pool.depth_m <= P.greatest_pool_depth
        for other in found.pools[:i]:
            assert pool.geometry.intersection(other.geometry).area < 1e-9
    assert (found.berm is None) == (found.berm_m3 == 0.0)
    pipe = shapely.get_coordinates(found.pipe)
    assert np.hypot(*np.diff(pipe, axis=0).T).max() <= 1.0 + 1e-9
    assert tuple(pipe[-1]) == found.alignment.coords[0][:2]


@pytest.mark.parametrize("slope", [0.05, 0.06, 0.08, 0.1, 0.15, 0.2, 0.3])
def test_a_plane_gives_the_fall_wanted(slope: float) -> None:
    found = stream(plane(0.0, slope))
    check(found)
    assert found.fall_m == pytest.approx(P.wanted_fall, abs=P.level_step)
    lip_x, lip_y = found.alignment.coords[0][:2]
    rim_m = 100.0 + slope * (AT[1] - SIZE[1] / 2.0)
    assert found.ground_fall_m == pytest.approx(100.0 + slope * lip_y - rim_m, abs=1e-9)
    assert found.bed_m[-1] == pytest.approx(rim_m + P.entry_height, abs=1e-9)
    assert np.allclose(found.ground_m, 100.0 + slope * np.array(found.alignment.coords)[:, 1])
    assert lip_x == found.falls[0].x or found.falls[0].station_m > 0.0


@pytest.mark.parametrize("slope", [0.04, 0.06, 0.1, 0.15, 0.2, 0.25, 0.3])
def test_steps_are_as_steep_as_natural_ones(slope: float) -> None:
    """Abrahams, Li and Atkinson (1995): (H / L) / S between 1 and 2."""
    found = stream(plane(0.0, slope))
    assert 1.0 <= found.step_ratio <= 2.0
    below = {pool.from_m: pool.depth_m for pool in found.pools}
    foot_m = [
        found.stations_m[np.searchsorted(found.stations_m, f.station_m) + 1] for f in found.falls
    ]
    steps = [f.height_m + below.get(at, 0.0) for f, at in zip(found.falls, foot_m, strict=True)]
    ratio = np.mean(steps) / (found.length_m / len(steps)) / (found.fall_m / found.length_m)
    assert found.step_ratio == pytest.approx(ratio)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), slope=st.floats(0.0, 0.35))
def test_what_always_holds(seed: int, slope: float) -> None:
    found = run(wavy(seed, slope))
    if isinstance(found, Layout):
        check(found)
    else:
        assert found.reason


def test_most_made_up_ground_gets_a_stream() -> None:
    """So that the property test above is no empty one."""
    found = [run(wavy(seed, 0.02 * seed)) for seed in range(1, 16, 2)]
    assert sum(isinstance(one, Layout) for one in found) == 8


def test_the_stream_meets_the_basin_at_its_end_only() -> None:
    for slope in (0.05, 0.1, 0.25):
        found = stream(plane(0.0, slope))
        footprint = basin(make_site(plane(0.0, slope), lot=LOT).terrain).footprint
        assert footprint.contains(Point(found.alignment.coords[-1]))
        inside_m = found.alignment.intersection(footprint).length
        assert P.entry_length - 1e-6 <= inside_m <= 2.0 * P.entry_length
        outside = found.alignment.difference(footprint)
        assert isinstance(outside, LineString)
        assert outside.coords[0] == found.alignment.coords[0]
        edge_m = found.length_m - inside_m
        assert all(pool.to_m <= edge_m + 1e-9 for pool in found.pools)


def test_a_wall_in_the_way_is_gone_round() -> None:
    straight = stream(plane(0.0, 0.1))
    wall = straight.bed.centroid.buffer(0.3).envelope.buffer(1.5, cap_style="square")
    free = LOT.difference(wall)
    found = stream(plane(0.0, 0.1), free=free)
    check(found, free)
    assert not found.bed.intersects(wall.buffer(-1e-9))
    assert straight.bed.intersects(wall.buffer(-1e-9))


def test_a_wall_all_round_leaves_no_stream() -> None:
    ring = Point(AT).buffer(4.0).difference(Point(AT).buffer(3.5))
    found = run(plane(0.0, 0.1), free=LOT.difference(ring))
    assert isinstance(found, NoStream)
    assert "least_length" in found.reason


def test_a_gap_too_narrow_for_the_bed_is_not_used() -> None:
    wall = box(0.0, 24.0, 60.0, 25.0)
    closed = LOT.difference(wall).difference(box(0, 0, 60, 18)).difference(box(0, 0, 24, 60))
    closed = closed.difference(box(36, 0, 60, 60))
    narrow = closed.union(box(29.6, 23.9, 30.4, 25.1))
    wide = closed.union(box(29.0, 23.9, 31.0, 25.1))
    short = P.model_copy(update={"least_length": 5.5})
    through = stream(plane(0.0, 0.12), free=wide, parameters=short)
    check(through, wide, short)
    assert through.alignment.intersects(wall)
    found = run(plane(0.0, 0.12), free=narrow, parameters=short)
    assert isinstance(found, NoStream) or not found.alignment.intersects(wall)


def grid_in(area: Polygon, cell_m: float) -> Iterator[tuple[float, float]]:
    west, south, east, north = area.bounds
    for x in np.arange(west, east, cell_m):
        for y in np.arange(south, north, cell_m):
            if area.covers(Point(x, y)):
                yield float(x), float(y)


def test_hand_dig_ground_is_dear_and_its_length_told() -> None:
    strip = box(0.0, 26.0, 60.0, 27.0)
    across = stream(plane(0.0, 0.06), hand_dig=[strip])
    check(across)
    line = shapely.force_2d(across.alignment)
    dug_by_hand = across.dig.intersection(strip)
    points = shapely.points(np.array(list(grid_in(dug_by_hand, 0.02))))
    along = np.unique(np.round(shapely.line_locate_point(line, points) / 0.02))
    assert across.hand_dig_m == pytest.approx(0.02 * len(along), abs=0.06)
    assert across.hand_dig_m >= 1.0 - 1e-6
    assert stream(plane(0.0, 0.06)).hand_dig_m == 0.0


def test_a_short_way_round_hand_dig_ground_is_taken() -> None:
    straight = stream(plane(0.0, 0.1))
    patch = straight.bed.centroid.buffer(0.7)
    found = stream(plane(0.0, 0.1), hand_dig=[patch])
    assert straight.bed.intersects(patch)
    assert found.hand_dig_m == 0.0
    assert not found.bed.intersects(patch.buffer(-0.01))


def test_in_a_lane_the_sides_of_the_cut_stay_free() -> None:
    """A bump cut 0.2 m deep where there is room is not cut where the sides would leave it."""

    def bumpy(high_m: float) -> Surface:
        return lambda x, y: 100.0 + 0.08 * y + high_m * np.exp(-((y - 25.0) ** 2)) + 0.0 * x

    lane = box(29.15, 10.0, 30.35, 50.0)  # 0.6 m each side of a column of cells
    room = lane.union(box(27.0, 19.0, 33.0, 23.0))
    tight = P.model_copy(update={"side_room": 0.0})
    check(stream(bumpy(0.3), free=room, parameters=tight), room, tight)
    check(stream(bumpy(0.6), free=room.buffer(2.0), parameters=tight), room.buffer(2.0), tight)
    closed = run(bumpy(0.6), free=room, parameters=tight)
    assert isinstance(closed, NoStream)
    assert "room beside it" in closed.reason


def hairpin() -> Alignment:
    """Turns back on itself at a radius of 0.3 m, less than half the bed's width."""
    angles = np.linspace(0.0, pi, 9)
    bend = np.column_stack([0.3 * np.cos(angles), 0.3 * np.sin(angles)])
    down = np.column_stack([np.full(12, 0.3), np.arange(-3.0, 0.0, 0.25)])
    up = down[::-1] * [-1.0, 1.0]
    xy = np.vstack([down, bend, up]) + np.array(AT)
    steps = np.hypot(*np.diff(xy, axis=0).T)
    n = len(xy)
    return Alignment(
        xy=xy,
        stations_m=np.concatenate([[0.0], np.cumsum(steps)]),
        ground_m=np.full(n, 100.0),
        in_pit=np.zeros(n, dtype=bool),
        pool_end=n - 2,
        room_m=np.full(n, 9.0),
        hand_dig_m=0.0,
    )


def test_pools_keep_apart_even_in_a_hairpin() -> None:
    alignment = hairpin()
    steps = len(alignment.xy) - 1
    kinds = np.full(steps, POOL)
    kinds[15] = FALL
    bed_m = np.where(np.arange(steps + 1) <= 15, 100.4, 100.0)
    profile = Profile(bed_m=bed_m, kinds=kinds, cost=0.0, hollow_m=0.2, step_ratio=1.5)
    place = place_of(
        (MultiPolygon([LOT]), make_site(plane(), lot=LOT).terrain),
        ground(LOT),
        basin(make_site(plane(), lot=LOT).terrain),
        P,
    )
    first, second = pools_of(alignment, profile, place, P)
    assert first.geometry.intersection(second.geometry).area < 1e-9
    assert first.geometry.area > 1.0
    assert second.geometry.area > 1.0


def test_flat_ground_needs_a_berm() -> None:
    found = stream(plane(0.0, 0.0), parameters=P.model_copy(update={"wanted_fall": 0.5}))
    check(found)
    assert found.fall_m == pytest.approx(0.5, abs=P.level_step)
    assert found.ground_fall_m == pytest.approx(0.0, abs=1e-9)
    assert found.berm is not None
    assert found.berm_height_m == pytest.approx(found.fall_m + P.entry_height)
    assert found.berm.covers(Point(found.alignment.coords[0]))


def test_the_berm_keeps_within_its_limit_and_no_stream_says_why() -> None:
    low = P.model_copy(update={"berm_limit": 0.2})
    found = run(plane(0.0, 0.0), parameters=low)
    assert isinstance(found, NoStream)
    assert "berm_limit" in found.reason
    enough = P.model_copy(update={"berm_limit": 0.4, "least_fall": 0.3})
    berm = stream(plane(0.0, 0.0), parameters=enough)
    assert berm.berm_height_m <= 0.4 + 1e-9
    assert berm.fall_m == pytest.approx(0.34, abs=P.level_step)  # 0.4 less the entry's 0.05


def test_ground_that_falls_away_all_round_gives_no_stream() -> None:
    def cone(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 100.0 - 0.2 * np.hypot(x - AT[0], y - AT[1])

    found = run(cone)
    assert isinstance(found, NoStream)
    assert "least_fall" in found.reason


def test_ground_too_steep_all_round_names_the_limit() -> None:
    def pit(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 100.0 + 1.5 * np.maximum(np.hypot(x - AT[0], y - AT[1]) - 2.0, 0.0)

    found = run(pit)
    assert isinstance(found, NoStream)
    assert "cut_limit" in found.reason or "greatest_fall" in found.reason


def test_no_free_ground_at_the_basin() -> None:
    found = run(plane(0.0, 0.1), free=box(0.0, 40.0, 60.0, 60.0))
    assert isinstance(found, NoStream)
    assert "bed" in found.reason


def test_a_hole_in_the_terrain_is_not_entered() -> None:
    def holed(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.where(np.hypot(x - 30.0, y - 27.0) < 2.0, np.nan, 100.0 + 0.1 * y)

    found = stream(holed)
    assert np.all(np.isfinite(found.ground_m))


# ---- volumes


def section(above_m: float) -> tuple[float, float]:
    """Cut and berm of one cross-section, drawn with polygons: ground at 0."""
    soil, air = box(-50.0, -50.0, 50.0, 0.0), box(-50.0, 0.0, 50.0, 50.0)
    base, half = above_m - P.bed_thickness, P.bed_width / 2.0
    flare = half + P.cut_side * 20.0
    dug = Polygon([(-half, base), (half, base), (flare, base + 20.0), (-flare, base + 20.0)])
    crown = half + P.berm_shoulder
    foot = crown + P.berm_side * 20.0
    heap = Polygon(
        [(-crown, above_m), (crown, above_m), (foot, above_m - 20.0), (-foot, above_m - 20.0)]
    )
    body = box(-half, base, half, above_m)
    return dug.intersection(soil).area, heap.intersection(air).difference(body).area


@given(st.floats(-1.0, 1.0))
def test_sections_against_drawn_polygons(above_m: float) -> None:
    cut_m2, fill_m2 = section(above_m)
    assert float(cut_areas(np.array(above_m), P)) == pytest.approx(cut_m2, abs=1e-9)
    assert float(fill_areas(np.array(above_m), P)) == pytest.approx(fill_m2, abs=1e-9)


def test_a_level_berm_in_closed_form() -> None:
    h, length = 0.4, 8.0
    above = np.full(33, h)
    whole = berm_volume_m3(above, np.linspace(0.0, length, 33), P)
    prism = (h * (1.5 + 2.0 * h) - 0.9 * 0.15) * length
    end = 1.5 * 2.0 * h**2 / 2.0 + pi * 4.0 * h**3 / 6.0
    assert whole == pytest.approx(prism + end, rel=1e-12)


def test_a_rising_berm_in_closed_form() -> None:
    """Height h from 0 to H over L, no bed body: w H L / 2 + s H^2 L / 3."""
    bare = P.model_copy(update={"bed_thickness": 0.0})
    s = np.linspace(0.0, 8.0, 4001)
    h = 0.5 * (1.0 - s / 8.0)
    expected = 1.5 * 0.5 * 8.0 / 2.0 + 2.0 * 0.25 * 8.0 / 3.0 + berm_end_m3(0.5, bare)
    assert berm_volume_m3(h, s, bare) == pytest.approx(expected, rel=1e-6)


def test_the_slope_behind_the_lip_against_a_height_field() -> None:
    h, cell = 0.5, 0.01
    x, y = np.meshgrid(np.arange(-2.0, 0.0, cell) + cell / 2, np.arange(-2.0, 2.0, cell) + cell / 2)
    to_crown = np.hypot(x, np.maximum(np.abs(y) - 0.75, 0.0))
    volume = float(np.sum(np.maximum(h - to_crown / P.berm_side, 0.0))) * cell**2
    assert berm_end_m3(h, P) == pytest.approx(volume, rel=1e-3)


def test_berm_and_cut_of_a_stream_on_a_plane() -> None:
    """From the plane's own equation, the profile and drawn sections, outside the excavation."""
    found = stream(plane(0.0, 0.06))
    site = make_site(plane(0.0, 0.06), lot=LOT)
    pit = basin(site.terrain).excavation
    xyz = np.array(found.alignment.coords)
    above = xyz[:, 2] - (100.0 + 0.06 * xyz[:, 1])
    outside = ~shapely.covers(pit, shapely.points(xyz[:, :2]))
    both = np.array([section(h) for h in above]) * outside[:, np.newaxis]
    cut_m3, fill_m3 = np.trapezoid(both, found.stations_m, axis=0)
    end_m3 = berm_end_m3(above[0], P)
    assert found.berm_m3 == pytest.approx(fill_m3 + end_m3, abs=1e-6)
    hollows = [
        pi
        / 4.0
        * pool.depth_m
        * pool.geometry.area
        * np.mean(outside[(found.stations_m >= pool.from_m) & (found.stations_m <= pool.to_m)])
        for pool in found.pools
    ]
    assert np.max(above) < P.bed_thickness  # every hollow is in the ground here
    assert found.stream_cut_m3 == pytest.approx(cut_m3 + sum(hollows), abs=1e-6)


# ---- the pipe


def test_the_pipe_lies_beside_the_bed_at_its_depth() -> None:
    found = stream(plane(0.0, 0.1))
    assert not found.pipe_under_bed
    xyz = np.array(found.pipe.coords)
    middle = LineString(xyz[1:-1, :2]).interpolate(0.5, normalized=True)
    away_m = P.bed_width / 2.0 + P.pipe_offset
    assert middle.distance(found.alignment) == pytest.approx(away_m, abs=0.02)
    corners = shapely.get_coordinates(basin(make_site(plane(0, 0.1), lot=LOT).terrain).footprint)
    assert min(np.hypot(*(corners - xyz[0, :2]).T)) < 1e-9
    assert np.all(xyz[:, 2] <= 100.0 + 0.1 * xyz[:, 1] - P.pipe_cover + 1e-9)
    assert xyz[-1, 2] <= found.lip_level_m - P.pipe_cover + 1e-9


def test_without_room_beside_it_the_pipe_lies_under_the_bed_and_says_so() -> None:
    lane = box(28.85, 10.0, 30.65, 50.0)  # 0.9 m each side of a column of cells
    room = lane.union(box(27.0, 19.0, 33.0, 24.0))
    found = stream(plane(0.0, 0.1), free=room)
    check(found, room)
    assert found.pipe_under_bed
    xyz = np.array(found.pipe.coords)
    on_bed = xyz[2:]
    under_m = [
        np.interp(found.alignment.project(Point(v[:2])), found.stations_m, found.bed_m) - v[2]
        for v in on_bed
    ]
    least_m = P.bed_thickness + found.pools[0].depth_m + P.pipe_cover
    assert min(under_m) >= least_m - 1e-9


# ---- no direction, place or order is preferred


def moved(found: Layout, dx: float, dy: float) -> np.ndarray:
    return np.array(found.alignment.coords) + np.array([dx, dy, 0.0])


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_site_moved_as_a_whole_gets_the_same_stream(seed: int) -> None:
    here = make_site(wavy(seed, 0.08), lot=LOT)
    dx, dy = 500_000.0, 4_000_000.0
    there = make_site(wavy(seed, 0.08), lot=LOT, origin=(dx, dy))
    first = lay_out(here, terrain_of(here), ground(LOT), basin(here.terrain), P)
    place = basin(there.terrain, (AT[0] + dx, AT[1] + dy))
    second = lay_out(there, terrain_of(there), ground(translate(LOT, dx, dy)), place, P)
    assert isinstance(first, Layout)
    assert isinstance(second, Layout)
    assert np.allclose(moved(first, dx, dy), np.array(second.alignment.coords), atol=1e-5)
    assert second.stream_cut_m3 == pytest.approx(first.stream_cut_m3, rel=1e-4)


def terrain_of(site: Any) -> Any:
    return SimpleNamespace(ground=site.terrain)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_site_turned_by_a_right_angle_gets_the_same_stream(seed: int) -> None:
    here = make_site(wavy(seed, 0.08), lot=LOT)
    first = lay_out(here, terrain_of(here), ground(LOT), basin(here.terrain), P)
    turned = Raster(np.rot90(here.terrain.values), here.terrain.transform, here.crs)
    there = make_site(turned, lot=LOT)
    # x, y about the lot's middle (30, 30) turn counter-clockwise
    place = basin(turned, (60.0 - AT[1], AT[0]), 90.0)
    second = lay_out(there, terrain_of(there), ground(LOT), place, P)
    assert isinstance(first, Layout)
    assert isinstance(second, Layout)
    xyz = np.array(first.alignment.coords)
    expected = np.column_stack([60.0 - xyz[:, 1], xyz[:, 0], xyz[:, 2]])
    assert np.allclose(expected, np.array(second.alignment.coords), atol=1e-6)


def test_the_same_again_is_the_same_to_the_last_bit() -> None:
    first, second = (stream(wavy(5, 0.07)) for _ in range(2))
    assert shapely.to_wkb(first.alignment) == shapely.to_wkb(second.alignment)
    assert shapely.to_wkb(first.pipe) == shapely.to_wkb(second.pipe)
    assert [f.height_m for f in first.falls] == [f.height_m for f in second.falls]


# ---- settings


def test_settings_have_to_be_in_order() -> None:
    with pytest.raises(SettingRefused, match="least_length is greater than greatest_length"):
        read_table(LayoutParameters, {"least_length": "70 ft"}, table="layout")


def test_a_higher_wish_gives_more_fall() -> None:
    falls = [
        stream(plane(0.0, 0.1), parameters=P.model_copy(update={"wanted_fall": wish})).fall_m
        for wish in (0.5, 0.9, 1.3)
    ]
    assert falls == pytest.approx([0.5, 0.9, 1.3], abs=P.level_step)


def test_a_line_through_nothing_free_is_never_given() -> None:
    """Random blocked patches: the dug ground never touches one."""
    rng = np.random.default_rng(11)
    streams = 0
    for _ in range(10):
        spots = rng.uniform(10.0, 50.0, (60, 2))
        near = np.hypot(*(spots - AT).T) > 3.5
        patches = shapely.union_all(shapely.buffer(shapely.points(spots[near]), 0.6))
        free = LOT.difference(patches)
        found = run(plane(0.02, 0.09), free=free)
        if isinstance(found, Layout):
            streams += 1
            check(found, free)
            trench = found.pipe.buffer(P.pipe_trench_width / 2.0, cap_style="flat")
            assert found.pipe_under_bed or trench.difference(free).area < 1e-9
    assert streams >= 6
