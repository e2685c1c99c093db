"""PDF pages, read again by an independent library: scale, words, fonts, nothing over the edge."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_plans import proposed, without_place
from shapely import LineString, box

from geo_site.cautions import CAUTIONS, NOT_A_LOCATE
from geo_site.plan import Plan
from geo_site.sheets import write_clearance_pdf, write_plan_pdf
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.flow import Column, Flow, ListRow
from geo_site.sheets.labels import Label, LabelBoard
from geo_site.sheets.lettering import clip_words, settable, width_mm, wrap_words
from geo_site.sheets.maps import MapScale, choose_scale, open_map
from geo_site.sheets.paper import PAPERS, Frame, Pen, Sheet
from geo_site.sheets.plots import Plot
from geo_site.units import in_report

MM_PER_POINT = 25.4 / 72.0
NUMBER = r"(-?\d*\.?\d+)"


def lines_mm(path: Path, page: int = 0) -> list[tuple[float, float, float, float]]:
    """Every straight two-point line of a page, in millimetres, from the PDF's own operators."""
    content = pypdf.PdfReader(path).pages[page].get_contents().get_data().decode("latin-1")
    found = re.findall(rf"{NUMBER} {NUMBER} m {NUMBER} {NUMBER} l", content)
    return [tuple(float(value) * MM_PER_POINT for value in line) for line in found]


@pytest.mark.parametrize("name", sorted(PAPERS))
@pytest.mark.parametrize("system", ["si", "us"])
def test_twenty_metres_measure_twenty_metres_over_the_scale(
    tmp_path: Path, name: str, system: str
) -> None:
    book = Booklet("scale", "test", PAPERS[name])
    sheet, room = book.add("a line of 20 m")
    scale = choose_scale((0.0, 0.0, 25.0, 15.0), room, system)
    plot = open_map(sheet, room, (0.0, 0.0, 25.0, 15.0), scale)
    plot.geometry(LineString([(2.0, 7.0), (22.0, 7.0)]), Pen(width_mm=0.777))
    book.write(tmp_path / "a.pdf")
    wanted_mm = 20.0 * 1000.0 / scale.ratio
    lengths = [np.hypot(x1 - x0, y1 - y0) for x0, y0, x1, y1 in lines_mm(tmp_path / "a.pdf")]
    assert min(abs(length - wanted_mm) for length in lengths) < 0.002
    page = pypdf.PdfReader(tmp_path / "a.pdf").pages[0].mediabox
    assert float(page.width) * MM_PER_POINT == pytest.approx(PAPERS[name].width_mm, abs=1e-2)
    assert float(page.height) * MM_PER_POINT == pytest.approx(PAPERS[name].height_mm, abs=1e-2)


def test_paper_sizes_are_those_of_the_standards() -> None:
    """ISO 216 A4 and A3; ANSI/ASME letter and tabloid; architectural C and D, from memory."""
    inches = {n: (p.width_mm / 25.4, p.height_mm / 25.4) for n, p in PAPERS.items()}
    assert (PAPERS["a4"].width_mm, PAPERS["a4"].height_mm) == (297.0, 210.0)
    assert (PAPERS["a3"].width_mm, PAPERS["a3"].height_mm) == (420.0, 297.0)
    assert inches["letter"] == pytest.approx((11.0, 8.5))
    assert inches["tabloid"] == pytest.approx((17.0, 11.0))
    assert inches["arch_c"] == pytest.approx((24.0, 18.0))
    assert inches["arch_d"] == pytest.approx((36.0, 24.0))


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("books")
    return {
        "plan": write_plan_pdf(proposed(), folder / "plan.pdf"),
        "clearance": write_clearance_pdf(proposed(), folder / "clearance.pdf"),
    }


@pytest.mark.parametrize("name", ["plan", "clearance"])
def test_fonts_are_embedded_and_words_can_be_selected(books: dict[str, Path], name: str) -> None:
    reader = pypdf.PdfReader(books[name])
    for page in reader.pages:
        fonts = page["/Resources"]["/Font"]
        used = re.findall(r"/(F\d\S*) \d", page.get_contents().get_data().decode("latin-1"))
        for font in {fonts[f"/{key}"].get_object()["/BaseFont"] for key in used}:
            kept = next(
                f.get_object() for f in fonts.values() if f.get_object()["/BaseFont"] == font
            )
            assert "/FontFile2" in kept["/FontDescriptor"].get_object(), font
        assert NOT_A_LOCATE[:40] in page.extract_text()
    text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    for _, caution in CAUTIONS[1:]:
        assert caution[:25] in text


