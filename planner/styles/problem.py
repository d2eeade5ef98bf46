"""What every rule over a style returns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from planner.core.units import Display


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with a style, said by `str`."""

    section: ClassVar[str] = "pieces"

    def told_in(self, display: Display) -> str:
        """The same with its lengths in these units."""
        return str(self)

    @property
    def told_with(self) -> object:
        """Problems that have the same of it are told in one sentence."""
        return self

    def told_of(self, alike: Sequence[Problem], display: Display) -> str:
        """The sentence for all of them; `alike` begins with this one."""
        return self.told_in(display)
