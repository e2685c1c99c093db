"""Quantities: what is listed is what was worked out, sums agree, states are never mixed."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_plans import proposed
from shapely.geometry import LineString, box

from geo_site.earthwork import Earthwork, Pile
from geo_site.pumps import PumpCurve
from geo_site.quantities import (
    Quantity,
    QuantityParameters,
    basin_sheet,
    list_quantities,
    stream_liner,
)
from geo_site.tables.trade import in_trade_units, trade_amount
from geo_site.water import WaterParameters, choose_pipe, study_pumps

UNITS = {"m", "m2", "m3", "t", "count"}
FOOT = 0.3048
VOLUME = st.floats(0.0, 200.0)


def pile_of(volume_m3: float, swell: float) -> Pile:
    return Pile(
        geometry=box(0, 0, 4, 4), volume_m3=volume_m3, height_m=1.0, bank_m3=volume_m3 / swell,
        crest_level_m=101.0,
    )  # fmt: skip


def earth_of(
    *, pit=9.0, cut=1.0, trench=0.5, berm=0.3, pile=8.0, haul=4.0, fence_m=12.0
) -> Earthwork:
    return Earthwork(
        pit_m3=pit + 2.0, excavation_m3=pit, stream_cut_m3=cut, trench_m3=trench,
        bank_m3=pit + cut + trench, topsoil_m3=3.0, sod_m2=30.0, berm_m3=berm, soil="loam",
        swell_factor=1.25, shrink_factor=0.9, loose_m3=pile + haul, brought_m3=0.0,
        pile=pile_of(pile, 1.25) if pile else None, haul_m3=haul, haul_loads=int(haul > 0),
        silt_fence=LineString([(0, 0), (fence_m, 0)]) if fence_m else None, flags=(),
    )  # fmt: skip


def basin_of(rows=3, columns=4, layers=2, batter=1.5, overdig=0.3):
    """Units of 0.8 x 0.6 x 0.45 m in a pit of 0.15 + height + 0.10 m."""
    length_m, width_m, height_m = 0.8 * columns, 0.6 * rows, 0.45 * layers
    design = SimpleNamespace(
        units=rows * columns * layers - 1, layers=layers, depth_m=0.25 + height_m,
        unit_height_m=height_m, cover_m=0.15, bedding_m=0.10, overdig_m=overdig, batter=batter,
    )  # fmt: skip
    arrangement = SimpleNamespace(rows=rows, columns=columns, length_m=length_m, width_m=width_m)
    footprint = box(0, 0, length_m, width_m)
    placement = SimpleNamespace(
        arrangement=arrangement, footprint=footprint,
        pit_floor=box(-overdig, -overdig, length_m + overdig, width_m + overdig),
    )  # fmt: skip
    return design, placement


def layout_of(falls_m=(0.1, 0.3, 0.45), length_m=8.0, width_m=0.9):
    """A straight bed, and the falls' heights."""
    return SimpleNamespace(
        bed=box(0, 0, length_m, width_m), length_m=length_m, fall_m=sum(falls_m),
        falls=tuple(SimpleNamespace(height_m=h, lip_width_m=0.6) for h in falls_m),
    )  # fmt: skip


ROUTE = LineString([(0, 0, 0), (10, 0, 0), (11, 0, 0)])
LIFT = choose_pipe(ROUTE, 0.002, WaterParameters())


def water_of(depth_m=0.05, freeboard_m=0.10, hollow_m=0.0, lift=None):
    """Water of one depth over 8 m of level sills; a hollow below them all along."""
    chosen = lift.pumps.chosen if lift is not None and lift.pumps is not None else None
    point = None if chosen is None else chosen.point
    station_m = np.array([0.0, 1.0, 3.5, 8.0])
    edge_m = np.full(4, 100.0 + depth_m + freeboard_m)
    profile = SimpleNamespace(
        station_m=station_m, bed_m=np.full(4, 100.0 - hollow_m), liner_left_m=edge_m,
        liner_right_m=edge_m,
    )  # fmt: skip
    return SimpleNamespace(
        stored_m3=2.5, usable_m3=2.0, flow_m3s=0.005, total_head_m=2.5,
        kept=SimpleNamespace(first_fill_m3=3.2), pump=point, lift=lift or LIFT,
        running=SimpleNamespace(profile=profile),
    )  # fmt: skip


def list_of(earth: Earthwork, rows=3, columns=4, layers=2, parameters=None, lift=None):
    design, placement = basin_of(rows, columns, layers)
    feature = SimpleNamespace(placement=placement, design=design, layout=layout_of())
    return list_quantities(feature, earth, water_of(lift=lift), box(0, 0, 20, 1.65), parameters)


