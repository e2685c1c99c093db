"""Prices from a user's table.

In: a CSV with a row for each item: ``item``, ``unit``, ``price``, and where they are wanted
``currency`` and ``note``. Out: a :class:`~geo_site.prices.PriceList`, each price for one SI unit:
a price per cubic yard becomes one per cubic metre by the exact factor.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from geo_site import units
from geo_site.errors import InputRefused
from geo_site.prices import Price, PriceList, plain_name
from geo_site.readers.csv_rows import CsvRow, number_in, read_rows, refuse_cell
from geo_site.units import Dimension

__all__ = ["PRICE_UNITS", "read_prices"]

PRICE_UNITS: Mapping[str, tuple[str, Dimension | None]] = MappingProxyType(
    {
        "m": ("m", "length"),
        "ft": ("m", "length"),
        "yd": ("m", "length"),
        "m2": ("m2", "area"),
        "ft2": ("m2", "area"),
        "yd2": ("m2", "area"),
        "m3": ("m3", "volume"),
        "yd3": ("m3", "volume"),
        "ft3": ("m3", "volume"),
        "l": ("m3", "volume"),
        "gal": ("m3", "volume"),
        "t": ("t", "mass"),
        "kg": ("t", "mass"),
        "lb": ("t", "mass"),
        "short-ton": ("t", "mass"),
        "count": ("count", None),
        "kwh": ("kWh", None),
    }
)
"""Units that a price may be for: the SI unit that it becomes one of, and what it measures."""

_TONNE_KG = 1000.0
_COLUMNS = ("item", "unit", "price", "currency", "note")
_NEEDED = _COLUMNS[:3]


def read_prices(path: Path, told: str) -> PriceList:
    """Read a list of prices.

    Parameters
    ----------
    path : pathlib.Path
        The table.
    told : str
        Its path as the user wrote it.

    Returns
    -------
    PriceList
        In the order of the table, one currency.

    Raises
    ------
    InputRefused
        A column that is unknown or missing; a cell that is empty, no number or negative; an
        unknown unit; an item twice; two currencies.
    """
    columns, rows = read_rows(path, told)
    for column in columns:
        if column not in _COLUMNS:
            raise InputRefused(
                f"row 1: unknown column {column}",
                remedy=f"valid: {', '.join(_COLUMNS)}",
                file=told,
            )
    for column in _NEEDED:
        if column not in columns:
            raise InputRefused(f"row 1: no column {column}", remedy="add it", file=told)
    prices: dict[str, Price] = {}
    for row in rows:
        price = _price(row, told)
        if plain_name(price.item) in prices:
            raise refuse_cell(row, "item", f"{price.item} stands twice", "keep one", told)
        prices[plain_name(price.item)] = price
    return PriceList(prices=tuple(prices.values()), currency=_currency(rows, told))


def _price(row: CsvRow, told: str) -> Price:
    item, unit = row.cells["item"], row.cells["unit"]
    if not item:
        raise refuse_cell(row, "item", "the cell is empty", "name the item", told)
    key = unit.casefold().replace("\u00b2", "2").replace("\u00b3", "3")
    if key not in PRICE_UNITS:
        valid = ", ".join(PRICE_UNITS)
        raise refuse_cell(row, "unit", f"{unit!r} is not a unit of a price", f"use {valid}", told)
    si, dimension = PRICE_UNITS[key]
    price = number_in(row, "price", told)
    factor = 1.0 if dimension is None else units.unit_factor(key, dimension)
    if dimension == "mass":
        factor /= _TONNE_KG
    return Price(
        item=item,
        unit=si,
        price=price / factor,
        told=f"{row.cells['price']} per {unit}",
        note=row.cells.get("note", ""),
    )


def _currency(rows: tuple[CsvRow, ...], told: str) -> str:
    """The one currency of the list; prices in two are not added up."""
    first = rows[0].cells.get("currency", "")
    for row in rows:
        found = row.cells.get("currency", "")
        if found != first:
            fault = f"{found!r} after {first!r}"
            raise refuse_cell(row, "currency", fault, "give all prices in one currency", told)
    return first
