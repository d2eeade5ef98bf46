"""Plies on printed tickets that are still to be bought: all of a lay and colour come from one shade lot.

So a roll that gives only some of them is not promised to them; but more of its lot is all that is missing, which is
said beside what another lot takes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from planner.core.lays.model import LENGTHS
from planner.core.needs import Needs
from planner.core.rolls import MoreOfLot, PliesShort, PliesWanted, RollThere, more_of_lots, what_to_buy
from planner.core.spec import Cloth, ClothKey, Workshop
from planner.core.units import Display, format_length
from planner.cutting.models import Batch, LayCloth, LayRoll, Marker
from planner.cutting.rolls_there import LOOSE, rolls_there
from planner.materials.specs import cloth_key

#: The plies of one colour in a lay (Lay pk) that are all still to be bought.
Short = dict[tuple[int, ClothKey], list[LayCloth]]


def short_of_one_lot(batch: Batch) -> Short:
    """Plies that are all still to be bought, of lays that are nested and not begun.

    Lays of a rest are not looked at: they have their own way.
    """
    begun = batch.lays.begun().values("pk")
    rows = LayCloth.objects.filter(
        lay__batch=batch,
        lay__rest_of=None,
        lay__marker__state__in=[Marker.State.READY, Marker.State.STOPPED],
        lay__marker__length_mm__isnull=False,
    )
    rows = rows.filter(rolls__isnull=False, rolls__roll=None).exclude(lay__in=begun).distinct()
    rows = rows.exclude(pk__in=LayRoll.objects.filter(roll__isnull=False).values("lay_cloth"))
    found: Short = defaultdict(list)
    for row in rows.select_related("lay__marker", "fabric_colour__fabric").order_by("lay__number", "pk"):
        found[row.lay_id, cloth_key(row.fabric_colour)].append(row)
    return found


def wanted_of_one_lot(lay: int, rows: Sequence[LayCloth]) -> PliesWanted:
    """Their spreads, each in one piece, all of one lot: bundles may have plies of several rows."""
    row = rows[0].lay
    each_mm = LENGTHS[row.mode] * ((row.marker.length_mm or 0.0) + 2 * row.end_allowance_mm)  # type: ignore[index]
    spreads = sum(one.spreads for one in rows)
    return PliesWanted(f"{lay}", each_mm, spreads, row.lay_width_mm, one_lot=True)


def lots_that_do(shop: Workshop, batches: Iterable[Batch], display: Display) -> dict[ClothKey, str]:
    """How much less than is to be bought would do of a lot that gives part of it, in words.

    Only of batches being cut: where nothing is cut all rolls are chosen anew, part of a lay or not.
    """
    said: dict[ClothKey, list[str]] = defaultdict(list)
    for batch in batches:
        if batch.state == Batch.State.CUTTING:
            for key, words in _lots_of(batch, shop, display).items():
                said[key] += words
    return {key: "; ".join(words) for key, words in said.items() if words}


def with_lots(needs: Needs, said: Mapping[ClothKey, str]) -> Needs:
    """The needs, with what :func:`lots_that_do` says beside what is to be bought."""
    return replace(
        needs,
        cloths=tuple(
            replace(need, how=f"{need.how}; {said[need.cloth]}")
            if need.to_buy_m > 0 and need.cloth in said
            else need
            for need in needs.cloths
        ),
    )


def _lots_of(batch: Batch, shop: Workshop, display: Display) -> Mapping[ClothKey, list[str]]:
    """What is said of each cloth of a batch being cut."""
    short = {place: rows for place, rows in short_of_one_lot(batch).items() if place[1] in shop.cloths}
    found: dict[ClothKey, list[str]] = defaultdict(list)
    if not short:
        return found
    # What the other lays of this batch are promised stays theirs.
    there = rolls_there(batch, {key for _, key in short}, shop, ())
    for key in sorted({key for _, key in short}):
        lays = {pk: rows for (pk, of), rows in short.items() if of == key}
        wanted = {f"{pk}": wanted_of_one_lot(pk, rows) for pk, rows in lays.items()}
        for more in more_of_lots(tuple(wanted.values()), _rolls(there.get(key, ()))):
            lay = lays[int(more.wanted)][0].lay
            in_pairs = LENGTHS[lay.mode] > 1  # type: ignore[index]
            words = lot_in_words(more, wanted[more.wanted], shop.cloths[key], display, in_pairs=in_pairs)
            if words:
                found[key].append(f"lay {lay.number} of {batch.number}: {words}")
    return found


def _rolls(there: Iterable[RollThere]) -> tuple[RollThere, ...]:
    return tuple(roll for roll in there if roll.key != LOOSE)


def lot_in_words(
    more: MoreOfLot, wanted: PliesWanted, cloth: Cloth, display: Display, *, in_pairs: bool = False
) -> str:
    """ "its 2 plies of 2.99 m must be of one shade lot, and lot B03 in stock gives 1; 3.1 m more of lot B03 would do,
    of another lot 6.2 m". "" where it cannot be bought so: a ply is longer than a roll.
    """
    try:
        less = what_to_buy([more.missing], cloth).buy.length_m
        full = what_to_buy([PliesShort(wanted.key, wanted.plies, wanted.ply_mm)], cloth).buy.length_m
    except ValueError:
        return ""
    told, whole, each = (
        format_length(mm, display, "cloth") for mm in (less * 1000, full * 1000, wanted.ply_mm)
    )
    plies = (
        f"{wanted.plies} pairs of plies, {each} a pair," if in_pairs else f"{wanted.plies} plies of {each}"
    )
    other = f", of another lot {whole}" if full > less else ""
    return (
        f"its {plies} must be of one shade lot, and lot {more.shade_lot} in stock gives {more.given}; "
        f"{told} more of lot {more.shade_lot} would do{other}"
    )
