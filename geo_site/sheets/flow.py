"""Pages that fill from top to bottom: headings, paragraphs and lists that run on.

In: words and rows. Out: as many :class:`Sheet` as they need. Method: a block that does not fit
begins a new page; a list repeats its head there. Reference: none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from geo_site.sheets.lettering import line_height_mm, wrap_words
from geo_site.sheets.paper import GREY, INK, Frame, Lettering, Sheet

__all__ = ["Column", "Flow", "ListRow"]

_PAD_MM, _SIDE_MM = 1.0, 1.8
_HEAD_FILL = "#e6e2da"


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a list.

    Attributes
    ----------
    title : str
        At its head.
    share : float
        Of the list's width, with those of the other columns.
    align : {"left", "right"}
        Where its words stand.
    """

    title: str
    share: float
    align: Literal["left", "right"] = "left"


@dataclass(frozen=True, kw_only=True)
class ListRow:
    """One row of a list.

    Attributes
    ----------
    cells : tuple of str
        One for each column.
    fill : str
        Ground colour, ``#rrggbb``; empty: none.
    bold : bool
        Whether its words are bold.
    """

    cells: tuple[str, ...]
    fill: str = ""
    bold: bool = False


class Flow:
    """Where the next block goes.

    Parameters
    ----------
    new_sheet : callable
        Gives the next empty sheet and the room on it.
    """

    def __init__(self, new_sheet: Callable[[], tuple[Sheet, Frame]]) -> None:
        self._new_sheet = new_sheet
        self.sheet, self.room = new_sheet()
        self.top_mm = self.room.top_mm

    def turn(self) -> None:
        """Begin a new page."""
        self.sheet, self.room = self._new_sheet()
        self.top_mm = self.room.top_mm

    def need(self, height_mm: float) -> None:
        """Begin a new page unless this much is left of the present one."""
        if self.top_mm - height_mm < self.room.y_mm and self.top_mm < self.room.top_mm:
            self.turn()

    def skip(self, height_mm: float) -> None:
        """Leave an empty strip."""
        self.top_mm -= height_mm

    def heading(self, words: str, size_pt: float = 10.0, follow_mm: float = 14.0) -> None:
        """Set a heading, and keep it with what follows."""
        self.need(line_height_mm(size_pt) + follow_mm)
        self.paragraph(words, Lettering(size_pt=size_pt, bold=True))
        self.skip(0.8)

    def paragraph(self, words: str, lettering: Lettering) -> None:
        """Set a paragraph over the whole width, line by line."""
        step_mm = line_height_mm(lettering.size_pt)
        for line in wrap_words(words, self.room.width_mm, lettering.size_pt, bold=lettering.bold):
            self.need(step_mm)
            self.top_mm = self.sheet.block(
                self.room.x_mm, self.top_mm, self.room.width_mm + 1.0, line, lettering
            )

    def rows(
        self, columns: Sequence[Column], rows: Iterable[ListRow], size_pt: float = 7.0
    ) -> None:
        """Set a list, its head on every page that it reaches."""
        widths_mm = _widths(columns, self.room.width_mm)
        head = ListRow(cells=tuple(c.title for c in columns), fill=_HEAD_FILL, bold=True)
        aligns = [column.align for column in columns]
        head_mm = _height(head, widths_mm, size_pt)
        self.need(head_mm + 3.0 * line_height_mm(size_pt))
        self._row(head, widths_mm, aligns, size_pt)
        most = int((self.room.height_mm - head_mm - _PAD_MM) / line_height_mm(size_pt))
        for row in (part for whole in rows for part in _parts(whole, widths_mm, size_pt, most)):
            height_mm = _height(row, widths_mm, size_pt)
            if self.top_mm - height_mm < self.room.y_mm:
                self.turn()
                self._row(head, widths_mm, aligns, size_pt)
            self._row(row, widths_mm, aligns, size_pt)

    def _row(
        self, row: ListRow, widths_mm: list[float], aligns: Sequence[str], size_pt: float
    ) -> None:
        height_mm, x_mm = _height(row, widths_mm, size_pt), self.room.x_mm
        frame = Frame(x_mm, self.top_mm - height_mm, self.room.width_mm, height_mm)
        if row.fill:
            self.sheet.box(frame, fill=row.fill, stroke="", width_mm=0.0)
        for cell, width_mm, align in zip(row.cells, widths_mm, aligns, strict=True):
            right = align == "right"
            self.sheet.block(
                x_mm + width_mm - _SIDE_MM if right else x_mm + _SIDE_MM,
                self.top_mm - 0.5 * _PAD_MM,
                width_mm - 2.0 * _SIDE_MM,
                cell,
                Lettering(
                    size_pt=size_pt,
                    bold=row.bold,
                    colour=INK,
                    align="right" if right else "left",
                ),
            )
            x_mm += width_mm
        self.top_mm -= height_mm
        edge_mm = [self.room.x_mm, self.room.right_mm]
        self.sheet.line(edge_mm, [self.top_mm, self.top_mm], 0.1, GREY)


def _widths(columns: Sequence[Column], room_mm: float) -> list[float]:
    whole = sum(column.share for column in columns)
    return [room_mm * column.share / whole for column in columns]


def _parts(row: ListRow, widths_mm: list[float], size_pt: float, most: int) -> Iterator[ListRow]:
    """Cut a row that is taller than a page into rows that are not."""
    cells = [
        wrap_words(cell, width_mm - 2.0 * _SIDE_MM, size_pt, bold=row.bold)
        for cell, width_mm in zip(row.cells, widths_mm, strict=True)
    ]
    for first in range(0, max(len(lines) for lines in cells), most):
        part = tuple("\n".join(lines[first : first + most]) for lines in cells)
        yield replace(row, cells=part)


def _height(row: ListRow, widths_mm: list[float], size_pt: float) -> float:
    lines = max(
        len(wrap_words(cell, width_mm - 2.0 * _SIDE_MM, size_pt, bold=row.bold))
        for cell, width_mm in zip(row.cells, widths_mm, strict=True)
    )
    return lines * line_height_mm(size_pt) + _PAD_MM
