"""Metric quantities inside sentences, said again in the units of a report.

In: a sentence that a step wrote, in metric. Out: the same sentence with "2.55 m" as "8.36 ft". Only
what is surely a quantity is changed; where the sense of a number is open it stays metric, which is
never wrong. Reference: NIST SP 811 (2008), by way of `factors`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

from geo_site.units.factors import Dimension, exact_factor
from geo_site.units.formats import System

_Unit = tuple[str, str, Dimension]
_EARTH: _Unit = ("yd3", "yd\u00b3", "volume")
_WATER: _Unit = ("gal", "gal", "volume")
_US: Mapping[str, _Unit] = MappingProxyType(
    {
        "m": ("ft", "ft", "length"),
        "cm": ("in", "in", "length"),
        "mm": ("in", "in", "length"),
        "m2": ("ft2", "ft\u00b2", "area"),
        "ha": ("ac", "ac", "area"),
        "m3": _EARTH,
        "l": _WATER,
        "m3/s": ("gpm", "gpm", "flow"),
        "m3/h": ("gpm", "gpm", "flow"),
        "l/s": ("gpm", "gpm", "flow"),
        "l/min": ("gpm", "gpm", "flow"),
        "m/s": ("ft/s", "ft/s", "velocity"),
        "mm/h": ("in/h", "in/h", "velocity"),
        "mm/d": ("in/d", "in/day", "velocity"),
        "kg": ("lb", "lb", "mass"),
        "t": ("short-ton", "short ton", "mass"),
        "t/m3": ("lb/ft3", "lb/ft\u00b3", "density"),
        "kg/m3": ("lb/ft3", "lb/ft\u00b3", "density"),
    }
)
_NUMBER = r"\d+(?:\.\d+)?"
_SIGN = (
    r"(?:m3/s|m3/h|m\u00b3/s|m\u00b3/h|L/s|L/min|mm/day|mm/d|mm/h|m/s|kg/m3|kg/m\u00b3|t/m3|t/m\u00b3"
    r"|m2|m\u00b2|m3|m\u00b3|mm|cm|ha|kg|m|L|t)(?![\w/\u00b2\u00b3^*])"
)
_NOT_BEFORE = r"(?<![\w.,:/+*=-])"
_RUN = re.compile(rf"{_NOT_BEFORE}(?:({_NUMBER})( to | x ))?({_NUMBER}) ({_SIGN})")
_LISTED = re.compile(rf"(?<![\w.])({_NUMBER})(?:, | and | or | x | by )$")
_OPEN_RANGE = re.compile(rf"{_NOT_BEFORE}{_NUMBER} to {_NUMBER}(?! ?(?:%|{_SIGN})|[\d.])")
_BARE_DECIMAL = re.compile(
    rf"{_NOT_BEFORE}\d+\.\d+(?![\d.]| ?%| {_SIGN}| to {_NUMBER} | x {_NUMBER} )"
)
_ASIDE = re.compile(r" \((?:[a-z]+ )?\d[\d.]*\)")  # "0.2 m (default 1.5)"
_CLAUSE_END = re.compile(r"[;:()]|\. ")
_WET = re.compile(
    r"\b(?:water|storms?|rain|stored?|spills?|usable|runs? onto|evaporat\w*|pump\w*|pools?"
    r"|fill\w*)\b"
)
_DUG = re.compile(r"\W*(?:loose|in the bank|of (?:soil|spoil|ground)|to dig|to haul|bank)\b")
_LESS_AFTER = re.compile(r" (?:found|on the map|to the nearest|away|clear)\b")
_MORE_AFTER = re.compile(r" (?:of height are )?(?:asked|wanted|needed|required)\b")
_MORE_BEFORE = re.compile(r"\b(?:rule|position|within|at least|reaches|asked|keep)(?: by| of)? $")


@lru_cache(maxsize=4096)  # each document tells the same sentences
def in_report(text: str, system: System) -> str:
    """Say the metric quantities of a sentence in the units of a report.

    A distance that was found, or that lies on the map, is rounded down; one that is asked for, or a
    position within which a line lies, is rounded up: what is printed never makes a clearance look
    longer or a demand shorter. Everything else goes to the nearest, in steps that are no coarser
    than those of the number given. What a person wrote in other units stays. A sentence stays
    metric where a number without a unit may belong to the same list of quantities.

    Parameters
    ----------
    text : str
        A sentence of a step, with SI units (``m``, ``m2``, ``m3``, ``mm``, ``L/s`` ...).
    system : {"si", "us"}
        The report's. Metric text is given back as it is.

    Returns
    -------
    str
        The sentence; done twice, it is the same as done once.

    Examples
    --------
    >>> in_report("2.55 m found, 3.55 m asked (rule 3.05 m, position 0.50 m)", "us")
    '8.36 ft found, 11.65 ft asked (rule 10.01 ft, position 1.65 ft)'
    >>> in_report("one sheet of 6.92 x 4.92 m; bed 6.9, banks 6.1 m2", "us")
    'one sheet of 22.70 x 16.14 ft; bed 6.9, banks 6.1 m2'
    """
    if system == "si" or _OPEN_RANGE.search(text):
        return text
    said, last = [], 0
    for match in _RUN.finditer(text):
        if _is_open(text, match):
            continue
        said += [text[last : match.start()], _said(text, match)]
        last = match.end()
    return "".join([*said, text[last:]])


def _is_open(text: str, match: re.Match[str]) -> bool:
    """Whether a number near this one may be of the same unit without saying so."""
    first, joint, second, _ = match.groups()
    if _ASIDE.match(text, match.end()):
        return True
    if first and joint == " x " and not (_digits(first) == _digits(second) > 0):
        return True
    listed = None if first else _LISTED.search(text, 0, match.start())
    if listed and _digits(listed[1]) == _digits(second):
        return True
    begins = max((end.end() for end in _CLAUSE_END.finditer(text, 0, match.start())), default=0)
    return bool(_BARE_DECIMAL.search(text, begins, match.start()))


def _said(text: str, match: re.Match[str]) -> str:
    first, joint, second, sign = match.groups()
    metric = sign.lower().replace("\u00b2", "2").replace("\u00b3", "3").removesuffix("ay")
    unit, told, dimension = _US[metric]
    if metric == "m3" and _WET.search(text) and not _DUG.match(text, match.end()):
        unit, told, dimension = _WATER
    factor = exact_factor(metric, dimension) / exact_factor(unit, dimension)
    way = _way(text, match)
    numbers = [_rounded(number, factor, way) for number in (first, second) if number]
    return f"{(joint or '').join(numbers)} {told}"


def _way(text: str, match: re.Match[str]) -> int:
    """Give -1 where a number must not grow, 1 where it must not shrink, else 0."""
    if _LESS_AFTER.match(text, match.end()):
        return -1
    before = text[max(match.start() - 24, 0) : match.start()]
    return int(bool(_MORE_AFTER.match(text, match.end()) or _MORE_BEFORE.search(before)))


def _rounded(number: str, factor: Fraction, way: int) -> str:
    """Multiply exactly, and round in steps no coarser than the number's own."""
    step = Fraction(1, 10 ** _digits(number)) * factor
    digits = max(math.ceil(-math.log10(step)), 0)
    scaled = Fraction(number) * factor * 10**digits
    whole = round(scaled) if not way else math.floor(scaled) if way < 0 else math.ceil(scaled)
    if not digits:
        return str(whole)
    before, after = divmod(whole, 10**digits)
    return f"{before}.{after:0{digits}d}"


def _digits(number: str) -> int:
    return len(number.partition(".")[2])
