"""A plan's figures in the units of a report: as words, and as numbers on a graph.

In: a figure's name and unit, a number, SI. Out: words, or the unit that a graph is drawn in.
Method: lengths keep one unit and two decimals, so that a row can be subtracted; a distance to a
line is rounded down as everywhere; water is told as liquid, other volumes as earth, the bore of a
pipe in inches or millimetres. Reference: none.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

from geo_site.clearance import rounded_down
from geo_site.units import (
    FOOT_M,
    INCH_M,
    Dimension,
    System,
    format_area,
    format_flow,
    format_liquid,
    format_velocity,
    format_volume,
    unit_factor,
)

__all__ = ["graph_unit", "told_figure"]

_WET = ("water_", "free_room_")
_BORE = "diameter_m"
_FORMATS: Mapping[str, Callable[[float, System], str]] = MappingProxyType(
    {"m2": format_area, "m3/s": format_flow, "m/s": format_velocity}
)
_GRAPHS: Mapping[System, Mapping[str, tuple[str, Dimension]]] = MappingProxyType(
    {
        "us": {
            "m": ("ft", "length"),
            "m2": ("ft2", "area"),
            "m3": ("yd3", "volume"),
            "m3/s": ("gpm", "flow"),
            "m/s": ("ft/s", "velocity"),
            "water": ("gal", "volume"),
            "bore": ("in", "length"),
        },
        "si": {"m3/s": ("l/s", "flow"), "water": ("l", "volume"), "bore": ("mm", "length")},
    }
)


def told_figure(name: str, unit: str, value: float, system: System) -> str:
    """Say a figure with its unit.

    Parameters
    ----------
    name : str
        As ``figures_of`` gives it.
    unit : str
        SI; ``-`` for a count.
    value : float
        The number; NaN is told as ``none``.
    system : {"si", "us"}
        Units of the report.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> told_figure("fall_m", "m", 0.9, "us"), told_figure("flow_m3s", "m3/s", 0.00308, "us")
    ('2.95 ft', '48.8 gpm')
    >>> told_figure("pipe_diameter_m", "m", 0.0525, "us")
    '2.07 in'
    """
    if math.isnan(value):
        return "none"
    if name.endswith(_BORE):
        return f"{value / INCH_M:.2f} in" if system == "us" else f"{value * 1000.0:.0f} mm"
    if unit == "m":
        size = value / FOOT_M if system == "us" else value
        size = rounded_down(size) if name.endswith("_to_lines_m") else size
        return f"{size:.2f} {'ft' if system == 'us' else 'm'}"
    if unit == "m3":
        return (format_liquid if name.startswith(_WET) else format_volume)(value, system)
    if unit in _FORMATS:
        return _FORMATS[unit](value, system)
    return f"{value:g}" + ("" if unit in {"-", ""} else f" {unit}")


def graph_unit(name: str, unit: str, system: System) -> tuple[str, float]:
    """Give the unit in which a graph shows a figure, and its size in SI.

    Parameters
    ----------
    name : str
        As ``figures_of`` gives it.
    unit : str
        SI; ``-`` for a count.
    system : {"si", "us"}
        Units of the report.

    Returns
    -------
    tuple of (str, float)
        The same unit for all values, which are divided by its size.

    Examples
    --------
    >>> graph_unit("fall_m", "m", "us"), graph_unit("falls_count", "-", "us")
    (('ft', 0.3048), ('-', 1.0))
    """
    kind = "water" if unit == "m3" and name.startswith(_WET) else unit
    kind = "bore" if name.endswith(_BORE) else kind
    if kind not in _GRAPHS[system]:
        return unit, 1.0
    shown, dimension = _GRAPHS[system][kind]
    return shown, unit_factor(shown, dimension)
