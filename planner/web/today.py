"""What there is to do today: sentences with links, gathered from all rooms."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from django.db.models import Count, DateField, Window
from django.urls import reverse

from planner.common.kept_questions import Given, KeptQuestion
from planner.common.shared_rows import KeptShared
from planner.cutting.buying import Buying, what_to_buy
from planner.cutting.filling import left_to_batch
from planner.cutting.models import Batch, Lay, Marker
from planner.cutting.wording import cloth_to_buy, packs_to_buy
from planner.materials.models import Fabric, Workroom
from planner.orders.due import day_words, due_words
from planner.orders.models import Order
from planner.sewing.board import CHECKING, bundles_words, station
from planner.sewing.progress import BundleState, Stage, states_on_the_go
from planner.styles.models import Style

#: Sentences of one kind before "and so many more".
SHOWN = 6


@dataclass(frozen=True)
class Line:
    """One sentence and where it leads."""

    text: str
    url: str


@dataclass(frozen=True)
class Heap:
    """Sentences of one kind, `total` of them; `more` says how many are not shown, and leads to all of them."""

    name: str
    lines: tuple[Line, ...]
    total: int
    more: Line | None = None
    is_late: bool = False


@dataclass(frozen=True)
class FirstStep:
    """One step of getting started; `done` where it has been taken."""

    text: str
    link: str
    url: str
    done: bool


@dataclass(frozen=True)
class Today:
    """The first page. `steps` only where there is nothing to say yet and the workroom is not set up whole."""

    headline: str
    heaps: tuple[Heap, ...]
    steps: tuple[FirstStep, ...] = ()


_LATE = KeptShared(
    lambda: (
        Order.objects.late(Given("today", DateField()))  # type: ignore[arg-type]
        .by_due_day()
        .annotate(in_all=Window(Count("pk")))[:SHOWN]
    ),
    {"customer": ("name",)},
    own=("number", "due_on"),
    noted=["in_all"],
)
#: What says of a marker whether it can be cut.
_LAID_BY = ("state", "seed", "length_mm")
_TO_CUT = KeptQuestion(
    lambda: (
        Lay.objects.to_cut()
        .with_turn()
        .with_standing()
        .order_by("batch__due_on", "batch", "number")
        .values_list(
            "batch__number", "batch__due_on", "is_moving", "waits", *(f"marker__{n}" for n in _LAID_BY)
        )
    )
)


def what_to_do(today: date) -> Today:
    """Everything there is to do, in a fixed number of queries: at most thirteen."""
    # Each row bears the number of all, which spares a query.
    late = _LATE.read(today=today)
    late_count = late[0].in_all if late else 0
    states = states_on_the_go()
    buying = what_to_buy(say_lots=False)  # the shade lots stand on the page behind the line
    heaps = [
        _late(late, late_count, today),
        _heap(
            "Buy", list(_to_buy(buying, today)), "buy-page", "thing on the buy list", "things on the buy list"
        ),
        _heap("Cut", list(_to_cut(today)), "batch-list", "batch to cut", "batches to cut"),
        _heap("Sew", list(_to_sew(states)), "sewing-board", "on the board", "on the board"),
        _heap("Plan", list(_to_plan()), "batch-list", "batch to plan", "batches to plan"),
    ]
    full = tuple(heap for heap in heaps if heap.lines)
    things = sum(heap.total for heap in full if not heap.is_late)
    steps = first_steps() if not full else ()
    return Today(_headline(things, late_count, is_new=bool(steps)), full, steps)


def _headline(things: int, late: int, *, is_new: bool) -> str:
    if is_new:
        return "Let us set up your workroom."
    to_do = (
        "Nothing to do today"
        if not things
        else f"{things} {'thing' if things == 1 else 'things'} to do today"
    )
    lateness = "nothing is late" if not late else f"{late:,} {'order is' if late == 1 else 'orders are'} late"
    return f"{to_do}; {lateness}."


def _heap(name: str, lines: list[Line], all_of_them: str, one: str, several: str) -> Heap:
    more = _more(len(lines) - SHOWN, all_of_them, one, several)
    return Heap(name, tuple(lines[:SHOWN]), len(lines), more)


def _more(rest: int, all_of_them: str, one: str, several: str) -> Line | None:
    """ "and 3 more late orders", with the way to them; None where all are shown."""
    return (
        Line(f"and {rest:,} more {one if rest == 1 else several}", reverse(all_of_them)) if rest > 0 else None
    )


def _late(orders: Iterable[Order], count: int, today: date) -> Heap:
    lines = []
    for order in orders:
        due = due_words(order.due_on, today)
        who = f"for {order.customer.name}" if order.customer else "for stock"
        text = f"{order.number} {who} is {due.off}: it was due {due.day}."
        lines.append(Line(text, reverse("order-detail", args=[order.number])))
    more = _more(count - len(lines), "order-list", "late order", "late orders")
    return Heap("Late", tuple(lines), count, more, is_late=True)


def _to_buy(buying: Buying, today: date) -> Iterator[Line]:
    """What is needed soonest first."""
    if not (buying.short_cloths or buying.short_notions):
        return
    display = Workroom.the().display
    found: list[tuple[date, str]] = []
    for need in buying.short_cloths:
        name = f"{need.cloth.fabric}, {need.cloth.colour}"
        words = f"{cloth_to_buy(need, buying.shop.cloths[need.cloth], display)} {name}"
        if need.is_estimate:
            words = f"about {words} (an estimate)"
        elif need.cloth in buying.not_settled:
            words += " (not settled yet)"
        found.append(_bought_for(words, buying.waiting[need.cloth], today))
    for one in buying.short_notions:
        name = f"{one.key.notion}, {one.key.colour}" if one.key.colour else one.key.notion
        found.append(_bought_for(f"{packs_to_buy(one)} {name}", buying.waiting[one.key], today))
    url = reverse("buy-page")
    for _, text in sorted(found, key=lambda pair: pair[0]):
        yield Line(text, url)


def _bought_for(words: str, waiting: tuple[tuple[str, ...], date | None], today: date) -> tuple[date, str]:
    """The sentence, with the first day of the batches that wait for it to sort by."""
    batches, day = waiting
    shown = f"{', '.join(batches[:2])}{' and others' if len(batches) > 2 else ''}"
    due = f", due {day_words(day, today)}" if day else ""
    return day or date.max, f"Buy {words} for {shown}{due}."


def _to_cut(today: date) -> Iterator[Line]:
    """Batch by batch, the first due first: lays that can be cut, those whose plan does not stand yet, those that wait
    for cloth, are still being nested, or failed.
    """
    rows: dict[tuple[str, date | None], Counter[str]] = defaultdict(Counter)
    for number, due_on, is_moving, waits, *values in _TO_CUT.ask():
        marker = Marker(**dict(zip(_LAID_BY, values, strict=True)))
        rows[number, due_on][_why_not(marker, is_moving=is_moving, waits=waits)] += 1
    for (number, due_on), counts in rows.items():
        url = reverse("batch-detail", args=[number])
        due = f", due {day_words(due_on, today)}" if due_on else ""
        if ready := counts[""]:
            yield Line(f"Cut {_lays(ready)} of {number}{due}.", url)
        for why, is_so, are_so in (
            (
                "moving",
                "is still being planned: wait with cutting",
                "are still being planned: wait with cutting",
            ),
            ("waits", "waits for cloth", "wait for cloth"),
            ("nesting", "is still being nested", "are still being nested"),
            ("failed", "could not be nested: look why", "could not be nested: look why"),
        ):
            if count := counts[why]:
                yield Line(f"{_lays(count)} of {number} {is_so if count == 1 else are_so}.", url)


def _why_not(marker: Marker, *, is_moving: bool, waits: bool) -> str:
    """Why a lay cannot be cut yet; "" where it can."""
    if marker.state == Marker.State.FAILED:
        return "failed"
    if is_moving:
        return "moving"
    if not marker.is_laid:
        return "nesting"
    return "waits" if waits else ""


def _lays(count: int) -> str:
    return f"{count:,} {'lay' if count == 1 else 'lays'}"


def _to_sew(states: Iterable[BundleState]) -> Iterator[Line]:
    """By machine, the longest queue first, then the check, then batches that can be finished."""
    board = reverse("sewing-board")
    waiting: dict[str, list[BundleState]] = defaultdict(list)
    batches: dict[str, list[BundleState]] = defaultdict(list)
    for state in states:
        batches[state.bundle.batch.number].append(state)
        if place := station(state):
            waiting[place].append(state)
    for place, there in sorted(
        waiting.items(), key=lambda pair: (pair[0] == CHECKING, -len(pair[1]), pair[0])
    ):
        wait = "waits" if len(there) == 1 else "wait"
        at = "to be checked" if place == CHECKING else f"at the {place}"
        text = f"{bundles_words(len(there))} {wait} {at}."
        yield Line(text, f"{board}?{urlencode({'machine': place})}")
    for number, all_of_it in batches.items():
        if all(state.stage == Stage.CHECKED for state in all_of_it):
            yield Line(f"{number} is sewn and checked: finish it.", f"{board}?{urlencode({'batch': number})}")


def _to_plan() -> Iterator[Line]:
    for number in (
        Batch.objects.filter(state=Batch.State.GATHERING).order_by("pk").values_list("number", flat=True)
    ):
        yield Line(f"{number} gathers orders: plan it.", reverse("batch-detail", args=[number]))
    if left := left_to_batch():
        words = "1 ordered garment is" if left == 1 else f"{left:,} ordered garments are"
        yield Line(f"{words} in no batch yet: make one.", reverse("batch-list"))


def first_steps() -> tuple[FirstStep, ...]:
    """How a new workroom gets to its first batch; empty once all steps are done. Four queries."""
    steps = (
        FirstStep(
            "Enter the cloth you sew with: its width, price and colours.",
            "Materials",
            reverse("fabric-list"),
            Fabric.objects.exists(),
        ),
        FirstStep(
            "Enter a style: sizes, pieces with outlines, seams and operations.",
            "Styles",
            reverse("style-list"),
            Style.objects.exists(),
        ),
        FirstStep(
            "Enter an order, or a make for stock.", "Orders", reverse("order-list"), Order.objects.exists()
        ),
        FirstStep(
            "Gather orders into a batch and plan it.",
            "Batches",
            reverse("batch-list"),
            Batch.objects.exists(),
        ),
    )
    return () if all(step.done for step in steps) else steps