def amounts(rows):
    return {row.item: row.amount for row in rows}


@given(
    st.fixed_dictionaries(
        dict.fromkeys(("pit", "cut", "trench", "berm", "pile", "haul", "fence_m"), VOLUME)
    )
)
def test_earth_is_told_as_worked_out_and_bank_volumes_add_up(amounts_m3):
    earth = earth_of(**amounts_m3)
    rows = list_of(earth)
    told = amounts(rows)
    dug = told["basin excavation"] + told["stream cut"] + told["pipe trench"]
    assert dug == pytest.approx(earth.bank_m3)
    bank = [row.item for row in rows if row.unit == "m3" and row.note.startswith("bank")]
    assert bank == ["basin excavation", "stream cut", "pipe trench"]
    assert told["spoil pile"] + told["hauled away"] == pytest.approx(earth.loose_m3)
    assert told["silt fence"] == pytest.approx(amounts_m3["fence_m"])
    assert told["topsoil stripped"] == earth.topsoil_m3
    assert told["berm"] == earth.berm_m3


def test_every_row_has_group_unit_and_note_and_names_are_unique():
    rows = list_of(earth_of())
    assert {row.unit for row in rows} <= UNITS
    assert list(dict.fromkeys(row.group for row in rows)) == ["earth", "basin", "stream", "water"]
    assert all(row.item and row.note for row in rows)
    assert len({row.item for row in rows}) == len(rows)


def test_units_are_those_laid_not_the_least_needed():
    assert amounts(list_of(earth_of(), rows=3, columns=4, layers=2))["void units"] == 24.0


def test_the_first_fill_wets_the_gravel_and_the_pools_too():
    assert amounts(list_of(earth_of()))["first fill"] == pytest.approx(2.5 + 0.4 + 0.3)


def test_what_is_not_there_is_nothing():
    told = amounts(list_of(earth_of(pile=0.0, haul=0.0, fence_m=0.0)))
    assert told["spoil pile"] == told["hauled away"] == told["silt fence"] == 0.0


def test_a_whole_plan_balances():
    """Conservation: what is dug and brought is piled, hauled and in the berm."""
    plan = proposed()
    told, moved = amounts(plan.quantities), plan.proposal.earthwork
    bank = told["basin excavation"] + told["stream cut"] + told["pipe trench"]
    brought = told["soil brought for the berm"] / moved.swell_factor
    loose = (told["spoil pile"] + told["hauled away"]) / moved.swell_factor
    assert bank + brought == pytest.approx(loose + told["berm"] / moved.shrink_factor, rel=1e-6)
    assert told["stream bed"] == pytest.approx(plan.proposal.layout.bed.area)
    assert (
        told[f"pipe {plan.proposal.water.pipe_nominal} in"]
        >= plan.proposal.layout.pipe.length - 1e-9
    )
    laid = plan.proposal.placement.arrangement
    assert told["void units"] == laid.rows * laid.columns * plan.design.layers


def test_turf_is_restored_where_the_machine_went():
    assert amounts(list_of(earth_of()))["turf to restore"] == pytest.approx(20.0 * 1.65)


