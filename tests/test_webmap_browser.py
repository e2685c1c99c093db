"""plan.html in a real browser: by mouse, finger and keyboard, light, dark, small and on paper.

Needs Playwright for Python and a Chromium that is on the machine already; without them the whole
module is skipped. No browser is ever downloaded.
"""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from shapely import get_coordinates
from shapely.geometry import Point
from webmap_cases import (
    LONG,
    QUOTES,
    RIGHT_TO_LEFT,
    SCRIPT,
    content_in,
    hostile,
    layer_in,
    without_place,
)

from geo_site.units import format_length
from geo_site.webmap import write_webmap

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
if not Path(CHROMIUM).exists():
    pytest.skip("no Chromium on this machine: /usr/bin/chromium", allow_module_level=True)

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
FOOT_M = 0.3048
LISTEN = """
window.refused = [];
document.addEventListener("securitypolicyviolation", (event) => {
  window.refused.push(event.violatedDirective);
});
"""

Opener = Callable[..., "Page"]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for all tests here."""
    with sync_api.sync_playwright() as tool:
        one = tool.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield one
        one.close()


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The pages looked at."""
    folder = tmp_path_factory.mktemp("pages")
    return {
        "hostile": write_webmap(hostile(), folder / "plan.html"),
        "no place": write_webmap(without_place(), folder / "none.html"),
    }


@pytest.fixture(scope="module")
def content(files: dict[str, Path]) -> dict[str, Any]:
    """What the first page carries."""
    return content_in(files["hostile"].read_text(encoding="utf-8"))


@dataclass
class Log:
    """What pages said and asked for, besides themselves and the picture inside them."""

    own: set[str]
    told: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    pages: list[Any] = field(default_factory=list)

    def listen(self, page: Page) -> None:
        """Keep what a page says from now on."""
        page.on("console", lambda line: self.told.append(f"{line.type}: {line.text}"))
        page.on("pageerror", lambda fault: self.told.append(str(fault)))
        page.on("request", lambda one: self.asked.append(one.url))
        page.add_init_script(LISTEN)
        self.pages.append(page)

    def faults(self) -> list[str]:
        """Everything that should not be."""
        strange = [u for u in self.asked if u not in self.own and not u.startswith("data:image")]
        refused = [word for page in self.pages for word in page.evaluate("window.refused")]
        return [*self.told, *strange, *refused]


@pytest.fixture(scope="module")
def log(files: dict[str, Path]) -> Log:
    """Of all pages here."""
    return Log({path.as_uri() for path in files.values()})


@pytest.fixture(scope="module")
def pages(browser: Browser, files: dict[str, Path], log: Log) -> Callable[..., Page]:
    """Opens a page, or gives the one that is open with the same options."""

    @cache
    def one(name: str, options: str) -> Page:
        context = browser.new_context(**json.loads(options))
        page = context.new_page()
        page.set_default_timeout(10_000)
        log.listen(page)
        page.goto(files[name].as_uri())
        return page

    return one


@pytest.fixture
def open_page(pages: Callable[..., Page], log: Log) -> Iterator[Opener]:
    """Gives a page as if new; at the end nothing was loaded, refused, or written to its log."""

    def open_one(name: str = "hostile", **options: Any) -> Page:
        wanted = {"viewport": {"width": 1200, "height": 900}, **options}
        page: Page = pages(name, json.dumps(wanted, sort_keys=True))
        page.evaluate("window.scrollTo(0, 0)")
        page.keyboard.press("Escape")
        page.keyboard.press("Escape")
        page.click("#whole-lot")
        return page

    yield open_one
    assert log.faults() == []


def until(page: Page, told: str) -> None:
    """Wait until something holds; the page's policy forbids the tool's own way of waiting."""
    for _ in range(100):
        if page.evaluate(told):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"never: {told}")


