"""The catalogue against the contract of the output, and rows against the plan they come from."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely
from made_plans import FORMULA, proposed, without_place
from pyproj import CRS, Transformer
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon, box

from geo_site.constraints import HandDigStrip
from geo_site.crs import metric_twin
from geo_site.layers import (
    LAYERS,
    LOOKS,
    UTILITY_SYMBOLS,
    Layer,
    LayerField,
    catalogue,
    to_frame,
    to_table,
)
from geo_site.site import UTILITY_KINDS
from geo_site.terrain import Depression

BASIN = "rotation_deg length_m width_m depth_m water_level_m stored_m3 usable_m3"
CONTRACT = {
    "parcel": ("MultiPolygon", "area_m2"),
    "blocked_ground": ("MultiPolygon", "reason source_id distance_m"),
    "hand_dig_ground": ("MultiPolygon", "utility_id kind half_width_m"),
    "open_ground": ("MultiPolygon", "area_m2"),
    "utility_lines": (
        "MultiLineString",
        "utility_id kind quality_level diameter_m uncertainty_m",
    ),
    "basin_candidates": (
        "Polygon",
        "rank score available_fall_m run_on_m2 excavation_m3 hand_dig_m2 clearance_m reason",
    ),
    "basin": ("Polygon", BASIN),
    "basin_excavation": ("Polygon", BASIN),
    "stream_alignment": ("LineStringZ", "length_m fall_m sinuosity"),
    "stream_reaches": ("LineStringZ", "sequence kind water_level_m depth_m velocity_ms"),
    "stream_falls": ("PointZ", "sequence station_m height_m lip_level_m lip_width_m head_m"),
    "stream_pools": ("PolygonZ", "sequence water_level_m depth_m volume_m3 liner_level_m"),
    "stream_bed": ("Polygon", "area_m2"),
    "pipe_run": ("LineStringZ", "length_m inside_diameter_m velocity_ms"),
    "catchment": ("MultiPolygon", "work area_m2 outside_parcel_m2 reaches_terrain_edge"),
    "flow_paths": ("LineString", "accumulation_m2"),
    "overflow_path": ("LineString", "accumulation_m2"),
    "swale": ("LineString", "length_m depth_m top_width_m flow_m3s slope lining kept_off_m2"),
    "depressions": ("MultiPolygon", "depth_m volume_m3 spill_level_m"),
    "contours": ("LineString", "level_m is_index"),
    "spoil_pile": ("Polygon", "volume_m3 height_m bank_m3 swell_factor"),
    "silt_fence": ("LineString", "length_m"),
    "machine_route": ("LineString", "length_m"),
    "clearances": (
        "LineString",
        "work against kind required_m clearance_m verdict reason",
    ),
    "dig_area": ("MultiPolygon", "area_m2 purpose"),
    "set_out": ("PointZ", "code note"),
}
"""Names that users' files and scripts rely on."""

SUFFIXES = {
    "m": "_m",
    "m2": "_m2",
    "m3": "_m3",
    "m/s": "_ms",
    "m3/s": "_m3s",
    "degrees": "_deg",
}
OF_WORKS = (
    "basin_candidates",
    "basin",
    "basin_excavation",
    "stream_alignment",
    "stream_reaches",
    "stream_falls",
    "stream_pools",
    "stream_bed",
    "pipe_run",
    "catchment",
    "overflow_path",
    "spoil_pile",
    "silt_fence",
    "machine_route",
    "clearances",
    "dig_area",
    "set_out",
)


def layer(name: str) -> Layer:
    return next(one for one in LAYERS if one.name == name)


def frame(name: str, plan=None):
    return to_frame(layer(name), proposed() if plan is None else plan)


# --- the contract


def test_every_layer_is_there_in_order():
    assert [one.name for one in LAYERS] == list(CONTRACT)


@pytest.mark.parametrize("name", CONTRACT)
def test_geometry_and_fields_are_those_of_the_contract(name):
    geometry, fields = CONTRACT[name]
    found = [field.name for field in layer(name).fields]
    assert layer(name).geometry == geometry
    assert found[: len(fields.split())] == fields.split()
    assert len(set(found)) == len(found)


