"""Outlines entered by measures from the fold, and the other sizes grown from one by a table."""

import math
import re

import pytest

from planner.materials.models import Workroom
from planner.styles.models import Piece
from tests.styles.outlines import HTMX, address, cell, points, shapes, sizes_of, stored, text_of

pytestmark = pytest.mark.django_db


# --- from the fold ----------------------------------------------------------------------------------------

FRONT = "8, 0, neckline curve\n6.5, 4\n3, 7.5\n0, 9, shoulder\n4, 21, side\n62, 25, hem\n62, 0"


def fold(text: str = FRONT, **changes):
    return {"how": "fold", "size": ["M"], "unit": "cm", "points": text, **changes}


def test_a_piece_measured_from_its_fold_is_unfolded(maker_client, cuff):
    answer = maker_client.post(address(cuff), fold(), follow=True)
    assert "cuff has its outline in M." in text_of(answer)
    assert stored(cuff) == {"M": (620, 500)}
    lengths = shapes(cuff)["M"].edge_lengths_mm()
    assert lengths["shoulder"] == pytest.approx(2 * math.hypot(40, 120), abs=0.01)
    assert lengths["hem"] == pytest.approx(500)


def test_what_is_stored_is_shown_as_it_was_measured(maker_client, cuff):
    text = "8; 0; neckline\n0; 9; shoulder\n4; 21; side\n62; 25; hem\n62; 0"
    maker_client.post(address(cuff), fold(text))
    before = shapes(cuff)["M"]
    page = text_of(maker_client.get(address(cuff) + "?how=fold&size=M"))
    assert text in page
    maker_client.post(address(cuff), fold(text))
    assert shapes(cuff)["M"] == before


def test_a_piece_without_a_fold_is_not_shown_from_one(maker_client, cuff):
    maker_client.post(address(cuff), points())
    page = text_of(maker_client.get(address(cuff) + "?how=fold&size=M"))
    assert re.search(r"<textarea[^>]*>\s*</textarea>", page)


SLIPS_FROM_THE_FOLD = (
    ({"points": FRONT.replace("0, 9", "0, nine")}, "line 4: “nine” is not a length"),
    ({"points": FRONT.replace("8, 0", "8, 1")}, "line 1: The measures start on the fold"),
    ({"points": FRONT.replace("62, 0", "62, 3")}, "line 7: The measures end on the fold"),
    ({"points": FRONT.replace("3, 7.5", "3, -7.5")}, "line 3: This is out on the other side"),
    ({"points": ""}, "Please fill this in"),
    ({"size": []}, "Tick the size"),
)


def test_a_slip_in_the_measures_from_the_fold_is_answered(maker_client, cuff, subtests):
    for changes, words in SLIPS_FROM_THE_FOLD:
        for view, status in (("outline-edit", 422), ("outline-preview", 200)):
            with subtests.test(words, view=view):
                answer = maker_client.post(address(cuff, view), fold(**changes))
                assert answer.status_code == status
                assert words in text_of(answer)
                assert stored(cuff) == {}


# --- grow-by table ----------------------------------------------------------------------------------------

HALF = "8; 0; neckline\n0; 9; shoulder\n4; 21; side\n62; 25; hem\n62; 0"
#: A neckline on the fold, B neckline/shoulder, C shoulder/side, D side/hem, E hem on the fold.
STEP = {"across_C_step": "5", "along_D_step": "-10", "across_D_step": "12.5", "along_E_step": "-10"}


@pytest.fixture
def front(maker_client, cuff):
    """The cuff drawn as a front in its base size, M."""
    maker_client.post(address(cuff), fold(HALF))
    return cuff


def below(page: str, field: str) -> str:
    """What stands below a row of the table about one of its cells."""
    return page.partition(f'data-wrong="id_{field}">')[2].partition("</li>")[0]


def grow(client, piece: Piece, **changes):
    """The table as the page sends it."""
    page = text_of(client.get(address(piece) + "?how=grow"))
    mark = re.search(r'name="drawn_from" value="([0-9a-f]+)"', page)
    assert mark is not None
    return {"how": "grow", "drawn_from": mark[1], **changes}


def test_the_table_has_a_row_for_every_letter_of_the_drawing(maker_client, front):
    page = text_of(maker_client.get(address(front) + "?how=grow"))
    for letter, name in (
        ("A", "middle of neckline"),
        ("B", "neckline/<wbr>shoulder"),
        ("D", "side/<wbr>hem"),
    ):
        assert f"<b>{letter}</b> <span>{name}</span>" in page
        assert f">{letter}</text>" in page
    assert ">B′</text>" in page
    # A point on the fold does not move across it.
    assert 'name="along_A_step"' in page
    assert 'name="across_A_step"' not in page


