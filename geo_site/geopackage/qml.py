"""A look as a QML document: the style format that clients read from a GeoPackage."""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree.ElementTree import Element, SubElement, tostring

from geo_site.layers import Layer, LayerField, Symbol

__all__ = ["as_qml"]

_DOCTYPE = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
_SHAPES = {"Point": ("marker", "0"), "Line": ("line", "1"), "Poly": ("fill", "2")}
_PLACEMENTS = {"marker": "0", "line": "2", "fill": "1"}


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
        styleCategories="Symbology|Labeling",
        labelsEnabled="1" if look.label else "0",
    )
    kind = "categorizedSymbol" if look.by else "singleSymbol"
    renderer = SubElement(
        root, "renderer-v2", type=kind, symbollevels="0", enableorderby="0", forceraster="0"
    )
    symbols = [look.symbol]
    if look.by:
        renderer.set("attr", look.by)
        symbols = [symbol for _, symbol in look.classes]
        _categories(renderer, layer)
    drawn = SubElement(renderer, "symbols")
    for number, symbol in enumerate(symbols):
        _symbol(drawn, str(number), shape, symbol)
    SubElement(renderer, "rotation")
    SubElement(renderer, "sizescale")
    if look.label:
        _labels(root, layer, shape)
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
            render="true",
            type=told,
        )


def _symbol(parent: Element, name: str, shape: str, symbol: Symbol) -> None:
    made = SubElement(
        parent, "symbol", type=shape, name=name, alpha="1", clip_to_extent="1", force_rhr="0"
    )
    kinds = {"marker": "SimpleMarker", "line": "SimpleLine", "fill": "SimpleFill"}
    part = SubElement(made, "layer", {"class": kinds[shape], "enabled": "1", "locked": "0"})
    part.set("pass", "0")
    settings = {"marker": _marker, "line": _line, "fill": _fill}[shape](symbol)
    options = SubElement(part, "Option", type="Map")
    for key, value in settings.items():
        SubElement(options, "Option", type="QString", name=key, value=value)
    for key, value in settings.items():  # clients before 3.20 read these instead
        SubElement(part, "prop", k=key, v=value)


def _marker(symbol: Symbol) -> Mapping[str, str]:
    return {
        "name": symbol.marker or "circle",
        "color": _rgba(symbol.fill or "#ffffff", symbol.opacity),
        "outline_color": _rgba(symbol.stroke),
        "outline_style": "solid",
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
    outline = "no" if symbol.width_mm == 0.0 else "dash" if symbol.dash_mm else "solid"
    return {
        "color": _rgba(symbol.fill or "#ffffff", symbol.opacity if symbol.fill else 0.0),
        "style": "solid" if symbol.fill else "no",
        "outline_color": _rgba(symbol.stroke),
        "outline_style": outline,
        "outline_width": f"{symbol.width_mm:g}",
        "outline_width_unit": "MM",
        "joinstyle": "round",
    }


def _labels(root: Element, layer: Layer, shape: str) -> None:
    name = layer.look.label
    field = _field(layer, name)
    is_real = field.type == "real"
    unit = f" || ' {field.unit}'" if field.unit not in {"", "-"} else ""
    settings = SubElement(SubElement(root, "labeling", type="simple"), "settings")
    style = SubElement(
        settings,
        "text-style",
        fieldName=f'format_number("{name}", 2){unit}' if is_real else name,
        isExpression="1" if is_real else "0",
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
    SubElement(settings, "placement", placement=_PLACEMENTS[shape], placementFlags="10", dist="0.5")


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
