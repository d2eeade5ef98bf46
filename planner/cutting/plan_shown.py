"""One fabric's cut plan as the page of its batch words it: its state, what it comes to, why it is so, what beats it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from planner.core.lays.wishes import Kind, PlanFacts
from planner.core.listed import lays_listed
from planner.cutting.cut_plans import facts_of, tool_plies
from planner.cutting.figures_since import figures_in_words
from planner.cutting.kinds_shown import kinds_cut, value_of
from planner.cutting.models import Batch, CutPlan, Lay
from planner.cutting.narrow_cloth import wider_than_cloth
from planner.cutting.offers_shown import ChoiceRow, Prices, choice_row
from planner.cutting.other_plans import differences, estimated_in_words
from planner.cutting.plan_now import are_others, now_in_words
from planner.cutting.plan_words import kinds_in_words, lays_in_words
from planner.cutting.reading import BatchPlan
from planner.cutting.singles_shown import Singles, singles_shown
from planner.cutting.stock_words import as_rolls_are, buys_instead_in_words, stock_in_words
from planner.cutting.stored import PlannedBatch
from planner.cutting.unpriced import plan_unpriced_in_words
from planner.cutting.why import (
    as_it_is_cut,
    is_to_follow,
    outcome_in_words,
    plan_sentences,
    sentences_so_far,
    so_far_in_words,
)

#: Each is one line, also where two plans stand side by side, so that nothing jumps when the plan is settled.
_STATES = {
    CutPlan.State.QUICK: "a first plan; a better one is being looked for",
    CutPlan.State.NESTING: "not settled yet: real lengths of its lays may change it",
    CutPlan.State.SETTLED: "settled: its lays are nested and this plan stands",
}
RECKONED_BEFORE = (
    "settled: this plan stands; what is told of it here was reckoned before its lays were nested"
)
CUT_STATE = "cutting has begun; what is told of the plan below is as it was planned"
ANEW_STATE = (
    "some lays were planned anew since cutting began; what is told of the plan below is of the one before"
)
ALL_LAID = "not settled yet: its lays are nested, but may still change"
ONE_LAID = "not settled yet: its lay is nested, but may still change"
PRICED_LATER = "its price is told once the plan is settled"


@dataclass(frozen=True)
class PlanShown:
    """The plan of one fabric among those of its batch, in the units and the money of the page.

    Every property is words ready for the page, "" where there is nothing to say. Without a `currency` no money is told.
    """

    one: BatchPlan
    read: PlannedBatch
    display: str
    currency: str

    @property
    def plan(self) -> CutPlan:
        """The stored plan."""
        return self.one.plan

    @property
    def fabric(self) -> str:
        """The name of the fabric."""
        return self.plan.fabric.name

    @property
    def is_settled(self) -> bool:
        """Whether the plan stands."""
        return self.plan.state == CutPlan.State.SETTLED

    @cached_property
    def lays(self) -> list[Lay]:
        """The lays of this fabric."""
        return [lay for lay in self.read.lays if lay.fabric_id == self.plan.fabric_id]

    @cached_property
    def now(self) -> str:
        """What is cut and what is left to cut; "" before anything is cut of this fabric."""
        return now_in_words(self.lays, self.display)

    @cached_property
    def is_other(self) -> bool:
        """Whether some of the lays are no longer those of the plan: they were planned anew since cutting began."""
        of_all = (facts_of(each.plan) for each in self.read.plans)
        return self.read.batch.state == Batch.State.CUTTING and are_others(self.lays, of_all)

    @cached_property
    def facts(self) -> PlanFacts | None:
        """What is known of the plan, as far as stock and table have not overtaken it; None where nothing is noted."""
        facts = facts_of(self.plan)
        if facts is None:
            return None
        facts = as_rolls_are(facts, self.lays)
        return as_it_is_cut(facts) if self.now or self.is_other else facts

    @cached_property
    def prices(self) -> Prices:
        """What wishes cost. Until the plan stands they would swing with every lay that is nested."""
        if self.is_settled:
            return Prices(self.facts, self.display, self.currency, "")
        return Prices(None, self.display, self.currency, PRICED_LATER)

    @property
    def state(self) -> str:
        """Where the plan stands; where its sums were not reckoned once more at the end, this says so."""
        if self.is_other:
            return ANEW_STATE
        if self.now:
            return CUT_STATE
        if self.is_settled and self.facts is not None and self.facts.nested < self.facts.best.lays:
            return RECKONED_BEFORE
        is_laid = bool(self.lays) and all(lay.marker.is_laid for lay in self.lays)
        if self.plan.state == CutPlan.State.NESTING and is_laid:
            return ALL_LAID if len(self.lays) > 1 else ONE_LAID
        return _STATES[CutPlan.State(self.plan.state)]

    @property
    def total(self) -> str:
        """What the plan comes to. Until it stands its metres are those of the needs, so that both tell the same."""
        if self.facts is None:
            return ""
        best = self.facts.best
        if self.now or self.is_other:
            return f"As planned: {outcome_in_words(best, self.display, self.currency)}"
        if self.is_settled:
            return outcome_in_words(best, self.display, self.currency)
        metres = sum(need.lay_m for need in self.read.needs.cloths if need.cloth.fabric == self.fabric)
        return so_far_in_words(best, metres * 1000, self.display)

    @property
    def sentences(self) -> tuple[str, ...]:
        """What the plan says of itself: what it saves, and why it is so.

        Only until something is cut single sizes are nested to compare with, and cloth can be bought for it.
        """
        if self.facts is None:
            return ()
        if not self.is_settled:
            laid = sum(lay.marker.is_laid for lay in self.lays)
            return sentences_so_far(self.facts, laid, self.display)
        told = plan_sentences(self.facts, self.display, self.currency, follows=not self.now)
        is_chosen = self.plan.aim_by == CutPlan.AimBy.MAKER
        buys = (
            stock_in_words(self.facts, self.display, self.currency, is_chosen=is_chosen)  # type: ignore[arg-type]
            if not self.now
            else ""
        )
        return (buys, *told) if buys else told

    @property
    def follows(self) -> bool:
        """Whether single sizes it is compared with are still being nested, so that its saving will be told anew."""
        return self.is_settled and not self.now and self.facts is not None and is_to_follow(self.facts)

    @property
    def singles(self) -> Singles | None:
        """The lays of single sizes it is compared with, from when it stands until something is cut."""
        if not self.is_settled or self.now:
            return None
        return singles_shown(self.facts, self.read.shop, self.display, self.currency)

    @property
    def made_with(self) -> str:
        """Which figures of the workroom are others since it was planned.

        A plan of an earlier version noted no figures; of that it is said when its lays are wider than the cloth.
        """
        if not self.is_settled:
            return ""
        shop = self.read.shop
        wide = "Planned when the cloth was wider" if wider_than_cloth(self.lays, shop.cloths) else ""
        return figures_in_words(self.facts, self.fabric, shop, self.display) or wide

    @property
    def unpriced(self) -> str:
        """That its cloth had no price, so that no sum of money here holds it."""
        return plan_unpriced_in_words(self.facts, self.fabric, self.display, self.currency)

    @property
    def since(self) -> str:
        """What a better plan comes to, against this one: known from lays nested since, or from pieces in stock now."""
        facts = self.facts
        if not self.is_settled or facts is None or facts.since is None:
            return ""
        better, stock, buys_mm = facts.since, facts.stock, facts.since_buys_mm
        parts = [lays_in_words(better.lays)]
        if buys_mm is not None and stock is not None:
            parts.append(buys_instead_in_words(buys_mm, stock.buys_mm, self.display))  # type: ignore[arg-type]
        parts += differences(better, facts.best, self.display, self.currency)
        guess = estimated_in_words(better)
        return "; ".join([", ".join(parts), *([guess] if guess else [])])

    @cached_property
    def _kinds_cut(self) -> list[Kind]:
        return kinds_cut(self.lays)

    @property
    def kinds(self) -> tuple[tuple[str, str], ...]:
        """Styles and sizes that can be chosen, each as its value and in words."""
        with_style = len({style for style, _ in self._kinds_cut}) > 1
        return tuple(
            (value_of(kind), kinds_in_words([kind], with_style=with_style)) for kind in self._kinds_cut
        )

    @property
    def choices(self) -> tuple[ChoiceRow, ...]:
        """What the maker chose, with its price."""
        return tuple(choice_row(choice, self._kinds_cut, self.prices) for choice in self.one.choices)

    @cached_property
    def most_possible(self) -> int:
        """The most plies that the tool cuts."""
        return tool_plies(self.fabric, self.read.shop)

    @property
    def plies_price(self) -> str:
        """What fewer plies than the tool cuts cost."""
        is_limited = (self.plan.most_plies or self.most_possible) < self.most_possible
        return self.prices.of("plies") if is_limited else ""

    @cached_property
    def kept(self) -> str:
        """Which lays the maker keeps as they are."""
        return _kept_in_words([lay.number for lay in self.lays if lay.is_kept])

    @property
    def kept_price(self) -> str:
        """What keeping them costs."""
        return self.prices.of("keep") if self.kept else ""


def _kept_in_words(numbers: Sequence[int]) -> str:
    if not numbers:
        return ""
    stay = "stays as it is" if len(numbers) == 1 else "stay as they are"
    return f"{lays_listed(numbers).capitalize()} {stay}"
