"""A drawing that is being filled: shapes, hatches, dashes and words as the looks ask for them.

In: tables of layers. Out: entities. Method: sizes on paper become drawing units at one scale.
Reference: DXF R2010 (AC1024).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import ezdxf.colors
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from shapely import get_coordinates, get_parts
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from geo_site.drawing.places import Place, Taken, along, around
from geo_site.layers import Layer, Symbol, Table
from geo_site.layers.fields import ALTERNATIVE
from geo_site.layers.symbols import Hatch

__all__ = ["LABEL_MM", "POINT_MM", "SCALE", "Board", "plain"]

SCALE = 200.0
"""Words, dashes and hatches are as large as on a sheet of this scale."""
LABEL_MM = 2.5
"""Height of labels on that sheet."""
POINT_MM = 1.8
_STAKE_MM = 1.8
_HATCH_WEIGHT = 13  # hundredths of a millimetre
_WIDTHS = (5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100, 140, 200)
_ANGLES: Mapping[Hatch, tuple[int, ...]] = {
    "slash": (45,),
    "backslash": (135,),
    "cross": (45, 135),
    "grid": (0, 90),
    "level": (0,),
    "upright": (90,),
    "dots": (0,),
}
_INK = (32, 32, 32)
_LEVELS = {"contours": "level_m"}
"""Flat layers whose features lie on a level."""
_Row = Mapping[str, Any]


class Board:
    """A drawing that is being filled.

    Parameters
    ----------
    drawing : Drawing
        The document.
    unit_m : float
        Metres of one drawing unit.
    lot : tuple of float
        West, south, east, north of what is worked on, where words belong.
    """

    def __init__(
        self, drawing: Drawing, unit_m: float, lot: tuple[float, float, float, float]
    ) -> None:
        self.drawing, self.space, self.unit_m = drawing, drawing.modelspace(), unit_m
        self.taken = Taken()
        self._view = box(*lot)
        self._dashes: dict[tuple[float, ...], str] = {}

    def add_layer(self, layer: Layer, plans: int) -> None:
        """Add a layer, one for each class that is kept back, and one for each further plan."""
        symbols = dict(layer.look.classes)
        others = range(2, 1 + max(plans, 1))
        for name, symbol, is_on in (
            (layer.name, layer.look.symbol, layer.look.at_first),
            *((f"{layer.name}_{quiet}", symbols[quiet], False) for quiet in layer.look.quiet),
            *((f"{layer.name}_{number}", layer.look.symbol, False) for number in others),
        ):
            made = self.drawing.layers.add(
                name,
                true_color=_colour(symbol.stroke),
                linetype=self._linetype(symbol),
                lineweight=_weight(symbol.width_mm),
            )
            made.description = layer.title
            if not is_on:
                made.off()

    def draw(self, layer: Layer, rows: Table) -> None:
        """Draw a layer's features."""
        symbols = dict(layer.look.classes)
        for row in rows.records():
            name = str(row.get(layer.look.by)).lower()
            symbol = symbols.get(name, layer.look.symbol)
            about = self._attributes(layer, name, symbol, row.get(ALTERNATIVE, 1))
            if layer.name in _LEVELS:
                about["elevation"] = row[_LEVELS[layer.name]] / self.unit_m
            for part in get_parts(row["geometry"]):
                self._shape(part, symbol, about)

    def name(self, layer: Layer, rows: Table) -> None:
        """Write a layer's labels where they are free of those already written."""
        look, records = layer.look, rows.records()
        height_mm = _STAKE_MM if "Point" in layer.geometry else LABEL_MM
        for row in records:
            words = _words(layer, row)
            if not words or str(row.get(look.by)) in look.quiet or row.get(ALTERNATIVE, 1) > 1:
                continue
            height = self.on_board(height_mm)
            shown = row["geometry"].intersection(self._view)
            shape = row["geometry"] if shown.is_empty else shown
            line = max(get_parts(shape), key=lambda part: part.length)
            spot = shape.representative_point()
            places = (
                along(line, words, height)
                if isinstance(line, LineString)
                else around(spot.x, spot.y, words, height)
            )
            place = self.taken.choose(places, words, height)
            self.write(words, (place.x, place.y), height_mm, layer.name, place)
            if place.leader:
                self.space.add_line(
                    (spot.x, spot.y), (place.x, place.y), dxfattribs={"layer": layer.name}
                )

    def write(
        self,
        words: str,
        at: tuple[float, float],
        height_mm: float,
        layer: str,
        place: Place | None = None,
    ) -> None:
        """Write words, lower left at a point, as high as plotted."""
        text = self.space.add_text(
            words, height=self.on_board(height_mm), dxfattribs={"layer": layer}
        )
        text.rgb = _INK
        text.dxf.rotation = place.turn_deg if place else 0.0
        text.set_placement(at, align=TextEntityAlignment.LEFT)

    def on_board(self, paper_mm: float) -> float:
        """Drawing units of a length on paper at the drawing's scale."""
        return paper_mm / 1000.0 * SCALE / self.unit_m

    def _attributes(self, layer: Layer, name: str, symbol: Symbol, plan: int) -> dict[str, Any]:
        look = layer.look
        if name in look.quiet and plan == 1:
            return {"layer": f"{layer.name}_{name}"}
        about: dict[str, Any] = {"layer": layer.name if plan == 1 else f"{layer.name}_{plan}"}
        if symbol is not look.symbol:
            about |= {
                "true_color": _colour(symbol.stroke),
                "linetype": self._linetype(symbol),
                "lineweight": _weight(symbol.width_mm),
            }
        return about

    def _shape(self, part: BaseGeometry, symbol: Symbol, about: Mapping[str, Any]) -> None:
        xyz = self._xyz(part)
        if part.geom_type == "Point":
            self.space.add_point(xyz[0], dxfattribs=about)
            if symbol.marker == "triangle":
                self._line(_triangle(xyz[0], self.on_board(symbol.size_mm)), about, closed=True)
        elif isinstance(part, Polygon):
            rings = [self._xyz(ring)[:-1] for ring in (part.exterior, *part.interiors)]
            if symbol.fill:
                self._hatch(rings, symbol, about)
            if symbol.width_mm:
                for ring in rings:
                    self._line(ring, about, closed=True)
        else:
            self._line(xyz, about, closed=False)

    def _line(
        self, xyz: list[tuple[float, ...]], about: Mapping[str, Any], *, closed: bool
    ) -> None:
        if len(xyz[0]) == 2:
            self.space.add_lwpolyline(xyz, close=closed, dxfattribs=about)
        else:
            self.space.add_polyline3d(xyz, close=closed, dxfattribs=about)

    def _hatch(
        self, rings: list[list[tuple[float, ...]]], symbol: Symbol, about: Mapping[str, Any]
    ) -> None:
        solid = self._area(rings, symbol.fill, about["layer"])
        solid.transparency = 1.0 - symbol.opacity
        if symbol.hatch:
            every = self.on_board(symbol.hatch_mm)
            lined = self._area(rings, symbol.stroke, about["layer"])
            lined.set_pattern_fill(
                symbol.hatch.upper(), pattern_type=2, definition=_pattern(symbol.hatch, every)
            )

    def _area(self, rings: list[list[tuple[float, ...]]], colour: str, layer: str) -> Any:
        about = {"layer": layer, "lineweight": _HATCH_WEIGHT}
        hatch = self.space.add_hatch(dxfattribs=about)
        hatch.rgb = ezdxf.colors.int2rgb(_colour(colour))
        if len(rings[0][0]) == 3:
            hatch.dxf.elevation = (0.0, 0.0, rings[0][0][2])
        for number, ring in enumerate(rings):
            flags = 1 if number == 0 else 16  # outer boundary, then islands
            hatch.paths.add_polyline_path([p[:2] for p in ring], is_closed=True, flags=flags)
        return hatch

    def _xyz(self, part: BaseGeometry) -> list[tuple[float, ...]]:
        """Positions as in the layer; levels are brought from metres to the drawing's unit."""
        xyz = get_coordinates(part, include_z=part.has_z)
        if part.has_z:
            xyz[:, 2] /= self.unit_m
        return list(map(tuple, xyz.tolist()))

    def _linetype(self, symbol: Symbol) -> str:
        """Give the dashes of a symbol at the drawing's scale, made once."""
        if not symbol.dash_mm:
            return "Continuous"
        if symbol.dash_mm not in self._dashes:
            name = f"DASH_{len(self._dashes) + 1}"
            # A pattern begins with its whole length; gaps are negative.
            parts = [
                self.on_board(part) * (1 if number % 2 == 0 else -1)
                for number, part in enumerate(symbol.dash_mm)
            ]
            pattern = [sum(abs(part) for part in parts), *parts]
            told = "-".join(map(str, symbol.dash_mm))
            self.drawing.linetypes.add(name, pattern, description=told)
            self._dashes[symbol.dash_mm] = name
        return self._dashes[symbol.dash_mm]


