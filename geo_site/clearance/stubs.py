"""Lines that end on the lot: where they go on, nobody said.

In: a site and the settings. Out: the loose ends. Method: an end of a line inside the parcel that
meets no structure, no fixture and no other line is loose; ahead of it, in the half circle that its
last stretch points to, nothing that is dug is cleared of that line. Reference: our choice.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Point, get_parts, line_merge
from shapely.geometry import MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.constraints import StubRule
from geo_site.site import Site

__all__ = ["LooseEnd", "find_loose_ends", "told_ahead"]

_QUARTER_SIDES = 16


@dataclass(frozen=True, kw_only=True)
class LooseEnd:
    """An end of a line on the lot, with nothing there.

    Attributes
    ----------
    line_id : str
        The line.
    x, y : float
        Where it ends.
    ahead : shapely.Polygon
        Half a circle round the end, ahead of it: where the line may go on.
    """

    line_id: str
    x: float
    y: float
    ahead: Polygon


def find_loose_ends(site: Site, rule: StubRule) -> tuple[LooseEnd, ...]:
    """Find the lines that end on the lot.

    Parameters
    ----------
    site : Site
        Lines, structures, fixtures, parcel.
    rule : StubRule
        The settings.

    Returns
    -------
    tuple of LooseEnd
        In the order of the file.
    """
    lines = site.utilities
    shapes = [None if _is_nothing(shape) else shapely.force_2d(shape) for shape in lines.geometry]
    rests = np.array(
        [
            shapely.force_2d(shape)
            for table in (site.structures, site.fixtures)
            for shape in table.geometry
            if not _is_nothing(shape)
        ]
    )
    found = []
    for place, (name, shape) in enumerate(zip(lines["id"], shapes, strict=True)):
        if shape is None or not shape.intersects(site.parcel):
            continue
        others = np.array([s for i, s in enumerate(shapes) if i != place and s is not None])
        for end, before in _ends(shape):
            if _is_loose(end, site, rests, others, rule):
                found.append(_loose(str(name), end, before, rule.reach))
    return tuple(found)


def told_ahead(
    work: BaseGeometry, line_id: str, ends: Mapping[str, tuple[LooseEnd, ...]]
) -> tuple[str, ...]:
    """Say where a work lies ahead of a loose end of a line.

    Parameters
    ----------
    work : shapely geometry
        What is dug.
    line_id : str
        The line.
    ends : mapping of str to tuple of LooseEnd
        By line.

    Returns
    -------
    tuple of str
        One clause, or none.
    """
    near = [end for end in ends.get(line_id, ()) if work.intersects(end.ahead)]
    if not near:
        return ()
    away_m = min(work.distance(Point(end.x, end.y)) for end in near)
    return (f"the line ends on the lot {away_m:.2f} m from the work: where it goes on is unknown",)


def _is_nothing(shape: BaseGeometry | None) -> bool:
    return shape is None or shape.is_empty


def _ends(shape: BaseGeometry) -> Iterator[tuple[Point, Point]]:
    """Ends of a line, each with the corner before it; a ring has none."""
    parts = [part for part in get_parts(shape) if isinstance(part, LineString)]
    merged = get_parts(line_merge(MultiLineString(parts)))
    for part in merged:
        if part.is_closed:
            continue
        xy = part.coords
        yield Point(xy[0]), Point(xy[1])
        yield Point(xy[-1]), Point(xy[-2])


def _is_loose(
    end: Point, site: Site, rests: np.ndarray, others: np.ndarray, rule: StubRule
) -> bool:
    if not site.parcel.contains(end):
        return False
    near_m = rule.joins_within
    return not any(
        len(near) and bool((shapely.distance(near, end) <= near_m).any())
        for near in (rests, others)
    )


def _loose(line_id: str, end: Point, before: Point, reach_m: float) -> LooseEnd:
    way = math.atan2(end.y - before.y, end.x - before.x)
    turns = np.linspace(way - math.pi / 2.0, way + math.pi / 2.0, 2 * _QUARTER_SIDES + 1)
    radius_m = reach_m / math.cos(math.pi / 4.0 / _QUARTER_SIDES)  # sides touch the true circle
    arc = np.column_stack([end.x + radius_m * np.cos(turns), end.y + radius_m * np.sin(turns)])
    ahead = Polygon(arc) if reach_m > 0.0 else Polygon()
    return LooseEnd(line_id=line_id, x=end.x, y=end.y, ahead=ahead)
