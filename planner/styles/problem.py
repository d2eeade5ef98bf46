"""What every rule over a style returns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from planner.core.units import Display


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with a style, said by `str`."""

    stops: ClassVar[bool] = True
    section: ClassVar[str] = "pieces"

    def told_in(self, display: Display) -> str:
        """The same with its lengths in these units."""
        return str(self)