def plain(words: str) -> str:
    """Leave out what would end a line of the file or begin a code: names come from strangers."""
    return "".join(mark for mark in words if mark.isprintable()).replace("%%", "% %")


def _words(layer: Layer, row: _Row) -> str:
    """Give a feature's label; empty where its value is unknown."""
    look, told = layer.look, row[layer.look.label]
    if told is None or (isinstance(told, float) and not math.isfinite(told)):
        return ""
    unit = next(f.unit for f in layer.fields if f.name == look.label)
    number = f"{told:.2f}" if isinstance(told, float) else str(told)
    also = str(row[look.label_also]).replace("_", " ") if look.label_also else ""
    parts = (look.label_before, number, "" if unit == "-" else unit, also)
    return plain(" ".join(part for part in parts if part))


def _triangle(xyz: tuple[float, ...], size: float) -> list[tuple[float, ...]]:
    """Corners of a triangle round a point, on its level."""
    turns = (math.radians(turn) for turn in (90.0, 210.0, 330.0))
    half, (x, y, *z) = 0.5 * size, xyz
    return [(x + half * math.cos(turn), y + half * math.sin(turn), *z) for turn in turns]


def _pattern(hatch: Hatch, every: float) -> list[Any]:
    """Lines of a hatch: angle, base, step to the next line, dashes."""
    lines = []
    for angle in _ANGLES[hatch]:
        turn = math.radians(angle)
        step = (-every * math.sin(turn), every * math.cos(turn))
        lines.append([angle, (0.0, 0.0), step, [0.0, -every] if hatch == "dots" else []])
    return lines


def _colour(told: str) -> int:
    return int(told.removeprefix("#"), 16)


def _weight(width_mm: float) -> int:
    """Give the nearest line weight that the format has, in hundredths of a millimetre."""
    return min(_WIDTHS, key=lambda weight: abs(weight - 100.0 * width_mm))
