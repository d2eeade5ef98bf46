"""For whom the garments of a bundle are that holds those of several orders."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from planner.core.spec import Garment
from planner.cutting.demand import BatchDemand
from planner.orders.models import Order

#: So many orders are named on a ticket; of others it is said how many they are.
SEVERAL = 4


@dataclass(frozen=True)
class Wanted:
    """Who ordered a garment of a batch: orders in words, each with its number of garments; `extra` are nobody's."""

    orders: tuple[tuple[str, int], ...]
    extra: int = 0


def order_in_words(order: Order) -> str:
    """ "O-1056 Anna"."""
    return f"{order.number} {order.customer.name if order.customer else 'stock make'}"


def wanted_by(demand: BatchDemand) -> Mapping[Garment, Wanted]:
    """Who ordered each garment of a batch, in the order of the demand."""
    found, ordered = {}, {row.garment: row.quantity for row in demand.ordered}
    for garment, lines in demand.lines.items():
        counts: Counter[str] = Counter()
        for line, count in lines:
            counts[order_in_words(line.order)] += count
        found[garment] = Wanted(tuple(counts.items()), counts.total() - ordered.get(garment, counts.total()))
    return found


def extra_in_words(quantity: int, wanted: Wanted) -> str:
    """ "1 more than ordered" of a bundle of so many garments that holds all of them, "of 6 in all 1 more than ordered"
    where other bundles hold such garments too; "" where each is somebody's."""
    if not wanted.extra:
        return ""
    whole = sum(count for _, count in wanted.orders)
    of_all = "" if whole == quantity else f"of {whole} in all "
    return f"{of_all}{wanted.extra} more than ordered"


def several_in_words(quantity: int, wanted: Wanted) -> str:
    """ "2 for O-1056 Anna, 1 for O-1057 Bert" of a bundle of so many that holds all of them.

    Where garments are among them that nobody ordered it names the orders alone; where other bundles hold such garments
    too, nobody says whose are in which: "O-1056 Anna or O-1057 Bert".
    """
    orders = wanted.orders
    is_whole = sum(count for _, count in orders) == quantity
    counted = is_whole and not wanted.extra
    told = [f"{count} for {order}" if counted else order for order, count in orders[:SEVERAL]]
    more = len(orders) - SEVERAL
    if more > 0:
        told.append(f"{more} {'order' if more == 1 else 'orders'} more")
    if is_whole or len(told) < 2:
        return ", ".join(told)
    return f"{', '.join(told[:-1])} or {told[-1]}"
