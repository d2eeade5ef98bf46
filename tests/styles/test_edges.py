"""Edges of a piece: drawn, named in all sizes at once, cut and joined; seams and allowances follow."""

import html
import math
from decimal import Decimal

import pytest
from django.urls import reverse

from planner.core.outline import (
    Edge,
    Outline,
    make_outline,
    outline_from_json,
    path_length_mm,
    rectangle,
    unfold,
)
from planner.styles.actions.edges import EdgeChange, name_edges
from planner.styles.edge_drawing import draw_edges, letter_of, turn_points
from planner.styles.edges import edge_rows, piece_edges
from planner.styles.models import Piece, PieceOutline, Seam, SeamEdge, Style
from planner.styles.specs import style_specs
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def style() -> Style:
    """In S, M and L. A front has hem, side, shoulder, neckline, shoulder and side, left and right told apart."""
    return make.make_style("110", sizes="S M L")


@pytest.fixture
def front(style) -> Piece:
    """Its front; the order of its edges is that of its outline in M."""
    return style.pieces.get(name="front")


def names_in(piece: Piece, size: str) -> list[str]:
    return [edge.name for edge in shape_of(piece, size).edges]


def shape_of(piece: Piece, size: str):
    return outline_from_json(piece.outlines.get(size__name=size).shape)


def url(piece: Piece) -> str:
    return reverse("piece-edges", args=[piece.style.number, piece.pk])


def typed(piece: Piece, **changes) -> dict[str, str]:
    """The form of a piece's edges as it is shown, with changes."""
    data = {}
    for i, name in enumerate(names_in(piece, "M")):
        data |= {f"name_{i}": name, f"allowance_{i}": ""}
    return {**data, **changes}


def renamed(piece: Piece, **names: str) -> list[EdgeChange]:
    """No change but new names for old (with _ for a space)."""
    new = {old.replace("_", " "): name for old, name in names.items()}
    return [EdgeChange(new.get(name, name)) for name in names_in(piece, "M")]


# --- naming -----------------------------------------------------------------------------------------------


def test_a_name_is_given_in_every_size_and_seams_follow(maker_client, style, front):
    at = names_in(front, "M").index("neckline")
    answer = maker_client.post(url(front), typed(front, **{f"name_{at}": "front  neckline"}), follow=True)
    page = answer.content.decode()
    assert "The edges of front are kept in S, M, L." in page
    for size in ("S", "M", "L"):
        assert "front neckline" in names_in(front, size)
        assert "neckline" not in names_in(front, size)
    used = SeamEdge.objects.filter(piece=front, edge="front neckline").values_list("seam__name", flat=True)
    assert set(used) == {"neck, self band", "neck, rib band"}
    back = style.pieces.get(name="back")
    assert "neckline" in names_in(back, "M"), "the back keeps its own"
    spec = style_specs([style])["110"]
    assert not [
        ref for seam in spec.seams for ref in seam.edges if (ref.piece, ref.edge) == ("front", "neckline")
    ]


def test_sizes_whose_rings_begin_elsewhere_are_matched(front):
    shape = shape_of(front, "L")
    turned = make_outline(
        [*shape.points[3:], *shape.points[:3]],
        [Edge(f"edge {i}", (edge.start - 3) % len(shape.points)) for i, edge in enumerate(shape.edges)],
    )
    front.outlines.filter(size__name="L").update(shape=turned.as_json())
    before = shape.edge_lengths_mm()
    done = name_edges(front, front.style.base_size, renamed(front))
    assert done.notes == ()
    assert shape_of(front, "L").edge_lengths_mm() == pytest.approx(before)


def test_who_names_edges_that_somebody_else_changed_meanwhile_is_told(maker_client, front):
    """Two edges were joined meanwhile, or the outline was drawn anew: edge 3 of the form is another by now."""
    version = maker_client.get(url(front)).context["form"].version
    size = front.style.size_range.sizes.get(name="M")
    name_edges(front, size, renamed(front, hem="bottom"))
    before = names_in(front, "M")
    late = {**typed(front, name_0="mine"), "version": version}
    answer = maker_client.post(url(front), late)
    assert answer.status_code == 409
    assert "Somebody else changed these edges while you were typing." in html.unescape(
        answer.content.decode()
    )
    assert names_in(front, "M") == before
    # What was typed is kept, and who sends it again means it.
    form = answer.context["form"]
    assert form["name_0"].value() == "mine"
    assert maker_client.post(url(front), {**late, "version": form.version}).status_code == 302
    assert names_in(front, "M")[0] == "mine"


