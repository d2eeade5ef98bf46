"""Rows of lays as the core numbers their plies: rolls they are planned from, what was told of them, whose they are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import FilteredRelation, Q, QuerySet

from planner.core.lays.model import Mode, Plies
from planner.core.planning import PlannedBundle
from planner.core.ply_list import PlyRun, Rolls, RollSpreads, ply_runs
from planner.core.told_lots import Told, ToldSpreads
from planner.cutting.models import Batch, LayCloth
from planner.cutting.querysets import LayQuerySet
from planner.cutting.stored import plies_of


@dataclass(frozen=True)
class SpreadLay:
    """A lay as far as its plies go."""

    section: int
    mode: Mode
    plies: tuple[Plies, ...]


def rolls_of(batch: Batch) -> Rolls:
    """The rolls that the plies of its lays are planned to come from, by lay. One query.

    Plies of which none was cut in the end, in a lay that was cut in part, are left out, as the plan leaves them out.
    """
    return _rolls(batch.lays.all())


def told_of(batch: Batch) -> Told:
    """What was told of the plies of its lays, by lay, for the same plies. One query, none before anything is cut."""
    return {} if batch.state == Batch.State.PLANNED else _told(batch.lays.all())


def runs_in(lays: LayQuerySet, bundles: Sequence[PlannedBundle]) -> dict[int, tuple[PlyRun, ...]]:
    """The plies of some lays of a batch by the numbers of these, and which of the bundles they are for. Seven queries.

    A bundle has the plies of its main cloth that it has in the whole batch, as long as all of its lay's are given.
    """
    rows = [SpreadLay(row.number, row.mode, plies_of(row)) for row in lays.with_options()]
    return ply_runs(rows, _rolls(lays), bundles, _told(lays))


def _plies(lays: LayQuerySet) -> QuerySet[LayCloth]:
    none_cut = Q(lay__cut_at__isnull=False, cut_spreads=0)
    return LayCloth.objects.filter(lay__in=lays.order_by().values("pk"), spreads__gt=0).exclude(none_cut)


def _rolls(lays: LayQuerySet) -> Rolls:
    rows = _plies(lays).order_by("lay__number", "pk", "rolls__position", "rolls__pk")
    part = ("pk", "roll__number", "roll__shade_lot", "spreads", "came_later")
    found: dict[int, dict[int, list[RollSpreads]]] = defaultdict(lambda: defaultdict(list))
    columns = ("lay__number", "pk", *(f"rolls__{name}" for name in part))
    for lay, cloth, pk, number, shade_lot, spreads, came_later in rows.values_list(*columns):
        parts = found[lay][cloth]
        if pk is not None:
            parts.append(RollSpreads(number or "", shade_lot or "", spreads, came_later=came_later))
    return {lay: [tuple(parts) for parts in of_lay.values()] for lay, of_lay in found.items()}


def _told(lays: LayQuerySet) -> Told:
    rows = _plies(lays).annotate(
        told=FilteredRelation("facts", condition=Q(facts__spreads__gt=0)),
    )
    rows = rows.order_by("lay__number", "pk", "told__told_at", "told__pk")
    part = ("spreads", "roll__number", "roll__shade_lot", "told_at", "taken_back_at")
    found: dict[int, dict[int, list[ToldSpreads]]] = defaultdict(lambda: defaultdict(list))
    columns = ("lay__number", "pk", *(f"told__{name}" for name in part))
    for lay, cloth, spreads, roll, shade_lot, told_at, back_at in rows.values_list(*columns):
        facts = found[lay][cloth]
        if spreads is not None:
            facts.append(
                ToldSpreads(spreads, None if roll is None else shade_lot, told_at, back_at, roll or "")
            )
    return {lay: [tuple(facts) for facts in of_lay.values()] for lay, of_lay in found.items()}
