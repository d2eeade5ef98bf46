"""The batches of ten invented years: planned, cut into lays and bundles, sewn step by step."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from decimal import Decimal
from random import Random

from django.contrib.auth.models import User

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
from planner.materials.models import StockMove
from planner.sewing.models import ProgressEvent
from planner.styles.specs import style_specs
from planner.web.years_plans import make_rolls
from planner.web.years_rows import Line, Made, at, link, write

#: The states of the last batches, in this order; all before them are done.
LAST_STATES = ("sewing",) * 6 + ("cutting",) * 2 + ("planned",) * 4
#: Plies of every lay.
SPREADS = 2


def make_batches(orders: Sequence[Sequence[Line]], count: int) -> list[Made]:
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
            planned_at=at(day, 10),
        )
        made.append(Made(row, lines, day))
    write(one.row for one in made)
    return made


def make_items(made: Sequence[Made]) -> None:
    """Every quantity of every line of a batch."""
    write(
        BatchItem(batch=one.row, line=line.row, size=quantity.size, quantity=quantity.quantity)
        for one in made
        for line in one.lines
        for quantity in line.quantities
    )


def make_operations(made: Sequence[Made]) -> None:
    """The operations of every style in a batch, as planning copies them."""
    write(
        BatchOperation(batch=one.row, style=sold.style, option_id=step.option_id, **as_planned(step))
        for one in made
        for sold in {line.sold.style.pk: line.sold for line in one.lines}.values()
        for step in sold.operations
    )


def make_snapshots(made: Sequence[Made]) -> None:
    """Every style in a batch as it was, which is as it is now: one snapshot a style for all batches."""
    styles = {line.sold.style.pk: line.sold.style for one in made for line in one.lines}
    specs = style_specs(styles.values())
    kept = {pk: keep_style(pk, specs[style.number]) for pk, style in styles.items()}
    in_batch = ((one.row, dict.fromkeys(line.sold.style.pk for line in one.lines)) for one in made)
    link(Batch.snapshots, "batch_id", ((row, [kept[pk] for pk in pks]) for row, pks in in_batch))


def make_needs_and_stock(rng: Random, made: Sequence[Made]) -> None:
    """Per cloth of a batch a need and a roll; where it is cut, as much bought as was used."""
    make_rolls(made)
    needs, moves = [], []
    for one in made:
        is_cut = one.row.state in ("done", "sewing")
        for colour in one.colours:
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
            came_and_went = ((metres, "bought", 9), (-metres, "cut", 12))
            if is_cut or one.row.state in ("planned", "cutting"):
                for quantity, reason, hour in came_and_went[: 2 if is_cut else 1]:
                    moves.append(
                        StockMove(
                            fabric_colour=colour,
                            roll=one.rolls[colour.pk],
                            quantity=quantity,
                            reason=reason,
                            note=one.row.number,
                            moved_at=at(one.day, hour),
                        )
                    )
    write(needs)
    write(moves)


def make_lays(made: Sequence[Made], markers: Sequence[Marker], people: Sequence[User]) -> None:
    """One lay a cloth, with its garments."""
    cloths, garments = [], []
    for one in made:
        for number, colour in enumerate(one.colours, 1):
            marker = markers[number % len(markers)]
            is_cut = one.row.state in ("done", "sewing") or (one.row.state == "cutting" and number == 1)
            width = float(marker.job["lay_width_mm"])
            lay = Lay(
                batch=one.row,
                number=number,
                lay_width_mm=width,
                one_way=bool(marker.job["one_way"]),
                end_allowance_mm=20,
                estimated_length_mm=marker.length_mm,
                marker=marker,
                cut_at=at(one.day + timedelta(days=1), 11) if is_cut else None,
                cut_by=people[0] if is_cut else None,
            )
            one.lays.append(lay)
            used = Decimal(round(SPREADS * (marker.length_mm / 1000 + 0.05), 2)).quantize(Decimal("0.01"))
            cloth = LayCloth(
                lay=lay,
                fabric_colour=colour,
                spreads=SPREADS,
                cut_spreads=SPREADS if is_cut else None,
                used_m=used if is_cut else None,
            )
            one.cloths.append(cloth)
            cloths.append(cloth)
            for line in one.lines:
                if colour in line.sold.cloths[line.row.colourway_id]:
                    garments += [(cloth, line, quantity) for quantity in line.quantities]
    write(lay for one in made for lay in one.lays)
    write(cloths)
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
    write(rows)
    chosen = ((row, line.options) for row, (_, line, _) in zip(rows, garments, strict=True))
    link(LayGarment.options, "laygarment_id", chosen)


def make_bundles(rng: Random, made: Sequence[Made]) -> list[tuple[Made, Line, Bundle]]:
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
    write(bundle for _, _, bundle in found)
    link(Bundle.options, "bundle_id", ((bundle, line.options) for _, line, bundle in found))
    link(Bundle.lays, "bundle_id", ((bundle, one.lays) for one, _, bundle in found))
    return found


def make_events(
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
                    happened_at=at(one.day + timedelta(days=2 + number // 4), 8 + number % 4),
                    key=f"y-{bundle.pk}-{step.pk if step else 0}",
                )

    write(events(), keep=False)
    return count
