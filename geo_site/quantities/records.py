"""One row of the list of quantities."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Quantity"]


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """One row of the list.

    Attributes
    ----------
    group : str
        ``earth``, ``basin``, ``stream`` or ``water``.
    item : str
        What; a price is found by it.
    amount : float
        How much, SI.
    unit : str
        ``m``, ``m2``, ``m3``, ``t`` or ``count``.
    note : str
        How it was found, and its state (bank, loose, compacted).
    is_cost : bool
        False for what is told besides, and costs nothing that another row does not hold.
    """

    group: str
    item: str
    amount: float
    unit: str
    note: str
    is_cost: bool = True
