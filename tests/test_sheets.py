"""The picture of a plan: drawn, the same each time, with and without a place."""

from __future__ import annotations

from pathlib import Path

import matplotlib.image
import pytest
from made_sites import make_site
from shapely import LineString
from shapely.geometry import box

from geo_site.plan import Plan, propose
from geo_site.sheets.picture import write_picture

QUICK = {"siting": {"units": 6, "shortlist": 1, "candidates": 1, "rotation_step": 45.0}}


def plan_of(**more: object) -> Plan:
    lines = [{"id": f"L{i}", "kind": "gas", "geometry": LineString([(3 + i, -5), (3 + i, 35)])}
             for i in range(2)]  # fmt: skip
    return propose(make_site("plane", lot=box(0, 0, 30, 25), utilities=lines, **more))


@pytest.fixture(scope="module")
def plan() -> Plan:
    """A small plan with two lines a metre apart."""
    return plan_of(tables=QUICK)


def test_same_plan_same_picture(plan: Plan, tmp_path: Path) -> None:
    write_picture(plan, tmp_path / "a.png")
    write_picture(plan, tmp_path / "b.png")
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_size_and_ink(plan: Plan, tmp_path: Path) -> None:
    write_picture(plan, tmp_path / "a.png", dpi=100)
    picture = matplotlib.image.imread(tmp_path / "a.png")
    assert picture.shape[:2] == (850, 1100)
    yellow = (picture[..., 0] > 0.9) & (picture[..., 1] > 0.7) & (picture[..., 2] < 0.3)
    assert yellow.sum() > 200  # the gas lines in their colour


def test_no_place_is_drawn_too(tmp_path: Path) -> None:
    empty = plan_of(tables={**QUICK, "constraints": {"steepest": 0.01}})
    assert empty.proposal is None
    write_picture(empty, tmp_path / "a.png", dpi=50)
    assert (tmp_path / "a.png").stat().st_size > 1000
