"""Plies on paper: ways to lay cloth in words, which ply is which, rolls in order, bundles and their plies."""

from __future__ import annotations

from dataclasses import replace

import pypdfium2
import pytest

from planner.papers.bundle_tickets import bundle_tickets
from planner.papers.cut_sheets import cut_sheet
from planner.papers.cut_tickets import cut_tickets
from planner.papers.data import LayPaper, PlyRow
from planner.papers.lay_key import key_of
from planner.papers.sheet_lays import lay_in_words
from planner.papers.spreading import (
    cuts_in_words,
    plies_in_words,
    ply_stack,
    rolls_in_words,
    side_by_side_in_words,
    way_in_words,
)
from tests.papers import samples
from tests.papers.test_papers import outside_the_paper, packed, pages


def test_the_second_ply_is_turned_end_for_end_only_where_the_cloth_has_a_way():
    one_way = way_in_words(samples.lay(mode="face_to_face"))
    two_way = way_in_words(samples.lay(mode="face_to_face", one_way=False))
    assert "lay the second ply on it, right sides together, turned end for end" in one_way
    assert "right sides together. Each outline gives a piece and its mirror image." in two_way
    assert "turned" not in two_way


def test_open_plies_begin_at_the_same_end_only_where_it_matters():
    begin = "begin the next at the same end"
    assert begin in way_in_words(samples.lay())
    assert begin not in way_in_words(samples.lay(one_way=False))
    assert begin not in way_in_words(replace(samples.lay(), plies=(("ink", 1),)))


def test_folded_cloth_says_where_its_fold_lies_and_a_tube_has_two():
    folded = samples.rib_lay()
    assert "the fold is the lower edge of the drawing" in way_in_words(folded)
    assert "its folds are the edges of the drawing" in way_in_words(replace(folded, is_tube=True))


def test_folded_cloth_is_measured_open_and_a_tube_as_it_lies():
    def width_of(lay: LayPaper) -> str:
        words = " ".join(" ".join(pages(cut_tickets(samples.HEADING, [lay]))).split())
        words = words.replace("\N{THIN SPACE}", " ")
        return words[words.index("Width ") :].partition(".")[0]

    assert (
        width_of(samples.rib_lay())
        == "Width 112 cm open, 56 cm folded: measure the cloth before it is spread"
    )
    tube = replace(samples.rib_lay(), is_tube=True)
    assert width_of(tube) == "Width 56 cm as the tube lies flat: measure the cloth before it is spread"
    assert width_of(samples.lay()) == "Width 146 cm: measure the cloth before it is spread"


def test_pieces_that_must_lie_side_by_side_are_named_where_there_are_any():
    assert side_by_side_in_words(samples.lay()) == ""
    lay = replace(samples.lay(), side_by_side=("front and back", "both halves of sleeve"))
    words = "Of each garment front and back; both halves of sleeve lie side by side, from one ply: keep them together."
    assert side_by_side_in_words(lay) == words
    assert words in lay_in_words(lay, imperial=False)


def test_what_is_spread_in_each_mode():
    lay = samples.lay()
    assert plies_in_words(lay) == "2 × ink, 1 × chalk white"
    paired = replace(lay, mode="face_to_face")
    assert plies_in_words(paired) == "2 pairs of plies of ink, 1 pair of plies of chalk white"
    assert plies_in_words(samples.rib_lay()) == "2 folded lengths of ink"
    assert plies_in_words(replace(samples.rib_lay(), is_tube=True)) == "2 tube lengths of ink"


def test_rolls_stand_in_the_order_they_come_to_the_table():
    words = rolls_in_words(samples.stacked_lay()).replace("\N{THIN SPACE}", " ")
    assert words == (
        "ink: roll R-12, shade lot 4471, 2 plies, 5.0 m; then ink: roll R-13, shade lot 4480, 5 plies, 12.7 m; "
        "then ink: cloth to be bought, 2 plies, 5.0 m"
    )
    assert rolls_in_words(samples.lay()) == ""


def test_what_a_roll_gives_is_rounded_up_as_the_length_to_spread_is():
    lay = samples.stacked_lay()
    row = lay.ply_rows[0]
    part = replace(row.roll, plies=1, length_mm=2413.0)
    words = rolls_in_words(replace(lay, ply_rows=(replace(row, roll=part),)))
    assert words.replace("\N{THIN SPACE}", " ") == "ink: roll R-12, shade lot 4471, 1 ply, 2.42 m"


def test_plies_that_differ_only_in_their_bundles_are_one_stretch_of_a_roll():
    lay = samples.stacked_lay()
    roll = lay.ply_rows[0].roll
    rows = tuple(PlyRow(n, n, "ink", roll, samples.cuts("ink", n)) for n in (1, 2))
    assert rolls_in_words(replace(lay, ply_rows=rows)).count("R-12") == 1


