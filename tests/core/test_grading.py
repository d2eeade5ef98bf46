import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fixtures.drafting.bodies import BODIES
from fixtures.drafting.styles import STYLES
from planner.core.grading import (
    OtherEdges,
    OutOfLine,
    WrongWay,
    grading_problems,
    interpolate,
)
from planner.core.outline import Edge, Outline, OutlineError, make_outline, rectangle
from tests.core.demo_drafts import cut_of
from tests.core.test_outline import outlines

NAMES = ("hem", "right", "top", "left")


def boxes(*lengths: float, width: float = 100.0) -> list[tuple[str, Outline]]:
    """Rectangles in sizes 1, 2, 3 … of which only the length differs."""
    return [(str(i + 1), rectangle(length, width, NAMES)) for i, length in enumerate(lengths)]


def about(problems: list, measure: str) -> list:
    return [problem for problem in problems if problem.measure == measure]


# --- steps ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "lengths",
    [
        (500,),
        (500, 520),
        (500, 520, 540, 560),
        (500, 500, 500),  # bands are often cut in one size
        (560, 540, 520, 500),
        (500, 520, 545, 575, 610),  # steps that grow
        (500, 540, 580, 640, 700),  # 20 mm a seam up to a size, 30 mm beyond
        (500, 501, 500, 501),  # nothing but the draughtsman's pencil
        (100, 102, 105, 106),
    ],
)
def test_even_grades_are_fine(lengths):
    assert grading_problems(boxes(*lengths)) == []


def test_a_size_that_goes_the_wrong_way():
    found = grading_problems(boxes(500, 520, 510, 540, 560))
    hem = about(found, "hem")
    assert hem[0] == WrongWay("hem", "2", "3", -10.0)
    assert str(hem[0]) == "hem shrinks by 10 mm from 2 to 3, but grows from the smallest size to the largest"
    assert about(found, "area")[0] == WrongWay("area", "2", "3", -1000.0)
    assert about(found, "right") == []


def test_a_jump_out_of_line_is_pointed_out_with_size_and_figure():
    found = about(grading_problems(boxes(500, 520, 540, 575, 595, 615)), "hem")
    assert found == [OutOfLine("hem", "3", "4", 35.0, 20.0)]
    assert str(found[0]) == "hem grows by 35 mm from 3 to 4, but by about 20 mm between the sizes beside them"


def test_a_wrong_size_shows_on_both_its_sides():
    found = about(grading_problems(boxes(500, 520, 530, 560, 580, 600)), "hem")
    assert [(problem.smaller, problem.larger, problem.step) for problem in found] == [
        ("2", "3", 10),
        ("3", "4", 30),
    ]


def test_a_jump_at_an_end():
    assert about(grading_problems(boxes(500, 540, 560, 580)), "hem") == [
        OutOfLine("hem", "1", "2", 40.0, 20.0)
    ]
    assert about(grading_problems(boxes(500, 520, 540, 580)), "hem") == [
        OutOfLine("hem", "3", "4", 40.0, 20.0)
    ]
    # Of two steps nobody can tell which is wrong; the larger is pointed out.
    assert about(grading_problems(boxes(500, 520, 560)), "hem") == [OutOfLine("hem", "2", "3", 40.0, 20.0)]


def test_a_third_is_still_in_line():
    assert grading_problems(boxes(500, 530, 560, 600, 630, 660)) == []
    assert about(grading_problems(boxes(500, 530, 560, 600.5, 630, 660)), "hem") != []


def test_area_is_given_in_square_centimetres():
    found = about(grading_problems(boxes(500, 520, 540, 575, 595, 615)), "area")
    assert str(found[0]) == (
        "area grows by 35 cm² from 3 to 4, but by about 20 cm² between the sizes beside them"
    )


def test_edges_that_a_size_lacks():
    sizes = boxes(500, 520, 540)
    odd = rectangle(520, 100, ("hem", "side", "top", "left"))
    found = grading_problems([sizes[0], ("2", odd), sizes[2]])
    assert found == [OtherEdges("right", "2", 0, 1), OtherEdges("side", "2", 1, 0)]
    assert [str(problem) for problem in found] == [
        "there is no edge “right” in 2",
        "there is 1 edge “side” in 2, but none in other sizes",
    ]
    twice = [(size, rectangle(500, 100, ("hem", "side", "top", "side"))) for size in "SM"]
    once = ("L", rectangle(500, 100, ("hem", "side", "top", "left")))
    found = grading_problems([*twice, once])
    assert OtherEdges("side", "L", 1, 2) in found
    assert str(OtherEdges("side", "L", 1, 2)) == "there is 1 edge “side” in L, but 2 in other sizes"


