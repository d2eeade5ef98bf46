"""What is to be said of a cut plan: what it takes, what it saves, what else could be had, why it is not fewer lays."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal

from planner.core.cloth import need_for_lay_m, price_per_m
from planner.core.cut_plan.compare import size_by_size
from planner.core.cut_plan.model import Answer, PlanQuestion
from planner.core.cut_plan.reasons import NoPlan
from planner.core.cut_plan.solve import solve
from planner.core.lays.kinds import FabricTable
from planner.core.lays.marker_lengths import MarkerLengths
from planner.core.lays.model import Mode
from planner.core.lays.wishes import Aim, Kind, Outcome, PlanFacts, PriceOfWish, WhyNot, Wishes
from planner.core.spec import Workshop

#: Less than so long is not worth beginning another plan with (s).
WORTHWHILE = 0.05
#: Share of the time left that one comparison may take, and the most (s): by then it is as good as it gets, only not
#: proven.
SHARE_FOR_ONE, MOST_FOR_ONE = 0.4, 1.5


class FactFinder:
    """Looks at one answer from all sides, as long as time allows."""

    def __init__(
        self,
        table: FabricTable,
        shop: Workshop,
        wish: Wishes,
        question: PlanQuestion,
        answer: Answer,
        lengths: Mapping[Mode, MarkerLengths],
        rivals: Mapping[Aim, Answer],
    ) -> None:
        self.rivals = rivals
        self.table, self.shop, self.wish = table, shop, wish
        self.question, self.answer, self.lengths = question, answer, lengths

    def find(self, until: float, should_stop: Callable[[], bool] | None = None) -> PlanFacts:
        """The facts; comparisons that no time is left for (`until` on the monotonic clock) are left out."""
        self._until, self._stop = until, should_stop
        best = self._outcome(self.answer, self.question.objective)
        others = tuple(self._outcome(answer, aim) for aim, answer in self.rivals.items())
        return PlanFacts(
            best=best,
            single=self._single(best),
            others=others,
            fewer=self._why_not_fewer(others),
            garments=sum(map(sum, self.question.demand)),
            most_garments=self._most_garments(),
            most_layers=self.question.most_plies,
            prices=self._prices(),
            nested=best.nested,
            gap_share=None if self.answer.is_proven else self.answer.gap_share,
            least_lays=self.answer.lays_bound,
            method=self.answer.method,
            how_lengths=self._how_lengths(),
        )

    def _lengths(self, way: str) -> MarkerLengths:
        return next(lengths for mode, lengths in self.lengths.items() if mode == way)

    def _outcome(self, answer: Answer, aim: str) -> Outcome:
        times = self.shop.times
        minutes = times.spread_metre * answer.cloth_mm / 1000
        cost = Decimal(0)
        for cloth, length_mm in zip(self.table.columns, answer.cloth_mm_by_column, strict=True):
            cost += price_per_m(cloth) * Decimal(repr(need_for_lay_m(length_mm / 1000, cloth)))
        for one in answer.sections:
            minutes += times.setup + times.spread * one.total_spreads
            pieces = zip(one.counts, self._lengths(one.way).pieces_each, strict=True)
            minutes += (times.mark_piece + times.cut_piece) * sum(count * each for count, each in pieces)
        cost += Decimal(repr(minutes)) * times.rate_per_hour / 60
        nested = sum(self._lengths(one.way).is_nested(one.counts) for one in answer.sections)
        return Outcome(
            aim, answer.lays, answer.spreads, answer.cloth_mm, minutes, cost, answer.is_proven, nested
        )

    def _again(self, question: PlanQuestion, aim: str) -> Outcome | None:
        """Another plan in a share of the time left; None where there is none, or no time."""
        left = self._until - time.monotonic()
        if left < WORTHWHILE:
            return None
        try:
            return self._outcome(
                solve(question, seconds=min(MOST_FOR_ONE, left * SHARE_FOR_ONE), should_stop=self._stop), aim
            )
        except NoPlan:
            return None

    def _single(self, best: Outcome) -> Outcome:
        """Every kind in lays of its own; the plan itself where it is just that."""
        left = max(WORTHWHILE, self._until - time.monotonic())
        try:
            alone = size_by_size(
                self.question, seconds=min(MOST_FOR_ONE, left * SHARE_FOR_ONE), should_stop=self._stop
            )
        except NoPlan:
            return best
        return self._outcome(alone, "single")

    def _prices(self) -> tuple[PriceOfWish, ...]:
        """Each wish with the plan that could be had without it."""
        question, wish = self.question, self.wish
        prices: list[PriceOfWish] = []

        def price(name: str, kinds: frozenset[Kind], without: PlanQuestion) -> None:
            outcome = self._again(without, question.objective)
            if outcome is not None:
                prices.append(PriceOfWish(name, tuple(sorted(kinds)), outcome))

        for n, kinds in enumerate(wish.together):
            rest = question.together[:n] + question.together[n + 1 :]
            price("together", kinds, replace(question, together=rest))
        for kinds in wish.apart:
            rows = [self.table.kind_of(kind) for kind in kinds]
            free = frozenset(row for one in rows for row in one)
            apart = tuple(pair for pair in question.apart if not pair <= free)
            price("apart", kinds, replace(question, apart=apart))
        if wish.most_plies is not None and wish.most_plies < self.shop.most_plies:
            price("plies", frozenset(), replace(question, most_plies=self.shop.most_plies))
        if wish.keep:
            price("keep", frozenset(), replace(question, keep=()))
        return tuple(prices)

    def _why_not_fewer(self, others: tuple[Outcome, ...]) -> WhyNot:
        answer = self.answer
        if answer.lays <= 1:
            return "one"
        if any(one.lays < answer.lays for one in others):
            return "dearer"
        if answer.lays > answer.lays_bound:
            fewest = answer.is_proven and self.question.objective == "fewest_lays"
            proven = fewest or any(o.aim == "fewest_lays" and o.is_proven for o in others)
            return "proven" if proven else "open"
        garments = sum(map(sum, self.question.demand))
        room = self._most_garments() * self.question.most_plies * (answer.lays - 1)
        return "counting" if garments > room else "proven"

    def _most_garments(self) -> int:
        """The most garments that a marker on the table can hold, of whatever kind is smallest; at most all."""
        question = self.question
        most, whole = 0, sum(map(sum, question.demand))
        for way in question.ways:
            for kind, step in enumerate(way.steps):
                count = step
                while step and count <= whole:
                    counts = tuple(count if k == kind else 0 for k in range(question.kinds))
                    if self._lengths(way.name).estimate(counts) + question.end_mm > question.most_length_mm:
                        break
                    most, count = max(most, count), count + step
        return most

    def _how_lengths(self) -> str:
        learnt = [lengths.how_estimated for lengths in self.lengths.values()]
        return learnt[0] if learnt else ""
