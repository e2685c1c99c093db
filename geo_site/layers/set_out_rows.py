"""Rows of the set-out: what is staked on site, with a code, a level and what it is.

Codes: B basin corner, S spillway lip, E end of the stream in the basin, F lip of a fall, P pipe
(P1 at the pump), H spoil heap, W silt fence end. Z is the level named in the note: of the works
where they have one, else of the ground.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from shapely.geometry import LineString, Point

if TYPE_CHECKING:
    from geo_site.plan import Plan, Proposal

__all__ = ["set_out"]

Row = Mapping[str, Any]


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


def _basin(plan: Plan, proposal: Proposal) -> Iterator[Stake]:
    placement = proposal.placement
    corners = placement.footprint.exterior.coords[:-1]
    for i, (x, y, *_) in enumerate(corners, start=1):
        level_m = _ground(plan, x, y)
        note = f"basin corner, ground {level_m:.2f} m, pit floor {placement.floor_level_m:.2f} m"
        yield f"B{i}", x, y, level_m, note


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
        middle = moved.pile.geometry.representative_point()
        level_m = _ground(plan, middle.x, middle.y)
        note = f"inside the spoil heap, {moved.pile.height_m:.2f} m high, ground {level_m:.2f} m"
        yield "H1", middle.x, middle.y, level_m, note
    if isinstance(moved.silt_fence, LineString):
        ends = (moved.silt_fence.coords[0], moved.silt_fence.coords[-1])
        for i, (x, y, *_) in enumerate(ends, start=1):
            level_m = _ground(plan, x, y)
            yield f"W{i}", x, y, level_m, f"end of the silt fence, ground {level_m:.2f} m"


def _ground(plan: Plan, x: float, y: float) -> float:
    return float(plan.terrain.ground.sample(np.array([[x, y]]))[0])
