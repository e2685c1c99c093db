"""A case for each verdict and each cause of unknown, with distances from plain arithmetic."""

from __future__ import annotations

import dataclasses
import datetime
import itertools

import numpy as np
import pytest
from made_sites import DAY, make_layer, make_site, make_ticket
from shapely.geometry import LineString, Point, Polygon, box

from geo_site.clearance import Clearance, Works, facts_of_lines, find_loose_ends, judge
from geo_site.constraints import ConstraintParameters
from geo_site.parameters import read_table
from geo_site.site import PrivateLocate, Ticket

INCH = 0.0254
WEEK = datetime.timedelta(days=7)
BARE = make_site()
GOOD = {
    "kind": "gas", "member": "Member", "side": "public", "diameter_m": 0.1, "uncertainty_m": 0.0,
}  # fmt: skip
EAST = ((-30.0, 15.0), (70.0, 15.0))
LOCATE = PrivateLocate(by="A", on=DAY - WEEK, valid_until=DAY + WEEK)
ZONE = {"width": 0.5, "source": "for this test"}


def rules(zone=ZONE, **table) -> ConstraintParameters:
    none = dict.fromkeys(
        ("electric", "gas", "communication", "potable_water", "reclaimed_water", "sewer"), 0.0
    )
    given = {"tolerance_zone": zone, "utility_buffer": none, **table}
    return read_table(ConstraintParameters, given, table="constraints")


def site_of(*lines, ticket=None, locate=None, **layers):
    drawn = [{"geometry": LineString(row.pop("at", EAST)), **row} for row in map(dict, lines)]
    tables = {name: make_layer(name, rows) for name, rows in layers.items()}
    return dataclasses.replace(
        BARE,
        utilities=make_layer("utilities", drawn),
        ticket=ticket or make_ticket(),
        private_locate=locate,
        **tables,
    )


def row_of(site, pit, parameters=None, line="L", rule="utility") -> Clearance:
    rows = judge(site, Works(basin=pit), parameters or rules(), 1.0)
    (row,) = [row for row in rows if row.against == line and row.rule == rule]
    return row


def plain_distance(corners, line) -> float:
    """Least distance of a ring and a line by projection of points on segments; 0 if inside."""
    ring = np.array([*corners, corners[0]], dtype=float)
    path = np.array(line, dtype=float)

    def apart(points, chain):
        best = np.inf
        for p in points:
            for a, b in itertools.pairwise(chain):
                t = np.clip(np.dot(p - a, b - a) / np.dot(b - a, b - a), 0.0, 1.0)
                best = min(best, float(np.hypot(*(p - a - t * (b - a)))))
        return best

    fine = np.concatenate(
        [a + (b - a) * np.linspace(0, 1, 400)[:, None] for a, b in itertools.pairwise(path)]
    )
    (west, south), (east, north) = ring.min(axis=0), ring.max(axis=0)
    inside = (fine[:, 0] >= west) & (fine[:, 0] <= east)
    inside &= (fine[:, 1] >= south) & (fine[:, 1] <= north)
    return 0.0 if inside.any() else min(apart(ring, path), apart(path, ring))


def square(west, south, side=4.0):
    return [(west, south), (west + side, south), (west + side, south + side), (west, south + side)]


CASES = {
    "met": (square(10, 15.55), {}, "met"),
    "met beside a corner": (square(10, 15.9), {"at": ((-30, 5), (14, 15.0), (70, 5))}, "met"),
    "hand dig": (square(10, 15.45), {}, "hand_dig"),
    "not met": (square(10, 15.3), {}, "not_met"),
    "touching": (square(10, 15.05), {}, "not_met"),
    "touching its middle": (square(10, 15.0), {}, "not_met"),
    "crossing": (square(10, 13), {}, "not_met"),
    "inside": (square(10, 13), {"at": ((11, 14), (13, 16))}, "not_met"),
    "abandoned is live": (square(10, 15.3), {"status": "abandoned"}, "not_met"),
    "abandoned may be met": (square(10, 15.55), {"status": "abandoned"}, "met"),
    "unknown kind": (square(10, 15.55), {"kind": "unknown"}, "unknown"),
    "member silent": (square(10, 15.55), {"member": "Other"}, "unknown"),
    "no member": (square(10, 15.55), {"member": None}, "unknown"),
    "no side, no member": (square(10, 15.55), {"side": None, "member": None}, "unknown"),
    "private": (square(10, 15.55), {"side": "private"}, "unknown"),
    "private and too near": (square(10, 15.3), {"side": "private"}, "not_met"),
    "late marks": (square(10, 15.55), {"marked_on": DAY + WEEK}, "unknown"),
    "old marks": (square(10, 15.55), {"marked_on": DAY - 9 * WEEK}, "unknown"),
    "hand dig and doubted": (square(10, 15.45), {"member": "Other"}, "unknown"),
    "ends ahead of the pit": (square(10, 13), {"at": ((-30, 15), (6, 15))}, "unknown"),
    "ends far from the pit": (square(20, 13), {"at": ((-30, 15), (6, 15))}, "met"),
    "ends behind the pit": (square(1, 16), {"at": ((-30, 15), (6, 15))}, "met"),
    "ends and touches": (square(6.05, 13), {"at": ((-30, 15), (6, 15))}, "not_met"),
}


