"""Cut plans on their way: real lengths change the choice until it stands, and what comes in between."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django_tasks.base import Task

from planner.core.lays.stored import job_from_json
from planner.core.lays.wishes import facts_from_json
from planner.cutting.actions import cut_off, gathering, judging, nesting, planning, settling, situation
from planner.cutting.actions.laying import ready_lays
from planner.cutting.cut_plans import in_cutting_order, is_same, shape_of
from planner.cutting.judged_plans import is_better
from planner.cutting.marker_store import LAID_BEFORE
from planner.cutting.models import Batch, CutPlan, Lay, Marker
from planner.cutting.stored import planned_batch, stored_lay
from planner.cutting.tasks import LATER, POLISH_SEED, SLICE_SECONDS, nest_marker, settle_batch
from planner.materials.models import Fabric, Workroom
from planner.orders.models import LineQuantity, Order
from planner.styles.models import PieceOutline
from tests.cutting import once, settling_makers
from tests.cutting.once import waiting_batch
from tests.cutting.settling_makers import lay_in_rows, settled
from tests.factories import NOON, TODAY, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
RIB = {"neck": "rib band"}


@pytest.fixture
def order() -> Order:
    return make_order([(the_style(), RIB, "ink", {"S": 2, "M": 3}), (the_style(), RIB, "moss", {"M": 2})])


@pytest.fixture
def queued(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, int, int]]:
    """What was put into the worker's queue: the task, its row, its priority."""
    asked: list[tuple[str, int, int]] = []
    monkeypatch.setattr(Task, "enqueue", lambda task, pk: asked.append((task.name, pk, task.priority)))
    return asked


def cut_of(batch: Batch) -> Counter[tuple[str, str]]:
    """Garments that the bundles hold, by colourway and size."""
    found: Counter[tuple[str, str]] = Counter()
    for bundle in batch.bundles.select_related("colourway", "size"):
        found[bundle.colourway.name, bundle.size.name] += bundle.quantity
    return found


WANTED = Counter({("ink", "S"): 2, ("ink", "M"): 3, ("moss", "M"): 2})


def test_a_plan_settles_and_tells_what_its_lengths_rest_on(
    order: Order,
    queued: list[tuple[str, int, int]],
    django_capture_on_commit_callbacks: Callable[..., object],
) -> None:
    batch = waiting_batch(order)
    assert batch.cut_plans.count() == 2
    assert not planned_batch(batch).is_nested
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    before = situation.stamp_of(batch)
    assert settling.settle(batch.pk) == "being nested"
    assert situation.stamp_of(batch) == before, "while lays are nested nothing is changed"
    settled(batch)
    read = planned_batch(batch)
    assert read.is_nested
    for one in read.plans:
        facts = facts_from_json(one.plan.facts)
        own = [lay for lay in read.lays if lay.cloths.all()[0].fabric_colour.fabric_id == one.plan.fabric_id]
        assert (facts.best.lays, facts.nested) == (len(own), len(own))
    assert cut_of(batch) == WANTED
    assert [lay.number for lay in batch.lays.all()] == list(range(1, batch.lays.count() + 1))
    assert settling.settle(batch.pk) == "nothing to settle"
    # A lay nested shorter by "Nest longer": no lay is another, but what the plan comes to follows, and only once.
    row, first = batch.lays.first().marker, read.lays[0].cloths.all()
    plan = batch.cut_plans.get(fabric_id=first[0].fabric_colour.fabric_id)
    lays = list(batch.lays.values_list("pk", "number"))
    Marker.objects.filter(pk=row.pk).update(length_mm=row.length_mm - 100)
    queued.clear()
    with django_capture_on_commit_callbacks(execute=True):
        nesting.after_nesting(row.pk)
    assert [name for name, pk, _ in queued if pk == batch.pk] == ["settle_batch"]
    assert settling.settle(batch.pk) == "settled"
    less = facts_from_json(plan.facts).best.cloth_mm - 100 * sum(cloth.spreads for cloth in first)
    plan.refresh_from_db()
    assert facts_from_json(plan.facts).best.cloth_mm == pytest.approx(less)
    assert list(batch.lays.values_list("pk", "number")) == lays
    assert settling.settle(batch.pk) == "nothing to settle"


def test_lays_of_cloth_that_shrinks_are_the_same_once_they_are_stored(order: Order) -> None:
    """Cut larger, their points lie anywhere. Formerly lays that stayed while another fabric was planned again were made
    anew with another key, so that their plan was settled on lengths it did not know to be nested.
    """
    Fabric.objects.update(
        shrinkage_handling="cut_larger", shrinkage_length_percent="3.1", shrinkage_width_percent="1.7"
    )
    batch = settling_makers.waiting_batch(order)
    lays = [stored_lay(row) for row in batch.lays.with_everything()]
    assert [shape_of(lay.planned) for lay in lays] == [
        shape_of(lay.planned, lay.row.marker.key) for lay in lays
    ]
    read = situation.read_situation(batch)
    assert read is not None
    assert not ready_lays([lay.planned for lay in read.lays], read.lays, seconds=None).new


