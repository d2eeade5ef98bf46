"""Plans that are known already, held against a question: where they keep its rules, a search begins from them.

So what was found once, maybe with more time or under other rules, is never lost for want of time.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from planner.core.cut_plan.check import broken_rules
from planner.core.cut_plan.measure import totals_of
from planner.core.cut_plan.model import Answer, Objective, PlannedSection, PlanQuestion
from planner.core.cut_plan.prepare import Lay, Prepared, make_marker
from planner.core.cut_plan.search import is_less

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


def as_kept(question: PlanQuestion, sections: Sequence[PlannedSection]) -> Sections:
    """The lays of a plan found for another question, marked as kept where this question keeps them, each kept lay
    once."""
    kept = Counter((one.counts, one.way, one.spreads) for one in question.keep)
    told = []
    for one in sections:
        key = (one.counts, one.way, one.spreads)
        told.append(replace(one, is_kept=kept[key] > 0))
        kept[key] -= 1
    return tuple(told)


def without_repeats(plans: Sequence[Sequence[PlannedSection]], most: int) -> tuple[Sections, ...]:
    """The first `most` different plans; the order of their lays and whether these are kept make no difference."""
    found: dict[frozenset[tuple[PlannedSection, int]], Sections] = {}
    for plan in plans:
        free = tuple(replace(one, is_kept=False) for one in plan)
        found.setdefault(frozenset(Counter(free).items()), free)
    return tuple(found.values())[:most]


def better_of(question: PlanQuestion, answer: Answer, others: Iterable[Answer]) -> Answer:
    """The answer, or one of the `others` that is better and keeps the question's rules, whatever question it answered.

    What was found in a hurry may be worse than what another search came upon; a proven answer stays.
    """
    aim = answer.objective
    for other in others:
        goals, known = _goals(other, aim), _goals(answer, aim)
        if answer.is_proven or not is_less(goals, known) or not keeps_rules(question, other.sections):
            continue
        value, bound = goals[0], min(goals[0], answer.bound)
        answer = replace(
            other,
            sections=as_kept(question, other.sections),
            objective=aim,
            value=value,
            bound=bound,
            second_value=goals[1] if len(goals) > 1 else None,
            # What was looked for with fewer rules bounds this too.
            lays_bound=min(other.lays, max(answer.lays_bound, other.lays_bound)),
            is_proven=False,
            gap_share=max(0.0, (value - bound) / value) if value else 0.0,
        )
    return answer


def _goals(answer: Answer, aim: Objective) -> tuple[float, ...]:
    if aim == "money":
        return (answer.cost,)
    lays, cloth = float(answer.lays), answer.cloth_mm
    return (lays, cloth) if aim == "fewest_lays" else (cloth, lays)


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
        **totals.as_fields(),
        lays_bound=min(totals.lays, best.lays_bound),
        is_proven=False,
        gap_share=max(0.0, (value - bound) / value) if value else 0.0,
    )
