"""Stripes on screens: a lay tells its cutter of them, a batch where no seam is marked for them."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.lays.matched import Stripes
from planner.core.lays.together import ALONG
from planner.core.needs import allowances_in_words
from planner.cutting.models import Marker
from planner.cutting.printed import fingerprints
from planner.cutting.reading import bundles_of, lays_of
from planner.materials.models import Fabric
from planner.papers.stripes import stripes_in_words
from tests.core.makers import make_cloth
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
        "Striped, repeat 6\u2009cm along: stripe on stripe in every ply. Every ply is counted one repeat longer,"
        " as is usual, for the next one begins at the same stripe; what it does not take stays on the roll."
        " Matched at: side (front, back)." in own
    )
    assert "Measure the repeat on the cloth itself" in own
    Fabric.objects.filter(name="jersey").update(shades=True)
    assert (
        f"no pieces of style {style} are marked to lie side by side"
        in maker_client.get(pages[0]).content.decode()
    )
    Fabric.objects.filter(name="jersey").update(repeat_length_mm=Decimal(50))
    own = maker_client.get(pages[1]).content.decode()
    assert "Wash and dry" not in own
    Fabric.objects.filter(name="jersey").update(shrinkage_handling="wash_first", shrinkage_width_percent=3)
    own = maker_client.get(pages[1]).content.decode()
    assert "as the garment will be: this lay is planned on cloth 3\u2009% narrower than bought." in own
    assert "By now the cloth is noted with a repeat of 5\u2009cm along: have the lay planned anew" in own


def test_a_ticket_is_old_once_the_repeat_is_another_or_the_cloth_is_washed_first() -> None:
    batch = plies_batch(2)
    lay = jersey_lay(batch)
    jersey = Fabric.objects.filter(name="jersey")

    def mark() -> str:
        lays = lays_of(batch)
        return fingerprints(lays, bundles_of(batch, lays))[str(lay.number)]

    marks = [mark()]
    for change in (
        {"repeat_length_mm": Decimal(60)},
        {"repeat_length_mm": Decimal(50)},
        {"repeat_width_mm": Decimal(40)},
        {"shrinkage_handling": "wash_first"},
    ):
        jersey.update(**change)
        marks.append(mark())
    assert len(set(marks)) == len(marks)
    jersey.update(repeat_length_mm=None, repeat_width_mm=None)
    assert mark() not in marks, "that it is washed first stands on the ticket of plain cloth too"
    jersey.update(shrinkage_handling="in_pattern")
    assert mark() == marks[0], "of plain cloth a ticket says nothing of stripes"


def test_why_a_ply_is_a_repeat_longer_is_told_of_one_alone_too() -> None:
    """One repeat more for each length that is cut is common practice; what is not cut off stays on the roll."""
    stripes = Stripes(60.0, 0.0, (("side", ("front", "back")),))
    alone = "Its ply is counted one repeat longer, as is usual, so that it may begin at any stripe; what it does not"
    assert alone in stripes_in_words(stripes, "open", 1)
    assert alone in stripes_in_words(stripes, "folded", 1)
    for mode, spreads in (("open", 2), ("face_to_face", 1)):
        assert "for the next one begins at the same stripe; what" in stripes_in_words(stripes, mode, spreads)
    unmatched = stripes_in_words(Stripes(60.0, 0.0, ()), "open", 1)
    assert "one repeat longer" not in unmatched


def test_a_need_says_that_a_repeat_is_counted_with_every_ply() -> None:
    striped = replace(make_cloth(), repeat_length_mm=60.0, damage_share=0.02, is_matched=False)
    assert allowances_in_words(striped) == ", with 2\u00a0% for flaws"
    matched = replace(striped, is_matched=True)
    assert allowances_in_words(matched) == (
        ", with one repeat of its stripes for every ply and 2\u00a0% for flaws"
    )