def test_a_size_with_other_edges_is_named_as_far_as_it_goes_and_said(maker_client, front):
    size = front.style.size_range.sizes.get(name="L")
    shape = rectangle(630, 550, ("a", "b", "c", "d"))
    PieceOutline.objects.filter(piece=front, size=size).update(shape=shape.as_json())
    answer = maker_client.post(url(front), typed(front, name_0="bottom"), follow=True)
    page = answer.content.decode()
    assert "L: nothing in it matches" in page
    assert names_in(front, "S")[0] == names_in(front, "M")[0] == "bottom"
    assert shape_of(front, "L").points == shape.points


def test_left_and_right_of_one_name_are_sewn_as_often_as_before(style, front):
    seam = Seam.objects.get(style=style, name="side")
    SeamEdge.objects.create(seam=seam, piece=front, edge="right side", side=1, position=5)
    name_edges(front, style.base_size, renamed(front, left_side="side", right_side="side"))
    (row,) = seam.edges.filter(piece=front)
    assert (row.edge, row.takes) == ("side", 2)


def test_names_may_change_places(style, front):
    seam = Seam.objects.get(style=style, name="side")
    SeamEdge.objects.create(seam=seam, piece=front, edge="right side", side=1, position=5, takes=3)
    name_edges(front, style.base_size, renamed(front, left_side="right side", right_side="left side"))
    assert list(seam.edges.filter(piece=front).order_by("position").values_list("edge", "takes")) == [
        ("right side", 1),
        ("left side", 3),
    ]


def test_one_name_that_becomes_two_is_said(style, front):
    back = style.pieces.get(name="back")
    both = name_edges(back, style.base_size, renamed(back, left_side="side", right_side="side"))
    assert both.notes == ()
    changes = [EdgeChange(name) for name in names_in(back, "M")]
    first, second = [i for i, change in enumerate(changes) if change.name == "side"]
    changes[first], changes[second] = EdgeChange("one side"), EdgeChange("other side")
    (note,) = name_edges(back, style.base_size, changes).notes
    assert note == "The seam side takes one side now; side became several edges."


SLIPS = (
    ({"name_0": " "}, "Please fill this in"),
    ({"name_0": "x" * 41}, "At most 40 letters"),
    ({"name_0": "-"}, "Name it with letters"),
    ({"allowance_0": "much"}, "much"),
    ({"allowance_0": "5 m"}, "at most"),
    ({"name_0": "neckline", "allowance_0": "2 cm"}, "have one allowance"),
    ({f"join_{i}": "on" for i in range(6)}, "One edge at least must keep its ends"),
    ({f"cut_{i}": "77777" for i in range(6)}, "choose one of the list"),
)


def test_a_slip_is_answered_at_its_field_and_nothing_is_kept(maker_client, front, subtests):
    before = list(PieceOutline.objects.order_by("pk").values_list("shape", flat=True))
    for changes, words in SLIPS:
        with subtests.test(words):
            answer = maker_client.post(url(front), typed(front, **changes))
            assert answer.status_code == 422
            assert words in answer.content.decode()
            assert list(PieceOutline.objects.order_by("pk").values_list("shape", flat=True)) == before
            front.refresh_from_db()
            assert front.edge_allowances == {}


def tee_front(length: float):
    """Hem, side, hollow armhole, sloping shoulder, hollow neckline, and the same on the other side; unnamed."""
    half = [(0, 0), (0, 250), (0.65 * length, 250), (0.72 * length, 215), (0.82 * length, 200)]
    half += [(0.93 * length, 205), (length, 80), (0.92 * length, 70), (0.87 * length, 40), (0.86 * length, 0)]
    whole = unfold(half, [Edge("a", 0), Edge("b", 1), Edge("c", 2), Edge("d", 5), Edge("e", 6)])
    return Outline(whole.points, tuple(Edge(f"edge {i}", e.start) for i, e in enumerate(whole.edges, 1)))


