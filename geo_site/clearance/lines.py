"""What is known of each buried line, as a document prints it.

In: a site and the settings. Out: a :class:`LineFacts` for each line. Method: what the file says,
how well the position is known and by which standard, what is assumed in its place, and what is
missing before anyone may vouch for it. Reference: ``geo_site.locate_quality``, the settings.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from shapely.geometry.base import BaseGeometry

from geo_site.clearance.days import day_of, word_of
from geo_site.clearance.doubts import doubts_about
from geo_site.clearance.stubs import LooseEnd, find_loose_ends
from geo_site.constraints import ConstraintParameters, Position, ZoneInUse, position_of, zone_in_use
from geo_site.constraints.rules import number
from geo_site.locate_quality import EXPECTED_COVERS, QUALITY_LEVELS, Basis
from geo_site.site import UTILITY_KINDS, Site

__all__ = ["LineFacts", "facts_of_lines"]

_NAN = float("nan")


@dataclass(frozen=True, kw_only=True)
class LineFacts:
    """One buried line.

    Attributes
    ----------
    line_id, kind : str
        As in the file; a kind that is none of ours is ``unknown``.
    owner, member, side, status, colour : str
        As told; empty where nobody says. ``status`` plays no part: abandoned counts as live.
    marked_by : str
        Who marked it; empty where nobody says.
    marked_on : datetime.date or None
        When.
    quality_level, level_meaning : str
        Its level and what that means; empty for none (paint alone is none).
    position_m : float
        Position uncertainty without the datum shift and the diameter, m.
    position_basis : {"published", "from memory", "assumed", "stated"}
        What the figure rests on.
    position_source : str
        Where it was found.
    shift_m : float
        Accuracy of the datum shift, m.
    diameter_m : float
        As told, m; NaN where nobody says.
    assumed_diameter_m : float
        What was assumed instead, m; 0 where the diameter is told.
    uncertainty_m : float
        All of it, as required: position, shift and half an assumed diameter.
    depth_m : float
        Cover as told, m; NaN where nobody says. Never a clearance.
    expected_cover_m : float
        Least that rules for laying ask of its kind, m; NaN where none was read.
    expected_cover_told : str
        Which, and where it was found.
    buffer_m : float
        Our design separation by kind, m.
    zone_m : float
        Tolerance zone that is drawn, m.
    zone_is_known : bool
        Whether that zone may clear the line.
    required_m : float
        From the outer edge: the wider of the two, and the uncertainty.
    hand_dig_half_width_m : float
        From the line as drawn: half diameter, tolerance zone and uncertainty; within it one digs
        by hand.
    length_on_lot_m : float
        Of the line, m.
    loose_ends : tuple of LooseEnd
        Where it ends on the lot with nothing there.
    assumed : tuple of str
        What was assumed, a sentence each.
    missing : tuple of str
        What keeps it from being vouched for, a clause each; empty: vouched for.
    """

    line_id: str
    kind: str
    owner: str
    member: str
    side: str
    status: str
    colour: str
    marked_by: str
    marked_on: datetime.date | None
    quality_level: str
    level_meaning: str
    position_m: float
    position_basis: Basis
    position_source: str
    shift_m: float
    diameter_m: float
    assumed_diameter_m: float
    uncertainty_m: float
    depth_m: float
    expected_cover_m: float
    expected_cover_told: str
    buffer_m: float
    zone_m: float
    zone_is_known: bool
    required_m: float
    hand_dig_half_width_m: float
    length_on_lot_m: float
    loose_ends: tuple[LooseEnd, ...]
    assumed: tuple[str, ...]
    missing: tuple[str, ...]


def facts_of_lines(site: Site, parameters: ConstraintParameters) -> tuple[LineFacts, ...]:
    """Gather what is known of each line.

    Parameters
    ----------
    site : Site
        Lines, ticket, private locate.
    parameters : ConstraintParameters
        The rules in use.

    Returns
    -------
    tuple of LineFacts
        In the order of the file, lines that are not drawn too.
    """
    zone = zone_in_use(site.ticket.state, parameters.tolerance_zone)
    ends = find_loose_ends(site, parameters.stub)
    return tuple(
        _facts(line, site, parameters, zone, tuple(end for end in ends if end.line_id == line.id))
        for line in site.rows["utilities"]
    )


def _facts(
    line: Any,
    site: Site,
    parameters: ConstraintParameters,
    zone: ZoneInUse,
    loose_ends: tuple[LooseEnd, ...],
) -> LineFacts:
    kind = word_of(line.kind) if word_of(line.kind) in UTILITY_KINDS else "unknown"
    position, diameter_m = position_of(line, parameters), number(line.diameter_m) or 0.0
    assumed_m = 0.0 if diameter_m else float(parameters.assumed_diameter)
    uncertainty_m = position.uncertainty_m + assumed_m / 2.0
    buffer_m, level = parameters.utility_buffer.of(kind), word_of(line.quality_level)
    cover, depth_m = EXPECTED_COVERS.get(kind), number(line.depth_m)
    return LineFacts(
        line_id=str(line.id),
        kind=kind,
        owner=word_of(line.owner),
        member=word_of(line.member),
        side=word_of(line.side),
        status=word_of(line.status),
        colour=word_of(line.colour),
        marked_by=word_of(line.marked_by),
        marked_on=day_of(line.marked_on),
        quality_level=level,
        level_meaning=QUALITY_LEVELS[level].meaning if level in QUALITY_LEVELS else "",
        position_m=position.uncertainty_m - position.shift_m,
        position_basis=position.basis,
        position_source=position.source,
        shift_m=position.shift_m,
        diameter_m=diameter_m or _NAN,
        assumed_diameter_m=assumed_m,
        uncertainty_m=uncertainty_m,
        depth_m=_NAN if depth_m is None else depth_m,
        expected_cover_m=cover.least_m if cover else _NAN,
        expected_cover_told=f"{cover.told} ({cover.source})" if cover else "",
        buffer_m=buffer_m,
        zone_m=zone.width_m,
        zone_is_known=zone.is_known,
        required_m=max(buffer_m, zone.width_m) + uncertainty_m,
        hand_dig_half_width_m=diameter_m / 2.0 + zone.width_m + uncertainty_m,
        length_on_lot_m=_length_on(site, line.geometry),
        loose_ends=loose_ends,
        assumed=tuple(_assumed(line, position, assumed_m, zone)),
        missing=_missing(line, site, zone),
    )


def _length_on(site: Site, shape: BaseGeometry | None) -> float:
    return 0.0 if shape is None else float(shape.intersection(site.parcel).length)


def _assumed(line: Any, position: Position, assumed_m: float, zone: ZoneInUse) -> Iterator[str]:
    if position.basis in {"assumed", "from memory"}:
        yield " ".join(position.notes)
    if assumed_m:
        yield f"Diameter not told: {assumed_m:.2f} m assumed."
    if zone.note:
        yield zone.note
    if word_of(line.status) != "live":
        told = word_of(line.status) or "not told"
        yield f"Status {told}: treated as live."


def _missing(line: Any, site: Site, zone: ZoneInUse) -> tuple[str, ...]:
    found = doubts_about(line, site)
    if zone.is_known:
        return found
    return (*found, "the tolerance zone that applies here is not stated")
