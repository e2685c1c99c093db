"""What things cost, as the user says: a list of prices, and how one is found in it.

Question
    What does one unit of this item cost?
In
    The user's prices, each for one SI unit (the reader brings yards and tons to metres and
    tonnes).
Out
    A price, or the reason why there is none. No price is assumed.
Method
    Items are found by name, upper or lower case and spaces aside; units must be the same.
Reference
    None: prices are the user's.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

__all__ = ["Price", "PriceList", "plain_name"]


@dataclass(frozen=True, kw_only=True)
class Price:
    """What one item costs.

    Attributes
    ----------
    item : str
        As the user wrote it.
    unit : str
        ``m``, ``m2``, ``m3``, ``t``, ``count`` or ``kWh``.
    price : float
        Money for one of that unit, at least 0.
    told : str
        As the user wrote it, with the user's unit.
    note : str
        The user's.
    """

    item: str
    unit: str
    price: float
    told: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class PriceList:
    """Prices in one currency.

    Attributes
    ----------
    prices : tuple of Price
        As the user gave them; each item once.
    currency : str
        As the user wrote it, else "".
    """

    prices: tuple[Price, ...]
    currency: str = ""

    @cached_property
    def _by_name(self) -> Mapping[str, Price]:
        """The first price of each name."""
        return {plain_name(price.item): price for price in reversed(self.prices)}

    def find(self, item: str) -> Price | None:
        """Find the price of an item by its name; None where it has none."""
        return self._by_name.get(plain_name(item))

    def price_of(self, item: str, unit: str) -> float:
        """Money for one unit of an item; NaN where it has none, or one by another unit."""
        found = self.find(item)
        return found.price if found is not None and found.unit == unit else math.nan


def plain_name(item: str) -> str:
    """Give an item's name as it is compared: lower case, one space between words.

    Parameters
    ----------
    item
        As somebody wrote it.

    Returns
    -------
    str
        The same for every way to write it.

    Examples
    --------
    >>> plain_name("  Pipe   2 in")
    'pipe 2 in'
    """
    return " ".join(item.casefold().split())
