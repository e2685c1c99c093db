"""The smallest change that opens a place, on small lots: against every step of every rule.

Exhaustive means: each step from the value in use on is tried as the search for places tries it,
in order, until one opens a place. Rules of which even the weakest value leaves the free ground
as it is are left out: zones only grow smaller from step to step, so nothing between differs.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from made_plans import job_on
from made_sites import ORIGIN, make_site
from shapely.geometry import LineString, Point, box

from geo_site.constraints import find_ground
from geo_site.errors import SettingRefused
from geo_site.plan import Plan, Settings, propose, relaxing
from geo_site.plan.choosing import Job, has_place
from geo_site.plan.keeping import Kept
from geo_site.plan.knobs import KNOBS, Knob, share_of, with_values
from geo_site.plan.pairing import cheapest
from geo_site.plan.relaxing_parameters import RelaxingParameters
from geo_site.plan.trials import Trials
from geo_site.site import Site
from geo_site.terrain import analyse

WHOLE = RelaxingParameters(most_searches=100_000, most_pairs=0)
NEAR_THE_BOUNDS: Mapping[str, Any] = {
    "constraints": {
        "boundary": {"basin": 0.3, "stream": 0.25},
        "structure": {"basin": 0.2, "stream": 0.15, "basin_per_depth": 0.2},
        "utility_buffer": {"gas": 0.8, "communication": 0.8},
        "assumed_root_radius": 0.3,
    },
    "siting": {
        "candidates": 1,
        "shortlist": 2,
        "rotation_step": 90,
        "greatest_rise": 1.4,
        "most_elongated": 11.0,
        "overdig": 0.15,
    },
    "layout": {
        "ends_tried": 1,
        "least_length": 2.3,
        "greatest_length": 39.5,
        "wanted_fall": 0.6,
        "least_fall": 0.2,
        "berm_limit": 1.4,
        "cut_limit": 1.4,
        "lip_width": 0.45,
        "bed_width": 0.55,
    },
    "certainty": {"simulations": 0},
    "relaxing": {"most_searches": 0},
}


def knob_of(key: str) -> Knob:
    """The rule of a setting."""
    return next(knob for knob in KNOBS if knob.key == key)


def a_lot(seed: int) -> Plan:
    """A lot that is a little too tight, now and then with a line, a shed or a tree.

    On every other one the water needed decides how many void units the basin has.
    """
    rng = random.Random(seed)
    units = {"units": rng.choice([2, 3, 4])} if seed % 2 else {}
    tables = {**NEAR_THE_BOUNDS, "siting": {**NEAR_THE_BOUNDS["siting"], **units}}
    wide, high = 7.0 + 3.0 * rng.random(), 5.0 + 1.5 * rng.random()
    below, kind = rng.choice([0.1, 0.3]), rng.choice(["gas", "communication"])
    line, shed, tree = rng.random() < 0.4, rng.random() < 0.3, rng.random() < 0.3
    slope = rng.choice([0.03, 0.08])
    while True:
        things = _things(wide, high, below, kind)
        site = make_site(
            lambda x, y: 100.0 - slope * x + 0.02 * ((x * 7.0 + y * 3.0) % 2.0),
            lot=box(0.0, 0.0, wide, high),
            margin_m=8.0,
            tables=tables,
            origin=ORIGIN,
            utilities=things[0] if line else [],
            structures=things[1] if shed else [],
            trees=things[2] if tree else [],
        )
        if not has_place(job_with(site, {}, Kept())):
            plan = propose(site)
            assert plan.status == "no_place"
            return plan
        high -= rng.choice([0.07, 0.13])


def _things(wide: float, high: float, below: float, kind: str) -> list[list[dict[str, Any]]]:
    line = LineString([(0, high - below), (wide, high - below)])
    return [
        [{"id": "G1", "geometry": line, "kind": kind, "quality_level": "QL-A"}],
        [{"geometry": box(0.0, high - 0.5, 0.5, high), "kind": "shed"}],
        [{"geometry": Point(wide, high)}],
    ]


def job_with(site: Site, values: Mapping[str, Any], kept: Kept) -> Job:
    """What a proposal with some settings changed looks at.

    Raises SettingRefused where a proposal would be refused.
    """
    used = with_values(Settings.from_tables(site.tables), values)
    terrain = kept.get("terrain", (), lambda: analyse(site, used.terrain))
    return job_on(site, used, terrain, kept)


def opens(site: Site, values: Mapping[str, Any], kept: Kept) -> bool:
    """Whether the search for places finds one with some settings changed."""
    try:
        return has_place(job_with(site, values, kept))
    except SettingRefused:
        return False


def is_open(plan: Plan, values: Mapping[str, Any]) -> bool:
    """Whether a whole proposal finds a place."""
    return propose(plan.site, with_values(plan.settings, values)).proposal is not None


def rules_that_count(plan: Plan) -> Iterator[Knob]:
    """Rules of which the weakest value changes free ground, basin or stream."""
    for knob in KNOBS:
        weakest = {knob.key: knob.value(plan.settings, knob.steps(plan.settings))}
        if not knob.key.startswith("constraints.") or _free(plan, {}) != _free(plan, weakest):
            yield knob


def _free(plan: Plan, values: Mapping[str, Any]) -> list[bytes]:
    job = job_with(plan.site, values, Kept())
    return [
        find_ground(
            job.site,
            job.terrain,
            job.used.constraints,
            work=work,
            excavation_depth_m=job.depth_m,
            open_hand_dig=by_hand,
        ).free.wkb
        for work in ("basin", "stream", "machine")
        for by_hand in (False, True)
    ]


def first_of_all(plan: Plan, knob: Knob, kept: Kept) -> float | None:
    """The first step of all that opens a place."""
    for step in range(1, knob.steps(plan.settings) + 1):
        value = knob.value(plan.settings, step)
        if opens(plan.site, {knob.key: value}, kept):
            return value
    return None


def offers_of(plan: Plan) -> dict[str, float]:
    """What the search offers, rule by rule."""
    job = job_with(plan.site, {}, Kept())
    rows = relaxing.relax(job, plan.grounds, WHOLE)
    assert not any("not all tried" in row.sentence for row in rows)
    return {row.keys[0]: row.to_values[0] for row in rows if row.may_be_discussed}


def check(plan: Plan, knobs: Iterator[Knob]) -> int:
    """Each rule's offer is the first step of all; whole proposals say so too of the first rule."""
    offered, kept, count = offers_of(plan), Kept(), 0
    for knob in knobs:
        first = first_of_all(plan, knob, kept)
        assert offered.pop(knob.key, None) == first, knob.key
        if first is not None:
            step = round(abs(first - knob.value(plan.settings, 0)) / knob.grain)
            if count == 0:
                assert is_open(plan, {knob.key: first})
                assert not is_open(plan, {knob.key: knob.value(plan.settings, step - 1)})
            count += 1
    return count


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(30))
def test_thirty_lots_against_every_step(seed: int) -> None:
    """REL-05: what is offered of every rule is what exhaustive search finds."""
    plan = a_lot(seed)
    check(plan, rules_that_count(plan))


