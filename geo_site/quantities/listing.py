"""The list, group by group."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from shapely.geometry.base import BaseGeometry

from geo_site.earthwork import Earthwork, Feature
from geo_site.layout import Layout
from geo_site.quantities.liner import StreamLiner, basin_sheet, stream_liner
from geo_site.quantities.records import Quantity
from geo_site.quantities.settings import QuantityParameters
from geo_site.quantities.stone import gravel_rows, stone_rows
from geo_site.siting import BasinDesign, Placement
from geo_site.water import Water
from geo_site.water.lifting_records import BOUGHT_FITTINGS

__all__ = ["list_quantities"]


def list_quantities(
    feature: Feature,
    earthwork: Earthwork,
    water: Water,
    driven: BaseGeometry | None,
    parameters: QuantityParameters | None = None,
) -> tuple[Quantity, ...]:
    """List what a plan moves, buys and places.

    Parameters
    ----------
    feature : Feature
        Basin and stream.
    earthwork : Earthwork
        Volumes moved.
    water : Water
        Its water, pipe and pump.
    driven : shapely geometry or None
        Ground that the machine drives over.
    parameters : QuantityParameters, optional
        Liner, stone and gravel; by default the settings' defaults.

    Returns
    -------
    tuple of Quantity
        Grouped: earth, basin, stream, water. Names are unique.
    """
    used = parameters or QuantityParameters()
    layout = feature.layout
    liner = None if layout is None else stream_liner(layout, water, used)
    stream = () if layout is None or liner is None else _stream(layout, liner, used)
    return (
        *_earth(earthwork, driven),
        *_basin(feature.design, feature.placement, water, used),
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
    pile = f"loose, bank x {moved.swell_factor:.2f}, soil {moved.soil}"
    yield replace(row("spoil pile", pile_m3, "m3", pile), is_cost=False)
    yield row("hauled away", moved.haul_m3, "m3", "loose")
    loads = row("truck loads", float(moved.haul_loads), "count", "for what is hauled")
    yield replace(loads, is_cost=False)
    fence_m = moved.silt_fence.length if moved.silt_fence is not None else 0.0
    yield row("silt fence", fence_m, "m", "along the contour below pile and pit")
    if driven is not None:
        note = "corridors of the machine's ways, gaps on both sides"
        yield row("turf to restore", float(driven.area), "m2", note)


def _basin(
    design: BasinDesign, placement: Placement, water: Water, used: QuantityParameters
) -> Iterator[Quantity]:
    laid = placement.arrangement
    yield Quantity(
        group="basin",
        item="void units",
        amount=float(laid.rows * laid.columns * design.layers),
        unit="count",
        note=f"store {water.stored_m3:.2f} m3, of that {water.usable_m3:.2f} m3 usable",
    )
    sheet = basin_sheet(design, placement, used)
    size = f"one sheet of {sheet.length_m:.2f} x {sheet.width_m:.2f} m, corners folded"
    yield Quantity(group="basin", item="liner, basin", amount=sheet.area_m2, unit="m2", note=size)
    yield _underlay("basin", sheet.area_m2, used)
    yield from gravel_rows(design, placement, used)


def _underlay(group: str, liner_m2: float, used: QuantityParameters) -> Quantity:
    return Quantity(
        group=group,
        item=f"underlay, {group}",
        amount=used.underlay_layers * liner_m2,
        unit="m2",
        note=f"layers: {used.underlay_layers}, as large as the liner",
    )


def _stream(layout: Layout, liner: StreamLiner, used: QuantityParameters) -> Iterator[Quantity]:
    def row(item: str, amount: float, unit: str, note: str) -> Quantity:
        return Quantity(group="stream", item=item, amount=amount, unit=unit, note=note)

    bed = "plan area of bed and pools, before liner overlap"
    told = row("stream bed", float(layout.bed.area), "m2", bed)
    yield replace(told, is_cost=False)
    told = row("falls", float(len(layout.falls)), "count", f"{layout.fall_m:.2f} m in all")
    yield replace(told, is_cost=False)
    parts = (
        f"bed {liner.bed_m2:.1f} m2, banks {liner.banks_m2:.1f} m2, falls "
        f"{liner.falls_m2:.1f} m2, edges {liner.edges_m2:.1f} m2, folds and offcuts "
        f"{liner.waste_m2:.1f} m2"
    )
    yield row("liner, stream", liner.area_m2, "m2", parts)
    yield _underlay("stream", liner.area_m2, used)
    yield from stone_rows(layout, liner, used)


def _water(water: Water) -> Iterator[Quantity]:
    def row(item: str, amount: float, unit: str, note: str) -> Quantity:
        return Quantity(group="water", item=item, amount=amount, unit=unit, note=note)

    pipe = water.lift.pipe
    inside = f"inside diameter {pipe.inside_diameter_m:.4f} m, along its slope"
    yield row(f"pipe {pipe.nominal} in", pipe.length_m, "m", inside)
    for fitting in water.lift.fittings:
        if fitting.kind in BOUGHT_FITTINGS:
            item = f"{BOUGHT_FITTINGS[fitting.kind]} {pipe.nominal} in"
            yield row(item, float(fitting.count), "count", f"K {fitting.loss_coefficient:g}")
    yield _pump(water)
    told = "basin full, gravel wet, hollows standing, pipe where a check valve keeps it full"
    yield row("first fill", water.kept.first_fill_m3, "m3", told)


def _pump(water: Water) -> Quantity:
    """The pump that was chosen, else any that gives the flow at the head."""
    item, flow_m3s, head_m = "pump", water.flow_m3s, water.total_head_m
    chosen = water.lift.pumps.chosen if water.lift.pumps is not None else None
    if chosen is not None and water.pump is not None:
        item, flow_m3s, head_m = f"pump {chosen.told}", water.pump.flow_m3s, water.pump.head_m
    note = f"{1000 * flow_m3s:.2f} L/s at {head_m:.2f} m"
    return Quantity(group="water", item=item, amount=1.0, unit="count", note=note)
