"""How lays that nobody has begun are best planned anew with the pieces of cloth there are now. Reads only."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal

from planner.core.lays.cut_plans import Lengths
from planner.core.lays.model import LENGTHS, PlannedLay
from planner.core.lays.plan import CannotPlan
from planner.core.lays.stored import marker_key
from planner.core.lays.wishes import Wishes
from planner.core.rolls import PliesShort, RollThere, longest_plies, what_to_buy
from planner.core.spec import ClothKey, Workshop
from planner.cutting.actions.dealing import LEAST_LESS_MM
from planner.cutting.actions.rest import Counts, asked_of, lays_for, only_of
from planner.cutting.actions.weighing import fits_nowhere, to_buy_in_words
from planner.cutting.cut_plans import decide, is_same, lengths_for, with_own
from planner.cutting.judged_plans import BETTER_MONEY, BETTER_SHARE, UNSURE_SHARE
from planner.cutting.models import Batch
from planner.cutting.other_cloth import why_unlike_cloth
from planner.cutting.rolls_there import rolls_there
from planner.cutting.short_cloth import bought_whole, short_plies
from planner.cutting.stored import StoredLay
from planner.cutting.too_long import NOISE_MM, most_mm

#: Of so many lengths of pieces in stock, the longest first, it is tried whether shorter lays fit them better.
MOST_PIECES = 3
#: Somebody waits for it (s).
SECONDS = 1.0
#: No difference in what is to be bought (m).
NOTHING_M = 0.005
#: Pieces of cloth are told apart to so much (mm).
GRAIN_MM = 10.0

#: Where the rolls there are for the lays would do better than they are given out.
OTHER_ROLLS = (
    "Less would have to be bought if the rolls were given out otherwise. Give the uncut lays other rolls"
)

#: What of each cloth is there, as it lies on the table.
There = Mapping[ClothKey, tuple[RollThere, ...]]


@dataclass(frozen=True)
class Anew:
    """The `lays` that replace others; or none, and why those stay. `to_buy` says what must then be bought."""

    lays: tuple[PlannedLay, ...] = ()
    to_buy: str = ""
    stays: str = ""


@dataclass(frozen=True)
class _Question:
    """Garments of one fabric to be laid, and with what: the workshop has no other pieces than theirs."""

    rest: Counts
    fabric: str
    shop: Workshop
    lengths: Lengths
    pieces: There

    def lays(self, rest: Counts, most_mm: float) -> tuple[PlannedLay, ...]:
        """Lays no longer than that. Raises CannotPlan."""
        return lays_for(rest, self.fabric, replace(self.shop, table_length_mm=most_mm), self.lengths)

    def short_of(self, lays: Sequence[PlannedLay]) -> dict[ClothKey, tuple[PliesShort, ...]]:
        """What of these fits on no piece there is."""
        return fits_nowhere(lays, self.pieces)

    def to_buy(self, lays: Sequence[PlannedLay]) -> tuple[float, Decimal]:
        """Metres that must be bought for these lays, and their price; infinite where a ply is longer than a roll."""
        metres, price = 0.0, Decimal(0)
        for key, plies in self.short_of(lays).items():
            try:
                buy = what_to_buy(plies, self.shop.cloths[key], seconds=SECONDS).buy
            except ValueError:
                return float("inf"), Decimal("inf")
            metres, price = metres + buy.length_m, price + (buy.cost or 0)
        return metres, price


@dataclass(frozen=True)
class _Comes:
    """What lays come to: the metres to buy for them with their price, and the price of all their cloth and work, None
    where they cannot be laid as things are now. Cloth without a price counts in these too.
    """

    bought_m: float
    price: Decimal
    cost: Decimal | None

    @property
    def sum(self) -> Decimal:
        """Cost of cloth and work, with what is to be bought counted twice: that is spent now, the rest lies there
        already.
        """
        return Decimal("inf") if self.cost is None else self.cost + self.price


def weigh_anew(batch: Batch, fabric: str, lays: Sequence[StoredLay], shop: Workshop) -> Anew:
    """Lays that replace these, where what must be bought, all cloth and the work then cost less.

    Raises CannotPlan where nothing can be planned as things are now.
    """
    there = tuple(_as_nested(lay) for lay in lays)
    asked = _question(batch, fabric, lays, _counts(there), shop)
    new = _best(asked)
    must_go = _too_long(there, shop) or any(why_unlike_cloth(lay, shop) for lay in there)
    if not is_same(new, there) and (must_go or _is_better(new, there, asked)):
        return Anew(new, to_buy_in_words(asked.short_of(new), asked.shop))
    stays = "The lays not begun stay as they are: planned anew with the cloth there is now they would not come cheaper"
    buy = to_buy_in_words(asked.short_of(there), asked.shop)
    if not buy:
        return Anew(stays=f"{stays}.")
    if asked.to_buy(there)[0] < _bought_now(lays, asked) - LEAST_LESS_MM / 1000:
        return Anew(stays=f"{stays}. {OTHER_ROLLS}: then {buy}.")
    return Anew(stays=f"{stays}; {buy}.")


def planned_for(
    batch: Batch, fabric: str, lays: Sequence[StoredLay], rest: Counts, shop: Workshop
) -> tuple[PlannedLay, ...]:
    """The best lays for the garments that these lays were to cut, less those that are no longer wanted. Raises
    CannotPlan.
    """
    return _best(_question(batch, fabric, lays, rest, shop))


def _question(
    batch: Batch, fabric: str, lays: Sequence[StoredLay], rest: Counts, shop: Workshop
) -> _Question:
    """What is asked of garments that are laid in these lays, with the pieces that are there for them."""
    keys = {key for lay in lays for key in lay.planned.cloths}
    pieces = rolls_there(batch, keys, shop, {cloth.pk for lay in lays for cloth in lay.row.cloths.all()})
    lengths = with_own(lengths_for([fabric], besides=batch.pk), lays, shop)
    return _Question(rest, fabric, only_of(fabric, rest, shop), lengths, pieces)


def _bought_now(lays: Iterable[StoredLay], asked: _Question) -> float:
    """What must be bought for lays with the rolls they are planned from (m)."""
    short = short_plies(lay.row for lay in lays)
    bought = (bought_whole(plies, asked.shop.cloths[key]) for key, plies in short.items())
    return sum(one.buy.length_m for one in bought if one is not None)


def _as_nested(lay: StoredLay) -> PlannedLay:
    """A lay with the nested length of its marker, or the estimated one while there is none."""
    length_mm = lay.row.marker.length_mm
    return lay.planned if length_mm is None else replace(lay.planned, estimated_length_mm=length_mm)


def _too_long(lays: Iterable[PlannedLay], shop: Workshop) -> bool:
    """Whether one of these does not fit the table as it is now, or is longer than a roll of its cloth gives."""
    return any(
        lay.estimated_length_mm + 2 * lay.end_allowance_mm > most_mm(lay.cloths, lay.mode, shop) + NOISE_MM
        for lay in lays
    )


def _counts(lays: Iterable[PlannedLay]) -> Counts:
    counts: Counts = Counter()
    for lay in lays:
        for key in lay.cloths:
            for garment, count in lay.cut_from(key).items():
                counts[garment, key] += count
    return counts


def _best(asked: _Question) -> tuple[PlannedLay, ...]:
    """The best plan among lays as long as the table and, where some of these fit on no piece in stock, lays no longer
    than one of the longest pieces there. The best costs least, with what is bought counted twice; as long as the cloth
    has no price, the least to buy comes first. Raises CannotPlan where even the table allows none.
    """
    table_mm = asked.shop.table_length_mm
    whole = asked.lays(asked.rest, table_mm)
    found = [whole]
    if asked.short_of(whole):
        for most_mm in _piece_lengths(asked.pieces, asked.shop, table_mm):
            with suppress(CannotPlan):
                within = asked.lays(asked.rest, most_mm)
                found.append(within)
                found.append(_others_longer(within, asked))
    if len(found) == 1:
        return whole
    comes = [_comes(lays, asked) for lays in found]
    is_priced = any(one.price for one in comes)
    order = [(0.0 if is_priced else round(one.bought_m, 2), one.sum) for one in comes]
    return found[order.index(min(order))]


def _piece_lengths(pieces: There, shop: Workshop, table_mm: float) -> list[float]:
    """The longest pieces without a flaw that are shorter than the table (mm), each length once; of cloth laid face to
    face also the longest plies of which one gives two."""
    lengths = {
        length_mm // GRAIN_MM * GRAIN_MM
        for key, rolls in pieces.items()
        for roll in rolls
        for each in {LENGTHS[mode] for mode in shop.cloths[key].modes}
        for length_mm in longest_plies(roll, each)
    }
    return sorted((one for one in lengths if 0 < one < table_mm), reverse=True)[:MOST_PIECES]


def _others_longer(within: Sequence[PlannedLay], asked: _Question) -> tuple[PlannedLay, ...]:
    """The plies of short lays that fit on pieces there are; what must be bought anyhow is laid as long as the table.

    Raises CannotPlan.
    """
    missing = {
        (int(one.wanted), key): one.plies for key, plies in asked.short_of(within).items() for one in plies
    }
    fit = []
    for n, lay in enumerate(within):
        plies = []
        for row in lay.plies:
            gone = min(row.spreads, missing.get((n, row.cloth), 0))
            missing[n, row.cloth] = missing.get((n, row.cloth), 0) - gone
            if row.spreads > gone:
                plies.append(replace(row, spreads=row.spreads - gone))
        if plies:
            fit.append(replace(lay, plies=tuple(plies)))
    left = asked.rest - _counts(fit)
    return (*fit, *(asked.lays(left, asked.shop.table_length_mm) if left else ()))


def _is_better(new: Sequence[PlannedLay], there: Sequence[PlannedLay], asked: _Question) -> bool:
    """Whether what is to be bought, cloth and work come to less. Where less is bought any saving will do, else it must
    be large enough to be worth the change. Lengths that are not nested are trusted less.
    """
    then, now = _comes(new, asked), _comes(there, asked)
    if then.cost is None or now.cost is None:
        return then.cost is not None  # what is there cannot be laid any more as things are now
    less_m = now.bought_m - then.bought_m
    if abs(less_m) > NOTHING_M and then.price == now.price:
        # Of cloth whose price nobody noted less is better, whatever the work costs.
        return less_m > 0
    if less_m > NOTHING_M:
        return then.sum < now.sum
    nested = all(marker_key(lay.job) in asked.lengths.nested for lay in new)
    share = Decimal(str(BETTER_SHARE if nested else UNSURE_SHARE))
    return then.sum < now.sum - max(BETTER_MONEY, now.cost * share)


def _comes(lays: Sequence[PlannedLay], asked: _Question) -> _Comes:
    return _Comes(*asked.to_buy(lays), _cost(lays, asked))


def _cost(lays: Sequence[PlannedLay], asked: _Question) -> Decimal | None:
    """What these lays come to in cloth and work; None where they cannot be laid as things are now."""
    cost = Decimal(0)
    # Whether they lie on the table was looked at before. Here an estimate that comes out a little otherwise, for it
    # goes by the other lays of the plan too, would speak against all of them.
    shop = replace(asked.shop, table_length_mm=2 * asked.shop.table_length_mm)
    try:
        for one in asked_of(asked.rest, asked.fabric, asked.shop):
            own = tuple(
                replace(lay, plies=tuple(p for p in lay.plies if p.cloth in one.cloths)) for lay in lays
            )
            wishes = {asked.fabric: Wishes(keep=tuple(lay for lay in own if lay.plies))}
            for plan in decide(
                one.demand,
                shop,
                wishes=wishes,
                lengths=asked.lengths,
                only=[asked.fabric],
                seconds=SECONDS,
            ):
                cost += plan.facts.best.weighs
    except CannotPlan:
        return None
    return cost
