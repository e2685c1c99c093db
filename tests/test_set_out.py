"""set_out.csv against the layer that it is made from, and against a ruler."""

from __future__ import annotations

import csv
import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from made_plans import proposed, sample_plan, without_place
from shapely import Point

from geo_site.layers import LAYERS, to_frame
from geo_site.plan import Plan
from geo_site.tables import write_set_out


def lines_of(plan: Plan, folder: Path) -> tuple[list[str], list[dict[str, str]]]:
    text = write_set_out(plan, folder / "set_out.csv").read_text(encoding="utf-8").splitlines()
    head = [line for line in text if line.startswith("#")]
    return head, list(csv.DictReader(text[len(head) :]))


def frame(plan: Plan, name: str):
    return to_frame(next(layer for layer in LAYERS if layer.name == name), plan)


def test_reread_equals_the_layer_to_a_millimetre(tmp_path: Path) -> None:
    plan = proposed()
    _, rows = lines_of(plan, tmp_path)
    layer = frame(plan, "set_out")
    assert [row["point"] for row in rows] == list(layer["code"])
    read = np.array([[float(row[k]) for k in ("easting", "northing", "level")] for row in rows])
    made = np.array([[p.x, p.y, p.z] for p in layer.geometry])
    assert np.abs(read - made).max() < 1e-3
    assert all(row["point"].startswith(row["code"]) and row["code"].isalpha() for row in rows)


def test_points_are_unique_and_of_every_kind(tmp_path: Path) -> None:
    plan = proposed()
    _, rows = lines_of(plan, tmp_path)
    names = [row["point"] for row in rows]
    assert len(set(names)) == len(names)
    assert {"B", "X", "S", "T", "E", "F", "P"} <= {row["code"] for row in rows}


def test_points_lie_on_what_they_stake() -> None:
    plan = proposed()
    assert plan.proposal is not None
    layer = frame(plan, "set_out")
    works = plan.proposal
    on = {
        "B": works.placement.footprint.exterior,
        "X": works.placement.excavation.exterior,
        "T": works.layout.alignment,
        "P": works.layout.pipe,
    }
    if works.earthwork.pile is not None:
        on["H"] = works.earthwork.pile.geometry.boundary
    for code, spot in zip(layer["code"], layer.geometry, strict=True):
        target = on.get(code.rstrip("0123456789"))
        if target is not None:
            assert Point(spot.x, spot.y).distance(target) < 1e-6, code


def test_stations_are_a_metre_apart_along_the_stream() -> None:
    plan = proposed()
    assert plan.proposal is not None
    layer = frame(plan, "set_out")
    spots = [p for code, p in zip(layer["code"], layer.geometry, strict=True) if code[0] == "T"]
    along = [plan.proposal.layout.alignment.project(Point(p.x, p.y)) for p in spots]
    assert np.allclose(along, np.arange(1, len(spots) + 1), atol=1e-6)
    assert all(a.z >= b.z for a, b in pairwise(spots))  # never uphill


def test_head_says_crs_unit_and_ground_factor(tmp_path: Path) -> None:
    head, _ = lines_of(proposed(), tmp_path)
    told = "\n".join(head)
    assert "positions:" in told
    assert "metres" in told
    assert "divide a grid distance" in told


def test_a_file_in_feet_has_no_metre_in_its_notes(tmp_path: Path) -> None:
    """The invented sample is in US survey feet: the lip's note says the level of its own row."""
    plan = sample_plan("hillside")
    head, rows = lines_of(plan, tmp_path)
    assert "in US survey feet; notes in the same, from whole centimetres" in head[2]
    assert not [row for row in rows if re.search(r"\d m\b", row["note"])]
    (lip,) = [row for row in rows if row["code"] == "S"]
    (told,) = re.findall(r"sill (\d+\.\d\d) ft", lip["note"])
    assert float(told) == pytest.approx(float(lip["level"]), abs=0.005 / (1200 / 3937) + 0.005)
    layer = frame(plan, "set_out")
    metres = dict(zip(layer["code"], layer["note"], strict=True))[lip["point"]]
    assert float(told) == pytest.approx(
        float(re.findall(r"sill (\d+\.\d\d) m", metres)[0]) * 3937 / 1200, abs=0.005
    )


def test_no_place_gives_a_head_and_no_point(tmp_path: Path) -> None:
    head, rows = lines_of(without_place(), tmp_path)
    assert len(head) == 5
    assert rows == []


def test_levels_of_a_foot_file_are_in_feet(tmp_path: Path) -> None:
    plan = sample_plan("hillside")
    head, rows = lines_of(plan, tmp_path)
    assert plan.proposal is not None
    lip = next(row for row in rows if row["point"] == "S1")
    assert float(lip["level"]) == pytest.approx(
        plan.proposal.layout.lip_level_m / (1200 / 3937), abs=1e-3
    )
    assert "US survey feet" in head[1]
