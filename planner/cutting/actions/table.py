"""What happened at the cutting table, recorded beside the plan."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Sum

from planner.cutting.actions.booking import Told, book, note_taken
from planner.cutting.actions.given_back import give_rolls_back
from planner.cutting.actions.laying import lock
from planner.cutting.actions.nesting import keep_as_cut
from planner.cutting.actions.since_seen import Changed, changed_since
from planner.cutting.arrivals import counted_on_again
from planner.cutting.counted_on import after_telling
from planner.cutting.lots import give_lots
from planner.cutting.models import Batch, CutPlan, Lay, LayCloth, LayFact, LayRoll
from planner.cutting.owed import Owed, owed_by
from planner.cutting.tasks import queue_settling
from planner.materials.models import Roll, StockMove
from planner.materials.promised import OverPromised
from planner.materials.rolls import move_flaws


@dataclass(frozen=True)
class LayTold:
    """What came of telling. With a problem nothing was changed; `meanwhile` says where the lay is not as it was seen.

    `booked_m` left the stock for the `used_m` on the table. `left` spreads are still to be cut. `short_rolls`
    had less in the books than all rows used of them together, `owed` is what no roll was noted for; `counted_on` have
    less left now than lays to be cut count on; batches `asked_again` get new rolls; lays `waiting` (by batch) have no
    cloth any more. Where the lay was nested for longer just then, that is `stopped`.
    """

    lay: Lay
    spreads: int = 0
    used_m: Decimal = Decimal(0)
    booked_m: Decimal = Decimal(0)
    left: int = 0
    flaws: int = 0
    short_rolls: tuple[str, ...] = ()
    owed: tuple[Owed, ...] = ()
    counted_on: tuple[OverPromised, ...] = ()
    asked_again: tuple[str, ...] = ()
    waiting: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    problem: str = ""
    meanwhile: Changed | None = None
    stopped: bool = False


@dataclass(frozen=True)
class FactTakenBack:
    """What came of taking back what was told: metres in the stock again for those on the table. With a problem nothing
    was changed."""

    used_m: Decimal = Decimal(0)
    booked_m: Decimal = Decimal(0)
    problem: str = ""


def left_of(cloth: LayCloth) -> int:
    """Spreads of these plies that are not cut yet; for a lay that is not recorded as cut."""
    return max(0, cloth.spreads - (cloth.cut_spreads or 0))


def lock_lay(lay: Lay) -> Lay:
    """The lay as it is now; nobody changes its batch until the transaction ends. Lay.DoesNotExist where it is gone."""
    lock(lay.batch)
    return Lay.objects.select_related("batch", "marker").get(pk=lay.pk)


@transaction.atomic
def tell_lay(
    lay: Lay,
    told: Sequence[Told],
    person: User | None,
    now: datetime,
    *,
    so_far: str | None = None,
    marker_mm: float | None = None,
) -> LayTold:
    """Records what was spread and cut of a lay, a fact for each row told; the lay is cut once all its plies are.

    The cloth leaves the stock (the roll where one is named) and the batch's open need. `so_far` is the mark of
    :func:`told_so_far` that the person saw, `marker_mm` the length of its marker: where the lay is not as it was then,
    nothing is changed. Raises Lay.DoesNotExist, as all that is done to a lay here, where its batch was planned anew
    meanwhile. What is cut is nested no longer: it stays as it was cut.
    """
    lay = lock_lay(lay)
    cloths = {cloth.pk: cloth for cloth in lay.cloths.select_related("fabric_colour__fabric")}
    rolls = {roll.pk: roll for roll in Roll.objects.with_left().filter(pk__in={row.roll for row in told})}
    if changed := changed_since(lay, so_far, marker_mm):
        return LayTold(lay, problem=changed.problem, meanwhile=changed)
    if problem := _problem(told, cloths, rolls):
        return LayTold(lay, problem=problem)
    booked = book(lay, told, cloths, rolls, person, now)
    left = _sum_up_all(lay, cloths.values(), person, now)
    _begin(lay.batch)
    stopped = any(row.spreads for row in told) and keep_as_cut(lay.marker_id)
    found, asked_again = after_telling({row.roll for row in told if row.roll is not None})
    return LayTold(
        lay,
        spreads=sum(row.spreads for row in told),
        used_m=sum((row.used_m for row in told), Decimal(0)),
        booked_m=booked.metres,
        left=left,
        flaws=sum(len(row.flaws) for row in told),
        short_rolls=booked.short_rolls,
        owed=owed_by({cloths[row.cloth].fabric_colour_id for row in told if row.roll is None and row.used_m}),
        counted_on=found,
        asked_again=asked_again,
        stopped=stopped,
    )


@transaction.atomic
def take_fact_back(fact: LayFact, person: User | None, now: datetime) -> FactTakenBack:
    """Takes back something told wrongly: it stays to be read, its cloth is put back by a move of its own."""
    lay = lock_lay(Lay.objects.select_related("batch").get(cloths__facts=fact))
    fact = LayFact.objects.select_related("lay_cloth").get(pk=fact.pk)
    if fact.taken_back_at is not None:
        return FactTakenBack(problem="That was taken back before; nothing was changed.")
    if problem := _fast(lay):
        return FactTakenBack(problem=problem)
    _undo_fact(lay, fact, person, now)
    sum_up(fact.lay_cloth)
    _reopen(lay)
    give_rolls_back(lay, [fact])
    give_lots(lay)
    move_batch_on(lay.batch)
    count_on_rolls(lay)
    return FactTakenBack(fact.used_m, fact.left_stock_m)


@transaction.atomic
def take_cut_back(lay: Lay, person: User | None, now: datetime) -> bool:
    """Undoes a lay recorded as cut by mistake, and all that was told of it: its cloth is put back.

    False if it was not cut, its rest is planned as lays of their own, or its batch is done: then nothing is changed.
    """
    lay = lock_lay(lay)
    if lay.cut_at is None or _fast(lay):
        return False
    undone: list[LayFact] = []
    for cloth in lay.cloths.all():
        facts = list(cloth.facts.filter(taken_back_at=None))
        for fact in facts:
            _undo_fact(lay, fact, person, now)
        undone += facts
        # Lays that were cut before anything was told in parts have their metres and no facts.
        untold = (cloth.used_m or Decimal(0)) - sum((fact.used_m for fact in facts), Decimal(0))
        if untold:
            _put_back(lay, cloth, untold, None, person, now)
        sum_up(cloth)
    _reopen(lay)
    give_rolls_back(lay, undone)
    give_lots(lay)
    move_batch_on(lay.batch)
    count_on_rolls(lay)
    return True


def sum_up(cloth: LayCloth) -> None:
    """Writes what was cut and used of these plies anew from the facts that hold."""
    facts = cloth.facts.filter(taken_back_at=None)
    sums = facts.order_by().aggregate(spreads=Sum("spreads"), used=Sum("used_m"))
    cloth.cut_spreads, cloth.used_m = sums["spreads"], sums["used"]
    cloth.save(update_fields=["cut_spreads", "used_m"])


def move_batch_on(batch: Batch) -> None:
    """The state of a batch from how many of its lays are cut, in whole or in part."""
    lays = batch.lays.count()
    cut = batch.lays.filter(cut_at__isnull=False).count()
    if cut == lays:
        batch.state = Batch.State.SEWING
    elif batch.lays.begun().exists():
        batch.state = Batch.State.CUTTING
    else:
        batch.state = Batch.State.PLANNED
    batch.save(update_fields=["state"])


def _problem(told: Sequence[Told], cloths: Mapping[int, LayCloth], rolls: Mapping[int, Roll]) -> str:
    """Why this cannot be recorded of the lay; "" where it can."""
    spread: dict[int, int] = {}
    for row in told:
        spread[row.cloth] = spread.get(row.cloth, 0) + row.spreads
        if row.spreads < 0 or row.used_m < 0:
            return "Nothing less than nothing can be cut."
        if row.roll is None:
            if row.flaws:
                return "A flaw lies on a roll; say which."
        elif rolls[row.roll].fabric_colour_id != cloths[row.cloth].fabric_colour_id:
            return f"Roll {rolls[row.roll]} is not {cloths[row.cloth].fabric_colour}."
    for pk, spreads in spread.items():
        if spreads > left_of(cloths[pk]):
            return f"Only {left_of(cloths[pk])} of {cloths[pk].fabric_colour} are still to be cut."
    return ""


def _undo_fact(lay: Lay, fact: LayFact, person: User | None, now: datetime) -> None:
    fact.taken_back_at = now
    fact.save(update_fields=["taken_back_at"])
    _put_back(lay, fact.lay_cloth, fact.left_stock_m, fact.roll_id, person, now)
    if fact.roll is not None:
        move_flaws(fact.roll, fact.left_stock_m)


def _put_back(
    lay: Lay, cloth: LayCloth, metres: Decimal, roll: int | None, person: User | None, now: datetime
) -> None:
    StockMove.objects.create(
        fabric_colour_id=cloth.fabric_colour_id,
        roll_id=roll,
        quantity=metres,
        reason=StockMove.Reason.COUNTED,
        note=f"{lay.batch.number} lay {lay.number} was not cut",
        person=person,
        moved_at=now,
    )
    note_taken(lay, cloth, -metres)


def _fast(lay: Lay) -> str:
    """Why nothing of what was told of a lay can be taken back; "" where it can."""
    if lay.batch.state == Batch.State.DONE:
        return f"{lay.batch.number} is done, so its lays stay cut. Open the batch again first."
    if lay.rests.exists():
        return "The rest of this lay is planned as lays of their own. Take that back first."
    return ""


def _sum_up_all(lay: Lay, cloths: Iterable[LayCloth], person: User | None, now: datetime) -> int:
    """What is cut of a lay by all that was told of its `cloths`, and the lots its bundles are of; with its last ply it
    is cut. How many spreads are left.
    """
    left = 0
    for cloth in cloths:
        sum_up(cloth)
        left += left_of(cloth)
    give_lots(lay)
    if left == 0:
        _end(lay, person, now)
    return left


def _begin(batch: Batch) -> None:
    """The state of a batch of which something was told. Where that is the first and it was cut before its plan stood,
    that is at an end, and the worker gives the others their rolls.
    """
    was_planned = batch.state == Batch.State.PLANNED
    move_batch_on(batch)
    is_first = was_planned and batch.state != Batch.State.PLANNED
    if is_first and batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
        queue_settling(batch.pk)


def count_on_rolls(lay: Lay) -> None:
    """What is to be cut after all counts on the rolls planned for it, which others may have been given meanwhile."""
    rolls = LayRoll.objects.filter(lay_cloth__lay=lay, roll__isnull=False)
    counted_on_again(set(rolls.values_list("roll", flat=True)))


def _end(lay: Lay, person: User | None, now: datetime) -> None:
    lay.cut_at, lay.cut_by = now, person
    lay.save(update_fields=["cut_at", "cut_by"])


def _reopen(lay: Lay) -> None:
    lay.cut_at = lay.cut_by = None
    lay.save(update_fields=["cut_at", "cut_by"])
