"""How each layer is drawn, told once; style files of every format are made from it.

Buried lines have the hues of the uniform colour code (APWA; safety colours of ANSI Z535.1, as
sRGB renderings of our own): red electric, yellow gas, orange communication, blue potable water,
purple reclaimed water, green sewer. A hue alone is lost on a grey print and on one man in
twelve, so every kind has a dash of its own too and none is solid. All other colours are ours,
chosen so that the classes of one layer differ in lightness and under the three dichromacies.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

__all__ = ["LOOKS", "UTILITY_SYMBOLS", "VERDICT_SYMBOLS", "Look", "Symbol"]


@dataclass(frozen=True, kw_only=True)
class Symbol:
    """One way to draw a geometry.

    Attributes
    ----------
    fill : str
        ``#rrggbb``; empty: none.
    opacity : float
        Of the fill, 0 to 1.
    stroke : str
        ``#rrggbb`` of line or outline.
    width_mm : float
        Of line or outline; 0: no outline.
    dash_mm : tuple of float
        Lengths of dash and gap in turn; empty: solid.
    marker : {"", "circle", "square", "triangle", "cross"}
        Shape of a point.
    size_mm : float
        Of a point.
    """

    fill: str = ""
    opacity: float = 1.0
    stroke: str = "#202020"
    width_mm: float = 0.3
    dash_mm: tuple[float, ...] = ()
    marker: Literal["", "circle", "square", "triangle", "cross"] = ""
    size_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Look:
    """How a layer is drawn.

    Attributes
    ----------
    symbol : Symbol
        For every feature, or for those of no class.
    label : str
        Field whose value is written beside a feature; empty: none.
    by : str
        Field that sorts features into classes; empty: one symbol for all.
    classes : tuple of (str, Symbol)
        Value of that field, and its symbol.
    """

    symbol: Symbol
    label: str = ""
    by: str = ""
    classes: tuple[tuple[str, Symbol], ...] = ()


_NAVY, _BLUE, _PALE = "#0b2f5b", "#3f7fc1", "#9cc9ea"
_EARTH, _SAND = "#6b3f17", "#d9b27c"
_INK, _GREY = "#202020", "#5c5c5c"


def _dashed(stroke: str, width_mm: float, *dash_mm: float) -> Symbol:
    return Symbol(stroke=stroke, width_mm=width_mm, dash_mm=dash_mm)


def _area(fill: str, opacity: float, stroke: str, *dash_mm: float) -> Symbol:
    return Symbol(fill=fill, opacity=opacity, stroke=stroke, width_mm=0.3, dash_mm=dash_mm)


UTILITY_SYMBOLS: Mapping[str, Symbol] = MappingProxyType(
    {
        "electric": _dashed("#c8102e", 0.8, 4.0, 1.0),
        "gas": _dashed("#ffd100", 0.8, 6.0, 1.5, 1.0, 1.5),
        "communication": _dashed("#e87722", 0.8, 2.0, 1.0),
        "potable_water": _dashed("#0072ce", 0.8, 9.0, 2.0),
        "reclaimed_water": _dashed("#8e2c9c", 0.8, 6.0, 1.5, 1.0, 1.5, 1.0, 1.5),
        "sewer": _dashed("#007749", 0.8, 5.0, 1.5, 2.5, 1.5),
        "unknown": _dashed("#3a3a3a", 0.8, 1.0, 1.0),
    }
)
"""Of each kind of buried line."""

VERDICT_SYMBOLS: Mapping[str, Symbol] = MappingProxyType(
    {
        "not_met": Symbol(stroke="#5a0a2c", width_mm=0.9),
        "hand_dig": _dashed("#c97a00", 0.7, 4.0, 1.5),
        "unknown": _dashed("#4a4f57", 0.5, 1.0, 1.0),
        "met": Symbol(stroke="#7fb6e6", width_mm=0.3),
    }
)
"""Of each verdict, the gravest first and heaviest."""

_REACHES = (
    ("pool", Symbol(stroke=_BLUE, width_mm=1.4)),
    ("riffle", _dashed(_PALE, 1.0, 3.0, 1.0)),
    ("fall", Symbol(stroke=_NAVY, width_mm=1.8)),
)
_CONTOURS = (
    ("true", Symbol(stroke=_EARTH, width_mm=0.3)),
    ("false", Symbol(stroke=_SAND, width_mm=0.15)),
)

LOOKS: Mapping[str, Look] = MappingProxyType(
    {
        "parcel": Look(symbol=_dashed(_INK, 0.6, 8.0, 1.5, 1.5, 1.5)),
        "blocked_ground": Look(symbol=_area("#6d5f5b", 0.35, "#6d5f5b")),
        "hand_dig_ground": Look(symbol=_area("#e69f00", 0.45, "#a86f00", 2.0, 1.0)),
        "open_ground": Look(symbol=_area("#d4ecd9", 0.45, "#7c9483")),
        "utility_lines": Look(
            symbol=UTILITY_SYMBOLS["unknown"],
            label="utility_id",
            by="kind",
            classes=tuple(UTILITY_SYMBOLS.items()),
        ),
        "basin_candidates": Look(symbol=_area("", 1.0, _INK, 1.0, 1.0), label="rank"),
        "basin": Look(symbol=_area(_BLUE, 0.6, _NAVY)),
        "basin_excavation": Look(symbol=_area(_SAND, 0.4, _EARTH, 3.0, 1.5)),
        "stream_alignment": Look(symbol=Symbol(stroke=_NAVY, width_mm=0.3)),
        "stream_reaches": Look(
            symbol=Symbol(stroke=_BLUE, width_mm=1.0), by="kind", classes=_REACHES
        ),
        "stream_falls": Look(
            symbol=Symbol(fill="#ffffff", stroke=_NAVY, marker="triangle", size_mm=3.0),
            label="height_m",
        ),
        "stream_pools": Look(symbol=_area(_BLUE, 0.5, _NAVY), label="water_level_m"),
        "stream_bed": Look(symbol=_area(_PALE, 0.5, _BLUE)),
        "pipe_run": Look(symbol=_dashed(_NAVY, 0.5, 1.5, 0.8)),
        "catchment": Look(symbol=_area("#b9c7d6", 0.3, _GREY, 4.0, 2.0)),
        "flow_paths": Look(symbol=_dashed(_BLUE, 0.25, 2.0, 0.8)),
        "overflow_path": Look(symbol=_dashed(_NAVY, 0.7, 5.0, 1.0, 1.0, 1.0)),
        "swale": Look(symbol=_dashed(_EARTH, 0.7, 2.0, 0.6)),
        "depressions": Look(symbol=_area(_PALE, 0.35, _BLUE, 1.0, 1.0), label="depth_m"),
        "contours": Look(
            symbol=Symbol(stroke=_SAND, width_mm=0.15),
            label="level_m",
            by="is_index",
            classes=_CONTOURS,
        ),
        "spoil_pile": Look(symbol=_area(_SAND, 0.6, _EARTH), label="volume_m3"),
        "silt_fence": Look(symbol=_dashed(_EARTH, 0.5, 1.0, 0.5, 3.0, 0.5)),
        "machine_route": Look(symbol=_dashed(_GREY, 1.0, 6.0, 2.0)),
        "clearances": Look(
            symbol=VERDICT_SYMBOLS["unknown"],
            label="clearance_m",
            by="verdict",
            classes=tuple(VERDICT_SYMBOLS.items()),
        ),
        "dig_area": Look(symbol=Symbol(stroke=_INK, width_mm=0.8, dash_mm=(4.0, 1.0))),
        "set_out": Look(
            symbol=Symbol(fill="#ffffff", stroke=_INK, marker="cross", size_mm=2.5), label="code"
        ),
    }
)
"""Of each layer, by its name."""
