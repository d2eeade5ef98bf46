"""The papers are made, reopened and read: pages, sizes, words, nothing lost, nothing outside the paper."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import replace

import pypdfium2
import pytest
from pypdf import PdfReader

from planner.papers.bundle_tickets import bundle_tickets
from planner.papers.buy_lists import buy_list, by_supplier
from planner.papers.cut_lengths import equal_lengths
from planner.papers.cut_sheets import cut_sheet
from planner.papers.cut_tickets import cut_tickets
from planner.papers.data import LayPaper, LengthRow
from planner.papers.lay_fit import (
    LEAST_SCALE,
    ROOM_BOTTOM,
    ROOM_LEFT,
    ROOM_RIGHT,
    ROOM_TOP,
    STRIP_GAP,
    fit_lay,
)
from planner.papers.lay_key import key_of
from tests.papers import samples
from tests.papers.words import all_words, texts_of

MM = 72 / 25.4
SIZES_MM = {"A4": (210, 297), "Letter": (215.9, 279.4), "label": (100, 150)}
STRANGE = {
    "greek": samples.GREEK,
    "cyrillic": samples.CYRILLIC,
    "japanese": samples.JAPANESE,
    "polish": samples.POLISH,
    "tags": samples.TAGS,
}


def pages(paper: bytes) -> list[str]:
    """The words of every page, every kind of space told as one plain space."""
    return [re.sub(r"\s+", " ", text) for text in texts_of(paper)]


def packed(text: str) -> str:
    """Text without any space: wrapping may break a line, or a long word, anywhere."""
    return re.sub(r"\s+", "", text)


def sizes_mm(paper: bytes) -> list[tuple[float, float]]:
    """Width and height of every page."""
    boxes = [page.mediabox for page in PdfReader(io.BytesIO(paper)).pages]
    return [(round(float(box.width) / MM, 1), round(float(box.height) / MM, 1)) for box in boxes]


def outside_the_paper(paper: bytes) -> list[str]:
    """Letters whose box leaves the page or lies over the edge, read by another library."""
    found = []
    document = pypdfium2.PdfDocument(paper)
    for number, page in enumerate(document, start=1):
        text, width, height = page.get_textpage(), page.get_width(), page.get_height()
        for index in range(text.count_chars()):
            left, low, right, high = text.get_charbox(index)
            if left < 5 or low < 5 or right > width - 5 or high > height - 5:
                found.append(f"page {number}: {text.get_text_range(index, 1)!r} at {left:.0f} {low:.0f}")
    return found


def test_cut_sheet_tells_the_whole_batch() -> None:
    paper = cut_sheet(samples.cut_sheet_data())
    assert paper == cut_sheet(samples.cut_sheet_data()), "the same data give the same bytes"
    words = " ".join(pages(paper))
    assert set(sizes_mm(paper)) == {SIZES_MM["A4"]}
    for expected in (
        "B-0007",
        "due 20 March 2026",
        "110 Harbour top",
        "= 21",
        "7.81 m",
        "8.0 m",
        "Lay 1 · Cotton jersey 180",
        "2 × ink, 1 × chalk white",
        "scale 1 :",
        "relax flat for 24 h",
        "162 mm",
        "12 ×",
        "thread, ink, cone 5000 m",
        "Local law and the advice of a qualified person come first.",
        "16 CFR 1610",
        "keep them apart",
    ):
        assert expected in words, expected
    # In the order of the work.
    titles = (
        "What is made",
        "Before cutting",
        "Take care.",
        "Drawn to scale",
        "Cutting counts",
        "Elastic and tape to cut",
        "Bands: cut size",
        "Notions to lay ready",
    )
    places = [words.index(title) for title in titles]
    assert places == sorted(places)


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_every_page_has_its_foot(size: str) -> None:
    data = samples.cut_sheet_data()
    one_batch = [samples.ticket(n) for n in range(1, 10)]
    for paper in (
        cut_sheet(data, size),
        cut_tickets(samples.HEADING, data.lays, size),
        bundle_tickets(samples.HEADING, one_batch, size),
        buy_list(samples.buy_list_data(), size),
    ):
        found = pages(paper)
        for number, words in enumerate(found, start=1):
            assert f"page {number} of {len(found)}" in words
            assert "B-0007" in words
            assert "printed 3 March 2026" in words
            assert "due 20 March 2026" in words
        assert {tuple(sorted(size_mm)) for size_mm in sizes_mm(paper)} == {tuple(sorted(SIZES_MM[size]))}
        assert outside_the_paper(paper) == []


def test_numbers_on_the_drawing_and_in_the_key_are_all_there() -> None:
    lay = samples.crowded_lay(40)
    words = " ".join(pages(cut_tickets(samples.HEADING, [lay])))
    figures = re.findall(r"(?<![\d./])\d+(?![\d./])", words)
    for number in range(1, 41):
        assert figures.count(str(number)) >= 2, f"piece {number} stands on the drawing and in the key"


def test_cut_ticket_says_what_to_spread() -> None:
    lay = replace(samples.lay(4), marker_length_mm=2460.0)
    (words,) = pages(cut_tickets(samples.HEADING, [lay]))
    for expected in (
        "length to spread 2.50 m",  # 2460 + 2 × 20 mm
        "marker 2.46 m + 2 × 2 cm ends = 2.50 m",
        "79.3 %",
        "146 cm",
        "Open: every ply lies flat, right side up. Cut each ply off and begin the next at the same end",
        "Plies: 2 × ink, 1 × chalk white.",
        "9 × 3 = 27 garments",
        "B-0007-04",
        "plies really spread",
        "metres really used",
        "cut-resistant glove",
    ):
        assert expected in words, expected


def test_a_lay_that_is_not_nested_is_called_an_estimate() -> None:
    lay = replace(samples.lay(), nested=False, pieces=())
    (words,) = pages(cut_tickets(samples.HEADING, [lay]))
    assert "an estimate: not nested yet" in words


def test_imperial_lengths_of_which_needs_are_rounded_up_and_stock_down() -> None:
    words = " ".join(pages(cut_tickets(samples.HEADING, [samples.lay()], imperial=True)))
    assert "57 1/2 in" in words  # 1460 mm = 57.48 in
    assert "yards really used" in words
    assert " cm" not in words
    sheet = " ".join(pages(cut_sheet(samples.cut_sheet_data(imperial=True), "Letter")))
    assert "Needs are rounded up and stock down" in sheet
    # Lay and need of ink: 7.42 m = 8.115 yd, 7.81 m = 8.541 yd. Of chalk white: 2.48 m = 2.712 yd, 2.61 m = 2.854 yd,
    # and in stock 3.2 m = 3.4996 yd, which are no 3 ½.
    assert "8 ⅛ yd 8 ⅝ yd 0 yd" in sheet
    assert "2 ¾ yd 2 ⅞ yd 3 ⅜ yd nothing" in sheet


def test_one_page_a_lay() -> None:
    lays = [samples.rib_lay(), samples.lay(), samples.crowded_lay(24)]
    assert sizes_mm(cut_tickets(samples.HEADING, lays)) == [SIZES_MM["A4"]] * 3


def test_a_long_lay_is_drawn_on_wide_paper_and_the_next_upright_again() -> None:
    long = replace(samples.lay(), marker_length_mm=4000.0)
    paper = cut_tickets(samples.HEADING, [samples.rib_lay(), long, samples.rib_lay()])
    assert sizes_mm(paper) == [(210, 297), (297, 210), (210, 297)]
    assert outside_the_paper(paper) == []


@pytest.mark.parametrize("make", [samples.lay, samples.rib_lay, samples.crowded_lay])
def test_the_scale_printed_is_the_scale_drawn(make: Callable[[], LayPaper]) -> None:
    """Points times the scale are the cloth's own measure; the next finer scale would not fit the room."""
    lay = make()
    fit = fit_lay(lay, 500, 400)
    assert fit.points(lay.lay_width_mm) / MM * fit.scale == pytest.approx(lay.lay_width_mm)
    assert fit.points(fit.strip_mm(lay)) + ROOM_LEFT + ROOM_RIGHT <= 500.001
    assert fit.height <= 400.001
    finer = replace(fit, scale=fit.scale - 1)
    too_wide = finer.points(finer.strip_mm(lay)) + ROOM_LEFT + ROOM_RIGHT > 500
    gaps = (fit.strips - 1) * STRIP_GAP
    too_high = fit.strips * finer.points(lay.lay_width_mm) + gaps + ROOM_TOP + ROOM_BOTTOM > 400
    assert fit.scale == LEAST_SCALE or too_wide or too_high