def test_what_garments_have_in_common_is_said_once():
    (words,) = cuts_in_words(samples.cuts("ink", 1))
    words = words.replace("\N{NO-BREAK SPACE}", " ")
    assert words == "110, ink (neck: rib band): a S → B-0007-01; b M → B-0007-02; c L → B-0007-03"
    both = cuts_in_words((*samples.cuts("ink", 1), *samples.cuts("ink", 4, neck="facing")))
    assert [line.partition(":")[0] for line in both] == ["110, ink (neck", "110, ink (neck"]


def test_garments_lettered_by_turns_stand_by_what_they_are() -> None:
    """A marker letters its garments size by size, so that two finishes may take turns: each is named once."""
    rib, facing = samples.cuts("ink", 1), samples.cuts("ink", 4, neck="facing")
    lines = cuts_in_words((rib[0], facing[0], rib[1], facing[1], rib[2]))
    assert [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines] == [
        "110, ink (neck: rib band): a S → B-0007-01; b M → B-0007-02; c L → B-0007-03",
        "110, ink (neck: facing): a S → B-0007-04; b M → B-0007-05",
    ]


def lines_of(paper: bytes, page: int) -> list[tuple[float, str]]:
    """Every run of letters with its height on the page, as PDFium reads them."""
    text = pypdfium2.PdfDocument(paper)[page].get_textpage()
    found = []
    for n in range(text.count_rects()):
        left, low, right, high = text.get_rect(n)
        found.append((low, text.get_text_bounded(left, low, right, high).strip()))
    return found


def test_the_stack_is_drawn_as_it_lies():
    """Ply 1 is lowest on the page, chalk on top; each row says its roll, what it cuts and for which bundles."""
    paper = cut_tickets(samples.HEADING, [samples.stacked_lay()])
    # The highest of each: 10 is the number of a piece too, on the drawing beneath.
    found = sorted(lines_of(paper, 0))
    heights = {text: low for low, text in found if text in {"10", "8–9", "3–7", "1–2"}}
    assert sorted(heights, key=heights.__getitem__) == ["1–2", "3–7", "8–9", "10"]
    words = packed(" ".join(pages(paper)))
    for expected in (
        "chalk white · roll ____",
        "110, chalk (neck: facing): a S → B-0007-07",
        "ink · roll R-13, shade lot 4480",
        "ink · cloth to be bought",
        "plies, counted from the table up",
    ):
        assert packed(expected) in words, expected
    assert outside_the_paper(paper) == []


def test_a_low_stack_stands_beside_the_sizes_and_a_high_one_overleaf():
    low = replace(samples.stacked_lay(), ply_rows=samples.stacked_lay().ply_rows[:1])
    (one_page,) = pages(cut_tickets(samples.HEADING, [low]))
    assert "R-12" in one_page
    assert len(pages(cut_tickets(samples.HEADING, [samples.stacked_lay()]))) == 1
    first, second = pages(cut_tickets(samples.HEADING, [many_rows(12)]))
    assert "roll R-12" not in first
    assert "Plies, pieces and bundles: next page." in first
    assert "R-12" in second


def many_rows(count: int) -> LayPaper:
    """As many rows of plies as asked for: more than one page holds."""
    lay = samples.stacked_lay()
    rows = (
        replace(lay.ply_rows[0], first=n, last=n, cuts=samples.cuts("ink", n)) for n in range(1, count + 1)
    )
    return replace(lay, ply_rows=tuple(rows))


def test_very_many_plies_go_on_over_the_page():
    paper = cut_tickets(samples.HEADING, [many_rows(60)])
    words = packed(" ".join(pages(paper)))
    assert all(f"B-0007-{n:02d}" in words for n in range(1, 63))
    assert outside_the_paper(paper) == []
    sheet = cut_sheet(replace(samples.cut_sheet_data(), lays=(many_rows(60),)))
    assert packed("B-0007-62") in packed(" ".join(pages(sheet)))
    assert outside_the_paper(sheet) == []


def test_the_cut_sheet_says_how_its_plan_was_judged_and_in_which_order_to_cut():
    judged = (
        "2 lays instead of 5 single sizes: saves 1.9 m (14 %) and 40 minutes.",
        "Proven: no plan uses less.",
    )
    data = replace(samples.cut_sheet_data(), lays=(samples.stacked_lay(), samples.rib_lay()), judged=judged)
    words = " ".join(pages(cut_sheet(data)))
    for expected in ("Order of cutting", *judged, "9 × ink, 1 × chalk white", "then ink: cloth to be bought"):
        assert packed(expected) in packed(words), expected
    assert "Order of cutting" not in " ".join(pages(cut_sheet(replace(data, lays=()))))


