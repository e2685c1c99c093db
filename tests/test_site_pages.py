"""The site of the pages leaves no page and no module out."""

from __future__ import annotations

import re
from pathlib import Path

from test_floors import PACKAGE, module_of

DOCS = Path(__file__).parent.parent / "docs"
NOT_FOR_READERS = {"cli", "__main__", "compiling", "versions"}


def test_every_page_is_in_the_index() -> None:
    index = (DOCS / "index.md").read_text(encoding="utf-8")
    listed = set(re.findall(r"^([a-z_]+)$", index, re.MULTILINE))
    assert listed == {page.stem for page in DOCS.glob("*.md")} - {"index"}


def test_every_module_is_in_the_reference() -> None:
    page = (DOCS / "api.md").read_text(encoding="utf-8")
    named = set(re.findall(r"^### geo_site\.(\w+)$", page, re.MULTILINE))
    modules = {module_of(path) for path in PACKAGE.rglob("*.py")} - {"__init__"}
    assert named == modules - NOT_FOR_READERS
