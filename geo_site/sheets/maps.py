"""A map in a rectangle of a page, to an exact scale.

In: bounds in metres, a rectangle in millimetres. Out: a plot in the working CRS, and the scale.
Method: the largest usual scale at which the bounds fit; a millimetre of the page times the scale
is a millimetre of the grid. Reference: usual engineers' and metric scales, common practice.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from geo_site.sheets.paper import GREY, INK, Frame, Lettering, Pen, Sheet
from geo_site.sheets.plots import Plot
from geo_site.units import System

__all__ = [
    "MapScale",
    "choose_scale",
    "draw_north",
    "draw_position_ticks",
    "draw_scale_bar",
    "open_map",
]

_FOOT_M = 0.3048
_BAR_PARTS = 4
_BAR_ROOM_MM = 70.0
_NICE = (1.0, 2.0, 5.0)
_TICK_APART_MM, _TICK_MM, _CROSS_MM = 45.0, 2.5, 1.5
_TICK_WORDS_MM = 22.0


@dataclass(frozen=True, kw_only=True)
class MapScale:
    """A scale, and how it is said.

    Attributes
    ----------
    ratio : float
        Metres of the grid for a metre of paper.
    told : str
        In words.
    """

    ratio: float
    told: str


_SCALES: Mapping[System, tuple[MapScale, ...]] = MappingProxyType(
    {
        "si": tuple(
            MapScale(ratio=float(ratio), told=f"1:{ratio}")
            for ratio in (10, 20, 25, 50, 100, 200, 250, 300, 400, 500, 1000, 2000, 5000, 10000)
        ),
        "us": tuple(
            MapScale(ratio=12.0 * feet, told=f"1 in = {feet} ft (1:{12 * feet})")
            for feet in (1, 2, 3, 4, 5, 10, 20, 30, 40, 50, 60, 100, 200, 400, 800)
        ),
    }
)


def choose_scale(
    bounds: tuple[float, float, float, float], frame: Frame, system: System
) -> MapScale:
    """Find the largest usual scale at which bounds fit a rectangle.

    Parameters
    ----------
    bounds : tuple of float
        West, south, east, north, m.
    frame : Frame
        The rectangle.
    system : {"si", "us"}
        Which scales are usual.

    Returns
    -------
    MapScale
        The smallest scale of all where none fits.

    Examples
    --------
    >>> choose_scale((0.0, 0.0, 19.0, 9.0), Frame(0.0, 0.0, 200.0, 100.0), "si").told
    '1:100'
    """
    west, south, east, north = bounds
    scales = _SCALES[system]
    for scale in scales:
        wide_mm = 1000.0 * (east - west) / scale.ratio
        high_mm = 1000.0 * (north - south) / scale.ratio
        if wide_mm <= frame.width_mm and high_mm <= frame.height_mm:
            return scale
    return scales[-1]


def open_map(
    sheet: Sheet, frame: Frame, bounds: tuple[float, float, float, float], scale: MapScale
) -> Plot:
    """Give a plot in metres at a scale, the bounds in the middle of its frame.

    Parameters
    ----------
    sheet : Sheet
        The page.
    frame : Frame
        Where on it.
    bounds : tuple of float
        West, south, east, north, m.
    scale : MapScale
        Of the map.

    Returns
    -------
    Plot
        In the working CRS.
    """
    west, south, east, north = bounds
    factor = 1000.0 / scale.ratio
    return Plot(
        sheet=sheet,
        frame=frame,
        x=0.5 * (west + east) - 0.5 * frame.width_mm / factor,
        y=0.5 * (south + north) - 0.5 * frame.height_mm / factor,
        across=factor,
        up=factor,
    )


def draw_scale_bar(sheet: Sheet, x_mm: float, y_mm: float, scale: MapScale, system: System) -> None:
    """Draw a bar of alternating parts with its lengths, and the scale in words over it.

    Parameters
    ----------
    sheet : Sheet
        The page.
    x_mm, y_mm : float
        The bar's left end.
    scale : MapScale
        Of the map.
    system : {"si", "us"}
        Whose unit the bar is in.
    """
    unit_m, unit = (_FOOT_M, "ft") if system == "us" else (1.0, "m")
    part = _round_below(_BAR_ROOM_MM / 1000.0 * scale.ratio / unit_m / _BAR_PARTS)
    part_mm = 1000.0 * part * unit_m / scale.ratio
    for number in range(_BAR_PARTS):
        fill = INK if number % 2 == 0 else "#ffffff"
        sheet.box(Frame(x_mm + number * part_mm, y_mm, part_mm, 1.6), fill=fill)
    for number in range(_BAR_PARTS + 1):
        told = f"{number * part:g}" + (f" {unit}" if number == _BAR_PARTS else "")
        place = Lettering(size_pt=6.5, align="center")
        sheet.words(x_mm + number * part_mm, y_mm - 2.8, told, place)
    sheet.words(x_mm, y_mm + 2.8, f"scale {scale.told}", Lettering(size_pt=7.5, bold=True))


def _round_below(value: float) -> float:
    """Give the largest of 1, 2, 5 times a power of ten that is not larger."""
    power = 10.0 ** math.floor(math.log10(value))
    return max(nice * power for nice in _NICE if nice * power <= value * (1.0 + 1e-9))


def draw_north(sheet: Sheet, x_mm: float, y_mm: float) -> None:
    """Draw an arrow up the page, where grid north is.

    Parameters
    ----------
    sheet : Sheet
        The page.
    x_mm, y_mm : float
        The arrow's foot.
    """
    sheet.line([x_mm, x_mm], [y_mm, y_mm + 11.0], 0.5)
    sheet.line([x_mm - 2.0, x_mm, x_mm + 2.0], [y_mm + 7.0, y_mm + 11.0, y_mm + 7.0], 0.5)
    sheet.words(x_mm, y_mm - 3.0, "grid north", Lettering(size_pt=6.5, align="center"))


def draw_position_ticks(plot: Plot) -> None:
    """Draw ticks at round positions on a map's edges, a cross where two meet, numbers outside.

    Parameters
    ----------
    plot : Plot
        In metres of the working CRS; its frame leaves a strip on the left and below.
    """
    sheet, frame, thin = plot.sheet, plot.frame, Pen(stroke=GREY, width_mm=0.12)
    west, south, east, north = plot.view
    step_m = _round_above(_TICK_APART_MM / plot.across)
    eastings, northings = _rounds(west, east, step_m), _rounds(south, north, step_m)
    for x in eastings:
        at_mm, _ = plot.on_page(x, south)
        for low_mm in (frame.y_mm, frame.top_mm - _TICK_MM):
            sheet.line([at_mm, at_mm], [low_mm, low_mm + _TICK_MM], 0.2)
        if (
            frame.x_mm < at_mm - 0.5 * _TICK_WORDS_MM
            and at_mm + 0.5 * _TICK_WORDS_MM < frame.right_mm
        ):
            told = Lettering(size_pt=6.0, colour=GREY, align="center")
            sheet.words(at_mm, frame.y_mm - 3.2, _position(x, "E"), told)
    for y in northings:
        _, at_mm = plot.on_page(west, y)
        for low_mm in (frame.x_mm, frame.right_mm - _TICK_MM):
            sheet.line([low_mm, low_mm + _TICK_MM], [at_mm, at_mm], 0.2)
        if (
            frame.y_mm < at_mm - 0.5 * _TICK_WORDS_MM
            and at_mm + 0.5 * _TICK_WORDS_MM < frame.top_mm
        ):
            told = Lettering(size_pt=6.0, colour=GREY, align="center", is_upright=True)
            sheet.words(frame.x_mm - 1.2, at_mm, _position(y, "N"), told)
    half_m = _CROSS_MM / plot.across
    for x in eastings:
        for y in northings:
            plot.line([x - half_m, x + half_m], [y, y], thin)
            plot.line([x, x], [y - half_m, y + half_m], thin)


def _round_above(value: float) -> float:
    """Give the smallest of 1, 2, 5 times a power of ten that is not smaller, at least 1."""
    power = 10.0 ** math.floor(math.log10(max(value, 1.0)))
    return min(nice * power for nice in (*_NICE, 10.0) if nice * power >= value * (1.0 - 1e-9))


def _rounds(low: float, high: float, step: float) -> list[float]:
    first, last = math.ceil(low / step), math.floor(high / step)
    return [number * step for number in range(first, last + 1)]


def _position(value_m: float, way: str) -> str:
    return f"{value_m:.0f} m {way}"
