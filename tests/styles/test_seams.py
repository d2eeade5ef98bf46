"""Seams: put together from two sides, measured while choosing, walked in every size."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from planner.core.outline import rectangle
from planner.styles.actions import keep_outlines
from planner.styles.models import Seam, SeamEdge, Style
from planner.styles.seams_page import walked
from planner.styles.specs import style_specs
from tests import factories as make
from tests.kept_rows import made_once

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}


@pytest.fixture
def style() -> Style:
    """In S, M and L, with a yoke 400 mm and a body 610 mm wide along the edges that are sewn, no allowance."""
    made_once("a style with a yoke and a skirt", _make_style)
    return Style.objects.get(number="110")


def _make_style() -> None:
    style = make.make_style("110", sizes="S M L")
    role = style.roles.get(name="body")
    for i, (name, width) in enumerate((("yoke", 400), ("skirt", 610))):
        piece = style.pieces.create(name=name, role=role, position=20 + i, seam_allowance_mm=Decimal(0))
        sides = ("side", "lower", "side", "upper")
        outlines = {
            size: rectangle(200, width + 20.0 * size.position, sides) for size in style.size_range.sizes.all()
        }
        keep_outlines(piece, outlines)


def seam_data(style: Style, **changes) -> dict[str, object]:
    """What is typed for gathers of 1.5 into the yoke."""
    yoke, skirt = style.pieces.get(name="yoke"), style.pieces.get(name="skirt")
    data = {
        "name": "waist", "times": "1", "option": "", "operation": style.operations.first().pk,
        "edge_1_0": f"{yoke.pk}|lower", "takes_1_0": "1", "edge_2_0": f"{skirt.pk}|upper", "takes_2_0": "1",
        "fullness": "gathered", "ratio": "1,5",
    }  # fmt: skip
    return {**data, **changes}


def new(client, data, **headers):
    return client.post(reverse("part-new", args=["110", "seam"]), data, **headers)


def test_a_seam_has_two_sides_and_a_ratio(maker_client, style):
    data = seam_data(style)
    front = style.pieces.get(name="front")
    assert new(maker_client, data | {"edge_2_1": f"{front.pk}|hem", "takes_2_1": "2"}).status_code == 302
    seam = Seam.objects.get(name="waist")
    assert (seam.fullness, seam.ratio) == ("gathered", Decimal("1.5"))
    assert list(seam.edges.values_list("piece__name", "edge", "side", "takes")) == [
        ("yoke", "lower", 1, 1),
        ("skirt", "upper", 2, 1),
        ("front", "hem", 2, 2),
    ]
    page = maker_client.get(reverse("part-change", args=["110", "seam", seam.pk])).content.decode()
    assert 'value="1.5"' in page
    assert "First side" in page


SLIPS = (
    ({"edge_1_0": ""}, "at least one edge"),
    ({"fullness": ""}, "Say how it is made to fit"),
    ({"ratio": "0.9"}, "longer before sewing"),
    ({"fullness": "stretched"}, "shorter before sewing"),
    ({"edge_2_0": ""}, "Choose the edge that is made to fit"),
    ({"takes_1_0": "0", "fullness": "glued"}, "at least 1", "choose one of the list"),
    ({"takes_1_0": "1.5", "ratio": "plenty"}, "whole number", "“plenty” is not"),
    ({"edge_2_0": "1|nothing"}, "choose one of the list"),
)


def test_a_slip_is_answered_at_its_field_and_nothing_is_kept(maker_client, style):
    usual, before = seam_data(style), (Seam.objects.count(), SeamEdge.objects.count())
    for changes, *said in SLIPS:
        answer = new(maker_client, usual | changes)
        assert answer.status_code == 422, changes
        for words in said:
            assert words in answer.content.decode(), words
        assert (Seam.objects.count(), SeamEdge.objects.count()) == before


def test_the_same_edge_twice_on_a_side_is_a_slip_on_both_sides_not(maker_client, style):
    data = seam_data(style, fullness="", ratio="1")
    twice = new(maker_client, data | {"edge_1_1": data["edge_1_0"]})
    assert "stands there twice" in twice.content.decode()
    # A centre seam joins the edge of a piece with that of its mirror image.
    assert new(maker_client, data | {"edge_2_0": data["edge_1_0"]}).status_code == 302


@pytest.mark.parametrize("headers", [{}, {"headers": HTMX}])
def test_lengths_stand_there_while_edges_are_chosen(maker_client, style, headers):
    before = Seam.objects.count()
    answer = maker_client.post(reverse("seam-measure", args=["110"]), seam_data(style), **headers)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert ("<html" in page) == (not headers)
    assert Seam.objects.count() == before
    # 400 and 610 mm in S, 420 and 630 in M, 440 and 650 in L; wanted are 600, 630 and 660 mm.
    for figure in ("40\u2009cm", "61\u2009cm", "42\u2009cm", "63\u2009cm", "44\u2009cm", "65\u2009cm"):
        assert figure in page
    assert "10\u2009mm longer" in page
    assert "fits in every size" in page
    scant = maker_client.post(reverse("seam-measure", args=["110"]), seam_data(style, ratio="2"), **headers)
    assert "wanted is 2 times, gathered" in scant.content.decode()


def test_measuring_half_a_seam_and_nothing_at_all(maker_client, style):
    half = seam_data(style, edge_2_0="", name="", operation="")
    page = maker_client.post(reverse("seam-measure", args=["110"]), half, headers=HTMX).content.decode()
    assert "40\u2009cm" in page
    nothing = maker_client.post(reverse("seam-measure", args=["110"]), {}, headers=HTMX).content.decode()
    assert "Choose edges" in nothing
    wrong = maker_client.post(reverse("seam-measure", args=["110"]), {"seam": "9" * 30}, headers=HTMX)
    assert wrong.status_code == 200


def test_old_seams_keep_their_edges_when_they_are_changed(maker_client, style):
    seam = Seam.objects.get(name="side")
    before = list(seam.edges.values_list("piece", "edge", "side", "takes"))
    form = maker_client.get(reverse("part-change", args=["110", "seam", seam.pk])).context["form"]
    data = {field.html_name: field.value() or "" for field in form}
    assert maker_client.post(reverse("part-change", args=["110", "seam", seam.pk]), data).status_code == 302
    assert list(seam.edges.values_list("piece", "edge", "side", "takes")) == before


# --- the walk ---------------------------------------------------------------------------------------------


def test_the_walk_has_every_seam_in_every_size(maker_client, style):
    new(maker_client, seam_data(style))
    page = maker_client.get(reverse("seam-walk", args=["110"])).content.decode()
    for seam in style.seams.all():
        assert f"{seam.name[0].upper()}{seam.name[1:]}" in page
    assert page.count('<th scope="col" class="num">M</th>') == style.seams.count()
    assert "Second to first, wanted 1.5" in page
    assert "The two sides fit in every seam and size." in page


def test_what_does_not_fit_is_said_with_size_and_figure(maker_client, style):
    skirt = style.pieces.get(name="skirt")
    sizes = list(style.size_range.sizes.all())
    new(maker_client, seam_data(style, fullness="", ratio="1"))
    keep_outlines(
        skirt,
        {
            size: rectangle(200, width, ("side", "lower", "side", "upper"))
            for size, width in zip(sizes, (412, 420, 471), strict=True)
        },
    )
    # The yoke is 400, 420 and 440 mm wide.
    page = maker_client.get(reverse("seam-walk", args=["110"])).content.decode()
    assert "upper is 31 mm longer than the lower in L, 12 mm in S" in page
    assert "1 seam does not fit." in page
    # The first line leads there, and what is drawn is the size that fits worst, not the base size M.
    answer = page.partition('class="answer"')[2].partition("</p>")[0]
    number = re.search(r'href="#seam-(\d+)">Waist</a>', answer)
    assert number, answer
    assert f'id="seam-{number[1]}"' in page
    assert "31\u2009mm longer" in page
    drawn = maker_client.get(reverse("seam-walk", args=["110"]), {"draw": number[1]}).content.decode()
    assert "Drawn in L, where it fits worst" in drawn
    other = maker_client.get(reverse("seam-walk", args=["110"]), {"draw": number[1], "size": "S"})
    assert "Drawn in S;" in other.content.decode()
    assert maker_client.get(reverse("seam-walk", args=["110"]), {"draw": "1", "size": "?"}).status_code == 200
    style_page = maker_client.get(reverse("style-detail", args=["110"])).content.decode()
    assert "upper is 31 mm longer than the lower in L, 12 mm in S" in style_page
    assert 'href="/styles/110/seams/"' in style_page


def test_a_band_without_a_ratio_asks_for_it(style):
    seam = next(one for one in walked(style_specs([style])["110"]).seams if one.seam.name == "neck, rib band")
    assert seam.is_open_band
    assert not seam.fits
    assert seam.said == ["a band is shorter than its opening on purpose: say by how much it is stretched"]


def test_edges_are_drawn_where_they_are_sewn(maker_client, style):
    new(maker_client, seam_data(style))
    page = walked(style_specs([style])["110"])
    number = next(one.number for one in page.seams if one.seam.name == "waist")
    answer = maker_client.get(reverse("seam-walk", args=["110"]), {"draw": number})
    drawn = answer.content.decode()
    assert drawn.count('class="sewn side-1"') == 1
    assert drawn.count('class="sewn side-2"') == 1
    assert "Put the drawing away" in drawn
    assert maker_client.get(reverse("seam-walk", args=["110"]), {"draw": "x9"}).status_code == 200


def test_a_seam_that_cannot_be_measured_says_why(maker_client, style):
    style.pieces.get(name="yoke").outlines.filter(size__name="M").delete()
    new(maker_client, seam_data(style))
    page = maker_client.get(reverse("seam-walk", args=["110"])).content.decode()
    assert "yoke has no outline in M" in page


def test_helpers_may_look_but_not_change(helper_client, style):
    assert helper_client.get(reverse("seam-walk", args=["110"])).status_code == 200
    assert helper_client.post(reverse("seam-measure", args=["110"]), seam_data(style)).status_code == 403


def test_an_empty_walk_teaches_the_next_step(maker_client, style):
    Seam.objects.all().delete()
    page = maker_client.get(reverse("seam-walk", args=["110"])).content.decode()
    assert "No seams yet." in page
    assert "Enter the first one" in page


def test_queries_do_not_grow_with_seams(maker_client, style, django_assert_num_queries):
    address = reverse("seam-walk", args=["110"])
    maker_client.get(address)
    with django_assert_num_queries(11):
        maker_client.get(address)
    for i in range(5):
        new(maker_client, seam_data(style, name=f"waist {i}"))
    with django_assert_num_queries(11):
        maker_client.get(address)


# --- how often ----------------------------------------------------------------------------------------------


@pytest.fixture
def shoulders(style) -> dict[str, object]:
    """A front and a back with two edges called shoulder each; what is typed for the seam of them."""
    for name in ("bodice front", "bodice back"):
        piece = style.pieces.create(
            name=name, role=style.roles.get(name="body"), seam_allowance_mm=Decimal(0)
        )
        shape = rectangle(300, 400, ("hem", "shoulder", "neck", "shoulder"))
        keep_outlines(piece, dict.fromkeys(style.size_range.sizes.all(), shape))
    front, back = (style.pieces.get(name=f"bodice {half}").pk for half in ("front", "back"))
    edges = {"edge_1_0": f"{front}|shoulder", "edge_2_0": f"{back}|shoulder"}
    return seam_data(style, name="bodice shoulder", fullness="", ratio="1", **edges)


def measured(client, data) -> str:
    return client.post(
        reverse("seam-measure", args=["110"]), data, headers={"HX-Request": "true"}
    ).content.decode()


def test_the_form_says_how_many_seams_the_edges_make(maker_client, shoulders):
    occur = ("the shoulder of bodice front occurs twice", "the shoulder of bodice back occurs twice")
    told = f"In a garment {', '.join(occur)}: 2 such seams"
    once = measured(maker_client, shoulders)
    assert f"▲ {told}, not 1." in once
    assert 'data-makes="2"' in once
    twice = measured(maker_client, shoulders | {"times": "2"})
    assert f"{told}." in twice
    assert "▲" not in twice
    # What is not a number yet is told at its field alone.
    assert f"{told}, not" not in measured(maker_client, shoulders | {"times": "twice"})
    assert "fewer than one such seam takes" in measured(maker_client, shoulders | {"takes_1_0": "3"})


def test_a_seam_sewn_once_though_its_edges_occur_twice_is_pointed_out(maker_client, shoulders):
    assert new(maker_client, shoulders).status_code == 302
    slip = "Bodice shoulder: the shoulder of bodice front occurs twice, the seam once"
    page = reverse("style-detail", args=["110"])
    assert slip in maker_client.get(page).content.decode()
    Seam.objects.filter(name="bodice shoulder").update(times=2)
    assert slip not in maker_client.get(page).content.decode()
