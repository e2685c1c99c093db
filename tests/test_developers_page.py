"""The contributor's page names what is there: files, tables, dependencies, links."""

from __future__ import annotations

import re
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DOCUMENTS = (ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md")))
NAMES = {
    "CONSTRAINTS": "geo_site.constraints.table",
    "LOOKS": "geo_site.layers.looks",
    "CRITERIA": "geo_site.ranking",
    "RankingWeights": "geo_site.ranking",
    "RankingParameters": "geo_site.ranking",
    "InputRefused": "geo_site.errors",
    "BAD_INPUTS": "test_readers_refusals",
    "setting": "geo_site.parameters",
    "_layer": "geo_site.layers.catalogue",
    **dict.fromkeys(
        ("Metres", "SquareMetres", "CubicMetres", "CubicMetresPerSecond", "Degrees", "Slope"),
        "geo_site.parameters",
    ),
}


def page() -> str:
    return (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def dependencies() -> dict[str, set[str]]:
    """Distributions by group, as the project declares them."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    groups = {"Run time": project["dependencies"], **project["optional-dependencies"]}
    return {
        group: {re.split(r"[\[<>=!~ ]", name)[0] for name in names} - {"geo-site"}
        for group, names in groups.items()
    }


def listed(title: str) -> set[str]:
    """Libraries in the table under a title of the page."""
    text = page().partition(f"\n### {title}\n")[2].partition("\n### ")[0]
    cells = [line.split("|")[1] for line in text.splitlines() if line.startswith("| ")]
    return {name.strip() for cell in cells[1:] for name in cell.split(",")}


def test_files_that_the_page_names_are_there():
    named = set(re.findall(r"`((?:geo_site|tests|docs|\.ci)/[\w/.]+)`", page()))
    assert len(named) > 10
    missing = {name for name in named if not (ROOT / name).exists()}
    assert missing <= {"tests/benchmarks"}, missing


@pytest.mark.parametrize(("name", "module"), NAMES.items())
def test_names_in_recipes_stand_where_the_page_says(name: str, module: str):
    assert re.search(rf"`{name}\b", page())
    assert hasattr(import_module(module), name)


def test_every_run_time_dependency_is_listed():
    assert listed("Run time") == dependencies()["Run time"]


def test_every_optional_and_test_dependency_is_listed():
    assert dependencies()["lidar"] <= listed("Optional: `lidar`")
    assert dependencies()["test"] - listed("Test") == set()


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_links_between_documents_lead_somewhere(document: Path):
    text = document.read_text(encoding="utf-8")
    for target, anchor in re.findall(r"\]\(([\w/.-]+\.md)(?:#([\w-]+))?\)", text):
        linked = document.parent / target
        assert linked.exists(), target
        heads = re.findall(r"^#+ (.+)$", linked.read_text(encoding="utf-8"), flags=re.MULTILINE)
        anchors = {re.sub(r"[^\w -]", "", head).lower().replace(" ", "-") for head in heads}
        assert not anchor or anchor in anchors, f"{target}#{anchor}"
