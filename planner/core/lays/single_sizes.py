"""Every size in lays of its own: what a maker does without a plan, and what a plan is held against.

Which lays these are follows from the demand, the table and the tool alone, by the usual share of the cloth: so the same
garments are always held against the same lays, whatever was learnt meanwhile. Their lengths are nested ones as soon as
somebody has nested them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from random import Random

from planner.core.cloth import end_of_ply_mm
from planner.core.cut_plan.greedy import greedy_plan
from planner.core.cut_plan.measure import totals_of
from planner.core.cut_plan.model import PlannedSection, PlanQuestion
from planner.core.cut_plan.prepare import (
    Lay,
    Prepared,
    aligned,
    as_sections,
    make_marker,
    prepare,
    split_into_lays,
)
from planner.core.cut_plan.search import meets_demand
from planner.core.lays.items import items_for
from planner.core.lays.kinds import FabricTable
from planner.core.lays.marker_lengths import MarkerLengths, strip_job
from planner.core.lays.model import MarkerJob, Mode
from planner.core.lays.outcomes import Laid, outcome_of
from planner.core.lays.wishes import Outcome, SingleLay
from planner.core.spec import Workshop

#: What the outcome of single sizes is called among others.
SINGLE = "single"


#: Lays of single sizes found before, by what was asked: of very many garments they take seconds.
Found = dict[PlanQuestion, tuple[PlannedSection, ...]]


def single_lays(
    table: FabricTable,
    question: PlanQuestion,
    lengths: Mapping[Mode, MarkerLengths],
    found: Found | None = None,
) -> tuple[SingleLay, ...]:
    """The lays of single sizes; empty where only one kind is wanted, or where one cannot be laid by itself."""
    return tuple(_single(table, section, lengths) for section in single_sections(question, lengths, found))


def single_sections(
    question: PlanQuestion, lengths: Mapping[Mode, MarkerLengths], found: Found | None = None
) -> tuple[PlannedSection, ...]:
    """The same as sections of a plan, which breaks the question's wishes where these want kinds together. What was
    `found` before with the same `lengths` is not looked for again; what is new is added to it.

    For each kind by itself, all its colours stacked, it is the best (by the question's aim) of a few plans that anybody
    would think of: one marker of as many garments as divide the numbers wanted, or lay by lay whatever clears most. No
    clock is looked at, so that the same question has the same answer. Wishes play no part.
    """
    by_way = {str(mode): of_mode for mode, of_mode in lengths.items()}
    ways = tuple(replace(way, length_mm=by_way[way.name].usual) for way in question.ways)
    free = replace(question, ways=ways, together=(), apart=(), keep=())
    plain = replace(free, demand=_that_can_be_cut(free), overcut=(), overcut_cost=())
    found = {} if found is None else found
    if plain not in found:
        found[plain] = _each_alone(plain)
    return found[plain]


def _each_alone(plain: PlanQuestion) -> tuple[PlannedSection, ...]:
    """Empty where only one kind is wanted, or where one cannot be laid."""
    wanted = [kind for kind, row in enumerate(plain.demand) if any(row)]
    found: list[PlannedSection] = []
    for kind in wanted if len(wanted) > 1 else ():
        sections = _best_alone(_only(plain, kind), kind)
        if not sections:
            return ()
        found += sections
    return tuple(found)


def _that_can_be_cut(question: PlanQuestion) -> tuple[tuple[int, ...], ...]:
    """The demand, rounded up where every way cuts in twos only and one more may be cut, as it must be in every plan."""
    rows = [list(row) for row in question.demand]
    for kind, row in enumerate(aligned(question, question.demand)):
        for column, count in enumerate(row):
            over = question.overcut[kind][column] if question.overcut else 0
            if count <= rows[kind][column] + over:
                rows[kind][column] = count
    return tuple(map(tuple, rows))


def _only(question: PlanQuestion, kind: int) -> PlanQuestion:
    """The question for one kind alone."""
    nothing = (0,) * question.columns
    return replace(
        question, demand=tuple(row if n == kind else nothing for n, row in enumerate(question.demand))
    )


def _best_alone(question: PlanQuestion, kind: int) -> tuple[PlannedSection, ...]:
    """The lays of a kind that is wanted alone; empty where it cannot be laid."""
    prepared = prepare(question)
    plans = [tuple(plan) for plan in _even(prepared, kind)]
    greedy = greedy_plan(prepared, question.objective, rng=Random(1), chance=0.0)
    if greedy is not None and meets_demand(prepared, greedy):
        plans.append(tuple(greedy))
    told = [as_sections(prepared, plan) for plan in plans]
    return min(told, key=lambda one: totals_of(question, one).goals(question.objective), default=())


def _even(prepared: Prepared, kind: int) -> Iterator[list[Lay]]:
    """One marker for all, of every number of garments that divides what is wanted in each colour."""
    row = prepared.low[kind]
    for each in range(1, math.gcd(*row) + 1):
        if any(count % each for count in row):
            continue
        for way in range(len(prepared.question.ways)):
            counts = tuple(each if n == kind else 0 for n in range(prepared.kinds))
            marker = make_marker(prepared, way, counts)
            spreads = [count // each for count in row]
            if marker is not None and all(
                most >= count for most, count in zip(marker.most_spreads, spreads, strict=True)
            ):
                yield split_into_lays(marker, spreads, prepared.stack_limit(way))


def _single(table: FabricTable, section: PlannedSection, lengths: Mapping[Mode, MarkerLengths]) -> SingleLay:
    mode, of_mode = next((mode, one) for mode, one in lengths.items() if mode == section.way)
    kind = next(n for n, count in enumerate(section.counts) if count)
    spreads = zip(table.columns, section.spreads, strict=True)
    return SingleLay(
        garment=table.kinds[kind].sample,
        cloth=table.kinds[kind].cloth.key,
        mode=mode,
        per_marker=section.counts[kind],
        spreads=tuple((cloth.key, count) for cloth, count in spreads if count),
        key=of_mode.key(section.counts),
        pieces=of_mode.pieces(section.counts),
        estimated_mm=of_mode.estimate(section.counts),
    )


def single_outcome(lays: Sequence[SingleLay], shop: Workshop, nested: Mapping[str, float]) -> Outcome:
    """What lays of single sizes come to, with the lengths that were `nested` (mm, by the marker's key)."""
    laid = [
        Laid(
            nested.get(one.key, one.estimated_mm), one.mode, dict(one.spreads), one.pieces, one.key in nested
        )
        for one in lays
    ]
    end_mm = 2 * end_of_ply_mm(shop.cloths[lays[0].cloth])
    return outcome_of(SINGLE, laid, shop, end_mm=end_mm)


def with_lengths(lays: Sequence[SingleLay], nested: Mapping[str, float]) -> tuple[SingleLay, ...]:
    """The lays with the lengths that were `nested` (mm, by the marker's key)."""
    return tuple(replace(one, nested_mm=nested.get(one.key)) for one in lays)


def job_of(one: SingleLay, shop: Workshop) -> MarkerJob:
    """The question that the marker of a lay of one size is."""
    cloth = shop.cloths[one.cloth]
    items = items_for((one.garment,) * one.per_marker, one.mode, cloth, shop)
    return replace(strip_job(cloth, one.mode, shop), items=items)


def still_to_nest(lays: Sequence[SingleLay], nested: Mapping[str, float]) -> Iterator[SingleLay]:
    """The lays whose markers nobody has nested, each marker once."""
    seen = set(nested)
    for one in lays:
        if one.key not in seen:
            seen.add(one.key)
            yield one
