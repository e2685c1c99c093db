"""Cells of a stranger's table: days and words, or nothing.

In: a cell. Out: a day, a text, a name as names are compared. Method: what is no day is None, what
is no text is empty.
"""

from __future__ import annotations

import datetime

__all__ = ["day_of", "member_key", "word_of"]


def day_of(value: object) -> datetime.date | None:
    """Read a day; a missing date of a table is not equal to itself.

    Parameters
    ----------
    value : object
        A date, a moment, or anything else.

    Returns
    -------
    datetime.date or None
        None for anything that is no day.
    """
    if not isinstance(value, datetime.date) or value != value:  # noqa: PLR0124
        return None
    return value.date() if isinstance(value, datetime.datetime) else value


def word_of(value: object) -> str:
    """Read a text without the spaces at its ends.

    Parameters
    ----------
    value : object
        A text, or anything else.

    Returns
    -------
    str
        Empty for anything that is no text.
    """
    return value.strip() if isinstance(value, str) else ""


def member_key(name: object) -> str:
    """Give a member's name as names are compared: case and spaces at its ends aside.

    Parameters
    ----------
    name : object
        As written; anything but text is no name.

    Returns
    -------
    str
        Empty for no name.

    Examples
    --------
    >>> member_key(" Gas ") == member_key("gas"), member_key("Gas 2") == member_key("Gas")
    (True, False)
    """
    return word_of(name).casefold()
