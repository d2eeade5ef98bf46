"""What can be wrong with an arrangement of pieces on cloth, each with the pieces it is about by their places in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

#: What tells one item of a marker from another: style, piece, size, garment number, mirrored.
ItemKey = tuple[str, str, str, int, bool]


@dataclass(frozen=True, slots=True)
class OutsideCloth:
    """A piece reaches past the cloth by `by_mm`."""

    index: int
    by_mm: float


@dataclass(frozen=True, slots=True)
class Overlap:
    """Two pieces share `area_mm2` of cloth."""

    first: int
    second: int
    area_mm2: float


@dataclass(frozen=True, slots=True)
class GapTooSmall:
    """Two pieces lie `gap_mm` apart where `wanted_mm` was asked for."""

    first: int
    second: int
    gap_mm: float
    wanted_mm: float


@dataclass(frozen=True, slots=True)
class WronglyTurned:
    """A piece is turned by an angle that the cloth or the piece does not allow."""

    index: int
    rotation_deg: int


@dataclass(frozen=True, slots=True)
class MissingPiece:
    """An item of the job that is not placed, `count` times."""

    key: ItemKey
    count: int


@dataclass(frozen=True, slots=True)
class ExtraPiece:
    """A placement that no item of the job asked for."""

    index: int
    key: ItemKey


@dataclass(frozen=True, slots=True)
class NotCongruent:
    """A placed outline is not the item's outline, turned as stated and moved."""

    index: int
    off_by_mm: float


@dataclass(frozen=True, slots=True)
class NotSideBySide:
    """Two neighbours of a block that do not lie side by side.

    `why`: "turned" where they do not point the same way, "not level" where they share too little of their length,
    "apart" where the gap between them is too wide, "between" where the piece `other` lies between them.
    """

    first: int
    second: int
    why: Literal["turned", "not level", "apart", "between"]
    other: int | None = None


@dataclass(frozen=True, slots=True)
class StripesApart:
    """Two pieces whose stripes do not run on: so far off along and across the cloth, the nearest way (mm).

    Both are 0 where the pieces do not point the same way, for then only one stripe could meet.
    """

    first: int
    second: int
    name: str
    along_mm: float
    across_mm: float


@dataclass(frozen=True, slots=True)
class WrongTwin:
    """A placement that is shared with another garment than its item says."""

    index: int
    twin_no: int


MarkerProblem = (
    OutsideCloth
    | Overlap
    | GapTooSmall
    | WronglyTurned
    | MissingPiece
    | ExtraPiece
    | NotCongruent
    | NotSideBySide
    | StripesApart
    | WrongTwin
)
