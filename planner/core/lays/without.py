"""What could be had without the maker's wishes, each taken back by itself: what prices and reasons rest on.

A plan with a wish is always one without it too, so the search begins from the plan there is and from those made before:
what was found once is known without any time.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from planner.core.cut_plan.known import Sections, answer_of, better_of, keeps_rules
from planner.core.cut_plan.model import Answer, PlanQuestion
from planner.core.cut_plan.reasons import NoPlan
from planner.core.cut_plan.solve import solve
from planner.core.lays.kinds import FabricTable
from planner.core.lays.marker_lengths import MarkerLengths
from planner.core.lays.model import Mode
from planner.core.lays.wishes import Kind, Wishes, WishName


@dataclass(frozen=True, slots=True)
class Eased:
    """The question with one wish taken back."""

    wish: WishName
    kinds: tuple[Kind, ...]
    question: PlanQuestion


@dataclass(frozen=True, slots=True)
class Without:
    """The best plan found without one wish, which is never worse than the plan with it.

    `question` is the one with the wish taken back. `sure` is the best of the plans known for it whose lays were all
    nested, where the best plan found is not: what that one promises may not hold.
    """

    wish: WishName
    kinds: tuple[Kind, ...]
    answer: Answer
    question: PlanQuestion
    sure: Answer | None = None


def each_taken_back(
    table: FabricTable, wish: Wishes, question: PlanQuestion, tool_plies: int
) -> Iterator[Eased]:
    """The question without each wish; `tool_plies` are the most layers of this cloth that the tool cuts."""
    if wish.keep:
        yield Eased("keep", (), replace(question, keep=()))
    for kinds in wish.apart:
        rows = frozenset(row for kind in kinds for row in table.kind_of(kind))
        apart = tuple(pair for pair in question.apart if not pair <= rows)
        yield Eased("apart", tuple(sorted(kinds)), replace(question, apart=apart))
    for n, kinds in enumerate(wish.together):
        rest = question.together[:n] + question.together[n + 1 :]
        yield Eased("together", tuple(sorted(kinds)), replace(question, together=rest))
    if question.most_plies < tool_plies:
        yield Eased("plies", (), replace(question, most_plies=tool_plies))


def best_without(
    eased: Sequence[Eased],
    known: Sequence[Sections],
    until: float,
    most_seconds: float,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[Without, ...]:
    """The best plan found for each of these questions; plans that keep the wish may stand among the `known`.

    Each has an equal share of the time until then (monotonic clock), `most_seconds` at most; with none left it is the
    best of the known plans.
    """
    found = []
    for n, one in enumerate(eased):
        left = max(0.0, until - time.monotonic()) / (len(eased) - n)
        try:
            answer = solve(
                one.question, seconds=min(most_seconds, left), should_stop=should_stop, known=known
            )
        except NoPlan:
            # None of the known plans is one, and there was no time: it is not known.
            continue
        found.append(Without(one.wish, one.kinds, answer, one.question))
    return tuple(found)


def with_at_least(answer: Answer, without: Without) -> Without:
    """What was found without a wish, or the plan with it where that is better: it is one of those too."""
    # How few lays must be was counted with the wish.
    plan = replace(answer, lays_bound=without.answer.lays_bound)
    return replace(without, answer=better_of(without.question, without.answer, [plan]))


def with_sure(without: Without, known: Sequence[Sections], lengths: Mapping[Mode, MarkerLengths]) -> Without:
    """The best of the `known` plans that was nested beside one that is an estimate: the plan that stood before a wish
    is a fact, whatever others promise."""
    if is_nested(without.answer.sections, lengths):
        return without
    question = without.question
    plans = [plan for plan in known if keeps_rules(question, plan) and is_nested(plan, lengths)]
    answers = (answer_of(without.answer, question, plan) for plan in plans)
    sure = min(answers, key=lambda one: (one.value, one.second_value or 0.0, one.cost), default=None)
    return replace(without, sure=sure)


def is_nested(plan: Sections, lengths: Mapping[Mode, MarkerLengths]) -> bool:
    """Whether all markers of a plan of these kinds were nested."""
    by_way = {str(mode): of_mode for mode, of_mode in lengths.items()}
    return all(by_way[one.way].is_nested(one.counts) for one in plan)
