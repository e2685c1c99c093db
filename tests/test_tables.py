"""plan.json, the CSV lists and the summary against the plan they are made from."""

from __future__ import annotations

import csv
import io
import itertools
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_plans import FAR_LETTERS, FORMULA, MARKUP, proposed, without_place

from geo_site.cautions import CAUTIONS
from geo_site.layers import LAYERS, to_frame
from geo_site.plan import NoPlaceRow
from geo_site.site import InputRecord
from geo_site.tables import (
    lists,
    plan_document,
    summary_lines,
    write_clearances,
    write_plan_json,
    write_quantities,
)
from geo_site.tables.lists import guarded
from geo_site.tables.plain import plain

CONTRACT = (
    "site",
    "inputs",
    "basin",
    "candidates",
    "stream",
    "water",
    "drainage",
    "earthwork",
    "clearances",
    "quantities",
    "warnings",
    "visit",
    "settings",
    "versions",
    "no_place",
    "status",
)


def refuse_constant(word: str):
    raise AssertionError(f"{word} is no JSON")


def document(tmp_path: Path, plan=None) -> dict:
    path = write_plan_json(plan or proposed(), tmp_path / "plan.json")
    return json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse_constant)


def first(name: str):
    return to_frame(next(one for one in LAYERS if one.name == name), proposed()).iloc[0]


# --- plan.json


@pytest.mark.parametrize("plan", [proposed, without_place], ids=["place", "no place"])
def test_every_key_of_the_contract_is_there(plan, tmp_path):
    told = document(tmp_path, plan())
    assert set(CONTRACT) <= set(told)
    extra = {"alternatives", "cautions", "certainty", "clearance_record", "costs"}
    extra |= {"breaches", "changes", "relaxations", "sources"}
    assert set(told) - set(CONTRACT) == extra


def test_it_says_the_same_as_the_layers(tmp_path):
    told = document(tmp_path)
    basin, stream = first("basin"), first("stream_alignment")
    for name in ("rotation_deg", "length_m", "width_m", "depth_m", "stored_m3", "usable_m3"):
        assert told["basin"][name] == basin[name], name
    assert told["stream"]["fall_m"] == stream.fall_m
    assert told["stream"]["length_m"] == stream.length_m
    assert told["earthwork"]["pile"]["volume_m3"] == first("spoil_pile").volume_m3
    assert told["earthwork"]["silt_fence_m"] == pytest.approx(first("silt_fence").length_m)
    assert told["candidates"][0]["clearance_m"] == first("basin_candidates").clearance_m
    assert [row["verdict"] for row in told["clearances"]] == [
        row.verdict for row in proposed().clearances
    ]
    assert told["water"]["static_lift_m"] == proposed().proposal.water.static_lift_m


def test_corners_are_those_of_the_basin(tmp_path):
    corners = {tuple(corner) for corner in document(tmp_path)["basin"]["corners_m"]}
    assert corners == {corner[:2] for corner in first("basin").geometry.exterior.coords}
    assert len(corners) == 4


def half_range_of_the_fall(plan):
    """Half of the 95 % range by hand: the likeness falls to 5 % over 15 m, a hundredth has none."""
    lip = plan.proposal.layout.alignment.coords[0]
    corners = plan.proposal.placement.footprint.exterior.coords[:-1]
    rim = min(corners, key=lambda c: -0.08 * (c[1] - 4_000_000.0) + 0.01 * (c[0] - 500_000.0))
    rho = 0.99 * math.exp(-3.0 * (math.dist(lip[:2], rim) / 15.0) ** 2)
    return 1.959964 * 0.1 * math.sqrt(2.0 * (1.0 - rho))


def test_the_fall_has_its_range(tmp_path):
    """TER-32: two levels of 0.1 m whose errors are alike: 1.96 x 0.1 x sqrt(2 (1 - rho))."""
    stream = document(tmp_path)["stream"]
    half_m = half_range_of_the_fall(proposed())
    assert half_m < 1.959964 * 0.1 * math.sqrt(2.0)
    assert stream["fall_low_m"] == pytest.approx(stream["fall_m"] - half_m, abs=1e-6)
    assert stream["fall_high_m"] == pytest.approx(stream["fall_m"] + half_m, abs=1e-6)


