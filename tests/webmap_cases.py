"""Pages of made plans, and what a reader of their text finds in them."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser
from typing import Any

from made_sites import ORIGIN, make_site
from shapely.geometry import LineString, Point, box

from geo_site.plan import Plan, propose

SCRIPT = "</script><script>document.title='taken'</script>"
QUOTES = "\"><img src=x onerror=\"document.title='taken'\">'"
TURNED = "pipe \u202egnol"
RIGHT_TO_LEFT = "صمام\u200f ۷"
LONG = "linewithoutanend" * 16


@lru_cache
def hostile() -> Plan:
    """A plan whose every name comes from someone who means harm, or writes another way."""
    site = make_site(
        lambda x, y: 100.0 - 0.08 * y + 0.01 * x,
        origin=ORIGIN,
        report_units="us",
        tables={"siting": {"candidates": 2, "shortlist": 3, "rotation_step": 15}},
        utilities=[
            {
                "id": SCRIPT,
                "geometry": LineString([(0, 28), (40, 28)]),
                "kind": "gas",
                "diameter_m": 0.05,
                "quality_level": "QL-B",
                "member": QUOTES,
                "side": "public",
            },
            {"id": TURNED, "geometry": LineString([(1, 0), (1, 30)]), "kind": "electric"},
            {"id": RIGHT_TO_LEFT, "geometry": LineString([(39, 0), (39, 30)])},
            {"id": LONG, "geometry": LineString([(0, 1), (40, 1)]), "kind": "sewer"},
        ],
        structures=[{"id": QUOTES, "geometry": box(30.0, 20.0, 36.0, 25.0), "kind": "house"}],
        trees=[{"geometry": Point(38, 28), "trunk_diameter_m": 0.2, "crown_radius_m": 2.0}],
        access=[{"geometry": Point(20, -0.5)}],
    )
    return propose(site)


@lru_cache
def without_place() -> Plan:
    """A lot too small for the basin's excavation; rules are hardly searched for a smaller one."""
    tables = {"relaxing": {"most_searches": 1}, "siting": {"rotation_step": 45}}
    return propose(make_site(lot=box(0.0, 0.0, 6.0, 6.0), tables=tables, origin=ORIGIN))


@dataclass
class Blocks(HTMLParser):
    """What stands in a page: its tags, and the text of its styles and scripts."""

    tags: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    styles: list[str] = field(default_factory=list)
    scripts: list[str] = field(default_factory=list)
    data: str = ""
    title: str = ""

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self._inside: str = ""
        self._text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag in {"style", "script", "title"}:
            self._inside, self._text = tag, []

    def handle_data(self, data: str) -> None:
        if self._inside:
            self._text.append(data)

    def handle_endtag(self, tag: str) -> None:
        if not self._inside or tag != self._inside:
            return
        text = "".join(self._text)
        kind = next(attrs for name, attrs in reversed(self.tags) if name == tag)
        if tag == "title":
            self.title = text
        elif tag == "style":
            self.styles.append(text)
        elif kind.get("type") == "application/json":
            self.data = text
        else:
            self.scripts.append(text)
        self._inside = ""


def read_page(text: str) -> Blocks:
    """Take a page apart with the parser of the standard library."""
    found = Blocks()
    found.feed(text)
    found.close()
    return found


def content_in(text: str) -> dict[str, Any]:
    """Give the data that a page carries."""
    content: dict[str, Any] = json.loads(read_page(text).data)
    return content


def layer_in(content: dict[str, Any], name: str) -> dict[str, Any]:
    """Give a layer of a page's data."""
    layers = [layer for group in content["groups"] for layer in group["layers"]]
    found: dict[str, Any] = next(layer for layer in layers if layer["name"] == name)
    return found
