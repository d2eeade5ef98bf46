"""What a cut plan buys although cloth of its colours lies in stock, and what another plan would. Lengths are mm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from planner.core.cut_plan.model import Answer
from planner.core.lays.wishes import FromStock, Outcome


@dataclass(frozen=True)
class Bought:
    """What is bought for plies that no roll holds.

    `mm` is how much, of which some ply may be longer than all that lies there (`too_long`). Of the colours bought
    `unused_mm` stays on the shelf, and `flaws_mm` are flaws. `cost` is what is paid; `worth` is what it counts where
    plans are compared, for there cloth without a price has one too.
    """

    mm: float = 0.0
    unused_mm: float = 0.0
    too_long: bool = False
    flaws_mm: float = 0.0
    cost: Decimal = Decimal(0)
    worth: Decimal = Decimal(0)

    def told(self, *, is_aim: bool = False) -> FromStock:
        """The same as a plan tells it; `is_aim` of a plan that was made from stock."""
        return FromStock(self.mm, self.unused_mm, is_aim=is_aim, flaws_mm=self.flaws_mm)


@dataclass(frozen=True)
class Looked:
    """What came of a look at the stock.

    `told` is None where there is nothing to say. `answer` is the other plan where there is one: of plies that fit the
    stock, or, beside a plan made from stock, of plies that need not.
    """

    told: FromStock | None = None
    answer: Answer | None = None
    #: What this plan and the other one buy.
    buys: Bought | None = None
    other_buys: Bought | None = None

    def facts(
        self, outcome: Callable[[Answer, str], Outcome], best: Outcome, rate_per_hour: Decimal
    ) -> FromStock | None:
        """What is told, with what the other plan comes to, and what each spends: on cloth bought, and on work at
        `rate_per_hour` (money)."""
        if self.told is None or self.buys is None:
            return self.told

        def work(one: Outcome) -> Decimal:
            return Decimal(repr(one.minutes)) * rate_per_hour / 60

        own, buys, others = work(best), self.buys, self.other_buys
        told = replace(self.told, spends=buys.cost + own, weighs=buys.worth + own)
        if self.answer is None or others is None:
            return told
        other = outcome(self.answer, "money" if told.is_aim else "from_stock")
        return replace(
            told,
            other=other,
            other_buys_mm=others.mm,
            other_spends=others.cost + work(other),
            other_weighs=others.worth + work(other),
        )
