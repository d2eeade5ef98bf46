"""A large batch: others can write while it is reckoned, and what is written takes no longer for every lay."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django_tasks_db.models import DBTaskResult

from planner.cutting import batch_page, lay_papers, lay_screens, marker_store, tasks
from planner.cutting.actions import gathering, laying, nesting, planning
from planner.cutting.demand import batch_demand
from planner.cutting.models import Batch, Bundle, Lay, Marker
from planner.cutting.stored import plan_of, planned_batch, stored_lays
from planner.materials.models import Workroom
from planner.orders.models import LineQuantity
from planner.settings import base
from planner.styles.models import Style
from tests.factories import TODAY, make_order, make_style
from tests.sewing.makers import nest_all

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def gathered(garments: int) -> Batch:
    """A batch of one size in one colour, at a short table with a tool that cuts one ply."""
    Workroom.the()
    Workroom.objects.update(most_plies=1, table_length_mm=1500)
    style = Style.objects.first() or make_style()
    order = make_order([(style, {"neck": "rib band"}, "ink", {"M": garments})])
    batch = gathering.create_batch(None, TODAY)
    wanted = LineQuantity.objects.filter(line__order=order)
    assert not gathering.fill_batch(batch, {row.pk: row.quantity for row in wanted}).problems
    return batch


def written(batch: Batch, monkeypatch: pytest.MonkeyPatch) -> int:
    """Plans a batch; the queries while it is locked. Nothing is asked of the core meanwhile."""
    write, queries = planning._write_plan, []

    def watched(*args: Any) -> planning.Planned:
        with monkeypatch.context() as patch, CaptureQueriesContext(connection) as asked:
            for module, name in [
                (laying, "marker_key"), (marker_store, "job_to_json"), (marker_store, "first_marker"),
                (planning, "work_out_needs"), (planning, "styles_to_keep"),
            ]:  # fmt: skip
                patch.setattr(module, name, too_late)
            planned = write(*args)
        queries.append(len(asked))
        return planned

    monkeypatch.setattr(planning, "_write_plan", watched)
    planned = planning.plan_batch(batch, NOON, seconds=2, think_seconds=0.2)
    monkeypatch.setattr(planning, "_write_plan", write)
    assert not planned.problems
    return queries[0]


def too_late(*_: Any, **__: Any) -> None:
    raise AssertionError("reckoned while nobody else can write")


def test_writing_a_plan_asks_as_much_for_many_lays_as_for_few(monkeypatch: pytest.MonkeyPatch) -> None:
    few = written(gathered(2), monkeypatch)
    small = Lay.objects.count()
    many = written(gathered(30), monkeypatch)
    assert Lay.objects.count() - small > 10
    # Lays of the first batch have the styles kept already that the second one keeps too.
    assert many <= few + 3


def test_lays_that_ask_the_very_same_share_their_marker_and_needs_are_those_reckoned_from_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    batch = gathered(30)
    written(batch, monkeypatch)
    lays = list(batch.lays.select_related("marker"))
    keys = {lay.marker.key for lay in lays}
    assert Marker.objects.count() == len(keys) < len(lays)
    assert sum(bundle.quantity for bundle in Bundle.objects.filter(batch=batch)) == 30
    assert batch_demand(batch).garments == 30
    fields = ("fabric_colour", "notion_colour", "need", "lay_m", "least_packs", "is_estimate", "how")
    there = list(batch.needs.values_list(*fields))
    planning.refresh_needs(batch)
    assert list(batch.needs.values_list(*fields)) == there


def drawn(shown: str, lays: int) -> list[int]:
    """The numbers of the lays that a page of a batch draws."""
    return [n for n in range(1, lays + 1) if f'aria-label="Lay {n}, drawn large"' in shown]


def test_very_many_lays_come_in_pages_beginning_with_the_next_to_be_cut(
    monkeypatch: pytest.MonkeyPatch, maker_client: Client
) -> None:
    batch = gathered(12)
    written(batch, monkeypatch)
    lays = batch.lays.count()
    page = reverse("batch-detail", args=[batch.number])
    shown = maker_client.get(page).content.decode()
    assert lays > 4
    assert drawn(shown, lays) == list(range(1, lays + 1))
    assert 'hx-trigger="every 1s"' in shown
    assert "Pages of lays" not in shown
    batch.lays.filter(number__lte=2).update(cut_at=NOON)
    monkeypatch.setattr(lay_screens, "MOST_DRAWN", 2)
    monkeypatch.setattr(batch_page, "MOST_DRAWN", 2)
    shown = maker_client.get(page).content.decode()
    assert drawn(shown, lays) == [3, 4], "what is cut is behind whoever opens the page"
    assert f"Lays 3 to 4 of {lays}, in the order they are cut" in shown
    assert 'hx-trigger="every 15s"' in shown
    assert "&amp;lays=2" in shown, "what is asked for again is the same page of them"
    assert drawn(maker_client.get(page, {"lays": 1}).content.decode(), lays) == [1, 2]
    running = reverse("batch-running", args=[batch.number])
    assert drawn(maker_client.get(running, {"lays": 1}).content.decode(), lays) == [1, 2]
    last = drawn(maker_client.get(page, {"lays": 10_000}).content.decode(), lays)
    assert last[-1:] == [lays], "the last page instead of one there is none of"


def test_a_lay_kept_on_a_later_page_is_seen_there_again(
    monkeypatch: pytest.MonkeyPatch, maker_client: Client
) -> None:
    batch = gathered(12)
    written(batch, monkeypatch)
    monkeypatch.setattr(lay_screens, "MOST_DRAWN", 2)
    keep = reverse("lay-keep", args=[batch.number, 3])
    shown = maker_client.get(reverse("batch-detail", args=[batch.number]), {"lays": 2}).content.decode()
    assert f'action="{keep}?lays=2"' in shown
    done = maker_client.post(f"{keep}?lays=2", {"keep": "1"})
    assert done["Location"] == reverse("batch-detail", args=[batch.number]) + "?lays=2#lay-3"
    done = maker_client.post(f"{keep}?lays=2", {"keep": ""}, HTTP_HX_REQUEST="true")
    assert drawn(done.content.decode(), batch.lays.count()) == [3, 4]


def test_very_many_bundles_come_in_pages_and_counts_of_very_many_kinds_are_folded(
    monkeypatch: pytest.MonkeyPatch, maker_client: Client
) -> None:
    batch = gathered(12)
    written(batch, monkeypatch)
    numbers = list(batch.bundles.order_by("pk").values_list("number", flat=True))
    assert len(numbers) > 2
    monkeypatch.setattr(batch_page, "BUNDLES", 2)
    page = reverse("batch-detail", args=[batch.number])
    assert "of garment</summary>" not in maker_client.get(page).content.decode()
    monkeypatch.setattr(batch_page, "MOST_COUNTED", 0)
    shown = maker_client.get(page, {"bundles": 2}).content.decode()
    assert "of garment</summary>" in shown
    assert [n for n in numbers if f"<strong>{n}</strong>" in shown] == numbers[2:4]
    assert f"of {len(numbers)}." in shown
    assert "bundles=1#h-bundles" in shown


def test_lays_that_are_not_shown_are_not_read(monkeypatch: pytest.MonkeyPatch, maker_client: Client) -> None:
    batch = gathered(12)
    written(batch, monkeypatch)
    read: list[int] = []
    for most in (1, 40):
        monkeypatch.setattr(lay_screens, "MOST_DRAWN", most)
        marker_store.places_of_text.cache_clear()
        met: list[Any] = []
        made = marker_store.marker_from_json
        monkeypatch.setattr(
            marker_store, "marker_from_json", lambda text, made=made, met=met: met.append(text) or made(text)
        )
        maker_client.get(reverse("batch-detail", args=[batch.number]))
        monkeypatch.setattr(marker_store, "marker_from_json", made)
        read.append(len(met))
    assert read[0] == 1 < read[1]


def test_markers_of_a_plan_are_asked_for_in_one_go(
    settings: Any, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    settings.TASKS = base.TASKS
    batch = gathered(4)
    written(batch, monkeypatch)
    DBTaskResult.objects.all().delete()
    markers = list(Marker.objects.filter(lays__batch=batch).distinct().order_by("pk"))
    assert len(markers) > 1
    queries = []
    for _ in range(2):
        with django_capture_on_commit_callbacks() as asked:
            tasks.queue_nestings(markers)
        with CaptureQueriesContext(connection) as counted:
            for ask in asked:
                ask()
        queries.append(len([one for one in counted if "SAVEPOINT" not in one["sql"]]))
    # What waits already is asked for in one query, then each is put into the queue; the second time all of them wait.
    assert queries == [1 + len(markers), 1]
    waiting = DBTaskResult.objects.ready().filter(task_path=tasks.nest_marker.module_path)
    assert sorted(task.args_kwargs["args"][0] for task in waiting) == [marker.pk for marker in markers]


def test_with_many_lays_to_come_needs_are_not_reckoned_after_every_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    batch = gathered(4)
    written(batch, monkeypatch)
    first, *others = Marker.objects.filter(lays__batch=batch).distinct().order_by("pk")
    reckoned: list[int] = []
    monkeypatch.setattr(planning, "refresh_needs", lambda one: reckoned.append(one.pk))
    Marker.objects.filter(pk=first.pk).update(state=Marker.State.READY, length_mm=700)
    nesting.after_nesting(first.pk)
    assert reckoned == [batch.pk], "a few: after each"
    monkeypatch.setattr(nesting, "NEEDS_EVERY", 1)
    nesting.after_nesting(first.pk)
    assert reckoned == [batch.pk], "many: not after this one"
    Marker.objects.filter(pk__in=[one.pk for one in others]).update(state=Marker.State.READY, length_mm=700)
    nesting.after_nesting(first.pk)
    assert reckoned == [batch.pk] * 2, "but after the last one"


def test_how_a_marker_was_laid_is_known_without_reading_its_places_again() -> None:
    text = '{"length_mm": 900.0, "how": "library", "placements": []}'
    assert marker_store.Places(text).get("how") == "library"
    again = marker_store.Places(text)
    assert again
    assert again.get("how") == "library"
    assert "_stored" not in again.__dict__
    assert again["length_mm"] == 900.0
    assert dict(again) == {"length_mm": 900.0, "how": "library", "placements": []}
    assert marker_store.Places('{"placements": []}').get("how", "none") == "none"


def test_how_a_marker_was_laid_is_told_though_another_page_clears_what_is_known(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Cleared(dict[bytes, tuple[str | None]]):
        def __setitem__(self, digest: bytes, how: tuple[str | None]) -> None:
            """Cleared by another thread as soon as it is noted."""

    monkeypatch.setattr(marker_store, "_HOWS", Cleared())
    assert marker_store.Places('{"placements": [], "how": "library"}').get("how") == "library"


def test_what_many_lays_share_is_reckoned_and_held_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 1,211 lays with 370 markers the marks of their pieces took a third of what the cut sheet is made from, and
    half of its memory; jobs and markers took 250 MB once more than what was read of them already."""
    batch = gathered(30)
    written(batch, monkeypatch)
    nest_all(batch)
    read = planned_batch(Batch.objects.get())
    reckoned: list[int] = []
    marks = lay_papers.marks_of
    monkeypatch.setattr(lay_papers, "marks_of", lambda *args: reckoned.append(1) or marks(*args))
    plan = plan_of(read)
    papers = lay_papers.lay_papers(plan, read.shop)
    markers = {id(lay.marker): len(lay.marker.placements) for lay in plan.lays}
    assert sum(len(paper.pieces) for paper in papers) > sum(markers.values())
    assert len(reckoned) == sum(markers.values())
    # A plan that is read holds each outline once, and the markers read before.
    outlines = [item.outline for lay in plan.lays for item in lay.planned.job.items]
    assert len({id(outline) for outline in outlines}) == len(set(outlines)) < len(outlines)
    whole = {lay.row.number: lay for lay in stored_lays(batch.lays.with_everything())}
    rows = {row.number: row for row in read.lays}
    assert len(plan.lays) == len(rows)
    for lay in plan.lays:
        assert lay.planned == whole[lay.number].planned
        assert lay.marker == whole[lay.number].marker
        assert lay.marker is marker_store.read_marker(rows[lay.number].marker)
