"""What of the stock is there for a batch: on hand, less what batches planned before it have spoken for.

Where the stock does not even do for those, whole packs are bought for them; what they leave of these packs is there for
the next. Bought batch by batch it is thereby as many packs as bought for all at once.

Cloth goes by its pieces: what plies are to be cut from is spoken for, plies that fit on no piece are bought whole, and
what is so bought for others leaves nothing but ends that are worth keeping.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace
from decimal import Decimal

from django.db.models import Q

from planner.common.kept_questions import Given, KeptQuestion
from planner.core.cloth import ClothBuy, buy_cloth, need_for_lay_m
from planner.core.notions.thread import cones_on_hand, packs_to_buy
from planner.core.rolls import PliesShort
from planner.core.spec import Cloth, ClothKey, Notion, NotionKey, Workshop
from planner.cutting.flaws_ahead import lost_at_flaws
from planner.cutting.models import Batch, BatchNeed
from planner.cutting.querysets import BatchNeedQuerySet
from planner.cutting.short_cloth import bought_whole, short_of_all
from planner.materials.models import Workroom
from planner.materials.promised import StillPromised
from planner.papers.figures import up
from planner.styles.specs import workshop

Key = ClothKey | NotionKey


@dataclass(frozen=True, slots=True)
class Shelf:
    """The stock of one thing as a batch meets it, in metres or pieces.

    `on_hand` lies on the shelf. `spoken_for` is what batches planned earlier (`by`) still have to take, `to_come` what
    must be bought for them, of cloth only where they leave some of that; what they leave is `coming`, and
    `bought_for` are those it is bought for. `met` has left the stock for the batch itself.
    """

    on_hand: Decimal
    spoken_for: Decimal = Decimal(0)
    by: tuple[str, ...] = ()
    to_come: Decimal = Decimal(0)
    packs_to_come: Decimal = Decimal(0)
    met: Decimal = Decimal(0)
    coming: Decimal = Decimal(0)
    bought_for: tuple[str, ...] = ()

    @property
    def there(self) -> Decimal:
        """What is there for the batch: free on the shelf or in what is to come, or cut or taken for it already."""
        return self.on_shelf + self.coming + self.met

    @property
    def on_shelf(self) -> Decimal:
        """What lies on the shelf for the batch: not promised to others."""
        return max(Decimal(0), self.on_hand + self.to_come - self.spoken_for - self.coming)

    @property
    def promised(self) -> Decimal:
        """What of the shelf is promised to others (`by`)."""
        return self.on_hand - self.on_shelf


@dataclass(frozen=True)
class Claims:
    """Who has a claim on the stock, seen from one batch: metres of cloths, quantities of notions.

    `spoken_for` is what other batches still have to take, `by` which batches these are, `threads_at_once` the most
    cones one of them is threaded with; `of_batches` has the same of each: key, number, what it has to take, cones.
    `met` is how much has left the stock for this batch already (of cloth the metres really used, however many were
    planned), `rest` what it still has to take, `settled` what it has no further need of.
    `lost_m` of that rest is lost at flaws of its rolls, where it is more than is kept for flaws. `shelves` is the stock
    of everything as the batch meets it, noted when it is read by :func:`free_workshop`.

    Of cloth that others want `on_rolls_m` is promised from rolls, each row up to the next centimetre, which is
    `rounded_m` in all, with what these lose at flaws; `off_rolls_m` of plies is not, as bought, of which `short` fits
    on nothing there; `off_rolls_of` has the same of each batch. An end of `keep_m` is worth keeping. `promised` is
    where that was read, None where nobody wants cloth.

    Of batches planned later that are being cut (`later`: number, cloth) only that counts which is promised to them from
    rolls: these lie on the table. So `own_rolls_m` of a batch that is being cut is nobody else's.
    """

    spoken_for: dict[Key, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    by: dict[Key, list[str]] = field(default_factory=lambda: defaultdict(list))
    threads_at_once: dict[Key, int] = field(default_factory=lambda: defaultdict(int))
    of_batches: dict[Key, list[tuple[int, str, Decimal, int]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    met: dict[Key, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    rest: dict[Key, Decimal] = field(default_factory=dict)
    settled: set[Key] = field(default_factory=set)
    lost_m: dict[ClothKey, Decimal] = field(default_factory=dict)
    shelves: dict[Key, Shelf] = field(default_factory=dict)
    on_rolls_m: dict[ClothKey, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    rounded_m: dict[ClothKey, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    off_rolls_m: dict[ClothKey, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    off_rolls_of: dict[tuple[ClothKey, str], Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    short: dict[ClothKey, tuple[PliesShort, ...]] = field(default_factory=dict)
    keep_m: Decimal = Decimal(0)
    promised: StillPromised | None = None
    later: set[tuple[str, ClothKey]] = field(default_factory=set)
    own_rolls_m: dict[ClothKey, Decimal] = field(default_factory=lambda: defaultdict(Decimal))

    def shelf_of_cloth(self, cloth: Cloth) -> Shelf:
        """The stock of a cloth as it was read, all batches together."""
        on_hand, met = Decimal(str(cloth.in_stock_m)), self.met.get(cloth.key, Decimal(0))
        if not self.spoken_for.get(cloth.key):
            return Shelf(on_hand, met=met)
        from_stock, to_buy = self._of_others(cloth)
        for_others = max(on_hand - self.own_rolls_m[cloth.key], Decimal(0))
        by_metres = self.spoken_for[cloth.key] - for_others
        bought, wanted = buy_cloth(float(by_metres), cloth), max(by_metres, to_buy, Decimal(0))
        short = self.short.get(cloth.key, ())
        whole = bought_whole(short, cloth) if short else None
        if whole is not None and whole.buy.length_m > bought.length_m:
            bought = whole.buy
        coming = _left_of(bought, wanted)
        if coming < self.keep_m:
            coming = Decimal(0)
        taken = min(from_stock, max(for_others, min(self.on_rolls_m[cloth.key], on_hand)))
        # The centimetres their rows are rounded up by are nothing to buy for.
        lacking = self.rest.get(cloth.key, Decimal(0)) - (on_hand - taken)
        if 0 < lacking <= self.rounded_m[cloth.key]:
            taken -= lacking
        come = Decimal(str(bought.length_m)) if coming else Decimal(0)
        by = tuple(self.by.get(cloth.key, ()))
        buying = tuple(number for number in by if self.off_rolls_of[cloth.key, number] > SAME_M)
        return Shelf(on_hand, taken + come - coming, by, come, bought.sold, met, coming, buying or by)

    def _of_others(self, cloth: Cloth) -> tuple[Decimal, Decimal]:
        """What others are to take of the stock, and what they need of cloth to be bought: metres as bought.

        Of plies that were not dealt to pieces yet it is not known which, so all of them are to come from stock, with
        what is kept for flaws.
        """
        key = cloth.key
        short_mm = sum(one.plies * one.ply_mm for one in self.short.get(key, ()))
        to_buy = Decimal(repr(need_for_lay_m(short_mm / 1000.0, cloth)))
        flaws = 1 + Decimal(repr(cloth.damage_share))
        not_dealt = self.off_rolls_m[key] * flaws - to_buy
        return self.on_rolls_m[key] + (up(not_dealt, 3) if not_dealt > SAME_M else 0), to_buy

    def shelf_of_notion(self, notion: Notion) -> Shelf:
        """The stock of a notion as it was read, all batches together."""
        key, spoken_for = notion.key, self.spoken_for.get(notion.key, Decimal(0))
        packs = packs_to_buy(notion, float(spoken_for), self.threads_at_once.get(key, 0)) if spoken_for else 0
        to_come = packs * notion.pack_quantity
        lacking = max(spoken_for - notion.in_stock, Decimal(0))
        return Shelf(
            notion.in_stock,
            spoken_for,
            tuple(self.by.get(key, ())),
            to_come,
            Decimal(packs),
            self.met.get(key, Decimal(0)),
            max(to_come - lacking, Decimal(0)),
            self._bought_for(notion),
        )

    def _bought_for(self, notion: Notion) -> tuple[str, ...]:
        """The batches that packs of a notion are to be bought for: from stock and the packs before they lack some."""
        wanted, cones, packs = Decimal(0), 0, 0
        found = []
        for _, number, rest, at_once in sorted(self.of_batches.get(notion.key, ())):
            wanted, cones = wanted + rest, max(cones, at_once)
            if (until := packs_to_buy(notion, float(wanted), cones)) > packs:
                found.append(number)
                packs = until
        return tuple(found)


#: Shorter is nothing: needs are kept rounded up to the millimetre.
SAME_M = Decimal("0.01")


def _left_of(bought: ClothBuy, wanted: Decimal) -> Decimal:
    """What is left of cloth bought for others who want so much of it."""
    return max(Decimal(str(bought.length_m)) - wanted, Decimal(0))


_CLAIM = (
    "fabric_colour__fabric__name",
    "fabric_colour__name",
    "fabric_colour__fabric__damage_percent",
    "notion_colour__notion__name",
    "notion_colour__name",
    "batch_id",
    "batch__number",
    "least_packs",
    "need",
    "taken",
    "rest",
    "any_flaws",
)


def _claims_met() -> BatchNeedQuerySet:
    earlier = Q(batch__in=Batch.objects.in_work().order_by(), batch_id__lt=Given("batch"))
    on_the_table = Q(batch__state=Batch.State.CUTTING, fabric_colour__isnull=False)
    needs = BatchNeed.objects.with_rest().with_flaws_told()
    return needs.filter(earlier | on_the_table | Q(batch=Given("batch"))).order_by("batch_id")


_CLAIMS_MET = KeptQuestion(lambda: _claims_met().values_list(*_CLAIM))
_ALL_CLAIMS = KeptQuestion(
    lambda: (
        BatchNeed.objects.with_rest().with_flaws_told().of_batches_in_work().order_by().values_list(*_CLAIM)
    )
)


def claims(batch: Batch | None) -> Claims:
    """The claims on the stock as `batch` meets them; anything new (None) comes after all others. One query, one more
    where others want cloth, and two more where plies come from rolls with flaws.

    Of two batches the one with the lower number was first.
    """
    found = Claims()
    rows = _ALL_CLAIMS.ask() if batch is None else _CLAIMS_MET.ask(batch=batch.pk)
    promised = StillPromised()
    lost = lost_at_flaws(promised) if any(row[-1] for row in rows) else {}
    for row in rows:
        fabric, fabric_colour, damage, notion, notion_colour = row[:5]
        batch_id, number, cones, need, taken, left = row[5:-1]
        rest = planned = round(Decimal(left), 3)
        key: Key = ClothKey(fabric, fabric_colour) if fabric is not None else NotionKey(notion, notion_colour)
        lost_m = lost.get((number, key), Decimal(0)) if isinstance(key, ClothKey) else Decimal(0)
        if lost_m:
            rest = rest_with_lost(planned, damage, lost_m)
        if batch is not None and batch_id > batch.pk:
            assert isinstance(key, ClothKey)
            if rest:
                found.on_rolls_m[key] += lost_m
                found.spoken_for[key] += lost_m
                found.later.add((number, key))
            continue
        if batch is None or batch_id != batch.pk:
            if rest:
                if isinstance(key, ClothKey):
                    found.on_rolls_m[key] += lost_m
                    found.off_rolls_m[key] += planned / (1 + damage / 100)
                    found.off_rolls_of[key, number] += planned / (1 + damage / 100)
                found.spoken_for[key] += rest
                found.by[key].append(number)
                found.of_batches[key].append((batch_id, number, rest, cones))
                found.threads_at_once[key] = max(found.threads_at_once[key], cones)
            continue
        # Where plies are cut without a word of their metres, the plan's count.
        used = taken if fabric is not None and taken else need - planned
        found.met[key] += used
        found.rest[key] = found.rest.get(key, Decimal(0)) + rest
        if isinstance(key, ClothKey) and rest > planned:
            found.lost_m[key] = lost_m
        if not rest or batch.state == Batch.State.DONE:
            found.settled.add(key)
    return _with_pieces(found, batch, promised) if found.off_rolls_m or found.later else found


def _with_pieces(found: Claims, batch: Batch | None, promised: StillPromised) -> Claims:
    """With what of the cloth that others want comes from rolls, and what of it fits on nothing there. One query."""
    is_cutting = batch is not None and batch.state == Batch.State.CUTTING
    for names, promises in promised.from_rolls().items():
        key = ClothKey(*names)
        for one in promises:
            if batch is not None and is_cutting and one.batch == batch.number:
                found.own_rolls_m[key] += one.metres
            elif (one.batch, key) in found.later:
                found.on_rolls_m[key] += one.metres
                found.spoken_for[key] += one.metres
                if one.batch not in found.by[key]:
                    found.by[key].append(one.batch)
            elif one.batch in found.by.get(key, ()):
                found.on_rolls_m[key] += one.metres
                metres = Decimal(repr(one.exact_mm * one.plies.plies)) / 1000
                found.rounded_m[key] += one.metres - metres
                found.off_rolls_m[key] -= metres
                found.off_rolls_of[key, one.batch] -= metres
    short = {key: own for key, own in short_of_all(promised, before=batch).items() if key in found.by}
    return replace(found, short=short, keep_m=Workroom.the().keep_remnant_m, promised=promised)


def rest_with_lost(rest: Decimal, damage_percent: Decimal, lost_m: Decimal) -> Decimal:
    """What is still to be taken of a cloth whose plies lose so much at flaws of their rolls, of a `rest` that has its
    allowance for flaws in it: this is for those that are noted too, so the larger of both counts.
    """
    return max(rest, round(rest / (1 + damage_percent / 100) + lost_m, 3))


def free_workshop(
    style_numbers: set[str] | None, batch: Batch | None = None, known: Claims | None = None
) -> Workshop:
    """The workshop with stock as far as it is there for `batch` (for anything new where None).

    A batch that was planned earlier and is not cut yet keeps what it needs, from the stock or from what is bought for
    it. What the batch itself has taken out counts as there, else it would be bought once more. `known` spares the
    query of :func:`claims`.
    """
    shop = workshop(style_numbers, marks=True)
    known = known or claims(batch)
    return replace(
        shop,
        cloths={key: _free_cloth(cloth, known) for key, cloth in shop.cloths.items()},
        notions={key: _free_notion(notion, known) for key, notion in shop.notions.items()},
    )


def _free_cloth(cloth: Cloth, known: Claims) -> Cloth:
    """What counts toward the least that is sold are also the metres, rolls or kg bought for others."""
    shelf = known.shelves[cloth.key] = known.shelf_of_cloth(cloth)
    least = max(Decimal(0), cloth.minimum_quantity - shelf.packs_to_come)
    there, coming = float(shelf.there), float(shelf.coming)
    return replace(cloth, in_stock_m=there, coming_m=coming, minimum_quantity=least)


def _free_notion(notion: Notion, known: Claims) -> Notion:
    """Batches are sewn one after the other: a cone that is spoken for is still there to thread a machine with."""
    shelf = known.shelves[notion.key] = known.shelf_of_notion(notion)
    cones = cones_on_hand(notion) + int(shelf.packs_to_come) if notion.kind == "thread" else notion.cones
    return replace(notion, in_stock=shelf.there, coming=shelf.coming, cones=cones)