def test_suggestions_are_offered_and_taken_one_by_one_or_all_at_once(maker_client, front):
    for row in front.outlines.select_related("size"):
        row.shape = tee_front(600 + 15.0 * row.size.position).as_json()
        row.save()
    page = maker_client.get(url(front)).content.decode()
    assert "8 of 8 edges have no trade name yet." in page
    assert "Take all suggestions" in page
    assert "Looks like <strong>neckline</strong>" in page
    taken = maker_client.post(url(front), {**typed(front), "take": "all"})
    assert taken.status_code == 200
    names = [taken.context["form"].typed(i) for i in range(8)]
    assert sorted(names) == sorted(["hem", "neckline", *2 * ["side", "armhole", "shoulder"]])
    assert names_in(front, "M")[0] == "edge 1", "nothing is kept yet"
    one = maker_client.post(url(front), {**typed(front, name_5="mine"), "take": "0"})
    assert one.context["form"].typed(0) == names[0]
    assert (one.context["form"].typed(1), one.context["form"].typed(5)) == ("edge 2", "mine")
    data = {f"name_{i}": name for i, name in enumerate(names)}
    maker_client.post(url(front), {**typed(front), **data})
    assert names_in(front, "S") == names_in(front, "L") == names


# --- allowances -------------------------------------------------------------------------------------------


def test_an_allowance_shortens_the_neighbours(maker_client, front):
    # The side runs from the hem to the shoulder, both at right angles to it: 615 mm in M are cut, and with 7 mm at
    # the shoulder and 25 mm at the hem 583 mm are sewn.
    at = names_in(front, "M").index("hem")
    maker_client.post(url(front), typed(front, **{f"allowance_{at}": "2,5 cm"}))
    front.refresh_from_db()
    assert front.edge_allowances == {"hem": 25.0}
    edges = piece_edges(front.style, front)
    row = next(row for row in edge_rows(edges) if row.name == "left side")
    medium = next(cell for cell in row.lengths if cell.size.name == "M")
    assert medium.cut_mm == pytest.approx(615.0)
    assert medium.sewn_mm == pytest.approx(615.0 - 7 - 25)
    assert row.seams == ["side"]
    maker_client.post(url(front), typed(front, **{f"name_{at}": "bottom", f"allowance_{at}": "25 mm"}))
    front.refresh_from_db()
    assert front.edge_allowances == {"bottom": 25.0}


# --- cutting and joining ----------------------------------------------------------------------------------


def box(length: float, width: float):
    """A rectangle whose long edge has a turn three quarters along: a corner that is no end of an edge."""
    points = [(0, 0), (0.75 * length, -40), (length, 0), (length, width), (0, width)]
    return make_outline(points, [Edge("long", 0), Edge("top", 2), Edge("back", 3), Edge("bottom", 4)])


@pytest.fixture
def boxes(style, front) -> Piece:
    """The front as such a rectangle; its long edge is sewn in the seam "side"."""
    for row in front.outlines.select_related("size"):
        row.shape = box(400 + 20.0 * row.size.position, 300).as_json()
        row.save()
    SeamEdge.objects.filter(piece=front).delete()
    side = Seam.objects.get(style=style, name="side")
    SeamEdge.objects.create(seam=side, piece=front, edge="long", side=1, takes=2, position=0)
    return front


def test_an_edge_is_cut_at_its_turn_in_every_size_and_sewn_whole(maker_client, boxes):
    at = names_in(boxes, "M").index("long")
    (turn,) = turn_points(shape_of(boxes, "M"), at)
    whole = {size: shape_of(boxes, size).edge_length_mm("long") for size in ("S", "M", "L")}
    answer = maker_client.post(url(boxes), typed(boxes, **{f"cut_{at}": str(turn.index)}), follow=True)
    assert answer.status_code == 200
    for size, length in whole.items():
        parts = shape_of(boxes, size).edge_lengths_mm()
        assert parts["long"] + parts["long 2"] == pytest.approx(length)
        assert parts["long"] > parts["long 2"]
    rows = boxes.style.seams.get(name="side").edges.filter(piece=boxes).values_list("edge", "takes", "side")
    assert sorted(rows) == [("long", 2, 1), ("long 2", 2, 1)]