def test_an_unknown_error_gives_no_range(tmp_path):
    plan = replace(proposed(), site=replace(proposed().site, rmse_z_m=math.nan))
    stream = document(tmp_path, plan)["stream"]
    assert stream["fall_low_m"] is None
    assert stream["fall_high_m"] is None


def test_what_is_not_known_is_null(tmp_path):
    best = proposed().candidates[0]
    lone = replace(best.candidate, clearance_m=math.inf, margin_m=math.inf)
    plan = replace(proposed(), candidates=(replace(best, candidate=lone),))
    assert document(tmp_path, plan)["candidates"][0]["clearance_m"] is None


def test_without_a_place_the_reasons_are_there(tmp_path):
    told = document(tmp_path, without_place())
    assert told["status"] == "no_place"
    assert told["no_place"]
    assert set(told["no_place"][0]) == {"rule", "ground_m2", "only_this_m2"}
    assert told["basin"] is told["stream"] is told["water"] is told["earthwork"] is None
    assert told["candidates"] == told["clearances"] == []


def test_each_setting_has_value_unit_and_source(tmp_path):
    settings = document(tmp_path)["settings"]
    rows = proposed().settings.rows()
    assert list(settings) == [row.key for row in rows]
    assert all({"value", "unit", "source"} <= set(row) for row in settings.values())
    assert settings["siting.candidates"]["value"] == 2
    assert settings["siting.candidates"]["is_default"] is False


def test_inputs_are_told_as_written_and_without_dates(tmp_path):
    record = InputRecord(
        name="parcel",
        path="../data/parcels.gpkg",
        sha256="ab" * 32,
        crs="EPSG:32617",
        unit="m",
        count=3,
        extent=(0.0, 1.0, 2.0, 3.0),
        modified="2026-01-02",
    )
    plan = replace(proposed(), site=replace(proposed().site, records=(record,)))
    told = document(tmp_path, plan)["inputs"]
    assert told == [
        {
            "name": "parcel",
            "path": "../data/parcels.gpkg",
            "sha256": "ab" * 32,
            "crs": "EPSG:32617",
            "unit": "m",
            "count": 3,
            "extent_m": [0.0, 1.0, 2.0, 3.0],
            "notes": [],
        }
    ]


def test_the_ticket_s_dates_are_the_only_ones(tmp_path):
    told = document(tmp_path)
    assert told["site"]["ticket"]["as_of"] == "2026-06-01"
    del told["site"]["ticket"]
    del told["clearance_record"]  # days of the ticket again, and of its law
    settings = json.dumps({key: value for key, value in told.items() if key != "versions"})
    assert not re.search(r"20\d\d-\d\d-\d\d", settings)


def test_versions_name_both_gdals(tmp_path):
    versions = document(tmp_path)["versions"]
    assert {"geo_site", "python", "pyogrio GDAL", "rasterio GDAL", "pyproj PROJ"} <= set(versions)
    assert all(re.match(r"\d+\.\d+", version) for version in versions.values())


def test_all_cautions_are_told(tmp_path):
    assert len(document(tmp_path)["cautions"]) == len(CAUTIONS)


COUNTS = {"count", "sequence", "rank", "rows", "columns", "layers", "units", "units_more"} | {
    "grid_scale", "haul_loads", "flow_paths", "number", "stands_for", "trees", "unknown_kind",
    "assumed_crowns", "simulations"
}  # fmt: skip


def test_lengths_areas_and_volumes_carry_their_unit(tmp_path):
    """A number with a unit has it in its name; the others are these."""
    page = (Path(__file__).parent.parent / "docs" / "nomenclature.md").read_text(encoding="utf-8")
    suffixes = tuple(re.findall(r"^\| `(_\w+)`", page, re.M))
    assert {"_m", "_m3s", "_pa"} <= set(suffixes)
    listed = page[page.index("## Pure numbers") : page.index("## Words of the trade")]
    pure = set(re.findall(r"`(\w+)`", listed)) | COUNTS
    told = document(tmp_path)
    del told["settings"]

    def walk(node, name=""):
        if isinstance(node, dict):
            for key, inner in node.items():
                walk(inner, key)
        elif isinstance(node, list):
            for inner in node:
                walk(inner, name)
        elif isinstance(node, int | float) and not isinstance(node, bool):
            assert name in pure or name.endswith(suffixes), name

    walk(told)


