"""Rolls that have less left than lays are to take of them, as after another roll than planned was cut."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from planner.core.units import format_length
from planner.cutting.models import Batch, Lay
from planner.cutting.tasks import queue_rolls
from planner.materials.rolls import OverPromised, over_promised

STILL_TO_CUT = (Batch.State.PLANNED, Batch.State.CUTTING)


def counted_on_by(batch: Batch, lays: Iterable[Lay]) -> tuple[OverPromised, ...]:
    """Rolls that these lays (read with their rolls) are to be cut from and that have not enough for all.

    No query where no roll is promised, else one.
    """
    if batch.state not in STILL_TO_CUT:
        return ()
    to_cut = (lay for lay in lays if lay.cut_at is None)
    rows = (row for lay in to_cut for cloth in lay.cloths.all() for row in cloth.rolls.all())
    return over_promised({row.roll_id for row in rows if row.roll_id is not None})


def after_telling(rolls: Collection[int]) -> tuple[tuple[OverPromised, ...], tuple[str, ...]]:
    """Which of these rolls, just cut from, have less left now than lays count on; and the batches asked again.

    Batches nothing of which is cut get their rolls again by themselves; lays of others keep what their tickets say.
    """
    found = over_promised(rolls)
    batches = {promise.batch for one in found for promise in one.promises}
    if batches:
        late = Batch.objects.filter(number__in=batches, state=Batch.State.PLANNED).order_by("pk")
        asked = dict(late.values_list("pk", "number"))
        for pk in asked:
            queue_rolls(pk)
        return found, tuple(asked.values())
    return found, ()


def told_in_words(one: OverPromised, batch: str, asked: Collection[str], display: str) -> str:
    """What :func:`counted_on_in_words` says, and what is done: rolls of the batches `asked` are chosen again."""
    batches = list(dict.fromkeys(promise.batch for promise in one.promises))
    words = [counted_on_in_words(one, batch, display)]
    words += [f"The rolls of {number} are assigned again now." for number in batches if number in asked]
    if any(number not in asked for number in batches):
        words.append("Choose another roll there.")
    return " ".join(words)


def counted_on_in_words(one: OverPromised, batch: str, display: str) -> str:
    """ "R12 has 0.46 m left, but lay 2 counts on 3 m of it." `batch` is the number of the batch it is said in."""

    def words(metres: object) -> str:
        return format_length(float(metres) * 1000, display=display, kind="cloth")  # type: ignore[arg-type]

    lays = [
        f"lay {promise.lay}{'' if promise.batch == batch else f' of {promise.batch}'} counts on "
        f"{words(promise.metres)} of it"
        for promise in one.promises
    ]
    return f"{one.number} has {words(max(one.left_m, 0))} left, but {' and '.join(lays)}."
