"""From estimated to nested lengths: a cut plan whose choice is made on markers that were really laid."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace

from planner.core.lays.certain import is_known
from planner.core.lays.cut_plans import FabricPlan, Lengths, numbered, plan_fabrics
from planner.core.lays.from_stock import Stock
from planner.core.lays.nest import seconds_for
from planner.core.lays.nested_lay import NestedLay, Progress
from planner.core.lays.nestings import LEAST_POLISH_SECONDS, LEAST_SECONDS, Nestings, jobs_of
from planner.core.lays.problems import CannotPlan, PlanProblem
from planner.core.lays.single_sizes import job_of, single_outcome, still_to_nest, with_lengths
from planner.core.lays.standing import NO_LOSS, as_it_stands
from planner.core.lays.stock_first import is_worth_it, is_worth_no_more
from planner.core.lays.store import Store
from planner.core.lays.stored import marker_key
from planner.core.lays.wishes import PlanFacts, Wishes
from planner.core.spec import ClothKey, Demand, Workshop

#: Nesting of a whole batch takes no longer than this where nobody says otherwise (s), and for each marker the second
#: that its search takes to get ready.
MOST_SECONDS = 22.0
#: Planning, without nesting, takes no longer than this each time (s); most batches are proven in a fraction.
PLAN_SECONDS = 8.0
#: How often it is planned again because real lengths came out otherwise.
MOST_ROUNDS = 4
#: Share of the nesting time for finding out which markers are best; the rest polishes those that were chosen.
_ROUNDS_SHARE = 0.5
#: Single sizes that the plan is held against are nested so long together at most, and each of their markers (s); none
#: is searched when settling has taken so long as a whole, for she waits for the papers, nor for less than the last.
SINGLES_SECONDS, SINGLE_SECONDS, WHOLE_SECONDS, LEAST_SINGLE_SECONDS = 10.0, 2.0, 45.0, 0.5
#: Where somebody grants the time for it each of their markers has so long, about what a lay of the batch has (s).
GRANTED_SECONDS = 2.5


class Settler:
    """Plans, nests, and plans again until every marker chosen is nested; made anew for each batch."""

    def __init__(
        self,
        demand: Sequence[Demand],
        shop: Workshop,
        wishes: Mapping[str, Wishes],
        lengths: Lengths,
        seconds: float | None,
        seed: int,
        on_progress: Callable[[Progress], None] | None,
        should_stop: Callable[[], bool] | None,
        *,
        nest_singles: bool = False,
        stock: Stock | None = None,
        store: Store | None = None,
    ) -> None:
        self.demand, self.shop, self.wishes, self.stock = demand, shop, wishes, stock
        self.should_stop = should_stop or (lambda: False)
        self.seconds, self.nest_singles = seconds, nest_singles
        self.learnt_before = lengths.learnt
        #: Plans of each fabric that were found so far, or before: every search begins from them.
        self.found = dict(lengths.plans)
        self.nestings = Nestings(
            shop,
            lengths.nested,
            seed=seed,
            on_progress=on_progress,
            should_stop=self.should_stop,
            store=store,
        )

    def settle(self) -> tuple[tuple[FabricPlan, ...], list[NestedLay]]:
        """The plans of all fabrics and their lays, all nested, numbered as planned."""
        began = time.monotonic()
        plans = self._plan()
        whole = self._budget(plans)
        plans, left = self._chosen(plans, whole * _ROUNDS_SHARE)
        if self.stock is not None:
            plans, left = self._from_stock(plans, left)
        # Where nobody said how long, every lay has the time that our own search needs to come to its turn.
        least = LEAST_POLISH_SECONDS if self.seconds is None else LEAST_SECONDS
        self.nestings.polish(plans, whole * (1 - _ROUNDS_SHARE) + max(0.0, left), least=least)
        # What is said of the plan rests on the lengths that were reached in the end.
        again = self._plan(compare=True)
        plans = again if self._can_take(plans, again) else self._as_they_stand(plans, again)
        if self.nest_singles:
            plans = self._held_against_nested(plans, math.inf, GRANTED_SECONDS)
        else:
            # Where she said how long, only those are told that need no search.
            seconds = SINGLES_SECONDS if self.seconds is None else 0.0
            until = min(time.monotonic() + seconds, began + WHOLE_SECONDS)
            plans = self._held_against_nested(plans, until, SINGLE_SECONDS)
        plans = self._no_dearer_than_singles(plans)
        return plans, [self.nestings.nested(lay) for plan in plans for lay in plan.lays]

    def _chosen(self, plans: tuple[FabricPlan, ...], left: float) -> tuple[tuple[FabricPlan, ...], float]:
        """The plans chosen on nested lengths, and what nesting them leaves of the time (s)."""
        for _ in range(MOST_ROUNDS):
            left -= self.nestings.new_of(plans, left)
            again = self._plan()
            if self._choice(again) == self._choice(plans):
                plans = again
                break
            plans = again
        self.nestings.new_of(plans, left)
        return self._fitting(plans), left

    def _from_stock(self, plans: tuple[FabricPlan, ...], left: float) -> tuple[tuple[FabricPlan, ...], float]:
        """The plans, and what nesting them leaves of the time (s). Where nobody chose an aim and planning from what
        lies in stock spends less today, they are made so, unless their nested lengths then say otherwise.
        """
        with suppress(CannotPlan):
            if not any(plan.facts.stock for plan in self._kept(plans)):
                return plans, left
        taken = self._turned(plans, {plan.fabric for plan in plans}, is_worth_it, from_stock=True)
        if taken:
            plans, left = self._chosen(self._plan(), left)
            if self._turned(plans, taken, is_worth_no_more, from_stock=False):
                plans, left = self._chosen(self._plan(), left)
        return plans, left

    def _turned(
        self,
        plans: tuple[FabricPlan, ...],
        fabrics: set[str],
        judge: Callable[[PlanFacts], bool],
        *,
        from_stock: bool,
    ) -> set[str]:
        """Turns the plans for the least money that `judge` approves to be made from stock from now on, or no longer.
        Returns their fabrics.
        """
        turned = {}
        for plan in self._as_they_stand(plans, self._plan(compare=True)):
            wish = self.wishes.get(plan.fabric, Wishes())
            if plan.fabric in fabrics and wish.aim == "money" and judge(plan.facts):
                turned[plan.fabric] = replace(wish, from_stock=from_stock)
        self.wishes = {**self.wishes, **turned}
        return set(turned)

    def _plan(
        self, *, compare: bool = False, wishes: Mapping[str, Wishes] | None = None
    ) -> tuple[FabricPlan, ...]:
        learnt = self.nestings.taught(self.learnt_before)
        lengths = Lengths(self.nestings.lengths, learnt, plans=self.found)
        looks = compare or wishes or any(wish.from_stock for wish in self.wishes.values())
        plans = plan_fabrics(
            self.demand,
            self.shop,
            wishes=wishes or self.wishes,
            lengths=lengths,
            stock=self.stock if looks else None,
            compare=compare,
            seconds=PLAN_SECONDS,
            should_stop=self.should_stop,
        )
        self.found = {plan.fabric: plan.facts.plans for plan in plans}
        return plans

    def _can_take(self, plans: Sequence[FabricPlan], again: Sequence[FabricPlan]) -> bool:
        """Whether the plans reckoned at the end are the present ones, or better ones whose lays were all nested too."""
        if self._choice(again) == self._choice(plans):
            return True
        return set(jobs_of(again)) <= set(self.nestings.known) and self.nestings.fit(again)

    def _as_they_stand(
        self, plans: tuple[FabricPlan, ...], again: Sequence[FabricPlan]
    ) -> tuple[FabricPlan, ...]:
        """The plans with facts by the lengths that were reached; what other plans could be had, and how good these are,
        is taken from `again`.
        """
        could = {plan.fabric: plan.facts for plan in again}
        try:
            kept = {plan.fabric: plan.facts for plan in self._kept(plans)}
        except CannotPlan:
            # Lays that cut more than is ordered cannot be told as lays that are kept.
            return plans
        return tuple(
            replace(plan, facts=as_it_stands(kept[plan.fabric], could[plan.fabric])) for plan in plans
        )

    def _kept(self, plans: Sequence[FabricPlan]) -> tuple[FabricPlan, ...]:
        """The plans of just these lays, with facts by the lengths that are known now. Raises CannotPlan."""
        wishes = {
            plan.fabric: replace(self.wishes.get(plan.fabric, Wishes()), keep=plan.lays) for plan in plans
        }
        return self._plan(wishes=wishes)

    def _budget(self, plans: Sequence[FabricPlan]) -> float:
        jobs = jobs_of(plans)
        if self.seconds is not None:
            return max(self.seconds, float(len(jobs)))
        return min(MOST_SECONDS, sum(seconds_for(len(job.items)) for job in jobs.values()))

    @staticmethod
    def _choice(plans: Sequence[FabricPlan]) -> frozenset[tuple[str, tuple[tuple[ClothKey, int], ...]]]:
        """Which markers are cut how often; garments that are cut alike may change places."""
        return frozenset(
            (marker_key(lay.job), tuple((cloth, lay.spreads_of(cloth)) for cloth in lay.cloths))
            for plan in plans
            for lay in plan.lays
        )

    def _fitting(self, plans: tuple[FabricPlan, ...]) -> tuple[FabricPlan, ...]:
        """The plans, made again as long as a nested marker is too long for the table or a roll. Such lengths stay
        known.
        """
        for _ in range(3 * MOST_ROUNDS):
            if self.nestings.fit(plans):
                return plans
            plans = self._plan()
            self.nestings.new_of(plans, 1.0)
        fabrics = " and ".join(plan.fabric for plan in plans)
        raise CannotPlan(
            [PlanProblem(None, f"the lays of {fabrics} cannot be made short enough for the table, or a roll")]
        )

    def _held_against_nested(
        self, plans: tuple[FabricPlan, ...], until: float, each: float
    ) -> tuple[FabricPlan, ...]:
        """The plans, compared with single sizes that are nested like their own lays, as far as there is time.

        `until` is a moment of the monotonic clock; each marker gets at most `each` seconds. Those that are as short as
        can be in plain rows need no time; the others, of all fabrics, share it evenly.
        """
        singles = {
            one.key: job_of(one, self.shop)
            for plan in plans
            for one in still_to_nest(plan.facts.single_lays, self.nestings.lengths)
        }
        searched = {key: job for key, job in singles.items() if not is_known(job)}
        for key in (key for key in singles if key not in searched):
            self.nestings.single(key, singles[key], LEAST_SINGLE_SECONDS)
        for done, (key, job) in enumerate(searched.items()):
            share = (until - time.monotonic()) / (len(searched) - done)
            seconds = min(each, seconds_for(len(job.items)), share)
            if seconds < LEAST_SINGLE_SECONDS or self.should_stop():
                break
            self.nestings.single(key, job, seconds)
        told = []
        for plan in plans:
            lays = plan.facts.single_lays
            facts = plan.facts
            if lays:
                nested = self.nestings.lengths
                single = single_outcome(lays, self.shop, nested)
                facts = replace(
                    facts, single=single, single_lays=with_lengths(lays, nested), singles_done=True
                )
            told.append(replace(plan, facts=facts))
        return tuple(told)

    def _no_dearer_than_singles(self, plans: tuple[FabricPlan, ...]) -> tuple[FabricPlan, ...]:
        """The plans. Where one turned out to be dearer than the single sizes it is compared with, those are nested even
        if no time is left, and what is then best is taken.
        """
        dearer = tuple(plan for plan in plans if _is_dearer(plan.facts))
        if not dearer:
            return plans
        until = time.monotonic() + SINGLES_SECONDS
        told = {plan.fabric: plan for plan in self._held_against_nested(dearer, until, SINGLE_SECONDS)}
        plans = tuple(told.get(plan.fabric, plan) for plan in plans)
        dear = {plan.fabric for plan in plans if _is_dearer(plan.facts)}
        return self._taken(plans, self._plan(compare=True), dear) if dear else plans

    def _taken(
        self, plans: tuple[FabricPlan, ...], again: tuple[FabricPlan, ...], dear: set[str]
    ) -> tuple[FabricPlan, ...]:
        """The plans reckoned anew. Where some of their lays are not nested, only those of the dear fabrics whose lays
        are, provided that the same numbers of garments are cut.
        """
        if self._can_take(plans, again):
            return again
        pairs = list(zip(plans, again, strict=True))
        if any(one.extra != other.extra for one, other in pairs):
            return plans
        return numbered(
            [other if one.fabric in dear and self._can_take([one], [other]) else one for one, other in pairs]
        )


def _is_dearer(facts: PlanFacts) -> bool:
    """Whether a plan for the least money costs more than the single sizes it is compared with."""
    if facts.stock is not None and facts.stock.is_aim:
        return False  # what it does not buy is worth more
    single = float(facts.single.weighs) * (1 + NO_LOSS)
    return facts.best.aim == "money" and bool(facts.single_lays) and float(facts.best.weighs) > single
