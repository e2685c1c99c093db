"""Visit list: all that is in conflict, unknown or assumed is asked for, and nothing is cleared."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_site, make_ticket
from shapely.geometry import LineString, Point, box

from geo_site.clearance import Clearance, Works, judge
from geo_site.constraints import ConstraintParameters
from geo_site.parameters import read_table
from geo_site.site import Ticket
from geo_site.visit import Gain, Visit, list_visits

EAST = LineString([(-30.0, 15.0), (70.0, 15.0)])
GOOD = {
    "kind": "gas", "member": "Member", "side": "public", "diameter_m": 0.1,
    "quality_level": "QL-A", "status": "live",
}  # fmt: skip
RULES = read_table(
    ConstraintParameters,
    {"tolerance_zone": {"width": 0.5, "source": "for this test"}},
    table="constraints",
)


def row_of(verdict="met", against="L", kind="gas", work="basin_excavation", **more) -> Clearance:
    given = {"required_m": 1.5, "clearance_m": 3.0, "reason": "as told", **more}
    return Clearance(
        work=work, against=against, kind=kind, verdict=verdict,
        connector=LineString([(0, 0), (3, 0)]), **given,
    )  # fmt: skip


def visits(clearances=(), site=None, rules=RULES, fall_m=1.0, **layers) -> tuple[Visit, ...]:
    site = site or make_site(**layers)
    return list_visits(site, clearances, rules, fall_m)


def about(rows, subject):
    return [f"{row.check}: {row.why}" for row in rows if row.subject == subject]


def test_a_sure_site_leaves_only_what_is_always_asked():
    site = make_site(
        utilities=[{"id": "L", "geometry": EAST, **GOOD}],
        access=[{"geometry": Point(0, 0)}],
        soils=[{"geometry": box(0, 0, 40, 30), "kind": "loam"}],
        parcel_accuracy_m=0.1,
    )
    assert [row.subject for row in visits(site=site)] == ["private lines", "terrain"]


@pytest.mark.parametrize("verdict", ["not_met", "hand_dig"])
def test_conflicts_come_first_the_gravest_before_all(verdict):
    rows = [
        row_of("met", "A"),
        row_of("hand_dig", "B"),
        row_of("not_met", "C"),
        row_of(verdict, "D"),
    ]
    told = visits(rows, ticket=Ticket())
    wanted = [r.against for v in ("not_met", "hand_dig") for r in rows if r.verdict == v]
    assert [row.subject for row in told[:3]] == wanted
    assert all("as told" in row.why for row in told[:3])


def test_what_is_unknown_and_too_near_is_not_dug_beside():
    near = row_of("unknown", "N", clearance_m=1.0)
    far = row_of("unknown", "F", clearance_m=9.0)
    told = visits([near, far])
    assert any("do not dig" in text for text in about(told, "N"))
    assert not any("do not dig" in text for text in about(told, "F"))


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"kind": "unknown"}, "carries is unknown"),
        ({"kind": None}, "carries is unknown"),
        ({"member": None}, "member is not stated"),
        ({"member": "Other"}, "has not answered"),
        ({"side": "private"}, "public ticket does not cover"),
        ({"side": None, "member": None}, "neither"),
        ({"diameter_m": math.nan}, "diameter"),
        ({"quality_level": None}, "how well it is located"),
        ({"status": "abandoned"}, "treat as live"),
        ({"geometry": None}, "not drawn"),
        ({"geometry": LineString()}, "not drawn"),
    ],
)
def test_each_missing_fact_of_a_line_is_asked_for_by_its_id(changed, why):
    assert about(visits(utilities=[{"id": "L", "geometry": EAST, **GOOD}]), "L") == []
    told = about(visits(utilities=[{"id": "L", "geometry": EAST, **GOOD, **changed}]), "L")
    assert any(why in text for text in told), told


@pytest.mark.parametrize(
    ("layers", "subject", "why"),
    [
        ({"trees": [{"id": "T", "geometry": Point(5, 5)}]}, "T", "root zone was assumed"),
        (
            {"trees": [{"id": "T", "geometry": Point(5, 5), "crown_radius_m": 3.0}]},
            "T",
            "crown stands for",
        ),
        ({"overhead": [{"id": "O", "geometry": EAST}]}, "O", "voltage"),
        ({"septic": [{"id": "S", "geometry": Point(5, 5)}]}, "S", "taken as a well"),
        (
            {"septic": [{"id": "S", "geometry": Point(5, 5), "kind": "unknown"}]},
            "S",
            "taken as a well",
        ),
        ({"fixtures": [{"id": "F", "geometry": Point(5, 5)}]}, "F", "unknown"),
        ({"fixtures": [{"id": "F", "geometry": Point(5, 5), "kind": "outlet"}]}, "F", "private"),
        ({"parcel_accuracy_m": math.nan}, "boundary", "not stated"),
        ({"rmse_z_m": math.nan}, "terrain", "not stated"),
        ({}, "access", "none is given"),
        ({}, "soil", "no soil map"),
        ({}, "buried lines", "no line at all"),
        ({"ticket": Ticket()}, "ticket", "no one-call ticket"),
        ({"ticket": make_ticket(responses={"A": "pending"})}, "ticket", "A answered pending"),
        ({"ticket": make_ticket(valid_until=None)}, "ticket", "last day"),
    ],
)
def test_each_thing_unknown_or_assumed_is_asked_for(layers, subject, why):
    told = about(visits(**layers), subject)
    assert any(why in text for text in told), told


def test_a_member_that_marked_a_line_which_nobody_drew_is_asked_for():
    lines = [{"id": "L", "geometry": EAST, **GOOD, "member": " GAS"}]
    ticket = make_ticket(responses={"Gas": "marked", "Water": "marked", "Cable": "clear"})
    told = visits(ticket=ticket, utilities=lines)
    assert about(told, "Water") == [
        "find the marks of Water: answered marked, yet no line of theirs is drawn"
    ]
    assert about(told, "Gas") == about(told, "Cable") == []


def test_an_unstated_rule_is_asked_for():
    told = about(visits(rules=ConstraintParameters()), "tolerance zone")
    assert len(told) == 1
    assert "1.22 m was drawn" in told[0]
    assert about(visits(), "tolerance zone") == []


def test_a_line_under_the_machine_is_asked_for():
    row = row_of("met", work="machine_route", required_m=0.0, clearance_m=0.0)
    assert any("what load" in text for text in about(visits([row]), "L"))


def test_the_nearest_are_measured_and_never_told_farther_than_they_are():
    gaps = {"A": 9.0, "B": 0.4961, "C": 3.0, "D": 1.0}
    rows = [row_of("met", name, clearance_m=1.5001 + gap) for name, gap in gaps.items()]
    rows.append(row_of("met", "stream only", work="stream", clearance_m=1.6))
    told = [row for row in visits(rows) if row.check.startswith("measure from the staked")]
    assert [row.subject for row in told] == ["B", "D", "C"]
    assert told[0].why == "1.99 m on the map, 1.50 m asked"


def test_ter_31_the_fall_is_told_with_its_interval():
    """TER-31: RMSEz 0.10 m, +-0.277 m at 95 %."""
    (told,) = about(visits(fall_m=1.1), "terrain")
    assert "fall of 1.10 m, 95 %: 0.82 to 1.38 m" in told
    assert about(visits(fall_m=None), "terrain") == []


def test_septic_is_asked_of_the_owner_only_where_none_is_drawn():
    drawn = visits(septic=[{"geometry": Point(5, 5), "kind": "tank"}])
    assert "septic" not in about(drawn, "private lines")[0]
    assert "septic" in about(visits(), "private lines")[0]


CHOICES = st.fixed_dictionaries(
    {
        "kind": st.sampled_from(["gas", "unknown", None]),
        "member": st.sampled_from(["Member", None]),
        "side": st.sampled_from(["public", "private", None]),
        "diameter_m": st.sampled_from([0.1, math.nan]),
        "quality_level": st.sampled_from(["QL-A", None]),
    }
)


@settings(max_examples=60, deadline=None)
@given(CHOICES, st.sampled_from([0.2, 1.0, 4.0]), st.sampled_from([Ticket(), make_ticket()]))
def test_every_row_that_is_not_met_or_unknown_has_its_visit_and_nothing_is_cleared(
    facts, gap_m, ticket
):
    site = make_site(
        ticket=ticket,
        utilities=[{"id": "L", "geometry": EAST, **facts}],
        overhead=[{"id": "O", "geometry": EAST}],
        fixtures=[{"id": "F", "geometry": Point(10, 25)}],
    )
    pit = box(10.0, 15.0 + gap_m, 14.0, 22.0)
    clearances = judge(site, Works(basin=pit, basin_excavation=pit), RULES, 1.0)
    told = visits(clearances, site)
    subjects = {row.subject for row in told}
    assert {row.against for row in clearances if row.verdict != "met"} <= subjects
    assert len(set(told)) == len(told)
    words = " ".join(f"{row.check} {row.why}" for row in told)
    assert "nan" not in words.split()
    assert "cleared" not in words
    assert "safe" not in words


def test_what_settles_most_comes_first_after_what_is_required():
    lines = [{"id": name, "geometry": EAST, **GOOD} for name in "ABC"]
    rows = [row_of("met", name, clearance_m=2.0 + n) for n, name in enumerate("ABC")]
    gain = Gain(
        fall="1.10 m, 95 %: 0.90 m to 1.30 m",
        lines={"A": 0.02, "B": 0.3, "C": 0.1, "D": 0.05, "E": 0.001},
        drop=0.2,
        other_drops={2: 0.15, 3: 0.001},
    )
    site = make_site(utilities=lines, ticket=Ticket())
    told = list_visits(site, rows, RULES, 1.1, gain)
    assert told[0].subject == "ticket"
    assert told[0].is_required
    settled = [row for row in told if row.settles >= 0.0]
    assert [row.subject for row in settled] == ["B", "terrain", "terrain", "C", "D", "A"]
    assert [row.settles for row in settled] == [0.3, 0.2, 0.15, 0.1, 0.05, 0.02]
    assert "1.10 m, 95 %" in settled[1].why
    assert "place 2" in settled[2].check
    after = told.index(settled[-1])
    assert {row.subject for row in told[after + 1 :]} == {"access", "soil"}
    assert any(row.is_required for row in told if row.subject == "private lines")
