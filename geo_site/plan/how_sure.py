"""How sure the plan is: ranges of its figures, its places ranked anew, what measuring would help.

In: what was chosen, the proposal, its clearances. Out: a
:class:`~geo_site.certainty.Certainty`, or None where the settings leave it out. Method: grounds and
lines are drawn together; on each, the marks that rest on them (fall, run-on, digging, margin) are
given by the ranking's own criteria and the others are kept, so the share of draws in which a place
scores most is its chance to stay the best. Reference: ``geo_site.certainty``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from geo_site.certainty import (
    Certainty,
    Draws,
    LineNeed,
    PlaceCertainty,
    Range,
    WorkRange,
    area_range,
    changed_range,
    clearance_ranges,
    draw_shifts,
    fall_told,
    lowest,
    pit_sum,
    range_of,
    sigma_of,
    simulate,
    unknown_range,
)
from geo_site.clearance import Clearance
from geo_site.plan.choosing import Choice
from geo_site.plan.measuring import BARE, DROP, worth_of
from geo_site.plan.results import Proposal
from geo_site.plan.sure_desk import (
    Desk,
    desk_of,
    fall_to_be_had,
    line_needs,
    needed_fall,
    shaped_ground,
)
from geo_site.probability import NORMAL_95, chance_of_at_least
from geo_site.ranking import CRITERIA, Candidate, Ranked
from geo_site.visit import Gain

__all__ = ["gain_of", "how_sure"]

Floats = NDArray[np.float64]
T = TypeVar("T")

_ON_GROUND_OR_LINES = frozenset({"fall", "run_on", "digging", "margin"})
_MOST_GROUNDS = 3  # up to 45 MB each
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
    desk = desk_of(choice, proposal)
    draws = simulate(desk.scene, desk.model, parameters, _kept_of(choice))
    needs = line_needs(choice)
    places = _places(desk, draws, needs)
    fall_m = proposal.layout.fall_m
    sigma_m = sigma_of(desk.falls[0], desk.model, desk.detail)
    assumed = math.isnan(choice.job.site.rmse_z_m)
    least_m = max(fall_to_be_had(choice.ranked[0].candidate) - NORMAL_95 * sigma_m, 0.0)
    return Certainty(
        rmse_z_m=desk.model.rmse_m,
        is_assumed=assumed,
        simulations=draws.runs if draws else 0,
        wanted_fall_m=choice.job.used.layout.wanted_fall,
        needed_fall_m=needed_fall(choice),
        fall=range_of(fall_m, sigma_m, "m"),
        asserted_fall_m=math.nan if assumed else least_m,
        places=places,
        catchments=_catchments(desk, draws, proposal),
        **_soil(desk, draws, proposal),
        clearances=clearance_ranges(clearances),
        worth=worth_of(desk, needs),
        notes=tuple(_notes(desk, draws, assumed)),
    )


def _kept_of(choice: Choice) -> Callable[[Hashable, Callable[[], T]], T]:
    """Keep the last drawn grounds with what else is kept of the site; they hang on the terrain."""
    job = choice.job
    terrain = job.used.terrain.model_dump_json()
    return lambda read, make: job.kept.get("grounds", (terrain, read), make, most=_MOST_GROUNDS)


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
    drops = {row.rank: row.settles for row in certainty.worth if row.measurement == DROP}
    return Gain(
        fall=fall_told(certainty, "si"),
        lines={row.subject: row.settles for row in certainty.worth if row.measurement == BARE},
        drop=drops[proposal.best.rank],
        other_drops={rank: drops[rank] for rank in sorted(drops) if rank != proposal.best.rank},
    )


def _places(
    desk: Desk, draws: Draws | None, needs: Sequence[LineNeed]
) -> tuple[PlaceCertainty, ...]:
    best = _chances_best(desk, draws, needs)
    return tuple(
        _place(desk, draws, number, ranked, float(best[number]))
        for number, ranked in enumerate(desk.choice.ranked)
    )


def _place(
    desk: Desk, draws: Draws | None, number: int, ranked: Ranked, chance_best: float
) -> PlaceCertainty:
    one, spot = ranked.candidate, desk.spots[number]
    ground = desk.choice.job.terrain.ground
    sigma_m = sigma_of(desk.falls[number], desk.model, desk.detail)
    rim_m = one.placement.rim_level_m
    overflow_m = float(ground.sample(lowest(spot.edge, ground))[0])
    return PlaceCertainty(
        rank=ranked.rank,
        fall=range_of(one.layout.ground_fall_m, sigma_m, "m"),
        chance_of_fall=chance_of_at_least(needed_fall(desk.choice), fall_to_be_had(one), sigma_m),
        chance_best=chance_best,
        rim=_level(rim_m, draws.rim_m[:, number] if draws else None),
        overflow=_level(overflow_m, draws.overflow_m[:, number] if draws else None),
        excavation=_volume(one.excavation.bank_m3, desk, draws, number),
        catchment=_area(one.catchment.area_m2, draws, number),
    )


def _volume(value_m3: float, desk: Desk, draws: Draws | None, number: int) -> Range:
    """Range of a pit: found on drawn grounds, else to first order, with its edge kept."""
    if draws is not None:
        return changed_range(value_m3, draws.dug_m3[:, number], "m3", least=0.0)
    spot, ground = desk.spots[number], desk.choice.job.terrain.ground
    pit = pit_sum(spot.pit, lowest(spot.outline, ground), ground)
    sigma_m3 = math.hypot(sigma_of(pit, desk.cells, desk.detail), _dug_m3(desk, number))
    return range_of(value_m3, sigma_m3, "m3", least=0.0)


def _dug_m3(desk: Desk, number: int) -> float:
    """What a floor dug one standard deviation too deep adds to a pit, to first order."""
    return float(desk.spots[number].pit.area) * desk.parameters.dug_error


def _level(value_m: float, changes_m: Floats | None) -> Range:
    if changes_m is None:
        return unknown_range(value_m, "m")
    return changed_range(value_m, changes_m, "m")


def _area(value_m2: float, draws: Draws | None, number: int) -> Range:
    if draws is None:
        return unknown_range(value_m2, "m2")
    return area_range(value_m2, draws, number)


def _catchments(desk: Desk, draws: Draws | None, proposal: Proposal) -> tuple[WorkRange, ...]:
    first = len(desk.spots)
    return tuple(
        WorkRange(work=area.work, range=_area(area.area_m2, draws, first + number))
        for number, area in enumerate(proposal.catchments)
    )


def _soil(desk: Desk, draws: Draws | None, proposal: Proposal) -> dict[str, Range]:
    """Soil left over, piled and hauled: what the pile does not take is hauled."""
    moved = proposal.earthwork
    spoil = _spoil(desk, draws, proposal)
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


def _spoil(desk: Desk, draws: Draws | None, proposal: Proposal) -> Range:
    """Loose soil left over: all levels hang on the rim, those of pit and stream alike."""
    moved = proposal.earthwork
    shares = np.array([1.0, 1.0 / moved.shrink_factor]) * moved.swell_factor
    if draws is not None:
        sizes_m2 = np.array([area.area for area in shaped_ground(proposal)])
        shaped_m3 = draws.lift_m3 - draws.rim_m[:, :1] * sizes_m2
        changes_m3 = moved.swell_factor * draws.dug_m3[:, 0] + shaped_m3 @ shares
        return changed_range(moved.loose_m3, changes_m3, "m3", least=0.0)
    spot, ground = desk.spots[0], desk.choice.job.terrain.ground
    rim = lowest(spot.outline, ground)
    parts = [pit_sum(area, rim, ground) for area in (spot.pit, *shaped_ground(proposal))]
    points = np.vstack([part[0] for part in parts])
    factors = (moved.swell_factor, *shares)
    weights = [part[1] * share for part, share in zip(parts, factors, strict=True)]
    of_ground_m3 = sigma_of((points, np.concatenate(weights)), desk.cells, desk.detail)
    sigma_m3 = math.hypot(of_ground_m3, moved.swell_factor * _dug_m3(desk, 0))
    return range_of(moved.loose_m3, sigma_m3, "m3", least=0.0)


def _chances_best(desk: Desk, draws: Draws | None, needs: Sequence[LineNeed]) -> Floats:
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
    desk: Desk, draws: Draws, needs: Sequence[LineNeed], shifts_m: Floats, number: int
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
    total, scores = sum(weights.values()), np.full(draws.runs, float(kept))
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
    bank_m3 = max(one.excavation.bank_m3 + float(draws.drawn_m3[run, number]), 0.0)
    return replace(
        one,
        layout=replace(one.layout, ground_fall_m=fall_m),
        excavation=replace(one.excavation, bank_m3=bank_m3),
        catchment=replace(one.catchment, area_m2=float(draws.area_m2[run, number])),
    )


def _notes(desk: Desk, draws: Draws | None, assumed: bool) -> Iterable[str]:
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