def test_the_same_plan_gives_the_same_bytes(books: dict[str, Path], tmp_path: Path) -> None:
    assert write_plan_pdf(proposed(), tmp_path / "p.pdf").read_bytes() == books["plan"].read_bytes()
    again = write_clearance_pdf(proposed(), tmp_path / "c.pdf")
    assert again.read_bytes() == books["clearance"].read_bytes()


def test_every_clearance_is_in_the_record(books: dict[str, Path]) -> None:
    text = "".join(page.extract_text() for page in pypdf.PdfReader(books["clearance"]).pages)
    squeezed = re.sub(r"\s", "", text)
    for row in proposed().clearances:
        assert re.sub(r"\s", "", settable(row.against)) in squeezed
    numbers = re.findall(r"^(\d+)\n", text, re.M)
    assert str(len(proposed().clearances)) in numbers


@pytest.mark.parametrize("write", [write_plan_pdf, write_clearance_pdf])
def test_no_place_is_told_too(tmp_path: Path, write) -> None:
    text = pypdf.PdfReader(write(without_place(), tmp_path / "a.pdf")).pages[0].extract_text()
    assert "No place" in text


def test_what_would_open_a_place_is_on_paper(tmp_path: Path) -> None:
    plan = without_place()
    reader = pypdf.PdfReader(write_plan_pdf(plan, tmp_path / "a.pdf"))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert plan.relaxations
    for row in plan.relaxations:
        assert in_report(row.sentence, plan.site.report_units) in text


def named(plan: Plan, words: str) -> Plan:
    rows = tuple(replace(row, against=words, reason=words, why=words) for row in plan.clearances)
    return replace(plan, site=replace(plan.site, name=words), clearances=rows * 4)


@pytest.mark.parametrize(
    "words",
    ["x" * 300, "a long name of many words " * 30, "ж中文 العربية \u202e<b>&", "one\ntwo\x07"],
    ids=["no break", "many words", "other scripts", "control"],
)
def test_long_and_strange_words_stay_on_the_page(tmp_path: Path, words: str) -> None:
    path = write_clearance_pdf(named(proposed(), words), tmp_path / "a.pdf")
    reader = pypdf.PdfReader(path)
    assert len(reader.pages) > 2
    for page in reader.pages:
        spots: list[tuple[float, float]] = []
        page.extract_text(
            visitor_text=lambda t, _c, tm, _f, _s, spots=spots: (
                spots.append((tm[4], tm[5])) if t.strip() else None
            )
        )
        xy = np.array(spots)
        assert (xy >= 0.0).all()
        assert (xy[:, 0] <= float(page.mediabox.width)).all()
        assert (xy[:, 1] <= float(page.mediabox.height)).all()


@given(st.text(max_size=120), st.floats(8.0, 150.0), st.booleans())
@settings(max_examples=150, deadline=None)
def test_wrapped_lines_fit_and_lose_nothing(words: str, room_mm: float, bold: bool) -> None:
    lines = wrap_words(words, room_mm, 8.0, bold=bold)
    for line in lines:
        assert len(line) <= 1 or width_mm(line, 8.0, bold=bold) <= room_mm + 1e-6
    assert re.sub(r"\s", "", "".join(lines)) == re.sub(r"\s", "", words)
    clipped = clip_words(words, room_mm, 8.0, bold=bold)
    assert len(clipped) <= 1 or width_mm(clipped, 8.0, bold=bold) <= room_mm + 1e-6


@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(0, 60)), min_size=1, max_size=40),
    st.integers(1, 20),
)
@settings(max_examples=60, deadline=None)
def test_labels_do_not_lie_on_each_other(spots: list[tuple[float, float]], letters: int) -> None:
    sheet, frame = Sheet(PAPERS["a4"]), Frame(10.0, 10.0, 200.0, 120.0)
    plot = Plot(sheet=sheet, frame=frame, x=0.0, y=0.0, across=2.0, up=2.0)
    board = LabelBoard(plot)
    board.keep_off(Frame(10.0, 10.0, 60.0, 15.0))
    labels = [Label(x=x, y=y, words="W" * letters) for x, y in spots]
    left_out = board.place(labels)
    boxes = [box(*b) for b in board._taken]
    assert len(boxes) - 1 + len(left_out) == len(labels)
    assert all(a.intersection(b).area < 1e-9 for i, a in enumerate(boxes) for b in boxes[i + 1 :])
    assert all(box(10, 10, 210, 130).buffer(1e-9).covers(b) for b in boxes)


