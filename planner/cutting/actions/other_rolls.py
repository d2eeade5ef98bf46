"""Other rolls for lays not begun while their batch is being cut: what is cut or begun keeps what it has."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction

from planner.core.spec import Workshop
from planner.cutting.actions.dealing import LEAST_LESS_MM, Dealt, deal, gets_others, write_dealt
from planner.cutting.actions.laying import lock
from planner.cutting.actions.planning import colours_of, refresh_needs
from planner.cutting.actions.rolling import ask_others_again, lock_cloths
from planner.cutting.arrivals import cloth_is_free
from planner.cutting.demand import batch_demand
from planner.cutting.lot_units import LotUnit, uncut_units
from planner.cutting.lots import bundles_apart, give_lots
from planner.cutting.models import Batch, Lay
from planner.cutting.plies_dealt import Thought
from planner.cutting.stored import shop_of
from planner.materials.promised import over_promised


@dataclass(frozen=True)
class OtherRolls:
    """What came of it. With a problem nothing was changed.

    `lays` (their numbers) have other rolls now, `lost` none any more for plies that had; `short` are lays with so many
    spreads that fit on nothing in stock, and the way these are spread.
    """

    lays: tuple[int, ...] = ()
    lost: tuple[int, ...] = ()
    short: tuple[tuple[int, int, str], ...] = ()
    problem: str = ""


def give_other_rolls(batch: Batch) -> OtherRolls:
    """Assigns rolls anew for lays not begun of a batch that is being cut, where they need it: cloth is still to be
    bought for them, or their roll has not enough for all that count on it.

    Lays whose rolls have enough keep them, unless less cloth is short when all are assigned anew: two lays may exchange
    what they have, so that the shorter one is bought for. Bundles stay as they are, so plies of one shade lot stay so.
    """
    if problem := _problem(batch):
        return OtherRolls(problem=problem)
    shop = shop_of(batch, batch_demand(batch))
    # Thinking may take seconds, so it is done before anything is locked, and only done again where it must be.
    thought: Thought = {}
    _choose(batch, uncut_units(batch), shop, thought)
    with transaction.atomic():
        batch = lock(batch)
        if problem := _problem(batch):
            return OtherRolls(problem=problem)
        lock_cloths(unit.cloth for unit in uncut_units(batch))
        # Lots that become the same may be shared out to bundles unlike before; then a colour of a lay is of one lot.
        done = _give(batch, shop, thought, by_colour=False) or _give(batch, shop, thought, by_colour=True)
        assert done is not None
        refresh_needs(batch)
        cloth_is_free(colours_of(batch), besides=batch.pk)
    return done


def _problem(batch: Batch) -> str:
    if batch.state != Batch.State.CUTTING:
        return "Nothing of this batch is being cut; nothing was changed."
    if not uncut_units(batch):
        return "No lay is left that is not begun; nothing was changed."
    return ""


def _choose(
    batch: Batch, units: Sequence[LotUnit], shop: Workshop, thought: Thought
) -> tuple[Sequence[LotUnit], Dealt]:
    """Which plies get rolls anew, and which rolls these are: those that need it, or all where then less cloth is short:
    fewer plies, or shorter ones."""
    needy = _needy(units)
    if not needy:
        return (), Dealt()
    few = deal(batch, needy, shop, thought)
    if not few.short_of(needy) or len(needy) == len(units):
        return needy, few
    every = deal(batch, units, shop, thought)
    less_mm = few.short_mm(needy) - every.short_mm(units)
    is_less = less_mm >= LEAST_LESS_MM or (less_mm > 0 and every.short_of(units) < few.short_of(needy))
    return (units, every) if is_less else (needy, few)


def _needy(units: Iterable[LotUnit]) -> list[LotUnit]:
    """Plies that are to be bought, or whose roll has less left than is counted on."""
    units = list(units)
    promised = {one.roll_id for unit in units for one in (*unit.rolls, *unit.kept) if one.roll_id is not None}
    # By pk, for numbers are kept apart within a cloth only.
    lacking = {one.pk for one in over_promised(promised)}
    return [unit for unit in units if unit.to_buy or any(one.roll_id in lacking for one in unit.rolls)]


def _give(batch: Batch, shop: Workshop, thought: Thought, *, by_colour: bool) -> OtherRolls | None:
    """Gives the rolls; None, and nothing is changed, where bundles would then be of several shade lots.

    Call it with the batch locked.
    """
    units = uncut_units(batch, by_colour=by_colour)
    chosen, dealt = _choose(batch, units, shop, thought)
    divided = {unit.lay.pk: unit.lay for unit in chosen if not unit.is_alone}
    given = {unit.lay.number for unit in chosen if gets_others(unit, dealt)}
    lost = {unit.lay.number for unit in chosen if _loses_some(unit, dealt)}
    with transaction.atomic():
        before = _apart(divided.values())
        changed = write_dealt(chosen, dealt)
        for lay in changed:
            give_lots(lay, shop)
        if _apart(divided.values()) > before:
            transaction.set_rollback(True)
            return None
        ask_others_again(batch, dealt.rolls, shop)
    short: Counter[tuple[int, str]] = Counter()
    for unit in chosen:
        if unit.key not in dealt.whole:
            short[unit.lay.number, unit.lay.way] += unit.spreads
    told = tuple((number, spreads, way) for (number, way), spreads in sorted(short.items()))
    return OtherRolls(tuple(sorted(given)), tuple(sorted(lost)), told)


def _loses_some(unit: LotUnit, dealt: Dealt) -> bool:
    """Whether fewer of these plies have cloth now than before, with what is kept for them."""
    if unit.key in dealt.whole:
        return False
    kept = sum(one.spreads for one in dealt.kept.get(unit.key, ()))
    return not unit.to_buy or kept < unit.spreads - unit.on_no_roll


def _apart(lays: Iterable[Lay]) -> int:
    """How many bundles with plies of these lays are of several shade lots."""
    return sum(len(bundles_apart(lay)) for lay in lays)
