"""How sure a whole plan is: its ranges, its places ranked anew, its list for the site visit."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from made_sites import make_site
from shapely.geometry import LineString, Point

from geo_site.certainty import CertaintyParameters, fall_told, lowest, simulating
from geo_site.layers import LAYERS
from geo_site.plan import Settings, propose
from geo_site.plan import how_sure as module
from geo_site.plan.choosing import Choice, Job, choose
from geo_site.plan.finishing import finish
from geo_site.plan.how_sure import gain_of, how_sure
from geo_site.plan.keeping import Kept
from geo_site.plan.measuring import DROP
from geo_site.plan.sure_desk import desk_of, line_needs
from geo_site.ranking import rank
from geo_site.siting import design_basin
from geo_site.tables import summary_lines
from geo_site.terrain import analyse
from geo_site.water import first_need

TABLES = {"siting": {"candidates": 3, "shortlist": 4, "rotation_step": 30}}


def ground(x, y):
    return 100.0 - 0.07 * y + 0.2 * np.sin(x / 5.0) * np.cos(y / 6.0)


@cache
def site():
    """Uneven ground, one line across the lot, a way in and a view."""
    line = {
        "id": "L", "geometry": LineString([(-20, 20), (60, 17)]), "kind": "communication",
        "uncertainty_m": 1.0, "diameter_m": 0.05, "member": "Member", "side": "public",
    }  # fmt: skip
    return make_site(
        ground,
        utilities=[line],
        access=[{"geometry": Point(20, -0.5)}],
        views=[{"geometry": Point(20, 2)}],
        tables=TABLES,
    )


@cache
def chosen() -> tuple[Choice, object]:
    used = Settings.from_tables(TABLES)
    terrain = analyse(site(), used.terrain)
    design = design_basin(first_need(used.water, used.layout), used.siting)
    job = Job(
        site=site(), used=used, terrain=terrain, design=design, say=lambda word: None, kept=Kept()
    )
    choice = choose(job)
    return choice, finish(choice)


def with_error(rmse_z_m=0.1, **changes):
    """The same choice on terrain of another error, or with other settings."""
    choice, proposal = chosen()
    sure = CertaintyParameters().model_copy(update={"simulations": 60, **changes})
    used = choice.job.used.model_copy(update={"certainty": sure})
    job = replace(choice.job, site=replace(site(), rmse_z_m=rmse_z_m), used=used)
    return replace(choice, job=job), proposal


def sure_of(rmse_z_m=0.1, **changes):
    choice, proposal = with_error(rmse_z_m, **changes)
    return how_sure(choice, proposal, ())


def ranges(certainty):
    yield "fall", certainty.fall
    for place in certainty.places:
        for name in ("fall", "rim", "overflow", "excavation", "catchment"):
            yield f"{name} {place.rank}", getattr(place, name)
    for area in certainty.catchments:
        yield area.work, area.range
    for name in ("spoil", "pile", "haul"):
        yield name, getattr(certainty, name)


def test_there_is_something_to_choose():
    choice, _ = chosen()
    assert len(choice.ranked) >= 2


def test_no_error_gives_ranges_of_no_width_but_for_where_in_a_cell_water_runs():
    """Catchments: what lies under the work is the least, all that its cells catch the most."""
    _, proposal = chosen()
    under_m2 = {area.work: area for area in proposal.catchments}
    for name, found in ranges(sure_of(0.0, detail_share=0.0, dug_error=0.0)):
        assert found.high == pytest.approx(found.value, abs=1e-9), name
        if found.unit != "m2":
            assert found.low == pytest.approx(found.value, abs=1e-9), name
        elif name in under_m2:
            work = {
                "basin": proposal.placement.excavation,
                "stream": proposal.layout.dig,
            }[name]
            assert 0.99 * work.area <= found.low < found.value, name


def test_a_floor_dug_too_deep_widens_pit_and_soil_alone():
    """UNC-11: to first order a pit's top area times the error; loose soil that times the swell."""
    _, proposal = chosen()
    exact, dug = (
        dict(ranges(sure_of(0.0, detail_share=0.0, dug_error=e, simulations=4000)))
        for e in (0.0, 0.02)
    )
    half_m3 = 1.959964 * 0.02 * proposal.placement.excavation.area
    for name, swell in (("excavation 1", 1.0), ("spoil", proposal.earthwork.swell_factor)):
        width_m3 = dug[name].high - dug[name].low
        assert width_m3 == pytest.approx(2.0 * swell * half_m3, rel=0.06), name
    for name in ("fall", "rim 1", "overflow 1", "catchment 1"):
        assert dug[name] == exact[name], name