def spot(page: Page, east_m: float, north_m: float) -> tuple[float, float]:
    """Pixels of the screen at a place of the map, by the page's own projection."""
    at = page.evaluate(
        "([e, n]) => { document.getElementById('map').scrollIntoView({ block: 'center' });"
        "const p = Plat.leaflet().latLngToContainerPoint(Plat.at([e, n]));"
        "const b = document.getElementById('map').getBoundingClientRect();"
        "return [b.left + p.x, b.top + p.y]; }",
        [east_m, north_m],
    )
    return float(at[0]), float(at[1])


def tap(page: Page, east_m: float, north_m: float) -> str:
    """Click a place of the map; gives what the page says."""
    page.mouse.click(*spot(page, east_m, north_m))
    return page.inner_text("#here-body")


def drawn(page: Page, name: str) -> int:
    """How many paths and signs of a layer are on the map."""
    count: int = page.evaluate(
        "(name) => { const pane = Plat.leaflet().getPane(`layer-${name}`);"
        "return pane ? pane.querySelectorAll(':scope > svg path, .stake').length : 0; }",
        name,
    )
    return count


def middle_of(name: str) -> tuple[float, float]:
    """A point inside a work, from the page's origin."""
    plan = hostile()
    assert plan.proposal is not None
    inside = {
        "basin": plan.proposal.placement.footprint,
        "excavation": plan.proposal.placement.excavation,
    }[name].representative_point()
    return inside.x - 500_000.0, inside.y - 4_000_000.0


def test_nothing_is_loaded_and_nothing_is_refused(open_page: Opener) -> None:
    page = open_page()
    assert page.evaluate("document.querySelectorAll('#map path').length") > 20
    assert page.evaluate("window.refused") == []


def test_the_log_would_have_told(browser: Browser, files: dict[str, Path]) -> None:
    """The check of every test here can fail: a style and a picture from elsewhere are refused."""
    page = browser.new_page()
    log = Log({files["hostile"].as_uri()})
    log.listen(page)
    page.goto(files["hostile"].as_uri())
    assert log.faults() == []
    page.evaluate("document.body.setAttribute('style', 'color: red')")
    page.evaluate("new Image().src = 'https://example.invalid/x.png'")
    until(page, "window.refused.length >= 2")
    assert sorted(set(page.evaluate("window.refused"))) == ["img-src", "style-src-attr"]
    assert len(log.faults()) >= 4
    page.close()


def test_a_switch_hides_and_shows_its_layer(open_page: Opener, content: dict[str, Any]) -> None:
    page = open_page()
    lines = len(layer_in(content, "utility_lines")["features"])
    assert drawn(page, "utility_lines") == 2 * lines  # each with its dark edge
    page.click("label[for=show-utility_lines]")
    assert drawn(page, "utility_lines") == 0
    page.click("label[for=show-utility_lines]")
    assert drawn(page, "utility_lines") == 2 * lines
    assert drawn(page, "set_out") == 0
    page.click("label[for=show-set_out]")
    assert drawn(page, "set_out") == len(layer_in(content, "set_out")["features"])


def test_a_class_has_a_switch_of_its_own(open_page: Opener) -> None:
    """Clearances that are met are kept back until they are asked for, as the looks say."""
    page = open_page()
    rows = hostile().clearances
    drawn_first = sum(not row.connector.is_empty and row.verdict != "met" for row in rows)
    every = sum(not row.connector.is_empty for row in rows)
    assert every > drawn_first
    page.click("label[for=show-clearances]")
    assert drawn(page, "clearances") == drawn_first
    layer = page.locator(".layer", has=page.locator("#show-clearances"))
    layer.locator("summary").click()
    layer.locator(".classes label", has_text=re.compile("^met$")).click()
    assert drawn(page, "clearances") == every
    layer.locator("summary").click()
    page.click("label[for=show-clearances]")


def test_no_label_lies_over_another(open_page: Opener) -> None:
    page = open_page()
    page.click("label[for=show-set_out]")
    page.click("#the-works")
    boxes = page.evaluate(
        "[...document.querySelectorAll('.label')].map((one) => one.getBoundingClientRect())"
        ".map((box) => [box.left, box.top, box.right, box.bottom])"
    )
    page.click("label[for=show-set_out]")
    assert len(boxes) > 8
    for i, (left, top, right, bottom) in enumerate(boxes):
        for other in boxes[:i]:
            apart = left >= other[2] or right <= other[0] or top >= other[3] or bottom <= other[1]
            assert apart, (boxes[i], other)


