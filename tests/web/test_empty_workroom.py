"""What a workroom says of itself in which nothing was entered yet: nothing of what is not there."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.actions.gathering import create_batch
from tests.factories import TODAY
from tests.papers.words import all_words

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("address", "says", "untrue"),
    [
        ("/batches/", "No ordered garment waits for a batch.", "Everything that is ordered"),
        ("/styles/?retired=1", "No style was taken off sale.", "Every style is sold"),
        ("/costs/", "nothing can be reckoned yet.", "this is what"),
        ("/costs/batches/", "nothing can be reckoned yet.", "this is what"),
    ],
)
def test_nothing_is_said_of_what_is_not_there(
    maker_client: Client, address: str, says: str, untrue: str
) -> None:
    page = maker_client.get(address).content.decode()
    assert (says in page, untrue in page) == (True, False)


def test_an_empty_batch_where_nothing_is_ordered(maker_client: Client) -> None:
    batch = create_batch(None, TODAY)
    page = maker_client.get(reverse("batch-fill", args=[batch.number])).content.decode()
    assert "No ordered garment waits for a batch." in page


def test_a_buy_list_without_a_batch_names_none(maker_client: Client) -> None:
    words = all_words(maker_client.get(reverse("buy-list")).content)
    assert "Nothing to buy: the stock covers all that is planned." in words
