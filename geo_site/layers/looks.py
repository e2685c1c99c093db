"""How each layer is drawn, told once; style files of every format are made from it.

Buried lines have the hues of the uniform colour code (APWA; safety colours of ANSI Z535.1, as
sRGB renderings of our own): red electric, yellow gas, orange communication, blue potable water,
purple reclaimed water, green sewer. A hue alone is lost on a grey print and on one man in
twelve, so every kind has a dash of its own too and none is solid; a thin dark casing keeps yellow
on white paper. All other colours are ours. Each symbol says what tells it from the others
(``told_by``), and a test holds it to that for three dichromacies and in grey.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from geo_site.layers.symbols import Hatch, Look, Symbol, Variable

__all__ = ["DRAWING_ORDER", "LOOKS", "UTILITY_SYMBOLS", "VERDICT_SYMBOLS", "Look", "Symbol"]

_NAVY, _BLUE, _PALE = "#0b2f5b", "#3f7fc1", "#9cc9ea"
_EARTH, _SAND = "#6b3f17", "#d9b27c"
_INK, _GREY, _CASING = "#202020", "#5c5c5c", "#303030"
_BOTH: tuple[Variable, ...] = ("colour", "dash")
_WIDTH: tuple[Variable, ...] = ("colour", "width")


def _dashed(stroke: str, width_mm: float, *dash_mm: float) -> Symbol:
    return Symbol(stroke=stroke, width_mm=width_mm, dash_mm=dash_mm, told_by=_BOTH)


def _buried(stroke: str, *dash_mm: float) -> Symbol:
    return Symbol(stroke=stroke, width_mm=0.8, dash_mm=dash_mm, casing=_CASING, told_by=_BOTH)


def _area(fill: str, opacity: float, stroke: str) -> Symbol:
    return Symbol(fill=fill, opacity=opacity, stroke=stroke)


def _hatched(area: Symbol, hatch: Hatch, every_mm: float, *dash_mm: float) -> Symbol:
    return replace(area, hatch=hatch, hatch_mm=every_mm, dash_mm=dash_mm, told_by=("hatch",))


UTILITY_SYMBOLS: Mapping[str, Symbol] = MappingProxyType(
    {
        "electric": _buried("#c8102e", 4.0, 1.0),
        "gas": _buried("#ffd100", 6.0, 1.5, 1.0, 1.5),
        "communication": _buried("#e87722", 2.0, 1.0),
        "potable_water": _buried("#0072ce", 9.0, 2.0),
        "reclaimed_water": _buried("#8e2c9c", 6.0, 1.5, 1.0, 1.5, 1.0, 1.5),
        "sewer": _buried("#007749", 2.5, 0.8, 2.5, 2.4),
        "unknown": _buried("#3a3a3a", 1.0, 1.0),
    }
)
"""Of each kind of buried line."""

VERDICT_SYMBOLS: Mapping[str, Symbol] = MappingProxyType(
    {
        "not_met": Symbol(stroke="#5a0a2c", width_mm=0.9, told_by=_WIDTH),
        "hand_dig": _dashed("#c97a00", 0.7, 4.0, 1.5),
        "unknown": _dashed("#4a4f57", 0.5, 1.6, 0.8, 0.4, 0.8),
        "met": Symbol(stroke="#7fb6e6", width_mm=0.3, told_by=_WIDTH),
    }
)
"""Of each verdict, the gravest first and heaviest."""

_REACHES = (
    ("pool", Symbol(stroke=_BLUE, width_mm=1.4, told_by=_WIDTH)),
    ("riffle", _dashed(_PALE, 1.0, 3.0, 1.0)),
    ("fall", Symbol(stroke=_NAVY, width_mm=1.8, told_by=_WIDTH)),
)
_CONTOURS = (
    ("true", Symbol(stroke=_EARTH, width_mm=0.3, told_by=_WIDTH)),
    ("false", Symbol(stroke=_SAND, width_mm=0.15, told_by=_WIDTH)),
)

_MARKER: tuple[Variable, ...] = ("marker",)
_FALL = Symbol(fill="#ffffff", stroke=_NAVY, marker="triangle", size_mm=3.0, told_by=_MARKER)
_STAKE = Symbol(fill="#ffffff", stroke=_INK, marker="cross", size_mm=1.8, told_by=_MARKER)

_GROUND = {
    "parcel": Look(symbol=_dashed(_INK, 0.6, 8.0, 1.5, 1.5, 1.5)),
    "blocked_ground": Look(
        symbol=replace(_hatched(_area("#6d5f5b", 0.42, "#6d5f5b"), "backslash", 4.0), width_mm=0.0),
        drawn_to=5000.0,
        at_first=False,
    ),
    "hand_dig_ground": Look(
        symbol=_hatched(_area("#e69f00", 0.4, "#a86f00"), "cross", 2.5, 2.0, 1.0),
        drawn_to=5000.0,
    ),
    "open_ground": Look(symbol=_area("#d4ecd9", 0.25, "#7c9483"), drawn_to=5000.0, at_first=False),
    "catchment": Look(
        symbol=_hatched(_area("#b9c7d6", 0.3, _GREY), "upright", 6.0, 4.0, 2.0), at_first=False
    ),
    "depressions": Look(
        symbol=_hatched(_area(_PALE, 0.35, _BLUE), "level", 1.5, 1.0, 1.0),
        label="depth_m",
        label_before="deep",
        labels_to=500.0,
        priority=2,
    ),
    "contours": Look(
        symbol=_CONTOURS[1][1],
        label="level_m",
        by="is_index",
        classes=_CONTOURS,
        drawn_to=2500.0,
        priority=1,
    ),
    "flow_paths": Look(symbol=_dashed(_BLUE, 0.25, 2.0, 0.8), drawn_to=5000.0, at_first=False),
    "overflow_path": Look(symbol=_dashed(_NAVY, 0.7, 5.0, 1.0, 1.0, 1.0)),
    "utility_lines": Look(
        symbol=UTILITY_SYMBOLS["unknown"],
        label="utility_id",
        label_also="kind",
        by="kind",
        classes=tuple(UTILITY_SYMBOLS.items()),
        labels_to=2500.0,
        priority=10,
    ),
}

_WORKS = {
    "basin_candidates": Look(
        symbol=_dashed(_INK, 0.3, 1.0, 1.0),
        label="rank",
        label_before="place",
        labels_to=2500.0,
        priority=8,
        at_first=False,
    ),
    "basin": Look(symbol=_hatched(_area(_BLUE, 0.5, _NAVY), "grid", 2.0)),
    "basin_excavation": Look(symbol=_hatched(_area(_SAND, 0.4, _EARTH), "slash", 3.0, 3.0, 1.5)),
    "stream_alignment": Look(symbol=Symbol(stroke=_NAVY, width_mm=0.3, told_by=_WIDTH)),
    "stream_reaches": Look(symbol=_REACHES[0][1], by="kind", classes=_REACHES, drawn_to=2500.0),
    "stream_falls": Look(
        symbol=_FALL, label="height_m", label_before="fall", labels_to=500.0, drawn_to=2500.0
    ),
    "stream_pools": Look(
        symbol=_area(_BLUE, 0.6, _NAVY),
        label="water_level_m",
        label_before="water",
        labels_to=500.0,
    ),
    "stream_bed": Look(symbol=_area(_PALE, 0.6, _BLUE)),
    "pipe_run": Look(symbol=_dashed(_NAVY, 0.5, 1.5, 0.8)),
    "swale": Look(symbol=_dashed(_EARTH, 0.7, 2.0, 0.6)),
    "spoil_pile": Look(
        symbol=_hatched(_area(_SAND, 0.6, _EARTH), "dots", 1.5), label="volume_m3", priority=4
    ),
    "silt_fence": Look(symbol=_dashed(_EARTH, 0.5, 1.0, 0.5, 3.0, 0.5)),
    "machine_route": Look(symbol=_dashed(_GREY, 1.0, 6.0, 2.0)),
    "clearances": Look(
        symbol=VERDICT_SYMBOLS["unknown"],
        label="clearance_m",
        by="verdict",
        classes=tuple(VERDICT_SYMBOLS.items()),
        quiet=("met",),
        labels_to=500.0,
        priority=9,
    ),
    "dig_area": Look(symbol=_dashed(_INK, 0.8, 4.0, 1.0)),
    "set_out": Look(symbol=_STAKE, label="code", labels_to=300.0, priority=3, drawn_to=500.0),
}

LOOKS: Mapping[str, Look] = MappingProxyType(_GROUND | _WORKS)
"""Of each layer, by its name."""

DRAWING_ORDER = (
    "open_ground",
    "blocked_ground",
    "catchment",
    "depressions",
    "hand_dig_ground",
    "basin_excavation",
    "spoil_pile",
    "stream_bed",
    "stream_pools",
    "basin",
    "contours",
    "flow_paths",
    "parcel",
    "basin_candidates",
    "dig_area",
    "machine_route",
    "silt_fence",
    "swale",
    "overflow_path",
    "stream_reaches",
    "stream_alignment",
    "pipe_run",
    "clearances",
    "utility_lines",
    "stream_falls",
    "set_out",
)
"""Layers from the bottom of the picture to its top: ground, works, lines, points; of the lines, the
buried ones lie on all others."""
