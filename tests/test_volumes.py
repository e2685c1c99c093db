"""Volumes: closed forms, soils and basins."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo_site import volumes

FOOT = 0.3048
YARD3 = 0.764554857984
GALLON = 3.785411784e-3
SIZES = st.floats(0.1, 20.0)


def test_a_battered_pit_is_a_prismoid():
    """EXC-10: floor 10 x 8 ft, 4 ft deep, sides 1:1 (geometry): 693.33 ft3, 25.679 yd3."""
    found = volumes.prismoidal_volume(80.0, 168.0, 288.0, 4.0)
    assert found == pytest.approx(693.3333333, rel=1e-6)
    assert volumes.battered_pit_volume(10, 8, 4, 1.0) == pytest.approx(found, rel=1e-12)
    assert found * FOOT**3 / YARD3 == pytest.approx(25.679, abs=1e-3)
    assert found != pytest.approx(693.05, abs=0.1), "the frustum formula"


def test_average_end_areas_are_too_much():
    """EXC-10: average end areas give 736.0 ft3 for the same pit, 6.2 % too much."""
    average = volumes.average_end_area_volume(80.0, 288.0, 4.0)
    assert average == pytest.approx(736.0)
    assert average / volumes.battered_pit_volume(10, 8, 4, 1.0) == pytest.approx(1.062, abs=1e-3)


def test_top_of_a_battered_pit():
    """EXC-02: 29 CFR 1926 Subpart P, class C: floor 10 x 8 ft, 4 ft deep, top 22 x 20 ft."""
    top = volumes.battered_top(10.0, 8.0, 4.0, volumes.EXCAVATION_BATTERS["c"])
    assert top == (22.0, 20.0)


def test_grid_of_corner_depths():
    """EXC-12: borrow-pit method, cells of 100 m2: A/4 (h1 + 2 h2 + 4 h4) is 482.5 m3."""
    depths = np.array([[1.0, 1.2, 1.4], [1.1, 1.3, 1.5], [0.9, 1.0, 1.2]])
    found = volumes.corner_grid_volume(depths, 100.0)
    assert found == pytest.approx(482.5, abs=1e-9)
    cells = (depths[:-1, :-1] + depths[1:, :-1] + depths[:-1, 1:] + depths[1:, 1:]) / 4
    assert found == pytest.approx(cells.sum() * 100.0, abs=1e-9)
    assert found != pytest.approx(depths.mean() * 400.0, abs=1.0), "the mean of all corners"


def test_swell_by_soil():
    """EXC-20: US Army FM 5-434, table 1-1: the pit of EXC-10 dug loose, in yd3."""
    for soil, loose in (("common_earth", 32.10), ("clay", 36.72), ("sand", 28.50)):
        found = volumes.loose_from_bank(25.679, volumes.SOIL_VOLUMES[soil].swell_factor)
        assert found == pytest.approx(loose, abs=0.005)
        assert found != pytest.approx(34.24, abs=0.01), "swell read as bank / (1 - 0.25)"


@pytest.mark.parametrize(
    ("soil", "loose_to_bank", "loose_to_compacted"),
    [
        ("sand", 0.90, 0.86),
        ("common_earth", 0.80, 0.72),
        ("clay", 0.70, 0.63),
        ("rock", 0.67, 0.87),
    ],
)
def test_the_four_columns_agree(soil, loose_to_bank, loose_to_compacted):
    """EXC-21: US Army FM 5-434, table 1-1 (partly from memory): printed factors of loose soil."""
    row = volumes.SOIL_VOLUMES[soil]
    assert volumes.bank_from_loose(1.0, row.swell_factor) == pytest.approx(loose_to_bank, abs=0.005)
    compacted = volumes.compacted_from_bank(1 / row.swell_factor, row.shrink_factor)
    assert compacted == pytest.approx(loose_to_compacted, abs=0.006)


def test_sand_of_the_field_manual():
    """EXC-21: US Army FM 5-434: 100 of sand in place are 111 loose and 95 compacted."""
    sand = volumes.SOIL_VOLUMES["sand"]
    assert volumes.loose_from_bank(100, sand.swell_factor) == pytest.approx(111)
    assert volumes.compacted_from_bank(100, sand.shrink_factor) == pytest.approx(95)


def test_cone_of_a_volume():
    """EXC-30: cone of 10 m3 at 35 degrees (geometry)."""
    radius_m, height_m = volumes.cone_of_volume(10.0, math.tan(math.radians(35)))
    assert radius_m == pytest.approx(2.3892, abs=1e-4)
    assert height_m == pytest.approx(1.6729, abs=1e-4)
    assert math.pi * radius_m**2 * height_m / 3 == pytest.approx(10.0)


def test_cone_of_the_spoil_of_a_pit():
    """EXC-31: 32.10 loose yd3 (866.7 ft3) at 37 degrees (geometry), in feet."""
    radius_ft, height_ft = volumes.cone_of_volume(866.7, math.tan(math.radians(37)))
    assert radius_ft == pytest.approx(10.317, abs=1e-3)
    assert height_ft == pytest.approx(7.775, abs=1e-3)


def test_truncated_cone():
    """EXC-33: radii 4 and 2 m, height 1.4 m (geometry)."""
    assert volumes.truncated_cone_volume(4.0, 2.0, 1.4) == pytest.approx(41.050, abs=1e-3)


def test_batters_by_soil_class():
    """OSH-02: 29 CFR 1926 Subpart P, appendix B, table B-1; soil not classed is class C."""
    assert dict(volumes.EXCAVATION_BATTERS) == {"stable_rock": 0, "a": 0.75, "b": 1, "c": 1.5}
    assert max(volumes.EXCAVATION_BATTERS.values()) == volumes.BATTER_OF_UNKNOWN_SOIL


def test_spoil_stays_off_the_edge():
    """OSH-01: 29 CFR 1926.651(j)(2): at least 2 feet (.61 m) from the edge."""
    assert volumes.SPOIL_SETBACK_M >= 2 * FOOT
    assert pytest.approx(0.61) == volumes.SPOIL_SETBACK_M


@pytest.mark.parametrize(
    ("depth_ft", "codes"),
    [
        (3.99, []),
        (4, ["egress"]),
        (4.99, ["egress"]),
        (5, ["egress", "protection"]),
        (20, ["egress", "protection", "engineer"]),
        (math.nan, ["egress", "protection", "engineer"]),
    ],
)
def test_duties_by_depth(depth_ft, codes):
    """OSH-03: 29 CFR 1926.651(c)(2), .652(a)(1), table B-1: 4, 5 and 20 ft; unknown is deep."""
    assert [rule.code for rule in volumes.depth_rules(depth_ft * FOOT)] == codes


def test_angles_of_repose():
    """EXC-40: USBR Hyd-299 (1950), dry sand 34 degrees; mixed spoil is common practice."""
    assert volumes.REPOSE_ANGLES["dry_sand"].least_deg == 34
    for row in volumes.REPOSE_ANGLES.values():
        assert 15 < row.least_deg <= row.most_deg <= 45
        assert row.source


def test_density_of_loose_stone():
    """GEO-01: specific gravity 2.65, voids 0.40 (definition)."""
    found = volumes.bulk_density(2.65, 0.40)
    assert found == pytest.approx(1.590, rel=1e-3)
    assert found * 1000 / 16.0184634 == pytest.approx(99.26, rel=1e-3)
    assert found / 1.18655284 == pytest.approx(1.340, rel=1e-3)


@pytest.mark.parametrize(("voids", "gallons"), [(0.40, 538.6), (0.95, 1279.2), (1.0, 1346.5)])
def test_water_stored_in_a_basin(voids, gallons):
    """GEO-02: basin 12 x 6 ft, 2.5 ft of usable depth (geometry)."""
    found = volumes.stored_volume(12 * FOOT, 6 * FOOT, 2.5 * FOOT, voids)
    assert found / GALLON == pytest.approx(gallons, abs=0.1)


def test_uplift_of_an_empty_basin():
    """GEO-03: 3 x 2 m, groundwater 0.6 m above the base (Archimedes, 9.81 kN/m3)."""
    assert volumes.uplift_force(6.0, 0.6) == pytest.approx(35_320, rel=1e-3)
    assert volumes.uplift_force(6.0, -0.6) == 0.0


def test_cover_that_holds_a_basin_down():
    """GEO-04: safety factor 1.2 (from memory), soil 18 kN/m3, 0.6 m of groundwater."""
    assert volumes.cover_against_uplift(0.6, 18_000, 1.2) == pytest.approx(0.392, abs=1e-3)


def test_liner_sheet():
    """GEO-05: basin 12 x 6 x 2.5 ft, 1.5 ft over the rim (geometry): 20 x 14 ft."""
    length_ft, width_ft = volumes.liner_size(12, 6, 2.5, 1.5)
    assert (length_ft, width_ft) == (20, 14)
    assert length_ft * width_ft == 280


def test_stone_of_a_layer():
    """GEO-07: 280 ft2, 4 in thick, 1.6 t/m3 (arithmetic): 2.643 m3, 4.229 t."""
    area_m2, thickness_m = 280 * FOOT**2, 4 * 0.0254
    assert area_m2 * thickness_m == pytest.approx(2.643, rel=1e-3)
    assert volumes.layer_mass(area_m2, thickness_m, 1.6) == pytest.approx(4229, rel=1e-3)


def test_water_under_way_in_a_stream():
    """GEO-10: stream 30 x 2 ft, 2 in deep (geometry): 74.8 gal."""
    found = volumes.stored_volume(30 * FOOT, 2 * FOOT, 2 * 0.0254, 1.0)
    assert found / GALLON == pytest.approx(74.8, abs=0.05)


def test_an_inch_of_rain():
    """GEO-11: 1 in on 1,000 ft2 (geometry): 623.4 gal."""
    found = volumes.stored_volume(100 * FOOT, 10 * FOOT, 0.0254, 1.0)
    assert found / GALLON == pytest.approx(623.4, abs=0.05)


@pytest.mark.parametrize(
    "refused",
    [
        lambda: volumes.loose_from_bank(1.0, 0.25),
        lambda: volumes.bank_from_loose(1.0, math.nan),
        lambda: volumes.compacted_from_bank(1.0, 0.0),
        lambda: volumes.bank_from_compacted(1.0, -0.9),
        lambda: volumes.cone_of_volume(-1.0, 0.7),
        lambda: volumes.cone_of_volume(1.0, 0.0),
        lambda: volumes.stored_volume(1.0, 1.0, 1.0, 40),
        lambda: volumes.bulk_density(2.65, -0.1),
        lambda: volumes.cover_against_uplift(0.6, 0.0, 1.2),
    ],
)
def test_absurd_factors_are_refused(refused):
    with pytest.raises(ValueError, match=r"swell|shrink|cone|void|soil"):
        refused()


@given(SIZES, SIZES, SIZES, st.floats(0, 3))
def test_prismoid_and_closed_form_agree(length, width, depth, batter):
    def section(height):
        top = volumes.battered_top(length, width, height, batter)
        return top[0] * top[1]

    prismoid = volumes.prismoidal_volume(section(0), section(depth / 2), section(depth), depth)
    closed = volumes.battered_pit_volume(length, width, depth, batter)
    assert prismoid == pytest.approx(closed, rel=1e-9)
    assert volumes.rounded_pit_volume(length, width, depth, batter) <= closed * (1 + 1e-12)
    ends = volumes.average_end_area_volume(section(0), section(depth), depth)
    assert ends >= closed * (1 - 1e-12)


@given(st.floats(0, 1e4), st.sampled_from(sorted(volumes.SOIL_VOLUMES)))
def test_volumes_convert_there_and_back(bank, soil):
    row = volumes.SOIL_VOLUMES[soil]
    loose = volumes.loose_from_bank(bank, row.swell_factor)
    compacted = volumes.compacted_from_bank(bank, row.shrink_factor)
    assert volumes.bank_from_loose(loose, row.swell_factor) == pytest.approx(bank)
    assert volumes.bank_from_compacted(compacted, row.shrink_factor) == pytest.approx(bank)
    assert loose >= bank


@given(SIZES, SIZES)
def test_a_truncated_cone_is_the_difference_of_two(radius, height):
    whole = volumes.truncated_cone_volume(radius, 0.0, height)
    tip = volumes.truncated_cone_volume(radius / 2, 0.0, height / 2)
    frustum = volumes.truncated_cone_volume(radius, radius / 2, height / 2)
    assert frustum == pytest.approx(whole - tip)
