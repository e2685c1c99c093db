"""Stone of the stream and gravel of the basin.

In: layout, liner, basin, settings. Out: rows of the list; stone by mass, gravel by volume. Method:
areas times thickness, with voids: a tonnage to order by, not a count of stones.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from geo_site import volumes
from geo_site.layout import Fall, Layout
from geo_site.quantities.liner import StreamLiner, mean_width
from geo_site.quantities.records import Quantity
from geo_site.quantities.settings import QuantityParameters
from geo_site.siting import BasinDesign, Placement

__all__ = ["gravel_rows", "stone_rows"]

_TONNE_KG = 1000.0


def gravel_rows(
    design: BasinDesign, placement: Placement, parameters: QuantityParameters
) -> Iterator[Quantity]:
    """List the gravel of the basin.

    Parameters
    ----------
    design : BasinDesign
        Depths, overdig, batter.
    placement : Placement
        Footprint and pit floor.
    parameters : QuantityParameters
        Voids.

    Yields
    ------
    Quantity
        Bedding, beside the units, over them, and what fills the sloping sides.
    """
    floor_m2 = float(placement.pit_floor.area)
    beside_m2 = floor_m2 - float(placement.footprint.area)
    laid, overdig_m = placement.arrangement, 2.0 * design.overdig_m
    pit_m3 = volumes.battered_pit_volume(
        laid.length_m + overdig_m, laid.width_m + overdig_m, design.depth_m, design.batter
    )
    upright_m3 = (laid.length_m + overdig_m) * (laid.width_m + overdig_m) * design.depth_m
    density = volumes.bulk_density(parameters.stone_gravity, parameters.loose_voids)
    rows = (
        ("gravel, bedding", floor_m2 * design.bedding_m, "under the units"),
        ("gravel, beside the units", beside_m2 * design.unit_height_m, "overdig, as high as they"),
        ("gravel, cover and return bed", floor_m2 * design.cover_m, "over units and overdig"),
        (
            "gravel, sloping sides",
            pit_m3 - upright_m3,
            "between overdig and the pit's sloping sides up to the rim: no spoil is put back there",
        ),
    )
    for item, amount_m3, note in rows:
        mass = f"{amount_m3 * density:.1f} t at {density:.2f} t/m3"
        yield Quantity(
            group="basin", item=item, amount=amount_m3, unit="m3", note=f"{note}; {mass}"
        )


def stone_rows(
    layout: Layout, liner: StreamLiner, parameters: QuantityParameters
) -> Iterator[Quantity]:
    """List the stone of the stream.

    Parameters
    ----------
    layout : Layout
        Bed and falls.
    liner : StreamLiner
        Bed and banks, as they are covered.
    parameters : QuantityParameters
        Thicknesses, sizes, voids.

    Yields
    ------
    Quantity
        Bed, banks, falls by height, boulders; tonnes.
    """
    used = parameters
    density = volumes.bulk_density(used.stone_gravity, used.loose_voids)
    for place, area_m2, thickness_m, size in (
        ("bed", liner.bed_m2, used.bed_stone_thickness, used.bed_stone_class),
        ("bank", liner.banks_m2, used.bank_stone_thickness, used.bank_stone_class),
    ):
        mass_kg = volumes.layer_mass(area_m2, thickness_m, density)
        note = f"{size}, {area_m2:.1f} m2 x {thickness_m:.2f} m at {density:.2f} t/m3 loose"
        yield _tonnes(f"{place} stone", mass_kg, note)
    yield from _fall_stone(layout, parameters)
    count = math.ceil(used.boulders_per_metre * layout.length_m - 1e-9)
    each_kg = volumes.layer_mass(
        math.pi / 6.0 * used.boulder_diameter**2, used.boulder_diameter, used.stone_gravity
    )
    note = f"{count} of about {used.boulder_diameter:.2f} m and {each_kg:.0f} kg"
    yield _tonnes("boulders", count * each_kg, note)


def _fall_stone(layout: Layout, parameters: QuantityParameters) -> Iterator[Quantity]:
    """Stone stacked in falls, a row for each class of height that there is."""
    density = volumes.bulk_density(parameters.stone_gravity, parameters.stacked_voids)
    edges = [0.0, *parameters.fall_classes, math.inf]
    for low_m, high_m in pairwise(edges):
        falls = [fall for fall in layout.falls if low_m < fall.height_m <= high_m]
        if falls:
            face_m2 = sum(_face(fall, layout) for fall in falls)
            mass_kg = volumes.layer_mass(face_m2, parameters.fall_stone_depth, density)
            told = "over" if math.isinf(high_m) else "up to"
            limit_m = low_m if math.isinf(high_m) else high_m
            note = f"falls: {len(falls)}, {face_m2:.2f} m2 of face, stacked at {density:.2f} t/m3"
            yield _tonnes(f"fall stone, {told} {limit_m:.2f} m", mass_kg, note)


def _face(fall: Fall, layout: Layout) -> float:
    """Area of a fall's face across the bed, m2."""
    return fall.height_m * max(mean_width(layout), fall.lip_width_m)


def _tonnes(item: str, mass_kg: float, note: str) -> Quantity:
    return Quantity(group="stream", item=item, amount=mass_kg / _TONNE_KG, unit="t", note=note)