def test_hatches_refer_to_patterns_that_are_there(open_page: Opener) -> None:
    page = open_page()
    used = page.evaluate(
        "[...document.querySelectorAll('#map path')].map((one) => one.getAttribute('fill'))"
        ".filter((fill) => fill && fill.startsWith('url('))"
    )
    assert len(used) >= 2  # the basin and its excavation
    for fill in used:
        name = fill.removeprefix("url(#").removesuffix(")")
        assert page.evaluate("(name) => document.getElementById(name).tagName", name) == "pattern"


def test_a_tap_on_a_feature_tells_its_facts(open_page: Opener) -> None:
    page = open_page()
    page.click("#the-works")
    told = tap(page, *middle_of("basin"))
    plan = hostile()
    assert plan.proposal is not None
    stored_gal = plan.proposal.water.stored_m3 * 1000.0 / 3.785411784
    assert told.startswith("Basin\n")
    assert f"{stored_gal:.0f} gal" in told
    assert "Also here:" in told
    page.get_by_role("button", name="Excavation of the basin").click()
    assert page.inner_text("#here-body h4") == "Excavation of the basin"


def test_a_tap_on_bare_ground_tells_what_takes_it(open_page: Opener) -> None:
    """Against shapely on random points of the lot and round it."""
    page, ground = open_page(), hostile().grounds["basin"]
    generator = np.random.default_rng(7)
    points = generator.uniform([-3.0, -3.0], [43.0, 33.0], size=(60, 2))
    told = page.evaluate("(points) => points.map((point) => Ground.why(point))", points.tolist())
    words = set()
    for (x, y), one in zip(points, told, strict=True):
        here = Point(500_000.0 + x, 4_000_000.0 + y)
        reasons = [piece.reason for piece in ground.pieces if piece.geometry.covers(here)]
        assert [row.split(":")[0].split(" (")[0].replace(" ", "_") for row in one["rows"]][
            : len(reasons)
        ] == reasons
        words.add(one["word"])
        if one["word"] == "open":
            assert ground.open.covers(here)
            free_ft = float(re.search(r"([\d.]+) (ft|in) away", one["rows"][0])[1])
            free_m = min(piece.geometry.boundary.distance(here) for piece in ground.pieces)
            inches = "in away" in one["rows"][0]
            assert free_ft * (0.0254 if inches else FOOT_M) == pytest.approx(free_m, abs=0.016)
    assert {"open", "blocked"} <= words
    told_here = tap(page, 20.0, 29.0)
    assert "The basin's pit may not stand here. Taken by:" in told_here
    assert f"utility ({SCRIPT})" in told_here


def test_levels_are_read_between_the_middles_of_cells(open_page: Opener) -> None:
    """The site's ground is the plane 100 - 0.08 y + 0.01 x."""
    page = open_page()
    points = [[3.0, 4.0], [20.25, 11.75], [39.9, 29.9]]
    levels = page.evaluate("(points) => points.map((point) => Ground.level(point))", points)
    assert levels == pytest.approx([100.0 - 0.08 * y + 0.01 * x for x, y in points], abs=0.006)
    assert page.evaluate("Ground.levelWords([900, 900])") == "Ground level: no terrain data here."
    feet = float(re.search(r"Ground level ([\d.]+) ft", tap(page, 20.0, 10.0))[1])
    assert feet * FOOT_M == pytest.approx(99.4, abs=0.02)


