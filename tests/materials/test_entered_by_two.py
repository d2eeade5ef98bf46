"""Two people who give something new the same name in the same moment: the second is told at its field."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from threading import Barrier, BrokenBarrierError
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.db.models import QuerySet
from django.urls import reverse

from planner.materials.models import Supplier
from planner.styles.models import Style
from tests.conftest import signed_in
from tests.factories import make_style


@pytest.fixture
def both_look_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever looks for a name waits a moment for the other to have looked too, unless that one has to wait."""
    looked = Barrier(2)
    for name in ("exists", "first"):
        monkeypatch.setattr(QuerySet, name, _waiting(getattr(QuerySet, name), looked))


def _waiting(look: Callable[[QuerySet[Any]], Any], looked: Barrier) -> Callable[[QuerySet[Any]], Any]:
    def wait(rows: QuerySet[Any]) -> Any:
        found = look(rows)
        if rows.model in (Supplier, Style):
            with suppress(BrokenBarrierError):
                looked.wait(0.7)
        return found

    return wait


def entered_twice(user: User, address: str, sent: dict[str, str]) -> list[int]:
    """What two requests at once are answered, the smaller status first."""

    def enter(_: int) -> int:
        try:
            return signed_in(user).post(address, sent).status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as people:
        return sorted(people.map(enter, range(2)))


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