def test_a_lot_against_every_step_of_some_rules() -> None:
    """REL-05, in short."""
    keys = ("constraints.boundary.basin", "siting.overdig")
    assert check(a_lot(1), (knob_of(key) for key in keys)) > 0


def lot_of_a_thirsty_basin(**layout: float) -> Site:
    """16 by 8 m, ground falling east, as many void units as the water needs."""
    tables = {**NEAR_THE_BOUNDS, "constraints": {}, "layout": {"ends_tried": 1, **layout}}
    siting = {"candidates": 1, "shortlist": 2, "rotation_step": 90}
    return make_site(
        lambda x, y: 100.0 - 0.08 * x,
        lot=box(0, 0, 16, 8),
        margin_m=8.0,
        tables={**tables, "siting": siting},
        origin=ORIGIN,
    )


def test_a_narrower_bed_opens_a_place_by_a_smaller_basin() -> None:
    """REL-03: the basin has no room; with less water in the stream a smaller one has."""
    plan = propose(lot_of_a_thirsty_basin())
    assert plan.status == "no_place"
    offer = offers_of(plan)["layout.bed_width"]
    assert is_open(plan, {"layout.bed_width": offer})
    assert not is_open(plan, {"layout.bed_width": offer + 0.01})
    assert propose(
        plan.site, with_values(plan.settings, {"layout.bed_width": offer})
    ).design.units < (plan.design.units)


