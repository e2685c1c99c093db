"""The stream along its line, and the basin and a pool cut across.

In: a plan. Out: pages of a booklet. Method: levels of the plan against distance, each drawing to a
scale of its own that is stated, the long section with its heights drawn larger by a stated factor.
Reference: none.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray
from shapely import get_coordinates

from geo_site.plan import Plan, Proposal
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.maps import MapScale, choose_scale
from geo_site.sheets.paper import GREY, INK, Frame, Lettering, Sheet
from geo_site.units import System, format_length

__all__ = ["add_sections"]

Floats = NDArray[np.float64]

_AXIS_MM = 16.0
_EXAGGERATIONS = (1.0, 2.0, 2.5, 4.0, 5.0, 10.0)
_FOOT_M = 0.3048
_EARTH, _SAND, _BLUE, _NAVY = "#6b3f17", "#d9b27c", "#3f7fc1", "#0b2f5b"
_LEVEL_PADDING_M = 0.15
_DRAWN_BEYOND_M = 1.0


def add_sections(book: Booklet, plan: Plan) -> None:
    """Add the long section, and the cross-sections.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        What is shown; nothing is added where there is no place.
    """
    if plan.proposal is None:
        return
    sheet, room = book.add("the stream along its line, from the spillway's lip to the basin")
    frame = Frame(
        room.x_mm + _AXIS_MM, room.y_mm + 14.0, room.width_mm - _AXIS_MM, room.height_mm - 24.0
    )
    _draw_long(sheet, frame, plan, plan.proposal)
    sheet, room = book.add("cut across: the basin, and the deepest pool")
    half_mm = 0.5 * (room.width_mm - 8.0)
    left = Frame(room.x_mm, room.y_mm, half_mm, room.height_mm)
    _draw_basin(sheet, left, plan, plan.proposal)
    right = Frame(room.x_mm + half_mm + 8.0, room.y_mm, half_mm, room.height_mm)
    _draw_pool(sheet, right, plan, plan.proposal)


def _draw_long(sheet: Sheet, frame: Frame, plan: Plan, proposal: Proposal) -> None:
    layout, system = proposal.layout, plan.site.report_units
    levels_m = np.concatenate([layout.ground_m, layout.bed_m])
    low_m = min(float(np.nanmin(levels_m)), proposal.water.lowest_level_m) - _LEVEL_PADDING_M
    high_m = max(float(np.nanmax(levels_m)), proposal.water.spillway_level_m) + 3 * _LEVEL_PADDING_M
    scale = choose_scale((0.0, 0.0, layout.length_m, 0.0), frame, system)
    taller = _exaggeration(scale, high_m - low_m, frame)
    axes = sheet.axes(frame)
    axes.set_xlim(0.0, frame.width_mm / 1000.0 * scale.ratio)
    axes.set_ylim(low_m, low_m + frame.height_mm / 1000.0 * scale.ratio / taller)
    axes.set_autoscale_on(False)
    _draw_profile(axes, proposal)
    _dimension_falls(axes, proposal, system)
    _draw_axes_marks(axes, system)
    told = (
        f"lengths {scale.told}; heights drawn {taller:g} times as large. Levels refer to "
        f"{plan.site.vertical_datum or 'a vertical datum that is not stated'}."
    )
    sheet.words(frame.x_mm, frame.top_mm + 3.0, told, Lettering(size_pt=7.5, bold=True))
    unit = "ft" if system == "us" else "m"
    station = f"station from the lip, {unit} (level on the left, {unit})"
    sheet.words(frame.x_mm, frame.y_mm - 9.0, station, Lettering(size_pt=7.5, colour=GREY))


def _exaggeration(scale: MapScale, rise_m: float, frame: Frame) -> float:
    fits = [
        factor
        for factor in _EXAGGERATIONS
        if 1000.0 * rise_m / scale.ratio * factor <= frame.height_mm
    ]
    return fits[-1] if fits else _EXAGGERATIONS[0]


def _draw_profile(axes: Axes, proposal: Proposal) -> None:
    layout = proposal.layout
    axes.plot(layout.stations_m, layout.ground_m, color=_EARTH, linewidth=1.0, label="ground")
    axes.plot(layout.stations_m, layout.bed_m, color=INK, linewidth=1.4, label="bed (sills)")
    for pool in layout.pools:
        hollow = [pool.from_m, 0.5 * (pool.from_m + pool.to_m), pool.to_m]
        floor = [pool.sill_level_m, pool.sill_level_m - pool.depth_m, pool.sill_level_m]
        axes.plot(hollow, floor, color=INK, linewidth=0.8, linestyle=(0, (3, 2)))
    first = True
    for reach, water in zip(layout.reaches, proposal.water.reaches, strict=True):
        if reach.kind == "fall":
            continue
        z = get_coordinates(reach.line, include_z=True)[:, 2]
        depth_m = water.water_level_m - reach.sill_level_m
        ends = [water.water_level_m, water.water_level_m]
        if reach.kind == "riffle":
            ends = [water.water_level_m, float(z[-1]) + depth_m]
        told = "water, pump running" if first else None
        axes.plot([reach.from_m, reach.to_m], ends, color=_BLUE, linewidth=1.4, label=told)
        first = False
    for pool, water_of in zip(layout.pools, proposal.water.pools, strict=True):
        told = "liner's edge" if pool.sequence == 1 else None
        axes.plot(
            [pool.from_m, pool.to_m],
            [water_of.liner_level_m] * 2,
            color=_NAVY,
            linewidth=0.8,
            linestyle=(0, (6, 2)),
            label=told,
        )
    axes.legend(loc="upper right", frameon=False, fontsize=7.5)


def _dimension_falls(axes: Axes, proposal: Proposal, system: System) -> None:
    for fall in proposal.layout.falls:
        low_m = fall.lip_level_m - fall.height_m
        axes.annotate(
            "",
            (fall.station_m, low_m),
            (fall.station_m, fall.lip_level_m),
            arrowprops={"arrowstyle": "<->", "color": INK, "linewidth": 0.6},
        )
        axes.annotate(
            f"fall {fall.sequence}\n{format_length(fall.height_m, system)}",
            (fall.station_m, low_m),
            xytext=(3, -14),
            textcoords="offset points",
            fontsize=7.0,
        )


def _draw_axes_marks(axes: Axes, system: System) -> None:
    """Number both axes in the unit of the reports."""
    unit_m = _FOOT_M if system == "us" else 1.0
    axes.tick_params(labelsize=7.0, width=0.4, length=2.5)
    for axis in (axes.xaxis, axes.yaxis):
        low, high = axis.get_view_interval()
        step = _step((high - low) / unit_m)
        ticks = np.arange(np.ceil(low / unit_m / step), np.floor(high / unit_m / step) + 1) * step
        axis.set_ticks(ticks * unit_m, [f"{tick:g}" for tick in ticks])
    axes.grid(visible=True, color="#d5d0c8", linewidth=0.3)
    for spine in axes.spines.values():
        spine.set_linewidth(0.4)


def _step(span: float) -> float:
    return next(
        step for step in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0) if span / step <= 14
    )


def _open_cut(
    sheet: Sheet,
    frame: Frame,
    bounds: tuple[float, float, float, float],
    title: str,
    system: System,
) -> Axes:
    """Give axes at one scale in both directions, its scale said over them."""
    inner = Frame(frame.x_mm + _AXIS_MM, frame.y_mm + 40.0, frame.width_mm - _AXIS_MM, 0.0)
    inner = Frame(inner.x_mm, inner.y_mm, inner.width_mm, frame.top_mm - 12.0 - inner.y_mm)
    scale = choose_scale(bounds, inner, system)
    west, south, east, north = bounds
    axes = sheet.axes(inner)
    half_m = 0.5 * inner.width_mm / 1000.0 * scale.ratio
    middle_m = 0.5 * (west + east)
    high_m = inner.height_mm / 1000.0 * scale.ratio
    axes.set_xlim(middle_m - half_m, middle_m + half_m)
    axes.set_ylim(0.5 * (south + north) - 0.5 * high_m, 0.5 * (south + north) + 0.5 * high_m)
    axes.set_autoscale_on(False)
    sheet.words(inner.x_mm, frame.top_mm - 4.0, title, Lettering(size_pt=9.0, bold=True))
    told = f"scale {scale.told}, heights not enlarged"
    sheet.words(inner.x_mm, frame.top_mm - 8.5, told, Lettering(size_pt=7.0, colour=GREY))
    return axes


def _draw_basin(sheet: Sheet, frame: Frame, plan: Plan, proposal: Proposal) -> None:
    """Cut the basin across its short side, seen along its long side."""
    placement, design, water = proposal.placement, plan.design, proposal.water
    system, half_m = plan.site.report_units, 0.5 * placement.arrangement.width_m
    floor_m, over_m = placement.floor_level_m, design.overdig_m
    along_m, ground_m = _ground_across(plan, proposal)
    reach_m = float(along_m[-1])
    top_m = float(np.nanmax(ground_m))
    bounds = (-reach_m, floor_m - 0.1, reach_m, top_m + 0.2)
    axes = _open_cut(sheet, frame, bounds, "basin, cut across its short side", system)
    axes.plot(along_m, ground_m, color=_EARTH, linewidth=1.2, label="ground as it lies")
    pit_x, pit_z = _pit(half_m + over_m, floor_m, design.batter, along_m, ground_m)
    axes.plot(pit_x, pit_z, color=INK, linewidth=1.0, linestyle=(0, (4, 2)), label="pit")
    bottom_m = floor_m + design.bedding_m
    units_top_m = bottom_m + design.unit_height_m
    wide_m = [-half_m - over_m, half_m + over_m]
    axes.fill_between(wide_m, floor_m, units_top_m, color=_SAND, alpha=0.6, linewidth=0.0,
                      label="gravel")  # fmt: skip
    axes.fill_between([-half_m, half_m], bottom_m, units_top_m, color="#ffffff", linewidth=0.0)
    axes.fill_between([-half_m, half_m], bottom_m, units_top_m, color=_BLUE, alpha=0.25,
                      label="void units", linewidth=0.0)  # fmt: skip
    for level_m, told in (
        (water.water_level_m, "full"),
        (water.running_level_m, "pump running"),
        (water.lowest_level_m, "pump's lowest"),
    ):
        axes.plot([-half_m, half_m], [level_m] * 2, color=_NAVY, linewidth=0.9)
        axes.annotate(
            told, (half_m, level_m), xytext=(2, 1), textcoords="offset points", fontsize=6.5
        )
    _draw_axes_marks(axes, system)
    axes.legend(
        loc="upper center", bbox_to_anchor=(0.5, -0.12), ncols=2, frameon=False, fontsize=7.0
    )
    sizes = (
        f"rim {format_length(placement.rim_level_m, system)}, floor "
        f"{format_length(floor_m, system)}, overdig {format_length(over_m, system)} all round, "
        f"sides {design.batter:g} : 1 (across to up)"
    )
    sheet.block(
        frame.x_mm + _AXIS_MM,
        frame.y_mm + 9.0,
        frame.width_mm - _AXIS_MM,
        sizes,
        Lettering(size_pt=7.0),
    )


def _ground_across(plan: Plan, proposal: Proposal) -> tuple[Floats, Floats]:
    """Give distance and ground level across the basin's middle, beyond the pit on both sides."""
    placement = proposal.placement
    turn = np.radians(placement.rotation_deg + 90.0)
    reach_m = 0.5 * placement.arrangement.width_m + plan.design.overdig_m
    reach_m += plan.design.batter * placement.greatest_depth_m + _DRAWN_BEYOND_M
    along_m = np.linspace(-reach_m, reach_m, 121)
    x = placement.x + along_m * np.cos(turn)
    y = placement.y + along_m * np.sin(turn)
    return along_m, plan.terrain.ground.sample(np.column_stack([x, y]))


