"""Root zones: radii of published rules, and how they order."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo_site import root_zones

STEMS = st.floats(0.01, 3.0)


def test_root_protection_radius():
    """TRE-01: BS 5837:2012, twelve stem diameters; stem 0.45 m."""
    radius_m = root_zones.root_protection_radius(0.45)
    assert radius_m == pytest.approx(5.40, abs=1e-9)
    assert math.pi * radius_m**2 == pytest.approx(91.609, abs=1e-3)


def test_critical_root_zone():
    """TRE-03: 1 ft of radius for an inch of stem, 1.5 ft for sensitive trees; 18 in stem."""
    stem_m = 18 * 0.0254
    assert root_zones.critical_root_radius(stem_m) / 0.3048 == pytest.approx(18.0, abs=1e-9)
    sensitive_m = root_zones.critical_root_radius(stem_m, root_zones.SENSITIVE_RATIO)
    assert sensitive_m / 0.3048 == pytest.approx(27.0, abs=1e-9)


def test_root_protection_has_a_limit():
    """TRE-04: BS 5837:2012 (limit from memory), 707 m2."""
    assert root_zones.root_protection_radius(2.0) == 15.0
    assert math.sqrt(707 / math.pi) == pytest.approx(
        root_zones.root_protection_radius(2.0), abs=0.01
    )
    assert root_zones.critical_root_radius(2.0) == 24.0


def test_structural_root_radius():
    """TRE-05: AS 4970 (formula from memory), stem 0.60 m."""
    assert root_zones.structural_root_radius(0.60) == pytest.approx(2.670, abs=1e-3)
    assert root_zones.structural_root_radius(0.05) == 1.5


def test_stems_combine_by_area_up_to_five():
    """TRE-06: BS 5837:2012: two to five stems by the root of squares, more by their mean."""
    assert root_zones.combined_stem_diameter([0.3, 0.4]) == pytest.approx(0.5)
    assert root_zones.combined_stem_diameter([0.2] * 9) == pytest.approx(0.6)
    six = [0.1, 0.1, 0.1, 0.1, 0.1, 0.7]
    assert root_zones.combined_stem_diameter(six) == pytest.approx(0.2 * math.sqrt(6))


def test_girth_is_not_diameter():
    """TRE-07: a girth read as a diameter would make the zone pi times too wide (definition)."""
    stem_m = root_zones.stem_diameter_from_girth(1.0)
    assert stem_m == pytest.approx(0.318310, abs=1e-6)
    assert root_zones.root_protection_radius(stem_m) == pytest.approx(12 / math.pi)


@pytest.mark.parametrize("bad", [0.0, -0.3, math.nan, math.inf])
def test_a_stem_without_size_is_refused(bad):
    for radius in (
        root_zones.root_protection_radius,
        root_zones.critical_root_radius,
        root_zones.structural_root_radius,
        root_zones.stem_diameter_from_girth,
    ):
        with pytest.raises(ValueError, match="positive"):
            radius(bad)
    with pytest.raises(ValueError, match="positive"):
        root_zones.combined_stem_diameter([0.3, bad])


def test_a_tree_has_a_stem():
    with pytest.raises(ValueError, match="at least one"):
        root_zones.combined_stem_diameter([])


@given(STEMS, STEMS)
def test_a_thicker_tree_never_gets_less(one, other):
    thin, thick = sorted((one, other))
    for radius in (root_zones.root_protection_radius, root_zones.structural_root_radius):
        assert radius(thin) <= radius(thick)


@given(st.lists(STEMS, min_size=1, max_size=5))
def test_stems_together_are_thicker_than_any(stems):
    combined_m = root_zones.combined_stem_diameter(stems)
    assert max(stems) <= combined_m * (1 + 1e-12)
    assert combined_m <= sum(stems) * (1 + 1e-12)
