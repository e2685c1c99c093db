"""A page to draw on, in millimetres from its lower left corner.

In: a paper size. Out: a :class:`Sheet` that takes words, lines, boxes and axes. Method: one
figure of the paper's exact size; a millimetre on it is a millimetre on paper. Reference: ISO 216;
ANSI/ASME Y14.1 (letter, tabloid, architectural sizes), from memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.transforms import Affine2D, Transform

from geo_site.sheets.lettering import FAMILY, line_height_mm, wrap_words

__all__ = ["GREY", "INK", "PAPERS", "Frame", "Lettering", "Paper", "Sheet"]

INK, GREY = "#202020", "#5c5c5c"
_MM_PER_INCH = 25.4
_POINTS_PER_MM = 72.0 / _MM_PER_INCH


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
    def upright(self) -> Paper:
        """The same sheet with its short side across."""
        return Paper(name=self.name, width_mm=self.height_mm, height_mm=self.width_mm)


PAPERS: Mapping[str, Paper] = MappingProxyType(
    {
        name: Paper(name=name, width_mm=width_mm, height_mm=height_mm)
        for name, width_mm, height_mm in (
            ("letter", 11.0 * _MM_PER_INCH, 8.5 * _MM_PER_INCH),
            ("tabloid", 17.0 * _MM_PER_INCH, 11.0 * _MM_PER_INCH),
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
    """

    size_pt: float = 8.0
    bold: bool = False
    colour: str = INK
    align: Literal["left", "center", "right"] = "left"


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
    figure : matplotlib.figure.Figure
        What is drawn.
    """

    def __init__(self, paper: Paper) -> None:
        self.paper = paper
        self.figure = Figure(
            figsize=(paper.width_mm / _MM_PER_INCH, paper.height_mm / _MM_PER_INCH)
        )

    @property
    def millimetres(self) -> Transform:
        """From millimetres on the page to the figure."""
        return Affine2D().scale(1.0 / _MM_PER_INCH) + self.figure.dpi_scale_trans

    def words(self, x_mm: float, y_mm: float, words: str, lettering: Lettering) -> None:
        """Set one line of words, its baseline at ``y_mm``."""
        self.figure.text(
            x_mm,
            y_mm,
            words,
            transform=self.millimetres,
            fontsize=lettering.size_pt,
            fontfamily=FAMILY,
            fontweight="bold" if lettering.bold else "normal",
            color=lettering.colour,
            ha=lettering.align,
            va="baseline",
            parse_math=False,
        )

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
        self.figure.add_artist(
            Line2D(
                xs_mm,
                ys_mm,
                transform=self.millimetres,
                linewidth=width_mm * _POINTS_PER_MM,
                color=colour,
                solid_capstyle="butt",
            )
        )

    def box(
        self, frame: Frame, *, fill: str = "", stroke: str = INK, width_mm: float = 0.25
    ) -> None:
        """Draw a rectangle."""
        self.figure.add_artist(
            Rectangle(
                (frame.x_mm, frame.y_mm),
                frame.width_mm,
                frame.height_mm,
                transform=self.millimetres,
                facecolor=fill or "none",
                edgecolor=stroke or "none",
                linewidth=width_mm * _POINTS_PER_MM,
                zorder=0.5,
            )
        )

    def axes(self, frame: Frame) -> Axes:
        """Give axes that fill a rectangle exactly."""
        paper = self.paper
        return self.figure.add_axes(
            (
                frame.x_mm / paper.width_mm,
                frame.y_mm / paper.height_mm,
                frame.width_mm / paper.width_mm,
                frame.height_mm / paper.height_mm,
            )
        )