def test_drawn_grounds_are_kept_for_the_next_layout_and_change_nothing(monkeypatch):
    made = []
    draw = simulating.draw_grounds
    monkeypatch.setattr(simulating, "draw_grounds", lambda *args: made.append(args) or draw(*args))
    choice, proposal = with_error(0.1)
    alone = how_sure(replace(choice, job=replace(choice.job, kept=Kept())), proposal, ())
    shared = replace(choice, job=replace(choice.job, kept=Kept()))
    made.clear()
    first, second = (how_sure(shared, proposal, ()) for _ in range(2))
    assert len(made) == 1
    for one, two in ((alone, first), (first, second)):
        for a, b in zip(ranges(one), ranges(two), strict=True):
            assert a == b
    other = with_error(0.1, seed=2)[0]
    how_sure(replace(other, job=replace(other.job, kept=shared.job.kept)), proposal, ())
    assert len(made) == 2


def test_how_exactly_a_floor_is_dug_does_not_tell_which_place_is_best():
    one, two = (sure_of(0.1, dug_error=error_m).places for error_m in (0.0, 0.5))
    assert [place.chance_best for place in one] == [place.chance_best for place in two]
    assert two[0].excavation.high > one[0].excavation.high


def test_what_cells_hide_leaves_no_fall_certain():
    """Without any error of the survey: 1.96 standard deviations of what cells hide at both ends."""
    choice, proposal = with_error(0.0)
    desk = desk_of(choice, proposal)
    rim = lowest(desk.spots[0].outline, choice.job.terrain.ground)
    hidden_m = np.concatenate([desk.detail.sample(desk.spots[0].lip), desk.detail.sample(rim)])
    found = how_sure(choice, proposal, ()).fall
    assert found.high - found.value == pytest.approx(1.959964 * math.hypot(*hidden_m), rel=1e-5)
    assert found.high > found.value


def test_ranges_hold_their_value_and_grow_with_the_error():
    one, two = (dict(ranges(sure_of(e, detail_share=0.0))) for e in (0.05, 0.2))
    for name, found in one.items():
        assert found.low <= found.value <= found.high, name
        assert two[name].high - two[name].low >= found.high - found.low, name
    assert two["fall"].high - two["fall"].value == pytest.approx(
        4.0 * (one["fall"].high - one["fall"].value)
    )
    assert two["rim 1"].high - two["rim 1"].low > 2.0 * (one["rim 1"].high - one["rim 1"].low)


def test_ter_31_and_32_the_fall_by_hand():
    """TER-31 and TER-32: 1.96 x 0.1 x sqrt(2 (1 - rho)), rho by hand from lip and lowest corner."""
    _, proposal = chosen()
    terrain = chosen()[0].job.terrain.ground
    outline = proposal.placement.footprint.exterior
    points = np.array(
        [outline.interpolate(s).coords[0] for s in np.arange(0, outline.length, 0.01)]
    )
    rim = points[np.argmin(terrain.sample(points))]
    away_m = math.dist(proposal.layout.alignment.coords[0][:2], rim)
    rho = 0.99 * math.exp(-3.0 * (away_m / 15.0) ** 2)
    half_m = 1.959964 * 0.1 * math.sqrt(2.0 * (1.0 - rho))
    found = sure_of(0.1).fall
    assert found.high - found.value == pytest.approx(half_m, rel=0.02)
    apart = sure_of(0.1, correlation_range=0.0).fall
    assert apart.high - apart.value == pytest.approx(0.277, abs=5e-4)
    assert found.high < apart.high


def test_what_all_points_share_leaves_falls_sure_and_levels_not():
    found = dict(
        ranges(sure_of(0.1, bias_share=1.0, nugget_share=0.0, detail_share=0.0, dug_error=0.0))
    )
    assert found["fall"].high == pytest.approx(found["fall"].low, abs=1e-9)
    assert found["excavation 1"].high == pytest.approx(found["excavation 1"].low, abs=1e-6)
    assert found["rim 1"].high - found["rim 1"].low > 0.2


def test_an_error_that_nobody_states_is_assumed_and_asserts_nothing():
    certainty = sure_of(math.nan)
    assert certainty.is_assumed
    assert certainty.rmse_z_m == 0.2
    assert math.isnan(certainty.asserted_fall_m)
    assert any("assumed" in note for note in certainty.notes)
    told = fall_told(certainty, "si")
    assert "nothing asserted" in told
    assert "0.20 m assumed" in told


def test_nothing_is_told_where_it_is_switched_off():
    assert sure_of(simulations=0) is None
    assert gain_of(None, chosen()[1]) is None


def test_without_simulations_enough_only_closed_forms_are_told():
    certainty = sure_of(simulations=10)
    how = {name: found.how for name, found in ranges(certainty)}
    assert how["fall"] == how["excavation 1"] == how["spoil"] == "closed form"
    assert how["rim 1"] == how["catchment 1"] == "unknown"
    assert math.isnan(certainty.places[0].chance_best)
    assert any("Too few" in note for note in certainty.notes)


