"""The water that is kept, all together, on one basin and one stream."""

from __future__ import annotations

import math
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from made_basins import RIM_M, basin_of
from shapely import LineString, Point, box

from geo_site.layout import Layout, Pool
from geo_site.water import WaterParameters
from geo_site.water.cycle import Reservoir
from geo_site.water.keeping import StreamWater, keep

STREAM = StreamWater(
    flow_m3s=0.006,
    reaches=(
        Reservoir(standing_m3=0.18, moving_m3=0.06),
        Reservoir(standing_m3=0.0, moving_m3=0.04, power=5 / 3),
    ),
    pipe_content_m3=0.05,
)


def layout_of() -> Layout:
    """Ten metres of stream, 0.9 m wide, that end 0.5 m inside the pit's west side."""
    end, begin = 10.2, 0.2
    line = LineString([(begin, 3.0, RIM_M + 1.0), (9.0, 3.0, RIM_M + 0.1), (end, 3.0, RIM_M)])
    bed = box(begin, 2.55, end, 3.45)
    pool = Pool(
        sequence=1, geometry=box(2.0, 2.4, 4.0, 3.6), sill_level_m=RIM_M + 0.8, depth_m=0.2,
        from_m=1.8, to_m=3.8,
    )  # fmt: skip
    return Layout(
        alignment=line,
        stations_m=np.array([0.0, 10.0]),
        ground_m=np.array([RIM_M + 1.0, RIM_M]),
        bed_m=np.array([RIM_M + 1.0, RIM_M]),
        kinds=np.array(["pool", "riffle"]),
        reaches=(),
        falls=(),
        pools=(pool,),
        bed=bed,
        dig=bed,
        pipe=line,
        trench_width_m=0.3,
        pipe_under_bed=False,
        lip_level_m=RIM_M + 1.0,
        fall_m=1.0,
        length_m=10.0,
        sinuosity=1.0,
        ground_fall_m=1.0,
        berm_height_m=0.0,
        berm_m3=0.0,
        stream_cut_m3=0.0,
        berm=None,
        hand_dig_m=0.0,
        step_ratio=math.nan,
    )


def trees_of(*rows) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {
            "crown_radius_m": np.array([row[2] for row in rows], dtype=float),
            "deciduous": np.array([row[3] for row in rows], dtype=object),
        },
        geometry=[Point(row[0], row[1]) for row in rows],
    )


def kept_of(stream=STREAM, trees=(), parameters=None, units=12):
    design, placement = basin_of(units, 3)
    return keep(
        stream, layout_of(), design, placement, trees_of(*trees), parameters or WaterParameters()
    )


def test_numbers_by_hand():
    """Usable 1.9152 m3; 0.10 m3 move, 0.05 m3 in the pipe: 1.7652 m3 to spare.

    Wet: bed 10 x 0.9 and pool 2 x 1.2 less 2 x 0.9 within it: 9.6 m2 at 6 mm: 0.0576 m3 a day,
    0.4032 m3 in a week; required 0.10 + 0.05 + 0.4032 + 0.02 = 0.5732 m3.
    """
    kept = kept_of()
    assert kept.asked.required_m3 == pytest.approx(0.5732)
    assert kept.losses.evaporation_m3_per_day == pytest.approx(0.0576)
    assert kept.losses.days_without_rain == pytest.approx(1.7652 / 0.0576)
    assert kept.check.is_enough
    assert kept.check.free_room_m3 == pytest.approx(0.15)
    # the pit's floor begins at x = 9.7: half a circle of a metre, cut by the floor at y = 1.7
    assert 1.4 < kept.intake.area_m2 < math.pi / 2
    assert kept.intake.dry_after_s == pytest.approx(1.7652 / 0.006)
    assert kept.cycle.lowest_level_m == pytest.approx(kept.check.running_level_m, abs=1e-4)
    assert not kept.cycle.draws_air
    # the basin's first fill, and 0.18 m3 in the hollow
    assert kept.first_fill_m3 == pytest.approx(2.4624 + 0.6048 + 0.3648 + 0.18)
    held = kept_of(parameters=WaterParameters(store={"check_valve": True}))
    assert held.first_fill_m3 == pytest.approx(kept.first_fill_m3 + 0.05)


def test_what_is_not_known_is_said():
    told = " ".join(kept_of().warnings)
    for word in ("groundwater is not known", "rated for is not known", "apron", "an assumption"):
        assert word in told


def test_everything_given_and_good_leaves_no_warning():
    parameters = WaterParameters(
        splash_loss=0.005,
        groundwater={"water_table_depth": 3.0},
        load={"rated_load": 100.0},
        intake={"apron_end": 0.0},
        climate={
            "latitude": 40.0, "altitude": 100.0, "day_of_year": 200, "greatest_temperature": 33.0,
            "least_temperature": 20.0, "greatest_humidity": 80.0, "least_humidity": 35.0,
            "wind": 2.0, "radiation": 26.0,
        },
        losses={"fill_opening": 0.02, "fill_air_gap": 0.05},
    )  # fmt: skip
    far = kept_of(parameters=parameters, trees=[(100.0, 100.0, 4.0, True)])
    assert [told[:7] for told in far.warnings] == ["No tree"]
    assert 4.0 < far.losses.evaporation_mm < 9.0


def test_a_tree_over_the_return_is_seen():
    shaded = kept_of(trees=[(10.0, 3.0, 4.0, None)])
    assert shaded.intake.leaves.trees == 1
    assert shaded.intake.low_days < kept_of(trees=[(10.0, 12.0, 4.0, None)]).intake.low_days
    assert any("while the pump runs dry" in told for told in shaded.warnings)


def test_leaves_that_fall_on_the_gravel_itself_count():
    """A crown of 0.2 m right over the gravel, past the stream's end: all its leaves stay there."""
    parameters = WaterParameters(intake={"leaf_reach": 0.0})
    kept = kept_of(trees=[(10.45, 3.0, 0.2, True)], parameters=parameters)
    assert kept.intake.leaves.low_kg == pytest.approx(0.25 * math.pi * 0.04, rel=1e-3)


def test_a_basin_too_small_is_told_first():
    big = replace(STREAM, reaches=(Reservoir(standing_m3=0.2, moving_m3=1.5),))
    kept = kept_of(stream=big, units=6)
    assert "runs dry" in kept.warnings[0]
    assert kept.cycle.draws_air
    assert kept.losses.days_without_rain == 0.0
    enough = kept_of(stream=big, units=6 + -(-kept.check.units_more // 3) * 3)
    assert enough.check.is_enough
    assert not enough.cycle.draws_air


@pytest.mark.parametrize("valve", [True, False])
def test_the_check_and_the_cycle_agree(valve):
    """Sums in the steady state and steps in time come to the same levels."""
    kept = kept_of(parameters=WaterParameters(store={"check_valve": valve}))
    assert kept.cycle.lowest_level_m == pytest.approx(kept.check.running_level_m, abs=1e-4)
    assert kept.cycle.highest_level_m == pytest.approx(kept.store.full_m, abs=1e-9)


def test_the_first_start_may_want_a_hose():
    """0.15 m3 move and 2 m3 stand in hollows: more than the 1.9152 m3 that the pump reaches."""
    deep = replace(STREAM, reaches=(Reservoir(standing_m3=2.0, moving_m3=0.10),))
    told = [one for one in kept_of(stream=deep).warnings if "first start" in one]
    assert len(told) == 1
    assert "takes 2.15 m3" in told[0]
    assert not any("first start" in one for one in kept_of().warnings)
