"""Elastic cut to length for a size, told to whoever sews it in: on the bundle's ticket, at its step, on the phone."""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from planner.core.notions.along import SeamError
from planner.core.notions.lengths import lengths_along
from planner.core.spec import Garment
from planner.cutting.lengths import along_in_words, sewn_in
from planner.styles.models import Piece
from planner.styles.specs import workshop
from tests.factories import make_order, make_style
from tests.papers.words import all_words
from tests.sewing.makers import make_planned_batch

pytestmark = pytest.mark.django_db
RIB = (("neck", "rib band"),)
THIN = "\N{THIN SPACE}"


@pytest.fixture
def style():  # type: ignore[no-untyped-def]
    """Without seam allowances, so that a shoulder in M is 195 mm and in L 207.5 mm, as on the needs page."""
    made = make_style(colourways=("ink",))
    Piece.objects.filter(style=made).update(seam_allowance_mm=0)
    return made


def test_a_length_is_the_seam_of_the_size_with_its_tails(style) -> None:  # type: ignore[no-untyped-def]
    # 195 × 1.00 + 2 × 20 = 235 mm; 207.5 + 40 = 247.5 mm; two shoulders a garment.
    spec = workshop([style.number]).styles[style.number]
    for size, each in (("M", 235.0), ("L", 247.5)):
        (one,) = lengths_along(spec, Garment(style.number, RIB, "ink", size))
        assert (one.seam.name, one.count, one.length_mm) == ("shoulder", 2, pytest.approx(each))


def test_in_words_for_a_bundle_and_at_the_step(style) -> None:  # type: ignore[no-untyped-def]
    spec = workshop([style.number]).styles[style.number]
    garment = Garment(style.number, RIB, "ink", "L")
    (use,) = [one for one in spec.notions_for(RIB) if one.basis == "seam"]
    name = f"{use.notion.notion}, along shoulder"
    assert along_in_words(use, spec, garment) == f"{name}: 2 × 247.5{THIN}mm"
    assert along_in_words(use, spec, garment, bundle_of=3) == f"6 × 247.5{THIN}mm {use.notion.notion}"
    told = along_in_words(use, spec, garment, "imperial")
    assert told.startswith(f"{name}: 2 × 9")
    assert "in" in told
    by_name = {one.name: sewn_in(one, spec, garment) for one in spec.operations_for(RIB)}
    (seam,) = [one for one in spec.seams if one.name == "shoulder"]
    assert by_name.pop(seam.operation) == f"2 × 247.5{THIN}mm {use.notion.notion}"
    assert not any(by_name.values())


def test_a_style_that_has_changed_since_says_no_length(style) -> None:  # type: ignore[no-untyped-def]
    spec = workshop([style.number]).styles[style.number]
    garment = Garment(style.number, RIB, "ink", "M")
    (use,) = [one for one in spec.notions_for(RIB) if one.basis == "seam"]
    gone = replace(spec, seams=())
    with pytest.raises(SeamError):
        list(lengths_along(gone, garment))
    assert along_in_words(use, gone, garment) == f"{use.notion.notion}, along shoulder"
    assert not any(sewn_in(one, gone, garment) for one in gone.operations)


def test_the_ticket_and_the_phone_say_it(maker_client: Client, style) -> None:  # type: ignore[no-untyped-def]
    batch = make_planned_batch(make_order([(style, {"neck": "rib band"}, "ink", {"M": 3})]))
    answer = maker_client.get(reverse("bundle-tickets", args=[batch.number]))
    words = all_words(answer.content)
    assert "6 × 235 mm clear elastic 6 mm" in words
    assert "Each 2 × 235 mm clear elastic 6 mm" in words
    bundle = batch.bundles.get()
    page = maker_client.get(reverse("bundle-scan", args=[bundle.token]), follow=True).content.decode()
    assert f"along shoulder: 2 × 235{THIN}mm" in page
