"""Outlines entered as a rectangle, a trapezoid, a strip, and by points."""

import math
import re

import pytest

from planner.core.outline import outline_from_json
from planner.materials.models import Workroom
from planner.styles.models import PieceOutline
from tests.styles.outlines import HTMX, address, cell, points, shapes, sizes_of, stored, text_of

pytestmark = pytest.mark.django_db


WAYS = ("points", "fold", "rectangle", "trapezoid", "strip", "grow")


def test_every_way_has_its_page_with_links_to_the_others(maker_client, helper_client, cuff):
    for how in WAYS:
        page = text_of(maker_client.get(address(cuff) + f"?how={how}"))
        for other in WAYS:
            link = re.search(rf'<a href="\?how={other}&amp;size=M"( aria-current="page")?>', page)
            assert link is not None, (how, other)
            assert bool(link[1]) == (other == how)
        assert f'<input type="hidden" name="how" value="{how}">' in page
        assert helper_client.get(address(cuff) + f"?how={how}").status_code == 403


def test_an_unknown_way_is_that_by_points(maker_client, cuff):
    page = text_of(maker_client.get(address(cuff) + "?how=guess"))
    assert '<input type="hidden" name="how" value="points">' in page


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


def test_what_a_row_leaves_empty_is_that_of_every_size(maker_client, cuff):
    pks = sizes_of(cuff)
    data = {"how": "strip", "width": "3,6", "layers": "0", "lies": "along"}
    data |= {f"length_{pks[size]}": length for size, length in zip("SML", ("43", "45", "47,5"), strict=True)}
    assert "Bare numbers are centimetres" in text_of(maker_client.get(address(cuff) + "?how=strip"))
    answer = maker_client.post(address(cuff), data | {f"length_{pks['M']}": ""})
    assert answer.status_code == 422
    assert "Length and width go together." in cell(text_of(answer), f"length_{pks['M']}")
    assert stored(cuff) == {}
    maker_client.post(address(cuff), data)
    assert stored(cuff) == {"S": (430, 36), "M": (450, 36), "L": (475, 36)}


def test_rows_left_empty_store_nothing(maker_client, cuff):
    pk = sizes_of(cuff)["M"]
    maker_client.post(address(cuff), {"how": "rectangle", f"length_{pk}": "10", f"width_{pk}": "20"})
    assert stored(cuff) == {"M": (100, 200)}


SLIPS_IN_A_RECTANGLE = (
    ({}, "Type the length and width"),
    ({"length": "10"}, "Length and width go together"),
    ({"length": "0", "width": "5"}, "more than"),
    ({"length": "-3", "width": "5"}, "less than nothing"),
    ({"length": "21 m", "width": "5"}, "at most"),
    ({"length": "ten", "width": "5"}, "ten"),
    ({"length": "10", "width": "5", "top": "t" * 41}, "At most 40 letters"),
    ({"length": "9" * 1000, "width": "5"}, "too long"),
)


def test_a_slip_in_a_rectangle_is_answered_and_nothing_is_kept(maker_client, cuff, subtests):
    for changes, words in SLIPS_IN_A_RECTANGLE:
        with subtests.test(words):
            answer = maker_client.post(address(cuff), {"how": "rectangle", **changes})
            assert answer.status_code == 422
            assert words in text_of(answer)
            assert stored(cuff) == {}


# --- trapezoid --------------------------------------------------------------------------------------------


def trapezoid(**changes):
    measures = {"length": "12", "bottom_width": "20", "top_width": "26"}
    return {"how": "trapezoid", "straight": "none", **measures, **changes}


def test_a_trapezoid_for_every_size(maker_client, cuff):
    maker_client.post(address(cuff), trapezoid(left="side", right="side", top="armhole", bottom="wrist"))
    assert shapes(cuff).keys() == {"S", "M", "L"}
    shape = shapes(cuff)["M"]
    assert shape.area_mm2 == pytest.approx(120 * 230)
    # Half the difference of the ends is 30: two sides of √(120² + 30²).
    sides = 2 * math.hypot(120, 30)
    assert shape.edge_lengths_mm() == pytest.approx({"side": sides, "armhole": 260, "wrist": 200}, abs=0.01)
    page = text_of(maker_client.get(address(cuff) + "?how=trapezoid"))
    assert 'value="12 cm"' in page
    assert 'value="20 cm"' in page
    assert 'value="wrist"' in page


