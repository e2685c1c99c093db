"""Every rule's word on one spot, against plain distances: ``python tests/test_explaining.py``."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest
from made_plans import proposed, sample_plan
from shapely.geometry import Point

from geo_site.cli import run
from geo_site.errors import InputRefused
from geo_site.plan import Explanation, Kept, Plan, explain
from geo_site.readers import point_of
from geo_site.tables import explanation_document, explanation_lines

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "docs" / "explain.md"
BEGIN = "<!-- made by tests/test_explaining.py: begin -->"
END = "<!-- made by tests/test_explaining.py: end -->"
SPOT = (1820160.0, 312060.0)
KEPT = Kept()


def plan() -> Plan:
    return sample_plan("hillside")


def at(x_m: float, y_m: float) -> Explanation:
    return explain(plan().site, x_m, y_m, kept=KEPT)


def test_distances_are_those_of_the_objects() -> None:
    place = plan().proposal.placement
    found = at(place.x, place.y)
    lines = plan().site.utilities.set_index("id")
    basin = next(work for work in found.works if work.work == "basin")
    checked = 0
    for rule in basin.rules:
        if rule.rule == "utility":
            line = lines.loc[rule.against]
            half_m = 0.0 if np.isnan(line.diameter_m) else line.diameter_m / 2
            away_m = line.geometry.distance(Point(place.x, place.y)) - half_m
            if not np.isnan(line.diameter_m):
                assert rule.distance_m == pytest.approx(away_m)
                checked += 1
    assert checked


def told_at(x_m: float, y_m: float) -> dict[str, tuple[str, ...]]:
    return {
        head.partition(":")[0]: (head, *lines)
        for head, lines in explanation_lines(at(x_m, y_m), "si")
    }


def test_nothing_that_is_nearer_than_asked_is_said_to_keep_it() -> None:
    """Beside the overhead line a machine is not barred, but its boom is nearer than asked."""
    wire = plan().site.overhead.geometry.iloc[0]
    lot = plan().site.parcel
    inside = wire.buffer(7.0).intersection(lot).representative_point()
    told = told_at(inside.x, inside.y)
    boom = [line for line in told["machine"] if line.startswith("boom")]
    assert len(boom) == 1
    assert "nearer than" in boom[0]
    for lines in told.values():
        for line in lines:
            found = re.search(r": ([\d.]+) m away, (keeps|nearer than) the ([\d.]+) m asked", line)
            if found:
                assert (float(found[1]) >= float(found[3])) == (found[2] == "keeps"), line


def test_outside_the_lot_every_work_is_told_so_first_however_far() -> None:
    west, south, *_ = plan().site.parcel.bounds
    for away_m in (1.0, 20.0):
        told = told_at(west - away_m, south - away_m)
        for work in ("basin", "stream", "pipe", "pile", "fence"):
            assert told[work][0] == f"{work}: no", (away_m, work)
            assert told[work][1].startswith("outside the lot"), (away_m, work)


@pytest.mark.parametrize("spot", [(-77.5, 40.5), (554784.98, 95114.17)])
def test_a_point_beside_the_terrain_is_refused_in_the_crs_it_is_named_in(spot) -> None:
    """Degrees, and metres of the working CRS: what would be right is said in the layers' feet."""
    with pytest.raises(InputRefused) as refused:
        point_of(spot, plan().site)
    told = str(refused.value)
    assert ("look like degrees" in told) == (spot[0] < 0.0)
    west, south, east, north = (float(part) for part in re.findall(r"\d{6,}", told)[-4:])
    middle = (west + east) / 2.0, (south + north) / 2.0
    x_m, y_m = point_of(middle, plan().site)
    assert plan().site.terrain.outline.covers(Point(x_m, y_m))
    assert "ftUS" in told


def test_where_a_machine_crosses_a_line_no_distance_is_kept() -> None:
    line = plan().site.utilities.geometry.iloc[0].intersection(plan().site.parcel)
    spot = line.interpolate(0.5, normalized=True)
    utility = [one for one in told_at(spot.x, spot.y)["machine"] if one.startswith("utility")]
    assert all("keeps" not in one for one in utility)


def test_the_best_place_is_told_as_fitting() -> None:
    place = plan().proposal.placement
    found = at(place.x, place.y)
    assert found.basin_fits
    assert found.nearest_rank == 1
    assert found.nearest_m == pytest.approx(0.0, abs=1e-9)


def test_a_spot_on_a_line_names_it_with_no_distance() -> None:
    gas = plan().site.utilities.set_index("id").loc["G1"].geometry
    middle = gas.intersection(plan().site.parcel).interpolate(0.5, normalized=True)
    found = at(middle.x, middle.y)
    assert not found.basin_fits
    basin = next(work for work in found.works if work.work == "basin")
    assert basin.ground == "blocked"
    first = basin.rules[0]
    assert (first.rule, first.against, first.distance_m, first.blocks) == (
        "utility",
        "G1",
        0.0,
        True,
    )


def test_blocked_is_what_the_layer_of_blocked_ground_says() -> None:
    ground = plan().grounds["basin"]
    rng = np.random.default_rng(7)
    west, south, east, north = plan().site.parcel.bounds
    told = []
    for _ in range(25):
        spot = Point(rng.uniform(west, east), rng.uniform(south, north))
        basin = next(w for w in at(spot.x, spot.y).works if w.work == "basin")
        assert (basin.ground == "blocked") == bool(ground.blocked.intersects(spot))
        if basin.ground == "blocked":
            assert any(rule.blocks for rule in basin.rules)
        told.append(basin.ground)
    assert {"blocked", "open"} <= set(told)


def test_levels_and_slopes_are_the_terrains() -> None:
    """The made site is a plane: 100 - 0.08 y + 0.01 x."""
    made = proposed()
    x, y = made.site.parcel.centroid.coords[0]
    found = explain(made.site, x, y)
    assert found.slope == pytest.approx(math.hypot(0.08, 0.01), abs=1e-6)
    assert found.standing_m == 0.0
    json.dumps(explanation_document(found), allow_nan=False)


def test_a_spot_beyond_the_terrain_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(InputRefused, match="outside the terrain; give one between"):
        at(0.0, 0.0)
    site = str(ROOT / "sample_data" / "hillside" / "site.toml")
    assert run(["explain", site, "--at", "10", "20", "-q"]) == 3
    assert capsys.readouterr().err.count("\n") == 1


def test_a_point_in_feet_gets_to_metres() -> None:
    x, y = point_of(SPOT, plan().site)
    assert x == pytest.approx(SPOT[0] * 1200 / 3937)
    assert y == pytest.approx(SPOT[1] * 1200 / 3937)


def block() -> str:
    """What the command prints, in a box."""
    found = at(*point_of(SPOT, plan().site))
    rows = [
        "\n".join([head, *(f"  {line}" for line in lines)])
        for head, lines in explanation_lines(found, plan().site.report_units)
    ]
    return "\n".join(["```", *rows, "```"])


def rewritten(text: str) -> str:
    head, _, rest = text.partition(BEGIN)
    return f"{head}{BEGIN}\n\n{block()}\n\n{END}{rest.partition(END)[2]}"


def test_the_page_shows_what_is_printed() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert rewritten(text) == text, "python tests/test_explaining.py writes it anew"


if __name__ == "__main__":
    PAGE.write_text(rewritten(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
