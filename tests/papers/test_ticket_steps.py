"""Operations on bundle tickets: machine, settings and what to look at, and how much room they take."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from planner.papers.bundle_tickets import LEAST_NOTE, bundle_tickets
from planner.papers.data import PaperSize, TicketStep
from planner.papers.ticket_steps import settings_words
from tests.papers import samples
from tests.papers.test_papers import outside_the_paper, packed, pages
from tests.papers.test_ticket_pages import letters

FULL = samples.full_steps()


def spaced(text: str) -> str:
    return " ".join(text.split())


def test_settings_in_one_line() -> None:
    assert spaced(settings_words(FULL[0])) == (
        "Window overlock · 514 · 2.5 mm · feed 1.3 · tension loopers a little looser · needle stretch 75 · 1.2 min"
    )


def test_only_what_was_given_is_printed() -> None:
    bare = TicketStep(1, "press", "iron", "", 0.0, "")
    assert settings_words(bare) == "iron"
    assert spaced(settings_words(replace(bare, differential_feed=0.7))) == "iron · feed 0.7"
    assert (
        spaced(settings_words(replace(bare, needle_note="Needle 70 ball point")))
        == "iron · Needle 70 ball point"
    )


@pytest.mark.parametrize("size", ["A4", "Letter", "label"])
def test_tickets_tell_every_word_of_every_step(size: PaperSize) -> None:
    paper = bundle_tickets(samples.HEADING, [samples.ticket(1, FULL)], size)
    words = packed(" ".join(pages(paper)))
    for step in FULL:
        for part in (
            step.name, step.machine, step.setup_note, step.tension_note, step.needle_note, step.quality_note,
        ):  # fmt: skip
            assert packed(part) in words, part
        if step.quality_note:
            assert packed(f"Look at {step.quality_note}") in words
    assert outside_the_paper(paper) == []


def test_tickets_with_little_to_say_stand_four_on_a_sheet_others_two() -> None:
    short = [samples.ticket(n) for n in range(1, 5)]
    assert len(pages(bundle_tickets(samples.HEADING, short))) == 1
    long = [*short[:3], samples.ticket(4, FULL)]
    found = pages(bundle_tickets(samples.HEADING, long))
    assert [words.count("Harbour top") for words in found] == [2, 2]


def test_a_label_with_too_much_to_say_goes_on_in_another_and_cuts_nothing() -> None:
    more = (*FULL, *(replace(s, position=len(FULL) + s.position, name=f"then {s.name}") for s in FULL))
    paper = bundle_tickets(samples.HEADING, [samples.ticket(1, more)], "label")
    found = pages(paper)
    assert [f"{n} of 2" in words for n, words in enumerate(found, 1)] == [True, True]
    for n, step in enumerate(more):
        (label,) = [words for words in found if spaced(f"{step.position} {step.name}") in words]
        of_step = packed(label)
        for part in (settings_words(step), step.setup_note, step.quality_note):
            assert packed(part) in of_step, f"step {n + 1} stands whole on its label"
    assert "…" not in " ".join(found)
    assert outside_the_paper(paper) == []


def test_ten_operations_with_all_their_notes_run_on_and_fit_on_one_label() -> None:
    paper = bundle_tickets(samples.HEADING, [samples.ticket(1, FULL)], "label")
    (words,) = pages(paper)
    # In the order of sewing, nothing left out, colour and lot first.
    told = packed(words)
    places = [told.index(packed(f"{step.position} {step.name}")) for step in FULL]
    assert places == sorted(places)
    ticket = samples.ticket(1, FULL)
    for label, fact in (
        ("Colour", ticket.colourway),
        ("Shade lot", ticket.shade_lot),
        ("Order", ticket.order),
    ):
        assert packed(f"{label} {fact}") in told
    assert all(packed(f"{count} × {name}") in told for name, count in ticket.pieces)
    assert outside_the_paper(paper) == []
    # The foot of the page and the address beneath the QR apart.
    sizes = Counter(round(size, 2) for _, _, size in letters(paper))
    assert min(size for size, count in sizes.items() if count > 100) >= LEAST_NOTE


def test_a_label_with_room_is_one() -> None:
    few = FULL[:4]
    (words,) = pages(bundle_tickets(samples.HEADING, [samples.ticket(1, few)], "label"))
    assert "…" not in words
    assert all(packed(step.setup_note) in packed(words) for step in few)


@pytest.mark.parametrize(
    ("size", "is_noted"), [("A4", False), ("Letter", True), ("label", True), ("label", False)]
)
def test_each_ticket_bears_the_mark_and_says_where_it_was_not_noted(size: PaperSize, is_noted: bool) -> None:
    heading = replace(samples.HEADING, mark="K7R", is_noted=is_noted)
    paper = bundle_tickets(heading, [samples.ticket(n) for n in range(1, 5)], size)
    words = " ".join(pages(paper))
    assert words.count("mark K7R") == 4, "a ticket is cut off the foot of its page"
    assert words.count("mark K7R, not noted as printed") == (0 if is_noted else 4)
    assert words.count("Needle broken? Find every fragment before the bundle goes on.") == 4
    assert outside_the_paper(paper) == []
    small = [letter for _, letter, points in letters(paper) if points < 6 and letter in "Needlbrok?"]
    without = bundle_tickets(samples.HEADING, [samples.ticket(n) for n in range(1, 5)], size)
    assert len(small) <= len([one for one in letters(without) if one[2] < 6 and one[1] in "Needlbrok?"])
