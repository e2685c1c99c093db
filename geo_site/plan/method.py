"""The whole method: from a site to a plan.

In: a :class:`~geo_site.site.Site` and its settings. Out: a :class:`Plan` with every result of
every step, and what is wrong, unknown or to be checked as rows in it. Method: the steps in the
order of :func:`propose`; docs/method.md tells each with its references. Nothing is printed or
written; ``progress`` is called with a word as each step begins.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from geo_site.clearance import (
    Clearance,
    Works,
    as_exposed,
    compare,
    exposures_of,
    facts_of_lines,
    find_strikes,
    judge,
    list_asked_for,
    report_ticket,
)
from geo_site.costs import cost_sheet
from geo_site.locate_request import LocateRequest, describe_digging
from geo_site.plan.breaches import find_breaches
from geo_site.plan.choosing import Choice, Job, Progress, choose
from geo_site.plan.comparing import compare_plans
from geo_site.plan.finishing import finish
from geo_site.plan.how_sure import gain_of, how_sure
from geo_site.plan.keeping import Kept
from geo_site.plan.pinned import sources_of
from geo_site.plan.reasons import excavation_told, no_place_rows, warnings_of, weaker_rules
from geo_site.plan.relaxing import relax
from geo_site.plan.results import ClearanceRecord, Plan, Proposal, Relaxation
from geo_site.plan.settings import Settings
from geo_site.quantities import Quantity, list_quantities
from geo_site.site import Site
from geo_site.siting import DrawnBasin, design_basin, place_drawn
from geo_site.terrain import Contour, Terrain, analyse, contours
from geo_site.visit import list_visits
from geo_site.water import first_need, work_out

__all__ = ["Progress", "propose"]

_GRAZED_M = 1e-6  # a bed may touch the edge of free ground
_CONTOUR_MARGIN_M = 10.0  # contours run on a little beyond the lot, so that a reader sees the lie


def propose(
    site: Site,
    settings: Settings | None = None,
    progress: Progress | None = None,
    *,
    kept: Kept | None = None,
    alternatives: int = 1,
) -> Plan:
    """Propose a basin, a stream and all that goes with them.

    Parameters
    ----------
    site : Site
        What was read.
    settings : Settings, optional
        Default: those of the site file.
    progress : callable, optional
        Called with a word as each step begins.
    kept : Kept, optional
        Results of earlier runs on the same site: what nothing has changed for is not worked
        out again.
    alternatives : int
        How many of the best places are worked out in full, at least 1.

    Returns
    -------
    Plan
        With ``status`` ``no_place`` and the reasons when nothing fits.

    Raises
    ------
    ValueError
        Fewer than one is asked for.
    """
    if alternatives < 1:
        raise ValueError(f"at least one place is worked out, not {alternatives}")
    used = settings or Settings.from_tables(site.tables)
    say, kept = progress or _quiet, kept or Kept()
    say("terrain")
    read = used.terrain.model_dump_json()
    terrain = kept.get("terrain", read, lambda: analyse(site, used.terrain))
    pinned = _pinned(site, terrain, used)
    design = design_basin(first_need(used.water, used.layout), used.siting)
    found = as_exposed(site, used.constraints)
    chosen = choose(
        Job(
            site=found,
            used=used,
            terrain=terrain,
            design=pinned.design if pinned else design,
            say=say,
            kept=kept,
            pinned=pinned,
        )
    )
    plan = _finished(chosen, site)
    others = [_finished(other, site) for other in _other_places(chosen, alternatives)]
    if not others:
        return plan
    return replace(plan, alternatives=tuple(others), compared=compare_plans([plan, *others]))


def _pinned(site: Site, terrain: Terrain, used: Settings) -> DrawnBasin | None:
    """Give the basin that a person drew its void units and its pit."""
    drawn = site.fixed
    if drawn.basin is None:
        return None
    return place_drawn(terrain.ground, drawn.basin, drawn.basin_depth_m, used.siting)


def _finished(choice: Choice, as_marked: Site) -> Plan:
    choice.job.say("works")
    proposal = finish(choice) if choice.ranked else None
    choice.job.say("clearances")
    return _plan(choice, proposal, as_marked)


def _other_places(choice: Choice, alternatives: int) -> Iterator[Choice]:
    """Give the choice again with each of the next places first, for the same size of basin."""
    job = choice.job
    for ranked in choice.ranked[1:alternatives]:
        one = ranked.candidate
        water = work_out(job.site, one.layout, job.design, one.placement, job.used.water)
        rest = tuple(other for other in choice.ranked if other is not ranked)
        yield replace(choice, ranked=(ranked, *rest), water=water)


def _quiet(word: str) -> None:
    """Say nothing: the default progress."""


def _judged(job: Job, site: Site, proposal: Proposal) -> tuple[Clearance, ...]:
    depth_m = max(job.depth_m, proposal.placement.greatest_depth_m)
    return judge(site, proposal.works, job.used.constraints, depth_m)


def _judged_basin(job: Job) -> tuple[Clearance, ...]:
    """Judge a drawn basin from which no stream gets out: what it breaks is told all the same."""
    if job.pinned is None:
        return ()
    placement = job.pinned.placement
    works = Works(
        basin=placement.footprint,
        basin_excavation=placement.excavation,
        stream=None,
        pipe=None,
        spoil_pile=None,
        machine_route=None,
        silt_fence=None,
    )
    depth_m = max(job.depth_m, placement.greatest_depth_m)
    return judge(job.site, works, job.used.constraints, depth_m)


def _record(
    job: Job, as_marked: Site, proposal: Proposal | None, clearances: tuple[Clearance, ...]
) -> ClearanceRecord:
    """Everything about lines and ticket that goes into the record."""
    rules = job.used.constraints
    exposures = exposures_of(as_marked, rules)
    before = _judged(job, as_marked, proposal) if exposures and proposal else ()
    return ClearanceRecord(
        ticket=report_ticket(job.site, rules),
        lines=facts_of_lines(job.site, rules),
        strikes=find_strikes(job.site, proposal.works, rules) if proposal else (),
        asked_for=list_asked_for(job.site),
        exposures=exposures,
        before_after=compare(before, clearances, exposures) if exposures else (),
    )


def _plan(choice: Choice, proposal: Proposal | None, as_marked: Site) -> Plan:
    job, found, ranked = choice.job, choice.found, choice.ranked
    site, used = job.site, job.used
    clearances = _judged(job, site, proposal) if proposal else _judged_basin(job)
    quantities = _quantities(proposal, used) if proposal else ()
    fall_m = proposal.layout.fall_m if proposal else None
    job.say("how sure")
    certainty = how_sure(choice, proposal, clearances) if proposal else None
    relaxations = _relaxations(choice) if proposal is None else ()
    return Plan(
        site=site,
        settings=used,
        status="proposed" if proposal else "no_place",
        terrain=job.terrain,
        contours=_contours(job),
        grounds=found.grounds,
        design=job.design,
        candidates=ranked,
        proposal=proposal,
        clearances=clearances,
        record=_record(job, as_marked, proposal, clearances),
        quantities=quantities,
        costs=cost_sheet(quantities, site.prices) if site.prices and proposal else None,
        no_place=()
        if proposal
        else no_place_rows(
            site,
            found.grounds["basin"],
            found.without_stream,
            excavation_told(job.design, used.siting.greatest_rise),
        ),
        warnings=(
            *weaker_rules(used.constraints),
            *choice.told,
            *_told_of_drawn(choice, proposal),
            *warnings_of(job.terrain, job.design, proposal, clearances),
        ),
        visit=list_visits(site, clearances, used.constraints, fall_m, gain_of(certainty, proposal)),
        locate_request=_locate_request(site, proposal, used) if proposal else None,
        certainty=certainty,
        relaxations=relaxations,
        breaches=tuple(dict.fromkeys(find_breaches(choice, proposal))),
        sources=_sources(site, proposal),
    )


def _sources(site: Site, proposal: Proposal | None) -> Mapping[str, str]:
    """Say of each work where it comes from; where nothing was worked out, of those drawn."""
    told = sources_of(site.fixed)
    return told if proposal else {work: told[work] for work in told if told[work] == "drawn"}


def _contours(job: Job) -> tuple[Contour, ...]:
    asked = job.used.terrain
    around = job.site.parcel.buffer(_CONTOUR_MARGIN_M)
    return job.kept.get(
        "contours",
        asked.model_dump_json(),
        lambda: contours(job.terrain, around, asked.contour_interval, asked.contour_index_every),
    )


def _quantities(proposal: Proposal, used: Settings) -> tuple[Quantity, ...]:
    return list_quantities(
        proposal.feature,
        proposal.earthwork,
        proposal.water,
        proposal.works.machine_route,
        used.quantities,
    )


def _locate_request(site: Site, proposal: Proposal, used: Settings) -> LocateRequest:
    return describe_digging(
        site,
        proposal.digging(used.earthwork.fence_trench_width),
        proposal.placement.greatest_depth_m,
        used.locate_request,
    )


def _relaxations(choice: Choice) -> tuple[Relaxation, ...]:
    job = choice.job
    job.say("what would open a place")
    return relax(job, choice.found.grounds, job.used.relaxing)


def _told_of_drawn(choice: Choice, proposal: Proposal | None) -> tuple[str, ...]:
    """What was assumed of drawn works, a sentence each."""
    job, fixed = choice.job, choice.job.site.fixed
    told = [*fixed.notes, *(job.pinned.notes if job.pinned else ())]
    followed = choice.followed if proposal is not None else None
    if followed is not None:
        told += followed.notes
    elif proposal is not None and job.pinned is not None:
        free = choice.found.grounds["stream"].free.buffer(_GRAZED_M)
        if not free.covers(proposal.layout.dig):
            told.append(
                "No stream gets out of the basin drawn on free ground: blocked ground beside its "
                "pit is used; the clearances say what it breaks."
            )
    return tuple(told)
