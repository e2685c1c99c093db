"""The page of check values names every id that a test names."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ID = re.compile(r"\b([A-Z]{3,4})-(\d\d)\b(?!\d)")
# Publications and datums that look like an id of ours.
NOT_OURS = {"HEC", "HSG", "NAD", "NAVD", "NGVD", "UTF", "ISO"}


def ids_of(text):
    return {match[0] for match in ID.finditer(text) if match[1] not in NOT_OURS}


def page():
    return (ROOT / "docs" / "checks.md").read_text(encoding="utf-8")


def test_every_id_of_a_test_stands_on_the_page():
    known = ids_of(page())
    missing = {
        f"{path.name}: {name}"
        for path in sorted((ROOT / "tests").rglob("test_*.py"))
        if path.name != Path(__file__).name
        for name in ids_of(path.read_text(encoding="utf-8")) - known
    }
    assert not missing


def test_an_id_is_found_and_a_publication_is_not():
    assert ids_of("TER-10 and GEOD-08, after HEC-22 and EPSG-2264") == {"TER-10", "GEOD-08"}


def test_every_row_is_whole_and_has_its_own_id():
    rows = [line.split("|")[1:-1] for line in page().splitlines() if ID.match(line[2:])]
    assert len(rows) > 50
    names = [row[0].strip() for row in rows]
    assert len(names) == len(set(names))
    for row in rows:
        assert len(row) == 5, row
        assert all(cell.strip() for cell in row), row


@pytest.mark.parametrize("subject", ["Pipes", "Trees", "Terrain"])
def test_subjects_have_a_table(subject):
    assert f"\n## {subject}\n" in page()
