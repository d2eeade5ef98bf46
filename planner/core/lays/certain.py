"""Markers that need no search: how short one can be at best, and whether its plain rows are just as short."""

from __future__ import annotations

from planner.core.lays.check import least_length_mm
from planner.core.lays.lanes import least_in_lanes_mm
from planner.core.lays.model import MarkerJob
from planner.core.lays.question import EXTRA_GAP_MM
from planner.core.lays.rows import first_marker
from planner.core.lays.together import has_rules


def enough_mm(job: MarkerJob) -> float:
    """A marker no longer than this (mm) is not searched any further: nothing can be shorter but by a hair, and that is
    not worth the time."""
    return max(least_length_mm(job), least_in_lanes_mm(job)) + 2 * EXTRA_GAP_MM


def is_known(job: MarkerJob) -> bool:
    """Whether plain rows are as short as can be, so that :func:`nest.nest` answers without a search."""
    try:
        return not has_rules(job) and first_marker(job).length_mm <= enough_mm(job)
    except ValueError:
        return False  # nesting it says why
