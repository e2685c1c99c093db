"""plan.html as text: nothing from outside, nothing ends its element, the plan's own numbers."""

from __future__ import annotations

import hashlib
import io
import json
import math
import re
import unicodedata
from base64 import b64decode, b64encode
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import MARGIN_M, make_site, make_terrain, plane
from PIL import Image
from pyproj import CRS
from shapely import get_coordinates
from shapely.geometry import Point
from webmap_cases import (
    LONG,
    QUOTES,
    RIGHT_TO_LEFT,
    SCRIPT,
    TURNED,
    content_in,
    hostile,
    layer_in,
    read_page,
    without_place,
)

from geo_site.cautions import CAUTIONS, NOT_A_LOCATE
from geo_site.crs import metric_twin
from geo_site.drawn import Breach
from geo_site.layers import LAYERS, LOOKS
from geo_site.plan import Change
from geo_site.terrain import TerrainParameters, analyse
from geo_site.units import unit_factor
from geo_site.webmap import write_webmap
from geo_site.webmap.catalogue import GROUPS
from geo_site.webmap.content import content_of
from geo_site.webmap.edits import alerts
from geo_site.webmap.looks import symbol_data
from geo_site.webmap.plain_words import shown
from geo_site.webmap.relief import level_grid, shade, shading
from geo_site.webmap.shapes import Origin, origin_of
from geo_site.webmap.writing import SCRIPTS, STYLES, as_json

