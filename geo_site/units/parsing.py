"""Reading quantities that people wrote: "2.75 ft", "20 gpm", "1:4"."""

import math
import re
from fractions import Fraction
from itertools import pairwise
from numbers import Real

from geo_site.units.factors import Dimension, exact_factor, unit_names

Quantity = float | int | str
"""What a person may write: a number that is SI already, or text with a unit."""

_NUMBER = r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
_FRACTION = r"(?:[0-9]+[ -])?[0-9]+/[0-9]+"
_UNIT = r"['\"]|[A-Za-z%\u00b0][A-Za-z0-9/\u00b2\u00b3-]*"
_PART = re.compile(rf"\s*({_FRACTION}|{_NUMBER})\s*({_UNIT})")
_TERM = rf"({_FRACTION}|{_NUMBER})\s*([vVhH]?)"
_RATIO = re.compile(rf"{_TERM}\s*:\s*{_TERM}")


def parse_quantity(value: Quantity, dimension: Dimension) -> float:
    """Read a quantity that a person wrote.

    Parameters
    ----------
    value
        A number, which is SI already, or text of numbers each followed by a unit. Several
        parts go from large to small, as in ``"2 ft 9 in"``; fractions may be written
        ``"3/4 in"`` or ``"1-1/2 in"``.
    dimension
        What the quantity measures.

    Returns
    -------
    float
        The quantity in SI.

    Raises
    ------
    ValueError
        If the value is a truth value, not finite, has no unit or one that is not known, or
        if its parts do not go from large to small.

    Examples
    --------
    >>> parse_quantity("1 hp", "power")
    745.6998715822702
    """
    if isinstance(value, str):
        result = _parse_text(value, dimension)
    elif isinstance(value, Real) and not isinstance(value, bool):
        result = _to_float(value)
    else:
        raise ValueError(f"{value!r} is not a {dimension}: {_wanted(dimension)}")
    if not math.isfinite(result):
        raise ValueError(f"{value!r} is not a finite {dimension}: {_wanted(dimension)}")
    return result


def parse_length(value: Quantity) -> float:
    """Read a length, in metres.

    Parameters
    ----------
    value
        Metres as a number, or text such as ``"2.75 ft"``, ``"2 ft 9 in"``, ``"610 mm"``.

    Returns
    -------
    float
        Metres.

    Raises
    ------
    ValueError
        As `parse_quantity`.

    Examples
    --------
    >>> parse_length("2.75 ft")
    0.8382
    >>> parse_length("2 ft 9 in")
    0.8382
    >>> parse_length("3 cubits")
    Traceback (most recent call last):
    ...
    ValueError: 'cubits' is not a unit of length: use m, cm, mm, km, ft, us-ft, in, yd
    """
    return parse_quantity(value, "length")


def parse_area(value: Quantity) -> float:
    """Read an area, in square metres.

    Parameters
    ----------
    value
        Square metres as a number, or text such as ``"280 ft2"``.

    Returns
    -------
    float
        Square metres.

    Raises
    ------
    ValueError
        As `parse_quantity`.

    Examples
    --------
    >>> parse_area("1 acre")
    4046.8564224
    """
    return parse_quantity(value, "area")


def parse_volume(value: Quantity) -> float:
    """Read a volume, in cubic metres.

    Parameters
    ----------
    value
        Cubic metres as a number, or text such as ``"2 yd3"``, ``"300 gal"``, ``"900 L"``.

    Returns
    -------
    float
        Cubic metres.

    Raises
    ------
    ValueError
        As `parse_quantity`.

    Examples
    --------
    >>> parse_volume("900 L")
    0.9
    """
    return parse_quantity(value, "volume")


def parse_flow(value: Quantity) -> float:
    """Read a flow, in cubic metres a second.

    Parameters
    ----------
    value
        m3/s as a number, or text such as ``"20 gpm"``, ``"4000 gph"``, ``"1.2 L/s"``.

    Returns
    -------
    float
        Cubic metres a second.

    Raises
    ------
    ValueError
        As `parse_quantity`.

    Examples
    --------
    >>> parse_flow("3.6 m3/h")
    0.001
    """
    return parse_quantity(value, "flow")


def parse_angle(value: Quantity) -> float:
    """Read an angle, in degrees.

    Parameters
    ----------
    value
        Degrees as a number, or text such as ``"30 deg"``.

    Returns
    -------
    float
        Degrees.

    Raises
    ------
    ValueError
        As `parse_quantity`.

    Examples
    --------
    >>> parse_angle("30 deg")
    30.0
    """
    return parse_quantity(value, "angle")


