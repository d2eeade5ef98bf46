"""Ticking: once is once, undo is undo, nobody overwrites anybody."""

import pytest
from django.contrib.auth.models import User

from planner.cutting.models import Batch, Bundle
from planner.sewing.actions import KEY_LENGTH, finish_batch, open_batch_again, tick
from planner.sewing.models import ProgressEvent
from planner.sewing.progress import Stage, state_of
from tests.factories import NOON, make_person
from tests.sewing.makers import check, cut_all, finish_bundles, fresh_key, make_planned_batch, sew

pytestmark = pytest.mark.django_db


@pytest.fixture
def ada() -> User:
    return make_person("ada", maker=False)


@pytest.fixture
def bundle() -> Bundle:
    """Size M, three garments, cut."""
    return make_planned_batch(cut=True).bundles.get(size__name="M")


def _tick(bundle: Bundle, step: int, person: User | None = None, *, done: bool = True, key: str = ""):
    operation = state_of(bundle).steps[step].operation
    return tick(bundle, operation, done=done, person=person, now=NOON, key=key or fresh_key())


def test_a_tick_is_written_with_who_and_when(bundle: Bundle, ada: User) -> None:
    ticked = _tick(bundle, 0, ada)
    assert ticked.changed
    assert ticked.state.stage == Stage.SEWING
    event = ProgressEvent.objects.get()
    assert (event.person, event.happened_at, event.operation.name) == (ada, NOON, "join shoulders")


def test_ticked_twice_counts_once(bundle: Bundle, ada: User) -> None:
    _tick(bundle, 0, ada)
    again = _tick(bundle, 0, ada)
    assert not again.changed
    assert not again.problem
    assert again.state.steps_done == 1
    assert ProgressEvent.objects.count() == 1


def test_the_same_key_sent_again_answers_how_it_is(bundle: Bundle, ada: User) -> None:
    """A network that repeats the first tap after the undo must not tick again."""
    _tick(bundle, 0, ada, key="one")
    _tick(bundle, 0, ada, done=False, key="two")
    late = _tick(bundle, 0, ada, key="one")
    assert not late.changed
    assert late.state.steps_done == 0
    assert ProgressEvent.objects.count() == 2


def test_a_key_used_by_another_bundle_changes_nothing(ada: User) -> None:
    first, second = make_planned_batch(cut=True).bundles.all()
    _tick(first, 0, ada, key="same")
    assert not _tick(second, 0, ada, key="same").changed
    assert state_of(second).steps_done == 0


def test_undo_and_tick_again(bundle: Bundle, ada: User) -> None:
    _tick(bundle, 0, ada)
    assert _tick(bundle, 0, ada, done=False).state.stage == Stage.CUT
    assert _tick(bundle, 0, ada).state.steps_done == 1
    assert [e.done for e in ProgressEvent.objects.all()] == [True, False, True]


def test_taking_back_what_was_never_ticked_writes_nothing(bundle: Bundle, ada: User) -> None:
    assert not _tick(bundle, 0, ada, done=False).changed
    assert not ProgressEvent.objects.exists()


def test_of_two_people_the_first_stays_on_record(bundle: Bundle, ada: User) -> None:
    _tick(bundle, 0, ada)
    second = _tick(bundle, 0, make_person("bo", maker=False))
    assert not second.changed
    assert second.state.steps[0].event.person == ada


def test_two_people_tick_different_steps(bundle: Bundle, ada: User) -> None:
    _tick(bundle, 1, ada)
    state = _tick(bundle, 0, make_person("bo", maker=False)).state
    assert [s.done for s in state.steps] == [True, True, False, False]
    assert state.last_operation.name == "join shoulders"


def test_a_bundle_that_is_not_cut_is_refused() -> None:
    bundle = make_planned_batch().bundles.first()
    refused = _tick(bundle, 0)
    assert "not cut yet" in refused.problem
    assert not ProgressEvent.objects.exists()


def test_one_uncut_lay_of_two_is_not_cut() -> None:
    batch = make_planned_batch()
    lay = batch.lays.first()
    assert batch.lays.count() == 2, "body and rib are two cloths"
    lay.cut_at = NOON
    lay.save()
    assert _tick(batch.bundles.first(), 0).problem


def test_checked_only_when_all_is_sewn(bundle: Bundle) -> None:
    sew(bundle, 3)
    refused = check(bundle)
    assert refused.problem == "Not checked: 1 step is still to be sewn."
    sew_rest = _tick(bundle, 3)
    assert sew_rest.state.stage == Stage.SEWN
    assert check(bundle).state.stage == Stage.CHECKED


def test_taking_a_step_back_takes_the_check_back(bundle: Bundle) -> None:
    sew(bundle)
    check(bundle)
    assert _tick(bundle, 2, done=False, key="k" * KEY_LENGTH).state.stage == Stage.SEWING
    assert _tick(bundle, 2).state.stage == Stage.SEWN, "sewn again is not checked again"


def test_operations_of_other_options_are_not_the_bundles(bundle: Bundle) -> None:
    names = [step.operation.name for step in state_of(bundle).steps]
    assert names == ["join shoulders", "close sides", "set rib band", "hem"]
    foreign = state_of(make_planned_batch(cut=True).bundles.first()).steps[0].operation
    with pytest.raises(ValueError, match="has no operation"):
        tick(bundle, foreign, done=True, person=None, now=NOON, key=fresh_key())


@pytest.mark.parametrize("key", ["", "k" * (KEY_LENGTH + 1)])
def test_a_key_must_be_one(bundle: Bundle, key: str) -> None:
    operation = state_of(bundle).steps[0].operation
    with pytest.raises(ValueError, match="key"):
        tick(bundle, operation, done=True, person=None, now=NOON, key=key)


def test_a_batch_is_finished_when_every_bundle_is_checked() -> None:
    batch = make_planned_batch(cut=True)
    first, second = batch.bundles.all()
    sew(first)
    check(first)
    refused = finish_batch(batch)
    assert refused.problem == (f"{batch} is not finished: 1 bundle is not checked yet, {second} first (cut).")
    sew(second)
    check(second)
    assert not finish_batch(batch).problem
    assert not finish_batch(batch).problem, "twice is once"
    batch.refresh_from_db()
    assert batch.state == Batch.State.DONE
    assert "is done" in _tick(first, 0, done=False).problem


def test_a_finished_batch_can_be_opened_again() -> None:
    batch = make_planned_batch(cut=True)
    assert not open_batch_again(batch)
    finish_bundles(batch)
    finish_batch(batch)
    assert open_batch_again(batch)
    assert _tick(batch.bundles.first(), 0, done=False).changed


def test_a_batch_without_bundles_is_not_finished() -> None:
    batch = Batch.objects.create(number="B-0099", made_on=NOON.date())
    assert "nothing to finish" in finish_batch(batch).problem
    cut_all(batch)
    assert "nothing to finish" in finish_batch(batch).problem
