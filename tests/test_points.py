"""Lidar points: the ground's plane comes back, units are stated or asked for, traps refused."""

from __future__ import annotations

import sys
from pathlib import Path

import laspy
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laspy.vlrs.known import GeoKeyDirectoryVlr, GeoKeyEntryStruct
from pyproj import CRS, Transformer
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import ConvexHull, Delaunay

from geo_site.crs import metric_twin
from geo_site.errors import InputRefused
from geo_site.readers.terrain_files import probe, read
from geo_site.readers.triangles import levels_on_grid

UTM = CRS.from_epsg(26917)
EAST, NORTH = 500_000.0, 4_000_000.0
US_FT = 1200.0 / 3937.0


def scattered(count: int = 2000, size: float = 40.0, seed: int = 1) -> np.ndarray:
    """Points on z = 100 + 0.25 (x - x0) - 0.5 (y - y0), exact in thousandths."""
    xy = np.round(np.random.default_rng(seed).uniform(0.0, size, (count, 2)) / 0.004) * 0.004
    xy += np.array([EAST, NORTH])
    return np.column_stack([xy, plane(*xy.T)])


def plane(x, y):
    return 100.0 + 0.25 * (x - EAST) - 0.5 * (y - NORTH)


def write(path: Path, xyz, *, crs=UTM, classes=2, keys=None, withheld=None, version="1.4") -> Path:
    header = laspy.LasHeader(version=version, point_format=6 if version == "1.4" else 1)
    header.scales = np.full(3, 0.001)
    header.offsets = np.array([*np.floor(xyz[:, :2].min(axis=0)), 0.0])
    if crs is not None:
        header.add_crs(crs)
    if keys:
        header.vlrs.append(geo_keys(keys))
    las = laspy.LasData(header)
    las.x, las.y, las.z = xyz.T
    las.classification = np.broadcast_to(classes, len(xyz)).astype(np.uint8)
    if withheld is not None:
        las.withheld = withheld.astype(np.uint8)
    las.write(path)
    return path


def geo_keys(keys: dict[int, int]) -> GeoKeyDirectoryVlr:
    record = GeoKeyDirectoryVlr()
    words = [1, 1, 0, len(keys)]
    for key, value in sorted(keys.items()):
        words += [key, 0, 1, value]
    record.parse_record_data(np.array(words, dtype="<u2").tobytes())
    assert isinstance(record.geo_keys[0], GeoKeyEntryStruct)
    return record


def take(*paths: Path, crs: CRS = UTM, unit: str | None = "m", around=None):
    told = [path.name for path in paths]
    return read(list(paths), told, working_crs=crs, vertical_unit=unit, rmse_z_m=0.1, around=around)


def noted(record, words: str) -> bool:
    return any(words in note for note in record.notes)


def inside_hull(raster, xy) -> np.ndarray:
    x, y = raster.centres()
    centres = np.column_stack([part.ravel() for part in np.meshgrid(x, y)])
    hull = xy[ConvexHull(xy - xy[0]).vertices]
    return (Delaunay(hull - xy[0]).find_simplex(centres - xy[0]) >= 0).reshape(raster.shape)


# --- the plane comes back -----------------------------------------------------------------


@pytest.mark.parametrize("suffix", [".las", ".laz"])
def test_points_on_a_plane_give_the_plane_inside_their_hull_and_nothing_outside(tmp_path, suffix):
    points = scattered()
    raster, record = take(write(tmp_path / f"a{suffix}", points))
    expected = plane(*np.meshgrid(*raster.centres()))
    inside = inside_hull(raster, points[:, :2])
    np.testing.assert_array_equal(np.isfinite(raster.values), inside)
    np.testing.assert_allclose(raster.values[inside], expected[inside], atol=1e-6)
    assert inside.mean() > 0.9
    assert record.unit == "m"
    assert record.count == raster.values.size


def test_the_grid_stands_on_whole_cells(tmp_path):
    raster, _ = take(write(tmp_path / "a.las", scattered()))
    assert raster.transform.c % raster.cell_width_m == 0.0
    assert raster.transform.f % raster.cell_width_m == 0.0


