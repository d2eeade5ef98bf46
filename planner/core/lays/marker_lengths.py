"""How long a marker of so many garments is: as nested where it was, else an estimate from areas."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from planner.core.cloth import end_of_ply_mm, repeats_mm
from planner.core.cut_plan.known import Sections
from planner.core.lays.cloth_limits import longest_spread_mm
from planner.core.lays.items import items_for, lay_width_in
from planner.core.lays.kinds import FabricTable
from planner.core.lays.learnt import Learnt
from planner.core.lays.model import MarkerJob, Mode
from planner.core.lays.stored import key_of_parts, parts_of, strip_of
from planner.core.spec import Cloth, Workshop


@dataclass(frozen=True)
class Lengths:
    """What is known of marker lengths: those nested, by `marker_key` (mm), and the efficiencies learnt by fabric.

    Estimates are taken to be longer by the share `doubt`, so that what was nested is preferred to what only promises.
    `plans` are those of each fabric that were found before, for this demand or another.
    """

    nested: Mapping[str, float] = field(default_factory=dict)
    learnt: Mapping[str, Learnt] = field(default_factory=dict)
    doubt: float = 0.0
    plans: Mapping[str, tuple[Sections, ...]] = field(default_factory=dict)


def strip_job(cloth: Cloth, mode: Mode, shop: Workshop) -> MarkerJob:
    """The cloth as it lies in this mode, with nothing on it: half as wide where it is folded."""
    return MarkerJob(lay_width_in(cloth, mode), cloth.one_way, shop.piece_gap_mm, (), *repeats_mm(cloth))


class MarkerLengths:
    """Lengths of the markers of one fabric in one mode, each reckoned once.

    The estimate is area / (width × efficiency learnt for so many garments), and never less than the longest piece. That
    of the smallest marker of a kind is cut down to what the table or a roll holds without the ends, as long as its area
    and its longest piece fit there: only nesting shows that the pieces do not.
    """

    def __init__(self, table: FabricTable, mode: Mode, steps: Sequence[int], shop: Workshop, known: Lengths):
        self._known = known
        #: What the counts of each kind are multiples of.
        self.steps = tuple(steps)
        self._most_mm = longest_spread_mm(table.columns, mode, shop) - 2 * end_of_ply_mm(table.columns[0])
        self._learnt = known.learnt.get(table.fabric, Learnt())
        strip = strip_job(table.columns[0], mode, shop)
        self._strip, self.width_mm = strip_of(strip), strip.lay_width_mm
        #: For each kind, of as many garments as one step: keys of its parts, area (mm²), longest piece (mm).
        self._units: list[tuple[list[str], float, float]] = []
        self._pieces: list[int] = []
        for kind, step in zip(table.kinds, steps, strict=True):
            if not step:
                self._units.append(([], 0.0, math.inf))
                self._pieces.append(0)
                continue
            items = items_for((kind.sample,) * step, mode, kind.cloth, shop)
            self._pieces.append(len(items))
            self._units.append(
                (
                    parts_of(items),
                    sum(item.outline.area_mm2 for item in items),
                    max(item.outline.length_mm for item in items),
                )
            )
        self._lengths: dict[tuple[int, ...], tuple[float, bool]] = {}
        self._scale = 1.0 + known.doubt

    @property
    def pieces_each(self) -> tuple[float, ...]:
        """For each kind the pieces a marker holds for one garment."""
        pairs = zip(self._pieces, self.steps, strict=True)
        return tuple(pieces / step if step else 0.0 for pieces, step in pairs)

    @property
    def how_estimated(self) -> str:
        """Where the efficiencies of estimates come from, in plain words; "" for the usual ones."""
        return self._learnt.how

    @property
    def least_mm_each(self) -> tuple[float, ...]:
        """A length for each kind that no marker undercuts, garment by garment: area over width."""
        pairs = zip(self._units, self.steps, strict=True)
        return tuple(area / self.width_mm / step if step else 0.0 for (_, area, _), step in pairs)

    def of(self, counts: tuple[int, ...]) -> float:
        """Length of the marker in mm, without end allowances."""
        return self._look_up(counts)[0]

    def is_nested(self, counts: tuple[int, ...]) -> bool:
        """Whether the length was nested."""
        return self._look_up(counts)[1]

    def estimate(self, counts: tuple[int, ...]) -> float:
        """The estimated length, whether or not the marker was nested (mm)."""
        return self._estimated(self._held(counts), sum(counts))

    def usual(self, counts: tuple[int, ...]) -> float:
        """The length estimated by the usual share of the cloth alone, whatever was learnt or nested (mm).

        It is the same in every plan of the same garments.
        """
        return self._estimated(self._held(counts), sum(counts), Learnt(), 1.0)

    def key(self, counts: tuple[int, ...]) -> str:
        """The key of the marker."""
        return self._key(self._held(counts))

    def pieces(self, counts: tuple[int, ...]) -> int:
        """How many pieces the marker holds."""
        rows = zip(self._pieces, counts, self.steps, strict=True)
        return sum(pieces * (count // step) for pieces, count, step in rows if count)

    def rescale(self, factor: float) -> None:
        """Makes all estimates longer by a factor, for so much longer came out what was nested."""
        self._scale *= factor
        self._lengths.clear()

    def _look_up(self, counts: tuple[int, ...]) -> tuple[float, bool]:
        found = self._lengths.get(counts)
        if found is None:
            found = self._lengths[counts] = self._reckoned(counts)
        return found

    def _reckoned(self, counts: tuple[int, ...]) -> tuple[float, bool]:
        held = self._held(counts)
        if self._known.nested:
            nested = self._known.nested.get(self._key(held))
            if nested is not None:
                return nested, True
        return self._estimated(held, sum(counts)), False

    def _key(self, held: Sequence[tuple[tuple[list[str], float, float], int]]) -> str:
        return key_of_parts(self._strip, [part for (keys, _, _), times in held for part in keys * times])

    def _held(self, counts: tuple[int, ...]) -> list[tuple[tuple[list[str], float, float], int]]:
        """The units of a marker, each with how often it is there."""
        rows = zip(self._units, counts, self.steps, strict=True)
        return [(unit, count // step) for unit, count, step in rows if count]

    def _estimated(
        self,
        held: Sequence[tuple[tuple[list[str], float, float], int]],
        garments: int,
        learnt: Learnt | None = None,
        scale: float | None = None,
    ) -> float:
        learnt, scale = learnt or self._learnt, self._scale if scale is None else scale
        area = sum(unit[1] * times for unit, times in held)
        longest = max((unit[2] for unit, _ in held), default=0.0)
        least = max(area / self.width_mm, longest)
        estimate = max(area / (self.width_mm * learnt.at(garments)) * scale, least)
        if sum(times for _, times in held) == 1 and estimate > self._most_mm:
            return max(least, self._most_mm)
        # Rounded up, so that a table is never filled by a hair too much; but never past what is certain.
        return max(longest, math.ceil(estimate * 10) / 10)
