"""How a work lies to an object: the shortest way between them, and whether they overlap.

In: a work and a requirement. Out: a :class:`Gap`. Method: exact distances in plan, whatever
heights the coordinates carry, to the object's outer edge.
"""

from __future__ import annotations

from dataclasses import dataclass

from shapely import LineString, MultiLineString, force_2d, get_parts, line_merge, shortest_line
from shapely.geometry.base import BaseGeometry

from geo_site.clearance.figures import TOUCH_M
from geo_site.constraints import Requirement
from geo_site.site import Site

__all__ = ["Gap", "find_gap"]

_ENTER_M = 1e-6  # areas that overlap less than this lie beside each other: overlays round
_DOT_M = 1e-7  # a line of one point is not valid
_CROSSING_WIDTHS = 2.0  # our choice: at 30 degrees or more a trench crosses, else it runs along


@dataclass(frozen=True, kw_only=True)
class Gap:
    """How a work lies to an object.

    Attributes
    ----------
    connector : LineString
        From the work to the object's outer edge, in plan; of length ``clearance_m``, or a dot of
        0.1 micrometre where they touch.
    clearance_m : float
        Shortest distance to the outer edge; 0 when they touch or overlap, and for the parcel's
        line when the work lies outside.
    enters : bool
        Whether the work reaches into the object, not only up to its edge.
    crosses : bool
        Whether a narrow work leads over a buried line and leaves it again.
    """

    connector: LineString
    clearance_m: float
    enters: bool
    crosses: bool


def find_gap(site: Site, geometry: BaseGeometry, asked: Requirement) -> Gap:
    """Measure how a work lies to an object.

    Parameters
    ----------
    site : Site
        With the parcel.
    geometry : shapely geometry
        The work.
    asked : Requirement
        With the object.

    Returns
    -------
    Gap
        In plan.
    """
    work, target = force_2d(geometry), force_2d(asked.geometry)
    whole = shortest_line(work, target)
    apart_m = float(whole.length)
    left_m = apart_m - asked.half_width_m
    is_boundary = asked.reason == "boundary"
    near = is_boundary or apart_m <= asked.half_width_m + _ENTER_M
    enters = near and _enters(site, work, target, asked)
    touches = left_m <= TOUCH_M or (enters and is_boundary)
    over_line = touches and asked.reason == "utility"
    x, y = whole.coords[0]
    end = whole.interpolate(left_m) if asked.half_width_m else whole.coords[-1]
    return Gap(
        connector=LineString([(x, y), (x + _DOT_M, y) if touches else end]),
        clearance_m=0.0 if touches else left_m,
        enters=enters,
        crosses=over_line and _crosses(work, target, asked.half_width_m + asked.least_m),
    )


def _enters(site: Site, work: BaseGeometry, target: BaseGeometry, asked: Requirement) -> bool:
    if asked.reason == "boundary":
        return not site.parcel.buffer(_ENTER_M).covers(work)
    if asked.half_width_m > 0.0:
        return bool(work.distance(target) < asked.half_width_m - TOUCH_M)
    return any(_reaches_into(work, part) for part in get_parts(target))


def _reaches_into(work: BaseGeometry, part: BaseGeometry) -> bool:
    if part.area > 0.0:
        return bool(work.intersects(part.buffer(-_ENTER_M)))
    return bool(work.distance(part) <= TOUCH_M)


def _crosses(trench: BaseGeometry, line: BaseGeometry, near_m: float) -> bool:
    """Whether a line leads across a trench, and nowhere runs along it within a distance."""
    if not trench.intersects(line) or trench.touches(line):
        return False
    width_m = 2.0 * (trench.area / trench.length + near_m)
    beside = get_parts(trench.buffer(near_m).intersection(line))
    pieces = line_merge(MultiLineString([part for part in beside if isinstance(part, LineString)]))
    return all(piece.length <= _CROSSING_WIDTHS * width_m for piece in get_parts(pieces))