def test_very_many_pieces_go_on_to_a_second_page() -> None:
    paper = cut_tickets(samples.HEADING, [samples.crowded_lay(140)])
    found = pages(paper)
    assert len(found) == 2
    assert "drawn in" in found[0]
    assert "140" in found[1]
    assert outside_the_paper(paper) == []


def test_nothing_planned_yet() -> None:
    bare = replace(
        samples.cut_sheet_data(), demand=(), cloths=(), lays=(), counts=(), lengths=(), notions=(), notes=()
    )
    words = " ".join(pages(cut_sheet(bare)))
    assert "No lay has been planned yet." in words
    assert "Nothing is in this batch yet." in words
    assert "No lay has been planned yet." in pages(cut_tickets(samples.HEADING, []))[0]
    assert "No bundle has been made yet." in pages(bundle_tickets(samples.HEADING, [], "label"))[0]
    empty = replace(samples.buy_list_data(), lines=(), total="0.00")
    assert "Nothing to buy" in pages(buy_list(empty))[0]


def test_a_broken_outline_does_not_stop_the_paper() -> None:
    lay = samples.lay()
    crossed = replace(lay.pieces[0], outline=((0.0, 0.0), (300.0, 300.0), (300.0, 0.0), (0.0, 300.0)))
    flat = replace(lay.pieces[1], outline=((0.0, 0.0), (300.0, 0.0), (600.0, 0.0)))
    point = replace(lay.pieces[2], outline=((5.0, 5.0),))
    broken = replace(lay, pieces=(crossed, flat, point))
    assert len(pages(cut_tickets(samples.HEADING, [broken]))) == 1
    nothing = replace(lay, marker_length_mm=0.0, lay_width_mm=0.0, pieces=(), plies=(), size_counts=())
    assert len(pages(cut_tickets(samples.HEADING, [nothing]))) == 1


