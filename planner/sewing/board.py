"""What the board shows: batches on the go, their bundles, and what waits at which machine."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.core.paginator import Page, Paginator

from planner.core.listed import counted
from planner.cutting.models import Batch
from planner.orders.due import Due, due_words
from planner.sewing.progress import BundleState, Stage

#: Where a bundle that is sewn waits; stands among the machines.
CHECKING = "the check"
#: Bundles of a batch that stand on one page.
MOST_CARDS = 120


def station(state: BundleState) -> str:
    """The machine at which a bundle waits, CHECKING once it is sewn; "" where it waits at none."""
    if state.stage == Stage.SEWN:
        return CHECKING
    operation = state.next_operation
    return operation.machine if operation and state.is_cut else ""


@dataclass(frozen=True)
class Card:
    """One bundle, small."""

    number: str
    token: str
    style: str
    options: str
    size: str
    quantity: int
    colourway: str
    swatch: str
    thread: str
    thread_swatch: str
    stage: Stage
    steps_done: int
    steps: int
    next_step: str
    station: str


def card_of(state: BundleState, swatches: Mapping[int, str]) -> Card:
    """A bundle's card. No query."""
    bundle = state.bundle
    thread = bundle.colourway.thread
    operation = state.next_operation
    return Card(
        number=bundle.number,
        token=bundle.token,
        style=bundle.style.number,
        options=", ".join(name for _, name in state.options),
        size=bundle.size.name,
        quantity=bundle.quantity,
        colourway=bundle.colourway.name,
        swatch=swatches.get(bundle.colourway_id, ""),
        thread=(thread.name or thread.notion.name) if thread else "",
        # A thread that is kept without colours has none: cloths of all colours are sewn with it.
        thread_swatch=thread.swatch if thread and thread.name else "",
        stage=state.stage,
        steps_done=state.steps_done,
        steps=len(state.steps),
        next_step="check" if state.stage == Stage.SEWN else operation.name if operation else "",
        station=station(state),
    )


@dataclass(frozen=True)
class Measure:
    """One tape: so many bundles of a batch are that far."""

    name: str
    done: int
    total: int


@dataclass(frozen=True)
class BoardBatch:
    """A batch with its tapes; `cards` are a page of those asked for, `finished` the number of checked ones left out."""

    batch: Batch
    due: Due | None
    tapes: tuple[Measure, ...]
    cards: Page[Card]
    finished: int
    can_finish: bool
    is_nested: bool


@dataclass(frozen=True)
class ThreadGroup:
    """Bundles that wait at one machine and are sewn with one thread colour."""

    thread: str
    swatch: str
    cards: tuple[Card, ...]


@dataclass(frozen=True)
class StationGroup:
    """What waits at one machine, by thread colour: threading rules small lots."""

    station: str
    bundles: int
    garments: int
    threads: tuple[ThreadGroup, ...]


@dataclass(frozen=True)
class Board:
    """The whole board. `batches` are those of one page."""

    answer: str
    batches: tuple[BoardBatch, ...]
    stations: tuple[StationGroup, ...]


def make_board(
    page: Sequence[Batch],
    states: Iterable[BundleState],
    swatches: Mapping[int, str],
    today: date,
    *,
    machine: str = "",
    missing: str = "",
    asked: str | None = None,
) -> Board:
    """The board from what was read: `states` of all batches on the go, of which `page` are shown. No query.

    `missing` says why a batch that was asked for by itself is not among them. `asked` is the number of the page of its
    bundles, where they are so many; None for the first one of each batch.
    """
    states = list(states)
    cards = {state.bundle.pk: card_of(state, swatches) for state in states}
    of_batch: dict[int, list[BundleState]] = defaultdict(list)
    for state in states:
        of_batch[state.bundle.batch_id].append(state)
    return Board(
        missing or _answer(states),
        tuple(_board_batch(batch, of_batch[batch.pk], cards, today, machine, asked) for batch in page),
        _stations(cards.values()),
    )


def _board_batch(
    batch: Batch,
    states: Sequence[BundleState],
    cards: Mapping[int, Card],
    today: date,
    machine: str,
    asked: str | None,
) -> BoardBatch:
    total = len(states)
    stages = Counter(state.stage for state in states)
    checked = stages[Stage.CHECKED]
    sewn = checked + stages[Stage.SEWN]
    begun = sewn + stages[Stage.SEWING]
    cut = begun + stages[Stage.CUT]
    tapes = [("cut", cut), ("begun", begun), ("sewn", sewn), ("checked", checked)]
    open_cards = [cards[s.bundle.pk] for s in states if s.stage != Stage.CHECKED]
    wanted = [card for card in open_cards if not machine or card.station == machine]
    return BoardBatch(
        batch=batch,
        due=due_words(batch.due_on, today) if batch.due_on else None,
        tapes=tuple(Measure(name, done, total) for name, done in tapes),
        cards=Paginator(wanted, MOST_CARDS).get_page(asked),
        finished=checked,
        can_finish=total > 0 and checked == total,
        is_nested=total > 0,
    )


def _stations(cards: Iterable[Card]) -> tuple[StationGroup, ...]:
    """The machine with the most waiting first, the check last; threads by name."""
    waiting: dict[str, dict[tuple[str, str], list[Card]]] = defaultdict(lambda: defaultdict(list))
    for card in cards:
        if card.station:
            # At the check no thread is needed: one heap.
            thread = ("", "") if card.station == CHECKING else (card.thread, card.thread_swatch)
            waiting[card.station][thread].append(card)
    groups = [
        StationGroup(
            name,
            sum(len(found) for found in threads.values()),
            sum(card.quantity for found in threads.values() for card in found),
            tuple(ThreadGroup(*key, tuple(found)) for key, found in sorted(threads.items())),
        )
        for name, threads in waiting.items()
    ]
    return tuple(sorted(groups, key=lambda g: (g.station == CHECKING, -g.bundles, g.station)))


def bundles_words(count: int) -> str:
    """ "1 bundle", "5 bundles"."""
    return counted(count, "bundle")


def not_there(number: str, batch: Batch | None) -> str:
    """Why nothing of the batch that was asked for stands on the board; None where there is no such batch."""
    if batch is None:
        return f"There is no batch {number}."
    state = batch.get_state_display()
    return f"{number} is {state}, so nothing of it stands on the board."


def _answer(states: Sequence[BundleState]) -> str:
    """What waits, in one line."""
    if not states:
        return "No batch is planned, so there is nothing to sew."
    at = Counter(name for state in states if (name := station(state)))
    uncut = sum(state.stage == Stage.TABLE for state in states)
    checking = at.pop(CHECKING, 0)
    parts = [f"{bundles_words(n)} at the {machine}" for machine, n in at.most_common(3)]
    rest = sum(at.values()) - sum(n for _, n in at.most_common(3))
    if rest:
        parts.append(f"{rest:,} at other machines")
    if checking:
        parts.append(f"{bundles_words(checking)} to be checked")
    words = f"Waiting: {', '.join(parts)}." if parts else ""
    if uncut:
        words += f" {bundles_words(uncut)} still to be cut."
    return words.strip() or "Everything is sewn and checked."
