"""What a cut plan buys while cloth stays on the shelf, and the plan from stock beside it, in the maker's words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from planner.core.lays.stock_first import LEAST_BOUGHT_MM, LEAST_MONEY
from planner.core.lays.wishes import FromStock, Outcome, PlanFacts
from planner.core.units import Display, format_length, format_money
from planner.cutting.models import Lay
from planner.cutting.other_plans import NOT_COMPARED, differences, estimated_in_words
from planner.cutting.plan_words import lays_in_words, length_in_words, minutes_in_words
from planner.cutting.why import NOTHING_MINUTES
from planner.cutting.wording import booked_m, length_to_buy

#: Cloth is told to the centimetre (mm).
TOLD_MM = 10.0
#: Of plies that fit what lies there, where the plan of them would have to buy as much.
NO_LESS = "plies short enough for what lies there would buy no less"


def as_rolls_are(facts: PlanFacts, lays: Iterable[Lay]) -> PlanFacts:
    """The facts with what they say of stock brought up to date: once every ply has its roll nothing is bought."""
    stock = facts.stock
    if stock is None or any(
        roll.roll_id is None for lay in lays for cloth in lay.cloths.all() for roll in cloth.rolls.all()
    ):
        return facts
    if facts.since_buys_mm is not None:
        facts = replace(facts, since=None, since_buys_mm=None)
    return replace(facts, stock=replace(stock, buys_mm=0.0) if stock.is_aim else None)


def stock_in_words(facts: PlanFacts, display: Display, currency: str = "", *, is_chosen: bool = False) -> str:
    """What a plan buys although there is cloth on the shelf; or that it was made from stock, by itself or because she
    chose it (`is_chosen`). "" where there is nothing to say. Money is told where a currency is given.
    """
    if facts.stock is None or not facts.stock.is_aim or is_chosen:
        return buys_in_words(facts.stock, display)
    return _by_itself_in_words(facts.stock, facts.best, display, currency)


def _by_itself_in_words(stock: FromStock, best: Outcome, display: Display, currency: str) -> str:
    """ "Planned from what lies in stock: it buys 0.8 m, 2.1 m less than without looking there, for 12 minutes more
    work. Without looking there: 1 lay, as far as that is nested; what is bought and the work at the table come to 43.10
    EUR instead of 12.40 EUR."."""
    buys, other = f"it buys {_bought(stock.buys_mm, display)}", stock.other
    if stock.is_too_long and stock.buys_mm:
        head = f"Planned from what lay in stock; what lies there now is shorter than its longest ply, and {buys}."
        return f"{head}{_promise(stock, display, 'planned')}"
    head = f"Planned from what lies in stock: {buys}"
    if other is None:
        return f"{head}.{_promise(stock, display, 'planned')}"
    less_m = booked_m(stock.other_buys_mm / 1000) - booked_m(stock.buys_mm / 1000)
    if less_m > 0:
        less = f"{length_to_buy(float(less_m), display)} less than without looking there"
        head = f"{head}, {less}{_work_in_words(best.minutes - other.minutes)}"
    elif (stock.other_saves or 0) <= LEAST_MONEY:
        return f"{head}.{_promise(stock, display, 'planned')}"
    instead = filter(None, [_lays_so_far(other), _spent_in_words(stock, currency)])
    return f"{head}.{_promise(stock, display, 'planned')} Without looking there: {'; '.join(instead)}."


def _lays_so_far(other: Outcome) -> str:
    """ "4 lays, as far as those are nested", be it just long enough to compare them; or what of them is estimated."""
    lays, guess = lays_in_words(other.lays), estimated_in_words(other)
    if guess:
        return f"{lays}, {guess}"
    return f"{lays}, as far as {'that is' if other.lays == 1 else 'those are'} nested"


def _work_in_words(more_minutes: float) -> str:
    """ ", for 12 minutes more work"."""
    if abs(more_minutes) < NOTHING_MINUTES:
        return ""
    if more_minutes > 0:
        return f", for {minutes_in_words(more_minutes)} more work"
    return f", and takes {minutes_in_words(-more_minutes)} less work"


