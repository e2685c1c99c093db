"""Clearances and quantities as CSV (RFC 4180), safe to open in a spreadsheet.

Text comes from strangers' files: a cell that a spreadsheet would take for a formula is given a
leading apostrophe. The cautions that belong to these lists stand in plan.json.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from geo_site.plan import Plan

__all__ = ["guarded", "write_clearances", "write_quantities", "write_rows"]

_CLEARANCE = (
    "number",
    "work",
    "against",
    "kind",
    "rule",
    "rule_m",
    "uncertainty_m",
    "required_m",
    "clearance_m",
    "verdict",
    "method_of_digging",
    "reason",
    "stands_for",
)
_QUANTITY = ("group", "item", "amount", "unit", "note")
_FORMULA_STARTS = frozenset("=+-@＝＋－＠")
_SMALL = 0.1
_LAST_CONTROL = 0x1F
_DELETE_TO_C1 = range(0x7F, 0xA0)


def write_clearances(plan: Plan, path: str | Path) -> Path:
    """Write one row per work and object; lengths in metres.

    Parameters
    ----------
    plan : Plan
        With its clearances.
    path : str or Path
        Target.

    Returns
    -------
    Path
        The target.
    """
    rows = ([getattr(row, name) for name in _CLEARANCE] for row in plan.clearances)
    return write_rows(Path(path), _CLEARANCE, rows)


def write_quantities(plan: Plan, path: str | Path) -> Path:
    """Write one row per item that is moved, bought or placed, each with its unit.

    Parameters
    ----------
    plan : Plan
        With its quantities.
    path : str or Path
        Target.

    Returns
    -------
    Path
        The target.
    """
    rows = ([getattr(row, name) for name in _QUANTITY] for row in plan.quantities)
    return write_rows(Path(path), _QUANTITY, rows)


def guarded(text: str) -> str:
    """Give text that no spreadsheet takes for a formula.

    Examples
    --------
    >>> guarded("=cmd|' /C calc'!A0"), guarded("gas-12")
    ("'=cmd|' /C calc'!A0", 'gas-12')
    """
    if not text:
        return text
    first = text.lstrip(" ")[:1] or text[0]
    code = ord(first)
    if first in _FORMULA_STARTS or code <= _LAST_CONTROL or code in _DELETE_TO_C1:
        return f"'{text}"
    return text


def write_rows(path: Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> Path:
    """Write a header and rows; text guarded, numbers to four places, unknown as an empty cell.

    Parameters
    ----------
    path : Path
        Target.
    header : sequence of str
        Columns.
    rows : iterable of sequences
        Text and numbers, as many as there are columns.

    Returns
    -------
    Path
        The target.
    """
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        writer.writerow(header)
        writer.writerows([_cell(value) for value in row] for row in rows)
    return path


def _cell(value: object) -> str:
    if isinstance(value, str):
        return guarded(value)
    if isinstance(value, int | float):
        return _number(value) if math.isfinite(value) else ""
    raise TypeError(f"a cell cannot hold a {type(value).__name__}")


def _number(value: float) -> str:
    """To a ten thousandth, small ones to a millionth: a flow in m3/s is a few thousandths."""
    told = f"{value:.{4 if abs(value) >= _SMALL else 6}f}".rstrip("0").rstrip(".")
    return "0" if told == "-0" else told
