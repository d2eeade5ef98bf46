"""The arithmetic that stands on the papers: from the need to what is bought and left over, in printed figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import ROUND_CEILING, Decimal

from planner.core.cloth import buy_cloth, need_for_lay_m
from planner.core.lays.model import LENGTHS
from planner.core.needs import ClothNeed, NotionNeed
from planner.core.notions.lines import NeedLine
from planner.core.notions.needs import counted_with_waste
from planner.core.notions.thread import cones_on_hand
from planner.core.planning import NestedLay
from planner.core.spec import Cloth, ClothKey, Notion
from planner.cutting.reckoned import (
    Known,
    besides,
    cloth_need_words,
    divided,
    left_words,
    need_words,
    shortage,
    sold_words,
    used_in_words,
)
from planner.cutting.wording import booked_m
from planner.papers.buy_data import IN_STOCK, BuyFigures
from planner.papers.figures import (
    down,
    figure,
    nearest,
    percent_factor,
    places_for,
    places_of,
    up,
)
from planner.papers.layers import lengths_in_words

#: From here on a thread's metres are told whole.
WHOLE_METRES_FROM = 100
#: What one seam takes is printed to the millimetre, where more is not needed to follow the total.
EACH_PLACES_M = 3
#: So finely it is typed how many of what is counted one takes; needless zeros are not printed.
EACH_PLACES_PCS = 2


def _known(need: float, stock: Decimal, least: int, packs: Callable[[Decimal], Decimal]) -> Known:
    wanted = packs(max(nearest(need, 9) - stock, Decimal(0)))

    def at(places: int) -> Known:
        return Known(places, up(need, places), down(stock, places))

    return at(places_for(lambda places: packs(at(places).short) == wanted, least))


def notion_figures(
    need: NotionNeed, notion: Notion, lines: Sequence[NeedLine] = (), *, stock_is: str = IN_STOCK
) -> BuyFigures:
    """A notion: need without waste × waste − stock, in whole packs, or the cones a machine takes at once.

    With the `lines` it comes from, the need without waste is their sum as printed, see :func:`together`; of what is
    counted it is known from these only. `stock_is` is what the stock is called in the words.
    """
    unit, pack, stock = need.unit, notion.pack_quantity, notion.in_stock
    whole = unit == "pcs" or need.need >= WHOLE_METRES_FROM
    least = max(places_of(pack), 0 if whole else 2)
    known = _known(need.need, stock, least, lambda short: (short / pack).to_integral_value(ROUND_CEILING))
    factor = percent_factor(notion.waste_share)
    before = _taken(need, known, factor, lines)
    by_need = (known.short / pack).to_integral_value(ROUND_CEILING)
    packs = Decimal(need.to_buy_packs)
    bought = packs * pack
    left = known.in_stock + bought - known.need
    words, other = need_words(before, factor, known, unit), besides(need, known)
    if packs > by_need:
        there = cones_on_hand(notion)
        words += f"; {packs + there} are threaded at once − {there} there = {packs} × {notion.pack}"
    else:
        words += shortage(known, unit, other, stock_is)
        if packs:
            words += f"; {divided(known.short, pack)}, so {packs} × {notion.pack}"
    words += left_words(known, bought, left, unit)
    return BuyFigures(
        unit, before, factor, known.need, known.in_stock, known.short, pack, packs, bought, left, words,
        met=other.met, coming=other.coming,
    )  # fmt: skip


def _taken(need: NotionNeed, known: Known, factor: Decimal, lines: Sequence[NeedLine]) -> Decimal | None:
    """What is taken of a notion before anything is added for waste, as it is printed; None where that is not known."""
    if lines:
        summed = together(lines, each_places(lines, need.unit, factor, known.need, known.places))
        if with_waste(summed, factor, need.unit, known.places) == known.need:
            return summed
    whole = nearest(need.need, 9)
    if need.unit == "pcs":
        return known.need if factor == 1 else None
    return _before((whole / factor, whole), known, factor)


def with_waste(before: Decimal, factor: Decimal, unit: str, places: int) -> Decimal:
    """The need that is printed to so many places, from what is taken: rounded up, of what is counted with waste to the
    nearest whole."""
    return up(before * factor if unit == "m" else counted_with_waste(before, factor), places)


def cloth_figures(
    need: ClothNeed, cloth: Cloth, lays: Sequence[NestedLay] = (), *, stock_is: str = IN_STOCK
) -> BuyFigures:
    """A cloth: metres laid ÷ what washing leaves × flaws − stock, as it is sold. Metres throughout.

    Where more is lost at flaws that are noted, that is added in place of × flaws.

    With `lays` the metres laid are the sum of theirs as printed, see :func:`lay_metres`. `stock_is` is what the stock
    is called in the words.
    """
    stock = nearest(need.in_stock_m, 3).normalize()
    step = cloth.pack_quantity if cloth.sold_by != "kg" else Decimal(0)
    least = max(2, places_of(step))
    known = _known(need.need_m, stock, least, lambda short: buy_cloth(float(short), cloth).sold)
    left_after_washing, flaws = growth(cloth, need)
    lost = nearest(need.lost_m, 3).normalize() + Decimal(0)
    grown = flaws / left_after_washing
    without_lost = replace(known, need=known.need - lost)
    before = _before((nearest(need.lay_m, 9), nearest(need.lay_m, 9) / grown), without_lost, grown)
    if lays and before is not None:
        before = laid_metres(lays, marker_places(lays, need, cloth), cloth.key).normalize()
    bought = _bought_m(need, cloth)
    left = known.in_stock + bought - known.need
    words = cloth_need_words(before, left_after_washing, flaws, known, lost)
    if need.cut_m:
        before, words = None, f"Need {used_in_words(need, known.need)}"
    # Plies are bought to the centimetre, see `what_to_buy`.
    short = up(nearest(need.short_m, 9)) if need.short_m else known.short
    other = besides(need, known)
    if need.short_m:
        there = figure(max(known.in_stock - other.met - other.coming, Decimal(0)))
        words += f"; {stock_is} {there}, but no roll or end there holds plies for {figure(short, 'm')}"
    else:
        words += shortage(known, "m", other, stock_is)
    if need.to_buy_m > 0:
        words += f"; {sold_words(need, cloth, short, bought)}"
    words += left_words(known, bought, left, "m")
    factor = flaws if left_after_washing == 1 else nearest(flaws / left_after_washing, 6)
    return BuyFigures(
        "m", before, factor, known.need, known.in_stock, short,
        bought / need.to_buy_packs if need.to_buy_packs else cloth.pack_quantity,
        need.to_buy_packs, bought, left, words, lost, other.met, other.coming,
    )  # fmt: skip


def growth(cloth: Cloth, need: ClothNeed) -> tuple[Decimal, Decimal]:
    """What washing leaves of a metre, and the factor for flaws: 1 where what is lost at those noted stands for it."""
    washed = cloth.shrinkage_length if cloth.shrinkage_handling == "wash_first" else 0.0
    flaws = Decimal(1) if need.lost_m else percent_factor(cloth.damage_share)
    return 1 - nearest(max(washed, 0.0), 6).normalize(), flaws


def _grown(laid: Decimal, cloth: Cloth, places: int, need: ClothNeed) -> Decimal:
    left, flaws = growth(cloth, need)
    return up(laid / left * flaws + nearest(need.lost_m, 3), places)


def _bought_m(need: ClothNeed, cloth: Cloth) -> Decimal:
    """Metres bought; of cloth by weight up to the centimetre, as what to buy is told."""
    return booked_m(need.to_buy_m) if cloth.sold_by == "kg" else nearest(need.to_buy_m, 6).normalize()


def each_places(lines: Sequence[NeedLine], unit: str, factor: Decimal, need: Decimal, places: int) -> int:
    """Places with which what one takes is printed, so that the need, printed to `places`, follows."""
    least = EACH_PLACES_M if unit == "m" else EACH_PLACES_PCS
    return places_for(lambda p: with_waste(together(lines, p), factor, unit, places) == need, least)


def together(lines: Sequence[NeedLine], places: int) -> Decimal:
    """The sum of what all of these take, each as it is printed."""
    return sum((one.count * as_told(one.each, places) for one in lines), Decimal(0))


def as_told(each: float, places: int) -> Decimal:
    """What one takes, as it is printed."""
    return nearest(nearest(each, 9), places).normalize() + Decimal(0)


def _before(candidates: Sequence[Decimal], known: Known, factor: Decimal) -> Decimal | None:
    """The first of these that the printed need follows from, as it is printed; None where it does from none."""
    for value in candidates:
        # To the millimetre, as lays and lengths are told; pieces have no places to show.
        places = places_for(lambda p, v=value: up(nearest(v, p) * factor, known.places) == known.need, 3)
        found = nearest(value, places)
        if up(found * factor, known.places) == known.need:
            return found
    return None


def marker_places(lays: Sequence[NestedLay], need: ClothNeed, cloth: Cloth) -> int:
    """Places in mm with which markers are printed so that the need of their cloth follows from them, as planned."""
    planned = need
    if need.cut_m:
        planned = replace(need, need_m=need_for_lay_m(need.lay_m, cloth), cut_m=0.0, lost_m=0.0)
    one = cloth_figures(planned, cloth)

    def follows(places: int) -> bool:
        laid = laid_metres(lays, places, cloth.key)
        return _grown(laid, cloth, places_of(one.need), planned) == one.need

    return places_for(follows) if one.before is not None else 1


def laid_metres(lays: Sequence[NestedLay], places: int, key: ClothKey) -> Decimal:
    """Metres of one cloth in all these lays together, from the printed figures of each."""
    return sum((lay_metres(lay, places, key) for lay in lays), Decimal(0))


def lay_metres(lay: NestedLay, places: int, key: ClothKey | None = None) -> Decimal:
    """Cloth of a lay, or of one colour in it, in metres from its printed figures: plies × (marker + 2 × end)."""
    planned = lay.planned
    spreads = planned.spreads if key is None else planned.spreads_of(key)
    plies = spreads * LENGTHS[planned.mode]
    each = nearest(lay.marker.length_mm, places) + 2 * nearest(planned.end_allowance_mm, 1)
    return plies * each / 1000


def lay_reckoning(lay: NestedLay, places: int) -> str:
    """ "3 plies × (2441.3 + 2 × 20) mm = 7.4439 m"."""
    planned = lay.planned
    marker, end = nearest(lay.marker.length_mm, places), nearest(planned.end_allowance_mm, 1).normalize()
    metres = figure(lay_metres(lay, places), "m")
    return f"{lengths_in_words(planned.spreads, planned.mode)} × ({marker} + 2 × {figure(end)}) mm = {metres}"
