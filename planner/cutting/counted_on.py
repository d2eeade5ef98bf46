"""Rolls that have less left than lays are to take of them, as after another roll than planned was cut."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import Decimal

from planner.core.listed import listed
from planner.core.units import format_length
from planner.cutting.models import Batch, Lay
from planner.cutting.tasks import queue_rolls
from planner.cutting.wording import count_of_plies
from planner.materials.promised import OverPromised, Promise, StillPromised, over_promised

STILL_TO_CUT = (Batch.State.PLANNED, Batch.State.CUTTING)


def counted_on_by(
    batch: Batch, lays: Iterable[Lay], promised: StillPromised | None = None
) -> tuple[OverPromised, ...]:
    """Rolls that these lays (read with their rolls) are to be cut from and that have not enough for all.

    No query where no roll is promised, or what is `promised` was read already, else one.
    """
    if batch.state not in STILL_TO_CUT:
        return ()
    to_cut = (lay for lay in lays if lay.cut_at is None)
    rows = (row for lay in to_cut for cloth in lay.cloths.all() for row in cloth.rolls.all())
    return over_promised({row.roll_id for row in rows if row.roll_id is not None}, promised)


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


def told_in_words(
    one: OverPromised,
    batch: str,
    asked: Collection[str],
    waiting: Mapping[str, Collection[int]],
    display: str,
) -> str:
    """What :func:`counted_on_in_words` says, and what is done: rolls of the batches `asked` are chosen again, lays
    `waiting`, by batch, have to wait for cloth.
    """
    words = [counted_on_in_words(one, batch, display)]
    batches = dict.fromkeys(promise.batch for promise in one.promises)
    words += [f"The rolls of {number} are assigned again now." for number in batches if number in asked]
    short = one.lays_short
    waits = {key: None for key in short if key[1] in waiting.get(key[0], ())}
    if waits:
        words.append(waiting_in_words(waits, batch))
    if any(key not in waits and key[0] not in asked for key in short):
        words.append("Choose another roll there.")
    return " ".join(words)


def waiting_in_words(lays: Collection[tuple[str, int]], batch: str) -> str:
    """ "Nothing else in stock is long enough: lay 1 and lay 3 wait for cloth now, see What to buy." """
    names = listed([f"lay {lay}{'' if of == batch else f' of {of}'}" for of, lay in lays])
    return (
        f"Nothing else in stock is long enough: {names} {'waits' if len(lays) == 1 else 'wait'} for cloth now,"
        " see What to buy."
    )


def counted_on_in_words(one: OverPromised, batch: str, display: str) -> str:
    """ "R12 has 0.46 m left, but lay 2 counts on 3 m of it." `batch` is the number of the batch it is said in.

    Of a roll that has metres enough it is said which flaws leave no piece for which plies; where one would be long
    enough if nothing else were cut from it, that too.
    """

    def words(metres: object) -> str:
        return format_length(float(metres) * 1000, display=display, kind="cloth")  # type: ignore[arg-type]

    def of(promise: Promise) -> str:
        return f"lay {promise.lay}{'' if promise.batch == batch else f' of {promise.batch}'}"

    if not one.has_too_little:
        plies = [
            f"{count_of_plies(short)} of {format_length(promise.plies.ply_mm, display, 'spread', at_least=True)}"  # type: ignore[arg-type]
            f" of {of(promise)}"
            for promise, short in zip(one.promises, one.short, strict=True)
            if short
        ]
        shortest_mm = min(p.plies.ply_mm for p, short in zip(one.promises, one.short, strict=True) if short)
        gives = f"no piece of it is longer than {words(one.longest_m)}: there is none for {listed(plies)}"
        if float(one.longest_m) * 1000 >= shortest_mm:
            gives = f"beside its other plies it has no piece for {listed(plies)}"
        return f"{one.number} has {words(one.left_m)} left, but {flaws_in_words(one.flaws, display)} {gives}."
    lays = [f"{of(promise)} counts on {words(promise.metres)} of it" for promise in one.promises]
    return f"{one.number} has {words(max(one.left_m, 0))} left, but {' and '.join(lays)}."


def flaws_in_words(flaws: Sequence[tuple[Decimal, Decimal]], display: str) -> str:
    """ "for its flaw from 1.5 to 3.4 m", "for its 3 flaws"."""
    if len(flaws) != 1:
        return f"for its {len(flaws)} flaws"
    low, high = (format_length(float(metres) * 1000, display=display, kind="cloth") for metres in flaws[0])  # type: ignore[arg-type]
    return f"for its flaw from {low} to {high}"
