"""Lays that were nested while the better search was still being made ready are nested again by themselves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from planner.core.lays import kept_code
from planner.core.lays.nest import seconds_for
from planner.core.lays.nestings import LEAST_POLISH_SECONDS
from planner.core.lays.problems import CannotPlan, PlanProblem
from planner.core.lays.wishes import facts_from_json
from planner.cutting.actions import nesting, polishing, settling, situation
from planner.cutting.actions.printing import note_printed
from planner.cutting.models import Batch, CutPlan, LayCloth, Marker
from planner.cutting.plan_progress import any_hurried, progress_of
from planner.cutting.printed import BUNDLES, SHEET
from planner.cutting.stored import planned_batch
from planner.cutting.tasks import FIRST_SEED, POLISH_SEED, STEP
from planner.materials.models import Workroom
from planner.web.management.commands import worker
from tests.cutting.once import settled, waiting_batch
from tests.cutting.settling_makers import lay_in_rows
from tests.factories import NOON, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
Capture = Callable[..., Any]


@pytest.fixture
def awaited(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """Whether the better search is still being made ready."""
    told = [True]
    monkeypatch.setattr(kept_code, "is_awaited", lambda: told[0])
    return told


@pytest.fixture
def order() -> Any:
    return make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])


def nested_alone(batch: Batch) -> Batch:
    """As the library leaves its lays where it nests alone."""
    for row in Marker.objects.filter(lays__batch=batch):
        row.placements = {**row.placements, "how": "unsearched"}
        row.save()
    return batch


def states(batch: Batch) -> set[tuple[str, int]]:
    return set(Marker.objects.filter(lays__batch=batch).values_list("state", "seed"))


def test_a_settled_plan_is_polished_once_the_search_is_there(order: Any, awaited: list[bool]) -> None:
    batch = nested_alone(settled(waiting_batch(order)))
    assert states(batch) == {(Marker.State.READY, POLISH_SEED)}
    assert polishing.polish_unsearched() == 0, "there is nothing yet to do it with"
    words = [one.now for one in progress_of(planned_batch(batch), "metric").values()]
    assert all("in a hurry, while the better search was still being made ready" in text for text in words)
    awaited[0] = False
    assert polishing.polish_unsearched() == batch.lays.count()
    assert states(batch) == {(Marker.State.WAITING, POLISH_SEED + 1)}
    assert planned_batch(batch).is_nested, "it can be printed and cut meanwhile"
    assert polishing.polish_unsearched() == 0


def test_it_is_done_before_a_plan_is_called_settled_where_the_search_is_there(
    order: Any, awaited: list[bool]
) -> None:
    batch = waiting_batch(order)
    for _ in range(5):
        lay_in_rows(batch)
        if settling.settle(batch.pk) == "polishing":
            break
    lay_in_rows(batch)
    nested_alone(batch)
    awaited[0] = False
    assert settling.settle(batch.pk) == "polishing"
    assert states(batch) == {(Marker.State.WAITING, POLISH_SEED + 1)}
    lay_in_rows(batch)
    assert settling.settle(batch.pk) == "settled"


def test_other_aims_are_looked_at_once_the_lays_are_as_they_stay(
    order: Any, beside: pytest.MonkeyPatch
) -> None:
    """Before their second nesting it counts whether the choice stands; what is told follows from what they reach."""
    batch, asked, judge = waiting_batch(order), [], settling.judge_plans

    def noted(*args: Any, **options: Any) -> Any:
        if not options["is_first"]:
            asked.append(options["explain"])
        return judge(*args, **options)

    beside.setattr(settling, "judge_plans", noted)
    said = ""
    while said != "settled":
        lay_in_rows(batch)
        said = settling.settle(batch.pk)
    assert asked[-1]
    assert asked[:-1]
    assert not any(asked[:-1])
    for plan in batch.cut_plans.all():
        facts = facts_from_json(plan.facts)
        assert {one.aim for one in facts.others} == {"fewest_lays", "least_cloth"}


def test_where_none_can_be_nested_again_all_is_told_at_once(order: Any, beside: pytest.MonkeyPatch) -> None:
    """Somebody kept the lays as they were, between the look at them and their second nesting."""
    batch = waiting_batch(order)
    for _ in range(5):
        lay_in_rows(batch)
        if settling.settle(batch.pk) == "polishing":
            break
    Marker.objects.filter(lays__batch=batch).update(state=Marker.State.READY, seed=FIRST_SEED)
    beside.setattr(settling, "polish", lambda *_: 0)
    assert settling.settle(batch.pk) == "settled"
    assert all(facts_from_json(plan.facts).others for plan in batch.cut_plans.all())


def test_no_plan_is_settled_whose_lays_were_nested_but_once(order: Any) -> None:
    """One fabric is planned again, the other's choice stands: its lays are nested a second time all the same. Formerly
    it was settled on the spot, with what the library alone had found in a second."""
    batch = waiting_batch(order)
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    longest = max((lay.marker for lay in batch.lays.all()), key=lambda marker: marker.length_mm)
    lay_in_rows(batch)
    Marker.objects.filter(pk=longest.pk).update(length_mm=float(Workroom.the().table_length_mm))
    assert settling.settle(batch.pk) == "planned again"
    stands = batch.cut_plans.get(rounds=0)
    assert stands.fabric.name == "rib"
    assert stands.state == CutPlan.State.NESTING
    settled(batch)
    assert states(batch) == {(Marker.State.READY, POLISH_SEED)}


def test_what_cannot_be_planned_again_is_nested_a_second_time_before_it_stays(
    order: Any, beside: pytest.MonkeyPatch
) -> None:
    batch = waiting_batch(order)
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    lay_in_rows(batch)

    def refuse(*_: Any, **__: Any) -> Any:
        raise CannotPlan([PlanProblem(None, "nothing fits")])

    beside.setattr(settling, "judge_plans", refuse)
    assert settling.settle(batch.pk) == "polishing"
    lay_in_rows(batch)
    assert settling.settle(batch.pk) == "stays as it is"
    assert states(batch) == {(Marker.State.READY, POLISH_SEED)}


def test_poor_rows_have_their_full_time_in_the_second_nesting(order: Any) -> None:
    """Of a large batch others have a share of it; rows that use much of the cloth may well be the best there is."""
    batch = waiting_batch(order)
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    lay_in_rows(batch)
    rows = list(Marker.objects.filter(lays__batch=batch).order_by("pk"))
    for number, row in enumerate(rows):
        how = {**row.placements, "how": "rows"}
        Marker.objects.filter(pk=row.pk).update(placements=how, efficiency=0.9 if number else 0.77)
    seen = situation.look(batch.pk)
    assert seen is not None
    with_little = [0.5] * len(rows)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(polishing, "polish_seconds", lambda _: with_little)
        assert polishing.polish(seen, seen.plans) == len(rows)
    seconds = dict(Marker.objects.filter(lays__batch=batch).values_list("pk", "seconds"))
    full = seconds_for(len(rows[0].placements["placements"]))
    assert [seconds[row.pk] for row in rows] == [full, *with_little[1:]]


def test_poor_rows_nested_but_once_in_a_settled_plan_are_named_and_nested_again(
    order: Any, awaited: list[bool]
) -> None:
    """As earlier versions left them."""
    batch = settled(waiting_batch(order))
    lay = batch.lays.first()
    for row in Marker.objects.filter(lays__batch=batch):
        how = {**row.placements, "how": "rows" if row.pk == lay.marker_id else "nested"}
        Marker.objects.filter(pk=row.pk).update(placements=how, efficiency=0.77)
    Marker.objects.filter(pk=lay.marker_id).update(seed=FIRST_SEED, seconds=1.0)
    awaited[0] = False

    def words() -> str:
        return " ".join(one.now for one in progress_of(planned_batch(batch), "metric").values())

    assert f"Lay {lay.number} was nested in a hurry" in words()
    Marker.objects.filter(pk=lay.marker_id).update(seconds=20.0)
    assert not words().strip(), "it had all its time"
    Marker.objects.filter(pk=lay.marker_id).update(seconds=1.0)
    assert polishing.polish_unsearched() == 1
    again = Marker.objects.get(pk=lay.marker_id)
    assert (again.state, again.seed) == (Marker.State.WAITING, POLISH_SEED)


def test_of_a_large_batch_every_lay_has_time_to_be_searched() -> None:
    seconds = polishing.polish_seconds([8] * 20)
    assert min(seconds) == LEAST_POLISH_SECONDS
    assert max(polishing.polish_seconds([8])) == 3.0


def test_poor_rows_are_looked_at_once_more(order: Any, awaited: list[bool]) -> None:
    """Nobody knows whether the better search looked for something better."""
    batch = settled(waiting_batch(order))
    rows = Marker.objects.filter(lays__batch=batch)
    assert {row.placements["how"] for row in rows} <= {"rows", "nested"}
    for row in rows:
        row.placements = {**row.placements, "how": "rows"}
        row.efficiency = 0.5
        row.save()
    rows.filter(pk=rows.first().pk).update(efficiency=0.9)
    awaited[0] = False
    assert polishing.polish_unsearched() == batch.lays.count() - 1
    rows.update(state=Marker.State.READY)
    assert polishing.polish_unsearched() == 0


def test_papers_on_the_table_do_not_become_old_by_themselves(order: Any, awaited: list[bool]) -> None:
    batch = nested_alone(settled(waiting_batch(order)))
    awaited[0] = False
    for paper in (SHEET, "1"):
        Batch.objects.filter(pk=batch.pk).update(printed={})
        note_printed(Batch.objects.get(pk=batch.pk), [paper], NOON)
        assert polishing.polish_unsearched() == 0, paper
    Batch.objects.filter(pk=batch.pk).update(printed={})
    note_printed(Batch.objects.get(pk=batch.pk), [BUNDLES], NOON)
    assert polishing.polish_unsearched() == batch.lays.count(), "bundle tickets tell nothing of lengths"


def test_what_is_being_cut_stays(order: Any, awaited: list[bool]) -> None:
    batch = nested_alone(settled(waiting_batch(order)))
    awaited[0] = False
    LayCloth.objects.filter(lay=batch.lays.first()).update(cut_spreads=1)
    assert polishing.polish_unsearched() == 0


def test_where_the_search_never_runs_it_ends(order: Any, awaited: list[bool]) -> None:
    """Several computers share the work; one has no search, and the marker always comes to that one."""
    batch = nested_alone(settled(waiting_batch(order)))
    awaited[0] = False
    times = 0
    while polishing.polish_unsearched():
        Marker.objects.filter(lays__batch=batch).update(state=Marker.State.READY)
        times += 1
        assert times < 10
    assert times == polishing.MOST_AGAIN


def test_a_lay_that_failed_has_no_answer_until_it_is_nested(order: Any) -> None:
    """Asked for once more, it is no lay that is merely nested for longer: no paper may show it."""
    batch = settled(waiting_batch(order))
    row = batch.lays.first().marker
    Marker.objects.filter(pk=row.pk).update(state=Marker.State.FAILED)
    row.refresh_from_db()
    assert nesting.run_longer(row, 20.0)
    row.refresh_from_db()
    assert (row.state, row.seed, row.is_laid) == (Marker.State.WAITING, FIRST_SEED, False)
    assert not planned_batch(batch).is_nested


def test_nested_longer_while_the_search_is_awaited_it_is_nested_again_once_it_is_there(
    order: Any, awaited: list[bool]
) -> None:
    """Whatever seed that was, also after a night of it in pieces."""
    batch = nested_alone(settled(waiting_batch(order)))
    row = batch.lays.first().marker
    rest = Marker.objects.filter(lays__batch=batch).exclude(pk=row.pk)
    rest.update(placements={"how": "nested"})
    assert nesting.run_longer(row, 20.0)
    for seed in (row.seed, row.seed + 400 * STEP):
        Marker.objects.filter(pk=row.pk).update(state=Marker.State.READY, seed=seed)
        awaited[0] = True
        assert any(
            f"Lay {batch.lays.first().number} was nested in a hurry" in one.now
            for one in progress_of(planned_batch(batch), "metric").values()
        )
        awaited[0] = False
        assert polishing.polish_unsearched() == 1
        assert Marker.objects.get(pk=row.pk).state == Marker.State.WAITING


def test_ready_while_the_library_nests_the_search_has_its_turn_next(
    order: Any, awaited: list[bool], beside: pytest.MonkeyPatch
) -> None:
    batch = nested_alone(settled(waiting_batch(order)))
    row = batch.lays.first().marker
    Marker.objects.filter(lays__batch=batch).exclude(pk=row.pk).update(placements={"how": "nested"})
    assert nesting.run_longer(row, 20.0)

    def ready_meanwhile(job: Any, *, start: Any, **_: Any) -> Any:
        awaited[0] = False
        return start

    beside.setattr(nesting, "nest", ready_meanwhile)
    assert nesting.nest_one(row.pk) == Marker.State.READY
    again = Marker.objects.get(pk=row.pk)
    assert (again.state, again.seed) == (Marker.State.WAITING, row.seed + 1)


def test_where_the_search_cannot_be_had_lays_say_so_and_stay(
    order: Any, awaited: list[bool], beside: pytest.MonkeyPatch
) -> None:
    batch = nested_alone(settled(waiting_batch(order)))
    awaited[0] = False
    beside.setattr(kept_code, "is_given_up", lambda: True)
    before = states(batch)
    assert polishing.polish_unsearched() == 0
    read = planned_batch(batch)
    words = " ".join(one.now for one in progress_of(read, "metric").values())
    assert "as the simpler search nested" in words
    assert "could not be made ready on this computer" in words
    assert not any_hurried(read), "nobody looks for it every few seconds"
    assert states(batch) == before
    assert read.is_nested
    beside.setattr(kept_code, "is_given_up", lambda: False)
    assert polishing.polish_unsearched() == batch.lays.count(), "put right, the next start nests them again"


def test_compiling_that_took_too_long_is_tried_again_by_the_worker_itself(
    order: Any, awaited: list[bool], beside: pytest.MonkeyPatch
) -> None:
    batch = nested_alone(settled(waiting_batch(order)))
    tried = []

    def prepare() -> None:
        tried.append(1)
        awaited[0] = len(tried) < 3
        if not awaited[0]:
            beside.setattr(kept_code, "is_given_up", lambda: False)

    beside.setattr(worker, "prepare_search", prepare)
    beside.setattr(worker, "TRY_AGAIN_AFTER", 0.0)
    beside.setattr(worker, "close_old_connections", lambda: None)
    worker.prepare_and_polish()
    assert len(tried) == 3
    assert {row.state for row in Marker.objects.filter(lays__batch=batch)} == {Marker.State.WAITING}


def test_what_papers_show_is_not_said_to_be_nested_again(order: Any, awaited: list[bool]) -> None:
    batch = nested_alone(settled(waiting_batch(order)))
    note_printed(batch, [SHEET], NOON)
    read = planned_batch(Batch.objects.get(pk=batch.pk))
    words = [one.now for one in progress_of(read, "metric").values()]
    assert all("stays so, for papers that are printed show" in text or "stay so" in text for text in words)
    assert not any_hurried(read)
