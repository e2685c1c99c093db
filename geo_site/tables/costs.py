"""The cost sheet as CSV, safe to open in a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from geo_site.costs import CostSheet, Subtotal
from geo_site.tables.lists import write_rows

__all__ = ["COST_COLUMNS", "write_costs"]

COST_COLUMNS = (
    "group",
    "item",
    "amount",
    "unit",
    "price",
    "cost",
    "currency",
    "state",
    "note",
)
"""Columns of ``costs.csv``; amounts and prices are SI."""

_EMPTY = float("nan")


def write_costs(sheet: CostSheet, path: str | Path) -> Path:
    """Write one row per item, a subtotal for each group, and the total.

    Parameters
    ----------
    sheet : CostSheet
        Worked out at the user's prices.
    path : str or Path
        Target.

    Returns
    -------
    Path
        The target. A sum that leaves something out has the state ``incomplete``; prices that no
        item has asked for stand at the end with the state ``unused``.
    """
    return write_rows(Path(path), COST_COLUMNS, _rows(sheet))


def _rows(sheet: CostSheet) -> Iterator[tuple[object, ...]]:
    for subtotal in sheet.subtotals:
        for row in sheet.rows:
            if row.group == subtotal.group:
                numbers = (row.amount, row.unit, row.price, row.cost)
                yield (row.group, row.item, *numbers, sheet.currency, row.state, row.note)
        yield _sum(subtotal, "subtotal", sheet)
    yield _sum(sheet.total, "total", sheet)
    for item in sheet.unused:
        yield ("", item, _EMPTY, "", _EMPTY, _EMPTY, sheet.currency, "unused", "")


def _sum(sum_of: Subtotal, name: str, sheet: CostSheet) -> tuple[object, ...]:
    unpriced = [row for row in sheet.rows if row.item in sheet.unpriced]
    missing = [row.item for row in unpriced if sum_of is sheet.total or row.group == sum_of.group]
    state = "complete" if sum_of.is_complete else "incomplete"
    note = f"without a price: {', '.join(missing)}" if missing else ""
    group = "" if sum_of is sheet.total else sum_of.group
    return (group, name, _EMPTY, "", _EMPTY, sum_of.cost, sheet.currency, state, note)
