"""The question and the answer of `assign_plies`. Lengths are mm along the cloth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

#: How an answer was found: "exact" by branch and bound, "search" by exchanging plies between a few rolls at a
#: time, "patterns" from whole fillings of rolls, "simple" by the plain rule where no solver could be asked.
Method = Literal["exact", "search", "patterns", "simple"]


@dataclass(frozen=True, slots=True)
class RollThere:
    """A roll or an end in stock.

    `flaws` are (from, to) measured from the outer end, which is cut first; they may overlap or touch.
    `shade_lot` is "" where nobody noted one; such rolls count as one lot. `usable_width_mm` is None where the
    roll is as wide as its cloth is said to be. `is_end`: already begun.
    """

    key: str
    length_mm: float
    shade_lot: str = ""
    usable_width_mm: float | None = None
    flaws: tuple[tuple[float, float], ...] = ()
    is_end: bool = False


@dataclass(frozen=True, slots=True)
class PliesWanted:
    """Plies of one colour in one lay; `key` names both, `ply_mm` is one ply with its end allowances.

    `cloth_width_mm` is how wide the cloth must be: twice the width of the lay where it is folded, or a tube.
    `plies_per_spread` is 2 where cloth lies face to face: the cloth is spread to and fro, so both plies of a
    spread come from one roll, one after the other or either side of a flaw, and each roll gives a multiple.
    `one_lot`: all plies from a single lot, or they are short.
    """

    key: str
    ply_mm: float
    plies: int
    cloth_width_mm: float = 0.0
    plies_per_spread: int = 1
    one_lot: bool = False


@dataclass(frozen=True, slots=True)
class RollQuestion:
    """What is wanted, in the order the lays are cut, and what there is to cut it from.

    A remnant of at least `keep_from_mm` stays in stock as an end, a shorter one is waste; infinity throws
    every remnant away. Ties are broken by `opening_mm`, the waste that is worth one roll opened less, and
    `lot_change_mm`, the waste worth one shade lot less in a lay.
    """

    wanted: tuple[PliesWanted, ...]
    rolls: tuple[RollThere, ...]
    keep_from_mm: float = 500.0
    opening_mm: float = 1.0
    lot_change_mm: float = 0.5

    def __post_init__(self) -> None:
        for names, what in (([w.key for w in self.wanted], "lays"), ([r.key for r in self.rolls], "rolls")):
            if len(set(names)) < len(names):
                raise ValueError(f"two {what} of one name")
        for wanted in self.wanted:
            if not (math.isfinite(wanted.ply_mm) and wanted.ply_mm > 0):
                raise ValueError(f"a ply of {wanted.key} has no length")
            if wanted.plies < 0 or wanted.plies_per_spread < 1 or wanted.plies % wanted.plies_per_spread:
                raise ValueError(f"the plies of {wanted.key} are no whole spreads")
        for roll in self.rolls:
            numbers = (roll.length_mm, *(number for flaw in roll.flaws for number in flaw))
            if not all(math.isfinite(number) for number in numbers):
                raise ValueError(f"roll {roll.key} has a length that is no number")
        if not min(self.keep_from_mm, self.opening_mm, self.lot_change_mm) >= 0:
            raise ValueError("what a remnant, a roll or a lot is worth is not negative")


@dataclass(frozen=True, slots=True)
class RollCut:
    """`plies` of one lay cut one after the other from `from_mm` to `to_mm` of a roll, as the roll was before."""

    wanted: str
    roll: str
    plies: int
    from_mm: float
    to_mm: float
    shade_lot: str


@dataclass(frozen=True, slots=True)
class PliesShort:
    """Plies that stock does not give."""

    wanted: str
    plies: int
    ply_mm: float
    plies_per_spread: int = 1


@dataclass(frozen=True, slots=True)
class Remnant:
    """A piece of a roll that is left once all is cut; `flaws` are measured from its own outer end."""

    roll: str
    from_mm: float
    length_mm: float
    is_kept: bool
    flaws: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class RollAnswer:
    """Which plies come from where, in the order they are cut, and what is left.

    `waste_mm` is good cloth cut off and too short to keep; `flawed_mm` is cloth at flaws that were passed.
    What lies beyond the last ply of a roll stays on it. `value_mm` is what was minimised, 1000 × length short
    + waste + what rolls opened and lots are worth; no answer has a smaller one than `bound_mm`.
    """

    cuts: tuple[RollCut, ...]
    short: tuple[PliesShort, ...]
    waste_mm: float
    flawed_mm: float
    rolls_opened: int
    remnants: tuple[Remnant, ...]
    value_mm: float
    bound_mm: float
    is_proven: bool
    method: Method
    seconds: float

    @property
    def gap_mm(self) -> float:
        """At most so much could be saved by another answer, in mm of waste; 0 where this one is proven."""
        return 0.0 if self.is_proven else max(self.value_mm - self.bound_mm, 0.0)

    @property
    def short_mm(self) -> float:
        """Length of all plies that are short."""
        return sum(short.plies * short.ply_mm for short in self.short)
