"""Words as a page may show them: names come from strangers, and some letters steer what follows.

In: any text. Out: text in which what steers is written out. Method: controls, direction overrides
and broken characters are shown by their code; letters of every script stay, and so do the marks
that right-to-left names need. Reference: Unicode Standard Annex 9 (bidirectional text).
"""

from __future__ import annotations

import unicodedata
from typing import Any

__all__ = ["phrase", "shown", "shown_all"]

_STEERING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")
_HIDDEN = frozenset({"Cc", "Cs", "Co", "Cn", "Zl", "Zp"})


def shown(words: str) -> str:
    r"""Write out what steers a page.

    Parameters
    ----------
    words : str
        Any text.

    Returns
    -------
    str
        The same, where nothing steers.

    Examples
    --------
    >>> shown("gas \u202eline")
    'gas [U+202E]line'
    """
    if words.isascii() and words.isprintable():
        return words
    return "".join(
        f"[U+{ord(mark):04X}]"
        if mark in _STEERING or unicodedata.category(mark) in _HIDDEN
        else mark
        for mark in words
    )


def shown_all(content: Any) -> Any:
    """Write out what steers a page in every text of nested data.

    Parameters
    ----------
    content : object
        Of dicts, lists, tuples, strings, numbers, truths and None.

    Returns
    -------
    object
        The same, tuples as lists.
    """
    if isinstance(content, str):
        return shown(content)
    if isinstance(content, dict):
        return {key: shown_all(value) for key, value in content.items()}
    if isinstance(content, list | tuple):
        return [shown_all(value) for value in content]
    return content


def phrase(name: str) -> str:
    """Give a name of the code as words.

    Examples
    --------
    >>> phrase("potable_water")
    'potable water'
    """
    return name.replace("_", " ")
