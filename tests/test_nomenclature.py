"""The dictionary of names is true: units by suffix, words, layers, tables of settings.

``python tests/test_nomenclature.py`` makes the page's lists of layers and settings again.
"""

from __future__ import annotations

import dataclasses
import pkgutil
import re
from collections.abc import Iterator, Sequence
from importlib import import_module
from typing import get_args

import pytest
from page_tables import read, remade, rewrite, table

import geo_site
from geo_site.clearance import WORK_RULES, Verdict
from geo_site.constraints import Work
from geo_site.layers import LAYERS
from geo_site.parameters import Parameters
from geo_site.plan import Settings
from geo_site.site import INPUT_LAYERS, UTILITY_KINDS

PAGE = "nomenclature.md"
NUMBERS = re.compile(r"\b(float|np\.float64|np\.floating|Floats|FloatArray|Metres)\b")


def section(title: str) -> str:
    text = read(PAGE)
    begin = text.index(f"\n## {title}\n")
    end = text.find("\n## ", begin + 1)
    return text[begin:end] if end > 0 else text[begin:]


def units() -> dict[str, str]:
    """Unit by suffix, as the page has them."""
    return dict(re.findall(r"^\| `(_\w+)` \| (\S+) \|", section("Suffixes"), flags=re.MULTILINE))


def pure() -> set[str]:
    """Names that carry no suffix, as the page has them."""
    title = "Pure numbers and coordinates"
    cells = re.findall(r"^\| (`[^|]+) \|", section(title), flags=re.MULTILINE)
    return {name for cell in cells for name in re.findall(r"`(\w+)`", cell)}


def unit_of(name: str) -> str | None:
    """Unit that a name says, "-" for a pure number; None: it says nothing."""
    if name in pure():
        return "-"
    return units().get(f"_{name.rpartition('_')[2]}") if "_" in name else None


def numbers_of_results() -> Iterator[tuple[str, str]]:
    """Class and name of every number in every public dataclass."""
    for module in pkgutil.walk_packages(geo_site.__path__, "geo_site."):
        if module.name == "geo_site.__main__":
            continue
        for kind in vars(import_module(module.name)).values():
            here = isinstance(kind, type) and kind.__module__ == module.name
            if here and dataclasses.is_dataclass(kind) and not kind.__name__.startswith("_"):
                for field in dataclasses.fields(kind):
                    told = getattr(field.type, "__name__", str(field.type))
                    mapping = told.startswith("Mapping")
                    if NUMBERS.search(told) and not mapping and not field.name.startswith("_"):
                        yield kind.__name__, field.name


def layers_table(keys: Sequence[str]) -> str:
    assert not keys
    return table(
        ("layer", "geometry", "what it holds", "fields"),
        [
            (f"`{r.name}`", r.geometry, r.meaning, ", ".join(f"`{f.name}`" for f in r.fields))
            for r in LAYERS
        ],
    )


def settings_tables(kind: type[Parameters], prefix: str = "") -> Iterator[tuple[str, str]]:
    """Dotted name and first line of every table of settings."""
    for name, field in kind.model_fields.items():
        inner = field.annotation
        if isinstance(inner, type) and issubclass(inner, Parameters):
            yield f"{prefix}{name}", str(inner.__doc__).splitlines()[0]
            yield from settings_tables(inner, f"{prefix}{name}.")


def settings_table(keys: Sequence[str]) -> str:
    assert not keys
    rows = [(f"`[{name}]`", told) for name, told in settings_tables(Settings)]
    return table(("table", "what it holds"), rows)


MAKERS = {"layers": layers_table, "settings": settings_table}


def test_numbers_of_results_carry_their_unit():
    found = list(numbers_of_results())
    assert len(found) > 100
    assert [f"{kind}.{name}" for kind, name in found if unit_of(name) is None] == []


@pytest.mark.parametrize("name", ["depth_ft", "depth", "m", "flow_gpm", "slope_m4"])
def test_a_name_without_a_unit_is_found(name):
    assert unit_of(name) is None


def test_no_suffix_and_no_pure_number_is_idle():
    """The page lists nothing that nobody uses."""
    used = {name for _, name in numbers_of_results()}
    used |= {field.name for layer in LAYERS for field in layer.fields}
    used |= {field.name for layer in INPUT_LAYERS.values() for field in layer.fields}
    assert pure() - used == set()
    assert {s for s in units() if not any(name.endswith(s) for name in used)} == set()


@pytest.mark.parametrize("layer", LAYERS, ids=lambda layer: layer.name)
def test_fields_of_layers_say_the_unit_that_they_declare(layer):
    for field in layer.fields:
        if field.type == "real":
            assert unit_of(field.name) == field.unit, field.name


@pytest.mark.parametrize("layer", INPUT_LAYERS.values(), ids=lambda layer: layer.name)
def test_columns_of_inputs_say_their_unit(layer):
    expected = {"length": "m", "voltage": "V", "-": "-"}
    for field in layer.fields:
        if field.type == "number":
            assert unit_of(field.name) == expected[field.dimension], field.name


def test_lists_of_layers_and_settings_are_those_of_the_code():
    text = read(PAGE)
    assert remade(text, MAKERS) == text, "run: python tests/test_nomenclature.py"
    assert text.count("| `[") == len(list(settings_tables(Settings)))


def test_words_of_fields_are_on_the_page():
    words = {*UTILITY_KINDS, *get_args(Verdict), *WORK_RULES, *get_args(Work)}
    told = set(re.findall(r"`(\w+)`", section("Words in fields")))
    assert words - told == set()


if __name__ == "__main__":
    rewrite(PAGE, MAKERS)
