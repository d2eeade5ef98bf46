"""A plan beside others: what it saves against every kind by itself, and why it could not be better."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

from planner.core.cut_plan.measure import totals_of
from planner.core.cut_plan.model import Answer, PlannedSection, PlanQuestion
from planner.core.cut_plan.solve import solve


def size_by_size(
    question: PlanQuestion, *, seconds: float = 5.0, should_stop: Callable[[], bool] | None = None
) -> Answer:
    """The plan in which every kind has lays of its own: what a maker does without planning, as a yardstick.

    Each kind is planned as well as the objective allows, all its columns stacked, so that the yardstick is a fair
    one. Choices (together, apart, lays kept) play no part. Raises NoPlan as `solve` does.
    """
    begin = time.monotonic()
    plain = replace(question, together=(), apart=(), keep=())
    wanted = [k for k, row in enumerate(question.demand) if any(row)]
    sections: list[PlannedSection] = []
    answers: list[Answer] = []
    for k in wanted:
        alone = replace(
            plain,
            demand=tuple(row if i == k else (0,) * question.columns for i, row in enumerate(question.demand)),
            overcut=tuple(
                row if i == k else (0,) * question.columns for i, row in enumerate(question.overcut)
            ),
        )
        answers.append(solve(alone, seconds=seconds / len(wanted), should_stop=should_stop))
        sections += answers[-1].sections
    if not answers:
        return solve(plain, seconds=seconds)
    totals = totals_of(plain, sections)
    value, *others = totals.goals(question.objective)
    has_second = question.objective != "money"
    bound = sum(a.bound for a in answers)
    second = sum(a.second_bound or 0.0 for a in answers)
    proven = all(a.is_proven for a in answers)
    return Answer(
        sections=tuple(sections),
        objective=question.objective,
        value=value,
        bound=value if proven else min(value, bound),
        second_value=others[0] if has_second else None,
        second_bound=min(others[0], second) if has_second else None,
        cost=totals.cost,
        cloth_mm=totals.cloth_mm,
        cloth_mm_by_column=totals.cloth_mm_by_column,
        lays=totals.lays,
        spreads=totals.spreads,
        overcut=totals.overcut,
        lays_bound=min(totals.lays, sum(a.lays_bound for a in answers)),
        is_proven=proven,
        gap_share=0.0 if proven or value <= 0 else (value - min(value, bound)) / value,
        method="size by size",
        seconds=time.monotonic() - begin,
    )
