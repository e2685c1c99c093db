"""Why there is no place, by closed forms on squares; what a reader is warned of."""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_site
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from geo_site.clearance import Clearance
from geo_site.constraints import BlockedPiece, ConstraintParameters, Ground
from geo_site.plan.reasons import excavation_told, no_place_rows, warnings_of, weaker_rules

SITE = make_site(lot=box(0, 0, 10, 10))


def ground_of(*pieces, free=None) -> Ground:
    """Ground with pieces of (reason, area)."""
    made = tuple(
        BlockedPiece(reason=reason, source_id="", distance_m=0.0, geometry=MultiPolygon([area]))
        for reason, area in pieces
    )
    left = MultiPolygon([free]) if isinstance(free, Polygon) else MultiPolygon()
    return Ground(
        work="basin",
        pieces=made,
        blocked=MultiPolygon(),
        hand_dig=(),
        open=MultiPolygon(),
        free=left,
    )


def areas(rows):
    return {row.rule: (row.ground_m2, row.only_this_m2) for row in rows}


def test_overlapping_rules_share_what_both_take():
    """Two 6 x 10 strips overlap by 2 x 10: each alone takes 40 of its 60 m2."""
    ground = ground_of(("left", box(0, 0, 6, 10)), ("right", box(4, 0, 10, 10)))
    told = areas(no_place_rows(SITE, ground, ()))
    assert told["left"] == pytest.approx((60.0, 40.0))
    assert told["right"] == pytest.approx((60.0, 40.0))


def test_a_rule_inside_another_takes_nothing_alone():
    ground = ground_of(("all", box(-5, -5, 15, 15)), ("some", box(2, 2, 5, 5)))
    told = areas(no_place_rows(SITE, ground, ()))
    assert told["all"] == pytest.approx((100.0, 91.0))
    assert told["some"] == pytest.approx((9.0, 0.0))


def test_pieces_of_one_rule_are_one_and_only_the_lot_counts():
    ground = ground_of(
        ("roots", box(0, 0, 4, 4)), ("roots", box(2, 0, 6, 4)), ("roots", box(9, 9, 12, 12)),
        ("far", box(20, 20, 30, 30)),
    )  # fmt: skip
    told = areas(no_place_rows(SITE, ground, ()))
    assert told["roots"] == pytest.approx((25.0, 25.0))
    assert "far" not in told


def test_without_a_failed_stream_the_room_that_is_left_comes_first():
    ground = ground_of(("a", box(0, 0, 6, 10)), ("b", box(0, 0, 2, 10)), free=box(6, 0, 10, 10))
    rows = no_place_rows(SITE, ground, ())
    assert "does not fit" in rows[0].rule
    assert rows[0].ground_m2 == pytest.approx(40.0)
    assert math.isnan(rows[0].only_this_m2)
    assert [row.rule for row in rows[1:]] == ["a", "b"]  # the greediest first


def test_the_room_that_the_excavation_needs_is_told():
    """2.4 x 0.8 m, 0.3 m of overdig and sides of 1.5 on 0.7 m: each side 2.7 m wider."""
    parts = {"overdig_m": 0.3, "batter": 1.5, "depth_m": 0.7}
    sides = [SimpleNamespace(length_m=1.6, width_m=1.2), SimpleNamespace(length_m=2.4, width_m=0.8)]
    told = excavation_told(SimpleNamespace(arrangements=sides, **parts), 0.6)
    assert "5.1 x 3.5 m" in told
    assert "0.6 m of rise" in told
    rows = no_place_rows(SITE, ground_of(free=box(0, 0, 1, 1)), (), told)
    assert rows[0].rule == f"{told} does not fit on the ground that is left"


def test_failed_streams_are_told_once_each():
    rows = no_place_rows(SITE, ground_of(), ("too steep", "too short", "too steep"))
    assert [row.rule for row in rows] == ["no stream: too short", "no stream: too steep"]
    assert all(math.isnan(row.ground_m2) for row in rows)


CELLS = st.sets(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=1, max_size=12)


@settings(max_examples=40, deadline=None)
@given(st.dictionaries(st.sampled_from("abcd"), CELLS, min_size=1))
def test_areas_count_cells(taken):
    """On unit squares, areas are counts of cells."""
    pieces = [(name, box(x, y, x + 1, y + 1)) for name, cells in taken.items() for x, y in cells]
    told = areas(no_place_rows(SITE, ground_of(*pieces), ("x",)))
    for name, cells in taken.items():
        others = set().union(*(c for other, c in taken.items() if other != name))
        assert told[name] == pytest.approx((len(cells), len(cells - others)), abs=1e-9)


