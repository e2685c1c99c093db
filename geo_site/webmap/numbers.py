"""Numbers in words, each in the unit that suits what it measures.

In: a field of the catalogue and a value. Out: words. Method: formats of ``units``; what is asked is
rounded up and what is found down, so that a short distance never looks long enough.
Reference: none.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from geo_site.clearance import rounded_down, rounded_up
from geo_site.layers import LayerField
from geo_site.units import (
    System,
    format_area,
    format_flow,
    format_length,
    format_liquid,
    format_velocity,
    format_volume,
    in_report,
    unit_steps,
)
from geo_site.webmap.plain_words import phrase

__all__ = ["asked", "field_label", "field_value", "found", "level", "level_unit"]

_SUFFIXES: Mapping[str, str] = MappingProxyType(
    {"m": "_m", "m2": "_m2", "m3": "_m3", "m/s": "_ms", "m3/s": "_m3s", "degrees": "_deg"}
)
_LIQUIDS = frozenset(
    {
        ("basin", "stored_m3"),
        ("basin", "usable_m3"),
        ("basin_excavation", "stored_m3"),
        ("basin_excavation", "usable_m3"),
        ("stream_pools", "volume_m3"),
        ("depressions", "volume_m3"),
    }
)
_CODED = frozenset({("blocked_ground", "reason"), ("clearances", "kind")})
_SENTENCES = frozenset({"reason", "note"})
_ASKED = frozenset({"required_m", "distance_m", "half_width_m"})
_FOUND = frozenset({"clearance_m", "margin_m"})
_LEVEL_DECIMALS = 2


def level_unit(system: System) -> tuple[str, float]:
    """Give the unit that levels and stations are told in, and its length, m."""
    _, unit_m, label, _ = unit_steps("length", system)[-1]
    return label, unit_m


def level(value_m: float, system: System) -> str:
    """Write a level, in the same unit whatever its size.

    Examples
    --------
    >>> level(0.3048, "us"), level(12.0, "si")
    ('1.00 ft', '12.00 m')
    """
    label, unit_m = level_unit(system)
    if not math.isfinite(value_m):
        return "unknown"
    return f"{value_m / unit_m:.{_LEVEL_DECIMALS}f} {label}"


def asked(value_m: float, system: System) -> str:
    """Write a distance that is asked for; it never looks shorter than it is."""
    label, unit_m = level_unit(system)
    return f"{rounded_up(value_m / unit_m):.2f} {label}" if math.isfinite(value_m) else "unknown"


def found(value_m: float, system: System) -> str:
    """Write a distance that was found; it never looks longer than it is."""
    label, unit_m = level_unit(system)
    return f"{rounded_down(value_m / unit_m):.2f} {label}" if math.isfinite(value_m) else "unknown"


def field_label(field: LayerField) -> str:
    """Give a column's name in words, without its unit."""
    return phrase(field.name.removesuffix(_SUFFIXES.get(field.unit, "")))


def field_value(layer: str, field: LayerField, value: Any, system: System) -> str:
    """Write a value of a layer's field.

    Parameters
    ----------
    layer : str
        The layer's name.
    field : LayerField
        The column.
    value : object
        As the layer's row has it; None or NaN: empty.
    system : {"si", "us"}
        Units.

    Returns
    -------
    str
        Number and unit, or words; of an empty one what the catalogue says that it means.
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return _empty(field)
    if field.type == "truth":
        return "yes" if value else "no"
    if field.type == "text":
        coded = bool(field.choices) or (layer, field.name) in _CODED
        words = phrase(str(value)) if coded else str(value)
        return in_report(words, system) if field.name in _SENTENCES else words
    return _number(layer, field, value, system)


def _empty(field: LayerField) -> str:
    """The catalogue says in its meaning what an empty field stands for."""
    _, told, meaning = field.meaning.partition("empty: ")
    return meaning.partition(";")[0] if told else "not given"


def _number(layer: str, field: LayerField, value: float, system: System) -> str:
    name, unit = field.name, field.unit
    if unit == "m":
        return _distance(name, value, system)
    if unit == "m3" and (layer, name) in _LIQUIDS:
        return format_liquid(value, system)
    formats = {
        "m2": format_area,
        "m3": format_volume,
        "m/s": format_velocity,
        "m3/s": format_flow,
    }
    if unit in formats:
        return formats[unit](value, system)
    if unit == "degrees":
        return f"{value:.0f}°"
    return f"{value:d}" if field.type == "integer" else f"{value:.2f}"


def _distance(name: str, value_m: float, system: System) -> str:
    if name.endswith("level_m"):
        return level(value_m, system)
    if name in _ASKED:
        return asked(value_m, system)
    if name in _FOUND:
        return found(value_m, system)
    return format_length(value_m, system)
