"""Names are alike whatever the case of their letters, in every script."""

from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection

from planner.common.alike import like
from planner.orders.models import Customer, Order
from planner.web.actions import person_called
from tests import factories as make


@pytest.mark.django_db
def test_people_and_customers_are_found_by_their_names_in_whatever_letters(subtests: pytest.Subtests) -> None:
    for name, typed in (
        ("Åsa", "åsa"),
        ("Élodie", "ÉLODIE"),
        ("Ольга", "ольга"),
        ("Ώρα", "ώρα"),
        ("Mira", "MIRA"),
    ):
        with subtests.test(name):
            person = User.objects.create(username=name)
            customer = make.make_customer(name)
            order = make.make_order(customer=customer)
            assert person_called(typed) == person
            assert Customer.objects.called(typed).get() == customer
            assert Order.objects.matching(typed[1:]).get() == order
    assert person_called("Asa") is None


@pytest.mark.django_db
def test_the_database_compares_as_sql_says(subtests: pytest.Subtests) -> None:
    """SQL:2016, part 2, the like predicate: % is any text, _ one character, and a character escaped is itself."""
    cases: list[tuple[str | None, str | None, bool | None]] = [
        ("%élo%", "Pélopée, ÉLODIE\nElsewhere", True),
        ("élo%", "Pélo", False),
        ("_lo", "Élo", True),
        ("_lo", "lo", False),
        ("%", "", True),
        ("100\\%", "100%", True),
        ("100\\%", "1000", False),
        ("a\\_b", "A_B", True),
        ("a\\_b", "acb", False),
        ("a.b", "axb", False),
        ("a", None, None),
        (None, "a", None),
    ]
    with connection.cursor() as cursor:
        for pattern, text, wanted in cases:
            with subtests.test(pattern=pattern, text=text):
                assert like(pattern, text, "\\") == wanted
                if connection.vendor == "sqlite":
                    cursor.execute("SELECT %s LIKE %s ESCAPE '\\'", [text, pattern])
                    assert _truth(cursor.fetchone()) == wanted


def _truth(row: tuple[Any, ...]) -> bool | None:
    return None if row[0] is None else bool(row[0])
