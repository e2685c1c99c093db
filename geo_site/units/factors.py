"""Exact factors from the units that people use to SI, and their names.

Reference
    NIST SP 811 (2008) and NIST Handbook 44, appendix C. Every factor is exact by definition
    and kept as a fraction: the US survey foot is 1200/3937 m, not a rounded decimal.
"""

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

Dimension = Literal[
    "length",
    "area",
    "volume",
    "flow",
    "flow_per_width",
    "velocity",
    "mass",
    "density",
    "power",
    "angle",
    "slope",
]

_FOOT = Fraction(3048, 10_000)
_US_FOOT = Fraction(1200, 3937)
_INCH = _FOOT / 12
_YARD = 3 * _FOOT
_GALLON = 231 * _INCH**3
_LITRE = Fraction(1, 1000)
_POUND = Fraction(45_359_237, 100_000_000)
_GRAVITY = Fraction(980_665, 100_000)

FOOT_M = float(_FOOT)
"""International foot, m (exact: 0.3048)."""
US_SURVEY_FOOT_M = float(_US_FOOT)
"""US survey foot, m (exact: 1200/3937); still the unit of many state plane grids."""
INCH_M = float(_INCH)
"""Inch, m (exact: 0.0254)."""
GALLON_M3 = float(_GALLON)
"""US gallon, m3 (exact: 231 cubic inches)."""
CUBIC_FOOT_M3 = float(_FOOT**3)
"""Cubic foot, m3."""
CUBIC_YARD_M3 = float(_YARD**3)
"""Cubic yard, m3."""
SQUARE_FOOT_M2 = float(_FOOT**2)
"""Square foot, m2."""
ACRE_M2 = float(43_560 * _FOOT**2)
"""Acre of international feet, m2."""
GPM_M3S = float(_GALLON / 60)
"""US gallon a minute, m3/s."""
GPH_M3S = float(_GALLON / 3600)
"""US gallon an hour, m3/s."""
CFS_M3S = CUBIC_FOOT_M3
"""Cubic foot a second, m3/s."""
POUND_KG = float(_POUND)
"""Pound, kg (exact: 0.45359237)."""
SHORT_TON_KG = float(2000 * _POUND)
"""Short ton of 2000 lb, kg."""
POUND_PER_CUBIC_FOOT_KGM3 = float(_POUND / _FOOT**3)
"""Pound a cubic foot, kg/m3."""
HORSEPOWER_W = float(550 * _FOOT * _POUND * _GRAVITY)
"""Horsepower of 550 ft lbf/s, W."""
STANDARD_GRAVITY_MS2 = float(_GRAVITY)
"""Standard acceleration of gravity, m/s2 (exact: 9.80665)."""

_UNITS: Mapping[str, Mapping[str, Fraction]] = MappingProxyType(
    {
        "length": {
            "m": Fraction(1),
            "cm": Fraction(1, 100),
            "mm": Fraction(1, 1000),
            "km": Fraction(1000),
            "ft": _FOOT,
            "us-ft": _US_FOOT,
            "in": _INCH,
            "yd": _YARD,
        },
        "area": {
            "m2": Fraction(1),
            "cm2": Fraction(1, 10_000),
            "ha": Fraction(10_000),
            "ft2": _FOOT**2,
            "in2": _INCH**2,
            "yd2": _YARD**2,
            "ac": 43_560 * _FOOT**2,
        },
        "volume": {
            "m3": Fraction(1),
            "l": _LITRE,
            "gal": _GALLON,
            "ft3": _FOOT**3,
            "yd3": _YARD**3,
            "ac-in": 43_560 * _FOOT**2 * _INCH,
        },
        "flow": {
            "m3/s": Fraction(1),
            "m3/h": Fraction(1, 3600),
            "l/s": _LITRE,
            "l/min": _LITRE / 60,
            "l/h": _LITRE / 3600,
            "gpm": _GALLON / 60,
            "gph": _GALLON / 3600,
            "cfs": _FOOT**3,
        },
        "flow_per_width": {
            "m2/s": Fraction(1),
            "l/s/m": _LITRE,
            "gpm/ft": _GALLON / 60 / _FOOT,
            "gph/in": _GALLON / 3600 / _INCH,
            "cfs/ft": _FOOT**2,
        },
        "velocity": {
            "m/s": Fraction(1),
            "ft/s": _FOOT,
            "mm/h": Fraction(1, 3_600_000),
            "mm/d": Fraction(1, 86_400_000),
            "in/h": _INCH / 3600,
            "in/d": _INCH / 86_400,
        },
        "mass": {
            "kg": Fraction(1),
            "t": Fraction(1000),
            "lb": _POUND,
            "short-ton": 2000 * _POUND,
        },
        "density": {
            "kg/m3": Fraction(1),
            "t/m3": Fraction(1000),
            "lb/ft3": _POUND / _FOOT**3,
            "short-ton/yd3": 2000 * _POUND / _YARD**3,
        },
        "power": {
            "w": Fraction(1),
            "kw": Fraction(1000),
            "hp": 550 * _FOOT * _POUND * _GRAVITY,
        },
        "angle": {"deg": Fraction(1)},
        "slope": {"%": Fraction(1, 100), "in/ft": Fraction(1, 12)},
    }
)

