"""Laws that hold on every site: random sites, moved sites, turned sites, other units."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from laws import broken_laws
from made_sites import make_site, make_terrain
from shapely import LineString, Point, Polygon
from shapely.affinity import rotate, translate
from shapely.geometry import box

from geo_site.earthwork import excavate
from geo_site.plan import Plan, Settings, propose
from geo_site.site import UTILITY_KINDS, Site
from geo_site.terrain import TerrainParameters, analyse

CELLS_M = (4.0, 2.0, 1.0, 0.25)
FAST: dict[str, Any] = {
    "siting": {"shortlist": 3, "rotation_step": 15.0, "units": 8},
    "constraints": {"tolerance_zone": {"width": 0.61, "source": "invented for the test"}},
}


def rough(seed: int, slope_east: float, slope_north: float, bumps_m: float) -> Any:
    """A tilted plane with a few smooth bumps, the same at any cell size."""
    rng = np.random.default_rng(seed)
    centres, heights = rng.uniform(-20, 60, (6, 2)), rng.normal(0.0, bumps_m, 6)

    def surface(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        level = 100.0 + slope_east * x + slope_north * y
        for (cx, cy), height in zip(centres, heights, strict=True):
            level = level + height * np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / 120.0)
        return level

    return surface


@st.composite
def sites(draw: st.DrawFn) -> Site:
    """A lot of 30 to 45 m a side with up to five lines, a house and trees at random."""
    number = st.floats(0.0, 1.0)
    side_m = 30.0 + 15.0 * draw(number)
    lot = rotate(box(0, 0, side_m, 0.8 * side_m), 40.0 * draw(number), origin=(20, 15))
    spots = st.tuples(st.floats(-5, 50), st.floats(-5, 40))
    lines = draw(st.lists(st.tuples(spots, spots, st.sampled_from(UTILITY_KINDS)), max_size=5))
    trees = draw(st.lists(spots, max_size=2))
    return make_site(
        rough(draw(st.integers(0, 10_000)), 0.2 * draw(number) - 0.1, 0.1 * draw(number), 0.4),
        lot=lot,
        utilities=[
            {
                "id": f"L{i}",
                "kind": kind,
                "diameter_m": 0.05,
                "quality_level": "QL-B",
                "member": "Member",
                "side": "public",
                "geometry": LineString([a, b]),
            }
            for i, (a, b, kind) in enumerate(lines)
            if a != b
        ],
        trees=[{"trunk_diameter_m": 0.2, "geometry": Point(p)} for p in trees],
        structures=[{"kind": "house", "geometry": box(30, 20, 40, 28)}],
        access=[{"geometry": Point(lot.exterior.coords[0])}],
        tables=FAST,
    )


@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(sites())
def test_laws_on_random_sites(site: Site) -> None:
    assert broken_laws(propose(site)) == []


@pytest.mark.slow
@settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))
@given(sites())
def test_laws_on_many_random_sites(site: Site) -> None:
    assert broken_laws(propose(site)) == []


def test_the_laws_can_be_broken() -> None:
    """Judge the plan of one site as if it were another's: the laws must notice."""
    plan = propose(_plain())
    assert plan.proposal is not None
    placement = plan.proposal.placement
    ring = placement.excavation.centroid.buffer(0.1).exterior
    near = [{"id": "late", "kind": "gas", "geometry": ring}]
    moved = Plan(**{**vars(plan), "site": make_site(_tilted, utilities=near, tables=FAST)})
    assert any("late" in told for told in broken_laws(moved))


