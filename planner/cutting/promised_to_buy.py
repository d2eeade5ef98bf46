"""What a plan from stock was to buy when it was chosen, kept with it as long as it stands."""

from __future__ import annotations

from dataclasses import replace

from planner.core.lays.wishes import PlanFacts


def with_promise(facts: PlanFacts, promised_mm: float | None) -> PlanFacts:
    """The facts of a plan from stock, with what it was to buy when it was chosen; of another as they are."""
    if promised_mm is None or facts.stock is None or not facts.stock.is_aim:
        return facts
    return replace(facts, stock=replace(facts.stock, promised_mm=promised_mm))


def promised_mm(facts: PlanFacts | None) -> float | None:
    """What a plan was to buy when it was chosen; None where it is not from stock, or nobody noted that."""
    return facts.stock.promised_mm if facts is not None and facts.stock is not None else None
