"""Ticking and taking back what was sewn, and closing a batch."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from planner.cutting.models import Batch, BatchOperation, Bundle
from planner.sewing.models import ProgressEvent
from planner.sewing.progress import BundleState, Stage, read_states, state_of

#: The check that falls with an operation taken back is written beside it, under the same key with this added.
CHECK_FALLS = "-check"
KEY_LENGTH = 40 - len(CHECK_FALLS)


@dataclass(frozen=True)
class Ticked:
    """Where the bundle stands afterwards. `changed` is False where nothing was written; `problem` says why."""

    state: BundleState
    changed: bool
    problem: str = ""


@transaction.atomic
def tick(
    bundle: Bundle,
    operation: BatchOperation | None,
    *,
    done: bool,
    person: User | None,
    now: datetime,
    key: str,
) -> Ticked:
    """Ticks an operation of a bundle (the check for None), or takes it back.

    `key` comes with the page and is used once: the same tap sent twice changes nothing the second time, nor
    does ticking what is ticked. A bundle that is not cut cannot be ticked, one not sewn whole not checked.
    Taking an operation of a checked bundle back takes the check back too. Raises ValueError for an operation
    the bundle does not have, or a key that is blank or longer than KEY_LENGTH.
    """
    if not 0 < len(key) <= KEY_LENGTH:
        raise ValueError("the key of a tick must have 1 to 34 letters")
    bundle = Bundle.objects.select_for_update().get(pk=bundle.pk)
    state = state_of(bundle)
    step = state.step_of(operation)
    if step is None:
        raise ValueError(f"{bundle} has no operation {operation}")
    if ProgressEvent.objects.filter(key=key).exists() or step.done == done:
        return Ticked(state, changed=False)
    if problem := _refusal(state, operation, done=done):
        return Ticked(state, changed=False, problem=problem)
    try:
        with transaction.atomic():
            _write(bundle, operation, person, now, key, done=done)
            if operation is not None and not done and state.check.done:
                _write(bundle, None, person, now, key + CHECK_FALLS, done=False)
    except IntegrityError:
        # Somebody wrote the same key between our look and our writing: theirs counts.
        return Ticked(state_of(bundle), changed=False)
    return Ticked(state_of(bundle), changed=True)


def _write(
    bundle: Bundle,
    operation: BatchOperation | None,
    person: User | None,
    now: datetime,
    key: str,
    *,
    done: bool,
) -> None:
    step = ProgressEvent.Step.CHECKED if operation is None else ProgressEvent.Step.SEW
    ProgressEvent.objects.create(
        bundle=bundle, step=step, operation=operation, done=done, person=person, happened_at=now, key=key
    )


def _refusal(state: BundleState, operation: BatchOperation | None, *, done: bool) -> str:
    """Why the tick cannot be, in words; "" where it can."""
    batch = state.bundle.batch
    if batch.state in {Batch.State.DONE, Batch.State.CANCELLED}:
        return f"{batch.number} is {batch.get_state_display()}, so nothing of it can be changed."
    if not done:
        return ""
    if not state.is_cut:
        return "Nothing was ticked: this bundle is not cut yet."
    if operation is None and not state.is_sewn:
        left = len(state.steps) - state.steps_done
        return f"Not checked: {left} {'step is' if left == 1 else 'steps are'} still to be sewn."
    return ""


@dataclass(frozen=True)
class Finished:
    """A batch that is done now; with a problem it stays as it was."""

    batch: Batch
    problem: str = ""


@transaction.atomic
def finish_batch(batch: Batch) -> Finished:
    """Closes a batch all of whose bundles are checked. Finishing it twice does nothing the second time."""
    batch = Batch.objects.select_for_update().get(pk=batch.pk)
    if batch.state == Batch.State.DONE:
        return Finished(batch)
    states = read_states(Bundle.objects.filter(batch=batch))
    open_ones = [state for state in states if state.stage != Stage.CHECKED]
    if not states or batch.state in {Batch.State.GATHERING, Batch.State.CANCELLED}:
        return Finished(batch, f"{batch} has no bundles, so there is nothing to finish.")
    if open_ones:
        count = len(open_ones)
        first = open_ones[0]
        words = f"{count} {'bundle is' if count == 1 else 'bundles are'} not checked yet"
        return Finished(batch, f"{batch} is not finished: {words}, {first.bundle} first ({first.stage}).")
    batch.state = Batch.State.DONE
    batch.save(update_fields=["state"])
    return Finished(batch)


@transaction.atomic
def open_batch_again(batch: Batch) -> bool:
    """Takes the finishing of a batch back. False if it was not finished."""
    return bool(Batch.objects.filter(pk=batch.pk, state=Batch.State.DONE).update(state=Batch.State.SEWING))
