"""A basin and a pile that a person drew: units, pit and volumes counted by hand."""

from __future__ import annotations

from math import pi, radians, tan

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_site, make_terrain, plane
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon, box

from geo_site.earthwork import EarthworkParameters
from geo_site.earthwork.pile import pile_on
from geo_site.errors import InputRefused
from geo_site.siting import SitingParameters, place_drawn

P = SitingParameters()
LEVEL = make_site(lambda x, _: np.full_like(x, 100.0)).terrain
OVERDIG_M, BATTER, DEPTH_M = 0.3, 1.5, 0.15 + 0.45 + 0.10
ELL = Polygon([(0, 0), (4, 0), (4, 1.2), (1.6, 1.2), (1.6, 3), (0, 3)])
NAN = float("nan")


def at(outline: Polygon, turn_deg: float = 0.0, x: float = 18.3, y: float = 14.1) -> Polygon:
    return translate(rotate(outline, turn_deg, origin=(0, 0)), x, y)


# Units.


def test_the_defaults_are_those_that_the_numbers_here_are_counted_from() -> None:
    assert (P.unit_length, P.unit_width, P.unit_height) == (0.8, 0.6, 0.45)
    assert (P.overdig, P.cover, P.bedding, P.layers) == (OVERDIG_M, 0.15, 0.10, 1)


@pytest.mark.parametrize(
    ("length_m", "width_m", "units"),
    [
        (3.2, 1.8, 12),  # 4 of 0.8 by 3 of 0.6: whole
        (3.3, 1.9, 12),  # a strip is left on two sides
        (2.4, 1.6, 8),  # 4 of 0.6 by 2 of 0.8, not 3 by 2: the way round that takes more
        (3.195, 1.795, 12),  # 5 mm short is meant to be whole
        (3.18, 1.8, 10),  # 2 cm short is not: 5 of 0.6 by 2 of 0.8
    ],
)
@pytest.mark.parametrize("turn_deg", [0.0, 37.0])
def test_whole_units_of_a_rectangle(
    length_m: float, width_m: float, units: int, turn_deg: float
) -> None:
    drawn = place_drawn(LEVEL, at(box(0, 0, length_m, width_m), turn_deg), NAN, P)
    assert drawn.design.units == units
    assert drawn.design.stored_m3 == pytest.approx(units * 0.8 * 0.6 * 0.45 * 0.95)
    whole = length_m in (3.2, 3.195, 2.4)
    assert bool(drawn.notes) is not whole


@pytest.mark.parametrize("turn_deg", [0.0, 25.0, 90.0, 163.0])
def test_whole_units_of_an_outline_that_is_no_rectangle(turn_deg: float) -> None:
    """Two rows of five along the foot, three rows of two in the leg."""
    drawn = place_drawn(LEVEL, at(ELL, turn_deg), NAN, P)
    assert drawn.design.units == 2 * 5 + 3 * 2
    assert "no rectangle" in drawn.notes[0]


def test_points_on_straight_sides_change_nothing() -> None:
    outline = at(box(0, 0, 3.2, 1.8), 20.0)
    plain = place_drawn(LEVEL, outline, NAN, P)
    dotted = place_drawn(LEVEL, outline.segmentize(0.3), NAN, P)
    assert dotted.design == plain.design
    assert dotted.placement.excavation.hausdorff_distance(plain.placement.excavation) < 1e-6
    assert dotted.placement.footprint.equals_exact(outline.segmentize(0.3), 0.0)


@pytest.mark.parametrize(
    ("depth_m", "layers", "note"),
    [(NAN, 1, ""), (0.70, 1, ""), (1.15, 2, "as 2 layers"), (0.9, 1, "no number of layers")],
)
def test_the_depth_is_kept_where_layers_make_it(depth_m: float, layers: int, note: str) -> None:
    drawn = place_drawn(LEVEL, at(box(0, 0, 3.2, 1.8)), depth_m, P)
    assert drawn.design.layers == layers
    assert drawn.design.depth_m == pytest.approx(0.15 + 0.10 + 0.45 * layers)
    assert note in "".join(drawn.notes)
    assert bool(note) is bool(drawn.notes)


# The pit.


