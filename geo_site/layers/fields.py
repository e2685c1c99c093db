"""What a layer of the output is: name, geometry, fields, look, and where its rows come from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from geo_site.layers.symbols import Look

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = [
    "ALTERNATIVE",
    "LAYERS_VERSION",
    "MADE_BY",
    "FieldType",
    "GeometryType",
    "Layer",
    "LayerField",
    "Rows",
    "has_alternatives",
]

MADE_BY = "geo_site plan"
"""First words of a plan's metadata: by them it is told from another GeoPackage."""
LAYERS_VERSION = 1
"""Grows when a layer or a field that others rely on changes its meaning."""
ALTERNATIVE = "alternative"
"""Field that tells whole plans of one file apart."""
FieldType = Literal["text", "integer", "real", "truth"]
GeometryType = Literal[
    "Polygon",
    "PolygonZ",
    "MultiPolygon",
    "LineString",
    "LineStringZ",
    "MultiLineString",
    "PointZ",
]
Rows = Callable[["Plan"], Iterable[Mapping[str, Any]]]
"""Gives a mapping per feature: ``geometry`` in the working CRS, and each field by its name."""


@dataclass(frozen=True)
class LayerField:
    """A column of a layer.

    Attributes
    ----------
    name : str
        Column; lengths, areas, volumes and speeds carry their unit as a suffix.
    type : {"text", "integer", "real", "truth"}
        Kind of value.
    unit : str
        ``m``, ``m2``, ``m3``, ``m/s``, ``degrees``; ``"-"`` for a word or a pure number.
    meaning : str
        One sentence.
    choices : tuple of str
        Every word that may stand there; empty: any.
    """

    name: str
    type: FieldType
    unit: str
    meaning: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Layer:
    """A table of the output.

    Attributes
    ----------
    name : str
        Table.
    title : str
        For a list of layers.
    geometry : str
        Type of every geometry in it.
    meaning : str
        One or two sentences.
    fields : tuple of LayerField
        Those that others rely on first.
    look : Look
        How it is drawn.
    rows : callable
        Makes its rows from a plan.
    """

    name: str
    title: str
    geometry: GeometryType
    meaning: str
    fields: tuple[LayerField, ...]
    look: Look
    rows: Rows


def has_alternatives(layer: Layer) -> bool:
    """Whether rows of several whole plans may stand in a layer."""
    return any(field.name == ALTERNATIVE for field in layer.fields)
