"""What a look is made of: symbols, and what tells one from another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Hatch", "Look", "Marker", "Symbol", "Variable"]

Hatch = Literal["", "slash", "backslash", "cross", "grid", "level", "upright", "dots"]
"""What fills an area besides its colour: lines that rise, fall, do both, are square to each other,
lie level, stand upright; or dots."""
Marker = Literal["", "circle", "square", "triangle", "cross"]
Variable = Literal["colour", "dash", "width", "hatch", "marker"]
"""What an eye tells symbols of one form (line, filled area, point) apart by: colour, which must
survive every kind of eye and a grey print, or something besides it."""


@dataclass(frozen=True, kw_only=True)
class Symbol:
    """One way to draw a geometry.

    Attributes
    ----------
    fill : str
        ``#rrggbb``; empty: none.
    opacity : float
        Of the fill, 0 to 1.
    stroke : str
        ``#rrggbb`` of line or outline, and of hatch lines.
    width_mm : float
        Of line or outline; 0: no outline.
    dash_mm : tuple of float
        Lengths of dash and gap in turn; empty: solid.
    marker : {"", "circle", "square", "triangle", "cross"}
        Shape of a point; a cross lies on its side, like a letter x.
    size_mm : float
        Of a point.
    hatch : {"", "slash", "backslash", "cross", "grid", "level", "upright", "dots"}
        Lines or dots in an area, in the colour of its outline.
    hatch_mm : float
        From one hatch line or dot to the next.
    casing : str
        ``#rrggbb`` of a thin edge on both sides of a line; empty: none.
    told_by : tuple of str
        What tells this symbol from every other of its form. An area that is nothing but an
        outline counts as a line.
    """

    fill: str = ""
    opacity: float = 1.0
    stroke: str = "#202020"
    width_mm: float = 0.3
    dash_mm: tuple[float, ...] = ()
    marker: Marker = ""
    size_mm: float = 0.0
    hatch: Hatch = ""
    hatch_mm: float = 2.0
    casing: str = ""
    told_by: tuple[Variable, ...] = ("colour",)


@dataclass(frozen=True, kw_only=True)
class Look:
    """How a layer is drawn.

    Attributes
    ----------
    symbol : Symbol
        For every feature, or for those of no class.
    label : str
        Field whose value is written beside a feature; empty: none.
    label_before : str
        Word that is written before it, where a bare number would not say what it is.
    label_also : str
        Field that is written after it; empty: none.
    by : str
        Field that sorts features into classes; empty: one symbol for all.
    classes : tuple of (str, Symbol)
        Value of that field, and its symbol.
    quiet : tuple of str
        Classes that are kept out of the picture until they are asked for, with their labels.
    drawn_to : float
        Scale denominator beyond which the layer is not drawn; 0: always drawn.
    labels_to : float
        Scale denominator beyond which labels are not written.
    priority : int
        Of its labels where there is no room for all, 0 to 10; 10 is written first.
    at_first : bool
        Whether it is switched on when a drawing is opened.
    """

    symbol: Symbol
    label: str = ""
    label_before: str = ""
    label_also: str = ""
    by: str = ""
    classes: tuple[tuple[str, Symbol], ...] = ()
    quiet: tuple[str, ...] = ()
    drawn_to: float = 0.0
    labels_to: float = 1000.0
    priority: int = 5
    at_first: bool = True
