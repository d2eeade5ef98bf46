"""The batches of the demo: one done long ago, one being sewn and late, one planned and waiting to be nested.

They come about by the same actions as in a workroom. What the worker would need minutes for, nesting the lays
that are cut already, was done once and stands in the fixture as places of pieces; each is checked again here.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.utils import timezone

from planner.core.lays import model as core
from planner.core.lays.check import check_marker, key_of, marker_from_placements, placed
from planner.core.lays.stored import job_from_json, marker_from_json
from planner.core.planning import NestedLay
from planner.cutting.actions.booking import Told
from planner.cutting.actions.gathering import create_batch, fill_batch
from planner.cutting.actions.nesting import after_nesting
from planner.cutting.actions.notions_out import take_notions_out
from planner.cutting.actions.planning import plan_batch
from planner.cutting.actions.settling import settle_as_it_is
from planner.cutting.actions.table import tell_lay
from planner.cutting.marker_store import marker_fields
from planner.cutting.models import Batch, BatchOperation, Bundle, LayCloth, Marker
from planner.cutting.stored import stored_lay
from planner.orders.models import LineQuantity
from planner.sewing.models import ProgressEvent

MARKERS_FILE = settings.BASE_DIR / "fixtures" / "demo-markers.json"

#: For the plan of each batch (s).
THINK_SECONDS = 30.0

#: The key of a marker's question -> for each piece its key, rotation and place [style, ..., turn, x, y].
Answers = Mapping[str, Sequence[Sequence[Any]]]
Nest = Callable[[], object]


@dataclass(frozen=True)
class BatchToMake:
    """Orders by number; days before today it was made and cut; share of the sewing that is done."""

    orders: tuple[str, ...]
    made: int
    cut: int | None = None
    sewn_share: float = 0.0


BATCHES = (
    BatchToMake(("O-1041",), made=45, cut=40, sewn_share=1.0),
    BatchToMake(("O-1042",), made=12, cut=9, sewn_share=0.45),
    BatchToMake(("O-1044",), made=1),
)


def read_answers(path: Path = MARKERS_FILE) -> Answers:
    """The nested markers of the fixture."""
    answers: Answers = json.loads(path.read_text(encoding="utf-8"))
    return answers


def answers_text(markers: Sequence[Marker]) -> str:
    """Nested markers as the fixture keeps them: where each piece lies, its outline left out."""
    lines = []
    for row in sorted(markers, key=lambda marker: marker.key):
        places = []
        for one in marker_from_json(row.placements).placements:
            x, y = min(p[0] for p in one.outline), min(p[1] for p in one.outline)
            places.append([*key_of(one), one.rotation_deg, round(x, 4), round(y, 4)])
        lines.append(f"{json.dumps(row.key)}: {json.dumps(places, ensure_ascii=False)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def make_batches(today: date, nest: Nest, person: User | None = None) -> list[Batch]:
    """Makes the demo's batches, all their orders being open.

    `nest` is called for each batch that is cut already, to give its waiting markers their answers. Raises
    ValueError where a batch cannot be planned.
    """
    return [_make(batch, today, nest, person) for batch in BATCHES]


def answer_markers(answers: Answers) -> int:
    """Gives waiting markers their known answers, as if the worker had nested them. Returns how many.

    A lay that comes out longer than the table is divided, which asks new questions: those are answered too.
    """
    given = 0
    while waiting := list(Marker.objects.filter(state=Marker.State.WAITING, key__in=list(answers))):
        for row in waiting:
            marker = _rebuilt(job_from_json(row.job), answers[row.key])
            state = {"state": Marker.State.READY, **marker_fields(marker)}
            if Marker.objects.filter(pk=row.pk).update(**state):
                after_nesting(row.pk)
                given += 1
    return given


def _make(wanted: BatchToMake, today: date, nest: Nest, person: User | None) -> Batch:
    batch = create_batch(person, today - timedelta(days=wanted.made))
    rows = LineQuantity.objects.filter(line__order__number__in=wanted.orders)
    filled = fill_batch(batch, {row.pk: row.quantity for row in rows})
    # Long enough for the same plan on any machine: the fixture holds the markers of that one.
    planned = plan_batch(batch, _hour(today, wanted.made, 10), think_seconds=THINK_SECONDS)
    if filled.problems or planned.problems:
        raise ValueError(
            f"batch {batch.number} of the demo cannot be planned: {filled.problems or planned.problems}"
        )
    if wanted.cut is not None:
        nest()
        settle_as_it_is(batch.pk)
        _cut(batch, _hour(today, wanted.cut, 11), person)
        _sew(batch, today, wanted, person)
    batch.refresh_from_db()
    return batch


def _cut(batch: Batch, at: datetime, person: User | None) -> None:
    """Every lay as it was nested and a hand's breadth more, as it happens."""
    for row in batch.lays.with_everything():
        lay = stored_lay(row)
        spread_mm = NestedLay(lay.planned, lay.marker).spread_mm if lay.marker else row.estimated_length_mm
        told = [one for cloth in row.cloths.all() for one in _told(cloth, spread_mm)]
        if problem := tell_lay(row, told, person, at).problem:
            raise ValueError(f"{row} of the demo cannot be cut: {problem}")
    take_notions_out(batch, person, at)


