"""What every object asks for, and the ground that is left: closed forms and hard properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import ORIGIN, make_site, plane
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from geo_site.constraints import (
    CONSTRAINTS,
    ConstraintParameters,
    Ground,
    Requirement,
    find_ground,
    requirements,
)
from geo_site.constraints.zones import keep_off
from geo_site.errors import SettingRefused
from geo_site.parameters import describe, read_table
from geo_site.site import UTILITY_KINDS, Site
from geo_site.terrain import TerrainParameters, analyse

WORKS = ("basin", "stream", "pipe", "pile", "machine", "fence")
INCH = 0.0254
FLAT = plane(0.0, 0.01)
ACROSS = LineString([(-30.0, 15.0), (70.0, 15.0)])


def read(**table: object) -> ConstraintParameters:
    return read_table(ConstraintParameters, table, table="constraints")


def known_zone(width_m: float, **table: object) -> ConstraintParameters:
    return read(tolerance_zone={"width": width_m, "source": "for this test"}, **table)


def rows_of(site: Site, reason: str, work: str = "basin", **more: object) -> list[Requirement]:
    parameters = more.get("parameters", ConstraintParameters())
    rows = requirements(site, parameters, work, float(more.get("depth_m", 1.0)))
    return [row for row in rows if row.reason == reason]


def ground_of(site: Site, work: str = "basin", *, opened: bool = False, **more: object) -> Ground:
    parameters = more.get("parameters", ConstraintParameters())
    return find_ground(
        site,
        analyse(site, TerrainParameters()),
        parameters,
        work=work,
        excavation_depth_m=float(more.get("depth_m", 1.0)),
        open_hand_dig=opened,
    )


def line_row(work: str = "basin", parameters: ConstraintParameters | None = None, **line: object):
    site = make_site(FLAT, utilities=[{"geometry": ACROSS, **line}])
    (row,) = rows_of(site, "utility", work, parameters=parameters or ConstraintParameters())
    return row


# --- settings -------------------------------------------------------------------------------


def test_a_tolerance_zone_without_its_source_is_refused():
    with pytest.raises(SettingRefused, match="source"):
        read(tolerance_zone={"width": 0.61})
    with pytest.raises(SettingRefused, match="source"):
        read(tolerance_zone={"width": "18 in", "source": "  "})
    assert read(tolerance_zone={"width": "18 in", "source": "statute"}).tolerance_zone.width == (
        pytest.approx(18 * INCH)
    )


@pytest.mark.parametrize("key", ["basin_setback", "utility_bufer"])
def test_an_unknown_setting_is_refused(key):
    with pytest.raises(SettingRefused, match=key):
        read(**{key: 1.0})


def test_every_setting_has_unit_meaning_and_source():
    rows = list(describe(ConstraintParameters(), "constraints"))
    rows += list(describe(TerrainParameters(), "terrain"))
    assert all(row.unit and row.meaning and row.source for row in rows)
    assert all(row.is_default for row in rows)


# --- buried lines ---------------------------------------------------------------------------


def exact(kind: str, diameter_m: float, zone_m: float) -> Requirement:
    """A row with nothing but half the diameter and the zone in it."""
    none = dict.fromkeys(UTILITY_KINDS[:-1], 0.0)
    parameters = known_zone(zone_m, utility_buffer=none)
    return line_row(parameters=parameters, kind=kind, diameter_m=diameter_m, uncertainty_m=0.0)


def test_utl_01_zone_counts_from_the_outer_edge():
    """UTL-01: a 2 in pipe with an 18 in zone is 38 in wide (published example of a guide)."""
    row = exact("gas", 2 * INCH, 18 * INCH)
    assert 2 * (row.half_width_m + row.required_m) == pytest.approx(38 * INCH)


@pytest.mark.parametrize(("zone_in", "width_in", "wrong_in"), [(18, 42, 36), (24, 54, 48)])
def test_utl_02_diameter_is_not_forgotten(zone_in, width_in, wrong_in):
    """UTL-02: 6 in pipe; 36 and 48 in are what comes out when the diameter is ignored."""
    row = exact("gas", 6 * INCH, zone_in * INCH)
    width_m = 2 * (row.half_width_m + row.required_m)
    assert width_m == pytest.approx(width_in * INCH)
    assert width_m != pytest.approx(wrong_in * INCH)
    assert row.half_width_m + row.required_m == pytest.approx((3 + zone_in) * INCH)


def test_utl_02_blocked_ground_has_that_width():
    """UTL-02: the strip that is drawn is as wide as the row says, over the whole lot."""
    none = dict.fromkeys(UTILITY_KINDS[:-1], 0.0)
    site = make_site(
        FLAT,
        utilities=[
            {"geometry": ACROSS, "kind": "gas", "diameter_m": 6 * INCH, "uncertainty_m": 0.0}
        ],
    )
    ground = ground_of(site, parameters=known_zone(24 * INCH, utility_buffer=none))
    (piece,) = [p for p in ground.pieces if p.reason == "utility"]
    south, north = piece.geometry.bounds[1], piece.geometry.bounds[3]
    assert 54 * INCH <= north - south <= 54 * INCH + 0.005
    assert piece.distance_m == pytest.approx(24 * INCH)
    assert piece.geometry.intersection(site.parcel).area == pytest.approx(40 * 54 * INCH, rel=3e-3)


@pytest.mark.parametrize(
    ("level", "uncertainty_m"),
    [
        ("QL-A", 0.05),
        ("QL-B1", 0.18),  # depth not told: 15 % of the 1.2 m assumed
        ("QL-B2", 0.48),  # 40 % of them
        ("QL-B3", 0.50),
        ("QL-B", 0.30),
        ("QL-B4", 1.0),
        ("QL-C", 1.0),
        ("QL-D", 2.0),
        (None, 0.5),
    ],
)
def test_position_uncertainty_by_quality_level(level, uncertainty_m):
    """Horizontal accuracy: PAS 128:2022 table 1; AS 5488 for QL-B; assumptions for the rest."""
    row = line_row(kind="gas", diameter_m=0.05, quality_level=level)
    assert row.uncertainty_m == pytest.approx(uncertainty_m)
    assert row.required_m == pytest.approx(row.rule_m + uncertainty_m)
    assert ("assumed" in row.note) == (level is None)


def test_depth_widens_the_levels_that_grow_with_it():
    """PAS 128:2022 table 1: QL-B1 15 %, QL-B2 40 % of depth where that is the greater."""
    deep = {"kind": "gas", "diameter_m": 0.05, "depth_m": 2.0}
    assert line_row(quality_level="QL-B1", **deep).uncertainty_m == pytest.approx(0.30)
    assert line_row(quality_level="QL-B2", **deep).uncertainty_m == pytest.approx(0.80)
    assert line_row(quality_level="QL-A", **deep).uncertainty_m == pytest.approx(0.05)
    shallow = {"kind": "gas", "diameter_m": 0.05, "depth_m": 0.5}
    assert line_row(quality_level="QL-B2", **shallow).uncertainty_m == pytest.approx(0.25)


def test_a_stated_uncertainty_wins_and_a_datum_shift_is_added():
    row = line_row(
        kind="gas", diameter_m=0.05, quality_level="QL-D", uncertainty_m=0.2, shift_accuracy_m=0.1
    )
    assert row.uncertainty_m == pytest.approx(0.3)
    assert "0.10 m" in row.note


def test_a_missing_diameter_is_assumed_and_said():
    row = line_row(kind="gas", uncertainty_m=0.0)
    assert row.half_width_m == 0.0
    assert row.uncertainty_m == pytest.approx(0.05)
    assert "No diameter" in row.note
    told = line_row(kind="gas", uncertainty_m=0.0, diameter_m=0.10)
    assert told.half_width_m + told.required_m == pytest.approx(row.required_m)
    assert "No diameter" not in told.note


def test_without_the_law_the_widest_zone_shapes_the_proposal_and_nothing_is_known():
    row = line_row(kind="communication", diameter_m=0.02, uncertainty_m=0.0)
    assert row.rule_m == pytest.approx(48 * INCH)
    assert not row.rule_known
    assert "not known" in row.note
    known = line_row(
        parameters=known_zone(0.61), kind="communication", diameter_m=0.02, uncertainty_m=0.0
    )
    assert known.rule_known
    assert known.rule_m == pytest.approx(0.61)


def test_the_design_separation_rules_where_it_is_the_wider():
    row = line_row(parameters=known_zone(0.61), kind="sewer", diameter_m=0.1)
    assert row.rule_m == pytest.approx(1.5)


@pytest.mark.parametrize("kind", ["unknown", None, "mystery"])
def test_an_unknown_kind_is_the_strictest_and_never_known(kind):
    parameters = known_zone(0.3, utility_buffer={"electric": 4.0})
    row = line_row(parameters=parameters, kind=kind, diameter_m=0.05)
    assert row.rule_m == pytest.approx(4.0)
    assert row.kind == "unknown"
    assert not row.rule_known
    for other in UTILITY_KINDS[:-1]:
        assert row.rule_m >= line_row(parameters=parameters, kind=other, diameter_m=0.05).rule_m


def test_hand_digging_may_come_nearer_unless_it_is_never_allowed():
    assert line_row(kind="gas", diameter_m=0.05).least_m == pytest.approx(0.30)
    never = line_row(parameters=read(hand_dig="never"), kind="gas", diameter_m=0.05)
    assert never.least_m == never.required_m


def test_a_machine_crosses_a_buried_line_and_is_told():
    site = make_site(FLAT, utilities=[{"geometry": ACROSS, "kind": "gas", "diameter_m": 0.1}])
    (row,) = rows_of(site, "utility", "machine")
    assert row.required_m == 0.0
    assert "cover and load" in row.note
    ground = ground_of(site, "machine")
    assert not [piece for piece in ground.pieces if piece.reason == "utility"]
    assert ground.free.area == pytest.approx(site.parcel.area)


# --- the other objects ----------------------------------------------------------------------


def test_boundary_by_work_and_accuracy():
    site = make_site(FLAT, parcel_accuracy_m=0.4)
    asked = {work: rows_of(site, "boundary", work) for work in WORKS}
    assert {work: row[0].rule_m for work, row in asked.items() if row} == {
        "basin": 1.5,
        "stream": 1.5,
        "pile": 1.0,
        "pipe": 0.3,
        "fence": 0.3,
    }
    assert asked["basin"][0].required_m == pytest.approx(1.9)
    assert asked["basin"][0].against == "lot"


def test_an_unknown_accuracy_of_the_parcel_is_assumed_and_said():
    (row,) = rows_of(make_site(FLAT, parcel_accuracy_m=float("nan")), "boundary")
    assert row.uncertainty_m == 1.0
    assert "assumed" in row.note


def test_an_empty_lot_is_open_but_for_its_setback():
    site = make_site(FLAT)
    ground = ground_of(site)
    assert ground.open.symmetric_difference(box(1.5, 1.5, 38.5, 28.5)).area < 128 * 0.003
    assert ground_of(site, "machine").open.area == pytest.approx(1200.0)


def test_blocked_ground_reaches_ten_metres_beyond_the_lot_and_no_further():
    ground = ground_of(make_site(FLAT))
    west, south, east, north = ground.blocked.bounds
    assert (west, south, east, north) == pytest.approx((-10.0, -10.0, 50.0, 40.0), abs=1e-6)
    outside = [piece for piece in ground.pieces if piece.reason == "outside_parcel"]
    assert outside[0].source_id == "lot"
    # A rectangle's surroundings: its sides and four quarter circles (drawn with corners).
    assert outside[0].geometry.area == pytest.approx(2 * 10 * 70 + math.pi * 100, rel=2e-3)


@pytest.mark.parametrize("kind", ["hydrant", "unknown", None])
def test_fixtures_have_a_zone_all_round(kind):
    """24 in all round an above-ground facility (statute text)."""
    site = make_site(FLAT, fixtures=[{"geometry": Point(20, 15), "kind": kind}])
    ground = ground_of(site)
    (piece,) = [p for p in ground.pieces if p.reason == "fixture"]
    assert piece.geometry.area == pytest.approx(math.pi * (24 * INCH) ** 2, rel=0.01)
    assert rows_of(site, "fixture", "machine")[0].required_m < 0.2


@pytest.mark.parametrize(("depth_m", "rule_m"), [(1.0, 1.5), (1.5, 1.5), (2.4, 2.4)])
def test_structures_reach_further_beside_a_deeper_basin(depth_m, rule_m):
    """Outside a 45 degree line from the footing: as far as it is deep."""
    site = make_site(FLAT, structures=[{"geometry": box(10, 10, 16, 16), "kind": "house"}])
    assert rows_of(site, "structure", depth_m=depth_m)[0].required_m == pytest.approx(rule_m)
    assert rows_of(site, "structure", "stream", depth_m=depth_m)[0].required_m == 1.5


def test_a_machine_drives_over_a_drive_and_round_a_house():
    house = {"geometry": box(10, 10, 16, 16), "kind": "house"}
    drive = {"geometry": box(20, 0, 24, 16), "kind": "Drive"}
    site = make_site(FLAT, structures=[house, drive])
    ground = ground_of(site, "machine")
    assert ground.free.area == pytest.approx(1200.0 - 36.0)
    assert len(rows_of(site, "structure", "basin")) == 2


def test_tre_01_roots_reach_twelve_stem_diameters():
    """TRE-01: BS 5837:2012, stem 0.45 m: radius 5.40 m, area 91.609 m2."""
    site = make_site(FLAT, trees=[{"geometry": Point(20, 15), "trunk_diameter_m": 0.45}])
    ground = ground_of(site)
    (piece,) = [p for p in ground.pieces if p.reason == "roots"]
    assert piece.distance_m == pytest.approx(5.40)
    assert 91.609 <= piece.geometry.area <= 91.609 * 1.001
    for work in WORKS:
        assert rows_of(site, "roots", work)[0].required_m == pytest.approx(5.40)


def test_roots_of_a_great_tree_stop_at_the_cap_and_of_an_unmeasured_one_are_assumed():
    trees = [
        {"geometry": Point(5, 5), "trunk_diameter_m": 2.0},
        {"geometry": Point(20, 5), "crown_radius_m": 4.5},
        {"geometry": Point(30, 5)},
    ]
    rows = rows_of(make_site(FLAT, trees=trees), "roots")
    assert [row.required_m for row in rows] == [15.0, 4.5, 3.0]
    assert "crown" in rows[1].note
    assert "assumed" in rows[2].note


def test_easements_take_digging_but_not_driving():
    site = make_site(FLAT, easements=[{"geometry": box(0, 0, 40, 5)}])
    assert ground_of(site, "pipe").free.bounds[1] == pytest.approx(5.0)
    assert ground_of(site, "machine").free.area == pytest.approx(1200.0)


def test_septic_parts_and_wells():
    parts = [
        {"geometry": Point(5, 5), "kind": "tank"},
        {"geometry": box(8, 8, 12, 12), "kind": "field"},
        {"geometry": Point(20, 20), "kind": "well"},
        {"geometry": Point(30, 20), "kind": "unknown"},
    ]
    rows = rows_of(make_site(FLAT, septic=parts), "septic")
    assert [row.required_m for row in rows] == pytest.approx([3.0, 3.0, 15.24, 15.24])
    assert [row.rule_known for row in rows] == [True, True, True, False]
    assert all("health code" in row.note for row in rows)


@pytest.mark.parametrize(
    ("voltage_v", "required_m", "known"),
    [(240.0, 3.048, True), (50e3, 3.048, True), (100e3, 3.556, True), (math.nan, 3.048, False)],
)
def test_overhead_lines(voltage_v, required_m, known):
    """10 ft, and 0.4 in for each kV above 50 kV: OSHA 1926.600(a)(6), from memory."""
    site = make_site(FLAT, overhead=[{"geometry": ACROSS, "voltage_v": voltage_v}])
    (row,) = rows_of(site, "overhead")
    assert row.required_m == pytest.approx(required_m)
    assert row.rule_known is known
    for work in ("stream", "pipe", "pile", "machine", "fence"):
        assert rows_of(site, "overhead", work)[0].required_m == row.required_m


def test_water_of_any_shape_keeps_its_distance():
    shapes = [Point(10, 10), LineString([(20, 5), (20, 9)]), box(30, 10, 34, 14)]
    site = make_site(FLAT, water_bodies=[{"geometry": shape} for shape in shapes])
    ground = ground_of(site, "stream")
    for shape, row in zip(shapes, rows_of(site, "water_body", "stream"), strict=True):
        assert row.required_m == 3.0
        assert ground.open.distance(shape) >= 3.0 - 1e-9


# --- ground found in the terrain ------------------------------------------------------------


def steep_half() -> Site:
    return make_site(lambda x, y: 100.0 + np.where(x > 20.0, 0.5 * (x - 20.0), 0.0))


@pytest.mark.parametrize(("work", "blocks"), [("basin", True), ("pile", True), ("stream", False)])
def test_steep_ground(work, blocks):
    pieces = [p for p in ground_of(steep_half(), work).pieces if p.reason == "steep"]
    assert bool(pieces) is blocks
    if blocks:
        west, _, east, _ = pieces[0].geometry.bounds
        assert abs(west - 20.0) <= 1.0
        assert east == pytest.approx(50.0)


def test_concentrated_flow_in_a_valley():
    site = make_site("valley")
    terrain = analyse(site, TerrainParameters())
    ground = ground_of(site, "stream")
    (piece,) = [p for p in ground.pieces if p.reason == "concentrated_flow"]
    wet = terrain.accumulation_m2.values >= 500.0
    x, y = np.meshgrid(*terrain.ground.centres())
    inside = wet & (np.abs(x - 20) < 28) & (y > -8) & (y < 38)
    centres = shapely.points(x[inside], y[inside])
    assert shapely.contains(piece.geometry, centres).all()
    half_m = 0.5  # a cell reaches so far from its centre, and 1 m is kept from its side
    assert shapely.distance(piece.geometry.boundary, centres).min() >= half_m + 1.0 - 1e-9
    assert piece.distance_m == 1.0
    assert not [p for p in ground_of(site, "pipe").pieces if p.reason == "concentrated_flow"]


@pytest.mark.parametrize("work", WORKS)
def test_holes_and_ground_beyond_the_data_are_blocked_for_all_works(work):
    levels = np.full((30, 20), 100.0)  # the west half of the lot only
    levels[10:14, 6:9] = np.nan
    lot = box(-20, 20, 20, 50)
    site = make_site(levels, lot=lot, margin_m=0.0)
    ground = ground_of(site, work)
    area = sum(p.geometry.intersection(lot).area for p in ground.pieces if p.reason == "no_terrain")
    assert area == pytest.approx(600.0 + 12.0)
    assert ground.free.intersection(box(0, 20, 20, 50)).area == pytest.approx(0.0, abs=1e-9)


def test_a_lot_without_any_terrain_is_blocked_and_raises_nothing():
    ground = ground_of(make_site(np.full((70, 80), np.nan)))
    assert ground.free.is_empty
    assert ground.open.is_empty


# --- ground as a whole ----------------------------------------------------------------------


def crowded(**more: object) -> Site:
    return make_site(
        "valley",
        utilities=[
            {"geometry": ACROSS, "kind": "gas", "diameter_m": 0.05, "quality_level": "QL-B2"},
            {"geometry": LineString([(30, -9), (28, 12), (35, 40)]), "kind": "electric"},
        ],
        structures=[{"geometry": box(2, 18, 12, 27), "kind": "house"}],
        trees=[{"geometry": Point(33, 24), "trunk_diameter_m": 0.3}],
        fixtures=[{"geometry": Point(15, 6), "kind": "meter"}],
        overhead=[{"geometry": LineString([(-5, 2), (45, 3)]), "voltage_v": 240.0}],
        **more,
    )


@pytest.mark.parametrize("opened", [False, True])
@pytest.mark.parametrize("work", WORKS)
def test_open_hand_dig_and_blocked_share_the_parcel_without_overlap(work, opened):
    site = crowded()
    ground = ground_of(site, work, opened=opened)
    by_hand = shapely.union_all([strip.geometry for strip in ground.hand_dig])
    assert ground.blocked.intersection(by_hand).area == pytest.approx(0.0, abs=1e-6)
    assert ground.blocked.intersection(ground.open).area == pytest.approx(0.0, abs=1e-6)
    assert ground.open.intersection(by_hand).area == pytest.approx(0.0, abs=1e-6)
    in_lot = ground.blocked.intersection(site.parcel).area
    assert in_lot + ground.open.area + by_hand.area == pytest.approx(1200.0, abs=1e-6)
    assert ground.free.area == pytest.approx(ground.open.area + by_hand.area, abs=1e-6)
    assert bool(ground.hand_dig) == (opened and work != "machine")
    pieces = shapely.union_all([piece.geometry for piece in ground.pieces])
    assert pieces.symmetric_difference(ground.blocked).area == pytest.approx(0.0, abs=1e-6)


def test_two_lines_drawn_almost_in_one_place_share_no_open_ground():
    """A lateral traced twice, 50 micrometres apart, as the layers of two networks have it."""
    first = LineString(
        [(10.215102606951252, 26.502812715016578), (41.09429017760509, -9.707411179337138)]
    )
    second = LineString(
        [(10.215102551304103, 26.502812702348937), (41.094235236943014, -9.707352896109493)]
    )
    lines = [{"geometry": first, "kind": "sewer"}, {"geometry": second, "kind": "potable_water"}]
    ground = ground_of(make_site(FLAT, origin=ORIGIN, utilities=lines), opened=True)
    by_hand = shapely.union_all([strip.geometry for strip in ground.hand_dig])
    assert by_hand.area > 10.0
    assert ground.open.intersection(by_hand).area < 1e-6


@pytest.mark.parametrize("opened", [False, True])
@pytest.mark.parametrize("work", ["basin", "stream", "pipe", "pile", "fence"])
def test_ground_and_rows_say_the_same_distance(work, opened):
    """Free ground never comes nearer than the rows say: closed or opened to hand-digging."""
    site = crowded()
    ground = ground_of(site, work, opened=opened)
    for row in requirements(site, ConstraintParameters(), work, 1.0):
        least_m = row.least_m if opened else row.required_m
        assert ground.free.distance(row.geometry) - row.half_width_m >= least_m - 1e-9
        assert ground.open.distance(row.geometry) - row.half_width_m >= row.required_m - 1e-9


def test_opening_gives_the_strip_between_least_and_required():
    line = {"geometry": ACROSS, "kind": "gas", "diameter_m": 0.10, "uncertainty_m": 0.2}
    site = make_site(FLAT, utilities=[line], parcel_accuracy_m=0.0)
    parameters = known_zone(0.61, boundary={"basin": 0.0})
    ground = ground_of(site, opened=True, parameters=parameters)
    (strip,) = ground.hand_dig
    assert (strip.utility_id, strip.kind) == ("utilities-1", "gas")
    assert strip.half_width_m == pytest.approx(0.05 + 1.5 + 0.2)
    assert strip.geometry.area == pytest.approx(40 * 2 * (1.75 - 0.35), abs=40 * 2 * 0.004)
    (piece,) = [p for p in ground.pieces if p.reason == "utility"]
    assert piece.distance_m == pytest.approx(0.30)


def test_never_means_never_even_when_opened():
    parameters = read(hand_dig="never")
    opened = ground_of(crowded(), opened=True, parameters=parameters)
    assert not opened.hand_dig
    assert opened.open.equals(ground_of(crowded(), parameters=parameters).open)


def test_opening_never_takes_ground_away():
    closed, opened = ground_of(crowded()), ground_of(crowded(), opened=True)
    assert closed.free.difference(opened.free).area == pytest.approx(0.0, abs=1e-6)
    assert opened.free.area > closed.free.area + 10.0
    assert opened.open.area == pytest.approx(closed.open.area, abs=1e-6)


def test_a_line_beyond_the_lot_still_blocks_what_it_reaches():
    outside = LineString([(-30.0, -1.0), (70.0, -1.0)])
    line = {"geometry": outside, "kind": "gas", "diameter_m": 0.1, "uncertainty_m": 2.0}
    site = make_site(FLAT, utilities=[line])
    assert ground_of(site, "fence").open.bounds[1] == pytest.approx(3.5 + 0.05 - 1.0, abs=0.005)


def test_the_same_site_elsewhere_has_the_same_ground():
    here, there = crowded(), crowded(origin=ORIGIN)
    assert ground_of(there).open.area == pytest.approx(ground_of(here).open.area, abs=1e-4)


def test_the_same_question_gives_the_same_bytes():
    first, again = (ground_of(crowded(), opened=True) for _ in range(2))
    assert first.blocked.wkb == again.blocked.wkb
    assert [strip.geometry.wkb for strip in first.hand_dig] == [
        strip.geometry.wkb for strip in again.hand_dig
    ]


def test_every_reason_is_named_once():
    reasons = [constraint.reason for constraint in CONSTRAINTS]
    assert len(set(reasons)) == len(reasons) == 17


def test_an_object_without_geometry_asks_nothing():
    site = make_site(FLAT, trees=[{"geometry": None}, {"geometry": Point()}])
    assert rows_of(site, "roots") == []


# --- zones ----------------------------------------------------------------------------------


def test_zone_of_a_straight_line_is_a_capsule():
    zone = keep_off(LineString([(0, 0), (10, 0)]), 1.5)
    true_m2 = 10 * 3.0 + math.pi * 1.5**2
    assert true_m2 <= zone.area <= true_m2 + zone.length * 0.003


def test_zone_without_distance():
    assert keep_off(Point(0, 0), 0.0).is_empty
    assert keep_off(LineString([(0, 0), (1, 0)]), 0.0).is_empty
    assert keep_off(box(0, 0, 2, 3), 0.0).area == 6.0
    with pytest.raises(ValueError, match="distance"):
        keep_off(Point(0, 0), -0.1)
    with pytest.raises(ValueError, match="distance"):
        keep_off(Point(0, 0), math.nan)


def test_zone_of_a_ring_keeps_its_hole():
    ring = Polygon(box(0, 0, 20, 20).exterior, [box(5, 5, 15, 15).exterior])
    zone = keep_off(ring, 2.0)
    assert zone.interiors[0].envelope.area == pytest.approx(36.0, abs=0.1)


coordinate = st.integers(-4000, 4000).map(lambda i: i / 100.0)
corners = st.lists(st.tuples(coordinate, coordinate), min_size=2, max_size=9, unique=True)


@settings(max_examples=50, deadline=None)
@given(corners=corners, distance_m=st.floats(0.05, 16.0))
def test_zones_are_never_short_and_never_more_than_five_millimetres_wide(corners, distance_m):
    line = LineString(corners)
    outline = keep_off(line, distance_m).boundary
    assert outline.distance(line) >= distance_m - 1e-9
    edge = shapely.points(shapely.get_coordinates(shapely.segmentize(outline, 0.05)))
    assert shapely.distance(edge, line).max() <= distance_m + 0.005


def test_shallow_bends_are_not_straightened():
    """A wavy line's zone keeps to the line; a buffer of the whole would cut its bends off."""
    x = np.linspace(0.0, 40.0, 400)
    line = LineString(np.column_stack([x, 0.05 * np.sin(2.0 * x)]))
    outline = keep_off(line, 6.0).boundary
    edge = shapely.points(shapely.get_coordinates(outline))
    distances = shapely.distance(edge, line)
    assert distances.min() >= 6.0 - 1e-9
    assert distances.max() <= 6.005


def test_multipolygon_results_are_valid():
    ground = ground_of(crowded(), opened=True)
    for geometry in (ground.blocked, ground.open, ground.free):
        assert isinstance(geometry, MultiPolygon)
        assert geometry.is_valid
