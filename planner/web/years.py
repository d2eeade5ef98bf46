"""Ten years of orders, batches, bundles and events on top of the demo, to see whether pages stay quick.

The rows have the numbers and relations of a real workroom, not its sense: lays share a handful of markers,
and needs are rough. Everything but the last orders is done and dispatched.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from random import Random

from django.contrib.auth.models import User
from django.db import transaction

from planner.cutting.models import (
    Marker,
)
from planner.orders.models import Customer, LineQuantity, Order, OrderLine
from planner.styles.models import Colourway, Detail, Style
from planner.web.years_batches import (
    LAST_STATES,
    make_batches,
    make_bundles,
    make_events,
    make_items,
    make_lays,
    make_needs_and_stock,
    make_operations,
    make_snapshots,
)
from planner.web.years_plans import make_facts, make_plans, make_promises
from planner.web.years_rows import Line, Sold, link, write

#: What ten years are at scale 1.
ORDERS, BATCHES, CUSTOMERS = 5_000, 2_000, 300
DAYS = 3_650
#: The last orders are open, and the very last of them in no batch yet.
OPEN_ORDERS, UNBATCHED = 45, 15
PEOPLE = ("Nell", "Otto", "Ines")

Say = Callable[[str], None]


class NothingToBuildOnError(Exception):
    """There are no styles or no nested marker: the demo is not loaded."""


@transaction.atomic
def seed_years(today: date, scale: float = 1.0, say: Say = lambda text: None) -> dict[str, int]:
    """Adds ten years that end today; the rows made by kind. Raises NothingToBuildOnError without the demo."""
    rng = Random(20_310_512)
    sold, markers = _sold(), list(Marker.objects.exclude(length_mm=None))
    if not sold or not markers:
        raise NothingToBuildOnError
    people = [_person(name) for name in PEOPLE]
    orders = max(OPEN_ORDERS + 10, round(ORDERS * scale))
    batches = max(len(LAST_STATES) + 4, round(BATCHES * scale))
    lines = _orders(rng, today, orders, max(3, round(CUSTOMERS * scale)), sold)
    say(f"{orders} orders")
    made = make_batches(lines[: orders - UNBATCHED], batches)
    make_items(made)
    make_operations(made)
    make_snapshots(made)
    make_needs_and_stock(rng, made)
    make_lays(made, markers, people)
    make_promises(made)
    make_facts(made, people)
    make_plans(made)
    say(f"{len(made)} batches with their lays")
    bundles = make_bundles(rng, made)
    say(f"{len(bundles)} bundles")
    events = make_events(rng, made, bundles, people)
    say(f"{events} events")
    return {"orders": orders, "batches": len(made), "bundles": len(bundles), "events": events}


def _sold() -> list[Sold]:
    """The styles there are, with all that can be chosen of them."""
    found = []
    for style in Style.objects.select_related("size_range").filter(retired=False):
        details = Detail.objects.filter(style=style).prefetch_related("options")
        colourways = tuple(Colourway.objects.filter(style=style).prefetch_related("cloths__fabric_colour"))
        found.append(
            Sold(
                style,
                tuple(tuple(detail.options.all()) for detail in details),
                colourways,
                tuple(style.size_range.sizes.all()),
                tuple(style.operations.select_related("own_machine")),
                {c.pk: tuple(cloth.fabric_colour for cloth in c.cloths.all()) for c in colourways},
            )
        )
    return [one for one in found if one.colourways]


def _person(name: str) -> User:
    """Somebody who sews; cannot sign in."""
    person, is_new = User.objects.get_or_create(username=name)
    if is_new:
        person.set_unusable_password()
        person.save()
    return person


def _orders(rng: Random, today: date, count: int, customers: int, sold: Sequence[Sold]) -> list[list[Line]]:
    """Orders with two lines each, evenly over the years; their lines by order."""
    known = Customer.objects.count()
    buyers = write(Customer(name=f"Invented customer {known + n:04d}") for n in range(customers))
    first = Order.objects.filter(number__startswith="O-").count() + 10_000
    rows = []
    for n in range(count):
        is_open = n >= count - OPEN_ORDERS
        entered = today - timedelta(days=20 if is_open else 40 + (DAYS - 40) * (count - n) // count)
        due = today + timedelta(days=n - count + OPEN_ORDERS - 4) if is_open else entered + timedelta(days=25)
        state = "open" if is_open else rng.choices(("dispatched", "cancelled"), (97, 3))[0]
        rows.append(
            Order(
                number=f"O-{first + n}",
                customer=None if n % 25 == 24 else rng.choice(buyers),
                entered_on=entered,
                due_on=due,
                state=state,
                dispatched_on=due if state == "dispatched" else None,
            )
        )
    orders = write(rows)
    by_order: list[list[Line]] = []
    for order in orders:
        by_order.append([])
        for position in range(2):
            one = rng.choice(sold)
            row = OrderLine(
                order=order, style=one.style, colourway=rng.choice(one.colourways), position=position
            )
            by_order[-1].append(Line(row, one, [rng.choice(options) for options in one.options if options]))
    lines = [line for of_order in by_order for line in of_order]
    write(line.row for line in lines)
    link(OrderLine.options, "orderline_id", ((line.row, line.options) for line in lines))
    for line in lines:
        sizes = rng.sample(line.sold.sizes, min(5, len(line.sold.sizes)))
        line.quantities = [
            LineQuantity(line=line.row, size=size, quantity=rng.randint(1, 4))
            for size in sorted(sizes, key=lambda size: size.position)
        ]
    write(quantity for line in lines for quantity in line.quantities)
    return by_order