def test_a_length_that_does_not_fit_the_table_brings_another_plan(
    order: Order, queued: list[tuple[str, int, int]], django_capture_on_commit_callbacks: Callable
) -> None:
    """The style is changed meanwhile, too, which changes no lay."""
    batch = waiting_batch(order)
    PieceOutline.objects.filter(piece__name="front").delete()
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    longest = max((lay.marker for lay in batch.lays.all()), key=lambda marker: marker.length_mm)
    lay_in_rows(batch)
    Marker.objects.filter(pk=longest.pk).update(length_mm=float(Workroom.the().table_length_mm))
    with django_capture_on_commit_callbacks(execute=True):
        assert settling.settle(batch.pk) == "planned again"
    assert longest.pk not in batch.lays.values_list("marker_id", flat=True)
    assert Marker.objects.filter(pk=longest.pk).exists(), "its length is known for good"
    assert batch.cut_plans.get(fabric__name="jersey").rounds == 1
    waiting = set(batch.lays.filter(marker__state=Marker.State.WAITING).values_list("marker_id", flat=True))
    assert {pk for name, pk, _ in queued if name == nest_marker.name} == waiting
    assert (settle_batch.name, batch.pk, settle_batch.priority) in queued
    assert cut_of(settled(batch)) == WANTED
    jobs = [job_from_json(lay.marker.job) for lay in batch.lays.select_related("marker")]
    assert any(item.piece == "front" for job in jobs for item in job.items)


def test_a_plan_takes_anothers_place_only_where_it_is_worth_it(order: Order) -> None:
    facts = facts_from_json(waiting_batch(order).cut_plans.first().facts)
    cost = facts.best.cost

    def at(money: Decimal, **changes: object) -> object:
        return replace(facts, best=replace(facts.best, cost=money, **changes))

    assert not is_better(at(cost - Decimal("0.05")), facts)
    less = at(cost - max(Decimal("0.20"), cost / 100))
    assert not is_better(replace(less, nested=0), facts), "its lengths are estimates"
    assert is_better(replace(less, nested=less.best.lays), facts)
    fewest = replace(facts, best=replace(facts.best, aim="fewest_lays", lays=3))
    assert is_better(replace(fewest, best=replace(fewest.best, lays=2, cost=cost * 2)), fewest)
    assert not is_better(replace(fewest, best=replace(fewest.best, lays=4, cost=cost / 2)), fewest)


def test_lays_that_stay_keep_their_rows_and_are_numbered_longest_first(order: Order) -> None:
    batch = waiting_batch(order)
    lays = [stored_lay(row).planned for row in batch.lays.with_everything()]
    assert is_same(lays, list(reversed(lays)))
    assert len({shape_of(lay) for lay in lays}) == len(lays)
    fabrics = [lay.fabric for lay in in_cutting_order(lays)]
    assert fabrics == sorted(fabrics, key=fabrics.index)
    assert fabrics[0] == "jersey", "the fabric that takes most comes first"
    rows = set(batch.lays.values_list("pk", flat=True))
    batch.cut_plans.update(state=CutPlan.State.QUICK)
    settling.settle(batch.pk)
    assert set(batch.lays.values_list("pk", flat=True)) == rows


def test_face_to_face_a_spread_takes_two_lengths_of_the_fabric_that_is_cut_first(order: Order) -> None:
    lays = [stored_lay(row).planned for row in waiting_batch(order).lays.with_everything()]
    jersey = next(one for one in lays if one.fabric == "jersey")
    rib = next(one for one in lays if one.fabric == "rib")
    jersey = replace(jersey, mode="open", estimated_length_mm=1000.0 / jersey.spreads)
    rib = replace(rib, mode="open", estimated_length_mm=700.0 / rib.spreads)
    both = [replace(one, end_allowance_mm=0.0) for one in (jersey, rib)]
    assert [one.fabric for one in in_cutting_order(both)] == ["jersey", "rib"]
    both[1] = replace(both[1], mode="face_to_face")
    assert [one.fabric for one in in_cutting_order(both)] == ["rib", "jersey"]


