"""Ranking: marks within 0 and 1, fair to all candidates, better is never worse, words are sound."""

from __future__ import annotations

import dataclasses
import itertools
import math
import re
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_site
from shapely.affinity import translate
from shapely.geometry import LineString, Point, box

from geo_site.access import MachineRoute
from geo_site.parameters import describe, read_table
from geo_site.ranking import CRITERIA, Candidate, RankingParameters, rank

NAMES = [criterion.name for criterion in CRITERIA]
FULL = make_site(
    views=[{"geometry": Point(0, 0)}],
    power=[{"geometry": Point(40, 0)}],
    trees=[{"geometry": Point(20, 30), "crown_radius_m": 4.0}],
    utilities=[{"geometry": LineString([(0, 29), (40, 29)])}],
)
BARE = make_site()
SCALES = RankingParameters()


def only(*names: str, **more: object) -> RankingParameters:
    """Only some criteria count."""
    weights = {name: float(name in names) for name in NAMES}
    return read_table(RankingParameters, {"weights": weights, **more}, table="ranking")


def route_of(length_m: float) -> MachineRoute:
    line = LineString([(0, 0), (length_m, 0)])
    return MachineRoute(
        line=line, length_m=length_m, corridor=line.buffer(1.0), steepest_along=0.0,
        steepest_across=0.0, hand_dig_m=0.0,
    )  # fmt: skip


def candidate_of(
    *, x=20.0, y=10.0, fall_m=1.0, ground_fall_m=0.8, berm_m=0.0, bank_m3=12.0, run_on_m2=200.0,
    edge=False, clearance_m=3.0, margin_m=1.0, hand_m2=0.0, route_m=20.0, state="found",
) -> Candidate:  # fmt: skip
    footprint = box(x - 1.5, y - 1, x + 1.5, y + 1)
    excavation = footprint.buffer(1.0, join_style="mitre")
    return Candidate(
        placement=SimpleNamespace(footprint=footprint, excavation=excavation),
        layout=SimpleNamespace(
            alignment=LineString([(x, y + 8), (x, y)]), bed=box(x - 0.4, y, x + 0.4, y + 8),
            fall_m=fall_m, ground_fall_m=ground_fall_m, length_m=8.0, berm_height_m=berm_m,
        ),
        excavation=SimpleNamespace(bank_m3=bank_m3),
        catchment=SimpleNamespace(area_m2=run_on_m2, reaches_terrain_edge=edge),
        route=route_of(route_m) if state == "found" else None,
        route_state=state,
        clearance_m=clearance_m,
        margin_m=margin_m,
        hand_dig_by=("G1",) if hand_m2 > 0.0 else (),
        hand_dig_m2=hand_m2,
    )  # fmt: skip


SIZES = st.floats(0.0, 500.0)
CANDIDATES = st.builds(
    candidate_of,
    x=st.floats(0.0, 40.0),
    y=st.floats(0.0, 30.0),
    fall_m=st.floats(-1.0, 5.0),
    ground_fall_m=st.floats(-5.0, 5.0),
    berm_m=st.floats(0.0, 2.0),
    bank_m3=SIZES | st.just(math.nan),
    run_on_m2=st.floats(0.0, 1e7),
    edge=st.booleans(),
    clearance_m=SIZES | st.just(math.inf),
    margin_m=st.floats(-5.0, 500.0) | st.just(math.inf),
    hand_m2=st.floats(0.0, 30.0),
    route_m=st.floats(0.1, 500.0),
    state=st.sampled_from(["found", "none", "unknown"]),
)
WEIGHTS = st.fixed_dictionaries(dict.fromkeys(NAMES, st.sampled_from([0.0, 0.5, 1.0, 3.0])))


