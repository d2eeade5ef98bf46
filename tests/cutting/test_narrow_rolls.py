"""A roll narrower than the lays to be cut from it: put right on its page, shown and asked about at the table."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse
from django_tasks.base import Task

from planner.cutting.actions import rolling
from planner.cutting.models import Batch, Lay, LayFact, LayRoll
from planner.cutting.tasks import cloth_for_batch, roll_batch
from planner.materials.models import Roll
from tests.cutting import once
from tests.cutting.table_makers import jersey_lay, only_cloth, roll_of
from tests.cutting.test_table_views import HTMX, as_filled_in, text
from tests.factories import make_order
from tests.sewing.makers import the_style

pytestmark = pytest.mark.django_db


@once.once
def from_one_roll() -> Batch:
    batch = once.settled(
        once.waiting_batch(make_order([(the_style(), {"neck": "rib band"}, "ink", {"S": 1, "M": 1, "L": 1})]))
    )
    found = roll_of(only_cloth(jersey_lay(batch)), "E-1", "5")
    rolling.assign_rolls(batch)
    assert LayRoll.objects.get(lay_cloth__lay=jersey_lay(batch)).roll == found
    return batch


@pytest.fixture
def batch() -> Batch:
    """One lay of jersey, 1,470 mm wide, which has a roll, and one of rib."""
    return from_one_roll()


@pytest.fixture
def roll(batch: Batch) -> Roll:
    """What the jersey comes from."""
    return Roll.objects.get(number="E-1")


def set_width(
    client: Client, roll: Roll, typed: str, headers: dict[str, str] | None = None, **more: str
) -> str:
    sent = {"full_width_mm": typed, **more}
    answer = client.post(reverse("roll-width", args=[roll.pk]), sent, headers=headers or {}, follow=True)
    return text(answer).replace("\N{THIN SPACE}", " ")


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, int]]:
    found: list[tuple[str, int]] = []
    monkeypatch.setattr(Task, "enqueue", lambda task, *args: found.append((task.name, *args)))
    return found


def test_the_width_of_a_roll_is_put_right_on_its_page_and_asked_about_where_it_is_far_from_the_cloths(
    helper_client: Client, roll: Roll
) -> None:
    assert "Put its width right" in text(helper_client.get(reverse("roll-detail", args=[roll.pk])))
    for headers in ({}, HTMX):
        page = set_width(helper_client, roll, "146 cm", headers)
        assert "Roll E-1 is 146 cm wide." in page
        assert ", 146 cm wide." in page
        form = text(helper_client.get(reverse("roll-width", args=[roll.pk]), headers=headers))
        assert 'value="146 cm"' in form
        assert "Roll E-1 is as wide as its cloth." in set_width(helper_client, roll, "", headers)
        assert Roll.objects.get(pk=roll.pk).full_width_mm is None
    page = set_width(helper_client, roll, "75 cm")
    assert "tick that it is so" in page
    assert 'name="is_so_wide"' in page
    assert Roll.objects.get(pk=roll.pk).full_width_mm is None
    set_width(helper_client, roll, "75 cm", is_so_wide="on")
    assert Roll.objects.get(pk=roll.pk).full_width_mm == 750
    assert "more than 3 times as wide" in set_width(helper_client, roll, "9 m", is_so_wide="on")


def test_a_planned_batch_gets_other_rolls_for_lays_that_are_wider(
    helper_client: Client,
    batch: Batch,
    roll: Roll,
    asked: list[tuple[str, int]],
    django_capture_on_commit_callbacks: Callable,
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        page = set_width(helper_client, roll, "146 cm")
    assert f"Lays of {batch.number} are wider than this roll: their rolls are assigned again now" in page
    assert (roll_batch.name, batch.pk) in asked
    roll_batch.func(batch.pk)
    assert LayRoll.objects.get(lay_cloth__lay=jersey_lay(batch)).roll is None, "to be bought"
    asked.clear()
    with django_capture_on_commit_callbacks(execute=True):
        page = set_width(helper_client, roll, "152 cm")
    assert "wider than this roll" not in page
    assert (cloth_for_batch.name, batch.pk) in asked
    cloth_for_batch.func(batch.pk)
    assert LayRoll.objects.get(lay_cloth__lay=jersey_lay(batch)).roll == roll


def test_of_a_batch_being_cut_the_lays_are_named(helper_client: Client, batch: Batch, roll: Roll) -> None:
    Batch.objects.update(state=Batch.State.CUTTING)
    number = jersey_lay(batch).number
    page = set_width(helper_client, roll, "146 cm")
    assert (
        f"Lay {number} of {batch.number} is wider than this roll: choose another roll when it is cut." in page
    )
    assert "wider than this roll" not in set_width(helper_client, roll, "150 cm")


def test_at_the_table_a_roll_of_another_width_is_told_as_such(
    helper_client: Client, batch: Batch, roll: Roll
) -> None:
    def shown() -> str:
        lay = jersey_lay(batch)
        page = text(helper_client.get(reverse("lay-detail", args=[batch.number, lay.number])))
        return page.replace("\N{THIN SPACE}", " ")

    assert "E-1, 5.0 m left" in shown()
    Roll.objects.update(full_width_mm=1460)
    assert "E-1, 146 cm wide, 5.0 m left" in shown()
    Roll.objects.update(full_width_mm=1500)
    page = shown()
    assert "E-1, 5.0 m left" in page, "as wide as its cloth"
    # Then nothing is asked.
    assert "narrow-" not in page
    address = reverse("lay-cut", args=[batch.number, jersey_lay(batch).number])
    assert helper_client.post(address, as_filled_in(page)).status_code == 302


def test_a_lay_cut_from_a_narrower_roll_is_asked_about_before_it_is_taken(
    helper_client: Client, batch: Batch, roll: Roll
) -> None:
    Roll.objects.update(full_width_mm=1460)
    lay: Lay = jersey_lay(batch)
    address = reverse("lay-cut", args=[batch.number, lay.number])
    sent = as_filled_in(text(helper_client.get(reverse("lay-detail", args=[batch.number, lay.number]))))
    for headers in ({}, HTMX):
        answer = helper_client.post(address, sent, headers=headers)
        assert answer.status_code == 422
        page = text(answer).replace("\N{THIN SPACE}", " ")
        assert (
            "The lay is 147 cm wide, this roll only 143 cm between its selvedges. Is it another roll?" in page
        )
        assert f'name="narrow-{only_cloth(lay).pk}-0"' in page
        assert not LayFact.objects.exists()
    helper_client.post(address, {**sent, f"narrow-{only_cloth(lay).pk}-0": "on"})
    assert LayFact.objects.get().roll == roll
