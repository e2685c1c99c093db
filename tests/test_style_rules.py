"""SLD-01, QML: style files held to the rules of their formats.

The schemas of SLD 1.1 and SE 1.1 are not part of this project: no package brings them, and no whole
copy with its notice was at hand. ``CONTENT`` states what they ask of the elements that styles use:
order, number and content (OGC 05-078r4, 05-077r4 and 04-095, XML schemas 1.1.0, transcription; head
of a symbolizer and filter operators from memory), and each file is read against it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree as ET

import pytest

from geo_site.geopackage.qml import as_qml
from geo_site.geopackage.sld import as_sld
from geo_site.layers import LAYERS, Layer
from geo_site.layers.fields import has_alternatives

SPACES = {
    "http://www.opengis.net/sld": "sld",
    "http://www.opengis.net/se": "se",
    "http://www.opengis.net/ogc": "ogc",
}
SYMBOLIZER = "(LineSymbolizer |PointSymbolizer |PolygonSymbolizer |TextSymbolizer )"
CONTENT = {  # names of children, each followed by a space; a pattern
    "sld:StyledLayerDescriptor": "(Name )?(Description )?(UseSLDLibrary )*"
    "(NamedLayer |UserLayer )*",
    "sld:NamedLayer": "Name (Description )?(LayerFeatureConstraints )?(NamedStyle |UserStyle )*",
    "sld:UserStyle": "(Name )?(Description )?(IsDefault )?(FeatureTypeStyle |OnlineResource )+",
    "se:Description": "(Title )?(Abstract )?",
    "se:FeatureTypeStyle": "(Name )?(Description )?(FeatureTypeName )?(SemanticTypeIdentifier )*"
    "(Rule |OnlineResource )+",
    "se:Rule": "(Name )?(Description )?(LegendGraphic )?(Filter |ElseFilter )?"
    f"(MinScaleDenominator )?(MaxScaleDenominator )?{SYMBOLIZER}+",
    "se:ElseFilter": "",
    "se:LineSymbolizer": "(Name )?(Description )?(BaseSymbolizer )?(Geometry )?(Stroke )?"
    "(PerpendicularOffset )?",
    "se:PolygonSymbolizer": "(Name )?(Description )?(BaseSymbolizer )?(Geometry )?(Fill )?"
    "(Stroke )?(Displacement )?(PerpendicularOffset )?",
    "se:PointSymbolizer": "(Name )?(Description )?(BaseSymbolizer )?(Geometry )?(Graphic )?",
    "se:TextSymbolizer": "(Name )?(Description )?(BaseSymbolizer )?(Geometry )?(Label )?(Font )?"
    "(LabelPlacement )?(Halo )?(Fill )?",
    "se:Graphic": "(ExternalGraphic |Mark )*(Opacity )?(Size )?(Rotation )?(AnchorPoint )?"
    "(Displacement )?",
    "se:Mark": "(WellKnownName )?(Fill )?(Stroke )?",
    "se:Fill": "(GraphicFill )?(SvgParameter )*",
    "se:GraphicFill": "Graphic ",
    "se:Stroke": "(GraphicFill |GraphicStroke )?(SvgParameter )*",
    "se:Font": "(SvgParameter )*",
    "se:Halo": "(Radius )?(Fill )?",
    "se:Label": "(PropertyName |Literal |FormatNumber )*",
    "se:FormatNumber": "NumericValue Pattern (NegativePattern )?",
    "se:NumericValue": "(PropertyName |Literal )*",
    "se:LabelPlacement": "(PointPlacement |LinePlacement )",
    "se:PointPlacement": "(AnchorPoint )?(Displacement )?(Rotation )?",
    "se:LinePlacement": "(PerpendicularOffset )?(IsRepeated )?(InitialGap )?(Gap )?(IsAligned )?"
    "(GeneralizeLine )?",
    "se:AnchorPoint": "AnchorPointX AnchorPointY ",
    "se:Displacement": "DisplacementX DisplacementY ",
    "ogc:Filter": "(And |Or |Not |PropertyIsEqualTo |PropertyIsNotEqualTo )",
    "ogc:And": "(PropertyIsEqualTo |PropertyIsNotEqualTo ){2,}",
    "ogc:PropertyIsEqualTo": "(PropertyName |Literal ){2}",
    "ogc:PropertyIsNotEqualTo": "(PropertyName |Literal ){2}",
}
NUMBER = r"-?\d+(\.\d+)?(e[+-]?\d+)?"
COLOUR = "#[0-9a-f]{6}"
TEXT = {  # what stands in an element without children
    "se:MinScaleDenominator": NUMBER,
    "se:MaxScaleDenominator": NUMBER,
    "se:Size": NUMBER,
    "se:Rotation": NUMBER,
    "se:Radius": NUMBER,
    "se:AnchorPointX": NUMBER,
    "se:AnchorPointY": NUMBER,
    "se:DisplacementX": NUMBER,
    "se:DisplacementY": NUMBER,
    "se:PerpendicularOffset": NUMBER,
    "se:Name": "[^<]+",
    "se:Title": "[^<]+",
    "se:Abstract": "[^<]+",
    "sld:IsDefault": "[01]|true|false",
    "se:WellKnownName": "square|circle|triangle|star|cross|x",
    "ogc:PropertyName": "[a-z][a-z0-9_]*",
    "ogc:Literal": "[a-z0-9_]+",
    "se:Pattern": "[0.]+",
}
PARAMETERS = {
    "fill": COLOUR,
    "stroke": COLOUR,
    "fill-opacity": r"0(\.\d+)?|1",
    "stroke-width": NUMBER,
    "stroke-linecap": "butt|round|square",
    "stroke-dasharray": f"{NUMBER}( {NUMBER})*",
    "font-family": "[a-z-]+",
    "font-size": NUMBER,
}
ATTRIBUTES = {
    "sld:StyledLayerDescriptor": {"version": "1.1.0"},
    "se:FormatNumber": {"fallbackValue": ""},
}


def short(element: ET.Element) -> str:
    space, _, name = element.tag[1:].partition("}")
    return f"{SPACES[space]}:{name}"


def faults(element: ET.Element) -> Iterator[str]:
    """What of a document is not as the schemas ask."""
    name = short(element)
    if element.attrib != ATTRIBUTES.get(name, {}) and name != "se:SvgParameter":
        yield f"{name}: attributes {element.attrib}"
    if name in CONTENT:
        children = "".join(f"{short(child).partition(':')[2]} " for child in element)
        if not re.fullmatch(CONTENT[name], children):
            yield f"{name}: {children}"
        if name != "se:Label" and (element.text or "").strip():
            yield f"{name}: words {element.text}"
    elif name == "se:SvgParameter":
        pattern = PARAMETERS[element.attrib["name"]]
        if set(element.attrib) != {"name"} or not re.fullmatch(pattern, element.text or ""):
            yield f"{name}: {element.attrib} {element.text}"
    elif len(element) or not re.fullmatch(TEXT[name], element.text or ""):
        yield f"{name}: {element.text}"
    for child in element:
        yield from faults(child)


@pytest.mark.parametrize("layer", LAYERS, ids=lambda layer: layer.name)
def test_an_sld_is_as_the_schema_asks(layer: Layer) -> None:
    """SLD-01."""
    root = ET.fromstring(as_sld(layer).encode())
    assert short(root) == "sld:StyledLayerDescriptor"
    assert not list(faults(root))


def test_a_broken_style_would_be_noticed() -> None:
    whole = as_sld(next(layer for layer in LAYERS if layer.name == "utility_lines"))
    for broken in (
        whole.replace("<se:Halo>", "<se:Fill/><se:Halo>"),
        whole.replace('version="1.1.0"', 'version="1.0.0"'),
        whole.replace(">#ffd100<", ">yellow<"),
        whole.replace("<sld:IsDefault>1</sld:IsDefault>", "").replace(
            "</sld:UserStyle>", "<sld:IsDefault>1</sld:IsDefault></sld:UserStyle>"
        ),
        whole.replace("</se:MaxScaleDenominator>", "</se:MaxScaleDenominator><ogc:Filter/>"),
    ):
        assert broken != whole
        assert list(faults(ET.fromstring(broken.encode())))


def rules(layer: Layer) -> dict[str, ET.Element]:
    root = ET.fromstring(as_sld(layer).encode())
    space = {"se": "http://www.opengis.net/se"}
    return {
        rule.findtext("se:Name", "", space): rule for rule in root.iterfind(".//se:Rule", space)
    }


def drawn_to(rule: ET.Element) -> float:
    told = rule.findtext("{http://www.opengis.net/se}MaxScaleDenominator")
    return float(told) if told else 0.0


@pytest.mark.parametrize("layer", LAYERS, ids=lambda layer: layer.name)
def test_both_formats_draw_to_the_same_scale(layer: Layer) -> None:
    look, root = layer.look, ET.fromstring(as_qml(layer))
    for name, rule in rules(layer).items():
        wanted = look.labels_to if name == "label" else look.drawn_to
        assert drawn_to(rule) == (100.0 if name in look.quiet else wanted), name
    assert root.get("hasScaleBasedVisibilityFlag") == str(int(look.drawn_to > 0.0))
    assert not look.drawn_to or float(root.attrib["minScale"]) == look.drawn_to
    rendering = root.find("labeling/settings/rendering")
    assert (rendering is not None) == bool(look.label)
    if rendering is not None:
        assert float(rendering.attrib["scaleMax"]) == look.labels_to


def settings(part: ET.Element) -> dict[str, str]:
    return {o.attrib["name"]: o.attrib["value"] for o in part.findall("Option/Option")}


@pytest.mark.parametrize("layer", LAYERS, ids=lambda layer: layer.name)
def test_a_qml_has_the_parts_that_its_symbols_ask_for(layer: Layer) -> None:
    look = layer.look
    symbols = [symbol for _, symbol in look.classes] or [look.symbol]
    made = ET.fromstring(as_qml(layer)).findall("renderer-v2/symbols/symbol")
    lines = {"": 0, "dots": 1, "cross": 2, "grid": 2}
    for one, symbol in zip(made, symbols, strict=True):
        parts = [(part.get("class", ""), settings(part)) for part in one.findall("layer")]
        levels = [int(part.get("pass", "0")) for part in one.findall("layer")]
        assert levels == sorted(levels)
        hatches = [told for kind, told in parts if kind.endswith("PatternFill")]
        assert len(hatches) == lines.get(symbol.hatch, 1)
        assert all(float(told["distance"]) == symbol.hatch_mm for told in hatches)
        strokes = [told for kind, told in parts if kind == "SimpleLine"]
        assert len(strokes) == (symbol.width_mm > 0.0 and not symbol.marker) + bool(symbol.casing)
        if strokes:
            assert float(strokes[-1]["line_width"]) == symbol.width_mm
            dashes = tuple(map(float, strokes[-1]["customdash"].split(";")))
            assert dashes == (symbol.dash_mm or (5.0, 2.0))


@pytest.mark.parametrize("layer", LAYERS, ids=lambda layer: layer.name)
def test_a_qml_area_has_its_colour_over_white_paper(layer: Layer) -> None:
    """A layer's opacity over a paled fill is the fill at its own opacity, within rounding."""
    symbol, root = layer.look.symbol, ET.fromstring(as_qml(layer))
    fill = root.find("renderer-v2/symbols/symbol/layer[@class='SimpleFill']")
    if fill is None:
        assert "Polygon" not in layer.geometry or not symbol.fill
        return
    through = float(root.findtext("layerOpacity", "1"))
    told = [int(part) for part in settings(fill)["color"].split(",")]
    assert told[3] == 255
    for position, value in zip((1, 3, 5), told[:3], strict=True):
        asked = int(symbol.fill[position : position + 2], 16)
        seen = 255 + through * (value - 255)
        assert seen == pytest.approx(255 + symbol.opacity * (asked - 255), abs=0.5)


@pytest.mark.parametrize("layer", LAYERS, ids=lambda layer: layer.name)
def test_plans_of_other_places_are_not_drawn_like_the_one_proposed(layer: Layer) -> None:
    told = ET.fromstring(as_qml(layer)).findall(".//data_defined_properties")
    symbols = max(len(layer.look.classes), 1)
    assert len(told) == (symbols if has_alternatives(layer) else 0)
    for name, rule in rules(layer).items():
        names = [e.text for e in rule.iter("{http://www.opengis.net/ogc}PropertyName")]
        assert ("alternative" in names) == has_alternatives(layer), name


def test_only_what_is_met_is_kept_back_on_a_screen() -> None:
    layer = next(layer for layer in LAYERS if layer.name == "clearances")
    shown = {
        one.get("value"): one.get("render")
        for one in ET.fromstring(as_qml(layer)).findall("renderer-v2/categories/category")
    }
    assert shown == {"not_met": "true", "hand_dig": "true", "unknown": "true", "met": "false"}
    style = ET.fromstring(as_qml(layer)).find("labeling/settings/text-style")
    assert style is not None
    assert "<> 'met'" in style.attrib["fieldName"]
