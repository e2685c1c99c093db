"""Working days: weekends and holidays do not count, and neither does the day of the notice."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo_site.working_days import add_calendar_days, add_working_days, is_working_day

DAY = datetime.date


@pytest.mark.parametrize(
    ("start", "days", "end"),
    [
        (DAY(2026, 3, 6), 2, DAY(2026, 3, 10)),
        (DAY(2026, 3, 2), 20, DAY(2026, 3, 30)),
        (DAY(2026, 3, 7), 1, DAY(2026, 3, 9)),
        (DAY(2026, 3, 8), 0, DAY(2026, 3, 8)),
    ],
)
def test_utl_10_working_days(start, days, end):
    """UTL-10: counted on a calendar by hand, no holidays."""
    assert add_working_days(start, days) == end


def test_utl_10_calendar_days():
    """UTL-10: Monday 2 March 2026 and 28 calendar days."""
    assert add_calendar_days(DAY(2026, 3, 2), 28) == DAY(2026, 3, 30)
    assert add_calendar_days(DAY(2028, 2, 28), 2) == DAY(2028, 3, 1)


def test_a_count_across_a_weekend_and_a_holiday():
    """Thursday 2 July 2026 and 2 days: Friday is kept as a holiday, so Monday and Tuesday."""
    holiday = frozenset({DAY(2026, 7, 3)})
    assert add_working_days(DAY(2026, 7, 2), 2, holiday) == DAY(2026, 7, 7)
    assert add_working_days(DAY(2026, 7, 2), 2) == DAY(2026, 7, 6)
    assert not is_working_day(DAY(2026, 7, 3), holiday)
    on_a_saturday = frozenset({DAY(2026, 7, 4)})
    assert add_working_days(DAY(2026, 7, 2), 2, on_a_saturday) == DAY(2026, 7, 6)


DAYS = st.dates(DAY(2000, 1, 1), DAY(2050, 12, 31))


@given(DAYS, st.integers(1, 60), st.sets(DAYS, max_size=4), st.sets(st.integers(1, 60)))
def test_the_count_is_that_of_an_independent_library(start, days, free, near):
    holidays = frozenset(free | {start + datetime.timedelta(days=n) for n in near})
    expected = np.busday_offset(start, 0, roll="backward", holidays=sorted(holidays))
    expected = np.busday_offset(expected, days, roll="forward", holidays=sorted(holidays))
    assert add_working_days(start, days, holidays) == expected.astype(object)


@pytest.mark.parametrize("days", [-1, 1001])
def test_counts_that_cannot_be_are_refused(days):
    with pytest.raises(ValueError, match="days"):
        add_working_days(DAY(2026, 1, 1), days)
    with pytest.raises(ValueError, match="days"):
        add_calendar_days(DAY(2026, 1, 1), -1)
