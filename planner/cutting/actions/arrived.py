"""Rolls that came in for lays of a batch that is being cut: each part of a lay that was short is of one lot."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from django.db import transaction

from planner.core.lays.model import LENGTHS
from planner.core.rolls import PliesWanted, RollCut, RollQuestion, assign_plies
from planner.core.spec import ClothKey, Workshop
from planner.cutting.actions.laying import lock
from planner.cutting.actions.planning import refresh_needs
from planner.cutting.actions.rolling import LOOSE, SECONDS, rolls_there
from planner.cutting.demand import batch_demand
from planner.cutting.lots import give_lots
from planner.cutting.models import Batch, Lay, LayCloth, LayRoll, Marker
from planner.cutting.roll_rows import Taken, key_of, write_taken
from planner.cutting.stored import shop_of
from planner.materials.models import Roll, Workroom

#: The cuts that answer questions about rolls.
Answers = Mapping[RollQuestion, Sequence[RollCut]]


def give_arrived(batch: Batch) -> int:
    """Gives rolls to plies of lays not begun whose cloth was to be bought; of how many spreads it is there now.

    Bundles are printed by now, so plies that were short together get a roll only where all of them fit on rolls of one
    shade lot; all other plies keep theirs. Lays of a rest are not looked at: they have their own way.
    """
    short = _short(batch)
    if not short:
        return 0
    shop = shop_of(batch, batch_demand(batch))
    # Thinking may take seconds, so it is done before anything is locked, and only done again where it must be.
    known = _answers(_questions(batch, short, shop))
    with transaction.atomic():
        batch = lock(batch)
        _lock_rolls(short)
        # What was short may have been changed since, and its rolls promised or cut by others.
        short = _short(batch)
        taken = _taken(short, _answers(_questions(batch, short, shop), known))
        for row in short:
            if row.pk in taken:
                LayRoll.objects.filter(lay_cloth=row).delete()
                write_taken([row], taken[row.pk])
        for lay in Lay.objects.filter(cloths__in=taken).distinct().select_related("batch"):
            give_lots(lay, shop)
        if taken:
            refresh_needs(batch)
    return sum(one.spreads for of_plies in taken.values() for one in of_plies)


def _short(batch: Batch) -> list[LayCloth]:
    """Plies that are all still to be bought, of lays that are nested and not begun."""
    begun = batch.lays.begun().values("pk")
    final = [Marker.State.READY, Marker.State.STOPPED]
    rows = LayCloth.objects.filter(
        lay__batch=batch,
        lay__rest_of=None,
        lay__marker__state__in=final,
        lay__marker__length_mm__isnull=False,
    )
    rows = rows.filter(rolls__isnull=False, rolls__roll=None).exclude(lay__in=begun).distinct()
    rows = rows.exclude(pk__in=LayRoll.objects.filter(roll__isnull=False).values("lay_cloth"))
    return list(rows.select_related("lay__marker", "fabric_colour__fabric").order_by("lay__number", "pk"))


def _lock_rolls(short: Sequence[LayCloth]) -> None:
    """Lets nobody else promise rolls of these colours until the transaction ends (SQLite has one writer anyway)."""
    colours = {row.fabric_colour_id for row in short}
    list(Roll.objects.select_for_update().filter(fabric_colour__in=colours).order_by("pk").values_list("pk"))


def _questions(batch: Batch, short: Sequence[LayCloth], shop: Workshop) -> list[RollQuestion]:
    """What is asked for each colour of the plies, with the rolls as they are now."""
    by_cloth: dict[ClothKey, list[LayCloth]] = defaultdict(list)
    for row in short:
        by_cloth[key_of(row)].append(row)
    # What the other lays of this batch are promised stays theirs.
    there = rolls_there(batch, set(by_cloth), shop, ())
    keep_mm = float(Workroom.the().keep_remnant_m) * 1000
    return [
        RollQuestion(tuple(map(_wanted, rows)), there.get(key, ()), keep_mm) for key, rows in by_cloth.items()
    ]


def _answers(questions: Sequence[RollQuestion], known: Answers | None = None) -> Answers:
    """The cuts for each question, taken from those `known` where just the same was asked before."""
    known = known or {}
    return {one: known[one] if one in known else assign_plies(one, seconds=SECONDS).cuts for one in questions}


def _taken(short: Sequence[LayCloth], answers: Answers) -> dict[int, tuple[Taken, ...]]:
    """The rolls of the plies (LayCloth pk) that are there in full."""
    cuts: dict[int, list[RollCut]] = defaultdict(list)
    for of_colour in answers.values():
        for cut in of_colour:
            cuts[int(cut.wanted)].append(cut)
    full = [row.pk for row in short if sum(cut.plies for cut in cuts[row.pk]) == row.spreads]
    return {pk: tuple(_one(cut) for cut in cuts[pk]) for pk in full}


def _wanted(row: LayCloth) -> PliesWanted:
    """Its spreads, each in one piece, all of one lot."""
    ply_mm = (row.lay.marker.length_mm or 0.0) + 2 * row.lay.end_allowance_mm
    each_mm = LENGTHS[row.lay.mode] * ply_mm  # type: ignore[index]
    return PliesWanted(f"{row.pk}", each_mm, row.spreads, row.lay.lay_width_mm, one_lot=True)


def _one(cut: RollCut) -> Taken:
    if cut.roll == LOOSE:
        return Taken(None, cut.plies, cut.shade_lot, is_loose=True)
    return Taken(int(cut.roll), cut.plies, cut.shade_lot)
