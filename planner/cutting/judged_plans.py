"""Whether one cut plan takes the place of another, and what is said of the lays that stay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.core.lays.cut_plans import FabricPlan
from planner.core.lays.model import PlannedLay
from planner.core.lays.standing import as_it_stands
from planner.core.lays.stock_first import LEAST_BOUGHT_MM, LEAST_MONEY
from planner.core.lays.wishes import Outcome, PlanFacts
from planner.cutting.cut_plans import is_same

#: A plan takes the place of another where it is better by this share, or by so much money; else plans of nearly the
#: same worth would follow one another for ever.
BETTER_SHARE = 0.005
#: By so much where it rests on lengths that nobody has nested: they come out a few per cent either way, and the plan
#: that looks best is the one that was guessed too short.
UNSURE_SHARE = 0.02
BETTER_MONEY = Decimal("0.10")
#: Less cloth is no difference at all.
LEAST_MM = 1.0


@dataclass(frozen=True)
class Judged:
    """What a new plan of a fabric is against the one there is: `lays` are those to cut, with what is said of them.

    `kept` is what would be said of the lays that are there, where others are to take their place and those could stay.
    `is_sure` where what is said rests on a proof; by the share `lost` a plan is better that is known.
    """

    fabric: str
    lays: tuple[PlannedLay, ...]
    facts: PlanFacts
    is_new: bool
    kept: PlanFacts | None = None
    is_sure: bool = False
    lost: float = 0.0
    #: Another aim, where what lies in stock decides for it.
    aim: str = ""


def judge(new: FabricPlan, there: Sequence[PlannedLay], reckoned: FabricPlan | None) -> Judged:
    """Whether `new` takes the place of the lays that are there; `reckoned` is their plan with all of them kept.

    Without `reckoned` (they cannot be cut any more) it does in any case.
    """
    if is_same(new.lays, there):
        return Judged(new.fabric, tuple(there), new.facts, is_new=False, is_sure=new.facts.gap_share is None)
    if reckoned is None:
        return Judged(new.fabric, new.lays, new.facts, is_new=True)
    kept = stays(new, there, reckoned)
    if is_better(new.facts, reckoned.facts):
        return takes_its_place(new, kept)
    return kept


def takes_its_place(new: FabricPlan, kept: Judged) -> Judged:
    """`new` in the place of the lays that are there, of which would be said what is `kept`."""
    return Judged(new.fabric, new.lays, new.facts, is_new=True, kept=kept.facts)


def stays(new: FabricPlan, there: Sequence[PlannedLay], reckoned: FabricPlan) -> Judged:
    """The lays that are there, told what they come to; how good they are follows from the plan that could be had."""
    told, could = as_it_stands(reckoned.facts, new.facts), new.facts
    is_sure = could.gap_share is None
    lost = (told.gap_share or 0.0) - (could.gap_share or 0.0)
    return Judged(new.fabric, tuple(there), told, is_new=False, is_sure=is_sure, lost=lost)


def promises_more(other: Outcome, best: Outcome) -> bool:
    """Whether a plan of another aim would be better by the aim of the plan that stands.

    Only estimates can promise that: it was looked at, and is not so much better that it is worth the change.
    """
    if best.aim == "money":
        return other.weighs < best.weighs
    if best.aim == "fewest_lays":
        return other.lays < best.lays
    return other.cloth_mm < best.cloth_mm


def is_better(new: PlanFacts, there: PlanFacts) -> bool:
    """By the aim that was chosen, and by so much that it is worth the change."""
    if (bought_mm := buys_more_mm(new, there)) is not None:
        return bought_mm < 0
    share = BETTER_SHARE if new.nested >= new.best.lays else UNSURE_SHARE
    return is_worth_it(new.best, there.best, share)


def is_worth_it(one: Outcome, other: Outcome, share: float) -> bool:
    """Whether a plan is better than the one there is, by its aim and by so large a share."""
    if one.aim == "fewest_lays" and one.lays != other.lays:
        return one.lays < other.lays
    if one.aim == "least_cloth" and abs(one.cloth_mm - other.cloth_mm) > share * other.cloth_mm:
        return one.cloth_mm < other.cloth_mm
    return one.weighs < other.weighs - max(BETTER_MONEY, other.weighs * Decimal(str(share)))


def buys_more_mm(new: PlanFacts, there: PlanFacts) -> float | None:
    """What a plan from stock buys more than the one there, less than nothing where it buys less.

    None where both buy as much, or are not both made from stock: then the cheaper is the better.
    """
    if not (new.stock and there.stock and new.stock.is_aim and there.stock.is_aim):
        return None
    more_mm = new.stock.buys_mm - there.stock.buys_mm
    return more_mm if abs(more_mm) >= LEAST_BOUGHT_MM else None


def is_better_at_all(new: PlanFacts, there: PlanFacts) -> bool:
    """By the aim that was chosen, be it by a cent; both must be nested, for estimates are not as exact."""
    if (bought_mm := buys_more_mm(new, there)) is not None:
        return bought_mm < 0
    one, other = new.best, there.best
    less_cloth = one.cloth_mm < other.cloth_mm - LEAST_MM
    if one.aim == "fewest_lays":
        return one.lays < other.lays or (one.lays == other.lays and less_cloth)
    return less_cloth if one.aim == "least_cloth" else one.weighs < other.weighs - LEAST_MONEY
