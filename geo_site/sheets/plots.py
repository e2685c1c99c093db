"""A rectangle of a page with coordinates of its own: a map, a section.

In: a frame, the coordinates of its lower left corner, scales. Out: a :class:`Plot` that draws in
these coordinates, cut off at the frame. Method: one factor across, one up. Reference: none.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from shapely import get_coordinates, get_parts
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from geo_site.sheets.lettering import width_mm
from geo_site.sheets.paper import Frame, Lettering, Pen, Sheet

__all__ = ["Plot", "draw_key"]

_TICK_MM = 1.2
_STEPS = tuple(base * 10.0**power for power in range(-2, 5) for base in (1.0, 2.0, 5.0))
_MOST_TICKS = 14
_KEY_MM = 15.0
_MARKS = {
    "circle": tuple(
        (math.cos(turn), math.sin(turn)) for turn in np.linspace(0.0, 2.0 * math.pi, 17)[:-1]
    ),
    "square": ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)),
    "triangle": ((-1.0, -0.8), (1.0, -0.8), (0.0, 1.0)),
}


@dataclass(frozen=True, kw_only=True)
class Plot:
    """Where on a page coordinates lie.

    Attributes
    ----------
    sheet : Sheet
        The page.
    frame : Frame
        The rectangle; nothing is drawn beyond it.
    x, y : float
        Coordinates of its lower left corner.
    across, up : float
        Millimetres of the page for one unit of x and of y.
    """

    sheet: Sheet
    frame: Frame
    x: float
    y: float
    across: float
    up: float

    @property
    def view(self) -> tuple[float, float, float, float]:
        """What the frame shows: least x and y, greatest x and y."""
        return (
            self.x,
            self.y,
            self.x + self.frame.width_mm / self.across,
            self.y + self.frame.height_mm / self.up,
        )

    def on_page(self, x: float, y: float) -> tuple[float, float]:
        """Give where a point lies on the page, mm."""
        return (
            self.frame.x_mm + (x - self.x) * self.across,
            self.frame.y_mm + (y - self.y) * self.up,
        )

    def line(self, xs: ArrayLike, ys: ArrayLike, pen: Pen) -> None:
        """Draw a line from point to point; it breaks where a coordinate is NaN."""
        xy = np.column_stack([np.asarray(xs, dtype=float), np.asarray(ys, dtype=float)])
        known = np.isfinite(xy).all(axis=1)
        for run in np.split(np.arange(len(xy)), np.flatnonzero(~known)):
            kept = run[known[run]]
            if len(kept) > 1:
                self._shape([xy[kept]], pen, closed=False)

    def area(self, xs: ArrayLike, ys: ArrayLike, pen: Pen) -> None:
        """Draw an area by its outline."""
        self._shape([np.column_stack([xs, ys])], pen, closed=True)

    def geometry(self, shape: BaseGeometry, pen: Pen) -> None:
        """Draw points, lines and areas as they are."""
        for part in get_parts(shape):
            if part.is_empty or not self._seen(part):
                continue
            if isinstance(part, Polygon):
                rings = [get_coordinates(ring) for ring in (part.exterior, *part.interiors)]
                self._shape(rings, pen, closed=True)
            elif part.geom_type == "Point":
                self.mark(part.x, part.y, "circle", 1.0, pen)
            else:
                self._shape([get_coordinates(part)], pen, closed=False)

    def mark(self, x: float, y: float, form: str, size_mm: float, pen: Pen) -> None:
        """Draw a mark of a size on the page, its middle at a point."""
        at_x, at_y = self.on_page(x, y)
        half = 0.5 * size_mm
        if form == "cross":
            for dx, dy in ((half, half), (half, -half)):
                ring = [(at_x - dx, at_y - dy), (at_x + dx, at_y + dy)]
                self.sheet.shape([ring], pen, closed=False, inside=self.frame)
            return
        ring = [
            (at_x + half * dx, at_y + half * dy) for dx, dy in _MARKS.get(form, _MARKS["circle"])
        ]
        self.sheet.shape([ring], pen, closed=True, inside=self.frame)

    def outline(self) -> None:
        """Draw the frame."""
        self.sheet.box(self.frame, width_mm=0.25)

    def number_axes(self, unit: float) -> None:
        """Draw a grid with numbers on the left and below.

        Parameters
        ----------
        unit : float
            Coordinates for one unit of what is printed.
        """
        low_x, low_y, high_x, high_y = self.view
        grid, small = Pen(stroke="#d5d0c8", width_mm=0.1), Lettering(size_pt=7.0, align="center")
        for tick in _ticks(low_x / unit, high_x / unit):
            self.line([tick * unit] * 2, [low_y, high_y], grid)
            at_mm, _ = self.on_page(tick * unit, low_y)
            self.sheet.words(at_mm, self.frame.y_mm - 3.6, f"{tick:g}", small)
        right = Lettering(size_pt=7.0, align="right")
        for tick in _ticks(low_y / unit, high_y / unit):
            self.line([low_x, high_x], [tick * unit] * 2, grid)
            _, at_mm = self.on_page(low_x, tick * unit)
            self.sheet.words(self.frame.x_mm - _TICK_MM, at_mm - 0.9, f"{tick:g}", right)

    def _seen(self, part: BaseGeometry) -> bool:
        west, south, east, north = self.view
        low_x, low_y, high_x, high_y = part.bounds
        return low_x <= east and high_x >= west and low_y <= north and high_y >= south

    def _shape(self, rings: Sequence[np.ndarray], pen: Pen, *, closed: bool) -> None:
        corner = np.array([self.frame.x_mm, self.frame.y_mm])
        factor, start = np.array([self.across, self.up]), np.array([self.x, self.y])
        on_page = [((ring[:, :2] - start) * factor + corner).tolist() for ring in rings]
        self.sheet.shape(on_page, pen, closed=closed, inside=self.frame)


def _ticks(low: float, high: float) -> list[float]:
    step = next(step for step in _STEPS if (high - low) / step <= _MOST_TICKS)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(number * step, 6) for number in range(first, last + 1)]


def draw_key(
    sheet: Sheet, frame: Frame, entries: Iterable[tuple[str, Pen, str]], size_pt: float = 7.5
) -> float:
    """Draw a legend from the top of a frame down.

    Parameters
    ----------
    sheet : Sheet
        The page.
    frame : Frame
        Its room; entries run over several columns where they are short enough.
    entries : iterable of (str, Pen, str)
        ``area``, ``line`` or the form of a mark; how it is drawn; words.
    size_pt : float
        Size of the letters.

    Returns
    -------
    float
        Where it ends, mm from the page's lower edge.
    """
    told = list(entries)
    widest = max((width_mm(words, size_pt) for _, _, words in told), default=1.0) + _KEY_MM + 4.0
    columns = max(int(frame.width_mm // widest), 1)
    step_mm = size_pt * 0.62
    for number, (form, pen, words) in enumerate(told):
        x_mm = frame.x_mm + (number % columns) * frame.width_mm / columns
        y_mm = frame.top_mm - step_mm * (number // columns + 1)
        _draw_sample(sheet, x_mm, y_mm, form, pen)
        sheet.words(x_mm + _KEY_MM, y_mm, words, Lettering(size_pt=size_pt))
    rows = -(-len(told) // columns)
    return frame.top_mm - step_mm * rows - 1.5


def _draw_sample(sheet: Sheet, x_mm: float, y_mm: float, form: str, pen: Pen) -> None:
    sample = Frame(x_mm, y_mm - 0.4, _KEY_MM - 2.0, 2.8)
    if form == "area":
        corners = [
            (sample.x_mm, sample.y_mm),
            (sample.right_mm, sample.y_mm),
            (sample.right_mm, sample.top_mm),
            (sample.x_mm, sample.top_mm),
        ]
        sheet.shape([corners], pen, closed=True)
    elif form == "line":
        ring = [(sample.x_mm, y_mm + 1.0), (sample.right_mm, y_mm + 1.0)]
        sheet.shape([ring], pen, closed=False)
    else:
        plot = Plot(sheet=sheet, frame=sample, x=0.0, y=0.0, across=1.0, up=1.0)
        plot.mark(0.5 * sample.width_mm, 0.5 * sample.height_mm, form, 2.2, pen)