@pytest.mark.parametrize(
    ("per_m2", "cell_m"),
    [(20.0, 0.25), (9.0, 0.5), (1.6, 1.0), (0.5, 2.0), (0.16, 3.0), (0.012, 10.0)],
)
def test_cells_are_no_finer_than_the_spacing_of_the_points(tmp_path, per_m2, cell_m):
    size = 40.0 if per_m2 > 1.0 else 400.0
    points = scattered(int(per_m2 * size * size), size)
    raster, record = take(write(tmp_path / "a.las", points))
    assert raster.cell_width_m == raster.cell_height_m == cell_m
    different = len(np.unique(points[:, :2], axis=0))
    assert noted(record, f"{different:,} ground points")


def test_thin_points_get_cells_as_wide_as_their_spacing(tmp_path):
    raster, _ = take(write(tmp_path / "a.las", scattered(960, 400.0)))  # 12.9 m apart on average
    assert raster.cell_width_m >= 12.9
    assert raster.cell_width_m < 16.0


def test_only_ground_counts(tmp_path):
    ground, above = scattered(seed=1), scattered(seed=2) + np.array([0.0, 0.0, 8.0])
    classes = np.repeat([2, 5, 6], [2000, 1000, 1000])
    raster, _ = take(write(tmp_path / "a.las", np.vstack([ground, above]), classes=classes))
    alone, _ = take(write(tmp_path / "b.las", ground))
    np.testing.assert_array_equal(raster.values, alone.values)


def test_withheld_points_are_left_out_and_told(tmp_path):
    points = scattered()
    away = np.arange(2000) % 100 == 0
    wrong = points + np.where(away, 7.0, 0.0)[:, None] * [0.0, 0.0, 1.0]
    raster, record = take(write(tmp_path / "a.las", wrong, withheld=away))
    expected = plane(*np.meshgrid(*raster.centres()))
    assert np.nanmax(np.abs(raster.values - expected)) < 1e-6
    assert noted(record, "20 ground points are flagged as withheld")


def test_far_from_every_point_there_is_no_level(tmp_path):
    points = scattered(20_000, 100.0)
    middle = points[:, :2] - [EAST + 50.0, NORTH + 50.0]
    kept = points[np.hypot(*middle.T) > 25.0]
    raster, record = take(write(tmp_path / "a.las", kept))
    x, y = np.meshgrid(*raster.centres())
    away = np.hypot(x - EAST - 50.0, y - NORTH - 50.0)
    assert np.all(np.isnan(raster.values[away < 14.5]))  # points end at 25 m; 10 m are bridged
    ring = (away > 16.0) & (away < 45.0)
    np.testing.assert_allclose(raster.values[ring], plane(x, y)[ring], atol=1e-6)
    assert noted(record, "1 hole without data inside")
    assert noted(record, "are bridged: more than 5 m")


def test_only_the_part_around_is_read(tmp_path):
    path = write(tmp_path / "a.las", scattered())
    raster, _ = take(path, around=(EAST + 10.0, NORTH + 10.0, EAST + 20.0, NORTH + 20.0))
    west, south, east, north = raster.bounds
    assert west >= EAST + 9.0
    assert south >= NORTH + 9.0
    assert east <= EAST + 21.0
    assert north <= NORTH + 21.0


# --- triangles on a grid ------------------------------------------------------------------


@settings(deadline=None)
@given(seed=st.integers(0, 2**32 - 1), count=st.integers(3, 60))
def test_levels_on_a_grid_agree_with_another_interpolator(seed, count):
    random = np.random.default_rng(seed)
    points = random.uniform(-3.0, 23.0, (count, 3))
    surface = Delaunay(points[:, :2])
    levels = levels_on_grid(points, surface.simplices, (18, 21))
    col, row = np.meshgrid(np.arange(21.0), np.arange(18.0))
    expected = LinearNDInterpolator(surface, points[:, 2])(col, row)
    both = np.isfinite(levels) & np.isfinite(expected)
    np.testing.assert_allclose(levels[both], expected[both], atol=1e-6)
    assert np.count_nonzero(np.isfinite(levels) != np.isfinite(expected)) == 0


def test_points_on_the_cells_own_lattice_fill_every_cell():
    """Every centre lies on a corner, every other centre's row on a level side."""
    col, row = (part.ravel() for part in np.meshgrid(np.arange(0.0, 9.0, 2.0), np.arange(6.0)))
    points = np.column_stack([col, row, 3.0 * col - 2.0 * row])
    levels = levels_on_grid(points, Delaunay(points[:, :2]).simplices, (6, 9))
    np.testing.assert_allclose(levels, 3.0 * np.arange(9.0) - 2.0 * np.arange(6.0)[:, None])