def _told(cloth: LayCloth, spread_mm: float) -> list[Told]:
    """Plies of one colour as they were planned from each roll; from no roll where none was on the shelf."""
    planned = [(row.roll_id, row.spreads) for row in cloth.rolls.all()] or [(None, cloth.spreads)]
    return [
        Told(cloth.pk, spreads, round(Decimal(spreads * spread_mm / 1000 + 0.08), 2), roll)
        for roll, spreads in planned
    ]


def _sew(batch: Batch, today: date, wanted: BatchToMake, person: User | None) -> None:
    """The first steps of every bundle, one after another since it was cut; all steps of a done batch."""
    operations = list(batch.operations.all())
    steps: list[tuple[Bundle, BatchOperation | None]] = []
    for bundle in batch.bundles.prefetch_related("options"):
        chosen = {option.pk for option in bundle.options.all()}
        own = [o for o in operations if o.style_id == bundle.style_id and o.option_id in {None, *chosen}]
        own.sort(key=lambda o: (o.position, o.pk))
        steps += [(bundle, o) for o in own[: round(len(own) * wanted.sewn_share)]]
        if wanted.sewn_share == 1:
            steps.append((bundle, None))
    first = _hour(today, wanted.cut or 0, 14)
    ProgressEvent.objects.bulk_create(
        ProgressEvent(
            bundle=bundle,
            step="sew" if operation else "checked",
            operation=operation,
            done=True,
            person=person,
            happened_at=first + timedelta(minutes=25 * number),
            key=f"demo-{bundle.number}-{operation.pk if operation else 'checked'}",
        )
        for number, (bundle, operation) in enumerate(steps)
    )
    if wanted.sewn_share == 1:
        Batch.objects.filter(pk=batch.pk).update(state=Batch.State.DONE)


def _rebuilt(job: core.MarkerJob, places: Sequence[Sequence[Any]]) -> core.Marker:
    """The marker whose pieces lie at these places; ValueError where it is not a marker of this job."""
    waiting: dict[tuple[Any, ...], list[core.ItemToLay]] = {}
    for item in job.items:
        waiting.setdefault(key_of(item), []).append(item)
    try:
        laid = [placed(waiting[tuple(key)].pop(), turn, x, y) for *key, turn, x, y in places]
    except (KeyError, IndexError):
        raise ValueError("the stored places are not those of this lay") from None
    problems = check_marker(job, laid)
    if problems:
        raise ValueError(f"a stored marker is not valid: {problems[0]}")
    return marker_from_placements(job, laid)


def _hour(today: date, days_ago: int, hour: int) -> datetime:
    return datetime.combine(
        today - timedelta(days=days_ago), time(hour), tzinfo=timezone.get_current_timezone()
    )