def _tilted(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return 100.0 + 0.02 * x + 0.12 * y + 0.05 * np.sin(x / 3.1) * np.cos(y / 4.3)


def _plain(**more: Any) -> Site:
    return make_site(
        _tilted,
        lot=box(0, 0, 40, 30),
        utilities=[
            {
                "id": "G",
                "kind": "gas",
                "diameter_m": 0.04,
                "quality_level": "QL-B",
                "member": "Member",
                "side": "public",
                "geometry": LineString([(25, -10), (27, 40)]),
            }
        ],
        access=[{"geometry": Point(5, 0)}],
        tables=FAST,
        **more,
    )


def figures(plan: Plan) -> dict[str, float]:
    """What two plans of the same ground must share."""
    assert plan.proposal is not None
    proposal = plan.proposal
    moved = proposal.earthwork
    return {
        "score": plan.candidates[0].score,
        "fall": proposal.layout.fall_m,
        "length": proposal.layout.length_m,
        "falls": len(proposal.layout.falls),
        "dug": moved.bank_m3,
        "loose": moved.loose_m3,
        "berm": moved.berm_m3,
        "run-on": proposal.best.candidate.catchment.area_m2,
        "to the line": proposal.best.candidate.clearance_m,
        "flow": proposal.water.flow_m3s,
        "moving": proposal.water.moving_m3,
        "lift": proposal.water.static_lift_m,
        "open": plan.grounds["basin"].open.area,
    }


@pytest.mark.parametrize("origin", [(1000.0, -2000.0), (500_000.37, 4_000_000.81)])
def test_a_moved_site_gets_the_same_plan(origin: tuple[float, float]) -> None:
    here, there = propose(_plain()), propose(_plain(origin=origin))
    # volumes are summed on fine grids of fixed origin: they move by parts in ten thousand
    assert figures(there) == pytest.approx(figures(here), rel=3e-4)
    assert here.proposal is not None
    assert there.proposal is not None
    back = translate(there.proposal.placement.footprint, -origin[0], -origin[1])
    assert back.symmetric_difference(here.proposal.placement.footprint).area < 1e-4


def _turned(quarter_turns: int) -> Site:
    """The same ground, turned about the middle of a square terrain of 60 m."""
    middle = (20.0, 15.0)

    def turn(geometry: Any) -> Any:
        return rotate(geometry, 90.0 * quarter_turns, origin=middle)

    levels = rough(7, 0.03, 0.12, 0.3)
    x, y = np.meshgrid(np.arange(-9.5, 50.0), np.arange(44.5, -15.0, -1.0))
    grid = np.rot90(levels(x, y), quarter_turns)
    return make_site(
        make_terrain(np.ascontiguousarray(grid), bounds=(-10.0, -15.0, 50.0, 45.0)),
        lot=Polygon(turn(box(2, 1, 37, 29)).exterior),
        utilities=[
            {
                "id": "G",
                "kind": "gas",
                "diameter_m": 0.04,
                "quality_level": "QL-B",
                "member": "Member",
                "side": "public",
                "geometry": turn(LineString([(25, -10), (27, 40)])),
            }
        ],
        access=[{"geometry": turn(Point(5.3, 1.2))}],
        tables=FAST,
    )


def test_a_turned_site_gets_the_same_places() -> None:
    """A quarter turn changes no rule; places and scores stay, where no two directions tie."""
    plans = [propose(_turned(quarter)) for quarter in range(2)]
    here, there = (figures(plan) for plan in plans)
    for name in ("score", "open", "fall", "to the line", "run-on"):
        assert there[name] == pytest.approx(here[name], rel=2e-3), name


def test_finer_cells_converge() -> None:
    """The volume of one pit and the slope under it settle as the terrain's cells get finer."""
    sites = {c: make_site(_tilted, cell_m=c, lot=box(0, 0, 40, 30), tables=FAST) for c in CELLS_M}
    finest = propose(sites[CELLS_M[-1]])
    assert finest.proposal is not None
    placement = finest.proposal.placement
    dug_m3 = [
        excavate(analyse(site, TerrainParameters()), placement, finest.design).bank_m3
        for site in sites.values()
    ]
    off_m3 = np.abs(np.array(dug_m3[:-1]) - dug_m3[-1])
    assert off_m3[2] < off_m3[1] < off_m3[0]
    assert off_m3[2] < 0.01 * dug_m3[-1]


def test_same_site_same_plan_twice() -> None:
    assert figures(propose(_plain())) == figures(propose(_plain()))


def test_settings_reach_the_steps() -> None:
    used = Settings.from_tables({**FAST, "layout": {"wanted_fall": "2 ft"}})
    plan = propose(_plain(), used)
    assert plan.proposal is not None
    step_m = used.layout.level_step
    assert plan.proposal.layout.fall_m == pytest.approx(0.6096, abs=step_m)
