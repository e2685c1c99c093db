"""Terrain rasters: exact units, own cells kept, tiles joined, traps refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Transformer

from geo_site.crs import metric_twin
from geo_site.errors import InputRefused
from geo_site.readers.terrain_files import probe, read

UTM = "EPSG:26917"
METRES = CRS.from_user_input(UTM)
AT = Affine(1.0, 0.0, 500_000.0, 0.0, -1.0, 4_000_000.0)
US_FT = 1200.0 / 3937.0


def plane(rows: int = 20, cols: int = 30, at: Affine = AT) -> np.ndarray:
    """z = 100 + 0.03 (x - x0) - 0.04 (y - y0), at cell centres."""
    col, row = np.meshgrid(np.arange(cols) + 0.5, np.arange(rows) + 0.5)
    x = at.a * col + at.b * row + at.c
    y = at.d * col + at.e * row + at.f
    return height(x, y)


def height(x, y):
    return 100.0 + 0.03 * (x - 500_000.0) - 0.04 * (y - 4_000_000.0)


def write(path: Path, values, *, at=AT, crs=UTM, driver="GTiff", nodata=None, **more) -> Path:
    values = np.asarray(values)
    bands = values if values.ndim == 3 else values[None]
    unit, scale, offset = (more.pop(k, None) for k in ("unit", "scale", "offset"))
    options = {"count": len(bands), "height": bands.shape[1], "width": bands.shape[2]}
    with rasterio.open(
        path, "w", driver=driver, dtype=bands.dtype, crs=crs, transform=at, nodata=nodata,
        **options, **more,
    ) as sink:  # fmt: skip
        sink.write(bands)
        if unit:
            sink.units = (unit,)
        if scale:
            sink.scales, sink.offsets = (scale,), (offset,)
    return path


def take(*paths: Path, crs: CRS = METRES, unit: str | None = "m", rmse: float = 0.1, around=None):
    told = [path.name for path in paths]
    return read(
        list(paths), told, working_crs=crs, vertical_unit=unit, rmse_z_m=rmse, around=around
    )


def noted(record, words: str) -> bool:
    return any(words in note for note in record.notes)


# --- what a file says ---------------------------------------------------------------------


def test_probe_reads_crs_and_bounds_and_stays_silent_where_the_file_is(tmp_path):
    found = probe([write(tmp_path / "a.tif", plane())], ["a.tif"])
    assert found.crs.to_epsg() == 26917
    assert found.vertical_unit is None
    assert found.vertical_datum == ""
    assert found.bounds == (500_000.0, 3_999_980.0, 500_030.0, 4_000_000.0)


@pytest.mark.parametrize(
    ("crs", "unit"),
    [("EPSG:26917+5703", "m"), ("EPSG:26917+8228", "ft"), ("EPSG:26917+6360", "us-ft")],
)
def test_compound_crs_names_the_vertical_unit_and_datum(tmp_path, crs, unit):
    found = probe([write(tmp_path / "a.tif", plane(), crs=crs)], ["a.tif"])
    assert found.vertical_unit == unit
    assert found.vertical_datum == "North American Vertical Datum 1988"
    assert found.crs.to_epsg() == 26917
    assert not found.crs.is_compound


@pytest.mark.parametrize(
    ("word", "unit"),
    [("metre", "m"), ("m", "m"), ("foot", "ft"), ("ft", "ft"), ("US survey foot", "us-ft")],
)
def test_band_unit_names_the_vertical_unit(tmp_path, word, unit):
    assert probe([write(tmp_path / "a.tif", plane(), unit=word)], ["a"]).vertical_unit == unit


def test_unreadable_band_unit_is_refused(tmp_path):
    with pytest.raises(InputRefused, match="fathom"):
        probe([write(tmp_path / "a.tif", plane(), unit="fathom")], ["a.tif"])


def test_depths_are_refused(tmp_path):
    with pytest.raises(InputRefused, match="downwards"):
        probe([write(tmp_path / "a.tif", plane(), crs="EPSG:26917+6357")], ["a.tif"])


def test_tiles_of_two_crs_are_refused_naming_both(tmp_path):
    a = write(tmp_path / "a.tif", plane())
    b = write(tmp_path / "b.tif", plane(), crs="EPSG:32617")
    with pytest.raises(InputRefused) as told:
        probe([a, b], ["a.tif", "b.tif"])
    assert "26917" in str(told.value)
    assert "32617" in str(told.value)


def test_tiles_of_two_vertical_units_are_refused(tmp_path):
    a = write(tmp_path / "a.tif", plane(), crs="EPSG:26917+5703")
    b = write(tmp_path / "b.tif", plane(), crs="EPSG:26917+6360")
    with pytest.raises(InputRefused, match=r"vertical unit of a\.tif is m, of b\.tif us-ft"):
        probe([a, b], ["a.tif", "b.tif"])


def test_one_silent_tile_makes_the_unit_unknown(tmp_path):
    a = write(tmp_path / "a.tif", plane(), unit="m")
    b = write(tmp_path / "b.tif", plane(), at=AT @ Affine.translation(30, 0))
    assert probe([a, b], ["a", "b"]).vertical_unit is None
    with pytest.raises(InputRefused, match="metres or feet"):
        take(a, b, unit=None)


@pytest.mark.parametrize("crs", [None, 'LOCAL_CS["site",UNIT["metre",1]]'])
def test_no_true_crs_is_refused(tmp_path, crs):
    with pytest.raises(InputRefused, match="CRS"):
        probe([write(tmp_path / "a.tif", plane(), crs=crs)], ["a.tif"])


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_no_georeference_is_refused(tmp_path):
    with pytest.raises(InputRefused, match="no georeference"):
        probe([write(tmp_path / "a.tif", plane(), at=Affine.identity())], ["a.tif"])


# --- units --------------------------------------------------------------------------------


@pytest.mark.parametrize(("unit", "metres"), [("m", 1.0), ("ft", 0.3048), ("us-ft", US_FT)])
def test_levels_are_converted_exactly(tmp_path, unit, metres):
    raster, record = take(write(tmp_path / "a.tif", plane() / metres), unit=unit)
    np.testing.assert_allclose(raster.values, plane(), rtol=1e-15)
    assert raster.values.dtype == np.float64
    assert record.unit == unit


def test_the_two_feet_are_told_apart(tmp_path):
    path = write(tmp_path / "a.tif", np.full((9, 9), 5000.0))
    apart = take(path, unit="us-ft")[0].values - take(path, unit="ft")[0].values
    np.testing.assert_allclose(apart, 5000.0 * (US_FT - 0.3048), rtol=1e-6)  # 3 mm


def test_float32_stays_and_is_rounded_once(tmp_path):
    values = (plane() / 0.3048).astype(np.float32)
    raster, _ = take(write(tmp_path / "a.tif", values), unit="ft")
    assert raster.values.dtype == np.float32
    np.testing.assert_array_equal(
        raster.values, (values.astype(np.float64) * 0.3048).astype(np.float32)
    )


def test_unknown_unit_is_asked_for(tmp_path):
    with pytest.raises(InputRefused, match="vertical_unit"):
        take(write(tmp_path / "a.tif", plane()), unit=None)


def test_the_files_word_is_enough_and_may_not_be_contradicted(tmp_path):
    path = write(tmp_path / "a.tif", plane() / 0.3048, unit="ft")
    np.testing.assert_allclose(take(path, unit=None)[0].values, plane(), rtol=1e-14)
    np.testing.assert_allclose(take(path, unit="ft")[0].values, plane(), rtol=1e-14)
    with pytest.raises(InputRefused, match="says heights in ft, vertical_unit says m"):
        take(path, unit="m")


def test_a_unit_that_is_none_is_refused(tmp_path):
    with pytest.raises(InputRefused, match="furlong"):
        take(write(tmp_path / "a.tif", plane()), unit="furlong")


def test_scale_and_offset_are_applied_before_rounding(tmp_path):
    stored = np.round((plane() - 50.0) * 1000.0).astype(np.int32)
    raster, _ = take(write(tmp_path / "a.tif", stored, scale=0.001, offset=50.0))
    assert raster.values.dtype == np.float32
    np.testing.assert_allclose(raster.values, np.round(plane(), 3), atol=5e-6)


# --- the raster's own cells ---------------------------------------------------------------


@pytest.mark.parametrize(("code", "unit_m"), [(2994, 0.3048), (2264, US_FT)])
def test_foot_grid_becomes_its_metric_twin_without_resampling(tmp_path, code, unit_m):
    at = Affine(3.0, 0.0, 636_003.0, 0.0, -3.0, 849_495.0)
    values = np.random.default_rng(1).uniform(90, 110, (12, 17)).astype(np.float32)
    path = write(tmp_path / "a.tif", values, at=at, crs=f"EPSG:{code}")
    twin = metric_twin(CRS.from_epsg(code))
    raster, record = take(path, crs=twin)
    np.testing.assert_array_equal(raster.values, values)
    np.testing.assert_allclose(raster.transform[:6], np.array(at[:6]) * unit_m, rtol=1e-15)
    to_twin = Transformer.from_crs(CRS.from_epsg(code), twin, always_xy=True)
    moved = to_twin.transform(636_003.0, 849_495.0)
    np.testing.assert_allclose((raster.transform.c, raster.transform.f), moved, atol=1e-6)
    assert record.notes == ()


def test_metric_grid_is_kept_cell_for_cell(tmp_path):
    at = Affine(0.99993681, 0.0, 500_000.3, 0.0, -0.99993681, 4_000_000.7)
    raster, record = take(write(tmp_path / "a.tif", plane(at=at), at=at))
    assert raster.transform == at
    np.testing.assert_array_equal(raster.values, plane(at=at))
    assert record.count == 600
    assert record.extent == raster.bounds
    assert len(record.sha256) == 64
    assert record.crs == "NAD83 / UTM zone 17N (EPSG:26917)"


def test_south_up_grid_is_turned(tmp_path):
    at = Affine(1.0, 0.0, 500_000.0, 0.0, 1.0, 3_999_980.0)
    raster, _ = take(write(tmp_path / "a.tif", plane(at=at), at=at))
    assert raster.transform == AT
    np.testing.assert_array_equal(raster.values, plane())


@pytest.mark.parametrize(("driver", "name"), [("AAIGrid", "a.asc"), ("HFA", "a.img")])
def test_other_formats(tmp_path, driver, name):
    values = plane().astype(np.float32)
    path = tmp_path / name
    if driver == "HFA":
        write(path, values, driver="HFA")
    else:
        rows = "\n".join(" ".join(f"{z:.9g}" for z in row) for row in values)
        head = "ncols 30\nnrows 20\nxllcorner 500000\nyllcorner 3999980\ncellsize 1\n"
        path.write_text(f"{head}NODATA_value -9999\n{rows}\n")
        path.with_suffix(".prj").write_text(METRES.to_wkt("WKT1_ESRI"))
    raster, _ = take(path)
    assert raster.transform == AT
    np.testing.assert_array_equal(raster.values, values)


def test_ascii_grid_that_starts_with_whole_numbers_keeps_its_decimals(tmp_path):
    path = tmp_path / "a.asc"
    rows = ["7 " * 999 + "7"] * 99 + ["7.25 " * 999 + "7.25"]
    head = "ncols 1000\nnrows 100\nxllcorner 500000\nyllcorner 4000000\ncellsize 1\n"
    path.write_text(head + "\n".join(rows) + "\n")
    path.with_suffix(".prj").write_text(METRES.to_wkt("WKT1_ESRI"))
    raster, _ = take(path)
    assert raster.values[98, 0] == 7.0
    assert raster.values[99, 0] == 7.25


def test_only_the_part_around_is_read(tmp_path):
    path = write(tmp_path / "a.tif", plane())
    raster, _ = take(path, around=(500_003.2, 3_999_985.5, 500_007.0, 3_999_990.0))
    assert raster.bounds == (500_003.0, 3_999_985.0, 500_007.0, 3_999_990.0)
    np.testing.assert_array_equal(raster.values, plane()[10:15, 3:7])
    with pytest.raises(InputRefused, match="does not reach"):
        take(path, around=(0.0, 0.0, 10.0, 10.0))


# --- resampled once -----------------------------------------------------------------------


def test_geographic_raster_of_a_plane_is_resampled_within_its_curvature(tmp_path):
    """Bilinear on h cells of a function with second derivatives M errs by at most h2 M / 4;
    here the plane bends only by the projection, less than 1e-4 m over a cell of 1e-5 degrees."""
    step = 1e-5
    to_utm = Transformer.from_crs("EPSG:4269", UTM, always_xy=True)
    lon0, lat0 = to_utm.transform(500_000.0, 4_000_000.0, direction="INVERSE")
    at = Affine(step, 0.0, lon0, 0.0, -step, lat0)
    col, row = np.meshgrid(np.arange(80) + 0.5, np.arange(60) + 0.5)
    x, y = to_utm.transform(lon0 + col * step, lat0 - row * step)
    path = write(tmp_path / "a.tif", height(x, y), at=at, crs="EPSG:4269")
    raster, record = take(path)
    east, north = raster.centres()
    apart = raster.values - height(*np.meshgrid(east, north))
    assert np.nanmax(np.abs(apart)) < 1e-4
    assert np.isfinite(raster.values).mean() > 0.9
    assert raster.cell_width_m == raster.cell_height_m
    assert raster.cell_width_m == pytest.approx(1.0, abs=0.06)  # 0.90 m by 1.11 m
    assert noted(record, "resampled bilinearly")


@settings(deadline=None)
@given(angle=st.floats(1.0, 89.0))
def test_rotated_raster_of_a_plane_is_resampled_exactly(tmp_path_factory, angle):
    at = AT @ Affine.rotation(angle)
    path = write(tmp_path_factory.mktemp("r") / "a.tif", plane(at=at), at=at)
    raster, record = take(path)
    east, north = raster.centres()
    apart = raster.values - height(*np.meshgrid(east, north))
    assert np.nanmax(np.abs(apart)) < 1e-9
    assert 480 <= np.isfinite(raster.values).sum() <= 600  # 19 x 29 squares between centres
    assert raster.cell_width_m == pytest.approx(1.0)
    assert noted(record, "it is rotated")


def test_a_hole_is_not_filled_by_resampling(tmp_path):
    at = AT @ Affine.rotation(30.0)
    values = plane(at=at)
    values[8:12, 10:16] = np.nan
    raster, record = take(write(tmp_path / "a.tif", values, at=at))
    inside = at @ (13.0, 10.0)
    assert np.isnan(raster.values[raster.cell_of(*inside)])
    assert noted(record, "1 hole without data inside")


def test_a_datum_shift_too_coarse_for_a_clearance_is_refused(tmp_path):
    path = write(tmp_path / "a.tif", plane(), crs="EPSG:26717")
    with pytest.raises(InputRefused, match="datum shift"):
        take(path)


def test_coordinates_where_the_crs_is_not_defined_are_refused(tmp_path):
    at = Affine(1e-5, 0.0, -81.0, 0.0, -1e-5, 140.0)  # 140 degrees north
    with pytest.raises(InputRefused, match="is not defined"):
        take(write(tmp_path / "a.tif", plane(), at=at, crs="EPSG:4269"))


# --- tiles --------------------------------------------------------------------------------


def cut(tmp_path, name, values, rows, cols, **more):
    at = AT @ Affine.translation(cols.start, rows.start)
    return write(tmp_path / name, values[rows, cols], at=at, **more)


def test_four_tiles_are_the_whole(tmp_path):
    whole = plane(40, 60)
    halves = [(r, c) for r in (slice(0, 17), slice(17, 40)) for c in (slice(0, 31), slice(31, 60))]
    tiles = [cut(tmp_path, f"{i}.tif", whole, r, c) for i, (r, c) in enumerate(halves)]
    raster, record = take(*reversed(tiles))
    assert raster.transform == AT
    np.testing.assert_array_equal(raster.values, whole)
    assert record.notes == ()
    assert record.path == "3.tif, 2.tif, 1.tif, 0.tif"
    assert len(record.sha256.split(" ")) == 4


def test_overlap_of_equal_levels_is_silent_and_of_different_ones_is_told(tmp_path):
    whole = plane(20, 60)
    left = cut(tmp_path, "l.tif", whole, slice(0, 20), slice(0, 35))
    right = cut(tmp_path, "r.tif", whole, slice(0, 20), slice(25, 60))
    assert take(left, right)[1].notes == ()
    other = whole + 0.03
    other[4, 27] += 0.2
    right = cut(tmp_path, "r.tif", other, slice(0, 20), slice(25, 60))
    raster, record = take(left, right)
    np.testing.assert_array_equal(raster.values[:, :35], whole[:, :35])
    np.testing.assert_array_equal(raster.values[:, 35:], other[:, 35:])
    assert noted(record, "200 cells and differs by up to 0.230 m")


def test_a_hole_in_the_first_tile_is_filled_by_the_second(tmp_path):
    whole = plane(20, 60)
    first = whole.copy()
    first[5:8, 26:30] = np.nan
    left = cut(tmp_path, "l.tif", first, slice(0, 20), slice(0, 35))
    right = cut(tmp_path, "r.tif", whole, slice(0, 20), slice(25, 60))
    np.testing.assert_array_equal(take(left, right)[0].values, whole)


def test_tiles_in_two_units_are_refused_by_their_levels(tmp_path):
    whole = plane(20, 60)
    left = cut(tmp_path, "l.tif", whole, slice(0, 20), slice(0, 35))
    overlapping = cut(tmp_path, "o.tif", whole / 0.3048, slice(0, 20), slice(25, 60))
    with pytest.raises(InputRefused, match="overlaps"):
        take(left, overlapping)
    beside = cut(tmp_path, "b.tif", whole / 0.3048, slice(0, 20), slice(35, 60))
    with pytest.raises(InputRefused, match="step by"):
        take(left, beside)


@pytest.mark.parametrize("upright", [True, False])
def test_a_seam_is_told_and_a_slope_is_not_a_seam(tmp_path, upright):
    steep = plane(60, 60) * 5.0
    one, two = slice(0, 30), slice(30, 60)
    whole = slice(0, 60)
    parts = [(whole, one), (whole, two)] if upright else [(one, whole), (two, whole)]
    raised = steep + 0.12
    a, b = (cut(tmp_path, "a.tif", steep, *parts[0]), cut(tmp_path, "b.tif", raised, *parts[1]))
    _, record = take(a, b)
    assert noted(record, "step by 0.120 m")
    assert len(record.notes) == 1
    assert take(a, b, rmse=0.3)[1].notes == ()
    b = cut(tmp_path, "b.tif", steep, *parts[1])
    assert take(a, b)[1].notes == ()


def test_a_gap_between_tiles_is_told(tmp_path):
    whole = plane(20, 60)
    left = cut(tmp_path, "l.tif", whole, slice(0, 20), slice(0, 25))
    right = cut(tmp_path, "r.tif", whole, slice(0, 20), slice(27, 60))
    raster, record = take(left, right)
    assert np.isnan(raster.values).sum() == 40
    assert noted(record, "leave 40 cells")


def test_tiles_of_other_cells_or_off_the_grid_are_refused(tmp_path):
    a = write(tmp_path / "a.tif", plane())
    b = write(tmp_path / "b.tif", plane(), at=AT @ Affine.translation(30.25, 0.0))
    with pytest.raises(InputRefused, match=r"0\.25 of a cell beside"):
        take(a, b)
    c = write(tmp_path / "c.tif", plane(), at=AT @ Affine.translation(30, 0) @ Affine.scale(2.0))
    with pytest.raises(InputRefused, match=r"1 by 1, of c\.tif 2 by 2"):
        take(a, c)


def test_tiles_far_apart_are_refused_before_memory_is_taken(tmp_path):
    a = write(tmp_path / "a.tif", plane())
    b = write(tmp_path / "b.tif", plane(), at=AT @ Affine.translation(90_000, 90_000))
    with pytest.raises(InputRefused, match="together span"):
        take(a, b)


# --- holes and no data --------------------------------------------------------------------


@pytest.mark.parametrize("nodata", [-9999.0, 3.4028234663852886e38, float("nan")])
def test_declared_no_data_becomes_nan_and_is_counted(tmp_path, nodata):
    values = plane().astype(np.float32)
    known = np.ones(values.shape, dtype=bool)
    known[5:7, 5:9] = known[10, 10] = known[0:3, 0] = False
    stored = np.where(known, values, np.float32(nodata))
    raster, record = take(write(tmp_path / "a.tif", stored, nodata=nodata))
    np.testing.assert_array_equal(np.isfinite(raster.values), known)
    np.testing.assert_array_equal(raster.values[known], values[known])
    assert noted(record, "2 holes without data inside the terrain, 9 m2")
    assert noted(record, "3 m2 at the edge")


def test_integers_with_no_data(tmp_path):
    stored = np.full((9, 9), 12, dtype=np.int16)
    stored[4, 4] = -32768
    raster, _ = take(write(tmp_path / "a.tif", stored, nodata=-32768))
    assert raster.values.dtype == np.float32
    assert np.isnan(raster.values[4, 4])
    assert raster.values[0, 0] == 12.0


def test_nothing_but_no_data_is_refused(tmp_path):
    with pytest.raises(InputRefused, match="no cell"):
        take(write(tmp_path / "a.tif", np.full((9, 9), np.nan)))


@pytest.mark.parametrize(
    "sentinel", [-9999.0, -999.0, -32768.0, 3.4028234663852886e38, -1e20, np.inf, 0.0]
)
@pytest.mark.parametrize("unit", ["m", "ft"])
def test_undeclared_sentinel_is_refused_with_value_and_count(tmp_path, sentinel, unit):
    values = plane().astype(np.float32)
    values[3:5, 3:6] = sentinel
    with pytest.raises(InputRefused, match="6 cells cannot be ground levels") as told:
        take(write(tmp_path / "a.tif", values), unit=unit)
    assert f"{np.float32(sentinel):.9g}" in str(told.value)


def test_ground_at_sea_level_and_below_is_ground(tmp_path):
    values = plane().astype(np.float32) - 100.0
    values[0, 0] = 0.0
    np.testing.assert_array_equal(take(write(tmp_path / "a.tif", values))[0].values, values)


# --- what a stranger sends ----------------------------------------------------------------


def test_vrt_in_disguise_is_refused_and_returns_nothing_of_the_other_file(tmp_path):
    other = write(tmp_path / "other.tif", plane())
    for name in ("a.tif", "a.asc", "a.img"):
        path = tmp_path / name
        path.write_text(
            '<VRTDataset rasterXSize="30" rasterYSize="20"><SRS>EPSG:26917</SRS>'
            "<GeoTransform>500000, 1, 0, 4000000, 0, -1</GeoTransform>"
            '<VRTRasterBand dataType="Float64" band="1"><SimpleSource>'
            f"<SourceFilename>{other}</SourceFilename><SourceBand>1</SourceBand>"
            "</SimpleSource></VRTRasterBand></VRTDataset>"
        )
        with pytest.raises(InputRefused):
            probe([path], [name])
        with pytest.raises(InputRefused):
            take(path)


def test_side_file_is_not_used_and_is_told(tmp_path):
    path = write(tmp_path / "a.tif", plane())
    side = tmp_path / "a.tif.aux.xml"
    side.write_text(
        "<PAMDataset><SRS>EPSG:32633</SRS><GeoTransform>0, 2, 0, 0, 0, -2</GeoTransform>"
        '<PAMRasterBand band="1"><NoDataValue>100</NoDataValue><Offset>5</Offset>'
        "<Scale>3</Scale></PAMRasterBand></PAMDataset>"
    )
    before = side.read_bytes()
    raster, record = take(path)
    assert raster.transform == AT
    np.testing.assert_array_equal(raster.values, plane())
    assert noted(record, "another CRS, georeference, no-data value, scale, offset: it was not used")
    assert side.read_bytes() == before


def test_harmless_side_file_is_not_told_and_none_is_written(tmp_path):
    path = write(tmp_path / "a.tif", plane())
    side = tmp_path / "a.tif.aux.xml"
    side.write_text("<PAMDataset></PAMDataset>")
    assert take(path)[1].notes == ()
    side.unlink()
    take(path)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.tif"]


def test_img_that_names_another_file_is_refused(tmp_path):
    """The format lets the cells lie in a file that the header names, anywhere."""
    folder = tmp_path / "sub"
    folder.mkdir()
    path = write(folder / "abcdefgh.img", plane(70, 70), driver="HFA", USE_SPILL="YES")
    with pytest.raises(InputRefused, match="another file"):
        take(path)
    (folder / "abcdefgh.ige").rename(tmp_path / "defgh.ige")
    path.write_bytes(path.read_bytes().replace(b"abcdefgh.ige", b"../defgh.ige"))
    with pytest.raises(InputRefused, match="another file"):
        take(path)


def test_mask_inside_is_used_and_mask_beside_is_refused(tmp_path):
    known = np.ones((20, 30), dtype=bool)
    known[4:6, 4:6] = False
    for inside in (True, False):
        path = write(tmp_path / "a.tif", plane())
        with (
            rasterio.Env(GDAL_TIFF_INTERNAL_MASK=inside),
            rasterio.open(path, "r+") as sink,
        ):
            sink.write_mask(known)
        if inside:
            np.testing.assert_array_equal(np.isfinite(take(path)[0].values), known)
        else:
            with pytest.raises(InputRefused, match=r"a\.tif\.msk"):
                take(path)


def test_truncated_file_is_refused(tmp_path):
    path = write(tmp_path / "a.tif", np.random.default_rng(1).uniform(1, 2, (200, 200)))
    path.write_bytes(path.read_bytes()[:200_000])
    with pytest.raises(InputRefused, match="broken or cut short"):
        take(path)


def test_truncated_ascii_grid_is_refused(tmp_path):
    path = tmp_path / "a.asc"
    head = "ncols 3\nnrows 3\nxllcorner 500000\nyllcorner 4000000\ncellsize 1\n"
    path.write_text(head + "1 2 3\n4 5")
    path.with_suffix(".prj").write_text(METRES.to_wkt("WKT1_ESRI"))
    with pytest.raises(InputRefused):
        take(path)


def test_huge_sparse_file_is_refused_and_its_window_is_read(tmp_path):
    path = tmp_path / "a.tif"
    with rasterio.open(
        path, "w", driver="GTiff", dtype="float32", count=1, width=200_000, height=200_000,
        crs=UTM, transform=AT, tiled=True, sparse_ok=True, bigtiff=True, nodata=-9999.0,
    ) as sink:  # fmt: skip
        sink.write(plane().astype(np.float32), 1, window=rasterio.windows.Window(0, 0, 30, 20))
    assert path.stat().st_size < 20_000_000
    with pytest.raises(InputRefused, match="40,000,000,000 cells"):
        take(path)
    raster, _ = take(path, around=(500_000.0, 3_999_980.0, 500_030.0, 4_000_000.0))
    np.testing.assert_array_equal(raster.values, plane().astype(np.float32))


@pytest.mark.parametrize(
    "values",
    [
        np.zeros((3, 9, 9), dtype=np.uint8),
        np.zeros((9, 9), dtype=np.uint8),
        np.zeros((2, 9, 9), dtype=np.float32),
        np.zeros((9, 9), dtype=np.complex64),
    ],
)
def test_what_is_no_grid_of_levels_is_refused(tmp_path, values):
    with pytest.raises(InputRefused, match="one band of ground levels"):
        take(write(tmp_path / "a.tif", values))


def test_garbage_after_the_signature_is_refused(tmp_path):
    for name, head in (("a.tif", b"II*\x00"), ("a.img", b"EHFA_HEADER_TAG"), ("a.asc", b"ncols ")):
        path = tmp_path / name
        path.write_bytes(head + bytes(range(256)) * 4)
        with pytest.raises(InputRefused):
            take(path)


def test_a_vector_file_is_no_terrain(tmp_path):
    path = tmp_path / "a.geojson"
    path.write_text('{"type": "FeatureCollection", "features": []}')
    with pytest.raises(InputRefused, match="no terrain"):
        probe([path], ["a.geojson"])


def test_same_files_same_result(tmp_path):
    whole = plane(20, 60)
    a = cut(tmp_path, "a.tif", whole, slice(0, 20), slice(0, 35))
    b = cut(tmp_path, "b.tif", whole + 0.2, slice(0, 20), slice(25, 60))
    (first, record), (second, again) = take(a, b), take(a, b)
    assert first.values.tobytes() == second.values.tobytes()
    assert record == again