class TestLiner:
    def test_a_basin_with_upright_walls(self):
        """GEO-05: 12 x 6 x 2.5 ft, 1.5 ft over the rim: 20 x 14 ft = 280 ft2 (geometry)."""
        design = SimpleNamespace(depth_m=2.5 * FOOT, batter=0.0, overdig_m=0.0)
        laid = SimpleNamespace(length_m=12 * FOOT, width_m=6 * FOOT)
        edge = QuantityParameters(liner_edge=1.5 * FOOT)
        sheet = basin_sheet(design, SimpleNamespace(arrangement=laid), edge)
        assert sheet.length_m / FOOT == pytest.approx(20.0)
        assert sheet.width_m / FOOT == pytest.approx(14.0)
        assert sheet.area_m2 / FOOT**2 == pytest.approx(280.0)

    def test_sloping_sides_take_their_length_along_the_slope(self):
        """3 m out for 4 m down are 5 m of liner: (2 + 10 + 0.6) x (1 + 10 + 0.6) m."""
        design = SimpleNamespace(depth_m=4.0, batter=0.75, overdig_m=0.0)
        laid = SimpleNamespace(length_m=2.0, width_m=1.0)
        sheet = basin_sheet(design, SimpleNamespace(arrangement=laid), QuantityParameters())
        assert sheet.area_m2 == pytest.approx(12.6 * 11.6)

    def test_a_stream_by_hand(self):
        """8 m of bed 0.9 m wide; banks of 0.15 + 0.05 + 0.10 = 0.30 m, upright; falls 0.85 m.

        Bed 7.2; banks 2 x 8 x 0.30 = 4.8; falls 0.85 x 0.9 = 0.765; edges 2 x 8 x 0.30 = 4.8 and
        ends 0.9 x (0.30 + 0.50) = 0.72; folds a tenth of 18.285.
        """
        upright = QuantityParameters(bank_side=0.0)
        liner = stream_liner(layout_of(), water_of(), upright)
        assert liner.bed_m2 == pytest.approx(7.2)
        assert liner.banks_m2 == pytest.approx(4.8)
        assert liner.falls_m2 == pytest.approx(0.765)
        assert liner.edges_m2 == pytest.approx(5.52)
        assert liner.area_m2 == pytest.approx(1.1 * 18.285)

    def test_banks_along_their_slope(self):
        steep = stream_liner(layout_of(), water_of(), QuantityParameters(bank_side=0.0))
        flat = stream_liner(layout_of(), water_of(), QuantityParameters(bank_side=0.75))
        assert flat.banks_m2 == pytest.approx(1.25 * steep.banks_m2)

    @given(st.floats(0.01, 0.3), st.floats(0.0, 0.3), st.floats(0.01, 0.2))
    def test_deeper_water_and_more_freeboard_take_more(self, depth_m, freeboard_m, more_m):
        used = QuantityParameters()
        least = stream_liner(layout_of(), water_of(depth_m, freeboard_m), used).area_m2
        assert stream_liner(layout_of(), water_of(depth_m + more_m, freeboard_m), used).area_m2 > (
            least
        )
        assert stream_liner(layout_of(), water_of(depth_m, freeboard_m + more_m), used).area_m2 > (
            least
        )

    def test_hollows_deepen_the_banks(self):
        """0.30 m of bank and 0.20 m of hollow below it: 2 x 8 x 0.50 m2."""
        upright = QuantityParameters(bank_side=0.0)
        told = stream_liner(layout_of(), water_of(hollow_m=0.20), upright)
        assert told.banks_m2 == pytest.approx(8.0)

    def test_each_bank_has_its_own_edge(self):
        water = water_of()
        water.running.profile.liner_left_m = np.array([100.15, 100.25, 100.25, 100.15])
        told = stream_liner(layout_of(), water, QuantityParameters(bank_side=0.0))
        left_m2 = 1.0 * 0.35 + 2.5 * 0.40 + 4.5 * 0.35
        assert told.banks_m2 == pytest.approx(left_m2 + 8 * 0.30)

    def test_underlay_is_as_large_as_the_liner_in_each_layer(self):
        told = amounts(list_of(earth_of(), parameters=QuantityParameters(underlay_layers=2)))
        for part in ("basin", "stream"):
            assert told[f"underlay, {part}"] == pytest.approx(2 * told[f"liner, {part}"])


class TestStone:
    def test_a_layer_of_stone(self):
        """GEO-07: 280 ft2 x 4 in at 1.6 t/m3: 4.229 t (arithmetic), and GEO-01's 1.59 t/m3."""
        area_m2 = 280 * FOOT**2
        layout = layout_of(falls_m=(), length_m=8.0, width_m=area_m2 / 8.0)
        design, placement = basin_of()
        feature = SimpleNamespace(placement=placement, design=design, layout=layout)
        used = QuantityParameters(
            bed_stone_thickness=4 * FOOT / 12, stone_gravity=2.0, loose_voids=0.2
        )
        rows = list_quantities(feature, earth_of(), water_of(), None, used)
        assert amounts(rows)["bed stone"] == pytest.approx(4.229, rel=1e-3)
        plain = QuantityParameters(bed_stone_thickness=4 * FOOT / 12)
        rows = list_quantities(feature, earth_of(), water_of(), None, plain)
        assert amounts(rows)["bed stone"] == pytest.approx(4.229 * 1.59 / 1.6, rel=1e-3)

    def test_falls_by_height(self):
        """0.1 and 0.3 and 0.45 m high, 0.9 m wide, 0.4 m deep at 2.65 x 0.75 t/m3."""
        told = amounts(list_of(earth_of()))
        each = 0.9 * 0.4 * 2.65 * 0.75
        assert told["fall stone, up to 0.20 m"] == pytest.approx(0.10 * each)
        assert told["fall stone, up to 0.35 m"] == pytest.approx(0.30 * each)
        assert told["fall stone, over 0.35 m"] == pytest.approx(0.45 * each)

    def test_a_class_without_falls_is_no_row(self):
        told = amounts(list_of(earth_of(), parameters=QuantityParameters(fall_classes=[0.5, 0.6])))
        assert [item for item in told if item.startswith("fall stone")] == [
            "fall stone, up to 0.50 m"
        ]

    def test_boulders_are_counted_and_weighed(self):
        """8 m x 0.5 are 4 of pi/6 x 0.4^3 x 2.65 = 0.0888 t."""
        told = amounts(list_of(earth_of()))
        assert told["boulders"] == pytest.approx(4 * math.pi / 6 * 0.4**3 * 2.65)

    def test_bank_stone_lies_on_the_banks(self):
        liner = stream_liner(layout_of(), water_of(), QuantityParameters())
        told = amounts(list_of(earth_of()))
        assert told["bank stone"] == pytest.approx(liner.banks_m2 * 0.15 * 2.65 * 0.6)