@pytest.mark.parametrize("name", CASES)
def test_each_case_has_its_verdict_and_its_distance(name):
    corners, facts, verdict = CASES[name]
    line = {"id": "L", **GOOD, **facts}
    row = row_of(site_of(line), Polygon(corners))
    expected_m = max(plain_distance(corners, line.get("at", EAST)) - 0.05, 0.0)
    assert row.verdict == verdict, row.reason
    assert row.clearance_m == pytest.approx(expected_m, abs=1e-9)
    assert ("(measured: " in row.reason) == (verdict == "unknown")


TICKETS = {
    "no ticket": Ticket(),
    "expired": make_ticket(valid_until=DAY - WEEK),
    "no last day": make_ticket(valid_until=None),
    "no answer": make_ticket(responses={}),
    "pending": make_ticket(responses={"Member": "pending"}),
    "clear, yet drawn": make_ticket(responses={"Member": "clear"}),
    "future": make_ticket(requested_on=DAY + WEEK, valid_until=DAY + 2 * WEEK),
    "no day of the plan": make_ticket(as_of=None),
    "no number": make_ticket(number=""),
    "marks made anew later": make_ticket(refreshed_on=DAY + WEEK),
}


@pytest.mark.parametrize("name", TICKETS)
def test_each_fault_of_the_ticket_clears_nothing_and_excuses_nothing(name):
    site = site_of({"id": "L", **GOOD}, ticket=TICKETS[name])
    assert row_of(site, box(10, 15.55, 14, 19)).verdict == "unknown"
    assert row_of(site, box(10, 15.45, 14, 19)).verdict == "unknown"
    assert row_of(site, box(10, 15.30, 14, 19)).verdict == "not_met"


def test_a_private_line_is_vouched_for_by_a_private_locate_alone():
    line = {"id": "L", **GOOD, "side": "private"}
    pit = box(10, 15.55, 14, 19)
    assert row_of(site_of(line, locate=LOCATE), pit).verdict == "met"
    ended = dataclasses.replace(LOCATE, valid_until=DAY - datetime.timedelta(days=1))
    assert row_of(site_of(line, locate=ended), pit).verdict == "unknown"


STATES = {
    "CO": True, "Pennsylvania": True, "MI": True, "OH": False, "NC": False, "TX": False,
    "ZZ": False, "": False,
}  # fmt: skip


@pytest.mark.parametrize("state", STATES)
def test_a_state_clears_by_what_was_read_only(state):
    site = site_of({"id": "L", **GOOD}, ticket=make_ticket(state=state))
    far = row_of(site, box(10, 20, 14, 24), rules(zone={}))
    assert far.verdict == ("met" if STATES[state] else "unknown"), far.reason
    assert row_of(site, box(10, 20, 14, 24), rules()).verdict == "met"


# --- every combination ------------------------------------------------------------------------

FAR, NEAR = box(10, 15.6, 14, 19), box(10, 15.2, 14, 19)
LINE_FACTS = {
    "kind": ("gas", "unknown"),
    "member": ("Member", None),
    "marked_on": (None, DAY + WEEK),
    "at": (EAST, ((-30.0, 15.0), (9.0, 15.0))),
}
TICKET_FACTS = {
    "number": ("T", ""),
    "requested_on": (DAY - WEEK, None),
    "valid_until": (DAY + WEEK, None),
    "as_of": (DAY, None),
    "responses": ({"Member": "marked"}, {}),
}
ZONES = ((ZONE, ""), ({}, "NM"), ({}, "OH"), ({}, "NC"), ({}, ""))


def combinations(facts):
    for chosen in itertools.product(*facts.values()):
        yield dict(zip(facts, chosen, strict=True)), chosen == tuple(v[0] for v in facts.values())


