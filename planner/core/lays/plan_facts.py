"""What is to be said of a cut plan: what it takes, what it saves, what else could be had, why it is not fewer lays."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from planner.core.cut_plan.known import Sections, keeps_rules, without_repeats
from planner.core.cut_plan.measure import totals_of
from planner.core.cut_plan.model import Answer, Counts, PlanQuestion, WayToLay
from planner.core.lays.bought import Looked
from planner.core.lays.kinds import FabricTable
from planner.core.lays.lay_fewer import reason_against
from planner.core.lays.made_with import made_with
from planner.core.lays.marker_lengths import MarkerLengths
from planner.core.lays.model import Mode
from planner.core.lays.outcomes import Laid, outcome_of
from planner.core.lays.single_sizes import Found, single_lays, single_outcome, with_lengths
from planner.core.lays.wishes import (
    Aim,
    Outcome,
    PlanFacts,
    PriceOfWish,
    Reason,
    WhyNot,
    Wishes,
)
from planner.core.lays.without import Without, is_nested
from planner.core.spec import Workshop

#: To find out which rule stands against a lay less may take so long (s).
MOST_FOR_REASON = 3.0
#: So many plans are kept for others to begin from, the newest; and of those among them that were nested throughout so
#: many before all others, the cheapest: what only promised to be good never crowds out what is known to be.
MOST_PLANS, MOST_NESTED = 16, 8


@dataclass(frozen=True)
class Compared:
    """What an answer is compared with: the plans of other aims (`rivals`), the best plans without each wish, what came
    of a look at the stock, and the lays of single sizes as far as they were found before."""

    rivals: Mapping[Aim, Answer] = field(default_factory=dict)
    withouts: Sequence[Without] = ()
    looked: Looked = field(default_factory=Looked)
    singles: Found | None = None

    @property
    def answers(self) -> list[Answer]:
        """All plans among them, those without wishes first."""
        found = [*(one.answer for one in self.withouts), *self.rivals.values()]
        found += [self.looked.answer] if self.looked.answer is not None else []
        return found + [one.sure for one in self.withouts if one.sure is not None]


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
        compared: Compared,
        nested: Mapping[str, float],
        *,
        tool_plies: int,
        known: Sequence[Sections] = (),
    ) -> None:
        """`nested` are lengths by the marker's key (mm), `known` plans found before, `tool_plies` the most layers of
        this cloth that the tool cuts."""
        self.table, self.shop, self.wish = table, shop, wish
        self.question, self.answer, self.lengths = question, answer, lengths
        self.compared, self.nested, self.tool_plies = compared, nested, tool_plies
        found = [answer, *compared.answers]
        self.plans = self._worth_keeping([*(one.sections for one in found), *known])

    def find(self, until: float, should_stop: Callable[[], bool] | None = None) -> PlanFacts:
        """The facts; a reason that no time is left for (`until` on the monotonic clock) is left out."""
        self._until, self._stop = until, should_stop
        best = self.outcome(self.answer, self.question.objective)
        others = tuple(self.outcome(answer, aim) for aim, answer in self.compared.rivals.items())
        singles = with_lengths(
            single_lays(self.table, self.question, self.lengths, self.compared.singles), self.nested
        )
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
            prices=tuple(map(self._price, self.compared.withouts)),
            nested=best.nested,
            gap_share=None if self.answer.is_proven else self.answer.gap_share,
            least_lays=self.answer.lays_bound,
            method=self.answer.method,
            how_lengths=self._how_lengths(),
            plans=self.plans,
            stock=self.compared.looked.facts(self.outcome, best, self.shop.times.rate_per_hour),
            made_with=made_with(self.table.columns, self.shop),
        )

    def _price(self, one: Without) -> PriceOfWish:
        """What a wish costs, by the best plan found without it and the best of those that were nested."""
        aim = self.question.objective
        sure = None if one.sure is None else self.outcome(one.sure, aim)
        return PriceOfWish(one.wish, one.kinds, self.outcome(one.answer, aim), sure)

    def _worth_keeping(self, plans: Sequence[Sections]) -> tuple[Sections, ...]:
        """The first of these plans, the cheapest of those that were nested throughout, then the others as they come."""
        anything = replace(
            self.question, together=(), apart=(), keep=(), most_plies=self.tool_plies, roll_lengths_mm=None
        )
        nested = [plan for plan in plans if keeps_rules(anything, plan) and is_nested(plan, self.lengths)]
        nested.sort(key=lambda plan: totals_of(anything, plan).cost)
        cheapest = without_repeats(nested, MOST_NESTED)
        return without_repeats([*plans[:1], *cheapest, *plans], MOST_PLANS)

    def _lengths(self, way: str) -> MarkerLengths:
        return next(lengths for mode, lengths in self.lengths.items() if mode == way)

    def outcome(self, answer: Answer, aim: str) -> Outcome:
        """What an answer to the question comes to, under this name."""
        laid = []
        for one in answer.sections:
            mode, lengths = next((m, found) for m, found in self.lengths.items() if m == one.way)
            spreads = zip((cloth.key for cloth in self.table.columns), one.spreads, strict=True)
            nested = lengths.is_nested(one.counts)
            laid.append(Laid(lengths.of(one.counts), mode, dict(spreads), lengths.pieces(one.counts), nested))
        return outcome_of(aim, laid, self.shop, end_mm=self.question.end_mm, is_proven=answer.is_proven)

    def _reason(self, fewer: WhyNot) -> Reason | None:
        """The rule that stands against a lay less, where a lay less was ruled out; where counting says why, only one of
        the maker's own."""
        if fewer not in ("proven", "counting"):
            return None
        return reason_against(
            self.table,
            self.wish,
            self.question,
            self.answer.lays - 1,
            min(time.monotonic() + MOST_FOR_REASON, self._until),
            self._stop,
            tool_plies=self.tool_plies,
            known=self.plans,
            own_only=fewer == "counting",
            answer=self.answer.sections,
        )

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
        """The most of the garments wanted that one marker on the table can hold: the smallest, as many as there are."""
        return max((self._most_in(way) for way in self.question.ways), default=0)

    def _most_in(self, way: WayToLay) -> int:
        question, estimate = self.question, self._lengths(way.name).estimate
        room_mm = question.most_length_mm - question.end_mm
        counts: Counts = (0,) * question.kinds

        def with_more(kind: int) -> Counts:
            return tuple(n + (way.steps[k] if k == kind else 0) for k, n in enumerate(counts))

        each_mm = {k: estimate(with_more(k)) / step for k, step in enumerate(way.steps) if step}
        for kind in sorted(each_mm, key=each_mm.__getitem__):
            over = question.overcut[kind] if question.overcut else (0,) * question.columns
            wanted = max(map(sum, zip(question.demand[kind], over, strict=True)))
            while counts[kind] + way.steps[kind] <= wanted and estimate(with_more(kind)) <= room_mm:
                counts = with_more(kind)
        return sum(counts)

    def _how_lengths(self) -> str:
        learnt = [lengths.how_estimated for lengths in self.lengths.values()]
        return learnt[0] if learnt else ""