class TestGravel:
    @given(st.integers(1, 6), st.integers(1, 6), st.integers(1, 3))
    def test_units_and_gravel_fill_the_pit(self, rows, columns, layers):
        """Conservation: pit to the rim = units + gravel under, beside and over them + sides."""
        told = amounts(list_of(earth_of(), rows=rows, columns=columns, layers=layers))
        gravel_m3 = sum(amount for item, amount in told.items() if item.startswith("gravel"))
        units_m3 = 0.8 * columns * 0.6 * rows * 0.45 * layers
        length_m, width_m, depth_m = 0.8 * columns + 0.6, 0.6 * rows + 0.6, 0.25 + 0.45 * layers
        steps = 2000  # the pit again, as a pile of thin slices
        pit_m3 = sum(
            (length_m + 3.0 * z) * (width_m + 3.0 * z) * depth_m / steps
            for z in (depth_m * (n + 0.5) / steps for n in range(steps))
        )
        assert units_m3 + gravel_m3 == pytest.approx(pit_m3, rel=1e-5)

    def test_upright_walls_have_no_sloping_sides(self):
        design, placement = basin_of(batter=0.0)
        feature = SimpleNamespace(placement=placement, design=design, layout=layout_of())
        told = amounts(list_quantities(feature, earth_of(), water_of(), None))
        assert told["gravel, sloping sides"] == pytest.approx(0.0, abs=1e-12)


class TestPipeAndPump:
    route = LineString([(0, 0, 0), (6, 0, 0), (6, 5, 1)])

    def test_fittings_are_counted_and_entrance_and_exit_are_not_bought(self):
        lift = choose_pipe(self.route, 0.0025, WaterParameters())
        told = amounts(list_of(earth_of(), lift=lift))
        assert lift.pipe.nominal == "2"
        assert told["elbow 90 2 in"] == 3.0
        assert told["check valve 2 in"] == told["gate valve 2 in"] == 1.0
        assert not any("exit" in item or "entrance" in item for item in told)

    def test_the_pump_chosen_is_named(self):
        lift = choose_pipe(self.route, 0.005, WaterParameters())
        curve = PumpCurve(name="Pump A", flows_m3s=(0.0, 0.005, 0.01), heads_m=(8.0, 4.0, 0.0))
        study = study_pumps([curve], lambda flow: 4.0, 0.005, WaterParameters().pump)
        rows = list_of(earth_of(), lift=replace(lift, pumps=study))
        assert amounts(rows)["pump Pump A"] == 1.0
        note = next(row.note for row in rows if row.item == "pump Pump A")
        assert note == "5.00 L/s at 4.00 m"

    def test_without_a_choice_any_pump_of_that_flow_and_head(self):
        rows = list_of(earth_of())
        assert next(row.note for row in rows if row.item == "pump") == "5.00 L/s at 2.50 m"


class TestTradeUnits:
    @pytest.mark.parametrize(
        ("amount", "unit", "item", "told"),
        [
            (0.764554857984, "m3", "berm", "1.0 yd³"),
            (0.90718474, "t", "bed stone", "1.0 short ton"),
            (0.003785411784 * 200, "m3", "first fill", "200 gal"),
            (100 * 0.09290304, "m2", "liner, basin", "100 ft²"),
            (30.48, "m", "silt fence", "100.0 ft"),
            (3.0, "count", "falls", ""),
        ],
    )
    def test_exact_amounts(self, amount, unit, item, told):
        row = Quantity(group="earth", item=item, amount=amount, unit=unit, note="as it lay")
        assert trade_amount(row, "us") == told
        assert trade_amount(row, "si") == ""
        changed = in_trade_units(row, "us")
        assert (changed.amount, changed.unit) == (amount, unit)
        assert changed.note == (f"{told}; as it lay" if told else "as it lay")


def test_settings_that_cannot_be():
    for classes in ([0.3, 0.2], [0.0], [0.2, 0.2]):
        with pytest.raises(ValueError, match="rising"):
            QuantityParameters(fall_classes=classes)
