"""What the figures of how sure a plan is are worked out from.

In: what was chosen and the proposal. Out: a :class:`Desk`, and what lines ask of each place.
Method: every candidate becomes a spot: lip, outline, pit. Reference: ``geo_site.certainty``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.certainty import (
    CertaintyParameters,
    LineNeed,
    Scene,
    Spot,
    Sum,
    error_model,
    fall_sum,
    hidden_detail,
    spot_of,
    where_along,
)
from geo_site.constraints import Requirement, requirements
from geo_site.error_fields import ErrorModel, cell_model
from geo_site.plan.choosing import Choice
from geo_site.plan.results import Proposal
from geo_site.probability import sigma_of_half_width
from geo_site.ranking import Candidate
from geo_site.raster import Raster

__all__ = ["Desk", "desk_of", "fall_to_be_had", "line_needs", "needed_fall", "shaped_ground"]

_BESIDE_M = 5.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Desk:
    """What all the figures are worked out from.

    Attributes
    ----------
    choice : Choice
        Places, ranked.
    model, cells : ErrorModel
        Error of the ground at any point, and that of the terrain's cells.
    detail : Raster
        What the terrain's cells hide round the places, m.
    parameters : CertaintyParameters
        The settings.
    spots : tuple of Spot
        Each candidate, in the order of the ranking.
    falls : tuple of Sum
        Weights of each candidate's fall.
    scene : Scene
        What is simulated: first the catchments of the candidates, then those of the works.
    """

    choice: Choice
    model: ErrorModel
    cells: ErrorModel
    detail: Raster
    parameters: CertaintyParameters
    spots: tuple[Spot, ...]
    falls: tuple[Sum, ...]
    scene: Scene


def desk_of(choice: Choice, proposal: Proposal) -> Desk:
    """Gather what the figures are worked out from.

    Parameters
    ----------
    choice : Choice
        With at least one place.
    proposal : Proposal
        The first of them in full.

    Returns
    -------
    Desk
        Everything.
    """
    job = choice.job
    ground = job.terrain.ground
    found = [ranked.candidate for ranked in choice.ranked]
    spots = tuple(spot_of(one.placement, one.layout, job.design) for one in found)
    works: list[BaseGeometry] = [
        *(one.placement.excavation.union(one.layout.dig) for one in found),
        proposal.placement.excavation,
        proposal.layout.dig,
    ]
    model = error_model(job.site.rmse_z_m, job.used.certainty)
    return Desk(
        choice=choice,
        model=model,
        cells=cell_model(model, ground.cell_width_m, ground.cell_height_m),
        detail=hidden_detail(ground, _round(spots), job.used.certainty.detail_share),
        parameters=job.used.certainty,
        spots=spots,
        falls=tuple(fall_sum(spot, ground) for spot in spots),
        scene=Scene(
            terrain=job.terrain,
            spots=spots,
            areas=shaped_ground(proposal),
            works=works,
            catchments=[one.catchment.geometry for one in found],
            holes_drain=job.used.terrain.holes == "outlet",
            lot=job.site.parcel,
        ),
    )


def _round(spots: tuple[Spot, ...]) -> tuple[float, float, float, float]:
    """Bounds that hold lips and pits."""
    ends = [shapely.get_coordinates(spot.pit) for spot in spots]
    held = np.vstack([*ends, *(spot.lip for spot in spots)])
    (west, south), (east, north) = held.min(axis=0) - _BESIDE_M, held.max(axis=0) + _BESIDE_M
    return float(west), float(south), float(east), float(north)


def needed_fall(choice: Choice) -> float:
    """Fall wanted less what may lack, m, at least 0."""
    used = choice.job.used
    return max(used.layout.wanted_fall - used.certainty.shortfall, 0.0)


def fall_to_be_had(one: Candidate) -> float:
    """Fall that the ground gives with the berm as drawn, first sill to last, m."""
    layout = one.layout
    cut_m = max(float(layout.ground_m[0]) - layout.lip_level_m, 0.0)
    return layout.fall_m + cut_m


def shaped_ground(proposal: Proposal) -> tuple[BaseGeometry, BaseGeometry]:
    """Ground beside the pit that is cut for the stream, and that carries its berm."""
    layout, pit = proposal.layout, proposal.placement.excavation
    berm = Polygon() if layout.berm is None else layout.berm.difference(pit)
    return layout.dig.difference(pit).difference(berm), berm


def line_needs(choice: Choice) -> tuple[LineNeed, ...]:
    """What each line asks of each place that lies beside it."""
    job, rules = choice.job, choice.job.used.constraints
    of_pit = {row.against: row for row in job.lines}
    of_stream = {
        row.against: row
        for row in requirements(job.site, rules, "stream", job.depth_m)
        if row.reason == "utility"
    }
    return tuple(
        _line_need(number, ranked.candidate, row, of_stream.get(line_id, row))
        for number, ranked in enumerate(choice.ranked)
        for line_id, row in of_pit.items()
    )


def _line_need(
    number: int, one: Candidate, of_pit: Requirement, of_stream: Requirement
) -> LineNeed:
    pit, dig = one.placement.excavation, one.layout.dig
    to_pit_m = max(pit.distance(of_pit.geometry) - of_pit.half_width_m, 0.0)
    to_dig_m = max(dig.distance(of_stream.geometry) - of_stream.half_width_m, 0.0)
    by_hand = of_pit.against in one.hand_dig_by
    asked_m = of_pit.least_m if by_hand else of_pit.rule_m
    spares = (to_pit_m - asked_m, pit), (to_dig_m - min(asked_m, of_stream.rule_m), dig)
    spare_m, work = min(spares, key=lambda pair: pair[0])
    along_m, side = where_along(of_pit.geometry, work)
    return LineNeed(
        place=number,
        line_id=of_pit.against,
        distance_m=to_pit_m,
        required_m=of_pit.required_m,
        spare_m=spare_m,
        sigma_m=sigma_of_half_width(of_pit.uncertainty_m),
        along_m=along_m,
        side=side,
    )
