"""GeoPackages of known conformance (OGC test suite): each is read, or refused plainly."""

from __future__ import annotations

import sqlite3
import struct
from contextlib import closing
from pathlib import Path

import pytest
import shapely
from pyproj import CRS
from shapely.geometry import LineString, MultiPolygon, box
from site_files import write_vector

from geo_site.errors import GeoSiteError, InputRefused
from geo_site.readers.curves import curved_features
from geo_site.readers.features import read_layer
from geo_site.readers.inputs import ParcelInput, VectorInput
from geo_site.readers.parcels import read_parcel
from geo_site.readers.surroundings import Surroundings
from geo_site.readers.vectors import open_vector, read_features

FILES = sorted((Path(__file__).parent / "data" / "gpkg").glob("*.gpkg"))
SAMPLE = next(path for path in FILES if path.stem == "gdal_sample_v1.2_no_extensions")
AROUND = Surroundings(
    crs=CRS.from_epsg(32631), parcel=MultiPolygon([box(500_000.0, 0.0, 500_040.0, 30.0)])
)


def _layers_of(path: Path) -> list[str | None]:
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as file:
        return [None, *(name for (name,) in file.execute("SELECT table_name FROM gpkg_contents"))]


CASES = [(path, layer) for path in FILES for layer in _layers_of(path)]


def test_all_files_are_there():
    assert len(FILES) == 7
    assert len(CASES) > 40


@pytest.mark.parametrize(("path", "layer"), CASES, ids=lambda v: getattr(v, "stem", v))
@pytest.mark.parametrize("name", ["parcel", "utilities", "structures", "trees", "water_bodies"])
def test_nothing_but_a_refusal_comes_out(path: Path, layer: str | None, name: str):
    before = path.read_bytes()
    told = _refusal(path, layer, name)
    assert not told or path.name in told
    assert str(path.parent) not in told
    assert path.read_bytes() == before
    assert not list(path.parent.glob("*-wal"))
    assert not list(path.parent.glob("*-shm"))


def _refusal(path: Path, layer: str | None, name: str) -> str:
    try:
        if name == "parcel":
            read_parcel(ParcelInput(path=path.name, layer=layer), path.parent)
        else:
            read_layer(name, [VectorInput(path=path.name, layer=layer)], path.parent, AROUND)
    except GeoSiteError as refused:
        return str(refused)
    return ""


def test_sound_layers_of_the_sample_are_read_as_stored():
    """The sample's own geometry, read by SQL and WKB without the format library."""
    for layer in ("linestring2d", "polygon2d", "multilinestring2d", "point2d"):
        file = open_vector(VectorInput(path=SAMPLE.name, layer=layer), SAMPLE.parent, "utilities")
        read = [shape for shape in read_features(file).geometry if shape is not None]
        with closing(sqlite3.connect(f"{SAMPLE.as_uri()}?mode=ro", uri=True)) as stored:
            rows = stored.execute(f'SELECT geom FROM "{layer}"').fetchall()
        truth = [shapely.from_wkb(_wkb(blob)) for (blob,) in rows if blob is not None]
        assert len(read) == len(truth) > 0
        assert all(
            one.equals(other) for one, other in zip(read, truth, strict=True) if not one.is_empty
        )


def _wkb(blob: bytes) -> bytes:
    return blob[8 + (0, 32, 48, 48, 64)[(blob[3] >> 1) & 7] :]


def test_one_strange_layer_does_not_hide_the_others():
    """geometry3d of the sample is of a sort that cannot be listed; a named layer is read."""
    with pytest.raises(InputRefused, match="name the one wanted"):
        open_vector(VectorInput(path=SAMPLE.name), SAMPLE.parent, "utilities")
    file = open_vector(
        VectorInput(path=SAMPLE.name, layer="linestring2d"), SAMPLE.parent, "utilities"
    )
    assert file.layer == "linestring2d"


def test_an_arc_is_refused_before_it_becomes_chords(tmp_path: Path):
    path = write_vector(
        tmp_path / "arc.gpkg", [LineString([(0, 0), (1, 1)])] * 2, {"kind": ["gas", "gas"]}
    )
    arc = struct.pack("<BII6d", 1, 8, 3, 0.0, 0.0, 1.0, 1.0, 2.0, 0.0)  # circular string
    with closing(sqlite3.connect(path)) as file:
        named = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        for (trigger,) in file.execute(named).fetchall():
            file.execute(f'DROP TRIGGER "{trigger}"')
        header = b"GP\x00\x01" + struct.pack("<i", 32617)
        file.execute("UPDATE arc SET geom = ? WHERE fid = 2", (header + arc,))
        file.commit()
    assert curved_features(path, "arc") == ["2"]
    with pytest.raises(InputRefused, match="layer arc, id 2: curved geometry"):
        open_vector(VectorInput(path="arc.gpkg"), tmp_path, "utilities")