def test_garments_of_a_marker_are_told_apart_by_small_letters():
    marked = {entry.label: entry.marked for entry in key_of(samples.stacked_lay().pieces)}
    assert marked["sleeve · S"] == ["6a", "8a"]
    one = replace(samples.stacked_lay().pieces[0], garment="a")
    assert key_of([one])[0].marked == ["1"]


def test_a_bundle_ticket_names_shade_lot_and_plies():
    plies = (("", 1, "plies 3 to 7 and 9"), ("", 6, "ply 1"))
    ticket = replace(samples.ticket(), shade_lot="4471", plies=plies)
    words = " ".join(pages(bundle_tickets(samples.HEADING, [ticket])))
    assert "From lay 1, plies 3 to 7 and 9; lay 6, ply 1" in words
    assert "Shade lot 4471" in words


@pytest.mark.parametrize("size", ["A4", "Letter", "label"])
def test_a_bundle_of_several_cloths_names_the_lay_of_each(size):
    plies = (("jersey", 1, "plies 3 to 7"), ("jersey", 2, "ply 1"), ("rib 2 × 2", 6, "ply 1"))
    ticket = replace(samples.ticket(), plies=(*plies, ("facing", 4, "plies 1 and 2")))
    words = " ".join(pages(bundle_tickets(samples.HEADING, [ticket], size)))
    told = "From jersey: lay 1, plies 3 to 7; lay 2, ply 1 · rib 2 × 2: lay 6, ply 1 · facing: lay 4, plies 1 and 2"
    assert packed(told) in packed(words)


def test_a_stack_is_as_high_as_it_says():
    lay = samples.stacked_lay()
    assert ply_stack(lay, 340).height < ply_stack(lay, 180).height


def test_a_lay_that_is_cut_says_so_large_and_has_no_boxes_for_spreading():
    open_lay = samples.stacked_lay()
    cut = replace(open_lay, cut="CUT on 28 Nov 2026", is_cut=True)
    heading = samples.cut_sheet_data().heading
    ticket, before = (" ".join(pages(cut_tickets(heading, [lay]))) for lay in (cut, open_lay))
    assert "CUT on 28 Nov 2026" in ticket
    assert "plies really spread" in before
    assert "plies really spread" not in ticket
    data = samples.cut_sheet_data()
    told = "CUT in part on 28 Nov 2026: 1 of 2 plies; the rest is lay 7"
    sheet = packed(" ".join(pages(cut_sheet(replace(data, lays=(replace(cut, cut=told),))))))
    # Once in the order of cutting, once on the lay itself.
    assert sheet.count(packed(told)) == 2
    tail = ("spread", "cut", "piecescountedandtied")
    assert "".join(tail) in packed(" ".join(pages(cut_sheet(replace(data, lays=(open_lay,))))))
    assert "".join(tail) not in sheet
    assert "piecescountedandtied" in sheet


def test_what_is_begun_says_so_and_keeps_its_boxes():
    lay = replace(samples.stacked_lay(), cut="BEGUN: 1 of 9 plies cut")
    ticket = " ".join(pages(cut_tickets(samples.cut_sheet_data().heading, [lay])))
    assert "BEGUN: 1 of 9 plies cut" in ticket
    assert "plies really spread" in ticket


def test_what_is_cut_stands_white_on_black_over_the_width():
    lay = replace(samples.stacked_lay(), cut="CUT on 28 Nov 2026", is_cut=True)
    paper = pypdfium2.PdfDocument(cut_tickets(samples.cut_sheet_data().heading, [lay]))
    picture = paper[0].render(scale=1).to_pil().convert("L")
    dark = [
        y for y in range(picture.height)
        if sum(picture.getpixel((x, y)) < 100 for x in range(picture.width)) > 0.6 * picture.width
    ]  # fmt: skip
    assert len(dark) >= 8


def test_plies_that_are_cut_already_name_the_shade_lot_they_were_cut_from():
    lay = samples.stacked_lay()
    lowest, *others = lay.ply_rows
    for shade_lot, expected in (("B", "cut already, shade lot B"), ("", "ink · cut already 110")):
        told = replace(lowest, is_cut=True, shade_lot=shade_lot)
        words = packed(
            " ".join(pages(cut_tickets(samples.HEADING, [replace(lay, ply_rows=(told, *others))])))
        )
        assert packed(expected) in words


def test_a_ticket_says_which_of_its_plies_are_of_which_shade_lot():
    apart = "Cotton jersey 180, ink: lot B is lay 1, ply 1; lot C is lay 1, ply 2"
    mixed = replace(samples.ticket(1), shade_lot="", lots_apart=apart)
    for size in ("A4", "label"):
        paper = bundle_tickets(samples.HEADING, [mixed, samples.ticket(2)], size)
        words = packed(" ".join(pages(paper)))
        assert words.count(packed("Shade lots differ")) == 1
        assert packed(f"{apart}. Tie each lot as a bundle of its own: no garment may be of two.") in words
        assert outside_the_paper(paper) == []
