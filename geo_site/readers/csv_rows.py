"""A user's table as text (CSV), row by row: what stands where, and what may not.

In: a path that the guards let pass. Out: rows of cells by column, with the number of their line
in the file. Every fault is told by file, row and column. Cells are text or plain decimal
numbers; nothing in them is ever evaluated. Reference: RFC 4180.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from geo_site.errors import InputRefused

__all__ = ["CsvRow", "number_in", "read_lines", "read_rows", "refuse_cell"]

_MOST_BYTES = 4 * 1024**2  # a list of pumps or prices is a few kB
_MOST_ROWS = 20_000
_LONGEST_CELL = 2000
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")


@dataclass(frozen=True, kw_only=True)
class CsvRow:
    """One row of a table.

    Attributes
    ----------
    line : int
        Of the file, the header is 1.
    cells : mapping of str to str
        By column, without spaces at the ends.
    """

    line: int
    cells: Mapping[str, str]


def read_rows(path: Path, told: str) -> tuple[tuple[str, ...], tuple[CsvRow, ...]]:
    """Read a table with a header.

    Parameters
    ----------
    path : pathlib.Path
        A plain file.
    told : str
        Its path as the user wrote it.

    Returns
    -------
    tuple of str
        The columns, lower case.
    tuple of CsvRow
        Rows that are not empty.

    Raises
    ------
    InputRefused
        Not a table as text, too large, no header or no rows, a column twice or without a name,
        a row with more or fewer cells than the header.
    """
    lines = read_lines(path, told)
    if not lines:
        raise InputRefused("the table is empty", remedy="write a header and rows", file=told)
    (number, header), *rest = lines
    columns = tuple(cell.casefold() for cell in header)
    twice = sorted({column for column in columns if columns.count(column) > 1})
    if twice or "" in columns:
        fault = f"column {twice[0]} stands twice" if twice and twice[0] else "a column has no name"
        raise InputRefused(f"row {number}: {fault}", remedy="name each column once", file=told)
    if not rest:
        raise InputRefused("no rows under the header", remedy="write one row each", file=told)
    return columns, tuple(_row(line, cells, columns, told) for line, cells in rest)


def read_lines(path: Path, told: str) -> list[tuple[int, list[str]]]:
    """Read the lines of a table, whatever stands in them.

    Parameters
    ----------
    path : pathlib.Path
        A plain file.
    told : str
        Its path as the user wrote it.

    Returns
    -------
    list of (int, list of str)
        Number of the line in the file, and its cells without spaces at the ends; empty lines
        are left out.

    Raises
    ------
    InputRefused
        Not a table as text, or too large.
    """
    if path.stat().st_size > _MOST_BYTES:
        fault = f"the file is larger than the {_MOST_BYTES >> 20} MiB that a table may have"
        raise InputRefused(fault, remedy="give the table alone", file=told)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise InputRefused(
            "the text is not UTF-8", remedy="save it as CSV, UTF-8", file=told
        ) from None
    except OSError as fault:
        raise InputRefused(
            f"the file cannot be read ({fault.strerror})", remedy="allow reading", file=told
        ) from None
    if "\x00" in text:
        raise InputRefused("this is no text", remedy="save the table as CSV", file=told)
    reader = csv.reader(text.splitlines(keepends=True), strict=True)
    try:
        found = [(reader.line_num, [cell.strip() for cell in cells]) for cells in reader]
    except csv.Error:
        raise InputRefused(
            f"row {reader.line_num}: a quoted cell is not closed, or text follows its quote",
            remedy="save the table as CSV again",
            file=told,
        ) from None
    kept = [(line, cells) for line, cells in found if any(cells)]
    if len(kept) > _MOST_ROWS:
        raise InputRefused(
            f"the table has more than {_MOST_ROWS} rows", remedy="give fewer", file=told
        )
    return kept


def _row(line: int, cells: Sequence[str], columns: Sequence[str], told: str) -> CsvRow:
    if len(cells) != len(columns):
        raise InputRefused(
            f"row {line}: {len(cells)} cells, the header has {len(columns)}",
            remedy="separate cells by commas, and quote a cell that holds one",
            file=told,
        )
    row = CsvRow(line=line, cells=dict(zip(columns, cells, strict=True)))
    for column, cell in row.cells.items():
        if len(cell) > _LONGEST_CELL or not cell.isprintable():
            raise refuse_cell(row, column, "this is no plain text", "write one short line", told)
    return row


def number_in(row: CsvRow, column: str, told: str) -> float:
    """Read a cell as a number that is at least 0.

    Parameters
    ----------
    row : CsvRow
        The row.
    column : str
        One of its columns.
    told : str
        The file, for the message.

    Returns
    -------
    float
        As written, in the column's own unit.

    Raises
    ------
    InputRefused
        The cell is empty, no plain number, or negative.
    """
    cell = row.cells[column]
    if not cell:
        raise refuse_cell(row, column, "the cell is empty", "write the number, or 0", told)
    if not _NUMBER.fullmatch(cell) or not math.isfinite(float(cell)):
        remedy = "write digits with a decimal point, nothing else"
        raise refuse_cell(row, column, f"{_shown(cell)} is not a number", remedy, told)
    if float(cell) < 0.0:
        raise refuse_cell(row, column, f"{cell} is negative", "write a number of at least 0", told)
    return abs(float(cell))


def refuse_cell(row: CsvRow, column: str, fault: str, remedy: str, told: str) -> InputRefused:
    """Make the refusal of one cell.

    Parameters
    ----------
    row : CsvRow
        Where it stands.
    column : str
        Its column.
    fault, remedy : str
        What is wrong, what would be right.
    told : str
        The file.

    Returns
    -------
    InputRefused
        To be raised.
    """
    return InputRefused(f"row {row.line}, column {column}: {fault}", remedy=remedy, file=told)


def _shown(cell: str) -> str:
    return repr(cell if len(cell) <= 40 else f"{cell[:37]}...")