def parse_slope(value: Quantity) -> float:
    """Read a slope, as rise over run.

    Parameters
    ----------
    value
        Rise/run as a number, or text: ``"25 %"``, ``"1/4 in/ft"``, ``"1:4"`` (one up, four
        along), or with letters in any order, ``"4H:1V"``. A ratio without letters that does
        not begin with 1 is refused: the trade reads ``"2:1"`` both ways.

    Returns
    -------
    float
        Rise over run.

    Raises
    ------
    ValueError
        As `parse_quantity`, and for a ratio that can be read two ways.

    Examples
    --------
    >>> parse_slope("1:4"), parse_slope("25 %"), parse_slope("4H:1V")
    (0.25, 0.25, 0.25)
    """
    ratio = _RATIO.fullmatch(value.strip()) if isinstance(value, str) else None
    if ratio is None:
        return parse_quantity(value, "slope")
    return _divide(*_vertical_and_horizontal(ratio, bare="vh"), str(value))


def parse_batter(value: Quantity) -> float:
    """Read the batter of a side slope, as run over rise (horizontal to vertical).

    Parameters
    ----------
    value
        Run/rise as a number, or text: ``"1.5:1"`` (1.5 out for 1 down, as excavation rules
        print it), or with letters in any order, ``"1V:1.5H"``. A ratio without letters that
        does not end with 1 is refused: it can be read both ways.

    Returns
    -------
    float
        Run over rise; 0 is a vertical side.

    Raises
    ------
    ValueError
        If it is no ratio, not finite, or can be read two ways.

    Examples
    --------
    >>> parse_batter("1.5:1"), parse_batter("3/4:1"), parse_batter("1V:1.5H")
    (1.5, 0.75, 1.5)
    """
    ratio = _RATIO.fullmatch(value.strip()) if isinstance(value, str) else None
    if ratio is not None:
        vertical, horizontal = _vertical_and_horizontal(ratio, bare="hv")
        return _divide(horizontal, vertical, str(value))
    if isinstance(value, str):
        raise ValueError(f"{value!r} is not a batter: write a number or 'horizontal:1'")
    return parse_quantity(value, "slope")


def _parse_text(text: str, dimension: Dimension) -> float:
    body = text.strip()
    sign = -1 if body.startswith("-") else 1
    parts = _split_parts(body.removeprefix("-").removeprefix("+"), text, dimension)
    for (_, larger), (number, smaller) in pairwise(parts):
        if number * smaller >= larger:
            raise ValueError(f"{text!r}: each part must be less than one unit of the part before")
    return _to_float(sign * sum((number * factor for number, factor in parts), Fraction(0)))


def _split_parts(body: str, text: str, dimension: Dimension) -> list[tuple[Fraction, Fraction]]:
    parts: list[tuple[Fraction, Fraction]] = []
    position = 0
    while position < len(body) or not parts:
        match = _PART.match(body, position)
        if match is None:
            raise ValueError(f"{text!r} is not a {dimension}: {_wanted(dimension)}")
        parts.append((_to_fraction(match[1]), exact_factor(match[2], dimension)))
        position = match.end()
    return parts


def _to_fraction(text: str) -> Fraction:
    whole, _, ratio = text.replace("-", " ").rpartition(" ") if "/" in text else ("", "", text)
    try:
        return Fraction(int(whole or 0)) + Fraction(ratio)
    except ZeroDivisionError:
        raise ValueError(f"{text!r} divides by zero") from None


def _to_float(value: Real | Fraction | float) -> float:
    try:
        return float(value)
    except OverflowError:
        return math.inf


def _vertical_and_horizontal(ratio: re.Match[str], bare: str) -> tuple[Fraction, Fraction]:
    letters = (ratio[2] + ratio[4]).lower()
    numbers = (_to_fraction(ratio[1]), _to_fraction(ratio[3]))
    if not letters and numbers[bare.index("v")] == 1:
        letters = bare
    if letters not in ("vh", "hv"):
        raise ValueError(f"{ratio[0]!r} can be read two ways: write it like '1V:4H' or '4H:1V'")
    return numbers[letters.index("v")], numbers[letters.index("h")]


def _divide(upper: Fraction, lower: Fraction, text: str) -> float:
    if lower == 0:
        raise ValueError(f"{text!r} divides by zero")
    return float(upper / lower)


def _wanted(dimension: Dimension) -> str:
    return f"write a number (SI), or a number and one of {', '.join(unit_names(dimension))}"