def test_rows_run_on_with_their_head_and_none_is_lost(tmp_path: Path) -> None:
    book = Booklet("rows", "test", PAPERS["letter"])
    flow = Flow(lambda: book.add("a list"))
    columns = (Column(title="the head", share=1.0), Column(title="n", share=1.0, align="right"))
    flow.rows(columns, [ListRow(cells=(f"row{n}", "text " * (n % 30))) for n in range(120)])
    book.write(tmp_path / "a.pdf")
    pages = pypdf.PdfReader(tmp_path / "a.pdf").pages
    assert len(pages) > 2
    assert all("the head" in page.extract_text() for page in pages)
    text = "\n".join(page.extract_text() for page in pages)
    assert all(re.search(rf"row{n}\b", text) for n in range(120))


def test_words_that_do_not_fit_are_marked_as_cut() -> None:
    assert clip_words("word " * 40, 30.0, 8.0).endswith("\u2026")


def test_an_area_with_a_hole_is_drawn_with_its_hole(tmp_path: Path) -> None:
    book = Booklet("hole", "test", PAPERS["a4"])
    sheet, room = book.add("a hole")
    plot = open_map(sheet, room, (0.0, 0.0, 10.0, 10.0), MapScale(ratio=100.0, told="1:100"))
    ring = box(2, 2, 8, 8).difference(box(4, 4, 6, 6))
    plot.geometry(ring, Pen(fill="#123456"))
    book.write(tmp_path / "a.pdf")
    content = pypdf.PdfReader(tmp_path / "a.pdf").pages[0].get_contents().get_data().decode()
    assert "B*" in content  # filled and stroked by the even-odd rule


def test_lines_break_where_a_level_is_unknown(tmp_path: Path) -> None:
    book = Booklet("gap", "test", PAPERS["a4"])
    sheet, room = book.add("a gap")
    before = len(sheet._drawn)
    plot = Plot(sheet=sheet, frame=room, x=0.0, y=0.0, across=1.0, up=1.0)
    plot.line([0, 1, 2, 3, 4], [1, 1, np.nan, 1, 1], Pen())
    assert len(sheet._drawn) - before == 2


def test_letters_that_the_font_lacks_are_told_by_number() -> None:
    assert settable("水道") == "[U+6C34][U+9053]" != settable("水路")
    assert settable("жΩ") == "жΩ"
    assert settable("a\u202eb\x07") == "a[U+202E]b[U+0007]"


def test_sixty_lines_with_long_names_and_notes_stay_on_their_pages(tmp_path: Path) -> None:
    from made_sites import make_site

    from geo_site.plan import propose

    lines = [
        {
            "id": f"line {n} of a company with a very long name, section {n}",
            "kind": "gas" if n % 2 else "electric",
            "member": "The Regional Company for Everything Under the Ground " * 2,
            "marked_by": "a locator whose name is long too",
            "geometry": LineString([(-5, 22 + 0.1 * n), (40, 23 + 0.1 * n)]),
        }
        for n in range(60)
    ]
    quick = {"siting": {"units": 6, "shortlist": 1, "candidates": 1, "rotation_step": 45.0}}
    plan = propose(make_site("plane", lot=box(0, 0, 34, 28), utilities=lines, tables=quick))
    for write in (write_clearance_pdf, write_plan_pdf):
        reader = pypdf.PdfReader(write(plan, tmp_path / "a.pdf"))
        for page in reader.pages:
            spots: list[tuple[float, float]] = []
            page.extract_text(
                visitor_text=lambda t, _c, tm, _f, _s, spots=spots: (
                    spots.append((tm[4], tm[5])) if t.strip() else None
                )
            )
            xy = np.array(spots)
            assert (xy > 0.0).all()
            assert (xy[:, 0] < float(page.mediabox.width)).all()
            assert (xy[:, 1] < float(page.mediabox.height)).all()
