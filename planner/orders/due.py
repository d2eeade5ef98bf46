"""Due days in words: the day, and how far off it is, so that colour never has to say it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Due:
    """`day` is "Fri 4 Dec", `off` "in 9 days", "today" or "3 days late"; blank where it no longer matters."""

    day: str
    off: str
    late: bool

    def __str__(self) -> str:
        return f"{self.day}, {self.off}" if self.off else self.day


def day_words(day: date, today: date) -> str:
    """Fri 4 Dec, with the year where it is not this year's."""
    words = f"{day:%a} {day.day} {day:%b}"
    return words if day.year == today.year else f"{words} {day.year}"


def due_words(due_on: date, today: date, *, still_open: bool = True) -> Due:
    """The due day as somebody would say it on `today`; only open orders are late."""
    day = day_words(due_on, today)
    if not still_open:
        return Due(day, "", late=False)
    days = (due_on - today).days
    if days < 0:
        return Due(day, "1 day late" if days == -1 else f"{-days:,} days late", late=True)
    off = {0: "today", 1: "tomorrow"}.get(days, f"in {days:,} days")
    return Due(day, off, late=False)
