"""A look as a Styled Layer Descriptor 1.1 with Symbology Encoding 1.1 (OGC 05-078r4, 05-077r4).

Sizes are in the standard's own pixel of 0.28 mm, the only unit that stands for paper. The standard
names no hatch: a lattice of one of its marks stands for each. It has no switch for what is off at
first either: quiet classes are drawn nearer than 1:100. Of several plans, the one proposed is
drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from xml.etree.ElementTree import Element, SubElement, register_namespace, tostring

from geo_site.layers import Layer, LayerField, Symbol
from geo_site.layers.fields import ALTERNATIVE, has_alternatives
from geo_site.layers.symbols import Hatch

__all__ = ["as_sld"]

_SLD = "http://www.opengis.net/sld"
_SE = "http://www.opengis.net/se"
_OGC = "http://www.opengis.net/ogc"
_PIXEL_MM = 0.28
_CASING_MM = 0.3
_QUIET_TO = 100.0
_MARKS = {"cross": "x"}
_LATTICE: Mapping[Hatch, tuple[str, int]] = {  # mark, turn in degrees
    "slash": ("star", 0),
    "backslash": ("x", 0),
    "cross": ("cross", 0),
    "grid": ("square", 0),
    "level": ("triangle", 180),
    "upright": ("triangle", 0),
    "dots": ("circle", 0),
}
_OPERATORS = {"is": "PropertyIsEqualTo", "is not": "PropertyIsNotEqualTo"}

register_namespace("sld", _SLD)
register_namespace("se", _SE)
register_namespace("ogc", _OGC)


def as_sld(layer: Layer) -> str:
    """Write a layer's look as SLD.

    Parameters
    ----------
    layer : Layer
        With its look.

    Returns
    -------
    str
        A whole document.
    """
    root = Element(f"{{{_SLD}}}StyledLayerDescriptor", version="1.1.0")
    named = SubElement(root, f"{{{_SLD}}}NamedLayer")
    _se(named, "Name").text = layer.name
    style = SubElement(named, f"{{{_SLD}}}UserStyle")
    _se(style, "Name").text = layer.name
    described = _se(style, "Description")
    _se(described, "Title").text = layer.title
    _se(described, "Abstract").text = layer.meaning
    SubElement(style, f"{{{_SLD}}}IsDefault").text = "1"
    _rules(_se(style, "FeatureTypeStyle"), layer)
    text = tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _rules(style: Element, layer: Layer) -> None:
    look = layer.look
    for value, symbol in look.classes:
        rule = _rule(style, value, value.replace("_", " "))
        if value == "false":  # some readers cannot compare a truth: what they miss is still drawn
            _se(rule, "ElseFilter")
        else:
            _where(rule, layer, [(look.by, "is", value)])
        _drawn_to(rule, _QUIET_TO if value in look.quiet else look.drawn_to)
        _symbolizer(rule, layer, symbol)
    if not look.classes:
        rule = _rule(style, layer.name, layer.title)
        _where(rule, layer, [])
        _drawn_to(rule, look.drawn_to)
        _symbolizer(rule, layer, look.symbol)
    if look.label:
        rule = _rule(style, "label", f"label: {look.label}")
        _where(rule, layer, [(look.by, "is not", value) for value in look.quiet])
        _drawn_to(rule, look.labels_to)
        _labels(rule, layer)


def _se(parent: Element, name: str) -> Element:
    return SubElement(parent, f"{{{_SE}}}{name}")


def _rule(parent: Element, name: str, title: str) -> Element:
    rule = _se(parent, "Rule")
    _se(rule, "Name").text = name
    _se(_se(rule, "Description"), "Title").text = title
    return rule


def _where(rule: Element, layer: Layer, wanted: list[tuple[str, str, str]]) -> None:
    """Draw what answers to all conditions; of several plans, the one proposed."""
    if has_alternatives(layer):
        wanted = [*wanted, (ALTERNATIVE, "is", "1")]
    if not wanted:
        return
    chosen = SubElement(rule, f"{{{_OGC}}}Filter")
    parent = chosen if len(wanted) == 1 else SubElement(chosen, f"{{{_OGC}}}And")
    for field, operator, value in wanted:
        test = SubElement(parent, f"{{{_OGC}}}{_OPERATORS[operator]}")
        SubElement(test, f"{{{_OGC}}}PropertyName").text = field
        SubElement(test, f"{{{_OGC}}}Literal").text = value


def _drawn_to(rule: Element, denominator: float) -> None:
    if denominator:
        _se(rule, "MaxScaleDenominator").text = f"{denominator:g}"


def _symbolizer(rule: Element, layer: Layer, symbol: Symbol) -> None:
    name = layer.geometry.removeprefix("Multi")
    if name.startswith("Point"):
        _graphic(_se(rule, "PointSymbolizer"), _MARKS.get(symbol.marker, symbol.marker), symbol)
    elif name.startswith("Line"):
        if symbol.casing:
            width_mm = symbol.width_mm + _CASING_MM
            _stroke(
                _se(rule, "LineSymbolizer"),
                replace(symbol, stroke=symbol.casing, width_mm=width_mm),
            )
        _stroke(_se(rule, "LineSymbolizer"), symbol)
    else:
        if symbol.fill:
            _fill(_se(rule, "PolygonSymbolizer"), symbol)
        if symbol.hatch:
            lattice = _se(_se(_se(rule, "PolygonSymbolizer"), "Fill"), "GraphicFill")
            mark = replace(symbol, fill="", width_mm=0.2, dash_mm=(), size_mm=symbol.hatch_mm)
            name, turn = _LATTICE[symbol.hatch]
            graphic = _graphic(lattice, name, mark)
            if turn:
                _se(graphic, "Rotation").text = str(turn)
        if symbol.width_mm:
            _stroke(_se(rule, "PolygonSymbolizer"), symbol)


def _graphic(parent: Element, name: str, symbol: Symbol) -> Element:
    graphic = _se(parent, "Graphic")
    mark = _se(graphic, "Mark")
    _se(mark, "WellKnownName").text = name or "circle"
    _fill(mark, symbol)
    _stroke(mark, symbol)
    _se(graphic, "Size").text = _pixels(symbol.size_mm)
    return graphic


def _fill(parent: Element, symbol: Symbol) -> None:
    if symbol.fill:
        fill = _se(parent, "Fill")
        _svg(fill, "fill", symbol.fill)
        _svg(fill, "fill-opacity", f"{symbol.opacity:g}")


def _stroke(parent: Element, symbol: Symbol) -> None:
    if symbol.width_mm == 0.0:
        return
    stroke = _se(parent, "Stroke")
    _svg(stroke, "stroke", symbol.stroke)
    _svg(stroke, "stroke-width", _pixels(symbol.width_mm))
    if symbol.dash_mm:
        _svg(stroke, "stroke-linecap", "butt")
        _svg(stroke, "stroke-dasharray", " ".join(_pixels(part) for part in symbol.dash_mm))


def _labels(rule: Element, layer: Layer) -> None:
    text = _se(rule, "TextSymbolizer")
    _words(_se(text, "Label"), layer)
    font = _se(text, "Font")
    _svg(font, "font-family", "sans-serif")
    _svg(font, "font-size", "10")
    placement = _se(text, "LabelPlacement")
    if "Line" in layer.geometry:
        _se(_se(placement, "LinePlacement"), "PerpendicularOffset").text = "6"
    else:
        point = _se(placement, "PointPlacement")
        anchor = _se(point, "AnchorPoint")
        _se(anchor, "AnchorPointX").text = "0" if "Point" in layer.geometry else "0.5"
        _se(anchor, "AnchorPointY").text = "0.5"
        moved = _se(point, "Displacement")
        _se(moved, "DisplacementX").text = "6" if "Point" in layer.geometry else "0"
        _se(moved, "DisplacementY").text = "0"
    halo = _se(text, "Halo")
    _se(halo, "Radius").text = "2"
    _svg(_se(halo, "Fill"), "fill", "#ffffff")
    _svg(_se(text, "Fill"), "fill", "#202020")


def _words(label: Element, layer: Layer) -> None:
    """Write a label's words; numbers have two decimals by the standard's own function."""
    look = layer.look
    field = _field(layer, look.label)
    label.text = f"{look.label_before} " if look.label_before else None
    if field.type == "real":
        told = _se(label, "FormatNumber")
        told.set("fallbackValue", "")
        value = SubElement(_se(told, "NumericValue"), f"{{{_OGC}}}PropertyName")
        _se(told, "Pattern").text = "0.00"
    else:
        told = value = SubElement(label, f"{{{_OGC}}}PropertyName")
    value.text = look.label
    told.tail = f" {field.unit}" if field.unit not in {"", "-"} else None
    if look.label_also:
        told.tail = " "
        SubElement(label, f"{{{_OGC}}}PropertyName").text = look.label_also


def _field(layer: Layer, name: str) -> LayerField:
    return next(field for field in layer.fields if field.name == name)


def _svg(parent: Element, name: str, value: str) -> None:
    parameter = _se(parent, "SvgParameter")
    parameter.set("name", name)
    parameter.text = value


def _pixels(length_mm: float) -> str:
    return f"{length_mm / _PIXEL_MM:.3g}"