def test_the_fall_that_is_not_there_for_certain_is_not_asserted():
    """The sentence names the fall needed only where the lower end does not reach it."""
    choice, _ = chosen()
    needed_m = choice.job.used.layout.wanted_fall - 0.15
    vague, clear = sure_of(0.3), sure_of(0.005)
    assert vague.asserted_fall_m < needed_m <= clear.asserted_fall_m
    assert f"cannot tell that there are {needed_m:.2f} m" in fall_told(vague, "si")
    assert "cannot tell" not in fall_told(clear, "si")
    assert vague.places[0].chance_of_fall < clear.places[0].chance_of_fall
    assert "ft" in fall_told(vague, "us")


def test_chances_to_stay_the_best_are_shares():
    """Where storm water alone counts, a vague ground leaves more than one place in question."""
    choice, proposal = with_error(0.3)
    scales = choice.job.used.ranking
    alone = scales.weights.model_copy(
        update={name: 0.0 for name in type(scales.weights).model_fields if name != "run_on"}
    )
    scales = scales.model_copy(update={"weights": alone, "run_on_best": 1.0, "run_on_worst": 1e5})
    used = choice.job.used.model_copy(update={"ranking": scales})
    ranked = rank(site(), [row.candidate for row in choice.ranked], scales)
    choice = replace(choice, job=replace(choice.job, used=used), ranked=ranked)
    vague = [place.chance_best for place in how_sure(choice, proposal, ()).places]
    assert sum(vague) == pytest.approx(1.0)
    assert max(vague) < 1.0
    certain = replace(choice, job=replace(choice.job, site=replace(site(), rmse_z_m=0.0)))
    assert how_sure(certain, proposal, ()).places[0].chance_best == 1.0


def test_unc_05_the_order_is_that_of_the_whole_ranking_on_each_drawn_ground():
    """UNC-05: scores put together from kept and new marks equal those of ``rank`` itself."""
    choice, proposal = with_error(0.2)
    desk = desk_of(choice, proposal)
    draws = module.simulate(desk.scene, desk.model, desk.parameters)
    needs = line_needs(choice)
    assert {need.line_id for need in needs} == {"L"}
    shifts_m = np.zeros((draws.runs, len(needs)))
    scores = [module._scores(desk, draws, needs, shifts_m, n) for n in range(len(desk.spots))]
    for run in range(0, draws.runs, 12):
        anew = [
            module._as_drawn(ranked.candidate, draws, run, n)
            for n, ranked in enumerate(choice.ranked)
        ]
        whole = {id(r.candidate): r.score for r in rank(site(), anew, choice.job.used.ranking)}
        expected = [whole[id(one)] for one in anew]
        assert [column[run] for column in scores] == pytest.approx(expected, abs=1e-9)


def test_line_needs_are_those_of_the_candidates():
    """Distance and margin of the pit as the ranking has them."""
    choice, _ = chosen()
    for need in line_needs(choice):
        one = choice.ranked[need.place].candidate
        assert need.distance_m == pytest.approx(one.clearance_m)
        assert need.distance_m - need.required_m == pytest.approx(one.margin_m)
        assert need.sigma_m == pytest.approx(1.0 / 1.959964)


def test_the_second_time_is_the_same_to_the_last_digit():
    assert sure_of(0.1) == sure_of(0.1, threads=1)


# The whole plan


@cache
def plan():
    return propose(site(), kept=chosen()[0].job.kept)


def test_the_plan_tells_it_everywhere():
    certainty = plan().certainty
    assert plan().fall_range_m == (certainty.fall.low, certainty.fall.high)
    assert {row.number for row in certainty.clearances} <= {row.number for row in plan().clearances}
    layer = next(layer for layer in LAYERS if layer.name == "basin_candidates")
    for row, place in zip(layer.rows(plan()), certainty.places, strict=True):
        assert row["fall_low_m"] == place.fall.low
        assert row["fall_low_m"] <= row["available_fall_m"] <= row["fall_high_m"]
        assert row["chance_of_fall"] == place.chance_of_fall
        assert row["chance_best"] == place.chance_best
    assumed = replace(plan(), certainty=replace(certainty, is_assumed=True))
    assert {row["fall_low_m"] for row in layer.rows(assumed)} == {None}
    assert all(len(line) <= 60 for line in summary_lines(plan()))


def test_the_visit_puts_law_first_and_then_what_settles_most():
    rows = plan().visit
    required = [row.is_required for row in rows]
    assert required == sorted(required, reverse=True)
    assert Counter(required)[True] > 0
    settled = [row.settles for row in rows if not row.is_required]
    known = [gain for gain in settled if not math.isnan(gain)]
    assert known == sorted(known, reverse=True)
    assert settled[: len(known)] == known
    gains = {row.rank: row.settles for row in plan().certainty.worth if row.measurement == DROP}
    (levels,) = [row for row in rows if row.check == "take levels of spillway and basin"]
    assert levels.settles == gains[plan().proposal.best.rank] > 0.0
    assert "95 %" in levels.why


def test_what_measuring_helps_comes_in_its_order():
    gains = [row.settles for row in plan().certainty.worth]
    assert gains == sorted(gains, reverse=True)
    assert {row.subject for row in plan().certainty.worth} == {"terrain", "L"}
    assert len(gains) == 3 * len(plan().candidates) + 1