@pytest.mark.slow
def test_a_rule_that_asks_for_more_units_than_allowed_is_no_fault() -> None:
    """A longer stream would need more void units than a basin may have: it opens nothing."""
    site = lot_of_a_thirsty_basin(greatest_length=7.0, wanted_fall=2.0, greatest_fall=3.0)
    start = propose(site)
    tight = with_values(
        start.settings,
        {"siting.most_units": start.design.units, "constraints.boundary.basin": 3.0},
    )
    plan = propose(site, tight)
    assert plan.status == "no_place"
    longer = with_values(tight, {"layout.greatest_length": 40.0})
    with pytest.raises(SettingRefused):
        propose(site, longer)
    assert propose(site, with_values(tight, {"relaxing.most_searches": 40})).status == "no_place"


PAIRS = (
    ("constraints.boundary.basin", "constraints.boundary.stream"),
    ("constraints.boundary.basin", "siting.overdig"),
    ("constraints.boundary.basin", "layout.bed_width"),
    ("siting.overdig", "layout.bed_width"),
)


def cheapest_of_all(plan: Plan, pair: tuple[Knob, Knob]) -> float | None:
    """The least cost of all pairs of steps that open a place."""
    used, kept = plan.settings, Kept()
    every = itertools.product(*(range(knob.steps(used) + 1) for knob in pair))
    costs = sorted((share_of(used, tuple(zip(pair, steps, strict=True))), steps) for steps in every)
    for cost, steps in costs:
        values = {knob.key: knob.value(used, step) for knob, step in zip(pair, steps, strict=True)}
        if opens(plan.site, values, kept):
            return cost
    return None


def check_pairs(plan: Plan, keys: tuple[tuple[str, str], ...]) -> int:
    """The search's pairs cost what the cheapest of all pairs of steps cost."""
    job, count = job_with(plan.site, {}, Kept()), 0
    for one, other in keys:
        pair = knob_of(one), knob_of(other)
        found, least = cheapest(Trials(job=job, left=10**9), *pair), cheapest_of_all(plan, pair)
        assert (found is None) == (least is None), pair
        if found is not None:
            assert share_of(plan.settings, found) == pytest.approx(least, abs=1e-9), pair
            assert is_open(plan, {k.key: k.value(plan.settings, step) for k, step in found})
            count += 1
    return count


def a_lot_for_pairs(seed: int) -> Plan:
    """A lot that is a little too tight for rules that have few steps left."""
    rng = random.Random(seed)
    tables = {**NEAR_THE_BOUNDS, "siting": {**NEAR_THE_BOUNDS["siting"], "overdig": 0.07}}
    tables["constraints"] = {"boundary": {"basin": 0.08, "stream": 0.06}}
    tables["layout"] = {**NEAR_THE_BOUNDS["layout"], "bed_width": 0.53}
    wide, high = 7.0 + rng.random(), 4.2
    while True:
        site = make_site(
            lambda x, y: 100.0 - 0.08 * x + 0.02 * ((x * 7.0 + y * 3.0) % 2.0),
            lot=box(0.0, 0.0, wide, high),
            margin_m=8.0,
            tables=tables,
            origin=ORIGIN,
        )
        if not has_place(job_with(site, {}, Kept())):
            return propose(site)
        high -= 0.01 + 0.08 * rng.random()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_pairs_against_all_pairs_of_steps(seed: int) -> None:
    """REL-04: the cheapest pair is that of exhaustive search."""
    check_pairs(a_lot_for_pairs(seed), PAIRS)


def test_the_settings_are_valid() -> None:
    assert Settings.from_tables(NEAR_THE_BOUNDS).siting.overdig == 0.15