@pytest.mark.parametrize("one", LAYERS, ids=lambda one: one.name)
def test_units_stand_in_names(one):
    for field in one.fields:
        assert field.meaning, field.name
        if field.unit == "-":
            assert not field.name.endswith(tuple(SUFFIXES.values())), field.name
        else:
            assert field.type == "real"
            assert field.name.endswith(SUFFIXES[field.unit]), field.name


def test_the_catalogue_is_plain_data():
    rows = json.loads(json.dumps(catalogue()))
    assert [row["name"] for row in rows] == list(CONTRACT)
    kinds = next(f for f in rows[4]["fields"] if f["name"] == "kind")
    assert kinds == {
        "name": "kind",
        "type": "text",
        "unit": "-",
        "meaning": "what the line carries",
        "choices": list(UTILITY_KINDS),
    }


# --- tables


@pytest.mark.parametrize("plan", [proposed, without_place], ids=["place", "no place"])
@pytest.mark.parametrize("one", LAYERS, ids=lambda one: one.name)
def test_tables_hold_what_is_declared(one, plan):
    table = to_frame(one, plan())
    assert list(table.columns) == [*(field.name for field in one.fields), "geometry"]
    assert table.crs == CRS.from_epsg(32617)
    assert set(table.geom_type) <= {one.geometry.removesuffix("Z")}
    assert (table.has_z == one.geometry.endswith("Z")).all()
    assert table.is_valid.all() or "LineString" in one.geometry
    kinds = {"text": "O", "integer": "i", "real": "f", "truth": "b"}
    for field in one.fields:
        assert table[field.name].dtype.kind == kinds[field.type], field.name
        if field.choices:
            assert set(table[field.name].dropna()) <= set(field.choices), field.name


@pytest.mark.parametrize("one", LAYERS, ids=lambda one: one.name)
def test_records_hold_the_values_of_the_rows(one):
    plan = proposed()
    records, rows = to_table(one, plan).records(), list(one.rows(plan))
    assert len(records) == len(to_table(one, plan)) == len(rows)
    kinds = {"text": (str, type(None)), "integer": int, "real": float, "truth": bool}
    for record, row in zip(records, rows, strict=True):
        assert list(record) == [*(field.name for field in one.fields), "geometry"]
        assert record["geometry"].area == row["geometry"].area
        for field in one.fields:
            value, given = record[field.name], row.get(field.name, record[field.name])
            assert isinstance(value, kinds[field.type]), field.name
            assert value == given or (pd.isna(value) and pd.isna(given)), field.name


def test_without_a_place_works_are_empty_and_ground_is_not():
    plan = without_place()
    assert plan.status == "no_place"
    assert {one.name for one in LAYERS if to_frame(one, plan).empty} >= set(OF_WORKS)
    for name in ("parcel", "blocked_ground", "contours"):
        assert not frame(name, plan).empty, name


def test_with_a_place_no_work_is_missing():
    for name in OF_WORKS:
        assert not frame(name).empty, name


# --- what the layers promise


def test_the_alignment_runs_down_into_the_basin():
    row = frame("stream_alignment").iloc[0]
    levels = shapely.get_coordinates(row.geometry, include_z=True)[:, 2]
    assert (np.diff(levels) <= 1e-9).all()
    assert row.fall_m == pytest.approx(levels[0] - levels[-1], abs=1e-9)
    assert row.length_m == pytest.approx(shapely.force_2d(row.geometry).length, abs=1e-6)
    assert frame("basin").geometry.iloc[0].covers(Point(row.geometry.coords[-1]))


def test_reaches_join_and_carry_their_own_water():
    table = frame("stream_reaches")
    assert list(table.sequence) == list(range(1, len(table) + 1))
    for above, below in itertools.pairwise(table.geometry):
        assert above.coords[-1] == below.coords[0]
    assert (table.water_level_m > table.sill_level_m - 1e-9).all()
    assert (table.velocity_ms > 0.0).all()


