"""Rows of the set-out: what is staked on site, with a code, a level and what it is.

Codes: B basin corner, X edge of the pit, S spillway lip, T station of the stream, E end of the
stream in the basin, F lip of a fall, P pipe (P1 at the pump), H toe of the spoil heap, W silt fence
end, G way of the machine (G1 where it enters). Z is the level named in the note: of the works where
they have one, else of the ground.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from shapely import get_parts
from shapely.geometry import LinearRing, LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from geo_site.layout import Layout
    from geo_site.plan import Plan, Proposal

__all__ = ["set_out"]

Row = Mapping[str, Any]

_EDGE_M = 0.15  # of the pit's edge: finer than it can be dug
_BEND_M = 0.3  # of the machine's way
_TOE_POINTS = 8


def set_out(plan: Plan) -> Iterator[Row]:
    """Give the points to stake, in the order in which they are built from."""
    if plan.proposal is None:
        return
    for code, x, y, level_m, note in _points(plan, plan.proposal):
        if np.isfinite(level_m):
            yield {
                "geometry": Point(x, y, level_m),
                "code": code,
                "note": note,
                "level_m": level_m,
                "ground_level_m": _ground(plan, x, y),
            }


Stake = tuple[str, float, float, float, str]


def _points(plan: Plan, proposal: Proposal) -> Iterator[Stake]:
    yield from _basin(plan, proposal)
    yield from _stream(proposal)
    yield from _pipe(proposal)
    yield from _earth(plan, proposal)
    yield from _gates(plan, proposal)


def _basin(plan: Plan, proposal: Proposal) -> Iterator[Stake]:
    placement = proposal.placement
    corners = placement.footprint.exterior.coords[:-1]
    for i, (x, y, *_) in enumerate(corners, start=1):
        level_m = _ground(plan, x, y)
        note = f"basin corner, ground {level_m:.2f} m, pit floor {placement.floor_level_m:.2f} m"
        yield f"B{i}", x, y, level_m, note
    edge = placement.excavation.exterior.simplify(_EDGE_M)
    for i, (x, y, *_) in enumerate(edge.coords[:-1], start=1):
        level_m = _ground(plan, x, y)
        yield f"X{i}", x, y, level_m, f"edge of the pit, ground {level_m:.2f} m"


def _stream(proposal: Proposal) -> Iterator[Stake]:
    layout = proposal.layout
    x, y, level_m = layout.alignment.coords[0]
    yield "S1", x, y, level_m, f"spillway lip, sill {level_m:.2f} m"
    for fall in layout.falls:
        note = (
            f"lip of fall {fall.sequence}, {fall.height_m:.2f} m high, {fall.lip_width_m:.2f} m "
            f"wide, sill {fall.lip_level_m:.2f} m"
        )
        yield f"F{fall.sequence}", fall.x, fall.y, fall.lip_level_m, note
    stations_m = np.arange(1.0, layout.length_m, 1.0)
    for i, (station_m, x, y, level_m) in enumerate(_along(layout, stations_m), start=1):
        yield (
            f"T{i}",
            x,
            y,
            level_m,
            f"stream, {station_m:.2f} m from the lip, sill {level_m:.2f} m",
        )
    x, y, level_m = layout.alignment.coords[-1]
    yield "E1", x, y, level_m, f"end of the stream in the basin, sill {level_m:.2f} m"


def _pipe(proposal: Proposal) -> Iterator[Stake]:
    vertices = list(proposal.layout.pipe.simplify(0.01).coords)
    for i, (x, y, level_m) in enumerate(vertices, start=1):
        place = {1: "at the pump", len(vertices): "at the spillway"}.get(i, "bend")
        yield f"P{i}", x, y, level_m, f"pipe, {place}, centre line {level_m:.2f} m"


def _earth(plan: Plan, proposal: Proposal) -> Iterator[Stake]:
    moved = proposal.earthwork
    if moved.pile is not None:
        toe = max(_rings(moved.pile.geometry), key=lambda ring: ring.length)
        for i, share in enumerate(np.arange(_TOE_POINTS) / _TOE_POINTS, start=1):
            spot = toe.interpolate(share, normalized=True)
            level_m = _ground(plan, spot.x, spot.y)
            note = (
                f"toe of the spoil heap, {moved.pile.height_m:.2f} m high, ground {level_m:.2f} m"
            )
            yield f"H{i}", spot.x, spot.y, level_m, note
    if isinstance(moved.silt_fence, LineString):
        ends = (moved.silt_fence.coords[0], moved.silt_fence.coords[-1])
        for i, (x, y, *_) in enumerate(ends, start=1):
            level_m = _ground(plan, x, y)
            yield f"W{i}", x, y, level_m, f"end of the silt fence, ground {level_m:.2f} m"


def _gates(plan: Plan, proposal: Proposal) -> Iterator[Stake]:
    bends = [
        (leads_to, x, y)
        for leads_to, route in proposal.routes
        for x, y, *_ in route.line.simplify(_BEND_M).coords
    ]
    for i, (leads_to, x, y) in enumerate(bends, start=1):
        level_m = _ground(plan, x, y)
        yield f"G{i}", x, y, level_m, f"machine's way to the {leads_to}, ground {level_m:.2f} m"


def _along(
    layout: Layout, stations_m: NDArray[np.float64]
) -> Iterator[tuple[float, float, float, float]]:
    """Points of the centre line at stations, with the level of the sills."""
    for station_m in stations_m:
        spot = layout.alignment.interpolate(station_m)
        level_m = float(np.interp(station_m, layout.stations_m, layout.bed_m))
        yield float(station_m), spot.x, spot.y, level_m


def _rings(area: BaseGeometry) -> list[LinearRing]:
    return [part.exterior for part in get_parts(area) if isinstance(part, Polygon)]


def _ground(plan: Plan, x: float, y: float) -> float:
    return float(plan.terrain.ground.sample(np.array([[x, y]]))[0])