@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.number)
def test_the_demo_is_graded_evenly(style):
    """Its grade rule (steps of 50, 50, 60, 70 and 80 mm in girth) stays within a third from step to step."""
    drafted = {size: cut_of(style, size) for size in BODIES}
    for piece in drafted["M"]:
        cut = [(size, pieces[piece]) for size, pieces in drafted.items()]
        assert grading_problems(cut) == [], piece
        wrong = [(size, outline.scaled(1.03, 1.03) if size == "L" else outline) for size, outline in cut]
        assert grading_problems(wrong) != [], piece


# --- between sizes ----------------------------------------------------------------------------------------


def test_half_way_between_two_rectangles():
    between = interpolate(rectangle(500, 100, NAMES), rectangle(540, 110, NAMES), 0.5)
    assert between.points == ((0, 0), (520, 0), (520, 105), (0, 105))
    assert [edge.name for edge in between.edges] == list(NAMES)


def test_the_ends_are_the_sizes_themselves():
    for style in STYLES:
        small, large = cut_of(style, "S"), cut_of(style, "M")
        for piece in small:
            one, other = small[piece], large[piece]
            assert interpolate(one, other, 0.0).area_mm2 == pytest.approx(one.area_mm2, rel=1e-6)
            end = interpolate(one, other, 1.0)
            assert end.area_mm2 == pytest.approx(other.area_mm2, rel=1e-6)
            assert end.edge_lengths_mm() == pytest.approx(other.edge_lengths_mm(), rel=1e-6)


def test_demo_pieces_between_sizes_lie_between_them():
    for style in STYLES:
        small, large = cut_of(style, "S"), cut_of(style, "L")
        for piece in small:
            one, other = small[piece], large[piece]
            between = interpolate(one, other, 0.5)
            assert one.area_mm2 <= between.area_mm2 <= other.area_mm2
            for name, length in between.edge_lengths_mm().items():
                wanted = (one.edge_length_mm(name) + other.edge_length_mm(name)) / 2
                assert length == pytest.approx(wanted, rel=0.01), (piece, name)


@given(outlines(), st.floats(1.0, 1.15), st.floats(1.0, 1.15), st.floats(0.0, 1.0), st.floats(-50, 50))
def test_exact_for_stretched_sizes(outline, along, across, share, shift):
    """Points that move straight: the size between is stretched by the factors between."""
    larger = outline.scaled(along, across).moved(shift, 0.0)
    between = interpolate(outline, larger, share)
    wanted = outline.scaled(1 + share * (along - 1), 1 + share * (across - 1)).moved(share * shift, 0.0)
    assert [edge.name for edge in between.edges] == [edge.name for edge in wanted.edges]
    for index in range(len(wanted.edges)):
        for point, expected in zip(between.edge_path(index), wanted.edge_path(index), strict=True):
            assert point == pytest.approx(expected, abs=1e-6)


def test_curves_with_different_points_meet_at_shares_of_their_length():
    def pie(radius: float, chords: int) -> Outline:
        turns = [math.pi / 2 * i / chords for i in range(chords + 1)]
        points = [(0.0, 0.0), *((radius * math.cos(t), radius * math.sin(t)) for t in turns)]
        return make_outline(points, [Edge("lower", 0), Edge("arc", 1), Edge("upper", len(points) - 1)])

    between = interpolate(pie(100, 24), pie(120, 37), 0.25)
    assert between.edge_length_mm("arc") == pytest.approx(105 * math.pi / 2, rel=2e-3)
    assert between.area_mm2 == pytest.approx(math.pi / 4 * 105**2, rel=3e-3)
    assert between.edge_length_mm("lower") == pytest.approx(105)
    # A point that only the larger size has meets the place at the same share, here half-way up the second arm.
    small = make_outline([(0, 0), (100, 0), (100, 100)], [Edge("arms", 0), Edge("back", 2)])
    large = make_outline([(0, 0), (120, 0), (120, 60), (120, 120)], [Edge("arms", 0), Edge("back", 3)])
    assert interpolate(small, large, 0.5).points == ((0, 0), (110, 0), (110, 55), (110, 110))


def test_what_cannot_be_made_is_refused_in_plain_words():
    box = rectangle(500, 100, NAMES)
    one_edge_less = Outline(box.points, box.edges[:3])
    with pytest.raises(OutlineError, match="do not have the same edges"):
        interpolate(box, one_edge_less, 0.5)
    with pytest.raises(OutlineError, match="between 0 and 1"):
        interpolate(box, box, 1.5)
    # A finger that points up in one size and down in the other lies flat half-way between.
    up = make_outline([(0, 0), (100, 0), (100, 50), (60, 50), (50, 90), (40, 50), (0, 50)])
    with pytest.raises(OutlineError, match=r"no size|do not have"):
        interpolate(up, up.turned(180), 0.5)


@given(outlines(), outlines(), st.floats(0.0, 1.0))
def test_any_two_outlines_give_one_or_are_refused(one, other, share):
    try:
        between = interpolate(one, other, share)
    except OutlineError:
        return
    assert len(between.edges) == len(one.edges)
    assert between.polygon.is_valid
