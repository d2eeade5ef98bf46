"""Outlines entered as rectangles and as points."""

import pytest
from django.urls import reverse

from planner.core.outline import outline_from_json
from planner.materials.models import Workroom
from planner.styles.models import Piece, PieceOutline
from tests import factories as make

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}
TRIANGLE = "0, 0, hem\n40, 0, side\n0, 30, fold"


@pytest.fixture
def cuff(db):
    """A piece without outlines, of a style in S, M and L."""
    style = make.make_style("110", sizes="S M L")
    return Piece.objects.create(style=style, name="cuff", role=style.roles.get(name="rib"), position=9)


def address(piece: Piece, name: str = "outline-edit") -> str:
    return reverse(name, args=[piece.style.number, piece.pk])


def sizes_of(piece: Piece) -> dict[str, int]:
    return {size.name: size.pk for size in piece.style.size_range.sizes.all()}


def stored(piece: Piece) -> dict[str, tuple[float, float]]:
    """Length and width by size."""
    rows = piece.outlines.select_related("size")
    shapes = {row.size.name: outline_from_json(row.shape) for row in rows}
    return {size: (shape.length_mm, shape.width_mm) for size, shape in shapes.items()}


def text_of(response) -> str:
    return response.content.decode()


# --- rectangle --------------------------------------------------------------------------------------------


def test_one_rectangle_for_every_size(maker_client, cuff):
    data = {"how": "rectangle", "length": "4 in", "width": "22,5", "bottom": "cuff seam"}
    answer = maker_client.post(address(cuff), data, follow=True)
    assert "cuff has its outline in S, M, L." in text_of(answer)
    # 4 in = 101.6 mm exactly (NIST SP 811); a bare number is in cm.
    assert stored(cuff) == dict.fromkeys("SML", (101.6, 225.0))
    shape = outline_from_json(cuff.outlines.first().shape)
    assert shape.edge_lengths_mm() == pytest.approx(
        {"left": 101.6, "top": 225, "right": 101.6, "cuff seam": 225}
    )
    again = text_of(maker_client.get(address(cuff) + "?how=rectangle"))
    assert 'value="10.16 cm"' in again
    assert 'value="cuff seam"' in again


def test_a_row_for_one_size_wins_over_the_row_for_all(maker_client, cuff):
    pk = sizes_of(cuff)["L"]
    data = {"how": "rectangle", "length": "10", "width": "20", f"length_{pk}": "11", f"width_{pk}": "22"}
    maker_client.post(address(cuff), data)
    assert stored(cuff) == {"S": (100, 200), "M": (100, 200), "L": (110, 220)}


def test_rows_left_empty_store_nothing(maker_client, cuff):
    pk = sizes_of(cuff)["M"]
    maker_client.post(address(cuff), {"how": "rectangle", f"length_{pk}": "10", f"width_{pk}": "20"})
    assert stored(cuff) == {"M": (100, 200)}


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "Type the length and width"),
        ({"length": "10"}, "Length and width go together"),
        ({"length": "0", "width": "5"}, "more than"),
        ({"length": "-3", "width": "5"}, "less than nothing"),
        ({"length": "21 m", "width": "5"}, "at most"),
        ({"length": "ten", "width": "5"}, "ten"),
        ({"length": "10", "width": "5", "top": "t" * 41}, "At most 40 letters"),
        ({"length": "9" * 1000, "width": "5"}, "too long"),
    ],
)
def test_a_slip_in_a_rectangle_is_answered_and_nothing_is_kept(maker_client, cuff, changes, words):
    answer = maker_client.post(address(cuff), {"how": "rectangle", **changes})
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert stored(cuff) == {}


# --- points -----------------------------------------------------------------------------------------------


def points(text: str = TRIANGLE, **changes):
    return {"how": "points", "size": ["M"], "unit": "cm", "points": text, **changes}


def test_points_for_one_size(maker_client, cuff):
    answer = maker_client.post(address(cuff), points(), follow=True)
    assert "cuff has its outline in M." in text_of(answer)
    assert stored(cuff) == {"M": (400, 300)}
    row = cuff.outlines.get()
    assert row.area_mm2 == pytest.approx(400 * 300 / 2)
    assert outline_from_json(row.shape).edge_lengths_mm() == pytest.approx(
        {"hem": 400, "side": 500, "fold": 300}
    )
    page = text_of(maker_client.get(address(cuff) + "?size=M"))
    assert "0; 0; hem\n40; 0; side\n0; 30; fold" in page
    assert 'class="to-scale nest"' in page


def test_points_for_several_sizes_in_another_unit(maker_client, cuff):
    maker_client.post(address(cuff), points("0\t0\n4\t0\n4\t3\n", unit="in", size=["S", "L"]))
    assert stored(cuff) == {"S": (101.6, pytest.approx(76.2)), "L": (101.6, pytest.approx(76.2))}


