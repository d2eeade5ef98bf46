"""The page of a bundle says at each step which machine, how it is set and what to look at; only what was given."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from planner.cutting.models import BatchOperation
from tests.sewing.makers import make_planned_batch

pytestmark = pytest.mark.django_db


def step_words(client: Client, name: str) -> str:
    """The words of one step, tags left out."""
    batch = make_planned_batch(cut=True)
    BatchOperation.objects.filter(batch=batch, name="join shoulders").update(
        own_machine="By the window", stitch_length_mm="2.50", differential_feed="1.30", needle_note="stretch 75",
        tension_note="loopers a little looser", quality_note="lies flat & even",
    )  # fmt: skip
    bundle = batch.bundles.all()[0]
    page = client.get(reverse("bundle-scan", args=[bundle.token])).content.decode()
    (step,) = [part for part in re.findall(r'<li id="step-.*?</li>', page, re.S) if f"<b>{name}</b>" in part]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", step))


def test_every_setting_stands_at_its_step(helper_client: Client) -> None:
    words = step_words(helper_client, "join shoulders")
    for expected in (
        "By the window (overlock), stitch 504",
        "stitch length 2.5 mm",
        "differential feed 1.3",
        "tension loopers a little looser",
        "needle stretch 75",
        "elastic in the seam, 1 : 1",
        "Look at lies flat &amp; even",
    ):
        assert expected in words, expected


def test_what_nobody_set_is_left_out(helper_client: Client) -> None:
    words = step_words(helper_client, "close sides")
    assert "overlock, stitch 504" in words
    for absent in ("stitch length", "feed", "tension", "needle", "Look at"):
        assert absent not in words, absent
