"""What `geo-site check` tells: each input as read, and what is not there."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString, Point
from site_files import SiteFolder, at_origin, write_vector

from geo_site.readers import check_rows, missing, read_site, site_file
from geo_site.site import INPUT_LAYERS


@pytest.fixture(autouse=True)
def _no_settings(monkeypatch):
    monkeypatch.setattr(site_file, "_checked_tables", lambda tables, file: tables)


@pytest.fixture
def site(tmp_path: Path) -> SiteFolder:
    return SiteFolder(tmp_path)


def _sentence(sentences: tuple[str, ...], begins: str) -> bool:
    return any(sentence.startswith(begins) for sentence in sentences)


def test_one_row_for_each_file(site: SiteFolder):
    site.add_common()
    rows = check_rows(read_site(site.write()))
    names = ["parcel", "terrain", "utilities", "structures", "trees", "access", "views", "power"]
    assert [row.name for row in rows] == names
    assert [row.count for row in rows] == [1, 9000, 1, 1, 1, 1, 1, 1]
    assert rows[0].extent == "500000.0 to 500040.0, 4000000.0 to 4000030.0"
    assert rows[1].unit == "m"


def test_age_counts_from_the_files_day_to_as_of(site: SiteFolder):
    path = site.folder / "utilities.gpkg"
    noon = 1_777_636_800  # 2026-05-01 12:00 UTC
    os.utime(path, (noon, noon))
    rows = {row.name: row for row in check_rows(read_site(site.write()))}
    assert (rows["utilities"].modified, rows["utilities"].age_days) == ("2026-05-01", None)
    site.document["ticket"] = {"as_of": "2026-05-15"}
    rows = {row.name: row for row in check_rows(read_site(site.write()))}
    assert rows["utilities"].age_days == 14


def test_features_all_left_out_give_no_extent(site: SiteFolder):
    path = site.folder / "utilities.gpkg"
    path.unlink()
    write_vector(path, [at_origin(LineString([(0, 1000), (9, 1000)]))], {"kind": ["gas"]})
    read = read_site(site.write())
    row = next(row for row in check_rows(read) if row.name == "utilities")
    assert (row.count, row.extent) == (0, "")
    assert "1 of 1 features lie over 300 m away: left out" in row.notes
    assert _sentence(missing(read), "No utility lines")


def test_all_that_is_absent_is_said(site: SiteFolder):
    site.inputs.pop("utilities")
    site.inputs["parcel"].pop("accuracy")
    site.inputs["terrain"].pop("rmse_z")
    sentences = missing(read_site(site.write()))
    for begins in (
        "No utility lines",
        "No one-call ticket",
        "No as_of day",
        "No private locate",
        "No overhead",
        "No septic",
        "No structures",
        "No easements",
        "No trees",
        "No access",
        "No viewpoint",
        "No power",
        "No soils",
        "No water bodies",
        "The accuracy of the parcel",
        "The vertical error",
        "The vertical datum",
    ):
        assert _sentence(sentences, begins), begins
    assert all(sentence.endswith(".") and "\n" not in sentence for sentence in sentences)


def test_what_is_given_is_not_missed(site: SiteFolder):
    site.add_common()
    site.document["ticket"] = {
        "as_of": "2026-05-15",
        "number": "1",
        "valid_until": "2026-05-20",
        "responses": {"Gas Co": "marked"},
    }
    site.document["private_locate"] = {"by": "Locator"}
    sentences = missing(read_site(site.write()))
    for begins in (
        "No utility lines",
        "No one-call",
        "The ticket has",
        "No as_of",
        "No private",
        "No trees",
        "No access",
        "No viewpoint",
        "No power",
        "No structures",
        "The accuracy",
        "The vertical e",
        "Lines without",
    ):
        assert not _sentence(sentences, begins), begins


def test_lines_without_level_or_diameter_are_told(site: SiteFolder):
    site.utilities(quality_level=None, diameter=np.nan)
    sentences = missing(read_site(site.write()))
    assert _sentence(sentences, "Lines without a quality level")
    assert _sentence(sentences, "Lines without a diameter")


def test_a_ticket_without_answers_or_end_is_told(site: SiteFolder):
    site.document["ticket"] = {"number": "1", "as_of": "2026-05-15"}
    sentences = missing(read_site(site.write()))
    assert _sentence(sentences, "The ticket has no responses")
    assert _sentence(sentences, "The ticket has no valid_until")


def test_every_input_can_be_read_and_checked(site: SiteFolder):
    """One feature for each input of the catalogue, of the geometry that it asks for."""
    shapes = {
        "point": Point(5, 5),
        "line": LineString([(0, 5), (40, 5)]),
        "polygon": Point(5, 5).buffer(3.0),
        "any": LineString([(0, 5), (40, 5)]),
    }
    for name, layer in INPUT_LAYERS.items():
        more = {"utility_id": ["G1"]} if name == "exposed" else {}
        near = Point(5, 25) if name == "exposed" else shapes[layer.geometry]
        site.add(name, [near], **more) if name != "utilities" else site.utilities()
    read = read_site(site.write())
    assert {row.name for row in check_rows(read)} == {"parcel", "terrain", *INPUT_LAYERS}
    assert all(len(read.layer(name)) == 1 for name in INPUT_LAYERS)
