"""Rolls, ends and loose cloth as a batch meets them: less what other lays are to take of each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from django.db.models import Q, QuerySet

from planner.common.kept_questions import Given, KeptQuestion
from planner.core.cloth import shrunk
from planner.core.rolls import RollThere, less_promised, place_promised
from planner.core.spec import Cloth, ClothKey, Workshop
from planner.cutting.models import Batch, BatchNeed, LayRoll
from planner.cutting.narrow_rolls import own_usable_mm
from planner.materials.dues import Due, dues_of
from planner.materials.models import FabricColour, Roll
from planner.materials.promised import StillPromised
from planner.materials.specs import cloth_key

#: Stands for stock that is not noted on any roll.
LOOSE = "loose"
#: So short a rest of a roll is nothing (mm).
NOTHING_MM = 1.0


def rolls_there(
    batch: Batch | None, keys: set[ClothKey], shop: Workshop, but: Collection[int] | None = None
) -> dict[ClothKey, tuple[RollThere, ...]]:
    """Rolls and ends by cloth, as they lie on the table, less what others are to take from them (:func:`dues_before`).

    Cloth that is to be bought for others is taken from none of them. Anything new (None) comes after all batches. With
    `but` what this batch itself is promised is taken off too, except for these plies (LayCloth pk).
    """
    rows = (
        Roll.objects.not_used_up()
        .with_begun()
        .select_related("fabric_colour__fabric")
        .prefetch_related("flaws")
    )
    rows = rows.filter(fabric_colour__fabric__name__in={key.fabric for key in keys})
    still = StillPromised()
    others = dues_before(batch, still)
    promised = _by_roll(others)
    own = {} if but is None or batch is None else promised_to(batch, but, still)
    found: dict[ClothKey, list[RollThere]] = defaultdict(list)
    on_rolls: dict[ClothKey, float] = defaultdict(float)
    for row in rows:
        key = cloth_key(row.fabric_colour)
        if key not in keys:
            continue
        cloth = shop.cloths[key]
        length_mm = as_laid(float(row.left_m) * 1000, cloth)
        on_rolls[key] += length_mm
        dues = [*promised.get(row.pk, ()), *own.get(row.pk, ())]
        there = RollThere(
            f"{row.pk}",
            length_mm,
            row.shade_lot,
            own_usable_mm(row, cloth),
            _flaws_mm(row, cloth),
            row.is_begun,
        )
        left = less_promised(there, [due.plies for due in dues]) if length_mm > NOTHING_MM else None
        if left is not None:
            found[key].append(left)
    loose = _loose_mm(batch, keys, shop, on_rolls, others)
    for key, (free_mm, unassigned_mm) in loose.items():
        if free_mm > NOTHING_MM:
            found[key].append(RollThere(LOOSE, free_mm, is_end=True))
        found[key] = _less(found[key], unassigned_mm)
    return {key: tuple(rolls) for key, rolls in found.items()}


def as_laid(length_mm: float, cloth: Cloth) -> float:
    """The length on the table of a length as bought: shorter where the cloth is washed first."""
    washed = cloth.shrinkage_handling == "wash_first"
    return shrunk(length_mm, max(cloth.shrinkage_length, 0.0)) if washed else length_mm


def dues_before(batch: Batch | None, still: StillPromised) -> list[Due]:
    """What batches that come before this one are still to take, in the order they are cut."""
    if batch is None:
        return list(still.dues)
    return [
        due for due in still.dues if due.batch_pk < batch.pk or (due.is_cutting and due.batch_pk != batch.pk)
    ]


def promised_to(
    batch: Batch, but: Collection[int] = (), still: StillPromised | None = None
) -> dict[int, list[Due]]:
    """What this batch is still to take from each roll, in the order it is cut, without these plies (LayCloth pk)."""
    dues = (still or StillPromised()).dues
    return _by_roll(due for due in dues if due.batch_pk == batch.pk and due.cloth not in but)


def promised_twice(rolls: Iterable[int], shop: Workshop) -> set[int]:
    """Which of these rolls have not enough for all that they are to give."""
    promised = LayRoll.objects.filter(roll__in=list(rolls))
    planned = Batch.objects.planned_not_cut().order_by()
    due = _by_roll(dues_of(promised.filter(roll__isnull=False, lay_cloth__lay__batch__in=planned)))
    rows = Roll.objects.with_left().filter(pk__in=list(due)).select_related("fabric_colour__fabric")
    return {
        row.pk
        for row in rows.prefetch_related("flaws")
        if not _has_all(row, due[row.pk], shop.cloths[cloth_key(row.fabric_colour)])
    }


def _has_all(row: Roll, dues: Iterable[Due], cloth: Cloth) -> bool:
    length_mm = as_laid(float(row.left_m) * 1000, cloth) + NOTHING_MM
    return place_promised(length_mm, _flaws_mm(row, cloth), [due.plies for due in dues]).fits


def _flaws_mm(row: Roll, cloth: Cloth) -> tuple[tuple[float, float], ...]:
    """The flaws still in the cloth, as they lie on the table."""
    return tuple(
        (max(as_laid(float(f.from_m) * 1000, cloth), 0.0), as_laid(float(f.to_m) * 1000, cloth))
        for f in row.flaws.all()
        if f.to_m > 0
    )


def _before(batch: Given | None) -> QuerySet[Batch]:
    """Other batches still to be cut that cloth is kept for: those with lower numbers, and all that are being cut, for
    their rolls lie on the table."""
    if batch is None:
        return Batch.objects.planned_not_cut().order_by()
    first = Q(pk__lt=batch) | Q(state=Batch.State.CUTTING)
    return Batch.objects.planned_not_cut().filter(first).exclude(pk=batch).order_by()


def _by_roll(dues: Iterable[Due]) -> dict[int, list[Due]]:
    found: dict[int, list[Due]] = defaultdict(list)
    for due in dues:
        if due.roll is not None:
            found[due.roll].append(due)
    return found


def _uncut(before: Given | None) -> QuerySet[BatchNeed]:
    needs = BatchNeed.objects.with_uncut_mm().filter(batch__in=_before(before), fabric_colour__isnull=False)
    return needs.order_by().values_list("fabric_colour_id", "uncut_mm")


_UNCUT = KeptQuestion(lambda: _uncut(None))
_UNCUT_BEFORE = KeptQuestion(lambda: _uncut(Given("batch")))


def _loose_mm(
    batch: Batch | None,
    keys: set[ClothKey],
    shop: Workshop,
    on_rolls: Mapping[ClothKey, float],
    others: Iterable[Due],
) -> dict[ClothKey, tuple[float, float]]:
    """Cloth in stock that is on no roll, and what others still take without a promise from a roll (both mm).

    Plies of theirs that are to be bought take nothing, since they fit on nothing that lies there.
    """
    colours = {
        cloth_key(row): row
        for row in FabricColour.objects.with_stock().filter(fabric__name__in={key.fabric for key in keys})
    }
    # In lengths on the table, as promises are: were the allowance for flaws counted here, what others are to take of
    # their own rolls would reach beyond these, and a roll bought for just these plies would lack it.
    needs = _UNCUT.ask() if batch is None else _UNCUT_BEFORE.ask(batch=batch.pk)
    spoken: dict[int, float] = defaultdict(float)
    for pk, uncut_mm in needs:
        spoken[pk] += uncut_mm or 0.0
    of_colour: dict[int, float] = defaultdict(float)
    for due in others:
        of_colour[due.colour] += due.length_mm
    found = {}
    for key in keys & set(colours):
        row = colours[key]
        there = as_laid(float(row.on_hand_m) * 1000, shop.cloths[key]) - on_rolls.get(key, 0.0)
        wanted = max(0.0, spoken[row.pk] - of_colour[row.pk])
        found[key] = max(0.0, there - wanted), max(0.0, wanted - max(0.0, there))
    return found


def _less(rolls: list[RollThere], length_mm: float) -> list[RollThere]:
    """The rolls without what others will take from them. As nobody knows from which, it is taken off the longest."""
    left = sorted(rolls, key=lambda roll: -roll.length_mm)
    found = []
    for roll in left:
        gone = min(length_mm, roll.length_mm)
        length_mm -= gone
        if roll.length_mm - gone > NOTHING_MM:
            found.append(replace(roll, length_mm=roll.length_mm - gone))
    return found
