"""Ten years of orders, batches, bundles and events on top of the demo, to see whether pages stay quick.

The rows have the numbers and relations of a real workroom, not its sense: lays share a handful of markers,
and needs are rough. Everything but the last orders is done and dispatched.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from itertools import islice
from random import Random
from typing import Any

from django.contrib.auth.models import User
from django.db import models, transaction

from planner.cutting.actions.planning import as_planned
from planner.cutting.models import (
    Batch,
    BatchItem,
    BatchNeed,
    BatchOperation,
    Bundle,
    Lay,
    LayCloth,
    LayGarment,
    Marker,
)
from planner.cutting.stored import keep_style
from planner.materials.models import FabricColour, StockMove
from planner.orders.models import Customer, LineQuantity, Order, OrderLine
from planner.sewing.models import ProgressEvent
from planner.styles.models import Colourway, Detail, Operation, Option, Size, Style
from planner.styles.specs import style_specs

#: What ten years are at scale 1.
ORDERS, BATCHES, CUSTOMERS = 5_000, 2_000, 300
DAYS = 3_650
#: The last orders are open; of the batches made of them these states come last, in this order.
OPEN_ORDERS, UNBATCHED = 45, 15
LAST_STATES = ("sewing",) * 6 + ("cutting",) * 2 + ("planned",) * 4
PEOPLE = ("Nell", "Otto", "Ines")
AT_ONCE = 2_000

Say = Callable[[str], None]


class NothingToBuildOnError(Exception):
    """There are no styles or no nested marker: the demo is not loaded."""


@dataclass(frozen=True)
class Sold:
    """A style as the orders draw on it."""

    style: Style
    options: tuple[tuple[Option, ...], ...]
    colourways: tuple[Colourway, ...]
    sizes: tuple[Size, ...]
    operations: tuple[Operation, ...]
    cloths: dict[int, tuple[FabricColour, ...]]


@dataclass
class Line:
    """An order line with what was drawn for it."""

    row: OrderLine
    sold: Sold
    options: list[Option]
    quantities: list[LineQuantity] = field(default_factory=list)


@dataclass
class Made:
    """A batch with the lines in it."""

    row: Batch
    lines: list[Line]
    day: date
    lays: list[Lay] = field(default_factory=list)


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
    made = _batches(rng, today, lines[: orders - UNBATCHED], batches)
    _items(made)
    _operations(made)
    _snapshots(made)
    _needs_and_stock(rng, made)
    _lays(made, markers, people)
    say(f"{len(made)} batches with their lays")
    bundles = _bundles(rng, made)
    say(f"{len(bundles)} bundles")
    events = _events(rng, made, bundles, people)
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
    buyers = _write(Customer(name=f"Invented customer {known + n:04d}") for n in range(customers))
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
    orders = _write(rows)
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
    _write(line.row for line in lines)
    _link(OrderLine.options, "orderline_id", ((line.row, line.options) for line in lines))
    for line in lines:
        sizes = rng.sample(line.sold.sizes, min(5, len(line.sold.sizes)))
        line.quantities = [
            LineQuantity(line=line.row, size=size, quantity=rng.randint(1, 4))
            for size in sorted(sizes, key=lambda size: size.position)
        ]
    _write(quantity for line in lines for quantity in line.quantities)
    return by_order


def _batches(rng: Random, today: date, orders: Sequence[Sequence[Line]], count: int) -> list[Made]:
    """Batches of the orders in their order, some of one and some of several; the last ones are on the go."""
    first = Batch.objects.count() + 1
    made = []
    for n in range(count):
        own = orders[n * len(orders) // count : (n + 1) * len(orders) // count]
        lines = [line for of_order in own for line in of_order if line.row.order.state != "cancelled"]
        if not lines:
            continue
        is_last = n >= count - len(LAST_STATES)
        state = LAST_STATES[n - count] if is_last else "done"
        day = max(line.row.order.entered_on for line in lines) + timedelta(days=3)
        row = Batch(
            number=f"B-{first + len(made):04d}",
            state=state,
            due_on=min(line.row.order.due_on for line in lines),
            made_on=day,
            planned_at=_at(day, 10),
        )
        made.append(Made(row, lines, day))
    _write(one.row for one in made)
    return made


def _items(made: Sequence[Made]) -> None:
    _write(
        BatchItem(batch=one.row, line=line.row, size=quantity.size, quantity=quantity.quantity)
        for one in made
        for line in one.lines
        for quantity in line.quantities
    )


def _operations(made: Sequence[Made]) -> None:
    """The operations of every style in a batch, as planning copies them."""
    _write(
        BatchOperation(batch=one.row, style=sold.style, option_id=step.option_id, **as_planned(step))
        for one in made
        for sold in {line.sold.style.pk: line.sold for line in one.lines}.values()
        for step in sold.operations
    )


def _snapshots(made: Sequence[Made]) -> None:
    """Every style in a batch as it was, which is as it is now: one snapshot a style for all batches."""
    styles = {line.sold.style.pk: line.sold.style for one in made for line in one.lines}
    specs = style_specs(styles.values())
    kept = {pk: keep_style(pk, specs[style.number]) for pk, style in styles.items()}
    in_batch = ((one.row, dict.fromkeys(line.sold.style.pk for line in one.lines)) for one in made)
    _link(Batch.snapshots, "batch_id", ((row, [kept[pk] for pk in pks]) for row, pks in in_batch))


def _needs_and_stock(rng: Random, made: Sequence[Made]) -> None:
    """Per cloth of a batch a need and, where it is cut, as much bought as was used."""
    needs, moves = [], []
    for one in made:
        is_cut = one.row.state in ("done", "sewing")
        for colour in _cloths(one):
            metres = Decimal(rng.randint(60, 900)) / 100
            needs.append(
                BatchNeed(
                    batch=one.row,
                    fabric_colour=colour,
                    need=metres,
                    lay_m=metres,
                    taken=metres if is_cut else 0,
                    is_estimate=False,
                    how="from nested lays",
                )
            )
            if is_cut:
                for quantity, reason, hour in ((metres, "bought", 9), (-metres, "cut", 12)):
                    moves.append(
                        StockMove(
                            fabric_colour=colour,
                            quantity=quantity,
                            reason=reason,
                            note=one.row.number,
                            moved_at=_at(one.day, hour),
                        )
                    )
    _write(needs)
    _write(moves)


def _lays(made: Sequence[Made], markers: Sequence[Marker], people: Sequence[User]) -> None:
    """One lay a cloth, with its garments."""
    cloths, garments = [], []
    for one in made:
        for number, colour in enumerate(_cloths(one), 1):
            marker = markers[number % len(markers)]
            is_cut = one.row.state in ("done", "sewing") or (one.row.state == "cutting" and number == 1)
            width = float(marker.job["lay_width_mm"])
            lay = Lay(
                batch=one.row,
                number=number,
                lay_width_mm=width,
                usable_width_mm=width,
                one_way=bool(marker.job["one_way"]),
                end_allowance_mm=20,
                estimated_length_mm=marker.length_mm,
                marker=marker,
                cut_at=_at(one.day + timedelta(days=1), 11) if is_cut else None,
                cut_by=people[0] if is_cut else None,
            )
            one.lays.append(lay)
            used = Decimal(round(marker.length_mm / 1000 + 0.05, 2)).quantize(Decimal("0.01"))
            cloth = LayCloth(lay=lay, fabric_colour=colour, spreads=1, used_m=used if is_cut else None)
            cloths.append(cloth)
            for line in one.lines:
                if colour in line.sold.cloths[line.row.colourway_id]:
                    garments += [(cloth, line, quantity) for quantity in line.quantities]
    _write(lay for one in made for lay in one.lays)
    _write(cloths)
    rows = [
        LayGarment(
            lay_cloth=cloth,
            style=line.sold.style,
            colourway_id=line.row.colourway_id,
            size=quantity.size,
            per_marker=quantity.quantity,
        )
        for cloth, line, quantity in garments
    ]
    _write(rows)
    chosen = ((row, line.options) for row, (_, line, _) in zip(rows, garments, strict=True))
    _link(LayGarment.options, "laygarment_id", chosen)


def _bundles(rng: Random, made: Sequence[Made]) -> list[tuple[Made, Line, Bundle]]:
    """A bundle for each size of each line."""
    found = []
    for one in made:
        wanted = [(line, quantity) for line in one.lines for quantity in line.quantities]
        for number, (line, quantity) in enumerate(wanted, 1):
            row = Bundle(
                batch=one.row,
                number=f"{one.row.number}-{number:02d}",
                token=f"{rng.getrandbits(88):022x}",
                lay=one.lays[0],
                line=line.row,
                style=line.sold.style,
                colourway_id=line.row.colourway_id,
                size=quantity.size,
                quantity=quantity.quantity,
            )
            found.append((one, line, row))
    _write(bundle for _, _, bundle in found)
    _link(Bundle.options, "bundle_id", ((bundle, line.options) for _, line, bundle in found))
    _link(Bundle.lays, "bundle_id", ((bundle, one.lays) for one, _, bundle in found))
    return found


def _events(
    rng: Random, made: Sequence[Made], bundles: Sequence[tuple[Made, Line, Bundle]], people: Sequence[User]
) -> int:
    """Every step of every bundle that is done, about half of those being sewn."""
    copied: dict[tuple[int, int], list[BatchOperation]] = {}
    for step in BatchOperation.objects.filter(batch__in=[one.row.pk for one in made]).order_by("position"):
        copied.setdefault((step.batch_id, step.style_id), []).append(step)
    count = 0

    def events() -> Iterable[ProgressEvent]:
        nonlocal count
        for one, line, bundle in bundles:
            if one.row.state not in ("done", "sewing"):
                continue
            chosen = {None, *(option.pk for option in line.options)}
            steps = [s for s in copied[one.row.pk, line.sold.style.pk] if s.option_id in chosen]
            whole = one.row.state == "done"
            done: list[BatchOperation | None] = list(steps if whole else steps[: rng.randint(0, len(steps))])
            if whole:
                done.append(None)
            for number, step in enumerate(done):
                count += 1
                yield ProgressEvent(
                    bundle=bundle,
                    step="sew" if step else "checked",
                    operation=step,
                    done=True,
                    person=people[(bundle.pk + number) % len(people)],
                    happened_at=_at(one.day + timedelta(days=2 + number // 4), 8 + number % 4),
                    key=f"y-{bundle.pk}-{step.pk if step else 0}",
                )

    _write(events(), keep=False)
    return count


def _cloths(one: Made) -> list[FabricColour]:
    """The cloth colours of a batch, each once, in the order they come up."""
    found: dict[int, FabricColour] = {}
    for line in one.lines:
        for colour in line.sold.cloths[line.row.colourway_id]:
            found.setdefault(colour.pk, colour)
    return list(found.values())


def _write(rows: Iterable[Any], *, keep: bool = True) -> list[Any]:
    """Writes rows in portions; the rows with their keys, or none of them where nobody needs them again."""
    kept, waiting = [], iter(rows)
    while portion := list(islice(waiting, AT_ONCE)):
        type(portion[0]).objects.bulk_create(portion)
        if keep:
            kept += portion
    return kept


def _link(relation: Any, column: str, pairs: Iterable[tuple[models.Model, Iterable[models.Model]]]) -> None:
    """Rows of a many-to-many relation: each first with all of its seconds."""
    through = relation.through
    other = next(f.attname for f in through._meta.fields if f.is_relation and f.attname != column)
    _write(through(**{column: one.pk, other: second.pk}) for one, seconds in pairs for second in seconds)


def _at(day: date, hour: int) -> datetime:
    return datetime.combine(day, time(hour), tzinfo=UTC)
