"""What a cut plan has to buy because no piece in stock is as long as its plies, and a plan of plies that fit there.

Which plan is best is decided without stock: cloth costs the same whether it is bought or lies there. But a plan of long
plies may have to buy them all while cloth stays on the shelf. Then the same question is asked once more with no ply
longer than the longest piece of each colour (both plies of a pair face to face come from one piece, or from either side
of a flaw), and both plans are dealt out to what lies there (`core.rolls`).

Even where no ply is longer than the longest piece, some may find none, because others were cut from it. Then the
garments of those plies are planned once more in plies that fit what is left, or the whole plan with no ply longer than
the next longest piece, and so on. Lengths are mm.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal

from planner.core.cloth import end_of_ply_mm, price_per_m
from planner.core.cut_plan.known import Sections, keeps_rules
from planner.core.cut_plan.measure import totals_of
from planner.core.cut_plan.model import Answer, PlannedSection, PlanQuestion
from planner.core.cut_plan.reasons import NoPlan, NotFoundInTime
from planner.core.cut_plan.solve import solve
from planner.core.lays.bought import Bought, Looked
from planner.core.lays.cloth_limits import price_per_mm, usual_cost
from planner.core.lays.items import lay_width_in, width_taken_mm
from planner.core.lays.longest_there import no_longer, plies_there_mm
from planner.core.lays.marker_lengths import MarkerLengths
from planner.core.lays.model import LENGTHS, Mode
from planner.core.rolls import (
    PliesShort,
    PliesWanted,
    RollAnswer,
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
#: Added to a limit, so that a ply just as long still fits it after rounding.
_HAIR_MM = 0.01
#: This many pieces of each colour are tried as the limit for its plies, from the longest on.
_MOST_STEPS = 5
#: Share of the time left that one of these trials may take; a trial shorter than the second (s) is not begun.
_SHARE_FOR_ONE, _WORTHWHILE = 0.6, 0.02


class StockLook:
    """The stock of one fabric's colours as its plan meets it."""

    def __init__(self, columns: Sequence[Cloth], lengths: Mapping[Mode, MarkerLengths], stock: Stock) -> None:
        self.columns, self.lengths, self.stock = columns, lengths, stock
        self.widths = {str(mode): width_taken_mm(lay_width_in(columns[0], mode), mode) for mode in lengths}
        self.widest = max(self.widths.values())
        #: How long plies of each colour may be so that a roll wide enough gives one, or two, the longest first.
        self.pieces, self.pairs = (
            tuple(plies_there_mm(stock.get(one.key, ()), each, self.widest) for one in columns)
            for each in (1, 2)
        )

    def within(self, question: PlanQuestion, step: int = 0) -> PlanQuestion:
        """The question with no ply longer than the longest piece of its colour there (`step` 0), the next longest (1)
        and so on, or than a ply of a lay that is kept. All of a colour that is not there has to be bought anyhow, so
        its plies may have any length."""
        return no_longer(
            question,
            self._steps_mm(question, self.pieces, 1, step),
            self._steps_mm(question, self.pairs, 2, step),
        )

    def _steps_mm(
        self, question: PlanQuestion, there: Sequence[Sequence[float]], lengths: int, step: int
    ) -> list[float | None]:
        """How long plies of each colour may be, with `lengths` (1 or 2) of cloth a spread; None for no limit."""
        return [
            max([own[min(step, len(own) - 1)], *self._kept_mm(question, column, lengths)]) if own else None
            for column, own in enumerate(there)
        ]

    def _kept_mm(self, question: PlanQuestion, column: int, lengths: int) -> list[float]:
        """How long plies of a colour are in kept lays with `lengths` of cloth a spread: these stay as they are, even if
        the piece they were planned from is gone."""
        by_way = {str(mode): lengths for mode, lengths in self.lengths.items()}
        return [
            by_way[lay.way].of(lay.counts) + question.end_mm + _HAIR_MM
            for lay in question.keep
            if lay.spreads[column] and LENGTHS[lay.way] == lengths  # type: ignore[index]
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

        It is looked for only where a ply has to be bought that is longer than all that lies there, and for `seconds` at
        most; with none left it stays open whether there is one.
        """
        bought = self._bought(answer.sections)
        if not bought.too_long or bought.unused_mm < _NOTHING_MM:
            return Looked()
        told = bought.told()
        if seconds <= 0:
            return Looked(replace(told, is_open=True), buys=bought)
        until, asked = time.monotonic() + seconds, replace(self.within(question), objective="money")
        try:
            other = solve(asked, seconds=seconds * _SHARE_FOR_ONE, should_stop=should_stop, known=known)
        except NoPlan as none:
            is_open = any(isinstance(one, NotFoundInTime) for one in none.reasons)
            return Looked(replace(told, is_open=is_open), buys=bought)
        is_open = not other.is_proven
        other = self.buying_least(asked, other, until, known, should_stop)
        buys = self._bought(other.sections)
        if buys.mm > bought.mm - _NOTHING_MM:
            return Looked(replace(told, is_open=is_open), buys=bought)
        return Looked(told, other, bought, buys)

    def buying_least(
        self,
        question: PlanQuestion,
        answer: Answer,
        until: float,
        known: Sequence[Sections],
        should_stop: Callable[[], bool] | None = None,
    ) -> Answer:
        """The answer to a question :meth:`within` stock, or one of shorter plies that buys less, where one is found by
        `until` (monotonic clock).

        Its bound and gap are those among all plans whose plies fit the longest piece, the cheapest of which may buy
        more.
        """
        if self._bought(answer.sections).mm < _NOTHING_MM:
            return answer
        found = [answer]
        for step in range(min(_MOST_STEPS, max(map(len, (*self.pieces, *self.pairs))))):
            seconds = (until - time.monotonic()) * _SHARE_FOR_ONE
            if seconds < _WORTHWHILE:
                break
            with suppress(NoPlan):
                if step == 0:
                    found.append(self._rest_shorter(question, answer, seconds, should_stop))
                    continue
                shorter = self.within(question, step)
                plans = (answer.sections, *known)
                found.append(solve(shorter, seconds=seconds, should_stop=should_stop, known=plans))
                if self._bought(found[-1].sections).mm < _NOTHING_MM:
                    break
        best = min(found, key=lambda one: (round(self._bought(one.sections).mm / _NOTHING_MM), one.cost))
        return answer if best is answer else _among_longer(best, answer)

    def _rest_shorter(
        self,
        question: PlanQuestion,
        answer: Answer,
        seconds: float,
        should_stop: Callable[[], bool] | None,
    ) -> Answer:
        """An answer whose spreads stay where they find a piece; what the others would cut is planned anew, in plies
        that fit what is then left. Raises NoPlan. With kept lays the answer is returned unchanged."""
        if question.keep:
            return answer
        found, left = [list(one.spreads) for one in answer.sections], []
        for column in range(len(self.columns)):
            dealt = self._dealt(column, answer.sections)
            for short in dealt.short if dealt else ():
                found[int(short.wanted)][column] -= math.ceil(short.plies / short.plies_per_spread)
            left.append(self._left(column, dealt) if dealt else ())
        stays = [
            replace(one, spreads=tuple(n)) for one, n in zip(answer.sections, found, strict=True) if any(n)
        ]
        cut = [
            [sum(one.counts[k] * one.spreads[c] for one in stays) for c in range(question.columns)]
            for k in range(question.kinds)
        ]
        longest = (
            [next(iter(plies_there_mm(rolls, each, self.widest)), None) for rolls in left] for each in (1, 2)
        )
        rest = solve(no_longer(_besides(question, cut), *longest), seconds=seconds, should_stop=should_stop)
        sections = (*stays, *rest.sections)
        return _summed_up(question, sections, answer) if keeps_rules(question, sections) else answer

    def _left(self, column: int, dealt: RollAnswer) -> tuple[RollThere, ...]:
        """What is left of a colour once plies are cut so."""
        cut = {one.roll for one in dealt.cuts}
        there = {one.key: one for one in self.stock.get(self.columns[column].key, ())}
        rests = (
            replace(
                there[one.roll], key=f"{one.roll} {one.from_mm}", length_mm=one.length_mm, flaws=one.flaws
            )
            for one in dealt.remnants
        )
        return (*(one for one in there.values() if one.key not in cut), *rests)

    def of_own(self, answer: Answer, blind: Answer | None) -> Looked:
        """What a plan made from stock buys, and what the `blind` one, made without looking there, would buy."""
        bought = self._bought(answer.sections)
        told = replace(bought.told(is_aim=True), is_too_long=bought.too_long)
        return Looked(told, blind, bought, None if blind is None else self._bought(blind.sections))

    def _bought(self, sections: Sequence[PlannedSection]) -> Bought:
        found = [self._of_colour(n, sections) for n in range(len(self.columns))]
        return Bought(
            sum(one.mm for one in found),
            sum(one.unused_mm for one in found),
            any(one.too_long for one in found),
            sum(one.flaws_mm for one in found),
            sum((one.cost for one in found), Decimal(0)),
            sum((one.worth for one in found), Decimal(0)),
        )

    def _of_colour(self, column: int, sections: Sequence[PlannedSection]) -> Bought:
        cloth = self.columns[column]
        dealt, rolls = self._dealt(column, sections), self.stock.get(cloth.key, ())
        if dealt is None or not any(one.plies for one in dealt.short):
            return Bought()
        there = sum(high - low for roll in rolls for low, high in free_stretches(roll.length_mm, roll.flaws))
        taken = sum(cut.to_mm - cut.from_mm for cut in dealt.cuts)
        longest = {1: self.pieces[column], 2: self.pairs[column]}
        too_long = any(
            own[0] < one.ply_mm for one in dealt.short if one.plies and (own := longest[one.plies_per_spread])
        )
        flaws = sum(roll.length_mm for roll in rolls) - there
        buy_mm, cost = _to_buy(dealt.short, cloth)
        worth = cost if price_per_m(cloth) else usual_cost(buy_mm)
        return Bought(buy_mm, max(0.0, there - taken), too_long, max(0.0, flaws), cost, worth)

    def _dealt(self, column: int, sections: Sequence[PlannedSection]) -> RollAnswer | None:
        """The plies of one colour dealt out to what lies there, named by the index of their section; None where the
        plan has no plies of it."""
        wanted = tuple(self._wanted(n, one, column) for n, one in enumerate(sections) if one.spreads[column])
        rolls = self.stock.get(self.columns[column].key, ())
        return assign_plies(RollQuestion(wanted, rolls), seconds=_DEAL_SECONDS) if wanted else None

    def _wanted(self, number: int, lay: PlannedSection, column: int) -> PliesWanted:
        mode = next(mode for mode in self.lengths if mode == lay.way)
        ply_mm = self.lengths[mode].of(lay.counts) + 2 * end_of_ply_mm(self.columns[0])
        each = LENGTHS[mode]
        return PliesWanted(
            f"{number}", ply_mm, each * lay.spreads[column], self.widths[lay.way], plies_per_spread=each
        )


def _besides(question: PlanQuestion, cut: Sequence[Sequence[int]]) -> PlanQuestion:
    """The question of what is still to be cut once `cut[kind][column]` garments are."""
    both = [list(zip(row, done, strict=True)) for row, done in zip(question.demand, cut, strict=True)]
    return replace(
        question,
        demand=tuple(tuple(max(0, wanted - done) for wanted, done in row) for row in both),
        overcut=tuple(
            tuple(over - max(0, done - wanted) for over, (wanted, done) in zip(overs, row, strict=True))
            for overs, row in zip(question.overcut, both, strict=False)
        ),
    )


def _summed_up(question: PlanQuestion, sections: Sections, answer: Answer) -> Answer:
    """A plan of the same question as the answer, with what it comes to."""
    totals = totals_of(question, sections)
    return replace(
        answer,
        sections=sections,
        value=totals.cost,
        **totals.as_fields(),
    )


def _among_longer(found: Answer, longer: Answer) -> Answer:
    """The answer `found` for shorter plies, with bounds that hold among all plies the `longer` answer could choose
    from. That one is no dearer."""
    bound = min(longer.bound, found.value)
    return replace(
        found,
        bound=bound,
        is_proven=longer.is_proven and found.value <= longer.value,
        gap_share=(found.value - bound) / found.value if found.value else 0.0,
        lays_bound=min(longer.lays_bound, found.lays),
    )


def _to_buy(short: Sequence[PliesShort], cloth: Cloth) -> tuple[float, Decimal]:
    """The length to buy (mm) as it is sold, with what is lost in washing and at flaws, and what it costs."""
    try:
        buy = what_to_buy(short, cloth, seconds=_DEAL_SECONDS).buy
        return buy.length_m * 1000, buy.cost
    except ValueError:
        length_mm = sum(one.plies * one.ply_mm for one in short)
        return length_mm, Decimal(repr(length_mm * price_per_mm(cloth)))
