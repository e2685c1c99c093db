"""The locate request: the white-line outline of all digging, for the one-call centre.

In: a plan. Out: ``locate_request.kml`` and its sentences. Method: the outline and its corners as
they stand in the plan. Reference: OGC KML 2.2 (07-147r2).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np
from shapely.geometry import Point, Polygon

from geo_site.cautions import NOT_A_LOCATE
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
from geo_site.units import System, format_area, format_length

if TYPE_CHECKING:
    from geo_site.locate_request import Corner, LocateRequest
    from geo_site.plan import Plan

__all__ = ["corner_words", "request_words", "write_locate_request"]

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
    root, document = new_document(f"locate request: {plan.site.name}")
    request = plan.locate_request
    if request is None:
        nothing = f"No place was found: nothing is dug. {NOT_A_LOCATE}"
        add_text(document, "description", described([nothing]))
    else:
        words = list(request_words(request, plan.site.report_units))
        add_text(document, "description", described([*words, NOT_A_LOCATE]))
        _style(document, "digging", _WHITE, "4")
        _style(document, "corner", _PINK, "2")
        for part in request.outline.geoms:
            _outline(document, plan, part, described(words))
        for corner in request.corners:
            _corner(document, corner, plan.site.report_units)
    return save(root, path)


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
    yield f"Work: {clean(request.kind_of_work)}."
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
    told = accuracy_words(request.accuracy_m, system)
    whole = told if told.endswith(".") else f"{told}; the distances from the lot's corners are not."
    yield whole


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
    add_text(mark, "name", "all digging, to be marked in white")
    add_text(mark, "description", words)
    add_text(mark, "styleUrl", "#digging")
    there = to_degrees(plan.site.crs, np.asarray(part.exterior.coords)[:, :2]).lon_lat
    add_part(mark, Polygon(there))


def _corner(document: ET.Element, corner: Corner, system: System) -> None:
    mark = ET.SubElement(document, "Placemark")
    add_text(mark, "name", f"corner {corner.name}")
    add_text(mark, "description", described([corner_words(corner, system)]))
    add_text(mark, "styleUrl", "#corner")
    add_part(mark, Point(corner.lon_deg, corner.lat_deg))


def _style(document: ET.Element, name: str, colour: str, width: str) -> None:
    style = ET.SubElement(document, "Style", {"id": name})
    line = ET.SubElement(style, "LineStyle")
    add_text(line, "color", colour)
    add_text(line, "width", width)
    add_text(ET.SubElement(style, "PolyStyle"), "fill", "0")