def twins(boxes: Piece) -> list[int]:
    """The piece with a second long edge like the first, both called "long"; their numbers."""
    for row in boxes.outlines.select_related("size"):
        length = 400 + 20.0 * row.size.position
        points = [(0, 0), (0.75 * length, -40), (length, 0), (length, 300), (0.75 * length, 340), (0, 300)]
        edges = [Edge("long", 0), Edge("top", 2), Edge("long", 3), Edge("bottom", 5)]
        row.shape = make_outline(points, edges).as_json()
        row.save()
    return [i for i, name in enumerate(names_in(boxes, "M")) if name == "long"]


def test_one_of_two_edges_of_a_name_cut_alone_is_said(maker_client, boxes):
    one, _ = twins(boxes)
    (turn,) = turn_points(shape_of(boxes, "M"), one)
    answer = maker_client.post(url(boxes), typed(boxes, **{f"cut_{one}": str(turn.index)}), follow=True)
    said = html.unescape(answer.content.decode())
    assert "The seam side joins long and long 2 now, but only 1 of the 2 edges named long was cut" in said
    assert "cut the other too" in said
    # So she does: its parts are called as those of the first, the outer ones alike and the inner ones alike.
    other = [i for i, name in enumerate(names_in(boxes, "M")) if name == "long"][-1]
    (turn,) = turn_points(shape_of(boxes, "M"), other)
    answer = maker_client.post(url(boxes), typed(boxes, **{f"cut_{other}": str(turn.index)}), follow=True)
    assert "edges named long" not in answer.content.decode()
    for size in ("S", "M", "L"):
        assert sorted(names_in(boxes, size)) == ["bottom", "long", "long", "long 2", "long 2", "top"]
        for name in ("long", "long 2"):
            one, two = map(path_length_mm, shape_of(boxes, size).edge_paths(name))
            assert one == pytest.approx(two)
    rows = boxes.style.seams.get(name="side").edges.filter(piece=boxes).values_list("edge", "takes", "side")
    assert sorted(rows) == [("long", 2, 1), ("long 2", 2, 1)]


def test_both_edges_of_a_name_cut_at_once_leave_nothing_to_say(boxes):
    changes = []
    numbers = twins(boxes)
    for i, name in enumerate(names_in(boxes, "M")):
        turns = turn_points(shape_of(boxes, "M"), i) if i in numbers else ()
        changes.append(EdgeChange(name, cut_at=turns[0].index if turns else None))
    assert name_edges(boxes, boxes.style.base_size, changes).notes == ()
    assert names_in(boxes, "L").count("long 2") == 2


def test_two_edges_are_joined_in_every_size_and_said_once(maker_client, boxes):
    at = names_in(boxes, "M").index("long")
    (turn,) = turn_points(shape_of(boxes, "M"), at)
    maker_client.post(url(boxes), typed(boxes, **{f"cut_{at}": str(turn.index)}))
    again = names_in(boxes, "M").index("long")
    maker_client.post(url(boxes), typed(boxes, **{f"join_{again}": "on"}))
    for size in ("S", "M", "L"):
        assert sorted(names_in(boxes, size)) == ["back", "bottom", "long", "top"]
    rows = boxes.style.seams.get(name="side").edges.filter(piece=boxes).values_list("edge", "takes")
    assert list(rows) == [("long", 2)]


def test_the_last_edge_is_joined_with_the_first(boxes):
    last = len(names_in(boxes, "M")) - 1
    names = names_in(boxes, "M")
    changes = [EdgeChange(name, join_next=i == last) for i, name in enumerate(names)]
    name_edges(boxes, boxes.style.base_size, changes)
    assert sorted(names_in(boxes, "L")) == sorted(names[1:])


