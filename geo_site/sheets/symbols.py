"""Layers drawn on the axes of a picture as the catalogue says they look, and their legend.

In: rows of a layer. Out: artists. Method: the symbols of ``layers``; buried lines have a thin dark
casing, for a yellow line alone is lost on white paper. Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import geopandas as gpd
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from geo_site.layers import Layer, Symbol
from geo_site.sheets.classes import Row, classes_of

__all__ = ["POINTS_PER_MM", "draw_rows", "legend_of"]

POINTS_PER_MM = 72.0 / 25.4
_MARKERS = {"circle": "o", "square": "s", "triangle": "^", "cross": "x", "": "o"}
_CASING_MM, _CASING = 0.25, "#303030"
_CASED = frozenset({"utility_lines"})


def draw_rows(axes: Axes, layer: Layer, rows: Sequence[Row]) -> None:
    """Draw rows of a layer, class by class.

    Parameters
    ----------
    axes : Axes
        In the working CRS.
    layer : Layer
        Whose look is used.
    rows : sequence of mapping
        As the layer gives them.
    """
    for _, symbol, group in classes_of(layer, rows):
        shapes = gpd.GeoSeries([row["geometry"] for row in group if not row["geometry"].is_empty])
        if not shapes.empty:
            _plot(axes, shapes, symbol, layer)


def legend_of(layer: Layer, rows: Sequence[Row]) -> Iterator[Any]:
    """Give one legend entry for each class that has a row.

    Parameters
    ----------
    layer : Layer
        Whose look is used.
    rows : sequence of mapping
        As the layer gives them.

    Yields
    ------
    matplotlib artist
        With its label.
    """
    for name, symbol, group in classes_of(layer, rows):
        if name == "false" or all(row["geometry"].is_empty for row in group):
            continue  # contours between the heavier ones need no entry of their own
        told = name.replace("_", " ") if name and name != "true" else layer.title
        yield _entry(symbol, layer, told)


def _plot(axes: Axes, shapes: gpd.GeoSeries, symbol: Symbol, layer: Layer) -> None:
    if "Point" in layer.geometry:
        axes.plot(
            shapes.x,
            shapes.y,
            linestyle="",
            marker=_MARKERS[symbol.marker],
            markersize=symbol.size_mm * POINTS_PER_MM,
            markerfacecolor=symbol.fill or "none",
            markeredgecolor=symbol.stroke,
        )
    elif "Line" in layer.geometry:
        _lines(axes, shapes, symbol, cased=layer.name in _CASED)
    else:
        if symbol.fill:
            shapes.plot(
                ax=axes,
                facecolor=symbol.fill,
                alpha=symbol.opacity,
                edgecolor="none",
                aspect=None,
            )
        _lines(axes, shapes.boundary, symbol, cased=False)


def _lines(axes: Axes, shapes: gpd.GeoSeries, symbol: Symbol, *, cased: bool) -> None:
    width = symbol.width_mm * POINTS_PER_MM
    casing = patheffects.withStroke(
        linewidth=width + _CASING_MM * POINTS_PER_MM, foreground=_CASING
    )
    shapes.plot(
        ax=axes,
        color=symbol.stroke,
        linewidth=width,
        linestyle=_dash(symbol),
        path_effects=[casing] if cased else None,
        aspect=None,
    )


def _dash(symbol: Symbol) -> Any:
    """Dashes in widths of the line, as the drawing library counts them."""
    if not symbol.dash_mm:
        return "-"
    return (0.0, tuple(part / max(symbol.width_mm, 0.1) for part in symbol.dash_mm))


def _entry(symbol: Symbol, layer: Layer, told: str) -> Any:
    if "Polygon" in layer.geometry:
        return Patch(
            facecolor=symbol.fill or "none",
            edgecolor=symbol.stroke,
            linestyle="-" if not symbol.dash_mm else "--",
            label=told,
        )
    return Line2D(
        [],
        [],
        color=symbol.stroke,
        linewidth=symbol.width_mm * POINTS_PER_MM,
        linestyle="" if "Point" in layer.geometry else _dash(symbol),
        marker=_MARKERS[symbol.marker] if "Point" in layer.geometry else "",
        markerfacecolor=symbol.fill or "none",
        label=told,
    )
