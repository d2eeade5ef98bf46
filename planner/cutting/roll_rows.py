"""Rolls of spreads as rows: plies divided by shade lot, and put together again; rolls kept for plies to be bought."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from planner.core.lays.model import PlannedLay, Plies
from planner.core.spec import ClothKey
from planner.cutting.bundling import TO_BUY
from planner.cutting.models import LayCloth, LayGarment, LayRoll
from planner.cutting.stored import StoredLay, slots_of
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

#: So many rows get other spreads in one statement.
SPREADS_AT_ONCE = 200


@dataclass(frozen=True)
class PliesDealt:
    """A row of plies as it is to be, `like` the one that is there or, if `is_copy`, a new one that holds the same.

    `rolls` from the bottom up: position, roll (pk, None where it is to be bought), spreads. Loose cloth has a position,
    but is not among them.
    """

    like: LayCloth
    spreads: int
    rolls: tuple[tuple[int, int | None, int], ...] = ()
    lot: tuple[bool, str] = (False, "")
    is_copy: bool = False


@dataclass(frozen=True)
class RowsDealt:
    """All plies of some lays as they are to be, and the rows whose plies are in others then. Nothing is written yet."""

    plies: tuple[PliesDealt, ...]
    gone: tuple[LayCloth, ...]


def rows_dealt(lays: Sequence[StoredLay], rolled: Rolled) -> RowsDealt:
    """What becomes of the plies of lays with these rolls. Reckons only; the lays were read with all they hold."""
    rows = {lay.row.pk: lay for lay in lays}
    plies: list[PliesDealt] = []
    gone: list[LayCloth] = []
    for (pk, key), taken in rolled.items():
        own = together(cloths_of(rows[pk], key))
        plies += deal_out([(alike[0], sum(cloth.spreads for cloth in alike)) for alike in own], taken)
        gone += (cloth for alike in own for cloth in alike[1:])
    return RowsDealt(tuple(plies), tuple(gone))


def as_dealt(lays: Sequence[StoredLay], dealt: RowsDealt) -> tuple[list[PlannedLay], dict[int, list[str]]]:
    """The lays with their plies as they are to be, and the shade lot of each of these plies by the lay's number, as
    `bundling.lots_of` reads it once all is written. Reckons only.
    """
    of_lay: dict[int, list[PliesDealt]] = defaultdict(list)
    for one in dealt.plies:
        of_lay[one.like.lay_id].append(one)
    known = {one.like.pk for one in dealt.plies} | {cloth.pk for cloth in dealt.gone}
    planned, lots = [], {}
    for lay in lays:
        own = of_lay[lay.row.pk]
        others = [PliesDealt(c, c.spreads) for c in lay.row.cloths.all() if c.pk not in known]
        there = sorted((*others, *(o for o in own if not o.is_copy)), key=lambda one: one.like.pk)
        rows = [*there, *(one for one in own if one.is_copy)]
        spread = [one for one in rows if one.spreads]
        plies = tuple(
            Plies(cloth_key(one.like.fabric_colour), one.spreads, slots_of(one.like))
            for one in spread or rows
        )
        planned.append(replace(lay.planned, plies=plies))
        lots[lay.row.number] = [_lot_of(one) for one in spread]
    return planned, lots


def _lot_of(one: PliesDealt) -> str:
    is_short, shade_lot = one.lot
    return TO_BUY if is_short else shade_lot


def write_rows(dealt: RowsDealt) -> None:
    """Writes plies with their rolls, which have none any more, in as many queries however many they are.

    Bundles are not made anew, for their tickets may be in use. Call it with the batch locked.
    """
    if dealt.gone:
        LayCloth.objects.filter(pk__in=[cloth.pk for cloth in dealt.gone]).delete()
    _write_plies(dealt.plies)


def cloths_of(lay: StoredLay, key: ClothKey) -> list[LayCloth]:
    """The plies of one colour of a lay."""
    return [cloth for cloth in lay.row.cloths.all() if cloth_key(cloth.fabric_colour) == key]


def together(cloths: Sequence[LayCloth]) -> list[list[LayCloth]]:
    """Plies marked alike, which an earlier choice of rolls may have divided into several rows."""
    alike: dict[tuple[object, ...], list[LayCloth]] = {}
    for cloth in cloths:
        held = tuple(
            (g.style_id, g.colourway_id, g.size_id, g.per_marker, _options(g)) for g in cloth.garments.all()
        )
        alike.setdefault(held, []).append(cloth)
    return list(alike.values())


def _options(held: LayGarment) -> tuple[int, ...]:
    return tuple(sorted(option.pk for option in held.options.all()))


def deal_out(cloths: Iterable[tuple[LayCloth, int]], taken: Sequence[Taken]) -> list[PliesDealt]:
    """Plies (rows, with the spreads of each) and their rolls from the bottom up; nothing is written.

    Plies of another shade lot become a row of their own.
    """
    left = list(taken)
    dealt = []
    for cloth, spreads in cloths:
        wanted, row = spreads, PliesDealt(cloth, 0)
        position = 0
        while wanted and left:
            one = left.pop(0)
            count = min(wanted, one.spreads)
            if row.spreads and one.lot != row.lot:
                dealt.append(row)
                row, position = PliesDealt(cloth, 0, is_copy=True), 0
            rolls = row.rolls if one.is_loose else (*row.rolls, (position, one.roll, count))
            row = replace(row, spreads=row.spreads + count, rolls=rolls, lot=one.lot)
            position += 1
            wanted -= count
            if one.spreads > count:
                left.insert(0, replace(one, spreads=one.spreads - count))
        dealt.append(replace(row, spreads=row.spreads + wanted))
    return dealt


def write_taken(cloths: Iterable[LayCloth], taken: Sequence[Taken], *, came_later: bool = False) -> None:
    """Gives plies their rolls from the bottom up; plies of another shade lot become a row of their own.

    `came_later`: bundles have these plies already, so they count as a lot of their own for good.
    """
    _write_plies(deal_out([(cloth, cloth.spreads) for cloth in cloths], taken), came_later=came_later)


def _write_plies(dealt: Sequence[PliesDealt], *, came_later: bool = False) -> None:
    others = [one for one in dealt if not one.is_copy and one.like.spreads != one.spreads]
    for one in others:
        one.like.spreads = one.spreads
    LayCloth.objects.bulk_update([one.like for one in others], ["spreads"], batch_size=SPREADS_AT_ONCE)
    copies = iter(copies_of([(one.like, one.spreads) for one in dealt if one.is_copy]))
    LayRoll.objects.bulk_create(
        LayRoll(lay_cloth=row, roll_id=roll, spreads=spreads, position=position, came_later=came_later)
        for row, rolls in [(next(copies) if one.is_copy else one.like, one.rolls) for one in dealt]
        for position, roll, spreads in rolls
    )


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


def plies_apart(row: LayCloth, spreads: int) -> LayCloth:
    """Makes the uppermost spreads of a row plies of their own, with no roll yet, that lie where they lay: what lies
    above them keeps its numbers. `row` keeps what was told and the rolls of the others. Of several rows of a lay begin
    with the uppermost: rows above are other plies afterwards.
    """
    row.spreads -= spreads
    row.save(update_fields=["spreads"])
    room = row.spreads
    for one in row.rolls.all():
        if room <= 0:
            one.delete()
        elif one.spreads > room:
            one.spreads = room
            one.save(update_fields=["spreads"])
        room -= one.spreads
    part = copies_of([(row, spreads)])[0]
    # Plies lie in the order of their rows, so each row above takes the place of the one that lay above it.
    for upper in row.lay.cloths.filter(pk__gt=row.pk, pk__lt=part.pk).order_by("-pk"):
        _change_places(upper, part)
        part = upper
    return LayCloth.objects.select_related("lay", "fabric_colour__fabric").get(pk=part.pk)


def _change_places(one: LayCloth, other: LayCloth) -> None:
    """Gives each of two rows what the other is, with all that is held, planned and told of it."""
    for related in ("garments", "rolls", "facts"):
        held = [list(getattr(row, related).values_list("pk", flat=True)) for row in (one, other)]
        for pks, row in zip(held, (other, one), strict=True):
            getattr(row, related).model.objects.filter(pk__in=pks).update(lay_cloth=row)
    names = ("fabric_colour_id", "spreads", "cut_spreads", "used_m")
    for name in names:
        mine, its = getattr(one, name), getattr(other, name)
        setattr(one, name, its)
        setattr(other, name, mine)
    for row in (one, other):
        row.save(update_fields=names)


def copies_of(plies: Sequence[tuple[LayCloth, int]]) -> list[LayCloth]:
    """Plies marked like these, so many of each, as rows of their own."""
    if not plies:
        return []
    copies = LayCloth.objects.bulk_create(
        LayCloth(lay_id=cloth.lay_id, fabric_colour_id=cloth.fabric_colour_id, spreads=spreads)
        for cloth, spreads in plies
    )
    held = [
        (copy, one) for copy, (cloth, _) in zip(copies, plies, strict=True) for one in cloth.garments.all()
    ]
    garments = LayGarment.objects.bulk_create(
        LayGarment(
            lay_cloth=copy, style_id=one.style_id, colourway_id=one.colourway_id, size_id=one.size_id,
            per_marker=one.per_marker,
        )
        for copy, one in held
    )  # fmt: skip
    chosen = LayGarment.options.through
    chosen.objects.bulk_create(
        chosen(laygarment=garment, option=option)
        for garment, (_, one) in zip(garments, held, strict=True)
        for option in one.options.all()
    )
    return copies
