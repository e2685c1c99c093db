"""Lines as exposed: what was seen and measured moves the line, and the verdicts are asked again.

In: a site with exposed points. Out: the site with those lines moved, and rows of before and after.
Method: each point carries its nearest place on the line to itself; between points the shift goes
over evenly, beyond the last it tapers off. Near a point the line is QL-A and stands in a row of its
own; elsewhere it keeps the quality that it had. A point speaks for a plan position on one day: the
ticket is still asked for. Reference: PAS 128:2022 (QL-A, a transcription); the shift is our choice.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Point, get_parts, line_merge
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from geo_site.clearance.days import day_of, word_of
from geo_site.clearance.verdicts import Clearance, Verdict
from geo_site.constraints import ConstraintParameters, ExposedStretch
from geo_site.site import Site, table_like

__all__ = ["BeforeAfter", "Exposure", "as_exposed", "compare", "exposures_of"]

_SUFFIX = " (exposed)"
_WORST: Mapping[Verdict, int] = {"met": 0, "hand_dig": 1, "unknown": 2, "not_met": 3}
_SHORTEST_M = 1e-6


@dataclass(frozen=True, kw_only=True)
class Exposure:
    """One point at which a line was seen.

    Attributes
    ----------
    point_id, line_id : str
        Which point, of which line.
    exposed_by : str
        Who; empty where nobody says.
    exposed_on : datetime.date or None
        When.
    depth_m : float
        Cover as measured, m; NaN where it was not.
    uncertainty_m : float
        Of the point, m.
    off_m : float
        From where the line was drawn to where it is, m.
    x, y : float
        The point.
    """

    point_id: str
    line_id: str
    exposed_by: str
    exposed_on: datetime.date | None
    depth_m: float
    uncertainty_m: float
    off_m: float
    x: float
    y: float


@dataclass(frozen=True, kw_only=True)
class BeforeAfter:
    """One work against one exposed line, as drawn and as seen.

    Attributes
    ----------
    work, line_id, kind : str
        The pair.
    required_before_m, required_after_m : float
        What is asked; after: by the part of the line that leaves least.
    clearance_before_m, clearance_after_m : float
        Distances to the outer edge.
    verdict_before, verdict_after : {"met", "hand_dig", "not_met", "unknown"}
        What they mean; after: the worst of the line's parts.
    """

    work: str
    line_id: str
    kind: str
    required_before_m: float
    required_after_m: float
    clearance_before_m: float
    clearance_after_m: float
    verdict_before: Verdict
    verdict_after: Verdict


def exposures_of(site: Site, parameters: ConstraintParameters) -> tuple[Exposure, ...]:
    """List the exposed points with how far the line was off there.

    Parameters
    ----------
    site : Site
        Lines as drawn, and the points.
    parameters : ConstraintParameters
        With the accuracy of QL-A, for points that state none.

    Returns
    -------
    tuple of Exposure
        In the order of the file; points of no line are left out (the reader refuses them).
    """
    shapes = dict(zip(site.utilities["id"], site.utilities.geometry, strict=True))
    return tuple(
        _exposure(point, shapes[point.utility_id], parameters)
        for point in site.rows["exposed"]
        if point.utility_id in shapes
    )


def as_exposed(site: Site, parameters: ConstraintParameters) -> Site:
    """Move the lines that were exposed to where they were seen.

    Parameters
    ----------
    site : Site
        Lines as drawn, and the points.
    parameters : ConstraintParameters
        With the settings of exposures.

    Returns
    -------
    Site
        The same where nothing was exposed. Else each exposed line has a second row, its id with
        ``(exposed)``, of quality QL-A; the first is what is left of it, moved.
    """
    seen: dict[str, list[Exposure]] = {}
    for one in exposures_of(site, parameters):
        seen.setdefault(one.line_id, []).append(one)
    if not seen:
        return site
    rows = [
        row
        for record in site.utilities.to_dict("records")
        for row in _rows(record, seen.get(record["id"], []), parameters.exposed)
    ]
    return replace(site, utilities=table_like(rows, site.utilities))


def compare(
    before: Sequence[Clearance], after: Sequence[Clearance], exposures: Sequence[Exposure]
) -> tuple[BeforeAfter, ...]:
    """Set the clearances of exposed lines as drawn beside those as seen.

    Parameters
    ----------
    before, after : sequence of Clearance
        Of the same works, judged on the site as drawn and on :func:`as_exposed`.
    exposures : sequence of Exposure
        Which lines.

    Returns
    -------
    tuple of BeforeAfter
        In the order of ``before``.
    """
    names = {one.line_id for one in exposures}
    found = []
    for row in before:
        if row.rule != "utility" or row.against not in names:
            continue
        parts = [
            one
            for one in after
            if one.work == row.work
            and one.rule == row.rule
            and one.against in {row.against, row.against + _SUFFIX}
        ]
        if parts:
            found.append(_pair(row, parts))
    return tuple(found)


def _pair(row: Clearance, parts: Sequence[Clearance]) -> BeforeAfter:
    least = min(parts, key=lambda one: one.clearance_m - one.required_m)
    worst = max(parts, key=lambda one: _WORST[one.verdict])
    return BeforeAfter(
        work=row.work,
        line_id=row.against,
        kind=row.kind,
        required_before_m=row.required_m,
        required_after_m=least.required_m,
        clearance_before_m=row.clearance_m,
        clearance_after_m=min(one.clearance_m for one in parts),
        verdict_before=row.verdict,
        verdict_after=worst.verdict,
    )


def _exposure(point: Any, line: BaseGeometry, parameters: ConstraintParameters) -> Exposure:
    stated_m = float(point.uncertainty_m)
    at_a_m = float(parameters.position_uncertainty.ql_a)
    return Exposure(
        point_id=str(point.id),
        line_id=str(point.utility_id),
        exposed_by=word_of(point.exposed_by),
        exposed_on=day_of(point.exposed_on),
        depth_m=float(point.depth_m),
        uncertainty_m=at_a_m if np.isnan(stated_m) else stated_m,
        off_m=float(shapely.distance(point.geometry, line)),
        x=float(point.geometry.x),
        y=float(point.geometry.y),
    )


def _rows(
    record: dict[Any, Any], seen: Sequence[Exposure], rule: ExposedStretch
) -> Iterator[dict[Any, Any]]:
    if not seen:
        yield record
        return
    rest: list[LineString] = []
    sure: list[LineString] = []
    for part in _parts(record["geometry"]):
        mine = [one for one in seen if _is_of(one, part, record["geometry"])]
        moved, stations = _moved(part, mine, rule)
        kept, exposed = _split(moved, stations, rule.reach)
        rest += kept
        sure += exposed
    if rest:
        yield {**record, "geometry": _joined(rest)}
    if sure:
        yield {
            **record,
            **_seen_facts(seen),
            "id": f"{record['id']}{_SUFFIX}",
            "geometry": _joined(sure),
        }


def _seen_facts(seen: Sequence[Exposure]) -> dict[str, Any]:
    by = sorted({one.exposed_by for one in seen if one.exposed_by})
    days = [one.exposed_on for one in seen if one.exposed_on is not None]
    depths = [one.depth_m for one in seen if not np.isnan(one.depth_m)]
    return {
        "quality_level": "QL-A",
        "uncertainty_m": max(one.uncertainty_m for one in seen),
        "depth_m": min(depths, default=np.nan),
        "marked_by": ", ".join(by) or None,
        "marked_on": min(days, default=None),
    }


def _parts(shape: BaseGeometry) -> list[LineString]:
    flat = shapely.force_2d(shape)
    parts = [part for part in get_parts(flat) if isinstance(part, LineString)]
    return list(get_parts(line_merge(MultiLineString(parts))))


def _is_of(one: Exposure, part: LineString, whole: BaseGeometry) -> bool:
    """Whether the part is the nearest of its line to the point."""
    point = Point(one.x, one.y)
    return bool(part.distance(point) <= whole.distance(point) + _SHORTEST_M)


def _moved(
    part: LineString, seen: Sequence[Exposure], rule: ExposedStretch
) -> tuple[LineString, list[float]]:
    """The part moved through its points, and where they lie along it afterwards."""
    if not seen:
        return part, []
    at = sorted((float(part.project(Point(one.x, one.y))), one.x, one.y) for one in seen)
    knots = np.array([station for station, _, _ in at])
    feet = shapely.get_coordinates([part.interpolate(station) for station in knots])
    offsets = np.array([(x, y) for _, x, y in at]) - feet
    ends = np.array([knots[0] - rule.taper, knots[-1] + rule.taper])
    steps = np.diff(shapely.get_coordinates(part), axis=0)
    corners = np.cumsum(np.hypot(steps[:, 0], steps[:, 1]))[:-1]
    extra = [s for s in (*knots, *ends) if 0.0 < s < part.length]
    stations = np.unique(np.array([0.0, part.length, *corners, *extra]))
    xy = shapely.get_coordinates([part.interpolate(station) for station in stations])
    shifted = xy + _shift(stations, knots, offsets, rule.taper)
    moved = LineString(shifted)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(shifted, axis=0).T))])
    return moved, [float(np.interp(knot, stations, along)) for knot in knots]


def _shift(
    stations: NDArray[np.float64],
    knots: NDArray[np.float64],
    offsets: NDArray[np.float64],
    taper_m: float,
) -> NDArray[np.float64]:
    """Shift at each station: evenly between points, tapering off beyond them."""
    padded = np.concatenate([[knots[0] - taper_m], knots, [knots[-1] + taper_m]])
    zero = np.zeros((1, 2))
    values = np.concatenate([zero, offsets, zero])
    return np.column_stack(
        [np.interp(stations, padded, values[:, axis], left=0.0, right=0.0) for axis in (0, 1)]
    )


def _split(
    line: LineString, stations: Sequence[float], reach_m: float
) -> tuple[list[LineString], list[LineString]]:
    """What is left of a line, and the stretches within reach of a point on it."""
    rest: list[LineString] = []
    sure: list[LineString] = []
    done_m = 0.0
    for low_m, high_m in _stretches(stations, reach_m, line.length):
        _add(rest, line, done_m, low_m)
        _add(sure, line, low_m, high_m)
        done_m = high_m
    _add(rest, line, done_m, line.length)
    return rest, sure


def _stretches(
    stations: Sequence[float], reach_m: float, length_m: float
) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for station in sorted(stations):
        low_m, high_m = max(station - reach_m, 0.0), min(station + reach_m, length_m)
        if found and low_m <= found[-1][1]:
            found[-1] = (found[-1][0], high_m)
        else:
            found.append((low_m, high_m))
    return found


def _add(pieces: list[LineString], line: LineString, low_m: float, high_m: float) -> None:
    if high_m - low_m > _SHORTEST_M:
        pieces.append(LineString(substring(line, low_m, high_m).coords))


def _joined(pieces: Sequence[LineString]) -> BaseGeometry:
    return pieces[0] if len(pieces) == 1 else MultiLineString(list(pieces))
