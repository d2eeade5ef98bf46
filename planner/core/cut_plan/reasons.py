"""Why there is no plan, as facts; the words are made where they are shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Reason:
    """Something that rules out every plan."""


@dataclass(frozen=True, slots=True)
class NothingWanted(Reason):
    """The demand is zero throughout."""


@dataclass(frozen=True, slots=True)
class DoesNotFitAlone(Reason):
    """The smallest marker of one kind is too long for the table (or the roll), or no way takes the kind.

    `length_mm` with both end allowances, of the best way; None where no way takes the kind at all. `lengths` of cloth
    are spread at a time in that way, all from one roll.
    """

    kind: int
    column: int
    length_mm: float | None
    most_mm: float
    lengths: int = 1


@dataclass(frozen=True, slots=True)
class OddNumber(Reason):
    """Every way cuts `step` at a time, which cannot give the number wanted within the overcut allowed."""

    kind: int
    column: int
    wanted: int
    step: int


@dataclass(frozen=True, slots=True)
class TooManyPliesInSpread(Reason):
    """The knife takes fewer layers than one spread has in every way."""

    most_plies: int


@dataclass(frozen=True, slots=True)
class TogetherAndApart(Reason):
    """These kinds must share a marker and may not."""

    kinds: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class TogetherDoesNotFit(Reason):
    """One of each of these kinds, which must share a marker, is too much for the table or for one marker."""

    kinds: tuple[int, ...]
    column: int
    length_mm: float | None
    most_mm: float


@dataclass(frozen=True, slots=True)
class KeptCutsTooMany(Reason):
    """The lays to be kept cut more of a kind than is wanted with the overcut allowed."""

    kind: int
    column: int
    kept: int
    most: int


@dataclass(frozen=True, slots=True)
class KeptBreaks(Reason):
    """A lay to be kept (its place in `keep`) breaks a limit or a choice."""

    lay: int
    what: Literal["way", "plies", "length", "roll", "garments", "steps", "together", "apart"]
    kinds: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class NoCombination(Reason):
    """Every kind fits by itself, but it was proven that no set of lays meets the demand with these choices."""

    kinds: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class NotFoundInTime(Reason):
    """No plan was found within the time given; there may be one."""


class NoPlan(Exception):  # noqa: N818 - it says what happened
    """There is no plan; `reasons` says why, one by one."""

    def __init__(self, reasons: Sequence[Reason]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("; ".join(repr(r) for r in reasons))
