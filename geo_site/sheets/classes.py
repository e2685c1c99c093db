"""Rows of a layer sorted into the classes of its look.

In: a layer and its rows. Out: each class that has a row, with its symbol. Method: the classes in
the order in which they first occur. Reference: none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from geo_site.layers import Layer, Symbol

__all__ = ["Row", "classes_of"]

Row = Mapping[str, Any]


def classes_of(layer: Layer, rows: Sequence[Row]) -> Iterator[tuple[str, Symbol, list[Row]]]:
    """Sort rows into classes.

    Parameters
    ----------
    layer : Layer
        Whose look has the classes.
    rows : sequence of mapping
        As the layer gives them.

    Yields
    ------
    tuple of (str, Symbol, list of mapping)
        The class's name (empty where there are no classes), its symbol, its rows.
    """
    by, symbols = layer.look.by, dict(layer.look.classes)
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(str(row[by]).lower() if by else "", []).append(row)
    for name, group in found.items():
        yield name, symbols.get(name, layer.look.symbol), group
