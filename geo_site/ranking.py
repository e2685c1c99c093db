"""Which of the places that work is the best, and why, in sentences.

In: candidates on which layout, excavation, catchment and route were worked out. Out: them in
order, each with a mark from 0 to 1 and a sentence for every criterion. Method: weighted mean of
the marks; a criterion whose input is missing for one candidate (no view point, no power, no
trees, ground not known) is left out for all alike. To add a criterion: one class and its name in
:data:`CRITERIA`. Reference: simple additive weighting, common practice, no source for the scales.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal

import geopandas as gpd
from shapely import union_all
from shapely.geometry.base import BaseGeometry

from geo_site.access import MachineRoute
from geo_site.clearance import rounded_down
from geo_site.earthwork import Excavation
from geo_site.layout import Layout
from geo_site.parameters import CubicMetres, Metres, Parameters, SquareMetres, setting
from geo_site.site import Site
from geo_site.siting import Placement
from geo_site.terrain import Catchment

__all__ = ["CRITERIA", "Candidate", "Criterion", "Mark", "Ranked", "RankingParameters", "rank"]

_PRACTICE = "common practice, no source"


def _weight(default: float, meaning: str) -> float:
    made: float = setting(
        default, unit="-", meaning=f"weight of {meaning}", source="our choice", within="[0, inf)"
    )
    return made


class RankingWeights(Parameters):
    """How much each criterion counts; 0 leaves it out."""

    fall: float = _weight(3.0, "the fall that the stream gets")
    view: float = _weight(1.5, "nearness to the view points")
    run_on: float = _weight(1.5, "storm water that runs onto the works")
    leaves: float = _weight(1.0, "leaf load from tree crowns")
    digging: float = _weight(1.5, "soil to dig and the share dug by hand")
    margin: float = _weight(2.0, "distance beyond what marked lines ask")
    access: float = _weight(1.0, "the machine's way")
    power: float = _weight(0.5, "nearness to power")


class RankingParameters(Parameters):
    """Weights, and the scales on which the marks fall from 1 to 0."""

    weights: RankingWeights = RankingWeights()
    view_best: Metres = setting(
        6.0, unit="m", meaning="view distance up to which the mark is 1", source=_PRACTICE,
        within="[0, inf)",
    )  # fmt: skip
    view_worst: Metres = setting(
        40.0, unit="m", meaning="view distance from which on the mark is 0", source=_PRACTICE,
        within="(0, inf)",
    )  # fmt: skip
    run_on_best: SquareMetres = setting(
        50.0, unit="m2", meaning="catchment up to which the mark is 1", source=_PRACTICE,
        within="(0, inf)",
    )  # fmt: skip
    run_on_worst: SquareMetres = setting(
        2000.0, unit="m2", meaning="catchment from which on the mark is 0", source=_PRACTICE,
        within="(0, inf)",
    )  # fmt: skip
    leaf_reach: Metres = setting(
        3.0, unit="m", meaning="how far beyond a crown its leaves count", source=_PRACTICE,
        within="[0, inf)",
    )  # fmt: skip
    digging_best: CubicMetres = setting(
        5.0, unit="m3", meaning="excavation up to which the mark is 1", source=_PRACTICE,
        within="[0, inf)",
    )  # fmt: skip
    digging_worst: CubicMetres = setting(
        60.0, unit="m3", meaning="excavation from which on the mark is 0", source=_PRACTICE,
        within="(0, inf)",
    )  # fmt: skip
    margin_best: Metres = setting(
        3.0, unit="m", meaning="distance beyond the asked one at which the mark is 1",
        source=_PRACTICE, within="(0, inf)",
    )  # fmt: skip
    route_worst: Metres = setting(
        80.0, unit="m", meaning="length of the machine's way at which its mark is 0",
        source=_PRACTICE, within="(0, inf)",
    )  # fmt: skip
    power_worst: Metres = setting(
        60.0, unit="m", meaning="distance to power at which its mark is 0", source=_PRACTICE,
        within="(0, inf)",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One place with all that was worked out on it.

    Attributes
    ----------
    placement : Placement
        Where the basin lies.
    layout : Layout
        Its stream.
    excavation : Excavation
        Its pit.
    catchment : Catchment
        Storm run-on to pit and bed.
    route : MachineRoute or None
        The machine's way.
    route_state : {"found", "none", "unknown"}
        ``unknown``: no access point was given.
    clearance_m : float
        From the excavation to the nearest marked line's outer edge; inf without lines.
    margin_m : float
        The least of clearance less what is asked, over all lines; inf without lines.
    hand_dig_by : tuple of str
        The lines beside which some of the excavation is dug by hand.
    hand_dig_m2 : float
        Excavation inside hand-dig ground.
    """

    placement: Placement
    layout: Layout
    excavation: Excavation
    catchment: Catchment
    route: MachineRoute | None
    route_state: Literal["found", "none", "unknown"]
    clearance_m: float
    margin_m: float
    hand_dig_by: tuple[str, ...]
    hand_dig_m2: float


