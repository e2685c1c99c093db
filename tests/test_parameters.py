"""Settings: declared once, read strictly, described wholly."""

from __future__ import annotations

import pytest

from geo_site.errors import SettingRefused
from geo_site.parameters import (
    CubicMetresPerSecond,
    Metres,
    Parameters,
    Slope,
    describe,
    read_table,
    setting,
)


class Inner(Parameters):
    width: Metres = setting(
        0.5, unit="m", meaning="a width", source="common practice, no source", within="(0, 2]"
    )


class Outer(Parameters):
    depth: Metres = setting(1.0, unit="m", meaning="a depth", source="invented", within="[0, 9)")
    flow: CubicMetresPerSecond = setting(0.001, unit="m3/s", meaning="a flow", source="invented")
    grade: Slope = setting(0.1, unit="-", meaning="a grade", source="invented")
    inner: Inner = Inner()


def test_units_at_the_door() -> None:
    read = read_table(Outer, {"depth": "2.75 ft", "flow": "20 gpm", "grade": "25 %"}, table="outer")
    assert read.depth == pytest.approx(0.8382)
    assert read.flow == pytest.approx(20 * 6.30901964e-5)
    assert read.grade == pytest.approx(0.25)
    assert read.inner.width == 0.5


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"dept": 1.0}, ["unknown setting outer.dept", "valid: depth, flow, grade, inner"]),
        ({"inner": {"wide": 1.0}}, ["unknown setting outer.inner.wide", "valid: width"]),
        ({"depth": -1.0}, ["outer.depth = -1.0", "greater than or equal to 0"]),
        ({"depth": 9.0}, ["outer.depth", "less than 9"]),
        ({"depth": "2 furlongs"}, ["outer.depth", "furlongs"]),
        ({"depth": True}, ["outer.depth"]),
        ({"depth": float("nan")}, ["outer.depth"]),
        ({"depth": float("inf")}, ["outer.depth"]),
        ({"inner": {"width": 0}}, ["outer.inner.width = 0", "greater than 0"]),
        ({"inner": 3}, ["outer.inner = 3"]),
    ],
)
def test_refusals_name_the_key(given: dict[str, object], words: list[str]) -> None:
    with pytest.raises(SettingRefused) as refused:
        read_table(Outer, given, table="outer", file="site.toml")
    told = str(refused.value)
    assert told.startswith("site.toml: ")
    assert "\n" not in told
    for word in words:
        assert word in told


def test_frozen() -> None:
    with pytest.raises(ValueError, match="frozen"):
        Outer().depth = 3.0  # type: ignore[misc]


def test_description_is_whole() -> None:
    rows = {row.key: row for row in describe(Outer(depth=2.0), "outer")}
    assert list(rows) == ["outer.depth", "outer.flow", "outer.grade", "outer.inner.width"]
    assert not rows["outer.depth"].is_default
    assert rows["outer.inner.width"].is_default
    assert rows["outer.inner.width"].unit == "m"
    assert rows["outer.inner.width"].source == "common practice, no source"