@settings(max_examples=80, deadline=None)
@given(st.lists(CANDIDATES, max_size=5), WEIGHTS, st.sampled_from([FULL, BARE]))
def test_whatever_comes_in_marks_and_words_are_sound(candidates, weights, site):
    parameters = read_table(RankingParameters, {"weights": weights}, table="ranking")
    ranked = rank(site, candidates, parameters)
    assert [one.rank for one in ranked] == list(range(1, len(candidates) + 1))
    assert {id(one.candidate) for one in ranked} == {id(one) for one in candidates}
    for better, worse in itertools.pairwise(ranked):
        assert better.score >= worse.score - 1e-9
    for one in ranked:
        told = [mark.criterion for mark in one.marks]
        assert told == [mark.criterion for mark in ranked[0].marks]
        assert told == [name for name in NAMES if name in told]
        assert all(weights[name] > 0.0 for name in told)
        assert all(0.0 <= mark.score <= 1.0 for mark in one.marks)
        assert 0.0 <= one.score <= 1.0
        words = " ".join([one.reason, *(mark.sentence for mark in one.marks)])
        assert one.reason
        assert not re.search(r"\b(nan|inf|None)\b", words)
        total = sum(weights[mark.criterion] for mark in one.marks)
        mean = sum(weights[mark.criterion] * mark.score for mark in one.marks)
        assert one.score == pytest.approx(mean / total if total else 0.0)


def test_a_weight_of_nothing_leaves_its_criterion_out():
    told = rank(FULL, [candidate_of()], SCALES)[0].marks
    assert [mark.criterion for mark in told] == NAMES
    for name in NAMES:
        weights = {"weights": {name: 0.0}}
        parameters = read_table(RankingParameters, weights, table="ranking")
        (one,) = rank(FULL, [candidate_of()], parameters)
        assert [mark.criterion for mark in one.marks] == [n for n in NAMES if n != name]


@pytest.mark.parametrize(
    ("lacking", "name"),
    [
        ({"bank_m3": math.nan}, "digging"),
        ({"clearance_m": math.inf, "margin_m": math.inf}, "margin"),
        ({"state": "unknown"}, "access"),
        ({"fall_m": math.nan}, "fall"),
    ],
)
def test_what_is_missing_for_one_is_left_out_for_all(lacking, name):
    ranked = rank(FULL, [candidate_of(), candidate_of(**lacking)], SCALES)
    for one in ranked:
        assert [mark.criterion for mark in one.marks] == [n for n in NAMES if n != name]
    assert ranked[0].score == pytest.approx(ranked[1].score)  # the rest is alike


def test_inputs_that_nobody_gave_are_left_out():
    told = [mark.criterion for mark in rank(BARE, [candidate_of()], SCALES)[0].marks]
    assert told == ["fall", "run_on", "digging", "margin", "access"]
    empty = make_site(
        views=[{"geometry": Point()}], power=[{"geometry": None}],
        trees=[{"geometry": Point(5, 5)}, {"geometry": None, "crown_radius_m": 3.0}],
    )  # fmt: skip
    assert [mark.criterion for mark in rank(empty, [candidate_of()], SCALES)[0].marks] == told


def test_equal_places_keep_the_order_of_the_search():
    alike = [candidate_of() for _ in range(6)]
    ranked = rank(FULL, alike, SCALES)
    assert all(one.candidate is given for one, given in zip(ranked, alike, strict=True))
    nearly = [candidate_of(ground_fall_m=0.8), candidate_of(ground_fall_m=0.8 + 1e-12)]
    assert rank(FULL, nearly, SCALES)[0].candidate is nearly[0]  # rounding breaks no tie
    better = candidate_of(ground_fall_m=1.0)
    assert rank(FULL, [*alike, better], SCALES)[0].candidate is better


LESS_IS_BETTER = {
    "bank_m3": ("digging", SIZES),
    "hand_m2": ("digging", st.floats(0.0, 20.0)),
    "run_on_m2": ("run_on", st.floats(0.0, 1e6)),
    "route_m": ("access", st.floats(0.1, 300.0)),
}
MORE_IS_BETTER = {
    "ground_fall_m": ("fall", st.floats(-2.0, 3.0)),
    "margin_m": ("margin", st.floats(-2.0, 20.0)),
}


@settings(max_examples=100, deadline=None)
@given(st.data(), st.sampled_from([*LESS_IS_BETTER, *MORE_IS_BETTER]))
def test_a_better_value_never_has_the_lower_mark(data, which):
    name, values = (LESS_IS_BETTER | MORE_IS_BETTER)[which]
    low, high = sorted([data.draw(values), data.draw(values)])
    good, bad = (high, low) if which in MORE_IS_BETTER else (low, high)
    scores = []
    for value in (good, bad):
        (one,) = rank(FULL, [candidate_of(**{which: value})], only(name))
        scores.append(one.score)
    assert scores[0] >= scores[1]


