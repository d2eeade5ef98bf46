"""A batch as lists show it: its garments kind by kind, and in the list of batches what comes next."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from planner.core.spec import Demand, Workshop
from planner.cutting.models import Batch
from planner.cutting.wording import options_in_words
from planner.orders.due import Due, due_words


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
