"""What docs/python.md shows is what the functions give."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "docs" / "python.md"


def examples() -> doctest.DocTest:
    """Give the page's examples; the fences that a reader sees as boxes are blank lines here."""
    text = "\n".join(
        "" if line.startswith("```") else line for line in PAGE.read_text().split("\n")
    )
    return doctest.DocTestParser().get_doctest(text, {}, PAGE.name, str(PAGE), 0)


def test_every_line_of_the_page_gives_what_stands_under_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    told: list[str] = []
    result = doctest.DocTestRunner().run(examples(), out=told.append)
    assert result.attempted > 15
    assert result.failed == 0, "".join(told)


def test_a_wrong_line_would_be_seen() -> None:
    parsed = doctest.DocTestParser().get_doctest("\n>>> 1 + 1\n3\n", {}, "a", "a", 0)
    assert doctest.DocTestRunner().run(parsed, out=lambda _: None).failed == 1