@pytest.mark.parametrize("name", ["view", "power", "leaves"])
@given(st.floats(0.0, 200.0), st.floats(0.0, 200.0))
@settings(max_examples=40, deadline=None)
def test_nearer_to_view_and_power_and_farther_from_crowns_is_never_worse(name, one_m, other_m):
    near_m, far_m = sorted([one_m, other_m])
    scores = []
    for away_m in (near_m, far_m):
        goal = make_site(
            views=[{"geometry": Point(20 + away_m, 14)}],
            power=[{"geometry": Point(20 + away_m, 10)}],
            trees=[{"geometry": Point(20 + away_m, 14), "crown_radius_m": 3.0}],
        )
        scores.append(rank(goal, [candidate_of()], only(name))[0].score)
    if name == "leaves":
        scores.reverse()
    assert scores[0] >= scores[1] - 1e-12


def test_marks_by_hand():
    """Closed forms at the ends and in the middle of each scale."""
    marks = {
        name: rank(FULL, [candidate_of(**given)], only(name))[0].score
        for name, given in {
            "fall": {"fall_m": 1.0, "ground_fall_m": 0.5},
            "digging": {"bank_m3": 32.5, "hand_m2": 5.0},  # half of 5 to 60; 5 of 20 m2 by hand
            "margin": {"margin_m": 1.5},
            "access": {"route_m": 60.0},
            "run_on": {"run_on_m2": math.sqrt(50.0 * 2000.0)},
        }.items()
    }
    assert marks == pytest.approx(
        {"fall": 0.75, "digging": 0.5 * 0.75, "margin": 0.5, "access": 0.25, "run_on": 0.5}
    )
    assert rank(FULL, [candidate_of(state="none")], only("access"))[0].score == 0.0
    assert rank(FULL, [candidate_of(margin_m=-2.0)], only("margin"))[0].score == 0.0
    half = make_site(trees=[{"geometry": Point(20, -88), "crown_radius_m": 95.0}])
    # Crown and reach end 2 m above y = 8: at y = 10 for x = 20, nearly level across the basin.
    under = box(18.5, 9, 21.5, 11).union(box(19.6, 10, 20.4, 18))
    share = under.intersection(Point(20, -88).buffer(98.0)).area / under.area
    (one,) = rank(half, [candidate_of()], only("leaves"))
    assert one.score == pytest.approx(1.0 - share, abs=1e-9)
    assert 0.2 < share < 0.5


def test_a_distance_to_a_line_is_never_told_longer_than_it_is():
    (one,) = rank(FULL, [candidate_of(clearance_m=1.996)], only("margin"))
    assert one.reason.startswith("1.99 m ")


def test_a_catchment_that_may_be_larger_says_at_least():
    (one,) = rank(FULL, [candidate_of(edge=True)], only("run_on"))
    assert "at least 200 m2" in one.reason


def test_good_points_come_before_weak_ones():
    (one,) = rank(FULL, [candidate_of(bank_m3=59.0)], SCALES)
    good, weak = one.reason.split("; but ")
    assert "to dig" in weak
    assert "falls" in good
    (none,) = rank(FULL, [candidate_of()], only())
    assert none.reason
    assert none.marks == ()


def test_moving_everything_changes_nothing():
    far = make_site(views=[{"geometry": Point(3, 4)}], origin=(500_000.0, 4_000_000.0))
    here = make_site(views=[{"geometry": Point(3, 4)}])
    one = candidate_of()
    layout = SimpleNamespace(**vars(one.layout))
    layout.alignment = translate(layout.alignment, 500_000.0, 4_000_000.0)
    moved = dataclasses.replace(one, layout=layout)
    view = only("view")
    assert rank(far, [moved], view)[0].score == pytest.approx(rank(here, [one], view)[0].score)


def test_every_criterion_has_its_weight_and_every_setting_its_source():
    rows = list(describe(SCALES, "ranking"))
    weights = [row.key.rpartition(".")[2] for row in rows if ".weights." in row.key]
    assert weights == NAMES
    assert all(row.unit and row.meaning and row.source for row in rows)
