"""What happened at the cutting table, recorded beside the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import F, Sum

from planner.cutting.actions.given_back import give_rolls_back
from planner.cutting.actions.laying import lock
from planner.cutting.actions.nesting import keep_as_cut
from planner.cutting.actions.since_seen import Changed, changed_since
from planner.cutting.arrivals import counted_on_again
from planner.cutting.counted_on import after_telling
from planner.cutting.lots import give_lots
from planner.cutting.models import Batch, BatchNeed, CutPlan, Lay, LayCloth, LayFact, LayRoll
from planner.cutting.owed import Owed, owed_by
from planner.cutting.roll_now import BY_TAPE_M, lost_when_cut, rolls_now
from planner.cutting.tasks import queue_settling
from planner.materials.models import Fabric, Roll, RollFlaw, StockMove
from planner.materials.promised import OverPromised, to_cm
from planner.materials.rolls import move_flaws
from planner.materials.washed import as_bought_m

#: A note on a roll is shorter than one on a lay.
FLAW_NOTE = RollFlaw._meta.get_field("note").max_length


@dataclass(frozen=True)
class Told:
    """What somebody tells of the plies of one row (LayCloth pk): spreads cut, metres used, from which roll.

    `flaws` lie on what is left of the roll, (from, to) in metres from the end that was just cut; they need a roll. All
    metres are those on the table: of cloth that is washed first more leave the stock, which is kept as bought.
    With no spreads and no metres nothing but the flaws is noted.
    """

    cloth: int
    spreads: int
    used_m: Decimal
    roll: int | None = None
    note: str = ""
    flaws: tuple[tuple[Decimal, Decimal], ...] = ()


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
    on_rolls = rolls_now(rolls, {row.fabric_colour_id: row.fabric_colour.fabric for row in cloths.values()})
    by_books = {pk: to_cm(float(roll.left_m) * 1000) for pk, roll in rolls.items()}
    booked_m = Decimal(0)
    for row in told:
        lost_m, taken_m = Decimal(0), as_bought_m(row.used_m, cloths[row.cloth].fabric_colour.fabric)
        if row.roll is not None:
            on_roll = on_rolls[row.roll]
            lost_m = lost_when_cut(lay, row.spreads, row.used_m, on_roll)
            on_rolls[row.roll] = on_roll.without(row.used_m).with_flaws(row.flaws)
            taken_m = _off_roll_m(taken_m, by_books[row.roll])
            by_books[row.roll] -= taken_m
        if row.spreads or row.used_m:
            _write_fact(lay, cloths[row.cloth], row, taken_m, lost_m, person, now)
            booked_m += taken_m
        if row.roll is not None:
            _write_flaws(rolls[row.roll], row, taken_m, cloths[row.cloth].fabric_colour.fabric)
    for cloth in cloths.values():
        sum_up(cloth)
    give_lots(lay)
    left = sum(left_of(cloth) for cloth in cloths.values())
    if left == 0:
        _end(lay, person, now)
    is_first = lay.batch.state == Batch.State.PLANNED
    move_batch_on(lay.batch)
    if is_first and lay.batch.state != Batch.State.PLANNED:
        _let_plan_stand(lay.batch)
    stopped = any(row.spreads for row in told) and keep_as_cut(lay.marker_id)
    return LayTold(
        lay,
        sum(row.spreads for row in told),
        sum((row.used_m for row in told), Decimal(0)),
        booked_m,
        left,
        sum(len(row.flaws) for row in told),
        tuple(rolls[pk].number for pk, left_m in by_books.items() if left_m < 0),
        owed_by({cloths[row.cloth].fabric_colour_id for row in told if row.roll is None and row.used_m}),
        *after_telling({row.roll for row in told if row.roll is not None}),
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


def _off_roll_m(taken_m: Decimal, left_m: Decimal) -> Decimal:
    """What leaves the books for metres cut off a roll of which they have so much: all of that, where no more is missing
    than a tape is out, for each lay is told to the centimetre upwards. Then nothing is missing, and none is owed.
    """
    return left_m if 0 <= left_m < taken_m <= left_m + BY_TAPE_M else taken_m


def _write_fact(
    lay: Lay, cloth: LayCloth, row: Told, taken_m: Decimal, lost_m: Decimal, person: User | None, now: datetime,
) -> None:  # fmt: skip
    LayFact.objects.create(
        lay_cloth=cloth,
        roll_id=row.roll,
        spreads=row.spreads,
        used_m=row.used_m,
        booked_m=taken_m,
        lost_m=lost_m,
        note=row.note,
        person=person,
        told_at=now,
    )
    StockMove.objects.create(
        fabric_colour_id=cloth.fabric_colour_id,
        roll_id=row.roll,
        quantity=-taken_m,
        reason=StockMove.Reason.CUT,
        note=f"{lay.batch.number} lay {lay.number}",
        person=person,
        moved_at=now,
    )
    _take(lay, cloth, taken_m)


def _write_flaws(roll: Roll, row: Told, taken_m: Decimal, fabric: Fabric) -> None:
    """Flaws are kept from the outer end of the roll, as bought; it has moved inwards by what was cut off."""
    move_flaws(roll, -taken_m)
    flaws = [[as_bought_m(metres, fabric) for metres in flaw] for flaw in row.flaws]
    RollFlaw.objects.bulk_create(
        RollFlaw(roll=roll, from_m=low, to_m=high, note=row.note[:FLAW_NOTE]) for low, high in flaws
    )


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
    _take(lay, cloth, -metres)


def _take(lay: Lay, cloth: LayCloth, metres: Decimal) -> None:
    needs = BatchNeed.objects.filter(batch=lay.batch, fabric_colour_id=cloth.fabric_colour_id)
    needs.update(taken=F("taken") + metres)


def _fast(lay: Lay) -> str:
    """Why nothing of what was told of a lay can be taken back; "" where it can."""
    if lay.batch.state == Batch.State.DONE:
        return f"{lay.batch.number} is done, so its lays stay cut. Open the batch again first."
    if lay.rests.exists():
        return "The rest of this lay is planned as lays of their own. Take that back first."
    return ""


def _let_plan_stand(batch: Batch) -> None:
    """Where it was cut before its plan stood, that is at an end, and the worker gives the others their rolls."""
    if batch.cut_plans.exclude(state=CutPlan.State.SETTLED).exists():
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
