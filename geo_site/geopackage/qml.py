"""A look as a QML document: the style format that clients read from a GeoPackage.

In: a layer. Out: symbols (casing below its line, hatch above its fill,
outline above both, each drawn for all features before the next), labels, scale range, names of the
columns. An area's opacity is given to the layer as a whole, so that pieces that overlap do not
darken each other. Reference: none published; the elements are those that clients write.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from xml.etree.ElementTree import Element, SubElement, tostring

from geo_site.layers import Layer, LayerField, Symbol
from geo_site.layers.fields import ALTERNATIVE, has_alternatives
from geo_site.layers.symbols import Hatch

__all__ = ["as_qml"]

_DOCTYPE = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
_SHAPES = {"Point": ("marker", "0"), "Line": ("line", "1"), "Poly": ("fill", "2")}
_PLACEMENTS = {"marker": "0", "line": "2", "fill": "1"}
_MARKERS = {"cross": "cross2"}
_ANGLES: Mapping[Hatch, tuple[int, ...]] = {
    "slash": (45,),
    "backslash": (135,),
    "cross": (45, 135),
    "grid": (0, 90),
    "level": (0,),
    "upright": (90,),
}
_CASING_MM = 0.3
_HATCH_MM = 0.15
_DOT_MM = 0.4
_LEAST_OPACITY = 0.8
_OTHERS_PERCENT = 25
_SUFFIXES = frozenset({"m", "m2", "m3", "ms", "m3s", "deg"})
"""Units at the end of a field's name: an alias has its unit in brackets instead."""


def as_qml(layer: Layer) -> str:
    """Write a layer's look as QML.

    Parameters
    ----------
    layer : Layer
        With its look.

    Returns
    -------
    str
        A whole document with symbols and labels, nothing else.
    """
    look = layer.look
    shape, code = _shape(layer)
    root = Element(
        "qgis",
        version="3.22.0",
        styleCategories="Symbology|Labeling|Rendering|Fields",
        labelsEnabled="1" if look.label else "0",
        hasScaleBasedVisibilityFlag="1" if look.drawn_to else "0",
        minScale=f"{look.drawn_to or 1e8:g}",
        maxScale="0",
    )
    kind = "categorizedSymbol" if look.by else "singleSymbol"
    renderer = SubElement(
        root, "renderer-v2", type=kind, symbollevels="1", enableorderby="0", forceraster="0"
    )
    symbols = [look.symbol]
    if look.by:
        renderer.set("attr", look.by)
        symbols = [symbol for _, symbol in look.classes]
        _categories(renderer, layer)
    drawn = SubElement(renderer, "symbols")
    for number, symbol in enumerate(symbols):
        _symbol(drawn, str(number), shape, symbol, several=has_alternatives(layer))
    SubElement(renderer, "rotation")
    SubElement(renderer, "sizescale")
    if look.label:
        _labels(root, layer, shape)
    SubElement(root, "layerOpacity").text = f"{_see_through(look.symbol):g}"
    _aliases(root, layer)
    SubElement(root, "layerGeometryType").text = code
    return _DOCTYPE + tostring(root, encoding="unicode")


def _shape(layer: Layer) -> tuple[str, str]:
    name = layer.geometry.removeprefix("Multi")
    return next(shape for start, shape in _SHAPES.items() if name.startswith(start))


def _field(layer: Layer, name: str) -> LayerField:
    return next(field for field in layer.fields if field.name == name)


def _categories(renderer: Element, layer: Layer) -> None:
    categories = SubElement(renderer, "categories")
    told = "bool" if _field(layer, layer.look.by).type == "truth" else "string"
    for number, (value, _) in enumerate(layer.look.classes):
        SubElement(
            categories,
            "category",
            symbol=str(number),
            value=value,
            label=value.replace("_", " "),
            render="false" if value in layer.look.quiet else "true",
            type=told,
        )


