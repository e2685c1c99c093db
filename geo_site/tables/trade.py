"""Amounts as the trade buys them: cubic yards, short tons, gallons, beside the SI amount."""

from __future__ import annotations

from dataclasses import replace

from geo_site.quantities import Quantity
from geo_site.units import (
    System,
    format_area,
    format_length,
    format_liquid,
    format_mass,
    format_volume,
)

__all__ = ["in_trade_units", "trade_amount"]

_TONNE_KG = 1000.0
_WATER_ITEMS = frozenset({"first fill"})


def trade_amount(row: Quantity, system: System) -> str:
    """Say an amount in the units of a document.

    Parameters
    ----------
    row : Quantity
        SI.
    system : {"us", "si"}
        How the document speaks.

    Returns
    -------
    str
        Number and unit; "" for a count, and for an amount that is SI anyway.

    Examples
    --------
    >>> stone = Quantity(group="stream", item="bed stone", amount=4.2, unit="t", note="")
    >>> trade_amount(stone, "us"), trade_amount(stone, "si")
    ('4.6 short ton', '')
    """
    if system == "si":
        return ""
    if row.unit == "m3":
        liquid = row.item in _WATER_ITEMS
        return (format_liquid if liquid else format_volume)(row.amount, system)
    if row.unit == "t":
        return format_mass(row.amount * _TONNE_KG, system)
    if row.unit == "m2":
        return format_area(row.amount, system)
    return format_length(row.amount, system) if row.unit == "m" else ""


def in_trade_units(row: Quantity, system: System) -> Quantity:
    """Put an amount in trade units at the head of a row's note.

    Parameters
    ----------
    row : Quantity
        SI.
    system : {"us", "si"}
        How the document speaks.

    Returns
    -------
    Quantity
        Its amount and unit unchanged.
    """
    told = trade_amount(row, system)
    return replace(row, note=f"{told}; {row.note}" if told else row.note)
