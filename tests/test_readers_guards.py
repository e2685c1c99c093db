"""The guards before a file is opened, alone."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point
from site_files import at_origin, write_terrain, write_vector

from geo_site.errors import InputRefused
from geo_site.readers import guards


@pytest.mark.parametrize(
    "written",
    [
        "http://x/y.tif", "s3://b/k.tif", "file:///etc/passwd", "/vsizip/x.zip/y.shp", "/VsiCurl/x",
        "\\vsimem\\x", " /vsistdin/", "GPKG:a.gpkg:b", "zip:a.zip!b", "GTIFF_DIR:1:a.tif",
        "postgresql:x", "<VRTDataset>", "a\x00b", "", "   ", "a.gpkg|layername=b",
    ],
)  # fmt: skip
def test_what_is_not_a_plain_path_is_refused(written: str, tmp_path: Path):
    with pytest.raises(InputRefused, match=r"inputs\.parcel"):
        guards.safe_path(written, tmp_path, name="parcel")


def _told(check: Callable[[], object]) -> str:
    try:
        check()
    except InputRefused as refused:
        return str(refused)
    return ""


@given(st.text(max_size=60))
def test_any_text_gives_a_file_or_a_refusal(written: str):
    folder = Path(__file__).parent
    told = _told(lambda: guards.safe_path(written, folder, name="parcel"))
    assert "\n" not in told
    assert told or (folder / written).is_file()


def test_paths_start_at_the_site_file(tmp_path: Path):
    inner = tmp_path / "inner"
    inner.mkdir()
    (tmp_path / "a.gpkg").write_bytes(b"x")
    found = guards.safe_path("../a.gpkg", inner, name="parcel")
    assert found == tmp_path / "a.gpkg"
    assert guards.safe_path(str(tmp_path / "a.gpkg"), inner, name="parcel") == found


def test_a_drive_letter_is_no_driver(tmp_path: Path):
    with pytest.raises(InputRefused, match="no such file"):
        guards.safe_path("C:/maps/a.gpkg", tmp_path, name="parcel")


@given(st.binary(max_size=300))
def test_any_bytes_are_known_or_refused(tmp_path_factory, content: bytes):
    path = tmp_path_factory.mktemp("bytes") / "x.gpkg"
    path.write_bytes(content)
    told = _told(lambda: guards.sniff(path))
    assert told.startswith("x.gpkg: ") is not content.startswith(b"SQLite format 3\x00")


@pytest.mark.parametrize(
    ("name", "head", "found"),
    [
        ("a.gpkg", b"SQLite format 3\x00", "gpkg"),
        ("a.SHP", b"\x00\x00\x27\x0a", "shp"),
        ("a.zip", b"PK\x03\x04", "zip"),
        ("a.json", b"\xef\xbb\xbf  {", "geojson"),
        ("a.dxf", b"  0\r\nSECTION\r\n  2", "dxf"),
        ("a.DXF", b"999\nmade by hand\n  0\nSECTION\n", "dxf"),
        ("a.fgb", b"fgb\x03fgb\x00", "fgb"),
        ("a.tif", b"II*\x00", "tiff"),
        ("a.tiff", b"MM\x00*", "tiff"),
        ("a.tif", b"II+\x00", "tiff"),
        ("a.asc", b"NCOLS 3", "asc"),
        ("a.img", b"EHFA_HEADER_TAG", "img"),
        ("a.laz", b"LASF", "las"),
    ],
)
def test_formats_are_told_by_their_first_bytes(tmp_path: Path, name, head, found):
    path = tmp_path / name
    path.write_bytes(head)
    assert guards.sniff(path) == found
    disguise = tmp_path / "a.xyz"
    disguise.write_bytes(head)
    with pytest.raises(InputRefused, match=r"the name says \.xyz"):
        guards.sniff(disguise, "told.xyz")


def test_written_files_are_known(tmp_path: Path):
    assert guards.sniff(write_terrain(tmp_path / "t.tif")) == "tiff"
    for suffix in ("gpkg", "shp", "geojson", "fgb"):
        path = write_vector(tmp_path / f"v.{suffix}", [at_origin(Point(0, 0))], {"a": [1]})
        assert guards.sniff(path) == suffix


def test_digest_and_day(tmp_path: Path):
    path = tmp_path / "x"
    path.write_bytes(b"abc" * 1_000_000)
    assert guards.sha256_of(path) == hashlib.sha256(b"abc" * 1_000_000).hexdigest()
    os.utime(path, (86_400.0, 86_400.0))
    assert guards.modified_on(path) == "1970-01-02"


def test_the_process_keeps_to_local_plain_files():
    code = (
        "import geo_site.readers, os, pyproj.network, rasterio, pyogrio\n"
        "assert os.environ['PROJ_NETWORK'] == 'OFF'\n"
        "assert not pyproj.network.is_network_enabled()\n"
        "with rasterio.Env() as env: assert 'VRT' not in env.drivers()\n"
        "assert 'OGR_VRT' not in pyogrio.list_drivers()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
