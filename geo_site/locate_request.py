"""What a one-call centre asks for: the white-line outline of all digging, in figures and in words.

Question
    Where exactly is ground broken, how deep, and for what kind of work?
In
    The digging of a plan, the lot, :class:`LocateRequestParameters`.
Out
    :class:`LocateRequest`.
Method
    The digging is widened by a margin and its outline is drawn with as few corners as keep all of
    that inside. Each corner is told in degrees, and by tape: from the nearest corner of the lot
    and from the nearest side. Corners and sides are named by where they lie on the compass, seen
    from the lot's middle, on grid north.
Reference
    Common practice of one-call centres: the excavation is marked in white (APWA uniform colour
    code) and described in words that a locator can follow.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator
from dataclasses import dataclass
from string import ascii_uppercase

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon, get_coordinates, union_all
from shapely.geometry import MultiPolygon

from geo_site.crs import to_degrees
from geo_site.parameters import Metres, Parameters, setting
from geo_site.raster import as_multipolygon
from geo_site.site import Site

__all__ = ["Corner", "LocateRequest", "LocateRequestParameters", "LotSide", "describe_digging"]

_COMPASS = (
    "east", "north-east", "north", "north-west", "west", "south-west", "south", "south-east",
)  # fmt: skip
_SIMPLER_M = 0.25  # an outline is sprayed with a can: finer corners cannot be marked
_LEAST_TURN_DEG = 20.0  # a lot's side bends by less without a corner that a person would name

Floats = NDArray[np.float64]


class LocateRequestParameters(Parameters):
    """Settings of the locate request."""

    margin: Metres = setting(
        0.61,
        unit="m",
        meaning="width of ground beyond the digging that is asked to be marked",
        source="common practice, no source: 2 ft",
        within="[0, 10]",
    )
    kind_of_work: str = setting(
        "digging for a buried water basin, a stone-lined stream and a pipe trench",
        unit="-",
        meaning="what the centre is told is being done",
        source="the user's own words",
    )


@dataclass(frozen=True, kw_only=True)
class LotSide:
    """One side of the lot.

    Attributes
    ----------
    name : str
        ``north side`` ...; numbered where two lie the same way.
    line : LineString
        The side.
    near_access : bool
        Whether an access point lies nearer to it than to any other side.
    """

    name: str
    line: LineString
    near_access: bool


@dataclass(frozen=True, kw_only=True)
class Corner:
    """One corner of the white-line outline.

    Attributes
    ----------
    name : str
        A, B ... Z, AA ...
    x, y : float
        Position, m.
    lon_deg, lat_deg : float
        The same on WGS 84.
    lot_corner : str
        The nearest corner of the lot.
    from_corner_m : float
        Distance to it.
    bearing_deg : float
        Direction from it, clockwise from grid north.
    lot_side : str
        The nearest side of the lot.
    from_side_m : float
        Distance to it.
    """

    name: str
    x: float
    y: float
    lon_deg: float
    lat_deg: float
    lot_corner: str
    from_corner_m: float
    bearing_deg: float
    lot_side: str
    from_side_m: float


@dataclass(frozen=True, kw_only=True)
class LocateRequest:
    """What is asked of the one-call centre.

    Attributes
    ----------
    outline : MultiPolygon
        White-line outline: all digging and the margin.
    area_m2 : float
        Of the outline.
    greatest_depth_m : float
        Of the digging.
    margin_m : float
        Between digging and outline, at least.
    kind_of_work : str
        In the user's words.
    corners : tuple of Corner
        Around each part of the outline.
    sides : tuple of LotSide
        Of the lot.
    accuracy_m : float
        How well the shift to degrees is known; NaN: not stated.
    as_of : datetime.date or None
        The day of the plan.
    """

    outline: MultiPolygon
    area_m2: float
    greatest_depth_m: float
    margin_m: float
    kind_of_work: str
    corners: tuple[Corner, ...]
    sides: tuple[LotSide, ...]
    accuracy_m: float
    as_of: datetime.date | None

    @property
    def street_side(self) -> str:
        """The side where the machine enters; empty where no access point is given."""
        return next((side.name for side in self.sides if side.near_access), "")


def describe_digging(
    site: Site,
    digging: MultiPolygon,
    greatest_depth_m: float,
    parameters: LocateRequestParameters,
) -> LocateRequest:
    """Draw the white-line outline and describe it.

    Parameters
    ----------
    site : Site
        Lot, access points, ticket, CRS.
    digging : MultiPolygon
        All ground that is broken; not empty.
    greatest_depth_m : float
        Of the digging, m.
    parameters : LocateRequestParameters
        Margin and words.

    Returns
    -------
    LocateRequest
        The outline holds the digging and its margin; it is not cut at the lot's line, for
        whoever marks must know of digging beside it.
    """
    outline = _outline(digging, parameters.margin)
    sides = _sides(site)
    rings = [ring for part in outline.geoms for ring in _corners_of(part.exterior.coords[:-1])]
    xy = np.array(rings)
    there = to_degrees(site.crs, xy)
    named = _lot_corners(site)
    corners = tuple(
        _corner(_letters(number), xy[number], there.lon_lat[number], named, sides)
        for number in range(len(xy))
    )
    return LocateRequest(
        outline=outline,
        area_m2=outline.area,
        greatest_depth_m=greatest_depth_m,
        margin_m=parameters.margin,
        kind_of_work=parameters.kind_of_work,
        corners=corners,
        sides=sides,
        accuracy_m=there.accuracy_m,
        as_of=site.ticket.as_of,
    )


def _outline(digging: MultiPolygon, margin_m: float) -> MultiPolygon:
    """Widen, fill what is shut in, and draw with few corners that cut nothing off."""
    wide = as_multipolygon(
        digging.buffer(margin_m + 1.01 * _SIMPLER_M, join_style="mitre", mitre_limit=2.0)
    )
    return as_multipolygon(
        union_all([Polygon(part.exterior) for part in wide.geoms]).simplify(_SIMPLER_M)
    )


def _corners_of(ring: list[tuple[float, ...]]) -> Iterator[tuple[float, float]]:
    for x, y, *_ in ring:
        yield float(x), float(y)


def _letters(number: int) -> str:
    """Name 0, 1 ... 25, 26 as A, B ... Z, AA."""
    name = ""
    number += 1
    while number:
        number, place = divmod(number - 1, len(ascii_uppercase))
        name = ascii_uppercase[place] + name
    return name


def _compass(dx: float, dy: float) -> str:
    return _COMPASS[round(math.degrees(math.atan2(dy, dx)) / 45.0) % len(_COMPASS)]


def _turning_points(site: Site) -> Floats:
    """Corners of the lot that a person would name, around its largest part."""
    lot = max(site.parcel.geoms, key=lambda part: float(part.area))
    xy = get_coordinates(lot.exterior.simplify(_SIMPLER_M))[:-1]
    into = xy - np.roll(xy, 1, axis=0)
    out = np.roll(xy, -1, axis=0) - xy
    turn = np.arctan2(out[:, 1], out[:, 0]) - np.arctan2(into[:, 1], into[:, 0])
    turn_deg = np.abs(np.degrees((turn + np.pi) % (2.0 * np.pi) - np.pi))
    kept: Floats = xy[turn_deg >= _LEAST_TURN_DEG]
    return kept if len(kept) >= 3 else xy


def _lot_corners(site: Site) -> tuple[tuple[str, Point], ...]:
    middle, xy = site.parcel.centroid, _turning_points(site)
    names = [f"{_compass(x - middle.x, y - middle.y)} corner" for x, y in xy]
    return tuple(zip(_numbered(names), [Point(x, y) for x, y in xy], strict=True))


def _sides(site: Site) -> tuple[LotSide, ...]:
    middle, xy = site.parcel.centroid, _turning_points(site)
    lines = [LineString([one, other]) for one, other in zip(xy, np.roll(xy, -1, 0), strict=True)]
    spots = [line.interpolate(0.5, normalized=True) for line in lines]
    names = [f"{_compass(spot.x - middle.x, spot.y - middle.y)} side" for spot in spots]
    gates = site.access.geometry
    nearest = -1
    if len(gates):
        nearest = min(range(len(lines)), key=lambda k: lines[k].distance(gates.iloc[0]))
    return tuple(
        LotSide(name=name, line=line, near_access=k == nearest)
        for k, (name, line) in enumerate(zip(_numbered(names), lines, strict=True))
    )


def _numbered(names: list[str]) -> list[str]:
    """Number names that stand several times, in their order."""
    seen: dict[str, int] = {}
    told = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        told.append(f"{name} {seen[name]}" if names.count(name) > 1 else name)
    return told


def _corner(
    name: str,
    xy: Floats,
    lon_lat: Floats,
    named: tuple[tuple[str, Point], ...],
    sides: tuple[LotSide, ...],
) -> Corner:
    here = Point(*xy)
    lot_corner, start = min(named, key=lambda one: one[1].distance(here))
    side = min(sides, key=lambda one: one.line.distance(here))
    return Corner(
        name=name,
        x=float(xy[0]),
        y=float(xy[1]),
        lon_deg=float(lon_lat[0]),
        lat_deg=float(lon_lat[1]),
        lot_corner=lot_corner,
        from_corner_m=start.distance(here),
        bearing_deg=math.degrees(math.atan2(here.x - start.x, here.y - start.y)) % 360.0,
        lot_side=side.name,
        from_side_m=side.line.distance(here),
    )
