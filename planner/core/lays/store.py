"""Where the markers of a plan may be known from, and are kept: what was nested once need not be nested again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from planner.core.lays.model import Marker, MarkerJob


@dataclass(frozen=True)
class Known:
    """An arrangement that answers a job; `is_polished` where it was nested for longer than to compare plans."""

    marker: Marker
    is_polished: bool = False


class Store(Protocol):
    """Asked before a marker is nested, and told of each that was. An exception it raises ends the planning."""

    def find(self, job: MarkerJob) -> Known | None:
        """The best answer to just this question, with the names of this job; None where there is none."""

    def keep(self, job: MarkerJob, known: Known) -> None:
        """A marker that was nested, or made shorter."""


class NoStore:
    """Nothing is known, and nothing kept."""

    def find(self, job: MarkerJob) -> Known | None:
        return None

    def keep(self, job: MarkerJob, known: Known) -> None:
        return None
