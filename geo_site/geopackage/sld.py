"""A look as a Styled Layer Descriptor 1.1 with Symbology Encoding 1.1 (OGC 05-078r4, 05-077r4).

Sizes are in the standard's own pixel of 0.28 mm, the only unit that stands for paper.
"""

from __future__ import annotations

from xml.etree.ElementTree import Element, SubElement, register_namespace, tostring

from geo_site.layers import Layer, Symbol

__all__ = ["as_sld"]

_SLD = "http://www.opengis.net/sld"
_SE = "http://www.opengis.net/se"
_OGC = "http://www.opengis.net/ogc"
_PIXEL_MM = 0.28

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
    rules = _se(style, "FeatureTypeStyle")
    for value, symbol in layer.look.classes:
        rule = _rule(rules, value, value.replace("_", " "))
        _where(rule, layer.look.by, value)
        _symbolizer(rule, layer, symbol)
    if not layer.look.classes:
        _symbolizer(_rule(rules, layer.name, layer.title), layer, layer.look.symbol)
    if layer.look.label:
        _labels(_rule(rules, "label", f"label: {layer.look.label}"), layer)
    text = tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _se(parent: Element, name: str) -> Element:
    return SubElement(parent, f"{{{_SE}}}{name}")


def _rule(parent: Element, name: str, title: str) -> Element:
    rule = _se(parent, "Rule")
    _se(rule, "Name").text = name
    _se(_se(rule, "Description"), "Title").text = title
    return rule


def _where(rule: Element, field: str, value: str) -> None:
    chosen = SubElement(rule, f"{{{_OGC}}}Filter")
    equal = SubElement(chosen, f"{{{_OGC}}}PropertyIsEqualTo")
    SubElement(equal, f"{{{_OGC}}}PropertyName").text = field
    SubElement(equal, f"{{{_OGC}}}Literal").text = value


def _symbolizer(rule: Element, layer: Layer, symbol: Symbol) -> None:
    name = layer.geometry.removeprefix("Multi")
    if name.startswith("Point"):
        graphic = _se(_se(rule, "PointSymbolizer"), "Graphic")
        mark = _se(graphic, "Mark")
        _se(mark, "WellKnownName").text = symbol.marker or "circle"
        _fill(mark, symbol)
        _stroke(mark, symbol)
        _se(graphic, "Size").text = _pixels(symbol.size_mm)
    elif name.startswith("Line"):
        _stroke(_se(rule, "LineSymbolizer"), symbol)
    else:
        area = _se(rule, "PolygonSymbolizer")
        _fill(area, symbol)
        _stroke(area, symbol)


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
    value = SubElement(_se(text, "Label"), f"{{{_OGC}}}PropertyName")
    value.text = layer.look.label
    unit = next(field.unit for field in layer.fields if field.name == layer.look.label)
    value.tail = f" {unit}" if unit not in {"", "-"} else None
    font = _se(text, "Font")
    _svg(font, "font-family", "sans-serif")
    _svg(font, "font-size", "10")
    halo = _se(text, "Halo")
    _se(halo, "Radius").text = "2"
    _svg(_se(halo, "Fill"), "fill", "#ffffff")
    _svg(_se(text, "Fill"), "fill", "#202020")


def _svg(parent: Element, name: str, value: str) -> None:
    parameter = _se(parent, "SvgParameter")
    parameter.set("name", name)
    parameter.text = value


def _pixels(length_mm: float) -> str:
    return f"{length_mm / _PIXEL_MM:.3g}"
