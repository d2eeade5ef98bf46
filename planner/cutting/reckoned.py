"""The arithmetic that stands on the papers, in words, from figures as they are printed."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from planner.core.cloth import bought_width_mm
from planner.core.needs import ClothNeed, NotionNeed
from planner.core.spec import Cloth
from planner.core.units import format_length
from planner.papers.buy_data import BuyFigures
from planner.papers.figures import down, figure, nearest, places_of, printed_places


@dataclass(frozen=True)
class Known:
    """Need and stock as printed, to as many places as it takes for the packs to follow from them."""

    places: int
    need: Decimal
    in_stock: Decimal

    @property
    def short(self) -> Decimal:
        return max(self.need - self.in_stock, Decimal(0))


@dataclass(frozen=True)
class Besides:
    """What counts as there for a batch although it lies on no shelf, as it is printed: `met` was cut or taken (`how`)
    for it already, `coming` is left of what is to be bought for others."""

    met: Decimal
    how: str
    coming: Decimal

    @property
    def told(self) -> list[str]:
        """Each that is more than nothing, in words."""
        both = ((self.met, self.how), (self.coming, "left of what is to be bought for others"))
        return [f"{figure(amount)} {what}" for amount, what in both if amount]


def besides(need: ClothNeed | NotionNeed, known: Known) -> Besides:
    """What of the stock that is `known` lies on no shelf. Never less than that, so that what is told as there is."""
    if isinstance(need, NotionNeed):
        met, how, coming = need.taken, "taken", nearest(need.coming, 9)
    else:
        met, how, coming = nearest(need.cut_m, 3), "cut", nearest(need.coming_m, 9)
    met = nearest(met, 3).normalize() + Decimal(0)
    left = max(known.in_stock - met, Decimal(0))
    if not coming:
        return Besides(met, how, Decimal(0))
    on_shelf = max(down(left - coming, max(known.places, places_of(left))), Decimal(0))
    return Besides(met, how, (left - on_shelf).normalize() + Decimal(0))


def used_in_words(need: ClothNeed, need_m: Decimal) -> str:
    """ "2.6 used for what is cut + 5.02 still to cut = 7.62 m", from the need as it is printed."""
    used = nearest(need.cut_m, 3).normalize()
    least = max(0, -int(need_m.as_tuple().exponent))
    left, whole = need_m - used, figure(need_m, "m", least=least)
    if left <= 0:
        return f"{whole}, used for what is cut"
    lost = f" with {figure(nearest(need.lost_m, 3).normalize())} lost at flaws" if need.lost_m else ""
    return f"{figure(used)} used for what is cut + {figure(left)} still to cut{lost} = {whole}"


def need_words(before: Decimal | None, factor: Decimal, known: Known, unit: str) -> str:
    need = figure(known.need, unit, least=known.places)
    if before is None or factor == 1:
        return f"Need {need}"
    return f"{figure(before)} × {figure(factor)} with waste = {need}{to_the_whole(before, factor, known.need, unit)}"


def to_the_whole(before: Decimal, factor: Decimal, need: Decimal, unit: str) -> str:
    """ ", to the nearest whole", where what is counted comes to no whole number with its waste; "" elsewhere."""
    if unit == "m" or before * factor == need:
        return ""
    return ", to the nearest whole" if nearest(before * factor, 0) == need else ", in whole ones"


def cloth_need_words(
    before: Decimal | None, left: Decimal, flaws: Decimal, known: Known, lost: Decimal
) -> str:
    need = figure(known.need, "m", least=known.places)
    grown = grown_in_words(left, flaws, lost)
    if before is None:
        return f"Need {need}, with {figure(lost)} lost at flaws of its rolls" if lost else f"Need {need}"
    return f"Laid {figure(before)}{grown} = {need}" if grown else f"Need {need}"


def grown_in_words(left: Decimal, flaws: Decimal, lost: Decimal) -> str:
    """ " ÷ 0.95 for washing × 1.02 for flaws", " + 1.6 lost at flaws of its rolls": what is made of metres laid."""
    washing = f" ÷ {figure(left)} for washing" if left != 1 else ""
    allowance = f" × {figure(flaws)} for flaws" if flaws != 1 else ""
    noted = f" + {figure(lost)} lost at flaws of its rolls" if lost else ""
    return f"{washing}{allowance}{noted}"


def shortage(known: Known, unit: str, besides: Besides, stock: str) -> str:
    """What is short; what counts as there `besides` what lies there is told with what it is. `stock` is what that is
    called."""
    there = figure(max(known.in_stock - besides.met - besides.coming, Decimal(0)))
    if besides.told and not known.short:
        return f"; {stock} {' + '.join([there, *besides.told])} = {figure(known.in_stock)}, nothing short"
    if besides.told:
        less = " − ".join([f"{there} {stock}", *besides.told])
        return f"; − {less} = {figure(known.short, unit, least=known.places)} short"
    if not known.short:
        return f"; {stock} {there}, nothing short"
    if known.in_stock == 0:
        return f"; none {stock}"
    return f"; − {there} {stock} = {figure(known.short, unit, least=known.places)} short"


def divided(short: Decimal, pack: Decimal) -> str:
    """ "11 ÷ 25 = 0.44", the quotient to two places, or as many as it takes not to look whole."""
    quotient = short / pack
    places = 2
    while nearest(quotient, places) == quotient.to_integral_value() != quotient and places < 6:
        places += 1
    shown = quotient.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    return f"{figure(short)} ÷ {figure(pack)} = {figure(shown)}"


def sold_words(need: ClothNeed, cloth: Cloth, short: Decimal, bought: Decimal) -> str:
    least = f", at least {figure(cloth.minimum_quantity)}" if cloth.minimum_quantity > 0 else ""
    sold = figure(need.to_buy_packs)
    if cloth.sold_by == "roll":
        return f"{divided(short, cloth.pack_quantity)}, in whole rolls{least}: {sold} = {figure(bought, 'm')}"
    step = figure(cloth.pack_quantity)
    if cloth.sold_by == "metre":
        return f"sold by {step} m{least}: {sold} m"
    width, weight = nearest(bought_width_mm(cloth) / 1000, 4), nearest(cloth.weight_gsm, 2)
    kilograms = nearest(short * width * weight / 1000, 3)
    return (
        f"{figure(short)} m × {figure(width)} m × {figure(weight)} g/m² ÷ 1000 = {figure(kilograms)} kg, "
        f"sold by {step} kg{least}: {sold} kg = {figure(bought, 'm')}"
    )


def left_words(known: Known, bought: Decimal, left: Decimal, unit: str) -> str:
    parts = [figure(one) for one in (known.in_stock, bought) if one]
    if not parts or left < 0:
        return ""
    return f"; left over {' + '.join(parts)} − {figure(known.need)} = {figure(left, unit)}"


def amount_in_words(amount: Decimal, figures: BuyFigures, display: str) -> str:
    """An amount that is there of what the figures are of, with its unit; metres in yards, rounded down, where the
    workroom shows them."""
    if figures.unit == "m" and display == "imperial":
        return format_length(amount * 1000, display="imperial", kind="cloth", at_most=True)
    return figure(amount, figures.unit, least=printed_places(figures.need))


def in_metres(words: str, display: str) -> str:
    """Says of a reckoning in metres that it is one, where lengths are shown in yards."""
    return f"In metres: {words}" if display == "imperial" else words