@dataclass(frozen=True, kw_only=True)
class Mark:
    """What one criterion says of one candidate.

    Attributes
    ----------
    criterion : str
        Its name, as in the weights.
    score : float
        0 to 1, 1 is best.
    sentence : str
        The same for a person.
    """

    criterion: str
    score: float
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Ranked:
    """A candidate in its order.

    Attributes
    ----------
    rank : int
        1 is best.
    score : float
        Weighted mean of the marks.
    candidate : Candidate
        The place.
    marks : tuple of Mark
        One per criterion that counts.
    reason : str
        What a person would say about it: its best and its weakest points.
    """

    rank: int
    score: float
    candidate: Candidate
    marks: tuple[Mark, ...]
    reason: str


class Criterion(ABC):
    """One reason to prefer a place."""

    name: ClassVar[str]

    @abstractmethod
    def mark(self, site: Site, candidate: Candidate, scales: RankingParameters) -> Mark | None:
        """Give the mark, or None where the site says nothing about it."""

    def _say(self, score: float, sentence: str) -> Mark | None:
        if math.isnan(score):
            return None
        return Mark(criterion=self.name, score=min(max(score, 0.0), 1.0), sentence=sentence)


class Fall(Criterion):
    """More of the fall from the ground itself is better; a berm counts half."""

    name = "fall"

    def mark(self, site: Site, candidate: Candidate, scales: RankingParameters) -> Mark | None:
        """Score the share of the stream's fall that the ground gives."""
        layout = candidate.layout
        if not math.isfinite(layout.fall_m):
            return None
        ground_m = min(max(layout.ground_fall_m, 0.0), layout.fall_m)
        share = ground_m / layout.fall_m if layout.fall_m > 0.0 else 0.0
        told = f"falls {layout.fall_m:.2f} m over {layout.length_m:.1f} m"
        if layout.berm_height_m > 0.05:
            told += f", with a berm up to {layout.berm_height_m:.2f} m high"
        return self._say(0.5 + 0.5 * share, told)


class View(Criterion):
    """Near the place from which it is looked at."""

    name = "view"

    def mark(self, site: Site, candidate: Candidate, scales: RankingParameters) -> Mark | None:
        """Score the distance from the stream to the nearest view point."""
        distance_m = _nearest(candidate.layout.alignment, site.views)
        if distance_m is None:
            return None
        score = _down(distance_m, scales.view_best, scales.view_worst)
        return self._say(score, f"{distance_m:.0f} m from the nearest view point")


class RunOn(Criterion):
    """Little storm water from above."""

    name = "run_on"

    def mark(self, site: Site, candidate: Candidate, scales: RankingParameters) -> Mark | None:
        """Score the catchment on a logarithmic scale."""
        area_m2 = max(candidate.catchment.area_m2, 1.0)
        score = _down(
            math.log(area_m2), math.log(scales.run_on_best), math.log(scales.run_on_worst)
        )
        at_least = "at least " if candidate.catchment.reaches_terrain_edge else ""
        return self._say(score, f"storm water of {at_least}{area_m2:.0f} m2 runs onto it")


class Leaves(Criterion):
    """Away from crowns."""

    name = "leaves"

    def mark(self, site: Site, candidate: Candidate, scales: RankingParameters) -> Mark | None:
        """Score the share of basin and bed under crowns and their near surroundings."""
        reach_m = scales.leaf_reach
        crowns = [
            place.buffer(float(crown_m) + reach_m)
            for place, crown_m in zip(
                site.trees.geometry, site.trees["crown_radius_m"], strict=True
            )
            if place is not None and not place.is_empty and crown_m >= 0.0
        ]
        if not crowns:
            return None
        works = candidate.placement.footprint.union(candidate.layout.bed)
        share = float(works.intersection(union_all(crowns)).area / works.area)
        return self._say(1.0 - share, f"{100 * share:.0f} % of it near or under tree crowns")


class Digging(Criterion):
    """Little soil to dig, and little of it by hand."""

    name = "digging"

    def mark(self, site: Site, candidate: Candidate, scales: RankingParameters) -> Mark | None:
        """Score the excavated volume, less the share dug by hand."""
        bank_m3 = candidate.excavation.bank_m3
        if not math.isfinite(bank_m3):
            return None
        share = min(candidate.hand_dig_m2 / candidate.placement.excavation.area, 1.0)
        score = _down(bank_m3, scales.digging_best, scales.digging_worst) * (1.0 - share)
        told = f"{bank_m3:.1f} m3 to dig for the basin"
        if candidate.hand_dig_m2 > 0.0:
            beside = ", ".join(candidate.hand_dig_by)
            told += f", {candidate.hand_dig_m2:.1f} m2 of it by hand beside {beside}"
        return self._say(score, told)


