"""Beside the drawing of a lay: how the length to spread comes of the marker and its ends, in figures that add up."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from fractions import Fraction

from hypothesis import example, given
from hypothesis import strategies as st

from planner.papers.lay_figures import length_words
from tests.papers import samples


def inches(told: str) -> Fraction:
    return sum((Fraction(part) for part in told.split()), Fraction(0))


@given(st.floats(300, 9000), st.floats(0, 60))
@example(2763.0, 20.0)
@example(2290.0, 20.0)
def test_in_inches_a_ticket_claims_no_sum_of_lengths_that_the_figures_do_not_give(
    marker: float, end: float
) -> None:
    """2763 mm are 108.78 in and 20 mm 0.79: 108 13/16 + 2 × 13/16 are 110 7/16, but 2803 mm are told as 110 3/8."""
    lay = replace(samples.lay(), marker_length_mm=marker, end_allowance_mm=end)
    words = length_words(lay, imperial=True).replace("\N{NO-BREAK SPACE}", " ").replace("\N{THIN SPACE}", " ")
    tape = r"([\d/ ]+?) in"
    found = re.fullmatch(rf"marker {tape} \+ 2 × {tape} ends( = |, together rounded up ){tape}", words)
    assert found, words
    told, each, sign, whole = found.groups()
    adds_up = inches(told) + 2 * inches(each) == inches(whole)
    assert (sign == " = ") == adds_up
    assert inches(whole) == math.ceil((marker + 2 * end) / 25.4 * 16 - 1e-6) / Fraction(16)


def test_in_metres_it_is_a_sum() -> None:
    """A whole tenth of a metre, or what is told in centimetres, was told twice: "= 2.8 m, rounded up 2.80 m"."""
    for marker_mm, told in (
        (2763.0, "marker 2.77 m + 2 × 2 cm ends = 2.81 m"),
        (2750.4, "marker 2.76 m + 2 × 2 cm ends = 2.80 m"),
        (2960.0, "marker 2.96 m + 2 × 2 cm ends = 3.00 m"),
        (310.0, "marker 31 cm + 2 × 2 cm ends = 0.35 m"),
        (103.0, "marker 10.3 cm + 2 × 2 cm ends = 14.3 cm, rounded up 0.15 m"),
    ):
        lay = replace(samples.lay(), marker_length_mm=marker_mm, end_allowance_mm=20.0)
        assert length_words(lay, imperial=False).replace("\N{THIN SPACE}", " ") == told
