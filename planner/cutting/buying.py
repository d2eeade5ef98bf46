"""What to buy for all batches that are planned and not done yet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from planner.common.shared_rows import KeptShared
from planner.core.cloth import buy_cloth
from planner.core.needs import ClothNeed, Needs, NotionNeed
from planner.core.notions.thread import cones_needed, packs_to_buy
from planner.core.spec import Cloth, ClothKey, Notion, NotionKey, Workshop
from planner.cutting.claims import rest_with_lost
from planner.cutting.counted_down import lacking
from planner.cutting.flaws_ahead import lost_at_flaws
from planner.cutting.lot_units import kept_units
from planner.cutting.models import BatchNeed
from planner.cutting.short_cloth import in_words, short_of_all, with_short
from planner.cutting.short_lots import lots_that_do, with_lots
from planner.cutting.wording import not_settled_in_words
from planner.materials.models import Workroom
from planner.materials.promised import StillPromised
from planner.materials.specs import cloth_key
from planner.materials.specs import cloths as cloth_specs
from planner.materials.specs import notions as notion_specs


@dataclass
class _Sum:
    """Needs of one thing over several batches."""

    need: Decimal = Decimal(0)
    lay_m: Decimal = Decimal(0)
    #: Of `need`, lost at flaws of rolls.
    lost_m: Decimal = Decimal(0)
    threads_at_once: int = 0
    is_estimate: bool = False
    is_settled: bool = True
    has_rolls: bool = True
    batches: list[str] = field(default_factory=list)
    first_day: date | None = None

    def add(self, row: BatchNeed, lost_m: Decimal = Decimal(0)) -> None:
        rest = need = round(Decimal(row.rest), 3)
        if lost_m and row.fabric_colour:
            need = rest_with_lost(rest, row.fabric_colour.fabric.damage_percent, lost_m)
        self.need += need
        self.lost_m += lost_m if need > rest else 0
        self.lay_m += row.lay_m or Decimal(0)
        # Batches are sewn one after the other, so the machines are threaded from the same cones.
        self.threads_at_once = max(self.threads_at_once, row.least_packs)
        self.is_estimate |= row.is_estimate
        self.is_settled &= row.is_settled
        self.has_rolls &= row.has_rolls
        self.batches.append(row.batch.number)
        due = row.batch.due_on
        if due is not None and (self.first_day is None or due < self.first_day):
            self.first_day = due


@dataclass(frozen=True)
class Buying:
    """Needs of all planned batches against the stock; for each thing, which batches wait for it until when.

    `shop` holds the cloths and notions concerned, no styles.
    """

    needs: Needs
    shop: Workshop
    waiting: dict[ClothKey | NotionKey, tuple[tuple[str, ...], date | None]]
    #: Cloths whose metres may still change, with the words that say so.
    not_settled: dict[ClothKey, str] = field(default_factory=dict)
    #: Cloths to buy of which less would do of one shade lot, with the words that say so.
    lots: dict[ClothKey, str] = field(default_factory=dict)
    #: Cloths of which more is bought than stock lacks, with the words that say why.
    ends: dict[ClothKey, str] = field(default_factory=dict)
    #: Cloths with rolls that lays count on and that have not enough, with the words that say what to do.
    lacking: dict[ClothKey, str] = field(default_factory=dict)

    @property
    def remarks(self) -> dict[ClothKey, str]:
        """What is said beside the metres to buy."""
        kinds = (self.not_settled, self.ends, self.lots, self.lacking)
        return {
            key: _joined([words[key] for words in kinds if key in words]) for words in kinds for key in words
        }

    @property
    def short_cloths(self) -> tuple[ClothNeed, ...]:
        """Cloths that must be bought."""
        return tuple(need for need in self.needs.cloths if need.to_buy_m > 0)

    @property
    def short_notions(self) -> tuple[NotionNeed, ...]:
        """Notions that must be bought."""
        return tuple(need for need in self.needs.notions if need.to_buy_packs)


def _joined(remarks: Sequence[str]) -> str:
    """One behind the other; behind a full stop begins a new sentence."""
    text = remarks[0]
    for one in remarks[1:]:
        text += f" {one[:1].upper()}{one[1:]}" if text.endswith(".") else f"; {one}"
    return text


#: As much of a need, and of what it is of, as is summed: many rows lead to few batches, cloths and notions.
_NEED = ("lay_m", "least_packs", "is_estimate")
_OF_NEED = {
    "batch": ("number", "due_on"),
    "fabric_colour": ("name",),
    "fabric_colour__fabric": ("name", "damage_percent"),
    "notion_colour": ("name",),
    "notion_colour__notion": ("name",),
}
_NEEDS = KeptShared(
    lambda: (
        BatchNeed.objects.of_batches_in_work()
        .with_rest()
        .with_flaws_told()
        .with_settled()
        .order_by("batch_id")
    ),
    _OF_NEED,
    own=_NEED,
    noted=["rest", "any_flaws", "is_settled", "has_rolls"],
)


def what_to_buy(*, say_lots: bool = True) -> Buying:
    """Sums what planned batches still need and compares it with what is on hand, and with plies that fit on nothing
    there. Five queries, with the workroom's three more where cloth is short, and one where rolls have flaws.

    `say_lots`: of which shade lot less would do, which takes two of these, and which rolls lack what lays count on;
    no figure changes by it.
    """
    rows = _NEEDS.read()
    promised = StillPromised()
    lost = lost_at_flaws(promised) if any(row.any_flaws for row in rows) else {}
    cloth_sums, notion_sums = _summed(rows, lost)
    waiting: dict[ClothKey | NotionKey, tuple[tuple[str, ...], date | None]] = {}
    for key, total in (*cloth_sums.items(), *notion_sums.items()):
        waiting[key] = (tuple(total.batches), total.first_day)
    cloths = cloth_specs() if cloth_sums else {}
    notions = notion_specs() if notion_sums else {}
    shop = Workshop({}, cloths, notions)
    needs = Needs(
        tuple(_cloth_need(cloths[key], total) for key, total in sorted(cloth_sums.items())),
        tuple(_notion_need(notions[key], total) for key, total in sorted(notion_sums.items())),
        (),
        (),
    )
    lots: dict[ClothKey, str] = {}
    ends: dict[ClothKey, str] = {}
    if cloth_sums and (short := short_of_all(promised)):
        display = Workroom.the().display
        needs = with_short(needs, shop, short, display)
        ends = {
            need.cloth: in_words(short[need.cloth], display)
            for need in needs.cloths
            # Of an estimate it is said with how that is reckoned.
            if need.short_m and need.in_stock_m > 0 and not need.is_estimate
        }
        lots = lots_that_do(shop, kept_units(), display) if say_lots else {}
        needs = with_lots(needs, lots)
    to_buy = {need.cloth for need in needs.cloths if need.to_buy_m > 0}
    said = {key: lots[key] for key in lots if key in to_buy}
    lack = lacking(promised) if cloth_sums and say_lots else {}
    return Buying(needs, shop, waiting, _not_settled(cloth_sums), said, ends, lack)


def _summed(
    rows: Iterable[BatchNeed], lost: Mapping[tuple[str, ClothKey], Decimal]
) -> tuple[dict[ClothKey, _Sum], dict[NotionKey, _Sum]]:
    """What is still needed of each cloth and notion; `lost` is what a batch loses of a cloth at flaws (m)."""
    cloth_sums: dict[ClothKey, _Sum] = defaultdict(_Sum)
    notion_sums: dict[NotionKey, _Sum] = defaultdict(_Sum)
    for row in rows:
        if row.rest < 0.001:
            continue
        if row.fabric_colour:
            key = cloth_key(row.fabric_colour)
            cloth_sums[key].add(row, lost.get((row.batch.number, key), Decimal(0)))
        elif row.notion_colour:
            notion_sums[NotionKey(row.notion_colour.notion.name, row.notion_colour.name)].add(row)
    return cloth_sums, notion_sums


def _not_settled(cloth_sums: Mapping[ClothKey, _Sum]) -> dict[ClothKey, str]:
    """Cloths whose metres may still change, in words."""
    moving = {
        key: not_settled_in_words(
            is_nested=not total.is_estimate, is_settled=total.is_settled, has_rolls=total.has_rolls
        )
        for key, total in cloth_sums.items()
    }
    return {key: words for key, words in moving.items() if words}


def _cloth_need(cloth: Cloth, total: _Sum) -> ClothNeed:
    need_m = float(total.need)
    buy = buy_cloth(need_m - cloth.in_stock_m, cloth)
    return ClothNeed(
        cloth=cloth.key,
        area_mm2=0.0,
        lay_m=float(total.lay_m),
        need_m=need_m,
        in_stock_m=cloth.in_stock_m,
        to_buy_m=buy.length_m,
        to_buy_packs=buy.sold,
        cost=buy.cost,
        is_estimate=total.is_estimate,
        how="some lays are not nested yet" if total.is_estimate else "from the nested lays",
        lost_m=float(total.lost_m),
    )


def _notion_need(notion: Notion, total: _Sum) -> NotionNeed:
    need, at_once = float(total.need), total.threads_at_once
    to_buy = packs_to_buy(notion, need, at_once)
    return NotionNeed(
        key=notion.key,
        unit=notion.unit,
        need=need,
        in_stock=notion.in_stock,
        to_buy_packs=to_buy,
        least_packs=cones_needed(need, float(notion.pack_quantity), at_once),
        pack=notion.pack,
        cost=to_buy * notion.pack_price,
        how=f"a machine takes {at_once} at once" if at_once else "",
        threads_at_once=at_once,
    )
