"""What was told at the table, booked row by row: the fact, the cloth that leaves the stock, the flaws found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.db.models import F

from planner.cutting.models import BatchNeed, Lay, LayCloth, LayFact
from planner.cutting.roll_now import BY_TAPE_M, lost_when_cut, rolls_now
from planner.materials.models import Fabric, Roll, RollFlaw, StockMove
from planner.materials.promised import to_cm
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
class Booked:
    """What left the stock, in metres as bought, and the numbers of rolls that had less in the books than was cut."""

    metres: Decimal
    short_rolls: tuple[str, ...]


def book(
    lay: Lay,
    told: Sequence[Told],
    cloths: Mapping[int, LayCloth],
    rolls: Mapping[int, Roll],
    person: User | None,
    now: datetime,
) -> Booked:
    """Books rows told of a lay one after the other: each finds its roll as the rows before left it.

    `cloths` are the lay's, with colour and fabric, and `rolls` those that are told, read `with_left`, both by pk. Call
    it within a transaction, with the batch locked.
    """
    being_cut = _BeingCut(rolls, cloths)
    metres = Decimal(0)
    for row in told:
        cloth = cloths[row.cloth]
        fabric = cloth.fabric_colour.fabric
        taken_m, lost_m = as_bought_m(row.used_m, fabric), Decimal(0)
        if row.roll is not None:
            taken_m, lost_m = being_cut.cut_off(row.roll, lay, row, taken_m)
        if row.spreads or row.used_m:
            _write_fact(lay, cloth, row, taken_m, lost_m, person, now)
            metres += taken_m
        if row.roll is not None:
            _write_flaws(rolls[row.roll], row, taken_m, fabric)
    return Booked(metres, tuple(rolls[pk].number for pk in being_cut.short()))


class _BeingCut:
    """Rolls as each row leaves them to the next: on the table, with their flaws, and in the books."""

    def __init__(self, rolls: Mapping[int, Roll], cloths: Mapping[int, LayCloth]) -> None:
        fabrics = {cloth.fabric_colour_id: cloth.fabric_colour.fabric for cloth in cloths.values()}
        self._on_table = rolls_now(rolls, fabrics)
        self._left_m = {pk: to_cm(float(roll.left_m) * 1000) for pk, roll in rolls.items()}

    def cut_off(self, pk: int, lay: Lay, row: Told, taken_m: Decimal) -> tuple[Decimal, Decimal]:
        """Cuts what a row tells off a roll: the metres that leave the books for the `taken_m` as bought, and those on
        the table that were lost at its flaws. What was found on it lies on what is left.
        """
        roll = self._on_table[pk]
        lost_m = lost_when_cut(lay, row.spreads, row.used_m, roll)
        self._on_table[pk] = roll.without(row.used_m).with_flaws(row.flaws)
        off_books_m = _off_roll_m(taken_m, self._left_m[pk])
        self._left_m[pk] -= off_books_m
        return off_books_m, lost_m

    def short(self) -> tuple[int, ...]:
        """Rolls (pk) the books have less than nothing of by now."""
        return tuple(pk for pk, left_m in self._left_m.items() if left_m < 0)


def note_taken(lay: Lay, cloth: LayCloth, metres: Decimal) -> None:
    """Notes with the batch's need of a cloth that so much of it left the stock; less than nothing came back."""
    needs = BatchNeed.objects.filter(batch=lay.batch, fabric_colour_id=cloth.fabric_colour_id)
    needs.update(taken=F("taken") + metres)


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
    note_taken(lay, cloth, taken_m)


def _write_flaws(roll: Roll, row: Told, taken_m: Decimal, fabric: Fabric) -> None:
    """Flaws are kept from the outer end of the roll, as bought; it has moved inwards by what was cut off."""
    move_flaws(roll, -taken_m)
    flaws = [[as_bought_m(metres, fabric) for metres in flaw] for flaw in row.flaws]
    RollFlaw.objects.bulk_create(
        RollFlaw(roll=roll, from_m=low, to_m=high, note=row.note[:FLAW_NOTE]) for low, high in flaws
    )
