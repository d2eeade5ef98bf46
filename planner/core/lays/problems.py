"""Why something cannot be planned, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.core.spec import ClothKey, Garment
from planner.core.too_wide import TooWide


@dataclass(frozen=True, slots=True)
class PlanProblem:
    """Why something cannot be planned, in plain words; `garment` where it is about one."""

    garment: Garment | None
    text: str


@dataclass(frozen=True, slots=True)
class TooWideForCloth(PlanProblem):
    """A piece does not fit across its cloth."""

    piece: str
    width_mm: float
    lay_width_mm: float
    too_wide: TooWide | None = None


@dataclass(frozen=True, slots=True)
class TooLongForTable(PlanProblem):
    """The pieces of one garment make a longer lay than the table holds, or than any roll is long."""

    cloth: ClothKey
    length_mm: float
    table_length_mm: float


@dataclass(frozen=True, slots=True)
class WishRefused(PlanProblem):
    """A wish of the maker's cannot be met; `fabric` says where, `wish` which of :class:`wishes.Wishes`."""

    fabric: str
    wish: str


class CannotPlan(Exception):  # noqa: N818 - it says what happened
    """The demand cannot be planned; `problems` says why, one by one."""

    def __init__(self, problems: Sequence[PlanProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(p.text for p in problems))