def test_z_is_the_level_that_is_told():
    falls, pools = frame("stream_falls"), frame("stream_pools")
    assert [point.z for point in falls.geometry] == list(falls.lip_level_m)
    for row in pools.itertuples():
        assert set(shapely.get_coordinates(row.geometry, include_z=True)[:, 2]) == {
            row.water_level_m
        }
    assert (pools.liner_level_m >= pools.water_level_m).all()


def test_the_pile_is_bank_times_swell():
    row = frame("spoil_pile").iloc[0]
    assert row.volume_m3 == pytest.approx(row.bank_m3 * row.swell_factor)


def test_connectors_are_as_long_as_they_say():
    table = frame("clearances")
    assert list(table.clearance_m) == pytest.approx(list(table.length), abs=1e-6)
    assert len(table) == len(proposed().clearances)


def test_the_dig_area_covers_pit_and_bed():
    area = frame("dig_area").geometry.iloc[0].buffer(1e-6)
    assert area.covers(frame("basin_excavation").geometry.iloc[0])
    assert area.covers(frame("stream_bed").geometry.iloc[0])


def test_open_ground_holds_the_excavation():
    ground = frame("open_ground").geometry.iloc[0].buffer(1e-6)
    assert ground.covers(frame("basin_excavation").geometry.iloc[0])


def test_the_excavation_is_wider_than_the_basin():
    inner, outer = frame("basin").iloc[0], frame("basin_excavation").iloc[0]
    assert outer.geometry.covers(inner.geometry)
    assert outer.length_m > inner.length_m
    assert outer.width_m > inner.width_m
    assert outer.depth_m >= inner.depth_m
    side = np.hypot(*np.diff(np.array(inner.geometry.exterior.coords), axis=0).T)
    assert sorted({*np.round(side, 6)}) == pytest.approx([inner.width_m, inner.length_m])


def test_candidates_are_ranked_and_the_first_is_built():
    table = frame("basin_candidates")
    assert list(table["rank"]) == list(range(1, len(table) + 1))
    assert (np.diff(table.score) <= 1e-9).all()
    assert table.geometry.iloc[0].equals(frame("basin").geometry.iloc[0])
    nearest = min(row.clearance_m for row in proposed().clearances
                  if row.work == "basin_excavation" and row.kind in UTILITY_KINDS)  # fmt: skip
    assert table.clearance_m.iloc[0] == pytest.approx(nearest)


def test_no_line_means_no_distance():
    best = proposed().candidates[0]
    lone = replace(best.candidate, clearance_m=np.inf, margin_m=np.inf)
    plan = replace(proposed(), candidates=(replace(best, candidate=lone),))
    row = frame("basin_candidates", plan).iloc[0]
    assert np.isnan(row.clearance_m)
    assert np.isnan(row.margin_m)


def test_lines_tell_what_is_known_and_what_is_not():
    table = frame("utility_lines").set_index("utility_id")
    assert table.loc[FORMULA, "diameter_m"] == 0.05
    assert table.loc[FORMULA, "quality_level"] == "QL-B"
    others = table.drop(FORMULA)
    assert others.diameter_m.isna().all()
    assert others.quality_level.isna().all()
    assert list(others.kind) == ["electric", "unknown"]
    assert (table.uncertainty_m > 0.0).all()
    assert (table.required_m > table.uncertainty_m).all()


def test_set_out_names_corners_lip_falls_pipe_and_pile():
    table = frame("set_out").set_index("code")
    layout, moved = proposed().proposal.layout, proposed().proposal.earthwork
    assert table.index.is_unique
    basin = frame("basin").geometry.iloc[0]
    corners = {table.loc[f"B{i}"].geometry.coords[0][:2] for i in range(1, 5)}
    assert corners == {corner[:2] for corner in basin.exterior.coords}
    assert table.loc["S1"].geometry.coords[0] == layout.alignment.coords[0]
    assert table.loc["E1"].geometry.coords[0] == layout.alignment.coords[-1]
    assert sum(code.startswith("F") for code in table.index) == len(layout.falls)
    ends = [code for code in table.index if code.startswith("P")]
    assert table.loc[ends[0]].geometry.coords[0] == layout.pipe.coords[0]
    assert table.loc[ends[-1]].geometry.coords[0] == layout.pipe.coords[-1]
    assert moved.pile.geometry.boundary.distance(table.loc["H1"].geometry) < 1e-9
    assert [point.z for point in table.geometry] == list(table.level_m)
    ground = proposed().terrain.ground.sample(np.array([table.loc["B1"].geometry.coords[0][:2]]))
    assert table.loc["B1", "level_m"] == ground[0]


