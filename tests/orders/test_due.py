"""Due days in words."""

from datetime import date

import pytest

from planner.orders.due import due_words


@pytest.mark.parametrize(
    ("due_on", "words", "late"),
    [
        (date(2026, 12, 4), "Fri 4 Dec, in 9 days", False),
        (date(2026, 11, 26), "Thu 26 Nov, tomorrow", False),
        (date(2026, 11, 25), "Wed 25 Nov, today", False),
        (date(2026, 11, 24), "Tue 24 Nov, 1 day late", True),
        (date(2026, 11, 22), "Sun 22 Nov, 3 days late", True),
        (date(2027, 1, 4), "Mon 4 Jan 2027, in 40 days", False),
        (date(2023, 11, 26), "Sun 26 Nov 2023, 1,095 days late", True),
    ],
)
def test_how_far_off_the_day_is(due_on, words, late):
    due = due_words(due_on, date(2026, 11, 25))
    assert (str(due), due.late) == (words, late)


def test_what_is_dispatched_is_never_late():
    due = due_words(date(2026, 11, 22), date(2026, 11, 25), still_open=False)
    assert (str(due), due.late) == ("Sun 22 Nov", False)