def test_the_same_step_grows_every_other_size(maker_client, front):
    before = shapes(front)["M"]
    answer = maker_client.post(address(front), grow(maker_client, front, **STEP), follow=True)
    assert "cuff has its outline in S, L." in text_of(answer)
    kept = shapes(front)
    assert kept["M"] == before
    # The hem is 500 wide in M and 12.5 wider on each side a size; the piece 620 long and 10 longer.
    assert kept["S"].edge_length_mm("hem") == pytest.approx(475)
    assert kept["L"].edge_length_mm("hem") == pytest.approx(525)
    assert (kept["S"].length_mm, kept["L"].length_mm) == pytest.approx((610, 630))
    assert kept["L"].edge_length_mm("shoulder") == pytest.approx(2 * math.hypot(40, 125), abs=0.01)


def test_what_a_table_made_is_shown_as_that_table(maker_client, front):
    maker_client.post(address(front), grow(maker_client, front, **STEP))
    page = text_of(maker_client.get(address(front) + "?how=grow"))
    assert 'value="12.5"' in cell(page, "across_D_step")
    assert 'value="-10"' in cell(page, "along_D_step")
    assert "value=" not in cell(page, "along_B_step")
    assert page.count('<path class="size') == 3


def test_a_sizes_own_figure_counts_from_the_base_size_and_goes_first(maker_client, front):
    pk = sizes_of(front)["L"]
    data = grow(maker_client, front, **STEP, **{f"across_D_{pk}": "3/4 in"})
    maker_client.post(address(front), data)
    # 3/4 in = 19.05 mm (NIST SP 811), on each side of the fold.
    assert shapes(front)["L"].edge_length_mm("hem") == pytest.approx(500 + 2 * 19.05, abs=0.01)
    assert shapes(front)["S"].edge_length_mm("hem") == pytest.approx(475)
    page = text_of(maker_client.get(address(front) + "?how=grow"))
    assert 'value="19.05"' in cell(page, f"across_D_{pk}")


def test_a_size_for_which_nothing_is_typed_is_left_alone(maker_client, front):
    pk = sizes_of(front)["L"]
    maker_client.post(address(front), grow(maker_client, front, **{f"along_E_{pk}": "-5"}))
    assert shapes(front).keys() == {"M", "L"}


def test_all_sizes_are_drawn_before_they_are_kept(maker_client, front):
    data = grow(maker_client, front, **STEP)
    page = text_of(maker_client.post(address(front, "outline-preview"), data, headers=HTMX))
    assert page.count('<path class="size') == 3
    assert "3 sizes; the largest: 63\u2009cm along the grain, 52.5\u2009cm across" in page
    assert shapes(front).keys() == {"M"}
    page = text_of(maker_client.post(address(front), {**data, "look": "1"}))
    assert page.count('<path class="size') == 3
    assert 'value="12.5"' in cell(page, "across_D_step")
    assert shapes(front).keys() == {"M"}


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"across_D_step": "wide"}, "across_D_step", "“wide” is not a length"),
        ({"along_D_step": "3 m"}, "along_D_step", "at most"),
        ({"across_C_step": "-400"}, None, "In L the"),
        ({}, None, "Type how far at least one corner moves"),
        (
            {"drawn_from": "0123456789abcdef", "along_D_step": "1"},
            None,
            "The base size was changed meanwhile",
        ),
    ],
)
def test_a_slip_in_the_table_is_answered_and_nothing_is_kept(maker_client, front, changes, field, words):
    answer = maker_client.post(address(front), {**grow(maker_client, front), **changes})
    page = text_of(answer)
    assert answer.status_code == 422
    assert words in (below(page, field) if field else page)
    for name, typed in changes.items():
        if name != "drawn_from":
            assert f'value="{typed}"' in cell(page, name)
    assert shapes(front).keys() == {"M"}


def test_without_a_base_size_the_table_asks_for_one(maker_client, cuff):
    page = text_of(maker_client.get(address(cuff) + "?how=grow"))
    assert "The table grows the base size, M, and that has no outline yet." in page
    answer = maker_client.post(address(cuff), {"how": "grow", "along_A_step": "5"})
    assert answer.status_code == 422
    assert "Draw the base size, M, first." in text_of(answer)
    assert stored(cuff) == {}


def test_an_imperial_workroom_grows_by_inches(maker_client, front):
    room = Workroom.the()
    room.display = "imperial"
    room.save()
    maker_client.post(address(front), grow(maker_client, front, across_D_step="1/2"))
    assert shapes(front)["L"].edge_length_mm("hem") == pytest.approx(500 + 2 * 12.7, abs=0.01)
    page = text_of(maker_client.get(address(front) + "?how=grow"))
    assert 'value="0.5"' in cell(page, "across_D_step")


def test_a_wrong_cell_of_the_grow_table_is_told_below_its_row(maker_client, front):
    """In the cell the message would make its column wider than the figures of all others."""
    answer = maker_client.post(address(front), grow(maker_client, front, along_D_step="rather far"))
    page = text_of(answer)
    assert answer.status_code == 422
    table = page.partition('<table class="grow">')[2].partition("</table>")[0]
    assert 'value="rather far"' in table
    assert re.search(r'<tr class="why"><td colspan="\d+"><ul class="errorlist"><li data-wrong="id_', table)
    assert table.count("errorlist") == 1
