"""How far an order is at the table and the machines, and whether it will be late."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Sum

from planner.core.listed import counted
from planner.cutting.models import Batch, BatchItem, Bundle
from planner.orders.due import Due, day_words, due_words
from planner.orders.models import LineQuantity, Order
from planner.sewing.progress import BundleState, Stage, read_states

#: Minutes one person sews in a day, for the warning that the time left is short (common practice: 8 hours).
DAY_MINUTES = 8 * 60

#: What a bundle of a stage counts for: a checked one is also sewn and cut.
_COUNTS_AS = {
    Stage.TABLE: (),
    Stage.CUT: ("cut",),
    Stage.SEWING: ("cut",),
    Stage.SEWN: ("cut", "sewn"),
    Stage.CHECKED: ("cut", "sewn", "checked"),
}

#: Style, options, colourway, size.
Kind = tuple[int, frozenset[int], int, int]


@dataclass(frozen=True)
class OrderProgress:
    """Garments of an order by how far they are; each count holds the ones after it. Minutes are an estimate."""

    order: Order
    ordered: int
    batched: int
    cut: int
    sewn: int
    checked: int
    minutes_left: float
    batches: tuple[Batch, ...]
    due: Due
    is_late: bool
    warning: str

    @property
    def is_ready(self) -> bool:
        """Everything ordered is checked."""
        return 0 < self.ordered <= self.checked

    @property
    def hours_words(self) -> str:
        """The minutes left as somebody would say them: "45 minutes", "2 h 46 min"."""
        minutes = max(1, round(self.minutes_left))
        return counted(minutes, "minute") if minutes < 60 else f"{minutes // 60} h {minutes % 60} min"

    @property
    def words(self) -> str:
        """How far it is, as somebody would say it."""
        if self.order.state != Order.State.OPEN:
            return f"This order is {self.order.get_state_display()}."
        if self.is_ready:
            all_of_it = "Its garment is" if self.ordered == 1 else f"All {self.ordered:,} garments are"
            return f"{all_of_it} checked: ready to be sent."
        if not self.batched:
            return "Nothing of it is in a batch yet."
        verb = "is" if 1 in {self.checked, self.ordered} else "are"
        parts = [f"{self.checked:,} of {counted(self.ordered, 'garment')} {verb} checked"]
        if self.cut < self.ordered:
            parts.append(f"{counted(self.ordered - self.cut, 'is', 'are')} still to be cut")
        if self.cut > self.sewn:
            parts.append(f"{self.cut - self.sewn:,} still to be sewn")
        return ", ".join(parts) + "."


@dataclass
class _Heap:
    """Garments of one kind in bundles that are not for one order line alone."""

    levels: Counter[str] = field(default_factory=Counter)
    total: int = 0
    minutes: float = 0.0

    def add(self, state: BundleState) -> None:
        quantity = state.bundle.quantity
        self.total += quantity
        self.levels.update(dict.fromkeys(_COUNTS_AS[state.stage], quantity))
        self.minutes += state.minutes_left


def order_progress(order: Order, today: date, lead_days: int) -> OrderProgress:
    """How far one order is, in a fixed number of queries; `lead_days` are those from cutting to dispatch.

    Bundles for one order line count for it. Where garments of several orders are in one bundle, those that are
    finished go to the orders in the order of their due days.
    """
    ordered = LineQuantity.objects.filter(line__order=order).aggregate(n=Sum("quantity"))["n"] or 0
    held_by = BatchItem.objects.filter(line__order=order).exclude(batch__state="cancelled")
    items = list(
        BatchItem.objects.filter(batch__in=held_by.order_by().values("batch"))
        .select_related("batch", "line__order")
        .prefetch_related("line__options")
    )
    states = read_states(Bundle.objects.filter(batch__in={item.batch_id for item in items}))
    mine: Counter[str] = Counter()
    minutes = 0.0
    for item, levels, share in _shared_out(items, states):
        if item.line.order_id == order.pk:
            mine.update(levels)
            minutes += share
    own = [item for item in items if item.line.order_id == order.pk]
    batched = sum(item.quantity for item in own)
    checked, cut = mine["checked"], mine["cut"]
    is_open = order.state == Order.State.OPEN
    late = is_open and order.due_on < today and checked < ordered
    waits = is_open and not late and checked < ordered
    return OrderProgress(
        order=order,
        ordered=ordered,
        batched=batched,
        cut=cut,
        sewn=mine["sewn"],
        checked=checked,
        minutes_left=minutes,
        batches=tuple(dict.fromkeys(item.batch for item in own)),
        due=due_words(order.due_on, today, still_open=is_open),
        is_late=late,
        warning=_warning(order.due_on, today, lead_days, ordered - cut, minutes) if waits else "",
    )


def _shared_out(
    items: Iterable[BatchItem], states: Iterable[BundleState]
) -> list[tuple[BatchItem, Mapping[str, int], float]]:
    """Each batch item with its garments by level and its share of the minutes left."""
    alone: dict[tuple[int, int, int], _Heap] = defaultdict(_Heap)
    shared: dict[tuple[int, Kind], _Heap] = defaultdict(_Heap)
    for state in states:
        bundle = state.bundle
        if bundle.line_id:
            alone[bundle.batch_id, bundle.line_id, bundle.size_id].add(state)
        else:
            options = frozenset(key for key, _ in state.options)
            kind = (bundle.style_id, options, bundle.colourway_id, bundle.size_id)
            shared[bundle.batch_id, kind].add(state)
    found = []
    unsewn_in = {key: heap.total - heap.levels["sewn"] for key, heap in shared.items()}
    for item in sorted(items, key=lambda i: (i.line.order.due_on, i.line.order_id, i.line_id)):
        own = alone[item.batch_id, item.line_id, item.size_id]
        heap = shared[item.batch_id, _kind(item)]
        # Extra garments are nobody's: what an order is told of is what it ordered.
        wants = max(0, item.quantity - own.total)
        levels: Counter[str] = Counter(own.levels)
        taken: Counter[str] = Counter()
        for level in ("cut", "sewn", "checked"):
            taken[level] = min(wants, heap.levels[level])
            heap.levels[level] -= taken[level]
        levels.update(taken)
        levels = Counter({level: min(count, item.quantity) for level, count in levels.items()})
        unsewn = unsewn_in.get((item.batch_id, _kind(item)), 0)
        share = heap.minutes * (wants - taken["sewn"]) / unsewn if unsewn else 0.0
        found.append((item, levels, own.minutes + share))
    return found


def _kind(item: BatchItem) -> Kind:
    line = item.line
    return (
        line.style_id,
        frozenset(option.pk for option in line.options.all()),
        line.colourway_id,
        item.size_id,
    )


def _warning(due_on: date, today: date, lead_days: int, uncut: int, minutes: float) -> str:
    """Why an order that is not late yet may become so; "" for no reason."""
    cut_by = due_on - timedelta(days=lead_days)
    if uncut and cut_by < today:
        return (
            f"It may be late: {counted(lead_days, 'day is', 'days are')} reckoned from cutting to dispatch, so it "
            f"should have been cut by {day_words(cut_by, today)}."
        )
    days = (due_on - today).days + 1
    if minutes > days * DAY_MINUTES:
        left = counted(days, "day")
        return f"It may be late: about {minutes / 60:.0f} hours of sewing are left and {left} to do it."
    return ""