def row_of(verdict) -> Clearance:
    return Clearance(
        work="basin", against="L", kind="gas", required_m=1.0, clearance_m=2.0, verdict=verdict,
        reason="-", connector=LineString([(0, 0), (2, 0)]),
    )  # fmt: skip


def warn(*verdicts, flags=(), notes=(), proposal=None, cell_m=(1.0, 1.0), lows=()):
    ground = SimpleNamespace(cell_width_m=cell_m[0], cell_height_m=cell_m[1])
    terrain = SimpleNamespace(notes=notes, ground=ground, depressions=lows)
    basins = (SimpleNamespace(width_m=1.6), SimpleNamespace(width_m=1.2))
    design = SimpleNamespace(flags=flags, arrangements=basins)
    return warnings_of(terrain, design, proposal, [row_of(one) for one in verdicts])


def test_bad_verdicts_are_counted_the_gravest_first():
    told = warn("met", "hand_dig", "unknown", "not_met", "unknown")
    assert [text.split(":")[0] for text in told] == [
        "clearances not met", "clearances unknown", "clearances to be dug by hand",
    ]  # fmt: skip
    assert "2" in told[1]
    assert warn("met", "met") == ()


def proposal_of(state="found", edge=False, water=(), earth=(), reaches_pile=True):
    return SimpleNamespace(
        water=SimpleNamespace(warnings=water),
        storms=None,
        earthwork=SimpleNamespace(flags=earth),
        works=SimpleNamespace(basin_excavation=box(0, 0, 4, 4)),
        placement=SimpleNamespace(rim_level_m=100.0),
        catchments=(SimpleNamespace(reaches_terrain_edge=edge),),
        best=SimpleNamespace(candidate=SimpleNamespace(route_state=state)),
        reaches_pile=reaches_pile,
    )


def test_every_flag_is_told_once():
    one = proposal_of(water=("runs dry", "twice"), earth=("soil unknown", "twice"))
    told = warn("met", flags=("deep",), notes=("a hole", "twice"), proposal=one)
    assert told == ("deep", "runs dry", "twice", "soil unknown", "a hole")


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"state": "none"}, "no way in"),
        ({"state": "unknown"}, "no access"),
        ({"edge": True}, "beyond"),
    ],
)
def test_what_is_unknown_of_water_and_way_is_told(given, told):
    assert any(told in text for text in warn(proposal=proposal_of(**given)))
    assert warn(proposal=proposal_of()) == ()


@pytest.mark.parametrize(("cell_m", "rough"), [((1.2, 1.2), 0), ((1.0, 1.3), 1), ((5.0, 5.0), 1)])
def test_cells_wider_than_the_narrowest_basin_are_told(cell_m, rough):
    assert len(warn(cell_m=cell_m)) == rough


@pytest.mark.parametrize(
    ("lows", "told"),
    [
        ([(box(3, 3, 9, 9), 100.4), (box(0, 0, 1, 1), 101.25), (box(5, 5, 9, 9), 107.0)], "1.25 m"),
        ([(box(-9, -9, 9, 9), 99.9)], None),  # it spills below the rim
        ([(box(5, 5, 9, 9), 107.0)], None),  # beside the basin
    ],
)
def test_water_that_can_stand_over_the_basin_is_told(lows, told):
    lows = [SimpleNamespace(geometry=area, spill_level_m=level_m) for area, level_m in lows]
    warned = warn(proposal=proposal_of(), lows=lows)
    assert len(warned) == (told is not None)
    assert all(told in text and "without an outlet" in text for text in warned)


def test_a_pile_that_the_machine_does_not_reach_is_told():
    assert "pile" in " ".join(warn("met", proposal=proposal_of(reaches_pile=False)))
    assert "pile" not in " ".join(warn("met", proposal=proposal_of(reaches_pile=True)))


def test_rules_weaker_than_the_defaults_are_told_with_both_figures():
    assert weaker_rules(ConstraintParameters()) == ()
    loose = ConstraintParameters(
        utility_buffer={"gas": 0.2, "electric": 3.0}, steepest=0.5, concentrated_flow=100.0
    )
    (told,) = weaker_rules(loose)
    assert "constraints.utility_buffer.gas 0.2 m (default 1.5 m)" in told
    assert "constraints.steepest 0.5" in told
    assert "electric" not in told
    assert "concentrated_flow" not in told
