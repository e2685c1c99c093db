"""Rules that drawn works break among each other, against distances measured by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest
from drawn_plans import drawn_of
from made_plans import proposed
from shapely import LineString, MultiLineString, MultiPolygon, Point, affinity

from geo_site.drawn import Breach, Drawn
from geo_site.plan import Kept, Plan, Settings, assess

KEPT = Kept()


def judged(drawn: Drawn) -> Plan:
    site = proposed().site
    tables = {**site.tables, "certainty": {"simulations": 0}}
    return assess(site, drawn, settings=Settings.from_tables(tables), kept=KEPT)


@lru_cache
def spoiled() -> Plan:
    """Pile half a metre off the trench, pipe 0.7 m off, the machine driven over the pit."""
    drawn = drawn_of(proposed())
    assert drawn.basin is not None
    assert drawn.pipe is not None
    pipe = affinity.translate(drawn.pipe, 0.7, 0.0)
    middle = pipe.interpolate(0.5, normalized=True)
    way = LineString([(drawn.basin.centroid.x, proposed().site.parcel.bounds[1] + 1.0),
                      drawn.basin.centroid.coords[0]])  # fmt: skip
    return judged(
        replace(
            drawn,
            pipe=pipe,
            spoil_pile=Point(middle.x + 2.2, middle.y).buffer(1.5),
            machine_route=MultiLineString([way]),
        )
    )


def row(work: str, rule: str, words: str = "") -> Breach:
    found = [b for b in spoiled().breaches if (b.work, b.rule) == (work, rule)]
    return next(b for b in found if words in b.sentence)


def test_a_pile_beside_the_trench_is_told_with_its_distance() -> None:
    proposal = spoiled().proposal
    assert proposal is not None
    assert proposal.earthwork.pile is not None
    trench = proposal.layout.pipe.buffer(proposal.layout.trench_width_m / 2.0, cap_style="flat")
    told = row("spoil_pile", "pile_setback", "trench")
    assert told.found == pytest.approx(proposal.earthwork.pile.geometry.distance(trench))
    assert told.asked == spoiled().settings.earthwork.pile_setback


def test_a_way_over_the_pit_is_told() -> None:
    told = row("machine_route", "pile_setback", "pit")
    assert told.found == 0.0
    assert "runs over the pit" in told.sentence


def test_a_pipe_off_its_ends_is_told_with_both_gaps() -> None:
    proposal = spoiled().proposal
    assert proposal is not None
    ends = [Point(proposal.layout.pipe.coords[i][:2]) for i in (0, -1)]
    lip = Point(proposal.layout.alignment.coords[0][:2])
    assert row("pipe", "ends_at_lip").found == pytest.approx(lip.distance(ends[1]))
    assert row("pipe", "ends_at_lip").found == pytest.approx(0.7)
    gap_m = proposal.placement.footprint.distance(ends[0])
    told = [b.found for b in spoiled().breaches if b.rule == "begins_in_basin"]
    assert told == ([pytest.approx(gap_m)] if gap_m > 0.01 else [])


def test_what_is_drawn_lies_where_it_was_drawn() -> None:
    plan = spoiled()
    assert plan.breaks_rules
    assert plan.proposal is not None
    assert {row.verdict for row in plan.clearances} <= {"met", "not_met", "hand_dig", "unknown"}


def test_a_fence_that_was_left_where_other_works_moved_is_not_vouched_for() -> None:
    assert any("The silt fence is as drawn" in told for told in spoiled().warnings)


def test_a_basin_that_no_stream_gets_to_is_told_with_all_that_it_breaks() -> None:
    """Ground to keep off lies all round it: no stream, and the pit lies on it."""
    basin = drawn_of(proposed()).basin
    assert basin is not None
    round_it = basin.buffer(1.0)
    result = judged(Drawn(basin=basin, keep_off=MultiPolygon([round_it])))
    assert result.status == "no_place"
    assert result.breaks_rules
    told = next(b for b in result.breaches if b.rule == "keep_off")
    assert told.work == "basin_excavation"
    assert told.found == pytest.approx(round_it.area)  # the pit reaches 1.35 m all round
    assert any("no stream" in line.rule for line in result.no_place)
