"""Plans side by side: dominance against the definition, and whole plans in every output."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import geopandas as gpd
import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_plans import proposed, without_place

from geo_site.errors import InputRefused
from geo_site.geopackage import write_geopackage
from geo_site.layers import LAYERS
from geo_site.plan import RESPECTS, Plan, assess, compare_values, figures_of, propose
from geo_site.readers import read_drawn
from geo_site.sheets import write_plan_pdf
from geo_site.tables import compared_lines, plan_document, write_compared
from geo_site.webmap.content import content_of

NAMES = ("fall_m", "excavation_m3", "margin_m")
BETTER = {respect.name: 1.0 if respect.more_is_better else -1.0 for respect in RESPECTS}
VALUES = st.lists(
    st.fixed_dictionaries(dict.fromkeys(NAMES, st.integers(0, 3).map(float))),
    min_size=1,
    max_size=6,
)


@pytest.fixture(scope="module")
def three() -> Plan:
    return propose(proposed().site, alternatives=3)


@given(values=VALUES)
def test_a_plan_is_dominated_by_those_nowhere_worse_and_somewhere_better(values) -> None:
    """Against the definition, pair by pair."""
    rows = compare_values(values, range(1, len(values) + 1))
    for one, row in zip(values, rows, strict=True):
        above = []
        for number, other in enumerate(values, 1):
            apart = [(other[name] - one[name]) * BETTER[name] for name in NAMES]
            if min(apart) >= 0 and max(apart) > 0:
                above.append(number)
        assert row.dominated_by == tuple(above)


@given(values=VALUES)
def test_somebody_is_never_dominated_and_the_best_are_named(values) -> None:
    rows = compare_values(values, range(1, len(values) + 1))
    assert any(not row.dominated_by for row in rows)
    for name in NAMES:
        best = [row.number for row in rows if name in row.best_at]
        told = [value[name] * BETTER[name] for value in values]
        if len(set(told)) == 1:
            assert best == []
        else:
            assert best == [n for n, value in enumerate(told, 1) if value == max(told)]


def test_what_one_plan_does_not_know_decides_nothing() -> None:
    rows = compare_values([{"fall_m": 1.0, "cost_total": 9.0}, {"fall_m": 1.0}], [1, 2])
    assert [row.best_at for row in rows] == [(), ()]
    assert [row.dominated_by for row in rows] == [(), ()]


def test_alternatives_are_whole_plans_of_the_next_places(three: Plan) -> None:
    site = proposed().site
    assert len(three.alternatives) == len(three.candidates) - 1
    assert figures_of(three) == figures_of(propose(site))
    for number, other in enumerate(three.alternatives, 2):
        assert other.proposal is not None
        assert other.proposal.best.rank == number
        footprint = three.candidates[number - 1].candidate.placement.footprint
        assert other.proposal.works.basin.equals(footprint)
        assert other.clearances
        assert other.quantities


def test_rows_of_the_comparison_are_the_plans_own_figures(three: Plan) -> None:
    for row, one in zip(three.compared, (three, *three.alternatives), strict=True):
        assert row.values["fall_m"] == figures_of(one)["fall_m"]
        assert row.values["excavation_m3"] == figures_of(one)["excavation_m3"]


def test_the_geopackage_holds_each_plan_under_its_number(three: Plan, tmp_path: Path) -> None:
    path = write_geopackage(three, tmp_path / "plan.gpkg")
    basins = gpd.read_file(path, layer="basin").set_index("alternative")
    assert sorted(basins.index) == list(range(1, len(three.alternatives) + 2))
    second = three.alternatives[0].proposal
    assert second is not None
    assert basins.loc[2, "floor_level_m"] == pytest.approx(second.placement.floor_level_m)
    parcel = gpd.read_file(path, layer="parcel")
    assert len(parcel) == 1
    assert "alternative" not in parcel.columns


def test_every_document_tells_the_comparison(three: Plan, tmp_path: Path) -> None:
    with write_compared(three, tmp_path / "a.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["sentence"] for row in rows] == [one.sentence for one in three.compared]
    told = json.loads(json.dumps(plan_document(three)))["alternatives"]
    assert [row["number"] for row in told] == [one.number for one in three.compared]
    write_plan_pdf(three, tmp_path / "a.pdf")
    words = " ".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "a.pdf").pages)
    assert "whole plans side by side" in words
    assert "plan 2: place 2" in words
    assert all(len(line) <= 60 for line in compared_lines(three))
    sentences = content_of(three)["compared"]
    assert len(sentences) == len(three.compared)
    assert all(one.sentence in told for one, told in zip(three.compared, sentences, strict=True))


def test_without_a_place_there_is_nothing_to_compare() -> None:
    plan = propose(without_place().site, alternatives=3)
    assert plan.alternatives == ()
    assert list(compared_lines(plan)) == []
    with pytest.raises(ValueError, match="at least one"):
        propose(without_place().site, alternatives=0)


def test_another_alternative_comes_back_from_the_file_with_its_own_figures(
    three: Plan, tmp_path: Path
) -> None:
    path = write_geopackage(three, tmp_path / "plan.gpkg")
    for number, other in enumerate(three.alternatives, 2):
        drawn, earlier = read_drawn(path, three.site, alternative=number)
        assert dict(earlier.figures) == pytest.approx(dict(figures_of(other)))
        again = assess(three.site, drawn, earlier)
        assert again.changes
        assert all(change.difference == pytest.approx(0.0, abs=1e-6) for change in again.changes)
    with pytest.raises(InputRefused):
        read_drawn(path, three.site, alternative=len(three.alternatives) + 2)


def test_of_several_plans_none_is_judged_unasked(three: Plan, tmp_path: Path) -> None:
    path = write_geopackage(three, tmp_path / "plan.gpkg")
    with pytest.raises(InputRefused, match=r"it holds several plans: 1, 2; .*--alternative N"):
        read_drawn(path, three.site)
    one, _ = read_drawn(path, three.site, alternative=1)
    other, _ = read_drawn(path, three.site, alternative=2)
    assert not one.basin.equals(other.basin)


def test_the_only_plan_that_is_left_is_read_by_its_own_number(three: Plan, tmp_path: Path) -> None:
    path = write_geopackage(three, tmp_path / "plan.gpkg")
    wanted, figures = read_drawn(path, three.site, alternative=2)
    layers = [layer.name for layer in LAYERS if "alternative" in {f.name for f in layer.fields}]
    for name in layers:
        rows = gpd.read_file(path, layer=name)
        rows[rows["alternative"] == 2].to_file(path, layer=name)
    found, earlier = read_drawn(path, three.site)
    assert found.basin.equals(wanted.basin)
    assert dict(earlier.figures) == dict(figures.figures)
