"""Clearances: what is not known never clears a line, distances are exact, figures never flatter."""

from __future__ import annotations

import dataclasses
import datetime
import itertools
import math
import re
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from made_sites import DAY, make_layer, make_site, make_ticket
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon, box

from geo_site.clearance import (
    WORK_RULES,
    Works,
    doubts_about,
    doubts_about_fixture,
    judge,
    member_key,
    rounded_down,
    rounded_up,
)
from geo_site.clearance.figures import TOUCH_M, told_distances
from geo_site.constraints import ConstraintParameters
from geo_site.parameters import read_table
from geo_site.site import UTILITY_KINDS, PrivateLocate, Ticket

INCH = 0.0254
EAST = LineString([(-30.0, 15.0), (70.0, 15.0)])
MARKED = {"kind": "gas", "member": "Member", "side": "public", "diameter_m": 0.1}
SURE = {**MARKED, "uncertainty_m": 0.0}
WEEK = datetime.timedelta(days=7)
LOCATE = PrivateLocate(by="a locator", on=DAY - WEEK, valid_until=DAY + WEEK)
BARE = make_site()
SEPARATIONS = {"boom", "electrical", "sewer_separation"}


def rules(zone_m: float | None = 0.5, **table: object) -> ConstraintParameters:
    """Rules of which only the tolerance zone counts for lines, unless told otherwise."""
    none = dict.fromkeys(UTILITY_KINDS[:-1], 0.0)
    zone = {} if zone_m is None else {"width": zone_m, "source": "for this test"}
    given = {"tolerance_zone": zone, "utility_buffer": none, **table}
    return read_table(ConstraintParameters, given, table="constraints")


def site_with(ticket=None, locate=LOCATE, **layers):
    """The bare site with other tables; quicker than making one."""
    tables = {name: make_layer(name, rows) for name, rows in layers.items()}
    given = {"ticket": ticket or BARE.ticket, "private_locate": locate}
    return dataclasses.replace(BARE, **tables, **given)


def rows_of(site, parameters=None, depth_m=1.0, **works):
    return judge(site, Works(**works), parameters or rules(), depth_m)


def one(site, against, parameters=None, **works):
    found = rows_of(site, parameters, **works)
    (row,) = [r for r in found if r.against == against and r.rule not in SEPARATIONS]
    return row


def line_row(work, geometry, parameters=None, line=EAST, **facts):
    site = site_with(utilities=[{"id": "L", "geometry": line, **SURE, **facts}])
    return one(site, "L", parameters, **{work: geometry})


def pit_above(gap_m: float, half_m: float = 0.05) -> Polygon:
    """A pit whose edge lies a distance above the outer edge of the line along y = 15."""
    return box(10.0, 15.0 + half_m + gap_m, 14.0, 20.0 + gap_m)


# --- what is not known -----------------------------------------------------------------------

KINDS = ("gas", "unknown", None, "steam")
SIDES = ("public", "private", " Private ", None, "customer")
MEMBERS = ("Member", " mEMBER ", "Members", float("nan"), " ")
NUMBERS = ("T-1", "  ")
STARTS = (DAY - WEEK, DAY + WEEK, pd.NaT)
ENDS = (DAY + WEEK, DAY - WEEK, None)
ANSWERS = (
    {"Member": "marked"},
    {},
    {"Member": "pending"},
    {"Member": "clear"},
    {"Member": "marked", "MEMBER ": "pending"},
    {"Member": None},
    {"Other": "marked"},
)
LOCATES = (
    LOCATE,
    None,
    PrivateLocate(by=" ", on=DAY - WEEK, valid_until=DAY + WEEK),
    PrivateLocate(by="x", on=None, valid_until=DAY + WEEK),
    PrivateLocate(by="x", on=DAY + WEEK, valid_until=DAY + 2 * WEEK),
    PrivateLocate(by="x", on=DAY - WEEK, valid_until=None),
    PrivateLocate(by="x", on=DAY - 2 * WEEK, valid_until=DAY - WEEK),
)


def fully_vouched(kind, side, member, ticket, locate) -> bool:
    """The truth, written from the law's practice: every single fact is there and good."""
    if kind != "gas" or ticket.as_of is None:
        return False
    if side in {"private", " Private "}:
        return locate is LOCATE
    paper = ticket.number == "T-1" and ticket.requested_on == DAY - WEEK
    paper = paper and ticket.valid_until == DAY + WEEK
    answered = member in {"Member", " mEMBER "} and ticket.responses == {"Member": "marked"}
    return side != "customer" and paper and answered


