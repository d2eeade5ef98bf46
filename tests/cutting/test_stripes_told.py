"""Stripes on screens: a lay tells its cutter of them, a batch where no seam is marked for them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.together import ALONG
from planner.cutting.models import Marker
from planner.materials.models import Fabric
from tests.cutting.once import plies_batch
from tests.cutting.table_makers import jersey_lay

pytestmark = pytest.mark.django_db


def test_the_lay_tells_of_stripes_and_the_batch_where_no_seam_is_marked(maker_client: Client) -> None:
    lay = jersey_lay(plies_batch(2))
    pages = [
        reverse("batch-detail", args=[lay.batch.number]),
        reverse("lay-detail", args=[lay.batch.number, lay.number]),
    ]
    assert all("tripe" not in maker_client.get(page).content.decode() for page in pages)
    Fabric.objects.filter(name="jersey").update(repeat_length_mm=Decimal(60))
    asked = lay.marker.job
    bodies = [item for item in asked["items"] if item["piece"] in {"front", "back"}]
    for item in bodies:
        item["matches"] = [[ALONG + "side", 700.0, 0.0]]
    Marker.objects.filter(pk=lay.marker.pk).update(job={**asked, "repeat_length_mm": 60.0})
    batch, own = (maker_client.get(page).content.decode() for page in pages)
    style = bodies[0]["style"]
    assert f"no seam of style {style} is marked for its stripes to run on over" in batch
    assert (
        "Striped, repeat 6\u2009cm along: stripe on stripe in every ply. Matched at: side (front, back)."
        in own
    )
    assert "Measure the repeat on the cloth itself" in own