@pytest.mark.parametrize("outline", [box(0, 0, 3.2, 1.8), ELL, Polygon([(0, 0), (5, 0), (0, 4)])])
@pytest.mark.parametrize("turn_deg", [0.0, 31.0])
def test_on_level_ground_a_pit_is_overdig_and_batter_round_the_outline(
    outline: Polygon, turn_deg: float
) -> None:
    """Sides of 1.5:1 to 0.70 m are 1.05 m wide; round a corner they are a cone."""
    drawn = place_drawn(LEVEL, at(outline, turn_deg), NAN, P).placement
    pit_floor = at(outline, turn_deg).buffer(OVERDIG_M, join_style="mitre")
    wanted = pit_floor.buffer(BATTER * DEPTH_M, quad_segs=64)
    assert drawn.rim_level_m == pytest.approx(100.0)
    assert drawn.floor_level_m == pytest.approx(100.0 - DEPTH_M)
    assert drawn.greatest_depth_m == pytest.approx(DEPTH_M)
    assert drawn.excavation.hausdorff_distance(wanted) < 0.05
    assert drawn.excavation.area == pytest.approx(wanted.area, rel=0.01)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    east=st.floats(-0.15, 0.15),
    north=st.floats(-0.15, 0.15),
    turn_deg=st.floats(0.0, 180.0),
    outline=st.sampled_from([box(0, 0, 3.2, 1.8), ELL]),
)
def test_on_a_plane_the_rim_is_its_level_at_the_lowest_corner(
    east: float, north: float, turn_deg: float, outline: Polygon
) -> None:
    ground = make_terrain(plane(east, north), cell_m=1.0)
    shape = at(outline, turn_deg)
    drawn = place_drawn(ground, shape, NAN, P)

    def level_m(xy: np.ndarray) -> np.ndarray:
        return np.asarray(100.0 + east * xy[:, 0] + north * xy[:, 1])

    corners = shapely.get_coordinates(shape)
    assert drawn.placement.rim_level_m == pytest.approx(level_m(corners).min(), abs=1e-6)
    edge = shapely.get_coordinates(drawn.placement.excavation)
    deepest_m = level_m(edge).max() - drawn.placement.floor_level_m
    assert drawn.placement.greatest_depth_m == pytest.approx(deepest_m, abs=1e-3)
    floor = shapely.get_coordinates(drawn.placement.pit_floor)
    assert drawn.rise_m == pytest.approx(np.ptp(level_m(floor)), abs=0.02)
    # Each point of the edge is as high over the floor as its distance from the floor's edge asks.
    away_m = shapely.distance(drawn.placement.pit_floor, shapely.points(edge))
    assert level_m(edge) - drawn.placement.floor_level_m == pytest.approx(away_m / 1.5, abs=0.05)


@pytest.mark.parametrize("outline", [box(0, 0, 3.2, 1.8), ELL])
def test_a_pit_on_ground_without_data_is_refused(outline: Polygon) -> None:
    holed = make_terrain(lambda x, y: np.where(np.hypot(x - 20, y - 15) < 2, np.nan, 100.0))
    with pytest.raises(InputRefused, match="without terrain data"):
        place_drawn(holed, at(outline), NAN, P)
    with pytest.raises(InputRefused, match="without terrain data"):
        place_drawn(holed, at(outline, x=58.0), NAN, P)
    with pytest.raises(InputRefused, match="without terrain data"):
        place_drawn(holed, at(outline, x=500.0), NAN, P)


def test_an_outline_without_room_for_a_unit_is_refused() -> None:
    thin = Polygon([(0, 0), (4, 0), (4, 0.2), (0.2, 0.2), (0.2, 4), (0, 4)])
    with pytest.raises(InputRefused, match="takes no void unit"):
        place_drawn(LEVEL, at(thin), NAN, P)


# The pile.


def frustum_m3(side_m: float, height_m: float, slope: float) -> float:
    top_m = side_m - 2.0 * height_m / slope
    return height_m / 3.0 * (side_m**2 + side_m * top_m + top_m**2)


@pytest.mark.parametrize("height_m", [0.3, 0.8])
def test_a_pile_on_a_drawn_square_is_a_frustum(height_m: float) -> None:
    rules = EarthworkParameters()
    slope = tan(radians(rules.repose_angle))
    toe = at(box(0, 0, 5.0, 5.0))
    wanted_m3 = frustum_m3(5.0, height_m, slope)
    pile = pile_on(toe, LEVEL, wanted_m3, 1.25, rules)
    assert pile.volume_m3 == pytest.approx(wanted_m3)
    assert pile.height_m == pytest.approx(height_m, rel=0.03)
    assert pile.bank_m3 == pytest.approx(wanted_m3 / 1.25)
    assert pile.geometry.equals_exact(toe, 0.0)


def test_a_pile_holds_no_more_than_its_cone() -> None:
    rules = EarthworkParameters()
    toe = at(shapely.Point(0, 0).buffer(1.5, quad_segs=32))
    cone_m3 = pi / 3.0 * 1.5**3 * tan(radians(rules.repose_angle))
    pile = pile_on(toe, LEVEL, 1000.0, 1.25, rules)
    assert pile.volume_m3 == pytest.approx(cone_m3, rel=0.03)


def test_a_pile_on_ground_that_is_not_known_holds_nothing() -> None:
    rules = EarthworkParameters()
    pile = pile_on(at(box(0, 0, 3, 3), x=500.0), LEVEL, 5.0, 1.25, rules)
    assert pile.volume_m3 == 0.0
