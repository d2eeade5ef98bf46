"""The bill of materials of a batch: what it needs of every cloth and notion, from where, and what is bought for it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal

from planner.core.needs import ClothNeed, NotionNeed
from planner.core.notions.thread import cones_on_hand
from planner.core.spec import Cloth, Notion, NotionKind
from planner.core.units import format_length, format_money, round_money
from planner.cutting.batch_answer import buy_in_words
from planner.cutting.bill_parts import (
    EACH_PLACES_M,
    LayPart,
    PartGroup,
    lay_parts,
    lays_of,
    notion_parts,
    piece_parts,
    without_pieces,
)
from planner.cutting.claims import Shelf
from planner.cutting.reckoned import (
    divided,
    grown_in_words,
    sold_words,
    to_the_whole,
    used_in_words,
)
from planner.cutting.reckoning import cloth_figures, growth, notion_figures
from planner.cutting.stored import PlannedBatch
from planner.cutting.there import ThereFor, hung_on, there_for
from planner.cutting.told_amounts import told_amounts
from planner.cutting.unpriced import unpriced_in_words
from planner.cutting.wording import cloth_to_buy, how_reckoned, packs_to_buy
from planner.papers.buy_data import BuyFigures
from planner.papers.buy_lists import NO_PRICE
from planner.papers.figures import down, figure, nearest, places_of, printed_places

#: The kinds of notions as the bill heads them, in its order.
KINDS: Mapping[NotionKind, str] = {
    "thread": "Thread",
    "elastic": "Elastic",
    "tape": "Tape",
    "label": "Labels",
    "button": "Buttons",
    "other": "Packaging and other things",
}


#: Said beneath amounts in yards.
IN_METRES = "Reckoned in metres, its price and steps of sale too: 1 yd is 0.9144 m."


@dataclass(frozen=True)
class BillLine:
    """One cloth or notion in a colour. `groups`, `lays` and `steps` are there where the line is open.

    `steps` lead from the parts to what is bought and left over, each from printed figures.
    """

    slug: str
    what: str
    colour: str
    swatch: str
    need: str
    there: str
    short: str
    to_buy: str
    cost: str
    left: str
    how: str
    is_estimate: bool
    #: Said where its metres may still change; "" once they stand.
    not_settled: str = ""
    #: What is said beneath what is there, and what must be bought for others before it is enough, see `there_for`.
    besides: tuple[str, ...] = ()
    once: str = ""
    is_open: bool = False
    #: Said of an open line's reckoning where it is in other units than the amounts above it.
    reckoned_in: str = ""
    groups: tuple[PartGroup, ...] = ()
    lays: tuple[LayPart, ...] = ()
    steps: tuple[str, ...] = ()

    @property
    def is_cloth(self) -> bool:
        """Whether it is a cloth, which is cut in pieces."""
        return self.slug.startswith("cloth")

    @property
    def has_options(self) -> bool:
        """Whether some of its parts differ by the options chosen."""
        return any(group.has_options for group in self.groups)


@dataclass(frozen=True)
class Bill:
    """The lines of a batch under their headings; `cost` is the sum of the printed ones, `unpriced` what it lacks."""

    groups: tuple[tuple[str, tuple[BillLine, ...]], ...]
    answer: str
    cost: str
    unpriced: str = ""

    @property
    def lines(self) -> tuple[BillLine, ...]:
        """All lines in their order."""
        return tuple(line for _, lines in self.groups for line in lines)

    def line(self, slug: str) -> BillLine | None:
        """The line of this name."""
        return next((line for line in self.lines if line.slug == slug), None)


@dataclass(frozen=True)
class BillSetting:
    """How amounts are told, whether costs are, and which lines are open ("all" for all of them)."""

    display: str
    currency: str
    with_costs: bool = True
    open: Collection[str] = ()

    def is_open(self, slug: str) -> bool:
        """Whether the line of this name is open."""
        return slug in self.open or "all" in self.open

    def amount(self, value: Decimal, unit: str, least: int) -> str:
        """A figure of the bill; lengths in yards where the workroom measures in them."""
        if unit == "m" and self.display == "imperial":
            return format_length(value * 1000, display="imperial", kind="cloth")
        return figure(value, unit, least=least)


def make_bill(read: PlannedBatch, setting: BillSetting) -> Bill:
    """The bill of a planned batch."""
    shelves = read.claims.shelves
    cloths, costs = [], Decimal(0)
    for number, need in enumerate(read.needs.cloths, 1):
        cloths.append(_cloth_line(f"cloth-{number}", need, read, shelves[need.cloth], setting))
        costs += round_money(need.cost, setting.currency)
    of_kind: dict[NotionKind, list[BillLine]] = {kind: [] for kind in KINDS}
    for number, one in enumerate(read.needs.notions, 1):
        kind = read.shop.notions[one.key].kind
        of_kind[kind].append(_notion_line(f"notion-{number}", one, read, shelves[one.key], setting))
        costs += round_money(one.cost, setting.currency)
    groups = [("Cloth", cloths), *((KINDS[kind], lines) for kind, lines in of_kind.items())]
    return Bill(
        tuple((head, tuple(lines)) for head, lines in groups if lines),
        _answer(read, setting.display),
        format_money(costs, setting.currency) if setting.with_costs else "",
        unpriced_in_words(read.needs, read.shop) if setting.with_costs else "",
    )


def _answer(read: PlannedBatch, display: str) -> str:
    """The first line: what to buy, and whether all else is there."""
    buy = buy_in_words(read.needs.cloths, read.needs.notions, read.shop, display)
    there = hung_on(read, [*read.needs.cloths, *read.needs.notions])
    if buy:
        words = f"{buy}; all else is there {there}".rstrip() + "."
    else:
        words = f"Nothing to buy: all is there {there}".rstrip() + "."
    if any(need.is_estimate for need in read.needs.cloths):
        words += " Cloth is an estimate until all its lays are nested."
    elif read.not_settled:
        words += " Cloth may still change until the plan is settled."
    return words


def _cloth_line(
    slug: str, need: ClothNeed, read: PlannedBatch, shelf: Shelf, setting: BillSetting
) -> BillLine:
    cloth = read.shop.cloths[need.cloth]
    lays = lays_of(read, need.cloth) if need.by_lays else []
    figures = cloth_figures(need, cloth, [without_pieces(*one) for one in lays])
    line = _line(
        slug, (need.cloth.fabric, need.cloth.colour, cloth.swatch), figures,
        there_for(need, figures, read, setting.display),
        cloth_to_buy(need, cloth, setting.display), need.cost,
        how_reckoned(need, setting.display), setting, is_estimate=need.is_estimate,
    )  # fmt: skip
    line = replace(line, not_settled=read.not_settled.get(need.cloth, ""))
    if not setting.is_open(slug):
        return line
    groups, estimate = piece_parts(read, need, figures, setting.display)
    parts, laid = lay_parts(lays, need, cloth) if lays else ((), "")
    needed = used_in_words(need, figures.need) if need.cut_m else _cloth_need_in_words(figures, cloth, need)
    steps = [*estimate, laid, needed]
    steps += _stock_in_words(shelf, figures)
    if read.claims.own_of(need.cloth).is_settled:
        steps.append("It is cut already: no more is needed")
    elif need.to_buy_m > 0:
        steps.append(sold_words(need, cloth, figures.short, figures.bought))
    steps += _cost_and_left(figures, cloth.price, need.cost, setting)
    return _opened(line, groups, parts, steps)


def _notion_line(
    slug: str, need: NotionNeed, read: PlannedBatch, shelf: Shelf, setting: BillSetting
) -> BillLine:
    notion = read.shop.notions[need.key]
    own = [one for one in read.needs.lines if one.key == need.key]
    figures = notion_figures(need, notion, own)
    line = _line(
        slug, (need.key.notion, need.key.colour, notion.swatch), figures,
        there_for(need, figures, read, setting.display),
        packs_to_buy(need), need.cost, need.how, setting, in_packs=True,
    )  # fmt: skip
    if not setting.is_open(slug):
        return line
    groups, before = notion_parts(need, notion, figures, own, read.shop)
    steps = []
    if len(groups) > 1:
        least = EACH_PLACES_M if need.unit == "m" else 0
        added = " + ".join(figure(group.amount, least=least) for group in groups)
        steps.append(f"{added} = {figure(before, need.unit, least=least)}")
    if figures.factor != 1:
        told = figure(figures.need, need.unit, least=printed_places(figures.need))
        how = (
            to_the_whole(before, figures.factor, figures.need, need.unit)
            if need.unit == "pcs"
            else ", rounded up"
        )
        steps.append(f"{figure(before)} × {figure(figures.factor)} with waste = {told}{how}")
    steps += _stock_in_words(shelf, figures)
    if read.claims.own_of(need.key).is_settled:
        steps.append("It is taken for this batch already: no more is needed")
    elif need.to_buy_packs:
        steps += _packs_in_words(need, notion, figures)
    elif need.threads_at_once:
        steps.append(
            f"Cones: {need.threads_at_once} are threaded at once, {cones_on_hand(notion)} are there"
            f"{f' {line.once}' if line.once else ''}, started ones too"
        )
    steps += _cost_and_left(figures, notion.pack_price, need.cost, setting)
    return _opened(line, groups, (), steps)


def _line(
    slug: str, name: tuple[str, str, str], figures: BuyFigures, there: ThereFor, to_buy: str, cost: Decimal,
    how: str, setting: BillSetting, *, is_estimate: bool = False, in_packs: bool = False,
) -> BillLine:  # fmt: skip
    told = told_amounts(figures, setting.display, in_packs=in_packs)
    nothing = setting.amount(Decimal(0), figures.unit, printed_places(figures.need))
    told_cost = ""
    if setting.with_costs and figures.packs:
        told_cost = format_money(cost, setting.currency) if cost else NO_PRICE
    return BillLine(
        slug,
        *name,
        need=told.need,
        there=there.on_shelf,
        besides=there.besides,
        once=there.once,
        short=told.short,
        to_buy=to_buy,
        cost=told_cost,
        left=told.left if figures.left >= 0 else nothing,
        how=how,
        is_estimate=is_estimate,
        reckoned_in=IN_METRES if figures.unit == "m" and setting.display == "imperial" else "",
    )


def _opened(
    line: BillLine, groups: tuple[PartGroup, ...], lays: tuple[LayPart, ...], steps: Sequence[str]
) -> BillLine:
    return replace(
        line,
        is_open=True,
        groups=groups,
        lays=lays,
        steps=tuple(f"{one[0].upper()}{one[1:]}." for one in steps if one),
    )


def _cloth_need_in_words(figures: BuyFigures, cloth: Cloth, one: ClothNeed) -> str:
    """From the metres laid to those needed."""
    grown = grown_in_words(*growth(cloth, one), figures.lost)
    need = figure(figures.need, "m", least=printed_places(figures.need))
    if figures.before is None:
        return f"Needed {need}"
    if not grown and figures.before == figures.need:
        return ""
    return f"{figure(figures.before)} m laid{grown} = {need}, rounded up"


def _stock_in_words(shelf: Shelf, figures: BuyFigures) -> list[str]:
    """What is there for the batch, and what it is short of."""
    unit, least = figures.unit, printed_places(figures.need)
    words = f"{figure(shelf.on_hand.normalize() + Decimal(0), unit)} on hand"
    if shelf.to_come:
        come = down(shelf.to_come, max(2, places_of(shelf.on_hand)))
        words += f" + {figure(come)} to be bought for {' and '.join(shelf.by)}"
    if shelf.spoken_for:
        words += f" − {figure(shelf.spoken_for.normalize())} still to be taken for {' and '.join(shelf.by)}"
    if shelf.met:
        words += f" + {figure(shelf.met.normalize())} cut or taken for this batch"
    rounded = nearest(shelf.there, 6) != figures.in_stock
    if shelf.to_come or shelf.spoken_for or shelf.met or rounded:
        words += f" = {figure(figures.in_stock, unit, least=least)} there"
        words += f"{' once that is bought' if shelf.to_come else ''}{', rounded down' if rounded else ''}"
    need, stock = figure(figures.need, least=least), figure(figures.in_stock, least=least)
    if not figures.short:
        return [words, f"{need} needed, {stock} there: nothing short"]
    if figures.short > figures.need - figures.in_stock:
        short = figure(figures.short, unit, least=least)
        return [words, f"{need} needed, {stock} there, but no roll or end there holds plies for {short}"]
    return [words, f"{need} needed − {stock} there = {figure(figures.short, unit, least=least)} short"]


def _packs_in_words(need: NotionNeed, notion: Notion, figures: BuyFigures) -> list[str]:
    """Packs by what is short, or by the cones a machine takes at once where these are more."""
    steps = []
    by_need = (figures.short / figures.pack).to_integral_value(ROUND_CEILING)
    if figures.short:
        steps.append(f"{divided(figures.short, figures.pack)}, so {by_need} × {notion.pack}")
    if figures.packs > by_need:
        there = cones_on_hand(notion)
        steps.append(
            f"But {need.threads_at_once} are threaded at once − {there} there, started ones too = "
            f"{figures.packs} × {notion.pack}"
        )
    return steps


def _cost_and_left(figures: BuyFigures, price: Decimal, cost: Decimal, setting: BillSetting) -> list[str]:
    steps = []
    if cost and setting.with_costs:
        steps.append(
            f"{figure(figures.packs)} × {figure(price, least=2)} = {format_money(cost, setting.currency)}"
        )
    least = printed_places(figures.need)
    parts = [figure(one, least=least) for one in (figures.in_stock, figures.bought) if one]
    if parts and figures.left >= 0:
        need, left = figure(figures.need, least=least), figure(figures.left, figures.unit, least=least)
        steps.append(f"Left over {' + '.join(parts)} − {need} = {left}")
    return steps
