"""Elements that both documents are made of.

In: words, positions. Out: elements. Method: words become plain text: what XML cannot hold is left
out, and what a viewer would take for markup in a description is escaped once more. Reference: OGC
KML 2.2 (07-147r2), 9.1.3.10: a description may be shown as HTML.
"""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.units import System, format_length

__all__ = [
    "accuracy_words",
    "add_part",
    "add_text",
    "clean",
    "described",
    "new_document",
    "positions",
    "save",
]

_KML = "http://www.opengis.net/kml/2.2"


def new_document(name: str) -> tuple[ET.Element, ET.Element]:
    """Give a root and its document, named."""
    root = ET.Element("kml", {"xmlns": _KML})
    document = ET.SubElement(root, "Document")
    add_text(document, "name", clean(name))
    return root, document


def save(root: ET.Element, path: str | Path) -> Path:
    """Write a document; give its path."""
    target = Path(path)
    ET.indent(root, " ")
    ET.ElementTree(root).write(target, encoding="utf-8", xml_declaration=True)
    return target


def add_text(parent: ET.Element, tag: str, words: str) -> None:
    """Add an element that holds words."""
    ET.SubElement(parent, tag).text = words


def clean(words: str) -> str:
    """Leave out what XML cannot hold: names come from strangers."""
    return "".join(mark for mark in words if mark.isprintable())


def described(lines: Sequence[str]) -> str:
    """Give lines as a description: plain text, whatever the viewer makes of it."""
    return "\n".join(html.escape(clean(line), quote=False) for line in lines)


def accuracy_words(known_m: float, system: System) -> str:
    """Say how far latitude and longitude may be off."""
    if math.isnan(known_m):
        return "Latitude and longitude (WGS 84) are off by an amount that is not known."
    if known_m > 0.0:
        return (
            f"Latitude and longitude (WGS 84) may be off by {format_length(known_m, system)} from "
            "the shift of datum"
        )
    return "Latitude and longitude are on WGS 84."


def add_part(parent: ET.Element, part: BaseGeometry) -> None:
    """Add a geometry of one part; its coordinates are longitude and latitude."""
    if isinstance(part, Polygon):
        shape = ET.SubElement(parent, "Polygon")
        _ring(shape, "outerBoundaryIs", part.exterior)
        for hole in part.interiors:
            _ring(shape, "innerBoundaryIs", hole)
    else:
        named = "Point" if isinstance(part, Point) else "LineString"
        _coordinates(ET.SubElement(parent, named), part)


def positions(lon_lat: NDArray[np.float64]) -> Sequence[str]:
    """Write positions, to a millimetre."""
    return [f"{lon:.8f},{lat:.8f}" for lon, lat in lon_lat]


def _ring(parent: ET.Element, tag: str, ring: LineString) -> None:
    _coordinates(ET.SubElement(ET.SubElement(parent, tag), "LinearRing"), ring)


def _coordinates(parent: ET.Element, part: BaseGeometry) -> None:
    add_text(parent, "coordinates", " ".join(positions(np.asarray(part.coords)[:, :2])))
