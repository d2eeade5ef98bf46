"""What the pages of this room show, ready to be written out: no page reckons for itself."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from planner.core.needs import ClothNeed, Needs, NotionNeed
from planner.core.spec import ClothKey, Demand, NotionKey, Workshop
from planner.cutting.buying import Buying
from planner.cutting.figures_since import longer_than_table
from planner.cutting.models import Batch
from planner.cutting.narrow_cloth import wider_than_cloth
from planner.cutting.reckoning import cloth_figures, notion_figures
from planner.cutting.stored import PlannedBatch
from planner.cutting.there import ThereFor, hung_on, there_for
from planner.cutting.told_amounts import told_amounts
from planner.cutting.turns import in_turn
from planner.cutting.wording import cloth_to_buy, cones_in_words, how_reckoned, options_in_words, packs_to_buy
from planner.orders.due import Due, day_words, due_words


@dataclass(frozen=True)
class KindRow:
    """One garment kind across its sizes."""

    style: str
    style_name: str
    options: str
    colourway: str
    pairs: tuple[tuple[str, int], ...]
    total: int
    extra: int = 0


def kind_rows(
    demand: Iterable[Demand], shop: Workshop, ordered: Iterable[Demand] | None = None
) -> list[KindRow]:
    """Demand gathered by style, options and colourway, sizes in a row; what is not `ordered` is extra."""
    less: Counter[tuple[str, Any, str]] = Counter()
    for row in ordered or ():
        less[row.garment.style, row.garment.options, row.garment.colourway] += row.quantity
    kinds: dict[tuple[str, Any, str], Counter[str]] = defaultdict(Counter)
    for row in demand:
        kinds[row.garment.style, row.garment.options, row.garment.colourway][row.garment.size] += row.quantity
    rows = []
    for (number, options, colourway), counts in kinds.items():
        style = shop.styles[number]
        pairs = tuple((size, counts[size]) for size in style.sizes)
        total = sum(counts.values())
        extra = total - less[number, options, colourway] if ordered is not None else 0
        rows.append(KindRow(number, style.name, options_in_words(options), colourway, pairs, total, extra))
    return rows


@dataclass(frozen=True)
class NeedRow:
    """One thing a batch needs, in words and units."""

    what: str
    colour: str
    swatch: str
    need: str
    in_stock: str
    to_buy: str
    how: str
    is_estimate: bool
    batches: str = ""
    by: str = ""
    not_settled: str = ""
    in_all: str = ""
    #: Why more is to be bought than its amount says.
    why_buy: str = ""
    #: What is said beneath what is in stock: whose promise is taken off, what comes once others are bought for.
    besides: tuple[str, ...] = ()
    #: What must be bought for others before it is enough.
    once: str = ""


def need_rows(
    needs: Needs,
    shop: Workshop,
    display: str,
    swatches: Mapping[ClothKey | NotionKey, str],
    waiting: Mapping[ClothKey | NotionKey, tuple[tuple[str, ...], date | None]] | None = None,
    today: date | None = None,
    not_settled: Mapping[ClothKey, str] | None = None,
    in_all: Mapping[ClothKey, str] | None = None,
    read: PlannedBatch | None = None,
) -> list[NeedRow]:
    """Needs as rows, cloths first; figures are rounded as on the needs page and the papers.

    `not_settled` has words for cloths whose metres may still change, `in_all` for those that others want before. Of a
    batch that was `read` stock is what is there for it, else all that is on hand.
    """
    rows = []
    moving = not_settled or {}
    for need in needs.cloths:
        figures = cloth_figures(need, shop.cloths[need.cloth])
        told = told_amounts(figures, display)
        there = there_for(need, figures, read, display) if read else ThereFor(told.in_stock)
        buy = cloth_to_buy(need, shop.cloths[need.cloth], display)
        rows.append(
            NeedRow(
                need.cloth.fabric, need.cloth.colour, swatches.get(need.cloth, ""), told.need, there.on_shelf, buy,
                how_reckoned(need, display), need.is_estimate, *_waits(need.cloth, waiting, today),
                moving.get(need.cloth, ""), (in_all or {}).get(need.cloth, ""),
                besides=there.besides, once=there.once,
            )
        )  # fmt: skip
    for one in needs.notions:
        figures = notion_figures(one, shop.notions[one.key])
        told = told_amounts(figures, display, in_packs=True)
        there = there_for(one, figures, read, display) if read else ThereFor(told.in_stock)
        rows.append(
            NeedRow(
                one.key.notion, one.key.colour, swatches.get(one.key, ""),
                told.need, there.on_shelf,
                packs_to_buy(one), one.how, False, *_waits(one.key, waiting, today),
                why_buy=cones_in_words(one, shop.notions[one.key]), besides=there.besides, once=there.once,
            )
        )  # fmt: skip
    return rows


def _waits(
    key: ClothKey | NotionKey,
    waiting: Mapping[ClothKey | NotionKey, tuple[tuple[str, ...], date | None]] | None,
    today: date | None,
) -> tuple[str, str]:
    if waiting is None or key not in waiting:
        return "", ""
    batches, day = waiting[key]
    return ", ".join(batches), day_words(day, today) if day and today else ""


def buy_in_words(
    cloths: Iterable[ClothNeed],
    notions: Iterable[NotionNeed],
    shop: Workshop,
    display: str,
    in_all: Mapping[ClothKey, str] | None = None,
) -> str:
    """ "Buy 7.8 m jersey 180 ink and 3 × 5000 m cone overlock thread moss"; "" where nothing is short. `in_all` has
    words for cloths that are to be bought for other batches too.
    """
    with_others = {key: f" ({words})" for key, words in (in_all or {}).items()}
    parts = [
        f"{cloth_to_buy(need, shop.cloths[need.cloth], display)} {need.cloth.fabric} {need.cloth.colour}"
        f"{with_others.get(need.cloth, '')}"
        for need in cloths
        if need.to_buy_m > 0
    ]
    parts += [f"{packs_to_buy(n)} {n.key.notion} {n.key.colour}".strip() for n in notions if n.to_buy_packs]
    if not parts:
        return ""
    # “And 1 more” is no shorter than what it stands for.
    shown = parts if len(parts) <= 4 else parts[:3]
    rest = len(parts) - len(shown)
    *first, last = [*shown, f"{rest} more"] if rest else shown
    return f"Buy {', '.join(first)} and {last}" if first else f"Buy {last}"


def batch_answer(
    read: PlannedBatch,
    display: str,
    in_all: Mapping[ClothKey, str] | None = None,
    at_flaws: Mapping[int, int] | None = None,
) -> str:
    """The first line of a planned batch: what has to happen next. Its lays know their turn by `bundles_of`, but for
    `at_flaws`, see `in_turn`.
    """
    if not read.is_nested:
        waiting = sum(lay.marker.state in {"waiting", "nesting"} for lay in read.lays)
        if not waiting and not read.is_settled and all(lay.marker.is_final for lay in read.lays):
            return "The lays are nested; whether their real lengths change the plan is being looked at."
        if waiting:
            return _nesting_in_words(len(read.lays), sum(lay.marker.is_laid for lay in read.lays), waiting)
        return "A lay could not be nested; see below."
    buy = buy_in_words(read.needs.cloths, (), read.shop, display, in_all)
    # Labels and thread are wanted once the pieces are cut: nobody waits with the cutting for them.
    to_sew = buy_in_words((), read.needs.notions, read.shop, display).removeprefix("Buy ")
    uncut = [lay.number for lay in read.lays if lay.cut_at is None]
    hung = hung_on(read, read.needs.notions)
    once = f" {'All else' if to_sew else 'For sewing all'} is there {hung}." if hung else ""
    if not uncut:
        return f"All lays are cut. {f'Buy {to_sew}, then sew' if to_sew else 'Sew'} the bundles.{once}"
    cut = f"cut lay {uncut[0]}" if len(uncut) == 1 else f"cut {len(uncut)} lays"
    long = longer_than_table(read.lays, read.shop)
    wide = wider_than_cloth(read.lays, read.shop.cloths)
    too_large = _too_large(long, "longer than the table") + _too_large(wide, "wider than the cloth is now")
    fit = [
        lay for lay in in_turn(read.lays, at_flaws) if lay.cut_at is None and lay.number not in {*long, *wide}
    ]
    at_once = [lay.number for lay in fit if not lay.waits]
    if buy and 0 < len(at_once) < len(uncut):
        others = len(fit) - len(at_once)
        which = f"Lay {at_once[0]}" if len(at_once) == 1 else f"{len(at_once)} lays"
        then = f"{others} more" if too_large else f"the other{f' {others}' if others > 1 else ''}"
        first = f"{which} can be cut now. {buy}{f', then cut {then}' if others else ''}"
    elif buy:
        first = f"{buy}, then {cut}"
    elif hung_cloth := hung_on(read, read.needs.cloths):
        first = f"All cloth is there {hung_cloth}: then {cut}"
    else:
        first = f"{'All cloth' if to_sew or hung else 'Everything'} is in stock: {cut}"
    return f"{first}{too_large}.{f' For sewing buy {to_sew}.' if to_sew else ''}{once}"


def _too_large(numbers: Sequence[int], than: str) -> str:
    return f"; {len(numbers)} {'is' if len(numbers) == 1 else 'are'} {than}" if numbers else ""


def _nesting_in_words(lays: int, laid: int, waiting: int) -> str:
    """How many lays have a length by now; what the panels tell of each fabric adds up to it."""
    if laid == lays:
        again = "it is" if lays == 1 else f"{waiting} of {lays} {'is' if waiting == 1 else 'are'}"
        return f"{'The lay is' if lays == 1 else 'All lays are'} nested; {again} nested once more, to become shorter."
    if lays == 1:
        return "The lay is being nested. Figures follow as they come."
    which = f"{laid} of {lays} lays {'is' if laid == 1 else 'are'} nested"
    return f"{which if laid else f'None of the {lays} lays is nested yet'}. Figures follow as they come."


@dataclass(frozen=True)
class BatchRow:
    """A batch in the list."""

    batch: Batch
    due: Due | None
    state: str
    next_step: str


def batch_row(batch: Batch, today: date) -> BatchRow:
    """A batch (read by `with_counts`) with what comes next."""
    going = batch.state not in {Batch.State.DONE, Batch.State.CANCELLED}
    steps = {
        Batch.State.GATHERING: "put orders in and plan it",
        Batch.State.PLANNED: _next_cut(batch),
        Batch.State.CUTTING: _next_cut(batch),
        Batch.State.SEWING: "sew",
        Batch.State.DONE: "",
        Batch.State.CANCELLED: "",
    }
    due = due_words(batch.due_on, today, still_open=going) if batch.due_on else None
    return BatchRow(batch, due, batch.get_state_display(), steps[Batch.State(batch.state)])


def _next_cut(batch: Batch) -> str:
    """ "cut 3 more of 6 lays; 1 waits for cloth": what can be cut, then what cannot yet."""
    if batch.is_moving:  # type: ignore[attr-defined]
        return "its lays are still being planned: wait with cutting"
    total, cut, waiting, not_laid = (
        getattr(batch, name) for name in ("lays_total", "lays_cut", "lays_waiting", "lays_not_laid")
    )
    ready = total - cut - waiting - not_laid
    parts = []
    if ready:
        parts.append(f"cut {ready} more of {total} lays" if cut else f"cut {_lays(ready)}")
    for count, one, several in (
        (waiting, "waits for cloth", "wait for cloth"),
        (not_laid, "is not nested yet", "are not nested yet"),
    ):
        if count:
            parts.append(f"{count if parts else _lays(count)} {one if count == 1 else several}")
    return "; ".join(parts)


def _lays(count: int) -> str:
    return f"{count} {'lay' if count == 1 else 'lays'}"


def buying_rows(
    buying: Buying, shop: Workshop, display: str, swatches: Mapping[Any, str], today: date
) -> list[NeedRow]:
    """What must be bought for all batches."""
    short = Needs(buying.short_cloths, buying.short_notions, (), ())
    return need_rows(short, shop, display, swatches, buying.waiting, today, buying.remarks)
