"""What other plans would come to against the one that stands, and what a wish costs, in the maker's words."""

from __future__ import annotations

from decimal import Decimal

from planner.core.lays.wishes import Outcome, PriceOfWish
from planner.core.units import format_money
from planner.cutting.cut_plans import promises_more
from planner.cutting.why import (
    FEWEST_ALREADY,
    FEWEST_FOUND,
    NOTHING_MINUTES,
    NOTHING_MM,
    SAME_PLAN,
    lays_in_words,
    length_in_words,
    minutes_in_words,
)


def other_in_words(other: Outcome, best: Outcome, display: str, currency: str) -> str:
    """ "1 lay, 0.4 m more cloth, 12 minutes less, 3.10 EUR more"."""
    parts = [lays_in_words(other.lays), *differences(other, best, display, currency)]
    return ", ".join(parts)


def offer_in_words(
    other: Outcome | None, best: Outcome, display: str, currency: str, *, is_open: bool = False
) -> str:
    """What the plan of another aim is against the one there is; `other` is None where it was not looked at. `is_open`:
    nobody knows whether fewer lays would do."""
    if other is None:
        return "not compared, for there was no time left"
    if other.lays == best.lays and not differences(other, best, display, currency):
        return SAME_PLAN
    if other.aim == "fewest_lays" and other.lays >= best.lays:
        return FEWEST_FOUND if is_open else FEWEST_ALREADY
    if promises_more(other, best):
        return f"{lays_in_words(other.lays)}, about as good as this one as far as estimates tell"
    guess = estimated_in_words(other)
    words = other_in_words(other, best, display, currency)
    return f"{words}; {guess}" if guess else words


def estimated_in_words(one: Outcome) -> str:
    """ "an estimate: none of its 2 lays is nested", where a plan that is not taken rests on one; else ""."""
    if one.nested >= one.lays:
        return ""
    if one.nested:
        left = one.lays - one.nested
        return f"an estimate: {left} of its {one.lays} lays {'is' if left == 1 else 'are'} not nested"
    return f"an estimate: {'its lay is not' if one.lays == 1 else f'none of its {one.lays} lays is'} nested"


def differences(other: Outcome, best: Outcome, display: str, currency: str) -> list[str]:
    """What another plan takes more or less than this one: cloth, time, money; nothing where they are alike."""
    parts = []
    cloth, minutes, money = (
        other.cloth_mm - best.cloth_mm,
        other.minutes - best.minutes,
        other.cost - best.cost,
    )
    if abs(cloth) >= NOTHING_MM:
        parts.append(f"{length_in_words(abs(cloth), display)} {_more(cloth)} cloth")
    if abs(minutes) >= NOTHING_MINUTES:
        parts.append(f"{minutes_in_words(abs(minutes))} {_more(minutes)}")
    if money and currency:
        parts.append(f"{format_money(abs(money), currency)} {_more(money)}")
    return parts


def price_in_words(price: PriceOfWish, best: Outcome, display: str, currency: str) -> str:
    """ "costs 0.3 m and 6 minutes (4.20 EUR)"; "costs nothing"; an estimate where the plan without the wish is one."""
    guess = "; an estimate, for the plan without it is not nested"
    return _price(price, best, display, currency) + (
        guess if price.without.nested < price.without.lays else ""
    )


def _price(price: PriceOfWish, best: Outcome, display: str, currency: str) -> str:
    parts = []
    cloth, minutes = best.cloth_mm - price.without.cloth_mm, best.minutes - price.without.minutes
    money = best.cost - price.without.cost
    if cloth >= NOTHING_MM:
        parts.append(length_in_words(cloth, display))
    if minutes >= NOTHING_MINUTES:
        parts.append(minutes_in_words(minutes))
    if money <= 0:
        return "costs nothing"
    told = format_money(money, currency) if currency else "a little"
    if parts and not currency:
        return f"costs {' and '.join(parts)}"
    return f"costs {' and '.join(parts)} ({told})" if parts else f"costs {told}"


def _more(difference: float | Decimal) -> str:
    return "more" if difference > 0 else "less"
