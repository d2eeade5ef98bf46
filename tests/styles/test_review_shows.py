"""What the review of a pattern file points out and draws before anything is taken over."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from planner.core.outline import Edge, Outline
from planner.core.pattern_files.read import read_pattern
from planner.core.pattern_files.to_write import PieceToWrite, StyleToWrite
from planner.core.pattern_files.write_dxf import style_as_dxf
from planner.styles.edge_words import lengths_in_words
from planner.styles.models import PatternFile, Style
from tests.factories import body_outline
from tests.styles import pattern_files as files
from tests.styles.bringing import page_of, review, take, text_of

pytestmark = pytest.mark.django_db

#: A square of 200 mm whose line goes on past its corner, so that a triangle of 2 cm² hangs from it.
CROSSING = '<g id="pocket"><path d="M10 10H210V210H10V10L30 -10H10Z"/></g>'


def body(lengths, sizes="S M L XL"):
    """A front of these lengths, 25 mm wider in each size, in one DXF."""
    rows = []
    for i, (size, length) in enumerate(zip(sizes.split(), lengths, strict=True)):
        shape = body_outline(length, 250 + 12.5 * i)
        edges = [
            Edge(edge.name.removeprefix("left ").removeprefix("right "), edge.start) for edge in shape.edges
        ]
        rows.append(PieceToWrite("front", size, Outline(shape.points, tuple(edges)), role="body"))
    return style_as_dxf(StyleToWrite("jump", tuple(rows), "M"))


def found_while_reading(page: str) -> str:
    return page.partition("Found while reading")[2].partition("</section>")[0]


def test_a_jump_in_one_size_is_told_before_it_is_taken_over(maker_client) -> None:
    address = review(maker_client, None, body([600, 615, 655, 645]))
    page = page_of(maker_client, address)
    said = found_while_reading(page)
    assert "Does not grow evenly" in said
    assert said.count("front L:") == 1
    assert "front XL" not in said
    # 655 mm where 615 and 645 lead one to expect 630.
    assert "side (each of 2) is 25 mm longer in L than M and XL beside it suggest</li>" in said
    assert "Does not grow evenly: front L." in page.partition('class="answer"')[2][:300]


def test_an_even_file_says_nothing_of_it(maker_client) -> None:
    page = page_of(maker_client, review(maker_client, None, body([600, 615, 630, 645])))
    assert "Does not grow evenly" not in page


def test_a_line_that_crosses_itself_is_drawn_as_it_was_and_as_it_would_be(maker_client) -> None:
    page = page_of(maker_client, review(maker_client, None, files.svg(CROSSING), "pocket.svg"))
    assert "The mended line of pocket waits for your word." in page
    assert "2.0 cm² would fall away" in page
    drawn = page.partition('class="before as-drawn" d="')[2].partition('"')[0]
    # The line as drawn has the corner that the mended one lacks: one point more than the square and its return.
    assert drawn.count("L") >= 6
    assert page.count('class="mend"') == 1


def test_the_mended_line_of_a_crossing_carries_the_drawn_one_with_it() -> None:
    pattern = read_pattern(files.svg(CROSSING), name="pocket.svg", mend=True)
    (piece,) = pattern.pieces
    (mend,) = piece.mends
    assert piece.outline.area_mm2 == pytest.approx(200 * 200)
    x0, y0, x1, y1 = piece.outline.bounds_mm
    assert all(x0 - 0.5 <= x <= x1 + 0.5 and y0 - 0.5 <= y <= y1 + 0.5 for x, y in mend.crossings)
    outside = [(x, y) for x, y in mend.drawn if not (x0 - 1 <= x <= x1 + 1 and y0 - 1 <= y <= y1 + 1)]
    assert len(outside) == 2


def test_the_base_size_is_asked_only_where_the_file_does_not_name_it(maker_client) -> None:
    named = review(maker_client, None, files.top(sample_size="S"))
    assert 'name="base_size"' not in page_of(maker_client, named)
    take(maker_client, named, included="yes")
    assert Style.objects.get().base_size.name == "S"
    unnamed = review(maker_client, None, files.top(sample_size=""), number="300")
    assert 'name="base_size"' in page_of(maker_client, unnamed)
    answer = take(maker_client, unnamed, included="yes", base_size="9")
    assert answer.status_code == 422
    assert "Please choose one of the list." in text_of(answer)
    take(maker_client, unnamed, included="yes", base_size="2")
    assert Style.objects.get(number="300").base_size.name == "L"


def test_two_edges_of_one_length_are_not_added_up(maker_client) -> None:
    page = page_of(maker_client, review(maker_client, None, body([600, 615, 630, 645])))
    assert re.search(r"side 2 × \d", page)
    # In words: alike within a tenth of a millimetre, else one by one.
    assert lengths_in_words((428.0, 428.04), display="metric") == "2 × 42.8\N{THIN SPACE}cm"
    apart = lengths_in_words((428.0, 401.0), display="metric")
    assert apart == "42.8\N{THIN SPACE}cm + 40.1\N{THIN SPACE}cm"
    assert lengths_in_words((), display="metric") == "none"


def test_a_change_says_longer_or_shorter_for_each_of_two_edges(maker_client) -> None:
    take(maker_client, review(maker_client, None, body([600, 615, 630, 645])), included="yes")
    style = Style.objects.get()
    page = page_of(maker_client, review(maker_client, style, body([596, 611, 626, 641])))
    changes = page.partition("What changes")[2].partition("</table>")[0]
    assert "2 × 60\N{THIN SPACE}cm → 2 × 59.6\N{THIN SPACE}cm" in changes
    assert "each 4\N{THIN SPACE}mm shorter" in changes
    assert "-" not in re.sub(r"<[^>]*>", "", changes)


def test_the_pieces_are_drawn_at_the_top_of_the_page(maker_client) -> None:
    page = page_of(maker_client, review(maker_client, None, files.top()))
    strip = page.partition('class="review-strip"')[2].partition("</nav>")[0]
    assert re.findall(r'<use href="#drawn-(\d)"/>', strip) == ["0", "1", "2"]
    assert all(f'id="drawn-{i}"' in page and f'id="piece-{i}"' in page for i in range(3))
    assert page.index("review-strip") < page.index("To be answered for the whole file")


def test_files_that_wait_say_for_what_and_since_when(maker_client, maker) -> None:
    review(maker_client, None, files.top(), number="200", name="box top")
    page = text_of(maker_client.get(reverse("style-from-file")))
    waiting = page.partition("Waiting to be looked through")[2]
    assert "200 box top · brought in" in waiting
    assert re.search(r"\d{4}, \d\d:\d\d by ", waiting)
    assert str(maker) in waiting
    assert PatternFile.objects.get().answers["style"] == {"number": "200", "name": "box top"}
