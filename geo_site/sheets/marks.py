"""Layers on a map of a page, as the catalogue says they look, and their entries in a legend.

In: rows of a layer. Out: shapes on a plot. Method: the symbols of ``layers``, with their
hatches and casings. Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from geo_site.layers import Layer, Symbol
from geo_site.sheets.classes import Row, classes_of
from geo_site.sheets.paper import Pen
from geo_site.sheets.plots import Plot

__all__ = ["draw_rows", "key_of"]


def draw_rows(plot: Plot, layer: Layer, rows: Sequence[Row]) -> None:
    """Draw rows of a layer, class by class.

    Parameters
    ----------
    plot : Plot
        In the working CRS.
    layer : Layer
        Whose look is used.
    rows : sequence of mapping
        As the layer gives them.
    """
    for _, symbol, group in classes_of(layer, rows):
        for row in group:
            _draw(plot, layer, row, symbol)


def _draw(plot: Plot, layer: Layer, row: Row, symbol: Symbol) -> None:
    pen, shape = _pen(symbol), row["geometry"]
    if "Point" not in layer.geometry:
        plot.geometry(shape, pen)
    elif not shape.is_empty:
        plot.mark(shape.x, shape.y, symbol.marker, symbol.size_mm, pen)


def key_of(layer: Layer, rows: Sequence[Row]) -> Iterator[tuple[str, Pen, str]]:
    """Give one legend entry for each class that has a row.

    Parameters
    ----------
    layer : Layer
        Whose look is used.
    rows : sequence of mapping
        As the layer gives them.

    Yields
    ------
    tuple of (str, Pen, str)
        Form, pen and words.
    """
    for name, symbol, group in classes_of(layer, rows):
        if name == "false" or all(row["geometry"].is_empty for row in group):
            continue  # contours between the heavier ones need no entry of their own
        told = name.replace("_", " ") if name and name != "true" else layer.title
        if layer.name == "utility_lines":
            told = f"marked line: {told}"
        form = "area" if "Polygon" in layer.geometry else "line"
        if "Point" in layer.geometry:
            form = symbol.marker or "circle"
        yield form, _pen(symbol), told


def _pen(symbol: Symbol) -> Pen:
    return Pen(
        stroke=symbol.stroke,
        width_mm=symbol.width_mm,
        dash_mm=symbol.dash_mm,
        fill=symbol.fill,
        opacity=symbol.opacity,
        hatch=symbol.hatch,
        hatch_mm=symbol.hatch_mm,
        casing=symbol.casing,
    )
