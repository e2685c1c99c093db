"""The smallest rule that opens a place: against trying every step, and against the definition."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping

import pytest
from made_plans import job_on
from made_sites import ORIGIN, make_site
from shapely.geometry import LineString, box

from geo_site.plan import Plan, Settings, propose
from geo_site.plan import relaxing as module
from geo_site.plan.choosing import Job, has_place
from geo_site.plan.knobs import BINDING, KNOBS, Knob, share_of, value_at, with_values
from geo_site.plan.pairing import cheapest
from geo_site.plan.relaxing_parameters import RelaxingParameters
from geo_site.plan.trials import Trials
from geo_site.site import Site
from geo_site.tables import plan_document, relaxed_lines

QUICK = {
    "siting": {"candidates": 1, "shortlist": 2, "rotation_step": 45, "units": 4},
    "layout": {"ends_tried": 1},
    "certainty": {"simulations": 0},
    "relaxing": {"most_searches": 70},
}


def tight(wide: float, high: float) -> Site:
    """A lot that is a little too tight, a gas line 1 m from its upper end."""
    line = LineString([(0, high - 1.0), (wide, high - 1.0)])
    return make_site(
        lambda x, y: 100.0 - 0.08 * x,
        lot=box(0.0, 0.0, wide, high),
        tables={**QUICK, "relaxing": {"most_searches": 0}},
        origin=ORIGIN,
        utilities=[{"id": "G1", "geometry": line, "kind": "gas", "quality_level": "QL-A"}],
    )


def job_of(plan: Plan) -> Job:
    """What the search for places looked at, with nothing in its memory."""
    return job_on(plan.site, plan.settings, plan.terrain)


def is_open(plan: Plan, key: str, value: float) -> bool:
    """Whether a whole proposal finds a place with one setting changed."""
    off = {"relaxing.most_searches": 0, key: value}
    return propose(plan.site, with_values(plan.settings, off)).proposal is not None


def test_an_offer_opens_a_place_and_a_centimetre_less_does_not() -> None:
    """A lot 11 by 8 m: only the last steps are tried here, each as a whole proposal."""
    plan = propose(
        make_site(
            lambda x, y: 100.0 - 0.08 * x,
            lot=box(0, 0, 11, 8),
            tables=QUICK,
            origin=ORIGIN,
            utilities=[
                {
                    "id": "G1",
                    "geometry": LineString([(0, 7), (11, 7)]),
                    "kind": "gas",
                    "quality_level": "QL-B",
                }
            ],
        )
    )
    assert plan.status == "no_place"
    offers = [row for row in plan.relaxations if math.isfinite(row.share)]
    assert offers
    for row in offers:
        knob = next(k for k in KNOBS if k.key == row.keys[0])
        step = round(abs(row.to_values[0] - row.from_values[0]) / knob.grain)
        assert is_open(plan, knob.key, row.to_values[0])
        if "not all tried" not in row.sentence:
            assert not is_open(plan, knob.key, knob.value(plan.settings, step - 1))
    shares = [row.share for row in offers]
    assert shares == sorted(shares)
    told = plan_document(plan)["relaxations"]
    assert [row["sentence"] for row in told] == [row.sentence for row in plan.relaxations]
    assert all(len(line) <= 60 for line in relaxed_lines(plan))


def test_a_rule_that_opens_a_place_and_closes_it_again_is_found() -> None:
    """REL-02: 11 by 6.3 m: the pit's setback opens a place from 0.36 m to 0.07 m only."""
    plan = propose(tight(11.0, 6.3))
    key = "constraints.boundary.basin"
    opens = {value: is_open(plan, key, value) for value in (0.37, 0.36, 0.0)}
    rows = module.relax(job_of(plan), plan.grounds, RelaxingParameters(most_searches=4000))
    (offer,) = (row for row in rows if row.keys == (key,))
    assert opens[offer.to_values[0]]
    assert not opens[round(offer.to_values[0] + 0.01, 2)]
    assert not opens[0.0]


def test_a_short_search_offers_what_it_knows_and_says_that_it_is_not_the_smallest() -> None:
    plan = propose(tight(11.0, 7.5))
    short = module.relax(job_of(plan), plan.grounds, RelaxingParameters(most_searches=60))
    open_ended = [row for row in short if "smaller ones were not all tried" in row.sentence]
    assert open_ended
    for row in open_ended:
        assert is_open(plan, row.keys[0], row.to_values[0])
    assert "60 searches" in short[-1].sentence


