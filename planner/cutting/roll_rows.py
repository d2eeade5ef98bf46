"""Rolls of spreads as rows: plies divided by shade lot, and put together again; rolls kept for plies to be bought."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from planner.core.spec import ClothKey
from planner.cutting.models import LayCloth, LayGarment, LayRoll
from planner.cutting.stored import StoredLay
from planner.materials.specs import cloth_key


@dataclass(frozen=True)
class Taken:
    """Spreads of one colour of a lay from one roll; `roll` is None where none has cloth, `is_loose` where the cloth is
    there but on no roll that is noted."""

    roll: int | None
    spreads: int
    shade_lot: str = ""
    is_loose: bool = False

    @property
    def is_short(self) -> bool:
        """Whether this has to be bought."""
        return self.roll is None and not self.is_loose

    @property
    def lot(self) -> tuple[bool, str]:
        """Plies that differ in this are not of one shade lot; what is bought will not be that of anything here."""
        return self.is_short, self.shade_lot


#: By lay and colour: the rolls from the bottom ply up.
Rolled = Mapping[tuple[int, ClothKey], tuple[Taken, ...]]


def write_rolls_of(lays: Sequence[StoredLay], rolled: Rolled) -> None:
    """Writes the rolls of some colours of lays. Bundles are not made anew, for their tickets are in use.

    Call it with the batch locked.
    """
    rows = {lay.row.pk: lay for lay in lays}
    for (pk, key), taken in rolled.items():
        own = cloths_of(rows[pk], key)
        LayRoll.objects.filter(lay_cloth__in=own).delete()
        write_taken(together(own), taken)


def cloths_of(lay: StoredLay, key: ClothKey) -> list[LayCloth]:
    """The plies of one colour of a lay."""
    return [cloth for cloth in lay.row.cloths.all() if cloth_key(cloth.fabric_colour) == key]


def together(cloths: Sequence[LayCloth]) -> list[LayCloth]:
    """Plies marked alike as one row again, where an earlier choice of rolls had divided them."""
    kept: dict[tuple[object, ...], LayCloth] = {}
    for cloth in cloths:
        held = tuple(
            (g.style_id, g.colourway_id, g.size_id, g.per_marker, _options(g)) for g in cloth.garments.all()
        )
        if held in kept:
            kept[held].spreads += cloth.spreads
            cloth.delete()
        else:
            kept[held] = cloth
    return list(kept.values())


def _options(held: LayGarment) -> tuple[int, ...]:
    return tuple(sorted(option.pk for option in held.options.all()))


def write_taken(cloths: Iterable[LayCloth], taken: Sequence[Taken], *, came_later: bool = False) -> None:
    """Gives plies their rolls from the bottom up; plies of another shade lot become a row of their own.

    `came_later`: bundles have these plies already, so they count as a lot of their own for good.
    """
    left = [replace(one) for one in taken]
    for cloth in cloths:
        wanted, row, lot = cloth.spreads, cloth, None
        cloth.spreads = 0
        position = 0
        while wanted and left:
            one = left[0]
            count = min(wanted, one.spreads)
            if lot is not None and one.lot != lot:
                row.save(update_fields=["spreads"])
                row, position = copy_plies(cloth), 0
            lot = one.lot
            row.spreads += count
            if not one.is_loose:
                LayRoll.objects.create(
                    lay_cloth=row, roll_id=one.roll, spreads=count, position=position, came_later=came_later
                )
            position += 1
            wanted -= count
            left = [replace(one, spreads=one.spreads - count), *left[1:]] if one.spreads > count else left[1:]
        row.spreads += wanted
        row.save(update_fields=["spreads"])


def write_to_buy(cloths: Sequence[LayCloth], kept: Sequence[Taken] = ()) -> None:
    """Plies that are all to be bought; of what is `kept` for them each row has its share, see `kept_rolls`."""
    left = list(kept)
    for cloth in cloths:
        LayRoll.objects.create(lay_cloth=cloth, roll=None, spreads=cloth.spreads)
        room, position = cloth.spreads, 1
        while room and left:
            one = left.pop(0)
            count = min(room, one.spreads)
            LayRoll.objects.create(lay_cloth=cloth, roll_id=one.roll, spreads=count, position=position)
            room, position = room - count, position + 1
            if one.spreads > count:
                left.insert(0, replace(one, spreads=one.spreads - count))


def copy_plies(cloth: LayCloth) -> LayCloth:
    """Plies marked alike, none of them spread yet."""
    other = LayCloth.objects.create(lay_id=cloth.lay_id, fabric_colour_id=cloth.fabric_colour_id, spreads=0)
    for held in cloth.garments.all():
        options = list(held.options.all())
        copy = LayGarment.objects.create(
            lay_cloth=other, style_id=held.style_id, colourway_id=held.colourway_id, size_id=held.size_id,
            per_marker=held.per_marker,
        )  # fmt: skip
        copy.options.set(options)
    return other
