"""Plies onto rolls: which lay is spread from which roll or end in stock, and what no roll has cloth for.

A bundle never mixes shade lots, so plies of a lay that come from several lots become plies of their own.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db import transaction
from django.db.models import Q

from planner.core.cloth import shrunk
from planner.core.lays.model import LENGTHS
from planner.core.rolls import PliesWanted, RollQuestion, RollThere, assign_plies
from planner.core.spec import Cloth, ClothKey, Workshop
from planner.cutting.actions.laying import lock
from planner.cutting.bundling import write_bundles
from planner.cutting.demand import batch_demand
from planner.cutting.models import Batch, BatchNeed, LayRoll
from planner.cutting.roll_rows import Rolled, Taken, key_of, together, write_taken
from planner.cutting.stored import StoredLay, shop_of, stored_lay
from planner.materials.models import FabricColour, Roll, Workroom
from planner.materials.rolls import dues_of

#: Time for all plies of one colour (s).
SECONDS = 4.0
#: Stands for stock that is not noted on any roll.
LOOSE = "loose"
#: So short a rest of a roll is nothing (mm).
NOTHING_MM = 1.0


@dataclass(frozen=True)
class RollsAssigned:
    """What came of it: spreads that no roll has cloth for, and whether bundles were made anew."""

    short: int
    bundles_changed: bool
    problem: str = ""


def assign(batch: Batch, lays: Sequence[StoredLay], shop: Workshop, *, beside: bool = False) -> Rolled:
    """Which roll every spread of these lays comes from, colour by colour. Reckons only; nothing is written.

    They are all the lays of the batch, or stand `beside` others, which then keep what rolls are to give them; of those
    each takes a colour from a single shade lot.
    """
    by_cloth: dict[ClothKey, list[StoredLay]] = defaultdict(list)
    for lay in sorted(lays, key=lambda one: one.row.number):
        for key in lay.planned.cloths:
            by_cloth[key].append(lay)
    keep_mm = float(Workroom.the().keep_remnant_m) * 1000
    rolled: dict[tuple[int, ClothKey], tuple[Taken, ...]] = {}
    there = rolls_there(batch, set(by_cloth), shop, [lay.row.pk for lay in lays] if beside else None)
    for key, own in by_cloth.items():
        rolled |= _of_colour(own, key, there.get(key, ()), keep_mm, one_lot=beside)
    return rolled


def _of_colour(
    lays: Sequence[StoredLay],
    key: ClothKey,
    rolls: tuple[RollThere, ...],
    keep_mm: float,
    *,
    one_lot: bool = False,
) -> dict[tuple[int, ClothKey], tuple[Taken, ...]]:
    """The rolls of one colour's spreads in these lays.

    Both plies of a spread face to face come from one roll, one after the other or either side of a flaw: so it is told
    and recorded at the table. Where the best choice would divide such a spread between two rolls, it is asked again
    with the pair as one length that must lie in one piece.
    """
    nested = [lay for lay in lays if lay.row.marker.length_mm is not None]
    for in_one_piece in (False, True):
        wanted = tuple(
            replace(_wanted(lay, key, in_one_piece=in_one_piece), one_lot=one_lot) for lay in nested
        )
        answer = assign_plies(RollQuestion(wanted, rolls, keep_mm), seconds=SECONDS)
        each = {one.key: one.plies_per_spread for one in wanted}
        plies: dict[tuple[str, str, str], int] = defaultdict(int)
        for cut in answer.cuts:
            plies[cut.wanted, cut.shade_lot, cut.roll] += cut.plies
        if all(count % each[name] == 0 for (name, _, _), count in plies.items()):
            break
    short = {one.wanted: one.plies // each[one.wanted] for one in answer.short if one.plies}
    spreads = {place: count // each[place[0]] for place, count in plies.items()}
    return {(lay.row.pk, key): _taken(f"{lay.row.pk}", spreads, short) for lay in lays}


def _wanted(lay: StoredLay, key: ClothKey, *, in_one_piece: bool) -> PliesWanted:
    """The spreads of one colour as plies, or each in one piece."""
    marker_mm = lay.row.marker.length_mm or 0.0
    spreads, each = lay.planned.spreads_of(key), LENGTHS[lay.planned.mode]
    ply_mm = marker_mm + 2 * lay.row.end_allowance_mm
    if in_one_piece:
        return PliesWanted(f"{lay.row.pk}", each * ply_mm, spreads, lay.row.lay_width_mm)
    return PliesWanted(f"{lay.row.pk}", ply_mm, each * spreads, lay.row.lay_width_mm, plies_per_spread=each)


def _taken(
    name: str, spreads: Mapping[tuple[str, str, str], int], short: Mapping[str, int]
) -> tuple[Taken, ...]:
    """The rolls of a lay by its name; `spreads` by name, shade lot and roll."""
    own = [(lot, roll, count) for (lay, lot, roll), count in spreads.items() if lay == name]
    # Plies of one shade lot lie together, whichever rolls they come from.
    taken = [
        Taken(None if roll == LOOSE else int(roll), count, lot, is_loose=roll == LOOSE)
        for lot, roll, count in sorted(own, key=lambda one: one[0])
    ]
    return (*taken, Taken(None, short[name])) if name in short else tuple(taken)


def rolls_there(
    batch: Batch, keys: set[ClothKey], shop: Workshop, but: Collection[int] | None = None
) -> dict[ClothKey, tuple[RollThere, ...]]:
    """Rolls and ends by cloth as they lie on the table, less what batches planned earlier are to take of them."""
    rows = (
        Roll.objects.not_used_up()
        .with_begun()
        .select_related("fabric_colour__fabric")
        .prefetch_related("flaws")
    )
    rows = rows.filter(fabric_colour__fabric__name__in={key.fabric for key in keys})
    promised = promised_mm(batch, but)
    found: dict[ClothKey, list[RollThere]] = defaultdict(list)
    on_rolls: dict[ClothKey, float] = defaultdict(float)
    for row in rows:
        key = ClothKey(row.fabric_colour.fabric.name, row.fabric_colour.name)
        if key not in keys:
            continue
        cloth = shop.cloths[key]
        length_mm = as_laid(float(row.left_m) * 1000, cloth)
        on_rolls[key] += length_mm
        gone = promised.get(row.pk, 0.0)
        flaws = tuple(
            (as_laid(float(f.from_m) * 1000, cloth) - gone, as_laid(float(f.to_m) * 1000, cloth) - gone)
            for f in row.flaws.all()
        )
        if length_mm - gone > NOTHING_MM:
            there = RollThere(
                f"{row.pk}", length_mm - gone, row.shade_lot, _usable_mm(row, cloth),
                tuple((max(a, 0.0), b) for a, b in flaws if b > 0), is_end=row.is_begun or gone > 0,
            )  # fmt: skip
            found[key].append(there)
    loose = _loose_mm(batch, keys, shop, on_rolls, promised)
    for key, (free_mm, unassigned_mm) in loose.items():
        if free_mm > NOTHING_MM:
            found[key].append(RollThere(LOOSE, free_mm, is_end=True))
        found[key] = _less(found[key], unassigned_mm)
    return {key: tuple(rolls) for key, rolls in found.items()}


def as_laid(length_mm: float, cloth: Cloth) -> float:
    """A length of cloth as bought, as it lies on the table: shorter where it is washed first."""
    washed = cloth.shrinkage_handling == "wash_first"
    return shrunk(length_mm, max(cloth.shrinkage_length, 0.0)) if washed else length_mm


def promised_mm(batch: Batch, but: Collection[int] | None = None) -> dict[int, float]:
    """Cloth on the table that lays of batches planned earlier are still to take of each roll (mm).

    With `but` also what those of this batch are, but for these lays.
    """
    rows = LayRoll.objects.filter(
        roll__isnull=False,
        lay_cloth__lay__batch__in=Batch.objects.planned_not_cut().order_by(),
    )
    earlier = Q(lay_cloth__lay__batch_id__lt=batch.pk)
    own = Q(lay_cloth__lay__batch=batch) & ~Q(lay_cloth__lay__in=but or ())
    rows = rows.filter(earlier if but is None else earlier | own)
    found: dict[int, float] = defaultdict(float)
    for due in dues_of(rows):
        found[due.roll] += due.length_mm
    return found


def _usable_mm(row: Roll, cloth: Cloth) -> float | None:
    """The usable width of a roll as it lies on the table, None where it is as wide as its cloth."""
    if row.full_width_mm is None:
        return None
    usable = float(row.full_width_mm - 2 * row.fabric_colour.fabric.selvedge_mm)
    return shrunk(usable, cloth.shrinkage_width) if cloth.shrinkage_handling == "wash_first" else usable


def _loose_mm(
    batch: Batch,
    keys: set[ClothKey],
    shop: Workshop,
    on_rolls: Mapping[ClothKey, float],
    promised: Mapping[int, float],
) -> dict[ClothKey, tuple[float, float]]:
    """Cloth on no roll that is noted, and what earlier batches still take without a promise from a roll (mm)."""
    colours = {
        ClothKey(row.fabric.name, row.name): row
        for row in FabricColour.objects.with_stock().filter(fabric__name__in={key.fabric for key in keys})
    }
    earlier = BatchNeed.objects.with_rest().filter(
        batch__in=Batch.objects.planned_not_cut().order_by(),
        batch_id__lt=batch.pk,
        fabric_colour__isnull=False,
    )
    spoken: dict[int, float] = defaultdict(float)
    for pk, rest in earlier.order_by().values_list("fabric_colour_id", "rest"):
        spoken[pk] += rest * 1000
    of_colour: dict[int, float] = defaultdict(float)
    for pk, colour in Roll.objects.filter(pk__in=list(promised)).values_list("pk", "fabric_colour_id"):
        of_colour[colour] += promised[pk]
    found = {}
    for key in keys & set(colours):
        row = colours[key]
        there = as_laid(float(row.on_hand_m) * 1000, shop.cloths[key]) - on_rolls.get(key, 0.0)
        wanted = max(0.0, as_laid(spoken[row.pk], shop.cloths[key]) - of_colour[row.pk])
        found[key] = max(0.0, there - wanted), max(0.0, wanted - max(0.0, there))
    return found


def _less(rolls: list[RollThere], length_mm: float) -> list[RollThere]:
    """The rolls without what others will take of them, nobody knows from which: of the longest."""
    left = sorted(rolls, key=lambda roll: -roll.length_mm)
    found = []
    for roll in left:
        gone = min(length_mm, roll.length_mm)
        length_mm -= gone
        if roll.length_mm - gone > NOTHING_MM:
            found.append(replace(roll, length_mm=roll.length_mm - gone))
    return found


def write_rolls(batch: Batch, rolled: Rolled, shop: Workshop) -> bool:
    """Writes rolls and shade lots of all lays, and the bundles after them; whether those were made anew.

    Call it with the batch locked.
    """
    lays = {row.pk: row for row in batch.lays.with_everything()}
    LayRoll.objects.filter(lay_cloth__lay__batch=batch).delete()
    for (pk, key), taken in rolled.items():
        if pk not in lays:
            continue
        own = [c for c in lays[pk].cloths.all() if key_of(c) == key]
        write_taken(together(own), taken)
    stored = [stored_lay(row) for row in batch.lays.with_everything()]
    return write_bundles(
        batch, batch_demand(batch), shop, [one.planned for one in stored], [one.row for one in stored]
    )


def assign_rolls(batch: Batch) -> RollsAssigned:
    """Chooses the rolls again for the stock there is now. Refused once something is cut, or before all is nested."""
    from planner.cutting.actions.planning import refresh_needs
    from planner.cutting.actions.settling import stamp_of

    demand = batch_demand(batch)
    if batch.lays.begun().exists():
        return RollsAssigned(
            0, bundles_changed=False, problem="Part of it is cut; its rolls stay as they are."
        )
    shop = shop_of(batch, demand)
    stamp = stamp_of(batch)
    lays = [stored_lay(row) for row in batch.lays.with_everything()]
    settled = not batch.cut_plans.exclude(state="settled").exists()
    if not lays or not settled or not all(lay.row.marker.is_final for lay in lays):
        return RollsAssigned(0, bundles_changed=False, problem="Its lays are not all nested yet.")
    rolled = assign(batch, lays, shop)
    with transaction.atomic():
        batch = lock(batch)
        if stamp_of(batch) != stamp:
            return RollsAssigned(
                0, bundles_changed=False, problem="The plan was changed meanwhile. Ask again."
            )
        changed = write_rolls(batch, rolled, shop)
        refresh_needs(batch)
    short = sum(one.spreads for taken in rolled.values() for one in taken if one.is_short)
    return RollsAssigned(short, changed)
