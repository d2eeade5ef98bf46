"""Two people who enter the same in the same moment, or take out the last two of something: the second is told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from threading import Barrier, BrokenBarrierError
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.db.models import Model, QuerySet
from django.urls import reverse

from planner.materials.models import NotionColour, Supplier
from planner.styles.models import ClothRole, Operation, Style
from tests.conftest import signed_in
from tests.factories import make_notion_colour, make_style


@pytest.fixture
def both_look_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever looks for a name waits a moment for the other to have looked too, unless that one has to wait."""
    looked = Barrier(2)
    for name in ("exists", "first", "count"):
        monkeypatch.setattr(QuerySet, name, _waiting(getattr(QuerySet, name), looked))


def _waiting(look: Callable[[QuerySet[Any]], Any], looked: Barrier) -> Callable[[QuerySet[Any]], Any]:
    def wait(rows: QuerySet[Any]) -> Any:
        found = look(rows)
        if rows.model in (Supplier, Style, Operation, ClothRole, NotionColour):
            with suppress(BrokenBarrierError):
                looked.wait(0.7)
        return found

    return wait


def entered_twice(user: User, address: str, sent: dict[str, str]) -> list[int]:
    """What two requests at once are answered, the smaller status first."""
    return sent_at_once(user, [address, address], sent)


def sent_at_once(user: User, addresses: Sequence[str], sent: dict[str, str]) -> list[int]:
    """What one request to each address, all in the same moment, is answered, the smaller status first."""

    def enter(address: str) -> int:
        try:
            return signed_in(user).post(address, sent).status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(len(addresses)) as people:
        return sorted(people.map(enter, addresses))


@pytest.mark.django_db(transaction=True)
def test_of_two_suppliers_of_one_name_the_second_is_told(maker: User, both_look_first: None) -> None:
    answers = entered_twice(maker, reverse("supplier-new"), {"name": "Tidewater Mills", "contact": ""})
    assert answers == [302, 422]
    assert Supplier.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_copies_of_a_style_with_one_number_the_second_is_told(
    maker: User, both_look_first: None
) -> None:
    make_style("110")
    answers = entered_twice(maker, reverse("style-copy", args=["110"]), {"number": "111", "name": "copy"})
    assert answers == [302, 422]
    assert Style.objects.filter(number="111").count() == 1


STEP = {"name": "press", "machine": "iron", "stitch_type": "", "standard_minutes": "1", "layers": "2"}


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("kind", "model", "sent"),
    [("role", ClothRole, {"name": "facing"}), ("operation", Operation, STEP)],
)
def test_of_two_parts_of_a_style_of_one_name_the_second_is_told(
    maker: User, both_look_first: None, kind: str, model: type[Model], sent: dict[str, str]
) -> None:
    make_style("110")
    answers = entered_twice(maker, reverse("part-new", args=["110", kind]), sent)
    assert answers == [302, 422]
    assert model._default_manager.filter(name=sent["name"]).count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_the_last_two_colours_of_a_notion_one_stays(maker: User, both_look_first: None) -> None:
    colours = [make_notion_colour("lace", name) for name in ("white", "black")]
    addresses = [reverse("notion-colour-delete", args=[colour.pk]) for colour in colours]
    assert sent_at_once(maker, addresses, {}) == [302, 302]
    assert NotionColour.objects.filter(notion__name="lace").count() == 1
