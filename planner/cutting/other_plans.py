"""What other plans would come to compared with the one that stands, and what a wish costs, in the maker's words."""

from __future__ import annotations

from decimal import Decimal

from planner.core.lays.wishes import Outcome, PriceOfWish
from planner.core.listed import listed
from planner.core.units import cloth_as_told_mm, format_money, round_money
from planner.cutting.judged_plans import UNSURE_SHARE, is_worth_it, promises_more
from planner.cutting.plan_words import lays_in_words, length_in_words, minutes_in_words
from planner.cutting.why import (
    FEWEST_ALREADY,
    FEWEST_FOUND,
    NOTHING_MINUTES,
    NOTHING_MM,
    OTHERS,
    SAME_PLAN,
)

#: Of a plan there was no time to look for.
NOT_COMPARED = "not compared, for there was no time left"
#: Of a wish without which only estimates promise a better plan, by less than they come out wrong.
HARDLY_ANYTHING = "costs little or nothing, as far as estimates tell"
#: Less money is not worth a word.
NOTHING_MONEY = Decimal("0.005")
#: Of a wish without which nothing better was found, though there may be something.
NOT_KNOWN = (
    "what it costs is not known, for the time was too short to find out; take it back to see what the plan comes to"
    " without it"
)


def other_in_words(other: Outcome, best: Outcome, display: str, currency: str) -> str:
    """ "1 lay, 0.4 m more cloth, 12 minutes less, 3.10 EUR more"."""
    parts = [lays_in_words(other.lays), *differences(other, best, display, currency)]
    return ", ".join(parts)


def offer_in_words(
    other: Outcome | None,
    best: Outcome,
    display: str,
    currency: str,
    *,
    is_open: bool = False,
    from_stock: bool = False,
) -> str:
    """What the plan of another aim is, compared with the present one; `other` is None where it was not looked at.
    `is_open`: it is not known whether fewer lays would do. `from_stock`: the present plan may cost more than others.
    """
    if other is None:
        return NOT_COMPARED
    if other.lays == best.lays and not differences(other, best, display, currency):
        return SAME_PLAN
    if other.aim == "fewest_lays" and other.lays >= best.lays:
        return FEWEST_FOUND if is_open else FEWEST_ALREADY
    if promises_more(other, best) and not from_stock:
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
    cloth, minutes = _apart_mm(other, best, display), other.minutes - best.minutes
    money = _money_apart(other, best, currency)
    if abs(cloth) >= NOTHING_MM:
        parts.append(f"{length_in_words(abs(cloth), display)} {_more(cloth)} cloth")
    if abs(minutes) >= NOTHING_MINUTES:
        parts.append(f"{minutes_in_words(abs(minutes))} {_more(minutes)}")
    if money and currency:
        parts.append(f"{format_money(abs(money), currency)} {_more(money)}")
    return parts


def price_in_words(price: PriceOfWish, best: Outcome, display: str, currency: str) -> str:
    """ "costs 0.3 m and 6 minutes (4.20 EUR)"; "about" that much where the plan without the wish is an estimate.

    "at least" where a better plan without the wish may exist than the one that was found, as where the one found was
    nested throughout and others only promise more. That it "costs nothing" is told only where that is proven.
    """
    without = price.without
    if price.sure is not None and _is_better(price.sure, best):
        return _cost_of(price.sure, best, display, currency, "at least ")
    if not _is_better(without, best):
        return f"costs nothing, {OTHERS}" if without.is_proven else NOT_KNOWN
    if without.nested >= without.lays:
        return _cost_of(without, best, display, currency, "" if without.is_proven else "at least ")
    if not is_worth_it(without, best, UNSURE_SHARE):
        return HARDLY_ANYTHING
    guess = _cost_of(without, best, display, currency, "about ")
    return f"{guess}; an estimate, for the plan without it is not nested"


def _is_better(one: Outcome, other: Outcome) -> bool:
    """By the aim of the other, and by so much that it is worth a word."""
    if other.aim == "fewest_lays" and one.lays != other.lays:
        return one.lays < other.lays
    if other.aim != "money":
        return other.cloth_mm - one.cloth_mm >= NOTHING_MM
    return other.weighs - one.weighs >= NOTHING_MONEY


def _cost_of(without: Outcome, best: Outcome, display: str, currency: str, how: str) -> str:
    """What this plan takes more than the other: lays where they are to be few, cloth, time, and money in brackets.

    Where it takes less of something, that is told too, for else the sum would not follow: "costs 7.64 EUR: 0.5 m less
    cloth, 40 minutes more".
    """
    lays = best.lays - without.lays if best.aim == "fewest_lays" else 0
    cloth, minutes = _apart_mm(best, without, display), best.minutes - without.minutes
    money = _money_apart(best, without, currency) if currency else Decimal(0)
    told = format_money(abs(money), currency) if abs(money) >= NOTHING_MONEY else ""
    less = [f"{length_in_words(-cloth, display)} less cloth"] if cloth <= -NOTHING_MM else []
    less += [f"{minutes_in_words(-minutes)} less"] if minutes <= -NOTHING_MINUTES else []
    if best.aim == "money" and told and money > 0 and less:
        return f"costs {how}{told}: {', '.join(differences(best, without, display, ''))}"
    parts = [lays_in_words(lays)] if lays > 0 else []
    parts += [length_in_words(cloth, display)] if cloth >= NOTHING_MM else []
    parts += [minutes_in_words(minutes)] if minutes >= NOTHING_MINUTES else []
    less += [f"{told} less"] if money < 0 and told else []
    words = listed(parts)
    if told and money > 0:
        words = f"{words} ({told})" if parts else told
    return f"costs {how}{words or 'a little'}{', for ' + listed(less) if less else ''}"


def _apart_mm(one: Outcome, other: Outcome, display: str) -> float:
    """How much more cloth one takes, between the lengths as both are told (mm)."""
    told = [cloth_as_told_mm(each.cloth_mm, display) for each in (one, other)]  # type: ignore[arg-type]
    return float(told[0] - told[1])


def _money_apart(one: Outcome, other: Outcome, currency: str) -> Decimal:
    """How much more one costs, between the sums as both are told."""
    return round_money(one.cost, currency) - round_money(other.cost, currency)


def _more(difference: float | Decimal) -> str:
    return "more" if difference > 0 else "less"