def _symbol(parent: Element, name: str, shape: str, symbol: Symbol, *, several: bool) -> None:
    made = _empty_symbol(parent, name, shape)
    if several:
        _dim_others(made)
    if shape == "marker":
        _part(made, "SimpleMarker", _marker(symbol))
    elif shape == "line":
        if symbol.casing:
            _part(made, "SimpleLine", _line(_casing(symbol)))
        _part(made, "SimpleLine", _line(symbol), level=1)
    else:
        _area(made, symbol)


def _area(made: Element, symbol: Symbol) -> None:
    if symbol.fill:
        _part(made, "SimpleFill", _fill(symbol))
    if symbol.hatch == "dots":
        dots = _part(made, "PointPatternFill", _every(symbol), level=1)
        dot = Symbol(fill=symbol.stroke, width_mm=0.0, marker="circle", size_mm=_DOT_MM)
        _part(_empty_symbol(dots, "@hatch", "marker"), "SimpleMarker", _marker(dot))
    for angle in _ANGLES.get(symbol.hatch, ()):
        lines = _part(made, "LinePatternFill", _every(symbol) | {"angle": str(angle)}, level=1)
        stroke = Symbol(stroke=symbol.stroke, width_mm=_HATCH_MM)
        _part(_empty_symbol(lines, "@hatch", "line"), "SimpleLine", _line(stroke))
    if symbol.width_mm:
        _part(made, "SimpleLine", _line(symbol), level=2)


def _dim_others(symbol: Element) -> None:
    """Fade what belongs to the plan of another place: the plan proposed is the one to build."""
    chosen = f'CASE WHEN "{ALTERNATIVE}" > 1 THEN {_OTHERS_PERCENT} ELSE 100 END'
    options = SubElement(SubElement(symbol, "data_defined_properties"), "Option", type="Map")
    SubElement(options, "Option", name="name", type="QString", value="")
    properties = SubElement(options, "Option", name="properties", type="Map")
    alpha = SubElement(properties, "Option", name="alpha", type="Map")
    SubElement(alpha, "Option", name="active", type="bool", value="true")
    SubElement(alpha, "Option", name="expression", type="QString", value=chosen)
    SubElement(alpha, "Option", name="type", type="int", value="3")  # 3: an expression
    SubElement(options, "Option", name="type", type="QString", value="collection")


def _empty_symbol(parent: Element, name: str, shape: str) -> Element:
    return SubElement(
        parent, "symbol", type=shape, name=name, alpha="1", clip_to_extent="1", force_rhr="0"
    )


def _part(symbol: Element, kind: str, settings: Mapping[str, str], level: int = 0) -> Element:
    """Add a part to a symbol; a level is drawn for all features before the next one."""
    about = {"class": kind, "enabled": "1", "locked": "0", "pass": str(level)}
    part = SubElement(symbol, "layer", about)
    options = SubElement(part, "Option", type="Map")
    for key, value in settings.items():
        SubElement(options, "Option", type="QString", name=key, value=value)
    for key, value in settings.items():  # clients before 3.20 read these instead
        SubElement(part, "prop", k=key, v=value)
    return part


def _casing(symbol: Symbol) -> Symbol:
    return replace(symbol, stroke=symbol.casing, width_mm=symbol.width_mm + _CASING_MM)


def _every(symbol: Symbol) -> dict[str, str]:
    """Give the distances of a hatch; it is laid out from the map's corner, not the feature's."""
    every = f"{symbol.hatch_mm:g}"
    return {
        "distance": every,
        "distance_unit": "MM",
        "distance_x": every,
        "distance_x_unit": "MM",
        "distance_y": every,
        "distance_y_unit": "MM",
        "coordinate_reference": "viewport",
    }


def _see_through(symbol: Symbol) -> float:
    """Opacity of a whole layer, outlines and hatches with it: they must stay plain to see."""
    return max(symbol.opacity, _LEAST_OPACITY) if symbol.fill and not symbol.marker else 1.0


