"""What else could be had in a cut plan's place, what the maker chose for it, and what each of these costs, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.core.lays.wishes import Kind, PlanFacts
from planner.cutting.cut_plans import is_from_stock, kinds_of
from planner.cutting.models import CutPlan, PlanChoice
from planner.cutting.other_plans import NOT_KNOWN, offer_in_words, price_in_words
from planner.cutting.plan_words import kinds_in_words
from planner.cutting.stock_words import NO_LESS, stock_offer_in_words
from planner.cutting.why import AIM_WORDS, NOTHING_TO_TAKE, SAME_PLAN

#: The plan for the least money beside one that was made from stock.
BLIND = "Least money without looking at stock"
COMPARED_LATER = "compared once the plan is settled"


@dataclass(frozen=True)
class Offer:
    """Another aim, what its plan is against the one there is, and whether there is anything to take."""

    aim: str
    label: str
    words: str
    can_take: bool = True


@dataclass(frozen=True)
class ChoiceRow:
    """Something the maker chose, with its price."""

    pk: int
    words: str
    price: str


def offers_of(plan: CutPlan, facts: PlanFacts | None, display: str, currency: str) -> tuple[Offer, ...]:
    """Every other aim, whatever it comes to: one that vanished would look forgotten."""
    if facts is None:
        return ()
    by_aim = {other.aim: other for other in facts.others}
    settled = plan.state == CutPlan.State.SETTLED
    found = []
    for aim in CutPlan.Aim.values:
        if aim == plan.aim or aim == CutPlan.Aim.FROM_STOCK:
            continue
        words = COMPARED_LATER
        if settled:
            other, is_open = by_aim.get(aim), facts.fewer == "open"
            words = offer_in_words(
                other, facts.best, display, currency, is_open=is_open, from_stock=is_from_stock(facts)
            )
        label, is_blind = AIM_WORDS[aim], aim == CutPlan.Aim.MONEY and is_from_stock(facts)
        if is_blind:
            label = BLIND
            if settled and facts.stock is not None and facts.stock.other is not None and words != SAME_PLAN:
                words = stock_offer_in_words(facts.stock, facts.best, display, currency)
        # Back to where the plan began one may go, though it be the same now.
        can_take = words not in NOTHING_TO_TAKE or aim == CutPlan.Aim.MONEY
        found.append(Offer(aim, label, words, can_take))
    # Beside them only where it is a question: where stock does, or the plan is made from it, there is none.
    if settled and facts.stock is not None and not facts.stock.is_aim:
        aim = CutPlan.Aim.FROM_STOCK.value
        words = stock_offer_in_words(facts.stock, facts.best, display, currency)
        found.append(Offer(aim, AIM_WORDS[aim], words, words != NO_LESS))
    return tuple(found)


@dataclass(frozen=True)
class Prices:
    """What wishes cost, in words; `instead` of them where that is not told."""

    facts: PlanFacts | None
    display: str
    currency: str
    instead: str

    def of(self, wish: str, kinds: frozenset[Kind] = frozenset()) -> str:
        """The price of a wish, or that it is not known."""
        if self.facts is None:
            return self.instead
        for price in self.facts.prices:
            if price.wish == wish and (not kinds or frozenset(price.kinds) == kinds):
                return price_in_words(price, self.facts.best, self.display, self.currency)
        return NOT_KNOWN


def choice_row(choice: PlanChoice, in_order: Sequence[Kind], prices: Prices) -> ChoiceRow:
    """A choice in words, its kinds `in_order` as the lays cut them, with what it costs."""
    chosen = kinds_of(choice)
    kinds = [kind for kind in in_order if kind in chosen] + sorted(chosen - set(in_order))
    with_style = len({style for style, _ in in_order}) > 1
    words = f"{kinds_in_words(kinds, with_style=with_style)} {choice.get_kind_display()}"
    return ChoiceRow(choice.pk, words, prices.of(choice.kind, chosen))
