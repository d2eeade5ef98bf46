"""A plan beside others: what it saves, why it has no fewer lays, and what each choice costs. Facts, not sentences."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from planner.core.cut_plan.bounds import Floor, counting_floor
from planner.core.cut_plan.enumerate import every_marker
from planner.core.cut_plan.measure import totals_of
from planner.core.cut_plan.model import Answer, Objective, PlannedSection, PlanQuestion
from planner.core.cut_plan.prepare import prepare
from planner.core.cut_plan.reasons import NoPlan
from planner.core.cut_plan.solve import MOST_MARKERS, solve


@dataclass(frozen=True, slots=True)
class Difference:
    """How much less the plan takes than another: negative where it takes more. Shares are of the other plan.

    `other_cost` is all money that is not cloth: laying, cutting, drawing, overcut.
    """

    cloth_mm: float
    cloth_share: float
    lays: int
    spreads: int
    cost: float
    cloth_cost: float
    other_cost: float


@dataclass(frozen=True, slots=True)
class FewerLays:
    """Whether one lay fewer could be had.

    `cause`: "counted": by counting garments, plies and the marker; "apart": kinds kept apart need lays of their own;
    "gone_through": every plan with fewer lays was ruled out; "kept": all lays are kept; "dearer": there is such a
    plan, `dearer` (a Difference of this plan to it) tells what this one saves; "unknown": none was found, but none
    is ruled out.

    Fewer lays would need `needed_per_spread` garments on every spread on average, and a spread takes at most
    `most_per_spread`; a lay has at most `most_spreads` spreads.
    """

    lays: int
    cause: Literal["counted", "apart", "gone_through", "kept", "dearer", "unknown"]
    garments: int
    needed_per_spread: int
    most_per_spread: int
    most_spreads: int
    dearer: Difference | None = None


@dataclass(frozen=True, slots=True)
class ChoicePrice:
    """What one choice costs: the plan with it against the best plan without it.

    `place` is its place among the choices of its sort. `saved_without` is None where without it there is no plan
    that could be found. `is_sure`: both plans are proven best.
    """

    sort: Literal["together", "apart", "keep", "most_plies"]
    place: int
    kinds: tuple[int, ...]
    saved_without: Difference | None
    is_sure: bool


@dataclass(frozen=True, slots=True)
class Explanation:
    """Why the plan is as it is. `alternatives` are differences of this plan to others, by their objective."""

    saving: Difference
    fewer: FewerLays
    is_proven: bool
    gap_share: float
    alternatives: tuple[tuple[Objective, Difference], ...]
    choices: tuple[ChoicePrice, ...]


def difference(question: PlanQuestion, answer: Answer, other: Answer) -> Difference:
    """How much less `answer` takes than `other`."""
    prices = question.price_per_mm

    def cloth_cost(a: Answer) -> float:
        return sum(price * mm for price, mm in zip(prices, a.cloth_mm_by_column, strict=True))

    saved = other.cloth_mm - answer.cloth_mm
    money = other.cost - answer.cost
    cloth_money = cloth_cost(other) - cloth_cost(answer)
    return Difference(
        cloth_mm=saved,
        cloth_share=saved / other.cloth_mm if other.cloth_mm else 0.0,
        lays=other.lays - answer.lays,
        spreads=other.spreads - answer.spreads,
        cost=money,
        cloth_cost=cloth_money,
        other_cost=money - cloth_money,
    )


def why(
    question: PlanQuestion,
    answer: Answer,
    baseline: Answer,
    alternatives: Sequence[Answer] = (),
    choices: Sequence[ChoicePrice] = (),
) -> Explanation:
    """The facts that explain a plan: against `baseline` (see `size_by_size`) and the plans for other objectives.

    `choices`: what `price_of_choices` found, where that was asked.
    """
    return Explanation(
        saving=difference(question, answer, baseline),
        fewer=_fewer_lays(question, answer, alternatives),
        is_proven=answer.is_proven,
        gap_share=answer.gap_share,
        alternatives=tuple((a.objective, difference(question, answer, a)) for a in alternatives),
        choices=tuple(choices),
    )


def _fewer_lays(question: PlanQuestion, answer: Answer, alternatives: Sequence[Answer]) -> FewerLays:
    prepared = prepare(question)
    floor = counting_floor(prepared, every_marker(prepared, most=MOST_MARKERS))
    garments = sum(map(sum, prepared.low))
    kept = len(prepared.kept)
    lays = answer.lays - 1
    room = max(0, lays - kept) * floor.stack
    fewer = min((a for a in alternatives if a.lays < answer.lays), key=lambda a: a.cost, default=None)
    bound = max([answer.lays_bound, *(a.lays_bound for a in alternatives)])
    return FewerLays(
        lays=lays,
        cause="dearer" if fewer is not None else _cause(floor, lays, kept, bound),
        garments=garments,
        needed_per_spread=-(-garments // room) if room else garments,
        most_per_spread=floor.garments_per_spread,
        most_spreads=floor.stack,
        dearer=None if fewer is None else difference(question, answer, fewer),
    )


def _cause(
    floor: Floor, lays: int, kept: int, bound: int
) -> Literal["counted", "apart", "gone_through", "kept", "unknown"]:
    if lays < kept:
        return "kept"
    if lays - kept < floor.lays:
        return "apart" if floor.has_kinds_apart else "counted"
    return "gone_through" if lays < bound else "unknown"


def price_of_choices(
    question: PlanQuestion,
    answer: Answer,
    *,
    plies_without: int | None = None,
    seconds_each: float = 5.0,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[ChoicePrice, ...]:
    """What each choice costs, by planning again without it (the others stay).

    `plies_without`: the most plies where they are not limited by choice; None where that is no choice.
    """
    found = []
    for sort, place, kinds, without in _without_each(question, plies_without):
        try:
            other = solve(without, seconds=seconds_each, should_stop=should_stop)
        except NoPlan:
            found.append(ChoicePrice(sort, place, kinds, None, is_sure=False))
            continue
        spared = difference(without, other, answer)
        found.append(ChoicePrice(sort, place, kinds, spared, is_sure=answer.is_proven and other.is_proven))
    return tuple(found)


_Sort = Literal["together", "apart", "keep", "most_plies"]


def _without_each(
    q: PlanQuestion, plies_without: int | None
) -> Iterator[tuple[_Sort, int, tuple[int, ...], PlanQuestion]]:
    """(sort, place, kinds, the question without it) of every choice."""
    for i, kinds in enumerate(q.together):
        yield (
            "together",
            i,
            tuple(sorted(kinds)),
            replace(q, together=(*q.together[:i], *q.together[i + 1 :])),
        )
    for i, kinds in enumerate(q.apart):
        yield "apart", i, tuple(sorted(kinds)), replace(q, apart=(*q.apart[:i], *q.apart[i + 1 :]))
    for i, lay in enumerate(q.keep):
        on_it = tuple(k for k, n in enumerate(lay.counts) if n)
        yield "keep", i, on_it, replace(q, keep=(*q.keep[:i], *q.keep[i + 1 :]))
    if plies_without is not None and plies_without != q.most_plies:
        yield "most_plies", 0, (), replace(q, most_plies=plies_without)


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
    if not wanted:
        return solve(plain, seconds=seconds)
    answers = [solve(_only(plain, k), seconds=seconds / len(wanted), should_stop=should_stop) for k in wanted]
    sections: list[PlannedSection] = [s for a in answers for s in a.sections]
    totals = totals_of(plain, sections)
    value, *others = totals.goals(question.objective)
    has_second = question.objective != "money"
    proven = all(a.is_proven for a in answers)
    bound = value if proven else min(value, sum(a.bound for a in answers))
    return Answer(
        sections=tuple(sections),
        objective=question.objective,
        value=value,
        bound=bound,
        second_value=others[0] if has_second else None,
        second_bound=min(others[0], sum(a.second_bound or 0.0 for a in answers)) if has_second else None,
        **totals.as_fields(),
        lays_bound=min(totals.lays, sum(a.lays_bound for a in answers)),
        is_proven=proven,
        gap_share=0.0 if proven or value <= 0 else (value - bound) / value,
        method="size_by_size",
        seconds=time.monotonic() - begin,
    )


def _only(question: PlanQuestion, kind: int) -> PlanQuestion:
    """The question for one kind alone."""
    nothing = (0,) * question.columns
    return replace(
        question,
        demand=tuple(row if i == kind else nothing for i, row in enumerate(question.demand)),
        overcut=tuple(row if i == kind else nothing for i, row in enumerate(question.overcut)),
    )