def test_triangle_without_area_and_triangle_off_the_grid_give_nothing():
    points = np.array([[0, 0, 1], [1, 1, 5], [2, 2, 9], [-9, -9, 1], [-8, -9, 1], [-9, -8, 1.0]])
    levels = levels_on_grid(points, np.array([[0, 1, 2], [3, 4, 5]]), (4, 4))
    assert np.all(np.isnan(levels))


# --- several files ------------------------------------------------------------------------


def test_tiles_give_what_one_file_gives(tmp_path):
    points = scattered()
    points[:, 2] += np.round(np.sin(points[:, 0]), 3)  # not a plane: triangles must agree too
    east, north = points[:, 0] > EAST + 20.0, points[:, 1] > NORTH + 15.0
    parts = [points[e & n] for e in (east, ~east) for n in (north, ~north)]
    tiles = [write(tmp_path / f"{i}.laz", part) for i, part in enumerate(parts)]
    whole, _ = take(write(tmp_path / "a.laz", points))
    raster, record = take(*tiles)
    np.testing.assert_allclose(raster.values, whole.values, atol=1e-9)
    assert raster.transform == whole.transform
    assert len(record.sha256.split(" ")) == 4


def test_points_that_two_tiles_share_count_once(tmp_path):
    points = scattered()
    a = write(tmp_path / "a.las", points[:1500])
    b = write(tmp_path / "b.las", points[500:])
    raster, record = take(a, b)
    np.testing.assert_allclose(
        raster.values, take(write(tmp_path / "c.las", points))[0].values, atol=1e-9
    )
    assert noted(record, "2,000 ground points")


def test_tiles_of_two_crs_and_rasters_with_points_are_refused(tmp_path):
    a = write(tmp_path / "a.las", scattered())
    b = write(tmp_path / "b.las", scattered(), crs=CRS.from_epsg(32617))
    with pytest.raises(InputRefused, match="26917"):
        probe([a, b], ["a.las", "b.las"])
    c = tmp_path / "c.tif"
    c.write_bytes(b"II*\x00")
    with pytest.raises(InputRefused, match="rasters and points"):
        probe([a, c], ["a.las", "c.tif"])


# --- CRS and units ------------------------------------------------------------------------


@pytest.mark.parametrize(("code", "unit_m"), [(2994, 0.3048), (2264, US_FT)])
@pytest.mark.parametrize(("unit", "metres"), [("m", 1.0), ("ft", 0.3048), ("us-ft", US_FT)])
def test_feet_on_the_map_and_in_height_are_apart(tmp_path, code, unit_m, unit, metres):
    points = scattered()
    points[:, :2] += [600_000.0 - EAST, 800_000.0 - NORTH]
    crs = CRS.from_epsg(code)
    raster, record = take(
        write(tmp_path / "a.las", points, crs=crs), crs=metric_twin(crs), unit=unit
    )
    x, y = np.meshgrid(*raster.centres())
    expected = plane(x / unit_m - 600_000.0 + EAST, y / unit_m - 800_000.0 + NORTH) * metres
    known = np.isfinite(raster.values)
    assert known.mean() > 0.8
    np.testing.assert_allclose(raster.values[known], expected[known], atol=1e-6)
    assert raster.bounds[0] == pytest.approx(600_000.0 * unit_m, abs=1.0)
    assert record.unit == unit


@pytest.mark.parametrize(("vertical", "unit"), [("5703", "m"), ("8228", "ft"), ("6360", "us-ft")])
def test_compound_crs_of_the_header_names_the_unit(tmp_path, vertical, unit):
    crs = CRS(f"EPSG:26917+{vertical}")
    found = probe([write(tmp_path / "a.las", scattered(), crs=crs)], ["a.las"])
    assert found.vertical_unit == unit
    assert found.vertical_datum == "North American Vertical Datum 1988"
    assert found.crs.equals(UTM)
    assert found.bounds == pytest.approx((EAST, NORTH, EAST + 40.0, NORTH + 40.0), abs=0.2)