def _marker(symbol: Symbol) -> Mapping[str, str]:
    return {
        "name": _MARKERS.get(symbol.marker, symbol.marker or "circle"),
        "color": _rgba(symbol.fill or "#ffffff", symbol.opacity),
        "outline_color": _rgba(symbol.stroke),
        "outline_style": "solid" if symbol.width_mm else "no",
        "outline_width": f"{symbol.width_mm:g}",
        "outline_width_unit": "MM",
        "size": f"{symbol.size_mm:g}",
        "size_unit": "MM",
    }


def _line(symbol: Symbol) -> Mapping[str, str]:
    return {
        "line_color": _rgba(symbol.stroke),
        "line_style": "solid",
        "line_width": f"{symbol.width_mm:g}",
        "line_width_unit": "MM",
        "capstyle": "flat",
        "joinstyle": "round",
        "use_custom_dash": "1" if symbol.dash_mm else "0",
        "customdash": ";".join(f"{part:g}" for part in symbol.dash_mm) or "5;2",
        "customdash_unit": "MM",
    }


def _fill(symbol: Symbol) -> Mapping[str, str]:
    """Give a fill that looks on white paper as the symbol asks, once the layer is seen through."""
    white, part = 255, symbol.opacity / _see_through(symbol)
    red, green, blue = (int(symbol.fill[i : i + 2], 16) for i in (1, 3, 5))
    paled = (round(white + part * (value - white)) for value in (red, green, blue))
    return {
        "color": ",".join(map(str, [*paled, 255])),
        "style": "solid",
        "outline_style": "no",
    }


def _labels(root: Element, layer: Layer, shape: str) -> None:
    look = layer.look
    settings = SubElement(SubElement(root, "labeling", type="simple"), "settings")
    style = SubElement(
        settings,
        "text-style",
        fieldName=_words(layer),
        isExpression="1",
        fontSize="8",
        fontSizeUnit="Point",
        textColor="32,32,32,255",
        textOpacity="1",
    )
    SubElement(
        style,
        "text-buffer",
        bufferDraw="1",
        bufferSize="0.7",
        bufferSizeUnits="MM",
        bufferColor="255,255,255,255",
        bufferOpacity="1",
    )
    SubElement(
        settings,
        "placement",
        placement=_PLACEMENTS[shape],
        placementFlags="10",
        dist="0.5",
        priority=str(look.priority),
    )
    SubElement(
        settings,
        "rendering",
        scaleVisibility="1",
        scaleMin="0",
        scaleMax=f"{look.labels_to:g}",
        obstacle="1",
        drawLabels="1",
    )


def _words(layer: Layer) -> str:
    """Give the expression of a label; it is NULL, and not written, for what is kept back."""
    look = layer.look
    field = _field(layer, look.label)
    unit = f" || ' {field.unit}'" if field.unit not in {"", "-"} else ""
    named = f'"{look.label}"'
    told = f"format_number({named}, 2){unit}" if field.type == "real" else named
    before = f"'{look.label_before} ' || " if look.label_before else ""
    also = f" || ' ' || replace(\"{look.label_also}\", '_', ' ')" if look.label_also else ""
    words = f"{before}{told}{also}"
    wanted = [f"\"{look.by}\" <> '{name}'" for name in look.quiet]
    if has_alternatives(layer):
        wanted.append(f'"{ALTERNATIVE}" = 1')
    return f"CASE WHEN {' AND '.join(wanted)} THEN {words} END" if wanted else words


def _aliases(root: Element, layer: Layer) -> None:
    """Names with units for clients that do not read the field titles of the file's own tables."""
    aliases = SubElement(root, "aliases")
    for field in layer.fields:
        unit = f" ({field.unit})" if field.unit not in {"", "-"} else ""
        base, _, suffix = field.name.rpartition("_")
        told = (base if unit and suffix in _SUFFIXES else field.name).replace("_", " ")
        SubElement(aliases, "alias", field=field.name, name=f"{told}{unit}")


def _rgba(colour: str, opacity: float = 1.0) -> str:
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"{red},{green},{blue},{round(255 * opacity)}"
