"""The basin and the deepest pool, cut across.

In: a plan. Out: a page of a booklet. Method: both to one scale across and up, each its own.
Reference: none.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geo_site.plan import Plan, Proposal
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.labels import Label, LabelBoard
from geo_site.sheets.long_section import level_unit
from geo_site.sheets.maps import choose_scale, open_map
from geo_site.sheets.paper import GREY, INK, Frame, Lettering, Pen, Sheet
from geo_site.sheets.plots import Plot, draw_key
from geo_site.sheets.title_facts import both
from geo_site.units import System, format_length

__all__ = ["add_cross_sections"]

Floats = NDArray[np.float64]

_AXIS_MM, _HEAD_MM, _FOOT_MM = 14.0, 12.0, 36.0
_GAP_MM, _SPARE_MM = 8.0, 14.0
_BEYOND_M = 0.8
_GROUND = Pen(stroke="#6b3f17", width_mm=0.4)
_PIT = Pen(stroke=INK, width_mm=0.35, dash_mm=(1.6, 0.8))
_GRAVEL = Pen(stroke="", fill="#e3c9a1")
_UNITS = Pen(stroke="#0b2f5b", width_mm=0.2, fill="#cfe0f2")
_POINTER = Pen(stroke=GREY, width_mm=0.1)
_LEVEL = Pen(stroke="#0b2f5b", width_mm=0.3)
_LINER = Pen(stroke=INK, width_mm=0.5)
_WATER = Pen(stroke="", fill="#a9c9ea")


def add_cross_sections(book: Booklet, plan: Plan, proposal: Proposal) -> None:
    """Add the page of cross-sections.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        Whose units are spoken.
    proposal : Proposal
        What is shown.
    """
    sheet, room = book.add("cut across: the basin, and the deepest pool")
    half_mm = 0.5 * (room.width_mm - _GAP_MM)
    left = Frame(room.x_mm, room.y_mm, half_mm, room.height_mm)
    _draw_basin(sheet, left, plan, proposal)
    right = Frame(room.x_mm + half_mm + _GAP_MM, room.y_mm, half_mm, room.height_mm)
    if proposal.layout.pools:
        _draw_pool(sheet, right, plan, proposal)


def _open_cut(
    sheet: Sheet, room: Frame, bounds: tuple[float, float, float, float], title: str, system: System
) -> Plot:
    """Begin a drawing at one scale across and up, said over it."""
    whole = Frame(
        room.x_mm + _AXIS_MM,
        room.y_mm + _FOOT_MM,
        room.width_mm - _AXIS_MM,
        room.height_mm - _FOOT_MM - _HEAD_MM,
    )
    scale = choose_scale(bounds, whole, system)
    high_mm = 1000.0 * (bounds[3] - bounds[1]) / scale.ratio + 2.0 * _SPARE_MM
    high_mm = min(max(high_mm, 30.0), whole.height_mm)
    frame = Frame(whole.x_mm, whole.top_mm - high_mm, whole.width_mm, high_mm)
    plot = open_map(sheet, frame, bounds, scale)
    unit, unit_m = level_unit(system)
    plot.number_axes(unit_m)
    sheet.words(frame.x_mm, room.top_mm - 4.0, title, Lettering(size_pt=9.0, bold=True))
    told = f"scale {scale.told}, heights not enlarged; numbers in {unit}"
    sheet.words(frame.x_mm, room.top_mm - 8.5, told, Lettering(size_pt=7.0, colour=GREY))
    return plot


def _draw_basin(sheet: Sheet, room: Frame, plan: Plan, proposal: Proposal) -> None:
    """Cut the basin across its short side, seen along its long side."""
    placement, design, water = proposal.placement, plan.design, proposal.water
    system, half_m = plan.site.report_units, 0.5 * placement.arrangement.width_m
    floor_m, over_m = placement.floor_level_m, design.overdig_m
    along_m, ground_m = _ground_across(plan, proposal)
    high_m = float(np.nanmax(ground_m))
    bounds = (float(along_m[0]), floor_m - 0.1, float(along_m[-1]), high_m + 0.2)
    plot = _open_cut(sheet, room, bounds, "basin, cut across its short side", system)
    bottom_m = floor_m + design.bedding_m
    top_m = bottom_m + design.unit_height_m
    _rectangle(plot, half_m + over_m, floor_m, top_m, _GRAVEL)
    _rectangle(plot, half_m, bottom_m, top_m, _UNITS)
    levels = (
        (water.water_level_m, "full"),
        (water.running_level_m, "pump running"),
        (water.lowest_level_m, "lowest for the pump"),
    )
    for level_m, _ in levels:
        plot.line([-half_m, half_m], [level_m] * 2, _LEVEL)
        plot.line([half_m, half_m + over_m], [level_m] * 2, _POINTER)
    plot.line(along_m, ground_m, _GROUND)
    plot.line(*_pit(half_m + over_m, floor_m, design.batter, along_m, ground_m), _PIT)
    plot.outline()
    board = LabelBoard(plot)
    board.place(
        [Label(x=half_m + over_m, y=level_m, words=told, is_right=True) for level_m, told in levels]
    )
    key = (
        ("line", _GROUND, "ground as flown"),
        ("line", _PIT, "pit"),
        ("area", _GRAVEL, "gravel"),
        ("area", _UNITS, "void units"),
        ("line", _LEVEL, "water in the units"),
    )
    sizes = (
        f"Rim {both(format_length, placement.rim_level_m, system)}, floor "
        f"{both(format_length, floor_m, system)}, overdig {both(format_length, over_m, system)} "
        f"all round, sides {design.batter:g} across to 1 up, cover "
        f"{both(format_length, design.cover_m, system)}."
    )
    _foot(plot, room, key, sizes)


def _rectangle(plot: Plot, half_m: float, low_m: float, high_m: float, pen: Pen) -> None:
    plot.area([-half_m, half_m, half_m, -half_m], [low_m, low_m, high_m, high_m], pen)


def _foot(plot: Plot, room: Frame, key: tuple[tuple[str, Pen, str], ...], sizes: str) -> None:
    frame = plot.frame
    below = Frame(frame.x_mm, room.y_mm, frame.width_mm, frame.y_mm - room.y_mm - 8.0)
    end_mm = draw_key(plot.sheet, below, key, size_pt=7.0)
    plot.sheet.block(frame.x_mm, end_mm, frame.width_mm, sizes, Lettering(size_pt=7.5))


def _ground_across(plan: Plan, proposal: Proposal) -> tuple[Floats, Floats]:
    """Give distance and ground level across the basin's middle, beyond the pit on both sides."""
    placement = proposal.placement
    turn = np.radians(placement.rotation_deg + 90.0)
    reach_m = 0.5 * placement.arrangement.width_m + plan.design.overdig_m
    reach_m += plan.design.batter * placement.greatest_depth_m + _BEYOND_M
    along_m = np.linspace(-reach_m, reach_m, 161)
    x = placement.x + along_m * np.cos(turn)
    y = placement.y + along_m * np.sin(turn)
    return along_m, plan.terrain.ground.sample(np.column_stack([x, y]))


