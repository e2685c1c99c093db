"""Depths of rain from a user's table.

In: a CSV, either as the public precipitation frequency server of the United States gives it
(lines of words with unit and place, a line ``by duration for ARI (years):, 1, 2, 5 ...`` and a
row for each duration, ``5-min:`` to ``60-day:``), or plain: a column ``duration_min`` and a
column for each return period with its unit, ``2_year_in`` or ``100_year_mm``. Out: a
:class:`~geo_site.rainfall.RainfallTable` in metres and seconds. What is missing, falls where it
must rise or has no unit is refused by row and column. Reference: NOAA Atlas 14.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from geo_site.errors import InputRefused
from geo_site.rainfall import DAY_S, RainfallTable, Rows, Series
from geo_site.readers.csv_rows import read_lines

__all__ = ["read_rainfall"]

Line = tuple[int, list[str]]

_METRES = {"inches": 0.0254, "in": 0.0254, "millimeters": 0.001, "mm": 0.001}
_SECONDS = {"min": 60.0, "hr": 3600.0, "day": DAY_S}
_BY_DURATION = "by duration for "
_DURATION = re.compile(r"([0-9]+(?:\.[0-9]+)?)[- ](min|hr|day):?")
_COLUMN = re.compile(r"([0-9]+(?:\.[0-9]+)?)_year_(in|mm)")
_DEPTH = re.compile(r"[0-9]+\.?[0-9]*|\.[0-9]+")
_PLAIN = "write duration_min, then a column for each return period as 2_year_in or 2_year_mm"
_SERVER = "give the file as the server gives it, or a plain table with a column duration_min"


def read_rainfall(path: Path, told: str) -> RainfallTable:
    """Read a table of rain depths.

    Parameters
    ----------
    path : pathlib.Path
        The table.
    told : str
        Its path as the user wrote it.

    Returns
    -------
    RainfallTable
        In metres and seconds.

    Raises
    ------
    InputRefused
        Neither form; no unit or two units; intensities; a gap, no number, a depth that is 0 or
        falls with duration or return period; a duration or return period out of order.
    """
    lines = read_lines(path, told)
    starts = [
        index
        for index, (_, cells) in enumerate(lines)
        if cells[0].casefold().startswith(_BY_DURATION)
    ]
    if starts:
        return _of_server(lines, starts, told)
    return _of_plain(lines, told)


@dataclass(frozen=True, kw_only=True)
class _Block:
    """One table: durations, return periods and depths."""

    title: str
    durations_s: tuple[float, ...]
    return_years: tuple[float, ...]
    depths_m: Rows

    @property
    def bound(self) -> str:
        """Which bound of the confidence interval it is; empty: none."""
        words = self.title.casefold().split()
        return next((word for word in ("lower", "upper") if word in words), "")


def _of_server(lines: list[Line], starts: list[int], told: str) -> RainfallTable:
    head = [" ".join(cell for cell in cells if cell) for _, cells in lines[: starts[0]]]
    one_m = _unit_of(head, told)
    blocks = [_block(lines, start, one_m, told) for start in starts]
    first = blocks[0]
    if first.bound:
        fault = f"the first table is the {first.bound} bound of the confidence interval"
        raise InputRefused(fault, remedy="give the estimates themselves first", file=told)
    limits, notes = _limits(first, blocks[1:])
    series = _series_of(head)
    return RainfallTable(
        durations_s=first.durations_s,
        return_years=first.return_years,
        depths_m=first.depths_m,
        series=series,
        lower_m=limits["lower"],
        upper_m=limits["upper"],
        source="; ".join(head[1:]),
        notes=(*notes, *_series_notes(series)),
    )


def _limits(first: _Block, others: Sequence[_Block]) -> tuple[dict[str, Rows], list[str]]:
    """Bounds of the confidence interval, and a note for each table that is none."""
    limits: dict[str, Rows] = {"lower": (), "upper": ()}
    notes = []
    for block in others:
        same = (block.durations_s, block.return_years) == (first.durations_s, first.return_years)
        if block.bound and same and not limits[block.bound]:
            limits[block.bound] = block.depths_m
        else:
            notes.append(f"a further table ({block.title or 'without a title'}) was not read")
    return limits, notes


def _unit_of(head: Sequence[str], told: str) -> float:
    """Metres in the unit that the lines above the table name, once and only once."""
    spoken = " ".join(head).casefold()
    if "intensity" in spoken:
        raise InputRefused(
            "this is a table of intensities", remedy="give the table of depths", file=told
        )
    named = {word for word in _METRES if f"({word})" in spoken}
    if len(named) != 1:
        found = " and ".join(sorted(named)) if named else "no unit"
        raise InputRefused(
            f"the lines above the table name {found}",
            remedy="keep the server's first line, with (inches) or (millimeters)",
            file=told,
        )
    return _METRES[named.pop()]


def _series_of(head: Sequence[str]) -> Series:
    spoken = " ".join(head).casefold()
    if "partial duration" in spoken:
        return "partial_duration"
    return "annual_maximum" if "annual maxim" in spoken else "unknown"


def _series_notes(series: Series) -> tuple[str, ...]:
    if series != "unknown":
        return ()
    return ("it is not said whether the table counts all storms or only annual maxima",)


def _block(lines: list[Line], start: int, one_m: float, told: str) -> _Block:
    number, cells = lines[start]
    years = _years(number, cells[1:], told)
    rows: list[Line] = []
    for line in lines[start + 1 :]:
        if not _DURATION.fullmatch(line[1][0].casefold()):
            break
        rows.append(line)
    if not rows:
        raise InputRefused(f"row {number}: no rows of durations follow", remedy=_SERVER, file=told)
    return _Block(
        title=" ".join(lines[start - 1][1]) if start else "",
        durations_s=_rising([(row, _seconds(cells[0])) for row, cells in rows], "duration", told),
        return_years=years,
        depths_m=_depths(rows, years, one_m, told),
    )


def _years(number: int, cells: Sequence[str], told: str) -> tuple[float, ...]:
    """Return periods: years, or chances in a year as 1/2."""
    cells = [cell for cell in cells if cell]
    found = []
    for column, cell in enumerate(cells, start=2):
        plain = cell.removeprefix("1/")
        if not _DEPTH.fullmatch(plain) or not float(plain) > 0.0:
            fault = f"row {number}, column {column}: {cell!r} is no return period in years"
            raise InputRefused(fault, remedy=_SERVER, file=told)
        found.append((number, float(plain)))
    if not found:
        raise InputRefused(f"row {number}: no return periods", remedy=_SERVER, file=told)
    return _rising(found, "return period", told)


def _seconds(cell: str) -> float:
    found = _DURATION.fullmatch(cell.casefold())
    return float(found[1]) * _SECONDS[found[2]] if found else 0.0


def _rising(found: Sequence[tuple[int, float]], what: str, told: str) -> tuple[float, ...]:
    for (_, before), (row, value) in itertools.pairwise(found):
        if not value > before:
            raise InputRefused(
                f"row {row}: a {what} does not follow a smaller one",
                remedy=f"put each {what} once, in rising order",
                file=told,
            )
    return tuple(value for _, value in found)


def _depths(rows: Sequence[Line], years: Sequence[float], one_m: float, told: str) -> Rows:
    found: list[tuple[float, ...]] = []
    for number, cells in rows:
        row = tuple(cells[1:])
        while len(row) > len(years) and not row[-1]:
            row = row[:-1]
        if len(row) != len(years):
            raise InputRefused(
                f"row {number}: {len(row)} depths for {len(years)} return periods",
                remedy="give a depth for each",
                file=told,
            )
        depths = tuple(
            one_m * _depth(number, column, cell, told) for column, cell in enumerate(row, start=2)
        )
        _refuse_falls(number, depths, found[-1] if found else None, told)
        found.append(depths)
    return tuple(found)


def _depth(row: int, column: int, cell: str, told: str) -> float:
    if not cell:
        fault, remedy = "the cell is empty", "give a depth for each"
    elif not _DEPTH.fullmatch(cell):
        fault, remedy = f"{cell[:40]!r} is not a depth", "write digits and a decimal point"
    elif not float(cell) > 0.0:
        fault, remedy = "a depth of 0", "leave out what is not known"
    else:
        return float(cell)
    raise InputRefused(f"row {row}, column {column}: {fault}", remedy=remedy, file=told)


def _refuse_falls(
    row: int, depths: Sequence[float], above: Sequence[float] | None, told: str
) -> None:
    for column, depth in enumerate(depths, start=2):
        faults = []
        if column > 2 and depth < depths[column - 3]:
            faults.append("a longer return period")
        if above is not None and depth < above[column - 2]:
            faults.append("a longer duration")
        if faults:
            raise InputRefused(
                f"row {row}, column {column}: less rain for {faults[0]}",
                remedy="correct the depth",
                file=told,
            )


def _of_plain(lines: list[Line], told: str) -> RainfallTable:
    if not lines or lines[0][1][0].casefold() != "duration_min":
        raise InputRefused(
            "neither a server's table (no line by duration for ...) nor a column duration_min",
            remedy=_PLAIN,
            file=told,
        )
    (number, header), *rows = lines
    if not rows:
        raise InputRefused("no rows under the header", remedy=_PLAIN, file=told)
    matched = [_COLUMN.fullmatch(cell.casefold()) for cell in header[1:]]
    for column, (cell, found) in enumerate(zip(header[1:], matched, strict=True), start=2):
        if not found:
            fault = f"row {number}, column {column}: {cell[:40]!r} is no return period with a unit"
            raise InputRefused(fault, remedy=_PLAIN, file=told)
    columns = [found for found in matched if found]
    units = {found[2] for found in columns}
    if len(units) != 1:
        fault = f"row {number}: columns in {' and '.join(sorted(units)) or 'no unit'}"
        raise InputRefused(fault, remedy="give all columns in one unit", file=told)
    years = _rising([(number, float(found[1])) for found in columns], "return period", told)
    durations = [(row, 60.0 * _depth(row, 1, cells[0], told)) for row, cells in rows]
    return RainfallTable(
        durations_s=_rising(durations, "duration", told),
        return_years=years,
        depths_m=_depths(rows, years, _METRES[units.pop()], told),
        notes=_series_notes("unknown"),
    )