def test_the_same_plan_gives_the_same_text(tmp_path):
    first, second = (write_plan_json(proposed(), tmp_path / name) for name in "ab")
    assert first.read_bytes() == second.read_bytes()


def test_foreign_letters_are_written_as_they_are(tmp_path):
    path = write_plan_json(proposed(), tmp_path / "plan.json")
    assert FAR_LETTERS in path.read_text(encoding="utf-8")


def test_a_kind_of_value_that_nobody_thought_of_is_a_fault():
    with pytest.raises(TypeError, match="object"):
        plain({"a": object()})


@given(st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=10,
))  # fmt: skip
def test_plain_data_is_always_json(value):
    json.dumps(plain(value), allow_nan=False)


# --- CSV


def cells(path: Path) -> list[list[str]]:
    return list(csv.reader(io.StringIO(path.read_bytes().decode("utf-8"), newline="")))


def test_the_clearance_list_has_every_row(tmp_path):
    header, *rows = cells(write_clearances(proposed(), tmp_path / "clearance.csv"))
    assert {"work", "against", "kind", "required_m", "clearance_m", "verdict"} <= set(header)
    assert len(rows) == len(proposed().clearances)
    for cells_of, row in zip(rows, proposed().clearances, strict=True):
        cell = dict(zip(header, cells_of, strict=True))
        assert (cell["number"], cell["work"]) == (str(row.number), row.work)
        assert float(cell["required_m"]) == pytest.approx(row.required_m, abs=5e-5)
        assert float(cell["clearance_m"]) == pytest.approx(row.clearance_m, abs=5e-5)
        parts_m = float(cell["rule_m"]) + float(cell["uncertainty_m"])
        assert parts_m == pytest.approx(row.required_m, abs=1.5e-4)
        assert cell["verdict"] == row.verdict


def test_no_name_becomes_a_formula(tmp_path):
    _, *rows = cells(write_clearances(proposed(), tmp_path / "clearance.csv"))
    against = {row[2] for row in rows}
    assert f"'{FORMULA}" in against
    assert FORMULA not in against
    assert {MARKUP, FAR_LETTERS} <= against


def test_the_quantity_list_has_units(tmp_path):
    header, *rows = cells(write_quantities(proposed(), tmp_path / "quantities.csv"))
    assert header == ["group", "item", "amount", "unit", "note"]
    told = {row[1]: (row[2], row[3]) for row in rows}
    layout = proposed().proposal.layout
    assert told["falls"] == (str(len(layout.falls)), "count")
    assert float(told["stream bed"][0]) == pytest.approx(layout.bed.area, abs=1e-4)
    assert {row[3] for row in rows} <= {"m", "m2", "m3", "t", "count"}


def test_lists_are_empty_but_headed_without_a_place(tmp_path):
    assert len(cells(write_clearances(without_place(), tmp_path / "c.csv"))) == 1
    assert len(cells(write_quantities(without_place(), tmp_path / "q.csv"))) == 1


def test_an_unknown_amount_is_an_empty_cell(tmp_path):
    row = replace(proposed().quantities[0], amount=math.nan)
    path = write_quantities(replace(proposed(), quantities=(row,)), tmp_path / "q.csv")
    assert cells(path)[1][2] == ""


@pytest.mark.parametrize(
    "text", ["=1", "+1", "-1", "@a", "\t=1", "\r=1", "  =1", "＝1", "\x00", "\x85"]
)
def test_formulas_are_disarmed(text):
    assert guarded(text) == f"'{text}"


@given(st.text())
def test_guarded_text_never_begins_like_a_formula_and_loses_nothing(text):
    told = guarded(text)
    assert told.removeprefix("'") == text.removeprefix("'") or told == text
    assert not told or told[0] not in "=+-@"
    assert not told or ord(told[0]) >= 32


@pytest.mark.parametrize("text", ["gas-12", "", "'quoted'", "a=b", "1-2", "газ"])
def test_plain_names_stay(text):
    assert guarded(text) == text


# --- summary


