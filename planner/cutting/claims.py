"""Who has a claim on the stock, seen from one batch: what others still have to take of each thing, and what it has.

Of two batches the one with the lower key was planned first. A batch meets the claims of those before it. Of those after
it that are being cut it meets only what is promised to them from rolls, for these lie on the table.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from django.db.models import Q

from planner.common.kept_questions import Given, KeptQuestion
from planner.core.rolls import PliesShort
from planner.core.spec import ClothKey, NotionKey
from planner.cutting.flaws_ahead import lost_at_flaws
from planner.cutting.models import Batch, BatchNeed
from planner.cutting.querysets import BatchNeedQuerySet
from planner.cutting.short_cloth import short_of_all
from planner.materials.models import Workroom
from planner.materials.promised import Promise, StillPromised

Key = ClothKey | NotionKey


class OneWaiting(NamedTuple):
    """A batch that still has to take some of a thing, and the cones of it that it is threaded with at once."""

    batch_pk: int
    number: str
    rest: Decimal
    cones: int


@dataclass
class OthersClaim:
    """What other batches still have to take of one thing: `rest`, in metres of cloth or in the notion's unit.

    `by` are the numbers of these batches, in the order they were planned; `waiting` has each of those planned earlier
    with its share, and `most_cones` is the most cones one of them is threaded with at once.

    The rest is for cloth only. `on_rolls_m` is promised from rolls, with what these lose at flaws; each promise is
    rounded up to the next centimetre, which adds up to `rounded_m`. `off_rolls_of` are the metres of each batch, as
    bought, that are promised from no roll; `short` are those of their plies that fit on nothing in stock.
    """

    rest: Decimal = Decimal(0)
    by: list[str] = field(default_factory=list)
    waiting: list[OneWaiting] = field(default_factory=list)
    most_cones: int = 0
    on_rolls_m: Decimal = Decimal(0)
    rounded_m: Decimal = Decimal(0)
    off_rolls_of: dict[str, Decimal] = field(default_factory=dict)
    short: tuple[PliesShort, ...] = ()

    @property
    def off_rolls_m(self) -> Decimal:
        """Metres, as bought, that are promised from no roll."""
        return sum(self.off_rolls_of.values(), Decimal(0))

    def add_lost(self, lost_m: Decimal) -> None:
        """Counts metres that plies of a later batch lose at flaws of the rolls they come from."""
        self.on_rolls_m += lost_m
        self.rest += lost_m

    def add_promise_to_later(self, promise: Promise) -> None:
        """Counts what a batch planned later takes from a roll."""
        self.on_rolls_m += promise.metres
        self.rest += promise.metres
        if promise.batch not in self.by:
            self.by.append(promise.batch)

    def add_promise_to_earlier(self, promise: Promise) -> None:
        """Notes that part of what a batch planned earlier has to take, counted already, comes from a roll."""
        exact_m = Decimal(repr(promise.exact_mm * promise.plies.plies)) / 1000
        self.on_rolls_m += promise.metres
        self.rounded_m += promise.metres - exact_m
        self.off_rolls_of[promise.batch] -= exact_m


@dataclass
class OwnClaim:
    """What one thing is to the batch itself, in metres of cloth or in the notion's unit.

    `met` has left the stock for it already: of cloth the metres really used, however many were planned. `rest` is what
    it still has to take, of which `lost_m` is lost at flaws of its rolls where that exceeds the usual allowance for
    flaws. `is_settled`: it needs no more of it. `on_rolls_m` is promised to it from rolls while it is being cut, so
    nobody else can have it.
    """

    met: Decimal = Decimal(0)
    rest: Decimal = Decimal(0)
    lost_m: Decimal = Decimal(0)
    is_settled: bool = False
    on_rolls_m: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Shelf:
    """The stock of one thing as a batch meets it, in metres or pieces.

    `on_hand` lies on the shelf. `spoken_for` is what batches planned earlier (`by`) still have to take, and `to_come`
    what must be bought for them (`packs_to_come` in packs, of cloth as it is sold); of cloth only where they leave some
    of that. What they leave is `coming`, and `bought_for` are the batches it is bought for. `met` has left the stock
    for the batch itself.
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


