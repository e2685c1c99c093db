"""How sure the plan is: ranges of its figures, its places ranked anew, what measuring would help.

In: what was chosen, the proposal, its clearances. Out: a
:class:`~geo_site.certainty.Certainty`, or None where the settings leave it out. Method: grounds and
lines are drawn together; on each, the marks that rest on them (fall, run-on, digging, margin) are
given by the ranking's own criteria and the others are kept, so the share of draws in which a place
scores most is its chance to stay the best. Reference: ``geo_site.certainty``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.certainty import (
    Certainty,
    CertaintyParameters,
    Decision,
    Draws,
    LineNeed,
    PlaceCertainty,
    Range,
    Reading,
    Scene,
    Spot,
    Sum,
    WorkRange,
    Worth,
    clearance_ranges,
    draw_shifts,
    drop_sum,
    error_model,
    expected_gain,
    fall_sum,
    fall_told,
    line_covariance,
    lowest,
    pit_sum,
    quantile_range,
    range_of,
    reflected_range,
    sigma_of,
    simulate,
    spot_of,
    unknown_range,
    where_along,
)
from geo_site.clearance import Clearance
from geo_site.constraints import Requirement, requirements
from geo_site.error_fields import ErrorModel, cell_model, covariance_of_sums
from geo_site.plan.choosing import Choice
from geo_site.plan.results import Proposal
from geo_site.probability import NORMAL_95, chance_of_at_least, sigma_of_half_width
from geo_site.ranking import CRITERIA, Candidate, Ranked
from geo_site.visit import Gain

__all__ = ["gain_of", "how_sure"]

Floats = NDArray[np.float64]

_ON_GROUND_OR_LINES = frozenset({"fall", "run_on", "digging", "margin"})
_DROP, _BARE = "drop from spillway to basin rim", "line laid bare"
_TIE = 9  # decimals to which scores are told apart, as the ranking does


def how_sure(
    choice: Choice, proposal: Proposal, clearances: Sequence[Clearance]
) -> Certainty | None:
    """Work out how sure a plan is.

    Parameters
    ----------
    choice : Choice
        Places, ranked.
    proposal : Proposal
        The best in full.
    clearances : sequence of Clearance
        Of its works.

    Returns
    -------
    Certainty or None
        None where the settings ask for no simulations.
    """
    parameters = choice.job.used.certainty
    if parameters.simulations == 0:
        return None
    desk = _desk(choice, proposal)
    draws = simulate(desk.scene, desk.model, parameters)
    needs = _line_needs(choice)
    places = _places(desk, draws, needs)
    fall_m = proposal.layout.fall_m
    sigma_m = sigma_of(desk.falls[0], desk.model)
    assumed = math.isnan(choice.job.site.rmse_z_m)
    least_m = max(_can_have(choice.ranked[0].candidate) - NORMAL_95 * sigma_m, 0.0)
    return Certainty(
        rmse_z_m=desk.model.rmse_m,
        is_assumed=assumed,
        simulations=draws.runs if draws else 0,
        wanted_fall_m=choice.job.used.layout.wanted_fall,
        needed_fall_m=_needed(choice),
        fall=range_of(fall_m, sigma_m, "m"),
        asserted_fall_m=math.nan if assumed else least_m,
        places=places,
        catchments=_catchments(desk, draws, proposal),
        **_soil(desk, proposal),
        clearances=clearance_ranges(clearances),
        worth=_worth(desk, needs),
        notes=tuple(_notes(desk, draws, assumed)),
    )


def gain_of(certainty: Certainty | None, proposal: Proposal | None) -> Gain | None:
    """Say what measuring would help, for the list of what to check on site.

    Parameters
    ----------
    certainty : Certainty or None
        How sure the plan is.
    proposal : Proposal or None
        The works proposed.

    Returns
    -------
    Gain or None
        None without the one or the other.
    """
    if certainty is None or proposal is None:
        return None
    drops = {row.rank: row.settles for row in certainty.worth if row.measurement == _DROP}
    return Gain(
        fall=fall_told(certainty, "si"),
        lines={row.subject: row.settles for row in certainty.worth if row.measurement == _BARE},
        drop=drops[proposal.best.rank],
        other_drops={rank: drops[rank] for rank in sorted(drops) if rank != proposal.best.rank},
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Desk:
    """What all the figures are worked out from."""

    choice: Choice
    model: ErrorModel
    cells: ErrorModel
    parameters: CertaintyParameters
    spots: tuple[Spot, ...]
    falls: tuple[Sum, ...]
    scene: Scene


def _desk(choice: Choice, proposal: Proposal) -> _Desk:
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
    return _Desk(
        choice=choice,
        model=model,
        cells=cell_model(model, ground.cell_width_m, ground.cell_height_m),
        parameters=job.used.certainty,
        spots=spots,
        falls=tuple(fall_sum(spot, ground) for spot in spots),
        scene=Scene(
            terrain=job.terrain,
            spots=spots,
            works=works,
            catchments=[one.catchment.geometry for one in found],
            holes_drain=job.used.terrain.holes == "outlet",
        ),
    )


def _needed(choice: Choice) -> float:
    used = choice.job.used
    return max(used.layout.wanted_fall - used.certainty.shortfall, 0.0)


def _can_have(one: Candidate) -> float:
    """Fall that the ground gives with the berm as drawn, first sill to last, m."""
    layout = one.layout
    cut_m = max(float(layout.ground_m[0]) - layout.lip_level_m, 0.0)
    return layout.fall_m + cut_m


def _places(
    desk: _Desk, draws: Draws | None, needs: Sequence[LineNeed]
) -> tuple[PlaceCertainty, ...]:
    best = _chances_best(desk, draws, needs)
    return tuple(
        _place(desk, draws, number, ranked, float(best[number]))
        for number, ranked in enumerate(desk.choice.ranked)
    )


def _place(
    desk: _Desk, draws: Draws | None, number: int, ranked: Ranked, chance_best: float
) -> PlaceCertainty:
    one, spot = ranked.candidate, desk.spots[number]
    ground = desk.choice.job.terrain.ground
    sigma_m = sigma_of(desk.falls[number], desk.model)
    rim_m = one.placement.rim_level_m
    overflow_m = float(ground.sample(lowest(spot.edge, ground))[0])
    return PlaceCertainty(
        rank=ranked.rank,
        fall=range_of(one.layout.ground_fall_m, sigma_m, "m"),
        chance_of_fall=chance_of_at_least(_needed(desk.choice), _can_have(one), sigma_m),
        chance_best=chance_best,
        rim=_level(rim_m, draws.rim_m[:, number] if draws else None),
        overflow=_level(overflow_m, draws.overflow_m[:, number] if draws else None),
        excavation=_volume(one.excavation.bank_m3, desk, draws, number),
        catchment=_area(one.catchment.area_m2, draws, number),
    )


def _volume(value_m3: float, desk: _Desk, draws: Draws | None, number: int) -> Range:
    """Range of a pit: found on drawn grounds, else to first order, with its edge kept."""
    if draws is not None:
        return reflected_range(value_m3, draws.dug_m3[:, number], "m3", least=0.0)
    spot, ground = desk.spots[number], desk.choice.job.terrain.ground
    pit = pit_sum(spot.pit, lowest(spot.outline, ground), ground)
    return range_of(value_m3, sigma_of(pit, desk.cells), "m3", least=0.0)


def _level(value_m: float, changes_m: Floats | None) -> Range:
    if changes_m is None:
        return unknown_range(value_m, "m")
    return reflected_range(value_m, changes_m, "m")


def _area(value_m2: float, draws: Draws | None, number: int) -> Range:
    if draws is None:
        return unknown_range(value_m2, "m2")
    return quantile_range(value_m2, draws.area_m2[:, number], "m2")


def _catchments(desk: _Desk, draws: Draws | None, proposal: Proposal) -> tuple[WorkRange, ...]:
    first = len(desk.spots)
    return tuple(
        WorkRange(work=area.work, range=_area(area.area_m2, draws, first + number))
        for number, area in enumerate(proposal.catchments)
    )


def _soil(desk: _Desk, proposal: Proposal) -> dict[str, Range]:
    """Soil left over, piled and hauled: what the pile does not take is hauled."""
    moved = proposal.earthwork
    sigma_m3 = sigma_of(_spoil_sum(desk, proposal), desk.cells)
    spoil = range_of(moved.loose_m3, sigma_m3, "m3", least=0.0)
    piled_m3 = moved.pile.volume_m3 if moved.pile else 0.0
    if not spoil.is_known:
        unknown = unknown_range(moved.haul_m3, "m3")
        return {"spoil": spoil, "pile": unknown_range(piled_m3, "m3"), "haul": unknown}
    pile = replace(spoil, value=piled_m3, low=min(spoil.low, piled_m3), high=piled_m3)
    if moved.haul_m3 <= 0.0:
        pile = replace(pile, high=spoil.high)
    haul = replace(
        spoil,
        value=moved.haul_m3,
        low=max(spoil.low - piled_m3, 0.0),
        high=max(spoil.high - piled_m3, 0.0),
    )
    return {"spoil": spoil, "pile": pile, "haul": haul}


def _spoil_sum(desk: _Desk, proposal: Proposal) -> Sum:
    """Weights of the loose soil left over: all levels hang on the rim, pit and stream alike."""
    moved, layout, spot = proposal.earthwork, proposal.layout, desk.spots[0]
    ground = desk.choice.job.terrain.ground
    rim = lowest(spot.outline, ground)
    berm = Polygon() if layout.berm is None else layout.berm.difference(spot.pit)
    cut = layout.dig.difference(spot.pit).difference(berm)
    parts = [
        (pit_sum(area, rim, ground), share * moved.swell_factor)
        for area, share in ((spot.pit, 1.0), (cut, 1.0), (berm, 1.0 / moved.shrink_factor))
    ]
    return (
        np.vstack([points for (points, _), _ in parts]),
        np.concatenate([weights * share for (_, weights), share in parts]),
    )


def _line_needs(choice: Choice) -> tuple[LineNeed, ...]:
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


def _chances_best(desk: _Desk, draws: Draws | None, needs: Sequence[LineNeed]) -> Floats:
    """Share of the draws in which each place scores most; of equal ones the first."""
    count = len(desk.spots)
    if draws is None:
        return np.full(count, np.nan)
    generator = np.random.default_rng([desk.parameters.seed, 1])
    shifts_m = draw_shifts(needs, desk.parameters.line_range, draws.runs, generator)
    scores = np.column_stack(
        [_scores(desk, draws, needs, shifts_m, number) for number in range(count)]
    )
    return np.bincount(np.argmax(scores.round(_TIE), axis=1), minlength=count) / draws.runs


def _scores(
    desk: _Desk, draws: Draws, needs: Sequence[LineNeed], shifts_m: Floats, number: int
) -> Floats:
    """Scores of one place on each drawn ground, with lines as drawn with it."""
    site, scales = desk.choice.job.site, desk.choice.job.used.ranking
    ranked = desk.choice.ranked[number]
    own = [i for i, need in enumerate(needs) if need.place == number]
    distances_m = np.array([needs[i].distance_m for i in own]) + shifts_m[:, own]
    asked_m = np.array([needs[i].required_m for i in own])
    marks = {mark.criterion: mark.score for mark in ranked.marks}
    weights = {name: float(getattr(scales.weights, name)) for name in marks}
    kept = sum(weights[name] * marks[name] for name in marks if name not in _ON_GROUND_OR_LINES)
    anew = [c for c in CRITERIA if c.name in marks and c.name in _ON_GROUND_OR_LINES]
    total, scores = sum(weights.values()), np.full(draws.runs, kept)
    for run in range(draws.runs):
        one = _as_drawn(ranked.candidate, draws, run, number)
        if own:
            one = replace(
                one,
                clearance_m=max(float(distances_m[run].min()), 0.0),
                margin_m=float((distances_m[run] - asked_m).min()),
            )
        for criterion in anew:
            mark = criterion.mark(site, one, scales)
            scores[run] += weights[criterion.name] * (mark.score if mark else 0.0)
    return scores / total if total > 0.0 else scores


def _as_drawn(one: Candidate, draws: Draws, run: int, number: int) -> Candidate:
    """A candidate with the figures that one drawn ground gives it."""
    fall_m = one.layout.ground_fall_m + float(draws.fall_m[run, number])
    bank_m3 = max(one.excavation.bank_m3 + float(draws.dug_m3[run, number]), 0.0)
    return replace(
        one,
        layout=replace(one.layout, ground_fall_m=fall_m),
        excavation=replace(one.excavation, bank_m3=bank_m3),
        catchment=replace(one.catchment, area_m2=float(draws.area_m2[run, number])),
    )


def _worth(desk: _Desk, needs: Sequence[LineNeed]) -> tuple[Worth, ...]:
    """Every measurement with its expected gain, the greatest first."""
    decision = _decision(desk, needs)
    rows = [
        Worth(
            subject=subject,
            measurement=measurement,
            rank=desk.choice.ranked[number].rank,
            settles=expected_gain(decision, reading),
        )
        for subject, measurement, number, reading in (
            *_levels(desk, len(needs)),
            *_exposures(desk, needs),
        )
    ]
    return tuple(sorted(rows, key=lambda row: -round(row.settles, _TIE)))


def _decision(desk: _Desk, needs: Sequence[LineNeed]) -> Decision:
    """Build one of the places or none: each needs its fall, and its distance from each line."""
    ranked = desk.choice.ranked
    falls = _covariances(desk.falls, desk.falls, desk.model)
    lines = line_covariance(needs, desk.parameters.line_range)
    count, size = len(falls), len(falls) + len(lines)
    both = np.zeros((size, size))
    both[:count, :count], both[count:, count:] = falls, lines
    spare = [_can_have(row.candidate) - _needed(desk.choice) for row in ranked]
    return Decision(
        worth=np.array([row.score for row in ranked]),
        spare=np.array([*spare, *(need.spare_m for need in needs)]),
        covariance=both,
        prospect=np.array([*range(count), *(need.place for need in needs)], dtype=np.int64),
        cost_of_failing=desk.parameters.cost_of_failing,
    )


def _covariances(one: Sequence[Sum], two: Sequence[Sum], model: ErrorModel) -> Floats:
    found = [[covariance_of_sums(a, b, model) for b in two] for a in one]
    return np.array(found).reshape(len(one), len(two))


def _levels(desk: _Desk, lines: int) -> Iterable[tuple[str, str, int, Reading]]:
    """Levels at each place: the drop, or one of its two ends against the terrain's datum."""
    ground, error_m = desk.choice.job.terrain.ground, desk.parameters.level_error
    for number, spot in enumerate(desk.spots):
        rim = lowest(spot.outline, ground)
        told = (
            (_DROP, drop_sum(spot.lip, rim)),
            ("level of the spillway, in the terrain's datum", (spot.lip, np.ones(1))),
            ("level of the basin rim, in the terrain's datum", (rim, np.ones(1))),
        )
        for measurement, weights in told:
            with_falls = _covariances([weights], desk.falls, desk.model)[0]
            yield (
                "terrain",
                measurement,
                number,
                Reading(
                    covariance=np.append(with_falls, np.zeros(lines)),
                    variance=covariance_of_sums(weights, weights, desk.model),
                    error=error_m,
                ),
            )


