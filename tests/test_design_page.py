"""The page of the house tells no field and no verb that the code does not have."""

from __future__ import annotations

import dataclasses
import inspect
import re
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

PAGE = (Path(__file__).parent.parent / "docs" / "design.md").read_text(encoding="utf-8")
HANDED_ON = PAGE[PAGE.index("## What the floors hand to each other") :]
SECTIONS = re.findall(r"^### ([^(\n]+)\(\d+\).*?\n(.*?)(?=^### |\Z)", HANDED_ON, re.M | re.S)


def modules(title: str) -> list[ModuleType]:
    """Modules that a title names; doors have no results of their own."""
    names = re.findall(r"[a-z_]+", title.replace(" and ", " "))
    return [import_module(f"geo_site.{name}") for name in names]


def named(title: str, name: str) -> Any:
    """What a name means on the floor of a title; None: nothing."""
    return next((getattr(m, name) for m in modules(title) if hasattr(m, name)), None)


def classes(text: str) -> list[tuple[str, list[str]]]:
    """Each class of a list with the fields that are told of it."""
    found = []
    for item in re.findall(r"^- (.*?)(?=^- |^\n|\Z)", text, re.M | re.S):
        for told in re.split(r"(?=`[A-Z]\w+`: )", item):
            name, _, fields = told.partition("`: ")
            quoted = re.sub(r"\([^()]*\)", "", fields)  # what stands in brackets explains
            spans = ", ".join(re.findall(r"`([^`]+)`", quoted))
            if fields:
                found.append((name.strip("`"), sorted(set(re.findall(r"\b[a-z]\w*", spans)))))
    return found


CLASSES = [(title, *one) for title, text in SECTIONS for one in classes(text)]
VERBS = [
    (title, verb, re.findall(r"\b[a-z]\w*", inside))
    for title, text in SECTIONS
    for verb, inside in re.findall(r"`(\w+)\(([^)]*)\)", text)
]


@pytest.mark.parametrize(("title", "name", "told"), CLASSES, ids=lambda v: str(v)[:20])
def test_fields_on_the_page_are_fields_of_the_code(title: str, name: str, told: list[str]):
    kind = named(title, name)
    assert dataclasses.is_dataclass(kind), name
    assert set(told) - {field.name for field in dataclasses.fields(kind)} == set()
    assert told


@pytest.mark.parametrize(("title", "verb", "told"), VERBS, ids=lambda v: str(v)[:20])
def test_verbs_on_the_page_take_what_it_says(title: str, verb: str, told: list[str]):
    parameters = list(inspect.signature(named(title, verb)).parameters)
    assert not told or told == parameters


def test_the_page_is_read():
    assert len(CLASSES) > 25
    assert len(VERBS) > 15
    told = {name: fields for _, name, fields in CLASSES}
    assert set(told["NoPlaceRow"]) == {"rule", "ground_m2", "only_this_m2"}


def test_a_field_that_is_not_there_is_found():
    (name, told), (other, _) = classes("- `Pile`: `geometry, colour`\n  (red). `Visit`: `why`.\n")
    assert (name, other) == ("Pile", "Visit")
    with pytest.raises(AssertionError):
        test_fields_on_the_page_are_fields_of_the_code("earthwork ", name, told)
