"""Every sheet looked at by measure: no words on words, none off its frame, every label told."""

from __future__ import annotations

import datetime
import math
import re
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pypdf
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from made_plans import proposed, sample_plan, without_place
from made_sites import make_site
from nasty_site import NAMES, nasty_plan
from shapely import STRtree, box

from geo_site.certainty import Certainty, ClearanceRange, PlaceCertainty, Range
from geo_site.drawn import Breach
from geo_site.errors import InputRefused
from geo_site.plan import Change, Plan, propose
from geo_site.readers.document import read_document
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.labels import LabelBoard
from geo_site.sheets.lettering import pinch_words, settable, width_mm
from geo_site.sheets.maps import choose_scale, draw_position_ticks, draw_scale_bar, open_map
from geo_site.sheets.paper import PAPERS, Frame, Pen, Sheet
from geo_site.sheets.plan_book import plan_book
from geo_site.sheets.record import record_book
from geo_site.sheets.sureness import chance_told
from geo_site.sheets.title_facts import both
from geo_site.units import format_length

MM_PER_POINT = 25.4 / 72.0
NAN = math.nan
TOUCH_MM = 0.25  # letters are lower than the room that is counted for them


@lru_cache
def tiny() -> Plan:
    """A place on a lot that is hardly larger than the basin."""
    quick = {"siting": {"units": 1, "shortlist": 1, "candidates": 1, "rotation_step": 90.0}}
    lot = box(0.0, 0.0, 11.0, 9.0)
    rules = {"boundary": {"basin": 0.1, "stream": 0.1, "pipe": 0.1, "pile": 0.1, "fence": 0.1}}
    return propose(make_site("plane", lot=lot, tables={**quick, "constraints": rules}))


def six() -> Plan:
    """A plan whose places fill the page on which they are compared."""
    plan = proposed()
    places = tuple(replace(plan.candidates[0], rank=rank) for rank in range(1, 9))
    return replace(plan, candidates=places, site=replace(plan.site, report_units="us"))


def assessed() -> Plan:
    """A plan with a drawn basin that breaks a rule, figures before and after, and a range."""
    plan = replace(proposed(), site=replace(proposed().site, report_units="us"))
    breach = Breach(
        work="basin",
        rule="boundary",
        against="lot",
        asked=1.5,
        found=0.4,
        unit="m",
        sentence="the pit comes to 0.40 m found, 1.50 m asked of the lot's line",
    )
    changes = (
        Change(name="fall_m", words="fall", unit="m", before=0.9, after=0.7, difference=-0.2),
        Change(
            name="water_stored_m3",
            words="water stored",
            unit="m3",
            before=1.0,
            after=1.2,
            difference=0.2,
        ),
        Change(name="dug_m3", words="dug", unit="m3", before=10.0, after=12.0, difference=2.0),
        Change(name="falls_count", words="falls", unit="-", before=4, after=4, difference=0),
        Change(name="pile_m3", words="pile", unit="m3", before=NAN, after=1.0, difference=NAN),
    )
    sources = {"basin": "drawn", "stream": "worked out"}
    return replace(plan, status="assessed", breaches=(breach,), changes=changes, sources=sources)


