"""What a cut plan has to buy because no piece in stock is as long as its plies, and a plan of plies that fit there.

Which plan is best is decided without stock: cloth costs what it costs, bought or lying there. But a plan of long plies
may have to buy them all while cloth stays on the shelf. Then the same question is asked once more with no ply longer
than the longest piece of each colour, and both plans are held against what lies there (`core.rolls`). Lengths are mm.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from planner.core.cut_plan.known import Sections
from planner.core.cut_plan.model import Answer, PlannedSection, PlanQuestion
from planner.core.cut_plan.reasons import NoPlan, NotFoundInTime
from planner.core.cut_plan.solve import solve
from planner.core.lays.items import lay_width_in
from planner.core.lays.marker_lengths import MarkerLengths
from planner.core.lays.model import LENGTHS, Mode
from planner.core.lays.wishes import FromStock, Outcome
from planner.core.rolls import (
    PliesShort,
    PliesWanted,
    RollQuestion,
    RollThere,
    assign_plies,
    free_stretches,
    what_to_buy,
)
from planner.core.spec import Cloth, ClothKey

#: What lies there of each cloth and is promised to nobody else.
Stock = Mapping[ClothKey, tuple[RollThere, ...]]

#: Time for dealing plies of one colour out to rolls (s): only what is to be bought of them is asked.
_DEAL_SECONDS = 0.3
#: Less is not worth a word: cloth is told to the centimetre.
_NOTHING_MM = 10.0
#: So much longer a piece may be that a ply just as long fits it, whatever was rounded.
_HAIR_MM = 0.01


@dataclass(frozen=True)
class Looked:
    """What came of the look: `told` without what the other plan comes to, and that plan where it buys less."""

    told: FromStock | None = None
    answer: Answer | None = None

    def facts(self, outcome: Callable[[Answer, str], Outcome]) -> FromStock | None:
        """What is told, with what the other plan comes to."""
        if self.told is None or self.answer is None:
            return self.told
        return replace(self.told, other=outcome(self.answer, "from_stock"))


@dataclass(frozen=True)
class _Bought:
    """What is bought for plies no roll holds, what of these colours stays unused, whether it is for their length, and
    how much of these colours is flaws."""

    mm: float = 0.0
    unused_mm: float = 0.0
    too_long: bool = False
    flaws_mm: float = 0.0

    def told(self, *, is_aim: bool = False) -> FromStock:
        return FromStock(self.mm, self.unused_mm, is_aim=is_aim, flaws_mm=self.flaws_mm)


class StockLook:
    """The stock of one fabric's colours as its plan meets it."""

    def __init__(self, columns: Sequence[Cloth], lengths: Mapping[Mode, MarkerLengths], stock: Stock) -> None:
        self.columns, self.lengths, self.stock = columns, lengths, stock
        self.widths = {str(mode): lay_width_in(columns[0], mode) for mode in lengths}
        widest = max(self.widths.values())
        #: The longest piece of each colour that is wide enough; None where there is none.
        self.longest = tuple(_longest_mm(stock.get(cloth.key, ()), widest) for cloth in columns)

    def within(self, question: PlanQuestion) -> PlanQuestion:
        """The question with no ply longer than what lies there of its colour, or than one that is kept. Of a colour
        that is not there all has to be bought anyhow, so its plies are free."""
        rolls = question.roll_lengths_mm or (None,) * len(self.columns)
        pieces = (
            None if longest is None else max([longest, *self._kept_mm(question, column)])
            for column, longest in enumerate(self.longest)
        )
        both = zip(rolls, pieces, strict=True)
        return replace(
            question,
            roll_lengths_mm=tuple(min((n for n in pair if n is not None), default=None) for pair in both),
        )

    def _kept_mm(self, question: PlanQuestion, column: int) -> list[float]:
        """How long the plies of a colour are in the lays that are kept: they stay, though their piece may be gone."""
        by_way = {str(mode): lengths for mode, lengths in self.lengths.items()}
        return [
            by_way[lay.way].of(lay.counts) + question.end_mm + _HAIR_MM
            for lay in question.keep
            if lay.spreads[column]
        ]

    def look(
        self,
        question: PlanQuestion,
        answer: Answer,
        seconds: float,
        known: Sequence[Sections],
        should_stop: Callable[[], bool] | None = None,
    ) -> Looked:
        """What the answer buys, and the best plan of plies that fit what lies there, where that buys less.

        Asked only where a ply is bought that is longer than all that lies there, and so many seconds at most: with none
        it is open.
        """
        bought = self._bought(answer.sections)
        if not bought.too_long or bought.unused_mm < _NOTHING_MM:
            return Looked()
        told = bought.told()
        if seconds <= 0:
            return Looked(replace(told, is_open=True))
        try:
            other = solve(
                replace(self.within(question), objective="money"),
                seconds=seconds,
                should_stop=should_stop,
                known=known,
            )
        except NoPlan as none:
            is_open = any(isinstance(one, NotFoundInTime) for one in none.reasons)
            return Looked(replace(told, is_open=is_open))
        buys_mm = self._bought(other.sections).mm
        if buys_mm > bought.mm - _NOTHING_MM:
            return Looked(replace(told, is_open=not other.is_proven))
        return Looked(replace(told, other_buys_mm=buys_mm), other)

    def of_own(self, answer: Answer) -> Looked:
        """What a plan buys that was made from stock already."""
        bought = self._bought(answer.sections)
        return Looked(replace(bought.told(is_aim=True), is_too_long=bought.too_long))

    def _bought(self, sections: Sequence[PlannedSection]) -> _Bought:
        found = [self._of_colour(n, sections) for n in range(len(self.columns))]
        return _Bought(
            sum(one.mm for one in found),
            sum(one.unused_mm for one in found),
            any(one.too_long for one in found),
            sum(one.flaws_mm for one in found),
        )

    def _of_colour(self, column: int, sections: Sequence[PlannedSection]) -> _Bought:
        cloth, longest = self.columns[column], self.longest[column]
        wanted = tuple(self._wanted(n, one, column) for n, one in enumerate(sections) if one.spreads[column])
        if not wanted:
            return _Bought()
        rolls = self.stock.get(cloth.key, ())
        dealt = assign_plies(RollQuestion(wanted, rolls), seconds=_DEAL_SECONDS)
        if not any(one.plies for one in dealt.short):
            return _Bought()
        there = sum(high - low for roll in rolls for low, high in free_stretches(roll.length_mm, roll.flaws))
        taken = sum(cut.to_mm - cut.from_mm for cut in dealt.cuts)
        too_long = longest is not None and any(one.ply_mm > longest for one in dealt.short if one.plies)
        flaws = sum(roll.length_mm for roll in rolls) - there
        return _Bought(_to_buy_mm(dealt.short, cloth), max(0.0, there - taken), too_long, max(0.0, flaws))

    def _wanted(self, number: int, lay: PlannedSection, column: int) -> PliesWanted:
        mode = next(mode for mode in self.lengths if mode == lay.way)
        ply_mm = self.lengths[mode].of(lay.counts) + 2 * self.columns[0].end_allowance_mm
        each = LENGTHS[mode]
        return PliesWanted(
            f"{number}", ply_mm, each * lay.spreads[column], self.widths[lay.way], plies_per_spread=each
        )


def _longest_mm(rolls: Sequence[RollThere], lay_width_mm: float) -> float | None:
    pieces = [
        high - low
        for roll in rolls
        if roll.usable_width_mm is None or roll.usable_width_mm >= lay_width_mm - 1e-6
        for low, high in free_stretches(roll.length_mm, roll.flaws)
    ]
    return max(pieces, default=None)


def _to_buy_mm(short: Sequence[PliesShort], cloth: Cloth) -> float:
    """As it is sold, with what is lost in washing and at flaws."""
    try:
        return what_to_buy(short, cloth, seconds=_DEAL_SECONDS).buy.length_m * 1000
    except ValueError:
        return sum(one.plies * one.ply_mm for one in short)
