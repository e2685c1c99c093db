"""Symbols of the catalogue as a page draws them.

In: a symbol in millimetres of paper. Out: plain data in pixels of CSS. Method: 96 pixels to the
inch, as CSS has it, so that the page has the same widths and dashes as every other output.
Reference: CSS Values and Units Level 3, absolute lengths.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from geo_site.layers import Symbol

__all__ = ["casing", "symbol_data"]

_PX_FOR_MM = 96.0 / 25.4
_CASING_MM, _CASING = 0.3, "#303030"


def symbol_data(symbol: Symbol) -> dict[str, Any]:
    """Give a symbol as data.

    Parameters
    ----------
    symbol : Symbol
        As the catalogue has it.

    Returns
    -------
    dict
        ``fill``, ``opacity``, ``stroke``, ``width``, ``dash``, ``marker``, ``size``; px.
    """
    return {
        "fill": symbol.fill,
        "opacity": symbol.opacity,
        "stroke": symbol.stroke,
        "width": _px(symbol.width_mm),
        "dash": [_px(part_mm) for part_mm in symbol.dash_mm],
        "marker": symbol.marker,
        "size": _px(symbol.size_mm),
    }


def casing(symbol: Symbol) -> dict[str, Any]:
    """Give the dark edge of a buried line: a yellow line alone is lost on light ground."""
    return symbol_data(replace(symbol, stroke=_CASING, width_mm=symbol.width_mm + _CASING_MM))


def _px(length_mm: float) -> float:
    return round(length_mm * _PX_FOR_MM, 2)