def test_what_somebody_changed_meanwhile_is_not_written_over(
    order: Order, beside: pytest.MonkeyPatch
) -> None:
    batch = waiting_batch(order)
    lay_in_rows(batch)
    plain, meanwhile = judging.decide, []

    def somebody_comes_between(*args: object, **options: object) -> object:
        meanwhile[-1]()
        return plain(*args, **options)

    beside.setattr(judging, "decide", somebody_comes_between)
    meanwhile.append(lambda: batch.cut_plans.update(most_plies=1, state=CutPlan.State.QUICK))
    assert settling.settle(batch.pk) == "changed meanwhile"
    assert set(batch.cut_plans.values_list("state", flat=True)) == {"quick"}
    # A batch cancelled while it is settled stays empty.
    meanwhile.append(lambda: gathering.cancel_batch(batch, None, NOON))
    assert settling.settle(batch.pk) == "changed meanwhile"
    assert (batch.lays.count(), batch.bundles.count(), batch.cut_plans.count()) == (0, 0, 0)
    assert settling.settle(batch.pk) == "nothing to settle"


def test_a_reckoning_that_breaks_down_leaves_lays_that_can_be_cut(
    order: Order, beside: pytest.MonkeyPatch
) -> None:
    batch = waiting_batch(order)
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    lay_in_rows(batch)
    before = list(batch.lays.values_list("pk", "number"))

    def broken(*args: object, **options: object) -> object:
        raise RuntimeError("the solver fell over")

    beside.setattr(judging, "decide", broken)
    assert settling.settle(batch.pk) == "polishing"
    lay_in_rows(batch)
    assert settling.settle(batch.pk) == "stays as it is"
    assert list(batch.lays.values_list("pk", "number")) == before
    assert planned_batch(batch).is_nested


def test_a_worker_that_was_cut_off_is_asked_again(
    order: Order, queued: list[tuple[str, int, int]], django_capture_on_commit_callbacks: Callable
) -> None:
    batch = waiting_batch(order)
    queued.clear()
    with django_capture_on_commit_callbacks(execute=True):
        cut_off.take_up_again(NOON, all_nesting=True)
    assert (settle_batch.name, batch.pk, settle_batch.priority) in queued


# ---- the same question asked twice ----


def twice(order: Order) -> tuple[Marker, Marker]:
    """Two batches that wait for the same marker."""
    other = make_order([(the_style(), RIB, "ink", {"S": 1})])
    one = waiting_batch(make_order([(the_style(), RIB, "ink", {"S": 1})]))
    two = waiting_batch(other)
    Marker.objects.update(seconds=1)
    jersey = {"cloths__fabric_colour__fabric__name": "jersey"}
    return one.lays.get(**jersey).marker, two.lays.get(**jersey).marker


@pytest.mark.usefixtures("nested_soon")
def test_of_two_that_ask_the_same_only_one_is_nested(order: Order, beside: pytest.MonkeyPatch) -> None:
    first, second = twice(order)
    assert first.key == second.key
    plain, outcomes = nesting.nest, []

    def both_at_once(job: object, **options: object) -> object:
        outcomes.append(nesting.nest_one(second.pk))
        return plain(job, **options)

    beside.setattr(nesting, "nest", both_at_once)
    assert nesting.nest_one(first.pk) == "ready"
    second.refresh_from_db()
    assert outcomes == ["not waiting"]
    assert (second.state, second.message) == (Marker.State.READY, LAID_BEFORE)


# ---- keep improving ----


def test_a_night_of_nesting_is_done_in_pieces_that_give_way(
    order: Order,
    queued: list[tuple[str, int, int]],
    beside: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: Callable,
) -> None:
    batch = once.settled(waiting_batch(order))
    marker = batch.lays.first().marker
    asked: list[float] = []

    def as_it_was(job: object, **options: object) -> object:
        asked.append(options["seconds"])  # type: ignore[arg-type]
        return options["start"]

    beside.setattr(nesting, "nest", as_it_was)
    queued.clear()
    with django_capture_on_commit_callbacks(execute=True):
        assert nesting.run_longer(marker, 28_800.0)
        assert nesting.nest_one(marker.pk) == "goes on later"
    assert queued == [(nest_marker.name, marker.pk, LATER)] * 2
    marker.refresh_from_db()
    assert asked == [SLICE_SECONDS]
    assert (marker.state, marker.seconds) == (Marker.State.WAITING, 28_800.0 - SLICE_SECONDS)
    assert "7 h 59 min to go" in marker.message
    assert planned_batch(batch).is_nested, "it can be printed and cut as it stands"
    assert nesting.stop_and_keep(marker)
    marker.refresh_from_db()
    assert (marker.state, marker.is_final) == (Marker.State.STOPPED, True)
    assert nesting.nest_one(marker.pk) == "not waiting"


# ---- extra garments ----


