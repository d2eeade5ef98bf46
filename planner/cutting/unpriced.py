"""Cloth and notions that nobody has noted a price for: no sum of money holds them, and each says so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from planner.core.lays.cloth_limits import usual_cost
from planner.core.lays.wishes import PlanFacts
from planner.core.listed import listed
from planner.core.needs import Needs
from planner.core.spec import Workshop
from planner.core.units import format_money, per_yard


def unpriced_in_words(needs: Needs, shop: Workshop) -> str:
    """What is to be bought and has no price, beside the sum of what is to be bought; "" for nothing."""
    cloths = [
        need.cloth.fabric for need in needs.cloths if need.to_buy_m > 0 and not shop.cloths[need.cloth].price
    ]
    notions = [
        one.key.notion for one in needs.notions if one.to_buy_packs and not shop.notions[one.key].pack_price
    ]
    names = list(dict.fromkeys([*cloths, *notions]))
    them = "it" if len(names) == 1 else "them"
    return _no_price_in_words(names, f"what is bought of {them} is not in this sum")


def costs_unpriced_in_words(names: Iterable[str]) -> str:
    """What has no price of all that something costs, beside its sums: those of materials, and what follows from it; ""
    for nothing."""
    own = list(dict.fromkeys(names))
    return _no_price_in_words(own, f"{'it is' if len(own) == 1 else 'they are'} in none of these sums")


def _no_price_in_words(names: Sequence[str], left_out: str) -> str:
    return f"No price is noted for {listed(names)}: {left_out}." if names else ""


def plan_unpriced_in_words(facts: PlanFacts | None, fabric: str, display: str, currency: str) -> str:
    """What sums of money a plan tells leave out where its cloth had no price; "" where it had, or none are told."""
    if not currency or facts is None or facts.made_with is None:
        return ""
    if all(float(price) for _, price in facts.made_with.prices):
        return ""
    a_metre = usual_cost(1000.0)
    length, usual = ("yard", per_yard(a_metre)) if display == "imperial" else ("metre", a_metre)
    return (
        f"No price was noted for {fabric}: the sums of money here are without its cloth. Where plans are compared a "
        f"{length} of it counts as {format_money(usual, currency)}."
    )