def tickets():
    for number, start, end, as_of, answers in itertools.product(
        NUMBERS, STARTS, ENDS, (DAY, None), ANSWERS
    ):
        yield make_ticket(
            number=number, requested_on=start, valid_until=end, as_of=as_of, responses=answers
        )


def test_every_combination_of_facts_is_doubted_unless_all_are_there():
    lines = list(itertools.product(KINDS, SIDES, MEMBERS))
    clear = 0
    for ticket in tickets():
        locates = LOCATES if ticket.number == "T-1" and ticket.as_of else LOCATES[:2]
        for locate in locates:
            site = SimpleNamespace(ticket=ticket, private_locate=locate)
            for kind, side, member in lines:
                line = SimpleNamespace(id="L", kind=kind, side=side, member=member)
                found = doubts_about(line, site)
                assert (found == ()) == fully_vouched(kind, side, member, ticket, locate)
                assert all(isinstance(clause, str) and clause for clause in found)
                clear += not found
    assert clear > 0


GAPS = {"far": 3.0, "met": 0.55, "by hand": 0.4, "too near": 0.2, "touching": 0.0, "over": -0.3}


FACTS = st.fixed_dictionaries(
    {
        "kind": st.sampled_from(KINDS),
        "side": st.sampled_from(SIDES),
        "member": st.sampled_from(MEMBERS),
        "status": st.sampled_from(["live", "abandoned", None]),
        "quality_level": st.sampled_from(["QL-A", None]),
    }
)
GOOD = next(tickets())
PAPERS = st.tuples(st.sampled_from([GOOD, Ticket(), *tickets()]), st.sampled_from(LOCATES))
PLANNED = st.tuples(
    st.sampled_from(["basin", "basin_excavation", "stream", "spoil_pile"]),
    st.sampled_from(list(GAPS)),
)
RULES = st.tuples(st.sampled_from([0.5, None]), st.sampled_from(["never", "if_needed", "allowed"]))


@settings(max_examples=120, deadline=None)
@given(FACTS, PAPERS, PLANNED, RULES)
@example({**MARKED, "status": "abandoned"}, (GOOD, None), ("basin", "met"), (0.5, "never"))
@example({**MARKED, "side": "private"}, (GOOD, None), ("basin", "met"), (0.5, "never"))
@example({**MARKED}, (GOOD, None), ("stream", "by hand"), (None, "allowed"))
def test_no_missing_fact_ends_in_met_or_hand_dig_and_not_met_stays(facts, papers, planned, law):
    (ticket, locate), (work, gap), (zone_m, mode) = papers, planned, law
    line = {"id": "L", "geometry": EAST, **facts, "diameter_m": 0.1}
    site = site_with(ticket, locate, utilities=[line])
    row = one(site, "L", rules(zone_m, hand_dig=mode), **{work: pit_above(GAPS[gap])})
    kind, side, member = facts["kind"], facts["side"], facts["member"]
    vouched = fully_vouched(kind, side, member, ticket, locate) and zone_m is not None
    nearest_m = row.required_m if mode == "never" else min(0.30, row.required_m)
    if max(GAPS[gap], 0.0) < nearest_m:
        assert row.verdict == "not_met"
    elif not vouched:
        assert row.verdict == "unknown"
        assert "(measured: " in row.reason
    else:
        enough = max(GAPS[gap], 0.0) >= row.required_m
        assert row.verdict == ("met" if enough else "hand_dig")


def test_the_fully_vouched_line_is_met_so_that_the_rules_above_can_fail():
    assert line_row("basin", pit_above(0.55)).verdict == "met"
    assert line_row("basin", pit_above(0.4)).verdict == "hand_dig"
    assert line_row("basin", pit_above(0.2)).verdict == "not_met"
    assert line_row("basin", pit_above(0.55), status="abandoned").verdict == "met"


@pytest.mark.parametrize("day", [pd.NaT, None, "2026-06-01", math.nan])
@pytest.mark.parametrize("which", ["as_of", "requested_on", "valid_until"])
def test_a_day_that_is_no_day_is_not_stated(which, day):
    site = SimpleNamespace(ticket=make_ticket(**{which: day}), private_locate=LOCATE)
    line = SimpleNamespace(kind="gas", side="public", member="Member")
    assert any("not stated" in clause for clause in doubts_about(line, site))


