"""Rules that drawn works break, beside the distances that the clearances judge.

In: a choice with drawn works, and the proposal round them. Out: a row for each broken rule. The
works stay as they are drawn. Method: areas that are off limits as a whole (off the lot, steep,
wet, without terrain, kept off by the user) against the ground each work takes; limits of basin
and stream; water; what lies on what.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from shapely import union_all
from shapely.geometry.base import BaseGeometry

from geo_site.constraints import Work
from geo_site.drawn import Breach
from geo_site.plan.choosing import Choice
from geo_site.plan.neighbours import neighbour_breaches
from geo_site.plan.results import Proposal

__all__ = ["find_breaches"]

_AREAS = frozenset({"outside_parcel", "keep_off", "steep", "concentrated_flow", "no_terrain"})
"""Constraints that take ground as a whole; objects' distances are clearances."""
_WORDS = {
    "outside_parcel": "lie outside the lot",
    "keep_off": "lie on ground that is to be kept off",
    "steep": "lie on ground steeper than constraints.steepest",
    "concentrated_flow": "lie where storm water runs concentrated",
    "no_terrain": "lie where the ground is not known",
}
_Taken = tuple[str, Work, BaseGeometry]
_LEAST_M2 = 0.01
_FENCE_M = 0.05


def find_breaches(choice: Choice, proposal: Proposal | None) -> tuple[Breach, ...]:
    """List the rules that drawn works break.

    Parameters
    ----------
    choice : Choice
        With the ground that each kind of work may use.
    proposal : Proposal or None
        Drawn works and what was worked out round them; None: no stream gets to the basin drawn,
        and only that is judged.

    Returns
    -------
    tuple of Breach
        Empty where nothing is drawn.
    """
    if not choice.job.site.fixed.has_works:
        return ()
    basin = (*_of_basin(choice), *_of_ground(choice, _taken_by_basin(choice)))
    if proposal is None:
        return basin
    return (
        *basin,
        *_of_stream(choice),
        *_of_water(proposal),
        *_of_ground(choice, _taken(choice, proposal)),
        *neighbour_breaches(choice, proposal),
    )


def _of_basin(choice: Choice) -> Iterator[Breach]:
    pinned, used = choice.job.pinned, choice.job.used.siting
    if pinned is None:
        return
    laid, design = pinned.placement.arrangement, pinned.design
    if pinned.rise_m > used.greatest_rise:
        told = (
            f"the ground under the pit rises by {pinned.rise_m:.2f} m, more than the "
            f"{used.greatest_rise:g} m of siting.greatest_rise: turn it along the contour"
        )
        yield _breach("basin", "greatest_rise", used.greatest_rise, pinned.rise_m, told)
    elongation = laid.length_m / laid.width_m
    if elongation > used.most_elongated * (1.0 + 1e-9):
        told = (
            f"the basin is {elongation:.1f} times as long as wide, more than the "
            f"{used.most_elongated:g} of siting.most_elongated"
        )
        yield _breach("basin", "most_elongated", used.most_elongated, elongation, told, "-")
    deep_m = pinned.placement.greatest_depth_m
    if deep_m >= design.deepest_m:
        told = (
            f"the pit is {deep_m:.2f} m deep: sides this steep are allowed only above "
            f"{design.deepest_m:.2f} m"
        )
        yield _breach("basin_excavation", "protection", design.deepest_m, deep_m, told)


def _of_stream(choice: Choice) -> Iterator[Breach]:
    if choice.followed is not None:
        yield from choice.followed.breaches


def _of_water(proposal: Proposal) -> Iterator[Breach]:
    water = proposal.water
    check = water.kept.check
    if not check.is_enough:
        told = (
            f"the basin holds {water.usable_m3:.2f} m3 that can be pumped and "
            f"{water.required_m3:.2f} m3 are needed: draw it larger"
        )
        yield _breach("basin", "storage", water.required_m3, water.usable_m3, told, "m3")
    if water.is_refused:
        told = "the stream does not carry the flow wanted: the warnings say why"
        yield _breach("stream", "flow", math.nan, math.nan, told, "-")


def _of_ground(choice: Choice, works: Iterable[_Taken]) -> Iterator[Breach]:
    """Areas off limits against the ground that each work takes."""
    for name, kind, taken in works:
        found: dict[tuple[str, str], float] = {}
        for piece in choice.found.grounds[kind].pieces:
            if piece.reason in _AREAS:
                shared_m2 = float(piece.geometry.intersection(taken).area)
                key = (piece.reason, piece.source_id)
                found[key] = found.get(key, 0.0) + shared_m2
        for (reason, source_id), area_m2 in found.items():
            if area_m2 > _LEAST_M2:
                told = f"{area_m2:.2f} m2 of the {name.replace('_', ' ')} {_WORDS[reason]}"
                yield Breach(
                    work=name,
                    rule=reason,
                    against=source_id,
                    asked=0.0,
                    found=area_m2,
                    unit="m2",
                    sentence=told,
                )


def _taken_by_basin(choice: Choice) -> Iterator[_Taken]:
    if choice.job.pinned is not None:
        yield "basin_excavation", "basin", choice.job.pinned.placement.excavation


def _taken(choice: Choice, proposal: Proposal) -> Iterator[_Taken]:
    works, site = proposal.works, choice.job.site
    if choice.job.pinned is None:
        yield "basin_excavation", "basin", proposal.placement.excavation
    yield "stream", "stream", proposal.layout.dig
    if proposal.layout.berm is not None:
        yield "stream_berm", "stream", proposal.layout.berm
    yield "pipe", "pipe", proposal.layout.trench
    if works.spoil_pile is not None:
        yield "spoil_pile", "pile", works.spoil_pile
    if works.silt_fence is not None:
        yield "silt_fence", "fence", works.silt_fence.buffer(_FENCE_M)
    if works.machine_route is not None:
        entries = site.access.geometry.buffer(choice.job.used.access.entry).tolist()
        yield "machine_route", "machine", works.machine_route.difference(union_all(entries))


def _breach(
    work: str, rule: str, asked: float, found: float, sentence: str, unit: str = "m"
) -> Breach:
    return Breach(
        work=work,
        rule=rule,
        against="",
        asked=asked,
        found=found,
        unit=unit,
        sentence=sentence,
    )