@pytest.mark.parametrize(("zone", "state"), ZONES)
def test_over_all_combinations_no_missing_fact_leads_to_met(zone, state):
    """32 papers by 16 lines, side by side: met only where every fact is there."""
    wide = rules(zone=zone, stub={"reach": 40.0})
    kinds = list(combinations(LINE_FACTS))
    lines = [
        {"id": f"{n}", **GOOD, **facts, "at": [(x, 3.0 + 1.6 * n) for x, _ in facts["at"]]}
        for n, (facts, _) in enumerate(kinds)
    ]
    pit = box(10, 28, 14, 29)
    met = 0
    for ticket, papers_whole in combinations(TICKET_FACTS):
        site = site_of(*lines, ticket=make_ticket(state=state, **ticket))
        found = [r for r in judge(site, Works(basin=pit), wide, 1.0) if r.rule == "utility"]
        assert len(found) == 16
        for row, (facts, line_whole) in zip(found, kinds, strict=True):
            if line_whole and papers_whole and (zone or state == "NM"):
                assert (row.verdict, row.method_of_digging) == ("met", "by machine")
                met += 1
            else:
                assert row.verdict == "unknown", (facts, ticket, row.reason)
                assert row.method_of_digging == "none"
    assert met == int(bool(zone) or state == "NM")


@pytest.mark.parametrize(("zone", "state"), ZONES)
def test_what_is_too_near_stays_not_met_whatever_is_missing(zone, state):
    for ticket, _ in combinations(TICKET_FACTS):
        site = site_of({"id": "L", **GOOD}, ticket=make_ticket(state=state, **ticket))
        assert row_of(site, NEAR, rules(zone=zone)).verdict == "not_met"


# --- ends on the lot --------------------------------------------------------------------------


def test_ends_that_meet_something_are_not_loose():
    ends_at = ((-30.0, 15.0), (6.0, 15.0))
    assert [
        (e.x, e.y) for e in find_loose_ends(site_of({"id": "L", "at": ends_at}), rules().stub)
    ] == [(6.0, 15.0)]
    house = [{"geometry": box(6.4, 10, 12, 20)}]
    assert not find_loose_ends(site_of({"id": "L", "at": ends_at}, structures=house), rules().stub)
    pole = [{"geometry": Point(6.0, 15.3), "kind": "meter"}]
    assert not find_loose_ends(site_of({"id": "L", "at": ends_at}, fixtures=pole), rules().stub)
    other = {"id": "M", "at": ((6.2, -20.0), (6.2, 50.0))}
    assert not find_loose_ends(site_of({"id": "L", "at": ends_at}, other), rules().stub)
    beyond = {"id": "L", "at": ((10.0, 15.0), (20.0, 15.0))}
    assert len(find_loose_ends(site_of(beyond), rules().stub)) == 2
    assert not find_loose_ends(site_of({"id": "L"}), rules().stub)


def test_ahead_of_an_end_is_a_half_circle():
    (end,) = find_loose_ends(site_of({"id": "L", "at": ((-30, 15), (6, 15))}), rules().stub)
    assert end.ahead.area == pytest.approx(np.pi * 25.0 / 2.0, rel=5e-3)
    assert end.ahead.covers(Point(10.99, 15.0))
    assert end.ahead.covers(Point(6.01, 19.98))
    assert not end.ahead.intersects(Point(5.9, 15.0))


# --- what is known ----------------------------------------------------------------------------

PAS = "PAS 128:2022 table 1 (a transcription)"


@pytest.mark.parametrize(
    ("level", "depth_m", "position_m", "basis"),
    [
        ("QL-A", None, 0.05, "published"),
        ("QL-B1", 0.5, 0.15, "published"),
        ("QL-B1", 2.0, 0.30, "published"),
        ("QL-B2", 0.5, 0.25, "published"),
        ("QL-B2", 2.0, 0.80, "published"),
        ("QL-B1", None, 0.18, "assumed"),  # 15 % of the 1.2 m assumed
        ("QL-B2", None, 0.48, "assumed"),  # 40 % of them
        ("QL-B3", 2.0, 0.50, "published"),
        ("QL-B", None, 0.30, "from memory"),
        ("QL-B4", None, 1.0, "assumed"),
        ("QL-C", None, 1.0, "assumed"),
        ("QL-D", None, 2.0, "assumed"),
        (None, None, 0.5, "assumed"),
    ],
)
def test_utl_22_position_by_level_says_what_it_rests_on(level, depth_m, position_m, basis):
    """UTL-22: PAS 128:2022 table 1; a share of the depth where that is more."""
    line = {
        "id": "L", **GOOD, "uncertainty_m": np.nan, "quality_level": level,
        "depth_m": np.nan if depth_m is None else depth_m,
    }  # fmt: skip
    (facts,) = facts_of_lines(site_of(line), rules())
    assert facts.position_m == pytest.approx(position_m)
    assert facts.position_basis == basis
    if basis == "published":
        assert facts.position_source == PAS
    if basis in {"assumed", "from memory"}:
        assert any("osition" in told for told in facts.assumed)


