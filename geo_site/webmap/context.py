"""What stands on the lot as given: structures, trees, fixtures, overhead wires, waters and more.

In: a site. Out: layers of the page, as those of the catalogue are. Method: one row for each object
that was read, its columns in words. Reference: none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from geo_site.layers import Symbol
from geo_site.site import INPUT_LAYERS, Field, Site
from geo_site.units import format_length
from geo_site.webmap.looks import symbol_data
from geo_site.webmap.plain_words import phrase
from geo_site.webmap.shapes import Origin

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

__all__ = ["context_layers"]


@dataclass(frozen=True, kw_only=True)
class _Given:
    """How an input is shown.

    Attributes
    ----------
    title : str
        For the list of layers.
    one : str
        What one of them is called.
    symbol : Symbol
        How it is drawn; the site plan on paper has the same.
    order : int
        Low is drawn first; all are below the works.
    """

    title: str
    one: str
    symbol: Symbol
    order: int


_BUILT, _LEAF, _INK = "#5c5c5c", "#4f7d4a", "#3a3a3a"
_GIVEN = {
    "structures": _Given(
        title="Structures",
        one="structure",
        symbol=Symbol(fill="#d8d4cc", stroke=_BUILT, width_mm=0.2),
        order=-4,
    ),
    "water_bodies": _Given(
        title="Waters",
        one="water",
        symbol=Symbol(fill="#9cc9ea", opacity=0.5, stroke="#3f7fc1", width_mm=0.3),
        order=-5,
    ),
    "easements": _Given(
        title="Easements",
        one="easement",
        symbol=Symbol(stroke=_BUILT, width_mm=0.4, dash_mm=(2.0, 1.0)),
        order=-3,
    ),
    "septic": _Given(
        title="Septic parts and wells",
        one="septic part or well",
        symbol=Symbol(fill="#d9b27c", opacity=0.4, stroke="#6b3f17", width_mm=0.3),
        order=-3,
    ),
    "overhead": _Given(
        title="Overhead wires",
        one="overhead wire",
        symbol=Symbol(stroke=_INK, dash_mm=(3.5, 1.0)),
        order=-1,
    ),
    "culverts": _Given(
        title="Culverts",
        one="culvert",
        symbol=Symbol(stroke="#3f7fc1", width_mm=0.5, dash_mm=(1.0, 1.0)),
        order=-2,
    ),
    "trees": _Given(
        title="Trees",
        one="tree",
        symbol=Symbol(fill=_LEAF, stroke=_LEAF, marker="circle", size_mm=1.6),
        order=-1,
    ),
    "fixtures": _Given(
        title="Fixtures",
        one="fixture",
        symbol=Symbol(fill=_INK, stroke=_INK, marker="square", size_mm=2.0),
        order=-1,
    ),
    "exposed": _Given(
        title="Lines laid bare",
        one="laid bare at",
        symbol=Symbol(fill="#ffffff", stroke=_INK, marker="square", size_mm=2.4),
        order=-1,
    ),
    "access": _Given(
        title="Ways in",
        one="way in",
        symbol=Symbol(fill="#ffffff", stroke=_INK, marker="circle", size_mm=2.4),
        order=-1,
    ),
    "views": _Given(
        title="View points",
        one="view point",
        symbol=Symbol(fill="#ffffff", stroke=_LEAF, marker="circle", size_mm=2.4),
        order=-1,
    ),
    "power": _Given(
        title="Power",
        one="power",
        symbol=Symbol(fill="#ffffff", stroke="#c8102e", marker="square", size_mm=2.4),
        order=-1,
    ),
}
_CROWNS = Symbol(stroke=_LEAF, width_mm=0.3)


def context_layers(site: Site, origin: Origin) -> list[dict[str, Any]]:
    """Give the layers of what was read, those without an object left out.

    Parameters
    ----------
    site : Site
        What was read.
    origin : Origin
        From where coordinates count.

    Returns
    -------
    list of dict
        As :func:`geo_site.webmap.catalogue.layer_groups` gives them.
    """
    made = [layer for name in _GIVEN for layer in _layers_of(site, name, origin)]
    return [*made, *_crowns(site, origin)]


def _layers_of(site: Site, name: str, origin: Origin) -> Iterator[dict[str, Any]]:
    """Give a layer for each kind of geometry: some inputs may hold all three."""
    table = site.layer(name)
    columns = [field for field in INPUT_LAYERS[name].fields if field.given_as]
    kinds = [_kind(shape) for shape in table.geometry]
    for kind in dict.fromkeys(kinds):
        features = [
            {
                "name": f"{_GIVEN[name].one} {row['id']}",
                "label": str(row["id"]) if name == "structures" else "",
                "class": 0,
                "shape": origin.shape(row["geometry"], kind),
                "values": [_value(site, column, row[column.name]) for column in columns],
            }
            for row, its in zip(table.to_dict("records"), kinds, strict=True)
            if its == kind
        ]
        yield _layer(name, kind, columns, features)


def _layer(
    name: str, kind: str, columns: list[Field], features: list[dict[str, Any]]
) -> dict[str, Any]:
    given, drawn = _GIVEN[name], INPUT_LAYERS[name].geometry in {kind, "any", "polygon"}
    symbol = symbol_data(given.symbol)
    if kind == "point" and not symbol["marker"]:
        symbol |= {"marker": "circle", "size": 8.0}
    return {
        "name": f"given_{name}_{kind}",
        "title": given.title if drawn else f"{given.title}: {kind}s",
        "meaning": f"As given: {INPUT_LAYERS[name].meaning}.",
        "kind": kind,
        "order": given.order,
        "shown": True,
        "priority": 6,
        "labels_to": 2500.0,
        "classes": [{"title": "", "symbol": symbol, "shown": True}],
        "fields": [[phrase(column.given_as), column.meaning] for column in columns],
        "features": features,
    }


def _kind(shape: BaseGeometry) -> str:
    if "Polygon" in shape.geom_type:
        return "area"
    return "point" if "Point" in shape.geom_type else "line"


def _value(site: Site, column: Field, value: Any) -> str:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return "not given"
    if column.dimension == "length":
        return format_length(float(value), site.report_units)
    if column.type == "truth":
        return "yes" if value else "no"
    if column.type == "number":
        return f"{value:g}" + (" V" if column.dimension == "voltage" else "")
    return phrase(str(value)) if column.choices else str(value)


def _crowns(site: Site, origin: Origin) -> Iterator[dict[str, Any]]:
    known = site.trees[site.trees["crown_radius_m"].notna()]
    if known.empty:
        return
    features = [
        {
            "name": f"crown of {row['id']}",
            "label": "",
            "class": 0,
            "shape": origin.areas(row["geometry"].buffer(row["crown_radius_m"])),
            "values": [format_length(row["crown_radius_m"], site.report_units)],
        }
        for row in known.to_dict("records")
    ]
    yield {
        "name": "crowns",
        "title": "Tree crowns",
        "meaning": "As given: how far each tree's crown reaches.",
        "kind": "area",
        "order": -2,
        "shown": True,
        "priority": 0,
        "labels_to": 2500.0,
        "classes": [{"title": "", "symbol": symbol_data(_CROWNS), "shown": True}],
        "fields": [["crown radius", "as given"]],
        "features": features,
    }
