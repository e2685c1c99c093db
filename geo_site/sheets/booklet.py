"""A PDF of several pages, each with a title strip and a foot.

In: what the strip says. Out: a PDF file. Method: pages are kept until the last is drawn, so that
each can say how many there are; each page is in the outline; no day is written but the plan's own,
so the same plan gives the same bytes.
Reference: ISO 32000, by reportlab; fonts are embedded as TrueType, so words can be selected.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from geo_site.cautions import NOT_A_LOCATE
from geo_site.sheets.lettering import clip_words, font_name, width_mm
from geo_site.sheets.paper import GREY, Frame, Lettering, Paper, Sheet

__all__ = ["Booklet"]

_MARGIN_MM = 12.0
_STRIP_MM = 12.0
_FOOT_MM = 9.0


@dataclass(frozen=True, kw_only=True)
class _Strip:
    """What stands over a page: the booklet's title, the page's, and a note on the right."""

    title: str
    page: str
    note: str


class Booklet:
    """Pages of one document.

    Parameters
    ----------
    title : str
        Over every page.
    note : str
        On the right over every page: site and date, as the caller has them.
    paper : Paper
        Of every page.
    subject : str
        What kind of document this is, for its properties.
    day : datetime.date or None
        The plan's day, for its properties.
    """

    def __init__(
        self,
        title: str,
        note: str,
        paper: Paper,
        *,
        subject: str = "",
        day: datetime.date | None = None,
    ) -> None:
        self._title, self._note, self._paper = title, note, paper
        self._subject, self._day = subject, day
        self._sheets: list[tuple[Sheet, _Strip]] = []

    @property
    def sheets(self) -> tuple[Sheet, ...]:
        """The pages so far."""
        return tuple(sheet for sheet, _ in self._sheets)

    def add(self, page: str) -> tuple[Sheet, Frame]:
        """Begin a page.

        Parameters
        ----------
        page : str
            What this page shows.

        Returns
        -------
        Sheet
            To draw on.
        Frame
            The room between strip and foot.
        """
        sheet = Sheet(self._paper)
        self._sheets.append((sheet, _Strip(title=self._title, page=page, note=self._note)))
        low_mm = _MARGIN_MM + _FOOT_MM
        return sheet, Frame(
            _MARGIN_MM,
            low_mm,
            self._paper.width_mm - 2.0 * _MARGIN_MM,
            self._paper.height_mm - low_mm - _MARGIN_MM - _STRIP_MM,
        )

    def write(self, path: str | Path) -> None:
        """Write the PDF.

        Parameters
        ----------
        path : str or Path
            The file; replaced if it is there.
        """
        canvas = Canvas(str(path), invariant=1, pageCompression=1, initialFontName=font_name(False))
        canvas.setTitle(f"{self._title}: {self._note.splitlines()[0]}")
        canvas.setSubject(self._subject)
        canvas.setAuthor("")
        canvas.setCreator("geo_site")
        canvas.setDateFormatter(self._dated)
        before = ""
        for number, (sheet, strip) in enumerate(self._sheets, 1):
            scale = f", {sheet.scale_told}" if sheet.scale_told else ""
            told = f"{self._paper.told}{scale}, sheet {number} of {len(self._sheets)}"
            _draw_strip(sheet, strip)
            _draw_foot(sheet, told)
            if strip.page != before:  # a list that runs on has one entry
                canvas.bookmarkPage(f"sheet{number}")
                canvas.addOutlineEntry(strip.page, f"sheet{number}", level=0)
                before = strip.page
            sheet.render(canvas)
        with _compressed_only():
            canvas.save()

    def _dated(self, *_: int) -> str:
        """Give the plan's day as a PDF writes days, whatever the clock says; empty without one."""
        return f"D:{self._day:%Y%m%d}" if self._day else ""


@contextmanager
def _compressed_only() -> Iterator[None]:
    """Leave compressed pages as they are: spelt out in letters they are a quarter larger."""
    was = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = was


def _draw_strip(sheet: Sheet, strip: _Strip) -> None:
    right_mm = sheet.paper.width_mm - _MARGIN_MM
    top_mm = sheet.paper.height_mm - _MARGIN_MM
    half_mm = 0.5 * (right_mm - _MARGIN_MM)
    small = Lettering(size_pt=8.0, colour=GREY)
    title = clip_words(strip.title, 1.2 * half_mm, 12.0, bold=True)
    sheet.words(_MARGIN_MM, top_mm - 4.0, title, Lettering(size_pt=12.0, bold=True))
    sheet.words(_MARGIN_MM, top_mm - 8.6, clip_words(strip.page, 1.2 * half_mm, 8.0), small)
    y_mm = top_mm - 4.0
    for line in strip.note.split("\n"):
        words = clip_words(line, 0.78 * half_mm, 8.0)
        sheet.words(right_mm, y_mm, words, Lettering(size_pt=8.0, colour=GREY, align="right"))
        y_mm -= 4.6
    sheet.line([_MARGIN_MM, right_mm], [top_mm - 10.5] * 2, 0.3)


def _draw_foot(sheet: Sheet, told: str) -> None:
    right_mm = sheet.paper.width_mm - _MARGIN_MM
    sheet.line([_MARGIN_MM, right_mm], [_MARGIN_MM + 5.5] * 2, 0.2, GREY)
    room_mm = right_mm - _MARGIN_MM - width_mm(told, 7.5) - 4.0
    words = clip_words(NOT_A_LOCATE, room_mm, 7.5, bold=True)
    sheet.words(_MARGIN_MM, _MARGIN_MM + 1.5, words, Lettering(size_pt=7.5, bold=True))
    sheet.words(
        right_mm, _MARGIN_MM + 1.5, told, Lettering(size_pt=7.5, colour=GREY, align="right")
    )