def test_the_tape_tells_the_distance_of_the_coordinates(open_page: Opener) -> None:
    page = open_page()
    page.click("#measure")
    for point in ((5.0, 5.0), (35.0, 5.0), (35.0, 25.0)):
        page.mouse.click(*spot(page, *point))
    told = page.inner_text("#measured")
    whole, leg = (float(number) for number in re.findall(r"([\d.]+) ft", told))
    pixel_m = page.evaluate("Plat.metresFor(1)")
    assert whole * FOOT_M == pytest.approx(50.0, abs=3 * pixel_m)
    assert leg * FOOT_M == pytest.approx(20.0, abs=2 * pixel_m)
    page.click("#take-back")
    assert float(re.search(r"([\d.]+) ft", page.inner_text("#measured"))[1]) * FOOT_M == (
        pytest.approx(30.0, abs=2 * pixel_m)
    )
    page.keyboard.press("Escape")
    assert page.locator("#measuring").is_hidden()


def test_the_page_writes_lengths_as_every_other_document_does(open_page: Opener) -> None:
    lengths = [0.0, 0.0254, 0.127, 0.3, 0.6095, 0.6097, *np.geomspace(0.001, 500.0, 60).tolist()]
    told = open_page().evaluate("(all) => all.map(Words.length)", lengths)
    assert told == [format_length(length_m, "us") for length_m in lengths]
    assert open_page().evaluate("[Words.length(NaN), Words.length(null)]") == ["unknown"] * 2
    assert open_page("no place").evaluate("(all) => all.map(Words.length)", lengths) == [
        format_length(length_m, "si") for length_m in lengths
    ]


def test_coordinates_are_those_of_the_grid(open_page: Opener) -> None:
    page = open_page()
    page.mouse.move(*spot(page, 12.0, 7.0))
    told = page.inner_text("#cursor")
    east, north = (float(number) for number in re.findall(r"[\d.]+", told)[:2])
    assert (east, north) == pytest.approx((500_012.0, 4_000_007.0), abs=0.2)


def test_the_scale_bar_is_as_long_as_it_says(open_page: Opener) -> None:
    page = open_page()
    told = float(page.inner_text("#bar").split()[0]) * FOOT_M
    wide = page.evaluate("document.querySelector('.bar-edge').getBoundingClientRect().width")
    ends = [spot(page, x, 0.0)[0] for x in (0.0, told)]
    assert wide == pytest.approx(ends[1] - ends[0], abs=2.0)


def test_the_section_and_the_map_show_one_place(open_page: Opener, content: dict[str, Any]) -> None:
    page, section = open_page(), content["section"]
    page.click("#the-works")
    slider = page.locator("#section")
    slider.focus()
    page.keyboard.press("PageDown")
    there = _pinned(page)
    line = hostile().proposal.layout.alignment
    lip = line.interpolate(section["falls"][0]["station"] or section["falls"][1]["station"])
    assert there == pytest.approx((lip.x - 500_000.0, lip.y - 4_000_000.0), abs=0.03)
    page.keyboard.press("End")
    end = get_coordinates(line)[-1]
    assert _pinned(page) == pytest.approx((end[0] - 500_000.0, end[1] - 4_000_000.0), abs=0.03)
    before = float(slider.get_attribute("aria-valuenow"))
    page.keyboard.press("ArrowLeft")
    assert float(slider.get_attribute("aria-valuenow")) < before
    box = slider.bounding_box()
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 100)
    assert 0.3 < float(slider.get_attribute("aria-valuenow")) / section["station"][-1] < 0.7
    for share in (0.37, 0.62, 0.91):
        there = line.interpolate(share * line.length)
        page.mouse.move(*spot(page, there.x - 500_000.0, there.y - 4_000_000.0))
        station = float(slider.get_attribute("aria-valuenow"))
        assert station == pytest.approx(share * line.length, abs=0.08)
    assert "running water" in slider.get_attribute("aria-valuetext")


def _pinned(page: Page) -> tuple[float, float]:
    """Where the mark of the section stands on the map, from its pixels."""
    east, north = page.evaluate(
        "(() => { const b = document.querySelector('path.on-stream').getBoundingClientRect();"
        "const m = document.getElementById('map').getBoundingClientRect();"
        "const at = Plat.leaflet().containerPointToLatLng("
        "[b.left + b.width / 2 - m.left, b.top + b.height / 2 - m.top]);"
        "return [at.lng, at.lat]; })()"
    )
    return float(east), float(north)


