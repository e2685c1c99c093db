"""Distances of the invented sample's record by plain arithmetic: points against segments."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from made_plans import sample_plan
from numpy.typing import NDArray
from shapely import get_coordinates, get_parts, get_rings
from shapely.geometry.base import BaseGeometry

from geo_site.plan import Plan

ROOT = Path(__file__).parent.parent
Floats = NDArray[np.float64]


def plan() -> Plan:
    return sample_plan("hillside")


def segments(shape: BaseGeometry) -> tuple[Floats, Floats]:
    """Begin and end of every piece of an outline or a line."""
    starts, ends = [], []
    for part in get_parts(shape):
        for line in get_rings(part) if part.geom_type == "Polygon" else [part]:
            xy = get_coordinates(line)[:, :2]
            starts.append(xy[:-1])
            ends.append(xy[1:])
    return np.concatenate(starts), np.concatenate(ends)


def point_to_segments(points: Floats, starts: Floats, ends: Floats) -> float:
    """Least distance of any point from any segment."""
    along = ends - starts
    length2 = np.maximum((along**2).sum(axis=1), 1e-30)
    from_start = points[:, None, :] - starts[None, :, :]
    share = np.clip((from_start * along).sum(axis=2) / length2, 0.0, 1.0)
    gap = from_start - share[..., None] * along
    return float(np.sqrt((gap**2).sum(axis=2)).min())


def apart(one: BaseGeometry, other: BaseGeometry) -> float:
    """Distance of two outlines that do not cross: some end of one is nearest to the other."""
    a, b = segments(one), segments(other)
    return min(point_to_segments(np.concatenate(a), *b), point_to_segments(np.concatenate(b), *a))


def buried_rows() -> list[tuple[str, str]]:
    return [(row.work, row.against) for row in plan().clearances if row.rule == "utility"]


@pytest.mark.parametrize(("work", "against"), buried_rows())
def test_distance_and_verdict_of_every_work_to_every_buried_line(work: str, against: str) -> None:
    """The record's figure is the distance as drawn less half the diameter; 0 where they cross."""
    found = plan()
    assert found.proposal is not None
    (row,) = [
        r for r in found.clearances
        if r.rule == "utility" and (r.work, r.against) == (work, against)
    ]  # fmt: skip
    line = found.site.utilities.set_index("id").loc[against]
    shape = getattr(found.proposal.works, work)
    if shape.intersects(line.geometry):
        assert row.clearance_m == 0.0
        assert row.verdict in {"unknown", "not_met", "hand_dig"}
        return
    half_m = 0.0 if np.isnan(line.diameter_m) else line.diameter_m / 2.0
    by_hand_m = apart(shape, line.geometry) - half_m
    assert row.clearance_m == pytest.approx(by_hand_m, abs=1e-6)
    assert row.required_m == pytest.approx(row.rule_m + row.uncertainty_m, abs=1e-9)
    if row.verdict == "met":
        assert by_hand_m >= row.required_m - 1e-6
    if by_hand_m < row.required_m - 1e-6:
        assert row.verdict != "met"


def test_every_work_has_a_row_against_every_line_of_the_lot() -> None:
    """All that digs, and the pile, against all eight lines; the machine only where it crosses."""
    lines = set(plan().site.utilities["id"])
    for work in ("basin", "basin_excavation", "stream", "pipe", "spoil_pile", "silt_fence"):
        assert {against for name, against in buried_rows() if name == work} == lines


def test_what_stands_beside_the_figures_has_none_of_them_and_no_word_is_lost() -> None:
    """A table with columns of figures says the rest; converted, the two must not differ."""
    for row in plan().clearances:
        assert " m found, " not in row.why
        assert " m asked" not in row.why
        told = row.reason.replace(" (measured: ", "; ").rstrip(")")
        for part in row.why.split("; "):
            assert part.rstrip(")") in told or part == "nearer than asked", (part, row.reason)
        if row.verdict in {"not_met", "unknown"}:
            assert row.why
