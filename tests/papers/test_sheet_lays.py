"""Lays on the cut sheet: each stays together, as many come on a page as fit, and drawings can still be read."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

import pytest
from pypdfium2 import PdfDocument
from reportlab.pdfgen.canvas import Canvas

from planner.papers import cut_sheets, lay_alike, sheet_lays
from planner.papers.cut_sheets import cut_sheet
from planner.papers.cut_tickets import cut_tickets
from planner.papers.data import DrawnPiece, LayPaper, RollPart
from planner.papers.lay_alike import LayDrawings
from planner.papers.lay_drawing import draw_lay
from planner.papers.sheet_lays import SMALLEST_SCALE
from tests.papers import samples
from tests.papers.test_papers import outside_the_paper, pages
from tests.papers.test_spreading import many_rows
from tests.papers.words import texts_of

LAY = re.compile(r"Lay (\d+) · ")
SCALE = re.compile(r"scale 1 : (\d+)")


@cache
def lay_pages(count: int, size: str = "A4") -> list[str]:
    """The pages of a cut sheet with so many lays like in the samples on which a lay stands."""
    lays = tuple(samples.lay(number) for number in range(1, count + 1))
    paper = cut_sheet(replace(samples.cut_sheet_data(), lays=lays, cloths=(), notes=()), size)
    assert not outside_the_paper(paper)
    return [words for words in pages(paper) if LAY.search(words)]


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_two_lays_share_a_page_and_none_is_torn(size: str) -> None:
    found = lay_pages(6, size)
    assert [LAY.findall(words) for words in found] == [["1", "2"], ["3", "4"], ["5", "6"]]
    for words in found:
        # The check boxes of a lay are its last line: they stand on the page of its heading.
        assert len(LAY.findall(words)) == words.count("pieces counted and tied")
        assert all(int(scale) <= SMALLEST_SCALE for scale in SCALE.findall(words))


def test_drawings_are_no_smaller_than_the_page_asks_for() -> None:
    (alone,) = lay_pages(1)
    largest = SCALE.findall(alone)
    first, second, _ = lay_pages(6)
    assert SCALE.findall(second) == largest * 2, "both have room as large as they may be"
    assert SCALE.findall(first)[0] == largest[0]
    assert int(SCALE.findall(first)[1]) > int(largest[0]), "smaller, as the heading takes of the room"


def test_a_lay_higher_than_a_page_goes_on_over_it() -> None:
    high = many_rows(60)
    crowded = replace(samples.crowded_lay(60), number=3)
    lays = (samples.stacked_lay(1), replace(high, number=2), crowded)
    paper = cut_sheet(replace(samples.cut_sheet_data(), lays=lays))
    assert not outside_the_paper(paper)
    begun = [LAY.findall(words) for words in pages(paper)]
    # In the order of cutting, as everywhere: cloth of the first is still to be bought.
    assert [number for page in begun for number in page] == ["2", "3", "1"]
    high_one, after = (next(n for n, page in enumerate(begun) if lay in page) for lay in "23")
    assert after - high_one > 1, "a page in between holds nothing but the rest of lay 2"


def test_a_lay_higher_than_a_page_stands_among_lays_that_are_drawn_smaller() -> None:
    others = [samples.lay(number) for number in range(1, 7)]
    lays = tuple(replace(lay, number=n) for n, lay in enumerate([*others[:2], many_rows(60), *others[2:]], 1))
    paper = cut_sheet(replace(samples.cut_sheet_data(), lays=lays, cloths=(), notes=()))
    assert not outside_the_paper(paper)
    assert [number for words in pages(paper) for number in LAY.findall(words)] == list("1234567")


def test_a_lay_that_waits_for_cloth_is_cut_last() -> None:
    def from_roll(number: int, roll: str) -> LayPaper:
        lay = samples.stacked_lay(number)
        rows = (
            replace(row, roll=RollPart(roll, "", row.last - row.first + 1, 1000.0)) for row in lay.ply_rows
        )
        return replace(lay, ply_rows=tuple(rows))

    third = from_roll(3, "R-1")
    begun = replace(third, plies_cut=tuple((colour, 1) for colour, _ in third.plies), cut="BEGUN")
    lays = (from_roll(1, ""), from_roll(2, "R-2"), begun)
    words = " ".join(pages(cut_sheet(replace(samples.cut_sheet_data(), lays=lays))))
    order = words[words.index("Order of cutting") : words.index("Drawn to scale")]
    places = [order.index(f" {number} {lays[0].fabric}") for number in (3, 2, 1)]
    assert LAY.findall(words[words.index("Drawn to scale") :]) == ["3", "2", "1"]
    assert places == sorted(places)
    assert order.count("Waits for cloth, so it comes last") == 1
    assert order.index("Waits for cloth") > places[-1]


def test_only_one_lay_can_come_last() -> None:
    def waiting(number: int) -> LayPaper:
        lay = samples.stacked_lay(number)
        to_buy = tuple(replace(row, roll=RollPart("", "", 1, 1000.0)) for row in lay.ply_rows)
        return replace(lay, ply_rows=to_buy)

    def order_of(*lays: LayPaper) -> str:
        words = " ".join(pages(cut_sheet(replace(samples.cut_sheet_data(), lays=lays))))
        return words[words.index("Order of cutting") : words.index("Drawn to scale")]

    all_wait = order_of(waiting(1), waiting(2))
    assert (all_wait.count("Waits for cloth"), all_wait.count("so it comes")) == (2, 0)
    there = replace(samples.stacked_lay(3), ply_rows=())
    assert order_of(waiting(1), waiting(2), there).count("so it comes after what has its cloth") == 2


def test_a_length_in_inches_stands_in_one_line_of_the_order_of_cutting() -> None:
    """3,880 mm with the ends are 152.76 in, to spread 152 13/16 in."""
    lay = replace(samples.lay(), marker_length_mm=3840.0, end_allowance_mm=20.0)
    words = "\n".join(texts_of(cut_sheet(replace(samples.cut_sheet_data(), lays=(lay,), imperial=True))))
    order = words[words.index("Order of cutting") : words.index("Drawn to scale")]
    assert "152 13/16 in" in order.replace("\N{THIN SPACE}", " ")


def test_what_is_due_first_stands_first_in_the_order_of_cutting_with_its_day() -> None:
    lays = (
        replace(samples.stacked_lay(1), due_on=date(2026, 12, 20)),
        replace(samples.stacked_lay(2), due_on=date(2026, 12, 1)),
    )
    data = replace(samples.cut_sheet_data(), lays=lays)
    words = " ".join(pages(cut_sheet(data)))
    order = words[words.index("Order of cutting") : words.index("Drawn to scale")]
    assert order.index(f" 2 {lays[0].fabric}") < order.index(f" 1 {lays[0].fabric}")
    assert order.count("First due Tue 1 Dec 2026") == order.count("First due Sun 20 Dec 2026") == 1
    alike = tuple(replace(lay, due_on=date(2026, 12, 1)) for lay in lays)
    # The same day for all of them stands at the head of the paper.
    assert "First due" not in " ".join(pages(cut_sheet(replace(data, lays=alike))))


def test_a_lay_much_shorter_than_wide_is_drawn_larger_than_others() -> None:
    """142 mm of rib 735 mm across: a third of the height of a page would draw it at 1 : 11, its names unreadable."""
    short = replace(samples.rib_lay(), lay_width_mm=735.0, mode="open", marker_length_mm=102.0)
    paper = " ".join(pages(cut_sheet(replace(samples.cut_sheet_data(), lays=(short,)))))
    (scale,) = re.findall(r"scale 1 : (\d+)", paper)
    assert int(scale) <= 7


def rib_bands(count: int) -> LayPaper:
    """A lay of so many neck bands 40 mm wide and 460 long, side by side across 1,020 mm of rib in two rows."""
    long, pairs = 460.0, (count + 1) // 2
    shape = [(0.0, 0.0), (40.0, 0.0), (40.0, long), (0.0, long)]
    pieces = tuple(
        DrawnPiece(
            n + 1, "neck band", "110", "M", False, 0, samples.at(shape, 44.0 * (n // 2), 500.0 * (n % 2))
        )
        for n in range(count)
    )
    return replace(
        samples.rib_lay(), mode="open", lay_width_mm=1020.0, marker_length_mm=44.0 * pairs, pieces=pieces
    )


def test_a_short_lay_of_bands_is_turned_upwards_and_drawn_several_times_as_large() -> None:
    """258 mm of rib 1,020 mm across came at 1 : 24, its bands 5 points wide."""
    paper = cut_sheet(replace(samples.cut_sheet_data(), lays=(rib_bands(12), rib_bands(10))))
    words = " ".join(pages(paper))
    assert not outside_the_paper(paper)
    assert words.count("the cloth runs up the page") == 2
    scales = [int(scale) for scale in SCALE.findall(words)]
    assert all(40.0 * 72 / 25.4 / scale >= sheet_lays.BAND_POINTS for scale in scales)
    ticket = " ".join(pages(cut_tickets(samples.HEADING, (rib_bands(12),))))
    assert int(SCALE.findall(ticket)[0]) <= min(scales)
    assert "the cloth runs up the page" in ticket


def test_a_lay_about_as_long_as_wide_is_not_turned() -> None:
    square = replace(samples.lay(), marker_length_mm=1400.0, lay_width_mm=1500.0)
    words = " ".join(pages(cut_sheet(replace(samples.cut_sheet_data(), lays=(square,)))))
    assert "runs up" not in words


def test_lays_that_look_alike_are_drawn_once_and_seen_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    first = samples.stacked_lay(1)
    bundled = tuple(replace(piece, bundles=("B-0007-99",)) for piece in first.pieces)
    lays = (first, replace(first, number=2, pieces=bundled), samples.rib_lay())
    drawn: list[int] = []

    def counted(canvas: Canvas, lay: LayPaper, *args: Any, **options: Any) -> None:
        drawn.append(lay.number)
        draw_lay(canvas, lay, *args, **options)

    monkeypatch.setattr(lay_alike, "draw_lay", counted)

    def papers() -> list[bytes]:
        sheet = cut_sheet(replace(samples.cut_sheet_data(), lays=lays))
        return [sheet, cut_tickets(samples.HEADING, lays)]

    once = papers()
    assert len(drawn) < 2 * len(lays)
    drawn.clear()
    monkeypatch.setattr(LayDrawings, "expect", lambda *_: None)
    each = papers()
    assert len(drawn) >= 2 * len(lays)
    for paper, other in zip(once, each, strict=True):
        assert pages(paper) == pages(other)
        assert not outside_the_paper(paper)
        for page, same in zip(PdfDocument(paper), PdfDocument(other), strict=True):
            seen, before = (one.render(scale=1).to_numpy().astype(int) for one in (page, same))
            assert (abs(seen - before) > 8).mean() < 1e-4


def test_ways_to_draw_lays_that_look_alike_are_tried_once(monkeypatch: pytest.MonkeyPatch) -> None:
    first = samples.stacked_lay(1)
    bundled = tuple(replace(piece, bundles=("B-0007-99",)) for piece in first.pieces)
    lays = (first, replace(first, number=2, pieces=bundled), samples.rib_lay())
    tried: list[int] = []
    ways = sheet_lays._ways
    monkeypatch.setattr(sheet_lays, "_ways", lambda sheet, lay: tried.append(lay.number) or ways(sheet, lay))
    # Far from the end, so that the sheet is drawn but once.
    monkeypatch.setattr(cut_sheets, "MANY_PAGES", 1)
    paper = cut_sheet(replace(samples.cut_sheet_data(), lays=lays))
    assert len(tried) == 2
    assert sorted(LAY.findall(" ".join(pages(paper)))) == ["1", "2", "3"]


def test_of_very_many_pages_the_last_is_left_as_it_comes(monkeypatch: pytest.MonkeyPatch) -> None:
    """To draw hundreds of pages once more, for the sake of the last one, takes a minute each time."""
    drawn: list[int] = []
    sheet = cut_sheets._sheet
    monkeypatch.setattr(
        cut_sheets, "_sheet", lambda *args, **options: drawn.append(1) or sheet(*args, **options)
    )
    monkeypatch.setattr(cut_sheets, "LITTLE", 1.1)  # whatever stands on the last page is little
    times = []
    for most in (1, 1_000):
        monkeypatch.setattr(cut_sheets, "MANY_PAGES", most)
        drawn.clear()
        assert cut_sheet(samples.cut_sheet_data())
        times.append(len(drawn))
    assert times[0] == 1 < times[1]