def test_a_moment_counts_as_its_day():
    noon = datetime.datetime(DAY.year, DAY.month, DAY.day, 12)
    ticket = make_ticket(as_of=noon, valid_until=DAY)
    site = SimpleNamespace(ticket=ticket, private_locate=None)
    assert doubts_about(SimpleNamespace(kind="gas", side=None, member="Member"), site) == ()


def test_an_id_that_stands_twice_has_the_doubts_of_both():
    for order in (1, -1):
        lines = [
            {"id": "L", "geometry": EAST, **SURE},
            {"id": "L", "geometry": EAST, **SURE, "member": None},
        ][::order]
        site = site_with(utilities=lines)
        rows = [r for r in rows_of(site, basin=pit_above(5.0)) if r.kind == "gas"]
        assert [row.verdict for row in rows] == ["unknown", "unknown"]


NAMES = st.text(max_size=6)


@given(NAMES, NAMES)
def test_two_members_match_only_where_case_and_outer_spaces_differ(name, other):
    same = name.strip().casefold() == other.strip().casefold()
    assert (member_key(name) == member_key(other)) == same
    site = SimpleNamespace(ticket=make_ticket(responses={other: "marked"}), private_locate=None)
    line = SimpleNamespace(id="L", kind="gas", side="public", member=name)
    assert (doubts_about(line, site) == ()) == (same and name.strip() != "")


@pytest.mark.parametrize("written", ["Gas ", "gas", " GAS"])
def test_a_member_is_found_whatever_its_case_and_spaces(written):
    site = SimpleNamespace(ticket=make_ticket(responses={written: "marked"}), private_locate=None)
    assert doubts_about(SimpleNamespace(kind="gas", side="public", member="Gas"), site) == ()


@pytest.mark.parametrize("other", ["Gas 2", "Gas Co", "G as", "Gaz", "Electric"])
def test_another_member_does_not_answer_for_it(other):
    site = SimpleNamespace(ticket=make_ticket(responses={other: "marked"}), private_locate=None)
    (told,) = doubts_about(SimpleNamespace(kind="gas", side="public", member="Gas"), site)
    assert told == "Gas has not answered the ticket"


@pytest.mark.parametrize(
    ("kind", "ticket", "locate", "zone_m", "verdict"),
    [
        ("meter", None, None, 0.5, "met"),
        ("meter", Ticket(), None, 0.5, "unknown"),
        ("meter", make_ticket(valid_until=DAY - WEEK), None, 0.5, "unknown"),
        ("meter", make_ticket(responses={}), None, 0.5, "unknown"),
        ("meter", make_ticket(responses={"A": "marked", "B": "pending"}), None, 0.5, "unknown"),
        ("meter", None, None, None, "unknown"),
        ("unknown", None, LOCATE, 0.5, "unknown"),
        (None, None, LOCATE, 0.5, "unknown"),
        ("lamp_post", None, None, 0.5, "unknown"),
        ("outlet", None, None, 0.5, "unknown"),
        ("lamp_post", None, LOCATE, 0.5, "met"),
    ],
)
def test_fixtures_are_cleared_by_a_complete_ticket_or_a_private_locate(
    kind, ticket, locate, zone_m, verdict
):
    site = site_with(ticket, locate, fixtures=[{"id": "F", "kind": kind, "geometry": Point(9, 9)}])
    assert one(site, "F", rules(zone_m), basin=box(11, 8, 14, 12)).verdict == verdict
    assert one(site, "F", rules(zone_m), basin=box(9.5, 8, 14, 12)).verdict == "not_met"
    doubts = doubts_about_fixture(next(site.fixtures.itertuples()), site)
    assert (doubts == ()) == (verdict == "met" or zone_m is None)


@pytest.mark.parametrize("voltage_v", [float("nan"), None])
def test_an_overhead_line_of_unknown_voltage_clears_nothing(voltage_v):
    line = {"id": "O", "geometry": EAST, "voltage_v": voltage_v}
    site = site_with(overhead=[line])
    assert one(site, "O", basin=pit_above(10.0, 0.0)).verdict == "unknown"
    assert one(site, "O", basin=pit_above(1.0, 0.0)).verdict == "not_met"
    assert one(site, "O", machine_route=pit_above(10.0, 0.0)).verdict == "unknown"
    known = site_with(overhead=[{**line, "voltage_v": 240.0}])
    assert one(known, "O", basin=pit_above(10.0, 0.0)).verdict == "met"


