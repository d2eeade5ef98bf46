"""Plans that are known already, held against a question: where they keep its rules, a search begins from them.

So what was found once, maybe with more time or under other rules, is never lost for want of time.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from planner.core.cut_plan.check import broken_rules
from planner.core.cut_plan.measure import totals_of
from planner.core.cut_plan.model import Answer, Objective, PlannedSection, PlanQuestion
from planner.core.cut_plan.prepare import Lay, Prepared, make_marker

#: The lays of a plan.
Sections = tuple[PlannedSection, ...]


def keeps_rules(question: PlanQuestion, sections: Sequence[PlannedSection]) -> bool:
    """Whether this is a plan of the question, whatever question it was made for."""
    steps = {way.name: way.steps for way in question.ways}
    for one in sections:
        if (len(one.counts), len(one.spreads)) != (question.kinds, question.columns):
            return False
        # Of a kind that is not laid this way nobody knows a length.
        if any(n and not step for n, step in zip(one.counts, steps.get(one.way, (0,)), strict=False)):
            return False
    return not broken_rules(question, sections)


def as_lays(prepared: Prepared, sections: Sequence[PlannedSection]) -> list[Lay] | None:
    """The plan's lays besides those kept; None where it breaks a rule of this question."""
    if not keeps_rules(prepared.question, sections):
        return None
    kept = [(one.counts, one.way, one.spreads) for one in prepared.kept]
    names = [way.name for way in prepared.question.ways]
    lays = []
    for one in sections:
        told = (one.counts, one.way, one.spreads)
        if told in kept:
            kept.remove(told)
            continue
        marker = make_marker(prepared, names.index(one.way), one.counts)
        if marker is None or any(n > most for n, most in zip(one.spreads, marker.most_spreads, strict=True)):
            return None
        lays.append(Lay(marker, one.spreads))
    return lays


def without_repeats(plans: Sequence[Sequence[PlannedSection]], most: int) -> tuple[Sections, ...]:
    """Plans, each once however its lays are ordered and whether or not they are kept, the first so many."""
    found: dict[frozenset[tuple[PlannedSection, int]], Sections] = {}
    for plan in plans:
        free = tuple(replace(one, is_kept=False) for one in plan)
        found.setdefault(frozenset((one, free.count(one)) for one in free), free)
    return tuple(found.values())[:most]


def better_of(answer: Answer, others: Iterable[Answer]) -> Answer:
    """The answer, or one of these plans of the same question, be it by another aim, where it is better by this one's.

    What was found in a hurry may be worse than what another search came upon; a proven answer stays.
    """
    aim = answer.objective
    for other in others:
        value, known = _first_goal(other, aim), _first_goal(answer, aim)
        if not answer.is_proven and value < known * (1 - 1e-9):
            gap = max(0.0, (value - answer.bound) / value) if value else 0.0
            answer = replace(
                other,
                objective=aim,
                value=value,
                bound=min(value, answer.bound),
                second_value=None,
                second_bound=None,
                lays_bound=min(other.lays, max(answer.lays_bound, other.lays_bound)),
                is_proven=False,
                gap_share=gap,
            )
    return answer


def _first_goal(answer: Answer, aim: Objective) -> float:
    if aim == "money":
        return answer.cost
    return float(answer.lays) if aim == "fewest_lays" else answer.cloth_mm


def answer_of(best: Answer, question: PlanQuestion, sections: Sections) -> Answer:
    """A plan that keeps the rules of a question of which `best` is the best found, as an answer: it is not proven."""
    totals = totals_of(question, sections)
    value, second, *_ = totals.goals(question.objective)
    bound = min(value, best.bound)
    return replace(
        best,
        sections=sections,
        value=value,
        bound=bound,
        second_value=None if question.objective == "money" else second,
        second_bound=None,
        **totals.as_fields(),
        lays_bound=min(totals.lays, best.lays_bound),
        is_proven=False,
        gap_share=max(0.0, (value - bound) / value) if value else 0.0,
    )
