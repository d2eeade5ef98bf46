"""Why something cannot be planned, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from planner.core.spec import ClothKey, Garment
from planner.core.too_wide import TooWide, in_words, told_apart
from planner.core.units import Display


@dataclass(frozen=True, slots=True)
class PlanProblem:
    """Why something cannot be planned, in plain words; `garment` where it is about one."""

    garment: Garment | None
    text: str

    def told_in(self, display: Display) -> str:
        """The text with its lengths in these units."""
        return self.text


class Told(Protocol):
    """What tells by itself what is wrong, in any units: a nesting that failed, something that is missing."""

    def told_in(self, display: Display) -> str:
        """The text with its measures in these units."""
        ...


@dataclass(frozen=True, slots=True)
class ToldByCause(PlanProblem):
    """A problem that its `cause` puts into words."""

    cause: Told

    def told_in(self, display: Display) -> str:
        """As its cause tells it."""
        return self.cause.told_in(display)


@dataclass(frozen=True, slots=True)
class NotNested(ToldByCause):
    """A marker that could not be nested; the nesting says why."""


@dataclass(frozen=True, slots=True)
class TooWideForCloth(PlanProblem):
    """A piece does not fit across its cloth."""

    piece: str
    width_mm: float
    lay_width_mm: float
    too_wide: TooWide | None = None

    def told_in(self, display: Display) -> str:
        """What is wrong and what can be done, with its widths in these units."""
        return in_words([self.too_wide], display).rstrip(".") if self.too_wide else self.text


@dataclass(frozen=True, slots=True)
class TooLongForTable(PlanProblem):
    """The pieces of one garment make a longer lay than the table holds, or than a roll gives: `of_roll` lengths at
    a time, 0 where it is the table.

    `length_mm` is the marker's, `ply_mm` with its ends (0 where not known), `table_length_mm` the most there is.
    """

    cloth: ClothKey
    length_mm: float
    table_length_mm: float
    ply_mm: float = 0.0
    of_roll: int = 0

    def told_in(self, display: Display) -> str:
        """The text with its lengths in these units."""
        if self.garment is None or not self.ply_mm:
            return self.text
        return too_long_in_words(
            self.garment, self.cloth, self.ply_mm, self.table_length_mm, display, of_roll=self.of_roll
        )


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

    def told_in(self, display: Display) -> str:
        """All problems in one line, each once, with their lengths in these units."""
        return "; ".join(dict.fromkeys(problem.told_in(display) for problem in self.problems))


def too_long_in_words(
    garment: Garment, cloth: ClothKey, ply_mm: float, most_mm: float, display: Display, *, of_roll: int
) -> str:
    """A garment that makes too long a lay; the lay is rounded up, in cm to the mm or inches to the sixteenth."""
    (lay,), most = told_apart([ply_mm], most_mm, display, at_least=True)
    limit = f"a roll of it gives only {most}" if of_roll else f"the table is {most} long"
    if of_roll > 1:
        limit = f"face to face both plies of a pair come from one roll, and it gives two of only {most}"
    return (
        f"style {garment.style} in size {garment.size} needs a lay of {lay} in {cloth.fabric} {cloth.colour}, but "
        f"{limit}"
    )