@pytest.mark.parametrize(
    ("keys", "unit"),
    [
        ({1024: 1, 3072: 26917}, None),
        ({1024: 1, 3072: 26917, 4099: 9001}, "m"),
        ({1024: 1, 3072: 26917, 4099: 9002}, "ft"),
        ({1024: 1, 3072: 26917, 4099: 9003}, "us-ft"),
        ({1024: 1, 3072: 26917, 4096: 6360}, "us-ft"),
        ({1024: 1, 3072: 26917, 4096: 5703, 4099: 9001}, "m"),
        ({1024: 1, 3072: 26917, 4096: 5103}, None),  # a datum, not a CRS: says no unit
    ],
)
def test_geotiff_keys_of_the_header_name_the_unit(tmp_path, keys, unit):
    path = write(tmp_path / "a.las", scattered(), crs=None, keys=keys, version="1.2")
    found = probe([path], ["a.las"])
    assert found.vertical_unit == unit
    assert found.crs.to_epsg() == 26917


def test_header_that_contradicts_itself_is_refused(tmp_path):
    for keys in (
        {1024: 1, 3072: 26917, 3076: 9002},
        {1024: 1, 3072: 26917, 4096: 5703, 4099: 9003},
    ):
        path = write(tmp_path / "a.las", scattered(), crs=None, keys=keys, version="1.2")
        with pytest.raises(InputRefused, match="says"):
            probe([path], ["a.las"])


def test_unknown_unit_is_asked_for_and_a_contradiction_refused(tmp_path):
    with pytest.raises(InputRefused, match="metres or feet"):
        take(write(tmp_path / "a.las", scattered()), unit=None)
    path = write(tmp_path / "b.las", scattered(), crs=CRS("EPSG:26917+6360"))
    with pytest.raises(InputRefused, match="vertical_unit says m"):
        take(path, unit="m")


def test_another_working_crs_moves_the_points_not_the_levels(tmp_path):
    """UTM zone 16 instead of 17: the plane is found again where the points came from."""
    raster, _ = take(write(tmp_path / "a.las", scattered()), crs=CRS.from_epsg(26916))
    back = Transformer.from_crs("EPSG:26916", "EPSG:26917", always_xy=True)
    expected = plane(*back.transform(*np.meshgrid(*raster.centres())))
    known = np.isfinite(raster.values)
    assert known.sum() > 1000
    np.testing.assert_allclose(raster.values[known], expected[known], atol=1e-4)


def test_no_crs_is_refused(tmp_path):
    with pytest.raises(InputRefused, match="no CRS"):
        probe([write(tmp_path / "a.las", scattered(), crs=None)], ["a.las"])


# --- what cannot be used ------------------------------------------------------------------


def test_no_ground_is_refused(tmp_path):
    with pytest.raises(InputRefused, match=r"0 ground points \(class 2\)"):
        take(write(tmp_path / "a.las", scattered(), classes=1))


def test_points_on_one_line_are_refused(tmp_path):
    points = scattered()
    points[:, 1] = NORTH
    with pytest.raises(InputRefused, match="one line"):
        take(write(tmp_path / "a.las", points))


def test_ground_that_cannot_be_is_refused(tmp_path):
    points = scattered()
    points[7, 2] = -9999.0
    with pytest.raises(InputRefused, match="cannot be ground"):
        take(write(tmp_path / "a.las", points))


@pytest.mark.parametrize("suffix", [".las", ".laz"])
@pytest.mark.parametrize("kept", [0.02, 0.5, 0.95])
def test_truncated_file_is_refused(tmp_path, suffix, kept):
    path = write(tmp_path / f"a{suffix}", scattered())
    data = path.read_bytes()
    path.write_bytes(data[: int(kept * len(data))])
    with pytest.raises(InputRefused, match=r"get it again|no CRS"):  # a header cut short
        take(path)


def test_header_that_promises_more_than_memory_holds_is_refused(tmp_path):
    path = write(tmp_path / "a.las", scattered())
    data = bytearray(path.read_bytes())
    data[235:247] = (227).to_bytes(8, "little") + (1).to_bytes(4, "little")  # one extended record
    data[247:255] = (2**62).to_bytes(8, "little")  # read as its length: it starts at byte 227
    path.write_bytes(data)
    with pytest.raises(InputRefused, match="broken or cut short"):
        take(path)


def test_missing_extra_is_named(tmp_path, monkeypatch):
    path = write(tmp_path / "a.las", scattered())
    monkeypatch.setitem(sys.modules, "laspy", None)
    with pytest.raises(InputRefused, match=r"geo-site\[lidar\]"):
        probe([path], ["a.las"])


def test_same_files_same_bytes(tmp_path):
    path = write(tmp_path / "a.laz", scattered())
    (first, record), (second, again) = take(path), take(path)
    assert first.values.tobytes() == second.values.tobytes()
    assert record == again
