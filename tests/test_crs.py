"""One CRS, settled once: published projection examples, foot twins, refused datum shifts."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import CRS, Transformer

from geo_site import crs
from geo_site.errors import InputRefused


def project(lon: float, lat: float, code: int, geographic: int) -> tuple[float, float]:
    way = Transformer.from_crs(geographic, code, always_xy=True)
    return way.transform(lon, lat)


def test_lambert_two_parallels_in_survey_feet() -> None:
    """GEOD-04: IOGP Geomatics Guidance Note 7-2 (2019), Lambert conic with two parallels."""
    x, y = project(-96.0, 28.5, 32040, 4267)
    assert x == pytest.approx(2963503.91, abs=0.01)
    assert y == pytest.approx(254759.80, abs=0.01)


def test_transverse_mercator() -> None:
    """GEOD-02: IOGP Geomatics Guidance Note 7-2 (2019), Transverse Mercator, OSGB36 degrees."""
    x, y = project(0.5, 50.5, 27700, 4277)
    assert x == pytest.approx(577274.99, abs=0.01)
    assert y == pytest.approx(69740.50, abs=0.01)


def test_central_meridian_of_a_utm_zone() -> None:
    """GEOD-10: PROJ, the central meridian stands at 500 km east by definition."""
    x, y = project(-81.0, 36.0, 32617, 4326)
    assert x == pytest.approx(500_000.0, abs=1e-3)
    assert y == pytest.approx(3_983_948.453, abs=1e-3)


def test_units_in_the_registry() -> None:
    """GEOD-08: EPSG registry; North Carolina is in US survey feet, Oregon in feet."""
    assert crs.linear_unit_m(CRS.from_epsg(2264)) == pytest.approx(1200 / 3937, rel=1e-15)
    assert crs.linear_unit_m(CRS.from_epsg(2994)) == 0.3048
    assert crs.linear_unit_m(CRS.from_epsg(26918)) == 1.0


def test_metric_twin_of_the_foot_grid_is_the_metric_grid() -> None:
    """GEOD-09: North Carolina's two grids of one projection, EPSG 2264 (ftUS) and 32119 (m)."""
    twin = crs.metric_twin(CRS.from_epsg(2264))
    assert crs.linear_unit_m(twin) == 1.0
    east, north = project(-79.5, 35.2, 32119, 4269)
    way = Transformer.from_crs(CRS.from_epsg(4269), twin, always_xy=True)
    assert way.transform(-79.5, 35.2) == pytest.approx((east, north), abs=1e-3)


@pytest.mark.parametrize("code", [2264, 2227, 2994, 2913])
def test_twin_coordinates_are_the_foot_ones_times_the_unit(code: int) -> None:
    feet = CRS.from_epsg(code)
    way = Transformer.from_crs(feet, crs.metric_twin(feet), always_xy=True)
    xy = np.array([[2_000_000.0, 300_000.0], [1_234_567.8, 98_765.4]])
    moved = np.column_stack(way.transform(xy[:, 0], xy[:, 1]))
    assert moved == pytest.approx(xy * crs.linear_unit_m(feet), abs=1e-6)


def test_the_false_easting_error_would_be_seen() -> None:
    """GEOD-01: 2,000,000 survey feet read as feet miss by 1.219 m (NIST SP 811 definitions)."""
    wrong = 2_000_000.0 * (1200 / 3937 - 0.3048)
    assert wrong == pytest.approx(1.219202, abs=1e-6)


def test_web_mercator_is_not_true_to_scale() -> None:
    web = CRS.from_epsg(3857)
    assert not crs.is_true_to_scale(web, 0.0, 5_000_000.0)
    assert crs.is_true_to_scale(CRS.from_epsg(32618), 500_000.0, 4_500_000.0)
    assert not crs.is_true_to_scale(CRS.from_epsg(32618), 1_400_000.0, 4_500_000.0)


def test_old_datum_without_its_grid_is_refused() -> None:
    with pytest.raises(
        InputRefused, match=r"lots\.shp: the accuracy of the datum shift from NAD27"
    ):
        crs.shift_between(CRS.from_epsg(4267), CRS.from_epsg(26918), file="lots.shp")


def test_coarse_shift_is_refused_and_a_stated_one_is_believed() -> None:
    wgs84, nad83 = CRS.from_epsg(4326), CRS.from_epsg(26918)
    with pytest.raises(InputRefused, match="known to 4 m only"):
        crs.shift_between(wgs84, nad83)
    assert crs.shift_between(wgs84, nad83, stated_accuracy_m=0.3).accuracy_m == 0.3
    with pytest.raises(InputRefused):
        crs.shift_between(wgs84, nad83, stated_accuracy_m=3.0)


def test_pure_projection_costs_nothing() -> None:
    shift = crs.shift_between(CRS.from_epsg(4269), CRS.from_epsg(26918))
    assert shift.accuracy_m == 0.0
    assert shift(np.array([[-75.0, 40.0]]))[0, 0] == pytest.approx(500_000.0, abs=1e-3)


def test_compound_gives_its_horizontal_part() -> None:
    assert crs.horizontal(CRS.from_user_input("EPSG:26918+5703")).to_epsg() == 26918


def test_wkt_survives() -> None:
    twin = crs.metric_twin(CRS.from_epsg(2264))
    assert CRS.from_wkt(crs.as_wkt(twin)) == twin


@pytest.mark.parametrize(("lon", "zone"), [(-180.0, 1), (-81.0, 17), (0.0, 31), (179.9, 60)])
def test_utm_zone(lon: float, zone: int) -> None:
    assert crs.utm_for(lon, 45.0).to_epsg() == 32600 + zone
    assert crs.utm_for(lon, -45.0).to_epsg() == 32700 + zone


def test_universal_transverse_mercator_on_the_old_ellipsoid() -> None:
    """GEOD-05: Snyder, USGS Professional Paper 1395, p. 269: UTM 18 on Clarke 1866."""
    way = Transformer.from_crs(
        CRS.from_proj4("+proj=longlat +ellps=clrk66"),
        CRS.from_proj4("+proj=utm +zone=18 +ellps=clrk66"),
        always_xy=True,
    )
    x, y = way.transform(-73.5, 40.5)
    assert x - 500_000.0 == pytest.approx(127_106.5, abs=0.06)
    assert y == pytest.approx(4_484_124.4, abs=0.06)


def test_grid_scale_at_a_central_meridian() -> None:
    """GEOD-11: 100 ft of pipe on a UTM grid measure 99.96 ft (scale 0.9996 by definition)."""
    factor = crs.scale_factor(CRS.from_epsg(32617), 500_000.0, 4_000_000.0)
    assert 100.0 * (1.0 - factor) == pytest.approx(0.040, abs=1e-6)


def test_grid_and_ground_distance() -> None:
    """GEOD-06: NOAA Manual NOS NGS 5, section 4: a line of 4,805.468 ft at 865 ft above sea."""
    foot = 1200 / 3937
    height_m, radius_m = (865.0 - 100.0) * foot, 20_906_000.0 * foot
    assert crs.combined_factor(1.0, height_m, radius_m) == pytest.approx(0.9999634, abs=5e-8)
    factor = crs.combined_factor(1.0000450, height_m, radius_m)
    assert factor == pytest.approx(1.0000084, abs=5e-8)
    assert 4805.468 * factor == pytest.approx(4805.508, abs=5e-4)