def test_twelve_sizes_keep_every_count() -> None:
    sizes = ("XXXS", "XXS", "XS", "S", "M", "L", "XL", "2XL", "3XL", "4XL", "5XL", "6XL")
    paper = cut_sheet(samples.cut_sheet_data(sizes))
    words = " ".join(pages(paper))
    for size in sizes:
        assert words.count(size) >= 4
    assert "= 78" in words
    assert outside_the_paper(paper) == []


def test_four_tickets_a_sheet_and_one_a_label() -> None:
    tickets = [samples.ticket(n) for n in range(1, 10)]
    sheets = bundle_tickets(samples.HEADING, tickets, "A4")
    labels = bundle_tickets(samples.HEADING, tickets, "label")
    assert sizes_mm(sheets) == [SIZES_MM["A4"]] * 3
    assert sizes_mm(labels) == [SIZES_MM["label"]] * 9
    assert [words.count("Harbour top") for words in pages(sheets)] == [4, 4, 1]
    assert outside_the_paper(sheets) == []
    assert outside_the_paper(labels) == []


@pytest.mark.parametrize("size", ["A4", "Letter", "label"])
def test_a_bundle_ticket_tells_everything(size: str) -> None:
    one = samples.ticket()
    (words,) = pages(bundle_tickets(samples.HEADING, [one], size))
    for expected in (
        one.number,
        "110 Harbour top",
        "× 8",
        "ink",
        one.options,
        one.shade_lot,
        one.order,
        one.due_on,
        "10 × sleeve",
        "10 × clear elastic 162 mm",
        "6 Topstitch neck",
        "coverstitch · 406",
        "start 15 mm into the back",
        "page 1 of 1",
        "Find every fragment",
    ):
        assert expected in words, expected
    assert packed(one.url.removeprefix("http://").rstrip("/")) in packed(words)


