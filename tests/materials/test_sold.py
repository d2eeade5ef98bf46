"""How a cloth is sold, in plain words, on its page."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.materials.models import Fabric, Workroom
from planner.materials.sold import sold_in_words
from tests.factories import make_fabric


def told(sold_by: str, step: str, least: str = "0", display: str = "metric") -> str:
    fabric = Fabric(sold_by=sold_by, pack_quantity=Decimal(step), minimum_quantity=Decimal(least))
    return sold_in_words(fabric, display).replace("\u2009", " ")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("sold_by", "step", "least", "words"),
    [
        ("metre", "1.00", "0.00", "in whole metres"),
        ("metre", "0.50", "3.00", "in half metres, at least 3.0 m"),
        ("metre", "0.25", "0.00", "in quarter metres"),
        ("metre", "0.10", "0.00", "in steps of 10 cm"),
        ("metre", "1.50", "0.00", "in steps of 1.5 m"),
        ("roll", "25.00", "0.00", "in whole rolls of 25.0 m"),
        ("roll", "25.00", "1.00", "in whole rolls of 25.0 m, at least 1 roll"),
        ("roll", "12.25", "2.00", "in whole rolls of 12.25 m, at least 2 rolls"),
        ("kg", "1.00", "0.00", "in whole kilograms"),
        ("kg", "0.50", "2.00", "in half kilograms, at least 2.00 kg"),
        ("kg", "0.20", "0.00", "in steps of 200 g"),
        ("kg", "2.50", "0.00", "in steps of 2.50 kg"),
    ],
)
def test_steps_and_rolls_are_told_in_plain_words(sold_by: str, step: str, least: str, words: str) -> None:
    assert told(sold_by, step, least) == words


def test_yards_and_pounds_are_told_where_the_workroom_has_them() -> None:
    # 1 yd = 914.4 mm and 1 lb = 0.45359237 kg exactly (NIST SP 811), kept to the hundredth.
    assert told("metre", "0.91", "2.74", "imperial") == "in whole yards, at least 3 yd"
    assert told("metre", "0.46", display="imperial") == "in half yards"
    assert told("metre", "0.30", display="imperial") == "in steps of 0.33 yd"
    assert told("roll", "45.72", display="imperial") == "in whole rolls of 50 yd"
    assert told("kg", "0.45", display="imperial") == "in whole pounds"
    assert told("kg", "2.00", display="imperial") == "in steps of 4.41 lb"


@pytest.mark.django_db
def test_the_page_of_a_cloth_says_in_what_steps_it_is_sold(maker_client: Client) -> None:
    fabric = make_fabric(pack_quantity=Decimal("0.5"), minimum_quantity=Decimal(2))
    page = maker_client.get(reverse("fabric-detail", args=[fabric.pk])).content.decode()
    assert "by length, 12.00\u2009EUR a metre; in half metres, at least 2.0\u2009m</dd>" in page
    Workroom.objects.update(display="imperial")
    page = maker_client.get(reverse("fabric-detail", args=[fabric.pk])).content.decode()
    assert "; in steps of 0.55\u2009yd, at least 2.19\u2009yd</dd>" in page