def buys_in_words(stock: FromStock | None, display: Display) -> str:
    """ "It buys 2.9 m while 2.38 m in stock stay unused, for no length there is enough for a ply; 2 lays from stock
    would buy 0.8 m."; flaws that lie there are told apart, for they are no cloth to cut; "" where there is nothing to
    say."""
    if stock is None:
        return ""
    buys = _bought(stock.buys_mm, display)
    if stock.is_aim and stock.is_too_long and stock.buys_mm:
        return (
            f"From stock, as you chose; what lies there now is shorter than its longest ply, and it buys {buys}."
            f"{_promise(stock, display)}"
        )
    if stock.is_aim:
        return (
            f"From stock, as you chose: no ply is longer than the longest piece there, and it buys {buys}."
            f"{_promise(stock, display)}"
        )
    # Rounded down, as what is there is told everywhere.
    unused = format_length(stock.unused_mm, display=display, kind="cloth", at_most=True)  # type: ignore[arg-type]
    flaws = f" (and {length_in_words(stock.flaws_mm, display)} of flaws)" if stock.flaws_mm >= TOLD_MM else ""
    words = (
        f"It buys {buys} while {unused} in stock{flaws} stay unused, for no length there is enough for a ply"
    )
    if stock.other is None:
        return f"{words}."
    less = _bought(stock.other_buys_mm, display)
    guess = ", as far as estimates tell" if stock.other.nested < stock.other.lays else ""
    return f"{words}; {lays_in_words(stock.other.lays)} from stock would buy {less}{guess}."


def _promise(stock: FromStock, display: Display, when: str = "chosen") -> str:
    """ " It was to buy nothing when it was chosen; its plies do not all fit …"; "" where it keeps to that."""
    if stock.promised_mm is None or stock.buys_mm < stock.promised_mm + LEAST_BOUGHT_MM:
        return ""
    was = _bought(stock.promised_mm, display)
    why = "" if stock.is_too_long else "; its plies do not all fit on the pieces that lie there now"
    return f" It was to buy {was} when it was {when}{why}."


def stock_offer_in_words(stock: FromStock, best: Outcome, display: Display, currency: str) -> str:
    """ "2 lays, buys 0.8 m instead of 2.9 m, 12 minutes more, 0.64 EUR more"; where it is told too what each spends,
    "0.64 EUR more with all cloth counted", for that counts what is bought alone."""
    other = stock.other
    if other is None:
        return NOT_COMPARED if stock.is_open else NO_LESS
    buys = buys_instead_in_words(stock.other_buys_mm, stock.buys_mm, display)
    guess, spent = estimated_in_words(other), _spent_in_words(stock, currency)
    taken, all_told = (differences(other, best, display, money) for money in ("", currency))
    if spent and all_told != taken:
        all_told[-1] += " with all cloth counted"
    parts = [lays_in_words(other.lays), buys, *all_told]
    return "; ".join(filter(None, [", ".join(parts), spent, guess]))


def _spent_in_words(stock: FromStock, currency: str) -> str:
    """ "what is bought and the work at the table come to 12.40 EUR instead of 43.10 EUR"."""
    if not currency or stock.spends is None or stock.other_spends is None:
        return ""
    other, own = (format_money(one, currency) for one in (stock.other_spends, stock.spends))
    return f"what is bought and the work at the table come to {other} instead of {own}"


def buys_instead_in_words(buys_mm: float, instead_mm: float, display: Display) -> str:
    """ "buys 0.8 m instead of 2.9 m", "buys nothing too"."""
    buys, instead = _bought(buys_mm, display), _bought(instead_mm, display)
    return f"buys {buys} too" if buys == instead else f"buys {buys} instead of {instead}"


def _bought(length_mm: float, display: Display) -> str:
    return length_to_buy(length_mm / 1000, display) if length_mm else "nothing"
