"""Whether a plan is made from what lies in stock by itself, where nobody chose what it is to be best at.

What a plan spends today is what it buys and the work at the table. Where the plan from stock spends less by more than a
trifle, and is spared buying a length worth the name, it is taken; once its lays are nested it is held against the other
one again, and given up where it does not buy less after all, or is no longer the cheaper one.
"""

from __future__ import annotations

from decimal import Decimal

from planner.core.lays.wishes import FromStock, PlanFacts

#: Savings up to this share of what the other plan spends, or up to so much money, are a trifle: more lays are more to
#: handle.
TRIFLE_SHARE, TRIFLE_MONEY = Decimal("0.05"), Decimal("0.10")
#: Lengths that nobody has nested come out by so much either way.
GUESSED_SHARE = Decimal("0.02")
#: For less cloth not bought (mm) nobody lays otherwise: ends of a roll come and go by as much.
LEAST_SPARED_MM = 500.0
#: Smaller differences count as none: in money, and in cloth to buy (mm), which is told to the centimetre.
LEAST_MONEY, LEAST_BOUGHT_MM = Decimal("0.005"), 10.0


def is_worth_it(facts: PlanFacts) -> bool:
    """Whether the plan from stock beside this one spends less by more than a trifle and buys plainly less."""
    told = facts.stock
    if told is None or told.is_aim or told.weighs is None or (saves := told.other_saves) is None:
        return False
    spared_mm = told.buys_mm - told.other_buys_mm
    return spared_mm >= LEAST_SPARED_MM and saves > max(TRIFLE_MONEY, told.weighs * TRIFLE_SHARE)


def is_worth_no_more(facts: PlanFacts) -> bool:
    """Whether a plan that was made from stock buys no less than the one without looking there, or is the dearer one;
    or nothing fits there any more.

    Where the other one rests on lengths that nobody has nested, it must be cheaper by more than these may be out.
    """
    told = facts.stock
    if told is None or not told.is_aim:
        return True
    other, saves = told.other, told.other_saves
    if other is None or saves is None or told.other_weighs is None:
        return False
    if other.nested < other.lays:
        return saves > max(TRIFLE_MONEY, told.other_weighs * GUESSED_SHARE)
    return saves > LEAST_MONEY or _buys_no_less(told)


def _buys_no_less(told: FromStock) -> bool:
    return told.buys_mm > told.other_buys_mm - LEAST_BOUGHT_MM