def test_an_unknown_septic_part_clears_nothing():
    site = site_with(septic=[{"id": "S", "geometry": Point(2, 2), "kind": None}])
    assert one(site, "S", basin=box(30, 20, 35, 25)).verdict == "unknown"
    assert one(site, "S", basin=box(3, 2, 6, 5)).verdict == "not_met"


# --- distance --------------------------------------------------------------------------------


def point_to_segments(points, starts, ends):
    """Least distance of points to segments, by projection."""
    way = ends - starts
    along = np.einsum("psk,sk->ps", points[:, None] - starts[None], way)
    share = np.clip(along / np.maximum((way**2).sum(axis=1), 1e-300), 0.0, 1.0)
    foot = starts[None] + share[..., None] * way[None]
    return float(np.hypot(*(points[:, None] - foot).transpose(2, 0, 1)).min())


def side_of(a, b, c):
    return np.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def any_cross(first, second):
    pairs = itertools.product(itertools.pairwise(first), itertools.pairwise(second))
    return any(
        side_of(a, b, c) != side_of(a, b, d) and side_of(c, d, a) != side_of(c, d, b)
        for (a, b), (c, d) in pairs
    )


def is_inside(point, ring):
    """Even number of edges to the right: outside."""
    x, y = point
    hits = 0
    for (x1, y1), (x2, y2) in itertools.pairwise(ring):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            hits += 1
    return hits % 2 == 1


def by_hand(ring, line):
    """Distance of a polygon and a line, apart from any geometry library."""
    if any_cross(ring, line) or is_inside(line[0], ring):
        return 0.0
    return min(
        point_to_segments(ring, line[:-1], line[1:]), point_to_segments(line, ring[:-1], ring[1:])
    )


def star(rng, n=9):
    angles = np.sort(rng.uniform(0.0, 2.0 * np.pi, n))
    radii = rng.uniform(1.0, 4.0, n)
    corners = np.column_stack([20 + radii * np.cos(angles), 15 + radii * np.sin(angles)])
    return np.vstack([corners, corners[:1]])


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("origin", [(0.0, 0.0), (500_000.0, 4_000_000.0)])
def test_clearance_is_the_shortest_distance_less_half_the_diameter(seed, origin):
    rng = np.random.default_rng(seed)
    ring, line = star(rng), rng.uniform(-10.0, 50.0, (4, 2)) + rng.uniform(-3, 3, 2)
    diameter_m = float(rng.choice([0.02, 0.1, 0.6]))
    distance_m = by_hand(ring, line)
    drawn = LineString(line + origin)
    site = site_with(utilities=[{"id": "L", "geometry": drawn, **SURE, "diameter_m": diameter_m}])
    pit = Polygon(ring + origin)
    assert pit.is_valid
    row = one(site, "L", basin=pit)
    expected_m = max(distance_m - diameter_m / 2.0, 0.0)
    assert row.clearance_m == pytest.approx(expected_m, abs=2e-9)
    assert row.connector.is_valid
    assert row.connector.length == pytest.approx(row.clearance_m, abs=1.1e-7)
    start, end = (Point(at) for at in row.connector.coords)
    assert pit.distance(start) < 2e-9
    if row.clearance_m > 0.0:
        assert drawn.distance(end) == pytest.approx(diameter_m / 2.0, abs=1e-8)


def test_inside_crossing_and_touching_are_no_distance():
    pit = box(10, 10, 20, 20)
    inside = LineString([(12, 12), (18, 18)])
    for line in (
        inside,
        EAST,
        LineString([(20.05, 0), (20.05, 30)]),
        LineString([(20, 5), (20, 9)]),
    ):
        row = line_row("basin", pit, line=line)
        if line.distance(pit) <= 0.05 + 1e-9:
            assert row.clearance_m == 0.0
            assert row.verdict == "not_met"
    far = line_row("basin", pit, line=LineString([(20.25, 0), (20.25, 30)]))
    assert far.clearance_m == pytest.approx(0.20)


