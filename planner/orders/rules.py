"""What may still change once a batch holds part of an order.

Cloth is bought and cut for what a batch holds, so that much of the order stands still: note, due day and
customer may change, quantities may grow and lines may be added; nothing may fall below what is batched.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence

from planner.core.listed import counted, listed
from planner.core.missing import clash_in_words
from planner.orders.data import LineData, Problem
from planner.orders.models import Order, OrderLine
from planner.orders.querysets import Clash, Held


def state_problems(order: Order) -> list[Problem]:
    """Why this order cannot be changed at all, empty where it can."""
    if order.state == Order.State.OPEN:
        return []
    return [Problem(f"{order.number} is {order.get_state_display()}. Reopen it first, then change it.")]


def duplicate_problems(order: Order, clashing: Mapping[int, Sequence[Clash]]) -> list[Problem]:
    """Why this order cannot be entered a second time; `clashing` are its lines with options that exclude each other."""
    pairs = dict.fromkeys(pair for of_line in clashing.values() for pair in of_line)
    return [
        Problem(f"{order.number} is not copied: {clash_in_words(one, other)} any more.")
        for one, other in pairs
    ]


def cancel_problems(order: Order, held: Sequence[Held]) -> list[Problem]:
    """Why this order cannot be cancelled."""
    problems = state_problems(order)
    if held:
        problems.append(
            Problem(f"{order.number} cannot be cancelled: {_garments_in(held)}. {ways_out(held)}")
        )
    return problems


def dispatch_problems(order: Order, held: Sequence[Held]) -> list[Problem]:
    """Why this order cannot be dispatched: what a batch is still gathering of it would be made for nobody. What is
    planned or cut may stay, for it goes into stock.
    """
    gathered = [row for row in held if row.state == "gathering"]
    problems = state_problems(order)
    if gathered:
        problems.append(
            Problem(
                f"{order.number} cannot be dispatched yet: {_garments_in(gathered)}, still to be planned and made. "
                f"{ways_out(gathered)}"
            )
        )
    return problems


def _garments_in(held: Sequence[Held]) -> str:
    """ "3 of its garments are in batch B-0003"."""
    garments = sum(row.quantity for row in held)
    return f"{counted(garments, 'of its garments is', 'of its garments are')} in {batch_names(held)}"


NOT_BEGUN = "What is not begun can be taken out on the page of {}."

#: How garments come out of batches in these states.
_WAYS = (
    ({"gathering"}, "Take them out of {} first, or cancel that."),
    ({"planned"}, "Take the plan of {} back first, then they can be taken out."),
    ({"cutting"}, NOT_BEGUN),
    (
        {"cutting", "sewing", "done"},
        "What is cut in {} can go into stock: leave the customer of the order empty.",
    ),
)


def ways_out(held: Iterable[Held]) -> str:
    """What can be done with garments that batches hold: as long as nothing is cut, and afterwards."""
    rows = list(held)
    found = ((words, [row for row in rows if row.state in states]) for states, words in _WAYS)
    return " ".join(words.format(batch_names(own)) for words, own in found if own)


def change_problems(
    lines: Iterable[OrderLine], held: Sequence[Held], data: Sequence[LineData]
) -> list[Problem]:
    """What the new lines would take away from batches. `lines` are the order's lines as they are."""
    of_line: dict[int, list[Held]] = defaultdict(list)
    for row in held:
        of_line[row.line_pk].append(row)
    new = {line.line_pk: line for line in data if line.line_pk}
    problems: list[Problem] = []
    for line in lines:
        if line.pk not in of_line:
            continue
        if line.pk in new:
            problems += _line_problems(line, of_line[line.pk], new[line.pk])
        else:
            where = batch_names(of_line[line.pk])
            text = f"{line.style}, {line.colourway} cannot be taken out: it is in {where}."
            problems.append(Problem(text + _not_begun(of_line[line.pk])))
    return problems


def removal_problems(
    lines: Iterable[OrderLine], named: Collection[int], data: Sequence[LineData]
) -> list[Problem]:
    """Lines that no live batch holds, but whose cancelled batch is kept as a record of them (`named`)."""
    stay = {line.line_pk for line in data}
    return [
        Problem(
            f"{line.style}, {line.colourway} cannot be taken out: a cancelled batch still names it. "
            "Change its style, colourway or quantities instead."
        )
        for line in lines
        if line.pk in named and line.pk not in stay
    ]


def _line_problems(line: OrderLine, held: Sequence[Held], new: LineData) -> list[Problem]:
    batches = batch_names(held)
    problems = []
    if new.style_pk != line.style_id:
        text = f"This line is in {batches}, so its style stays {line.style}."
        problems.append(Problem(text, new.key, "style"))
    elif new.colourway_pk != line.colourway_id:
        text = f"This line is in {batches}, so its colourway stays {line.colourway}."
        problems.append(Problem(text, new.key, "colourway"))
    if new.style_pk == line.style_id:
        problems += [
            Problem(
                f"This line is in {batches}, so its {option.detail.name} stays {option.name}.",
                new.key,
                f"option:{option.detail.name}",
            )
            for option in line.options.all()
            if option.pk not in new.option_pks
        ]
        problems += _quantity_problems(held, new)
    return problems


def _quantity_problems(held: Sequence[Held], new: LineData) -> list[Problem]:
    batched: Counter[tuple[int, str]] = Counter()
    for row in held:
        batched[row.size_pk, row.size] += row.quantity
    return [
        Problem(
            f"{size}: {least:,} of them {'is' if least == 1 else 'are'} in "
            f"{batch_names([row for row in held if row.size_pk == pk])}, so it cannot fall below {least:,}."
            + _not_begun([row for row in held if row.size_pk == pk]),
            new.key,
            f"size:{size}",
        )
        for (pk, size), least in batched.items()
        if new.quantities.get(pk, 0) < least
    ]


def _not_begun(held: Iterable[Held]) -> str:
    """The way out of batches that are being cut, as a further sentence; "" where none is."""
    cutting = [row for row in held if row.state == "cutting"]
    return f" {NOT_BEGUN.format(batch_names(cutting))}" if cutting else ""


def batch_names(held: Iterable[Held]) -> str:
    """batch B-0003, or batches B-0003 and B-0004; blank for nothing held."""
    numbers = list(dict.fromkeys(row.batch for row in held))
    if not numbers:
        return ""
    if len(numbers) == 1:
        return f"batch {numbers[0]}"
    return f"batches {listed(numbers)}"