def _pit(
    half_m: float, floor_m: float, batter: float, along_m: Floats, ground_m: Floats
) -> tuple[Sequence[float], Sequence[float]]:
    """Give the pit's outline: floor, and sides up to the ground."""
    side_z = floor_m + np.maximum(np.abs(along_m) - half_m, 0.0) / max(batter, 1e-9)
    dug = (np.abs(along_m) <= half_m) | (side_z < ground_m)
    z = np.where(np.abs(along_m) <= half_m, floor_m, np.minimum(side_z, ground_m))
    inner = [(-half_m, floor_m), (half_m, floor_m)]
    points = sorted([*zip(along_m[dug].tolist(), z[dug].tolist(), strict=True), *inner])
    return [p[0] for p in points], [p[1] for p in points]


def _draw_pool(sheet: Sheet, frame: Frame, plan: Plan, proposal: Proposal) -> None:
    """Cut the deepest pool across the stream, as half an ellipse below its sill."""
    layout, system = proposal.layout, plan.site.report_units
    if not layout.pools:
        sheet.words(frame.x_mm, frame.top_mm - 4.0, "no pool", Lettering(size_pt=9.0, bold=True))
        return
    deepest = max(range(len(layout.pools)), key=lambda k: layout.pools[k].depth_m)
    pool, water = layout.pools[deepest], proposal.water.pools[deepest]
    length_m = max(pool.to_m - pool.from_m, 0.1)
    half_m = 0.5 * float(pool.geometry.area) / length_m
    x = np.linspace(-half_m, half_m, 81)
    bottom = pool.sill_level_m - pool.depth_m * np.sqrt(np.maximum(1.0 - (x / half_m) ** 2, 0.0))
    bounds = (
        -half_m - 0.4,
        pool.sill_level_m - pool.depth_m - 0.15,
        half_m + 0.4,
        water.liner_level_m + 0.2,
    )
    axes = _open_cut(sheet, frame, bounds, f"pool {pool.sequence}, mean width", system)
    sides_x = [-half_m - 0.05, -half_m, *x.tolist(), half_m, half_m + 0.05]
    sides_z = [
        water.liner_level_m,
        pool.sill_level_m,
        *bottom.tolist(),
        pool.sill_level_m,
        water.liner_level_m,
    ]
    axes.plot(sides_x, sides_z, color=INK, linewidth=1.4, label="liner (shape assumed)")
    axes.fill_between(
        x,
        bottom,
        water.water_level_m,
        color=_BLUE,
        alpha=0.35,
        linewidth=0.0,
        label="water, pump running",
    )
    axes.plot(
        [-half_m, half_m],
        [pool.sill_level_m] * 2,
        color=_NAVY,
        linewidth=0.9,
        label="sill: water at rest",
    )
    _draw_axes_marks(axes, system)
    axes.legend(
        loc="upper center", bbox_to_anchor=(0.5, -0.12), ncols=2, frameon=False, fontsize=7.0
    )
    sizes = (
        f"hollow {format_length(pool.depth_m, system)} below the sill; liner's edge "
        f"{format_length(water.liner_level_m - water.water_level_m, system)} above running water"
    )
    sheet.block(
        frame.x_mm + _AXIS_MM,
        frame.y_mm + 9.0,
        frame.width_mm - _AXIS_MM,
        sizes,
        Lettering(size_pt=7.0),
    )
