"""Water in the plan as a whole: the basin grows, a flow is refused, pumps are put to work."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from made_sites import make_layer, make_site
from shapely import LineString, Point
from shapely.geometry import box

from geo_site.clearance import judge
from geo_site.plan import Plan, propose
from geo_site.pumps import PumpCurve
from geo_site.site import Site

QUICK: dict[str, Any] = {"shortlist": 1, "candidates": 1, "rotation_step": 45.0}
MEAN = {"first_margin": 1.0, "first_depth": 0.001, "first_unreachable": 0.0, "reserve": 0.0}


def site_of(water: dict[str, Any], siting: dict[str, Any] | None = None, **more: Any) -> Site:
    tables = {"siting": {**QUICK, **(siting or {})}, "water": water}
    return make_site("plane", lot=box(0, 0, 34, 28), tables=tables, **more)


def plan_of(water: dict[str, Any], siting: dict[str, Any] | None = None) -> Plan:
    return propose(site_of(water, siting))


def test_a_basin_that_is_guessed_too_small_grows_until_it_is_enough() -> None:
    """The first guess leaves nearly everything out; the plan needs what it needs."""
    once = plan_of({**MEAN, "growth_rounds": 0})
    grown = plan_of(MEAN)
    assert once.proposal is not None
    assert grown.proposal is not None
    assert not once.proposal.water.kept.check.is_enough
    assert any(told.startswith("The basin runs dry") for told in once.warnings)
    assert grown.proposal.water.kept.check.is_enough
    assert grown.proposal.water.usable_m3 >= grown.proposal.water.required_m3
    assert grown.design.units > once.design.units
    (said,) = [told for told in grown.warnings if told.startswith("The basin grew")]
    assert f"to {grown.design.units} void units" in said


def test_a_number_of_units_that_the_user_gave_is_kept_and_said_to_run_dry() -> None:
    plan = plan_of({"days_between_fills": 60.0}, {"units": 4})
    assert plan.proposal is not None
    assert plan.design.units == 4
    assert any(told.startswith("The basin runs dry") for told in plan.warnings)


def test_a_flow_that_no_lip_carries_is_a_result_with_its_reason() -> None:
    plan = plan_of({"pump_flow": 0.9}, {"units": 8})
    assert plan.proposal is not None
    refused = [flag for flag in plan.proposal.water.running.flags if flag.is_refused]
    assert next(flag.kind for flag in refused) == "head_over_limit"
    assert plan.breaks_rules
    assert refused[0].sentence in plan.warnings


def test_the_flow_of_the_plan_is_that_of_the_pump_on_its_lift() -> None:
    curve = PumpCurve(name="P", flows_m3s=(0.0, 0.003, 0.006), heads_m=(6.0, 4.0, 0.0))
    plan = propose(replace(site_of({}), pumps=(curve,)))
    assert plan.proposal is not None
    water = plan.proposal.water
    assert water.pump is not None
    assert water.flow_m3s == water.pump.flow_m3s == water.running.flow_m3s
    assert water.total_head_m == pytest.approx(water.pump.head_m, abs=2e-3)
    assert water.total_head_m == pytest.approx(water.static_lift_m + water.lift.pipe.lost_m)
    assert water.lift.pipe.velocity_ms == pytest.approx(
        water.flow_m3s / (3.141592653589793 / 4 * water.lift.pipe.inside_diameter_m**2)
    )


def test_water_is_conserved_over_a_start_a_run_and_a_stop() -> None:
    plan = plan_of({})
    assert plan.proposal is not None
    cycle = plan.proposal.water.kept.cycle
    held = cycle.basin_m3 + cycle.in_pipe_m3 + cycle.in_stream_m3 + cycle.in_hollows_m3
    gone = cycle.leaked_m3 + cycle.overflowed_m3 - cycle.filled_m3
    assert held + gone == pytest.approx(held[0] + gone[0], rel=1e-9)


def test_a_line_that_was_laid_bare_moves_and_the_record_tells_before_and_after() -> None:
    line = LineString([(-5.0, 3.0), (40.0, 3.0)])
    marked = [{"id": "L", "kind": "gas", "geometry": line, "quality_level": "QL-C"}]
    points = [
        {"id": f"P{x}", "utility_id": "L", "geometry": Point(float(x), 2.4), "depth_m": 0.6}
        for x in range(2, 33, 3)
    ]
    site = site_of({}, utilities=marked)
    bare = replace(site, exposed=make_layer("exposed", points))
    plan = propose(bare)
    assert plan.proposal is not None
    assert len(plan.record.exposures) == len(points)
    assert all(one.off_m == pytest.approx(0.6) for one in plan.record.exposures)
    seen = plan.site.utilities
    assert "QL-A" in set(seen["quality_level"])
    assert plan.record.before_after
    works, rules = plan.proposal.works, plan.settings.constraints
    depth_m = plan.proposal.placement.greatest_depth_m
    as_drawn = {
        row.work: row.clearance_m
        for row in judge(site, works, rules, depth_m)
        if row.rule == "utility" and row.against == "L"
    }
    for row in plan.record.before_after:
        assert row.clearance_before_m == pytest.approx(as_drawn[row.work])
        assert row.required_after_m <= row.required_before_m  # ends beyond the points stay QL-C
        assert row.clearance_after_m > row.clearance_before_m  # it lies farther from the works


def test_a_line_as_marked_is_told_where_nothing_was_laid_bare() -> None:
    plan = plan_of({})
    assert plan.record.exposures == ()
    assert plan.record.before_after == ()


def test_a_swale_lies_off_pile_trench_and_works() -> None:
    """Whatever is drawn of it, on a plane that sheds onto the works from above."""
    plan = plan_of({})
    assert plan.proposal is not None
    works, storms = plan.proposal.works, plan.proposal.storms
    assert storms is not None
    for arm in storms.swales:
        for other in (works.spoil_pile, works.pipe, works.stream, works.basin_excavation):
            if other is not None:
                assert arm.stands.intersection(other).length < 1e-9
