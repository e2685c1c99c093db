"""Writing quantities in reports, in the units that a crew measures with."""

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from geo_site.units.factors import ACRE_M2, FOOT_M, Dimension, unit_factor

System = Literal["si", "us"]
"""How a document speaks: metric, or feet, cubic yards and gallons."""

# For each quantity and system: below which size (SI), in which unit, with how many decimals.
_ALWAYS = math.inf
_DISPLAY: Mapping[str, Mapping[System, tuple[tuple[float, str, str, int], ...]]] = MappingProxyType(
    {
        "length": {
            "si": ((0.1, "mm", "mm", 0), (_ALWAYS, "m", "m", 2)),
            "us": ((2 * FOOT_M, "in", "in", 1), (_ALWAYS, "ft", "ft", 1)),
        },
        "area": {
            "si": ((10_000.0, "m2", "m²", 1), (_ALWAYS, "ha", "ha", 2)),
            "us": ((ACRE_M2, "ft2", "ft²", 0), (_ALWAYS, "ac", "ac", 2)),
        },
        "volume": {
            "si": ((_ALWAYS, "m3", "m³", 1),),
            "us": ((_ALWAYS, "yd3", "yd³", 1),),
        },
        "liquid": {
            "si": ((_ALWAYS, "l", "L", 0),),
            "us": ((_ALWAYS, "gal", "gal", 0),),
        },
        "flow": {
            "si": ((_ALWAYS, "l/s", "L/s", 2),),
            "us": ((_ALWAYS, "gpm", "gpm", 1),),
        },
        "velocity": {
            "si": ((_ALWAYS, "m/s", "m/s", 2),),
            "us": ((_ALWAYS, "ft/s", "ft/s", 1),),
        },
        "mass": {
            "si": ((_ALWAYS, "t", "t", 1),),
            "us": ((_ALWAYS, "short-ton", "short ton", 1),),
        },
    }
)


def format_length(length_m: float, system: System, decimals: int | None = None) -> str:
    """Write a length: metres or millimetres, or feet or (under 2 ft) inches.

    Parameters
    ----------
    length_m
        Metres; NaN is written as ``unknown``.
    system
        ``"si"`` or ``"us"``.
    decimals
        Digits after the point; by default as many as the unit is measured to on site.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_length(1.1, "us"), format_length(0.4572, "us"), format_length(1.1, "si")
    ('3.6 ft', '18 in', '1.10 m')
    """
    return _format(length_m, "length", system, decimals)


def format_area(area_m2: float, system: System, decimals: int | None = None) -> str:
    """Write an area: square metres or hectares, or square feet or acres.

    Parameters
    ----------
    area_m2
        Square metres; NaN is written as ``unknown``.
    system
        ``"si"`` or ``"us"``.
    decimals
        Digits after the point.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_area(26.0, "us"), format_area(26.0, "si")
    ('280 ft²', '26.0 m²')
    """
    return _format(area_m2, "area", system, decimals)


def format_volume(volume_m3: float, system: System, decimals: int | None = None) -> str:
    """Write a volume of soil, stone or concrete: cubic metres or cubic yards.

    Parameters
    ----------
    volume_m3
        Cubic metres; NaN is written as ``unknown``.
    system
        ``"si"`` or ``"us"``.
    decimals
        Digits after the point.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_volume(19.633, "us"), format_volume(19.633, "si")
    ('25.7 yd³', '19.6 m³')
    """
    return _format(volume_m3, "volume", system, decimals)


def format_liquid(volume_m3: float, system: System, decimals: int | None = None) -> str:
    """Write a volume of water: litres or US gallons.

    Parameters
    ----------
    volume_m3
        Cubic metres; NaN is written as ``unknown``.
    system
        ``"si"`` or ``"us"``.
    decimals
        Digits after the point.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_liquid(2.0389, "us"), format_liquid(2.0389, "si")
    ('539 gal', '2039 L')
    """
    return _format(volume_m3, "liquid", system, decimals)


def format_flow(flow_m3s: float, system: System, decimals: int | None = None) -> str:
    """Write a flow: litres a second or US gallons a minute.

    Parameters
    ----------
    flow_m3s
        Cubic metres a second; NaN is written as ``unknown``.
    system
        ``"si"`` or ``"us"``.
    decimals
        Digits after the point.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_flow(0.0063090196, "us"), format_flow(0.0063090196, "si")
    ('100.0 gpm', '6.31 L/s')
    """
    return _format(flow_m3s, "flow", system, decimals)


def format_velocity(velocity_ms: float, system: System, decimals: int | None = None) -> str:
    """Write a speed of water: metres or feet a second.

    Parameters
    ----------
    velocity_ms
        Metres a second; NaN is written as ``unknown``.
    system
        ``"si"`` or ``"us"``.
    decimals
        Digits after the point.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_velocity(1.524, "us"), format_velocity(1.524, "si")
    ('5.0 ft/s', '1.52 m/s')
    """
    return _format(velocity_ms, "velocity", system, decimals)


def format_mass(mass_kg: float, system: System, decimals: int | None = None) -> str:
    """Write a mass of stone or soil: tonnes or short tons.

    Parameters
    ----------
    mass_kg
        Kilograms; NaN is written as ``unknown``.
    system
        ``"si"`` or ``"us"``.
    decimals
        Digits after the point.

    Returns
    -------
    str
        Number and unit.

    Examples
    --------
    >>> format_mass(4229.0, "us"), format_mass(4229.0, "si")
    ('4.7 short ton', '4.2 t')
    """
    return _format(mass_kg, "mass", system, decimals)


def counted(count: int, thing: str) -> str:
    """Write how many there are of something.

    Examples
    --------
    >>> counted(1, "fall"), counted(3, "more note")
    ('1 fall', '3 more notes')
    """
    return f"{count} {thing}{'' if count == 1 else 's'}"


def unit_steps(quantity: str, system: System) -> tuple[tuple[float, float, str, int], ...]:
    """Give the units that a quantity is written in, for a page that writes numbers itself.

    Parameters
    ----------
    quantity
        ``"length"``, ``"area"``, ``"volume"``, ``"liquid"``, ``"flow"``, ``"velocity"`` or
        ``"mass"``.
    system
        ``"si"`` or ``"us"``.

    Returns
    -------
    tuple of (float, float, str, int)
        Below which size in SI, the unit's size in SI, its sign, and how many decimals; the
        smallest first, the last without a limit.

    Examples
    --------
    >>> unit_steps("length", "si")
    ((0.1, 0.001, 'mm', 0), (inf, 1.0, 'm', 2))
    """
    dimension: Dimension = "volume" if quantity == "liquid" else quantity  # type: ignore[assignment]
    return tuple(
        (below, unit_factor(unit, dimension), label, digits)
        for below, unit, label, digits in _DISPLAY[quantity][system]
    )


def _format(value: float, kind: str, system: System, decimals: int | None) -> str:
    if not math.isfinite(value):
        return "unknown"
    rows = _DISPLAY[kind][system]
    _, unit, label, digits = next(row for row in rows if abs(value) < row[0])
    dimension: Dimension = "volume" if kind == "liquid" else kind  # type: ignore[assignment]
    number = f"{value / unit_factor(unit, dimension):.{digits if decimals is None else decimals}f}"
    if decimals is None and unit == "in":
        number = number.removesuffix(".0")
    return f"{number.removeprefix('-') if float(number) == 0 else number} {label}"
