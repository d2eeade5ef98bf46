"""The cut plan of one fabric: the question as mathematics, the answer as lays."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from planner.core.cloth import end_of_ply_mm
from planner.core.cut_plan.known import better_of
from planner.core.cut_plan.model import Answer, PlannedSection, PlanQuestion
from planner.core.cut_plan.reasons import NoPlan
from planner.core.cut_plan.solve import solve
from planner.core.lays.bought import Looked
from planner.core.lays.cloth_limits import layers_allowed
from planner.core.lays.fabric_question import question_of, steps_of
from planner.core.lays.from_stock import Stock, StockLook
from planner.core.lays.items import items_for
from planner.core.lays.kinds import FabricTable, share_out
from planner.core.lays.learnt import is_poor, weighted_median
from planner.core.lays.marker_lengths import Lengths, MarkerLengths, strip_job
from planner.core.lays.misfits import certain_misfits, in_words
from planner.core.lays.model import Mode, PlannedLay, Plies
from planner.core.lays.plan_facts import Compared, FactFinder
from planner.core.lays.problems import CannotPlan, WishRefused
from planner.core.lays.single_sizes import Found, single_sections
from planner.core.lays.wishes import Aim, PlanFacts, Wishes
from planner.core.lays.without import Without, best_without, each_taken_back, with_at_least, with_sure
from planner.core.spec import Cloth, ClothKey, Garment, Workshop

#: By these shares of the time the plan itself is found, what could be had without each wish, and what other aims come
#: to; the rest is for the reason why it is not fewer lays. What one does not need is left to the next.
_OWN_SHARE, _WITHOUT_SHARE, _RIVALS_SHARE = 0.6, 0.75, 0.9
#: Of the time for the plan itself the first look takes so much where its lengths may be corrected after it; and so much
#: is left for shorter plies where it is made from stock.
_FIRST_SHARE, _SHORTER_SHARE = 0.6, 0.3
#: Share of the time left that one comparison may take, and the most (s): by then it is as good as it gets, only not
#: proven. Less than the last is not worth beginning with.
_SHARE_FOR_ONE, _MOST_FOR_ONE, _WORTHWHILE = 0.4, 1.5, 0.05
#: Estimates are corrected so often at most, and not for less than this share.
_CORRECTIONS, _NEAR_ENOUGH = 2, 0.01
#: Nor by more than this factor either way in all, unless most of the plan's cloth was nested: so much is wasted at no
#: table that is believed (`cutting.learning`), and what would need more rests on an odd marker.
_MOST_CORRECTED, _MOST_OF_PLAN = 4 / 3, 0.5


@dataclass(frozen=True)
class FabricPlan:
    """The lays of one fabric and what is to be said of them. `extra` are garments cut beyond the demand."""

    fabric: str
    lays: tuple[PlannedLay, ...]
    facts: PlanFacts
    extra: Mapping[Garment, int]


class FabricPlanner:
    """Plans one fabric; made anew for each plan."""

    def __init__(
        self, table: FabricTable, shop: Workshop, wish: Wishes, known: Lengths, stock: Stock | None = None
    ) -> None:
        self.table, self.shop, self.wish, self.doubt = table, shop, wish, known.doubt
        self.nested, self.known = known.nested, known.plans.get(table.fabric, ())
        #: What every search begins from: plans known, and single sizes once they are reckoned.
        self.starts = self.known
        self._singles: Found = {}
        #: By this factor the estimates were brought in line with what was nested.
        self.corrected = 1.0
        self.cloth = table.columns[0]
        steps = {mode: steps_of(table, mode, shop) for mode in self.cloth.modes}
        problems = certain_misfits(table, steps, shop)
        if problems:
            raise CannotPlan(problems)
        self.lengths = {
            mode: MarkerLengths(table, mode, each, shop, known) for mode, each in steps.items() if any(each)
        }
        self.layers = layers_allowed(self.cloth, shop, wish.most_plies)
        self.stock = None if stock is None else StockLook(table.columns, self.lengths, stock)
        self.within_stock = wish.from_stock and self.stock is not None

    def plan(
        self,
        seconds: float,
        should_stop: Callable[[], bool] | None = None,
        *,
        compare: bool = True,
        explain: bool = True,
    ) -> FabricPlan:
        """The best plan found within `seconds`, with what is to be said of it. Raises CannotPlan.

        Without `compare` all of the time goes into the plan, and nothing is said of others. Without `explain` others
        are compared only where one of them might be the better plan, and it is not told why it is not fewer lays.
        """
        began = time.monotonic()

        def by(share: float) -> float:
            return began + seconds * share

        try:
            question, answer = self._answer(by(_OWN_SHARE if compare else 1.0), should_stop)
        except NoPlan as refusal:
            raise CannotPlan([in_words(one, self.table, self.shop) for one in refusal.reasons]) from refusal
        # What is proven to be the best is that whatever others come to; made from stock, others are told with it.
        looks = compare and (explain or not answer.is_proven or self.within_stock)
        withouts = self._withouts(question, answer, by(_WITHOUT_SHARE), should_stop) if looks else ()
        rivals = self._rivals(question, answer, by(_RIVALS_SHARE), should_stop) if looks else {}
        others = [*rivals.values(), *(one.answer for one in withouts)]
        if not self.within_stock:  # There a cheaper one may buy more.
            answer = better_of(question, answer, others)
        found = (answer.sections, *(one.sections for one in others), *self.starts)
        withouts = tuple(with_sure(with_at_least(answer, one), found, self.lengths) for one in withouts)
        extra, wanted = self._extra(answer)
        lays = self._lays(answer, replace(self.table, wanted=wanted))
        looked = self._look(
            question, answer, rivals.get("money"), by(_RIVALS_SHARE) if compare else 0.0, should_stop
        )
        finder = FactFinder(
            self.table, self.shop, self.wish, question, answer, self.lengths,
            Compared(rivals, withouts, looked, self._singles), self.nested,
            tool_plies=layers_allowed(self.cloth, self.shop), known=self.known,
        )  # fmt: skip
        facts = finder.find(by(1.0) if compare and explain else 0.0, should_stop)
        return FabricPlan(self.table.fabric, lays, facts, extra)

    def _answer(self, until: float, should_stop: Callable[[], bool] | None) -> tuple[PlanQuestion, Answer]:
        """The plan itself, found by then (monotonic clock), and the question it answers once estimates are brought in
        line with what was nested of it. Raises NoPlan."""

        began = time.monotonic()
        whole = (until - began) * (1 - _SHORTER_SHARE if self.within_stock else 1.0)

        def left(share: float) -> float:
            return max(0.0, began + whole - time.monotonic()) * share

        question = self.question()
        # The plan is held against single sizes, so it must never be dearer: with very many garments it would be.
        known = self.starts = (*self.known, single_sections(question, self.lengths, self._singles))
        share = _FIRST_SHARE if self.nested else 1.0
        try:
            answer = solve(question, seconds=left(share), should_stop=should_stop, known=known)
        except NoPlan:
            if not self.within_stock or question.keep:
                raise
            # What lay there is gone: then she gets the plan she would have without.
            self.within_stock, question = False, self.question(within_stock=False)
            answer = solve(question, seconds=left(share), should_stop=should_stop, known=known)
        for n in range(_CORRECTIONS):
            if not self._correct(answer):
                break
            question, known = self.question(), (answer.sections, *known)
            answer = solve(
                question, seconds=left(1 / (_CORRECTIONS - n)), should_stop=should_stop, known=known
            )
        if self.within_stock and self.stock is not None:
            answer = self.stock.buying_least(question, answer, until, known, should_stop)
        return question, answer

    def _withouts(
        self, question: PlanQuestion, answer: Answer, until: float, should_stop: Callable[[], bool] | None
    ) -> tuple[Without, ...]:
        """The best plans found without each wish until then (monotonic clock)."""
        eased = tuple(each_taken_back(self.table, self.wish, question, layers_allowed(self.cloth, self.shop)))
        return best_without(eased, (answer.sections, *self.starts), until, _MOST_FOR_ONE, should_stop)

    def _rivals(
        self, question: PlanQuestion, answer: Answer, until: float, should_stop: Callable[[], bool] | None
    ) -> dict[Aim, Answer]:
        """The plans of the other aims, as long as there is time until then (monotonic clock); from stock or not."""
        free = self.question(within_stock=False) if self.within_stock else question
        # How few lays can be is the same whatever counts most: proven for one aim it need not be for the next.
        least = 0 if self.within_stock else answer.lays_bound
        aims: tuple[Aim, ...] = ("money", "fewest_lays", "least_cloth")
        found: dict[Aim, Answer] = {}
        for aim in aims:
            left = until - time.monotonic()
            is_own = aim == question.objective and not self.within_stock
            if is_own or left < _WORTHWHILE:
                continue
            seconds = min(_MOST_FOR_ONE, left * _SHARE_FOR_ONE)
            # A plan was found by now, so that there is one is certain; only not in what time.
            with suppress(NoPlan):
                found[aim] = solve(
                    replace(free, objective=aim),
                    seconds=seconds,
                    should_stop=should_stop,
                    known=self.starts,
                    least_lays=least,
                )
                least = max(least, found[aim].lays_bound)
        return found

    def _look(
        self,
        question: PlanQuestion,
        answer: Answer,
        blind: Answer | None,
        until: float,
        should_stop: Callable[[], bool] | None,
    ) -> Looked:
        """What the plan buys, and one of plies that fit what lies in stock, found until then (monotonic clock); of one
        made from stock the `blind` one instead, for the least money without looking there."""
        if self.stock is None:
            return Looked()
        if self.within_stock:
            return self.stock.of_own(answer, blind)
        seconds = min(_MOST_FOR_ONE, (until - time.monotonic()) * _SHARE_FOR_ONE)
        seconds = seconds if seconds >= _WORTHWHILE / 2 else 0.0
        return self.stock.look(question, answer, seconds, (answer.sections, *self.starts), should_stop)

    def _correct(self, answer: Answer) -> bool:
        """Brings the estimates in line with what was nested of the plan; whether there was anything to bring.

        Markers nested and markers estimated are then chosen between as like with like, whatever the estimates rest on:
        lengths used at the table hold what was wasted there too, lengths nested do not. It is done by the median of
        nested ÷ estimated, weighted by the metres each marker takes, so that an odd one does not move all the others,
        and not far where it is all that is known. What came out much longer than estimated is no measure for larger
        markers.
        """
        found: list[tuple[float, float]] = []
        whole_mm = sum(self.lengths[_mode(one)].of(one.counts) * one.total_spreads for one in answer.sections)
        largest = max((sum(one.counts) for one in answer.sections), default=0)
        for one in answer.sections:
            lengths = self.lengths[_mode(one)]
            if lengths.is_nested(one.counts):
                length, guess = lengths.of(one.counts), lengths.estimate(one.counts)
                garments = sum(one.counts)
                if garments < largest and is_poor(garments, guess / length, 1.0):
                    continue
                found.append((length / guess, length * one.total_spreads))
        longer = weighted_median(found) * (1 + self.doubt) if found else 1.0
        wanted = self.corrected * longer
        if sum(weight for _, weight in found) < _MOST_OF_PLAN * whole_mm:
            wanted = min(_MOST_CORRECTED, max(1 / _MOST_CORRECTED, wanted))
        longer, self.corrected = wanted / self.corrected, wanted
        if abs(longer - 1) < _NEAR_ENOUGH:
            return False
        for lengths in self.lengths.values():
            lengths.rescale(longer)
        return True

    def question(self, *, within_stock: bool = True) -> PlanQuestion:
        """What is asked of the solver, by the lengths as they are known by now; `within_stock` where that is wished."""
        question = question_of(self.table, self.shop, self.wish, self.lengths, self.layers)
        if within_stock and self.within_stock and self.stock is not None:
            return self.stock.within(question)
        return question

    def _extra(self, answer: Answer) -> tuple[Counter[Garment], tuple[tuple[Counter[Garment], ...], ...]]:
        """What is cut beyond the demand, and all that is cut, garment by garment."""
        extra: Counter[Garment] = Counter()
        wanted = [[Counter(cell) for cell in row] for row in self.table.wanted]
        for kind, row in enumerate(wanted):
            for column, cell in enumerate(row):
                cut = sum(one.counts[kind] * one.spreads[column] for one in answer.sections)
                over = cut - cell.total()
                for garment, most in self.table.extra[kind][column].items() if over > 0 else ():
                    taken = min(over, most)
                    over -= taken
                    cell[garment] += taken
                    extra[garment] += taken
        return +extra, tuple(tuple(row) for row in wanted)

    def _lays(self, answer: Answer, table: FabricTable) -> tuple[PlannedLay, ...]:
        """The sections as lays, the longest first; those the maker keeps are left as they are."""
        kept = list(self.wish.keep)
        rest = replace(table, wanted=_without(table, kept))
        made = [one for one in answer.sections if not one.is_kept]
        made.sort(key=lambda one: -self.lengths[_mode(one)].of(one.counts))
        shared = share_out([(one.counts, one.spreads) for one in made], rest)
        return tuple(kept) + tuple(self._lay(one, plies) for one, plies in zip(made, shared, strict=True))

    def _lay(self, section: PlannedSection, plies: tuple[Plies, ...]) -> PlannedLay:
        mode = _mode(section)
        items = items_for(plies[0].slots, mode, self.cloth_of(plies[0].cloth), self.shop)
        strip = strip_job(self.cloth, mode, self.shop)
        return PlannedLay(
            section=0,
            plies=plies,
            mode=mode,
            lay_width_mm=strip.lay_width_mm,
            end_allowance_mm=end_of_ply_mm(self.cloth),
            job=replace(strip, items=items),
            estimated_length_mm=self.lengths[mode].of(section.counts),
        )

    def cloth_of(self, key: ClothKey) -> Cloth:
        """The cloth of a column."""
        return self.shop.cloths[key]


def _mode(section: PlannedSection) -> Mode:
    modes: dict[str, Mode] = {"open": "open", "face_to_face": "face_to_face", "folded": "folded"}
    return modes[section.way]


def _without(table: FabricTable, kept: Sequence[PlannedLay]) -> tuple[tuple[Counter[Garment], ...], ...]:
    """What is wanted besides the lays that are kept. Raises CannotPlan where they cut more of a garment."""
    wanted = []
    for row in table.wanted:
        cells = []
        for cloth, cell in zip(table.columns, row, strict=True):
            left = Counter(cell)
            for lay in kept:
                left.subtract({g: n for g, n in lay.cut_from(cloth.key).items() if g in cell})
            short = next((g for g, n in left.items() if n < 0), None)
            if short is not None:
                text = f"the lays you keep cut more of {short.style} {short.size} than are wanted"
                raise CannotPlan([WishRefused(short, text, table.fabric, "keep")])
            cells.append(+left)
        wanted.append(tuple(cells))
    return tuple(wanted)