def test_facts_say_what_is_known_assumed_and_missing():
    line = {
        "id": "L", "kind": "electric", "side": "private", "owner": "the owner", "marked_by": "Crew",
        "marked_on": DAY, "quality_level": "QL-B1", "shift_accuracy_m": 0.1, "colour": "red",
    }  # fmt: skip
    (facts,) = facts_of_lines(site_of(line), rules(utility_buffer={"electric": 1.0}))
    assert facts.uncertainty_m == pytest.approx(0.18 + 0.1 + 0.05)
    assert facts.required_m == pytest.approx(1.0 + 0.33)
    assert facts.hand_dig_half_width_m == pytest.approx(0.5 + 0.33)
    assert facts.assumed_diameter_m == pytest.approx(0.10)
    assert np.isnan(facts.diameter_m)
    assert facts.length_on_lot_m == pytest.approx(40.0)
    assert (facts.owner, facts.marked_by, facts.marked_on) == ("the owner", "Crew", DAY)
    assert any("does not cover" in clause for clause in facts.missing)
    assert any("treated as live" in told for told in facts.assumed)
    assert facts.level_meaning == "found by several techniques that agree"


@pytest.mark.parametrize(
    ("kind", "least_in"), [("electric", 6), ("gas", 8), ("sewer", 12), ("communication", None)]
)
def test_utl_23_cover_is_expected_and_never_a_clearance(kind, least_in):
    """UTL-23: NEC table 300.5, residential code G2415.12, one state's plumbing code."""
    line = {"id": "L", **GOOD, "kind": kind, "depth_m": 5.0}
    (facts,) = facts_of_lines(site_of(line), rules())
    expected_m = np.nan if least_in is None else least_in * INCH
    assert facts.expected_cover_m == pytest.approx(expected_m, nan_ok=True)
    shallow = row_of(site_of({**line, "depth_m": 0.1}), NEAR)
    deep = row_of(site_of(line), NEAR)
    assert (shallow.verdict, shallow.clearance_m) == (deep.verdict, deep.clearance_m)
    assert ("never a clearance" in deep.reason) == (least_in is not None)


def test_digging_is_by_hand_within_zone_and_uncertainty_and_by_machine_beyond():
    """The design separation of 1.5 m is larger than the law's 0.5 m and what is uncertain, 0.2."""
    wide = rules(utility_buffer={"gas": 1.5}, hand_dig="allowed")
    site = site_of({"id": "L", **GOOD, "uncertainty_m": 0.2})
    beyond = row_of(site, box(10, 15.05 + 1.75, 14, 19), wide)
    assert beyond.hand_dig_within_m == pytest.approx(0.7)
    assert (beyond.verdict, beyond.method_of_digging) == ("met", "by machine")
    inside = row_of(site, box(10, 15.05 + 0.6, 14, 19), wide)
    assert (inside.verdict, inside.method_of_digging) == ("hand_dig", "by hand or vacuum")
    narrow = rules(zone={"width": 0.5, "source": "x"}, utility_buffer={"gas": 0.1})
    assert row_of(site, box(10, 15.8, 14, 19), narrow).method_of_digging == "by machine"


# --- separations of another code ---------------------------------------------------------------


@pytest.mark.parametrize(("kind", "asked_ft"), [("outlet", 6), ("switch", 5)])
def test_utl_24_power_keeps_its_distance_from_the_waters_edge(kind, asked_ft):
    """UTL-24: NEC 680.22(A), 6 ft to a receptacle; 5 ft to a switch. An electrician decides."""
    site = site_of(fixtures=[{"id": "F", "kind": kind, "geometry": Point(20, 20)}])
    asked_m = asked_ft * 0.3048
    met = row_of(site, box(10, 10, 20 - asked_m, 25), line="F", rule="electrical")
    near = row_of(site, box(10, 10, 20.01 - asked_m, 25), line="F", rule="electrical")
    assert (met.verdict, near.verdict) == ("met", "unknown")
    assert "licensed electrician" in near.reason
    assert met.required_m == pytest.approx(asked_m)
    pit = judge(site, Works(basin_excavation=box(10, 10, 19, 25)), rules(), 1.0)
    assert [row for row in pit if row.rule == "electrical"] == []