def test_extra_garments_are_cut_counted_and_bundled(order: Order, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = planning.decide

    def all_that_is_allowed(demand: object, *args: object, **options: object) -> object:
        more = [replace(row, quantity=row.quantity + row.extra_allowed, extra_allowed=0) for row in demand]  # type: ignore[attr-defined]
        return plain(more, *args, **options)

    monkeypatch.setattr(planning, "decide", all_that_is_allowed)
    monkeypatch.setattr(judging, "decide", all_that_is_allowed)
    batch = settled(settling_makers.waiting_batch(order, extra=1))
    assert list(batch.items.values_list("extra", flat=True)) == [1, 1, 1]
    assert cut_of(batch) == WANTED + Counter(dict.fromkeys(WANTED, 1))
    read = planned_batch(batch)
    assert (read.demand.garments, read.demand.extra) == (10, 3)
    counts = {c.garment.size: c.count for c in read.needs.cutting_counts if c.piece == "front"}
    assert counts == {"S": 3, "M": 3}
    assert Batch.objects.with_counts().get().garments == 10
    assert planning.take_plan_back(batch, None, NOON)
    assert not any(batch.items.values_list("extra", flat=True))


def test_a_lay_that_is_kept_stays_whatever_comes(order: Order) -> None:
    batch = waiting_batch(order)
    kept = batch.lays.first()
    Lay.objects.filter(pk=kept.pk).update(is_kept=True)
    settled(batch)
    assert batch.lays.filter(pk=kept.pk, is_kept=True).exists()


def test_how_many_more_may_be_cut_is_typed_on_the_page_that_fills_a_batch(
    maker_client: Client, order: Order
) -> None:
    gathering.create_batch(None, TODAY)
    address = reverse("batch-fill", args=["B-0001"])
    rows = list(LineQuantity.objects.all())
    boxes = {f"q-{row.pk}": str(row.quantity) for row in rows}
    wrong = maker_client.post(address, {**boxes, f"x-{rows[0].pk}": "many"})
    html = wrong.content.decode()
    assert (wrong.status_code, 'value="many"' in html) == (422, True)
    assert "type a whole number up to 99" in html
    assert '<details class="fill-more" open>' in html
    assert not Batch.objects.get().items.exists()
    right = maker_client.post(address, {**boxes, f"x-{rows[0].pk}": "2"})
    assert right.status_code == 302
    assert sorted(Batch.objects.get().items.values_list("extra_allowed", flat=True)) == [0, 0, 2]
    assert 'value="2"' in maker_client.get(address).content.decode()


def test_extra_garments_are_told_where_the_batch_says_what_it_makes(
    maker_client: Client, order: Order
) -> None:
    batch = once.settled(waiting_batch(order))
    item = batch.items.first()
    batch.items.filter(pk=item.pk).update(extra_allowed=1, extra=1)
    page = maker_client.get(reverse("batch-detail", args=[batch.number])).content.decode()
    assert "incl. 1 extra" in page
    assert f"{batch.number}: 8 garments" in page


def test_an_answer_from_the_store_that_was_only_nested_to_compare_is_polished(order: Order) -> None:
    one = waiting_batch(make_order([(the_style(), RIB, "ink", {"S": 1})]))
    lay_in_rows(one)  # nested for the first look only: the plan is taken back before it is settled
    two = waiting_batch(make_order([(the_style(), RIB, "ink", {"S": 1})]))
    taken = Marker.objects.filter(lays__batch=two)
    assert {(row.state, row.message) for row in taken} == {(Marker.State.READY, LAID_BEFORE)}
    for _ in range(5):
        if settling.settle(two.pk) == "polishing":
            break
    assert {(row.state, row.seed) for row in taken.all()} == {(Marker.State.WAITING, POLISH_SEED)}
    # What was polished once is not polished again when it is asked for by a third.
    lay_in_rows(two)
    settled(two)
    three = waiting_batch(make_order([(the_style(), RIB, "ink", {"S": 1})]))
    assert {row.seed for row in Marker.objects.filter(lays__batch=three)} == {POLISH_SEED}
    settled(three)
    assert {row.message for row in Marker.objects.filter(lays__batch=three)} == {LAID_BEFORE}


def test_a_garment_nested_badly_says_nothing_of_larger_markers() -> None:
    """Formerly its own marker was all that was learnt of the cloth: nothing else could be worth laying together."""
    batch = waiting_batch(make_order([(the_style(), RIB, "ink", {"M": 1})]))
    row = max((lay.marker for lay in batch.lays.all()), key=lambda marker: marker.length_mm)
    how = {**row.placements, "how": "nested"}
    Marker.objects.filter(pk=row.pk).update(state=Marker.State.READY, efficiency=0.4, placements=how)
    seen = situation.look(batch.pk)
    assert seen is not None
    learnt = judging.lengths_now(seen, ["jersey"]).learnt["jersey"]
    assert (learnt.at(1), learnt.at(6)) == pytest.approx((0.4, 0.78))
