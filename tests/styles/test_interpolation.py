"""A size made from the sizes beside it, and how it is marked wherever it shows."""

from dataclasses import replace

import pytest
from django.urls import reverse

from planner.core.needs import interpolated_sizes, work_out_needs
from planner.core.outline import outline_from_json, rectangle
from planner.core.spec import ClothKey, Demand, Garment, make_options
from planner.styles.actions import keep_outlines
from planner.styles.actions.outlines import interpolate_size
from planner.styles.actions.results import Done, Refused
from planner.styles.models import PieceOutline, Style
from planner.styles.specs import style_specs, workshop
from tests import factories as make
from tests.papers.words import all_words
from tests.sewing.makers import make_planned_batch

pytestmark = pytest.mark.django_db


@pytest.fixture
def style() -> Style:
    """Five sizes; the front has none in M and none in L."""
    style = make.make_style("110", sizes="XS S M L XL")
    PieceOutline.objects.filter(piece__style=style, piece__name="front", size__name__in=["M", "L"]).delete()
    return style


def sizes_of(style: Style) -> dict:
    return {size.name: size for size in style.size_range.sizes.all()}


def interpolate(client, style, size, **headers):
    front = style.pieces.get(name="front")
    return client.post(reverse("outline-interpolate", args=["110", front.pk]), {"size": size}, **headers)


def test_a_size_is_made_in_proportion_to_its_place(style):
    # S is the second size: 615 × 525 mm; XL the fifth: 660 × 600 mm. M is a third of the way between them:
    # 630 × 550 mm, as the factory grades it.
    front, sizes = style.pieces.get(name="front"), sizes_of(style)
    done = interpolate_size(front, sizes["M"], list(sizes.values()))
    assert isinstance(done, Done)
    assert "made from S and XL" in done.text
    row = front.outlines.get(size=sizes["M"])
    shape = outline_from_json(row.shape)
    assert (shape.length_mm, shape.width_mm) == (pytest.approx(630.0), pytest.approx(550.0))
    assert row.is_interpolated
    assert row.source == "interpolated from S and XL"
    assert row.area_mm2 == pytest.approx(shape.area_mm2)
    assert {edge.name for edge in shape.edges} >= {"hem", "neckline", "left shoulder", "right side"}


def test_given_sizes_are_used_not_interpolated_ones(style):
    front, sizes = style.pieces.get(name="front"), sizes_of(style)
    in_order = list(sizes.values())
    interpolate_size(front, sizes["M"], in_order)
    PieceOutline.objects.filter(piece=front, is_interpolated=True).update(source="")
    assert "made from S and XL" in interpolate_size(front, sizes["L"], in_order).text
    shape = outline_from_json(front.outlines.get(size=sizes["L"]).shape)
    assert shape.length_mm == pytest.approx(645.0)


@pytest.mark.parametrize(
    ("size", "reason"), [("XS", "has an outline in XS already"), ("XL", "does not stand between two sizes")]
)
def test_what_cannot_be_made_is_refused(style, size, reason):
    front, sizes = style.pieces.get(name="front"), sizes_of(style)
    if size == "XL":
        front.outlines.filter(size=sizes["XL"]).delete()
    before = list(front.outlines.values_list("pk", "shape"))
    refused = interpolate_size(front, sizes[size], list(sizes.values()))
    assert isinstance(refused, Refused)
    assert reason in refused.text
    assert list(front.outlines.values_list("pk", "shape")) == before


def test_sizes_with_other_edges_give_nothing_between_them(style):
    front, sizes = style.pieces.get(name="front"), sizes_of(style)
    keep_outlines(front, {sizes["XL"]: rectangle(660, 600)})
    refused = interpolate_size(front, sizes["L"], list(sizes.values()))
    assert isinstance(refused, Refused)
    assert "do not have the same edges" in refused.text
    assert not front.outlines.filter(size=sizes["L"]).exists()


