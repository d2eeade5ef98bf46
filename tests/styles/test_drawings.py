"""Drawings to scale."""

from planner.common.drawing import draw_lay, draw_piece
from planner.core.outline import make_outline, rectangle
from planner.styles.drawings import centred, figures, nest


def test_pieces_beside_each_other_are_to_one_scale():
    large, small = figures([rectangle(570, 270), rectangle(270, 70)], most_px=200)
    # 570 mm and a margin of 15 mm at both ends take 200 px: three millimetres a pixel.
    assert (large.width_px, large.height_px) == (100, 200)
    assert (small.width_px, small.height_px) == (33, 100)
    assert figures([], most_px=200) == []


def test_sizes_lie_over_each_other_the_largest_undermost():
    sizes = {"S": rectangle(100, 50), "L": rectangle(170, 70), "M": rectangle(120, 60)}
    drawing = nest(sizes, base_size="M", most_px=100)
    assert [line.size for line in drawing.lines] == ["L", "M", "S"]
    assert [line.size for line in drawing.lines if line.is_base] == ["M"]
    assert drawing.view_box == "-15.0 -15.0 100.0 200.0"
    assert (drawing.width_px, drawing.height_px) == (50, 100)
    # All keep the corner they were drawn from: y = 0 is right, x = 0 at the bottom of the largest.
    assert all(line.path.startswith("M70.0 170.0L") for line in drawing.lines)
    assert nest({}, base_size="M", most_px=100) is None


def test_sizes_without_an_origin_of_their_own_lie_on_their_middles():
    sizes = centred({"S": rectangle(100, 50).moved(7, 9), "L": rectangle(120, 70)})
    assert {size: shape.bounds_mm for size, shape in sizes.items()} == {
        "S": (0.0, -25.0, 100.0, 25.0),
        "L": (0.0, -35.0, 120.0, 35.0),
    }


def test_a_piece_far_from_its_origin_is_drawn_in_the_frame():
    drawing = nest({"M": rectangle(100, 50).moved(5000, -900)}, base_size="M", most_px=100)
    assert drawing.lines[0].path.startswith("M50.0 100.0L")
    assert drawing.view_box == "-15.0 -15.0 80.0 130.0"


def numbers(path):
    return [tuple(map(float, pair.split())) for pair in path.strip("MZ").split("L")]


def test_a_piece_is_drawn_as_it_lies_on_the_cloth_not_as_its_mirror_image():
    hook = make_outline([(0, 0), (200, 0), (200, 30), (40, 30), (40, 90), (0, 90)])
    upright = numbers(draw_piece(hook).path)
    lying = numbers(draw_lay(90, 200, [("hook", hook.points)]).pieces[0].path)
    # A quarter turn to the right brings the upright piece to where it lies: right becomes down, up becomes right.
    assert [(200 - y, x) for x, y in upright] == lying
