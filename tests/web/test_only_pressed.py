"""Addresses that only take what a form sends, opened by themselves."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from planner.cutting.actions import gathering
from planner.web.only_pressed import page_over
from tests.factories import TODAY

BROWSER = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
pytestmark = pytest.mark.django_db


def test_a_browser_is_led_back_to_the_page(maker_client: Client) -> None:
    number = gathering.create_batch(None, TODAY).number
    answer = maker_client.get(reverse("batch-plan", args=[number]), headers=BROWSER)
    assert (answer.status_code, answer["Location"]) == (302, reverse("batch-detail", args=[number]))
    assert maker_client.get(answer["Location"], headers=BROWSER).status_code == 200


def test_it_ends_where_there_is_a_page(maker_client: Client) -> None:
    """Nothing stands at some of the addresses over it, so it goes on to what stands over those."""
    address = "/batches/B-0007/plans/3/choices/4/"
    while True:
        above = page_over(address)
        assert len(above) < len(address)
        answer = maker_client.get(above, headers=BROWSER)
        if answer.status_code != 302:
            break
        address = above
    assert above == "/batches/B-0007/"


@pytest.mark.parametrize("headers", [{}, {"Accept": "application/json"}, {**BROWSER, "HX-Request": "true"}])
def test_whoever_asks_for_no_page_is_told_what_it_takes(
    maker_client: Client, headers: dict[str, str]
) -> None:
    answer = maker_client.get(reverse("batch-plan", args=["B-0001"]), headers=headers)
    assert (answer.status_code, answer["Allow"]) == (405, "POST")


def test_a_stranger_is_still_sent_to_the_sign_in_and_a_helper_refused(
    client: Client, helper_client: Client, helper: User
) -> None:
    address = reverse("batch-plan", args=["B-0001"])
    assert "sign-in" in client.get(address, headers=BROWSER)["Location"]
    assert helper_client.get(address, headers=BROWSER).status_code == 403
