"""The stream along its line, from the spillway's lip to the basin.

In: a plan. Out: a page of a booklet. Method: levels of the plan against distance, lengths to a
usual scale, heights drawn larger by a stated factor. Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from geo_site.plan import Plan, Proposal
from geo_site.sheets.booklet import Booklet
from geo_site.sheets.labels import Label, LabelBoard
from geo_site.sheets.maps import MapScale, choose_scale
from geo_site.sheets.paper import GREY, INK, Frame, Lettering, Pen, Sheet
from geo_site.sheets.plots import Plot, draw_key
from geo_site.sheets.title_facts import both
from geo_site.units import System, format_length, unit_factor

__all__ = ["add_long_section", "level_unit"]

_AXIS_MM, _FOOT_MM, _KEY_MM = 16.0, 24.0, 10.0
_OFF_MM, _WORDS_MM = 5.0, 42.0
_EXAGGERATIONS = (1.0, 2.0, 2.5, 4.0, 5.0, 10.0)
_PADDING_M = 0.15
_GROUND = Pen(stroke="#6b3f17", width_mm=0.35)
_SILLS = Pen(stroke=INK, width_mm=0.5)
_HOLLOW = Pen(stroke=INK, width_mm=0.25, dash_mm=(1.0, 0.6))
_WATER = Pen(stroke="#3f7fc1", width_mm=0.5)
_LINER = Pen(stroke="#0b2f5b", width_mm=0.25, dash_mm=(2.0, 0.8))
_KEY = (
    ("line", _GROUND, "ground as flown"),
    ("line", _SILLS, "sills: bed without its hollows"),
    ("line", _HOLLOW, "bed with the pools' hollows"),
    ("line", _WATER, "water while the pump runs"),
    ("line", _LINER, "level that the liner's edge must reach"),
)


def level_unit(system: System) -> tuple[str, float]:
    """Give the unit that levels and stations are numbered in, and its length, m."""
    return ("ft", unit_factor("ft", "length")) if system == "us" else ("m", 1.0)


def add_long_section(book: Booklet, plan: Plan, proposal: Proposal) -> None:
    """Add the long section.

    Parameters
    ----------
    book : Booklet
        To add to.
    plan : Plan
        Whose units are spoken.
    proposal : Proposal
        What is shown.
    """
    sheet, room = book.add("the stream along its line, from the spillway's lip to the basin")
    frame = Frame(
        room.x_mm + _AXIS_MM,
        room.y_mm + _FOOT_MM,
        room.width_mm - _AXIS_MM,
        room.height_mm - _FOOT_MM - _KEY_MM,
    )
    system = plan.site.report_units
    scale = choose_scale((0.0, 0.0, proposal.layout.length_m, 0.0), frame, system)
    plot, taller = _open(sheet, frame, proposal, scale)
    unit, unit_m = level_unit(system)
    plot.number_axes(unit_m)
    _draw_levels(plot, proposal)
    plot.outline()
    LabelBoard(plot).place(list(_draw_dimensions(plot, proposal, system)))
    sheet.scale_told = scale.told
    told = (
        f"lengths {scale.told}; heights drawn {taller:g} times as large. Levels refer to "
        f"{plan.site.vertical_datum or 'a vertical datum that is not stated'}."
    )
    sheet.words(frame.x_mm, frame.top_mm + 3.0, told, Lettering(size_pt=7.5, bold=True))
    length = both(format_length, proposal.layout.length_m, system)
    fall = both(format_length, proposal.layout.fall_m, system)
    axis = (
        f"across: station from the lip, {unit}; up: level, {unit}. Whole stream: {length} long, "
        f"{fall} from the first sill to the last."
    )
    sheet.words(frame.x_mm, frame.y_mm - 8.0, axis, Lettering(size_pt=7.5, colour=GREY))
    draw_key(sheet, Frame(frame.x_mm, room.y_mm, frame.width_mm, 12.0), _KEY)


def _open(sheet: Sheet, frame: Frame, proposal: Proposal, scale: MapScale) -> tuple[Plot, float]:
    profile = proposal.water.running.profile
    low_m = min(float(np.nanmin(profile.ground_m)), float(profile.bed_m.min()))
    high_m = max(float(np.nanmax(profile.ground_m)), float(profile.liner_left_m.max()))
    low_m, high_m = low_m - _PADDING_M, high_m + 2.0 * _PADDING_M
    mm_for_m = 1000.0 / scale.ratio
    fits = [f for f in _EXAGGERATIONS if (high_m - low_m) * mm_for_m * f <= frame.height_mm]
    taller = fits[-1] if fits else _EXAGGERATIONS[0]
    plot = Plot(sheet=sheet, frame=frame, x=0.0, y=low_m, across=mm_for_m, up=mm_for_m * taller)
    return plot, taller


def _draw_levels(plot: Plot, proposal: Proposal) -> None:
    profile = proposal.water.running.profile
    plot.line(profile.station_m, profile.ground_m, _GROUND)
    plot.line(profile.station_m, profile.liner_left_m, _LINER)
    plot.line(profile.station_m, profile.water_level_m, _WATER)
    plot.line(profile.station_m, profile.bed_m, _HOLLOW)
    plot.line(profile.station_m, profile.sill_m, _SILLS)


def _draw_dimensions(plot: Plot, proposal: Proposal, system: System) -> Iterator[Label]:
    """Draw the height of each fall right of it, between ticks, and give its words."""
    thin = Pen(stroke=GREY, width_mm=0.18)
    for fall in proposal.layout.falls:
        low_m = fall.lip_level_m - fall.height_m
        x = fall.station_m + _OFF_MM / plot.across
        plot.line([x, x], [low_m, fall.lip_level_m], thin)
        for level_m in (low_m, fall.lip_level_m):
            half = 1.2 / plot.across
            plot.line([x - 2.0 * half, x + half], [level_m, level_m], thin)
            rise = 0.6 / plot.up
            plot.line([x - 0.5 * half, x + 0.5 * half], [level_m - rise, level_m + rise], thin)
        told = f"fall {fall.sequence}: {both(format_length, fall.height_m, system)}"
        under_m = _under(proposal, fall.station_m, fall.station_m + _WORDS_MM / plot.across)
        y = max(under_m - 4.0 / plot.up, plot.y + 6.0 / plot.up)
        plot.line([x, x], [y, low_m], Pen(stroke=GREY, width_mm=0.1, dash_mm=(0.6, 0.6)))
        yield Label(x=x, y=y, words=told)
    lip = f"lip {both(format_length, proposal.layout.lip_level_m, system)}"
    yield Label(x=0.0, y=proposal.layout.lip_level_m, words=lip, bold=True)


def _under(proposal: Proposal, from_m: float, to_m: float) -> float:
    """Give the lowest bed between two stations: below it a page is empty."""
    profile = proposal.water.running.profile
    near = (profile.station_m >= from_m) & (profile.station_m <= to_m)
    return float(np.min(profile.bed_m[near])) if near.any() else float(profile.bed_m[-1])
