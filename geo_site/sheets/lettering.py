"""How wide words are on paper, and where they break.

In: words, a size, a width. Out: widths in millimetres, lines that fit. Method: the advance widths
of the font that the page is set in. Reference: none.
"""

from __future__ import annotations

from functools import lru_cache

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextToPath

__all__ = ["FAMILY", "MM_PER_POINT", "clip_words", "line_height_mm", "width_mm", "wrap_words"]

FAMILY = "DejaVu Sans"
"""A free font that comes with the drawing library, so that every machine draws the same page."""

MM_PER_POINT = 25.4 / 72.0
_LEADING = 1.32
_MEASURED_PT = 12.0
_ELLIPSIS = "\u2026"
_METRICS = TextToPath()


@lru_cache(maxsize=8192)
def _width_at_12_pt(words: str, bold: bool) -> float:
    font = FontProperties(family=FAMILY, size=_MEASURED_PT, weight="bold" if bold else "normal")
    width_pt, _, _ = _METRICS.get_text_width_height_descent(words, font, ismath=False)
    return float(width_pt) * MM_PER_POINT


def width_mm(words: str, size_pt: float, *, bold: bool = False) -> float:
    """Give the width of one line of words.

    Parameters
    ----------
    words : str
        No line breaks.
    size_pt : float
        Size of the letters.
    bold : bool
        Whether they are bold.

    Returns
    -------
    float
        Millimetres; in proportion to the size.

    Examples
    --------
    >>> width_mm("ii", 8.0) < width_mm("WW", 8.0) < width_mm("WW", 9.0)
    True
    """
    return _width_at_12_pt(words, bold) * size_pt / _MEASURED_PT if words else 0.0


def line_height_mm(size_pt: float) -> float:
    """Give the distance from one line of text to the next."""
    return size_pt * MM_PER_POINT * _LEADING


def wrap_words(
    words: str, room_mm: float, size_pt: float, *, bold: bool = False
) -> tuple[str, ...]:
    """Break words into lines that fit.

    Parameters
    ----------
    words : str
        Text; line breaks in it are kept.
    room_mm : float
        Greatest width of a line.
    size_pt : float
        Size of the letters.
    bold : bool
        Whether they are bold.

    Returns
    -------
    tuple of str
        At least one line. A word longer than a line is broken where the line ends.

    Examples
    --------
    >>> wrap_words("one two", 1000.0, 8.0), len(wrap_words("x" * 100, 20.0, 8.0)) > 3
    (('one two',), True)
    """
    lines: list[str] = []
    for paragraph in words.split("\n"):
        line = ""
        for word in paragraph.split():
            longer = f"{line} {word}" if line else word
            if width_mm(longer, size_pt, bold=bold) <= room_mm:
                line = longer
                continue
            if line:
                lines.append(line)
            *full, line = _broken(word, room_mm, size_pt, bold)
            lines.extend(full)
        lines.append(line)
    return tuple(lines)


def _broken(word: str, room_mm: float, size_pt: float, bold: bool) -> list[str]:
    """Cut one word into pieces that fit; a single letter always stands."""
    pieces, piece = [], ""
    for letter in word:
        if piece and width_mm(piece + letter, size_pt, bold=bold) > room_mm:
            pieces.append(piece)
            piece = ""
        piece += letter
    return [*pieces, piece]


def clip_words(words: str, room_mm: float, size_pt: float, *, bold: bool = False) -> str:
    """Cut a line of words to a width, and show that it was cut.

    Parameters
    ----------
    words : str
        One line.
    room_mm : float
        Greatest width.
    size_pt : float
        Size of the letters.
    bold : bool
        Whether they are bold.

    Returns
    -------
    str
        The words, or their beginning and an ellipsis.

    Examples
    --------
    >>> clip_words("short", 100.0, 8.0)
    'short'
    """
    flat = " ".join(words.split())
    if width_mm(flat, size_pt, bold=bold) <= room_mm:
        return flat
    while flat and width_mm(flat + _ELLIPSIS, size_pt, bold=bold) > room_mm:
        flat = flat[:-1]
    return flat + _ELLIPSIS
