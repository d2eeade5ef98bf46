"""What is to be said of a cut plan: what it takes, what it saves, what else could be had, why it is not fewer lays."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import replace

from planner.core.cut_plan.model import Answer, PlanQuestion
from planner.core.cut_plan.reasons import NoPlan
from planner.core.cut_plan.solve import solve
from planner.core.lays.kinds import FabricTable
from planner.core.lays.lay_fewer import reason_against
from planner.core.lays.marker_lengths import MarkerLengths
from planner.core.lays.model import Mode
from planner.core.lays.outcomes import Laid, outcome_of
from planner.core.lays.single_sizes import single_lays, single_outcome
from planner.core.lays.wishes import (
    Aim,
    Kind,
    Outcome,
    PlanFacts,
    PriceOfWish,
    Reason,
    WhyNot,
    Wishes,
)
from planner.core.spec import Workshop

#: Less than so long is not worth beginning another plan with (s).
WORTHWHILE = 0.05
#: Share of the time left that one comparison may take, and the most (s): by then it is as good as it gets, only not
#: proven.
SHARE_FOR_ONE, MOST_FOR_ONE = 0.4, 1.5
#: To find out which rule stands against a lay less may take so long (s).
MOST_FOR_REASON = 3.0


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
        nested: Mapping[str, float],
    ) -> None:
        self.rivals, self.nested = rivals, nested
        self.table, self.shop, self.wish = table, shop, wish
        self.question, self.answer, self.lengths = question, answer, lengths

    def find(self, until: float, should_stop: Callable[[], bool] | None = None) -> PlanFacts:
        """The facts; comparisons that no time is left for (`until` on the monotonic clock) are left out."""
        self._until, self._stop = until, should_stop
        best = self._outcome(self.answer, self.question.objective)
        others = tuple(self._outcome(answer, aim) for aim, answer in self.rivals.items())
        singles = single_lays(self.table, self.question, self.lengths)
        fewer = self._why_not_fewer(others)
        return PlanFacts(
            best=best,
            single=single_outcome(singles, self.shop, self.nested) if singles else best,
            single_lays=singles,
            others=others,
            fewer=fewer,
            reason=self._reason(fewer),
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
        laid = []
        for one in answer.sections:
            mode, lengths = next((m, found) for m, found in self.lengths.items() if m == one.way)
            spreads = zip((cloth.key for cloth in self.table.columns), one.spreads, strict=True)
            nested = lengths.is_nested(one.counts)
            laid.append(Laid(lengths.of(one.counts), mode, dict(spreads), lengths.pieces(one.counts), nested))
        return outcome_of(aim, laid, self.shop, end_mm=self.question.end_mm, is_proven=answer.is_proven)

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

    def _reason(self, fewer: WhyNot) -> Reason | None:
        """The rule that stands against a lay less, where a lay less was ruled out and counting does not say why."""
        if fewer != "proven":
            return None
        until = time.monotonic() + min(MOST_FOR_REASON, (self._until - time.monotonic()) * SHARE_FOR_ONE)
        return reason_against(
            self.table, self.shop, self.wish, self.question, self.answer.lays - 1, until, self._stop
        )

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
