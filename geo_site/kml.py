"""The door to phones and one-call centres: KML.

Question
    Where is the digging, for someone with nothing but a phone or a form to fill in?
In
    A :class:`geo_site.plan.Plan`.
Out
    ``locate_request.kml``: the white-line outline, its corners, and what is asked, in words.
Method
    Positions on WGS 84 with eight decimals of a degree (1 mm); words in the units of the reports.
Reference
    OGC KML 2.3 (12-007r2).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np

from geo_site.cautions import NOT_A_LOCATE
from geo_site.crs import to_degrees
from geo_site.units import System, format_area, format_length

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry import Polygon

    from geo_site.locate_request import Corner, LocateRequest
    from geo_site.plan import Plan

__all__ = ["corner_words", "request_words", "write_locate_request"]

_KML = "http://www.opengis.net/kml/2.2"
_WHITE, _PINK = "ffffffff", "ffb469ff"  # alpha, blue, green, red
_COMPASS_16 = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip


def write_locate_request(plan: Plan, path: str | Path) -> Path:
    """Write the white-line outline of all digging as KML.

    Parameters
    ----------
    plan : Plan
        With or without a proposal; without one the document says that nothing is dug.
    path : str or Path
        The file.

    Returns
    -------
    Path
        The file.
    """
    root = ET.Element("kml", {"xmlns": _KML})
    document = ET.SubElement(root, "Document")
    _text(document, "name", f"locate request: {_clean(plan.site.name)}")
    request = plan.locate_request
    if request is None:
        _text(document, "description", f"No place was found: nothing is dug. {NOT_A_LOCATE}")
    else:
        words = "\n".join(request_words(request, plan.site.report_units))
        _text(document, "description", f"{words}\n{NOT_A_LOCATE}")
        _style(document, "digging", _WHITE, "4")
        _style(document, "corner", _PINK, "2")
        for part in request.outline.geoms:
            _outline(document, plan, part, words)
        for corner in request.corners:
            _corner(document, corner, plan.site.report_units)
    target = Path(path)
    ET.indent(root, " ")
    ET.ElementTree(root).write(target, encoding="utf-8", xml_declaration=True)
    return target


def request_words(request: LocateRequest, system: System) -> Iterator[str]:
    """Say what a one-call centre asks for.

    Parameters
    ----------
    request : LocateRequest
        What is dug.
    system : {"si", "us"}
        Units.

    Yields
    ------
    str
        Sentences.
    """
    yield f"Work: {_clean(request.kind_of_work)}."
    yield (
        f"Mark everything inside the white outline: {format_area(request.area_m2, system)}, "
        f"{format_length(request.margin_m, system)} or more beyond the digging."
    )
    yield f"Greatest depth of digging: {format_length(request.greatest_depth_m, system)}."
    if request.street_side:
        yield f"The machine enters over the lot's {request.street_side}."
    else:
        yield "Where the machine enters is not stated."
    if request.as_of is not None:
        yield f"Planned on {request.as_of.isoformat()}."
    known = request.accuracy_m
    yield (
        "Latitude and longitude (WGS 84) are off by an amount that is not known."
        if math.isnan(known)
        else f"Latitude and longitude (WGS 84) may be off by {format_length(known, system)} "
        "from the shift of datum; the distances from the lot's corners are not."
        if known > 0.0
        else "Latitude and longitude are on WGS 84."
    )


def corner_words(corner: Corner, system: System) -> str:
    """Say where a corner of the outline is, by tape and compass.

    Parameters
    ----------
    corner : Corner
        Which.
    system : {"si", "us"}
        Units.

    Returns
    -------
    str
        One sentence.
    """
    toward = _COMPASS_16[round(corner.bearing_deg / 22.5) % len(_COMPASS_16)]
    return (
        f"{format_length(corner.from_corner_m, system)} {toward} (grid bearing "
        f"{corner.bearing_deg:.0f} degrees) from the lot's {corner.lot_corner}, "
        f"{format_length(corner.from_side_m, system)} from its {corner.lot_side}"
    )


def _outline(document: ET.Element, plan: Plan, part: Polygon, words: str) -> None:
    mark = ET.SubElement(document, "Placemark")
    _text(mark, "name", "all digging, to be marked in white")
    _text(mark, "description", words)
    _text(mark, "styleUrl", "#digging")
    ring = ET.SubElement(
        ET.SubElement(ET.SubElement(mark, "Polygon"), "outerBoundaryIs"), "LinearRing"
    )
    there = to_degrees(plan.site.crs, np.asarray(part.exterior.coords)[:, :2]).lon_lat
    _text(ring, "coordinates", " ".join(_positions(there)))


def _corner(document: ET.Element, corner: Corner, system: System) -> None:
    mark = ET.SubElement(document, "Placemark")
    _text(mark, "name", f"corner {corner.name}")
    _text(mark, "description", corner_words(corner, system))
    _text(mark, "styleUrl", "#corner")
    there = np.array([[corner.lon_deg, corner.lat_deg]])
    _text(ET.SubElement(mark, "Point"), "coordinates", "".join(_positions(there)))


def _positions(lon_lat: NDArray[np.float64]) -> Sequence[str]:
    return [f"{lon:.8f},{lat:.8f}" for lon, lat in lon_lat]


def _style(document: ET.Element, name: str, colour: str, width: str) -> None:
    style = ET.SubElement(document, "Style", {"id": name})
    line = ET.SubElement(style, "LineStyle")
    _text(line, "color", colour)
    _text(line, "width", width)
    _text(ET.SubElement(style, "PolyStyle"), "fill", "0")


def _text(parent: ET.Element, tag: str, words: str) -> None:
    ET.SubElement(parent, tag).text = words


def _clean(words: str) -> str:
    """Leave out what XML cannot hold: names come from strangers."""
    return "".join(mark for mark in words if mark.isprintable())