@dataclass
class Claims:
    """The claims on everything in stock as one batch meets them: those of `others`, and its `own`.

    `keep_m` is the shortest end of cloth worth keeping. `promised` is what lays of all batches are promised; it is read
    when it is first asked for. `shelves` is the stock of each thing with these claims taken off, noted by
    :func:`planner.cutting.stock.free_workshop` as it reads the stock.
    """

    others: dict[Key, OthersClaim] = field(default_factory=lambda: defaultdict(OthersClaim))
    own: dict[Key, OwnClaim] = field(default_factory=lambda: defaultdict(OwnClaim))
    shelves: dict[Key, Shelf] = field(default_factory=dict)
    keep_m: Decimal = Decimal(0)
    promised: StillPromised = field(default_factory=StillPromised, compare=False)

    def others_of(self, key: Key) -> OthersClaim:
        """What others have to take of a thing; an empty claim where nobody wants it."""
        return self.others.get(key) or OthersClaim()

    def own_of(self, key: Key) -> OwnClaim:
        """What the thing is to the batch itself; an empty claim where it does not need it."""
        return self.own.get(key) or OwnClaim()

    @property
    def spoken_for(self) -> dict[Key, Decimal]:
        """What others still have to take of each thing; only things they have to take some of."""
        return {key: claim.rest for key, claim in self.others.items() if claim.rest}

    @property
    def met(self) -> dict[Key, Decimal]:
        """What has left the stock for the batch already, of each thing it needs."""
        return {key: claim.met for key, claim in self.own.items()}

    @property
    def settled(self) -> set[Key]:
        """Things the batch needs no more of."""
        return {key for key, claim in self.own.items() if claim.is_settled}

    @property
    def lost_m(self) -> dict[ClothKey, Decimal]:
        """What the batch is still to lose at flaws, of cloths where that exceeds the usual allowance."""
        return {
            key: claim.lost_m for key, claim in self.own.items() if claim.lost_m and isinstance(key, ClothKey)
        }


class _Need(NamedTuple):
    """A need of a batch, as :data:`_COLUMNS` reads it: of a cloth or of a notion."""

    fabric: str | None
    fabric_colour: str
    damage_percent: Decimal
    notion: str
    notion_colour: str
    batch_pk: int
    number: str
    cones: int
    need: Decimal
    taken: Decimal
    rest: float
    any_flaws: bool

    @property
    def key(self) -> Key:
        if self.fabric is not None:
            return ClothKey(self.fabric, self.fabric_colour)
        return NotionKey(self.notion, self.notion_colour)

    @property
    def planned_rest(self) -> Decimal:
        """What is still to take as planned, to the millimetre or thousandth."""
        return round(Decimal(self.rest), 3)

    def rest_with(self, lost_m: Decimal) -> Decimal:
        """What is still to take where so many metres are lost at flaws."""
        if not lost_m:
            return self.planned_rest
        return rest_with_lost(self.planned_rest, self.damage_percent, lost_m)


