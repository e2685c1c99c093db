"""A page to draw on, in millimetres from its lower left corner.

In: a paper size. Out: a :class:`Sheet` that takes words, lines, boxes and shapes. Method: what is
drawn is kept in order and handed to the PDF at the end; a millimetre on the sheet is a millimetre
on paper. Reference: ISO 216; ANSI/ASME Y14.1 (letter, tabloid, architectural sizes), from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import chain
from types import MappingProxyType
from typing import Literal

from reportlab.lib.colors import Color, HexColor
from reportlab.pdfgen.canvas import Canvas

from geo_site.sheets.lettering import font_name, line_height_mm, settable, width_mm, wrap_words

__all__ = ["GREY", "INK", "PAPERS", "POINTS_PER_MM", "Frame", "Lettering", "Paper", "Pen", "Sheet"]

INK, GREY = "#202020", "#5c5c5c"
_MM_PER_INCH = 25.4
_CASING_MM, _HATCH_MM = 0.3, 0.12
_WAYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "slash": ("slash",),
        "backslash": ("backslash",),
        "cross": ("slash", "backslash"),
        "grid": ("level", "upright"),
        "level": ("level",),
        "upright": ("upright",),
        "dots": ("level",),
    }
)
_ISO = frozenset({"a3", "a4"})
_ABOVE, _BELOW = 0.76, 0.24  # what letters take above and below their baseline, of their size
POINTS_PER_MM = 72.0 / _MM_PER_INCH


@dataclass(frozen=True, kw_only=True)
class Paper:
    """A sheet of paper, long side across.

    Attributes
    ----------
    name : str
        What it is called in the settings.
    width_mm, height_mm : float
        Its size.
    """

    name: str
    width_mm: float
    height_mm: float

    @property
    def told(self) -> str:
        """Its name and size, in the unit in which it is sold."""
        if self.name in _ISO:
            return f"{self.name.upper()}, {self.width_mm:.0f} x {self.height_mm:.0f} mm"
        name = self.name.upper().replace("_", " ") if "_" in self.name else self.name
        return f"{name}, {self.width_mm / _MM_PER_INCH:g} x {self.height_mm / _MM_PER_INCH:g} in"

    @property
    def upright(self) -> Paper:
        """The same sheet with its short side across."""
        return Paper(name=self.name, width_mm=self.height_mm, height_mm=self.width_mm)


PAPERS: Mapping[str, Paper] = MappingProxyType(
    {
        name: Paper(name=name, width_mm=width_mm, height_mm=height_mm)
        for name, width_mm, height_mm in (
            ("letter", 11.0 * _MM_PER_INCH, 8.5 * _MM_PER_INCH),
            ("tabloid", 17.0 * _MM_PER_INCH, 11.0 * _MM_PER_INCH),
            ("arch_b", 18.0 * _MM_PER_INCH, 12.0 * _MM_PER_INCH),
            ("arch_c", 24.0 * _MM_PER_INCH, 18.0 * _MM_PER_INCH),
            ("arch_d", 36.0 * _MM_PER_INCH, 24.0 * _MM_PER_INCH),
            ("a4", 297.0, 210.0),
            ("a3", 420.0, 297.0),
        )
    }
)
"""Every paper size, by name."""


@dataclass(frozen=True)
class Frame:
    """A rectangle on a page.

    Attributes
    ----------
    x_mm, y_mm : float
        Its lower left corner.
    width_mm, height_mm : float
        Its size.
    """

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    @property
    def top_mm(self) -> float:
        """Its upper edge."""
        return self.y_mm + self.height_mm

    @property
    def right_mm(self) -> float:
        """Its right edge."""
        return self.x_mm + self.width_mm

    def inset(self, margin_mm: float) -> Frame:
        """Give the rectangle that a margin on all sides leaves."""
        return Frame(
            self.x_mm + margin_mm,
            self.y_mm + margin_mm,
            self.width_mm - 2.0 * margin_mm,
            self.height_mm - 2.0 * margin_mm,
        )


@dataclass(frozen=True, kw_only=True)
class Pen:
    """How a shape is drawn.

    Attributes
    ----------
    stroke : str
        ``#rrggbb`` of the line; empty: none.
    width_mm : float
        Of the line.
    dash_mm : tuple of float
        Dash and gap in turn; empty: solid.
    fill : str
        ``#rrggbb`` of the area; empty: none.
    opacity : float
        Of the area, 0 to 1.
    hatch : str
        Lines or dots in the area, named as in the layers' looks; empty: none.
    hatch_mm : float
        From one to the next.
    casing : str
        ``#rrggbb`` of a thin edge on both sides of a line; empty: none.
    """

    stroke: str = INK
    width_mm: float = 0.25
    dash_mm: tuple[float, ...] = ()
    fill: str = ""
    opacity: float = 1.0
    hatch: str = ""
    hatch_mm: float = 2.0
    casing: str = ""


@dataclass(frozen=True, kw_only=True)
class Lettering:
    """How words are set.

    Attributes
    ----------
    size_pt : float
        Size of the letters.
    bold : bool
        Whether they are bold.
    colour : str
        ``#rrggbb``.
    align : {"left", "center", "right"}
        Which part of a line stands at the given x.
    is_upright : bool
        Whether the line runs up the page.
    """

    size_pt: float = 8.0
    bold: bool = False
    colour: str = INK
    align: Literal["left", "center", "right"] = "left"
    is_upright: bool = False


Ring = Sequence[tuple[float, float]]
"""Points on the page, mm."""


class Sheet:
    """One page.

    Parameters
    ----------
    paper : Paper
        Its size.

    Attributes
    ----------
    paper : Paper
        Its size.
    scale_told : str
        The scale of its map in words; empty where it has none, or several.
    """

    def __init__(self, paper: Paper) -> None:
        self.paper = paper
        self.scale_told = ""
        self._set: list[tuple[float, float, str, Lettering]] = []
        self._drawn: list[Callable[[Canvas], None]] = []
        self._inked = ""  # colour of the last words; shapes put back what they change

    @property
    def words_set(self) -> list[tuple[str, Frame]]:
        """Every line of words on it, with the room that its letters take."""
        return [(line[2], _room_of(*line)) for line in self._set]

    def render(self, canvas: Canvas) -> None:
        """Hand everything that was drawn to a page of a PDF, in the order of drawing."""
        canvas.setPageSize(
            (self.paper.width_mm * POINTS_PER_MM, self.paper.height_mm * POINTS_PER_MM)
        )
        self._inked = ""
        for draw in self._drawn:
            draw(canvas)
        canvas.showPage()

    def words(self, x_mm: float, y_mm: float, words: str, lettering: Lettering) -> None:
        """Set one line of words, its baseline at ``y_mm``."""
        if not words:
            return
        told = settable(words, lettering.bold)
        self._set.append((x_mm, y_mm, words, lettering))

        def draw(canvas: Canvas) -> None:
            canvas.setFont(font_name(lettering.bold), lettering.size_pt)
            if lettering.colour != self._inked:
                canvas.setFillColor(_colour(lettering.colour))
                self._inked = lettering.colour
            if lettering.align == "left" and not lettering.is_upright:
                canvas.drawString(x_mm * POINTS_PER_MM, y_mm * POINTS_PER_MM, told)
                return
            room = _room_of(x_mm, y_mm, words, lettering)
            if not lettering.is_upright:
                canvas.drawString(room.x_mm * POINTS_PER_MM, y_mm * POINTS_PER_MM, told)
                return
            line = canvas.beginText()
            line.setTextTransform(0, 1, -1, 0, x_mm * POINTS_PER_MM, room.y_mm * POINTS_PER_MM)
            line.textOut(told)
            canvas.drawText(line)

        self._drawn.append(draw)

    def block(
        self, x_mm: float, top_mm: float, room_mm: float, words: str, lettering: Lettering
    ) -> float:
        """Set words in lines that fit, the first one's top at ``top_mm``.

        Returns
        -------
        float
            Where the next block may begin, mm from the page's lower edge.
        """
        step_mm = line_height_mm(lettering.size_pt)
        y_mm = top_mm
        for line in wrap_words(words, room_mm, lettering.size_pt, bold=lettering.bold):
            y_mm -= step_mm
            # Letters stand on a baseline a quarter of the line above its lower edge.
            self.words(x_mm, y_mm + 0.25 * step_mm, line, lettering)
        return y_mm

    def line(
        self, xs_mm: Sequence[float], ys_mm: Sequence[float], width_mm: float, colour: str = INK
    ) -> None:
        """Draw a line from point to point."""
        ring = list(zip(xs_mm, ys_mm, strict=True))
        self.shape([ring], Pen(stroke=colour, width_mm=width_mm), closed=False)

    def box(
        self, frame: Frame, *, fill: str = "", stroke: str = INK, width_mm: float = 0.25
    ) -> None:
        """Draw a rectangle."""
        self.shape([_corners(frame)], Pen(stroke=stroke, width_mm=width_mm, fill=fill), closed=True)

    def shape(
        self, rings: Sequence[Ring], pen: Pen, *, closed: bool, inside: Frame | None = None
    ) -> None:
        """Draw lines, or an area with holes, cut off at a frame."""

        def draw(canvas: Canvas) -> None:
            canvas.saveState()
            if inside is not None:
                _clip(canvas, inside)
            path = _path_of(rings, closed=closed)
            if pen.casing:
                wide = replace(pen, stroke=pen.casing, width_mm=pen.width_mm + _CASING_MM, fill="")
                _take_pen(canvas, wide)
                canvas.drawPath(path, stroke=1, fill=0)
            _take_pen(canvas, pen)
            edged = int(bool(pen.stroke) and pen.width_mm > 0.0)
            canvas.drawPath(path, stroke=edged, fill=int(bool(pen.fill)), fillMode=0)
            if closed and pen.hatch:
                _hatch(canvas, rings, pen, inside)
            canvas.restoreState()

        self._drawn.append(draw)


def _room_of(x_mm: float, y_mm: float, words: str, lettering: Lettering) -> Frame:
    """Give the rectangle that the letters of a line take."""
    wide_mm = width_mm(words, lettering.size_pt, bold=lettering.bold)
    back_mm = {"left": 0.0, "center": 0.5, "right": 1.0}[lettering.align] * wide_mm
    below_mm = _BELOW * lettering.size_pt / POINTS_PER_MM
    high_mm = (_ABOVE + _BELOW) * lettering.size_pt / POINTS_PER_MM
    if lettering.is_upright:
        return Frame(x_mm - high_mm + below_mm, y_mm - back_mm, high_mm, wide_mm)
    return Frame(x_mm - back_mm, y_mm - below_mm, wide_mm, high_mm)


@dataclass(frozen=True)
class _Path:
    """A path, ready to be written: what the library would write of it, point by point, in Python.

    Attributes
    ----------
    code : str
        Its points, in points of a 72nd of an inch.
    """

    code: str

    def getCode(self) -> str:  # noqa: N802  # as a canvas asks
        """Give it as it stands on the page."""
        return self.code


def _path_of(rings: Sequence[Ring], *, closed: bool) -> _Path:
    """Give lines as a path, to a thousandth of a point: less than half a micron of paper."""
    written = ["n"]
    for ring in rings:
        points = tuple(value * POINTS_PER_MM for value in chain.from_iterable(ring))
        if not math.isfinite(sum(points)):
            raise ValueError("a point that does not lie on any page")
        written.append(("%.3f %.3f m" + " %.3f %.3f l" * (len(ring) - 1)) % points)
        if closed:
            written.append("h")
    return _Path("\n".join(written))


@lru_cache(maxsize=256)
def _colour(told: str) -> Color:
    return HexColor(told)


def _hatch(canvas: Canvas, rings: Sequence[Ring], pen: Pen, inside: Frame | None) -> None:
    """Fill an area with lines or dots that stand at the same places all over the page."""
    canvas.clipPath(_path_of(rings, closed=True), stroke=0, fill=0, fillMode=0)
    canvas.setStrokeColor(_colour(pen.stroke or INK))
    dots = pen.hatch == "dots"
    canvas.setLineWidth((0.35 if dots else _HATCH_MM) * POINTS_PER_MM)
    canvas.setDash([0.35 * POINTS_PER_MM, pen.hatch_mm * POINTS_PER_MM] if dots else [])
    xs, ys = zip(*(point for ring in rings for point in ring), strict=True)
    west, east, south, north = min(xs), max(xs), min(ys), max(ys)
    if inside is not None:
        west, east = max(west, inside.x_mm), min(east, inside.right_mm)
        south, north = max(south, inside.y_mm), min(north, inside.top_mm)
    lines = [
        line
        for way in _WAYS[pen.hatch]
        for line in _hatch_lines(way, (west, south, east, north), pen.hatch_mm)
    ]
    if lines:
        canvas.drawPath(_path_of(lines, closed=False))


def _hatch_lines(
    way: str, bounds: tuple[float, float, float, float], apart_mm: float
) -> Iterator[Ring]:
    """Give lines across a rectangle, a fixed distance apart, counted from the page's corner."""
    west, south, east, north = bounds
    if way == "level":
        for n in range(math.ceil(south / apart_mm), math.floor(north / apart_mm) + 1):
            yield (west, n * apart_mm), (east, n * apart_mm)
    elif way == "upright":
        for n in range(math.ceil(west / apart_mm), math.floor(east / apart_mm) + 1):
            yield (n * apart_mm, south), (n * apart_mm, north)
    else:
        slope, step = (1.0 if way == "slash" else -1.0), apart_mm * math.sqrt(2.0)
        at = [
            south - slope * west,
            south - slope * east,
            north - slope * west,
            north - slope * east,
        ]
        for n in range(math.ceil(min(at) / step), math.floor(max(at) / step) + 1):
            yield (west, slope * west + n * step), (east, slope * east + n * step)


def _clip(canvas: Canvas, frame: Frame) -> None:
    sides = (frame.x_mm, frame.y_mm, frame.width_mm, frame.height_mm)
    told = " ".join(f"{value * POINTS_PER_MM:.3f}" for value in sides)
    canvas.clipPath(_Path(f"n {told} re"), stroke=0, fill=0)


def _corners(frame: Frame) -> Ring:
    return (
        (frame.x_mm, frame.y_mm),
        (frame.right_mm, frame.y_mm),
        (frame.right_mm, frame.top_mm),
        (frame.x_mm, frame.top_mm),
    )


def _take_pen(canvas: Canvas, pen: Pen) -> None:
    canvas.setLineJoin(1)
    canvas.setLineCap(0)
    if pen.stroke:
        canvas.setStrokeColor(_colour(pen.stroke))
        canvas.setLineWidth(pen.width_mm * POINTS_PER_MM)
        if pen.dash_mm:
            canvas.setDash([part * POINTS_PER_MM for part in pen.dash_mm])
    if pen.fill:
        canvas.setFillColor(_colour(pen.fill))
        if pen.opacity < 1.0:
            canvas.setFillAlpha(pen.opacity)
