"""Symbols of the catalogue as a page draws them.

In: a symbol in millimetres of paper. Out: plain data in pixels of CSS. Method: 96 pixels to the
inch, as CSS has it, so that the page has the same widths and dashes as every other output.
Reference: CSS Values and Units Level 3, absolute lengths.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from geo_site.layers import Symbol

__all__ = ["symbol_data"]

_PX_FOR_MM = 96.0 / 25.4
_CASING_MM, _HATCH_MM = 0.3, 0.12  # as on the sheets


def symbol_data(symbol: Symbol) -> dict[str, Any]:
    """Give a symbol as data.

    Parameters
    ----------
    symbol : Symbol
        As the catalogue has it.

    Returns
    -------
    dict
        ``fill``, ``opacity``, ``stroke``, ``width``, ``dash``, ``marker``, ``size``, ``hatch``,
        ``every`` and ``line`` (of the hatch), ``casing`` (another symbol, or None); px.
    """
    return {
        "fill": symbol.fill,
        "opacity": symbol.opacity,
        "stroke": symbol.stroke,
        "width": _px(symbol.width_mm),
        "dash": [_px(part_mm) for part_mm in symbol.dash_mm],
        "marker": symbol.marker,
        "size": _px(symbol.size_mm),
        "hatch": symbol.hatch,
        "every": _px(symbol.hatch_mm),
        "line": _px(_HATCH_MM),
        "casing": _casing(symbol) if symbol.casing else None,
    }


def _casing(symbol: Symbol) -> dict[str, Any]:
    wide_mm = symbol.width_mm + _CASING_MM
    return symbol_data(replace(symbol, stroke=symbol.casing, width_mm=wide_mm, casing=""))


def _px(length_mm: float) -> float:
    return round(length_mm * _PX_FOR_MM, 2)
