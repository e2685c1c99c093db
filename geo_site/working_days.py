"""Days that count: working days and calendar days from a day on.

Question
    On which day does a notice of so many working days end?
In
    A day, a number of days, the holidays.
Out
    A day.
Method
    Saturdays, Sundays and the holidays given do not count, and the first day itself does not.
    Which holidays count differs by state and year: none is known here, they are given.
Reference
    The practice of one-call law (days are counted from the day after the notice): common
    practice, no source.
"""

from __future__ import annotations

import datetime
from collections.abc import Set as AbstractSet

__all__ = ["add_calendar_days", "add_working_days", "is_working_day"]

_SATURDAY = 5
_MOST_DAYS = 1000
_NO_HOLIDAYS: frozenset[datetime.date] = frozenset()


def is_working_day(day: datetime.date, holidays: AbstractSet[datetime.date] = _NO_HOLIDAYS) -> bool:
    """Whether a day counts as a working day.

    Parameters
    ----------
    day : datetime.date
        The day.
    holidays : set of datetime.date
        Days that do not count besides Saturdays and Sundays.

    Returns
    -------
    bool
        Whether it counts.

    Examples
    --------
    >>> is_working_day(datetime.date(2026, 3, 6)), is_working_day(datetime.date(2026, 3, 7))
    (True, False)
    """
    return day.weekday() < _SATURDAY and day not in holidays


def add_working_days(
    start: datetime.date, days: int, holidays: AbstractSet[datetime.date] = _NO_HOLIDAYS
) -> datetime.date:
    """Count working days from the day after a day.

    Parameters
    ----------
    start : datetime.date
        Day of the notice; it does not count.
    days : int
        Working days, 0 to 1000.
    holidays : set of datetime.date
        Days that do not count besides Saturdays and Sundays.

    Returns
    -------
    datetime.date
        The last of the days counted; ``start`` itself for 0.

    Raises
    ------
    ValueError
        The number of days is negative or over 1000.

    Examples
    --------
    >>> add_working_days(datetime.date(2026, 3, 6), 2).isoformat()
    '2026-03-10'
    """
    if not 0 <= days <= _MOST_DAYS:
        raise ValueError(f"days are 0 to {_MOST_DAYS}, not {days}")
    day = start
    while days:
        day += datetime.timedelta(days=1)
        days -= is_working_day(day, holidays)
    return day


def add_calendar_days(start: datetime.date, days: int) -> datetime.date:
    """Count all days from the day after a day.

    Parameters
    ----------
    start : datetime.date
        It does not count.
    days : int
        Days, 0 or more.

    Returns
    -------
    datetime.date
        The last of the days counted.

    Raises
    ------
    ValueError
        The number of days is negative.

    Examples
    --------
    >>> add_calendar_days(datetime.date(2026, 3, 2), 28).isoformat()
    '2026-03-30'
    """
    if days < 0:
        raise ValueError(f"days are 0 or more, not {days}")
    return start + datetime.timedelta(days=days)
