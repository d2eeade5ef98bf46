"""What two people send in the same moment, where both find a name free and the database refuses it to the second."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db import IntegrityError
from django.http import HttpResponse

from planner.common.same_moment import one_after_the_other
from planner.materials.models import Supplier


def form(name: str, finds: list[bool]) -> Callable[[], HttpResponse]:
    """A form that enters two suppliers, of which the second is refused where it finds its name taken.

    `finds`: whether it sees that, each time it is asked.
    """

    def answer() -> HttpResponse:
        if finds.pop(0):
            return HttpResponse(status=422)
        Supplier.objects.create(name="On the way")
        Supplier.objects.create(name=name)
        return HttpResponse(status=302)

    return answer


def test_where_the_database_refuses_a_name_the_form_is_asked_once_more(db: None) -> None:
    Supplier.objects.create(name="Tidewater Mills")
    assert one_after_the_other(form("Tidewater Mills", [False, True])).status_code == 422
    assert [one.name for one in Supplier.objects.all()] == ["Tidewater Mills"]


def test_what_is_refused_both_times_is_a_fault(db: None) -> None:
    Supplier.objects.create(name="Tidewater Mills")
    with pytest.raises(IntegrityError):
        one_after_the_other(form("Tidewater Mills", [False, False]))


def test_what_is_new_is_entered_once(db: None) -> None:
    assert one_after_the_other(form("Tidewater Mills", [False])).status_code == 302
    assert Supplier.objects.count() == 2