def fits(lines: list[str]) -> bool:
    return len(lines) <= 15 and all(len(line) <= 60 for line in lines)


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("plan", [proposed, without_place], ids=["place", "no place"])
def test_the_summary_fits_a_narrow_terminal(plan, system):
    given_plan = replace(plan(), site=replace(plan().site, report_units=system, name="n" * 90))
    lines = summary_lines(given_plan)
    assert fits(lines)
    assert lines[0].count("n") > 20
    assert "call before you dig" in lines[-1]
    in_feet = re.search(r"\d (ft|in|ft²)\b", " ".join(lines)) is not None
    assert in_feet == (system == "us")


def test_the_summary_tells_the_fall_with_its_range():
    text = "\n".join(summary_lines(proposed()))
    fall_m = proposed().proposal.layout.fall_m
    half_m = half_range_of_the_fall(proposed())
    assert f"fall {fall_m:.2f} m (95 %: {fall_m - half_m:.2f} m to" in text
    assert re.search(r"; \d\d % for 0.75 m\)", text)
    without = "\n".join(summary_lines(replace(proposed(), certainty=None)))
    assert f"fall {fall_m:.2f} m (95 %: {fall_m - 0.277:.2f} m to" in without


def test_a_fall_within_the_error_is_not_asserted():
    wide = replace(proposed().certainty.fall, low=-0.1)
    plan = replace(proposed(), certainty=replace(proposed().certainty, fall=wide))
    assert any("within the terrain's error" in line for line in summary_lines(plan))
    plan = replace(proposed(), site=replace(proposed().site, rmse_z_m=math.nan))
    assert any("its error unknown" in line for line in summary_lines(plan))


def test_conflicts_come_first_and_by_name():
    rows = proposed().clearances
    broken = replace(rows[0], verdict="not_met", kind="gas", against="GAS-1", clearance_m=0.1)
    touched = replace(broken, kind="boundary", against="14", clearance_m=0.0)
    lines = summary_lines(replace(proposed(), clearances=(*rows[2:], broken, touched)))
    assert lines[1].startswith("clearances: 2 not met, ")
    assert lines[2] == "not met: gas GAS-1, on lot line 14"
    assert fits(lines)


def test_earth_that_is_brought_in_and_the_machine_s_way_are_told_however_much_is_wrong():
    plan = proposed()
    works = replace(plan.proposal, earthwork=replace(plan.proposal.earthwork, brought_m3=620.0))
    verdicts = itertools.cycle(["not_met", "hand_dig", "unknown", "met"])
    rows = tuple(replace(row, verdict=next(verdicts)) for row in plan.clearances)
    lines = summary_lines(replace(plan, proposal=works, clearances=rows))
    assert "bring in 620.0 m\u00b3 of loose soil for the berm" in lines
    assert any("machine" in line for line in lines)
    assert fits(lines)


def test_small_numbers_keep_their_digits_in_a_table():
    assert [lists._cell(value) for value in (0.00308, -1e-9, 12.34567, -0.5)] == [
        "0.00308", "0", "12.3457", "-0.5"
    ]  # fmt: skip


def test_no_place_tells_which_rules_bind():
    plan = without_place()
    lines = summary_lines(plan)
    assert lines[0].startswith("no place")
    assert any(row.rule.split()[0] in " ".join(lines) for row in plan.no_place)
    many = tuple(
        NoPlaceRow(rule=f"rule_{i}", ground_m2=10.0, only_this_m2=math.nan) for i in range(20)
    )
    lines = summary_lines(replace(plan, no_place=many))
    assert fits(lines)
    assert "and 8 more in plan.json" in lines


def test_a_long_reason_is_told_whole():
    long = "no stream: " + "the ground falls too little here " * 4
    row = NoPlaceRow(rule=long.strip(), ground_m2=math.nan, only_this_m2=math.nan)
    lines = summary_lines(replace(without_place(), no_place=(row,)))
    assert fits(lines)
    assert " ".join(line.strip() for line in lines[1:-1]) == long.strip()


def test_names_with_control_characters_do_not_reach_the_terminal():
    site = replace(proposed().site, name="a\x1b[31mred\x07\nline")
    assert all(line.isprintable() for line in summary_lines(replace(proposed(), site=site)))


def test_the_document_is_what_is_written(tmp_path):
    assert document(tmp_path) == json.loads(json.dumps(plan_document(proposed())))