def test_opened_ground_and_low_places_are_rows():
    plan, square = proposed(), MultiPolygon([box(0, 0, 2, 3)])
    strip = HandDigStrip(utility_id="G", kind="gas", half_width_m=0.6, geometry=square)
    low = Depression(geometry=square, depth_m=0.2, volume_m3=0.5, spill_level_m=99.0)
    ground = replace(plan.grounds["basin"], hand_dig=(strip,))
    plan = replace(
        plan,
        grounds={**plan.grounds, "basin": ground},
        terrain=replace(plan.terrain, depressions=(low,)),
    )
    row = frame("hand_dig_ground", plan).iloc[0]
    assert (row.utility_id, row.kind, row.half_width_m) == ("G", "gas", 0.6)
    assert row.geometry.equals(square)
    row = frame("depressions", plan).iloc[0]
    assert (row.depth_m, row.volume_m3, row.spill_level_m) == (0.2, 0.5, 99.0)


def test_blocked_ground_names_its_reason_and_source():
    table = frame("blocked_ground")
    pieces = proposed().grounds["basin"].pieces
    assert list(table.reason) == [piece.reason for piece in pieces]
    assert list(table.distance_m) == [piece.distance_m for piece in pieces]
    gas = table[table.source_id == FORMULA].iloc[0]
    assert gas.reason == "utility"
    assert gas.geometry.buffer(1e-6).covers(
        proposed().site.utilities.geometry.iloc[0].intersection(proposed().site.parcel)
    )


# --- CRS of the output


def test_feet_double_back_and_levels_stay_metres():
    feet = CRS.from_epsg(2264)
    plan = proposed()
    moved = replace(plan, site=replace(plan.site, crs=metric_twin(feet), output_crs=feet))
    us_foot_m = 1200.0 / 3937.0
    for name in ("parcel", "stream_alignment", "clearances", "set_out"):
        inside, outside = frame(name), frame(name, moved)
        assert outside.crs == feet
        before = shapely.get_coordinates(inside.geometry, include_z=True)
        after = shapely.get_coordinates(outside.geometry, include_z=True)
        # two roundings, and the projection library's foot of 15 digits: 1e-9 m at most
        np.testing.assert_array_max_ulp(after[:, :2] * us_foot_m, before[:, :2], maxulp=2)
        np.testing.assert_array_equal(after[:, 2], before[:, 2])
        numbers = outside.drop(columns="geometry")
        assert numbers.equals(inside.drop(columns="geometry"))


def test_another_projection_is_reached_by_the_projection_library():
    plan = proposed()
    moved = replace(plan, site=replace(plan.site, output_crs=CRS.from_epsg(32618)))
    peer = Transformer.from_crs(32617, 32618, always_xy=True)
    before = shapely.get_coordinates(frame("stream_alignment").geometry, include_z=True)
    after = shapely.get_coordinates(frame("stream_alignment", moved).geometry, include_z=True)
    np.testing.assert_allclose(
        after[:, :2], np.column_stack(peer.transform(before[:, 0], before[:, 1])), atol=1e-6
    )
    np.testing.assert_array_equal(after[:, 2], before[:, 2])


def test_a_compound_crs_is_written_as_its_horizontal_part():
    plan = proposed()
    compound = CRS.from_string("EPSG:32617+5703")
    table = frame("parcel", replace(plan, site=replace(plan.site, output_crs=compound)))
    assert table.crs == CRS.from_epsg(32617)


