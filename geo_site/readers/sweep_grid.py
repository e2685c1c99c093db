"""The grid of a sweep, as a person writes it: ``water.lip_head=10..40mm siting.units=16,20,24``.

In: words of the command line. Out: a :class:`~geo_site.plan.Axis` for each. Method: a list has
commas, a range two dots and as many even steps as ``/n`` says; the unit at the end holds for
every number before it that has none, for nobody who writes ``10,20mm`` means ten metres.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from geo_site.errors import SettingRefused
from geo_site.plan import Axis

__all__ = ["read_axis", "read_grid"]

_EVEN_STEPS = 4
_MOST_VALUES = 1000
_NUMBER = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")
_SPLIT = re.compile(rf"\s*({_NUMBER.pattern})\s*(.*?)\s*", re.DOTALL)
_RANGE = re.compile(r"(.+?)\.\.(.+?)(?:/([0-9]+))?", re.DOTALL)
_HOW = "write for example water.lip_head=10..40mm, water.lip_head=10..40mm/7, siting.units=16,20,24"


def read_grid(words: Sequence[str]) -> tuple[Axis, ...]:
    """Read the settings that a sweep goes through.

    Parameters
    ----------
    words : sequence of str
        One for each setting.

    Returns
    -------
    tuple of Axis
        In the order written.

    Raises
    ------
    SettingRefused
        None at all, a word without values, a setting named twice.
    """
    if not words:
        raise SettingRefused("no setting to go through", remedy=_HOW)
    axes = tuple(read_axis(word) for word in words)
    keys = [axis.key for axis in axes]
    twice = next((key for key in keys if keys.count(key) > 1), None)
    if twice is not None:
        raise SettingRefused(f"{twice} is named twice", remedy="give all its values in one word")
    return axes


def read_axis(word: str) -> Axis:
    """Read one setting and its values.

    Parameters
    ----------
    word : str
        ``table.setting=values``.

    Returns
    -------
    Axis
        Values as the site file would have them: numbers, or text with a unit.

    Raises
    ------
    SettingRefused
        It says no setting or no values, or the range is none.

    Examples
    --------
    >>> read_axis("water.lip_head=10..40mm").values
    ('10 mm', '20 mm', '30 mm', '40 mm')
    >>> read_axis("siting.units=16,20,24").values
    (16, 20, 24)
    >>> read_axis("layout.wanted_fall=2,3 ft").values
    ('2 ft', '3 ft')
    """
    key, equals, told = word.partition("=")
    key, told = key.strip(), told.strip()
    if not (equals and key and told):
        raise SettingRefused(f"{word!r} says no setting with values", remedy=_HOW)
    spanned = _RANGE.fullmatch(told)
    values = _steps(key, spanned) if spanned else _listed(key, told.split(","))
    if len(set(values)) < len(values):
        raise SettingRefused(f"{key}: a value stands there twice", remedy="name each value once")
    return Axis(key=key, values=values)


def _listed(key: str, parts: Sequence[str]) -> tuple[Any, ...]:
    if any(not part.strip() for part in parts):
        raise SettingRefused(f"{key}: a value is empty", remedy=_HOW)
    last = _SPLIT.fullmatch(parts[-1])
    unit = last.group(2) if last else ""
    return tuple(_value(part, unit) for part in parts)


def _value(part: str, unit: str) -> Any:
    found = _SPLIT.fullmatch(part)
    if found is None:
        return {"true": True, "false": False}.get(part.strip(), part.strip())
    number, own = found.groups()
    return _as_setting(number, own or unit)


def _as_setting(number: str, unit: str) -> Any:
    if unit:
        return f"{number} {unit}"
    return int(number) if re.fullmatch(r"[-+]?[0-9]+", number) else float(number)


def _steps(key: str, spanned: re.Match[str]) -> tuple[Any, ...]:
    """Even steps from one end to the other, both included, without rounding on the way."""
    low, high = (_SPLIT.fullmatch(end) for end in spanned.group(1, 2))
    count = int(spanned.group(3) or _EVEN_STEPS)
    if low is None or high is None or not 2 <= count <= _MOST_VALUES:
        raise SettingRefused(
            f"{key}: {spanned.group(0)!r} is no range of 2 to {_MOST_VALUES} values", remedy=_HOW
        )
    unit = high.group(2)
    if low.group(2) not in ("", unit):
        raise SettingRefused(f"{key}: a range in two units", remedy="write both ends in one unit")
    first, last = Fraction(low.group(1)), Fraction(high.group(1))
    if first == last:
        raise SettingRefused(f"{key}: a range from a value to itself", remedy=_HOW)
    wanted = (first + (last - first) * step / (count - 1) for step in range(count))
    return tuple(_as_setting(_written(number), unit) for number in wanted)


def _written(number: Fraction) -> str:
    return str(number.numerator) if number.denominator == 1 else repr(float(number))
