"""A nested lay that is nested for longer: it can be cut and its papers taken as it is, and what is cut stays so."""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from planner.cutting.actions import nesting
from planner.cutting.models import Lay, LayFact, Marker
from planner.cutting.screens_lay import still_nested_in_words
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay, only_cloth
from tests.cutting.test_table_views import as_filled_in

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
TOOLS = ("Print its cut ticket", "It is cut", "Garments and pieces", "Take it along", "Project it")


@pytest.fixture
def lay() -> Lay:
    return jersey_lay(plies_batch(5))


def nested_longer(lay: Lay, state: str = Marker.State.NESTING) -> None:
    """Eight hours, begun just now, of a lay that was nested before."""
    Marker.objects.filter(pk=lay.marker_id).update(
        state=state, seed=7, seconds=28_800, started_at=timezone.now()
    )


def page_of(client: Client, lay: Lay, name: str = "lay-detail") -> str:
    return client.get(reverse(name, args=[lay.batch.number, lay.number]), follow=True).content.decode()


def tell(client: Client, lay: Lay, spreads: int = 2) -> str:
    key = f"{only_cloth(lay).pk}-0"
    each_m = (lay.marker.length_mm + 2 * lay.end_allowance_mm) / 1000
    typed = {f"spreads-{key}": str(spreads), f"used-{key}": f"{spreads * each_m:.2f} m"}
    return client.post(
        reverse("lay-cut", args=[lay.batch.number, lay.number]), typed, follow=True
    ).content.decode()


def test_its_page_keeps_its_tools_and_says_how_long_it_may_still_change(
    helper_client: Client, lay: Lay
) -> None:
    assert "may become shorter" not in page_of(helper_client, lay)
    nested_longer(lay)
    page = page_of(helper_client, lay)
    assert [tool for tool in TOOLS if tool not in page] == []
    assert "Stop and keep this" in page
    assert "about 8 h to go: it may become shorter" in page
    # Only what may change is asked for anew, so nothing is taken away that is being typed.
    region, head = page.index('id="lay-region"'), page.index('id="lay-now"')
    assert "hx-get" not in page[region:head]
    assert 'hx-select="#lay-now"' in page[head:]
    for name in ("marker-tiles", "lay-projector"):
        address = reverse(name, args=[lay.batch.number, lay.number])
        assert helper_client.get(address).status_code == 200


def test_one_that_is_nested_for_the_first_time_keeps_waiting_for_it(helper_client: Client, lay: Lay) -> None:
    Marker.objects.filter(pk=lay.marker_id).update(state=Marker.State.NESTING)
    page = page_of(helper_client, lay)
    assert [tool for tool in TOOLS if tool in page] == []
    assert 'hx-trigger="every 1s"' in page


def test_the_time_left_is_counted_from_when_it_was_begun(lay: Lay) -> None:
    nested_longer(lay)
    Marker.objects.filter(pk=lay.marker_id).update(started_at=NOON)
    lay.marker.refresh_from_db()
    assert "about 6 h 30 min to go" in still_nested_in_words(lay, NOON + timedelta(minutes=90))


def test_what_is_told_as_cut_stops_the_nesting_at_once(helper_client: Client, lay: Lay) -> None:
    nested_longer(lay, Marker.State.WAITING)
    assert "Only 5 plies are still to be cut" in tell(helper_client, lay, 6)
    lay.marker.refresh_from_db()
    assert (lay.marker.state, LayFact.objects.count()) == (Marker.State.WAITING, 0), "what is told wrongly"
    for spreads, state in ((2, Marker.State.WAITING), (1, Marker.State.NESTING)):
        nested_longer(lay, state)
        assert "that is stopped, so it stays as it is cut" in tell(helper_client, lay, spreads)
        lay.marker.refresh_from_db()
        assert lay.marker.state == Marker.State.STOPPED
    assert only_cloth(lay).cut_spreads == 3
    assert "that is stopped" not in tell(helper_client, lay, 2)


