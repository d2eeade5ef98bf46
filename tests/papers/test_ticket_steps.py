"""Operations on bundle tickets: machine, settings and what to look at, and how much room they take."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.papers.bundle_tickets import ELSEWHERE, bundle_tickets
from planner.papers.data import PaperSize, TicketStep
from planner.papers.ticket_steps import MORE, settings_words
from tests.papers import samples
from tests.papers.test_papers import outside_the_paper, packed, pages

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


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_sheets_tell_every_word_of_every_step(size: PaperSize) -> None:
    paper = bundle_tickets(samples.HEADING, [samples.ticket(1, FULL)], size)
    words = packed(" ".join(pages(paper)))
    for step in FULL:
        for part in (
            step.name, step.machine, step.setup_note, step.tension_note, step.needle_note, step.quality_note,
        ):  # fmt: skip
            assert packed(part) in words, part
        if step.quality_note:
            assert packed(f"Look at {step.quality_note}") in words
    assert packed(ELSEWHERE) not in words
    assert outside_the_paper(paper) == []


def test_tickets_with_little_to_say_stand_four_on_a_sheet_others_two() -> None:
    short = [samples.ticket(n) for n in range(1, 5)]
    assert len(pages(bundle_tickets(samples.HEADING, short))) == 1
    long = [*short[:3], samples.ticket(4, FULL)]
    found = pages(bundle_tickets(samples.HEADING, long))
    assert [words.count("Harbour top") for words in found] == [2, 2]


def test_a_label_leaves_out_as_little_as_may_be_and_says_so() -> None:
    paper = bundle_tickets(samples.HEADING, [samples.ticket(1, FULL)], "label")
    (words,) = pages(paper)
    assert packed(ELSEWHERE) in packed(words)
    for step in FULL:
        assert spaced(f"{step.position} {step.name}") in words
        assert packed(settings_words(replace(step, tension_note="", needle_note="", minutes=0.0))) in packed(
            words
        )
        assert packed(step.quality_note) in packed(words), "what to look at is never left out"
    short = left_out_of(words)
    assert 0 < len(short) < len(FULL)
    assert words.count(MORE) == len(short) + 1, "one behind each step that has more to say, one to explain it"
    assert outside_the_paper(paper) == []


def left_out_of(words: str) -> list[TicketStep]:
    """Steps of which a setting or the set-up note is missing."""
    return [
        step
        for step in FULL
        if any(packed(part) not in packed(words) for part in (settings_words(step), step.setup_note))
    ]


def test_a_label_with_room_keeps_every_word() -> None:
    few = FULL[:4]
    (words,) = pages(bundle_tickets(samples.HEADING, [samples.ticket(1, few)], "label"))
    assert MORE not in words
    assert all(packed(step.setup_note) in packed(words) for step in few)
