"""What a plan costs at the user's prices.

Question
    What do the listed amounts cost, and what of them has no price?
In
    Rows of quantities, SI, and the user's prices for one SI unit each.
Out
    :class:`CostSheet`.
Method
    Amount times price, found by name; a price for another unit is not used (a cubic metre is not
    a tonne). Nothing is guessed: what has no price is listed, and the total says that it is not
    complete.
Reference
    None: arithmetic.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from geo_site.prices import Price, PriceList, plain_name

__all__ = ["CostRow", "CostSheet", "Countable", "Subtotal", "cost_sheet"]

State = Literal["priced", "no price", "other unit", "unknown amount", "none needed", "no cost"]


class Countable(Protocol):
    """A row of a list of quantities."""

    @property
    def group(self) -> str:
        """Which part of the work."""

    @property
    def item(self) -> str:
        """What."""

    @property
    def amount(self) -> float:
        """How much."""

    @property
    def unit(self) -> str:
        """In which SI unit."""

    @property
    def is_cost(self) -> bool:
        """Whether it needs a price for the sum to be complete."""


@dataclass(frozen=True, kw_only=True)
class CostRow:
    """What one item costs.

    Attributes
    ----------
    group, item : str
        As listed.
    amount : float
        How much.
    unit : str
        SI.
    price : float
        For one of that unit; NaN where there is none that can be used.
    cost : float
        Amount times price; NaN where it is not known.
    state : {"priced", "no price", "other unit", "unknown amount", "none needed", "no cost"}
        Why; ``no cost`` is told besides, and priced only where the user prices it.
    note : str
        The price as the user wrote it, and the user's note.
    """

    group: str
    item: str
    amount: float
    unit: str
    price: float
    cost: float
    state: State
    note: str


@dataclass(frozen=True, kw_only=True)
class Subtotal:
    """What one group costs, as far as it has prices.

    Attributes
    ----------
    group : str
        Which.
    cost : float
        Sum of its known costs.
    is_complete : bool
        Whether every item of it has a cost.
    """

    group: str
    cost: float
    is_complete: bool


@dataclass(frozen=True, kw_only=True)
class CostSheet:
    """What a plan costs, as far as it has prices.

    Attributes
    ----------
    rows : tuple of CostRow
        In the order of the quantities.
    subtotals : tuple of Subtotal
        By group, in the same order.
    total : Subtotal
        Of all, its group ``total``.
    currency : str
        The user's; "" where it is not told.
    unpriced : tuple of str
        Items without a cost.
    unused : tuple of str
        Prices that no item has asked for, energy aside: a name that was meant otherwise, or
        nothing of it to buy.
    """

    rows: tuple[CostRow, ...]
    subtotals: tuple[Subtotal, ...]
    total: Subtotal
    currency: str
    unpriced: tuple[str, ...]
    unused: tuple[str, ...]


def cost_sheet(quantities: Sequence[Countable], prices: PriceList) -> CostSheet:
    """Work out what listed amounts cost.

    Parameters
    ----------
    quantities : sequence of Countable
        Group, item, amount and SI unit each.
    prices : PriceList
        The user's.

    Returns
    -------
    CostSheet
        Sums leave out what has no cost, and say that they do.

    Examples
    --------
    >>> from types import SimpleNamespace as Row
    >>> listed = [Row(group="basin", item="liner", amount=20.0, unit="m2", is_cost=True),
    ...           Row(group="basin", item="gravel", amount=3.0, unit="m3", is_cost=True)]
    >>> sheet = cost_sheet(listed, PriceList(prices=(Price(item="Liner", unit="m2", price=8.0),)))
    >>> sheet.total.cost, sheet.total.is_complete, sheet.unpriced
    (160.0, False, ('gravel',))
    """
    rows = tuple(_row(listed, prices.find(listed.item)) for listed in quantities)
    groups = dict.fromkeys(row.group for row in rows)
    asked = {plain_name(row.item) for row in rows}
    return CostSheet(
        rows=rows,
        subtotals=tuple(_sum(group, [r for r in rows if r.group == group]) for group in groups),
        total=_sum("total", rows),
        currency=prices.currency,
        unpriced=tuple(row.item for row in rows if math.isnan(row.cost)),
        unused=tuple(
            price.item
            for price in prices.prices
            if price.unit != "kWh" and plain_name(price.item) not in asked
        ),
    )


def _row(listed: Countable, price: Price | None) -> CostRow:
    state = _state(listed, price)
    usable = price is not None and price.unit == listed.unit
    each = price.price if price is not None and usable else math.nan
    cost = listed.amount * each
    if state in ("none needed", "no cost"):
        cost = 0.0
    return CostRow(
        group=listed.group,
        item=listed.item,
        amount=listed.amount,
        unit=listed.unit,
        price=each,
        cost=cost,
        state=state,
        note="" if price is None else "; ".join(part for part in (price.told, price.note) if part),
    )


def _state(listed: Countable, price: Price | None) -> State:
    if listed.amount == 0.0:
        return "none needed"
    if price is None:
        return "no price" if listed.is_cost else "no cost"
    if price.unit != listed.unit:
        return "other unit"
    return "unknown amount" if math.isnan(listed.amount) else "priced"


def _sum(group: str, rows: Sequence[CostRow]) -> Subtotal:
    known = [row.cost for row in rows if not math.isnan(row.cost)]
    return Subtotal(group=group, cost=math.fsum(known), is_complete=len(known) == len(rows))
