"""Plies on printed tickets that are still to be bought: all of a lay and colour come from one shade lot.

So a roll that gives only some of them does not do. It is kept for them, and more of its lot is all that is missing,
which is said beside what another lot takes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from planner.core.needs import Needs
from planner.core.rolls import PliesShort, PliesWanted, what_to_buy
from planner.core.spec import Cloth, ClothKey, Workshop
from planner.core.units import Display, format_length
from planner.cutting.lot_units import LotUnit
from planner.cutting.wording import length_to_buy


@dataclass(frozen=True)
class MoreOfLot:
    """`given` of some plies are kept for them on `rolls` of one shade lot; with those `missing` of that lot all are."""

    shade_lot: str
    given: int
    missing: PliesShort
    rolls: tuple[str, ...]


def lots_that_do(shop: Workshop, kept: Iterable[LotUnit], display: Display) -> dict[ClothKey, str]:
    """How much less than is to be bought would do of a lot that gives part of it, in words; `kept` are the plies that
    a part is kept for. No query.

    Only of batches being cut: where nothing is cut all rolls are chosen anew, part of a lay or not.
    """
    said: dict[ClothKey, list[str]] = defaultdict(list)
    for unit in kept:
        if unit.cloth in shop.cloths:
            cloth = shop.cloths[unit.cloth]
            words = lot_in_words(more_of_lot(unit), unit.wanted, cloth, display)
            if words:
                said[unit.cloth].append(f"lay {unit.lay.number} of {unit.lay.batch.number}: {words}")
    return {key: "; ".join(words) for key, words in said.items()}


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


def more_of_lot(unit: LotUnit) -> MoreOfLot:
    """What the rolls kept for plies give of them, and what is missing of their lot."""
    rolls = [one.roll for one in unit.kept if one.roll is not None]
    given = sum(one.spreads for one in unit.kept)
    left = (unit.spreads - given) * unit.lengths
    missing = PliesShort(unit.key, left, unit.wanted.ply_mm, unit.lengths)
    return MoreOfLot(rolls[0].shade_lot, given, missing, tuple(dict.fromkeys(roll.number for roll in rolls)))


def lot_in_words(more: MoreOfLot, wanted: PliesWanted, cloth: Cloth, display: Display) -> str:
    """ "its 2 plies of 3.00 m must be of one shade lot, and R12 of lot B03, kept for them, gives 1; 3.1 m more of lot
    B03 would do, of another lot 6.2 m". "" where it cannot be bought so: a ply is longer than a roll.
    """
    each = wanted.plies_per_spread
    try:
        less = what_to_buy([more.missing], cloth).buy.length_m
        full = what_to_buy([PliesShort(wanted.key, wanted.plies, wanted.ply_mm, each)], cloth).buy.length_m
    except ValueError:
        return ""
    told, whole = length_to_buy(less, display), length_to_buy(full, display)
    told_mm = format_length(each * wanted.ply_mm, display, "spread", at_least=True)
    spreads = wanted.plies // each
    plies = f"{spreads} pairs of plies, {told_mm} a pair," if each > 1 else f"{spreads} plies of {told_mm}"
    other = f", of another lot {whole}" if full > less else ""
    kept = f"{' and '.join(more.rolls)} of lot {more.shade_lot}, kept for them, give{'s' * (len(more.rolls) == 1)}"
    return (
        f"its {plies} must be of one shade lot, and {kept} {more.given}; "
        f"{told} more of lot {more.shade_lot} would do{other}"
    )
