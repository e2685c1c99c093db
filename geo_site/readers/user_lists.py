"""The user's tables without geometry, as far as the site file names them.

In: ``[inputs.pumps]``, ``[inputs.prices]`` and ``[inputs.rainfall]``. Out: curves, prices and
depths of rain, and a record of each file.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from geo_site.prices import PriceList
from geo_site.pumps import PumpCurve
from geo_site.rainfall import RainfallTable
from geo_site.readers.document import Document
from geo_site.readers.guards import modified_on, safe_path, sha256_of
from geo_site.readers.price_files import read_prices
from geo_site.readers.pump_files import read_pumps
from geo_site.readers.rainfall_files import read_rainfall
from geo_site.site import InputRecord

__all__ = ["UserLists", "list_record", "read_user_lists"]


@dataclass(frozen=True, kw_only=True)
class UserLists:
    """What the user's tables hold.

    Attributes
    ----------
    pumps : tuple of PumpCurve
        Empty where none are given.
    prices : PriceList or None
        None where none are given.
    rainfall : RainfallTable or None
        None where none is given.
    records : tuple of InputRecord
        Of each file read.
    """

    pumps: tuple[PumpCurve, ...]
    prices: PriceList | None
    rainfall: RainfallTable | None
    records: tuple[InputRecord, ...]


def read_user_lists(document: Document) -> UserLists:
    """Read the tables that a site file names.

    Parameters
    ----------
    document : Document
        The site file.

    Returns
    -------
    UserLists
        Nothing where nothing is named.

    Raises
    ------
    InputRefused
        A file that cannot be used: by row and column.
    """
    pumps: tuple[PumpCurve, ...] = ()
    prices: PriceList | None = None
    rainfall: RainfallTable | None = None
    records: list[InputRecord] = []
    if document.pumps is not None:
        told = document.pumps.path
        path = safe_path(told, document.folder, name="pumps")
        pumps = read_pumps(path, told, one_point=document.pumps.one_point)
        records.append(list_record("pumps", path, told, len(pumps), _assumed(pumps)))
    if document.prices is not None:
        told = document.prices.path
        path = safe_path(told, document.folder, name="prices")
        prices = read_prices(path, told)
        records.append(list_record("prices", path, told, len(prices.prices)))
    if document.rainfall is not None:
        told = document.rainfall.path
        path = safe_path(told, document.folder, name="rainfall")
        rainfall = read_rainfall(path, told)
        records.append(
            list_record("rainfall", path, told, len(rainfall.durations_s), rainfall.notes)
        )
    return UserLists(pumps=pumps, prices=prices, rainfall=rainfall, records=tuple(records))


def _assumed(pumps: tuple[PumpCurve, ...]) -> tuple[str, ...]:
    return tuple(
        f"{pump.name}: one point was given, its curve is assumed"
        for pump in pumps
        if pump.is_assumed
    )


def list_record(
    name: str, path: Path, told: str, count: int, notes: tuple[str, ...] = ()
) -> InputRecord:
    """Make the record of a table without geometry.

    Parameters
    ----------
    name : str
        Which input.
    path : pathlib.Path
        The file.
    told : str
        Its path as the user wrote it.
    count : int
        What was read of it.
    notes : tuple of str
        What was assumed, a sentence each.

    Returns
    -------
    InputRecord
        Without CRS, unit and extent.
    """
    return InputRecord(
        name=name,
        path=told,
        sha256=sha256_of(path),
        crs="",
        unit="",
        count=count,
        extent=(math.nan, math.nan, math.nan, math.nan),
        modified=modified_on(path),
        notes=notes,
    )