def test_of_many_parts_the_nearest_counts():
    parts = MultiLineString([[(0, 0), (40, 0)], [(0, 12), (40, 12)], [(0, 29), (40, 29)]])
    pits = MultiPolygon([box(5, 3, 8, 6), box(20, 13, 24, 16)])
    assert line_row("basin", pits, line=parts).clearance_m == pytest.approx(0.95)
    hole = Polygon(box(0, 0, 40, 30).exterior, [box(10, 10, 30, 20).exterior])
    in_hole = LineString([(15, 14), (25, 14)])
    assert line_row("basin", hole, line=in_hole).clearance_m == pytest.approx(3.95)


def test_heights_play_no_part_and_the_connector_is_flat():
    high = LineString([(-30.0, 15.0, 250.0), (70.0, 15.0, float("nan"))])
    pit = shapely.force_3d(pit_above(1.0), 90.0)
    flat, solid = line_row("basin", pit_above(1.0)), line_row("basin", pit, line=high)
    assert solid.clearance_m == pytest.approx(flat.clearance_m, abs=1e-12)
    assert flat.clearance_m == pytest.approx(1.0)
    assert not solid.connector.has_z
    assert solid.verdict == flat.verdict


def test_nothing_of_what_is_given_changes_and_the_answer_is_the_same_twice():
    site = site_with(utilities=[{"id": "L", "geometry": EAST, **SURE}])
    before = site.utilities.to_wkb().to_csv()
    works = Works(basin=pit_above(1.0), pipe=LineString([(5, 0), (5, 30)]).buffer(0.15))
    first, second = judge(site, works, rules(), 1.0), judge(site, works, rules(), 1.0)
    assert first == second
    assert site.utilities.to_wkb().to_csv() == before


def test_every_work_is_judged_and_absent_ones_are_not():
    everything = {name: box(5, 5, 6, 6) for name in WORK_RULES}
    site = site_with(structures=[{"id": "H", "geometry": box(30, 20, 35, 25)}])
    told = [row.work for row in rows_of(site, **everything) if row.against == "H"]
    assert told == list(WORK_RULES)
    assert [f.name for f in dataclasses.fields(Works)] == list(WORK_RULES)
    assert rows_of(site, basin=Polygon()) == ()


# --- published zones -------------------------------------------------------------------------


def pit_beside(from_centre_m):
    return box(10.0, 15.0 + from_centre_m, 14.0, 20.0)


def zone_row(diameter_in, zone_in, from_centre_in):
    never = rules(zone_in * INCH, hand_dig="never")
    pit = pit_beside(from_centre_in * INCH)
    return line_row("basin", pit, never, diameter_m=diameter_in * INCH)


def test_utl_01_two_inch_pipe_with_18_inches_is_38_inches_wide():
    """UTL-01: half of 38 in from the centre line is met, a hair nearer is not."""
    assert zone_row(2, 18, 19).verdict == "met"
    assert zone_row(2, 18, 19 - 0.01).verdict == "not_met"
    assert zone_row(2, 18, 19).clearance_m == pytest.approx(18 * INCH)


@pytest.mark.parametrize(("zone_in", "width_in", "wrong_in"), [(18, 42, 36), (24, 54, 48)])
def test_utl_02_the_pipe_itself_is_not_left_out(zone_in, width_in, wrong_in):
    """UTL-02: a 6 in pipe; 36 and 48 in forget its diameter."""
    assert zone_row(6, zone_in, width_in / 2).verdict == "met"
    wrong = zone_row(6, zone_in, wrong_in / 2)
    assert wrong.verdict == "not_met"
    assert wrong.clearance_m == pytest.approx((zone_in - 3) * INCH)


def test_position_uncertainty_is_asked_besides():
    row = line_row("basin", pit_above(0.6), uncertainty_m=0.25)
    assert row.required_m == pytest.approx(0.75)
    assert row.verdict == "hand_dig"
    assert "(rule 0.50 m, position 0.25 m)" in row.reason


# --- overlaps --------------------------------------------------------------------------------

NOTHING_ASKED = {
    "hand_dig": "allowed", "least_hand_dig_distance": 0.0, "fixture_zone": 0.0, "water": 0.0,
    "boundary": {"basin": 0.0, "fence": 0.0, "stream": 0.0},
}  # fmt: skip


