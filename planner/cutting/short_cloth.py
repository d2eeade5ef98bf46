"""What the rolls and ends in stock do not give although there are metres enough: plies are never spliced."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache

from planner.core.lays.model import LENGTHS
from planner.core.listed import listed
from planner.core.needs import ClothNeed, Needs
from planner.core.rolls import PliesShort, RollsToBuy, what_to_buy
from planner.core.spec import Cloth, ClothKey, Workshop
from planner.core.units import Display, format_length
from planner.cutting.models import Batch, Lay
from planner.cutting.wording import ODD_PLY, count_of_plies
from planner.materials.promised import StillPromised
from planner.materials.specs import cloth_key

#: Time for the number of rolls to buy where plies are of several lengths (s).
SECONDS = 1.0


def short_plies(lays: Iterable[Lay]) -> dict[ClothKey, tuple[PliesShort, ...]]:
    """Plies still to be cut of lays nested once at least for which no roll has cloth (lays read by `lays_of`)."""
    found: dict[ClothKey, list[PliesShort]] = defaultdict(list)
    for lay in lays:
        if lay.cut_at is not None or lay.marker.length_mm is None or not lay.marker.is_laid:
            continue
        ply_mm = lay.marker.length_mm + 2 * lay.end_allowance_mm
        each = LENGTHS[lay.mode]  # type: ignore[index]
        for cloth in lay.cloths.all():
            to_buy = sum(roll.spreads for roll in cloth.rolls.all() if roll.roll_id is None)
            # What was cut of them came from cloth that was there after all.
            if missing := min(to_buy, max(cloth.spreads - (cloth.cut_spreads or 0), 0)):
                key = cloth_key(cloth.fabric_colour)
                found[key].append(PliesShort(f"lay {lay.number}", missing * each, ply_mm, each))
    return {key: tuple(plies) for key, plies in found.items()}


def short_of_all(
    promised: StillPromised | None = None, *, before: Batch | None = None
) -> dict[ClothKey, tuple[PliesShort, ...]]:
    """The same of all batches in work, or of those planned `before` this one, in one query; none where what is
    `promised` was read already.
    """
    found: dict[ClothKey, list[PliesShort]] = defaultdict(list)
    for one in (promised or StillPromised()).to_buy_for():
        if before is not None and one.batch_pk >= before.pk:
            continue
        each = LENGTHS[one.mode]  # type: ignore[index]
        short = PliesShort(f"{one.pk}", one.spreads * each, one.length_mm + 2 * one.end_mm, each)
        found[ClothKey(one.fabric, one.colour)].append(short)
    return {key: tuple(plies) for key, plies in found.items()}


def with_short(
    needs: Needs, shop: Workshop, short: Mapping[ClothKey, tuple[PliesShort, ...]], display: Display
) -> Needs:
    """The needs with at least as much to buy as the plies take that fit on nothing in stock."""
    if not short:
        return needs
    return replace(
        needs,
        cloths=tuple(
            _with(need, shop.cloths[need.cloth], short.get(need.cloth), display) for need in needs.cloths
        ),
    )


def _with(need: ClothNeed, cloth: Cloth, short: tuple[PliesShort, ...] | None, display: Display) -> ClothNeed:
    bought = bought_whole(short, cloth) if short else None
    if not short or bought is None or bought.buy.length_m <= need.to_buy_m + 1e-9:
        return need
    return replace(
        need,
        to_buy_m=bought.buy.length_m,
        to_buy_packs=Decimal(bought.buy.sold),
        cost=bought.buy.cost,
        how=f"{need.how}; {in_words(short, display)}",
        short_m=bought.need_m,
    )


def bought_whole(short: tuple[PliesShort, ...], cloth: Cloth) -> RollsToBuy | None:
    """What to buy so that all of these plies are cut whole; None where one is longer than a roll."""
    return _to_buy(short, replace(cloth, swatch="", in_stock_m=0.0, coming_m=0.0))


@lru_cache(maxsize=256)
def _to_buy(short: tuple[PliesShort, ...], cloth: Cloth) -> RollsToBuy | None:
    """None where a ply is longer than a roll: then more of it does not help either."""
    try:
        return what_to_buy(short, cloth, seconds=SECONDS)
    except ValueError:
        return None


def in_words(short: Iterable[PliesShort], display: Display) -> str:
    """ "3 plies of 2.41 m and 1 ply of 1.1 m do not fit on what is free in stock"; why not, where they lie in pairs."""
    short = list(short)
    counts: dict[str, int] = defaultdict(int)
    for item in short:
        counts[format_length(item.ply_mm, display, "spread", at_least=True)] += item.plies
    parts = [f"{count_of_plies(n)} of {length}" for length, n in counts.items()]
    together = listed(parts)
    verb = "does" if sum(counts.values()) == 1 else "do"
    pairs = f" ({ODD_PLY})" if any(item.plies_per_spread > 1 for item in short) else ""
    return f"{together} {verb} not fit on what is free in stock{pairs}"
