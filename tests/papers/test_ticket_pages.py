"""What a page of the papers holds: its room is used, what belongs together stands together, all of it can be read."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from datetime import date

import numpy as np
import pypdfium2
import pypdfium2.raw
import pytest

from planner.core.units import format_length
from planner.papers.cut_sheets import cut_sheet
from planner.papers.cut_tickets import cut_tickets
from planner.papers.data import DrawnPiece, LayPaper, PaperSize, RollPart
from planner.papers.paging import page_size
from planner.papers.sheet_lays import lay_in_words
from planner.papers.spreading import rolls_in_words
from planner.papers.ticket_record import record_rows
from tests.papers import samples
from tests.papers.test_papers import MM, outside_the_paper, packed, pages

#: Nothing smaller is asked of eyes at a table.
LEAST_LETTERS = 6.0


def narrow_lay(count: int = 12) -> LayPaper:
    """Rib bands 50 mm wide, as they are cut for a batch: 1020 mm across and short along the cloth."""
    pieces, x = [], 2.0
    for number in range(1, count + 1):
        low = 2 if number % 2 else 460
        outline = samples.at(samples.band(400 + 4 * number, 50), x, low)
        pieces.append(DrawnPiece(number, "rib neck band", "110", "M", False, 0, outline, garment="a"))
        x += 0 if number % 2 else 52
    return replace(
        samples.stacked_lay(),
        lay_width_mm=1020.0,
        marker_length_mm=x,
        pieces=tuple(pieces),
        fabric="Rib 2 × 2",
    )


def lay_with_tapes(length_mm: float = 2500.0) -> LayPaper:
    """Bodies, and eight tapes 30 mm wide, four of them along the cloth."""
    pieces = list(samples.stacked_lay().pieces)
    for n in range(8):
        shape = samples.band(200, 30) if n % 2 else [(y, x) for x, y in samples.band(200, 30)]
        outline = samples.at(shape, 900 + 35 * n, 1230 if n % 2 else 1010 + 24 * n)
        pieces.append(DrawnPiece(21 + n, "back neck tape", "110", "M", False, 0, outline, garment="b"))
    return replace(samples.stacked_lay(), pieces=tuple(pieces), marker_length_mm=length_mm)


def scale_of(words: str) -> int:
    found = re.search(r"scale 1 : (\d+)", words)
    assert found
    return int(found[1])


def letters(paper: bytes) -> list[tuple[int, str, float]]:
    """Every letter with its page and its size in points, as PDFium reads them."""
    found = []
    for number, page in enumerate(pypdfium2.PdfDocument(paper)):
        text = page.get_textpage()
        for n in range(text.count_chars()):
            if not text.get_text_range(n, 1).strip():
                continue
            size = pypdfium2.raw.FPDFText_GetFontSize(text.raw, n)
            found.append((number, text.get_text_range(n, 1), size))
    return found


@pytest.mark.parametrize("count", [2, 12])
def test_the_drawing_of_a_narrow_lay_takes_nearly_half_the_height_of_its_page(count: int) -> None:
    lay = narrow_lay(count)
    (words,) = pages(cut_tickets(samples.HEADING, [lay]))
    high = lay.lay_width_mm / scale_of(words) * MM
    assert high > page_size("A4")[1] * 0.45
    for expected in (
        "Bundles from this lay",
        "rib neck band · M",
        "R-12",
        "plies really spread",
        "Take care.",
    ):
        assert expected in words


@pytest.mark.parametrize(("count", "size"), [(14, "A4"), (40, "A4"), (24, "Letter"), (33, "Letter")])
def test_the_list_of_pieces_stands_on_the_page_of_the_drawing(count: int, size: str) -> None:
    lay = replace(samples.crowded_lay(count), ply_rows=samples.stacked_lay().ply_rows[:2])
    paper = cut_tickets(samples.HEADING, [lay], size)
    (words,) = pages(paper)
    assert "Bundles from this lay" in words
    assert outside_the_paper(paper) == []


def test_what_stands_at_the_right_does_not_run_into_the_drawing() -> None:
    """The figures beneath strips are longer than a strip may be."""
    lay = replace(samples.crowded_lay(60), ply_rows=samples.stacked_lay().ply_rows)
    text = pypdfium2.PdfDocument(cut_tickets(samples.HEADING, [lay]))[0].get_textpage()
    shown = [n for n in range(text.count_chars()) if text.get_text_range(n, 1).strip()]
    left, low, right, high = np.array([text.get_charbox(n) for n in shown]).T
    wide = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
    tall = np.minimum(high[:, None], high) - np.maximum(low[:, None], low)
    covered = (wide > 1) & (tall > 1)
    np.fill_diagonal(covered, val=False)
    assert not covered.any(), [text.get_text_range(shown[n], 1) for n in np.nonzero(covered)[0]]


def test_every_number_is_there_and_nothing_is_too_small_to_read() -> None:
    for lay in (lay_with_tapes(), lay_with_tapes(4000.0), narrow_lay(), samples.crowded_lay(40)):
        paper = cut_tickets(samples.HEADING, [lay])
        words = " ".join(pages(paper))
        figures = Counter(re.findall(r"(?<![\d./,])\d+", words))
        for piece in lay.pieces:
            assert figures[str(piece.number)] >= 2, f"piece {piece.number} on the drawing and in the key"
        small = [(page, letter, size) for page, letter, size in letters(paper) if size < LEAST_LETTERS]
        assert small == []


def test_the_numbers_of_narrow_pieces_do_not_cover_one_another() -> None:
    lay = lay_with_tapes(4000.0)
    page = pypdfium2.PdfDocument(cut_tickets(samples.HEADING, [lay]))[0]
    text = page.get_textpage()
    places = []
    for n in range(text.count_rects()):
        left, low, right, high = text.get_rect(n)
        if text.get_text_bounded(left, low, right, high).strip() in {str(n) for n in range(21, 29)}:
            places.append((left, low, right, high))
    assert len(places) == 8
    for n, (left, low, right, high) in enumerate(places):
        for other in places[n + 1 :]:
            assert right <= other[0] or other[2] <= left or high <= other[1] or other[3] <= low


@pytest.mark.parametrize("rows", range(1, 40, 6))
def test_the_caution_never_stands_on_a_page_alone(rows: int) -> None:
    data = samples.cut_sheet_data()
    demand = tuple(data.demand[n % len(data.demand)] for n in range(rows))
    found = pages(cut_sheet(replace(data, demand=demand, counts=data.counts[: rows % 5], lays=())))
    (page,) = [words for words in found if "Take care." in words]
    before_and_after = ("Cut one lay and check", "Lays", "Cutting counts", "Order of cutting")
    assert sum(words in page for words in before_and_after) >= 1
    assert packed("16 CFR 1610") in packed(page)
    assert "Take care." not in found[-1] or len(found) == 1 or "Notions" in found[-1]


def pixels(paper: bytes, page: int = 0) -> Counter[tuple[int, int, int]]:
    data = pypdfium2.PdfDocument(paper)[page].render(scale=2).to_pil().convert("RGB").tobytes()
    return Counter(zip(data[0::3], data[1::3], data[2::3], strict=True))


def test_each_colour_of_a_lay_has_its_swatch_on_ticket_and_sheet() -> None:
    colours = {"ink": "#26324a", "chalk white": "#e7c96f"}
    lay = samples.stacked_lay()
    rows = tuple(replace(row, swatch=colours[row.colour]) for row in lay.ply_rows)
    told = replace(lay, ply_rows=rows)
    sheet = cut_sheet(replace(samples.cut_sheet_data(), lays=(told,)))
    (page,) = [n for n, words in enumerate(pages(sheet)) if "plies, counted from the table up" in words]
    for paper, number in ((cut_tickets(samples.HEADING, [told]), 0), (sheet, page)):
        seen = pixels(paper, number)
        # 8.5 points square at two pixels a point: some 200 pixels each, three rows of ink and one of chalk.
        assert seen[0x26, 0x32, 0x4A] > 3 * 180
        assert 180 < seen[0xE7, 0xC9, 0x6F] < 400
    bare = pixels(cut_tickets(samples.HEADING, [lay]))
    assert bare[0xE7, 0xC9, 0x6F] == 0


def test_bundles_of_several_lots_are_told_on_sheet_and_ticket_of_the_lay() -> None:
    words = "Rib, ink: lot A is lay 1, ply 1; lot B is lay 7, ply 1"
    lay = replace(samples.stacked_lay(), apart=(("B-0007-02", words),))
    for paper in (
        cut_tickets(samples.HEADING, [lay]),
        cut_sheet(replace(samples.cut_sheet_data(), lays=(lay,))),
    ):
        told = packed(" ".join(pages(paper)))
        assert packed(f"B-0007-02 {words}.") in told
        assert packed("Tie each lot as a bundle of its own: no garment may be of two.") in told
        assert outside_the_paper(paper) == []
    assert "Tie each lot" not in " ".join(pages(cut_tickets(samples.HEADING, [samples.stacked_lay()])))


@pytest.mark.parametrize("is_drawn", [True, False])
def test_very_many_lots_flaws_and_bundles_go_on_over_pages(is_drawn: bool) -> None:
    """A panel higher than a page would run off the paper, and nobody would tie those bundles lot by lot."""
    lay = replace(
        samples.lay(),
        apart=tuple(
            (f"B-0007-{n:03d}", "lot A is plies 1 to 5, lot B is plies 6 to 9") for n in range(1, 41)
        ),
        flaws=tuple(f"Roll R-{n:04d}: ply {n} begins behind the flaw at 3.2 m" for n in range(1, 41)),
        bundles=tuple(f"B-0008-{n:03d}" for n in range(1, 501)),
    )
    lay = lay if is_drawn else replace(lay, pieces=())
    data = samples.cut_sheet_data()
    ticket, sheet = cut_tickets(data.heading, [lay]), cut_sheet(replace(data, lays=(lay,)))
    for paper in (ticket, sheet):
        assert outside_the_paper(paper) == []
        words = packed(" ".join(pages(paper)))
        assert all(f"B-0007-{n:03d}" in words and f"R-{n:04d}" in words for n in range(1, 41))
    words = packed(" ".join(pages(ticket)))
    assert all(f"B-0008-{n:03d}" in words for n in range(1, 501))
    assert words.count("Takecare.") == words.count("cutby") == 1


def test_one_garment_is_one() -> None:
    lay = replace(samples.stacked_lay(), plies=(("ink", 1),), size_counts=(("M", 1),))
    (words,) = pages(cut_tickets(samples.HEADING, [lay]))
    assert "1 × 1 = 1 garment" in words
    assert "1 garments" not in words


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_no_cut_sheet_ends_with_a_page_of_a_line_or_two(size: PaperSize) -> None:
    """The sheets of a growing batch: the last page is taken by a quarter at least, and nothing is lost."""
    whole = samples.cut_sheet_data()
    lengths = []
    for rows in range(8, 16) if size == "A4" else range(26, 34):
        counts = tuple(whole.counts[n % len(whole.counts)] for n in range(rows))
        paper = cut_sheet(replace(whole, lays=(), counts=counts), size)
        found = pages(paper)
        assert f"page {len(found)} of {len(found)}" in found[-1]
        assert all(packed(name) in packed(" ".join(found)) for name, _ in whole.notions)
        assert taken_of_last_page(paper) > 0.25, rows
        lengths.append(len(found))
    assert lengths == sorted(lengths)
    assert outside_the_paper(paper) == []


def taken_of_last_page(paper: bytes) -> float:
    """How far down the text above its foot goes, of the height of the page; by PDFium."""
    whole = pypdfium2.PdfDocument(paper)
    page = whole[len(whole) - 1]
    text = page.get_textpage()
    lows = [text.get_charbox(n)[1] for n in range(text.count_chars()) if text.get_text_range(n, 1).strip()]
    return 1 - min(low for low in lows if low > 40) / page.get_height()


def test_sheet_and_ticket_say_where_they_were_not_noted_as_printed() -> None:
    heading = replace(samples.cut_sheet_data().heading, mark="K7R")
    lay = replace(samples.stacked_lay(), mark="K7R")
    for is_noted in (True, False):
        own = replace(heading, is_noted=is_noted)
        papers = (
            cut_sheet(replace(samples.cut_sheet_data(), heading=own)),
            cut_tickets(samples.HEADING, [replace(lay, is_noted=is_noted)]),
        )
        for paper in papers:
            words = " ".join(pages(paper))
            assert "mark K7R" in words
            assert ("not noted as printed" in words) is not is_noted
            assert outside_the_paper(paper) == []


def test_what_the_page_of_a_lay_asks_for_has_room_roll_by_roll_with_its_plies() -> None:
    lay = samples.stacked_lay()
    heads = "colour, roll, plies plies really spread metres really used roll and lot flaw from–to remarks"
    words = re.sub(r"\s+", " ", pages(cut_tickets(samples.HEADING, [lay]))[0])
    assert heads in words
    told = ["ink · R-12 · plies 1–2", "ink · R-13 · plies 3–7", "ink · plies 8–9", "chalk white · ply 10"]
    assert [row.words for row in record_rows(lay)] == told
    assert all(words.count(one) == 1 for one in told)
    few = replace(lay, ply_rows=lay.ply_rows[:2])
    assert [row.roll for row in record_rows(few)] == ["R-12", "R-13"]
    # Of one roll alone the plies are those of the lay.
    cut = replace(lay, ply_rows=(replace(lay.ply_rows[0], is_cut=True), *lay.ply_rows[1:2]))
    assert [row.words for row in record_rows(cut)] == ["ink · R-13"]


def test_a_roll_that_comes_twice_has_one_row_with_both_its_runs_of_plies() -> None:
    lay = samples.stacked_lay()
    first, second, *_ = lay.ply_rows
    again = replace(first, first=8, last=8)
    after = replace(second, first=9, last=9)
    lay = replace(lay, ply_rows=(first, second, again, after))
    assert [row.words for row in record_rows(lay)] == [
        "ink · R-12 · plies 1–2, 8",
        "ink · R-13 · plies 3–7, 9",
    ]
    joined = replace(lay, ply_rows=(first, replace(first, first=3, last=3), replace(second, first=4, last=4)))
    assert [row.words for row in record_rows(joined)] == ["ink · R-12 · plies 1–3", "ink · R-13 · ply 4"]


def test_more_rolls_than_the_foot_has_room_for_are_written_in_on_the_next_page() -> None:
    lay = samples.stacked_lay()
    rows = tuple(
        replace(lay.ply_rows[0], first=n, last=n, roll=RollPart(f"R-{n}", "", 1, 2500.0))
        for n in range(1, 10)
    )
    front, back = pages(cut_tickets(samples.HEADING, [replace(lay, ply_rows=rows)]))
    assert "hat was really spread: next page." in front.replace("\n", " ")
    back = re.sub(r"\s+", " ", back)
    assert all(f"ink · R-{n} · ply {n}" in back for n in range(1, 10))


def test_many_colours_are_written_in_on_the_next_page() -> None:
    lay = samples.stacked_lay()
    rows = tuple(replace(lay.ply_rows[0], first=n, last=n, colour=f"colour {n}") for n in range(1, 13))
    front, back = pages(cut_tickets(samples.HEADING, [replace(lay, ply_rows=rows)]))
    assert "hat was really spread: next page." in front.replace("\n", " ")
    assert "plies really spread" not in front
    assert "plies really spread" in back
    assert "colour 12" in back


def test_the_length_to_spread_of_a_short_lay_is_the_same_wherever_it_stands() -> None:
    """102.4 mm and twice 20 mm are 142.4 mm, so 0.15 m; the roll gives one ply the same."""
    lay = samples.stacked_lay()
    row = replace(lay.ply_rows[0], first=1, last=1, roll=RollPart("R-12", "4471", 1, 142.4))
    short = replace(
        lay, marker_length_mm=102.4, end_allowance_mm=20.0, plies=(("ink", 1),), ply_rows=(row,), pieces=()
    )
    (ticket,) = pages(cut_tickets(samples.HEADING, [short]))
    assert "marker 10.3 cm + 2 × 2 cm ends = 14.3 cm, rounded up 0.15 m" in re.sub(r"\s+", " ", ticket)
    assert "Spread 0.15 m a ply" in lay_in_words(short, imperial=False).replace("\N{THIN SPACE}", " ")
    for imperial, told in ((False, "1 ply, 0.15 m"), (True, "1 ply, 5 5/8 in")):
        assert " ".join(rolls_in_words(short, imperial=imperial).split()).endswith(told)
    assert format_length(142.4, "metric", "spread", at_least=True) == "0.15\N{THIN SPACE}m"


def test_a_ticket_says_when_the_first_of_its_own_lay_is_due() -> None:
    """The batch is due 20 March for another lay's sake; without a day of its own the lay goes by the batch."""
    lay = samples.stacked_lay()
    (own,) = pages(cut_tickets(samples.HEADING, [replace(lay, due_on=date(2026, 3, 27))]))
    assert "first due Fri 27 Mar 2026" in own
    (of_batch,) = pages(cut_tickets(samples.HEADING, [lay]))
    assert "first due" not in of_batch
    assert of_batch.count("due 20 March 2026") == 2, "at the head and at the foot"