def test_what_asks_for_no_distance_is_still_not_dug_through():
    free = rules(0.001, **NOTHING_ASKED)  # a zone of nothing is refused
    site = site_with(
        utilities=[{"id": "L", "geometry": EAST, **SURE}],
        easements=[{"id": "E", "geometry": box(10, 0, 20, 10)}],
        fixtures=[{"id": "F", "kind": "meter", "geometry": Point(30, 20)}],
        water_bodies=[{"id": "W", "geometry": LineString([(0, 25), (40, 25)])}],
    )
    over = {row.against: row for row in rows_of(site, free, basin=box(5, 5, 35, 29))}
    assert over["lot"].verdict == "met"
    for name in "LEFW":
        assert over[name].required_m == (0.001 if name in "LF" else 0.0)
        assert over[name].clearance_m == 0.0
        assert over[name].verdict == "not_met", over[name]
        assert "reaches into it" in over[name].reason


def test_ground_beside_an_easement_is_free_up_to_its_edge():
    site = site_with(easements=[{"id": "E", "geometry": box(10, 0, 20, 10)}])
    assert one(site, "E", basin=box(20, 0, 25, 5)).verdict == "met"
    assert one(site, "E", basin=box(19.999, 0, 25, 5)).verdict == "not_met"
    assert one(site, "E", silt_fence=LineString([(5, 5), (15, 5)])).verdict == "not_met"
    assert one(site, "E", silt_fence=LineString([(20, 0), (20, 10)])).verdict == "met"


def test_a_machine_does_not_drive_through_a_house():
    site = site_with(structures=[{"id": "H", "kind": "house", "geometry": box(10, 10, 20, 20)}])
    through = LineString([(0, 15), (30, 15)]).buffer(0.9)
    assert one(site, "H", machine_route=through).verdict == "not_met"
    beside = LineString([(0, 5), (30, 5)]).buffer(0.9)
    assert one(site, "H", machine_route=beside).verdict == "met"


@pytest.mark.parametrize(
    "work",
    [
        box(45, 5, 50, 10),
        box(38, 5, 42, 10),
        LineString([(45, 5), (45, 10)]),
        MultiPolygon([box(10, 10, 12, 12), box(50, 5, 55, 10)]),
    ],
)
@pytest.mark.parametrize("asked_m", [0.0, 1.0])
def test_works_outside_the_parcel_have_no_distance_to_its_line(work, asked_m):
    free = rules(0.5, boundary=dict.fromkeys(("basin", "fence", "stream"), asked_m))
    for name in ("basin", "silt_fence", "stream"):
        row = one(BARE, "lot", free, **{name: work})
        assert row.clearance_m == 0.0
        assert row.verdict == "not_met"
        assert "outside the parcel" in row.reason
        assert row.connector.is_valid


def test_works_inside_the_parcel_are_measured_to_its_line():
    row = one(BARE, "lot", rules(0.5, boundary={"basin": 2.0}), basin=box(3, 10, 8, 15))
    assert (row.clearance_m, row.verdict) == (pytest.approx(3.0), "met")
    yard = dataclasses.replace(
        BARE,
        parcel=MultiPolygon([Polygon(box(0, 0, 40, 30).exterior, [box(10, 10, 20, 20).exterior])]),
    )
    assert one(yard, "lot", basin=box(12, 12, 14, 14)).clearance_m == 0.0


# --- trenches and machines -------------------------------------------------------------------


def trench(*corners):
    return LineString(corners).buffer(0.15, cap_style="flat")


def test_a_trench_that_crosses_a_line_is_dug_by_hand_unless_never():
    across = trench((12, 5), (12, 25))
    row = line_row("pipe", across)
    assert (row.clearance_m, row.verdict) == (0.0, "hand_dig")
    assert "depth is unknown" in row.reason
    assert line_row("pipe", across, rules(hand_dig="never")).verdict == "not_met"
    assert line_row("pipe", trench((5, 5), (25, 25))).verdict == "hand_dig"
    assert line_row("pipe", across, kind="unknown").verdict == "unknown"
    assert line_row("pipe", LineString([(12, 5), (12, 25)])).verdict == "hand_dig"
    little = rules(0.1)
    assert line_row("pipe", across, little).verdict == "hand_dig"
    for work in ("basin", "stream", "spoil_pile", "silt_fence"):
        assert line_row(work, across).verdict == "not_met"