def test_utl_24_a_point_of_power_counts_as_an_outlet():
    site = site_of(power=[{"id": "P", "geometry": Point(20, 20)}])
    assert row_of(site, box(10, 10, 18.1, 25), line="P", rule="electrical").verdict == "met"
    assert row_of(site, box(10, 10, 18.3, 25), line="P", rule="electrical").verdict == "unknown"


def test_a_sewer_is_cleared_by_a_distance_with_its_source_only():
    sewer = {"id": "L", **GOOD, "kind": "sewer"}
    far, near = box(10, 15.05 + 3.1, 14, 22), box(10, 15.05 + 2.9, 14, 22)
    asked = {"rule": "sewer_separation"}
    assert row_of(site_of(sewer), far, **asked).verdict == "unknown"
    known = rules(separation={"sewer_source": "the plumbing code"})
    assert row_of(site_of(sewer), far, known, **asked).verdict == "met"
    assert row_of(site_of(sewer), near, known, **asked).verdict == "unknown"
    doubted = site_of({**sewer, "member": "Other"})
    assert row_of(doubted, far, known, **asked).verdict == "unknown"


@pytest.mark.parametrize(
    ("voltage_v", "away_m", "verdict"),
    [(240.0, 8.6, "met"), (240.0, 8.5, "unknown"), (np.nan, 50.0, "unknown")],
)
def test_the_boom_reaches_beyond_the_machines_way(voltage_v, away_m, verdict):
    """10 ft of 29 CFR 1926.1408 (from memory) and 5.5 m of boom: 8.548 m."""
    wire = {"id": "W", "geometry": LineString(EAST), "voltage_v": voltage_v, "height_m": 9.0}
    way = box(0, 15 + away_m, 40, 17 + away_m)
    rows = judge(site_of(overhead=[wire]), Works(machine_route=way), rules(), 1.0)
    (boom,) = [row for row in rows if row.rule == "boom"]
    assert boom.required_m == pytest.approx(3.048 + 5.5)
    assert boom.verdict == verdict
    assert "height is no clearance" in boom.reason


# --- crowded streets ---------------------------------------------------------------------------


def far_lines(n, **facts):
    return [
        {"id": f"F{i}", **GOOD, "at": ((-30, 90.0 + i), (70, 90.0 + i)), **facts} for i in range(n)
    ]


def test_all_lines_within_reach_have_a_row_and_the_nearest_stands_for_the_far():
    near = [{"id": f"N{i}", **GOOD, "at": ((-30, 20.0 + i), (70, 20.0 + i))} for i in range(50)]
    site = site_of(*near, *far_lines(40), *far_lines(3, kind="sewer"))
    rows = judge(site, Works(basin=box(10, 10, 14, 14)), rules(), 1.0)
    lines = [row for row in rows if row.rule == "utility"]
    assert {row.against for row in lines} == {f"N{i}" for i in range(50)} | {"F0"}
    gas, sewer = (next(r for r in lines if r.stands_for == n) for n in (40, 3))
    assert (gas.kind, sewer.kind) == ("gas", "sewer")
    assert gas.clearance_m == pytest.approx(90.0 - 14.0 - 0.05)
    assert "nearest of 40 far ones" in gas.reason
    assert sum(row.stands_for for row in lines) == 93
    assert [row.number for row in rows] == list(range(1, len(rows) + 1))


def test_a_far_group_is_as_doubtful_as_its_worst_line():
    doubted = far_lines(5)
    doubted[3]["member"] = "Other"
    for lines, verdict in ((far_lines(5), "met"), (doubted, "unknown")):
        rows = judge(site_of(*lines), Works(basin=box(10, 10, 14, 14)), rules(), 1.0)
        (row,) = [row for row in rows if row.rule == "utility"]
        assert (row.verdict, row.stands_for) == (verdict, 5)
    assert "F3" in row.reason


def test_what_asks_farther_than_the_reach_keeps_its_own_row():
    short = rules(rows={"lines_within": 1.0, "others_within": 0.0}, tolerance_zone={
        "width": 3.0, "source": "x"
    })  # fmt: skip
    lines = [{"id": f"N{i}", **GOOD, "at": ((-30, 16.0 + i), (70, 16.0 + i))} for i in range(5)]
    rows = judge(site_of(*lines), Works(basin=box(10, 10, 14, 14)), short, 1.0)
    told = {row.against: row.stands_for for row in rows if row.rule == "utility"}
    assert told == {"N0": 1, "N1": 1, "N2": 3}