def test_an_edge_that_a_seam_lost_is_said(boxes):
    names = names_in(boxes, "M")
    before = names.index("long") - 1
    changes = [EdgeChange(name, join_next=i == before % len(names)) for i, name in enumerate(names)]
    done = name_edges(boxes, boxes.style.base_size, changes)
    assert done.notes == ("The seam side has lost its edge long: choose another for it.",)


def test_a_size_without_a_point_in_the_place_is_not_cut(boxes):
    straight = rectangle(440, 300, ("long", "top", "back", "bottom"))
    boxes.outlines.filter(size__name="L").update(shape=straight.as_json())
    at = names_in(boxes, "M").index("long")
    (turn,) = turn_points(shape_of(boxes, "M"), at)
    changes = [EdgeChange(name) for name in names_in(boxes, "M")]
    changes[at] = EdgeChange("long", Decimal(12), cut_at=turn.index)
    done = name_edges(boxes, boxes.style.base_size, changes)
    assert done.notes == (f"L: edge {at + 1} was not cut, because no point lies in the same place.",)
    assert "long 2" in names_in(boxes, "S")
    boxes.refresh_from_db()
    assert boxes.edge_allowances == {"long": 12.0, "long 2": 12.0}


# --- the page ---------------------------------------------------------------------------------------------


def test_the_page_shows_numbers_names_letters_and_lengths(maker_client, front):
    page = maker_client.get(url(front)).content.decode()
    assert "All 6 edges are named, alike in 3 sizes." in page
    for number, name in enumerate(names_in(front, "M"), 1):
        assert f'aria-label="Edge {number}, {name}"' in page
    assert page.count('class="letter"') == 6
    assert '<option value="sleeve head">' in page
    assert "style=" not in page.split('id="content"')[1], "the policy allows no inline style"


def test_a_single_edge_is_told_as_one(maker_client, front):
    front.outlines.all().delete()
    ring = Outline(rectangle(300, 200).points, (Edge("rim", 0),))
    front.outlines.create(size=front.style.base_size, shape=ring.as_json(), area_mm2=60_000)
    assert "Its only edge is named." in maker_client.get(url(front)).content.decode()


def test_a_piece_without_an_outline_teaches_the_next_step(maker_client):
    style = make.make_style("120", with_outlines=False)
    answer = maker_client.get(url(style.pieces.first()))
    assert answer.status_code == 200
    assert "Enter the outline of" in answer.content.decode()


def test_only_makers_name_edges(helper_client, front):
    assert helper_client.get(url(front)).status_code == 403
    assert helper_client.post(url(front), typed(front, name_0="x")).status_code == 403
    assert "x" not in names_in(front, "M")


def test_queries_are_as_many_for_many_sizes(maker_client, front, django_assert_num_queries):
    maker_client.get(url(front))
    with django_assert_num_queries(8) as few:
        maker_client.get(url(front))
    many = url(make.make_style("120", sizes="1 2 3 4 5 6 7 8").pieces.get(name="front"))
    with django_assert_num_queries(len(few.captured_queries)):
        maker_client.get(many)


def test_names_stand_outside_the_piece():
    drawing = draw_edges(rectangle(100, 50), most_px=500, most_width_px=500)
    bottom, right, top, left = drawing.lines
    # Grain upright: y = 0 lies right, x = 100 on top.
    assert bottom.name_x > 50
    assert bottom.anchor == "start"
    assert top.name_x < 0
    assert top.anchor == "end"
    assert right.name_y < 0 < 100 < left.name_y
    assert [corner.letter for corner in drawing.corners] == ["A", "B", "C", "D"]
    assert (letter_of(25), letter_of(26)) == ("Z", "A2")


def test_a_curve_has_no_turns_but_its_middle():
    # A quarter circle in ten steps of 9°, then one in six of 15°: all points of a curve turn alike.
    for steps in (10, 6):
        arc = [
            (300 * math.cos(i / steps * math.pi / 2), 300 * math.sin(i / steps * math.pi / 2))
            for i in range(steps + 1)
        ]
        shape = make_outline([(0, 0), *arc], [Edge("straight", 0), Edge("curve", 1), Edge("back", steps + 1)])
        (middle,) = turn_points(shape, 1)
        assert middle.from_start_mm == pytest.approx(shape.edge_length_mm("curve") / 2)
