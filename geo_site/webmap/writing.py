"""The page put together: its own blocks, their hashes, the plan as data.

In: a plan and a path. Out: one file. Method: the page's frame has a few places that are filled;
data goes in as JSON in which nothing can end its element. Reference: W3C Content Security Policy
Level 3 (hashes of inline blocks, in base 64); HTML Living Standard, script data state.
"""

from __future__ import annotations

import hashlib
import html
import json
from base64 import b64encode
from functools import cache
from importlib.resources import files
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING, Any

from geo_site.cautions import NOT_A_LOCATE
from geo_site.webmap.content import content_of
from geo_site.webmap.plain_words import shown

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["SCRIPTS", "STYLES", "as_json", "write_webmap"]

STYLES: tuple[str, ...] = ("leaflet/leaflet.css", "page.css", "map.css")
"""Style sheets of the page, in order."""

SCRIPTS: tuple[str, ...] = (
    "leaflet/leaflet.js",
    "words.js",
    "shapes.js",
    "ground.js",
    "hatch.js",
    "map.js",
    "labels.js",
    "here.js",
    "measure.js",
    "section.js",
    "switches.js",
    "places.js",
    "tables.js",
    "start.js",
)
"""Scripts of the page, in order; each names one thing that later ones use."""

_POLICY = (
    "default-src 'none'; img-src data:; style-src {styles}; script-src {scripts}; "
    "base-uri 'none'; form-action 'none'"
)


def write_webmap(plan: Plan, path: str | Path) -> Path:
    """Write a plan as one page that needs no network.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.
    path : str or Path
        The file.

    Returns
    -------
    Path
        The file.
    """
    target = Path(path)
    styles = [_part(name) for name in STYLES]
    scripts = [_part(name) for name in SCRIPTS]
    content = content_of(plan)
    page = Template(_part("page.html")).substitute(
        policy=_POLICY.format(styles=_hashes(styles), scripts=_hashes(scripts)),
        title=html.escape(shown(plan.site.name)),
        caution=html.escape(NOT_A_LOCATE),
        styles="\n".join(f"<style>{text}</style>" for text in styles),
        scripts="\n".join(f"<script>{text}</script>" for text in scripts),
        data=as_json(content),
    )
    target.write_bytes(page.encode("utf-8"))
    return target


def as_json(content: Any) -> str:
    r"""Write data so that it may stand inside a script element.

    Parameters
    ----------
    content : object
        Of dicts, lists, strings, numbers, truths and None; no NaN.

    Returns
    -------
    str
        JSON without ``<``, ``>``, ``&`` and the two line ends that JSON allows and scripts did
        not: each is an escape.

    Raises
    ------
    ValueError
        A number is not finite.

    Examples
    --------
    >>> as_json({"a": "</script>"})
    '{"a":"\\u003c/script\\u003e"}'
    """
    told = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for mark in "<>&\u2028\u2029":
        told = told.replace(mark, f"\\u{ord(mark):04x}")
    return told


@cache
def _part(name: str) -> str:
    """Read a file of the package; the map to a script's source is not shipped with the page."""
    text = files("geo_site.webmap").joinpath(name).read_text(encoding="utf-8")
    lines = text.replace("\r\n", "\n").split("\n")
    return "\n".join(line for line in lines if not line.startswith("//# sourceMappingURL"))


def _hashes(blocks: list[str]) -> str:
    digests = (hashlib.sha256(block.encode("utf-8")).digest() for block in blocks)
    return " ".join(f"'sha256-{b64encode(digest).decode('ascii')}'" for digest in digests)
