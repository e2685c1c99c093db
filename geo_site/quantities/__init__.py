"""What is moved, bought and placed, as a list.

Question
    How much of everything?
In
    Earthwork, water, basin and stream of a plan, :class:`QuantityParameters`.
Out
    Rows of item, amount, unit and a note that says how the amount was found.
Method
    Plain sums of what the floors below worked out; loose and bank volumes are never added to
    each other. SI: a door says them in the trade's units.
Reference
    None: geometry, and settings whose sources are told with them.
"""

from geo_site.quantities.liner import BasinSheet, StreamLiner, basin_sheet, stream_liner
from geo_site.quantities.listing import list_quantities
from geo_site.quantities.records import Quantity
from geo_site.quantities.settings import QuantityParameters

__all__ = [
    "BasinSheet",
    "Quantity",
    "QuantityParameters",
    "StreamLiner",
    "basin_sheet",
    "list_quantities",
    "stream_liner",
]