def test_fourteen_operations_fit_on_one_label_and_thirty_go_on() -> None:
    assert (
        len(pages(bundle_tickets(samples.HEADING, [samples.ticket(1, samples.many_steps(14))], "label"))) == 1
    )
    found = pages(bundle_tickets(samples.HEADING, [samples.ticket(1, samples.many_steps(30))], "label"))
    assert len(found) > 1
    for number, words in enumerate(found, start=1):
        assert f"{number} of {len(found)}" in words
    for step in samples.many_steps(30):
        assert any(f"{step.position} {step.name}" in words for words in found)


def test_letters_of_any_script_are_printed_as_text_in_embedded_typefaces() -> None:
    """All of them in one name; each by itself has its shapes, see `test_scripts.py`."""
    text = " ".join(STRANGE.values())
    sheet, one, buy = samples.with_names(lambda name: text)
    papers = (
        cut_sheet(sheet),
        cut_tickets(samples.HEADING, sheet.lays),
        bundle_tickets(samples.HEADING, [one], "label"),
        buy_list(buy),
    )
    for paper in papers:
        words = packed(" ".join(pages(paper)))
        for script, name in STRANGE.items():
            assert packed(name) in words, script
    reader = PdfReader(io.BytesIO(papers[0]))
    used = {}
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            entry = font.get_object()
            used[entry["/BaseFont"]] = entry
    embedded = {name for name, entry in used.items() if "/FontFile2" in entry.get("/FontDescriptor", {})}
    assert {name.split("+")[-1] for name in embedded} >= {
        "DejaVuSans",
        "DejaVuSans-Bold",
        "DroidSansFallback",
    }


@pytest.mark.parametrize("name", [samples.LONG, samples.UNBROKEN[:300]])
def test_names_of_three_hundred_letters_are_kept_whole(name: str) -> None:
    assert len(name) == 300
    sheet, one, buy = samples.with_names(lambda _: name)
    for paper in (
        cut_sheet(sheet),
        cut_tickets(samples.HEADING, sheet.lays, "Letter"),
        buy_list(buy),
    ):
        assert packed(name) in packed(" ".join(pages(paper)))
        assert outside_the_paper(paper) == []
    label = bundle_tickets(samples.HEADING, [one], "label")
    assert packed(one.style + name) in packed(" ".join(pages(label)))
    assert outside_the_paper(label) == []


def test_long_numbers_sizes_and_batches_stay_on_the_paper() -> None:
    heading = replace(samples.HEADING, batch="B-" + "0" * 60, workroom=samples.LONG)
    one = replace(
        samples.ticket(), number="B-0007-" + "9" * 40, size="made to measure, tall, long in the arm"
    )
    sheet = replace(samples.cut_sheet_data(), heading=heading)
    for paper in (
        cut_sheet(sheet),
        cut_tickets(heading, sheet.lays),
        bundle_tickets(heading, [one], "label"),
        bundle_tickets(heading, [one], "A4"),
    ):
        assert outside_the_paper(paper) == []


def test_an_unknown_paper_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="A4, Letter or label"):
        bundle_tickets(samples.HEADING, [], "A3")  # type: ignore[arg-type]


def test_equal_lengths_are_cut_together() -> None:
    rows = (
        LengthRow("elastic", "110", "M", "shoulder", 162.04, None, 10),
        LengthRow("elastic", "110", "S", "shoulder", 158.0, None, 6),
        LengthRow("elastic", "214", "S", "shoulder", 162.0, None, 2),
        LengthRow("elastic", "214", "S", "hem", 162.0, 12.0, 1),
    )
    groups = [(key, [row.count for row in same]) for key, same in equal_lengths(rows)]
    assert groups == [
        (("elastic", None, 158.0), [6]),
        (("elastic", None, 162.0), [10, 2]),
        (("elastic", 12.0, 162.0), [1]),
    ]


def test_one_length_and_several() -> None:
    data = replace(samples.cut_sheet_data(), lays=())
    for count, said in ((1, "In all 1 length ="), (2, "In all 2 lengths =")):
        row = LengthRow("elastic", "110", "M", "waist", 640.0, None, count)
        assert said in " ".join(pages(cut_sheet(replace(data, lengths=(row,)))))