def _pit(
    half_m: float, floor_m: float, batter: float, along_m: Floats, ground_m: Floats
) -> tuple[Floats, Floats]:
    """Give the pit's outline: its floor, and its sides up to the ground."""
    beyond_m = np.abs(along_m) - half_m
    side_m = floor_m + np.maximum(beyond_m, 0.0) / max(batter, 1e-9)
    # A side goes on outward until it comes out of the ground, and no farther.
    out = (beyond_m > 0.0) & (side_m > ground_m)
    first, last = np.flatnonzero(~out)[[0, -1]]
    kept = slice(max(first - 1, 0), last + 2)
    x = np.concatenate([along_m[kept], [-half_m, half_m]])
    z = np.concatenate([np.minimum(side_m, ground_m)[kept], [floor_m, floor_m]])
    order = np.argsort(x, kind="stable")
    return x[order], z[order]


def _draw_pool(sheet: Sheet, room: Frame, plan: Plan, proposal: Proposal) -> None:
    """Cut the deepest pool across the stream, as half an ellipse below its sill."""
    layout, system = proposal.layout, plan.site.report_units
    deepest = max(range(len(layout.pools)), key=lambda k: layout.pools[k].depth_m)
    pool, water = layout.pools[deepest], proposal.water.pools[deepest]
    half_m = 0.5 * float(pool.geometry.area) / max(pool.to_m - pool.from_m, 0.1)
    sill_m, edge_m = pool.sill_level_m, water.liner_level_m
    x = np.linspace(-half_m, half_m, 81)
    bottom = sill_m - pool.depth_m * np.sqrt(np.maximum(1.0 - (x / half_m) ** 2, 0.0))
    bounds = (-half_m - 0.3, sill_m - pool.depth_m - 0.1, half_m + 0.3, edge_m + 0.15)
    plot = _open_cut(sheet, room, bounds, f"pool {pool.sequence}, at its mean width", system)
    top = np.full(2, water.water_level_m)
    plot.area([*x, half_m, -half_m], [*bottom, *top], _WATER)
    plot.line([-half_m, half_m], [sill_m] * 2, _LEVEL)
    plot.line([-half_m, *x, half_m], [edge_m, *bottom, edge_m], _LINER)
    plot.outline()
    LabelBoard(plot).place(
        [
            Label(x=half_m, y=water.water_level_m, words="water, pump running", is_right=True),
            Label(x=half_m, y=sill_m, words="sill: water at rest", is_right=True),
        ]
    )
    key = (("line", _LINER, "liner (shape assumed)"), ("area", _WATER, "water, pump running"))
    sizes = (
        f"Hollow {both(format_length, pool.depth_m, system)} below the sill; liner's edge "
        f"{both(format_length, edge_m - water.water_level_m, system)} above the running water."
    )
    _foot(plot, room, key, sizes)
