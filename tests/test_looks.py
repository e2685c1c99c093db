"""LOOK-01 to 03: symbols told apart by every kind of eye and in grey, on paper and on a screen.

Colours are simulated and compared by colorspacious, which carries the matrices of Machado, Oliveira
and Fernandes (2009), IEEE TVCG 15(6), and CAM02-UCS (Luo, Cui and Li 2006).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from colorspacious import cspace_convert, deltaE, machado_et_al_2009_matrix

from geo_site.layers import DRAWING_ORDER, LAYERS, LOOKS, UTILITY_SYMBOLS, VERDICT_SYMBOLS, Symbol

EYES = {
    "normal": "",
    "protanopia": "protanomaly",
    "deuteranopia": "deuteranomaly",
    "tritanopia": "tritanomaly",
}
LEAST_COLOUR = 10.0  # CAM02-UCS; 1 is just noticed. Ours: lines on paper are thin
LEAST_GREY = 10.0  # of the lightness L* of CIELAB
LEAST_WIDTH = 2.0  # ratio
LEAST_DASH = 1.5  # ratio of the longest strokes, where a period has as many


@cache
def seen(colour: str, opacity: float, eye: str) -> tuple[float, ...]:
    """A colour over white paper, as sRGB for an eye that has all three cones."""
    rgb = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    rgb = 1.0 + opacity * (rgb - 1.0)
    if EYES[eye]:
        space = {"name": "sRGB1+CVD", "cvd_type": EYES[eye], "severity": 100}
        rgb = np.clip(cspace_convert(rgb, space, "sRGB1"), 0.0, 1.0)
    return tuple(float(part) for part in rgb)


Paint = tuple[str, float]


@cache
def apart(one: Paint, other: Paint, eye: str) -> float:
    """Difference of two colours for an eye, or of their lightness in a grey print."""
    if eye == "grey":
        first, second = (
            cspace_convert(seen(*paint, "normal"), "sRGB1", "CIELab")[0] for paint in (one, other)
        )
        return float(abs(first - second))
    return float(deltaE(seen(*one, eye), seen(*other, eye), input_space="sRGB1"))


def colours_hold(one: Paint, other: Paint) -> bool:
    return apart(one, other, "grey") >= LEAST_GREY and all(
        apart(one, other, eye) >= LEAST_COLOUR for eye in EYES
    )


def dashes_hold(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    if len(one) != len(other):
        return True
    longest = sorted(max(dash[::2], default=1.0) for dash in (one, other))
    return longest[1] / longest[0] >= LEAST_DASH


@dataclass(frozen=True)
class Drawn:
    """A symbol with the place where it stands."""

    name: str
    form: str
    symbol: Symbol

    @property
    def paint(self) -> Paint:
        if self.form == "area":
            return self.symbol.fill, self.symbol.opacity
        return self.symbol.stroke, 1.0


def told_apart(one: Drawn, other: Drawn) -> set[str]:
    """What really tells two symbols of one form apart, of what one of them declares."""
    a, b = one.symbol, other.symbol
    widths = sorted((a.width_mm, b.width_mm))
    differs = {
        "colour": colours_hold(one.paint, other.paint),
        "dash": one.form == "line" and dashes_hold(a.dash_mm, b.dash_mm),
        "width": widths[1] >= LEAST_WIDTH * max(widths[0], 1e-9),
        "hatch": a.hatch != b.hatch,
        "marker": a.marker != b.marker,
    }
    return {name for name in {*a.told_by, *b.told_by} if differs[name]}


def drawn() -> Iterator[Drawn]:
    """Every symbol of every layer; an area that is only an outline looks like a line."""
    for layer in LAYERS:
        for name, symbol in layer.look.classes or (("", layer.look.symbol),):
            if "Point" in layer.geometry:
                form = "point"
            elif "Polygon" in layer.geometry and symbol.fill:
                form = "area"
            else:
                form = "line"
            yield Drawn(f"{layer.name} {name}".strip(), form, symbol)


ALL = tuple(drawn())
PAIRS = [(one, other) for one, other in itertools.combinations(ALL, 2) if one.form == other.form]


def test_the_matrices_are_the_published_ones() -> None:
    """LOOK-01: rows of severity 1.0; each sums to 1, so that greys stay grey."""
    protan = machado_et_al_2009_matrix("protanomaly", 100)
    np.testing.assert_allclose(protan[0], [0.152286, 1.052583, -0.204868], atol=1e-6)
    for eye in filter(None, EYES.values()):
        np.testing.assert_allclose(machado_et_al_2009_matrix(eye, 100).sum(axis=1), 1.0, atol=2e-6)


def test_the_simulation_knows_its_purpose() -> None:
    red, green = ("#ff0000", 1.0), ("#00a000", 1.0)
    assert apart(red, green, "deuteranopia") < apart(red, green, "normal") / 2.0
    assert apart(("#777777", 1.0), ("#777777", 1.0), "grey") == 0.0


def test_there_is_something_to_tell_apart() -> None:
    forms = [one.form for one in ALL]
    assert (forms.count("line"), forms.count("area"), forms.count("point")) == (26, 10, 2)
    assert len(PAIRS) == 26 * 25 // 2 + 10 * 9 // 2 + 1


def test_whatever_means_another_thing_looks_another_way() -> None:
    """LOOK-02: by what one of the two declares, and by what is really there."""
    same = [(one.name, other.name) for one, other in PAIRS if not told_apart(one, other)]
    assert not same


def test_no_symbol_declares_what_does_not_help() -> None:
    idle = [
        (one.name, variable)
        for one in ALL
        for variable in one.symbol.told_by
        if not any(variable in told_apart(*pair) for pair in PAIRS if one in pair)
    ]
    assert not idle


def test_a_look_that_is_lost_would_be_noticed() -> None:
    gas, sewer = (
        next(one for one in ALL if one.name == f"utility_lines {kind}") for kind in ("gas", "sewer")
    )
    red, green = replace(gas.symbol, stroke="#d62728"), replace(gas.symbol, stroke="#2ca02c")
    assert not told_apart(replace(gas, symbol=red), replace(sewer, symbol=green))


@pytest.mark.parametrize("pair", list(itertools.combinations(UTILITY_SYMBOLS, 2)), ids=" and ".join)
def test_buried_lines_are_told_apart_without_any_colour(pair: tuple[str, str]) -> None:
    one, other = (UTILITY_SYMBOLS[kind] for kind in pair)
    assert dashes_hold(one.dash_mm, other.dash_mm)


@pytest.mark.parametrize("kind", list(UTILITY_SYMBOLS))
def test_the_edge_of_a_buried_line_is_seen_on_white(kind: str) -> None:
    symbol = UTILITY_SYMBOLS[kind]
    for eye in (*EYES, "grey"):
        assert apart((symbol.casing, 1.0), ("#ffffff", 1.0), eye) >= 50.0


@pytest.mark.parametrize("eye", [*EYES, "grey"])
@pytest.mark.parametrize("pair", list(itertools.combinations(VERDICT_SYMBOLS, 2)), ids=" and ".join)
def test_verdicts_survive_by_colour_alone(pair: tuple[str, str], eye: str) -> None:
    """LOOK-03: nothing but their colour, for every eye and in grey."""
    one, other = ((VERDICT_SYMBOLS[name].stroke, 1.0) for name in pair)
    assert apart(one, other, eye) >= LEAST_COLOUR


GROUNDS = ("blocked_ground", "hand_dig_ground", "open_ground")


@pytest.mark.parametrize("eye", [*EYES, "grey"])
@pytest.mark.parametrize("pair", list(itertools.combinations(GROUNDS, 2)), ids=" and ".join)
def test_grounds_survive_by_colour_alone(pair: tuple[str, str], eye: str) -> None:
    """Where one may dig is plain also where no hatch is drawn."""
    one, other = ((LOOKS[name].symbol.fill, LOOKS[name].symbol.opacity) for name in pair)
    assert apart(one, other, eye) >= LEAST_COLOUR


def test_the_graver_verdict_is_heavier() -> None:
    widths = [symbol.width_mm for symbol in VERDICT_SYMBOLS.values()]
    assert list(VERDICT_SYMBOLS) == ["not_met", "hand_dig", "unknown", "met"]
    assert widths == sorted(widths, reverse=True)
    assert LOOKS["clearances"].quiet == ("met",)  # nothing else may be kept out of the picture


def test_the_drawing_order_hides_no_line_and_no_point() -> None:
    forms = {"area": 0, "line": 1, "point": 2}
    layer_forms = {one.name.split()[0]: forms[one.form] for one in ALL}
    assert sorted(DRAWING_ORDER) == sorted(LOOKS)
    order = [layer_forms[name] for name in DRAWING_ORDER]
    assert order == sorted(order)
    lines = [name for name in DRAWING_ORDER if layer_forms[name] == 1]
    assert lines[-1] == "utility_lines"
    areas = [name for name in DRAWING_ORDER if layer_forms[name] == 0]
    assert areas.index("blocked_ground") < areas.index("hand_dig_ground") < areas.index("basin")


def test_labels_are_never_written_farther_out_than_their_layer() -> None:
    for name, look in LOOKS.items():
        if look.label and look.drawn_to:
            assert look.labels_to <= look.drawn_to, name


def test_labels_say_what_a_bare_number_does_not() -> None:
    assert (LOOKS["utility_lines"].label, LOOKS["utility_lines"].label_also) == (
        "utility_id",
        "kind",
    )
    assert (LOOKS["contours"].label, LOOKS["basin_candidates"].label) == ("level_m", "rank")
    metres = {
        layer.name
        for layer in LAYERS
        if any(f.name == layer.look.label and f.unit == "m" for f in layer.fields)
    }
    unsaid = {name for name in metres if not LOOKS[name].label_before}
    assert unsaid == {"contours", "clearances"}  # their line says it
