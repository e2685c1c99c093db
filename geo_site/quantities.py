"""What is moved, bought and placed, as a list.

In: earthwork, water, basin and stream of a plan. Out: rows of item, amount, unit and a note that
says how the amount was found. Method: plain sums of what the floors below worked out; loose and
bank volumes are never added to each other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from geo_site.earthwork import Earthwork, Feature
from geo_site.layout import Layout
from geo_site.siting import BasinDesign, Placement
from geo_site.water import Water

__all__ = ["Quantity", "list_quantities"]


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """One row of the list.

    Attributes
    ----------
    group : str
        ``earth``, ``basin``, ``stream`` or ``water``.
    item : str
        What.
    amount : float
        How much, SI.
    unit : str
        ``m``, ``m2``, ``m3`` or ``count``.
    note : str
        How it was found, and its state (bank, loose, compacted).
    """

    group: str
    item: str
    amount: float
    unit: str
    note: str


def list_quantities(
    feature: Feature, earthwork: Earthwork, water: Water, driven: BaseGeometry | None
) -> tuple[Quantity, ...]:
    """List what a plan moves and places.

    Parameters
    ----------
    feature : Feature
        Basin and stream.
    earthwork : Earthwork
        Volumes moved.
    water : Water
        Its water.
    driven : shapely geometry or None
        Ground that the machine drives over.

    Returns
    -------
    tuple of Quantity
        Grouped: earth, basin, stream, water.
    """
    stream = () if feature.layout is None else _stream(feature.layout)
    return (
        *_earth(earthwork, driven),
        *_basin(feature.design, feature.placement, water),
        *stream,
        *_water(water),
    )


def _earth(moved: Earthwork, driven: BaseGeometry | None) -> Iterator[Quantity]:
    def row(item: str, amount: float, unit: str, note: str) -> Quantity:
        return Quantity(group="earth", item=item, amount=amount, unit=unit, note=note)

    yield row("sod stripped", moved.sod_m2, "m2", "over pit, bed and trench; set apart for reuse")
    yield row("topsoil stripped", moved.topsoil_m3, "m3", "as it lay; set apart for reuse")
    yield row("basin excavation", moved.excavation_m3, "m3", "bank, below the strip")
    yield row("stream cut", moved.stream_cut_m3, "m3", "bank, outside the basin's pit")
    yield row("pipe trench", moved.trench_m3, "m3", "bank")
    yield row("berm", moved.berm_m3, "m3", "compacted, from the spoil")
    yield row("soil brought for the berm", moved.brought_m3, "m3", "loose")
    pile_m3 = moved.pile.volume_m3 if moved.pile else 0.0
    yield row(
        "spoil pile", pile_m3, "m3", f"loose, bank x {moved.swell_factor:.2f}, soil {moved.soil}"
    )
    yield row("hauled away", moved.haul_m3, "m3", "loose")
    yield row("truck loads", float(moved.haul_loads), "count", "for what is hauled")
    fence_m = moved.silt_fence.length if moved.silt_fence is not None else 0.0
    yield row("silt fence", fence_m, "m", "along the contour below pile and pit")
    if driven is not None:
        note = "corridors of the machine's ways, gaps on both sides"
        yield row("turf to restore", float(driven.area), "m2", note)


def _basin(design: BasinDesign, placement: Placement, water: Water) -> Iterator[Quantity]:
    laid = placement.arrangement
    yield Quantity(
        group="basin",
        item="void units",
        amount=float(laid.rows * laid.columns * design.layers),
        unit="count",
        note=f"store {water.stored_m3:.2f} m3, of that {water.usable_m3:.2f} m3 usable",
    )


def _stream(layout: Layout) -> Iterator[Quantity]:
    def row(item: str, amount: float, unit: str, note: str) -> Quantity:
        return Quantity(group="stream", item=item, amount=amount, unit=unit, note=note)

    bed = "plan area of bed and pools, before liner overlap"
    yield row("stream bed", float(layout.bed.area), "m2", bed)
    yield row("falls", float(len(layout.falls)), "count", f"{layout.fall_m:.2f} m in all")


def _water(water: Water) -> Iterator[Quantity]:
    def row(item: str, amount: float, unit: str, note: str) -> Quantity:
        return Quantity(group="water", item=item, amount=amount, unit=unit, note=note)

    inside = f"inside diameter {water.pipe_inside_diameter_m:.4f} m, along its slope"
    yield row("pipe", water.pipe_length_m, "m", inside)
    fill_m3 = water.stored_m3 + water.gravel_m3 + water.standing_m3
    told = "basin full, gravel beside the units wet down to the pump's reach, pools standing"
    yield row("first fill", fill_m3, "m3", told)