class Margin(Criterion):
    """Well clear of marked lines."""

    name = "margin"

    def mark(self, site: Site, candidate: Candidate, scales: RankingParameters) -> Mark | None:
        """Score the distance beyond what the nearest line asks."""
        if not math.isfinite(candidate.clearance_m) or math.isnan(candidate.margin_m):
            return None
        score = max(candidate.margin_m, 0.0) / scales.margin_best
        found_m = rounded_down(candidate.clearance_m)
        return self._say(score, f"{found_m:.2f} m to the nearest marked line")


class Access(Criterion):
    """A short way in for the machine."""

    name = "access"

    def mark(self, site: Site, candidate: Candidate, scales: RankingParameters) -> Mark | None:
        """Score the length of the route; no way scores 0, no access point leaves it out."""
        if candidate.route_state == "unknown":
            return None
        if candidate.route is None:
            return self._say(0.0, "no way in for the machine")
        score = 1.0 - candidate.route.length_m / scales.route_worst
        told = f"{candidate.route.length_m:.0f} m for the machine"
        if candidate.route.hand_dig_m > 0.0:
            told += f", {candidate.route.hand_dig_m:.0f} m of it over hand-dig ground"
        return self._say(score, told)


class Power(Criterion):
    """Near electric power."""

    name = "power"

    def mark(self, site: Site, candidate: Candidate, scales: RankingParameters) -> Mark | None:
        """Score the distance from the basin to power."""
        distance_m = _nearest(candidate.placement.footprint, site.power)
        if distance_m is None:
            return None
        score = 1.0 - distance_m / scales.power_worst
        return self._say(score, f"{distance_m:.0f} m to power")


CRITERIA: tuple[Criterion, ...] = (
    Fall(),
    View(),
    RunOn(),
    Leaves(),
    Digging(),
    Margin(),
    Access(),
    Power(),
)
"""Every criterion, in the order in which it is told."""


def rank(
    site: Site, candidates: Sequence[Candidate], parameters: RankingParameters
) -> tuple[Ranked, ...]:
    """Put candidates in order.

    Parameters
    ----------
    site : Site
        With view points, power, trees.
    candidates : sequence of Candidate
        In the order of the search, which breaks ties.
    parameters : RankingParameters
        Weights and scales.

    Returns
    -------
    tuple of Ranked
        Best first.
    """
    judged = zip(_marks(site, candidates, parameters), candidates, strict=True)
    scored = [(_mean(marks, parameters.weights), marks, one) for marks, one in judged]
    scored.sort(key=lambda entry: -round(entry[0], 9))
    return tuple(
        Ranked(rank=i, score=score, candidate=one, marks=marks, reason=_reason(marks))
        for i, (score, marks, one) in enumerate(scored, start=1)
    )


def _marks(
    site: Site, candidates: Sequence[Candidate], scales: RankingParameters
) -> list[tuple[Mark, ...]]:
    """Marks of each candidate, by the criteria that say something about all of them."""
    rows: list[list[Mark]] = [[] for _ in candidates]
    for criterion in CRITERIA:
        if getattr(scales.weights, criterion.name) <= 0.0:
            continue
        column = [criterion.mark(site, one, scales) for one in candidates]
        told = [mark for mark in column if mark is not None]
        if len(told) == len(column):
            for row, mark in zip(rows, told, strict=True):
                row.append(mark)
    return [tuple(row) for row in rows]


def _mean(marks: Sequence[Mark], weights: RankingWeights) -> float:
    total = sum(getattr(weights, mark.criterion) for mark in marks)
    if total == 0.0:
        return 0.0
    return float(sum(getattr(weights, mark.criterion) * mark.score for mark in marks) / total)


def _reason(marks: Sequence[Mark]) -> str:
    """All sentences, what speaks for the place before what speaks against it."""
    if not marks:
        return "nothing tells it from the others"
    good = [mark.sentence for mark in marks if mark.score >= 0.5]
    weak = [mark.sentence for mark in marks if mark.score < 0.5]
    told = ", ".join(good)
    if not weak:
        return told
    return f"{told}; but {', '.join(weak)}" if told else ", ".join(weak)


def _nearest(work: BaseGeometry, points: gpd.GeoDataFrame) -> float | None:
    places: list[BaseGeometry] = [
        place for place in points.geometry if place is not None and not place.is_empty
    ]
    return min((float(work.distance(place)) for place in places), default=None)


def _down(value: float, best: float, worst: float) -> float:
    """1 up to ``best``, 0 from ``worst`` on, straight between."""
    if worst <= best:
        return 1.0 if value <= best else 0.0
    return min(max((worst - value) / (worst - best), 0.0), 1.0)
