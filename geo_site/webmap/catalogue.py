"""The layers of the catalogue as data of the page, sorted into groups that can be switched.

In: a plan. Out: groups of layers with their looks, features and facts in words. Method: every layer
of ``LAYERS`` is in one group; one that no group names stands under "more".
Reference: none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from geo_site.layers import ALTERNATIVE, DRAWING_ORDER, LAYERS, Layer, Symbol
from geo_site.units import System
from geo_site.webmap.looks import symbol_data
from geo_site.webmap.numbers import field_label, field_value
from geo_site.webmap.plain_words import phrase
from geo_site.webmap.shapes import Origin

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["GROUPS", "layer_groups"]

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "What is built",
        (
            "basin",
            "basin_excavation",
            "stream_bed",
            "stream_pools",
            "stream_falls",
            "stream_reaches",
            "stream_alignment",
            "pipe_run",
            "swale",
        ),
    ),
    ("What to keep off", ("utility_lines", "clearances", "hand_dig_ground", "blocked_ground")),
    ("Room for a basin", ("open_ground", "basin_candidates")),
    ("Where water goes by itself", ("catchment", "flow_paths", "overflow_path", "depressions")),
    ("Digging and hauling", ("dig_area", "spoil_pile", "silt_fence", "machine_route")),
    ("Stakes", ("set_out",)),
    ("The lot as it is", ("parcel", "contours")),
)
"""Titles, and the layers under each; what stands on the lot is added to the last."""

_FIRST_SHOWN = frozenset(
    {
        "basin",
        "basin_excavation",
        "stream_bed",
        "stream_pools",
        "stream_falls",
        "pipe_run",
        "swale",
        "utility_lines",
        "hand_dig_ground",
        "overflow_path",
        "parcel",
        "contours",
    }
)
_SHOWN_WITHOUT_A_PLACE = frozenset({"blocked_ground", "open_ground"})
_NAMES: Mapping[str, tuple[str, tuple[str, ...]]] = MappingProxyType(
    {
        "blocked_ground": ("taken by:", ("reason", "source_id")),
        "hand_dig_ground": ("by hand beside", ("utility_id",)),
        "utility_lines": ("", ("kind", "utility_id")),
        "basin_candidates": ("place", ("rank",)),
        "stream_reaches": ("", ("kind", "sequence")),
        "stream_falls": ("fall", ("sequence",)),
        "stream_pools": ("pool", ("sequence",)),
        "catchment": ("run-on to the", ("work",)),
        "contours": ("contour", ("level_m",)),
        "machine_route": ("machine's way to", ("leads_to",)),
        "clearances": ("", ("work", "against")),
        "set_out": ("stake", ("code",)),
    }
)
_DRAWING_TOLERANCE_M = 0.02  # of lines that are looked at, never measured from


def layer_groups(plan: Plan, origin: Origin) -> list[dict[str, Any]]:
    """Give every layer of a plan.

    Parameters
    ----------
    plan : Plan
        With or without a proposal.
    origin : Origin
        From where coordinates count.

    Returns
    -------
    list of dict
        ``title`` and ``layers``; each layer with ``name``, ``title``, ``meaning``, ``kind``,
        ``order``, ``shown``, ``priority``,
        ``labels_to``, ``classes``, ``fields`` and ``features``.
    """
    known = {layer.name: layer for layer in LAYERS}
    named = [name for _, names in GROUPS for name in names]
    more = tuple(name for name in known if name not in named)
    groups = [*GROUPS, ("More", more)] if more else GROUPS
    return [
        {
            "title": title,
            "layers": [_layer_data(known[name], plan, origin) for name in names if name in known],
        }
        for title, names in groups
    ]


def _layer_data(layer: Layer, plan: Plan, origin: Origin) -> dict[str, Any]:
    rows = list(layer.rows(plan))
    first = _FIRST_SHOWN if plan.proposal else _FIRST_SHOWN | _SHOWN_WITHOUT_A_PLACE
    classes = _classes(layer, rows)
    names = [name for name, _ in classes]
    fields = [field for field in layer.fields if field.name != ALTERNATIVE]  # one plan here
    system = plan.site.report_units
    return {
        "name": layer.name,
        "title": layer.title,
        "meaning": layer.meaning.removesuffix(" Z in metres, whatever the unit of X and Y."),
        "kind": _kind(layer),
        "order": _order(layer.name),
        "shown": layer.name in first,
        "priority": 9 if layer.name == "basin" else layer.look.priority,
        "labels_to": layer.look.labels_to,
        "classes": [_class_data(layer, name, symbol) for name, symbol in classes],
        "fields": [[field_label(field), field.meaning] for field in fields],
        "features": [
            {
                "name": _name(layer, row, system),
                "label": _label(layer, row, system),
                "class": names.index(_class_name(layer, row)),
                "shape": _shape(layer, row, origin),
                "values": [field_value(layer.name, f, row.get(f.name), system) for f in fields],
            }
            for row in rows
        ],
    }


def _kind(layer: Layer) -> str:
    if "Polygon" in layer.geometry:
        return "area"
    return "point" if "Point" in layer.geometry else "line"


def _order(name: str) -> int:
    """Draw what no list names above all that one names."""
    return DRAWING_ORDER.index(name) if name in DRAWING_ORDER else len(DRAWING_ORDER)


def _class_name(layer: Layer, row: Mapping[str, Any]) -> str:
    return str(row[layer.look.by]).lower() if layer.look.by else ""


def _classes(layer: Layer, rows: Sequence[Mapping[str, Any]]) -> list[tuple[str, Symbol]]:
    """Those classes that have a row, in the order of the look."""
    if not layer.look.by:
        return [("", layer.look.symbol)]
    used = dict.fromkeys(_class_name(layer, row) for row in rows)
    known = dict(layer.look.classes)
    first = [name for name in known if name in used]
    names = [*first, *(name for name in used if name not in known)]
    return [(name, known.get(name, layer.look.symbol)) for name in names]


def _class_data(layer: Layer, name: str, symbol: Symbol) -> dict[str, Any]:
    data: dict[str, Any] = {
        "title": phrase(name),
        "symbol": symbol_data(symbol),
        "shown": name not in layer.look.quiet,
    }
    if layer.look.by == "is_index":
        data["title"] = "drawn heavier" if name == "true" else "between"
    return data


def _shape(layer: Layer, row: Mapping[str, Any], origin: Origin) -> Any:
    geometry = row["geometry"]
    if layer.name == "contours":
        geometry = geometry.simplify(_DRAWING_TOLERANCE_M)
    return [] if geometry.is_empty else origin.shape(geometry, _kind(layer))


def _label(layer: Layer, row: Mapping[str, Any], system: System) -> str:
    """Give the words beside a feature: the look names the fields."""
    if layer.name == "basin":
        return "basin"
    if not layer.look.label or (layer.name == "contours" and not row["is_index"]):
        return ""
    of_name = {field.name: field for field in layer.fields}
    told = [
        field_value(layer.name, of_name[name], row[name], system)
        for name in (layer.look.label, layer.look.label_also)
        if name and row.get(name) is not None
    ]
    return f"{layer.look.label_before} {' '.join(told)}".strip() if told else ""


def _name(layer: Layer, row: Mapping[str, Any], system: System) -> str:
    before, names = _NAMES.get(layer.name, (layer.title, ()))
    of_name = {field.name: field for field in layer.fields}
    parts = [
        field_value(layer.name, of_name[name], row.get(name), system)
        for name in names
        if row.get(name) is not None
    ]
    joint = " and " if layer.name == "clearances" else " "
    return f"{before} {joint.join(parts)}".strip()
