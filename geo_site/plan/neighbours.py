"""Drawn works that lie on each other, too near to an edge, or do not meet where they should.

In: a choice with drawn works, and the proposal round them. Out: a row for each broken rule.
Method: exact distances between the works as they lie.
"""

from __future__ import annotations

from collections.abc import Iterator

from shapely import union_all
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.access import MachineRoute
from geo_site.drawn import Breach
from geo_site.layout import Layout
from geo_site.plan.choosing import Choice
from geo_site.plan.results import Proposal

__all__ = ["neighbour_breaches"]

_CHORD_M = 0.002  # a zone's round corners are chords: what keeps to it may be this much nearer
_MET_M = 0.01
_SLOPE = 1e-6
_LEAST_M2 = 0.01


def neighbour_breaches(choice: Choice, proposal: Proposal) -> Iterator[Breach]:
    """Compare drawn works with those beside them.

    Parameters
    ----------
    choice : Choice
        With what is drawn, and the settings.
    proposal : Proposal
        All works.

    Yields
    ------
    Breach
        Only of works that are drawn.
    """
    fixed = choice.job.site.fixed
    if fixed.spoil_pile is not None:
        yield from _of_pile(fixed.spoil_pile, choice, proposal)
    if fixed.machine_route is not None:
        for leads_to, route in proposal.routes:
            yield from _of_route(leads_to, route, choice, proposal)
    if fixed.pipe is not None:
        yield from _of_pipe(proposal)


def _dug(proposal: Proposal) -> dict[str, BaseGeometry]:
    """Ground with an edge that nothing heavy may come near."""
    layout = proposal.layout
    return {"pit": proposal.placement.excavation, "stream": _with_berm(layout)}


def _with_berm(layout: Layout) -> BaseGeometry:
    return layout.dig if layout.berm is None else layout.dig.union(layout.berm)


def _of_pile(toe: Polygon, choice: Choice, proposal: Proposal) -> Iterator[Breach]:
    rules = choice.job.used.earthwork
    dug = _dug(proposal) | {"pipe's trench": proposal.layout.trench}
    for name, area in dug.items():
        away_m = toe.distance(area)
        where = (
            f"stands {away_m:.2f} m from the edge of the {name}"
            if away_m
            else f"lies on the {name}"
        )
        told = f"the spoil pile drawn {where}"
        yield from _nearer(("spoil_pile", "pile_setback"), rules.pile_setback, away_m, told)
    paths = [*(path.line for path in choice.job.terrain.flow_paths), proposal.overflow.line]
    away_m = toe.distance(union_all(paths))
    told = f"the spoil pile drawn stands {away_m:.2f} m from where storm water runs"
    yield from _nearer(("spoil_pile", "flow_path_setback"), rules.flow_path_setback, away_m, told)


def _of_route(
    leads_to: str, route: MachineRoute, choice: Choice, proposal: Proposal
) -> Iterator[Breach]:
    used, pile = choice.job.used, proposal.earthwork.pile
    asked_m = used.earthwork.pile_setback
    for name, area in _dug(proposal).items():
        away_m = route.corridor.distance(area)
        where = f"passes {away_m:.2f} m from the edge of" if away_m else "runs over"
        told = f"the machine's way to the {leads_to} {where} the {name}"
        yield from _nearer(("machine_route", "pile_setback"), asked_m, away_m, told)
    shared_m2 = route.corridor.intersection(pile.geometry).area if pile else 0.0
    if shared_m2 > _LEAST_M2:
        told = f"the machine's way to the {leads_to} runs over {shared_m2:.2f} m2 of the spoil pile"
        yield _breach("machine_route", "spoil_pile", 0.0, shared_m2, told, "m2")
    limits = {
        "along": (route.steepest_along, used.access.greatest_slope_along),
        "across": (route.steepest_across, used.access.greatest_slope_across),
    }
    for way, (found, most) in limits.items():
        if found > most + _SLOPE:
            told = (
                f"the machine's way to the {leads_to} is as steep as {found:.2f} {way} the "
                f"tracks, more than the {most:.2f} of access.greatest_slope_{way}: it may tip over"
            )
            yield _breach("machine_route", f"greatest_slope_{way}", most, found, told, "-")


def _of_pipe(proposal: Proposal) -> Iterator[Breach]:
    pipe, layout = proposal.layout.pipe, proposal.layout
    pump, outlet = (Point(pipe.coords[i][:2]) for i in (0, -1))
    gaps_m = {
        "begins": (proposal.placement.footprint.distance(pump), "basin", "begins_in_basin"),
        "ends": (Point(layout.alignment.coords[0][:2]).distance(outlet), "lip", "ends_at_lip"),
    }
    for verb, (gap_m, what, rule) in gaps_m.items():
        if gap_m > _MET_M:
            told = (
                f"the pipe drawn {verb} {gap_m:.2f} m from the {what}: draw it on, or delete it "
                "to have it worked out anew"
            )
            yield _breach("pipe", rule, 0.0, gap_m, told)


def _nearer(of: tuple[str, str], asked_m: float, found_m: float, told: str) -> Iterator[Breach]:
    work, rule = of
    if found_m < asked_m - _CHORD_M:
        told = f"{told}: it must keep {asked_m:.2f} m off (earthwork.{rule})"
        yield _breach(work, rule, asked_m, found_m, told)


def _breach(
    work: str, rule: str, asked: float, found: float, sentence: str, unit: str = "m"
) -> Breach:
    return Breach(
        work=work, rule=rule, against="", asked=asked, found=found, unit=unit, sentence=sentence
    )
