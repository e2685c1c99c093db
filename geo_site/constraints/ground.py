"""The ground that is left for a work.

In: a site, its terrain, the settings and a work. Out: a :class:`Ground`. Method: each row of
``requirements`` blocks the ground within its distance; areas are added; what is left of the
parcel is free. Where digging by hand is opened, a line blocks only the least distance, and the
strip between that and the full distance is shown as ground to be dug by hand.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from shapely import box, union_all
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from geo_site.constraints.results import BlockedPiece, Ground, HandDigStrip, Requirement, Work
from geo_site.constraints.rules import Question
from geo_site.constraints.settings import ConstraintParameters
from geo_site.constraints.table import CONSTRAINTS, requirements
from geo_site.constraints.zones import keep_off
from geo_site.raster import as_multipolygon
from geo_site.site import Site
from geo_site.terrain import Terrain

__all__ = ["find_ground"]

_SHOWN_BEYOND_M = 10.0  # how far beyond the parcel blocked ground is drawn
_SLACK_M = 1.0  # beyond what an object can reach


def find_ground(
    site: Site,
    terrain: Terrain,
    parameters: ConstraintParameters,
    *,
    work: Work,
    excavation_depth_m: float,
    open_hand_dig: bool,
) -> Ground:
    """Find the ground that a work may use.

    Parameters
    ----------
    site : Site
        The parcel and the objects.
    terrain : Terrain
        The ground.
    parameters : ConstraintParameters
        The distances.
    work : Work
        For which work.
    excavation_depth_m : float
        Greatest depth of the basin's excavation, m.
    open_hand_dig : bool
        Whether ground beside lines is opened to digging by hand. It stays closed where the
        settings say never.

    Returns
    -------
    Ground
        ``open``, the hand-dig strips and ``blocked`` do not overlap and cover the parcel.
    """
    within = as_multipolygon(site.parcel.buffer(_SHOWN_BEYOND_M))
    question = Question(
        site=site, parameters=parameters, work=work, excavation_depth_m=excavation_depth_m
    )
    rows = requirements(site, parameters, work, excavation_depth_m)
    pieces = (
        *_object_pieces(rows, within, open_hand_dig),
        *_area_pieces(question, terrain, within),
    )
    blocked = as_multipolygon(union_all([piece.geometry for piece in pieces]))
    free = as_multipolygon(site.parcel.difference(blocked))
    strips = tuple(_strips(rows, within)) if open_hand_dig else ()
    # Whole strips are taken off, not their parts in free ground: no shreds are left between. They
    # are taken off apart: a union with the blocked ground may move edges that almost coincide.
    by_hand = union_all([strip.geometry for strip in strips])
    return Ground(
        work=work,
        pieces=pieces,
        blocked=blocked,
        hand_dig=tuple(_clipped(strips, free)),
        open=as_multipolygon(free.difference(by_hand)),
        free=free,
    )


def _object_pieces(
    rows: tuple[Requirement, ...], within: MultiPolygon, open_hand_dig: bool
) -> Iterator[BlockedPiece]:
    for row in rows:
        if row.may_cross or row.advisory:
            continue
        distance_m = row.least_m if open_hand_dig else row.required_m
        geometry = _around(row, distance_m, within)
        if not geometry.is_empty:
            yield BlockedPiece(
                reason=row.reason,
                source_id=row.against,
                distance_m=distance_m,
                geometry=geometry,
            )


def _area_pieces(
    question: Question, terrain: Terrain, within: MultiPolygon
) -> Iterator[BlockedPiece]:
    for constraint in CONSTRAINTS:
        if question.work not in constraint.works:
            continue
        for area in constraint.areas(question, terrain, within):
            geometry = as_multipolygon(area.geometry.intersection(within))
            if not geometry.is_empty:
                yield BlockedPiece(
                    reason=constraint.reason,
                    source_id=area.source_id,
                    distance_m=area.distance_m,
                    geometry=geometry,
                )


def _strips(rows: tuple[Requirement, ...], within: MultiPolygon) -> Iterator[HandDigStrip]:
    for row in rows:
        if not (row.may_cross or row.advisory) and row.least_m < row.required_m:
            yield HandDigStrip(
                utility_id=row.against,
                kind=row.kind,
                half_width_m=row.half_width_m + row.required_m,
                geometry=_around(row, row.required_m, within),
            )


def _clipped(strips: tuple[HandDigStrip, ...], free: MultiPolygon) -> Iterator[HandDigStrip]:
    for strip in strips:
        geometry = as_multipolygon(strip.geometry.intersection(free))
        if not geometry.is_empty:
            yield replace(strip, geometry=geometry)


def _around(row: Requirement, distance_m: float, within: MultiPolygon) -> MultiPolygon:
    """Ground within a distance of an object's outer edge, as far as it lies in an area."""
    if within.is_empty:
        return MultiPolygon()
    reach_m = row.half_width_m + distance_m
    west, south, east, north = within.bounds
    far_m = reach_m + _SLACK_M
    near: BaseGeometry = row.geometry.intersection(
        box(west - far_m, south - far_m, east + far_m, north + far_m)
    )
    return as_multipolygon(keep_off(near, reach_m).intersection(within))
