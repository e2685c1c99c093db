"""The catalogue of output layers: fields, units, meanings, looks, and where rows come from.

Question
    What does a plan look like as layers of a desktop GIS?
In
    A :class:`geo_site.plan.Plan`.
Out
    One table per layer in the CRS of the output, SI, always there, empty if it must be.
Method
    :data:`LAYERS` declares each layer once; tables, styles, value lists and the printed
    catalogue are made from it.
Reference
    Geometry types of OGC Simple Features (06-103r4).
"""

from geo_site.layers.catalogue import LAYERS, catalogue
from geo_site.layers.fields import ALTERNATIVE, LAYERS_VERSION, MADE_BY, Layer, LayerField
from geo_site.layers.frames import Table, output_crs, to_frame, to_table
from geo_site.layers.looks import (
    DRAWING_ORDER,
    LOOKS,
    UTILITY_SYMBOLS,
    VERDICT_SYMBOLS,
    Look,
    Symbol,
)

__all__ = [
    "ALTERNATIVE",
    "DRAWING_ORDER",
    "LAYERS",
    "LAYERS_VERSION",
    "LOOKS",
    "MADE_BY",
    "UTILITY_SYMBOLS",
    "VERDICT_SYMBOLS",
    "Layer",
    "LayerField",
    "Look",
    "Symbol",
    "Table",
    "catalogue",
    "output_crs",
    "to_frame",
    "to_table",
]