def test_the_keyboard_alone_reaches_everything(open_page: Opener) -> None:
    page = open_page()
    page.reload()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    seen = _tabbed(page, 220)
    for wanted in ("theme", "nearer", "measure", "map", "section", "places", "place-1"):
        assert wanted in seen or wanted == "theme", wanted
    assert {"show-basin", "show-utility_lines"} <= seen
    page.focus("#map")
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("getComputedStyle(document.querySelector('.cross')).display") == "block"
    page.keyboard.press("Enter")
    assert "Ground level" in page.inner_text("#here-body")
    centre = page.evaluate("Plat.centre()")
    page.keyboard.press("ArrowRight")
    until(page, f"Plat.centre()[0] > {centre[0] + 0.5}")
    page.keyboard.press("Escape")
    assert "Nothing is chosen" in page.inner_text("#here-body")
    page.focus("#place-1")
    page.keyboard.press("Enter")
    assert page.get_attribute("#place-1", "aria-pressed") == "true"
    assert page.locator("#map path.chosen").count() == 2
    page.keyboard.press("Escape")
    assert page.get_attribute("#place-1", "aria-pressed") == "false"
    assert page.locator("#map path.chosen").count() == 0


def _tabbed(page: Page, times: int) -> set[str]:
    """Ids of what the tab key stops at; each shows that it has the focus."""
    seen = set()
    for _ in range(times):
        page.keyboard.press("Tab")
        name, outline = page.evaluate(
            "[document.activeElement.id, getComputedStyle(document.activeElement).outlineStyle]"
        )
        if name:
            assert outline != "none", name
            seen.add(name)
        if name == "place-1":
            break
    return seen


def test_what_is_wrong_stands_at_the_top(open_page: Opener, content: dict[str, Any]) -> None:
    page = open_page()
    assert content["alerts"]  # no ticket answers for some of these lines
    assert page.inner_text("#alerts").splitlines() == content["alerts"]
    assert page.locator("#edit-part").is_hidden()  # nobody drew anything


def test_a_row_of_the_clearances_shows_its_connector(
    open_page: Opener, content: dict[str, Any]
) -> None:
    page, first = open_page(), content["clearances"][0]
    page.locator("#clearances tbody tr:visible button").first.click()
    assert page.locator("#map path.chosen").count() == 1
    assert first["found"] in page.inner_text("#here-body")
    view = page.evaluate(
        "(() => { const b = Plat.leaflet().getBounds();"
        "return [b.getWest(), b.getSouth(), b.getEast(), b.getNorth()]; })()"
    )
    shape = layer_in(content, "clearances")["features"][first["feature"]]["shape"][0]
    for east, north in zip(shape[::2], shape[1::2], strict=True):
        assert view[0] <= east <= view[2]
        assert view[1] <= north <= view[3]
    rows = page.locator("#clearances tbody tr")
    assert rows.count() == len(content["clearances"])
    visible = page.locator("#clearances tbody tr:visible").count()
    page.locator("#verdicts button").last.click()
    assert page.locator("#clearances tbody tr:visible").count() != visible


def test_hostile_names_are_words_on_the_screen(open_page: Opener) -> None:
    page = open_page()
    assert page.title() == "made for a test"
    text = page.inner_text("#clearance-part") + page.inner_text("#visit-part")
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    until(page, "document.querySelectorAll('.features li').length > 100")
    text += page.inner_text("#switches")
    for name in (SCRIPT, QUOTES, "pipe [U+202E]gnol", RIGHT_TO_LEFT, LONG):
        assert name in text, name
    assert page.locator("main img:not(.leaflet-image-layer)").count() == 0
    for button in page.locator("#verdicts button[aria-pressed=false]").all():
        button.click()
    wide = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    assert wide == [1200, 1200]  # a word of 272 letters is broken
    assert page.title() == "made for a test"


