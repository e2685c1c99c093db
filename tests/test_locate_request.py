"""The white-line outline and its description: by geometry that can be checked with a ruler."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pyproj
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_site
from shapely import MultiPolygon, Point, box
from shapely.affinity import rotate

from geo_site.kml import corner_words, request_words, write_locate_request
from geo_site.locate_request import LocateRequestParameters, describe_digging
from geo_site.plan import Plan, propose
from geo_site.site import Site

QUICK = {"siting": {"candidates": 2, "shortlist": 3, "rotation_step": 15}}
PARAMETERS = LocateRequestParameters()


def site_with_gate(**more: object) -> Site:
    """A level lot 40 by 30 m, entered from the south."""
    gate = [{"id": "gate", "geometry": Point(12.0, -1.0)}]
    return make_site("plane", lot=box(0, 0, 40, 30), access=gate, **more)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return propose(site_with_gate(tables=QUICK))


def test_a_square_hole_told_by_tape() -> None:
    site = site_with_gate()
    hole = MultiPolygon([box(10.0, 5.0, 14.0, 8.0)])
    asked = describe_digging(site, hole, 1.1, PARAMETERS)
    assert len(asked.corners) == 4
    # margin 0.61 m and the 0.25 m that a simpler outline may cut in, a hair more for rounding
    reach = 0.61 + 1.01 * 0.25
    assert asked.area_m2 == pytest.approx((4.0 + 2 * reach) * (3.0 + 2 * reach))
    low = min(asked.corners, key=lambda c: c.x + c.y)
    assert (low.x, low.y) == pytest.approx((10.0 - reach, 5.0 - reach))
    assert low.lot_corner == "south-west corner"
    assert low.from_corner_m == pytest.approx(np.hypot(low.x, low.y))
    assert low.bearing_deg == pytest.approx(np.degrees(np.arctan2(low.x, low.y)))
    assert low.lot_side == "south side"
    assert low.from_side_m == pytest.approx(low.y)
    assert asked.street_side == "south side"
    # by hand: 9.14 m east and 4.14 m north of the corner; atan(9.14 / 4.14) = 65.6 degrees
    assert corner_words(low, "si").startswith("10.03 m ENE (grid bearing 66 degrees)")


def test_no_gate_no_street_side() -> None:
    site = make_site("plane", lot=box(0, 0, 40, 30))
    asked = describe_digging(site, MultiPolygon([box(5, 5, 6, 6)]), 0.5, PARAMETERS)
    assert asked.street_side == ""
    assert "not stated" in " ".join(request_words(asked, "si"))


def test_sides_that_face_the_same_way_are_numbered() -> None:
    notched = box(0, 0, 40, 30).difference(box(15, 0, 25, 10))
    site = make_site("plane", lot=notched)
    asked = describe_digging(site, MultiPolygon([box(5, 15, 6, 16)]), 0.5, PARAMETERS)
    names = [side.name for side in asked.sides]
    assert len(set(names)) == len(names) == 8


@given(
    st.lists(
        st.tuples(st.floats(3, 30), st.floats(3, 20), st.floats(0.2, 6), st.floats(0, 90)),
        min_size=1,
        max_size=4,
    ),
    st.just(0.0) | st.floats(0.01, 3.0),
)
@settings(max_examples=40, deadline=None)
def test_outline_holds_all_digging_and_its_margin(
    holes: list[tuple[float, float, float, float]], margin: float
) -> None:
    site = make_site("plane", lot=box(0, 0, 40, 30))
    shapes = [rotate(box(x, y, x + s, y + s), turn) for x, y, s, turn in holes]
    union = shapes[0]
    for shape in shapes[1:]:
        union = union.union(shape)
    digging = union if isinstance(union, MultiPolygon) else MultiPolygon([union])
    asked = describe_digging(site, digging, 1.0, LocateRequestParameters(margin=margin))
    assert asked.outline.buffer(1e-6).covers(digging.buffer(margin))
    assert asked.outline.area <= digging.buffer(margin + 0.6, join_style="mitre").area
    assert sum(len(part.exterior.coords) - 1 for part in asked.outline.geoms) == len(asked.corners)


def test_kml_opens_elsewhere_in_the_right_place(plan: Plan, tmp_path: Path) -> None:
    """GDAL reads it; positions are those of pyproj from the working CRS, within 0.1 m."""
    path = write_locate_request(plan, tmp_path / "locate_request.kml")
    read = pyogrio.read_dataframe(path)
    assert read.crs.to_epsg() == 4326
    shape = read[read.geometry.geom_type == "Polygon"].geometry
    back = gpd.GeoSeries(shape, crs=4326).to_crs(plan.site.crs).union_all()
    assert plan.locate_request is not None
    assert back.hausdorff_distance(plan.locate_request.outline) < 0.1
    points = read[read.geometry.geom_type == "Point"]
    assert len(points) == len(plan.locate_request.corners)
    to_grid = pyproj.Transformer.from_crs(4326, plan.site.crs, always_xy=True)
    for name, spot, corner in zip(
        points["Name"], points.geometry, plan.locate_request.corners, strict=True
    ):
        assert name == f"corner {corner.name}"
        x, y = to_grid.transform(spot.x, spot.y)
        assert np.hypot(x - corner.x, y - corner.y) < 0.1


def test_layer_and_kml_show_the_same_outline(plan: Plan) -> None:
    from geo_site.layers import LAYERS

    layer = next(layer for layer in LAYERS if layer.name == "dig_area")
    (row,) = layer.rows(plan)
    assert plan.locate_request is not None
    assert row["geometry"].equals(plan.locate_request.outline)
    assert plan.dig_area.difference(row["geometry"]).area == 0.0


def test_hostile_names_stay_text(tmp_path: Path) -> None:
    named = replace(site_with_gate(tables=QUICK), name='<script>&"\x07')
    plan = propose(named)
    path = write_locate_request(plan, tmp_path / "a.kml")
    assert "<script>" not in path.read_text(encoding="utf-8")
    assert len(pyogrio.read_dataframe(path)) > 1


def test_nothing_is_dug_where_there_is_no_place(tmp_path: Path) -> None:
    plan = propose(
        make_site("plane", lot=box(0, 0, 40, 30), tables={"constraints": {"steepest": 0.01}})
    )
    assert plan.locate_request is None
    path = write_locate_request(plan, tmp_path / "a.kml")
    assert "nothing is dug" in path.read_text(encoding="utf-8")