def _exposures(desk: _Desk, needs: Sequence[LineNeed]) -> Iterable[tuple[str, str, int, Reading]]:
    """Each line laid bare beside the place that has least to spare from it."""
    covariance = line_covariance(needs, desk.parameters.line_range)
    places = len(desk.spots)
    for line_id in dict.fromkeys(need.line_id for need in needs):
        own = [i for i, need in enumerate(needs) if need.line_id == line_id]
        at = min(own, key=lambda i: needs[i].spare_m)
        reading = Reading(
            covariance=np.append(np.zeros(places), covariance[at]),
            variance=float(covariance[at, at]),
            error=desk.parameters.exposed_error,
        )
        yield line_id, _BARE, needs[at].place, reading


def _notes(desk: _Desk, draws: Draws | None, assumed: bool) -> Iterable[str]:
    asked = desk.parameters.simulations
    if assumed:
        yield (
            f"The terrain's error is not stated: {desk.model.rmse_m:.2f} m was assumed, and "
            "nothing is asserted."
        )
    if draws is None:
        yield "Too few grounds were drawn: rims, catchments and the best place have no range."
    elif draws.runs < asked:
        yield f"{draws.runs} of {asked} grounds were drawn: the window is large (most_cells)."
    if draws is not None and draws.reaches_edge.any():
        yield "A catchment came to the edge of the data: the upper end of its range is too low."
