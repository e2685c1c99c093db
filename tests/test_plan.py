"""The plan as a whole: ways of the machine, digging, what is told when nothing fits."""

from __future__ import annotations

from typing import Any

import pytest
from made_sites import make_site
from shapely import Point, union_all
from shapely.geometry import box

from geo_site.plan import Plan, choosing, method, propose

REACH_M = 4.0
UPHILL, DOWNHILL = Point(17, 0.2), Point(17, 27.8)
QUICK: dict[str, Any] = {"units": 8, "shortlist": 1, "candidates": 1, "rotation_step": 45.0}


def plan_of(gate: Point) -> Plan:
    return propose(
        make_site(
            "plane",
            lot=box(0, 0, 34, 28),
            access=[{"geometry": gate}],
            tables={"siting": QUICK, "access": {"working_reach": REACH_M}},
        )
    )


def test_a_pile_beyond_the_machines_reach_gets_a_way_of_its_own() -> None:
    plan = plan_of(UPHILL)
    assert plan.proposal is not None
    proposal, works = plan.proposal, plan.proposal.works
    assert proposal.earthwork.pile is not None
    assert [leads_to for leads_to, _ in proposal.routes] == ["basin", "spoil pile"]
    to_pile = proposal.routes[1][1]
    assert to_pile.line.distance(proposal.earthwork.pile.geometry) <= REACH_M + 0.75
    edge_m = plan.settings.earthwork.pile_setback
    assert to_pile.corridor.distance(proposal.placement.excavation) >= edge_m - 0.005
    corridors = union_all([route.corridor for _, route in proposal.routes])
    assert works.machine_route is not None
    assert works.machine_route.equals(corridors)
    turf = next(row for row in plan.quantities if row.item == "turf to restore")
    assert turf.amount == pytest.approx(corridors.area)
    assert proposal.reaches_pile


def test_a_pile_within_reach_of_the_way_needs_none() -> None:
    plan = plan_of(DOWNHILL)
    assert plan.proposal is not None
    assert [leads_to for leads_to, _ in plan.proposal.routes] == ["basin"]
    assert plan.proposal.reaches_pile


def test_no_access_point_no_way_is_invented() -> None:
    plan = propose(make_site("plane", lot=box(0, 0, 34, 28), tables={"siting": QUICK}))
    assert plan.proposal is not None
    assert plan.proposal.routes == ()
    assert plan.proposal.works.machine_route is None
    assert any("unknown" in told and "way" in told for told in plan.warnings)


def test_all_digging_is_in_the_dig_area() -> None:
    plan = plan_of(DOWNHILL)
    assert plan.proposal is not None
    works = plan.proposal.works
    for dug in (works.basin_excavation, works.stream, works.pipe):
        assert dug is not None
        assert dug.difference(plan.dig_area.buffer(1e-9)).area < 1e-9
    fence = plan.proposal.earthwork.silt_fence
    assert fence is not None
    assert plan.dig_area.buffer(1e-6).contains(fence)


def test_progress_names_each_step_once() -> None:
    told: list[str] = []
    propose(
        make_site("plane", lot=box(0, 0, 34, 28), tables={"siting": QUICK}), progress=told.append
    )
    assert told == ["terrain", "places", "streams", "ranking", "works", "clearances", "how sure"]


def test_the_pile_stands_off_the_way_of_the_overflow() -> None:
    plan = plan_of(DOWNHILL)
    assert plan.proposal is not None
    pile, overflow = plan.proposal.earthwork.pile, plan.proposal.overflow.line
    assert pile is not None
    least_m = plan.settings.earthwork.flow_path_setback
    assert pile.geometry.distance(overflow) >= least_m - 0.01


@pytest.mark.parametrize(("beyond_m", "clear"), [(-0.05, False), (0.05, True)])
def test_structures_are_kept_off_by_the_depth_that_the_pit_really_gets(
    beyond_m: float, clear: bool
) -> None:
    """On a steep lot the pit is deeper than on the level; the distance follows its depth."""
    steep = {"lot": box(0, 0, 34, 28), "tables": {"siting": QUICK}}
    plan = propose(make_site(_steep, **steep))
    assert plan.proposal is not None
    placement = plan.proposal.placement
    level_m = plan.design.depth_m + plan.settings.siting.greatest_rise
    assert placement.greatest_depth_m > level_m + 0.1
    east = placement.excavation.bounds[2] + placement.greatest_depth_m + beyond_m
    shed = [{"kind": "shed", "geometry": box(east, 0, east + 1.0, 28)}]
    site = make_site(_steep, structures=shed, **steep)
    job = choosing.Job(
        site=site, used=plan.settings, terrain=plan.terrain, design=plan.design, say=method._quiet
    )
    assert choosing._clear_of_structures(job, placement) is clear


def _steep(x: Any, y: Any) -> Any:
    return 100.0 + 0.28 * y + 0.0 * x
