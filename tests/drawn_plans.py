"""Drawn works made from plans: as an editor would hand them back, without a file."""

from __future__ import annotations

from dataclasses import replace

from shapely import MultiLineString, Point, force_2d

from geo_site.drawn import Drawn, DrawnFall, DrawnPool, DrawnReach
from geo_site.plan import Plan

__all__ = ["drawn_of", "without_levels"]


def drawn_of(plan: Plan) -> Drawn:
    """Give the works of a plan as if somebody had drawn them."""
    proposal = plan.proposal
    assert proposal is not None
    layout, moved = proposal.layout, proposal.earthwork
    fence = moved.silt_fence
    has_fence = fence is not None and not fence.is_empty
    return Drawn(
        basin=proposal.placement.footprint,
        basin_depth_m=plan.design.depth_m,
        stream=layout.alignment,
        reaches=tuple(DrawnReach(line=one.line, kind=one.kind) for one in layout.reaches),
        falls=tuple(
            DrawnFall(
                lip=Point(one.x, one.y, one.lip_level_m),
                height_m=one.height_m,
                lip_width_m=one.lip_width_m,
            )
            for one in layout.falls
        ),
        pools=tuple(DrawnPool(outline=p.geometry, depth_m=p.depth_m) for p in layout.pools),
        pipe=force_2d(layout.pipe),
        spoil_pile=moved.pile.geometry if moved.pile else None,
        silt_fence=MultiLineString([*getattr(fence, "geoms", [fence])]) if has_fence else None,
        machine_route=MultiLineString([way.line for _, way in proposal.routes])
        if proposal.routes
        else None,
    )


def without_levels(drawn: Drawn) -> Drawn:
    """Give the same drawing in 2D: no levels, no kinds, no falls, no pools."""
    assert drawn.stream is not None
    return replace(drawn, stream=force_2d(drawn.stream), reaches=(), falls=(), pools=())
