"""How wide words are on paper, and where they break.

In: words, a size, a width. Out: widths in millimetres, lines that fit. Method: the advance widths
of the font that the page is set in: a free one that comes with a library of ours, so that every
machine sets the same page; it is embedded in the document. A letter that it does not have is told
by its number in Unicode, never left out: two names must not look alike. Reference: none.
"""

from __future__ import annotations

import re
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

__all__ = [
    "MM_PER_POINT",
    "clip_words",
    "font_name",
    "line_height_mm",
    "pinch_words",
    "settable",
    "width_mm",
    "wrap_words",
]

MM_PER_POINT = 25.4 / 72.0
_LEADING = 1.32
# Hebrew, Arabic and their neighbours, with the spaces between such words.
_RIGHT_TO_LEFT = re.compile(
    "[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc](?:[\u0590-\u08ff\ufb1d-\ufefc ]*"
    "[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc])?"
)
_ELLIPSIS = "\u2026"
_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}


@lru_cache(maxsize=2)
def font_name(bold: bool) -> str:
    """Give the name under which the font is known to the page, loading it once.

    Parameters
    ----------
    bold : bool
        Which weight.

    Returns
    -------
    str
        Its name.
    """
    spec = find_spec("matplotlib")
    if spec is None or spec.origin is None:  # it is a dependency: this is a broken installation
        raise FileNotFoundError("the font of the documents is not installed")
    fonts = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"
    font = TTFont(_FILES[bold].removesuffix(".ttf"), str(fonts / _FILES[bold]))
    pdfmetrics.registerFont(font)
    return str(font.fontName)


@lru_cache(maxsize=65536)
def settable(words: str, bold: bool = False) -> str:
    """Tell each letter that the font does not have, or that cannot be printed, by its number.

    Words that are read from right to left are set in that order; their letters stand unjoined.

    Parameters
    ----------
    words : str
        One line.
    bold : bool
        Which weight.

    Returns
    -------
    str
        Words that can be set.

    Examples
    --------
    >>> settable("Ä ж 水")
    'Ä ж [U+6C34]'
    """
    has = pdfmetrics.getFont(font_name(bold)).face.charToGlyph
    if words.isascii() and words.isprintable() and has.keys() >= set(map(ord, words)):
        return words
    turned = words if words.isascii() else _RIGHT_TO_LEFT.sub(lambda run: run[0][::-1], words)
    return "".join(
        letter if ord(letter) in has and letter.isprintable() else f"[U+{ord(letter):04X}]"
        for letter in turned
    )


@lru_cache(maxsize=65536)
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
    wide_pt = pdfmetrics.stringWidth(settable(words, bold), font_name(bold), size_pt)
    return float(wide_pt) * MM_PER_POINT


def line_height_mm(size_pt: float) -> float:
    """Give the distance from one line of text to the next."""
    return size_pt * MM_PER_POINT * _LEADING


@lru_cache(maxsize=16384)
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
    space_mm = width_mm(" ", size_pt, bold=bold)
    for paragraph in words.split("\n"):
        line, taken_mm = "", 0.0
        for word in paragraph.split():
            # Advances add up: a word is measured once, not with each line that it is tried in.
            word_mm = width_mm(word, size_pt, bold=bold)
            longer_mm = taken_mm + space_mm + word_mm if line else word_mm
            if longer_mm <= room_mm:
                line, taken_mm = (f"{line} {word}" if line else word), longer_mm
                continue
            if line:
                lines.append(line)
            *full, line = _broken(word, room_mm, size_pt, bold) if word_mm > room_mm else [word]
            taken_mm = width_mm(line, size_pt, bold=bold)
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


def pinch_words(words: str, room_mm: float, size_pt: float, *, bold: bool = False) -> str:
    """Cut a line of words to a width by leaving out its middle: long names differ at their ends.

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
        The words, or their beginning, an ellipsis and their end.

    Examples
    --------
    >>> pinch_words("line 7", 100.0, 8.0), pinch_words("a" * 60 + " 12", 20.0, 8.0)[-4:]
    ('line 7', 'a 12')
    """
    flat = " ".join(words.split())
    kept = len(flat)
    told = flat
    while kept > 2 and width_mm(told, size_pt, bold=bold) > room_mm:
        kept -= 1
        told = flat[: (kept + 1) // 2] + _ELLIPSIS + flat[len(flat) - kept // 2 :]
    return told