PLANS = {
    "hillside": lambda: sample_plan("hillside"),
    "lidar": lambda: sample_plan("lidar"),
    "small": proposed,
    "no place": without_place,
    "nasty": nasty_plan,
    "tiny": tiny,
    "eight places": six,
    "assessed": assessed,
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("sheets")


@pytest.fixture(scope="module")
def books(folder: Path):
    """Both documents of a plan by its name, written once, with the boards of their labels."""
    boards: list[LabelBoard] = []
    kept = LabelBoard.place

    def place(self: LabelBoard, labels: object) -> object:
        boards.append(self)
        return kept(self, labels)

    @lru_cache
    def give(name: str) -> tuple[tuple[Booklet, Booklet], tuple[LabelBoard, ...]]:
        boards.clear()
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(LabelBoard, "place", place)
            made = plan_book(PLANS[name]()), record_book(PLANS[name]())
        for book, document in zip(made, ("plan", "clearance"), strict=True):
            book.write(folder / f"{name} {document}.pdf")
        return made, tuple(boards)

    return give


@pytest.mark.parametrize("name", sorted(PLANS))
def test_no_words_lie_on_words_or_leave_the_sheet(name: str, books) -> None:
    for book in books(name)[0]:
        for number, sheet in enumerate(book.sheets, 1):
            edges = [(r.x_mm, r.y_mm, r.right_mm, r.top_mm) for _, r in sheet.words_set]
            rooms = shapely.box(*np.array(edges).T)
            page = box(0, 0, sheet.paper.width_mm, sheet.paper.height_mm).buffer(-5.0)
            off = np.flatnonzero(~shapely.covers(page, rooms))
            assert not len(off), (number, [sheet.words_set[k][0] for k in off])
            tree = STRtree(shapely.buffer(rooms, -TOUCH_MM, cap_style="square"))
            pairs = tree.query(tree.geometries, predicate="intersects")
            lain = [(sheet.words_set[a][0], sheet.words_set[b][0]) for a, b in pairs.T if a < b]
            assert not lain, (number, lain)


@pytest.mark.parametrize("name", ["hillside", "lidar", "nasty"])
def test_labels_stay_in_their_frame_and_off_each_other(name: str, books) -> None:
    boards = books(name)[1]
    assert len(boards) >= 7
    for board in boards:
        frame, boxes = board.plot.frame, [box(*taken) for taken in board._taken]
        edge = box(frame.x_mm, frame.y_mm, frame.right_mm, frame.top_mm).buffer(1e-6)
        assert all(edge.covers(one) for one in boxes)
        pairs = STRtree(boxes).query(boxes, predicate="overlaps").T
        assert all(boxes[a].intersection(boxes[b]).area < 1e-6 for a, b in pairs)


def test_every_letter_of_a_foreign_name_is_set_or_told_by_number(books, folder: Path) -> None:
    sheets = books("nasty")[0][1].sheets
    first = next(n for n, s in enumerate(sheets) if any(w == "marked" for w, _ in s.words_set))
    pages = pypdf.PdfReader(folder / "nasty clearance.pdf").pages[first : first + 2]
    text = re.sub(r"\s", "", "".join(page.extract_text() for page in pages))
    for name in NAMES:
        squeezed = re.sub(r"\s", "", settable(name))
        assert squeezed in text or squeezed[::-1] in text  # an extractor may turn lines again


def test_words_from_right_to_left_are_set_in_their_order() -> None:
    assert settable("\u05d0\u05d1\u05d2 7") == "\u05d2\u05d1\u05d0 7"
    assert settable("a \u05d0\u05d1 \u05d2 b") == "a \u05d2 \u05d1\u05d0 b"


def test_long_names_keep_their_ends() -> None:
    pinched = [pinch_words(f"The Regional Company, section {n}", 30.0, 7.0) for n in range(40)]
    assert len(set(pinched)) == 40
    assert all(width_mm(words, 7.0) <= 30.0 for words in pinched)


@pytest.mark.parametrize("name", ["hillside", "lidar", "nasty"])
def test_every_number_on_the_cover_has_a_unit(name: str, books, folder: Path) -> None:
    """Factors, counts of a list and codes have none."""
    books(name)
    bare = re.compile(
        r"(?<![\w.:-])\d+\.\d+(?![\w.:])(?! ?(?:ft|in|m|mm|L|gal|gpm|yd|ac|%|days|to \d))"
    )
    text = " ".join(pypdf.PdfReader(folder / f"{name} plan.pdf").pages[0].extract_text().split())
    text = re.sub(r"factor (?:here )?is [\d.]+", "", text)
    assert not bare.findall(text), [
        text[m.start() - 30 : m.end() + 20] for m in bare.finditer(text)
    ]


def test_a_sheet_says_its_title_facts(books, folder: Path) -> None:
    books("nasty")
    pages = pypdf.PdfReader(folder / "nasty plan.pdf").pages
    for number, page in enumerate(pages, 1):
        text = " ".join(page.extract_text().split())
        assert f"sheet {number} of {len(pages)}" in text
        for told in ("as of 2026-06-01", "revision B, for review", "tabloid, 17 x 11 in", "UTM"):
            assert told in text
    assert "1 in = 20 ft (1:240), sheet 2" in " ".join(pages[1].extract_text().split())
    assert "grid, whose scale factor here is 0.9996" in " ".join(pages[1].extract_text().split())
    assert "setback" in pages[1].extract_text()


def test_outline_and_properties(books, folder: Path) -> None:
    books("small")
    reader = pypdf.PdfReader(folder / "small plan.pdf")
    titles = [entry.title for entry in reader.outline]
    assert titles[0] == "what is proposed, and how sure it is"
    assert len(titles) == len(set(titles)) >= 9
    assert [reader.get_destination_page_number(entry) for entry in reader.outline] == sorted(
        reader.get_destination_page_number(entry) for entry in reader.outline
    )
    told = reader.metadata
    assert told.title.startswith("made for a test")
    assert "plan of a recirculating stream" in told.subject
    assert told.creation_date.date() == datetime.date(2026, 6, 1)  # the plan's own day


@pytest.mark.parametrize("name", sorted(PAPERS))
@pytest.mark.parametrize("system", ["si", "us"])
def test_the_scale_bar_measures_what_it_says(name: str, system: str, tmp_path: Path) -> None:
    book = Booklet("scale", "test", PAPERS[name])
    sheet, room = book.add("a bar")
    scale = choose_scale((0.0, 0.0, 25.0, 15.0), room, system)
    draw_scale_bar(sheet, room.x_mm, room.y_mm, scale, system)
    book.write(tmp_path / "a.pdf")
    content = pypdf.PdfReader(tmp_path / "a.pdf").pages[0].get_contents().get_data().decode()
    number = r"(-?\d*\.?\d+)"
    corners = re.findall(rf"{number} {number} m {number} {number} l {number} {number} l", content)
    xs = [float(value) * MM_PER_POINT for corner in corners for value in corner[::2]]
    unit_m = 0.3048 if system == "us" else 1.0
    ends = [words for words, _ in sheet.words_set if words.endswith((" ft", " m"))]
    wanted_mm = float(ends[0].split()[0]) * unit_m * 1000.0 / scale.ratio
    assert max(xs) - min(xs) == pytest.approx(wanted_mm, abs=0.005)


def test_position_ticks_stand_where_they_say() -> None:
    sheet, frame = Sheet(PAPERS["a4"]), Frame(20.0, 20.0, 200.0, 150.0)
    bounds = (500_003.0, 4_000_002.0, 500_043.0, 4_000_032.0)
    plot = open_map(sheet, frame, bounds, choose_scale(bounds, frame, "si"))
    draw_position_ticks(plot)
    told = [(words, room) for words, room in sheet.words_set if words.endswith(" E")]
    assert len(told) >= 2
    for words, room in told:
        x_mm, _ = plot.on_page(float(words.removesuffix(" m E")), plot.y)
        assert 0.5 * (room.x_mm + room.right_mm) == pytest.approx(x_mm, abs=1e-6)


def test_a_hatch_stays_in_its_area_and_is_there(tmp_path: Path) -> None:
    for hatch in ("slash", "backslash", "cross", "grid", "level", "upright", "dots"):
        book = Booklet("hatch", "test", PAPERS["letter"])
        sheet, _ = book.add("one")
        ring = [(50.0, 50.0), (90.0, 50.0), (90.0, 80.0), (50.0, 80.0)]
        before = len(sheet._drawn)
        sheet.shape([ring], Pen(hatch=hatch, hatch_mm=3.0), closed=True)
        assert len(sheet._drawn) == before + 1
        book.write(tmp_path / "a.pdf")
        content = pypdf.PdfReader(tmp_path / "a.pdf").pages[0].get_contents().get_data().decode()
        number = r"(-?\d*\.?\d+)"
        lines = np.array(re.findall(rf"{number} {number} m {number} {number} l\n", content), float)
        assert len(lines) >= 8, hatch
        assert "W* n" in content  # clipped to the area, holes and all


def test_points_stand_where_they_were_put_and_a_page_is_not_spelt_out(tmp_path: Path) -> None:
    book = Booklet("points", "test", PAPERS["letter"])
    sheet, _ = book.add("one")
    put = np.random.default_rng(7).uniform(20.0, 180.0, (40, 2))
    sheet.shape([put.tolist()], Pen(), closed=False)
    book.write(tmp_path / "a.pdf")
    page = pypdf.PdfReader(tmp_path / "a.pdf").pages[0]
    content = page.get_contents().get_data().decode()
    drawn = max(re.findall(r"n\n(\S+ \S+ m(?: \S+ \S+ l)+)\n", content), key=len)
    found = np.array(re.findall(r"(\S+) (\S+) [ml]", drawn), float) * MM_PER_POINT
    assert np.abs(found - put).max() < 0.0002  # of a millimetre
    assert page["/Contents"].get_object()["/Filter"] == ["/FlateDecode"]


@pytest.mark.parametrize("strange", [math.nan, math.inf])
def test_a_point_beyond_all_pages_is_not_drawn(strange: float, tmp_path: Path) -> None:
    book = Booklet("points", "test", PAPERS["letter"])
    sheet, _ = book.add("one")
    sheet.shape([[(10.0, 10.0), (strange, 20.0)]], Pen(), closed=False)
    with pytest.raises(ValueError, match="any page"):
        book.write(tmp_path / "a.pdf")


def test_both_units_agree() -> None:
    feet, metres = re.findall(r"[\d.]+", both(format_length, 12.3456, "us"))
    assert float(feet) * 0.3048 == pytest.approx(float(metres), abs=0.02)


def text_of(sheet: Sheet) -> str:
    return " ".join(words for words, _ in sheet.words_set)


def test_what_a_drawing_breaks_stands_on_the_cover_and_first() -> None:
    cover, changed = (text_of(sheet) for sheet in plan_book(assessed()).sheets[:2])
    wanted = "1. basin: the pit comes to 1.31 ft found, 4.93 ft asked of the lot's line"
    assert wanted in changed
    assert cover.index(wanted) < cover.index("The figures that decide")
    assert "Kept as a person drew them: basin" in cover


def test_changes_are_told_in_the_units_of_the_report() -> None:
    changed = text_of(plan_book(assessed()).sheets[1])
    assert "fall 2.95 ft 2.30 ft -0.66 ft" in changed
    assert "water stored 264 gal 317 gal +53 gal" in changed
    assert "dug 13.1 yd³ 15.7 yd³ +2.6 yd³" in changed
    assert "pile none 1.3 yd³" in changed
    assert "Unchanged as far as shown: falls." in changed


def test_a_plan_with_nothing_drawn_has_no_sheet_of_changes() -> None:
    assert not any(
        "rules that are broken" in text_of(sheet) for sheet in plan_book(proposed()).sheets
    )


def certainty(*, is_assumed: bool = False) -> Certainty:
    def span(value: float, low: float, high: float, unit: str, how: str = "simulated") -> Range:
        return Range(value=value, low=low, high=high, unit=unit, how=how)

    place = PlaceCertainty(
        rank=1,
        fall=span(0.9, 0.7, 1.1, "m"),
        chance_of_fall=0.9169,
        chance_best=math.nan,
        rim=span(99.0, 98.9, 99.1, "m"),
        overflow=span(99.0, 98.9, 99.1, "m"),
        excavation=span(10.0, 8.0, 12.0, "m3"),
        catchment=span(100.0, math.nan, math.nan, "m2", "unknown"),
    )
    near = ClearanceRange(
        number=7, work="basin", against="G1", range=span(2.0, 1.0, 3.0, "m"), chance_of_rule=0.5
    )
    return Certainty(
        rmse_z_m=0.1,
        is_assumed=is_assumed,
        simulations=100,
        wanted_fall_m=0.9,
        needed_fall_m=0.75,
        fall=span(0.9, 0.7, 1.1, "m"),
        asserted_fall_m=0.7,
        places=(place,),
        catchments=(),
        spoil=span(12.0, 10.0, 14.0, "m3"),
        pile=span(12.0, 10.0, 14.0, "m3"),
        haul=span(0.0, 0.0, 1.0, "m3"),
        clearances=(near,),
        worth=(),
        notes=("Errors are taken as alike within 5.0 m.",),
    )


def test_how_sure_it_is_in_figures() -> None:
    sheets = plan_book(replace(proposed(), certainty=certainty())).sheets
    page = next(text_of(sheet) for sheet in sheets if "The places, as sure" in text_of(sheet))
    assert "fall of the stream 0.90 m 0.70 m 1.10 m simulated" in page
    assert "1 0.70 m to 1.10 m 91 % unknown 8.0 m³ to 12.0 m³ unknown" in page
    assert "clearance 7: basin to G1 (chance that the rule is kept: 50 %)" in page
    cover = text_of(sheets[0])
    assert "95 %: 0.70 m to 1.10 m" in cover
    assert "chance that the ground gives at least 0.75 m: 91 %" in cover


def test_an_assumed_error_asserts_nothing() -> None:
    plan = replace(proposed(), certainty=certainty(is_assumed=True))
    page = next(text_of(s) for s in plan_book(plan).sheets if "The places, as sure" in text_of(s))
    assert "Nobody has stated the terrain's error." in page
    assert "nothing is asserted" in page
    assert "The greatest fall that the ground gives" not in page


def test_without_certainty_there_is_no_such_sheet() -> None:
    sheets = plan_book(replace(proposed(), certainty=None)).sheets
    assert not any("The places, as sure" in text_of(sheet) for sheet in sheets)


@given(st.floats(0.0, 1.0))
def test_a_chance_is_never_rounded_up_to_certain(chance: float) -> None:
    told = chance_told(chance)
    assert told != "100 %"
    if told[0].isdigit():
        assert float(told.removesuffix(" %")) <= 100.0 * chance + 1e-6


def test_a_revision_is_read_and_limited(tmp_path: Path) -> None:
    paths = '[inputs.parcel]\npath = "a.gpkg"\n[inputs.terrain]\npath = "b.tif"\n'
    for told in ("B", ""):
        line = f'revision = "{told}"\n' if told else ""
        (tmp_path / "site.toml").write_text(f'name = "x"\n{line}{paths}')
        assert read_document(tmp_path / "site.toml").revision == told
    (tmp_path / "site.toml").write_text(f'name = "x"\nrevision = "{"x" * 41}"\n{paths}')
    with pytest.raises(InputRefused, match="revision"):
        read_document(tmp_path / "site.toml")
