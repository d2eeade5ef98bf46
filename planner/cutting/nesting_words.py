"""What is said of a marker while it is nested, and once it was."""

from __future__ import annotations

from planner.core.lays import model as core
from planner.core.lays.rows import GOOD_ROWS, is_shortest
from planner.core.lays.stored import job_from_json
from planner.cutting.models import Marker

#: What is said of a lay whose rows may not be the shortest.
POOR_ROWS = "in plain rows, nothing better was found"


def rows_in_words(row: Marker, best: core.Marker) -> str:
    """What is said of a lay for which nothing shorter than plain rows was found."""
    if is_shortest(job_from_json(row.job), best):
        return "in rows; these pieces cannot lie shorter"
    if best.efficiency >= GOOD_ROWS:
        return "in rows, which fit the cloth well"
    return POOR_ROWS


def left_in_words(seconds: float) -> str:
    """ "7 h 20 min", "4 min"."""
    minutes = max(1, round(seconds / 60))
    hours, minutes = divmod(minutes, 60)
    parts = [f"{hours} h" if hours else "", f"{minutes} min" if minutes else ""]
    return " ".join(part for part in parts if part)