def test_buy_list_groups_by_supplier_and_puts_none_last() -> None:
    data = samples.buy_list_data()
    lines = (data.lines[-1], *data.lines[:-1])
    assert [name for name, _ in by_supplier(lines)] == ["Millrace Cloth", "Ropewalk Haberdashery", ""]
    words = " ".join(pages(buy_list(data)))
    for expected in (
        "Millrace Cloth",
        "1 roll of 25 m",
        "102.95 EUR",
        "No supplier set down",
        "for lays 1 and 2",
    ):
        assert expected in words, expected


def test_mirrored_pieces_are_told_apart_in_key_and_drawing() -> None:
    lay = samples.lay()
    pieces = tuple(replace(p, mirrored=p.number == lay.pieces[0].number) for p in lay.pieces)
    mirrored = replace(lay, pieces=pieces)
    first = lay.pieces[0]
    entries = key_of(pieces)
    assert [e.mirrored for e in entries if e.mirrored] == [{first.number}]
    assert f"{first.number}↔" in [number for e in entries for number in e.marked]
    assert sorted(n for e in entries for n in e.numbers) == sorted(p.number for p in pieces)
    data = samples.cut_sheet_data()
    for paper in (
        cut_tickets(samples.HEADING, [mirrored]),
        cut_sheet(replace(data, lays=(mirrored,))),
    ):
        words = " ".join(pages(paper))
        assert words.count("mirrored") == 2, "once to explain the sign, once in the piece"
        assert f"{first.number}↔" in words
    assert "mirrored" not in " ".join(pages(cut_tickets(samples.HEADING, [lay])))


def test_the_cloth_of_a_lay_is_told_in_yards_and_reckoned_in_metres_on_the_sheet_alone() -> None:
    """2.803 m are 3.065 yd, up 3 1/8."""
    lay = replace(samples.lay(), cloth_m=2.803, reckoning="1 ply × (2763 + 2 × 20) mm = 2.803 m")
    ticket = " ".join(pages(cut_tickets(samples.HEADING, [lay], imperial=True)))
    assert "cloth in all 3 ⅛ yd" in ticket
    assert " mm" not in ticket
    sheet = " ".join(pages(cut_sheet(replace(samples.cut_sheet_data(), lays=(lay,), imperial=True))))
    assert "3 ⅛ yd of cloth in all, in metres 1 ply × (2763 + 2 × 20) mm = 2.803 m" in sheet


@pytest.mark.parametrize("imperial", [False, True])
def test_a_lay_without_pieces_is_not_drawn(imperial: bool) -> None:
    lay = replace(samples.lay(), nested=False, pieces=())
    data = replace(samples.cut_sheet_data(), lays=(lay,), imperial=imperial)
    for paper in (cut_tickets(samples.HEADING, [lay], imperial=imperial), cut_sheet(data)):
        words = " ".join(pages(paper))
        assert "nothing to draw" in words
        assert words.count("selvedge") <= 1, "in the legend only"
        assert "scale 1 :" not in words


@pytest.mark.parametrize("kind", ["Cut sheet", "Cut ticket", "Bundle tickets", "Buy list"])
def test_a_paper_says_its_name_and_language(kind: str) -> None:
    data = samples.cut_sheet_data()
    paper = {
        "Cut sheet": lambda: cut_sheet(data),
        "Cut ticket": lambda: cut_tickets(samples.HEADING, [samples.lay()]),
        "Bundle tickets": lambda: bundle_tickets(samples.HEADING, [samples.ticket(1)], "A4"),
        "Buy list": lambda: buy_list(samples.buy_list_data()),
    }[kind]()
    reader = PdfReader(io.BytesIO(paper))
    assert reader.metadata is not None
    assert reader.metadata.title == f"{kind} B-0007"
    assert reader.trailer["/Root"]["/Lang"] == "en-GB"
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/DisplayDocTitle"]


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_yards_of_thread_stand_on_one_line_of_the_buy_list(size: str) -> None:
    """The y of 13,212 ⅞ yd stood on one line and its d on the next."""
    data = samples.buy_list_data()
    told = "13212\u2009⅞\u2009yd"
    lines = [replace(data.lines[0], need=told, in_stock=told, short=told, left=told)]
    assert all_words(buy_list(replace(data, lines=tuple(lines)), size)).count("13212 ⅞ yd") == 4
