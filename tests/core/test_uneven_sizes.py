"""Sizes out of line, said once each. The figures are sums that anybody can do in the head."""

import re

import pytest

from fixtures.drafting.bodies import BODIES
from fixtures.drafting.styles import STYLES
from planner.core.outline import rectangle
from planner.core.uneven_sizes import uneven_sizes
from tests.core.demo_drafts import cut_of

NAMES = ("side", "right", "side", "left")


def boxes(*lengths, width=100.0, names=NAMES):
    return [(str(i + 1), rectangle(length, width, names)) for i, length in enumerate(lengths)]


def said(found):
    return [(one.size, str(one)) for one in found]


@pytest.mark.parametrize("lengths", [(500,), (500, 520), (500, 520, 540, 560), (500, 500, 500, 500)])
def test_even_grades_say_nothing(lengths):
    assert uneven_sizes(boxes(*lengths)) == []


def test_one_size_that_is_too_long_is_said_once_without_its_area():
    found = uneven_sizes(boxes(500, 520, 540 + 25, 560))
    assert said(found) == [("3", "side (each of 2) is 25 mm longer in 3 than 2 and 4 beside it suggest")]


def test_edges_that_differ_are_taken_together():
    shape = [rectangle(length, 100.0, ("side", "right", "top", "left")) for length in (500, 520, 530, 560)]
    found = uneven_sizes([(size, one) for size, one in zip("SMLX", shape, strict=True)])
    assert said(found) == [("L", "side and top are each 10 mm shorter in L than M and X beside it suggest")]


def test_a_jump_between_two_sizes_and_at_an_end():
    found = uneven_sizes(boxes(500, 520, 540, 575, 595, 615))
    assert said(found) == [
        ("4", "side grows by 35 mm from 3 to 4, but by about 20 mm between the sizes beside them")
    ]
    assert [one.size for one in uneven_sizes(boxes(460, 520, 540, 560, 580))] == ["1"]
    assert [one.size for one in uneven_sizes(boxes(500, 520, 540, 600))] == ["4"]


def test_area_is_told_where_no_edge_tells_it():
    """Of the same four edges, a parallelogram that leans over holds less."""
    from planner.core.outline import Edge, make_outline

    def leaning(high):
        across = (100.0**2 - high**2) ** 0.5
        ring = [(0, 0), (500, 0), (500 + across, high), (across, high)]
        return make_outline(ring, [Edge(name, i) for i, name in enumerate(("a", "b", "c", "d"))])

    found = uneven_sizes([("S", leaning(100)), ("M", leaning(60)), ("L", leaning(100)), ("XL", leaning(100))])
    assert said(found) == [("M", "area is 200 cm² smaller in M than S and L beside it suggest")]


def test_nothing_is_ever_about_nought():
    for jump in (-30, -12, 3, 12, 30, 60):
        for at in range(5):
            lengths = [500 + 20 * i + (jump if i == at else 0) for i in range(5)]
            for one in uneven_sizes(boxes(*lengths)):
                assert not re.search(r"\b0 (mm|cm²)", str(one)), str(one)
    same = uneven_sizes(boxes(500, 500, 540, 540, 540))
    assert [str(one) for one in same] == [
        "side grows by 40 mm from 2 to 3, but hardly changes between the sizes beside them"
    ]


@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.number)
def test_the_demo_says_nothing_and_a_size_too_large_is_named(style):
    drafted = {size: cut_of(style, size) for size in BODIES}
    for piece in drafted["M"]:
        cut = [(size, pieces[piece]) for size, pieces in drafted.items()]
        assert uneven_sizes(cut) == []
        wrong = [(size, outline.scaled(1.06, 1.06) if size == "L" else outline) for size, outline in cut]
        assert [one.size for one in uneven_sizes(wrong)] == ["L"], piece
