"""The page of the method shows the defaults that the code has, and every rule and criterion.

``python tests/test_method_page.py`` makes the page's tables again.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import pytest
from page_tables import read, remade, rewrite, table

from geo_site.constraints import CONSTRAINTS
from geo_site.plan import Settings
from geo_site.ranking import CRITERIA

PAGE = "method.md"
SECTIONS = (
    "Inputs and reference systems",
    "Terrain and drainage",
    "Constraints",
    "Access",
    "Siting",
    "Layout",
    "Water",
    "Storms",
    "Earthwork",
    "Clearance",
    "Locate request",
    "Ranking",
    "What is uncertain",
    "Not done yet",
)


def shown(value: object, unit: str) -> str:
    """A default as the page writes it."""
    if value is None:
        return "none"
    if isinstance(value, tuple):
        return ", ".join(str(item) for item in value)
    if isinstance(value, float):
        value = f"{value:.4g}"
    return f"{value} {unit}" if unit != "-" else str(value)


def settings_table(keys: Sequence[str]) -> str:
    rows = {row.key: row for row in Settings().rows()}
    chosen = [rows[key] for key in keys]
    return table(
        ("setting", "default", "what it is", "source"),
        [(f"`{r.key}`", shown(r.value, r.unit), r.meaning, r.source) for r in chosen],
    )


MAKERS = {"settings": settings_table}


def section(title: str) -> str:
    text = read(PAGE)
    begin = text.index(f"\n## {title}\n")
    end = text.find("\n## ", begin + 1)
    return text[begin:end] if end > 0 else text[begin:]


def test_defaults_on_the_page_are_those_of_the_code():
    text = read(PAGE)
    assert remade(text, MAKERS) == text, "run: python tests/test_method_page.py"


def test_a_wrong_default_on_the_page_is_found():
    text = read(PAGE)
    wrong = text.replace("| 0.9 m | fall wanted", "| 0.8 m | fall wanted")
    assert wrong != text
    assert remade(wrong, MAKERS) == text


@pytest.mark.parametrize("title", SECTIONS)
def test_every_step_has_its_section(title):
    assert section(title).strip()


def test_every_settings_table_shows_defaults():
    shown_keys = set(re.findall(r"^\| `([a-z_]+)\.", read(PAGE), flags=re.MULTILINE))
    assert shown_keys == set(Settings.model_fields)


def test_every_reason_and_criterion_is_told():
    reasons = {f"`{constraint.reason}`" for constraint in CONSTRAINTS}
    assert {name for name in reasons if name not in section("Constraints")} == set()
    criteria = {f"`{criterion.name}`" for criterion in CRITERIA}
    assert {name for name in criteria if name not in section("Ranking")} == set()


if __name__ == "__main__":
    rewrite(PAGE, MAKERS)