# --- geometry as declared


def made(geometry_type, *geometries) -> Layer:
    return Layer(
        "made",
        "Made",
        geometry_type,
        "made for a test",
        (LayerField("name", "text", "-", "a name"),),
        LOOKS["parcel"],
        lambda _: [{"geometry": geometry, "name": "a"} for geometry in geometries],
    )


def test_single_parts_are_promoted_and_lone_multis_unpacked():
    square, line = box(0, 0, 1, 1), LineString([(0, 0), (1, 0)])
    given = {
        "MultiPolygon": square,
        "Polygon": MultiPolygon([square]),
        "MultiLineString": line,
        "LineString": MultiLineString([line]),
    }
    for declared, geometry in given.items():
        table = to_frame(made(declared, geometry), proposed())
        assert list(table.geom_type) == [declared]
        assert table.geometry.iloc[0].equals(geometry)


def test_levels_fall_away_where_none_are_declared():
    table = to_frame(made("LineString", LineString([(0, 0, 5), (1, 0, 5)])), proposed())
    assert not table.has_z.any()


def test_empty_geometries_are_left_out():
    assert to_frame(made("MultiPolygon", MultiPolygon(), box(0, 0, 1, 1)), proposed()).shape[0] == 1


@pytest.mark.parametrize(
    ("declared", "geometry"),
    [
        ("LineStringZ", LineString([(0, 0), (1, 0)])),
        ("PointZ", Point(0, 0, float("nan"))),
        ("Polygon", LineString([(0, 0), (1, 0)])),
        ("Polygon", MultiPolygon([box(0, 0, 1, 1), box(2, 2, 3, 3)])),
        ("Polygon", Polygon([(0, 0), (2, 2), (2, 0), (0, 2)])),
    ],
    ids=["no level", "level unknown", "wrong type", "two parts", "bow-tie"],
)
def test_what_is_not_as_declared_is_a_fault(declared, geometry):
    with pytest.raises(ValueError, match="layer made"):
        to_frame(made(declared, geometry), proposed())


# --- looks


def test_looks_name_fields_that_are_there():
    assert set(LOOKS) == set(CONTRACT)
    for one in LAYERS:
        names = {field.name for field in one.fields}
        assert {one.look.label, one.look.by} - {""} <= names, one.name


def test_each_choice_has_its_class():
    for one in LAYERS:
        if one.look.by:
            field = next(f for f in one.fields if f.name == one.look.by)
            choices = field.choices or ("true", "false")
            assert {value for value, _ in one.look.classes} == set(choices), one.name


def test_lines_of_two_kinds_never_share_a_dash():
    dashes = [symbol.dash_mm for symbol in UTILITY_SYMBOLS.values()]
    assert set(UTILITY_SYMBOLS) == set(UTILITY_KINDS)
    assert all(dashes), "none is solid: works are"
    assert len(set(dashes)) == len(dashes)


def hue_deg(colour: str) -> float:
    import colorsys

    red, green, blue = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    return 360.0 * colorsys.rgb_to_hsv(red, green, blue)[0]


def test_utility_hues_are_those_of_the_uniform_code():
    """APWA uniform colour code: the hue of each kind, within 25 degrees of its plain name."""
    code = {
        "electric": 0.0,
        "gas": 50.0,
        "communication": 25.0,
        "potable_water": 210.0,
        "reclaimed_water": 290.0,
        "sewer": 150.0,
    }
    for kind, hue in code.items():
        off = (hue_deg(UTILITY_SYMBOLS[kind].stroke) - hue + 180.0) % 360.0 - 180.0
        assert abs(off) <= 25.0, kind


def test_a_frame_has_none_where_nothing_is_told_and_plain_objects_for_words() -> None:
    plan = proposed()
    for layer in LAYERS:
        rows = to_frame(layer, plan)
        for field in layer.fields:
            if field.type == "text" and len(rows):
                assert rows[field.name].dtype == object, (layer.name, field.name)
                told = {type(value) for value in rows[field.name]}
                assert told <= {str, type(None)}, (layer.name, field.name)