def test_half_a_piece_is_unfolded(maker_client, cuff):
    maker_client.post(address(cuff), points("0, 0, hem\n0, 10, side\n20, 10, top\n20, 0", half="on"))
    assert stored(cuff) == {"M": (200, 200)}
    shape = outline_from_json(cuff.outlines.get().shape)
    assert shape.edge_lengths_mm() == pytest.approx({"hem": 200, "side": 400, "top": 200})


def test_an_imperial_workroom_writes_inches(maker_client, cuff):
    room = Workroom.the()
    room.display = "imperial"
    room.save()
    maker_client.post(address(cuff), points("0; 0\n4; 0\n4; 3", unit="in"))
    page = text_of(maker_client.get(address(cuff) + "?size=M"))
    assert '<option value="in" selected>' in page
    assert "0; 0; outline\n4; 0\n4; 3" in page


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"points": "0, 0\n10, 0\nhere, there"}, "line 3: "),
        ({"points": "0, 0\n10, 10\n10, 0\n0, 12"}, "line 3: The outline crosses itself"),
        ({"points": "0, 0\n10, 0"}, "at least three points"),
        ({"points": "0, 0\n10, 0\n2100, 5"}, "line 3: “2100” is more than 20 m away"),
        ({"points": ""}, "Please fill this in"),
        ({"points": "1, 2\n" * 10_000}, "at most 2,000 points"),
        ({"points": "1, 2\n" * 200_000}, "at most 200000 are read"),
        ({"size": []}, "Tick the size"),
        ({"size": ["XXL"]}, "choose one of the list"),
        ({"unit": "ell"}, "choose one of the list"),
        ({"half": "on"}, "starts at the last point, where the half ends"),
    ],
)
@pytest.mark.parametrize("view", ["outline-edit", "outline-preview"])
def test_a_slip_in_the_points_is_answered_and_nothing_is_kept(maker_client, cuff, changes, words, view):
    answer = maker_client.post(
        address(cuff, view), {**points(), **changes}, headers=HTMX if "pre" in view else {}
    )
    assert answer.status_code == (422 if view == "outline-edit" else 200)
    assert words in text_of(answer)
    assert stored(cuff) == {}


def test_what_was_typed_is_kept_on_the_page(maker_client, cuff):
    answer = text_of(maker_client.post(address(cuff), points("0, 0\nnot, this\n<b>", unit="in")))
    assert "not, this\n&lt;b&gt;</textarea>" in answer
    assert '<option value="in" selected>' in answer


def test_five_megabytes_are_refused(maker_client, cuff):
    answer = maker_client.post(address(cuff), points("1, 2\n" * 1_000_000))
    assert answer.status_code == 422
    assert "at most 200000 are read" in text_of(answer)
    assert stored(cuff) == {}


def test_the_preview_draws_and_keeps_nothing(maker_client, cuff):
    answer = maker_client.post(address(cuff, "outline-preview"), points(), headers=HTMX)
    page = text_of(answer)
    assert answer.status_code == 200
    assert page.startswith('<section id="outline-preview"')
    assert "40\u2009cm along the grain, 30\u2009cm across, 600 cm²" in page
    assert "<dt>side</dt><dd>50\u2009cm</dd>" in page
    assert stored(cuff) == {}
    rows = {f"length_{pk}": f"{10 + i}" for i, pk in enumerate(sizes_of(cuff).values())}
    rows |= {f"width_{pk}": "5" for pk in sizes_of(cuff).values()}
    page = text_of(
        maker_client.post(address(cuff, "outline-preview"), {"how": "rectangle", **rows}, headers=HTMX)
    )
    assert "3 sizes; the largest: 12\u2009cm along the grain" in page


def test_without_javascript_a_button_draws(maker_client, cuff):
    answer = maker_client.post(address(cuff), points(look="1"))
    assert answer.status_code == 200
    assert 'class="to-scale nest"' in text_of(answer)
    assert stored(cuff) == {}


def test_an_outline_is_taken_away(maker_client, cuff):
    maker_client.post(address(cuff), points())
    answer = maker_client.post(address(cuff, "outline-drop"), {"size": "M"}, follow=True)
    assert "cuff has no outline in M now." in text_of(answer)
    assert stored(cuff) == {}
    assert maker_client.post(address(cuff, "outline-drop"), {"size": "none"}).status_code == 404


def test_the_first_size_that_lacks_an_outline_is_offered(maker_client, cuff):
    front = cuff.style.pieces.get(name="front")
    PieceOutline.objects.filter(piece=front, size__name="S").delete()
    page = text_of(maker_client.get(address(front)))
    assert 'value="S" id="id_size_0" checked' in page
    # The base size comes first.
    assert 'value="M" id="id_size_1" checked' in text_of(maker_client.get(address(cuff)))