@pytest.mark.parametrize(("straight", "edge"), [("left", "left"), ("right", "right")])
def test_a_trapezoid_with_a_straight_side_is_shown_as_such(maker_client, cuff, straight, edge):
    maker_client.post(address(cuff), trapezoid(straight=straight))
    assert shapes(cuff)["M"].edge_length_mm(edge) == pytest.approx(120)
    page = text_of(maker_client.get(address(cuff) + "?how=trapezoid"))
    assert f'<option value="{straight}" selected>' in page


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"top_width": ""}, "top_width", "Length and both widths go together."),
        ({"bottom_width": "wide"}, "bottom_width", "“wide” is not a length"),
        ({"length": "0"}, "length", "more than"),
        ({"length": "", "bottom_width": "", "top_width": ""}, "length", "Type the length and both widths"),
    ],
)
def test_a_slip_in_a_trapezoid_is_answered_at_its_cell(maker_client, cuff, changes, field, words):
    answer = maker_client.post(address(cuff), trapezoid(**changes))
    assert answer.status_code == 422
    here = cell(text_of(answer), field)
    assert words in here
    assert not changes[field] or f'value="{changes[field]}"' in here
    assert stored(cuff) == {}


def test_an_unknown_straight_side_is_refused(maker_client, cuff):
    answer = maker_client.post(address(cuff), trapezoid(straight="middle"))
    assert answer.status_code == 422
    assert "choose one of the list" in text_of(answer)
    assert stored(cuff) == {}


# --- strip ------------------------------------------------------------------------------------------------


def strip(**changes):
    allowances = {"edge_allowance": "7", "end_allowance": "7 mm"}
    return {
        "how": "strip", "length": "51", "width": "15 mm", "layers": "2", "lies": "across",
        **allowances, **changes,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "along", "across"),
    [
        # A finished band of 510 × 15 mm, folded in half, 7 mm all round: cut 524 × 44 mm.
        ({}, 44, 524),
        ({"lies": "along"}, 524, 44),
        ({"layers": "0"}, 15, 510),
        ({"layers": "4", "edge_allowance": "0", "end_allowance": ""}, 60, 510),
        ({"lies": "bias"}, 568 / math.sqrt(2), 568 / math.sqrt(2)),
    ],
)
def test_a_strip_is_cut_as_its_finished_size_asks(maker_client, cuff, changes, along, across):
    maker_client.post(address(cuff), strip(**changes))
    assert stored(cuff)["M"] == pytest.approx((along, across), abs=0.01)


def test_a_stored_strip_is_shown_in_its_cut_size(maker_client, cuff):
    maker_client.post(address(cuff), strip(long="neckline", other_long="fold"))
    assert shapes(cuff)["M"].edge_lengths_mm() == pytest.approx({"neckline": 524, "end": 88, "fold": 524})
    page = text_of(maker_client.get(address(cuff) + "?how=strip"))
    assert 'value="52.4 cm"' in page
    assert 'value="4.4 cm"' in page
    assert '<option value="0" selected>' in page
    assert '<option value="across" selected>' in page
    assert 'value="neckline"' in page
    # A strip across the grain is a rectangle too, but its first long edge is not that rectangle's left side.
    assert 'value="neckline"' not in text_of(maker_client.get(address(cuff) + "?how=rectangle"))


SLIPS_IN_A_STRIP = (
    ({"layers": "7"}, "choose one of the list"),
    ({"lies": "askew"}, "choose one of the list"),
    ({"edge_allowance": "-7"}, "less than nothing"),
    ({"end_allowance": "1 m"}, "at most"),
    ({"length": "1999 cm", "layers": "1", "end_allowance": "20 cm", "lies": "along"}, "20 m away"),
)


def test_a_slip_in_a_strip_is_answered_and_nothing_is_kept(maker_client, cuff, subtests):
    for changes, words in SLIPS_IN_A_STRIP:
        with subtests.test(words):
            answer = maker_client.post(address(cuff), strip(**changes))
            assert answer.status_code == 422
            assert words in text_of(answer)
            assert stored(cuff) == {}


def test_the_preview_says_in_which_cell_the_slip_is(maker_client, cuff):
    data = trapezoid(bottom_width="wide")
    page = text_of(maker_client.post(address(cuff, "outline-preview"), data, headers=HTMX))
    assert "<b>Width at the bottom, every size</b>" in page
    assert 'data-wrong="id_bottom_width "' in page


# --- points -----------------------------------------------------------------------------------------------


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


SLIPS_IN_THE_POINTS = (
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
)


def test_a_slip_in_the_points_is_answered_and_nothing_is_kept(maker_client, cuff, subtests):
    for changes, words in SLIPS_IN_THE_POINTS:
        with subtests.test(words):
            answer = maker_client.post(address(cuff), {**points(), **changes})
            assert answer.status_code == 422
            assert words in text_of(answer)
            preview = address(cuff, "outline-preview")
            answer = maker_client.post(preview, {**points(), **changes}, headers=HTMX)
            assert answer.status_code == 200
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
    assert "40\u2009cm along the grain, 30\u2009cm across, 600\u2009cm²" in page
    assert "<dt>side</dt><dd>50\u2009cm</dd>" in page
    assert stored(cuff) == {}
    Workroom.the()
    Workroom.objects.update(display="imperial")
    # 600 cm² ÷ 6.4516 = 93.0 in².
    inches = text_of(maker_client.post(address(cuff, "outline-preview"), points(), headers=HTMX))
    assert "across, 93.0\u2009in²" in inches
    Workroom.objects.update(display="metric")
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
