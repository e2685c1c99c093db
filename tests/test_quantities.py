"""Quantities: what is listed is what was worked out, sums agree, states are never mixed."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_plans import proposed
from shapely.geometry import LineString, box

from geo_site.earthwork import Earthwork, Pile
from geo_site.quantities import list_quantities

UNITS = {"m", "m2", "m3", "count"}
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


def list_of(earth: Earthwork, rows=3, columns=4, layers=2):
    water = SimpleNamespace(
        stored_m3=2.5, usable_m3=2.0, gravel_m3=0.4, standing_m3=0.3, pipe_length_m=11.0,
        pipe_inside_diameter_m=0.0525,
    )  # fmt: skip
    layout = SimpleNamespace(bed=box(0, 0, 8, 0.9), falls=(1, 2, 3), fall_m=1.0)
    placement = SimpleNamespace(arrangement=SimpleNamespace(rows=rows, columns=columns))
    design = SimpleNamespace(units=rows * columns * layers - 1, layers=layers)
    feature = SimpleNamespace(placement=placement, design=design, layout=layout)
    return list_quantities(feature, earth, water, box(0, 0, 20, 1.65))


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
    assert told["pipe"] >= plan.proposal.layout.pipe.length - 1e-9
    laid = plan.proposal.placement.arrangement
    assert told["void units"] == laid.rows * laid.columns * plan.design.layers


def test_turf_is_restored_where_the_machine_went():
    assert amounts(list_of(earth_of()))["turf to restore"] == pytest.approx(20.0 * 1.65)