@pytest.fixture
def reckoned(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many transactions stand open each time that what follows from a nesting is reckoned."""
    depths: list[int] = []
    monkeypatch.setattr(nesting, "after_nesting", lambda pk: depths.append(len(connection.atomic_blocks)))
    return depths


def test_nobody_waits_while_what_follows_from_it_is_reckoned(
    helper_client: Client,
    lay: Lay,
    reckoned: list[int],
    django_capture_on_commit_callbacks: Callable[..., AbstractContextManager[list[Callable[[], object]]]],
) -> None:
    """The needs of a large batch take seconds, in which nobody else could write."""
    nested_longer(lay)
    with django_capture_on_commit_callbacks(execute=True):
        tell(helper_client, lay)
        assert reckoned == [], "not before all is written"
    assert reckoned == [len(connection.atomic_blocks)]


def test_nor_where_the_best_so_far_is_kept(lay: Lay, reckoned: list[int]) -> None:
    nested_longer(lay, Marker.State.WAITING)
    lay.marker.refresh_from_db()
    assert nesting.stop_and_keep(lay.marker)
    assert reckoned == [len(connection.atomic_blocks)]
    assert not nesting.stop_and_keep(lay.marker), "it is stopped already"
    assert len(reckoned) == 1


def test_a_worker_that_finds_a_shorter_one_meanwhile_changes_nothing_of_what_is_cut(
    helper_client: Client, lay: Lay, monkeypatch: pytest.MonkeyPatch
) -> None:
    nested_longer(lay, Marker.State.WAITING)
    monkeypatch.setattr(nesting, "BREATH", 0.0)
    length_mm = lay.marker.length_mm

    def cut_meanwhile(job: object, **options: object) -> object:
        tell(helper_client, lay)
        shorter = replace(options["start"], length_mm=length_mm - 50)  # type: ignore[type-var]
        options["on_progress"](shorter)  # type: ignore[operator]
        assert options["should_stop"]()  # type: ignore[operator]
        return shorter

    monkeypatch.setattr(nesting, "nest", cut_meanwhile)
    nesting.nest_one(lay.marker_id)
    lay.marker.refresh_from_db()
    assert (lay.marker.state, lay.marker.length_mm) == (Marker.State.STOPPED, length_mm)


def shorten(lay: Lay, by_mm: float) -> None:
    """As a nesting for longer does."""
    lay.marker.refresh_from_db()
    Marker.objects.filter(pk=lay.marker_id).update(length_mm=lay.marker.length_mm - by_mm)


def metres(lay: Lay, plies: int = 5) -> str:
    """What so many plies take, as it is filled in."""
    lay.marker.refresh_from_db()
    each_mm = lay.marker.length_mm + 2 * lay.end_allowance_mm
    return f"{math.ceil(plies * each_mm / 10 - 1e-6) / 100:.2f}".rstrip("0").rstrip(".") + " m"


def test_a_lay_that_became_shorter_while_its_page_stood_open_is_told_and_its_metres_filled_in_anew(
    helper_client: Client, lay: Lay
) -> None:
    headers = {"HX-Request": "true"}
    used, page = f"used-{only_cloth(lay).pk}-0", reverse("lay-cut", args=[lay.batch.number, lay.number])
    seen = as_filled_in(page_of(helper_client, lay))
    assert seen[used] == metres(lay)
    shorten(lay, 50)
    assert "became shorter meanwhile" in helper_client.post(page, seen, headers=headers).content.decode()
    answer = helper_client.post(page, seen)
    assert answer.status_code == 409
    assert "This lay became shorter meanwhile. Nothing was changed. A ply takes" in answer.content.decode()
    again = as_filled_in(answer.content.decode())
    assert again[used] == metres(lay) != seen[used]
    # What she typed herself stands as it was, beside the words.
    typed = as_filled_in(helper_client.post(page, seen | {used: "9.99 m"}, headers=headers).content.decode())
    assert typed[used] == "9.99 m"
    assert not LayFact.objects.exists()
    # Fewer plies, and metres that were left as they were filled in: they are filled in for these.
    fewer = seen | {used.replace("used", "spreads"): "3"}
    told = as_filled_in(helper_client.post(page, fewer).content.decode())
    assert told[used] == metres(lay, 3)
    # Less than a centimetre nobody sees; then it is recorded.
    shorten(lay, 5)
    helper_client.post(page, again)
    assert LayFact.objects.get().spreads == 5