@pytest.mark.parametrize("headers", [{}, {"headers": {"HX-Request": "true"}}])
def test_the_page_offers_it_and_labels_it(maker_client, style, headers):
    page = maker_client.get(reverse("style-detail", args=["110"])).content.decode()
    assert page.count("make it from S and XL") == 2
    answer = interpolate(maker_client, style, "M", **headers)
    assert answer.status_code == (200 if headers else 302)
    page = maker_client.get(reverse("style-detail", args=["110"])).content.decode()
    assert page.count("make it from S and XL") == 1
    # Beside its area, and beside its drawing in M, the base size.
    assert '<span class="tag">interpolated</span>' in page
    assert "M interpolated" in page
    assert 'class="cell">M<br><span class="small">interpolated</span>' in page
    walk = maker_client.get(reverse("seam-walk", args=["110"])).content.decode()
    assert "M interpolated" in walk
    front = style.pieces.get(name="front")
    edges = maker_client.get(reverse("piece-edges", args=["110", front.pk])).content.decode()
    assert "interpolated" in edges


def test_a_refusal_is_said_on_the_page(maker_client, style):
    answer = maker_client.post(
        reverse("outline-interpolate", args=["110", style.pieces.get(name="front").pk]),
        {"size": "XS"},
        headers={"HX-Request": "true"},
    )
    assert answer.status_code == 409
    assert "has an outline in XS already" in answer.content.decode()


def test_helpers_may_not(helper_client, style):
    assert interpolate(helper_client, style, "M").status_code == 403
    assert not PieceOutline.objects.filter(is_interpolated=True).exists()


def test_a_real_outline_ends_it(style):
    front, sizes = style.pieces.get(name="front"), sizes_of(style)
    interpolate_size(front, sizes["M"], list(sizes.values()))
    keep_outlines(front, {sizes["M"]: make.body_outline(631, 275)}, source="tee.dxf")
    row = front.outlines.get(size=sizes["M"])
    assert not row.is_interpolated
    assert row.source == "tee.dxf"
    assert style_specs([style])["110"].pieces[0].interpolated == frozenset()


def test_estimates_batches_and_papers_say_it(style):
    front, sizes = style.pieces.get(name="front"), sizes_of(style)
    interpolate_size(front, sizes["M"], list(sizes.values()))
    shop = workshop(["110"])
    garment = Garment("110", make_options({"neck": "rib band"}), "ink", "M")
    demand = [Demand(garment, 2), Demand(replace(garment, size="S"), 1)]
    assert interpolated_sizes(demand, shop) == {ClothKey("jersey", "ink"): ("110 M",)}
    needs = work_out_needs(demand, shop)
    said = {need.cloth.fabric: need.how for need in needs.cloths}
    assert said["jersey"].endswith("110 M interpolated")
    assert "interpolated" not in said["rib"]
    nested = work_out_needs(demand, shop, nested_lay_m={ClothKey("jersey", "ink"): 2.0})
    assert {n.cloth.fabric: n.how for n in nested.cloths}[
        "jersey"
    ] == "from the nested lays, 110 M interpolated"


def test_the_batch_and_its_papers_say_it(maker_client, style):
    front, sizes = style.pieces.get(name="front"), sizes_of(style)
    interpolate_size(front, sizes["M"], list(sizes.values()))
    PieceOutline.objects.filter(piece=front, size=sizes["L"]).delete()
    interpolate_size(front, sizes["L"], list(sizes.values()))
    order = make.make_order([(style, {"neck": "rib band"}, "ink", {"M": 3, "S": 2})])
    batch = make_planned_batch(order)
    assert "110 M interpolated" in maker_client.get(f"/batches/{batch.number}/").content.decode()
    words = paper_words(maker_client, batch.number, "cut-tickets.pdf")
    assert "110, ink (neck: rib band): a b S → " in words
    assert "M interpolated → " in words
    assert "front (interpolated)" in " ".join(
        paper_words(maker_client, batch.number, "bundle-tickets.pdf").split()
    )
    assert "110 M interpolated: made from the sizes beside" in paper_words(
        maker_client, batch.number, "cut-sheet.pdf"
    )


def paper_words(client, number: str, paper: str) -> str:
    """The text of a paper, read back."""
    answer = client.get(f"/batches/{number}/{paper}")
    assert answer.status_code == 200
    return all_words(answer.content)