def test_quick_and_whole_search_agree_on_whether_there_is_a_place() -> None:
    for high in (6.3,):
        site = tight(11.0, high)
        for value in (1.5, 0.3, 0.0):
            tables = {**site.tables, "constraints": {"boundary": {"basin": value}}}
            plan = propose(site, Settings.from_tables(tables))
            assert has_place(job_of(plan)) == (plan.proposal is not None)


# The search itself, on rules whose answer is known.


class Fake:
    """Rooms and places by a formula instead of a search."""

    def __init__(self, room: Callable[[Mapping[str, float]], bool], place=None) -> None:
        self.room, self.place, self.asked = room, place or room, 0
        self.job = type("Job", (), {"used": Settings()})()

    def has_room(self, values: Mapping[str, float]) -> bool:
        self.asked += 1
        return self.room(values)

    def has_place(self, values: Mapping[str, float]) -> bool:
        self.asked += 1
        return self.place(values)

    def nests(self, knob: Knob) -> bool:
        return knob.nests(beside_structures=False)

    unlike = Trials.unlike


def given_by(fake: Fake, key: str, values: Mapping[str, float]) -> float:
    """How much a rule gives way, m."""
    now = value_at(fake.job.used, key)
    return abs(now - values.get(key, now))


BOUNDARY, OVERDIG = (
    next(k for k in KNOBS if k.key == key)
    for key in ("constraints.boundary.basin", "siting.overdig")
)


@pytest.mark.parametrize("seed", range(30))
def test_the_first_step_is_the_first(seed: int) -> None:
    """Streams that come and go with the rule: the first step that has one is found."""
    rng = random.Random(seed)
    first = rng.randint(1, 120)
    has_stream = [rng.random() < 0.1 for _ in range(151)]

    def step_of(values: Mapping[str, float]) -> int:
        return round(given_by(fake, BOUNDARY.key, values) / BOUNDARY.grain)

    fake = Fake(
        lambda values: step_of(values) >= first,
        lambda values: step_of(values) >= first and has_stream[step_of(values)],
    )
    wanted = next((s for s in range(first, 151) if has_stream[s]), None)
    (turn,) = module._turns(fake, [BOUNDARY])
    for look in (turn.at_first, turn.here_and_there, turn.nearer, turn.below):
        look(fake)
    assert turn.found == wanted
    if wanted is not None:
        assert "not all tried" not in turn.offer(fake.job).sentence


@pytest.mark.parametrize("seed", range(30))
def test_room_that_comes_and_goes_is_looked_for_at_every_step(seed: int) -> None:
    """Room beside the units: rough ground may let a pit in that a smaller one is kept out of."""
    rng = random.Random(seed)
    has_room, has_stream = ([rng.random() < share for _ in range(31)] for share in (0.3, 0.4))

    def step_of(values: Mapping[str, float]) -> int:
        return round(given_by(fake, OVERDIG.key, values) / OVERDIG.grain)

    fake = Fake(
        lambda values: has_room[step_of(values)],
        lambda values: has_room[step_of(values)] and has_stream[step_of(values)],
    )
    (turn,) = module._turns(fake, [OVERDIG])
    for look in (turn.at_first, turn.here_and_there, turn.nearer, turn.below):
        look(fake)
    assert turn.found == next((s for s in range(1, 31) if has_room[s] and has_stream[s]), None)