FOLDER = Path(__file__).parent.parent / "geo_site" / "webmap"
OWN = [name for name in (*SCRIPTS, *STYLES) if "leaflet" not in name]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page of a plan with a proposal and with hostile names."""
    file = write_webmap(hostile(), tmp_path_factory.mktemp("page") / "plan.html")
    return file.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def content(page: str) -> dict[str, Any]:
    """What that page carries."""
    return content_in(page)


def number_of(words: str, unit: str) -> float:
    """The number before a unit."""
    found = re.fullmatch(rf"(-?[\d.]+) {re.escape(unit)}", words)
    assert found, words
    return float(found[1])


# What the file may load: nothing.


def test_the_policy_names_the_blocks_of_the_page_and_nothing_else(page: str) -> None:
    """SHA-256 of each block's text in base 64 (Content Security Policy Level 3, 2.3.1)."""
    blocks = read_page(page)
    policy = next(
        attrs["content"]
        for tag, attrs in blocks.tags
        if tag == "meta" and attrs.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy
    rules = {part.split()[0]: set(part.split()[1:]) for part in policy.split(";") if part.strip()}
    assert rules == {
        "default-src": {"'none'"},
        "img-src": {"data:"},
        "style-src": {_hash(text) for text in blocks.styles},
        "script-src": {_hash(text) for text in blocks.scripts},
        "base-uri": {"'none'"},
        "form-action": {"'none'"},
    }
    assert len(blocks.styles) == len(STYLES)
    assert len(blocks.scripts) == len(SCRIPTS)


def _hash(text: str) -> str:
    return f"'sha256-{b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def test_no_tag_loads_anything_or_carries_a_style_or_a_handler(page: str) -> None:
    blocks = read_page(page)
    for tag, attrs in blocks.tags:
        assert tag not in {"link", "img", "iframe", "object", "embed", "form", "base"}, tag
        for name, value in attrs.items():
            assert not name.startswith("on"), (tag, name)
            assert name not in {"src", "style", "srcset", "action"}, (tag, name)
            assert name != "href" or str(value).startswith("#"), value


@pytest.mark.parametrize("name", OWN)
def test_own_parts_name_no_address_and_set_no_markup(name: str) -> None:
    text = (FOLDER / name).read_text(encoding="utf-8")
    told = text.replace('"http://www.w3.org/2000/svg"', "")
    assert not re.search(r"https?:|//[a-z]|url\((?!#)|@import|fetch\(|XMLHttp|WebSocket", told)
    assert not re.search(r"innerHTML|outerHTML|insertAdjacent|document\.write|eval\(", told)
    assert len(text.splitlines()) < 400


def test_the_library_is_the_one_that_was_published() -> None:
    """Its own licence is beside it, and the head of the file says which version it is."""
    head = (FOLDER / "leaflet/leaflet.js").read_text(encoding="utf-8")[:200]
    assert "Leaflet 1.9.4" in head
    assert "BSD 2-Clause" in (FOLDER / "leaflet/LICENSE").read_text(encoding="utf-8")


def test_same_plan_same_bytes(page: str, tmp_path: Path) -> None:
    again = write_webmap(hostile(), tmp_path / "again.html")
    assert again.read_bytes() == page.encode()


# Words of strangers.


def test_hostile_names_stay_words(page: str, content: dict[str, Any]) -> None:
    blocks = read_page(page)
    assert all(mark not in blocks.data for mark in "<>&")
    assert "onerror" not in {name for _, attrs in blocks.tags for name in attrs}
    names = {
        row[0] for row in (f["values"] for f in layer_in(content, "utility_lines")["features"])
    }
    assert names == {SCRIPT, "pipe [U+202E]gnol", RIGHT_TO_LEFT, LONG}
    assert QUOTES in layer_in(content, "given_structures_area")["features"][0]["values"]
    assert TURNED not in page
    assert "\u202e" not in page


def test_a_hostile_name_of_the_site_stays_in_its_title(tmp_path: Path) -> None:
    plan = without_place()
    named = replace(plan, site=replace(plan.site, name=f"{SCRIPT} $data {QUOTES}"))
    text = write_webmap(named, tmp_path / "plan.html").read_text(encoding="utf-8")
    assert read_page(text).title == f"{SCRIPT} $data {QUOTES}"
    assert content_in(text)["name"] == f"{SCRIPT} $data {QUOTES}"


@given(
    st.recursive(
        st.text() | st.integers() | st.none(), lambda x: st.lists(x) | st.dictionaries(st.text(), x)
    )
)
@settings(max_examples=25, deadline=None)
def test_json_comes_back_and_cannot_end_its_element(content: Any) -> None:
    told = as_json(content)
    assert json.loads(told) == content
    assert not set("<>&\u2028\u2029") & set(told)


def test_a_number_that_is_none_is_a_fault() -> None:
    with pytest.raises(ValueError, match="JSON"):
        as_json([math.nan])


@given(st.text())
@settings(max_examples=100, deadline=None)
def test_nothing_that_steers_is_shown(words: str) -> None:
    told = shown(words)
    assert not set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069") & set(told)
    assert all(unicodedata.category(mark) not in {"Cc", "Cs"} for mark in told)
    told.encode("utf-8")


def test_each_letter_that_turns_is_written_out() -> None:
    """The directional overrides, embeddings and isolates of UAX 9, section 2."""
    for code in (*range(0x202A, 0x202F), *range(0x2066, 0x206A)):
        assert shown(f"a{chr(code)}b") == f"a[U+{code:04X}]b"


def test_names_of_every_script_stay_as_they_are() -> None:
    for name in ("газ-水道-Ω", RIGHT_TO_LEFT, "été 🌊", "plain"):
        assert shown(name) == name


# The plan's own numbers.


def test_every_layer_is_in_one_group_with_all_its_rows(content: dict[str, Any]) -> None:
    shown_names = [layer["name"] for group in content["groups"] for layer in group["layers"]]
    assert len(shown_names) == len(set(shown_names))
    assert {layer.name for layer in LAYERS} <= set(shown_names)
    assert {name for _, names in GROUPS for name in names} <= {layer.name for layer in LAYERS}
    for layer in LAYERS:
        rows = list(layer.rows(hostile()))
        assert len(layer_in(content, layer.name)["features"]) == len(rows), layer.name


@pytest.mark.parametrize("name", LOOKS)
def test_looks_are_those_of_the_catalogue(content: dict[str, Any], name: str) -> None:
    """96 pixels of CSS are an inch, 25.4 mm (CSS Values and Units Level 3, 6.2)."""
    known = [LOOKS[name].symbol, *(symbol for _, symbol in LOOKS[name].classes)]
    for drawn in layer_in(content, name)["classes"]:
        symbol = drawn["symbol"]
        same = [k for k in known if (k.stroke, k.fill) == (symbol["stroke"], symbol["fill"])]
        assert any(
            symbol["width"] == pytest.approx(one.width_mm * 96 / 25.4, abs=0.005)
            and symbol["dash"] == pytest.approx([d * 96 / 25.4 for d in one.dash_mm], abs=0.005)
            and (symbol["hatch"], bool(symbol["casing"])) == (one.hatch, bool(one.casing))
            for one in same
        )


def test_shapes_are_the_plans_to_the_millimetre(content: dict[str, Any]) -> None:
    origin = origin_of(hostile().site.parcel)
    assert (origin.east_m, origin.north_m) == (500_000.0, 4_000_000.0)
    for name in ("basin", "utility_lines", "stream_bed", "clearances", "set_out"):
        layer = next(one for one in LAYERS if one.name == name)
        for row, drawn in zip(
            layer.rows(hostile()), layer_in(content, name)["features"], strict=True
        ):
            there = get_coordinates(row["geometry"]) - [origin.east_m, origin.north_m]
            flat = np.array(list(_numbers(drawn["shape"]))).reshape(-1, 2)
            assert flat == pytest.approx(there, abs=0.00051)


def test_each_feature_has_the_class_of_its_row(content: dict[str, Any]) -> None:
    for name, field in (("utility_lines", "kind"), ("stream_reaches", "kind")):
        layer = next(one for one in LAYERS if one.name == name)
        drawn = layer_in(content, name)
        for row, feature in zip(layer.rows(hostile()), drawn["features"], strict=True):
            title = drawn["classes"][feature["class"]]["title"]
            assert title == str(row[field]).replace("_", " ")


def _numbers(shape: Any) -> Any:
    if isinstance(shape, list):
        for one in shape:
            yield from _numbers(one)
    else:
        yield shape


def test_clearances_are_all_there_conflicts_first_and_never_look_longer(
    content: dict[str, Any],
) -> None:
    foot_m = unit_factor("ft", "length")
    rows = content["clearances"]
    by_number = {row.number: row for row in hostile().clearances}
    assert sorted(row["number"] for row in rows) == sorted(by_number)
    order = ["not_met", "unknown", "hand_dig", "met"]
    ranks = [order.index(row["verdict"]) for row in rows]
    assert ranks == sorted(ranks)
    spare = [
        by_number[row["number"]].clearance_m - by_number[row["number"]].required_m for row in rows
    ]
    both = list(zip(ranks, spare, strict=True))
    assert both == sorted(both)
    for row in rows:
        true = by_number[row["number"]]
        assert row["verdict"] == true.verdict
        asked, found = (number_of(row[key], "ft") * foot_m for key in ("asked", "found"))
        assert true.required_m - 1e-6 <= asked < true.required_m + 0.011 * foot_m
        assert true.clearance_m - 0.011 * foot_m < found <= true.clearance_m + 1e-6
        connector = layer_in(content, "clearances")["features"][row["feature"]]
        assert number_of(connector["values"][4], "ft") == number_of(row["found"], "ft")


def test_the_order_is_by_gravity_whatever_the_order_of_the_plan() -> None:
    """A plan whose rows are turned round, two of them judged anew."""
    plan = without_place()
    true = hostile().clearances
    rows = (
        replace(true[0], verdict="met", number=1),
        replace(true[1], verdict="hand_dig", number=2),
        replace(true[2], verdict="unknown", number=3),
        replace(true[3], verdict="not_met", number=4),
    )
    told = content_of(replace(plan, clearances=rows))
    assert [row["number"] for row in told["clearances"]] == [4, 3, 2, 1]
    assert [(one["name"], one["count"]) for one in told["verdicts"]] == [
        ("not_met", 1), ("unknown", 1), ("hand_dig", 1), ("met", 1),
    ]  # fmt: skip


def test_places_carry_the_marks_of_the_ranking(content: dict[str, Any]) -> None:
    assert len(content["places"]) == len(hostile().candidates) >= 2
    for told, ranked in zip(content["places"], hostile().candidates, strict=True):
        assert told["rank"] == ranked.rank
        assert float(told["score"]) == pytest.approx(ranked.score, abs=0.0051)
        assert [mark["score"] for mark in told["marks"]] == pytest.approx(
            [mark.score for mark in ranked.marks], abs=0.00051
        )


def test_the_section_lies_on_the_stream(content: dict[str, Any]) -> None:
    section, plan = content["section"], hostile()
    assert plan.proposal is not None
    line = plan.proposal.layout.alignment
    places = np.array(section["place"]).reshape(-1, 2) + ORIGIN_M
    for station_m, (x, y) in zip(section["station"], places, strict=True):
        assert Point(x, y).distance(line.interpolate(station_m)) < 0.002
    profile = plan.proposal.water.running.profile
    assert section["water"] == pytest.approx(profile.water_level_m.tolist(), abs=1e-4)
    assert section["bed"] == pytest.approx(profile.bed_m.tolist(), abs=1e-4)
    assert [fall["lip"] - fall["foot"] for fall in section["falls"]] == pytest.approx(
        [fall.height_m for fall in plan.proposal.layout.falls], abs=2e-4
    )


ORIGIN_M = np.array([500_000.0, 4_000_000.0])


def test_figures_are_in_the_units_of_the_report(content: dict[str, Any]) -> None:
    plan, told = hostile(), {row["label"]: row["value"] for row in content["figures"]}
    assert plan.proposal is not None
    fall_m = plan.proposal.layout.fall_m
    assert number_of(told["fall of the stream"], "ft") == pytest.approx(fall_m / 0.3048, abs=0.051)
    gallons = number_of(told["water that the pump can take"], "gal")
    litres = plan.proposal.water.usable_m3 * 1000.0
    assert gallons == pytest.approx(litres / 3.785411784, abs=0.51)
    bank = told["digging"].removesuffix(" in the bank")
    assert number_of(bank, "yd³") == pytest.approx(
        plan.proposal.earthwork.bank_m3 / 0.764554857984, abs=0.051
    )


def test_every_caution_and_warning_is_there(page: str, content: dict[str, Any]) -> None:
    assert [tuple(row) for row in content["cautions"]] == list(CAUTIONS)
    assert len(content["warnings"]) == len(hostile().warnings)
    assert len(content["visit"]) == len(hostile().visit)
    assert NOT_A_LOCATE in page


def test_without_a_place_the_rules_are_told() -> None:
    plan = without_place()
    told = content_of(plan)
    assert told["section"] is None
    assert told["places"] == []
    assert [row["rule"] for row in told["rules"]] == [
        row.rule.replace("_", " ") for row in plan.no_place
    ]
    assert plan.relaxations
    assert told["openings"] == [row.sentence for row in plan.relaxations]
    assert layer_in(told, "blocked_ground")["shown"]
    assert len(told["taken"]["blocked_ground"]) == len(plan.grounds["basin"].pieces) > 0


def test_what_takes_ground_is_named_with_its_source_and_distance(content: dict[str, Any]) -> None:
    told = dict(
        zip(
            [(piece.reason, piece.source_id) for piece in hostile().grounds["basin"].pieces],
            content["taken"]["blocked_ground"],
            strict=True,
        )
    )
    words = told[("utility", SCRIPT)]
    assert words.startswith(f"utility ({SCRIPT}): ")
    asked_m = next(
        piece.distance_m
        for piece in hostile().grounds["basin"].pieces
        if piece.source_id == SCRIPT and piece.reason == "utility"
    )
    feet = float(re.search(r": ([\d.]+) ft kept from it$", words)[1])
    assert asked_m <= feet * 0.3048 + 1e-9 < asked_m + 0.0035


def test_positions_speak_the_unit_of_the_layers() -> None:
    """EPSG:2264 is in US survey feet, 1200/3937 m (NIST SP 811, B.6)."""
    plan = without_place()
    feet = CRS.from_epsg(2264)
    site = replace(plan.site, crs=metric_twin(feet), output_crs=feet)
    grid = content_of(replace(plan, site=site))["grid"]
    assert grid["unit_m"] == pytest.approx(1200.0 / 3937.0, rel=1e-12)
    assert "EPSG:2264" in grid["told"][0]
    assert "US survey feet" in grid["told"][0]
    assert content_of(plan)["grid"]["unit_m"] == 1.0


def test_what_is_wrong_is_told_at_the_top_the_gravest_first() -> None:
    plan = hostile()
    rows = [replace(row, verdict="met") for row in plan.clearances]
    assert list(alerts(replace(plan, clearances=tuple(rows)))) == []
    rows[0], rows[1] = (replace(rows[i], verdict=v) for i, v in enumerate(("unknown", "not_met")))
    told = list(alerts(replace(plan, clearances=tuple(rows), breaches=(BREACH, BREACH))))
    assert [one.split(":")[0] for one in told] == [
        "Clearances not met",
        "Rules that the drawn works break",
        "Clearances unknown",
    ]
    assert [int(re.search(r": (\d+)", one)[1]) for one in told] == [1, 2, 1]


BREACH = Breach(
    work="basin_excavation",
    rule="steep",
    against="",
    asked=0.3,
    found=0.5,
    unit="-",
    sentence="2.00 m of it too steep",
)


def test_what_a_drawing_broke_and_changed_is_listed_in_report_units() -> None:
    """1 m is 3.2808 ft and 1 m3 of water is 264.17 US gallons (NIST SP 811)."""
    changed = [
        Change(name=name, words=name, unit=unit, before=before, after=after, difference=apart)
        for name, unit, before, after, apart in (
            ("fall_m", "m", 1.0, 2.0, 1.0),
            ("water_stored_m3", "m3", 1.0, 2.0, 1.0),
            ("lip_level_m", "m", 0.1, 0.2, 0.1),
            ("pools_count", "-", 3.0, 3.0, 0.0),
            ("free_room_m3", "m3", math.nan, 1.0, math.nan),
        )
    ]
    told = content_of(replace(hostile(), breaches=(BREACH,), changes=tuple(changed)))
    assert told["breaches"] == [["basin excavation", "", "6.56 ft of it too steep"]]
    assert told["changes"] == [
        ["fall_m", "3.28 ft", "6.56 ft"],
        ["water_stored_m3", "264 gal", "528 gal"],
        ["lip_level_m", "0.33 ft", "0.66 ft"],
        ["free_room_m3", "none", "264 gal"],
    ]


# The ground.


def test_shade_of_a_plane() -> None:
    """Cosine between normal and light: level 1/sqrt 2; square to the light 1; away from it 0."""
    half = math.sqrt(0.5)
    east = np.array([0.0, half, -half, 4.0, np.nan])
    north = np.array([0.0, -half, half, -4.0, 0.0])
    lit = shade(east, north)
    assert lit[:3] == pytest.approx([half, 1.0, 0.0], abs=1e-12)
    assert 0.0 < lit[3] < 1.0
    assert math.isnan(lit[4])


def test_the_picture_lies_where_its_cells_lie_and_is_clear_where_nothing_is_known() -> None:
    site = make_site(plane(0.1, 0.0))
    ground = site.terrain.values.copy()
    ground[:5, :5] = np.nan
    site = replace(site, terrain=site.terrain.like(ground))
    terrain = analyse(site, TerrainParameters())
    west, south, east, north = site.parcel.bounds
    told = shading(terrain, (west - 90.0, south - 5.0, east + 5.0, north + 90.0), Origin(-10, 20))
    assert told is not None
    assert told["bounds"] == [10.0 - MARGIN_M, -26.0, 56.0, 30.0 + MARGIN_M - 20.0]
    with Image.open(io.BytesIO(b64decode(told["picture"].partition(",")[2]))) as picture:
        grey, known = (np.asarray(band) for band in picture.split())
    assert grey.shape == (56, 66)
    assert known[0, 0] == 0
    assert known[20, 20] == 255
    assert np.ptp(grey[10:-2, 10:-2]) <= 1  # a plane has one shade


def test_levels_are_the_terrains_own() -> None:
    raster = make_terrain(lambda x, y: 100.0 + 3.0 * np.sin(x / 9.0) + 0.2 * y)
    raster.values.setflags(write=False)
    told = level_grid(raster, (-10.0, -10.0, 50.0, 40.0), Origin(0.0, 0.0))
    assert told is not None
    assert told["whole"]
    steps = np.frombuffer(b64decode(told["cells"]), "<u2").reshape(told["rows"], told["columns"])
    levels = told["low"] + told["step"] * steps
    x = told["west"] + told["width"] * np.arange(told["columns"])
    y = told["north"] - told["height"] * np.arange(told["rows"])
    true = 100.0 + 3.0 * np.sin(x[None, :] / 9.0) + 0.2 * y[:, None]
    assert levels == pytest.approx(true, abs=0.0051)


def test_many_cells_are_told_by_means_of_blocks() -> None:
    """The mean of a plane over a block is the plane at the block's middle."""
    raster = make_terrain(plane(0.05, -0.1), cell_m=0.1)
    told = level_grid(raster, raster.bounds, Origin(0.0, 0.0))
    assert told is not None
    assert not told["whole"]
    assert told["rows"] * told["columns"] <= 40_000
    steps = np.frombuffer(b64decode(told["cells"]), "<u2").reshape(told["rows"], told["columns"])
    x = told["west"] + told["width"] * np.arange(told["columns"])
    y = told["north"] - told["height"] * np.arange(told["rows"])
    true = 100.0 + 0.05 * x[None, :] - 0.1 * y[:, None]
    assert told["low"] + told["step"] * steps == pytest.approx(true, abs=0.0051)


def test_ground_beyond_the_data_is_told_as_none() -> None:
    raster = make_terrain("plane")
    assert level_grid(raster, (900.0, 900.0, 910.0, 910.0), Origin(0.0, 0.0)) is None
    nothing = raster.like(np.full(raster.shape, np.nan))
    assert level_grid(nothing, (0.0, 0.0, 9.0, 9.0), Origin(0.0, 0.0)) is None


def test_a_symbol_without_outline_has_none() -> None:
    assert symbol_data(LOOKS["basin"].symbol)["dash"] == []
