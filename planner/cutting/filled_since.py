"""Two people filling one batch: what it held when its page was read, and what was changed since."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace

from planner.core.listed import counted, listed
from planner.cutting.forms import Boxes
from planner.cutting.models import BatchItem
from planner.orders.models import LineQuantity, OrderLine

#: Garments of a line and size (pk each), and how many more may be cut.
Holds = Mapping[tuple[int, int], tuple[int, int]]


def holds_of(items: Iterable[BatchItem]) -> Holds:
    """What a batch holds."""
    return {(item.line_id, item.size_id): (item.quantity, item.extra_allowed) for item in items}


def mark_of(holds: Holds) -> str:
    """What a batch holds as its page carries it, hidden: "12.3.4.0 12.4.2.1" of line, size, garments, more."""
    return " ".join(".".join(map(str, (*key, *numbers))) for key, numbers in sorted(holds.items()))


def read_mark(mark: str) -> Holds:
    """What :func:`mark_of` made a mark of; nothing where it is none."""
    rows = [row.split(".") for row in mark.split()]
    if any(
        len(row) != 4 or not all(n.isascii() and n.isdigit() and len(n) < 19 for n in row) for row in rows
    ):
        return {}
    return {(int(line), int(size)): (int(n), int(more)) for line, size, n, more in rows}


def boxes_but_those_left(boxes: Boxes, rows: Iterable[LineQuantity], was: Holds) -> Boxes:
    """The boxes but for what stands in them as it did when the batch held what it `was`: nobody typed that."""
    before = {row.pk: was.get((row.line_id, row.size_id), (0, 0)) for row in rows}

    def typed(texts: Mapping[int, str], which: int) -> dict[int, str]:
        then = {pk: str(numbers[which] or "") for pk, numbers in before.items()}
        return {pk: text for pk, text in texts.items() if text != then.get(pk)}

    return replace(boxes, typed=typed(boxes.typed, 0), extra_typed=typed(boxes.extra_typed, 1))


def changed_in_words(was: Holds, now: Holds) -> str:
    """ "Since this page was opened, 3 garments of O-1050 were put in and 1 garment of O-1045 was taken out." It may
    have been the same person, at another page. One query.
    """
    keys = sorted(key for key in {*was, *now} if was.get(key) != now.get(key))
    orders = dict(
        OrderLine.objects.filter(pk__in={line for line, _ in keys}).values_list("pk", "order__number")
    )
    put: Counter[str] = Counter()
    taken: Counter[str] = Counter()
    more: dict[str, None] = {}
    for key in keys:
        order = orders.get(key[0], "an order line that is no more")
        (before, more_before), (after, more_after) = was.get(key, (0, 0)), now.get(key, (0, 0))
        put[order] += max(after - before, 0)
        taken[order] += max(before - after, 0)
        if before and after and more_before != more_after:
            more[order] = None
    parts = [f"{counted(n, 'garment')} of {order} {_was(n)} put in" for order, n in put.items() if n]
    parts += [f"{counted(n, 'garment')} of {order} {_was(n)} taken out" for order, n in taken.items() if n]
    parts += [f"how many more of {order} may be cut was changed" for order in more]
    return f"Since this page was opened, {listed(parts) or 'what it holds was changed'}."


def _was(number: int) -> str:
    return "was" if number == 1 else "were"
