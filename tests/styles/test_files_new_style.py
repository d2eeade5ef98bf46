"""A new style from a pattern file; units, scale and mends that are asked for."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from planner.core.outline import outline_from_json
from planner.core.pattern_files.model import marks_from_json
from planner.styles.models import PatternFile, Piece, PieceOutline, SizeRange, Style
from tests import factories as make
from tests.styles import pattern_files as files
from tests.styles.bringing import page_of, review, stored, take, text_of

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}


# --- a new style from a file ---------------------------------------------------------------------------------


def test_a_style_is_made_from_a_file_and_nothing_before_that(maker_client) -> None:
    address = review(maker_client, None, files.top(("S", "L", "M")))
    page = page_of(maker_client, address)
    assert not Style.objects.exists()
    assert not SizeRange.objects.exists()
    assert "3 pieces in 3 sizes" in page
    # Sizes of a file come in any order; on the page they stand from small to large.
    assert page.index('scope="col" class="num">S<') < page.index('scope="col" class="num">M<')
    answer = take(maker_client, address, included="yes")
    assert "200 box top is made from top.dxf: 3 new pieces, 9 outlines." in text_of(answer)
    made = Style.objects.get()
    assert [size.name for size in made.size_range.sizes.all()] == ["S", "L", "M"]
    assert made.base_size.name == "M"
    front = made.pieces.get(name="front")
    # The maker's fixture grows with the place of the size in the file: S is the smallest, M the largest.
    assert stored(front) == {"S": (600, 500), "L": (615, 525), "M": (630, 550)}
    assert (front.role.name, front.count, front.pair, front.seam_allowance_mm) == ("body", 1, False, 7)
    row = front.outlines.get(size__name="S")
    assert row.source.startswith("top.dxf, ")
    assert not row.is_interpolated
    assert len(marks_from_json(row.marks).notches) == 2
    file = PatternFile.objects.get()
    assert (file.style, bytes(file.content)) == (made, b"")


def test_what_the_file_answers_is_not_asked(maker_client) -> None:
    address = review(maker_client, None, files.top(counts={"front": 1, "back": 1, "neck band": 2}))
    page = page_of(maker_client, address)
    assert 'name="units"' not in page
    assert 'name="size-0"' not in page
    assert 'name="p0-count"' not in page
    assert "cut 2, all alike" in page
    assert 'name="included"' in page
    take(maker_client, address, included="yes")
    assert Piece.objects.get(name="neck band").count == 2


def test_a_file_without_an_answer_about_the_allowance_is_not_taken(maker_client) -> None:
    address = review(maker_client, None, files.top())
    answer = take(maker_client, address)
    assert answer.status_code == 422
    assert "Choose one: the file does not say." in text_of(answer)
    assert not Style.objects.exists()


def test_the_allowance_is_added_where_the_file_holds_sewing_lines(maker_client) -> None:
    address = review(maker_client, None, files.svg(files.rectangle("pocket", 120, 140)), "pocket.svg")
    take(maker_client, address, included="no", allowance="1 cm", size_0="one")
    row = PieceOutline.objects.get()
    # 10 mm on every side of 120 by 140 mm; upright, so 140 lies along the grain.
    shape = outline_from_json(row.shape)
    assert (shape.length_mm, shape.width_mm) == (pytest.approx(160), pytest.approx(140))
    assert row.area_mm2 == pytest.approx(160 * 140)
    assert row.piece.seam_allowance_mm == Decimal("10")
    # The line that was drawn stays as the sewing line.
    sewn = marks_from_json(row.marks).sew_lines[0]
    assert max(x for x, _ in sewn) - min(x for x, _ in sewn) == pytest.approx(140)


def test_sizes_of_a_file_that_are_a_range_already_are_that_range(maker_client) -> None:
    there = make.make_size_range("S M L")
    take(maker_client, review(maker_client, None, files.top()), included="yes")
    assert Style.objects.get().size_range == there


def test_number_and_name_of_a_new_style_are_checked_again_when_it_is_taken(maker_client, style) -> None:
    address = review(maker_client, None, files.top())
    answer = take(maker_client, address, included="yes", number="110")
    assert answer.status_code == 422
    assert "There is a style with this number already: 110 box top." in text_of(answer)
    assert Style.objects.count() == 1


# --- units and scale -----------------------------------------------------------------------------------------


def without_units(content: bytes) -> bytes:
    return content.replace(b"Units: METRIC", b"Remark: none")


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_units_are_asked_with_what_follows_from_them(maker_client, headers) -> None:
    address = review(maker_client, None, without_units(files.top(("S", "M"))))
    page = page_of(maker_client, address)
    assert "millimetres: back M would be 61.5\u2009cm long" in page
    # 615 in = 15.62 m (1 in = 25.4 mm exactly, NIST SP 811).
    assert "inches: back M would be 15.62\u2009m long" in page
    seen = maker_client.post(address, files.filled_in(page, units="in", look="1"), headers=headers)
    assert seen.status_code == 200
    assert ("<html" in text_of(seen)) is not bool(headers)
    assert "▲" not in text_of(seen)
    assert PatternFile.objects.get().taken_at is None
    answer = maker_client.post(address, files.filled_in(page, included="yes"))
    assert answer.status_code == 422
    take(maker_client, address, units="mm", included="yes")
    assert stored(Piece.objects.get(name="front"))["M"] == (615, 525)


def test_the_scale_of_a_drawing_without_units_is_checked_by_a_length(maker_client) -> None:
    drawing = files.svg(files.rectangle("pocket", 120, 140), size='width="600" height="600"')
    address = review(maker_client, None, drawing, "pocket.svg")
    page = page_of(maker_client, address)
    # 140 px at 96 to the inch (CSS Values 4) are 37.04 mm.
    assert "pocket is 3.7\u2009cm long: that is right" in page
    answer = take(maker_client, address, included="yes", size_0="one")
    assert answer.status_code == 422
    assert "Tick it if the length is right, or type the true one." in text_of(answer)
    take(maker_client, address, included="yes", size_0="one", true_length="14 cm")
    assert stored(Piece.objects.get())["one"] == (140, 120)


def test_a_piece_without_grain_is_turned_if_it_does_not_run_upright(maker_client) -> None:
    drawing = files.svg(files.rectangle("pocket", 120, 140))
    address = review(maker_client, None, drawing, "pocket.svg")
    assert "The file draws no grain." in page_of(maker_client, address)
    take(maker_client, address, included="yes", size_0="one", grain="across")
    assert stored(Piece.objects.get())["one"] == (120, 140)
    # The next file of the style starts from that answer; as nothing differs, nothing changes.
    again = page_of(maker_client, review(maker_client, Style.objects.get(), drawing, "pocket.svg"))
    assert re.search(
        r'name="grain"[^>]*value="across"[^>]*checked|value="across"[^>]*name="grain"[^>]*checked', again
    )
    # A file that draws its grain is not asked.
    assert 'name="grain"' not in page_of(maker_client, review(maker_client, None, files.top(), number="201"))


# --- mends ---------------------------------------------------------------------------------------------------


OPEN = '<g id="pocket"><path d="M10 10H130V150H10V13.5" fill="none"/></g>'


def test_a_mend_is_shown_and_only_taken_when_it_is_confirmed(maker_client) -> None:
    address = review(maker_client, None, files.svg(OPEN), "pocket.svg")
    page = page_of(maker_client, address)
    assert 'class="mend"' in page
    assert "3.5 mm" in page
    answer = take(maker_client, address, included="yes", size_0="one")
    assert answer.status_code == 422
    assert "Look at the marked place and tick this, or leave the piece out." in text_of(answer)
    take(maker_client, address, included="yes", size_0="one", p0_mend="on")
    assert Piece.objects.get().name == "pocket"
