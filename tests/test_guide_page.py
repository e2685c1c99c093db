"""The guide shows what the program prints: ``python tests/test_guide_page.py`` writes it anew."""

from __future__ import annotations

import re
from pathlib import Path

from made_plans import sample_plan

from geo_site.cli import commands
from geo_site.plan import Settings
from geo_site.readers import read_axis
from geo_site.tables import summary_lines

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "docs" / "guide.md"
BEGIN = "<!-- made by tests/test_guide_page.py: begin -->"
END = "<!-- made by tests/test_guide_page.py: end -->"


def block() -> str:
    """What ``propose`` prints on the sample, in a box."""
    return "\n".join(["```", *summary_lines(sample_plan("hillside")), "```"])


def rewritten(text: str) -> str:
    """Give the page with the block as it is now."""
    head, _, rest = text.partition(BEGIN)
    return f"{head}{BEGIN}\n\n{block()}\n\n{END}{rest.partition(END)[2]}"


def test_the_guide_shows_what_is_printed() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert rewritten(text) == text, "python tests/test_guide_page.py writes it anew"


def test_commands_and_settings_that_the_guide_names_are_there() -> None:
    text = PAGE.read_text(encoding="utf-8")
    named = set(re.findall(r"geo-site ([a-z]+)", text))
    assert {"check", "propose", "settings", "sweep"} <= named <= set(commands.commands)
    known = {row.key for row in Settings().rows()}
    for word in re.findall(r"geo-site sweep site.toml (\S+)", text):
        assert read_axis(word).key in known


def test_files_that_the_guide_names_are_there() -> None:
    text = PAGE.read_text(encoding="utf-8")
    for path in re.findall(r"\]\((?!http)([^)#]+)\)", text):
        assert (PAGE.parent / path).exists(), path


if __name__ == "__main__":
    PAGE.write_text(rewritten(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
