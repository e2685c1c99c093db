"""The works and the marked lines on a phone.

In: a plan. Out: ``works.kml``. Method: a folder for each layer that helps someone on the lot, its
features with their fields as sentences, drawn in the colours of the looks; cautions and the
accuracy of the positions stand in the document's description. Reference: OGC KML 2.2 (07-147r2).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import numpy as np
from shapely import force_2d, get_coordinates, get_parts, set_coordinates
from shapely.geometry.base import BaseGeometry

from geo_site.cautions import CAUTIONS
from geo_site.crs import to_degrees
from geo_site.kml.marks import (
    accuracy_words,
    add_part,
    add_text,
    clean,
    described,
    new_document,
    save,
)
from geo_site.layers import LAYERS, Layer, LayerField, Symbol
from geo_site.layers.fields import ALTERNATIVE
from geo_site.units import (
    System,
    format_area,
    format_flow,
    format_length,
    format_velocity,
    format_volume,
)

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["write_works"]

_SHOWN = (
    "parcel",
    "dig_area",
    "utility_lines",
    "hand_dig_ground",
    "basin_excavation",
    "basin",
    "stream_bed",
    "stream_alignment",
    "stream_falls",
    "pipe_run",
    "swale",
    "spoil_pile",
    "silt_fence",
    "machine_route",
    "overflow_path",
)
"""Layers in the order of the list; contours, stakes and distances are for larger screens."""

_FORMATS = {
    "m": format_length,
    "m2": format_area,
    "m3": format_volume,
    "m3/s": format_flow,
    "m/s": format_velocity,
}
_SUFFIXES = frozenset({"m", "m2", "m3", "ms", "m3s", "deg"})
_PIXELS_PER_MM = 4.0
_Row = Mapping[str, Any]


def write_works(plan: Plan, path: str | Path) -> Path:
    """Write works and marked lines as KML.

    Parameters
    ----------
    plan : Plan
        With or without a proposal; without one there are the lot and its lines.
    path : str or Path
        The file.

    Returns
    -------
    Path
        The file.
    """
    root, document = new_document(f"works: {plan.site.name}")
    known = {layer.name: layer for layer in LAYERS}
    rows = [(known[name], row) for name in _SHOWN for row in known[name].rows(plan)]
    rows = [(layer, row) for layer, row in rows if not row["geometry"].is_empty]
    shapes, accuracy_m = _on_wgs84(plan, [row["geometry"] for _, row in rows])
    add_text(document, "description", described(list(_notes(plan, accuracy_m))))
    for layer in (known[name] for name in _SHOWN):
        _styles(document, layer)
    folders: dict[str, ET.Element] = {}
    for (layer, row), shape in zip(rows, shapes, strict=True):
        if layer.name not in folders:
            folders[layer.name] = ET.SubElement(document, "Folder")
            add_text(folders[layer.name], "name", layer.title)
        _placemark(folders[layer.name], layer, row, shape, plan.site.report_units)
    return save(root, path)


def _on_wgs84(plan: Plan, shapes: list[BaseGeometry]) -> tuple[list[BaseGeometry], float]:
    """Move all shapes at once: finding the way takes longer than going it."""
    flat = np.array([force_2d(shape) for shape in shapes], dtype=object)
    there = to_degrees(plan.site.crs, get_coordinates(flat))
    return list(set_coordinates(flat, there.lon_lat)), there.accuracy_m


def _notes(plan: Plan, accuracy_m: float) -> Iterator[str]:
    yield f"A desk study of {plan.site.name}: {plan.status.replace('_', ' ')}."
    told = accuracy_words(accuracy_m, plan.site.report_units)
    yield told if told.endswith(".") else f"{told}."
    yield (
        "A phone's own position is off by metres more: never dig by this map. Measure from the "
        "lot's corners and from the marks on the ground."
    )
    yield f"As of: {plan.site.ticket.as_of or 'no date is given'}."
    for subject, sentence in CAUTIONS:
        yield f"{subject}: {sentence}"


def _styles(document: ET.Element, layer: Layer) -> None:
    for name, symbol in layer.look.classes or (("", layer.look.symbol),):
        style = ET.SubElement(document, "Style", {"id": _style_id(layer, name)})
        if symbol.marker:
            add_text(ET.SubElement(style, "IconStyle"), "color", _colour(symbol.stroke))
        line = ET.SubElement(style, "LineStyle")
        add_text(line, "color", _colour(symbol.stroke))
        add_text(line, "width", f"{_PIXELS_PER_MM * symbol.width_mm:g}")
        _area_style(style, symbol)


def _area_style(style: ET.Element, symbol: Symbol) -> None:
    area = ET.SubElement(style, "PolyStyle")
    if symbol.fill:
        add_text(area, "color", _colour(symbol.fill, symbol.opacity))
    else:
        add_text(area, "fill", "0")


def _placemark(
    folder: ET.Element, layer: Layer, row: _Row, shape: BaseGeometry, system: System
) -> None:
    mark = ET.SubElement(folder, "Placemark")
    name = " ".join(_name(layer, row, system))
    add_text(mark, "name", clean(name))
    add_text(mark, "description", described([layer.meaning, *_facts(layer, row, system)]))
    kind = str(row[layer.look.by]) if layer.look.by else ""
    add_text(mark, "styleUrl", f"#{_style_id(layer, kind)}")
    parts = get_parts(shape)
    parent = mark if len(parts) == 1 else ET.SubElement(mark, "MultiGeometry")
    for part in parts:
        add_part(parent, part)


def _name(layer: Layer, row: _Row, system: System) -> Iterator[str]:
    """Give the words of a label, or the layer's title."""
    look = layer.look
    if not look.label:
        yield layer.title
        return
    field = next(field for field in layer.fields if field.name == look.label)
    if look.label_before:
        yield look.label_before
    elif field.type == "real":  # a bare number says nothing
        yield layer.title
    yield _value(field, row.get(look.label), system)
    if look.label_also:
        yield str(row.get(look.label_also)).replace("_", " ")


def _facts(layer: Layer, row: _Row, system: System) -> Iterator[str]:
    for field in layer.fields:
        if field.name == ALTERNATIVE:
            continue  # the plan proposed is shown alone
        base, _, suffix = field.name.rpartition("_")
        told = (base if suffix in _SUFFIXES and base else field.name).replace("_", " ")
        yield f"{told}: {_value(field, row.get(field.name), system)} ({field.meaning})"


def _value(field: LayerField, value: Any, system: System) -> str:
    """Write a value with its unit; what is not known says so."""
    if value is None or (isinstance(value, float) and math.isnan(value)) or value == "":
        return "unknown"
    if field.unit in _FORMATS:
        return _FORMATS[field.unit](float(value), system)
    if field.type == "real":
        return f"{value:.3g}{'' if field.unit == '-' else f' {field.unit}'}"
    return "yes" if value is True else "no" if value is False else str(value)


def _style_id(layer: Layer, name: str) -> str:
    return f"{layer.name}-{name}" if name else layer.name


def _colour(told: str, opacity: float = 1.0) -> str:
    """Give a colour as the format has it: alpha, blue, green, red."""
    return f"{round(255 * opacity):02x}{told[5:7]}{told[3:5]}{told[1:3]}"