@pytest.mark.parametrize(
    "along",
    [
        trench((5, 15), (25, 15)),
        trench((5, 15.15), (25, 15.15)),
        trench((5, 15.25), (25, 15.25)),
        trench((5, 14.5), (25, 15.5)),
        trench((12, 5), (12, 15.3), (25, 15.3)),
        LineString([(5, 15), (25, 15)]),
    ],
)
def test_a_trench_along_a_line_is_no_crossing(along):
    assert line_row("pipe", along).verdict == "not_met"
    pieces = MultiLineString([[(x, 15.0), (x + 0.1, 15.0)] for x in np.arange(0.0, 30.0, 0.1)])
    assert line_row("pipe", along, line=pieces).verdict == "not_met"


def test_a_line_that_ends_at_the_trench_or_runs_on_its_edge_is_not_crossed():
    across = trench((12, 5), (12, 25))
    for line in (LineString([(12.15, 15), (40, 15)]), LineString([(12.15, 0), (12.15, 30)])):
        row = line_row("pipe", across, line=line)
        assert (row.clearance_m, row.verdict) == (0.0, "not_met")


def test_a_machine_tells_only_the_lines_that_it_crosses():
    way = LineString([(0, 5), (30, 5)]).buffer(0.9)
    lines = [
        {"id": "across", "geometry": LineString([(15, 0), (15, 30)]), **SURE},
        {"id": "beside", "geometry": LineString([(0, 6.2), (30, 6.2)]), **SURE},
        {"id": "doubted", "geometry": LineString([(20, 0), (20, 30)]), **SURE, "member": "No"},
    ]
    rows = {r.against: r for r in rows_of(site_with(utilities=lines), machine_route=way)}
    assert set(rows) == {"across", "doubted"}
    assert rows["across"].required_m == rows["across"].clearance_m == 0.0
    assert rows["across"].verdict == "unknown"
    assert "cover is unknown" in rows["across"].reason
    assert "crosses a buried line" in rows["across"].reason
    assert rows["doubted"].verdict == "unknown"
    unruled = {
        r.against: r for r in rows_of(site_with(utilities=lines), rules(None), machine_route=way)
    }
    assert unruled["across"].verdict == "unknown"


# --- figures ---------------------------------------------------------------------------------

DISTANCES = st.floats(0.0, 1e4)


def figures_of(told):
    """The distance found and the one asked, as printed."""
    match = re.search(r"([0-9.]+) m found, ([0-9.]+) m asked", told)
    return float(match[1]), float(match[2])


@given(DISTANCES, st.floats(-1e-3, 1e-3) | st.sampled_from([0.0, -1.1e-9, -5e-9, -1e-8, -1e-6]))
@example(0.3, 0.0)
@example(1.0, -2e-9)
def test_a_short_distance_is_never_printed_as_long_enough(asked_m, more_m):
    found_m = asked_m + more_m
    assume(found_m >= 0.0)
    found, asked = figures_of(told_distances(found_m, asked_m))
    if found_m < asked_m - TOUCH_M:
        assert found < asked
    assert found <= found_m + TOUCH_M
    assert asked >= asked_m - TOUCH_M


@given(DISTANCES, st.integers(0, 4))
def test_rounding_goes_to_the_safe_side_by_less_than_a_digit(value_m, decimals):
    down, up = rounded_down(value_m, decimals), rounded_up(value_m, decimals)
    assert down <= value_m + TOUCH_M
    assert up >= value_m - TOUCH_M
    assert up - down <= 10.0**-decimals + 1e-9
    assert rounded_down(float(f"{value_m:.2f}")) == pytest.approx(float(f"{value_m:.2f}"), abs=1e-9)


def test_a_distance_just_met_is_not_printed_as_short():
    assert told_distances(1.2696, 1.2692) == "1.2696 m found, 1.2692 m asked"
    assert told_distances(1.28, 1.2692) == "1.28 m found, 1.27 m asked"
    assert math.isnan(rounded_down(float("nan")))
    assert rounded_up(math.inf) == math.inf


@given(st.floats(0.0, 3.0))
@settings(max_examples=60, deadline=None)
def test_the_verdict_and_its_figures_say_the_same(gap_m):
    row = line_row("basin", pit_above(gap_m))
    found, asked = figures_of(row.reason)
    assert found <= row.clearance_m + TOUCH_M
    assert asked >= row.required_m - TOUCH_M
    if row.verdict != "met":
        assert found < asked
