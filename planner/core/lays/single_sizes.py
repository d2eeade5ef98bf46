"""Every size in lays of its own: what a maker does without a plan, and what a plan is held against.

Which lays these are follows from the demand, the table and the tool alone, by the usual share of the cloth: so the same
garments are always held against the same lays, whatever was learnt meanwhile. Their lengths are nested ones as soon as
somebody has nested them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from planner.core.cut_plan.compare import size_by_size
from planner.core.cut_plan.model import PlannedSection, PlanQuestion
from planner.core.cut_plan.reasons import NoPlan
from planner.core.lays.items import items_for
from planner.core.lays.kinds import FabricTable
from planner.core.lays.marker_lengths import MarkerLengths, strip_job
from planner.core.lays.model import MarkerJob, Mode
from planner.core.lays.outcomes import Laid, outcome_of
from planner.core.lays.wishes import Outcome, SingleLay
from planner.core.spec import Workshop

#: What the outcome of single sizes is called among others.
SINGLE = "single"


def single_lays(
    table: FabricTable,
    question: PlanQuestion,
    lengths: Mapping[Mode, MarkerLengths],
    *,
    seconds: float,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[SingleLay, ...]:
    """The lays of single sizes, as well planned as the aim allows; empty where there is nothing to compare.

    That is so where only one kind is wanted, or where there is no such plan.
    """
    if sum(any(row) for row in question.demand) < 2:
        return ()
    by_way = {str(mode): of_mode for mode, of_mode in lengths.items()}
    ways = tuple(replace(way, length_mm=by_way[way.name].usual) for way in question.ways)
    try:
        alone = size_by_size(replace(question, ways=ways), seconds=seconds, should_stop=should_stop)
    except NoPlan:
        return ()
    return tuple(_single(table, section, lengths) for section in alone.sections)


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
    end_mm = 2 * shop.cloths[lays[0].cloth].end_allowance_mm
    return outcome_of(SINGLE, laid, shop, end_mm=end_mm)


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