@pytest.mark.parametrize("seed", range(10))
def test_a_pair_is_the_cheapest_of_all_pairs(seed: int) -> None:
    """Two rules that trade for each other along a line, against every pair of steps.

    Every other time with streams at a few pairs only, every third with room that comes and goes.
    """
    rng = random.Random(seed)
    need, weight = 0.3 + rng.random(), 1.0 + 4.0 * rng.random()

    def opens(values: Mapping[str, float]) -> bool:
        a, b = (given_by(fake, knob.key, values) for knob in (BOUNDARY, OVERDIG))
        holed = seed % 3 == 0 and round(b / OVERDIG.grain) in holes
        return not holed and a + weight * b >= need - 1e-9

    holes = set(rng.sample(range(31), 12))
    streams = {(rng.randint(0, 150), rng.randint(0, 30)) for _ in range(40)}

    def with_stream(values: Mapping[str, float]) -> bool:
        steps = tuple(
            round(given_by(fake, knob.key, values) / knob.grain) for knob in (BOUNDARY, OVERDIG)
        )
        return opens(values) and (seed % 2 == 0 or steps in streams)

    fake = Fake(opens, with_stream)
    used = fake.job.used
    every = [
        ((BOUNDARY, i), (OVERDIG, j))
        for i in range(BOUNDARY.steps(used) + 1)
        for j in range(OVERDIG.steps(used) + 1)
    ]
    brute = min(
        (
            share_of(used, steps)
            for steps in every
            if with_stream({knob.key: knob.value(used, step) for knob, step in steps})
        ),
        default=None,
    )
    for pair in ((BOUNDARY, OVERDIG), (OVERDIG, BOUNDARY)):
        found = cheapest(fake, *pair)
        assert (found is None) == (brute is None)
        if found is not None:
            assert share_of(used, found) == pytest.approx(brute, abs=1e-9)
            assert cheapest(fake, *pair, most=share_of(used, found)) is None


def test_no_rule_is_turned_past_its_bound_or_the_wrong_way() -> None:
    for knob in KNOBS:
        used = Settings()
        last = knob.value(used, knob.steps(used))
        now = value_at(used, knob.key)
        assert (last <= now) if knob.falls else (last >= now)
        assert (last >= knob.bound - 1e-9) if knob.falls else (last <= knob.bound + 1e-9)
        weaker = with_values(used, {knob.key: knob.bound - 1.0 if knob.falls else knob.bound + 1.0})
        assert knob.steps(weaker) == 0


@pytest.mark.parametrize("lip_width", [0.3, 0.45, 0.6, 0.8])
def test_what_is_offered_may_stand_in_a_site_file(lip_width: float) -> None:
    """Settings are refused where one contradicts another: no rule is turned so far."""
    used = Settings.from_tables({"layout": {"lip_width": lip_width, "bed_width": 0.8}})
    for knob in KNOBS:
        weakest = with_values(used, {knob.key: knob.value(used, knob.steps(used))})
        assert Settings.model_validate(weakest.model_dump()) == weakest, knob.key


def test_law_and_what_is_known_are_never_offered() -> None:
    """No rule that may be discussed is one of those that bind."""
    bound = {key for rule in BINDING for key in rule.values}
    assert not bound & {knob.key for knob in KNOBS}
    for word in ("tolerance_zone", "position_uncertainty", "septic", "well", "overhead", "batter"):
        assert not any(word in knob.key for knob in KNOBS)


def test_a_tolerance_zone_in_the_way_is_named_and_not_offered() -> None:
    """Lines on both sides leave 3.46 m, and the pit is 3.5 m wide; without the zone 4.7 m."""
    tables = {**QUICK, "constraints": {"hand_dig": "never", "boundary": {"basin": 0, "stream": 0}}}
    lines = [
        {"id": f"C{i}", "geometry": LineString([(0, y), (18, y)]), "kind": "communication"}
        for i, y in enumerate((-0.6, 5.6))
    ]
    site = make_site(
        lambda x, y: 100.0 - 0.08 * x,
        lot=box(0, 0, 18, 5.0),
        tables={**tables, "layout": {"ends_tried": 1, "least_length": 2, "least_fall": 0.1}},
        origin=ORIGIN,
        utilities=[{**line, "quality_level": "QL-A", "diameter_m": 0.1} for line in lines],
    )
    plan = propose(site)
    assert plan.status == "no_place"
    named = [row for row in plan.relaxations if not row.may_be_discussed]
    assert any("tolerance zone" in row.sentence for row in named)
    for row in named:
        assert all(math.isnan(value) for value in row.to_values)
    offered = {key for row in plan.relaxations if row.may_be_discussed for key in row.keys}
    assert not any("utility_buffer" in key for key in offered)


def test_a_search_that_is_cut_short_says_so() -> None:
    site = make_site(
        lot=box(0, 0, 6, 6), origin=ORIGIN, tables={**QUICK, "relaxing": {"most_searches": 2}}
    )
    plan = propose(site)
    assert "were not searched: 2" in plan.relaxations[-1].sentence
    off = propose(site, with_values(plan.settings, {"relaxing.most_searches": 0}))
    assert off.relaxations == ()