_OTHER_NAMES: Mapping[str, str] = MappingProxyType(
    {
        "metre": "m",
        "metres": "m",
        "meter": "m",
        "meters": "m",
        "foot": "ft",
        "feet": "ft",
        "'": "ft",
        "ftus": "us-ft",
        "us-foot": "us-ft",
        "inch": "in",
        "inches": "in",
        '"': "in",
        "yard": "yd",
        "yards": "yd",
        "acre": "ac",
        "acres": "ac",
        "gallon": "gal",
        "gallons": "gal",
        "litre": "l",
        "litres": "l",
        "liter": "l",
        "liters": "l",
        "lps": "l/s",
        "lpm": "l/min",
        "percent": "%",
        "degree": "deg",
        "degrees": "deg",
        "\u00b0": "deg",
    }
)

VERTICAL_UNITS: Mapping[str, float] = MappingProxyType(
    {"m": 1.0, "ft": FOOT_M, "us-ft": US_SURVEY_FOOT_M}
)
"""Units that levels may be stored in, and the metres in one of them."""


def unit_factor(name: str, dimension: Dimension) -> float:
    """SI units in one of a named unit.

    Parameters
    ----------
    name
        The unit as people write it; upper or lower case, ``m2`` or ``m²``.
    dimension
        What the unit measures, such as ``"length"``.

    Returns
    -------
    float
        Multiply by it to get SI (degrees for an angle, rise/run for a slope).

    Raises
    ------
    ValueError
        If no unit of that dimension has this name; the message lists those that do.

    Examples
    --------
    >>> unit_factor("in", "length")
    0.0254
    >>> unit_factor("us-ft", "length") == 1200 / 3937
    True
    """
    return float(exact_factor(name, dimension))


def unit_names(dimension: Dimension) -> tuple[str, ...]:
    """Names of the units of one dimension, as messages and documents list them.

    Parameters
    ----------
    dimension
        What the units measure.

    Returns
    -------
    tuple of str
        The accepted names, other spellings left out.

    Examples
    --------
    >>> unit_names("angle")
    ('deg',)
    """
    return tuple(_UNITS[dimension])


def exact_factor(name: str, dimension: Dimension) -> Fraction:
    """SI units in one of a named unit, without rounding.

    Parameters
    ----------
    name
        The unit as people write it.
    dimension
        What the unit measures.

    Returns
    -------
    Fraction
        The exact factor.

    Raises
    ------
    ValueError
        If no unit of that dimension has this name.

    Examples
    --------
    >>> exact_factor("us-ft", "length")
    Fraction(1200, 3937)
    """
    key = name.strip().lower().replace("\u00b2", "2").replace("\u00b3", "3")
    key = _OTHER_NAMES.get(key, key)
    units = _UNITS[dimension]
    if key not in units:
        raise ValueError(f"{name!r} is not a unit of {dimension}: use {', '.join(units)}")
    return units[key]