_COLUMNS = (
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


def _needs_met() -> BatchNeedQuerySet:
    earlier = Q(batch__in=Batch.objects.in_work().order_by(), batch_id__lt=Given("batch"))
    on_the_table = Q(batch__state=Batch.State.CUTTING, fabric_colour__isnull=False)
    needs = BatchNeed.objects.with_rest().with_flaws_told()
    return needs.filter(earlier | on_the_table | Q(batch=Given("batch"))).order_by("batch_id")


_NEEDS_MET = KeptQuestion(lambda: _needs_met().values_list(*_COLUMNS))
_ALL_NEEDS = KeptQuestion(
    lambda: (
        BatchNeed.objects.with_rest().with_flaws_told().of_batches_in_work().order_by().values_list(*_COLUMNS)
    )
)


def claims(batch: Batch | None) -> Claims:
    """The claims on the stock as `batch` meets them; anything new (None) comes after all others.

    One query, one more where others want cloth, and two more where plies come from rolls with flaws.
    """
    rows = _ALL_NEEDS.ask() if batch is None else _NEEDS_MET.ask(batch=batch.pk)
    needs = [_Need(*row) for row in rows]
    found = Claims()
    lost = lost_at_flaws(found.promised) if any(need.any_flaws for need in needs) else {}
    later: set[tuple[str, Key]] = set()
    for need in needs:
        key = need.key
        lost_m = lost.get((need.number, key), Decimal(0)) if isinstance(key, ClothKey) else Decimal(0)
        if batch is not None and need.batch_pk == batch.pk:
            _add_own(found.own[key], need, lost_m, is_done=batch.state == Batch.State.DONE)
        elif not need.rest_with(lost_m):
            continue
        elif batch is None or need.batch_pk < batch.pk:
            _add_earlier(found.others[key], need, lost_m)
        else:
            found.others[key].add_lost(lost_m)
            later.add((need.number, key))
    if any(isinstance(key, ClothKey) for key in found.others):
        _add_promises(found, batch, later)
    return found


def _add_earlier(claim: OthersClaim, need: _Need, lost_m: Decimal) -> None:
    """Counts what a batch planned earlier still has to take of a thing."""
    rest = need.rest_with(lost_m)
    claim.rest += rest
    claim.by.append(need.number)
    claim.waiting.append(OneWaiting(need.batch_pk, need.number, rest, need.cones))
    claim.most_cones = max(claim.most_cones, need.cones)
    if need.fabric is not None:
        claim.on_rolls_m += lost_m
        as_bought_m = need.planned_rest / (1 + need.damage_percent / 100)
        claim.off_rolls_of[need.number] = claim.off_rolls_of.get(need.number, Decimal(0)) + as_bought_m


def _add_own(claim: OwnClaim, need: _Need, lost_m: Decimal, *, is_done: bool) -> None:
    """Counts what the batch itself has taken of a thing, and what it still has to take."""
    planned, rest = need.planned_rest, need.rest_with(lost_m)
    # Plies that were cut without their metres being told count as planned.
    claim.met += need.taken if need.fabric is not None and need.taken else need.need - planned
    claim.rest += rest
    if rest > planned:
        claim.lost_m = lost_m
    claim.is_settled = claim.is_settled or not rest or is_done


def _add_promises(found: Claims, batch: Batch | None, later: set[tuple[str, Key]]) -> None:
    """Adds which part of the cloth that others want comes from rolls, and which fits on nothing there. One query.

    `later`: batches (number) planned later that are being cut, with the cloth they want.
    """
    for names, promises in found.promised.from_rolls().items():
        key = ClothKey(*names)
        for promise in promises:
            is_own = batch is not None and promise.batch == batch.number
            if batch is not None and is_own and batch.state == Batch.State.CUTTING:
                found.own[key].on_rolls_m += promise.metres
            elif (promise.batch, key) in later:
                found.others[key].add_promise_to_later(promise)
            elif key in found.others and promise.batch in found.others[key].by:
                found.others[key].add_promise_to_earlier(promise)
    for key, short in short_of_all(found.promised, before=batch).items():
        if key in found.others and found.others[key].by:
            found.others[key].short = short
    found.keep_m = Workroom.the().keep_remnant_m


def rest_with_lost(rest: Decimal, damage_percent: Decimal, lost_m: Decimal) -> Decimal:
    """Metres still to take of a cloth whose plies lose `lost_m` at flaws noted on their rolls.

    `rest` holds the usual allowance of `damage_percent` for flaws. That allowance is meant for noted flaws too, so the
    larger of both counts.
    """
    return max(rest, round(rest / (1 + damage_percent / 100) + lost_m, 3))
