"""What the page of a batch tells while its lays are nested, and what stays there to be printed."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import nesting
from planner.cutting.models import Batch, CutPlan, LayCloth, Marker
from planner.cutting.nesting_words import POOR_ROWS
from planner.cutting.plan_progress import progress_of, seconds_left
from planner.cutting.stored import planned_batch
from planner.cutting.tasks import FIRST_SEED, POLISH_SEED
from tests.cutting.once import settled, waiting_batch
from tests.cutting.settling_makers import lay_in_rows
from tests.factories import NOON, make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db
STILL = "is being nested for longer and may still become shorter."


@pytest.fixture
def waiting() -> Batch:
    batch = waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})]))
    batch.cut_plans.update(state=CutPlan.State.NESTING)
    return batch


def page(client: Client, batch: Batch) -> str:
    return client.get(reverse("batch-detail", args=[batch.number])).content.decode()


def told(batch: Batch, fabric: str = "jersey", **options: Any) -> Any:
    found = progress_of(planned_batch(batch), "metric", **options)
    return found[batch.cut_plans.get(fabric__name=fabric).pk]


def test_the_panel_tells_what_is_nested_what_is_being_done_and_how_long_still(waiting: Batch) -> None:
    first = waiting.lays.filter(cloths__fabric_colour__fabric__name="jersey").first()
    assert told(waiting).done == 0
    assert "nested yet" in told(waiting).figures
    Marker.objects.filter(pk=first.marker_id).update(state=Marker.State.NESTING, started_at=NOON)
    assert f"Lay {first.number} is being nested." in told(waiting).now
    assert "of work left for the whole batch, more if lays change." in told(waiting).now
    lay_in_rows(waiting)
    Marker.objects.filter(pk=first.marker_id).update(state=Marker.State.READY)
    lengths = [lay.marker.length_mm for lay in waiting.lays.select_related("marker")]
    assert all(lengths)
    done = told(waiting)
    assert "nested: " in done.figures
    assert "m to spread, " in done.figures
    assert done.done == done.steps / 2, "each is nested once more before the plan stands"
    assert "Whether the real lengths change the plan is being looked at." in done.now
    Marker.objects.filter(lays__batch=waiting).update(seed=POLISH_SEED)
    assert told(waiting).done == told(waiting).steps
    waiting.cut_plans.update(state=CutPlan.State.SETTLED)
    assert (told(waiting).now, told(waiting).is_moving) == ("", False)
    assert told(waiting).figures == done.figures, "what was told stays where it was"


def test_the_first_line_the_panel_and_its_reasons_agree_until_the_plan_is_settled(
    maker_client: Client, waiting: Batch
) -> None:
    """Formerly lays that were nested were told as being nested, and what had been proven before as proven still."""
    lays = waiting.lays.count()
    assert f"None of the {lays} lays is nested yet. Figures follow" in page(maker_client, waiting)
    first = waiting.lays.first().marker
    Marker.objects.filter(pk=first.pk).update(state=Marker.State.READY)
    assert f"1 of {lays} lays is nested. Figures follow" in page(maker_client, waiting)
    lay_in_rows(waiting, longer_by=1.3)
    for waits, words in (
        (False, "The lays are nested; whether"),
        (True, f"All lays are nested; {lays} of {lays}"),
    ):
        if waits:
            markers = Marker.objects.filter(lays__batch=waiting)
            markers.update(state=Marker.State.WAITING, seed=POLISH_SEED)
        html = page(maker_client, waiting)
        assert words in html
        for untrue in ("Proven:", "Best found", "still being nested", "told once all lays are nested"):
            assert untrue not in html
        assert html.count("ot settled yet: its lay") == waiting.cut_plans.count()


def test_what_is_left_follows_the_clock_and_what_is_done(waiting: Batch) -> None:
    rows = Marker.objects.filter(lays__batch=waiting)
    rows.update(seconds=10.0, seed=POLISH_SEED)
    read = planned_batch(waiting)
    whole = seconds_left(read, NOON)
    one = rows.first()
    rows.filter(pk=one.pk).update(state=Marker.State.NESTING, started_at=NOON)
    later = seconds_left(planned_batch(waiting), NOON + timedelta(seconds=8))
    assert later == pytest.approx(whole - 8)
    ended = NOON + timedelta(seconds=40)
    rows.filter(pk=one.pk).update(state=Marker.State.READY, heartbeat_at=ended, length_mm=900.0)
    slow = seconds_left(planned_batch(waiting), ended)
    assert slow > (len(read.lays) - 1) * 10.0 * 3, "the first took four times as long by the clock"
    rows.update(seed=FIRST_SEED)
    assert seconds_left(planned_batch(waiting), ended) > slow, "all are nested once more"


def test_figures_follow_without_the_choices_being_swapped_away(maker_client: Client, waiting: Batch) -> None:
    address = reverse("batch-running", args=[waiting.number])
    seen = maker_client.get(reverse("batch-detail", args=[waiting.number])).context["plan_stamp"]
    plan = waiting.cut_plans.get(fabric__name="jersey")
    first = waiting.lays.filter(cloths__fabric_colour__fabric=plan.fabric_id).first()
    Marker.objects.filter(pk=first.marker_id).update(state=Marker.State.NESTING, started_at=NOON)
    answer = maker_client.get(address, {"seen": seen}, headers={"hx-request": "true"}).content.decode()
    assert f'id="plan-progress-{plan.pk}" hx-swap-oob="true"' in answer
    assert f"Lay {first.number} is being nested." in answer
    assert 'id="cut-plans"' not in answer
    whole = maker_client.get(address, {"seen": "other"}, headers={"hx-request": "true"}).content.decode()
    assert whole.count(f'id="plan-progress-{plan.pk}"') == 1, "within its panel, and not once more"


def test_while_one_lay_is_nested_longer_the_papers_stay(maker_client: Client) -> None:
    batch = settled(waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])))
    lay = batch.lays.first()
    assert STILL not in page(maker_client, batch)
    assert nesting.run_longer(lay.marker, 20.0)
    html = page(maker_client, batch)
    assert f"Lay {lay.number} {STILL}" in html
    assert "A lay is being nested for longer." in html
    assert "Estimate: not all of its lays are nested yet" not in html, "its metres only become less"
    for paper in ("cut-tickets", "cut-sheet", "bundle-tickets"):
        answer = maker_client.post(reverse("print-paper", args=[batch.number, paper]), follow=True)
        assert answer.content.startswith(b"%PDF"), paper
    # It came out shorter: what was printed is old, and the page says which.
    Marker.objects.filter(pk=lay.marker_id).update(
        state=Marker.State.READY, length_mm=lay.marker.length_mm - 9
    )
    html = page(maker_client, batch)
    assert STILL not in html
    assert f"Lay {lay.number} has changed since its ticket was printed" in html


def test_the_page_follows_lays_that_will_be_nested_again_by_themselves(maker_client: Client) -> None:
    batch = settled(waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])))
    assert 'hx-trigger="every' not in page(maker_client, batch)
    row = batch.lays.first().marker
    row.placements = {**row.placements, "how": "unsearched"}
    row.save()
    html = page(maker_client, batch)
    assert 'hx-trigger="every 15s"' in html
    assert "Lays are being chosen and nested." not in html


def test_once_cutting_has_begun_the_page_says_why_lays_and_rolls_stay(
    maker_client: Client, helper_client: Client
) -> None:
    batch = settled(waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 2, "M": 3})])))
    why = ("Stays as it is, for cutting has begun.", "Rolls are not assigned again, for cutting has begun")
    before = page(maker_client, batch)
    assert "Keep this lay as it is" in before
    assert not any(words in before for words in why)
    LayCloth.objects.filter(lay=batch.lays.first()).update(cut_spreads=1)
    Batch.objects.filter(pk=batch.pk).update(state=Batch.State.CUTTING)
    after = page(maker_client, batch)
    assert "Keep this lay as it is" not in after
    assert after.count(why[0]) == 1
    assert after.count("can be planned anew</a>") == batch.lays.count() - 1, "what is not begun"
    may_give = maker_client.get(reverse("batch-detail", args=[batch.number])).context["may_give_rolls"]
    assert (why[1] in after) != may_give, (
        "either the rolls of what is not begun can be changed, or it says why not"
    )
    assert not any(words in page(helper_client, batch) for words in why), "helpers never had the buttons"


def test_a_lay_for_which_nothing_better_than_plain_rows_was_found_is_not_told_as_nested_alone(
    waiting: Batch,
) -> None:
    lay = waiting.lays.filter(cloths__fabric_colour__fabric__name="jersey").first()
    markers = Marker.objects.filter(lays__batch=waiting)
    lay_in_rows(waiting)
    markers.update(state=Marker.State.READY, message="")
    assert "plain rows" not in told(waiting).figures
    markers.filter(pk=lay.marker_id).update(message=POOR_ROWS)
    assert "nested, in plain rows, nothing better was found: " in told(waiting).figures
    markers.filter(pk=lay.marker_id).update(message="in rows; these pieces cannot lie shorter")
    assert "rows" not in told(waiting).figures, "as good as nested"
