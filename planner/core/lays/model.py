"""Markers and lays as plain data. Lay coordinates: x along the cloth from 0, y across from 0, float mm."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from planner.core.outline import Outline, Point
from planner.core.spec import ClothKey, Garment
from planner.core.spec import Mode as Mode

#: Lengths of cloth that one spread takes, and layers of cloth it puts under the knife.
LENGTHS: Mapping[Mode, int] = {"open": 1, "face_to_face": 2, "folded": 1}
LAYERS: Mapping[Mode, int] = {"open": 1, "face_to_face": 2, "folded": 2}


@dataclass(frozen=True, slots=True)
class MatchPoint:
    """A point of an outline where the pattern of the cloth must meet that of other pieces of the garment.

    Points of one garment with the same `name` lie at the same place within the repeat. `x_mm`, `y_mm` are in the
    outline's own coordinates.
    """

    name: str
    x_mm: float
    y_mm: float


@dataclass(frozen=True)
class ItemToLay:
    """One outline to be placed once: a piece of one garment of the marker.

    `garment_no` counts the garments of the marker from 1, so that all pieces of one garment can be told.
    `outline` is as cut (shrinkage allowed for, mirrored already where `mirrored`), anywhere in the plane.
    In a lay of paired layers the outline gives its mirror image too. That is of the same garment where `twin_no` is 0,
    else of the garment with that number, which then has the lower of each two plies, and `garment_no` the upper. Items
    of one garment with the same `beside`, unless that is "", lie side by side.
    """

    style: str
    piece: str
    size: str
    garment_no: int
    mirrored: bool
    may_turn: bool
    outline: Outline
    twin_no: int = 0
    beside: str = ""
    matches: tuple[MatchPoint, ...] = ()


@dataclass(frozen=True)
class MarkerJob:
    """What is to be nested: items on a strip `lay_width_mm` wide, at least `gap_mm` apart.

    The cloth's pattern comes again every `repeat_length_mm` along the cloth and `repeat_width_mm` across it; 0 where
    it has none that way.
    """

    lay_width_mm: float
    one_way: bool
    gap_mm: float
    items: tuple[ItemToLay, ...]
    repeat_length_mm: float = 0.0
    repeat_width_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Placement:
    """A placed piece: its final outline in lay coordinates and how it got there."""

    style: str
    piece: str
    size: str
    garment_no: int
    mirrored: bool
    rotation_deg: int
    outline: tuple[Point, ...]
    twin_no: int = 0


#: How a marker was come by.
How: TypeAlias = Literal["nested", "unsearched", "library", "rows"]
#: The library nested it, and our own search has not looked at it.
ALONE: frozenset[How] = frozenset({"unsearched", "library"})


@dataclass(frozen=True)
class Marker:
    """A nested arrangement, verified. `efficiency` = area of pieces / (lay_width_mm × length_mm).

    `how` is "rows" where the pieces merely lie in plain rows that may not be the shortest, as at first or
    where nesting failed; "unsearched" where the library nested them alone, so that our own search may do better;
    "library" where it did and our own search cannot be had.
    """

    lay_width_mm: float
    length_mm: float
    efficiency: float
    placements: tuple[Placement, ...]
    how: How = "nested"


@dataclass(frozen=True, slots=True)
class LayGarments:
    """How many of one garment a marker holds."""

    garment: Garment
    per_marker: int


@dataclass(frozen=True, slots=True)
class Plies:
    """Plies of one cloth in a lay that are all marked alike, spread `spreads` times.

    `slots` holds the garment of each garment number of the marker, from 1. Plies of one colour whose slots differ
    (two options of a garment that are cut alike from this cloth) are two of these.
    """

    cloth: ClothKey
    spreads: int
    slots: tuple[Garment, ...]

    @property
    def garments(self) -> tuple[LayGarments, ...]:
        """How many of each garment the marker holds on these plies, in the order of the slots."""
        return tuple(LayGarments(garment, count) for garment, count in Counter(self.slots).items())


@dataclass(frozen=True)
class PlannedLay:
    """A section of the cut plan: one marker, spread in one or more colours of a fabric, one upon the other."""

    section: int
    plies: tuple[Plies, ...]
    mode: Mode
    lay_width_mm: float
    end_allowance_mm: float
    job: MarkerJob
    estimated_length_mm: float

    @property
    def fabric(self) -> str:
        """The name of the fabric, which all plies share."""
        return self.plies[0].cloth.fabric

    @property
    def cloths(self) -> tuple[ClothKey, ...]:
        """The colours of the lay, from the bottom."""
        return tuple(dict.fromkeys(plies.cloth for plies in self.plies))

    @property
    def spreads(self) -> int:
        """Spreads of all colours."""
        return sum(plies.spreads for plies in self.plies)

    @property
    def garments_per_marker(self) -> int:
        """Garments that one spread gives."""
        return len(self.plies[0].slots)

    def spreads_of(self, cloth: ClothKey) -> int:
        """Spreads of one colour."""
        return sum(plies.spreads for plies in self.plies if plies.cloth == cloth)

    def cut_from(self, cloth: ClothKey) -> Counter[Garment]:
        """How often the lay cuts each garment from this colour."""
        cut: Counter[Garment] = Counter()
        for plies in self.plies:
            if plies.cloth == cloth:
                for slot in plies.slots:
                    cut[slot] += plies.spreads
        return cut