@pytest.mark.parametrize("name", ["hostile", "no place"])
def test_a_narrow_screen_never_scrolls_sideways(open_page: Opener, name: str) -> None:
    page = open_page(name, viewport={"width": 360, "height": 640}, has_touch=True, is_mobile=True)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    page.touchscreen.tap(*_middle(page))
    assert "Ground level" in page.inner_text("#here-body")
    assert page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]") == [360, 360]
    small = page.evaluate(
        """[...document.querySelectorAll('button, input, summary, nav a')].filter((one) =>
        one.getClientRects().length && !one.closest('label') &&
        one.getBoundingClientRect().height < 40).map((one) => one.outerHTML.slice(0, 80))"""
    )
    assert small == []


def _middle(page: Page) -> tuple[float, float]:
    page.locator("#map").scroll_into_view_if_needed()
    box = page.locator("#map").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


CONTRAST = """
() => {
  const part = (one) => (one /= 255) <= 0.03928 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4;
  const light = ([r, g, b]) => 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
  const numbers = (colour) => colour.match(/[\\d.]+/g).map(Number);
  const ground = (node) => {
    for (let one = node; one; one = one.parentElement) {
      const found = numbers(getComputedStyle(one).backgroundColor);
      if (found.length === 3 || found[3] > 0.8) return found;
    }
    return [255, 255, 255];
  };
  const bad = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || !node.getClientRects().length) continue;
    if (node.closest('script, style, noscript, .label')) continue;
    const style = getComputedStyle(node);
    const ink = node.closest('svg') ? style.fill : style.color;
    const [a, b] = [light(numbers(ink)), light(ground(node))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    const size = parseFloat(style.fontSize);
    if (ratio < 4.5 || size < 14) bad.push([walker.currentNode.data.slice(0, 40), ratio, size]);
  }
  return bad;
}
"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_word_is_large_and_dark_enough(open_page: Opener, scheme: str) -> None:
    """Contrast 4.5 to 1 (WCAG 2.2, 1.4.3, relative luminance as defined there); 14 px."""
    page = open_page(color_scheme=scheme)
    page.click("#the-works")
    tap(page, *middle_of("basin"))
    page.click("#measure")
    assert page.evaluate(CONTRAST) == []
    before = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.click("#theme")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") != before
    assert page.evaluate(CONTRAST) == []


def test_paper_shows_the_map_every_row_and_no_button(
    open_page: Opener, content: dict[str, Any]
) -> None:
    page = open_page(color_scheme="dark")
    page.emulate_media(media="print")
    until(page, "document.body.classList.contains('on-paper')")
    assert page.locator("#nearer").is_hidden()
    assert page.locator("#clearances tbody tr:visible").count() == len(content["clearances"])
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    west, south, east, north = content["lot"]
    corners = [spot(page, x, y) for x, y in ((west, south), (east, north))]
    box = page.locator("#map").bounding_box()
    assert box["width"] == pytest.approx(180.0 * 96 / 25.4, abs=1.0)
    for left, top in corners:
        assert box["x"] <= left <= box["x"] + box["width"]
        assert box["y"] <= top <= box["y"] + box["height"]
    page.emulate_media(media="screen")
    until(page, "!document.body.classList.contains('on-paper')")


def test_without_a_place_the_page_says_why(open_page: Opener) -> None:
    page = open_page("no place")
    assert page.locator("#section-part").is_hidden()
    assert page.locator("#place-part").is_hidden()
    rules = page.locator("#rules tbody tr")
    assert rules.count() == len(without_place().no_place)
    for row in without_place().relaxations:
        assert row.sentence in page.inner_text("#openings")
    assert drawn(page, "blocked_ground") > 0
    assert "No place" in page.inner_text("#told")
    ground = without_place().grounds["basin"]
    for x, y in ((0.2, 0.2), (3.0, 3.0), (9.0, 3.0)):
        here = Point(500_000.0 + x, 4_000_000.0 + y)
        taken = [piece for piece in ground.pieces if piece.geometry.covers(here)]
        told = page.evaluate("(point) => Ground.why(point)", [x, y])
        assert (told["word"] == "blocked") == bool(taken)
        assert not taken or len(told["rows"]) == len(taken)
